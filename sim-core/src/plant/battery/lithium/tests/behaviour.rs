//! What an LFP battery does, against the measured table, closed forms and the trade's figures.

use super::*;
use crate::plant::battery::lithium_sets::{HYSTERESIS_CELL_V, LFP, activation_k};

fn cell_rested_v(b: &Lithium, soc: f64) -> f64 {
    let x = LithiumState { soc, ..LithiumState::default() };
    b.port(&x, 25.0, b.hold(&x, 0.0)).emf_v / f64::from(b.cells)
}

#[test]
fn rested_table_rises_and_ends_where_a_full_cell_rests() {
    let b = Lithium::lfp(100.0, 4);
    for (soc, v) in LFP.soc.iter().zip(LFP.cell_v).take(8) {
        assert!((cell_rested_v(&b, *soc) - v).abs() < 1e-12, "SOC {soc}");
    }
    // The last plateau goes on where the table of charge rises.
    assert!((cell_rested_v(&b, 0.983) - 3.334).abs() < 1e-12);
    let full = cell_rested_v(&b, 1.0);
    assert!((3.35..=3.40).contains(&full), "{full}");
    let mut before = cell_rested_v(&b, -0.01);
    for n in 0..=10_400 {
        let v = cell_rested_v(&b, -0.01 + 1e-4 * f64::from(n + 1));
        assert!(v > before, "falls at {n}: {before} {v}");
        before = v;
    }
    // Above 1 the wall of the end-of-charge table: tens of volts per unit of SOC, nothing of it relaxes.
    let wall = (cell_rested_v(&b, 1.01) - full) / 0.01;
    assert!((40.0..50.0).contains(&wall), "{wall} V per unit");
    let low = LithiumState { soc: 1.02, unrelaxed: 0.0, ..LithiumState::default() };
    let high = LithiumState { unrelaxed: 1.0, ..low };
    assert!((b.top_v(&high) / 4.0 - 0.223).abs() < 1e-12 && b.top_v(&low) == 0.0);
}

#[test]
fn top_shows_the_table_on_charge_and_relaxes_over_tens_of_minutes() {
    let b = Lithium::lfp(100.0, 4).with_start_soc(0.9);
    for (rate, least) in [(1.0 / 32.0, 0.86), (0.1, 0.95), (0.5, 0.99)] {
        let mut run = Stepper::new(vector(&b.start()), 1e-9);
        let i = 100.0 * rate;
        play(&b, &mut run, 25.0, Load::Amps(i), 0.1 * 3600.0 / rate / 0.999);
        let x = state(&run.y);
        // Closed form of the share that does not relax while charging: (I/Qf) / (I/Qf + 1/τ).
        let follow = i / (0.002 * b.capacity_c);
        let want = follow / (follow + 1.0 / 1500.0);
        println!("{rate:.3} C: unrelaxed {:.4}, top {:.1} mV per cell", x.unrelaxed, 250.0 * b.top_v(&x));
        assert!((x.unrelaxed - want).abs() < 1e-4 && want > least, "{} {want}", x.unrelaxed);
        // Then at rest: e-fold every 25 min.
        let top_v = b.top_v(&x);
        let mut at = 0.0;
        for minutes in [5.0, 25.0, 60.0, 180.0] {
            play(&b, &mut run, 25.0, Load::Amps(0.0), 60.0 * minutes - at);
            at = 60.0 * minutes;
            let now = state(&run.y);
            // Self-discharge takes a little excess along with the charge.
            assert!((b.top_v(&now) / top_v - (-at / 1500.0f64).exp()).abs() < 2e-3);
        }
        let rested = cell_rested_v(&b, run.y[0]);
        let shown = b.port(&state(&run.y), 25.0, b.hold(&state(&run.y), 0.0)).emf_v / 4.0;
        assert!((3.35..=3.40).contains(&shown), "{shown}");
        // A tenth of the capacity brings hysteresis 86 % of its way.
        assert!((shown - rested - 0.013).abs() < 1e-3, "{shown} {rested}");
    }
}

