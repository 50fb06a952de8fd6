//! Sweeps: the same bytes whatever the number of threads and parts, and nothing done twice after an interruption.

mod support;

use sim_cli::Exit;
use support::{Folder, SMALL, tickover};

const VARY: [&str; 4] =
    ["--vary", "input_cable.length_m=2..14:4", "--vary", "converter.output_limit_a=20,30,40,1000"];

fn sweep(folder: &Folder, van: &str, out: &str, more: &[&str]) -> String {
    let path = folder.path(out);
    let words: Vec<&str> =
        ["sweep", van].iter().chain(&VARY).chain(&["--out", &path, "--quiet"]).chain(more).copied().collect();
    let printed = tickover(&words);
    assert_eq!((printed.exit, printed.err.as_str()), (Exit::Done, ""), "{printed:?}");
    std::fs::read_to_string(path).expect("the table")
}

#[test]
fn one_thread_two_threads_and_merged_parts_give_the_same_bytes() {
    let folder = Folder::new();
    let van = folder.write("van.toml", SMALL);
    let one = sweep(&folder, &van, "one.csv", &["--threads", "1"]);
    assert_eq!(one.lines().count(), 17);
    assert_eq!(one, sweep(&folder, &van, "two.csv", &["--threads", "2"]));
    let parts: Vec<String> = (1..=3)
        .map(|k| {
            let name = format!("part.{k}.csv");
            sweep(&folder, &van, &name, &["--shard", &format!("{k}/3")]);
            folder.path(&name)
        })
        .collect();
    let whole = folder.path("merged.csv");
    let merge = |parts: &[&String]| {
        let mut words = vec!["merge", "--out", &whole, "--quiet"];
        words.extend(parts.iter().map(|p| p.as_str()));
        tickover(&words)
    };
    assert_eq!(merge(&[&parts[2], &parts[0], &parts[1]]).exit, Exit::Done);
    assert_eq!(std::fs::read_to_string(&whole).expect("merged"), one);

    let refused = merge(&[&parts[0], &parts[2]]);
    assert_eq!(refused.exit, Exit::WrongInput);
    assert!(refused.err.contains("these are missing: 2"), "{}", refused.err);
    assert!(merge(&[&parts[0], &parts[0], &parts[1]]).err.contains("the same part"));
    let other = folder.path("other.csv");
    let words = ["sweep", &van, "--vary", "input_cable.length_m=2,3,4", "--shard", "2/3", "--out", &other];
    assert_eq!(tickover(&words).exit, Exit::Done);
    assert!(merge(&[&parts[0], &other, &parts[2]]).err.contains("not parts of one sweep"));
    let cut = std::fs::read_to_string(&parts[1]).expect("a part");
    let shorter: String = cut.lines().take(4).map(|l| format!("{l}\n")).collect();
    std::fs::write(&parts[1], shorter).expect("written");
    let refused = merge(&[&parts[0], &parts[1], &parts[2]]);
    assert!(
        refused.err.contains("part.2.csv, line 5: the part is not whole: run 8 is missing"),
        "{}",
        refused.err
    );
    // Rows of another sweep, whose numbers would fit.
    let foreign = std::fs::read_to_string(&other).expect("a part").lines().last().map(str::to_owned);
    let mut lines: Vec<&str> = cut.lines().collect();
    let foreign = foreign.expect("a row");
    lines[2] = &foreign;
    std::fs::write(&parts[1], lines.join("\n") + "\n").expect("written");
    let refused = merge(&[&parts[0], &parts[1], &parts[2]]);
    assert!(refused.err.contains("line 3: the row was altered, or is of another sweep"), "{}", refused.err);
    std::fs::write(&parts[1], cut.replace('\n', &"7".repeat(17 << 20))).expect("written");
    assert!(merge(&[&parts[0], &parts[1], &parts[2]]).err.contains("is no part of a sweep"));
    std::fs::write(&parts[1], cut.clone() + &foreign + "\n").expect("written");
    assert!(merge(&[&parts[0], &parts[1], &parts[2]]).err.contains("has more rows than runs"));
    assert_eq!(std::fs::read_to_string(&whole).expect("merged"), one, "what was there is left");
}

/// A row with its check, as the program makes it: the first 64 bits of SHA-256 over the sweep's number and the row, each with
/// its length before it.
fn sealed(label: &str, row: &str) -> String {
    use sha2::{Digest, Sha256};
    let sweep = label.split_whitespace().nth(3).expect("its number");
    let mut hash = Sha256::new();
    for text in [sweep, row] {
        hash.update((text.len() as u64).to_le_bytes());
        hash.update(text);
    }
    let check: String = hash.finalize().iter().take(8).map(|b| format!("{b:02x}")).collect();
    format!("{row},{check}")
}

