//! `tickover size`: which conductor and which fuses for both cables, what rules each, and what a size less would do.

use super::pool::Pool;
use crate::Exit;
use crate::args::SizeArgs;
use crate::failure::Failure;
use crate::load::load_from;
use crate::numbers::apart;
use crate::outputs::write_file;
use crate::printable::printable;
use crate::progress::while_working;
use crate::report::page::{self, paragraph};
use crate::streams::Streams;
use sim_core::judge::CableOf;
use sim_core::scenario::node::Value;
use sim_core::study::size::rules::{Broken, Chosen, FAR_END_S, Row, Rule};
use sim_core::study::size::{Ask, SizeError, Sized, Sizes, Spared, sizes};
use std::collections::BTreeMap;
use std::io::Write;
use std::path::Path;

/// Sizes that are told beside the one that is taken.
const BESIDE: usize = 2;

/// Runs the command.
pub fn run(args: &SizeArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    if let Some(out) = args.out.as_ref().filter(|_| args.scenario.file == Path::new("-")) {
        return Err(Failure::Usage(format!(
            "{} would build on a scenario that stands in no file: give its file",
            out.display()
        )));
    }
    let prices = prices(args.price_per_m.as_deref().unwrap_or_default())?;
    let ask = Ask {
        most_drop: [args.input_drop_pct / 100.0, args.output_drop_pct / 100.0],
        margin_v: args.margin_v,
        spare: args.spare_pct / 100.0,
    };
    let pool = Pool::new(None)?;
    let found = while_working(io, "trying sizes at every corner", || sizes(&loaded.case, &ask, &pool));
    let found = found.map_err(|e| match e {
        SizeError::Trial(e) => Failure::from(e),
        SizeError::Whole(_) => Failure::Usage(e.to_string()),
    })?;
    page::title(&mut io.out, loaded.title(), &args.scenario.set)?;
    as_it_is(&found, &mut io.out)?;
    for sized in &found.cables {
        cable(sized, args, &prices, &mut io.out)?;
    }
    corners(&found, &mut io.out)?;
    cautions(&mut io.out)?;
    if let (Some(out), true) = (&args.out, found.cables.iter().all(|c| c.taken.is_some())) {
        let text = scenario(
            &args.scenario,
            out,
            &found.keys(&loaded.case).map_err(|e| Failure::from(sim_core::study::TrialError::from(e)))?,
        );
        write_file(out, text.as_bytes(), args.replace).map_err(|e| match e.kind() {
            std::io::ErrorKind::AlreadyExists => Failure::Usage(format!(
                "{} is there already; name another with --out, or replace it with --replace",
                out.display()
            )),
            _ => Failure::Write(out.clone(), e),
        })?;
        writeln!(io.out, "\nWritten: {}", printable(&out.display().to_string()))?;
    }
    Ok(Exit::Done)
}

/// Prices a metre by the name of a size: "16=4.20,25=6.1".
fn prices(text: &str) -> Result<BTreeMap<String, f64>, Failure> {
    let one = |part: &str| {
        let (name, price) = part.split_once('=')?;
        let price = price.trim().parse::<f64>().ok().filter(|p| (0.0..=1e6).contains(p))?;
        Some((name.trim().to_owned(), price))
    };
    text.split(',')
        .filter(|part| !part.trim().is_empty())
        .map(|part| {
            one(part).ok_or_else(|| {
                Failure::Usage(format!("--price-per-m: `{part}` is no SIZE=PRICE, such as 16=4.20 or 1/0=9"))
            })
        })
        .collect()
}

fn which(of: CableOf) -> &'static str {
    match of {
        CableOf::Input => "input cable",
        CableOf::Output => "output cable",
    }
}

/// The cables that are there: a larger unit on an old cable is the first thing to be told.
fn as_it_is(found: &Sizes, out: &mut dyn Write) -> Result<(), Failure> {
    writeln!(out, "\nTHE CABLES AS THEY ARE")?;
    for sized in &found.cables {
        let (name, now) = (which(sized.cable), &sized.now);
        let [keeps, lacks] =
            sized.against_now().map(|all| all.into_iter().map(|b| against(b, sized)).collect::<Vec<_>>());
        let but = if lacks.is_empty() { String::new() } else { format!(" But {}.", lacks.join("; ")) };
        let fuse = match now.fuse.as_ref().filter(|_| sized.fused) {
            Some(fuse) => format!("fuse of {} A", fuse.rating_a),
            None => "no fuse told".to_owned(),
        };
        let amps = sized.demand.load_a;
        let told = if keeps.is_empty() {
            format!("The {name}, {}, {fuse}: carries the unit's {amps:.0} A.{but}", size(sized, now))
        } else {
            format!(
                "The {name} as it is does not carry this unit ({}, {fuse}, up to {amps:.0} A): {}.{but}",
                size(sized, now),
                keeps.join("; ")
            )
        };
        paragraph(out, &told)?;
    }
    Ok(())
}

/// What a size is called.
fn size(sized: &Sized, row: &Row) -> String {
    format!("{}{}", row.name, sized.gauge)
}

