//! Many runs of a vehicle: every combination of some values, or a sample of a population; one drive or several.
//!
//! A sweep is a numbered list of jobs that need nothing of each other. Whoever has threads runs [`Sweep::run`] on any of
//! them in any order; the same number always gives the same outcome.

use super::case::{Case, CaseError};
use super::headlines::Outcome;
use super::sampling::Sampler;
use super::trial::Trial;
use crate::engine::{Options, Record};
use crate::scenario::node::Value;
use crate::spread::Spread;

/// A key that varies and how.
#[derive(Debug, Clone, PartialEq)]
pub struct Vary {
    /// Path of the key, such as `input_cable.length_m`.
    pub path: String,
    /// What it takes.
    pub over: Over,
}

/// What a varied key takes.
#[derive(Debug, Clone, PartialEq)]
pub enum Over {
    /// These values, one after the other.
    Values(Vec<Value>),
    /// Numbers from one end to the other.
    Span(Span),
    /// A distribution; only a sample can draw from it.
    Spread(Spread),
}

/// Numbers from one end to the other, both included, evenly or by equal ratios; none of them is held.
///
/// They are rounded to twelve figures, so that tables show 5.1 and not 5.1000000000000005.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// The first.
    pub from: f64,
    /// The last.
    pub to: f64,
    /// How many.
    pub count: usize,
    /// By equal ratios; both ends are then above zero.
    pub log: bool,
}

impl Span {
    /// One of them; they count from 0.
    pub fn at(&self, k: usize) -> f64 {
        let Span { from, to, count, log } = *self;
        let u = k as f64 / count.saturating_sub(1).max(1) as f64;
        match k {
            0 => from,
            k if k + 1 == count => to,
            _ if log => tidy((from.ln() + u * (to.ln() - from.ln())).exp()),
            _ => tidy(from + u * (to - from)),
        }
    }

    /// All of them.
    pub fn iter(self) -> impl Iterator<Item = f64> {
        (0..self.count).map(move |k| self.at(k))
    }
}

impl Over {
    /// A [`Span`].
    pub fn span(from: f64, to: f64, count: usize, log: bool) -> Over {
        Over::Span(Span { from, to, count, log })
    }

    fn len(&self) -> u64 {
        match self {
            Over::Values(values) => values.len() as u64,
            Over::Span(span) => span.count as u64,
            Over::Spread(_) => 1,
        }
    }

    /// The value at a share of the population.
    pub fn at(&self, u: f64) -> Value {
        match self {
            Over::Values(values) => {
                let n = (u * values.len() as f64) as usize;
                values[n.min(values.len() - 1)].clone()
            }
            Over::Span(span) => {
                let n = (u * span.count as f64) as usize;
                Value::Number(span.at(n.min(span.count.saturating_sub(1))))
            }
            Over::Spread(spread) => Value::Number(tidy(spread.quantile(u))),
        }
    }
}

fn tidy(value: f64) -> f64 {
    format!("{value:.11e}").parse().unwrap_or(value)
}

/// Which points of the box are run.
#[derive(Debug, Clone)]
pub enum Points {
    /// Every combination of the values; the last key varies fastest.
    Grid,
    /// A sample.
    Sample(Sampler),
}

/// A vehicle on one drive.
#[derive(Debug, Clone)]
pub struct Variant {
    /// Its name in tables.
    pub name: String,
    /// The scenario.
    pub case: Case,
}

/// Many runs.
#[derive(Debug, Clone)]
pub struct Sweep {
    /// The drives; each point is run on every one.
    pub variants: Vec<Variant>,
    /// The keys that vary.
    pub vary: Vec<Vary>,
    /// Which combinations.
    pub points: Points,
    /// Error allowed per step.
    pub tolerance: f64,
}

/// One job: what is run.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Its number.
    pub number: u64,
    /// Which drive.
    pub variant: usize,
    /// Values of the keys that vary, in their order.
    pub settings: Vec<Value>,
}

impl Sweep {
    /// Number of jobs; `None` where it is beyond counting.
    pub fn len(&self) -> Option<u64> {
        let points = match &self.points {
            Points::Grid => self.vary.iter().try_fold(1_u64, |n, v| n.checked_mul(v.over.len()))?,
            Points::Sample(sampler) => sampler.count(),
        };
        points.checked_mul(self.variants.len() as u64)
    }

    /// Whether there is no job.
    pub fn is_empty(&self) -> bool {
        self.len() == Some(0)
    }

