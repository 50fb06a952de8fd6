//! The six facts: how they are asked for, what is allowed, what is assumed.

use super::{Alternator, Drive};
use crate::numbers::range_of;
use clap::ValueEnum;
use sim_core::plant::conductor;

/// A fact and whether somebody stated it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fact<T> {
    /// Its value.
    pub value: T,
    /// Somebody stated it.
    pub stated: bool,
}

impl<T> Fact<T> {
    fn assumed(value: T) -> Self {
        Fact { value, stated: false }
    }

    fn stated(value: T) -> Self {
        Fact { value, stated: true }
    }
}

/// All six.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Facts {
    /// Current on the unit's label, A.
    pub unit_a: Fact<f64>,
    /// Length of the input cable one way, m.
    pub run_m: Fact<f64>,
    /// Its conductor area, mm².
    pub run_mm2: Fact<f64>,
    /// Capacity of the house battery, Ah.
    pub house_ah: Fact<f64>,
    /// How the alternator's regulator behaves.
    pub alternator: Fact<Alternator>,
    /// The usual drive.
    pub drive: Fact<Drive>,
}

impl Default for Facts {
    fn default() -> Self {
        Facts {
            unit_a: Fact::assumed(40.0),
            run_m: Fact::assumed(5.0),
            run_mm2: Fact::assumed(16.0),
            house_ah: Fact::assumed(200.0),
            alternator: Fact::assumed(Alternator::Fixed),
            drive: Fact::assumed(Drive::Town),
        }
    }
}

/// One question.
pub struct Question {
    /// The flag that answers it, without dashes.
    pub flag: &'static str,
    /// The question.
    pub text: &'static str,
    /// What helps to answer it.
    pub hint: &'static str,
    /// Takes an answer.
    pub take: fn(&mut Facts, &str) -> Result<(), String>,
    /// What is assumed, as it would be typed.
    pub assumed: fn(&Facts) -> String,
}

/// The questions, in the order asked.
pub const QUESTIONS: [Question; 6] = [
    Question {
        flag: "unit-a",
        text: "Current on the unit's label, A",
        hint: "the output current",
        take: |f, answer| number("converter", "output_limit_a", answer).map(|v| f.unit_a = Fact::stated(v)),
        assumed: |f| f.unit_a.value.to_string(),
    },
    Question {
        flag: "run-m",
        text: "Cable from the starter battery to the unit, one way, m",
        hint: "along its path, not as the crow flies",
        take: |f, answer| number("input_cable", "length_m", answer).map(|v| f.run_m = Fact::stated(v)),
        assumed: |f| f.run_m.value.to_string(),
    },
    Question {
        flag: "run-mm2",
        text: "Its conductor area, mm²",
        hint: "printed on the jacket: 6, 10, 16, 25, 35",
        take: |f, answer| area(answer).map(|v| f.run_mm2 = Fact::stated(v)),
        assumed: |f| f.run_mm2.value.to_string(),
    },
    Question {
        flag: "house-ah",
        text: "Capacity of the house battery, Ah",
        hint: "taken as LFP; change the chemistry in the file",
        take: |f, answer| {
            number("house_battery", "capacity_ah", answer).map(|v| f.house_ah = Fact::stated(v))
        },
        assumed: |f| f.house_ah.value.to_string(),
    },
    Question {
        flag: "alternator",
        text: "Alternator: fixed or variable",
        hint: "variable if the volts change while driving, as in most vehicles with a sensor on the battery's negative post",
        take: |f, answer| word::<Alternator>(answer).map(|v| f.alternator = Fact::stated(v)),
        assumed: |f| name(f.alternator.value),
    },
    Question {
        flag: "drive",
        text: "The usual drive: short, town or long",
        hint: "15 minutes on the road, 45 minutes of stop and go, or 3 hours with a break",
        take: |f, answer| word::<Drive>(answer).map(|v| f.drive = Fact::stated(v)),
        assumed: |f| name(f.drive.value),
    },
];

/// The number of an answer that carries its unit, as people write it: `30 A`, `7m`, `10 mm2`.
fn bare(answer: &str) -> &str {
    const UNITS: [&str; 9] = ["a", "amp", "amps", "ah", "m", "metres", "mm2", "mm²", "mm^2"];
    let answer = answer.trim();
    let end = answer.find(|c: char| !(c.is_ascii_digit() || ".-+".contains(c))).unwrap_or(answer.len());
    let (number, unit) = answer.split_at(end);
    if UNITS.contains(&unit.trim().to_lowercase().as_str()) { number } else { answer }
}

/// A number within what its key allows.
fn number(section: &str, key: &str, answer: &str) -> Result<f64, String> {
    let (least, most, unit) = range_of(section, key).ok_or("no such key")?;
    match bare(answer).parse::<f64>() {
        Ok(v) if v.is_finite() && v >= least.max(f64::MIN_POSITIVE) && v <= most => Ok(v),
        _ => {
            let point = if answer.contains(',') { "; decimals take a point" } else { "" };
            Err(format!("`{answer}` is not a number from {least} to {most} {unit}{point}"))
        }
    }
}

fn area(answer: &str) -> Result<f64, String> {
    let sizes: Vec<String> = conductor::areas_mm2().map(|a| a.to_string()).collect();
    let found = bare(answer).parse::<f64>().ok().filter(|v| conductor::areas_mm2().any(|a| a == *v));
    found.ok_or_else(|| {
        format!("`{answer}` is not an area of IEC 60228's table; take one of {} mm²", sizes.join(", "))
    })
}

fn word<T: ValueEnum>(answer: &str) -> Result<T, String> {
    // The first letters do, and what the trade calls an alternator that varies its volts.
    let meant = answer.trim().to_lowercase();
    let meant = if meant == "smart" { "variable".to_owned() } else { meant };
    let by_letters = || {
        let starts = |v: &&T| {
            v.to_possible_value().is_some_and(|p| !meant.is_empty() && p.get_name().starts_with(&meant))
        };
        T::value_variants().iter().find(starts).and_then(|v| v.to_possible_value())
    };
    let name = by_letters().map_or(meant.clone(), |p| p.get_name().to_owned());
    T::from_str(&name, true).map_err(|_| {
        let words: Vec<String> = T::value_variants()
            .iter()
            .filter_map(|v| Some(v.to_possible_value()?.get_name().to_owned()))
            .collect();
        format!("`{answer}` is not one of {}", words.join(", "))
    })
}

/// A word as it is typed.
pub fn name<T: ValueEnum>(value: T) -> String {
    value.to_possible_value().map(|v| v.get_name().to_owned()).unwrap_or_default()
}
