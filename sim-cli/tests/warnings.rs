//! Warnings: each has its message and its advice, and none stops a run.

mod support;

use sim_cli::Exit;
use std::fmt::Write as _;
use support::{Folder, SMALL, root, snapshot, tickover};

const CASES: &[(&str, &str)] = &[
    ("turn-on above the set-point", "[start_stop]\nturn_on_v = 14.6\n"),
    ("turn-off below the rested starter battery", "[start_stop]\nturn_off_v = 12.5\n"),
    ("a cable that drops more than the band", "[input_cable]\nlength_m = 12\n"),
    ("the same of a whole resistance", "[input_cable]\nresistance_mohm = 40\n"),
    ("more than the capacity in an hour", "[house_battery]\ncapacity_ah = 20\n"),
    ("tail current at the limit", "[stages]\ntail_a = 40\n"),
    ("absorption above the cells", "[stages]\nabsorption_v = 14.8\n[protection]\nfitted = \"no\"\n"),
    ("absorption above the protection", "[stages]\nabsorption_v = 14.6\n"),
    ("a fuse under the limit", "[input_cable]\nfuse_a = 50\n"),
    ("the same at the unit's end", "[input_cable]\nunit_end_fuse_a = 50\n"),
    ("the same at the house battery", "[output_cable]\nfuse_a = 35\n"),
    ("the same at the unit's output", "[output_cable]\nunit_end_fuse_a = 35\n"),
    (
        "a whole resistance beside what it replaces",
        "[output_cable]\nresistance_mohm = 5\nlength_m = 2\nawg = \"6\"\n",
    ),
    ("absorption out of reach", "[house_battery]\nchemistry = \"linear\"\n"),
];

#[test]
fn each_warning_has_its_message_and_stops_nothing() {
    let folder = Folder::new();
    let mut text = String::new();
    let mut told = |name: &str, body: &str| {
        let file = folder.write("case.toml", body);
        let printed = tickover(&["check", &file]);
        assert_eq!(printed.exit, Exit::Done, "{name}: {printed:?}");
        assert!(printed.out.contains("no problems, 1 warning"), "{name}: {printed:?}");
        let _ = write!(text, "== {name}\n{}\n", folder.hide(&printed.err));
    };
    for (name, section) in CASES {
        told(name, &format!("{SMALL}\n{section}"));
    }
    told("an engine that never runs", &SMALL.replace("2000", "0"));
    snapshot("warnings.txt", &text);
}

#[test]
fn runs_go_on_and_quiet_mutes_them() {
    let folder = Folder::new();
    let file = folder.write("a.toml", format!("{SMALL}\n[start_stop]\nturn_on_v = 14.6\n"));
    let out = folder.path("out");
    let printed = tickover(&["run", &file, "--out", &out]);
    assert_eq!(printed.exit, Exit::Done);
    assert!(printed.err.starts_with("warning: start_stop.turn_on_v:"), "{}", printed.err);
    assert!(printed.out.contains("never comes on"), "{}", printed.out);
    let printed = tickover(&["run", &file, "--out", &out, "--quiet"]);
    assert_eq!((printed.exit, printed.out.as_str(), printed.err.as_str()), (Exit::Done, "", ""));
    assert_eq!(tickover(&["check", &file, "--quiet"]).err, "");
}

#[test]
fn what_is_usual_gives_no_warning() {
    let folder = Folder::new();
    let small = folder.write("small.toml", SMALL);
    for file in [small, root().join("scenarios/reference-van.toml").display().to_string()] {
        let printed = tickover(&["check", &file]);
        assert_eq!((printed.exit, printed.err.as_str()), (Exit::Done, ""));
    }
}

