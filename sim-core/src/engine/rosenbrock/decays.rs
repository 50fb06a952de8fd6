//! What each decay of a step does: to all states, to the ledger, to the guards.

use crate::engine::dormand_prince::Stage;
use crate::engine::fades::{FADES, FILTER, Fades, Left};
use crate::engine::guards::{GUARDS, Values, evaluate_at};
use crate::engine::rodas5p::add;
use crate::network::{Regime, solve_in};
use crate::plant_view::Held;
use crate::plant_view::linear::Linear;
use crate::run_data::ledger::{Ledger, Line, rates};
use crate::state::{N, Vector};

/// In a step of more than so many time constants of a decay the nodes do not see what its square is worth.
const UNSEEN: f64 = 3.0;
/// Decays of the house battery, whose squares are looked at. Those of the starter side are over in tenths of a second: their
/// squares were worth less than 1e-7 of the energy, and looking at them a twentieth of a step.
const SQUARED: std::ops::Range<usize> = 2..FILTER;

/// The decays of one step.
#[derive(Debug, Clone)]
pub struct Decays {
    rate: [f64; FADES],
    /// How far each reaches in all states at the beginning, its wake included.
    size: [Vector; FADES],
    /// What each does to the states that are none of its own.
    wake: [Option<Vector>; 2],
    /// What it does to the rates at the beginning.
    rates: [Ledger; FADES],
    /// What goes with its square in the rates of energy there, where the nodes do not see it.
    squares: [Option<Ledger>; FADES],
    /// What it does to the volts at the unit's input there.
    in_v: [f64; FADES],
    /// Guards there without it.
    without: [Values; FADES],
}

impl Default for Decays {
    fn default() -> Decays {
        Decays {
            rate: [0.0; FADES],
            size: [[0.0; N]; FADES],
            wake: [None; 2],
            rates: [Ledger::default(); FADES],
            squares: [None; FADES],
            in_v: [0.0; FADES],
            without: [[0.0; GUARDS]; FADES],
        }
    }
}

impl Decays {
    /// Takes over a step's decays.
    pub fn begin(&mut self, fades: &Fades, linear: &Linear) {
        (self.rate, self.wake) = (fades.rate, [None; 2]);
        for k in (0..FADES).filter(|&k| fades.rate[k] > 0.0) {
            self.size[k] = fades.one(k);
            if k < 2 {
                let wake = fades.wake(k, &linear.apply(&self.size[k]));
                add::<N, N>(&mut self.size[k], 1.0, &wake);
                self.wake[k] = Some(wake);
            }
        }
    }

    fn add(&self, x: &mut Vector, share: impl Fn(usize) -> f64) {
        for k in (0..FADES).filter(|&k| self.rate[k] > 0.0) {
            add::<N, N>(x, share(k), &self.size[k]);
        }
    }

    /// Adds to states how far the decays have gone since the beginning of the step.
    pub fn go(&self, left: &Left, y: &mut Vector) {
        self.add(y, |k| left[k] - 1.0);
    }

    /// Takes the decays' own rates out of derivatives.
    pub fn still(&self, left: &Left, dy: &mut Vector) {
        self.add(dy, |k| self.rate[k] * left[k]);
    }

    /// First and second derivative of the decays at the beginning.
    pub fn derivatives(&self) -> (Vector, Vector) {
        let (mut first, mut second) = ([0.0; N], [0.0; N]);
        self.add(&mut first, |k| -self.rate[k]);
        self.add(&mut second, |k| self.rate[k] * self.rate[k]);
        (first, second)
    }

    /// Adds how far the wakes have gone: the continuous states show them as a rise only.
    pub fn wake_go(&self, left: &Left, y: &mut Vector) {
        for (wake, left) in self.wake.iter().zip(left) {
            if let Some(wake) = wake {
                add::<N, N>(y, left - 1.0, wake);
            }
        }
    }

