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
    /// Lithium: its resistances.
    Lithium {
        /// How many times as high as at 25 °C they are.
        cold: f64,
    },
}

impl Battery {
    /// The battery at a temperature.
    pub fn warm(&self, temp_c: f64) -> Warm<'_> {
        match &self.chemistry {
            Chemistry::Plain(_) => Warm::Plain,
            Chemistry::LeadAcid(b) => Warm::LeadAcid(b.at(temp_c)),
            Chemistry::Lithium(b) => Warm::Lithium { cold: b.cold_at(temp_c) },
        }
    }

    /// The same, from the battery at a temperature nearby, °C: to rounding what [`Battery::warm`] gives, for less.
    pub fn warm_near<'a>(&'a self, (near, near_c): (&Warm<'a>, f64), temp_c: f64) -> Warm<'a> {
        match (&self.chemistry, near) {
            (_, Warm::LeadAcid(at)) => Warm::LeadAcid(at.moved(temp_c - near_c)),
            (Chemistry::Lithium(b), Warm::Lithium { cold }) => {
                Warm::Lithium { cold: b.cold_moved(*cold, near_c, temp_c) }
            }
            _ => self.warm(temp_c),
        }
    }
}

/// Up to here the series of [`grown`] is good to rounding.
const NEAR: f64 = 0.01;

/// `e^x`, near zero by its series.
pub(super) fn grown(x: f64) -> f64 {
    if x.abs() > NEAR {
        return x.exp();
    }
    1.0 + x * (1.0 + x * (0.5 + x * (1.0 / 6.0 + x * (1.0 / 24.0 + x * (1.0 / 120.0 + x / 720.0)))))
}

#[cfg(test)]
mod tests {
    use super::super::{LeadAcid, Lithium, ThermalNode};
    use super::*;

    #[test]
    fn the_series_is_the_exponential() {
        for n in -30..=30 {
            let x = f64::from(n) * 1e-3;
            assert!((grown(x) / x.exp() - 1.0).abs() < 4e-16, "{x}");
        }
    }

    /// At a temperature nearby, and at one far off, a battery is what it is at that temperature.
    #[test]
    fn near_is_as_good_as_anew() {
        let chemistries = [
            Chemistry::LeadAcid(LeadAcid::starter_agm(70.0)),
            Chemistry::LeadAcid(LeadAcid::house_flooded(110.0)),
            Chemistry::Lithium(Lithium::lfp(100.0, 4)),
        ];
        for chemistry in chemistries {
            let battery = Battery { chemistry, thermal: ThermalNode::FIXED, start_c: f64::NAN };
            for from_c in [-20.0, 25.0, 48.0] {
                let near = battery.warm(from_c);
                for moved_k in [-9.0, -0.3, -0.01, 0.0, 1e-4, 0.1, 5.0] {
                    let temp_c = from_c + moved_k;
                    let far_off = far(&battery.warm_near((&near, from_c), temp_c), &battery.warm(temp_c));
                    assert!(far_off < 2e-15, "{from_c} °C and {moved_k} K: {far_off} off");
                }
            }
        }
    }

    /// How far apart two are, as a share.
    fn far(found: &Warm, wanted: &Warm) -> f64 {
        match (found, wanted) {
            (Warm::LeadAcid(found), Warm::LeadAcid(wanted)) => found.far_from(wanted),
            (Warm::Lithium { cold: found }, Warm::Lithium { cold: wanted }) => (found / wanted - 1.0).abs(),
            _ => f64::INFINITY,
        }
    }
}
