//! Regression vectors worked out apart with another integrator at a tolerance of 1e-11.

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
    close(&bench, 20.0, [0.931_158_2, 2.077_960, 0.420_152, 15.212_910]);
    assert!((bench.run.y[3] - 0.840_171_0).abs() < 1e-6, "gassed {} Ah", bench.run.y[3]);
    bench.amps(0.0, 60.0);
    close(&bench, 0.0, [0.931_092_4, 0.019_963, 0.395_035, 13.059_872]);
    bench.amps(-45.0, 10.0);
    close(&bench, -45.0, [0.929_529_6, -0.146_615, 0.363_263, 12.702_959]);
    bench.amps(0.0, 3600.0);
    close(&bench, 0.0, [0.929_464_3, -0.000_726, 0.056_922, 12.699_768]);
}

#[test]
fn charge_at_0_c_and_discharge_at_minus_10_c() {
    let b = LeadAcid::starter_flooded(80.0);
    let mut bench = Bench::new(&b, 0.0, 0.6, 1e-11);
    bench.amps(15.0, 1800.0);
    close(&bench, 15.0, [0.691_638_3, 1.653_534, 0.548_163, 14.704_300]);
    let mut bench = Bench::new(&b, -10.0, 0.7, 1e-11);
    bench.amps(-25.0, 1800.0);
    close(&bench, -25.0, [0.543_748_4, -0.131_375, -0.428_065, 11.575_133]);
}
