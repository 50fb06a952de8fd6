//! The full van: every effect on, ledgers close, and each rule shows its signature.

use sim_core::logic::Refusal;
use sim_core::record::EventKind;
use sim_core::{Options, simulate};
use sim_tests::full::{self, refusals, variants};

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
