//! Conductor tables, each against its source; its standing is named beside it.

use sim_core::plant::conductor::{Build, at_temp, awg_area_mm2, ohm_per_m, sae_area_mm2, stranded_ohm_per_m};
use sim_tests::look::near;

fn relative(what: &str, found: f64, expected: f64, share: f64) {
    near(what, found, expected, share * expected.abs());
}

fn table(build: Build, area_mm2: f64) -> f64 {
    ohm_per_m(build, area_mm2).unwrap_or_else(|| panic!("no {area_mm2} mm2"))
}

/// The sizes of IEC 60228 that the tables of this program hold.
const SIZES: [f64; 12] = [1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0, 70.0, 95.0, 120.0];

/// IEC 60228, greatest d.c. resistance at 20 °C in Ω/km: Table 2 (class 2), Table 3 (class 5, plain and tinned). Seen quoted
/// in public pages; the standard itself was not seen. The program's table was typed from the same pages, so three rows
/// only say that it is that table and in which unit; whether it is right, the tests below tell by tables of other hands.
#[test]
fn iec_60228() {
    for (area, class2, class5, tinned) in
        [(6.0, 3.08, 3.30, 3.39), (16.0, 1.15, 1.21, 1.24), (50.0, 0.387, 0.386, 0.393)]
    {
        for (build, km) in [(Build::Class2, class2), (Build::Class5, class5), (Build::Class5Tinned, tinned)] {
            relative(&format!("{build:?} {area}"), 1e3 * table(build, area), km, 1e-15);
        }
    }
    assert_eq!(ohm_per_m(Build::Class5, 3.0), None);
}

/// ISO 6722-1, greatest resistance of road vehicles' cables at 20 °C, mΩ/m: another committee's table, from memory, so a band
/// at most. Its strands are laid less tightly: class 5 has 4 to 6 % more at every size, which no slip of a digit would leave.
#[test]
fn road_vehicle_cables_have_a_little_less() {
    // A table's 3.14 mΩ/m is a resistance.
    #[allow(clippy::approx_constant)]
    let iso = [12.7, 7.60, 4.71, 3.14, 1.82, 1.16, 0.743, 0.527, 0.368, 0.259, 0.196, 0.153];
    for (area, milliohm) in SIZES.into_iter().zip(iso) {
        let ratio = 1e3 * table(Build::Class5, area) / milliohm;
        assert!((1.04..1.06).contains(&ratio), "{area} mm2: {ratio}");
    }
}

/// Tin costs a few per cent (general knowledge, no source): a band for a column that no other table checks.
#[test]
fn tinned_wires_have_a_little_more() {
    for area in SIZES {
        let ratio = table(Build::Class5Tinned, area) / table(Build::Class5, area);
        assert!((1.015..1.035).contains(&ratio), "{area} mm2: {ratio}");
    }
}

/// 16 mm² class 5, 5 m there and back, 40 A: 0.484 V, 4.03 % of 12 V (worked from IEC 60228's row by hand).
#[test]
fn a_worked_volt_drop() {
    let drop_v = 40.0 * 2.0 * 5.0 * table(Build::Class5, 16.0);
    near("drop", drop_v, 0.484, 5e-4);
    near("share", 100.0 * drop_v / 12.0, 4.03, 5e-3);
}

/// IEC 60228's annex, factors from a measured resistance to that at 20 °C. It uses 0.004/K in round numbers; copper's
/// 0.00393/K (IEC 60028) comes out within 0.5 %.
#[test]
fn temperature_factors_of_iec_60228() {
    for (c, factor) in [
        (5.0, 1.064),
        (10.0, 1.042),
        (25.0, 0.980),
        (30.0, 0.962),
        (40.0, 0.926),
        (50.0, 0.893),
        (60.0, 0.862),
        (75.0, 0.820),
        (90.0, 0.781),
    ] {
        relative(&format!("{c} °C"), 1.0 / at_temp(1.0, c), factor, 5e-3);
    }
}

