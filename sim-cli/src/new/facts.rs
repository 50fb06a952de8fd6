//! The facts: how they are asked for, what is allowed, which key each of them writes.

use super::{Alternator, Drive};
use crate::keys::default_of;
use clap::ValueEnum;
use sim_core::plant::conductor;
use sim_core::scenario::key::{Key, Kind};
use sim_core::scenario::keys_of;

/// What a fact is about, in the order asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum About {
    /// Output current of the unit, A.
    UnitA,
    /// Length of the input cable one way, m.
    CableM,
    /// Its size: mm², or AWG.
    Cable,
    /// Capacity of the house battery, Ah.
    HouseAh,
    /// Its chemistry.
    Chemistry,
    /// What the house draws, W.
    HouseLoadW,
    /// Rated current of the alternator, A.
    AlternatorA,
    /// How its regulator behaves.
    Alternator,
    /// What the vehicle itself draws with the engine running, A.
    VehicleLoadA,
    /// Turn-on voltage, V.
    TurnOnV,
    /// Turn-off voltage, V.
    TurnOffV,
    /// Use of a run signal.
    Signal,
    /// The usual drive.
    Drive,
}

/// One question.
#[derive(Debug, Clone, Copy)]
pub struct Question {
    /// What it asks.
    pub about: About,
    /// The flag that answers it, without dashes.
    pub flag: &'static str,
    /// The question.
    pub text: &'static str,
    /// What helps to answer it.
    pub hint: &'static str,
    /// Section and key that the answer is written under; `None` where it is more than a key.
    pub key: Option<(&'static str, &'static str)>,
}

const fn question(
    about: About,
    flag: &'static str,
    key: Option<(&'static str, &'static str)>,
    text: &'static str,
    hint: &'static str,
) -> Question {
    Question { about, flag, text, hint, key }
}

/// The questions, in the order asked.
pub const QUESTIONS: [Question; 13] = [
    question(
        About::UnitA,
        "unit-a",
        Some(("converter", "output_limit_a")),
        "Current on the unit's label, A",
        "the output current",
    ),
    question(
        About::CableM,
        "cable-m",
        Some(("input_cable", "length_m")),
        "Cable from the starter battery to the unit, one way, m",
        "along its path, not as the crow flies",
    ),
    question(
        About::Cable,
        "cable",
        Some(("input_cable", "area_mm2")),
        "Its conductor: mm², or AWG",
        "printed on the jacket: 6, 10, 16, 25, 35 mm², or 6 AWG, 2/0 AWG",
    ),
    question(
        About::HouseAh,
        "house-ah",
        Some(("house_battery", "capacity_ah")),
        "Capacity of the house battery, Ah",
        "on its label",
    ),
    question(
        About::Chemistry,
        "chemistry",
        Some(("house_battery", "chemistry")),
        "Its chemistry: lfp, agm, gel or flooded",
        "lfp is lithium iron phosphate; the others are lead-acid",
    ),
    question(
        About::HouseLoadW,
        "house-load-w",
        Some(("house", "load_w")),
        "What the house side draws while driving, W",
        "fridge, fans and standby together",
    ),
    question(
        About::AlternatorA,
        "alternator-a",
        Some(("alternator", "rated_a")),
        "Current on the alternator's label, A",
        "the greater one, if there are two",
    ),
    question(
        About::Alternator,
        "alternator",
        None,
        "Alternator: fixed or variable",
        "variable if the volts change while driving, as in most vehicles with a sensor on the battery's negative post",
    ),
    question(
        About::VehicleLoadA,
        "vehicle-load-a",
        Some(("vehicle", "running_load_a")),
        "What the vehicle itself draws with the engine running, A",
        "blower and lights as usual; 12 to 70",
    ),
    question(
        About::TurnOnV,
        "turn-on-v",
        Some(("start_stop", "turn_on_v")),
        "Volts at its input at which the unit comes on, V",
        "in its settings or its papers",
    ),
    question(
        About::TurnOffV,
        "turn-off-v",
        Some(("start_stop", "turn_off_v")),
        "Volts at its input below which it drops out, V",
        "in its settings or its papers",
    ),
    question(
        About::Signal,
        "signal",
        Some(("start_stop", "signal")),
        "Run signal: none, required, either or second-pair",
        "required: volts and signal must agree; either: one of them starts it; second-pair: other thresholds with it",
    ),
    question(
        About::Drive,
        "drive",
        None,
        "The usual drive: short, town or long",
        "15 minutes on the road, 45 minutes of stop and go, or 3 hours with a break",
    ),
];

