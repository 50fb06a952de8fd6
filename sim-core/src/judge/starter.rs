//! The starter battery: whether it cranks, and what it pays.

use super::{Facts, Finding, Kind, Measure, Weight, When};
use crate::model::Model;
use crate::plant::battery::Chemistry;
use crate::record::Line;
use crate::scenario::limits::CRANK_RESERVE_PCT;
use crate::state::STARTER;
use crate::time::{DAY_S, Instant};

/// Volts of a cell below which no start is to be expected: where cold cranking tests end. EN 50342-1 rates a starter battery
/// of six cells by the current at which it stands at 7.5 V after ten seconds; from memory.
pub const CRANKS_V_PER_CELL: f64 = 7.5 / 6.0;
/// Cells of a starter battery that does not say it.
const CELLS: u16 = 6;
/// Under this share of full a starter battery is drained: a lead-acid one that stands so sulphates; common practice.
const DRAINED_SOC: f64 = 0.2;
/// Share of its capacity that is worth a word when the starter battery is left emptier, or when the unit takes it.
const PAYS: f64 = 0.1;
/// Fall of its state of charge in a day that counts as a fall, share of full.
const EACH_DAY: f64 = 0.005;

/// Share of full that driving may take from the starter battery without a word.
const DRIVING_LOSES: f64 = 0.005;

/// Volts at the starter posts below which no start is to be expected.
pub fn least_crank_v(model: &Model) -> f64 {
    let cells = match &model.starter.chemistry {
        Chemistry::LeadAcid(battery) => battery.cells,
        _ => CELLS,
    };
    CRANKS_V_PER_CELL * f64::from(cells)
}

pub(super) fn find(facts: &Facts, findings: &mut Vec<Finding>) {
    findings.extend(no_start(facts));
    let drained = drained(facts);
    let reserve = if drained.is_some() { None } else { under_reserve(facts) };
    findings.extend(drained);
    findings.extend(reserve);
    findings.extend(unit_takes(facts));
    findings.extend(loses_driving(facts));
    findings.extend(emptier(facts));
}

fn no_start(facts: &Facts) -> Option<Finding> {
    let least_v = least_crank_v(facts.model);
    let cranks =
        || facts.timeline.engine.iter().filter_map(|e| e.crank).filter(|c| c.seconds > 0.0 || c.dead);
    let doubtful = || cranks().filter(|c| c.dead || c.lowest_v < least_v);
    let (first, last) = (doubtful().next()?, doubtful().next_back()?);
    let lowest_v = doubtful().map(|c| c.lowest_v).fold(f64::INFINITY, f64::min).max(0.0);
    let when = When {
        first_s: first.at.as_s(),
        last_s: last.at.as_s(),
        for_s: doubtful().map(|c| c.seconds).sum(),
        times: doubtful().count() as u32,
    };
    let kind = Kind::StartNotExpected { dead: first.dead };
    Some(Finding::new(kind, Weight::Trouble, when).with(Measure::at_least(lowest_v, least_v, "V")))
}

/// Everything that is known of the starter battery's lowest states: at engine starts, at ends of stretches and days.
fn lowest(facts: &Facts) -> Option<(Instant, f64)> {
    let days = facts.run.days.iter().map(|d| (d.lows.starter_at, d.lows.starter_soc));
    days.min_by(|a, b| a.1.total_cmp(&b.1))
}

fn drained(facts: &Facts) -> Option<Finding> {
    let t = facts.timeline;
    let (at, soc) = lowest(facts)?;
    let dead = t.starter_dead.first();
    let drained = soc < DRAINED_SOC && soc < facts.run.start[STARTER] - 0.01;
    let first = dead.map(|s| s.from).or_else(|| drained.then_some(at))?;
    let for_s = t.starter_dead.iter().map(crate::record::timeline::Span::seconds).sum();
    let last = t.starter_dead.last().map_or(at, |s| s.to);
    let times = t.starter_dead.len().max(1) as u32;
    let when = When { first_s: first.as_s(), last_s: last.as_s().max(first.as_s()), for_s, times };
    let measure = Measure::at_least(100.0 * soc.max(0.0), 100.0 * DRAINED_SOC, "%");
    Some(Finding::new(Kind::StarterDrained, Weight::Trouble, when).with(measure))
}

