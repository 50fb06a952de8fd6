//! What the parts bear: temperatures of insulation and joints, volts of batteries.
//!
//! A typed limit is the user's; where nobody typed one, a default stands with its source. Nothing here changes a run: the
//! run counts how far and how long each limit is passed (`record::stress`), and `judge` says what that means.

use super::battery::{Battery, Chemistry};
use serde::Serialize;

/// What joints bear where nobody says, °C: a rise of 65 K over air of 40 °C, the limit of IEC 60947-1 (table 2) for tinned
/// terminals; from memory.
pub const JOINTS_C: f64 = 105.0;
/// What the best common insulation of vehicle cable bears, °C: cross-linked, class C of ISO 6722-1; from memory.
pub const BEST_INSULATION_C: f64 = 125.0;
/// Temperature of thermal class H, °C (IEC 60085, from memory): what an alternator's winding bears all the time.
pub const WINDING_C: f64 = 180.0;
/// Temperature of the next class but one, °C (IEC 60085, class 220, from memory): nothing common bears more.
pub const WINDING_NEVER_C: f64 = 220.0;
/// What a lead-acid cell bears for hours at 25 °C, V: flooded and AGM (14.8 V of six), gel (14.4 V of six); common
/// practice, no source.
const LEAD_ACID_HELD_V: [f64; 2] = [2.467, 2.4];
/// What no lead-acid cell bears at 25 °C, V: 15.9 V of six, past what flooded ones are equalised at under watch; common
/// practice, no source.
const LEAD_ACID_NEVER_V: f64 = 2.65;
/// Change of a lead-acid cell's limits with temperature, V/K: −24 mV/K of six, practice.
const LEAD_ACID_V_PER_K: f64 = -0.004;
/// Temperatures between which it follows, °C.
const FOLLOWS_C: (f64, f64) = (-20.0, 50.0);
/// What an LFP cell bears, V: cell makers' common limit, from memory; and what none bears, V, from memory.
const LFP_V: [f64; 2] = [3.65, 3.8];
/// Volts of a lead-acid cell that is full and rested: tells how many cells a battery given by its volts alone has.
const FULL_CELL_V: f64 = 2.12;

/// A limit, and whether somebody typed it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Limit {
    /// The limit, in the unit of what it limits.
    pub most: f64,
    /// Whether it was typed or measured; a default is no evidence of what is fitted.
    pub typed: bool,
}

impl Limit {
    /// No limit.
    pub const NONE: Limit = Limit { most: f64::INFINITY, typed: false };

    /// A default.
    pub const fn assumed(most: f64) -> Limit {
        Limit { most, typed: false }
    }
}

/// Volts that a battery bears.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BatteryVolts {
    /// For hours, at 25 °C, V.
    pub held_v: f64,
    /// Never, at 25 °C, V.
    pub never_v: f64,
    /// Change of both with the battery's temperature, V/K.
    pub v_per_k: f64,
    /// Whether `held_v` was typed.
    pub typed: bool,
}

impl BatteryVolts {
    /// No limit.
    pub const NONE: BatteryVolts =
        BatteryVolts { held_v: f64::INFINITY, never_v: f64::INFINITY, v_per_k: 0.0, typed: false };

    /// What a battery bears by its chemistry; `gel` is told apart, since no set of parameters says it.
    pub fn of(battery: &Battery, gel: bool) -> BatteryVolts {
        let lead_acid = |cells: f64| BatteryVolts {
            held_v: LEAD_ACID_HELD_V[usize::from(gel)] * cells,
            never_v: LEAD_ACID_NEVER_V * cells,
            v_per_k: LEAD_ACID_V_PER_K * cells,
            typed: false,
        };
        match &battery.chemistry {
            Chemistry::LeadAcid(b) => lead_acid(f64::from(b.cells)),
            Chemistry::Lithium(b) => {
                let cells = f64::from(b.cells);
                BatteryVolts {
                    held_v: LFP_V[0] * cells,
                    never_v: LFP_V[1] * cells,
                    v_per_k: 0.0,
                    typed: false,
                }
            }
            // Of a battery given by its volts alone only what none of its size bears is known.
            Chemistry::Plain(_) => {
                let all = lead_acid((battery.rested_v(1.0) / FULL_CELL_V).round().max(1.0));
                BatteryVolts { held_v: all.never_v, ..all }
            }
        }
    }

