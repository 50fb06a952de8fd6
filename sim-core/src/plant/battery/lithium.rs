//! Lithium (LFP) battery: two branches behind a table of EMF, with hysteresis, a top that relaxes, cold and heat.
//!
//! ```text
//! V = E + R0·I    E = OCV(s) − (1 − u)·excess(s) + M·h + v1 + v2    R0 = R25·c(T), c = exp(B·(1/T − 1/298.15 K))
//! C·dv/dt = I − v/(R·c)                                            both branches
//! Q·ds/dt = η·max(I, 0) + min(I, 0) − Isd                           Isd = k·Q·max(s, 0)
//! dh/dt = k·|I|/Q·(sign I − h)                                      du/dt = |I|/Qf·(1 if I > 0 − u) − u/τ
//! C·dT/dt = heat + heater − G·(T − T_air)                           see ThermalNode
//! ```
//!
//! `OCV` is the end-of-charge table. Its last knots are volts that a full cell only shows while it is charged: `u`, the
//! unrelaxed share, follows charge throughput up and falls over tens of minutes at rest, so `u·excess` is the relaxing
//! top branch, and `u = 1` gives the table itself. `h` is a one-state hysteresis (as in Plett, J. Power Sources 134,
//! 2004). Above SOC 1 the table's end slope goes on: a steep wall that refuses charge. Reversible heat and cell imbalance are
//! left out, and protection is another part's business.
//!
//! With all extras set to nothing ([`Lithium::plain`]) everything is [`PlainBattery`]'s to the bit, saturated ends included.

use super::at_temp::grown;
use super::{Emf, Flow, Hold, PlainBattery, Port};
use crate::pchip::Pchip;
use serde::Serialize;

mod flow;
#[cfg(test)]
mod tests;

/// Temperature that resistances belong to, K.
pub(crate) const REFERENCE_K: f64 = 298.15;
/// Where the wall past SOC 1 ends; assumed.
pub(crate) const WALL_SOC: f64 = 1.01;
/// 0 °C in K.
pub(crate) const ZERO_C_K: f64 = 273.15;

/// States of a lithium battery; temperature stands apart, in a thermal node.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LithiumState {
    /// State of charge, 1 = full; rises above 1 by a little against the wall.
    pub soc: f64,
    /// Polarisation of the fast branch, V.
    pub v1: f64,
    /// Polarisation of the slow branch, V.
    pub v2: f64,
    /// Hysteresis, −1 after discharge to 1 after charge.
    pub hysteresis: f64,
    /// Share of the top's excess that has not relaxed, 0 to 1.
    pub unrelaxed: f64,
}

/// What is held about a lithium battery while a step is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LithiumHold {
    /// Direction of current, saturation and table piece, as for the plain battery.
    pub plain: Hold,
    /// Piece of the table of excess.
    pub top_piece: u16,
}

/// What happens at the ends of the state of charge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Ends {
    /// The EMF goes on with the table's end slopes: volts refuse charge above 1 and collapse below 0.
    Steep,
    /// As in the plain battery: SOC stops at 1, and what still flows is booked as refused.
    Saturating,
}

/// The top of the table that relaxes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RelaxingTop {
    /// End-of-charge less rested EMF against SOC, V; at or above zero, its last value kept above the last knot.
    pub excess: Pchip,
    /// Time in which a rested battery loses it, s; tens of minutes.
    pub relax_s: f64,
    /// Charge throughput that builds it up or strips it off, C.
    pub follow_c: f64,
}

/// A lithium battery; all values are for the whole battery.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Lithium {
    /// Cells in series; 4 to 16, 4 in a 12 V battery.
    pub cells: u16,
    /// Charge between SOC 0 and 1, C.
    pub capacity_c: f64,
    /// End-of-charge EMF against state of charge.
    pub emf: Emf,
    /// The part of it that relaxes; `None`: nothing does.
    pub top: Option<RelaxingTop>,
    /// What happens past the ends.
    pub ends: Ends,
    /// Series resistance at 25 °C, Ω.
    pub r0_ohm: f64,
    /// Activation temperature of all resistances (activation energy over gas constant), K; 0: constant.
    pub activation_k: f64,
    /// Resistances of the branches at 25 °C, Ω; their capacitances stay.
    pub branch_ohm: [f64; 2],
    /// Time constants of the branches at 25 °C, s.
    pub branch_s: [f64; 2],
    /// Half the gap between charge and discharge EMF, V; 0: no hysteresis.
    pub hysteresis_v: f64,
    /// How fast hysteresis follows, per capacity of throughput; above zero where there is hysteresis.
    pub hysteresis_rate: f64,
    /// Self-discharge as a share of the charge held, 1/s; 0: none.
    pub self_discharge_per_s: f64,
    /// Share of charge current that raises the state of charge.
    pub charge_efficiency: f64,
    /// State of charge at the start of the run.
    pub start_soc: f64,
    /// Hysteresis at the start of the run, −1 to 1.
    pub start_hysteresis: f64,
}

