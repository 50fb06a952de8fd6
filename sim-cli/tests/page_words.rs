//! Words of the page that hang on one thing: where a cable lies, what a start was, why a unit dropped out.

mod support;

use sim_cli::Exit;
use support::{Folder, root, tickover};

/// The page of the full van with these values, on one line.
fn page(words: &[&str]) -> String {
    let folder = Folder::new();
    let van = root().join("scenarios/reference-van-full.toml");
    let out = folder.path("out");
    let mut args = vec!["run", van.to_str().expect("a path"), "--out", &out, "--plot", "none", "--full"];
    words.iter().for_each(|w| args.extend(["--set", w]));
    let printed = tickover(&args);
    assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
    printed.out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A cable that lies wholly in the engine bay has no cabin section, and its heat is told where it is.
#[test]
fn a_cable_wholly_in_the_engine_bay_is_not_in_the_cabin() {
    let bay = ["input_cable.length_m=1.5", "input_cable.engine_bay_m=1.5"];
    let whole = page(&bay);
    assert!(whole.contains("input cable in the engine bay 20.0"), "{whole}");
    assert!(!whole.contains("in the cabin"), "{whole}");
    let none = page(&["input_cable.engine_bay_m=0"]);
    assert!(
        none.contains("input cable in the cabin") && !none.contains("input cable in the engine bay"),
        "{none}"
    );
    let parted = page(&[]);
    assert!(parted.contains("input cable in the cabin") && parted.contains("input cable in the engine bay"));
}

/// A unit that comes on parked, in the sun, before the engine ever ran: its first start is told once.
#[test]
fn a_first_start_while_parked_is_counted_once() {
    let sun =
        ["drive.piece.1.starter_solar_w=60", "drive.piece.1.duration_s=1800", "start_stop.turn_on_delay_s=5"];
    let told = page(&sun);
    let after = |text: &str| told.split(text).nth(1).unwrap_or_else(|| panic!("`{text}`: {told}")).to_owned();
    let number = |text: &str| text.split(' ').next().and_then(|n| n.parse::<u32>().ok()).expect("a number");
    let found = number(&after("the unit comes on with the engine stopped, "));
    let explained = number(&after("it came on with the engine stopped "));
    assert!(found > 10 && found == explained, "{found} found, {explained} explained: {told}");
    // The first of them is not told as the start of the drive, which begins half an hour later.
    assert!(after("The unit comes on at 08:30:").contains(" and does not drop out while the engine runs."));
}
