//! What counts as trouble, defined once.
//!
//! A verdict reads events and conditions alone: it depends on located instants and not on the steps between them.
//!
//! - *Drops out*: a turn-off by input voltage later than [`SETTLED_S`] after the engine start, the drive offering then no
//!   less than when the unit came on (set-point, a rule's target, speed, the vehicle's load, a joint, the run whole).
//! - *Never starts*: no turn-on at all, although one drive lasts [`SETTLED_S`] beyond the turn-on delay; *drives too short*
//!   where none does.
//! - *Runs on*: after any key-off the unit stays on longer than the user's limit, or [`RUN_ON_S`]; it counts until the unit
//!   goes off, the engine is started again or the run ends.
//! - *Limit broken*: any other limit of the user's.

use super::trial::Trial;
use crate::engine::Run;
use crate::model::{Model, Piece, Profile};
use crate::record::event::{Cause, Event, EventKind};
use crate::time::Instant;
use serde::Serialize;

/// After an engine start a drop-out counts only from here on, s: until then the starter battery is still rising.
pub const SETTLED_S: f64 = 300.0;
/// Longest run-on after key-off that is no trouble where the user sets no limit, s.
pub const RUN_ON_S: f64 = 600.0;

/// One kind of trouble.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "trouble")]
#[non_exhaustive]
pub enum Trouble {
    /// The unit dropped out on its input voltage, engine running for more than five minutes, conditions no worse than
    /// when it came on.
    DropsOut {
        /// The first time, s since the start.
        first_s: f64,
        /// How often.
        times: u32,
    },
    /// No drive brought it on, although one of them lasted five minutes beyond the turn-on delay.
    NeverStarts,
    /// No drive brought it on, and none lasts much longer than the turn-on delay.
    DrivesTooShort,
    /// It stayed on after key-off for longer than it may.
    RunsOn {
        /// How long, s.
        ran_on_s: f64,
        /// How long it may, s.
        limit_s: f64,
    },
    /// A limit of the user's is broken.
    LimitBroken {
        /// The limit's key.
        key: &'static str,
    },
}

impl Trouble {
    /// A word for tables.
    pub fn word(&self) -> &'static str {
        match self {
            Trouble::DropsOut { .. } => "drops out",
            Trouble::NeverStarts => "never starts",
            Trouble::DrivesTooShort => "drives too short",
            Trouble::RunsOn { .. } => "runs on",
            Trouble::LimitBroken { .. } => "limit broken",
        }
    }
}

/// What a run comes to: no trouble, or these, the gravest first.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Verdict {
    /// The troubles.
    pub troubles: Vec<Trouble>,
}

impl Verdict {
    /// Judges a run.
    pub fn of(trial: &Trial) -> Verdict {
        let (model, profile, run) = (&trial.resolved.model, &trial.resolved.profile, &trial.run);
        let mut troubles = Vec::new();
        let drop_outs = drop_outs(model, profile, run);
        if let Some(first) = drop_outs.first() {
            let times = u32::try_from(drop_outs.len()).unwrap_or(u32::MAX);
            troubles.push(Trouble::DropsOut { first_s: first.t.as_s(), times });
        }
        if trial.summary.came_on == 0 && profile.driving_s() > 0.0 {
            let longest = run.stretches.iter().filter(|s| s.driving).map(|s| s.to.since(s.from));
            let needed = model.link().start_stop.turn_on_delay_s + SETTLED_S;
            let enough = longest.fold(0.0, f64::max) >= needed;
            troubles.push(if enough { Trouble::NeverStarts } else { Trouble::DrivesTooShort });
        }
        let limit_s = run_on_limit_s(trial);
        let ran_on_s = longest_run_on_s(run);
        if ran_on_s > limit_s {
            troubles.push(Trouble::RunsOn { ran_on_s, limit_s });
        }
        let broken = trial.broken.iter().filter(|b| b.key != "longest_run_on_min");
        troubles.extend(broken.map(|b| Trouble::LimitBroken { key: b.key }));
        Verdict { troubles }
    }

