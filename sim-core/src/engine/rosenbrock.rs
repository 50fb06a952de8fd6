//! The fast stepper's long step: one of Rodas5P ([`super::rodas5p`]), L-stable and stiffly accurate, with its continuous
//! extension of order 4.
//!
//! States that follow within seconds bound no step here, so a steady hour costs a few steps. States of charge and ledgers
//! are then integrated with one quadrature over the continuous states, so charge closes to rounding.

use super::dense::Dense;
use super::dormand_prince::Stage;
use super::guards::{GUARDS, Values, evaluate_at};
use super::rodas5p::{AT, GAMMA, NODES, STAGES, WEIGHT, bends, error, stages, weight};
use crate::network::{Net, Regime, solve_in};
use crate::plant_view::Held;
use crate::plant_view::linear::{Factored, Linear};
use crate::record::ledger::{Ledger, Line, rates};
use crate::state::{HOUSE, N, PLAIN, SCALE, STARTER, Vector};

/// An attempted step, and once finished all that is read from it.
#[derive(Debug, Clone)]
pub struct Attempt {
    /// Length, s.
    pub h_s: f64,
    /// Estimated error over tolerance: accepted at or under 1.
    pub error: f64,
    /// Continuous states.
    pub dense: Dense,
    /// The step's end, once finished.
    pub end: Stage,
    /// Volts and amps at the quadrature's nodes, once finished.
    pub nets: [Net; NODES],
    /// Guards at the nodes but the first, and at the end.
    pub guards: [Values; NODES],
    rates: [Ledger; NODES],
    linear: Option<Linear>,
    factored: Factored,
    increments: [Vector; STAGES],
}

impl Default for Attempt {
    fn default() -> Attempt {
        let zero = [0.0; N];
        Attempt {
            h_s: 0.0,
            error: 0.0,
            dense: Dense { h_s: 0.0, used: 0, y0: zero, r: [zero; 4] },
            end: Stage { y: zero, dy: zero, net: Net::default() },
            nets: [Net::default(); NODES],
            guards: [[0.0; GUARDS]; NODES],
            rates: [Ledger::default(); NODES],
            linear: None,
            factored: Factored::default(),
            increments: [zero; STAGES],
        }
    }
}

impl Attempt {
    /// Forgets what is known about the state at the beginning: a new step follows.
    pub fn forget(&mut self) {
        self.linear = None;
    }

    /// Attempts a step of `h_s` seconds from `first`, which stands at its beginning.
    pub fn attempt(&mut self, held: &Held, regime: Regime, first: &Stage, h_s: f64, tolerance: f64) {
        if self.linear.is_none() {
            self.linear = Some(Linear::new(held, 0.0, &first.y, &first.net, regime));
        }
        // Loops of a length known beforehand: the plain model's states, or all.
        if held.used <= PLAIN {
            self.stages::<PLAIN>(held, regime, first, h_s, tolerance);
        } else {
            self.stages::<N>(held, regime, first, h_s, tolerance);
        }
    }

    fn stages<const K: usize>(
        &mut self,
        held: &Held,
        regime: Regime,
        first: &Stage,
        h_s: f64,
        tolerance: f64,
    ) {
        let Some(linear) = &self.linear else { return };
        let f = &mut self.factored;
        linear.factor(1.0 / (h_s * GAMMA), f);
        let to_time = linear.time_slope();
        let k = &mut self.increments;
        let flow = |dt: f64, y: &Vector| {
            let warm = held.warm(y);
            let net = held.complete(y, solve_in(&held.bias_at(&warm, dt, y), regime));
            held.flow(&warm, y, &net)
        };
        let y = stages::<K, N>(k, (&first.y, &first.dy), h_s, to_time.as_ref(), flow, |x| linear.solve(f, x));
        self.error = error::<K, N>(k, &SCALE, tolerance);
        bends::<K, N>(k, &mut self.dense.r);
        for i in 0..K {
            self.dense.r[0][i] = y[i] - first.y[i];
        }
        (self.dense.h_s, self.dense.used, self.dense.y0) = (h_s, held.used, first.y);
        self.h_s = h_s;
    }

    /// Integrates states of charge and ledger rates over an accepted step, and evaluates its end and all guards.
    pub fn finish(&mut self, held: &Held, regime: Regime, first: &Stage) {
        for n in 0..NODES {
            let dt = AT[n] * self.h_s;
            let y = if n == 0 { first.y } else { self.dense.at(dt) };
            let warm = held.warm(&y);
            if n == 0 {
                self.nets[0] = first.net;
            } else {
                let bias = held.bias_at(&warm, dt, &y);
                self.nets[n] = held.complete(&y, solve_in(&bias, regime));
                self.guards[n - 1] = evaluate_at(held, regime, &warm, &bias, &y, &self.nets[n]);
            }
            self.rates[n] = rates(held, &warm, &y, &self.nets[n]);
        }
        self.charge(STARTER, held.model.starter.capacity_c(), STARTER_CHARGE);
        self.charge(HOUSE, held.model.house.capacity_c(), HOUSE_CHARGE);
        let y = self.dense.at(self.h_s);
        let warm = held.warm(&y);
        let bias = held.bias_at(&warm, self.h_s, &y);
        let net = held.complete(&y, solve_in(&bias, regime));
        self.guards[NODES - 1] = evaluate_at(held, regime, &warm, &bias, &y, &net);
        self.end = Stage { y, dy: held.flow(&warm, &y, &net), net };
    }

    /// Puts a state of charge on the quadrature of its rates.
    fn charge(&mut self, place: usize, capacity_c: f64, lines: [Line; 6]) {
        let rate: [f64; NODES] = std::array::from_fn(|n| {
            let [net, lost, refused, gassed, own, unserved] = lines.map(|l| self.rates[n].get(l));
            (net - lost - refused - gassed - own + unserved) / capacity_c
        });
        let power = |p: usize| self.h_s * (0..NODES).map(|n| rate[n] * WEIGHT[n][p]).sum::<f64>();
        let (second, third, fourth) = (power(1), power(2), power(3));
        let r = &mut self.dense.r;
        r[0][place] = power(0) + second + third + fourth;
        r[1][place] = -(second + third + fourth);
        r[2][place] = -third - 2.0 * fourth;
        r[3][place] = fourth;
    }

    /// Adds the ledger's integrals over the first `dt` seconds.
    pub fn book(&self, dt: f64, ledger: &mut Ledger) {
        let u = dt / self.h_s;
        for n in 0..NODES {
            ledger.add(&self.rates[n], weight(n, u) * self.h_s);
        }
    }
}

/// What a battery's charge goes into: at its posts, lost, refused, gassed, self-discharged, unserved.
const STARTER_CHARGE: [Line; 6] = [
    Line::StarterC,
    Line::StarterLostC,
    Line::StarterRefusedC,
    Line::StarterGassedC,
    Line::StarterSelfC,
    Line::StarterUnservedC,
];
const HOUSE_CHARGE: [Line; 6] = [
    Line::HouseC,
    Line::HouseLostC,
    Line::HouseRefusedC,
    Line::HouseGassedC,
    Line::HouseSelfC,
    Line::HouseUnservedC,
];
