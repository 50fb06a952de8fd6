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
