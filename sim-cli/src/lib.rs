//! From a scenario file to an answer: reads files, runs [`sim_core`], prints pages, draws pictures.
//!
//! [`run`] is the whole program with its streams handed in, so that tests need no process.

mod args;
mod as_far;
pub mod bounds;
mod cautions;
pub mod chart;
mod clock;
mod command_check;
mod command_compare;
mod command_distance;
mod command_margins;
mod command_mend;
mod command_model;
mod command_netlist;
mod command_new;
mod command_run;
mod command_shell;
mod command_week;
mod command_why;
mod failure;
mod glossary;
mod keys;
pub mod load;
mod model_numbers;
mod new;
mod numbers;
mod outputs;
mod paragraph;
mod plot_args;
mod printable;
mod problems;
mod progress;
mod report;
mod schema;
mod streams;
mod study;
mod tolerance;

pub use cautions::{CAUTIONS, Caution};
pub use glossary::{GLOSSARY, Term};
pub use printable::Clean;
pub use streams::Streams;

use clap::Parser;
pub use failure::Failure;
use std::ffi::OsString;
use std::io::Write;

/// Exit codes, a contract.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Exit {
    /// Done.
    Done = 0,
    /// Something failed: the disk, or a run that could not be finished.
    Failed = 1,
    /// The input is wrong: a file, a key, a word on the command line.
    WrongInput = 2,
    /// Done, and a limit that the scenario sets is broken.
    LimitBroken = 3,
}

/// Runs the program with its arguments, the program's name first; nothing is read from standard input.
pub fn run(args: impl IntoIterator<Item = OsString>, out: &mut dyn Write, err: &mut dyn Write) -> Exit {
    run_with(args, &mut Streams::plain(&mut std::io::empty(), out, err))
}

/// Runs the program with its arguments, the program's name first, on these streams.
pub fn run_with(args: impl IntoIterator<Item = OsString>, io: &mut Streams) -> Exit {
    let parsed = match args::Args::try_parse_from(args) {
        Ok(parsed) => parsed,
        Err(e) => {
            let asked = !e.use_stderr();
            let stream = if asked { &mut io.out } else { &mut io.err };
            let text = e.render();
            let _ =
                if stream.colour() { write!(stream, "{}", text.ansi()) } else { write!(stream, "{text}") };
            let _ = stream.flush();
            return if asked { Exit::Done } else { Exit::WrongInput };
        }
    };
    let result = match &parsed.command {
        args::Command::New(args) => command_new::run(args, io),
        args::Command::Run(args) => command_run::run(args, io),
        args::Command::Week(args) => command_week::run(args, io),
        args::Command::Why(args) => command_why::run(args, io),
        args::Command::Glossary(args) => glossary::run(args, &mut io.out),
        args::Command::Check(args) => command_check::run(args, io),
        args::Command::Model(args) => command_model::run(args, io),
        args::Command::Keys(args) => keys::run(args, &mut io.out),
        args::Command::Margins(args) => command_margins::run(args, io),
        args::Command::Distance(args) => command_distance::run(args, io),
        args::Command::Mend(args) => command_mend::run(args, io),
        args::Command::Size(args) => study::command_size::run(args, io),
        args::Command::Compare(args) => command_compare::run(args, io),
        args::Command::Schema => schema::run(&mut io.out),
        args::Command::Sweep(args) => study::command_sweep::run(args, io),
        args::Command::Cliff(args) => study::command_cliff::run(args, io),
        args::Command::Map(args) => study::command_map::run(args, io),
        args::Command::Tune(args) => study::command_tune::run(args, io),
        args::Command::Measured(args) => study::command_measured::run(args, io),
        args::Command::Merge(args) => study::command_merge::run(args, io),
        args::Command::Cautions => cautions::run(&mut io.out),
        args::Command::Netlist(args) => command_netlist::run(args, io),
        args::Command::Completions(args) => command_shell::completions(args, &mut io.out),
        args::Command::Man(args) => command_shell::man(args, &mut io.out),
    };
    let exit = match result.and_then(|exit| io.out.flush().map(|()| exit).map_err(Failure::from)) {
        Ok(exit) => exit,
        Err(failure) => {
            let colour = io.err.colour();
            failure.report(&mut io.err, colour)
        }
    };
    let _ = io.err.flush();
    exit
}
