//! `tickover run`: one page, a summary, tables and two pictures.

use crate::args::RunArgs;
use crate::failure::Failure;
use crate::load::load_from;
use crate::outputs::Outputs;
use crate::printable::printable;
use crate::problems::render_warnings;
use crate::progress::while_working;
use crate::report::{Told, page, pictures, tables};
use crate::streams::Streams;
use crate::{Exit, chart};
use sim_core::record::{Summary, limits};
use sim_core::{Options, simulate};
use std::io::Write;
use std::path::PathBuf;

/// Runs the command.
pub fn run(args: &RunArgs, io: &mut Streams) -> Result<Exit, Failure> {
    if !(args.every_s >= 0.001 && args.every_s <= 1e6) {
        return Err(Failure::Usage(format!("--every-s {} is not between 0.001 and 1000000 s", args.every_s)));
    }
    if !(1e-13..=1e-3).contains(&args.tolerance) {
        return Err(Failure::Usage(format!("--tolerance {} is not between 1e-13 and 1e-3", args.tolerance)));
    }
    let loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    if !args.quiet {
        let colour = io.err.colour();
        write!(io.err, "{}", render_warnings(&loaded.sources, &loaded.resolved.warnings, colour))?;
    }
    let (model, profile) = (&loaded.resolved.model, &loaded.resolved.profile);
    let options = Options { tolerance: args.tolerance, ..Options::default() };
    let run = while_working(io, "simulating", || simulate(model, profile, &options))?;
    let summary = Summary::new(&run, model, profile);
    let broken = limits::broken(&loaded.scenario.limits, &summary);
    let told = Told {
        name: if loaded.scenario.name.is_empty() { &loaded.stem } else { &loaded.scenario.name },
        changed: &args.scenario.set,
        entries: &loaded.resolved.entries,
        model,
        profile,
        run: &run,
        summary: &summary,
        broken: &broken,
    };
    let json = tables::summary_json(&told);
    let outputs = while_working(io, "drawing", || outputs(&told, &json, args.every_s))?;
    let folder = args.out.clone().unwrap_or_else(|| PathBuf::from(&loaded.stem));
    let written = outputs.write(&folder)?;
    if args.json {
        io.out.write_all(&json)?;
    } else if !args.quiet {
        page::print(&told, &mut io.out)?;
        writeln!(io.out, "\nWRITTEN")?;
        for path in written {
            writeln!(io.out, "  {}", printable(&path.display().to_string()))?;
        }
    }
    Ok(if broken.is_empty() { Exit::Done } else { Exit::LimitBroken })
}

fn outputs(told: &Told, json: &[u8], every_s: f64) -> Result<Outputs, Failure> {
    let mut outputs = Outputs::default();
    outputs.add("summary.json", json.to_vec());
    outputs.add("events.csv", tables::events_csv(told)?);
    outputs.add("trace.csv", tables::trace_csv(told, every_s)?);
    let (overview, ladder) = pictures::draw(told);
    for (name, scene) in [("overview.png", overview), ("ladder.png", ladder)] {
        let png = chart::write::png(&scene, 2.0).map_err(|e| Failure::Picture(e.to_string()))?;
        outputs.add(name, png);
    }
    Ok(outputs)
}
