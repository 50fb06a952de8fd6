//! When the unit comes on and drops out.
//!
//! A drop-out later than [`SETTLED_S`] into a drive counts as the unit's own where the drive offers then no less than when
//! it came on. Where the drive offers less that explains the drop-out; it is trouble all the same once the unit has been off
//! for longer than [`SETTLED_S`] in one drive because of it.

use super::{Facts, Finding, Kind, Measure, Want, Weight, When};
use crate::logic::Stage;
use crate::logic::start_stop::thresholds;
use crate::model::{Model, Profile, SignalUse};
use crate::record::timeline::{DropOut, TurnOff};
use crate::record::{SETTLED_S, Timeline};
use crate::scenario::limits::LimitsSpec;
use crate::time::Instant;

/// Longest run-on after key-off that is no trouble where the user sets no limit, s: common practice, no source.
pub const RUN_ON_S: f64 = 600.0;
/// Share of the driving that may be over before the unit is on.
const LATE_SHARE: f64 = 0.5;
/// New charges begun from float, within one time on, that are one too many: it is cycling.
const STAGE_CYCLES: usize = 3;
/// They cycle where one follows on the other within this time, s.
const STAGE_CYCLE_S: f64 = 3600.0;

/// How long the unit may stay on after a key-off, s: the user's limit, or [`RUN_ON_S`].
pub fn run_on_limit_s(limits: &LimitsSpec) -> f64 {
    limits.longest_run_on_min.as_ref().map_or(RUN_ON_S, |n| n.value * 60.0)
}

pub(super) fn find(facts: &Facts, findings: &mut Vec<Finding>) {
    findings.extend(never(facts));
    findings.extend(drops_out(facts));
    findings.extend(late(facts));
    findings.extend(stops(facts));
    findings.extend(runs_on(facts));
    findings.extend(parked(facts));
    findings.extend(stages(facts.timeline));
}

fn whole(t: &Timeline) -> When {
    When {
        for_s: t.driving_s(),
        times: t.drives.len() as u32,
        ..When::once(t.span.from.as_s(), t.span.to.as_s())
    }
}

fn never(facts: &Facts) -> Option<Finding> {
    let t = facts.timeline;
    if t.drives.is_empty() || t.on_driving_s() > 0.0 {
        return None;
    }
    let rule = &facts.model.link().start_stop;
    let longest_s = t.drives.iter().map(|d| d.span.seconds()).fold(0.0, f64::max);
    let needed_s = rule.turn_on_delay_s + SETTLED_S;
    let highest = facts.summary.extremes.waiting_above_v;
    let (want, measure) = match highest {
        _ if longest_s < needed_s => (Want::LongerDrives, Some(Measure::at_least(longest_s, needed_s, "s"))),
        _ if wants_signal(facts.model, facts.profile) => (Want::Signal, None),
        Some(met) if met.value < 0.0 => {
            let live = facts.profile.piece_at(Instant::from_s(met.t_s)).run_signal;
            let turn_on_v = thresholds(rule, live).0;
            (Want::Volts, Some(Measure::at_least(turn_on_v + met.value, turn_on_v, "V")))
        }
        _ => (Want::Held, Some(Measure::at_least(0.0, rule.turn_on_delay_s, "s"))),
    };
    let finding = Finding::new(Kind::NeverComesOn { want }, Weight::Trouble, whole(t));
    Some(measure.map_or(finding, |m| finding.with(m)))
}

/// Whether the unit needs its run signal, and the signal never comes.
fn wants_signal(model: &Model, profile: &Profile) -> bool {
    model.link().start_stop.signal == SignalUse::Required
        && !profile.pieces().iter().any(|p| p.run_signal && p.engine_runs())
}

fn of(all: &[(&TurnOff, &DropOut)]) -> When {
    When {
        first_s: all[0].0.t.as_s(),
        last_s: all[all.len() - 1].0.t.as_s(),
        for_s: all.iter().map(|(_, d)| d.off_s).sum(),
        times: all.len() as u32,
    }
}

/// One finding for the drop-outs on volts, the gravest that they come to.
fn drops_out(facts: &Facts) -> Option<Finding> {
    let t = facts.timeline;
    let own: Vec<_> = t.own_drop_outs().collect();
    let on_volts: Vec<_> = t.drop_outs_on_volts().collect();
    if on_volts.is_empty() {
        return None;
    }
    if own.iter().any(|(off, _)| t.is_late(off.t)) {
        return Some(Finding::new(Kind::KeepsDroppingOut, Weight::Trouble, of(&own)));
    }
    let off_s = t.longest_off().map_or(0.0, |(_, d)| d.off_s).max(off_on_less_s(t));
    if off_s > SETTLED_S {
        let measure = Measure::at_most(off_s, SETTLED_S, "s");
        return Some(Finding::new(Kind::StaysOff, Weight::Trouble, of(&on_volts)).with(measure));
    }
    if !own.is_empty() {
        return Some(Finding::new(Kind::DropsOutAtFirst, Weight::Trouble, of(&own)));
    }
    let (early, less): (Vec<_>, Vec<_>) = on_volts.into_iter().partition(|(_, d)| !d.conditions_worse);
    if early.is_empty() {
        return Some(Finding::new(Kind::DropsOutOnLess, Weight::Note, of(&less)));
    }
    Some(Finding::new(Kind::StartUpCycles, Weight::Note, of(&early)))
}

