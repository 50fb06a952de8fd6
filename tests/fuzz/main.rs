//! Scenarios, drive files and `--set` words that are broken on purpose: an answer in words and an exit code, never a panic, a
//! hang, or memory that grows with a number in the text. Seeded, so a case that fails comes back.
//!
//! A bounded number runs with the other tests. As long as wanted:
//! `FUZZ_CASES=200000 FUZZ_FROM=1 cargo test --release -p sim-tests --test fuzz`

mod mutate;

use mutate::{below, mutate, one_of};
use sim_cli::{Exit, Streams};
use sim_core::{Options, Record, RunError, simulate};
use sim_tests::dice::Dice;
use std::ffi::OsString;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// A case that takes longer hangs: most take a millisecond.
const HANGS_S: u64 = 60;
/// More memory than this, over what the process had, is not for a text of 64 kB.
const MOST_MB: u64 = 600;
/// Events after which a run is given up: what is fuzzed is the reading, and that what is read can be run.
const MOST_EVENTS: u64 = 2_000;

fn asked(key: &str, otherwise: u64) -> u64 {
    std::env::var(key).ok().and_then(|v| v.parse().ok()).unwrap_or(otherwise)
}

fn scenarios() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios")
}

/// Every shipped scenario's text.
fn seeds() -> Vec<String> {
    let files = std::fs::read_dir(scenarios()).expect("the scenarios' folder");
    let mut files: Vec<_> = files.map(|e| e.expect("an entry").path()).collect();
    files.retain(|p| p.extension().is_some_and(|e| e == "toml"));
    files.sort();
    files.iter().map(|p| std::fs::read_to_string(p).expect("a scenario")).collect()
}

/// Keys as they stand in the shipped scenarios, with and without their sections.
fn keys(seeds: &[String]) -> Vec<String> {
    let mut keys = Vec::new();
    for text in seeds {
        let mut section = String::new();
        for line in text.lines() {
            let line = line.trim();
            if line.starts_with('[') {
                section = line.trim_matches(['[', ']']).to_owned();
            } else if let Some((key, _)) = line.split_once('=') {
                keys.extend([key.trim().to_owned(), format!("{section}.{}", key.trim())]);
            }
        }
    }
    keys.sort();
    keys.dedup();
    keys
}

/// Runs the program on words and an input; its exit and what it printed.
fn tickover(words: &[&str], input: &[u8]) -> (Exit, String) {
    let (mut out, mut err, mut input) = (Vec::new(), Vec::new(), input);
    let mut io = Streams::plain(&mut input, &mut out, &mut err);
    let exit = sim_cli::run_with(["tickover"].iter().chain(words).map(OsString::from), &mut io);
    drop(io);
    out.append(&mut err);
    (exit, String::from_utf8(out).expect("the program prints text"))
}

/// What the program says about a scenario; where it has nothing to say, the scenario is run. Whether it was.
fn holds(scenario: &[u8], set: &[String]) -> bool {
    let mut words = vec!["check", "-"];
    words.extend(set.iter().flat_map(|w| ["--set", w.as_str()]));
    let (exit, printed) = tickover(&words, scenario);
    assert!(!printed.contains(|c: char| c.is_control() && c != '\n'), "it steers a terminal: {printed:?}");
    assert!(printed.len() < 100_000, "{} bytes printed", printed.len());
    assert!(matches!(exit, Exit::Done | Exit::WrongInput), "{exit:?}: {printed}");
    assert_eq!(exit == Exit::WrongInput, printed.contains("error"), "{printed}");
    if exit == Exit::Done {
        let mut input = scenario;
        let loaded = sim_cli::load::load_from(Path::new("-"), set, &mut input).expect("it was checked");
        let options = Options { record: Record::Summary, most_events: MOST_EVENTS, ..Options::default() };
        match simulate(&loaded.resolved.model, &loaded.resolved.profile, &options) {
            Ok(run) => assert!(run.end.iter().chain(&run.ledger.0).all(|x| x.is_finite()), "{:?}", run.end),
            Err(RunError::Stalled { t, guard }) => panic!("stalled at {} s on {guard:?}", t.as_s()),
            Err(_) => {}
        }
    }
    exit == Exit::Done
}

/// Memory of this process at its greatest, MB; nothing where the system does not tell.
fn greatest_mb() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<u64>().ok()? / 1024)
}

