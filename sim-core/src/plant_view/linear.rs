//! The right-hand side linearised at one state, in the shape that it has.
//!
//! States couple in small blocks (each battery; the alternator; case and locker) and through four numbers of the network
//! only: `J = D + U·S·V`, D in blocks, V the network's inputs from the states, S its sensitivity, U the states' feeling
//! of its outputs. A linear solve is one small solve per block and one of four by four (Woodbury's identity).

use super::{Derate, Held};
use crate::network::sensitivity::{INPUTS, OUTPUTS, Sensitivity, sensitivity};
use crate::network::source::{Ceiling, SourceState};
use crate::network::{Limit, Net, Regime};
use crate::plant::battery::slopes::{Row, STATES, Slopes};
use crate::plant::conductor::COPPER_PER_K;
use crate::state::{self, Vector};

mod fast;
mod small;
mod solve;
pub use fast::{BRANCHES_AT, FAST_AT, Fast, FastBlocks};
pub use solve::Factored;

/// Where a battery's states stand in the vector.
const STARTER_AT: [usize; STATES] = [0, 1, 2, state::STARTER_C, 0, 0];
const HOUSE_AT: [usize; STATES] = [3, 4, 5, state::HOUSE_C, state::HOUSE_HYSTERESIS, state::HOUSE_UNRELAXED];
/// Conductors of both runs, then joints of both.
const WIRES: usize = 8;
/// Conductors of the input cable.
const INPUT_WIRES: usize = 4;
/// Both runs' conductors.
const COPPERS: usize = 6;
/// States of the alternator.
const GENERATOR: usize = 4;
/// Winding, picked-up current, set-point, regulator.
const ALTERNATOR_AT: [usize; GENERATOR] =
    [state::WINDING_C, state::PICKED_UP_A, state::SET_POINT_V, state::REGULATOR_C];
/// Case, locker.
const CASE_AT: [usize; 2] = [state::CASE_C, state::LOCKER_C];

const INPUT_A: usize = 0;
const STARTER_V: usize = 1;
const OUTPUT_A: usize = 2;
const HOUSE_V: usize = 3;

/// A battery's block: its matrix, the feeling of its posts' volts, its shift of the bus's current.
#[derive(Debug, Clone, Copy, Default)]
struct Cell {
    d: [Row; STATES],
    to_volts: Row,
    shift: Row,
}

impl Cell {
    fn new(s: &Slopes, i: f64, r_ohm: f64, conducting: bool) -> Cell {
        let mut cell = Cell { d: s.to_state, ..Cell::default() };
        if !conducting {
            return cell;
        }
        let g = 1.0 / r_ohm;
        for n in 0..STATES {
            cell.shift[n] = (s.emf[n] + i * s.ohm[n]) * g;
            cell.to_volts[n] = s.to_current[n] * g;
        }
        for m in 0..STATES {
            for n in 0..STATES {
                cell.d[m][n] -= s.to_current[m] * cell.shift[n];
            }
        }
        cell
    }
}

/// The linearised right-hand side.
#[derive(Debug, Clone, Copy)]
pub struct Linear {
    beyond: bool,
    s: Sensitivity,
    /// Which of the network's outputs can move at all.
    live: [bool; OUTPUTS],
    starter: Cell,
    house: Cell,
    house_target: f64,
    case: [[f64; 2]; 2],
    case_feels: [f64; OUTPUTS],
    case_of_wire: [f64; COPPERS],
    case_cap: f64,
    wire: [f64; WIRES],
    wire_feels: [f64; WIRES],
    wire_ohm: [f64; COPPERS],
    alternator: [[f64; GENERATOR]; GENERATOR],
    alternator_feels: [f64; GENERATOR],
    alternator_shift: [f64; GENERATOR],
    alternator_kink: [f64; GENERATOR],
    seen: f64,
    seen_feels: [f64; 2],
    seen_of_wire: [f64; INPUT_WIRES],
    ramp: f64,
}

