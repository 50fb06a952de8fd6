//! A plain model's step of a second or two: the explicit 3(2) pair of Bogacki and Shampine (Applied Mathematics Letters
//! 2(4), 1989), three evaluations of which the last stands at the step's end. Drives that are given second by second end
//! every step there.

use crate::plant_view::plain::{LANES, Plain, PlainHeld, Point};
use crate::state::{PLAIN, SCALE};

/// Evaluations, that at the beginning included.
pub const STAGES: usize = 4;
/// Where they stand, as shares of the step.
pub const C: [f64; STAGES] = [0.0, 0.5, 0.75, 1.0];
const B: [f64; STAGES] = [2.0 / 9.0, 1.0 / 3.0, 4.0 / 9.0, 0.0];
/// Third-order less second-order weights.
const E: [f64; STAGES] = [-5.0 / 72.0, 1.0 / 12.0, 1.0 / 9.0, -1.0 / 8.0];

/// A step and what it evaluated.
#[derive(Debug, Clone, Copy, Default)]
pub struct Step {
    /// States at the evaluations.
    pub x: [Plain; STAGES],
    /// Operating points there.
    pub points: [Point; STAGES],
    /// Derivatives there.
    pub k: [Plain; STAGES],
    /// Estimated error over tolerance.
    pub error: f64,
}

impl Step {
    /// Attempts a step of `h_s` seconds from `x0`, where the derivatives are `dx0`.
    pub fn attempt(&mut self, held: &PlainHeld, x0: &Plain, dx0: &Plain, h_s: f64, tolerance: f64) {
        (self.x[0], self.k[0]) = (*x0, *dx0);
        for s in 1..STAGES {
            let mut x = *x0;
            for i in 0..LANES {
                x[i] += h_s
                    * match s {
                        1 => 0.5 * self.k[0][i],
                        2 => 0.75 * self.k[1][i],
                        _ => B[0] * self.k[0][i] + B[1] * self.k[1][i] + B[2] * self.k[2][i],
                    };
            }
            let p = held.point(C[s] * h_s, &x);
            (self.x[s], self.points[s], self.k[s]) = (x, p, held.flow(&x, &p));
        }
        self.error = 0.0;
        for i in 0..PLAIN {
            let e: f64 = (0..STAGES).map(|s| E[s] * self.k[s][i]).sum();
            let scaled = (h_s * e).abs() / (tolerance * SCALE[i]);
            // `max` would drop a NaN.
            self.error = if scaled > self.error || scaled.is_nan() { scaled } else { self.error };
        }
    }

    /// The cubic through both ends with their slopes, in the nested form of `Dense`.
    pub fn bends(&self, h_s: f64, r: &mut [Plain; 4]) {
        for i in 0..LANES {
            let rise = self.x[STAGES - 1][i] - self.x[0][i];
            let bend = h_s * self.k[0][i] - rise;
            (r[0][i], r[1][i]) = (rise, bend);
            (r[2][i], r[3][i]) = (rise - h_s * self.k[STAGES - 1][i] - bend, 0.0);
        }
    }
}

/// Weights of the evaluations in the integral over the first share `u` of the step: those of the continuous states, so
/// that charge closes to rounding.
pub fn weights(u: f64) -> [f64; STAGES] {
    let w = 1.0 - u;
    let whole = u * u * (3.0 - 2.0 * u);
    std::array::from_fn(|s| {
        whole * B[s] + if s == 0 { u * w * w } else { 0.0 } - if s == 3 { u * u * w } else { 0.0 }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Order conditions of the pair, as any text on Runge-Kutta methods lists them, and of its continuous weights.
    #[test]
    fn the_tableau_is_of_order_three() {
        for power in 0..3 {
            let moment = |w: [f64; STAGES]| -> f64 { w.iter().zip(C).map(|(w, c)| w * c.powi(power)).sum() };
            assert!((moment(B) - 1.0 / f64::from(power + 1)).abs() < 1e-15, "moment {power}");
            assert!(power == 2 || moment(E).abs() < 1e-16, "estimate, moment {power}");
            for u in [0.2, 0.7, 1.0] {
                let wanted = f64::powi(u, power + 1) / f64::from(power + 1);
                assert!((moment(weights(u)) - wanted).abs() < 1e-15, "share {u}, moment {power}");
            }
        }
        // The one condition that is no moment: Σ b·a·c = 1/6.
        assert!((B[2] * 0.75 * C[1] - 1.0 / 6.0).abs() < 1e-15);
    }
}
