//! `(shift·I − J) x = r` by blocks: the network's part is four columns, put in by Woodbury's identity.

use super::small::{add, battery_solve, divided, eliminate, substitute, times};
use super::{
    ALTERNATOR_AT, CASE_AT, COPPERS, GENERATOR, HOUSE_AT, HOUSE_V, INPUT_A, INPUT_WIRES, Linear, OUTPUT_A,
    STARTER_AT, STARTER_V, WIRES,
};
use crate::network::sensitivity::{
    CAP, HOUSE_SHIFT, INPUT_OHM, INPUTS, KINK, OUTPUT_OHM, OUTPUTS, STARTER_SHIFT, TARGET,
};
use crate::plant::battery::slopes::{Row, STATES};
use crate::state::{self, N, Vector};

/// Blocks factorised for one step length.
#[derive(Debug, Clone, Copy, Default)]
pub struct Factored {
    starter: [Row; STATES],
    house: [Row; STATES],
    case: [[f64; 2]; 2],
    case_det: f64,
    wire: [f64; WIRES],
    alternator: [[f64; GENERATOR]; GENERATOR],
    seen: f64,
    columns: [Vector; OUTPUTS],
    outputs: [[f64; INPUTS]; OUTPUTS],
}

impl Linear {
    /// The network's inputs that a change of the states makes.
    fn inputs(&self, x: &Vector) -> [f64; INPUTS] {
        let mut z = [0.0; INPUTS];
        for n in 0..3 {
            z[STARTER_SHIFT] += self.starter.shift[n] * x[STARTER_AT[n]];
            z[HOUSE_SHIFT] += self.house.shift[n] * x[HOUSE_AT[n]];
        }
        z[CAP] = self.case_cap * x[state::CASE_C];
        if self.beyond {
            z[STARTER_SHIFT] += self.starter.shift[3] * x[STARTER_AT[3]];
            for n in 3..STATES {
                z[HOUSE_SHIFT] += self.house.shift[n] * x[HOUSE_AT[n]];
            }
            z[TARGET] = self.house_target * x[state::HOUSE_C];
            for n in 0..COPPERS {
                let run = if n < INPUT_WIRES { INPUT_OHM } else { OUTPUT_OHM };
                z[run] += self.wire_ohm[n] * x[state::INPUT_CABLE_C + n];
            }
            for n in 0..GENERATOR {
                z[STARTER_SHIFT] += self.alternator_shift[n] * x[ALTERNATOR_AT[n]];
                z[KINK] += self.alternator_kink[n] * x[ALTERNATOR_AT[n]];
            }
        }
        z
    }

    /// What a change of the network's outputs does to the derivatives.
    fn felt(&self, q: &[f64; OUTPUTS]) -> Vector {
        let mut out = [0.0; N];
        for n in 0..3 {
            out[STARTER_AT[n]] = self.starter.to_volts[n] * q[STARTER_V];
            out[HOUSE_AT[n]] = self.house.to_volts[n] * q[HOUSE_V];
        }
        out[state::CASE_C] = (0..OUTPUTS).map(|n| self.case_feels[n] * q[n]).sum();
        if self.beyond {
            out[STARTER_AT[3]] = self.starter.to_volts[3] * q[STARTER_V];
            for n in 3..STATES {
                out[HOUSE_AT[n]] = self.house.to_volts[n] * q[HOUSE_V];
            }
            for n in 0..WIRES {
                let input = n < INPUT_WIRES || n == 6;
                out[state::INPUT_CABLE_C + n] =
                    self.wire_feels[n] * q[if input { INPUT_A } else { OUTPUT_A }];
            }
            for n in 0..GENERATOR {
                out[ALTERNATOR_AT[n]] = self.alternator_feels[n] * q[STARTER_V];
            }
            out[state::SEEN_V] = self.seen_feels[0] * q[INPUT_A] + self.seen_feels[1] * q[STARTER_V];
        }
        out
    }

    /// How the derivatives change with time alone: the soft start.
    pub fn time_slope(&self) -> Option<Vector> {
        (self.ramp != 0.0).then(|| self.felt(&std::array::from_fn(|n| self.s[n][CAP] * self.ramp)))
    }

