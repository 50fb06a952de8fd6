//! `tickover glossary`: every term that a page uses, defined once.

mod terms;

use crate::Exit;
use crate::args::GlossaryArgs;
use crate::failure::Failure;
use crate::report::page::paragraph;
use sim_core::scenario::problem::guess;
use std::io::Write;
pub use terms::GLOSSARY;

/// One term.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Term {
    /// The term.
    pub term: &'static str,
    /// Other words for it, and abbreviations.
    pub also: &'static [&'static str],
    /// What it means.
    pub means: &'static str,
    /// Its unit, empty where it has none.
    pub unit: &'static str,
}

/// Prints one term, or all.
pub fn run(args: &GlossaryArgs, out: &mut dyn Write) -> Result<Exit, Failure> {
    let asked = args.term.join(" ").to_lowercase();
    let names = |t: &Term| {
        [t.term].into_iter().chain(t.also.iter().copied()).map(str::to_lowercase).collect::<Vec<_>>()
    };
    let exact: Vec<&Term> = GLOSSARY.iter().filter(|t| names(t).contains(&asked)).collect();
    let near = || {
        GLOSSARY
            .iter()
            .filter(|t| names(t).iter().any(|n| n.starts_with(&asked) || n.contains(&format!(" {asked}"))))
    };
    let found: Vec<&Term> = if exact.is_empty() { near().collect() } else { exact };
    if found.is_empty() {
        let known: Vec<&str> =
            GLOSSARY.iter().flat_map(|t| [t.term].into_iter().chain(t.also.iter().copied())).collect();
        let meant = guess(&asked, &known).map(|g| format!("; did you mean `{g}`?")).unwrap_or_default();
        return Err(Failure::Usage(format!(
            "`{asked}` is not in the glossary{meant} `tickover glossary` prints all of it"
        )));
    }
    for t in found {
        let also = if t.also.is_empty() { String::new() } else { format!(" ({})", t.also.join(", ")) };
        let unit = if t.unit.is_empty() { String::new() } else { format!(" [{}]", t.unit) };
        paragraph(out, &format!("{}{also}{unit}: {}", t.term.to_uppercase(), t.means))?;
    }
    Ok(Exit::Done)
}
