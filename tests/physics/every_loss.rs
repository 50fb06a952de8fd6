//! Ledgers of every vehicle: they close, no loss is negative, and more resistance never brings more charge but through
//! a named change of mode.

use sim_core::record::EventKind;
use sim_core::record::Line::{self, *};
use sim_core::{Model, Run};
use sim_tests::agree::kinds;
use sim_tests::balance::Span;
use sim_tests::look::run_at;
use sim_tests::vehicles::{known, random};

/// Rounding of a sum over a run, C or J.
const NOTHING: f64 = 1e-6;

/// What may never be given back: losses, loads, and what sources bring.
const ONE_WAY: [Line; 34] = [
    AlternatorC,
    AlternatorJ,
    StarterSourceC,
    StarterSourceJ,
    MainsC,
    MainsJ,
    SolarC,
    SolarJ,
    VehicleC,
    VehicleJ,
    HouseLoadC,
    HouseLoadJ,
    StarterLostC,
    StarterRefusedC,
    StarterUnservedC,
    StarterGassedC,
    StarterSelfC,
    HouseLostC,
    HouseRefusedC,
    HouseUnservedJ,
    HouseGassedC,
    HouseSelfC,
    StarterHeatJ,
    HouseHeatJ,
    InputCableJ,
    OutputCableJ,
    InputC,
    InputJ,
    UnitLossJ,
    OutputC,
    OutputJ,
    StarterOutC,
    OutputParkedC,
    InputParkedC,
];

/// A lithium battery's relaxing top follows throughput and is no true store: it gives back what was booked as its heat.
/// Everything else gives nothing back.
fn least(m: &Model, line: Line) -> f64 {
    if line == HouseHeatJ { -NOTHING - m.house.returns_j() } else { -NOTHING }
}

#[test]
fn no_loss_is_negative_and_ledgers_close() {
    for (name, m, p) in known().into_iter().chain(random(150, 12)) {
        let r = run_at(1e-10, &m, &p);
        let ledgers = r.stretches.iter().map(|s| &s.ledger).chain([&r.ledger]);
        for ledger in ledgers {
            for line in ONE_WAY {
                let value = ledger.get(line);
                assert!(value >= least(&m, line), "{name}: {} is {value}", line.key());
            }
        }
        assert!(r.ledger.get(OutputJ) <= r.ledger.get(InputJ) + NOTHING, "{name}: the unit makes energy");
        if let Some(open) = Span::of(&r).open(&m, 1e-9, 1e-7) {
            panic!("{name}: {open}");
        }
    }
}

fn output_ah(r: &Run) -> f64 {
    r.ledger.ah(OutputC)
}

/// What named changes of mode can be worth, Ah: each at most the output limit for as long as it moved.
fn moved_ah(m: &Model, a: &Run, b: &Run) -> f64 {
    let moved = a.events.iter().zip(&b.events).filter(|(x, _)| {
        !matches!(
            x.kind,
            EventKind::Limit { .. } | EventKind::AlternatorFull { .. } | EventKind::Bound { .. }
        )
    });
    let seconds: f64 = moved.map(|(x, y)| (x.t.as_s() - y.t.as_s()).abs()).sum();
    m.link().converter.output_limit_a * seconds / 3600.0
}

/// Either run longer by 1 % and by half: what the unit brings more of, if it does, is what a named change of mode that came
/// earlier or later is worth.
#[test]
fn more_resistance_brings_no_more_charge() {
    let mut compared = 0;
    let mut moved: Vec<String> = Vec::new();
    let mut changed = Vec::new();
    for (name, m, p) in known().into_iter().chain(random(150, 8)) {
        let before = run_at(1e-10, &m, &p);
        for (what, factor) in [("input", 1.01), ("input", 1.5), ("output", 1.01), ("output", 1.5)] {
            let mut longer = m.clone();
            let link = &mut longer.links[0];
            let run = if what == "input" { &mut link.input_cable } else { &mut link.output_cable };
            run.joints_ohm *= factor;
            run.conductors.iter_mut().for_each(|c| c.ohm_20 *= factor);
            let after = run_at(1e-10, &longer, &p);
            if kinds(&before) != kinds(&after) {
                if output_ah(&after) > output_ah(&before) + 1e-6 {
                    changed.push(format!("{name}, {what} run times {factor}"));
                }
                continue;
            }
            compared += 1;
            let (less, more) = (output_ah(&before), output_ah(&after));
            let stepper_ah = 1e-7 * less.max(1.0);
            if more > less + stepper_ah {
                moved.push(format!("{name}, {what} run times {factor}"));
            }
            // Behind more resistance the house posts stand lower, and a load of constant power asks for more current.
            let load_ah = (after.ledger.ah(HouseLoadC) - before.ledger.ah(HouseLoadC)).max(0.0);
            let allowed = less + stepper_ah + load_ah + moved_ah(&m, &before, &after);
            assert!(more <= allowed, "{name}, {what} times {factor}: {more} Ah after {less} Ah");
        }
    }
    println!(
        "{compared} pairs did the same, {} brought more by moved changes of mode: {moved:?}",
        moved.len()
    );
    println!("{} brought more through another sequence: {changed:?}", changed.len());
    assert!(compared > 300, "{compared}");
}
