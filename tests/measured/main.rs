//! Predictions compared with measurements that nobody here made: volts of real vehicles.
//!
//! The logs are no part of this project. `TICKOVER_MEASURED` names their folder by an absolute path; where it is not set these
//! tests say so and check nothing. They are few, uncalibrated, of one vehicle: they can show the model wrong, never right. What
//! they are, their licences, and what was fitted and what was held out stands in `tests/MEASURED.md`.

mod hatchback;
mod log;
mod phases;
mod rule;
mod thresholds;
