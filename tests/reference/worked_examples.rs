//! Worked examples with their numbers: a constant-power load, a capacitor, a battery's step response, a taper. All were
//! recomputed from textbook formulas and are quoted to the digits given; here they come out of whole runs.

use sim_core::logic::Stage;
use sim_core::model::{Model, Piece, Profile, Regulator};
use sim_core::network::Limit;
use sim_core::plant::battery::{Battery, Emf, PlainBattery};
use sim_core::plant::cable::Cable;
use sim_core::record::{EventKind, Line, Sample};
use sim_core::state::HOUSE;
use sim_tests::day::{DRIVING, day};
use sim_tests::look::{at, first, near, run_at};
use sim_tests::plain;
use sim_tests::rig::{BARE, DRIVING_BARE, bare, flat, steady_van};

/// Everything at some seconds of a run.
fn sampled(m: &Model, p: &Profile, t_s: f64) -> Sample {
    at(&run_at(1e-11, m, p), m, p, t_s)
}

/// E, R, P; then volts, amps and the loss in R, to the digits printed.
#[test]
fn constant_power_load_behind_a_resistance() {
    let rows = [
        (13.5, 0.030, 600.0, 12.000000, 50.00000, 75.0000),
        (14.0, 0.020, 500.0, 13.244998, 37.75010, 28.5014),
        (13.8, 0.012, 480.0, 13.369158, 35.90353, 15.4688),
        (12.8, 0.040, 400.0, 11.395998, 35.10004, 49.2805),
        (14.4, 0.050, 720.0, 11.179950, 64.40101, 207.3745),
    ];
    for (e, r, p, v, i, loss) in rows {
        let s = sampled(&bare(e, r, p), &day(&[(10.0, BARE)]), 5.0);
        assert_eq!(s.regime.limit, Limit::OutputCurrent);
        near("volts", s.net.in_v, v, 6e-7);
        near("amps", s.net.input_a, i, 6e-6);
        near("loss", s.net.input_a * (e - s.net.in_v), loss, 6e-5);
    }
}

/// 14 V behind 98 mΩ gives 500 W at 7 V and not more; near the fold volts go with the root of what is missing.
#[test]
fn the_fold_point() {
    let p = day(&[(10.0, BARE)]);
    let just_under = sampled(&bare(14.0, 0.098, 500.0 * (1.0 - 1e-11)), &p, 5.0);
    assert_eq!(just_under.regime.limit, Limit::OutputCurrent);
    // 7 V ± √(R ΔP): 22 µV for 5 nW, and what rounding adds to that.
    near("volts", just_under.net.in_v, 7.0, 3e-5);
    near("amps", just_under.net.input_a, 71.42857, 3e-4);
    let over = sampled(&bare(14.0, 0.098, 501.0), &p, 5.0);
    assert_eq!(over.regime.limit, Limit::Source);
    near("watts", over.net.in_v * over.net.input_a, 500.0, 1e-6);
}

/// Batteries of straight EMF are capacitors: SOC 0 is 0 V.
fn capacitor(farad: f64, r_ohm: f64, start_v: f64) -> Battery {
    const FULL_V: f64 = 30.0;
    Battery::from(PlainBattery {
        capacity_c: farad * FULL_V,
        emf: Emf::Linear { empty_v: 0.0, full_v: FULL_V },
        start_soc: start_v / FULL_V,
        ..plain(&mut flat(0.0, r_ohm)).clone()
    })
}

/// A vehicle whose unit never comes on, whose alternator never lacks current.
fn passive() -> Model {
    let mut m = bare(12.5, 0.01, 100.0);
    m.links[0].start_stop.turn_on_v = 1e3;
    m.alternator.asymptote_a = 1e5;
    m
}

const CHARGED: Piece = Piece { vehicle_load_a: 0.0, set_point_v: 13.5, ..DRIVING_BARE };

/// 13.5 V on 2 F through 50 mΩ: `v = V (1 − e^(−t/RC))`, and half of C V² becomes heat whatever the resistance.
#[test]
fn charging_a_capacitor() {
    let mut m = passive();
    (m.alternator.droop_ohm, m.starter) = (0.04, capacitor(2.0, 0.01, 0.0));
    let p = day(&[(5.0, CHARGED)]);
    let r = run_at(1e-11, &m, &p);
    let volts = |t: f64| {
        let s = at(&r, &m, &p, t);
        s.net.sb_v - 0.01 * s.net.starter_a
    };
    near("after RC", volts(0.1), 8.533628, 6e-7);
    near("after 3 RC", volts(0.3), 12.827875, 6e-7);
    // A fifth of the resistance is the battery's own: a fifth of 182.25 J.
    near("heat", r.ledger.get(Line::StarterHeatJ), 182.25 / 5.0, 1e-6);
}

