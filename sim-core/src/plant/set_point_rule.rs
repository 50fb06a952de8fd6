//! A variable set-point by a declared rule.
//!
//! Vehicle makers' service texts and EP/US patents document the direction (high on overrun, low when cruising and
//! accelerating, high with a low or cold battery or heavy loads on); the numbers are practice, so they are inputs.

use serde::Serialize;

/// What the engine is doing, as far as a set-point rule cares.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Phase {
    /// Standing, engine idling or stopped.
    #[default]
    Idle,
    /// Steady speed.
    Cruise,
    /// Speeding up.
    Accelerating,
    /// Slowing down with the fuel cut.
    Overrun,
}

/// The rule.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SetPointRule {
    /// On overrun, V.
    pub overrun_v: f64,
    /// When cruising, V.
    pub cruise_v: f64,
    /// When accelerating, V.
    pub accelerating_v: f64,
    /// At idle, V.
    pub idle_v: f64,
    /// In place of the phase's when the starter battery is low or cold or heavy loads are on, V.
    pub refresh_v: f64,
    /// Starter SOC under which the battery counts as low.
    pub low_soc: f64,
    /// Air temperature under which it counts as cold, °C.
    pub cold_c: f64,
    /// Vehicle load above which loads count as heavy, A.
    pub heavy_a: f64,
    /// Greatest rate of change, V/s.
    pub slew_v_per_s: f64,
}

impl SetPointRule {
    /// The set-point that the rule heads for.
    pub fn target_v(&self, phase: Phase, battery_low: bool, air_c: f64, load_a: f64) -> f64 {
        let phase_v = match phase {
            Phase::Idle => self.idle_v,
            Phase::Cruise => self.cruise_v,
            Phase::Accelerating => self.accelerating_v,
            Phase::Overrun => self.overrun_v,
        };
        if battery_low || air_c < self.cold_c || load_a > self.heavy_a {
            phase_v.max(self.refresh_v)
        } else {
            phase_v
        }
    }
}

/// An invented rule for the tests of this crate.
#[cfg(test)]
pub(crate) const EXAMPLE: SetPointRule = SetPointRule {
    overrun_v: 14.9,
    cruise_v: 12.9,
    accelerating_v: 12.5,
    idle_v: 13.4,
    refresh_v: 14.5,
    low_soc: 0.8,
    cold_c: 0.0,
    heavy_a: 60.0,
    slew_v_per_s: 0.05,
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_goes_the_documented_way() {
        let rule = EXAMPLE;
        assert!(
            rule.target_v(Phase::Overrun, false, 20.0, 25.0) > rule.target_v(Phase::Idle, false, 20.0, 25.0)
        );
        assert!(
            rule.target_v(Phase::Accelerating, false, 20.0, 25.0)
                < rule.target_v(Phase::Cruise, false, 20.0, 25.0)
        );
        for (low, air, load) in [(true, 20.0, 25.0), (false, -5.0, 25.0), (false, 20.0, 80.0)] {
            assert_eq!(rule.target_v(Phase::Cruise, low, air, load), 14.5);
        }
    }
}
