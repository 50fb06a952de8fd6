//! What happens between the alternator and the house battery, second by second.
//!
//! The library knows no files, clock, threads or terminal. Data flows one way:
//!
//! 1. *What was written*: a [`scenario::Scenario`], in the user's units, every value with its origin.
//! 2. *What it means*: [`resolve::resolve`] makes a [`Model`] in SI and a [`Profile`] of conditions over time.
//! 3. *What happens*: [`simulate`] steps between located events and returns a [`Run`].
//! 4. *What it tells*: [`record::Summary`], events with causes, ledgers, a lazily evaluated trace.
//!
//! Current into a battery is positive. Run, converter, alternator and load currents are positive in the direction of
//! charging the house battery or feeding the load.
//!
//! ```
//! use sim_core::scenario::{Num, Scenario, drive::PieceSpec};
//! use sim_core::{Options, record::Summary, resolve::resolve, simulate};
//!
//! let mut van = Scenario::default();
//! van.converter.output_limit_a.set(30.0);
//! let minutes = |min: f64, rpm: f64| PieceSpec {
//!     duration_min: Some(Num::typed(min)),
//!     engine_rpm: Some(Num::typed(rpm)),
//!     ..PieceSpec::default()
//! };
//! van.pieces = vec![minutes(45.0, 2000.0), minutes(60.0, 0.0)];
//!
//! let ready = resolve(&van, &|_| None).expect("a consistent scenario");
//! let run = simulate(&ready.model, &ready.profile, &Options::default()).expect("a run");
//! let summary = Summary::new(&run, &ready.model, &ready.profile);
//! assert_eq!(summary.came_on, 1);
//! assert!(summary.house_gain_driving_ah > 15.0);
//!
//! // Volts and amps at any instant are evaluated when asked for.
//! let sample = run.trace.at(&ready.model, &ready.profile, sim_core::Instant::from_s(1200.0));
//! assert!(sample.expect("within the run").net.in_v > 12.8);
//! ```

pub mod bounds;
pub mod column;
pub mod constants;
pub mod effects;
pub mod engine;
pub mod explain;
pub mod judge;
pub mod logic;
pub mod mode;
pub mod model;
pub mod netlist;
pub mod network;
pub mod pchip;
pub mod plant;
mod plant_view;
pub mod record;
pub mod resolve;
mod run_data;
pub mod scenario;
pub mod spread;
pub mod state;
pub mod study;
pub mod time;

pub use engine::{
    Options, Record, Run, RunError, Standing, Stepper, simulate, simulate_as_far, simulate_from,
};
pub use model::pieces::Pieces;
pub use model::{Model, Piece, Profile};
pub use time::Instant;

/// Compiles and runs the README's example with the other documentation tests.
#[cfg(doctest)]
#[doc = include_str!("../../README.md")]
struct Readme;
