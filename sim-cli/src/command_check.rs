//! `tickover check`: everything that is wrong with scenarios, and what is worth a second look.

use crate::Exit;
use crate::args::CheckArgs;
use crate::failure::Failure;
use crate::load::load_from;
use crate::printable::printable;
use crate::problems::{count, render_warnings};
use crate::streams::Streams;
use std::io::Write;

/// Runs the command.
pub fn run(args: &CheckArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let colour = io.err.colour();
    let mut worst = Exit::Done;
    for file in &args.files {
        let piped = file == std::path::Path::new("-");
        let name = if piped { "(standard input)".into() } else { printable(&file.display().to_string()) };
        match load_from(file, &args.set, &mut io.input) {
            Ok(loaded) => {
                if args.quiet {
                    continue;
                }
                let warnings = &loaded.resolved.warnings;
                write!(io.err, "{}", render_warnings(&loaded.sources, warnings, colour))?;
                match warnings.len() {
                    0 => writeln!(io.out, "{name}: no problems")?,
                    n => writeln!(io.out, "{name}: no problems, {}", count(n, "warning"))?,
                }
            }
            Err(Failure::Problems(sources, found)) => {
                let text = crate::problems::render(&sources, &found, colour);
                write!(io.err, "{text}")?;
                writeln!(io.err, "{name}: {}", count(found.len(), "problem"))?;
                worst = Exit::WrongInput;
            }
            Err(other) => {
                let (text, exit) = other.told(colour);
                write!(io.err, "{text}")?;
                worst = if worst == Exit::WrongInput { worst } else { exit };
            }
        }
    }
    Ok(worst)
}
