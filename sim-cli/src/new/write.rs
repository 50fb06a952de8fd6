//! The new scenario as text: what was stated, what was assumed, what follows, and every default as a comment.

use super::{Alternator, Facts};
use crate::keys::{default_of, section_doc, written};
use sim_core::scenario::key::{Key, Kind};
use sim_core::scenario::{FORMAT, SECTIONS, keys_of};
use std::fmt::Write as _;

/// Column of the comments behind values.
const COMMENT: usize = 32;

/// One value that is written, and why.
struct Line {
    section: &'static str,
    key: &'static str,
    value: String,
    why: &'static str,
}

/// The text of the scenario.
pub fn scenario(facts: &Facts) -> String {
    let mut text = head(facts);
    let lines = lines(facts);
    for section in SECTIONS {
        let _ = write!(text, "\n# {}\n{}\n", section_doc(section), written(section));
        section_body(&mut text, section, &lines);
    }
    let _ = write!(text, "\n# {}\n[drive]\n", section_doc("drive"));
    section_body(&mut text, "drive", &lines);
    drive(&mut text, facts);
    text
}

fn head(facts: &Facts) -> String {
    let (unit_a, run_m, mm2) = (facts.unit_a.value, facts.run_m.value, facts.run_mm2.value);
    format!(
        "# A scenario made by `tickover new`. It runs as it is; every line that you make truer makes the answer truer.\n\
         #\n\
         #   key = value                     stated by you, or following from it as its comment says\n\
         #   # key = value                   the default that stands in: take the `# ` away and write your own\n\
         #   key = {{ measured = 14.1, plus_minus = 0.05 }}   when a meter said so\n\
         #\n\
         # Three that matter most, by a meter: volts at the starter posts with the engine at a fast idle (the set-point);\n\
         # volts lost along the input cable at full current; volts at which the unit comes on and drops out.\n\
         #\n\
         # What else can be said: `tickover keys`. For an editor that completes it: `tickover schema > scenario.schema.json`,\n\
         # and as first line of this file  #:schema scenario.schema.json\n\
         format = {FORMAT}\n\
         name = \"{unit_a} A unit on {run_m} m of {mm2} mm²\"\n\
         about = \"Made by `tickover new`; not yet measured.\"\n"
    )
}

fn lines(facts: &Facts) -> Vec<Line> {
    let (unit_a, house_ah) = (facts.unit_a.value, facts.house_ah.value);
    let mut lines = Vec::new();
    // What nobody said is the default of its key, and stays the comment that every default is.
    let mut line = |stated: bool, section, key, value: f64, why: &'static str| {
        if stated {
            lines.push(Line { section, key, value: value.to_string(), why });
        }
    };
    line(
        facts.run_m.stated,
        "input_cable",
        "length_m",
        facts.run_m.value,
        "stated: one way; the run is both legs",
    );
    line(facts.run_mm2.stated, "input_cable", "area_mm2", facts.run_mm2.value, "stated");
    line(facts.unit_a.stated, "converter", "output_limit_a", unit_a, "stated: the label");
    let input_limit_a = two_digits(unit_a * 1.5);
    let why = "follows: 1.5 times the output, invented; type the label";
    line(facts.unit_a.stated, "converter", "input_limit_a", input_limit_a, why);
    line(facts.house_ah.stated, "house_battery", "capacity_ah", house_ah, "stated: the label");
    let why = "follows: 0.04 of the capacity; type the unit's setting";
    line(facts.house_ah.stated, "stages", "tail_a", two_digits(house_ah * 0.04), why);
    // The default resistances are those of 200 Ah; more capacity is more cells side by side.
    for (key, mohm_at_200_ah) in [("r0_mohm", 4.0), ("r1_mohm", 3.0), ("r2_mohm", 5.0)] {
        let mohm = two_digits(mohm_at_200_ah * 200.0 / house_ah);
        line(
            facts.house_ah.stated,
            "house_battery",
            key,
            mohm,
            "follows: the default scaled by the capacity",
        );
    }
    lines
}

/// Two significant digits.
fn two_digits(value: f64) -> f64 {
    format!("{value:.1e}").parse().unwrap_or(value)
}

fn section_body(text: &mut String, section: &str, lines: &[Line]) {
    for key in keys_of(section).unwrap_or_default() {
        match lines.iter().find(|l| l.section == section && l.key == key.name) {
            Some(line) => commented(text, &format!("{} = {}", key.name, line.value), line.why),
            None => match default_of(&key) {
                Some((value, source)) => {
                    commented(text, &format!("# {} = {value}", key.name), &format!("default: {source}"));
                }
                None if section == "limits" => {
                    let example = format!("# {} =", key.name);
                    commented(text, &example, &format!("none; {}", doc(&key)));
                }
                None => {}
            },
        }
    }
}

fn doc(key: &Key) -> String {
    let unit = match key.spec.kind {
        Kind::Number { unit, .. } => unit.symbol(),
        _ => "",
    };
    let text = key.doc.trim().trim_end_matches('.');
    // The unit is in the key's name as well.
    text.strip_suffix(&format!(", {unit}")).unwrap_or(text).to_lowercase()
}

fn commented(text: &mut String, left: &str, right: &str) {
    let gap = COMMENT.saturating_sub(left.chars().count()).max(1);
    let _ = writeln!(text, "{left}{}# {right}", " ".repeat(gap));
}

fn drive(text: &mut String, facts: &Facts) {
    let by = if facts.drive.stated { "stated" } else { "assumed, since nobody said" };
    let _ = write!(
        text,
        "\n# The drive ({}: {by}), piece by piece. Durations and engine speeds are invented; 0 is a stopped engine.\n\
         # A piece can be a file instead: file = \"drive.csv\", with columns time_s and speed_kmh or engine_rpm.\n",
        super::facts::name(facts.drive.value),
    );
    if facts.alternator.value == Alternator::Fixed && !facts.alternator.stated {
        text.push_str("# The alternator is assumed to hold its set-point, since nobody said.\n");
    }
    if facts.alternator.value == Alternator::Variable {
        text.push_str(
            "#\n# The set-points of a variable alternator are INVENTED here and must be measured: put a meter or a logger on \
             the\n# starter posts for a whole drive, and write what it shows, piece by piece. Many vehicles hold a high voltage \
             for\n# some minutes after a start and a low one at cruise, and go high again on the overrun.\n",
        );
    }
    for (stretch, set_point_v) in facts.drive.value.pieces(facts.alternator.value) {
        let _ = write!(
            text,
            "\n[[drive.piece]]\nlabel = \"{}\"\nduration_min = {}\nengine_rpm = {}\n",
            stretch.label, stretch.minutes, stretch.rpm
        );
        if let Some(v) = set_point_v {
            commented(text, &format!("set_point_v = {v}"), "invented: measure it");
        }
    }
}
