//! Why the unit dropped out, in one sentence with its volts, amps and milliohms.

use super::Told;
use sim_core::network::{Limit, solve};
use sim_core::record::trace::settled_bias;
use sim_core::record::{Event, EventKind};

/// The sentence for a drop-out that the input voltage caused, from the moment before it.
pub fn drop_out(told: &Told, event: &Event) -> String {
    let link = told.model.link();
    let rule = &link.start_stop;
    let net = &event.before;
    let drop_v = net.sb_v - net.in_v;
    let run_ohm = loaded_run_ohm(told, event);
    format!(
        "its input stood at {:.2} V, under turn-off ({:.2} V) for {}: {:.1} A through the {:.1} mΩ of the input run \
         leaves {:.2} V of the {:.2} V at the starter battery",
        net.in_v,
        rule.turn_off_v,
        crate::clock::duration(rule.turn_off_delay_s),
        net.input_a,
        run_ohm * 1e3,
        net.sb_v - drop_v,
        net.sb_v,
    )
}

/// Fall of the set-point that counts as a cause, V.
const FELL_V: f64 = 0.2;
/// How long before the turn-off delay began it may have fallen, s: a set-point slews for seconds.
const LOOK_BACK_S: f64 = 60.0;

/// What changed just before the drop-out: the alternator's set-point, where that is what changed.
pub fn changed_before(told: &Told, event: &Event) -> Option<String> {
    let rule = &told.model.link().start_stop;
    let now = told.run.trace.at(told.model, told.profile, event.t.plus_ns(-1))?.set_point_v;
    let then_t = event.t.plus_s(-(rule.turn_off_delay_s + LOOK_BACK_S)).max(told.run.span.0);
    let then = told.run.trace.at(told.model, told.profile, then_t)?.set_point_v;
    // A fall of the set-point and not of the run's own making: the same run held at the set-point before.
    (then - now > FELL_V)
        .then(|| format!("the alternator's set-point had just gone from {then:.2} to {now:.2} V"))
}

/// The input run as it was just before an event, Ω: warm, and with whatever its joints had on top.
pub fn loaded_run_ohm(told: &Told, event: &Event) -> f64 {
    let net = &event.before;
    if net.input_a > 1.0 {
        (net.sb_v - net.in_v) / net.input_a
    } else {
        told.model.link().input_run.resistance_ohm()
    }
}

/// Why it came back: the drop went away with the current.
pub fn back_again(told: &Told, event: &Event) -> Option<String> {
    let rule = &told.model.link().start_stop;
    (event.after.in_v >= rule.turn_on_v).then(|| {
        format!(
            "once it is off the drop is gone and its input stands at {:.2} V, over turn-on ({:.2} V), so {} later it \
             comes on again",
            event.after.in_v,
            rule.turn_on_v,
            crate::clock::duration(rule.turn_on_delay_s)
        )
    })
}

/// The run at which the unit at its full limit would just stand at turn-off, source and house as they were then, Ω: found
/// on the network itself, so that the source's own droop and kink count. `None` where no run is short enough.
pub fn critical_run_ohm(told: &Told, event: &Event) -> Option<f64> {
    let off_v = told.model.link().start_stop.turn_off_v;
    let sample = told.run.trace.at(told.model, told.profile, event.t.plus_ns(-1))?;
    let mut bias = settled_bias(told.model, told.profile, &sample);
    bias.unit.on = true;
    bias.unit.output_cap_a = told.model.link().converter.output_limit_a;
    let mut stands = |ohm: f64| {
        bias.starter.run_ohm = ohm;
        let (net, regime) = solve(&bias);
        let collapsed = matches!(regime.limit, Limit::Source | Limit::SourceKink | Limit::Starved);
        net.in_v >= off_v && !collapsed
    };
    let (mut low, mut high) = (0.0, 5.0);
    if !stands(low) || stands(high) {
        return None;
    }
    for _ in 0..60 {
        let mid = 0.5 * (low + high);
        if stands(mid) { low = mid } else { high = mid }
    }
    Some(low)
}

/// The last drop-out with the engine running, and the last after key-off.
pub fn last_drop_outs(told: &Told) -> (Option<Event>, Option<Event>) {
    let mut driving = false;
    let mut found = (None, None);
    for event in &told.run.events {
        match event.kind {
            EventKind::KeyOn => driving = true,
            EventKind::KeyOff => driving = false,
            EventKind::UnitOff if driving => found.0 = Some(*event),
            EventKind::UnitOff => found.1 = Some(*event),
            _ => {}
        }
    }
    found
}
