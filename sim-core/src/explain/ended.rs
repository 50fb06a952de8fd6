//! What ended a story.

use super::Scene;
use super::change::{Change, between};
use super::moment::Moment;
use super::switch::{Switch, restored};
use crate::logic::start_stop::thresholds;
use crate::network::Limit;
use crate::record::event::EventKind;
use crate::time::Instant;
use serde::Serialize;

/// What ended a story.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "ended")]
pub enum Ended {
    /// The engine was stopped.
    KeyOff,
    /// The engine was started.
    KeyOn,
    /// The run ends with it.
    EndOfRun,
    /// The house battery let charge in again.
    LetIn,
    /// The starter battery had risen: with it as before, the unit would have dropped out again.
    StarterRisen,
    /// The house battery asks less by now.
    HouseAsksLess,
    /// Heat takes so much of its current that it stands.
    Derated,
    /// Something about the drive changed, without which it would have dropped out again.
    Conditions {
        /// What.
        change: Change,
    },
    /// It stayed on, and nothing that is looked at says why.
    StayedOn,
    /// It did not come on again: its input stayed under turn-on.
    NeverCameBack {
        /// The highest that its input stood at afterwards, as far as it was looked, V.
        input_v: f64,
        /// Turn-on, V.
        turn_on_v: f64,
    },
}

/// A unit that stays on this long after a story has left it, s.
const HELD_S: f64 = 60.0;
/// ... and this many times as long as it ever stayed on in the story.
const HELD_TIMES: f64 = 3.0;
/// Moments at which the input is looked at after the last drop-out.
const LOOKS: i64 = 20;

/// What ended the drop-outs of which `last` is the last; `longest_s` is the longest time on between two of them.
pub(super) fn ended(scene: &Scene, switches: &[Switch], last: usize, longest_s: f64) -> Ended {
    let off = &switches[last];
    let (edge, key) = next_key(scene, off.t);
    let by_key = match key {
        Some(EventKind::KeyOn) => Ended::KeyOn,
        Some(_) => Ended::KeyOff,
        None => Ended::EndOfRun,
    };
    let rule = &scene.model.link().start_stop;
    let Some(on) = switches.get(last + 1).filter(|s| s.on && s.t < edge) else {
        let waited_s = edge.since(off.t);
        return if waited_s <= rule.turn_on_delay_s + 5.0 { by_key } else { never(scene, off.t, edge) };
    };
    let until = switches.get(last + 2).map_or(edge, |s| s.t.min(edge));
    let held_s = until.since(on.t);
    if held_s < HELD_S.max(HELD_TIMES * longest_s) {
        return by_key;
    }
    let then = Moment::before(scene, off.t);
    let now = Moment::at(scene, on.t.plus_s(HELD_S.min(0.5 * held_s)));
    let (Some(then), Some(now)) = (then, now) else { return Ended::StayedOn };
    let crate::record::event::Cause::InputHeld { threshold_v, .. } = off.cause else {
        return Ended::StayedOn;
    };
    // As long on as the last time was: a battery under load for longer is lower for that alone.
    let alike = Moment::at(scene, on.t.plus_s(then.since_on_s.min(held_s))).unwrap_or(now);
    why_it_stays(&then, &now, &alike, threshold_v)
}

fn why_it_stays(then: &Moment, now: &Moment, alike: &Moment, off_v: f64) -> Ended {
    for change in between(then, now) {
        if !restored(now, then, &change).seen(|_| ()).stands(off_v) {
            return Ended::Conditions { change };
        }
    }
    if matches!(now.seen(|_| ()).regime.limit, Limit::Voltage | Limit::Idle) {
        return Ended::HouseAsksLess;
    }
    let limit_a = now.model.link().converter.output_limit_a;
    let full = now.seen(|b| b.unit.output_cap_a = limit_a);
    if !full.stands(off_v) {
        return Ended::Derated;
    }
    if alike.with_starter_of(then).seen(|_| ()).stands(off_v) { Ended::StayedOn } else { Ended::StarterRisen }
}

/// When the key is next turned after `t`, and which way; the end of the run where it is not.
pub(super) fn next_key(scene: &Scene, t: Instant) -> (Instant, Option<EventKind>) {
    let key = |k: &EventKind| matches!(k, EventKind::KeyOn | EventKind::KeyOff);
    let next = scene.run.events.iter().find(|e| e.t > t && key(&e.kind));
    next.map_or((scene.run.span.1, None), |e| (e.t, Some(e.kind)))
}

fn never(scene: &Scene, from: Instant, to: Instant) -> Ended {
    let step_ns = (to.ns() - from.ns()) / (LOOKS + 1);
    let looks = (1..=LOOKS).filter_map(|n| Moment::at(scene, from.plus_ns(n * step_ns)));
    let rule = &scene.model.link().start_stop;
    // The highest beside the turn-on that counted then.
    let seen = looks.map(|m| (m.net.in_v, thresholds(rule, m.mode.signal).0));
    let highest = seen.max_by(|a, b| (a.0 - a.1).total_cmp(&(b.0 - b.1)));
    let (input_v, turn_on_v) = highest.unwrap_or((f64::NEG_INFINITY, rule.turn_on_v));
    Ended::NeverCameBack { input_v, turn_on_v }
}
