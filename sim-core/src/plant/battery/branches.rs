//! The plain battery: two resistor-capacitor branches behind a resistance and an EMF, constant in temperature, with a
//! named saturated mode when full. Closed forms, circuit simulators and independent programs can check it to many digits.

use super::{Emf, Flow, Hold, Port};
use serde::Serialize;

/// The three states that every chemistry has.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BranchState {
    /// State of charge, 1 = full.
    pub soc: f64,
    /// Polarisation of the fast branch, V.
    pub v1: f64,
    /// Polarisation of the slow branch, V.
    pub v2: f64,
}

/// What the battery's current turns into, A and W; every term at or above zero in normal running.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PlainRates {
    /// Charge current lost to coulombic efficiency, A.
    pub lost_a: f64,
    /// Charge current offered to a full battery, A.
    pub refused_a: f64,
    /// Heat in the series resistance, W.
    pub ohmic_w: f64,
    /// Heat in the polarisation branches, W.
    pub branch_w: f64,
}

/// Two resistor-capacitor branches behind a resistance and an EMF: the plain battery.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlainBattery {
    /// Capacity between SOC 0 and 1, C.
    pub capacity_c: f64,
    /// Rested voltage against state of charge.
    pub emf: Emf,
    /// Series resistance, Ω.
    pub r0_ohm: f64,
    /// Resistances of the branches, Ω.
    pub branch_ohm: [f64; 2],
    /// Time constants of the branches, s.
    pub branch_s: [f64; 2],
    /// Share of charge current that raises the state of charge.
    pub charge_efficiency: f64,
    /// State of charge at the start of the run.
    pub start_soc: f64,
}

impl PlainBattery {
    /// Rested states at the start of the run.
    pub fn start(&self) -> BranchState {
        BranchState { soc: self.start_soc, v1: 0.0, v2: 0.0 }
    }

    /// The Thevenin port with the table piece held.
    pub fn port(&self, x: &BranchState, hold: Hold) -> Port {
        Port { emf_v: self.emf.value_in(hold.piece, x.soc) + x.v1 + x.v2, r_ohm: self.r0_ohm }
    }

    /// What holds at this state with current `i`.
    pub fn hold(&self, x: &BranchState, i: f64) -> Hold {
        // At rest the sign of the current is rounding; a full battery left alone must not seem to come and go.
        let flow = if i >= -FLOW_SLACK_A { Flow::Charging } else { Flow::Discharging };
        let saturated = flow == Flow::Charging && x.soc >= 1.0;
        Hold { flow, saturated, piece: self.emf.piece_of(x.soc) }
    }

    /// At or above zero while the hold stands, negative once it should have changed.
    pub fn margin(&self, x: &BranchState, i: f64, hold: Hold) -> f64 {
        let flow = self.flow_margin(x, i, hold);
        if hold.saturated {
            return flow;
        }
        let end = match hold.flow {
            Flow::Charging => 1.0 - x.soc,
            Flow::Discharging => f64::INFINITY,
        };
        let (low, high) = self.emf.bounds(hold.piece);
        flow.min(end).min(x.soc - low + PIECE_SLACK).min(high - x.soc + PIECE_SLACK)
    }

    /// The sign of the current only matters where it changes a derivative.
    fn flow_margin(&self, x: &BranchState, i: f64, hold: Hold) -> f64 {
        if self.charge_efficiency == 1.0 && !hold.saturated && x.soc < 0.999 {
            return f64::INFINITY;
        }
        FLOW_SLACK_A + if hold.flow == Flow::Charging { i } else { -i }
    }

    /// Derivatives of the states with current `i`.
    pub fn derivative(&self, x: &BranchState, i: f64, hold: Hold) -> BranchState {
        BranchState {
            soc: self.stored_a(i, hold) / self.capacity_c,
            v1: (i * self.branch_ohm[0] - x.v1) / self.branch_s[0],
            v2: (i * self.branch_ohm[1] - x.v2) / self.branch_s[1],
        }
    }

    /// The part of the current that changes the state of charge, A.
    fn stored_a(&self, i: f64, hold: Hold) -> f64 {
        match (hold.saturated, hold.flow) {
            (true, _) => 0.0,
            (false, Flow::Charging) => self.charge_efficiency * i,
            (false, Flow::Discharging) => i,
        }
    }

    /// What the current turns into, apart from what is stored.
    pub fn rates(&self, x: &BranchState, i: f64, hold: Hold) -> PlainRates {
        let mut rates = PlainRates { ohmic_w: self.r0_ohm * i * i, ..PlainRates::default() };
        for (v, r) in [(x.v1, self.branch_ohm[0]), (x.v2, self.branch_ohm[1])] {
            if r > 0.0 {
                rates.branch_w += v * v / r;
            }
        }
        match (hold.saturated, hold.flow) {
            (true, _) => rates.refused_a = i,
            (false, Flow::Charging) => rates.lost_a = (1.0 - self.charge_efficiency) * i,
            (false, Flow::Discharging) => {}
        }
        rates
    }

    /// Energy put into store between two states, J: chemical, plus what sits on the branches' capacitances.
    pub fn stored_j(&self, from: &BranchState, to: &BranchState) -> f64 {
        let mut j = self.capacity_c * self.emf.integral(from.soc, to.soc);
        let branches = [(from.v1, to.v1, 0), (from.v2, to.v2, 1)];
        for (a, b, n) in branches {
            if self.branch_ohm[n] > 0.0 {
                j += 0.5 * self.branch_s[n] / self.branch_ohm[n] * (b * b - a * a);
            }
        }
        j
    }
}

/// Overlap of table pieces in SOC, so that a state on a knot never hands over back and forth.
const PIECE_SLACK: f64 = 1e-13;
/// Overlap of the two directions of current, A.
const FLOW_SLACK_A: f64 = 1e-9;

#[cfg(test)]
mod tests {
    use super::*;

    fn battery() -> PlainBattery {
        PlainBattery {
            capacity_c: 80.0 * 3600.0,
            emf: Emf::Linear { empty_v: 11.85, full_v: 12.7 },
            r0_ohm: 0.005,
            branch_ohm: [0.006, 0.012],
            branch_s: [60.0, 1200.0],
            charge_efficiency: 0.95,
            start_soc: 0.9,
        }
    }

    #[test]
    fn every_ampere_goes_somewhere() {
        let b = battery();
        for soc in [0.0, 0.5, 1.0] {
            for i in [-40.0, 0.0, 25.0] {
                let x = BranchState { soc, v1: 0.02, v2: -0.01 };
                let hold = b.hold(&x, i);
                let r = b.rates(&x, i, hold);
                let stored = b.derivative(&x, i, hold).soc * b.capacity_c;
                let sum = stored + r.lost_a + r.refused_a;
                assert!((sum - i).abs() < 1e-12, "soc {soc}, {i} A: {sum}");
            }
        }
    }
}
