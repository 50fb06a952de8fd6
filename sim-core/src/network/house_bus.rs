//! The bus of the house battery, seen from the converter's output cable.
//!
//! With the states of battery contactor and sources held, `I = G·V − A + P/V`: amperes the converter must bring for the
//! posts to stand at V, where P is constant-power load less constant-power supply. Current rises with V on the branch
//! that a real bus stands on, so the states can be found piece by piece.

use super::source::{Ceiling, Source, SourceState};

/// The most sources the house bus can hold: a solar regulator and a mains charger.
pub const SOURCES: usize = 2;

/// What the battery's own protection lets through.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Contact {
    /// Both ways.
    #[default]
    Closed,
    /// Discharge only: charge is refused.
    ChargeBlocked,
    /// Charge only: discharge is refused.
    DischargeBlocked,
    /// Nothing.
    Open,
}

/// The house bus at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HouseBus {
    /// Voltage behind the battery's resistance, V.
    pub emf_v: f64,
    /// Battery resistance, Ω; above zero.
    pub r_ohm: f64,
    /// What the battery's protection lets through.
    pub contact: Contact,
    /// Solar regulator, then mains charger.
    pub sources: [Source; SOURCES],
    /// Constant-power load, W.
    pub load_w: f64,
    /// Output cable, both legs and joints, Ω.
    pub cable_ohm: f64,
}

/// What is held while a step is taken: whether the battery conducts, and each source's state.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct HouseStates {
    /// Whether battery current flows.
    pub conducting: bool,
    /// State of each source.
    pub sources: [SourceState; SOURCES],
}

/// `I = g·V − a + p/V`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    /// Conductance, S.
    pub g: f64,
    /// Current at zero volts, A.
    pub a: f64,
    /// Net constant power, W.
    pub p: f64,
}

impl Curve {
    /// Current the converter must bring for the posts to stand at `v`.
    pub fn i(&self, v: f64) -> f64 {
        self.g * v - self.a + self.p / v
    }

    /// Volts at the posts with `i` brought; where the load asks more than can be had, the volts at which it has most.
    pub fn v(&self, i: f64) -> f64 {
        if self.g == 0.0 {
            // A given current into a bare load, or into none, has no rest: the posts rise until something regulates them.
            return f64::INFINITY;
        }
        let b = self.a + i;
        let inside = (b * b - 4.0 * self.g * self.p).max(0.0);
        (b + inside.sqrt()) / (2.0 * self.g)
    }

    /// Current over `i` at `v`; minus infinity below the volts of greatest power, where no bus can rest.
    fn over(&self, i: f64, v: f64) -> f64 {
        if v * v * self.g >= self.p { self.i(v) - i } else { f64::NEG_INFINITY }
    }

    /// Slope dV/dI at the posts.
    pub fn dv_di(&self, v: f64) -> f64 {
        1.0 / (self.g - self.p / (v * v))
    }

    /// Volts at the posts when the converter holds `target_v` behind `cable_ohm`.
    pub fn v_held(&self, target_v: f64, cable_ohm: f64) -> f64 {
        let c = 1.0 + self.g * cable_ohm;
        let b = target_v + self.a * cable_ohm;
        let inside = (b * b - 4.0 * c * cable_ohm * self.p).max(0.0);
        (b + inside.sqrt()) / (2.0 * c)
    }

    /// Current that carries `power_w` into the output cable; the power at the unit's terminals, cable loss included.
    pub fn i_carrying(&self, power_w: f64, cable_ohm: f64) -> f64 {
        if power_w <= 0.0 {
            return 0.0;
        }
        // Power is convex in current, so Newton from above falls on the root without overshooting it.
        let mut i = power_w / self.v(0.0);
        for _ in 0..30 {
            let v = self.v(i);
            let excess = i * (v + cable_ohm * i) - power_w;
            let slope = v + i * self.dv_di(v) + 2.0 * cable_ohm * i;
            let step = excess / slope;
            i -= step;
            if step.abs() <= 1e-15 * i.abs() {
                break;
            }
        }
        i
    }
}

impl HouseBus {
    /// The curve with the states held.
    pub fn curve(&self, states: HouseStates) -> Curve {
        let mut c = Curve { g: 0.0, a: 0.0, p: self.load_w };
        if states.conducting {
            c.g = 1.0 / self.r_ohm;
            c.a = self.emf_v * c.g;
        }
        for (source, state) in self.sources.iter().zip(states.sources) {
            match (state, source.ceiling) {
                (SourceState::Regulating, _) => {
                    let y = 1.0 / source.droop_ohm;
                    c.g += y;
                    c.a += source.set_v * y;
                }
                (SourceState::Full, Ceiling::Current(i)) => c.a += i,
                (SourceState::Full, Ceiling::Power(w)) => c.p -= w,
                _ => {}
            }
        }
        c
    }

    /// The states with the posts at `v`.
    pub fn states_at(&self, v: f64) -> HouseStates {
        let conducting = match self.contact {
            Contact::Closed => true,
            Contact::ChargeBlocked => v < self.emf_v,
            Contact::DischargeBlocked => v > self.emf_v,
            Contact::Open => false,
        };
        HouseStates { conducting, sources: self.sources.map(|s| s.state_at(v)) }
    }

