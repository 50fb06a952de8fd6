//! Closed forms of the operating point: a constant-power load behind a resistance (textbook algebra; feasibility of such
//! loads: arXiv 1503.04769, 2010.01076), the resistance at which the unit drops out, the speed an alternator needs.

use sim_core::Model;
use sim_core::model::Profile;
use sim_core::network::Limit;
use sim_core::network::source::SourceState;
use sim_core::record::EventKind;
use sim_core::record::Sample;
use sim_tests::bisect::border;
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::look::{at, first, near, run, run_at, times_s};
use sim_tests::rig::{BARE, STEADY_R_OHM, bare, steady_van};
use sim_tests::van;

const DROOP_OHM: f64 = 0.003;
const TURN_OFF_V: f64 = 12.8;

fn parallel(a: f64, b: f64) -> f64 {
    a * b / (a + b)
}

/// Input power of the reference van's unit for its output power, written out by hand.
fn input_w(output_w: f64) -> f64 {
    output_w + 4.0 + 0.04 * output_w + 2e-5 * output_w * output_w
}

fn an_hour() -> Profile {
    day(&[(60.0, PARKED), (600.0, DRIVING)])
}

/// Source volts without the unit, from the run itself: just before it came on, its standby current added back.
fn open_source_v(m: &Model) -> f64 {
    let event = *first(&run(m, &an_hour()), EventKind::UnitOn);
    event.before.sb_v + 0.005 * parallel(DROOP_OHM, STEADY_R_OHM)
}

fn settled(m: &Model) -> Sample {
    at(&run(m, &an_hour()), m, &an_hour(), 500.0)
}

/// (c1) `I = (V0 − √(V0² − 4 R P)) / 2R`, on flat batteries, where it is exact: 1e-9 allows for rounding of the root.
#[test]
fn constant_power_input() {
    for length in [1.0, 5.0, 8.0] {
        let m = van::with_length(steady_van(), length);
        let net = settled(&m).net;
        let v0 = open_source_v(&m);
        let r = parallel(DROOP_OHM, STEADY_R_OHM) + 2.0 * length * 1.21e-3 + 0.002;
        let p = input_w(net.out_v * 40.0);
        let i = (v0 - (v0 * v0 - 4.0 * r * p).sqrt()) / (2.0 * r);
        near("amps", net.input_a, i, 1e-9);
        near("volts", net.in_v, v0 - i * r, 1e-9);
    }
}

/// (c1) with the starter battery's polarisation in: after twelve of its slow time constants R_src holds R1 and R2 too.
#[test]
fn constant_power_input_on_a_settled_battery() {
    let mut m = van::model();
    m.house = steady_van().house;
    let p = day(&[(60.0, PARKED), (16_000.0, DRIVING)]);
    let on = at(&run_at(1e-11, &m, &p), &m, &p, 15_900.0).net;
    let mut off = m.clone();
    off.links[0].start_stop.turn_on_v = 20.0;
    let v0 = at(&run_at(1e-11, &off, &p), &off, &p, 15_900.0).net.sb_v;
    let r_src = parallel(DROOP_OHM, 0.005 + 0.006 + 0.012);
    let (r, v0) = (r_src + 0.0141, v0 + 0.005 * r_src);
    let p = input_w(on.out_v * 40.0);
    // What is left of the slow branch, 0.5 V · e^−12, through the divider: under 2 µV.
    near("volts", on.in_v, 0.5 * (v0 + (v0 * v0 - 4.0 * r * p).sqrt()), 2e-6);
}

/// (c2) no operating point beyond `P = V0²/4R`: there the unit is named source-limited and its input stands at half.
#[test]
fn no_operating_point() {
    let p = day(&[(10.0, BARE)]);
    let limited = |r: f64| {
        let m = bare(14.0, r, 500.0);
        let sample = at(&run(&m, &p), &m, &p, 9.0);
        match sample.regime.limit {
            Limit::OutputCurrent => false,
            Limit::Source => {
                near("half", sample.net.in_v, 7.0, 1e-6);
                true
            }
            other => panic!("{other:?}"),
        }
    };
    // Halved to a nano-ohm; the source's SOC moves its EMF by nothing.
    near("ohm", border(0.05, 0.15, 1e-10, limited), 14.0 * 14.0 / (4.0 * 500.0), 1e-9);
}

/// (c3) the loop resistance at which the unit drops out: `V_off (V0 − V_off)/P` at its output limit, `(V0 − V_off)/I` at
/// its input limit, and the length that makes it. On flat batteries: exact but for the bracket.
#[test]
fn critical_resistance_and_length() {
    let drops_out = |m: &Model, length: f64| {
        let m = van::with_length(m.clone(), length);
        times_s(&run(&m, &an_hour()), EventKind::UnitOff).iter().any(|t| *t < 659.0)
    };
    let r_src = parallel(DROOP_OHM, STEADY_R_OHM);
    let length_of = |r_star: f64| (r_star - r_src - 0.002) / (2.0 * 1.21e-3);

    let m = steady_van();
    let v0 = open_source_v(&m);
    let p = input_w(settled(&m).net.out_v * 40.0);
    let at_output = length_of(TURN_OFF_V * (v0 - TURN_OFF_V) / p);
    near("output limit, m", border(2.0, 30.0, 1e-7, |l| drops_out(&m, l)), at_output, 1e-6);

    let mut m = steady_van();
    m.links[0].converter.input_limit_a = 35.0;
    let at_input = length_of((v0 - TURN_OFF_V) / 35.0);
    near("input limit, m", border(2.0, 30.0, 1e-7, |l| drops_out(&m, l)), at_input, 1e-6);
    assert!(at_input > at_output + 1.0, "the two regimes must differ for the test to say something");
}

/// (c11) the lowest alternator speed that carries the demand, `n0 − n_k ln(1 − I/I_r)`, against where the simulated
/// alternator leaves its ceiling. The demand is what the van draws at speed.
#[test]
fn lowest_speed_that_carries_the_demand() {
    let m = steady_van();
    let demand_a = settled(&m).net.alternator_a;
    let expected = (1000.0 - 1500.0 * (1.0 - demand_a / 140.0).ln()) / 2.6;
    let carries = |rpm: f64| {
        // It comes on at speed, so that the demand is there; then the engine slows down.
        let slow = sim_core::model::Piece { engine_rpm: rpm, ..DRIVING };
        let p = day(&[(200.0, DRIVING), (1.0, slow)]);
        let sample = at(&run(&m, &p), &m, &p, 200.5);
        assert!(sample.mode.on);
        sample.regime.starter[0] == SourceState::Regulating
    };
    near("rpm", border(700.0, 3000.0, 1e-6, carries), expected, 1e-5);
}
