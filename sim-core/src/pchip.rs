//! Monotone piecewise-cubic interpolation of a table (PCHIP).
//!
//! Slopes are weighted harmonic means inside and three-point one-sided at the ends (Fritsch and Carlson, SIAM J.
//! Numer. Anal. 17(2), 1980; Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5(2), 1984): the same rule as SciPy's
//! `PchipInterpolator`, so that another program can match it. Beyond the ends the curve goes on straight.

/// A monotone cubic through a table of points. It prints as its knots: every table here is one of volts over state of charge.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Pchip {
    #[serde(rename = "soc")]
    x: Vec<f64>,
    #[serde(rename = "v")]
    y: Vec<f64>,
    #[serde(skip)]
    slope: Vec<f64>,
    /// Second and third coefficient of each inner piece, worked out once.
    #[serde(skip)]
    bend: Vec<(f64, f64)>,
    /// Integral from 0 to each knot.
    #[serde(skip)]
    before: Vec<f64>,
}

/// Why a table cannot be interpolated.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PchipError {
    /// Fewer than two points, or columns of different length.
    #[error("a table needs two columns of the same length and at least two rows")]
    TooShort,
    /// The abscissae do not rise strictly, or a value is not finite.
    #[error("row {row} of the table does not rise above the row before it, or is not a finite number")]
    NotRising {
        /// One-based row of the offending point.
        row: usize,
    },
}

impl Pchip {
    /// Builds the interpolant.
    ///
    /// # Errors
    /// [`PchipError`] when the table is too short or its first column does not rise strictly.
    pub fn new(x: &[f64], y: &[f64]) -> Result<Self, PchipError> {
        if x.len() < 2 || x.len() != y.len() {
            return Err(PchipError::TooShort);
        }
        for row in 0..x.len() {
            let rising = row == 0 || x[row] > x[row - 1];
            if !rising || !x[row].is_finite() || !y[row].is_finite() {
                return Err(PchipError::NotRising { row: row + 1 });
            }
        }
        let h: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
        let d: Vec<f64> = y.windows(2).zip(&h).map(|(w, h)| (w[1] - w[0]) / h).collect();
        let n = x.len();
        let mut slope = vec![0.0; n];
        if n == 2 {
            slope.fill(d[0]);
        } else {
            for i in 1..n - 1 {
                if d[i - 1] * d[i] > 0.0 {
                    let w1 = 2.0 * h[i] + h[i - 1];
                    let w2 = h[i] + 2.0 * h[i - 1];
                    slope[i] = (w1 + w2) / (w1 / d[i - 1] + w2 / d[i]);
                }
            }
            slope[0] = end_slope(h[0], h[1], d[0], d[1]);
            slope[n - 1] = end_slope(h[n - 2], h[n - 3], d[n - 2], d[n - 3]);
        }
        let bend = (0..n - 1)
            .map(|i| {
                let (h, d) = (h[i], d[i]);
                ((3.0 * d - 2.0 * slope[i] - slope[i + 1]) / h, (slope[i] + slope[i + 1] - 2.0 * d) / (h * h))
            })
            .collect();
        let mut out = Pchip { x: x.to_vec(), y: y.to_vec(), slope, bend, before: Vec::new() };
        out.before = x.iter().map(|&knot| out.integral(0.0, knot)).collect();
        Ok(out)
    }

    /// The same curve with all its values moved by `dy`.
    #[must_use]
    pub fn moved(&self, dy: f64) -> Pchip {
        let before = self.before.iter().zip(&self.x).map(|(before, x)| before + dy * x).collect();
        Pchip { y: self.y.iter().map(|y| y + dy).collect(), before, ..self.clone() }
    }

    /// Number of pieces, the two straight continuations included.
    pub fn pieces(&self) -> usize {
        self.x.len() + 1
    }

    /// The piece that holds `x`: 0 below the table, `k` between knots `k − 1` and `k`, the last above the table.
    pub fn piece_of(&self, x: f64) -> usize {
        self.x.partition_point(|&knot| knot <= x)
    }

    /// Where the piece begins and ends; infinite at the straight continuations.
    pub fn bounds(&self, piece: usize) -> (f64, f64) {
        let low = if piece == 0 { f64::NEG_INFINITY } else { self.x[piece - 1] };
        let high = self.x.get(piece).copied().unwrap_or(f64::INFINITY);
        (low, high)
    }

    /// The value of the cubic of `piece` at `x`, continued smoothly outside the piece.
    pub fn value_in(&self, piece: usize, x: f64) -> f64 {
        let last = self.x.len() - 1;
        if piece == 0 {
            return self.y[0] + self.slope[0] * (x - self.x[0]);
        }
        if piece > last {
            return self.y[last] + self.slope[last] * (x - self.x[last]);
        }
        let (c1, c2, c3, u) = self.cubic(piece, x);
        self.y[piece - 1] + u * (c1 + u * (c2 + u * c3))
    }

