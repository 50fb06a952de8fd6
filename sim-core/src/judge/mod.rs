//! The judge: what a run comes to, as findings with a weight each.
//!
//! Every sentence, table, map and remedy that says whether something is well asks here, so that no two of them can say
//! different things. A finding has a kind, a weight, when it was so, and the numbers that show it. The worst weight decides,
//! dangers before charge: a run with a danger is never "good", however much it charges.
//!
//! ```
//! use sim_core::judge::{Facts, Verdict, Weight};
//! use sim_core::scenario::{Num, Scenario, drive::PieceSpec};
//! use sim_core::{Options, resolve::resolve, simulate};
//!
//! let mut van = Scenario::default();
//! van.pieces = vec![PieceSpec {
//!     duration_min: Some(Num::typed(45.0)),
//!     engine_rpm: Some(Num::typed(2000.0)),
//!     ..PieceSpec::default()
//! }];
//! let ready = resolve(&van, &|_| None).expect("a consistent scenario");
//! let run = simulate(&ready.model, &ready.profile, &Options::default()).expect("a run");
//! let read = sim_core::judge::Read::of(&run, &ready.model, &ready.profile);
//! let verdict = Verdict::of(&read.facts(&run, &ready.model, &ready.profile, &van.limits));
//! assert!(verdict.weight() < Weight::Trouble, "{:?}", verdict.findings);
//! assert_eq!(verdict.word(), "good");
//! ```

mod charge;
mod fuse;
pub mod guard_rails;
mod heat;
mod kind;
mod starter;
mod switching;
mod taper;
#[cfg(test)]
mod tests;
mod volts;

pub use charge::FULL_SOC;
pub use kind::{CableOf, Kind, Section, Source, Taper, Want};
pub use starter::{CRANKS_V_PER_CELL, least_crank_v};
pub use switching::{RUN_ON_S, run_on_limit_s};

use crate::engine::Run;
use crate::model::{Model, Profile};
use crate::record::limits::broken;
use crate::record::{Line, Peak, Summary, Timeline};
use crate::scenario::limits::LimitsSpec;
use serde::Serialize;

/// How much a finding weighs, the lightest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Weight {
    /// It is as it should be.
    Good,
    /// Worth knowing; nothing has to be done.
    Note,
    /// It does not do what it was fitted for, or wears something out.
    Trouble,
    /// It can hurt somebody or set something on fire.
    Danger,
}

impl Weight {
    /// In a word.
    pub fn word(self) -> &'static str {
        match self {
            Weight::Good => "good",
            Weight::Note => "worth knowing",
            Weight::Trouble => "trouble",
            Weight::Danger => "danger",
        }
    }
}

/// When something was so.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct When {
    /// The first time, s since the start.
    pub first_s: f64,
    /// The last time, s since the start.
    pub last_s: f64,
    /// For how long in all, s.
    pub for_s: f64,
    /// How often.
    pub times: u32,
}

impl When {
    /// Once, from one instant to another.
    pub fn once(first_s: f64, last_s: f64) -> When {
        When { first_s, last_s, for_s: last_s - first_s, times: 1 }
    }
}

/// The numbers that show a finding.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Measure {
    /// What was met.
    pub value: f64,
    /// What it is held against.
    pub limit: f64,
    /// Unit of both.
    pub unit: &'static str,
    /// How far on the wrong side of the limit; negative on the right side.
    pub over: f64,
}

impl Measure {
    /// Of something that may be so much at most.
    pub fn at_most(value: f64, limit: f64, unit: &'static str) -> Measure {
        Measure { value, limit, unit, over: value - limit }
    }

    /// Of something that must be so much at least.
    pub fn at_least(value: f64, limit: f64, unit: &'static str) -> Measure {
        Measure { value, limit, unit, over: limit - value }
    }
}

/// One thing that a run shows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Finding {
    /// What.
    #[serde(flatten)]
    pub kind: Kind,
    /// How much it weighs.
    pub weight: Weight,
    /// When.
    pub when: When,
    /// The numbers that show it, where it has any.
    pub measure: Option<Measure>,
}

impl Finding {
    fn new(kind: Kind, weight: Weight, when: When) -> Finding {
        Finding { kind, weight, when, measure: None }
    }

    fn with(self, measure: Measure) -> Finding {
        Finding { measure: Some(measure), ..self }
    }

    /// Whether something has to be done about it.
    pub fn is_bad(&self) -> bool {
        self.weight >= Weight::Trouble
    }
}

