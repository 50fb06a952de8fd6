//! Values of a scenario that remember where they came from.

use super::key::{Fallback, Key, Kind, Unit};
use super::node::{Node, Place, Value};
use super::problem::{Problem, ProblemKind};

/// Where a value came from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Origin {
    /// Somebody typed it; `None` when set in code.
    Typed(Option<Place>),
    /// Somebody measured it.
    Measured {
        /// Uncertainty to either side, in the value's unit.
        plus_minus: Option<f64>,
        /// Where it stands.
        place: Option<Place>,
    },
    /// Nobody said; with the source of the default.
    Default(&'static str),
}

/// A value with its origin.
#[derive(Debug, Clone, PartialEq)]
pub struct Sourced<T> {
    /// The value, in the unit of the key's name.
    pub value: T,
    /// Where it came from.
    pub origin: Origin,
}

/// A number with its origin, in the unit of the key's name.
pub type Num = Sourced<f64>;
/// A word or text with its origin.
pub type Text = Sourced<String>;
/// Numbers with their origin.
pub type Nums = Sourced<Vec<f64>>;

impl<T> Sourced<T> {
    /// A value set in code.
    pub fn typed(value: T) -> Self {
        Sourced { value, origin: Origin::Typed(None) }
    }

    /// Replaces the value.
    pub fn set(&mut self, value: T) {
        *self = Sourced::typed(value);
    }

    /// Puts nothing in place of a default: the plain model has no such effect.
    pub(crate) fn unless_said(&mut self, nothing: impl Into<T>) {
        if matches!(self.origin, Origin::Default(_)) {
            *self = Sourced { value: nothing.into(), origin: Origin::Default("plain model: no effect") };
        }
    }

    /// Where it stands in the text, if anywhere.
    pub fn place(&self) -> Option<Place> {
        match self.origin {
            Origin::Typed(place) | Origin::Measured { place, .. } => place,
            Origin::Default(_) => None,
        }
    }
}

/// A field of a section: how it is read and what stands in for it.
pub trait Field: Sized {
    /// Reads a written value; on a problem, reports it and goes on with the default.
    fn read(key: &Key, path: &str, node: Option<&Node>, problems: &mut Vec<Problem>) -> Self {
        node.and_then(|n| Self::from_node(key, path, n, problems)).unwrap_or_else(|| Self::fallback(key))
    }
    /// Reads a value, or reports why not.
    fn from_node(key: &Key, path: &str, node: &Node, problems: &mut Vec<Problem>) -> Option<Self>;
    /// The default.
    fn fallback(key: &Key) -> Self;
    /// Reports a value that the key does not take, whoever put it there; `section` is the path of the key's section.
    fn check(&self, key: &Key, section: &str, problems: &mut Vec<Problem>);
    /// Number, if it is one: value and origin, for the print of the model.
    fn as_num(&self) -> Option<(&Num, Unit)>
    where
        Self: Sized,
    {
        None
    }
}

fn problem(path: &str, place: Place, kind: ProblemKind, key: &Key) -> Problem {
    Problem { path: path.to_owned(), place: Some(place), kind, help: Some(key.doc.trim().to_owned()) }
}

/// The same with a value that is in a scenario already.
fn found(section: &str, place: Option<Place>, kind: ProblemKind, key: &Key) -> Problem {
    let path = format!("{section}.{}", key.name);
    Problem { path, place, kind, help: Some(key.doc.trim().to_owned()) }
}

/// What is wrong with a number, if anything is.
fn outside(key: &Key, value: f64, (least, most): (f64, f64)) -> Option<ProblemKind> {
    let within = value.is_finite() && value >= least && value <= most;
    (!within).then(|| ProblemKind::OutOfRange { value, allowed: key.spec.allowed() })
}

/// What is wrong with a word, if anything is.
fn no_choice(key: &Key, word: &str) -> Option<ProblemKind> {
    let Kind::Choice(words) = key.spec.kind else { return None };
    let guess = super::problem::guess(word, words);
    let allowed = key.spec.allowed();
    (!words.contains(&word)).then(|| ProblemKind::BadChoice { value: word.to_owned(), allowed, guess })
}

fn number(
    key: &Key,
    path: &str,
    node: &Node,
    problems: &mut Vec<Problem>,
    bounds: (f64, f64),
) -> Option<f64> {
    let Value::Number(value) = node.value else {
        let kind = ProblemKind::WrongKind { found: node.value.kind(), allowed: key.spec.allowed() };
        problems.push(problem(path, node.place, kind, key));
        return None;
    };
    if let Some(kind) = outside(key, value, bounds) {
        problems.push(problem(path, node.place, kind, key));
        return None;
    }
    Some(value)
}

