//! Which method takes a step, behind one face.

use super::courses::Courses;
use super::dense::Dense;
use super::dormand_prince::{self, NODES, Stage};
use super::gate::StepGate;
use super::guards::{GUARDS, Values, evaluate, evaluate_at};
use super::{rodas5p, rosenbrock};
use crate::model::Model;
use crate::network::{Net, Regime, solve_in};
use crate::plant::battery::{Battery, Chemistry};
use crate::plant_view::Held;
use crate::plant_view::linear::BRANCHES_AT;
use crate::run_data::ledger::{Ledger, rates};
use crate::state::{SCALE, Vector};

/// How steps are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Stepper {
    /// The explicit 5(4) pair, what everything else is measured against.
    Reference,
    /// Linearly implicit steps, which seconds-fast states do not bound; the explicit pair where steps are short anyway.
    #[default]
    Fast,
}

/// The fast stepper's error estimate is that of the lower-order solution, far above the error of the one it goes on with:
/// it may be this many times the tolerance. Measured on wild vehicles, see `tests/physics/steppers.rs`.
const ALLOWANCE: f64 = 10.0;
/// The same where nothing is faster than seconds: no transient of tenths of a second shortens a step there, and energy would
/// close worse than 1e-6 where a load takes near all that its battery can give.
const SLOW_ALLOWANCE: f64 = 2.0;
/// Up to this many times the fastest time constant explicit steps cost less than linearly implicit ones.
const SHORT: f64 = 0.3;
/// ... but no longer than this, s: the explicit pair books energy from stages that are of a lower order than its states.
const LONGEST_SHORT_S: f64 = 0.5;

/// Explicit steps of more than this over the fastest rate are bound by stability and not by error: the pair's region of
/// stability ends at 3.3 (Hairer and Wanner, Solving Ordinary Differential Equations II, 2nd ed., IV.2), and the choice of
/// lengths swings below that.
const STABLE: f64 = 2.0;
/// So many of them one after the other, and what is held is stiffer than [`fastest_per_s`] can tell of a model: a current
/// picked up behind a small set-point slope into a battery of a fraction of an ohm, or a unit near the greatest power of its
/// source.
const STIFF: u32 = 15;

/// Longest first step after an event, s: transients of seconds must not be stepped over.
const FIRST_STEP_S: f64 = 10.0;
/// Most by which a step is longer than the one before.
const GROWTH: f64 = 6.0;
/// The same where what dies away within a step is taken out of it.
const FADING_GROWTH: f64 = 10.0;

/// Gauss's five points and weights from 0 to 1 (Abramowitz and Stegun, table 25.4, moved from −1..1).
const GAUSS: [(f64, f64); 5] = [
    (0.046_910_077_030_668, 0.118_463_442_528_094_54),
    (0.230_765_344_947_158_45, 0.239_314_335_249_683_23),
    (0.5, 0.284_444_444_444_444_44),
    (0.769_234_655_052_841_5, 0.239_314_335_249_683_23),
    (0.953_089_922_969_332, 0.118_463_442_528_094_54),
];

/// What takes a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Method {
    #[default]
    Explicit,
    Implicit,
}

/// The working memory of all methods; no step allocates.
#[derive(Debug, Default)]
pub struct Steppers {
    explicit: dormand_prince::Attempt,
    implicit: rosenbrock::Attempt,
    /// Up to this length a step is taken by the explicit pair, s.
    short_s: f64,
    /// The same while what is held now lasts.
    short_now_s: f64,
    /// Explicit steps in a row that stability has bound.
    bound: u32,
    fast: bool,
    method: Method,
    regime: Regime,
    explicit_dense: Dense,
}

impl Steppers {
    /// Steppers for a model.
    pub fn new(stepper: Stepper, model: &Model) -> Steppers {
        let fast = stepper == Stepper::Fast;
        let short_s = if fast { (SHORT / fastest_per_s(model)).min(LONGEST_SHORT_S) } else { f64::INFINITY };
        Steppers { short_s, short_now_s: short_s, fast, ..Steppers::default() }
    }

