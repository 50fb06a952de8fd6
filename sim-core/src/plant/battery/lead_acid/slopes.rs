//! Slopes of the lead-acid equations, differentiated by hand; the test compares with differences.

use super::branch::{
    Branch, BranchFactors, BranchHold, Side, power_start, power_start_slope, quadratic_start,
    quadratic_start_slope,
};
use super::held::{LeadAcidAt, LeadAcidHold};
use crate::plant::battery::BranchState;

/// Slopes to SOC, fast branch, slow branch, temperature and current.
pub type Gradient = [f64; 5];

const SOC: usize = 0;
const TEMP: usize = 3;
const CURRENT: usize = 4;

/// `a·x + b·y`.
fn sum(a: f64, x: &Gradient, b: f64, y: &Gradient) -> Gradient {
    std::array::from_fn(|n| a * x[n] + b * y[n])
}

/// What the slopes of one branch are made of.
struct Place<'a> {
    /// Which place of the gradient its volts have.
    at: usize,
    v: f64,
    soc: f64,
    local: f64,
    local_slope: &'a Gradient,
}

impl Branch {
    /// Pull of the branch and its slopes.
    fn pull_slopes(&self, p: &Place, k: &BranchFactors, hold: &BranchHold) -> (f64, Gradient) {
        let mut g = [0.0; 5];
        let pull_v = self.pull_v(p.v, p.soc, p.local, k, hold);
        if hold.charging.above(p.v) {
            let open = 1.0 - self.acceptance * p.soc;
            if hold.accepting.above(open) {
                let scale = k.charge * self.charge_share;
                g[p.at] = scale * open * power_start_slope(p.v, self.charge_soft_v, self.charge_power);
                g[SOC] = -scale * self.acceptance * power_start(p.v, self.charge_soft_v, self.charge_power);
            }
            g[TEMP] = self.charge_per_k * pull_v;
        } else {
            let share = self.conductance(p.local, hold.conducting);
            let to_local = self.conductance_slope(p.local, hold.conducting);
            let pulled = k.discharge * quadratic_start(-p.v, self.discharge_soft_v);
            g = sum(-pulled * to_local, p.local_slope, 0.0, &g);
            g[p.at] += k.discharge * share * quadratic_start_slope(-p.v, self.discharge_soft_v);
            g[TEMP] += self.discharge_per_k * pull_v;
        }
        (pull_v, g)
    }

    fn conductance_slope(&self, local: f64, conducting: Side) -> f64 {
        if self.half_soc == 0.0 || !conducting.above(local) {
            0.0
        } else if local >= 0.0 {
            self.half_soc / ((local + self.half_soc) * (local + self.half_soc))
        } else {
            (1.0 - 2.0 * local / self.half_soc) / self.half_soc
        }
    }
}

impl LeadAcidAt<'_> {
    /// Slopes of the derivatives of SOC and both branches, and of the heat to the battery's node.
    pub fn slopes(&self, x: &BranchState, i: f64, hold: &LeadAcidHold) -> [Gradient; 4] {
        let b = self.battery();
        let c = self.currents(x, i, hold);
        let rise = b.full_v - b.empty_v;
        let emf = [rise, 1.0, 1.0, b.emf_v_per_k, 0.0];
        let rested = [rise, 0.0, 0.0, b.emf_v_per_k, 0.0];
        let gas = self.gassed_slope(c.emf_v, hold.gassing);
        // The onset moves with temperature as the EMF does.
        let gassed = [gas * rise, gas, gas, b.gassing_per_k * c.gassed_a, 0.0];
        let held = if hold.holding_charge.above(x.soc) { 1.0 } else { 0.0 };
        let mut own = [0.0; 5];
        own[SOC] = held * self.self_discharge_a();
        own[TEMP] = b.gassing_per_k * c.self_a;
        let mut main = sum(-1.0, &gassed, -1.0, &own);
        main[CURRENT] += 1.0;
        let mut local = [1.0, 0.0, 0.0, 0.0, 0.0];
        if !hold.slow.charging.above(x.v2) {
            local[2] = b.depletion_per_v * quadratic_start_slope(-x.v2, b.depletion_soft_v);
        }
        let (fast, slow) = self.factors();
        let place = |at, v| Place { at, v, soc: x.soc, local: c.local, local_slope: &local };
        let (fast_v, fast_g) = b.fast.pull_slopes(&place(1, x.v1), fast, &hold.fast);
        let (slow_v, slow_g) = b.slow.pull_slopes(&place(2, x.v2), slow, &hold.slow);
        let share = if hold.flow.above(c.main_a) { b.charge_efficiency } else { 1.0 };
        let branch = |b: &Branch, g: &Gradient| sum(b.discharge_ohm / b.time_s, &main, -1.0 / b.time_s, g);

        let mut heat = sum(c.self_a, &emf, c.emf_v, &own);
        let gas_heat = sum(c.gassed_a, &emf, c.emf_v - b.gassing.carried_v, &gassed);
        heat = sum(1.0, &heat, 1.0, &gas_heat);
        if share != 1.0 {
            let lost = sum((1.0 - share) * c.main_a, &rested, (1.0 - share) * self.rested_v(x.soc), &main);
            heat = sum(1.0, &heat, 1.0, &lost);
        }
        let r0 = self.r0_ohm(x.soc);
        heat[SOC] += i * i * self.r0_slope();
        heat[TEMP] -= i * i * b.r0_per_k * r0;
        heat[CURRENT] += 2.0 * r0 * i;
        for (b, at, v, pull_v, g) in
            [(&b.fast, 1, x.v1, fast_v, &fast_g), (&b.slow, 2, x.v2, slow_v, &slow_g)]
        {
            if b.discharge_ohm > 0.0 {
                heat = sum(1.0, &heat, v / b.discharge_ohm, g);
                heat[at] += pull_v / b.discharge_ohm;
            }
        }
        [main.map(|m| share / b.capacity_c * m), branch(&b.fast, &fast_g), branch(&b.slow, &slow_g), heat]
    }

    /// Slope of the series resistance to SOC, Ω.
    pub fn r0_slope(&self) -> f64 {
        self.r0_ohm(1.0) - self.r0_ohm(0.0)
    }
}
