//! The program as a process: pipes, streams, help, completions, man pages.

mod support;

use std::io::Write;
use std::process::{Command, Output, Stdio};
use support::{Folder, SMALL, snapshot};

fn program(words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tickover"));
    command.args(words).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

fn output(words: &[&str]) -> Output {
    program(words).output().expect("the program runs")
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    for words in [&["keys"][..], &["schema"], &["completions", "zsh"], &["keys", "--markdown"]] {
        let mut child = program(words).spawn().expect("the program runs");
        drop(child.stdout.take());
        let done = child.wait_with_output().expect("it ends");
        assert_eq!((done.status.code(), done.stderr.len()), (Some(0), 0), "{words:?}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_a_failure() {
    let full =
        std::fs::OpenOptions::new().write(true).open("/dev/full").expect("the device that is always full");
    let done = program(&["keys"]).stdout(full).output().expect("the program runs");
    assert_eq!(done.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&done.stderr).starts_with("error: output failed"));
}

#[test]
fn a_scenario_goes_from_new_through_a_pipe_into_a_run() {
    let folder = Folder::new();
    let made = output(&["new", "--drive", "short", "--out", "-"]);
    assert_eq!(made.status.code(), Some(0));
    let mut run = program(&["run", "-"]);
    let mut child = run.current_dir(&folder.0).stdin(Stdio::piped()).spawn().expect("the program runs");
    child.stdin.take().expect("its input").write_all(&made.stdout).expect("it reads");
    let done = child.wait_with_output().expect("it ends");
    assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
    assert!(String::from_utf8_lossy(&done.stdout).contains("ANSWER"));
    assert_eq!(folder.names(), ["run"]);
}

#[test]
fn codes_reach_the_shell_and_pipes_get_no_colours() {
    let folder = Folder::new();
    let file = folder.write("bad.toml", SMALL.replace("2000", "-1"));
    for colour in [None, Some("1")] {
        let mut command = program(&["check", &file]);
        if let Some(v) = colour {
            command.env("CLICOLOR_FORCE", v);
        }
        let done = command.output().expect("the program runs");
        assert_eq!(done.status.code(), Some(2));
        assert!(!done.stderr.contains(&0x1b) && !done.stderr.contains(&b'\r'));
    }
    let limited = folder.write("limited.toml", format!("{SMALL}[limits]\nleast_house_end_pct = 99\n"));
    assert_eq!(output(&["run", &limited, "--quiet", "--out", &folder.path("out")]).status.code(), Some(3));
}

#[test]
fn help_teaches_by_examples() {
    let help = String::from_utf8(output(&["--help"]).stdout).expect("text");
    snapshot("help.txt", &help);
    for command in ["new", "run", "check", "model", "keys", "schema", "completions", "man", "netlist"] {
        let help = String::from_utf8(output(&[command, "--help"]).stdout).expect("text");
        assert!(help.contains(&format!("Examples:\n  tickover {command}")), "{help}");
    }
}

#[test]
fn completions_and_man_pages_are_made() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let script = String::from_utf8(output(&["completions", shell]).stdout).expect("text");
        assert!(script.contains("tickover") && script.contains("cable-m"), "{shell}");
    }
    let page = String::from_utf8(output(&["man"]).stdout).expect("text");
    assert!(page.contains(".TH tickover 1"), "{page}");
    let page = String::from_utf8(output(&["man", "run"]).stdout).expect("text");
    assert!(page.contains(".TH tickover-run 1") && page.contains("\\-\\-json"), "{page}");
}

#[test]
fn the_cautions_fit_a_page() {
    let text = String::from_utf8(output(&["cautions"]).stdout).expect("text");
    assert!(text.lines().all(|l| l.chars().count() <= 100), "{text}");
    assert!(sim_cli::CAUTIONS.len() >= 15 && text.matches("\n  ").count() >= sim_cli::CAUTIONS.len());
}