    /// Factorises `shift·I − J`.
    pub fn factor(&self, shift: f64, f: &mut Factored) {
        f.case = [[shift - self.case[0][0], -self.case[0][1]], [-self.case[1][0], shift - self.case[1][1]]];
        f.case_det = 1.0 / (f.case[0][0] * f.case[1][1] - f.case[0][1] * f.case[1][0]);
        if self.beyond {
            eliminate::<4, STATES>(&self.starter.d, shift, &mut f.starter);
            eliminate::<6, STATES>(&self.house.d, shift, &mut f.house);
            eliminate::<GENERATOR, GENERATOR>(&self.alternator, shift, &mut f.alternator);
            f.wire = self.wire.map(|d| 1.0 / (shift - d));
            f.seen = 1.0 / (shift - self.seen);
        } else {
            eliminate::<3, STATES>(&self.starter.d, shift, &mut f.starter);
            eliminate::<3, STATES>(&self.house.d, shift, &mut f.house);
        }
        let mut k = [[0.0; OUTPUTS]; OUTPUTS];
        for n in 0..OUTPUTS {
            k[n][n] = 1.0;
        }
        for n in (0..OUTPUTS).filter(|&n| self.live[n]) {
            let mut q = [0.0; OUTPUTS];
            q[n] = 1.0;
            let mut column = self.felt(&q);
            self.blocks(f, &mut column);
            let moved = times(&self.s, &self.inputs(&column));
            f.columns[n] = column;
            for m in 0..OUTPUTS {
                k[m][n] -= moved[m];
            }
        }
        f.outputs = divided(k, &self.s);
    }

    /// Solves `(shift·I − D) x = r` in place.
    fn blocks(&self, f: &Factored, x: &mut Vector) {
        if !self.beyond {
            battery_solve::<3>(&f.starter, &STARTER_AT, x);
            battery_solve::<3>(&f.house, &HOUSE_AT, x);
            x[state::CASE_C] /= f.case[0][0];
            return;
        }
        battery_solve::<4>(&f.starter, &STARTER_AT, x);
        battery_solve::<6>(&f.house, &HOUSE_AT, x);
        let mut a = ALTERNATOR_AT.map(|at| x[at]);
        substitute::<GENERATOR, GENERATOR>(&f.alternator, &mut a);
        for n in 0..GENERATOR {
            x[ALTERNATOR_AT[n]] = a[n];
        }
        for n in 0..WIRES {
            x[state::INPUT_CABLE_C + n] *= f.wire[n];
        }
        for n in 0..COPPERS {
            x[state::CASE_C] += self.case_of_wire[n] * x[state::INPUT_CABLE_C + n];
        }
        for n in 0..INPUT_WIRES {
            x[state::SEEN_V] += self.seen_of_wire[n] * x[state::INPUT_CABLE_C + n];
        }
        x[state::SEEN_V] *= f.seen;
        let [case, locker] = CASE_AT.map(|at| x[at]);
        x[CASE_AT[0]] = (case * f.case[1][1] - f.case[0][1] * locker) * f.case_det;
        x[CASE_AT[1]] = (f.case[0][0] * locker - f.case[1][0] * case) * f.case_det;
    }

    /// Solves `(shift·I − J) x = r` in place.
    pub fn solve(&self, f: &Factored, x: &mut Vector) {
        self.blocks(f, x);
        let q = times(&f.outputs, &self.inputs(x));
        for n in (0..OUTPUTS).filter(|&n| self.live[n]) {
            if self.beyond {
                add::<N>(x, q[n], &f.columns[n]);
            } else {
                add::<{ state::PLAIN }>(x, q[n], &f.columns[n]);
            }
        }
    }

    /// `J·x`.
    pub fn apply(&self, x: &Vector) -> Vector {
        let mut out = self.felt(&times(&self.s, &self.inputs(x)));
        for (cell, at) in [(&self.starter, &STARTER_AT), (&self.house, &HOUSE_AT)] {
            let states = if at[4] == 0 { 4 } else { STATES };
            for m in 0..states {
                for n in 0..states {
                    out[at[m]] += cell.d[m][n] * x[at[n]];
                }
            }
        }
        out[CASE_AT[0]] += self.case[0][0] * x[CASE_AT[0]];
        if self.beyond {
            out[CASE_AT[0]] += self.case[0][1] * x[CASE_AT[1]];
            out[CASE_AT[1]] += self.case[1][0] * x[CASE_AT[0]] + self.case[1][1] * x[CASE_AT[1]];
            for n in 0..WIRES {
                out[state::INPUT_CABLE_C + n] += self.wire[n] * x[state::INPUT_CABLE_C + n];
            }
            for n in 0..COPPERS {
                out[CASE_AT[0]] += self.case_of_wire[n] * x[state::INPUT_CABLE_C + n];
            }
            for n in 0..INPUT_WIRES {
                out[state::SEEN_V] += self.seen_of_wire[n] * x[state::INPUT_CABLE_C + n];
            }
            for m in 0..GENERATOR {
                for n in 0..GENERATOR {
                    out[ALTERNATOR_AT[m]] += self.alternator[m][n] * x[ALTERNATOR_AT[n]];
                }
            }
            out[state::SEEN_V] += self.seen * x[state::SEEN_V];
        }
        out
    }
}
