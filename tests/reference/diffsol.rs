//! Our own equations integrated by another program: diffsol, a general library of ODE solvers, with methods that are not in
//! this tree (Tsitouras' explicit pair, and an implicit one of variable order for stiff equations).
//!
//! The right-hand side is ours, so this checks stepping, error control, the continuous extension and the restarts, and
//! nothing of the equations. Instants of switching are those of our run: diffsol integrates from one to the next and goes on
//! from where it has come itself, so a difference once made stays and is seen at the end.

use ::diffsol::{
    NalgebraLU, NalgebraMat, NalgebraVec, OdeBuilder, OdeEquations, OdeSolverMethod, OdeSolverStopReason,
};
use sim_core::engine::rates;
use sim_core::logic::Mode;
use sim_core::network::Regime;
use sim_core::record::trace::Knot;
use sim_core::state::{N, SCALE, Vector, used};
use sim_core::{Model, Options, Profile, Stepper, simulate};
use sim_tests::full::variants;
use sim_tests::van::{absorption_day, reference_van, thin_run};
use sim_tests::wild::wild;

/// Which of diffsol's methods.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Method {
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

/// Worst difference over the run, in units of the states' scales (1 of SOC, 1 V, 100 K, 100 A), and stretches; diffsol may
/// be given another model than ours.
fn worst(method: Method, tolerance: f64, m: &Model, their: &Model, p: &Profile) -> (f64, usize) {
    let options = Options { tolerance: 1e-11, stepper: Stepper::Reference, ..Options::default() };
    let run = simulate(m, p, &options).expect("a run");
    let (knots, n) = (run.trace.knots(), used(m));
    let stretches = stretches(knots);
    let (mut y, mut ours, mut worst) = (run.start, run.start, 0.0f64);
    for (k, (first, span_s)) in stretches.iter().enumerate() {
        let knot = &knots[*first];
        // What our run changes between two steps, such as an alternator's current that begins anew.
        for i in 0..N {
            y[i] += knot.dense.start()[i] - ours[i];
        }
        y = theirs(method, tolerance, &|dt, y| rates(their, p, knot, dt, y), &y, n, *span_s);
        let next = stretches.get(k + 1).map_or(knots.len(), |s| s.0);
        let end = &knots[next - 1];
        ours = end.dense.at(end.ns as f64 * 1e-9);
        worst = (0..n).map(|i| ((y[i] - ours[i]) / SCALE[i]).abs()).fold(worst, f64::max);
    }
    (worst, stretches.len())
}

/// Runs both methods and holds them to what was reached, rounded up.
fn held_to(name: &str, m: &Model, p: &Profile, explicit: f64, implicit: f64) {
    for (method, tolerance, reached) in [(Method::Tsit45, 1e-11, explicit), (Method::Bdf, 1e-10, implicit)] {
        let (found, stretches) = worst(method, tolerance, m, m, p);
        println!("{name}, {method:?}: {found:.1e} over {stretches} stretches");
        assert!(found <= reached, "{name}, {method:?}: {found:e}");
    }
}

#[test]
fn the_plain_vans() {
    for (name, (m, p)) in
        [("reference van", reference_van()), ("thin run", thin_run()), ("absorption", absorption_day())]
    {
        held_to(name, &m, &p, 1e-10, 2e-9);
    }
}

#[test]
fn every_effect_on() {
    for (name, m, p) in variants() {
        held_to(name, &m, &p, 2e-9, 2e-8);
    }
}

#[test]
fn wild_plain_vehicles() {
    for seed in 500..530 {
        let (m, p) = wild(seed);
        let (found, stretches) = worst(Method::Tsit45, 1e-11, &m, &m, &p);
        println!("seed {seed}: {found:.1e} over {stretches} stretches");
        assert!(found <= 1e-10, "seed {seed}: {found:e}");
    }
}

/// One constant of diffsol's side turned by 1 %: ten thousand times what is allowed.
#[test]
fn a_constant_turned_by_one_percent_is_seen() {
    let turns: [fn(&mut Model); 3] = [
        |m| m.alternator.droop_ohm *= 1.01,
        |m| m.links[0].converter.loss.proportional *= 1.01,
        |m| sim_tests::plain(&mut m.house).branch_s[1] *= 1.01,
    ];
    let (m, p) = reference_van();
    for (n, turn) in turns.into_iter().enumerate() {
        let mut their = m.clone();
        turn(&mut their);
        let (found, _) = worst(Method::Tsit45, 1e-11, &m, &their, &p);
        assert!(found > 1e-6, "turn {n}: {found:e}");
    }
}
