//! One change that would have prevented a story, found by simulating.

use super::Scene;
use super::ended::next_key;
use super::kind::Kind;
use super::knob::Knob;
use super::story::{Family, Story, delivered_ah};
use crate::engine::{Options, Record, Run, simulate};
use crate::logic::Stage;
use crate::model::{Model, Profile};
use crate::record::event::{Cause, EventKind};
use crate::record::trace::Knot;
use crate::state::CASE_C;
use crate::time::Instant;
use serde::Serialize;

/// One change, and what the same drive becomes with it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Counterfactual {
    /// What is changed.
    pub knob: Knob,
    /// Its value as it is, in the unit of the knob; `None` for what is only there or not.
    pub now: Option<f64>,
    /// Where the story just stops to happen, bracketed on whole simulations.
    pub edge: Option<f64>,
    /// The value that was simulated for the figures below: past the edge, far enough to leave 0.3 V where that can be had.
    pub tried: Option<f64>,
    /// What is then left to the threshold that fired: V; for heat K.
    pub spare: Option<f64>,
    /// Charge out of the unit over the story's time as it was, Ah.
    pub delivered_ah: f64,
    /// The same with the change, Ah.
    pub then_ah: f64,
}

/// Values that are scanned before an edge is bracketed: there can be more than one.
const SCAN: u32 = 10;
/// The bracket is closed to this share of the step to which values are rounded.
const CLOSE: f64 = 0.1;
/// After an engine start a drop-out counts only from here on, s, as it does for the verdict on a run: until then the starter
/// battery is still rising.
const SETTLED_S: f64 = 300.0;
/// Steps that a value is moved on from the edge until enough is left to spare: at the edge itself there is nothing.
const STEPS_ON: [f64; 6] = [0.0, 1.0, 2.0, 4.0, 8.0, 12.0];

/// Looks for one change that would have prevented a story; `None` where none of those that suit its kinds does.
pub fn find(run: &Run, model: &Model, profile: &Profile, story: &Story) -> Option<Counterfactual> {
    let scene = Scene { run, model, profile };
    let asked = Asked::of(&scene, story);
    let knobs = story.kinds.iter().flat_map(|named| Knob::of(named));
    knobs.into_iter().find_map(|&knob| asked.turn(knob))
}

/// A story that must not happen again.
struct Asked<'a> {
    scene: &'a Scene<'a>,
    story: &'a Story,
    /// From when to when it must not.
    window: (Instant, Instant),
}

impl<'a> Asked<'a> {
    fn of(scene: &'a Scene<'a>, story: &'a Story) -> Self {
        let drive = |e: &&crate::record::event::Event| e.kind == EventKind::KeyOn && e.t <= story.from;
        let key_on = scene.run.events.iter().rev().find(drive).map_or(scene.run.span.0, |e| e.t);
        let window = match story.family {
            Family::Parked => (story.from, story.to),
            Family::Stop => (story.from, story.to),
            _ => (key_on, next_key(scene, story.to).0.max(story.to)),
        };
        Asked { scene, story, window }
    }

    fn turn(&self, knob: Knob) -> Option<Counterfactual> {
        let Some((now, most)) = knob.range(self.scene) else {
            return self.quiet(knob, 0.0).then(|| self.told(knob, None, 0.0)).flatten();
        };
        let at = |n: u32| now + (most - now) * f64::from(n) / f64::from(SCAN);
        let first = (1..=SCAN).find(|&n| self.quiet(knob, at(n)))?;
        let (mut loud, mut quiet) = (at(first - 1), at(first));
        while (quiet - loud).abs() > CLOSE * knob.step() {
            let mid = 0.5 * (loud + quiet);
            if self.quiet(knob, mid) { quiet = mid } else { loud = mid }
        }
        let way = (most - now).signum();
        let mut best = self.told(knob, Some((now, quiet)), quiet);
        for steps in STEPS_ON {
            let nice = knob.rounded(now, quiet) + steps * knob.step() * way;
            if (nice - most) * way > 0.0 || !self.quiet(knob, nice) {
                break;
            }
            let told = self.told(knob, Some((now, quiet)), nice);
            let spare = told.and_then(|t| t.spare);
            // Further on is no better where it leaves no more to spare.
            if spare <= best.and_then(|b| b.spare) && steps > 0.0 {
                break;
            }
            best = told;
            if spare.is_none_or(|s| s >= knob.to_spare()) {
                break;
            }
        }
        best
    }

