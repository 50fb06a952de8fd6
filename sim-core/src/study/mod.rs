//! Questions that take more than one run: each is a list of independent jobs and an ordered fold of what they return.
//!
//! A [`Case`] is a scenario of which any key can be changed; a [`Trial`] is one run of it in a handful of numbers. Whoever
//! has threads lends them: a job borrows nothing but its case.

mod borders;
mod case;
pub mod cliff;
pub mod closed_forms;
mod differences;
pub mod distance;
pub mod headlines;
pub mod knobs;
pub mod map_lines;
pub mod margins;
pub mod mend;
mod outcome;
mod region;
pub mod sampling;
pub mod spread;
pub mod study_file;
pub mod sweep;
mod threads;
pub mod threshold_map;
mod trial;
pub mod tune;
mod verdict;
pub mod week;

pub use borders::{Edge, Reason, Said};
pub use case::{Case, CaseError};
pub use differences::{Difference, Effect};
pub use headlines::{HEADLINES, Headline};
pub use outcome::{Outcome, Witness};
pub use region::{Region, hunts_on};
pub use sweep::{Job, Sweep};
pub use threads::{OneThread, Threads};
pub use trial::{Trial, TrialError};
pub use verdict::{Trouble, Verdict};
