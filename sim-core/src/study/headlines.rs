//! The numbers that a table of many runs has for each.

use super::trial::Trial;
use crate::judge::Verdict;

/// One column: its name with its unit, how many decimals it is worth, how it is read off a run.
pub struct Headline {
    /// Name, unit last.
    pub name: &'static str,
    /// What it is.
    pub doc: &'static str,
    /// Decimals.
    pub decimals: usize,
    /// Its value; `None` where it never came about.
    pub value: fn(&Trial) -> Option<f64>,
}

macro_rules! headlines {
    ($($name:literal, $decimals:literal, $doc:literal, $value:expr;)+) => {
        /// All of them, in the order of the columns.
        pub const HEADLINES: &[Headline] = &[
            $(Headline { name: $name, doc: $doc, decimals: $decimals, value: $value },)+
        ];
    };
}

headlines! {
    "house_gain_ah", 5, "charge gained by the house battery over the run", |t| Some(t.summary.house_gain_ah);
    "ah_per_drive_hour", 5, "charge gained by the house battery while driving, per hour of driving", ah_per_drive_hour;
    "unit_output_ah", 5, "charge out of the unit", |t| Some(t.summary.unit_output_ah);
    "house_end_pct", 5, "state of charge of the house battery at the end", |t| Some(100.0 * t.summary.house_end_soc);
    "starter_end_pct", 5, "state of charge of the starter battery at the end", |t| Some(100.0 * t.summary.starter_end_soc);
    "starter_low_pct", 5, "lowest state of charge of the starter battery at the end of a drive or a stop", starter_low_pct;
    "starter_taken_ah", 5, "charge into the unit with the engine stopped", |t| Some(t.summary.unit_input_parked_ah);
    "came_on", 0, "times the unit came on", |t| Some(f64::from(t.summary.came_on));
    "came_on_parked", 0, "of these, with the engine stopped", |t| Some(f64::from(t.summary.came_on_parked));
    "dropped_out_driving", 0, "times it dropped out with the engine running", |t| Some(f64::from(t.summary.dropped_out_driving));
    "starts_per_drive_hour", 3, "times it came on with the engine running, per hour of driving", starts_per_drive_hour;
    "on_driving_min", 4, "time it was on with the engine running", |t| Some(t.summary.unit_on_driving_s / 60.0);
    "first_on_s", 4, "first time it came on, from the start", |t| t.summary.first_on_s;
    "ran_on_min", 4, "time it stayed on after the last key-off", |t| t.summary.ran_on_s.map(|s| s / 60.0);
    "cycle_period_s", 4, "mean period of its last cycles while driving", |t| t.summary.cycle_period_s;
    "least_margin_v", 5, "smallest distance from its input down to turn-off, on and driving", |t| t.summary.extremes.margin_v.map(|m| m.value);
    "most_input_a", 4, "largest input current", |t| t.summary.extremes.input_a.map(|m| m.value);
}

/// Charge gained by the house battery while driving, per hour of driving, Ah/h; `None` without a drive.
pub fn ah_per_drive_hour(trial: &Trial) -> Option<f64> {
    let hours = trial.summary.driving_s / 3600.0;
    (hours > 0.0).then(|| trial.summary.house_gain_driving_ah / hours)
}

/// Times the unit came on with the engine running, per hour of driving; `None` without a drive.
pub fn starts_per_drive_hour(trial: &Trial) -> Option<f64> {
    let hours = trial.summary.driving_s / 3600.0;
    (hours > 0.0).then(|| f64::from(trial.summary.came_on - trial.summary.came_on_parked) / hours)
}

/// Lowest state of charge of the starter battery at the end of a drive or a stop, %.
fn starter_low_pct(trial: &Trial) -> Option<f64> {
    let ends = trial.run.stretches.iter().map(|s| s.end[crate::state::STARTER]);
    Some(100.0 * ends.fold(trial.summary.starter_end_soc, f64::min))
}

/// One run of a sweep in numbers and words.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// Values of [`HEADLINES`], in their order; empty for a run that failed.
    pub headlines: Vec<Option<f64>>,
    /// What it comes to; `None` for a run that failed.
    pub verdict: Option<Verdict>,
    /// Why it has no answer, in one line; empty for a run that has one.
    pub reason: String,
}

impl Outcome {
    /// Reads one off a run.
    pub fn of(trial: &Trial) -> Outcome {
        Outcome {
            headlines: HEADLINES.iter().map(|h| (h.value)(trial)).collect(),
            verdict: Some(trial.verdict.clone()),
            reason: String::new(),
        }
    }

    /// One of a case that has no answer.
    pub fn failed(reason: &dyn std::fmt::Display) -> Outcome {
        let reason = reason.to_string().split_whitespace().collect::<Vec<_>>().join(" ");
        Outcome { headlines: Vec::new(), verdict: None, reason }
    }

    /// A headline by its name.
    pub fn headline(&self, name: &str) -> Option<f64> {
        let at = HEADLINES.iter().position(|h| h.name == name)?;
        *self.headlines.get(at)?
    }

    /// The verdict in a word: "good", the gravest trouble, or "failed".
    pub fn word(&self) -> &'static str {
        self.verdict.as_ref().map_or("failed", Verdict::word)
    }
}
