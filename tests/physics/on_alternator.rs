//! What the alternator's effects must show.

use sim_core::Model;
use sim_core::model::Piece;
use sim_core::plant::alternator::{PickUp, RegulatorHeat, Winding};
use sim_core::plant::set_point_rule::Phase;
use sim_core::record::EventKind;
use sim_core::state::{REGULATOR_C, SET_POINT_V, WINDING_C};
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::full::{full_model, variable, warm_driving};
use sim_tests::look::{at, run, times_s};

/// A winding that heats up takes its current away: healthy at first, hunting later; without heat it never hunts.
#[test]
fn a_hot_winding_gives_less() {
    let drop_outs = |heat: bool| {
        let mut m = full_model();
        m.alternator.heat =
            heat.then_some(Winding { full_rise_k: 80.0, time_s: 600.0, derate_per_k: 0.0025 });
        let c = &mut m.links[0].converter;
        (c.output_limit_a, c.input_limit_a) = (50.0, 75.0);
        let p = day(&[(60.0, PARKED), (2700.0, Piece { engine_rpm: 1000.0, ..warm_driving() })]);
        let r = run(&m, &p);
        assert!(!heat || r.end[WINDING_C] > 70.0, "{} °C", r.end[WINDING_C]);
        times_s(&r, EventKind::UnitOff)
    };
    assert_eq!(drop_outs(false), [0.0; 0]);
    let hot = drop_outs(true);
    assert!(hot.len() > 3 && hot[0] > 300.0, "{hot:?}");
}

/// The battery fills in while the alternator takes up the unit's load: the posts dip, and a hasty turn-off trips.
#[test]
fn a_slow_pick_up_dips_the_posts() {
    let start = |rate_a_per_s: f64| {
        let mut m = full_model();
        m.alternator.pick_up = Some(PickUp { rate_a_per_s, lag_s: 0.2 });
        m.links[0].converter.ramp_s = 0.2;
        m.links[0].start_stop.filter_s = 0.0;
        (m.links[0].start_stop.turn_off_v, m.links[0].start_stop.turn_off_delay_s) = (13.0, 1.0);
        let p = day(&[(60.0, PARKED), (240.0, DRIVING)]);
        let r = run(&m, &p);
        let on = times_s(&r, EventKind::UnitOn)[0];
        let least = (0..100)
            .map(|k| at(&r, &m, &p, on + 0.05 * f64::from(k)).net.starter_a)
            .fold(f64::INFINITY, f64::min);
        (least, times_s(&r, EventKind::UnitOff).len())
    };
    let ((fast_a, fast), (slow_a, slow)) = (start(1000.0), start(4.0));
    println!(
        "out of the starter battery during the soft start: {fast_a:.0} A, slowly picked up {slow_a:.0} A"
    );
    assert!(slow_a < fast_a - 5.0 && fast == 0 && slow >= 1, "{fast_a} {fast}, {slow_a} {slow}");
}

#[test]
fn the_set_point_follows_the_air() {
    let posts = |air_c: f64, per_k: f64| {
        let mut m = full_model();
        m.links[0].start_stop.turn_on_v = 99.0;
        m.alternator.set_point_v_per_k = per_k;
        let p = day(&[(1800.0, Piece { air_c, ..DRIVING })]);
        let r = run(&m, &p);
        at(&r, &m, &p, 1799.0).net.sb_v
    };
    for air_c in [-10.0, 5.0, 45.0] {
        let moved = posts(air_c, -0.010) - posts(air_c, 0.0);
        // The battery beside the alternator takes some of it.
        let wanted = -0.010 * (air_c - 25.0);
        assert!((moved - wanted).abs() < 0.1 * wanted.abs(), "{moved} V at {air_c} °C");
    }
}

