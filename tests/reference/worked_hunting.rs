//! Worked examples of turn-on/turn-off hunting: a source E behind R, a unit that draws a given power. Recomputed from the
//! formulas named; the first-order cycle was checked once by a simulation in steps of 1 ms elsewhere.

use sim_core::model::Model;
use sim_core::plant::alternator::Alternator;
use sim_core::plant::battery::{Battery, Emf, PlainBattery};
use sim_core::plant::cable::Cable;
use sim_core::record::EventKind;
use sim_tests::bisect::border;
use sim_tests::day::day;
use sim_tests::look::{near, run, run_at, times_s};
use sim_tests::plain;
use sim_tests::rig::{BARE, DRIVING_BARE, bare, flat};

/// E, V_on, V_off, P; then the critical resistance, the one that is safe at any voltage, both in mΩ, and the power that
/// trips at 20 mΩ.
const ROWS: [(f64, f64, f64, f64, f64, f64, f64); 4] = [
    (13.8, 13.3, 12.7, 480.0, 29.104, 15.875, 698.5),
    (14.2, 13.3, 12.8, 600.0, 29.867, 10.667, 896.0),
    (13.3, 13.3, 12.8, 600.0, 10.667, 10.667, 320.0),
    (13.6, 13.2, 12.6, 360.0, 35.000, 21.000, 630.0),
];

fn hunter(e: f64, r: f64, p: f64, on_v: f64, off_v: f64) -> Model {
    let mut m = bare(e, r, p);
    m.links[0].start_stop.turn_on_v = on_v;
    m.links[0].start_stop.turn_off_v = off_v;
    m
}

fn hunts(m: &Model) -> bool {
    let r = run(m, &day(&[(20.0, BARE)]));
    let (on, off) = (times_s(&r, EventKind::UnitOn), times_s(&r, EventKind::UnitOff));
    assert!(!on.is_empty(), "it must start for the question to make sense");
    off.len() >= 2
}

#[test]
fn critical_resistance() {
    for (e, on_v, off_v, p, r_crit, _, _) in ROWS {
        let found = border(1e-3, 0.1, 1e-9, |r| hunts(&hunter(e + 1e-9, r, p, on_v, off_v)));
        // Three decimals of a milliohm.
        near("mohm", 1e3 * found, r_crit, 6e-4);
    }
}

/// The source may stand anywhere at or over turn-on: the worst is turn-on itself.
#[test]
fn resistance_that_is_safe_at_any_voltage() {
    for (_, on_v, off_v, p, _, r_safe, _) in ROWS {
        let safe = |e: f64| border(1e-3, 0.1, 1e-9, |r| hunts(&hunter(e, r, p, on_v, off_v)));
        let at_turn_on = safe(on_v + 1e-9);
        near("mohm", 1e3 * at_turn_on, r_safe, 6e-4);
        assert!(safe(on_v + 0.1) > at_turn_on);
    }
}

#[test]
fn power_that_trips() {
    for (e, on_v, off_v, _, _, _, p_trip) in ROWS {
        let found = border(10.0, 1500.0, 1e-5, |p| hunts(&hunter(e, 0.020, p, on_v, off_v)));
        near("W", found, p_trip, 0.06);
    }
}

/// A soft start of 50 W/s on 13.6 V behind 50 mΩ with turn-off at 12.6 V trips at 252 W, after 5.04 s.
#[test]
fn soft_start_into_the_trip() {
    let mut m = hunter(13.6, 0.050, 400.0, 13.2, 12.6);
    m.links[0].converter.ramp_s = 8.0;
    m.links[0].start_stop.turn_off_delay_s = 0.0;
    let r = run(&m, &day(&[(30.0, BARE)]));
    let (on, off) = (times_s(&r, EventKind::UnitOn), times_s(&r, EventKind::UnitOff));
    // Output volts move by 32 µV over the ramp: 3e-6 of 5 s.
    near("s of ramp", off[0] - on[0], 5.04, 2e-5);
    near("period, s", on[1] - on[0], 5.04 + 1.0, 2e-5);
}

