//! Words of a page, wrapped and indented.

use std::io::{self, Write};
use textwrap::{Options, WordSeparator, WordSplitter, WrapAlgorithm};

/// Widest line of a page, characters.
pub const WIDTH: usize = 100;

/// Prints a paragraph: `first` stands before its first line, `rest` before the others.
///
/// # Errors
/// Whatever the stream says.
pub fn indented(out: &mut dyn Write, text: &str, first: &str, rest: &str) -> io::Result<()> {
    // A page breaks between words alone: a key or a command that is cut in two cannot be copied.
    let options = Options::new(WIDTH)
        .word_separator(WordSeparator::AsciiSpace)
        .word_splitter(WordSplitter::NoHyphenation)
        .wrap_algorithm(WrapAlgorithm::FirstFit)
        .break_words(false)
        .initial_indent(first)
        .subsequent_indent(rest);
    let one_line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for line in textwrap::wrap(&one_line, options) {
        writeln!(out, "{line}")?;
    }
    Ok(())
}
