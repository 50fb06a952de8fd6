//! `tickover merge`: the parts of a sweep, put together.

use super::args::MergeArgs;
use super::part::Label;
use crate::Exit;
use crate::failure::Failure;
use crate::printable::printable;
use crate::streams::Streams;
use std::fs::File;
use std::io::{BufRead, BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};

/// One part, opened behind its head.
struct Opened {
    path: PathBuf,
    label: Label,
    columns: String,
    lines: BufReader<File>,
}

/// Runs the command.
pub fn run(args: &MergeArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let mut parts = args.parts.iter().map(|p| open(p)).collect::<Result<Vec<_>, _>>()?;
    parts.sort_by_key(|p| p.label.part.k);
    belong_together(&parts)?;
    let jobs = parts[0].label.jobs;
    let name = args.out.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let beside = args.out.with_file_name(format!(".{name}.{}.part", std::process::id()));
    let result = write(&mut parts, jobs, &beside, &args.out);
    if result.is_err() {
        let _ = std::fs::remove_file(&beside);
    }
    result?;
    if !args.quiet {
        let (count, path) = (parts.len(), args.out.display().to_string());
        writeln!(io.out, "{jobs} runs of {count} parts\n\nWRITTEN\n  {}", printable(&path))?;
    }
    Ok(Exit::Done)
}

fn open(path: &Path) -> Result<Opened, Failure> {
    let failed = |e| Failure::File(path.into(), e);
    let mut lines = BufReader::with_capacity(1 << 17, File::open(path).map_err(failed)?);
    let mut line = String::new();
    lines.read_line(&mut line).map_err(failed)?;
    let label = line.trim_end().parse().map_err(|()| {
        Failure::Usage(format!("{} is no part of a sweep: its first line does not say which", path.display()))
    })?;
    let mut columns = String::new();
    lines.read_line(&mut columns).map_err(failed)?;
    Ok(Opened { path: path.into(), label, columns, lines })
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

fn write(parts: &mut [Opened], jobs: u64, beside: &Path, whole: &Path) -> Result<(), Failure> {
    let refused = |e| Failure::Write(whole.into(), e);
    let mut out = BufWriter::with_capacity(1 << 17, File::create(beside).map_err(refused)?);
    out.write_all(parts[0].columns.as_bytes()).map_err(refused)?;
    let of = parts.len() as u64;
    let mut line = String::new();
    for job in 0..jobs {
        let part = &mut parts[(job % of) as usize];
        line.clear();
        part.lines.read_line(&mut line).map_err(|e| Failure::File(part.path.clone(), e))?;
        let run = line.split(',').next().and_then(|n| n.parse::<u64>().ok());
        if run != Some(job + 1) || !line.ends_with('\n') {
            let what =
                format!("{} is not whole: run {} is not where it belongs", part.path.display(), job + 1);
            return Err(Failure::Usage(what));
        }
        out.write_all(line.as_bytes()).map_err(refused)?;
    }
    for part in parts {
        line.clear();
        part.lines.read_line(&mut line).map_err(|e| Failure::File(part.path.clone(), e))?;
        if !line.is_empty() {
            return Err(Failure::Usage(format!("{} has more rows than runs", part.path.display())));
        }
    }
    let file = out.into_inner().map_err(|e| refused(e.into_error()))?;
    file.sync_all().and_then(|()| std::fs::rename(beside, whole)).map_err(refused)
}
