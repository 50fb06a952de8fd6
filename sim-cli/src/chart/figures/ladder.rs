//! Voltage ladder: where the volts stand from set-point to house posts, the currents, and the event lane.
//! The gap between the unit's input and its turn-off line is shaded; the smallest gap is flagged.

use super::super::decimate::Joining;
use super::super::font::Face;
use super::super::panel::{Frame, Gap, Marker, Panel, Series, Threshold};
use super::super::scale::{Range, figure};
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Rect};
use super::super::theme::{Stroke, Theme};
use super::super::time_axis::{Tick, TimeScale};
use super::overview::peak;
use super::sheet::{self, BELOW_PX, Foot, Heading, LEFT_PX, TITLE_PX};
use super::timeline::{Closeup, Timeline};

/// A voltage that switches the unit when held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trigger {
    /// Volts at the unit's input.
    pub volts_v: f64,
    /// How long it must be held, seconds.
    pub hold_s: f64,
}

/// The moment the input came nearest to turn-off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SmallestGap {
    /// When, seconds.
    pub time_s: f64,
    /// Input minus turn-off voltage; negative when it fell below.
    pub gap_v: f64,
}

/// Which part of the run is drawn enlarged.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Zoom {
    /// The busiest minutes of a run that cycles, else the first turn-on.
    #[default]
    Auto,
    /// This part.
    Of(Closeup),
    /// None.
    Off,
}

/// Everything the ladder shows. Series share `time_s`; a value that is not finite leaves a gap.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LadderData {
    /// Title, answer and footer.
    pub heading: Heading,
    /// States and events.
    pub timeline: Timeline,
    /// Sample times, rising.
    pub time_s: Vec<f64>,
    /// Alternator set-point, V.
    pub set_point_v: Vec<f64>,
    /// SB, starter posts, V.
    pub starter_posts_v: Vec<f64>,
    /// IN, the unit's input terminals, V.
    pub input_v: Vec<f64>,
    /// OUT, the unit's output terminals, V.
    pub output_v: Vec<f64>,
    /// HB, house posts, V.
    pub house_posts_v: Vec<f64>,
    /// Alternator current, A.
    pub alternator_a: Vec<f64>,
    /// Current into the unit, A.
    pub input_a: Vec<f64>,
    /// Current out of the unit, A.
    pub output_a: Vec<f64>,
    /// Current into the starter battery, A.
    pub starter_a: Vec<f64>,
    /// Current into the house battery, A.
    pub house_a: Vec<f64>,
    /// Turn-on voltage; `None` when something other than voltage starts the unit.
    pub turn_on: Option<Trigger>,
    /// Turn-off voltage; `None` when something other than voltage stops the unit.
    pub turn_off: Option<Trigger>,
    /// The located smallest gap; `None` takes it from the samples with unit on and engine running.
    pub smallest_gap: Option<SmallestGap>,
    /// The enlarged part.
    pub zoom: Zoom,
}

const END_LABEL_PX: f64 = 172.0;
const ZOOM_PX: f64 = 208.0;

