//! The discrete state of a vehicle.

use crate::model::{Model, Piece, Stages};
use crate::network::house_bus::Contact;
use crate::plant::battery::BatteryHold;
use crate::plant::fuse::FusePlace;
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
    /// The vehicle falls asleep.
    Sleep,
    /// End of a refusal for over-current, or for volts that a current brought.
    OverCurrent,
    /// End of the shortest time off.
    LeastOff,
    /// End of the shortest time for which house loads stay shed.
    LoadsHold,
    /// The alternator begins to charge.
    BuildUp,
    /// End of a rule's hold after an engine start.
    StartUp,
}

const TIMERS: usize = 13;

/// When each timer expires, if it runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Timers([Instant; TIMERS]);

impl Default for Timers {
    fn default() -> Self {
        Timers([Instant::NEVER; TIMERS])
    }
}

impl Timers {
    /// The same timers by a clock that is ahead by `by_ns` nanoseconds.
    pub fn moved(mut self, by_ns: i64) -> Timers {
        for at in self.0.iter_mut().filter(|at| **at != Instant::NEVER) {
            *at = at.plus_ns(by_ns);
        }
        self
    }

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

    /// Seconds until a timer expires; 0 where it does not run.
    pub fn left_s(&self, timer: Timer, now: Instant) -> f64 {
        if self.runs(timer) { self.0[timer as usize].since(now).max(0.0) } else { 0.0 }
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
    /// Whether the engine stands for a moment, by stop-start: its next start is none of a driver.
    pub paused: bool,
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
    pub starter_hold: BatteryHold,
    /// What is held about the house battery.
    pub house_hold: BatteryHold,
    /// Where the case temperature stands on the derating line.
    pub derate: Derate,
    /// Locked out for heat.
    pub locked: bool,
    /// What the house battery's protection lets through.
    pub contact: Contact,
    /// Why charge is refused, if it is.
    pub refusal: Option<Refusal>,
    /// Whether the house loads are shed.
    pub shed: bool,
    /// Whether a heater mat draws.
    pub mat: bool,
    /// Whether the starter battery has collapsed and nothing on its side runs.
    pub starter_dead: bool,
    /// Which fuses have opened.
    pub open: OpenFuses,
    /// Whether the alternator's pick-up is at its greatest rate.
    pub slewing: bool,
    /// The set-point that the rule heads for, V, and which way it still has to go.
    pub set_point: SetPointAim,
    /// The run signal as last read.
    pub signal: bool,
    /// Stage to go on with after a turn-off, where the unit resumes.
    pub left: Stage,
    /// Absorption time already spent, s, where the cap counts over restarts.
    pub absorbed_s: f64,
}

/// Where the case temperature stands on the derating line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Derate {
    /// Under it: full current.
    #[default]
    Under,
    /// On it.
    On,
    /// Past its end: no current.
    Past,
}

/// Why the house battery refuses charge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Refusal {
    /// The cells are too cold.
    Cold,
    /// The voltage is too high.
    HighVoltage,
    /// The current was too high.
    OverCurrent,
}

/// What a set-point under a rule heads for.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SetPointAim {
    /// Volts.
    pub target_v: f64,
    /// +1 rising, −1 falling, 0 there.
    pub way: i8,
    /// Whether the starter battery counted as low.
    pub low: bool,
}

impl Mode {
    /// Whether the starter motor turns.
    pub fn cranking(&self) -> bool {
        self.timers.runs(Timer::Crank)
    }

    /// Whether the alternator charges: engine running, not cranking, its field built up.
    pub fn alternator_turns(&self) -> bool {
        self.engine_runs && !self.cranking() && !self.timers.runs(Timer::BuildUp)
    }

    /// Whether the vehicle has not fallen asleep since key-off.
    pub fn awake(&self) -> bool {
        self.timers.runs(Timer::Sleep)
    }

    /// Whether the unit cannot come on whatever its input says: locked out by heat, or without a supply.
    pub fn held_off(&self) -> bool {
        self.locked || self.starter_dead
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

/// Which fuses have opened, in the order of [`FusePlace::ALL`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct OpenFuses(pub [bool; FusePlace::ALL.len()]);

impl OpenFuses {
    /// Whether the fuse at a place has opened.
    pub fn at(self, place: FusePlace) -> bool {
        self.0[place as usize]
    }

    /// Whether the input cable is open.
    pub fn input(self) -> bool {
        self.any(true)
    }

    /// Whether the output cable is open.
    pub fn output(self) -> bool {
        self.any(false)
    }

    fn any(self, input: bool) -> bool {
        FusePlace::ALL.into_iter().any(|p| p.on_input() == input && self.at(p))
    }
}

/// What the vehicle's own loads and its starter motor ask for, A, whether or not the battery can give it.
pub fn asked_a(mode: &Mode, model: &Model, piece: &Piece) -> f64 {
    let mut asked_a = piece.vehicle_load_a;
    if mode.cranking() {
        asked_a += model.vehicle.crank_a;
    }
    if mode.awake() {
        asked_a += model.vehicle.awake_a;
    }
    asked_a
}
