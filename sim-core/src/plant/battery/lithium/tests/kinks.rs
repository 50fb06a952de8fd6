//! What it costs to leave the sign of the current and the table's knots free.

use super::*;

const DAY: [(Load, f64); 7] = [
    (Load::Amps(50.0), 3000.0),
    (Load::Volts(14.2), 5400.0),
    (Load::Volts(13.4), 7200.0),
    (Load::Amps(-20.0), 9000.0),
    (Load::Volts(13.25), 3600.0),
    (Load::Amps(-60.0), 1800.0),
    (Load::Amps(0.0), 3600.0),
];

/// An alternating current through zero, where no hold is the same for long.
fn wavering(y: &[f64; 6]) -> f64 {
    30.0 * (y[5] / 97.0).sin()
}

fn day(b: &Lithium, held: bool, tolerance: f64) -> (Vec<States>, u64, u64) {
    let mut run = Stepper::new(vector(&b.clone().with_start_soc(0.55).start()), tolerance);
    let (mut ends, mut changes) = (Vec::new(), 0);
    for (load, span_s) in DAY {
        run.restart();
        let still = |mut dy: States| {
            // Energies would set the step.
            dy[5..].fill(0.0);
            dy
        };
        if held {
            changes += run.advance_held(
                span_s,
                |y| b.hold(&state(y), amps(b, y, 10.0, load, None)),
                |y, hold| still(flow(b, y, amps(b, y, 10.0, load, Some(*hold)), 10.0, *hold)),
                |y, hold| b.margin(&state(y), amps(b, y, 10.0, load, Some(*hold)), *hold),
            );
        } else {
            run.advance(span_s, |y| {
                let i = amps(b, y, 10.0, load, None);
                still(flow(b, y, i, 10.0, b.hold(&state(y), i)))
            });
        }
        ends.push(run.y);
    }
    (ends, run.steps, changes)
}

fn apart(a: &[States], b: &[States]) -> f64 {
    let pairs = a.iter().zip(b).flat_map(|(a, b)| a[..5].iter().zip(&b[..5]));
    pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

#[test]
fn free_kinks_cost_little_at_1e_8() {
    let b = Lithium::lfp(100.0, 4);
    let (truth, _, _) = day(&b, true, 1e-12);
    for held in [true, false] {
        let (ends, steps, changes) = day(&b, held, 1e-8);
        let off = apart(&ends, &truth);
        println!("held {held}: off by {off:.2e}, {steps} steps, {changes} hand-overs");
        assert!(off < 1e-6, "held {held}: {off:e}");
    }
}

#[test]
fn free_sign_of_a_wavering_current() {
    let b = Lithium::lfp(100.0, 4);
    let run_with = |held: bool, tolerance: f64| {
        let mut run = Stepper::new([0.96, 0.0, 0.0, 0.2, 0.5, 0.0], tolerance);
        let x =
            |y: &[f64; 6]| LithiumState { soc: y[0], v1: y[1], v2: y[2], hysteresis: y[3], unrelaxed: y[4] };
        let go = |y: &[f64; 6], hold: LithiumHold| {
            let dx = b.derivative(&x(y), wavering(y), 1.0, hold);
            [dx.soc, dx.v1, dx.v2, dx.hysteresis, dx.unrelaxed, 1.0]
        };
        let changes = if held {
            run.advance_held(
                7200.0,
                |y| b.hold(&x(y), wavering(y)),
                |y, hold| go(y, *hold),
                |y, hold| b.margin(&x(y), wavering(y), *hold),
            )
        } else {
            run.advance(7200.0, |y| go(y, b.hold(&x(y), wavering(y))));
            0
        };
        (run.y, run.steps, changes)
    };
    let (truth, _, _) = run_with(true, 1e-12);
    for held in [true, false] {
        let (y, steps, changes) = run_with(held, 1e-8);
        let off = (0..5).map(|n| (y[n] - truth[n]).abs()).fold(0.0, f64::max);
        println!("wavering, held {held}: off by {off:.2e}, {steps} steps, {changes} hand-overs");
        assert!(off < 1e-6);
    }
}