/// Numbers that follow each other without order.
struct Draw(u64);

impl Draw {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) % n as u64) as usize
    }
}

/// One bit of a journal, at five hundred places: the sweep is refused, or says so and runs what was altered again, or the bit
/// was in a row's end, which is then one that was never finished. The table is that of an undisturbed sweep each time.
#[test]
fn each_flipped_bit_of_a_journal_is_noticed() {
    let folder = Folder::new();
    let van = folder.write("van.toml", SMALL);
    let part = ["--shard", "1/2"];
    let whole = sweep(&folder, &van, "part.csv", &part);
    let lines: Vec<&str> = whole.lines().collect();
    let journal = format!("{}\n{}\n", lines[0], lines[2..].join("\n")).into_bytes();
    let path = folder.path("part.csv");
    let words: Vec<&str> = ["sweep", &van]
        .iter()
        .chain(&VARY)
        .chain(&["--out", &path])
        .chain(&part)
        .chain(&["--quiet"])
        .copied()
        .collect();
    let (mut draw, mut refused, mut mended) = (Draw(7), 0, 0);
    for _ in 0..500 {
        let mut flipped = journal.clone();
        let (at, bit) = (draw.below(flipped.len()), draw.below(8));
        flipped[at] ^= 1 << bit;
        std::fs::write(folder.path("part.csv.journal"), &flipped).expect("written");
        let printed = tickover(&words);
        if printed.exit == Exit::WrongInput {
            assert!(
                at <= lines[0].len() && printed.err.contains("part.csv.journal"),
                "byte {at}: {}",
                printed.err
            );
            refused += 1;
        } else {
            assert_eq!(printed.exit, Exit::Done, "byte {at} bit {bit}: {}", printed.err);
            let told = printed.err.contains("altered since written");
            assert!(told || at + 1 == journal.len(), "byte {at} bit {bit} was not noticed: {}", printed.err);
            mended += 1;
        }
        assert_eq!(std::fs::read_to_string(&path).expect("the table"), whole, "byte {at} bit {bit}");
    }
    assert!(refused > 10 && mended > 300, "{refused} refused, {mended} mended");
}

/// The same for a part: `merge` refuses it, whatever the bit.
#[test]
fn each_flipped_bit_of_a_part_is_noticed() {
    let folder = Folder::new();
    let van = folder.write("van.toml", SMALL);
    let part =
        |k: u32| sweep(&folder, &van, &format!("{k}.csv"), &["--shard", &format!("{k}/2")]).into_bytes();
    let parts = [part(1), part(2)];
    let (a, b, out) = (folder.path("1.csv"), folder.path("2.csv"), folder.path("whole.csv"));
    let words = ["merge", &a, &b, "--out", &out, "--quiet"];
    let mut draw = Draw(11);
    for _ in 0..500 {
        let n = draw.below(2);
        let mut flipped = parts[n].clone();
        let (at, bit) = (draw.below(flipped.len()), draw.below(8));
        flipped[at] ^= 1 << bit;
        std::fs::write([&a, &b][n], &flipped).expect("written");
        let printed = tickover(&words);
        assert_eq!(printed.exit, Exit::WrongInput, "part {n} byte {at} bit {bit}: {printed:?}");
        assert!(!std::path::Path::new(&out).exists());
        std::fs::write([&a, &b][n], &parts[n]).expect("written");
    }
    assert_eq!(tickover(&words).exit, Exit::Done);
}

