//! Reading texts that may be anything: bounded in size and nesting before a parser sees them.

use std::io::{self, ErrorKind, Read};
use std::path::Path;

/// Deepest nesting of brackets, and most parts of a dotted key.
const DEEPEST: usize = 32;

/// Text of a named file: an ordinary file, in UTF-8, no larger than `largest` bytes.
pub fn read_file(path: &Path, largest: u64) -> io::Result<String> {
    let kind = std::fs::metadata(path)?;
    if kind.is_dir() {
        return Err(io::Error::new(ErrorKind::IsADirectory, "it is a folder"));
    }
    if !kind.is_file() {
        return Err(io::Error::new(ErrorKind::InvalidData, "it is not an ordinary file"));
    }
    read_stream(&mut std::fs::File::open(path)?, largest)
}

/// Text of a file or pipe that somebody named on the command line.
pub fn read_named(path: &Path, largest: u64) -> io::Result<String> {
    if std::fs::metadata(path)?.is_dir() {
        return Err(io::Error::new(ErrorKind::IsADirectory, "it is a folder"));
    }
    read_stream(&mut std::fs::File::open(path)?, largest)
}

/// Text of a stream; a byte-order mark is no part of it.
pub fn read_stream(stream: &mut dyn Read, largest: u64) -> io::Result<String> {
    let mut bytes = Vec::new();
    stream.take(largest + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > largest {
        let what = format!("it is larger than {} MB", largest >> 20);
        return Err(io::Error::new(ErrorKind::FileTooLarge, what));
    }
    let text = String::from_utf8(bytes).map_err(|e| {
        let what = format!("it is not text in UTF-8 (byte {})", e.utf8_error().valid_up_to());
        io::Error::new(ErrorKind::InvalidData, what)
    })?;
    Ok(text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text))
}

/// Where a TOML text is nested deeper than a scenario can be; parsers call themselves for each level.
pub fn too_deep(text: &str) -> Option<usize> {
    let bytes = text.as_bytes();
    let (mut depth, mut dots, mut at) = (0_usize, 0_usize, 0_usize);
    while at < bytes.len() {
        match bytes[at] {
            b'#' => at += bytes[at..].iter().position(|b| *b == b'\n').unwrap_or(bytes.len() - at),
            quote @ (b'"' | b'\'') => {
                at = after_string(bytes, at, quote);
                continue;
            }
            b'[' | b'{' => {
                depth += 1;
                dots = 0;
            }
            b']' | b'}' => depth = depth.saturating_sub(1),
            b',' | b'=' | b'\n' => dots = 0,
            b'.' => dots += 1,
            _ => {}
        }
        if depth > DEEPEST || dots > DEEPEST {
            return Some(at);
        }
        at += 1;
    }
    None
}

/// First byte after a string that begins at `at`; an open one ends with its line, as it does for the parser.
fn after_string(bytes: &[u8], at: usize, quote: u8) -> usize {
    let triple = [quote; 3];
    let long = bytes[at..].starts_with(&triple);
    let mut n = at + if long { 3 } else { 1 };
    while n < bytes.len() {
        match bytes[n] {
            b'\\' if quote == b'"' => n += 1,
            b'\n' if !long => return n,
            b if b == quote && !long => return n + 1,
            b if b == quote && bytes[n..].starts_with(&triple) => return n + 3,
            _ => {}
        }
        n += 1;
    }
    bytes.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn depth_is_told_and_strings_and_comments_do_not_count() {
        let deep = "[".repeat(10_000);
        assert_eq!(too_deep(&format!("a = {deep}")), Some(4 + DEEPEST));
        assert_eq!(too_deep(&format!("a = \"{deep}\" # {deep}\nb = '''\n{deep}'''\n")), None);
        assert!(too_deep(&vec!["a"; 10_000].join(".")).is_some());
        assert!(too_deep(&format!("a = \"open\nb = {deep}")).is_some());
        assert_eq!(too_deep("kmh = [1.5, 2.5, 3.5]\n".repeat(100).as_str()), None);
    }
}
