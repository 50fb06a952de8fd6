//! `tickover distance`: how far a scenario is from trouble, one change at a time.

use crate::Exit;
use crate::args::DistanceArgs;
use crate::chart::figures::distance_bars::distance_bars;
use crate::failure::Failure;
use crate::load::load_from;
use crate::outputs::{Outputs, Place};
use crate::progress::while_working;
use crate::report::distance::{self, Found};
use crate::report::page;
use crate::streams::Streams;
use std::time::Instant;

/// Runs the command.
pub fn run(args: &DistanceArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    let place =
        Place::folder(&args.folder, loaded.stem.clone(), "distance", loaded.title(), loaded.sources.paths());
    place.check(&["distance.csv", "distance.png"], &mut io.err)?;
    let begun = Instant::now();
    let found = while_working(io, "running it with one thing changed at a time", || Found::of(&loaded.case))?;
    let seconds = begun.elapsed().as_secs_f64();
    let mut outputs = Outputs::default();
    outputs.add("distance.csv", distance::csv(&found.trouble)?);
    let picture = distance::bars::picture(loaded.title(), &found.trouble);
    let scene = distance_bars(&picture, &args.sheet.theme(), args.sheet.size);
    for (name, bytes) in args.sheet.files(("distance.png", "distance.svg"), &scene)? {
        outputs.add(name, bytes);
    }
    let written = outputs.write(&place, &mut io.err)?;
    page::title(&mut io.out, loaded.title(), &args.scenario.set)?;
    distance::print(&found, seconds, &mut io.out)?;
    page::written(&mut io.out, &written)?;
    Ok(Exit::Done)
}
