//! `tickover margins`: how near a run comes to each of its limits, when and under which conditions.

use crate::Exit;
use crate::args::MarginsArgs;
use crate::as_far::{self, as_far};
use crate::clock::{clock, duration};
use crate::failure::Failure;
use crate::load::load_from;
use crate::printable::json_text;
use crate::progress::while_working;
use crate::report::page::{self, paragraph};
use crate::report::{Judged, Told, findings, fuses};
use crate::streams::Streams;
use crate::tolerance;
use serde_json::json;
use sim_core::scenario::limits::CRANK_RESERVE_PCT;
use sim_core::scenario::{Num, Origin, Scenario};
use sim_core::study::margins::{Against, Limit, Margin, Margins};
use sim_core::{Options, Record};
use std::io::{self, Write};
use std::sync::OnceLock;

/// Runs the command.
pub fn run(args: &MarginsArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let mut loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    let tolerance = tolerance::of(&loaded.resolved.profile);
    let options = Options { tolerance, record: Record::Bounded, ..Options::default() };
    let run = while_working(io, "simulating", || as_far(&mut loaded, &options))?;
    let against = Against::of(&loaded.scenario, args.insulation_c, args.crank_reserve_pct);
    let (model, profile) = (&loaded.resolved.model, &loaded.resolved.profile);
    let margins = Margins::of(&run, model, profile, &against);
    let judged = Judged::of(&loaded, &run);
    if args.json {
        let mut whole = json!(margins);
        whole["verdict"] = json!(judged.verdict.word());
        whole["weight"] = json!(judged.verdict.weight());
        io.out.write_all(&json_text(&whole))?;
        return Ok(Exit::Done);
    }
    let name = loaded.title();
    page::title(&mut io.out, name, &args.scenario.set)?;
    if let Some(early) = as_far::told(&run, profile) {
        paragraph(&mut io.out, &early)?;
        writeln!(io.out)?;
    }
    let why = OnceLock::new();
    let told = Told::of(&loaded, &args.scenario.set, &run, &judged, &why);
    paragraph(&mut io.out, &findings::verdict(&told))?;
    writeln!(io.out)?;
    print(&margins, profile.start_clock_s, &mut io.out)?;
    let out = &mut io.out;
    writeln!(out)?;
    for fuse in &run.fuses {
        if let Some(way) = fuses::way(fuse) {
            paragraph(out, &format!("By its curve {} {way}.", fuses::name(fuse)))?;
        }
    }
    if margins.to(Limit::Fuse).is_none() {
        paragraph(out, "No fuse is stated (input_cable.fuse_a), so none is held against the current.")?;
    }
    paragraph(
        out,
        &format!(
            "{} {} All are predictions for these inputs; verify by measurement.",
            insulation(args, &loaded.scenario),
            reserve(args, &loaded.scenario)
        ),
    )?;
    Ok(Exit::Done)
}

/// What the insulation was held against, and who says so.
fn insulation(args: &MarginsArgs, scenario: &Scenario) -> String {
    if let Some(c) = args.insulation_c {
        return format!("Insulation is held against {c} °C (--insulation-c).");
    }
    let [input, output] = [&scenario.input_cable.insulation_c, &scenario.output_cable.insulation_c];
    let who = |n: &Num| if matches!(n.origin, Origin::Default(_)) { "assumed" } else { "typed" };
    format!(
        "Insulation is held against {} °C on the input cable ({}) and {} °C on the output cable ({}): insulation_c.",
        input.value,
        who(input),
        output.value,
        who(output)
    )
}

/// What the crank reserve was held against, and who says so.
fn reserve(args: &MarginsArgs, scenario: &Scenario) -> String {
    let typed = scenario.limits.crank_reserve_pct.as_ref().map(|n| n.value);
    match (args.crank_reserve_pct, typed) {
        (Some(pct), _) => format!("The crank reserve is {pct} % (--crank-reserve-pct)."),
        (None, Some(pct)) => format!("The crank reserve is {pct} % (limits.crank_reserve_pct)."),
        (None, None) => format!(
            "The crank reserve is {CRANK_RESERVE_PCT} %, common practice without a source: type limits.crank_reserve_pct."
        ),
    }
}

fn print(margins: &Margins, start_clock_s: f64, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "SMALLEST MARGINS{:<35}{:>10}{:>10}{:>12}", "", "left", "limit", "at")?;
    for m in &margins.all {
        // What lies beyond its limit says so in words, and its number carries no sign.
        let (name, unit, limit_unit, places) = words(m.limit, m.left);
        let at = clock(start_clock_s, m.at.t_s);
        writeln!(
            out,
            "  {name:<49}{:>10}{:>10}{at:>12}",
            format!("{:.places$} {unit}", m.left.abs()),
            format!("{:.1$} {limit_unit}", m.limit_at, places.min(2)),
        )?;
        paragraph(out, &format!("  {}", conditions(m)))?;
    }
    if let Some(m) = &margins.crank_low {
        writeln!(
            out,
            "  {:<49}{:>10}{:>10}{:>12}",
            "lowest volts at the starter posts while cranking",
            format!("{:.2} V", m.left),
            "",
            clock(start_clock_s, m.at.t_s)
        )?;
    }
    if margins.alternator_full_s > 0.0 {
        writeln!(out)?;
        let time = duration(margins.alternator_full_s);
        paragraph(
            out,
            &format!("With the unit on the alternator is within 1 % of all it can give for {time}."),
        )?;
    }
    Ok(())
}

fn words(limit: Limit, left: f64) -> (&'static str, &'static str, &'static str, usize) {
    let (within, past, unit, limit_unit, places) = match limit {
        Limit::TurnOff => (
            "above turn-off, unit on and engine running",
            "BELOW turn-off, unit on and engine running",
            "V",
            "V",
            3,
        ),
        Limit::TurnOn => (
            "above turn-on, while it waits to come on",
            "BELOW turn-on, while it waits to come on",
            "V",
            "V",
            3,
        ),
        Limit::Fuse => ("under the input fuse's rating", "OVER the input fuse's rating", "A", "A", 1),
        Limit::Insulation => {
            ("under what the insulation bears", "OVER what the insulation bears", "K", "°C", 0)
        }
        Limit::Joints => ("under what the joints bear", "OVER what the joints bear", "K", "°C", 0),
        Limit::Alternator => {
            ("under what the alternator can give", "OVER what the alternator can give", "A", "A", 1)
        }
        Limit::CrankReserve => {
            ("above the reserve for cranking", "BELOW the reserve for cranking", "Ah", "Ah", 1)
        }
    };
    // What does not show in print is not beyond.
    let beyond = left <= -0.5 * 0.1f64.powi(places as i32);
    (if beyond { past } else { within }, unit, limit_unit, places)
}

fn conditions(m: &Margin) -> String {
    let c = &m.at;
    let mut parts = vec![
        format!("{:.0} rpm", c.engine_rpm),
        format!("posts {:.2} V", c.starter_v),
        format!("input {:.2} V", c.input_v),
        format!("alternator {:.0} A", c.alternator_a),
        format!("{:.1} A in, {:.1} A out", c.input_a, c.output_a),
    ];
    parts.push(match c.hottest_cable_c {
        Some(cable_c) => format!("air {:.0}, cable {cable_c:.0} °C", c.air_c),
        None => format!("air {:.0} °C", c.air_c),
    });
    parts.push(format!("starter {:.0} %", 100.0 * c.starter_soc));
    parts.join(", ")
}
