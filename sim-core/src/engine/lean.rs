//! The fast stepper's steps for plain models: exact decays while the unit is off ([`modal`]), an explicit pair for a second
//! or two ([`short`]), and Rodas5P on seven states and what couples them, see [`PlainHeld`].
//!
//! The same method, quadrature and continuous extension as [`super::rosenbrock`]; only what each evaluation costs differs.

pub(crate) mod modal;
mod phi;
mod short;

use super::dense::{Continuous, Dense};
use super::dormand_prince::Stage;
use super::fades::Fades;
use super::guards::{GUARDS, Values, evaluate_plain};
use super::rodas5p::{AT, GAMMA, NODES, STAGES, WEIGHT, bends, error, stages, weight};
use crate::network::Net;
use crate::plant_view::Held;
use crate::plant_view::plain::modes::Modes;
use crate::plant_view::plain::{LANES, Plain, PlainFactored, PlainHeld, PlainLinear, put, taken};
use crate::record::ledger::Ledger;
use crate::record::modal_rates;
use crate::record::plain_rates::{Node, book};
use crate::state::{HOUSE, N, PLAIN, SCALE, STARTER, Vector};

/// Up to this length, s, the short method is tried first. The plain model's fastest feedback takes some ten seconds.
const SHORT_S: f64 = 1.5;
/// Shorter steps than this, s, gain nothing from exact decays.
const LEAST_MODAL_S: f64 = 1.0;
/// Under this tolerance its low order makes it dear, and ledgers of energy close worse.
const SHORT_TOLERANCE: f64 = 1e-7;

/// How many times the tolerance a transient's fifth power may be: the method's error constant, measured.
const TRANSIENT: f64 = 200.0;

/// An attempted step, and once finished all that is read from it.
#[derive(Debug, Clone)]
pub struct Attempt {
    /// Length, s.
    pub h_s: f64,
    /// Estimated error over tolerance: accepted at or under 1.
    pub error: f64,
    /// The step's end, once finished.
    pub end: Stage,
    /// Guards at the nodes but the first, and at the end.
    pub guards: [Values; NODES],
    nodes: [Node; NODES],
    held: Option<PlainHeld>,
    linear: Option<PlainLinear>,
    k: [Plain; STAGES],
    x0: Plain,
    base: Vector,
    r: [Plain; 4],
    /// Taken by the short method.
    short: bool,
    /// The short method was not exact enough here.
    too_coarse: bool,
    step: short::Step,
    /// The unit is off: decays may be taken exactly.
    resting: bool,
    /// Taken so.
    modal: bool,
    /// A step was cut where the volts turn, since a guard stood below zero there.
    cut: bool,
    modes: Option<[Modes; 2]>,
    decays: modal::Step,
    nets: [Net; modal::NODES],
}

impl Default for Attempt {
    fn default() -> Attempt {
        let zero = [0.0; LANES];
        Attempt {
            h_s: 0.0,
            error: 0.0,
            end: Stage { y: [0.0; N], dy: [0.0; N], net: Net::default() },
            guards: [[0.0; GUARDS]; NODES],
            nodes: [Node::default(); NODES],
            held: None,
            linear: None,
            k: [zero; STAGES],
            x0: zero,
            base: [0.0; N],
            r: [zero; 4],
            short: false,
            too_coarse: false,
            step: short::Step::default(),
            resting: false,
            modal: false,
            cut: false,
            modes: None,
            decays: modal::Step::default(),
            nets: [Net::default(); modal::NODES],
        }
    }
}

impl Attempt {
    /// Takes over what is held from here on; returns whether it is a plain model.
    pub fn hold(&mut self, held: Option<PlainHeld>, off: bool) -> bool {
        self.held = held;
        self.modes = None;
        self.cut = false;
        self.resting = off && held.is_some_and(|h| h.rests());
        self.linear = None;
        self.too_coarse = false;
        self.held.is_some()
    }

