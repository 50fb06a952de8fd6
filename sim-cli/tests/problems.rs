//! Every problem that a reader can be told of, each at its place, as kept texts.

mod support;

use sim_cli::Exit;
use std::fmt::Write as _;
use support::{Folder, SMALL, snapshot, tickover};

#[test]
fn ten_mistakes_are_told_in_one_go() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/scenarios/ten-mistakes.toml");
    let printed = tickover(&["check", file]);
    assert_eq!(printed.exit, Exit::WrongInput);
    assert_eq!(printed.out, "");
    let text = printed.err.replace(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/scenarios/"), "");
    assert_eq!(text.matches("\nerror").count() + 1, 10, "{text}");
    snapshot("ten-mistakes.txt", &text);
}

/// A name and a scenario; `+` in front adds [`SMALL`]'s drive and format.
const CASES: &[(&str, &str)] = &[
    ("no value", "+[house]\nload_w =\n"),
    ("an open quote", "+[house_battery]\nchemistry = \"lfp\n"),
    ("a section twice", "+[house]\nload_w = 5\n[house]\nload_w = 6\n"),
    ("decimal comma", "+[house]\nload_w = 5,5\n"),
    ("unknown key with a guess", "+[converter]\noutput_limt_a = 40\n"),
    ("unknown key without a guess", "+[house]\nzzz = 1\n"),
    ("a key of another section", "+[converter]\nturn_on_v = 13\n"),
    ("unknown section", "+[alternater]\nset_point_v = 14\n"),
    ("text for a number", "+[house]\nload_w = \"60\"\n"),
    ("number for a text", "+[input_cable]\nawg = 6\n"),
    ("number for a word", "+[converter]\nsense = 1\n"),
    ("number for a list", "+[gears]\nkmh_per_1000rpm = 30\n"),
    ("list for a number", "+[house]\nload_w = [1, 2]\n"),
    ("date for a number", "+[house]\nload_w = 2020-01-01\n"),
    ("true for a number", "+[house]\nload_w = true\n"),
    ("number for a section", "+house = 5\n"),
    ("out of range", "+[converter]\noutput_limit_a = 0\n"),
    ("not a number", "+[converter]\noutput_limit_a = nan\n"),
    ("endless", "+[converter]\noutput_limit_a = -inf\n"),
    ("out of range in a list", "+[gears]\nkmh_per_1000rpm = [8, 900]\n"),
    ("measured without a value", "+[house]\nload_w = { plus_minus = 5 }\n"),
    ("measured with something else", "+[house]\nload_w = { measured = 5, plusminus = 1 }\n"),
    ("a word that is not known", "+[house_battery]\nchemistry = \"lipo\"\n"),
    ("no format", "[[drive.piece]]\nduration_min = 5\nengine_rpm = 0\n"),
    ("another format", "format = 3\n[[drive.piece]]\nduration_min = 5\nengine_rpm = 0\n"),
    ("format as text", "format = \"1\"\n[[drive.piece]]\nduration_min = 5\nengine_rpm = 0\n"),
    ("empty file", ""),
    ("no drive", "format = 2\n"),
    ("drive without pieces", "format = 2\n[drive]\nair_c = 5\n"),
    ("an empty list of pieces", "format = 2\n[drive]\npiece = []\n"),
    ("pieces of another kind", "format = 2\n[drive]\npiece = 5\n"),
    ("drive of another kind", "format = 2\ndrive = 5\n"),
    ("piece without a duration", "format = 2\n[[drive.piece]]\nengine_rpm = 900\n"),
    (
        "piece with two durations",
        "format = 2\n[[drive.piece]]\nengine_rpm = 900\nduration_s = 5\nduration_h = 1\n",
    ),
    ("piece without an engine speed", "format = 2\n[[drive.piece]]\nduration_min = 5\n"),
    ("drive file that is not there", "format = 2\n[[drive.piece]]\nfile = \"none.csv\"\n"),
    ("drive file that is a folder", "format = 2\n[[drive.piece]]\nfile = \".\"\n"),
    ("no clock time", "+[drive]\nstart_clock = \"25:00\"\n"),
    ("half a repeat", "+[drive]\nrepeat = 1.5\n"),
    (
        "too long",
        "format = 2\n[drive]\nrepeat = 1000\n[[drive.piece]]\nduration_h = 1000000\nengine_rpm = 0\n",
    ),
    ("loads that come back before they stop", "+[vehicle]\nloads_stop_v = 12\n"),
    ("gears out of order", "+[gears]\nkmh_per_1000rpm = [20, 10]\n"),
    ("shifts crossed", "+[gears]\nshift_up_rpm = 1000\nshift_down_rpm = 1200\n"),
    ("one label current", "+[alternator]\nidle_a = 70\n"),
    ("label currents that fall", "+[alternator]\nidle_a = 90\nrated_a = 80\n"),
    ("half a cell", "+[house_battery]\ncells = 3.5\n"),
    ("full below empty", "+[starter_battery]\nfull_v = 11\n"),
    ("table without its values", "+[house_battery]\nchemistry = \"table\"\n"),
    (
        "table that does not rise",
        "+[house_battery]\nchemistry = \"table\"\ntable_pct = [0, 50, 50]\ntable_v = [11, 12, 13]\n",
    ),
    (
        "table that falls",
        "+[house_battery]\nchemistry = \"table\"\ntable_pct = [0, 50, 100]\ntable_v = [11, 12.6, 12.5]\n",
    ),
    (
        "table that goes on to less than nothing",
        "+[house_battery]\nchemistry = \"table\"\ntable_pct = [50, 50.1, 70]\ntable_v = [0.02, 4, 12.5]\n",
    ),
    (
        "keys in other units",
        "+[input_cable]\nlength_ft = 20\narea_awg = 6\njoints_ohm = 0.002\nfuse_ma = \"many\"\n[converter]\n\
         standby_a = 0.02\n[house]\nload_kw = 0.1\n[drive]\nair_f = 14\n",
    ),
    ("sizes of a cable beside each other", "+[output_cable]\narea_mm2 = 16\nawg = \"6\"\nsae = \"6\"\n"),
    ("no such AWG size", "+[input_cable]\nawg = \"six\"\n"),
    ("no such area", "+[output_cable]\narea_mm2 = 17\n"),
    ("turn-off above turn-on", "+[start_stop]\nturn_on_v = 12.8\nturn_off_v = 13\n"),
    ("turn-off at turn-on's default", "+[start_stop]\nturn_off_v = 13.6\n"),
    (
        "chatter at one instant",
        "+[converter]\nramp_s = 0\n[start_stop]\nturn_on_delay_s = 1e-9\nturn_off_delay_s = 0\n",
    ),
    ("float above absorption", "+[stages]\nfloat_v = 14.5\n"),
    ("recharge above float", "+[stages]\nrecharge_v = 13.6\n"),
    ("floor below turn-off", "+[converter]\ninput_floor_v = 12\n"),
    ("input limit under the fixed loss", "+[converter]\ninput_limit_a = 0.3\nfixed_loss_w = 8\n"),
    (
        "a standby current that its cable cannot bring",
        "+[converter]\nstandby_ma = 5000\n[input_cable]\nresistance_mohm = 5000\n",
    ),
    ("two links", "+[[link]]\nname = \"second\"\n"),
    ("nested too deep", "+a = [[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]\n"),
    ("build_on of another kind", "+build_on = 5\n"),
    ("build_on of nothing", "+build_on = \"\"\n"),
    ("build_on that is not there", "+build_on = \"base.toml\"\n"),
    ("build_on of a folder", "+build_on = \".\"\n"),
    ("build_on itself", "+build_on = \"case.toml\"\n"),
];

