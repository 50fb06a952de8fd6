//! Parameter values of an LFP battery, each with where it comes from and how far to trust it.

use super::Emf;
use super::lithium::{Ends, Lithium, RelaxingTop};
use super::thermal::ThermalNode;
use crate::pchip::{Pchip, PchipError};
use crate::time::DAY_S;

/// What one LFP cell is made of, at 25 °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LithiumSet {
    /// State of charge at the knots of the table.
    pub soc: &'static [f64],
    /// End-of-charge EMF of a cell at the knots, V.
    pub cell_v: &'static [f64],
    /// State of charge at the knots of the excess; each also a knot of the table.
    pub excess_soc: &'static [f64],
    /// End-of-charge over rested EMF of a cell at those knots, V.
    pub excess_cell_v: &'static [f64],
    /// Time in which the excess relaxes, s.
    pub relax_s: f64,
    /// Throughput that builds or strips the excess, share of capacity.
    pub follow_share: f64,
    /// Series resistance of a cell times capacity, Ω·Ah, its share of protection and links included.
    pub r0_ohm_ah: f64,
    /// Resistances at 0 °C over those at 25 °C.
    pub cold_ratio: f64,
    /// Resistance of the two branches of a cell times capacity, Ω·Ah.
    pub branch_ohm_ah: [f64; 2],
    /// Time constants of the branches, s.
    pub branch_s: [f64; 2],
    /// Hysteresis: half the gap of a cell, V.
    pub hysteresis_cell_v: f64,
    /// Hysteresis: how fast it follows, per capacity of throughput.
    pub hysteresis_rate: f64,
    /// Self-discharge, share per month of 30.4375 days.
    pub self_discharge_per_month: f64,
    /// Coulombic efficiency.
    pub charge_efficiency: f64,
}

/// Measured LFP table of the open data of Sunil, Pattipati and Balasingam (IEEE Trans. Instrum. Meas., 2025): average
/// of charge and discharge at C/32, one 1.2 Ah cell at room temperature. That table is straight from 0.297 to 0.983; the knots
/// 0.50 and 0.70 lie on that line, and 0.80 and 0.90 under it (by 2 and 10 mV), where a cell's last plateau is flat: a bank of
/// four cells rested at 13.26 to 13.28 V for ten weeks (github.com/wkcollis1-eng/Lifepo4-Battery-Banks, CC BY), 96 % full by
/// its owner. 13.27 V is this table's rested volts there less the hysteresis.
pub const LFP: LithiumSet = LithiumSet {
    soc: &[0.0, 0.0534, 0.0885, 0.297, 0.50, 0.70, 0.80, 0.90, 0.983, 0.995, 1.0],
    cell_v: &[2.010, 3.087, 3.194, 3.277, 3.299, 3.321, 3.329, 3.332, 3.351, 3.418, 3.598],
    excess_soc: &[0.90, 0.983, 0.995, 1.0],
    // The plateau goes on to 0.983 at rest: 3.334 V. A rested full cell sits near 3.35 to 3.40 V (common practice): 3.350 V at
    // 0.995 and 3.375 V at 1 taken here.
    excess_cell_v: &[0.0, 0.017, 0.068, 0.223],
    relax_s: 1500.0,             // assumed: tens of minutes
    follow_share: 0.002,         // assumed: a fifth of a per cent of capacity
    r0_ohm_ah: 0.20, // from memory, low confidence: 4 cells, 100 Ah, with protection 5 to 20 mΩ; 8 mΩ here
    cold_ratio: 2.5, // common practice: ×2 to 3 at 0 °C
    branch_ohm_ah: [0.05, 0.10], // assumed, low confidence: 5 and 10 mV per cell at 0.1 C
    branch_s: [40.0, 1200.0], // common practice: 20 to 60 s and 10 to 40 min
    // A cell measured both ways at C/30 (figures only): half the gap is 12 to 29 mV, the drop of that current in it.
    hysteresis_cell_v: 0.015,
    hysteresis_rate: 20.0,          // assumed: 95 % of the way after 15 % of capacity
    self_discharge_per_month: 0.02, // common practice: 1 to 3 % a month, protection included
    charge_efficiency: 0.999,       // from memory: 0.998 to 0.9999
};

