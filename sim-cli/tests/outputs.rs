//! Exit codes and output files: whole or not at all, its own and no others.

mod support;

use sim_cli::Exit;
use support::{Folder, SMALL, tickover, with_input};

const FILES: [&str; 5] = ["events.csv", "ladder.png", "overview.png", "summary.json", "trace.csv"];

#[test]
fn each_exit_code_has_its_case() {
    let folder = Folder::new();
    let good = folder.write("good.toml", SMALL);
    let out = folder.path("out");
    assert_eq!(tickover(&["run", &good, "--out", &out, "--quiet"]).exit, Exit::Done);
    let limited = folder.write("limited.toml", format!("{SMALL}[limits]\nleast_house_end_pct = 99\n"));
    let printed = tickover(&["run", &limited, "--out", &out]);
    assert_eq!((printed.exit, Exit::LimitBroken as u8), (Exit::LimitBroken, 3));
    assert!(printed.out.contains("ANSWER"), "a broken limit is told on the page");
    let wrong = folder.write("wrong.toml", SMALL.replace("2000", "-2"));
    assert_eq!(tickover(&["run", &wrong, "--out", &out]).exit as u8, 2);
    assert_eq!(tickover(&["run", &folder.path("none.toml")]).exit as u8, 2);
    let blocked = folder.path("good.toml/out");
    assert_eq!(tickover(&["run", &good, "--out", &blocked]).exit as u8, 1);
    assert_eq!(tickover(&["--help"]).exit as u8, 0);
    assert_eq!(tickover(&[]).exit as u8, 2);
}

#[test]
fn check_goes_through_all_files_and_ends_with_the_worst() {
    let folder = Folder::new();
    let (a, b) = (folder.write("a.toml", SMALL), folder.write("b.toml", SMALL.replace("2000", "-2")));
    let printed = tickover(&["check", &b, &folder.path("none.toml"), &a]);
    assert_eq!(printed.exit, Exit::WrongInput);
    assert_eq!(folder.hide(&printed.out), "a.toml: no problems\n");
    assert!(folder.hide(&printed.err).ends_with("b.toml: 1 problem\nerror: there is no file none.toml\n"));
    assert_eq!(tickover(&["check", &a, "--set", "house.load_w=-5"]).exit, Exit::WrongInput);
}

#[test]
fn a_second_run_replaces_its_own_files_and_touches_no_others() {
    let folder = Folder::new();
    let file = folder.write("van.toml", SMALL);
    let out = folder.path("out");
    assert_eq!(tickover(&["run", &file, "--out", &out]).exit, Exit::Done);
    let mine = folder.write("out/notes.txt", "mine");
    let read = |name: &str| std::fs::read(folder.path(&format!("out/{name}"))).expect(name);
    let before: Vec<_> = FILES.iter().map(|n| read(n)).collect();
    assert_eq!(tickover(&["run", &file, "--out", &out, "--set", "house.load_w=300"]).exit, Exit::Done);
    assert_ne!(read("summary.json"), before[3]);
    assert_eq!(tickover(&["run", &file, "--out", &out]).exit, Exit::Done);
    assert_eq!(FILES.iter().map(|n| read(n)).collect::<Vec<_>>(), before, "the same input, the same bytes");
    assert_eq!(std::fs::read_to_string(mine).expect("notes"), "mine");
    let mut names: Vec<_> = FILES.iter().map(ToString::to_string).collect();
    names.extend(["notes.txt".into(), "files.sha256".into()]);
    names.sort();
    let found = std::fs::read_dir(&out).expect("the folder");
    let mut found: Vec<_> =
        found.map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
    found.sort();
    assert_eq!(found, names, "nothing is left beside them");
}

#[test]
fn wrong_input_leaves_the_last_outputs_alone() {
    let folder = Folder::new();
    let file = folder.write("van.toml", SMALL);
    let out = folder.path("out");
    tickover(&["run", &file, "--out", &out, "--quiet"]);
    let before = std::fs::read(folder.path("out/summary.json")).expect("the summary");
    assert_eq!(tickover(&["run", &file, "--out", &out, "--set", "house.load_w=-1"]).exit, Exit::WrongInput);
    assert_eq!(std::fs::read(folder.path("out/summary.json")).expect("the summary"), before);
}

#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_written_is_told_and_left_empty() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::new();
    let file = folder.write("van.toml", SMALL);
    let locked = folder.path("locked");
    std::fs::create_dir(&locked).expect("a folder");
    std::fs::set_permissions(&locked, std::fs::Permissions::from_mode(0o555)).expect("permissions");
    // Whoever may write everywhere is stopped by a file in the way instead.
    let probe = format!("{locked}/probe");
    let powerful = std::fs::write(&probe, "").is_ok();
    let out = if powerful { format!("{probe}/out") } else { locked.clone() };
    let printed = tickover(&["run", &file, "--out", &out]);
    assert_eq!(printed.exit, Exit::Failed);
    assert_eq!(printed.out, "", "no page of a run whose files could not be written");
    assert!(printed.err.contains("cannot be written"), "{}", printed.err);
    let left = std::fs::read_dir(&locked).expect("the folder").count();
    assert_eq!(left, usize::from(powerful));
}

#[test]
fn the_summary_goes_to_a_script_and_the_scenario_comes_from_a_pipe() {
    let folder = Folder::new();
    let out = folder.path("out");
    let printed = with_input(&["run", "-", "--json", "--out", &out], SMALL, false);
    assert_eq!((printed.exit, printed.err.as_str()), (Exit::Done, ""));
    let told: serde_json::Value = serde_json::from_str(&printed.out).expect("JSON and nothing else");
    assert!(told.is_object());
    assert_eq!(printed.out.as_bytes(), std::fs::read(folder.path("out/summary.json")).expect("the summary"));
    let printed = with_input(&["check", "-"], "format = 3\n", false);
    assert_eq!(printed.exit, Exit::WrongInput);
    assert!(printed.err.contains(" --> (standard input):1:10\n"), "{}", printed.err);
}
