//! The fast stepper's long step: one of Rodas5P ([`super::rodas5p`]), L-stable and stiffly accurate, with its continuous
//! extension of order 4.
//!
//! States that follow within seconds bound no step here, so a steady hour costs a few steps, and what they do within a step is
//! taken out of it (`engine/fades.rs`). States of charge and ledgers are then integrated with one quadrature over the continuous
//! states, so charge closes to rounding.

use super::courses::Courses;
use super::dense::Dense;
use super::dormand_prince::Stage;
use super::fades::{FADES, Fades};
use super::guards::{GUARDS, Values, evaluate_at};
use super::rodas5p::{AT, GAMMA, NODES, STAGES, WEIGHT, add, bends, error, stages, weight};
use crate::network::{Net, Regime, solve_in};
use crate::plant_view::Held;
use crate::plant_view::linear::{FAST_AT, Factored, Linear};
use crate::run_data::ledger::{Ledger, Line, rates};
use crate::state::{HOUSE, N, PLAIN, SCALE, STARTER, Vector};
use std::cell::Cell;

mod decays;
use decays::Decays;

/// Under this allowance, V, decays are left to the step: what is not linear in them would have to be followed all the same.
const FADES_FROM: f64 = 9e-5;
/// Decays that reach less far than this share of what is allowed, V, are left to the step.
const LEAST_REACH: f64 = 0.1;
/// How much more closely than its end a step is held inside, where events are located.
const INSIDE: f64 = 10.0;

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
    /// Rates at the nodes, what the decays do to them taken out.
    rates: [Ledger; NODES],
    decays: Decays,
    /// All decays from where the step begins, however long it is.
    fades: Fades,
    allowed: f64,
    off_inside: bool,
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
            dense: Dense { h_s: 0.0, used: 0, y0: zero, r: [zero; 4], fades: Fades::default() },
            end: Stage { y: zero, dy: zero, net: Net::default() },
            nets: [Net::default(); NODES],
            guards: [[0.0; GUARDS]; NODES],
            rates: [Ledger::default(); NODES],
            decays: Decays::default(),
            fades: Fades::default(),
            allowed: 0.0,
            off_inside: false,
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

    /// Linearises where a step begins, and finds what dies away from there.
    pub fn prepare(&mut self, held: &Held, regime: Regime, first: &Stage, allowed: f64) {
        if self.linear.is_some() {
            return;
        }
        let linear = Linear::new(held, 0.0, &first.y, &first.net, regime);
        self.fades = Fades::default();
        if held.used > PLAIN && takes_decays_out(allowed) {
            let mut bend = linear.apply(&first.dy);
            if let Some(to_time) = linear.time_slope() {
                add::<N, N>(&mut bend, 1.0, &to_time);
            }
            self.fades = Fades::new(&linear.fast(held.follows_regulator()), &bend);
        }
        self.linear = Some(linear);
    }

    /// What dies away from where the step begins, however long it is; known once it is prepared.
    pub fn fades(&self) -> &Fades {
        &self.fades
    }

    /// Derivatives at the beginning, what dies away by itself taken out.
    pub fn slow_dy(&self, first: &Stage) -> Vector {
        let mut dy = first.dy;
        self.fades.still(&[1.0; FADES], &mut dy);
        dy
    }

    /// Whether the last attempt was furthest off inside the step.
    pub fn off_inside(&self) -> bool {
        self.off_inside
    }

    /// Attempts a step of `h_s` seconds from `first`, which stands at its beginning.
    pub fn attempt(&mut self, held: &Held, regime: Regime, first: &Stage, h_s: f64, tolerance: f64) {
        self.prepare(held, regime, first, tolerance);
        let Some(linear) = &self.linear else { return };
        (self.h_s, self.allowed, self.off_inside) = (h_s, tolerance, false);
        let fades = self.fades.within(h_s, LEAST_REACH * tolerance);
        self.dense.fades = fades;
        (self.dense.h_s, self.dense.used, self.dense.y0) = (h_s, held.used, first.y);
        self.decays.begin(&fades, linear);
        // Loops of a length known beforehand: the plain model's states, or all.
        if held.used <= PLAIN {
            self.stages::<PLAIN>(held, regime, first);
        } else {
            self.stages::<N>(held, regime, first);
        }
        if self.error <= 1.0 {
            self.look_inside(held, regime, first);
        }
    }

    /// The stages of all states.
    fn stages<const K: usize>(&mut self, held: &Held, regime: Regime, first: &Stage) {
        let (h_s, fades) = (self.h_s, self.dense.fades);
        let Some(linear) = &self.linear else { return };
        let f = &mut self.factored;
        linear.factor(1.0 / (h_s * GAMMA), f);
        let mut to_time = linear.time_slope();
        let decays = &self.decays;
        let mut dy = first.dy;
        if !fades.none() {
            decays.still(&[1.0; FADES], &mut dy);
            let (rise, bend) = decays.derivatives();
            let mut slope = to_time.unwrap_or([0.0; N]);
            add::<N, N>(&mut slope, 1.0, &linear.apply(&rise));
            add::<N, N>(&mut slope, -1.0, &bend);
            to_time = Some(slope);
        }
        let left_at = Cell::new((0.0, [1.0; FADES]));
        let flow = |dt: f64, z: &Vector| {
            if fades.none() {
                return flow_at(held, regime, dt, z);
            }
            if left_at.get().0 != dt {
                left_at.set((dt, fades.left(dt)));
            }
            let (mut y, left) = (*z, left_at.get().1);
            decays.go(&left, &mut y);
            let mut dy = flow_at(held, regime, dt, &y);
            decays.still(&left, &mut dy);
            dy
        };
        let k = &mut self.increments;
        let y = stages::<K, N>(k, (&first.y, &dy), h_s, to_time.as_ref(), flow, |x| linear.solve(f, x));
        self.error = error::<K, N>(&k[STAGES - 1], &SCALE, self.allowed);
        let r = &mut self.dense.r;
        bends::<K, N>(k, r);
        for i in 0..K {
            r[0][i] = y[i] - first.y[i];
        }
        decays.wake_go(&fades.left(h_s), &mut r[0]);
    }

    /// Evaluates the nodes, and holds the step to what is allowed inside too: what the decays leave of a transient is gone by the
    /// end of a long step, and the estimate with it, but events are looked for all along it.
    fn look_inside(&mut self, held: &Held, regime: Regime, first: &Stage) {
        let fades = self.dense.fades;
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
            if n == 1 && !fades.none() {
                let (wanted, found) =
                    (held.fast_flow(&warm, &y, &self.nets[1]), self.dense.rates(dt, FAST_AT));
                for (n, time_s) in fades.times_s(dt).into_iter().enumerate() {
                    self.off(INSIDE * time_s * (found[n] - wanted[n]).abs() / SCALE[FAST_AT[n]]);
                }
                if self.off_inside {
                    return;
                }
            }
            self.rates[n] = rates(held, &warm, &y, &self.nets[n]);
        }
    }

    /// Counts something that is off by so much, in units of the states' scales.
    fn off(&mut self, by: f64) {
        let off = by / self.allowed;
        // `max` would drop a NaN.
        if off > self.error || off.is_nan() {
            self.error = off;
            self.off_inside = off.is_nan() || off > 1.0;
        }
    }

    /// Integrates states of charge and ledger rates over an accepted step, and evaluates its end and all guards.
    pub fn finish(&mut self, held: &Held, regime: Regime, first: &Stage) {
        let fades = self.dense.fades;
        self.decays.look(held, regime, first, &fades, &self.rates[0], self.h_s);
        for n in 0..NODES {
            self.decays.take_out(&fades.left(AT[n] * self.h_s), &mut self.rates[n]);
        }
        let capacity = [held.model.starter.capacity_c(), held.model.house.capacity_c()];
        for (place, lines, capacity_c) in
            [(STARTER, STARTER_CHARGE, capacity[0]), (HOUSE, HOUSE_CHARGE, capacity[1])]
        {
            let rates = std::array::from_fn(|n| charge_rate(&self.rates[n], lines, capacity_c));
            self.put_on_quadrature(place, rates);
        }
        for (k, rates) in self.decays.seen() {
            let [starter, house] = [(STARTER_CHARGE, capacity[0]), (HOUSE_CHARGE, capacity[1])]
                .map(|(lines, capacity_c)| charge_rate(rates, lines, capacity_c));
            self.dense.fades.charge(k, [starter, house]);
        }
        let y = self.dense.at(self.h_s);
        let warm = held.warm(&y);
        let bias = held.bias_at(&warm, self.h_s, &y);
        let net = held.complete(&y, solve_in(&bias, regime));
        self.guards[NODES - 1] = evaluate_at(held, regime, &warm, &bias, &y, &net);
        self.end = Stage { y, dy: held.flow(&warm, &y, &net), net };
    }

    /// Puts a state on the quadrature of its rates at the nodes.
    fn put_on_quadrature(&mut self, place: usize, rate: [f64; NODES]) {
        let power = |p: usize| self.h_s * (0..NODES).map(|n| rate[n] * WEIGHT[n][p]).sum::<f64>();
        let (first, second, third, fourth) = (power(0), power(1), power(2), power(3));
        let r = &mut self.dense.r;
        r[0][place] = first + second + third + fourth;
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
        for (k, rates) in self.decays.seen() {
            let rate = self.dense.fades.rate[k];
            ledger.add(rates, -(-rate * dt).exp_m1() / rate);
        }
        for (k, rates) in self.decays.squares() {
            let rate = 2.0 * self.dense.fades.rate[k];
            ledger.add(rates, -(-rate * dt).exp_m1() / rate);
        }
    }

    /// What is known of the guards over an accepted step, where something dies away in it.
    pub fn courses<'a>(&'a self, first: &'a Values) -> Option<Courses<'a>> {
        let fades = &self.dense.fades;
        (!fades.none()).then(|| Courses::new(self.h_s, fades, first, &self.guards, self.decays.without()))
    }

    /// Volts at the unit's input where decays move them before the second node does: rough.
    pub fn early_in_v(&self) -> [f64; 2] {
        let dt = AT[1] * self.h_s;
        self.decays.early_in_v(&self.dense.fades, self.nets[0].in_v, (dt, self.nets[1].in_v))
    }
}

/// Whether what dies away within a step is taken out of it.
pub fn takes_decays_out(allowed: f64) -> bool {
    allowed > FADES_FROM
}

/// Derivatives at a state.
fn flow_at(held: &Held, regime: Regime, dt: f64, y: &Vector) -> Vector {
    let warm = held.warm(y);
    let net = held.complete(y, solve_in(&held.bias_at(&warm, dt, y), regime));
    held.flow(&warm, y, &net)
}

/// What rates move a state of charge by, 1/s.
fn charge_rate(rates: &Ledger, lines: [Line; 5], capacity_c: f64) -> f64 {
    let [net, lost, refused, gassed, own] = lines.map(|l| rates.get(l));
    (net - lost - refused - gassed - own) / capacity_c
}

/// What a battery's charge goes into: at its posts, lost, refused, gassed, self-discharged.
const STARTER_CHARGE: [Line; 5] =
    [Line::StarterC, Line::StarterLostC, Line::StarterRefusedC, Line::StarterGassedC, Line::StarterSelfC];
const HOUSE_CHARGE: [Line; 5] =
    [Line::HouseC, Line::HouseLostC, Line::HouseRefusedC, Line::HouseGassedC, Line::HouseSelfC];
