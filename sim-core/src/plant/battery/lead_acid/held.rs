//! The lead-acid equations at one temperature, with kinks held or free.

use super::branch::{Branch, BranchFactors, BranchHold, SLACK, Side, quadratic_start};
use super::{LeadAcid, LeadAcidRates, REFERENCE_C};
use crate::plant::battery::at_temp::grown;
use crate::plant::battery::{BranchState, Port};

/// Gassing exponent past which the curve goes on straight; a 12 V battery is then above 19 V.
pub(crate) const MOST_Z: f64 = 12.0;

/// Sides held of every kink of the right-hand side.
///
/// Where the slope jumps (a corner): charge acceptance at `a·s = 1`, discharge conductance at a locally empty plate,
/// self-discharge at SOC 0, and the main current's sign when the charge efficiency is not 1. Where only the curvature
/// jumps: the signs of `v1` and `v2` (corners too when a step of activation is 0) and the onset of gassing. The built-in kinds have
/// no efficiency corner. Measured with a 5(4) pair at 1e-8 per step: over a day all kinks free end as close as all held
/// (4e-9 V); through the collapse of locally empty plates free ends 1.4e-7 V off, corners held 2e-9 V.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LeadAcidHold {
    /// Fast branch.
    pub fast: BranchHold,
    /// Slow branch.
    pub slow: BranchHold,
    /// EMF above the onset of gassing.
    pub gassing: Side,
    /// SOC above zero: the battery discharges itself.
    pub holding_charge: Side,
    /// Main-branch current at or above zero.
    pub flow: Side,
}

impl LeadAcidHold {
    /// Nothing held.
    pub const FREE: LeadAcidHold = LeadAcidHold {
        fast: BranchHold { charging: Side::Free, accepting: Side::Free, conducting: Side::Free },
        slow: BranchHold { charging: Side::Free, accepting: Side::Free, conducting: Side::Free },
        gassing: Side::Free,
        holding_charge: Side::Free,
        flow: Side::Free,
    };
}

/// A lead-acid battery at one temperature.
#[derive(Debug, Clone, Copy)]
pub struct LeadAcidAt<'a> {
    pub(in crate::plant::battery) battery: &'a LeadAcid,
    emf_shift_v: f64,
    r0: f64,
    gassing: f64,
    fast: BranchFactors,
    slow: BranchFactors,
}

/// Currents and pulls that derivative, rates and margin share.
pub(super) struct Currents {
    pub main_a: f64,
    pub gassed_a: f64,
    pub self_a: f64,
    pub local: f64,
    pub emf_v: f64,
}

impl<'a> LeadAcidAt<'a> {
    pub(super) fn new(battery: &'a LeadAcid, temp_c: f64) -> Self {
        let warm_k = temp_c - REFERENCE_C;
        LeadAcidAt {
            battery,
            emf_shift_v: battery.emf_v_per_k * warm_k,
            r0: (-battery.r0_per_k * warm_k).exp(),
            gassing: (battery.gassing_per_k * warm_k).exp(),
            fast: battery.fast.factors(warm_k),
            slow: battery.slow.factors(warm_k),
        }
    }

