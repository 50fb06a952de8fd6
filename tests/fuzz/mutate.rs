//! Texts broken on purpose: bytes, lines, keys and numbers of good ones changed, from a seed.

use sim_tests::dice::Dice;

/// Numbers that nobody means: too large, too small, none, written as other countries write them.
const NUMBERS: [&str; 22] = [
    "nan",
    "-inf",
    "1e308",
    "-1e308",
    "1e-308",
    "5e-324",
    "-0",
    "0",
    "1e9",
    "1e18",
    "9223372036854775807",
    "-9223372036854775808",
    "99999999999999999999",
    "1_000",
    "0x7fff",
    "12,5",
    "1e",
    "3.",
    "+5",
    "0.1e-3",
    "1e15",
    "1979-05-27",
];
/// Bits of syntax.
const BITS: [&str; 22] = [
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "=",
    "\"",
    "\"\"\"",
    "'",
    "#",
    ",",
    ".",
    "\n",
    "\r\n",
    "\u{feff}",
    "\u{0}",
    "\u{1b}[2J",
    "\u{202e}",
    "é",
    "\\u0000",
    ";",
];

/// So many changes.
pub fn mutate(seed: &str, others: &[String], keys: &[String], d: &mut Dice) -> Vec<u8> {
    let mut text = seed.as_bytes().to_vec();
    // Half of them stay texts in good order, with another value here and there: they get as far as the run.
    if d.chance(0.5) {
        for _ in 0..1 + below(d, 3) {
            let at = below(d, text.len());
            another_value(&mut text, at, d);
        }
        return text;
    }
    for _ in 0..d.between(1.0, 7.0) as usize {
        change(&mut text, others, keys, d);
        text.truncate(1 << 16);
    }
    text
}

/// A whole number under `of`.
pub fn below(d: &mut Dice, of: usize) -> usize {
    (d.between(0.0, of as f64) as usize).min(of.saturating_sub(1))
}

/// One of a list.
pub fn one_of<'a, T>(d: &mut Dice, list: &'a [T]) -> &'a T {
    &list[below(d, list.len())]
}

fn change(text: &mut Vec<u8>, others: &[String], keys: &[String], d: &mut Dice) {
    let at = below(d, text.len() + 1);
    let end = (at + 1 + below(d, 40)).min(text.len());
    match below(d, 9) {
        0 if at < text.len() => text[at] ^= 1 << below(d, 8),
        1 => drop(text.drain(at.min(end)..end)),
        2 => {
            let bit = one_of(d, &BITS).bytes();
            drop(text.splice(at..at, bit));
        }
        3 | 4 => number(text, at, d),
        // A line of this text, or of another, once more.
        5 => {
            let from = one_of(d, others).clone();
            let lines: Vec<&str> = from.lines().collect();
            if !lines.is_empty() {
                insert_line(text, at, one_of::<&str>(d, &lines));
            }
        }
        6 if !keys.is_empty() => {
            let line = format!("{} = {}", one_of(d, keys), one_of(d, &NUMBERS));
            insert_line(text, at, &line);
        }
        7 => {
            let other = one_of(d, others).as_bytes();
            let from = below(d, other.len() + 1);
            text.truncate(at);
            text.extend_from_slice(&other[from..]);
        }
        _ => {
            let piece = text[at.min(end)..end].repeat(1 + below(d, 50));
            drop(text.splice(at..at, piece));
        }
    }
}

/// The next number becomes another of its own size, most of the time.
fn another_value(text: &mut Vec<u8>, at: usize, d: &mut Dice) {
    let Some(from) = text.iter().skip(at).position(u8::is_ascii_digit).map(|n| n + at) else { return };
    let to = from + text[from..].iter().take_while(|b| b.is_ascii_digit()).count();
    let old: f64 = std::str::from_utf8(&text[from..to]).ok().and_then(|t| t.parse().ok()).unwrap_or(1.0);
    let times = if d.chance(0.9) { d.between(0.7, 1.4) } else { d.log_between(1e-3, 1e3) };
    drop(text.splice(from..to, format!("{}", (old * times).round()).into_bytes()));
}

/// The next number after a place becomes another, of no size that anybody means.
fn number(text: &mut Vec<u8>, at: usize, d: &mut Dice) {
    let digit = |b: &u8| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'e');
    if let Some(from) = text.iter().skip(at).position(|b| b.is_ascii_digit()).map(|n| n + at) {
        let to = from + text[from..].iter().take_while(|b| digit(b)).count();
        drop(text.splice(from..to, one_of(d, &NUMBERS).bytes()));
    }
}

fn insert_line(text: &mut Vec<u8>, at: usize, line: &str) {
    let at = text.iter().take(at).rposition(|b| *b == b'\n').map_or(0, |n| n + 1);
    drop(text.splice(at..at, format!("{line}\n").into_bytes()));
}
