//! What the lithium equations must do: reduce to the plain battery, balance, relax, follow, warm.

mod behaviour;
mod kinks;

use super::*;
use crate::plant::battery::BranchState;
use crate::plant::battery::test_stepper::{Random, Stepper};

/// The five states, then stored energy and heat, MJ: of the states' own size, for the step control.
pub(super) type States = [f64; 7];

pub(super) fn state(y: &States) -> LithiumState {
    LithiumState { soc: y[0], v1: y[1], v2: y[2], hysteresis: y[3], unrelaxed: y[4] }
}

pub(super) fn vector(x: &LithiumState) -> States {
    [x.soc, x.v1, x.v2, x.hysteresis, x.unrelaxed, 0.0, 0.0]
}

pub(super) fn flow(b: &Lithium, y: &States, i: f64, temp_c: f64, hold: LithiumHold) -> States {
    let x = state(y);
    let dx = b.derivative(&x, i, b.cold_at(temp_c), hold);
    let r = b.rates(&x, i, temp_c, hold);
    [dx.soc, dx.v1, dx.v2, dx.hysteresis, dx.unrelaxed, 1e-6 * r.stored_w, 1e-6 * r.heat_w]
}

/// A load: amperes, or volts at the posts.
#[derive(Debug, Clone, Copy)]
pub(super) enum Load {
    Amps(f64),
    Volts(f64),
}

pub(super) fn amps(b: &Lithium, y: &States, temp_c: f64, load: Load, hold: Option<LithiumHold>) -> f64 {
    let x = state(y);
    match load {
        Load::Amps(i) => i,
        Load::Volts(v) => {
            let port = b.port(&x, temp_c, hold.unwrap_or_else(|| b.hold(&x, 0.0)));
            (v - port.emf_v) / port.r_ohm
        }
    }
}

/// Runs a stretch with nothing held.
pub(super) fn play(b: &Lithium, run: &mut Stepper<7>, temp_c: f64, load: Load, span_s: f64) {
    run.restart();
    run.advance(span_s, |y| {
        let i = amps(b, y, temp_c, load, None);
        flow(b, y, i, temp_c, b.hold(&state(y), i))
    });
}

fn plain_pairs() -> Vec<PlainBattery> {
    let set = &crate::plant::battery::lithium_sets::LFP;
    let volts: Vec<f64> = set.cell_v.iter().map(|v| 4.0 * v).collect();
    let table = Pchip::new(set.soc, &volts).expect("rises");
    let battery = |emf, charge_efficiency| PlainBattery {
        capacity_c: 100.0 * 3600.0,
        emf,
        r0_ohm: 0.0081,
        branch_ohm: [0.0021, 0.0],
        branch_s: [41.0, 1210.0],
        charge_efficiency,
        start_soc: 0.7,
    };
    let line = Emf::Linear { empty_v: 12.8, full_v: 13.4 };
    vec![battery(Emf::Table(table.clone()), 1.0), battery(Emf::Table(table), 0.99), battery(line, 0.97)]
}

