//! Repeated switching told as one story.

use super::ended::{Ended, ended};
use super::evidence::Evidence;
use super::kind::{Kind, Named};
use super::mended::Mended;
use super::switch::Switch;
use super::{Scene, driving, parked};
use crate::record::timeline::A_STOP_S;
use crate::time::Instant;
use serde::Serialize;

/// What a switching, or a story, belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Family {
    /// On its input voltage, engine running.
    Driving,
    /// With the engine, which was stopped.
    Stop,
    /// It had come on with the engine standing.
    Parked,
    /// For heat.
    Heat,
    /// For its run signal.
    Signal,
    /// The house battery's protection, unit on.
    Protection,
    /// Charge stages, unit on.
    Stages,
}

/// Time between two drop-outs, s.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Period {
    /// Mean.
    pub mean_s: f64,
    /// Shortest.
    pub least_s: f64,
    /// Longest.
    pub most_s: f64,
}

/// Something that repeated itself, or went wrong once.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Story {
    /// What it belongs to.
    pub family: Family,
    /// Its beginning: the unit coming on before the first drop-out.
    #[serde(rename = "from_s", serialize_with = "in_seconds")]
    pub from: Instant,
    /// Its last drop-out; of a refusal, when charge was let in again.
    #[serde(rename = "to_s", serialize_with = "in_seconds")]
    pub to: Instant,
    /// How often.
    pub times: u32,
    /// Time between two; `None` for a single one.
    pub period: Option<Period>,
    /// Share of the time that the unit was on; of stops with the engine, of the time that it ran.
    pub duty: f64,
    /// Charge out of the unit, Ah.
    pub delivered_ah: f64,
    /// Charge out of a unit held at its output limit for that time, Ah.
    pub steady_ah: f64,
    /// What ended it.
    pub ended: Ended,
    /// Its kinds, the commonest first; empty where none can be told.
    pub kinds: Vec<Named>,
    /// A drop-out to look at closely: index into the switchings; `None` where no drop-out belongs to it.
    pub typical: Option<usize>,
}

/// An instant as seconds since the start of the run.
fn in_seconds<S: serde::Serializer>(t: &Instant, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_f64(t.as_s())
}

/// Drop-outs further apart than this are two stories, s: parked and hot things are slow.
fn apart_s(family: Family) -> f64 {
    match family {
        Family::Driving | Family::Signal => 1200.0,
        _ => 7200.0,
    }
}

/// Fewest times that make a story: stopping with the engine, once, is what a unit should do.
fn fewest(family: Family) -> usize {
    match family {
        Family::Stop | Family::Parked => 3,
        _ => 1,
    }
}

/// The stories that the switchings tell.
pub(super) fn tell(scene: &Scene, switches: &[Switch]) -> Vec<Story> {
    tell_with(scene, switches, true)
}

/// The same, their causes named or not: naming runs the drive again with things mended.
pub(super) fn tell_with(scene: &Scene, switches: &[Switch], named: bool) -> Vec<Story> {
    let mut stories = Vec::new();
    let mended = Mended::default();
    for family in [Family::Driving, Family::Stop, Family::Parked, Family::Heat, Family::Signal] {
        let offs: Vec<usize> =
            (0..switches.len()).filter(|&n| !switches[n].on && switches[n].family == family).collect();
        // Stopping with the engine is what a unit should do; only stops that are over soon make a story.
        let offs: Vec<usize> = offs
            .into_iter()
            .filter(|&n| family != Family::Stop || stops_for_a_moment(scene, switches[n].t))
            .collect();
        let mut groups = grouped(scene, switches, &offs, family);
        // Where one story stands for others like it, it is the worst of them, the first of equals.
        groups.sort_by_key(|g| std::cmp::Reverse(g.len()));
        for group in groups {
            let mut story = story(scene, switches, group, family);
            if named {
                story.kinds = kinds(scene, switches, group, &story, &mended);
            }
            stories.push(story);
        }
    }
    stories
}

fn grouped<'o>(scene: &Scene, switches: &[Switch], offs: &'o [usize], family: Family) -> Vec<&'o [usize]> {
    let mut groups = Vec::new();
    let mut from = 0;
    for n in 1..=offs.len() {
        let parts = n == offs.len() || {
            let (a, b) = (&switches[offs[n - 1]], &switches[offs[n]]);
            b.t.since(a.t) > apart_s(family)
                || (matches!(family, Family::Driving | Family::Signal | Family::Stop)
                    && long_stop(scene, a.t, b.t))
        };
        if parts {
            groups.push(&offs[from..n]);
            from = n;
        }
    }
    groups.retain(|g| g.len() >= fewest(family));
    groups
}

/// Whether the engine stop that holds an instant, or ends with it, is a short one.
fn stops_for_a_moment(scene: &Scene, t: Instant) -> bool {
    let stop = scene.run.stretches.iter().find(|s| !s.driving && s.from <= t && s.to >= t);
    // Cranking belongs to the drive that follows.
    let stop = stop.or_else(|| scene.run.stretches.iter().rev().find(|s| !s.driving && s.to <= t));
    let at_end = |s: &crate::engine::Run, to: Instant| to >= s.span.1;
    stop.is_some_and(|s| s.to.since(s.from) <= A_STOP_S && !at_end(scene.run, s.to))
}

