//! Regression vectors worked out apart, in another language and with another integrator (SciPy's Radau at 1e-12).

use super::*;

fn close(bench: &Bench, i: f64, want: [f64; 4]) {
    let y = &bench.run.y;
    for (n, (have, want)) in [y[0], y[1], y[2], bench.posts_v(i)].iter().zip(want).enumerate() {
        // States to 1e-6, posts to 10 µV.
        let most = if n == 3 { 1e-5 } else { 1e-6 };
        assert!((have - want).abs() < most, "value {n}: {have} for {want}");
    }
}

#[test]
fn charge_rest_load_rest_at_25_c() {
    let b = LeadAcid::starter_flooded(80.0);
    let mut bench = Bench::new(&b, 25.0, 0.9, 1e-11);
    bench.amps(20.0, 600.0);
    close(&bench, 20.0, [0.931_875_0, 2.314_778, 0.446_084, 15.476_215]);
    assert!((bench.run.y[3] - 0.782_822_9).abs() < 1e-6, "gassed {} Ah", bench.run.y[3]);
    bench.amps(0.0, 60.0);
    close(&bench, 0.0, [0.931_813_3, 0.029_279, 0.415_156, 13.089_885]);
    bench.amps(-45.0, 10.0);
    close(&bench, -45.0, [0.930_250_6, -0.146_608, 0.383_072, 12.723_396]);
    bench.amps(0.0, 3600.0);
    close(&bench, 0.0, [0.930_171_4, -0.000_882, 0.181_015, 12.824_270]);
}

#[test]
fn charge_at_0_c_and_discharge_at_minus_10_c() {
    let b = LeadAcid::starter_flooded(80.0);
    let mut bench = Bench::new(&b, 0.0, 0.6, 1e-11);
    bench.amps(15.0, 1800.0);
    close(&bench, 15.0, [0.692_238_0, 1.807_035, 0.468_448, 14.778_549]);
    let mut bench = Bench::new(&b, -10.0, 0.7, 1e-11);
    bench.amps(-25.0, 1800.0);
    close(&bench, -25.0, [0.543_748_4, -0.131_375, -0.428_065, 11.575_133]);
}

#[test]
fn agm_charge_rest_load_rest() {
    let b = LeadAcid::house_agm(100.0);
    let mut bench = Bench::new(&b, 25.0, 0.6, 1e-11);
    bench.amps(25.0, 1800.0);
    close(&bench, 25.0, [0.719_692_1, 0.853_533, 0.604_448, 14.057_118]);
    assert!((bench.run.y[3] - 0.031_252_6).abs() < 1e-6, "gassed {} Ah", bench.run.y[3]);
    bench.amps(0.0, 600.0);
    close(&bench, 0.0, [0.719_688_4, -0.000_521, 0.285_959, 12.770_577]);
    bench.amps(-30.0, 3600.0);
    close(&bench, -30.0, [0.419_674_2, -0.117_879, -0.377_714, 11.393_972]);
    bench.amps(0.0, 600.0);
    close(&bench, 0.0, [0.419_672_4, -0.000_408, -0.050_203, 11.990_505]);
}
