//! How a conductor lies, which decides how much heat it gives off.
//!
//! `G = h π D` per metre, with h = 12 W/(m²·K) for a cable alone in still air (textbooks: 10 to 17, from memory) and the
//! outer diameter of a flexible cable, D = 1.6 √A + 1.7 mm (fitted to 8.1 mm at 16 mm²). Lying against something, in a
//! sleeve or in a bundle it gives off less; the shares are practice, from memory. Two tables bracket the result: what
//! BS 7671 table 4E1A and 33 CFR 183.425 imply for conductors with room around them.

/// Heat transfer of a cable alone in still air, W/(m²·K); from memory, textbooks give 10 to 17.
const H_W_PER_M2_K: f64 = 12.0;
/// Volumetric heat capacity of copper, J/(K·mm³) (IEC 60364-5-54 annex A).
const COPPER_J_PER_K_MM3: f64 = 3.45e-3;

/// How a conductor lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Laying {
    /// Alone, air all round.
    FreeAir,
    /// Clipped to a surface.
    Clipped,
    /// In a sleeve or conduit.
    Sleeved,
    /// In a bundle.
    Bundled,
}

impl Laying {
    /// Share of the free conductor's heat that it gives off; practice, from memory.
    fn share(self) -> f64 {
        match self {
            Laying::FreeAir => 1.0,
            Laying::Clipped => 0.7,
            Laying::Sleeved => 0.45,
            Laying::Bundled => 0.35,
        }
    }

    /// Heat given off by a metre of conductor, W/(K·m).
    pub fn w_per_k_m(self, area_mm2: f64) -> f64 {
        let diameter_m = 1e-3 * (1.6 * area_mm2.sqrt() + 1.7);
        self.share() * H_W_PER_M2_K * std::f64::consts::PI * diameter_m
    }
}

/// Heat capacity of a metre of conductor, copper alone, J/(K·m).
pub fn j_per_k_m(area_mm2: f64) -> f64 {
    COPPER_J_PER_K_MM3 * area_mm2 * 1000.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What two tables of permitted currents imply for a single conductor with room around it, W/(K·m): losses at the
    /// permitted current over the permitted rise. BS 7671 table 4E1A method G, 90 °C in 30 °C; 33 CFR 183.425 table 5,
    /// 105 °C in 30 °C (recomputed from the tables' currents; seen directly: the latter).
    #[test]
    fn free_air_lies_within_the_bracket_that_two_tables_imply() {
        let rows = [
            (25.0, 0.512),
            (35.0, 0.569),
            (50.0, 0.622),
            (70.0, 0.710),
            (5.261, 0.210),
            (13.302, 0.332),
            (33.631, 0.402),
            (67.431, 0.495),
            (107.219, 0.566),
        ];
        for (area, implied) in rows {
            let ours = Laying::FreeAir.w_per_k_m(area);
            assert!((0.65..1.4).contains(&(ours / implied)), "{area} mm²: {ours:.3} against {implied}");
        }
        // A bare 16 mm² in still air: 0.25 to 0.4, common practice, no source.
        assert!((0.25..0.4).contains(&Laying::FreeAir.w_per_k_m(16.0)));
    }
}
