//! Which method takes a step, behind one face.

use super::courses::Courses;
use super::dense::{Continuous, Dense};
use super::dormand_prince::{self, NODES, Stage};
use super::guards::{GUARDS, Values, evaluate, evaluate_at};
use super::{lean, rodas5p, rosenbrock};
use crate::model::Model;
use crate::network::{Net, Regime, solve_in};
use crate::plant::battery::{Battery, Chemistry};
use crate::plant_view::Held;
use crate::plant_view::linear::BRANCHES_AT;
use crate::plant_view::plain::PlainHeld;
use crate::record::ledger::Ledger;
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
/// The same for plain models, whose first steps are longer.
const PLAIN_ALLOWANCE: f64 = 2.0;
/// Up to this many times the fastest time constant explicit steps cost less than linearly implicit ones.
const SHORT: f64 = 0.3;

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
/// The same for plain models, whose transients the error estimate sees: nothing in them is over in seconds.
const PLAIN_FIRST_STEP_S: f64 = 60.0;
const PLAIN_GROWTH: f64 = 10.0;
/// The same where decays are taken exactly.
const RESTING_GROWTH: f64 = 100.0;

/// What takes a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Method {
    #[default]
    Explicit,
    Implicit,
    /// The implicit method on a plain model.
    Lean,
}

/// The working memory of all methods; no step allocates.
#[derive(Debug, Default)]
pub struct Steppers {
    explicit: dormand_prince::Attempt,
    implicit: rosenbrock::Attempt,
    lean: lean::Attempt,
    /// Up to this length a step is taken by the explicit pair, s.
    short_s: f64,
    /// The same while what is held now lasts.
    short_now_s: f64,
    /// Explicit steps in a row that stability has bound.
    bound: u32,
    plain: bool,
    fast: bool,
    method: Method,
    explicit_dense: Dense,
}

impl Steppers {
    /// Steppers for a model.
    pub fn new(stepper: Stepper, model: &Model) -> Steppers {
        let fast = stepper == Stepper::Fast;
        let short_s = if fast { SHORT / fastest_per_s(model) } else { f64::INFINITY };
        Steppers { short_s, short_now_s: short_s, fast, ..Steppers::default() }
    }

    /// Takes over what is held from here on, and evaluates the state where it begins.
    pub fn hold(&mut self, held: &Held, regime: Regime, y: Vector) -> Stage {
        let plain = if self.fast { PlainHeld::new(held, regime) } else { None };
        (self.short_now_s, self.bound) = (self.short_s, 0);
        self.implicit.forget();
        self.plain = self.lean.hold(plain, !held.mode.on);
        if self.plain { self.lean.first(&y) } else { Stage::at(held, regime, 0.0, y) }
    }

    /// Takes over what is held for the next step, where only time has gone on.
    pub fn hold_on(&mut self, held: &Held, regime: Regime) {
        self.implicit.forget();
        if self.plain {
            self.lean.hold_on(PlainHeld::new(held, regime));
        }
    }

    /// Tells that `first` is another state than at the last attempt.
    pub fn forget(&mut self) {
        self.implicit.forget();
        self.lean.forget();
    }

    /// Whether long steps are taken with what dies away in them taken out.
    fn takes_decays_out(&self, tolerance: f64) -> bool {
        self.fast && rosenbrock::takes_decays_out(ALLOWANCE * tolerance)
    }

    /// A first step from `first`, s: what the derivatives allow, and never long enough to step over what the event started.
    pub fn first_step_s(
        &mut self,
        (held, regime): (&Held, Regime),
        first: &Stage,
        tolerance: f64,
        share: f64,
    ) -> f64 {
        if self.lean.rests() {
            return f64::MAX;
        }
        if self.plain {
            let h_s = self.lean.first_step_s(first, PLAIN_ALLOWANCE * tolerance);
            return h_s.clamp(1e-6, PLAIN_FIRST_STEP_S);
        }
        let mut dy = first.dy;
        if self.takes_decays_out(tolerance) {
            self.implicit.prepare(held, regime, first, ALLOWANCE * tolerance);
            dy = self.implicit.slow_dy(first);
            let moving = BRANCHES_AT.into_iter().map(|i| dy[i].abs()).fold(0.0, f64::max);
            if let Some(h_s) = self.implicit.fades().first_step_s(ALLOWANCE * tolerance, moving) {
                return h_s;
            }
        }
        let speed = (0..held.used).map(|i| dy[i].abs() / SCALE[i]).fold(1e-9, f64::max);
        (share / speed).clamp(1e-6, FIRST_STEP_S)
    }

    /// Most by which a step may be longer than the one before.
    pub fn growth(&self, tolerance: f64) -> f64 {
        if self.lean.rests() {
            RESTING_GROWTH
        } else if self.plain {
            PLAIN_GROWTH
        } else if self.takes_decays_out(tolerance) {
            FADING_GROWTH
        } else {
            GROWTH
        }
    }