/// Builds the voltage ladder.
#[must_use]
pub fn ladder(data: &LadderData, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(
        size,
        theme,
        &data.heading,
        "Volts from the alternator's set-point down to the house posts, and amps, over the run.",
    );
    let closeup = match &data.zoom {
        Zoom::Auto => data.timeline.closeup(),
        Zoom::Of(closeup) => Some(closeup.clone()),
        Zoom::Off => None,
    };
    let closeup = closeup.filter(|_| !theme.small);
    let zoom_px = if closeup.is_some() { ZOOM_PX + 8.0 } else { 0.0 };
    let (x0, x1) = (body.x0 + LEFT_PX - 16.0, body.x1 - zoom_px - END_LABEL_PX);
    let clock = &data.timeline.clock;
    let time = TimeScale::new(data.timeline.start_s, data.timeline.end_s, x0, x1);
    let ticks = time.ticks(clock, theme.sizes.axis);
    let lane = data.timeline.lane(theme);
    let zoom: Option<(Closeup, TimeScale, Vec<Tick>)> = closeup.map(|c| {
        let scale = TimeScale::new(c.window_s.0, c.window_s.1, body.x1 - ZOOM_PX, body.x1 - 4.0);
        let ticks = scale.ticks(clock, theme.sizes.axis);
        (c, scale, ticks)
    });
    let scales: Vec<TimeScale> = [time].into_iter().chain(zoom.as_ref().map(|z| z.1)).collect();
    let foot = Foot::measure(theme, body, &lane, clock, &scales);

    let panels = [(volts_panel(data, theme), 1.75), (amps_panel(data, theme), 1.0)];
    let Some((closeup, scale, zoom_ticks)) = &zoom else {
        let area = Rect::new(x0, body.y0, x1, foot.lane_y);
        sheet::stack(&mut scene, theme, &panels, area, (&time, &ticks, clock), END_LABEL_PX);
        foot.draw(&mut scene, theme, &time, &ticks, true);
        return scene;
    };
    let chrome = panels.len() as f64 * (TITLE_PX + BELOW_PX);
    let per_share = (foot.lane_y - body.y0 - chrome).max(10.0) / 2.75;
    let mut y = body.y0;
    for (row, (panel, share)) in panels.iter().enumerate() {
        y += TITLE_PX;
        let plot = Rect::new(x0, y, x1, y + share * per_share);
        let frame = Frame {
            plot,
            time,
            clock: data.timeline.clock,
            ticks: &ticks,
            limits: panel.limits(),
            axis_figures: true,
            end_label_px: END_LABEL_PX,
            names: true,
            window_s: Some(closeup.window_s),
        };
        panel.draw(&mut scene, theme, &frame);
        let enlarged = Rect::new(scale.x0, plot.y0, scale.x1, plot.y1);
        scene.rect(enlarged, theme.window);
        let frame = Frame {
            plot: enlarged,
            time: *scale,
            ticks: zoom_ticks,
            axis_figures: false,
            end_label_px: 0.0,
            names: false,
            window_s: None,
            ..frame
        };
        panel.draw(&mut scene, theme, &frame);
        if row == 0 {
            zoom_title(&mut scene, theme, enlarged, &closeup.title);
        }
        y = plot.y1 + BELOW_PX;
    }
    foot.draw(&mut scene, theme, &time, &ticks, true);
    foot.draw(&mut scene, theme, scale, zoom_ticks, false);
    scene
}

fn zoom_title(scene: &mut Scene, theme: &Theme, plot: Rect, words: &str) {
    scene.text(Text {
        at: (plot.x0, plot.y0 - 6.0),
        align: Align::Left,
        text: format!("{words}, enlarged"),
        size_px: theme.sizes.panel,
        face: Face::Bold,
        ink: theme.ink,
    });
}

pub(super) fn volts_panel<'a>(data: &'a LadderData, theme: &Theme) -> Panel<'a> {
    let mut panel = Panel::new("Volts, V", "V", Range::Bulk);
    panel.least_span = 0.5;
    let roles = &theme.roles;
    for (name, value, stroke) in [
        ("alternator set-point", &data.set_point_v, roles.set_point),
        ("HB house posts", &data.house_posts_v, roles.house),
        ("OUT unit output", &data.output_v, roles.output),
        ("SB starter posts", &data.starter_posts_v, roles.starter),
        ("IN unit input", &data.input_v, roles.input),
    ] {
        panel.series.push(line(data, name.to_owned(), value, stroke));
    }
    for (what, trigger, stroke) in
        [("turn-on", data.turn_on, roles.turn_on), ("turn-off", data.turn_off, roles.turn_off)]
    {
        if let Some(t) = trigger {
            let held = if t.hold_s > 0.0 {
                let decimals = usize::from(t.hold_s.fract() != 0.0);
                format!(", held {} s", figure(t.hold_s, decimals))
            } else {
                String::new()
            };
            panel.thresholds.push(Threshold {
                value: t.volts_v,
                name: format!("{what} {} V{held}", figure(t.volts_v, 2)),
                stroke,
            });
        }
    }
    if let Some(off) = data.turn_off {
        panel.gaps.push(Gap {
            series: panel.series.len() - 1,
            level: off.volts_v,
            windows_s: data.timeline.on_windows_s(),
            above: theme.gap,
            below: theme.shortfall,
        });
    }
    panel.markers.extend(gap_marker(data));
    panel
}

