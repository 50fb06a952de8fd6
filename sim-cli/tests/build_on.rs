//! Scenario files that build on others.

mod support;

use sim_cli::Exit;
use support::{Folder, SMALL, snapshot, tickover};

const BASE: &str = "format = 2\nname = \"Base\"\n\n[input_cable]\nlength_m = 3\njoints_mohm = { measured = 2.6, plus_minus = 0.5 }\n\n\
                    [house]\nload_w = 55\n\n[[drive.piece]]\nfile = \"drive.csv\"\n\n[[drive.piece]]\nduration_min = 3\nengine_rpm = 0\n";

#[test]
fn a_file_states_only_what_differs_and_each_value_shows_its_file() {
    let folder = Folder::new();
    folder.write("shared/base.toml", BASE);
    folder.write("shared/drive.csv", "time_s,engine_rpm\n0,900\n20,2000\n40,2000\n60,0\n");
    folder.write(
        "fleet/van.toml",
        "format = 2\nbuild_on = \"../shared/base.toml\"\n[input_cable]\nlength_m = 4\n",
    );
    let text = "format = 2\nbuild_on = \"fleet/van.toml\"\n[input_cable]\njoints_mohm = { measured = 3 }\n";
    let top = folder.write("top.toml", text);
    let printed = tickover(&["model", &top, "--set", "house.load_w=70"]);
    assert_eq!((printed.exit, printed.err.as_str()), (Exit::Done, ""));
    let text = folder.hide(&printed.out);
    assert!(text.starts_with("Base\n"), "a name is handed on");
    for (name, value, place) in [
        ("input_cable.length_m", "4", "typed     fleet/van.toml:4"),
        ("input_cable.joints_mohm", "0.003", "measured  top.toml:4"),
        ("house.load_w", "70", "typed     --set house.load_w=70"),
        ("drive.piece.2.engine_rpm", "0", "typed     fleet/../shared/base.toml:16"),
    ] {
        let line =
            text.lines().find(|l| l.starts_with(&format!("{name} "))).unwrap_or_else(|| panic!("{name}"));
        assert!(line.contains(&format!(" {value} ")) && line.ends_with(place), "{line}");
    }
    assert!(text.contains("default"), "what nobody said is still a default");
}

#[test]
fn lists_replace_whole() {
    let folder = Folder::new();
    folder.write("base.toml", BASE);
    let text = "format = 2\nbuild_on = \"base.toml\"\n[[drive.piece]]\nduration_min = 1\nengine_rpm = 900\n";
    let top = folder.write("top.toml", text);
    let printed = tickover(&["model", &top]);
    // The base's drive file is not there, and not wanted.
    assert_eq!((printed.exit, printed.err.as_str()), (Exit::Done, ""));
    assert!(printed.out.contains("drive.piece.1.engine_rpm") && !printed.out.contains("drive.piece.2"));
}

#[test]
fn what_cannot_be_built_on_is_told_at_its_place() {
    let folder = Folder::new();
    let mut text = String::new();
    let mut told = |name: &str, file: &str| {
        let printed = tickover(&["check", &folder.path(file)]);
        assert_eq!(printed.exit, Exit::WrongInput, "{name}: {printed:?}");
        text.push_str(&format!("== {name}\n{}\n", folder.hide(&printed.err)));
    };
    let on = |base: &str| format!("format = 2\nbuild_on = \"{base}\"\n");
    folder.write("a.toml", on("b.toml"));
    folder.write("b.toml", on("c.toml"));
    folder.write("c.toml", on("./b.toml"));
    told("a circle further down", "a.toml");
    folder.write("missing.toml", on("b2.toml"));
    folder.write("b2.toml", on("nowhere.toml") + "[house]\nload_w = -1\n");
    told("a missing file further down, with what else is wrong", "missing.toml");
    folder.write("noformat.toml", on("plain.toml"));
    folder.write("plain.toml", SMALL.replace("format = 2\n", ""));
    told("each file states its format", "noformat.toml");
    folder.write("bytes.toml", on("raw.toml"));
    folder.write("raw.toml", [0xff, 0xfe, 0x00]);
    told("a file that is no text", "bytes.toml");
    folder.write("clash.toml", on("low.toml") + "[start_stop]\nturn_off_v = 13.5\n");
    folder.write("low.toml", format!("{SMALL}[start_stop]\nturn_on_v = 13.4\n"));
    told("values of two files that do not go together", "clash.toml");
    for n in 0..17 {
        folder.write(&format!("deep{n}.toml"), on(&format!("deep{}.toml", n + 1)));
    }
    folder.write("deep17.toml", SMALL);
    told("too many files in a row", "deep0.toml");
    assert_eq!(tickover(&["check", &folder.path("deep2.toml")]).exit, Exit::Done, "sixteen are allowed");
    snapshot("build-on.txt", &text);
}
