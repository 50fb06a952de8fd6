//! The plain model while its discrete state and the network's regime are held, in its own few numbers.
//!
//! Seven states, two batteries of two branches, and a network whose lines have constant conductances: what
//! [`Held`] works out anew at every state is worked out once here. The equations are those of [`Held`] and of the
//! network, and the test compares; only the order of rounding differs.

use super::Held;
use crate::network::converter_point::input_ceiling;
use crate::network::house_bus::Curve;
use crate::network::starter_bus::Line;
use crate::network::{Bias, Limit, Net, Regime, Sense};
use crate::plant::battery::{Flow, Hold, PlainBattery};
use crate::state::{self, CASE_C, HOUSE, PLAIN, STARTER, Vector};

pub mod modes;
mod slopes;
pub use slopes::{PlainFactored, PlainLinear};

/// Places of a plain state vector: those of the plain model, and one that stays at nothing, so that they come in pairs.
pub const LANES: usize = PLAIN + 1;

/// Least series resistance of a battery, Ω. A current is a difference of volts over it, and here a reciprocal is rounded
/// once for a whole stretch: at a nanoohm that would be worth a microampere throughout.
const LEAST_OHM: f64 = 1e-5;

/// A plain state vector.
pub type Plain = [f64; LANES];

/// Takes the plain states out of a state vector.
pub fn taken(y: &Vector) -> Plain {
    let mut x = [0.0; LANES];
    x[..PLAIN].copy_from_slice(&y[..PLAIN]);
    x
}

/// A battery with its hold: all that its states do.
#[derive(Debug, Clone, Copy, Default)]
pub struct Cell {
    /// Beginning of the EMF's piece, SOC.
    from_soc: f64,
    /// The piece's cubic from there on, V.
    emf: [f64; 4],
    /// Conductance, S.
    pub g: f64,
    /// Series resistance, Ω.
    pub r0_ohm: f64,
    /// Rates of the branches, 1/s.
    pub rate: [f64; 2],
    /// What an ampere does to each branch, V/s.
    pub push: [f64; 2],
    /// Conductances of the branches, S; nothing for a branch that never polarises.
    pub branch_g: [f64; 2],
    /// What an ampere does to the state of charge, 1/s.
    pub soc_per_a: f64,
}

impl Cell {
    fn new(b: &PlainBattery, hold: Hold) -> Cell {
        let share = match (hold.saturated, hold.flow) {
            (true, _) => 0.0,
            (false, Flow::Charging) => b.charge_efficiency,
            (false, Flow::Discharging) => 1.0,
        };
        let (from_soc, emf) = b.emf.cubic_in(hold.piece);
        let rate = b.branch_s.map(|s| 1.0 / s);
        Cell {
            from_soc,
            emf,
            g: 1.0 / b.r0_ohm,
            r0_ohm: b.r0_ohm,
            rate,
            push: [b.branch_ohm[0] * rate[0], b.branch_ohm[1] * rate[1]],
            // Of so small a resistance that its reciprocal is no number, nothing polarises either.
            branch_g: b.branch_ohm.map(|ohm| if (1.0 / ohm).is_finite() { 1.0 / ohm } else { 0.0 }),
            soc_per_a: share / b.capacity_c,
        }
    }

    /// Rested volts.
    pub fn rested_v(&self, soc: f64) -> f64 {
        let [a, b, c, d] = self.emf;
        let u = soc - self.from_soc;
        a + u * (b + u * (c + u * d))
    }

    /// The greatest resistance that anything in it has, Ω.
    pub fn ohm(&self) -> f64 {
        (0..2).map(|n| self.push[n] / self.rate[n]).fold(self.r0_ohm, f64::max)
    }

    fn slope_v(&self, soc: f64) -> f64 {
        let [_, b, c, d] = self.emf;
        let u = soc - self.from_soc;
        b + u * (2.0 * c + u * 3.0 * d)
    }
}

