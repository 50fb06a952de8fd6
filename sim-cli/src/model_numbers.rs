//! Every number of a resolved model with its path and where it came from.
//!
//! The paths are those of the model as it is written out, so that a new field is there by itself; `source_of` has to name
//! where it comes from, and a test says so where it does not.

use crate::load::Loaded;
use serde_json::Value;
use sim_core::resolve::{From, Source, source_of};
use sim_core::scenario::field::Origin;
use sim_core::scenario::node::Place;

/// A number of the model.
#[derive(Debug, Clone, PartialEq)]
pub struct Number {
    /// Its path, an index as a number: `links.0.converter.output_limit_a`.
    pub path: String,
    /// Its value in the unit of its name.
    pub value: f64,
    /// The key that holds it, if one does.
    pub key: Option<String>,
    /// Where it came from.
    pub from: From,
    /// Where it stands in the text, if anywhere.
    pub place: Option<Place>,
}

/// All of them, in the order of the model.
pub fn numbers(loaded: &Loaded) -> Vec<Number> {
    let model = serde_json::to_value(&loaded.resolved.model).unwrap_or_default();
    let mut found = Vec::new();
    visit("", &model, &mut |path, value| found.push(number(loaded, path, value)));
    found
}

fn visit(path: &str, value: &Value, see: &mut impl FnMut(&str, f64)) {
    let within = |part: &str| if path.is_empty() { part.to_owned() } else { format!("{path}.{part}") };
    match value {
        Value::Number(n) => see(path, n.as_f64().unwrap_or(f64::NAN)),
        Value::Object(parts) => parts.iter().for_each(|(part, value)| visit(&within(part), value, see)),
        Value::Array(parts) => {
            parts.iter().enumerate().for_each(|(n, value)| visit(&within(&n.to_string()), value, see));
        }
        Value::Null | Value::Bool(_) | Value::String(_) => {}
    }
}

fn number(loaded: &Loaded, path: &str, value: f64) -> Number {
    let nowhere = (None, From::Derived("not told".to_owned()), None);
    let (key, from, place) = match source_of(path) {
        None => nowhere,
        Some((_, Source::Derived(how))) => (None, From::Derived(how.to_owned()), None),
        Some((_, Source::BuiltIn(source))) => (None, From::BuiltIn(source.to_owned()), None),
        Some((section, Source::Key(key))) => {
            let key = section.map_or_else(|| key.to_owned(), |section| format!("{section}.{key}"));
            match held(loaded, &key, value) {
                Some((from, place)) => (Some(key), from, place),
                None if value == 0.0 => {
                    (None, From::BuiltIn("nothing: it does not act here".to_owned()), None)
                }
                None => (None, From::Derived(format!("{key} and what else is said")), None),
            }
        }
    };
    Number { path: path.to_owned(), value, key, from, place }
}

/// What a key says, if it holds this value: first as the model's list has it, else a default that this scenario has no use for.
fn held(loaded: &Loaded, key: &str, value: f64) -> Option<(From, Option<Place>)> {
    let same = |other: f64| (other - value).abs() <= 1e-12 * value.abs();
    if let Some(entry) = loaded.resolved.entries.iter().find(|e| e.name == key) {
        return same(entry.value).then(|| (entry.from.clone(), entry.place));
    }
    let mut found = None;
    loaded.scenario.each_number(&mut |path, unit, num| {
        if path == key && same(num.value * unit.si().1) {
            let source = if let Origin::Default(source) = num.origin { source } else { "typed, not used" };
            found = Some((From::Default(source.to_owned()), num.place()));
        }
    });
    found
}
