//! The unit's case: one heat capacity, one conductance to the air, heated by what the power stage loses.

use sim_core::state::CASE_C;
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::look::{at, near, run_at};
use sim_tests::rig::steady_van;

/// `T = T_end + (T_0 − T_end) e^(−t G/C)` with `T_end = T_air + P/G`: 900 J/K, 1.6 W/K. Tolerance of the stepper, 1 µK.
#[test]
fn warms_up_exponentially() {
    let m = steady_van();
    let p = day(&[(60.0, PARKED), (4000.0, DRIVING)]);
    let r = run_at(1e-11, &m, &p);
    let start = at(&r, &m, &p, 100.0);
    let out_w = start.net.out_v * start.net.output_a;
    let lost_w = 4.0 + 0.04 * out_w + 2e-5 * out_w * out_w;
    let end_c = 20.0 + lost_w / 1.6;
    for t in [10.0, 300.0, 562.5, 3500.0] {
        let expected = end_c + (start.state[CASE_C] - end_c) * f64::exp(-t * 1.6 / 900.0);
        near(&format!("after {t} s"), at(&r, &m, &p, 100.0 + t).state[CASE_C], expected, 1e-6);
    }
    // Off, its standby current heats it.
    let off = at(&r, &m, &p, 30.0);
    let expected = 20.0 + 0.005 * off.net.in_v / 1.6 * (1.0 - f64::exp(-30.0 * 1.6 / 900.0));
    near("off", off.state[CASE_C], expected, 1e-6);
}
