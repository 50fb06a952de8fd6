//! Our own equations integrated by another program: diffsol, a general library of ODE solvers, with methods that are not in
//! this tree (Tsitouras' explicit pair, and an implicit one of variable order for stiff equations).
//!
//! The right-hand side is ours, so this checks stepping, error control, the continuous extension and the restarts, and
//! nothing of the equations. Instants of switching are those of our run: diffsol integrates from one to the next and goes on
//! from where it has come itself, so a difference once made stays and is seen at the end.

use sim_core::{Model, Profile};
use sim_tests::full::variants;
use sim_tests::replay::{Method, Replay};
use sim_tests::van::{absorption_day, reference_van, thin_run};
use sim_tests::wild::wild;

/// Runs both methods and holds them to what was reached, rounded up.
fn held_to(name: &str, m: &Model, p: &Profile, explicit: f64, implicit: f64) {
    let replay = Replay::new(m, p);
    for (method, tolerance, reached) in [(Method::Tsit45, 1e-12, explicit), (Method::Bdf, 1e-10, implicit)] {
        let found = replay.by(method, tolerance, m).worst;
        println!("{name}, {method:?}: {found:.1e} over {} stretches", replay.stretches());
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
        held_to(name, &m, &p, 1e-9, 2e-8);
    }
}

#[test]
fn wild_plain_vehicles() {
    for seed in 500..530 {
        let (m, p) = wild(seed);
        let replay = Replay::new(&m, &p);
        let found = replay.by(Method::Tsit45, 1e-11, &m).worst;
        println!("seed {seed}: {found:.1e} over {} stretches", replay.stretches());
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
    let replay = Replay::new(&m, &p);
    for (n, turn) in turns.into_iter().enumerate() {
        let mut their = m.clone();
        turn(&mut their);
        let found = replay.by(Method::Tsit45, 1e-11, &their).worst;
        assert!(found > 1e-6, "turn {n}: {found:e}");
    }
}
