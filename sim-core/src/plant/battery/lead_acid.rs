//! Lead-acid battery: charge acceptance that shuts near full, gassing, surface charge, slump and recovery.
//!
//! A third-order model in the spirit of Ceraolo (IEEE Trans. Power Systems 15(4), 2000) and Jackey (SAE 2007-01-0778):
//! an EMF and two polarisation branches, with a gassing branch in parallel, all behind one resistance. Every branch
//! carries a capacitance and is written with conductances that go to zero, never with resistances that go to infinity,
//! so the port is a Thevenin source at every instant. Current into the battery is positive.
//!
//! ```text
//! V   = E + R0·I            E = E0 + (E1 − E0)·s + kE·ΔT + v1 + v2      ΔT = T − 25 °C
//! Im  = I − Ig − Isd        R0 = R00·(1 + a0·(1 − s))·exp(−kR·ΔT)
//! C·dv/dt = Im − i(v, s)    i: charge side shuts as a·s → 1, discharge side when the plates are locally empty
//! ```
//!
//! With all extras set to nothing ([`LeadAcid::plain`]) the states and the port are those of [`PlainBattery`] to the bit for
//! SOC between 0 and 1; there is no saturated mode here: volts rise, or fall, past the ends instead.

use super::{BranchState, Emf, PlainBattery, Port};

mod branch;
mod held;
mod slopes;
#[cfg(test)]
mod tests;

pub use branch::{Branch, BranchHold, Side};
pub(crate) use held::MOST_Z;
pub use held::{LeadAcidAt, LeadAcidHold};
use serde::Serialize;

/// Temperature that all parameters belong to, °C.
pub const REFERENCE_C: f64 = 25.0;

/// Gassing branch: `Ig = Is·exp(k·ΔT)·(e^z − 1 − z)`, `z = (E − onset − kE·ΔT)/slope`, none below the onset.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Gassing {
    /// Scale `Is`, A; 0: no gassing.
    pub scale_a: f64,
    /// Volts per e-fold far above the onset, V; above zero.
    pub slope_v: f64,
    /// Onset at 25 °C, V.
    pub onset_v: f64,
    /// Volts that leave with the gas (thermoneutral voltage of water splitting); 0 for recombining types.
    pub carried_v: f64,
}

/// A lead-acid battery of any number of cells in series; all values are for the whole battery at 25 °C.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeadAcid {
    /// Cells in series; 6 in a 12 V battery.
    pub cells: u16,
    /// Charge between SOC 0 and 1, C.
    pub capacity_c: f64,
    /// Rested voltage at SOC 0, V.
    pub empty_v: f64,
    /// Rested voltage at SOC 1, V.
    pub full_v: f64,
    /// EMF with temperature, V/K.
    pub emf_v_per_k: f64,
    /// Series resistance when full, Ω.
    pub r0_ohm: f64,
    /// Share by which the series resistance is higher when empty; 0: constant.
    pub r0_empty_rise: f64,
    /// Series resistance with cold, 1/K; 0: constant.
    pub r0_per_k: f64,
    /// Charge transfer: seconds.
    pub fast: Branch,
    /// Acid in the plates: minutes to hours.
    pub slow: Branch,
    /// Local depletion of SOC per volt of slow discharge polarisation (Peukert-like), 1/V; 0: none.
    pub depletion_per_v: f64,
    /// Slow discharge polarisation from which depletion goes with it in proportion, V; below, with its square.
    pub depletion_soft_v: f64,
    /// Gassing.
    pub gassing: Gassing,
    /// Self-discharge as a share of the charge held, 1/s; 0: none.
    pub self_discharge_per_s: f64,
    /// Gassing and self-discharge with warmth, 1/K.
    pub gassing_per_k: f64,
    /// Share of main-branch charge current that raises the state of charge; 1 when gassing tells the loss.
    pub charge_efficiency: f64,
    /// State of charge at the start of the run.
    pub start_soc: f64,
}

/// What a lead-acid battery's current turns into; every term at or above zero, [`LeadAcidRates::chemical_w`] apart.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LeadAcidRates {
    /// Current that splits water, A.
    pub gassed_a: f64,
    /// Charge that the battery loses by itself, A.
    pub self_discharged_a: f64,
    /// Charge current lost to coulombic efficiency, A.
    pub lost_a: f64,
    /// Power into chemical store, W; negative on discharge.
    pub chemical_w: f64,
    /// Heat in the series resistance, W.
    pub ohmic_w: f64,
    /// Heat in the two branches, W.
    pub branch_w: f64,
    /// Power into gassing, W.
    pub gassing_w: f64,
    /// Power lost to self-discharge, W.
    pub self_discharge_w: f64,
    /// Power lost to coulombic efficiency, W.
    pub lost_w: f64,
    /// Heat to the battery's node, W: all losses less what leaves with the gas. Reversible heat is left out.
    pub heat_w: f64,
}

