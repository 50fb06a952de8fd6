//! TOML text as a tree of values with places.

use super::text::too_deep;
use sim_core::scenario::node::{Entry, Node, Place, Value};
use sim_core::scenario::{Problem, ProblemKind};
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Most syntax errors that are looked at.
const MOST_ERRORS: usize = 200;

/// Parses a whole file; what can be read is in the tree, what cannot is in the problems.
pub fn parse(text: &str, source: u32) -> (Node, Vec<Problem>) {
    if let Some(at) = too_deep(text) {
        let place = Place { source, start: at as u32, end: at as u32 + 1 };
        let kind = ProblemKind::Syntax("this is nested too deep".into());
        let problem = Problem { path: String::new(), place: Some(place), kind, help: None };
        return (Node { place, value: Value::Table(Vec::new()) }, vec![problem]);
    }
    let (table, errors) = DeTable::parse_recoverable(text);
    let place = |span: Range<usize>| Place { source, start: span.start as u32, end: span.end as u32 };
    // One slip of the pen often trips the parser several times on its line.
    let line = |e: &toml::de::Error| {
        let at = e.span().map_or(0, |s| s.start).min(text.len());
        text.as_bytes()[..at].iter().filter(|b| **b == b'\n').count()
    };
    let mut told = Vec::new();
    let mut first_of_line = |e: &toml::de::Error| {
        let line = line(e);
        let first = !told.contains(&line);
        told.push(line);
        first
    };
    let problems = errors
        .into_iter()
        .take(MOST_ERRORS)
        .filter(|e| first_of_line(e))
        .map(|e| Problem {
            path: String::new(),
            place: Some(place(e.span().unwrap_or(0..0))),
            kind: ProblemKind::Syntax(plainer(text, e.span().unwrap_or(0..0).start, e.message())),
            help: None,
        })
        .collect();
    let root = Node {
        place: Place { source, start: 0, end: text.len() as u32 },
        value: convert_table(table.get_ref(), source, 0),
    };
    (root, problems)
}

/// The commonest slips in words of their own; the parser's words for the rest.
fn plainer(text: &str, at: usize, message: &str) -> String {
    let (before, after) = text.split_at_checked(at).unwrap_or((text, ""));
    let begun = before.rsplit('\n').next().unwrap_or_default();
    let rest = after.split('\n').next().unwrap_or_default().trim();
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    let comma = rest.strip_prefix(',').unwrap_or_default();
    if digit(begun.chars().next_back()) && digit(comma.chars().next()) {
        return "a decimal takes a point, not a comma".to_owned();
    }
    if begun.trim_end().ends_with('=') && (rest.is_empty() || rest.starts_with('#')) {
        return "there is no value behind the `=`".to_owned();
    }
    match message {
        "duplicate key" => "this key is here twice".to_owned(),
        "invalid basic string, expected `\"`" => "a text is not closed, expected `\"`".to_owned(),
        other => other.to_owned(),
    }
}

/// The value of one command-line word; what is no TOML value is a text.
pub fn value(text: &str, source: u32, start: u32) -> Node {
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

fn convert(value: &Spanned<DeValue>, source: u32, depth: usize) -> Node {
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
        // Dates and clock times are texts here, with quotes or without.
        DeValue::Datetime(at) => Value::Text(at.to_string()),
        DeValue::Array(items) => {
            Value::List(items.iter().map(|item| convert(item, source, depth + 1)).collect())
        }
        DeValue::Table(table) => convert_table(table, source, depth + 1),
    };
    Node { place, value }
}

fn convert_table(table: &DeTable, source: u32, depth: usize) -> Value {
    let mut entries: Vec<Entry> = table
        .iter()
        // Where the parser had to make a value up, it stands nowhere.
        .filter(|(_, value)| !value.span().is_empty())
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
