//! What ends a command early, and how it is told.

use crate::Exit;
use crate::load::Sources;
use crate::printable::printable;
use crate::problems;
use sim_core::RunError;
use sim_core::scenario::Problem;
use sim_core::study::TrialError;
use std::io::{self, ErrorKind, Write};
use std::path::PathBuf;

/// What ends a command early.
#[derive(Debug)]
pub enum Failure {
    /// The scenario is wrong, in these ways.
    Problems(Box<Sources>, Vec<Problem>),
    /// A word on the command line is wrong.
    Usage(String),
    /// A file cannot be read.
    File(PathBuf, io::Error),
    /// A file cannot be written.
    Write(PathBuf, io::Error),
    /// The reader of our output went away: not a failure.
    Closed,
    /// Output failed.
    Output(io::Error),
    /// The run could not be finished.
    Run(RunError),
    /// A picture could not be drawn.
    Picture(String),
    /// A case of a study has no answer.
    Trial(Box<TrialError>),
}

impl From<TrialError> for Failure {
    fn from(e: TrialError) -> Self {
        if let TrialError::Run(e) = e { Failure::Run(e) } else { Failure::Trial(Box::new(e)) }
    }
}

impl From<io::Error> for Failure {
    fn from(e: io::Error) -> Self {
        if e.kind() == ErrorKind::BrokenPipe { Failure::Closed } else { Failure::Output(e) }
    }
}

impl From<RunError> for Failure {
    fn from(e: RunError) -> Self {
        Failure::Run(e)
    }
}

impl Failure {
    /// What is printed of it, and the exit code.
    pub fn told(&self, colour: bool) -> (String, Exit) {
        let line = |what: String, exit| (format!("error: {}\n", printable(&what)), exit);
        match self {
            Failure::Closed => (String::new(), Exit::Done),
            Failure::Problems(sources, found) => {
                let text = problems::render(sources, found, colour);
                (format!("{text}{}.\n", problems::count(found.len(), "problem")), Exit::WrongInput)
            }
            Failure::Usage(what) => line(what.clone(), Exit::WrongInput),
            Failure::File(path, e) => {
                let path = path.display();
                match e.kind() {
                    ErrorKind::NotFound => line(format!("there is no file {path}"), Exit::WrongInput),
                    ErrorKind::InvalidData | ErrorKind::FileTooLarge | ErrorKind::IsADirectory => {
                        line(format!("{path} is no scenario: {e}"), Exit::WrongInput)
                    }
                    _ => line(format!("{path}: {e}"), Exit::Failed),
                }
            }
            Failure::Write(path, e) => {
                line(format!("{} cannot be written: {e}", path.display()), Exit::Failed)
            }
            Failure::Output(e) => line(format!("output failed: {e}"), Exit::Failed),
            Failure::Run(e) => line(format!("the run could not be finished: {e}"), Exit::Failed),
            Failure::Trial(e) => line(e.to_string(), Exit::WrongInput),
            Failure::Picture(e) => line(format!("a picture could not be drawn: {e}"), Exit::Failed),
        }
    }

    /// Tells it and gives the exit code.
    pub fn report(self, err: &mut dyn Write, colour: bool) -> Exit {
        let (text, exit) = self.told(colour);
        let _ = err.write_all(text.as_bytes());
        exit
    }
}
