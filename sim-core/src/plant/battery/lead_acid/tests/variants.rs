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
            40.3,
            [19.2, 9.6, 2.38],
            (0.07, 0.62),
            (0.97, 0.88),
        ),
        row(
            "starter AGM",
            LeadAcid::starter_agm(80.0),
            14.4,
            13.6,
            61.2,
            [32.7, 15.3, 3.16],
            (0.037, 0.316),
            (0.92, 0.82),
        ),
        row(
            "house flooded",
            LeadAcid::house_flooded(100.0),
            14.6,
            13.4,
            29.1,
            [12.8, 6.7, 1.99],
            (0.046, 0.844),
            (0.958, 0.833),
        ),
        row(
            "house AGM",
            LeadAcid::house_agm(100.0),
            14.4,
            13.6,
            50.8,
            [22.4, 10.6, 2.33],
            (0.046, 0.395),
            (0.90, 0.78),
        ),
        row(
            "house gel",
            LeadAcid::house_gel(100.0),
            14.2,
            13.5,
            32.9,
            [12.7, 5.8, 1.25],
            (0.026, 0.196),
            (0.88, 0.74),
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
    for (mv_per_k, rows) in [(-24.0, [(0.0, 0.52), (40.0, 0.62)]), (-30.0, [(0.0, 0.70), (40.0, 0.486)])] {
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