/// What is judged.
#[derive(Debug, Clone, Copy)]
pub struct Facts<'a> {
    /// What happened.
    pub run: &'a Run,
    /// The vehicle.
    pub model: &'a Model,
    /// The drive.
    pub profile: &'a Profile,
    /// The run in spans.
    pub timeline: &'a Timeline,
    /// The run in a handful of numbers.
    pub summary: &'a Summary,
    /// Limits of the user's.
    pub limits: &'a LimitsSpec,
}

impl Facts<'_> {
    /// Charge out of the unit with the engine running, Ah.
    fn driven_ah(&self) -> f64 {
        self.run.ledger.ah(Line::OutputC) - self.run.ledger.ah(Line::OutputParkedC)
    }
}

/// A run read once: what [`Facts`] needs of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Read {
    /// In spans.
    pub timeline: Timeline,
    /// In a handful of numbers.
    pub summary: Summary,
}

impl Read {
    /// Reads a run.
    pub fn of(run: &Run, model: &Model, profile: &Profile) -> Read {
        let timeline = Timeline::of(run, model, profile);
        let summary = Summary::of(run, model, profile, &timeline);
        Read { timeline, summary }
    }

    /// What a verdict draws on: the run that was read, with its vehicle and drive, and the user's limits.
    pub fn facts<'a>(
        &'a self,
        run: &'a Run,
        model: &'a Model,
        profile: &'a Profile,
        limits: &'a LimitsSpec,
    ) -> Facts<'a> {
        Facts { run, model, profile, timeline: &self.timeline, summary: &self.summary, limits }
    }
}

/// What a run comes to: findings, the gravest first.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Verdict {
    /// By weight, then by how grave their kind is, then by how far they go.
    pub findings: Vec<Finding>,
}

impl Verdict {
    /// Judges a run.
    pub fn of(facts: &Facts) -> Verdict {
        let mut findings = Vec::new();
        heat::find(facts, &mut findings);
        fuse::find(facts, &mut findings);
        volts::find(facts, &mut findings);
        starter::find(facts, &mut findings);
        switching::find(facts, &mut findings);
        taper::find(facts, &mut findings);
        charge::find(facts, &mut findings);
        limits_broken(facts, &mut findings);
        findings.sort_by(|a, b| {
            let over = |f: &Finding| f.measure.map_or(0.0, |m| m.over);
            (b.weight.cmp(&a.weight))
                .then(a.kind.gravity().cmp(&b.kind.gravity()))
                .then(over(b).total_cmp(&over(a)))
        });
        Verdict { findings }
    }

    /// The weight of the worst finding; good without any.
    pub fn weight(&self) -> Weight {
        self.findings.first().map_or(Weight::Good, |f| f.weight)
    }

    /// The worst finding, where something has to be done.
    pub fn worst(&self) -> Option<&Finding> {
        self.findings.first().filter(|f| f.is_bad())
    }

    /// Whether nothing has to be done: neither danger nor trouble.
    pub fn is_good(&self) -> bool {
        self.worst().is_none()
    }

    /// Whether somebody can be hurt.
    pub fn is_danger(&self) -> bool {
        self.weight() == Weight::Danger
    }

    /// A stable short word for tables: that of the worst finding, "good" where nothing has to be done.
    pub fn word(&self) -> &'static str {
        self.worst().map_or("good", |f| f.kind.word())
    }

    /// Dangers and troubles, the gravest first.
    pub fn bad(&self) -> impl Iterator<Item = &Finding> + '_ {
        self.findings.iter().take_while(|f| f.is_bad())
    }

    /// The first finding of which `is` holds.
    pub fn find(&self, is: impl Fn(&Kind) -> bool) -> Option<&Finding> {
        self.findings.iter().find(|f| is(&f.kind))
    }
}

/// A peak beyond its limit as when and measure.
fn beyond(peak: &Peak, unit: &'static str) -> (When, Measure) {
    let when = When {
        first_s: peak.first_s.unwrap_or(peak.t_s),
        last_s: peak.last_s,
        for_s: peak.over_s,
        times: peak.times,
    };
    (when, Measure::at_most(peak.value, peak.limit, unit))
}

/// Limits of the user's, a finding each; those that have a kind of their own are found there.
fn limits_broken(facts: &Facts, findings: &mut Vec<Finding>) {
    let (start, end) = (facts.timeline.span.from.as_s(), facts.timeline.span.to.as_s());
    for b in broken(facts.limits, facts.summary) {
        if matches!(b.key, "longest_run_on_min" | "crank_reserve_pct") {
            continue;
        }
        let most = b.key.starts_with("most") || b.key.starts_with("longest");
        let at = if most { Measure::at_most } else { Measure::at_least };
        let measure = at(b.met, b.limit, b.unit());
        let kind = Kind::LimitBroken { key: b.key };
        findings.push(Finding::new(kind, Weight::Trouble, When::once(start, end)).with(measure));
    }
}
