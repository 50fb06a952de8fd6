//! Greatest and smallest values of a run against its own trace, looked at densely: none may be missed inside a step.

use sim_core::Instant;
use sim_tests::look::run;
use sim_tests::van::{absorption_day, reference_van, thin_run};
use sim_tests::wild::wild;

/// Looks a step.
const LOOKS: i64 = 40;

#[test]
fn none_is_missed_inside_a_step() {
    let (mut inside, mut margins) = (0, 0);
    for (n, (m, p)) in
        [reference_van(), thin_run(), absorption_day()].into_iter().chain((0..150).map(wild)).enumerate()
    {
        let r = run(&m, &p);
        let off_v = m.link().start_stop.turn_off_v;
        let mut lowest = (f64::INFINITY, false);
        for knot in r.trace.knots() {
            if !knot.mode.on || !knot.mode.alternator_turns() || knot.ns < 10 * LOOKS {
                continue;
            }
            for k in 0..LOOKS {
                let t = knot.start.plus_ns(k * knot.ns / LOOKS);
                let margin_v = r.trace.at(&m, &p, t).expect("within the run").net.in_v - off_v;
                if margin_v < lowest.0 {
                    lowest = (margin_v, k > 0);
                }
            }
        }
        let Some(found) = r.extremes.margin_v else {
            assert!(lowest.0.is_infinite(), "vehicle {n}: {lowest:?}");
            continue;
        };
        margins += 1;
        inside += usize::from(lowest.1);
        assert!(found.value <= lowest.0 + 1e-6, "vehicle {n}: {} V found, {} V there", found.value, lowest.0);
        // It was really there, at that time.
        let at = r.trace.at(&m, &p, Instant::from_s(found.t_s)).expect("within the run").net.in_v - off_v;
        let near = |t: Instant| (t.as_s() - found.t_s).abs() < 1e-6;
        let jumped = r.events.iter().any(|e| near(e.t)) || p.pieces().iter().any(|q| near(q.start));
        assert!(jumped || (at - found.value).abs() < 1e-6, "vehicle {n}: {at} V, not {} V", found.value);
    }
    println!("{margins} smallest margins, {inside} of them inside a step");
    assert!(inside > 3, "{inside} inside a step: the test says little");
}

/// Places within a step, closer together where it begins: what an event starts dies away within a small part of it.
fn places(ns: i64) -> impl Iterator<Item = i64> {
    let early = (0..30).map(move |k| (ns as f64 * 0.7f64.powi(k)) as i64);
    (0..LOOKS).map(move |k| k * ns / LOOKS).chain(early)
}

/// The highest input while it waits and the lowest volts at the starter posts, where steps with exact decays last for hours.
#[test]
fn none_is_missed_while_the_unit_is_off() {
    let mut seen = 0;
    for (n, (m, p)) in
        [reference_van(), thin_run(), absorption_day()].into_iter().chain((0..150).map(wild)).enumerate()
    {
        let r = run(&m, &p);
        let (mut highest, mut lowest) = (f64::NEG_INFINITY, f64::INFINITY);
        for knot in r.trace.knots().iter().filter(|k| !k.mode.on) {
            for ns in places(knot.ns) {
                let net =
                    r.trace.at(&m, &p, knot.start.plus_ns(ns.min(knot.ns - 1))).expect("within the run").net;
                lowest = lowest.min(net.sb_v);
                if knot.mode.alternator_turns() {
                    highest = highest.max(net.in_v);
                }
            }
        }
        let e = &r.extremes;
        if let Some(found) = e.waiting_in_v {
            seen += 1;
            assert!(found.value >= highest - 1e-6, "vehicle {n}: {} V found, {highest} V there", found.value);
        }
        let found = e.starter_low_v.expect("a lowest").value;
        assert!(found <= lowest + 1e-6, "vehicle {n}: {found} V found, {lowest} V there");
    }
    assert!(seen > 100, "{seen} waited: the test says little");
}
