//! When the unit comes on and drops out: thresholds on the voltage at its own input terminals, each with a delay.
//!
//! The unit sees the drop that it causes itself. A timer starts when its condition becomes true, by a jump too, and any
//! dip resets it. Turn-off is watched during the soft start.

use super::{Mode, Sight, Stage, Timer, Transition};
use crate::model::Model;
use crate::network::Net;
use crate::record::event::{Cause, EventKind};

/// Fires an expired turn-off or turn-on timer; also ends the soft start.
pub fn fire(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    let rule = &sight.link().start_stop;
    let seen =
        |threshold_v: f64, held_s: f64| Cause::InputHeld { input_v: sight.net.in_v, threshold_v, held_s };
    if mode.timers.take_expired(Timer::TurnOff, sight.t) {
        turn_off(mode);
        let cause = seen(rule.turn_off_v, rule.turn_off_delay_s);
        return Some(Transition { kind: EventKind::UnitOff, cause });
    }
    if mode.timers.take_expired(Timer::TurnOn, sight.t) {
        mode.on = true;
        mode.on_since = sight.t;
        mode.stage = Stage::Bulk;
        mode.voltage_calls = false;
        mode.stage_calls = false;
        let ramp_s = sight.link().converter.ramp_s;
        if ramp_s > 0.0 {
            mode.timers.start(Timer::Ramp, sight.t, ramp_s);
        }
        let cause = seen(rule.turn_on_v, rule.turn_on_delay_s);
        return Some(Transition { kind: EventKind::UnitOn, cause });
    }
    if mode.timers.take_expired(Timer::Ramp, sight.t) {
        return Some(Transition { kind: EventKind::RampEnd, cause: Cause::Timer });
    }
    None
}

/// A turn-off forgets stage and timers.
fn turn_off(mode: &mut Mode) {
    mode.on = false;
    mode.stage = Stage::Bulk;
    mode.voltage_calls = false;
    mode.stage_calls = false;
    for timer in
        [Timer::TurnOff, Timer::TurnOn, Timer::Tail, Timer::AbsorptionCap, Timer::Recharge, Timer::Ramp]
    {
        mode.timers.stop(timer);
    }
}

/// Reads the input voltage against the threshold that counts now.
pub fn read(mode: &mut Mode, sight: &Sight) {
    let rule = &sight.link().start_stop;
    let (calls, timer, delay_s) = if mode.on {
        (sight.net.in_v < rule.turn_off_v, Timer::TurnOff, rule.turn_off_delay_s)
    } else {
        (sight.net.in_v >= rule.turn_on_v, Timer::TurnOn, rule.turn_on_delay_s)
    };
    if calls && !mode.voltage_calls {
        mode.timers.start(timer, sight.t, delay_s);
    } else if !calls {
        mode.timers.stop(timer);
    }
    mode.voltage_calls = calls;
}

/// Volts from the flip of the condition stored in the mode.
pub fn margin(mode: &Mode, model: &Model, net: &Net) -> f64 {
    let rule = &model.link().start_stop;
    let above = if mode.on { rule.turn_off_v - net.in_v } else { net.in_v - rule.turn_on_v };
    if mode.voltage_calls { above } else { -above }
}
