//! The plain model's slopes: two batteries that feel each other through two currents.
//!
//! `J = D + U·M·W`, D diagonal, W the two EMFs from the states, M the two currents from the EMFs, U what the currents do.
//! A linear solve is a scaling and two equations.

use super::{LANES, Plain, PlainHeld, Point};
use crate::network::Net;
use crate::network::sensitivity::{CAP, HOUSE_SHIFT, OUTPUTS, STARTER_SHIFT, sensitivity};
use crate::state::{CASE_C, HOUSE, STARTER};

/// The linearised right-hand side.
#[derive(Debug, Clone, Copy, Default)]
pub struct PlainLinear {
    /// Slopes of the EMFs to the states of charge.
    emf: [f64; 2],
    /// Currents of starter and house battery to their EMFs.
    m: [[f64; 2]; 2],
    /// What each current does to SOC and branches.
    u: [[f64; 3]; 2],
    rate: [[f64; 2]; 2],
    /// The case's temperature from the EMFs, and its own decay.
    case: [f64; 2],
    case_rate: f64,
    /// Derivatives to time alone.
    to_time: Option<Plain>,
}

/// The matrix of one step length.
#[derive(Debug, Clone, Copy, Default)]
pub struct PlainFactored {
    d: [[f64; 3]; 2],
    du: [[f64; 3]; 2],
    moved: [f64; 2],
    k: [[f64; 2]; 2],
    per_case: f64,
}

impl PlainLinear {
    /// Linearises at a state with its operating point.
    pub fn new(held: &PlainHeld, x: &Plain, p: &Point, net: &Net) -> PlainLinear {
        let bias = &held.bias;
        let s = sensitivity(bias, held.regime, net);
        let (g, h) = (held.starter.g, held.house_g());
        let (i, o) = (net.input_a, net.output_a);
        let heat =
            [net.in_v - bias.starter.cable_ohm * i, i, -(held.out_v(p) + bias.house.cable_ohm * o), -o];
        let [case_rate, per_case_j] = held.case();
        let warms = |input: usize| (0..OUTPUTS).map(|n| heat[n] * s[n][input]).sum::<f64>() * per_case_j;
        let (starter, house) = (&held.starter, &held.house);
        let u = [
            [starter.soc_per_a, starter.push[0], starter.push[1]],
            [house.soc_per_a, house.push[0], house.push[1]],
        ];
        let ramp = held.ramp_a_per_s();
        let to_time = (ramp != 0.0).then(|| {
            let (a, b) = (s[1][CAP] * ramp * g, s[3][CAP] * ramp * h);
            let mut t = [0.0; LANES];
            for n in 0..3 {
                t[STARTER + n] = u[0][n] * a;
                t[HOUSE + n] = u[1][n] * b;
            }
            t[CASE_C] = warms(CAP) * ramp;
            t
        });
        PlainLinear {
            emf: held.emf_slopes(x),
            m: [
                [(s[1][STARTER_SHIFT] * g - 1.0) * g, s[1][HOUSE_SHIFT] * h * g],
                [s[3][STARTER_SHIFT] * g * h, (s[3][HOUSE_SHIFT] * h - 1.0) * h],
            ],
            u,
            rate: [starter.rate, house.rate],
            case: [warms(STARTER_SHIFT) * g, warms(HOUSE_SHIFT) * h],
            case_rate,
            to_time,
        }
    }

    /// How the derivatives change with time alone: the soft start.
    pub fn time_slope(&self) -> Option<&Plain> {
        self.to_time.as_ref()
    }

    /// Factorises `shift·I − J`.
    pub fn factor(&self, shift: f64) -> PlainFactored {
        let mut f = PlainFactored { per_case: 1.0 / (shift + self.case_rate), ..PlainFactored::default() };
        for b in 0..2 {
            f.d[b] = [1.0 / shift, 1.0 / (shift + self.rate[b][0]), 1.0 / (shift + self.rate[b][1])];
            for n in 0..3 {
                f.du[b][n] = f.d[b][n] * self.u[b][n];
            }
            f.moved[b] = self.emf[b] * f.du[b][0] + f.du[b][1] + f.du[b][2];
        }
        let [[a, b], [c, d]] = self.m;
        let [m, n] = f.moved;
        // (I − M·moved)⁻¹·M
        let (p, q, r, s) = (1.0 - a * m, -b * n, -c * m, 1.0 - d * n);
        let det = 1.0 / (p * s - q * r);
        f.k =
            [[(s * a - q * c) * det, (s * b - q * d) * det], [(p * c - r * a) * det, (p * d - r * b) * det]];
        f
    }

    /// Solves `(shift·I − J) x = r` in place.
    #[inline]
    pub fn solve(&self, f: &PlainFactored, x: &mut Plain) {
        let mut emf = [0.0; 2];
        for (b, at) in [(0, STARTER), (1, HOUSE)] {
            for n in 0..3 {
                x[at + n] *= f.d[b][n];
            }
            emf[b] = self.emf[b] * x[at] + x[at + 1] + x[at + 2];
        }
        let q = [f.k[0][0] * emf[0] + f.k[0][1] * emf[1], f.k[1][0] * emf[0] + f.k[1][1] * emf[1]];
        for (b, at) in [(0, STARTER), (1, HOUSE)] {
            for n in 0..3 {
                x[at + n] += f.du[b][n] * q[b];
            }
            emf[b] += f.moved[b] * q[b];
        }
        x[CASE_C] = (x[CASE_C] + self.case[0] * emf[0] + self.case[1] * emf[1]) * f.per_case;
    }
}
