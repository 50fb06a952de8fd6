//! Engine start and stop: a start applies the crank load for its time with the alternator off; a stop cuts it short.

use super::{Mode, Sight, Timer, Transition};
use crate::model::{Model, Piece};
use crate::run_data::event::{Cause, EventKind};
use crate::time::Instant;

/// Fires the end of cranking, and the vehicle falling asleep.
pub fn fire(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    if mode.timers.take_expired(Timer::Sleep, sight.t) {
        return Some(Transition { kind: EventKind::FallsAsleep, cause: Cause::Timer });
    }
    mode.timers
        .take_expired(Timer::Crank, sight.t)
        .then_some(Transition { kind: EventKind::EngineRuns, cause: Cause::Timer })
}

/// Takes over the conditions of a piece; an engine that runs from the first instant counts as a start.
pub fn enter_piece(mode: &mut Mode, model: &Model, piece: &Piece, t: Instant) -> Option<Transition> {
    let runs = piece.engine_runs();
    if runs == mode.engine_runs {
        return None;
    }
    mode.engine_runs = runs;
    mode.timers.stop(Timer::Sleep);
    if runs {
        if model.vehicle.crank_s > 0.0 {
            mode.timers.start(Timer::Crank, t, model.vehicle.crank_s);
        }
        Some(Transition { kind: EventKind::KeyOn, cause: Cause::Drive })
    } else {
        mode.timers.stop(Timer::Crank);
        if model.vehicle.awake_a > 0.0 && !piece.stop_start {
            mode.timers.start(Timer::Sleep, t, model.vehicle.sleep_after_s);
        }
        Some(Transition { kind: EventKind::KeyOff, cause: Cause::Drive })
    }
}
