//! Problems and warnings of a scenario as text: where, the line, what is allowed, what may have been meant.

use crate::load::SourceKind;
use crate::load::Sources;
use crate::printable::{printable, shortened};
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use sim_core::scenario::node::Place;
use sim_core::scenario::{DRIVE_SECTIONS, Problem, ProblemKind, SECTIONS, Warning, keys_of};
use std::ops::Range;

/// Most problems that are printed in full.
const MOST: usize = 50;
/// Longest line that is shown, bytes.
const LONGEST_LINE: usize = 1000;
/// Most bytes that carets stand under.
const LONGEST_MARK: usize = 80;

/// All problems, in the order of the text.
pub fn render(sources: &Sources, problems: &[Problem], colour: bool) -> String {
    let mut text = String::new();
    for problem in problems.iter().take(MOST) {
        text.push_str(&problem_text(sources, problem, colour));
        text.push_str("\n\n");
    }
    if problems.len() > MOST {
        text.push_str(&format!("and {} more\n\n", problems.len() - MOST));
    }
    text
}

/// How many, in words.
pub fn count(n: usize, noun: &str) -> String {
    if n == 1 { format!("1 {noun}") } else { format!("{n} {noun}s") }
}

/// All warnings, in the order of the text.
pub fn render_warnings(sources: &Sources, warnings: &[Warning], colour: bool) -> String {
    let one = |w: &Warning| {
        let title = if w.path.is_empty() { w.kind.to_string() } else { format!("{}: {}", w.path, w.kind) };
        let told = Told { level: Level::WARNING, title, label: "look here", help: w.kind.advice().into() };
        format!("{}\n\n", told.render(sources, w.place, colour))
    };
    warnings.iter().map(one).collect()
}

fn problem_text(sources: &Sources, problem: &Problem, colour: bool) -> String {
    let what = problem.kind.to_string();
    let named = problem.path.is_empty() || matches!(problem.kind, ProblemKind::UnknownKey { .. });
    let title = if named { what } else { format!("{}: {what}", problem.path) };
    let label = match &problem.kind {
        ProblemKind::UnknownKey { .. } => "not a key here",
        ProblemKind::WrongKind { .. } => "of the wrong kind",
        ProblemKind::OutOfRange { .. } => "out of range",
        ProblemKind::BadChoice { .. } => "not one of these",
        ProblemKind::Missing { .. } => "needed here",
        _ => "here",
    };
    let help = match &problem.kind {
        ProblemKind::UnknownKey { key, guess, allowed } => {
            elsewhere(key).or_else(|| guess.is_none().then(|| format!("known here: {}", allowed.join(", "))))
        }
        _ => None,
    };
    let help = help.or_else(|| problem.help.clone()).unwrap_or_default();
    Told { level: Level::ERROR, title, label, help }.render(sources, problem.place, colour)
}

/// The section that has a key of this name.
fn elsewhere(key: &str) -> Option<String> {
    let sections = SECTIONS.iter().chain(DRIVE_SECTIONS);
    let homes: Vec<String> = sections
        .filter(|s| keys_of(s).is_some_and(|keys| keys.iter().any(|k| k.name == key)))
        .map(|s| crate::keys::written(s))
        .collect();
    (!homes.is_empty()).then(|| format!("`{key}` is a key of {}", homes.join(", ")))
}

/// One message before it has a place.
struct Told<'a> {
    level: Level<'a>,
    title: String,
    label: &'a str,
    help: String,
}

impl Told<'_> {
    fn render(self, sources: &Sources, place: Option<Place>, colour: bool) -> String {
        let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
        let title = printable(&self.title);
        let help = printable(&self.help);
        let advice =
            (!help.is_empty()).then(|| Group::with_title(Level::HELP.secondary_title(help.as_str())));
        let title = self.level.primary_title(title.as_str());
        let Some((source, spot)) = place.and_then(|p| sources.of(p).map(|s| (s, Spot::of(&s.text, p))))
        else {
            // Apart, so that no bar of an absent line stands between them.
            let parts = [Some(Group::with_title(title)), advice].into_iter().flatten();
            return parts.map(|part| renderer.render(&[part])).collect::<Vec<_>>().join("\n");
        };
        let path = match source.kind {
            SourceKind::Word => shortened(&source.name, 60),
            _ => printable(&source.name),
        };
        let message = if spot.line.len() > LONGEST_LINE {
            let origin =
                annotate_snippets::Origin::path(path.as_str()).line(spot.number).char_column(spot.column);
            title.element(origin)
        } else {
            title.element(
                Snippet::source(spot.line)
                    .line_start(spot.number)
                    .path(path.as_str())
                    .annotation(AnnotationKind::Primary.span(spot.mark).label(self.label)),
            )
        };
        let report: Vec<Group> = [Some(message), advice].into_iter().flatten().collect();
        renderer.render(&report)
    }
}

/// A place as a reader finds it. A value over several lines is shown by its first.
struct Spot<'a> {
    line: &'a str,
    number: usize,
    column: usize,
    mark: Range<usize>,
}

impl<'a> Spot<'a> {
    fn of(text: &'a str, place: Place) -> Spot<'a> {
        let mut start = (place.start as usize).min(text.len());
        while !text.is_char_boundary(start) {
            start -= 1;
        }
        let begins = text[..start].rfind('\n').map_or(0, |n| n + 1);
        let line = text[begins..].split('\n').next().unwrap_or_default();
        let line = line.strip_suffix('\r').unwrap_or(line);
        let from = (start - begins).min(line.len());
        let most = (from + LONGEST_MARK).min(line.len());
        let mut to = (place.end as usize).max(start).saturating_sub(begins).clamp(from, most);
        while !line.is_char_boundary(to) {
            to += 1;
        }
        Spot {
            line,
            number: 1 + text[..begins].bytes().filter(|b| *b == b'\n').count(),
            column: 1 + line[..from].chars().count(),
            mark: from..to,
        }
    }
}

/// Where a value stands: its line, and its file where there are several.
pub fn line_of(place: Place, sources: &Sources) -> String {
    let Some(source) = sources.of(place) else { return String::new() };
    if source.kind == SourceKind::Word {
        return printable(&source.name);
    }
    let number = Spot::of(&source.text, place).number;
    if sources.files() > 1 {
        format!("{}:{number}", printable(&source.name))
    } else {
        format!("line {number}")
    }
}
