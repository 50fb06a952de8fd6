//! What a battery's temperature alone decides, worked out once and shared by all that is asked of one state.

use super::lead_acid::LeadAcidAt;
use super::{Battery, Chemistry};

/// A battery at one temperature.
#[derive(Debug, Clone, Copy)]
pub enum Warm<'a> {
    /// Constant in temperature.
    Plain,
    /// Lead-acid: all its exponentials.
    LeadAcid(LeadAcidAt<'a>),
    /// Lithium: its series resistance.
    Lithium {
        /// Series resistance, Ω.
        r0_ohm: f64,
    },
}

impl Battery {
    /// The battery at a temperature.
    pub fn warm(&self, temp_c: f64) -> Warm<'_> {
        match &self.chemistry {
            Chemistry::Plain(_) => Warm::Plain,
            Chemistry::LeadAcid(b) => Warm::LeadAcid(b.at(temp_c)),
            Chemistry::Lithium(b) => Warm::Lithium { r0_ohm: b.r0_at(temp_c) },
        }
    }
}
