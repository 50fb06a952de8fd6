//! A regulated source: it holds a set-point behind a resistance and gives no more than a greatest current or power.
//!
//! Alternator, solar regulator and mains charger are all of this kind. Current is positive out of the source.

/// What the source's regulator is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SourceState {
    /// Not there, or unable to give anything.
    #[default]
    Absent,
    /// The bus stands above the set-point: it gives nothing.
    Idle,
    /// It regulates: the current follows the set-point.
    Regulating,
    /// It gives all it can.
    Full,
}

/// How a source is limited.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ceiling {
    /// Greatest current, A.
    Current(f64),
    /// Greatest power, W.
    Power(f64),
}

/// A regulated source as the network sees it at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Source {
    /// Set-point, V.
    pub set_v: f64,
    /// Fall of the regulated voltage per ampere, Ω; above zero.
    pub droop_ohm: f64,
    /// The most it can give.
    pub ceiling: Ceiling,
}

impl Source {
    /// A source that is not there.
    pub const NONE: Source = Source { set_v: 0.0, droop_ohm: 1.0, ceiling: Ceiling::Current(0.0) };

    /// Whether it can give anything at all.
    pub fn present(&self) -> bool {
        match self.ceiling {
            Ceiling::Current(a) => a > 0.0,
            Ceiling::Power(w) => w > 0.0,
        }
    }

    /// The bus voltage at and below which it gives all it can, V; minus infinity where it never does.
    pub fn full_below_v(&self) -> f64 {
        match self.ceiling {
            Ceiling::Current(a) => self.set_v - self.droop_ohm * a,
            Ceiling::Power(w) => {
                // V (set − V)/R = P, the root near the set-point. Where there is none its resistance alone holds the source
                // back, at any volts.
                let root = self.set_v * self.set_v - 4.0 * self.droop_ohm * w;
                if root > 0.0 { 0.5 * (self.set_v + root.sqrt()) } else { f64::NEG_INFINITY }
            }
        }
    }

    /// Its state with the bus at `v`.
    pub fn state_at(&self, v: f64) -> SourceState {
        if !self.present() {
            SourceState::Absent
        } else if v >= self.set_v {
            SourceState::Idle
        } else if v > self.full_below_v() {
            SourceState::Regulating
        } else {
            SourceState::Full
        }
    }

    /// Current given with the bus at `v`, its state held.
    pub fn current_in(&self, state: SourceState, v: f64) -> f64 {
        match (state, self.ceiling) {
            (SourceState::Absent | SourceState::Idle, _) => 0.0,
            (SourceState::Regulating, _) => (self.set_v - v) / self.droop_ohm,
            (SourceState::Full, Ceiling::Current(a)) => a,
            (SourceState::Full, Ceiling::Power(w)) => w / v,
        }
    }

    /// How far, in volts, the bus is from where this state would end; negative once it should have changed.
    pub fn margin_in(&self, state: SourceState, v: f64) -> f64 {
        match state {
            SourceState::Absent => f64::INFINITY,
            SourceState::Idle => v - self.set_v,
            SourceState::Regulating => (self.set_v - v).min(v - self.full_below_v()),
            SourceState::Full => self.full_below_v() - v,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn current_is_continuous_where_states_meet() {
        for ceiling in [Ceiling::Current(40.0), Ceiling::Power(300.0)] {
            let s = Source { set_v: 14.2, droop_ohm: 0.01, ceiling };
            let edge = s.full_below_v();
            let a = s.current_in(SourceState::Regulating, edge);
            let b = s.current_in(SourceState::Full, edge);
            assert!((a - b).abs() < 1e-10, "{a} {b}");
            assert_eq!(s.current_in(SourceState::Regulating, s.set_v), 0.0);
        }
    }

    /// More power than its resistance lets through at any volts: it regulates to the end, and nothing jumps at half of them.
    #[test]
    fn a_source_that_its_resistance_holds_back_regulates_at_any_volts() {
        let s = Source { set_v: 14.4, droop_ohm: 0.89, ceiling: Ceiling::Power(13_000.0) };
        for v in [14.3, 7.3, 7.1, 0.1] {
            assert_eq!(s.state_at(v), SourceState::Regulating, "{v} V");
            assert!(s.margin_in(SourceState::Regulating, v) > 0.0);
        }
    }
}
