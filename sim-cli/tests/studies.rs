//! `margins`, `distance`, `mend` and `compare` as a reader meets them.

mod support;

use sim_cli::Exit;
use support::{Folder, Printed, root, tickover};

fn van(name: &str) -> String {
    root().join("scenarios").join(name).display().to_string()
}

fn done(printed: &Printed) -> &str {
    assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
    for line in printed.out.lines().filter(|l| !l.contains('/')) {
        assert!(line.chars().count() <= 100, "{} columns: {line}", line.chars().count());
    }
    &printed.out
}

#[test]
fn margins_tell_each_limit_with_its_time_and_conditions() {
    let printed = tickover(&["margins", &van("reference-van-full.toml")]);
    let page = done(&printed);
    for words in ["to turn-off", "over turn-on", "insulation", "alternator can give", "reserve for cranking"]
    {
        assert!(page.contains(words), "{words}: {page}");
    }
    assert!(page.contains("08:46:00") && page.contains("2000 rpm"), "{page}");
    let json = tickover(&["margins", &van("reference-van.toml"), "--json"]);
    let value: serde_json::Value = serde_json::from_str(&json.out).expect("JSON");
    assert_eq!(value["all"][0]["limit"], "turn_off");
}

#[test]
fn distance_tells_borders_beside_the_closed_forms_and_draws_them() {
    let folder = Folder::new();
    let printed = tickover(&["distance", &van("reference-van.toml"), "--out", &folder.path("far")]);
    let page = done(&printed);
    let row = |name: &str| page.lines().position(|l| l.trim_start().starts_with(name)).expect("its row");
    let lines: Vec<&str> = page.lines().collect();
    let run = row("input run, one way");
    assert!(
        lines[run].contains("drops out at first") && lines[run + 1].contains("keeps dropping out"),
        "{page}"
    );
    assert!(lines[row("alternator set-point")].contains("never comes on"), "{page}");
    assert!(page.contains("WHERE A CLOSED FORM SAYS SOMETHING ELSE"), "{page}");
    let files = std::fs::read_dir(folder.path("far")).expect("the folder").count();
    assert_eq!(files, 2, "a picture and a table");
}

#[test]
fn mend_offers_changes_and_keeps_the_threshold() {
    let printed = tickover(&["mend", &van("thin-run.toml"), "--margin-v", "0.3"]);
    let page = done(&printed);
    assert!(page.contains("input run conductor") && page.contains("kg copper"), "{page}");
    assert!(page.contains("A lower turn-off is not offered"), "{page}");
    assert!(page.contains("measure the"), "{page}");
    let well = tickover(&["mend", &van("reference-van-full.toml"), "--margin-v", "0.3"]);
    assert!(done(&well).contains("nothing to change"), "{}", well.out);
    assert_eq!(tickover(&["mend", &van("thin-run.toml"), "--margin-v", "99"]).exit, Exit::WrongInput);
}

#[test]
fn compare_tells_which_difference_does_what() {
    let folder = Folder::new();
    let out = folder.path("both");
    let two = "converter.output_limit_a=30 input_run.length_m=12";
    let words = ["compare", &van("reference-van.toml"), &van("thin-run.toml"), "--with", two, "--out", &out];
    let printed = tickover(&words);
    let page = done(&printed);
    assert!(page.contains("B: input_run.length_m 12 in place of 5: keeps dropping out"), "{page}");
    assert!(page.contains("C: converter.output_limit_a 30 in place of 40: good"), "{page}");
    assert!(page.contains("the single changes add up to"), "{page}");
    assert_eq!(std::fs::read_dir(&out).expect("the folder").count(), 1);
    let one = tickover(&["compare", &van("reference-van.toml")]);
    assert!(one.exit == Exit::WrongInput && one.err.contains("two to 7 are compared"), "{}", one.err);
}
