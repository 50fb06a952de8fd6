//! What runs cost, exactly. A change here is no error by itself, but it must be explained where it is made: a stepper that
//! takes another step, a guard that fires once more, an event that appears or goes.

use sim_core::engine::{Statistics, Stepper};
use sim_core::{Model, Options, Profile, simulate};
use sim_tests::full::full_van;
use sim_tests::van::{absorption_day, reference_van, thin_run};
use sim_tests::wild::wild;

fn cost(stepper: Stepper, tolerance: f64, (m, p): (Model, Profile)) -> Statistics {
    let options = Options { stepper, tolerance, ..Options::default() };
    simulate(&m, &p, &options).unwrap_or_else(|e| panic!("{e}")).statistics
}

fn reference(vehicle: (Model, Profile)) -> Statistics {
    cost(Stepper::Reference, 1e-8, vehicle)
}

fn fast(vehicle: (Model, Profile)) -> Statistics {
    cost(Stepper::Fast, 1e-8, vehicle)
}

#[test]
fn reference_van_costs() {
    let expected = Statistics { steps: 190, rejections: 5, located: 4, hidden: 0, settles: 12, events: 11 };
    assert_eq!(reference(reference_van()), expected);
    assert_eq!(fast(reference_van()), Statistics { steps: 118, rejections: 1, ..expected });
}

#[test]
fn thin_run_costs() {
    let expected =
        Statistics { steps: 774, rejections: 198, located: 94, hidden: 0, settles: 336, events: 345 };
    assert_eq!(reference(thin_run()), expected);
    assert_eq!(fast(thin_run()), Statistics { steps: 653, rejections: 118, ..expected });
}

#[test]
fn absorption_day_costs() {
    let expected = Statistics { steps: 390, rejections: 21, located: 13, hidden: 0, settles: 22, events: 16 };
    assert_eq!(reference(absorption_day()), expected);
    assert_eq!(fast(absorption_day()), Statistics { steps: 218, rejections: 4, ..expected });
}

/// Seconds-fast states bound explicit steps: 11,000 of them where the fast stepper takes some hundreds.
#[test]
fn full_van_costs() {
    let s = fast(full_van());
    assert_eq!((s.located, s.settles, s.events), (5, 13, 7));
    assert!((300..500).contains(&s.steps), "{s:?}");
}

/// At a tolerance of 1e-11 steps are 1000^(1/5) = 4 times as many where accuracy rules; events are the same.
#[test]
fn a_tight_reference_van_costs() {
    let expected = Statistics { steps: 634, rejections: 5, located: 4, hidden: 0, settles: 12, events: 11 };
    assert_eq!(cost(Stepper::Reference, 1e-11, reference_van()), expected);
    let fast = cost(Stepper::Fast, 1e-11, reference_van());
    assert_eq!(fast, Statistics { steps: 395, rejections: 4, ..expected });
}

/// Wild vehicles whose steps hide crossings that must be searched for.
const HIDING: [u64; 19] = [
    155, 198, 277, 409, 764, 897, 937, 1017, 1035, 1162, 1217, 1301, 1526, 1694, 1758, 2063, 2208, 2351, 2750,
];

/// Sums over eighty wild vehicles: a change in how hidden crossings are searched for shows here, if nowhere else.
#[test]
fn eighty_wild_vehicles_cost() {
    let mut sum = Statistics::default();
    for seed in (0..61).chain(HIDING) {
        let s = reference(wild(seed));
        sum.steps += s.steps;
        sum.rejections += s.rejections;
        sum.located += s.located;
        sum.hidden += s.hidden;
        sum.settles += s.settles;
        sum.events += s.events;
    }
    let expected = Statistics {
        steps: 34864,
        rejections: 5379,
        located: 1527,
        hidden: 393,
        settles: 3065,
        events: 2142,
    };
    assert_eq!(sum, expected);
}
