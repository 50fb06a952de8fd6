//! From a scenario or a study file, and `--vary` words, to a sweep.

use super::text::read_named;
use super::{Loaded, SourceKind, Sources, load, load_from, output_stem, toml_tree};
use crate::bounds::{LARGEST_DRIVE, LARGEST_SCENARIO, LARGEST_STUDY};
use crate::failure::Failure;
use sim_core::scenario::node::{Node, Place};
use sim_core::scenario::{Problem, ProblemKind};
use sim_core::study::population::unknowns;
use sim_core::study::sampling::{MOST_DIMENSIONS, Method, Sampler};
use sim_core::study::study_file::{DriveOf, StudyFile, is_study, method, vary_word};
use sim_core::study::sweep::{Points, Sweep, Variant, Vary};
use sim_core::study::{Case, CaseError, TOLERANCE_OF_MANY};
use std::io::Read;
use std::path::{Path, PathBuf};

/// A study, ready to run.
#[derive(Debug)]
pub struct LoadedStudy {
    /// The scenario that it is about.
    pub base: Loaded,
    /// Title.
    pub name: String,
    /// What to run.
    pub sweep: Sweep,
    /// Every text that it was made of, for whoever wants to know whether another study is the same.
    pub texts: Vec<String>,
    /// The files that it was read from.
    pub inputs: Vec<PathBuf>,
    /// Name for outputs.
    pub stem: String,
}

/// What the command line says of a study, beside its file.
#[derive(Debug, Clone, Copy)]
pub struct StudyWords<'a> {
    /// `--set`.
    pub set: &'a [String],
    /// `--vary`.
    pub vary: &'a [String],
    /// Number of points drawn of what is not known.
    pub spread: Option<u64>,
    /// Error allowed per step.
    pub tolerance: f64,
}

impl Default for StudyWords<'_> {
    /// Nothing said, at the tolerance of studies.
    fn default() -> Self {
        StudyWords { set: &[], vary: &[], spread: None, tolerance: TOLERANCE_OF_MANY }
    }
}

/// Reads a scenario or a study file, with `--set`, `--vary` and `--spread` words.
///
/// # Errors
/// As [`load`]; problems of the study file and of the words are told together with those of the scenario.
pub fn load_study(file: &Path, words: StudyWords, input: &mut dyn Read) -> Result<LoadedStudy, Failure> {
    let StudyWords { set, vary, spread, tolerance } = words;
    let study = read_study(file)?;
    let loaded = match &study {
        Some(study) => load(&study.scenario(file), set),
        None => load_from(file, set, input),
    };
    let (mut sources, mut problems) = match &loaded {
        Ok(base) => (base.sources.clone(), Vec::new()),
        Err(Failure::Problems(sources, problems)) => (Sources::clone(sources), problems.clone()),
        Err(_) => (Sources::default(), Vec::new()),
    };
    let mut read = StudyFile::default();
    if let Some(study) = study {
        let folder = file.parent().unwrap_or(Path::new("")).to_owned();
        let name = file.display().to_string();
        let source = sources.add(name, study.text.clone(), SourceKind::Scenario, folder);
        let (root, wrong) = toml_tree::parse(&study.text, source);
        let broken = !wrong.is_empty();
        problems.extend(wrong);
        let (study, wrong) = StudyFile::read_all(&root);
        // With the text broken, missing keys would only repeat it.
        let missing = |p: &Problem| matches!(p.kind, ProblemKind::Missing { .. });
        problems.extend(wrong.into_iter().filter(|p| !(broken && missing(p))));
        read = study;
    }
    for word in vary {
        let source = sources.add(format!("--vary {word}"), word.to_owned(), SourceKind::Word, PathBuf::new());
        let place = Place { source, start: 0, end: word.len() as u32 };
        match vary_word(word, place) {
            Ok(vary) => read.vary.push(vary),
            Err(problem) => problems.push(*problem),
        }
    }
    let base = match loaded {
        Ok(base) => base,
        Err(Failure::Problems(..)) => return Err(Failure::Problems(Box::new(sources), problems)),
        // A scenario file that is not there is told after the slips in what names it.
        Err(other) if problems.is_empty() => return Err(other),
        Err(_) => return Err(Failure::Problems(Box::new(sources), problems)),
    };
    let (mut texts, mut inputs) = (Vec::new(), Vec::new());
    let mut variants = Vec::new();
    let own: u64 = scenario_bytes(&base.sources);
    let (mut scenarios, mut files) = (own, 0);
    for drive in &read.drives {
        let (variant, more) = variant(&base, file, drive, &mut problems)?;
        // Each drive has a tree of the scenario of its own.
        scenarios += own + scenario_bytes(&more);
        files +=
            more.0.iter().filter(|s| s.kind == SourceKind::Drive).map(|s| s.text.len() as u64).sum::<u64>();
        for (bytes, most, what) in
            [(scenarios, LARGEST_STUDY, "scenarios"), (files, LARGEST_DRIVE, "drive files")]
        {
            if bytes > most {
                let what = format!(
                    "with this the {what} of the study's drives are larger than {} MB together",
                    most >> 20
                );
                let place = drive.spec.name.as_ref().or(drive.spec.from.as_ref()).and_then(|t| t.place());
                problems.push(Problem::conflict("drive", place, what));
                return Err(Failure::Problems(Box::new(sources), problems));
            }
        }
        inputs.extend(more.paths());
        texts.extend(more.0.into_iter().map(|s| s.text));
        variants.push(variant);
    }
    let drawn = spread.is_some() || read.sample.unknowns.value == "drawn";
    if spread.is_some() && method(&read.sample).is_some() {
        return Err(Failure::Usage(
            "the study file states a sample of its own: write `unknowns = \"drawn\"` in its [sample]"
                .to_owned(),
        ));
    }
    if drawn {
        let acts = |path: &str| base.resolved.entries.iter().any(|e| e.name == path);
        let said: Vec<String> = read.vary.iter().map(|v| base.case.path_by_number(&v.path)).collect();
        let more = unknowns(&base.scenario, acts).into_iter();
        read.vary.extend(more.filter(|v| !said.contains(&base.case.path_by_number(&v.path))));
        if read.vary.is_empty() {
            return Err(Failure::Usage("everything is typed here: there is nothing to draw".to_owned()));
        }
        read.vary.truncate(MOST_DIMENSIONS);
    }
    twice(&base.case, &read.vary, &mut problems);
    reach(&base.case, &read.vary, &mut problems);
    if !problems.is_empty() {
        return Err(Failure::Problems(Box::new(sources), problems));
    }
    if variants.is_empty() {
        variants.push(Variant { name: String::new(), case: base.case.clone() });
    }
    let seed = read.sample.seed.value as u64;
    let points = match (method(&read.sample), &read.sample.runs, spread) {
        (Some(method), Some(runs), _) => {
            Points::Sample(Sampler::new(method, seed, runs.value as u64, read.vary.len()))
        }
        (None, _, Some(runs)) => {
            Points::Sample(Sampler::new(Method::LatinHypercube, seed, runs, read.vary.len()))
        }
        _ => Points::Grid,
    };
    texts.extend(sources.0.iter().map(|s| s.text.clone()));
    let stem = output_stem(file);
    inputs.extend(sources.paths());
    let title = if base.scenario.name.is_empty() { &stem } else { &base.scenario.name };
    let name = read.head.name.as_ref().map_or_else(|| title.clone(), |t| t.value.clone());
    let sweep = Sweep { variants, vary: read.vary, points, tolerance };
    Ok(LoadedStudy { base, name, sweep, texts, inputs, stem })
}

