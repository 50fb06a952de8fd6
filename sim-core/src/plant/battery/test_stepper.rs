//! A small 5(4) Dormand-Prince stepper for the tests of the batteries, apart from the engine's on purpose.

const A: [[f64; 6]; 7] = [
    [0.0; 6],
    [0.2, 0.0, 0.0, 0.0, 0.0, 0.0],
    [3.0 / 40.0, 9.0 / 40.0, 0.0, 0.0, 0.0, 0.0],
    [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0, 0.0, 0.0, 0.0],
    [19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0, 0.0, 0.0],
    [9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0, 0.0],
    [35.0 / 384.0, 0.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0],
];
const E: [f64; 7] =
    [71.0 / 57600.0, 0.0, -71.0 / 16695.0, 71.0 / 1920.0, -17253.0 / 339_200.0, 22.0 / 525.0, -1.0 / 40.0];

/// States, the step length that suits them, and what they cost.
pub struct Stepper<const N: usize> {
    pub y: [f64; N],
    pub tolerance: f64,
    /// Accepted steps so far.
    pub steps: u64,
    h_s: f64,
}

impl<const N: usize> Stepper<N> {
    /// Absolute error per step `tolerance` in every state.
    pub fn new(y: [f64; N], tolerance: f64) -> Self {
        Stepper { y, tolerance, steps: 0, h_s: 1e-3 }
    }

    /// Takes a short first step next: conditions have changed.
    pub fn restart(&mut self) {
        self.h_s = 1e-3;
    }

    /// Moves on by `span_s` seconds under one right-hand side.
    pub fn advance(&mut self, span_s: f64, f: impl Fn(&[f64; N]) -> [f64; N]) {
        let mut t = 0.0;
        let mut first = f(&self.y);
        while t < span_s {
            let left = span_s - t;
            let h = self.h_s.min(left);
            let (y, last, error) = try_step(&self.y, &first, h, &f);
            let error = error / self.tolerance;
            if error <= 1.0 {
                t = if h == left { span_s } else { t + h };
                self.y = y;
                first = last;
                self.steps += 1;
            }
            self.h_s = self.next(h, error, h == left);
            assert!(self.h_s > 1e-12, "the test stepper stalled at {t} s");
        }
    }

    /// The same with part of the right-hand side held: a step ends within 1 ns after `margin` falls below zero.
    ///
    /// Returns how often the hold changed.
    pub fn advance_held<H>(
        &mut self,
        span_s: f64,
        read: impl Fn(&[f64; N]) -> H,
        f: impl Fn(&[f64; N], &H) -> [f64; N],
        margin: impl Fn(&[f64; N], &H) -> f64,
    ) -> u64 {
        let (mut t, mut changes) = (0.0, 0);
        let mut hold = read(&self.y);
        while t < span_s {
            let left = span_s - t;
            let h = self.h_s.min(left);
            let first = f(&self.y, &hold);
            let step = |h: f64| try_step(&self.y, &first, h, &|y: &[f64; N]| f(y, &hold));
            let (mut y, _, error) = step(h);
            let error = error / self.tolerance;
            let mut taken = h;
            let mut flipped = false;
            if error <= 1.0 {
                if margin(&y, &hold) < 0.0 {
                    flipped = true;
                    let mut low = 0.0;
                    while taken - low > 1e-9 {
                        let mid = 0.5 * (low + taken);
                        let trial = step(mid).0;
                        if margin(&trial, &hold) < 0.0 {
                            (taken, y) = (mid, trial);
                        } else {
                            low = mid;
                        }
                    }
                }
                t = if taken == left { span_s } else { t + taken };
                self.y = y;
                self.steps += 1;
            }
            self.h_s = self.next(h, error, h == left);
            if flipped {
                hold = read(&self.y);
                changes += 1;
                assert!(changes < 100_000, "endless change of hold at {t} s");
            }
        }
        changes
    }

    fn next(&self, h: f64, error: f64, cut: bool) -> f64 {
        let grown = h * (0.9 * error.max(1e-10).powf(-0.2)).clamp(0.2, 5.0);
        if cut && error <= 1.0 { grown.max(self.h_s) } else { grown }
    }
}

fn try_step<const N: usize>(
    from: &[f64; N],
    first: &[f64; N],
    h: f64,
    f: &impl Fn(&[f64; N]) -> [f64; N],
) -> ([f64; N], [f64; N], f64) {
    let mut k = [*first; 7];
    let mut y = *from;
    for s in 1..7 {
        y = *from;
        for (i, yi) in y.iter_mut().enumerate() {
            *yi += h * (0..s).map(|j| A[s][j] * k[j][i]).sum::<f64>();
        }
        k[s] = f(&y);
    }
    let error = (0..N).map(|i| (0..7).map(|j| E[j] * k[j][i]).sum::<f64>().abs() * h);
    (y, k[6], error.fold(0.0, f64::max))
}

/// A small seeded generator (SplitMix64), so that random tests repeat to the bit.
pub struct Random(pub u64);

impl Random {
    /// Uniform between two bounds.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^= z >> 31;
        low + (high - low) * ((z >> 11) as f64 / (1u64 << 53) as f64)
    }
}
