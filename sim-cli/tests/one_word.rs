//! One vehicle, one word: ten vehicles drawn at random, some shipped ones and the small cases go through the commands as a
//! user runs them, and what each prints is held against what `run` writes down.

#[path = "../../tests/support/dice.rs"]
#[allow(dead_code, reason = "the other tests' throws")]
mod dice;
#[path = "../../tests/support/drawn.rs"]
mod drawn;
mod support;

use sim_cli::Exit;
use std::path::Path;
use support::{Folder, Printed, root, tickover};

/// Runs a command; what it prints.
fn said(words: &[&str], set: &[String]) -> Printed {
    let mut all: Vec<&str> = words.to_vec();
    set.iter().for_each(|s| all.extend(["--set", s]));
    let printed = tickover(&all);
    assert!(matches!(printed.exit, Exit::Done | Exit::LimitBroken), "{all:?}: {}", printed.err);
    printed
}

fn json(text: &str) -> serde_json::Value {
    serde_json::from_str(text).expect("JSON")
}

/// A page as one line.
fn line(page: &str) -> String {
    page.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The cell of a column in the row of a table whose other columns are as asked.
fn cell(table: &str, column: &str, is: &[(&str, f64)]) -> Option<String> {
    let mut rows = csv::Reader::from_reader(table.as_bytes());
    let heads = rows.headers().expect("heads").clone();
    let place =
        |name: &str| heads.iter().position(|h| h == name).unwrap_or_else(|| panic!("{name} in {heads:?}"));
    let fits = |row: &csv::StringRecord| {
        let near =
            |(name, v): &(&str, f64)| row[place(name)].parse::<f64>().is_ok_and(|c| (c - v).abs() < 1e-6);
        is.iter().all(near)
    };
    let row = rows.records().map(|r| r.expect("a row")).find(|r| fits(r))?;
    Some(row[place(column)].to_owned())
}

/// The words of a region of the map that goes with a word of the judge.
fn region(word: &str, weight: &str, cycles: bool) -> &'static str {
    match word {
        _ if weight == "danger" => "danger",
        "good" if cycles => "start-up cycles",
        "good" => "good",
        "keeps dropping out" | "drops out at first" | "stays off" => "drops out",
        "never comes on" | "drives too short" => "never comes on",
        "runs on" => "runs on",
        "comes on parked" => "comes on parked",
        _ => "other trouble",
    }
}