impl LeadAcid {
    /// The plain battery, all extras at nothing. `None` for a battery with a table: this chemistry's EMF is a line.
    ///
    /// `branch_s` and `branch_ohm` are taken over as they are, so both give the same bits.
    pub fn plain(battery: &PlainBattery, cells: u16) -> Option<LeadAcid> {
        let Emf::Linear { empty_v, full_v } = battery.emf else { return None };
        Some(LeadAcid {
            cells,
            capacity_c: battery.capacity_c,
            empty_v,
            full_v,
            emf_v_per_k: 0.0,
            r0_ohm: battery.r0_ohm,
            r0_empty_rise: 0.0,
            r0_per_k: 0.0,
            fast: Branch::plain(battery.branch_ohm[0], battery.branch_s[0]),
            slow: Branch::plain(battery.branch_ohm[1], battery.branch_s[1]),
            depletion_per_v: 0.0,
            depletion_soft_v: 0.0,
            gassing: Gassing { scale_a: 0.0, slope_v: 1.0, onset_v: full_v, carried_v: 0.0 },
            self_discharge_per_s: 0.0,
            gassing_per_k: 0.0,
            charge_efficiency: battery.charge_efficiency,
            start_soc: battery.start_soc,
        })
    }

    /// The most that its state of charge comes to. Full plates take nothing up, but the two branches, in series, are charged
    /// on: by half the rested volts at most, 19 V on a 12 V battery, where it boils. Some 0.1 % in the built-in kinds.
    pub fn full_soc(&self) -> f64 {
        let ends = [&self.fast, &self.slow].into_iter().filter(|b| b.discharge_ohm > 0.0);
        let per_farad: f64 = ends.map(|b| 1.0 / b.farad()).sum();
        if per_farad > 0.0 { 1.0 + 0.5 * self.full_v / per_farad / self.capacity_c } else { 1.0 }
    }

    /// State of charge at which the plates give no more at the current that would empty the battery in 20 h, at 25 °C: that
    /// much of the charge between 0 and 1 no load ever sees. 0.03 in the flooded starter, 0.10 in the AGM house battery.
    pub fn spent_soc(&self) -> f64 {
        let soft = |v: f64, soft_v: f64| if soft_v > 0.0 { v * v / (v + soft_v) } else { v };
        // Slow polarisation where the branch passes all of it: `v²/(v + w) = I·R`.
        let (y, w) =
            (self.capacity_c / (20.0 * 3600.0) * self.slow.discharge_ohm, self.slow.discharge_soft_v);
        let v = 0.5 * (y + (y * y + 4.0 * y * w).sqrt());
        self.depletion_per_v * soft(v, self.depletion_soft_v)
    }

    /// Rested states at the start of the run. "Just driven" is no rest: type `v1`, `v2`, or simulate the drive.
    pub fn start(&self) -> BranchState {
        BranchState { soc: self.start_soc, v1: 0.0, v2: 0.0 }
    }

    /// The battery at one temperature: the exponentials are worked out once.
    pub fn at(&self, temp_c: f64) -> LeadAcidAt<'_> {
        LeadAcidAt::new(self, temp_c)
    }

    /// The Thevenin port.
    pub fn port(&self, x: &BranchState, temp_c: f64) -> Port {
        self.at(temp_c).port(x)
    }

    /// Derivatives of the states with current `i`, nothing held.
    pub fn derivative(&self, x: &BranchState, i: f64, temp_c: f64) -> BranchState {
        self.at(temp_c).derivative(x, i, &LeadAcidHold::FREE)
    }

    /// What the current turns into, nothing held.
    pub fn rates(&self, x: &BranchState, i: f64, temp_c: f64) -> LeadAcidRates {
        self.at(temp_c).rates(x, i, &LeadAcidHold::FREE)
    }

    /// Holds every kink on the side where it stands; see [`LeadAcidHold`].
    pub fn regime(&self, x: &BranchState, i: f64, temp_c: f64) -> LeadAcidHold {
        self.at(temp_c).regime(x, i)
    }

    /// Energy put into store between two states at one temperature, J: chemical, and on the branches' capacitances.
    ///
    /// While the temperature moves, integrate [`LeadAcidRates::chemical_w`] instead: the EMF moves with it.
    pub fn stored_j(&self, from: &BranchState, to: &BranchState, temp_c: f64) -> f64 {
        let mean_v = self.empty_v
            + 0.5 * (self.full_v - self.empty_v) * (from.soc + to.soc)
            + self.emf_v_per_k * (temp_c - REFERENCE_C);
        self.capacity_c * (to.soc - from.soc) * mean_v
            + self.fast.stored_j(from.v1, to.v1)
            + self.slow.stored_j(from.v2, to.v2)
    }

    /// The same battery with another number of cells: volts and resistances go with it, amperes and seconds stay.
    #[must_use]
    pub fn with_cells(mut self, cells: u16) -> LeadAcid {
        let n = f64::from(cells) / f64::from(self.cells);
        self.cells = cells;
        for v in [&mut self.empty_v, &mut self.full_v, &mut self.emf_v_per_k, &mut self.r0_ohm] {
            *v *= n;
        }
        for branch in [&mut self.fast, &mut self.slow] {
            branch.discharge_ohm *= n;
            branch.charge_soft_v *= n;
            branch.discharge_soft_v *= n;
        }
        let g = &mut self.gassing;
        for v in [&mut g.slope_v, &mut g.onset_v, &mut g.carried_v] {
            *v *= n;
        }
        self.depletion_per_v /= n;
        self.depletion_soft_v *= n;
        self
    }

    /// With a measured series resistance, Ω: whole battery, full, at 25 °C. Set the cells first.
    #[must_use]
    pub fn with_r0(mut self, r0_ohm: f64) -> LeadAcid {
        self.r0_ohm = r0_ohm;
        self
    }

    /// With another state of charge at the start of the run.
    #[must_use]
    pub fn with_start_soc(mut self, start_soc: f64) -> LeadAcid {
        self.start_soc = start_soc;
        self
    }
}
