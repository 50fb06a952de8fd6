//! `tickover why`: runs a scenario and explains why the unit switched; writes no files.

use crate::Exit;
use crate::args::WhyArgs;
use crate::as_far::as_far;
use crate::failure::Failure;
use crate::load::load_from;
use crate::problems::render_warnings;
use crate::progress::while_working;
use crate::report::{Judged, Told, findings, page, why};
use crate::streams::Streams;
use crate::tolerance;
use sim_core::{Options, Record};
use std::io::Write;
use std::sync::OnceLock;

/// Runs the command.
pub fn run(args: &WhyArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let mut loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    let colour = io.err.colour();
    write!(io.err, "{}", render_warnings(&loaded.sources, &loaded.resolved.warnings, colour))?;
    loaded.sources.forget_drives();
    let tolerance = tolerance::of(&loaded.resolved.profile);
    let options = Options { tolerance, record: Record::Bounded, ..Options::default() };
    let run = while_working(io, "simulating", || as_far(&mut loaded, &options))?;
    let judged = Judged::of(&loaded, &run);
    let why = OnceLock::new();
    let told = Told::of(&loaded, &args.scenario.set, &run, &judged, &why);
    while_working(io, "explaining", || told.why());
    let out = &mut io.out;
    page::heading(&told, out)?;
    writeln!(out, "ANSWER")?;
    // A customer asks whether it works; the rest is for whoever mends it.
    let answer = match args.depth {
        why::Depth::Customer => {
            let bad = told.verdict.bad().map(|f| findings::sentence(&told, f));
            [why::yes_or_no(&told)].into_iter().chain(bad).collect()
        }
        _ => page::answer(&told),
    };
    for sentence in answer {
        page::paragraph(out, &sentence)?;
    }
    why::print(&told, args.depth, out)?;
    why::print_switchings(&told, args.depth, out)?;
    writeln!(out)?;
    page::paragraph(
        out,
        "Predicted for these inputs; `tickover glossary` says what a word means. Measure before you change anything.",
    )?;
    Ok(Exit::Done)
}
