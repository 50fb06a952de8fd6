//! `tickover model`: every number of the resolved model in SI, with where it came from.

use crate::Exit;
use crate::args::ModelArgs;
use crate::failure::Failure;
use crate::load::{Sources, load_from};
use crate::problems::{line_of, render_warnings};
use crate::streams::Streams;
use sim_core::resolve::{Entry, From};
use std::io::Write;

/// Runs the command.
pub fn run(args: &ModelArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    let colour = io.err.colour();
    write!(io.err, "{}", render_warnings(&loaded.sources, &loaded.resolved.warnings, colour))?;
    let out = &mut io.out;
    let entries = &loaded.resolved.entries;
    writeln!(out, "{}", loaded.scenario.name)?;
    writeln!(
        out,
        "Current into a battery is positive. typed: by you. measured: by you, with its uncertainty.\n\
         default: nobody said. derived: follows from others.\n"
    )?;
    let name = entries.iter().map(|e| e.name.len()).max().unwrap_or(0);
    let value = entries.iter().map(|e| figure(e.value).len()).max().unwrap_or(0);
    let written = entries.iter().map(|e| as_written(e).chars().count()).max().unwrap_or(0);
    for entry in entries {
        writeln!(
            out,
            "{:name$}  {:>written$}  {:>value$} {:5} {}",
            entry.name,
            as_written(entry),
            figure(entry.value),
            entry.unit,
            origin(entry, &loaded.sources)
        )?;
    }
    let count = |f: fn(&From) -> bool| entries.iter().filter(|e| f(&e.from)).count();
    writeln!(
        out,
        "\n{} numbers: {} typed, {} measured, {} default, {} derived.",
        entries.len(),
        count(|f| matches!(f, From::Typed)),
        count(|f| matches!(f, From::Measured { .. })),
        count(|f| matches!(f, From::Default(_))),
        count(|f| matches!(f, From::Derived(_))),
    )?;
    Ok(Exit::Done)
}

/// The value as its key takes it, where that is not SI already.
fn as_written(entry: &Entry) -> String {
    match entry.written {
        Some((value, unit)) if unit != entry.unit => format!("{} {unit} =", figure(value)),
        _ => String::new(),
    }
}

fn figure(value: f64) -> String {
    if value == 0.0 || (1e-4..1e7).contains(&value.abs()) {
        let text = format!("{value:.7}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        format!("{value:.6e}")
    }
}

fn origin(entry: &Entry, sources: &Sources) -> String {
    let place = entry.place.map(|p| line_of(p, sources)).unwrap_or_default();
    match &entry.from {
        From::Typed => format!("typed     {place}"),
        From::Measured { plus_minus: Some(pm) } => {
            format!("measured  ± {} {}  {place}", figure(*pm), entry.unit)
        }
        From::Measured { plus_minus: None } => format!("measured  {place}"),
        From::Default(source) => format!("default   {source}"),
        From::Derived(how) => format!("derived   {how}"),
    }
}
