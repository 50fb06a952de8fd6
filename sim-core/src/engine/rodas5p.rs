//! The tableau of the fast stepper's long step, the eight-stage Rosenbrock method of order 5(4) of Steinebach (Rodas5P, BIT
//! Numerical Mathematics 63, 2023), and the quadrature that goes with it: Radau's four nodes, the left end included.

/// Stages.
pub const STAGES: usize = 8;
/// Diagonal of the method.
pub const GAMMA: f64 = 0.211_937_563_194_290_14;
/// Where the stages stand.
const C: [f64; STAGES] = [
    0.0,
    0.635_812_689_582_870_4,
    0.409_579_839_339_753_5,
    0.976_930_672_506_071_6,
    0.428_840_360_955_866_4,
    1.0,
    1.0,
    1.0,
];
/// States of a stage from the increments before it; the last two stages add an increment whole.
const A: [[f64; 5]; 6] = [
    [0.0; 5],
    [3.0, 0.0, 0.0, 0.0, 0.0],
    [2.849_394_379_747_939, 0.458_422_422_044_639_23, 0.0, 0.0, 0.0],
    [-6.954_028_509_809_101, 2.489_845_061_869_568, -10.358_996_098_473_584, 0.0, 0.0],
    [
        2.802_998_627_562_896_4,
        0.507_246_473_622_820_6,
        -0.398_831_254_177_052_4,
        -0.047_211_872_304_046_41,
        0.0,
    ],
    [
        -7.502_846_399_306_121,
        2.561_846_144_803_919,
        -11.627_539_656_261_098,
        -0.182_687_676_599_422_56,
        0.030_198_172_008_377_946,
    ],
];
/// Increments of earlier stages in a stage's right-hand side.
const G: [[f64; 7]; STAGES] = [
    [0.0; 7],
    [-14.155_112_264_123_755, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    [-17.972_960_358_859_52, -2.859_693_295_451_294, 0.0, 0.0, 0.0, 0.0, 0.0],
    [147.121_502_757_117_16, -1.412_214_027_182_13, 71.689_402_513_023_58, 0.0, 0.0, 0.0, 0.0],
    [
        165.435_170_248_716_76,
        -0.459_282_345_649_112_6,
        42.909_383_369_586_03,
        -5.961_986_721_573_306,
        0.0,
        0.0,
        0.0,
    ],
    [
        24.854_864_614_690_072,
        -3.000_922_700_283_218_6,
        47.493_111_002_076_8,
        5.581_419_782_155_812_5,
        -0.661_069_182_524_947_1,
        0.0,
        0.0,
    ],
    [
        30.912_732_140_285_99,
        -3.120_824_334_993_797_4,
        77.799_546_460_708_92,
        34.286_460_282_947_83,
        -19.097_331_116_725_623,
        -28.087_943_162_872_662,
        0.0,
    ],
    [
        37.802_771_233_905_63,
        -3.257_196_902_907_227_6,
        112.269_188_494_963_27,
        66.934_723_124_404_7,
        -40.066_189_370_910_02,
        -54.667_802_628_779_68,
        -9.488_616_523_096_27,
    ],
];
/// Weights of the derivative to time.
const T: [f64; 5] = [
    0.211_937_563_194_290_14,
    -0.423_875_126_388_580_27,
    -0.338_462_712_623_592_4,
    1.804_645_287_288_273_4,
    2.325_825_639_765_069,
];
/// Continuous extension: `y = (1 − u)·y0 + u·y1 + u·(1 − u)·(a + b·u + c·u²)`.
const D: [[f64; STAGES]; 3] = [
    [
        25.948_786_856_663_858,
        -2.557_972_484_584_623_5,
        10.433_815_404_888_879,
        -2.367_925_102_268_520_4,
        0.524_948_541_321_073,
        1.124_108_831_045_040_4,
        0.427_287_619_443_187_4,
        -0.172_022_210_701_554_93,
    ],
    [
        -9.915_688_506_951_71,
        -0.968_994_459_411_515_4,
        3.043_803_724_297_845_3,
        -24.495_224_566_215_796,
        20.176_138_334_709_044,
        15.980_663_614_246_51,
        -6.789_040_303_419_874,
        -6.710_236_069_923_372,
    ],
    [
        11.419_903_575_922_262,
        2.887_964_514_613_699_4,
        72.921_379_959_960_29,
        80.125_118_346_226_43,
        -52.072_871_366_152_654,
        -59.789_936_252_667_29,
        -0.155_826_842_827_519_13,
        4.883_087_185_713_722,
    ],
];

/// Nodes of the quadrature.
pub const NODES: usize = 4;
/// Where they stand, as shares of the step.
pub const AT: [f64; NODES] =
    [0.0, 0.212_340_538_239_152_94, 0.590_533_135_559_265_3, 0.911_412_040_487_296_1];
/// Integral of each node's Lagrange polynomial: coefficients of u to u⁴.
pub(super) const WEIGHT: [[f64; NODES]; NODES] = [
    [1.0, -3.75, 5.0, -2.1875],
    [0.0, 4.793_596_795_737_692, -8.917_955_266_981_971, 4.453_202_791_224_339],
    [0.0, -1.350_265_644_412_027_2, 5.226_981_759_397_764, -3.488_522_646_142_565],
    [0.0, 0.306_668_848_674_335_6, -1.309_026_492_415_793_5, 1.222_819_854_918_226_3],
];

/// Weight of a node in the integral over the first share `u` of the step, as a share of the step.
pub fn weight(node: usize, u: f64) -> f64 {
    let [a, b, c, d] = WEIGHT[node];
    u * (a + u * (b + u * (c + u * d)))
}

/// The method's increments over `h_s` seconds from `y0`, where the derivatives are `dy0`; returns the state at the end.
///
/// `flow` gives the derivatives at a time into the step and a state, `solve` solves `(1/(h·γ) − J) x = r` in place, and
/// `to_time` is the derivatives' slope to time alone.
#[inline(always)]
pub fn stages<const K: usize, const L: usize>(
    k: &mut [[f64; L]; STAGES],
    (y0, dy0): (&[f64; L], &[f64; L]),
    h_s: f64,
    to_time: Option<&[f64; L]>,
    mut flow: impl FnMut(f64, &[f64; L]) -> [f64; L],
    mut solve: impl FnMut(&mut [f64; L]),
) -> [f64; L] {
    let mut y = *y0;
    let per_h = 1.0 / h_s;
    for s in 0..STAGES {
        let mut x = if s == 0 {
            *dy0
        } else {
            if s < 6 {
                y = *y0;
                for j in 0..s {
                    add::<K, L>(&mut y, A[s][j], &k[j]);
                }
            } else {
                add::<K, L>(&mut y, 1.0, &k[s - 1]);
            }
            flow(C[s] * h_s, &y)
        };
        for j in 0..s {
            add::<K, L>(&mut x, G[s][j] * per_h, &k[j]);
        }
        if let (Some(to_time), true) = (to_time, s < T.len()) {
            add::<K, L>(&mut x, h_s * T[s], to_time);
        }
        solve(&mut x);
        k[s] = x;
    }
    add::<K, L>(&mut y, 1.0, &k[STAGES - 1]);
    y
}

/// The error estimate over its allowance, the greatest of all states; not a number where one is none.
pub fn error<const K: usize, const L: usize>(estimate: &[f64; L], scale: &[f64], tolerance: f64) -> f64 {
    let mut error: f64 = 0.0;
    for i in 0..K {
        let scaled = estimate[i].abs() / (tolerance * scale[i]);
        // `max` would drop a NaN.
        error = if scaled > error || scaled.is_nan() { scaled } else { error };
    }
    error
}

/// The continuous extension's coefficients in the nested form of `Dense`, but the first, which is the rise over the step.
pub fn bends<const K: usize, const L: usize>(k: &[[f64; L]; STAGES], r: &mut [[f64; L]; 4]) {
    let mut bend = [[0.0; L]; 3];
    for (row, bend) in D.iter().zip(&mut bend) {
        for j in 0..STAGES {
            add::<K, L>(bend, row[j], &k[j]);
        }
    }
    for i in 0..K {
        (r[1][i], r[2][i], r[3][i]) = (bend[0][i], bend[1][i] + bend[2][i], -bend[2][i]);
    }
}

/// `x + q·column` in the first K places.
#[inline(always)]
pub fn add<const K: usize, const L: usize>(x: &mut [f64; L], q: f64, column: &[f64; L]) {
    for i in 0..K {
        x[i] += q * column[i];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Radau's nodes integrate powers up to the sixth exactly, and cubics up to any share of the step.
    #[test]
    fn the_quadrature_is_as_exact_as_it_can_be() {
        for power in 0..=6 {
            let sum: f64 = (0..NODES).map(|n| weight(n, 1.0) * AT[n].powi(power)).sum();
            assert!((sum - 1.0 / f64::from(power + 1)).abs() < 1e-14, "power {power}: {sum}");
        }
        for power in 0..=3 {
            let sum: f64 = (0..NODES).map(|n| weight(n, 0.3) * AT[n].powi(power)).sum();
            assert!(
                (sum - 0.3f64.powi(power + 1) / f64::from(power + 1)).abs() < 1e-14,
                "power {power}: {sum}"
            );
        }
    }

    /// One step of `y' = cos t + sin² t − y²` (solved by sin t) and its continuous extension, and the order they fall with.
    #[test]
    fn the_tableau_is_of_order_five() {
        let step = |h: f64| -> [f64; 3] {
            let (f, slope) = (|t: f64, y: f64| -y * y + t.cos() + t.sin() * t.sin(), |y: f64| -2.0 * y);
            let (t0, y0) = (0.4f64, 0.4f64.sin());
            let to_time = -t0.sin() + 2.0 * t0.sin() * t0.cos();
            let mut k = [0.0; STAGES];
            let mut y = y0;
            for s in 0..STAGES {
                if s < 6 {
                    y = y0 + (0..s).map(|j| A[s][j] * k[j]).sum::<f64>();
                } else {
                    y += k[s - 1];
                }
                let mut r = f(t0 + C[s] * h, y);
                r += (0..s).map(|j| G[s][j] / h * k[j]).sum::<f64>();
                r += T.get(s).map_or(0.0, |d| h * d * to_time);
                k[s] = r / (1.0 / (GAMMA * h) - slope(y0));
            }
            let y1 = y + k[STAGES - 1];
            let bend = D.map(|row| row.iter().zip(&k).map(|(d, k)| d * k).sum::<f64>());
            let u = 0.37;
            let inside = (1.0 - u) * y0 + u * (y1 + (1.0 - u) * (bend[0] + u * (bend[1] + u * bend[2])));
            [y1 - (t0 + h).sin(), inside - (t0 + u * h).sin(), k[STAGES - 1]].map(f64::abs)
        };
        // Lengths at which each has its order and stands well above rounding.
        let rows = [(5.5, 0.05, "end"), (4.7, 0.05, "inside"), (4.7, 0.0125, "estimate")];
        for (n, (order, h, what)) in rows.into_iter().enumerate() {
            let found = (step(h)[n] / step(0.5 * h)[n]).log2();
            assert!(found > order, "{what}: falls with the power {found}");
        }
    }
}
