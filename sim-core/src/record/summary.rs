//! A run in a handful of numbers.

use super::event::{EventKind, Side};
use super::ledger::Line;
use crate::engine::{Run, Statistics};
use crate::logic::Mode;
use crate::model::{Model, Profile};
use crate::network::Net;
use crate::state::{HOUSE, STARTER};
use crate::time::Instant;
use serde::Serialize;

/// A value and when it was met.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Met {
    /// The value, in the unit of its field.
    pub value: f64,
    /// When, s since the start.
    pub t_s: f64,
}

/// Greatest and smallest values met, at step ends and on both sides of every event.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Extremes {
    /// Largest input current while on, A.
    pub input_a: Option<Met>,
    /// Smallest distance from the input voltage down to turn-off, unit on and engine running, V.
    pub margin_v: Option<Met>,
    /// Highest input voltage with the engine running and the unit off, V.
    pub waiting_in_v: Option<Met>,
    /// Lowest voltage at the starter posts, V.
    pub starter_low_v: Option<Met>,
}

impl Extremes {
    pub(crate) fn see(&mut self, t: Instant, mode: &Mode, model: &Model, net: &Net) {
        if mode.on {
            raise(&mut self.input_a, t, net.input_a);
            if mode.alternator_turns() {
                lower(&mut self.margin_v, t, net.in_v - model.link().start_stop.turn_off_v);
            }
        } else if mode.alternator_turns() {
            raise(&mut self.waiting_in_v, t, net.in_v);
        }
        lower(&mut self.starter_low_v, t, net.sb_v);
    }
}

fn raise(met: &mut Option<Met>, t: Instant, value: f64) {
    if met.is_none_or(|m| value > m.value) {
        *met = Some(Met { value, t_s: t.as_s() });
    }
}

fn lower(met: &mut Option<Met>, t: Instant, value: f64) {
    if met.is_none_or(|m| value < m.value) {
        *met = Some(Met { value, t_s: t.as_s() });
    }
}

/// A run in a handful of numbers; units are in the names.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summary {
    /// Length of the run, s.
    pub span_s: f64,
    /// Time with the engine running, s.
    pub driving_s: f64,
    /// Time the unit was on, s.
    pub unit_on_s: f64,
    /// Time the unit was on with the engine running, s.
    pub unit_on_driving_s: f64,
    /// House battery at the start, share of full.
    pub house_start_soc: f64,
    /// House battery at the end, share of full.
    pub house_end_soc: f64,
    /// Charge gained by the house battery, Ah.
    pub house_gain_ah: f64,
    /// Charge gained by the house battery while driving, Ah.
    pub house_gain_driving_ah: f64,
    /// Starter battery at the start, share of full.
    pub starter_start_soc: f64,
    /// Starter battery at the end, share of full.
    pub starter_end_soc: f64,
    /// Charge gained by the starter battery, Ah.
    pub starter_gain_ah: f64,
    /// Lowest state of charge of the house battery on the way, share of full.
    pub house_low_soc: f64,
    /// Lowest state of charge of the starter battery at an engine start or at the end of a day, share of full.
    pub starter_least_start_soc: f64,
    /// Charge out of the unit, Ah.
    pub unit_output_ah: f64,
    /// Charge into the unit, Ah.
    pub unit_input_ah: f64,
    /// Charge into the unit while parked, Ah.
    pub unit_input_parked_ah: f64,
    /// Energy lost in the unit, Wh.
    pub unit_loss_wh: f64,
    /// Energy lost in the input cable, Wh.
    pub input_cable_loss_wh: f64,
    /// Energy lost in the output cable, Wh.
    pub output_cable_loss_wh: f64,
    /// Times the unit came on.
    pub came_on: u32,
    /// Times the unit dropped out.
    pub dropped_out: u32,
    /// Times the unit dropped out with the engine running.
    pub dropped_out_driving: u32,
    /// Times the unit came on with the engine stopped.
    pub came_on_parked: u32,
    /// First time the unit came on, s.
    pub first_on_s: Option<f64>,
    /// How long it stayed on after the last key-off, s; `None` where it was off by then.
    pub ran_on_s: Option<f64>,
    /// Mean period of the last cycles with the engine running (up to 50), s.
    pub cycle_period_s: Option<f64>,
    /// Whether the starter battery was full or empty at some time.
    pub starter_bounds: bool,
    /// Whether the house battery was full or empty at some time.
    pub house_bounds: bool,
    /// Greatest and smallest values met.
    pub extremes: Extremes,
    /// How well the ledgers close.
    pub closure: super::ledger::Closure,
    /// What it cost to compute.
    pub statistics: Statistics,
}

