//! When the unit comes on and drops out: thresholds on the voltage at its own input terminals, each with a delay, and a
//! run signal where there is one.
//!
//! The unit sees the drop that it causes itself. A timer starts when its condition becomes true, by a jump too, and any
//! dip resets it. Turn-off is watched during the soft start.

use super::{Mode, Sight, Stage, Timer, Transition};
use crate::model::{Model, SignalUse, StartStop};
use crate::network::Net;
use crate::run_data::event::{Cause, EventKind};
use crate::state::{SEEN_V, Vector};

/// Fires an expired turn-off or turn-on timer; also ends the soft start and the shortest time off.
pub fn fire(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    let rule = &sight.link().start_stop;
    let (on_v, off_v) = thresholds(rule, mode.signal);
    let input_v = seen_v(sight.model, sight.y, sight.net);
    let seen = |threshold_v: f64, held_s: f64| Cause::InputHeld { input_v, threshold_v, held_s };
    if mode.timers.take_expired(Timer::TurnOff, sight.t) {
        turn_off(mode, sight);
        return Some(Transition { kind: EventKind::UnitOff, cause: seen(off_v, rule.turn_off_delay_s) });
    }
    if mode.timers.take_expired(Timer::TurnOn, sight.t) {
        turn_on(mode, sight);
        let by_voltage = input_v >= on_v;
        let cause = if by_voltage { seen(on_v, rule.turn_on_delay_s) } else { Cause::Signal { live: true } };
        return Some(Transition { kind: EventKind::UnitOn, cause });
    }
    if mode.timers.take_expired(Timer::Ramp, sight.t) {
        return Some(Transition { kind: EventKind::RampEnd, cause: Cause::Timer });
    }
    mode.timers.take_expired(Timer::LeastOff, sight.t);
    None
}

fn turn_on(mode: &mut Mode, sight: &Sight) {
    let link = sight.link();
    mode.on = true;
    mode.on_since = sight.t;
    mode.stage = if link.stages.resume { mode.left } else { Stage::Bulk };
    mode.voltage_calls = false;
    mode.stage_calls = false;
    if mode.stage == Stage::Absorption {
        super::stages::start_cap(mode, sight);
    }
    if link.converter.ramp_s > 0.0 {
        mode.timers.start(Timer::Ramp, sight.t, link.converter.ramp_s);
    }
}

/// A turn-off forgets stage and timers, unless the unit resumes or its absorption cap counts over restarts.
pub(super) fn turn_off(mode: &mut Mode, sight: &Sight) {
    let link = sight.link();
    if mode.stage == Stage::Absorption {
        let left_s = mode.timers.left_s(Timer::AbsorptionCap, sight.t);
        mode.absorbed_s = link.stages.absorption_cap_s - left_s;
    }
    mode.on = false;
    mode.left = mode.stage;
    mode.stage = Stage::Bulk;
    mode.voltage_calls = false;
    mode.stage_calls = false;
    for timer in
        [Timer::TurnOff, Timer::TurnOn, Timer::Tail, Timer::AbsorptionCap, Timer::Recharge, Timer::Ramp]
    {
        mode.timers.stop(timer);
    }
    if link.start_stop.least_off_s > 0.0 {
        mode.timers.start(Timer::LeastOff, sight.t, link.start_stop.least_off_s);
    }
}

/// The thresholds that count with the run signal as it is: turn-on and turn-off, V.
pub(crate) fn thresholds(rule: &StartStop, signal: bool) -> (f64, f64) {
    match rule.signal {
        SignalUse::SecondPair { turn_on_v, turn_off_v } if signal => (turn_on_v, turn_off_v),
        _ => (rule.turn_on_v, rule.turn_off_v),
    }
}

/// The voltage that the unit sees: at its input, with compensation, behind its filter.
pub fn seen_v(model: &Model, y: &Vector, net: &Net) -> f64 {
    let rule = &model.link().start_stop;
    if rule.filter_s > 0.0 { y[SEEN_V] } else { net.in_v + rule.compensation_ohm * net.input_a }
}

