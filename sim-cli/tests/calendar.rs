//! Calendars on the command line: everything wrong at once and at its place, days told on the page and in tables.

mod support;
#[path = "support/weeks_log.rs"]
mod weeks_log;

use sim_cli::Exit;
use support::{Folder, root, snapshot, tickover};
use weeks_log::{ITS_SCENARIO, weeks_log};

const MISTAKES: &str = "\
format = 2

[drive]
start_clock = \"08:00\"

[calendar]
start_day = \"munday\"
start_date = \"2026-13-02\"
weeks = 2
days = 3
every_day = \"rund\"
hold_season = \"summer\"
saturday = \"parked\"

[[calendar.day]]
name = \"round\"

[[calendar.day.drive]]
at = \"25:00\"
duration_min = 20
engine_rpm = 2000

[[calendar.day.drive]]
at = \"09:00\"
duration_min = 20
engine_rpm = 2000
times = 3

[[calendar.day.drive]]
at = \"10:00\"
duration_min = 40
engine_rpm = 2000

[[calendar.day.drive]]
at = \"10:30\"
duration_min = 10

[[calendar.day.drive]]
at = \"10:39\"
duration_min = 10
engine_rpm = 1500

[[calendar.day.during]]
from = \"noon\"
house_load_w = 40

[[calendar.day]]
name = \"round\"

[[calendar.season]]
name = \"winter\"
from = \"11-31\"
noon_w = 40
sunrise = \"08:00\"

[[calendar.lay_up]]
from_day = 2
days = 20
";

#[test]
fn everything_wrong_with_a_calendar_is_told_at_its_place() {
    let folder = Folder::new();
    let path = folder.write("case.toml", MISTAKES);
    let printed = tickover(&["check", &path]);
    assert_eq!(printed.exit, Exit::WrongInput);
    snapshot("calendar-mistakes.txt", &folder.hide(&printed.err));
}

#[test]
fn a_calendar_and_pieces_do_not_stand_in_one_file() {
    let folder = Folder::new();
    let both = "format = 2\n[calendar]\ndays = 1\n[[drive.piece]]\nduration_min = 5\nengine_rpm = 0\n";
    let path = folder.write("both.toml", both);
    assert!(
        tickover(&["check", &path]).err.contains("a list of pieces or a calendar, and this file has both")
    );
    // One that builds on the other decides.
    folder.write(
        "base.toml",
        "format = 2\n[drive]\nstart_clock = \"08:00\"\n[[drive.piece]]\nduration_min = 5\nengine_rpm = 0\n",
    );
    let path = folder.write("top.toml", "format = 2\nbuild_on = \"base.toml\"\n[calendar]\ndays = 1\n");
    let checked = tickover(&["check", &path]);
    assert_eq!(checked.exit, Exit::Done, "{}", checked.err);
    for word in ["drive.start_clock=08:00", "drive.repeat=2"] {
        let checked = tickover(&["check", &path, "--set", word]);
        assert_eq!(checked.exit, Exit::WrongInput, "{word} is told, not passed over");
        assert!(checked.err.contains("leave `"), "{}", checked.err);
    }
    folder.write("week.toml", "format = 2\n[calendar]\ndays = 3\n");
    let text = "format = 2\nbuild_on = \"week.toml\"\n[[drive.piece]]\nduration_min = 5\nengine_rpm = 2000\n";
    let path = folder.write("over.toml", text);
    let model = tickover(&["model", &path]);
    assert!(
        model.out.contains("drive.duration_s") && !model.out.contains("calendar.duration_s"),
        "{}",
        model.out
    );
}

#[test]
fn the_page_and_the_tables_tell_the_days() {
    let folder = Folder::new();
    let scenario = root().join("scenarios/patterns/farrier.toml");
    let out = folder.path("out");
    let words = [
        "run",
        scenario.to_str().expect("a path"),
        "--out",
        &out,
        "--plot",
        "week",
        "--full",
        "--set",
        "calendar.start_date=2026-03-04",
    ];
    let ran = tickover(&words);
    assert_eq!(ran.exit, Exit::Done, "{}", ran.err);
    assert!(
        ran.out.contains("The house battery loses 1") && ran.out.contains("Ah a day and is FLAT"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("  Wed 2026-03-04 ") && ran.out.contains("  Tue 2026-03-10 "), "{}", ran.out);
    assert!(ran.out.lines().all(|l| l.chars().count() <= 100), "{}", ran.out);
    let happened =
        ran.out.split("WHAT HAPPENED").nth(1).and_then(|t| t.split("\n\n").next()).unwrap_or_default();
    assert!(happened.contains("  Wed 2026-03-04 07:"), "the first day by its name: {happened}");
    assert!(happened.contains("  Tue 2026-03-10 ") && !happened.contains("day 7"), "{happened}");
    let days = std::fs::read_to_string(folder.path("out/days.csv")).expect("days.csv");
    assert_eq!(days.lines().count(), 8);
    assert!(days.starts_with("day,name,date,from_s,days,driving_h,starts,"), "{days}");
    let json = std::fs::read_to_string(folder.path("out/summary.json")).expect("summary.json");
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    assert_eq!(json["calendar"]["days"].as_array().expect("days").len(), 7);
    let flat = &json["calendar"]["headlines"]["house_flat_at_s"];
    assert!(flat.as_f64().is_some_and(|t| t > 86_400.0), "{flat}");
    assert!(std::fs::metadata(folder.path("out/week.png")).expect("a picture").len() > 20_000);
}

#[test]
fn week_answers_in_an_installers_words() {
    let scenario = root().join("scenarios/patterns/farrier.toml");
    // A calendar of one working day, lived again and again, asks for the same searches as one of seven.
    let said = tickover(&["week", scenario.to_str().expect("a path"), "--set", "calendar.days=1"]);
    assert_eq!(said.exit, Exit::Done, "{}", said.err);
    let one_line = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "The house battery loses 17.",
        " Ah a day, flat on Thursday (",
        "The calendar was run 4 times in a row",
        "It breaks even at ",
        " minutes of driving a day, now ",
        "cost the starter battery more than they give.",
        "The crank reserve is 60 %",
    ] {
        assert!(one_line.contains(words), "no `{words}` in:\n{}", said.out);
    }
    assert!(said.out.lines().all(|l| l.chars().count() <= 100), "{}", said.out);
    let json = tickover(&["week", scenario.to_str().expect("a path"), "--json"]);
    let json: serde_json::Value = serde_json::from_str(&json.out).expect("JSON");
    assert_eq!(json["outlook"]["ending"]["ending"], "flat");
    assert_eq!(json["house_break_even"]["break_even"], "at");
}

