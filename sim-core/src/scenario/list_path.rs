//! How a key's path names an entry of a list: by its number, counted from 1 as pages count, or by its label.

use super::node::Node;
use super::problem::guess;

/// Why a path leads to no value.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoEntry {
    /// The number is 0.
    #[error("entries are counted from 1; number 0 is none of them")]
    Zero,
    /// A number beyond the last.
    #[error("there is no number {number}; {}", entries(*.count))]
    NoSuchNumber {
        /// The number asked for.
        number: usize,
        /// Entries that there are.
        count: usize,
    },
    /// A label that no entry has.
    #[error(
        "no entry has the label `{label}`{}; it is named by its number, counted from 1, or by its label",
        .guess.as_ref().map(|g| format!(" (did you mean `{g}`?)")).unwrap_or_default()
    )]
    NoSuchLabel {
        /// The label asked for.
        label: String,
        /// The nearest label.
        guess: Option<String>,
    },
    /// A label of several entries.
    #[error("{} have the label `{label}`; name one by its number", numbered_all(.numbers))]
    SameLabel {
        /// The label asked for.
        label: String,
        /// Numbers of those that have it.
        numbers: Vec<usize>,
    },
    /// A word that is the number of one entry and the label of another.
    #[error("`{word}` is the number of one entry and the label of {}; give that one another label", numbered_all(.numbers))]
    NumberAndLabel {
        /// The word.
        word: String,
        /// Numbers of those that have it as their label.
        numbers: Vec<usize>,
    },
    /// The path goes on behind a number or a text.
    #[error("a part of it is a value and holds no keys")]
    ThroughValue,
}

fn entries(count: usize) -> String {
    match count {
        0 => "the list is empty".to_owned(),
        1 => "there is one entry, number 1".to_owned(),
        n => format!("there are {n} entries, numbers 1 to {n}"),
    }
}

fn numbered_all(numbers: &[usize]) -> String {
    let all: Vec<String> = numbers.iter().map(usize::to_string).collect();
    match all.as_slice() {
        [one] => format!("number {one}"),
        [first @ .., last] => format!("numbers {} and {last}", first.join(", ")),
        [] => "no number".to_owned(),
    }
}

/// The path of a list's entry, from its index: `drive.piece.1` is the first.
pub fn numbered(list: &str, index: usize) -> String {
    format!("{list}.{}", index + 1)
}

/// The path without the numbers of entries: that of the key itself.
pub(crate) fn without_numbers(path: &str) -> String {
    let words: Vec<&str> = path.split('.').filter(|word| word.parse::<usize>().is_err()).collect();
    words.join(".")
}

/// The index of the entry that a word of a path names.
///
/// # Errors
/// [`NoEntry`] where it names none, or more than one.
pub fn entry_of(items: &[Node], word: &str) -> Result<usize, NoEntry> {
    let labelled: Vec<usize> =
        items.iter().enumerate().filter(|(_, i)| i.label() == Some(word)).map(|(n, _)| n).collect();
    let told = |of: &[usize]| of.iter().map(|n| n + 1).collect();
    if let Ok(number) = word.parse::<usize>() {
        let count = items.len();
        let index = number.checked_sub(1).ok_or(NoEntry::Zero)?;
        return match labelled.as_slice() {
            [] if index < count => Ok(index),
            [] => Err(NoEntry::NoSuchNumber { number, count }),
            // A label that looks like a number is understood where both name the same entry.
            [one] if *one == index => Ok(index),
            others => Err(NoEntry::NumberAndLabel { word: word.to_owned(), numbers: told(others) }),
        };
    }
    match labelled.as_slice() {
        [one] => Ok(*one),
        [] => {
            let labels: Vec<&str> = items.iter().filter_map(Node::label).collect();
            Err(NoEntry::NoSuchLabel { label: word.to_owned(), guess: guess(word, &labels) })
        }
        several => Err(NoEntry::SameLabel { label: word.to_owned(), numbers: told(several) }),
    }
}

/// The parts of a path, split at its dots; a part in double quotes may hold dots of its own.
pub fn parts(path: &str) -> Vec<&str> {
    let mut found = Vec::new();
    let (mut begin, mut quoted) = (0, false);
    for (at, letter) in path.char_indices() {
        match letter {
            '"' => quoted = !quoted,
            '.' if !quoted => {
                found.push(bare(&path[begin..at]));
                begin = at + 1;
            }
            _ => {}
        }
    }
    found.push(bare(&path[begin..]));
    found
}

fn bare(part: &str) -> &str {
    let part = part.trim();
    part.strip_prefix('"').and_then(|p| p.strip_suffix('"')).unwrap_or(part)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::node::{Entry, Place, Value};

    const HERE: Place = Place { source: 0, start: 0, end: 1 };

    fn labelled(labels: &[&str]) -> Vec<Node> {
        let node = |value| Node { place: HERE, value };
        let table = |label: &&str| {
            let text = node(Value::Text((*label).to_owned()));
            node(Value::Table(vec![Entry { key: "label".into(), key_place: HERE, node: text }]))
        };
        labels.iter().map(table).collect()
    }

    #[test]
    fn an_entry_is_named_by_its_number_from_1_or_by_its_label() {
        let items = labelled(&["parked", "motorway", "town", "town"]);
        assert_eq!(entry_of(&items, "1"), Ok(0));
        assert_eq!(entry_of(&items, "4"), Ok(3));
        assert_eq!(entry_of(&items, "motorway"), Ok(1));
        let told = |word: &str| entry_of(&items, word).expect_err(word).to_string();
        assert!(told("0").contains("counted from 1"));
        assert!(told("5").contains("numbers 1 to 4"));
        assert!(told("motorwya").contains("did you mean `motorway`?"));
        assert!(told("town").contains("numbers 3 and 4 have the label"));
    }

    #[test]
    fn a_label_that_looks_like_a_number_is_never_taken_for_another_entry() {
        let items = labelled(&["2", "parked", "3"]);
        assert_eq!(entry_of(&items, "3"), Ok(2), "the third is labelled 3");
        assert_eq!(entry_of(&items, "1"), Ok(0));
        let told = entry_of(&items, "2").expect_err("two are meant").to_string();
        assert!(told.contains("the label of number 1"), "{told}");
    }

    #[test]
    fn a_path_is_split_at_its_dots_but_not_within_quotes() {
        assert_eq!(parts("input_cable.length_m"), ["input_cable", "length_m"]);
        assert_eq!(parts("drive.piece.\"no. 2\".engine_rpm"), ["drive", "piece", "no. 2", "engine_rpm"]);
        assert_eq!(parts("drive . piece.on the road.engine_rpm")[2], "on the road");
        assert_eq!(parts("a..b"), ["a", "", "b"]);
    }
}
