//! Distance to trouble: where the outcome changes when one thing is changed, found by whole runs.
//!
//! Each knob is scanned coarsely over a sensible span, both ways, and every pair of neighbours with different outcomes is
//! halved until it lies within [`Knob::resolution`]; so there can be more than one border. A span between two scanned values
//! with equal outcomes is looked into only where the number of start-up cycles differs and the last of them is near the line
//! that tells outcomes apart: outcomes take turns there, and the band over which they do is told ([`Edge::takes_turns`]).
//! Runs are independent jobs, folded in order: whoever has threads lends them.
//!
//! ```
//! use sim_core::study::distance::{Search, one_by_one};
//! # use sim_core::study::Case;
//! # use sim_core::scenario::node::{Entry, Node, Place, Value};
//! # let place = Place { source: 0, start: 0, end: 0 };
//! # let node = |value| Node { place, value };
//! # let entry = |key: &str, value| Entry { key: key.into(), key_place: place, node: node(value) };
//! # let piece = node(Value::Table(vec![
//! #     entry("duration_min", Value::Number(20.0)),
//! #     entry("engine_rpm", Value::Number(2000.0)),
//! # ]));
//! # let drive = Value::Table(vec![entry("piece", Value::List(vec![piece]))]);
//! # let root = node(Value::Table(vec![entry("format", Value::Number(1.0)), entry("drive", drive)]));
//! # let case = Case::new(root, Default::default());
//! let search = Search::new(&case)?.only(|knob| knob.name == "turn-on voltage");
//! let distances = search.solve(&one_by_one);
//! let turn_on = &distances.rows[0];
//! // Somewhere above the set-point it never comes on.
//! assert!(turn_on.edges.last().is_some_and(|edge| edge.at() > 14.0 && edge.at() < 14.3));
//! # Ok::<(), sim_core::study::TrialError>(())
//! ```

use super::borders::{self, Edge};
use super::case::{Case, same};
use super::cycles::{Cycles, may_hide};
use super::finish;
use super::key_off::RunOn;
use super::knobs::{Knob, Part, knobs};
use super::outcome::{Outcome, Witness};
use super::trial::{Trial, TrialError};

/// Most rounds of halving; a border is found to its resolution long before.
const MOST_ROUNDS: usize = 60;
/// Most borders that one knob is searched for at a time; those nearest to its value now come first.
const MOST_EDGES: usize = 12;
/// Most pairs of equal outcomes that are looked into at a time.
const MOST_HIDDEN: usize = 24;

/// A search for the borders of all knobs.
pub struct Search {
    case: Case,
    base: Trial,
    judge: Judge,
    lanes: Vec<Lane>,
    runs: usize,
}

/// What a run is asked, and the moment that a closed form is held against.
#[derive(Clone, Copy)]
struct Judge {
    outcome: fn(&Trial) -> Outcome,
    witness: fn(&Trial) -> Option<Witness>,
}

impl Judge {
    fn seen(self, trial: &Trial) -> Seen {
        Seen {
            outcome: (self.outcome)(trial),
            witness: (self.witness)(trial),
            cycles: Cycles::of(trial),
            run_on: RunOn::of(trial),
        }
    }
}

/// One knob and what is known of it.
#[derive(Debug, Clone)]
struct Lane {
    knob: Knob,
    /// By rising value; `None` where these values make no scenario or no run.
    seen: Vec<(f64, Option<Seen>)>,
    scanned: bool,
}

/// What one run came to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Seen {
    pub outcome: Outcome,
    pub witness: Option<Witness>,
    pub cycles: Cycles,
    pub run_on: Option<RunOn>,
}

/// One run to be made.
#[derive(Clone, Copy)]
pub struct Job<'a> {
    search: &'a Search,
    lane: usize,
    value: f64,
}

/// What a job found.
#[derive(Debug, Clone, Copy)]
pub struct Answer {
    lane: usize,
    value: f64,
    seen: Option<Seen>,
}

impl Job<'_> {
    /// Makes the run.
    pub fn run(&self) -> Answer {
        let (lane, value) = (self.lane, self.value);
        let knob = &self.search.lanes[lane].knob;
        let trial =
            knob.turned(&self.search.case, value).ok().and_then(|case| Trial::run_of_many(&case).ok());
        Answer { lane, value, seen: trial.map(|t| self.search.judge.seen(&t)) }
    }
}

/// Makes jobs one after the other, for whoever has no threads to lend.
pub fn one_by_one(jobs: &[Job]) -> Vec<Answer> {
    jobs.iter().map(Job::run).collect()
}

/// One knob: where the outcome changes.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The knob.
    pub knob: Knob,
    /// Values that were run, rising, with their outcomes.
    pub seen: Vec<(f64, Outcome)>,
    /// Where the outcome changes, rising.
    pub edges: Vec<Edge>,
}

impl Row {
    /// The nearest borders below and above the knob's value now.
    pub fn nearest(&self) -> (Option<&Edge>, Option<&Edge>) {
        let now = self.knob.now;
        let below = self.edges.iter().rev().find(|e| e.high <= now);
        (below, self.edges.iter().find(|e| e.low >= now))
    }

    /// The span that was looked at.
    pub fn span(&self) -> (f64, f64) {
        let first = self.seen.first().map_or(self.knob.now, |s| s.0);
        (first, self.seen.last().map_or(self.knob.now, |s| s.0))
    }
}

/// All knobs.
#[derive(Debug, Clone, PartialEq)]
pub struct Distances {
    /// What the case comes to as it is.
    pub now: Outcome,
    /// A row for each knob that moves anything.
    pub rows: Vec<Row>,
    /// How many runs it took.
    pub runs: usize,
}

