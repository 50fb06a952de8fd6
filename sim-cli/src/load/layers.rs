//! Scenario files that build on others, from the one asked for down to the last.

use super::text::read_file;
use super::toml_tree;
use super::{SourceKind, Sources};
use crate::bounds::{LARGEST_SCENARIO, MOST_LAYERS};
use sim_core::scenario::head::build_on;
use sim_core::scenario::node::{Node, Place};
use sim_core::scenario::{Problem, ProblemKind};
use std::path::{Path, PathBuf};

/// Reads a file's text, already at hand, and every file below it; the first tree is the file's own.
pub fn read(file: &Path, first: u32, sources: &mut Sources, problems: &mut Vec<Problem>) -> Vec<Node> {
    let mut layers = Vec::new();
    let mut seen: Vec<(PathBuf, String)> = Vec::new();
    if let Ok(whole) = file.canonicalize() {
        seen.push((whole, sources.0[first as usize].name.clone()));
    }
    let mut source = first;
    loop {
        let (root, wrong) = toml_tree::parse(&sources.0[source as usize].text, source);
        problems.extend(wrong);
        let next = build_on(&root);
        layers.push(root);
        let Some((path, place)) = next else { return layers };
        match below(&path, place, layers.len(), &mut seen, sources) {
            Ok(found) => source = found,
            Err(what) => {
                let kind = ProblemKind::BuildOn(what);
                let help = Some("its path counts from the file that says `build_on`".into());
                problems.push(Problem { path: "build_on".into(), place: Some(place), kind, help });
                return layers;
            }
        }
    }
}

fn below(
    path: &str,
    place: Place,
    depth: usize,
    seen: &mut Vec<(PathBuf, String)>,
    sources: &mut Sources,
) -> Result<u32, String> {
    if path.trim().is_empty() {
        return Err("an empty path names no file to build on".into());
    }
    let file = sources.folder_of(Some(place)).join(path);
    let name = file.display().to_string();
    let cannot = |e: std::io::Error| match e.kind() {
        std::io::ErrorKind::NotFound => format!("there is no file {name} to build on"),
        _ => format!("{name} cannot be built on: {e}"),
    };
    let whole = file.canonicalize().map_err(cannot)?;
    if let Some(from) = seen.iter().position(|s| s.0 == whole) {
        let round: Vec<&str> = seen[from..].iter().map(|s| s.1.as_str()).chain([name.as_str()]).collect();
        return Err(format!("files build on each other in a circle: {}", round.join(" -> ")));
    }
    if depth >= MOST_LAYERS {
        return Err(format!("more than {MOST_LAYERS} files build on each other"));
    }
    let before: u64 = sources.0.iter().map(|s| s.text.len() as u64).sum();
    let text = read_file(&file, LARGEST_SCENARIO.saturating_sub(before)).map_err(|e| match e.kind() {
        std::io::ErrorKind::FileTooLarge => {
            format!(
                "with {name} the files of this scenario are larger than {} MB together",
                LARGEST_SCENARIO >> 20
            )
        }
        _ => cannot(e),
    })?;
    seen.push((whole, name.clone()));
    let folder = file.parent().unwrap_or(Path::new("")).to_owned();
    Ok(sources.add(name, text, SourceKind::Scenario, folder))
}
