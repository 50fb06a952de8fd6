//! Fuses in scenarios: keys, what a run tells of one that opens, and what is refused.

mod support;

use serde_json::Value;
use sim_cli::Exit;
use support::{Folder, tickover};

/// A unit of 40 A on the cable and the fuse of the 18 A one that it replaced.
const LARGER_UNIT: &str = "format = 2
name = \"Larger unit on the old cable\"
[alternator]
idle_a = 70
rated_a = 140
[input_cable]
length_m = 5.5
area_mm2 = 6
fuse_a = 30
FUSE
[converter]
output_limit_a = 40
input_limit_a = 50
[start_stop]
signal = \"either\"
[output_cable]
length_m = 2
area_mm2 = 6
[house_battery]
capacity_ah = 120
start_pct = 50
[house]
load_w = 40
[drive]
air_c = 20
[[drive.piece]]
duration_min = 1
engine_rpm = 0
[[drive.piece]]
duration_min = 90
engine_rpm = 1900
[[drive.piece]]
duration_min = 60
engine_rpm = 0
";

const CURVE: &str =
    "fuse_times_rating = [1.1, 1.35, 2.0, 3.5, 6.0]\nfuse_opens_s = [360000, 600, 5, 0.5, 0.1]";

fn ran(fuse: &str) -> (String, Value) {
    let folder = Folder::new();
    let file = folder.write("van.toml", LARGER_UNIT.replace("FUSE", fuse));
    let out = folder.path("out");
    let printed = tickover(&["run", &file, "--out", &out]);
    assert_eq!(printed.exit, Exit::Done, "{printed:?}");
    let json = std::fs::read_to_string(folder.path("out/summary.json")).expect("a summary");
    (printed.out, serde_json::from_str(&json).expect("JSON"))
}

/// With a fuse's curve or type the charge ends when it opens; with its rating alone nothing is known, and it goes on.
#[test]
fn the_charge_ends_when_the_fuse_opens() {
    let (page, bare) = ran("");
    assert!(bare["fuses"][0]["worn"].is_null() && bare["fuses"][0]["opened"].is_null(), "{}", bare["fuses"]);
    assert!(!page.contains("(30 A) opens"));
    let whole_ah = bare["summary"]["house_gain_driving_ah"].as_f64().expect("a number");
    for fuse in [CURVE, "fuse_kind = \"iso-8820-3-c\"", "fuse_kind = \"iso-8820-5-sf51\""] {
        let (page, json) = ran(fuse);
        assert!(page.contains("DANGER: the input fuse at the starter battery (30 A) opens at"), "{page}");
        let opened_s = json["fuses"][0]["opened"]["at_s"].as_f64().expect("it opens");
        let most_a = json["fuses"][0]["most_a"].as_f64().expect("a number");
        assert!((45.0..=50.1).contains(&most_a), "{}", json["fuses"]);
        assert!((30.0..2000.0).contains(&opened_s), "{opened_s}");
        let got_ah = json["summary"]["house_gain_driving_ah"].as_f64().expect("a number");
        // The house load of 40 W goes on, so the drive may cost the battery something.
        let most_ah = 50.0 * opened_s / 3600.0;
        assert!(got_ah < most_ah && got_ah < whole_ah - 20.0, "{fuse}: {got_ah} Ah of {whole_ah}");
        let on_s = json["summary"]["unit_on_s"].as_f64().expect("a number");
        assert!(on_s < opened_s + 10.0, "{on_s}");
    }
}

#[test]
fn keys_that_do_not_go_together_are_told() {
    let folder = Folder::new();
    let cases = [
        ("[output_cable]\nfuse_kind = \"iso-8820-3-e\"\n", "output_cable.fuse_kind"),
        ("[input_cable]\nunit_end_fuse_a = 40\nunit_end_fuse_opens_s = [9, 8]\n", "needs both"),
        (
            "[input_cable]\nfuse_a = 40\nfuse_times_rating = [2, 1.5]\nfuse_opens_s = [9, 8]\n",
            "currents rise",
        ),
        ("[input_cable]\nfuse_a = 40\nfuse_kind = \"iso-8820-3-d\"\n", "iso-8820-3-c"),
    ];
    for (section, wanted) in cases {
        let file = folder.write("a.toml", format!("{}\n{section}", support::SMALL));
        let printed = tickover(&["check", &file]);
        assert_eq!(printed.exit, Exit::WrongInput, "{section}: {printed:?}");
        assert!(printed.err.contains(wanted), "{section}: {}", printed.err);
    }
}

/// Each fuse that the default of the joints does not have in it adds 1.2 mΩ; measured joints stay what they are.
#[test]
fn a_held_fuse_adds_to_the_default_joints() {
    let loop_ohm = |set: &[&str]| {
        let folder = Folder::new();
        let file = folder.write("a.toml", support::SMALL);
        let set: Vec<String> = set.iter().map(|s| (*s).to_owned()).collect();
        let loaded = sim_cli::load::load(std::path::Path::new(&file), &set).expect("it loads");
        let link = loaded.resolved.model.link().clone();
        [link.input_cable.resistance_ohm(), link.output_cable.resistance_ohm()]
    };
    let bare = loop_ohm(&[]);
    let added = |set: &[&str]| {
        let with = loop_ohm(set);
        [0, 1].map(|n| ((with[n] - bare[n]) * 1e6).round())
    };
    assert_eq!(added(&["input_cable.fuse_a=60"]), [0.0, 0.0]);
    assert_eq!(added(&["input_cable.fuse_a=60", "input_cable.unit_end_fuse_a=60"]), [1200.0, 0.0]);
    assert_eq!(added(&["output_cable.fuse_a=60", "output_cable.unit_end_fuse_a=60"]), [0.0, 2400.0]);
    let typed = ["output_cable.fuse_a=60", "output_cable.joints_mohm=1"];
    assert_eq!(added(&typed), [0.0, 0.0]);
}

/// A netlist has no cable that is open: a stretch that reaches past the opening is refused, one before it is not.
#[test]
fn no_netlist_past_the_opening() {
    let folder = Folder::new();
    let plain = LARGER_UNIT.replace("name =", "physics = { effects = \"none\" }\nname =");
    let file = folder.write("van.toml", plain.replace("FUSE", "fuse_kind = \"iso-8820-5-sf51\""));
    let out = folder.path("out");
    let cut = |to: &str| tickover(&["netlist", &file, "--from-s", "1", "--to-s", to, "--out", &out]);
    let refused = cut("3000");
    assert_eq!(refused.exit, Exit::WrongInput);
    assert!(refused.err.contains("a fuse opens at"), "{}", refused.err);
    assert_eq!(cut("70").exit, Exit::Done, "{}", cut("70").err);
}
