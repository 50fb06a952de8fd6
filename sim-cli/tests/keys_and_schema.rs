//! The key reference and the schema beside the scenarios are what the program prints.

mod support;

use serde_json::Value;
use sim_cli::Exit;
use support::{root, same_as_kept, tickover};

#[test]
fn the_kept_key_reference_is_current() {
    let printed = tickover(&["keys", "--markdown"]);
    assert_eq!(printed.exit, Exit::Done);
    same_as_kept(&root().join("scenarios/KEYS.md"), &printed.out);
}

#[test]
fn the_kept_schema_is_current() {
    let printed = tickover(&["schema"]);
    assert_eq!(printed.exit, Exit::Done);
    same_as_kept(&root().join("scenarios/scenario.schema.json"), &printed.out);
}

#[test]
fn every_key_is_in_the_reference_and_in_the_schema_with_its_meaning() {
    let (keys, schema) = (tickover(&["keys"]).out, tickover(&["schema"]).out);
    let schema: Value = serde_json::from_str(&schema).expect("JSON");
    let mut count = 0;
    let sections = sim_core::scenario::SECTIONS.iter().chain(&[""]).chain(sim_core::scenario::DRIVE_SECTIONS);
    for section in sections {
        let mut at = &schema;
        for part in section.split('.').filter(|p| !p.is_empty()) {
            at = &at["properties"][part];
            at = at.get("items").unwrap_or(at);
        }
        let table = at;
        assert_eq!(table["additionalProperties"], Value::Bool(false), "{section}");
        for key in sim_core::scenario::keys_of(section).expect("a section") {
            let meaning = table["properties"][key.name]["description"].as_str().expect(key.name);
            assert!(meaning.starts_with(key.doc.trim()), "{section}.{}", key.name);
            assert!(keys.contains(&format!("  {}  ", key.name)), "{section}.{}", key.name);
            count += 1;
        }
    }
    assert!(count > 80);
}

#[test]
fn a_key_is_found_by_its_last_part() {
    let printed = tickover(&["keys", "turn_off_v"]);
    assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
    assert!(printed.out.starts_with("[start_stop]  ") && printed.out.contains("  turn_off_v  1 to 62 V\n"));
    assert!(!printed.out.contains("turn_on_v"), "{}", printed.out);
    assert_eq!(tickover(&["keys", "start_stop.turn_off_v"]).out, printed.out);
    let both = tickover(&["keys", "length_m"]).out;
    assert!(both.contains("[input_cable]") && both.contains("[output_cable]"), "{both}");
    let piece = tickover(&["keys", "drive.piece.2.engine_rpm"]).out;
    assert!(piece.starts_with("[[drive.piece]]") && piece.contains("  engine_rpm  "), "{piece}");
}

#[test]
fn one_section_can_be_asked_for() {
    let printed = tickover(&["keys", "[start_stop]", "drive.piece"]);
    assert!(printed.out.starts_with("[start_stop]  When the unit comes on"), "{}", printed.out);
    assert!(printed.out.contains("  turn_on_v  1 to 62 V\n") && printed.out.contains("[[drive.piece]]"));
    assert!(!printed.out.contains("absorption_v"));
    assert!(printed.out.lines().all(|l| l.chars().count() <= 100));
}
