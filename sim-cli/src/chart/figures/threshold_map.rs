//! A threshold map: how a unit behaves for every pair of thresholds, borders, contours, closed forms, the setting.

use super::super::font::{Face, text_width};
use super::super::scale::{ValueScale, figure, round_step};
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Point, Rect};
use super::super::theme::{Dash, Ink, Stroke, Theme};
use super::super::time_axis::TimeScale;
use super::super::x_axis;
use super::sheet::{self, Heading};
use sim_core::study::Region;
use sim_core::study::threshold_map::ThresholdMap;

/// What is drawn, for those who do not see it.
const SHOWS: &str = "What a vehicle comes to with each pair of turn-on and turn-off volts.";

/// A line over the map.
#[derive(Debug, Clone, PartialEq)]
pub struct MapLine {
    /// Its name in the key.
    pub name: String,
    /// Points: turn-off and turn-on voltage.
    pub points: Vec<(f64, f64)>,
    /// A guide and no border: thinner.
    pub guide: bool,
}

/// The setting: turn-off and turn-on voltage, and the nearest point of a border.
pub type Setting = ((f64, f64), Option<(f64, f64)>);

/// Everything the picture shows.
pub struct MapData<'a> {
    /// Title, answer and footer.
    pub heading: Heading,
    /// The map.
    pub map: &'a ThresholdMap,
    /// Closed forms.
    pub lines: Vec<MapLine>,
    /// The setting: turn-off and turn-on voltage, and the nearest point of a border.
    pub setting: Option<Setting>,
}

/// One map among several.
pub struct SmallMap {
    /// The condition.
    pub name: String,
    /// The map.
    pub map: ThresholdMap,
}

const KEY_PX: f64 = 196.0;
const LEFT_PX: f64 = 44.0;

/// Fill of a behaviour, light enough that lines and words stand out on it.
fn fill(theme: &Theme, region: Region) -> Ink {
    let ink = match region {
        Region::Good => Ink::hex(0xE6_F3E2),
        Region::StartUpCycles => Ink::hex(0xF4_D06A),
        Region::ComesBack => Ink::hex(0xC9_DDF0),
        Region::RunsOn => Ink::hex(0x7E_A6D2),
        Region::OtherTrouble => Ink::hex(0xE8_C3A0),
        Region::Hunts => Ink::hex(0xD9_764A),
        Region::NeverStarts => Ink::hex(0xBE_BEBE),
        Region::Danger => Ink::hex(0xB0_3A48),
    };
    if theme.paper.grey() < 128.0 { ink.mixed(theme.paper, 0.45) } else { ink }
}

/// Builds the picture.
#[must_use]
pub fn threshold_map(data: &MapData, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(size, theme, &data.heading, SHOWS);
    // A small sheet has no room for a key: the regions bear their names, and lines that nothing explains are left out.
    let key_px = if theme.small { 4.0 } else { KEY_PX };
    let plot = Rect::new(body.x0 + LEFT_PX, body.y0 + 20.0, body.x1 - key_px, body.y1 - x_axis::BELOW_PX);
    let view = View::new(data.map, plot);
    view.ground(&mut scene, theme);
    if !theme.small {
        view.contours(&mut scene, theme);
    }
    view.borders(&mut scene, theme, 1.6);
    for (n, line) in data.lines.iter().enumerate().filter(|_| !theme.small) {
        view.path(&mut scene, &line.points, stroke(theme, n, line.guide));
    }
    view.hatch(&mut scene, theme);
    view.axes(&mut scene, theme, true);
    let taken = view.setting(&mut scene, theme, data.setting);
    view.names(&mut scene, theme, taken);
    if !theme.small {
        let key = Rect::new(plot.x1 + 14.0, plot.y0, body.x1, plot.y1);
        draw_key(&mut scene, theme, data, key);
    }
    scene
}

