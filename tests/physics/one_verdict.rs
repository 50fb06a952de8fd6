//! One vehicle, one verdict: whatever is asked of it, the same word comes back.

use sim_core::judge::Weight;
use sim_core::study::cliff::{CliffPlan, OUTPUT_LIMIT};
use sim_core::study::distance::Search;
use sim_core::study::mend::{Ask, Mend};
use sim_core::study::sweep::{Points, Variant};
use sim_core::study::threshold_map::{MapPlan, TURN_OFF, TURN_ON};
use sim_core::study::tune::{Knob, TunePlan};
use sim_core::study::{Case, Outcome, Region, Sweep, TOLERANCE_OF_MANY, Trial};
use sim_tests::dice::Dice;
use sim_tests::drawn::sets;
use std::path::{Path, PathBuf};

fn scenarios() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios")
}

fn case(file: &Path, set: &[String]) -> Case {
    sim_cli::load::load(file, set).unwrap_or_else(|e| panic!("{}: {e:?}", file.display())).case
}

/// What every study says of a case at its own point, beside the judge's word; the differences.
fn differences(case: &Case) -> Vec<String> {
    let trial = Trial::run_of_many(case).expect("it runs");
    let verdict = &trial.verdict;
    let word = verdict.word();
    let mut said: Vec<(&str, String, String)> = Vec::new();
    let mut says = |who, is: &str, wanted: &str| said.push((who, is.to_owned(), wanted.to_owned()));

    says("outcome", Outcome::of(&trial).words(), word);
    let search = Search::new(case).expect("it runs").only(|_| false);
    says("distance", search.finish().now.words(), word);
    let sweep = Sweep {
        variants: vec![Variant { name: String::new(), case: case.clone() }],
        vary: Vec::new(),
        points: Points::Grid,
        tolerance: TOLERANCE_OF_MANY,
    };
    says("sweep", sweep.run(&sweep.job(0)).word(), word);

    let rule = &trial.scenario.start_stop;
    let (off_v, on_v) = (rule.turn_off_v.value, rule.turn_on_v.value);
    let map = MapPlan {
        cases: vec![case.clone()],
        off_v: vec![off_v],
        on_v: vec![on_v],
        border_v: 0.01,
        tolerance: TOLERANCE_OF_MANY,
    };
    let region = Region::of(verdict);
    says("map", map.point(off_v, on_v).map_or("no run", |p| p.region.words()), region.words());
    let calm = matches!(region, Region::Good | Region::StartUpCycles);
    says("region", if calm { "good" } else { "bad" }, if verdict.is_good() { "good" } else { "bad" });

    let knob = |path: &str, now: f64| Knob { path: path.to_owned(), from: now, to: now, step: 0.1 };
    let tune = TunePlan {
        cases: vec![case.clone()],
        knobs: vec![knob(TURN_OFF, off_v), knob(TURN_ON, on_v)],
        limits: Vec::new(),
        candidates: 1,
        seed: 1,
        tolerance: TOLERANCE_OF_MANY,
    };
    says("tune", tune.score(&[off_v, on_v]).map_or("no run", |s| s.verdict.1), word);
    let cliff = CliffPlan {
        case: case.clone(),
        length_m: vec![trial.scenario.input_cable.length_m.value],
        output_limit_a: vec![trial.scenario.converter.output_limit_a.value],
        edge_share: 0.01,
        tolerance: TOLERANCE_OF_MANY,
    };
    let by_length = trial.scenario.input_cable.resistance_mohm.is_none();
    if let Some(point) = cliff.point(cliff.length_m[0], cliff.output_limit_a[0]).filter(|_| by_length) {
        says("cliff", point.region.words(), region.words());
    }
    assert_eq!(OUTPUT_LIMIT, "converter.output_limit_a");

    let ask = Ask { margin_v: f64::NEG_INFINITY, most_cable_share: 0.6, parked_s: 3600.0 };
    let mend = Mend::new(case, ask).expect("it runs");
    says("mend", mend.base.verdict.word(), word);
    if trial.summary.extremes.margin_v.is_some() {
        let well = if mend.is_well() { "good" } else { "bad" };
        says("mend is well", well, if verdict.is_good() { "good" } else { "bad" });
    }
    said.into_iter()
        .filter(|(_, is, wanted)| is != wanted)
        .map(|(who, is, wanted)| format!("{who} says {is}, the judge {wanted}"))
        .collect()
}

