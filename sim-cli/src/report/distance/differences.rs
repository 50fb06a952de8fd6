//! Where a closed form says something else than the whole runs, and why.

use super::{band, main_form};
use crate::chart::figures::distance_bars::short;
use crate::report::page::paragraph;
use sim_core::study::closed_forms::Form;
use sim_core::study::distance::Row;
use sim_core::study::{Edge, Outcome, Reason};
use std::io::{self, Write};

/// Why the closed forms differ, border by border.
pub(super) fn print<'a>(rows: impl Iterator<Item = &'a Row>, out: &mut dyn Write) -> io::Result<()> {
    let mut head = false;
    for row in rows {
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
    let whole = if edge.takes_turns { band(edge) } else { short(edge.at()) };
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
        "{}: {whole} {unit} by whole runs, {} {unit} by the form ({}). {}.",
        row.knob.name,
        short(at),
        label(form),
        capital(&why.join("; "))
    ))
}

/// Which form it is.
fn label(form: Form) -> &'static str {
    match form {
        Form::DropsOut | Form::NeverStarts => "c17",
        Form::StartUp => "c18",
        Form::AlternatorCarries => "c11",
        Form::BandWideEnough => "c5",
        Form::RunsOn => "c6",
        Form::TailReached => "c8",
    }
}

pub(super) fn capital(text: &str) -> String {
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
            format!("the cable is warm: {:.2} mΩ more than at 20 °C take {volts_v:.3} V", more_ohm * 1e3)
        }
        Reason::OutputUnderLimit { gives_a, limit_a } => format!(
            "the unit gives {gives_a:.1} A and not its {limit_a:.1} A: heat, its target voltage or its soft start holds it"
        ),
        Reason::DrawChanges { from_a, to_a, volts_v } => format!(
            "the form holds the draw on the starter battery steady at {from_a:.1} A, and it is {to_a:.1} A when the unit goes \
             off: at the border the form puts the input {:.2} V {} turn-off",
            volts_v.abs(),
            if volts_v >= 0.0 { "under" } else { "above" }
        ),
        Reason::BatteryStillTakes { battery_a, load_w } => format!(
            "the house battery still takes {battery_a:.1} A when absorption ends, in the place of {load_w:.1} W of load; the \
             form has it full"
        ),
        Reason::TailHeld { held_s, fell_a, load_w } => format!(
            "the current has to stay under the tail for {held_s:.0} s, in which it falls by {fell_a:.1} A: {load_w:.1} W of \
             load less"
        ),
        Reason::OutputCableDrop { volts_v, load_w } => {
            format!(
                "the house posts stand {volts_v:.3} V under the unit's output, {load_w:.1} W of load less"
            )
        }
        Reason::OthersFeed { others_a, load_w } => {
            format!("the sun or a mains charger gives {others_a:.1} A, {load_w:.1} W of load more")
        }
    }
}