/// Everything that the commands say of a vehicle against the word in `summary.json`: what differs.
fn differences(name: &str, file: &Path, set: &[String], whole: bool) -> Vec<String> {
    let folder = Folder::new();
    let file = file.display().to_string();
    let out = folder.path("run");
    let _ = said(&["run", &file, "--out", &out, "--plot", "none", "--quiet"], set);
    let summary = json(&std::fs::read_to_string(folder.path("run/summary.json")).expect("a summary"));
    let word = summary["verdict"].as_str().expect("a word").to_owned();
    let weight = summary["weight"].as_str().expect("a weight").to_owned();
    let (good, danger) = (word == "good", weight == "danger");
    let findings = summary["findings"].as_array().expect("findings").clone();
    let worst = findings[0]["sentence"].as_str().expect("a sentence").to_owned();
    let mut wrong = Vec::new();
    let mut check = |who: &str, well: bool, is: &str| {
        if !well {
            wrong.push(format!("{name}: run says {word} ({weight}), {who}: {is}"));
        }
    };

    let why = line(&said(&["why", &file], set).out);
    // What the house battery got is told in the first sentence, in other words.
    let balance = matches!(findings[0]["kind"].as_str(), Some("no_gain" | "loses"));
    check("why names another finding", good || balance || why.contains(&line(&worst)), &why);
    check("why offers a cure or none", why.contains("WHY") != good, &why);
    check("why says yes", good || !why.contains("Yes"), &why);
    let customer = line(&said(&["why", &file, "--depth", "customer"], set).out);
    check("why, for a customer", customer.contains("not like this: there is a danger") == danger, &customer);

    let margins = json(&said(&["margins", &file, "--json"], set).out);
    check("margins", margins["verdict"] == word.as_str(), &margins["verdict"].to_string());
    let mend = line(&said(&["mend", &file, "--margin-v", "0"], set).out);
    check("mend", mend.contains(&format!("As it is: {word}, ")), &mend);
    check("mend is well", !mend.contains("nothing to change") || good, &mend);

    let value = |key: &str| summary["inputs_si"][key]["value"].as_f64().expect("a number in SI");
    let length_m = value("input_cable.length_m");
    let (off_v, on_v) = (value("start_stop.turn_off_v"), value("start_stop.turn_on_v"));
    let table = folder.path("sweep.csv");
    let vary = format!("input_cable.length_m={length_m}");
    let _ = said(&["sweep", &file, "--vary", &vary, "--out", &table, "--quiet"], set);
    let text = std::fs::read_to_string(&table).expect("a table");
    let swept = cell(&text, "verdict", &[]).expect("a row");
    check("sweep", swept == word, &swept);

    // There a vehicle's changes are a set-up of their own.
    let (with, letter) =
        if set.is_empty() { ("house.load_w=1".to_owned(), "A") } else { (set.join(" "), "B") };
    let side = line(&said(&["compare", &file, "--with", &with, "--out", &folder.path("side")], &[]).out);
    check("compare", side.contains(&format!("{letter} Verdict: {word}")), &side);

    if !whole {
        return wrong;
    }
    let week = json(&said(&["week", &file, "--json"], set).out);
    check("week", week["verdict"] == word.as_str(), &week["verdict"].to_string());

    // Four points a side, and the vehicle's own setting is one of the corners.
    let map = folder.path("map");
    let (offs, ons) = (format!("{off_v}..{}", off_v + 0.05), format!("{on_v}..{}", on_v + 0.05));
    let words =
        ["--turn-off", &offs, "--turn-on", &ons, "--grid", "4", "--no-conditions", "--quiet", "--out", &map];
    let _ = said(&[&["map", &file], &words[..]].concat(), set);
    let points = std::fs::read_to_string(folder.path("map/map.csv")).expect("a table");
    let cycles = findings.iter().any(|f| f["kind"] == "start_up_cycles");
    let at = cell(&points, "behaviour", &[("turn_off_v", off_v), ("turn_on_v", on_v)]).expect("the corner");
    check("map", at == region(&word, &weight, cycles), &at);

    // Some five hundred runs: of the random vehicles every third is tuned.
    if name.starts_with("random")
        && !["random 0", "random 3", "random 6", "random 9"].iter().any(|n| name.starts_with(n))
    {
        return wrong;
    }
    let tune = folder.path("tune");
    let _ = said(&["tune", &file, "--candidates", "8", "--out", &tune, "--quiet"], set);
    let tried = std::fs::read_to_string(folder.path("tune/tried.csv")).expect("a table");
    let rows = csv::Reader::from_reader(tried.as_bytes()).into_records().count();
    check("tune tries nothing", rows > 0, &tried);
    // The best that was tried, run as a vehicle of its own, has the word of its row.
    if let Some(row) = csv::Reader::from_reader(tried.as_bytes())
        .into_records()
        .map(|r| r.expect("a row"))
        .find(|r| r.iter().next_back().is_some_and(|v| !v.is_empty()))
    {
        let keys = ["start_stop.turn_on_v", "start_stop.turn_off_v", "start_stop.turn_on_delay_s"];
        let more = ["start_stop.turn_off_delay_s", "converter.output_limit_a"];
        let moved = keys.iter().chain(&more).zip(&row).map(|(k, v)| format!("{k}={v}"));
        let all: Vec<String> = set.iter().cloned().chain(moved).collect();
        let again = folder.path("again");
        let told = json(&said(&["run", &file, "--json", "--out", &again, "--plot", "none"], &all).out);
        let is = row.iter().next_back().unwrap_or_default();
        check("tune says of a setting", told["verdict"] == is, &format!("{is}, run {}", told["verdict"]));
    }
    wrong
}

/// Ten vehicles, each with a third of its numbers drawn anew; the same on every machine.
fn drawn_vans() -> Vec<(String, Vec<String>)> {
    let mut dice = dice::Dice::new(7);
    let mut van = |n: usize| {
        let set = drawn::sets(&mut dice, 0.35);
        (format!("random {n}: {}", set.join(" ")), set)
    };
    (0..10).map(&mut van).collect()
}

#[test]
fn commands_have_one_word_for_each_vehicle() {
    let scenarios = root().join("scenarios");
    let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/scenarios");
    let full = scenarios.join("reference-van-full.toml");
    let mut wrong = Vec::new();
    for (name, set) in drawn_vans() {
        wrong.extend(differences(&name, &full, &set, true));
    }
    let cases =
        ["old-cable", "moving-set-point", "cells-forgotten", "two-speeds", "sun-by-noon", "house-runs-flat"];
    let shipped = ["reference-van", "thin-run", "patterns/coffee-trailer"];
    let cases = cases.iter().map(|n| own.join(n)).chain(shipped.iter().map(|n| scenarios.join(n)));
    for file in cases.map(|f| f.with_extension("toml")) {
        let name = file.display().to_string();
        // A calendar of days is run hundreds of times for `week` and `tune`, and an engine that never runs has nothing to tune.
        let whole = !["sun-by-noon", "coffee", "house-runs-flat"].iter().any(|n| name.contains(n));
        wrong.extend(differences(&name, &file, &[], whole));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
