//! Settings that deliver most in the worst case of several vehicles and drives, within limits.
//!
//! A sample of the box of settings first, then ever smaller moves around the best. Every figure is of a full simulation.

use super::case::{Case, CaseError};
use super::headlines::ah_per_drive_hour;
use super::sampling::{Method, Sampler};
use super::threads::Threads;
use super::trial::Trial;
use crate::engine::{Options, Record};
use crate::judge::guard_rails::{self, Rail};
use crate::judge::{Verdict, Weight};
use crate::record::Watched;
use crate::scenario::node::Value;
use crate::state::STARTER;

/// A setting that is tuned.
#[derive(Debug, Clone, PartialEq)]
pub struct Knob {
    /// Its key.
    pub path: String,
    /// Lowest value tried, in the unit of the key.
    pub from: f64,
    /// Highest value tried.
    pub to: f64,
    /// Steps that a person would set it in.
    pub step: f64,
}

/// What a limit is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limited {
    /// Lowest state of charge of the starter battery at the end of a drive or a stop, %.
    StarterPct,
    /// Times that the unit comes on for each drive.
    Switchings,
    /// Hottest conductor, °C.
    HottestC,
    /// Time that the unit is on with the engine stopped, for each stop, min.
    RunOnMin,
}

/// A limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// On what.
    pub on: Limited,
    /// Least for the starter battery, most for the others.
    pub value: f64,
}

/// What settings come to, the worst over all cases.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Score {
    /// Charge per hour of driving, Ah/h.
    pub ah_per_drive_hour: f64,
    /// As [`Limited::StarterPct`].
    pub starter_pct: f64,
    /// As [`Limited::Switchings`].
    pub switchings: f64,
    /// As [`Limited::HottestC`].
    pub hottest_c: f64,
    /// As [`Limited::RunOnMin`].
    pub run_on_min: f64,
    /// What the judge says: the worst weight, and its word.
    pub verdict: (Weight, &'static str),
}

impl Score {
    /// What a limit is on.
    pub fn met(&self, on: Limited) -> f64 {
        match on {
            Limited::StarterPct => self.starter_pct,
            Limited::Switchings => self.switchings,
            Limited::HottestC => self.hottest_c,
            Limited::RunOnMin => self.run_on_min,
        }
    }

    /// By what share a limit is broken; 0 where it holds.
    fn excess(&self, limit: &Limit) -> f64 {
        let met = self.met(limit.on);
        let over = if limit.on == Limited::StarterPct { limit.value - met } else { met - limit.value };
        (over / limit.value.abs().max(1.0)).max(0.0)
    }

    /// Whether limits hold.
    pub fn within<'a>(&self, limits: impl IntoIterator<Item = &'a Limit>) -> bool {
        limits.into_iter().all(|l| self.excess(l) <= 0.0)
    }
}

/// Settings that were tried.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Values of the knobs, in their order.
    pub values: Vec<f64>,
    /// What they come to; `None` where some case cannot be run with them, or where they break a guard-rail.
    pub score: Option<Score>,
}

/// What is tuned.
#[derive(Debug, Clone)]
pub struct TunePlan {
    /// Vehicles and drives that one setting has to serve.
    pub cases: Vec<Case>,
    /// The settings.
    pub knobs: Vec<Knob>,
    /// The limits.
    pub limits: Vec<Limit>,
    /// Settings tried before the search closes in.
    pub candidates: u64,
    /// Number that they are drawn from.
    pub seed: u64,
    /// Error allowed per step.
    pub tolerance: f64,
}

/// What a search found.
#[derive(Debug, Clone)]
pub struct Tuned {
    /// Everything that was tried, in the order of trying.
    pub tried: Vec<Candidate>,
    /// The best within all limits, in steps that a person would set; `None` where nothing tried
    /// holds them all without a danger.
    pub best: Option<Candidate>,
}

/// Rounds of smaller moves.
const ROUNDS: usize = 7;
/// Points of the sample around the best in each round.
const AROUND: u64 = 16;

impl TunePlan {
    /// What settings come to; `None` where some case cannot be run with them, or where they break a guard-rail.
    pub fn score(&self, values: &[f64]) -> Option<Score> {
        let options = Options { tolerance: self.tolerance, record: Record::Summary, ..Options::default() };
        let mut worst: Option<Score> = None;
        for case in &self.cases {
            if self.broken(case, values).is_some() {
                return None;
            }
            let trial = Trial::run_with(&self.changed(case, values).ok()?, &options).ok()?;
            let one = one(&trial);
            worst = Some(worst.map_or(one, |w| Score {
                ah_per_drive_hour: w.ah_per_drive_hour.min(one.ah_per_drive_hour),
                starter_pct: w.starter_pct.min(one.starter_pct),
                switchings: w.switchings.max(one.switchings),
                hottest_c: w.hottest_c.max(one.hottest_c),
                verdict: if one.verdict.0 > w.verdict.0 { one.verdict } else { w.verdict },
                run_on_min: w.run_on_min.max(one.run_on_min),
            }));
        }
        worst
    }

