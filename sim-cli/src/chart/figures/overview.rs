//! Overview of a run: state of charge, heat and the event lane on one time axis.

use super::super::decimate::Joining;
use super::super::panel::{Marker, Panel, Series, Threshold};
use super::super::scale::{Range, figure};
use super::super::scene::Scene;
use super::super::size::{FigureSize, Rect};
use super::super::theme::{Dash, Stroke, Theme};
use super::super::time_axis::TimeScale;
use super::sheet::{self, Foot, Heading, LEFT_PX};
use super::temperatures::{HeatLine, Temperature, add_limits};
use super::timeline::Timeline;

/// Everything the overview shows. Series share `time_s`; a value that is not finite leaves a gap.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OverviewData {
    /// Title, answer and footer.
    pub heading: Heading,
    /// States and events.
    pub timeline: Timeline,
    /// Sample times, rising.
    pub time_s: Vec<f64>,
    /// House battery state of charge, percent.
    pub house_soc_pct: Vec<f64>,
    /// Starter battery state of charge, percent.
    pub starter_soc_pct: Vec<f64>,
    /// Heat in the unit, W.
    pub unit_loss_w: Vec<f64>,
    /// Heat in the input cable, W.
    pub input_cable_loss_w: Vec<f64>,
    /// Heat in the output cable, W.
    pub output_cable_loss_w: Vec<f64>,
    /// The hottest parts, the unit's case first; they have a panel of their own.
    pub hot: Vec<Temperature>,
    /// Limits of all temperatures, the lowest first.
    pub limits: Vec<HeatLine>,
    /// Which of the hottest parts comes nearest to a limit of its own, and that limit: all that a small sheet shows of heat.
    pub nearest: Option<(usize, HeatLine)>,
    /// What must not be missed: when, and in words.
    pub marks: Vec<(f64, String)>,
}

const END_LABEL_PX: f64 = 158.0;

/// Builds the overview.
#[must_use]
pub fn overview(data: &OverviewData, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(
        size,
        theme,
        &data.heading,
        "State of charge, heat and temperature over the run, with what unit and engine do.",
    );
    let (x0, x1) = (body.x0 + LEFT_PX - 16.0, body.x1 - END_LABEL_PX);
    let time = TimeScale::new(data.timeline.start_s, data.timeline.end_s, x0, x1);
    let ticks = time.ticks(&data.timeline.clock, theme.sizes.axis);
    let lane = data.timeline.lane(theme);
    let foot = Foot::measure(theme, body, &lane, &data.timeline.clock, &[time]);

    let mut panels = vec![(soc_panel(data, theme), 1.45)];
    match &data.nearest {
        Some((part, limit)) if theme.small => {
            panels = vec![(soc_panel(data, theme), 1.0), (nearest_panel(data, *part, limit, theme), 1.0)];
        }
        _ => panels.push((heat_panel(data, theme), 0.85)),
    }
    if !data.hot.is_empty() && !theme.small {
        panels.push((hot_panel(data, theme), 0.85));
    }
    let area = Rect::new(x0, body.y0, x1, foot.lane_y);
    sheet::stack(&mut scene, theme, &panels, area, (&time, &ticks, &data.timeline.clock), END_LABEL_PX);
    foot.draw(&mut scene, theme, &time, &ticks, true);
    scene
}

fn soc_panel<'a>(data: &'a OverviewData, theme: &Theme) -> Panel<'a> {
    let mut panel = Panel::new("State of charge, %", "%", Range::Fixed(0.0, 100.0));
    let starter = Stroke { width_px: 1.7, ..theme.roles.starter };
    let house = Stroke { width_px: 2.3, dash: Dash::Solid, ..theme.roles.house };
    let name = |who: &str, pct: &[f64]| {
        let finite = || pct.iter().filter(|v| v.is_finite());
        match (finite().next(), finite().next_back()) {
            (Some(&a), Some(&b)) => format!("{who} {} → {} %", figure(a, 1), figure(b, 1)),
            _ => who.to_owned(),
        }
    };
    let starter_name = name("starter", &data.starter_soc_pct);
    let house_name = name("house", &data.house_soc_pct);
    panel.series.push(line(data, starter_name, &data.starter_soc_pct, starter));
    panel.series.push(line(data, house_name, &data.house_soc_pct, house));
    for (time_s, text) in &data.marks {
        let at = data.time_s.partition_point(|t| t < time_s);
        let value = data.house_soc_pct.get(at).or(data.house_soc_pct.last()).copied().unwrap_or(f64::NAN);
        panel.markers.push(Marker { time_s: *time_s, value, foot: None, text: text.clone() });
    }
    panel
}

fn hot_panel<'a>(data: &'a OverviewData, theme: &Theme) -> Panel<'a> {
    let mut panel = Panel::new("Temperature, °C", "°C", Range::Bulk);
    panel.least_span = 5.0;
    let looks = [theme.roles.temperature, theme.roles.starter];
    for (part, stroke) in data.hot.iter().zip(looks.into_iter().cycle()) {
        let name = format!("{}, max {} °C", part.name, peak(&part.temp_c, 0));
        panel.series.push(line(data, name, &part.temp_c, stroke));
    }
    add_limits(&mut panel, &data.limits, theme);
    panel
}

/// One part and its limit, however far the limit lies.
fn nearest_panel<'a>(data: &'a OverviewData, part: usize, limit: &HeatLine, theme: &Theme) -> Panel<'a> {
    let mut panel = Panel::new("Temperature, °C", "°C", Range::Bulk);
    panel.least_span = 5.0;
    let part = &data.hot[part];
    let name = format!("{}, max {} °C", part.name, peak(&part.temp_c, 0));
    panel.series.push(line(data, name, &part.temp_c, theme.roles.temperature));
    let assumed = if limit.assumed { ", assumed" } else { "" };
    let name = format!("limit {} °C{assumed}", figure(limit.temp_c, 0));
    panel.thresholds.push(Threshold { value: limit.temp_c, name, stroke: theme.roles.turn_off });
    panel
}

fn heat_panel<'a>(data: &'a OverviewData, theme: &Theme) -> Panel<'a> {
    let mut panel = Panel::new("Heat given off, W", "W", Range::FromZero);
    panel.least_span = 5.0;
    let roles = &theme.roles;
    for (who, w, stroke) in [
        ("unit", &data.unit_loss_w, roles.unit),
        ("cable in", &data.input_cable_loss_w, Stroke { dash: Dash::Short, ..roles.input }),
        ("cable out", &data.output_cable_loss_w, roles.output),
    ] {
        let name = format!("{who}, max {} W", peak(w, 1));
        panel.series.push(line(data, name, w, stroke));
    }
    panel
}

fn line<'a>(data: &'a OverviewData, name: String, value: &'a [f64], stroke: Stroke) -> Series<'a> {
    Series { name, time_s: &data.time_s, value, joining: Joining::Straight, stroke }
}

/// The highest finite value in words, or a dash.
pub(super) fn peak(values: &[f64], decimals: usize) -> String {
    let highest = values.iter().copied().filter(|v| v.is_finite()).reduce(f64::max);
    highest.map_or_else(|| "–".to_owned(), |v| figure(v, decimals))
}
