//! Pages read standing: short sentences, plain words, over every shipped scenario, every fault, and vehicles of our own that
//! are in trouble.

mod support;

use sim_cli::Exit;
use std::collections::BTreeSet;
use std::path::PathBuf;
use support::{Folder, root, tickover};

/// Most words of a sentence. Some twenty are aimed at; a list of names or numbers may be a little longer.
const MOST_WORDS: usize = 22;

/// Turns of phrase that a first reader stumbles over, and numbers that say nothing.
const NOT_SO: [&str; 40] = [
    "its input stood",
    "stood at",
    "stands at up to",
    "lived at most",
    "as good as the inputs",
    "what is said above",
    "is told here",
    "told here",
    "nothing but its own",
    "just brought up",
    "would just do",
    "had not ended",
    "under the glass",
    "pays its way",
    "for good",
    "behind the wheel",
    "has stood",
    "1 drop-outs",
    "refused charge once",
    "forgone",
    "goes to and fro",
    "apart from",
    "SB well",
    "joints of the run",
    "the run's length",
    "own run",
    "of the run is",
    "input run",
    "output run",
    "open run",
    "own drop",
    "wandering set-point",
    "-0.00 ",
    "-0.000",
    " -0.0 ",
    "for 0 s",
    " inf ",
    "NaN",
    "(+0.0 Ah)",
    "now sets the current: 0.0 A in, 0.0 A out, 0.00 V",
];

/// Every scenario file of the shipped folder and its patterns, and those of the tests that can be run.
fn vehicles() -> Vec<(String, PathBuf, Vec<String>)> {
    let mut all = Vec::new();
    for folder in ["scenarios", "scenarios/patterns", "sim-cli/tests/scenarios"] {
        let entries = std::fs::read_dir(root().join(folder)).expect("the folder");
        let files = entries.map(|e| e.expect("an entry").path());
        let runs = |f: &PathBuf| {
            f.extension().is_some_and(|e| e == "toml")
                && f.file_stem().is_some_and(|s| s != "faults" && s != "ten-mistakes")
        };
        all.extend(files.filter(runs).map(|f| (f.display().to_string(), f, Vec::new())));
    }
    let text = std::fs::read_to_string(root().join("scenarios/faults.toml")).expect("the catalogue");
    let catalogue: toml::Table = text.parse().expect("the catalogue");
    let set = |t: &toml::Table| -> Vec<String> {
        let list = t.get("set").and_then(toml::Value::as_array).into_iter().flatten();
        list.filter_map(|v| v.as_str().map(str::to_owned)).collect()
    };
    let base = root().join("scenarios").join(catalogue["base"].as_str().expect("a file"));
    for row in catalogue["fault"].as_array().expect("rows").iter().filter_map(toml::Value::as_table) {
        let sets = set(&catalogue).into_iter().chain(set(row)).collect();
        all.push((format!("fault {}", row["row"].as_str().unwrap_or("?")), base.clone(), sets));
    }
    for (name, file, set) in FURTHER {
        let set = set.iter().map(|s| (*s).to_owned()).collect();
        all.push((name.to_owned(), root().join("scenarios").join(format!("{file}.toml")), set));
    }
    for (name, set) in drives() {
        all.push((name.to_owned(), base.clone(), set));
    }
    all.sort_by(|a, b| a.0.cmp(&b.0));
    all
}