    /// Takes over what is held from here on, and evaluates the state where it begins.
    pub fn hold(&mut self, held: &Held, regime: Regime, y: Vector) -> Stage {
        (self.short_now_s, self.bound, self.regime) = (self.short_s, 0, regime);
        self.implicit.forget();
        Stage::at(held, regime, 0.0, y)
    }

    /// Tells that `first` is another state than at the last attempt.
    pub fn forget(&mut self) {
        self.implicit.forget();
    }

    /// The error that a step of the implicit method may show.
    fn allowed(&self, tolerance: f64) -> f64 {
        tolerance * if self.short_s > 0.1 { SLOW_ALLOWANCE } else { ALLOWANCE }
    }

    /// Whether long steps are taken with what dies away in them taken out.
    fn takes_decays_out(&self, tolerance: f64) -> bool {
        self.fast && rosenbrock::takes_decays_out(self.allowed(tolerance))
    }

    /// A first step from `first`, s: what the derivatives allow, and never long enough to step over what the event started.
    pub fn first_step_s(
        &mut self,
        (held, regime): (&Held, Regime),
        first: &Stage,
        tolerance: f64,
        share: f64,
    ) -> f64 {
        let mut dy = first.dy;
        if self.takes_decays_out(tolerance) {
            self.implicit.prepare(held, regime, first, self.allowed(tolerance));
            dy = self.implicit.slow_dy(first);
            let moving = BRANCHES_AT.into_iter().map(|i| dy[i].abs()).fold(0.0, f64::max);
            if let Some(h_s) = self.implicit.fades().first_step_s(self.allowed(tolerance), moving) {
                return h_s;
            }
        }
        let speed = (0..held.used).map(|i| dy[i].abs() / SCALE[i]).fold(1e-9, f64::max);
        (share / speed).clamp(1e-6, FIRST_STEP_S)
    }

    /// Most by which a step may be longer than the one before.
    pub fn growth(&self, tolerance: f64) -> f64 {
        if self.takes_decays_out(tolerance) { FADING_GROWTH } else { GROWTH }
    }

    /// Attempts a step; returns its error over tolerance.
    pub fn attempt(&mut self, held: &Held, regime: Regime, first: &Stage, h_s: f64, tolerance: f64) -> f64 {
        self.method = if h_s > self.short_now_s { Method::Implicit } else { Method::Explicit };
        match self.method {
            Method::Implicit => {
                self.implicit.attempt(held, regime, first, h_s, self.allowed(tolerance));
                self.implicit.error
            }
            Method::Explicit => {
                dormand_prince::attempt(&mut self.explicit, held, regime, first, h_s, tolerance);
                self.explicit.error
            }
        }
    }

    /// How much shorter than one that was too long a step is to be at least.
    pub fn shorter(&self) -> f64 {
        if self.method == Method::Implicit && self.implicit.off_inside() { 0.5 } else { 0.9 }
    }

    /// Completes an accepted step.
    pub fn finish(&mut self, held: &Held, regime: Regime, first: &Stage) {
        match self.method {
            Method::Implicit => self.implicit.finish(held, regime, first),
            Method::Explicit => {
                self.explicit_dense = self.explicit.dense();
                self.watch_stiffness();
            }
        }
    }

    /// Goes over to the implicit method where stability has bound many explicit steps one after the other.
    fn watch_stiffness(&mut self) {
        if !self.fast {
            return;
        }
        let rate = self.explicit.fastest_per_s();
        self.bound = if self.explicit.h_s * rate > STABLE { self.bound + 1 } else { 0 };
        if self.bound == STIFF {
            self.short_now_s = SHORT / rate;
        }
    }

    /// The step's end.
    pub fn end(&self) -> &Stage {
        match self.method {
            Method::Implicit => &self.implicit.end,
            Method::Explicit => self.explicit.end(),
        }
    }

