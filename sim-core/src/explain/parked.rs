//! Kinds of a unit that comes on parked, and of one that is stopped with the engine.

use super::Scene;
use super::evidence::Evidence;
use super::kind::{Kind, Named};
use super::moment::Moment;
use super::part::Part;
use super::story::Story;
use super::switch::{Engine, Switch};
use crate::engine::Record;
use crate::model::Piece;
use crate::record::Timeline;
use crate::time::Instant;

/// Share of the starts that the sun must take with it to be the cause; with less than the rest, it is none.
const SUN: f64 = 0.8;
/// Surface charge is gone after this, s: a battery that has stood longer is at rest.
const RESTED_S: f64 = 24.0 * 3600.0;

/// Kinds of a story of starts with the engine standing.
pub(super) fn kinds(scene: &Scene, switches: &[Switch], group: &[usize], story: &Story) -> Vec<Named> {
    let first_on = switches[..group[0]].iter().rev().find(|s| s.on);
    let since_key_off_s = match first_on.map(|s| s.engine) {
        Some(Engine::Stands { for_s }) => for_s,
        _ => None,
    };
    let stood = Evidence::EngineStood { times: story.times, since_key_off_s };
    let turn_on_v = scene.model.link().start_stop.turn_on_v;
    let moment = Moment::before(scene, switches[group[group.len() / 2]].t);
    let rested = moment.map(|m| Evidence::Rested { volts: m.rested_v(), turn_on_v });
    let named = |kind, times, evidence: Vec<Evidence>| Named { kind, times, evidence };
    let without_sun = |left: u32| {
        let mut evidence = vec![stood];
        evidence.extend(rested);
        match rested {
            Some(Evidence::Rested { volts, turn_on_v }) if volts >= turn_on_v => {
                vec![named(Kind::RestedOverTurnOn, left, evidence)]
            }
            // A battery that has never been charged in the run, or long ago, has no surface charge to show.
            _ if since_key_off_s.is_none_or(|s| s > RESTED_S) => Vec::new(),
            _ => vec![named(Kind::SurfaceCharge, left, evidence)],
        }
    };
    let shone = scene
        .profile
        .pieces()
        .iter()
        .any(|p| p.starter_solar_a > 0.0 && p.start < story.to && p.end > story.from);
    if !shone {
        return without_sun(story.times);
    }
    let Some(dark) = dark_starts(scene, story.from, story.to) else { return Vec::new() };
    let starts = story.times;
    let sun = named(
        Kind::Sun,
        starts.saturating_sub(dark),
        vec![stood, Evidence::InTheDark { starts, dark_starts: dark }],
    );
    let gone = 1.0 - f64::from(dark) / f64::from(starts);
    if gone >= SUN {
        vec![sun]
    } else if gone <= 1.0 - SUN {
        without_sun(starts)
    } else {
        let mut both = without_sun(dark);
        both.insert(0, sun);
        both
    }
}

/// How often the unit comes on parked between two instants without the sun on the starter battery, from the drive before.
fn dark_starts(scene: &Scene, from: Instant, to: Instant) -> Option<u32> {
    let dark = Part::of_drive(scene, from, to)?.with(|p| Piece { starter_solar_a: 0.0, ..p })?;
    let run = dark.run(scene, Record::Summary)?;
    let t = Timeline::of(&run, scene.model, &dark.profile);
    let within = |at: Instant| at >= from && at <= to;
    Some(t.turn_ons().filter(|(at, on)| !on.driving && within(*at)).count() as u32)
}

/// How often and how long the engine stood within a story.
pub(super) fn stops(scene: &Scene, story: &Story) -> Evidence {
    let within = scene.run.stretches.iter().filter(|s| s.from <= story.to && s.to >= story.from);
    let mean = |driving: bool| {
        let long: Vec<f64> =
            within.clone().filter(|s| s.driving == driving).map(|s| s.to.since(s.from)).collect();
        // The last stop may be the end of the day.
        let long = if !driving && long.len() > 1 { &long[..long.len() - 1] } else { &long[..] };
        long.iter().sum::<f64>() / long.len().max(1) as f64
    };
    Evidence::Stops { times: story.times, ran_s: mean(true), stood_s: mean(false) }
}
