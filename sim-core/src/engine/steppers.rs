//! Which method takes a step, behind one face.

use super::dense::Dense;
use super::dormand_prince::{self, NODES, Stage};
use super::guards::{GUARDS, Values, evaluate};
use super::rosenbrock;
use crate::model::Model;
use crate::network::Regime;
use crate::plant::battery::{Battery, Chemistry};
use crate::plant_view::Held;
use crate::record::ledger::Ledger;

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
/// Up to this many times the fastest time constant explicit steps cost less than linearly implicit ones.
const SHORT: f64 = 0.3;

/// The working memory of both methods; no step allocates.
#[derive(Debug, Default)]
pub struct Steppers {
    explicit: dormand_prince::Attempt,
    implicit: rosenbrock::Attempt,
    /// Up to this length a step is taken by the explicit pair, s.
    short_s: f64,
    long: bool,
}

impl Steppers {
    /// Steppers for a model.
    pub fn new(stepper: Stepper, model: &Model) -> Steppers {
        let short_s = match stepper {
            Stepper::Reference => f64::INFINITY,
            Stepper::Fast => SHORT / fastest_per_s(model),
        };
        Steppers { short_s, ..Steppers::default() }
    }

    /// Tells that `first` is another state than at the last attempt.
    pub fn forget(&mut self) {
        self.implicit.forget();
    }

    /// Attempts a step; returns its error over tolerance.
    pub fn attempt(&mut self, held: &Held, regime: Regime, first: &Stage, h_s: f64, tolerance: f64) -> f64 {
        self.long = h_s > self.short_s;
        let tolerance = if self.long { ALLOWANCE * tolerance } else { tolerance };
        if self.long {
            self.implicit.attempt(held, regime, first, h_s, tolerance);
            self.implicit.error
        } else {
            dormand_prince::attempt(&mut self.explicit, held, regime, first, h_s, tolerance);
            self.explicit.error
        }
    }

    /// Completes an accepted step.
    pub fn finish(&mut self, held: &Held, regime: Regime, first: &Stage) {
        if self.long {
            self.implicit.finish(held, regime, first);
        }
    }

    /// The step's end.
    pub fn end(&self) -> &Stage {
        if self.long { &self.implicit.end } else { self.explicit.end() }
    }

    /// Length of the attempt, s.
    pub fn h_s(&self) -> f64 {
        if self.long { self.implicit.h_s } else { self.explicit.h_s }
    }

    /// Continuous states.
    pub fn dense(&self) -> Dense {
        if self.long { self.implicit.dense } else { self.explicit.dense() }
    }

    /// Adds the ledger's integrals over the first `dt` seconds.
    pub fn book(&self, held: &Held, dt: f64, ledger: &mut Ledger) {
        if self.long { self.implicit.book(dt, ledger) } else { self.explicit.book(held, dt, ledger) }
    }

    /// Volts at the unit's input at the points that the method evaluated, the ends included.
    pub fn in_v(&self) -> impl Iterator<Item = f64> + '_ {
        let (explicit, implicit) = if self.long {
            (&self.explicit.stages[..0], &self.implicit.nets[..])
        } else {
            (&self.explicit.stages[..], &self.implicit.nets[..0])
        };
        let end = self.long.then_some(self.implicit.end.net.in_v);
        explicit.iter().map(|s| s.net.in_v).chain(implicit.iter().map(|n| n.in_v)).chain(end)
    }

    /// Guards at the step's end.
    pub fn last(&self, held: &Held, regime: Regime) -> Values {
        if self.long {
            return self.implicit.guards[rosenbrock::NODES - 1];
        }
        let end = self.explicit.end();
        evaluate(held, regime, self.explicit.h_s, &end.y, &end.net)
    }

    /// Guards at the four inner nodes at which a dip is looked for: rough values, as hints.
    pub fn hints(&self, held: &Held, regime: Regime, first: &Values, last: &Values) -> [Values; 4] {
        if !self.long {
            return [1, 2, 3, 4].map(|n| {
                let s = &self.explicit.stages[n];
                evaluate(held, regime, NODES[n] * self.explicit.h_s, &s.y, &s.net)
            });
        }
        let [a, b, c, _] = &self.implicit.guards;
        let mut hints = [*last; 4];
        for k in 0..GUARDS {
            let g = [first[k], a[k], b[k], c[k], last[k]];
            let smooth = g.iter().all(|v| v.is_finite());
            let least = g.into_iter().fold(f64::INFINITY, f64::min);
            for (hint, l) in hints.iter_mut().zip(&LAGRANGE) {
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
    let [_, a, b, c] = rosenbrock::AT;
    let x = [0.0, a, b, c, 1.0];
    let mut l = [[1.0; 5]; 4];
    let mut n = 0;
    while n < 4 {
        let mut i = 0;
        while i < 5 {
            let mut j = 0;
            while j < 5 {
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
};
