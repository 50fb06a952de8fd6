//! Instants and durations as whole nanoseconds.
//!
//! A run of months and a run shifted in time must give the same bits, so absolute times are integers and
//! floating-point seconds only ever mean a short local distance from some instant.

use serde::Serialize;

/// Nanoseconds in a second.
pub const NS_PER_S: f64 = 1e9;
/// Seconds in a day.
pub const DAY_S: f64 = 86_400.0;

/// A moment of the run: whole nanoseconds since its start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize)]
pub struct Instant(i64);

impl Instant {
    /// The start of the run.
    pub const ZERO: Instant = Instant(0);
    /// Later than anything that happens.
    pub const NEVER: Instant = Instant(i64::MAX);

    /// The instant `ns` nanoseconds after the start.
    pub const fn from_ns(ns: i64) -> Self {
        Instant(ns)
    }

    /// The instant `s` seconds after the start, rounded to the nearest nanosecond; saturates beyond ±292 years.
    pub fn from_s(s: f64) -> Self {
        Instant((s * NS_PER_S).round() as i64)
    }

    /// Nanoseconds since the start.
    pub const fn ns(self) -> i64 {
        self.0
    }

    /// Seconds since the start. For printing and plotting; the simulation itself uses [`Instant::since`].
    pub fn as_s(self) -> f64 {
        self.0 as f64 / NS_PER_S
    }

    /// Writes an instant as seconds since the start, for files.
    ///
    /// # Errors
    /// What the writer has.
    pub fn write_s<S: serde::Serializer>(&self, writer: S) -> Result<S::Ok, S::Error> {
        writer.serialize_f64(self.as_s())
    }

    /// Seconds from `earlier` to here, exact in the integer difference.
    pub fn since(self, earlier: Instant) -> f64 {
        (self.0 - earlier.0) as f64 / NS_PER_S
    }

    /// This instant moved by a duration in seconds, rounded to the nearest nanosecond, never past [`Instant::NEVER`].
    pub fn plus_s(self, s: f64) -> Self {
        Instant(self.0.saturating_add((s * NS_PER_S).round() as i64))
    }

    /// This instant moved by whole nanoseconds.
    pub fn plus_ns(self, ns: i64) -> Self {
        Instant(self.0.saturating_add(ns))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn differences_do_not_depend_on_where_they_start() {
        let a = Instant::from_s(0.1);
        let b = Instant::from_s(0.4);
        let month = 30 * 86_400 * 1_000_000_000;
        assert_eq!(b.since(a).to_bits(), b.plus_ns(month).since(a.plus_ns(month)).to_bits());
    }

    #[test]
    fn never_is_never_passed() {
        assert_eq!(Instant::NEVER.plus_s(10.0), Instant::NEVER);
    }
}