#[test]
fn a_full_battery_refuses_charge_by_its_volts() {
    let b = Lithium::lfp(100.0, 4).with_start_soc(0.95);
    let mut run = Stepper::new(vector(&b.start()), 1e-9);
    play(&b, &mut run, 25.0, Load::Volts(14.4), 3.0 * 3600.0);
    let i = amps(&b, &run.y, 25.0, Load::Volts(14.4), None);
    println!("after 3 h at 14.4 V: {i:.4} A, SOC {:.6}", run.y[0]);
    // As the current dies the top relaxes, and the wall alone holds 3.6 V: (3.6 − 3.375 − 0.015) V over its slope.
    assert!(i > 0.0 && i < 0.1 && run.y[0] < 1.005);
    // A load strips the top by throughput: a fifth of a per cent of capacity per e-fold.
    let full = state(&run.y);
    play(&b, &mut run, 25.0, Load::Amps(-20.0), 90.0);
    assert!(b.top_v(&state(&run.y)) < 0.3 * b.top_v(&full));
}

#[test]
fn hysteresis_follows_throughput_and_outlasts_rest() {
    let b = Lithium { self_discharge_per_s: 0.0, charge_efficiency: 1.0, ..Lithium::lfp(100.0, 4) };
    let (low, high) = HYSTERESIS_CELL_V;
    assert!((low..=high).contains(&(b.hysteresis_v / 4.0)));
    let start = LithiumState { soc: 0.5, hysteresis: -1.0, ..LithiumState::default() };
    for i in [10.0, 40.0] {
        let mut run = Stepper::new(vector(&start), 1e-10);
        play(&b, &mut run, 25.0, Load::Amps(i), 0.1 * b.capacity_c / i);
        // h = 1 − 2·e^(−k·Δs), whatever the current.
        let want = 1.0 - 2.0 * (-20.0f64 * 0.1).exp();
        assert!((run.y[3] - want).abs() < 1e-8, "{} {want}", run.y[3]);
        play(&b, &mut run, 25.0, Load::Amps(0.0), 86_400.0);
        assert!((run.y[3] - want).abs() < 1e-8);
        play(&b, &mut run, 25.0, Load::Amps(-i), 0.1 * b.capacity_c / i);
        let back = -1.0 + (want + 1.0) * (-20.0f64 * 0.1).exp();
        assert!((run.y[3] - back).abs() < 1e-8);
    }
}

#[test]
fn a_closed_hysteresis_loop_costs_energy() {
    let b = Lithium {
        self_discharge_per_s: 0.0,
        charge_efficiency: 1.0,
        r0_ohm: 0.0,
        branch_ohm: [0.0; 2],
        ..Lithium::lfp(100.0, 4)
    };
    let mut run = Stepper::new(vector(&LithiumState { soc: 0.5, ..LithiumState::default() }), 1e-9);
    for _ in 0..4 {
        play(&b, &mut run, 25.0, Load::Amps(20.0), 3600.0);
        play(&b, &mut run, 25.0, Load::Amps(-20.0), 3600.0);
    }
    let (stored, heat) = (1e6 * run.y[5], 1e6 * run.y[6]);
    play(&b, &mut run, 25.0, Load::Amps(20.0), 3600.0);
    play(&b, &mut run, 25.0, Load::Amps(-20.0), 3600.0);
    // A loop brings store back where it was. Wide loops tend to 2·M·ΔQ.
    let drift = 1e6 * run.y[5] - stored;
    assert!(drift.abs() < 0.1, "{drift}");
    let (cost, wide) = (1e6 * run.y[6] - heat, 2.0 * b.hysteresis_v * 20.0 * 3600.0);
    // ∮ of h = 1 − a·e^(−k·s) up and its mirror down: 2·M·Q·(Δs − (2/k)·tanh(k·Δs/2)).
    let (k, swing) = (20.0f64, 0.2f64);
    let want = 2.0 * b.hysteresis_v * b.capacity_c * (swing - 2.0 / k * (k * swing / 2.0).tanh());
    assert!((cost / want - 1.0).abs() < 1e-4 && cost < wide, "{cost} {want} {wide}");
}

/// The top is no perfect store: closed loops cost energy, but a short one after rest may give a little back.
#[test]
fn the_top_gives_next_to_nothing_for_nothing() {
    let b = Lithium {
        self_discharge_per_s: 0.0,
        charge_efficiency: 1.0,
        r0_ohm: 0.0,
        branch_ohm: [0.0; 2],
        hysteresis_v: 0.0,
        ..Lithium::lfp(100.0, 4)
    };
    let all_j = 13.2 * b.capacity_c;
    let mut least: f64 = 0.0;
    for soc in [0.985, 0.99, 0.995, 0.999, 1.0] {
        for swing in [0.0005, 0.002, 0.005, 0.02] {
            // Rested, charged, discharged, rested: back where it began.
            let mut run = Stepper::new(vector(&LithiumState { soc, ..LithiumState::default() }), 1e-9);
            let span_s = swing * b.capacity_c / 50.0;
            play(&b, &mut run, 25.0, Load::Amps(50.0), span_s);
            play(&b, &mut run, 25.0, Load::Amps(-50.0), span_s);
            play(&b, &mut run, 25.0, Load::Amps(0.0), 40_000.0);
            least = least.min(1e6 * run.y[6]);
        }
    }
    println!("least heat of a loop {least:.2} J of {all_j:.0} J");
    assert!(least > -1e-5 * all_j, "{least}");
}