/// A first-order source state of 20 s between 14.2 V unloaded and 12.0 V loaded, 0.2 V of drop, thresholds 13.4 and
/// 12.8 V: `t_on = τ ln((V_on − x_on)/(x_o − x_on))`, 6.72944 s on, 8.10930 s off, a duty of 0.45350.
#[test]
fn first_order_cycle() {
    const DRAWN_A: f64 = 20.0;
    let mut m = hunter(14.2, 0.010, 5000.0, 13.4, 12.8);
    m.starter = Battery::from(PlainBattery {
        branch_ohm: [2.2 / DRAWN_A, 0.0],
        branch_s: [20.0, 1200.0],
        ..plain(&mut flat(14.2, 0.005)).clone()
    });
    m.links[0].input_cable = Cable::constant(0.004, 0.001);
    m.links[0].converter.input_limit_a = DRAWN_A;
    m.links[0].start_stop.turn_on_delay_s = 0.0;
    m.links[0].start_stop.turn_off_delay_s = 0.0;
    let r = run_at(1e-11, &m, &day(&[(300.0, BARE)]));
    let (on, off) = (times_s(&r, EventKind::UnitOn), times_s(&r, EventKind::UnitOff));
    for n in 5..10 {
        near("s on", off[n] - on[n], 6.72944, 6e-6);
        near("s off", on[n + 1] - off[n], 8.10930, 6e-6);
        near("duty", (off[n] - on[n]) / (on[n + 1] - on[n]), 0.45350, 6e-6);
    }
}

/// An integrating source: 0.5 Ah between the thresholds, 10 A of alternator surplus, 35 A drawn: 180 s off, 72 s on.
#[test]
fn integrator_cycle() {
    const R0_OHM: f64 = 1e-6;
    let mut m = hunter(13.0, 0.010, 5000.0, 13.4, 12.9);
    m.alternator = Alternator { asymptote_a: 10.0 / (1.0 - (-4200.0f64 / 1500.0).exp()), ..m.alternator };
    // 0.5 V over 0.5 Ah and next to no resistance: the thresholds are charges.
    m.starter = Battery::from(PlainBattery {
        capacity_c: 100.0 * 3600.0,
        emf: Emf::Linear { empty_v: 13.0 - 50.0, full_v: 13.0 + 50.0 },
        start_soc: 0.5,
        ..plain(&mut flat(0.0, R0_OHM)).clone()
    });
    m.links[0].input_cable = Cable::constant(0.0, 0.0);
    m.links[0].converter.input_limit_a = 35.0;
    m.links[0].start_stop.turn_on_delay_s = 0.0;
    m.links[0].start_stop.turn_off_delay_s = 0.0;
    let piece = sim_core::model::Piece { vehicle_load_a: 0.0, set_point_v: 15.0, ..DRIVING_BARE };
    let r = run_at(1e-11, &m, &day(&[(1500.0, piece)]));
    let (on, off) = (times_s(&r, EventKind::UnitOn), times_s(&r, EventKind::UnitOff));
    // The battery's micro-ohm sees 10 A in and 25 A out: that much less charge between the thresholds.
    const V_PER_C: f64 = 100.0 / 360_000.0;
    let charge_c = 0.5 * 3600.0 - 35.0 * R0_OHM / V_PER_C;
    for n in 1..4 {
        near("s on", off[n] - on[n], charge_c / 25.0, 1e-6);
        near("s off", on[n + 1] - off[n], charge_c / 10.0, 1e-6);
        near("s on, by the textbook", off[n] - on[n], 72.0, 5.1e-3);
        near("s off, by the textbook", on[n + 1] - off[n], 180.0, 0.013);
        near("duty", (off[n] - on[n]) / (on[n + 1] - on[n]), 10.0 / 35.0, 1e-8);
    }
}
