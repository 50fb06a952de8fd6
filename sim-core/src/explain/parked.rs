//! Kinds of a unit that comes on parked, and the evidence for those of a drive.

use super::Scene;
use super::evidence::Evidence;
use super::kind::{Kind, Named};
use super::moment::Moment;
use super::story::Story;
use super::switch::{Engine, Switch};
use crate::engine::{Options, Record, simulate};
use crate::model::Profile;
use crate::record::event::EventKind;
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
    let sun = named(Kind::Sun, starts.saturating_sub(dark), vec![stood, Evidence::InTheDark { starts, dark_starts: dark }]);
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

/// How often the unit comes on parked between two instants without the sun on the starter battery.
fn dark_starts(scene: &Scene, from: Instant, to: Instant) -> Option<u32> {
    let mut pieces = scene.profile.pieces().to_vec();
    for piece in &mut pieces {
        piece.starter_solar_a = 0.0;
    }
    let profile = Profile::new(pieces, scene.profile.start_clock_s).ok()?;
    let run = simulate(scene.model, &profile, &Options { record: Record::Summary, ..Options::default() }).ok()?;
    let mut driving = false;
    let mut starts = 0;
    for event in &run.events {
        match event.kind {
            EventKind::KeyOn => driving = true,
            EventKind::KeyOff => driving = false,
            EventKind::UnitOn if !driving && event.t >= from && event.t <= to => starts += 1,
            _ => {}
        }
    }
    Some(starts)
}

/// How often and how long the engine stood within a story.
pub(super) fn stops(scene: &Scene, story: &Story) -> Evidence {
    let within = scene.run.stretches.iter().filter(|s| s.from <= story.to && s.to >= story.from);
    let mean = |driving: bool| {
        let long: Vec<f64> = within.clone().filter(|s| s.driving == driving).map(|s| s.to.since(s.from)).collect();
        // The last stop may be the end of the day.
        let long = if !driving && long.len() > 1 { &long[..long.len() - 1] } else { &long[..] };
        long.iter().sum::<f64>() / long.len().max(1) as f64
    };
    Evidence::Stops { times: story.times, ran_s: mean(true), stood_s: mean(false) }
}

/// What speaks for a kind of drop-out with the engine running.
pub(super) fn driving_evidence(
    scene: &Scene,
    switches: &[Switch],
    group: &[usize],
    story: &Story,
    kind: Kind,
) -> Vec<Evidence> {
    let mine: Vec<&Switch> = group.iter().map(|&n| &switches[n]).filter(|s| s.kinds.contains(&kind)).collect();
    let Some(typical) = mine.get(mine.len() / 2) else { return Vec::new() };
    let (Some(probes), Some(drops)) = (typical.probes, typical.drops) else { return Vec::new() };
    let mut evidence = vec![swing(scene, story)];
    evidence.push(Evidence::HeldOff { volts: probes.held_off_v });
    match kind {
        Kind::OwnDrop => {
            evidence.extend(drops.run_share().map(|share| Evidence::RunShare { share }));
            evidence.push(Evidence::WithoutRun { volts: probes.without_run_v });
        }
        Kind::WeakSource => {
            evidence.extend(drops.run_share().map(|share| Evidence::RunShare { share }));
            let full: Vec<f64> =
                mine.iter().filter_map(|s| s.drops).filter(|d| d.alternator_full).map(|d| d.capability_a).collect();
            if let Some(&amps) = full.get(full.len() / 2) {
                let (times, of) = (full.len() as u32, mine.len() as u32);
                evidence.push(Evidence::AlternatorFull { times, of, amps });
                evidence.push(Evidence::WithoutCeiling { volts: probes.without_ceiling_v });
            }
        }
        Kind::SetPoint => {
            if let (Some((from_v, volts)), Some(to_v)) = (probes.set_point_back, drops.set_point_v) {
                evidence.push(Evidence::SetPointBack { from_v, to_v, volts });
            }
        }
        Kind::OpenRun => evidence.push(Evidence::InputDead { posts_v: drops.posts_v }),
        _ => {}
    }
    evidence.extend(clock(scene, story, typical));
    evidence
}

/// How far input and posts swing within a story.
fn swing(scene: &Scene, story: &Story) -> Evidence {
    let (mut input, mut posts) = ((f64::INFINITY, f64::NEG_INFINITY), (f64::INFINITY, f64::NEG_INFINITY));
    let see = |band: &mut (f64, f64), v: f64| *band = (band.0.min(v), band.1.max(v));
    let within = |e: &&crate::record::event::Event| e.t >= story.from && e.t <= story.to;
    let switching = |e: &&crate::record::event::Event| matches!(e.kind, EventKind::UnitOn | EventKind::UnitOff);
    for event in scene.run.events.iter().filter(within).filter(switching) {
        for net in [&event.before, &event.after] {
            see(&mut input, net.in_v);
            see(&mut posts, net.sb_v);
        }
    }
    Evidence::Swing { input_v: input.1 - input.0, posts_v: posts.1 - posts.0 }
}

/// The period beside what the delays and the soft start make of it (common practice, no source; a closed form of the
/// plain model): turn-on delay, the share of the soft start at which the input meets turn-off, turn-off delay.
fn clock(scene: &Scene, story: &Story, typical: &Switch) -> Option<Evidence> {
    let measured_s = story.period?.mean_s;
    let crate::record::event::Cause::InputHeld { held_s, .. } = typical.cause else { return None };
    let link = scene.model.link();
    let met = Moment::at(scene, typical.t.plus_s(-held_s))?;
    let share = (met.net.output_a / link.converter.output_limit_a).clamp(0.0, 1.0);
    let predicted_s = link.start_stop.turn_on_delay_s + link.converter.ramp_s * share + held_s;
    Some(Evidence::Clock { measured_s, predicted_s })
}
