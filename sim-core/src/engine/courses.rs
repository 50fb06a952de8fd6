//! Guards over a step with decays, between the few points at which they were evaluated: a quartic and the decays.

use super::dormand_prince::NODES as STAGES;
use super::fades::{FADES, Fades};
use super::guards::{GUARDS, Values};
use super::locate::{Flip, first_flip};
use super::rodas5p::{AT, NODES};

/// Evaluated points: the quadrature's nodes and the end.
const POINTS: usize = NODES + 1;
/// Where they are, as shares of the step.
const PLACES: [f64; POINTS] = [AT[0], AT[1], AT[2], AT[3], 1.0];
/// The first cut lies so many of the fastest decay's time constants into the step.
const FIRST_CUT: f64 = 1.5;
/// Each further one so many times as far.
const FURTHER: f64 = 4.0;
/// No cut lies behind this share of the step: there the points themselves show what happens.
const LAST_CUT: f64 = 0.35;
/// Most cuts.
const MOST_CUTS: usize = 6;
/// How rough a guess is: a share of how far the decays carry a guard.
const ROUGH: f64 = 0.05;

/// What is known of the guards over a step.
#[derive(Debug)]
pub struct Courses<'a> {
    h_s: f64,
    fades: &'a Fades,
    /// Guards at the points.
    points: [&'a Values; POINTS],
    /// Guards at the beginning without each decay.
    without: &'a [Values; FADES],
}

impl<'a> Courses<'a> {
    /// From the guards at the beginning and at the points behind it, and those at the beginning without each decay.
    pub fn new(
        h_s: f64,
        fades: &'a Fades,
        first: &'a Values,
        [a, b, c, last]: &'a [Values; NODES],
        without: &'a [Values; FADES],
    ) -> Courses<'a> {
        Courses { h_s, fades, points: [first, a, b, c, last], without }
    }

    /// How much of each decay a guard has at the beginning.
    fn size(&self, k: usize, guard: usize) -> f64 {
        let size = self.points[0][guard] - self.without[k][guard];
        if size.is_finite() { size } else { 0.0 }
    }

    fn decays(&self) -> impl Iterator<Item = usize> {
        (0..FADES).filter(|&k| self.fades.rate[k] > 0.0)
    }

    /// The guards that have to be looked at more closely, laid out for it; none where all stand all along the step. One does
    /// where it comes nowhere near to zero at its points, next to how much it moves and what the decays do.
    pub fn doubtful(&self) -> Option<Laid> {
        let mut doubtful = [false; GUARDS];
        for (g, doubtful) in doubtful.iter_mut().enumerate() {
            // Without a decay too: a guard may be the least of several, of which one is steady.
            let without = self.decays().map(|k| self.without[k][g]).filter(|v| v.is_finite());
            let values = self.points.iter().map(|v| v[g]).chain(without);
            let (low, high) =
                values.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
            // Twice: a decay that carries it down, and one that the points show half gone.
            let moved = || 2.0 * self.decays().map(|k| self.size(k, g).abs()).sum::<f64>();
            *doubtful = low < f64::INFINITY && (low <= high - low || low - (high - low) <= moved());
        }
        doubtful.contains(&true).then(|| self.laid_out(doubtful))
    }

    fn laid_out(&self, doubtful: [bool; GUARDS]) -> Laid {
        let mut out = Laid {
            doubtful,
            h_s: self.h_s,
            fades: *self.fades,
            smooth: self.points.map(|v| *v),
            fixed: [0.0; GUARDS],
            size: [[0.0; GUARDS]; FADES],
        };
        let about = || (0..GUARDS).filter(|&g| doubtful[g]);
        for k in self.decays() {
            for g in about() {
                out.size[k][g] = self.size(k, g);
            }
        }
        for g in about() {
            if !out.smooth.iter().all(|v| v[g].is_finite()) {
                out.fixed[g] = out.smooth.iter().fold(f64::INFINITY, |low, v| low.min(v[g]));
                out.smooth.iter_mut().for_each(|v| v[g] = 0.0);
                out.size.iter_mut().for_each(|v| v[g] = 0.0);
            }
        }
        for (place, smooth) in PLACES.into_iter().zip(&mut out.smooth) {
            let left = self.fades.left(place * self.h_s);
            for k in self.decays() {
                for g in about() {
                    smooth[g] -= left[k] * out.size[k][g];
                }
            }
        }
        out
    }
}

