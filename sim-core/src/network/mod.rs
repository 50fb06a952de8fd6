//! States → volts and amps at one instant.
//!
//! The network is pure algebra on a [`Bias`]: what every part shows at its terminals just now. [`solve`] finds which
//! limit rules and which way each source stands, its [`Regime`]; [`solve_in`] keeps a regime and continues it smoothly
//! a little past its end, so that a step sees no kink, and [`margins`] says how far that end is.

pub(crate) mod converter_point;
pub mod house_bus;
pub mod sensitivity;
pub mod source;
pub mod starter_bus;

pub(crate) use converter_point::{IDLE_V, NEAR_MOST, free_at, house_room, margins_with};
pub use converter_point::{Limit, Sense, Unit, margins, solve, solve_in};
use house_bus::{HouseBus, HouseStates};
use starter_bus::{BusStates, StarterBus};

/// What every part shows at its terminals at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bias {
    /// The starter battery's bus and the input cable.
    pub starter: StarterBus,
    /// The house battery's bus and the output cable.
    pub house: HouseBus,
    /// The converter between them.
    pub unit: Unit,
}

/// Everything that is held while a step is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Regime {
    /// Which of the converter's limits rules.
    pub limit: Limit,
    /// The starter bus's sources.
    pub starter: BusStates,
    /// The house battery's contact and sources.
    pub house: HouseStates,
}

/// Volts and amps at one instant. Current into a battery is positive; the others are positive towards the house.
#[derive(Debug, Clone, Copy, PartialEq, Default, serde::Serialize)]
pub struct Net {
    /// Volts at the starter posts.
    pub sb_v: f64,
    /// Volts at the unit's input terminals.
    pub in_v: f64,
    /// Volts at the unit's output terminals.
    pub out_v: f64,
    /// Volts at the house posts.
    pub house_v: f64,
    /// Alternator current, A.
    pub alternator_a: f64,
    /// Current of the starter side's other source, A.
    pub starter_source_a: f64,
    /// Current into the starter battery, A.
    pub starter_a: f64,
    /// The unit's input current, A.
    pub input_a: f64,
    /// The unit's output current, A.
    pub output_a: f64,
    /// Current into the house battery, A.
    pub house_a: f64,
    /// House load current, A.
    pub house_load_a: f64,
    /// Solar current into the house bus, A.
    pub solar_a: f64,
    /// Mains charger current into the house bus, A.
    pub charger_a: f64,
}
