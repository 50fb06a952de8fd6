//! The resolved model, number by number, each with where it came from.

use crate::scenario::field::{Num, Origin};
use crate::scenario::key::Unit;
use crate::scenario::node::Place;

/// Where a resolved number came from.
#[derive(Debug, Clone, PartialEq)]
pub enum From {
    /// Somebody typed it.
    Typed,
    /// Somebody measured it.
    Measured {
        /// Uncertainty to either side, in the entry's SI unit.
        plus_minus: Option<f64>,
    },
    /// Nobody said; with the source of the default.
    Default(String),
    /// It follows from others; with how.
    Derived(String),
    /// No key holds it; with its source.
    BuiltIn(String),
}

/// One resolved number.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Its name: the key's path, or a name of its own for a derived number.
    pub name: String,
    /// The value and its unit as the key takes them; `None` for a derived number.
    pub written: Option<(f64, &'static str)>,
    /// Its value in SI.
    pub value: f64,
    /// The SI unit.
    pub unit: &'static str,
    /// Where it came from.
    pub from: From,
    /// Where it stands in the text, if anywhere.
    pub place: Option<Place>,
}

impl Entry {
    pub(super) fn of(path: String, unit: Unit, num: &Num) -> Entry {
        let (si, factor) = unit.si();
        let from = match num.origin {
            Origin::Typed(_) => From::Typed,
            Origin::Measured { plus_minus, .. } => {
                From::Measured { plus_minus: plus_minus.map(|p| p * factor) }
            }
            Origin::Default(source) => From::Default(source.to_owned()),
        };
        Entry {
            name: path,
            written: Some((num.value, unit.symbol())),
            value: num.value * factor,
            unit: si,
            from,
            place: num.place(),
        }
    }

    pub(super) fn derived(name: &str, value: f64, unit: &'static str, how: String) -> Entry {
        Entry { name: name.to_owned(), written: None, value, unit, from: From::Derived(how), place: None }
    }
}
