//! `tickover completions` and `tickover man`: what shells and readers of manuals want.

use crate::Exit;
use crate::args::{Args, CompletionsArgs, ManArgs};
use crate::failure::Failure;
use clap::CommandFactory;
use std::io::Write;

/// Prints a completion script.
pub fn completions(args: &CompletionsArgs, out: &mut dyn Write) -> Result<Exit, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Args::command(), "tickover", &mut script);
    out.write_all(&script)?;
    Ok(Exit::Done)
}

/// Prints a man page.
pub fn man(args: &ManArgs, out: &mut dyn Write) -> Result<Exit, Failure> {
    let mut program = Args::command();
    program.build();
    let command = match &args.command {
        None => program,
        Some(name) => {
            let known: Vec<&str> = program.get_subcommands().map(clap::Command::get_name).collect();
            let Some(found) = program.find_subcommand(name) else {
                let what = format!("there is no command `{name}`; there are {}", known.join(", "));
                return Err(Failure::Usage(what));
            };
            found.clone().name(format!("tickover-{}", found.get_name()).leak() as &str)
        }
    };
    let mut page = Vec::new();
    clap_mangen::Man::new(command).render(&mut page)?;
    out.write_all(&page)?;
    Ok(Exit::Done)
}
