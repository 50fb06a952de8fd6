//! What a run tells: a page in plain words, tables, pictures.

mod cranking;
pub mod days;
pub mod distance;
pub mod findings;
pub mod fuses;
pub mod meter;
pub mod page;
pub mod pictures;
mod sections;
pub mod tables;
pub mod warmth;
pub mod why;

use crate::load::Loaded;
use sim_core::engine::Stops;
use sim_core::judge::{Facts, Read, Verdict};
use sim_core::record::days::DayRow;
use sim_core::record::limits::Broken;
use sim_core::record::{Summary, Timeline};
use sim_core::resolve::Entry;
use sim_core::scenario::limits::LimitsSpec;
use sim_core::study::Trial;
use sim_core::{Model, Profile, Run};
use std::sync::OnceLock;

/// A run read and judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// In spans and in numbers.
    pub read: Read,
    /// What the judge found.
    pub verdict: Verdict,
}

impl Judged {
    /// What a trial knows already.
    pub fn of_trial(trial: &Trial) -> Judged {
        let (timeline, summary) = (trial.timeline.clone(), trial.summary.clone());
        Judged { read: Read { timeline, summary }, verdict: trial.verdict.clone() }
    }

    /// Reads and judges a run of a loaded scenario.
    pub fn of(loaded: &Loaded, run: &Run) -> Judged {
        let (model, profile) = (&loaded.resolved.model, &loaded.resolved.profile);
        let read = Read::of(run, model, profile);
        let verdict = Verdict::of(&read.facts(run, model, profile, &loaded.scenario.limits));
        Judged { read, verdict }
    }
}

/// Everything that a report draws on.
#[derive(Debug, Clone, Copy)]
pub struct Told<'a> {
    /// Title.
    pub name: &'a str,
    /// What was changed on the command line.
    pub changed: &'a [String],
    /// Every number of the model, with its origin.
    pub entries: &'a [Entry],
    /// The vehicle.
    pub model: &'a Model,
    /// The drive.
    pub profile: &'a Profile,
    /// The run.
    pub run: &'a Run,
    /// Its summary.
    pub summary: &'a Summary,
    /// The run in spans.
    pub timeline: &'a Timeline,
    /// What the judge found.
    pub verdict: &'a Verdict,
    /// What became of the engine stops of stop-start, where the drive offers any.
    pub stops: Option<&'a Stops>,
    /// How long the unit runs on after the last key-off with the starter battery's rested volts a little lower and a
    /// little higher, s; `None` where that is not worth a band.
    pub run_on_band_s: Option<(f64, f64)>,
    /// Limits of the user's.
    pub limits: &'a LimitsSpec,
    /// Those that it breaks.
    pub broken: &'a [Broken],
    /// The run day by day; empty where it is all one day.
    pub days: &'a [DayRow],
    /// State of charge that the starter battery needs to crank, share of full, if somebody typed it.
    pub crank_reserve_soc: Option<f64>,
    /// Why the unit switched, once somebody asked: [`Told::why`].
    pub asked_why: &'a OnceLock<why::Why>,
    /// How far it is from trouble, if somebody asked for it.
    pub far: Option<&'a distance::Found>,
}

/// A state of charge in %. What rounding leaves of an empty battery has no sign.
pub fn soc_pct(soc: f64) -> f64 {
    let pct = 100.0 * soc;
    if pct.abs() < 5e-3 { 0.0 } else { pct }
}

impl<'a> Told<'a> {
    /// Why the unit switched. Whoever asks first works it out, the others wait for it.
    pub fn why(&self) -> &'a why::Why {
        self.asked_why.get_or_init(|| why::Why::new(self))
    }

    /// What the judge reads.
    pub fn facts(&self) -> Facts<'a> {
        Facts {
            run: self.run,
            model: self.model,
            profile: self.profile,
            timeline: self.timeline,
            summary: self.summary,
            limits: self.limits,
        }
    }

    /// A run of a loaded scenario, without what only the whole page asks for: band, limits, days.
    pub fn of(
        loaded: &'a Loaded,
        changed: &'a [String],
        run: &'a Run,
        judged: &'a Judged,
        asked_why: &'a OnceLock<why::Why>,
    ) -> Told<'a> {
        Told {
            name: loaded.title(),
            changed,
            entries: &loaded.resolved.entries,
            model: &loaded.resolved.model,
            profile: &loaded.resolved.profile,
            stops: loaded.resolved.stops.as_ref(),
            run,
            summary: &judged.read.summary,
            timeline: &judged.read.timeline,
            verdict: &judged.verdict,
            run_on_band_s: None,
            limits: &loaded.scenario.limits,
            broken: &[],
            days: &[],
            crank_reserve_soc: None,
            asked_why,
            far: None,
        }
    }
}
