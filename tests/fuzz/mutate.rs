//! What a mutator does to a text: small slips of the pen, evil numbers, words of the format in wrong places, whole stretches
//! doubled, dropped or taken from another text, and plain noise.

use sim_tests::dice::Dice;

/// Numbers, and what stands in their place, that a reader may stumble over.
pub const EVIL: [&str; 38] = [
    "0",
    "-0",
    "-1",
    "1e-320",
    "1e308",
    "-1e308",
    "1e999",
    "nan",
    "inf",
    "-inf",
    "NaN",
    "+5",
    "1,5",
    "1_000",
    "0x10",
    "9007199254740993",
    "18446744073709551616",
    "1e9",
    "1e12",
    "4e-9",
    "0.1",
    "100",
    "101",
    "1e5",
    "true",
    "\"12\"",
    "[]",
    "{}",
    "[1, 2]",
    "1979-05-27",
    "07:32",
    "",
    "''",
    "\"\\u0000\"",
    "{ measured = 1 }",
    "{ measured = 1, plus_minus = 1e9 }",
    "\"../../../x\"",
    "1e-9",
];

/// Pieces of the format where they do not belong.
const BITS: [&str; 30] = [
    "=",
    "\n",
    "\r\n",
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "\"",
    "'",
    "\"\"\"",
    "#",
    ",",
    ".",
    ";",
    "\t",
    " ",
    "\u{0}",
    "\u{1b}[2J",
    "\u{feff}",
    "\u{202e}",
    "é",
    "\u{10ffff}",
    "\\",
    "\\u",
    "=\n",
    "\n\n[",
    "1",
    "e",
];

/// A text after one to twelve changes; `words` are the format's own.
pub fn mutated(seeds: &[String], words: &[String], d: &mut Dice) -> Vec<u8> {
    let mut text = seeds[d.below(seeds.len())].clone().into_bytes();
    let most = if d.once_in(3) { 12 } else { 3 };
    let changes = 1 + d.below(most);
    for _ in 0..changes {
        change(&mut text, seeds, words, d);
    }
    text
}

fn change(text: &mut Vec<u8>, seeds: &[String], words: &[String], d: &mut Dice) {
    let at = d.below(text.len() + 1);
    let longest = if d.once_in(4) { text.len().max(1) } else { 24 };
    let span = d.below(longest) + 1;
    let end = (at + span).min(text.len());
    match d.below(12) {
        0 => {
            if let Some(byte) = text.get_mut(at) {
                *byte ^= 1 << d.below(8);
            }
        }
        1 => drop(text.drain(at..end)),
        2 => {
            let copy = text[at..end].to_vec();
            text.splice(at..at, copy);
        }
        3 => {
            let other = seeds[d.below(seeds.len())].as_bytes();
            let from = d.below(other.len() + 1);
            let to = (from + span).min(other.len());
            text.splice(at..end.min(at + d.below(3)), other[from..to].iter().copied());
        }
        4 => drop(text.splice(at..at, d.of(&BITS).bytes())),
        5 => drop(text.splice(at..at, words[d.below(words.len())].bytes())),
        6 => line(text, d),
        _ => number(text, d),
    }
}

/// Drops, doubles or moves a whole line.
fn line(text: &mut Vec<u8>, d: &mut Dice) {
    let mut lines: Vec<Vec<u8>> = text.split(|b| *b == b'\n').map(<[u8]>::to_vec).collect();
    let (from, to) = (d.below(lines.len()), d.below(lines.len()));
    match d.below(3) {
        0 => drop(lines.remove(from)),
        1 => lines.insert(to, lines[from].clone()),
        _ => lines.swap(from, to),
    }
    *text = lines.join(&b'\n');
}

/// Puts something else where a number stands.
fn number(text: &mut Vec<u8>, d: &mut Dice) {
    let digit = |b: &u8| b.is_ascii_digit() || *b == b'.';
    let begins = |n: usize| digit(&text[n]) && (n == 0 || b" =,\n[".contains(&text[n - 1]));
    let numbers: Vec<usize> = (0..text.len()).filter(|n| begins(*n)).collect();
    let Some(&at) = numbers.get(d.below(numbers.len())) else { return };
    let end = at + text[at..].iter().take_while(|b| digit(b)).count();
    let new = if d.once_in(2) {
        d.of(&EVIL).to_owned()
    } else {
        let old: f64 = String::from_utf8_lossy(&text[at..end]).parse().unwrap_or(1.0);
        (old * [-1.0, 0.1, 0.5, 0.99, 1.01, 2.0, 10.0, 1e3][d.below(8)]).to_string()
    };
    text.splice(at..end, new.bytes());
}