/// What a broken rule says, in half a sentence.
fn against(b: &Broken, sized: &Sized) -> String {
    let d = &sized.demand;
    match b.rule {
        Rule::Drop => format!("it takes {:.2} V at full current, and may take {:.2} V", b.value, b.limit),
        Rule::Heat => {
            let spare = if d.spare > 0.0 { ", the spare counted in" } else { "" };
            format!(
                "its conductor carries {:.0} A within the {:.0} °C of its insulation, and has to carry {:.0} A{spare}",
                b.limit, d.insulation_c, b.value
            )
        }
        Rule::FuseForLoad => {
            format!("its fuse carries {:.0} A for hours, and the unit takes {:.0} A", b.limit, b.value)
        }
        Rule::FuseForConductor => {
            format!("a fuse of {} A is too large for a conductor that carries {:.0} A", b.value, b.limit)
        }
        Rule::ShortCircuit => format!(
            "a short circuit lets {:.0} A²s through before the slowest fuse of its type opens, and the copper bears {:.0} A²s",
            b.value, b.limit
        ),
        Rule::FarEnd if b.value.is_finite() => format!(
            "a short circuit at its far end is off after {:.0} s only ({FAR_END_S:.0} s is common practice)",
            b.value
        ),
        Rule::FarEnd => "a short circuit at its far end does not open its fuse".to_owned(),
        Rule::Breaking => {
            format!("the battery can drive {:.0} A through its fuse, which breaks {:.0} A", b.value, b.limit)
        }
    }
}

/// A rule in a word, for the table.
fn short(rule: Rule) -> &'static str {
    match rule {
        Rule::Drop => "volt drop",
        Rule::Heat => "heat",
        Rule::FuseForLoad => "fuse for the load",
        Rule::FuseForConductor => "fuse for the conductor",
        Rule::ShortCircuit => "short circuit",
        Rule::FarEnd => "far end",
        Rule::Breaking => "breaking capacity",
    }
}

fn fuse(chosen: Option<&Chosen>) -> String {
    match chosen {
        Some(Chosen { rating_a, kind: Some(kind), .. }) => format!("{} A {kind}", *rating_a),
        Some(Chosen { rating_a, kind: None, .. }) => format!("{} A", *rating_a),
        None => "none known".to_owned(),
    }
}

fn cable(
    sized: &Sized,
    args: &SizeArgs,
    prices: &BTreeMap<String, f64>,
    out: &mut dyn Write,
) -> Result<(), Failure> {
    let d = &sized.demand;
    writeln!(out, "\n{}", which(sized.cable).to_uppercase())?;
    paragraph(
        out,
        &format!(
            "Up to {:.0} A over {} m one way; insulation {:.0} °C; air {:.0} °C{}. It may take {:.2} V. The battery at its end \
             can drive {:.0} A.",
            d.load_a,
            sized.length_m,
            d.insulation_c,
            d.air_c,
            if d.fuse_air_c > d.air_c { format!(", engine bay {:.0} °C", d.bay_c) } else { String::new() },
            d.most_drop_v,
            sized.rows.first().map_or(0.0, |r| r.short_a[0]),
        ),
    )?;
    writeln!(
        out,
        "  {:<10}{:>8}{:>8}{:>9}  {:<22}{:>8}  what speaks against it",
        "size", "drop", "hottest", "carries", "fuse, both ends", "copper"
    )?;
    let (from, to) = window(sized);
    for (n, row) in sized.rows.iter().enumerate().take(to).skip(from) {
        let says = if sized.taken == Some(n) {
            "taken".to_owned()
        } else {
            row.broken.iter().map(|b| short(b.rule)).collect::<Vec<_>>().join(", ")
        };
        let says = if says.is_empty() {
            if sized.taken.is_some_and(|t| n < t) { "a corner".into() } else { "more than needed".into() }
        } else {
            says
        };
        let hottest =
            if row.hottest_c < 1000.0 { format!("{:.0} °C", row.hottest_c) } else { "melts".into() };
        let cost = prices
            .get(row.name.trim_end_matches(" mm²"))
            .map(|p| format!(", costs {:.2}", 2.0 * sized.length_m * p));
        writeln!(
            out,
            "  {:<10}{:>8}{:>8}{:>9}  {:<22}{:>8}  {says}{}",
            size(sized, row),
            format!("{:.2} V", row.drop_v),
            hottest,
            row.carries_a.map_or_else(|| "-".into(), |a| format!("{a:.0} A")),
            fuse(row.fuse.as_ref()),
            format!("{:.1} kg", sized.copper_kg(row)),
            cost.unwrap_or_default(),
        )?;
    }
    match (sized.row(), sized.less()) {
        (Some(row), Some(less)) => {
            let mut reasons: Vec<String> = less.broken.iter().map(|b| against(b, sized)).collect();
            if reasons.is_empty() {
                reasons = sized.smaller.iter().map(|s| spared(s, args.margin_v)).collect();
            }
            paragraph(
                out,
                &format!(
                    "Take {} with {}. A size less, {}: {}.",
                    size(sized, row),
                    fuse(row.fuse.as_ref()),
                    size(sized, less),
                    reasons.join("; ")
                ),
            )?;
        }
        (Some(row), None) => {
            paragraph(
                out,
                &format!(
                    "Take {} with {}: the smallest size that is known here.",
                    size(sized, row),
                    fuse(row.fuse.as_ref())
                ),
            )?;
        }
        (None, _) => none(sized, args, out)?,
    }
    if let Some(must) = sized.row().and_then(Row::fuse_must_break_a) {
        paragraph(
            out,
            &format!(
                "The battery can drive {must:.0} A through that fuse. Its type breaks less, as far as is known here: take one of \
                 that rating whose sheet says that it breaks so much."
            ),
        )?;
    }
    if sized.cable == CableOf::Input {
        let area = sized.row().map_or(sized.now.area_mm2, |r| r.area_mm2);
        paragraph(
            out,
            &format!(
                "For comparison only, E = 0.0164 · I · L / S of small-craft tables gives {:.2} V: copper at 8 °C by it, \
                 without joints. Not sized by it.",
                0.0164 * d.load_a * 2.0 * sized.length_m / area
            ),
        )?;
    }
    Ok(())
}