    /// Takes over what is held where only time has gone on.
    pub fn hold_on(&mut self, held: Option<PlainHeld>) {
        self.held = held;
        self.linear = None;
    }

    /// Evaluates the state where what is held begins.
    pub fn first(&self, y: &Vector) -> Stage {
        let mut first = Stage { y: *y, dy: [0.0; N], net: Net::default() };
        if let Some(plain) = &self.held {
            let x = taken(y);
            let p = plain.point(0.0, &x);
            first.net = plain.net(&p);
            put(&mut first.dy, &plain.flow(&x, &p));
        }
        first
    }

    /// A first step that leaves the branches' transients within the tolerance, s.
    pub fn first_step_s(&self, first: &Stage, tolerance: f64) -> f64 {
        let Some(plain) = &self.held else { return 0.0 };
        let mut speed: f64 = 1e-30;
        for (cell, at) in [(&plain.starter, STARTER), (&plain.house, HOUSE)] {
            for n in 0..2 {
                // A transient of amplitude |dv|/rate, its fifth power in the error.
                let rate = cell.rate[n];
                speed = speed.max(rate * rate * rate * rate * first.dy[at + 1 + n].abs());
            }
        }
        (TRANSIENT * tolerance / speed).powf(0.2)
    }

    /// Forgets what is known about the state at the beginning: a new step follows.
    pub fn forget(&mut self) {
        self.linear = None;
    }

    /// Attempts a step of `h_s` seconds from `first`, which stands at its beginning.
    /// The implicit method may err by `allowance` times the tolerance.
    pub fn attempt(&mut self, whole: &Held, first: &Stage, h_s: f64, tolerance: f64, allowance: f64) {
        let Some(held) = &self.held else { return };
        let x0 = taken(&first.y);
        (self.x0, self.base, self.h_s) = (x0, first.y, h_s);
        self.modal = false;
        // A second at a time, decays are worth nothing: the explicit pair costs less.
        if self.resting && (h_s > SHORT_S || tolerance < SHORT_TOLERANCE) {
            let p0 = held.point(0.0, &x0);
            if self.modes.is_none() {
                self.modes = held.modes(&x0, &first.net);
            }
            if let Some(modes) = &self.modes {
                self.short = false;
                self.decays.attempt(held, modes, (&x0, &p0), h_s, tolerance);
                self.error = self.decays.error;
                if self.error <= 1.0
                    && let Some(turn_s) = self.passed_unseen(whole, held)
                {
                    // The step ends where the volts turn: a condition that they pass on their way flips at its end.
                    self.error = (0.9 * h_s / turn_s).powi(5).max(1.001);
                    self.cut = true;
                }
                self.modal = true;
                // Whatever does not suit it at a second's length is left to the other methods.
                self.resting = self.error <= 1.0 || h_s > LEAST_MODAL_S;
                return;
            }
            self.resting = false;
        }
        self.short = h_s <= SHORT_S && tolerance >= SHORT_TOLERANCE && !held.ramps() && !self.too_coarse;
        if self.short {
            self.step.attempt(held, &x0, &taken(&first.dy), h_s, tolerance);
            self.error = self.step.error;
            self.too_coarse = self.error.is_nan() || self.error > 1.0;
            return;
        }
        let linear =
            self.linear.get_or_insert_with(|| PlainLinear::new(held, &x0, &held.point(0.0, &x0), &first.net));
        let f: PlainFactored = linear.factor(1.0 / (h_s * GAMMA));
        let x = stages::<LANES, LANES>(
            &mut self.k,
            (&x0, &taken(&first.dy)),
            h_s,
            linear.time_slope(),
            |dt, x| held.flow(x, &held.point(dt, x)),
            |x| linear.solve(&f, x),
        );
        self.error = error::<PLAIN, LANES>(&self.k[STAGES - 1], &SCALE, allowance * tolerance);
        for i in 0..LANES {
            self.r[0][i] = x[i] - x0[i];
        }
    }

