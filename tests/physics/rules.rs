//! Corners of the rules that no other test turns.

use sim_core::logic::Stage;
use sim_core::model::{Piece, Regulator};
use sim_core::record::{Cause, EventKind, Line};
use sim_core::{Model, Profile};
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::full::full_model;
use sim_tests::look::{first, near, run, times_s};
use sim_tests::van::absorption_day;

const FLOAT: EventKind = EventKind::Stage { to: Stage::Float };
const ABSORPTION: EventKind = EventKind::Stage { to: Stage::Absorption };

/// A heater mat takes its power while charge is refused for cold and a charger feeds it, and never else.
#[test]
fn a_heater_mat_is_off_unless_the_cells_are_cold() {
    let taken_j = |start_c: f64, mains_a: f64| {
        let p = day(&[(600.0, Piece { house_load_w: 60.0, mains_a, ..PARKED })]);
        let mut m = full_model();
        m.house_mains = Regulator { set_v: 14.0, droop_ohm: 0.01 };
        m.protection.heater_w = 100.0;
        m.house.start_c = start_c;
        m.house.thermal.j_per_k = 1e9;
        run(&m, &p).ledger.get(Line::HouseLoadJ)
    };
    near("warm", taken_j(20.0, 20.0), 600.0 * 60.0, 1e-6);
    near("cold", taken_j(-5.0, 20.0), 600.0 * 160.0, 1e-6);
    near("cold, and no charger", taken_j(-5.0, 0.0), 600.0 * 60.0, 1e-6);
}

/// A tail current of nothing is never reached, not even by a unit that gives nothing: the cap ends absorption.
#[test]
fn a_tail_current_of_nothing_leaves_it_to_the_cap() {
    let (mut m, p) = absorption_day();
    let stages = &mut m.links[0].stages;
    (stages.tail_a, stages.tail_hold_s, stages.absorption_cap_s) = (0.0, 0.0, 900.0);
    // Sun enough for the load and more: the unit goes idle.
    let sunny = p.pieces().iter().map(|q| Piece { house_solar_w: 400.0, ..q });
    m.house_solar.set_v = 14.6;
    let p = Profile::new(sunny, 0.0).expect("the same pieces");
    let r = run(&m, &p);
    let float = first(&r, FLOAT);
    assert_eq!(float.cause, Cause::AbsorptionCap { cap_s: 900.0 });
    assert_eq!(float.before.output_a, 0.0, "it must be idle for this to say anything");
}

/// The absorption day with a stop of ten minutes in its absorption.
fn interrupted(cap_cumulative: bool) -> (Model, Profile) {
    let (mut m, _) = absorption_day();
    let stages = &mut m.links[0].stages;
    (stages.tail_a, stages.absorption_cap_s) = (0.0, 1200.0);
    (stages.cap_cumulative, stages.resume) = (cap_cumulative, true);
    // A load that pulls the starter battery under turn-off as soon as the engine stops.
    let stop = Piece { vehicle_load_a: 40.0, ..PARKED };
    (m, day(&[(60.0, PARKED), (2600.0, DRIVING), (600.0, stop), (3600.0, DRIVING), (60.0, PARKED)]))
}

/// A cap that counts over restarts goes on from what was spent; one that does not begins anew.
#[test]
fn a_cumulative_cap_goes_on_after_a_stop() {
    let spans = |cumulative: bool| {
        let (m, p) = interrupted(cumulative);
        let r = run(&m, &p);
        let entered_s = times_s(&r, ABSORPTION)[0];
        let off_s = times_s(&r, EventKind::UnitOff)[0];
        let on_s = times_s(&r, EventKind::UnitOn)[1];
        (off_s - entered_s, times_s(&r, FLOAT)[0] - on_s)
    };
    let (before_s, after_s) = spans(true);
    assert!(before_s > 100.0 && before_s < 1100.0, "{before_s} s");
    near("cumulative", before_s + after_s, 1200.0, 1e-6);
    near("anew", spans(false).1, 1200.0, 1e-6);
}
