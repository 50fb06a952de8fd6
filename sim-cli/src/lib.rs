//! From a scenario file to an answer: reads files, runs [`sim_core`], prints pages, draws pictures.
//!
//! [`run`] is the whole program with its streams handed in, so that tests need no process.

mod args;
pub mod chart;
mod clock;
mod command_model;
mod command_netlist;
mod command_run;
mod failure;
pub mod load;
mod outputs;
mod plot_args;
mod problems;
mod report;

use clap::Parser;
use failure::Failure;
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

/// Runs the program with its arguments, the program's name first.
pub fn run(args: impl IntoIterator<Item = OsString>, out: &mut dyn Write, err: &mut dyn Write) -> Exit {
    let parsed = match args::Args::try_parse_from(args) {
        Ok(parsed) => parsed,
        Err(e) => {
            let asked = !e.use_stderr();
            let text = e.render();
            let stream: &mut dyn Write = if asked { out } else { err };
            let _ = write!(stream, "{text}");
            return if asked { Exit::Done } else { Exit::WrongInput };
        }
    };
    let result = match &parsed.command {
        args::Command::Run(args) => command_run::run(args, out, err),
        args::Command::Model(args) => command_model::run(args, out),
        args::Command::Netlist(args) => command_netlist::run(args, out),
    };
    match result.and_then(|exit| out.flush().map(|()| exit).map_err(Failure::from)) {
        Ok(exit) => exit,
        Err(failure) => failure.report(err),
    }
}
