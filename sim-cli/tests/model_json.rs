//! `model --json`: everything in it, each number with where it came from, and nothing that does not act.

mod support;

use serde_json::Value;
use sim_cli::Exit;
use support::{Folder, SMALL, root, tickover};

/// Scenarios that between them have every part of the model.
fn scenarios() -> Vec<(&'static str, String)> {
    let shipped = |name: &str, set: &[&str]| {
        let file = root().join("scenarios").join(name).display().to_string();
        let set = set.iter().flat_map(|s| ["--set".to_owned(), (*s).to_owned()]);
        [vec![file], set.collect()].concat().join("\n")
    };
    let twice =
        ["starter_battery.cells=12", "alternator.set_point_v=28.4", "starter_battery.cranking_label_a=700"];
    let unit = [
        "converter.locker_w_per_k=2",
        "start_stop.signal=second-pair",
        "alternator.regulation=variable",
        "protection.heater_w=40",
        "house_battery.start_c=5",
    ];
    let fuses = [
        "input_cable.fuse_a=60",
        "input_cable.fuse_kind=iso-8820-5-sf51",
        "input_cable.unit_end_fuse_a=60",
        "input_cable.unit_end_fuse_times_rating=[1.1, 6]",
        "input_cable.unit_end_fuse_opens_s=[10000, 1]",
        "output_cable.fuse_a=60",
        "output_cable.fuse_kind=iso-8820-3-e",
        "output_cable.unit_end_fuse_a=60",
        "output_cable.unit_end_fuse_breaks_a=5000",
        "input_cable.joints_mohm=3",
        "output_cable.joints_mohm=3",
    ];
    vec![
        ("plain", shipped("reference-van.toml", &[])),
        ("full", shipped("reference-van-full.toml", &[])),
        (
            "house of agm",
            shipped("reference-van-full.toml", &["house_battery.chemistry=agm", "house_battery.cells=6"]),
        ),
        ("24 V vehicle", shipped("reference-van-full.toml", &twice)),
        ("unit and rule", shipped("reference-van-full.toml", &unit)),
        ("whole cable", shipped("reference-van-full.toml", &["input_cable.resistance_mohm=14"])),
        ("fuses", shipped("reference-van-full.toml", &fuses)),
        ("stop-start", shipped("patterns/farrier.toml", &[])),
    ]
}

fn model(words: &str) -> Value {
    let words: Vec<&str> = ["model", "--json"].into_iter().chain(words.split('\n')).collect();
    let printed = tickover(&words);
    assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
    serde_json::from_str(&printed.out).expect("JSON")
}

fn leaves(path: &str, value: &Value, see: &mut impl FnMut(&str, f64)) {
    match value {
        Value::Object(parts) => parts.iter().for_each(|(k, v)| leaves(&format!("{path}.{k}"), v, see)),
        Value::Array(parts) => {
            parts.iter().enumerate().for_each(|(n, v)| leaves(&format!("{path}.{n}"), v, see));
        }
        Value::Number(n) => see(path.trim_start_matches('.'), n.as_f64().expect("a number")),
        _ => {}
    }
}

/// A field that is new in the model is in the JSON by itself; here it is asked where its number comes from.
#[test]
fn every_number_of_the_model_says_where_it_comes_from() {
    for (name, words) in scenarios() {
        let whole = model(&words);
        let mut count = 0;
        leaves("", &whole["model"], &mut |path, _| {
            let from = &whole["origins"][path];
            let how = from["how"].as_str().unwrap_or_default();
            assert!(from["from"].is_string() && how != "not told", "{name}: {path}: {from}");
            // A key that does not hold the number it is said to hold, where nothing else has its say.
            let else_said = path == "alternator.set_point_v";
            assert!(else_said || !how.ends_with("and what else is said"), "{name}: {path}: {from}");
            count += 1;
        });
        assert!(count > 60, "{name}: {count}");
        assert_eq!(count, whole["origins"].as_object().expect("a table").len(), "{name}");
    }
}

