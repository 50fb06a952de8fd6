//! A condition that turns true and false again within one step must still be seen: after key-off the starter battery's
//! surface charge lets the input rise, and sink again, while steps are long.

use sim_core::record::EventKind;
use sim_core::{Model, Profile, Run};
use sim_tests::bisect::border;
use sim_tests::day::{chopped, drive_then_park};
use sim_tests::look::{run, times_s};
use sim_tests::plain;
use sim_tests::van::model;

/// Compares events with a run that never steps further than `longest_s`.
fn same_events(m: &Model, p: &Profile, longest_s: f64) -> (Run, Run) {
    let (free, bound) = (run(m, p), run(m, &chopped(p, longest_s)));
    let kinds = |r: &Run| r.events.iter().map(|e| e.kind).collect::<Vec<_>>();
    assert_eq!(kinds(&free), kinds(&bound));
    for (a, b) in free.events.iter().zip(&bound.events) {
        let off = (a.t.as_s() - b.t.as_s()).abs();
        assert!(off <= 0.01, "{:?} at {} s moves by {off} s", a.kind, a.t.as_s());
    }
    (free, bound)
}

fn low_thresholds(off_v: f64, on_v: f64) -> Model {
    let mut m = model();
    m.links[0].start_stop.turn_off_v = off_v;
    m.links[0].start_stop.turn_on_v = on_v;
    m
}

/// With turn-off at 12.2 V and turn-on at 12.8 V the surface charge arms the unit again and again after key-off.
#[test]
fn surface_charge_arms_it_again() {
    let mut restarts = 0;
    for (off_v, on_v) in [(12.2, 12.8), (12.2, 12.7), (12.4, 12.9), (12.0, 12.75)] {
        let m = low_thresholds(off_v, on_v);
        let p = drive_then_park(2700.0, 4.0 * 3600.0);
        let (free, _) = same_events(&m, &p, 2.0);
        restarts += times_s(&free, EventKind::UnitOn).iter().filter(|t| **t > 2760.0).count();
    }
    assert!(restarts > 20, "{restarts} restarts");
}

/// The parked input rises, peaks and sinks: turn-on is laid just under the peak, down to a microvolt, so that the visit is
/// far shorter than a step. The peak itself is found with steps of 2 s at most.
#[test]
fn a_visit_shorter_than_a_step() {
    let mut hidden = 0;
    for (drive_s, off_v, branch_s) in [
        (600.0, 11.8, 30.0),
        (900.0, 12.1, 30.0),
        (1500.0, 12.0, 30.0),
        (2700.0, 12.0, 120.0),
        (2700.0, 12.1, 60.0),
    ] {
        let p = drive_then_park(drive_s, 900.0);
        let van = |on_v: f64| {
            let mut m = low_thresholds(off_v, on_v);
            plain(&mut m.starter).branch_s[0] = branch_s;
            m.links[0].start_stop.turn_on_delay_s = 0.0;
            m.links[0].start_stop.turn_off_delay_s = 0.0;
            m
        };
        let restarts =
            |r: &Run| times_s(r, EventKind::UnitOn).iter().filter(|t| **t > 60.0 + drive_s).count();
        // The jump as it goes off must not reach turn-on: the visit has to come later.
        let apart = run(&van(13.5), &p);
        let jump_v =
            apart.events.iter().rfind(|e| e.kind == EventKind::UnitOff).expect("it goes off").after.in_v;
        let fine = chopped(&p, 2.0);
        let peak_v = border(jump_v + 2e-3, 13.5, 1e-8, |on_v| restarts(&run(&van(on_v), &fine)) == 0);
        for under_v in [1e-2, 1e-3, 1e-4, 1e-5, 1e-6] {
            let r = run(&van(peak_v - under_v), &p);
            hidden += r.statistics.hidden;
            assert!(restarts(&r) > 0, "{under_v} V under the peak of {peak_v} V is missed");
        }
        // And none that is not there.
        assert_eq!(restarts(&run(&van(peak_v + 1e-6), &p)), 0);
    }
    assert!(hidden >= 5, "{hidden} crossings were hidden: the test says little");
}