    /// The gravest in a word, "good" where there is none.
    pub fn word(&self) -> &'static str {
        self.troubles.first().map_or("good", Trouble::word)
    }
}

/// Voltage drop-outs that count, in order.
pub(super) fn drop_outs<'a>(model: &Model, profile: &Profile, run: &'a Run) -> Vec<&'a Event> {
    let all = every_drop_out(model, profile, run).into_iter();
    all.filter(|(_, since_s)| *since_s > SETTLED_S).map(|(event, _)| event).collect()
}

/// Voltage drop-outs with the engine running and conditions no worse than when the unit came on, each with the time since
/// the engine start, s.
pub(super) fn every_drop_out<'a>(model: &Model, profile: &Profile, run: &'a Run) -> Vec<(&'a Event, f64)> {
    let mut engine_since: Option<Instant> = None;
    let mut on_at: Option<Instant> = None;
    let mut found = Vec::new();
    for event in &run.events {
        match event.kind {
            EventKind::KeyOn => engine_since = Some(event.t),
            EventKind::KeyOff => engine_since = None,
            EventKind::UnitOn => on_at = Some(event.t),
            EventKind::UnitOff if matches!(event.cause, Cause::InputHeld { .. }) => {
                let same = on_at.is_none_or(|on| no_worse(model, profile, on, event.t));
                if let Some(since) = engine_since.filter(|_| same) {
                    found.push((event, event.t.since(since)));
                }
            }
            _ => {}
        }
    }
    found
}

/// Whether the drive offers the unit as much at `off` as it did at `on`.
fn no_worse(model: &Model, profile: &Profile, on: Instant, off: Instant) -> bool {
    let at = |t: Instant| profile.piece_at(t);
    let (then, now) = (at(on), at(off.plus_ns(-1)));
    // Under a rule what the engine does decides. That the battery is satisfied is no change of the drive.
    let set_v = |p: &Piece| match &model.alternator.rule {
        Some(rule) => rule.target_v(p.phase, false, p.air_c, p.vehicle_load_a),
        None => p.set_point_v,
    };
    set_v(&now) >= set_v(&then) - 0.05
        && now.engine_rpm >= 0.9 * then.engine_rpm
        && now.vehicle_load_a <= then.vehicle_load_a + 1.0
        && now.starter_solar_a >= then.starter_solar_a - 1.0
        && now.input_joint_extra_ohm <= then.input_joint_extra_ohm
        && !now.input_open
}

/// A time for which the unit stayed on after a key-off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RanOn {
    /// The key-off.
    pub from: Instant,
    /// When the unit went off, the engine was started again or the run ended.
    pub to: Instant,
}

/// The longest that the unit stayed on after a key-off, s.
fn longest_run_on_s(run: &Run) -> f64 {
    longest_run_on(run).map_or(0.0, |r| r.to.since(r.from))
}

/// The longest of all run-ons after a key-off; the first of equal ones.
pub(super) fn longest_run_on(run: &Run) -> Option<RanOn> {
    let (mut on, mut key_off, mut longest) = (false, None::<Instant>, None::<RanOn>);
    let mut book = |from: &mut Option<Instant>, to: Instant| {
        if let Some(from) = from.take()
            && longest.is_none_or(|l| to.since(from) > l.to.since(l.from))
        {
            longest = Some(RanOn { from, to });
        }
    };
    for event in &run.events {
        match event.kind {
            EventKind::UnitOn => on = true,
            EventKind::UnitOff => {
                on = false;
                book(&mut key_off, event.t);
            }
            EventKind::KeyOn => book(&mut key_off, event.t),
            EventKind::KeyOff => key_off = on.then_some(event.t),
            _ => {}
        }
    }
    book(&mut key_off, run.span.1);
    longest
}

/// How long the unit may stay on after a key-off: the user's limit, or [`RUN_ON_S`].
pub(super) fn run_on_limit_s(trial: &Trial) -> f64 {
    trial.scenario.limits.longest_run_on_min.as_ref().map_or(RUN_ON_S, |n| n.value * 60.0)
}
