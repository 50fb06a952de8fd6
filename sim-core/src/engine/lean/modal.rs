//! A plain model's step while the unit is off: decays taken exactly, so that what an event starts bounds no step.
//!
//! Each battery's branches are two decays ([`Modes`]) driven by a current that changes slowly: with the feedback of their own
//! volts taken out, it is a cubic through Lobatto's four nodes. The nodes are evaluated twice; what the second time still
//! changes is the error, with the cubic's last term. Currents, powers and heat are kept as a smooth part at the nodes and the
//! decays' amplitudes, and integrated as such: a load that changes costs one step, not ten through the transient.

use super::phi::{chained, moments, phi};
use crate::plant_view::plain::modes::Modes;
use crate::plant_view::plain::{Plain, PlainHeld, Point};
use crate::state::{CASE_C, HOUSE, SCALE, STARTER};

/// Nodes, both ends included.
pub const NODES: usize = 4;
/// Lobatto's nodes: their quadrature is exact to the fifth power.
pub const AT: [f64; NODES] = [0.0, 0.276_393_202_250_021, 0.723_606_797_749_979, 1.0];
/// Coefficients of the cubic through values at the nodes: power, node.
const TO_POWERS: [[f64; NODES]; 4] = powers();
const FACTORIAL: [f64; 4] = [1.0, 1.0, 2.0, 6.0];
/// From so many of its time constants on, a decay is told from what drives it by the whole series; below, by its first term.
const LONG: f64 = 4.0;
/// What the cubic's last term may leave in the current, as a share of it.
const LAST_TERM: f64 = 0.3;
/// Where a turn of the volts is looked for, in time constants of a decay.
const LOOK: [f64; 8] = [0.0, 0.1, 0.3, 0.7, 1.4, 2.5, 4.5, 8.0];
/// Rates: two of each battery, and the case's.
const RATES: usize = 5;
/// States of the batteries, by side.
const PLACE: [usize; 2] = [STARTER, HOUSE];

const fn powers() -> [[f64; NODES]; 4] {
    let mut out = [[0.0; NODES]; 4];
    let mut n = 0;
    while n < NODES {
        // Multiply out the node's polynomial factor by factor.
        let mut p = [1.0, 0.0, 0.0, 0.0];
        let mut j = 0;
        while j < NODES {
            if j != n {
                let per = 1.0 / (AT[n] - AT[j]);
                let mut q = 3;
                while q > 0 {
                    p[q] = (p[q - 1] - AT[j] * p[q]) * per;
                    q -= 1;
                }
                p[0] *= -AT[j] * per;
            }
            j += 1;
        }
        let mut q = 0;
        while q < 4 {
            out[q][n] = p[q];
            q += 1;
        }
        n += 1;
    }
    out
}

fn cubic(values: &[f64; NODES]) -> [f64; 4] {
    TO_POWERS.map(|row| (0..NODES).map(|n| row[n] * values[n]).sum())
}

/// Decays and integrals of all rates at one time.
type Phis = [[f64; 5]; RATES];

/// What drives one battery over the step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Side {
    /// Decays at the beginning.
    decay: [f64; 2],
    /// The part of them that dies away.
    transient: [f64; 2],
    /// Volts behind the resistance in each decay, that of the state of charge which its current moves included.
    emf_v: [f64; 2],
    /// The current with the branches' feedback taken out, A: powers of the share of the step.
    drive: [f64; 4],
    /// The smooth part of the current, A, likewise.
    smooth: [f64; 4],
}

/// Continuous states over one such step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Course {
    /// Attempted length, s.
    pub h_s: f64,
    x0: Plain,
    modes: [Modes; 2],
    soc_per_a: [f64; 2],
    sides: [Side; 2],
    case_rate: f64,
    /// What drives the case, K/s: powers of the share of the step, and the starter battery's decays.
    case: [f64; 4],
    case_transient: [f64; 2],
}

impl Course {
    fn phis(&self, dt: f64) -> Phis {
        let [s, h] = &self.modes;
        [s.rate[0], s.rate[1], h.rate[0], h.rate[1], self.case_rate].map(|rate| phi(rate * dt))
    }

