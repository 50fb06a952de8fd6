//! `tickover cautions`: what goes with every result. Local rules and the makers of vehicle, battery and unit come first.

use crate::Exit;
use crate::failure::Failure;
use crate::report::page::paragraph;
use std::io::Write;

/// One caution.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Caution {
    /// What it is about, in a word or two.
    pub topic: &'static str,
    /// The caution.
    pub text: &'static str,
}

const fn caution(topic: &'static str, text: &'static str) -> Caution {
    Caution { topic, text }
}

/// The cautions, the most general first.
pub const CAUTIONS: &[Caution] = &[
    caution(
        "a model",
        "Everything printed here is predicted from the inputs listed. Measure on the vehicle before handing it over; what \
         was assumed and not measured is marked as such.",
    ),
    caution(
        "approval",
        "A calculation approves no installation. Type approval, insurance, gas lockers and local wiring rules are \
         outside it.",
    ),
    caution(
        "short circuits",
        "A battery drives thousands of amps through a dropped spanner. Isolate first; negative off first and on last, \
         unless the vehicle's maker says otherwise; no rings or watches; cover the posts.",
    ),
    caution(
        "fuses",
        "A cable between two batteries is fed from both: it needs a fuse at each end, close to the post, sized for the cable. \
         Behind an LFP battery the fuse must be able to break its short-circuit current.",
    ),
    caution(
        "ratings",
        "Heat and bundling lower what a fuse and a cable may carry. The input current is the larger one, and it rises as \
         the input voltage falls.",
    ),
    caution(
        "joints",
        "A poor joint is a heater: 45 A through 25 mΩ is 50 W. A joint too hot to hold is a fire risk; stop and mend it, \
         whatever the thresholds say.",
    ),
    caution(
        "cycling",
        "Do not cure a unit that cycles by lowering turn-off or stretching a delay before the drop has been measured. \
         Turn-off is what protects the starter battery.",
    ),
    caution(
        "lead-acid",
        "Charging gives off hydrogen, sealed types included when they are overcharged, and the acid burns: air, no sparks, \
         and charge voltages that follow temperature.",
    ),
    caution(
        "cold LFP",
        "Lithium cells may not be charged below the limit of their maker, commonly 0 °C in the cell, which lags behind the \
         air. The battery's own protection is the last resort and no thermostat.",
    ),
    caution(
        "load dump",
        "A battery that disconnects while it is being charged can throw tens of volts at everything on its bus for a \
         fraction of a second (ISO 16750-2 tests for it). That is not simulated.",
    ),
    caution(
        "running engine",
        "Never take a battery off, or open the alternator's output, while the engine turns.",
    ),
    caution(
        "battery sensor",
        "Where a sensor sits on the negative post, connect grounds where the vehicle's maker says. A load on the post \
         itself goes past the sensor.",
    ),
    caution(
        "alternator",
        "Full output for long at idle can overheat an alternator and its belt. Check head-room hot, at idle, with lights \
         and blower on.",
    ),
    caution(
        "exhaust",
        "A running engine in a closed or sheltered space kills by carbon monoxide. Do not idle to charge indoors or beside \
         sleepers.",
    ),
    caution(
        "orange and yellow",
        "High-voltage wiring of hybrids and electric vehicles, and airbag circuits, are for trained people: do not probe, \
         do not tap.",
    ),
    caution(
        "other systems",
        "24 V vehicles, positive-earth vehicles and metal boats have rules of their own: galvanic isolation, spaces where \
         nothing may spark.",
    ),
    caution(
        "routing",
        "Keep cables off fuel lines, exhaust, airbags and whatever moves. Grommets, glands, sleeves, strain relief; \
         tighten to the torque given, and again after some weeks.",
    ),
    caution(
        "radio",
        "Keep a switching converter and its cables away from aerial and tachograph leads, and fit what is approved for road \
         vehicles.",
    ),
    caution(
        "meters",
        "An ammeter put into the main cable is a blown fuse or an arc. Use a clamp or a shunt.",
    ),
    caution(
        "inverters",
        "Treat the AC side of an inverter as mains, its battery leads included, until it is isolated.",
    ),
];

/// Prints them all.
pub fn run(out: &mut dyn Write) -> Result<Exit, Failure> {
    writeln!(out, "CAUTIONS\n")?;
    for caution in CAUTIONS {
        paragraph(out, &format!("{}: {}", caution.topic.to_uppercase(), caution.text))?;
    }
    writeln!(
        out,
        "\nLocal rules, the makers of vehicle, battery and unit, and licensed practice come before all of\nthis."
    )?;
    Ok(Exit::Done)
}
