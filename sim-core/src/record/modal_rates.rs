//! The ledger's lines over a step of the plain model with the unit off, from smooth parts and decays.
//!
//! What [`super::ledger::rates`] books. Every term is integrated on its own: no line is the rest of others but what a battery
//! stores, as everywhere.

use super::ledger::{Ledger, Line};
use super::plain_rates::{HOUSE_LINES, STARTER_LINES, shares};
use crate::engine::lean::modal::{NODES, Step, Weights};
use crate::network::Net;
use crate::plant::battery::{Battery, BatteryHold};
use crate::plant_view::Held;
use crate::plant_view::plain::{Cell, PlainHeld};
use crate::state::{HOUSE, STARTER};

/// A quantity over the step: smooth at the nodes, and so much of each decay.
#[derive(Debug, Clone, Copy)]
struct Signal {
    smooth: [f64; NODES],
    decay: [f64; 2],
}

impl Signal {
    fn new(values: [f64; NODES], decay: [f64; 2], left: &[[f64; 2]; NODES]) -> Signal {
        let smooth = std::array::from_fn(|n| values[n] - decay[0] * left[n][0] - decay[1] * left[n][1]);
        Signal { smooth, decay }
    }

    fn integral(&self, w: &Weights) -> f64 {
        let smooth: f64 = (0..NODES).map(|n| w.node[n] * self.smooth[n]).sum();
        smooth + w.decay[0] * self.decay[0] + w.decay[1] * self.decay[1]
    }

    fn times(&self, other: &Signal, w: &Weights) -> f64 {
        let ([a, b], [c, d]) = (self.decay, other.decay);
        let mut sum = a * c * w.pair[0] + (a * d + b * c) * w.pair[1] + b * d * w.pair[2];
        for n in 0..NODES {
            let (s, t) = (self.smooth[n], other.smooth[n]);
            sum += w.node[n] * s * t + w.cross[0][n] * (a * t + c * s) + w.cross[1][n] * (b * t + d * s);
        }
        sum
    }
}

/// One battery and its bus.
struct Side<'a> {
    volts: Signal,
    amps: Signal,
    sources: [Signal; 2],
    w: &'a Weights,
}

