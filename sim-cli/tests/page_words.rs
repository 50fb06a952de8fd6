//! Words of the page that hang on one thing: where a cable lies, what a start was, why a unit dropped out.

mod support;

use sim_cli::Exit;
use support::{Folder, root, tickover};

/// The page of the full van with these values, on one line.
fn page(words: &[&str]) -> String {
    let folder = Folder::new();
    let van = root().join("scenarios/reference-van-full.toml");
    let out = folder.path("out");
    let mut args = vec!["run", van.to_str().expect("a path"), "--out", &out, "--plot", "none"];
    words.iter().for_each(|w| args.extend(["--set", w]));
    let printed = tickover(&args);
    assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
    printed.out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A cable that lies wholly in the engine bay has no cabin section, and its heat is told where it is.
#[test]
fn a_cable_wholly_in_the_engine_bay_is_not_in_the_cabin() {
    let bay = ["input_cable.length_m=1.5", "input_cable.engine_bay_m=1.5", "drive.bay_c=80"];
    let whole = page(&bay);
    assert!(whole.contains("input cable in the engine bay 80.0"), "{whole}");
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
        ["drive.piece.1.starter_solar_w=60", "drive.piece.1.duration_min=30", "start_stop.turn_on_delay_s=5"];
    let told = page(&sun);
    let first = "The unit comes on at 08:0";
    assert!(told.contains(first) && told.contains(", with the engine stopped,"), "{told}");
    let parked: u32 = 1;
    assert!(!told.contains(&format!("once more while parked")) || parked > 1, "{told}");
}