#[test]
fn an_interrupted_sweep_goes_on_and_repeats_nothing() {
    let folder = Folder::new();
    let van = folder.write("van.toml", SMALL);
    let part = ["--shard", "1/2"];
    let whole = sweep(&folder, &van, "part.csv", &part);
    let lines: Vec<&str> = whole.lines().collect();
    assert_eq!(lines.len(), 10, "label, columns, eight rows");
    // What a kill leaves behind: rows in the order in which they ended, the last one cut off. A row that says something
    // that no run says must come through, since its run is not repeated.
    let marked = lines[5].replace("good", "kept");
    assert_ne!(marked, lines[5]);
    let marked = sealed(lines[0], marked.rsplit_once(',').expect("a check").0);
    assert_eq!(sealed(lines[0], lines[5].rsplit_once(',').expect("a check").0), lines[5]);
    let left = format!("{}\n{}\n{}\n{}", lines[0], marked, lines[2], &lines[3][..9]);
    folder.write("part.csv.journal", left);
    // The table that was there is replaced: it is as the program wrote it.
    let again = sweep(&folder, &van, "part.csv", &part);
    assert_eq!(again, whole.replace(lines[5], &marked));
    assert!(!folder.names().contains(&"part.csv.journal".to_owned()), "{:?}", folder.names());

    // A journal of other inputs is refused, and stays.
    let other = sweep(&folder, &van, "other.csv", &["--shard", "2/2"]);
    folder.write("part.csv.journal", format!("{}\n", other.lines().next().expect("its label")));
    let path = folder.path("part.csv");
    let words: Vec<&str> =
        ["sweep", &van].iter().chain(&VARY).chain(&["--out", &path]).chain(&part).copied().collect();
    let refused = tickover(&words);
    assert_eq!(refused.exit, Exit::WrongInput);
    assert!(refused.err.contains("--restart"), "{}", refused.err);
    let restarted: Vec<&str> = words.iter().chain(&["--restart", "--quiet"]).copied().collect();
    assert_eq!(tickover(&restarted).exit, Exit::Done);
    assert_eq!(std::fs::read_to_string(path).expect("the table"), whole);
}

#[test]
fn a_run_that_fails_is_a_row_with_its_reason() {
    let folder = Folder::new();
    let van = folder.write("van.toml", SMALL);
    let out = folder.path("out.csv");
    let words = ["sweep", &van, "--vary", "start_stop.turn_on_v=12.5,13.6", "--out", &out, "--quiet"];
    assert_eq!(tickover(&words).exit, Exit::Done);
    let table = std::fs::read_to_string(&out).expect("the table");
    let rows: Vec<&str> = table.lines().collect();
    assert!(rows[1].starts_with("1,12.5,failed,") && rows[1].contains("turn_on_v"), "{}", rows[1]);
    assert!(rows[2].starts_with("2,13.6,good,"), "{}", rows[2]);
}

#[test]
fn a_study_file_says_spreads_and_drives_and_its_slips_are_told_with_those_of_the_scenario() {
    let folder = Folder::new();
    folder.write("van.toml", SMALL);
    folder.write("town.toml", SMALL.replace("2000", "900"));
    let study = "format = 2\nscenario = \"van.toml\"\n[sample]\nmethod = \"sobol\"\nruns = 8\n\
        [[vary]]\nkey = \"input_cable.length_m\"\nfrom = 2\nto = 6\ndistribution = \"uniform\"\n\
        [[drive]]\nname = \"road\"\n[[drive]]\nname = \"town, cold\"\nfrom = \"town.toml\"\n\
        set = { \"drive.air_c\" = -10 }\n";
    let file = folder.write("study.toml", study);
    let out = folder.path("out.csv");
    assert_eq!(tickover(&["sweep", &file, "--out", &out, "--quiet"]).exit, Exit::Done);
    let table = std::fs::read_to_string(&out).expect("the table");
    assert_eq!(table.lines().count(), 17);
    assert!(table.starts_with("run,drive,input_cable.length_m,verdict,"));
    assert_eq!(table.matches(",\"town, cold\",").count(), 8);
    // A sample leaves a picture beside its table, a grid none.
    let png = std::fs::read(folder.path("out.png")).expect("the picture");
    assert!(png.starts_with(b"\x89PNG") && png.len() > 10_000);
    let printed = tickover(&["sweep", &file, "--out", &folder.path("out.png")]);
    assert!(printed.exit == Exit::WrongInput && printed.err.contains("names the table"), "{}", printed.err);
    assert_eq!(std::fs::read(folder.path("out.png")).expect("the picture"), png);

    folder.write("van.toml", SMALL.replace("2000", "-2"));
    let wrong = study
        .replace("sobol", "sobolev")
        .replace("length_m", "lenght_m")
        .replace("air_c\" = -10", "air_c\" = -1000");
    let printed = tickover(&["sweep", &folder.write("study.toml", wrong)]);
    assert_eq!(printed.exit, Exit::WrongInput);
    for told in
        ["engine_rpm: -2 is out of range", "did you mean `sobol`", "did you mean `input_cable.length_m`"]
    {
        assert!(printed.err.contains(told), "{told}: {}", printed.err);
    }
    folder.write("van.toml", SMALL);
    let cold = study.replace("air_c\" = -10", "air_c\" = -1000");
    let printed = tickover(&["sweep", &folder.write("study.toml", cold)]);
    assert!(folder.hide(&printed.err).contains("study.toml:16:"), "{}", printed.err);
}

