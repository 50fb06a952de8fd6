//! What dies away within a step of the full model, taken exactly.
//!
//! An event starts transients of tenths of a second: the alternator takes up load, the starter battery's fast branch follows,
//! and the unit sees both through its filter. They are nearly linear, so the implicit step need not follow them: with `w` the
//! sum of these decays, `y = z + w`, and the step is taken in `z`, which obeys `z' = f(z + w) − w'`. That is exact for any
//! `w`; a good one leaves `z` smooth, and what it does not catch bounds the step as ever.
//!
//! The decays are those of small blocks of the Jacobian: alternator current and fast branch (or both branches of the starter
//! battery), both branches of the house battery, the filter behind them. How much of each there is follows from the second
//! derivative, where slow courses leave next to nothing.

use crate::plant_view::linear::{FAST_AT, Fast, FastBlocks};
use crate::state::{HOUSE, PICKED_UP_A, SEEN_V, STARTER, Vector};

/// Decays: two of the starter side, two of the house battery, the filter's own.
pub const FADES: usize = 5;
/// The filter's own.
pub const FILTER: usize = 4;
/// A decay that has not come this far by the end of a step is left to the step.
const LEAST: f64 = 0.5;
/// Two decays nearer to each other than this share of their rates cannot be told apart.
const APART: f64 = 0.05;
/// Slower ones than this are left to the step, 1/s: of the starter battery, whose branches bend by themselves, and of the
/// house battery.
const SLOWEST: [f64; 2] = [0.3, 0.01];
/// Longest first step, s: what is left then are minutes.
const FIRST_STEP_S: f64 = 60.0;
/// The same where a branch moves faster than this apart from the decays, or the house battery's are not known.
const BUSY_FIRST_STEP_S: f64 = 10.0;
const CALM_V_PER_S: f64 = 1e-3;
/// A first step goes so many time constants of the slowest decay.
const CONSTANTS: f64 = 8.0;
/// What of a decay's reach is taken not to be linear, by experience: longer first steps are rejected.
const NOT_LINEAR: f64 = 0.01;
/// What an ampere behind some milliohms counts as, V.
const PER_A: f64 = 0.01;
/// Places of the starter side's decays: its two states; the filter, three branches and both states of charge behind them.
const STARTER_PLACES: usize = 8;
/// Places of the house battery's decays: both branches, both states of charge behind them.
const HOUSE_PLACES: usize = 4;

/// What is left of each decay.
pub type Left = [f64; FADES];

/// Decays of the fast states over one step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Fades {
    /// Rates, 1/s; zero: there is none.
    pub rate: [f64; FADES],
    /// Whether the starter side's are of the alternator's current and the fast branch; else of both branches.
    with_current: bool,
    starter: [[f64; STARTER_PLACES]; 2],
    house: [[f64; HOUSE_PLACES]; 2],
    seen: f64,
}

impl Fades {
    /// All decays of a linearised right-hand side, from the second derivative of the states.
    pub fn new(blocks: &FastBlocks, bend: &Vector) -> Fades {
        let mut out = Fades { with_current: blocks.with_current, ..Fades::default() };
        let [p, q] = out.starter_at();
        let (mut bend_seen, mut bend_house) = (bend[SEEN_V], [bend[HOUSE + 1], bend[HOUSE + 2]]);
        for (k, found) in decays(&blocks.starter, [bend[p], bend[q]], SLOWEST[0]).into_iter().enumerate() {
            let Some((rate, size)) = found else { continue };
            out.rate[k] = rate;
            // How the filter follows, unless it is as fast: then it is left to the step.
            let apart = blocks.seen_rate - rate;
            let seen = if blocks.seen_rate > 0.0 && apart.abs() > APART * rate {
                (blocks.seen_of_starter[0] * size[0] + blocks.seen_of_starter[1] * size[1]) / apart
            } else {
                0.0
            };
            // What slow branches do meanwhile is small, and stays; likewise.
            let behind = blocks.behind.map(|b| {
                let apart = rate + b.own;
                let driven = b.of_starter[0] * size[0] + b.of_starter[1] * size[1];
                if apart.abs() > APART * rate { driven / -apart } else { 0.0 }
            });
            out.starter[k] = [size[0], size[1], seen, behind[0], behind[1], behind[2], 0.0, 0.0];
            bend_seen -= rate * rate * seen;
            for (bend, behind) in bend_house.iter_mut().zip(&behind[1..]) {
                *bend -= rate * rate * behind;
            }
        }
        for (k, found) in decays(&blocks.house, bend_house, SLOWEST[1]).into_iter().enumerate() {
            let Some((rate, size)) = found else { continue };
            out.rate[2 + k] = rate;
            out.house[k] = [size[0], size[1], 0.0, 0.0];
        }
        if blocks.seen_rate > 0.0 {
            out.rate[FILTER] = blocks.seen_rate;
            out.seen = bend_seen / (blocks.seen_rate * blocks.seen_rate);
        }
        out
    }

