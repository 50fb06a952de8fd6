//! `tickover new`: a few facts, by questions or flags, become a scenario that runs at once.

use crate::Exit;
use crate::args::NewArgs;
use crate::failure::Failure;
use crate::new::{About, Facts, QUESTIONS, Question, scenario};
use crate::outputs::write_file;
use crate::printable::printable;
use crate::streams::Streams;
use std::io::{BufRead, Read, Write};
use std::path::Path;

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
    // Nobody wants to answer a dozen questions for nothing.
    if !printed && !args.replace && args.out.symlink_metadata().is_ok() {
        return Err(there());
    }
    let mut facts = Facts::default();
    let mut wrong = Vec::new();
    for question in &QUESTIONS {
        if let Some(answer) = given(args, question)
            && let Err(what) = facts.take(question, answer)
        {
            wrong.push(format!("--{}: {what}", question.flag));
        }
    }
    let open = |facts: &Facts| QUESTIONS.iter().filter(|q| facts.said(q.about).is_none()).count();
    let asked = io.asks && open(&facts) > 0;
    if asked {
        // On a terminal an answer that does not fit is asked for again, and the others stay.
        for what in &wrong {
            writeln!(io.err, "{}", printable(what))?;
        }
        writeln!(
            io.err,
            "A few facts for a new scenario. Enter leaves the default that stands in brackets.\n"
        )?;
        for question in &QUESTIONS {
            if facts.said(question.about).is_none() {
                ask(question, &mut facts, io)?;
            }
        }
        while let Some(what) = facts.clash() {
            writeln!(io.err, "{}", printable(&what))?;
            ask(&QUESTIONS[About::TurnOffV as usize], &mut facts, io)?;
        }
    } else {
        wrong.extend(facts.clash());
    }
    if !asked && !wrong.is_empty() {
        return Err(Failure::Usage(wrong.join("; ")));
    }
    let text = scenario(&facts, args.defaults);
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

/// The answer that the command line gives.
fn given<'a>(args: &'a NewArgs, question: &Question) -> Option<&'a str> {
    let said = match question.about {
        About::UnitA => &args.unit_a,
        About::CableM => &args.cable_m,
        About::Cable => &args.cable,
        About::HouseAh => &args.house_ah,
        About::Chemistry => &args.chemistry,
        About::HouseLoadW => &args.house_load_w,
        About::AlternatorA => &args.alternator_a,
        About::Alternator => &args.alternator,
        About::VehicleLoadA => &args.vehicle_load_a,
        About::TurnOnV => &args.turn_on_v,
        About::TurnOffV => &args.turn_off_v,
        About::Signal => &args.signal,
        About::Drive => &args.drive,
    };
    said.as_deref()
}

fn assumed(facts: &Facts) -> Vec<&'static str> {
    QUESTIONS.iter().filter(|q| facts.said(q.about).is_none()).map(|q| q.flag).collect()
}

/// Puts a question until the answer fits.
fn ask(question: &Question, facts: &mut Facts, io: &mut Streams) -> Result<(), Failure> {
    writeln!(io.err, "{}\n  ({})", question.text, question.hint)?;
    loop {
        write!(io.err, "  [{}] ", question.assumed())?;
        io.err.flush()?;
        let mut bytes = Vec::new();
        let read = (&mut *io.input).take(LONGEST_ANSWER).read_until(b'\n', &mut bytes)?;
        if read == 0 {
            return Err(Failure::Usage(format!(
                "the answers ended before the questions; nothing was written. To go on from here: tickover new{}",
                flags(facts)
            )));
        }
        let answer = String::from_utf8_lossy(&bytes).trim().to_owned();
        if answer.is_empty() {
            return Ok(());
        }
        match facts.take(question, &answer) {
            Ok(()) => return Ok(()),
            Err(what) => writeln!(io.err, "  {}", printable(&what))?,
        }
    }
}

/// What has been said, as flags.
fn flags(facts: &Facts) -> String {
    let said = QUESTIONS.iter().filter_map(|q| Some((q.flag, facts.said(q.about)?)));
    said.map(|(flag, value)| {
        if value.contains(' ') { format!(" --{flag} \"{value}\"") } else { format!(" --{flag} {value}") }
    })
    .collect()
}
