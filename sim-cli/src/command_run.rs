//! `tickover run`: one page, a summary, tables and pictures.

use crate::Exit;
use crate::args::RunArgs;
use crate::as_far::as_far;
use crate::bounds::MOST_TRACE_ROWS;
use crate::chart::figures::distance_bars::distance_bars;
use crate::failure::Failure;
use crate::load::{Loaded, load_from};
use crate::outputs::{Outputs, Place};
use crate::printable::printable;
use crate::problems::render_warnings;
use crate::progress::while_working;
use crate::report::distance::{self, Found};
use crate::report::{Judged, Told, page, pictures, tables};
use crate::streams::Streams;
use crate::tolerance;
use rayon::prelude::*;
use sim_core::record::{Summary, days, limits};
use sim_core::study::population::known;
use sim_core::study::study_file::key_at;
use sim_core::time::DAY_S;
use sim_core::{Model, Options, Record, simulate};
use std::io::Write;
use std::sync::OnceLock;

/// Runs the command.
pub fn run(args: &RunArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let mut loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    if !args.quiet {
        let colour = io.err.colour();
        write!(io.err, "{}", render_warnings(&loaded.sources, &loaded.resolved.warnings, colour))?;
    }
    loaded.sources.forget_drives();
    let place =
        Place::folder(&args.folder, loaded.stem.clone(), "run", loaded.title(), loaded.sources.paths());
    place.check(&["summary.json", "events.csv", "trace.csv"], &mut io.err)?;
    let profile = &loaded.resolved.profile;
    let whole_s = profile.end().since(profile.start());
    let every_s = args.every_s.unwrap_or_else(|| every_s(whole_s));
    let rows = whole_s / every_s;
    if rows > MOST_TRACE_ROWS {
        return Err(Failure::Usage(format!(
            "trace.csv would have {:.0} million rows; at most {:.0} million are made: write --every-s {} or more",
            rows * 1e-6,
            MOST_TRACE_ROWS * 1e-6,
            (whole_s / MOST_TRACE_ROWS).ceil()
        )));
    }
    let tolerance = args.tolerance.unwrap_or_else(|| tolerance::of(profile));
    let options = Options { tolerance, record: Record::Bounded, ..Options::default() };
    let run = while_working(io, "simulating", || as_far(&mut loaded, &options))?;
    let (model, profile) = (&loaded.resolved.model, &loaded.resolved.profile);
    let judged = Judged::of(&loaded, &run);
    let summary = &judged.read.summary;
    let broken = limits::broken(&loaded.scenario.limits, summary);
    let of_days = run.days.len() > 1 || summary.span_s > 1.5 * DAY_S;
    let far = match args.distance {
        true => Some(while_working(io, "running it with one thing changed at a time", || {
            Found::of(&loaded.case)
        })?),
        false => None,
    };
    let why = OnceLock::new();
    let told = Told {
        run_on_band_s: run_on_band_s(&loaded, summary, tolerance)?,
        broken: &broken,
        crank_reserve_soc: loaded.scenario.limits.crank_reserve_pct.as_ref().map(|n| n.value / 100.0),
        far: far.as_ref(),
        ..Told::of(&loaded, &args.scenario.set, &run, &judged, &why)
    };
    let days = if of_days { days::rows(&run, model, profile) } else { Vec::new() };
    let told = Told { days: &days, ..told };
    // A log of a week explains as long as it draws: both at once.
    let (_, outputs) = while_working(io, "explaining and drawing", || {
        rayon::join(|| told.why(), || outputs(&told, args, every_s))
    });
    let mut outputs = outputs?;
    let json = tables::summary_json(&told);
    outputs.add_first("summary.json", json.clone());
    if let Some(far) = &far {
        outputs.add("distance.csv", distance::csv(&far.trouble)?);
        let picture = distance::bars::picture(loaded.title(), &far.trouble);
        let scene = distance_bars(&picture, &args.plot.theme(), args.plot.size);
        for (name, bytes) in args.plot.sheet().files(("distance.png", "distance.svg"), &scene)? {
            outputs.add(name, bytes);
        }
    }
    let written = outputs.write(&place, &mut io.err)?;
    if args.json {
        io.out.write_all(&json)?;
    } else if !args.quiet {
        page::print(&told, args.full, &mut io.out)?;
        writeln!(io.out, "\nWRITTEN")?;
        for path in written {
            writeln!(io.out, "  {}", printable(&path.display().to_string()))?;
        }
    }
    Ok(if broken.is_empty() { Exit::Done } else { Exit::LimitBroken })
}

/// Everything but the summary.
fn outputs(told: &Told, args: &RunArgs, every_s: f64) -> Result<Outputs, Failure> {
    let mut outputs = Outputs::default();
    outputs.add("events.csv", tables::events_csv(told)?);
    outputs.add("trace.csv", tables::trace_csv(told, every_s)?);
    if !told.days.is_empty() {
        outputs.add("days.csv", crate::report::days::csv(told)?);
    }
    let scenes = pictures::draw(told, &args.plot.wanted(), &args.plot.theme(), args.plot.size);
    let drawn: Vec<_> = scenes.par_iter().map(|(picture, scene)| args.plot.files(*picture, scene)).collect();
    for files in drawn {
        for (name, bytes) in files? {
            outputs.add(name, bytes);
        }
    }
    Ok(outputs)
}

/// Seconds between the rows of trace.csv where nobody says: a run of days would give a file that nothing opens.
fn every_s(whole_s: f64) -> f64 {
    match whole_s / DAY_S {
        days if days <= 2.0 => 10.0,
        days if days <= 15.0 => 60.0,
        _ => 600.0,
    }
}

/// The key of the starter battery's rested volts.
const RESTS: &str = "starter_battery.rests_over_mv";
/// Run-on from which a single number would claim too much, s.
const BAND_FROM_S: f64 = 120.0;

/// How long the unit runs on with the starter battery's rested volts at either end of what is known of them.
fn run_on_band_s(loaded: &Loaded, summary: &Summary, tolerance: f64) -> Result<Option<(f64, f64)>, Failure> {
    let (model, profile) = (&loaded.resolved.model, &loaded.resolved.profile);
    let rests = &loaded.scenario.starter_battery.rests_over_mv;
    let spread = key_at(RESTS).and_then(|key| known(rests, &key.spec));
    let (true, Some(spread)) = (summary.ran_on_s.is_some_and(|s| s >= BAND_FROM_S), spread) else {
        return Ok(None);
    };
    let options = Options { tolerance, record: Record::Summary, ..Options::default() };
    let with = |dv: f64| -> Result<f64, Failure> {
        let moved = Model { starter: model.starter.clone().moved_v(dv), ..model.clone() };
        let run = simulate(&moved, profile, &options)?;
        Ok(Summary::new(&run, &moved, profile).ran_on_s.unwrap_or(0.0))
    };
    let end_v = |share: f64| 1e-3 * (spread.quantile(share) - rests.value);
    let (a, b) = (with(end_v(0.0))?, with(end_v(1.0))?);
    Ok(Some((a.min(b), a.max(b))))
}
