//! One run of a case, in a handful of numbers.

use super::case::{Case, CaseError};
use crate::engine::{Options, Record, Run, RunError, simulate};
use crate::record::limits::{Broken, broken};
use crate::record::summary::Summary;
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
    /// Limits of the user's that it breaks.
    pub broken: Vec<Broken>,
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
        let summary = Summary::new(&run, &resolved.model, &resolved.profile);
        let broken = broken(&scenario.limits, &summary);
        Ok(Trial { scenario, resolved, run, summary, broken })
    }
}