/// Whether the engine stood for long between two instants.
fn long_stop(scene: &Scene, a: Instant, b: Instant) -> bool {
    let stops = scene.run.stretches.iter().filter(|s| !s.driving && s.from > a && s.to < b);
    stops.into_iter().any(|s| s.to.since(s.from) > A_STOP_S)
}

/// A story whose causes are not named yet.
fn story(scene: &Scene, switches: &[Switch], group: &[usize], family: Family) -> Story {
    let offs = || group.iter().map(|&n| &switches[n]);
    let (first, last) = (&switches[group[0]], &switches[group[group.len() - 1]]);
    let from = first.on_since.unwrap_or(first.t);
    let gaps: Vec<f64> = group.windows(2).map(|w| switches[w[1]].t.since(switches[w[0]].t)).collect();
    let on_s = |s: &Switch| s.on_since.map_or(0.0, |on| s.t.since(on));
    let longest_s = offs().skip(1).map(on_s).fold(if group.len() > 1 { 0.0 } else { on_s(first) }, f64::max);
    // A single drop-out after hours on must not ask for more hours to count as over.
    let longest_s = longest_s.min(600.0);
    let held_s = held_s(scene, from, last.t, family).max(1e-9);
    Story {
        family,
        from,
        to: last.t,
        times: group.len() as u32,
        period: period(&gaps),
        duty: (offs().map(on_s).sum::<f64>() / held_s).min(1.0),
        delivered_ah: delivered_ah(scene, from, last.t),
        steady_ah: scene.model.link().converter.output_limit_a * held_s / 3600.0,
        ended: ended(scene, switches, group[group.len() - 1], longest_s),
        kinds: Vec::new(),
        typical: Some(typical(switches, group)),
    }
}

/// The time of a story that a unit could have been on, s: where stopping with the engine is the story, while it ran.
fn held_s(scene: &Scene, from: Instant, to: Instant, family: Family) -> f64 {
    if family != Family::Stop {
        return to.since(from);
    }
    let driven = scene.run.stretches.iter().filter(|s| s.driving);
    driven.map(|s| s.to.min(to).since(s.from.max(from)).max(0.0)).sum()
}

/// What made a story.
fn kinds(scene: &Scene, switches: &[Switch], group: &[usize], story: &Story, mended: &Mended) -> Vec<Named> {
    match story.family {
        Family::Driving => driving::kinds(scene, switches, group, story, mended),
        Family::Parked => parked::kinds(scene, switches, group, story),
        Family::Stop => vec![Named {
            kind: Kind::StopStart,
            times: story.times,
            evidence: vec![parked::stops(scene, story)],
        }],
        Family::Heat => {
            let evidence = match switches[group[group.len() - 1]].cause {
                crate::record::event::Cause::Heat { case_c, limit_c } => {
                    vec![Evidence::TooHot { case_c, limit_c }]
                }
                _ => Vec::new(),
            };
            vec![Named { kind: Kind::Heat, times: story.times, evidence }]
        }
        _ => vec![Named {
            kind: Kind::Signal,
            times: story.times,
            evidence: vec![Evidence::SignalLost { times: story.times }],
        }],
    }
}

fn period(gaps: &[f64]) -> Option<Period> {
    let fold = |f: fn(f64, f64) -> f64| gaps.iter().copied().reduce(f);
    let mean_s = gaps.iter().sum::<f64>() / gaps.len() as f64;
    Some(Period { mean_s, least_s: fold(f64::min)?, most_s: fold(f64::max)? })
}

/// The drop-out in the middle: the first and the last may be special.
fn typical(switches: &[Switch], group: &[usize]) -> usize {
    let told: Vec<usize> = group.iter().copied().filter(|&n| !switches[n].kinds.is_empty()).collect();
    let from = if told.is_empty() { group } else { &told };
    from[from.len() / 2]
}

/// Charge out of the unit between two instants, Ah: Simpson's rule on the trace's own steps.
pub(super) fn delivered_ah(scene: &Scene, from: Instant, to: Instant) -> f64 {
    let steps = scene.run.trace.steps_from(scene.model, scene.profile, from);
    let mut c = 0.0;
    for k in steps.take_while(|k| k.start < to).filter(|k| k.mode.on) {
        let (a, b) = ((from.ns() - k.start.ns()).max(0), (to.ns() - k.start.ns()).min(k.ns));
        let at = |ns: i64| scene.run.trace.in_step(scene.model, scene.profile, &k, ns).net.output_a;
        let thirds = at(a) + 4.0 * at(a + (b - a) / 2) + at(b);
        c += (b - a) as f64 * 1e-9 * thirds / 6.0;
    }
    c / 3600.0
}
