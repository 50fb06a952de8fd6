//! A polarisation branch whose conductance depends on direction, state of charge and temperature.

use crate::plant::battery::at_temp::grown;
use serde::Serialize;

/// Which side of a kink holds while a step is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Side {
    /// Not held: whichever side the state is on.
    #[default]
    Free,
    /// At or above the kink, continued smoothly past it.
    Above,
    /// Below the kink, continued smoothly past it.
    Below,
}

impl Side {
    /// The side that a value is on.
    pub fn of(value: f64) -> Side {
        if value >= 0.0 { Side::Above } else { Side::Below }
    }

    /// Whether the upper side rules for a value measured from the kink.
    pub fn above(self, value: f64) -> bool {
        match self {
            Side::Free => value >= 0.0,
            Side::Above => true,
            Side::Below => false,
        }
    }

    /// How far a value is from where this side ends; infinite when not held.
    pub fn margin(self, value: f64, slack: f64) -> f64 {
        match self {
            Side::Free => f64::INFINITY,
            Side::Above => value + slack,
            Side::Below => slack - value,
        }
    }
}

/// Resistance and capacitance in parallel, driven by the main-branch current.
///
/// `C·dv/dt = Im − i`. On charge (`v ≥ 0`) `i = e^(kc·ΔT)·max(0, 1 − a·s)/Rc · p(v; wc, n)`, on discharge
/// `i = −e^(kd·ΔT)·h/Rd · p(−v; wd, 2)`, with `p(x; w, n) = x·u/(1 + u)`, `u = (x/w)^(n − 1)`, and `h = sl/(sl + sd)` of the
/// local state of charge `sl`. What starts with a power relaxes along one: `v ~ t^(−1/(n − 1))`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Branch {
    /// Resistance on discharge `Rd`, Ω; 0: the branch never polarises.
    pub discharge_ohm: f64,
    /// `Rd·C`, s; above zero.
    pub time_s: f64,
    /// Conductance on charge at SOC 0 over that on discharge, `Rd/Rc`; 1: alike.
    pub charge_share: f64,
    /// How far acceptance shuts at full, `a`; 1: wholly, 0: not at all.
    pub acceptance: f64,
    /// Activation step on charge `wc`, V; 0: a plain resistor.
    pub charge_soft_v: f64,
    /// Power with which current starts on charge, `n`; 2 or more.
    pub charge_power: f64,
    /// Activation step on discharge `wd`, V; 0: a plain resistor. Current starts with the square.
    pub discharge_soft_v: f64,
    /// Charge conductance with warmth `kc`, 1/K.
    pub charge_per_k: f64,
    /// Discharge conductance with warmth `kd`, 1/K.
    pub discharge_per_k: f64,
    /// Local state of charge at which discharge conductance halves, `sd`; 0: it never falls.
    pub half_soc: f64,
}

/// Sides held of one branch's kinks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct BranchHold {
    /// `v ≥ 0`.
    pub charging: Side,
    /// `1 − a·s ≥ 0`: charge is still accepted.
    pub accepting: Side,
    /// Local state of charge above zero: discharge still conducts.
    pub conducting: Side,
}

/// The branch's two temperature factors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct BranchFactors {
    pub charge: f64,
    pub discharge: f64,
}

impl Branch {
    /// An ordinary resistor-capacitor branch.
    pub const fn plain(ohm: f64, time_s: f64) -> Branch {
        Branch {
            discharge_ohm: ohm,
            time_s,
            charge_share: 1.0,
            acceptance: 0.0,
            charge_soft_v: 0.0,
            charge_power: 2.0,
            discharge_soft_v: 0.0,
            charge_per_k: 0.0,
            discharge_per_k: 0.0,
            half_soc: 0.0,
        }
    }

    /// Capacitance, F.
    pub fn farad(&self) -> f64 {
        self.time_s / self.discharge_ohm
    }

    /// Multiplies the discharge resistance and leaves capacitance and charge resistance as they are.
    #[must_use]
    pub fn with_discharge_times(mut self, factor: f64) -> Branch {
        self.discharge_ohm *= factor;
        self.time_s *= factor;
        self.charge_share *= factor;
        self
    }

    /// Energy put on the capacitance between two voltages, J.
    pub fn stored_j(&self, from_v: f64, to_v: f64) -> f64 {
        if self.discharge_ohm > 0.0 {
            0.5 * self.time_s / self.discharge_ohm * (to_v * to_v - from_v * from_v)
        } else {
            0.0
        }
    }

