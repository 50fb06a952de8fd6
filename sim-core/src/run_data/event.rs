//! Events as data: what changed, when, why, and the values on both sides.

use crate::mode::{Refusal, Stage};
use crate::network::{Limit, Net};
use crate::plant::fuse::FusePlace;
use crate::time::Instant;
use serde::Serialize;

/// Which battery.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// The battery that cranks the engine.
    Starter,
    /// The battery that serves the house.
    House,
}

/// Whether a battery stands at the end of its range.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Bound {
    /// Full and still offered charge.
    Full,
    /// Not so.
    Within,
}

/// What changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case", tag = "what")]
pub enum EventKind {
    /// The engine is started: the crank load comes on.
    KeyOn,
    /// The engine runs by itself: cranking ends.
    EngineRuns,
    /// The alternator begins to charge, some seconds after the engine runs.
    AlternatorBegins,
    /// The engine is stopped.
    KeyOff,
    /// The unit comes on.
    UnitOn,
    /// The unit drops out.
    UnitOff,
    /// The soft start ends.
    RampEnd,
    /// A charge stage begins.
    Stage {
        /// The stage.
        to: Stage,
    },
    /// Another of the unit's limits rules.
    Limit {
        /// The limit that ruled.
        from: Limit,
        /// The limit that rules now.
        to: Limit,
    },
    /// The alternator reaches its greatest current, or leaves it.
    AlternatorFull {
        /// Whether it is there now.
        full: bool,
    },
    /// The vehicle falls asleep.
    FallsAsleep,
    /// The unit locks itself out for heat, or may start again.
    HeatLock {
        /// Whether it is locked now.
        locked: bool,
    },
    /// The house battery's protection refuses charge, or lets it in again.
    ChargeRefused {
        /// Why, if it refuses now.
        why: Option<Refusal>,
    },
    /// House loads are shed, or come back.
    LoadsShed {
        /// Whether they are shed now.
        shed: bool,
    },
    /// The starter battery collapses, and nothing on its side runs any more; or it runs again.
    StarterDead {
        /// Whether it has collapsed now.
        dead: bool,
    },
    /// A heater mat on the house battery is turned on or off.
    HeaterMat {
        /// Whether it is on now.
        on: bool,
    },
    /// A fuse opens, and with it its cable.
    FuseOpened {
        /// Where it sits.
        at: FusePlace,
    },
    /// A battery is full, or no longer so.
    Bound {
        /// Which battery.
        side: Side,
        /// Where it stands now.
        at: Bound,
    },
}

/// Why it changed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "cause")]
#[non_exhaustive]
pub enum Cause {
    /// The drive says so.
    Drive,
    /// A fixed time ran out.
    Timer,
    /// The unit's input stood beyond a threshold for its delay.
    InputHeld {
        /// Volts at the input when the delay ran out.
        input_v: f64,
        /// The threshold, V.
        threshold_v: f64,
        /// The delay, s.
        held_s: f64,
    },
    /// The output reached the target voltage.
    TargetReached {
        /// Volts at the output.
        output_v: f64,
        /// The target, V.
        target_v: f64,
    },
    /// The output current stayed under the tail current.
    TailCurrent {
        /// Output current, A.
        output_a: f64,
        /// Tail current, A.
        tail_a: f64,
        /// How long, s.
        held_s: f64,
    },
    /// Absorption lasted as long as it may.
    AbsorptionCap {
        /// The cap, s.
        cap_s: f64,
    },
    /// The output stayed under the recharge voltage.
    OutputLow {
        /// Volts at the output.
        output_v: f64,
        /// The threshold, V.
        threshold_v: f64,
        /// How long, s.
        held_s: f64,
    },
    /// The run signal.
    Signal {
        /// Whether it is live.
        live: bool,
    },
    /// The unit's case temperature.
    Heat {
        /// Case temperature, °C.
        case_c: f64,
        /// The threshold, °C.
        limit_c: f64,
    },
    /// The house battery's protection.
    Protection {
        /// What it saw, °C, V or A.
        value: f64,
        /// Its threshold, in the same unit.
        threshold: f64,
    },
    /// A battery could give no more: it was empty, or more was asked than it had at any volts.
    Spent {
        /// Its volts without a load.
        open_v: f64,
        /// Its state of charge.
        soc: f64,
    },
    /// A battery's posts.
    Posts {
        /// Volts there.
        posts_v: f64,
        /// The threshold, V.
        threshold_v: f64,
    },
    /// A fuse carried too much for too long.
    OverRating {
        /// Its current at the end, A.
        amps: f64,
        /// Its rating, A.
        rating_a: f64,
    },
    /// Volts and amps moved there by themselves.
    Network,
}

/// One event. A sample at a jump carries both sides.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Event {
    /// When.
    pub t: Instant,
    /// What.
    pub kind: EventKind,
    /// Why.
    pub cause: Cause,
    /// Volts and amps just before.
    pub before: Net,
    /// Volts and amps just after.
    pub after: Net,
}