/// BS 7671 Table 4E1B: two conductors, d.c., at 90 °C, mV/A/m. Seen in public pages. It was made from conductor tables by
/// its own authors, so it checks the resistances and their temperature law together.
#[test]
fn bs_7671_volt_drop_at_90_c() {
    let rows = [
        (1.5, 31.0),
        (2.5, 19.0),
        (4.0, 12.0),
        (6.0, 7.9),
        (10.0, 4.7),
        (16.0, 2.9),
        (25.0, 1.85),
        (35.0, 1.35),
        (50.0, 0.99),
        (70.0, 0.68),
        (95.0, 0.49),
        (120.0, 0.39),
    ];
    for (area, mv) in rows {
        let found = 2e3 * at_temp(table(Build::Class2, area), 90.0);
        // The table has two or three digits: 2.1 % at 4 mm² (12 for 11.76), within 1.2 % elsewhere.
        relative(&format!("{area} mm2"), found, mv, if area == 4.0 { 0.021 } else { 0.012 });
    }
}

/// BS 7671 Table 4F3B: flexible cables at 60 °C, mV/A/m. Seen in public pages; an old table, made for other strands.
#[test]
fn bs_7671_flexible_at_60_c() {
    for (area, mv) in [(1.5, 32.0), (2.5, 19.0), (4.0, 12.0)] {
        let found = 2e3 * at_temp(table(Build::Class5, area), 60.0);
        // Today's class 5 comes out 2.8 to 4.6 % lower than the old table; never higher.
        assert!(found < mv, "{area} mm2: {found}");
        relative(&format!("{area} mm2"), found, mv, 0.047);
    }
}

/// ASTM B258 diameters give the areas; sizes 1 to 24 seen in two public pages, the larger ones recomputed. Ω/km of solid
/// copper are recomputed with 17.241 Ω·mm²/km; 12 and 14 AWG per 1000 ft were seen.
#[test]
fn awg_areas_and_resistance() {
    let rows = [
        ("14", 2.081, 8.285),
        ("12", 3.309, 5.211),
        ("10", 5.261, 3.277),
        ("8", 8.366, 2.061),
        ("6", 13.302, 1.296),
        ("4", 21.151, 0.8152),
        ("3", 26.670, 0.6464),
        ("2", 33.631, 0.5127),
        ("1", 42.408, 0.4066),
        ("1/0", 53.475, 0.3224),
        ("2/0", 67.431, 0.2557),
        ("3/0", 85.029, 0.2028),
        ("4/0", 107.219, 0.1608),
    ];
    for (size, mm2, solid_ohm_per_km) in rows {
        let area = awg_area_mm2(size).expect("a size");
        // Areas are printed with three decimals.
        near(size, area, mm2, 6e-4);
        // Four digits printed, and 17.241 for 1/58.
        relative(size, 1e3 * table(Build::PureCopper, area), solid_ohm_per_km, 2.1e-4);
    }
    assert_eq!(awg_area_mm2("5/0"), None);
    assert_eq!(awg_area_mm2("21"), None);
}

/// NEC chapter 9 table 8, uncoated stranded copper at 75 °C, Ω per 1000 ft. Quoted in one public page; the standard was
/// not seen, and rows below 6 AWG disagree about stranding there, so they are left out.
#[test]
fn nec_table_8_at_75_c() {
    let rows = [
        ("6", 0.491),
        ("4", 0.308),
        ("3", 0.245),
        ("2", 0.194),
        ("1", 0.154),
        ("1/0", 0.122),
        ("2/0", 0.0967),
        ("3/0", 0.0766),
        ("4/0", 0.0608),
    ];
    for (size, ohm) in rows {
        let area = awg_area_mm2(size).expect("a size");
        let found = 304.8 * at_temp(stranded_ohm_per_m(area), 75.0);
        // Three digits and an unknown exact lay: within 0.5 %.
        relative(size, found, ohm, 5e-3);
    }
}