impl Search {
    /// A search over all knobs that move anything in this case, judged by [`Outcome::of`].
    ///
    /// # Errors
    /// [`TrialError`] when the case itself cannot be run.
    pub fn new(case: &Case) -> Result<Search, TrialError> {
        let base = Trial::run_of_many(case)?;
        let mut lanes = Vec::new();
        for knob in knobs(&base.scenario) {
            if moves(case, &base, &knob) {
                lanes.push(Lane { knob, seen: Vec::new(), scanned: false });
            }
        }
        let judge = Judge { outcome: Outcome::of, witness: Witness::of };
        Ok(Search { case: case.clone(), base, judge, lanes, runs: 0 })
    }

    /// A search for the house load up to which absorption ends on its tail current (c8); no row where the load moves nothing.
    ///
    /// # Errors
    /// As [`Search::new`].
    pub fn of_absorption(case: &Case) -> Result<Search, TrialError> {
        let mut search = Search::new(case)?.only(|knob| knob.part == Part::HouseLoad);
        search.judge = Judge { outcome: finish::outcome, witness: finish::witness };
        Ok(search)
    }

    /// The same with a judge of your own; its outcome may hang on the run alone.
    #[must_use]
    pub fn judged_by(mut self, judge: fn(&Trial) -> Outcome) -> Search {
        self.judge.outcome = judge;
        self
    }

    /// The same for some of the knobs.
    #[must_use]
    pub fn only(mut self, wanted: impl Fn(&Knob) -> bool) -> Search {
        self.lanes.retain(|lane| wanted(&lane.knob));
        self
    }

    /// The next runs to be made; none when everything is found.
    pub fn jobs(&self) -> Vec<Job<'_>> {
        let mut jobs = Vec::new();
        for (n, lane) in self.lanes.iter().enumerate() {
            jobs.extend(lane.wanted().into_iter().map(|value| Job { search: self, lane: n, value }));
        }
        jobs
    }

    /// Takes up answers, in any order.
    pub fn fold(&mut self, answers: &[Answer]) {
        self.runs += answers.len();
        for answer in answers {
            let seen = &mut self.lanes[answer.lane].seen;
            let at = seen.partition_point(|(value, _)| *value < answer.value);
            seen.insert(at, (answer.value, answer.seen));
        }
        for lane in &mut self.lanes {
            lane.scanned = true;
        }
    }

    /// Searches to the end; `make` makes a list of runs and hands back their answers.
    #[must_use]
    pub fn solve(mut self, make: &dyn Fn(&[Job]) -> Vec<Answer>) -> Distances {
        for _ in 0..MOST_ROUNDS {
            let jobs = self.jobs();
            if jobs.is_empty() {
                break;
            }
            let answers = make(&jobs);
            drop(jobs);
            self.fold(&answers);
        }
        self.finish()
    }

    /// What has been found so far.
    #[must_use]
    pub fn finish(&self) -> Distances {
        let now = (self.judge.outcome)(&self.base);
        let fallback = (self.judge.witness)(&self.base);
        let rows = self.lanes.iter().map(|lane| {
            let seen: Vec<(f64, Seen)> = lane.seen.iter().filter_map(|(v, s)| Some((*v, (*s)?))).collect();
            let edges = borders::edges(&self.case, &lane.knob, &seen, fallback);
            let seen = seen.into_iter().map(|(v, s)| (v, s.outcome)).collect();
            Row { knob: lane.knob.clone(), seen, edges }
        });
        Distances { now, rows: rows.collect(), runs: self.runs + 1 }
    }
}

impl Lane {
    /// Values to be run next.
    fn wanted(&self) -> Vec<f64> {
        if !self.scanned {
            return self.knob.grid.clone();
        }
        if !self.knob.sizes.is_empty() {
            return Vec::new();
        }
        let known: Vec<(f64, Seen)> = self.seen.iter().filter_map(|(v, s)| Some((*v, (*s)?))).collect();
        let nearest = |open: &dyn Fn(&Seen, &Seen) -> bool, most: usize| {
            let pairs = known.windows(2).filter(|w| open(&w[0].1, &w[1].1));
            let mut pairs: Vec<(f64, f64)> = pairs.map(|w| (w[0].0, w[1].0)).collect();
            pairs.sort_by(|a, b| (a.0 - self.knob.now).abs().total_cmp(&(b.0 - self.knob.now).abs()));
            pairs.truncate(most);
            pairs
        };
        let mut open = nearest(&|a, b| a.outcome != b.outcome, MOST_EDGES);
        let hides = |a: &Seen, b: &Seen| a.outcome == b.outcome && may_hide(a.outcome, &a.cycles, &b.cycles);
        open.extend(nearest(&hides, MOST_HIDDEN));
        let middle = |(a, b): (f64, f64)| {
            let mid = 0.5 * (a + b);
            (b - a > self.knob.resolution(mid) && mid > a && mid < b).then_some(mid)
        };
        let wanted = open.into_iter().filter_map(middle);
        // A value that could not be run is not tried again.
        wanted.filter(|mid| self.seen.iter().all(|(v, _)| v != mid)).collect()
    }
}

/// Whether a knob moves anything: some keys count for nothing in some scenarios.
fn moves(case: &Case, base: &Trial, knob: &Knob) -> bool {
    let ends = [knob.grid.first(), knob.grid.last()];
    ends.into_iter().flatten().any(|value| {
        let turned = knob.turned(case, *value).and_then(|case| case.resolve());
        turned.map_or(true, |(_, resolved)| !same(&resolved, &base.resolved))
    })
}
