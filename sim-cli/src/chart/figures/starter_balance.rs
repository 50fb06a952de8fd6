//! The starter battery's account: what came in and what went out, by cause, added up over the run.

use super::super::decimate::Joining;
use super::super::panel::{Panel, Series};
use super::super::scale::{Range, figure};
use super::super::scene::Scene;
use super::super::size::{FigureSize, Rect};
use super::super::theme::{Dash, Stroke, Theme};
use super::super::time_axis::TimeScale;
use super::sheet::{self, Foot, Heading, LEFT_PX};
use super::timeline::Timeline;

/// Everything the picture shows. Series share `time_s` and are sums since the start, Ah.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StarterBalance {
    /// Title, answer and footer.
    pub heading: Heading,
    /// States and events.
    pub timeline: Timeline,
    /// Sample times, rising.
    pub time_s: Vec<f64>,
    /// Into the battery, from the alternator.
    pub alternator_ah: Vec<f64>,
    /// Out of it, for cranking.
    pub crank_ah: Vec<f64>,
    /// Out of it, to the vehicle's loads with the engine stopped.
    pub parked_ah: Vec<f64>,
    /// Out of it, to the vehicle's loads with the engine running.
    pub driving_ah: Vec<f64>,
    /// Out of it, through the unit.
    pub unit_ah: Vec<f64>,
    /// Came in and was not stored: charge efficiency, and a full battery.
    pub lost_ah: Vec<f64>,
}

impl StarterBalance {
    /// In minus out minus lost, at each sample: the change of what is stored, Ah.
    #[must_use]
    pub fn net_ah(&self) -> Vec<f64> {
        (0..self.time_s.len())
            .map(|i| {
                let out = self.crank_ah[i] + self.parked_ah[i] + self.driving_ah[i] + self.unit_ah[i];
                self.alternator_ah[i] - out - self.lost_ah[i]
            })
            .collect()
    }
}

const END_LABEL_PX: f64 = 226.0;

/// Builds the picture.
#[must_use]
pub fn starter_balance(data: &StarterBalance, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(
        size,
        theme,
        &data.heading,
        "Charge into the starter battery and out of it, summed over the run.",
    );
    let end_label_px = END_LABEL_PX.min(0.48 * body.width());
    let (x0, x1) = (body.x0 + LEFT_PX - 16.0, body.x1 - end_label_px);
    let time = TimeScale::new(data.timeline.start_s, data.timeline.end_s, x0, x1);
    let clock = &data.timeline.clock;
    let ticks = time.ticks(clock, theme.sizes.axis);
    let lane = data.timeline.lane(theme);
    let foot = Foot::measure(theme, body, &lane, clock, &[time]);
    let net_ah = data.net_ah();
    let mut balance = Panel::new("Into it, and what stays, Ah since the start", "Ah", Range::FromZero);
    balance.least_span = 0.2;
    balance.series.push(line(data, "from the alternator", &data.alternator_ah, '+', theme.roles.output));
    let net = Stroke { width_px: 2.4, dash: Dash::Solid, ..theme.roles.starter };
    let not_stored = Stroke::dashed(theme.ink_soft, 1.2, Dash::Dot);
    balance.series.push(line(data, "not stored (full, or lost)", &data.lost_ah, '−', not_stored));
    balance.series.push(line(data, "stored, net", &net_ah, '±', net));
    let mut out = Panel::new("Out of it, Ah since the start", "Ah", Range::FromZero);
    out.least_span = 0.1;
    let roles = &theme.roles;
    for (name, values, stroke) in [
        ("cranking", &data.crank_ah, roles.temperature),
        ("vehicle, parked", &data.parked_ah, roles.house),
        ("vehicle, driving", &data.driving_ah, roles.alternator),
        ("through the unit", &data.unit_ah, roles.input),
    ] {
        out.series.push(line(data, name, values, '−', stroke));
    }
    let area = Rect::new(x0, body.y0, x1, foot.lane_y);
    let panels = [(balance, 1.1), (out, 1.0)];
    sheet::stack(&mut scene, theme, &panels, area, (&time, &ticks, clock), end_label_px);
    foot.draw(&mut scene, theme, &time, &ticks, true);
    scene
}

fn line<'a>(
    data: &'a StarterBalance,
    name: &str,
    value: &'a [f64],
    sign: char,
    stroke: Stroke,
) -> Series<'a> {
    let last = value.last().copied().unwrap_or(0.0);
    let total = match sign {
        '±' => format!("{}{}", if last > 0.0 { "+" } else { "" }, figure(last, 2)),
        _ if last.abs() < 5e-4 => "0".to_owned(),
        sign => format!("{sign}{}", figure(last, if last.abs() < 0.1 { 3 } else { 2 })),
    };
    Series {
        name: format!("{name} {total} Ah"),
        time_s: &data.time_s,
        value,
        joining: Joining::Straight,
        stroke,
    }
}
