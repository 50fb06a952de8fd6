//! What the lead-acid equations must do whatever the parameters: reduce, scale, balance, be monotone.

mod behaviour;
mod kinks;
mod regression;
mod variants;

use super::*;
use crate::plant::battery::test_stepper::{Random, Stepper};

/// SOC, `v1`, `v2` and gassed charge in Ah.
pub(super) type States = [f64; 4];

pub(super) fn state(y: &States) -> BranchState {
    BranchState { soc: y[0], v1: y[1], v2: y[2] }
}

fn flow(at: &LeadAcidAt, y: &States, i: f64, hold: &LeadAcidHold) -> States {
    let x = state(y);
    let dx = at.derivative(&x, i, hold);
    [dx.soc, dx.v1, dx.v2, at.rates(&x, i, hold).gassed_a / 3600.0]
}

/// Runs one battery through stretches of constant current or constant voltage.
pub(super) struct Bench<'a> {
    pub at: LeadAcidAt<'a>,
    pub run: Stepper<4>,
}

impl<'a> Bench<'a> {
    pub fn new(battery: &'a LeadAcid, temp_c: f64, soc: f64, tolerance: f64) -> Self {
        Bench { at: battery.at(temp_c), run: Stepper::new([soc, 0.0, 0.0, 0.0], tolerance) }
    }

    pub fn amps(&mut self, i: f64, span_s: f64) -> &mut Self {
        self.run.restart();
        self.on_amps(i, span_s)
    }

    pub fn on_amps(&mut self, i: f64, span_s: f64) -> &mut Self {
        let at = self.at;
        self.run.advance(span_s, |y| flow(&at, y, i, &LeadAcidHold::FREE));
        self
    }

    pub fn volts(&mut self, v: f64, span_s: f64) -> &mut Self {
        let at = self.at;
        self.run.advance(span_s, |y| flow(&at, y, amps_at(&at, y, v), &LeadAcidHold::FREE));
        self
    }

    pub fn posts_v(&self, i: f64) -> f64 {
        let port = self.at.port(&state(&self.run.y));
        port.emf_v + port.r_ohm * i
    }

    pub fn amps_at(&self, v: f64) -> f64 {
        amps_at(&self.at, &self.run.y, v)
    }
}

pub(super) fn amps_at(at: &LeadAcidAt, y: &States, v: f64) -> f64 {
    let port = at.port(&state(y));
    (v - port.emf_v) / port.r_ohm
}

fn plain_pair(efficiency: f64) -> (PlainBattery, LeadAcid) {
    let battery = PlainBattery {
        capacity_c: 80.0 * 3600.0,
        emf: Emf::Linear { empty_v: 11.85, full_v: 12.7 },
        r0_ohm: 0.0051,
        branch_ohm: [0.0063, 0.0],
        branch_s: [61.0, 1210.0],
        charge_efficiency: efficiency,
        start_soc: 0.9,
    };
    let lead = LeadAcid::plain(&battery, 6).expect("a line");
    (battery, lead)
}

#[test]
fn reduces_to_the_plain_battery_to_the_bit() {
    let mut random = Random(1);
    for efficiency in [1.0, 0.95] {
        let (battery, lead) = plain_pair(efficiency);
        assert_eq!(lead.start(), battery.start());
        for _ in 0..20_000 {
            let x = BranchState {
                soc: random.between(1e-6, 1.0 - 1e-6),
                v1: random.between(-1.0, 1.0),
                v2: random.between(-1.0, 1.0),
            };
            let (i, temp_c) = (random.between(-200.0, 200.0), random.between(-30.0, 60.0));
            let hold = battery.hold(&x, i);
            assert_eq!(lead.port(&x, temp_c), battery.port(&x, hold));
            for held in [LeadAcidHold::FREE, lead.regime(&x, i, temp_c)] {
                assert_eq!(lead.at(temp_c).derivative(&x, i, &held), battery.derivative(&x, i, hold));
                let (a, b) = (lead.at(temp_c).rates(&x, i, &held), battery.rates(&x, i, hold));
                assert_eq!((a.lost_a, a.ohmic_w), (b.lost_a, b.ohmic_w));
                assert_eq!((a.gassed_a, a.self_discharged_a), (0.0, 0.0));
                // v·v/R against v·(v)/R: the same operations.
                assert_eq!(a.branch_w, b.branch_w);
            }
            let to = BranchState { soc: random.between(0.0, 1.0), v1: 0.1, v2: -0.2 };
            let (a, b) = (lead.stored_j(&x, &to, temp_c), battery.stored_j(&x, &to));
            // Another order of the same sum: rounding of megajoules.
            assert!((a - b).abs() <= 1e-12 * 4e6, "{a} {b}");
        }
    }
}

