//! The full van: every effect on, ledgers close, and each rule shows its signature.

use sim_core::logic::Refusal;
use sim_core::model::Piece;
use sim_core::record::EventKind;
use sim_core::{Options, simulate};
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::full::{self, refusals, variants};
use sim_tests::van;

#[test]
fn every_variant_runs_and_its_ledgers_close() {
    for (name, m, p) in variants() {
        let r = simulate(&m, &p, &Options::default()).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(r.closure.charge < 1e-11, "{name}: charge {:e}", r.closure.charge);
        assert!(r.closure.energy < 1e-7, "{name}: energy {:e}", r.closure.energy);
    }
}

#[test]
fn cold_cells_refuse_charge_until_they_are_warm() {
    let (m, p) = full::cold_start();
    let r = simulate(&m, &p, &Options::default()).expect("a run");
    assert_eq!(refusals(&r), [Refusal::Cold]);
    let allowed = r.events.iter().find(|e| e.kind == EventKind::ChargeRefused { why: None });
    assert!(allowed.is_some(), "the heater mat warms them");
}

/// A turn-on timer that runs at key-off runs on: a unit without a run signal must not notice that one went away.
#[test]
fn a_signal_that_is_ignored_restarts_no_timer() {
    let mut m = van::with_length(van::model(), 60.0);
    m.links[0].start_stop.turn_off_v = 7.0;
    m.links[0].converter.input_limit_a = 200.0;
    let with_signal = |p: Piece| Piece { run_signal: p.engine_runs(), ..p };
    let day = |signal: bool| {
        let pick = |p: Piece| if signal { with_signal(p) } else { p };
        day(&[(60.0, pick(PARKED)), (2700.0, pick(DRIVING)), (3600.0, pick(PARKED))])
    };
    let times = |signal| -> Vec<_> {
        let r = simulate(&m, &day(signal), &Options::default()).expect("a run");
        r.events.iter().map(|e| (e.t, e.kind)).collect()
    };
    let events = times(true);
    assert_eq!(events, times(false));
    let parked_on = events.iter().filter(|(t, k)| t.as_s() > 2760.0 && *k == EventKind::UnitOn).count();
    assert_eq!(parked_on, 1, "it comes on 12 s after key-off");
}
