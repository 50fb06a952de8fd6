//! Alternator head-room: what it can give against engine speed, what is asked of it, and the time at each speed.

use super::super::decimate::Joining;
use super::super::font::Face;
use super::super::panel::{Band, Frame, Gap, Marker, Panel, Series};
use super::super::scale::{Range, figure};
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Rect};
use super::super::theme::{Dash, Ink, Stroke, Theme};
use super::super::time_axis::{Clock, TimeScale};
use super::super::x_axis;
use super::sheet::{self, Heading, LEFT_PX};

/// One layer of what is asked of the alternator.
#[derive(Debug, Clone, PartialEq)]
pub struct Demand {
    /// Who asks.
    pub name: String,
    /// How much, A.
    pub amps_a: f64,
}

/// Everything the picture shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HeadroomData {
    /// Title, answer and footer.
    pub heading: Heading,
    /// Engine speeds of the curve, rpm, rising.
    pub engine_rpm: Vec<f64>,
    /// What the alternator can give there cold, A.
    pub capability_a: Vec<f64>,
    /// The same at the hottest winding that was met, A, and how hot that was, °C; `None` where heat takes nothing away.
    pub hot: Option<(Vec<f64>, f64)>,
    /// Alternator speed over engine speed.
    pub pulley_ratio: f64,
    /// Layers of demand, the firmest first; all but the last must be carried.
    pub demand: Vec<Demand>,
    /// Lowest engine speed that carries the firm layers, hot where it was hot, rpm; `None` where no speed does.
    pub lowest_rpm: Option<f64>,
    /// Time at each engine speed: beginning and end of the bin, rpm, and minutes.
    pub time_at_rpm: Vec<(f64, f64, f64)>,
}

impl HeadroomData {
    /// Sum of the layers that must be carried, A.
    #[must_use]
    pub fn firm_a(&self) -> f64 {
        let firm = self.demand.len().saturating_sub(1);
        self.demand[..firm].iter().map(|d| d.amps_a).sum()
    }
}

const END_LABEL_PX: f64 = 178.0;
const HISTOGRAM_PX: f64 = 74.0;

/// Builds the picture.
#[must_use]
pub fn headroom(data: &HeadroomData, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(
        size,
        theme,
        &data.heading,
        "What the alternator can give over engine speed, against what is asked of it.",
    );
    let (x0, x1) = (body.x0 + LEFT_PX - 22.0, body.x1 - END_LABEL_PX);
    let ends =
        (data.engine_rpm.first().copied().unwrap_or(0.0), data.engine_rpm.last().copied().unwrap_or(3000.0));
    let rpm = TimeScale::new(ends.0, ends.1, x0, x1);
    let ticks = x_axis::round_ticks(&rpm, theme.sizes.axis);
    let histogram_px = if theme.small { 0.0 } else { HISTOGRAM_PX };
    let histogram = Rect::new(x0, body.y1 - x_axis::BELOW_PX - histogram_px, x1, body.y1 - x_axis::BELOW_PX);

    // Alternator speed has round marks of its own, on the upper edge.
    let (above, below) = if theme.small { (16.0, 0.0) } else { (46.0, 24.0) };
    let plot = Rect::new(x0, body.y0 + above, x1, histogram.y0 - below);
    let ratio = data.pulley_ratio.max(1e-6);
    let upper = TimeScale::new(ends.0 * ratio, ends.1 * ratio, x0, x1);
    let upper_ticks = x_axis::round_ticks(&upper, theme.sizes.axis);
    if !theme.small {
        x_axis::draw_above(&mut scene, theme, &upper, &upper_ticks, plot.y0);
        let name = format!("alternator speed, rpm (× {})", figure(ratio, 2));
        let at = (f64::midpoint(x0, x1), plot.y0 - 21.0);
        label(&mut scene, theme, at, Align::Center, &name, Face::Regular, theme.ink_soft);
    }
    label(
        &mut scene,
        theme,
        (x0, body.y0 + 10.0),
        Align::Left,
        "Alternator current, A",
        Face::Bold,
        theme.ink,
    );

    let panel = amps(data, theme);
    let frame = Frame {
        plot,
        time: rpm,
        clock: Clock::default(),
        ticks: &ticks,
        limits: panel.limits(),
        axis_figures: true,
        end_label_px: END_LABEL_PX,
        names: true,
        window_s: None,
    };
    panel.draw(&mut scene, theme, &frame);
    if !theme.small {
        time_at_rpm(&mut scene, theme, data, &rpm, histogram);
    }
    x_axis::draw(&mut scene, theme, &rpm, &ticks, histogram.y1, "engine speed, rpm");
    scene
}

