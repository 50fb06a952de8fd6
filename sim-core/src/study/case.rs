//! A scenario as it was written, of which any key can be changed before it is resolved.

use crate::resolve::{DriveFile, Resolved, resolve_after};
use crate::scenario::list_path::{NoEntry, entry_of, parts};
use crate::scenario::node::{Node, Place, Value};
use crate::scenario::{Problem, Scenario};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A scenario as a tree of values, with its drive files.
///
/// Keys are changed in the tree and not in the resolved model, so that whatever follows from a key follows again: ranges,
/// defaults, values that are derived from it.
#[derive(Debug, Clone)]
pub struct Case {
    pub(super) root: Node,
    // Shared: a drive file of a week is large, and a study makes thousands of cases.
    pub(super) drives: Arc<BTreeMap<usize, Arc<DriveFile>>>,
}

/// Why a case cannot be run.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CaseError {
    /// The path leads to no value.
    #[error("`{path}` leads to no value: {why}")]
    NoSuchPlace {
        /// The path, parts joined by dots.
        path: String,
        /// Why not.
        why: NoEntry,
    },
    /// The scenario is wrong with these values.
    #[error("{} in the scenario with these values", count(.0))]
    Problems(Vec<Problem>),
}

fn count(problems: &[Problem]) -> String {
    let told = |p: &Problem| format!("{}: {}", p.path, p.kind);
    match problems {
        [one] => format!("one problem ({})", told(one)),
        [first, ..] => format!("{} problems (first, {})", problems.len(), told(first)),
        [] => "no problem".into(),
    }
}

/// Place of values that no text holds.
const NOWHERE: Place = Place { source: u32::MAX, start: 0, end: 0 };

impl Case {
    /// A case of a scenario's tree and its drive files, by the number of the piece that names them.
    pub fn new(root: Node, drives: BTreeMap<usize, Arc<DriveFile>>) -> Case {
        Case { root, drives: Arc::new(drives) }
    }

    /// The same with one number changed: `path` as in `input_cable.length_m`, `value` in the unit of the key.
    ///
    /// # Errors
    /// [`CaseError::NoSuchPlace`] when the path leads into a list that has no such entry, or through a value.
    pub fn with(&self, path: &str, value: f64) -> Result<Case, CaseError> {
        self.with_value(path, Value::Number(value))
    }

    /// The same with one value of any kind changed.
    ///
    /// # Errors
    /// As [`Case::with`].
    pub fn with_value(&self, path: &str, value: Value) -> Result<Case, CaseError> {
        self.with_all([(path, value)])
    }

    /// The same with several values changed, in this order.
    ///
    /// # Errors
    /// As [`Case::with`].
    pub fn with_all<'a>(
        &self,
        changes: impl IntoIterator<Item = (&'a str, Value)>,
    ) -> Result<Case, CaseError> {
        let mut case = self.clone();
        for (path, value) in changes {
            case.put(path, Node { place: NOWHERE, value })?;
        }
        Ok(case)
    }

    /// The same with one value changed that stands somewhere in a text, so that problems can point at it.
    ///
    /// # Errors
    /// As [`Case::with`].
    pub fn with_node(&self, path: &str, node: &Node) -> Result<Case, CaseError> {
        let mut case = self.clone();
        case.put(path, node.clone())?;
        Ok(case)
    }

    /// A path with every label replaced by the entry's number, so that two names of one key compare equal; the path itself
    /// where it leads to nothing written.
    pub fn path_by_number(&self, path: &str) -> String {
        let (mut node, mut found) = (Some(&self.root), Vec::new());
        for part in parts(path) {
            let (name, below) = match node.map(|n| &n.value) {
                Some(Value::List(items)) => match entry_of(items, part) {
                    Ok(index) => ((index + 1).to_string(), Some(&items[index])),
                    Err(_) => (part.to_owned(), None),
                },
                Some(Value::Table(entries)) => {
                    (part.to_owned(), entries.iter().find(|e| e.key == part).map(|e| &e.node))
                }
                _ => (part.to_owned(), None),
            };
            found.push(name);
            node = below;
        }
        found.join(".")
    }

    fn put(&mut self, path: &str, node: Node) -> Result<(), CaseError> {
        let put = self.root.put(path, node.place, node);
        put.map_err(|why| CaseError::NoSuchPlace { path: path.to_owned(), why })
    }

    /// The same vehicle on the drive of another case: `[drive]`, its pieces and its drive files.
    pub fn on_drive_of(&self, other: &Case) -> Case {
        let mut root = self.root.clone();
        if let (Value::Table(entries), Some(theirs)) = (&mut root.value, other.root.entries()) {
            entries.retain(|e| e.key != "drive");
            entries.extend(theirs.iter().filter(|e| e.key == "drive").cloned());
        }
        Case { root, drives: Arc::clone(&other.drives) }
    }

    /// What is written, or stands in as a default.
    ///
    /// # Errors
    /// [`CaseError::Problems`] with everything that is wrong.
    pub fn scenario(&self) -> Result<Scenario, CaseError> {
        Scenario::read(&self.root).map_err(CaseError::Problems)
    }

    /// The number at a path, in the unit of the key, typed or default; `None` where there is none.
    pub fn number(&self, path: &str) -> Option<f64> {
        let mut found = None;
        let (scenario, _) = Scenario::read_all(&self.root);
        scenario.each_number(&mut |at, _, num| {
            if at == path {
                found = Some(num.value);
            }
        });
        found
    }

    /// Makes it ready to run.
    ///
    /// # Errors
    /// [`CaseError::Problems`] with everything that is wrong.
    pub fn resolve(&self) -> Result<(Scenario, Resolved), CaseError> {
        let (scenario, problems) = Scenario::read_all(&self.root);
        let resolved = resolve_after(&scenario, &|n| self.drives.get(&n).cloned(), problems);
        Ok((scenario, resolved.map_err(CaseError::Problems)?))
    }
}

/// Whether two resolved scenarios are the same vehicle on the same drive.
///
/// A temperature that follows the air is no number in a model, and no number equals itself: so the models' texts are
/// compared, which hold every digit.
pub(super) fn same(a: &Resolved, b: &Resolved) -> bool {
    a.profile == b.profile && format!("{:?}", a.model) == format!("{:?}", b.model)
}
