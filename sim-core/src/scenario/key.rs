//! Keys of a scenario: the one source for reading, checks, defaults and the key reference.

use crate::spread::Spread;
use crate::time::DAY_S;

/// A unit that key names end in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Volts.
    V,
    /// Amperes.
    A,
    /// Milliamperes.
    MilliA,
    /// Ampere-hours.
    Ah,
    /// Milliohms.
    MilliOhm,
    /// Square millimetres.
    Mm2,
    /// Metres.
    M,
    /// Watts.
    W,
    /// Seconds.
    S,
    /// Minutes.
    Min,
    /// Hours.
    H,
    /// Degrees Celsius.
    C,
    /// Per cent.
    Pct,
    /// Revolutions per minute.
    Rpm,
    /// Kilometres per hour.
    Kmh,
    /// Joules per kelvin.
    JPerK,
    /// Watts per kelvin.
    WPerK,
    /// One over watts.
    PerW,
    /// Kelvin of difference.
    K,
    /// Millivolts.
    MilliV,
    /// Millivolts per kelvin.
    MilliVPerK,
    /// Per cent per kelvin.
    PctPerK,
    /// Per cent in a month.
    PctPerMonth,
    /// Amperes per second.
    APerS,
    /// Volts per second.
    VPerS,
    /// Litres for a kilowatt-hour.
    LPerKwh,
    /// Square centimetres.
    Cm2,
    /// A pure number.
    One,
}

impl Unit {
    /// As printed behind a value.
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::V => "V",
            Unit::A => "A",
            Unit::MilliA => "mA",
            Unit::Ah => "Ah",
            Unit::MilliOhm => "mΩ",
            Unit::Mm2 => "mm²",
            Unit::M => "m",
            Unit::W => "W",
            Unit::S => "s",
            Unit::Min => "min",
            Unit::H => "h",
            Unit::C => "°C",
            Unit::Pct => "%",
            Unit::Rpm => "rpm",
            Unit::Kmh => "km/h",
            Unit::JPerK => "J/K",
            Unit::WPerK => "W/K",
            Unit::PerW => "1/W",
            Unit::K => "K",
            Unit::MilliV => "mV",
            Unit::MilliVPerK => "mV/K",
            Unit::PctPerK => "%/K",
            Unit::PctPerMonth => "%/month",
            Unit::APerS => "A/s",
            Unit::VPerS => "V/s",
            Unit::LPerKwh => "L/kWh",
            Unit::Cm2 => "cm²",
            Unit::One => "",
        }
    }

    /// The unit used inside and the factor to it. Temperatures stay in °C, speeds in rpm and km/h.
    pub fn si(self) -> (&'static str, f64) {
        match self {
            Unit::MilliA => ("A", 1e-3),
            Unit::Ah => ("C", 3600.0),
            Unit::MilliOhm => ("Ω", 1e-3),
            Unit::Min => ("s", 60.0),
            Unit::H => ("s", 3600.0),
            Unit::Pct => ("", 1e-2),
            Unit::MilliV => ("V", 1e-3),
            Unit::MilliVPerK => ("V/K", 1e-3),
            Unit::PctPerK => ("1/K", 1e-2),
            // A month of 30 days.
            Unit::PctPerMonth => ("1/s", 1e-2 / (30.0 * DAY_S)),
            Unit::Cm2 => ("m²", 1e-4),
            other => (other.symbol(), 1.0),
        }
    }
}

/// What a key takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// A number, or a table `{ measured = …, plus_minus = … }`.
    Number {
        /// Its unit.
        unit: Unit,
        /// Smallest value allowed.
        least: f64,
        /// Greatest value allowed.
        most: f64,
    },
    /// A list of such numbers.
    Numbers {
        /// Their unit.
        unit: Unit,
        /// Smallest value allowed.
        least: f64,
        /// Greatest value allowed.
        most: f64,
    },
    /// One of several words.
    Choice(&'static [&'static str]),
    /// A text.
    Text,
}

/// What stands where a key is not written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fallback {
    /// This number.
    Number(f64, &'static str),
    /// This word.
    Word(&'static str, &'static str),
    /// These numbers.
    Numbers(&'static [f64], &'static str),
    /// Nothing: the effect is absent or the value follows from others.
    Nothing,
}

/// What a key takes and what stands in for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spec {
    /// What it takes.
    pub kind: Kind,
    /// What stands where it is not written, with its source.
    pub fallback: Fallback,
    /// How a default number spreads over vehicles, and how that is known; `None`: nobody measured it.
    pub spread: Option<(Spread, &'static str)>,
}

/// One key of one section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Key {
    /// Its name, with its unit.
    pub name: &'static str,
    /// What it means.
    pub doc: &'static str,
    /// What it takes.
    pub spec: Spec,
}

/// A number between two bounds, both allowed.
pub const fn number(unit: Unit, least: f64, most: f64) -> Spec {
    Spec { kind: Kind::Number { unit, least, most }, fallback: Fallback::Nothing, spread: None }
}

/// A list of numbers between two bounds.
pub const fn numbers(unit: Unit, least: f64, most: f64) -> Spec {
    Spec { kind: Kind::Numbers { unit, least, most }, fallback: Fallback::Nothing, spread: None }
}

/// One of several words.
pub const fn choice(words: &'static [&'static str]) -> Spec {
    Spec { kind: Kind::Choice(words), fallback: Fallback::Nothing, spread: None }
}

/// A text.
pub const fn text() -> Spec {
    Spec { kind: Kind::Text, fallback: Fallback::Nothing, spread: None }
}

impl Spec {
    /// Gives a default number and its source.
    pub const fn or(mut self, value: f64, source: &'static str) -> Spec {
        self.fallback = Fallback::Number(value, source);
        self
    }

    /// Says how the default number spreads over vehicles, in the key's unit, and how that is known.
    pub const fn spreads(mut self, spread: Spread, source: &'static str) -> Spec {
        self.spread = Some((spread, source));
        self
    }

    /// Gives a default word and its source.
    pub const fn or_word(mut self, word: &'static str, source: &'static str) -> Spec {
        self.fallback = Fallback::Word(word, source);
        self
    }

    /// Gives default numbers and their source.
    pub const fn or_numbers(mut self, values: &'static [f64], source: &'static str) -> Spec {
        self.fallback = Fallback::Numbers(values, source);
        self
    }

    /// What is allowed, in words.
    pub fn allowed(&self) -> String {
        match self.kind {
            Kind::Number { least, most, .. } if least == most => format!("the number {least}"),
            Kind::Number { unit, least, most } => {
                format!("a number from {least} to {most} {}", unit.symbol()).trim_end().to_owned()
            }
            Kind::Numbers { unit, least, most } => {
                format!("a list of numbers from {least} to {most} {}", unit.symbol()).trim_end().to_owned()
            }
            Kind::Choice(words) => format!("one of {}", words.join(", ")),
            Kind::Text => "a text in quotes".to_owned(),
        }
    }
}
