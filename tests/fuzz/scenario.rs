//! Scenario files: checked, and where nothing is wrong with one, run.

use crate::mutate::mutated;
use sim_cli::{Exit, Streams};
use sim_core::{Options, RunError, simulate};
use sim_tests::dice::Dice;
use std::ffi::OsString;
use std::path::Path;
use std::sync::OnceLock;

/// Longest drive that is run, s: a month of cycling is no hang, but takes a minute.
const LONGEST_RUN_S: f64 = 40_000.0;

/// The scenarios' folder.
pub fn folder() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios")
}

/// Shipped scenarios, and one that uses what they do not.
fn seeds() -> &'static [String] {
    static SEEDS: OnceLock<Vec<String>> = OnceLock::new();
    SEEDS.get_or_init(|| {
        // Paths count from the working folder here: those of the drive files are made whole.
        let drives = format!("{}/drives/", folder().display());
        let read = |file| std::fs::read_to_string(folder().join(file)).expect("a shipped scenario");
        let files = ["reference-van.toml", "reference-van-full.toml", "thin-run.toml", "delivery-round.toml"];
        let mut all: Vec<String> = files.map(|f| read(f).replace("drives/", &drives)).into();
        all.push("format = 2\n[[drive.piece]]\nduration_min = 5\nengine_rpm = 2000\n".into());
        all
    })
}

/// Every key, as `tickover keys` prints them, and every line of the seeds.
pub fn words() -> &'static [String] {
    static WORDS: OnceLock<Vec<String>> = OnceLock::new();
    WORDS.get_or_init(|| {
        let (_, keys, _) = program(&["keys"], b"");
        let mut all: Vec<String> = keys.split_whitespace().map(str::to_owned).collect();
        all.extend(seeds().iter().flat_map(|s| s.lines()).map(|l| format!("{l}\n")));
        all
    })
}

/// Runs the program in this process: its exit, output and errors.
pub fn program(words: &[&str], input: &[u8]) -> (Exit, String, String) {
    let (mut input, mut out, mut err) = (input, Vec::new(), Vec::new());
    let mut io = Streams::plain(&mut input, &mut out, &mut err);
    let exit = sim_cli::run_with(["tickover"].iter().chain(words).map(OsString::from), &mut io);
    drop(io);
    let text = |bytes| String::from_utf8(bytes).expect("the program prints text");
    (exit, text(out), text(err))
}

/// What holds of every answer to a check; says whether nothing was wrong.
pub fn judged(exit: Exit, out: &str, err: &str) -> bool {
    assert!(matches!(exit, Exit::Done | Exit::WrongInput), "{exit:?}: {err}");
    assert_eq!(exit == Exit::WrongInput, err.contains("error: "), "{exit:?} with {err:?}");
    let steers = |c: char| (c.is_control() && c != '\n') || ('\u{202a}'..='\u{202e}').contains(&c);
    assert!(!out.contains(steers) && !err.contains(steers), "{out:?} {err:?}");
    assert!(err.len() < 200_000, "{} bytes of messages", err.len());
    exit == Exit::Done
}

/// One scenario.
pub fn one(d: &mut Dice) -> (usize, bool) {
    let text = mutated(seeds(), words(), d);
    let (exit, out, err) = program(&["check", "-"], &text);
    let good = judged(exit, &out, &err);
    let pieces = if good { runs_or_says_why(&text, &[]) } else { 0 };
    // Rows of drive files are text too.
    (text.len() + pieces, good)
}

/// A run ends, with finite numbers or with one of the reasons that a run may have. Gives the number of its pieces.
pub fn runs_or_says_why(text: &[u8], set: &[String]) -> usize {
    let mut input = text;
    let loaded = sim_cli::load::load_from(Path::new("-"), set, &mut input).expect("the check took it");
    let (m, p) = (&loaded.resolved.model, &loaded.resolved.profile);
    if p.end().since(p.start()) > LONGEST_RUN_S {
        return p.pieces().len();
    }
    match simulate(m, p, &Options { tolerance: 1e-6, ..Options::default() }) {
        Ok(run) => {
            assert!(run.end.iter().all(|x| x.is_finite()), "{:?}", run.end);
            assert!(run.ledger.0.iter().all(|x| x.is_finite()), "{:?}", run.ledger);
        }
        Err(RunError::Stalled { t, guard }) => panic!("stalled at {} s on {guard:?}", t.as_s()),
        Err(_) => {}
    }
    p.pieces().len()
}
