//! `tickover new`: questions, flags, and a file that runs at once.

mod support;

use sim_cli::Exit;
use support::{Folder, snapshot, tickover, with_input};

#[test]
fn every_choice_gives_a_scenario_without_problems() {
    let folder = Folder::new();
    for alternator in ["fixed", "variable"] {
        for drive in ["short", "town", "long"] {
            for (amps, ah) in [("20", "60"), ("60", "400")] {
                let words = ["new", "--unit-a", amps, "--house-ah", ah, "--alternator", alternator];
                let printed = tickover(&[&words[..], &["--drive", drive, "--out", "-"]].concat());
                assert_eq!((printed.exit, printed.err.as_str()), (Exit::Done, ""));
                assert_eq!(printed.out.contains("set_point_v = 12.9 "), alternator == "variable");
                let file = folder.write("a.toml", &printed.out);
                let checked = tickover(&["check", &file]);
                assert_eq!(checked.exit, Exit::Done, "{} {}", printed.out, checked.err);
            }
        }
    }
}

#[test]
fn a_new_scenario_runs_and_says_what_was_assumed() {
    let folder = Folder::new();
    let (file, out) = (folder.path("camper.toml"), folder.path("out"));
    let words = ["new", "--unit-a", "30", "--cable-m", "6", "--drive", "short", "--out", &file];
    let printed = tickover(&words);
    assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
    assert!(
        printed.out.contains("Assumed, since nobody said: cable, house-ah, chemistry, house-load-w,"),
        "{}",
        printed.out
    );
    assert_eq!(folder.names(), ["camper.toml"], "nothing is left beside it");
    let text = std::fs::read_to_string(&file).expect("the file");
    snapshot("new-scenario.txt", &text);
    let model = tickover(&["model", &file]).out;
    let line = |name: &str| model.lines().find(|l| l.starts_with(name)).expect(name).to_owned();
    assert!(line("input_cable.length_m ").contains(" 6 m     typed"));
    assert!(line("input_cable.area_mm2 ").contains("default"), "an assumption is a default in the model too");
    assert!(line("house_battery.capacity_ah ").contains("default"));
    let run = tickover(&["run", &file, "--out", &out]);
    assert_eq!(run.exit, Exit::Done, "{}", run.err);
    assert!(run.out.contains("ANSWER"));
}

#[test]
fn every_default_that_is_shown_can_be_taken_as_it_stands() {
    let folder = Folder::new();
    let text = tickover(&["new", "--defaults", "--out", "-"]).out;
    // Limits have no default to show.
    let all: String = text
        .lines()
        .filter(|l| !l.ends_with("on measured") && !l.contains("# none; "))
        .map(|l| match l.strip_prefix("# ") {
            Some(value) if value.contains("# default: ") => format!("{value}\n"),
            _ => format!("{l}\n"),
        })
        .collect();
    let (plain, typed) = (folder.write("plain.toml", &text), folder.write("typed.toml", &all));
    assert_eq!(tickover(&["check", &typed]).err, "");
    let values = |file: &str| -> Vec<String> {
        let model = tickover(&["model", file]).out;
        model.lines().skip(4).map_while(|l| l.split_once("  ")).map(|(n, _)| n.to_owned()).collect()
    };
    for name in values(&plain) {
        assert!(values(&typed).contains(&name), "{name}");
    }
    let defaults = tickover(&["model", &typed]).out;
    assert_eq!(defaults.lines().filter(|l| l.contains(" default   ")).count(), 0, "{defaults}");
}

#[test]
fn questions_are_put_to_somebody_who_sits_there() {
    let folder = Folder::new();
    let file = folder.path("van.toml");
    let answers = "25\n7,5\n7.5\n\nLFP\n\n150 A\nVariable\n\n\n\nreq\nlong\n";
    let printed = with_input(&["new", "--house-ah", "100", "--out", &file], answers, true);
    assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
    snapshot("new-questions.txt", &folder.hide(&printed.err));
    let text = std::fs::read_to_string(&file).expect("the file");
    assert!(text.contains("output_limit_a = 25") && text.contains("length_m = 7.5"));
    assert!(!text.contains("area_mm2"), "Enter leaves the default");
    assert!(text.contains("rated_a = 150") && text.contains("signal = \"required\""), "{text}");
    assert!(text.contains("set_point_v = 14.6 ") && text.contains("\"open road\""));
    assert!(
        printed.out.contains(
            "Assumed, since nobody said: cable, house-load-w, vehicle-load-a, turn-on-v, turn-off-v.\n"
        ),
        "{}",
        printed.out
    );
}