    /// Those that come far enough within `h_s` seconds, of those that reach further than `least_v`.
    pub fn within(&self, h_s: f64, least_v: f64) -> Fades {
        let mut out = *self;
        for k in 0..FADES {
            if out.rate[k] * h_s < LEAST || out.reach_v(k) < least_v {
                out.drop_one(k);
            }
        }
        out
    }

    fn drop_one(&mut self, k: usize) {
        self.rate[k] = 0.0;
        match k {
            0 | 1 => self.starter[k] = [0.0; STARTER_PLACES],
            2 | 3 => self.house[k - 2] = [0.0; HOUSE_PLACES],
            _ => self.seen = 0.0,
        }
    }

    fn starter_at(&self) -> [usize; 2] {
        if self.with_current { [PICKED_UP_A, STARTER + 1] } else { [STARTER + 1, STARTER + 2] }
    }

    /// Whether there are none.
    pub fn none(&self) -> bool {
        self.rate == [0.0; FADES]
    }

    /// The fastest rate, 1/s; zero where there are none.
    pub fn fastest_per_s(&self) -> f64 {
        self.rate.iter().fold(0.0, |f, r| r.max(f))
    }

    /// How long a rate that is off moves each of the fast states before its decay takes it back, at most `dt` seconds.
    pub fn times_s(&self, dt: f64) -> Fast {
        let [a, b, c, d, e] = self.rate;
        let of = |rate: f64| dt.min(1.0 / rate);
        let (starter, house) = (of(a.max(b).max(e)), of(c.max(d)));
        [starter, dt, house, house, starter, starter]
    }

    /// What is left after `dt` seconds.
    pub fn left(&self, dt: f64) -> Left {
        self.rate.map(|rate| if rate > 0.0 { (-rate * dt).exp() } else { 1.0 })
    }

    /// Adds so much of each decay to a vector.
    fn add(&self, share: &Left, y: &mut Vector) {
        let [p, q] = self.starter_at();
        for k in 0..2 {
            if self.rate[k] > 0.0 {
                let (x, s) = (&self.starter[k], share[k]);
                for (at, x) in
                    [p, q, SEEN_V, STARTER + 2, HOUSE + 1, HOUSE + 2, STARTER, HOUSE].into_iter().zip(x)
                {
                    y[at] += x * s;
                }
            }
            if self.rate[2 + k] > 0.0 {
                let (x, s) = (&self.house[k], share[2 + k]);
                for (at, x) in [HOUSE + 1, HOUSE + 2, STARTER, HOUSE].into_iter().zip(x) {
                    y[at] += x * s;
                }
            }
        }
        if self.rate[FILTER] > 0.0 {
            y[SEEN_V] += self.seen * share[FILTER];
        }
    }

    /// Adds to states how far the decays have gone since the beginning of the step.
    pub fn go(&self, left: &Left, y: &mut Vector) {
        self.add(&left.map(|l| l - 1.0), y);
    }

    /// Takes the decays' own rates out of derivatives.
    pub fn still(&self, left: &Left, dy: &mut Vector) {
        let share = std::array::from_fn(|k| self.rate[k] * left[k]);
        self.add(&share, dy);
    }

    /// One decay's own states at the beginning.
    pub fn one(&self, k: usize) -> Vector {
        let mut share = [0.0; FADES];
        share[k] = 1.0;
        let mut y = [0.0; crate::state::N];
        self.add(&share, &mut y);
        y
    }

    /// What a decay of the starter side does to all other states, to first order, from what the Jacobian makes of it:
    /// they are slow, so each moves by its rate over that of the decay.
    pub fn wake(&self, k: usize, made: &Vector) -> Vector {
        let mut wake = made.map(|v| v / -self.rate[k]);
        for at in FAST_AT {
            wake[at] = 0.0;
        }
        wake
    }

    /// The states less a share of one decay, at the beginning.
    pub fn less(&self, share_of_it: f64, k: usize, y: &Vector) -> Vector {
        let mut share = [0.0; FADES];
        share[k] = -share_of_it;
        let mut y = *y;
        self.add(&share, &mut y);
        y
    }

    /// How far a decay reaches, in volts; an ampere behind some milliohms counts as a hundredth.
    pub fn reach_v(&self, k: usize) -> f64 {
        match k {
            0 | 1 => {
                let [a, b, seen, ..] = self.starter[k];
                let first = if self.with_current { PER_A * a } else { a };
                first.abs().max(b.abs()).max(seen.abs())
            }
            2 | 3 => self.house[k - 2][0].abs().max(self.house[k - 2][1].abs()),
            _ => self.seen.abs(),
        }
    }

