//! Stop-start looks at the starter battery before it stops the engine, and while the engine stands.

use sim_core::engine::{Stops, decide_stops};
use sim_core::model::{Piece, Profile, StopRule};
use sim_core::plant::battery::{Battery, Chemistry, Emf, LeadAcid, PlainBattery};
use sim_core::record::EventKind;
use sim_core::state::STARTER;
use sim_core::{Model, Run};
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::full::full_model;
use sim_tests::look::{at, near, run, times_s};
use sim_tests::van;

const LOAD_A: f64 = 30.0;
const STOP: Piece = Piece { stop_start: true, vehicle_load_a: LOAD_A, ..PARKED };
const RULE: StopRule = StopRule { least_soc: 0.7, restart_v: 12.0, idle_rpm: 800.0, bay_c: 60.0 };

/// A battery that is a linear EMF behind one resistance, and a unit that never comes on.
fn linear() -> Model {
    let mut m = van::model();
    m.starter = Battery::from(PlainBattery {
        capacity_c: 80.0 * 3600.0,
        emf: Emf::Linear { empty_v: 11.85, full_v: 12.7 },
        r0_ohm: 0.005,
        branch_ohm: [0.0; 2],
        branch_s: [60.0, 1200.0],
        charge_efficiency: 0.95,
        start_soc: 0.92,
    });
    m.links[0].start_stop.turn_on_v = 99.0;
    m
}

fn decided(m: &Model, stop_s: f64, rule: &StopRule) -> (Profile, Stops, Run) {
    let offered = day(&[(600.0, DRIVING), (stop_s, STOP), (600.0, DRIVING), (60.0, PARKED)]);
    let (profile, stops) = decide_stops(m, &offered, rule).expect("a run");
    let r = run(m, &profile);
    assert_eq!(profile.end(), offered.end());
    (profile, stops, r)
}

/// Its EMF falls by what the load draws: the posts reach the threshold when the closed form says so.
#[test]
fn the_engine_is_started_again_when_the_posts_reach_the_threshold() {
    let m = linear();
    let (p, stops, r) = decided(&m, 4.0 * 3600.0, &RULE);
    assert_eq!((stops.offered, stops.kept.len(), stops.restarted.len()), (1, 0, 1));
    let began = r.stretches[0].end[STARTER];
    let drawn_a = LOAD_A + m.links[0].converter.standby_a;
    let soc = (RULE.restart_v + drawn_a * 0.005 - 11.85) / (12.7 - 11.85);
    let lasts_s = (began - soc) * 80.0 * 3600.0 / drawn_a;
    assert!((600.0..4.0 * 3600.0).contains(&lasts_s), "{lasts_s}");
    let restarts = times_s(&r, EventKind::KeyOn)[1];
    near("s that the stop lasts", restarts - 600.0, lasts_s, 1e-3);
    near("V just before", at(&r, &m, &p, restarts - 1e-6).net.sb_v, RULE.restart_v, 1e-6);
    assert_eq!(times_s(&r, EventKind::KeyOff), [600.0, 600.0 + 4.0 * 3600.0 + 600.0]);
    // Until the drive goes on it idles, and stop-start keeps no watch.
    let idling = p.pieces().at(p.index_at(sim_core::Instant::from_s(restarts + 5.0)));
    assert_eq!((idling.engine_rpm, idling.bay_c, idling.stop_start), (800.0, 60.0, false));
}

/// A stop that ends before the threshold is reached, or a rule without one, leaves the drive as it is.
#[test]
fn a_battery_that_bears_it_changes_nothing() {
    let m = linear();
    for (stop_s, rule) in [(600.0, RULE), (4.0 * 3600.0, StopRule { restart_v: 0.0, ..RULE })] {
        let offered = day(&[(600.0, DRIVING), (stop_s, STOP), (600.0, DRIVING), (60.0, PARKED)]);
        let (p, stops, _) = decided(&m, stop_s, &rule);
        assert_eq!(p, offered);
        assert_eq!((stops.offered, stops.kept.len(), stops.restarted.len()), (1, 0, 0));
    }
}

/// Many stops on a full vehicle that begins low: each is kept exactly where the finished run itself finds the battery under
/// the share, and once it is charged the engine stops.
#[test]
fn the_engine_is_left_running_while_the_battery_is_low() {
    let mut m = full_model();
    m.starter.chemistry = Chemistry::LeadAcid(LeadAcid::starter_flooded(80.0).with_start_soc(0.66));
    let mut spans = Vec::new();
    for _ in 0..60 {
        spans.extend([(90.0, DRIVING), (30.0, STOP)]);
    }
    spans.extend([(90.0, DRIVING), (600.0, PARKED)]);
    let offered = day(&spans);
    let (p, stops) = decide_stops(&m, &offered, &StopRule { restart_v: 0.0, ..RULE }).expect("a run");
    let r = run(&m, &p);
    let low: Vec<_> = offered
        .pieces()
        .iter()
        .filter(|s| s.stop_start && at(&r, &m, &p, s.start.as_s()).state[STARTER] < RULE.least_soc)
        .map(|s| s.start)
        .collect();
    assert_eq!(stops.offered, 60);
    assert_eq!(stops.kept, low);
    assert!((3..57).contains(&low.len()), "{}", low.len());
    assert_eq!(times_s(&r, EventKind::KeyOff).len(), 60 - low.len() + 1);
}

/// Volts that sag under the threshold at once are no stop at all.
#[test]
fn a_battery_too_weak_for_the_load_keeps_the_engine_running() {
    let m = linear();
    let (p, stops, r) = decided(&m, 600.0, &StopRule { restart_v: 12.6, ..RULE });
    assert_eq!((stops.kept.len(), stops.restarted.len()), (1, 0));
    assert_eq!(times_s(&r, EventKind::KeyOff), [1800.0]);
    assert_eq!(p.pieces().at(1).engine_rpm, 800.0);
}
