//! The table of figures, kept between two markers of scenarios/README.md.

use crate::catalogue::{Fault, Ran, folder};
use crate::reading::{Band, MOMENTS};
use std::fmt::Write;

const BEGIN: &str =
    "<!-- figures of faults.toml: written by the test `faults`, TICKOVER_BLESS=1 renews them -->";
const END: &str = "<!-- end of figures -->";

/// A range of volts: one value where it hardly moves.
fn volts(b: Band) -> String {
    if b.high - b.low < 0.02 { format!("{:.2}", b.high) } else { format!("{:.2}~{:.2}", b.low, b.high) }
}

fn amps(b: Band) -> String {
    // What rounds to nothing is nothing: no "-0".
    let whole = |a: f64| (a + 0.0).round().abs();
    if whole(b.low) == whole(b.high) {
        format!("{:.0}", whole(b.high))
    } else {
        format!("{:.0}~{:.0}", whole(b.low), whole(b.high))
    }
}

fn cell(ran: &Ran, moment: &str) -> String {
    let v = |quantity| volts(ran.band(quantity, moment));
    let a = |quantity| amps(ran.band(quantity, moment));
    format!("{} / {} / {}; {}→{}", v("sb_v"), v("in_v"), v("out_v"), a("input_a"), a("output_a"))
}

/// The whole table.
pub fn table(rows: &[(&Fault, Ran)]) -> String {
    let mut text = String::from("| # | fault | tell-tale |");
    for moment in MOMENTS {
        let _ = write!(text, " {moment} |");
    }
    text.push_str(" Ah | starts |\n|---|---|---|---|---|---|---|---|---|---:|---:|\n");
    for (fault, ran) in rows {
        let _ = write!(text, "| {} | {} | {} |", fault.row, fault.name, fault.tell);
        for moment in MOMENTS {
            let _ = write!(text, " {} |", cell(ran, moment));
        }
        let (all, parked) = (ran.summary.came_on, ran.summary.came_on_parked);
        let starts = if parked > 0 { format!("{all}, {parked} parked") } else { all.to_string() };
        let _ = writeln!(text, " {:.1} | {starts} |", ran.delivered_ah());
    }
    text
}

/// Compares the table with the one in the README; writes it there where the environment says so.
pub fn check(table: &str) -> Result<(), String> {
    let path = folder().join("README.md");
    let text = std::fs::read_to_string(&path).map_err(|e| e.to_string())?;
    let begin = text.find(BEGIN).ok_or("the README has no beginning marker")? + BEGIN.len();
    let end = text.find(END).ok_or("the README has no end marker")?;
    let wanted = format!("\n\n{table}\n");
    if text[begin..end] == wanted {
        return Ok(());
    }
    if std::env::var_os("TICKOVER_BLESS").is_some() {
        let whole = format!("{}{wanted}{}", &text[..begin], &text[end..]);
        return std::fs::write(&path, whole).map_err(|e| e.to_string());
    }
    let differs = wanted.lines().zip(text[begin..end].lines()).find(|(a, b)| a != b);
    Err(format!(
        "scenarios/README.md is not what the catalogue gives now; TICKOVER_BLESS=1 renews it. First difference: {differs:#?}"
    ))
}
