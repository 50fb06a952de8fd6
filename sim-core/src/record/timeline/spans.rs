//! What a timeline is made of.

use crate::mode::{Refusal, Stage};
use crate::time::Instant;
use serde::Serialize;

/// A stretch of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Span {
    /// Beginning.
    pub from: Instant,
    /// End.
    pub to: Instant,
}

impl Span {
    /// Its length, s.
    pub fn seconds(&self) -> f64 {
        self.to.since(self.from)
    }

    /// How much of it lies in another one, s.
    pub fn overlap_s(&self, other: &Span) -> f64 {
        self.to.min(other.to).since(self.from.max(other.from)).max(0.0)
    }
}

/// How an engine span ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Ended {
    /// The engine is stopped.
    KeyOff,
    /// The run ends.
    RunEnds,
}

/// A time with the engine running.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EngineSpan {
    /// From key-on, or the beginning of the run, to its end.
    pub span: Span,
    /// How it ends.
    pub ended: Ended,
    /// Its start; `None` where the engine ran as the run began.
    pub crank: Option<Crank>,
    /// The drive it belongs to: index into `Timeline::drives`.
    pub drive: usize,
}

/// An engine start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crank {
    /// Key-on.
    pub at: Instant,
    /// How long it cranks, s.
    pub seconds: f64,
    /// Lowest volts at the starter posts, at the beginning or the end of cranking.
    pub lowest_v: f64,
    /// Whether nothing on the starter side ran any more before it.
    pub dead: bool,
}

/// A drive: one engine span, or several with short stops between them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drive {
    /// From the first key-on to the last key-off.
    pub span: Span,
    /// Time with the engine running, s.
    pub engine_s: f64,
    /// When the unit was first on in it; `None` where it never was.
    pub first_on: Option<Instant>,
    /// Time that the unit was on with the engine running, s.
    pub on_s: f64,
    /// Time with the engine running after a drop-out on volts until the unit was on again, s.
    pub off_again_s: f64,
}

impl Drive {
    /// Time with the engine running before the unit was first on, s; all of it where it never was. Short stops count in.
    pub fn waited_s(&self) -> f64 {
        self.first_on.map_or(self.engine_s, |on| on.since(self.span.from).max(0.0))
    }
}

/// What brought the unit on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum OnCause {
    /// Its input voltage.
    Volts,
    /// Its run signal.
    Signal,
}

/// A turn-on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnOn {
    /// What for.
    pub cause: OnCause,
    /// Whether the engine ran.
    pub driving: bool,
    /// Its event: index into `Run::events`.
    pub event: usize,
}

/// What turned the unit off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum OffCause {
    /// Its input voltage.
    Volts,
    /// Its own heat.
    Heat,
    /// Its run signal.
    Signal,
    /// The starter side runs nothing any more.
    StarterDead,
    /// A fuse of its input cable opened: there is no input voltage.
    FuseOpened,
    /// Anything else.
    Other,
}

/// A turn-off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnOff {
    /// When.
    pub t: Instant,
    /// What for.
    pub cause: OffCause,
    /// Its event: index into `Run::events`.
    pub event: usize,
    /// A drop-out with the engine running; `None` with the engine stopped.
    pub driving: Option<DropOut>,
}

/// What belongs to a drop-out with the engine running.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DropOut {
    /// Time since the drive began, s.
    pub since_start_s: f64,
    /// Whether the drive offers less than when the unit came on: set-point, speed, vehicle load, a joint, an open cable.
    pub conditions_worse: bool,
    /// How long the unit had been on, s.
    pub held_s: f64,
    /// Time with the engine running until the unit is on again, or to the end of the drive, s.
    pub off_s: f64,
    /// The drive: index into `Timeline::drives`.
    pub drive: usize,
}

/// A time with the unit on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnitSpan {
    /// From turn-on, or the beginning of the run, to turn-off or its end.
    pub span: Span,
    /// What brought it on; `None` where it was on as the run began.
    pub on: Option<TurnOn>,
    /// What turned it off; `None` where it is on as the run ends.
    pub off: Option<TurnOff>,
}

/// A charge stage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StageSpan {
    /// The stage.
    pub stage: Stage,
    /// When.
    pub span: Span,
}

/// How a run-on ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RunOnEnds {
    /// The unit goes off.
    Off,
    /// The engine is started again.
    EngineStarts,
    /// The run ends.
    RunEnds,
}

/// A time for which the unit stayed on after a key-off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunOn {
    /// From the key-off.
    pub span: Span,
    /// How it ends.
    pub ends: RunOnEnds,
}

/// A time for which the house battery refused charge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Refused {
    /// Why.
    pub why: Refusal,
    /// When.
    pub span: Span,
}