/// Guards as a quartic and decays.
#[derive(Debug, Clone)]
pub struct Laid {
    h_s: f64,
    fades: Fades,
    /// The guards that it is about.
    doubtful: [bool; GUARDS],
    /// Guards at the points, the decays taken out.
    smooth: [Values; POINTS],
    /// What guards without a course are everywhere; nothing for the others.
    fixed: Values,
    /// How much of each decay a guard has.
    size: [Values; FADES],
}

impl Laid {
    /// The first flip in a step of `ns` nanoseconds, if any: decays may turn a guard back long before the points at which it was
    /// evaluated. `first` and `last` are the guards at the ends; `at` evaluates them on the continuous states.
    pub fn first_flip(
        &self,
        ns: i64,
        first: &Values,
        last: &Values,
        at: impl Fn(i64) -> Values,
    ) -> Option<Flip> {
        let only = |values: &Values| -> Values {
            std::array::from_fn(|g| if self.doubtful[g] { values[g] } else { f64::INFINITY })
        };
        let (mut from, mut begin) = (0, only(first));
        let cuts = self.cuts_s().map(|s| (s * 1e9) as i64).filter(|cut| (1..ns).contains(cut));
        for to in cuts.chain([ns]) {
            let dt = to as f64 * 1e-9;
            let end = if to == ns { only(last) } else { only(&self.close(dt, || at(to))) };
            let inner =
                [1, 2, 3, 4].map(|n| self.guess((from as f64 + STAGES[n] * (to - from) as f64) * 1e-9));
            if let Some(flip) = first_flip(to - from, &begin, &inner, &end, |ns| at(from + ns)) {
                return Some(Flip { ns: from + flip.ns, ..flip });
            }
            (from, begin) = (to, end);
        }
        None
    }

    /// Guards `dt` seconds into the step: guessed where that leaves no doubt that all stand, else evaluated.
    fn close(&self, dt: f64, evaluated: impl Fn() -> Values) -> Values {
        let (guess, left) = (self.guess(dt), self.fades.left(dt));
        let stands = |g: usize| {
            let rough: f64 = (0..FADES).map(|k| (self.size[k][g] * left[k]).abs()).sum();
            guess[g] >= ROUGH * rough
        };
        if (0..GUARDS).filter(|&g| self.doubtful[g]).all(stands) { guess } else { evaluated() }
    }

    /// Rough guards `dt` seconds into the step, of those that it is about.
    fn guess(&self, dt: f64) -> Values {
        let u = dt / self.h_s;
        let about = || (0..GUARDS).filter(|&g| self.doubtful[g]);
        let mut out = self.fixed;
        for n in 0..POINTS {
            let mut share = 1.0;
            for m in (0..POINTS).filter(|&m| m != n) {
                share *= (u - PLACES[m]) / (PLACES[n] - PLACES[m]);
            }
            for g in about() {
                out[g] += share * self.smooth[n][g];
            }
        }
        for k in (0..FADES).filter(|&k| self.fades.rate[k] > 0.0) {
            let left = (-self.fades.rate[k] * dt).exp();
            for g in about() {
                out[g] += left * self.size[k][g];
            }
        }
        out
    }

