//! Limits that a scenario sets on its own outcome, in the units of their keys: broken just past what is met, not just before.

use sim_cli::load::{Loaded, load};
use sim_core::record::{EventKind, Summary, limits};
use sim_core::state::{HOUSE, STARTER};
use sim_core::{Options, Run, simulate};
use std::collections::BTreeSet;
use std::path::Path;

fn scenario(name: &str, set: &[String]) -> Loaded {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios").join(name);
    load(&file, set).unwrap_or_else(|e| panic!("{name}: {e:?}"))
}

/// What of each key is met, read off the run and not off its summary.
fn met(run: &Run, s: &Summary) -> Vec<(&'static str, f64, bool)> {
    let states = |place: usize| run.trace.knots().iter().map(move |k| k.dense.at(k.ns as f64 * 1e-9)[place]);
    let low = |place: usize| states(place).fold(run.start[place], f64::min);
    let before_start = run.stretches.first().expect("a parked stretch").end[STARTER];
    let off = run.events.iter().rev().find(|e| e.kind == EventKind::UnitOff).expect("it goes off").t;
    let key_off = run.events.iter().rev().find(|e| e.kind == EventKind::KeyOff).expect("a drive ends").t;
    vec![
        ("least_margin_v", s.extremes.margin_v.expect("it was on").value, true),
        ("most_drop_outs", f64::from(s.dropped_out_driving), false),
        ("longest_run_on_min", off.since(key_off) / 60.0, false),
        ("least_house_end_pct", 100.0 * run.end[HOUSE], true),
        ("least_house_pct", 100.0 * low(HOUSE), true),
        ("crank_reserve_pct", 100.0 * before_start, true),
        ("least_starter_end_pct", 100.0 * run.end[STARTER], true),
        ("most_input_a", s.extremes.input_a.expect("it was on").value, false),
    ]
}

/// On two vans: one drops out and one does not, since no limit is negative.
#[test]
fn each_limit_breaks_just_past_what_is_met() {
    let mut tried = BTreeSet::new();
    for van in ["thin-run.toml", "reference-van-full.toml"] {
        let loaded = scenario(van, &[]);
        let (m, p) = (&loaded.resolved.model, &loaded.resolved.profile);
        let run = simulate(m, p, &Options::default()).unwrap_or_else(|e| panic!("{van}: {e}"));
        let summary = Summary::new(&run, m, p);
        for (key, met, at_least) in met(&run, &summary) {
            let step = if key == "most_drop_outs" { 1.0 } else { 1e-3 };
            for (limit, breaks) in [(met - step, !at_least), (met + step, at_least)] {
                if limit < 0.0 {
                    continue;
                }
                let limits = scenario(van, &[format!("limits.{key}={limit}")]).scenario.limits;
                let broken = limits::broken(&limits, &summary);
                assert_eq!(!broken.is_empty(), breaks, "{van}: {key} = {limit}, met {met}: {broken:?}");
                if let [one] = broken.as_slice() {
                    assert!(one.key == key && one.limit == limit, "{one:?}");
                    assert!((one.met - met).abs() < 1e-6, "{one:?}, by the run {met}");
                }
                tried.insert((key, breaks));
            }
        }
    }
    assert_eq!(tried.len(), 16, "eight limits on both sides: {tried:?}");
}