/// Builds the sheet of small maps: one below the other, four in a row.
#[must_use]
pub fn small_maps(
    heading: &Heading,
    maps: &[SmallMap],
    setting: (f64, f64),
    theme: &Theme,
    size: FigureSize,
) -> Scene {
    let (mut scene, body) = sheet::begin(size, theme, heading, SHOWS);
    let most = if theme.small { 2 } else { 4 };
    let columns = most.min(maps.len().max(1));
    let maps = if theme.small { &maps[..columns.min(maps.len())] } else { maps };
    let rows = maps.len().div_ceil(columns).max(1);
    let width = |region: Region| 34.0 + text_width(region.words(), theme.sizes.axis, Face::Regular);
    let (from_x, mut key_lines, mut used) = (body.x0 + if theme.small { 0.0 } else { 34.0 }, 1.0, 0.0);
    for region in Region::ALL {
        if from_x + used + width(region) - 16.0 > body.x1 && used > 0.0 {
            (key_lines, used) = (key_lines + 1.0, 0.0);
        }
        used += width(region);
    }
    let mut key_y = body.y1 - 8.0 - 14.0 * (key_lines - 1.0);
    let (w, h) = (body.width() / columns as f64, (body.height() - 6.0 - 14.0 * key_lines) / rows as f64);
    for (n, one) in maps.iter().enumerate() {
        let (x, y) = (body.x0 + (n % columns) as f64 * w, body.y0 + (n / columns) as f64 * h);
        let plot = Rect::new(x + 34.0, y + 18.0, x + w - 8.0, y + h - 34.0);
        let view = View::new(&one.map, plot);
        view.ground(&mut scene, theme);
        view.borders(&mut scene, theme, 1.1);
        view.hatch(&mut scene, theme);
        view.axes(&mut scene, theme, false);
        let _ = view.setting(&mut scene, theme, Some((setting, None)));
        words(
            &mut scene,
            (plot.x0, y + 12.0),
            Align::Left,
            &one.name,
            theme.sizes.axis,
            Face::Bold,
            theme.ink,
        );
    }
    let mut x = from_x;
    for region in Region::ALL {
        if x + width(region) - 16.0 > body.x1 && x > from_x {
            (x, key_y) = (from_x, key_y + 14.0);
        }
        swatch(&mut scene, theme, (x, key_y), region);
        words(
            &mut scene,
            (x + 18.0, key_y),
            Align::Left,
            region.words(),
            theme.sizes.axis,
            Face::Regular,
            theme.ink,
        );
        x += width(region);
    }
    scene
}

fn stroke(theme: &Theme, n: usize, guide: bool) -> Stroke {
    let dash = [Dash::Long, Dash::Chain, Dash::Short, Dash::Dot][n % 4];
    let width = if guide { 1.0 } else { 2.0 };
    Stroke::dashed(
        if guide { theme.ink_soft } else { theme.ink },
        width,
        if guide { Dash::Dot } else { dash },
    )
}

fn words(scene: &mut Scene, at: Point, align: Align, text: &str, size_px: f64, face: Face, ink: Ink) {
    scene.text(Text { at, align, text: text.to_owned(), size_px, face, ink });
}

fn swatch(scene: &mut Scene, theme: &Theme, (x, y): Point, region: Region) {
    scene.rect(Rect::new(x, y - 9.0, x + 13.0, y + 1.0), fill(theme, region));
    let edge = [(x, y - 9.0), (x + 13.0, y - 9.0), (x + 13.0, y + 1.0), (x, y + 1.0), (x, y - 9.0)];
    scene.path(edge.to_vec(), theme.axis);
}

