//! `tickover size` as its user meets it.

mod support;

use sim_cli::Exit;
use support::{Folder, root, tickover};

fn van() -> String {
    root().join("scenarios/reference-van-full.toml").display().to_string()
}

/// A larger unit on the cable of a smaller one: that is the first thing said, with both reasons.
#[test]
fn an_old_cable_is_told_first() {
    let van = van();
    let args = ["size", &van, "--set", "input_cable.area_mm2=6", "--set", "input_cable.fuse_a=30"];
    let page = tickover(&[&args[..], &["--set", "input_cable.fuse_kind=iso-8820-3-c"]].concat());
    assert_eq!(page.exit, Exit::Done, "{}", page.err);
    let told = page.out.split_whitespace().collect::<Vec<_>>().join(" ");
    let first = told.split("THE CABLES AS THEY ARE ").nth(1).expect("the section");
    assert!(
        first.starts_with("The input cable as it is does not carry this unit (6 mm², fuse of 30 A"),
        "{first}"
    );
    assert!(first.contains("its fuse carries 2"), "{first}");
    assert!(told.contains("A size less,") && told.contains(" taken "), "{told}");
    assert!(!told.contains(" safe ") && !told.contains("compliant"));
}

/// What is written is a scenario: it is taken, stands on the first and is not asked for more.
#[test]
fn the_choice_is_a_scenario() {
    let folder = Folder::new();
    let first = folder.write("van.toml", std::fs::read(van()).expect("a shipped scenario"));
    let sized = folder.path("sized.toml");
    let printed = tickover(&["size", &first, "--out", &sized]);
    assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
    let text = std::fs::read_to_string(&sized).expect("it is written");
    assert!(text.contains("build_on = \"van.toml\"") && text.contains("[output_cable]"), "{text}");
    assert_eq!(tickover(&["check", &sized]).exit, Exit::Done);
    let again = tickover(&["size", &sized]);
    assert!(again.out.contains("carries the unit's"), "{}", again.out);
    assert!(
        !again.out.contains("as it is does not carry this unit (25 mm², fuse of 70 A, up to 47 A): its cond")
    );
    let there = tickover(&["size", &first, "--out", &sized]);
    assert_eq!(there.exit, Exit::WrongInput);
    assert!(there.err.contains("is there already"), "{}", there.err);
    assert_eq!(tickover(&["size", &first, "--out", &sized, "--replace"]).exit, Exit::Done);
}

/// Sizes as the scenario speaks, prices by them; a cable given as a whole cannot be sized; a wrong price is told.
#[test]
fn it_speaks_the_scenarios_sizes() {
    let folder = Folder::new();
    let awg = folder.write(
        "awg.toml",
        "format = 2\n[input_cable]\nawg = \"6\"\n[output_cable]\nsae = \"6\"\n[[drive.piece]]\nduration_min = 45\nengine_rpm = 2000\n",
    );
    let page = tickover(&["size", &awg, "--price-per-m", "1=7.50,6=3"]);
    assert_eq!(page.exit, Exit::Done, "{}", page.err);
    assert!(page.out.contains("Take 1 AWG with ") && page.out.contains(" SAE with "), "{}", page.out);
    assert!(page.out.contains("costs "), "{}", page.out);
    let whole = tickover(&["size", &van(), "--set", "input_cable.resistance_mohm=12"]);
    assert_eq!(whole.exit, Exit::WrongInput);
    assert!(whole.err.contains("stands for a whole cable"), "{}", whole.err);
    let price = tickover(&["size", &awg, "--price-per-m", "2:7"]);
    assert_eq!(price.exit, Exit::WrongInput);
}

/// Every shipped scenario with cables has an answer, and one that is read to its end.
#[test]
fn every_shipped_scenario_is_sized() {
    let mut sized = 0;
    for folder in ["scenarios", "scenarios/patterns"] {
        for entry in std::fs::read_dir(root().join(folder)).expect("the folder") {
            let file = entry.expect("an entry").path();
            if file.extension().is_none_or(|e| e != "toml") || file.ends_with("faults.toml") {
                continue;
            }
            let page = tickover(&["size", &file.display().to_string()]);
            assert_eq!(page.exit, Exit::Done, "{}: {}", file.display(), page.err);
            assert!(!page.out.contains("inf") && !page.out.contains("NaN"), "{}", page.out);
            sized += 1;
        }
    }
    assert!(sized > 10);
}