/// A flag that does not fit is asked for again where somebody sits there; what the others said stays.
#[test]
fn only_what_was_wrong_is_asked_again() {
    let folder = Folder::new();
    let file = folder.path("van.toml");
    let flags = [
        "new",
        "--unit-a",
        "30",
        "--cable-m",
        "6",
        "--cable",
        "17",
        "--house-ah",
        "100",
        "--chemistry",
        "agm",
        "--house-load-w",
        "0",
        "--alternator-a",
        "120",
        "--alternator",
        "fixed",
        "--vehicle-load-a",
        "30",
        "--turn-on-v",
        "13.3",
        "--turn-off-v",
        "13.4",
        "--signal",
        "none",
        "--drive",
        "short",
        "--out",
        &file,
    ];
    let printed = with_input(&flags, "2 AWG\n12.9\n", true);
    assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
    assert_eq!(printed.err.matches("  [").count(), 2, "two questions: {}", printed.err);
    let text = std::fs::read_to_string(&file).expect("the file");
    for said in [
        "output_limit_a = 30",
        "length_m = 6",
        "awg = \"2\"",
        "chemistry = \"agm\"",
        "load_w = 0 ",
        "rated_a = 120",
        "running_load_a = 30",
        "turn_on_v = 13.3",
        "turn_off_v = 12.9",
        "signal = \"none\"",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
    assert!(!text.contains("r0_mohm") && !text.contains("area_mm2"), "{text}");
    assert!(!printed.out.contains("Assumed"));
    assert_eq!(tickover(&["check", &file]).exit, Exit::Done);
    let model = tickover(&["model", &file]).out;
    assert!(model.contains("AWG (ASTM B258"), "{model}");
}

#[test]
fn what_is_not_said_is_not_written_unless_asked_for() {
    let bare = tickover(&["new", "--unit-a", "25", "--out", "-"]).out;
    assert!(!bare.contains("# default:"), "no default stands there as a comment: {bare}");
    assert!(!bare.contains("[house_battery]") && bare.contains("[converter]\noutput_limit_a = 25"), "{bare}");
    let all = tickover(&["new", "--unit-a", "25", "--defaults", "--out", "-"]).out;
    assert!(all.contains("# turn_off_v = 12.8") && all.contains("output_limit_a = 25"), "{all}");
    // Everything wrong with the flags is told at once, where nobody can be asked.
    let wrong = tickover(&["new", "--unit-a", "many", "--signal", "perhaps", "--out", "-"]);
    assert_eq!(wrong.exit, Exit::WrongInput);
    assert!(wrong.err.contains("--unit-a: ") && wrong.err.contains("--signal: "), "{}", wrong.err);
}

#[test]
fn answers_that_end_or_do_not_fit_write_nothing() {
    let folder = Folder::new();
    let file = folder.path("van.toml");
    for (input, said) in [
        (
            "40\n5\n6 AWG\n",
            "nothing was written. To go on from here: tickover new --unit-a 40 --cable-m 5 --cable \"6 AWG\"\n",
        ),
        ("many\nmore\n\u{1b}[2J\n", "`many` is not a number from 0.1 to 1000 A"),
    ] {
        let printed = with_input(&["new", "--out", &file], input, true);
        assert_eq!(printed.exit, Exit::WrongInput);
        assert!(printed.err.contains(said), "{}", printed.err);
        assert!(!printed.err.contains('\u{1b}'));
    }
    assert_eq!(folder.names(), Vec::<String>::new());
}

#[test]
fn a_file_that_is_there_stays() {
    let folder = Folder::new();
    let file = folder.write("van.toml", "mine");
    let printed = with_input(&["new", "--out", &file], "", true);
    assert_eq!(printed.exit, Exit::WrongInput);
    assert_eq!(
        folder.hide(&printed.err),
        "error: van.toml is there already; name another with --out, or replace it with --replace\n"
    );
    assert_eq!(std::fs::read_to_string(&file).expect("the file"), "mine");
    assert_eq!(tickover(&["new", "--out", &file, "--replace"]).exit, Exit::Done);
    assert!(std::fs::read_to_string(&file).expect("the file").contains("format = 2"));
    assert_eq!(folder.names(), ["van.toml"]);
    let nowhere = folder.path("no/such/van.toml");
    let printed = tickover(&["new", "--out", &nowhere]);
    assert_eq!(printed.exit, Exit::Failed);
    assert!(printed.err.contains("cannot be written"), "{}", printed.err);
}