impl Linear {
    /// Linearises at a state with its operating point, `dt` seconds into the held stretch.
    pub fn new(held: &Held, dt: f64, y: &Vector, net: &Net, regime: Regime) -> Linear {
        let warm = held.warm(y);
        let bias = held.bias_at(&warm, dt, y);
        let (m, mode) = (held.model, &held.mode);
        let link = m.link();
        let s = sensitivity(&bias, regime, net);
        let slopes =
            warm.starter.slopes(&m.starter.thermal, &state::starter(y), net.starter_a, &mode.starter_hold);
        let starter = Cell::new(&slopes, net.starter_a, bias.starter.r_ohm, true);
        let slopes = warm.house.slopes(&m.house.thermal, &state::house(y), net.house_a, &mode.house_hold);
        let conducting = regime.house.conducting;
        let house = Cell::new(&slopes, net.house_a, bias.house.r_ohm, conducting);
        let c = &link.converter;
        let (i, o) = (net.input_a, net.output_a);
        let heat = [net.in_v - bias.starter.cable_ohm * i, i, -(net.out_v + bias.house.cable_ohm * o), -o];
        let mut out = Linear {
            beyond: held.used > state::PLAIN,
            s,
            live: s.map(|row| row != [0.0; INPUTS]),
            starter,
            house,
            house_target: link.stages.v_per_k,
            case: [[-held.case_w_per_k() / c.case_j_per_k, 0.0], [0.0, 0.0]],
            case_feels: heat.map(|h| h / c.case_j_per_k),
            case_of_wire: [0.0; COPPERS],
            case_cap: 0.0,
            wire: [0.0; WIRES],
            wire_feels: [0.0; WIRES],
            wire_ohm: [0.0; COPPERS],
            alternator: [[0.0; GENERATOR]; GENERATOR],
            alternator_feels: [0.0; GENERATOR],
            alternator_shift: [0.0; GENERATOR],
            alternator_kink: [0.0; GENERATOR],
            seen: 0.0,
            seen_feels: [0.0; 2],
            seen_of_wire: [0.0; INPUT_WIRES],
            ramp: held.ramp_a_per_s,
        };
        if held.acts.derate {
            let share = super::derate_share(held, y);
            out.ramp *= share;
            if mode.derate == Derate::On {
                let cap_a = held.ramp_from_a + held.ramp_a_per_s * dt;
                out.case_cap = -cap_a / (c.derate_to_c - c.derate_from_c);
            }
        }
        if out.beyond {
            out.wires(held, y, net);
            out.air(held);
            out.generator(held, y, net, regime);
            out.filter(held, net, bias.starter.cable_ohm);
        }
        out
    }

    fn air(&mut self, held: &Held) {
        let c = &held.model.link().converter;
        if held.acts.locker {
            let released = held.case_w_per_k();
            self.case[0][1] = released / c.case_j_per_k;
            self.case[1][0] = released / c.locker.j_per_k;
            self.case[1][1] = -(released + c.locker.w_per_k) / c.locker.j_per_k;
        }
    }

    fn wires(&mut self, held: &Held, y: &Vector, net: &Net) {
        let link = held.model.link();
        let case_j_per_k = link.converter.case_j_per_k;
        for n in 0..COPPERS {
            let (run, n_in, i) = if n < INPUT_WIRES {
                (&link.input_cable, n, net.input_a)
            } else {
                (&link.output_cable, n - INPUT_WIRES, net.output_a)
            };
            let c = &run.conductors[n_in];
            if c.j_per_k > 0.0 {
                let slope = c.ohm_20 * COPPER_PER_K;
                self.wire_ohm[n] = slope;
                self.wire[n] = (i * i * slope - c.w_per_k) / c.j_per_k;
                self.wire_feels[n] = 2.0 * i * c.ohm_at(y[state::INPUT_CABLE_C + n]) / c.j_per_k;
                self.case_of_wire[n] = -i * i * slope / case_j_per_k;
            }
        }
        let extra_ohm = held.piece.input_joint_extra_ohm;
        for (n, run, i, extra_ohm) in
            [(6, &link.input_cable, net.input_a, extra_ohm), (7, &link.output_cable, net.output_a, 0.0)]
        {
            if run.joints_warm() {
                self.wire[n] = -run.joints_w_per_k / run.joints_j_per_k;
                self.wire_feels[n] = 2.0 * i * (run.joints_ohm + extra_ohm) / run.joints_j_per_k;
            }
        }
    }

