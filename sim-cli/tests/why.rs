//! `tickover why` and `tickover glossary`, and the chapter on the page.

mod support;

use sim_cli::{Exit, GLOSSARY};
use sim_core::scenario::{SECTIONS, keys_of};
use std::collections::BTreeSet;
use std::path::Path;
use support::{Folder, tickover};

fn shipped(name: &str) -> String {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../scenarios")
        .join(name)
        .to_str()
        .expect("a plain path")
        .to_owned()
}

fn why(words: &[&str]) -> String {
    let file = shipped(words[0]);
    let all: Vec<&str> = ["why", file.as_str()].into_iter().chain(words[1..].iter().copied()).collect();
    let printed = tickover(&all);
    assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
    assert!(printed.out.lines().all(|l| l.chars().count() <= 100), "a line is too long:\n{}", printed.out);
    printed.out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The thin run: what, why, where, what ended it, what would have prevented it.
#[test]
fn the_thin_run_is_explained() {
    let text = why(&["thin-run.toml"]);
    for part in [
        "it dropped out 78 times",
        "Voltage drop in the input cable:",
        "V along the positive leg",
        "below turn-off (12.80 V)",
        "only its own current",
        "It ended with the engine.",
        "Measure millivolts across each joint",
        "What helps: A run signal that holds the unit on",
        "less in the input cable (a thicker or shorter cable, better joints); 12 mΩ less is the least.",
        "Each was tried on the whole run: no trouble is left with it.",
        "EACH SWITCHING",
    ] {
        assert!(text.contains(part), "`{part}` is not in: {text}");
    }
    let customer = why(&["thin-run.toml", "--depth", "customer"]);
    assert!(customer.contains("A wire that tells the unit") && !customer.contains("mΩ"), "{customer}");
    assert!(
        customer.contains("ANSWER No, not as it should. The unit delivers 2.2 Ah in 45 min."),
        "{customer}"
    );
    let engineer = why(&["thin-run.toml", "--depth", "engineer"]);
    assert!(
        engineer.contains("Speaks for voltage drop in the input cable:")
            && engineer.contains("The period is 33.5 s"),
        "{engineer}"
    );
    assert!(engineer.len() > text.len() && text.len() > customer.len());
}

/// Two causes at once are both named: a joint that cycles the unit on the road, thresholds that let it cycle when parked.
#[test]
fn two_causes_are_both_named() {
    let text = why(&[
        "reference-van-full.toml",
        "--set",
        "input_cable.joints_mohm=45",
        "--set",
        "start_stop.turn_on_v=12.8",
        "--set",
        "start_stop.turn_off_v=12.2",
    ]);
    assert!(text.contains("Cause: voltage drop in the input cable; surface charge"), "{text}");
}

fn own(name: &str, words: &[&str]) -> String {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/scenarios").join(name);
    why(&[&[file.to_str().expect("a plain path")], words].concat())
}

/// The set-point is the vehicle's business: a run signal comes first, and nobody is told to charge with more than the starter
/// battery bears.
#[test]
fn a_set_point_that_comes_and_goes_is_answered_by_a_run_signal() {
    let text = own("moving-set-point.toml", &[]);
    assert!(text.contains("What helps: A run signal that holds the unit on"), "{text}");
    for part in text.split("a set-point that never goes under ").skip(1) {
        let volts: f64 = part.split(' ').next().and_then(|v| v.parse().ok()).expect("volts");
        assert!(volts <= 14.8, "{part}");
    }
    let customer = own("moving-set-point.toml", &["--depth", "customer"]);
    assert!(customer.contains("ANSWER No, not as it should. The unit delivers 6.6 Ah"), "{customer}");
}

/// What the drive has nothing to do with gets no remedy; what is found does.
#[test]
fn a_battery_full_of_sun_gets_a_remedy_for_its_run_on_alone() {
    let text = own("sun-by-noon.toml", &[]);
    assert!(text.contains("Runs on: a minute after the key the input stands at"), "{text}");
    assert!(text.contains("What helps: A run signal that the unit must have"), "{text}");
    assert!(!text.contains("Ah (now"), "{text}");
}

/// A danger is explained by what heats, and no run signal is offered while it stands. Practice lays a thicker cable with its
/// fuse before it turns the unit down.
#[test]
fn a_danger_has_its_why_and_no_run_signal() {
    let text = own("old-cable.toml", &[]);
    assert!(text.contains("Cable hot: 49 A flow through the input cable"), "{text}");
    assert!(text.contains("Fuse overloaded: ") && text.contains("its rating is 30 A"), "{text}");
    let cable = "What helps: 3 times the copper in the input cable. Together with it: a fuse of ";
    assert!(text.contains(cable) && text.contains("Or: The output limit at"), "{text}");
    assert!(!text.contains("A run signal"), "{text}");
    let customer = own("old-cable.toml", &["--depth", "customer"]);
    assert!(customer.contains("ANSWER No, not like this: there is a danger."), "{customer}");
}

#[test]
fn off_at_idle_is_a_weak_source() {
    let text = own("two-speeds.toml", &[]);
    assert!(
        text.contains("Weak alternator or alternator cable:") && text.contains("from 2000 to 700 rpm"),
        "{text}"
    );
    assert!(text.contains("an engine that never turns slower than"), "{text}");
}

/// A van on which nothing is wrong gets no chapter, and is told so.
#[test]
fn a_healthy_van_needs_no_why() {
    let text = why(&["reference-van-full.toml"]);
    assert!(text.contains("does not drop out while the engine runs") && !text.contains("WHY"), "{text}");
}

#[test]
fn a_unit_that_never_came_on_is_explained() {
    let text = why(&["reference-van.toml", "--set", "start_stop.turn_on_v=14.4"]);
    assert!(text.contains("its input never reaches turn-on (14.40 V)"), "{text}");
}

/// Every line of the teaching sheet runs, and prints what the sheet quotes.
#[test]
fn the_teaching_sheet_is_current() {
    let sheet = std::fs::read_to_string(shipped("why-units-cycle.md")).expect("the sheet");
    let (mut printed, mut ran, mut quoted) = (String::new(), 0, 0);
    for line in sheet.lines() {
        if let Some(command) = line.strip_prefix("tickover why scenarios/") {
            printed = why(&command.split_whitespace().collect::<Vec<_>>());
            ran += 1;
        } else if let Some(quote) = line.strip_prefix("> ") {
            assert!(printed.contains(quote), "`{quote}` is not in: {printed}");
            quoted += 1;
        }
    }
    assert!(ran == 5 && quoted >= 9, "{ran} commands, {quoted} quotes");
}

#[test]
fn a_word_is_looked_up() {
    let one = tickover(&["glossary", "droop"]);
    assert!(
        one.exit == Exit::Done && one.out.contains("DROOP") && one.out.lines().count() < 4,
        "{}",
        one.out
    );
    let abbreviation = tickover(&["glossary", "SB"]);
    assert!(abbreviation.out.contains("STARTER BATTERY"), "{}", abbreviation.out);
    let wrong = tickover(&["glossary", "drooop"]);
    assert!(wrong.exit == Exit::WrongInput && wrong.err.contains("did you mean `droop`"), "{}", wrong.err);
    let all = tickover(&["glossary"]);
    assert!(all.out.lines().count() > GLOSSARY.len() && all.out.lines().all(|l| l.chars().count() <= 100));
}

/// Words of keys that are plain English wherever a page uses them, or units.
const PLAIN: &[&str] = &[
    "by",
    "a",
    "v",
    "s",
    "c",
    "w",
    "m",
    "k",
    "h",
    "min",
    "ah",
    "ohm",
    "loads",
    "pct",
    "rpm",
    "ma",
    "mm2",
    "mohm",
    "kg",
    "j",
    "ms",
    "km",
    "per",
    "from",
    "to",
    "on",
    "off",
    "name",
    "about",
    "format",
    "build",
    "time",
    "clock",
    "start",
    "end",
    "full",
    "empty",
    "high",
    "low",
    "over",
    "least",
    "most",
    "longest",
    "lowest",
    "number",
    "repeat",
    "file",
    "piece",
    "duration",
    "speed",
    "mass",
    "air",
    "air_c",
    "cells",
    "current",
    "engine",
    "power",
    "rated",
    "sleep",
    "after",
    "live",
    "extra",
    "mode",
    "kind",
    "drive",
    "area",
    "length",
    "charge",
    "temperature",
    "cold",
    "case",
    "down",
    "fuel",
    "l",
    "times",
    "top",
];

/// Every word of a key that a page uses is a term, or part of one: whoever adds a key defines its words.
#[test]
fn every_term_that_a_page_uses_is_defined() {
    let folder = Folder::new();
    let mut pages = String::new();
    for file in ["reference-van-full.toml", "thin-run.toml", "delivery-round.toml"] {
        let printed = tickover(&["run", &shipped(file), "--out", &folder.path(file)]);
        assert!(matches!(printed.exit, Exit::Done | Exit::LimitBroken), "{}", printed.err);
        pages.push_str(&printed.out);
        pages.push_str(&why(&[file, "--depth", "engineer"]));
    }
    let words = |text: &str| -> BTreeSet<String> {
        text.to_lowercase()
            .split(|c: char| !c.is_alphanumeric())
            .filter(|w| !w.is_empty())
            .map(str::to_owned)
            .collect()
    };
    let used = words(&pages);
    let sections = SECTIONS.iter().copied().chain(["drive", "drive.piece"]);
    let of_keys: BTreeSet<String> = sections
        .flat_map(|s| {
            keys_of(s)
                .into_iter()
                .flatten()
                .flat_map(|k| words(&k.name.replace('_', " ")))
                .collect::<Vec<_>>()
        })
        .collect();
    let defined: BTreeSet<String> = GLOSSARY
        .iter()
        .flat_map(|t| [t.term].into_iter().chain(t.also.iter().copied()))
        .flat_map(words)
        .collect();
    let missing: Vec<&String> = of_keys
        .iter()
        .filter(|w| used.contains(*w) && !PLAIN.contains(&w.as_str()))
        .filter(|w| !defined.contains(*w) && !defined.contains(&format!("{w}s")))
        .collect();
    assert!(missing.is_empty(), "used on a page and not in the glossary: {missing:?}");
    for short in ["SB", "IN", "OUT", "Ah", "Wh", "mΩ", "rpm"] {
        let named = |t: &&sim_cli::Term| t.term == short || t.also.contains(&short);
        assert!(GLOSSARY.iter().any(|t| named(&t)), "{short}");
    }
    // A term is defined once, and its own words do not define it.
    let mut seen = BTreeSet::new();
    for t in GLOSSARY {
        for name in [t.term].into_iter().chain(t.also.iter().copied()) {
            assert!(seen.insert(name), "{name} is defined twice");
        }
        assert!(t.means.len() > 15 && t.means.ends_with('.'), "{}", t.term);
    }
}