/// Range of hysteresis amplitude per cell, V: that of the cell measured at C/30, less some 2 mV of its own drop.
#[cfg(test)]
pub(crate) const HYSTERESIS_CELL_V: (f64, f64) = (0.010, 0.027);
/// Days in a month.
const MONTH_DAYS: f64 = 30.4375;
/// Heat capacity of a cell per capacity, J/(K·Ah): about 1100 J/(kg·K), 25 g/Ah with its share of the case; from memory.
const CELL_J_PER_K_AH: f64 = 28.0;
/// Loss to the air of a four-cell battery of 10 Ah, W/K; assumed like a lead-acid battery of the same case volume.
const W_PER_K_10AH: f64 = 0.3;

impl Lithium {
    /// An LFP battery of `cells` in series (4 to 16) at a label capacity, Ah: rested, half way round its hysteresis.
    ///
    /// # Panics
    /// Never: the built-in tables rise, and a test builds them.
    pub fn lfp(capacity_ah: f64, cells: u16) -> Lithium {
        Lithium::from_set(&LFP, capacity_ah, cells).expect("the built-in table rises")
    }

    /// A battery of `cells` in series from one cell's values.
    ///
    /// # Errors
    /// [`PchipError`] when a table does not rise.
    pub fn from_set(set: &LithiumSet, capacity_ah: f64, cells: u16) -> Result<Lithium, PchipError> {
        let n = f64::from(cells);
        let capacity_c = 3600.0 * capacity_ah;
        let volts = |cell: &[f64]| cell.iter().map(|v| n * v).collect::<Vec<f64>>();
        let ohm = |ohm_ah: f64| n * ohm_ah / capacity_ah;
        Ok(Lithium {
            cells,
            capacity_c,
            emf: Emf::Table(Pchip::new(set.soc, &volts(set.cell_v))?),
            top: Some(RelaxingTop {
                excess: Pchip::new(set.excess_soc, &volts(set.excess_cell_v))?,
                relax_s: set.relax_s,
                follow_c: set.follow_share * capacity_c,
            }),
            ends: Ends::Steep,
            r0_ohm: ohm(set.r0_ohm_ah),
            activation_k: activation_k(set.cold_ratio),
            branch_ohm: set.branch_ohm_ah.map(ohm),
            branch_s: set.branch_s,
            hysteresis_v: n * set.hysteresis_cell_v,
            hysteresis_rate: set.hysteresis_rate,
            self_discharge_per_s: set.self_discharge_per_month / (MONTH_DAYS * DAY_S),
            charge_efficiency: set.charge_efficiency,
            start_soc: 1.0,
            start_hysteresis: 0.0,
        })
    }

    /// A thermal node for this battery's size.
    pub fn thermal_node(&self) -> ThermalNode {
        let quads = f64::from(self.cells) / 4.0;
        let ah = self.capacity_c / 3600.0;
        ThermalNode {
            j_per_k: 4.0 * CELL_J_PER_K_AH * ah * quads,
            w_per_k: W_PER_K_10AH * (ah / 10.0).powf(2.0 / 3.0) * quads,
        }
    }
}

/// Activation temperature that makes a resistance `ratio` times as high at 0 °C as at 25 °C, K.
///
/// 2.5 gives 2985 K, an activation energy of 24.8 kJ/mol; 2 and 3 give 18.8 and 29.8 kJ/mol.
pub fn activation_k(ratio: f64) -> f64 {
    ratio.ln() / (1.0 / 273.15 - 1.0 / 298.15)
}
