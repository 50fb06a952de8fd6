//! The picture of how far to trouble.

use super::differences::capital;
use super::{band, beyond, main_form, ratio};
use crate::chart::figures::Heading;
use crate::chart::figures::distance_bars::{Bar, DistanceBars, Tone, short};
use crate::printable::printable;
use sim_core::study::distance::{Distances, Row};
use sim_core::study::{Edge, Outcome};

fn tone(outcome: Outcome) -> Tone {
    match outcome {
        Outcome::Good => Tone::Good,
        Outcome::DropsOutAtFirst => Tone::AtFirst,
        Outcome::KeepsDroppingOut => Tone::Keeps,
        Outcome::Other { danger: true, .. } => Tone::Danger,
        Outcome::NeverStarts => Tone::Never,
        Outcome::RunsOn => Tone::RunsOn,
        _ => Tone::Other,
    }
}

/// The picture of one scenario.
pub fn picture(title: &str, found: &Distances) -> DistanceBars {
    let bars: Vec<Bar> = found.rows.iter().filter(|r| !r.edges.is_empty()).map(bar).collect();
    let nearest = found
        .rows
        .iter()
        .flat_map(|r| r.edges.iter().map(move |e| (r, e)))
        .filter(|(r, _)| r.knob.now > 0.0)
        .min_by(|a, b| ratio(a.0, a.1).total_cmp(&ratio(b.0, b.1)));
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
            title: format!("How far to trouble: {}", printable(title)),
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
        (true, _) if edge.takes_turns => band(edge),
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
        let (end, next) = if edge.takes_turns { (edge.low, edge.high) } else { (edge.at(), edge.at()) };
        stretches.push((from, end, tone(edge.below)));
        if edge.takes_turns {
            stretches.push((edge.low, edge.high, Tone::Turns));
        }
        from = next;
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
