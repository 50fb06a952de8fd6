//! A cable run: both legs, its joints and fuses.

/// A run between a battery and the unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Run {
    /// Both legs' conductors at 20 °C, Ω.
    pub conductor_ohm: f64,
    /// Joints and fuses, Ω.
    pub joints_ohm: f64,
}

impl Run {
    /// The whole loop, Ω.
    pub fn resistance_ohm(&self) -> f64 {
        self.conductor_ohm + self.joints_ohm
    }
}
