//! What two cases say differently, and what each difference does alone.

use super::case::{Case, same};
use super::outcome::Outcome;
use super::trial::{Trial, TrialError};
use crate::scenario::list_path::{entry_of, numbered, parts};
use crate::scenario::node::{Node, Value};

/// One thing that two cases say differently.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// The key's path; `drive` where the drives differ in more than numbers.
    pub path: String,
    /// What the first says; `None` where its default stands.
    pub here: Option<String>,
    /// What the second says.
    pub there: Option<String>,
}

/// What one difference does when it alone is taken over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effect {
    /// What the run comes to then.
    pub outcome: Outcome,
    /// Change of the smallest margin to turn-off, V; `None` where either run has none.
    pub margin_v: Option<f64>,
    /// Change of the charge out of the unit, Ah.
    pub output_ah: f64,
    /// Change of the starter battery's charge at the end, Ah.
    pub starter_ah: f64,
}

/// Keys that say nothing about what happens.
const SAY_NOTHING: [&str; 4] = ["format", "name", "about", "build_on"];

impl Case {
    /// What `other` says differently, by path; keys that move neither vehicle nor drive nor limit in
    /// either of them are left out.
    ///
    /// # Errors
    /// [`TrialError`] when one of them makes no scenario.
    pub fn differences(&self, other: &Case) -> Result<Vec<Difference>, TrialError> {
        let (mut here, mut there) = (Vec::new(), Vec::new());
        flatten(&self.root, "", &mut here);
        flatten(&other.root, "", &mut there);
        let drive = |leaves: &[(String, String)]| -> Vec<String> {
            leaves.iter().filter(|l| l.0.starts_with("drive.piece")).map(|l| l.0.clone()).collect()
        };
        let whole_drive = drive(&here) != drive(&there) || self.drives != other.drives;
        let mut paths: Vec<&String> = here.iter().chain(&there).map(|(path, _)| path).collect();
        paths.sort();
        paths.dedup();
        let said = |leaves: &[(String, String)], path: &str| {
            leaves.iter().find(|l| l.0 == path).map(|l| l.1.clone())
        };
        let mut found = Vec::new();
        for path in paths.into_iter().filter(|p| !SAY_NOTHING.contains(&p.as_str())) {
            if whole_drive && path.starts_with("drive.piece") {
                continue;
            }
            let (a, b) = (said(&here, path), said(&there, path));
            if a != b {
                found.push(Difference { path: path.clone(), here: a, there: b });
            }
        }
        if whole_drive {
            let pieces = |leaves: &[(String, String)]| format!("{} values", drive(leaves).len());
            found.push(Difference {
                path: "drive.piece".into(),
                here: Some(pieces(&here)),
                there: Some(pieces(&there)),
            });
        }
        // A key may count for nothing in one of them and for something in the other.
        let moves = |on: &Case, from: &Case, path: &str| -> Result<bool, TrialError> {
            let (scenario, base) = on.resolve()?;
            Ok(match on.taking(from, path).resolve() {
                Ok((s, r)) => !same(&r, &base) || s.limits != scenario.limits,
                Err(_) => true,
            })
        };
        let mut telling = Vec::new();
        for difference in found {
            if moves(self, other, &difference.path)? || moves(other, self, &difference.path)? {
                telling.push(difference);
            }
        }
        Ok(telling)
    }

    /// This case with what `other` says at a path, or without it where `other` says nothing.
    #[must_use]
    pub fn taking(&self, other: &Case, path: &str) -> Case {
        let mut case = self.clone();
        let keys = parts(path);
        match at(&other.root, &keys) {
            Some(node) => {
                // A path of this tree's own making: where it leads to no entry there is nothing to take over.
                let _ = case.root.put(path, node.place, node.clone());
            }
            None => take_away(&mut case.root, &keys),
        }
        if path == "drive.piece" {
            case.drives.clone_from(&other.drives);
        }
        case
    }

    /// What one difference does when it alone is taken over from `other`; `base` is a run of this case.
    ///
    /// # Errors
    /// [`TrialError`] when it does not go with the rest of this case.
    pub fn effect(&self, other: &Case, difference: &Difference, base: &Trial) -> Result<Effect, TrialError> {
        let alone = Trial::run(&self.taking(other, &difference.path))?;
        let margin = |t: &Trial| t.summary.extremes.margin_v.map(|m| m.value);
        let starter_ah =
            |t: &Trial| t.summary.starter_end_soc * t.resolved.model.starter.capacity_c() / 3600.0;
        Ok(Effect {
            outcome: Outcome::of(&alone),
            margin_v: margin(&alone).zip(margin(base)).map(|(a, b)| a - b),
            output_ah: alone.summary.unit_output_ah - base.summary.unit_output_ah,
            starter_ah: starter_ah(&alone) - starter_ah(base),
        })
    }
}

fn at<'a>(node: &'a Node, path: &[&str]) -> Option<&'a Node> {
    let Some((first, rest)) = path.split_first() else { return Some(node) };
    match &node.value {
        Value::Table(entries) => at(&entries.iter().find(|e| e.key == *first)?.node, rest),
        Value::List(items) => at(&items[entry_of(items, first).ok()?], rest),
        _ => None,
    }
}

fn take_away(node: &mut Node, path: &[&str]) {
    match (&mut node.value, path) {
        (Value::Table(entries), [key]) => entries.retain(|e| e.key != *key),
        (Value::Table(entries), [key, rest @ ..]) => {
            if let Some(entry) = entries.iter_mut().find(|e| e.key == *key) {
                take_away(&mut entry.node, rest);
            }
        }
        (Value::List(items), [n, rest @ ..]) => {
            if let Ok(index) = entry_of(items, n) {
                take_away(&mut items[index], rest);
            }
        }
        _ => {}
    }
}

/// Every value with its path, as text; a measured number and a list of numbers are one value each.
fn flatten(node: &Node, path: &str, out: &mut Vec<(String, String)>) {
    let below = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
    match &node.value {
        Value::Table(entries) if !entries.iter().any(|e| e.key == "measured") => {
            for entry in entries {
                flatten(&entry.node, &below(&entry.key), out);
            }
        }
        Value::List(items) if items.iter().any(|i| matches!(i.value, Value::Table(_))) => {
            for (n, item) in items.iter().enumerate() {
                flatten(item, &numbered(path, n), out);
            }
        }
        value => out.push((path.to_owned(), text(value))),
    }
}

fn text(value: &Value) -> String {
    match value {
        Value::Number(n) => n.to_string(),
        Value::Text(t) => t.clone(),
        Value::Flag(f) => f.to_string(),
        Value::List(items) => items.iter().map(|i| text(&i.value)).collect::<Vec<_>>().join(", "),
        Value::Table(entries) => {
            let told = entries.iter().map(|e| format!("{} {}", e.key, text(&e.node.value)));
            told.collect::<Vec<_>>().join(", ")
        }
        Value::Other(kind) => (*kind).to_owned(),
    }
}
