//! Drives, written as a list of durations and conditions.

use sim_core::model::{Piece, Profile};
use sim_core::time::Instant;

/// The reference van parked: 0.05 A asleep, 60 W in the house, 20 °C.
pub const PARKED: Piece = Piece {
    start: Instant::ZERO,
    end: Instant::ZERO,
    engine_rpm: 0.0,
    set_point_v: 14.2,
    vehicle_load_a: 0.05,
    house_load_w: 60.0,
    house_solar_w: 0.0,
    air_c: 20.0,
    ..Piece::NOTHING
};

/// The reference van on the road: 2000 rpm, 25 A of its own loads.
pub const DRIVING: Piece = Piece { engine_rpm: 2000.0, vehicle_load_a: 25.0, ..PARKED };

/// A profile of stretches that follow on each other, each with its duration in seconds, from an instant.
///
/// # Panics
/// On an empty list or a duration of nothing.
pub fn day_from(mut at: Instant, stretches: &[(f64, Piece)]) -> Profile {
    let pieces = stretches.iter().map(|&(s, piece)| {
        let start = at;
        at = at.plus_s(s);
        Piece { start, end: at, ..piece }
    });
    Profile::new(pieces, 0.0).expect("stretches with a duration")
}

/// A profile from the start of the run.
pub fn day(stretches: &[(f64, Piece)]) -> Profile {
    day_from(Instant::ZERO, stretches)
}

/// 60 s parked, then a drive, then parked.
pub fn drive_then_park(drive_s: f64, park_s: f64) -> Profile {
    day(&[(60.0, PARKED), (drive_s, DRIVING), (park_s, PARKED)])
}

/// The same conditions cut into bits of at most `longest_s`: steps end there, nothing else changes.
///
/// Equal neighbours would be merged, so every other bit has air warmer by 1e-9 K, which only the case feels.
pub fn chopped(profile: &Profile, longest_s: f64) -> Profile {
    let mut pieces = Vec::new();
    let mut warm = false;
    for piece in profile.pieces().iter() {
        let mut at = piece.start;
        while at < piece.end {
            let end = at.plus_s(longest_s).min(piece.end);
            let air_c = piece.air_c + if warm { 1e-9 } else { 0.0 };
            pieces.push(Piece { start: at, end, air_c, ..piece });
            warm = !warm;
            at = end;
        }
    }
    Profile::new(pieces, profile.start_clock_s).expect("bits that follow on each other")
}
