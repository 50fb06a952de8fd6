//! Fills the load-line picture: the source line as it stood at the most telling moment, the unit on at its limit.

use super::super::Told;
use super::moment::{Moment, Why, bias_on, if_on};
use super::view::heading;
use crate::chart::figures::load_line::{LoadLineData, PowerCurve};
use crate::clock::day_and_time;
use sim_core::network::Bias;
use sim_core::network::starter_bus::StarterBus;

/// Points of the source lines.
const POINTS: u32 = 240;

/// Everything the picture shows.
pub fn fill(told: &Told) -> LoadLineData {
    let what = "Where it can run";
    let Some(moment) = Moment::of(told) else {
        let heading = heading(told, what, "No trace was kept of this run.".to_owned());
        return LoadLineData { heading, ..LoadLineData::default() };
    };
    let s = &moment.sample;
    let turns = s.mode.alternator_turns();
    let bias = bias_on(told, s, turns);
    let (link, cap_a) = (told.model.link(), bias.unit.output_cap_a);
    let net = if s.mode.on { s.net } else { if_on(told, s) };
    let peak = bias.starter.greatest_power(f64::INFINITY, 0.0);
    let wanted_a = bias.unit.input_cap_a.max(net.input_a) * 1.3;
    let last_a =
        if input_w(&bias, cap_a) > peak.power_w { wanted_a.max(1.3 * peak.at.i_a) } else { wanted_a };
    let high_v = volts(&bias.starter, 0.0) + 0.25;
    // A long cable's line falls off the picture long before that: the lines then end at its lower right corner.
    let last_a = ((last_a / 10.0).ceil() * 10.0).min(current_at(&bias.starter, 0.34 * high_v));
    let off_v = link.start_stop.turn_off_v;
    let parked_bus = bias_on(told, s, false).starter;
    let lowest_v = volts(&bias.starter, last_a).min(volts(&parked_bus, last_a)) - 0.2;
    let low_v = (off_v - 0.9).min(net.in_v - 0.7).min(lowest_v).max(0.33 * high_v);
    let curves: Vec<PowerCurve> =
        [0.25, 0.5, 0.75, 1.0].iter().map(|share| curve(&bias, share * cap_a, last_a)).collect();
    let current_a: Vec<f64> = (0..=POINTS).map(|k| last_a * f64::from(k) / f64::from(POINTS)).collect();
    let line = |bus: &StarterBus| current_a.iter().map(|&i| volts(bus, i)).collect::<Vec<f64>>();
    let words = if s.mode.on {
        format!("here at this moment:\n{:.1} A in, {:.1} A out, {:.2} V", net.input_a, net.output_a, net.in_v)
    } else {
        format!("here if it were on:\n{:.1} A in, {:.1} A out, {:.2} V", net.input_a, net.output_a, net.in_v)
    };
    LoadLineData {
        heading: heading(told, what, answer(told, &moment, &curves)),
        source_v: line(&bias.starter),
        battery_v: if turns { line(&parked_bus) } else { Vec::new() },
        current_a,
        kink: kink(&bias.starter),
        curves,
        now: Some((net.input_a, net.in_v, words)),
        input_limit_a: bias.unit.input_cap_a,
        turn_off_v: off_v,
        span_v: (low_v, high_v),
    }
}

/// Volts at the unit's input with `i_a` drawn.
pub fn volts(bus: &StarterBus, i_a: f64) -> f64 {
    bus.line(bus.states_drawing(i_a)).v(i_a) - bus.cable_ohm * i_a
}

/// Input current at which the unit's input has fallen to `level_v`, A.
fn current_at(bus: &StarterBus, level_v: f64) -> f64 {
    let (mut low, mut high) = (1.0, 1e5);
    for _ in 0..60 {
        let mid = f64::midpoint(low, high);
        if volts(bus, mid) > level_v { low = mid } else { high = mid }
    }
    low
}

/// Input power that an output current needs, W.
fn input_w(bias: &Bias, output_a: f64) -> f64 {
    let house = &bias.house;
    let v = house.curve(house.states_bringing(output_a)).v(output_a) + house.cable_ohm * output_a;
    bias.unit.loss.input_w(output_a * v)
}

fn curve(bias: &Bias, output_a: f64, last_a: f64) -> PowerCurve {
    let bus = &bias.starter;
    let input_w = input_w(bias, output_a);
    let crossing = bus.smallest_root(input_w, f64::INFINITY).map(|at| (at.i_a, volts(bus, at.i_a)));
    // Past the first crossing the source line lies above the curve until the second.
    let over = |i: f64| i * volts(bus, i) - input_w;
    let unused = crossing.and_then(|(first_a, _)| {
        let (mut low, mut high) = ((first_a * 1.01).min(last_a), last_a);
        if over(high) >= 0.0 || over(low) <= 0.0 {
            return None;
        }
        for _ in 0..60 {
            let mid = f64::midpoint(low, high);
            if over(mid) > 0.0 { low = mid } else { high = mid }
        }
        Some((low, volts(bus, low)))
    });
    PowerCurve { output_a, input_w, crossing, unused }
}

/// Input current and volts at which the alternator reaches its greatest current.
fn kink(bus: &StarterBus) -> Option<(f64, f64)> {
    let source = bus.sources.iter().find(|s| s.present())?;
    let posts_v = source.full_below_v();
    let line = bus.line(bus.states_at(posts_v + 1e-9));
    let i_a = line.a - line.g * posts_v;
    (i_a > 0.0).then_some((i_a, posts_v - bus.cable_ohm * i_a))
}

fn answer(told: &Told, moment: &Moment, curves: &[PowerCurve]) -> String {
    let at = day_and_time(told.profile, moment.sample.t.as_s());
    let off_v = told.model.link().start_stop.turn_off_v;
    let when = match moment.why {
        Why::SmallestMargin => format!("At {at}, the smallest margin"),
        Why::HeldOn => format!("At {at}, the lowest input"),
        Why::NearestTurnOn => format!("At {at}, nearest to turn-on and with the unit taken as on"),
        Why::Parked => format!("Engine stopped, at {at}, with the unit taken as on"),
    };
    let most = curves.iter().rev().find(|c| c.crossing.is_some_and(|x| x.1 >= off_v));
    let full = curves.last();
    match (full.and_then(|c| c.crossing), most) {
        (None, Some(most)) => format!(
            "{when}: the lines do not cross for the full output, so it cannot run at that; up to {} A out of it stays \
             above turn-off.",
            most.output_a
        ),
        (None, None) => {
            format!("{when}: the lines do not cross above turn-off for any output shown: it cannot run.")
        }
        (Some(x), _) if x.1 >= off_v => format!(
            "{when}: the source carries the full output at {:.1} A in and {:.2} V, {:.2} V above turn-off.",
            x.0,
            x.1,
            x.1 - off_v
        ),
        (Some(x), Some(most)) => format!(
            "{when}: at full output the input falls to {:.2} V, {:.2} V under turn-off; {} A out would stay above it.",
            x.1,
            off_v - x.1,
            most.output_a
        ),
        (Some(x), None) => format!(
            "{when}: every output shown takes the input under turn-off; full output needs {:.1} A at {:.2} V.",
            x.0, x.1
        ),
    }
}
