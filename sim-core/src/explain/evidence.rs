//! What speaks for a kind: numbers measured on the run, or asked of the network with one thing changed.

use crate::logic::Refusal;
use serde::Serialize;

/// One piece of evidence.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "evidence")]
pub enum Evidence {
    /// How far the unit's input and the starter posts swing.
    Swing {
        /// Greatest less smallest at the input, V.
        input_v: f64,
        /// Greatest less smallest at the starter posts, V.
        posts_v: f64,
    },
    /// The input cable's share of the drop from set-point to input, just before a drop-out.
    CableShare {
        /// 0 to 1.
        share: f64,
    },
    /// What the unit would have seen with itself held off, at that moment.
    HeldOff {
        /// Volts.
        volts: f64,
    },
    /// What the unit would have seen with no resistance in the input cable.
    WithoutCable {
        /// Volts.
        volts: f64,
    },
    /// The same drive simulated behind an alternator that can give any current, and without resistance in the run. Of
    /// stories whose drop-outs show the same, the one with the most has it and stands for the others.
    OneThingMended {
        /// Drop-outs in the story's time as it was.
        drop_outs: u32,
        /// ... behind an alternator that can give any current; `None` where that could not be run.
        strong_source: Option<u32>,
        /// ... without resistance in the input cable; `None` where that could not be run.
        no_cable: Option<u32>,
    },
    /// The alternator was giving all it can.
    AlternatorFull {
        /// At how many of the drop-outs.
        times: u32,
        /// How many drop-outs.
        of: u32,
        /// All it could give, A.
        amps: f64,
    },
    /// What the unit would have seen under the set-point as it had been.
    SetPointBack {
        /// The set-point as it had been, V.
        from_v: f64,
        /// The set-point as it was, V.
        to_v: f64,
        /// Volts that the unit would have seen.
        volts: f64,
    },
    /// The period, beside turn-on delay + share of the soft start + turn-off delay.
    Clock {
        /// Measured, s.
        measured_s: f64,
        /// Predicted, s.
        predicted_s: f64,
    },
    /// The starter posts, unit off, rose from the first drop-out to the last.
    Rose {
        /// At the first, V.
        from_v: f64,
        /// At the last, V.
        to_v: f64,
    },
    /// It ended by itself, with nothing about the drive changed.
    EndedByItself {
        /// How long after the first drop-out, s.
        after_s: f64,
        /// Whether the drive had to be prolonged in a simulation to see it.
        prolonged: bool,
    },
    /// The engine stood while it came on.
    EngineStood {
        /// How often.
        times: u32,
        /// How long after the last key-off it first came on, s; `None` where the engine had not run.
        since_key_off_s: Option<f64>,
    },
    /// Rested volts at the starter battery's state of charge, beside turn-on.
    Rested {
        /// Rested, V.
        volts: f64,
        /// Turn-on, V.
        turn_on_v: f64,
    },
    /// The same simulated without sun or maintainer on the starter battery.
    InTheDark {
        /// How often it came on parked.
        starts: u32,
        /// How often it came on parked in the dark.
        dark_starts: u32,
    },
    /// The unit's case at its lock-out.
    TooHot {
        /// Case, °C.
        case_c: f64,
        /// Lock-out, °C.
        limit_c: f64,
    },
    /// What the house battery's protection saw.
    Refused {
        /// Why it refused.
        why: Refusal,
        /// What it saw, °C, V or A.
        value: f64,
        /// Its threshold, in the same unit.
        threshold: f64,
    },
    /// Engine stops that took the unit with them.
    Stops {
        /// How many.
        times: u32,
        /// How long the engine ran between two, on average, s.
        ran_s: f64,
        /// How long a stop lasted, on average, s.
        stood_s: f64,
    },
    /// The output fell under the recharge voltage in float.
    Recharged {
        /// How often.
        times: u32,
        /// Output at the time, V.
        output_v: f64,
        /// The recharge voltage, V.
        threshold_v: f64,
    },
    /// The run signal went away with the engine running.
    SignalLost {
        /// How often.
        times: u32,
    },
    /// The input was dead while the starter posts were live.
    InputDead {
        /// Volts at the starter posts.
        posts_v: f64,
    },
}