/// How long the unit is off at most in one drive because the drive offers less, s.
fn off_on_less_s(t: &Timeline) -> f64 {
    let off_s = |n: usize| {
        let less = t.drop_outs_on_volts().filter(|(_, d)| d.drive == n && d.conditions_worse);
        less.map(|(_, d)| d.off_s).sum::<f64>()
    };
    // Drives without a drop-out need no look.
    t.drop_outs_on_volts().map(|(_, d)| off_s(d.drive)).fold(0.0, f64::max)
}

/// It comes on, but too late in its drives to matter.
fn late(facts: &Facts) -> Option<Finding> {
    let t = facts.timeline;
    let waited_s: f64 = t.drives.iter().map(crate::record::timeline::Drive::waited_s).sum();
    let limit_s = LATE_SHARE * t.driving_s();
    (t.on_driving_s() > 0.0 && waited_s > limit_s).then(|| {
        let late = || t.drives.iter().filter(|d| d.waited_s() > LATE_SHARE * d.engine_s);
        let first = late().next().map_or(t.span.from, |d| d.span.from);
        let last = late().next_back().map_or(t.span.to, |d| d.span.to);
        let times = late().count() as u32;
        let when = When { first_s: first.as_s(), last_s: last.as_s(), for_s: waited_s, times };
        let measure = Measure::at_most(waited_s, limit_s, "s");
        Finding::new(Kind::OnTooLate, Weight::Trouble, when).with(measure)
    })
}

/// Stops of the engine within a drive take it off, and it waits again each time.
fn stops(facts: &Facts) -> Option<Finding> {
    let t = facts.timeline;
    let lost = |n: usize| {
        let d = &t.drives[n];
        let engines = t.engine.iter().filter(|e| e.drive == n).count();
        let other_s: f64 = t.drop_outs().filter(|(_, o)| o.drive == n).map(|(_, o)| o.off_s).sum();
        if engines < 2 { 0.0 } else { (d.engine_s - d.waited_s() - d.on_s - other_s).max(0.0) }
    };
    let lost_s: f64 = (0..t.drives.len()).map(lost).sum();
    let limit_s = LATE_SHARE * t.driving_s();
    (lost_s > limit_s && t.on_driving_s() > 0.0).then(|| {
        let stops = t.engine.len() - t.drives.len();
        let when = When { for_s: lost_s, times: stops as u32, ..whole(t) };
        let measure = Measure::at_most(lost_s, limit_s, "s");
        Finding::new(Kind::StopsKeepItOff, Weight::Trouble, when).with(measure)
    })
}

fn runs_on(facts: &Facts) -> Option<Finding> {
    let limit_s = run_on_limit_s(facts.limits);
    let t = facts.timeline;
    let longest = t.longest_run_on()?.span.seconds();
    let over = || t.run_ons.iter().map(|r| r.span).filter(|s| s.seconds() > limit_s);
    let (first, last) = (over().next()?, over().next_back()?);
    let when = When {
        first_s: first.from.as_s(),
        last_s: last.to.as_s(),
        for_s: over().map(|s| s.seconds()).sum(),
        times: over().count() as u32,
    };
    let measure = Measure::at_most(longest, limit_s, "s");
    Some(Finding::new(Kind::RunsOn, Weight::Trouble, when).with(measure))
}

fn parked(facts: &Facts) -> Option<Finding> {
    let t = facts.timeline;
    let spans = || t.unit.iter().filter(|u| u.on.is_some_and(|on| !on.driving));
    let (first, last) = (spans().next()?, spans().next_back()?);
    let when = When {
        first_s: first.span.from.as_s(),
        last_s: last.span.from.as_s(),
        for_s: spans().map(|u| u.span.seconds()).sum(),
        times: spans().count() as u32,
    };
    Some(Finding::new(Kind::ComesOnParked, Weight::Trouble, when))
}

/// A new charge begins from float again and again.
fn stages(t: &Timeline) -> Option<Finding> {
    let again: Vec<f64> = (t.stages.windows(2))
        .filter(|w| w[0].stage == Stage::Float && w[1].stage == Stage::Bulk && w[0].span.to == w[1].span.from)
        .map(|w| w[1].span.from.as_s())
        .collect();
    let cycling: Vec<f64> = again.windows(2).filter(|w| w[1] - w[0] < STAGE_CYCLE_S).map(|w| w[1]).collect();
    (cycling.len() + 1 >= STAGE_CYCLES && again.len() >= STAGE_CYCLES).then(|| {
        let (first_s, last_s) = (again[0], again[again.len() - 1]);
        let when = When { first_s, last_s, for_s: last_s - first_s, times: again.len() as u32 };
        Finding::new(Kind::StagesCycle, Weight::Trouble, when)
    })
}
