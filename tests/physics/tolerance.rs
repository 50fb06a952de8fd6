//! Halving the tolerance moves nothing that matters: no event by more than 10 ms, or what a microvolt is worth where the
//! watched quantity barely moves; no state of charge by more than 1e-6. On the vans 16 µs are reached.

use sim_core::state::{HOUSE, STARTER};
use sim_core::{Model, Options, Profile, Run};
use sim_tests::compare::allowed_s;
use sim_tests::look::run_at;
use sim_tests::van::{absorption_day, reference_van, thin_run};
use sim_tests::wild::wild;

fn compare(name: &str, m: &Model, p: &Profile) -> f64 {
    let whole = Options::default().tolerance;
    let (a, b) = (run_at(whole, m, p), run_at(0.5 * whole, m, p));
    let kinds = |r: &Run| r.events.iter().map(|e| e.kind).collect::<Vec<_>>();
    assert_eq!(kinds(&a), kinds(&b), "{name}");
    let mut worst: f64 = 0.0;
    for (x, y) in a.events.iter().zip(&b.events) {
        let moved = (x.t.as_s() - y.t.as_s()).abs();
        worst = worst.max(moved);
        let allowed = allowed_s(&a, m, p, x);
        assert!(
            moved <= allowed,
            "{name}: {:?} at {} s moves by {moved} s of {allowed} s",
            x.kind,
            x.t.as_s()
        );
    }
    for place in [STARTER, HOUSE] {
        let moved = (a.end[place] - b.end[place]).abs();
        assert!(moved <= 1e-6, "{name}: SOC moves by {moved:e}");
    }
    worst
}

#[test]
fn on_the_vans() {
    for (name, (m, p)) in
        [("reference", reference_van()), ("thin", thin_run()), ("absorption", absorption_day())]
    {
        let worst = compare(name, &m, &p);
        println!("{name}: no event moves by more than {worst:e} s");
    }
}

#[test]
fn on_wild_vehicles() {
    for seed in 0..200 {
        let (m, p) = wild(seed);
        let worst = compare(&format!("seed {seed}"), &m, &p);
        println!("{seed}: {worst:e}");
    }
}
