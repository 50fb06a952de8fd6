//! How a lithium battery's states move, what its current turns into, and where its right-hand side has kinks.
//!
//! Kinks: the sign of the current (corners of hysteresis, top and efficiency; derivatives stay continuous), the knots of
//! the tables (curvature only, and a corner of the EMF at SOC 1), SOC 0 (a corner of self-discharge, not held), and with
//! saturating ends a jump at SOC 0 and 1, which must be held. Free otherwise: 3e-8 lost where held loses 2e-9, at 1e-8
//! per step under a current that keeps changing sign.

use super::{Flow, Hold, Lithium, LithiumHold, LithiumRates, LithiumState};

/// Overlap of table pieces in SOC, so that a state on a knot never hands over back and forth.
const PIECE_SLACK: f64 = 1e-13;
/// Overlap of the two directions of current, A.
const FLOW_SLACK_A: f64 = 1e-9;

impl Lithium {
    fn self_discharge_a(&self, soc: f64) -> f64 {
        self.self_discharge_per_s * self.capacity_c * soc.max(0.0)
    }

    /// What presses on a full battery with charge current `i`, A; self-discharge makes room.
    fn pressing_a(&self, soc: f64, i: f64) -> f64 {
        if self.self_discharge_per_s == 0.0 {
            i
        } else {
            i - self.self_discharge_a(soc) / self.charge_efficiency
        }
    }

    /// What holds at this state with current `i`.
    pub fn hold(&self, x: &LithiumState, i: f64) -> LithiumHold {
        let flow = if i >= -FLOW_SLACK_A { Flow::Charging } else { Flow::Discharging };
        let saturated =
            flow == Flow::Charging && x.soc >= self.full_soc() && self.pressing_a(x.soc, i) >= 0.0;
        let plain = Hold { flow, saturated, piece: self.emf.piece_of(x.soc) };
        LithiumHold { plain, top_piece: self.top_piece_of(x.soc) }
    }

    /// At or above zero while the hold stands, negative once it should have changed.
    pub fn margin(&self, x: &LithiumState, i: f64, hold: LithiumHold) -> f64 {
        let flow = self.flow_margin(x, i, hold.plain);
        if hold.plain.saturated {
            return flow;
        }
        let mut least = flow.min(match hold.plain.flow {
            // Room that self-discharge makes at a full battery is no saturation.
            Flow::Charging if self.pressing_a(x.soc, i) < 0.0 => f64::INFINITY,
            Flow::Charging => self.full_soc() - x.soc,
            Flow::Discharging => f64::INFINITY,
        });
        let mut within = |(low, high): (f64, f64)| {
            least = least.min(x.soc - low + PIECE_SLACK).min(high - x.soc + PIECE_SLACK);
        };
        within(self.emf.bounds(hold.plain.piece));
        if let Some(top) = &self.top {
            within(top.excess.bounds(usize::from(hold.top_piece)));
        }
        least
    }

    /// The sign of the current only matters where it changes a derivative.
    fn flow_margin(&self, x: &LithiumState, i: f64, hold: Hold) -> f64 {
        let apart = self.charge_efficiency != 1.0 || self.hysteresis_v != 0.0 || self.top.is_some();
        let near_end = x.soc > self.full_soc() - 1e-3;
        if !apart && !hold.saturated && !near_end {
            return f64::INFINITY;
        }
        FLOW_SLACK_A
            + match hold.flow {
                Flow::Charging if hold.saturated => self.pressing_a(x.soc, i),
                Flow::Charging => i,
                Flow::Discharging => -i,
            }
    }

    /// The part of the terminal current that changes the state of charge, A; self-discharge comes on top.
    fn kept_a(&self, i: f64, hold: Hold) -> f64 {
        match hold.flow {
            Flow::Charging => self.charge_efficiency * i,
            Flow::Discharging => i,
        }
    }

