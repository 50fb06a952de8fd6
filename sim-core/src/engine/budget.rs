//! Work that is shared: runs that are tried to answer one question take their steps from one budget. It is counted in steps and
//! never in time, so that an answer is the same on any machine.

use super::run::{Options, Run, RunError};
use super::simulate::taken;
use super::standing::Standing;
use crate::model::{Model, Profile};
use std::cell::Cell;

/// Share of what is left that one run may take, as a divisor: a run that never settles leaves work for others.
const SHARE: u64 = 4;

/// Steps that are left for tried runs, those that were rejected counted too.
#[derive(Debug)]
pub(crate) struct Budget {
    left: Cell<u64>,
    cut: Cell<bool>,
}

impl Budget {
    /// So many steps.
    pub fn new(steps: u64) -> Budget {
        Budget { left: Cell::new(steps), cut: Cell::new(false) }
    }

    /// Whether a run was cut short, or not begun, for want of steps.
    pub fn cut(&self) -> bool {
        self.cut.get()
    }

    /// A whole run, on from a standing where there is one, as far as the budget goes.
    ///
    /// # Errors
    /// As [`super::simulate`]; [`RunError::TooManySteps`] where the budget ends it.
    pub fn run(
        &self,
        model: &Model,
        profile: &Profile,
        options: &Options,
        from: Option<&Standing>,
    ) -> Result<Run, RunError> {
        let most_steps = self.left.get() / SHARE;
        let (steps, run) = taken(model, profile, &Options { most_steps, ..*options }, from);
        self.left.set(self.left.get().saturating_sub(steps));
        let run = run.and_then(super::simulate::whole);
        if matches!(run, Err(RunError::TooManySteps { .. })) {
            self.cut.set(true);
        }
        run
    }
}
