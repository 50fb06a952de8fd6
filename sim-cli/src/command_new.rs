//! `tickover new`: a few facts, by questions or flags, become a scenario that runs at once.

use crate::Exit;
use crate::args::NewArgs;
use crate::failure::Failure;
use crate::new::{Facts, QUESTIONS, Question, name, scenario};
use crate::outputs::write_file;
use crate::printable::printable;
use crate::streams::Streams;
use std::io::{BufRead, Read, Write};
use std::path::Path;

/// How often a question is put before the program gives up.
const PATIENCE: usize = 3;
/// Longest answer that is read, bytes.
const LONGEST_ANSWER: u64 = 1000;

/// Runs the command.
pub fn run(args: &NewArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let printed = args.out == Path::new("-");
    let there = || {
        let file = args.out.display();
        Failure::Usage(format!(
            "{file} is there already; name another with --out, or replace it with --replace"
        ))
    };
    // Nobody wants to answer six questions for nothing.
    if !printed && !args.replace && args.out.symlink_metadata().is_ok() {
        return Err(there());
    }
    let mut facts = Facts::default();
    let given = given(args);
    for (question, answer) in QUESTIONS.iter().zip(&given) {
        if let Some(answer) = answer {
            let wrong = |what| Failure::Usage(format!("--{}: {what}", question.flag));
            (question.take)(&mut facts, answer).map_err(wrong)?;
        }
    }
    if io.asks && given.iter().any(Option::is_none) {
        writeln!(io.err, "A few facts for a new scenario. Enter takes what stands in brackets.\n")?;
        for (question, _) in QUESTIONS.iter().zip(&given).filter(|(_, answer)| answer.is_none()) {
            ask(question, &mut facts, io)?;
        }
    }
    let text = scenario(&facts);
    if printed {
        write!(io.out, "{text}")?;
        return Ok(Exit::Done);
    }
    match write_file(&args.out, text.as_bytes(), args.replace) {
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => return Err(there()),
        other => other.map_err(|e| Failure::Write(args.out.clone(), e))?,
    }
    let assumed: Vec<&str> = assumed(&facts);
    let file = printable(&args.out.display().to_string());
    writeln!(io.out, "Written: {file}")?;
    if !assumed.is_empty() {
        writeln!(io.out, "Assumed, since nobody said: {}.", assumed.join(", "))?;
    }
    writeln!(
        io.out,
        "Next:\n  tickover run {file}      the answer on one page, and pictures\n  \
         tickover check {file}    after you have changed it"
    )?;
    Ok(Exit::Done)
}

/// Answers of the command line, in the order of the questions.
fn given(args: &NewArgs) -> [Option<String>; 6] {
    [
        args.unit_a.clone(),
        args.run_m.clone(),
        args.run_mm2.clone(),
        args.house_ah.clone(),
        args.alternator.map(name),
        args.drive.map(name),
    ]
}

fn assumed(facts: &Facts) -> Vec<&'static str> {
    let stated = [
        facts.unit_a.stated,
        facts.run_m.stated,
        facts.run_mm2.stated,
        facts.house_ah.stated,
        facts.alternator.stated,
        facts.drive.stated,
    ];
    QUESTIONS.iter().zip(stated).filter(|(_, stated)| !stated).map(|(q, _)| q.flag).collect()
}

fn ask(question: &Question, facts: &mut Facts, io: &mut Streams) -> Result<(), Failure> {
    let assumed = (question.assumed)(facts);
    writeln!(io.err, "{}\n  ({})", question.text, question.hint)?;
    for _ in 0..PATIENCE {
        write!(io.err, "  [{assumed}] ")?;
        io.err.flush()?;
        let mut bytes = Vec::new();
        let read = (&mut *io.input).take(LONGEST_ANSWER).read_until(b'\n', &mut bytes)?;
        if read == 0 {
            return Err(Failure::Usage("the answers ended before the questions; nothing was written".into()));
        }
        let answer = String::from_utf8_lossy(&bytes).trim().to_owned();
        if answer.is_empty() {
            return Ok(());
        }
        match (question.take)(facts, &answer) {
            Ok(()) => return Ok(()),
            Err(what) => writeln!(io.err, "  {}", printable(&what))?,
        }
    }
    Err(Failure::Usage(format!("no answer that can be used for --{}; nothing was written", question.flag)))
}
