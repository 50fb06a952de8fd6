//! A run in a handful of numbers.

use super::ledger::Line;
use super::timeline::Timeline;
use crate::engine::extremes::Extremes;
use crate::engine::{Run, Statistics};
use crate::model::{Model, Profile};
use crate::state::{HOUSE, STARTER};
use crate::time::Instant;
use serde::Serialize;

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
        Summary::of(run, model, profile, &Timeline::of(run, model, profile))
    }

    /// Sums up a run of which the timeline is known.
    pub fn of(run: &Run, model: &Model, profile: &Profile, timeline: &Timeline) -> Summary {
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
            unit_on_s: timeline.on_s(),
            unit_on_driving_s: timeline.on_driving_s(),
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
            came_on: timeline.came_on(),
            dropped_out: count(timeline.turn_offs()),
            dropped_out_driving: count(timeline.drop_outs()),
            came_on_parked: timeline.came_on_parked(),
            first_on_s: timeline.first_on().map(Instant::as_s),
            ran_on_s: timeline.ran_on_s(),
            cycle_period_s: timeline.cycle_period_s(),
            starter_bounds: !timeline.starter_full.is_empty(),
            house_bounds: !timeline.house_full.is_empty(),
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

fn count<T>(all: impl Iterator<Item = T>) -> u32 {
    u32::try_from(all.count()).unwrap_or(u32::MAX)
}
