//! What a starter battery that has collapsed must show: it stays at empty, the loads come back as they should.

use sim_core::model::{Piece, Profile, Regulator};
use sim_core::record::{Cause, EventKind};
use sim_core::state::STARTER;
use sim_core::{Model, Run};
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::full::full_model;
use sim_tests::look::{at, run, times_s};
use sim_tests::van;

const HOUR_S: f64 = 3600.0;
const DAY_S: f64 = 24.0 * HOUR_S;

/// Parked with one ampere: 74 Ah last three days.
const DRAINED: Piece = Piece { vehicle_load_a: 1.0, house_load_w: 0.0, ..PARKED };

fn changes(r: &Run) -> Vec<(f64, bool)> {
    let dead = r.events.iter().filter_map(|e| match e.kind {
        EventKind::StarterDead { dead } => Some((e.t.as_s(), dead)),
        _ => None,
    });
    dead.collect()
}

fn lowest_soc(r: &Run, m: &Model, p: &Profile) -> f64 {
    let (from, to) = (r.span.0.as_s(), r.span.1.as_s());
    let each = (0..1000).map(|n| from + (to - from) * (f64::from(n) + 0.5) / 1000.0);
    each.map(|t| at(r, m, p, t).state[STARTER]).fold(f64::INFINITY, f64::min)
}

#[test]
fn a_forgotten_vehicle_ends_at_empty_and_not_below() {
    let p = day(&[(60.0, DRIVING), (12.0 * DAY_S, DRAINED)]);
    let m = full_model();
    let r = run(&m, &p);
    let [(t, true)] = changes(&r)[..] else { panic!("{:?}", changes(&r)) };
    println!("collapses after {:.2} days; ends at {:.4}", t / DAY_S, r.end[STARTER]);
    assert!((2.5..3.5).contains(&(t / DAY_S)), "{} days", t / DAY_S);
    assert!(lowest_soc(&r, &m, &p) > -1e-3);
    // Nothing but self-discharge and the unit's own few milliamperes would go on; those stop too.
    assert!((r.end[STARTER] - at(&r, &m, &p, t + 1.0).state[STARTER]).abs() < 0.01);
    // Where no volts shed the loads the battery gives its last, and then the side collapses all the same.
    let mut without = full_model();
    without.vehicle.drop_out_v = 0.0;
    let r = run(&without, &p);
    assert!(matches!(changes(&r)[..], [(later, true)] if later > t), "{:?}", changes(&r));
    assert!((-1e-6..0.01).contains(&r.end[STARTER]), "{}", r.end[STARTER]);
}

#[test]
fn the_next_engine_start_brings_the_loads_back() {
    let p = day(&[(5.0 * DAY_S, DRAINED), (2.0 * HOUR_S, DRIVING), (HOUR_S, PARKED)]);
    let m = full_model();
    let r = run(&m, &p);
    let starts = 5.0 * DAY_S;
    let [(_, true), (back, false)] = changes(&r)[..] else { panic!("{:?}", changes(&r)) };
    // As soon as the alternator has picked up.
    assert!((starts..starts + 10.0).contains(&back), "{back}");
    assert!(at(&r, &m, &p, starts - 1.0).mode.starter_dead);
    let after = at(&r, &m, &p, starts + 600.0);
    assert!(!after.mode.starter_dead && after.net.sb_v > 11.0, "{} V", after.net.sb_v);
    assert!(r.end[STARTER] > 0.05, "{}", r.end[STARTER]);
}

/// A small maintainer in the sun: the loads come back once, at the return threshold, and stay.
#[test]
fn a_maintainer_brings_the_loads_back_without_chatter() {
    let mut m = full_model();
    m.starter_solar = Regulator { set_v: 13.8, droop_ohm: 0.05 };
    let sun = Piece { starter_solar_a: 3.0, ..DRAINED };
    let p = day(&[(5.0 * DAY_S, DRAINED), (8.0 * HOUR_S, sun), (HOUR_S, DRAINED)]);
    let r = run(&m, &p);
    let [(_, true), (back, false)] = changes(&r)[..] else { panic!("{:?}", changes(&r)) };
    assert!((back - 5.0 * DAY_S) < 2.0 * HOUR_S, "{back}");
    let after = at(&r, &m, &p, back + 1e-3).net;
    assert!(after.sb_v > 11.0 && after.starter_a > 0.0, "{after:?}");
}

/// One too small to carry the loads charges the battery without them, however high the posts stand by then; a little more than
/// they take, and they are back.
#[test]
fn a_maintainer_that_cannot_carry_the_loads_does_not_bring_them_back() {
    let after = |sun_a: f64| {
        let mut m = full_model();
        m.starter_solar = Regulator { set_v: 13.8, droop_ohm: 0.05 };
        let sun = Piece { starter_solar_a: sun_a, ..DRAINED };
        let p = day(&[(5.0 * DAY_S, DRAINED), (DAY_S, sun)]);
        let r = run(&m, &p);
        (changes(&r).len(), at(&r, &m, &p, 5.5 * DAY_S).net)
    };
    let (changes, net) = after(0.9);
    assert!(changes == 1 && net.sb_v > 11.0 && (net.starter_a - 0.9).abs() < 0.01, "{changes}: {net:?}");
    let (changes, net) = after(1.1);
    assert!(changes == 2 && net.starter_a > 0.0 && net.starter_a < 0.11, "{changes}: {net:?}");
}

