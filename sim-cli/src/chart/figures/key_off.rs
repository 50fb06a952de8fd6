//! After the last key-off, on a log time axis: how the volts settle, and when they cross turn-off and turn-on.

use super::super::decimate::Joining;
use super::super::events::Event;
use super::super::panel::{Marker, Panel, Series, Threshold};
use super::super::scale::{Range, figure};
use super::super::scene::Scene;
use super::super::size::{FigureSize, Rect};
use super::super::theme::{Stroke, Theme};
use super::super::time_axis::{Clock, TimeScale};
use super::super::x_axis;
use super::ladder::Trigger;
use super::sheet::{self, Foot, Heading, LEFT_PX};
use super::timeline::{Span, Timeline};

/// A moment worth words.
#[derive(Debug, Clone, PartialEq)]
pub struct Crossing {
    /// Seconds after the key-off.
    pub time_s: f64,
    /// Volts there.
    pub volts_v: f64,
    /// The words; a line feed starts a new line.
    pub text: String,
}

/// Everything the picture shows. Times count from the key-off; series share `time_s`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct KeyOffData {
    /// Title, answer and footer.
    pub heading: Heading,
    /// States and events, in seconds since the key-off.
    pub timeline: Timeline,
    /// Name of the time axis.
    pub axis_name: String,
    /// Sample times, rising, from 1 s.
    pub time_s: Vec<f64>,
    /// SB, starter posts, V.
    pub starter_posts_v: Vec<f64>,
    /// IN, the unit's input terminals, V.
    pub input_v: Vec<f64>,
    /// Current into the unit, A.
    pub input_a: Vec<f64>,
    /// Current into the starter battery, A.
    pub starter_a: Vec<f64>,
    /// Turn-on voltage.
    pub turn_on: Option<Trigger>,
    /// Turn-off voltage.
    pub turn_off: Option<Trigger>,
    /// Moments with words.
    pub crossings: Vec<Crossing>,
}

const END_LABEL_PX: f64 = 168.0;

/// Builds the picture.
#[must_use]
pub fn key_off(data: &KeyOffData, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(
        size,
        theme,
        &data.heading,
        "Volts after the last key-off, on a time axis that is logarithmic.",
    );
    if data.time_s.is_empty() {
        sheet::nothing(&mut scene, theme, body, "no key-off to show");
        return scene;
    }
    let (x0, x1) = (body.x0 + LEFT_PX - 16.0, body.x1 - END_LABEL_PX);
    let log_s: Vec<f64> = data.time_s.iter().map(|&t| log(t)).collect();
    let last_s = data.time_s.last().copied().unwrap_or(3600.0).max(10.0);
    let time = TimeScale::new(0.0, log(last_s), x0, x1);
    let ticks = x_axis::log_ticks(&time, theme.sizes.axis);
    let clock = Clock::default();
    let timeline = logged(&data.timeline);
    let lane = timeline.lane(theme);
    let mut foot = Foot::measure(theme, body, &lane, &clock, &[time]);
    foot.axis_name = Some(&data.axis_name);

    let panels = [(volts(data, theme, &log_s), 1.9), (amps(data, theme, &log_s), 1.0)];
    let area = Rect::new(x0, body.y0, x1, foot.lane_y);
    sheet::stack(&mut scene, theme, &panels, area, (&time, &ticks, &clock), END_LABEL_PX);
    foot.draw(&mut scene, theme, &time, &ticks, true);
    scene
}

/// log10 of seconds; what came before the first second stands on it.
fn log(seconds: f64) -> f64 {
    seconds.max(1.0).log10()
}

fn logged(t: &Timeline) -> Timeline {
    fn spans<S: Copy>(spans: &[Span<S>]) -> Vec<Span<S>> {
        spans
            .iter()
            .map(|s| Span { start_s: log(s.start_s), end_s: log(s.end_s), state: s.state })
            .filter(|s| s.end_s > s.start_s)
            .collect()
    }
    Timeline {
        clock: Clock::default(),
        start_s: 0.0,
        end_s: log(t.end_s),
        unit: spans(&t.unit),
        stage: spans(&t.stage),
        engine: spans(&t.engine),
        events: t.events.iter().map(|e| Event { time_s: log(e.time_s), ..e.clone() }).collect(),
    }
}

/// Fixed limits that hold everything: on a log axis no moment is written for what is off the scale.
fn range(values: &[&[f64]], more: &[f64], least: f64) -> Range {
    let all = || values.iter().flat_map(|v| v.iter()).chain(more).copied().filter(|v| v.is_finite());
    let low = all().fold(f64::INFINITY, f64::min);
    let high = all().fold(f64::NEG_INFINITY, f64::max);
    if low > high {
        return Range::Fixed(0.0, least);
    }
    let lacking = (least - (high - low)).max(0.0) / 2.0;
    let pad = 0.08 * (high - low).max(least);
    Range::Fixed(low - lacking - pad, high + lacking + pad)
}

fn volts<'a>(data: &'a KeyOffData, theme: &Theme, log_s: &'a [f64]) -> Panel<'a> {
    let triggers =
        [("turn-on", data.turn_on, theme.roles.turn_on), ("turn-off", data.turn_off, theme.roles.turn_off)];
    let levels: Vec<f64> = triggers.iter().filter_map(|t| t.1).map(|t| t.volts_v).collect();
    let range = range(&[&data.starter_posts_v, &data.input_v], &levels, 0.5);
    let mut panel = Panel::new("Volts, V", "V", range);
    panel.series.push(line(
        ended("SB starter posts", &data.starter_posts_v, 2, "V"),
        log_s,
        &data.starter_posts_v,
        theme.roles.starter,
    ));
    panel.series.push(line(
        ended("IN unit input", &data.input_v, 2, "V"),
        log_s,
        &data.input_v,
        theme.roles.input,
    ));
    for (what, trigger, stroke) in triggers {
        if let Some(t) = trigger {
            let name = format!("{what} {} V", figure(t.volts_v, 2));
            panel.thresholds.push(Threshold { value: t.volts_v, name, stroke });
        }
    }
    panel.markers = data
        .crossings
        .iter()
        .map(|c| Marker { time_s: log(c.time_s), value: c.volts_v, foot: None, text: c.text.clone() })
        .collect();
    panel
}

fn amps<'a>(data: &'a KeyOffData, theme: &Theme, log_s: &'a [f64]) -> Panel<'a> {
    let range = range(&[&data.input_a, &data.starter_a], &[0.0], 2.0);
    let mut panel = Panel::new("Amps, A (into the starter battery is positive)", "A", range);
    panel.series.push(line(
        ended("starter battery", &data.starter_a, 2, "A"),
        log_s,
        &data.starter_a,
        theme.roles.starter,
    ));
    panel.series.push(line(
        ended("into the unit", &data.input_a, 3, "A"),
        log_s,
        &data.input_a,
        theme.roles.input,
    ));
    panel
}

/// A name with the value the line ends at.
fn ended(name: &str, values: &[f64], decimals: usize, unit: &str) -> String {
    match values.last() {
        Some(v) if v.is_finite() => format!("{name}, {} {unit}", figure(*v, decimals)),
        _ => name.to_owned(),
    }
}

fn line<'a>(name: String, time_s: &'a [f64], value: &'a [f64], stroke: Stroke) -> Series<'a> {
    Series { name, time_s, value, joining: Joining::Straight, stroke }
}
