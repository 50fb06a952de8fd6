//! Names that sections had in format 1, when a cable was called a run.

use super::node::{Node, Value};
use super::warning::{Warning, WarningKind};

/// Old name, present name.
const SECTIONS: [(&str, &str); 2] = [("input_run", "input_cable"), ("output_run", "output_cable")];

fn present(name: &str) -> Option<&'static str> {
    SECTIONS.iter().find(|(old, _)| *old == name).map(|(_, new)| *new)
}

/// A key's path by present names: `input_run.length_m` is `input_cable.length_m`.
pub fn present_path(path: &str) -> String {
    let (section, rest) = path.split_at(path.find('.').unwrap_or(path.len()));
    present(section).map_or_else(|| path.to_owned(), |new| format!("{new}{rest}"))
}

/// Gives the sections of a file of format 1 their present names, with one note for the file.
///
/// A file of another format, and one that has a section by both names, stays as it is: its old name is then told as an
/// unknown key.
pub fn rename(root: &mut Node, notes: &mut Vec<Warning>) {
    let Value::Table(entries) = &mut root.value else { return };
    if !entries.iter().any(|e| e.key == "format" && e.node.value == Value::Number(1.0)) {
        return;
    }
    let names: Vec<String> = entries.iter().map(|e| e.key.clone()).collect();
    let mut renamed = Vec::new();
    for entry in entries {
        if let Some(new) = present(&entry.key).filter(|new| !names.iter().any(|n| n == new)) {
            renamed.push((format!("{} is now {new}", entry.key), entry.key_place));
            entry.key = new.to_owned();
        }
    }
    if let Some((_, place)) = renamed.first() {
        let what = renamed.iter().map(|(what, _)| what.as_str()).collect::<Vec<_>>().join(", ");
        notes.push(Warning {
            path: String::new(),
            place: Some(*place),
            kind: WarningKind::OldNames { what },
        });
    }
}
