//! Inputs that nobody means well with: an error in words, never a panic, nothing that steers a terminal.

mod support;

use sim_cli::{Clean, Exit, Streams};
use std::ffi::OsString;
use support::{Folder, Printed, SMALL, tickover, with_input};

fn told(folder: &Folder, bytes: impl AsRef<[u8]>) -> Printed {
    let file = folder.write("case.toml", bytes);
    let printed = tickover(&["check", &file]);
    assert!(!printed.err.chars().any(|c| c.is_control() && c != '\n'), "{:?}", printed.err);
    assert!(printed.err.len() < 100_000, "{} bytes of messages", printed.err.len());
    printed
}

#[test]
fn nesting_does_not_reach_the_stack() {
    let folder = Folder::new();
    for deep in [
        format!("a = {}{}\n", "[".repeat(10_000), "]".repeat(10_000)),
        format!("a = {}\n", "[".repeat(1_000_000)),
        format!("a = {}1{}\n", "{a=".repeat(10_000), "}".repeat(10_000)),
        format!("{} = 1\n", ["a"; 10_000].join(".")),
        format!("[{}]\n", ["a"; 10_000].join(" . ")),
        format!("[{}]\n", ["\"a\""; 10_000].join(".")),
        format!("{}x{}\n", "[".repeat(10_000), "]".repeat(10_000)),
        format!("[a.{}]\n[b.{}]\n", ["a"; 20].join("."), ["a"; 20].join(".")),
    ] {
        assert_eq!(told(&folder, format!("format = 2\n{deep}")).exit, Exit::WrongInput);
    }
}

#[test]
fn sizes_are_bounded() {
    let folder = Folder::new();
    let long = "k".repeat(1 << 20);
    for text in [
        format!("{long} = 1\n"),
        format!("[house]\n{long} = 1\n"),
        format!("\"{}\" = 1\n", "\\u001b".repeat(100_000)),
        format!("name = \"{long}\"\n"),
        format!("[house]\nload_w = \"{long}\"\n"),
        format!("[house]\nload_w = {}\n", "9".repeat(1 << 20)),
        format!("[house_battery]\nchemistry = \"{long}\"\n"),
        (0..20_000).map(|n| format!("k{n} = 1\n")).collect(),
        (0..5_000).map(|n| format!("k{n} = = 1\n")).collect(),
        "=".repeat(1 << 20),
        "\u{0}".repeat(1 << 16),
    ] {
        let printed = told(&folder, format!("format = 2\n{text}"));
        assert_eq!(printed.exit, Exit::WrongInput);
    }
    let many: String = (0..100_000).map(|n| format!("k{n}=1\n")).collect();
    folder.write("base.toml", format!("format = 2\n{many}"));
    for text in [format!("build_on = \"base.toml\"\n{many}"), "[[drive.piece]]\nx=1\n".repeat(50_000)] {
        let printed = told(&folder, format!("format = 2\n{text}"));
        assert_eq!(printed.exit, Exit::WrongInput);
        assert!(printed.err.contains("\nand "), "the rest is counted");
    }
    let printed = told(&folder, vec![b'#'; 9 << 20]);
    assert!(printed.err.contains("larger than 8 MB"), "{}", printed.err);
    let printed = with_input(&["check", "-"], &"#".repeat(9 << 20), false);
    assert!(
        printed.err.contains("(standard input) is no scenario: it is larger than 8 MB"),
        "{}",
        printed.err
    );
}

#[test]
fn numbers_that_are_none_or_too_many() {
    let folder = Folder::new();
    for number in [
        "nan",
        "inf",
        "-inf",
        "1e999",
        "-1e999",
        "99999999999999999999999999",
        "0x7fffffffffffffffff",
        "1e-999",
    ] {
        for key in ["[house_battery]\ncapacity_ah", "[drive]\nlongest_sample_s", "[alternator]\nset_point_v"]
        {
            let printed = told(&folder, format!("{SMALL}{key} = {number}\n"));
            assert_eq!(printed.exit, Exit::WrongInput, "{key} = {number}");
        }
    }
}

/// Three ways to ask for more memory than the text is long: repeats, a long file named again and again, and both.
#[test]
fn a_drive_does_not_grow_with_its_numbers() {
    let folder = Folder::new();
    let rows: String = (0..20_000).map(|n| format!("{n},{}\n", n % 100)).collect();
    folder.write("drive.csv", format!("time_s,speed_kmh\n{rows}"));
    let named = |times: usize| "[[drive.piece]]\nfile = \"drive.csv\"\n".repeat(times);
    for (repeat, times) in [(1000, 2), (1, 2000), (900, 40)] {
        let printed = told(&folder, format!("format = 2\n[drive]\nrepeat = {repeat}\n{}", named(times)));
        assert_eq!(printed.exit, Exit::WrongInput, "{repeat} times {times}");
        assert!(printed.err.contains("pieces are simulated"), "{}", printed.err);
    }
    let printed = told(&folder, format!("format = 2\n[drive]\nrepeat = 1e300\n{}", named(1)));
    assert_eq!(printed.exit, Exit::WrongInput);
    assert_eq!(told(&folder, format!("format = 2\n[drive]\nrepeat = 3\n{}", named(2))).exit, Exit::Done);
}

