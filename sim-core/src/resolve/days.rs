//! Days told apart: pieces are cut at midnight and numbered, so that a run books each day by itself.

use crate::model::Piece;
use crate::record::days::DAY_S;
use crate::time::Instant;

/// Cuts pieces at midnight and numbers the days, where the engine runs on more than one of them.
pub(super) fn told_apart(pieces: Vec<Piece>, start_clock_s: f64) -> Vec<Piece> {
    let day_of = |t: Instant| ((start_clock_s + t.as_s()) / DAY_S).floor().max(0.0) as u32;
    let mut driven = pieces.iter().filter(|p| p.engine_runs()).map(|p| day_of(p.start));
    let first = driven.next();
    if first.is_none() || driven.all(|day| Some(day) == first) {
        return pieces;
    }
    pieces.into_iter().flat_map(|p| cut(p, start_clock_s)).collect()
}

/// One piece as the days that it reaches into.
fn cut(piece: Piece, start_clock_s: f64) -> Vec<Piece> {
    let mut parts = Vec::new();
    let mut rest = piece;
    loop {
        let day = ((start_clock_s + rest.start.as_s()) / DAY_S + 1e-12).floor().max(0.0) as u32;
        let midnight = Instant::ZERO.plus_s(f64::from(day + 1) * DAY_S - start_clock_s);
        if rest.end <= midnight || midnight <= rest.start {
            parts.push(Piece { day, ..rest });
            return parts;
        }
        parts.push(Piece { day, end: midnight, ..rest });
        rest.start = midnight;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(from_h: f64, to_h: f64, engine_rpm: f64) -> Piece {
        let at = |h: f64| Instant::from_s(h * 3600.0);
        Piece { start: at(from_h), end: at(to_h), engine_rpm, ..Piece::NOTHING }
    }

    #[test]
    fn midnight_cuts_where_two_days_are_driven() {
        let pieces = vec![piece(0.0, 1.0, 2000.0), piece(1.0, 47.0, 0.0), piece(47.0, 48.0, 2000.0)];
        let cut = told_apart(pieces, 8.0 * 3600.0);
        let days: Vec<u32> = cut.iter().map(|p| p.day).collect();
        assert_eq!(days, [0, 0, 1, 2, 2], "parked until the second midnight, then driven");
        assert_eq!(cut[2].start, Instant::from_s(16.0 * 3600.0));
        assert!(cut.windows(2).all(|w| w[0].end == w[1].start));
    }

    #[test]
    fn a_parked_month_stays_one_piece() {
        let pieces = vec![piece(0.0, 1.0, 2000.0), piece(1.0, 721.0, 0.0)];
        assert_eq!(told_apart(pieces.clone(), 0.0), pieces);
    }
}
