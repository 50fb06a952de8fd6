//! Why the unit switched, in words: for a customer, an apprentice or an engineer.

mod change;
mod ended;
mod evidence;
mod kind;
mod reason;
mod remedy;
mod story;
mod switch;
#[cfg(test)]
mod tests;

pub use kind::name;

use super::Told;
use super::page::paragraph;
use crate::clock::{day_and_time, duration};
use crate::tolerance;
use sim_core::explain::{Alike, Explanation, Reason, Remedies, remedy as search};
use sim_core::judge::{Finding, Kind};
use sim_core::resolve::From;
use sim_core::{Instant, Model, Profile};
use std::io::{self, Write};

/// How deep an explanation goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, clap::ValueEnum)]
pub enum Depth {
    /// What happened and what would help, without a number more than needed
    Customer,
    /// Where the volts went, what to measure, what would have prevented it
    Apprentice,
    /// Every number that speaks for it, and every switching
    Engineer,
}

/// A run explained.
#[derive(Debug, Clone)]
pub struct Why {
    /// Causes, as data.
    pub explanation: Explanation,
    /// Its stories, those alike told by the worst of them.
    pub tales: Vec<Alike>,
    /// Why each finding that is trouble or danger is so, in the order of the findings.
    pub reasons: Vec<(Finding, Reason)>,
    /// What would leave no trouble at all.
    pub remedies: Remedies,
}

/// Most stories that are told.
const MOST_STORIES: usize = 6;
/// Switchings that are told one by one: the first and the last.
const HEAD: usize = 8;
const TAIL: usize = 3;

impl Why {
    /// Explains a run and looks for what would leave no trouble in it.
    pub fn new(told: &Told) -> Why {
        let (run, model, profile) = (told.run, told.model, told.profile);
        let explanation = Explanation::new(run, model, profile);
        let tales = explanation.alike().into_iter().take(MOST_STORIES).collect();
        let facts = told.facts();
        let remedies = search::find(&search::Asked {
            facts,
            verdict: told.verdict,
            kinds: &explanation.kinds(),
            tolerance: tolerance::of(profile),
        });
        let bad = told.verdict.bad();
        let reasons = bad.filter_map(|f| Some((*f, explanation.reason(&facts, f)?))).collect();
        Why { explanation, tales, reasons, remedies }
    }
}

/// What the sentences draw on.
#[derive(Clone, Copy)]
struct Words<'a> {
    model: &'a Model,
    profile: &'a Profile,
    depth: Depth,
}

impl Words<'_> {
    fn at(&self, t: Instant) -> String {
        day_and_time(self.profile, t.as_s())
    }
}

/// The chapter, a paragraph an entry.
pub fn chapter(told: &Told, depth: Depth) -> Vec<String> {
    let words = Words { model: told.model, profile: told.profile, depth };
    let e = &told.why().explanation;
    let mut lines = Vec::new();
    for tale in &told.why().tales {
        lines.extend(story::sentences(&words, e, tale));
    }
    let in_tales: usize = told.why().tales.iter().map(|t| 1 + t.others.len()).sum();
    match e.stories.len() - in_tales {
        0 => {}
        1 => lines.push("One more story is in summary.json.".to_owned()),
        more => lines.push(format!("{more} more stories are in summary.json.")),
    }
    // Two findings can have one reason: the first is told by it.
    let reasons = &told.why().reasons;
    for (n, (finding, reason)) in reasons.iter().enumerate() {
        if !reasons[..n].iter().any(|(_, r)| alike(r, reason)) {
            lines.extend(reason::sentence(&words, finding, reason));
        }
    }
    if e.cut_short && depth > Depth::Customer {
        lines.push(CUT_SHORT.to_owned());
    }
    lines.extend(remedy::sentences(told, depth));
    lines
}

/// What is said where a suspect was removed and that run came to its bound.
const CUT_SHORT: &str = "Not every suspect was tried to the end: a run without it would take too many steps. What it would tell is left open.";

/// Whether one reason tells the other: two sections of one cable are too thin for the same current.
fn alike(a: &Reason, b: &Reason) -> bool {
    match (a, b) {
        (Reason::Current { cable: a, .. }, Reason::Current { cable: b, .. }) => a == b,
        _ => a == b,
    }
}

/// Yes or no, and what it delivers: what a customer asks first.
pub fn yes_or_no(told: &Told) -> String {
    let ah = told.summary.unit_output_ah;
    let delivered = format!("The unit delivers {ah:.1} Ah in {}.", duration(told.summary.driving_s));
    let head = match told.verdict.worst() {
        Some(_) if told.verdict.is_danger() => "No, not like this: there is a danger.",
        Some(_) => "No, not as it should.",
        None if told.verdict.find(|k| matches!(k, Kind::FedBy { .. })).is_some() => {
            "No, the drive adds nothing: the house battery is filled by something else."
        }
        None if told.verdict.find(|k| *k == Kind::FullAlready).is_some() => "Yes: the house battery is full.",
        None if told.summary.driving_s == 0.0 => "The engine never runs.",
        None => "Yes.",
    };
    format!("{head} {delivered}")
}

/// Prints the chapter of the page; nothing where nothing went wrong.
pub fn print(told: &Told, depth: Depth, out: &mut dyn Write) -> io::Result<()> {
    let lines = chapter(told, depth);
    if lines.is_empty() {
        return Ok(());
    }
    writeln!(out, "\nWHY")?;
    for line in lines {
        paragraph(out, &line)?;
    }
    if depth == Depth::Customer {
        return Ok(());
    }
    paragraph(out, &how_sure(told))
}

/// What a cause rests on.
fn how_sure(told: &Told) -> String {
    let count = |pick: fn(&From) -> bool| told.entries.iter().filter(|e| pick(&e.from)).count();
    let defaults = count(|f| matches!(f, From::Default(_)));
    let measured = match count(|f| matches!(f, From::Measured { .. })) {
        0 => "none is marked as measured".to_owned(),
        1 => "one is marked as measured".to_owned(),
        n => format!("{n} are marked as measured"),
    };
    // What one finds on the run itself has no suspects to take away.
    let tried =
        told.why().explanation.stories.iter().any(|s| matches!(s.family, sim_core::explain::Family::Driving));
    let tried = if tried { "we removed each suspect and ran it again. The" } else { "the" };
    format!(
        "How sure: {tried} result is as good as your numbers: {defaults} of them are assumed, and {measured}. A meter at the \
         unit's input decides."
    )
}

/// Prints every switching with its cause: the first and the last, all of them for an engineer up to a hundred.
pub fn print_switchings(told: &Told, depth: Depth, out: &mut dyn Write) -> io::Result<()> {
    let switches = &told.why().explanation.switches;
    if depth == Depth::Customer || switches.is_empty() {
        return Ok(());
    }
    let words = Words { model: told.model, profile: told.profile, depth };
    let (head, tail) = if depth == Depth::Engineer { (80, 20) } else { (HEAD, TAIL) };
    writeln!(out, "\nEACH SWITCHING")?;
    let skipped = switches.len().saturating_sub(head + tail);
    for (n, s) in switches.iter().enumerate() {
        if skipped > 0 && n == head {
            writeln!(out, "  ...       {skipped} more")?;
        }
        if skipped > 0 && (head..head + skipped).contains(&n) {
            continue;
        }
        paragraph(out, &switch::sentence(&words, s))?;
    }
    Ok(())
}
