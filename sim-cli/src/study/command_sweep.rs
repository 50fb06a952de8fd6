//! `tickover sweep`: many runs, a row for each.

use super::args::SweepArgs;
use super::journal::Journal;
use super::part::{CHECK, Label, Part};
use super::pool::Pool;
use super::population::Population;
use super::table::{self, Tally};
use crate::Exit;
use crate::chart::figures::population::{PopulationData, population};
use crate::chart::write;
use crate::failure::Failure;
use crate::load::{LoadedStudy, StudyWords, load_study};
use crate::outputs::{Place, name_of};
use crate::printable::printable;
use crate::problems::{count, render_warnings};
use crate::progress::while_counting;
use crate::streams::Streams;
use sha2::{Digest, Sha256};
use sim_core::bounds::MOST_RUNS;
use sim_core::study::sweep::Points;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

/// Runs the command.
pub fn run(args: &SweepArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let part = args.shard.as_deref().map_or(Ok(Part::WHOLE), Part::read)?;
    let pool = Pool::new(args.study.threads)?;
    let tolerance = args.study.tolerance;
    let words = StudyWords { set: &args.scenario.set, vary: &args.vary, spread: args.spread, tolerance };
    let study = load_study(&args.scenario.file, words, &mut io.input)?;
    if !args.study.quiet {
        let colour = io.err.colour();
        write!(io.err, "{}", render_warnings(&study.base.sources, &study.base.resolved.warnings, colour))?;
    }
    let sweep = &study.sweep;
    let jobs = sweep.len().filter(|n| *n <= MOST_RUNS).ok_or_else(|| {
        Failure::Usage(format!("this asks for more than {MOST_RUNS} runs: take fewer values, or a sample"))
    })?;
    let columns = table::columns(sweep);
    let head = table::line(&columns)?;
    let label = Label { sweep: fingerprint(&study, &head), jobs, part };
    let table_path = args.out.clone().unwrap_or_else(|| named(&study.stem, part));
    if table_path.extension().is_some_and(|e| e == "png" || e == "svg") {
        let what = format!("--out {} names the table, which is a CSV file", table_path.display());
        return Err(Failure::Usage(format!(
            "{what}; a sample's picture stands beside it under the same name"
        )));
    }
    let table_name = name_of(&table_path)?;
    let place =
        Place::beside(&table_path, args.replace.replace, ("sweep", &study.name), study.inputs.clone())?;
    let pictured = part == Part::WHOLE && matches!(sweep.points, Points::Sample(_));
    let png = name_of(&table_path.with_extension("png"))?;
    let names = [table_name.as_str(), &png];
    place.check(&names[..if pictured { 2 } else { 1 }], &mut io.err)?;
    let journal = Journal::open(&table_path, label.clone(), args.restart)?;
    if journal.damaged() > 0 {
        let lines = count(journal.damaged() as usize, "line");
        let what = format!("{lines} of the journal altered since written: those runs are made again");
        writeln!(io.err, "{what}\n")?;
    }
    let (there, all) = (journal.done(), part.len(jobs));
    if there > 0 && !args.study.quiet {
        writeln!(io.err, "going on with {}: {there} of {all} runs are there\n", table_path.display())?;
    }
    let journal = Mutex::new(journal);
    let done = AtomicU64::new(there);
    while_counting(io, "runs", &done, all, || {
        pool.each(all, |n| -> Result<(), Failure> {
            let lock = || journal.lock().expect("no thread panics with the journal in its hands");
            if lock().has(n) {
                return Ok(());
            }
            let job = sweep.job(part.job(n));
            let line = table::line(&table::row(sweep, &job, &sweep.run(&job)))?;
            lock().add(n, &line)?;
            done.fetch_add(1, Ordering::Relaxed);
            Ok(())
        })
    })?;
    let first = match part {
        Part::WHOLE => head.clone(),
        _ => format!("{label}\n{},{CHECK}\n", head.trim_end_matches('\n')),
    };
    let mut tally = match sweep.points {
        Points::Grid => Tally::new(columns),
        Points::Sample(_) => Tally::of_sample(columns, sweep.vary.len()),
    };
    let mut journal = journal.into_inner().expect("no thread panics with the journal in its hands");
    let mut stage = place.begin(&mut io.err)?;
    journal.table(&mut stage, &table_name, &first, |line| tally.see(line))?;
    let sample = matches!(sweep.points, Points::Sample(_)).then(|| Population::of(&study, &tally));
    if let Some(sample) = sample.as_ref().filter(|_| pictured) {
        stage.add_all(&draw(args, &table_path, &sample.picture(&study))?)?;
    }
    let written = stage.commit(&mut io.err)?;
    journal.remove();
    if !args.study.quiet {
        page(&study, &tally, part, sample.as_ref(), &mut io.out)?;
        writeln!(io.out, "\nWRITTEN")?;
        for path in written {
            writeln!(io.out, "  {}", printable(&path.display().to_string()))?;
        }
    }
    Ok(Exit::Done)
}

