//! Engine start and stop: a start applies the crank load for its time with the alternator off, which then builds up its field
//! before it gives anything; a stop cuts both short.

use super::{Mode, Sight, Timer, Transition};
use crate::model::{Model, Piece};
use crate::run_data::event::{Cause, EventKind};
use crate::time::Instant;

/// Fires the vehicle falling asleep, the end of cranking, and the alternator's beginning.
pub fn fire(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    // The rule reads whether it still runs.
    mode.timers.take_expired(Timer::StartUp, sight.t);
    if mode.timers.take_expired(Timer::Sleep, sight.t) {
        return Some(Transition { kind: EventKind::FallsAsleep, cause: Cause::Timer });
    }
    if mode.timers.take_expired(Timer::Crank, sight.t) {
        return Some(Transition { kind: EventKind::EngineRuns, cause: Cause::Timer });
    }
    mode.timers
        .take_expired(Timer::BuildUp, sight.t)
        .then_some(Transition { kind: EventKind::AlternatorBegins, cause: Cause::Timer })
}

/// Takes over the conditions of a piece; an engine that runs from the first instant counts as a start.
pub fn enter_piece(mode: &mut Mode, model: &Model, piece: &Piece, t: Instant) -> Option<Transition> {
    let runs = piece.engine_runs();
    let resumes = mode.paused;
    mode.paused = !runs && piece.stop_start;
    if runs == mode.engine_runs {
        return None;
    }
    mode.engine_runs = runs;
    mode.timers.stop(Timer::Sleep);
    if runs {
        if model.vehicle.crank_s > 0.0 {
            mode.timers.start(Timer::Crank, t, model.vehicle.crank_s);
        }
        if model.alternator.build_up_s > 0.0 {
            let after_s = model.vehicle.crank_s + model.alternator.build_up_s;
            mode.timers.start(Timer::BuildUp, t, after_s);
        }
        if let Some(rule) = model.alternator.rule.filter(|r| r.start_up_s > 0.0 && !resumes) {
            mode.timers.start(Timer::StartUp, t, model.vehicle.crank_s + rule.start_up_s);
        }
        Some(Transition { kind: EventKind::KeyOn, cause: Cause::Drive })
    } else {
        mode.timers.stop(Timer::Crank);
        mode.timers.stop(Timer::BuildUp);
        mode.timers.stop(Timer::StartUp);
        if model.vehicle.awake_a > 0.0 && !piece.stop_start {
            mode.timers.start(Timer::Sleep, t, model.vehicle.sleep_after_s);
        }
        Some(Transition { kind: EventKind::KeyOff, cause: Cause::Drive })
    }
}
