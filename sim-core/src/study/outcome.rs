//! What a run comes to, in one word: the verdict told apart far enough to say where it changes.

use super::trial::Trial;
use super::verdict::{SETTLED_S, Trouble, Verdict, drop_outs};
use crate::network::Net;
use crate::record::event::EventKind;
use serde::Serialize;

/// What a run comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "outcome")]
#[non_exhaustive]
pub enum Outcome {
    /// No trouble.
    Good,
    /// It drops out beyond five minutes of engine, and is steady for the last five minutes of every drive: start-up
    /// cycles, while the starter battery is still rising.
    DropsOutAtFirst,
    /// It drops out within the last five minutes of a drive too: it would go on.
    KeepsDroppingOut,
    /// No drive brings it on.
    NeverStarts,
    /// No drive is long enough to bring it on.
    DrivesTooShort,
    /// It runs on too long after key-off.
    RunsOn,
    /// A limit of the user's is broken.
    LimitBroken {
        /// The limit's key.
        key: &'static str,
    },
    /// Asked of absorption alone: it ends on its tail current.
    AbsorptionEndsOnTail,
    /// Asked of absorption alone: it ends on its cap, the output current never low enough.
    AbsorptionEndsOnCap,
    /// Asked of absorption alone: it begins and the drive ends before it does.
    AbsorptionCutShort,
    /// Asked of absorption alone: it never begins.
    NoAbsorption,
}

impl Outcome {
    /// The gravest of what a run came to.
    pub fn of(trial: &Trial) -> Outcome {
        match Verdict::of(trial).troubles.first() {
            None => Outcome::Good,
            Some(Trouble::DropsOut { .. }) if goes_on(trial) => Outcome::KeepsDroppingOut,
            Some(Trouble::DropsOut { .. }) => Outcome::DropsOutAtFirst,
            Some(Trouble::NeverStarts) => Outcome::NeverStarts,
            Some(Trouble::DrivesTooShort) => Outcome::DrivesTooShort,
            Some(Trouble::RunsOn { .. }) => Outcome::RunsOn,
            Some(Trouble::LimitBroken { key }) => Outcome::LimitBroken { key },
        }
    }

    /// A few words for tables.
    pub fn words(self) -> &'static str {
        match self {
            Outcome::Good => "good",
            Outcome::DropsOutAtFirst => "drops out at first",
            Outcome::KeepsDroppingOut => "keeps dropping out",
            Outcome::NeverStarts => "never comes on",
            Outcome::DrivesTooShort => "drives too short",
            Outcome::RunsOn => "runs on",
            Outcome::LimitBroken { .. } => "limit broken",
            Outcome::AbsorptionEndsOnTail => "ends on tail current",
            Outcome::AbsorptionEndsOnCap => "ends on its cap",
            Outcome::AbsorptionCutShort => "absorption cut short",
            Outcome::NoAbsorption => "no absorption",
        }
    }
}

/// Whether a drop-out that counts lies within the last five minutes of its drive.
fn goes_on(trial: &Trial) -> bool {
    let (model, profile, run) = (&trial.resolved.model, &trial.resolved.profile, &trial.run);
    drop_outs(model, profile, run).iter().any(|event| {
        let drive = run.stretches.iter().find(|s| s.driving && s.from <= event.t && event.t <= s.to);
        drive.is_some_and(|s| s.to.since(event.t) <= SETTLED_S)
    })
}

/// Volts and amps that a closed form is held against, and the drive's conditions then.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Witness {
    /// Volts and amps, the unit on.
    pub net: Net,
    /// Index of the drive's piece.
    pub piece: usize,
    /// What happened then.
    pub of: WitnessOf,
}

/// What a [`Witness`] was read at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WitnessOf {
    /// A drop-out.
    DropOut,
    /// The end of a soft start.
    FullOutput,
    /// The end of absorption.
    AbsorptionEnd,
}

impl Witness {
    /// The first drop-out within the drive's last five minutes, else the last that counts, else the last end of a soft
    /// start; `None` where the unit never came so far.
    pub fn of(trial: &Trial) -> Option<Witness> {
        let (model, profile, run) = (&trial.resolved.model, &trial.resolved.profile, &trial.run);
        let counted = drop_outs(model, profile, run);
        let late = |t| run.stretches.iter().any(|s| s.driving && s.to >= t && s.to.since(t) <= SETTLED_S);
        let drop_out = counted.iter().find(|e| late(e.t)).or(counted.last());
        if let Some(event) = drop_out {
            let piece = profile.index_at(event.t.plus_ns(-1));
            return Some(Witness { net: event.before, piece, of: WitnessOf::DropOut });
        }
        let full = run.events.iter().rev().find(|e| e.kind == EventKind::RampEnd)?;
        Some(Witness { net: full.after, piece: profile.index_at(full.t), of: WitnessOf::FullOutput })
    }
}
