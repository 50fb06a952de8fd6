//! What a run books day by day.

use super::ledger::Ledger;
use crate::state::{HOUSE, STARTER, Vector};
use crate::time::Instant;

/// The lowest states of charge met, and when.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lows {
    /// House battery, share of full.
    pub house_soc: f64,
    /// When.
    pub house_at: Instant,
    /// Starter battery, share of full.
    pub starter_soc: f64,
    /// When.
    pub starter_at: Instant,
}

impl Lows {
    fn at(t: Instant, y: &Vector) -> Lows {
        Lows { house_soc: y[HOUSE], house_at: t, starter_soc: y[STARTER], starter_at: t }
    }

    fn see(&mut self, t: Instant, y: &Vector) {
        if y[HOUSE] < self.house_soc {
            (self.house_soc, self.house_at) = (y[HOUSE], t);
        }
        if y[STARTER] < self.starter_soc {
            (self.starter_soc, self.starter_at) = (y[STARTER], t);
        }
    }
}

/// What a run booked on one day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayBook {
    /// Number of the day, from 0.
    pub day: u32,
    /// Beginning.
    pub from: Instant,
    /// End.
    pub to: Instant,
    /// Charge and energy.
    pub ledger: Ledger,
    /// States at its beginning.
    pub start: Vector,
    /// States at its end.
    pub end: Vector,
    /// Lowest states of charge, at step ends.
    pub lows: Lows,
}

/// A day that is being run.
#[derive(Debug, Clone, Copy)]
pub(crate) struct OpenDay {
    pub(crate) day: u32,
    from: Instant,
    start: Vector,
    booked: Ledger,
    lows: Lows,
}

impl OpenDay {
    pub(crate) fn new(day: u32, from: Instant, start: Vector, booked: Ledger) -> OpenDay {
        OpenDay { day, from, start, booked, lows: Lows::at(from, &start) }
    }

    pub(crate) fn see(&mut self, t: Instant, y: &Vector) {
        self.lows.see(t, y);
    }

    pub(crate) fn close(&self, to: Instant, end: &Vector, ledger: &Ledger) -> DayBook {
        let OpenDay { day, from, start, lows, .. } = *self;
        DayBook { day, from, to, ledger: ledger.since(&self.booked), start, end: *end, lows }
    }
}