#[test]
fn each_problem_has_its_message() {
    let folder = Folder::new();
    let mut text = String::new();
    for (name, body) in CASES {
        let body = match body.strip_prefix('+') {
            // Keys of the head stand before the first section.
            Some(rest) => {
                SMALL.replacen("format = 2\n", &format!("format = 2\n{}", head(rest)), 1) + section(rest)
            }
            None => (*body).to_owned(),
        };
        let file = folder.write("case.toml", body);
        let printed = tickover(&["check", &file]);
        assert_eq!(printed.exit, Exit::WrongInput, "{name}: {printed:?}");
        let _ = write!(text, "== {name}\n{}\n", folder.hide(&printed.err));
    }
    snapshot("messages.txt", &text);
}

fn head(text: &str) -> &str {
    if text.starts_with('[') { "" } else { text }
}

fn section(text: &str) -> &str {
    if text.starts_with('[') { text } else { "" }
}

#[test]
fn problems_of_values_that_could_not_be_read_are_not_told_twice() {
    let folder = Folder::new();
    // Turn-on could not be read: its default must not be held against turn-off.
    let file =
        folder.write("a.toml", format!("{SMALL}[start_stop]\nturn_on_v = \"14\"\nturn_off_v = 13.9\n"));
    assert!(tickover(&["check", &file]).err.ends_with("a.toml: 1 problem\n"));
    // The line that is broken may have said anything.
    let file = folder.write("b.toml", format!("{SMALL}[start_stop]\nturn_on_v = 14,1\nturn_off_v = 13.9\n"));
    assert!(tickover(&["check", &file]).err.ends_with("b.toml: 1 problem\n"));
    let file = folder.write("c.toml", "format = 2\n[[drive.piece]]\nduration_mins = 5\nengine_rpm = 0\n");
    assert!(tickover(&["check", &file]).err.ends_with("c.toml: 1 problem\n"));
}

