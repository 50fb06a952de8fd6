//! `tickover cliff`: what a drive delivers over the resistance of the loop.

use super::args::CliffArgs;
use super::pool::Pool;
use crate::Exit;
use crate::chart::figures::Heading;
use crate::chart::figures::cliff::{self as figure, CliffData, Curve};
use crate::failure::Failure;
use crate::load::{Loaded, load_from};
use crate::outputs::{Outputs, Place};
use crate::printable::{csv_table, printable};
use crate::progress::while_counting;
use crate::streams::Streams;
use sim_core::scenario::field::Origin;
use sim_core::study::cliff::{CliffCurve, CliffPlan};
use sim_core::study::sweep::Span;
use std::io::Write;

/// How near the cliff is found, share of the length.
const EDGE_SHARE: f64 = 0.002;
/// How well a cable's resistance is known where nobody measured it, ± %: length and joints by eye.
const UNCERTAIN_PCT: f64 = 15.0;
/// Greatest resistance charted, over that of the cliff of the largest current.
const BEYOND: f64 = 4.0;

/// Runs the command.
pub fn run(args: &CliffArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    let spec = &loaded.scenario.input_cable;
    if spec.resistance_mohm.is_some() {
        let what = "the cliff is charted over the input cable's length, and input_cable.resistance_mohm stands in its place: \
                    give length_m, area_mm2 and joints_mohm";
        return Err(Failure::Usage(what.into()));
    }
    let limit_a = loaded.resolved.model.link().converter.output_limit_a;
    let mut currents = args.current.clone();
    if currents.is_empty() {
        currents = [0.5, 0.75, 1.0].map(|share| share * limit_a).to_vec();
    }
    currents.sort_by(f64::total_cmp);
    currents.dedup();
    let here = format!("{}-cliff", loaded.stem);
    let place = Place::folder(&args.folder, here, "cliff", loaded.title(), loaded.sources.paths());
    place.check(&["cliff.csv", "cliff.png"], &mut io.err)?;
    let pool = Pool::new(args.study.threads)?;
    let plan = CliffPlan {
        length_m: lengths(&loaded, args.points as usize),
        case: loaded.case.clone(),
        output_limit_a: currents,
        edge_share: EDGE_SHARE,
        tolerance: args.study.tolerance,
    };
    let all = (plan.length_m.len() * plan.output_limit_a.len()) as u64;
    let curves = while_counting(io, "runs", &pool.done, all, || plan.run(&pool));
    let curves = curves.map_err(|e| Failure::Usage(e.to_string()))?;
    let own = &loaded.resolved.model.link().input_cable;
    let source_ohm =
        curves.iter().find_map(|c| c.source_ohm).unwrap_or(loaded.resolved.model.alternator.droop_ohm);
    let known_ohm = known(&loaded, args.uncertain_pct, own.resistance_ohm(), own.conductor_ohm());
    let data = data(&loaded, &curves, source_ohm, own.resistance_ohm(), known_ohm);
    let mut outputs = Outputs::default();
    outputs.add("cliff.csv", csv(&curves)?);
    let scene = figure::cliff(&data, &args.pictures.theme(), args.pictures.size);
    args.pictures.add(["cliff.png", "cliff.svg"], &scene, &mut outputs)?;
    let written = outputs.write(&place, &mut io.err)?;
    if !args.study.quiet {
        writeln!(io.out, "{}", printable(&data.heading.title))?;
        writeln!(io.out, "ANSWER    {}", data.heading.answer)?;
        table(&curves, &mut io.out)?;
        writeln!(io.out, "\nThe program predicts this for these inputs; verify by measurement.\n\nWRITTEN")?;
        for path in written {
            writeln!(io.out, "  {}", printable(&path.display().to_string()))?;
        }
    }
    Ok(Exit::Done)
}

/// Lengths with equal ratios of the input cable's resistance, from next to nothing to well beyond the vehicle.
fn lengths(loaded: &Loaded, count: usize) -> Vec<f64> {
    let cable = &loaded.resolved.model.link().input_cable;
    let spec = &loaded.scenario.input_cable;
    let per_m = cable.conductor_ohm() / spec.length_m.value.max(1e-9);
    let shortest = spec.engine_bay_m.value.max(0.2);
    let longest = (BEYOND * cable.resistance_ohm().max(0.02) / per_m.max(1e-6)).clamp(4.0 * shortest, 100.0);
    let ohm = |m: f64| cable.joints_ohm + m * per_m;
    let all = Span { from: ohm(shortest), to: ohm(longest), count, log: true };
    // Ends as they are, what lies between to the millimetre.
    all.iter()
        .map(|r| ((r - cable.joints_ohm) / per_m * 1e3).round() / 1e3)
        .map(|m| m.clamp(shortest, longest))
        .collect()
}

/// How well the input cable's resistance is known, ± Ω.
fn known(loaded: &Loaded, pct: Option<f64>, cable_ohm: f64, conductor_ohm: f64) -> f64 {
    if let Some(pct) = pct {
        return pct / 100.0 * cable_ohm;
    }
    let spec = &loaded.scenario.input_cable;
    let of = |origin: &Origin| match origin {
        Origin::Measured { plus_minus, .. } => *plus_minus,
        _ => None,
    };
    let (joints, length) = (of(&spec.joints_mohm.origin), of(&spec.length_m.origin));
    if joints.is_none() && length.is_none() {
        return UNCERTAIN_PCT / 100.0 * cable_ohm;
    }
    let by_length = length.unwrap_or(0.0) / spec.length_m.value.max(1e-9) * conductor_ohm;
    (joints.unwrap_or(0.0) * 1e-3).hypot(by_length)
}