    fn soc_rate_a(&self, x: &LithiumState, i: f64, hold: Hold) -> f64 {
        match (hold.saturated, self.self_discharge_per_s == 0.0) {
            (true, _) => 0.0,
            (false, true) => self.kept_a(i, hold),
            (false, false) => self.kept_a(i, hold) - self.self_discharge_a(x.soc),
        }
    }

    /// Derivatives of the states with current `i`, [`Lithium::cold_at`] given.
    pub fn derivative(&self, x: &LithiumState, i: f64, cold: f64, hold: LithiumHold) -> LithiumState {
        let plain = hold.plain;
        // Held on one side of zero current, throughput is ±I, smooth across.
        let (throughput_a, way, built) = match plain.flow {
            Flow::Charging => (i, 1.0, 1.0),
            Flow::Discharging => (-i, -1.0, 0.0),
        };
        let hysteresis = self.hysteresis_rate * throughput_a / self.capacity_c * (way - x.hysteresis);
        let unrelaxed = match &self.top {
            None => 0.0,
            Some(top) => throughput_a / top.follow_c * (built - x.unrelaxed) - x.unrelaxed / top.relax_s,
        };
        LithiumState {
            soc: self.soc_rate_a(x, i, plain) / self.capacity_c,
            v1: (i * self.branch_ohm[0] - x.v1 / cold) / self.branch_s[0],
            v2: (i * self.branch_ohm[1] - x.v2 / cold) / self.branch_s[1],
            hysteresis,
            unrelaxed,
        }
    }

    /// Derivatives at 25 °C with nothing held.
    #[cfg(test)]
    pub(super) fn derivative_free(&self, x: &LithiumState, i: f64) -> LithiumState {
        self.derivative(x, i, 1.0, self.hold(x, i))
    }

    /// What the current turns into.
    pub fn rates(&self, x: &LithiumState, i: f64, temp_c: f64, hold: LithiumHold) -> LithiumRates {
        self.rates_with(x, i, self.cold_at(temp_c), hold)
    }

    /// What the current turns into, [`Lithium::cold_at`] given.
    pub fn rates_with(&self, x: &LithiumState, i: f64, cold: f64, hold: LithiumHold) -> LithiumRates {
        let plain = hold.plain;
        let mut r = LithiumRates { ohmic_w: self.r0_ohm * cold * i * i, ..LithiumRates::default() };
        for (v, ohm) in [(x.v1, self.branch_ohm[0]), (x.v2, self.branch_ohm[1])] {
            if ohm > 0.0 {
                let heat_w = v * v / (ohm * cold);
                r.branch_w += heat_w;
                r.stored_w += v * i - heat_w;
            }
        }
        r.self_discharged_a = self.self_discharge_a(x.soc);
        let soc_a = self.soc_rate_a(x, i, plain);
        match (plain.saturated, plain.flow) {
            (true, _) if self.self_discharge_per_s == 0.0 => r.refused_a = i,
            (true, _) => {
                r.refused_a = self.pressing_a(x.soc, i);
                r.lost_a = (1.0 - self.charge_efficiency) * (i - r.refused_a);
            }
            (false, Flow::Charging) => r.lost_a = (1.0 - self.charge_efficiency) * i,
            (false, Flow::Discharging) => {}
        }
        let excess_v = self.excess_v(x.soc, hold.top_piece);
        let rested_v = self.emf.value_in(plain.piece, x.soc) - excess_v;
        r.stored_w += rested_v * soc_a;
        r.lost_w = rested_v * r.lost_a;
        r.self_discharge_w = rested_v * r.self_discharged_a;
        r.refused_w = rested_v * r.refused_a;
        if self.hysteresis_v != 0.0 {
            // Stored ½·(M·Q/k)·h² and heat M·h²·|I| add up to M·h·I exactly.
            let shown_w = self.hysteresis_v * x.hysteresis * i;
            r.hysteresis_w = self.hysteresis_v * x.hysteresis * x.hysteresis * throughput(i, plain);
            r.stored_w += shown_w - r.hysteresis_w;
        }
        if self.top.is_some() {
            r.top_w = x.unrelaxed * excess_v * i;
        }
        r.heat_w = r.ohmic_w + r.branch_w + r.hysteresis_w + r.top_w + r.self_discharge_w + r.lost_w;
        r
    }
}

