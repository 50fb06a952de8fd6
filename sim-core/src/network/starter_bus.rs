//! The bus of the starter battery, seen from the converter's input cable.
//!
//! With each source in a known state the bus is a straight line, `I = A − G·V`: amperes left for the converter against
//! the volts at the starter posts. Over all states it is a kinked line that falls, so the power it can deliver through
//! the cable may have several peaks; operating points are therefore found piece by piece from the smallest current up.

use super::source::{Source, SourceState};

/// The most sources the starter bus can hold: the alternator and one more.
pub const SOURCES: usize = 2;

/// The starter bus at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StarterBus {
    /// Voltage behind the battery's resistance, V.
    pub emf_v: f64,
    /// Battery resistance, Ω; above zero.
    pub r_ohm: f64,
    /// Alternator first, then a solar regulator or maintainer.
    pub sources: [Source; SOURCES],
    /// Current of the vehicle's own loads, A.
    pub load_a: f64,
    /// Input cable, both legs and joints, Ω.
    pub cable_ohm: f64,
}

/// The states of the bus's sources, held while a step is taken.
pub type BusStates = [SourceState; SOURCES];

/// `I = a − g·V` with the sources' states held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Current at zero volts, A.
    pub a: f64,
    /// Conductance, S.
    pub g: f64,
}

impl Line {
    /// Volts at the starter posts with `i` drawn.
    pub fn v(&self, i: f64) -> f64 {
        (self.a - i) / self.g
    }

    /// Open-circuit voltage, V.
    pub fn open_v(&self) -> f64 {
        self.a / self.g
    }
}

/// An operating point on the input side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InputPoint {
    /// Input current, A.
    pub i_a: f64,
    /// Source states there.
    pub states: BusStates,
}

/// Where the input side cannot give what is asked, the point that gives the most.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ceilinged {
    /// The point.
    pub at: InputPoint,
    /// Power at the unit's input there, W.
    pub power_w: f64,
    /// True where the source's own greatest power comes first, false where the current cap or the floor does.
    pub source_limited: bool,
    /// True where that greatest power sits on a kink of the line, not on a smooth peak.
    pub at_kink: bool,
}

impl StarterBus {
    /// The line with the states held.
    pub fn line(&self, states: BusStates) -> Line {
        let mut g = 1.0 / self.r_ohm;
        let mut a = self.emf_v * g - self.load_a;
        for (source, state) in self.sources.iter().zip(states) {
            match state {
                SourceState::Regulating => {
                    let y = 1.0 / source.droop_ohm;
                    g += y;
                    a += source.set_v * y;
                }
                SourceState::Full => a += source.current_in(state, 1.0),
                SourceState::Idle | SourceState::Absent => {}
            }
        }
        Line { a, g }
    }

    /// The states with the posts at `v`.
    pub fn states_at(&self, v: f64) -> BusStates {
        self.sources.map(|s| s.state_at(v))
    }

    /// The states with `i` drawn from the posts.
    pub fn states_drawing(&self, i: f64) -> BusStates {
        let mut found = None;
        self.each_piece(|line, states, v_high, v_low| {
            let v = line.v(i);
            if v >= v_low || v_low == f64::NEG_INFINITY {
                debug_assert!(v <= v_high + 1e-6 || v.is_nan() || found.is_some());
                found = Some(states);
                return true;
            }
            false
        });
        found.unwrap_or([SourceState::Absent; SOURCES])
    }

    /// The point of smallest current that delivers `power_w` through the cable, if there is one with current up to `cap_a`.
    pub fn smallest_root(&self, power_w: f64, cap_a: f64) -> Option<InputPoint> {
        let mut found = None;
        self.each_piece(|line, states, v_high, v_low| {
            let i_high = line.a - line.g * v_low;
            if i_high < 0.0 {
                return false;
            }
            if let Some(i) = smaller_root(line, self.cable_ohm, power_w)
                && i <= i_high
                && line.v(i) <= v_high + 1e-9
            {
                found = (i <= cap_a).then_some(InputPoint { i_a: i, states });
                return true;
            }
            line.a - line.g * v_low > cap_a
        });
        found
    }

    /// The point that delivers most through the cable with current up to `cap_a` and the unit's terminals not below `floor_v`.
    pub fn greatest_power(&self, cap_a: f64, floor_v: f64) -> Ceilinged {
        let mut best = Ceilinged {
            at: InputPoint { i_a: 0.0, states: self.states_drawing(0.0) },
            power_w: 0.0,
            source_limited: false,
            at_kink: false,
        };
        self.each_piece(|line, states, v_high, v_low| {
            let i_low = (line.a - line.g * v_high).max(0.0);
            let i_end = line.a - line.g * v_low;
            if i_end < 0.0 {
                return false;
            }
            let r = 1.0 / line.g + self.cable_ohm;
            let i_floor = (line.open_v() - floor_v) / r;
            let i_high = i_end.min(cap_a).min(i_floor);
            if i_high >= i_low {
                let peak = 0.5 * line.open_v() / r;
                let i = peak.clamp(i_low, i_high);
                let power_w = i * (line.open_v() - r * i);
                // A greatest power at the piece's beginning is the kink that ended the piece before it.
                if power_w > best.power_w && i > i_low {
                    let smooth = i == peak;
                    best = Ceilinged {
                        at: InputPoint { i_a: i, states },
                        power_w,
                        source_limited: smooth || (i == i_end && i_end < cap_a && i_end < i_floor),
                        at_kink: !smooth && i == i_end,
                    };
                }
            }
            cap_a <= i_end || i_floor <= i_end
        });
        best
    }

