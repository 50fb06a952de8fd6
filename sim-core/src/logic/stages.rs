//! Charge stages: bulk to absorption when the voltage limit becomes the binding one; absorption to float on the tail
//! current or at the cap; float back to bulk under the recharge voltage.

use super::{Mode, Sight, Stage, Timer, Transition};
use crate::model::Model;
use crate::network::{Limit, Net, Regime};
use crate::run_data::event::{Cause, EventKind};

/// Whether the target voltage rules the output: a weak source, derating or the soft start must not end a charge.
fn voltage_rules(regime: Regime) -> bool {
    matches!(regime.limit, Limit::Voltage | Limit::Idle)
}

/// Fires an expired stage timer.
pub fn fire(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    let stages = &sight.link().stages;
    let kind = |to| EventKind::Stage { to };
    if mode.timers.take_expired(Timer::Tail, sight.t) {
        enter(mode, Stage::Float);
        let cause = Cause::TailCurrent {
            output_a: sight.net.output_a,
            tail_a: stages.tail_a,
            held_s: stages.tail_hold_s,
        };
        return Some(Transition { kind: kind(Stage::Float), cause });
    }
    if mode.timers.take_expired(Timer::AbsorptionCap, sight.t) {
        enter(mode, Stage::Float);
        let cause = Cause::AbsorptionCap { cap_s: stages.absorption_cap_s };
        return Some(Transition { kind: kind(Stage::Float), cause });
    }
    if mode.timers.take_expired(Timer::Recharge, sight.t) {
        enter(mode, Stage::Bulk);
        let cause = Cause::OutputLow {
            output_v: sight.net.out_v,
            threshold_v: stages.recharge_v,
            held_s: stages.recharge_hold_s,
        };
        return Some(Transition { kind: kind(Stage::Bulk), cause });
    }
    None
}

fn enter(mode: &mut Mode, stage: Stage) {
    mode.stage = stage;
    if stage != Stage::Absorption {
        mode.absorbed_s = 0.0;
    }
    mode.stage_calls = false;
    for timer in [Timer::Tail, Timer::AbsorptionCap, Timer::Recharge] {
        mode.timers.stop(timer);
    }
}

/// Starts the absorption cap; where it counts over restarts, with what is left of it.
pub(super) fn start_cap(mode: &mut Mode, sight: &Sight) {
    let stages = &sight.link().stages;
    let spent_s = if stages.cap_cumulative { mode.absorbed_s } else { 0.0 };
    mode.timers.start(Timer::AbsorptionCap, sight.t, (stages.absorption_cap_s - spent_s).max(0.0));
}

/// Reads the stage's condition; enters absorption at once when the voltage limit binds in bulk.
pub fn read(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    if !mode.on || sight.link().stages.fixed_supply {
        return None;
    }
    let stages = &sight.link().stages;
    match mode.stage {
        Stage::Bulk => {
            if voltage_rules(sight.regime) {
                enter(mode, Stage::Absorption);
                start_cap(mode, sight);
                let cause = Cause::TargetReached { output_v: sight.net.out_v, target_v: stages.absorption_v };
                return Some(Transition { kind: EventKind::Stage { to: Stage::Absorption }, cause });
            }
        }
        Stage::Absorption => {
            let calls = voltage_rules(sight.regime) && sight.net.output_a < stages.tail_a;
            set(mode, sight, calls, Timer::Tail, stages.tail_hold_s);
        }
        Stage::Float => {
            let calls = sight.net.out_v < stages.recharge_v;
            set(mode, sight, calls, Timer::Recharge, stages.recharge_hold_s);
        }
    }
    None
}

fn set(mode: &mut Mode, sight: &Sight, calls: bool, timer: Timer, hold_s: f64) {
    if calls && !mode.stage_calls {
        mode.timers.start(timer, sight.t, hold_s);
    } else if !calls {
        mode.timers.stop(timer);
    }
    mode.stage_calls = calls;
}

/// Distance from the flip of the condition stored in the mode, A or V.
pub fn margin(mode: &Mode, model: &Model, net: &Net, regime: Regime) -> f64 {
    if !mode.on || model.link().stages.fixed_supply {
        return f64::INFINITY;
    }
    let stages = &model.link().stages;
    let above = match mode.stage {
        Stage::Bulk => return f64::INFINITY,
        // A change of the ruling limit ends the step by itself.
        Stage::Absorption if !voltage_rules(regime) => return f64::INFINITY,
        Stage::Absorption => stages.tail_a - net.output_a,
        Stage::Float => stages.recharge_v - net.out_v,
    };
    if mode.stage_calls { above } else { -above }
}
