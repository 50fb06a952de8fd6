//! A variable set-point by a declared rule.
//!
//! Vehicle makers' service texts and EP/US patents document the direction (high on overrun, low when cruising and
//! accelerating, high with a low or cold battery or heavy loads on); the numbers are practice, so they are inputs. Two sets of
//! them have a name: one from the trade, deep, and one read off a measured car, shallow.

use serde::Serialize;

/// What the engine is doing, as far as a set-point rule cares.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Phase {
    /// Standing, engine idling or stopped.
    #[default]
    Idle,
    /// Steady speed, or slowing down with fuel.
    Cruise,
    /// Speeding up.
    Accelerating,
    /// In gear with the fuel cut.
    Overrun,
}

/// The rule.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SetPointRule {
    /// After an engine start, in place of the phase's, V.
    pub start_up_v: f64,
    /// How long after the engine runs by itself, s; 0: there is no such hold.
    pub start_up_s: f64,
    /// On overrun, V.
    pub overrun_v: f64,
    /// When cruising, V.
    pub cruise_v: f64,
    /// When accelerating, V.
    pub accelerating_v: f64,
    /// At idle, V.
    pub idle_v: f64,
    /// At least, when the starter battery is low or cold or heavy loads are on, V.
    pub refresh_v: f64,
    /// Starter SOC under which the battery counts as low.
    pub low_soc: f64,
    /// Air temperature under which it counts as cold, °C.
    pub cold_c: f64,
    /// Vehicle load above which loads count as heavy, A.
    pub heavy_a: f64,
    /// Rate at which the set-point rises, V/s.
    pub up_v_per_s: f64,
    /// Rate at which it falls, V/s.
    pub down_v_per_s: f64,
}

/// Deep: what the trade says of vehicles that save fuel by it, from memory; service texts name a span of 12.5 to 14.5 V.
pub const DEEP: SetPointRule = SetPointRule {
    start_up_v: 14.5,
    start_up_s: 0.0,
    overrun_v: 14.9,
    cruise_v: 12.9,
    accelerating_v: 12.5,
    idle_v: 13.4,
    refresh_v: 14.5,
    low_soc: 0.8,
    cold_c: 0.0,
    heavy_a: 60.0,
    up_v_per_s: 0.05,
    down_v_per_s: 0.05,
};

/// Shallow: one car, measured for 44 minutes at its control unit. It rises by 0.25 V in 2 s and takes 10 s to fall back. Its
/// refresh level is the highest that it showed; no log shows a low or cold battery.
pub const SHALLOW: SetPointRule = SetPointRule {
    start_up_v: 13.95,
    start_up_s: 100.0,
    overrun_v: 13.85,
    cruise_v: 13.57,
    accelerating_v: 13.48,
    idle_v: 13.32,
    refresh_v: 13.95,
    up_v_per_s: 0.125,
    down_v_per_s: 0.025,
    ..DEEP
};

impl SetPointRule {
    /// The set-point that the rule heads for; `starting` within the hold after an engine start.
    pub fn target_v(&self, phase: Phase, starting: bool, battery_low: bool, air_c: f64, load_a: f64) -> f64 {
        let phase_v = match phase {
            _ if starting => self.start_up_v,
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

    /// Rate of the set-point that has a way to go, +1 up, −1 down, 0 there, V/s.
    pub fn rate_v_per_s(&self, way: i8) -> f64 {
        match way {
            0 => 0.0,
            1.. => self.up_v_per_s,
            _ => -self.down_v_per_s,
        }
    }

    /// All its levels, V.
    pub fn levels_v(&self) -> [f64; 6] {
        [self.start_up_v, self.overrun_v, self.cruise_v, self.accelerating_v, self.idle_v, self.refresh_v]
    }

    /// The same rule with each of its levels changed.
    #[must_use]
    pub fn with_levels(mut self, change: impl Fn(f64) -> f64) -> SetPointRule {
        for v in [
            &mut self.start_up_v,
            &mut self.overrun_v,
            &mut self.cruise_v,
            &mut self.accelerating_v,
            &mut self.idle_v,
            &mut self.refresh_v,
        ] {
            *v = change(*v);
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rules_go_the_documented_way() {
        for rule in [DEEP, SHALLOW] {
            let at = |phase| rule.target_v(phase, false, false, 20.0, 25.0);
            assert!(at(Phase::Overrun) > at(Phase::Idle));
            assert!(at(Phase::Accelerating) < at(Phase::Cruise));
            for (low, air, load) in [(true, 20.0, 25.0), (false, -5.0, 25.0), (false, 20.0, 80.0)] {
                assert_eq!(rule.target_v(Phase::Cruise, false, low, air, load), rule.refresh_v);
            }
            assert_eq!(rule.target_v(Phase::Idle, true, false, 20.0, 25.0), rule.start_up_v);
        }
    }
}
