//! A cable: both legs, its joints and fuses, and how warm they get.
//!
//! Copper follows `R(T) = R20 (1 + 0.00393 (T − 20))` (IEC 60028, IEC 60228); joints and fuses are constant. Every
//! conductor is one thermal node, `C dT/dt = I²R(T) − G (T − T_air)`, the joints together another.

use super::conductor::{COPPER_PER_K, at_temp};
use super::fuse::Fuse;
use serde::Serialize;

/// Most conductors of a cable: two legs in two sections.
pub const CONDUCTORS: usize = 4;

/// One leg in one section.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Conductor {
    /// Resistance at 20 °C, Ω.
    pub ohm_20: f64,
    /// Heat capacity, J/K; 0 where its temperature is not followed and its resistance is that at 20 °C.
    pub j_per_k: f64,
    /// Heat released to the air, W/K.
    pub w_per_k: f64,
    /// Whether it lies in the engine bay.
    pub in_bay: bool,
}

/// A cable between a battery and the unit.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Cable {
    /// Conductors; unused ones have no resistance.
    pub conductors: [Conductor; CONDUCTORS],
    /// Joints and fuses, Ω.
    pub joints_ohm: f64,
    /// Heat capacity of the joints, J/K; 0 where their temperature is not followed.
    pub joints_j_per_k: f64,
    /// Heat released by the joints, W/K.
    pub joints_w_per_k: f64,
    /// Whether the joints are in the engine bay.
    pub joints_in_bay: bool,
    /// The fuse at the battery, if there is one; its resistance is part of the joints.
    pub battery_end_fuse: Option<Fuse>,
    /// The fuse at the unit, likewise.
    pub unit_end_fuse: Option<Fuse>,
}

impl Cable {
    /// A cable of constant temperature.
    pub fn constant(conductor_ohm: f64, joints_ohm: f64) -> Cable {
        let mut cable = Cable { joints_ohm, ..Cable::default() };
        cable.conductors[0].ohm_20 = conductor_ohm;
        cable
    }

    /// Both legs' conductors at 20 °C, Ω.
    pub fn conductor_ohm(&self) -> f64 {
        self.conductors.iter().map(|c| c.ohm_20).sum()
    }

    /// The whole loop at 20 °C, Ω.
    pub fn resistance_ohm(&self) -> f64 {
        self.conductor_ohm() + self.joints_ohm
    }

    /// The whole loop with its conductors at `temps_c`, Ω.
    pub fn resistance_at(&self, temps_c: &[f64]) -> f64 {
        self.joints_ohm + self.conductors.iter().zip(temps_c).map(|(c, t)| c.ohm_at(*t)).sum::<f64>()
    }

    /// Whether any conductor's temperature is followed.
    pub fn warms(&self) -> bool {
        self.conductors.iter().any(|c| c.j_per_k > 0.0)
    }

    /// The first conductor in the engine bay, or in the cabin, whose temperature is followed; `None` where none lies there.
    pub fn warm_leg(&self, in_bay: bool) -> Option<usize> {
        self.conductors.iter().position(|c| c.j_per_k > 0.0 && c.in_bay == in_bay)
    }

    /// The current that brings no conductor over `most_c` in this air, however long it flows, A; `None` where no temperature is
    /// followed.
    pub fn carries_a(&self, most_c: f64, air_c: f64, bay_c: f64) -> Option<f64> {
        let warm = self.conductors.iter().filter(|c| c.j_per_k > 0.0 && c.ohm_20 > 0.0);
        let carries = warm.map(|c| {
            let rise_k = most_c - if c.in_bay { bay_c } else { air_c };
            (c.w_per_k * rise_k.max(0.0) / c.ohm_at(most_c)).sqrt()
        });
        carries.reduce(f64::min)
    }

    /// Where its conductors settle under a constant current in this air, °C; infinite where
    /// copper's resistance runs away. At 20 °C where no temperature is followed.
    pub fn settles_c(&self, i: f64, air_c: f64, bay_c: f64) -> [f64; CONDUCTORS] {
        self.conductors.map(|c| if c.in_bay { c.settles_c(i, bay_c) } else { c.settles_c(i, air_c) })
    }