    /// What a job runs. Drives vary fastest, so that what belongs together stands together.
    pub fn job(&self, number: u64) -> Job {
        let drives = self.variants.len() as u64;
        let point = number / drives;
        let settings = match &self.points {
            Points::Grid => {
                let mut rest = point;
                let mut settings: Vec<Value> = self
                    .vary
                    .iter()
                    .rev()
                    .map(|v| {
                        let digit = rest % v.over.len();
                        rest /= v.over.len();
                        match &v.over {
                            Over::Values(values) => values[digit as usize].clone(),
                            Over::Span(span) => Value::Number(span.at(digit as usize)),
                            spread @ Over::Spread(_) => spread.at(0.5),
                        }
                    })
                    .collect();
                settings.reverse();
                settings
            }
            Points::Sample(sampler) => {
                let at = sampler.point(point);
                self.vary.iter().zip(at).map(|(v, u)| v.over.at(u)).collect()
            }
        };
        Job { number, variant: (number % drives) as usize, settings }
    }

    /// The case that a job runs.
    ///
    /// # Errors
    /// [`CaseError::NoSuchPlace`] when a path leads nowhere.
    pub fn case(&self, job: &Job) -> Result<Case, CaseError> {
        let changes = self.vary.iter().zip(&job.settings).map(|(v, value)| (v.path.as_str(), value.clone()));
        self.variants[job.variant].case.with_all(changes)
    }

    /// Runs a job. A case that is no scenario, or a run that cannot be finished, is an outcome with its reason.
    pub fn run(&self, job: &Job) -> Outcome {
        let options = Options { tolerance: self.tolerance, record: Record::Summary, ..Options::default() };
        let trial = self.case(job).map_err(Into::into).and_then(|case| Trial::run_with(&case, &options));
        match trial {
            Ok(trial) => Outcome::of(&trial),
            Err(e) => Outcome::failed(&e),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::sampling::Method;
    use super::*;
    use crate::scenario::node::{Node, Place};
    use std::collections::BTreeMap;

    fn sweep(vary: Vec<Vary>, drives: usize, points: Points) -> Sweep {
        let place = Place { source: 0, start: 0, end: 0 };
        let case = Case::new(Node { place, value: Value::Table(Vec::new()) }, BTreeMap::new());
        let variants = (0..drives).map(|n| Variant { name: n.to_string(), case: case.clone() }).collect();
        Sweep { variants, vary, points, tolerance: crate::study::TOLERANCE_OF_MANY }
    }

    fn numbers(values: &[f64]) -> Over {
        Over::Values(values.iter().map(|v| Value::Number(*v)).collect())
    }

    #[test]
    fn a_grid_has_every_combination_once_and_both_ends() {
        let vary = vec![
            Vary { path: "a".into(), over: Over::span(5.0, 6.0, 11, false) },
            Vary { path: "b".into(), over: numbers(&[1.0, 2.0, 3.0]) },
        ];
        let sweep = sweep(vary, 2, Points::Grid);
        assert_eq!(sweep.len(), Some(66));
        let jobs: Vec<Job> = (0..66).map(|n| sweep.job(n)).collect();
        for (n, job) in jobs.iter().enumerate() {
            assert!(jobs[..n].iter().all(|o| (o.variant, &o.settings) != (job.variant, &job.settings)));
        }
        assert_eq!(jobs[0].settings, [Value::Number(5.0), Value::Number(1.0)]);
        assert_eq!(jobs[65].settings, [Value::Number(6.0), Value::Number(3.0)]);
        assert_eq!(jobs[6].settings[0], Value::Number(5.1), "as a person would write it");
        assert_eq!((jobs[0].variant, jobs[1].variant), (0, 1));
    }

    #[test]
    fn log_spacing_has_equal_ratios() {
        let span = Span { from: 1.0, to: 1000.0, count: 4, log: true };
        assert!(span.iter().eq([1.0, 10.0, 100.0, 1000.0]));
    }

    #[test]
    fn counting_stops_where_numbers_end() {
        let many = || Vary { path: "a".into(), over: Over::span(0.0, 1.0, 1 << 20, false) };
        assert_eq!(sweep(vec![many(), many(), many(), many()], 1, Points::Grid).len(), None);
    }

    #[test]
    fn a_sample_draws_each_value_by_its_own_rule() {
        let spread = Spread::Uniform { from: 10.0, to: 20.0 };
        let vary = vec![
            Vary { path: "a".into(), over: Over::Spread(spread) },
            Vary { path: "b".into(), over: numbers(&[1.0, 2.0]) },
        ];
        let sampler = Sampler::new(Method::LatinHypercube, 1, 100, 2);
        let sweep = sweep(vary, 1, Points::Sample(sampler));
        let jobs: Vec<Job> = (0..100).map(|n| sweep.job(n)).collect();
        let ones = jobs.iter().filter(|j| j.settings[1] == Value::Number(1.0)).count();
        assert_eq!(ones, 50, "layers share the list out evenly");
        let sum: f64 = jobs.iter().map(|j| if let Value::Number(v) = j.settings[0] { v } else { 0.0 }).sum();
        assert!((sum / 100.0 - 15.0).abs() < 0.05);
    }
}
