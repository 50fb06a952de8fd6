//! Temperatures with their limits, and the heat that drives them, on the time axis of the run.

use super::super::decimate::Joining;
use super::super::panel::{Marker, Panel, Series, Threshold};
use super::super::scale::{Range, figure};
use super::super::scene::Scene;
use super::super::size::{FigureSize, Rect};
use super::super::theme::{Dash, Stroke, Theme};
use super::super::time_axis::TimeScale;
use super::overview::peak;
use super::sheet::{self, Foot, Heading, LEFT_PX};
use super::timeline::Timeline;

/// One temperature over time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Temperature {
    /// What has it.
    pub name: String,
    /// Degrees, °C.
    pub temp_c: Vec<f64>,
    /// When it was hottest, seconds, and how hot, °C.
    pub hottest: Option<(f64, f64)>,
}

/// A temperature that something must not pass, or at which something happens.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HeatLine {
    /// What it is the limit of.
    pub names: Vec<String>,
    /// Degrees, °C.
    pub temp_c: f64,
    /// Whether it is a default that nobody typed.
    pub assumed: bool,
    /// Whether what it limits is among the curves.
    pub shown: bool,
}

impl HeatLine {
    fn words(&self) -> String {
        format!("{} {} °C", self.names.join(", "), figure(self.temp_c, 0))
    }
}

/// Draws limits that lie within reach of what is shown, and names the others in a corner: a line far above would squash
/// the curves, and a line of a part that is not shown limits nothing that is.
pub(super) fn add_limits(panel: &mut Panel<'_>, limits: &[HeatLine], theme: &Theme) {
    let shown = || panel.series.iter().flat_map(|s| s.value).copied().filter(|v| v.is_finite());
    let (low, high) = (shown().fold(f64::INFINITY, f64::min), shown().fold(f64::NEG_INFINITY, f64::max));
    let reach = high + REACH * (high - low).max(LEAST_C);
    let (near, far): (Vec<&HeatLine>, Vec<&HeatLine>) =
        limits.iter().partition(|l| l.shown && l.temp_c <= reach);
    for limit in near {
        let dash = if limit.assumed { Dash::Long } else { Dash::Solid };
        let stroke = Stroke { dash, ..theme.roles.turn_off };
        panel.thresholds.push(Threshold { value: limit.temp_c, name: limit.words(), stroke });
    }
    if let Some(first) = far.first() {
        let words: Vec<String> = far.iter().map(|l| l.words()).collect();
        panel.beyond = format!("not drawn: {}", words.join("; "));
        panel.beyond_short = format!("not drawn: limits from {} °C up", figure(first.temp_c, 0));
    }
}

/// How far above the highest curve a limit is still drawn, as a share of the span of all curves.
const REACH: f64 = 0.55;
/// The least span, °C: nothing is far from a temperature that never moves.
const LEAST_C: f64 = 20.0;

/// Everything the picture shows. Series share `time_s`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TemperatureData {
    /// Title, answer and footer.
    pub heading: Heading,
    /// States and events.
    pub timeline: Timeline,
    /// Sample times, rising.
    pub time_s: Vec<f64>,
    /// Temperatures of parts, the most important first.
    pub parts: Vec<Temperature>,
    /// Their limits, the lowest first.
    pub limits: Vec<HeatLine>,
    /// Temperature of the air, °C.
    pub air_c: Vec<f64>,
    /// Heat given off, W, each with its name: unit, input cable, output cable.
    pub heat_w: Vec<(String, Vec<f64>)>,
}

const END_LABEL_PX: f64 = 172.0;

/// Builds the picture.
#[must_use]
pub fn temperatures(data: &TemperatureData, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(
        size,
        theme,
        &data.heading,
        "Temperatures over the run with their limits, and the heat that drives them.",
    );
    let (x0, x1) = (body.x0 + LEFT_PX - 16.0, body.x1 - END_LABEL_PX);
    let time = TimeScale::new(data.timeline.start_s, data.timeline.end_s, x0, x1);
    let clock = &data.timeline.clock;
    let ticks = time.ticks(clock, theme.sizes.axis);
    let lane = data.timeline.lane(theme);
    let foot = Foot::measure(theme, body, &lane, clock, &[time]);
    let panels = [(degrees(data, theme), 1.7), (heat(data, theme), 1.0)];
    let area = Rect::new(x0, body.y0, x1, foot.lane_y);
    sheet::stack(&mut scene, theme, &panels, area, (&time, &ticks, clock), END_LABEL_PX);
    foot.draw(&mut scene, theme, &time, &ticks, true);
    scene
}

fn degrees<'a>(data: &'a TemperatureData, theme: &Theme) -> Panel<'a> {
    let mut panel = Panel::new("Temperature, °C", "°C", Range::Bulk);
    panel.least_span = 10.0;
    let air = Stroke::dashed(theme.ink_soft, 1.2, Dash::Dot);
    panel.series.push(line(data, span("air", &data.air_c), &data.air_c, air));
    // As many looks as parts are shown, each with its own colour and its own line.
    let r = &theme.roles;
    let looks =
        [r.temperature, r.alternator, r.starter, r.output, r.house, Stroke { dash: Dash::Dot, ..r.input }];
    // Names and limits share the column beside the plot: a small sheet shows the hottest few.
    let shown = if theme.small { 4 } else { looks.len() };
    for (part, stroke) in data.parts.iter().take(shown).zip(looks) {
        panel.series.push(line(data, span(&part.name, &part.temp_c), &part.temp_c, stroke));
    }
    add_limits(&mut panel, &data.limits, theme);
    if let Some(part) = data.parts.first() {
        panel.markers.extend(hottest(data, part));
    }
    panel
}

fn hottest(data: &TemperatureData, part: &Temperature) -> Option<Marker> {
    let (time_s, value) = part.hottest?;
    // A part that never leaves the temperature it began with has no hottest moment.
    if value - part.temp_c.first()? < 0.5 {
        return None;
    }
    let span_s = data.timeline.end_s - data.timeline.start_s;
    let moment = data.timeline.clock.moment(time_s, span_s);
    let text = format!("{}: most {} °C\nat {moment}", part.name, figure(value, 1));
    Some(Marker { time_s, value, foot: None, text })
}

fn heat<'a>(data: &'a TemperatureData, theme: &Theme) -> Panel<'a> {
    let mut panel = Panel::new("Heat given off, W", "W", Range::FromZero);
    panel.least_span = 5.0;
    let looks = [theme.roles.unit, Stroke { dash: Dash::Short, ..theme.roles.input }, theme.roles.output];
    for ((who, w), stroke) in data.heat_w.iter().zip(looks.into_iter().cycle()) {
        panel.series.push(line(data, format!("{who}, max {} W", peak(w, 1)), w, stroke));
    }
    panel
}

/// A name with the lowest and the highest value.
fn span(name: &str, values: &[f64]) -> String {
    let finite = || values.iter().copied().filter(|v| v.is_finite());
    match (finite().reduce(f64::min), finite().reduce(f64::max)) {
        (Some(a), Some(b)) if b - a < 0.5 => format!("{name}, {} °C", figure(b, 0)),
        (Some(a), Some(b)) => format!("{name}, {} to {} °C", figure(a, 0), figure(b, 0)),
        _ => name.to_owned(),
    }
}

fn line<'a>(data: &'a TemperatureData, name: String, value: &'a [f64], stroke: Stroke) -> Series<'a> {
    Series { name, time_s: &data.time_s, value, joining: Joining::Straight, stroke }
}