    /// Whether the joints' temperature is followed.
    pub fn joints_warm(&self) -> bool {
        self.joints_j_per_k > 0.0
    }

    /// Rate of the joints' temperature with current `i` and a resistance beyond their own, K/s.
    pub fn joints_rate(&self, temp_c: f64, air_c: f64, i: f64, extra_ohm: f64) -> f64 {
        if self.joints_j_per_k == 0.0 {
            return 0.0;
        }
        (i * i * (self.joints_ohm + extra_ohm) - self.joints_w_per_k * (temp_c - air_c)) / self.joints_j_per_k
    }
}

impl Conductor {
    /// Resistance at a temperature, Ω; that at 20 °C where the temperature is not followed.
    pub fn ohm_at(&self, temp_c: f64) -> f64 {
        if self.j_per_k > 0.0 { at_temp(self.ohm_20, temp_c) } else { self.ohm_20 }
    }

    /// Rate of its temperature with current `i`, K/s.
    pub fn rate(&self, temp_c: f64, air_c: f64, i: f64) -> f64 {
        if self.j_per_k == 0.0 {
            return 0.0;
        }
        (i * i * self.ohm_at(temp_c) - self.w_per_k * (temp_c - air_c)) / self.j_per_k
    }

    /// Where it settles under a constant current, °C; infinite where its resistance runs away.
    pub fn settles_c(&self, i: f64, air_c: f64) -> f64 {
        if self.j_per_k == 0.0 {
            return 20.0;
        }
        let releases = self.w_per_k - i * i * self.ohm_20 * COPPER_PER_K;
        if releases > 0.0 { air_c + i * i * self.ohm_at(air_c) / releases } else { f64::INFINITY }
    }

    /// Temperature after `seconds` of a constant current in constant air, °C: the rate is a line in the temperature.
    pub fn temp_after(&self, temp_c: f64, air_c: f64, i: f64, seconds: f64) -> f64 {
        if self.j_per_k == 0.0 {
            return temp_c;
        }
        let fades_per_s = (self.w_per_k - i * i * self.ohm_20 * COPPER_PER_K) / self.j_per_k;
        let lasts_s = match fades_per_s {
            0.0 => seconds,
            rate => -(-rate * seconds).exp_m1() / rate,
        };
        temp_c + self.rate(temp_c, air_c, i) * lasts_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Settled temperature of a conductor with R linear in T: `dT = I²R(T_air)/(G − a·I²R20)`. Worked example: 16 mm²
    /// class 5, 80 A, diameter 8.1 mm, 12 W/(m²·K), air 25 °C: 28.721 K, 1.3704 mΩ/m (recomputed by hand from the formula).
    #[test]
    fn settles_where_the_closed_form_says() {
        let c = Conductor {
            ohm_20: 1.21e-3,
            j_per_k: 55.03,
            w_per_k: 12.0 * std::f64::consts::PI * 0.0081,
            in_bay: false,
        };
        let settled = 25.0 + 28.721;
        assert!(c.rate(settled, 25.0, 80.0).abs() < 2e-5);
        assert!(c.rate(settled - 0.01, 25.0, 80.0) > 0.0 && c.rate(settled + 0.01, 25.0, 80.0) < 0.0);
        assert!((c.ohm_at(settled) - 1.3704e-3).abs() < 1e-7);
        let cable =
            Cable { conductors: [c, c, Conductor::default(), Conductor::default()], ..Cable::default() };
        assert!((cable.carries_a(settled, 25.0, 60.0).expect("it warms") - 80.0).abs() < 1e-3);
        assert_eq!(Cable::constant(0.01, 0.0).carries_a(85.0, 25.0, 60.0), None);
    }

    #[test]
    fn a_run_without_heat_is_the_plain_one_to_the_bit() {
        let cable = Cable::constant(0.0121, 0.002);
        assert_eq!(
            cable.resistance_at(&[90.0, -20.0, 500.0, 20.0]).to_bits(),
            cable.resistance_ohm().to_bits()
        );
        assert_eq!(cable.conductors[0].rate(50.0, 20.0, 100.0), 0.0);
    }
}
