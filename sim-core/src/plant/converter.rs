//! The converter's power stage: loss as a function of output power.
//!
//! `P_in = P_out + p0 + p1·P_out + p2·P_out²`, the usual split into fixed, proportional and resistive parts (general
//! practice for switching converters). It holds for any pair of nominal voltages.

use serde::Serialize;

/// Loss of the power stage.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Loss {
    /// p0, drawn whenever the unit is on, W.
    pub fixed_w: f64,
    /// p1, per watt of output.
    pub proportional: f64,
    /// p2, per watt of output squared, 1/W.
    pub square_per_w: f64,
}

impl Loss {
    /// Input power for an output power, W.
    pub fn input_w(&self, output_w: f64) -> f64 {
        output_w + self.lost_w(output_w)
    }

    /// Loss at an output power, W.
    pub fn lost_w(&self, output_w: f64) -> f64 {
        self.fixed_w + output_w * (self.proportional + output_w * self.square_per_w)
    }

    /// Output power for an input power, W; negative when the input does not cover the fixed loss.
    pub fn output_w(&self, input_w: f64) -> f64 {
        let b = 1.0 + self.proportional;
        let over = input_w - self.fixed_w;
        2.0 * over / (b + (b * b + 4.0 * self.square_per_w * over).max(0.0).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn output_inverts_input() {
        for loss in [
            Loss { fixed_w: 4.0, proportional: 0.04, square_per_w: 2e-5 },
            Loss { fixed_w: 0.0, proportional: 0.0, square_per_w: 0.0 },
        ] {
            for p in [0.0, 1.0, 532.0, 3000.0] {
                assert!((loss.output_w(loss.input_w(p)) - p).abs() < 1e-9);
            }
        }
    }
}
