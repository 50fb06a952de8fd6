//! Conductor resistance from tables by size.
//!
//! IEC 60228 (greatest d.c. resistance at 20 °C, plain copper: Table 2, class 2; Table 3, class 5 plain and tinned; values
//! seen quoted in three independent public pages). AWG areas follow ASTM B258, with 2 % for stranding lay as the
//! columns of NEC chapter 9 table 8 imply. SAE areas follow SAE J1128. Pure copper is ρ = 1/58 Ω·mm²/m (IEC 60028).

/// Resistivity of annealed copper at 20 °C, Ω·mm²/m (IEC 60028).
pub const COPPER_OHM_MM2_PER_M: f64 = 1.0 / 58.0;
/// Temperature coefficient of copper's resistance at 20 °C, 1/K (IEC 60028).
pub const COPPER_PER_K: f64 = 0.00393;
/// Temperature that tables of conductors belong to, °C.
pub const COPPER_REFERENCE_C: f64 = 20.0;
/// Extra length of stranded AWG conductors from their lay, as a factor.
const STRANDING: f64 = 1.02;
/// A circular mil in mm².
const CMIL_MM2: f64 = 5.067_074_790_974_977e-4;

/// Area mm², class 2, class 5, class 5 tinned: mΩ/m.
const IEC_60228: [(f64, f64, f64, f64); 12] = [
    (1.5, 12.1, 13.3, 13.7),
    (2.5, 7.41, 7.98, 8.21),
    (4.0, 4.61, 4.95, 5.09),
    (6.0, 3.08, 3.30, 3.39),
    (10.0, 1.83, 1.91, 1.95),
    (16.0, 1.15, 1.21, 1.24),
    (25.0, 0.727, 0.780, 0.795),
    (35.0, 0.524, 0.554, 0.565),
    (50.0, 0.387, 0.386, 0.393),
    (70.0, 0.268, 0.272, 0.277),
    (95.0, 0.193, 0.206, 0.210),
    (120.0, 0.153, 0.161, 0.164),
];

/// Smallest area of an SAE size, circular mils.
const SAE_J1128: [(&str, f64); 14] = [
    ("18", 1537.0),
    ("16", 2336.0),
    ("14", 3702.0),
    ("12", 5833.0),
    ("10", 9343.0),
    ("8", 14_810.0),
    ("6", 24_538.0),
    ("4", 37_360.0),
    ("2", 62_450.0),
    ("1", 77_790.0),
    ("1/0", 98_980.0),
    ("2/0", 125_100.0),
    ("3/0", 158_600.0),
    ("4/0", 205_500.0),
];

/// How a conductor is built, which decides its resistance for a nominal area.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Build {
    /// IEC 60228 class 2: stranded, stiff.
    Class2,
    /// IEC 60228 class 5: flexible.
    Class5,
    /// IEC 60228 class 5 of tinned wires.
    Class5Tinned,
    /// Area times pure copper; a real cable has 10 to 16 % more.
    PureCopper,
}

/// Resistance per metre of one leg at 20 °C, Ω/m, for an area that the table holds; pure copper takes any area.
pub fn ohm_per_m(build: Build, area_mm2: f64) -> Option<f64> {
    if build == Build::PureCopper {
        return Some(COPPER_OHM_MM2_PER_M / area_mm2);
    }
    IEC_60228.iter().find(|row| row.0 == area_mm2).map(|&(_, two, five, tinned)| {
        1e-3 * match build {
            Build::Class2 => two,
            Build::Class5 => five,
            Build::Class5Tinned | Build::PureCopper => tinned,
        }
    })
}

/// What a copper conductor bears while nothing cools it, A·√s/mm²: its square times the area's is the integral of the current's
/// square that takes it from one temperature to another (IEC 60949: 226 A·√s/mm², 234.5 °C; 70 to 160 °C gives the 115 of IEC
/// 60364-4-43).
pub fn adiabatic_k(from_c: f64, to_c: f64) -> f64 {
    226.0 * ((234.5 + to_c) / (234.5 + from_c)).ln().max(0.0).sqrt()
}

/// The areas that IEC 60228 lists here, mm².
pub fn areas_mm2() -> impl Iterator<Item = f64> {
    IEC_60228.iter().map(|row| row.0)
}

/// The SAE sizes that are known here, thinnest first.
pub fn sae_sizes() -> impl Iterator<Item = &'static str> {
    SAE_J1128.iter().map(|row| row.0)
}

/// AWG sizes that batteries are wired with, thinnest first.
pub fn awg_sizes() -> impl Iterator<Item = &'static str> {
    ["14", "12", "10", "8", "6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0"].into_iter()
}

/// Area of an AWG size such as `"6"` or `"2/0"`, mm² (ASTM B258); `None` for a size outside 20 to 4/0.
pub fn awg_area_mm2(size: &str) -> Option<f64> {
    let n: f64 = match size.split_once('/') {
        Some((zeros, "0")) => {
            1.0 - zeros.parse::<u8>().ok().filter(|z| (1..=4).contains(z)).map(f64::from)?
        }
        Some(_) => return None,
        None => size.parse::<u8>().ok().filter(|n| *n <= 20).map(f64::from)?,
    };
    let d_mm = 0.127 * 92f64.powf((36.0 - n) / 39.0);
    Some(std::f64::consts::FRAC_PI_4 * d_mm * d_mm)
}

/// Area of an SAE size, mm² (SAE J1128, smallest allowed).
pub fn sae_area_mm2(size: &str) -> Option<f64> {
    SAE_J1128.iter().find(|row| row.0 == size).map(|row| row.1 * CMIL_MM2)
}

/// Resistance per metre of a stranded AWG or SAE conductor of this area at 20 °C, Ω/m.
pub fn stranded_ohm_per_m(area_mm2: f64) -> f64 {
    STRANDING * COPPER_OHM_MM2_PER_M / area_mm2
}

/// Resistance at a conductor temperature from that at 20 °C (IEC 60228: linear in temperature).
pub fn at_temp(r20_ohm: f64, temp_c: f64) -> f64 {
    r20_ohm * (1.0 + COPPER_PER_K * (temp_c - COPPER_REFERENCE_C))
}