/// The operating point at one instant, what the states' derivatives need of it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Point {
    /// EMF of the starter battery, V.
    pub starter_emf_v: f64,
    /// EMF of the house battery, V.
    pub house_emf_v: f64,
    /// Volts at the starter posts.
    pub sb_v: f64,
    /// Volts at the house posts.
    pub house_v: f64,
    /// The unit's input current, A.
    pub input_a: f64,
    /// The unit's output current, A.
    pub output_a: f64,
}

/// The plain model held.
#[derive(Debug, Clone, Copy)]
pub struct PlainHeld {
    /// The starter battery.
    pub starter: Cell,
    /// The house battery.
    pub house: Cell,
    pub(crate) regime: Regime,
    /// The network's inputs but the batteries' EMF and the output current cap.
    pub(crate) bias: Bias,
    /// The starter bus's line, the battery's EMF left out.
    line: Line,
    line_ohm: f64,
    /// The house bus's curve, likewise.
    curve: Curve,
    half_ohm: f64,
    /// Conductance of the house battery as far as it conducts, S.
    house_g: f64,
    sense_ohm: f64,
    half_held: f64,
    cap_from_a: f64,
    cap_a_per_s: f64,
    input_open: bool,
    air_c: f64,
    case_w_per_k: f64,
    per_case_j: f64,
}

impl PlainHeld {
    /// The plain model as it is held, if it is one: effects that reach into it are no part of it.
    pub fn new(held: &Held, regime: Regime) -> Option<PlainHeld> {
        let (m, acts) = (held.model, &held.acts);
        if held.used > PLAIN || acts.derate || acts.compensation || held.template.unit.output_open {
            return None;
        }
        let (starter, house) = (m.starter.plain()?, m.house.plain()?);
        if starter.r0_ohm.min(house.r0_ohm) < LEAST_OHM {
            return None;
        }
        let c = &m.link().converter;
        let mut bias = held.template;
        bias.starter.r_ohm = starter.r0_ohm;
        bias.house.r_ohm = house.r0_ohm;
        let (line, curve) = (bias.starter.line(regime.starter), bias.house.curve(regime.house));
        let starter = Cell::new(starter, held.mode.starter_hold.plain);
        let house = Cell::new(house, held.mode.house_hold.plain);
        let sense_ohm = if bias.unit.sense == Sense::Terminals { bias.house.cable_ohm } else { 0.0 };
        Some(PlainHeld {
            starter,
            house,
            regime,
            bias,
            line,
            line_ohm: 1.0 / line.g,
            curve,
            half_ohm: 0.5 / curve.g,
            house_g: if regime.house.conducting { house.g } else { 0.0 },
            sense_ohm,
            half_held: 0.5 / (1.0 + curve.g * sense_ohm),
            cap_from_a: held.ramp_from_a,
            cap_a_per_s: held.ramp_a_per_s,
            input_open: held.input_open,
            air_c: held.piece.air_c,
            case_w_per_k: c.case_w_per_k,
            per_case_j: 1.0 / c.case_j_per_k,
        })
    }

    fn cap_a(&self, dt: f64) -> f64 {
        self.cap_from_a + self.cap_a_per_s * dt
    }

    /// The network's inputs at a point.
    pub fn bias_at(&self, dt: f64, p: &Point) -> Bias {
        let mut bias = self.bias;
        bias.starter.emf_v = p.starter_emf_v;
        bias.house.emf_v = p.house_emf_v;
        bias.unit.output_cap_a = self.cap_a(dt);
        bias
    }

