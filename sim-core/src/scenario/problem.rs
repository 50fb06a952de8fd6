//! What can be wrong with a scenario: data for whoever prints it.

use super::node::Place;

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// Key path, such as `converter.output_limit_a`; empty for the file as a whole.
    pub path: String,
    /// Where it stands, if it stands anywhere.
    pub place: Option<Place>,
    /// What is wrong.
    pub kind: ProblemKind,
    /// What the key means, or what to do.
    pub help: Option<String>,
}

/// What is wrong.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ProblemKind {
    /// The text is not of its format.
    #[error("{0}")]
    Syntax(String),
    /// A key that nothing takes.
    #[error("unknown key `{key}`{}", did_you_mean(.guess))]
    UnknownKey {
        /// The key.
        key: String,
        /// The nearest known key.
        guess: Option<String>,
        /// Known keys.
        allowed: Vec<String>,
    },
    /// A value of another kind.
    #[error("found {found}, expected {allowed}")]
    WrongKind {
        /// What stands there.
        found: &'static str,
        /// What is allowed.
        allowed: String,
    },
    /// A number outside its range.
    #[error("{value} is out of range, expected {allowed}")]
    OutOfRange {
        /// The number.
        value: f64,
        /// What is allowed.
        allowed: String,
    },
    /// A word that is none of the words allowed.
    #[error("`{value}` is not known, expected {allowed}{}", did_you_mean(.guess))]
    BadChoice {
        /// The word.
        value: String,
        /// What is allowed.
        allowed: String,
        /// The nearest known word.
        guess: Option<String>,
    },
    /// Something that must be there is not.
    #[error("`{what}` is missing")]
    Missing {
        /// What.
        what: String,
    },
    /// Two values that do not go together.
    #[error("{0}")]
    Conflict(String),
    /// Something that is not simulated.
    #[error("{0}")]
    NotSimulated(String),
    /// Another scenario file that cannot be built on.
    #[error("{0}")]
    BuildOn(String),
    /// A drive file that cannot be used.
    #[error("{0}")]
    Drive(String),
}

fn did_you_mean(guess: &Option<String>) -> String {
    guess.as_ref().map(|g| format!(" (did you mean `{g}`?)")).unwrap_or_default()
}

/// The word that somebody may have meant.
pub fn guess<S: AsRef<str>>(word: &str, known: &[S]) -> Option<String> {
    // Nobody mistypes a word into a page of text.
    let known = if word.len() > 64 { &[] } else { known };
    known
        .iter()
        .map(|k| (strsim::jaro_winkler(word, k.as_ref()), k.as_ref()))
        .filter(|(likeness, _)| *likeness > 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, k)| k.to_owned())
}

impl Problem {
    /// A key that nothing takes.
    pub fn unknown<S: AsRef<str>>(path: &str, place: Place, key: &str, allowed: &[S]) -> Problem {
        Problem {
            path: if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") },
            place: Some(place),
            kind: ProblemKind::UnknownKey {
                key: key.to_owned(),
                guess: guess(key, allowed),
                allowed: allowed.iter().map(|a| a.as_ref().to_owned()).collect(),
            },
            help: None,
        }
    }

    /// Two values that do not go together.
    pub fn conflict(path: &str, place: Option<Place>, what: String) -> Problem {
        Problem { path: path.to_owned(), place, kind: ProblemKind::Conflict(what), help: None }
    }
}
