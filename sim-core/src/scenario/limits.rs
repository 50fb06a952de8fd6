//! Limits that the user sets: a run that breaks one says so and ends with an exit code of its own.

use super::field::Num;
use super::key::{Unit, number};
use super::section::section;

/// Crank reserve that a margin is held against where nobody writes one, %: common practice, no source.
pub const CRANK_RESERVE_PCT: f64 = 50.0;

section! {
    /// `[limits]`: what must not happen. Nothing is limited unless it is written here.
    LimitsSpec {
        /// Smallest margin to turn-off with the unit on and the engine running, V.
        least_margin_v: Option<Num> = number(Unit::V, -20.0, 20.0),
        /// Most times that the unit may drop out with the engine running.
        most_drop_outs: Option<Num> = number(Unit::One, 0.0, 1e9),
        /// Longest that the unit may run on after key-off, min.
        longest_run_on_min: Option<Num> = number(Unit::Min, 0.0, 1e6),
        /// Lowest state of charge of the house battery at the end, %.
        least_house_end_pct: Option<Num> = number(Unit::Pct, 0.0, 100.0),
        /// Lowest state of charge of the house battery at any time, %.
        least_house_pct: Option<Num> = number(Unit::Pct, 0.0, 100.0),
        /// Crank reserve: state of charge that the starter battery needs at every engine start, and at every day's end
        /// (unwritten it breaks no run, and `margins` takes 50 %: common practice, no source), %.
        crank_reserve_pct: Option<Num> = number(Unit::Pct, 0.0, 100.0),
        /// Lowest state of charge of the starter battery at the end, %.
        least_starter_end_pct: Option<Num> = number(Unit::Pct, 0.0, 100.0),
        /// Largest input current, A.
        most_input_a: Option<Num> = number(Unit::A, 0.0, 2000.0),
    }
}