/// What was said, in the order of [`QUESTIONS`].
#[derive(Debug, Clone, Default)]
pub struct Facts {
    said: [Option<String>; QUESTIONS.len()],
}

impl Facts {
    /// Takes an answer.
    ///
    /// # Errors
    /// What is wrong with it and what is allowed; what was said before stays.
    pub fn take(&mut self, question: &Question, answer: &str) -> Result<(), String> {
        let value = match (question.about, question.spec()) {
            (About::Alternator, _) => word::<Alternator>(answer)?,
            (About::Drive, _) => word::<Drive>(answer)?,
            (About::Cable, _) => size(answer)?,
            (_, Some(key)) if matches!(key.spec.kind, Kind::Number { .. }) => number(&key, answer)?,
            (About::Chemistry, _) => one_of(answer, &["lfp", "agm", "gel", "flooded"])?,
            (_, Some(Key { spec, .. })) => match spec.kind {
                Kind::Choice(words) => one_of(answer, words)?,
                _ => answer.trim().to_owned(),
            },
            (_, None) => answer.trim().to_owned(),
        };
        self.said[question.about as usize] = Some(value);
        Ok(())
    }

    /// What was said, as it is written in a file without its quotes; `None` where nobody said.
    pub fn said(&self, about: About) -> Option<&str> {
        self.said[about as usize].as_deref()
    }

    /// What does not go together in them.
    pub fn clash(&self) -> Option<String> {
        let (on_v, off_v) = (self.number(About::TurnOnV), self.number(About::TurnOffV));
        let told = |about| if self.said(about).is_some() { "" } else { " (the default)" };
        (off_v >= on_v).then(|| {
            format!(
                "--turn-off-v: {off_v} V{} does not lie below turn-on at {on_v} V{}",
                told(About::TurnOffV),
                told(About::TurnOnV)
            )
        })
    }

    /// A number, stated or the default of its key.
    pub fn number(&self, about: About) -> f64 {
        let default = || match QUESTIONS[about as usize].spec()?.spec.fallback {
            sim_core::scenario::key::Fallback::Number(value, _) => Some(value),
            _ => None,
        };
        self.said(about).and_then(|v| v.parse().ok()).or_else(default).unwrap_or_default()
    }

    /// How the alternator's regulator behaves.
    pub fn alternator(&self) -> Alternator {
        self.said(About::Alternator)
            .and_then(|w| Alternator::from_str(w, true).ok())
            .unwrap_or(Alternator::Fixed)
    }

    /// The usual drive.
    pub fn drive(&self) -> Drive {
        self.said(About::Drive).and_then(|w| Drive::from_str(w, true).ok()).unwrap_or(Drive::Town)
    }

    /// The cable's size in words.
    pub fn cable(&self) -> String {
        match self.said(About::Cable) {
            Some(size) if size.ends_with("AWG") => size.to_owned(),
            _ => format!("{} mm²", self.number(About::Cable)),
        }
    }
}

impl Question {
    /// The key that it writes.
    pub fn spec(&self) -> Option<Key> {
        let (section, name) = self.key?;
        keys_of(section)?.into_iter().find(|k| k.name == name)
    }

    /// What is assumed where nobody says, as it would be typed.
    pub fn assumed(&self) -> String {
        match self.about {
            About::Alternator => name(Alternator::Fixed),
            About::Drive => name(Drive::Town),
            // No default: the curve is given by its own numbers.
            About::AlternatorA => "not known".to_owned(),
            _ => self
                .spec()
                .and_then(|k| default_of(&k))
                .map_or_else(String::new, |(v, _)| v.trim_matches('"').to_owned()),
        }
    }
}

/// The number of an answer that carries its unit, as people write it: `30 A`, `7m`, `10 mm2`.
fn bare(answer: &str) -> &str {
    const UNITS: [&str; 15] = [
        "a", "amp", "amps", "ah", "m", "metres", "mm2", "mm²", "mm^2", "v", "volt", "volts", "w", "watt",
        "watts",
    ];
    let answer = answer.trim();
    let end = answer.find(|c: char| !(c.is_ascii_digit() || ".-+".contains(c))).unwrap_or(answer.len());
    let (number, unit) = answer.split_at(end);
    if UNITS.contains(&unit.trim().to_lowercase().as_str()) { number } else { answer }
}

