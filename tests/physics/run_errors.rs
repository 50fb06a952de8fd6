//! Runs that cannot go on say so, with the instant and the reason.

use sim_core::record::EventKind;
use sim_core::{Instant, Options, RunError, simulate, simulate_as_far};
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::look::run;
use sim_tests::plain;
use sim_tests::rig::{BARE, bare};
use sim_tests::van::{reference_van, thin_run};

/// No delays and no ramp on a run with too much resistance: on makes off true, off makes on true.
#[test]
fn endless_switching() {
    let mut m = bare(13.8, 0.050, 480.0);
    let rule = &mut m.links[0].start_stop;
    (rule.turn_on_v, rule.turn_off_v) = (13.3, 12.7);
    (rule.turn_on_delay_s, rule.turn_off_delay_s) = (0.0, 0.0);
    let p = day(&[(10.0, BARE)]);
    let error = simulate(&m, &p, &Options::default()).expect_err("it must not hang");
    assert_eq!(error, RunError::EndlessSwitching { t: Instant::ZERO });
    assert!(error.to_string().contains("delay"), "{error}");
    // A delay on either side, or a ramp, makes it a run that hunts.
    for change in 0..3 {
        let mut m = m.clone();
        match change {
            0 => m.links[0].start_stop.turn_on_delay_s = 0.5,
            1 => m.links[0].start_stop.turn_off_delay_s = 0.5,
            _ => m.links[0].converter.ramp_s = 0.5,
        }
        let r = run(&m, &p);
        assert!(r.events.iter().filter(|e| e.kind == EventKind::UnitOff).count() > 10);
    }
}

/// The limit on events counts exactly, wherever the last one falls.
#[test]
fn too_many_events() {
    let (m, p) = thin_run();
    let whole = run(&m, &p).events;
    for most in [0, 1, 3, 100, whole.len() as u64 - 1] {
        let error = simulate(&m, &p, &Options { most_events: most, ..Options::default() })
            .expect_err("more events than allowed");
        assert_eq!(error, RunError::TooManyEvents { t: whole[most as usize].t, most });
    }
    let enough = Options { most_events: whole.len() as u64, ..Options::default() };
    assert!(simulate(&m, &p, &enough).is_ok());
}

/// Allowed none, it ends on the first: here the start of an engine that runs from the first instant.
#[test]
fn too_many_events_at_once() {
    let (m, _) = reference_van();
    let p = day(&[(10.0, DRIVING)]);
    let error =
        simulate(&m, &p, &Options { most_events: 0, ..Options::default() }).expect_err("none is allowed");
    assert_eq!(error, RunError::TooManyEvents { t: Instant::ZERO, most: 0 });
}

/// The drive's own events count too, the very last one as well.
#[test]
fn too_many_events_by_the_drive() {
    let (mut m, p) = reference_van();
    m.links[0].start_stop.turn_on_v = 20.0;
    // Large enough never to be full, whose own event would come last.
    plain(&mut m.starter).capacity_c *= 100.0;
    let whole = run(&m, &p).events;
    assert_eq!(whole.last().map(|e| e.kind), Some(EventKind::KeyOff));
    let most = whole.len() as u64 - 1;
    let error =
        simulate(&m, &p, &Options { most_events: most, ..Options::default() }).expect_err("one too many");
    assert_eq!(error, RunError::TooManyEvents { t: whole[most as usize].t, most });
}

/// The limit on steps counts rejected ones, and ends a run that may end early with what was simulated up to there.
#[test]
fn too_many_steps() {
    let (m, p) = thin_run();
    let whole = run(&m, &p);
    let taken = whole.statistics.steps + whole.statistics.rejections;
    let with = |most_steps| Options { most_steps, ..Options::default() };
    assert!(simulate(&m, &p, &with(taken)).is_ok());
    for most in [1, 100, taken - 1] {
        let error = simulate(&m, &p, &with(most)).expect_err("more steps than allowed");
        let part = simulate_as_far(&m, &p, &with(most)).expect("it ends early");
        assert_eq!(error, RunError::TooManySteps { t: part.span.1, most });
        assert_eq!(part.ended_early, Some(error));
        assert_eq!(part.statistics.steps + part.statistics.rejections, most);
        assert_eq!(part.events, whole.events[..part.events.len()]);
    }
}

#[test]
fn tolerances_out_of_range() {
    let (m, p) = reference_van();
    let run = |tolerance: f64| simulate(&m, &p, &Options { tolerance, ..Options::default() });
    for bad in [0.0, -1e-8, 0.9e-13, 1.1e-3, f64::INFINITY] {
        assert_eq!(run(bad).expect_err("out of range"), RunError::Tolerance(bad));
    }
    assert!(matches!(run(f64::NAN), Err(RunError::Tolerance(t)) if t.is_nan()));
    assert!(run(1e-3).is_ok() && run(1e-13).is_ok());
}

/// Numbers that no vehicle has end the run where they first hurt, by name.
#[test]
fn not_finite() {
    let p = day(&[(60.0, PARKED)]);
    let (mut m, _) = reference_van();
    plain(&mut m.house).capacity_c = 0.0;
    let error = simulate(&m, &p, &Options::default()).expect_err("no capacity");
    assert!(matches!(error, RunError::NotFinite { t: Instant::ZERO, .. }), "{error}");
    let (mut m, _) = reference_van();
    plain(&mut m.starter).r0_ohm = f64::NAN;
    let error = simulate(&m, &p, &Options::default()).expect_err("no resistance");
    assert!(matches!(error, RunError::NotFinite { t: Instant::ZERO, .. }), "{error}");
}
