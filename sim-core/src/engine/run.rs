//! How a run is taken, what it leaves behind, and why it may end early.

use super::extremes::Extremes;
use super::guards::Guard;
use super::standing::Standing;
use super::statistics::Statistics;
use super::steppers::Stepper;
use super::trace::Trace;
use crate::plant::fuse::Wear;
use crate::run_data::day_book::DayBook;
use crate::run_data::event::Event;
use crate::run_data::fuse::FuseWork;
use crate::run_data::ledger::{Closure, Ledger};
use crate::run_data::stress::Stress;
use crate::state::Vector;
use crate::time::Instant;

/// Most transitions at one instant before the run gives up: no vehicle needs more than a handful.
pub(super) const MOST_AT_ONCE: u32 = 64;
/// Most times that the unit may come on within an hour, a round every third of a second: no delay of the trade is as short,
/// and what such a unit does in the next hour is what it did in this one.
pub(super) const MOST_ON_AN_HOUR: u32 = 10_000;

/// How a run is taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Error allowed per step: in SOC, in volts, in hundreds of kelvin. Between 1e-13 and 1e-3.
    pub tolerance: f64,
    /// What to keep.
    pub record: Record,
    /// Most events before the run is given up as endless switching.
    pub most_events: u64,
    /// Most steps before the run is given up, rejected ones counted.
    pub most_steps: u64,
    /// How steps are taken.
    pub stepper: Stepper,
    /// Steps that a run with [`Record::Bounded`] keeps; those behind them are taken again when read.
    pub most_kept: usize,
}

impl Default for Options {
    fn default() -> Self {
        Options {
            tolerance: 1e-8,
            record: Record::Everything,
            most_events: crate::bounds::MOST_EVENTS,
            most_steps: crate::bounds::MOST_STEPS,
            stepper: Stepper::default(),
            most_kept: crate::bounds::MOST_STEPS_KEPT,
        }
    }
}

/// What a run keeps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Record {
    /// Knots for a trace, and events.
    Everything,
    /// The same in memory that does not grow with the run: of a long one the first knots are kept, and the rest is
    /// simulated again, stretch by stretch, when it is read.
    Bounded,
    /// Events and sums only.
    Summary,
}

/// Why a run ended early.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RunError {
    /// A number went bad.
    #[error("{what} is no finite number at {:.3} s: these inputs leave what the model can describe", t.as_s())]
    NotFinite {
        /// When.
        t: Instant,
        /// Which quantity.
        what: &'static str,
    },
    /// A part became hotter than anything that the model describes.
    #[error("{what} passes {limit_c} °C at {:.3} s: these inputs leave what the model can describe", t.as_s())]
    TooHot {
        /// When.
        t: Instant,
        /// Which part.
        what: &'static str,
        /// What it may not pass, °C.
        limit_c: f64,
    },
    /// The rules contradict each other at one instant.
    #[error(
        "endless switching at {:.3} s: more than {MOST_AT_ONCE} transitions at one instant. Two thresholds contradict \
         each other with no delay between them; give the unit a turn-on delay, a turn-off delay or a soft start", t.as_s()
    )]
    EndlessSwitching {
        /// When.
        t: Instant,
    },
    /// Steps shrank to nothing.
    #[error("the run stalled at {:.6} s on {guard:?}: a quantity stands exactly on its limit", t.as_s())]
    Stalled {
        /// When.
        t: Instant,
        /// The guard that ended the last step.
        guard: Guard,
    },
    /// A state or a loss that no vehicle can have: the fault is the program's, not the file's.
    #[error(
        "the run came to what cannot be: {what} is {value:.6}, its bound is {bound:.6}. It is no result; please report the file"
    )]
    Impossible {
        /// Which quantity.
        what: String,
        /// Its worst value, in its own unit.
        value: f64,
        /// What it may not pass.
        bound: f64,
    },
    /// What came in is not what was stored, used and lost.
    #[error(
        "the balances do not close: {charge:.1e} of the charge and {energy:.1e} of the energy is missing or too much, {:.0e} and \
         {:.0e} are allowed. It is no result; please report the file", bounds[0], bounds[1]
    )]
    OpenBalance {
        /// Worst of the charge balances, relative.
        charge: f64,
        /// Worst of the energy balances, relative.
        energy: f64,
        /// What is allowed of each.
        bounds: [f64; 2],
    },
    /// The unit comes on and drops out without end, and faster than anything on the way to it settles.
    #[error(
        "the unit chatters: by {:.3} s it has come on {times} times within an hour. Turn-on delay, turn-off delay and soft start \
         are what slows it down", t.as_s()
    )]
    Chatters {
        /// When.
        t: Instant,
        /// How often.
        times: u32,
    },
    /// More events than allowed.
    #[error("more than {most} events by {:.3} s", t.as_s())]
    TooManyEvents {
        /// When.
        t: Instant,
        /// How many are allowed.
        most: u64,
    },
    /// More steps than allowed.
    #[error("more than {most} steps by {:.3} s", t.as_s())]
    TooManySteps {
        /// When.
        t: Instant,
        /// How many are allowed.
        most: u64,
    },
    /// A run that is handed on begins at another instant than the one that it was handed.
    #[error("the drive starts at {:.3} s, and what is handed on stands at {:.3} s", start.as_s(), standing.as_s())]
    OtherTime {
        /// Start of the drive.
        start: Instant,
        /// Instant of what is handed on.
        standing: Instant,
    },
    /// The tolerance is out of range.
    #[error("a tolerance of {0} is not between 1e-13 and 1e-3")]
    Tolerance(f64),
}

impl RunError {
    /// When a vehicle came to what is not simulated any further, where that says something of the vehicle: a part is too hot,
    /// the unit switches without end. Up to there the run is as good as any.
    pub fn ends_at(&self) -> Option<Instant> {
        match self {
            RunError::TooHot { t, .. }
            | RunError::Chatters { t, .. }
            | RunError::TooManyEvents { t, .. }
            | RunError::TooManySteps { t, .. } => Some(*t),
            _ => None,
        }
    }
}

/// A stretch with the engine running, or the parked time between two.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Whether the engine ran.
    pub driving: bool,
    /// Beginning.
    pub from: Instant,
    /// End.
    pub to: Instant,
    /// What was booked.
    pub ledger: Ledger,
    /// States at its end.
    pub end: Vector,
    /// How far the fuses are on the way to opening at its end.
    pub worn: Wear,
}

/// What a run leaves behind.
#[derive(Debug, Clone)]
pub struct Run {
    /// Beginning and end.
    pub span: (Instant, Instant),
    /// States at the beginning.
    pub start: Vector,
    /// States at the end.
    pub end: Vector,
    /// Events in order.
    pub events: Vec<Event>,
    /// Charge and energy over the run.
    pub ledger: Ledger,
    /// The same per drive and per parked stretch.
    pub stretches: Vec<Stretch>,
    /// Greatest and smallest values met.
    pub extremes: Extremes,
    /// What it asks of the fuses, each by its place; empty where there are none.
    pub fuses: Vec<FuseWork>,
    /// How far the parts were driven beside what they bear.
    pub stress: Stress,
    /// How well the ledgers close.
    pub closure: Closure,
    /// What it cost.
    pub statistics: Statistics,
    /// The trace; empty for [`Record::Summary`].
    pub trace: Trace,
    /// The run day by day; one entry where its days are not told apart.
    pub days: Vec<DayBook>,
    /// How everything stands at the end: what another run can begin with.
    pub standing: Standing,
    /// Why it ended before its drive did, where it was allowed to ([`super::simulate_as_far`]).
    pub ended_early: Option<RunError>,
}