/// Slopes to SOC, both branches, temperature, hysteresis, unrelaxed share and current.
pub type Gradient = [f64; 7];

impl Lithium {
    /// Slopes of the derivatives of the five states, the fourth place taken by the heat to the battery's node.
    pub fn slopes(&self, x: &LithiumState, i: f64, temp_c: f64, hold: LithiumHold) -> [Gradient; 6] {
        const TEMP: usize = 3;
        const HYST: usize = 4;
        const TOP: usize = 5;
        const CURRENT: usize = 6;
        let plain = hold.plain;
        let mut g = [[0.0; 7]; 6];
        let (sign, way, built) = match plain.flow {
            Flow::Charging => (1.0, 1.0, 1.0),
            Flow::Discharging => (-1.0, -1.0, 0.0),
        };
        let (cold, to_cold) = (self.cold_at(temp_c), self.cold_slope(temp_c));
        let share = self.kept_a(1.0, plain);
        let own = if x.soc > 0.0 { self.self_discharge_per_s } else { 0.0 };
        if !plain.saturated {
            g[0][0] = -own;
            g[0][CURRENT] = share / self.capacity_c;
        }
        for n in 0..2 {
            g[n + 1][n + 1] = -1.0 / (self.branch_s[n] * cold);
            g[n + 1][TEMP] = [x.v1, x.v2][n] / (self.branch_s[n] * cold) * to_cold;
            g[n + 1][CURRENT] = self.branch_ohm[n] / self.branch_s[n];
        }
        let rate = self.hysteresis_rate * sign / self.capacity_c;
        g[HYST][HYST] = -rate * i;
        g[HYST][CURRENT] = rate * (way - x.hysteresis);
        let r0 = self.r0_ohm * cold;
        let heat = &mut g[TEMP];
        heat[TEMP] = i * i * r0 * to_cold;
        heat[CURRENT] = 2.0 * r0 * i + self.hysteresis_v * x.hysteresis * x.hysteresis * sign;
        heat[HYST] = 2.0 * self.hysteresis_v * x.hysteresis * sign * i;
        for (n, v) in [(0, x.v1), (1, x.v2)] {
            if self.branch_ohm[n] > 0.0 {
                heat[n + 1] = 2.0 * v / (self.branch_ohm[n] * cold);
                heat[TEMP] -= v * v / (self.branch_ohm[n] * cold) * to_cold;
            }
        }
        let rested_slope = self.emf.slope_in(plain.piece, x.soc) - self.excess_slope(x.soc, hold.top_piece);
        let rested_v = self.rested_v(x.soc, hold);
        let lost = if plain.flow == Flow::Charging && !plain.saturated { 1.0 - share } else { 0.0 };
        heat[0] = rested_slope * (self.self_discharge_a(x.soc) + lost * i) + rested_v * own * self.capacity_c;
        heat[CURRENT] += rested_v * lost;
        if let Some(top) = &self.top {
            g[TOP][TOP] = -sign * i / top.follow_c - 1.0 / top.relax_s;
            g[TOP][CURRENT] = sign * (built - x.unrelaxed) / top.follow_c;
            // Heat of the top: u·excess·I.
            let (excess, slope) =
                (self.excess_v(x.soc, hold.top_piece), self.excess_slope(x.soc, hold.top_piece));
            let heat = &mut g[TEMP];
            heat[0] += x.unrelaxed * slope * i;
            heat[TOP] += excess * i;
            heat[CURRENT] += x.unrelaxed * excess;
        }
        g
    }
}

fn throughput(i: f64, hold: Hold) -> f64 {
    match hold.flow {
        Flow::Charging => i,
        Flow::Discharging => -i,
    }
}
