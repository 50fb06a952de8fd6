//! What the other sources and the vehicle's own draw must show.

use sim_core::model::{Piece, Profile, Protection, Regulator};
use sim_core::record::{EventKind, Line};
use sim_core::state::STARTER;
use sim_core::{Model, Run};
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::full::full_model;
use sim_tests::look::{at, first, near, run, times_s};
use sim_tests::rig;
use sim_tests::van;

fn parked(m: &Model, piece: Piece, hours: f64) -> (Profile, Run) {
    let p = day(&[(hours * 3600.0, piece)]);
    let r = run(m, &p);
    (p, r)
}

/// Awake it draws more, and falls asleep after its delay, to the instant; a stop by stop-start keeps no such watch.
#[test]
fn a_vehicle_falls_asleep_after_its_delay() {
    let mut m = van::model();
    (m.vehicle.awake_a, m.vehicle.sleep_after_s) = (4.0, 1800.0);
    let p = day(&[(600.0, DRIVING), (7200.0, PARKED)]);
    let r = run(&m, &p);
    assert_eq!(times_s(&r, EventKind::FallsAsleep), [600.0 + 1800.0]);
    let drawn = r.stretches[1].ledger.ah(Line::VehicleC);
    near("Ah after key-off", drawn, 4.0 * 0.5 + 0.05 * 2.0, 1e-9);
    let stop = Piece { stop_start: true, ..PARKED };
    let p = day(&[(600.0, DRIVING), (3600.0, stop), (600.0, DRIVING)]);
    assert_eq!(times_s(&run(&m, &p), EventKind::FallsAsleep), [0.0; 0]);
}

/// A maintainer holds a parked starter battery up that would run down without it.
#[test]
fn a_maintainer_keeps_the_starter_battery() {
    let soc = |amps: f64| {
        let mut m = full_model();
        m.links[0].start_stop.turn_on_v = 99.0;
        m.alternator.pick_up = None;
        m.links[0].start_stop.filter_s = 0.0;
        m.starter_solar = Regulator { set_v: 13.6, droop_ohm: 0.05 };
        let (p, r) = parked(&m, Piece { starter_solar_a: amps, ..PARKED }, 72.0);
        let last = at(&r, &m, &p, 72.0 * 3600.0 - 1.0).net;
        assert!(r.ledger.get(Line::StarterSourceC) >= 0.0 && r.closure.charge < 1e-11);
        (r.end[STARTER] - r.start[STARTER], last)
    };
    let ((gone, _), (kept, net)) = (soc(0.0), soc(1.0));
    assert!(gone < -0.03 && kept > 0.05, "{gone} {kept}");
    // Full, the battery takes little and the regulator stands near its set-point.
    assert!(net.sb_v > 13.5 && net.starter_source_a < 0.5, "{net:?}");
}

/// A house bus on a battery of some resistance: what each source gives follows from the volts at the posts.
fn two_sources(mains_set_v: f64, solar_set_v: f64, load_w: f64) -> sim_core::network::Net {
    let mut m = van::model();
    m.protection = Protection::NONE;
    // It holds 13.9 V but loosely, so that load and sources move the bus.
    m.house = rig::flat(13.9, 2.0);
    m.house_mains = Regulator { set_v: mains_set_v, droop_ohm: 0.01 };
    m.house_solar = Regulator { set_v: solar_set_v, droop_ohm: 0.01 };
    let piece = Piece { mains_a: 10.0, house_solar_w: 200.0, house_load_w: load_w, ..PARKED };
    let (p, r) = parked(&m, piece, 0.1);
    let net = at(&r, &m, &p, 300.0).net;
    near("house bus", net.solar_a + net.charger_a, net.house_load_a + net.house_a, 1e-9);
    net
}

/// Of two regulated sources the one with the higher set-point at the bus gives first; the other only the shortfall.
#[test]
fn two_sources_share_by_their_set_points() {
    let small = two_sources(14.4, 14.2, 60.0);
    assert!(small.charger_a > 3.9 && small.solar_a == 0.0, "{small:?}");
    let large = two_sources(14.4, 14.2, 250.0);
    near("mains at its limit", large.charger_a, 10.0, 1e-9);
    near("the sun gives the shortfall", large.solar_a, large.house_load_a + large.house_a - 10.0, 1e-9);
    assert!(large.solar_a > 5.0 && large.house_v < 14.2, "{large:?}");
    // The other way round, the other way round: 200 W of sun first.
    let sunny = two_sources(14.2, 14.4, 60.0);
    assert!(sunny.solar_a > 3.9 && sunny.charger_a == 0.0, "{sunny:?}");
    let loaded = two_sources(14.2, 14.4, 250.0);
    near("the sun at its limit", loaded.solar_a * loaded.house_v, 200.0, 1e-6);
    assert!(loaded.charger_a > 1.0 && loaded.charger_a < 10.0, "{loaded:?}");
}

/// What counts is the set-point at the bus: a regulator whose cable eats the difference gives the smaller part.
#[test]
fn a_set_point_counts_where_the_bus_is() {
    let share = |droop_ohm: f64| {
        let mut m = van::model();
        m.house = rig::flat(13.9, 2.0);
        m.house_mains = Regulator { set_v: 14.4, droop_ohm };
        m.house_solar = Regulator { set_v: 14.3, droop_ohm: 0.01 };
        let piece = Piece { mains_a: 50.0, house_solar_w: 400.0, house_load_w: 250.0, ..PARKED };
        let (p, r) = parked(&m, piece, 0.1);
        let net = at(&r, &m, &p, 300.0).net;
        (net.charger_a, net.solar_a)
    };
    let (near_mains, far_mains) = (share(0.001), share(0.1));
    assert!(near_mains.1 == 0.0 && far_mains.1 > far_mains.0, "{near_mains:?} {far_mains:?}");
}

/// The sun on the house bus beside the unit: what the panel gives the unit need not.
#[test]
fn the_sun_relieves_the_unit() {
    let run_with = |watts: f64| {
        let mut m = van::absorption_day().0;
        m.house_solar = Regulator { set_v: 14.4, droop_ohm: 0.02 };
        let p = day(&[(60.0, PARKED), (5400.0, Piece { house_solar_w: watts, ..DRIVING })]);
        let r = run(&m, &p);
        let first_float = first(&r, EventKind::Stage { to: sim_core::logic::Stage::Float }).t.as_s();
        (r.ledger.ah(Line::OutputC), first_float)
    };
    let (dark, sunny) = (run_with(0.0), run_with(250.0));
    assert!(sunny.0 < 0.8 * dark.0 && sunny.1 < dark.1 - 300.0, "{dark:?} {sunny:?}");
}
