//! Kinds of drop-outs with the engine running: named drop-out by drop-out, then weighed over the story, where a short
//! simulation decides what one moment cannot.

use super::ended::{Ended, next_key};
use super::evidence::Evidence;
use super::kind::{Kind, Named};
use super::mended::Mended;
use super::part::Part;
use super::story::{Family, Story, tell_with};
use super::switch::{Engine, Switch};
use super::{Scene, driving_evidence};
use crate::engine::Record;
use crate::time::Instant;

/// A kind is named from this share of a story's drop-outs on.
const NAMED: f64 = 0.2;
/// A story that ends by itself within this time of its beginning is one of starting up, s.
const START_UP_S: f64 = 1800.0;
/// Time beyond a delay within which a unit that can come on has, s.
const COMES_ON_S: f64 = 10.0;
/// Rise of the starter posts, unit off, that is worth a simulation, V.
const ROSE_V: f64 = 0.005;

/// The kinds of a story, the commonest first.
pub(super) fn kinds(
    scene: &Scene,
    switches: &[Switch],
    group: &[usize],
    story: &Story,
    mended: &Mended,
) -> Vec<Named> {
    let count = |kind: Kind| group.iter().filter(|&&n| switches[n].kinds.contains(&kind)).count();
    let mut kinds: Vec<(Kind, usize)> = [Kind::OwnDrop, Kind::WeakSource, Kind::SetPoint, Kind::OpenCable]
        .into_iter()
        .map(|kind| (kind, count(kind)))
        .filter(|&(_, times)| times > 0 && times as f64 >= NAMED * group.len() as f64)
        .collect();
    kinds.sort_by_key(|&(_, times)| std::cmp::Reverse(times));
    let mut one_mended = None;
    if kinds.iter().any(|(k, _)| *k == Kind::WeakSource) && mostly_full(switches, group) {
        let cable_share = switches[story.typical.unwrap_or(group[0])].drops.and_then(|d| d.cable_share());
        let shown: Vec<Kind> = kinds.iter().map(|(k, _)| *k).collect();
        let (told, evidence) = mended.source_or_cable(scene, story, &shown, cable_share.unwrap_or(0.5));
        kinds.retain(|(k, _)| !matches!(k, Kind::OwnDrop | Kind::WeakSource));
        kinds.extend(told.into_iter().map(|k| (k, group.len())));
        one_mended = evidence;
    }
    let drops = kinds.iter().any(|(k, _)| matches!(k, Kind::OwnDrop | Kind::WeakSource));
    let others = kinds.iter().any(|(k, _)| matches!(k, Kind::SetPoint | Kind::OpenCable));
    if drops
        && !others
        && let Some(evidence) = starts_up(scene, switches, group, story)
    {
        return vec![Named { kind: Kind::StartUp, times: story.times, evidence }];
    }
    kinds
        .into_iter()
        .map(|(kind, times)| Named {
            kind,
            times: times as u32,
            evidence: {
                let mut evidence = driving_evidence::of(scene, switches, group, story, kind);
                let of_two = matches!(kind, Kind::OwnDrop | Kind::WeakSource);
                evidence.extend(one_mended.filter(|_| of_two));
                evidence
            },
        })
        .collect()
}

/// Whether it is over as soon as the starter battery has risen: read off the run, or off the same drive prolonged.
fn starts_up(scene: &Scene, switches: &[Switch], group: &[usize], story: &Story) -> Option<Vec<Evidence>> {
    let (first, last) = (&switches[group[0]], &switches[group[group.len() - 1]]);
    let after_s = last.t.since(first.t);
    let soon = matches!(first.engine, Engine::Runs { for_s } if for_s < START_UP_S) && after_s < START_UP_S;
    let rose = Evidence::Rose { from_v: first.posts_after_v, to_v: last.posts_after_v };
    // What comes back in the same drive has not ended.
    let edge = next_key(scene, last.t).0;
    let again = switches.iter().any(|s| !s.on && s.family == Family::Driving && s.t > last.t && s.t < edge);
    if !soon || again {
        return None;
    }
    if story.ended == Ended::StarterRisen {
        return Some(vec![rose, Evidence::EndedByItself { after_s, prolonged: false }]);
    }
    let cut_short = matches!(story.ended, Ended::KeyOff | Ended::EndOfRun | Ended::Conditions { .. });
    let rising = group.len() == 1 || last.posts_after_v > first.posts_after_v + ROSE_V;
    if !(cut_short && rising) {
        return None;
    }
    let over = prolonged(scene, first.t, last.t)?;
    (over.ended == Ended::StarterRisen && over.to.since(first.t) < START_UP_S)
        .then(|| vec![rose, Evidence::EndedByItself { after_s: over.to.since(first.t), prolonged: true }])
}

/// The same story had the drive gone on as it was at its last drop-out.
fn prolonged(scene: &Scene, first: Instant, last: Instant) -> Option<Story> {
    // Long enough to see it stay on after the latest end that counts as one of starting up.
    let delay_s = scene.model.link().start_stop.turn_on_delay_s;
    let end = first.plus_s(2.0 * START_UP_S + delay_s + COMES_ON_S).max(last.plus_s(COMES_ON_S));
    let longer = Part::of_drive(scene, first, last)?.prolonged(last.plus_ns(-1), end)?;
    let run = longer.run(scene, Record::Bounded)?;
    let longer = Scene { run: &run, profile: &longer.profile, ..*scene };
    let switches = super::switch::all(&longer);
    let stories = tell_with(&longer, &switches, false);
    stories.into_iter().find(|s| s.family == Family::Driving && s.from <= first && s.to >= first)
}

/// Whether the alternator gave all it could at most of the drop-outs.
fn mostly_full(switches: &[Switch], group: &[usize]) -> bool {
    let full = group.iter().filter(|&&n| switches[n].drops.is_some_and(|d| d.alternator_full)).count();
    2 * full >= group.len()
}