    /// Amperes of a battery's current in each of its decays.
    fn current(&self, side: usize) -> [f64; 2] {
        self.sides[side].emf_v.map(|v| -self.modes[side].gamma * v)
    }

    /// Puts in the drive of one battery and tells its transients from the rest.
    fn drive(&mut self, side: usize, drive: [f64; 4], slope_v: f64) {
        let charge = slope_v * self.soc_per_a[side];
        let (m, s) = (&self.modes[side], &mut self.sides[side]);
        s.drive = drive;
        for k in 0..2 {
            let x = m.rate[k] * self.h_s;
            let rest = if x > LONG {
                drive[0] - (drive[1] - (2.0 * drive[2] - 6.0 * drive[3] / x) / x) / x
            } else {
                drive[0]
            };
            s.transient[k] = s.decay[k] - m.push[k] / m.rate[k] * rest;
            s.emf_v[k] = m.emf(k) * s.transient[k] * (1.0 + charge * m.gamma / m.rate[k]);
        }
    }

    /// The rate of the fastest decay, 1/s.
    pub fn fastest_per_s(&self) -> f64 {
        self.modes[0].rate[0].max(self.modes[1].rate[0])
    }

    /// States `dt` seconds into the step.
    pub fn at(&self, dt: f64) -> Plain {
        self.with(dt, &self.phis(dt))
    }

    fn with(&self, dt: f64, phis: &Phis) -> Plain {
        let u = dt / self.h_s;
        let power = [1.0, u, u * u, u * u * u];
        let driven = |f: &[f64; 4], p: &[f64; 5]| -> f64 {
            dt * (0..4).map(|q| f[q] * power[q] * FACTORIAL[q] * p[q + 1]).sum::<f64>()
        };
        let mut x = self.x0;
        for (side, at) in PLACE.into_iter().enumerate() {
            let (m, s) = (&self.modes[side], &self.sides[side]);
            let own = &phis[2 * side..2 * side + 2];
            let decay = [0, 1].map(|k| own[k][0] * s.decay[k] + m.push[k] * driven(&s.drive, &own[k]));
            let current = self.current(side);
            let smooth: f64 = (0..4).map(|q| s.smooth[q] * power[q] / (q + 1) as f64).sum();
            let charge = dt * (smooth + current[0] * own[0][1] + current[1] * own[1][1]);
            x[at] += self.soc_per_a[side] * charge;
            for j in 0..2 {
                x[at + 1 + j] = m.to_v[j][0] * decay[0] + m.to_v[j][1] * decay[1];
            }
        }
        let own = &phis[4];
        x[CASE_C] = own[0] * self.x0[CASE_C] + driven(&self.case, own);
        for k in 0..2 {
            let decayed = [own[0], phis[k][0]];
            x[CASE_C] += self.case_transient[k] * chained(self.case_rate, self.modes[0].rate[k], dt, decayed);
        }
        x
    }

    /// How a quantity of one battery's bus is integrated over the first `dt` seconds.
    pub fn weights(&self, side: usize, dt: f64) -> Weights {
        let u = dt / self.h_s;
        let power = [1.0, u, u * u, u * u * u];
        let of = |moment: &[f64; 4]| -> [f64; NODES] {
            std::array::from_fn(|n| dt * (0..4).map(|q| TO_POWERS[q][n] * power[q] * moment[q]).sum::<f64>())
        };
        let rate = self.modes[side].rate;
        let x = rate.map(|r| r * dt);
        let decayed = x.map(|x| (-x).exp());
        let cross = [0, 1].map(|k| of(&moments(x[k], decayed[k])));
        let pair = |j: usize, k: usize| dt * moments(x[j] + x[k], decayed[j] * decayed[k])[0];
        Weights {
            node: of(&[1.0, 0.5, 1.0 / 3.0, 0.25]),
            decay: cross.map(|c| c.iter().sum()),
            cross,
            pair: [pair(0, 0), pair(0, 1), pair(1, 1)],
        }
    }

