//! Stories in which the unit stays on: the house battery's protection, and charge stages.

use super::Scene;
use super::ended::{Ended, next_key};
use super::evidence::Evidence;
use super::kind::{Kind, Named};
use super::story::{Family, Period, Story, delivered_ah};
use crate::logic::Stage;
use crate::record::event::{Cause, Event, EventKind};

/// Refusals or recharges further apart than this are two stories, s.
const APART_S: f64 = 4.0 * 3600.0;
/// Fewest recharges that are cycling: one new charge a day is what stages are for.
const RECHARGES: usize = 2;

/// The stories of protection and stages.
pub(super) fn tell(scene: &Scene) -> Vec<Story> {
    let refused = |e: &&Event| matches!(e.kind, EventKind::ChargeRefused { why: Some(_) });
    let recharged = |e: &&Event| {
        e.kind == EventKind::Stage { to: Stage::Bulk } && matches!(e.cause, Cause::OutputLow { .. })
    };
    let mut stories = Vec::new();
    // A refusal concerns the unit only where it is on, or comes on while it lasts.
    let driving = |e: &&Event| e.before.input_a > 1.0 || engine_follows(scene, e);
    for group in grouped(scene.run.events.iter().filter(refused).filter(driving).collect()) {
        stories.push(story(scene, &group, Family::Protection));
    }
    for group in grouped(scene.run.events.iter().filter(recharged).collect()) {
        if group.len() >= RECHARGES {
            stories.push(story(scene, &group, Family::Stages));
        }
    }
    stories
}

/// Whether the unit comes on before charge is let in again.
fn engine_follows(scene: &Scene, refused: &Event) -> bool {
    let after = scene.run.events.iter().filter(|e| e.t >= refused.t);
    let next =
        after.clone().find(|e| matches!(e.kind, EventKind::ChargeRefused { why: None } | EventKind::UnitOn));
    next.is_some_and(|e| e.kind == EventKind::UnitOn)
}

fn grouped(events: Vec<&Event>) -> Vec<Vec<&Event>> {
    let mut groups: Vec<Vec<&Event>> = Vec::new();
    for event in events {
        match groups.last_mut() {
            Some(g) if g.last().is_some_and(|l| event.t.since(l.t) < APART_S) => g.push(event),
            _ => groups.push(vec![event]),
        }
    }
    groups
}

fn story(scene: &Scene, group: &[&Event], family: Family) -> Story {
    let (first, last) = (group[0], group[group.len() - 1]);
    let gaps: Vec<f64> = group.windows(2).map(|w| w[1].t.since(w[0].t)).collect();
    let fold = |f: fn(f64, f64) -> f64| gaps.iter().copied().reduce(f);
    let period = fold(f64::min).zip(fold(f64::max)).map(|(least_s, most_s)| Period {
        mean_s: gaps.iter().sum::<f64>() / gaps.len() as f64,
        least_s,
        most_s,
    });
    let times = group.len() as u32;
    let named = match (family, last.kind, last.cause) {
        (_, EventKind::ChargeRefused { why: Some(why) }, Cause::Protection { value, threshold }) => {
            Some((Kind::Protection, Evidence::Refused { why, value, threshold }))
        }
        (_, _, Cause::OutputLow { output_v, threshold_v, .. }) => {
            Some((Kind::StageCycling, Evidence::Recharged { times, output_v, threshold_v }))
        }
        _ => None,
    };
    let kinds = named.map(|(kind, evidence)| Named { kind, times, evidence: vec![evidence] });
    // A refusal lasts until charge is let in again; what a battery refuses before a drive it refuses in it.
    let let_in = |e: &&Event| e.t >= last.t && e.kind == EventKind::ChargeRefused { why: None };
    let open = scene.run.events.iter().find(let_in).map(|e| e.t);
    let to = if family == Family::Protection { open.unwrap_or(scene.run.span.1) } else { last.t };
    let (until, key) = next_key(scene, to);
    let until = if family == Family::Protection { to } else { until };
    Story {
        family,
        from: first.t,
        to,
        times,
        period,
        duty: 1.0,
        delivered_ah: delivered_ah(scene, first.t, until),
        steady_ah: scene.model.link().converter.output_limit_a * until.since(first.t) / 3600.0,
        ended: match key {
            _ if family == Family::Protection && open.is_some() => Ended::LetIn,
            Some(EventKind::KeyOff) => Ended::KeyOff,
            Some(_) => Ended::KeyOn,
            None => Ended::EndOfRun,
        },
        kinds: kinds.into_iter().collect(),
        typical: None,
    }
}
