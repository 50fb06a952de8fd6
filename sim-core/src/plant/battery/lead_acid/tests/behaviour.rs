//! What an 80 Ah flooded starter battery does at 25 °C, row by row, against trade figures.
//!
//! Each figure is held to what the model was found to give (half a unit of its last printed digit, a whole one where it
//! was read from a curve) and, where the trade has a figure, to that band too.

use super::*;

fn near(what: &str, have: f64, want: f64, band: f64) {
    println!("{what}: {have:.4} (expected {want} ± {band})");
    assert!((have - want).abs() <= band, "{what}: {have:.4}, expected {want} ± {band}");
}

fn starter() -> LeadAcid {
    LeadAcid::starter_flooded(80.0)
}

/// Current at a voltage while passing states of charge, from a rested start.
pub(super) fn passing(b: &LeadAcid, v: f64, from: f64, socs: &[f64]) -> Vec<f64> {
    let mut bench = Bench::new(b, 25.0, from, 1e-8);
    let mut found = Vec::new();
    let mut before = (from, bench.amps_at(v));
    for &soc in socs {
        while bench.run.y[0] < soc {
            before = (bench.run.y[0], bench.amps_at(v));
            bench.volts(v, 10.0);
        }
        let after = (bench.run.y[0], bench.amps_at(v));
        let share = (soc - before.0) / (after.0 - before.0);
        found.push(before.1 + share * (after.1 - before.1));
    }
    found
}

#[test]
fn current_tapers_at_14_2_v() {
    let b = starter();
    let have = passing(&b, 14.2, 0.5, &[0.80, 0.90, 0.95, 0.97, 0.98, 0.99]);
    for (a, want) in have.iter().zip([19.2, 9.6, 5.04, 3.26, 2.38, 1.51]) {
        near("A at 14.2 V", *a, want, 0.05);
    }
    // Trade: about 20 A at 80 %, about 6 A at 95 %.
    assert!((have[0] - 20.0).abs() < 2.0 && (have[2] - 6.0).abs() < 1.0);
    let mut bench = Bench::new(&b, 25.0, 0.8, 1e-8);
    let mut at = 0.0;
    for (t, want) in [(10.0, 25.0), (300.0, 17.9), (600.0, 15.5), (1200.0, 12.7)] {
        bench.volts(14.2, t - at);
        at = t;
        near("A from 80 % rested", bench.amps_at(14.2), want, 0.5);
    }
    near("SOC gained in 20 min", bench.run.y[0] - 0.8, 0.0665, 0.001);
}

#[test]
fn a_full_battery_takes_gassing_current_only() {
    let b = starter();
    // Trade: 0.5 to 2 A, under 0.5 A, 2 to 5 A. IEC 62485-2 says 0.32 A at 14.4 V (4 mA/Ah; both from memory).
    for (v, want, trade) in [(14.2, 0.62, (0.5, 2.0)), (13.5, 0.10, (0.0, 0.5)), (14.8, 2.17, (2.0, 5.0))] {
        let mut bench = Bench::new(&b, 25.0, 1.0, 1e-8);
        for hours in [1.0, 11.0] {
            bench.volts(v, hours * 3600.0);
            let a = bench.amps_at(v);
            near("A when full", a, want, 0.01);
            assert!(a > trade.0 && a < trade.1);
        }
    }
}

#[test]
fn volts_relax_after_key_off() {
    let b = starter();
    let times = [10.0, 60.0, 1800.0, 3600.0, 43_200.0];
    let cases = [
        (0.88, 1.0, 0.962, [13.68, 13.12, 12.915, 12.877, 12.775]),
        (0.92, 1.0, 0.975, [13.80, 13.195, 12.945, 12.905, 12.795]),
        (0.97, 1.0, 0.992, [13.98, 13.45, 12.97, 12.945, 12.83]),
        (0.88, 24.0, 1.0, [14.10, 13.795, 12.86, 12.86, 12.83]),
    ];
    for (from, hours, soc, volts) in cases {
        let mut bench = Bench::new(&b, 25.0, from, 1e-8);
        bench.volts(14.2, hours * 3600.0);
        near("SOC at key-off", bench.run.y[0].min(1.0), soc, 6e-4);
        bench.run.restart();
        let mut at = 0.0;
        for (n, (t, want)) in times.into_iter().zip(volts).enumerate() {
            bench.on_amps(0.0, t - at);
            at = t;
            near("V after key-off", bench.posts_v(0.0), want, 0.006);
            if from < 0.9 && hours < 2.0 {
                // Trade: 13.7, 13.1, 12.9, 12.8 and 12.65 to 12.75 V; from 92 % the first is 0.10 V over.
                let trade = [13.7, 13.1, 12.9, 12.8, 12.70][n];
                assert!((bench.posts_v(0.0) - trade).abs() < 0.1);
            }
        }
    }
}

#[test]
fn rested_volts_and_resistance() {
    let b = starter();
    for (soc, want, trade) in [
        (1.0, 12.70, 12.65),
        (0.75, 12.50, 12.45),
        (0.5, 12.30, 12.24),
        (0.25, 12.10, 12.06),
        (0.0, 11.90, 11.89),
    ] {
        let v = b.at(25.0).rested_v(soc);
        near("V rested", v, want, 1e-9);
        assert!((v - trade).abs() < 0.1);
    }
    let (full, empty) = (b.at(25.0).r0_ohm(1.0), b.at(25.0).r0_ohm(0.0));
    near("mΩ full", 1e3 * full, 3.4, 1e-9);
    near("mΩ empty", 1e3 * empty, 4.76, 1e-9);
    near("times at −18 °C", b.at(-18.0).r0_ohm(1.0) / full, 1.75, 0.005);
}

