//! What heat must show: in runs, joints, case and locker.

use sim_core::logic::{Derate, Stage};
use sim_core::model::Piece;
use sim_core::plant::battery::{Battery, Chemistry, LeadAcid, ThermalNode};
use sim_core::record::{Cause, EventKind, Line};
use sim_core::state::{CASE_C, INPUT_CABLE_C, INPUT_JOINTS_C};
use sim_core::{Model, Options, Profile, Stepper, simulate};
use sim_tests::day::{PARKED, day};
use sim_tests::full::{full_model, full_van, hot_locker, locks_out, warm_driving};
use sim_tests::look::{at, run, times_s};

/// Legs in the engine bay stand above its air, those in the cabin above theirs, and the loop's resistance with them.
#[test]
fn each_section_warms_in_its_own_air() {
    let (m, p) = full_van();
    let r = run(&m, &p);
    let state = at(&r, &m, &p, 2700.0).state;
    let legs = &state[INPUT_CABLE_C..INPUT_CABLE_C + 4];
    println!("conductors after 44 min: {legs:.1?} °C");
    assert!(legs[0] > 61.0 && legs[0] < 80.0 && legs[0] == legs[1], "{legs:?}");
    assert!(legs[2] > 21.0 && legs[2] < 40.0 && legs[2] == legs[3], "{legs:?}");
    let run = &m.links[0].input_cable;
    let warmer = run.resistance_at(&state[INPUT_CABLE_C..]) - run.resistance_ohm();
    let copper: f64 = run.conductors.iter().zip(legs).map(|(c, t)| c.ohm_20 * 0.00393 * (t - 20.0)).sum();
    assert!((warmer - copper).abs() < 1e-9 && warmer > 4e-4, "{warmer} Ω");
    // Parked, it cools.
    assert!(r.end[INPUT_CABLE_C] < 30.0);
}

/// What lies bundled is warmer than what lies free, and drops more.
#[test]
fn laying_decides_how_warm() {
    let warmest = |w_per_k_m: f64| {
        let (mut m, p) = full_van();
        for c in &mut m.links[0].input_cable.conductors {
            c.w_per_k *= w_per_k_m / 0.3;
        }
        let r = run(&m, &p);
        let s = at(&r, &m, &p, 2700.0);
        (s.state[INPUT_CABLE_C + 2], s.net.in_v)
    };
    let (free, bundled) = (warmest(0.3), warmest(0.1));
    assert!(bundled.0 > free.0 + 5.0 && bundled.1 < free.1, "{free:?} {bundled:?}");
}

/// A bad joint is the hot spot, the copper is not; its watts are in the run's loss.
#[test]
fn a_bad_joint_is_hot() {
    let heat = |extra_ohm: f64| {
        let mut m = full_model();
        m.links[0].start_stop.turn_off_v = 11.0;
        m.links[0].start_stop.turn_on_v = 13.0;
        let piece = Piece { input_joint_extra_ohm: extra_ohm, ..warm_driving() };
        let p = day(&[(60.0, PARKED), (1800.0, piece)]);
        let r = run(&m, &p);
        let s = at(&r, &m, &p, 1859.0);
        (
            s.state[INPUT_JOINTS_C],
            s.state[INPUT_CABLE_C + 2],
            r.ledger.wh(Line::InputCableJ),
            r.closure.energy,
        )
    };
    let (good, bad) = (heat(0.0), heat(0.020));
    println!(
        "joints {:.0} °C, with 20 mΩ on top {:.0} °C; the run loses {:.1} and {:.1} Wh",
        good.0, bad.0, good.2, bad.2
    );
    assert!(bad.0 > good.0 + 60.0 && bad.1 < good.1 + 10.0 && bad.2 > 2.0 * good.2);
    assert!(bad.3 < 1e-7, "{:e}", bad.3);
}

fn unit_switches(m: &Model, p: &Profile) -> (usize, usize) {
    let r = run(m, p);
    (times_s(&r, EventKind::UnitOn).len(), times_s(&r, EventKind::UnitOff).len())
}

/// Derating takes amps away smoothly: no step, no other start, OUT falls with them.
#[test]
fn derating_is_smooth() {
    let (m, p) = hot_locker();
    let r = run(&m, &p);
    let mut last = f64::INFINITY;
    let mut seen = 0;
    for k in 0..50 {
        let s = at(&r, &m, &p, 600.0 + 60.0 * f64::from(k));
        assert!(s.net.output_a <= last + 1e-6, "{} after {last}", s.net.output_a);
        seen += usize::from(s.mode.derate == Derate::On);
        last = s.net.output_a;
    }
    assert!(seen > 20 && last < 30.0, "{seen} minutes on the line, {last} A at the end");
    for e in r.events.iter().filter(|e| e.t.as_s() > 120.0 && e.t.as_s() < 5459.0) {
        assert!((e.after.output_a - e.before.output_a).abs() < 1e-6, "{:?}", e.kind);
    }
    assert_eq!(unit_switches(&m, &p), (1, 1));
    // A weak output must not end the charge.
    assert_eq!(at(&r, &m, &p, 5000.0).mode.stage, Stage::Bulk);
}

