//! How a conductor lies, which decides how much heat it gives off.
//!
//! Alone in still air `G = h π D` per metre, with h = 12 W/(m²·K) (textbooks: 10 to 17, from memory) and the outer diameter
//! of a flexible cable, D = 1.6 √A + 1.7 mm (fitted to 8.1 mm at 16 mm²). Two tables bracket it: what BS 7671 table 4E1A and
//! 33 CFR 183.425 imply for conductors with room around them.
//!
//! Clipped to a surface or in a sleeve, both legs together, `G` is what the permitted currents of IEC 60364-5-52 imply
//! (table B.52.2, two loaded conductors, PVC at 70 °C in air of 30 °C; from memory): the losses at the permitted current over
//! the permitted rise of 40 K. Over 1.5 to 70 mm² that is 0.125 and 0.100 W/(K·m) times the fourth root of the area in mm²,
//! to 4 and 2 %. A bundle is a sleeve among others: three circuits together carry 0.70 of the current each (table B.52.17,
//! from memory), and so give off half of the heat.

/// Heat transfer of a cable alone in still air, W/(m²·K); from memory, textbooks give 10 to 17.
const H_W_PER_M2_K: f64 = 12.0;
/// What a metre of 1 mm² gives off clipped to a surface (method C), W/(K·m); goes with the fourth root of the area.
const CLIPPED_W_PER_K_M: f64 = 0.125;
/// The same in a sleeve or conduit (method B1), W/(K·m).
const SLEEVED_W_PER_K_M: f64 = 0.1;
/// Share of its current that each of three circuits together may carry.
const THREE_CIRCUITS: f64 = 0.7;
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
    /// Heat given off by a metre of conductor, W/(K·m).
    pub fn w_per_k_m(self, area_mm2: f64) -> f64 {
        let diameter_m = 1e-3 * (1.6 * area_mm2.sqrt() + 1.7);
        let free = H_W_PER_M2_K * std::f64::consts::PI * diameter_m;
        let by_table = |at_1_mm2: f64| (at_1_mm2 * area_mm2.powf(0.25)).min(free);
        match self {
            Laying::FreeAir => free,
            Laying::Clipped => by_table(CLIPPED_W_PER_K_M),
            Laying::Sleeved => by_table(SLEEVED_W_PER_K_M),
            Laying::Bundled => THREE_CIRCUITS * THREE_CIRCUITS * by_table(SLEEVED_W_PER_K_M),
        }
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

    /// Current that brings a conductor to `limit_c` in air of 30 °C, A.
    fn permitted_a(laying: Laying, area_mm2: f64, ohm_20_per_m: f64, limit_c: f64) -> f64 {
        let ohm = ohm_20_per_m * (1.0 + 0.00393 * (limit_c - 20.0));
        (laying.w_per_k_m(area_mm2) * (limit_c - 30.0) / ohm).sqrt()
    }

    /// IEC 60364-5-52 table B.52.2, two loaded conductors, copper, PVC at 70 °C in 30 °C: method B1 (in conduit on a wall)
    /// and method C (clipped direct), A. From memory. Conductors of class 2 (IEC 60228).
    #[test]
    fn sleeved_and_clipped_carry_what_conduit_tables_permit() {
        let rows = [
            (1.5, 12.1, 17.5, 19.5),
            (2.5, 7.41, 24.0, 27.0),
            (4.0, 4.61, 32.0, 36.0),
            (6.0, 3.08, 41.0, 46.0),
            (10.0, 1.83, 57.0, 63.0),
            (16.0, 1.15, 76.0, 85.0),
            (25.0, 0.727, 101.0, 112.0),
            (35.0, 0.524, 125.0, 138.0),
            (50.0, 0.387, 151.0, 168.0),
            (70.0, 0.268, 192.0, 213.0),
        ];
        for (area, mohm, conduit_a, clipped_a) in rows {
            for (laying, table_a) in [(Laying::Sleeved, conduit_a), (Laying::Clipped, clipped_a)] {
                let ours = permitted_a(laying, area, 1e-3 * mohm, 70.0);
                assert!(
                    (ours / table_a - 1.0).abs() < 0.03,
                    "{area} mm² {laying:?}: {ours:.1} for {table_a} A"
                );
            }
        }
    }

    /// 33 CFR 183.425 table 5 is for conductors alone; of three in one sheath each may carry 70 % of it (its note; from
    /// memory). Two in a sleeve lie between: 105 °C insulation in 30 °C, AWG 8 to 2/0, stranded.
    #[test]
    fn sleeved_lies_between_alone_and_three_in_a_sheath() {
        for (area, alone_a) in
            [(8.366, 80.0), (13.302, 120.0), (21.151, 160.0), (33.631, 210.0), (53.475, 285.0)]
        {
            let ours = permitted_a(Laying::Sleeved, area, 1.02 / 58.0 / area, 105.0);
            assert!((0.66..1.0).contains(&(ours / alone_a)), "{area} mm²: {ours:.1} of {alone_a} A");
        }
    }

    #[test]
    fn the_closer_it_lies_the_less_it_gives_off() {
        for area in [0.5, 1.5, 6.0, 16.0, 70.0, 400.0] {
            let all = [Laying::FreeAir, Laying::Clipped, Laying::Sleeved, Laying::Bundled];
            let g = all.map(|l| l.w_per_k_m(area));
            assert!(g.is_sorted_by(|a, b| a >= b), "{area} mm²: {g:?}");
        }
    }
}
