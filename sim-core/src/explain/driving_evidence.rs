//! What speaks for a kind of drop-out with the engine running.

use super::Scene;
use super::evidence::Evidence;
use super::kind::Kind;
use super::moment::Moment;
use super::story::Story;
use super::switch::Switch;
use crate::record::event::EventKind;

/// What speaks for a kind of drop-out with the engine running.
pub(super) fn of(
    scene: &Scene,
    switches: &[Switch],
    group: &[usize],
    story: &Story,
    kind: Kind,
) -> Vec<Evidence> {
    let mine: Vec<&Switch> =
        group.iter().map(|&n| &switches[n]).filter(|s| s.kinds.contains(&kind)).collect();
    let Some(typical) = mine.get(mine.len() / 2) else { return Vec::new() };
    let (Some(probes), Some(drops)) = (typical.probes, typical.drops) else { return Vec::new() };
    let mut evidence = vec![swing(scene, story)];
    evidence.push(Evidence::HeldOff { volts: probes.held_off_v });
    match kind {
        Kind::OwnDrop => {
            evidence.extend(drops.cable_share().map(|share| Evidence::CableShare { share }));
            evidence.push(Evidence::WithoutCable { volts: probes.without_cable_v });
        }
        Kind::WeakSource => {
            evidence.extend(drops.cable_share().map(|share| Evidence::CableShare { share }));
            let full: Vec<f64> = mine
                .iter()
                .filter_map(|s| s.drops)
                .filter(|d| d.alternator_full)
                .map(|d| d.capability_a)
                .collect();
            if let Some(&amps) = full.get(full.len() / 2) {
                let (times, of) = (full.len() as u32, mine.len() as u32);
                evidence.push(Evidence::AlternatorFull { times, of, amps });
            }
        }
        Kind::SetPoint => {
            if let (Some((from_v, volts)), Some(to_v)) = (probes.set_point_back, drops.set_point_v) {
                evidence.push(Evidence::SetPointBack { from_v, to_v, volts });
            }
        }
        Kind::OpenCable => evidence.push(Evidence::InputDead { posts_v: drops.posts_v }),
        _ => {}
    }
    if kind == Kind::OwnDrop {
        evidence.extend(clock(scene, story, typical));
    }
    evidence
}

/// How far input and posts swing within a story.
fn swing(scene: &Scene, story: &Story) -> Evidence {
    let (mut input, mut posts) = ((f64::INFINITY, f64::NEG_INFINITY), (f64::INFINITY, f64::NEG_INFINITY));
    let see = |band: &mut (f64, f64), v: f64| *band = (band.0.min(v), band.1.max(v));
    let within = |e: &&crate::record::event::Event| e.t >= story.from && e.t <= story.to;
    let switching =
        |e: &&crate::record::event::Event| matches!(e.kind, EventKind::UnitOn | EventKind::UnitOff);
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
