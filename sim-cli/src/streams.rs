//! The streams of one run of the program, and what is at their far ends.

use crate::printable::Clean;
use std::io::{BufRead, IsTerminal, Write};

/// Where input comes from and output goes to.
pub struct Streams<'a> {
    /// Standard input.
    pub input: &'a mut dyn BufRead,
    /// Standard output.
    pub out: Clean<'a>,
    /// Standard error.
    pub err: Clean<'a>,
    /// Somebody sits at the input and can be asked.
    pub asks: bool,
    /// Somebody watches standard error, so that progress is worth showing.
    pub watched: bool,
}

impl<'a> Streams<'a> {
    /// Streams with nobody at their ends: no questions, no colours, no progress.
    pub fn plain(input: &'a mut dyn BufRead, out: &'a mut dyn Write, err: &'a mut dyn Write) -> Self {
        Streams {
            input,
            out: Clean::new(out, false),
            err: Clean::new(err, false),
            asks: false,
            watched: false,
        }
    }

    /// The streams of this process. Colour goes to terminals alone, and not where `NO_COLOR` is set.
    pub fn of_process(input: &'a mut dyn BufRead, out: &'a mut dyn Write, err: &'a mut dyn Write) -> Self {
        let wanted = std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty())
            && std::env::var_os("TERM").is_none_or(|v| v != "dumb");
        let (to_terminal, watched) = (std::io::stdout().is_terminal(), std::io::stderr().is_terminal());
        Streams {
            input,
            out: Clean::new(out, wanted && to_terminal),
            err: Clean::new(err, wanted && watched),
            asks: std::io::stdin().is_terminal() && watched,
            watched,
        }
    }
}