/// A name and a drive file.
const DRIVES: &[(&str, &str)] = &[
    ("empty", ""),
    ("no time", "speed_kmh,air_c\n0,5\n1,5\n"),
    ("an unknown column", "time_s,sped_kmh\n0,0\n1,1\n"),
    ("a column twice", "time_s,speed_kmh,speed_kmh\n0,0,0\n1,1,1\n"),
    ("no speed", "time_s,air_c\n0,5\n1,5\n"),
    ("time going backwards", "time_s,speed_kmh\n0,0\n2,1\n1,1\n3,1\n"),
    ("time standing still", "time_s,speed_kmh\n0,0\n0,1\n1,1\n"),
    ("decimal commas", "time_s,speed_kmh\n0,0,5\n1,1,5\n"),
    ("semicolons", "time_s;speed_kmh\n0;0\n1;1\n"),
    ("not a number", "time_s,speed_kmh\n0,NaN\n1,inf\n2,x\n3,-1\n4,1e999\n"),
    ("one row", "time_s,speed_kmh\n0,0\n"),
    ("rows cut short", "time_s,speed_kmh\n0,0\n1\n2,2\n"),
    ("a hundred bad rows", "HUNDRED"),
];

#[test]
fn each_drive_file_problem_has_its_message() {
    let folder = Folder::new();
    let mut text = String::new();
    for (name, body) in DRIVES {
        let hundred = format!("time_s,speed_kmh\n{}", "0,x\n".repeat(100));
        folder.write("drive.csv", if *body == "HUNDRED" { &hundred } else { *body });
        let file = folder.write("case.toml", "format = 2\n[[drive.piece]]\nfile = \"drive.csv\"\n");
        let printed = tickover(&["check", &file]);
        assert_eq!(printed.exit, Exit::WrongInput, "{name}: {printed:?}");
        let _ = write!(text, "== {name}\n{}\n", folder.hide(&printed.err));
    }
    snapshot("drive-files.txt", &text);
}

#[test]
fn each_wrong_word_has_its_message() {
    let folder = Folder::new();
    let file = folder.write("good.toml", SMALL);
    let deep = format!("house.load_w={}", "[".repeat(10_000));
    let dots = format!("{}=1", ["a"; 10_000].join("."));
    let bad_words: &[&[&str]] = &[
        &["run", &file, "--set", "house.load_w"],
        &["run", &file, "--set", "house..load_w=5"],
        &["run", &file, "--set", "drive.piece.8.engine_rpm=5"],
        &["run", &file, "--set", "house.load_w.x=5"],
        &["run", &file, "--set", "house.load_w=many"],
        &["run", &file, "--set", "hose.load_w=5"],
        &["run", &file, "--set", "build_on=\"other.toml\""],
        &["run", &file, "--set", &deep],
        &["run", &file, "--set", &dots],
        &["run", &file, "--every-s", "0"],
        &["run", &file, "--every-s", "NaN"],
        &["run", &file, "--tolerance", "1"],
        &["run", &folder.path("none.toml")],
        &["run", folder.0.to_str().expect("a plain path")],
        &["netlist", &file, "--from-s", "9", "--to-s", "5", "--out", &folder.path("net")],
        &["keys", "start-stop"],
        &["keys", "turn_of_v"],
        &["man", "walk"],
        &["new", "--unit-a", "many", "--out", "-"],
        &["new", "--unit-a", "12,5", "--out", "-"],
        &["new", "--cable-m", "0", "--out", "-"],
        &["new", "--cable", "17", "--out", "-"],
        &["new", "--cable", "99 AWG", "--out", "-"],
        &["new", "--unit-a", "many", "--chemistry", "lipo", "--turn-on-v", "12.5", "--out", "-"],
        &["new", "--house-ah", "-5", "--out", "-"],
        &["new", "--drive", "slow", "--out", "-"],
        &["walk"],
    ];
    let mut text = String::new();
    for words in bad_words {
        let printed = tickover(words);
        assert_eq!(printed.exit, Exit::WrongInput, "{words:?}");
        assert_eq!(printed.out, "", "{words:?}");
        let shown: Vec<String> = words.iter().map(|w| w.chars().take(60).collect()).collect();
        let _ = write!(text, "== {}\n{}\n", folder.hide(&shown.join(" ")), folder.hide(&printed.err));
    }
    assert_eq!(folder.names(), ["good.toml"], "nothing was written");
    snapshot("words.txt", &text);
}
