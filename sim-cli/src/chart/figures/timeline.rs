//! States and switch events of a run, shared by the figures, and how they become an event lane.

use super::super::events::{Event, EventKind};
use super::super::lane::{Lane, Ribbon, RibbonState, Segment};
use super::super::theme::{RibbonInk, Theme};
use super::super::time_axis::Clock;

/// Whether the unit converts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitState {
    /// Not converting.
    Off,
    /// Converting.
    On,
}

/// Charging stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StageState {
    /// Off, or waiting for a reason to start.
    Waiting,
    /// Bulk.
    Bulk,
    /// Absorption.
    Absorption,
    /// Float.
    Float,
}

/// What the engine does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EngineState {
    /// Standing still.
    Parked,
    /// Being cranked.
    Cranking,
    /// Running.
    Running,
}

/// A stretch of one state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span<S> {
    /// Start, seconds.
    pub start_s: f64,
    /// End, seconds.
    pub end_s: f64,
    /// The state.
    pub state: S,
}

/// When things happened in a run.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Timeline {
    /// Wall clock of time zero.
    pub clock: Clock,
    /// Start of the run, seconds.
    pub start_s: f64,
    /// End of the run, seconds.
    pub end_s: f64,
    /// Unit on and off, in time order.
    pub unit: Vec<Span<UnitState>>,
    /// Stages, in time order.
    pub stage: Vec<Span<StageState>>,
    /// Engine, in time order.
    pub engine: Vec<Span<EngineState>>,
    /// Switch events with their reasons, in time order.
    pub events: Vec<Event>,
}

/// A part of the run worth enlarging, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Closeup {
    /// Window, seconds.
    pub window_s: (f64, f64),
    /// Title of the enlarged part.
    pub title: String,
}

impl Timeline {
    /// Windows in which the unit is on.
    #[must_use]
    pub fn on_windows_s(&self) -> Vec<(f64, f64)> {
        windows(&self.unit, UnitState::On)
    }

    /// Windows in which the engine runs.
    #[must_use]
    pub fn running_windows_s(&self) -> Vec<(f64, f64)> {
        windows(&self.engine, EngineState::Running)
    }

    /// Windows in which the unit is on while the engine runs.
    #[must_use]
    pub fn on_and_running_windows_s(&self) -> Vec<(f64, f64)> {
        let running = self.running_windows_s();
        let mut both = Vec::new();
        for (a0, a1) in self.on_windows_s() {
            let from = running.partition_point(|r| r.1 <= a0);
            for &(b0, b1) in running[from..].iter().take_while(|r| r.0 < a1) {
                both.push((a0.max(b0), a1.min(b1)));
            }
        }
        both
    }

    /// The busiest three minutes of a run that cycles, else the first turn-on; none if neither helps.
    #[must_use]
    pub fn closeup(&self) -> Option<Closeup> {
        const WINDOW_S: f64 = 180.0;
        const BUSY_FROM: usize = 6;
        if self.end_s - self.start_s < 4.0 * WINDOW_S {
            return None;
        }
        let switches: Vec<&Event> = self.events.iter().filter(|e| e.kind != EventKind::Mark).collect();
        let first = switches.iter().find(|e| e.kind == EventKind::On)?.time_s;
        let count_from = |i: usize| {
            switches[i..].iter().take_while(|e| e.time_s < switches[i].time_s + WINDOW_S - 20.0).count()
        };
        // The first of equals, so that a steady cycle is shown from its beginning.
        let busiest = (0..switches.len()).rev().max_by_key(|&i| count_from(i))?;
        let (start, title) = if count_from(busiest) >= BUSY_FROM {
            (switches[busiest].time_s - 20.0, "Busiest 3 minutes")
        } else {
            (first - 45.0, "First turn-on, 3 minutes")
        };
        let start = start.clamp(self.start_s, self.end_s - WINDOW_S);
        Some(Closeup { window_s: (start, start + WINDOW_S), title: title.to_owned() })
    }

