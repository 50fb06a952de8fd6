//! Keys of which others follow, or which stand in for others: a cable's size, an alternator's label, a fixed supply.

mod support;

use sim_cli::Exit;
use support::{Folder, SMALL, tickover};

fn line(model: &str, name: &str) -> String {
    model
        .lines()
        .find(|l| l.starts_with(&format!("{name} ")))
        .unwrap_or_else(|| panic!("{name}: {model}"))
        .to_owned()
}

#[test]
fn a_size_in_a_file_on_top_or_on_the_command_line_replaces_the_one_below() {
    let folder = Folder::new();
    let base = folder.write("base.toml", format!("{SMALL}[input_cable]\narea_mm2 = 16\n"));
    let model = |words: &[&str]| {
        let printed = tickover(&[&["model"][..], words].concat());
        assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
        line(&printed.out, "input_cable.leg_ohm_per_m")
    };
    assert!(model(&[&base]).contains("16 mm²"));
    assert!(model(&[&base, "--set", "input_cable.awg=\"4\""]).contains("AWG"));
    let top = folder.write("top.toml", "format = 2\nbuild_on = \"base.toml\"\n[input_cable]\nsae = \"4\"\n");
    assert!(model(&[&top]).contains("SAE"));
    assert!(model(&[&top, "--set", "input_cable.area_mm2=25"]).contains("25 mm²"));
    let out = folder.path("t.csv");
    let words = ["sweep", &base, "--vary", "input_cable.awg=4,2", "--out", &out, "--quiet"];
    assert_eq!(tickover(&words).exit, Exit::Done);
}

#[test]
fn sizes_beside_each_other_are_refused_at_both_places() {
    let folder = Folder::new();
    let file = folder.write("a.toml", format!("{SMALL}[input_cable]\narea_mm2 = 16\nawg = \"6\"\n"));
    let printed = tickover(&["check", &file]);
    assert_eq!(printed.exit, Exit::WrongInput);
    for told in [
        "input_cable.area_mm2: `area_mm2` stands beside `awg`",
        "input_cable.awg: `awg` stands beside `area_mm2`",
    ] {
        assert!(printed.err.contains(told), "{}", printed.err);
    }
}

/// `rated_a` alone: the smaller current is half of it, shown as a default with where it comes from, and the curve is that
/// of both typed.
#[test]
fn the_rated_current_alone_is_enough() {
    let folder = Folder::new();
    let file = |name: &str, label: &str| folder.write(name, format!("{SMALL}[alternator]\n{label}"));
    let model = |file: &str| tickover(&["model", file]).out;
    let (alone, both) = (
        model(&file("alone.toml", "rated_a = 120\n")),
        model(&file("both.toml", "idle_a = 60\nrated_a = 120\n")),
    );
    let idle = line(&alone, "alternator.idle_a");
    assert!(
        idle.contains(" 60 A ") && idle.contains("default   half of rated_a; common practice, no source"),
        "{idle}"
    );
    assert!(line(&both, "alternator.idle_a").contains("typed"));
    assert_eq!(line(&alone, "alternator.rise_rpm"), line(&both, "alternator.rise_rpm"));
    let printed = tickover(&["check", &file("idle.toml", "idle_a = 60\n")]);
    assert!(printed.exit == Exit::WrongInput && printed.err.contains("`rated_a`, which is enough by itself"));
    let late = tickover(&["check", &file("late.toml", "rated_a = 120\ncut_in_rpm = 2000\n")]);
    assert!(late.exit == Exit::WrongInput && late.err.contains("no rising curve"), "{}", late.err);
}

/// A fixed supply knows one voltage: no float and no recharge clash with it, and none is listed as assumed.
#[test]
fn a_fixed_supply_is_not_checked_against_stages_that_it_has_not() {
    let folder = Folder::new();
    let stages = "[stages]\nabsorption_v = 13.2\n";
    let fixed = folder.write("fixed.toml", format!("{SMALL}{stages}mode = \"fixed-supply\"\n"));
    let printed = tickover(&["check", &fixed]);
    assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
    let model = tickover(&["model", &fixed]).out;
    assert!(model.contains("stages.absorption_v ") && !model.contains("stages.float_v"), "{model}");
    let charger = folder.write("charger.toml", format!("{SMALL}{stages}"));
    assert!(tickover(&["check", &charger]).err.contains("float at 13.5 V lies above absorption at 13.2 V"));
}
