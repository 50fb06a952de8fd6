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
use sim_core::explain::{Alike, Counterfactual, Explanation, counterfactual};
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
    /// Its stories, those alike told by the worst of them.
    pub tales: Vec<Tale>,
}

/// A story that is told, for others like it too.
#[derive(Debug, Clone)]
pub struct Tale {
    /// Which stories.
    pub of: Alike,
    /// One change that would have prevented the one that is told; `None` where none does that was tried.
    pub prevented: Option<Counterfactual>,
}

/// Most stories that are told, each with what would have prevented it.
const MOST_STORIES: usize = 6;
/// Switchings that are told one by one: the first and the last.
const HEAD: usize = 8;
const TAIL: usize = 3;

impl Why {
    /// Explains a run and looks for what would have prevented its stories.
    pub fn new(run: &Run, model: &Model, profile: &Profile) -> Why {
        let explanation = Explanation::new(run, model, profile);
        let told = explanation.alike().into_iter().take(MOST_STORIES);
        let remedy = |n: usize| counterfactual::find(run, model, profile, &explanation.stories[n]);
        let tales = told.map(|of| Tale { prevented: remedy(of.worst), of }).collect();
        Why { explanation, tales }
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
    let told: usize = told.why().tales.iter().map(|t| 1 + t.of.others.len()).sum();
    match e.stories.len() - told {
        0 => {}
        1 => lines.push("One more story is in summary.json.".to_owned()),
        more => lines.push(format!("{more} more stories are in summary.json.")),
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
