//! The network solve by regime, ns: searching the regime, and with it held.

use divan::{Bencher, black_box};
use sim_core::network::house_bus::{Contact, HouseBus};
use sim_core::network::source::{Ceiling, Source};
use sim_core::network::starter_bus::StarterBus;
use sim_core::network::{Bias, Limit, Sense, Unit, solve, solve_in};
use sim_core::plant::converter::Loss;

fn main() {
    divan::main();
}

const LIMITS: [Limit; 5] =
    [Limit::Off, Limit::OutputCurrent, Limit::Voltage, Limit::InputCurrent, Limit::Source];

/// The reference van's network, changed so that the limit rules.
fn bias(limit: Limit) -> Bias {
    let mut b = Bias {
        starter: StarterBus {
            emf_v: 12.6,
            r_ohm: 0.005,
            sources: [
                Source { set_v: 14.2, droop_ohm: 0.003, ceiling: Ceiling::Current(120.0) },
                Source::NONE,
            ],
            load_a: 25.0,
            cable_ohm: 0.0141,
        },
        house: HouseBus {
            emf_v: 13.2,
            r_ohm: 0.004,
            contact: Contact::Closed,
            sources: [Source { set_v: 14.4, droop_ohm: 0.02, ceiling: Ceiling::Power(80.0) }, Source::NONE],
            load_w: 60.0,
            cable_ohm: 0.0046,
        },
        unit: Unit {
            on: true,
            output_open: false,
            standby_a: 0.005,
            output_cap_a: 40.0,
            input_cap_a: 60.0,
            floor_v: 0.0,
            target_v: 14.2,
            sense: Sense::Terminals,
            loss: Loss { fixed_w: 4.0, proportional: 0.04, square_per_w: 2e-5 },
        },
    };
    match limit {
        Limit::Off => b.unit.on = false,
        Limit::Voltage => b.unit.target_v = 13.4,
        Limit::InputCurrent => b.unit.input_cap_a = 30.0,
        Limit::Source => b.starter.cable_ohm = 0.2,
        _ => {}
    }
    assert_eq!(solve(&b).1.limit, limit);
    b
}

#[divan::bench(args = LIMITS)]
fn searched(bencher: Bencher, limit: Limit) {
    let b = bias(limit);
    bencher.bench(|| solve(black_box(&b)));
}

#[divan::bench(args = LIMITS)]
fn held(bencher: Bencher, limit: Limit) {
    let b = bias(limit);
    let regime = solve(&b).1;
    bencher.bench(|| solve_in(black_box(&b), regime));
}
