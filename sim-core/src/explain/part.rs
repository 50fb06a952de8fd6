//! A part of a run taken again with something changed, from how everything stood before it: what it costs goes by the part
//! and not by how long the vehicle had been on the way.

use super::Scene;
use crate::engine::budget::Budget;
use crate::engine::{Options, Record, Run, Standing};
use crate::model::{Model, Piece, Profile};
use crate::record::event::EventKind;
use crate::record::timeline::A_STOP_S;
use crate::time::Instant;

/// Error allowed per step: what is looked for is known to some hundredths of a volt, and this leaves it microvolts.
const TOLERANCE: f64 = 1e-6;
/// What is run past the instant that ends a part, s: what switches there is seen.
const PAST_S: f64 = 1.0;

/// A part of a run.
#[derive(Debug, Clone)]
pub(super) struct Part {
    /// How everything stood; `None` where it begins with the run.
    from: Option<Standing>,
    /// What is driven.
    pub profile: Profile,
}

/// The last engine start up to `t` that is no restart after a short stop.
pub(super) fn drive_start(scene: &Scene, t: Instant) -> Option<Instant> {
    let (mut start, mut stopped) = (None, None);
    for e in scene.run.events.iter().take_while(|e| e.t <= t) {
        match e.kind {
            EventKind::KeyOff => stopped = Some(e.t),
            EventKind::KeyOn if !is_restart(stopped, e.t) || start.is_none() => start = Some(e.t),
            _ => {}
        }
    }
    start
}

/// Whether an engine start follows on a stop that is over within three minutes, and goes on with the same drive.
pub fn is_restart(stopped: Option<Instant>, started: Instant) -> bool {
    stopped.is_some_and(|s| started.since(s) <= A_STOP_S)
}

impl Part {
    /// From the beginning of the drive that holds `t`, or of the last one before, until just after `until`.
    pub fn of_drive(scene: &Scene, t: Instant, until: Instant) -> Option<Part> {
        // What switches at that instant is part of it.
        let before = drive_start(scene, t).map(|t| t.plus_ns(-1));
        let from = before.filter(|b| *b > scene.run.span.0).and_then(|b| {
            let s = scene.run.trace.at(scene.model, scene.profile, b)?;
            Some(Standing {
                t: b,
                state: s.state,
                mode: s.mode,
                regime: s.regime,
                net: s.net,
                worn: scene
                    .run
                    .stretches
                    .iter()
                    .rfind(|s| s.to <= b.plus_ns(1))
                    .map_or_else(Default::default, |s| s.worn),
            })
        });
        Part::cut(scene, from, until)
    }

    fn cut(scene: &Scene, from: Option<Standing>, until: Instant) -> Option<Part> {
        let begin = from.map_or(scene.profile.start(), |s| s.t);
        let end = until.plus_s(PAST_S).min(scene.profile.end());
        Some(Part { from, profile: scene.profile.between(begin, end).ok()? })
    }

    /// The same with every piece changed, in order.
    pub fn with(self, change: impl FnMut(Piece) -> Piece) -> Option<Part> {
        let pieces = self.profile.pieces().iter().map(change);
        Some(Part { profile: Profile::new(pieces, self.profile.start_clock_s).ok()?, ..self })
    }

    /// The same with what holds at one instant held on until another.
    pub fn prolonged(self, at: Instant, until: Instant) -> Option<Part> {
        let pieces = self.profile.pieces();
        let last = self.profile.index_at(at);
        let held = Piece { end: until, ..pieces.at(last) };
        let pieces = pieces.iter().take(last).chain([held]);
        Some(Part { profile: Profile::new(pieces, self.profile.start_clock_s).ok()?, ..self })
    }

    /// Runs it.
    pub fn run(&self, scene: &Scene, record: Record) -> Option<Run> {
        self.run_under((scene.model, &self.profile), scene.work, record)
    }

    /// Runs it with another vehicle or under other conditions, over the same time; `None` too where the work is used up.
    pub fn run_under(
        &self,
        (model, profile): (&Model, &Profile),
        work: Option<&Budget>,
        record: Record,
    ) -> Option<Run> {
        let options = Options { tolerance: TOLERANCE, record, ..Options::default() };
        work?.run(model, profile, &options, self.from.as_ref()).ok()
    }
}
