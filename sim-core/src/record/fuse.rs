//! How hard a run works its input fuse.
//!
//! A fuse is a rating and, where the user has one, a time-current curve typed in from its sheet; none is shipped, since
//! makers' curves differ. Wear is summed as time over opening time at the current just then (a straight line between
//! the curve's points in logarithms), the usual rule of thumb for currents that change slowly: at 1 the fuse opens.

use crate::engine::Run;
use crate::model::{Model, Profile};
use serde::Serialize;

/// A fuse.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fuse {
    /// Rating, A.
    pub rating_a: f64,
    /// Current over rating, rising, and the time after which it opens, s, falling; empty where no curve was given.
    pub curve: Vec<(f64, f64)>,
}

/// What a run asks of a fuse.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct FuseWork {
    /// Rating, A.
    pub rating_a: f64,
    /// Largest current, A.
    pub most_a: f64,
    /// Time above three quarters of the rating, s.
    pub hard_s: f64,
    /// Sum of time over opening time; at 1 the fuse opens. `None` without a curve.
    pub wear: Option<f64>,
}

impl Fuse {
    /// Opening time at a current, s; infinite under the curve's first point.
    pub fn opens_after_s(&self, current_a: f64) -> f64 {
        let ratio = current_a / self.rating_a;
        let above = self.curve.partition_point(|(r, _)| *r <= ratio);
        if above == 0 {
            return f64::INFINITY;
        }
        // Past the last point the last slope goes on.
        let high = above.min(self.curve.len() - 1).max(1);
        let ((r0, t0), (r1, t1)) = (self.curve[high - 1], self.curve[high]);
        let slope = (t1 / t0).ln() / (r1 / r0).ln();
        t0 * (ratio / r0).powf(slope)
    }

    /// What a run with a trace asks of this fuse.
    pub fn work(&self, run: &Run, model: &Model, profile: &Profile) -> FuseWork {
        let mut work = FuseWork { rating_a: self.rating_a, most_a: 0.0, hard_s: 0.0, wear: None };
        let mut wear = 0.0;
        for knot in run.trace.steps(model, profile) {
            for (sample, seconds) in run.trace.nodes(model, profile, &knot) {
                let i = sample.net.input_a;
                work.most_a = work.most_a.max(i);
                if i > 0.75 * self.rating_a {
                    work.hard_s += seconds;
                }
                if self.curve.len() > 1 {
                    wear += seconds / self.opens_after_s(i);
                }
            }
        }
        work.most_a = run.extremes.input_a.map_or(work.most_a, |m| m.value.max(work.most_a));
        work.wear = (self.curve.len() > 1).then_some(wear);
        work
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_curve_is_a_line_in_logarithms() {
        let fuse = Fuse { rating_a: 50.0, curve: vec![(1.35, 1800.0), (2.0, 60.0), (6.0, 1.0)] };
        assert!((fuse.opens_after_s(67.5) - 1800.0).abs() < 1e-9);
        assert!((fuse.opens_after_s(100.0) - 60.0).abs() < 1e-9);
        assert!((fuse.opens_after_s(300.0) - 1.0).abs() < 1e-12);
        assert_eq!(fuse.opens_after_s(60.0), f64::INFINITY);
        let middle = fuse.opens_after_s(50.0 * (1.35f64 * 2.0).sqrt());
        assert!((middle - (1800.0f64 * 60.0).sqrt()).abs() < 1e-9);
        assert!(fuse.opens_after_s(600.0) < 0.2);
    }
}
