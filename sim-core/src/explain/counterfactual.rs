//! One change that would have prevented a story, found by simulating its drive again from how everything stood before.

use super::Scene;
use super::ended::next_key;
use super::kind::Kind;
use super::knob::Knob;
use super::part::{Part, drive_start, is_restart};
use super::story::{Family, Story, delivered_ah};
use crate::engine::{Record, Run};
use crate::logic::Stage;
use crate::model::{Model, Profile};
use crate::record::SETTLED_S;
use crate::record::event::{Cause, Event, EventKind};
use crate::record::trace::Knot;
use crate::state::CASE_C;
use crate::time::Instant;
use serde::Serialize;
use std::borrow::Cow;

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
/// Steps that a value is moved on from the edge until enough is left to spare: at the edge itself there is nothing.
const STEPS_ON: [f64; 6] = [0.0, 1.0, 2.0, 4.0, 8.0, 12.0];

/// Looks for one change that would have prevented a story; `None` where none of those that suit its kinds does.
pub fn find(run: &Run, model: &Model, profile: &Profile, story: &Story) -> Option<Counterfactual> {
    let scene = Scene { run, model, profile };
    let asked = Asked::of(&scene, story)?;
    let knobs = story.kinds.iter().flat_map(|named| Knob::of(named));
    knobs.into_iter().find_map(|&knob| asked.turn(knob))
}

/// A story that must not happen again.
struct Asked<'a> {
    scene: &'a Scene<'a>,
    story: &'a Story,
    /// From when to when it must not.
    window: (Instant, Instant),
    /// What is run again.
    part: Part,
}

impl<'a> Asked<'a> {
    fn of(scene: &'a Scene<'a>, story: &'a Story) -> Option<Self> {
        let key_on = drive_start(scene, story.from).unwrap_or(scene.run.span.0);
        let window = match story.family {
            Family::Parked => (story.from, story.to),
            Family::Stop => (story.from, story.to),
            _ => (key_on, next_key(scene, story.to).0.max(story.to)),
        };
        // What comes after the story is not asked for.
        Some(Asked { scene, story, window, part: Part::of_drive(scene, story.from, window.1)? })
    }

    fn turn(&self, knob: Knob) -> Option<Counterfactual> {
        let part = self.part_of(knob)?;
        let range = knob.range(&Scene { profile: &part.profile, ..*self.scene });
        let Some((now, most)) = range else { return self.tried(knob, None, 0.0) };
        // A story that does not show in its drive run again has no edge to look for.
        if self.quiet(knob, now) {
            return None;
        }
        let at = |n: u32| now + (most - now) * f64::from(n) / f64::from(SCAN);
        let first = (1..=SCAN).find(|&n| self.quiet(knob, at(n)))?;
        let (mut loud, mut quiet) = (at(first - 1), at(first));
        while (quiet - loud).abs() > CLOSE * knob.step() {
            let mid = 0.5 * (loud + quiet);
            if self.quiet(knob, mid) { quiet = mid } else { loud = mid }
        }
        let way = (most - now).signum();
        let found = Some((now, quiet));
        let mut best: Option<Counterfactual> = None;
        for steps in STEPS_ON {
            let nice = knob.rounded(now, quiet) + steps * knob.step() * way;
            if (nice - most) * way > 0.0 {
                break;
            }
            let Some(told) = self.tried(knob, found, nice) else { break };
            // Further on is no better where it leaves no more to spare.
            if best.is_some_and(|b| told.spare <= b.spare) {
                break;
            }
            best = Some(told);
            if told.spare.is_none_or(|s| s >= knob.to_spare()) {
                break;
            }
        }
        best.or_else(|| self.tried(knob, found, quiet))
    }

    /// What is run again to see what a knob does.
    fn part_of(&self, knob: Knob) -> Option<Cow<'_, Part>> {
        // How warm the battery stands from the beginning is what this changes.
        match knob {
            Knob::HouseTemp => Some(Cow::Owned(Part::whole(self.scene, self.window.1)?)),
            _ => Some(Cow::Borrowed(&self.part)),
        }
    }

    /// The same with this value, for the model and the drive.
    fn turned(&self, knob: Knob, value: f64) -> Option<(Model, Profile, Cow<'_, Part>)> {
        let part = self.part_of(knob)?;
        let (model, profile) = knob.turned(&Scene { profile: &part.profile, ..*self.scene }, value)?;
        Some((model, profile, part))
    }

    /// Whether the story does not happen with this value.
    fn quiet(&self, knob: Knob, value: f64) -> bool {
        let Some((model, profile, part)) = self.turned(knob, value) else { return false };
        let mut seen = Seen::before(self, part.begins_on());
        // Once it has happened, how the drive goes on is all the same.
        let ran = part.run_while(&model, &profile, |run| {
            run.events.iter().for_each(|e| seen.see(self, e));
            seen.calm(self)
        });
        ran.is_some() && seen.quiet(self)
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

    /// What becomes of the drive with this value; `None` where the story happens all the same.
    fn tried(&self, knob: Knob, found: Option<(f64, f64)>, tried: f64) -> Option<Counterfactual> {
        let (model, profile, part) = self.turned(knob, tried)?;
        let run = part.run_under(&model, &profile, Record::Bounded)?;
        let mut seen = Seen::before(self, part.begins_on());
        run.events.iter().for_each(|e| seen.see(self, e));
        if !seen.quiet(self) {
            return None;
        }
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

/// What was seen of a run with something changed, event by event.
struct Seen {
    driving: bool,
    on: bool,
    /// The unit was on at some time that counts.
    served: bool,
    /// How often it happened.
    times: u32,
    /// From when on it counts.
    settled: Instant,
    /// When the engine was last stopped.
    stopped: Option<Instant>,
}

impl Seen {
    fn before(asked: &Asked, on: bool) -> Seen {
        Seen { driving: false, on, served: false, times: 0, settled: asked.window.0, stopped: None }
    }

    fn see(&mut self, asked: &Asked, e: &Event) {
        let inside = e.t >= asked.window.0 && e.t <= asked.window.1 && e.t >= self.settled;
        match e.kind {
            EventKind::KeyOn => {
                self.driving = true;
                if asked.lasts() && !is_restart(self.stopped, e.t) {
                    self.settled = e.t.plus_s(SETTLED_S);
                }
            }
            EventKind::KeyOff => (self.driving, self.stopped) = (false, Some(e.t)),
            EventKind::UnitOn => self.on = true,
            EventKind::UnitOff => self.on = false,
            _ => {}
        }
        self.served |= self.on && inside;
        self.times += u32::from(inside && asked.belongs(e.kind, e.cause, self.driving));
    }

    /// Whether the story did not happen so far.
    fn calm(&self, asked: &Asked) -> bool {
        self.times <= u32::from(asked.story.family == Family::Stages)
    }

    /// Whether the story did not happen in all of the run. A unit that never comes on is no cure; one that is on to the end
    /// of the run has no event there.
    fn quiet(&self, asked: &Asked) -> bool {
        self.calm(asked) && (self.served || self.on || asked.story.family == Family::Parked)
    }
}