    fn generator(&mut self, held: &Held, y: &Vector, net: &Net, regime: Regime) {
        let a = &held.model.alternator;
        let source = held.regulator(y);
        let ceiling_slope = |share_of: Ceiling| match (share_of, a.heat) {
            (Ceiling::Current(most), Some(h)) if a.heat_share(y[state::WINDING_C]) > 0.05 => {
                -h.derate_per_k * most / a.heat_share(y[state::WINDING_C])
            }
            _ => 0.0,
        };
        let rule = f64::from(u8::from(held.acts.rule));
        // How the regulator's temperature moves the set-point.
        let per_k = if held.acts.regulator { a.set_point_v_per_k } else { 0.0 };
        // What the source gives at fixed volts: by winding, by set-point, by volts.
        let gives = |state: SourceState| match state {
            SourceState::Regulating => (0.0, 1.0 / source.droop_ohm, -1.0 / source.droop_ohm),
            SourceState::Full => (ceiling_slope(source.ceiling), 0.0, 0.0),
            SourceState::Idle | SourceState::Absent => (0.0, 0.0, 0.0),
        };
        let mut current = [0.0; GENERATOR];
        let mut current_feels = 0.0;
        if held.acts.pick_up {
            self.alternator_shift[1] = 1.0;
            current[1] = 1.0;
            if let Some(p) = a.pick_up
                && !held.mode.slewing
            {
                let (winding, set_point, volts) = gives(source.state_at(net.sb_v));
                self.alternator[1] =
                    [winding, -1.0, rule * set_point, per_k * set_point].map(|slope| slope / p.lag_s);
                self.alternator_feels[1] = volts / p.lag_s;
            }
        } else {
            let (winding, set_point, volts) = gives(regime.starter[0]);
            let winding = if held.acts.winding { winding } else { 0.0 };
            self.alternator_shift = [winding, 0.0, rule * set_point, per_k * set_point];
            current = self.alternator_shift;
            current_feels = volts;
            if matches!(regime.limit, Limit::SourceKink | Limit::Starved) {
                // The alternator's own kink: its set-point, or where it is full.
                (self.alternator_kink[2], self.alternator_kink[3]) = (rule, per_k);
                if regime.starter[0] == SourceState::Regulating {
                    self.alternator_kink[0] = -source.droop_ohm * ceiling_slope(source.ceiling);
                }
            }
        }
        if let Some(h) = a.heat {
            let warmth = 2.0 * h.full_rise_k * net.alternator_a / (a.asymptote_a * a.asymptote_a * h.time_s);
            self.alternator[0] = current.map(|c| warmth * c);
            self.alternator[0][0] -= 1.0 / h.time_s;
            self.alternator_feels[0] = warmth * current_feels;
        }
        if let Some(regulator) = &a.regulator {
            self.alternator[3][3] = -1.0 / regulator.time_s(held.piece.engine_runs());
        }
    }

    fn filter(&mut self, held: &Held, net: &Net, cable_ohm: f64) {
        let rule = &held.model.link().start_stop;
        if held.acts.filter {
            self.seen = -1.0 / rule.filter_s;
            if held.input_open {
                // Nothing is at its input: what it sees dies away, whatever the starter battery does.
                return;
            }
            self.seen_feels = [(rule.compensation_ohm - cable_ohm) / rule.filter_s, 1.0 / rule.filter_s];
            for n in 0..INPUT_WIRES {
                self.seen_of_wire[n] = -net.input_a * self.wire_ohm[n] / rule.filter_s;
            }
        }
    }
}

#[cfg(test)]
mod tests;
