//! Questions that take more than one run: each is a list of independent jobs and an ordered fold of what they return.
//!
//! A [`Case`] is a scenario of which any key can be changed; a [`Trial`] is one run of it in a handful of numbers. Whoever
//! has threads lends them: a job borrows nothing but its case.

mod borders;
mod case;
pub mod closed_forms;
mod differences;
pub mod distance;
pub mod knobs;
pub mod margins;
pub mod mend;
mod outcome;
mod trial;
mod verdict;

pub use borders::{Edge, Reason, Said};
pub use case::{Case, CaseError};
pub use differences::{Difference, Effect};
pub use outcome::{Outcome, Witness};
pub use trial::{Trial, TrialError};
pub use verdict::{Trouble, Verdict};
