//! `tickover sweep`: many runs, a row for each.

use super::args::SweepArgs;
use super::journal::Journal;
use super::part::{Label, Part};
use super::pool::Pool;
use super::table::{self, KEPT, Tally};
use crate::Exit;
use crate::failure::Failure;
use crate::load::{LoadedStudy, load_study};
use crate::printable::printable;
use crate::problems::render_warnings;
use crate::progress::while_counting;
use crate::streams::Streams;
use sha2::{Digest, Sha256};
use sim_core::scenario::field::Origin;
use sim_core::study::population::{moves, quantile, share_between};
use sim_core::study::sweep::Points;
use std::io::Write;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

/// Most runs of one sweep: each costs eight bytes of memory while it lasts.
const MOST: u64 = 100_000_000;

/// Runs the command.
pub fn run(args: &SweepArgs, io: &mut Streams) -> Result<Exit, Failure> {
    check_tolerance(args.study.tolerance)?;
    let part = args.shard.as_deref().map_or(Ok(Part::WHOLE), Part::read)?;
    let pool = Pool::new(args.study.threads)?;
    let tolerance = args.study.tolerance;
    let study = load_study(&args.scenario.file, &args.scenario.set, &args.vary, tolerance, &mut io.input)?;
    if !args.study.quiet {
        let colour = io.err.colour();
        write!(io.err, "{}", render_warnings(&study.base.sources, &study.base.resolved.warnings, colour))?;
    }
    let sweep = &study.sweep;
    let jobs = sweep.len().filter(|n| *n <= MOST).ok_or_else(|| {
        Failure::Usage(format!("this asks for more than {MOST} runs: take fewer values, or a sample"))
    })?;
    let columns = table::columns(sweep);
    let head = table::line(&columns)?;
    let label = Label { sweep: fingerprint(&study, &head), jobs, part };
    let table_path = args.out.clone().unwrap_or_else(|| named(&study.stem, part));
    let journal = Journal::open(&table_path, label.clone(), args.restart)?;
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
    let first = if part == Part::WHOLE { head.clone() } else { format!("{label}\n{head}") };
    let mut tally = match sweep.points {
        Points::Grid => Tally::new(columns),
        Points::Sample(_) => Tally::of_sample(columns, sweep.vary.len()),
    };
    let journal = journal.into_inner().expect("no thread panics with the journal in its hands");
    journal.finish(&table_path, &first, |line| tally.see(line))?;
    if !args.study.quiet {
        page(&study, &tally, part, &mut io.out)?;
        writeln!(io.out, "\nWRITTEN\n  {}", printable(&table_path.display().to_string()))?;
    }
    Ok(Exit::Done)
}

/// Refuses a tolerance that no run takes.
pub fn check_tolerance(tolerance: f64) -> Result<(), Failure> {
    if (1e-13..=1e-3).contains(&tolerance) {
        return Ok(());
    }
    Err(Failure::Usage(format!("--tolerance {tolerance} is not between 1e-13 and 1e-3")))
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

fn page(study: &LoadedStudy, tally: &Tally, part: Part, out: &mut dyn Write) -> Result<(), Failure> {
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
    if let Points::Sample(_) = study.sweep.points {
        population(study, tally, out)?;
    }
    writeln!(out, "The program predicts this for these inputs; verify by measurement.")?;
    Ok(())
}

/// What a sample says of the population it was drawn from.
fn population(study: &LoadedStudy, tally: &Tally, out: &mut dyn Write) -> Result<(), Failure> {
    let count = |word: &str| tally.verdicts.get(word).copied().unwrap_or(0);
    let answered = tally.rows - count("failed");
    let trouble = answered - count("good");
    let (low, high) = share_between(trouble, answered);
    writeln!(
        out,
        "\nTROUBLE   {:.2} % of the population; {:.2} to {:.2} % as far as {answered} runs can tell (19 times in 20)",
        100.0 * trouble as f64 / answered.max(1) as f64,
        100.0 * low,
        100.0 * high
    )?;
    writeln!(out, "\nSPREAD                                     P10        P50        P90       runs")?;
    for (n, (_, words)) in KEPT.iter().enumerate() {
        let sorted = tally.spread(n);
        let at = |u| quantile(&sorted, u).map_or_else(|| "-".to_owned(), |v| format!("{v:.3}"));
        writeln!(out, "   {words:<34} {:>9}  {:>9}  {:>9}  {:>9}", at(0.1), at(0.5), at(0.9), sorted.len())?;
    }
    let mut all: Vec<(f64, &str)> = Vec::new();
    let mut result = 0;
    for (k, vary) in study.sweep.vary.iter().enumerate() {
        let (n, pairs) = tally.pairs(k);
        result = n;
        all.extend(moves(pairs).map(|by| (by, vary.path.as_str())));
    }
    all.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()));
    let most = all.first().map_or(1.0, |m| m.0.abs().max(1e-12));
    writeln!(out, "\nWHAT MOVES IT MOST: {}, from the lowest fifth of a key to the highest", KEPT[result].1)?;
    let mut defaults = Vec::new();
    study.base.scenario.each_number(&mut |path, _, num| {
        if matches!(num.origin, Origin::Default(_)) {
            defaults.push(path);
        }
    });
    for (by, path) in &all {
        let bar = "#".repeat((20.0 * by.abs() / most).round() as usize);
        let mark = if defaults.iter().any(|d| d == path) { "o" } else { " " };
        writeln!(out, " {mark} {:<38} {by:>+9.3}  {bar}", printable(path))?;
    }
    writeln!(out, " o  nobody said what it is in the scenario: a default stands there")?;
    Ok(())
}
