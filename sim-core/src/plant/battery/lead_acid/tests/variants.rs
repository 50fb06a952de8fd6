//! The other kinds of lead-acid battery at the voltages they are charged with.

use super::behaviour::{drawn_ah, passing};
use super::*;

struct Row {
    name: &'static str,
    battery: LeadAcid,
    charge_v: f64,
    float_v: f64,
    after_10_min_a: f64,
    passing_a: [f64; 3],
    full_a: (f64, f64),
    share: (f64, f64),
}

fn rows() -> Vec<Row> {
    let row = |name, battery, charge_v, float_v, after_10_min_a, passing_a, full_a, share| Row {
        name,
        battery,
        charge_v,
        float_v,
        after_10_min_a,
        passing_a,
        full_a,
        share,
    };
    vec![
        row(
            "starter flooded",
            LeadAcid::starter_flooded(80.0),
            14.2,
            13.4,
            42.0,
            [20.4, 10.5, 2.95],
            (0.12, 1.07),
            (0.97, 0.88),
        ),
        row(
            "starter AGM",
            LeadAcid::starter_agm(80.0),
            14.4,
            13.6,
            50.0,
            [25.8, 12.7, 2.8],
            (0.03, 0.27),
            (0.98, 0.92),
        ),
        row(
            "house flooded",
            LeadAcid::house_flooded(100.0),
            14.6,
            13.4,
            30.0,
            [13.6, 7.4, 2.6],
            (0.07, 1.4),
            (0.96, 0.83),
        ),
        row(
            "house AGM",
            LeadAcid::house_agm(100.0),
            14.4,
            13.6,
            39.0,
            [17.7, 8.8, 2.0],
            (0.04, 0.34),
            (0.97, 0.89),
        ),
        row(
            "house gel",
            LeadAcid::house_gel(100.0),
            14.2,
            13.5,
            25.0,
            [10.3, 5.1, 1.1],
            (0.025, 0.17),
            (0.96, 0.83),
        ),
    ]
}

#[test]
fn kinds_charge_and_discharge_as_listed() {
    for r in rows() {
        let b = &r.battery;
        let near = |what: &str, have: f64, want: f64, band: f64| {
            println!("{} {what}: {have:.4} (listed {want} ± {band})", r.name);
            assert!((have - want).abs() <= band, "{} {what}: {have:.4}, listed {want} ± {band}", r.name);
        };
        let mut bench = Bench::new(b, 25.0, 0.5, 1e-8);
        bench.volts(r.charge_v, 600.0);
        near("A after 10 min from 50 %", bench.amps_at(r.charge_v), r.after_10_min_a, 0.5);
        let have = passing(b, r.charge_v, 0.5, &[0.80, 0.90, 0.98]);
        near("A passing 80 %", have[0], r.passing_a[0], 0.06);
        near("A passing 90 %", have[1], r.passing_a[1], 0.06);
        near("A passing 98 %", have[2], r.passing_a[2], 0.06);
        for (v, want, band) in [(r.float_v, r.full_a.0, 0.006), (r.charge_v, r.full_a.1, 0.006)] {
            let mut bench = Bench::new(b, 25.0, 1.0, 1e-8);
            bench.volts(v, 6.0 * 3600.0);
            near("A when full", bench.amps_at(v), want, band);
        }
        let q = b.capacity_c / 3600.0;
        for (hours, want) in [(20.0, r.share.0), (5.0, r.share.1)] {
            let have = drawn_ah(b, q / hours, 10.5) / q;
            near(&format!("share at Q/{hours} h"), have, want, 0.006);
        }
    }
}

/// −24 to −30 mV/K keeps a full starter battery's current within a quarter from 0 to 40 °C.
#[test]
fn compensation_keeps_the_full_current() {
    let b = LeadAcid::starter_flooded(80.0);
    for (mv_per_k, rows) in [(-24.0, [(0.0, 0.90), (40.0, 1.06)]), (-30.0, [(0.0, 1.20), (40.0, 0.83)])] {
        for (temp_c, want) in rows {
            let v = 14.2 + 1e-3 * mv_per_k * (temp_c - 25.0);
            let mut bench = Bench::new(&b, temp_c, 1.0, 1e-8);
            bench.volts(v, 6.0 * 3600.0);
            let a = bench.amps_at(v);
            println!("{mv_per_k} mV/K at {temp_c} °C: {a:.4} A");
            assert!((a - want).abs() < 0.006, "{mv_per_k} mV/K at {temp_c} °C: {a}");
        }
    }
}
