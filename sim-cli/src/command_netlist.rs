//! `tickover netlist`: the resolved model as a netlist for a general circuit simulator, with the unit held as it is.
//!
//! It serves the check against an independent program: the netlist, and beside it what this program says at the same
//! instants.

use crate::Exit;
use crate::args::NetlistArgs;
use crate::failure::Failure;
use crate::load::load_from;
use crate::outputs::Outputs;
use crate::streams::Streams;
use sim_core::netlist::{COLUMNS, Cut, HeldUnit, Output, netlist};
use sim_core::state::{HOUSE, STARTER};
use sim_core::{Instant, Options, simulate};
use std::fmt::Write as _;
use std::io::Write;

/// Runs the command.
pub fn run(args: &NetlistArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    let (model, profile) = (&loaded.resolved.model, &loaded.resolved.profile);
    // The comparison wants this program's own error far below the other's.
    let run = simulate(model, profile, &Options { tolerance: 1e-11, ..Options::default() })?;
    let (from, to) = (Instant::from_s(args.from_s), Instant::from_s(args.to_s));
    let begins =
        run.trace.at(model, profile, from).filter(|_| to > from && to <= run.span.1).ok_or_else(|| {
            Failure::Usage("--from-s and --to-s must lie within the run, in this order".into())
        })?;
    if run.trace.at(model, profile, to.plus_ns(-1)).is_none_or(|ends| ends.mode.on != begins.mode.on) {
        return Err(Failure::Usage(
            "the unit switches between --from-s and --to-s; a netlist holds it".into(),
        ));
    }
    let rows = 60;
    let span_ns = to.ns() - from.ns();
    let times: Vec<Instant> = (0..=rows).map(|k| from.plus_ns(span_ns / rows * k)).collect();
    let unit = if begins.mode.on {
        HeldUnit::On { stage: begins.mode.stage, since: begins.mode.on_since }
    } else {
        HeldUnit::Off
    };
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
    for path in outputs.write(&args.out)? {
        writeln!(io.out, "{}", path.display())?;
    }
    Ok(Exit::Done)
}
