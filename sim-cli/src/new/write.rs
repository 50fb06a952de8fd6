//! The new scenario as text: what was stated, what was assumed, what follows, and every default as a comment where asked for.

use super::{About, Alternator, Facts, QUESTIONS};
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

/// The text of the scenario: what was said and what follows from it; with `defaults` every default too, as a comment.
pub fn scenario(facts: &Facts, defaults: bool) -> String {
    let mut text = head(facts, defaults);
    let lines = lines(facts);
    for section in SECTIONS {
        if defaults || lines.iter().any(|l| l.section == *section) {
            let _ = write!(text, "\n# {}\n{}\n", section_doc(section), written(section));
            section_body(&mut text, section, &lines, defaults);
        }
    }
    if defaults {
        let _ = write!(text, "\n# {}\n[drive]\n", section_doc("drive"));
        section_body(&mut text, "drive", &lines, defaults);
    }
    drive(&mut text, facts);
    text
}

fn head(facts: &Facts, defaults: bool) -> String {
    let (unit_a, cable_m, cable) = (facts.number(About::UnitA), facts.number(About::CableM), facts.cable());
    let shown = if defaults {
        "#   # key = value                   the default that stands in: take the `# ` away and write your own\n"
    } else {
        "# What is not written is a default. `tickover new --defaults` writes each of them as a comment, with its source.\n"
    };
    format!(
        "# A scenario made by `tickover new`. It runs as it is; every line that you make truer makes the answer truer.\n\
         #\n\
         #   key = value                     stated by you, or following from it as its comment says\n\
         #   key = {{ measured = 14.1, plus_minus = 0.05 }}   when a meter said so\n\
         {shown}\
         #\n\
         # Three that matter most, by a meter: volts at the starter posts with the engine at a fast idle (the set-point);\n\
         # volts lost along the input cable at full current; volts at which the unit comes on and drops out.\n\
         #\n\
         # What else can be said: `tickover keys`. For an editor that completes it: `tickover schema > scenario.schema.json`,\n\
         # and as first line of this file  #:schema scenario.schema.json\n\
         format = {FORMAT}\n\
         name = \"{unit_a} A unit on {cable_m} m of {cable}\"\n\
         about = \"Made by `tickover new`; not yet measured.\"\n"
    )
}

fn lines(facts: &Facts) -> Vec<Line> {
    let mut lines = Vec::new();
    for question in &QUESTIONS {
        let (Some((section, key)), Some(said)) = (question.key, facts.said(question.about)) else { continue };
        let why = match question.about {
            About::CableM => "stated: one way; the cable is both legs",
            About::UnitA | About::HouseAh | About::AlternatorA => "stated: the label",
            _ => "stated",
        };
        let (key, value) = match said.strip_suffix(" AWG") {
            Some(size) => ("awg", format!("\"{size}\"")),
            None if said.parse::<f64>().is_ok() => (key, said.to_owned()),
            None => (key, format!("\"{said}\"")),
        };
        lines.push(Line { section, key, value, why });
    }
    // What follows from nothing said is the default of its key, and is not written.
    let mut follows = |of: About, section, key, value: f64, why| {
        if facts.said(of).is_some() {
            lines.push(Line { section, key, value: two_digits(value).to_string(), why });
        }
    };
    let (unit_a, house_ah) = (facts.number(About::UnitA), facts.number(About::HouseAh));
    let why = "follows: 1.5 times the output, invented; type the label";
    follows(About::UnitA, "converter", "input_limit_a", unit_a * 1.5, why);
    let why = "follows: 0.04 of the capacity; type the unit's setting";
    follows(About::HouseAh, "stages", "tail_a", house_ah * 0.04, why);
    // The default resistances are those of 200 Ah of LFP; more capacity is more cells side by side. A lead-acid battery
    // gets its own from its kind and capacity.
    if facts.said(About::Chemistry).is_none_or(|c| c == "lfp") {
        for (key, mohm_at_200_ah) in [("r0_mohm", 4.0), ("r1_mohm", 3.0), ("r2_mohm", 5.0)] {
            let mohm = mohm_at_200_ah * 200.0 / house_ah;
            follows(
                About::HouseAh,
                "house_battery",
                key,
                mohm,
                "follows: the default scaled by the capacity",
            );
        }
    }
    lines
}

/// Two significant digits.
fn two_digits(value: f64) -> f64 {
    format!("{value:.1e}").parse().unwrap_or(value)
}

fn section_body(text: &mut String, section: &str, lines: &[Line], defaults: bool) {
    // A size in AWG stands in place of an area, whose default is not shown beside it.
    let awg = lines.iter().any(|l| l.section == section && l.key == "awg");
    for key in keys_of(section).unwrap_or_default() {
        if awg && key.name == "area_mm2" {
            continue;
        }
        match lines.iter().find(|l| l.section == section && l.key == key.name) {
            Some(line) => commented(text, &format!("{} = {}", key.name, line.value), line.why),
            None if !defaults => {}
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
    let by = if facts.said(About::Drive).is_some() { "stated" } else { "assumed, since nobody said" };
    let _ = write!(
        text,
        "\n# The drive ({}: {by}), piece by piece. Durations and engine speeds are invented; 0 is a stopped engine.\n\
         # A piece can be a file instead: file = \"drive.csv\", with columns time_s and speed_kmh or engine_rpm.\n",
        super::facts::name(facts.drive()),
    );
    if facts.said(About::Alternator).is_none() {
        text.push_str("# The alternator is assumed to hold its set-point, since nobody said.\n");
    }
    if facts.alternator() == Alternator::Variable {
        text.push_str(
            "#\n# The set-points of a variable alternator are INVENTED here and must be measured: put a meter or a logger on \
             the\n# starter posts for a whole drive, and write what it shows, piece by piece. Many vehicles hold a high voltage \
             for\n# some minutes after a start and a low one at cruise, and go high again on the overrun.\n",
        );
    }
    for (stretch, set_point_v) in facts.drive().pieces(facts.alternator()) {
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