#[test]
fn a_table_is_not_a_line() {
    let (mut battery, _) = plain_pair(1.0);
    let table = crate::pchip::Pchip::new(&[0.0, 1.0], &[11.9, 12.7]).expect("rises");
    battery.emf = Emf::Table(table);
    assert_eq!(LeadAcid::plain(&battery, 6), None);
}

#[test]
fn power_balances_and_no_loss_is_negative() {
    let mut random = Random(7);
    let kinds = [
        LeadAcid::starter_flooded(80.0),
        LeadAcid::starter_agm(70.0).with_cells(12),
        LeadAcid::house_flooded(110.0),
        LeadAcid { charge_efficiency: 0.95, ..LeadAcid::house_agm(100.0) },
        LeadAcid::house_gel(90.0).with_r0(0.009),
    ];
    for n in 0..20_000 {
        let b = &kinds[n % kinds.len()];
        let size = f64::from(b.cells) / 6.0;
        let x = BranchState {
            soc: random.between(-0.05, 1.05),
            v1: size * random.between(-1.5, 2.5),
            v2: size * random.between(-1.0, 1.0),
        };
        let (i, temp_c) = (random.between(-300.0, 150.0), random.between(-30.0, 60.0));
        let at = b.at(temp_c);
        for hold in [LeadAcidHold::FREE, at.regime(&x, i)] {
            let r = at.rates(&x, i, &hold);
            let losses = [r.ohmic_w, r.branch_w, r.gassing_w, r.self_discharge_w, r.lost_w];
            let amps = [r.gassed_a, r.self_discharged_a, r.lost_a];
            assert!(losses.iter().chain(&amps).all(|w| *w >= 0.0), "{x:?} {i} {temp_c}: {r:?}");
            assert!(r.heat_w >= 0.0 || b.gassing.carried_v > 0.0);
            let port = at.port(&x);
            let power_w = (port.emf_v + port.r_ohm * i) * i;
            let out = r.chemical_w + at.capacitance_w(&x, i, &hold) + losses.iter().sum::<f64>();
            let size_w = losses.iter().sum::<f64>() + power_w.abs() + r.chemical_w.abs();
            assert!((power_w - out).abs() <= 1e-13 * size_w, "{power_w} {out}");
            // Charge: what flows in is stored, gassed, self-discharged or lost.
            let soc_a = at.derivative(&x, i, &hold).soc * b.capacity_c;
            let sum = soc_a + r.gassed_a + r.self_discharged_a + r.lost_a;
            assert!((sum - i).abs() <= 1e-12 * (1.0 + r.gassed_a + i.abs()), "{sum} {i}");
            assert_eq!(at.margin(&x, i, &hold).total_cmp(&0.0), std::cmp::Ordering::Greater);
        }
    }
}

#[test]
fn scales_exactly_with_size_and_with_cells() {
    let whole = LeadAcid::starter_flooded(80.0);
    let series = [(14.0, 900.0), (-30.0, 60.0), (0.0, 1800.0), (9.0, 3600.0)];
    let play = |b: &LeadAcid, share: f64| {
        let mut bench = Bench::new(b, 12.0, 0.93, 1e-10);
        for (i, span_s) in series {
            bench.amps(share * i, span_s);
        }
        (bench.run.y, bench.posts_v(share * 9.0))
    };
    let (y, v) = play(&whole, 1.0);
    for share in [0.25, 0.5, 1.5] {
        let (y2, v2) = play(&LeadAcid::starter_flooded(80.0 * share), share);
        assert!((y2[0] - y[0]).abs() < 1e-9 && (v2 - v).abs() < 1e-8, "{share}: {v} {v2}");
    }
    for cells in [1, 3, 12, 24] {
        let n = f64::from(cells) / 6.0;
        let (y2, v2) = play(&whole.clone().with_cells(cells), 1.0);
        assert!((y2[0] - y[0]).abs() < 1e-9 && (v2 / n - v).abs() < 1e-7, "{cells}: {v} {}", v2 / n);
    }
}

#[test]
fn measured_and_labelled_batteries() {
    let own = LeadAcid::starter_flooded(80.0);
    assert_eq!(own.clone().with_r0(0.0041).r0_ohm, 0.0041);
    let same = own.clone().with_cranking_label(536.0);
    assert!((same.r0_ohm / own.r0_ohm - 1.0).abs() < 1e-15);
    let strong = own.clone().with_cranking_label(700.0);
    let factor = 536.0 / 700.0;
    assert!((strong.r0_ohm - 0.0034 * factor).abs() < 1e-15);
    assert!((strong.fast.discharge_ohm - 0.002 * factor).abs() < 1e-15);
    assert!((strong.fast.farad() - 56.0).abs() < 1e-12);
    assert!((strong.fast.discharge_ohm / strong.fast.charge_share - 0.011_875).abs() < 1e-15);
    assert_eq!(own.clone().with_cranking_label(5000.0).r0_ohm, own.r0_ohm * 0.6);
    assert_eq!(own.clone().with_cranking_label(100.0).r0_ohm, own.r0_ohm * 2.0);
}