    /// The event lane of this run.
    #[must_use]
    pub fn lane(&self, theme: &Theme) -> Lane {
        let r = &theme.ribbons;
        let mut lane = Lane {
            ribbons: vec![
                ribbon("unit", &self.unit, &[(UnitState::Off, "off", r.idle), (UnitState::On, "on", r.on)]),
                ribbon(
                    "stage",
                    &self.stage,
                    &[
                        (StageState::Waiting, "off / waiting", r.idle),
                        (StageState::Bulk, "bulk", r.bulk),
                        (StageState::Absorption, "absorption", r.absorption),
                        (StageState::Float, "float", r.float),
                    ],
                ),
                ribbon(
                    "engine",
                    &self.engine,
                    &[
                        (EngineState::Parked, "parked", r.idle),
                        (EngineState::Cranking, "cranking", r.cranking),
                        (EngineState::Running, "running", r.running),
                    ],
                ),
            ],
            events: Some(self.events.clone()),
        };
        if theme.small {
            // What the unit does, and when the engine runs.
            lane.ribbons.remove(1);
            lane.events = None;
        }
        lane
    }
}

fn windows<S: PartialEq + Copy>(spans: &[Span<S>], state: S) -> Vec<(f64, f64)> {
    spans.iter().filter(|s| s.state == state && s.end_s > s.start_s).map(|s| (s.start_s, s.end_s)).collect()
}

/// The first look listed is the idle one.
fn ribbon<S: PartialEq + Copy>(name: &str, spans: &[Span<S>], looks: &[(S, &str, RibbonInk)]) -> Ribbon {
    Ribbon {
        name: name.to_owned(),
        states: looks
            .iter()
            .enumerate()
            .map(|(i, &(_, name, ink))| RibbonState { name: name.to_owned(), ink, idle: i == 0 })
            .collect(),
        segments: spans
            .iter()
            .filter_map(|s| {
                let state = looks.iter().position(|l| l.0 == s.state)?;
                Some(Segment { start_s: s.start_s, end_s: s.end_s, state })
            })
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on_off(times: &[f64]) -> Vec<Event> {
        times
            .iter()
            .enumerate()
            .map(|(i, &time_s)| Event {
                time_s,
                kind: if i % 2 == 0 { EventKind::On } else { EventKind::Off },
                letter: None,
                meaning: String::new(),
            })
            .collect()
    }

    #[test]
    fn a_quiet_run_enlarges_its_first_turn_on() {
        let timeline = Timeline { end_s: 6000.0, events: on_off(&[143.0, 2762.0]), ..Timeline::default() };
        let closeup = timeline.closeup().unwrap();
        assert_eq!(closeup.window_s, (98.0, 278.0));
        assert!(closeup.title.starts_with("First turn-on"));
    }

    #[test]
    fn a_cycling_run_enlarges_its_busiest_part_and_a_dead_one_nothing() {
        let times: Vec<f64> = (0..40).map(|i| 1000.0 + 15.0 * f64::from(i)).collect();
        let timeline = Timeline { end_s: 6000.0, events: on_off(&times), ..Timeline::default() };
        let closeup = timeline.closeup().unwrap();
        assert_eq!(closeup.window_s.0, 980.0);
        assert!(closeup.title.starts_with("Busiest"));
        assert!(Timeline { end_s: 6000.0, ..Timeline::default() }.closeup().is_none());
    }

    #[test]
    fn on_and_running_is_the_overlap() {
        let timeline = Timeline {
            unit: vec![Span { start_s: 10.0, end_s: 50.0, state: UnitState::On }],
            engine: vec![
                Span { start_s: 0.0, end_s: 20.0, state: EngineState::Running },
                Span { start_s: 20.0, end_s: 40.0, state: EngineState::Parked },
                Span { start_s: 40.0, end_s: 90.0, state: EngineState::Running },
            ],
            ..Timeline::default()
        };
        assert_eq!(timeline.on_and_running_windows_s(), vec![(10.0, 20.0), (40.0, 50.0)]);
    }
}
