//! How a battery's port and derivatives move with its states and its current.

use super::lead_acid::LeadAcidAt;
use super::lithium::Lithium;
use super::{BatteryAt, BatteryHold, BatteryState, Flow, PlainBattery, ThermalNode};

/// States of a battery: SOC, fast branch, slow branch, temperature, hysteresis, unrelaxed top.
pub const STATES: usize = 6;

/// One number per state.
pub type Row = [f64; STATES];

/// Slopes at one state and current.
#[derive(Debug, Clone, Copy, Default)]
pub struct Slopes {
    /// Of each derivative (first index) to each state, current held.
    pub to_state: [Row; STATES],
    /// Of each derivative to the current.
    pub to_current: Row,
    /// Of the EMF to each state.
    pub emf: Row,
    /// Of the resistance to each state.
    pub ohm: Row,
}

const SOC: usize = 0;
const V1: usize = 1;
const V2: usize = 2;
const TEMP: usize = 3;

impl BatteryAt<'_> {
    /// Slopes of port and derivatives.
    pub fn slopes(&self, node: &ThermalNode, x: &BatteryState, i: f64, hold: &BatteryHold) -> Slopes {
        let mut s = match self {
            BatteryAt::Plain(b) => plain(b, x, i, hold, node.j_per_k),
            BatteryAt::LeadAcid(at) => lead_acid(at, x, i, hold, node.j_per_k),
            BatteryAt::Lithium(b, _) => lithium(b, x, i, hold, node.j_per_k),
        };
        if node.moves() {
            s.to_state[TEMP][TEMP] -= node.w_per_k / node.j_per_k;
        }
        s
    }
}

fn lead_acid(at: &LeadAcidAt, x: &BatteryState, i: f64, hold: &BatteryHold, j_per_k: f64) -> Slopes {
    let mut s = Slopes::default();
    let rows = at.slopes(&x.branches(), i, &hold.lead_acid);
    // The row of heat becomes that of temperature.
    let per_j = 1.0 / j_per_k;
    for (m, scale) in [(SOC, 1.0), (V1, 1.0), (V2, 1.0), (TEMP, per_j)] {
        for n in 0..4 {
            s.to_state[m][n] = scale * rows[m][n];
        }
        s.to_current[m] = scale * rows[m][4];
    }
    let b = at.battery;
    s.emf[..4].copy_from_slice(&[b.full_v - b.empty_v, 1.0, 1.0, b.emf_v_per_k]);
    s.ohm[SOC] = at.r0_slope();
    s.ohm[TEMP] = -b.r0_per_k * at.r0_ohm(x.soc);
    s
}

fn lithium(b: &Lithium, x: &BatteryState, i: f64, hold: &BatteryHold, j_per_k: f64) -> Slopes {
    let mut s = Slopes::default();
    let rows = b.slopes(&x.lithium(), i, x.temp_c, hold.lithium());
    for m in 0..STATES {
        let scale = if m == TEMP { 1.0 / j_per_k } else { 1.0 };
        for n in 0..STATES {
            s.to_state[m][n] = scale * rows[m][n];
        }
        s.to_current[m] = scale * rows[m][STATES];
    }
    (s.emf, s.ohm) = b.port_slopes(&x.lithium(), x.temp_c, hold.lithium());
    s
}

