//! Wild vehicles whose drives are logs at 1 Hz: engine speed wanders row by row, and on some what else a log may carry.

use crate::dice::Dice;
use crate::{wild, wild_full};
use sim_core::model::{Model, Piece, Profile};

/// Rows of each driven stretch; what is left of it is one piece.
const ROWS: i64 = 150;
const SECOND_NS: i64 = 1_000_000_000;

/// A vehicle and a logged drive from a seed; one in four is plain.
pub fn wild_log(seed: u64) -> (Model, Profile) {
    let (model, profile) = if seed.is_multiple_of(4) { wild::wild(seed) } else { wild_full::wild_full(seed) };
    let mut d = Dice::new(seed.wrapping_mul(0xd134_2543_de82_ef95) ^ 0x106);
    let mut pieces = Vec::new();
    for piece in profile.pieces().iter() {
        if piece.engine_rpm > 0.0 { rows(&mut d, &piece, &mut pieces) } else { pieces.push(piece) }
    }
    (model, Profile::new(pieces, profile.start_clock_s).expect("rows follow on each other"))
}

fn rows(d: &mut Dice, piece: &Piece, out: &mut Vec<Piece>) {
    let idle_rpm = d.between(550.0, 900.0);
    let with_loads = d.chance(0.2);
    let (mut rpm, mut wanted) = (idle_rpm, idle_rpm);
    let (mut start, mut load_a) = (piece.start, piece.vehicle_load_a);
    for _ in 0..ROWS {
        if start.plus_ns(SECOND_NS) >= piece.end {
            break;
        }
        if d.once_in(12) {
            wanted = if d.chance(0.3) { idle_rpm } else { d.between(idle_rpm, 4000.0) };
        }
        rpm += 0.4 * (wanted - rpm) + d.between(-15.0, 15.0);
        if with_loads && d.once_in(15) {
            load_a = piece.vehicle_load_a + d.between(0.0, 25.0);
        }
        let end = start.plus_ns(SECOND_NS);
        out.push(Piece { start, end, engine_rpm: rpm.max(400.0), vehicle_load_a: load_a, ..*piece });
        start = end;
    }
    out.push(Piece { start, ..*piece });
}
