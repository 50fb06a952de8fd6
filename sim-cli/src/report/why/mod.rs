//! Why the unit switched, in words: for a customer, an apprentice or an engineer.

mod change;
mod ended;
mod evidence;
mod kind;
mod knob;
mod story;
mod switch;
#[cfg(test)]
mod tests;

pub use kind::name;

use super::Told;
use super::page::paragraph;
use crate::clock::day_and_time;
use sim_core::explain::{Counterfactual, Explanation, counterfactual};
use sim_core::resolve::From;
use sim_core::{Instant, Model, Profile, Run};
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
    /// For each of the first stories, one change that would have prevented it.
    pub prevented: Vec<Option<Counterfactual>>,
}

/// Most stories for which a remedy is simulated: a day of many drives tells the same one over and over.
const MOST_REMEDIES: usize = 3;
/// Most stories that are told.
const MOST_STORIES: usize = 6;
/// Switchings that are told one by one: the first and the last.
const HEAD: usize = 8;
const TAIL: usize = 3;

impl Why {
    /// Explains a run and looks for what would have prevented its stories.
    pub fn new(run: &Run, model: &Model, profile: &Profile) -> Why {
        let explanation = Explanation::new(run, model, profile);
        let told = explanation.stories.iter().take(MOST_REMEDIES);
        let prevented = told.map(|s| counterfactual::find(run, model, profile, s)).collect();
        Why { explanation, prevented }
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
    let e = &told.why.explanation;
    let mut lines = Vec::new();
    for (n, s) in e.stories.iter().enumerate().take(MOST_STORIES) {
        let prevented = told.why.prevented.get(n).copied().flatten();
        lines.extend(story::sentences(&words, e, s, prevented.as_ref()));
    }
    if e.stories.len() > MOST_STORIES {
        lines.push(format!("{} more stories like these follow.", e.stories.len() - MOST_STORIES));
    }
    lines
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
    format!(
        "How sure: a cause is what undoes the switching in the model once it is taken away, so it is as good as the \
         inputs: {defaults} of the numbers are assumed, and {measured}. A meter at the unit's input decides."
    )
}

/// Prints every switching with its cause: the first and the last, all of them for an engineer up to a hundred.
pub fn print_switchings(told: &Told, depth: Depth, out: &mut dyn Write) -> io::Result<()> {
    let switches = &told.why.explanation.switches;
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