fn amps<'a>(data: &'a HeadroomData, theme: &Theme) -> Panel<'a> {
    let total: f64 = data.demand.iter().map(|d| d.amps_a).sum();
    let most = data.capability_a.iter().copied().fold(total, f64::max);
    let mut panel = Panel::new("", "A", Range::Fixed(0.0, 1.12 * most.max(10.0)));
    let curve = |name: String, value: &'a [f64], stroke| Series {
        name,
        time_s: &data.engine_rpm,
        value,
        joining: Joining::Straight,
        stroke,
    };
    let stroke = Stroke { width_px: 2.4, ..theme.roles.unit };
    match &data.hot {
        None => panel.series.push(curve("alternator can give".to_owned(), &data.capability_a, stroke)),
        Some((hot_a, winding_c)) => {
            let name = format!("can give, winding {} °C", figure(*winding_c, 0));
            panel.series.push(curve(name, hot_a, stroke));
            let cold = Stroke { width_px: 1.3, dash: Dash::Short, ..theme.roles.unit };
            panel.series.push(curve("can give, cold".to_owned(), &data.capability_a, cold));
        }
    }
    let rules = panel.series[0].value;
    let fills = [
        theme.ribbons.running.fill.at(0.55),
        theme.ribbons.on.fill.at(0.42),
        theme.roles.starter.ink.at(0.20),
    ];
    let mut low = 0.0;
    for (layer, ink) in data.demand.iter().zip(fills.into_iter().cycle()) {
        if layer.amps_a > 0.05 {
            let high = low + layer.amps_a;
            let name = format!("{}: {} A", layer.name, figure(layer.amps_a, 0));
            panel.bands.push(Band { low, high, name, ink });
            low = high;
        }
    }
    let firm_a = data.firm_a();
    if firm_a > 0.0 {
        let until = data.lowest_rpm.unwrap_or(f64::INFINITY);
        panel.gaps.push(Gap {
            series: 0,
            level: firm_a,
            windows_s: vec![(f64::NEG_INFINITY, until)],
            above: Ink { alpha: 0.0, ..theme.gap },
            below: theme.shortfall.at(0.5),
        });
        let last = data.engine_rpm.last().copied().unwrap_or(0.0);
        let helps = "shaded: the battery must help";
        if let Some(lowest) = data.lowest_rpm.filter(|r| *r <= last) {
            let text = format!("carries {} A from {} rpm up;\n{helps}", figure(firm_a, 0), figure(lowest, 0));
            panel.markers.push(Marker { time_s: lowest, value: firm_a, foot: None, text });
        } else if let Some(i) = data.engine_rpm.len().checked_sub(1).map(|n| n * 2 / 3) {
            let (time_s, value) = (data.engine_rpm[i], rules[i]);
            panel.markers.push(Marker { time_s, value, foot: None, text: helps.to_owned() });
        }
    }
    panel
}

fn time_at_rpm(scene: &mut Scene, theme: &Theme, data: &HeadroomData, rpm: &TimeScale, area: Rect) {
    label(
        scene,
        theme,
        (area.x0, area.y0 - 6.0),
        Align::Left,
        "Time at each engine speed, min",
        Face::Bold,
        theme.ink,
    );
    let longest = data.time_at_rpm.iter().map(|b| b.2).fold(0.0, f64::max);
    if longest <= 0.0 {
        let at = (f64::midpoint(area.x0, area.x1), area.center().1 + 4.0);
        label(scene, theme, at, Align::Center, "the engine never runs", Face::Regular, theme.ink_soft);
        return;
    }
    let top = area.y0 + 12.0;
    let tallest = data.time_at_rpm.iter().max_by(|a, b| a.2.total_cmp(&b.2));
    for &(from, to, minutes) in &data.time_at_rpm {
        if minutes <= 0.0 {
            continue;
        }
        let (a, b) = (rpm.x_clamped(from), rpm.x_clamped(to));
        let y = area.y1 - (area.y1 - top) * minutes / longest;
        // Time at speeds that cannot carry the firm demand wears the colour of the shortfall.
        let short =
            data.lowest_rpm.is_none_or(|lowest| f64::midpoint(from, to) < lowest) && data.firm_a() > 0.0;
        let ink = if short { theme.shortfall.at(0.8) } else { theme.ribbons.running.fill };
        scene.rect(Rect::new(a + 0.5, y.min(area.y1 - 1.0), (b - 0.5).max(a + 1.5), area.y1), ink);
    }
    if let Some(&(from, to, minutes)) = tallest {
        let x = f64::midpoint(rpm.x_clamped(from), rpm.x_clamped(to));
        let words = format!("{} min", figure(minutes, usize::from(minutes < 10.0)));
        let align = if x > area.x1 - 40.0 { Align::Right } else { Align::Center };
        label(scene, theme, (x, top - 2.0), align, &words, Face::Regular, theme.ink);
    }
}

fn label(scene: &mut Scene, theme: &Theme, at: (f64, f64), align: Align, words: &str, face: Face, ink: Ink) {
    let size_px = if face == Face::Bold { theme.sizes.panel } else { theme.sizes.axis };
    scene.text(Text { at, align, text: words.to_owned(), size_px, face, ink });
}