    /// Tells what each decay does to ledger and guards from what is smooth, once a step of `h_s` seconds is accepted: no
    /// quadrature sees a tenth of a second in a step of minutes. `whole` are the rates at the beginning.
    pub fn look(
        &mut self,
        held: &Held,
        regime: Regime,
        first: &Stage,
        fades: &Fades,
        whole: &Ledger,
        h_s: f64,
    ) {
        if fades.none() {
            return;
        }
        let warm = held.warm(&first.y);
        for k in (0..FADES).filter(|&k| fades.rate[k] > 0.0) {
            let y = fades.less(1.0, k, &first.y);
            let bias = held.bias_at(&warm, 0.0, &y);
            // The filter moves no volts but its own.
            let net = if k == FILTER { first.net } else { held.complete(&y, solve_in(&bias, regime)) };
            self.without[k] = evaluate_at(held, regime, &warm, &bias, &y, &net);
            self.in_v[k] = first.net.in_v - net.in_v;
            if k != FILTER {
                let without = rates(held, &warm, &y, &net);
                self.rates[k] = *whole;
                self.rates[k].add(&without, -1.0);
                self.squares[k] = (SQUARED.contains(&k) && fades.rate[k] * h_s > UNSEEN).then(|| {
                    let y = fades.less(0.5, k, &first.y);
                    let net = held.complete(&y, solve_in(&held.bias_at(&warm, 0.0, &y), regime));
                    square(whole, &rates(held, &warm, &y, &net), &without)
                });
                if let Some(square) = &self.squares[k] {
                    self.rates[k].add(square, -1.0);
                }
            }
        }
    }

    /// What each decay that moves volts does to the rates at the beginning.
    pub fn seen(&self) -> impl Iterator<Item = (usize, &Ledger)> {
        (0..FILTER).filter(|&k| self.rate[k] > 0.0).map(|k| (k, &self.rates[k]))
    }

    /// Takes what is left of the decays out of rates.
    pub fn take_out(&self, left: &Left, rates: &mut Ledger) {
        for (k, one) in self.seen() {
            rates.add(one, -left[k]);
        }
        for (k, square) in self.squares() {
            rates.add(square, -left[k] * left[k]);
        }
    }

    /// What goes with the square of each decay in the rates at the beginning.
    pub fn squares(&self) -> impl Iterator<Item = (usize, &Ledger)> {
        let live = (0..FILTER).filter(|&k| self.rate[k] > 0.0);
        live.filter_map(|k| self.squares[k].as_ref().map(|square| (k, square)))
    }

    /// Guards at the beginning without each decay; meaningless for decays that there are not.
    pub fn without(&self) -> &[Values; FADES] {
        &self.without
    }

    /// Volts at the unit's input at two places early in the step, from the first and those at the second node, `(s, V)`.
    pub fn early_in_v(&self, fades: &Fades, first: f64, (node_s, node_v): (f64, f64)) -> [f64; 2] {
        let fastest = self.seen().map(|(k, _)| fades.rate[k]).fold(0.0, f64::max);
        let gone = |dt: f64| {
            let left = fades.left(dt);
            self.seen().map(|(k, _)| self.in_v[k] * (1.0 - left[k])).sum::<f64>()
        };
        [0.7, 2.0].map(|x| {
            let dt = x / fastest;
            if dt < node_s { first - gone(dt) + dt / node_s * (node_v - first + gone(node_s)) } else { first }
        })
    }
}

/// What goes with the square of a decay in rates of energy, from the rates with all of it, half of it and none of it. Charge
/// follows it all but in proportion, and states of charge are to be what their lines say.
fn square(all: &Ledger, half: &Ledger, none: &Ledger) -> Ledger {
    let mut out = Ledger::default();
    for line in Line::ALL.iter().copied().filter(|l| l.key().ends_with("_j")) {
        out.0[line as usize] = 2.0 * (all.get(line) + none.get(line) - 2.0 * half.get(line));
    }
    out
}