/// The regulator warms with the engine by a time constant and cools by another; the set-point goes with it, in closed form.
#[test]
fn the_set_point_follows_the_regulator() {
    let mut m = full_model();
    m.links[0].start_stop.turn_on_v = 99.0;
    m.alternator.set_point_v_per_k = -0.010;
    let regulator = RegulatorHeat { rise_k: 30.0, warms_s: 480.0, cools_s: 3600.0, start_c: f64::NAN };
    m.alternator.regulator = Some(regulator);
    let hot = Piece { set_point_v: 14.4, bay_c: 60.0, air_c: 20.0, ..DRIVING };
    let parked = Piece { bay_c: 20.0, air_c: 20.0, ..PARKED };
    let p = day(&[(1200.0, hot), (1800.0, parked), (600.0, hot)]);
    let r = run(&m, &p);
    let near = |at_s: f64, wanted_c: f64| {
        let s = at(&r, &m, &p, at_s);
        assert!((s.state[REGULATOR_C] - wanted_c).abs() < 1e-4, "{} at {at_s} s", s.state[REGULATOR_C]);
        let wanted_v = 14.4 - 0.010 * (wanted_c - 25.0);
        assert!(s.set_point_v.is_nan() || (s.set_point_v - wanted_v).abs() < 2e-6, "{}", s.set_point_v);
    };
    let warm = |from_c: f64, s: f64| 90.0 + (from_c - 90.0) * (-s / 480.0_f64).exp();
    let stop_c = warm(20.0, 1200.0);
    let again_c = 20.0 + (stop_c - 20.0) * (-0.5_f64).exp(); // half an hour of an hour's time constant
    near(1.0, warm(20.0, 1.0));
    near(480.0, warm(20.0, 480.0));
    near(1199.0, warm(20.0, 1199.0));
    near(3000.0, again_c);
    near(3500.0, warm(again_c, 500.0));
    // What was read off at the posts is not compensated again.
    let read = day(&[(1200.0, Piece { set_point_as_read: true, ..hot })]);
    assert_eq!(at(&run(&m, &read), &m, &read, 1000.0).set_point_v, 14.4);
    // A boat's regulator in moving air.
    m.alternator.regulator = None;
    let s = at(&run(&m, &p), &m, &p, 1199.0);
    assert!((s.set_point_v - 14.45).abs() < 1e-9, "{}", s.set_point_v);
}

/// Low when cruising, lower when accelerating, high on overrun, no faster than its slew.
#[test]
fn a_rule_follows_the_engine_at_its_slew() {
    let (m, p) = variable();
    let r = run(&m, &p);
    let slew = m.alternator.rule.expect("a rule").up_v_per_s;
    let mut last: Option<f64> = None;
    let mut reached = [f64::NAN; 4];
    for (n, piece) in p.pieces().iter().enumerate().filter(|(_, q)| q.engine_runs()) {
        let end = at(&r, &m, &p, piece.end.as_s() - 0.001).state[SET_POINT_V];
        let long_s = piece.end.since(piece.start);
        if let Some(before) = last {
            assert!((end - before).abs() <= slew * long_s + 1e-9, "piece {n}: {before} to {end}");
        }
        last = Some(end);
        reached[piece.phase as usize] = end;
    }
    let [idle, cruise, accelerating, overrun] =
        [Phase::Idle, Phase::Cruise, Phase::Accelerating, Phase::Overrun].map(|q| reached[q as usize]);
    assert!(overrun > idle && idle > cruise && cruise > accelerating, "{reached:?}");
    assert!((cruise - 12.9).abs() < 1e-6 && (accelerating - 12.5).abs() < 1e-6, "{reached:?}");
    // Overrun is too short for all the way up: 30 s of slew are 1.5 V.
    assert!((overrun - 14.4).abs() < 0.01, "{overrun}");
}

/// A low, cold or loaded starter battery is refreshed whatever the phase.
#[test]
fn a_rule_refreshes_the_starter_battery() {
    let held = |change: &dyn Fn(&mut Model, &mut Piece)| {
        let (mut m, _) = variable();
        let mut piece = Piece { phase: Phase::Cruise, ..warm_driving() };
        change(&mut m, &mut piece);
        let p = day(&[(600.0, piece)]);
        run(&m, &p).end[SET_POINT_V]
    };
    let near = |v: f64, wanted: f64| assert!((v - wanted).abs() < 1e-6, "{v}");
    near(held(&|_, _| {}), 12.9);
    near(held(&|_, piece| piece.air_c = -5.0), 14.5);
    near(held(&|_, piece| piece.vehicle_load_a = 70.0), 14.5);
    near(
        held(&|m, _| {
            use sim_core::plant::battery::{Chemistry, LeadAcid};
            m.starter.chemistry = Chemistry::LeadAcid(LeadAcid::starter_flooded(80.0).with_start_soc(0.5));
        }),
        14.5,
    );
}