fn draw_key(scene: &mut Scene, theme: &Theme, data: &MapData, key: Rect) {
    let size_px = theme.sizes.axis;
    let mut y = key.y0 + 9.0;
    let head = |scene: &mut Scene, y: &mut f64, text: &str| {
        words(scene, (key.x0, *y), Align::Left, text, size_px, Face::Bold, theme.ink);
        *y += 16.0;
    };
    head(scene, &mut y, "What the unit does, area in V²");
    for region in Region::ALL {
        swatch(scene, theme, (key.x0, y), region);
        let text = format!("{}  {}", region.words(), figure(data.map.area_v2(region), 2));
        words(scene, (key.x0 + 19.0, y), Align::Left, &text, size_px, Face::Regular, theme.ink);
        y += 15.0;
    }
    y += 8.0;
    head(scene, &mut y, "Closed forms");
    for (n, line) in data.lines.iter().enumerate() {
        scene.line((key.x0, y - 4.0), (key.x0 + 26.0, y - 4.0), stroke(theme, n, line.guide));
        for part in line.name.split('\n') {
            words(scene, (key.x0 + 32.0, y), Align::Left, part, size_px, Face::Regular, theme.ink);
            y += 13.0;
        }
        y += 3.0;
    }
    y += 8.0;
    head(scene, &mut y, "Thin lines, with their values");
    words(scene, (key.x0, y), Align::Left, "Ah per drive-hour (plain);", size_px, Face::Regular, theme.ink);
    words(
        scene,
        (key.x0, y + 14.0),
        Align::Left,
        "Ah from the starter battery,",
        size_px,
        Face::Regular,
        theme.ink,
    );
    words(
        scene,
        (key.x0, y + 28.0),
        Align::Left,
        "engine stopped (dotted)",
        size_px,
        Face::Regular,
        theme.ink,
    );
}

/// A map on its plot.
struct View<'a> {
    map: &'a ThresholdMap,
    plot: Rect,
    x: TimeScale,
    y: ValueScale,
}

