//! Rested voltage against state of charge.

use crate::pchip::Pchip;
use serde::Serialize;

/// Rested voltage of a whole battery.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Emf {
    /// A straight line.
    Linear {
        /// At SOC 0, V.
        empty_v: f64,
        /// At SOC 1, V.
        full_v: f64,
    },
    /// A monotone cubic through a table.
    Table(Pchip),
}

impl Emf {
    /// The table piece that holds a state of charge; 0 for a line.
    pub fn piece_of(&self, soc: f64) -> u16 {
        match self {
            Emf::Linear { .. } => 0,
            Emf::Table(p) => p.piece_of(soc) as u16,
        }
    }

    /// Where a piece begins and ends, SOC.
    pub fn bounds(&self, piece: u16) -> (f64, f64) {
        match self {
            Emf::Linear { .. } => (f64::NEG_INFINITY, f64::INFINITY),
            Emf::Table(p) => p.bounds(usize::from(piece)),
        }
    }

    /// Volts with the piece held.
    pub fn value_in(&self, piece: u16, soc: f64) -> f64 {
        match self {
            Emf::Linear { empty_v, full_v } => empty_v + (full_v - empty_v) * soc,
            Emf::Table(p) => p.value_in(usize::from(piece), soc),
        }
    }

    /// Slope dV/dSOC with the piece held.
    pub fn slope_in(&self, piece: u16, soc: f64) -> f64 {
        match self {
            Emf::Linear { empty_v, full_v } => full_v - empty_v,
            Emf::Table(p) => p.slope_in(usize::from(piece), soc),
        }
    }

    /// Greatest slope dV/dSOC within a piece.
    pub fn steepest_in(&self, piece: u16) -> f64 {
        let (from, to) = self.bounds(piece);
        let (origin, [_, _, bend, twist]) = self.cubic_in(piece);
        // The slope is a parabola; a straight continuation has one slope, at whichever end it has.
        let turn = origin - bend / (3.0 * twist);
        let turn = if turn > from && turn < to { turn } else { from };
        let at = [from, to, turn].into_iter().filter(|soc| soc.is_finite());
        at.map(|soc| self.slope_in(piece, soc)).fold(0.0, f64::max)
    }

    /// A piece as a cubic: where it is counted from, SOC, and its four coefficients, V.
    pub fn cubic_in(&self, piece: u16) -> (f64, [f64; 4]) {
        match self {
            Emf::Linear { empty_v, full_v } => (0.0, [*empty_v, full_v - empty_v, 0.0, 0.0]),
            Emf::Table(p) => p.cubic_in(usize::from(piece)),
        }
    }

    /// The same curve moved by `dv`, V.
    #[must_use]
    pub fn moved_v(&self, dv: f64) -> Emf {
        match self {
            Emf::Linear { empty_v, full_v } => Emf::Linear { empty_v: empty_v + dv, full_v: full_v + dv },
            Emf::Table(p) => Emf::Table(p.moved(dv)),
        }
    }

    /// Integral over SOC, V.
    pub fn integral(&self, from: f64, to: f64) -> f64 {
        match self {
            Emf::Linear { empty_v, full_v } => {
                (to - from) * (empty_v + 0.5 * (full_v - empty_v) * (from + to))
            }
            Emf::Table(p) => p.integral(from, to),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_steepest_of_a_piece_is_above_all_of_it() {
        let table = Pchip::new(&[0.0, 0.1, 0.5, 0.9, 1.0], &[10.0, 12.0, 12.4, 13.1, 14.9]).expect("a table");
        let emf = Emf::Table(table);
        for (piece, from, to) in [(0, -0.2, 0.0), (1, 0.0, 0.1), (2, 0.1, 0.5), (3, 0.5, 0.9), (4, 0.9, 1.0)]
        {
            let all = (0..=1000).map(|n| emf.slope_in(piece, from + (to - from) * f64::from(n) / 1000.0));
            let (found, wanted) = (emf.steepest_in(piece), all.fold(0.0, f64::max));
            assert!((found - wanted).abs() < 1e-4 * wanted, "{piece}: {found} against {wanted}");
        }
        // A line has no ends: its volts turn nothing back sooner anywhere.
        assert_eq!(Emf::Linear { empty_v: 12.0, full_v: 12.8 }.steepest_in(0), 0.0);
    }
}
