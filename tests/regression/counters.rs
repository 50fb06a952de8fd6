//! What runs cost, exactly. A change here is no error by itself, but it must be explained where it is made: a stepper that
//! takes another step, a guard that fires once more, an event that appears or goes.

use sim_core::engine::Statistics;
use sim_core::{Model, Profile};
use sim_tests::look::{run, run_at};
use sim_tests::van::{absorption_day, reference_van, thin_run};

fn cost((m, p): (Model, Profile)) -> Statistics {
    run(&m, &p).statistics
}

#[test]
fn reference_van_costs() {
    let expected = Statistics { steps: 190, rejections: 5, located: 4, hidden: 0, settles: 12, events: 11 };
    assert_eq!(cost(reference_van()), expected);
}

#[test]
fn thin_run_costs() {
    let expected =
        Statistics { steps: 739, rejections: 162, located: 94, hidden: 0, settles: 336, events: 345 };
    assert_eq!(cost(thin_run()), expected);
}

#[test]
fn absorption_day_costs() {
    let expected = Statistics { steps: 386, rejections: 17, located: 13, hidden: 0, settles: 22, events: 16 };
    assert_eq!(cost(absorption_day()), expected);
}

/// At a tolerance of 1e-11 steps are 1000^(1/5) = 4 times as many where accuracy rules; events are the same.
#[test]
fn a_tight_reference_van_costs() {
    let (m, p) = reference_van();
    let expected = Statistics { steps: 634, rejections: 5, located: 4, hidden: 0, settles: 12, events: 11 };
    assert_eq!(run_at(1e-11, &m, &p).statistics, expected);
}