/// A drive file from another system is the same drive; one with decimal commas, or that is no table, is told by row.
#[test]
fn drive_files_of_other_systems() {
    let folder = Folder::new();
    let scenario = "format = 2\n[[drive.piece]]\nfile = \"drive.csv\"\n";
    let model = |csv: &str| {
        folder.write("drive.csv", csv);
        let printed = tickover(&["model", &folder.write("case.toml", scenario)]);
        (printed.exit, printed.out, printed.err)
    };
    let plain = "time_s,speed_kmh\n0,0\n10,30.5\n20,0\n";
    let expected = model(plain);
    assert_eq!((expected.0, expected.2.as_str()), (Exit::Done, ""));
    for other in [
        plain.replace('\n', "\r\n"),
        format!("\u{feff}{plain}"),
        format!("\u{feff}{}", plain.replace('\n', "\r\n")),
        plain.trim_end().to_owned(),
        plain.replace("30.5", "\"30.5\""),
        plain.replace(',', " , "),
    ] {
        assert_eq!(model(&other), expected, "{other:?}");
    }
    for (wrong, row, words) in [
        ("time_s,speed_kmh\n0,0\n10,30,5\n20,0\n", 3, "decimals take a point"),
        ("time_s,speed_kmh\n0,0\n10,\"30,5\"\n20,0\n", 3, "no number"),
        ("time_s;speed_kmh\n0;0\n10;30,5\n", 1, "separated by semicolons"),
        ("time_s,speed_kmh\n0,0\n10,NaN\n20,0\n", 3, "speed_kmh is NaN"),
        ("time_s,speed_kmh\n0,0\n10,1e400\n20,0\n", 3, "speed_kmh is inf"),
        ("time_s,speed_kmh\n0,0\n10,1\n5,0\n", 4, "does not follow"),
        ("time_s,speed_kmh\n0,0\n0,1\n5,0\n", 3, "stands there twice"),
        ("time_s,speed_kmh\n\n\n", 1, "at least two rows"),
    ] {
        let (exit, _, err) = model(wrong);
        assert_eq!(exit, Exit::WrongInput, "{wrong:?}");
        assert!(err.contains(words) && err.contains(&format!("drive.csv:{row}:")), "{wrong:?}: {err}");
    }
}

#[test]
fn line_ends_and_marks_of_other_systems_are_read() {
    let folder = Folder::new();
    let windows = format!("\u{feff}{}", SMALL.replace('\n', "\r\n"));
    assert_eq!(told(&folder, &windows).exit, Exit::Done);
    let printed = told(&folder, windows.replace("2000", "-1"));
    assert!(
        printed.err.contains("case.toml:5:14\n") && printed.err.contains("engine_rpm = -1\n"),
        "{}",
        printed.err
    );
    for bytes in [&[0xff_u8, 0xfe, 0x66][..], b"name = \"\xc3\x28\"", b"\xed\xa0\x80", b"\r", b"\xef\xbb\xbf"]
    {
        assert_eq!(told(&folder, bytes).exit, Exit::WrongInput);
    }
}

#[test]
fn drive_files_may_be_anything() {
    let folder = Folder::new();
    let scenario = "format = 2\n[[drive.piece]]\nfile = \"drive.csv\"\n";
    let many = vec!["c"; 1_000_000].join(",");
    for bytes in [
        many.clone().into_bytes(),
        format!("time_s,speed_kmh\n{many}\n{many}\n").into_bytes(),
        b"time_s,speed_kmh\n0,\x1b[2J\n1,\xff\n".to_vec(),
        b"time_s,\x1b]0;x\x07\n0,0\n".to_vec(),
        b"time_s,speed_kmh\n\"0,0\n1,1\n".to_vec(),
        b"time_s,speed_kmh\n1e308,0\n-1e308,1\n".to_vec(),
        b"time_s,speed_kmh\n0,0\nNaN,1\ninf,2\n".to_vec(),
        vec![b','; 1 << 20],
        vec![b'"'; 1 << 20],
        vec![0; 1 << 16],
    ] {
        folder.write("drive.csv", bytes);
        assert_eq!(told(&folder, scenario).exit, Exit::WrongInput);
    }
}

#[test]
fn paths_that_climb_are_only_read_and_devices_not_at_all() {
    let folder = Folder::new();
    for path in
        ["../../../../../../../../etc/passwd", "/dev/zero", "/dev/null", "\\u0000", "a\\u001b[2Jb", "", ".."]
    {
        for text in [
            format!("format = 2\n[[drive.piece]]\nfile = \"{path}\"\n"),
            format!("format = 2\nbuild_on = \"{path}\"\n[[drive.piece]]\nduration_s = 1\nengine_rpm = 0\n"),
        ] {
            assert_eq!(told(&folder, text).exit, Exit::WrongInput, "{path}");
        }
    }
    assert_eq!(folder.names(), ["case.toml"]);
}

