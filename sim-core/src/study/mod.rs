//! Questions that take more than one run: each is a list of independent jobs and an ordered fold of what they return.
//!
//! A [`Case`] is a scenario of which any key can be changed; a [`Trial`] is one run of it in a handful of numbers. Whoever
//! has threads lends them: a job borrows nothing but its case.
//!
//! ```
//! use sim_core::scenario::node::{Node, Place, Value};
//! use sim_core::study::sweep::{Over, Points, Variant, Vary};
//! use sim_core::study::{Case, OneThread, Sweep, Threads};
//!
//! let place = Place { source: 0, start: 0, end: 0 };
//! let table = || Node { place, value: Value::Table(Vec::new()) };
//! let van = Case::new(table(), Default::default())
//!     .with("format", 1.0)?
//!     .with_value("drive.piece", Value::List(vec![table()]))?
//!     .with("drive.piece.1.duration_min", 45.0)?
//!     .with("drive.piece.1.engine_rpm", 2000.0)?;
//! let sweep = Sweep {
//!     variants: vec![Variant { name: String::new(), case: van }],
//!     vary: vec![Vary { path: "input_cable.length_m".into(), over: Over::span(4.0, 20.0, 3, false) }],
//!     points: Points::Grid,
//!     tolerance: 1e-8,
//! };
//! // Whoever has threads implements `Threads`; the outcome is the same.
//! let jobs = sweep.len().expect("countable") as usize;
//! let outcomes = OneThread.map(jobs, |n| sweep.run(&sweep.job(n as u64)));
//! assert_eq!((outcomes[0].word(), outcomes[2].word()), ("good", "keeps dropping out"));
//! # Ok::<(), sim_core::study::CaseError>(())
//! ```

mod borders;
mod case;
pub mod cliff;
pub mod closed_forms;
mod cycles;
mod differences;
pub mod distance;
mod finish;
pub mod headlines;
pub mod key_off;
pub mod knobs;
pub mod map_lines;
pub mod margins;
pub mod measured_cars;
pub mod mend;
mod outcome;
pub mod population;
mod reasons;
mod region;
pub mod sampling;
pub mod size;
pub mod study_file;
pub mod sweep;
mod threads;
pub mod threshold_map;
mod trial;
pub mod tune;
pub mod week;

pub use borders::{Edge, Said};
pub use case::{Case, CaseError};
pub use differences::{Difference, Effect};
pub use headlines::{HEADLINES, Headline};
pub use outcome::{Outcome, Witness, WitnessOf};
pub use reasons::Reason;
pub use region::Region;
pub use sweep::{Job, Sweep};
pub use threads::{OneThread, Threads};
pub use trial::{TOLERANCE_OF_MANY, Trial, TrialError};