    /// The states when `rising(curve, v)`, a function that rises with the volts at the posts, passes zero above `low`.
    fn states_where(&self, mut low: f64, rising: impl Fn(&Curve, f64) -> f64) -> HouseStates {
        let mut edges = [0.0; 2 * SOURCES + 1];
        let mut n = 0;
        for s in self.sources.iter().filter(|s| s.present()) {
            edges[n] = s.set_v;
            edges[n + 1] = s.full_below_v();
            n += 2;
        }
        if matches!(self.contact, Contact::ChargeBlocked | Contact::DischargeBlocked) {
            edges[n] = self.emf_v;
            n += 1;
        }
        edges[..n].sort_by(f64::total_cmp);
        let mut below = None;
        for &edge in &edges[..n] {
            // A great resistance has a source give its all under nothing only, where no bus stands.
            if edge > low && edge > 0.0 {
                let inside = if low.is_finite() { 0.5 * (low + edge) } else { edge - 1e-3 };
                let states = self.states_at(inside);
                let curve = self.curve(states);
                // Past zero where it begins: it passed in a piece below, which has no rest for so great a load. There such a
                // bus falls to, and says so.
                if let Some(below) = below.filter(|_| rising(&curve, low) > 0.0) {
                    return below;
                }
                // A bus without a load rests at the set-point itself, where two sources' currents cancel but for rounding.
                if rising(&curve, edge) >= -4.0 * f64::EPSILON * curve.a.abs() {
                    return states;
                }
                low = edge;
                // Where nothing gives way nothing can rest: it falls through.
                if curve.g > 0.0 {
                    below = Some(states);
                }
            }
        }
        self.states_at(if low.is_finite() { low + 1.0 } else { self.emf_v })
    }

    /// The states when the converter brings `i`.
    pub fn states_bringing(&self, i: f64) -> HouseStates {
        let states = self.states_where(f64::NEG_INFINITY, |c, v| c.over(i, v));
        let curve = self.curve(states);
        // A battery that refuses charge lets the bus go where something else carries the load. Where nothing does, the load is the
        // battery's, and more than it can give.
        let bare = self.contact == Contact::ChargeBlocked && curve.g == 0.0 && curve.p > 0.0;
        let set_v = self.sources.iter().filter(|s| s.present()).map(|s| s.set_v);
        if bare && (curve.a + i) * set_v.fold(self.emf_v, f64::max) < curve.p {
            return HouseStates { conducting: true, ..self.states_at(self.emf_v) };
        }
        states
    }

    /// The states when the converter brings nothing and the posts stand above `low`. With the battery blocked a load of
    /// constant power can be carried at two voltages: by the battery, or higher up by the sources alone.
    pub fn states_above(&self, low: f64) -> HouseStates {
        self.states_where(low, |c, v| c.over(0.0, v))
    }

    /// The states when the converter holds `target_v` behind `cable_ohm`.
    pub fn states_held(&self, target_v: f64, cable_ohm: f64) -> HouseStates {
        self.states_where(f64::NEG_INFINITY, |c, v| v + cable_ohm * c.i(v) - target_v)
    }

    /// The states when the converter's output terminals carry `power_w`.
    pub fn states_carrying(&self, power_w: f64) -> HouseStates {
        self.states_where(f64::NEG_INFINITY, |c, v| {
            let i = c.i(v);
            i * (v + self.cable_ohm * i.max(0.0)) - power_w
        })
    }

    /// Volts to the nearest point where the states would change; negative once they should have.
    pub fn margin_in(&self, states: HouseStates, v: f64) -> f64 {
        let battery = match self.contact {
            Contact::Closed | Contact::Open => f64::INFINITY,
            Contact::ChargeBlocked if states.conducting => self.emf_v - v,
            Contact::DischargeBlocked if states.conducting => v - self.emf_v,
            Contact::ChargeBlocked => v - self.emf_v,
            Contact::DischargeBlocked => self.emf_v - v,
        };
        self.sources
            .iter()
            .zip(states.sources)
            .map(|(s, state)| s.margin_in(state, v))
            .fold(battery, f64::min)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bus() -> HouseBus {
        HouseBus {
            emf_v: 13.2,
            r_ohm: 0.004,
            contact: Contact::Closed,
            sources: [Source { set_v: 14.4, droop_ohm: 0.02, ceiling: Ceiling::Power(150.0) }, Source::NONE],
            load_w: 60.0,
            cable_ohm: 0.0046,
        }
    }

    #[test]
    fn curve_inverts_itself() {
        let b = bus();
        for i in [-20.0, 0.0, 15.0, 40.0, 400.0] {
            let c = b.curve(b.states_bringing(i));
            let v = c.v(i);
            assert!((c.i(v) - i).abs() < 1e-9);
            assert_eq!(b.states_at(v), b.states_bringing(i));
            let held = c.v_held(v + b.cable_ohm * i, b.cable_ohm);
            assert!((held - v).abs() < 1e-12);
        }
    }

    #[test]
    fn carrying_power_is_exact() {
        let b = bus();
        for p in [1.0, 50.0, 540.0, 2000.0] {
            let c = b.curve(b.states_carrying(p));
            let i = c.i_carrying(p, b.cable_ohm);
            assert!((i * (c.v(i) + b.cable_ohm * i) - p).abs() < 1e-9 * p);
        }
    }

    #[test]
    fn a_blocked_battery_leaves_the_load_to_the_converter() {
        let b = HouseBus { contact: Contact::ChargeBlocked, sources: [Source::NONE; 2], ..bus() };
        let states = b.states_held(14.3, b.cable_ohm);
        assert!(!states.conducting);
        let c = b.curve(states);
        let v = c.v_held(14.3, b.cable_ohm);
        assert!((c.i(v) * v - 60.0).abs() < 1e-9);
        // Less than the load needs: the posts fall until the battery helps.
        assert!(b.states_bringing(2.0).conducting);
        // So too where it cannot: it was taken to stand at no volts at all.
        let weak = HouseBus { r_ohm: 11.0, ..b };
        assert!(
            weak.states_bringing(0.0).conducting && weak.curve(weak.states_bringing(0.0)).v(0.0).is_finite()
        );
        assert!(!weak.states_bringing(30.0).conducting);
    }
}