/// SAE J1128 smallest areas. Circular mils of 6 to 4/0 seen in two public pages (1 and 3/0 in one), the small sizes from
/// memory; mm² recomputed.
#[test]
fn sae_areas() {
    let rows = [
        ("18", 0.779),
        ("16", 1.184),
        ("14", 1.876),
        ("12", 2.956),
        ("10", 4.734),
        ("8", 7.504),
        ("6", 12.43),
        ("4", 18.93),
        ("2", 31.64),
        ("1", 39.42),
        ("1/0", 50.15),
        ("2/0", 63.39),
        ("3/0", 80.36),
        ("4/0", 104.1),
    ];
    for (size, mm2) in rows {
        let area = sae_area_mm2(size).expect("a size");
        // Four digits.
        relative(size, area, mm2, 5e-4);
        // SAE sizes are smaller than AWG of the same number.
        assert!(area < awg_area_mm2(size).expect("a size"), "{size}");
    }
}

/// Volt drop `CM = K·I·L/E` with K = 10.75 Ω·cmil/ft (ABYC E-11; seen in a public page) and its worked examples.
#[test]
fn abyc_worked_examples() {
    const CMIL_PER_MM2: f64 = 1.0 / 5.067e-4;
    const FOOT_M: f64 = 0.3048;
    // K belongs to copper at 29.3 °C (recomputed): resistance of one foot of one circular mil.
    let k = at_temp(table(Build::PureCopper, 1.0), 29.3) * CMIL_PER_MM2 * FOOT_M;
    relative("K", k, 10.75, 5e-4);
    let k20 = table(Build::PureCopper, 1.0) * CMIL_PER_MM2 * FOOT_M;
    relative("K at 20 degrees", k20, 10.371, 1e-4);
    for (t, expected) in [(50.0, 11.59), (75.0, 12.61)] {
        relative("K", at_temp(k20, t), expected, 5e-4);
    }
    let drop_v = |area_mm2: f64, amps: f64, feet: f64| {
        amps * feet * FOOT_M * at_temp(table(Build::PureCopper, area_mm2), 29.3)
    };
    // A pump: 10 A, 11 ft out and 10 ft back, 12 V. 10 % allows 16 AWG, 3 % needs SAE 10 (chandlery table, seen twice).
    let pump = |area| drop_v(area, 10.0, 21.0) / 12.0;
    assert!(pump(awg_area_mm2("16").expect("a size")) < 0.10);
    assert!(pump(awg_area_mm2("18").expect("a size")) > 0.10);
    assert!(pump(sae_area_mm2("10").expect("a size")) < 0.03);
    assert!(pump(sae_area_mm2("12").expect("a size")) > 0.03);
    assert!(pump(awg_area_mm2("12").expect("a size")) < 0.03);
    // 40 A over 30 ft with 0.36 V allowed needs 35 833 cmil: 4 AWG, SAE 4 too (recomputed).
    relative("drop", drop_v(35_833.0 / CMIL_PER_MM2, 40.0, 30.0), 0.36, 5e-4);
    assert!(drop_v(sae_area_mm2("4").expect("a size"), 40.0, 30.0) < 0.36);
    assert!(drop_v(sae_area_mm2("6").expect("a size"), 40.0, 30.0) > 0.36);
}

/// 16 mm² class 5, 5 m, 40 A at 20 °C: 12.1 mΩ, 0.484 V, 4.03 % of 12 V (recomputed).
#[test]
fn five_metres_of_sixteen() {
    let ohm = 2.0 * 5.0 * table(Build::Class5, 16.0);
    relative("loop", ohm, 12.1e-3, 1e-12);
    relative("drop", 40.0 * ohm, 0.484, 1e-12);
    near("share", 40.0 * ohm / 12.0, 0.0403, 5e-5);
}
