//! Files that build on others: the file on top states what differs, the rest shows through.
//!
//! Tables merge key by key. Everything else replaces: lists whole, and a measured value whole too, since an uncertainty
//! belongs to the value it was measured with.

use super::head::HeadSpec;
use super::node::{Node, Value};
use super::old_names;
use super::problem::Problem;
use super::warning::Warning;
use std::collections::HashMap;

/// Makes one tree of several: the first is the file asked for, each next one is what the one before it builds on.
///
/// Sections of files of format 1 get their present names, with a note a file. Every value keeps its place. Heads are checked file by file, since each file states its own format.
pub fn merge(mut layers: Vec<Node>, problems: &mut Vec<Problem>, notes: &mut Vec<Warning>) -> Option<Node> {
    for layer in &mut layers {
        old_names::rename(layer, notes);
        HeadSpec::of(layer.entries().unwrap_or_default(), layer.place, problems);
    }
    layers.into_iter().reduce(|over, base| {
        let calendar = over.entries().is_some_and(|e| e.iter().any(|e| e.key == "calendar"));
        let base = base.making_room_for(&over);
        over.laid_over(if calendar { base.without_drive_times() } else { base })
    })
}

/// What a file says of the time of its own pieces.
const DRIVE_TIMES: [&str; 2] = ["start_clock", "repeat"];

impl Node {
    /// This tree without the times of its pieces, which do not touch a calendar that is laid over them.
    fn without_drive_times(mut self) -> Node {
        if let Value::Table(entries) = &mut self.value
            && let Some(drive) = entries.iter_mut().find(|e| e.key == "drive")
            && let Value::Table(keys) = &mut drive.node.value
        {
            keys.retain(|e| !DRIVE_TIMES.contains(&e.key.as_str()));
        }
        self
    }

    /// This tree with what only `base` says added to it.
    fn laid_over(self, base: Node) -> Node {
        match (self.value, base.value) {
            (Value::Table(over), Value::Table(mut entries)) if !is_measured(&over) => {
                let at: HashMap<String, usize> =
                    entries.iter().enumerate().map(|(n, e)| (e.key.clone(), n)).collect();
                for entry in over {
                    match at.get(&entry.key) {
                        Some(&n) => {
                            let below = entries[n].node.clone();
                            entries[n].key_place = entry.key_place;
                            entries[n].node = entry.node.laid_over(below);
                        }
                        None => entries.push(entry),
                    }
                }
                Node { place: self.place, value: Value::Table(entries) }
            }
            (value, _) => Node { place: self.place, value },
        }
    }
}

fn is_measured(entries: &[super::node::Entry]) -> bool {
    entries.iter().any(|e| e.key == "measured" || e.key == "plus_minus")
}

#[cfg(test)]
mod tests {
    use super::super::node::{Entry, Place};
    use super::*;

    fn place(source: u32) -> Place {
        Place { source, start: 0, end: 0 }
    }

    fn table(source: u32, entries: &[(&str, Value)]) -> Value {
        let entry = |(key, value): &(&str, Value)| Entry {
            key: (*key).to_owned(),
            key_place: place(source),
            node: Node { place: place(source), value: value.clone() },
        };
        Value::Table(entries.iter().map(entry).collect())
    }

    fn at<'a>(node: &'a Node, key: &str) -> &'a Node {
        &node.entries().expect("a table").iter().find(|e| e.key == key).expect("the key").node
    }

    #[test]
    fn tables_merge_and_everything_else_replaces() {
        use Value::{List, Number};
        let joints = [("measured", Number(2.6)), ("plus_minus", Number(0.5))];
        let base = table(
            1,
            &[
                ("format", Number(1.0)),
                ("list", List(vec![Node { place: place(1), value: Number(1.0) }])),
                ("run", table(1, &[("length_m", Number(5.0)), ("joints_mohm", table(1, &joints))])),
            ],
        );
        let over = table(
            0,
            &[
                ("format", Number(1.0)),
                ("list", List(Vec::new())),
                ("run", table(0, &[("joints_mohm", table(0, &[("measured", Number(3.0))]))])),
            ],
        );
        let mut problems = Vec::new();
        let layers = vec![Node { place: place(0), value: over }, Node { place: place(1), value: base }];
        let merged = merge(layers, &mut problems, &mut Vec::new()).expect("a tree");
        assert_eq!(problems, []);
        assert_eq!(at(&merged, "list").value, List(Vec::new()), "lists replace whole");
        let run = at(&merged, "run");
        assert_eq!((at(run, "length_m").place.source, &at(run, "length_m").value), (1, &Number(5.0)));
        assert_eq!(at(run, "joints_mohm").entries().expect("a table").len(), 1, "no stale uncertainty");
        assert_eq!(at(run, "joints_mohm").place.source, 0);
    }

    #[test]
    fn every_file_states_its_format() {
        let layers = (0..3).map(|n| Node { place: place(n), value: table(n, &[]) }).collect();
        let mut problems = Vec::new();
        merge(layers, &mut problems, &mut Vec::new());
        let sources: Vec<_> = problems.iter().filter_map(|p| p.place).map(|p| p.source).collect();
        assert_eq!(sources, [0, 1, 2]);
    }
}