impl Field for Num {
    fn from_node(key: &Key, path: &str, node: &Node, problems: &mut Vec<Problem>) -> Option<Self> {
        let Kind::Number { least, most, .. } = key.spec.kind else { return None };
        let Value::Table(entries) = &node.value else {
            let value = number(key, path, node, problems, (least, most))?;
            return Some(Sourced { value, origin: Origin::Typed(Some(node.place)) });
        };
        let mut measured = None;
        let mut plus_minus = None;
        for entry in entries {
            match entry.key.as_str() {
                "measured" => measured = number(key, path, &entry.node, problems, (least, most)),
                "plus_minus" => plus_minus = number(key, path, &entry.node, problems, (0.0, most.abs())),
                other => {
                    let allowed = &["measured", "plus_minus"];
                    problems.push(Problem::unknown(path, entry.key_place, other, allowed));
                }
            }
        }
        let Some(value) = measured else {
            if !entries.iter().any(|e| e.key == "measured") {
                let kind = ProblemKind::Missing { what: "measured".into() };
                problems.push(problem(path, node.place, kind, key));
            }
            return None;
        };
        Some(Sourced { value, origin: Origin::Measured { plus_minus, place: Some(node.place) } })
    }

    fn fallback(key: &Key) -> Self {
        match key.spec.fallback {
            Fallback::Number(value, source) => Sourced { value, origin: Origin::Default(source) },
            _ => unreachable!("`{}` has no default number", key.name),
        }
    }

    fn check(&self, key: &Key, section: &str, problems: &mut Vec<Problem>) {
        let Kind::Number { least, most, .. } = key.spec.kind else { return };
        let wrong = outside(key, self.value, (least, most));
        problems.extend(wrong.map(|kind| found(section, self.place(), kind, key)));
    }
}

impl Field for Text {
    fn from_node(key: &Key, path: &str, node: &Node, problems: &mut Vec<Problem>) -> Option<Self> {
        let Value::Text(value) = &node.value else {
            let kind = ProblemKind::WrongKind { found: node.value.kind(), allowed: key.spec.allowed() };
            problems.push(problem(path, node.place, kind, key));
            return None;
        };
        if let Some(kind) = no_choice(key, value) {
            problems.push(problem(path, node.place, kind, key));
            return None;
        }
        Some(Sourced { value: value.clone(), origin: Origin::Typed(Some(node.place)) })
    }

    fn fallback(key: &Key) -> Self {
        match key.spec.fallback {
            Fallback::Word(word, source) => {
                Sourced { value: word.to_owned(), origin: Origin::Default(source) }
            }
            _ => unreachable!("`{}` has no default word", key.name),
        }
    }

    fn check(&self, key: &Key, section: &str, problems: &mut Vec<Problem>) {
        problems.extend(no_choice(key, &self.value).map(|kind| found(section, self.place(), kind, key)));
    }
}

impl Field for Nums {
    fn from_node(key: &Key, path: &str, node: &Node, problems: &mut Vec<Problem>) -> Option<Self> {
        let Kind::Numbers { least, most, .. } = key.spec.kind else { return None };
        let Value::List(items) = &node.value else {
            let kind = ProblemKind::WrongKind { found: node.value.kind(), allowed: key.spec.allowed() };
            problems.push(problem(path, node.place, kind, key));
            return None;
        };
        let values: Vec<Option<f64>> =
            items.iter().map(|item| number(key, path, item, problems, (least, most))).collect();
        let value = values.into_iter().collect::<Option<Vec<f64>>>()?;
        Some(Sourced { value, origin: Origin::Typed(Some(node.place)) })
    }

    fn fallback(key: &Key) -> Self {
        match key.spec.fallback {
            Fallback::Numbers(values, source) => {
                Sourced { value: values.to_vec(), origin: Origin::Default(source) }
            }
            _ => unreachable!("`{}` has no default numbers", key.name),
        }
    }

    fn check(&self, key: &Key, section: &str, problems: &mut Vec<Problem>) {
        let Kind::Numbers { least, most, .. } = key.spec.kind else { return };
        let wrong = self.value.iter().filter_map(|value| outside(key, *value, (least, most)));
        problems.extend(wrong.map(|kind| found(section, self.place(), kind, key)));
    }
}

impl<T: Field> Field for Option<T> {
    fn from_node(key: &Key, path: &str, node: &Node, problems: &mut Vec<Problem>) -> Option<Self> {
        T::from_node(key, path, node, problems).map(Some)
    }

    fn fallback(_: &Key) -> Self {
        None
    }

    fn check(&self, key: &Key, section: &str, problems: &mut Vec<Problem>) {
        self.iter().for_each(|value| value.check(key, section, problems));
    }
}
