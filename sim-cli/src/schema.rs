//! `tickover schema`: the keys as a JSON Schema (draft 2020-12), for editors.

use crate::Exit;
use crate::failure::Failure;
use crate::keys::{default_of, is_list, section_doc, sections, spread_of, takes};
use serde_json::{Map, Value, json};
use sim_core::scenario::key::{Fallback, Key, Kind, Unit};
use sim_core::scenario::keys_of;
use std::io::Write;

/// Prints it.
pub fn run(out: &mut dyn Write) -> Result<Exit, Failure> {
    out.write_all(text().as_bytes())?;
    Ok(Exit::Done)
}

/// The schema as text.
pub fn text() -> String {
    format!("{:#}\n", schema())
}

fn schema() -> Value {
    let Value::Object(mut root) = table("") else { unreachable!("a section is an object") };
    let mut properties = root.remove("properties").unwrap_or_default();
    for section in sections().filter(|s| !s.is_empty()) {
        place(&mut properties, section, if is_list(section) { list(section) } else { table(section) });
    }
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Scenario",
        "description": "From the alternator to the house battery: one vehicle and one drive. Units stand in the key names.",
        "type": "object",
        "additionalProperties": false,
        "required": ["format"],
        "anyOf": [{ "required": ["drive"] }, { "required": ["calendar"] }, { "required": ["build_on"] }],
        "properties": properties,
    })
}

fn table(section: &str) -> Value {
    let keys = keys_of(section).unwrap_or_default();
    let properties: Map<String, Value> = keys.iter().map(|k| (k.name.to_owned(), property(k))).collect();
    json!({
        "description": section_doc(section),
        "type": "object",
        "additionalProperties": false,
        "properties": properties,
    })
}

/// Puts a section where its name says, under the sections that it stands in.
fn place(properties: &mut Value, section: &str, schema: Value) {
    let parts: Vec<&str> = section.split('.').collect();
    let (last, above) = parts.split_last().expect("a section has a name");
    let mut at = properties;
    for part in above {
        at = &mut at[*part];
        if at.get("items").is_some() {
            at = &mut at["items"];
        }
        at = &mut at["properties"];
    }
    at[*last] = schema;
}

fn list(section: &str) -> Value {
    let mut item = table(section);
    if item["properties"].get("duration_s").is_some() {
        item["oneOf"] =
            ["duration_s", "duration_min", "duration_h", "file"].map(|k| json!({ "required": [k] })).into();
    }
    let description = item["description"].clone();
    json!({ "description": description, "type": "array", "minItems": 1, "items": item })
}

fn property(key: &Key) -> Value {
    let mut about = format!("{} Takes {}.", key.doc.trim(), takes(key));
    if let Some((value, source)) = default_of(key) {
        about.push_str(&format!(" Default {value}: {source}."));
    }
    if let Some(spread) = spread_of(key) {
        about.push_str(&format!(" It spreads {spread}."));
    }
    let number =
        |least: f64, most: f64| json!({ "type": "number", "minimum": whole(least), "maximum": whole(most) });
    let mut property = match key.spec.kind {
        Kind::Number { least, most, .. } if least == most => json!({ "const": whole(least) }),
        Kind::Number { least, most, .. } => json!({ "anyOf": [number(least, most), {
            "type": "object",
            "description": "A measured value, with its uncertainty to either side.",
            "additionalProperties": false,
            "required": ["measured"],
            "properties": { "measured": number(least, most), "plus_minus": number(0.0, most.abs()) },
        }] }),
        Kind::Numbers { least, most, .. } => json!({ "type": "array", "items": number(least, most) }),
        Kind::Choice(words) => json!({ "enum": words }),
        Kind::Text => json!({ "type": "string" }),
    };
    property["description"] = about.into();
    if let Kind::Number { unit, .. } | Kind::Numbers { unit, .. } = key.spec.kind
        && unit != Unit::One
    {
        property["x-unit"] = unit.symbol().into();
    }
    match key.spec.fallback {
        Fallback::Number(value, _) => property["default"] = whole(value),
        Fallback::Word(word, _) => property["default"] = word.into(),
        Fallback::Numbers(values, _) => property["default"] = values.iter().copied().map(whole).collect(),
        Fallback::Nothing => {}
    }
    property
}

/// A number as people write it: without a point where it is whole.
fn whole(value: f64) -> Value {
    if value.fract() == 0.0 && value.abs() < 1e15 { json!(value as i64) } else { json!(value) }
}
