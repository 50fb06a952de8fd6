//! How much is taken on: what a short file may ask for, and what a long one may hold. The README's table of bounds says
//! the same to its readers, and a test compares the two.
//!
//! Each is there so that memory follows what is done: whatever stays within them is simulated in less than 2 GB.

/// Longest run, days: ten years.
pub const MOST_DAYS: f64 = 3660.0;
/// Most pieces of a drive, repeats counted: rows that say what the row before said make none.
pub const MOST_PIECES: usize = 4_000_000;
/// Most rows of drive files that are gone through to lay one drive: a file driven ten times has ten times its rows.
pub const MOST_ROWS_DRIVEN: u64 = 400_000_000;
/// Most events of a run.
pub const MOST_EVENTS: u64 = 500_000;
/// Most steps of a run, rejected ones counted: a minute or two of a processor. A set-point that comes and goes all by itself for
/// ten years asks for more, and makes no event.
pub const MOST_STEPS: u64 = 20_000_000;
/// Most steps of all runs that one explanation tries: as long again.
pub const MOST_STEPS_TRIED: u64 = MOST_STEPS / 2;
/// Steps that a bounded run keeps unless told otherwise: a week of a log at 1 Hz that drives an hour a day fits.
pub const MOST_STEPS_KEPT: usize = 131_072;
/// Most runs of one sweep.
pub const MOST_RUNS: u64 = 100_000_000;

/// What a bound is passed by, in words: the bound, and how much is asked for.
pub(crate) fn passed(what: &str, most: u64, asked: u64) -> String {
    let from = if asked > most { format!("; {asked} come from here") } else { String::new() };
    format!("this asks for more than {most} {what}, the most that are taken{from}")
}
