//! Runs the program in this process, in a folder of its own, and compares what it prints with kept texts.
#![allow(dead_code, reason = "each test file uses its own part")]

use sim_cli::{Exit, Streams};
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// The smallest scenario that runs.
pub const SMALL: &str = "format = 2\n\n[[drive.piece]]\nduration_min = 5\nengine_rpm = 2000\n";

/// What a run of the program printed.
#[derive(Debug)]
pub struct Printed {
    /// Its exit code.
    pub exit: Exit,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

/// A folder that goes away with its test.
pub struct Folder(pub PathBuf);

impl Folder {
    pub fn new() -> Folder {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let n = COUNT.fetch_add(1, Ordering::Relaxed);
        let path = std::env::temp_dir().join(format!("tickover-test-{}-{n}", std::process::id()));
        std::fs::create_dir_all(&path).expect("a folder");
        Folder(path)
    }

    /// Writes a file and gives its path.
    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> String {
        let path = self.0.join(name);
        std::fs::create_dir_all(path.parent().expect("a parent")).expect("a folder");
        std::fs::write(&path, bytes).expect("a file");
        path.to_str().expect("a plain path").to_owned()
    }

    pub fn path(&self, name: &str) -> String {
        self.0.join(name).to_str().expect("a plain path").to_owned()
    }

    /// Names of everything in it, sorted.
    pub fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(&self.0).expect("the folder");
        let mut names: Vec<_> =
            entries.map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    /// A text with this folder's path taken out.
    pub fn hide(&self, text: &str) -> String {
        text.replace(&format!("{}/", self.0.display()), "").replace(&self.0.display().to_string(), "FOLDER")
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// Runs the program with these words.
pub fn tickover(words: &[&str]) -> Printed {
    with_input(words, "", false)
}

/// Runs the program with an input; `asks` says that somebody sits there.
pub fn with_input(words: &[&str], input: &str, asks: bool) -> Printed {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut input = input.as_bytes();
    let mut io = Streams::plain(&mut input, &mut out, &mut err);
    io.asks = asks;
    let exit = sim_cli::run_with(["tickover"].iter().chain(words).map(OsString::from), &mut io);
    drop(io);
    let text = |bytes| String::from_utf8(bytes).expect("the program prints text");
    Printed { exit, out: text(out), err: text(err) }
}

/// Compares with a kept file; `TICKOVER_UPDATE=1` rewrites it instead.
pub fn same_as_kept(path: &Path, text: &str) {
    if std::env::var_os("TICKOVER_UPDATE").is_some_and(|v| v == "1") {
        std::fs::write(path, text).expect("the kept file can be written");
        return;
    }
    let kept = std::fs::read_to_string(path).unwrap_or_default();
    if kept != text {
        let line = kept.lines().zip(text.lines()).position(|(a, b)| a != b);
        let line = line.unwrap_or(kept.lines().count().min(text.lines().count()));
        panic!(
            "{} is not current from line {}:\n  kept: {:?}\n  now:  {:?}\nIf the change is meant: TICKOVER_UPDATE=1 cargo \
             test -p sim-cli",
            path.display(),
            line + 1,
            kept.lines().nth(line),
            text.lines().nth(line),
        );
    }
}

/// Compares with a text kept in `tests/snapshots`.
pub fn snapshot(name: &str, text: &str) {
    same_as_kept(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/snapshots").join(name), text);
}

/// The root of the workspace.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the workspace").to_owned()
}
