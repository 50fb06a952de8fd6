//! Sizes of conductors and fuses against tables of other hands; the standing of each stands beside it. The thermal model is
//! held to them as a bracket: tables are made for another laying, another air and another insulation each.

use sim_cli::load::load_from;
use sim_core::plant::cable::Cable;
use sim_core::plant::conductor::adiabatic_k;
use sim_core::plant::fuse::{KINDS, for_hours_share};
use sim_core::study::size::rules::{Demand, Rule, held, smallest};
use sim_core::study::size::{Ask, Sizes, sizes};
use sim_core::study::{Case, OneThread, Trial};
use sim_tests::look::near;
use std::path::Path;

/// A cable in the cabin, laid in some way.
fn cable(size: &str, laying: &str) -> Cable {
    let text = format!(
        "format = 2\n[input_cable]\nlength_m = 5\n{size}\nlaying = \"{laying}\"\nengine_bay_m = 0\n[[drive.piece]]\n\
         duration_s = 60\nengine_rpm = 1500\n"
    );
    let mut input = text.as_bytes();
    let loaded = load_from(Path::new("-"), &[], &mut input).unwrap_or_else(|e| panic!("{}", e.told(false).0));
    loaded.resolved.model.link().input_cable.clone()
}

fn carries_a(size: &str, laying: &str, most_c: f64, air_c: f64) -> f64 {
    cable(size, laying).carries_a(most_c, air_c, air_c).expect("it warms")
}

/// IEC 60364-4-43: k = 115 for copper from 70 to 160 °C (from memory), and 2,500 A for 0.1 s need 6.9 mm² (seen quoted).
#[test]
fn short_circuits_of_iec_60364_4_43() {
    near("k", adiabatic_k(70.0, 160.0), 115.0, 0.2);
    near("area", 2500.0 * 0.1f64.sqrt() / adiabatic_k(70.0, 160.0), 6.9, 0.05);
}

/// IEC 60364-5-52, method F, 70 °C insulation in 30 °C air: three loaded in trefoil (seen quoted), two loaded (from memory).
/// Clipped legs carry what the trefoil does, within 4 %; legs apart in free air what two loaded do, within 6 %.
#[test]
fn a_clipped_cable_beside_method_f() {
    let sizes = [("25", 110.0, 131.0), ("35", 137.0, 162.0), ("50", 167.0, 196.0), ("70", 216.0, 251.0)];
    for (mm2, three_a, two_a) in sizes {
        let clipped = carries_a(&format!("area_mm2 = {mm2}"), "clipped", 70.0, 30.0);
        let free = carries_a(&format!("area_mm2 = {mm2}"), "free-air", 70.0, 30.0);
        println!("{mm2} mm²: clipped {clipped:.0} A, free {free:.0} A; tables {three_a}, {two_a}");
        assert!((0.96..1.04).contains(&(clipped / three_a)), "{mm2}: {clipped} beside {three_a}");
        assert!((0.94..1.06).contains(&(free / two_a)), "{mm2}: {free} beside {two_a}");
    }
}

/// 33 CFR 183.425, table 5, outside engine spaces, insulation of 75 and 105 °C (seen): conductors of boats, air of 30 °C. Single
/// conductors lying free carry as much within a tenth; in a sleeve they carry less than the table at every size.
#[test]
fn a_free_cable_beside_the_table_for_boats() {
    let sizes = [
        ("8", 65.0, 80.0),
        ("6", 95.0, 120.0),
        ("4", 125.0, 160.0),
        ("2", 170.0, 210.0),
        ("1/0", 230.0, 285.0),
    ];
    for (awg, at_75, at_105) in sizes {
        for (most_c, table_a) in [(75.0, at_75), (105.0, at_105)] {
            let size = format!("awg = \"{awg}\"");
            let [free, sleeved] = ["free-air", "sleeved"].map(|l| carries_a(&size, l, most_c, 30.0));
            println!("{awg} AWG at {most_c} °C: free {free:.0} A, sleeved {sleeved:.0} A; table {table_a}");
            assert!((0.9..1.1).contains(&(free / table_a)), "{awg} at {most_c}: {free} beside {table_a}");
            assert!(sleeved < table_a, "{awg} at {most_c}: {sleeved} beside {table_a}");
        }
    }
}