/// The smallest gap to turn-off, or how near a unit that never came on was to doing so.
fn gap_marker(data: &LadderData) -> Option<Marker> {
    let span_s = data.timeline.end_s - data.timeline.start_s;
    let moment = |t_s: f64| data.timeline.clock.moment(t_s, span_s);
    if data.timeline.on_windows_s().is_empty() && data.smallest_gap.is_none() {
        let on = data.turn_on?;
        let running = data.timeline.running_windows_s();
        let (time_s, volts) = extreme(data, &running, |a, b| a > b)?;
        let short_v = on.volts_v - volts;
        let text = if short_v > 0.0 {
            format!("nearest to turn-on:\n{} V short at {}", figure(short_v, 2), moment(time_s))
        } else {
            format!("over turn-on at {},\nnot held {} s", moment(time_s), figure(on.hold_s, 0))
        };
        return Some(Marker { time_s, value: volts, foot: Some(on.volts_v), text });
    }
    let off = data.turn_off?;
    let gap = data.smallest_gap.or_else(|| {
        let windows = data.timeline.on_and_running_windows_s();
        let (time_s, volts) = extreme(data, &windows, |a, b| a < b)?;
        Some(SmallestGap { time_s, gap_v: volts - off.volts_v })
    })?;
    let when = moment(gap.time_s);
    // Millivolts matter when the input all but touches the line.
    let size = if gap.gap_v.abs() < 0.0995 {
        format!("{} mV", figure(gap.gap_v.abs() * 1e3, 0))
    } else {
        format!("{} V", figure(gap.gap_v.abs(), 2))
    };
    let text = if gap.gap_v >= 0.0 {
        format!("smallest gap {size}\nat {when}")
    } else {
        format!("{size} below turn-off\nat {when}")
    };
    Some(Marker { time_s: gap.time_s, value: off.volts_v + gap.gap_v, foot: Some(off.volts_v), text })
}

/// The sample of the input voltage that wins `better` inside the windows.
fn extreme(data: &LadderData, windows_s: &[(f64, f64)], better: fn(f64, f64) -> bool) -> Option<(f64, f64)> {
    let mut best: Option<(f64, f64)> = None;
    let n = data.time_s.len().min(data.input_v.len());
    for &(from_s, to_s) in windows_s {
        let first = data.time_s[..n].partition_point(|&t| t <= from_s);
        for i in first..n {
            let (t, v) = (data.time_s[i], data.input_v[i]);
            // Strictly inside: at the edge itself a sample may already belong to the next state.
            if t >= to_s {
                break;
            }
            if v.is_finite() && best.is_none_or(|b| better(v, b.1)) {
                best = Some((t, v));
            }
        }
    }
    best
}

pub(super) fn amps_panel<'a>(data: &'a LadderData, theme: &Theme) -> Panel<'a> {
    let mut panel = Panel::new("Amps, A (into a battery is positive)", "A", Range::Bulk);
    panel.least_span = 10.0;
    let roles = &theme.roles;
    for (who, value, stroke) in [
        ("alternator", &data.alternator_a, roles.alternator),
        ("house battery", &data.house_a, roles.house),
        ("output", &data.output_a, roles.output),
        ("starter battery", &data.starter_a, roles.starter),
        ("input", &data.input_a, roles.input),
    ] {
        let name = match peak(value, 0) {
            // A current that only flows the other way is told by its strongest moment.
            negative if negative.starts_with('−') => format!("{who}, min {} A", trough(value)),
            most => format!("{who}, max {most} A"),
        };
        panel.series.push(line(data, name, value, stroke));
    }
    panel
}

/// The lowest finite value in words.
fn trough(values: &[f64]) -> String {
    let lowest = values.iter().copied().filter(|v| v.is_finite()).reduce(f64::min);
    lowest.map_or_else(|| "–".to_owned(), |v| figure(v, 0))
}

fn line<'a>(data: &'a LadderData, name: String, value: &'a [f64], stroke: Stroke) -> Series<'a> {
    Series { name, time_s: &data.time_s, value, joining: Joining::Straight, stroke }
}
