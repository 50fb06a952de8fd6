//! Label placement without overlap: columns of line-end labels, free call-outs, and thinned rows.
//! A map of where lines run keeps free labels off them.

use super::size::{Point, Rect};

/// Centres for labels in one column: as near as can be to `wanted`, `pitch` apart, inside `[low, high]`.
///
/// Order is kept. `None` for the last labels when the column cannot hold them all.
#[must_use]
pub fn place_column(wanted: &[f64], pitch: f64, low: f64, high: f64) -> Vec<Option<f64>> {
    let room = ((high - low) / pitch + 1e-9).floor().max(0.0) as usize;
    let n = wanted.len().min(room);
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| wanted[a].total_cmp(&wanted[b]));

    // Pool adjacent violators: touching labels move as one block about their mean wish.
    let mut blocks: Vec<(f64, usize)> = Vec::new();
    for (rank, &i) in order.iter().enumerate() {
        blocks.push((wanted[i] - rank as f64 * pitch, 1));
        while let [.., (a, na), (b, nb)] = blocks[..] {
            if a <= b {
                break;
            }
            let merged = (a * na as f64 + b * nb as f64) / (na + nb) as f64;
            blocks.truncate(blocks.len() - 2);
            blocks.push((merged, na + nb));
        }
    }
    let (first, last) = (low + pitch / 2.0, high - pitch / 2.0 - n.saturating_sub(1) as f64 * pitch);
    let mut placed = vec![None; wanted.len()];
    let mut rank = 0;
    for (base, count) in blocks {
        for _ in 0..count {
            placed[order[rank]] = Some(base.clamp(first, last.max(first)) + rank as f64 * pitch);
            rank += 1;
        }
    }
    placed
}

/// Which of a row of labels `(centre, width)` can be written with `air` between; earlier `rank` wins.
#[must_use]
pub fn thin_row(labels: &[(f64, f64, u32)], air: f64) -> Vec<bool> {
    let mut order: Vec<usize> = (0..labels.len()).collect();
    order.sort_by_key(|&i| (labels[i].2, i));
    let mut taken: Vec<(f64, f64)> = Vec::new();
    let mut keep = vec![false; labels.len()];
    for i in order {
        let (center, width, _) = labels[i];
        let span = (center - width / 2.0, center + width / 2.0);
        if taken.iter().all(|t| span.0 >= t.1 + air || t.0 >= span.1 + air) {
            taken.push(span);
            keep[i] = true;
        }
    }
    keep
}

/// Counts of drawn line per cell, summed so that any rectangle is answered in constant time.
#[derive(Debug, Clone)]
pub struct InkMap {
    area: Rect,
    columns: usize,
    rows: usize,
    counts: Vec<u32>,
    summed: bool,
}

const CELL_PX: f64 = 3.0;

impl InkMap {
    /// An empty map of an area.
    #[must_use]
    pub fn new(area: Rect) -> Self {
        let columns = (area.width() / CELL_PX).ceil().max(1.0) as usize;
        let rows = (area.height() / CELL_PX).ceil().max(1.0) as usize;
        Self { area, columns, rows, counts: vec![0; (columns + 1) * (rows + 1)], summed: false }
    }

    fn cell(&self, x: f64, y: f64) -> (usize, usize) {
        let clamp = |v: f64, n: usize| (v / CELL_PX).clamp(0.0, n as f64) as usize;
        (clamp(x - self.area.x0, self.columns), clamp(y - self.area.y0, self.rows))
    }