impl<'a> View<'a> {
    fn new(map: &'a ThresholdMap, plot: Rect) -> View<'a> {
        let (off, on) = (&map.off_v, &map.on_v);
        let x = TimeScale::new(off[0], off[off.len() - 1], plot.x0, plot.x1);
        let y = ValueScale { low: on[0], high: on[on.len() - 1], y_low: plot.y1, y_high: plot.y0 };
        View { map, plot, x, y }
    }

    fn at(&self, (off, on): (f64, f64)) -> Point {
        (self.x.x(off), self.y.y(on))
    }

    fn columns(&self) -> usize {
        self.map.off_v.len()
    }

    /// The four corners of each cell, anticlockwise from its lower left.
    fn cells(&self) -> impl Iterator<Item = [usize; 4]> + use<> {
        let (columns, rows) = (self.map.off_v.len(), self.map.on_v.len());
        (0..rows - 1).flat_map(move |r| {
            (0..columns - 1).map(move |c| {
                let n = r * columns + c;
                [n, n + 1, n + columns + 1, n + columns]
            })
        })
    }

    fn node(&self, n: usize) -> (f64, f64) {
        (self.map.off_v[n % self.columns()], self.map.on_v[n / self.columns()])
    }

    fn region(&self, n: usize) -> Option<Region> {
        self.map.points[n].map(|p| p.region)
    }

    /// Where the edge between two corners of a cell is crossed.
    fn crossing(&self, a: usize, b: usize) -> Option<Point> {
        let (low, high) = (a.min(b), a.max(b));
        let along = if high == low + 1 { &self.map.along_off } else { &self.map.along_on };
        along[low].map(|c| self.at((c.off_v, c.on_v)))
    }

    /// Fills cell by cell: the ruling behaviour as a box, others as their corners' shares of it.
    fn ground(&self, scene: &mut Scene, theme: &Theme) {
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

    fn borders(&self, scene: &mut Scene, theme: &Theme, width_px: f64) {
        let stroke = Stroke::solid(theme.ink, width_px);
        for corners in self.cells() {
            let edges: [Option<Point>; 4] =
                std::array::from_fn(|k| self.crossing(corners[k], corners[(k + 1) % 4]));
            let found: Vec<Point> = edges.iter().flatten().copied().collect();
            match found[..] {
                [] | [_] => {}
                [a, b] => scene.line(a, b, stroke),
                _ => {
                    let centre = middle(&edges, found[0]);
                    found.iter().for_each(|p| scene.line(*p, centre, stroke));
                }
            }
        }
    }

    /// Lines of equal charge and of equal loss, within one behaviour: across a border the quantity jumps.
    fn contours(&self, scene: &mut Scene, theme: &Theme) {
        let rate = |n: usize| self.map.points[n].map(|p| p.ah_per_drive_hour);
        let taken = |n: usize| self.map.points[n].map(|p| p.starter_taken_ah);
        let soft = Stroke::solid(theme.ink_soft, 0.6);
        self.levels(scene, theme, &rate, &[Region::Good, Region::StartUpCycles], soft);
        let dotted = Stroke::dashed(theme.ink_soft, 0.9, Dash::Dot);
        self.levels(scene, theme, &taken, &[Region::RunsOn, Region::ComesBack], dotted);
    }

    fn levels(
        &self,
        scene: &mut Scene,
        theme: &Theme,
        value: &dyn Fn(usize) -> Option<f64>,
        within: &[Region],
        stroke: Stroke,
    ) {
        let inside = |n: usize| self.region(n).is_some_and(|r| within.contains(&r));
        let all: Vec<f64> = (0..self.map.points.len()).filter(|n| inside(*n)).filter_map(value).collect();
        let low = all.iter().copied().fold(f64::INFINITY, f64::min);
        let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if all.is_empty() || high - low < 0.05 {
            return;
        }
        let step = round_step((high - low) / 6.0);
        let mut labels: Vec<Rect> = Vec::new();
        let decimals = (-step.log10() - 1e-9).ceil().clamp(0.0, 3.0) as usize;
        for k in (low / step).ceil() as i64..=(high / step).floor() as i64 {
            let level = k as f64 * step;
            let mut longest: Option<Point> = None;
            let mut count = 0_u32;
            for corners in self.cells() {
                let same = corners.iter().all(|n| inside(*n) && self.region(*n) == self.region(corners[0]));
                let values: Vec<f64> = corners.iter().filter_map(|n| value(*n)).collect();
                if !same || values.len() < 4 {
                    continue;
                }
                let cut: Vec<Point> = (0..4)
                    .filter_map(|k| {
                        let (a, b) = (values[k], values[(k + 1) % 4]);
                        if (a < level) == (b < level) {
                            return None;
                        }
                        let (p, q) =
                            (self.at(self.node(corners[k])), self.at(self.node(corners[(k + 1) % 4])));
                        let u = (level - a) / (b - a);
                        Some((p.0 + u * (q.0 - p.0), p.1 + u * (q.1 - p.1)))
                    })
                    .collect();
                if let [a, b] = cut[..] {
                    scene.line(a, b, stroke);
                    count += 1;
                    // Somewhere near the middle of the line as it is walked.
                    if longest.is_none() || count % 7 == 3 && count < 40 {
                        longest = Some(a);
                    }
                }
            }
            if let Some(at) = longest.filter(|_| count > 3) {
                let text = figure(level, decimals);
                let half = text_width(&text, theme.sizes.axis, Face::Regular) / 2.0;
                let label = Rect::new(at.0 - half - 2.0, at.1 - 6.0, at.0 + half + 2.0, at.1 + 6.0);
                if labels.iter().any(|l| l.grown(3.0).overlaps(&label)) {
                    continue;
                }
                labels.push(label);
                scene.rect(label, theme.halo);
                words(
                    scene,
                    (at.0, at.1 + 4.0),
                    Align::Center,
                    &text,
                    theme.sizes.axis,
                    Face::Regular,
                    theme.ink,
                );
            }
        }
    }

    /// A line, cut at the edges of the plot.
    fn path(&self, scene: &mut Scene, points: &[(f64, f64)], stroke: Stroke) {
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
    fn hatch(&self, scene: &mut Scene, theme: &Theme) {
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

    fn axes(&self, scene: &mut Scene, theme: &Theme, large: bool) {
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

    /// Writes each behaviour's name where there is most room for it.
    fn names(&self, scene: &mut Scene, theme: &Theme, taken: Option<Rect>) {
        let (columns, rows) = (self.columns(), self.map.on_v.len());
        for region in Region::ALL {
            let mut best: Option<(usize, usize)> = None;
            for r in 0..rows {
                let mut run = 0;
                for c in 0..=columns {
                    if c < columns && self.region(r * columns + c) == Some(region) {
                        run += 1;
                        continue;
                    }
                    // A level stretch with the same above and below holds a word.
                    let middle = c.saturating_sub(run / 2 + 1);
                    let tall = [r.wrapping_sub(2), r + 2]
                        .iter()
                        .all(|row| *row < rows && self.region(row * columns + middle) == Some(region));
                    let (x, y) = self.at(self.node((r * columns + middle).min(columns * rows - 1)));
                    let half = text_width(region.words(), theme.sizes.label, Face::Bold) / 2.0 + 8.0;
                    let word = Rect::new(x - half, y - 10.0, x + half, y + 10.0);
                    let tall = tall && taken.is_none_or(|t| !t.overlaps(&word));
                    if run > 0 && tall && best.is_none_or(|b| run > b.0) {
                        best = Some((run, r * columns + middle));
                    }
                    run = 0;
                }
            }
            let Some((run, n)) = best else { continue };
            let width = run as f64 * self.plot.width() / columns as f64;
            let text = region.words();
            let need = text_width(text, theme.sizes.label, Face::Bold);
            if width > need + 10.0 {
                let (x, y) = self.at(self.node(n));
                let x = x.clamp(self.plot.x0 + need / 2.0 + 4.0, self.plot.x1 - need / 2.0 - 4.0);
                words(scene, (x, y + 4.0), Align::Center, text, theme.sizes.label, Face::Bold, theme.ink);
            }
        }
    }

    /// Marks the setting; returns the paper that it takes.
    fn setting(&self, scene: &mut Scene, theme: &Theme, setting: Option<Setting>) -> Option<Rect> {
        let (here, nearest) = setting?;
        let (x, y) = self.at(here);
        if !self.plot.grown(1.0).contains(&Rect::new(x, y, x, y)) {
            return None;
        }
        let mut taken = Rect::new(x - 8.0, y - 8.0, x + 8.0, y + 8.0);
        if let Some(to) = nearest {
            let far = (to.0 - here.0).hypot(to.1 - here.1);
            let end = self.at(to);
            scene.line((x, y), end, Stroke::solid(theme.ink, 1.2));
            scene.disc(end, 2.6, theme.ink);
            let text = format!("{} V to the nearest border", figure(far, 2));
            let need = text_width(&text, theme.sizes.label, Face::Bold);
            // On the side that the border is not.
            let left = x - 14.0 - need > self.plot.x0 && (end.0 >= x || x + 14.0 + need > self.plot.x1);
            let at = if left { x - 11.0 - need } else { x + 11.0 };
            taken = Rect::new(taken.x0.min(at), y - 20.0, taken.x1.max(at + need), y + 8.0);
            scene.rect(Rect::new(at - 3.0, y - 20.0, at + need + 3.0, y - 5.0), theme.halo);
            words(scene, (at, y - 9.0), Align::Left, &text, theme.sizes.label, Face::Bold, theme.ink);
        }
        let r = 6.0;
        for (width, ink) in [(4.6, theme.paper), (2.2, theme.ink)] {
            scene.line((x - r, y - r), (x + r, y + r), Stroke::solid(ink, width));
            scene.line((x - r, y + r), (x + r, y - r), Stroke::solid(ink, width));
        }
        Some(taken)
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
