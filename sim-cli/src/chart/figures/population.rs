//! What a sample says of a population: which key moves the result most, and how the result is spread over all vehicles.

use super::super::font::{Face, fit};
use super::super::pattern::{self, Pattern};
use super::super::scale::figure;
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Point, Rect};
use super::super::theme::{Stroke, Theme};
use super::super::time_axis::TimeScale;
use super::super::x_axis;
use super::sheet::{self, Heading};

/// A key and by how much the result moves from its lowest fifth to its highest.
#[derive(Debug, Clone, PartialEq)]
pub struct Mover {
    /// Name.
    pub name: String,
    /// Signed move, in the unit of the result.
    pub by: f64,
    /// Whether the scenario leaves it to a default.
    pub default: bool,
}

/// Everything the picture shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PopulationData {
    /// Title, answer and footer.
    pub heading: Heading,
    /// Name and unit of the result.
    pub result: String,
    /// Keys, the strongest first.
    pub movers: Vec<Mover>,
    /// The result at even shares of the population from 0 to 1, rising.
    pub spread: Vec<f64>,
    /// Whether the result is a margin to turn-off: what lies under nothing is shaded.
    pub is_margin: bool,
}

/// Most keys that are shown.
const MOST: usize = 16;

/// Builds the picture.
#[must_use]
pub fn population(data: &PopulationData, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(
        size,
        theme,
        &data.heading,
        "How many vehicles of a sample are in trouble, and what that hangs on.",
    );
    if data.spread.len() < 2 {
        sheet::nothing(&mut scene, theme, body, "Too few runs have this result.");
        return scene;
    }
    if theme.small {
        tornado(&mut scene, theme, body, data);
        return scene;
    }
    let middle = body.x0 + 0.56 * body.width();
    tornado(&mut scene, theme, Rect::new(body.x0, body.y0, middle - 14.0, body.y1), data);
    spread(&mut scene, theme, Rect::new(middle + 14.0, body.y0, body.x1, body.y1), data);
    scene
}

fn words(scene: &mut Scene, theme: &Theme, at: Point, align: Align, text: &str, face: Face) {
    scene.text(Text { at, align, text: text.to_owned(), size_px: theme.sizes.axis, face, ink: theme.ink });
}

fn title(scene: &mut Scene, theme: &Theme, area: Rect, text: &str) {
    scene.text(Text {
        at: (area.x0, area.y0 + 13.0),
        align: Align::Left,
        text: fit(text, theme.sizes.panel, Face::Bold, area.width()),
        size_px: theme.sizes.panel,
        face: Face::Bold,
        ink: theme.ink,
    });
}

fn tornado(scene: &mut Scene, theme: &Theme, area: Rect, data: &PopulationData) {
    title(scene, theme, area, "What moves it most");
    let rows = ((area.height() - 68.0) / (1.3 * theme.sizes.axis)).floor().max(1.0) as usize;
    let shown = &data.movers[..data.movers.len().min(MOST).min(if theme.small { rows } else { MOST })];
    if shown.is_empty() {
        words(scene, theme, (area.x0, area.y0 + 40.0), Align::Left, "Too few runs to tell.", Face::Regular);
        return;
    }
    let below = if shown.iter().any(|m| m.default) { 42.0 } else { 22.0 };
    let row_px = ((area.height() - 26.0 - below) / shown.len() as f64).min(46.0);
    let names_px = 0.44 * area.width();
    // Figures stand beyond the ends of their bars, on either side.
    let figure_px = 46.0;
    let (left, right) = (area.x0 + names_px + figure_px, area.x1 - figure_px);
    let low = shown.iter().map(|m| m.by).fold(0.0, f64::min);
    let high = shown.iter().map(|m| m.by).fold(0.0, f64::max);
    let span = (high - low).max(1e-12);
    let x = |v: f64| left + (v - low) / span * (right - left);
    let top = area.y0 + 24.0;
    for (n, m) in shown.iter().enumerate() {
        let (y0, y1) = (top + (n as f64 + 0.18) * row_px, top + (n as f64 + 0.82) * row_px);
        let base = f64::midpoint(y0, y1) + 0.36 * theme.sizes.axis;
        let name = fit(&m.name, theme.sizes.axis, Face::Regular, names_px - 4.0);
        words(scene, theme, (area.x0, base), Align::Left, &name, Face::Regular);
        let bar = Rect::new(x(m.by.min(0.0)), y0, x(m.by.max(0.0)).max(x(m.by.min(0.0)) + 0.8), y1);
        if m.default {
            hatch(scene, theme, bar);
        } else {
            scene.rect(bar, theme.roles.output.ink);
        }
        let (at, align) = if m.by < 0.0 { (bar.x0 - 4.0, Align::Right) } else { (bar.x1 + 4.0, Align::Left) };
        words(scene, theme, (at, base), align, &signed(m.by), Face::Regular);
    }
    let foot = top + shown.len() as f64 * row_px;
    scene.line((x(0.0), top - 2.0), (x(0.0), foot + 2.0), Stroke::solid(theme.ink, 1.2));
    let told = "from the lowest fifth of each key to its highest";
    words(scene, theme, (area.x0, foot + 18.0), Align::Left, told, Face::Regular);
    if below > 30.0 {
        let key = Rect::new(area.x0, foot + 26.0, area.x0 + 16.0, foot + 36.0);
        hatch(scene, theme, key);
        let told = "not said in the scenario: a default stands there";
        words(scene, theme, (area.x0 + 22.0, foot + 36.0), Align::Left, told, Face::Regular);
    }
}

