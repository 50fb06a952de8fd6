//! A tree of values with their places in the text, free of any file format.
//!
//! Whoever reads files turns them into this tree; the scenario reader then knows where each value stood.

use super::list_path::{NoEntry, entry_of};

/// Where something stands: a source (a file, a command-line word) and a range of bytes in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Place {
    /// Number of the source, given by whoever reads it.
    pub source: u32,
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

/// A value and its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// Where the value stands.
    pub place: Place,
    /// The value.
    pub value: Value,
}

/// What can stand in a scenario.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// A number.
    Number(f64),
    /// A text.
    Text(String),
    /// Yes or no.
    Flag(bool),
    /// A list.
    List(Vec<Node>),
    /// A table, in the order written.
    Table(Vec<Entry>),
    /// Something that no key takes, such as a date.
    Other(&'static str),
}

/// One key of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// The key.
    pub key: String,
    /// Where the key stands.
    pub key_place: Place,
    /// Its value.
    pub node: Node,
}

impl Value {
    /// What it is, in words.
    pub fn kind(&self) -> &'static str {
        match self {
            Value::Number(_) => "a number",
            Value::Text(_) => "a text",
            Value::Flag(_) => "true or false",
            Value::List(_) => "a list",
            Value::Table(_) => "a table",
            Value::Other(kind) => kind,
        }
    }
}

impl Node {
    /// The entries, if it is a table.
    pub fn entries(&self) -> Option<&[Entry]> {
        match &self.value {
            Value::Table(entries) => Some(entries),
            _ => None,
        }
    }

    /// The value under a path such as `converter.output_limit_a` or `drive.piece.2.engine_rpm`, for replacing it; tables
    /// on the way are made where missing, list entries are not.
    ///
    /// # Errors
    /// [`NoEntry`] where the path leads into a list that has no such entry, or through a value.
    pub fn at_path_mut(&mut self, path: &[&str], place: Place) -> Result<&mut Node, NoEntry> {
        let Some((first, rest)) = path.split_first() else { return Ok(self) };
        match &mut self.value {
            Value::Table(entries) => {
                let found = entries.iter().position(|e| e.key == *first);
                let index = found.unwrap_or_else(|| {
                    let node = Node { place, value: Value::Table(Vec::new()) };
                    entries.push(Entry { key: (*first).to_owned(), key_place: place, node });
                    entries.len() - 1
                });
                entries[index].node.at_path_mut(rest, place)
            }
            Value::List(items) => {
                let index = entry_of(items, first)?;
                items[index].at_path_mut(rest, place)
            }
            _ => Err(NoEntry::ThroughValue),
        }
    }

    /// The label or name of a table.
    pub fn label(&self) -> Option<&str> {
        let entry = self.entries()?.iter().find(|e| e.key == "label" || e.key == "name")?;
        match &entry.node.value {
            Value::Text(text) => Some(text),
            _ => None,
        }
    }
}