    /// Length of the attempt, s.
    pub fn h_s(&self) -> f64 {
        match self.method {
            Method::Implicit => self.implicit.h_s,
            Method::Explicit => self.explicit.h_s,
        }
    }

    /// Continuous states, for a trace.
    pub fn dense(&self) -> Dense {
        match self.method {
            Method::Implicit => self.implicit.dense,
            Method::Explicit => self.explicit_dense,
        }
    }

    /// States `dt` seconds into the step.
    pub fn state_at(&self, dt: f64) -> Vector {
        match self.method {
            Method::Implicit => self.implicit.dense.at(dt),
            Method::Explicit => self.explicit_dense.at(dt),
        }
    }

    /// Volts and amps `dt` seconds into the step.
    pub fn net_at(&self, held: &Held, regime: Regime, dt: f64) -> Net {
        held.net(dt, &self.state_at(dt), regime)
    }

    /// Guards `dt` seconds into the step, but for the rounding of what temperatures decide.
    pub fn guards_at(&self, held: &Held, regime: Regime, dt: f64) -> Values {
        let y = self.state_at(dt);
        let warm = held.warm(&y);
        let bias = held.bias_at(&warm, dt, &y);
        let net = held.complete(&y, solve_in(&bias, regime));
        evaluate_at(held, regime, &warm, &bias, &y, &net)
    }

    /// Whether the first `dt` seconds, with what is booked for them, close.
    pub fn closes(&self, held: &Held, dt: f64, booked: &Ledger, gate: &StepGate) -> bool {
        let to = if dt == self.h_s() { self.end().y } else { self.state_at(dt) };
        gate.closes(held.model, booked, [self.first(), &to], dt)
    }

    /// States where the step begins.
    fn first(&self) -> &Vector {
        match self.method {
            Method::Implicit => &self.implicit.dense.y0,
            Method::Explicit => &self.explicit_dense.y0,
        }
    }

    /// The ledger's integrals over the first `dt` seconds.
    pub fn booked(&self, held: &Held, dt: f64) -> Ledger {
        let mut booked = Ledger::default();
        match self.method {
            Method::Implicit => self.implicit.book(dt, &mut booked),
            Method::Explicit => self.explicit.book(held, dt, &mut booked),
        }
        let smooth = self.method == Method::Explicit || self.implicit.dense.fades.none();
        if dt < self.h_s() && smooth {
            booked.take_energy(&self.energy_of_a_cut(held, dt));
        }
        booked
    }

    /// Energy of a step that was cut after `dt` seconds, off the continuous states: the method's own later points lie past what
    /// ended it, where a power may be another; and next to the greatest power of its source a unit's current ends as a root,
    /// for which the points crowd towards the end.
    fn energy_of_a_cut(&self, held: &Held, dt: f64) -> Ledger {
        let mut energy = Ledger::default();
        for (at, weight) in GAUSS {
            let t = dt * (1.0 - at * at);
            let y = self.state_at(t);
            let net = held.net(t, &y, self.regime);
            energy.add(&rates(held, &held.warm(&y), &y, &net), 2.0 * at * weight * dt);
        }
        energy
    }

    /// Up to which share of the step a dip is looked for whose lowest point is entry `n` of [`Steppers::in_v`]: the early points lie
    /// before the second node.
    pub fn early_share(&self, n: usize) -> f64 {
        if self.method == Method::Implicit && (4..6).contains(&n) { rodas5p::AT[1] } else { 1.0 }
    }

    /// Volts at the unit's input at the points that the method evaluated, with their shares of the step, the ends included;
    /// and how many there are.
    pub fn in_v(&self) -> ([f64; 7], usize) {
        let mut out = [0.0; 7];
        match self.method {
            Method::Explicit => {
                for (v, s) in out.iter_mut().zip(&self.explicit.stages) {
                    *v = s.net.in_v;
                }
                (out, 7)
            }
            Method::Implicit => {
                for (v, n) in out.iter_mut().zip(&self.implicit.nets) {
                    *v = n.in_v;
                }
                (out[4], out[5]) = self.implicit.early_in_v().into();
                out[6] = self.implicit.end.net.in_v;
                (out, 7)
            }
        }
    }