    /// The most that a source may be set to hold on a battery at 25 °C, V: what it bears for hours. Of one given by its volts
    /// alone that is taken to be a lead-acid one where it cranks the engine (14.8 V of six cells), and is the volts that no
    /// battery of its size bears otherwise.
    pub fn most_set_v(&self, battery: &Battery, cranks: bool) -> f64 {
        let own = BatteryVolts::of(battery, false);
        match &battery.chemistry {
            _ if self.typed => self.held_v,
            Chemistry::Plain(_) if cranks => own.held_v * LEAD_ACID_HELD_V[0] / LEAD_ACID_NEVER_V,
            _ => self.held_v.min(own.held_v),
        }
    }

    /// The same where somebody typed what it bears at 25 °C, V.
    #[must_use]
    pub fn or_typed(self, most_v: Option<f64>) -> BatteryVolts {
        match most_v {
            Some(held_v) => BatteryVolts { held_v, never_v: self.never_v.max(held_v), typed: true, ..self },
            None => self,
        }
    }

    /// What it bears for hours at a temperature, V.
    pub fn held_at(&self, temp_c: f64) -> f64 {
        if self.v_per_k == 0.0 {
            return self.held_v;
        }
        self.held_v + self.v_per_k * (temp_c.clamp(FOLLOWS_C.0, FOLLOWS_C.1) - 25.0)
    }
}

/// What the parts of one vehicle bear.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Bears {
    /// Insulation of the input cable, °C.
    pub input_insulation_c: Limit,
    /// Insulation of the output cable, °C.
    pub output_insulation_c: Limit,
    /// Joints of the input cable, °C.
    pub input_joints_c: Limit,
    /// Joints of the output cable, °C.
    pub output_joints_c: Limit,
    /// Alternator winding, °C.
    pub winding_c: Limit,
    /// Starter battery.
    pub starter: BatteryVolts,
    /// House battery.
    pub house: BatteryVolts,
}

impl Default for Bears {
    /// Everything: a base for struct updates.
    fn default() -> Self {
        Bears {
            input_insulation_c: Limit::NONE,
            output_insulation_c: Limit::NONE,
            input_joints_c: Limit::NONE,
            output_joints_c: Limit::NONE,
            winding_c: Limit::NONE,
            starter: BatteryVolts::NONE,
            house: BatteryVolts::NONE,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::battery::{LeadAcid, Lithium, STARTER_FLOODED, ThermalNode};

    fn battery(chemistry: Chemistry) -> Battery {
        Battery { chemistry, thermal: ThermalNode::FIXED, start_c: f64::NAN }
    }

    #[test]
    fn a_cold_lead_acid_battery_bears_more_and_a_lithium_one_does_not() {
        let flooded = battery(Chemistry::LeadAcid(LeadAcid::from_set(&STARTER_FLOODED, 80.0)));
        let volts = BatteryVolts::of(&flooded, false);
        assert!((volts.held_at(25.0) - 14.8).abs() < 0.01, "{volts:?}");
        assert!((volts.held_at(-20.0) - 15.88).abs() < 0.01);
        assert!(volts.held_at(-60.0) == volts.held_at(-20.0) && volts.held_at(40.0) < 14.5);
        assert!(BatteryVolts::of(&flooded, true).held_v < volts.held_v);
        let lfp = BatteryVolts::of(&battery(Chemistry::Lithium(Lithium::lfp(200.0, 4))), false);
        assert!((lfp.held_at(-20.0) - 14.6).abs() < 1e-9);
    }

    #[test]
    fn a_typed_limit_is_the_one_that_holds() {
        let volts = BatteryVolts::NONE.or_typed(Some(14.4));
        assert!(volts.typed && volts.held_at(0.0) == 14.4);
    }
}
