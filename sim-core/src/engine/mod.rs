//! Stepping between located events.
//!
//! Discrete state and network regime are held while a step is taken; whatever would change them is a guard, and the step
//! ends just past the first guard that flips. Nothing is polled. A step returns why it ended.

pub(crate) mod again;
mod ahead;
pub(crate) mod budget;
mod courses;
pub mod dense;
pub mod dormand_prince;
pub mod extremes;
pub(crate) mod fades;
mod finite;
mod fuses;
pub mod gate;
mod guards;
mod locate;
mod rates;
pub mod rodas5p;
pub mod rosenbrock;
mod run;
mod simulate;
mod standing;
mod statistics;
mod steppers;
pub(crate) mod stop_start;
pub mod trace;

pub use guards::Guard;
pub use rates::rates;
pub use run::{Options, Record, Run, RunError, Stretch};
pub(crate) use simulate::retake;
pub use simulate::{simulate, simulate_as_far, simulate_from};
pub use standing::Standing;
pub use statistics::Statistics;
pub use steppers::Stepper;
pub use stop_start::{Stops, decide_stops};