impl Summary {
    /// Sums up a run.
    pub fn new(run: &Run, model: &Model, profile: &Profile) -> Summary {
        let switches = Switches::of(run);
        let driving: f64 = run
            .stretches
            .iter()
            .filter(|s| s.driving)
            .map(|s| s.ledger.ah(Line::HouseC) - s.ledger.ah(Line::HouseLostC))
            .sum();
        let gain = |first: usize, c: f64| (run.end[first] - run.start[first]) * c / 3600.0;
        let l = &run.ledger;
        Summary {
            span_s: run.span.1.since(run.span.0),
            driving_s: profile.driving_s(),
            unit_on_s: switches.on_s,
            unit_on_driving_s: switches.on_driving_s,
            house_start_soc: run.start[HOUSE],
            house_end_soc: run.end[HOUSE],
            house_gain_ah: gain(HOUSE, model.house.capacity_c()),
            house_gain_driving_ah: driving,
            starter_start_soc: run.start[STARTER],
            starter_end_soc: run.end[STARTER],
            starter_gain_ah: gain(STARTER, model.starter.capacity_c()),
            house_low_soc: run.days.iter().map(|d| d.lows.house_soc).fold(run.start[HOUSE], f64::min),
            starter_least_start_soc: least_start(run),
            unit_output_ah: l.ah(Line::OutputC),
            unit_input_ah: l.ah(Line::InputC),
            unit_input_parked_ah: l.ah(Line::InputParkedC),
            unit_loss_wh: l.wh(Line::UnitLossJ),
            input_cable_loss_wh: l.wh(Line::InputCableJ),
            output_cable_loss_wh: l.wh(Line::OutputCableJ),
            came_on: switches.came_on,
            dropped_out: switches.dropped_out,
            dropped_out_driving: switches.dropped_out_driving,
            came_on_parked: switches.came_on_parked,
            first_on_s: switches.first_on_s,
            ran_on_s: switches.ran_on_s,
            cycle_period_s: switches.period_s(),
            starter_bounds: switches.bounds[0],
            house_bounds: switches.bounds[1],
            extremes: run.extremes,
            closure: run.closure,
            statistics: run.statistics,
        }
    }
}

/// Lowest state of charge of the starter battery when it had to crank, or could have had to at the end of a day.
fn least_start(run: &Run) -> f64 {
    let ends = run.stretches.iter().filter(|s| !s.driving).map(|s| s.end[STARTER]);
    let midnights = run.days.iter().map(|d| d.end[STARTER]);
    let first = run.stretches.first().filter(|s| s.driving).map(|_| run.start[STARTER]);
    ends.chain(midnights).chain(first).fold(f64::INFINITY, f64::min)
}

#[derive(Default)]
struct Switches {
    on_s: f64,
    on_driving_s: f64,
    came_on: u32,
    came_on_parked: u32,
    dropped_out: u32,
    dropped_out_driving: u32,
    first_on_s: Option<f64>,
    ran_on_s: Option<f64>,
    offs_driving: Vec<f64>,
    bounds: [bool; 2],
}

impl Switches {
    fn of(run: &Run) -> Switches {
        let mut s = Switches::default();
        let mut driving = false;
        let mut on = false;
        let mut key_off: Option<Instant> = None;
        let mut since = run.span.0;
        let mut book = |s: &mut Switches, on: bool, driving: bool, t: Instant| {
            if on {
                s.on_s += t.since(since);
                if driving {
                    s.on_driving_s += t.since(since);
                }
            }
            since = t;
        };
        for event in &run.events {
            book(&mut s, on, driving, event.t);
            match event.kind {
                EventKind::KeyOn => {
                    driving = true;
                    key_off = None;
                }
                EventKind::KeyOff => {
                    driving = false;
                    key_off = on.then_some(event.t);
                    s.ran_on_s = None;
                }
                EventKind::UnitOn => {
                    on = true;
                    s.came_on += 1;
                    s.came_on_parked += u32::from(!driving);
                    s.first_on_s.get_or_insert(event.t.as_s());
                }
                EventKind::UnitOff => {
                    on = false;
                    s.dropped_out += 1;
                    if driving {
                        s.dropped_out_driving += 1;
                        s.offs_driving.push(event.t.as_s());
                    } else if let Some(key) = key_off.take() {
                        s.ran_on_s = Some(event.t.since(key));
                    }
                }
                EventKind::Bound { side, at } if at != super::event::Bound::Within => {
                    s.bounds[usize::from(side == Side::House)] = true;
                }
                _ => {}
            }
        }
        book(&mut s, on, driving, run.span.1);
        if let Some(key) = key_off {
            s.ran_on_s = Some(run.span.1.since(key));
        }
        s
    }

    fn period_s(&self) -> Option<f64> {
        let offs = &self.offs_driving;
        let cycles = offs.len().checked_sub(1).filter(|n| *n > 0)?.min(50);
        let last = offs[offs.len() - 1];
        Some((last - offs[offs.len() - 1 - cycles]) / cycles as f64)
    }
}
