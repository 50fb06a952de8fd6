//! One run of a case, in a handful of numbers.

use super::case::{Case, CaseError};
use crate::engine::{Options, Record, Run, RunError, simulate};
use crate::judge::{Facts, Read, Verdict};
use crate::record::limits::{Broken, broken};
use crate::record::summary::Summary;
use crate::record::timeline::Timeline;
use crate::resolve::Resolved;
use crate::scenario::Scenario;

/// Error allowed per step where many runs answer one question: it leaves events within milliseconds and states of charge
/// within 1e-7, and of ten thousand wild vehicles none loses an event by it (`tests/wild`; one has more of them).
pub const TOLERANCE_OF_MANY: f64 = 1e-5;

/// One run of a case.
#[derive(Debug, Clone)]
pub struct Trial {
    /// What was run.
    pub scenario: Scenario,
    /// What it means.
    pub resolved: Resolved,
    /// What happened.
    pub run: Run,
    /// The same in a handful of numbers.
    pub summary: Summary,
    /// The same in spans.
    pub timeline: Timeline,
    /// Limits of the user's that it breaks.
    pub broken: Vec<Broken>,
    /// What it comes to.
    pub verdict: Verdict,
}

/// Why a case has no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TrialError {
    /// It is no scenario.
    #[error(transparent)]
    Case(#[from] CaseError),
    /// The run could not be finished.
    #[error("the run could not be finished: {0}")]
    Run(#[from] RunError),
}

impl Trial {
    /// Runs a case, keeping events and sums only.
    ///
    /// # Errors
    /// [`TrialError`] when it cannot be resolved or the run ends early.
    pub fn run(case: &Case) -> Result<Trial, TrialError> {
        Trial::run_with(case, &Options { record: Record::Summary, ..Options::default() })
    }

    /// Runs a case as one of many, see [`TOLERANCE_OF_MANY`].
    ///
    /// # Errors
    /// As [`Trial::run`].
    pub fn run_of_many(case: &Case) -> Result<Trial, TrialError> {
        let tolerance = TOLERANCE_OF_MANY;
        Trial::run_with(case, &Options { tolerance, record: Record::Summary, ..Options::default() })
    }

    /// Runs a case.
    ///
    /// # Errors
    /// As [`Trial::run`].
    pub fn run_with(case: &Case, options: &Options) -> Result<Trial, TrialError> {
        let (scenario, resolved) = case.resolve()?;
        let run = simulate(&resolved.model, &resolved.profile, options)?;
        let (model, profile) = (&resolved.model, &resolved.profile);
        let read = Read::of(&run, model, profile);
        let broken = broken(&scenario.limits, &read.summary);
        let verdict = Verdict::of(&read.facts(&run, model, profile, &scenario.limits));
        let Read { timeline, summary } = read;
        Ok(Trial { scenario, resolved, run, summary, timeline, broken, verdict })
    }

    /// What its verdict draws on.
    pub fn facts(&self) -> Facts<'_> {
        let Trial { scenario, resolved, run, summary, timeline, .. } = self;
        let (model, profile) = (&resolved.model, &resolved.profile);
        Facts { run, model, profile, timeline, summary, limits: &scenario.limits }
    }
}