/// A study file's text and the scenario that it names.
struct StudyText {
    text: String,
    scenario: Option<String>,
}

impl StudyText {
    fn scenario(&self, file: &Path) -> PathBuf {
        let folder = file.parent().unwrap_or(Path::new(""));
        folder.join(self.scenario.as_deref().unwrap_or_default())
    }
}

fn read_study(file: &Path) -> Result<Option<StudyText>, Failure> {
    if file == Path::new("-") {
        return Ok(None);
    }
    // A pipe can be read once only, and is left to the reader of scenarios.
    if !std::fs::metadata(file).is_ok_and(|m| m.is_file()) {
        return Ok(None);
    }
    let text = read_named(file, LARGEST_SCENARIO).map_err(|e| Failure::File(file.into(), e))?;
    let (root, _) = toml_tree::parse(&text, 0);
    if !is_study(&root) {
        return Ok(None);
    }
    let (study, _) = StudyFile::read_all(&root);
    Ok(Some(StudyText { text, scenario: study.head.scenario.map(|t| t.value) }))
}

fn scenario_bytes(sources: &Sources) -> u64 {
    sources.0.iter().filter(|s| s.kind == SourceKind::Scenario).map(|s| s.text.len() as u64).sum()
}

/// A drive of a study file, and the texts that it brings along.
fn variant(
    base: &Loaded,
    file: &Path,
    drive: &DriveOf,
    problems: &mut Vec<Problem>,
) -> Result<(Variant, Sources), Failure> {
    let name = drive.spec.name.as_ref().map_or_else(String::new, |t| t.value.clone());
    let (mut case, mut sources) = (base.case.clone(), Sources::default());
    if let Some(from) = &drive.spec.from {
        let other = load(&file.parent().unwrap_or(Path::new("")).join(&from.value), &[])?;
        case = case.on_drive_of(&other.case);
        sources = other.sources;
    }
    let here = drive.spec.name.as_ref().and_then(|t| t.place());
    for (path, node) in &drive.set {
        match case.with_node(path, node) {
            Ok(changed) => case = changed,
            Err(e) => problems.push(at(node, path, &e)),
        }
    }
    if let Err(CaseError::Problems(found)) = case.resolve() {
        let own = |p: &Problem| drive.set.iter().any(|(_, node)| Some(node.place) == p.place);
        let told = found.into_iter().map(|p| Problem { place: if own(&p) { p.place } else { here }, ..p });
        problems.extend(told);
    }
    Ok((Variant { name, case }, sources))
}

fn at(node: &Node, path: &str, e: &CaseError) -> Problem {
    Problem::conflict(path, Some(node.place), e.to_string())
}

/// Reports keys that vary twice.
fn twice(case: &Case, vary: &[Vary], problems: &mut Vec<Problem>) {
    let paths: Vec<String> = vary.iter().map(|v| case.path_by_number(&v.path)).collect();
    for (n, v) in vary.iter().enumerate() {
        if paths[..n].contains(&paths[n]) {
            problems.push(Problem::conflict("vary", None, format!("`{}` varies twice", v.path)));
        }
    }
}

/// Reports keys that lead nowhere in the scenario, such as a piece of the drive that it does not have.
fn reach(case: &Case, vary: &[Vary], problems: &mut Vec<Problem>) {
    for v in vary {
        if let Err(e) = case.with_value(&v.path, v.over.at(0.5)) {
            problems.push(Problem::conflict("vary", None, e.to_string()));
        }
    }
}
