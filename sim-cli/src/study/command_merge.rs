//! `tickover merge`: the parts of a sweep, put together.

use super::args::MergeArgs;
use super::part::{CHECK, Label, Line, read_line};
use crate::Exit;
use crate::failure::Failure;
use crate::outputs::{Place, Stage, name_of};
use crate::printable::printable;
use crate::streams::Streams;
use std::fs::File;
use std::io::{BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};

/// One part, opened behind its head.
struct Opened {
    path: PathBuf,
    label: Label,
    columns: String,
    lines: BufReader<File>,
    /// Number of the line read last.
    last: u64,
}

/// Runs the command.
pub fn run(args: &MergeArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let mut parts = args.parts.iter().map(|p| open(p)).collect::<Result<Vec<_>, _>>()?;
    parts.sort_by_key(|p| p.label.part.k);
    belong_together(&parts)?;
    let jobs = parts[0].label.jobs;
    let name = name_of(&args.out)?;
    let inputs = args.parts.clone();
    let place = Place::beside(&args.out, args.replace.replace, ("merge", &name), inputs)?;
    place.check(&[&name], &mut io.err)?;
    let mut stage = place.begin(&mut io.err)?;
    write(&mut parts, jobs, &mut stage, &name)?;
    stage.commit(&mut io.err)?;
    if !args.quiet {
        let (count, path) = (parts.len(), args.out.display().to_string());
        writeln!(io.out, "{jobs} runs of {count} parts\n\nWRITTEN\n  {}", printable(&path))?;
    }
    Ok(Exit::Done)
}

fn open(path: &Path) -> Result<Opened, Failure> {
    let failed = |e| Failure::File(path.into(), e);
    let mut lines = BufReader::with_capacity(1 << 17, File::open(path).map_err(failed)?);
    let mut line = Vec::new();
    let mut next = || -> Result<Option<String>, Failure> {
        let whole = read_line(&mut lines, &mut line).map_err(failed)? == Line::Whole;
        Ok(std::str::from_utf8(&line).ok().filter(|_| whole).map(|l| l.trim_end_matches('\n').to_owned()))
    };
    let label = next()?.and_then(|l| l.parse().ok()).ok_or_else(|| {
        let what = "is no part of a sweep: its first line does not say which, or was altered";
        Failure::Usage(format!("{} {what}", path.display()))
    })?;
    let columns = next()?.and_then(|l| Some(l.strip_suffix(CHECK)?.strip_suffix(',')?.to_owned()));
    let columns = columns.ok_or_else(|| {
        Failure::Usage(format!("{} is no part of a sweep: its columns were altered", path.display()))
    })?;
    Ok(Opened { path: path.into(), label, columns, lines, last: 2 })
}

/// Whether parts, sorted by their numbers, are those of one sweep, each once and all there.
fn belong_together(parts: &[Opened]) -> Result<(), Failure> {
    let usage = |what: String| Err(Failure::Usage(what));
    let first = &parts[0];
    for other in &parts[1..] {
        let same = (&first.label.sweep, first.label.jobs, first.label.part.of, &first.columns)
            == (&other.label.sweep, other.label.jobs, other.label.part.of, &other.columns);
        if !same {
            let (a, b) = (first.path.display(), other.path.display());
            return usage(format!("{a} and {b} are not parts of one sweep"));
        }
    }
    if let Some(pair) = parts.windows(2).find(|p| p[0].label.part.k == p[1].label.part.k) {
        let (a, b) = (pair[0].path.display(), pair[1].path.display());
        return usage(format!("{a} and {b} are the same part"));
    }
    let of = first.label.part.of;
    let missing: Vec<String> = (1..=of)
        .filter(|k| !parts.iter().any(|p| p.label.part.k == *k))
        .take(20)
        .map(|k| k.to_string())
        .collect();
    if missing.is_empty() {
        return Ok(());
    }
    usage(format!("of {of} parts these are missing: {}", missing.join(", ")))
}

fn write(parts: &mut [Opened], jobs: u64, stage: &mut Stage, name: &str) -> Result<(), Failure> {
    let refused = |e| Failure::Write(name.into(), e);
    let mut out = BufWriter::with_capacity(1 << 17, stage.create(name).map_err(refused)?);
    writeln!(out, "{}", parts[0].columns).map_err(refused)?;
    let of = parts.len() as u64;
    let mut line = Vec::new();
    for job in 0..jobs {
        let part = &mut parts[(job % of) as usize];
        let run = job + 1;
        let wrong = |last: u64, what: String| {
            Err(Failure::Usage(format!("{}, line {last}: {what}", part.path.display())))
        };
        let read = read_line(&mut part.lines, &mut line).map_err(|e| Failure::File(part.path.clone(), e))?;
        part.last += 1;
        match (read, part.label.opened(&line)) {
            (Line::End | Line::Short, _) => {
                return wrong(part.last, format!("the part is not whole: run {run} is missing or cut short"));
            }
            (_, None) => {
                return wrong(
                    part.last,
                    "the row was altered, or is of another sweep: its check does not fit".into(),
                );
            }
            (_, Some((found, _))) if found != run => {
                return wrong(part.last, format!("run {found} stands where run {run} belongs"));
            }
            (_, Some((_, row))) => writeln!(out, "{row}").map_err(refused)?,
        }
    }
    for part in parts {
        if read_line(&mut part.lines, &mut line).map_err(|e| Failure::File(part.path.clone(), e))?
            != Line::End
        {
            return Err(Failure::Usage(format!("{} has more rows than runs", part.path.display())));
        }
    }
    let file = out.into_inner().map_err(|e| refused(e.into_error()))?;
    stage.take(name, file).map_err(refused)
}
