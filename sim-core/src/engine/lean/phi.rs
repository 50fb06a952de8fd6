//! Integrals of powers of time against a decaying exponential, for steps that take decays exactly.

/// Below this argument closed forms cancel, and series stand.
const SERIES: f64 = 1.0;
/// Terms of the series: the next is under 1e-17 of the sum.
const TERMS: usize = 16;
/// `1/(k+4)!`.
const PHI: [f64; TERMS] = {
    let mut out = [1.0 / 24.0; TERMS];
    let mut k = 1;
    while k < TERMS {
        out[k] = out[k - 1] / (k + 4) as f64;
        k += 1;
    }
    out
};
/// `1/(k!·(k+4))`.
const MOMENT: [f64; TERMS] = {
    let mut out = [0.25; TERMS];
    let (mut k, mut factorial) = (1, 1.0);
    while k < TERMS {
        factorial *= k as f64;
        out[k] = 1.0 / (factorial * (k + 4) as f64);
        k += 1;
    }
    out
};

/// A power series in −x.
fn series(terms: &[f64; TERMS], x: f64) -> f64 {
    terms.iter().rev().fold(0.0, |sum, t| t - x * sum)
}

/// `e^−x`, and `∫₀¹ e^(−x(1−s))·s^q ds / q!` for q from 0 to 3: what exponential integrators call φ₀ to φ₄ of −x.
pub fn phi(x: f64) -> [f64; 5] {
    if x < SERIES {
        let four = series(&PHI, x);
        let three = 1.0 / 6.0 - x * four;
        let two = 0.5 - x * three;
        let one = 1.0 - x * two;
        [1.0 - x * one, one, two, three, four]
    } else {
        let (zero, per_x) = ((-x).exp(), 1.0 / x);
        let one = (1.0 - zero) * per_x;
        let two = (1.0 - one) * per_x;
        let three = (0.5 - two) * per_x;
        [zero, one, two, three, (1.0 / 6.0 - three) * per_x]
    }
}

/// `∫₀¹ s^q·e^(−xs) ds` for q from 0 to 3; `decayed` is `e^−x`.
pub fn moments(x: f64, decayed: f64) -> [f64; 4] {
    if x < SERIES {
        let three = series(&MOMENT, x);
        let two = (x * three + decayed) / 3.0;
        let one = (x * two + decayed) / 2.0;
        [x * one + decayed, one, two, three]
    } else {
        let per_x = 1.0 / x;
        let zero = (1.0 - decayed) * per_x;
        let one = (zero - decayed) * per_x;
        let two = (2.0 * one - decayed) * per_x;
        [zero, one, two, (3.0 * two - decayed) * per_x]
    }
}

/// `∫₀ᵗ e^(−a(t−s))·e^(−bs) ds`; `decayed` are `e^−at` and `e^−bt`.
pub fn chained(a: f64, b: f64, t: f64, decayed: [f64; 2]) -> f64 {
    let apart = a - b;
    if (apart * t).abs() < 1e-5 {
        t * decayed[1] * (1.0 - 0.5 * apart * t)
    } else {
        (decayed[1] - decayed[0]) / apart
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gauss's five points on 2000 slices.
    fn integral(f: impl Fn(f64) -> f64) -> f64 {
        let (a, b) = (0.538_469_310_105_683_1, 0.906_179_845_938_664);
        let (w0, wa, wb) = (0.568_888_888_888_888_9, 0.478_628_670_499_366_5, 0.236_926_885_056_189_1);
        let half = 0.5 / 2000.0;
        (0..2000)
            .map(|n| {
                let mid = half * f64::from(2 * n + 1);
                let pair = |x: f64| f(mid - half * x) + f(mid + half * x);
                half * (w0 * f(mid) + wa * pair(a) + wb * pair(b))
            })
            .sum()
    }

    /// Against quadrature on both sides of where series end.
    #[test]
    fn integrals_are_those_that_they_are_called() {
        for x in [0.0, 1e-9, 0.03, 0.5, 0.999, 1.0, 1.7, 9.0, 80.0] {
            let p = phi(x);
            assert!((p[0] - f64::exp(-x)).abs() < 1e-15, "{x}");
            let m = moments(x, p[0]);
            for q in 0..4 {
                let factorial = [1.0, 1.0, 2.0, 6.0][q as usize];
                let wanted = integral(|s| f64::exp(-x * (1.0 - s)) * s.powi(q)) / factorial;
                assert!((p[q as usize + 1] / wanted - 1.0).abs() < 1e-13, "phi {q} of {x}");
                let wanted = integral(|s| f64::exp(-x * s) * s.powi(q));
                assert!((m[q as usize] / wanted - 1.0).abs() < 2e-13, "moment {q} of {x}");
            }
            let (a, b, t) = (x, 0.5, 1.3);
            let wanted = t * integral(|s| f64::exp(-a * t * (1.0 - s) - b * t * s));
            let got = chained(a, b, t, [f64::exp(-a * t), f64::exp(-b * t)]);
            assert!((got / wanted - 1.0).abs() < 1e-10, "chained {x}: {got} {wanted}");
        }
    }
}