/// A log of a week at 1 Hz with stamps and parked gaps, as a logger writes it: the ledgers close, the days are told, the
/// gaps are warned of. Its time is measured elsewhere.
#[test]
fn a_weeks_log_runs_and_its_ledgers_close() {
    let folder = Folder::new();
    let (log, rows) = weeks_log(&root().join("scenarios/drives/udds.csv"));
    assert!(rows > 28_000);
    folder.write("log.csv", &log);
    let path = folder.write("log.toml", ITS_SCENARIO);
    let ran = tickover(&[
        "run",
        &path,
        "--out",
        &folder.path("out"),
        "--plot",
        "week",
        "--full",
        "--tolerance",
        "1e-8",
    ]);
    assert_eq!(ran.exit, Exit::Done, "{}", ran.err);
    assert!(
        ran.err.contains("20 gaps of more than 30 s") && ran.err.contains("before rows 1372, 2742"),
        "{}",
        ran.err
    );
    let json = std::fs::read_to_string(folder.path("out/summary.json")).expect("summary.json");
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    let closure = &json["summary"]["closure"];
    assert!(closure["charge"].as_f64().expect("charge") < 1e-9, "{closure}");
    assert!(closure["energy"].as_f64().expect("energy") < 1e-7, "{closure}");
    let days = json["calendar"]["days"].as_array().expect("days");
    assert_eq!(days.len(), 7);
    assert_eq!((&days[0]["name"], &days[0]["date"]), (&"Mon".into(), &"2026-03-02".into()));
    assert!(ran.out.contains("07:00:00"), "the stamps set the clock: {}", ran.out);
}

/// What a calendar cannot do is said, and not done in part.
#[test]
fn a_log_of_days_is_no_drive_of_a_day() {
    let folder = Folder::new();
    folder.write("long.csv", "time_s,engine_rpm\n0,2000\n20,2000\n90000,2000\n90020,2000\n");
    let day =
        "[[calendar.day]]\nname = \"round\"\n[[calendar.day.drive]]\nat = \"09:00\"\nfile = \"long.csv\"\n";
    let file =
        folder.write("a.toml", format!("format = 2\n[calendar]\nweeks = 1\nevery_day = \"round\"\n{day}"));
    let printed = tickover(&["check", &file]);
    assert_eq!(printed.exit, Exit::WrongInput, "{printed:?}");
    assert!(printed.err.contains("calendar.day.1.drive.1.file: this file lasts 1.0 days"), "{}", printed.err);
}

/// A drive without a calendar is lived end to end, and the page says so.
#[test]
fn a_week_without_a_calendar_says_what_is_repeated() {
    let van = root().join("scenarios/reference-van.toml");
    let printed = tickover(&["week", van.to_str().expect("a path")]);
    assert!(printed.out.contains("This drive has no calendar: its "), "{}", printed.out);
    let farrier = root().join("scenarios/patterns/farrier.toml");
    let printed = tickover(&["week", farrier.to_str().expect("a path")]);
    assert!(!printed.out.contains("has no calendar"), "{}", printed.out);
}

/// A drive past midnight gives way to the first one of the next day, and is said to.
#[test]
fn a_drive_into_the_next_days_first_is_told() {
    let folder = Folder::new();
    let check = |second: &str| {
        let text = format!(
            "format = 2\n[calendar]\nweeks = 1\nmonday = \"late\"\ntuesday = \"early\"\n\
             [[calendar.day]]\nname = \"late\"\n[[calendar.day.drive]]\nat = \"23:00\"\nduration_h = 3\nengine_rpm = 2000\n\
             [[calendar.day]]\nname = \"early\"\n[[calendar.day.drive]]\nat = \"{second}\"\nduration_h = 1\nengine_rpm = 2000\n"
        );
        tickover(&["check", &folder.write("case.toml", text)])
    };
    let (cut, apart) = (check("01:30"), check("02:00"));
    assert_eq!((cut.exit, apart.exit), (Exit::Done, Exit::Done), "{} {}", cut.err, apart.err);
    assert!(cut.err.contains("the first drive of day 2 begins 30.0 min before"), "{}", cut.err);
    assert!(!apart.err.contains("the first drive of day"), "{}", apart.err);
}