/// A number within what its key allows.
fn number(key: &Key, answer: &str) -> Result<String, String> {
    let Kind::Number { least, most, .. } = key.spec.kind else { return Err("no number".into()) };
    // A load may be nothing; a length, a current or a capacity of nothing is no answer.
    let least = if key.name.contains("load") { least } else { least.max(f64::MIN_POSITIVE) };
    match bare(answer).parse::<f64>() {
        Ok(v) if v.is_finite() && v >= least && v <= most => Ok(v.to_string()),
        _ => {
            let point = if answer.contains(',') { "; decimals take a point" } else { "" };
            Err(format!("`{answer}` is not {}{point}", key.spec.allowed()))
        }
    }
}

/// A cable's size: an area of IEC 60228's table, or an AWG size, as in `6 AWG`, `AWG 2/0` or `2/0`.
fn size(answer: &str) -> Result<String, String> {
    let lower = answer.trim().to_lowercase();
    let awg = lower.strip_prefix("awg").or(lower.strip_suffix("awg")).map(str::trim);
    let awg = awg.or(lower.contains('/').then_some(lower.as_str()));
    if let Some(size) = awg {
        let known = conductor::awg_area_mm2(size);
        return known.map(|_| format!("{size} AWG")).ok_or_else(|| {
            let sizes: Vec<&str> = conductor::awg_sizes().collect();
            format!("`{answer}` is no AWG size that is known here; take one of {}", sizes.join(", "))
        });
    }
    let found = bare(answer).parse::<f64>().ok().filter(|v| conductor::areas_mm2().any(|a| a == *v));
    found.map(|v| v.to_string()).ok_or_else(|| {
        let sizes: Vec<String> = conductor::areas_mm2().map(|a| a.to_string()).collect();
        format!(
            "`{answer}` is not an area of IEC 60228's table; take one of {} mm², or an AWG size such as \"6 AWG\"",
            sizes.join(", ")
        )
    })
}

/// One of several words; its first letters do where no other begins with them.
fn one_of(answer: &str, words: &[&str]) -> Result<String, String> {
    let meant = answer.trim().to_lowercase();
    let mut near = words.iter().filter(|w| !meant.is_empty() && w.starts_with(&meant));
    let found = words.iter().find(|w| **w == meant).or_else(|| near.next().filter(|_| near.next().is_none()));
    found
        .map(|w| (*w).to_owned())
        .ok_or_else(|| format!("`{}` is not one of {}", answer.trim(), words.join(", ")))
}

fn word<T: ValueEnum>(answer: &str) -> Result<String, String> {
    // What the trade calls an alternator that varies its volts.
    let meant = if answer.trim().eq_ignore_ascii_case("smart") { "variable" } else { answer };
    let names: Vec<String> = T::value_variants().iter().filter_map(word_of).collect();
    one_of(meant, &names.iter().map(String::as_str).collect::<Vec<_>>())
}

fn word_of<T: ValueEnum>(value: &T) -> Option<String> {
    Some(value.to_possible_value()?.get_name().to_owned())
}

/// A word as it is typed.
pub fn name<T: ValueEnum>(value: T) -> String {
    word_of(&value).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn questions_stand_in_the_order_of_what_they_are_about() {
        for (n, question) in QUESTIONS.iter().enumerate() {
            assert_eq!(question.about as usize, n, "{}", question.flag);
            assert!(question.key.is_none() || question.spec().is_some(), "{}", question.flag);
            assert!(!question.assumed().is_empty(), "{}", question.flag);
        }
    }

    #[test]
    fn a_cable_is_told_in_mm2_or_in_awg() {
        assert_eq!(size("16 mm2"), Ok("16".to_owned()));
        for written in ["6 AWG", "awg 6", "AWG6", "6awg"] {
            assert_eq!(size(written), Ok("6 AWG".to_owned()), "{written}");
        }
        assert_eq!(size("2/0"), Ok("2/0 AWG".to_owned()));
        assert!(size("17").expect_err("no such size").contains("6 AWG"));
        assert!(size("99 AWG").expect_err("no such size").contains("2/0"));
    }
}
