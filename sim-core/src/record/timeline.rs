//! The timeline of a run: when the engine ran, when the unit was on, why it went off.
//!
//! One pass over the events makes spans out of them. Whoever asks when or why something switched reads it here and nowhere
//! else, so there is one answer.

mod build;
mod spans;
#[cfg(test)]
mod tests;

pub use spans::{
    Crank, Drive, DropOut, Ended, EngineSpan, OffCause, OnCause, Refused, RunOn, RunOnEnds, Span, StageSpan,
    TurnOff, TurnOn, UnitSpan,
};

use crate::engine::Run;
use crate::mode::Refusal;
use crate::model::{Model, Profile};
use crate::plant::fuse::FusePlace;
use crate::time::Instant;

/// How long after an engine start things count as settled, s.
///
/// Until then the starter battery is still taking back what cranking took, and its volts rise by themselves: a unit that
/// drops out and comes back in that time is starting up. The same length at the end of a drive says whether it would go on.
/// Five minutes is common practice for a reading that may be trusted, no source.
pub const SETTLED_S: f64 = 300.0;
/// An engine that stops for no longer than this goes on with the same drive, s: a stop at a light, at a ticket machine.
pub const A_STOP_S: f64 = 180.0;

/// A run in spans.
#[derive(Debug, Clone, PartialEq)]
pub struct Timeline {
    /// Beginning and end of the run.
    pub span: Span,
    /// When the engine ran, cranking included, in order.
    pub engine: Vec<EngineSpan>,
    /// Drives: engine spans with short stops between them, in order.
    pub drives: Vec<Drive>,
    /// When the unit was on, in order.
    pub unit: Vec<UnitSpan>,
    /// Stages while it was on, in order.
    pub stages: Vec<StageSpan>,
    /// How long it stayed on after each key-off with the unit on, in order.
    pub run_ons: Vec<RunOn>,
    /// When the house battery refused charge, in order.
    pub refused: Vec<Refused>,
    /// When the house loads were shed, in order.
    pub shed: Vec<Span>,
    /// When the unit was locked out for heat, in order.
    pub locked: Vec<Span>,
    /// When nothing on the starter side ran, in order.
    pub starter_dead: Vec<Span>,
    /// When the house battery was full, in order.
    pub house_full: Vec<Span>,
    /// When the starter battery was full, in order.
    pub starter_full: Vec<Span>,
    /// Fuses that opened, in order.
    pub fuses_opened: Vec<(FusePlace, Instant)>,
}

impl Timeline {
    /// Reads it off a run.
    pub fn of(run: &Run, model: &Model, profile: &Profile) -> Timeline {
        build::build(run, model, profile)
    }

    /// Time with the engine running, s.
    pub fn driving_s(&self) -> f64 {
        self.engine.iter().map(|e| e.span.seconds()).sum()
    }

    /// Whether the engine runs at an instant; a key counts from its own instant on.
    pub fn driving_at(&self, t: Instant) -> bool {
        self.engine.iter().any(|e| e.span.from <= t && t < e.span.to)
    }

    /// Time the unit was on, s.
    pub fn on_s(&self) -> f64 {
        self.unit.iter().map(|u| u.span.seconds()).sum()
    }

    /// Time the unit was on with the engine running, s.
    pub fn on_driving_s(&self) -> f64 {
        overlap_s(self.unit.iter().map(|u| u.span), &self.engine)
    }

    /// Times the unit came on.
    pub fn came_on(&self) -> u32 {
        count(self.unit.iter().filter(|u| u.on.is_some()).count())
    }

    /// Times the unit came on with the engine stopped.
    pub fn came_on_parked(&self) -> u32 {
        count(self.turn_ons().filter(|(_, on)| !on.driving).count())
    }