/// A load so large that the battery stands at 12 V without it and under 6 V with it: it does not come and go, and
/// nothing else does until the battery is charged.
#[test]
fn a_load_that_the_battery_cannot_bear_stays_away() {
    let mut m = van::model();
    sim_tests::plain(&mut m.starter).r0_ohm = 0.1;
    (m.vehicle.drop_out_v, m.vehicle.return_v) = (6.0, 11.0);
    let p = day(&[(60.0, PARKED), (HOUR_S, Piece { vehicle_load_a: 70.0, ..PARKED }), (HOUR_S, PARKED)]);
    let r = run(&m, &p);
    let [(t, true)] = changes(&r)[..] else { panic!("{:?}", changes(&r)) };
    // It collapses with the load, or as the slow part of its own drop comes on top.
    assert!((60.0..300.0).contains(&t), "{t}");
    assert!(at(&r, &m, &p, 1800.0).net.sb_v > 11.0);
}

/// A unit that pulls a battery under that drops out first; with it gone the posts stand, and it comes on again after its
/// turn-on delay and no sooner. On a battery that has collapsed it does not come on, whatever its input shows.
#[test]
fn a_unit_that_pulls_its_supply_down_drops_out_and_waits() {
    let mut m = van::model();
    sim_tests::plain(&mut m.starter).r0_ohm = 0.15;
    (m.vehicle.drop_out_v, m.vehicle.return_v) = (6.0, 11.0);
    let rule = &mut m.links[0].start_stop;
    (rule.turn_on_v, rule.turn_off_v) = (10.5, 3.0);
    let p = day(&[(HOUR_S, Piece { vehicle_load_a: 10.0, ..PARKED })]);
    let r = run(&m, &p);
    assert_eq!(changes(&r), []);
    let (on, off) = (times_s(&r, EventKind::UnitOn), times_s(&r, EventKind::UnitOff));
    assert!(on.len() > 20 && off.len() + 1 >= on.len(), "{} {}", on.len(), off.len());
    // Its turn-off at 3 V was never reached: the collapse is the cause, with the posts' volts and their threshold.
    for event in r.events.iter().filter(|e| e.kind == EventKind::UnitOff) {
        let Cause::Posts { posts_v, threshold_v } = event.cause else { panic!("{:?}", event.cause) };
        assert!(threshold_v == 6.0 && posts_v < 6.0 && posts_v > 3.0, "{posts_v} V");
    }
    for (off, on) in off.iter().zip(&on[1..]) {
        assert!(on - off >= 30.0 - 1e-6, "{off} {on}");
    }
    // The vehicle takes it under by itself: nothing comes on until the end.
    let p = day(&[(60.0, Piece { vehicle_load_a: 45.0, ..PARKED }), (HOUR_S, PARKED)]);
    let r = run(&m, &p);
    let [(t, true)] = changes(&r)[..] else { panic!("{:?}", changes(&r)) };
    assert!(t < 60.0 && at(&r, &m, &p, 600.0).net.in_v > 11.5, "{t}");
    assert!(times_s(&r, EventKind::UnitOn).is_empty());
    m.vehicle.drop_out_v = 0.0;
    assert!(!times_s(&run(&m, &p), EventKind::UnitOn).is_empty());
}

/// A battery that stands at 12 V and cannot turn the starter motor: it clicks, and what the engine does then is a push or
/// a jump start. With its alternator everything comes back.
#[test]
fn a_battery_that_cannot_crank_is_told() {
    let mut m = van::model();
    (m.vehicle.drop_out_v, m.vehicle.return_v) = (6.0, 11.0);
    let p = day(&[(60.0, PARKED), (HOUR_S, DRIVING)]);
    // Posts at 5.4 V while it turns: deep, and it starts.
    sim_tests::plain(&mut m.starter).r0_ohm = 0.04;
    let r = run(&m, &p);
    assert!(at(&r, &m, &p, 60.4).net.sb_v < 6.0);
    assert_eq!(changes(&r), []);
    sim_tests::plain(&mut m.starter).r0_ohm = 0.06;
    let r = run(&m, &p);
    let [(t, true), (back, false)] = changes(&r)[..] else { panic!("{:?}", changes(&r)) };
    assert!((60.0..60.1).contains(&t) && (back - 60.8).abs() < 0.1, "{t} {back}");
    assert!(at(&r, &m, &p, 60.4).net.sb_v > 11.0);
    assert!(r.events.iter().any(|e| e.kind == EventKind::UnitOn));
}
