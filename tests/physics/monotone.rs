//! More resistance never brings more charge, as long as the unit does the same things in the same order.

use sim_core::record::EventKind;
use sim_core::{Model, Profile, Run};
use sim_tests::look::run;
use sim_tests::van::{absorption_day, reference_van, with_length};

/// Runs with more and more resistance and compares charge; where the sequence of events changes, nothing is promised.
fn falls(what: &str, p: &Profile, models: &[Model]) {
    let runs: Vec<Run> = models.iter().map(|m| run(m, p)).collect();
    let kinds = |r: &Run| -> Vec<EventKind> { r.events.iter().map(|e| e.kind).collect() };
    let mut compared = 0;
    for (n, pair) in runs.windows(2).enumerate() {
        if kinds(&pair[0]) != kinds(&pair[1]) {
            continue;
        }
        compared += 1;
        let charge = |r: &Run| r.ledger.ah(sim_core::record::Line::OutputC);
        let (less, more) = (charge(&pair[0]), charge(&pair[1]));
        // The stepper's tolerance on a run of 30 Ah.
        assert!(more <= less + 1e-6, "{what}, step {n}: {more} Ah after {less} Ah");
    }
    assert!(compared >= models.len() / 2, "{what}: only {compared} pairs did the same things");
    let gain = runs[0].ledger.0[sim_core::record::Line::OutputC as usize] / 3600.0;
    assert!(gain > 5.0, "{what}: {gain} Ah is no charge to speak of");
}

#[test]
fn longer_input_cable() {
    let (m, p) = reference_van();
    let lengths: Vec<_> = (0..12).map(|n| with_length(m.clone(), 0.5 + 0.5 * f64::from(n))).collect();
    falls("input cable", &p, &lengths);
}

#[test]
fn longer_input_cable_at_the_input_limit() {
    let (mut m, p) = reference_van();
    m.links[0].converter.input_limit_a = 30.0;
    let lengths: Vec<_> = (0..12).map(|n| with_length(m.clone(), 0.5 + 0.5 * f64::from(n))).collect();
    falls("input cable at the input limit", &p, &lengths);
}

#[test]
fn longer_output_cable() {
    let (m, p) = absorption_day();
    let runs: Vec<_> = (0..12)
        .map(|n| {
            let mut m = m.clone();
            m.links[0].output_cable.conductors[0].ohm_20 *= 1.0 + 0.25 * f64::from(n);
            m
        })
        .collect();
    falls("output cable", &p, &runs);
}
