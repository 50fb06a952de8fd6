//! What stands at the top of a scenario file, before the first section.

use super::field::{Num, Text};
use super::key::{Unit, number, text};
use super::node::{Entry, Node, Place};
use super::problem::{Problem, ProblemKind};
use super::section::{Section, section};

/// The newest format number that this reader knows, and that of new files.
pub const FORMAT: f64 = 2.0;
/// The oldest; [`super::old_names`] says what was called otherwise then.
const OLDEST_FORMAT: f64 = 1.0;

section! {
    /// The top of the file, before the first section.
    HeadSpec {
        /// Number of the file format; every file states it.
        format: Option<Num> = number(Unit::One, OLDEST_FORMAT, FORMAT),
        /// Title of every page and picture.
        name: Option<Text> = text(),
        /// What the scenario is about, in a sentence or two.
        about: Option<Text> = text(),
        /// Another scenario file that this one builds on, its path counted from this file; only what differs is stated.
        build_on: Option<Text> = text(),
    }
}

impl HeadSpec {
    /// Reads the head of one file and checks its format number.
    pub fn of(entries: &[Entry], root: Place, problems: &mut Vec<Problem>) -> HeadSpec {
        let head = HeadSpec::from_entries(entries, "", problems);
        if !entries.iter().any(|e| e.key == "format") {
            problems.push(Problem {
                path: "format".into(),
                place: Some(Place { end: root.start, ..root }),
                kind: ProblemKind::Missing { what: "format".into() },
                help: Some("the first line of a scenario file is `format = 2`".into()),
            });
        }
        head
    }
}

/// The value of `build_on` in a file, with its place; a value of another kind is reported when the head is read.
pub fn build_on(root: &Node) -> Option<(String, Place)> {
    let entries = root.entries()?;
    let entry = entries.iter().find(|e| e.key == "build_on")?;
    match &entry.node.value {
        super::node::Value::Text(path) => Some((path.clone(), entry.node.place)),
        _ => None,
    }
}
