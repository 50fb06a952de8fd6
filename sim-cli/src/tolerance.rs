//! The error that a run is allowed per step where nobody says.

use sim_core::{Options, Profile};

/// Pieces from which a drive is a log: its rows come with errors far above those of any run, and each begins with a transient
/// of some tenths of a second that would be followed to the microampere.
const LOG: usize = 5_000;
/// What a log's steps are allowed. Against the reference stepper at 1e-11, 23 minutes in town at 1 Hz, and half of them with
/// another load every second, keep every event within 50 µs and both states of charge within 3e-8 (`tests/logs.rs`).
const OF_A_LOG: f64 = 1e-5;

/// Error allowed per step of a drive.
pub fn of(profile: &Profile) -> f64 {
    if profile.pieces().len() > LOG { OF_A_LOG } else { Options::default().tolerance }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sim_core::Instant;
    use sim_core::model::Piece;

    #[test]
    fn a_log_is_told_by_how_many_rows_differ() {
        let drive = |rows: usize, alike: usize| {
            let at = |row: usize| Instant::from_s(row as f64);
            let row = |n: usize| Piece {
                start: at(n),
                end: at(n + 1),
                house_load_w: (n / alike % 2) as f64,
                ..Piece::NOTHING
            };
            of(&Profile::new((0..rows).map(row), 0.0).expect("a drive"))
        };
        assert_eq!(drive(LOG + 1, 1), OF_A_LOG);
        assert_eq!(drive(LOG, 1), Options::default().tolerance);
        assert_eq!(drive(3 * LOG, 4), Options::default().tolerance);
    }
}