#[test]
fn reduces_to_the_plain_battery_to_the_bit_ends_included() {
    let mut random = Random(3);
    for battery in plain_pairs() {
        let lithium = Lithium::plain(&battery, 4);
        for n in 0..20_000 {
            let soc = match n % 10 {
                0 => 0.0,
                1 => 1.0,
                _ => random.between(-0.01, 1.01),
            };
            let (v1, v2) = (random.between(-0.5, 0.5), random.between(-0.5, 0.5));
            let plain = BranchState { soc, v1, v2 };
            let x = LithiumState { soc, v1, v2, ..LithiumState::default() };
            let (i, temp_c) = (random.between(-200.0, 150.0), random.between(-30.0, 60.0));
            let (hold, want) = (lithium.hold(&x, i), battery.hold(&plain, i));
            assert_eq!(hold.plain, want);
            assert_eq!(lithium.port(&x, temp_c, hold), battery.port(&plain, want));
            assert_eq!(lithium.margin(&x, i, hold), battery.margin(&plain, i, want));
            let (dx, d) = (
                lithium.derivative(&x, i, lithium.cold_at(temp_c), hold),
                battery.derivative(&plain, i, want),
            );
            assert_eq!((dx.soc, dx.v1, dx.v2), (d.soc, d.v1, d.v2));
            assert_eq!((dx.hysteresis, dx.unrelaxed), (0.0, 0.0));
            let (r, q) = (lithium.rates(&x, i, temp_c, hold), battery.rates(&plain, i, want));
            assert_eq!((r.lost_a, r.refused_a), (q.lost_a, q.refused_a));
            assert_eq!((r.ohmic_w, r.branch_w), (q.ohmic_w, q.branch_w));
            let to = LithiumState { soc: 0.5, v1: 0.1, ..LithiumState::default() };
            let plain_to = BranchState { soc: 0.5, v1: 0.1, v2: 0.0 };
            assert_eq!(lithium.stored_j(&x, &to), battery.stored_j(&plain, &plain_to));
        }
    }
}

/// Switches off one effect at a time: with all off but the table, nothing is left of them.
#[test]
fn each_effect_goes_off_alone() {
    let full = Lithium::lfp(100.0, 4);
    let raw = |soc: f64| match &full.emf {
        Emf::Table(p) => p.value(soc),
        Emf::Linear { .. } => f64::NAN,
    };
    let mut random = Random(5);
    for _ in 0..5000 {
        let x = LithiumState {
            soc: random.between(0.0, 1.009),
            v1: 0.0,
            v2: 0.0,
            hysteresis: random.between(-1.0, 1.0),
            unrelaxed: random.between(0.0, 1.0),
        };
        let i = random.between(-100.0, 100.0);
        let emf = |b: &Lithium, x: &LithiumState| b.port(x, 10.0, b.hold(x, i)).emf_v;
        // Not relaxed at all, or no relaxing top: the end-of-charge table itself.
        let fresh = LithiumState { hysteresis: 0.0, unrelaxed: 1.0, ..x };
        assert_eq!(emf(&full, &fresh), raw(x.soc));
        let no_top = Lithium { top: None, ..full.clone() };
        assert_eq!(emf(&no_top, &LithiumState { hysteresis: 0.0, ..x }), raw(x.soc));
        let no_hysteresis = Lithium { hysteresis_v: 0.0, hysteresis_rate: 0.0, ..full.clone() };
        let rested = LithiumState { hysteresis: 0.0, ..x };
        assert_eq!(emf(&no_hysteresis, &x), emf(&full, &rested));
        assert_eq!(no_hysteresis.derivative_free(&x, i).hysteresis, 0.0);
        let no_loss = Lithium { self_discharge_per_s: 0.0, charge_efficiency: 1.0, ..full.clone() };
        assert_eq!(no_loss.derivative_free(&x, i).soc, i / full.capacity_c);
        let no_cold = Lithium { activation_k: 0.0, ..full.clone() };
        assert_eq!(no_cold.r0_at(random.between(-30.0, 60.0)), full.r0_ohm);
    }
}