/// A given current on a capacitor: `v = v0 + I t/C`. A given power: `v = √(v0² + 2 P t/C)`, 14.142136 V for the row.
#[test]
fn constant_current_and_power_on_a_capacitor() {
    // Small beside everything, and large enough that rounding of volts is no current.
    const R_OHM: f64 = 4e-8;
    let mut m = passive();
    m.starter = capacitor(2.0, R_OHM, 10.0);
    m.alternator.asymptote_a = 10.0 / (1.0 - (-4200.0f64 / 1500.0).exp());
    m.alternator.droop_ohm = 0.01;
    m.house = capacitor(2.0, R_OHM, 10.0);
    m.house_solar = Regulator { set_v: 29.0, droop_ohm: 0.01 };
    let sunny = Piece { set_point_v: 29.0, house_solar_w: 100.0, ..CHARGED };
    let s = sampled(&m, &day(&[(1.5, sunny)]), 1.0);
    near("given current", s.net.sb_v - R_OHM * s.net.starter_a, 10.0 + 10.0 * 1.0 / 2.0, 1e-7);
    near("given power", s.net.house_v - R_OHM * s.net.house_a, 14.142136, 6e-7);
}

/// 13.2 V, R0 4 mΩ, R1 3 mΩ with τ 30 s: 50 A for two minutes, then none.
#[test]
fn step_response_of_a_battery() {
    let mut m = passive();
    m.starter = flat(13.2, 0.004);
    plain(&mut m.starter).branch_ohm = [0.003, 0.0];
    plain(&mut m.starter).branch_s = [30.0, 1200.0];
    m.alternator.asymptote_a = 50.0 / (1.0 - (-4200.0f64 / 1500.0).exp());
    let on = Piece { set_point_v: 20.0, ..CHARGED };
    let rest = [(0.0, 13.4), (30.0, 13.494818), (60.0, 13.529700), (150.0, 13.548989), (300.0, 13.549993)];
    let p = day(&[(400.0, on)]);
    for (t, v) in rest {
        near(&format!("{t} s"), sampled(&m, &p, t).net.sb_v, v, 6e-7);
    }
    let p = day(&[(120.0, on), (200.0, BARE)]);
    for (t, v) in [(120.0, 13.347253), (150.0, 13.254171), (180.0, 13.219928), (240.0, 13.202697)] {
        near(&format!("{t} s"), sampled(&m, &p, t).net.sb_v, v, 6e-7);
    }
    // The step at the end is I·R0 exactly.
    let r = run_at(1e-11, &m, &p);
    let off = first(&r, EventKind::KeyOff);
    near("step", off.before.sb_v - off.after.sb_v, 50.0 * 0.004, 1e-12);
}

/// EMF 12.8 + 1.2·SOC behind 20 mΩ, 100 Ah, from 20 %: 30 A until 14.0 V, then held. 3600 s to SOC 0.5, a taper of
/// 6000 s, 3 A after 13 815.5 s at SOC 0.95.
#[test]
fn constant_current_then_constant_voltage() {
    let mut m = steady_van();
    m.house = Battery::from(PlainBattery {
        capacity_c: 360_000.0,
        emf: Emf::Linear { empty_v: 12.8, full_v: 14.0 },
        start_soc: 0.2,
        ..plain(&mut flat(0.0, 0.012)).clone()
    });
    let link = &mut m.links[0];
    link.output_cable = Cable::constant(0.006, 0.002);
    (link.converter.output_limit_a, link.converter.ramp_s) = (30.0, 0.0);
    (link.stages.absorption_v, link.stages.tail_a, link.stages.tail_hold_s) = (14.0, 3.0, 0.0);
    link.stages.absorption_cap_s = 1e6;
    let p = day(&[(60.0, BARE), (20_000.0, DRIVING_BARE)]);
    let r = run_at(1e-11, &m, &p);
    let on = first(&r, EventKind::UnitOn).t;
    let held = first(&r, EventKind::Stage { to: Stage::Absorption }).t;
    let ended = first(&r, EventKind::Stage { to: Stage::Float }).t;
    near("s of constant current", held.since(on), 3600.0, 1e-6);
    near("SOC", at(&r, &m, &p, held.as_s()).state[HOUSE], 0.5, 1e-9);
    near("s of taper", ended.since(held), 13_815.5, 0.06);
    near("SOC", at(&r, &m, &p, ended.as_s()).state[HOUSE], 0.95, 1e-9);
    let later = at(&r, &m, &p, held.as_s() + 6000.0).net.output_a;
    near("A after one time constant", later, 30.0 / std::f64::consts::E, 1e-6);
}

/// The node of alternator, starter battery and load: `V = (V_set/R_a + OCV/R_b − I)/(1/R_a + 1/R_b)`; with the alternator
/// at its greatest current, `V = OCV − (I − I_m) R_b`.
#[test]
fn node_of_alternator_and_battery() {
    let mut m = passive();
    m.alternator = sim_core::plant::alternator::Alternator { droop_ohm: 0.005, ..m.alternator };
    m.starter = flat(12.6, 0.01);
    let p = day(&[(2.0, Piece { vehicle_load_a: 70.0, set_point_v: 14.2, ..DRIVING })]);
    let regulating = (14.2 / 0.005 + 12.6 / 0.01 - 70.0) / (1.0 / 0.005 + 1.0 / 0.01);
    near("regulating", sampled(&m, &p, 1.0).net.sb_v, regulating, 1e-12);
    m.alternator.asymptote_a = 40.0 / (1.0 - (-4200.0f64 / 1500.0).exp());
    near("full", sampled(&m, &p, 1.0).net.sb_v, 12.6 - (70.0 - 40.0) * 0.01, 1e-12);
}
