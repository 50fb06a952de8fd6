//! Names that hold what is no letter: pictures stay XML, tables and pages show nothing unseen, JSON says the same.

mod support;

use sim_cli::Exit;
use std::path::Path;
use support::{Folder, tickover};

/// Every kind of character that must not pass: controls of both sets, delete, line and paragraph ends, marks of direction, no
/// width, byte order, and numbers that are no characters.
const UNSEEN: [char; 24] = [
    '\u{0}',
    '\u{1}',
    '\u{7}',
    '\u{8}',
    '\u{b}',
    '\u{1b}',
    '\u{7f}',
    '\u{85}',
    '\u{9b}',
    '\u{ad}',
    '\u{61c}',
    '\u{200b}',
    '\u{200d}',
    '\u{200e}',
    '\u{2028}',
    '\u{2029}',
    '\u{202e}',
    '\u{2060}',
    '\u{2066}',
    '\u{feff}',
    '\u{fffb}',
    '\u{fdd0}',
    '\u{fffe}',
    '\u{1ffff}',
];

/// A name with all of them, and with what XML, CSV and JSON write in their own way; as a TOML string it is escaped.
fn name() -> String {
    UNSEEN.iter().fold("van <text & \"]]> Ω".to_owned(), |text, c| format!("{text}{c}x"))
}

fn in_toml(name: &str) -> String {
    let escaped = name.chars().map(|c| match c {
        '"' => "\\\"".to_owned(),
        c if c.is_ascii() && !c.is_ascii_control() => c.to_string(),
        c => format!("\\U{:08x}", u32::from(c)),
    });
    format!("\"{}\"", escaped.collect::<String>())
}

fn scenario() -> String {
    let name = in_toml(&name());
    let piece =
        |rpm: u32| format!("[[drive.piece]]\nduration_min = 10\nengine_rpm = {rpm}\nlabel = {name}\n");
    format!("format = 2\nname = {name}\nabout = {name}\n{}{}", piece(2000), piece(0))
}

fn no_unseen(text: &str, whose: &str) {
    let found = text.char_indices().find(|(_, c)| UNSEEN.contains(c) || (c.is_control() && *c != '\n'));
    if let Some((at, c)) = found {
        let near: String = text[..at].chars().rev().take(40).collect::<Vec<_>>().into_iter().rev().collect();
        panic!("{whose}: {c:?} behind {near:?}");
    }
}

/// Reads back everything in a folder; gives the number of pictures.
fn read_back(folder: &Path) -> usize {
    let mut pictures = 0;
    for entry in std::fs::read_dir(folder).expect("the folder") {
        let path = entry.expect("an entry").path();
        let whose = path.display().to_string();
        match path.extension().and_then(|e| e.to_str()) {
            Some("svg") => {
                let text = std::fs::read_to_string(&path).expect("text");
                let tree = roxmltree::Document::parse(&text);
                let tree = tree.unwrap_or_else(|e| panic!("{whose} is no XML: {e}"));
                assert_eq!(tree.root_element().tag_name().name(), "svg");
                for node in tree.descendants().filter_map(|n| n.text()) {
                    no_unseen(node, &whose);
                }
                pictures += 1;
            }
            Some("csv" | "json" | "sha256" | "cir") => {
                no_unseen(&std::fs::read_to_string(&path).expect("text"), &whose);
            }
            _ => {}
        }
    }
    pictures
}