/// A gap that no engine stop explains, and stamps that do not follow, are told as what they are.
#[test]
fn what_a_log_leaves_open_is_told() {
    let folder = Folder::new();
    let rows = |date: &str, clocks: &[&str], kmh: u32| -> String {
        let row = |clock: &&str| format!("2026-04-{date}T{clock}+02:00,{kmh}\n");
        std::iter::once("stamp,speed_kmh\n".to_owned()).chain(clocks.iter().map(row)).collect()
    };
    folder.write("hole.csv", rows("07", &["08:00:00", "08:00:10", "10:00:10", "10:00:20"], 40));
    folder.write("stop.csv", rows("07", &["08:00:00", "08:00:10", "10:00:10", "10:00:20"], 0));
    folder.write("later.csv", rows("09", &["08:00:00", "08:00:10", "08:00:20"], 40));
    let check = |files: &[&str]| {
        let pieces: String = files.iter().map(|f| format!("[[drive.piece]]\nfile = \"{f}\"\n")).collect();
        tickover(&["check", &folder.write("case.toml", format!("format = 2\n{pieces}"))]).err
    };
    let (hole, stop) = (check(&["hole.csv"]), check(&["stop.csv"]));
    assert!(
        hole.contains("with the vehicle moving before and after") && hole.contains("before row 4"),
        "{hole}"
    );
    assert!(!stop.contains("moving") && stop.contains("2.0 h in all, count as parked"), "{stop}");
    folder.write(
        "both.toml",
        "format = 2\n[[drive.piece]]\nfile = \"stop.csv\"\n[[drive.piece]]\nfile = \"later.csv\"\n",
    );
    let (late, early) = (check(&["stop.csv", "later.csv"]), check(&["later.csv", "stop.csv"]));
    assert!(late.contains("drive.piece.2.file: its stamps begin 45.99 h after"), "{late}");
    let model = tickover(&["model", &folder.path("both.toml")]).out;
    assert!(model.contains("172820"), "two days and 20 s: {model}");
    // What the later piece draws, it does not draw before it begins.
    let both = std::fs::read_to_string(folder.path("both.toml")).expect("just written");
    let draws = folder.write("draws.toml", format!("{both}vehicle_load_a = 30\n"));
    let page = tickover(&["run", &draws, "--out", &folder.path("out"), "--quiet"]);
    assert!(page.exit == Exit::Done && !page.out.contains("FLAT"), "{}{}", page.out, page.err);
    assert!(early.contains("its stamps begin 48.01 h before"), "{early}");
    assert!(!check(&["stop.csv"]).contains("stamps"));
}

/// What a file of format 1 called a run is a cable now; the file still says the same.
#[test]
fn files_of_format_1_load_with_one_note() {
    let folder = Folder::new();
    let now = "format = 2\n[input_cable]\nlength_m = 4\n[output_cable]\nlength_m = 3\n\n[[drive.piece]]\nduration_min = 5\nengine_rpm = 2000\n";
    let old = now.replace("format = 2", "format = 1").replace("_cable", "_run");
    let (now, old) = (folder.write("now.toml", now), folder.write("old.toml", old));
    let told = tickover(&["check", &old]);
    assert_eq!(told.exit, Exit::Done);
    assert!(told.out.contains("no problems, 1 warning"), "{told:?}");
    assert!(told.err.contains("input_run is now input_cable, output_run is now output_cable"), "{told:?}");
    let summary = |file: &str, set: &str| {
        let out = tickover(&["run", file, "--set", set, "--json", "--out", &folder.path("out")]).out;
        let mut told: serde_json::Value = serde_json::from_str(&out).expect("JSON");
        told.as_object_mut().expect("an object").retain(|k, _| k != "changed" && k != "name");
        told
    };
    let set = summary(&now, "input_cable.joints_mohm=4");
    assert_eq!(set, summary(&old, "input_run.joints_mohm=4"));
    assert_ne!(set, summary(&now, "input_cable.joints_mohm=2"));
    // Format 2 knows the new name alone, and no file has both.
    for text in [
        "format = 2\n[input_run]\nlength_m = 7\n",
        "format = 1\n[input_run]\nlength_m = 7\n[input_cable]\nlength_m = 7\n",
    ] {
        let file = folder
            .write("wrong.toml", format!("{text}[[drive.piece]]\nduration_min = 5\nengine_rpm = 2000\n"));
        let told = tickover(&["check", &file]);
        assert_eq!(told.exit, Exit::WrongInput);
        assert!(told.err.contains("unknown key `input_run` (did you mean `input_cable`?)"), "{told:?}");
    }
}