    /// Turn-ons in order, with when.
    pub fn turn_ons(&self) -> impl Iterator<Item = (Instant, TurnOn)> + '_ {
        self.unit.iter().filter_map(|u| Some((u.span.from, u.on?)))
    }

    /// When the unit came on first.
    pub fn first_on(&self) -> Option<Instant> {
        self.turn_ons().next().map(|(t, _)| t)
    }

    /// Turn-offs in order.
    pub fn turn_offs(&self) -> impl Iterator<Item = &TurnOff> + '_ {
        self.unit.iter().filter_map(|u| u.off.as_ref())
    }

    /// Drop-outs with the engine running, in order, whatever for.
    pub fn drop_outs(&self) -> impl Iterator<Item = (&TurnOff, &DropOut)> + '_ {
        self.turn_offs().filter_map(|off| Some((off, off.driving.as_ref()?)))
    }

    /// Drop-outs with the engine running because the input voltage was too low, in order.
    pub fn drop_outs_on_volts(&self) -> impl Iterator<Item = (&TurnOff, &DropOut)> + '_ {
        self.drop_outs().filter(|(off, _)| off.cause == OffCause::Volts)
    }

    /// Drop-outs on volts later than [`SETTLED_S`] into a drive, the drive offering no less than when the unit came on.
    pub fn own_drop_outs(&self) -> impl Iterator<Item = (&TurnOff, &DropOut)> + '_ {
        self.drop_outs_on_volts().filter(|(_, d)| d.since_start_s > SETTLED_S && !d.conditions_worse)
    }

    /// The drop-out on volts after which the unit stayed off longest with the engine running, where that was longer than
    /// [`SETTLED_S`].
    pub fn longest_off(&self) -> Option<(&TurnOff, &DropOut)> {
        let long = self.drop_outs_on_volts().filter(|(_, d)| d.off_s > SETTLED_S);
        long.max_by(|a, b| a.1.off_s.total_cmp(&b.1.off_s))
    }

    /// The last drop-out with the engine running.
    pub fn last_drop_out(&self) -> Option<&TurnOff> {
        self.drop_outs().map(|(off, _)| off).last()
    }

    /// The last turn-off with the engine stopped.
    pub fn last_off_parked(&self) -> Option<&TurnOff> {
        self.turn_offs().filter(|off| off.driving.is_none()).last()
    }

    /// How long the unit stayed on after the last key-off, s; `None` where it was off by then, or the engine started again
    /// before it went off.
    pub fn ran_on_s(&self) -> Option<f64> {
        let last = self.engine.iter().rev().find(|e| e.ended == Ended::KeyOff)?;
        let found = self.run_ons.iter().rev().find(|r| r.span.from == last.span.to)?;
        if found.ends == RunOnEnds::EngineStarts {
            return None;
        }
        Some(found.span.seconds())
    }

    /// The longest of all run-ons; the first of equal ones.
    pub fn longest_run_on(&self) -> Option<&RunOn> {
        self.run_ons.iter().reduce(|a, b| if b.span.seconds() > a.span.seconds() { b } else { a })
    }

    /// Mean time between the last drop-outs with the engine running (up to 50 cycles), s; `None` under two cycles.
    pub fn cycle_period_s(&self) -> Option<f64> {
        let offs: Vec<Instant> = self.drop_outs().map(|(off, _)| off.t).collect();
        let cycles = offs.len().checked_sub(1).filter(|n| *n > 0)?.min(50);
        let last = offs[offs.len() - 1];
        Some(last.since(offs[offs.len() - 1 - cycles]) / cycles as f64)
    }

    /// How long charge was refused with the engine running, s, for one reason.
    pub fn refused_driving_s(&self, why: Refusal) -> f64 {
        overlap_s(self.refused.iter().filter(|r| r.why == why).map(|r| r.span), &self.engine)
    }

    /// The drive that holds an instant, its end included.
    pub fn drive_at(&self, t: Instant) -> Option<&Drive> {
        self.drives.iter().find(|d| d.span.from <= t && t <= d.span.to)
    }

    /// Whether an instant lies within the last [`SETTLED_S`] of its drive.
    pub fn is_late(&self, t: Instant) -> bool {
        self.drive_at(t).is_some_and(|d| d.span.to.since(t) <= SETTLED_S)
    }
}

/// Time of spans with the engine running, s.
fn overlap_s(spans: impl Iterator<Item = Span>, engine: &[EngineSpan]) -> f64 {
    let mut first = 0;
    let mut sum = 0.0;
    for span in spans {
        // Both are in order: engines that ended before this span end before the next too.
        while engine.get(first).is_some_and(|e| e.span.to <= span.from) {
            first += 1;
        }
        for e in engine[first..].iter().take_while(|e| e.span.from < span.to) {
            sum += span.overlap_s(&e.span);
        }
    }
    sum
}

fn count(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}
