//! How a run is taken, what it leaves behind, and why it may end early.

use super::guards::Guard;
use super::standing::Standing;
use super::statistics::Statistics;
use super::steppers::Stepper;
use crate::record::days::DayBook;
use crate::record::event::Event;
use crate::record::ledger::{Closure, Ledger};
use crate::record::stress::Stress;
use crate::record::summary::Extremes;
use crate::record::trace::Trace;
use crate::state::Vector;
use crate::time::Instant;

/// Most transitions at one instant before the run gives up: no vehicle needs more than a handful.
pub(super) const MOST_AT_ONCE: u32 = 64;
/// Steps that a bounded run keeps unless told otherwise: a week of a log at 1 Hz that drives an hour a day fits.
const MOST_KEPT: usize = 131_072;

/// How a run is taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Error allowed per step: in SOC, in volts, in hundreds of kelvin. Between 1e-13 and 1e-3.
    pub tolerance: f64,
    /// What to keep.
    pub record: Record,
    /// Most events before the run is given up as endless switching.
    pub most_events: u64,
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
            most_events: 2_000_000,
            stepper: Stepper::default(),
            most_kept: MOST_KEPT,
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
    #[error("{what} passes 300 °C at {:.3} s: these inputs leave what the model can describe", t.as_s())]
    TooHot {
        /// When.
        t: Instant,
        /// Which part.
        what: &'static str,
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
    /// More events than allowed.
    #[error("more than {most} events by {:.3} s", t.as_s())]
    TooManyEvents {
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
}
