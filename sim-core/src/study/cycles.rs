//! Start-up cycles beside the lines that tell outcomes apart.
//!
//! As one thing is turned, cycles come one by one: with each new one the last drop-out jumps to later, and until the next one
//! it creeps back. So it passes a line (the fifth minute, the last five minutes of a drive) several times, and outcomes take
//! turns over a band. Between two runs with equally many cycles it only creeps; where their number differs there may be
//! a passage that neither shows.

use super::outcome::Outcome;
use super::trial::Trial;
use crate::record::SETTLED_S;

/// The cycles of one run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cycles {
    /// Voltage drop-outs with the engine running.
    pub count: usize,
    /// Between the last two of one drive, s; 100 s where there are no two.
    pub gap_s: f64,
    /// How long the unit stayed on before the last one, s.
    pub held_s: f64,
    /// How far the last one of any drive lies beyond its fifth minute, s; without one minus infinity.
    pub first_s: f64,
    /// How far the last one of any drive that counts reaches into its last five minutes, s.
    pub late_s: f64,
}

/// A new cycle puts the last drop-out later by so many gaps at most: 2.5 measured on the reference van.
const JUMP: f64 = 3.0;

impl Cycles {
    pub fn of(trial: &Trial) -> Cycles {
        let t = &trial.timeline;
        let all: Vec<_> = t.drop_outs_on_volts().filter(|(_, d)| !d.conditions_worse).collect();
        let never = f64::NEG_INFINITY;
        let held_s = all.last().map_or(0.0, |(_, last)| last.held_s);
        let mut cycles = Cycles { count: all.len(), gap_s: 100.0, held_s, first_s: never, late_s: never };
        for pair in all.windows(2).filter(|w| w[0].1.drive == w[1].1.drive) {
            cycles.gap_s = pair[1].1.since_start_s - pair[0].1.since_start_s;
        }
        for (off, drop_out) in &all {
            let beyond_s = drop_out.since_start_s - SETTLED_S;
            cycles.first_s = cycles.first_s.max(beyond_s);
            if beyond_s > 0.0 {
                let left_s = t.drives[drop_out.drive].span.to.since(off.t);
                cycles.late_s = cycles.late_s.max(SETTLED_S - left_s);
            }
        }
        cycles
    }

    fn reach_s(&self) -> f64 {
        JUMP * self.gap_s
    }

    /// Whether the line between two outcomes is within reach of this run's last drop-out.
    pub fn near(&self, lines: Lines) -> bool {
        let first = self.first_s.abs() < self.reach_s();
        // A unit that drops out to the end of a drive might not have for its last five minutes only where it stays on for long.
        let at_length = self.late_s <= 0.0 || JUMP * self.held_s > SETTLED_S;
        let late = self.late_s.abs() < self.reach_s() && at_length;
        match lines {
            Lines::First => first,
            Lines::Late => late,
        }
    }
}

/// A line that parts two outcomes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Lines {
    /// The fifth minute: no trouble before it, drops out at first beyond it.
    First,
    /// The last five minutes of a drive: drops out at first before them, keeps dropping out within them.
    Late,
}

impl Lines {
    /// The line between two outcomes.
    pub fn between(a: Outcome, b: Outcome) -> Option<Lines> {
        let drops = |o: Outcome| match o {
            Outcome::DropsOutAtFirst => 1,
            Outcome::KeepsDroppingOut => 2,
            _ => 0,
        };
        match (drops(a).min(drops(b)), drops(a).max(drops(b))) {
            (0, 1) => Some(Lines::First),
            (1, 2) => Some(Lines::Late),
            _ => None,
        }
    }
}

/// Whether a passage may hide between two runs with one outcome.
pub(super) fn may_hide(outcome: Outcome, a: &Cycles, b: &Cycles) -> bool {
    let near = |lines| a.near(lines) || b.near(lines);
    let lines = match outcome {
        Outcome::KeepsDroppingOut => near(Lines::Late),
        Outcome::DropsOutAtFirst => near(Lines::First) || near(Lines::Late),
        _ => near(Lines::First),
    };
    a.count != b.count && lines
}
