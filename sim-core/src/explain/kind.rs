//! The kinds of switching that are told apart.

use super::evidence::Evidence;
use serde::Serialize;

/// Why a unit keeps switching, or stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Its own current makes a drop in the run that takes its input under turn-off; off, the drop is gone.
    OwnDrop,
    /// The same, only until the starter battery has risen after a start: it ends by itself.
    StartUp,
    /// The alternator, or its cable, cannot carry what is asked.
    WeakSource,
    /// The alternator's set-point goes down and comes back.
    SetPoint,
    /// After key-off the starter battery's surface charge brings it on again.
    SurfaceCharge,
    /// Parked, even the rested starter battery stands over turn-on.
    RestedOverTurnOn,
    /// The sun, or a maintainer, on the starter battery brings it on.
    Sun,
    /// Its case becomes too hot.
    Heat,
    /// The house battery's protection refuses charge.
    Protection,
    /// The engine is stopped again and again.
    StopStart,
    /// It falls back from float to a new charge again and again.
    StageCycling,
    /// The run signal comes and goes.
    Signal,
    /// The input cable is open.
    OpenCable,
}

impl Kind {
    /// All kinds, in the order in which they are listed.
    pub const ALL: [Kind; 13] = [
        Kind::OwnDrop,
        Kind::StartUp,
        Kind::WeakSource,
        Kind::SetPoint,
        Kind::SurfaceCharge,
        Kind::RestedOverTurnOn,
        Kind::Sun,
        Kind::Heat,
        Kind::Protection,
        Kind::StopStart,
        Kind::StageCycling,
        Kind::Signal,
        Kind::OpenCable,
    ];
}

/// A kind that was named, with what speaks for it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Named {
    /// The kind.
    pub kind: Kind,
    /// How many of the story's switchings it accounts for.
    pub times: u32,
    /// What was measured on the run, or asked of the network.
    pub evidence: Vec<Evidence>,
}