/// Vehicles changed so that findings come about which neither scenarios nor faults have.
const FURTHER: [(&str, &str, &[&str]); 24] = [
    ("hot joints", "reference-van-full", &["input_cable.joints_mohm=10"]),
    ("warm joints", "reference-van-full", &["input_cable.joints_mohm=5.5"]),
    (
        "thin output cable",
        "reference-van-full",
        &["output_cable.area_mm2=4", "house_battery.start_pct=20", "drive.air_c=40"],
    ),
    ("fuse loaded", "reference-van-full", &["input_cable.fuse_a=58", "drive.piece.2.duration_min=240"]),
    ("fuse over", "reference-van-full", &["input_cable.fuse_a=40"]),
    (
        "fuse may open",
        "reference-van-full",
        &["output_cable.fuse_a=33", "output_cable.fuse_kind=iso-8820-5-sf51", "house_battery.start_pct=5"],
    ),
    ("fuse opens", "reference-van-full", &["output_cable.fuse_a=20", "output_cable.fuse_kind=iso-8820-3-c"]),
    ("cells forgotten", "reference-van-full", &["alternator.set_point_v=28.4"]),
    ("alternator too high", "reference-van-full", &["alternator.set_point_v=15.4"]),
    (
        "hot winding",
        "reference-van-full",
        &["alternator.winding_rise_k=300", "alternator.derate_pct_per_k=0.02", "vehicle.running_load_a=50"],
    ),
    (
        "small starter battery",
        "reference-van-full",
        &[
            "start_stop.turn_off_v=8",
            "converter.output_limit_a=10",
            "starter_battery.capacity_ah=45",
            "starter_battery.start_pct=50",
            "drive.piece.3.duration_min=600",
        ],
    ),
    ("long delay", "reference-van-full", &["start_stop.turn_on_delay_s=2600"]),
    ("late", "reference-van-full", &["start_stop.turn_on_delay_s=2000"]),
    (
        "limits",
        "reference-van-full",
        &["limits.most_input_a=30", "limits.least_house_end_pct=99", "limits.crank_reserve_pct=99"],
    ),
    (
        "locks out",
        "reference-van-full",
        &["drive.air_c=60", "converter.case_release_w_per_k=0.3", "converter.derate_from_c=0"],
    ),
    (
        "locks out and never derates",
        "reference-van-full",
        &[
            "drive.air_c=50",
            "converter.case_release_w_per_k=0.2",
            "converter.derate_from_c=199",
            "converter.derate_to_c=200",
            "converter.lock_c=70",
        ],
    ),
    ("over-current", "reference-van-full", &["protection.over_a=20"]),
    (
        "heavy load",
        "reference-van-full",
        &[
            "house_battery.capacity_ah=30",
            "house_battery.r0_mohm=40",
            "house.load_w=1200",
            "drive.piece.3.duration_min=2",
        ],
    ),
    ("full already", "reference-van-full", &["house_battery.start_pct=99.5"]),
    (
        "sun by noon",
        "reference-van-full",
        &[
            "start_stop.turn_on_delay_s=1500",
            "house_battery.start_pct=95",
            "drive.piece.1.house_solar_w=400",
            "drive.piece.1.duration_s=14400",
        ],
    ),
    (
        "mains",
        "reference-van-full",
        &[
            "start_stop.turn_on_delay_s=1500",
            "house_battery.start_pct=90",
            "drive.piece.1.house_mains_a=30",
            "drive.piece.1.duration_s=14400",
        ],
    ),
    ("flat starter", "reference-van-full", &["starter_battery.start_pct=3", "vehicle.crank_a=500"]),
    ("start-up cycles", "reference-van", &["input_cable.joints_mohm=4.5"]),
    (
        "emptier each day",
        "patterns/touring-van",
        &["converter.standby_ma=600", "alternator.set_point_v=12.5"],
    ),
];

