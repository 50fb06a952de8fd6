//! Every scenario that is shipped, as the command line reads it.

use sim_core::study::Case;
use sim_core::{Model, Profile};
use std::path::Path;

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

/// Name, vehicle and drive of each file under `scenarios/`.
///
/// # Panics
/// On a shipped scenario that cannot be read or is wrong.
pub fn shipped() -> Vec<(String, Model, Profile)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios");
    let mut files: Vec<_> = std::fs::read_dir(&folder)
        .expect("the scenarios' folder")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        // The catalogue of faults is a list of changes, not a scenario; a test of its own runs every row.
        .filter(|path| path.file_stem().is_none_or(|stem| stem != "faults"))
        .collect();
    files.sort();
    assert!(files.len() >= 3, "{files:?}");
    files
        .into_iter()
        .map(|path| {
            let loaded =
                sim_cli::load::load(&path, &[]).unwrap_or_else(|e| panic!("{}: {e:?}", path.display()));
            (loaded.stem, loaded.resolved.model, loaded.resolved.profile)
        })
        .collect()
}
