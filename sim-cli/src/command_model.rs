//! `tickover model`: every number of the resolved model in SI, with where it came from.

use crate::Exit;
use crate::args::ModelArgs;
use crate::failure::Failure;
use crate::load::{Loaded, Sources, load_from};
use crate::model_numbers::{Number, numbers};
use crate::problems::{line_of, render_warnings};
use crate::streams::Streams;
use serde::Serialize;
use serde_json::{Map, Value, json};
use sim_core::constants::{CONSTANTS, Constants};
use sim_core::engine::Stops;
use sim_core::resolve::{Entry, From};
use sim_core::{Model, Profile};
use std::io::Write;

/// Runs the command.
pub fn run(args: &ModelArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    let colour = io.err.colour();
    write!(io.err, "{}", render_warnings(&loaded.sources, &loaded.resolved.warnings, colour))?;
    let own = numbers(&loaded);
    if args.json {
        return written_out(&loaded, &own, io);
    }
    let out = &mut io.out;
    // What a key holds is told with the key.
    let entries = loaded.resolved.entries.iter();
    let entries: Vec<Entry> = entries.cloned().chain(own.into_iter().filter_map(without_key)).collect();
    writeln!(out, "{}", loaded.scenario.name)?;
    writeln!(
        out,
        "Current into a battery is positive. typed: by you. measured: by you, with its uncertainty.\n\
         default: nobody said. derived: follows from others. built in: no key holds it.\n"
    )?;
    let name = entries.iter().map(|e| e.name.len()).max().unwrap_or(0);
    let value = entries.iter().map(|e| figure(e.value).len()).max().unwrap_or(0);
    let written = entries.iter().map(|e| as_written(e).chars().count()).max().unwrap_or(0);
    for entry in &entries {
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
        "\n{} numbers: {} typed, {} measured, {} default, {} derived, {} built in.",
        entries.len(),
        count(|f| matches!(f, From::Typed)),
        count(|f| matches!(f, From::Measured { .. })),
        count(|f| matches!(f, From::Default(_))),
        count(|f| matches!(f, From::Derived(_))),
        count(|f| matches!(f, From::BuiltIn(_))),
    )?;
    Ok(Exit::Done)
}

/// A number of the model that no key holds, for the table. A conductor that is not there has none.
fn without_key(number: Number) -> Option<Entry> {
    let there = number.value != 0.0 || !number.path.contains(".conductors.");
    let (name, value, from) = (number.path, number.value, number.from);
    (there && number.key.is_none()).then_some(Entry {
        name,
        written: None,
        value,
        unit: "",
        from,
        place: None,
    })
}

/// What is written: straight from the model, so that nothing in it can be forgotten.
#[derive(Serialize)]
struct Whole<'a> {
    scenario: &'a str,
    about: &'a str,
    model: &'a Model,
    constants: Constants,
    drive: &'a Profile,
    stop_start: &'a Option<Stops>,
    origins: Map<String, Value>,
    inputs: Vec<Value>,
}

/// Everything that an independent program of the same equations needs, as JSON.
fn written_out(loaded: &Loaded, own: &[Number], io: &mut Streams) -> Result<Exit, Failure> {
    let sources = &loaded.sources;
    let resolved = &loaded.resolved;
    let origins: Map<String, Value> = own.iter().map(|n| (n.path.clone(), told(n, sources))).collect();
    let inputs: Vec<Value> = resolved.entries.iter().map(|e| input(e, sources)).collect();
    let whole = Whole {
        scenario: &loaded.scenario.name,
        about: "SI; temperatures in °C. Current into a battery is positive. null: not there, or never. What the numbers do \
                is in sim-core/EQUATIONS.md.",
        model: &resolved.model,
        constants: CONSTANTS,
        drive: &resolved.profile,
        stop_start: &resolved.stops,
        origins,
        inputs,
    };
    serde_json::to_writer_pretty(&mut io.out, &whole).map_err(|e| Failure::Output(e.into()))?;
    writeln!(io.out)?;
    Ok(Exit::Done)
}

/// Where a number of the model comes from.
fn told(number: &Number, sources: &Sources) -> Value {
    let mut told = from(&number.from, number.place.map(|p| line_of(p, sources)));
    if let Some(key) = &number.key {
        told.insert("key".into(), json!(key));
    }
    Value::Object(told)
}

/// A key's number, or one that is derived from several.
fn input(entry: &Entry, sources: &Sources) -> Value {
    let mut told = from(&entry.from, entry.place.map(|p| line_of(p, sources)));
    told.insert("name".into(), json!(entry.name));
    told.insert("value".into(), json!(entry.value));
    told.insert("unit".into(), json!(entry.unit));
    Value::Object(told)
}

fn from(from: &From, line: Option<String>) -> Map<String, Value> {
    let (word, text) = match from {
        From::Typed => ("typed", json!({})),
        From::Measured { plus_minus } => ("measured", json!({ "plus_minus": plus_minus })),
        From::Default(source) => ("default", json!({ "source": source })),
        From::Derived(how) => ("derived", json!({ "how": how })),
        From::BuiltIn(source) => ("built_in", json!({ "source": source })),
    };
    let mut told = Map::from_iter([("from".to_owned(), json!(word))]);
    if let Value::Object(more) = text {
        told.extend(more);
    }
    told.extend(line.map(|line| ("line".to_owned(), json!(line))));
    told
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
        From::BuiltIn(source) => format!("built in  {source}"),
    }
}