#[test]
fn the_shipped_study_is_a_sample_of_a_population() {
    let file = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/studies/workshop.toml");
    let study = sim_cli::load::load_study(&file, sim_cli::load::StudyWords::default(), &mut std::io::empty());
    let study = study.unwrap_or_else(|e| panic!("{e:?}"));
    assert_eq!((study.sweep.len(), study.sweep.vary.len()), (Some(2048), 4));
    // Its first vehicles run, one in each drive.
    for n in 0..2 {
        let outcome = study.sweep.run(&study.sweep.job(n));
        assert_eq!(outcome.reason, "", "job {n}");
    }
}

/// What nobody typed is drawn as far as it is known: defaults whose keys declare a spread, measured numbers within their
/// uncertainty; nothing that somebody typed, and nothing that does not act.
#[test]
fn what_nobody_typed_is_drawn() {
    let folder = Folder::new();
    let text = SMALL.replace("format = 2\n", "")
        + "[input_cable.joints_mohm]\nmeasured = 2.6\nplus_minus = 0.5\n[alternator]\nbuild_up_s = 3\n";
    let van = folder.write("van.toml", format!("format = 2\n{text}"));
    let (out, again) = (folder.path("a.csv"), folder.path("b.csv"));
    let printed = tickover(&["sweep", &van, "--spread", "12", "--out", &out]);
    assert_eq!(printed.exit, Exit::Done, "{printed:?}");
    assert!(
        printed.out.contains("TROUBLE") && printed.out.contains("alternator.set_point_v"),
        "{}",
        printed.out
    );
    let table = std::fs::read_to_string(&out).expect("the table");
    let head = table.lines().next().expect("a header");
    for drawn in ["alternator.set_point_v", "alternator.regulator_warms_min", "input_cable.joints_mohm"] {
        assert!(head.contains(drawn), "{drawn}: {head}");
    }
    assert!(!head.contains("build_up_s"), "typed: {head}");
    let place = head.split(',').position(|c| c == "input_cable.joints_mohm").expect("there");
    let joints: Vec<f64> = table
        .lines()
        .skip(1)
        .map(|l| l.split(',').nth(place).expect("a cell").parse().expect("mΩ"))
        .collect();
    assert!(joints.len() == 12 && joints.iter().all(|r| (2.1..=3.1).contains(r)), "{joints:?}");
    let study = folder.write(
        "study.toml",
        "format = 2\nscenario = \"van.toml\"\n[sample]\nmethod = \"latin-hypercube\"\nruns = 12\nunknowns = \"drawn\"\n",
    );
    assert_eq!(tickover(&["sweep", &study, "--quiet", "--out", &again]).exit, Exit::Done);
    assert_eq!(std::fs::read_to_string(&again).expect("the table"), table, "a study file says the same");
    let printed = tickover(&["sweep", &study, "--spread", "12"]);
    assert!(printed.exit == Exit::WrongInput && printed.err.contains("sample of its own"), "{printed:?}");
}

#[test]
fn map_cliff_and_tune_write_their_files_whatever_the_threads() {
    let folder = Folder::new();
    let van = folder.write("van.toml", format!("{SMALL}[[drive.piece]]\nduration_min = 5\nengine_rpm = 0\n"));
    let commands: [(&str, &[&str], &[&str]); 3] = [
        ("map", &["--grid", "6", "--no-conditions"], &["map.csv", "borders.csv", "map.png"]),
        ("cliff", &["--points", "5"], &["cliff.csv", "cliff.png"]),
        ("tune", &["--candidates", "8", "--hottest-c", "90"], &["tried.csv", "trade-off.png"]),
    ];
    for (command, more, files) in commands {
        let run = |out: &str, threads: &str| {
            let path = folder.path(out);
            let words = [command, &van, "--out", &path, "--threads", threads];
            let words: Vec<&str> = words.iter().chain(more).copied().collect();
            let printed = tickover(&words);
            assert_eq!((printed.exit, printed.err.as_str()), (Exit::Done, ""), "{printed:?}");
            assert!(printed.out.contains("ANSWER"), "{}", printed.out);
            let read = |name: &&str| std::fs::read(format!("{path}/{name}")).expect("a file");
            files.iter().map(read).collect::<Vec<_>>()
        };
        assert_eq!(run("one", "1"), run("two", "2"), "{command}");
    }
}
