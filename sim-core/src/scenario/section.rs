//! Sections of a scenario: a struct, its keys, how it is read and its defaults, from one declaration.

use super::Scenario;
use super::conversion::offer;
use super::field::Num;
use super::key::{Key, Unit};
use super::node::{Entry, Node, Value};
use super::problem::{Problem, ProblemKind};

/// A section of a scenario.
pub trait Section: Sized + Default {
    /// What it describes.
    fn doc() -> &'static str;
    /// Its keys.
    fn keys() -> Vec<Key>;
    /// Reads it from the entries of its table.
    fn from_entries(entries: &[Entry], path: &str, problems: &mut Vec<Problem>) -> Self;
    /// Visits every number that is there.
    fn each_number(&self, visit: &mut dyn FnMut(&'static str, Unit, &Num));
    /// Reports values that their keys do not take; the section stands at `path`.
    fn check(&self, path: &str, problems: &mut Vec<Problem>);
    /// Turns every effect that nobody wrote down into nothing.
    fn make_plain(&mut self);
    /// Keys that nothing reads in this scenario.
    fn unused(scenario: &Scenario) -> Vec<&'static str>;

    /// Reads it from a node.
    fn read(node: Option<&Node>, path: &str, problems: &mut Vec<Problem>) -> Self {
        let Some(node) = node else { return Self::default() };
        let Value::Table(entries) = &node.value else {
            problems.push(Problem {
                path: path.to_owned(),
                place: Some(node.place),
                kind: ProblemKind::WrongKind {
                    found: node.value.kind(),
                    allowed: format!("a table, written [{path}]"),
                },
                help: None,
            });
            return Self::default();
        };
        let keys = Self::keys();
        let names: Vec<&str> = keys.iter().map(|k| k.name).collect();
        for entry in entries.iter().filter(|e| !names.contains(&e.key.as_str())) {
            let mut problem = Problem::unknown(path, entry.key_place, &entry.key, &names);
            if let Some((meant, told)) = offer(entry, &keys) {
                problem.help = Some(told);
                if let ProblemKind::UnknownKey { guess, .. } = &mut problem.kind {
                    *guess = Some(meant.to_owned());
                }
            }
            problems.push(problem);
        }
        Self::from_entries(entries, path, problems)
    }
}

/// A field that may show a number.
pub(crate) trait Shown {
    fn number(&self) -> Option<&Num> {
        None
    }
}
impl Shown for Num {
    fn number(&self) -> Option<&Num> {
        Some(self)
    }
}
impl Shown for Option<Num> {
    fn number(&self) -> Option<&Num> {
        self.as_ref()
    }
}
impl Shown for super::field::Text {}
impl Shown for Option<super::field::Text> {}
impl Shown for super::field::Nums {}
impl Shown for Option<super::field::Nums> {}

// Behind its keys a section says which of them stand for an effect, with the value that is nothing, and which are read only
// where something else is so.
macro_rules! section {
    (
        $(#[doc = $doc:literal])+
        $name:ident {
            $( $(#[doc = $field_doc:literal])+ $field:ident : $ty:ty = $spec:expr, )+
        }
        $(nothing { $( $effect:ident: $nothing:expr ),+ $(,)? })?
        $(read { $( [$($part:ident),+] if $when:expr ),+ $(,)? })?
    ) => {
        $(#[doc = $doc])+
        #[derive(Debug, Clone, PartialEq)]
        pub struct $name {
            $(
                $(#[doc = $field_doc])+
                #[doc = ""]
                #[doc = concat!("Unit, range, default and its source: `", stringify!($spec), "`.")]
                pub $field: $ty,
            )+
        }

        impl $crate::scenario::section::Section for $name {
            fn doc() -> &'static str {
                concat!($($doc),+).trim_ascii()
            }

            fn keys() -> Vec<$crate::scenario::key::Key> {
                vec![$( $crate::scenario::key::Key {
                    name: stringify!($field),
                    doc: concat!($($field_doc),+),
                    spec: $spec,
                }, )+]
            }

            fn from_entries(
                entries: &[$crate::scenario::node::Entry],
                path: &str,
                problems: &mut Vec<$crate::scenario::problem::Problem>,
            ) -> Self {
                let mut keys = Self::keys().into_iter();
                $name {
                    $( $field: {
                        let key = keys.next().expect("as many keys as fields");
                        let node = entries.iter().find(|e| e.key == key.name).map(|e| &e.node);
                        let path = if path.is_empty() {
                            key.name.to_owned()
                        } else {
                            format!("{path}.{}", key.name)
                        };
                        <$ty as $crate::scenario::field::Field>::read(&key, &path, node, problems)
                    }, )+
                }
            }

            fn each_number(
                &self,
                visit: &mut dyn FnMut(&'static str, $crate::scenario::key::Unit, &$crate::scenario::field::Num),
            ) {
                for key in Self::keys() {
                    if let $crate::scenario::key::Kind::Number { unit, .. } = key.spec.kind {
                        $( if key.name == stringify!($field)
                            && let Some(num) = $crate::scenario::section::Shown::number(&self.$field)
                        {
                            visit(key.name, unit, num);
                        } )+
                    }
                }
            }

            fn check(&self, path: &str, problems: &mut Vec<$crate::scenario::problem::Problem>) {
                use $crate::scenario::field::Field;
                let mut keys = Self::keys().into_iter();
                $( self.$field.check(&keys.next().expect("as many keys as fields"), path, problems); )+
            }

            fn make_plain(&mut self) {
                $($( self.$effect.unless_said($nothing); )+)?
            }

            #[allow(unused_variables)] // A section whose keys are always read.
            fn unused(scenario: &$crate::scenario::Scenario) -> Vec<&'static str> {
                #[allow(unused_mut)]
                let mut unused = Vec::new();
                $($(
                    let when: fn(&$crate::scenario::Scenario) -> bool = $when;
                    if !when(scenario) {
                        $( let $name { $part: _, .. }; unused.push(stringify!($part)); )+
                    }
                )+)?
                unused
            }
        }

        impl Default for $name {
            fn default() -> Self {
                let mut keys = <Self as $crate::scenario::section::Section>::keys().into_iter();
                $name {
                    $( $field: <$ty as $crate::scenario::field::Field>::fallback(
                        &keys.next().expect("as many keys as fields"),
                    ), )+
                }
            }
        }
    };
}
pub(crate) use section;