/// ISO 8820-3: up to 100 A, breaking capacity 1,000 A (seen). A lithium bank of a few milliohms drives more than that.
#[test]
fn a_blade_fuse_does_not_break_a_lithium_bank() {
    for kind in KINDS.iter().filter(|k| k.word.starts_with("iso-8820-3")) {
        assert_eq!(kind.breaks_a, 1000.0);
        assert!(kind.ratings_a.iter().all(|a| *a <= 100.0));
        assert!(kind.ratings_a.is_sorted_by(|a, b| a < b));
    }
    let of = |short_a: f64| smallest(40.0, short_a).expect("a fuse").kind.expect("a type");
    assert!(of(900.0).starts_with("iso-8820-3") && of(1100.0).starts_with("iso-8820-5"));
    // About three quarters of the rating for hours (common practice, no source), less in a hot place.
    near("share", for_hours_share(23.0), 0.75, 1e-12);
    assert!(for_hours_share(80.0) < 0.7);
}

/// Each rule by hand: 6 mm² class 5, 2 × 5 m at 3.30 mΩ/m (IEC 60228), 40 A, no heat followed, 2 mΩ of joints.
#[test]
fn rules_by_hand() {
    let loop_ohm = 10.0 * 3.30e-3 + 2e-3;
    let plain = Cable::constant(10.0 * 3.30e-3, 2e-3);
    let ask = Demand {
        load_a: 40.0,
        most_drop_v: 0.6,
        insulation_c: 70.0,
        air_c: 40.0,
        bay_c: 40.0,
        fuse_air_c: 23.0,
        spare: 0.0,
        battery: (12.7, 0.005),
    };
    let row = held("6 mm²", 6.0, &plain, &ask, None);
    near("drop", row.drop_v, 40.0 * loop_ohm, 1e-12);
    assert!(row.broken.iter().any(|b| b.rule == Rule::Drop && b.limit == 0.6));
    // 40 A / 0.75 = 53.3 A: the next rating is 60 A. At the battery 12.7 V drive 2,048 A through 5 mΩ and a fuse of 1.2 mΩ.
    let fuse = row.fuse.as_ref().expect("a fuse");
    assert_eq!(fuse.rating_a, 60.0);
    near("near", row.short_a[0], 12.7 / 0.0062, 1e-9);
    near("far", row.short_a[1], 12.7 / (0.005 + loop_ohm), 1e-9);
    assert_eq!(row.fuse_must_break_a(), Some(row.short_a[0]), "2,000 A are less than 2,048 A");
    // The far end: 318 A are 5.3 times 60 A, off within the 1 to 5 s of the bolted band's late edge.
    assert!(row.broken.iter().all(|b| b.rule != Rule::FarEnd));
    // Let-through at the far end: at least 318² × 1 s = 0.1 million A²s; 6 mm² bear (115 × 6)² = 0.48 million.
    assert!(row.broken.iter().all(|b| b.rule != Rule::ShortCircuit), "{:?}", row.broken);
    let thin = held("1.5 mm²", 1.5, &plain, &ask, None);
    assert!(thin.broken.iter().any(|b| b.rule == Rule::ShortCircuit), "(115 × 1.5)² = 0.03 million");
}

fn case(name: &str, set: &[&str]) -> Case {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios").join(name);
    let set: Vec<String> = set.iter().map(|s| (*s).to_owned()).collect();
    sim_cli::load::load(&file, &set).unwrap_or_else(|e| panic!("{}", e.told(false).0)).case
}

const ASK: Ask = Ask { most_drop: [0.05, 0.03], margin_v: 0.0, spare: 0.0 };

fn sized(set: &[&str]) -> Sizes {
    sizes(&case("reference-van-full.toml", set), &ASK, &OneThread).expect("it is sized")
}

fn area(found: &Sizes) -> [f64; 2] {
    [0, 1].map(|n| found.cables[n].row().map_or(f64::INFINITY, |r| r.area_mm2))
}

/// More current, more length, a hotter bay never take less copper; the size below breaks a rule or has a trouble that is named.
#[test]
fn sizes_rise_with_what_is_asked() {
    for (key, values) in [
        ("converter.output_limit_a", ["10", "20", "40", "60"]),
        ("input_cable.length_m", ["1.5", "3", "6", "12"]),
        ("drive.bay_c", ["30", "50", "65", "75"]),
    ] {
        let mut before = [0.0; 2];
        for value in values {
            let found = sized(&[&format!("{key}={value}"), "converter.input_limit_a=150"]);
            let now = area(&found);
            assert!(now[0] >= before[0] && now[1] >= before[1], "{key}={value}: {now:?} after {before:?}");
            before = now;
            for cable in &found.cables {
                if let Some(less) = cable.less() {
                    assert!(
                        !less.broken.is_empty() || !cable.smaller.is_empty(),
                        "{key}={value}: {}",
                        less.name
                    );
                }
            }
        }
    }
}