    /// The operating point `dt` seconds into the step.
    #[inline]
    pub fn point(&self, dt: f64, x: &Plain) -> Point {
        let starter_emf_v = self.starter.rested_v(x[STARTER]) + x[STARTER + 1] + x[STARTER + 2];
        let house_emf_v = self.house.rested_v(x[HOUSE]) + x[HOUSE + 1] + x[HOUSE + 2];
        let line = Line { a: self.line.a + starter_emf_v * self.starter.g, g: self.line.g };
        let curve = Curve { a: self.curve.a + house_emf_v * self.house_g, ..self.curve };
        let unit = &self.bias.unit;
        let cable_ohm = self.bias.house.cable_ohm;
        let asks = |i: f64, v: f64| self.drawing(line, unit.loss.input_w(i * (v + cable_ohm * i)));
        let (input_a, output_a, house_v) = match self.regime.limit {
            Limit::Off => (unit.standby_a, 0.0, self.house_v(&curve, 0.0)),
            Limit::OutputCurrent => {
                let i = self.cap_a(dt);
                let v = self.house_v(&curve, i);
                (asks(i, v), i, v)
            }
            Limit::Voltage => {
                let b = unit.target_v + curve.a * self.sense_ohm;
                let c = 4.0 * (1.0 + curve.g * self.sense_ohm) * self.sense_ohm;
                let v = (b + (b * b - c * curve.p).max(0.0).sqrt()) * self.half_held;
                let i = curve.i(v);
                let (i, v) = if i < 0.0 && curve.g > 0.0 { (0.0, self.house_v(&curve, 0.0)) } else { (i, v) };
                (asks(i, v), i, v)
            }
            Limit::Idle => (self.drawing(line, unit.loss.input_w(0.0)), 0.0, self.house_v(&curve, 0.0)),
            Limit::Starved => {
                let i = self.drawing(line, unit.loss.input_w(0.0)).min(unit.input_cap_a);
                (i, 0.0, self.house_v(&curve, 0.0))
            }
            Limit::InputCurrent | Limit::Floor | Limit::Source | Limit::SourceKink => {
                let i_in = input_ceiling(&self.bias, line, self.regime);
                let in_v = (line.a - i_in) * self.line_ohm - self.bias.starter.cable_ohm * i_in;
                let i = curve.i_carrying(unit.loss.output_w(i_in * in_v), cable_ohm);
                (i_in, i, self.house_v(&curve, i))
            }
        };
        let sb_v = (line.a - input_a) * self.line_ohm;
        Point { starter_emf_v, house_emf_v, sb_v, house_v, input_a, output_a }
    }

    fn house_v(&self, curve: &Curve, i: f64) -> f64 {
        if curve.g == 0.0 {
            return f64::INFINITY;
        }
        let b = curve.a + i;
        (b + (b * b - 4.0 * curve.g * curve.p).max(0.0).sqrt()) * self.half_ohm
    }

    /// Input current for a power; past the source's greatest power, that of the peak.
    fn drawing(&self, line: Line, power_w: f64) -> f64 {
        let v0 = line.a * self.line_ohm;
        let r = self.line_ohm + self.bias.starter.cable_ohm;
        let inside = v0 * v0 - 4.0 * r * power_w;
        if inside >= 0.0 && v0 > 0.0 { 2.0 * power_w / (v0 + inside.sqrt()) } else { 0.5 * v0 / r }
    }

    /// Volts at the unit's input.
    pub fn in_v(&self, p: &Point) -> f64 {
        if self.input_open { 0.0 } else { p.sb_v - self.bias.starter.cable_ohm * p.input_a }
    }

    /// Volts at the unit's output.
    pub fn out_v(&self, p: &Point) -> f64 {
        p.house_v + self.bias.house.cable_ohm * p.output_a
    }

    /// Current into the starter battery, A.
    pub fn starter_a(&self, p: &Point) -> f64 {
        (p.sb_v - p.starter_emf_v) * self.starter.g
    }

    /// Current into the house battery, A.
    pub fn house_a(&self, p: &Point) -> f64 {
        if self.regime.house.conducting { (p.house_v - p.house_emf_v) * self.house.g } else { 0.0 }
    }

    /// All volts and amps of a point.
    pub fn net(&self, p: &Point) -> Net {
        let (starter, house) = (&self.bias.starter, &self.bias.house);
        let from = |n: usize| starter.sources[n].current_in(self.regime.starter[n], p.sb_v);
        let house_from = |n: usize| house.sources[n].current_in(self.regime.house.sources[n], p.house_v);
        Net {
            sb_v: p.sb_v,
            in_v: self.in_v(p),
            out_v: self.out_v(p),
            house_v: p.house_v,
            alternator_a: from(0),
            starter_source_a: from(1),
            starter_a: self.starter_a(p),
            input_a: p.input_a,
            output_a: p.output_a,
            house_a: self.house_a(p),
            house_load_a: house.load_w / p.house_v,
            solar_a: house_from(0),
            charger_a: house_from(1),
        }
    }