    /// How long a first step may be, s, where the starter side's decays are known: next to them, and the less the further
    /// they reach, since they are not quite linear.
    ///
    /// `branch_v_per_s` is the fastest that a branch moves apart from them: what no decay was found for must not be stepped over.
    pub fn first_step_s(&self, allowed: f64, branch_v_per_s: f64) -> Option<f64> {
        let known = self.rate[2] > 0.0 && branch_v_per_s <= CALM_V_PER_S;
        let longest = if known { FIRST_STEP_S } else { BUSY_FIRST_STEP_S };
        (self.rate[0] > 0.0).then(|| {
            let reach =
                [0, 1, FILTER].into_iter().filter(|&k| self.rate[k] > 0.0 && self.reach_v(k) > allowed);
            let long = |k: usize| {
                let room = allowed / (NOT_LINEAR * self.reach_v(k));
                CONSTANTS * room.powf(0.25).min(1.0) / self.rate[k]
            };
            reach.map(long).fold(longest, f64::min)
        })
    }

    /// Puts in what a decay does to the state of charge of starter and house battery, as rates at the beginning, 1/s.
    pub fn charge(&mut self, k: usize, [starter, house]: [f64; 2]) {
        let per = -1.0 / self.rate[k];
        match k {
            0 | 1 => (self.starter[k][6], self.starter[k][7]) = (per * starter, per * house),
            2 | 3 => (self.house[k - 2][2], self.house[k - 2][3]) = (per * starter, per * house),
            _ => {}
        }
    }
}

/// Decays of a block of two, with their sizes in its states, from its second derivative: those with a rate of their own.
fn decays(b: &[[f64; 2]; 2], bend: [f64; 2], slowest: f64) -> [Option<(f64, [f64; 2])>; 2] {
    let (mean, half) = (0.5 * (b[0][0] + b[1][1]), 0.5 * (b[0][0] - b[1][1]));
    let root = (half * half + b[0][1] * b[1][0]).max(0.0).sqrt();
    if root.is_nan() || root <= APART * mean.abs() {
        return [None; 2];
    }
    let rates = [mean - root, mean + root];
    [0, 1].map(|k| {
        let (own, other) = (rates[k], rates[1 - k]);
        let per = 1.0 / ((own - other) * own * own);
        (own < -slowest && per.is_finite()).then(|| {
            let x = (b[0][0] - other) * bend[0] + b[0][1] * bend[1];
            let y = b[1][0] * bend[0] + (b[1][1] - other) * bend[1];
            (-own, [x * per, y * per])
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is taken out of a step decays as the block says, and has the second derivative that it was found from.
    #[test]
    fn decays_are_those_of_the_block() {
        for b in [[[-10.7, -1600.0], [0.0004, -0.3]], [[-0.9, 0.2], [0.1, -0.4]], [[-6.0, 1.5], [1.5, -2.0]]]
        {
            let bend = [3.0, -0.7];
            let found = decays(&b, bend, 0.0);
            let mut sum = [0.0; 2];
            for (rate, size) in found.into_iter().flatten() {
                for m in 0..2 {
                    let made = b[m][0] * size[0] + b[m][1] * size[1];
                    assert!((made + rate * size[m]).abs() < 1e-9 * (made.abs() + rate), "{b:?}: {made}");
                    sum[m] += rate * rate * size[m];
                }
            }
            assert!(found.iter().all(Option::is_some), "{b:?}: {found:?}");
            for m in 0..2 {
                assert!((sum[m] - bend[m]).abs() < 1e-9, "{b:?}: {sum:?}");
            }
        }
    }

    /// None where a block swings, where two are as one, where nothing decays, or where it is not a number.
    #[test]
    fn none_where_there_are_none() {
        let none = [None; 2];
        assert_eq!(decays(&[[-1.0, -5.0], [5.0, -1.0]], [1.0, 1.0], 0.0), none);
        assert_eq!(decays(&[[-1.0, 0.0], [0.0, -1.001]], [1.0, 1.0], 0.0), none);
        assert_eq!(decays(&[[f64::NAN, 0.0], [0.0, -1.0]], [1.0, 1.0], 0.0), none);
        let [fast, slow] = decays(&[[-4.0, 0.0], [0.0, 0.5]], [1.0, 1.0], 0.0);
        assert!(fast.is_some_and(|(rate, _)| rate == 4.0) && slow.is_none());
        let [_, slow] = decays(&[[-4.0, 0.0], [0.0, -0.1]], [1.0, 1.0], 0.3);
        assert_eq!(slow, None);
    }
}