#[test]
fn nothing_of_a_scenario_steers_the_terminal() {
    let folder = Folder::new();
    let hostile = "\\u001b[2J\\u0007\\u009b31m\\u202e";
    let text = format!("format = 2\nname = \"{hostile}\"\nabout = \"{hostile}\"\n");
    let file = folder.write("v\u{1b}[31man.toml", format!("{text}{}", SMALL.replacen("format = 2\n", "", 1)));
    let bad = |c: char| (c.is_control() && c != '\n') || c == '\u{202e}';
    let out = folder.path("out");
    for words in [
        &["run", &file, "--out", &out][..],
        &["run", &file, "--out", &out, "--json"],
        &["model", &file],
        &["check", &file],
        &["check", &file, "--set", "\u{1b}[2J=1"],
        &["check", &format!("{file}\u{1b}[2J")],
        &["\u{1b}[2J"],
        &["run", "--\u{1b}[2J"],
        &["keys", "\u{1b}[2J"],
    ] {
        let printed = tickover(words);
        assert!(!printed.out.contains(bad), "{words:?} {:?}", printed.out);
        assert!(!printed.err.contains(bad), "{words:?} {:?}", printed.err);
    }
}

#[test]
fn colours_are_the_programs_own() {
    let folder = Folder::new();
    let file = folder.write(
        "v\u{1b}[31man.toml",
        "format = 2\n\"\\u001b[31mred\" = \"\u{1b}[32m\"\n[house]\nload_w = -1\n",
    );
    let (mut input, mut out, mut err) = (std::io::empty(), Vec::new(), Vec::new());
    let mut coloured = Vec::new();
    let mut io = Streams::plain(&mut input, &mut out, &mut err);
    io.err = Clean::new(&mut coloured, true);
    let exit = sim_cli::run_with(["tickover", "check", &file].map(OsString::from), &mut io);
    drop(io);
    assert_eq!(exit, Exit::WrongInput);
    let text = String::from_utf8(coloured).expect("text");
    assert!(text.contains("\u{1b}[1m\u{1b}[91merror"), "{text:?}");
    assert!(!text.contains("\u{1b}[31m") && !text.contains("\u{1b}[32m"), "{text:?}");
}

/// Numbers within words of the command line, and numbers that have a range: told what is allowed, and nothing is written.
#[test]
fn numbers_on_the_command_line_have_ranges() {
    let folder = Folder::new();
    let file = folder.write("van.toml", SMALL);
    let out = folder.path("out");
    for (words, allowed) in [
        (&["tune", &file, "--least-starter-pct", "nan"][..], "from 0 to 100 %"),
        (&["tune", &file, "--least-starter-pct", "-5"], "from 0 to 100 %"),
        (&["tune", &file, "--hottest-c", "inf"], "from 30 to 300 °C"),
        (&["margins", &file, "--insulation-c", "inf"], "from 30 to 300 °C"),
        (&["margins", &file, "--crank-reserve-pct", "120"], "from 0 to 100 %"),
        (&["cliff", &file, "--uncertain-pct", "-5"], "from 0 to 100 %"),
        (&["cliff", &file, "--current", "20,nan"], "from 0.1 to 1000 A"),
        (&["mend", &file, "--margin-v", "1e999"], "from 0 to 10 V"),
        (&["map", &file, "--turn-off", "nan..13"], "takes a number from"),
        (&["map", &file, "--turn-on", "12..inf"], "takes a number from"),
        (&["run", &file, "--tolerance=-inf"], "from 1e-13 to 0.001"),
        (&["run", &file, "--every-s", "1,5"], "decimals take a point"),
        (&["sweep", &file, "--vary", "input_cable.length_m=1,nan"], "a number from 0 to"),
        (&["sweep", &file, "--vary", "input_cable.length_m=nan..3:4"], "no number"),
        (&["run", &file, "--set", "input_cable.length_m=nan"], "a number from 0 to"),
        (&["compare", &file, "--with", "input_cable.length_m=inf"], "a number from 0 to"),
        (&["netlist", &file, "--from-s", "nan", "--to-s", "3"], "takes a number from 0"),
        (&["new", "--unit-a", "nan"], "is not a number from"),
        (&["sweep", &file, "--shard", "nan/3"], "write k/n"),
        (&["sweep", &file, "--threads", "0"], "1..=1024"),
    ] {
        let mut words = words.to_vec();
        if !["margins", "mend"].contains(&words[0]) {
            words.extend(["--out", &out]);
        }
        let printed = tickover(&words);
        assert_eq!(printed.exit, Exit::WrongInput, "{words:?}: {printed:?}");
        assert!(printed.err.contains(allowed), "{words:?}: {}", printed.err);
    }
    assert_eq!(folder.names(), ["van.toml"]);
}