fn plain(b: &PlainBattery, x: &BatteryState, i: f64, hold: &BatteryHold, j_per_k: f64) -> Slopes {
    let mut s = Slopes::default();
    let hold = hold.plain;
    s.to_state[V1][V1] = -1.0 / b.branch_s[0];
    s.to_state[V2][V2] = -1.0 / b.branch_s[1];
    let share = match (hold.saturated, hold.flow) {
        (true, _) => 0.0,
        (false, Flow::Charging) => b.charge_efficiency,
        (false, Flow::Discharging) => 1.0,
    };
    s.to_current[SOC] = share / b.capacity_c;
    s.to_current[V1] = b.branch_ohm[0] / b.branch_s[0];
    s.to_current[V2] = b.branch_ohm[1] / b.branch_s[1];
    s.emf[SOC] = b.emf.slope_in(hold.piece, x.soc);
    s.emf[V1] = 1.0;
    s.emf[V2] = 1.0;
    if j_per_k.is_finite() {
        let lost =
            if hold.flow == Flow::Charging && !hold.saturated { 1.0 - b.charge_efficiency } else { 0.0 };
        s.to_current[TEMP] = (2.0 * b.r0_ohm * i + lost * b.emf.value_in(hold.piece, x.soc)) / j_per_k;
        s.to_state[TEMP][SOC] = lost * i * s.emf[SOC] / j_per_k;
        for (n, v) in [(V1, x.v1), (V2, x.v2)] {
            if b.branch_ohm[n - V1] > 0.0 {
                s.to_state[TEMP][n] = 2.0 * v / b.branch_ohm[n - V1] / j_per_k;
            }
        }
    }
    s
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::battery::{Battery, Chemistry, LeadAcid};

    fn row(x: &BatteryState) -> Row {
        [x.soc, x.v1, x.v2, x.temp_c, x.hysteresis, x.unrelaxed]
    }

    fn state(r: &Row) -> BatteryState {
        let [soc, v1, v2, temp_c, hysteresis, unrelaxed] = *r;
        BatteryState { soc, v1, v2, temp_c, hysteresis, unrelaxed }
    }

    /// Central differences of derivatives and port, all kinks held where the state stands.
    fn check(name: &str, b: &Battery, x: &BatteryState, i: f64) {
        let hold = b.hold(x, i);
        let s = b.at(x.temp_c).slopes(&b.thermal, x, i, &hold);
        let air_c = 12.0;
        let at = |x: &BatteryState, i: f64| row(&b.derivative(x, i, &hold, air_c, 0.0));
        let nudge = [1e-5, 1e-5, 1e-5, 1e-3, 1e-5, 1e-5];
        let near = |what: &str, m: usize, n: usize, found: f64, wanted: f64, size: f64| {
            let off = (found - wanted).abs();
            assert!(
                off <= 2e-5 * (size.abs() + wanted.abs()),
                "{name} {x:?} {i} A, {what} {m} {n}: {found} against {wanted}"
            );
        };
        for n in 0..STATES {
            let (mut low, mut high) = (row(x), row(x));
            low[n] -= nudge[n];
            high[n] += nudge[n];
            let (low, high) = (state(&low), state(&high));
            let (a, c) = (at(&low, i), at(&high, i));
            let (p, q) = (b.port(&low, &hold), b.port(&high, &hold));
            let d = |a: f64, c: f64| (c - a) / (2.0 * nudge[n]);
            for m in 0..STATES {
                let size = s.to_state[m].iter().fold(1e-9f64, |l, v| l.max(v.abs()));
                near("derivative", m, n, s.to_state[m][n], d(a[m], c[m]), size);
            }
            near("emf", 0, n, s.emf[n], d(p.emf_v, q.emf_v), 1e-3);
            near("resistance", 0, n, s.ohm[n], d(p.r_ohm, q.r_ohm), 1e-3);
        }
        let (a, c) = (at(x, i - 1e-3), at(x, i + 1e-3));
        for m in 0..STATES {
            near("current", m, 0, s.to_current[m], (c[m] - a[m]) / 2e-3, 1e-6);
        }
    }

    #[test]
    fn slopes_are_those_of_the_equations() {
        let thermal = ThermalNode { j_per_k: 20_000.0, w_per_k: 1.6 };
        let mut lead = LeadAcid::starter_flooded(80.0);
        let mut lossy = lead.clone();
        lossy.charge_efficiency = 0.9;
        lead.self_discharge_per_s = 1e-6;
        let lithium = Lithium::lfp(200.0, 4);
        let batteries = [
            ("lead-acid", Chemistry::LeadAcid(lead)),
            ("lossy lead-acid", Chemistry::LeadAcid(lossy)),
            ("lithium", Chemistry::Lithium(lithium)),
        ];
        for (name, chemistry) in batteries {
            let b = Battery { chemistry, thermal, start_c: 20.0 };
            for soc in [0.03, 0.31, 0.62, 0.93, 0.97, 0.992] {
                for (v1, v2, hysteresis, unrelaxed) in
                    [(0.3, 0.2, 0.4, 0.6), (-0.07, -0.21, -0.3, 0.1), (1.6, 0.3, 0.9, 0.0)]
                {
                    for i in [-60.0, -0.3, 0.4, 35.0] {
                        for temp_c in [-7.0, 31.0] {
                            check(name, &b, &BatteryState { soc, v1, v2, temp_c, hysteresis, unrelaxed }, i);
                        }
                    }
                }
            }
        }
    }
}
