//! What counts as trouble, defined once.

use super::trial::Trial;
use crate::engine::Run;
use crate::model::{Piece, Profile};
use crate::record::event::{Cause, EventKind};
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
        if let Some((first, times)) = drop_outs(run, profile) {
            troubles.push(Trouble::DropsOut { first_s: first.as_s(), times });
        }
        if trial.summary.came_on == 0 && profile.driving_s() > 0.0 {
            let longest = run.stretches.iter().filter(|s| s.driving).map(|s| s.to.since(s.from));
            let needed = model.link().start_stop.turn_on_delay_s + SETTLED_S;
            let enough = longest.fold(0.0, f64::max) >= needed;
            troubles.push(if enough { Trouble::NeverStarts } else { Trouble::DrivesTooShort });
        }
        let limits = &trial.scenario.limits;
        let limit_s = limits.longest_run_on_min.as_ref().map_or(RUN_ON_S, |n| n.value * 60.0);
        if let Some(ran_on_s) = trial.summary.ran_on_s.filter(|s| *s > limit_s) {
            troubles.push(Trouble::RunsOn { ran_on_s, limit_s });
        }
        let broken = trial.broken.iter().filter(|b| b.key != "longest_run_on_min");
        troubles.extend(broken.map(|b| Trouble::LimitBroken { key: b.key }));
        Verdict { troubles }
    }

    /// Whether there is any trouble.
    pub fn is_trouble(&self) -> bool {
        !self.troubles.is_empty()
    }

    /// The gravest in a word, "good" where there is none.
    pub fn word(&self) -> &'static str {
        self.troubles.first().map_or("good", Trouble::word)
    }
}

/// Voltage drop-outs that count: the first and how many.
fn drop_outs(run: &Run, profile: &Profile) -> Option<(Instant, u32)> {
    let mut engine_since: Option<Instant> = None;
    let mut on_at: Option<Instant> = None;
    let mut found: Option<(Instant, u32)> = None;
    for event in &run.events {
        match event.kind {
            EventKind::KeyOn => engine_since = Some(event.t),
            EventKind::KeyOff => engine_since = None,
            EventKind::UnitOn => on_at = Some(event.t),
            EventKind::UnitOff if matches!(event.cause, Cause::InputHeld { .. }) => {
                let settled = engine_since.is_some_and(|since| event.t.since(since) > SETTLED_S);
                let same = on_at.is_none_or(|on| no_worse(profile, on, event.t));
                if settled && same {
                    found = Some(found.map_or((event.t, 1), |(first, n)| (first, n + 1)));
                }
            }
            _ => {}
        }
    }
    found
}

/// Whether the drive offers the unit as much at `off` as it did at `on`.
fn no_worse(profile: &Profile, on: Instant, off: Instant) -> bool {
    let at = |t: Instant| -> &Piece { &profile.pieces()[profile.index_at(t)] };
    let (then, now) = (at(on), at(off.plus_ns(-1)));
    now.set_point_v >= then.set_point_v - 0.05
        && now.engine_rpm >= 0.9 * then.engine_rpm
        && now.vehicle_load_a <= then.vehicle_load_a + 1.0
        && now.input_joint_extra_ohm <= then.input_joint_extra_ohm
        && !now.input_open
}
