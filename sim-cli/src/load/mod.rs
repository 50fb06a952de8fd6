//! From files and command-line words to a resolved scenario.

mod drive_csv;
mod drive_rows;
mod layers;
mod stamps;
mod stem;
mod study;
pub(crate) mod text;
mod toml_tree;

pub use drive_csv::{Reading, read_drive};
pub use stem::output_stem;
pub use study::{LoadedStudy, StudyWords, load_study};

use crate::bounds::{LARGEST_DRIVE, LARGEST_SCENARIO, MOST_ROWS};
use crate::failure::Failure;
use sim_core::resolve::{self, DriveFile, Resolved};
use sim_core::scenario::list_path::parts;
use sim_core::scenario::node::{Node, Place};
use sim_core::scenario::old_names::present_path;
use sim_core::scenario::{Problem, ProblemKind, Scenario, Warning, layers as core_layers};
use sim_core::study::Case;
use std::collections::BTreeMap;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What a text is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SourceKind {
    /// A scenario file.
    Scenario,
    /// A word of the command line.
    Word,
    /// A drive file.
    Drive,
}

/// A text that problems can point into.
#[derive(Debug, Clone)]
pub struct Source {
    /// Its name in messages.
    pub name: String,
    /// The text.
    pub text: String,
    /// What it is.
    pub kind: SourceKind,
    /// Where the paths in it count from.
    pub folder: PathBuf,
}

/// All texts of a scenario, numbered as [`Place::source`] says.
#[derive(Debug, Clone, Default)]
pub struct Sources(pub Vec<Source>);

impl Sources {
    fn add(&mut self, name: String, text: String, kind: SourceKind, folder: PathBuf) -> u32 {
        self.0.push(Source { name, text, kind, folder });
        u32::try_from(self.0.len() - 1).expect("texts of a scenario are bounded in bytes")
    }

    /// The text that holds a place.
    pub fn of(&self, place: Place) -> Option<&Source> {
        self.0.get(place.source as usize)
    }

    /// The files that were read.
    pub fn paths(&self) -> Vec<PathBuf> {
        self.0.iter().filter(|s| s.kind != SourceKind::Word).map(|s| PathBuf::from(&s.name)).collect()
    }

    /// Forgets the texts of drive files, once nothing points into them any more.
    pub fn forget_drives(&mut self) {
        for source in self.0.iter_mut().filter(|s| s.kind == SourceKind::Drive) {
            source.text = String::new();
        }
    }

    /// Number of scenario files.
    pub fn files(&self) -> usize {
        self.0.iter().filter(|s| s.kind == SourceKind::Scenario).count()
    }

    /// Where a path written at a place counts from; the scenario asked for where it has no place.
    fn folder_of(&self, place: Option<Place>) -> PathBuf {
        place.and_then(|p| self.of(p)).or(self.0.first()).map(|s| s.folder.clone()).unwrap_or_default()
    }
}

/// A scenario, ready to run.
#[derive(Debug)]
pub struct Loaded {
    /// What was written.
    pub scenario: Scenario,
    /// What it means.
    pub resolved: Resolved,
    /// The same as values that can be changed, for whoever runs it more than once.
    pub case: Case,
    /// The texts.
    pub sources: Sources,
    /// Name for the output folder.
    pub stem: String,
}

impl Loaded {
    /// Its name, or that of its file where it has none.
    pub fn title(&self) -> &str {
        if self.scenario.name.is_empty() { &self.stem } else { &self.scenario.name }
    }
}

/// Reads a scenario file, applies `key=value` words, reads its drive files and resolves it.
///
/// # Errors
/// `Failure::File` when the scenario cannot be read, `Failure::Problems` with everything that is wrong in it.
pub fn load(file: &Path, set: &[String]) -> Result<Loaded, Failure> {
    load_from(file, set, &mut std::io::stdin())
}

/// As [`load`]; the scenario named `-` is read from `input`, and its paths count from the working folder.
///
/// # Errors
/// As [`load`].
pub fn load_from(file: &Path, set: &[String], input: &mut dyn Read) -> Result<Loaded, Failure> {
    let piped = file == Path::new("-");
    let text = if piped {
        text::read_stream(input, LARGEST_SCENARIO)
    } else {
        text::read_named(file, LARGEST_SCENARIO)
    };
    let name = if piped { "(standard input)".to_owned() } else { file.display().to_string() };
    let text = text.map_err(|e| Failure::File(if piped { name.clone().into() } else { file.into() }, e))?;
    let mut sources = Sources::default();
    let mut problems = Vec::new();
    let folder = file.parent().unwrap_or(Path::new("")).to_owned();
    let first = sources.add(name, text, SourceKind::Scenario, folder.clone());
    let layers = layers::read(file, first, &mut sources, &mut problems);
    let mut renamed = Vec::new();
    let mut root =
        core_layers::merge(layers, &mut problems, &mut renamed).expect("the file itself is a layer");
    for word in set {
        apply(word, &mut root, &mut sources, &mut problems);
    }
    let (scenario, wrong) = Scenario::read_all(&root);
    // Each file's head has been checked by itself.
    let heads = problems.clone();
    problems.extend(wrong.into_iter().filter(|p| !heads.contains(p)));
    // With a text broken or a file missing, missing keys would only repeat it.
    if problems.iter().any(|p| matches!(p.kind, ProblemKind::Syntax(_) | ProblemKind::BuildOn(_))) {
        problems.retain(|p| !matches!(p.kind, ProblemKind::Missing { .. }));
    }
    let (drives, notes) = drives(&scenario, &mut sources, &mut problems);
    match resolve::resolve_after(&scenario, &|n| drives.get(&n).cloned(), problems) {
        Ok(mut resolved) => {
            resolved.warnings.splice(0..0, renamed);
            resolved.warnings.extend(notes);
            let stem = output_stem(file);
            Ok(Loaded { scenario, resolved, case: Case::new(root, drives), sources, stem })
        }
        Err(problems) => Err(Failure::Problems(Box::new(sources), problems)),
    }
}

