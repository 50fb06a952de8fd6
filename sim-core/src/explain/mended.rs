//! Which of two causes it is where one moment cannot tell: the drive again with one of them mended.

use super::Scene;
use super::ended::{Ended, next_key};
use super::evidence::Evidence;
use super::kind::Kind;
use super::knob::Knob;
use super::part::Part;
use super::story::Story;
use super::switch::MOST_OF_IT;
use crate::engine::Record;
use crate::model::{Model, Profile};
use crate::record::Timeline;
use crate::time::Instant;
use std::cell::RefCell;

/// Share of the drop-outs that may be left where something cures them.
const CURED: f64 = 0.1;
/// How long past the only drop-out of a unit that stays off is looked whether it goes off all the same, s.
const LATER_S: f64 = 3600.0;

/// What was found so far. Stories whose drop-outs show the same are asked about once, so that a log of many drives costs no
/// more than one: the story that is shown first stands for the others.
#[derive(Debug, Default)]
pub(super) struct Mended {
    found: RefCell<Vec<(Shown, Vec<Kind>)>>,
}

/// What the drop-outs of a story show by themselves.
#[derive(Debug, Clone, PartialEq)]
struct Shown {
    kinds: Vec<Kind>,
    mostly_cable: bool,
}

impl Mended {
    /// Which of the two it is, from the drive of the story behind an alternator without a ceiling and the same without the
    /// cable's resistance: a drained starter battery makes either look hopeless at one moment. With it what was found, for a
    /// story that was itself asked about.
    pub fn source_or_cable(
        &self,
        scene: &Scene,
        story: &Story,
        kinds: &[Kind],
        cable_share: f64,
    ) -> (Vec<Kind>, Option<Evidence>) {
        let in_order = [Kind::OwnDrop, Kind::WeakSource, Kind::SetPoint, Kind::OpenCable];
        let kinds = in_order.into_iter().filter(|k| kinds.contains(k)).collect();
        let shown = Shown { kinds, mostly_cable: cable_share >= MOST_OF_IT };
        if let Some((_, told)) = self.found.borrow().iter().find(|(s, _)| *s == shown) {
            return (told.clone(), None);
        }
        let few = |left: Option<u32>| left.is_some_and(|n| f64::from(n) <= CURED * f64::from(story.times));
        // One that stays off has nothing to show afterwards; with one thing mended it may go off a little later.
        let until = match story.ended {
            Ended::NeverCameBack { .. } => next_key(scene, story.to).0.min(story.to.plus_s(LATER_S)),
            _ => story.to,
        };
        let part = Part::of_drive(scene, story.from, until);
        let strong_source = part.as_ref().and_then(|part| {
            let mut strong = scene.model.clone();
            strong.alternator.asymptote_a *= 100.0;
            strong.alternator.heat = None;
            drop_outs(scene, part, (&strong, &part.profile), (story.from, until))
        });
        let no_cable = part.and_then(|part| {
            let this = Scene { profile: &part.profile, ..*scene };
            let (_, all) = Knob::LessCable.range(&this)?;
            let (model, profile) = Knob::LessCable.turned(&this, all)?;
            drop_outs(scene, &part, (&model, &profile), (story.from, until))
        });
        let told = match (few(strong_source), few(no_cable)) {
            (true, false) => vec![Kind::WeakSource],
            (true, true) if !shown.mostly_cable => vec![Kind::WeakSource],
            (false, true) => vec![Kind::OwnDrop],
            _ => vec![Kind::OwnDrop, Kind::WeakSource],
        };
        self.found.borrow_mut().push((shown, told.clone()));
        (told, Some(Evidence::OneThingMended { drop_outs: story.times, strong_source, no_cable }))
    }
}

/// Voltage drop-outs with the engine running between two instants.
fn drop_outs(
    scene: &Scene,
    part: &Part,
    (model, profile): (&Model, &Profile),
    (from, to): (Instant, Instant),
) -> Option<u32> {
    let run = part.run_under((model, profile), scene.work, Record::Summary)?;
    let t = Timeline::of(&run, model, profile);
    let within = |at: Instant| at >= from && at <= to;
    Some(t.drop_outs_on_volts().filter(|(off, _)| within(off.t)).count() as u32)
}
