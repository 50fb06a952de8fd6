//! One lumped thermal node per battery: what it loses warms it, the air cools it, a heater mat may help.

use serde::Serialize;

/// Heat capacity and loss to the air of a whole battery.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ThermalNode {
    /// Heat capacity, J/K; above zero. Infinite holds the temperature where it is.
    pub j_per_k: f64,
    /// Heat passed to the air per kelvin, W/K; at or above zero.
    pub w_per_k: f64,
}

impl ThermalNode {
    /// Keeps its temperature for ever: the battery without self-heating.
    pub const FIXED: ThermalNode = ThermalNode { j_per_k: f64::INFINITY, w_per_k: 0.0 };

    /// Whether its temperature is followed.
    pub fn moves(&self) -> bool {
        self.j_per_k.is_finite()
    }

    /// Rate of temperature, K/s: `C dT/dt = heat + heater − G (T − T_air)`.
    ///
    /// `heat_w` is what the battery turns into heat, `heater_w` the power of a heater mat, zero without one.
    pub fn derivative(&self, temp_c: f64, air_c: f64, heat_w: f64, heater_w: f64) -> f64 {
        (heat_w + heater_w - self.w_per_k * (temp_c - air_c)) / self.j_per_k
    }

    /// Time constant of cooling, s.
    pub fn time_s(&self) -> f64 {
        self.j_per_k / self.w_per_k
    }

    /// Temperature that a constant heat leads to in the end, °C.
    pub fn settled_c(&self, air_c: f64, heat_w: f64) -> f64 {
        air_c + heat_w / self.w_per_k
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::battery::test_stepper::Stepper;

    #[test]
    fn cools_as_the_closed_form_says() {
        let node = ThermalNode { j_per_k: 19_200.0, w_per_k: 1.6 };
        let (air, heat, heater) = (-5.0, 12.0, 30.0);
        let mut run = Stepper::new([18.0], 1e-11);
        run.advance(7200.0, |y| [node.derivative(y[0], air, heat, heater)]);
        let end = node.settled_c(air, heat + heater);
        let want = end + (18.0 - end) * (-7200.0 / node.time_s()).exp();
        assert!((run.y[0] - want).abs() < 1e-8, "{} {want}", run.y[0]);
    }

    #[test]
    fn a_fixed_node_never_moves() {
        assert_eq!(ThermalNode::FIXED.derivative(40.0, -20.0, 1e4, 100.0), 0.0);
    }
}
