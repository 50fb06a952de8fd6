//! `tickover distance`: how far a scenario is from trouble, one change at a time.

use crate::Exit;
use crate::args::DistanceArgs;
use crate::chart::figures::Heading;
use crate::chart::figures::distance_bars::{Bar, DistanceBars, Tone, distance_bars, short};
use crate::failure::Failure;
use crate::load::{Loaded, load_from};
use crate::outputs::Outputs;
use crate::printable::printable;
use crate::progress::while_working;
use crate::report::page::{self, paragraph};
use crate::streams::Streams;
use rayon::iter::{IntoParallelRefIterator, ParallelIterator};
use sim_core::study::closed_forms::Form;
use sim_core::study::distance::{Answer, Distances, Job, Row, Search};
use sim_core::study::{Edge, Outcome, Reason};
use std::io::{self, Write};
use std::path::PathBuf;
use std::time::Instant;

/// Runs the command.
pub fn run(args: &DistanceArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    let begun = Instant::now();
    let found = while_working(io, "running it with one thing changed at a time", || {
        Search::new(&loaded.case).map(|search| search.solve(&on_all_cores))
    })?;
    let seconds = begun.elapsed().as_secs_f64();
    let mut outputs = Outputs::default();
    outputs.add("distance.csv", csv(&found).into_bytes());
    let scene = distance_bars(&picture(&loaded, &found), &args.sheet.theme(), args.sheet.size);
    for (name, bytes) in args.sheet.files(("distance.png", "distance.svg"), &scene)? {
        outputs.add(name, bytes);
    }
    let folder = args.out.clone().unwrap_or_else(|| PathBuf::from(&loaded.stem));
    let written = outputs.write(&folder)?;
    page::title(&mut io.out, loaded.title(), &args.scenario.set)?;
    print(&found, seconds, &mut io.out)?;
    page::written(&mut io.out, &written)?;
    Ok(Exit::Done)
}

/// Lends every core.
pub fn on_all_cores(jobs: &[Job]) -> Vec<Answer> {
    jobs.par_iter().map(Job::run).collect()
}

fn print(found: &Distances, seconds: f64, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "HOW FAR TO TROUBLE, one change at a time")?;
    let now = match found.now {
        Outcome::Good => "As it is, no trouble is predicted".to_owned(),
        other => format!("As it is: {}", other.words()),
    };
    paragraph(out, &format!("{now}. {} whole runs, {seconds:.1} s.", found.runs))?;
    writeln!(out, "\n  {:<36}{:>11}  {:<15}{:<20}closed form", "", "now", "border at", "beyond it")?;
    let mut still = Vec::new();
    for row in &found.rows {
        if row.edges.is_empty() {
            let (low, high) = row.span();
            still.push(format!("{} {} to {} {}", row.knob.name, short(low), short(high), row.knob.unit));
            continue;
        }
        let mut edges: Vec<&Edge> = row.edges.iter().collect();
        let away = |e: &Edge| (e.at() - row.knob.now).abs();
        edges.sort_by(|a, b| away(a).total_cmp(&away(b)));
        for (n, edge) in edges.into_iter().enumerate() {
            let (name, now) = if n == 0 {
                (row.knob.name.as_str(), format!("{} {}", short(row.knob.now), row.knob.unit))
            } else {
                ("", String::new())
            };
            let (border, beyond) = beyond(row, edge);
            writeln!(out, "  {name:<36}{now:>11}  {border:<15}{:<20}{}", beyond.words(), form(row, edge))?;
        }
    }
    if !still.is_empty() {
        writeln!(out)?;
        paragraph(out, &format!("No border at all over: {}.", still.join("; ")))?;
    }
    why(found, out)?;
    writeln!(out)?;
    for (form, text) in [
        (
            Form::BandWideEnough,
            "Whatever the set-point, the band from turn-off to turn-on is wide enough (c5) at",
        ),
        (
            Form::AlternatorCarries,
            "The alternator alone carries all that is asked, starter battery included (c11), at",
        ),
    ] {
        let said: Vec<String> = found.rows.iter().filter_map(|row| sufficient(row, form)).collect();
        if !said.is_empty() {
            paragraph(out, &format!("{text}: {}. Enough, but no border.", said.join("; ")))?;
        }
    }
    paragraph(
        out,
        "\"Drops out\" counts from five minutes after the engine start, while the drive offers no less than when the \
         unit came on; \"at first\" means that it is steady for the last five minutes of every drive. Spans are scanned \
         coarsely: a trouble that begins and ends between two scanned values is not seen. A closed form holds with the \
         alternator regulating and the starter battery full and settled.",
    )
}

