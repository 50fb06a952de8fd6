//! What a run signal must show, and one that is live when it should not be.

use sim_core::model::{Piece, SignalUse};
use sim_core::record::{Cause, EventKind, Line};
use sim_core::{Model, Profile, Run};
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::look::{first, run, times_s};
use sim_tests::van;

/// The van with a use of the signal and thresholds, on a drive with a set-point; the signal is live as given.
fn drive(
    signal: SignalUse,
    thresholds: (f64, f64),
    set_point_v: f64,
    live: (bool, bool),
) -> (Model, Profile, Run) {
    let mut m = van::model();
    let rule = &mut m.links[0].start_stop;
    (rule.turn_on_v, rule.turn_off_v) = thresholds;
    rule.signal = signal;
    let parked = Piece { run_signal: live.0, ..PARKED };
    let driving = Piece { run_signal: live.1, set_point_v, ..DRIVING };
    let p = day(&[(60.0, parked), (1800.0, driving), (4.0 * 3600.0, parked)]);
    let r = run(&m, &p);
    (m, p, r)
}

const PAIR: SignalUse = SignalUse::SecondPair { turn_on_v: 12.2, turn_off_v: 11.5 };

fn ran_on_s(r: &Run) -> f64 {
    let key_off = first(r, EventKind::KeyOff).t.as_s();
    times_s(r, EventKind::UnitOff).last().map_or(f64::INFINITY, |off| off - key_off)
}

#[test]
fn required_needs_both_and_stops_with_the_key() {
    let (_, _, without) = drive(SignalUse::Required, (13.6, 12.8), 14.2, (false, false));
    assert_eq!(times_s(&without, EventKind::UnitOn), [0.0; 0]);
    let (_, _, low) = drive(SignalUse::Required, (13.6, 12.8), 13.2, (false, true));
    assert_eq!(times_s(&low, EventKind::UnitOn), [0.0; 0], "the signal alone does not do");
    let (_, _, both) = drive(SignalUse::Required, (13.6, 12.8), 14.2, (false, true));
    assert_eq!(times_s(&both, EventKind::UnitOn).len(), 1);
    let off = first(&both, EventKind::UnitOff);
    assert_eq!((off.t, off.cause), (first(&both, EventKind::KeyOff).t, Cause::Signal { live: false }));
}

#[test]
fn either_starts_it_by_the_signal_at_low_volts() {
    let (_, _, low) = drive(SignalUse::Either, (13.6, 12.8), 13.0, (false, true));
    let on = first(&low, EventKind::UnitOn);
    assert_eq!(on.cause, Cause::Signal { live: true });
    // With the key on, low volts do not stop it either; after key-off voltage decides.
    assert!(times_s(&low, EventKind::UnitOff).iter().all(|t| *t >= 1860.0));
    let (_, _, silent) = drive(SignalUse::Either, (13.6, 12.8), 13.0, (false, false));
    assert_eq!(times_s(&silent, EventKind::UnitOn), [0.0; 0]);
    let (_, _, volts) = drive(SignalUse::Either, (13.6, 12.8), 14.2, (false, false));
    assert!(matches!(first(&volts, EventKind::UnitOn).cause, Cause::InputHeld { .. }), "or by volts alone");
}

#[test]
fn a_second_pair_counts_with_the_signal_only() {
    let (_, _, low) = drive(PAIR, (13.6, 12.8), 12.9, (false, true));
    let on = first(&low, EventKind::UnitOn);
    assert!(matches!(on.cause, Cause::InputHeld { threshold_v: 12.2, .. }), "{on:?}");
    // With the key the first pair is back: at once under its turn-off.
    assert!((ran_on_s(&low) - 2.0).abs() < 1e-6, "{}", ran_on_s(&low));
    let (_, _, silent) = drive(PAIR, (13.6, 12.8), 12.9, (false, false));
    assert_eq!(times_s(&silent, EventKind::UnitOn), [0.0; 0]);
}

/// A signal taken from a wire that is always live: the unit empties the starter battery into the house while parked.
#[test]
fn a_signal_that_is_live_when_parked_drains_the_starter_battery() {
    let taken = |live_parked: bool| {
        let (_, _, r) = drive(PAIR, (13.6, 12.8), 14.2, (live_parked, true));
        (r.ledger.ah(Line::InputParkedC), ran_on_s(&r), times_s(&r, EventKind::UnitOn).len())
    };
    let (sound, wrong) = (taken(false), taken(true));
    println!("taken while parked: {:.2} Ah; with the signal live, {:.1} Ah", sound.0, wrong.0);
    assert!(sound.0 < 0.1 && sound.1 < 60.0, "{sound:?}");
    assert!(wrong.0 > 10.0 && wrong.2 > 1, "{wrong:?}");
}
