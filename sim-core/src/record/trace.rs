//! The trace: knots and coefficients are stored, volts and amps are evaluated when asked.

use crate::engine::dense::Continuous;
use crate::logic::Mode;
use crate::model::{Model, Profile};
use crate::network::{Bias, Net, Regime};
use crate::plant_view::Held;
use crate::state::Vector;
use crate::time::Instant;

/// One accepted step.
#[derive(Debug, Clone, Copy)]
pub struct Knot {
    /// Beginning.
    pub start: Instant,
    /// Accepted length, ns.
    pub ns: i64,
    /// Piece of the drive.
    pub piece: usize,
    /// Discrete state during the step.
    pub mode: Mode,
    /// Regime during the step.
    pub regime: Regime,
    /// States over the step.
    pub dense: Continuous,
}

/// The trace of a run.
#[derive(Debug, Clone, Default)]
pub struct Trace {
    knots: Vec<Knot>,
}

/// Everything at one instant.
#[derive(Debug, Clone, Copy)]
pub struct Sample {
    /// When.
    pub t: Instant,
    /// Slow states.
    pub state: Vector,
    /// Volts and amps.
    pub net: Net,
    /// What the alternator's regulator aims at, V; not a number while the alternator stands.
    pub set_point_v: f64,
    /// Discrete state.
    pub mode: Mode,
    /// Which limits rule.
    pub regime: Regime,
    /// Index of the drive's piece.
    pub piece: usize,
}

impl Trace {
    pub(crate) fn push(&mut self, knot: Knot) {
        self.knots.push(knot);
    }

    /// The steps.
    pub fn knots(&self) -> &[Knot] {
        &self.knots
    }

    /// Everything at an instant; at a jump, the side after it. `None` before the start and after the end.
    pub fn at(&self, model: &Model, profile: &Profile, t: Instant) -> Option<Sample> {
        let after = self.knots.partition_point(|k| k.start <= t);
        let knot = self.knots.get(after.checked_sub(1)?)?;
        (t.ns() - knot.start.ns() <= knot.ns).then(|| sample(model, profile, knot, t.ns() - knot.start.ns()))
    }

    /// Samples within a step for an integral over it, each with the seconds that it stands for: three-point
    /// Gauss-Legendre, exact to order six (textbook values). Steps end at every switching, so what is integrated is smooth.
    pub fn nodes<'a>(
        &'a self,
        model: &'a Model,
        profile: &'a Profile,
        knot: &'a Knot,
    ) -> impl Iterator<Item = (Sample, f64)> + 'a {
        const NODES: [(f64, f64); 3] =
            [(0.112_701_665_379_258_3, 5.0 / 18.0), (0.5, 8.0 / 18.0), (0.887_298_334_620_741_7, 5.0 / 18.0)];
        NODES.iter().map(move |&(place, weight)| {
            let ns = (place * knot.ns as f64) as i64;
            (sample(model, profile, knot, ns), weight * knot.ns as f64 * 1e-9)
        })
    }

    /// Everything `ns` into knot number `n`, its end included: the side before a jump there.
    pub fn within(&self, model: &Model, profile: &Profile, n: usize, ns: i64) -> Option<Sample> {
        let knot = self.knots.get(n)?;
        (0..=knot.ns).contains(&ns).then(|| sample(model, profile, knot, ns))
    }

    /// Samples for a picture or a table: every `step_s` seconds from the start, and both sides of every jump.
    pub fn samples<'a>(
        &'a self,
        model: &'a Model,
        profile: &'a Profile,
        step_s: f64,
    ) -> impl Iterator<Item = Sample> + 'a {
        let first = self.knots.first().map_or(Instant::ZERO, |k| k.start);
        let step_ns = ((step_s * 1e9) as i64).max(1);
        self.knots.iter().enumerate().flat_map(move |(n, knot)| {
            let begins_jump = n == 0 || self.jumps(n - 1);
            let ends_jump = n + 1 == self.knots.len() || self.jumps(n);
            let from = knot.start.ns() - first.ns();
            let grid = (from + step_ns - 1) / step_ns * step_ns;
            let inside = (0..)
                .map(move |k| grid + k * step_ns - from)
                .take_while(move |&ns| ns < knot.ns)
                .filter(move |&ns| !(begins_jump && ns == 0));
            begins_jump
                .then_some(0)
                .into_iter()
                .chain(inside)
                .chain(ends_jump.then_some(knot.ns))
                .map(move |ns| sample(model, profile, knot, ns))
        })
    }

    /// Whether anything discrete changes between knot `n` and the next.
    fn jumps(&self, n: usize) -> bool {
        let (a, b) = (&self.knots[n], &self.knots[n + 1]);
        a.mode.on != b.mode.on
            || a.mode.stage != b.mode.stage
            || a.mode.engine_runs != b.mode.engine_runs
            || a.mode.cranking() != b.mode.cranking()
            || a.mode.ramping() != b.mode.ramping()
            || a.mode.contact != b.mode.contact
            || a.mode.shed != b.mode.shed
            || a.mode.starter_dead != b.mode.starter_dead
            || a.mode.awake() != b.mode.awake()
            || a.piece != b.piece
    }
}

/// The network's inputs at a sample, once the alternator has taken up its load: what a load line is drawn from.
pub fn settled_bias(model: &Model, profile: &Profile, s: &Sample) -> Bias {
    let since_on = if s.mode.on { s.t.since(s.mode.on_since) } else { 0.0 };
    Held::new(model, &profile.pieces()[s.piece], s.mode, since_on).settled_bias(&s.state)
}

fn sample(model: &Model, profile: &Profile, knot: &Knot, ns: i64) -> Sample {
    let dt = ns as f64 * 1e-9;
    let state = knot.dense.at(dt);
    let held =
        Held::new(model, &profile.pieces()[knot.piece], knot.mode, knot.start.since(knot.mode.on_since));
    let net = held.net(dt, &state, knot.regime);
    let set_point_v = held.set_point_v(&state);
    let (mode, regime) = (knot.mode, knot.regime);
    Sample { t: knot.start.plus_ns(ns), state, net, set_point_v, mode, regime, piece: knot.piece }
}