impl<'a> Side<'a> {
    fn new(step: &Step, nets: &[Net; NODES], side: usize, w: &'a Weights) -> Side<'a> {
        let (m, left, emf) = (step.modes(side), &step.left[side], step.emf(side));
        let signal = |value: &dyn Fn(&Net) -> f64, per_v: f64| {
            Signal::new(nets.map(|n| value(&n)), emf.map(|v| per_v * v), left)
        };
        if side == 0 {
            Side {
                volts: signal(&|n| n.sb_v, m.posts),
                amps: signal(&|n| n.starter_a, -m.gamma),
                sources: [
                    signal(&|n| n.alternator_a, m.source[0]),
                    signal(&|n| n.starter_source_a, m.source[1]),
                ],
                w,
            }
        } else {
            Side {
                volts: signal(&|n| n.house_v, m.posts),
                amps: signal(&|n| n.house_a, -m.gamma),
                sources: [signal(&|n| n.solar_a, m.source[0]), signal(&|n| n.charger_a, m.source[1])],
                w,
            }
        }
    }

    /// Charge at the posts; charge and energy of each source.
    fn flows(&self) -> (f64, [(f64, f64); 2]) {
        let source = |s: &Signal| (s.integral(self.w), s.times(&self.volts, self.w));
        (self.amps.integral(self.w), [source(&self.sources[0]), source(&self.sources[1])])
    }

    /// Books a battery's charge and energy.
    fn battery(
        &self,
        (battery, cell): (&Battery, &Cell),
        hold: &BatteryHold,
        (step, side): (&Step, usize),
        charge: f64,
        ledger: &mut Ledger,
    ) {
        let lines = [STARTER_LINES, HOUSE_LINES][side];
        let place = [STARTER, HOUSE][side];
        let efficiency = battery.plain().map_or(1.0, |b| b.charge_efficiency);
        let of = shares(hold.plain, efficiency);
        for (line, share) in lines[..2].iter().zip(of) {
            ledger.0[*line as usize] += share * charge;
        }
        let (w, left) = (self.w, &step.left[side]);
        let posts_j = self.volts.times(&self.amps, w);
        let mut heat_j = cell.r0_ohm * self.amps.times(&self.amps, w);
        for (j, decay) in step.branches(side).into_iter().enumerate() {
            let v = Signal::new(step.x.map(|x| x[place + 1 + j]), decay, left);
            heat_j += cell.branch_g[j] * v.times(&v, w);
        }
        let gone = of[0] + of[1];
        let forgone_j = if gone == 0.0 {
            0.0
        } else {
            let rested = Signal::new(step.x.map(|x| cell.rested_v(x[place])), [0.0; 2], left);
            gone * rested.times(&self.amps, w)
        };
        let amounts = [posts_j, heat_j, forgone_j, posts_j - heat_j - forgone_j];
        for (line, j) in lines[2..].iter().zip(amounts) {
            ledger.0[*line as usize] += j;
        }
    }
}

/// Adds the integrals over the first `dt` seconds of the step; `nets` are the nodes'.
pub fn book(held: &Held, plain: &PlainHeld, step: &Step, nets: &[Net; NODES], dt: f64, ledger: &mut Ledger) {
    let (m, mode) = (held.model, &held.mode);
    let weights = [0, 1].map(|side| step.course.weights(side, dt));
    let starter = Side::new(step, nets, 0, &weights[0]);
    let house = Side::new(step, nets, 1, &weights[1]);
    let (starter_c, starter_sources) = starter.flows();
    let (house_c, house_sources) = house.flows();
    let volts_s = starter.volts.integral(&weights[0]);
    let vehicle_a = held.vehicle_a();
    let standby_a = nets[0].input_a;
    let cable_ohm = plain.bias.starter.cable_ohm;
    let mut put = |line: Line, amount: f64| ledger.0[line as usize] += amount;
    put(Line::VehicleC, vehicle_a * dt);
    put(Line::StarterUnservedC, held.unserved_a() * dt);
    put(Line::HouseUnservedJ, held.unserved_w() * dt);
    put(Line::VehicleJ, vehicle_a * volts_s);
    put(Line::StarterC, starter_c);
    put(Line::HouseC, house_c);
    put(Line::InputC, standby_a * dt);
    if !mode.engine_runs {
        put(Line::InputParkedC, standby_a * dt);
    }
    let run_j = cable_ohm * standby_a * standby_a * dt;
    let input_j = if held.input_open { 0.0 } else { standby_a * volts_s - run_j };
    put(Line::InputJ, input_j);
    put(Line::InputCableJ, run_j);
    put(Line::UnitLossJ, input_j);
    let load =
        Signal::new(nets.map(|n| n.house_load_a), step.emf(1).map(|v| step.modes(1).load * v), &step.left[1]);
    put(Line::HouseLoadC, load.integral(&weights[1]));
    put(Line::HouseLoadJ, held.house_load_w() * dt);
    let out_c = if nets.iter().all(|n| n.starter_a >= 0.0) {
        0.0
    } else if nets.iter().all(|n| n.starter_a <= 0.0) {
        -starter_c
    } else {
        (0..NODES).map(|n| weights[0].node[n] * (-nets[n].starter_a).max(0.0)).sum()
    };
    put(Line::StarterOutC, out_c);
    if mode.alternator_turns() {
        put(Line::AlternatorC, starter_sources[0].0);
        put(Line::AlternatorJ, starter_sources[0].1);
    }
    if plain.bias.starter.sources[1].present() {
        put(Line::StarterSourceC, starter_sources[1].0);
        put(Line::StarterSourceJ, starter_sources[1].1);
    }
    if plain.bias.house.sources[0].present() {
        put(Line::SolarC, house_sources[0].0);
        put(Line::SolarJ, house_sources[0].1);
    }
    if plain.bias.house.sources[1].present() {
        put(Line::MainsC, house_sources[1].0);
        put(Line::MainsJ, house_sources[1].1);
    }
    starter.battery((&m.starter, &plain.starter), &mode.starter_hold, (step, 0), starter_c, ledger);
    house.battery((&m.house, &plain.house), &mode.house_hold, (step, 1), house_c, ledger);
}