    /// When the volts behind a battery's resistance turn back within the step, if by more than `least_v`, s.
    fn turn(&self, side: usize, drift_v_per_s: f64, least_v: f64) -> Option<f64> {
        let (m, s) = (&self.modes[side], &self.sides[side]);
        let amplitude = [0, 1].map(|k| m.emf(k) * s.transient[k]);
        let v =
            |t: f64| drift_v_per_s * t + (0..2).map(|k| amplitude[k] * (-m.rate[k] * t).exp()).sum::<f64>();
        let slope = |t: f64| {
            drift_v_per_s - (0..2).map(|k| amplitude[k] * m.rate[k] * (-m.rate[k] * t).exp()).sum::<f64>()
        };
        let mut before = 0.0;
        let up = slope(0.0) > 0.0;
        for rate in m.rate {
            for look in LOOK {
                let t = (look / rate).min(self.h_s);
                if t > before {
                    if (slope(t) > 0.0) != up {
                        let (mut a, mut b) = (before, t);
                        for _ in 0..20 {
                            let mid = 0.5 * (a + b);
                            if (slope(mid) > 0.0) == up { a = mid } else { b = mid }
                        }
                        let top_v = v(b);
                        let turns = (top_v - v(0.0)).abs() > least_v && (top_v - v(self.h_s)).abs() > least_v;
                        return turns.then_some(b);
                    }
                    before = t;
                }
            }
        }
        None
    }
}

/// How a quantity that is smooth but for the decays is integrated.
#[derive(Debug, Clone, Copy, Default)]
pub struct Weights {
    /// Of the smooth part at the nodes, s.
    pub node: [f64; NODES],
    /// Of each decay alone, s.
    pub decay: [f64; 2],
    /// Of each decay times the smooth part at the nodes, s.
    pub cross: [[f64; NODES]; 2],
    /// Of the decays' products: first squared, both, second squared, s.
    pub pair: [f64; 3],
}

/// An attempted step.
#[derive(Debug, Clone, Copy, Default)]
pub struct Step {
    /// Continuous states.
    pub course: Course,
    /// States at the nodes.
    pub x: [Plain; NODES],
    /// Operating points there.
    pub points: [Point; NODES],
    /// What is left of each battery's decays at the nodes.
    pub left: [[[f64; 2]; NODES]; 2],
    /// Where the volts of each battery turn back within the step, s.
    pub turns_s: [Option<f64>; 2],
    /// Estimated error over tolerance.
    pub error: f64,
}