    /// Walks the pieces of the line from high volts (small current) to low; `visit` returns true to stop.
    fn each_piece(&self, mut visit: impl FnMut(Line, BusStates, f64, f64) -> bool) {
        let mut edges = [f64::NEG_INFINITY; 2 * SOURCES + 1];
        let mut n = 0;
        for s in self.sources.iter().filter(|s| s.present()) {
            edges[n] = s.set_v;
            edges[n + 1] = s.full_below_v();
            n += 2;
        }
        edges[..n].sort_by(|a, b| b.total_cmp(a));
        let mut high = f64::INFINITY;
        for &low in &edges[..=n] {
            let inside = if high.is_infinite() {
                low + 1.0
            } else if low.is_infinite() {
                high - 1.0
            } else {
                0.5 * (high + low)
            };
            if low < high {
                let states = self.states_at(inside);
                if visit(self.line(states), states, high, low) {
                    return;
                }
            }
            high = low;
        }
    }
}

/// Input current that draws `power_w` from `line` through `cable_ohm`: the smaller root, or `None` past the greatest power.
pub fn smaller_root(line: Line, cable_ohm: f64, power_w: f64) -> Option<f64> {
    let v0 = line.open_v();
    let r = 1.0 / line.g + cable_ohm;
    let inside = v0 * v0 - 4.0 * r * power_w;
    (inside >= 0.0 && v0 > 0.0).then(|| 2.0 * power_w / (v0 + inside.sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::source::Ceiling;

    fn bus(cable_ohm: f64) -> StarterBus {
        StarterBus {
            emf_v: 12.6,
            r_ohm: 0.02,
            sources: [
                Source { set_v: 14.2, droop_ohm: 0.003, ceiling: Ceiling::Current(60.0) },
                Source::NONE,
            ],
            load_a: 25.0,
            cable_ohm,
        }
    }

    /// Worked points of a constant-power load behind a resistance: textbook algebra, rounded to the digits given.
    #[test]
    fn constant_power_points_match_worked_values() {
        let rows = [
            (13.5, 0.030, 600.0, 12.0, 50.0),
            (14.0, 0.020, 500.0, 13.244998, 37.75010),
            (13.8, 0.012, 480.0, 13.369158, 35.90353),
            (12.8, 0.040, 400.0, 11.395998, 35.10004),
            (14.4, 0.050, 720.0, 11.179950, 64.40101),
        ];
        for (e, r, p, v, i) in rows {
            let line = Line { a: e * 1e9, g: 1e9 };
            let found = smaller_root(line, r - 1e-9, p).expect("power is available");
            assert!((found - i).abs() < 1e-5, "{found} against {i}");
            assert!((e - r * found - v).abs() < 1e-5);
        }
        // At the fold, 14 V behind 98 mΩ gives 500 W at 71.43 A and not a watt more; the root is steep there.
        let line = Line { a: 14.0e9, g: 1e9 };
        assert!(smaller_root(line, 0.098 - 1e-9, 500.0 + 1e-5).is_none());
        let near = smaller_root(line, 0.098 - 1e-9, 500.0 - 1e-5).expect("just under the fold");
        assert!((near - 71.42857).abs() < 0.02, "{near}");
    }

    #[test]
    fn root_lies_on_the_kinked_line() {
        let b = bus(0.01);
        for p in [10.0, 200.0, 500.0, 800.0] {
            let at = b.smallest_root(p, 1e9).expect("a point");
            let v = b.line(at.states).v(at.i_a);
            assert_eq!(b.states_at(v), at.states);
            assert!(((v - b.cable_ohm * at.i_a) * at.i_a - p).abs() < 1e-9);
        }
    }

    #[test]
    fn greatest_power_is_not_beaten_by_any_current() {
        for run in [0.0, 0.01, 0.05, 0.2, 0.8] {
            let b = bus(run);
            let best = b.greatest_power(300.0, 0.0);
            for k in 0..3000 {
                let i = f64::from(k) * 0.1;
                let v = b.line(b.states_drawing(i)).v(i);
                assert!(i * (v - run * i) <= best.power_w + 1e-9, "run {run}: {i} A");
            }
            assert!(b.smallest_root(best.power_w * 1.001, 300.0).is_none());
            assert!(b.smallest_root(best.power_w * 0.999, 300.0).is_some());
        }
    }
}