/// Drives that take turns: an engine that stops for half a minute every two, one that idles for a while, loads that come and
/// go on a battery that is full.
fn drives() -> [(&'static str, Vec<String>); 3] {
    let piece = |of: &str| format!("drive.piece=[{{duration_s = 60, engine_rpm = 0}}, {of}]");
    let stops = "{duration_s = 90, engine_rpm = 2000}, {duration_s = 30, engine_rpm = 0}, ".repeat(12);
    let idles = "{duration_min = 30, engine_rpm = 2000}, {duration_min = 3, engine_rpm = 700, vehicle_load_a = 60}, \
                 {duration_min = 30, engine_rpm = 2000}, {duration_min = 30, engine_rpm = 0}";
    let loads =
        "{duration_min = 8, engine_rpm = 2000}, {duration_min = 2, engine_rpm = 2000, house_load_w = 1500}, ";
    let full = [
        "house_battery.start_pct=97",
        "stages.recharge_hold_s=5",
        "stages.absorption_cap_min=1",
        "house.load_w=0",
    ];
    let with = |set: &[&str], drive: String| set.iter().map(|s| (*s).to_owned()).chain([drive]).collect();
    [
        ("stops", with(&["start_stop.turn_on_delay_s=60"], piece(stops.trim_end_matches(", ")))),
        ("idles", with(&[], piece(idles))),
        ("loads that come and go", with(&full, piece(loads.repeat(6).trim_end_matches(", ")))),
    ]
}

fn page(file: &std::path::Path, set: &[String], full: bool) -> Result<(String, serde_json::Value), String> {
    let folder = Folder::new();
    let out = folder.path("out");
    let file = file.display().to_string();
    let mut words = vec!["run", &file, "--out", &out, "--plot", "none"];
    if full {
        words.push("--full");
    }
    set.iter().for_each(|s| words.extend(["--set", s]));
    let printed = tickover(&words);
    if !matches!(printed.exit, Exit::Done | Exit::LimitBroken) {
        return Err(printed.err);
    }
    let json = std::fs::read_to_string(folder.path("out/summary.json")).expect("a summary");
    Ok((folder.hide(&printed.out), serde_json::from_str(&json).expect("JSON")))
}

/// The paragraphs of a page, less its tables and its list of files.
fn paragraphs(page: &str) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    let mut skip = false;
    for line in page.lines() {
        if !line.starts_with(' ') {
            skip = line.starts_with("WRITTEN");
            continue;
        }
        let text = line.trim();
        if skip || text.contains("  ") {
            continue;
        }
        match (line.starts_with("    "), all.last_mut()) {
            (true, Some(last)) => *last = format!("{last} {text}"),
            _ => all.push(text.to_owned()),
        }
    }
    all
}

fn sentences(paragraph: &str) -> impl Iterator<Item = &str> {
    paragraph.split(". ").flat_map(|s| s.split("; "))
}

#[test]
fn pages_are_plain_and_every_kind_of_finding_comes_about() {
    let mut problems = BTreeSet::new();
    let mut found: BTreeSet<String> = BTreeSet::new();
    for (name, file, set) in vehicles() {
        let (text, json) = match page(&file, &set, true) {
            Ok(told) => told,
            Err(e) => {
                problems.insert(format!("{name}: {e}"));
                continue;
            }
        };
        for finding in json["findings"].as_array().expect("findings") {
            found.insert(finding["kind"].as_str().expect("a kind").to_owned());
            let sentence = finding["sentence"].as_str().expect("a sentence");
            let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
            let weight = finding["weight"].as_str().expect("a weight");
            let bad = matches!(weight, "danger" | "trouble");
            let balance = matches!(finding["kind"].as_str(), Some("no_gain" | "loses"));
            if bad && !balance && !joined.contains(sentence) {
                problems.insert(format!("{name}: not on the page: {sentence}"));
            }
        }
        // What was changed on the command line is repeated as it was typed.
        for paragraph in paragraphs(&text).iter().filter(|p| !p.starts_with("with ")) {
            for sentence in sentences(paragraph) {
                if sentence.split_whitespace().filter(|w| w.chars().any(char::is_alphabetic)).count()
                    > MOST_WORDS
                {
                    problems.insert(format!("long: {sentence}"));
                }
            }
        }
        for not_so in NOT_SO.iter().filter(|n| text.contains(**n)) {
            problems.insert(format!("{name}: `{not_so}`"));
        }
    }
    let missing: Vec<&str> = KINDS.iter().copied().filter(|k| !found.contains(*k)).collect();
    if missing != NO_VEHICLE {
        problems.insert(format!("no vehicle has {missing:?}"));
    }
    let new: Vec<&String> = found.iter().filter(|k| !KINDS.contains(&k.as_str())).collect();
    assert!(new.is_empty(), "kinds that are not listed: {new:?}");
    assert!(problems.is_empty(), "{}", problems.iter().cloned().collect::<Vec<_>>().join("\n"));
}

