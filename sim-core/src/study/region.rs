//! How a unit behaves over a day, in one of a few kinds: what a map of its thresholds is coloured by.

use crate::judge::{Kind, Verdict, Weight};

/// How a unit behaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Region {
    /// It comes on, stays on while the engine runs, and goes off soon after.
    Good,
    /// It drops out and comes back in the first five minutes of a drive, and then stays on.
    StartUpCycles,
    /// It comes on with the engine stopped: what is left in the starter battery, or the sun, re-arms it.
    ComesBack,
    /// It stays on for longer than it may after a stop.
    RunsOn,
    /// Another trouble comes first.
    OtherTrouble,
    /// It drops out on its own input voltage later than five minutes into a drive, or stays off for long after it.
    Hunts,
    /// It is not on in any drive.
    NeverStarts,
    /// Something can hurt somebody or set something on fire, whatever the unit does.
    Danger,
}

impl Region {
    /// All of them, the best first.
    pub const ALL: [Region; 8] = [
        Region::Good,
        Region::StartUpCycles,
        Region::ComesBack,
        Region::RunsOn,
        Region::OtherTrouble,
        Region::Hunts,
        Region::NeverStarts,
        Region::Danger,
    ];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Region::Good => "good",
            Region::StartUpCycles => "start-up cycles",
            Region::ComesBack => "comes on parked",
            Region::RunsOn => "runs on",
            Region::OtherTrouble => "other trouble",
            Region::Hunts => "drops out",
            Region::NeverStarts => "never comes on",
            Region::Danger => "danger",
        }
    }

    /// What the judge puts first in a run.
    pub fn of(verdict: &Verdict) -> Region {
        let Some(worst) = verdict.worst() else {
            let cycles = verdict.find(|k| *k == Kind::StartUpCycles).is_some();
            return if cycles { Region::StartUpCycles } else { Region::Good };
        };
        match worst.kind {
            _ if worst.weight == Weight::Danger => Region::Danger,
            Kind::KeepsDroppingOut | Kind::DropsOutAtFirst | Kind::StaysOff => Region::Hunts,
            Kind::NeverComesOn { .. } => Region::NeverStarts,
            Kind::RunsOn => Region::RunsOn,
            Kind::ComesOnParked => Region::ComesBack,
            _ => Region::OtherTrouble,
        }
    }
}
