//! `tickover run`: one page, a summary, tables and pictures.

use crate::Exit;
use crate::args::RunArgs;
use crate::failure::Failure;
use crate::load::load;
use crate::outputs::Outputs;
use crate::report::{Told, page, pictures, tables};
use sim_core::record::{Summary, limits};
use sim_core::{Options, simulate};
use std::io::Write;
use std::path::PathBuf;

/// Runs the command.
pub fn run(args: &RunArgs, out: &mut dyn Write, _err: &mut dyn Write) -> Result<Exit, Failure> {
    if !(args.every_s >= 0.001 && args.every_s <= 1e6) {
        return Err(Failure::Usage(format!("--every-s {} is not between 0.001 and 1000000 s", args.every_s)));
    }
    if !(1e-13..=1e-3).contains(&args.tolerance) {
        return Err(Failure::Usage(format!("--tolerance {} is not between 1e-13 and 1e-3", args.tolerance)));
    }
    let loaded = load(&args.scenario.file, &args.scenario.set)?;
    let (model, profile) = (&loaded.resolved.model, &loaded.resolved.profile);
    let options = Options { tolerance: args.tolerance, ..Options::default() };
    let run = simulate(model, profile, &options)?;
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
    let mut outputs = Outputs::default();
    outputs.add("summary.json", tables::summary_json(&told));
    outputs.add("events.csv", tables::events_csv(&told)?);
    outputs.add("trace.csv", tables::trace_csv(&told, args.every_s)?);
    for (picture, scene) in pictures::draw(&told, &args.plot.wanted(), &args.plot.theme(), args.plot.size) {
        for (name, bytes) in args.plot.files(picture, &scene)? {
            outputs.add(name, bytes);
        }
    }
    let folder = args.out.clone().unwrap_or_else(|| PathBuf::from(&loaded.stem));
    let written = outputs.write(&folder)?;
    page::print(&told, out)?;
    writeln!(out, "\nWRITTEN")?;
    for path in written {
        writeln!(out, "  {}", path.display())?;
    }
    Ok(if broken.is_empty() { Exit::Done } else { Exit::LimitBroken })
}