/// What a lithium battery's current turns into.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LithiumRates {
    /// Charge that the battery loses by itself, A.
    pub self_discharged_a: f64,
    /// Charge current lost to coulombic efficiency, A.
    pub lost_a: f64,
    /// Charge current offered to a full battery, A.
    pub refused_a: f64,
    /// Power into store, W: chemical, branches and hysteresis; negative on discharge.
    pub stored_w: f64,
    /// Heat in the series resistance, W; at or above zero.
    pub ohmic_w: f64,
    /// Heat in the branches, W; at or above zero.
    pub branch_w: f64,
    /// Heat of hysteresis, W; at or above zero.
    pub hysteresis_w: f64,
    /// Heat of the relaxing top, W: its volts are an overpotential. Below zero while discharge strips it off, which gives back
    /// [`Lithium::top_returns_j`] at most.
    pub top_w: f64,
    /// Power lost to self-discharge, W.
    pub self_discharge_w: f64,
    /// Power lost to coulombic efficiency, W.
    pub lost_w: f64,
    /// Power of what a full battery refuses, W.
    pub refused_w: f64,
    /// Heat to the battery's node, W: all losses but what a full battery refuses.
    pub heat_w: f64,
}

impl Lithium {
    /// The plain battery, all extras at nothing: the same bits.
    pub fn plain(battery: &PlainBattery, cells: u16) -> Lithium {
        Lithium {
            cells,
            capacity_c: battery.capacity_c,
            emf: battery.emf.clone(),
            top: None,
            ends: Ends::Saturating,
            r0_ohm: battery.r0_ohm,
            activation_k: 0.0,
            branch_ohm: battery.branch_ohm,
            branch_s: battery.branch_s,
            hysteresis_v: 0.0,
            hysteresis_rate: 0.0,
            self_discharge_per_s: 0.0,
            charge_efficiency: battery.charge_efficiency,
            start_soc: battery.start_soc,
            start_hysteresis: 0.0,
        }
    }

    /// The most that its state of charge comes to. A rested full battery takes a little more before its volts refuse it;
    /// 1 % past the table they stand some 0.45 V a cell over it, and what still presses is refused.
    pub fn full_soc(&self) -> f64 {
        if self.ends == Ends::Saturating { 1.0 } else { WALL_SOC }
    }

    /// Rested states at the start of the run: branches and top relaxed, hysteresis as given.
    pub fn start(&self) -> LithiumState {
        LithiumState { soc: self.start_soc, hysteresis: self.start_hysteresis, ..LithiumState::default() }
    }

    /// How many times as high as at 25 °C its resistances are at a temperature.
    pub fn cold_at(&self, temp_c: f64) -> f64 {
        if self.activation_k == 0.0 {
            return 1.0;
        }
        (self.activation_k * (1.0 / (temp_c + ZERO_C_K) - 1.0 / REFERENCE_K)).exp()
    }

    /// Series resistance at a temperature, Ω.
    pub fn r0_at(&self, temp_c: f64) -> f64 {
        self.r0_ohm * self.cold_at(temp_c)
    }

    /// [`Lithium::cold_at`] from what it is at another temperature, for less where that is near.
    pub(super) fn cold_moved(&self, cold: f64, from_c: f64, temp_c: f64) -> f64 {
        if self.activation_k == 0.0 {
            return cold;
        }
        let (from_k, temp_k) = (from_c + ZERO_C_K, temp_c + ZERO_C_K);
        cold * grown(self.activation_k * (from_k - temp_k) / (from_k * temp_k))
    }

    /// Volts of the top's excess with its piece held; kept above SOC 1, where the wall takes over.
    fn excess_v(&self, soc: f64, piece: u16) -> f64 {
        match &self.top {
            None => 0.0,
            Some(top) => {
                let last = top.excess.pieces() - 1;
                let piece = usize::from(piece);
                let soc = if piece >= last { top.excess.bounds(last).0 } else { soc };
                top.excess.value_in(piece.min(last - 1), soc)
            }
        }
    }

    /// Slope of the excess to SOC with its piece held, V.
    pub(super) fn excess_slope(&self, soc: f64, piece: u16) -> f64 {
        match &self.top {
            Some(top) if usize::from(piece) < top.excess.pieces() - 1 => {
                top.excess.slope_in(usize::from(piece), soc)
            }
            _ => 0.0,
        }
    }

    /// Slope to temperature of a resistance at that temperature, as a share of it, 1/K.
    pub(super) fn cold_slope(&self, temp_c: f64) -> f64 {
        -self.activation_k / ((temp_c + ZERO_C_K) * (temp_c + ZERO_C_K))
    }