    /// Where the volts turn within a step with decays and a guard stands below zero, s.
    fn passed_unseen(&self, held: &Held, plain: &PlainHeld) -> Option<f64> {
        self.decays.turns_s.into_iter().flatten().find(|&turn_s| {
            let x = self.decays.course.at(turn_s);
            let p = plain.point(turn_s, &x);
            let guards = evaluate_plain(held, plain, turn_s, &self.y(&x), &p, &plain.net(&p));
            guards.iter().any(|g| *g < 0.0)
        })
    }

    /// States `dt` seconds into the step.
    #[inline]
    fn x(&self, dt: f64) -> Plain {
        if self.modal {
            return self.decays.course.at(dt);
        }
        let u = dt / self.h_s;
        let w = 1.0 - u;
        let r = &self.r;
        let mut x = self.x0;
        for i in 0..LANES {
            x[i] = self.x0[i] + u * (r[0][i] + w * (r[1][i] + u * (r[2][i] + w * r[3][i])));
        }
        x
    }

    fn y(&self, x: &Plain) -> Vector {
        let mut y = self.base;
        put(&mut y, x);
        y
    }

    /// States of the whole vector `dt` seconds into the step.
    pub fn state_at(&self, dt: f64) -> Vector {
        self.y(&self.x(dt))
    }

    /// Guards `dt` seconds into the step.
    pub fn guards_at(&self, held: &Held, dt: f64) -> Values {
        let Some(plain) = &self.held else { return [0.0; GUARDS] };
        let x = self.x(dt);
        let p = plain.point(dt, &x);
        evaluate_plain(held, plain, dt, &self.y(&x), &p, &plain.net(&p))
    }

    /// Volts and amps `dt` seconds into the step.
    pub fn net_at(&self, dt: f64) -> Net {
        self.held.as_ref().map_or_else(Net::default, |plain| plain.net(&plain.point(dt, &self.x(dt))))
    }

    /// Volts at the unit's input at the nodes and at the end.
    pub fn in_v(&self) -> [f64; NODES + 1] {
        if self.modal {
            let [a, b, c, d] = self.nets.map(|n| n.in_v);
            return [a, b, c, d, d];
        }
        let [a, b, c, d] = self.nodes.map(|n| n.net.in_v);
        [a, b, c, d, self.end.net.in_v]
    }

    /// Integrates states of charge over an accepted step, and evaluates its nodes and its end.
    pub fn finish(&mut self, held: &Held, first: &Stage) {
        let Some(plain) = self.held else { return };
        if self.modal {
            return self.finish_modal(held, &plain);
        }
        if self.short {
            return self.finish_short(held, &plain, first);
        }
        bends::<LANES, LANES>(&self.k, &mut self.r);
        self.nodes[0] = Node::new(&plain, &self.x0, first.net);
        for n in 1..NODES {
            let dt = AT[n] * self.h_s;
            let x = self.x(dt);
            let p = plain.point(dt, &x);
            let net = plain.net(&p);
            self.guards[n - 1] = evaluate_plain(held, &plain, dt, &self.y(&x), &p, &net);
            self.nodes[n] = Node::new(&plain, &x, net);
        }
        self.charge(STARTER, plain.starter.soc_per_a, |n| n.net.starter_a);
        self.charge(HOUSE, plain.house.soc_per_a, |n| n.net.house_a);
        let x = self.x(self.h_s);
        let p = plain.point(self.h_s, &x);
        let (y, net) = (self.y(&x), plain.net(&p));
        self.guards[NODES - 1] = evaluate_plain(held, &plain, self.h_s, &y, &p, &net);
        let mut dy = [0.0; N];
        put(&mut dy, &plain.flow(&x, &p));
        self.end = Stage { y, dy, net };
    }