    /// Guards at the step's end.
    pub fn last(&self, held: &Held, regime: Regime) -> Values {
        match self.method {
            Method::Implicit => self.implicit.guards[rodas5p::NODES - 1],
            Method::Explicit => {
                let end = self.explicit.end();
                evaluate(held, regime, self.explicit.h_s, &end.y, &end.net)
            }
        }
    }

    /// What is known of the guards over an accepted step with decays.
    pub fn courses<'a>(&'a self, first: &'a Values) -> Option<Courses<'a>> {
        if self.method == Method::Implicit { self.implicit.courses(first) } else { None }
    }

    /// Guards at the four inner nodes at which a dip is looked for: rough values, as hints.
    pub fn hints(&self, held: &Held, regime: Regime, first: &Values, last: &Values) -> [Values; 4] {
        let ([a, b, c, _], at) = match self.method {
            Method::Explicit => {
                return [1, 2, 3, 4].map(|n| {
                    let s = &self.explicit.stages[n];
                    evaluate(held, regime, NODES[n] * self.explicit.h_s, &s.y, &s.net)
                });
            }
            Method::Implicit => (&self.implicit.guards, &LAGRANGE),
        };
        let mut hints = [*last; 4];
        for k in 0..GUARDS {
            let g = [first[k], a[k], b[k], c[k], last[k]];
            let smooth = g.iter().all(|v| v.is_finite());
            let least = g.into_iter().fold(f64::INFINITY, f64::min);
            for (hint, l) in hints.iter_mut().zip(at) {
                hint[k] = if smooth { (0..5).map(|i| l[i] * g[i]).sum() } else { least };
            }
        }
        hints
    }
}

/// A bound of how fast anything in a model settles, 1/s: its own time constant, and the feedback of its volts on the
/// current through the smallest resistance there is, the battery's.
fn fastest_per_s(model: &Model) -> f64 {
    let battery = |b: &Battery| match &b.chemistry {
        Chemistry::Plain(b) => branches(b.branch_ohm, b.branch_s, b.r0_ohm),
        Chemistry::Lithium(b) => branches(b.branch_ohm, b.branch_s, b.r0_ohm),
        Chemistry::LeadAcid(b) => {
            branches([b.fast.discharge_ohm, b.slow.discharge_ohm], [b.fast.time_s, b.slow.time_s], b.r0_ohm)
        }
    };
    let mut rate = battery(&model.starter).max(battery(&model.house));
    if let Some(p) = model.alternator.pick_up {
        rate = rate.max(2.0 / p.lag_s);
    }
    let filter_s = model.link().start_stop.filter_s;
    if filter_s > 0.0 {
        rate = rate.max(1.0 / filter_s);
    }
    rate
}

fn branches(ohm: [f64; 2], time_s: [f64; 2], r0_ohm: f64) -> f64 {
    (0..2).map(|n| (1.0 + ohm[n] / r0_ohm) / time_s[n]).fold(0.0, f64::max)
}

/// Values at the inner nodes from those at both ends and the quadrature's nodes between: the quartic through them.
const LAGRANGE: [[f64; 5]; 4] = {
    let [_, a, b, c] = rodas5p::AT;
    lagrange([0.0, a, b, c, 1.0], 5)
};
const fn lagrange(x: [f64; 5], points: usize) -> [[f64; 5]; 4] {
    let mut l = [[0.0; 5]; 4];
    let mut n = 0;
    while n < 4 {
        let mut i = 0;
        while i < points {
            l[n][i] = 1.0;
            let mut j = 0;
            while j < points {
                if j != i {
                    l[n][i] *= (NODES[n + 1] - x[j]) / (x[i] - x[j]);
                }
                j += 1;
            }
            i += 1;
        }
        n += 1;
    }
    l
}