    fn changed(&self, case: &Case, values: &[f64]) -> Result<Case, CaseError> {
        let changes = self.knobs.iter().zip(values).map(|(k, v)| (k.path.as_str(), Value::Number(*v)));
        case.with_all(changes)
    }

    /// The guard-rail that settings break in one of the cases.
    pub fn broken(&self, case: &Case, values: &[f64]) -> Option<Rail> {
        let (_, now) = case.resolve().ok()?;
        let (_, then) = self.changed(case, values).ok()?.resolve().ok()?;
        let now = (&now.model, &now.profile);
        // No number that is tuned changes what a run signal does.
        guard_rails::broken(now, &Verdict::default(), (&then.model, &then.profile))
    }

    fn try_all(&self, threads: &impl Threads, all: Vec<Vec<f64>>) -> Vec<Candidate> {
        threads.map(all.len(), |n| Candidate { values: all[n].clone(), score: self.score(&all[n]) })
    }

    /// Searches on threads that somebody lends.
    pub fn run(&self, threads: &impl Threads) -> Tuned {
        let sampler = Sampler::new(Method::Sobol, self.seed, self.candidates, self.knobs.len());
        let at = |n: u64| {
            let point = sampler.point(n);
            self.knobs.iter().zip(point).map(|(k, u)| k.from + u * (k.to - k.from)).collect()
        };
        let mut tried = self.try_all(threads, (0..self.candidates).map(at).collect());
        let mut share = 0.25;
        for round in 0..ROUNDS {
            let Some(best) = self.best_of(&tried) else { break };
            let centre = best.values.clone();
            let near = Sampler::new(Method::Sobol, self.seed + 1 + round as u64, AROUND, self.knobs.len());
            let around = (0..AROUND).map(|n| {
                let moved = centre.iter().zip(&self.knobs).zip(near.point(n));
                moved
                    .map(|((c, k), u)| (c + (2.0 * u - 1.0) * share * (k.to - k.from)).clamp(k.from, k.to))
                    .collect()
            });
            let along = (0..2 * self.knobs.len()).map(|n| {
                let (k, sign) = (&self.knobs[n / 2], if n % 2 == 0 { -1.0 } else { 1.0 });
                let mut values = centre.clone();
                values[n / 2] = (values[n / 2] + sign * share * (k.to - k.from)).clamp(k.from, k.to);
                values
            });
            let more = self.try_all(threads, around.chain(along).collect());
            tried.extend(more);
            share *= 0.6;
        }
        let best = self.set_by_hand(threads, &mut tried);
        Tuned { tried, best }
    }

    /// Rounds the best to steps that a person would set, walks to better neighbours, and keeps what holds.
    fn set_by_hand(&self, threads: &impl Threads, tried: &mut Vec<Candidate>) -> Option<Candidate> {
        let round = |values: &[f64]| -> Vec<f64> {
            values.iter().zip(&self.knobs).map(|(v, k)| k.rounded(*v)).collect()
        };
        let start = round(&self.best_of(tried)?.values);
        let mut best = Candidate { score: self.score(&start), values: start };
        for _ in 0..40 {
            let near = self.try_all(threads, self.neighbours(&best.values));
            tried.push(best.clone());
            tried.extend(near.iter().cloned());
            match near.into_iter().find(|n| self.better(n, &best)) {
                Some(better) => best = better,
                None => break,
            }
        }
        // A danger is no setting to offer, whatever limits were typed.
        let stands = |s: Score| s.within(&self.limits) && s.verdict.0 < Weight::Danger;
        best.score.is_some_and(stands).then_some(best)
    }

    /// Settings one step away in each direction.
    pub fn neighbours(&self, values: &[f64]) -> Vec<Vec<f64>> {
        let mut all = Vec::new();
        for (n, knob) in self.knobs.iter().enumerate() {
            for sign in [-1.0, 1.0] {
                let mut next = values.to_vec();
                next[n] = knob.rounded(next[n] + sign * knob.step);
                if next[n] != values[n] {
                    all.push(next);
                }
            }
        }
        all
    }

    fn excess(&self, c: &Candidate) -> f64 {
        c.score.map_or(f64::INFINITY, |s| self.limits.iter().map(|l| s.excess(l)).sum())
    }