/// The same unit in the open air, behind a vent, and shut in: each warmer than the one before.
#[test]
fn a_locker_and_its_vent() {
    let case = |locker: ThermalNode| {
        let (mut m, p) = full_van();
        m.links[0].converter.locker = locker;
        m.links[0].converter.derate_from_c = f64::INFINITY;
        let r = run(&m, &p);
        at(&r, &m, &p, 2700.0).state[CASE_C]
    };
    let open = case(ThermalNode::FIXED);
    let vented = case(ThermalNode { j_per_k: 400.0, w_per_k: 0.7 + 0.03 * 60.0 });
    let shut = case(ThermalNode { j_per_k: 400.0, w_per_k: 0.7 });
    println!("case after 44 min: open {open:.0} °C, 60 cm² of vent {vented:.0} °C, shut {shut:.0} °C");
    assert!(open + 5.0 < vented && vented + 10.0 < shut);
}

/// Without derating it locks out, cools to its reclose and starts again, each with its cause.
#[test]
fn lock_out_and_reclose() {
    let (m, p) = locks_out();
    let r = run(&m, &p);
    let locks =
        |locked| r.events.iter().filter(|e| e.kind == EventKind::HeatLock { locked }).collect::<Vec<_>>();
    let (on, off) = (locks(true), locks(false));
    assert!(!on.is_empty() && !off.is_empty());
    assert!(matches!(on[0].cause, Cause::Heat { case_c, limit_c } if (case_c - limit_c).abs() < 1e-6));
    assert_eq!(on[0].after.output_a, 0.0);
    // Each lock is a drop-out of its own, with the same cause, at the same instant: what counts them finds them.
    let offs: Vec<_> = r
        .events
        .iter()
        .filter(|e| e.kind == EventKind::UnitOff && matches!(e.cause, Cause::Heat { .. }))
        .collect();
    assert_eq!(offs.len(), on.len());
    assert!(offs.iter().zip(&on).all(|(off, lock)| off.t == lock.t && off.before.output_a > 0.0));
    let s = sim_core::record::Summary::new(&r, &m, &p);
    let on_s: f64 = r.trace.knots().iter().filter(|k| k.mode.on).map(|k| k.ns as f64 * 1e-9).sum();
    assert!((s.unit_on_s - on_s).abs() < 1e-6, "{} s counted, {on_s} s in the trace", s.unit_on_s);
    assert_eq!(s.came_on, s.dropped_out + u32::from(r.trace.knots().last().is_some_and(|k| k.mode.on)));
    let again = times_s(&r, EventKind::UnitOn).into_iter().find(|t| *t > off[0].t.as_s());
    assert!((again.expect("it starts again") - off[0].t.as_s() - 30.0).abs() < 1.0);
}

/// A unit too hot to give anything cools: it gives again from the very temperature at which the line ends, and all from that at
/// which it begins.
#[test]
fn the_derating_line_is_left_where_it_ends() {
    let mut m = sim_tests::van::model();
    let c = &mut m.links[0].converter;
    (c.derate_from_c, c.derate_to_c) = (60.0, 80.0);
    let hot = Piece { air_c: 95.0, ..PARKED };
    let p = day(&[(3.0 * 3600.0, hot), (3600.0, sim_tests::day::DRIVING)]);
    let r = run(&m, &p);
    let knots = r.trace.knots();
    let crossed = |from: Derate, to: Derate| {
        let pair = knots.windows(2).find(|w| w[0].mode.derate == from && w[1].mode.derate == to);
        let start = pair.unwrap_or_else(|| panic!("never from {from:?} to {to:?}"))[1].start;
        at(&r, &m, &p, start.as_s())
    };
    for (from, to, line_c) in [(Derate::Past, Derate::On, 80.0), (Derate::On, Derate::Under, 60.0)] {
        let s = crossed(from, to);
        assert!((s.state[CASE_C] - line_c).abs() < 1e-6, "{from:?} to {to:?} at {} °C", s.state[CASE_C]);
    }
    // Until then it is on and gives nothing.
    let at_80_c = crossed(Derate::Past, Derate::On).t.as_s();
    let on_s = times_s(&r, EventKind::UnitOn)[0];
    assert!(on_s < at_80_c && (at(&r, &m, &p, at_80_c - 1.0).net.output_a).abs() < 1e-9, "{on_s} {at_80_c}");
}

/// The case beside a lead-acid starter battery that keeps its temperature: the long steps leave it where the reference does.
#[test]
fn the_case_is_as_warm_by_either_method() {
    let mut m = sim_tests::van::model();
    let starter = LeadAcid::starter_flooded(80.0).with_start_soc(0.92);
    m.starter =
        Battery { chemistry: Chemistry::LeadAcid(starter), thermal: ThermalNode::FIXED, start_c: 20.0 };
    let p = day(&[(60.0, PARKED), (2700.0, sim_tests::day::DRIVING), (3600.0, PARKED)]);
    let by = |stepper| {
        let options = Options { tolerance: 1e-9, stepper, ..Options::default() };
        simulate(&m, &p, &options).unwrap_or_else(|e| panic!("{e}"))
    };
    let (fast, reference) = (by(Stepper::Fast), by(Stepper::Reference));
    for t_s in [200.0, 1000.0, 2700.0, 6000.0] {
        let of = |r| at(r, &m, &p, t_s).state[CASE_C];
        let (a, b) = (of(&fast), of(&reference));
        assert!((a - b).abs() < 1e-5, "{t_s} s: {a} against {b} °C");
    }
    assert!(at(&fast, &m, &p, 2700.0).state[CASE_C] > 25.0);
}