/// Where the border lies as seen from the value now, and what lies beyond it.
fn beyond(row: &Row, edge: &Edge) -> (String, Outcome) {
    let unit = row.knob.unit;
    let up = edge.at() >= row.knob.now;
    let outcome = if up { edge.above } else { edge.below };
    if !row.knob.sizes.is_empty() {
        let size = if up { edge.high } else { edge.low };
        return (format!("at {}", row.knob.size_name(size)), outcome);
    }
    (format!("{} {} {unit}", if up { "above" } else { "below" }, short(edge.at())), outcome)
}

/// The closed form that stands beside a border.
fn main_form(edge: &Edge) -> Option<(Form, f64)> {
    let wanted = match (edge.below, edge.above) {
        (Outcome::NeverStarts, _) | (_, Outcome::NeverStarts) => Form::NeverStarts,
        // A battery without a settled resistance leaves (c17) blind to the alternator's greatest current.
        _ if edge.forms.iter().any(|s| s.form == Form::DropsOut && s.at.is_none()) => Form::AlternatorCarries,
        _ => Form::DropsOut,
    };
    edge.forms.iter().find(|s| s.form == wanted).and_then(|s| Some((s.form, s.at?)))
}

fn form(row: &Row, edge: &Edge) -> String {
    let said = main_form(edge);
    said.map_or_else(String::new, |(_, at)| match row.knob.size_name(at) {
        "" => format!("{} {}", short(at), row.knob.unit),
        size => format!("{size} good"),
    })
}

/// Where a form begins to be kept, for forms that are enough and no border.
fn sufficient(row: &Row, form: Form) -> Option<String> {
    if !row.knob.sizes.is_empty() {
        return None;
    }
    let at = row.edges.iter().flat_map(|e| &e.forms).find(|s| s.form == form)?.at?;
    Some(format!("{} {} {}", row.knob.name, short(at), row.knob.unit))
}

/// Why the closed forms differ, border by border.
fn why(found: &Distances, out: &mut dyn Write) -> io::Result<()> {
    let mut head = false;
    for row in &found.rows {
        for edge in &row.edges {
            let Some(text) = difference(row, edge) else { continue };
            if !head {
                writeln!(out, "\nWHERE A CLOSED FORM SAYS SOMETHING ELSE, and why")?;
                head = true;
            }
            paragraph(out, &text)?;
        }
    }
    Ok(())
}

