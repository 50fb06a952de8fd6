//! A map on its plot: ground, borders, lines, axes.

use super::super::super::font::Face;
use super::super::super::scale::{ValueScale, figure};
use super::super::super::scene::{Align, Scene};
use super::super::super::size::{Point, Rect};
use super::super::super::theme::{Stroke, Theme};
use super::super::super::time_axis::TimeScale;
use super::super::super::x_axis;
use super::{fill, words};
use sim_core::study::Region;
use sim_core::study::threshold_map::ThresholdMap;

/// A map on its plot.
pub(super) struct View<'a> {
    pub(super) map: &'a ThresholdMap,
    pub(super) plot: Rect,
    x: TimeScale,
    y: ValueScale,
}

impl<'a> View<'a> {
    pub(super) fn new(map: &'a ThresholdMap, plot: Rect) -> View<'a> {
        let (off, on) = (&map.off_v, &map.on_v);
        let x = TimeScale::new(off[0], off[off.len() - 1], plot.x0, plot.x1);
        let y = ValueScale { low: on[0], high: on[on.len() - 1], y_low: plot.y1, y_high: plot.y0 };
        View { map, plot, x, y }
    }

    pub(super) fn at(&self, (off, on): (f64, f64)) -> Point {
        (self.x.x(off), self.y.y(on))
    }

    pub(super) fn columns(&self) -> usize {
        self.map.off_v.len()
    }

    /// The four corners of each cell, anticlockwise from its lower left.
    pub(super) fn cells(&self) -> impl Iterator<Item = [usize; 4]> + use<> {
        let (columns, rows) = (self.map.off_v.len(), self.map.on_v.len());
        (0..rows - 1).flat_map(move |r| {
            (0..columns - 1).map(move |c| {
                let n = r * columns + c;
                [n, n + 1, n + columns + 1, n + columns]
            })
        })
    }

    pub(super) fn node(&self, n: usize) -> (f64, f64) {
        (self.map.off_v[n % self.columns()], self.map.on_v[n / self.columns()])
    }

    /// The behaviour at a place of the plot, that of the nearest point; `None` outside.
    pub(super) fn region_at(&self, (x, y): Point) -> Option<Region> {
        if !self.plot.contains(&Rect::new(x, y, x, y)) {
            return None;
        }
        let along = |share: f64, count: usize| (share * (count - 1) as f64).round() as usize;
        let c = along((x - self.plot.x0) / self.plot.width(), self.columns());
        let r = along((self.plot.y1 - y) / self.plot.height(), self.map.on_v.len());
        self.region(r * self.columns() + c)
    }

    pub(super) fn region(&self, n: usize) -> Option<Region> {
        self.map.points[n].map(|p| p.region)
    }

    /// Where the edge between two corners of a cell is crossed.
    pub(super) fn crossing(&self, a: usize, b: usize) -> Option<Point> {
        let (low, high) = (a.min(b), a.max(b));
        let along = if high == low + 1 { &self.map.along_off } else { &self.map.along_on };
        along[low].map(|c| self.at((c.off_v, c.on_v)))
    }

    /// Fills cell by cell: the ruling behaviour as a box, others as their corners' shares of it.
    pub(super) fn ground(&self, scene: &mut Scene, theme: &Theme) {
        for corners in self.cells() {
            let regions = corners.map(|n| self.region(n));
            let Some(ruling) =
                regions.iter().flatten().max_by_key(|r| regions.iter().filter(|o| **o == Some(**r)).count())
            else {
                continue;
            };
            let (a, b) = (self.at(self.node(corners[0])), self.at(self.node(corners[2])));
            scene.rect(Rect::new(a.0, b.1, b.0, a.1), fill(theme, *ruling));
            let edges: [Option<Point>; 4] =
                std::array::from_fn(|k| self.crossing(corners[k], corners[(k + 1) % 4]));
            let centre = middle(&edges, (f64::midpoint(a.0, b.0), f64::midpoint(a.1, b.1)));
            for k in 0..4 {
                let Some(region) = regions[k].filter(|r| r != ruling) else { continue };
                let here = self.at(self.node(corners[k]));
                let beside = |edge: usize, other: usize| {
                    let to = self.at(self.node(corners[other]));
                    edges[edge].unwrap_or((f64::midpoint(here.0, to.0), f64::midpoint(here.1, to.1)))
                };
                let points = vec![here, beside(k, (k + 1) % 4), centre, beside((k + 3) % 4, (k + 3) % 4)];
                scene.fill(points, fill(theme, region));
            }
        }
    }

    /// The borders between behaviours, a stroke or a few for each cell that one crosses.
    pub(super) fn border_lines(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        self.cells().flat_map(|corners| {
            let edges: [Option<Point>; 4] =
                std::array::from_fn(|k| self.crossing(corners[k], corners[(k + 1) % 4]));
            let found: Vec<Point> = edges.iter().flatten().copied().collect();
            match found[..] {
                [] | [_] => Vec::new(),
                [a, b] => vec![(a, b)],
                _ => {
                    let centre = middle(&edges, found[0]);
                    found.iter().map(|p| (*p, centre)).collect()
                }
            }
        })
    }

    pub(super) fn borders(&self, scene: &mut Scene, theme: &Theme, width_px: f64) {
        let stroke = Stroke::solid(theme.ink, width_px);
        self.border_lines().for_each(|(a, b)| scene.line(a, b, stroke));
    }

    /// A line, cut at the edges of the plot.
    pub(super) fn path(&self, scene: &mut Scene, points: &[(f64, f64)], stroke: Stroke) {
        let mut run: Vec<Point> = Vec::new();
        for p in points {
            let at = self.at(*p);
            let inside = (self.plot.x0 - 0.5..=self.plot.x1 + 0.5).contains(&at.0)
                && (self.plot.y0 - 0.5..=self.plot.y1 + 0.5).contains(&at.1);
            if inside {
                run.push(at);
            } else {
                scene.path(std::mem::take(&mut run), stroke);
            }
        }
        scene.path(run, stroke);
    }

    /// The triangle in which turn-on is not above turn-off.
    pub(super) fn hatch(&self, scene: &mut Scene, theme: &Theme) {
        let (off, on) = (&self.map.off_v, &self.map.on_v);
        let low = off[0].max(on[0]);
        let high = off[off.len() - 1].min(on[on.len() - 1]);
        if high <= low {
            return;
        }
        let right = off[off.len() - 1];
        let mut corners = vec![(low, low), (high, high), (right, high.max(on[0])), (right, on[0])];
        if off[0] > on[0] {
            corners.push((off[0], on[0]));
        }
        let area: Vec<Point> = corners.iter().map(|p| self.at(*p)).collect();
        scene.fill(area, theme.paper);
        // Strokes upwards to the right, cut at the diagonal.
        let soft = Stroke { width_px: 0.7, ..theme.grid };
        let mut at = low;
        while at < right {
            let top = at.min(high);
            scene.line(
                self.at((at, on[0])),
                self.at((at, top)),
                Stroke { ink: theme.ink_soft.at(0.45), ..soft },
            );
            at += (right - low) / 24.0;
        }
        scene.line(self.at((low, low)), self.at((high, high)), Stroke::solid(theme.ink_soft, 0.9));
    }

    pub(super) fn axes(&self, scene: &mut Scene, theme: &Theme, large: bool) {
        let plot = self.plot;
        let size_px = theme.sizes.axis;
        let ticks = x_axis::round_ticks(&self.x, size_px);
        x_axis::draw(scene, theme, &self.x, &ticks, plot.y1, "turn-off, V");
        let (values, decimals) = self.y.ticks(if large { 26.0 } else { 30.0 });
        for v in values {
            let y = self.y.y(v);
            scene.line((plot.x0 - 3.0, y), (plot.x0, y), theme.axis);
            let at = (plot.x0 - 6.0, y + 0.36 * size_px);
            words(scene, at, Align::Right, &figure(v, decimals), size_px, Face::Regular, theme.ink_soft);
        }
        let edge = [
            (plot.x0, plot.y0),
            (plot.x1, plot.y0),
            (plot.x1, plot.y1),
            (plot.x0, plot.y1),
            (plot.x0, plot.y0),
        ];
        scene.path(edge.to_vec(), theme.axis);
        if large {
            let at = (plot.x0 - 36.0, plot.y0 - 7.0);
            words(scene, at, Align::Left, "Turn-on, V", theme.sizes.panel, Face::Bold, theme.ink);
        }
    }
}

/// Mean of the crossings of a cell's edges, or the point that stands in for them.
fn middle(edges: &[Option<Point>; 4], other: Point) -> Point {
    let found: Vec<Point> = edges.iter().flatten().copied().collect();
    if found.is_empty() {
        return other;
    }
    let n = found.len() as f64;
    (found.iter().map(|p| p.0).sum::<f64>() / n, found.iter().map(|p| p.1).sum::<f64>() / n)
}