#[test]
fn every_number_has_its_unit_in_its_name() {
    let units = [
        "_v", "_a", "_s", "_w", "_c", "_k", "_ohm", "_rpm", "_per_k", "_per_s", "_per_w", "_per_v",
        "_per_kwh", "_20",
    ];
    // Shares, ratios and counts.
    let bare = [
        "times_rating",
        "soc",
        "v",
        "efficiency",
        "pulley_ratio",
        "charge_efficiency",
        "start_soc",
        "low_soc",
        "proportional",
        "cells",
        "charge_share",
        "charge_power",
        "acceptance",
        "half_soc",
        "r0_empty_rise",
        "hysteresis_rate",
        "start_hysteresis",
        "day",
        "gassing_most_exponent",
    ];
    for (name, words) in scenarios() {
        let whole = model(&words);
        for part in ["model", "constants", "drive"] {
            leaves("", &whole[part], &mut |path, _| {
                let named =
                    path.rsplit('.').find(|p| p.parse::<usize>().is_err() && *p != "pieces").unwrap_or(path);
                let fine = bare.contains(&named)
                    || units.iter().any(|u| named.ends_with(u))
                    || named.ends_with("_soc")
                    || named.ends_with("_share")
                    || named == "weekday";
                assert!(fine, "{name}: {path}");
            });
        }
    }
}

#[test]
fn the_drive_is_there_piece_by_piece() {
    for (name, words) in scenarios() {
        let whole = model(&words);
        let pieces = whole["drive"]["pieces"].as_array().expect("pieces");
        assert_eq!(pieces[0]["start_s"], 0.0, "{name}");
        assert!(pieces.windows(2).all(|w| w[0]["end_s"] == w[1]["start_s"]), "{name}");
        assert!(pieces.iter().all(|p| p["phase"].is_string() && p["bay_c"].is_number()), "{name}");
    }
    let van = &model(&scenarios()[0].1)["drive"]["pieces"];
    assert_eq!((van[1]["start_s"].as_f64(), van[1]["end_s"].as_f64()), (Some(60.0), Some(2760.0)));
    assert_eq!(van[1]["engine_rpm"], 2000.0);
}

/// A lead-acid house battery has no LFP table, and charge voltages that follow its temperature.
#[test]
fn only_what_acts_is_told() {
    let (_, words) = &scenarios()[2];
    let whole = model(words);
    let named = |name: &str| {
        let inputs = whole["inputs"].as_array().expect("inputs");
        inputs.iter().find(|i| i["name"].as_str().is_some_and(|n| n.starts_with(name))).cloned()
    };
    assert_eq!(named("house_battery.rested_v_at"), None);
    let compensation = named("stages.compensation_mv_per_k").expect("it is derived");
    assert!((compensation["value"].as_f64().expect("a number") + 0.024).abs() < 1e-15);
    let house = &whole["model"]["house"]["chemistry"]["lead_acid"];
    assert_eq!((house["cells"].as_f64(), house["slow"]["discharge_soft_v"].as_f64()), (Some(6.0), Some(2.0)));
    let text = tickover(&["model", words.split('\n').next().expect("a file")]).out;
    for path in [
        "starter.chemistry.lead_acid.fast.charge_soft_v",
        "house.chemistry.lithium.top.relax_s",
        "house.thermal.j_per_k",
    ] {
        assert!(text.contains(path), "{path}\n{text}");
    }
}