    /// The same battery `by_k` warmer: to rounding what it is there, for less where that is near.
    pub(crate) fn moved(&self, by_k: f64) -> LeadAcidAt<'a> {
        let b = self.battery;
        LeadAcidAt {
            battery: b,
            emf_shift_v: self.emf_shift_v + b.emf_v_per_k * by_k,
            r0: self.r0 * grown(-b.r0_per_k * by_k),
            gassing: self.gassing * grown(b.gassing_per_k * by_k),
            fast: b.fast.factors_moved(&self.fast, by_k),
            slow: b.slow.factors_moved(&self.slow, by_k),
        }
    }

    /// How far two are apart, as a share of their factors and in volts.
    #[cfg(test)]
    pub(crate) fn far_from(&self, other: &LeadAcidAt) -> f64 {
        let factors = |at: &LeadAcidAt| {
            [at.r0, at.gassing, at.fast.charge, at.fast.discharge, at.slow.charge, at.slow.discharge]
        };
        factors(self)
            .into_iter()
            .zip(factors(other))
            .map(|(found, wanted)| (found / wanted - 1.0).abs())
            .fold((self.emf_shift_v - other.emf_shift_v).abs(), f64::max)
    }

    /// Rested voltage at a state of charge, V.
    pub fn rested_v(&self, soc: f64) -> f64 {
        let b = self.battery;
        b.empty_v + (b.full_v - b.empty_v) * soc + self.emf_shift_v
    }

    /// Series resistance at a state of charge, Ω.
    pub fn r0_ohm(&self, soc: f64) -> f64 {
        let b = self.battery;
        b.r0_ohm * (1.0 + b.r0_empty_rise * (1.0 - soc)) * self.r0
    }

    /// The Thevenin port; it has no kinks.
    pub fn port(&self, x: &BranchState) -> Port {
        Port { emf_v: self.rested_v(x.soc) + x.v1 + x.v2, r_ohm: self.r0_ohm(x.soc) }
    }

    /// Gassing current at an EMF, A.
    pub fn gassed_a(&self, emf_v: f64, hold: Side) -> f64 {
        let g = &self.battery.gassing;
        let over_v = emf_v - g.onset_v - self.emf_shift_v;
        if g.scale_a == 0.0 || !hold.above(over_v) {
            return 0.0;
        }
        let z = over_v / g.slope_v;
        let bend = if z <= MOST_Z {
            z.exp_m1() - z
        } else {
            MOST_Z.exp_m1() - MOST_Z + MOST_Z.exp_m1() * (z - MOST_Z)
        };
        g.scale_a * self.gassing * bend
    }

    /// Slope of the gassing current to the EMF, S.
    pub(super) fn gassed_slope(&self, emf_v: f64, hold: Side) -> f64 {
        let g = &self.battery.gassing;
        let over_v = emf_v - g.onset_v - self.emf_shift_v;
        if g.scale_a == 0.0 || !hold.above(over_v) {
            return 0.0;
        }
        g.scale_a * self.gassing * (over_v / g.slope_v).min(MOST_Z).exp_m1() / g.slope_v
    }

    pub(super) fn battery(&self) -> &LeadAcid {
        self.battery
    }

    /// Self-discharge at SOC 1, A.
    pub(super) fn self_discharge_a(&self) -> f64 {
        self.battery.self_discharge_per_s * self.battery.capacity_c * self.gassing
    }

    pub(super) fn factors(&self) -> (&BranchFactors, &BranchFactors) {
        (&self.fast, &self.slow)
    }

    pub(super) fn currents(&self, x: &BranchState, i: f64, hold: &LeadAcidHold) -> Currents {
        let b = self.battery;
        let emf_v = self.port(x).emf_v;
        let gassed_a = self.gassed_a(emf_v, hold.gassing);
        let held = if hold.holding_charge.above(x.soc) { x.soc } else { 0.0 };
        let self_a = b.self_discharge_per_s * b.capacity_c * held * self.gassing;
        let sag =
            if hold.slow.charging.above(x.v2) { 0.0 } else { quadratic_start(-x.v2, b.depletion_soft_v) };
        let local = x.soc - b.depletion_per_v * sag;
        Currents { main_a: i - gassed_a - self_a, gassed_a, self_a, local, emf_v }
    }

    fn pulls(&self, x: &BranchState, local: f64, hold: &LeadAcidHold) -> (f64, f64) {
        let b = self.battery;
        let pull = |branch: &Branch, v, k, h| branch.pull_v(v, x.soc, local, k, h);
        (pull(&b.fast, x.v1, &self.fast, &hold.fast), pull(&b.slow, x.v2, &self.slow, &hold.slow))
    }

    /// Derivatives of the states with current `i`.
    pub fn derivative(&self, x: &BranchState, i: f64, hold: &LeadAcidHold) -> BranchState {
        let b = self.battery;
        let c = self.currents(x, i, hold);
        let (fast_v, slow_v) = self.pulls(x, c.local, hold);
        let share = if hold.flow.above(c.main_a) { b.charge_efficiency } else { 1.0 };
        BranchState {
            soc: share * c.main_a / b.capacity_c,
            v1: b.fast.derivative(c.main_a, fast_v),
            v2: b.slow.derivative(c.main_a, slow_v),
        }
    }

    /// Derivatives, and heat to the battery's node.
    pub fn derivative_and_heat(&self, x: &BranchState, i: f64, hold: &LeadAcidHold) -> (BranchState, f64) {
        let b = self.battery;
        let c = self.currents(x, i, hold);
        let pulls = self.pulls(x, c.local, hold);
        let share = if hold.flow.above(c.main_a) { b.charge_efficiency } else { 1.0 };
        let d = BranchState {
            soc: share * c.main_a / b.capacity_c,
            v1: b.fast.derivative(c.main_a, pulls.0),
            v2: b.slow.derivative(c.main_a, pulls.1),
        };
        (d, self.rates_of(x, i, hold, &c, pulls).heat_w)
    }

    /// What the current turns into.
    pub fn rates(&self, x: &BranchState, i: f64, hold: &LeadAcidHold) -> LeadAcidRates {
        let c = self.currents(x, i, hold);
        self.rates_of(x, i, hold, &c, self.pulls(x, c.local, hold))
    }

    /// What the current turns into, and power into the two branches' capacitances.
    pub fn rates_and_capacitance(
        &self,
        x: &BranchState,
        i: f64,
        hold: &LeadAcidHold,
    ) -> (LeadAcidRates, f64) {
        let b = self.battery;
        let c = self.currents(x, i, hold);
        let (fast_v, slow_v) = self.pulls(x, c.local, hold);
        let capacitance_w =
            c.main_a * (x.v1 + x.v2) - b.fast.heat_w(x.v1, fast_v) - b.slow.heat_w(x.v2, slow_v);
        (self.rates_of(x, i, hold, &c, (fast_v, slow_v)), capacitance_w)
    }

    fn rates_of(
        &self,
        x: &BranchState,
        i: f64,
        hold: &LeadAcidHold,
        c: &Currents,
        (fast_v, slow_v): (f64, f64),
    ) -> LeadAcidRates {
        let b = self.battery;
        let share = if hold.flow.above(c.main_a) { b.charge_efficiency } else { 1.0 };
        let rested_v = self.rested_v(x.soc);
        let lost_a = (1.0 - share) * c.main_a;
        let mut rates = LeadAcidRates {
            gassed_a: c.gassed_a,
            self_discharged_a: c.self_a,
            lost_a,
            chemical_w: rested_v * share * c.main_a,
            ohmic_w: self.r0_ohm(x.soc) * i * i,
            branch_w: b.fast.heat_w(x.v1, fast_v) + b.slow.heat_w(x.v2, slow_v),
            gassing_w: c.emf_v * c.gassed_a,
            self_discharge_w: c.emf_v * c.self_a,
            lost_w: rested_v * lost_a,
            heat_w: 0.0,
        };
        rates.heat_w = rates.ohmic_w
            + rates.branch_w
            + rates.self_discharge_w
            + rates.lost_w
            + (c.emf_v - b.gassing.carried_v) * c.gassed_a;
        rates
    }

    /// Power into the two branches' capacitances with current `i`, W; negative while they give it back.
    pub fn capacitance_w(&self, x: &BranchState, i: f64, hold: &LeadAcidHold) -> f64 {
        let b = self.battery;
        let c = self.currents(x, i, hold);
        let (fast_v, slow_v) = self.pulls(x, c.local, hold);
        c.main_a * (x.v1 + x.v2) - b.fast.heat_w(x.v1, fast_v) - b.slow.heat_w(x.v2, slow_v)
    }

    /// Holds every kink on the side where it stands.
    pub fn regime(&self, x: &BranchState, i: f64) -> LeadAcidHold {
        let b = self.battery;
        let c = self.currents(x, i, &LeadAcidHold::FREE);
        LeadAcidHold {
            fast: b.fast.regime(x.v1, x.soc, c.local, c.main_a),
            slow: b.slow.regime(x.v2, x.soc, c.local, c.main_a),
            gassing: Side::of(c.emf_v - b.gassing.onset_v - self.emf_shift_v),
            holding_charge: Side::of(x.soc),
            flow: Side::of(c.main_a),
        }
    }

    /// Holds corners only and leaves free what is smooth in slope; see [`LeadAcidHold`].
    pub fn corners(&self, x: &BranchState, i: f64) -> LeadAcidHold {
        let b = self.battery;
        let mut hold = self.regime(x, i);
        hold.gassing = Side::Free;
        for (branch, side) in [(&b.fast, &mut hold.fast.charging), (&b.slow, &mut hold.slow.charging)] {
            if branch.charge_soft_v > 0.0 && branch.discharge_soft_v > 0.0 {
                *side = Side::Free;
            }
        }
        hold
    }

    /// At or above zero while the hold stands: the least distance to a held kink, in V, SOC or A.
    pub fn margin(&self, x: &BranchState, i: f64, hold: &LeadAcidHold) -> f64 {
        let b = self.battery;
        let c = self.currents(x, i, hold);
        let mut least = b.fast.margin(x.v1, x.soc, c.local, &hold.fast);
        least = least.min(b.slow.margin(x.v2, x.soc, c.local, &hold.slow));
        if b.gassing.scale_a != 0.0 {
            let over_v = c.emf_v - b.gassing.onset_v - self.emf_shift_v;
            least = least.min(hold.gassing.margin(over_v, SLACK));
        }
        if b.self_discharge_per_s != 0.0 {
            least = least.min(hold.holding_charge.margin(x.soc, SLACK));
        }
        if b.charge_efficiency != 1.0 {
            least = least.min(hold.flow.margin(c.main_a, FLOW_SLACK_A));
        }
        least
    }
}

/// Overlap of the two directions of main current, A.
const FLOW_SLACK_A: f64 = 1e-9;
