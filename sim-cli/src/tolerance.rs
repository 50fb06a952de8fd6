//! The error that a run is allowed per step where nobody says.

use sim_core::{Options, Profile};

/// Pieces from which a drive is a log: its rows come with errors far above those of any run, and each begins with a transient
/// of some tenths of a second that would be followed to the microampere.
const LOG: usize = 5_000;
/// What a log's steps are allowed. Against the reference stepper at 1e-11, 23 minutes in town at 1 Hz, and half of them with
/// another load every second, keep every event within 10 µs and both states of charge within 3e-8 (`tests/logs.rs`).
const OF_A_LOG: f64 = 1e-6;

/// Error allowed per step of a drive.
pub fn of(profile: &Profile) -> f64 {
    if profile.pieces().len() > LOG { OF_A_LOG } else { Options::default().tolerance }
}
