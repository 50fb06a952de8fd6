//! Days told apart: pieces are cut at midnight and numbered, so that a run books each day by itself.

use crate::model::Piece;
use crate::time::DAY_S;
use crate::time::Instant;

/// Whether instants lie on more than one day.
pub(super) fn several(mut at: impl Iterator<Item = Instant>, start_clock_s: f64) -> bool {
    let day_of = |t: Instant| ((start_clock_s + t.as_s()) / DAY_S).floor().max(0.0) as u32;
    at.next().is_some_and(|first| at.any(|t| day_of(t) != day_of(first)))
}

/// One piece as the days that it reaches into, cut at midnight and numbered.
pub(super) fn parts(piece: Piece, start_clock_s: f64) -> impl Iterator<Item = Piece> {
    let mut rest = Some(piece);
    std::iter::from_fn(move || {
        let piece = rest.take()?;
        let day = ((start_clock_s + piece.start.as_s()) / DAY_S + 1e-12).floor().max(0.0) as u32;
        let midnight = Instant::ZERO.plus_s(f64::from(day + 1) * DAY_S - start_clock_s);
        if piece.end <= midnight || midnight <= piece.start {
            return Some(Piece { day, ..piece });
        }
        rest = Some(Piece { start: midnight, ..piece });
        Some(Piece { day, end: midnight, ..piece })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(from_h: f64, to_h: f64, engine_rpm: f64) -> Piece {
        let at = |h: f64| Instant::from_s(h * 3600.0);
        Piece { start: at(from_h), end: at(to_h), engine_rpm, ..Piece::NOTHING }
    }

    fn driven_on_several(pieces: &[Piece], start_clock_s: f64) -> bool {
        several(pieces.iter().filter(|p| p.engine_runs()).map(|p| p.start), start_clock_s)
    }

    #[test]
    fn midnight_cuts_where_two_days_are_driven() {
        let pieces = vec![piece(0.0, 1.0, 2000.0), piece(1.0, 47.0, 0.0), piece(47.0, 48.0, 2000.0)];
        assert!(driven_on_several(&pieces, 8.0 * 3600.0));
        let cut: Vec<Piece> = pieces.into_iter().flat_map(|p| parts(p, 8.0 * 3600.0)).collect();
        let days: Vec<u32> = cut.iter().map(|p| p.day).collect();
        assert_eq!(days, [0, 0, 1, 2, 2], "parked until the second midnight, then driven");
        assert_eq!(cut[2].start, Instant::from_s(16.0 * 3600.0));
        assert!(cut.windows(2).all(|w| w[0].end == w[1].start));
    }

    #[test]
    fn a_parked_month_stays_one_piece() {
        let pieces = vec![piece(0.0, 1.0, 2000.0), piece(1.0, 721.0, 0.0)];
        assert!(!driven_on_several(&pieces, 0.0));
    }
}
