//! Two runs of one vehicle compared: the same events in the same order, at the same times, to the same states of charge.

use crate::watched::worth_s;
use sim_core::record::EventKind;
use sim_core::state::{HOUSE, STARTER};
use sim_core::{Model, Options, Profile, Record, Run, RunError, Stepper, simulate};

/// Events may move by this much, s, or by what a microvolt of the watched quantity is worth, whichever is more.
pub const TIME_S: f64 = 0.01;
/// States of charge may move by this much, apart from what moved events account for.
pub const SOC: f64 = 1e-6;
/// A greatest current, A: what a moved event can be worth in charge.
const GREATEST_A: f64 = 250.0;

/// What every stepper is measured against: the reference stepper at a tight tolerance.
pub fn reference() -> Options {
    Options { tolerance: 1e-11, stepper: Stepper::Reference, ..Options::default() }
}

/// The same for stiff vehicles by the thousand: the implicit stepper, tight. It is held against [`reference()`] on a sample.
pub fn tight() -> Options {
    Options { tolerance: 1e-12, stepper: Stepper::Fast, ..Options::default() }
}

/// Every stepper that the tree has, by name, as a user gets it.
pub fn steppers() -> Vec<(&'static str, Options)> {
    let with = |stepper| Options { stepper, ..Options::default() };
    vec![("reference", with(Stepper::Reference)), ("fast", with(Stepper::Fast))]
}

/// How well two runs agree.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Agreement {
    /// Number of events.
    pub events: usize,
    /// The event that moved most, s.
    pub worst_s: f64,
    /// The same as a share of what is allowed there.
    pub share: f64,
    /// The state of charge that moved most.
    pub worst_soc: f64,
}

/// How two runs differ.
#[derive(Debug, Clone, PartialEq)]
pub enum Difference {
    /// Another event, or none, in this place.
    Sequence {
        /// Place in the sequence, from 0.
        place: usize,
        /// What happens, in words.
        what: String,
    },
    /// The same event too far away.
    Time {
        /// Place in the sequence, from 0.
        place: usize,
        /// What happens, in words.
        what: String,
    },
    /// A state of charge that events do not account for.
    Soc(String),
    /// A run that ended early, or a state that is no finite number.
    Broken(String),
}

impl Difference {
    /// Where the sequences part, if that is what is wrong.
    pub fn parts_at(&self) -> Option<usize> {
        if let Difference::Sequence { place, .. } = self { Some(*place) } else { None }
    }
}

/// The kinds of all events, in order.
pub fn kinds(run: &Run) -> Vec<EventKind> {
    run.events.iter().map(|e| e.kind).collect()
}

/// Where two sequences part.
pub fn parting(a: &[EventKind], b: &[EventKind]) -> Option<usize> {
    let same = a.iter().zip(b).take_while(|(x, y)| x == y).count();
    (same < a.len().max(b.len())).then_some(same)
}

/// Compares a run as tried with the reference's. Neither needs to keep its steps, unless an event moves so far that what it
/// watches must be looked at.
///
/// # Errors
/// The first [`Difference`].
pub fn compare(
    model: &Model,
    profile: &Profile,
    tried: &Options,
    reference: &Options,
) -> Result<Agreement, Difference> {
    let tell = |who: &str, e: RunError| Difference::Broken(format!("{who}: {e}"));
    let light = |options: &Options| Options { record: Record::Summary, ..*options };
    let a = simulate(model, profile, &light(tried)).map_err(|e| tell("as tried", e))?;
    let mut b = simulate(model, profile, &light(reference)).map_err(|e| tell("reference", e))?;
    if most_moved(&a, &b) > TIME_S {
        b = simulate(model, profile, reference).map_err(|e| tell("reference", e))?;
    }
    compare_runs(model, profile, &a, &b)
}

/// Seconds by which the event that moved most did, as far as the sequences are the same.
pub fn most_moved(a: &Run, b: &Run) -> f64 {
    let same = a.events.iter().zip(&b.events).take_while(|(x, y)| x.kind == y.kind);
    same.map(|(x, y)| (x.t.as_s() - y.t.as_s()).abs()).fold(0.0, f64::max)
}

/// Compares two runs that are there already; the second is the reference.
///
/// # Errors
/// The first [`Difference`].
pub fn compare_runs(model: &Model, profile: &Profile, a: &Run, b: &Run) -> Result<Agreement, Difference> {
    if !a.end.iter().chain(&a.ledger.0).all(|x| x.is_finite()) {
        return Err(Difference::Broken(format!("not finite: {:?}", a.end)));
    }
    let mut found = Agreement { events: b.events.len(), ..Agreement::default() };
    let parts = parting(&kinds(a), &kinds(b));
    // What comes later inherits what came before: allowances add up along the run.
    let mut inherited_s = 0.0;
    let until = parts.unwrap_or(usize::MAX);
    let looked_at = most_moved(a, b) > TIME_S;
    for (place, (x, y)) in a.events.iter().zip(&b.events).enumerate().take(until) {
        if looked_at {
            inherited_s += worth_s(b, model, profile, y);
        }
        let (moved, allowed) = ((x.t.as_s() - y.t.as_s()).abs(), TIME_S.max(inherited_s));
        found.worst_s = found.worst_s.max(moved);
        found.share = found.share.max(moved / allowed);
        if moved > allowed {
            let what = format!("{:?} at {} s moves by {moved:e} s of {allowed:e} s", y.kind, y.t.as_s());
            return Err(Difference::Time { place, what });
        }
    }
    if let Some(place) = parts {
        let tell = |r: &Run| r.events.get(place).map(|e| (e.t.as_s(), e.kind));
        let what = format!("{:?} against {:?}", tell(a), tell(b));
        return Err(Difference::Sequence { place, what });
    }
    for (name, first, battery) in [("starter", STARTER, &model.starter), ("house", HOUSE, &model.house)] {
        let moved = (a.end[first] - b.end[first]).abs();
        found.worst_soc = found.worst_soc.max(moved);
        let allowed = SOC + found.worst_s * GREATEST_A / battery.capacity_c();
        if moved > allowed {
            return Err(Difference::Soc(format!("{name}: {moved:e} of {allowed:e}")));
        }
    }
    Ok(found)
}