fn difference(row: &Row, edge: &Edge) -> Option<String> {
    if !row.knob.sizes.is_empty() {
        return None;
    }
    let (form, at) = main_form(edge)?;
    if (at - edge.at()).abs() <= 0.01 * edge.at().abs() {
        return None;
    }
    let unit = row.knob.unit;
    // What a drop-out shows says little of a unit that does not come on.
    let tells = |r: &&Reason| form != Form::NeverStarts || matches!(r, Reason::AlternatorAtItsLimit { .. });
    let mut why: Vec<String> = edge.reasons.iter().filter(tells).map(reason).collect();
    let sides = [edge.below, edge.above];
    if sides.contains(&Outcome::Good) && sides.contains(&Outcome::DropsOutAtFirst) {
        let start_up = edge.forms.iter().find(|s| s.form == Form::StartUp).and_then(|s| s.at);
        let from = start_up
            .map(|at| format!("; by (c18) cycles at the very start may begin at {} {unit}", short(at)));
        why.push(format!("the form is for hunting without end{}", from.unwrap_or_default()));
    }
    if why.is_empty() {
        return None;
    }
    Some(format!(
        "{}: {} {unit} by whole runs, {} {unit} by the form. {}.",
        row.knob.name,
        short(edge.at()),
        short(at),
        capital(&why.join("; "))
    ))
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

fn reason(reason: &Reason) -> String {
    match *reason {
        Reason::StarterStillRising { more_a, volts_v } if volts_v >= 0.0 => {
            let more = if more_a > 0.05 { format!(" and takes {more_a:.1} A more") } else { String::new() };
            format!("the starter battery is not full and settled{more}: the posts stand {volts_v:.3} V lower")
        }
        Reason::StarterStillRising { volts_v, .. } => {
            format!("the starter battery is not settled: the posts stand {:.3} V higher", -volts_v)
        }
        Reason::AlternatorAtItsLimit { gives_a, volts_v, form_knows } => {
            let not = if form_knows { "" } else { ", and the form does not know that" };
            format!(
                "the alternator gives all it can just then, {gives_a:.0} A, the posts {volts_v:.2} V under its droop line{not}"
            )
        }
        Reason::WarmCopper { more_ohm, volts_v } => {
            format!("the run is warm: {:.2} mΩ more than at 20 °C take {volts_v:.3} V", more_ohm * 1e3)
        }
        Reason::OutputUnderLimit { gives_a, limit_a } => format!(
            "the unit gives {gives_a:.1} A and not its {limit_a:.1} A: heat, its target voltage or its soft start holds it"
        ),
    }
}

fn csv(found: &Distances) -> String {
    let mut text = String::from("what,unit,now,value,outcome\n");
    for row in &found.rows {
        for (value, outcome) in &row.seen {
            text.push_str(&format!(
                "\"{}\",{},{},{value},{}\n",
                row.knob.name,
                row.knob.unit,
                row.knob.now,
                outcome.words()
            ));
        }
    }
    text
}

fn tone(outcome: Outcome) -> Tone {
    match outcome {
        Outcome::Good => Tone::Good,
        Outcome::DropsOutAtFirst => Tone::AtFirst,
        Outcome::KeepsDroppingOut => Tone::Keeps,
        Outcome::NeverStarts => Tone::Never,
        Outcome::RunsOn => Tone::RunsOn,
        _ => Tone::Other,
    }
}

fn picture(loaded: &Loaded, found: &Distances) -> DistanceBars {
    let bars: Vec<Bar> = found.rows.iter().filter(|r| !r.edges.is_empty()).map(bar).collect();
    let nearest = found
        .rows
        .iter()
        .flat_map(|r| r.edges.iter().map(move |e| (r, e)))
        .filter(|(r, _)| r.knob.now > 0.0)
        .min_by(|a, b| {
            let away = |(r, e): &(&Row, &Edge)| (e.at() / r.knob.now).max(1e-6).ln().abs();
            away(a).total_cmp(&away(b))
        });
    let now = if found.now == Outcome::Good { "As it is, no trouble" } else { found.now.words() };
    let answer = nearest.map_or_else(
        || format!("{now}."),
        |(row, edge)| {
            let (at, what) = beyond(row, edge);
            format!("{now}. The smallest change that alters it: {} {at}, {}.", row.knob.name, what.words())
        },
    );
    DistanceBars {
        heading: Heading {
            title: format!("How far to trouble: {}", printable(loaded.title())),
            answer: capital(&answer),
            footer: format!(
                "One change at a time, {} whole runs of a model; scanned coarsely, each border then bracketed. Bars span what \
                 was looked at; check with a meter.",
                found.runs
            ),
        },
        bars,
    }
}

/// What stands at the end of a stretch: its value, or the size on the side of the trouble.
fn end(row: &Row, edge: &Edge) -> String {
    match (row.knob.sizes.is_empty(), edge.at() >= row.knob.now) {
        (true, _) => short(edge.at()),
        (false, true) => format!("{} and up", row.knob.size_name(edge.high)),
        (false, false) => format!("to {}", row.knob.size_name(edge.low)),
    }
}

fn bar(row: &Row) -> Bar {
    let (low, high) = row.span();
    let mut stretches = Vec::new();
    let mut from = low;
    for edge in &row.edges {
        stretches.push((from, edge.at(), tone(edge.below)));
        from = edge.at();
    }
    stretches.push((from, high, tone(row.edges.last().map_or(Outcome::Good, |e| e.above))));
    let least = row.knob.grid.iter().copied().find(|v| *v > 0.0);
    let log_from = least.filter(|l| low >= 0.0 && high / l > 15.0 && row.knob.unit != "%");
    Bar {
        name: row.knob.name.clone(),
        unit: row.knob.unit.to_owned(),
        now: row.knob.now,
        stretches,
        ends: row.edges.iter().map(|e| end(row, e)).collect(),
        forms: row.edges.iter().filter_map(|e| Some(main_form(e)?.1)).collect(),
        log_from,
    }
}
