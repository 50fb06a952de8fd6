//! The discrete state of a vehicle.

use crate::model::Stages;
use crate::plant::battery::Hold;
use crate::time::Instant;

/// Charge stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// Full current, voltage rising.
    #[default]
    Bulk,
    /// Constant upper voltage.
    Absorption,
    /// Lower holding voltage.
    Float,
}

/// Timers, in the order in which they fire at one instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Timer {
    /// Input under the turn-off voltage.
    TurnOff,
    /// Input at or over the turn-on voltage.
    TurnOn,
    /// Output current under the tail current.
    Tail,
    /// Longest absorption.
    AbsorptionCap,
    /// Output under the recharge voltage.
    Recharge,
    /// End of cranking.
    Crank,
    /// End of the soft start.
    Ramp,
}

const TIMERS: usize = 7;

/// When each timer expires, if it runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Timers([Instant; TIMERS]);

impl Default for Timers {
    fn default() -> Self {
        Timers([Instant::NEVER; TIMERS])
    }
}

impl Timers {
    /// Starts a timer.
    pub fn start(&mut self, timer: Timer, now: Instant, after_s: f64) {
        self.0[timer as usize] = now.plus_s(after_s);
    }

    /// Stops a timer.
    pub fn stop(&mut self, timer: Timer) {
        self.0[timer as usize] = Instant::NEVER;
    }

    /// Whether a timer runs.
    pub fn runs(&self, timer: Timer) -> bool {
        self.0[timer as usize] != Instant::NEVER
    }

    /// Whether a timer has expired; stops it if so.
    pub fn take_expired(&mut self, timer: Timer, now: Instant) -> bool {
        let expired = self.0[timer as usize] <= now;
        if expired {
            self.stop(timer);
        }
        expired
    }

    /// The next expiry of all.
    pub fn next(&self) -> Instant {
        self.0.iter().copied().min().unwrap_or(Instant::NEVER)
    }
}

/// The discrete state of a vehicle.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Mode {
    /// Whether the drive says that the engine runs.
    pub engine_runs: bool,
    /// Whether the unit is on.
    pub on: bool,
    /// When it last came on.
    pub on_since: Instant,
    /// Charge stage; bulk while off.
    pub stage: Stage,
    /// The start/stop condition as last read: off, at or over turn-on; on, under turn-off.
    pub voltage_calls: bool,
    /// The stage's condition as last read: absorption, under the tail; float, under recharge.
    pub stage_calls: bool,
    /// Running timers.
    pub timers: Timers,
    /// What is held about the starter battery.
    pub starter_hold: Hold,
    /// What is held about the house battery.
    pub house_hold: Hold,
}

impl Mode {
    /// Whether the starter motor turns.
    pub fn cranking(&self) -> bool {
        self.timers.runs(Timer::Crank)
    }

    /// Whether the alternator turns: engine running and not cranking.
    pub fn alternator_turns(&self) -> bool {
        self.engine_runs && !self.cranking()
    }

    /// Whether the unit is in its soft start.
    pub fn ramping(&self) -> bool {
        self.timers.runs(Timer::Ramp)
    }

    /// The voltage that the unit holds in its stage.
    pub fn target_v(&self, stages: &Stages) -> f64 {
        match self.stage {
            Stage::Bulk | Stage::Absorption => stages.absorption_v,
            Stage::Float => stages.float_v,
        }
    }
}
