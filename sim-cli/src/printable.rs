//! Text of strangers, file names included, on its way to a terminal, a table or a picture: what is no letter stays behind.

use crate::failure::Failure;
use std::borrow::Cow;
use std::fmt::Write as _;
use std::io::{self, Write};

/// Longest text of a message that is shown whole, characters.
const LONGEST: usize = 400;

/// Whether a character could steer a terminal, turn the text around, break its line, stand in it unseen, or is none that
/// XML takes.
fn steers(c: char) -> bool {
    match c {
        ' '..='~' => false,
        // Soft hyphen, marks of direction, spaces of no width, ends of lines and paragraphs, joiners, marks of byte order.
        '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' => true,
        '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e0fff}' => true,
        // Numbers that are no characters.
        '\u{fdd0}'..='\u{fdef}' => true,
        c => c.is_control() || u32::from(c) & 0xfffe == 0xfffe,
    }
}

/// Text with nothing in it but what can be seen, ends of lines and tabs.
pub fn visible(text: &str) -> Cow<'_, str> {
    let harmless = |c: char| !steers(c) || c == '\n' || c == '\t';
    if text.chars().all(harmless) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(text.chars().map(|c| if harmless(c) { c } else { '\u{fffd}' }).collect())
}

/// JSON with the same characters written as numbers: it says the same. Outside of its strings there are none.
pub fn json_text(value: &impl serde::Serialize) -> Vec<u8> {
    let plain = serde_json::to_string_pretty(value).unwrap_or_default();
    let mut text = String::with_capacity(plain.len() + 1);
    for c in plain.chars() {
        if steers(c) && c != '\n' {
            for half in c.encode_utf16(&mut [0; 2]) {
                let _ = write!(text, "\\u{half:04x}");
            }
        } else {
            text.push(c);
        }
    }
    text.push('\n');
    text.into_bytes()
}

/// A table as CSV.
///
/// # Errors
/// [`Failure::Output`], which memory never gives.
pub fn csv_table<R>(rows: impl IntoIterator<Item = R>) -> Result<Vec<u8>, Failure>
where
    R: IntoIterator,
    R::Item: AsRef<str>,
{
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        for cell in row {
            writer.write_field(visible(cell.as_ref()).as_bytes()).map_err(|e| Failure::Output(e.into()))?;
        }
        writer.write_record(None::<&[u8]>).map_err(|e| Failure::Output(e.into()))?;
    }
    writer.into_inner().map_err(|e| Failure::Output(e.into_error()))
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
            let end = rest[c.len_utf8()..].find('\u{1b}').map_or(rest.len(), |n| n + c.len_utf8());
            clean.push_str(&visible(&rest[..end]));
            rest = &rest[end..];
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
    fn tables_and_json_carry_what_can_be_seen() {
        let hostile = "a\u{7}b\u{85}c\u{2029}d\u{202e}e\u{200d}f\u{feff}g\u{fffe}h\u{1ffff}i\u{7f}, Ω é 🚐";
        let shown =
            "a\u{fffd}b\u{fffd}c\u{fffd}d\u{fffd}e\u{fffd}f\u{fffd}g\u{fffd}h\u{fffd}i\u{fffd}, Ω é 🚐";
        let table = csv_table([["1", hostile]]).expect("a table");
        assert_eq!(String::from_utf8(table).expect("text"), format!("1,\"{shown}\"\n"));
        let text = String::from_utf8(json_text(&[hostile])).expect("text");
        assert_eq!(visible(&text), text.as_str());
        let back: Vec<String> = serde_json::from_str(&text).expect("JSON");
        assert_eq!(back, [hostile]);
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
