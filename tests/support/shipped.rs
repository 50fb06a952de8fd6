//! Every scenario that is shipped, as the command line reads it.

use sim_core::study::Case;
use sim_core::{Model, Profile};
use std::path::{Path, PathBuf};

/// One of the drive patterns, with `--set` words.
///
/// # Panics
/// On a pattern that cannot be read or is wrong.
pub fn pattern(name: &str, words: &[&str]) -> (Model, Profile) {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/patterns").join(format!("{name}.toml"));
    let words: Vec<String> = words.iter().map(|w| (*w).to_owned()).collect();
    let loaded = sim_cli::load::load(&path, &words).unwrap_or_else(|e| panic!("{name}: {e:?}"));
    (loaded.resolved.model, loaded.resolved.profile)
}

/// A scenario as a text, read as from a pipe.
///
/// # Panics
/// On a scenario that is wrong.
pub fn case(text: &str) -> Case {
    let loaded = sim_cli::load::load_from(Path::new("-"), &[], &mut text.as_bytes());
    loaded.unwrap_or_else(|e| panic!("{e:?}\n{text}")).case
}

/// Name, vehicle and drive of each scenario under `scenarios/`, its patterns and each row of its catalogue of faults included.
///
/// # Panics
/// On a shipped scenario that cannot be read or is wrong.
pub fn shipped() -> Vec<(String, Model, Profile)> {
    let folder = folder();
    let mut all: Vec<_> = files(&folder).iter().map(|path| read(path, &[], stem(path))).collect();
    let patterns = files(&folder.join("patterns"));
    all.extend(patterns.iter().map(|path| read(path, &[], format!("pattern {}", stem(path)))));
    let catalogue = std::fs::read_to_string(folder.join("faults.toml")).expect("the catalogue of faults");
    let catalogue: Catalogue = toml::from_str(&catalogue).unwrap_or_else(|e| panic!("{e}"));
    let base = folder.join(&catalogue.base);
    all.extend(catalogue.fault.iter().map(|fault| {
        let words: Vec<_> = catalogue.set.iter().chain(&fault.set).cloned().collect();
        read(&base, &words, format!("fault {}", fault.row))
    }));
    assert!(all.len() >= 40, "only {} scenarios are found", all.len());
    all
}

/// The files of all scenarios and patterns.
///
/// # Panics
/// Without the folder of scenarios.
pub fn shipped_files() -> Vec<PathBuf> {
    let folder = folder();
    files(&folder).into_iter().chain(files(&folder.join("patterns"))).collect()
}

/// A scenario file with `--set` words.
///
/// # Panics
/// On a scenario that is wrong.
pub fn shipped_with(file: &Path, words: &[&str]) -> (Model, Profile) {
    let words: Vec<String> = words.iter().map(|w| (*w).to_owned()).collect();
    let (_, model, profile) = read(file, &words, stem(file));
    (model, profile)
}

/// What of the catalogue of faults makes vehicles.
#[derive(serde::Deserialize)]
struct Catalogue {
    base: String,
    set: Vec<String>,
    fault: Vec<Fault>,
}

#[derive(serde::Deserialize)]
struct Fault {
    row: String,
    #[serde(default)]
    set: Vec<String>,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios")
}

fn stem(path: &Path) -> String {
    path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default()
}

/// The scenarios of a folder, in order of their names. The catalogue of faults is a list of changes to one.
fn files(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).expect("a folder of scenarios");
    let mut files: Vec<_> = entries
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml") && stem(path) != "faults")
        .collect();
    files.sort();
    files
}

fn read(path: &Path, words: &[String], name: String) -> (String, Model, Profile) {
    let loaded = sim_cli::load::load(path, words).unwrap_or_else(|e| panic!("{name}: {e:?}"));
    (name, loaded.resolved.model, loaded.resolved.profile)
}