    /// Marks a polyline.
    pub fn add(&mut self, points: &[Point]) {
        for pair in points.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let steps = ((b.0 - a.0).hypot(b.1 - a.1) / CELL_PX).ceil().clamp(1.0, 2000.0);
            for i in 0..=steps as usize {
                let k = i as f64 / steps;
                let (x, y) = (a.0 + (b.0 - a.0) * k, a.1 + (b.1 - a.1) * k);
                if x < self.area.x0 || x >= self.area.x1 || y < self.area.y0 || y >= self.area.y1 {
                    continue;
                }
                let (c, r) = self.cell(x, y);
                self.counts[(r + 1) * (self.columns + 1) + c + 1] = 1;
            }
        }
    }

    /// Turns marks into sums; call once after the last [`InkMap::add`].
    pub fn seal(&mut self) {
        if self.summed {
            return;
        }
        let stride = self.columns + 1;
        for r in 1..=self.rows {
            for c in 1..=self.columns {
                self.counts[r * stride + c] += self.counts[(r - 1) * stride + c]
                    + self.counts[r * stride + c - 1]
                    - self.counts[(r - 1) * stride + c - 1];
            }
        }
        self.summed = true;
    }

    /// Marked cells touched by a rectangle; zero before [`InkMap::seal`].
    #[must_use]
    pub fn hits(&self, r: &Rect) -> u32 {
        if !self.summed {
            return 0;
        }
        let stride = self.columns + 1;
        let (c0, r0) = self.cell(r.x0, r.y0);
        let (c1, r1) = self.cell(r.x1, r.y1);
        let (c1, r1) = ((c1 + 1).min(self.columns), (r1 + 1).min(self.rows));
        if c1 <= c0 || r1 <= r0 {
            return 0;
        }
        let at = |c: usize, r: usize| self.counts[r * stride + c];
        at(c1, r1) + at(c0, r0) - at(c1, r0) - at(c0, r1)
    }
}

/// Distances from a point at which a call-out is tried.
const RINGS_PX: [f64; 8] = [8.0, 14.0, 22.0, 34.0, 50.0, 72.0, 100.0, 140.0];

/// Puts labels where no other label is and no line runs.
#[derive(Debug, Clone)]
pub struct Placer {
    area: Rect,
    ink: InkMap,
    taken: Vec<Rect>,
}

impl Placer {
    /// A placer for labels that must stay inside `area`.
    #[must_use]
    pub fn new(area: Rect, mut ink: InkMap) -> Self {
        ink.seal();
        Self { area, ink, taken: Vec::new() }
    }

    /// The same labels over another map of lines.
    #[must_use]
    pub fn over(mut self, mut ink: InkMap) -> Self {
        ink.seal();
        self.ink = ink;
        self
    }

    /// Whether a rectangle would meet a label placed or reserved so far.
    #[must_use]
    pub fn is_taken(&self, rect: &Rect) -> bool {
        self.taken.iter().any(|t| t.overlaps(rect))
    }

    /// Keeps a rectangle free of later labels.
    pub fn reserve(&mut self, rect: Rect) {
        self.taken.push(rect);
    }

    /// The cheapest of the candidates `(box, cost)` that meets no label and no line, reserved; `None` where all do.
    pub fn place(&mut self, candidates: impl IntoIterator<Item = (Rect, f64)>) -> Option<Rect> {
        let mut best: Option<(Rect, f64)> = None;
        for (rect, cost) in candidates {
            if best.is_some_and(|(_, b)| cost >= b) || !self.area.contains(&rect) || self.is_taken(&rect) {
                continue;
            }
            if self.ink.hits(&rect) == 0 {
                best = Some((rect, cost));
            }
        }
        let (rect, _) = best?;
        self.taken.push(rect);
        Some(rect)
    }

    /// Places one of several box sizes around a point, near first; says which size.
    pub fn place_around(&mut self, at: Point, sizes: &[(f64, f64)]) -> Option<(usize, Rect)> {
        let mut candidates = Vec::new();
        for &(width, height) in sizes {
            for (ring, &distance) in RINGS_PX.iter().enumerate() {
                for k in 0..24 {
                    let angle = f64::from(k) * std::f64::consts::TAU / 24.0;
                    let (s, c) = angle.sin_cos();
                    let x = at.0 + c * (distance + width / 2.0);
                    let y = at.1 + s * (distance + height / 2.0);
                    let rect =
                        Rect::new(x - width / 2.0, y - height / 2.0, x + width / 2.0, y + height / 2.0);
                    if !rect.grown(3.0).contains(&Rect::new(at.0, at.1, at.0, at.1)) {
                        candidates.push((rect, ring as f64 * 5.0));
                    }
                }
            }
            // Far off, over the whole plot, if nothing near is free.
            let (mut y, a) = (self.area.y0, self.area);
            while y + height <= a.y1 {
                let mut x = a.x0;
                while x + width <= a.x1 {
                    let away = (x + width / 2.0 - at.0).hypot(y + height / 2.0 - at.1);
                    candidates.push((Rect::new(x, y, x + width, y + height), 60.0 + 0.1 * away));
                    x += 9.0;
                }
                y += 5.0;
            }
        }
        let rect = self.place(candidates)?;
        let fits = |s: &(f64, f64)| (s.0 - rect.width()).abs() < 1e-6 && (s.1 - rect.height()).abs() < 1e-6;
        Some((sizes.iter().position(fits).unwrap_or(0), rect))
    }

