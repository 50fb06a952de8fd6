//! Our own equations integrated by another program, diffsol, a general library of ODE solvers: from one of our switchings
//! to the next, going on from where it has come itself.

use ::diffsol::{
    NalgebraLU, NalgebraMat, NalgebraVec, OdeBuilder, OdeEquations, OdeSolverMethod, OdeSolverStopReason,
};
use sim_core::effects::Effects;
use sim_core::engine::rates;
use sim_core::logic::Mode;
use sim_core::network::Regime;
use sim_core::record::trace::Knot;
use sim_core::state::{N, SCALE, Vector};
use sim_core::{Model, Options, Profile, Run, Stepper, simulate};

/// Which of diffsol's methods.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Method {
    /// Explicit, order 5(4).
    Tsit45,
    /// Implicit, variable order.
    Bdf,
}

/// Our right-hand side, `dt` seconds after a switching and at the states given.
type Rhs<'a> = &'a dyn Fn(f64, &Vector) -> Vector;

/// States at the end of `span_s` seconds, by diffsol; the states past `n` stay as they are.
fn theirs(method: Method, tolerance: f64, f: Rhs, y: &Vector, n: usize, span_s: f64) -> Vector {
    let whole = |x: &[f64]| {
        let mut all = *y;
        all[..n].copy_from_slice(x);
        all
    };
    let rhs = |x: &[f64], _: &[f64], t: f64, dx: &mut [f64]| dx.copy_from_slice(&f(t, &whole(x))[..n]);
    // The Jacobian times a vector, by central differences: it decides how fast an iteration converges, not where to.
    let slope = |x: &[f64], _: &[f64], t: f64, v: &[f64], out: &mut [f64]| {
        let longest = v.iter().zip(&SCALE).map(|(v, s)| (v / s).abs()).fold(0.0, f64::max);
        let by = if longest > 0.0 { 1e-6 / longest } else { 1.0 };
        let moved = |by: f64| f(t, &whole(&x.iter().zip(v).map(|(x, v)| x + by * v).collect::<Vec<_>>()));
        let (up, down) = (moved(by), moved(-by));
        for i in 0..n {
            out[i] = (up[i] - down[i]) / (2.0 * by);
        }
    };
    let problem = OdeBuilder::<NalgebraMat<f64>>::new()
        .rtol(tolerance)
        .atol(SCALE[..n].iter().map(|s| tolerance * s))
        .h0(1e-3 * span_s.min(1.0))
        .rhs_implicit(rhs, slope)
        .init(|_: &[f64], _: f64, x: &mut [f64]| x.copy_from_slice(&y[..n]), n)
        .build()
        .expect("a problem");
    let end = match method {
        Method::Tsit45 => last(&mut problem.tsit45().expect("a solver"), span_s),
        Method::Bdf => last(&mut problem.bdf::<NalgebraLU<f64>>().expect("a solver"), span_s),
    };
    whole(&end)
}

/// Steps to the end.
fn last<'a, E: OdeEquations<T = f64, V = NalgebraVec<f64>> + 'a>(
    solver: &mut impl OdeSolverMethod<'a, E>,
    span_s: f64,
) -> Vec<f64> {
    solver.set_stop_time(span_s).expect("an end after the beginning");
    while solver.step().expect("a step") != OdeSolverStopReason::TstopReached {}
    solver.state().y.batch_as_slice(0).to_vec()
}

/// Stretches without switching: the first knot of each, and its length in seconds.
fn stretches(knots: &[Knot]) -> Vec<(usize, f64)> {
    let mut found: Vec<(usize, i64)> = Vec::new();
    for (n, k) in knots.iter().enumerate() {
        match found.last_mut() {
            Some((first, ns)) if held(&knots[*first]) == held(k) => *ns += k.ns,
            _ => found.push((n, k.ns)),
        }
    }
    found.into_iter().map(|(n, ns)| (n, ns as f64 * 1e-9)).collect()
}

/// What our stepper holds over a step.
fn held(k: &Knot) -> (usize, Mode, Regime) {
    (k.piece, k.mode, k.regime)
}

/// A run of ours whose stretches another program integrates anew.
pub struct Replay<'a> {
    m: &'a Model,
    p: &'a Profile,
    run: Run,
    stretches: Vec<(usize, f64)>,
}

/// How the other program came out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outcome {
    /// Worst difference of any state at the end of any stretch, in units of the states' scales.
    pub worst: f64,
    /// States at the end.
    pub end: Vector,
}

impl<'a> Replay<'a> {
    /// Takes our run by the reference stepper at 1e-11.
    pub fn new(m: &'a Model, p: &'a Profile) -> Replay<'a> {
        let options = Options { tolerance: 1e-11, stepper: Stepper::Reference, ..Options::default() };
        let run = simulate(m, p, &options).unwrap_or_else(|e| panic!("{e}"));
        let stretches = stretches(run.trace.knots());
        Replay { m, p, run, stretches }
    }

    /// Stretches between switchings.
    pub fn stretches(&self) -> usize {
        self.stretches.len()
    }

    /// Integrates by the other program, which may be given another model than ours.
    pub fn by(&self, method: Method, tolerance: f64, their: &Model) -> Outcome {
        let (knots, n) = (self.run.trace.knots(), Effects::of(self.m).used());
        let (mut y, mut ours, mut worst) = (self.run.start, self.run.start, 0.0f64);
        for (k, (first, span_s)) in self.stretches.iter().enumerate() {
            let knot = &knots[*first];
            // What our run changes between two steps, such as an alternator's current that begins anew.
            for i in 0..N {
                y[i] += knot.dense.y0[i] - ours[i];
            }
            y = theirs(method, tolerance, &|dt, y| rates(their, self.p, knot, dt, y), &y, n, *span_s);
            let next = self.stretches.get(k + 1).map_or(knots.len(), |s| s.0);
            let end = &knots[next - 1];
            ours = end.dense.at(end.ns as f64 * 1e-9);
            worst = (0..n).map(|i| ((y[i] - ours[i]) / SCALE[i]).abs()).fold(worst, f64::max);
        }
        Outcome { worst, end: y }
    }
}
