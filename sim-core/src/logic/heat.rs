//! The unit's own heat: the derating line, and a lock-out with its own reclose.

use super::{Derate, Mode, Sight, Transition};
use crate::model::Model;
use crate::run_data::event::{Cause, EventKind};
use crate::state::{CASE_C, Vector};

/// Overlap of the segments of the derating line, K.
const SLACK_K: f64 = 1e-9;

/// Reads where the case temperature stands; locks out and recloses.
pub fn read(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    let c = &sight.link().converter;
    let temp_c = sight.y[CASE_C];
    mode.derate = if temp_c < c.derate_from_c {
        Derate::Under
    } else if temp_c < c.derate_to_c {
        Derate::On
    } else {
        Derate::Past
    };
    if !mode.locked && temp_c >= c.lock_c {
        let cause = Cause::Heat { case_c: temp_c, limit_c: c.lock_c };
        // Dropping out is an event of its own, or nobody could count it; the lock follows in the next round.
        if mode.on {
            super::start_stop::turn_off(mode, sight);
            return Some(Transition { kind: EventKind::UnitOff, cause });
        }
        mode.locked = true;
        return Some(Transition { kind: EventKind::HeatLock { locked: true }, cause });
    }
    if mode.locked && temp_c < c.reclose_c {
        mode.locked = false;
        return Some(Transition {
            kind: EventKind::HeatLock { locked: false },
            cause: Cause::Heat { case_c: temp_c, limit_c: c.reclose_c },
        });
    }
    None
}

/// Kelvin to the next change; negative once it is due.
pub fn margin(mode: &Mode, model: &Model, y: &Vector) -> f64 {
    let c = &model.link().converter;
    let temp_c = y[CASE_C];
    let lock = if mode.locked { temp_c - c.reclose_c } else { c.lock_c - temp_c };
    let line = match mode.derate {
        Derate::Under => c.derate_from_c - temp_c,
        Derate::On => (temp_c - c.derate_from_c).min(c.derate_to_c - temp_c),
        Derate::Past => temp_c - c.derate_to_c,
    };
    lock.min(line + SLACK_K)
}