impl Step {
    /// Attempts a step of `h_s` seconds from `x0`, where the operating point is `p0`.
    pub fn attempt(
        &mut self,
        held: &PlainHeld,
        modes: &[Modes; 2],
        (x0, p0): (&Plain, &Point),
        h_s: f64,
        tolerance: f64,
    ) {
        let [case_rate, per_case_j] = held.case();
        let cells = [&held.starter, &held.house];
        let first_a = [held.starter_a(p0), held.house_a(p0)];
        let mut course = Course {
            h_s,
            x0: *x0,
            modes: *modes,
            soc_per_a: cells.map(|c| c.soc_per_a),
            case_rate,
            ..Course::default()
        };
        let slopes = held.emf_slopes(x0);
        for (side, at) in PLACE.into_iter().enumerate() {
            let m = &modes[side];
            let v = [x0[at + 1], x0[at + 2]];
            course.sides[side].decay = m.to_decay.map(|row| row[0] * v[0] + row[1] * v[1]);
            course.drive(side, [first_a[side] + m.gamma * (v[0] + v[1]), 0.0, 0.0, 0.0], slopes[side]);
            let current = course.current(side);
            course.sides[side].smooth = [first_a[side] - current[0] - current[1], 0.0, 0.0, 0.0];
            let drift = slopes[side] * cells[side].soc_per_a * first_a[side];
            self.turns_s[side] = course.turn(side, drift, tolerance);
        }
        let standby_a = p0.input_a;
        let heat_w = |p: &Point| held.in_v(p) * p.input_a;
        let air = case_rate * held.air_c();
        course.case = [heat_w(p0) * per_case_j + air, 0.0, 0.0, 0.0];
        let phis: [Phis; NODES - 1] = std::array::from_fn(|n| course.phis(AT[n + 1] * h_s));
        self.left = [0, 1].map(|side| {
            let mut left = [[1.0; 2]; NODES];
            for n in 1..NODES {
                left[n] = [phis[n - 1][2 * side][0], phis[n - 1][2 * side + 1][0]];
            }
            left
        });
        (self.x[0], self.points[0]) = (*x0, *p0);
        let mut drives = [[0.0; NODES]; 2];
        let mut error: f64 = 0.0;
        for sweep in 0..2 {
            for n in 1..NODES {
                self.x[n] = course.with(AT[n] * h_s, &phis[n - 1]);
                self.points[n] = held.point(AT[n] * h_s, &self.x[n]);
            }
            for (side, at) in PLACE.into_iter().enumerate() {
                let (m, cell) = (&modes[side], cells[side]);
                let amps = self.points.map(|p| if side == 0 { held.starter_a(&p) } else { held.house_a(&p) });
                let drive: [f64; NODES] =
                    std::array::from_fn(|n| amps[n] + m.gamma * (self.x[n][at + 1] + self.x[n][at + 2]));
                if sweep == 0 {
                    course.drive(side, cubic(&drive), slopes[side]);
                } else {
                    let defect = (0..NODES).map(|n| (drive[n] - drives[side][n]).abs()).fold(0.0, f64::max);
                    let ohm = cell.ohm();
                    let left_a = defect + LAST_TERM * course.sides[side].drive[3].abs();
                    let soc = cell.soc_per_a.abs() * h_s * left_a;
                    let worst = (ohm * left_a / SCALE[at + 1]).max(soc / SCALE[at]) / tolerance;
                    // `max` would drop a NaN.
                    error = if worst > error || worst.is_nan() { worst } else { error };
                }
                drives[side] = drive;
                let current = course.current(side);
                let left = &self.left[side];
                course.sides[side].smooth = cubic(&std::array::from_fn(|n| {
                    amps[n] - current[0] * left[n][0] - current[1] * left[n][1]
                }));
            }
            let s = &course.sides[0];
            course.case_transient = [0, 1].map(|k| standby_a * per_case_j * modes[0].posts * s.emf_v[k]);
            let (w, left) = (&course.case_transient, &self.left[0]);
            course.case = cubic(&std::array::from_fn(|n| {
                heat_w(&self.points[n]) * per_case_j + air - w[0] * left[n][0] - w[1] * left[n][1]
            }));
        }
        self.x[NODES - 1] = course.with(h_s, &phis[NODES - 2]);
        self.error = error;
        self.course = course;
    }

    /// Volts of the branches in each decay: branch, decay.
    pub fn branches(&self, side: usize) -> [[f64; 2]; 2] {
        let (m, s) = (&self.course.modes[side], &self.course.sides[side]);
        m.to_v.map(|row| [row[0] * s.transient[0], row[1] * s.transient[1]])
    }

    /// Volts behind a battery's resistance in each decay.
    pub fn emf(&self, side: usize) -> [f64; 2] {
        self.course.sides[side].emf_v
    }

    /// What the decays are of.
    pub fn modes(&self, side: usize) -> &Modes {
        &self.course.modes[side]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The cubic through its own values, and Lobatto's weights as any handbook lists them: 1/12 and 5/12.
    #[test]
    fn the_cubic_goes_through_its_nodes() {
        let f = |u: f64| 2.0 - 3.0 * u + 0.5 * u * u + 7.0 * u * u * u;
        let got = cubic(&AT.map(f));
        for (a, b) in got.into_iter().zip([2.0, -3.0, 0.5, 7.0]) {
            assert!((a - b).abs() < 1e-13, "{got:?}");
        }
        let course = Course { h_s: 1.0, ..Course::default() };
        let w = course.weights(0, 1.0).node;
        for (a, b) in w.into_iter().zip([1.0 / 12.0, 5.0 / 12.0, 5.0 / 12.0, 1.0 / 12.0]) {
            assert!((a - b).abs() < 1e-14, "{w:?}");
        }
    }
}
