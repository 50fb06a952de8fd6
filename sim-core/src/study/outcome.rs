//! What a run comes to, in one word: what the judge puts first, told apart far enough to say where it changes.

use super::trial::Trial;
use crate::judge::{Kind, Want, Weight};
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
    /// It drops out and stays off for long with the engine running.
    StaysOff,
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
    /// Anything else that the judge finds worst.
    Other {
        /// Its word.
        word: &'static str,
        /// Whether it is a danger.
        danger: bool,
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
    /// The gravest of what a run came to: what the judge puts first.
    pub fn of(trial: &Trial) -> Outcome {
        let Some(worst) = trial.verdict.worst() else { return Outcome::Good };
        match worst.kind {
            Kind::KeepsDroppingOut => Outcome::KeepsDroppingOut,
            Kind::DropsOutAtFirst => Outcome::DropsOutAtFirst,
            Kind::StaysOff => Outcome::StaysOff,
            Kind::NeverComesOn { want: Want::LongerDrives } => Outcome::DrivesTooShort,
            Kind::NeverComesOn { .. } => Outcome::NeverStarts,
            Kind::RunsOn => Outcome::RunsOn,
            Kind::LimitBroken { key } => Outcome::LimitBroken { key },
            kind => Outcome::Other { word: kind.word(), danger: worst.weight == Weight::Danger },
        }
    }

    /// A few words for tables; those of the judge.
    pub fn words(self) -> &'static str {
        match self {
            Outcome::Good => "good",
            Outcome::DropsOutAtFirst => Kind::DropsOutAtFirst.word(),
            Outcome::KeepsDroppingOut => Kind::KeepsDroppingOut.word(),
            Outcome::StaysOff => Kind::StaysOff.word(),
            Outcome::NeverStarts => Kind::NeverComesOn { want: Want::Volts }.word(),
            Outcome::DrivesTooShort => Kind::NeverComesOn { want: Want::LongerDrives }.word(),
            Outcome::RunsOn => Kind::RunsOn.word(),
            Outcome::LimitBroken { key } => Kind::LimitBroken { key }.word(),
            Outcome::Other { word, .. } => word,
            Outcome::AbsorptionEndsOnTail => "ends on tail current",
            Outcome::AbsorptionEndsOnCap => "ends on its cap",
            Outcome::AbsorptionCutShort => "absorption cut short",
            Outcome::NoAbsorption => "no absorption",
        }
    }
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
    /// The first drop-out within a drive's last five minutes, else the last that counts, else the last end of a soft start;
    /// `None` where the unit never came so far.
    pub fn of(trial: &Trial) -> Option<Witness> {
        let (profile, run, t) = (&trial.resolved.profile, &trial.run, &trial.timeline);
        let late = t.own_drop_outs().find(|(off, _)| t.is_late(off.t));
        let drop_out = late.or_else(|| t.own_drop_outs().last()).or_else(|| t.longest_off());
        if let Some((off, _)) = drop_out {
            let piece = profile.index_at(off.t.plus_ns(-1));
            return Some(Witness { net: run.events[off.event].before, piece, of: WitnessOf::DropOut });
        }
        let full = run.events.iter().rev().find(|e| e.kind == EventKind::RampEnd)?;
        Some(Witness { net: full.after, piece: profile.index_at(full.t), of: WitnessOf::FullOutput })
    }
}