#[test]
fn volts_dip_under_a_crank() {
    let b = starter();
    for (temp_c, soc, want) in [(25.0, 1.0, 11.63), (25.0, 0.7, 11.31), (-18.0, 1.0, 11.00)] {
        let mut bench = Bench::new(&b, temp_c, soc, 1e-9);
        if soc == 1.0 && temp_c == 25.0 {
            near("V in the first millisecond", bench.posts_v(-180.0), 12.09, 0.006);
        }
        bench.amps(-180.0, 0.8);
        near("V at the end of a crank", bench.posts_v(-180.0), want, 0.006);
        assert!(bench.posts_v(-180.0) > 10.5 && bench.posts_v(-180.0) < 11.7);
    }
    let mut bench = Bench::new(&b, -18.0, 1.0, 1e-9);
    bench.amps(-536.0, 10.0);
    near("V after 10 s at −18 °C and 536 A", bench.posts_v(-536.0), 7.5, 0.005);
}

/// Ampere-hours to a cut-off under constant current from full.
pub(super) fn drawn_ah(b: &LeadAcid, a: f64, cut_off_v: f64) -> f64 {
    let mut bench = Bench::new(b, 25.0, 1.0, 1e-8);
    let stretch_s = 0.002 * b.capacity_c / a;
    let (mut s, mut before) = (0.0, bench.posts_v(-a));
    loop {
        bench.on_amps(-a, stretch_s);
        let v = bench.posts_v(-a);
        if v < cut_off_v {
            return a * (s + stretch_s * (before - cut_off_v) / (before - v)) / 3600.0;
        }
        s += stretch_s;
        before = v;
    }
}

#[test]
fn capacity_falls_with_current() {
    let b = starter();
    let rows = [(4.0, 77.6), (8.0, 75.1), (16.0, 70.3), (25.0, 64.8), (45.0, 52.6), (80.0, 31.1)];
    let have: Vec<f64> = rows.iter().map(|(a, _)| drawn_ah(&b, *a, 10.5)).collect();
    for ((a, want), ah) in rows.iter().zip(&have) {
        near(&format!("Ah at {a} A"), *ah, *want, 0.15);
    }
    // Peukert: t = C/I^k, so k = 1 + ln(Ah ratio)/ln(current ratio).
    let exponent = |n: usize| 1.0 + (have[0] / have[n]).ln() / (rows[n].0 / rows[0].0).ln();
    near("exponent, 4 to 16 A", exponent(2), 1.07, 0.005);
    near("exponent, 4 to 45 A", exponent(4), 1.16, 0.005);
    near("exponent, 4 to 80 A", exponent(5), 1.3, 0.02);
}

#[test]
fn recovers_after_a_load() {
    let b = starter();
    let mut bench = Bench::new(&b, 25.0, 1.0, 1e-9);
    bench.amps(-5.0, 4.0 * 3600.0);
    near("V loaded", bench.posts_v(-5.0), 12.35, 0.006);
    bench.run.restart();
    let mut at = 0.0;
    for (t, want, band) in [
        (10.0, 12.40, 0.006),
        (600.0, 12.47, 0.006),
        (1800.0, 12.486, 6e-4),
        (3600.0, 12.492, 6e-4),
        (43_200.0, 12.497, 6e-4),
    ] {
        bench.on_amps(0.0, t - at);
        at = t;
        near("V after a load", bench.posts_v(0.0), want, band);
    }
}

#[test]
fn a_small_load_removes_surface_charge() {
    let b = starter();
    for (minutes, want) in [(2.0, 12.94), (5.0, 12.84), (0.0, 13.01)] {
        let mut bench = Bench::new(&b, 25.0, 0.88, 1e-9);
        bench.volts(14.2, 3600.0);
        if minutes > 0.0 {
            bench.amps(-10.0, minutes * 60.0);
        }
        bench.amps(0.0, 300.0);
        near("V after a small load and 5 min", bench.posts_v(0.0), want, 0.015);
    }
}

#[test]
fn charge_efficiency_and_a_week_parked() {
    let b = starter();
    // 50 to 99 %, then the part of the same charge from 90 % on; trade: 0.85 to 0.95 and about 0.7 to 0.8, here at its upper
    // edge and over it, since gassing was brought towards IEC 62485-2.
    let mut bench = Bench::new(&b, 25.0, 0.5, 1e-8);
    let mut to = |soc: f64| {
        while bench.run.y[0] < soc {
            bench.volts(14.2, 5.0);
        }
        (bench.run.y[0] * 80.0, bench.run.y[3])
    };
    let (at_90, at_99) = (to(0.90), to(0.99));
    let share = |from: (f64, f64)| {
        let stored = at_99.0 - from.0;
        stored / (stored + at_99.1 - from.1)
    };
    near("charge efficiency, 50 to 99 %", share((40.0, 0.0)), 0.953, 6e-4);
    near("charge efficiency, 90 to 99 %", share(at_90), 0.852, 0.002);
    let mut bench = Bench::new(&b, 25.0, 0.97, 1e-8);
    bench.amps(-0.05, 7.0 * 86_400.0);
    near("SOC after a week at 50 mA", bench.run.y[0], 0.859, 6e-4);
    let own_ah = (0.97 - bench.run.y[0]) * 80.0 - 0.05 * 168.0;
    near("Ah self-discharged", own_ah, 0.5, 0.05);
}
