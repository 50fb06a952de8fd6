//! How far to trouble, in words: borders with one change at a time, beside their closed forms.

pub mod bars;
mod differences;

use super::page::paragraph;
use crate::chart::figures::distance_bars::short;
use crate::failure::Failure;
use crate::printable::csv_table;
use rayon::iter::{IntoParallelRefIterator, ParallelIterator};
use sim_core::study::closed_forms::Form;
use sim_core::study::distance::{Answer, Distances, Job, Row, Search};
use sim_core::study::{Case, Edge, Outcome, TrialError};
use std::io::{self, Write};

/// A thinner conductor or a worse joint may stop the cycling, and burn.
const NO_ADVICE: &str = "\"Good\" is said of switching and of the limits typed, not of what a cable stands: a border by a thinner \
    conductor or by a worse joint is no remedy. Conductors and fuses follow local codes.";

/// What is found of one scenario.
#[derive(Debug, Clone)]
pub struct Found {
    /// Borders of trouble.
    pub trouble: Distances,
    /// The house load up to which absorption ends on its tail current.
    pub absorption: Distances,
}

impl Found {
    /// Searches, lending every core.
    ///
    /// # Errors
    /// When the scenario itself cannot be run.
    pub fn of(case: &Case) -> Result<Found, TrialError> {
        let trouble = Search::new(case)?.solve(&on_all_cores);
        Ok(Found { trouble, absorption: Search::of_absorption(case)?.solve(&on_all_cores) })
    }

    fn runs(&self) -> usize {
        self.trouble.runs + self.absorption.runs
    }
}

fn on_all_cores(jobs: &[Job]) -> Vec<Answer> {
    jobs.par_iter().map(Job::run).collect()
}

/// Prints everything: each border, its closed form, and why they differ.
pub fn print(found: &Found, seconds: f64, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "HOW FAR TO TROUBLE, one change at a time")?;
    let runs = found.runs();
    paragraph(out, &format!("{}. {runs} whole runs, {seconds:.1} s.", as_it_is(found.trouble.now)))?;
    head("closed form", out)?;
    let rows = &found.trouble.rows;
    for row in rows.iter().filter(|r| !r.edges.is_empty()) {
        let mut edges: Vec<&Edge> = row.edges.iter().collect();
        edges.sort_by(|a, b| away(row, a).total_cmp(&away(row, b)));
        lines(row, &edges, &form, out)?;
    }
    still(rows, out)?;
    bands(rows, out)?;
    absorption(&found.absorption, out)?;
    differences::print(found.trouble.rows.iter().chain(&found.absorption.rows), out)?;
    writeln!(out)?;
    enough(rows, out)?;
    paragraph(
        out,
        "\"Drops out\" counts from five minutes after the engine start, while the drive offers no less than when the \
         unit came on; \"at first\" means that it is steady for the last five minutes of every drive. Spans are scanned \
         coarsely: a trouble that begins and ends between two scanned values is not seen. A closed form holds with the \
         alternator regulating and the starter battery full and settled, (c6) from the starter battery as it stands at the \
         key-off, for a battery with linear branches only.",
    )?;
    paragraph(out, NO_ADVICE)
}