    /// Attempts a step; returns its error over tolerance.
    pub fn attempt(&mut self, held: &Held, regime: Regime, first: &Stage, h_s: f64, tolerance: f64) -> f64 {
        self.method = if self.plain {
            Method::Lean
        } else if h_s > self.short_now_s {
            Method::Implicit
        } else {
            Method::Explicit
        };
        match self.method {
            Method::Lean => {
                self.lean.attempt(held, first, h_s, tolerance, PLAIN_ALLOWANCE);
                self.lean.error
            }
            Method::Implicit => {
                self.implicit.attempt(held, regime, first, h_s, ALLOWANCE * tolerance);
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
            Method::Lean => self.lean.finish(held, first),
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
            Method::Lean => &self.lean.end,
            Method::Implicit => &self.implicit.end,
            Method::Explicit => self.explicit.end(),
        }
    }

    /// Length of the attempt, s.
    pub fn h_s(&self) -> f64 {
        match self.method {
            Method::Lean => self.lean.h_s,
            Method::Implicit => self.implicit.h_s,
            Method::Explicit => self.explicit.h_s,
        }
    }

    /// Continuous states, for a trace.
    pub fn dense(&self) -> Continuous {
        match self.method {
            Method::Lean => self.lean.dense(),
            Method::Implicit => Continuous::Quartic(self.implicit.dense),
            Method::Explicit => Continuous::Quartic(self.explicit_dense),
        }
    }

    /// States `dt` seconds into the step.
    pub fn state_at(&self, dt: f64) -> Vector {
        match self.method {
            Method::Lean => self.lean.state_at(dt),
            Method::Implicit => self.implicit.dense.at(dt),
            Method::Explicit => self.explicit_dense.at(dt),
        }
    }

    /// Volts and amps `dt` seconds into the step.
    pub fn net_at(&self, held: &Held, regime: Regime, dt: f64) -> Net {
        match self.method {
            Method::Lean => self.lean.net_at(dt),
            _ => held.net(dt, &self.state_at(dt), regime),
        }
    }

    /// Guards `dt` seconds into the step.
    pub fn guards_at(&self, held: &Held, regime: Regime, dt: f64) -> Values {
        match self.method {
            Method::Lean => self.lean.guards_at(held, dt),
            _ => self.exact_guards_at(held, regime, dt),
        }
    }

    /// The same, by the equations that the rules read, but for the rounding of what temperatures decide.
    pub fn exact_guards_at(&self, held: &Held, regime: Regime, dt: f64) -> Values {
        let y = self.state_at(dt);
        let warm = held.warm(&y);
        let bias = held.bias_at(&warm, dt, &y);
        let net = held.complete(&y, solve_in(&bias, regime));
        evaluate_at(held, regime, &warm, &bias, &y, &net)
    }

    /// Whether guards are evaluated in another order of rounding than that of the rules.
    pub fn rounds_apart(&self) -> bool {
        self.method == Method::Lean
    }

    /// Adds the ledger's integrals over the first `dt` seconds.
    pub fn book(&self, held: &Held, dt: f64, ledger: &mut Ledger) {
        match self.method {
            Method::Lean => self.lean.book(held, dt, ledger),
            Method::Implicit => self.implicit.book(dt, ledger),
            Method::Explicit => self.explicit.book(held, dt, ledger),
        }
    }

    /// Where volts turn back within the step, as far as the method knows, s.
    pub fn turns_s(&self) -> [Option<f64>; 2] {
        if self.method == Method::Lean { self.lean.turns_s() } else { [None; 2] }
    }

    /// Whether a flip that a step's end did not show has been found before it was located.
    pub fn found_unseen(&self) -> bool {
        self.plain && self.lean.found_unseen()
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
            Method::Lean => {
                out[..5].copy_from_slice(&self.lean.in_v());
                (out, 5)
            }
        }
    }

    /// Guards at the step's end.
    pub fn last(&self, held: &Held, regime: Regime) -> Values {
        match self.method {
            Method::Lean => self.lean.guards[rodas5p::NODES - 1],
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
            Method::Lean if self.lean.is_short() => (&self.lean.guards, &SHORT_LAGRANGE),
            Method::Lean if self.lean.is_modal() => (&self.lean.guards, &MODAL_LAGRANGE),
            Method::Lean => (&self.lean.guards, &LAGRANGE),
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
/// The same from the short method's evaluations: a cubic, the last value at the end standing for none.
const SHORT_LAGRANGE: [[f64; 5]; 4] = lagrange([0.0, 0.5, 0.75, 1.0, 1.0], 4);

/// The same from the nodes of a step with decays.
const MODAL_LAGRANGE: [[f64; 5]; 4] = {
    let [_, a, b, _] = lean::modal::AT;
    lagrange([0.0, a, b, 1.0, 1.0], 4)
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
