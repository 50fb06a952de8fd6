//! Problems of a scenario as text: where, the line, what is allowed, what may have been meant.

use crate::load::Sources;
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use sim_core::scenario::{Problem, ProblemKind};

/// All problems, in the order of the text.
pub fn render(sources: &Sources, problems: &[Problem]) -> String {
    let mut text = String::new();
    for problem in problems {
        text.push_str(&one(sources, problem));
        text.push_str("\n\n");
    }
    let count = problems.len();
    let noun = if count == 1 { "problem" } else { "problems" };
    text.push_str(&format!("{count} {noun}; nothing was run.\n"));
    text
}

fn one(sources: &Sources, problem: &Problem) -> String {
    let what = problem.kind.to_string();
    let title = if problem.path.is_empty() { what.clone() } else { format!("{}: {what}", problem.path) };
    let title = printable(&title);
    let Some((source, place)) =
        problem.place.and_then(|p| sources.0.get(usize::from(p.source)).map(|s| (s, p)))
    else {
        return format!("error: {title}");
    };
    let end = (place.end as usize).min(source.text.len());
    let mut start = (place.start as usize).min(end);
    // A value over several lines is shown by its first.
    let mut stop = source.text[start..end].find('\n').map_or(end, |n| start + n);
    while !source.text.is_char_boundary(start) {
        start -= 1;
    }
    while !source.text.is_char_boundary(stop) {
        stop += 1;
    }
    let label = match &problem.kind {
        ProblemKind::UnknownKey { .. } => "not a key here",
        ProblemKind::WrongKind { .. } => "of the wrong kind",
        ProblemKind::OutOfRange { .. } => "out of range",
        ProblemKind::BadChoice { .. } => "not one of these",
        ProblemKind::Missing { .. } => "needed here",
        _ => "here",
    };
    let snippet = Snippet::source(source.text.as_str())
        .path(source.name.as_str())
        .annotation(AnnotationKind::Primary.span(start..stop).label(label));
    let mut report = vec![Level::ERROR.primary_title(title).element(snippet)];
    let mut help = problem.help.clone().unwrap_or_default();
    if let ProblemKind::UnknownKey { guess: None, allowed, .. } = &problem.kind {
        help = format!("known here: {}", allowed.join(", "));
    }
    if !help.is_empty() {
        report.push(annotate_snippets::Group::with_title(Level::HELP.secondary_title(printable(&help))));
    }
    Renderer::plain().render(&report)
}

/// Control characters of a hostile file must not reach the terminal.
fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect()
}
