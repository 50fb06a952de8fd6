//! What the judge says of vehicles that were once answered wrongly, of every shipped scenario, and of every fault.

mod support;

use serde::Deserialize;
use sim_cli::Exit;
use sim_cli::load::load;
use sim_core::judge::{Finding, Kind, Measure, Source, Verdict, Weight};
use sim_core::record::Side;
use sim_core::study::Trial;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use support::{Folder, root, snapshot, tickover};

fn verdict(file: &Path, set: &[String]) -> Verdict {
    let loaded = load(file, set).unwrap_or_else(|e| panic!("{}: {e:?}", file.display()));
    Trial::run(&loaded.case).unwrap_or_else(|e| panic!("{}: {e}", file.display())).verdict
}

fn own(name: &str) -> Verdict {
    verdict(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/scenarios").join(name), &[])
}

fn worst(v: &Verdict) -> &Finding {
    v.worst().unwrap_or_else(|| panic!("it is good: {v:?}"))
}

#[test]
fn a_larger_unit_on_an_old_cable_is_a_danger_by_conductor_and_fuse() {
    let v = own("old-cable.toml");
    assert!(v.is_danger(), "{v:?}");
    let dangers: Vec<Kind> =
        v.findings.iter().filter(|f| f.weight == Weight::Danger).map(|f| f.kind).collect();
    assert!(dangers.iter().any(|k| matches!(k, Kind::ConductorHot { .. })), "{dangers:?}");
    assert!(dangers.iter().any(|k| matches!(k, Kind::FuseOver { .. })), "{dangers:?}");
    assert!(matches!(worst(&v).kind, Kind::ConductorHot { .. } | Kind::FuseOver { .. }), "{v:?}");
}

#[test]
fn a_set_point_that_comes_and_goes_is_trouble() {
    let v = own("moving-set-point.toml");
    assert_eq!((v.weight(), v.word()), (Weight::Trouble, "stays off"), "{v:?}");
}

#[test]
fn a_battery_full_by_noon_is_fed_by_the_sun_and_its_run_on_is_told_apart() {
    let v = own("sun-by-noon.toml");
    let fed = |k: &Kind| matches!(k, Kind::FedBy { source: Source::Sun });
    assert_eq!(v.find(fed).map(|f| f.weight), Some(Weight::Note), "{v:?}");
    assert!(v.find(|k| matches!(k, Kind::NoGain | Kind::TopsUp)).is_none(), "{v:?}");
    let on = v.find(|k| *k == Kind::RunsOn).expect("it runs on");
    assert!(on.measure.is_some_and(|m| (90.0..105.0).contains(&(m.value / 60.0))), "{on:?}");
}

#[test]
fn cells_that_were_forgotten_are_a_danger() {
    let v = own("cells-forgotten.toml");
    assert_eq!(worst(&v).kind, Kind::SystemVoltage { side: Side::Starter }, "{v:?}");
    assert!(v.is_danger());
}

#[test]
fn once_off_and_off_for_twenty_minutes_is_not_good() {
    let v = own("two-speeds.toml");
    assert_eq!(v.word(), "stays off", "{v:?}");
}

/// Every scenario file of the shipped folder and its patterns.
fn shipped() -> Vec<PathBuf> {
    let mut files = Vec::new();
    for folder in ["scenarios", "scenarios/patterns"] {
        let entries = std::fs::read_dir(root().join(folder)).expect("the folder");
        files.extend(entries.map(|e| e.expect("an entry").path()));
    }
    files.retain(|f| {
        f.extension().is_some_and(|e| e == "toml") && f.file_stem().is_some_and(|s| s != "faults")
    });
    files.sort();
    files
}

#[derive(Deserialize)]
struct Catalogue {
    base: String,
    set: Vec<String>,
    fault: Vec<Fault>,
}

#[derive(Deserialize)]
struct Fault {
    row: String,
    name: String,
    #[serde(default)]
    set: Vec<String>,
}

fn catalogue() -> (PathBuf, Catalogue) {
    let folder = root().join("scenarios");
    let text = std::fs::read_to_string(folder.join("faults.toml")).expect("the catalogue");
    let all: Catalogue = toml::from_str(&text).expect("the catalogue");
    (folder.join(&all.base), all)
}

fn faults() -> Vec<(Fault, Verdict)> {
    let (base, all) = catalogue();
    let judged = |f: Fault| {
        let set: Vec<String> = all.set.iter().chain(&f.set).cloned().collect();
        let v = verdict(&base, &set);
        (f, v)
    };
    all.fault.into_iter().map(judged).collect()
}

fn told(text: &mut String, name: &str, v: &Verdict) {
    let _ = writeln!(text, "{name}: {} ({})", v.word(), v.weight().word());
    for f in &v.findings {
        let measure = f.measure.map_or_else(String::new, |Measure { value, limit, unit, .. }| {
            format!(": {value:.1} for {limit:.1} {unit}")
        });
        let _ = writeln!(
            text,
            "    {:<13} {}{measure}; {} times, {:.0} min from {:.0} min on",
            f.weight.word(),
            f.kind.word(),
            f.when.times,
            f.when.for_s / 60.0,
            f.when.first_s / 60.0
        );
    }
}

#[test]
fn every_shipped_scenario_and_every_fault_has_its_verdict() {
    let mut text = String::new();
    for file in shipped() {
        told(&mut text, &file.file_name().expect("a name").to_string_lossy(), &verdict(&file, &[]));
    }
    for (fault, v) in faults() {
        told(&mut text, &format!("fault {}, {}", fault.row, fault.name), &v);
    }
    snapshot("verdicts.txt", &text);
}

#[test]
fn healthy_vans_have_neither_danger_nor_trouble() {
    for name in ["reference-van.toml", "reference-van-full.toml"] {
        let v = verdict(&root().join("scenarios").join(name), &[]);
        assert!(v.is_good(), "{name}: {v:?}");
    }
    let (healthy, v) = &faults()[0];
    assert!(v.is_good(), "{}: {v:?}", healthy.name);
}

/// The word that a table of `compare` has for its first column, and what `week`, `margins` and `run` say as data.
fn said_by_commands(file: &Path, set: &[String], week: bool) -> Vec<(&'static str, String)> {
    let folder = Folder::new();
    let (file, out) = (file.display().to_string(), folder.path("out"));
    let with = |words: &[&str]| -> String {
        let mut all: Vec<&str> = words.to_vec();
        set.iter().for_each(|s| all.extend(["--set", s]));
        let printed = tickover(&all);
        assert!(matches!(printed.exit, Exit::Done | Exit::LimitBroken), "{file}: {}", printed.err);
        printed.out
    };
    let word = |text: &str| {
        let json: serde_json::Value = serde_json::from_str(text).unwrap_or_else(|e| panic!("{file}: {e}"));
        json["verdict"].as_str().expect("a verdict").to_owned()
    };
    let mut said = vec![
        ("run", word(&with(&["run", &file, "--json", "--out", &out, "--plot", "none"]))),
        ("margins", word(&with(&["margins", &file, "--json"]))),
    ];
    if week {
        said.push(("week", word(&with(&["week", &file, "--json"]))));
    }
    // Changes go with each set-up there: the first is the file alone, so only vehicles without changes are compared.
    if set.is_empty() {
        let page = with(&["compare", &file, &file, "--out", &folder.path("side")]);
        let row = page
            .lines()
            .find_map(|l| l.trim().strip_prefix("verdict "))
            .expect("a row of verdicts")
            .to_owned();
        // Both columns are the same vehicle's; a long word leaves one space between them.
        let (first, second) = row.trim().split_at(row.trim().len() / 2);
        assert_eq!(first.trim(), second.trim(), "{file}: {row}");
        said.push(("compare", first.trim().to_owned()));
    }
    said
}

/// One vehicle, one verdict, whichever command is asked. `week` runs a calendar hundreds of times to find where it breaks
/// even, so it is asked of vehicles without one, and of one that has one.
#[test]
fn every_command_says_what_the_judge_says() {
    let mut problems = Vec::new();
    let mut agree = |name: &str, file: &Path, set: &[String], week: bool| {
        let word = verdict(file, set).word();
        for (who, said) in said_by_commands(file, set, week) {
            if said != word {
                problems.push(format!("{name}: {who} says {said}, the judge {word}"));
            }
        }
    };
    let own_folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/scenarios");
    let own = ["cells-forgotten", "moving-set-point", "old-cable", "sun-by-noon", "two-speeds"];
    let files = shipped().into_iter().chain(own.map(|n| own_folder.join(n).with_extension("toml")));
    for file in files {
        let pattern = file.parent().is_some_and(|p| p.ends_with("patterns"));
        let week = !pattern || file.ends_with("coffee-trailer.toml");
        agree(&file.display().to_string(), &file, &[], week);
    }
    let (base, all) = catalogue();
    for f in all.fault {
        let set: Vec<String> = all.set.iter().chain(&f.set).cloned().collect();
        agree(&f.row, &base, &set, true);
    }
    assert!(problems.is_empty(), "{}", problems.join("\n"));
}

/// A unit that goes off at every length is not told to go off at none.
#[test]
fn a_cliff_that_begins_before_the_shortest_cable_says_so() {
    let folder = Folder::new();
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/scenarios/two-speeds.toml");
    let (file, out) = (file.display().to_string(), folder.path("cliff"));
    let printed = tickover(&["cliff", &file, "--points", "4", "--out", &out]);
    assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
    assert!(printed.out.contains("does not stay on at any length charted"), "{}", printed.out);
    assert!(!printed.out.contains("nowhere here"), "{}", printed.out);
}