    /// The slope of the cubic of `piece` at `x`.
    pub fn slope_in(&self, piece: usize, x: f64) -> f64 {
        let last = self.x.len() - 1;
        if piece == 0 {
            return self.slope[0];
        }
        if piece > last {
            return self.slope[last];
        }
        let (c1, c2, c3, u) = self.cubic(piece, x);
        c1 + u * (2.0 * c2 + u * 3.0 * c3)
    }

    /// A piece as a cubic in the distance from a place: that place, and the four coefficients.
    pub fn cubic_in(&self, piece: usize) -> (f64, [f64; 4]) {
        let last = self.x.len() - 1;
        if piece == 0 {
            return (self.x[0], [self.y[0], self.slope[0], 0.0, 0.0]);
        }
        if piece > last {
            return (self.x[last], [self.y[last], self.slope[last], 0.0, 0.0]);
        }
        let i = piece - 1;
        (self.x[i], [self.y[i], self.slope[i], self.bend[i].0, self.bend[i].1])
    }

    /// The value at `x`.
    pub fn value(&self, x: f64) -> f64 {
        self.value_in(self.piece_of(x), x)
    }

    /// The integral from 0 to `x`, the cubic of `piece` continued smoothly outside the piece.
    pub fn integral_in(&self, piece: usize, x: f64) -> f64 {
        let (from, [c0, c1, c2, c3]) = self.cubic_in(piece);
        let u = x - from;
        let before = self.before[piece.saturating_sub(1)];
        before + u * (c0 + u * (c1 / 2.0 + u * (c2 / 3.0 + u * c3 / 4.0)))
    }

    /// The exact integral of the interpolant from `a` to `b`.
    pub fn integral(&self, a: f64, b: f64) -> f64 {
        if b < a {
            return -self.integral(b, a);
        }
        let mut total = 0.0;
        let mut from = a;
        while from < b {
            let piece = self.piece_of(from);
            let to = self.bounds(piece).1.min(b);
            // Simpson's rule is exact for a cubic.
            let mid = 0.5 * (from + to);
            total += (to - from) / 6.0
                * (self.value_in(piece, from) + 4.0 * self.value_in(piece, mid) + self.value_in(piece, to));
            if to <= from {
                break;
            }
            from = to;
        }
        total
    }

    fn cubic(&self, piece: usize, x: f64) -> (f64, f64, f64, f64) {
        let i = piece - 1;
        let (c2, c3) = self.bend[i];
        (self.slope[i], c2, c3, x - self.x[i])
    }
}

fn end_slope(h0: f64, h1: f64, d0: f64, d1: f64) -> f64 {
    let slope = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
    if slope * d0 <= 0.0 {
        0.0
    } else if d0 * d1 <= 0.0 && slope.abs() > 3.0 * d0.abs() {
        3.0 * d0
    } else {
        slope
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table() -> Pchip {
        Pchip::new(&[0.0, 0.5, 1.0, 2.0], &[1.0, 2.0, 2.1, 5.0]).expect("a rising table")
    }

    #[test]
    fn goes_through_its_points_and_stays_monotone() {
        let p = table();
        for (x, y) in [(0.0, 1.0), (0.5, 2.0), (1.0, 2.1), (2.0, 5.0)] {
            assert!((p.value(x) - y).abs() < 1e-15);
        }
        let samples: Vec<f64> = (0..=400).map(|i| p.value(-0.5 + f64::from(i) * 0.0075)).collect();
        assert!(samples.windows(2).all(|w| w[1] >= w[0]));
    }

    #[test]
    fn integral_matches_a_fine_sum() {
        let p = table();
        let n = 200_000;
        let (a, b) = (-0.3, 2.4);
        let h = (b - a) / f64::from(n);
        let sum: f64 = (0..n).map(|i| p.value(a + (f64::from(i) + 0.5) * h) * h).sum();
        assert!((p.integral(a, b) - sum).abs() < 1e-9);
        assert!((p.integral(b, a) + sum).abs() < 1e-9);
    }

    #[test]
    fn integral_of_a_piece_is_that_of_the_curve() {
        for p in [table(), table().moved(0.7)] {
            for x in [-0.4, 0.0, 0.2, 0.5, 0.9, 1.4, 2.0, 2.6] {
                let (found, wanted) = (p.integral_in(p.piece_of(x), x), p.integral(0.0, x));
                assert!((found - wanted).abs() < 1e-14, "to {x}: {found}, {wanted}");
            }
        }
    }

    #[test]
    fn refuses_what_does_not_rise() {
        assert_eq!(Pchip::new(&[0.0], &[1.0]), Err(PchipError::TooShort));
        assert_eq!(Pchip::new(&[0.0, 0.0], &[1.0, 2.0]), Err(PchipError::NotRising { row: 2 }));
        assert_eq!(Pchip::new(&[0.0, f64::NAN], &[1.0, 2.0]), Err(PchipError::NotRising { row: 2 }));
    }
}
