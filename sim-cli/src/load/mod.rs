//! From files and command-line words to a resolved scenario.

mod drive_csv;
mod toml_tree;

pub use drive_csv::read_drive;

use crate::failure::Failure;
use sim_core::resolve::{self, DriveFile, Resolved};
use sim_core::scenario::node::{Node, Place};
use sim_core::scenario::{Problem, ProblemKind, Scenario};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A text that problems can point into.
#[derive(Debug, Clone)]
pub struct Source {
    /// Its name in messages.
    pub name: String,
    /// The text.
    pub text: String,
}

/// All texts of a scenario, numbered as [`Place::source`] says.
#[derive(Debug, Clone, Default)]
pub struct Sources(pub Vec<Source>);

impl Sources {
    fn add(&mut self, name: String, text: String) -> u16 {
        self.0.push(Source { name, text });
        (self.0.len() - 1) as u16
    }
}

/// A scenario, ready to run.
#[derive(Debug)]
pub struct Loaded {
    /// What was written.
    pub scenario: Scenario,
    /// What it means.
    pub resolved: Resolved,
    /// The texts.
    pub sources: Sources,
    /// Name for the output folder.
    pub stem: String,
}

/// Reads a scenario file, applies `key=value` words, reads its drive files and resolves it.
///
/// # Errors
/// `Failure::File` when the scenario cannot be read, `Failure::Problems` with everything that is wrong in it.
pub fn load(file: &Path, set: &[String]) -> Result<Loaded, Failure> {
    let text = read_text(file).map_err(|e| Failure::File(file.to_owned(), e))?;
    let mut sources = Sources::default();
    let source = sources.add(file.display().to_string(), text);
    let (mut root, mut problems) = toml_tree::parse(&sources.0[0].text, source);
    for word in set {
        apply(word, &mut root, &mut sources, &mut problems);
    }
    // With the syntax broken, unknown and missing keys would only repeat it.
    if !problems.is_empty() {
        problems.extend(Scenario::read(&root).err().unwrap_or_default().into_iter().filter(worth_telling));
        problems.sort_by_key(|p| p.place);
        return Err(Failure::Problems(Box::new(sources), problems));
    }
    let scenario = match Scenario::read(&root) {
        Ok(scenario) => scenario,
        Err(problems) => return Err(Failure::Problems(Box::new(sources), problems)),
    };
    let folder = file.parent().unwrap_or(Path::new("")).to_owned();
    let drives = drives(&scenario, &folder, &mut sources, &mut problems);
    let resolved = resolve::resolve(&scenario, &|n| drives.get(&n).cloned());
    match resolved {
        Ok(resolved) if problems.is_empty() => {
            let stem = file.file_stem().map_or_else(|| "run".into(), |s| s.to_string_lossy().into_owned());
            Ok(Loaded { scenario, resolved, sources, stem })
        }
        other => {
            problems.extend(other.err().unwrap_or_default());
            problems.sort_by_key(|p| p.place);
            Err(Failure::Problems(Box::new(sources), problems))
        }
    }
}

fn worth_telling(problem: &Problem) -> bool {
    !matches!(problem.kind, ProblemKind::Missing { .. })
}

/// Text of a file; a byte-order mark is no part of it.
fn read_text(path: &Path) -> std::io::Result<String> {
    let text = std::fs::read_to_string(path)?;
    Ok(text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text))
}

/// Applies one `path.to.key=value`.
fn apply(word: &str, root: &mut Node, sources: &mut Sources, problems: &mut Vec<Problem>) {
    let source = sources.add(format!("--set {word}"), word.to_owned());
    let place = Place { source, start: 0, end: word.len() as u32 };
    let mut wrong = |what: String| {
        problems.push(Problem {
            path: String::new(),
            place: Some(place),
            kind: ProblemKind::Syntax(what),
            help: Some("write --set path.to.key=value, such as --set input_run.length_m=12".into()),
        });
    };
    let Some((path, value)) = word.split_once('=') else {
        wrong("there is no `=` in it".into());
        return;
    };
    let keys: Vec<&str> = path.split('.').map(str::trim).collect();
    if keys.iter().any(|k| k.is_empty()) {
        wrong("a part of the key's path is empty".into());
        return;
    }
    let start = (path.len() + 1) as u32;
    let node = toml_tree::value(value, source, start);
    match root.at_path_mut(&keys, place) {
        Some(target) => *target = node,
        None => wrong(format!("`{path}` leads to no value: a list entry is named by its number, from 0")),
    }
}

fn drives(
    scenario: &Scenario,
    folder: &Path,
    sources: &mut Sources,
    problems: &mut Vec<Problem>,
) -> BTreeMap<usize, DriveFile> {
    let mut read: BTreeMap<PathBuf, Option<DriveFile>> = BTreeMap::new();
    let mut drives = BTreeMap::new();
    for (n, piece) in scenario.pieces.iter().enumerate() {
        let Some(file) = &piece.file else { continue };
        let path = folder.join(&file.value);
        let drive = read.entry(path.clone()).or_insert_with(|| match read_text(&path) {
            Ok(text) => {
                let source = sources.add(path.display().to_string(), text);
                read_drive(&sources.0[usize::from(source)].text, source, problems)
            }
            Err(e) => {
                let what = format!("the drive file {} cannot be read: {e}", path.display());
                let path = format!("drive.piece.{n}.file");
                problems.push(Problem {
                    path,
                    place: file.place(),
                    kind: ProblemKind::Drive(what),
                    help: None,
                });
                None
            }
        });
        if let Some(drive) = drive {
            drives.insert(n, drive.clone());
        }
    }
    drives
}