/// Fails where a drawing of 800 x 450 points has type under 4 % of its height, or says nothing to those who do not see it.
fn slides(folder: &Path) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.extension().is_none_or(|e| e != "svg") {
            continue;
        }
        let (text, whose) = (std::fs::read_to_string(&path).expect("text"), path.display());
        let number = |from: &str| -> f64 {
            let rest = text.split_once(from).unwrap_or_else(|| panic!("{whose}: no {from}")).1;
            let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len());
            rest[..end].parse().expect("a number")
        };
        let points_per_unit = number("width=\"") / number("viewBox=\"0 0 ");
        for piece in text.split("font-size=\"").skip(1) {
            let size: f64 = piece[..piece.find('"').expect("an end")].parse().expect("a size");
            let points = size * points_per_unit;
            assert!(points > 17.9, "{whose}: type of {points} points");
        }
        for part in ["<title id=\"title\">", "<desc id=\"desc\">"] {
            let words = text.split_once(part).unwrap_or_else(|| panic!("{whose}: no {part}")).1;
            assert!(words.find("</").expect("an end") > 3, "{whose}: {part} is empty");
        }
    }
}

#[test]
fn every_picture_is_xml_and_every_table_can_be_seen() {
    let folder = Folder::new();
    let file = folder.write("van.toml", scenario());
    folder.write(
        "study.toml",
        format!(
            "format = 2\nname = {0}\nscenario = \"van.toml\"\n[sample]\nmethod = \"sobol\"\nruns = 4\n[[vary]]\n\
             key = \"input_cable.length_m\"\nfrom = 2\nto = 6\ndistribution = \"uniform\"\n[[drive]]\nname = {0}\n\
             [[drive]]\nname = \"plain\"\n",
            in_toml(&name())
        ),
    );
    let study = folder.path("study.toml");
    let table = folder.path("sweep/table.csv");
    std::fs::create_dir(folder.path("sweep")).expect("a folder");
    let commands: [(&str, &[&str], usize); 8] = [
        ("run", &["run", &file, "--plot", "all", "--svg", "--distance"], 9),
        ("distance", &["distance", &file, "--svg"], 1),
        ("compare", &["compare", &file, "--with", "house.load_w=50", "--svg"], 1),
        ("map", &["map", &file, "--grid", "4", "--svg"], 2),
        ("cliff", &["cliff", &file, "--points", "4", "--svg"], 1),
        ("tune", &["tune", &file, "--candidates", "8", "--svg"], 1),
        (
            "netlist",
            &["netlist", &file, "--set", "physics.effects=none", "--from-s", "10", "--to-s", "20"],
            0,
        ),
        ("sweep", &["sweep", &study, "--svg", "--out", &table], 1),
    ];
    for (command, words, least) in commands {
        let out = folder.path(command);
        let mut words = words.to_vec();
        if command != "sweep" {
            words.extend(["--out", &out]);
        }
        let printed = tickover(&words);
        assert_eq!(printed.exit, Exit::Done, "{command}: {}", printed.err);
        no_unseen(&printed.out, command);
        no_unseen(&printed.err, command);
        let pictures = read_back(Path::new(&out));
        assert!(pictures >= least, "{command} drew {pictures}");
        if least > 0 {
            words.extend(["--size", "800x450", "--replace"]);
            let printed = tickover(&words);
            assert_eq!(printed.exit, Exit::Done, "{command}: {}", printed.err);
            slides(Path::new(&out));
        }
    }
    for words in
        [&["why", &file][..], &["model", &file], &["margins", &file], &["week", &file], &["mend", &file]]
    {
        let printed = tickover(words);
        no_unseen(&printed.out, words[0]);
        no_unseen(&printed.err, words[0]);
    }
}

#[test]
fn json_says_the_name_as_it_was_written() {
    let folder = Folder::new();
    let file = folder.write("van.toml", scenario());
    for words in [
        &["run", &file, "--out", &folder.path("out"), "--json", "--plot", "none"][..],
        &["margins", &file, "--json"],
    ] {
        let printed = tickover(words);
        assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
        no_unseen(&printed.out, words[0]);
        let told: serde_json::Value = serde_json::from_str(&printed.out).expect("JSON");
        if words[0] == "run" {
            assert!(
                printed.out.as_bytes()
                    == std::fs::read(folder.path("out/summary.json")).expect("the summary")
            );
            assert_eq!(told["name"].as_str(), Some(name().as_str()));
        }
    }
}