fn data(
    loaded: &Loaded,
    curves: &[CliffCurve],
    source_ohm: f64,
    cable_ohm: f64,
    known_ohm: f64,
) -> CliffData {
    let mohm = |cable: f64| 1e3 * (cable + source_ohm);
    let title = loaded.title();
    let (area, per_m) = (
        loaded.scenario.input_cable.area_mm2.value,
        loaded.resolved.model.link().input_cable.conductor_ohm()
            / loaded.scenario.input_cable.length_m.value.max(1e-9),
    );
    let joints_ohm = loaded.resolved.model.link().input_cable.joints_ohm;
    let rounds = [0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 30.0, 50.0, 70.0, 100.0];
    CliffData {
        heading: Heading {
            title: format!("{title}: the cliff"),
            answer: answer(loaded, curves, cable_ohm, known_ohm),
            footer: format!(
                "Turn-off {:.2} V; {:.4} mΩ per metre of each leg, joints {:.1} mΩ, source {:.1} mΩ. Cliff found to 0.2 % \
                 by simulation. Predicted for these inputs; not validated on vehicles.",
                loaded.resolved.model.link().start_stop.turn_off_v,
                1e3 * per_m / 2.0,
                1e3 * joints_ohm,
                1e3 * source_ohm
            ),
        },
        curves: curves
            .iter()
            .map(|c| Curve {
                name: format!("{} A", c.output_limit_a),
                loop_mohm: c.points.iter().map(|p| mohm(p.cable_ohm)).collect(),
                ah_per_hour: c.points.iter().map(|p| p.ah_per_drive_hour).collect(),
                starts_per_hour: c.points.iter().map(|p| p.starts_per_hour).collect(),
                closed_form_mohm: c.closed_form_ohm.map(mohm),
            })
            .collect(),
        vehicle_mohm: (mohm((cable_ohm - known_ohm).max(0.0)), mohm(cable_ohm), mohm(cable_ohm + known_ohm)),
        lengths: rounds.iter().map(|m| (mohm(joints_ohm + m * per_m), *m)).collect(),
        length_name: format!("length of the input cable, one way, m of {area} mm²"),
    }
}

fn answer(loaded: &Loaded, curves: &[CliffCurve], cable_ohm: f64, known_ohm: f64) -> String {
    let Some(curve) = curves.last() else { return String::new() };
    let length = loaded.scenario.input_cable.length_m.value;
    match (curve.edge_m, curve.edge_ohm) {
        (Some(m), Some(ohm)) => {
            let left = ohm - cable_ohm;
            let side = if left < 0.0 {
                "This vehicle is beyond it"
            } else if left < known_ohm {
                "This vehicle may be beyond it: its cable is not known well enough"
            } else {
                "This vehicle is short of it"
            };
            format!(
                "With {} A out the unit keeps dropping out from {m:.2} m of cable on ({:.1} mΩ with joints). {side}: {length} m, \
                 {:.1} mΩ.",
                curve.output_limit_a,
                1e3 * ohm,
                1e3 * cable_ohm
            )
        }
        _ if over(curve) => {
            format!("With {} A out the unit does not stay on at any length charted.", curve.output_limit_a)
        }
        _ => format!("With {} A out the unit drops out at no length charted.", curve.output_limit_a),
    }
}

/// Whether the shortest cable charted is over the edge already.
fn over(curve: &CliffCurve) -> bool {
    curve.edge_m.is_none() && curve.points.first().is_some_and(|p| p.over)
}

fn table(curves: &[CliffCurve], out: &mut dyn Write) -> Result<(), Failure> {
    writeln!(
        out,
        "\nCURRENT SETTING    drops out from      closed form      best before it     just beyond"
    )?;
    for c in curves {
        let edge = c.edge_m.zip(c.edge_ohm);
        let nowhere = if over(c) { "at any length" } else { "nowhere here" };
        let edge_text = edge.map_or(nowhere.into(), |(m, r)| format!("{m:6.2} m {:5.1} mΩ", 1e3 * r));
        let form = c.closed_form_ohm.map_or("never came on".into(), |r| format!("{:5.1} mΩ", 1e3 * r));
        let before = c.points.iter().filter(|p| c.edge_m.is_none_or(|m| p.length_m < m));
        let most = before.map(|p| p.ah_per_drive_hour).fold(f64::NEG_INFINITY, f64::max);
        let beyond = c.edge_m.and_then(|m| c.points.iter().find(|p| p.length_m > m));
        let beyond = beyond.map_or(String::new(), |p| format!("{:6.2} Ah/h", p.ah_per_drive_hour));
        writeln!(
            out,
            "{:>8} A         {edge_text:<19} {form:<16} {most:6.2} Ah/h        {beyond}",
            c.output_limit_a
        )?;
    }
    writeln!(
        out,
        "Drops out: on low input volts, to the end of a drive. The form takes the starter battery as full and settled,"
    )?;
    writeln!(
        out,
        "and the copper at 20 °C; a warm cable, or a drive that ends before that, moves the cliff."
    )?;
    Ok(())
}

fn csv(curves: &[CliffCurve]) -> Result<Vec<u8>, Failure> {
    let head = [
        "output_limit_a",
        "length_m",
        "cable_mohm",
        "behaviour",
        "ah_per_drive_hour",
        "starts_per_drive_hour",
    ];
    let rows = curves.iter().flat_map(|c| c.points.iter().map(move |p| (c, p))).map(|(c, p)| {
        [
            c.output_limit_a.to_string(),
            format!("{:.4}", p.length_m),
            format!("{:.4}", 1e3 * p.cable_ohm),
            p.region.words().to_owned(),
            format!("{:.5}", p.ah_per_drive_hour),
            format!("{:.3}", p.starts_per_hour),
        ]
    });
    csv_table(std::iter::once(head.map(str::to_owned)).chain(rows))
}
