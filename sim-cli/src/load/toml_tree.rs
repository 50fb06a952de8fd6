//! TOML text as a tree of values with places.

use sim_core::scenario::node::{Entry, Node, Place, Value};
use sim_core::scenario::{Problem, ProblemKind};
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Parses a whole file; what can be read is in the tree, what cannot is in the problems.
pub fn parse(text: &str, source: u16) -> (Node, Vec<Problem>) {
    let (table, errors) = DeTable::parse_recoverable(text);
    let place = |span: Range<usize>| Place { source, start: span.start as u32, end: span.end as u32 };
    let problems = errors
        .into_iter()
        .map(|e| Problem {
            path: String::new(),
            place: Some(place(e.span().unwrap_or(0..0))),
            kind: ProblemKind::Syntax(e.message().to_owned()),
            help: None,
        })
        .collect();
    let root = Node {
        place: Place { source, start: 0, end: text.len() as u32 },
        value: convert_table(table.get_ref(), source, 0),
    };
    (root, problems)
}

/// The value of one command-line word; what is no TOML value is a text.
pub fn value(text: &str, source: u16, start: u32) -> Node {
    let place = Place { source, start, end: start + text.len() as u32 };
    const KEY: &str = "v = ";
    let line = format!("{KEY}{}", text.trim());
    match DeTable::parse(&line) {
        Ok(table) => {
            let table = table.into_inner();
            let found = table.iter().next();
            match found {
                Some((_, value)) if table.len() == 1 => {
                    let mut node = convert(value, source, 0);
                    node.place = place;
                    node
                }
                _ => Node { place, value: Value::Text(text.trim().to_owned()) },
            }
        }
        Err(_) => Node { place, value: Value::Text(text.trim().to_owned()) },
    }
}

/// Deepest nesting that is followed; nothing in a scenario is nested half as deep.
const DEEPEST: usize = 24;

fn convert(value: &Spanned<DeValue>, source: u16, depth: usize) -> Node {
    let span = value.span();
    let place = Place { source, start: span.start as u32, end: span.end as u32 };
    let number =
        |text: &str| text.replace('_', "").parse::<f64>().map_or(Value::Other("a number"), Value::Number);
    let value = match value.get_ref() {
        _ if depth > DEEPEST => Value::Other("something nested too deep"),
        DeValue::String(s) => Value::Text(s.to_string()),
        DeValue::Integer(i) => match i64::from_str_radix(i.as_str(), i.radix()) {
            Ok(i) => Value::Number(i as f64),
            Err(_) => number(i.as_str()),
        },
        DeValue::Float(f) => number(f.as_str()),
        DeValue::Boolean(b) => Value::Flag(*b),
        DeValue::Datetime(_) => Value::Other("a date or time"),
        DeValue::Array(items) => {
            Value::List(items.iter().map(|item| convert(item, source, depth + 1)).collect())
        }
        DeValue::Table(table) => convert_table(table, source, depth + 1),
    };
    Node { place, value }
}

fn convert_table(table: &DeTable, source: u16, depth: usize) -> Value {
    let mut entries: Vec<Entry> = table
        .iter()
        .map(|(key, value)| {
            let span = key.span();
            Entry {
                key: key.get_ref().to_string(),
                key_place: Place { source, start: span.start as u32, end: span.end as u32 },
                node: convert(value, source, depth),
            }
        })
        .collect();
    entries.sort_by_key(|e| e.key_place);
    Value::Table(entries)
}
