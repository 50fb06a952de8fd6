//! How a unit behaves over a day, in one of a few kinds: what a map of its thresholds is coloured by.

use super::trial::Trial;
use super::verdict::{RUN_ON_S, SETTLED_S};
use crate::record::event::{Cause, EventKind};

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
    /// It drops out on its own input voltage later than five minutes into a drive.
    Hunts,
    /// It is not on in any drive.
    NeverStarts,
}

impl Region {
    /// All of them, the best first.
    pub const ALL: [Region; 6] = [
        Region::Good,
        Region::StartUpCycles,
        Region::ComesBack,
        Region::RunsOn,
        Region::Hunts,
        Region::NeverStarts,
    ];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Region::Good => "good",
            Region::StartUpCycles => "start-up cycles",
            Region::ComesBack => "comes on again parked",
            Region::RunsOn => "runs on after stop",
            Region::Hunts => "hunts",
            Region::NeverStarts => "never starts",
        }
    }

    /// Reads it off a run. Where several hold, the worst for whoever relies on it: [`Region`]'s order.
    pub fn of(trial: &Trial) -> Region {
        let limits = &trial.scenario.limits;
        let run_on_s = limits.longest_run_on_min.as_ref().map_or(RUN_ON_S, |n| n.value * 60.0);
        let (summary, events) = (&trial.summary, &trial.run.events);
        if summary.unit_on_driving_s <= 0.0 && summary.driving_s > 0.0 {
            return Region::NeverStarts;
        }
        let (mut since, mut key_off, mut on) = (None, None, false);
        let (mut early, mut late, mut longest_s, mut parked) = (0_u32, 0_u32, 0.0_f64, 0_u32);
        for event in events {
            match event.kind {
                EventKind::KeyOn => (since, key_off) = (Some(event.t), None),
                EventKind::KeyOff => (since, key_off) = (None, on.then_some(event.t)),
                EventKind::UnitOn => {
                    on = true;
                    parked += u32::from(since.is_none());
                }
                EventKind::UnitOff => {
                    on = false;
                    match (since, key_off.take(), event.cause) {
                        (Some(start), _, Cause::InputHeld { .. }) => {
                            let settled = event.t.since(start) > SETTLED_S;
                            (early, late) = (early + u32::from(!settled), late + u32::from(settled));
                        }
                        // The first time off: how long it ran on. Later ones end what came on again.
                        (None, Some(stop), _) => longest_s = longest_s.max(event.t.since(stop)),
                        _ => {}
                    }
                }
                _ => {}
            }
        }
        if summary.ran_on_s.is_some_and(|s| s > longest_s) {
            longest_s = summary.ran_on_s.unwrap_or_default();
        }
        if late > 0 {
            Region::Hunts
        } else if longest_s > run_on_s {
            Region::RunsOn
        } else if parked > 0 {
            Region::ComesBack
        } else if early > 0 {
            Region::StartUpCycles
        } else {
            Region::Good
        }
    }
}

/// Whether a unit hunts on to the end of a drive: it drops out at least twice, on its own input voltage, in the second
/// half of one. Start-up cycles have ended by then, and so has most of what a drive delivers.
pub fn hunts_on(trial: &Trial) -> bool {
    trial.run.stretches.iter().filter(|s| s.driving).any(|drive| {
        let half = drive.from.plus_s(drive.to.since(drive.from) / 2.0);
        let drops = trial.run.events.iter().filter(|e| {
            e.kind == EventKind::UnitOff
                && matches!(e.cause, Cause::InputHeld { .. })
                && e.t > half
                && e.t < drive.to
        });
        drops.count() >= 2
    })
}