#[test]
fn cold_raises_the_series_resistance() {
    let b = Lithium::lfp(100.0, 4);
    let ratio = |t: f64| b.r0_at(t) / b.r0_at(25.0);
    assert!((ratio(0.0) - 2.5).abs() < 1e-12 && (b.r0_at(25.0) - 0.008).abs() < 1e-15);
    assert!(ratio(-10.0) > 3.5 && ratio(45.0) < 0.6);
    // Activation energy, kJ/mol.
    for (cold, kj) in [(2.0, 18.8), (2.5, 24.8), (3.0, 29.8)] {
        assert!((activation_k(cold) * 8.314_462_618e-3 - kj).abs() < 0.05);
    }
}

#[test]
fn warms_itself_and_a_mat_warms_it() {
    let b = Lithium::lfp(100.0, 4);
    let node = b.thermal_node();
    println!("node {} J/K, {:.3} W/K", node.j_per_k, node.w_per_k);
    // One vector: the five states and the temperature, which sets the resistance that heats.
    let warm = |i: f64, heater_w: f64| {
        let mut run = Stepper::new([0.3, 0.0, 0.0, 0.0, 0.0, -10.0], 1e-8);
        run.advance(3600.0, |y| {
            let x = LithiumState { soc: y[0], v1: y[1], v2: y[2], hysteresis: y[3], unrelaxed: y[4] };
            let hold = b.hold(&x, i);
            let dx = b.derivative(&x, i, b.cold_at(y[5]), hold);
            let heat_w = b.rates(&x, i, y[5], hold).heat_w;
            let dt = node.derivative(y[5], -10.0, heat_w, heater_w);
            [dx.soc, dx.v1, dx.v2, dx.hysteresis, dx.unrelaxed, dt]
        });
        run.y[5]
    };
    let (still, driven, mat) = (warm(0.0, 0.0), warm(50.0, 0.0), warm(0.0, 60.0));
    println!("after 1 h at −10 °C: rest {still:.3}, 50 A {driven:.2}, mat {mat:.2} °C");
    assert!((still + 10.0).abs() < 0.05 && driven > -5.0 && mat > 3.0 && mat < 10.0);
}

#[test]
fn a_lay_up_costs_some_per_cent_a_month() {
    let b = Lithium::lfp(100.0, 4);
    let mut run = Stepper::new(vector(&b.clone().with_start_soc(0.8).start()), 1e-9);
    play(&b, &mut run, 25.0, Load::Amps(0.0), 6.0 * 30.4375 * 86_400.0);
    let want = 0.8 * (-0.02f64 * 6.0).exp();
    assert!((run.y[0] - want).abs() < 1e-6, "{} {want}", run.y[0]);
}

/// The plain end, with self-discharge making room at a full battery: full, room, full, nearly empty, each handed over once.
#[test]
fn saturating_ends_hand_over_cleanly() {
    let b = Lithium { ends: Ends::Saturating, ..Lithium::lfp(100.0, 4) };
    let mut run = Stepper::new(vector(&b.clone().with_start_soc(0.99).start()), 1e-9);
    for (i, span_s, most, soc) in
        [(20.0, 600.0, 3, 1.0), (0.0, 3600.0, 2, 0.999), (20.0, 60.0, 2, 1.0), (-50.0, 7195.0, 12, 0.0)]
    {
        let changes = run.advance_held(
            span_s,
            |y| b.hold(&state(y), i),
            |y, hold| flow(&b, y, i, 25.0, *hold),
            |y, hold| b.margin(&state(y), i, *hold),
        );
        assert!(changes <= most, "{i} A: {changes} hand-overs");
        assert!((run.y[0] - soc).abs() < 1.1e-3, "{i} A: SOC {}", run.y[0]);
    }
}