fn named(stem: &str, part: Part) -> PathBuf {
    PathBuf::from(match part {
        Part::WHOLE => format!("{stem}-sweep.csv"),
        Part { k, of } => format!("{stem}-sweep.{k}-of-{of}.csv"),
    })
}

/// What everything that decides a row comes to: the same number, the same sweep.
fn fingerprint(study: &LoadedStudy, head: &str) -> String {
    let mut hash = Sha256::new();
    let mut take = |text: &str| {
        hash.update((text.len() as u64).to_le_bytes());
        hash.update(text.as_bytes());
    };
    take(env!("CARGO_PKG_VERSION"));
    take(head);
    take(&format!("{:e}", study.sweep.tolerance));
    study.texts.iter().for_each(|text| take(text));
    hash.finalize().iter().take(16).map(|byte| format!("{byte:02x}")).collect()
}

/// Names and bytes of the pictures that a sample leaves beside its table.
fn draw(args: &SweepArgs, table: &Path, data: &PopulationData) -> Result<Vec<(String, Vec<u8>)>, Failure> {
    let scene = population(data, &args.pictures.theme(), args.pictures.size);
    let failed = |e: write::ChartError| Failure::Picture(e.to_string());
    let name = |extension| name_of(&table.with_extension(extension));
    let mut files = vec![(name("png")?, write::png(&scene, args.pictures.size.scale).map_err(failed)?)];
    if args.pictures.svg {
        files.push((
            name("svg")?,
            write::svg(&scene, args.pictures.size.points_per_px()).map_err(failed)?.into_bytes(),
        ));
    }
    Ok(files)
}

fn page(
    study: &LoadedStudy,
    tally: &Tally,
    part: Part,
    sample: Option<&Population>,
    out: &mut dyn Write,
) -> Result<(), Failure> {
    let whole = if part == Part::WHOLE { String::new() } else { format!(", part {} of {}", part.k, part.of) };
    writeln!(out, "{}: {} runs{whole}", printable(&study.name), tally.rows)?;
    for (verdict, rows) in &tally.verdicts {
        let share = 100.0 * *rows as f64 / tally.rows.max(1) as f64;
        writeln!(out, "  {rows:>9}  {share:>5.1} %  {verdict}")?;
    }
    let told = |row: &[String]| printable(&tally.settings(row));
    match &tally.best {
        [_, Some((gain, row))] => {
            writeln!(
                out,
                "Of the runs without trouble this one charges fastest, {gain:.2} Ah per drive-hour:"
            )?;
            writeln!(out, "  {}", told(row))?;
        }
        [Some((gain, row)), None] => {
            writeln!(
                out,
                "No run is without trouble. This one charges fastest, {gain:.2} Ah per drive-hour:"
            )?;
            writeln!(out, "  {}", told(row))?;
        }
        _ => {}
    }
    if let Some(sample) = sample {
        sample.print(out)?;
    }
    writeln!(out, "The program predicts this for these inputs; verify by measurement.")?;
    Ok(())
}