#[test]
fn cells_go_with_the_chemistry() {
    let folder = Folder::new();
    for (kind, cells, full_v) in
        [("agm", 6.0, 12.9), ("flooded", 6.0, 12.7), ("gel", 6.0, 12.9), ("lfp", 4.0, 0.0)]
    {
        let file = folder.write("van.toml", format!("{SMALL}\n[house_battery]\nchemistry = \"{kind}\"\n"));
        let whole = model(&file);
        let parts = &whole["model"]["house"]["chemistry"];
        let told = parts.get("lead_acid").or(parts.get("lithium")).expect("a battery");
        assert_eq!(told["cells"], cells, "{kind}");
        if full_v > 0.0 {
            assert!((told["full_v"].as_f64().expect("volts") - full_v).abs() < 1e-12, "{kind}");
        }
    }
    // The chemistry alone changed where four cells were typed: no battery of 8 V.
    let van = root().join("scenarios/reference-van-full.toml").display().to_string();
    let printed = tickover(&["check", &van, "--set", "house_battery.chemistry=agm"]);
    assert_eq!(printed.exit, Exit::WrongInput, "{printed:?}");
    assert!(printed.err.contains("did you mean 6 cells?"), "{}", printed.err);
    let twice = ["stages.absorption_v=28.8", "stages.float_v=27", "stages.recharge_v=26.4"];
    let set = |cells: &str| {
        let mut words = vec!["check".to_owned(), van.clone()];
        let cells = format!("house_battery.cells={cells}");
        for set in twice.iter().copied().chain(["house_battery.chemistry=agm", &cells]) {
            words.extend(["--set".to_owned(), set.to_owned()]);
        }
        tickover(&words.iter().map(String::as_str).collect::<Vec<_>>())
    };
    assert_eq!(set("12").exit, Exit::Done, "{:?}", set("12"));
    assert!(set("6").err.contains("did you mean 12 cells?"), "{:?}", set("6"));
}

/// The text beside the loss defaults is what they give.
#[test]
fn the_peak_efficiency_in_the_texts_is_that_of_the_defaults() {
    let folder = Folder::new();
    let whole = model(&folder.write("van.toml", SMALL));
    let loss = &whole["model"]["links"][0]["converter"]["loss"];
    let [p0, p1, p2] =
        ["fixed_w", "proportional", "square_per_w"].map(|k| loss[k].as_f64().expect("a number"));
    // d/dP of (p0 + p1 P + p2 P²)/P is nothing where p0 = p2 P².
    let at_w = (p0 / p2).sqrt();
    let share = at_w / (at_w + p0 + at_w * (p1 + at_w * p2));
    let wanted = format!("peak efficiency {:.1} % at {at_w:.0} W", 100.0 * share);
    let keys = std::fs::read_to_string(root().join("scenarios/KEYS.md")).expect("a file");
    assert_eq!(keys.matches(&wanted).count(), 2, "{wanted}");
}

/// Whatever the JSON holds has its place in the equations, and the equations name nothing that it does not hold.
#[test]
fn the_equations_name_every_number() {
    let text = std::fs::read_to_string(root().join("sim-core/EQUATIONS.md")).expect("a file");
    let words: std::collections::BTreeSet<&str> =
        text.split(|c: char| !(c.is_ascii_alphanumeric() || c == '_')).collect();
    let mut held = std::collections::BTreeSet::new();
    for (name, words_of) in scenarios() {
        let whole = model(&words_of);
        for part in ["model", "constants", "drive"] {
            leaves("", &whole[part], &mut |path, _| {
                held.extend(path.split('.').map(str::to_owned));
                let named = path.rsplit('.').find(|p| p.parse::<usize>().is_err()).unwrap_or(path);
                assert!(words.contains(named), "{name}: {path} is not in EQUATIONS.md");
            });
        }
    }
    let constants = text.match_indices("constants.").map(|(at, lead)| {
        let rest = &text[at + lead.len()..];
        &rest[..rest.find(|c: char| !(c.is_ascii_alphanumeric() || c == '_')).unwrap_or(rest.len())]
    });
    for name in constants.filter(|n| !n.is_empty()) {
        assert!(held.contains(name), "{name} is in EQUATIONS.md and not in the JSON");
    }
}