/// What is taken has, as a scenario of its own, no trouble that the thickest cable spares, and meets its rules when held again.
#[test]
fn what_is_taken_stands_when_it_is_there() {
    let before = case("reference-van-full.toml", &[]);
    let found = sizes(&before, &ASK, &OneThread).expect("it is sized");
    let keys = found.keys(&before).expect("keys");
    let after = before.with_all(keys.iter().map(|(k, v)| (k.as_str(), v.clone()))).expect("keys of its own");
    let again = sizes(&after, &ASK, &OneThread).expect("it is sized");
    assert_eq!(area(&again), area(&found));
    for cable in &again.cables {
        assert!(cable.fused);
        let but_breaking: Vec<_> = cable.now.broken.iter().filter(|b| b.rule != Rule::Breaking).collect();
        assert!(but_breaking.is_empty(), "{but_breaking:?}");
    }
}

/// Vehicles drawn at random: what is taken is, as a scenario run strictly, hot or not, without a hot conductor and without a fuse
/// that opens; more to spare never takes less copper; what a size less breaks is named. `TICKOVER_VEHICLES` draws more.
#[test]
fn what_is_taken_serves_vehicles_drawn_at_random() {
    let wanted = std::env::var("TICKOVER_VEHICLES").ok().and_then(|n| n.parse().ok()).unwrap_or(40);
    let (mut taken, mut by_corner) = (0, 0);
    for seed in 0..wanted {
        let d = &mut sim_tests::dice::Dice::new(7100 + seed);
        let set = [
            ("converter.output_limit_a", d.log_between(8.0, 70.0)),
            ("converter.input_limit_a", 200.0),
            ("input_cable.length_m", d.log_between(1.6, 12.0)),
            ("input_cable.joints_mohm", d.between(0.5, 3.0)),
            ("output_cable.length_m", d.log_between(0.5, 5.0)),
            ("house_battery.capacity_ah", d.between(80.0, 400.0)),
            ("house_battery.start_pct", d.between(20.0, 90.0)),
            ("drive.bay_c", d.between(30.0, 70.0)),
            ("alternator.set_point_v", d.between(13.9, 14.6)),
        ];
        let before = set.iter().try_fold(case("reference-van-full.toml", &[]), |c, (k, v)| c.with(k, *v));
        let before = before.expect("keys of the scenario");
        // Where the drop is let go far, volts at the corners decide.
        let ask = if seed % 2 == 0 { ASK } else { Ask { most_drop: [0.15, 0.10], ..ASK } };
        let found = sizes(&before, &ask, &OneThread).expect("it is sized");
        let spare = sizes(&before, &Ask { spare: 0.5, ..ask }, &OneThread).expect("it is sized");
        let (now, more) = (area(&found), area(&spare));
        assert!(more[0] >= now[0] && more[1] >= now[1], "{seed}: {more:?} under {now:?}");
        if found.cables.iter().any(|c| c.taken.is_none()) {
            continue;
        }
        taken += 1;
        for cable in &found.cables {
            let less = cable.less().expect("the thinnest serves no unit of 8 A");
            assert!(!less.broken.is_empty() || !cable.smaller.is_empty(), "{seed}: {}", less.name);
            by_corner += usize::from(less.broken.is_empty());
        }
        let keys = found.keys(&before).expect("keys");
        let after = before.with_all(keys.iter().map(|(k, v)| (k.as_str(), v.clone()))).expect("keys");
        for air_c in [20.0, 40.0] {
            let trial = Trial::run(&after.with("drive.air_c", air_c).expect("a key")).expect("it runs");
            let bad = trial.verdict.bad().find(|f| {
                use sim_core::judge::Kind::{ConductorHot, FuseMayOpen, FuseOpened, FuseOver};
                matches!(
                    f.kind,
                    ConductorHot { .. } | FuseMayOpen { .. } | FuseOpened { .. } | FuseOver { .. }
                )
            });
            assert!(bad.is_none(), "{seed} at {air_c} °C: {bad:?}");
        }
    }
    println!("{taken} of {wanted} sized, {by_corner} sizes ruled by a corner alone");
    assert!(2 * taken > wanted && by_corner > 0, "{taken} of {wanted}, {by_corner}");
}