    /// Slopes of EMF and series resistance to SOC, both branches, temperature, hysteresis and unrelaxed share.
    pub fn port_slopes(&self, x: &LithiumState, temp_c: f64, hold: LithiumHold) -> ([f64; 6], [f64; 6]) {
        let mut to_soc = self.emf.slope_in(hold.plain.piece, x.soc);
        let mut to_top = 0.0;
        if self.top.is_some() {
            to_soc -= (1.0 - x.unrelaxed) * self.excess_slope(x.soc, hold.top_piece);
            to_top = self.excess_v(x.soc, hold.top_piece);
        }
        let r_slope = self.r0_at(temp_c) * self.cold_slope(temp_c);
        ([to_soc, 1.0, 1.0, 0.0, self.hysteresis_v, to_top], [0.0, 0.0, 0.0, r_slope, 0.0, 0.0])
    }

    /// Integral of the excess over SOC from 0 with its piece held, V.
    fn excess_integral(&self, soc: f64, piece: u16) -> f64 {
        match &self.top {
            None => 0.0,
            Some(top) => {
                let last = top.excess.pieces() - 1;
                let end = top.excess.bounds(last).0;
                let (inside, over) = if usize::from(piece) >= last { (end, soc - end) } else { (soc, 0.0) };
                let piece = usize::from(piece).min(last - 1);
                top.excess.integral_in(piece, inside) + over * top.excess.value_in(piece, end)
            }
        }
    }

    /// Rested EMF with pieces held and hysteresis at zero, V.
    fn rested_v(&self, soc: f64, hold: LithiumHold) -> f64 {
        let raw = self.emf.value_in(hold.plain.piece, soc);
        if self.top.is_some() { raw - self.excess_v(soc, hold.top_piece) } else { raw }
    }

    /// The Thevenin port with the table pieces held.
    pub fn port(&self, x: &LithiumState, temp_c: f64, hold: LithiumHold) -> Port {
        self.port_with(x, self.cold_at(temp_c), hold)
    }

    /// The Thevenin port, [`Lithium::cold_at`] given.
    pub fn port_with(&self, x: &LithiumState, cold: f64, hold: LithiumHold) -> Port {
        let mut emf_v = self.emf.value_in(hold.plain.piece, x.soc);
        if self.top.is_some() {
            emf_v -= (1.0 - x.unrelaxed) * self.excess_v(x.soc, hold.top_piece);
        }
        if self.hysteresis_v != 0.0 {
            emf_v += self.hysteresis_v * x.hysteresis;
        }
        Port { emf_v: emf_v + x.v1 + x.v2, r_ohm: self.r0_ohm * cold }
    }

    /// Volts of the relaxing top, V: what a full battery still shows over its rested EMF.
    pub fn top_v(&self, x: &LithiumState) -> f64 {
        x.unrelaxed * self.excess_v(x.soc, self.top_piece_of(x.soc))
    }

    fn top_piece_of(&self, soc: f64) -> u16 {
        self.top.as_ref().map_or(0, |top| top.excess.piece_of(soc) as u16)
    }

    /// The most that discharge gets out of the top, J: it strips it off within its charge throughput.
    pub fn top_returns_j(&self) -> f64 {
        self.top.as_ref().map_or(0.0, |top| {
            let last = top.excess.pieces() - 1;
            top.follow_c * self.excess_v(1.0, last as u16)
        })
    }

    /// Energy put into store between two states, J: chemical, branches and hysteresis.
    pub fn stored_j(&self, from: &LithiumState, to: &LithiumState) -> f64 {
        let mut j = self.capacity_c * self.emf.integral(from.soc, to.soc);
        for (a, b, n) in [(from.v1, to.v1, 0), (from.v2, to.v2, 1)] {
            if self.branch_ohm[n] > 0.0 {
                j += 0.5 * self.branch_s[n] / self.branch_ohm[n] * (b * b - a * a);
            }
        }
        if self.top.is_some() {
            let top = |x: &LithiumState| self.excess_integral(x.soc, self.top_piece_of(x.soc));
            j -= self.capacity_c * (top(to) - top(from));
        }
        if self.hysteresis_v != 0.0 {
            let swing = to.hysteresis * to.hysteresis - from.hysteresis * from.hysteresis;
            j += 0.5 * self.hysteresis_v * self.capacity_c / self.hysteresis_rate * swing;
        }
        j
    }

    /// With a measured series resistance, Ω: whole battery at 25 °C, protection included.
    #[must_use]
    pub fn with_r0(mut self, r0_ohm: f64) -> Lithium {
        self.r0_ohm = r0_ohm;
        self
    }

    /// With another state of charge at the start of the run.
    #[must_use]
    pub fn with_start_soc(mut self, start_soc: f64) -> Lithium {
        self.start_soc = start_soc;
        self
    }
}