    /// Whether one candidate beats another clearly: fewer limits broken first, then what the judge says, then more charge.
    fn better(&self, a: &Candidate, b: &Candidate) -> bool {
        let (ea, eb) = (self.excess(a), self.excess(b));
        if (ea - eb).abs() > 1e-9 || ea.is_infinite() || eb.is_infinite() {
            return ea < eb;
        }
        // Good and worth knowing are alike: nothing has to be done.
        let weight = |c: &Candidate| c.score.map_or(Weight::Danger, |s| s.verdict.0.max(Weight::Note));
        let gain = |c: &Candidate| c.score.map_or(f64::NEG_INFINITY, |s| s.ah_per_drive_hour);
        let (wa, wb) = (weight(a), weight(b));
        wa < wb || (wa == wb && gain(a) > gain(b) + 1e-3)
    }

    fn best_of<'a>(&self, tried: &'a [Candidate]) -> Option<&'a Candidate> {
        let mut best = tried.iter().find(|c| c.score.is_some())?;
        for c in tried.iter().filter(|c| c.score.is_some()) {
            if self.better(c, best) {
                best = c;
            }
        }
        Some(best)
    }

    /// Range of one knob around the best in which all limits hold and at least `share` of the best is delivered.
    pub fn flat(&self, threads: &impl Threads, best: &Candidate, knob: usize, share: f64) -> (f64, f64) {
        let Some(score) = best.score else { return (best.values[knob], best.values[knob]) };
        let k = &self.knobs[knob];
        let steps = ((k.to - k.from) / k.step).round().clamp(1.0, 60.0);
        let values: Vec<f64> =
            (0..=steps as usize).map(|n| k.rounded(k.from + (k.to - k.from) * n as f64 / steps)).collect();
        let holds = threads.map(values.len(), |n| {
            let mut all = best.values.clone();
            all[knob] = values[n];
            self.score(&all).is_some_and(|s| {
                // What the best is clear of is no flat ground.
                let sound = s.verdict.0 <= score.verdict.0.max(Weight::Note);
                sound && s.within(&self.limits) && s.ah_per_drive_hour >= share * score.ah_per_drive_hour
            })
        });
        let here = best.values[knob];
        let walk = |order: &mut dyn Iterator<Item = usize>| {
            order.take_while(|n| holds[*n]).last().map_or(here, |n| values[n])
        };
        let low = walk(&mut (0..values.len()).rev().filter(|n| values[*n] < here));
        let high = walk(&mut (0..values.len()).filter(|n| values[*n] > here));
        (low, high)
    }
}

impl Knob {
    /// The nearest step within the range.
    pub fn rounded(&self, value: f64) -> f64 {
        let steps = (value / self.step).round() * self.step;
        // As one would write it.
        let text = format!("{:.9}", steps.clamp(self.from, self.to));
        text.parse().unwrap_or(steps)
    }
}

impl Tuned {
    /// The most that anything tried delivers under these limits, Ah/h.
    pub fn most_within(&self, limits: &[Limit]) -> Option<f64> {
        let scores = self.tried.iter().filter_map(|c| c.score).filter(|s| s.within(limits));
        scores.map(|s| s.ah_per_drive_hour).reduce(f64::max)
    }

    /// Candidates within `limits` that no other beats both in charge and in what is left in the starter battery.
    pub fn front(&self, limits: &[Limit]) -> Vec<&Candidate> {
        let mut all: Vec<(&Candidate, Score)> = self
            .tried
            .iter()
            .filter_map(|c| c.score.map(|s| (c, s)))
            .filter(|(_, s)| s.within(limits))
            .collect();
        all.sort_by(|a, b| {
            b.1.ah_per_drive_hour
                .total_cmp(&a.1.ah_per_drive_hour)
                .then(b.1.starter_pct.total_cmp(&a.1.starter_pct))
        });
        let mut best = f64::NEG_INFINITY;
        all.retain(|(_, s)| {
            let beats = s.starter_pct > best + 1e-6;
            best = best.max(s.starter_pct);
            beats
        });
        all.into_iter().map(|(c, _)| c).collect()
    }
}

fn one(trial: &Trial) -> Score {
    let s = &trial.summary;
    let drives = trial.run.stretches.iter().filter(|s| s.driving).count().max(1) as f64;
    let low = trial.run.stretches.iter().map(|s| s.end[STARTER]).fold(s.starter_end_soc, f64::min);
    Score {
        ah_per_drive_hour: ah_per_drive_hour(trial).unwrap_or(0.0),
        starter_pct: 100.0 * low,
        switchings: f64::from(s.came_on) / drives,
        hottest_c: hottest_c(trial),
        verdict: (trial.verdict.weight(), trial.verdict.word()),
        run_on_min: (s.unit_on_s - s.unit_on_driving_s) / 60.0 / drives,
    }
}

/// Hottest conductor met.
fn hottest_c(trial: &Trial) -> f64 {
    let all = [Watched::InputBay, Watched::InputCabin, Watched::Output];
    let met = all.into_iter().filter_map(|what| trial.run.stress.peak(what));
    met.map(|p| p.value).fold(f64::NEG_INFINITY, f64::max)
}