#[test]
fn currents_and_volts_are_monotone() {
    let b = LeadAcid::starter_flooded(80.0);
    let mut random = Random(11);
    for _ in 0..4000 {
        let (a, c) = (random.between(12.0, 19.5), random.between(12.0, 19.5));
        let (low, high) = (a.min(c), a.max(c));
        let (cold, warm) = (random.between(-20.0, 20.0), random.between(20.0, 55.0));
        // Gassing rises with EMF and, at volts compensated with the EMF, with temperature.
        assert!(b.at(25.0).gassed_a(low, Side::Free) <= b.at(25.0).gassed_a(high, Side::Free));
        let shift = |t: f64| b.emf_v_per_k * (t - 25.0);
        let at_cold = b.at(cold).gassed_a(high + shift(cold), Side::Free);
        assert!(at_cold <= b.at(warm).gassed_a(high + shift(warm), Side::Free));
        assert!(b.at(cold).rested_v(0.4) < b.at(cold).rested_v(0.5));
    }
    // Branch currents rise with their own volts through zero.
    let at = b.at(25.0);
    let pull = |v1: f64, soc: f64| {
        let x = BranchState { soc, v1, v2: 0.0 };
        0.0 - at.derivative(&x, 0.0, &LeadAcidHold::FREE).v1
    };
    for soc in [0.1, 0.6, 0.95] {
        // Gassing drains the branch too, so the whole pull is what has to rise.
        let pulls: Vec<f64> = (-100..=100).map(|n| pull(0.02 * f64::from(n), soc)).collect();
        assert!(pulls.windows(2).all(|w| w[1] >= w[0]), "soc {soc}");
    }
    // Settled current rises with the voltage and falls with the state of charge.
    let settled = |soc: f64, v: f64| {
        let mut bench = Bench::new(&b, 25.0, soc, 1e-8);
        bench.volts(v, 900.0);
        bench.amps_at(v)
    };
    assert!(settled(0.8, 14.0) < settled(0.8, 14.2) && settled(0.8, 14.2) < settled(0.8, 14.6));
    assert!(settled(0.6, 14.2) > settled(0.8, 14.2) && settled(0.8, 14.2) > settled(0.95, 14.2));
}

#[test]
fn gassing_goes_on_straight_past_its_curve() {
    let b = LeadAcid::starter_flooded(80.0);
    let at = b.at(25.0);
    let edge = b.gassing.onset_v + 12.0 * b.gassing.slope_v;
    let (below, above) = (at.gassed_a(edge - 1e-7, Side::Free), at.gassed_a(edge + 1e-7, Side::Free));
    assert!((above - below) / below < 1e-6);
    assert!(at.gassed_a(1e6, Side::Free).is_finite());
}

#[test]
fn held_sides_meet_the_free_ones_and_have_no_poles() {
    let b = LeadAcid::starter_flooded(80.0);
    let at = b.at(5.0);
    let on = |v1: f64, v2: f64| BranchState { soc: 0.5, v1, v2 };
    for way in [1.0, -1.0] {
        let hold = at.regime(&on(way * 0.01, way * 0.01), way);
        let mut v = -way * 2e-4;
        // Just across the kink both agree to the second order of the distance.
        let (held, free) =
            (at.derivative(&on(v, v), 0.0, &hold), at.derivative(&on(v, v), 0.0, &LeadAcidHold::FREE));
        assert!((held.v1 - free.v1).abs() < 1e-4 && (held.v2 - free.v2).abs() < 1e-7, "{held:?} {free:?}");
        assert!(at.margin(&on(v, v), 0.0, &hold) < 0.0);
        while v.abs() < 8.0 {
            v *= 1.1;
            let dx = at.derivative(&on(v, v), 0.0, &hold);
            assert!(dx.v1.is_finite() && dx.v1.abs() < 1e7, "{v}: {dx:?}");
        }
    }
}

#[test]
fn vented_gas_takes_heat_along_and_recombined_gas_does_not() {
    let flooded = LeadAcid::starter_flooded(80.0);
    let agm = LeadAcid::starter_agm(80.0);
    let x = BranchState { soc: 1.0, v1: 1.5, v2: 0.0 };
    for (b, carried) in [(&flooded, 8.88), (&agm, 0.0)] {
        let r = b.rates(&x, 1.0, 25.0);
        let all = r.ohmic_w + r.branch_w + r.gassing_w + r.self_discharge_w + r.lost_w;
        assert!((all - r.heat_w - carried * r.gassed_a).abs() < 1e-12);
    }
    let node = flooded.thermal_node();
    assert!((node.j_per_k - 24_000.0).abs() < 1e-9 && (node.w_per_k - 7.2).abs() < 1e-9);
}