    /// Places a box on a horizontal line at `y`, just above or just below, anywhere along `[x0, x1]`.
    ///
    /// Other horizontal lines, at `others_y`, are not written across.
    pub fn place_along(
        &mut self,
        y: f64,
        (x0, x1): (f64, f64),
        (width, height): (f64, f64),
        others_y: &[f64],
    ) -> Option<Rect> {
        let mut candidates = Vec::new();
        let mut x = x0;
        while x + width <= x1 {
            // A small pull to the left keeps names in reading order when all paper is equally free.
            let pull = 6.0 * (x - x0) / (x1 - x0);
            for (top, side) in [(y - 1.5 - height, 0.0), (y + 1.5, 1.0)] {
                if others_y.iter().all(|&o| o < top || o > top + height) {
                    candidates.push((Rect::new(x, top, x + width, top + height), pull + side));
                }
            }
            x += 6.0;
        }
        self.place(candidates)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_column_keeps_wishes_when_they_are_apart() {
        let placed = place_column(&[80.0, 20.0], 12.0, 0.0, 100.0);
        assert_eq!(placed, vec![Some(80.0), Some(20.0)]);
    }

    #[test]
    fn a_column_never_overlaps_and_stays_inside() {
        let mut seed = 7_u64;
        let mut next = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (seed >> 40) as f64 / f64::from(1 << 24)
        };
        for n in 1..9 {
            for _ in 0..200 {
                let wanted: Vec<f64> = (0..n).map(|_| next() * 120.0 - 10.0).collect();
                let mut ys: Vec<f64> =
                    place_column(&wanted, 12.0, 0.0, 100.0).into_iter().flatten().collect();
                assert_eq!(ys.len(), n.min(8));
                ys.sort_by(f64::total_cmp);
                assert!(ys[0] >= 6.0 - 1e-9 && ys[ys.len() - 1] <= 94.0 + 1e-9);
                assert!(ys.windows(2).all(|p| p[1] - p[0] >= 12.0 - 1e-9), "{ys:?}");
            }
        }
    }

    #[test]
    fn equal_wishes_spread_evenly_in_the_given_order() {
        let placed = place_column(&[50.0, 50.0, 50.0], 10.0, 0.0, 100.0);
        assert_eq!(placed, vec![Some(40.0), Some(50.0), Some(60.0)]);
    }

    #[test]
    fn a_full_column_drops_the_last_labels() {
        let placed = place_column(&[5.0; 4], 10.0, 0.0, 25.0);
        assert_eq!(placed.iter().flatten().count(), 2);
        assert!(placed[3].is_none());
        assert!(place_column(&[], 10.0, 0.0, 25.0).is_empty());
    }

    #[test]
    fn thinning_keeps_the_important_ones() {
        let keep = thin_row(&[(0.0, 8.0, 1), (5.0, 8.0, 0), (20.0, 8.0, 1)], 2.0);
        assert_eq!(keep, vec![false, true, true]);
    }

    #[test]
    fn free_labels_avoid_lines_and_each_other() {
        let area = Rect::new(0.0, 0.0, 300.0, 100.0);
        let mut ink = InkMap::new(area);
        ink.add(&[(0.0, 20.0), (300.0, 20.0)]);
        let mut placer = Placer::new(area, ink);
        let a = placer.place_around((150.0, 50.0), &[(60.0, 12.0)]).unwrap().1;
        let b = placer.place_around((150.0, 50.0), &[(60.0, 12.0)]).unwrap().1;
        assert!(!a.overlaps(&b));
        assert!(a.y0 > 20.0 && b.y0 > 20.0);
        assert!(placer.place_around((150.0, 50.0), &[(400.0, 12.0)]).is_none());
    }
}
