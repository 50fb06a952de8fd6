//! Linear algebra on a handful of numbers.

use crate::network::sensitivity::{INPUTS, OUTPUTS, Sensitivity};
use crate::plant::battery::slopes::{Row, STATES};
use crate::state::Vector;

/// `s·z`.
pub(super) fn times(s: &Sensitivity, z: &[f64; INPUTS]) -> [f64; OUTPUTS] {
    std::array::from_fn(|m| (0..INPUTS).map(|n| s[m][n] * z[n]).sum())
}

/// The first K rows and columns of `shift·I − d` in triangular factors, reciprocals on the diagonal. The shift makes
/// pivoting needless.
pub(super) fn eliminate<const K: usize, const L: usize>(
    d: &[[f64; L]; L],
    shift: f64,
    lu: &mut [[f64; L]; L],
) {
    for m in 0..K {
        for n in 0..K {
            lu[m][n] = if m == n { shift - d[m][n] } else { -d[m][n] };
        }
    }
    for p in 0..K {
        lu[p][p] = 1.0 / lu[p][p];
        for m in p + 1..K {
            let share = lu[m][p] * lu[p][p];
            lu[m][p] = share;
            for n in p + 1..K {
                lu[m][n] -= share * lu[p][n];
            }
        }
    }
}

/// Solves with the triangular factors, in place.
pub(super) fn substitute<const K: usize, const L: usize>(lu: &[[f64; L]; L], x: &mut [f64; K]) {
    for m in 1..K {
        for n in 0..m {
            x[m] -= lu[m][n] * x[n];
        }
    }
    for m in (0..K).rev() {
        for n in m + 1..K {
            x[m] -= lu[m][n] * x[n];
        }
        x[m] *= lu[m][m];
    }
}

/// Solves a battery's block, in place of its states in the vector.
pub(super) fn battery_solve<const K: usize>(lu: &[Row; STATES], at: &[usize; STATES], x: &mut Vector) {
    let mut part: [f64; K] = std::array::from_fn(|n| x[at[n]]);
    substitute::<K, STATES>(lu, &mut part);
    for n in 0..K {
        x[at[n]] = part[n];
    }
}

/// `x + q·column` in the first K places.
#[inline]
pub fn add<const K: usize>(x: &mut Vector, q: f64, column: &Vector) {
    for i in 0..K {
        x[i] += q * column[i];
    }
}

/// `k⁻¹·s`, by elimination with the largest pivot of each column.
pub(super) fn divided(mut k: [[f64; OUTPUTS]; OUTPUTS], s: &Sensitivity) -> Sensitivity {
    let mut out = *s;
    for p in 0..OUTPUTS {
        let best = (p..OUTPUTS).max_by(|&a, &b| k[a][p].abs().total_cmp(&k[b][p].abs())).unwrap_or(p);
        k.swap(p, best);
        out.swap(p, best);
        let scale = 1.0 / k[p][p];
        k[p] = k[p].map(|v| v * scale);
        out[p] = out[p].map(|v| v * scale);
        let (pivot, row) = (k[p], out[p]);
        for m in 0..OUTPUTS {
            let share = k[m][p];
            if m != p && share != 0.0 {
                for n in 0..OUTPUTS {
                    k[m][n] -= share * pivot[n];
                }
                for n in 0..INPUTS {
                    out[m][n] -= share * row[n];
                }
            }
        }
    }
    out
}