#[test]
fn power_balances_over_random_states() {
    let mut random = Random(9);
    let kinds = [
        Lithium::lfp(100.0, 4),
        Lithium::lfp(200.0, 8).with_r0(0.011),
        Lithium { ends: Ends::Saturating, ..Lithium::lfp(60.0, 16) },
        Lithium { top: None, ends: Ends::Saturating, ..Lithium::lfp(105.0, 4) },
    ];
    for n in 0..20_000 {
        let b = &kinds[n % kinds.len()];
        let soc = if n % 7 == 0 { random.between(0.98, 1.005) } else { random.between(-0.005, 1.005) };
        let x = LithiumState {
            soc,
            v1: random.between(-0.5, 0.5),
            v2: random.between(-0.5, 0.5),
            hysteresis: random.between(-1.0, 1.0),
            unrelaxed: random.between(0.0, 1.0),
        };
        let i = if n % 11 == 0 { random.between(-0.01, 0.01) } else { random.between(-200.0, 100.0) };
        let temp_c = random.between(-20.0, 55.0);
        let hold = b.hold(&x, i);
        assert!(b.margin(&x, i, hold) >= 0.0);
        let r = b.rates(&x, i, temp_c, hold);
        let losses = [r.ohmic_w, r.branch_w, r.hysteresis_w, r.self_discharge_w, r.lost_w];
        assert!(losses.iter().all(|w| *w >= 0.0), "{x:?} {i}: {r:?}");
        // The top's heat is negative only while discharge strips it off, in its own range.
        assert!(r.top_w >= 0.0 || (i < 0.0 && x.soc > 0.9), "{x:?} {i}: {r:?}");
        let port = b.port(&x, temp_c, hold);
        let power_w = (port.emf_v + port.r_ohm * i) * i;
        let out = r.stored_w + r.heat_w + r.refused_w;
        let size = power_w.abs() + r.stored_w.abs() + r.heat_w.abs() + r.refused_w.abs();
        assert!((power_w - out).abs() <= 1e-12 * size, "{power_w} {out} {x:?} {i}");
        let soc_a = b.derivative(&x, i, b.cold_at(temp_c), hold).soc * b.capacity_c;
        let sum = soc_a + r.lost_a + r.self_discharged_a + r.refused_a;
        assert!((sum - i).abs() < 1e-12 * (1.0 + i.abs()), "{sum} {i}");
    }
}

/// Stored energy is a function of the states: what the rates add up to along a day is the difference of its ends.
#[test]
fn stored_energy_depends_on_the_ends_only() {
    let b = Lithium::lfp(100.0, 4).with_start_soc(0.6);
    let mut run = Stepper::new(vector(&b.start()), 1e-10);
    for (load, span_s) in [
        (Load::Amps(50.0), 2500.0),
        (Load::Volts(14.2), 3600.0),
        (Load::Amps(0.0), 7200.0),
        (Load::Volts(13.9), 1200.0),
        (Load::Amps(-30.0), 4000.0),
    ] {
        play(&b, &mut run, 15.0, load, span_s);
    }
    let stored = b.stored_j(&b.start(), &state(&run.y));
    let along = 1e6 * run.y[5];
    println!("stored {stored} J, along the day {along} J");
    assert!((stored - along).abs() < 1e-8 * 4.8e6, "{stored} {along}");
    assert!(run.y[6] > 0.0);
}

#[test]
fn scales_with_cells_and_size() {
    let day = |b: &Lithium, share: f64| {
        let mut run = Stepper::new(vector(&b.clone().with_start_soc(0.9).start()), 1e-10);
        // The test's energies would set the step: they grow with the battery.
        for (i, span_s) in [(30.0, 1100.0), (0.0, 1800.0), (-60.0, 900.0), (0.0, 600.0)] {
            run.restart();
            run.advance(span_s, |y| {
                let mut dy = flow(b, y, share * i, 5.0, b.hold(&state(y), share * i));
                dy[5..].fill(0.0);
                dy
            });
        }
        let x = state(&run.y);
        (x, b.port(&x, 5.0, b.hold(&x, 0.0)).emf_v)
    };
    let (x, v) = day(&Lithium::lfp(100.0, 4), 1.0);
    for (ah, cells) in [(100.0, 8), (100.0, 16), (50.0, 4), (280.0, 4), (30.0, 12)] {
        let (x2, v2) = day(&Lithium::lfp(ah, cells), ah / 100.0);
        let n = f64::from(cells) / 4.0;
        assert!(
            (x2.soc - x.soc).abs() < 1e-9 && (v2 / n - v).abs() < 1e-7,
            "{ah} Ah, {cells} cells: {} {v}",
            v2 / n
        );
        assert!((x2.hysteresis - x.hysteresis).abs() < 1e-7 && (x2.unrelaxed - x.unrelaxed).abs() < 1e-7);
    }
}