    /// Derivatives of the states.
    #[inline]
    pub fn flow(&self, x: &Plain, p: &Point) -> Plain {
        let (i, j) = (self.starter_a(p), self.house_a(p));
        let (s, h) = (&self.starter, &self.house);
        let heat_w = self.in_v(p) * p.input_a - self.out_v(p) * p.output_a;
        let released_w = self.case_w_per_k * (x[CASE_C] - self.air_c);
        let mut d = [0.0; LANES];
        d[STARTER] = i * s.soc_per_a;
        d[STARTER + 1] = i * s.push[0] - x[STARTER + 1] * s.rate[0];
        d[STARTER + 2] = i * s.push[1] - x[STARTER + 2] * s.rate[1];
        d[HOUSE] = j * h.soc_per_a;
        d[HOUSE + 1] = j * h.push[0] - x[HOUSE + 1] * h.rate[0];
        d[HOUSE + 2] = j * h.push[1] - x[HOUSE + 2] * h.rate[1];
        d[CASE_C] = (heat_w - released_w) * self.per_case_j;
        d
    }

    /// Slopes of both EMFs to their states of charge, V.
    pub(crate) fn emf_slopes(&self, x: &Plain) -> [f64; 2] {
        [self.starter.slope_v(x[STARTER]), self.house.slope_v(x[HOUSE])]
    }

    /// What the case gives off per kelvin and what a watt does to it: 1/s, K/J.
    pub(crate) fn case(&self) -> [f64; 2] {
        [self.case_w_per_k * self.per_case_j, self.per_case_j]
    }

    /// Whether the unit takes its standby current and nothing else.
    pub fn rests(&self) -> bool {
        self.regime.limit == Limit::Off
    }

    /// Temperature of the air around the case, °C.
    pub(crate) fn air_c(&self) -> f64 {
        self.air_c
    }

    /// Whether the unit is in its soft start.
    pub fn ramps(&self) -> bool {
        self.cap_a_per_s != 0.0
    }

    /// How fast the output current cap rises, A/s.
    pub(super) fn ramp_a_per_s(&self) -> f64 {
        self.cap_a_per_s
    }

    /// Conductance of the house battery as far as it conducts, S.
    pub(super) fn house_g(&self) -> f64 {
        self.house_g
    }
}

/// Puts plain states into a state vector.
pub fn put(y: &mut Vector, x: &Plain) {
    y[..state::PLAIN].copy_from_slice(&x[..PLAIN]);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pchip::Pchip;
    use crate::plant::battery::Emf;

    /// A table's cubics, past both ends too: volts and slope are those of the table.
    #[test]
    fn a_cell_is_its_batterys_table() {
        let table =
            Pchip::new(&[0.0, 0.1, 0.5, 0.9, 1.0], &[10.0, 12.8, 13.2, 13.4, 14.2]).expect("it rises");
        let emf = Emf::Table(table);
        let battery = PlainBattery {
            capacity_c: 7.2e5,
            emf: emf.clone(),
            r0_ohm: 0.004,
            branch_ohm: [0.003, 0.005],
            branch_s: [30.0, 1200.0],
            charge_efficiency: 1.0,
            start_soc: 0.5,
        };
        for n in -5..=105 {
            let soc = 0.01 * f64::from(n) + 0.003;
            let piece = emf.piece_of(soc);
            let cell = Cell::new(&battery, Hold { piece, ..Hold::default() });
            assert!((cell.rested_v(soc) - emf.value_in(piece, soc)).abs() < 1e-12, "volts at {soc}");
            let seen = (emf.value_in(piece, soc + 1e-6) - emf.value_in(piece, soc - 1e-6)) / 2e-6;
            assert!((cell.slope_v(soc) - seen).abs() < 1e-6 * seen.abs().max(1.0), "slope at {soc}");
        }
    }
}
