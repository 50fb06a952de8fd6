//! One moment of a run, of which one thing can be changed before the network is asked again.

use super::Scene;
use crate::logic::Mode;
use crate::model::{Model, Piece};
use crate::network::{Bias, Limit, Net, Regime, solve};
use crate::plant_view::Held;
use crate::state::{self, Vector};
use crate::time::Instant;

/// Everything that decides volts and amps at one moment.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moment<'a> {
    pub model: &'a Model,
    pub piece: Piece,
    pub mode: Mode,
    pub since_on_s: f64,
    pub y: Vector,
    pub set_point_v: f64,
    pub net: Net,
}

/// What the unit would see.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    /// Volts that the unit judges by.
    pub v: f64,
    pub regime: Regime,
}

impl Seen {
    /// Whether the unit stays on over `off_v`: a source that collapses does not hold it.
    pub fn stands(&self, off_v: f64) -> bool {
        let collapsed = matches!(self.regime.limit, Limit::Source | Limit::SourceKink | Limit::Starved);
        self.v >= off_v && !collapsed
    }
}

impl<'a> Moment<'a> {
    /// The moment just before `t`; `None` where the run has no trace there.
    pub fn before(scene: &Scene<'a>, t: Instant) -> Option<Self> {
        Self::at(scene, t.plus_ns(-1))
    }

    /// The moment `t`; at a jump, the side after it.
    pub fn at(scene: &Scene<'a>, t: Instant) -> Option<Self> {
        let s = scene.run.trace.at(scene.model, scene.profile, t)?;
        Some(Moment {
            model: scene.model,
            piece: scene.profile.pieces().at(s.piece),
            mode: s.mode,
            since_on_s: if s.mode.on { t.since(s.mode.on_since) } else { 0.0 },
            y: s.state,
            set_point_v: s.set_point_v,
            net: s.net,
        })
    }

    fn held(&self) -> Held<'_> {
        Held::new(self.model, &self.piece, self.mode, self.since_on_s)
    }

    /// The network's answer with one thing changed, once the alternator has taken up its load.
    pub fn seen(&self, change: impl FnOnce(&mut Bias)) -> Seen {
        let mut bias = self.held().settled_bias(&self.y);
        change(&mut bias);
        let (net, regime) = solve(&bias);
        let compensation_ohm = self.model.link().start_stop.compensation_ohm;
        Seen { v: net.in_v + compensation_ohm * net.input_a, regime }
    }

    /// What the alternator's regulator is told to hold, V: its aim less what its own warmth shifts, which is no change that
    /// anybody made.
    pub fn commanded_v(&self) -> f64 {
        let a = &self.model.alternator;
        let warm_v = |_| a.shift_v(self.piece.set_point_as_read, self.y[state::REGULATOR_C]);
        self.set_point_v - a.regulator.map_or(0.0, warm_v)
    }

    /// The same moment under the set-point of another.
    pub fn with_set_point_of(&self, other: &Moment) -> Self {
        let mut m = *self;
        m.piece.set_point_v = other.piece.set_point_v;
        m.piece.set_point_as_read = other.piece.set_point_as_read;
        m.y[state::SET_POINT_V] = other.y[state::SET_POINT_V];
        m.y[state::REGULATOR_C] = other.y[state::REGULATOR_C];
        m
    }

    /// The same moment with the starter battery as it is at another.
    pub fn with_starter_of(&self, other: &Moment) -> Self {
        let mut m = *self;
        state::put_starter(&mut m.y, &state::starter(&other.y));
        m.mode.starter_hold = other.mode.starter_hold;
        m
    }

    /// The cable between starter battery and unit, warm and with whatever its joints have on top, Ω.
    pub fn cable_ohm(&self) -> f64 {
        self.held().input_cable_ohm(&self.y)
    }

    /// The most that the alternator can give, as warm as it is, A.
    pub fn capability_a(&self) -> f64 {
        if !self.mode.alternator_turns() {
            return 0.0;
        }
        let a = &self.model.alternator;
        a.capability_a(self.piece.engine_rpm) * a.heat_share(self.y[state::WINDING_C])
    }

    /// Volts at which the starter battery would rest at its state of charge.
    pub fn rested_v(&self) -> f64 {
        let mut x = state::starter(&self.y);
        (x.v1, x.v2) = (0.0, 0.0);
        let hold = self.model.starter.hold(&x, 0.0);
        self.model.starter.port(&x, &hold).emf_v
    }
}