    fn finish_short(&mut self, held: &Held, plain: &PlainHeld, first: &Stage) {
        self.step.bends(self.h_s, &mut self.r);
        self.nodes[0] = Node::new(plain, &self.x0, first.net);
        for n in 1..NODES {
            let (x, p) = (self.step.x[n], self.step.points[n]);
            let (y, net) = (self.y(&x), plain.net(&p));
            self.guards[n - 1] = evaluate_plain(held, plain, short::C[n] * self.h_s, &y, &p, &net);
            self.nodes[n] = Node::new(plain, &x, net);
        }
        self.guards[NODES - 1] = self.guards[NODES - 2];
        let last = NODES - 1;
        let mut dy = [0.0; N];
        put(&mut dy, &self.step.k[last]);
        self.end = Stage { y: self.y(&self.step.x[last]), dy, net: self.nodes[last].net };
    }

    fn finish_modal(&mut self, held: &Held, plain: &PlainHeld) {
        let last = modal::NODES - 1;
        // The network at the beginning is solved anew: what the step before left was solved before its charge was summed.
        self.nets[0] = plain.net(&self.decays.points[0]);
        for n in 1..modal::NODES {
            let (x, p) = (&self.decays.x[n], &self.decays.points[n]);
            self.nets[n] = plain.net(p);
            let dt = modal::AT[n] * self.h_s;
            self.guards[n - 1] = evaluate_plain(held, plain, dt, &self.y(x), p, &self.nets[n]);
        }
        self.guards[NODES - 1] = self.guards[last - 1];
        let (x, p) = (&self.decays.x[last], &self.decays.points[last]);
        let mut dy = [0.0; N];
        put(&mut dy, &plain.flow(x, p));
        self.end = Stage { y: self.y(x), dy, net: self.nets[last] };
    }

    /// Where the volts turn back within the step, s.
    pub fn turns_s(&self) -> [Option<f64>; 2] {
        if self.modal { self.decays.turns_s } else { [None; 2] }
    }

    /// Whether decays are to be taken exactly.
    pub fn rests(&self) -> bool {
        self.resting
    }

    /// Whether a flip that an attempt's end did not show has been found by its turn.
    pub fn found_unseen(&self) -> bool {
        self.cut
    }

    /// Whether they were.
    pub fn is_modal(&self) -> bool {
        self.modal
    }

    /// Whether the short method took the step.
    pub fn is_short(&self) -> bool {
        self.short
    }

    /// Puts a state of charge on the quadrature of its current.
    fn charge(&mut self, place: usize, per_a: f64, current: impl Fn(&Node) -> f64) {
        let scale = self.h_s * per_a;
        let power =
            |p: usize| scale * (0..NODES).map(|n| current(&self.nodes[n]) * WEIGHT[n][p]).sum::<f64>();
        let (first, second, third, fourth) = (power(0), power(1), power(2), power(3));
        self.r[0][place] = first + second + third + fourth;
        self.r[1][place] = -(second + third + fourth);
        self.r[2][place] = -third - 2.0 * fourth;
        self.r[3][place] = fourth;
    }

    /// Continuous states, for a trace.
    pub fn dense(&self) -> Continuous {
        if self.modal {
            return Continuous::Decays(self.base, self.decays.course);
        }
        let mut r = [[0.0; N]; 4];
        for (wide, narrow) in r.iter_mut().zip(&self.r) {
            put(wide, narrow);
        }
        Continuous::Quartic(Dense { h_s: self.h_s, used: PLAIN, y0: self.base, r, fades: Fades::default() })
    }

    /// Adds the ledger's integrals over the first `dt` seconds.
    pub fn book(&self, held: &Held, dt: f64, ledger: &mut Ledger) {
        let Some(plain) = &self.held else { return };
        if self.modal {
            return modal_rates::book(held, plain, &self.decays, &self.nets, dt, ledger);
        }
        let u = dt / self.h_s;
        let weights = if self.short { short::weights(u) } else { std::array::from_fn(|n| weight(n, u)) };
        let weights = weights.map(|w| w * self.h_s);
        book(held, plain, &self.nodes, &weights, dt, ledger);
    }
}