/// Prints the nearest borders alone, the smallest change first: what has room on the page of a run.
pub fn print_nearest(found: Option<&Found>, full: bool, out: &mut dyn Write) -> io::Result<()> {
    if found.is_none() && !full {
        return Ok(());
    }
    writeln!(out, "\nHOW FAR TO TROUBLE, one change at a time")?;
    let Some(found) = found else {
        return paragraph(
            out,
            "Not looked at here. Add --distance for the cable length, current, voltages, speed and loads at which the \
             outcome changes.",
        );
    };
    let with = |row: &Row| !row.edges.is_empty();
    let mut rows: Vec<&Row> = found.trouble.rows.iter().filter(|r| with(r)).collect();
    if rows.is_empty() {
        let text = "within the spans looked at no single change alters that";
        return paragraph(out, &format!("{}; {text}.", as_it_is(found.trouble.now)));
    }
    paragraph(
        out,
        &format!("{}. {} whole runs; the smallest change first.", as_it_is(found.trouble.now), found.runs()),
    )?;
    let nearest = |row: &Row| row.edges.iter().map(|e| ratio(row, e)).fold(f64::INFINITY, f64::min);
    rows.sort_by(|a, b| nearest(a).total_cmp(&nearest(b)));
    head("", out)?;
    for row in rows {
        let (below, above) = row.nearest();
        let mut edges: Vec<&Edge> = below.into_iter().chain(above).collect();
        if let Some(around) = row.edges.iter().find(|e| e.low < row.knob.now && row.knob.now < e.high) {
            edges = vec![around];
        }
        if found.trouble.now != Outcome::Good {
            // Whoever is in trouble asks where it ends.
            let ends = row.edges.iter().filter(|e| beyond(row, e).1 == Outcome::Good && !edges.contains(e));
            edges.extend(ends.min_by(|a, b| away(row, a).total_cmp(&away(row, b))));
        }
        edges.sort_by(|a, b| away(row, a).total_cmp(&away(row, b)));
        lines(row, &edges, &|_, _| String::new(), out)?;
    }
    bands(&found.trouble.rows, out)?;
    writeln!(out)?;
    paragraph(
        out,
        "\"Drops out\" counts from the fifth minute of a drive on. Every border, what is beside it by closed form, and what \
         changes nothing: the command `distance`; what mends it: `mend`.",
    )?;
    paragraph(out, NO_ADVICE)
}

fn as_it_is(now: Outcome) -> String {
    match now {
        Outcome::Good => "As it is, no trouble is predicted".to_owned(),
        other => format!("As it is: {}", other.words()),
    }
}

fn head(last: &str, out: &mut dyn Write) -> io::Result<()> {
    let line = format!("  {:<35}{:>10}  {:<19}{:<21}{last}", "", "now", "border at", "beyond it");
    writeln!(out, "\n{}", line.trim_end())
}