/// Every kind of finding, as summary.json names it; the sentence of each is tried with made-up numbers beside the words.
const KINDS: [&str; 41] = [
    "bus_too_high",
    "comes_on_parked",
    "conductor_hot",
    "drops_out_at_first",
    "drops_out_on_less",
    "fed_by",
    "float_high",
    "full_already",
    "fuse_loaded",
    "fuse_may_open",
    "fuse_opened",
    "fuse_over",
    "gains_only_driving",
    "house_flat",
    "joint_hot",
    "keeps_dropping_out",
    "limit_broken",
    "limited_by_heat",
    "load_hides_tail",
    "loads_shed",
    "loses",
    "never_comes_on",
    "no_gain",
    "on_too_late",
    "refused",
    "runs_on",
    "stages_cycle",
    "start_not_expected",
    "start_up_cycles",
    "starter_drained",
    "starter_emptier",
    "starter_emptier_each_day",
    "starter_loses_driving",
    "starter_pays",
    "starter_under_reserve",
    "stays_off",
    "stops_keep_it_off",
    "system_voltage",
    "tapers_early",
    "tops_up",
    "winding_hot",
];

/// Kinds that no vehicle here has.
const NO_VEHICLE: [&str; 0] = [];

/// What one reads standing fits a sheet.
#[test]
fn the_reference_vans_page_fits_45_lines() {
    for van in ["reference-van.toml", "reference-van-full.toml"] {
        let (text, _) = page(&root().join("scenarios").join(van), &[], false).expect("it runs");
        assert!(text.lines().count() <= 45, "{van}: {} lines\n{text}", text.lines().count());
        for part in ["ANSWER", "WHAT A METER SHOULD SHOW", "ASSUMED", "BEFORE ANYONE CUTS A CABLE", "WRITTEN"]
        {
            assert!(text.contains(part), "{part}: {text}");
        }
        assert!(!text.contains("WHERE THE CHARGE WENT") && !text.contains("balances close"), "{text}");
    }
}

/// A van that cycles does not read like one whose unit never starts.
#[test]
fn the_meter_tells_cycling() {
    let (text, json) = page(&root().join("scenarios/thin-run.toml"), &[], false).expect("it runs");
    assert!(text.contains("1 min after the unit came on: the unit switches"), "{text}");
    let meter = json["meter"].as_array().expect("readings");
    let minute = &meter.iter().find(|r| r["when"] == "1 min after the unit came on").expect("it")["minute"];
    let of = |which: &str, what: &str| minute[which][what].as_f64().expect("a number");
    assert!(of("lowest", "unit_input_a") < 0.1 && of("greatest", "unit_input_a") > 40.0, "{minute}");
    assert!(of("greatest", "unit_input_v") - of("lowest", "unit_input_v") > 1.0, "{minute}");
    let (steady, json) = page(&root().join("scenarios/reference-van.toml"), &[], false).expect("it runs");
    let meter = json["meter"].as_array().expect("readings");
    let settled = meter.iter().find(|r| r["when"] == "1 min after the unit came on").expect("it");
    assert!(settled["minute"].is_null() && settled["unit_on"] == true, "{settled}");
    assert!(!steady.contains("switches"), "{steady}");
    let never = ["start_stop.turn_on_v=14.4".to_owned()];
    let (never, _) = page(&root().join("scenarios/thin-run.toml"), &never, false).expect("it runs");
    assert!(!never.contains("switches") && !never.contains("  on\n"), "{never}");
}

/// Once a fuse has opened its input is dead: that is no margin to turn-off, and no limit that sets a current.
#[test]
fn behind_an_open_fuse_there_is_no_margin() {
    let set = ["input_cable.fuse_a=25".to_owned(), "input_cable.fuse_kind=iso-8820-3-c".to_owned()];
    let (text, json) = page(&root().join("scenarios/reference-van-full.toml"), &set, true).expect("it runs");
    assert!(text.contains("the unit gives nothing: its input is dead"), "{text}");
    assert!(
        !text.contains("nothing now sets the current") && !text.contains("12.80 V below turn-off"),
        "{text}"
    );
    let met = &json["summary"]["extremes"]["margin_v"]["value"];
    assert!(met.as_f64().is_none_or(|v| v > -3.0), "{met}");
}

