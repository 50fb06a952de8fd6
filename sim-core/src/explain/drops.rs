//! Where the volts go between the alternator's set-point and the unit's input.

use super::moment::Moment;
use crate::state::INPUT_CABLE_C;
use serde::Serialize;

/// The volts at one moment, from the set-point down to the threshold; each drop is positive downwards.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Drops {
    /// What the alternator's regulator aims at, V; `None` while the alternator stands.
    pub set_point_v: Option<f64>,
    /// From there to the starter posts, V: droop, cable, and what an alternator at its limit falls short of.
    pub alternator_v: Option<f64>,
    /// Whether the alternator gives all it can.
    pub alternator_full: bool,
    /// The most it can give, A.
    pub capability_a: f64,
    /// Alternator current, A.
    pub alternator_a: f64,
    /// Volts at the starter posts.
    pub posts_v: f64,
    /// Current into the starter battery, A.
    pub starter_a: f64,
    /// Conductor of the positive leg, V.
    pub positive_v: f64,
    /// Conductor of the negative leg, V.
    pub negative_v: f64,
    /// Joints and fuses, V.
    pub joints_v: f64,
    /// The whole input cable as warm as it was, Ω.
    pub cable_ohm: f64,
    /// The unit's input current, A.
    pub input_a: f64,
    /// Volts at the unit's input.
    pub input_v: f64,
}

impl Drops {
    pub(super) fn of(m: &Moment) -> Drops {
        let cable = &m.model.link().input_cable;
        let i = m.net.input_a;
        let ohm = |n: usize| cable.conductors[n].ohm_at(m.y[INPUT_CABLE_C + n]);
        let (mut positive, mut negative) = (ohm(0) + ohm(2), ohm(1) + ohm(3));
        if cable.conductors[1].ohm_20 == 0.0 {
            // A cable of constant temperature is one conductor for both legs, which are alike.
            positive *= 0.5;
            negative = positive;
        }
        let turns = m.mode.alternator_turns();
        let full = m.capability_a();
        Drops {
            set_point_v: turns.then_some(m.set_point_v),
            alternator_v: turns.then_some(m.set_point_v - m.net.sb_v),
            // Behind a pick-up the current only nears its ceiling.
            alternator_full: turns && m.net.alternator_a > 0.995 * full,
            capability_a: full,
            alternator_a: m.net.alternator_a,
            posts_v: m.net.sb_v,
            starter_a: m.net.starter_a,
            positive_v: i * positive,
            negative_v: i * negative,
            joints_v: i * (cable.joints_ohm + m.piece.input_joint_extra_ohm),
            cable_ohm: m.cable_ohm(),
            input_a: i,
            input_v: m.net.in_v,
        }
    }

    /// The input cable's share of the drop from the set-point to the input, 0 to 1; `None` while the alternator stands.
    pub fn cable_share(&self) -> Option<f64> {
        let whole_v = self.set_point_v? - self.input_v;
        (whole_v > 1e-6).then(|| ((self.posts_v - self.input_v) / whole_v).clamp(0.0, 1.0))
    }
}