/// The lines of one knob.
fn lines(
    row: &Row,
    edges: &[&Edge],
    last: &dyn Fn(&Row, &Edge) -> String,
    out: &mut dyn Write,
) -> io::Result<()> {
    for (n, edge) in edges.iter().enumerate() {
        let (name, now) = if n == 0 {
            (row.knob.name.as_str(), format!("{} {}", short(row.knob.now), row.knob.unit))
        } else {
            ("", String::new())
        };
        let (border, beyond) = beyond(row, edge);
        let line = format!("  {name:<35}{now:>10}  {border:<19}{:<21}{}", beyond.words(), last(row, edge));
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}

/// How far a border lies from the value now.
fn away(row: &Row, edge: &Edge) -> f64 {
    (edge.at() - row.knob.now).abs()
}

/// How far a border lies from the value now, as a ratio.
fn ratio(row: &Row, edge: &Edge) -> f64 {
    let nearer = if edge.at() >= row.knob.now { edge.low } else { edge.high };
    (nearer / row.knob.now).max(1e-6).ln().abs()
}

/// Knobs without a border.
fn still(rows: &[Row], out: &mut dyn Write) -> io::Result<()> {
    let span = |row: &Row| {
        let (low, high) = row.span();
        format!("{} {} to {} {}", row.knob.name, short(low), short(high), row.knob.unit)
    };
    let still: Vec<String> = rows.iter().filter(|r| r.edges.is_empty()).map(span).collect();
    if still.is_empty() {
        return Ok(());
    }
    writeln!(out)?;
    paragraph(out, &format!("No border at all over: {}.", still.join("; ")))
}

/// Why some borders are bands.
fn bands(rows: &[Row], out: &mut dyn Write) -> io::Result<()> {
    if !rows.iter().flat_map(|r| &r.edges).any(|e| e.takes_turns) {
        return Ok(());
    }
    writeln!(out)?;
    paragraph(
        out,
        "A border in two figures is a band: over it the two outcomes take turns, and a small thing decides. Start-up cycles \
         come one by one; each new one puts the last drop-out beyond the fifth minute, or into the drive's last five, and until \
         the next one it creeps back. Keep clear of the whole band.",
    )
}

/// How absorption ends, and up to which house load on its tail current.
fn absorption(found: &Distances, out: &mut dyn Write) -> io::Result<()> {
    let now = match found.now {
        Outcome::AbsorptionEndsOnTail => "As it is, absorption ends on its tail current",
        Outcome::AbsorptionEndsOnCap => "As it is, absorption ends on its cap, its current never low enough",
        Outcome::AbsorptionCutShort => "As it is, the unit goes off before absorption ends",
        _ => "As it is, the drive brings no absorption",
    };
    writeln!(out, "\nDOES ABSORPTION FINISH")?;
    let Some(row) = found.rows.first() else { return paragraph(out, &format!("{now}.")) };
    if row.edges.is_empty() {
        let (low, high) = row.span();
        let text = format!("{now}, and so at any house load from {} to {} W.", short(low), short(high));
        return paragraph(out, &text);
    }
    paragraph(out, &format!("{now}."))?;
    head("closed form", out)?;
    lines(row, &row.edges.iter().collect::<Vec<_>>(), &form, out)
}

/// Forms that are enough and no border.
fn enough(rows: &[Row], out: &mut dyn Write) -> io::Result<()> {
    for (form, text) in [
        (
            Form::BandWideEnough,
            "Whatever the set-point, the band from turn-off to turn-on is wide enough (c5) at",
        ),
        (
            Form::AlternatorCarries,
            "The alternator alone carries all that is asked, starter battery included (c11), at",
        ),
    ] {
        let said: Vec<String> = rows.iter().filter_map(|row| sufficient(row, form)).collect();
        if !said.is_empty() {
            paragraph(out, &format!("{text}: {}. Enough, but no border.", said.join("; ")))?;
        }
    }
    Ok(())
}

/// Where a form begins to be kept, for forms that are enough and no border.
fn sufficient(row: &Row, form: Form) -> Option<String> {
    if !row.knob.sizes.is_empty() {
        return None;
    }
    let at = row.edges.iter().flat_map(|e| &e.forms).find(|s| s.form == form)?.at?;
    Some(format!("{} {} {}", row.knob.name, short(at), row.knob.unit))
}

/// Where the border lies as seen from the value now, and what lies beyond it.
pub(super) fn beyond(row: &Row, edge: &Edge) -> (String, Outcome) {
    let unit = row.knob.unit;
    let up = edge.at() >= row.knob.now;
    let outcome = if up { edge.above } else { edge.below };
    if !row.knob.sizes.is_empty() {
        let size = if up { edge.high } else { edge.low };
        return (format!("at {}", row.knob.size_name(size)), outcome);
    }
    let side = if up { "above" } else { "below" };
    let place = if edge.takes_turns { band(edge) } else { format!("{side} {}", short(edge.at())) };
    (format!("{place} {unit}"), outcome)
}

fn band(edge: &Edge) -> String {
    format!("{} to {}", short(edge.low), short(edge.high))
}

/// The closed form that stands beside a border.
pub(super) fn main_form(edge: &Edge) -> Option<(Form, f64)> {
    let has = |form: Form| edge.forms.iter().any(|s| s.form == form);
    let wanted = match (edge.below, edge.above) {
        (Outcome::NeverStarts, _) | (_, Outcome::NeverStarts) => Form::NeverStarts,
        _ if has(Form::RunsOn) => Form::RunsOn,
        _ if has(Form::TailReached) => Form::TailReached,
        // A battery without a settled resistance leaves (c17) blind to the alternator's greatest current.
        _ if edge.forms.iter().any(|s| s.form == Form::DropsOut && s.at.is_none()) => Form::AlternatorCarries,
        _ => Form::DropsOut,
    };
    edge.forms.iter().find(|s| s.form == wanted).and_then(|s| Some((s.form, s.at?)))
}

fn form(row: &Row, edge: &Edge) -> String {
    let said = main_form(edge);
    said.map_or_else(String::new, |(_, at)| match row.knob.size_name(at) {
        "" => format!("{} {}", short(at), row.knob.unit),
        size => format!("{size} good"),
    })
}

/// Every run that was made, as a table.
pub fn csv(found: &Distances) -> Result<Vec<u8>, Failure> {
    let head = ["what", "unit", "now", "value", "outcome"].map(str::to_owned);
    let rows = found.rows.iter().flat_map(|row| {
        let line = |(value, outcome): &(_, Outcome)| {
            let knob = &row.knob;
            let (now, value): (_, f64) = (knob.now.to_string(), *value);
            [
                knob.name.to_string(),
                knob.unit.to_string(),
                now,
                value.to_string(),
                outcome.words().to_string(),
            ]
        };
        row.seen.iter().map(line)
    });
    csv_table(std::iter::once(head).chain(rows))
}