/// The first page of the README quotes what the first commands print, to the last digit.
#[test]
fn the_readmes_first_page_is_what_is_printed() {
    let readme = std::fs::read_to_string(root().join("README.md")).expect("the README");
    let (full, _) = page(&root().join("scenarios/reference-van-full.toml"), &[], false).expect("it runs");
    let quoted = readme.split("```text\n").nth(1).and_then(|rest| rest.split("```").next()).expect("a page");
    assert!(quoted.starts_with("ANSWER\n") && full.contains(quoted), "quoted:\n{quoted}\nprinted:\n{full}");
    let (thin, _) = page(&root().join("scenarios/thin-run.toml"), &[], false).expect("it runs");
    let thin = thin.split_whitespace().collect::<Vec<_>>().join(" ");
    let under = readme.split("thin-run-ladder.png)").nth(1).and_then(|rest| rest.split("##").next());
    let figures = under
        .expect("the words below the picture")
        .split_whitespace()
        .map(|w| w.trim_matches(['.', ',', ';']));
    let figures: Vec<&str> = figures.filter(|w| w.parse::<f64>().is_ok()).collect();
    assert!(figures.len() > 5, "{figures:?}");
    for figure in figures {
        let set = ["12.80", "13.60"].contains(&figure);
        assert!(set || thin.contains(figure), "{figure} is not printed:\n{thin}");
    }
}

/// What stands under the title of each picture of a vehicle, by the picture's name.
fn captions(file: &std::path::Path) -> Vec<(String, String)> {
    let folder = Folder::new();
    let out = folder.path("out");
    let file = file.display().to_string();
    let printed = tickover(&["run", &file, "--out", &out, "--plot", "all", "--svg", "--quiet"]);
    assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
    let entries = std::fs::read_dir(&out).expect("the folder").map(|e| e.expect("an entry").path());
    let pictures = entries.filter(|p| p.extension().is_some_and(|e| e == "svg"));
    let read = |p: PathBuf| {
        let text = std::fs::read_to_string(&p).expect("a picture");
        let tree = roxmltree::Document::parse(&text).expect("XML");
        let says = tree.descendants().find(|n| n.has_tag_name("desc")).and_then(|n| n.text());
        let name = p.file_stem().expect("a name").to_string_lossy().into_owned();
        (name, says.expect("a description").to_owned())
    };
    pictures.map(read).collect()
}

/// Pictures speak as the page does: plain, the worst finding first, and no unit that is on "never comes on".
#[test]
fn pictures_say_what_the_page_says() {
    let own = root().join("sim-cli/tests/scenarios");
    let shipped = root().join("scenarios");
    for file in [own.join("old-cable.toml"), own.join("two-speeds.toml"), shipped.join("thin-run.toml")] {
        let said = captions(&file);
        assert!(said.len() > 10, "{said:?}");
        for (name, text) in &said {
            if let Some(not_so) = NOT_SO.iter().find(|n| text.contains(**n)) {
                panic!("{}: {name}: `{not_so}`: {text}", file.display());
            }
            assert!(!text.contains("never comes on"), "{}: {name}: {text}", file.display());
        }
        let of = |which: &str| &said.iter().find(|(name, _)| name == which).expect("it").1;
        let danger = file.ends_with("old-cable.toml");
        let first = if danger { "DANGER: the input cable" } else { "TROUBLE: the unit" };
        for which in ["overview", "ladder"] {
            assert!(of(which).contains(first), "{}: {which}: {}", file.display(), of(which));
        }
        assert!(!danger || of("temperatures").contains(first), "{}", of("temperatures"));
        assert!(!danger || of("drop-ladder").contains("The run signal holds the unit on"));
    }
}
