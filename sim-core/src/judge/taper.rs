//! What keeps the unit under its current although nothing switches: a target voltage that is reached too early, and stages
//! that end late or hold too much.

use super::{Facts, Finding, Kind, Measure, Taper, Weight, When};
use crate::logic::Stage;
use crate::network::{Limit, Net};
use crate::record::event::{Cause, EventKind};
use crate::record::timeline::Span;
use crate::state::HOUSE;
use crate::time::Instant;

/// Share of its current limit under which a unit gives little.
const LITTLE_SHARE: f64 = 0.9;
/// Share of the time on, engine running, that it has to be held back by its target voltage.
const HELD_SHARE: f64 = 0.25;
/// State of charge up to which a battery should take the whole current, share of full: lead-acid tapers by itself from
/// about here on; common practice, no source.
const TAKES_ALL_SOC: f64 = 0.8;
/// A float this share of the absorption voltage, or more, is no float: 14.0 V of 14.2 V; common practice, no source.
const FLOAT_SHARE: f64 = 0.99;
/// Float held for no longer than this is not worth a word, s.
const FLOAT_S: f64 = 60.0;

pub(super) fn find(facts: &Facts, findings: &mut Vec<Finding>) {
    findings.extend(early(facts));
    findings.extend(by_cap(facts));
    findings.extend(float(facts));
}

/// When the target voltage ruled with the engine running, and volts and amps when it first began to.
fn at_target(facts: &Facts) -> Option<(When, Net)> {
    let (mut driving, mut since, mut first) = (false, None::<Instant>, None);
    let mut spans: Vec<Span> = Vec::new();
    let mut end = |since: &mut Option<Instant>, to: Instant| {
        spans.extend(since.take().map(|from| Span { from, to }));
    };
    for e in &facts.run.events {
        match e.kind {
            EventKind::EngineRuns => driving = true,
            EventKind::Limit { to: Limit::Voltage, .. } if driving => {
                first.get_or_insert(e.after);
                since.get_or_insert(e.t);
            }
            EventKind::KeyOff => {
                driving = false;
                end(&mut since, e.t);
            }
            EventKind::Limit { .. } | EventKind::UnitOff => end(&mut since, e.t),
            _ => {}
        }
    }
    end(&mut since, facts.run.span.1);
    let when = When {
        first_s: spans.first()?.from.as_s(),
        last_s: spans.last()?.to.as_s(),
        for_s: spans.iter().map(Span::seconds).sum(),
        times: spans.len() as u32,
    };
    Some((when, first?))
}

/// The target voltage holds the unit back although the house battery is far from full.
fn early(facts: &Facts) -> Option<Finding> {
    // A battery that refuses charge is told by itself.
    if !facts.timeline.refused.is_empty() {
        return None;
    }
    let (when, net) = at_target(facts)?;
    let on_s = facts.timeline.on_driving_s();
    let ends = facts.run.stretches.iter().filter(|s| s.driving).map(|s| s.end[HOUSE]);
    let most_soc = ends.fold(facts.run.start[HOUSE], f64::max);
    let link = facts.model.link();
    let limit_a = link.converter.output_limit_a;
    let mean_a = 3600.0 * facts.driven_ah() / on_s;
    if when.for_s < HELD_SHARE * on_s || mean_a > LITTLE_SHARE * limit_a || most_soc > TAKES_ALL_SOC {
        return None;
    }
    let house = &facts.model.house;
    let cable_v = net.out_v - net.house_v;
    let battery_v = net.house_v - house.rested_v(facts.run.start[HOUSE]);
    let by = if link.stages.absorption_v < house.rested_v(1.0) {
        Taper::Target
    } else if cable_v > battery_v {
        Taper::Cable
    } else {
        Taper::Battery
    };
    let measure = Measure::at_least(mean_a, limit_a, "A");
    Some(Finding::new(Kind::TapersEarly { by }, Weight::Note, when).with(measure))
}

/// Absorption that ends on its cap: the battery is full, and the house load keeps the current over the tail.
fn by_cap(facts: &Facts) -> Option<Finding> {
    let tail_a = facts.model.link().stages.tail_a;
    let hidden = || {
        facts.run.events.iter().filter(|e| {
            e.kind == EventKind::Stage { to: Stage::Float }
                && matches!(e.cause, Cause::AbsorptionCap { .. })
                && e.before.house_a < tail_a
                && e.before.output_a >= tail_a
        })
    };
    let (first, last) = (hidden().next()?, hidden().next_back()?);
    let when = When {
        first_s: first.t.as_s(),
        last_s: last.t.as_s(),
        for_s: 0.0,
        times: u32::try_from(hidden().count()).unwrap_or(u32::MAX),
    };
    let measure = Measure::at_most(first.before.output_a, tail_a, "A");
    Some(Finding::new(Kind::LoadHidesTail, Weight::Note, when).with(measure))
}

/// A float voltage that goes on charging.
fn float(facts: &Facts) -> Option<Finding> {
    let s = &facts.model.link().stages;
    let most_v = FLOAT_SHARE * s.absorption_v;
    let floats = || facts.timeline.stages.iter().filter(|f| f.stage == Stage::Float).map(|f| f.span);
    let (first, last) = (floats().next()?, floats().next_back()?);
    let for_s: f64 = floats().map(|f| f.seconds()).sum();
    (!s.fixed_supply && s.float_v > most_v && for_s > FLOAT_S).then(|| {
        let times = u32::try_from(floats().count()).unwrap_or(u32::MAX);
        let when = When { first_s: first.from.as_s(), last_s: last.to.as_s(), for_s, times };
        Finding::new(Kind::FloatHigh, Weight::Note, when).with(Measure::at_most(s.float_v, most_v, "V"))
    })
}
