//! Text of strangers on its way to a terminal: control characters stay behind, file names included.

use std::io::{self, Write};

/// Longest text of a message that is shown whole, characters.
const LONGEST: usize = 400;

/// Whether a character could steer a terminal or turn the text around.
fn steers(c: char) -> bool {
    c.is_control() || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// One line of text that is safe to show; a long one loses its middle.
pub fn printable(text: &str) -> String {
    shortened(text, LONGEST)
}

/// As [`printable`], with at most so many characters left of it.
pub fn shortened(text: &str, most: usize) -> String {
    let show = |c: char| if steers(c) { '\u{fffd}' } else { c };
    if text.chars().count() <= most {
        return text.chars().map(show).collect();
    }
    let head: String = text.chars().take(most / 2).map(show).collect();
    let tail: Vec<char> = text.chars().rev().take(most / 2).map(show).collect();
    format!("{head} … {}", tail.into_iter().rev().collect::<String>())
}

/// A stream to a reader: control characters other than line ends and tabs are replaced.
///
/// Colours pass where they are wanted; text of strangers has been made printable by then.
pub struct Clean<'a> {
    inner: &'a mut dyn Write,
    colour: bool,
    held: Vec<u8>,
}

impl<'a> Clean<'a> {
    /// Wraps a stream.
    pub fn new(inner: &'a mut dyn Write, colour: bool) -> Self {
        Clean { inner, colour, held: Vec::new() }
    }

    /// Whether colours pass.
    pub fn colour(&self) -> bool {
        self.colour
    }

    /// The stream itself, for the program's own cursor movements.
    pub fn raw(&mut self) -> &mut dyn Write {
        self.inner
    }

    fn pass(&mut self, end: usize) -> io::Result<()> {
        let held: Vec<u8> = self.held.drain(..end).collect();
        let text = String::from_utf8_lossy(&held);
        let mut clean = String::with_capacity(text.len());
        let mut rest = text.as_ref();
        while let Some(c) = rest.chars().next() {
            let style = if self.colour && c == '\u{1b}' { style_len(rest) } else { 0 };
            if style > 0 {
                clean.push_str(&rest[..style]);
                rest = &rest[style..];
                continue;
            }
            clean.push(if steers(c) && c != '\n' && c != '\t' { '\u{fffd}' } else { c });
            rest = &rest[c.len_utf8()..];
        }
        self.inner.write_all(clean.as_bytes())
    }
}

/// Length of the colour sequence that a text begins with, or 0.
fn style_len(text: &str) -> usize {
    let Some(body) = text.strip_prefix("\u{1b}[") else { return 0 };
    let digits = body.bytes().take_while(|b| b.is_ascii_digit() || *b == b';').count();
    if body[digits..].starts_with('m') { 2 + digits + 1 } else { 0 }
}

impl Write for Clean<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.held.extend_from_slice(bytes);
        // Whole lines only: a character may arrive in two halves.
        if let Some(end) = self.held.iter().rposition(|b| *b == b'\n') {
            self.pass(end + 1)?;
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.pass(self.held.len())?;
        self.inner.flush()
    }
}

impl Drop for Clean<'_> {
    fn drop(&mut self) {
        let _ = self.flush();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn through(text: &str, colour: bool) -> String {
        let mut out = Vec::new();
        let mut clean = Clean::new(&mut out, colour);
        for byte in text.as_bytes() {
            clean.write_all(&[*byte]).expect("memory takes it");
        }
        drop(clean);
        String::from_utf8(out).expect("text")
    }

    #[test]
    fn nothing_that_steers_a_terminal_gets_through() {
        let hostile = "a\u{1b}[2Jb\u{7}\u{9b}31m\u{202e}c\tmΩ\r\n";
        assert_eq!(through(hostile, false), "a\u{fffd}[2Jb\u{fffd}\u{fffd}31m\u{fffd}c\tmΩ\u{fffd}\n");
        assert_eq!(
            through("\u{1b}[1;31mred\u{1b}[0m \u{1b}[2J\n", true),
            "\u{1b}[1;31mred\u{1b}[0m \u{fffd}[2J\n"
        );
        assert_eq!(printable("van\u{1b}]0;x\u{7}.toml"), "van\u{fffd}]0;x\u{fffd}.toml");
        assert_eq!(printable(&"k".repeat(1_000_000)).chars().count(), LONGEST + 3);
    }
}
