//! `tickover netlist`: the resolved model as a netlist for a general circuit simulator, with the unit held as it is or
//! switched when it switched.
//!
//! It serves the check against an independent program: the netlist, and beside it what this program says at the same
//! instants.

use crate::Exit;
use crate::args::NetlistArgs;
use crate::failure::Failure;
use crate::load::load_from;
use crate::outputs::{Outputs, Place};
use crate::streams::Streams;
use sim_core::logic::{Mode, Stage};
use sim_core::netlist::{COLUMNS, Cut, HeldUnit, Output, netlist};
use sim_core::record::{Event, EventKind};
use sim_core::state::{HOUSE, STARTER};
use sim_core::{Instant, Model, Options, Profile, Record, Run, simulate};
use std::fmt::Write as _;
use std::io::Write;

/// Samples of a stretch.
const ROWS: i64 = 60;
/// The same where the unit switches.
const REPLAYED_ROWS: i64 = 300;

/// Runs the command.
pub fn run(args: &NetlistArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    let (model, profile) = (&loaded.resolved.model, &loaded.resolved.profile);
    // The comparison wants this program's own error far below the other's.
    let options = Options { tolerance: 1e-11, record: Record::Bounded, ..Options::default() };
    let run = simulate(model, profile, &options)?;
    let (from, to) = (Instant::from_s(args.from_s), Instant::from_s(args.to_s));
    let begins =
        run.trace.at(model, profile, from).filter(|_| to > from && to <= run.span.1).ok_or_else(|| {
            Failure::Usage("--from-s and --to-s must lie within the run, in this order".into())
        })?;
    let blown = run.events.iter().find(|e| matches!(e.kind, EventKind::FuseOpened { .. }) && e.t < to);
    if let Some(event) = blown {
        let at = event.t.as_s();
        let what = format!(
            "a fuse opens at {at:.3} s: a netlist has no cable that is open, so --to-s must lie before"
        );
        return Err(Failure::Usage(what));
    }
    let unit = unit((&run, model, profile), &begins.mode, from, to)?;
    let rows = if matches!(unit, HeldUnit::Replayed { .. }) { REPLAYED_ROWS } else { ROWS };
    let span_ns = to.ns() - from.ns();
    let times: Vec<Instant> = (0..=rows).map(|k| from.plus_ns(span_ns / rows * k)).collect();
    let output = Output::File("spice.out".into());
    let cut = Cut { from, to, state: begins.state, unit, times: times.clone(), output };
    let text = netlist(model, profile, &cut).map_err(|e| Failure::Usage(e.to_string()))?;
    let mut csv = format!("time_s,{}\n", COLUMNS.join(","));
    for (n, &t) in times.iter().enumerate() {
        // At the end of the cut the side before a jump counts.
        let at = if n + 1 == times.len() { t.plus_ns(-1) } else { t };
        let Some(s) = run.trace.at(model, profile, at) else { continue };
        let v = &s.net;
        let values = [
            v.sb_v,
            v.in_v,
            v.out_v,
            v.house_v,
            v.alternator_a,
            v.input_a,
            v.output_a,
            v.starter_a,
            v.house_a,
            s.state[STARTER],
            s.state[HOUSE],
        ];
        let row: Vec<String> = values.iter().map(|v| format!("{v:.12}")).collect();
        let _ = writeln!(csv, "{:.9},{}", t.as_s(), row.join(","));
    }
    let mut outputs = Outputs::default();
    outputs.add("vehicle.cir", text.into_bytes());
    outputs.add("vehicle.csv", csv.into_bytes());
    let whose = ("netlist", loaded.title());
    let place = Place::of_folder(args.out.clone(), args.replace.replace, whose, loaded.sources.paths());
    for path in outputs.write(&place, &mut io.err)? {
        writeln!(io.out, "{}", path.display())?;
    }
    Ok(Exit::Done)
}

/// What the unit does over the stretch: held as it is, or switched at the instants of the run.
fn unit(
    (run, model, profile): (&Run, &Model, &Profile),
    begins: &Mode,
    from: Instant,
    to: Instant,
) -> Result<HeldUnit, Failure> {
    let switched = |e: &&Event| matches!(e.kind, EventKind::UnitOn | EventKind::UnitOff);
    let within = run.events.iter().filter(|e| e.t > from && e.t < to);
    let switches: Vec<Instant> = within.filter(switched).map(|e| e.t).collect();
    let stage = if begins.on { begins.stage } else { Stage::Bulk };
    if switches.is_empty() {
        let held = HeldUnit::On { stage, since: begins.on_since };
        return Ok(if begins.on { held } else { HeldUnit::Off });
    }
    // Bulk and absorption hold the same voltage.
    let mut steps = run.trace.steps_from(model, profile, from).take_while(|k| k.start < to);
    if steps.any(|k| k.mode.on && k.mode.stage == Stage::Float) {
        let what = "the unit switches and floats between --from-s and --to-s; a netlist holds one voltage";
        return Err(Failure::Usage(what.into()));
    }
    Ok(HeldUnit::Replayed { stage, since: begins.on.then_some(begins.on_since), switches })
}