/// Whether the unit's input cable is open: nothing else leaves it at exactly nothing. No run signal holds a unit on then, or
/// brings it on, and no volts there say how near a threshold is.
pub fn is_dead(net: &Net) -> bool {
    net.in_v == 0.0
}

/// How far what the unit sees stands above the turn-off that counts now, V; `None` where no voltage stops it.
pub fn above_turn_off_v(mode: &Mode, model: &Model, y: &Vector, net: &Net) -> Option<f64> {
    let rule = &model.link().start_stop;
    let held = rule.signal == SignalUse::Either && mode.signal && !is_dead(net);
    (mode.on && !held).then(|| seen_v(model, y, net) - thresholds(rule, mode.signal).1)
}

/// How far what a waiting unit sees stands above the turn-on that counts now, V; `None` where no voltage starts it.
pub fn above_turn_on_v(mode: &Mode, model: &Model, y: &Vector, net: &Net) -> Option<f64> {
    let rule = &model.link().start_stop;
    let deaf = rule.signal == SignalUse::Required && !mode.signal;
    (!mode.on && !mode.held_off() && !deaf).then(|| seen_v(model, y, net) - thresholds(rule, mode.signal).0)
}

/// Reads the run signal: where it is required, losing it stops the unit at once.
pub fn read_signal(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    if mode.signal == sight.piece.run_signal {
        return None;
    }
    mode.signal = sight.piece.run_signal;
    if sight.link().start_stop.signal == SignalUse::Ignored {
        return None;
    }
    // The thresholds may be others now: what was stored about them counts no more.
    mode.voltage_calls = false;
    mode.timers.stop(Timer::TurnOff);
    mode.timers.stop(Timer::TurnOn);
    if mode.on && !mode.signal && sight.link().start_stop.signal == SignalUse::Required {
        turn_off(mode, sight);
        return Some(Transition { kind: EventKind::UnitOff, cause: Cause::Signal { live: false } });
    }
    None
}

/// Whether the voltage condition that counts now holds.
fn calls(mode: &Mode, rule: &StartStop, seen_v: f64, dead: bool) -> bool {
    let (on_v, off_v) = thresholds(rule, mode.signal);
    let live = mode.signal && !dead;
    match (mode.on, rule.signal) {
        (true, SignalUse::Either) => !live && seen_v < off_v,
        (true, _) => seen_v < off_v,
        (false, SignalUse::Required) => live && seen_v >= on_v,
        (false, SignalUse::Either) => live || seen_v >= on_v,
        (false, _) => seen_v >= on_v,
    }
}

/// Reads the input voltage against the threshold that counts now.
pub fn read(mode: &mut Mode, sight: &Sight) {
    let rule = &sight.link().start_stop;
    let mut calls = calls(mode, rule, seen_v(sight.model, sight.y, sight.net), is_dead(sight.net));
    let (timer, delay_s) = if mode.on {
        (Timer::TurnOff, rule.turn_off_delay_s)
    } else {
        calls &= !mode.held_off() && !mode.timers.runs(Timer::LeastOff);
        (Timer::TurnOn, rule.turn_on_delay_s)
    };
    if calls && !mode.voltage_calls {
        mode.timers.start(timer, sight.t, delay_s);
    } else if !calls {
        mode.timers.stop(timer);
    }
    mode.voltage_calls = calls;
}

/// Volts from the flip of the condition stored in the mode.
pub fn margin(mode: &Mode, model: &Model, y: &Vector, net: &Net) -> f64 {
    let rule = &model.link().start_stop;
    let (on_v, off_v) = thresholds(rule, mode.signal);
    let live = mode.signal && !is_dead(net);
    let never = match (mode.on, rule.signal) {
        (true, SignalUse::Either) => live,
        (true, _) => false,
        (false, SignalUse::Required) => !live,
        (false, SignalUse::Either) => live,
        (false, _) => false,
    };
    if never || (!mode.on && (mode.held_off() || mode.timers.runs(Timer::LeastOff))) {
        return f64::INFINITY;
    }
    let seen_v = seen_v(model, y, net);
    let above = if mode.on { off_v - seen_v } else { seen_v - on_v };
    if mode.voltage_calls { above } else { -above }
}