    /// Into what slices the step falls whose ends and a few points show what happens in them: the ends of all but the last, s.
    fn cuts_s(&self) -> impl Iterator<Item = f64> + use<> {
        let fastest = self.fades.fastest_per_s();
        let last = LAST_CUT * self.h_s;
        let cuts = std::iter::successors(Some(FIRST_CUT / fastest), |cut| Some(FURTHER * cut));
        cuts.take_while(move |cut| *cut < last).take(MOST_CUTS)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NS: i64 = 2_000_000_000;
    const GUARD: usize = 5;

    /// A guard over two seconds: a drift, two decays and what they do together, so that it is not quite what a quartic and
    /// decays can be.
    fn course(rate: [f64; 2], size: [f64; 2], level: f64, bent: f64) -> impl Fn(f64) -> f64 {
        move |t: f64| {
            let e = [0, 1].map(|k| (-rate[k] * t).exp());
            level + 0.02 * t + size[0] * e[0] + size[1] * e[1] + bent * e[0] * e[1]
        }
    }

    /// What is found of it, by the points that a step has.
    fn found(rate: [f64; 2], size: [f64; 2], g: &dyn Fn(f64) -> f64) -> Option<Flip> {
        let h_s = NS as f64 * 1e-9;
        let all = |v: f64| {
            let mut values = [f64::INFINITY; GUARDS];
            values[GUARD] = v;
            values
        };
        let mut fades = Fades::default();
        fades.rate[..2].copy_from_slice(&rate);
        let [first, a, b, c, last] = PLACES.map(|u| all(g(u * h_s)));
        let mut without = [[f64::INFINITY; GUARDS]; FADES];
        for k in 0..2 {
            without[k] = all(g(0.0) - size[k]);
        }
        let nodes = [a, b, c, last];
        let courses = Courses::new(h_s, &fades, &first, &nodes, &without);
        courses.doubtful()?.first_flip(NS, &first, &last, |ns| all(g(ns as f64 * 1e-9)))
    }

    /// A guard that falls below zero within tenths of a second and is back before the second point is found; where it stays
    /// above, nothing is.
    #[test]
    fn a_dip_in_the_first_tenths_is_found() {
        let (mut dips, mut none) = (0, 0);
        for rate in [[10.7, 5.0], [6.6, 4.7], [30.0, 2.5], [8.0, 1.2]] {
            for rise in [-0.4, -0.1, -0.03] {
                for bent in [0.0, 0.02 * rise, -0.02 * rise] {
                    // It comes down with the first decay and goes up again with the second.
                    let size = [-1.6 * rise, rise];
                    let lowest = |g: &dyn Fn(f64) -> f64| {
                        (0..=20_000).map(|n| g(f64::from(n) * 1e-4)).fold(f64::INFINITY, f64::min)
                    };
                    let base = lowest(&course(rate, size, 0.0, bent));
                    for depth in [0.3, 0.1, 0.03, 0.01, -0.01, -0.1] {
                        let g = course(rate, size, -base - depth * base.abs(), bent);
                        if g(0.0) <= 0.0 || g(2.0) <= 0.0 {
                            continue;
                        }
                        let flip = found(rate, size, &g);
                        let what = format!("rates {rate:?}, {rise} V, bent {bent}, depth {depth}");
                        if depth > 0.0 {
                            let flip = flip.unwrap_or_else(|| panic!("{what}: missed"));
                            let (on, before) = (flip.ns as f64 * 1e-9, (flip.ns - 1) as f64 * 1e-9);
                            assert!(g(on) < 0.0 && g(before) >= -1e-9, "{what}: not its first flip");
                            dips += 1;
                        } else {
                            assert_eq!(flip, None, "{what}");
                            none += 1;
                        }
                    }
                }
            }
        }
        assert!(dips > 60 && none > 40, "{dips} dips, {none} without");
    }

    /// What comes nowhere near is not looked at.
    #[test]
    fn far_from_zero_costs_nothing() {
        let g = course([10.0, 5.0], [0.3, -0.2], 5.0, 0.0);
        let h_s = NS as f64 * 1e-9;
        let all = |v: f64| [v; GUARDS];
        let mut fades = Fades::default();
        fades.rate[..2].copy_from_slice(&[10.0, 5.0]);
        let [first, a, b, c, last] = PLACES.map(|u| all(g(u * h_s)));
        let mut without = [first; FADES];
        (without[0], without[1]) = (all(g(0.0) - 0.3), all(g(0.0) + 0.2));
        assert!(Courses::new(h_s, &fades, &first, &[a, b, c, last], &without).doubtful().is_none());
    }
}