fn agree(cases: impl Iterator<Item = (String, Case)>) {
    let mut problems = Vec::new();
    let mut seen = 0;
    for (name, case) in cases {
        seen += 1;
        problems.extend(differences(&case).into_iter().map(|what| format!("{name}: {what}")));
    }
    assert!(seen > 0 && problems.is_empty(), "of {seen}:\n{}", problems.join("\n"));
}

#[test]
fn shipped_scenarios_have_one_verdict() {
    let mut files = Vec::new();
    for folder in [scenarios(), scenarios().join("patterns")] {
        files.extend(std::fs::read_dir(folder).expect("the folder").map(|e| e.expect("an entry").path()));
    }
    files.retain(|f| {
        f.extension().is_some_and(|e| e == "toml") && f.file_stem().is_some_and(|s| s != "faults")
    });
    files.sort();
    agree(files.into_iter().map(|f| (f.display().to_string(), case(&f, &[]))));
}

#[test]
fn faults_have_one_verdict() {
    let text = std::fs::read_to_string(scenarios().join("faults.toml")).expect("the catalogue");
    let all: toml::Table = text.parse().expect("the catalogue");
    let set = |t: &toml::Table| -> Vec<String> {
        let list = t.get("set").and_then(toml::Value::as_array).into_iter().flatten();
        list.filter_map(|v| v.as_str().map(str::to_owned)).collect()
    };
    let base = scenarios().join(all["base"].as_str().expect("a file"));
    let rows = all["fault"].as_array().expect("rows").iter().filter_map(toml::Value::as_table);
    agree(rows.map(|row| {
        let name = format!("fault {}", row["row"].as_str().unwrap_or("?"));
        let sets: Vec<String> = set(&all).into_iter().chain(set(row)).collect();
        (name, case(&base, &sets))
    }));
}

/// A full vehicle with a good part of its numbers drawn anew.
fn drawn(seed: u64) -> Option<Case> {
    let mut d = Dice::new(seed);
    let mut set = sets(&mut d, 0.5);
    if d.chance(0.3) {
        set.push(format!("input_cable.fuse_a={:.1}", d.between(25.0, 100.0)));
    }
    if d.chance(0.3) {
        set.push(format!("limits.least_house_end_pct={:.1}", d.between(20.0, 80.0)));
    }
    // What is drawn may contradict itself.
    Some(sim_cli::load::load(&scenarios().join("reference-van-full.toml"), &set).ok()?.case)
}

/// Two hundred, a fifth of which at the least has a danger or trouble.
#[test]
fn random_full_vehicles_have_one_verdict() {
    let (mut cases, mut seed) = (Vec::new(), 1);
    while cases.len() < 200 {
        if let Some(case) = drawn(seed).filter(|c| Trial::run_of_many(c).is_ok()) {
            cases.push((format!("seed {seed}"), case));
        }
        seed += 1;
    }
    let weights: Vec<Weight> =
        cases.iter().map(|(_, c)| Trial::run_of_many(c).expect("it ran").verdict.weight()).collect();
    let count = |w: Weight| weights.iter().filter(|x| **x == w).count();
    assert!(count(Weight::Danger) >= 10 && count(Weight::Trouble) >= 40, "{weights:?}");
    assert!(count(Weight::Good) + count(Weight::Note) >= 20, "{weights:?}");
    agree(cases.into_iter());
}
