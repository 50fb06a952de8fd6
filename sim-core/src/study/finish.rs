//! How the unit's absorption ends: on its tail current, as it should, or on its cap.

use super::outcome::{Outcome, Witness, WitnessOf};
use super::trial::Trial;
use crate::logic::Stage;
use crate::record::event::{Cause, Event, EventKind};

/// What absorption comes to in a run: on its cap if any ended so, else on its tail current if any did, else cut short.
pub(super) fn outcome(trial: &Trial) -> Outcome {
    let events = &trial.run.events;
    let ended = |cap: bool| events.iter().any(|e| ended_by(e) == Some(cap));
    let begun = events.iter().any(|e| e.kind == EventKind::Stage { to: Stage::Absorption });
    match (ended(true), ended(false), begun) {
        (true, ..) => Outcome::AbsorptionEndsOnCap,
        (_, true, _) => Outcome::AbsorptionEndsOnTail,
        (.., true) => Outcome::AbsorptionCutShort,
        _ => Outcome::NoAbsorption,
    }
}

/// Whether an event ends absorption on its cap, or else on its tail current.
fn ended_by(event: &Event) -> Option<bool> {
    match (event.kind, event.cause) {
        (EventKind::Stage { .. }, Cause::AbsorptionCap { .. }) => Some(true),
        (EventKind::Stage { .. }, Cause::TailCurrent { .. }) => Some(false),
        _ => None,
    }
}

/// The end of absorption that [`outcome`] goes by.
pub(super) fn witness(trial: &Trial) -> Option<Witness> {
    let events = &trial.run.events;
    let profile = &trial.resolved.profile;
    let end = events.iter().find(|e| ended_by(e) == Some(true));
    let end = end.or_else(|| events.iter().find(|e| ended_by(e) == Some(false)))?;
    let piece = profile.index_at(end.t.plus_ns(-1));
    Some(Witness { net: end.before, piece, of: WitnessOf::AbsorptionEnd })
}