fn under_reserve(facts: &Facts) -> Option<Finding> {
    let typed = facts.limits.crank_reserve_pct.as_ref().map(|n| n.value);
    let reserve_pct = typed.unwrap_or(CRANK_RESERVE_PCT);
    let least_pct = 100.0 * facts.summary.starter_least_start_soc;
    if least_pct.is_infinite() || least_pct >= reserve_pct {
        return None;
    }
    // A default reserve is no reason to blame a run that only began under it.
    let lowered = least_pct < 100.0 * facts.run.start[STARTER] - 1.0;
    let weight = if typed.is_some() || lowered { Weight::Trouble } else { Weight::Note };
    let (from, to) = (facts.timeline.span.from.as_s(), facts.timeline.span.to.as_s());
    let kind = Kind::StarterUnderReserve { typed: typed.is_some() };
    let measure = Measure::at_least(least_pct, reserve_pct, "%");
    Some(Finding::new(kind, weight, When::once(from, to)).with(measure))
}

/// What the unit takes out of the starter battery with the engine stopped.
fn unit_takes(facts: &Facts) -> Option<Finding> {
    let taken_ah = facts.summary.unit_input_parked_ah;
    let limit_ah = PAYS * facts.model.starter.capacity_c() / 3600.0;
    let days = (facts.summary.span_s / DAY_S).max(1.0);
    // With a source of its own on that side it is not the battery that pays.
    let net_ah = taken_ah - facts.run.ledger.ah(Line::StarterSourceC).max(0.0);
    let t = facts.timeline;
    let came_on = t.unit.iter().filter(|u| u.on.is_some_and(|on| !on.driving)).map(|u| u.span);
    let mut parked: Vec<_> = t.run_ons.iter().map(|r| r.span).chain(came_on).collect();
    parked.sort_by_key(|s| s.from);
    (net_ah / days > limit_ah).then(|| {
        let first = parked.first().map_or(t.span.from, |s| s.from);
        let last = parked.last().map_or(t.span.to, |s| s.to);
        let when = When {
            first_s: first.as_s(),
            last_s: last.as_s(),
            for_s: t.on_s() - t.on_driving_s(),
            times: parked.len() as u32,
        };
        let measure = Measure::at_most(net_ah / days, limit_ah, "Ah");
        Finding::new(Kind::StarterPays, Weight::Trouble, when).with(measure)
    })
}

/// What driving itself costs the starter battery: an alternator that holds too few volts, or drives too short for a start.
fn loses_driving(facts: &Facts) -> Option<Finding> {
    let s = &facts.run.stretches;
    let start = |n: usize| n.checked_sub(1).map_or(facts.run.start[STARTER], |n| s[n].end[STARTER]);
    let driven = || s.iter().enumerate().filter(|(_, s)| s.driving);
    let lost: f64 = driven().map(|(n, s)| start(n) - s.end[STARTER]).sum();
    let (first, last) = (driven().next()?.1, driven().next_back()?.1);
    (lost > DRIVING_LOSES).then(|| {
        let when = When {
            first_s: first.from.as_s(),
            last_s: last.to.as_s(),
            for_s: facts.timeline.driving_s(),
            times: driven().count() as u32,
        };
        let lost_ah = lost * facts.model.starter.capacity_c() / 3600.0;
        // A little goes into every start. More than that, and it is not the drive that fills the house battery.
        let weight = if lost > PAYS { Weight::Trouble } else { Weight::Note };
        Finding::new(Kind::StarterLosesDriving, weight, when).with(Measure::at_most(lost_ah, 0.0, "Ah"))
    })
}

fn emptier(facts: &Facts) -> Option<Finding> {
    let s = facts.summary;
    let (from, to) = (facts.timeline.span.from.as_s(), facts.timeline.span.to.as_s());
    let fall = s.starter_start_soc - s.starter_end_soc;
    let days = &facts.run.days;
    let falls = |d: &&crate::record::day_book::DayBook| d.start[STARTER] - d.end[STARTER] > EACH_DAY;
    // Each day of driving, and not that it stands for weeks.
    let each = days.len() > 1 && s.driving_s > 0.0 && days.iter().skip(1).all(|d| falls(&d));
    let measure = Measure::at_most(100.0 * fall, 100.0 * PAYS, "%");
    let when = When { times: days.len() as u32, ..When::once(from, to) };
    if each && fall > PAYS / 2.0 {
        return Some(Finding::new(Kind::StarterEmptierEachDay, Weight::Trouble, when).with(measure));
    }
    (fall > PAYS).then(|| Finding::new(Kind::StarterEmptier, Weight::Note, when).with(measure))
}