/// The rows that are told: those around the one that is taken, or the largest.
fn window(sized: &Sized) -> (usize, usize) {
    let all = sized.rows.len();
    match sized.taken {
        Some(n) => (n.saturating_sub(BESIDE), (n + BESIDE + 1).min(all)),
        None => (all.saturating_sub(2 * BESIDE + 1), all),
    }
}

fn spared(s: &Spared, margin_v: f64) -> String {
    match (&s.finding, s.margin_v) {
        (Some(f), _) => format!("at the corner \"{}\" {}", s.corner, f.kind.word()),
        (None, Some(v)) => {
            let (is, asked) = apart(v, margin_v, 2);
            format!(
                "at the corner \"{}\" the margin to turn-off is {is} V, and {asked} V are asked for",
                s.corner
            )
        }
        (None, None) => format!("at the corner \"{}\" the run has no end", s.corner),
    }
}

fn none(sized: &Sized, args: &SizeArgs, out: &mut dyn Write) -> Result<(), Failure> {
    let Some(last) = sized.rows.last() else { return Ok(()) };
    let mut reasons: Vec<String> = last.broken.iter().map(|b| against(b, sized)).collect();
    if reasons.is_empty() {
        reasons = sized.smaller.iter().map(|s| spared(s, args.margin_v)).collect();
    }
    if reasons.is_empty() {
        reasons.push("the other cable meets no rule, so no two were tried together".into());
    }
    paragraph(
        out,
        &format!(
            "No size that is known here meets every rule. The largest, {}: {}.",
            size(sized, last),
            reasons.join("; ")
        ),
    )?;
    Ok(())
}

fn corners(found: &Sizes, out: &mut dyn Write) -> Result<(), Failure> {
    if found.corners.is_empty() {
        return Ok(());
    }
    writeln!(out, "\nTHE CHOICE AT ITS CORNERS")?;
    for at in &found.corners {
        let margin = match at.margin_v {
            Some(v) => format!("{v:.2} V to turn-off"),
            None if at.came_on => "its signal holds it on".to_owned(),
            None => "never on".to_owned(),
        };
        writeln!(out, "  {:<26}{:<24}{margin}", at.corner, at.word)?;
    }
    if found.corners.iter().any(|at| !at.bad.is_empty()) {
        paragraph(out, "What is wrong at a corner here no copper cures: `tickover why` tells its cause.")?;
    }
    Ok(())
}

fn cautions(out: &mut dyn Write) -> Result<(), Failure> {
    writeln!(out)?;
    paragraph(
        out,
        "A size is predicted from these inputs; local codes, the makers' sheets and licensed practice come first. Bands of fuses \
         and what they break are from memory: read the sheet of the fuse. Both ends of each cable are fused, close to the posts. \
         Read the insulation's class off the cable. Lugs and joints count as the scenario says: measure them.",
    )?;
    Ok(())
}

/// A scenario that builds on the first and states what was chosen.
fn scenario(first: &crate::args::ScenarioArgs, out: &Path, keys: &[(String, Value)]) -> String {
    let beside = first.file.parent() == out.parent();
    let base =
        if beside { first.file.file_name().map(Path::new).unwrap_or(&first.file) } else { &first.file };
    let base = if beside {
        base.to_path_buf()
    } else {
        std::path::absolute(base).unwrap_or_else(|_| base.to_path_buf())
    };
    let quoted = |text: &str| format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""));
    let mut text = format!(
        "# Sized by `tickover size`. Every other value stands in the file that it builds on.\nformat = 2\nbuild_on = {}\n",
        quoted(&base.display().to_string())
    );
    for section in ["input_cable", "output_cable"] {
        text.push_str(&format!("\n[{section}]\n"));
        for (path, value) in keys {
            if let Some(key) = path.strip_prefix(&format!("{section}.")) {
                let value = match value {
                    Value::Text(t) => quoted(t),
                    Value::Number(n) => n.to_string(),
                    _ => continue,
                };
                text.push_str(&format!("{key} = {value}\n"));
            }
        }
    }
    text
}
