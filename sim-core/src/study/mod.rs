//! Questions that take more than one run: each is a list of independent jobs and an ordered fold of what they return.
//!
//! A [`Case`] is a scenario of which any key can be changed; a [`Trial`] is one run of it in a handful of numbers. Whoever
//! has threads lends them: a job borrows nothing but its case.

mod case;
pub mod cliff;
pub mod headlines;
pub mod map_lines;
mod region;
pub mod sampling;
pub mod spread;
pub mod study_file;
pub mod sweep;
mod threads;
pub mod threshold_map;
pub mod tune;
mod trial;
mod verdict;
pub mod week;

pub use case::{Case, CaseError};
pub use headlines::{HEADLINES, Headline, Outcome};
pub use region::{Region, hunts_on};
pub use sweep::{Job, Sweep};
pub use threads::{OneThread, Threads};
pub use trial::{Trial, TrialError};
pub use verdict::{Trouble, Verdict};