/// Runs many cases; a watcher ends the process on one that hangs, and says which.
fn many(name: &'static str, cases: u64, case: impl Fn(&mut Dice) -> bool) {
    let from = asked("FUZZ_FROM", 0);
    let now = Arc::new(Mutex::new((from, Instant::now())));
    let watched = Arc::downgrade(&now);
    std::thread::spawn(move || {
        while let Some(now) = watched.upgrade() {
            let (seed, since) = *now.lock().expect("a case");
            drop(now);
            if since.elapsed() > Duration::from_secs(HANGS_S) {
                eprintln!("{name}: seed {seed} hangs");
                std::process::exit(101);
            }
            std::thread::sleep(Duration::from_millis(200));
        }
    });
    let before = greatest_mb();
    let (mut bad, mut ran, cases) = (Vec::new(), 0, asked("FUZZ_CASES", cases));
    for seed in from..from + cases {
        *now.lock().expect("a case") = (seed, Instant::now());
        let mut d = Dice::new(seed.wrapping_mul(0xd134_2543_de82_ef95) ^ name.len() as u64);
        match catch_unwind(AssertUnwindSafe(|| case(&mut d))) {
            Ok(was_run) => ran += u64::from(was_run),
            Err(_) => bad.push(seed),
        }
    }
    assert!(bad.is_empty(), "{name}: seeds {bad:?} fail; FUZZ_FROM={} FUZZ_CASES=1 shows one", bad[0]);
    println!("{name}: {ran} of {cases} were good enough to be run");
    // Where nearly everything is refused at once, nothing behind the reading is tried.
    assert!(cases < 1_000 || ran > cases / 20, "{name}: {ran} of {cases} were run");
    if let (Some(before), Some(after)) = (before, greatest_mb()) {
        assert!(after - before < MOST_MB, "{name}: {before} MB grew to {after} MB");
    }
}

#[test]
fn scenario() {
    let (seeds, from) = (seeds(), std::env::current_dir().expect("a folder"));
    assert!(!from.join("drives").exists(), "paths in the texts lead nowhere from here");
    let keys = keys(&seeds);
    let alone = |text: &&String| !text.contains("build_on") && !text.contains("file = ");
    let whole: Vec<String> = seeds.iter().filter(alone).cloned().collect();
    many("scenario", 3_000, |d| {
        let text = mutate(one_of::<String>(d, &whole), &seeds, &keys, d);
        holds(&text, &[])
    });
}

#[test]
fn drive_csv() {
    let rows: String = (0..200).map(|n| format!("{n},{}\n", (n * 7) % 90)).collect();
    let seeds = [
        format!("time_s,speed_kmh\n{rows}"),
        format!("time_s,engine_rpm\r\n{}", rows.replace('\n', "\r\n")),
        format!("\u{feff}time_s;speed_kmh\n{}", rows.replace(',', ";")),
        "time_s,speed_kmh\n0,0\n3600,50\n86400,0\n".to_owned(),
    ];
    let folder = std::env::temp_dir().join(format!("tickover-fuzz-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    let file = folder.join("drive.csv");
    let scenario = format!("format = 1\n[[drive.piece]]\nfile = \"{}\"\n", file.display());
    many("drive_csv", 2_000, |d| {
        std::fs::write(&file, mutate(one_of::<String>(d, &seeds), &seeds, &[], d)).expect("a file");
        holds(scenario.as_bytes(), &[])
    });
    std::fs::remove_dir_all(&folder).expect("our folder");
}

#[test]
fn set_words() {
    let seeds = seeds();
    let keys = keys(&seeds);
    let scenario = b"format = 1\n[[drive.piece]]\nduration_min = 5\nengine_rpm = 2000\n";
    let known = [
        "input_run.length_m=12",
        "house.load_w=60",
        "start_stop.turn_on_v=13.6",
        "drive.piece.1.engine_rpm=900",
    ];
    many("set_words", 3_000, |d| {
        let words: Vec<String> = (0..1 + below(d, 3))
            .map(|_| {
                let any = format!("{}={}", one_of(d, &keys), 10.0 * d.between(-1.0, 5.0).round());
                let word = if d.chance(0.5) { (*one_of(d, &known)).to_owned() } else { any };
                String::from_utf8_lossy(&mutate(&word, &[word.clone()], &[], d)).replace('\0', "")
            })
            .collect();
        holds(scenario, &words)
    });
}
