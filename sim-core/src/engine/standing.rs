//! How everything stands at one instant: what a run hands on to the next.

use crate::mode::Mode;
use crate::network::{Net, Regime};
use crate::plant::fuse::Wear;
use crate::state::Vector;
use crate::time::Instant;

/// States, modes, running timers, and the volts and amps of an instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// The instant.
    pub t: Instant,
    /// Slow states.
    pub state: Vector,
    /// Discrete state, timers included.
    pub mode: Mode,
    /// Which limits rule.
    pub regime: Regime,
    /// Volts and amps.
    pub net: Net,
    /// How far the fuses are on the way to opening.
    pub worn: Wear,
}

impl Standing {
    /// The same at another instant: timers have as long to run as before. For driving the same week again.
    #[must_use]
    pub fn moved_to(&self, t: Instant) -> Standing {
        let by_ns = t.ns() - self.t.ns();
        let mut mode = self.mode;
        mode.timers = mode.timers.moved(by_ns);
        mode.on_since = mode.on_since.plus_ns(by_ns);
        Standing { t, mode, ..*self }
    }
}
