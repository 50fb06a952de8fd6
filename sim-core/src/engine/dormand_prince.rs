//! The reference stepper: the explicit 5(4) pair of Dormand and Prince (J. Comput. Appl. Math. 6(1), 1980) with the
//! continuous extension of Hairer, Nørsett and Wanner (Solving Ordinary Differential Equations I, 2nd ed., II.6).
//!
//! It stays for ever: plain, obviously right, what faster steppers are measured against.

use super::dense::Dense;
use super::fades::Fades;
use crate::network::{Net, Regime, solve_in};
use crate::plant_view::Held;
use crate::run_data::ledger::{Ledger, rates};
use crate::state::{N, SCALE, Vector};

const C: [f64; 7] = [0.0, 0.2, 0.3, 0.8, 8.0 / 9.0, 1.0, 1.0];
const A: [[f64; 6]; 7] = [
    [0.0; 6],
    [0.2, 0.0, 0.0, 0.0, 0.0, 0.0],
    [3.0 / 40.0, 9.0 / 40.0, 0.0, 0.0, 0.0, 0.0],
    [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0, 0.0, 0.0, 0.0],
    [19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0, 0.0, 0.0],
    [9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0, 0.0],
    B,
];
const B: [f64; 6] = [35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0];
/// Fifth-order less fourth-order weights.
const E: [f64; 7] =
    [71.0 / 57600.0, 0.0, -71.0 / 16695.0, 71.0 / 1920.0, -17253.0 / 339_200.0, 22.0 / 525.0, -1.0 / 40.0];
/// Weights of the last coefficient of the continuous extension.
const D: [f64; 7] = [
    -12_715_105_075.0 / 11_282_082_432.0,
    0.0,
    87_487_479_700.0 / 32_700_410_799.0,
    -10_690_763_975.0 / 1_880_347_072.0,
    701_980_252_875.0 / 199_316_789_632.0,
    -1_453_857_185.0 / 822_651_844.0,
    69_997_945.0 / 29_380_423.0,
];

/// Derivative and network at one stage.
#[derive(Debug, Clone, Copy)]
pub struct Stage {
    /// States.
    pub y: Vector,
    /// Their derivatives.
    pub dy: Vector,
    /// Volts and amps.
    pub net: Net,
}

impl Stage {
    /// Evaluates the right-hand side `dt` seconds into the step.
    pub fn at(held: &Held, regime: Regime, dt: f64, y: Vector) -> Stage {
        let warm = held.warm(&y);
        let net = held.complete(&y, solve_in(&held.bias_at(&warm, dt, &y), regime));
        Stage { y, dy: held.flow(&warm, &y, &net), net }
    }
}

/// An attempted step.
#[derive(Debug, Clone, Copy)]
pub struct Attempt {
    /// Length, s.
    pub h_s: f64,
    /// States in use.
    pub used: usize,
    /// The seven stages; the last stands at the end of the step.
    pub stages: [Stage; 7],
    /// Estimated error over tolerance: accepted at or under 1. Not finite when a stage was not.
    pub error: f64,
}

/// Where the stages stand, as shares of the step.
pub const NODES: [f64; 7] = C;

impl Default for Attempt {
    fn default() -> Attempt {
        let stage = Stage { y: [0.0; N], dy: [0.0; N], net: Net::default() };
        Attempt { h_s: 0.0, used: 0, stages: [stage; 7], error: 0.0 }
    }
}

/// Attempts a step of `h_s` seconds from `first`, which stands at its beginning.
pub fn attempt(out: &mut Attempt, held: &Held, regime: Regime, first: &Stage, h_s: f64, tolerance: f64) {
    let used = held.used;
    let stages = &mut out.stages;
    stages[0] = *first;
    for s in 1..7 {
        let mut y = first.y;
        for (i, yi) in y.iter_mut().enumerate().take(used) {
            let mut sum = 0.0;
            for (j, a) in A[s].iter().enumerate().take(s) {
                sum += a * stages[j].dy[i];
            }
            *yi += h_s * sum;
        }
        stages[s] = Stage::at(held, regime, C[s] * h_s, y);
    }
    let mut error: f64 = 0.0;
    for i in 0..used {
        let mut e = 0.0;
        for (w, stage) in E.iter().zip(stages.iter()) {
            e += w * stage.dy[i];
        }
        let scaled = (h_s * e).abs() / (tolerance * SCALE[i]);
        // `max` would drop a NaN.
        error = if scaled > error || scaled.is_nan() { scaled } else { error };
    }
    (out.h_s, out.used, out.error) = (h_s, used, error);
}

impl Attempt {
    /// The step's end.
    pub fn end(&self) -> &Stage {
        &self.stages[6]
    }

    /// How fast the fastest state answers, 1/s: from the two stages that stand at the step's end, whose derivatives differ
    /// by nothing but their states (Hairer and Wanner, Solving Ordinary Differential Equations II, 2nd ed., IV.2).
    pub fn fastest_per_s(&self) -> f64 {
        let [.., sixth, last] = &self.stages;
        let apart = |a: &Vector, b: &Vector| {
            (0..self.used).map(|i| ((a[i] - b[i]) / SCALE[i]).powi(2)).sum::<f64>().sqrt()
        };
        apart(&last.dy, &sixth.dy) / apart(&last.y, &sixth.y).max(f64::MIN_POSITIVE)
    }

    /// Continuous states over the step.
    pub fn dense(&self) -> Dense {
        let (y0, y1) = (&self.stages[0].y, &self.stages[6].y);
        let (k0, k6) = (&self.stages[0].dy, &self.stages[6].dy);
        let mut r = [[0.0; N]; 4];
        for i in 0..self.used {
            let rise = y1[i] - y0[i];
            let bend = self.h_s * k0[i] - rise;
            let mut d = 0.0;
            for (w, stage) in D.iter().zip(&self.stages) {
                d += w * stage.dy[i];
            }
            r[0][i] = rise;
            r[1][i] = bend;
            r[2][i] = rise - self.h_s * k6[i] - bend;
            r[3][i] = self.h_s * d;
        }
        Dense { h_s: self.h_s, used: self.used, y0: *y0, r, fades: Fades::default() }
    }

    /// Adds the ledger's integrals over the first `dt` seconds: the same weights as the continuous states, so that charge
    /// closes to rounding.
    pub fn book(&self, held: &Held, dt: f64, ledger: &mut Ledger) {
        let u = dt / self.h_s;
        let w = 1.0 - u;
        for (n, stage) in self.stages.iter().enumerate() {
            let b = if n < 6 { B[n] } else { 0.0 };
            let (first, last) = (f64::from(u8::from(n == 0)), f64::from(u8::from(n == 6)));
            let bend = first - b;
            let weight = u * (b + w * (bend + u * ((b - last - bend) + w * D[n])));
            if weight != 0.0 {
                ledger.add(&rates(held, &held.warm(&stage.y), &stage.y, &stage.net), weight * self.h_s);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Order conditions of the tableau, as any text on Runge-Kutta methods lists them.
    #[test]
    fn tableau_satisfies_its_order_conditions() {
        for s in 1..7 {
            let row: f64 = A[s].iter().take(s).sum();
            assert!((row - C[s]).abs() < 1e-14, "row {s}");
        }
        for power in 0..5 {
            let sum: f64 = B.iter().zip(C).map(|(b, c)| b * c.powi(power)).sum();
            assert!((sum - 1.0 / f64::from(power + 1)).abs() < 1e-14, "moment {power}");
        }
        assert!(E.iter().sum::<f64>().abs() < 1e-15);
        assert!(D.iter().sum::<f64>().abs() < 1e-12);
    }
}
