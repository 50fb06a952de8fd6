//! What ends a command early, and how it is told.

use crate::Exit;
use crate::load::Sources;
use crate::problems;
use sim_core::RunError;
use sim_core::scenario::Problem;
use std::io::{self, Write};
use std::path::PathBuf;

/// What ends a command early.
#[derive(Debug)]
pub enum Failure {
    /// The scenario is wrong, in these ways.
    Problems(Box<Sources>, Vec<Problem>),
    /// A word on the command line is wrong.
    Usage(String),
    /// A file cannot be read or written.
    File(PathBuf, io::Error),
    /// The reader of our output went away: not a failure.
    Closed,
    /// Output failed.
    Output(io::Error),
    /// The run could not be finished.
    Run(RunError),
    /// A picture could not be drawn.
    Picture(String),
}

impl From<io::Error> for Failure {
    fn from(e: io::Error) -> Self {
        if e.kind() == io::ErrorKind::BrokenPipe { Failure::Closed } else { Failure::Output(e) }
    }
}

impl From<RunError> for Failure {
    fn from(e: RunError) -> Self {
        Failure::Run(e)
    }
}

impl Failure {
    /// Tells it and gives the exit code.
    pub fn report(self, err: &mut dyn Write) -> Exit {
        let (text, exit) = match self {
            Failure::Closed => return Exit::Done,
            Failure::Problems(sources, found) => (problems::render(&sources, &found), Exit::WrongInput),
            Failure::Usage(what) => (format!("error: {what}\n"), Exit::WrongInput),
            Failure::File(path, e) if e.kind() == io::ErrorKind::NotFound => {
                (format!("error: there is no file {}\n", path.display()), Exit::WrongInput)
            }
            Failure::File(path, e) => (format!("error: {}: {e}\n", path.display()), Exit::Failed),
            Failure::Output(e) => (format!("error: output failed: {e}\n"), Exit::Failed),
            Failure::Run(e) => (format!("error: the run could not be finished: {e}\n"), Exit::Failed),
            Failure::Picture(e) => (format!("error: a picture could not be drawn: {e}\n"), Exit::Failed),
        };
        let _ = err.write_all(text.as_bytes());
        exit
    }
}