    fn run(&self, knob: Knob, value: f64, record: Record) -> Option<(Run, Model, Profile)> {
        let (model, profile) = knob.turned(self.scene, value)?;
        // What comes after the story is not asked for.
        let profile = profile.until_after(self.window.1);
        let run = simulate(&model, &profile, &Options { record, ..Options::default() }).ok()?;
        Some((run, model, profile))
    }

    /// Whether the story does not happen with this value. A unit that never comes on is no cure.
    fn quiet(&self, knob: Knob, value: f64) -> bool {
        let Some((run, ..)) = self.run(knob, value, Record::Summary) else { return false };
        let (mut driving, mut on, mut served, mut bad) = (false, false, false, 0);
        let mut settled = self.window.0;
        for e in &run.events {
            let inside = e.t >= self.window.0 && e.t <= self.window.1 && e.t >= settled;
            match e.kind {
                EventKind::KeyOn => {
                    driving = true;
                    settled = if self.lasts() { e.t.plus_s(SETTLED_S) } else { settled };
                }
                EventKind::KeyOff => driving = false,
                EventKind::UnitOn => on = true,
                EventKind::UnitOff => on = false,
                _ => {}
            }
            served |= on && inside;
            bad += u32::from(inside && self.belongs(e.kind, e.cause, driving));
        }
        // A drive that goes on to the end of the run has no event there.
        served |= on;
        let allowed = u32::from(self.story.family == Family::Stages);
        bad <= allowed && (served || self.story.family == Family::Parked)
    }

    /// Whether it is a story of a drive that goes on past the starter battery's rise, so that only what comes then counts.
    fn lasts(&self) -> bool {
        let start_up = self.story.kinds.iter().any(|k| k.kind == Kind::StartUp);
        self.story.family == Family::Driving && !start_up && self.story.to.since(self.window.0) > SETTLED_S
    }

    fn belongs(&self, kind: EventKind, cause: Cause, driving: bool) -> bool {
        let off = kind == EventKind::UnitOff;
        match self.story.family {
            Family::Driving => off && driving && matches!(cause, Cause::InputHeld { .. }),
            // A short stop is over before the turn-off delay is: the drop-out may come after the engine runs again.
            Family::Stop => off,
            Family::Parked => kind == EventKind::UnitOn && !driving,
            Family::Heat => off && matches!(cause, Cause::Heat { .. }),
            Family::Signal => off && driving && matches!(cause, Cause::Signal { .. }),
            Family::Protection => matches!(kind, EventKind::ChargeRefused { why: Some(_) }),
            Family::Stages => {
                kind == EventKind::Stage { to: Stage::Bulk } && matches!(cause, Cause::OutputLow { .. })
            }
        }
    }

    fn told(&self, knob: Knob, found: Option<(f64, f64)>, tried: f64) -> Option<Counterfactual> {
        let (run, model, profile) = self.run(knob, tried, Record::Bounded)?;
        let then = Scene { run: &run, model: &model, profile: &profile };
        let (from, to) = (self.story.from, self.window.1);
        Some(Counterfactual {
            knob,
            now: found.map(|(now, _)| now),
            edge: found.map(|(_, edge)| edge),
            tried: found.map(|_| tried),
            spare: self.spare(&then),
            delivered_ah: delivered_ah(self.scene, from, to),
            then_ah: delivered_ah(&then, from, to),
        })
    }

    /// What is left to the threshold that had fired, within the window, looked at within every step.
    fn spare(&self, then: &Scene) -> Option<f64> {
        let c = &then.model.link().converter;
        let turn_on_v = then.model.link().start_stop.turn_on_v;
        let off_v = then.model.link().start_stop.turn_off_v;
        let (from, to) = self.window;
        let steps = then.run.trace.steps_from(then.model, then.profile, from);
        let ends = steps.skip_while(|k| k.start < from).take_while(|k| k.start < to);
        let places = |k: &Knot| k.places_ns().map(|ns| k.start.plus_ns(ns.min(k.ns - 1))).collect::<Vec<_>>();
        let samples = ends.flat_map(|k| places(&k));
        let left = samples.filter_map(|t| {
            let s = then.run.trace.at(then.model, then.profile, t)?;
            match self.story.family {
                Family::Driving => (s.mode.on && s.mode.alternator_turns()).then_some(s.net.in_v - off_v),
                Family::Parked => (!s.mode.on && !s.mode.engine_runs).then_some(turn_on_v - s.net.in_v),
                Family::Heat => Some(c.lock_c - s.state[CASE_C]),
                _ => None,
            }
        });
        left.reduce(f64::min)
    }
}
