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
    for words in
        ["above turn-off", "above turn-on", "insulation", "alternator can give", "reserve for cranking"]
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
    let run = row("input cable, one way");
    assert!(
        lines[run].contains("drops out at first") && lines[run + 1].contains("keeps dropping out"),
        "{page}"
    );
    assert!(lines[row("alternator set-point")].contains("never comes on"), "{page}");
    assert!(page.contains("WHERE A CLOSED FORM SAYS SOMETHING ELSE"), "{page}");
    let files = std::fs::read_dir(folder.path("far")).expect("the folder").count();
    assert_eq!(files, 3, "a picture, a table and the list of them");
}

/// What the scenario says of its cables and its reserve counts, and the command's options stand in for it.
#[test]
fn margins_are_held_against_what_the_scenario_says() {
    let full = van("reference-van-full.toml");
    let left = |words: &[&str], limit: &str| -> f64 {
        let mut all = vec!["margins", &full, "--json"];
        all.extend(words);
        let value: serde_json::Value = serde_json::from_str(&tickover(&all).out).expect("JSON");
        let all = value["all"].as_array().expect("margins").clone();
        let of = all.into_iter().find(|m| m["limit"] == limit).expect("that limit");
        of["left"].as_f64().expect("a number")
    };
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} {b}");
    let plain = left(&[], "insulation");
    let both = ["--set", "input_cable.insulation_c=90", "--set", "output_cable.insulation_c=90"];
    // The default is 85 °C.
    near(left(&both, "insulation"), plain + 5.0);
    near(left(&["--insulation-c", "90"], "insulation"), plain + 5.0);
    near(left(&[&both[..], &["--insulation-c", "70"]].concat(), "insulation"), plain - 15.0);
    // The output cable lies cooler: its own limit counts only where it is low enough.
    assert!(left(&both[..2], "insulation") > plain);
    let thin = ["--set", "output_cable.area_mm2=4"];
    let low = [&thin[..], &["--set", "output_cable.insulation_c=30"]].concat();
    assert!(left(&low, "insulation") < left(&thin, "insulation") - 10.0);
    let reserve = left(&[], "crank_reserve");
    let ah_per_pct = 80.0 / 100.0;
    near(left(&["--set", "limits.crank_reserve_pct=60"], "crank_reserve"), reserve - 10.0 * ah_per_pct);
    let option = ["--set", "limits.crank_reserve_pct=60", "--crank-reserve-pct", "50"];
    near(left(&option, "crank_reserve"), reserve);
}

/// The page of a run says how far it is from trouble where that is asked for, and how to ask where it is not.
#[test]
fn a_run_tells_how_far_it_is_from_trouble_when_asked() {
    let folder = Folder::new();
    let out = folder.path("near");
    let words = ["run", &van("thin-run.toml"), "--plot", "none", "--out", &out, "--distance"];
    let printed = tickover(&words);
    let page = done(&printed);
    let far = page.split("HOW FAR TO TROUBLE").nth(1).expect("the chapter");
    let far = far.split("WHAT A METER").next().expect("its end");
    assert!(far.contains("keeps dropping out") && far.contains("below 8.59 m"), "{far}");
    assert!(far.contains(" to 7.26 m") && far.contains("good"), "{far}");
    for file in ["distance.csv", "distance.png"] {
        assert!(std::path::Path::new(&out).join(file).is_file(), "{file}");
    }
    let plain = tickover(&[&words[..words.len() - 1], &["--full"]].concat());
    assert!(done(&plain).contains("Add --distance"), "{}", plain.out);
}

#[test]
fn mend_offers_changes_and_keeps_the_threshold() {
    let printed = tickover(&["mend", &van("thin-run.toml"), "--margin-v", "0.3"]);
    let page = done(&printed);
    assert!(page.contains("input cable conductor") && page.contains("kg copper"), "{page}");
    assert!(page.contains("A lower turn-off is not offered"), "{page}");
    let limit = page.lines().find(|l| l.contains("output current limit")).expect("its row");
    assert!(limit.contains("17.3 Ah under best") && page.contains("costs charge in every drive"), "{page}");
    let joined = page.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        joined.contains("measure the drop") && joined.contains("Not offered, whatever it gains"),
        "{page}"
    );
    let row = |name: &str| page.lines().position(|l| l.trim_start().starts_with(name)).expect("its row");
    assert!(row("run signal") < row("input cable conductor"), "{page}");
    assert!(row("input cable conductor") < row("output current limit"), "{page}");
    let well = tickover(&["mend", &van("reference-van-full.toml"), "--margin-v", "0.3"]);
    assert!(done(&well).contains("nothing to change"), "{}", well.out);
    assert_eq!(tickover(&["mend", &van("thin-run.toml"), "--margin-v", "99"]).exit, Exit::WrongInput);
}

#[test]
fn compare_tells_which_difference_does_what() {
    let folder = Folder::new();
    let out = folder.path("both");
    let two = "converter.output_limit_a=30 input_cable.length_m=12";
    let words = ["compare", &van("reference-van.toml"), &van("thin-run.toml"), "--with", two, "--out", &out];
    let printed = tickover(&words);
    let page = done(&printed);
    assert!(page.contains("B: input_cable.length_m 12 in place of 5: keeps dropping out"), "{page}");
    assert!(page.contains("C: converter.output_limit_a 30 in place of 40: good"), "{page}");
    assert!(page.contains("The single changes add up to"), "{page}");
    assert_eq!(std::fs::read_dir(&out).expect("the folder").count(), 2, "the picture and the list");
    let one = tickover(&["compare", &van("reference-van.toml")]);
    assert!(one.exit == Exit::WrongInput && one.err.contains("two to 7 are compared"), "{}", one.err);
}