/// Most parts of a key's path.
const MOST_PARTS: usize = 8;

/// Applies one `path.to.key=value`.
fn apply(word: &str, root: &mut Node, sources: &mut Sources, problems: &mut Vec<Problem>) {
    let folder = sources.folder_of(None);
    let source = sources.add(format!("--set {word}"), word.to_owned(), SourceKind::Word, folder);
    let place = Place { source, start: 0, end: word.len() as u32 };
    let mut wrong = |what: String| {
        problems.push(Problem {
            path: String::new(),
            place: Some(place),
            kind: ProblemKind::Syntax(what),
            help: Some("write --set path.to.key=value, such as --set input_cable.length_m=12".into()),
        });
    };
    let Some((path, value)) = word.split_once('=') else {
        wrong("there is no `=` in it".into());
        return;
    };
    let path = present_path(path);
    let keys = parts(&path);
    if keys.iter().any(|k| k.is_empty()) {
        wrong("a part of the key's path is empty".into());
        return;
    }
    if keys.len() > MOST_PARTS || text::too_deep(value).is_some() {
        wrong("this is nested too deep".into());
        return;
    }
    if keys == ["build_on"] {
        wrong("`build_on` is said in a file, not on the command line".into());
        return;
    }
    let start = (word.len() - value.len()) as u32;
    let node = toml_tree::value(value, source, start);
    if let Err(why) = root.put(&path, place, node) {
        wrong(format!("`{path}` leads to no value: {why}"));
    }
}

fn drives(
    scenario: &Scenario,
    sources: &mut Sources,
    problems: &mut Vec<Problem>,
) -> (BTreeMap<usize, Arc<DriveFile>>, Vec<Warning>) {
    // Which number's file it is that was read already; a file that cannot be used is told once.
    let mut read: BTreeMap<(PathBuf, Option<String>), usize> = BTreeMap::new();
    let mut drives: BTreeMap<usize, Arc<DriveFile>> = BTreeMap::new();
    let mut warnings = Vec::new();
    let (mut bytes_left, mut rows_left) = (LARGEST_DRIVE, MOST_ROWS);
    for named in scenario.drive_files() {
        let path = sources.folder_of(named.file.place()).join(&named.file.value);
        let zone = named.zone.map(|z| z.value.clone());
        let how = Reading {
            zone: zone.as_deref(),
            longest_sample_s: scenario.drive.longest_sample_s.value,
            key: &named.key,
            most_rows: rows_left,
        };
        let known = read.entry((path.clone(), zone.clone())).or_insert(named.number);
        let drive = if *known == named.number {
            match text::read_file(&path, bytes_left) {
                Ok(text) => {
                    bytes_left -= (text.len() as u64).min(bytes_left);
                    let name = path.display().to_string();
                    let source = sources.add(name, text, SourceKind::Drive, PathBuf::new());
                    let text = &sources.0[source as usize].text;
                    let drive = read_drive(text, source, &how, problems, &mut warnings);
                    rows_left -= drive.as_ref().map_or(0, |d| d.time_s.len());
                    drive.map(Arc::new)
                }
                Err(e) => {
                    let what = match e.kind() {
                        std::io::ErrorKind::NotFound => format!("there is no drive file {}", path.display()),
                        std::io::ErrorKind::FileTooLarge => format!(
                            "with {} the drive files of this scenario are larger than {} MB together",
                            path.display(),
                            LARGEST_DRIVE >> 20
                        ),
                        _ => format!("the drive file {} cannot be read: {e}", path.display()),
                    };
                    problems.push(Problem {
                        path: named.key.clone(),
                        place: named.file.place(),
                        kind: ProblemKind::Drive(what),
                        help: Some("its path counts from the file that names it".into()),
                    });
                    None
                }
            }
        } else {
            drives.get(known).cloned()
        };
        if let Some(drive) = drive {
            drives.insert(named.number, drive);
        }
    }
    (drives, warnings)
}
