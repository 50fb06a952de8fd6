//! The table of figures, kept between two markers of scenarios/README.md.

use crate::catalogue::{Fault, Ran};
use crate::reading::{Band, MOMENTS};
use std::fmt::Write;

/// Where the table stands.
pub const MARKERS: (&str, &str) = (
    "<!-- figures of faults.toml: written by the test `faults`, TICKOVER_UPDATE=1 renews them -->",
    "<!-- end of figures -->",
);

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