/// Hatching for what stands at a default.
fn hatch(scene: &mut Scene, theme: &Theme, of: Rect) {
    let lines = Stroke::solid(theme.roles.output.ink, 2.0);
    pattern::fill(scene, of, theme.ribbons.idle.fill, Pattern::Rising(4.0), lines);
}

fn minus(v: f64) -> String {
    signed(v).trim_start_matches('+').to_owned()
}

fn signed(v: f64) -> String {
    let decimals = if v.abs() >= 100.0 { 0 } else { 2 };
    let text = figure(v.abs(), decimals);
    let nothing = text.bytes().all(|b| b == b'0' || b == b'.');
    let sign = if nothing {
        ""
    } else if v < 0.0 {
        "−"
    } else {
        "+"
    };
    format!("{sign}{text}")
}

fn spread(scene: &mut Scene, theme: &Theme, area: Rect, data: &PopulationData) {
    title(scene, theme, area, "Share of the population under a value, %");
    let plot = Rect::new(area.x0 + 34.0, area.y0 + 26.0, area.x1 - 20.0, area.y1 - x_axis::BELOW_PX);
    let last = data.spread.len() - 1;
    let at_share = |u: f64| data.spread[(u * last as f64).round() as usize];
    // The outermost hundredths do not stretch the axis.
    let (mut low, mut high) = (at_share(0.01), at_share(0.99));
    if data.is_margin {
        (low, high) = (low.min(0.0), high.max(0.0));
    }
    let room = 0.04 * (high - low).max(1e-3);
    let x = TimeScale::new(low - room, high + room, plot.x0, plot.x1);
    let y = |share: f64| plot.y1 - share * (plot.y1 - plot.y0);
    let within = |v: f64| x.x(v.clamp(x.from_s, x.to_s));
    if data.is_margin {
        scene.rect(Rect::new(plot.x0, plot.y0, within(0.0), plot.y1), theme.shortfall.at(0.22));
    }
    let ticks = x_axis::round_ticks(&x, theme.sizes.axis);
    for t in &ticks {
        scene.line((x.x(t.time_s), plot.y0), (x.x(t.time_s), plot.y1), theme.grid);
    }
    for share in [0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0] {
        scene.line((plot.x0, y(share)), (plot.x1, y(share)), theme.grid);
        let at = (plot.x0 - 6.0, y(share) + 0.36 * theme.sizes.axis);
        words(scene, theme, at, Align::Right, &figure(100.0 * share, 0), Face::Regular);
    }
    if data.is_margin && within(0.0) > plot.x0 + 100.0 {
        // Clear of the grid: what is written stands on its own ground.
        scene.rect(Rect::new(plot.x0 + 2.0, plot.y0 + 4.0, plot.x0 + 98.0, plot.y0 + 21.0), theme.paper);
        words(scene, theme, (plot.x0 + 6.0, plot.y0 + 16.0), Align::Left, "under turn-off", Face::Regular);
    }
    let ink = theme.roles.output.ink;
    let points = data.spread.iter().enumerate().map(|(n, v)| (within(*v), y(n as f64 / last as f64)));
    scene.path(points.collect(), Stroke::solid(ink, 2.0));
    for (share, name) in [(0.1, "P10"), (0.5, "P50"), (0.9, "P90")] {
        let value = at_share(share);
        let p = (within(value), y(share));
        scene.disc(p, 4.0, theme.paper);
        scene.disc(p, 2.8, ink);
        // On the side of the curve that has more paper.
        let right = p.0 < f64::midpoint(plot.x0, plot.x1);
        let (dx, align) = if right { (8.0, Align::Left) } else { (-8.0, Align::Right) };
        let dy = if right { 15.0 } else { -7.0 };
        words(scene, theme, (p.0 + dx, p.1 + dy), align, &format!("{name} {}", minus(value)), Face::Bold);
    }
    x_axis::draw(scene, theme, &x, &ticks, plot.y1, &data.result);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::figures::checks::assert_legible;

    fn invented(keys: usize, spread: Vec<f64>) -> PopulationData {
        let movers = (0..keys).map(|n| Mover {
            name: format!("a_section.with_a_long_key_name_{n}_mohm"),
            by: if n % 3 == 0 { -1.0 } else { 0.8 } / (1.0 + n as f64),
            default: n % 2 == 0,
        });
        PopulationData {
            movers: movers.collect(),
            spread,
            result: "smallest margin to turn-off, V".into(),
            is_margin: true,
            ..PopulationData::default()
        }
    }

    #[test]
    fn labels_stay_apart_whatever_the_shape() {
        let even: Vec<f64> = (0..=200).map(|n| f64::from(n) / 100.0 - 0.5).collect();
        let lump: Vec<f64> = (0..=200).map(|n| if n < 150 { -2.0 } else { 1.0 }).collect();
        for (keys, spread) in [(1, even.clone()), (6, lump), (40, even), (0, vec![0.3; 201]), (3, vec![])] {
            let scene = population(&invented(keys, spread), &Theme::light(), FigureSize::default());
            assert_legible("population", &scene);
        }
        assert_eq!(
            (signed(-0.314), signed(0.0), signed(250.4)),
            ("−0.31".into(), "0.00".into(), "+250".into())
        );
    }
}
