use super::*;
use crate::engine::{Options, simulate, simulate_from};
use crate::resolve::resolve;
use crate::scenario::drive::PieceSpec;
use crate::scenario::{Num, Scenario};

fn piece(minutes: f64, rpm: f64) -> PieceSpec {
    PieceSpec {
        duration_min: Some(Num::typed(minutes)),
        engine_rpm: Some(Num::typed(rpm)),
        ..PieceSpec::default()
    }
}

fn lived(change: impl FnOnce(&mut Scenario)) -> (Timeline, Run) {
    let mut s = Scenario {
        pieces: vec![piece(1.0, 0.0), piece(20.0, 2000.0), piece(30.0, 0.0)],
        ..Scenario::default()
    };
    change(&mut s);
    let ready = resolve(&s, &|_| None).unwrap_or_else(|p| panic!("{p:?}"));
    let run = simulate(&ready.model, &ready.profile, &Options::default()).expect("a run");
    (Timeline::of(&run, &ready.model, &ready.profile), run)
}

#[test]
fn a_plain_drive_is_one_span_of_each() {
    let (t, run) = lived(|_| {});
    assert_eq!((t.engine.len(), t.drives.len(), t.unit.len(), t.run_ons.len()), (1, 1, 1, 1));
    assert_eq!(t.driving_s(), 1200.0);
    let crank = t.engine[0].crank.expect("it was started");
    assert!((crank.seconds - 0.8).abs() < 1e-6 && crank.lowest_v < 12.5 && !crank.dead, "{crank:?}");
    assert!(t.on_driving_s() < t.on_s() && t.on_s() < t.on_driving_s() + 600.0);
    assert_eq!(t.ran_on_s(), Some(t.run_ons[0].span.seconds()));
    assert_eq!(t.drop_outs().count(), 0);
    let off = t.last_off_parked().expect("it goes off");
    assert_eq!(run.events[off.event].t, off.t);
}

#[test]
fn a_short_stop_goes_on_with_the_drive_and_a_long_one_does_not() {
    let stop = |minutes: f64| {
        lived(|s| s.pieces = vec![piece(10.0, 2000.0), piece(minutes, 0.0), piece(10.0, 2000.0)]).0
    };
    assert_eq!((stop(2.0).drives.len(), stop(2.0).engine.len()), (1, 2));
    assert_eq!(stop(4.0).drives.len(), 2);
    assert_eq!(stop(2.0).drives[0].engine_s, 1200.0);
}

#[test]
fn every_cycle_is_a_drop_out_with_its_time_off() {
    let (t, _) = lived(|s| s.input_cable.joints_mohm.set(27.0));
    let drops: Vec<_> = t.drop_outs_on_volts().collect();
    assert!(drops.len() > 10, "{}", drops.len());
    let off_s: f64 = drops.iter().map(|(_, d)| d.off_s).sum();
    let drive = t.drives[0];
    assert!((drive.off_again_s - off_s).abs() < 1e-6);
    assert!((drive.waited_s() + drive.on_s + drive.off_again_s - drive.engine_s).abs() < 1e-6, "{drive:?}");
    assert!(drops.iter().all(|(_, d)| !d.conditions_worse));
    assert!(t.own_drop_outs().count() < drops.len());
    assert!(t.cycle_period_s().is_some_and(|p| (20.0..60.0).contains(&p)));
}

#[test]
fn a_run_that_is_handed_on_knows_how_it_began() {
    let s = Scenario { pieces: vec![piece(20.0, 2000.0), piece(20.0, 2000.0)], ..Scenario::default() };
    let ready = resolve(&s, &|_| None).expect("consistent");
    let (model, profile) = (&ready.model, &ready.profile);
    let half = Instant::from_s(1200.0);
    let first = profile.between(profile.start(), half).expect("a drive");
    let run = simulate(model, &first, &Options::default()).expect("a run");
    let second = profile.between(half, profile.end()).expect("a drive");
    let on = simulate_from(model, &second, &Options::default(), &run.standing).expect("a run");
    let t = Timeline::of(&on, model, &second);
    assert_eq!((t.driving_s(), t.on_s(), t.came_on()), (1200.0, 1200.0, 0));
    assert!(t.engine[0].crank.is_none());
}