    pub(super) fn factors(&self, warm_k: f64) -> BranchFactors {
        BranchFactors {
            charge: (self.charge_per_k * warm_k).exp(),
            discharge: (self.discharge_per_k * warm_k).exp(),
        }
    }

    pub(super) fn factors_moved(&self, from: &BranchFactors, by_k: f64) -> BranchFactors {
        BranchFactors {
            charge: from.charge * grown(self.charge_per_k * by_k),
            discharge: from.discharge * grown(self.discharge_per_k * by_k),
        }
    }

    /// Branch current times `Rd`, V: what pulls the polarisation back.
    pub(super) fn pull_v(&self, v: f64, soc: f64, local: f64, k: &BranchFactors, hold: &BranchHold) -> f64 {
        if hold.charging.above(v) {
            let open = 1.0 - self.acceptance * soc;
            let open = if hold.accepting.above(open) { open } else { 0.0 };
            k.charge * self.charge_share * open * power_start(v, self.charge_soft_v, self.charge_power)
        } else {
            -k.discharge
                * self.conductance(local, hold.conducting)
                * quadratic_start(-v, self.discharge_soft_v)
        }
    }

    /// `h = sl/(sl + sd)`; past zero, while held, continued by its Taylor polynomial, which has no pole.
    pub(super) fn conductance(&self, local: f64, conducting: Side) -> f64 {
        if self.half_soc == 0.0 {
            1.0
        } else if !conducting.above(local) {
            0.0
        } else if local >= 0.0 {
            local / (local + self.half_soc)
        } else {
            let u = local / self.half_soc;
            u - u * u
        }
    }

    pub(super) fn derivative(&self, main_a: f64, pull_v: f64) -> f64 {
        (main_a * self.discharge_ohm - pull_v) / self.time_s
    }

    /// Heat in the branch, W.
    pub(super) fn heat_w(&self, v: f64, pull_v: f64) -> f64 {
        if self.discharge_ohm > 0.0 { v * pull_v / self.discharge_ohm } else { 0.0 }
    }

    /// All kinks held where they stand; `main_a` decides at rest, where `v` is exactly zero.
    pub(super) fn regime(&self, v: f64, soc: f64, local: f64, main_a: f64) -> BranchHold {
        BranchHold {
            charging: if v == 0.0 { Side::of(main_a) } else { Side::of(v) },
            accepting: Side::of(1.0 - self.acceptance * soc),
            conducting: Side::of(local),
        }
    }

    pub(super) fn margin(&self, v: f64, soc: f64, local: f64, hold: &BranchHold) -> f64 {
        let sign = hold.charging.margin(v, SLACK);
        let other = if hold.charging.above(v) {
            if self.acceptance == 0.0 {
                f64::INFINITY
            } else {
                hold.accepting.margin(1.0 - self.acceptance * soc, SLACK)
            }
        } else if self.half_soc == 0.0 {
            f64::INFINITY
        } else {
            hold.conducting.margin(local, SLACK)
        };
        sign.min(other)
    }
}

/// Overlap of the two sides of a kink, V or SOC, so that a state on it never hands over back and forth.
pub(super) const SLACK: f64 = 1e-13;

/// `x²/(x + w)`, or `x` without `w`; below zero (only met while held) without its pole, smooth to the curvature.
pub(super) fn quadratic_start(x: f64, w: f64) -> f64 {
    if w == 0.0 { x } else { x * x / (x.abs() + w) }
}

/// `x·u/(1 + u)` with `u = (x/w)^(n − 1)`: starts with the power `n` and ends as `x`.
pub(super) fn power_start(x: f64, w: f64, n: f64) -> f64 {
    if n == 2.0 || w == 0.0 {
        return quadratic_start(x, w);
    }
    let u = raised(x / w, n);
    x * u / (1.0 + u)
}

/// `|y|^(n − 1)`; the power of the built-in kinds by products, which cost less.
fn raised(y: f64, n: f64) -> f64 {
    if n == 5.0 { (y * y) * (y * y) } else { y.abs().powf(n - 1.0) }
}

/// Slope of [`power_start`].
pub(super) fn power_start_slope(x: f64, w: f64, n: f64) -> f64 {
    if n == 2.0 || w == 0.0 {
        return quadratic_start_slope(x, w);
    }
    let u = raised(x / w, n);
    let share = u / (1.0 + u);
    share + (n - 1.0) * share / (1.0 + u)
}

/// Slope of [`quadratic_start`].
pub(super) fn quadratic_start_slope(x: f64, w: f64) -> f64 {
    if w == 0.0 {
        return 1.0;
    }
    let d = x.abs() + w;
    x * (d + w) / (d * d)
}
