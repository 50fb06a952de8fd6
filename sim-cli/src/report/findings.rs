//! What the judge found, a sentence or two a finding. Every page, caption and table that words a finding does it here.
//!
//! Each says when, how much, and how far over or under; one idea a sentence.

#[cfg(test)]
mod tests;

use super::{Told, cranking, fuses, soc_pct};
use crate::clock::{day_and_time, duration};
use crate::numbers::{apart, plain};
use sim_core::judge::{CableOf, Finding, Kind, Measure, Section, Source, Taper, Want, Weight};
use sim_core::logic::Refusal;
use sim_core::record::Side;

/// What a finding of this weight begins with.
fn lead(weight: Weight) -> &'static str {
    match weight {
        Weight::Danger => "DANGER: ",
        Weight::Trouble => "TROUBLE: ",
        Weight::Note | Weight::Good => "",
    }
}

/// A finding as a sentence or two, with its weight before it.
pub fn sentence(told: &Told, finding: &Finding) -> String {
    // The word before it begins the sentence.
    match lead(finding.weight) {
        "" => capital(&words(told, finding)),
        lead => format!("{lead}{}", words(told, finding)),
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

/// The verdict in a word, and its first finding in full: what a page that is not a run's says of it.
pub fn verdict(told: &Told) -> String {
    let v = told.verdict;
    let weight = if v.is_good() { String::new() } else { format!(" ({})", v.weight().word()) };
    let first = v.findings.first().map(|f| format!(" {}", capital(&words(told, f)))).unwrap_or_default();
    format!("Verdict: {}{weight}.{first}", v.word())
}

/// Whether the first sentence of the answer tells it already: what the house battery got.
pub fn is_balance(kind: &Kind) -> bool {
    matches!(
        kind,
        Kind::NoGain
            | Kind::Loses
            | Kind::GainsOnlyDriving
            | Kind::FedBy { .. }
            | Kind::FullAlready
            | Kind::TopsUp
    )
}

/// Which cable, and where.
fn cable(of: CableOf) -> &'static str {
    match of {
        CableOf::Input => "input cable",
        CableOf::Output => "output cable",
    }
}

/// Which battery.
pub fn battery(side: Side) -> &'static str {
    match side {
        Side::Starter => "starter battery",
        Side::House => "house battery",
    }
}

/// "once", "twice", "5 times".
pub fn times(n: u32) -> String {
    match n {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    }
}

/// How often, and when for the first time.
fn n_at(n: u32, at: &str) -> String {
    if n == 1 { format!("once, at {at}") } else { format!("{}, first at {at}", times(n)) }
}

/// Marks a limit that nobody typed.
fn assumed(typed: bool) -> &'static str {
    if typed { "" } else { ", assumed" }
}

fn words(told: &Told, f: &Finding) -> String {
    let m = f.measure.unwrap_or(Measure::at_most(0.0, 0.0, ""));
    let at = day_and_time(told.profile, f.when.first_s);
    let how_long = duration(f.when.for_s);
    let n = times(f.when.times);
    match f.kind {
        Kind::ConductorHot { cable: of, section, typed } => conductor(f, &m, (of, section, typed), &at),
        Kind::JointHot { cable: of, typed } => {
            let (value, limit) = apart(m.value, m.limit, 0);
            let how = if m.over > 0.0 {
                let over = plain(m.over, 0);
                format!("They bear {limit} °C{}: {over} K too hot, from {at}, for {how_long}", assumed(typed))
            } else {
                format!("That is {} K under what they bear ({limit} °C{})", plain(-m.over, 0), assumed(typed))
            };
            format!(
                "the joints of the {} reach {value} °C. {how}. Measure the millivolts across each joint.",
                cable(of)
            )
        }
        Kind::FuseOpened { at: place } => format!(
            "{} ({} A) opens at {at}, with {} A through it. Its cable is open from then on.",
            fuses::place(place),
            plain(m.limit, 0),
            plain(m.value, 1)
        ),
        Kind::FuseMayOpen { at: place } => format!(
            "{} ({} A) may open at {at}. The quickest of its type open then; yours may be slower. It carries up to {} A, {} A \
             over its rating.",
            fuses::place(place),
            plain(m.limit, 0),
            plain(m.value, 1),
            plain(m.over, 1)
        ),
        Kind::FuseOver { at: place } => {
            let (value, limit) = apart(m.value, m.limit, 1);
            format!(
                "{} ({limit} A) carries up to {value} A. It is over its rating for {how_long}, from {at}. It can open, and its \
                 holder gets hot.",
                fuses::place(place)
            )
        }
        Kind::FuseLoaded { at: place } => {
            let (value, limit) = apart(m.value, m.limit, 1);
            format!(
                "{} carries up to {value} A. From {at} it is over three quarters of its rating ({limit} A) for {how_long}. It \
                 gets hot.",
                fuses::place(place)
            )
        }
        Kind::SystemVoltage { side } => {
            let source = if side == Side::Starter { "the alternator" } else { "the unit" };
            let bound = if m.value > m.limit { "at most" } else { "at least" };
            format!(
                "{source} holds {} V; a {} like this one is charged with {bound} {} V. They are made for different system \
                 voltages: check the number of cells and the set-point.",
                plain(m.value, 1),
                battery(side),
                plain(m.limit, 1)
            )
        }
        Kind::BusTooHigh { side, typed } => {
            let (value, limit) = apart(m.value, m.limit, 2);
            format!(
                "the posts of the {} reach {value} V. It bears {limit} V{}. They are over that for {how_long}, from {at}.",
                battery(side),
                assumed(typed)
            )
        }
        Kind::WindingHot => {
            let (value, limit) = apart(m.value, m.limit, 0);
            format!(
                "the alternator's winding reaches {value} °C. It bears {limit} °C, assumed. It is over that for {how_long}, \
                 from {at}: it gives all it can for too long."
            )
        }
        Kind::StartNotExpected { .. } => cranking::why(told, f),
        Kind::StarterDrained => format!(
            "the starter battery is drained: {} % at {at}. A lead-acid battery that stands under {} % is soon spoilt.",
            plain(m.value, 0),
            plain(m.limit, 0)
        ),
        Kind::StarterUnderReserve { typed } => {
            let (value, limit) = apart(m.value, m.limit, 0);
            format!(
                "the starter battery is down to {value} % at an engine start or a day's end. It should hold {limit} %{}.",
                assumed(typed)
            )
        }
        Kind::StarterPays => {
            let on = if f.when.for_s > 0.0 {
                format!("It is on for {how_long} then, first at {at}")
            } else {
                "It is off all that time: that is its standby current".to_owned()
            };
            format!(
                "with the engine stopped the unit takes {} Ah a day out of the starter battery. {on}. Up to {} Ah is no trouble.",
                plain(m.value, 1),
                plain(m.limit, 1)
            )
        }
        Kind::StarterEmptierEachDay => format!(
            "each of {} days leaves the starter battery emptier: {} % less at the end than at the start.",
            f.when.times,
            plain(m.value, 0)
        ),
        Kind::NeverComesOn { want } => never(told, want, &m),
        Kind::KeepsDroppingOut => {
            let every = told.timeline.cycle_period_s().filter(|_| f.when.times > 2);
            let every = every.map(|s| format!(", one every {} at the end", period(s))).unwrap_or_default();
            format!("the unit keeps dropping out on low input volts: {n} from {at} on{every}.")
        }
        Kind::StaysOff => format!(
            "the unit drops out on low input volts, {}. In one drive that keeps it off for {} with the engine running.",
            n_at(f.when.times, &at),
            duration(m.value)
        ),
        Kind::StopsKeepItOff => format!(
            "stops of the engine keep the unit off for {how_long} of {} of driving. It waits anew after each stop.",
            duration(told.summary.driving_s)
        ),
        Kind::DropsOutAtFirst => format!(
            "the unit drops out on low input volts, {}, well into the drive. At the drive's end it stays on.",
            n_at(f.when.times, &at)
        ),
        Kind::RunsOn => format!(
            "the unit runs on without the engine for up to {}, first from {at}. The limit is {}; the starter battery pays.",
            duration(m.value),
            duration(m.limit)
        ),
        Kind::ComesOnParked => format!(
            "the unit comes on with the engine stopped, {}, for {how_long} in all. It judges by volts alone.",
            n_at(f.when.times, &at)
        ),
        Kind::LimitBroken { key } => broken(key, &m),
        Kind::LimitedByHeat { locks: true } => format!(
            "the unit gets too hot and locks itself out {n}, first at {at}, at {} °C. It is off for {how_long} in all.",
            plain(m.limit, 0)
        ),
        Kind::LimitedByHeat { locks: false } => {
            let (value, limit) = apart(m.value, m.limit, 0);
            format!(
                "the unit gives less for {how_long}, from {at}, because it is hot. Its case reaches {value} °C; from {limit} °C \
                 on it gives less."
            )
        }
        Kind::Refused { why } => {
            let why = match why {
                Refusal::Cold => "its cells are too cold",
                Refusal::HighVoltage => "its voltage is too high",
                Refusal::OverCurrent => "its current is too high",
            };
            format!(
                "the house battery refuses charge for {how_long} of {} of driving, from {at} on: {why}.",
                duration(told.summary.driving_s)
            )
        }
        Kind::StagesCycle => format!(
            "the unit goes back from float to a new charge {n}, from {at} on: its loads or settings keep it busy."
        ),
        Kind::LoadsShed => format!(
            "the house loads are too heavy for the house battery. They are shed {n}, first at {at}, for {how_long} in all. It is \
             not flat; its lowest is {} %.",
            plain(m.value, 0)
        ),
        Kind::HouseFlat => format!(
            "the house battery is FLAT at {at}: lowest {} %. Its loads are off for {how_long} in all.",
            plain(m.value, 1)
        ),
        Kind::OnTooLate => format!(
            "the unit is on too late to matter: it waits for {how_long} of {} of driving.",
            duration(told.summary.driving_s)
        ),
        Kind::TapersEarly { by } => tapers(&m, by, &at),
        Kind::LoadHidesTail => {
            let (value, limit) = apart(m.value, m.limit, 1);
            format!(
                "absorption ends by time alone, {n}, first at {at}. The house load keeps the output at {value} A, over the tail \
                 current of {limit} A."
            )
        }
        Kind::FloatHigh => format!(
            "float is set to {} V, about as high as absorption: charge never really ends. It is held for {how_long}, from {at}.",
            plain(m.value, 2)
        ),
        Kind::StarterLosesDriving => format!(
            "driving leaves the starter battery emptier: it loses {} Ah in {how_long} with the engine running.",
            plain(m.value, 1)
        ),
        Kind::StartUpCycles => format!(
            "the unit drops out {n} in the first minutes after a start, first at {at}. The starter battery still rises then; \
             later the unit stays on."
        ),
        Kind::DropsOutOnLess => format!(
            "the unit drops out {n}, first at {at}, where the drive offers less (idling, loads). It soon comes back."
        ),
        Kind::StarterEmptier => format!(
            "the starter battery is left emptier: {} to {} %.",
            plain(soc_pct(told.summary.starter_start_soc), 0),
            plain(soc_pct(told.summary.starter_end_soc), 0)
        ),
        Kind::NoGain => {
            format!("this drive does not top up the house battery: {} while driving.", ah(m.value))
        }
        Kind::Loses => format!("the house battery loses over the whole time: {}.", ah(m.value)),
        Kind::GainsOnlyDriving => {
            format!("the house battery gains while driving and loses overall: {}.", ah(m.value))
        }
        Kind::FedBy { source } => format!(
            "{} feeds the house battery. The drive adds next to nothing: {}.",
            feeds(source),
            ah(m.value)
        ),
        Kind::FullAlready => format!("the house battery is full already: {} %.", plain(m.value, 0)),
        Kind::TopsUp => format!("this drive tops up the house battery: {} while driving.", ah(m.value)),
    }
}

/// Charge gained or lost.
fn ah(ah: f64) -> String {
    let text = plain(ah, 1);
    if text.starts_with(['-', '0']) { format!("{text} Ah") } else { format!("+{text} Ah") }
}

fn conductor(f: &Finding, m: &Measure, (of, section, typed): (CableOf, Section, bool), at: &str) -> String {
    let place = match (of, section) {
        (CableOf::Output, _) => "",
        (_, Section::Bay) => " in the engine bay",
        (_, Section::Cabin) => " in the cabin",
    };
    let cable = format!("the {}{place}", cable(of));
    let (value, limit) = apart(m.value, m.limit, 0);
    let over = format!("{} K too hot", apart(m.over, 0.0, 0).0);
    let heat = if f.when.for_s > 0.0 {
        format!(
            "{cable} reaches {value} °C. Its insulation bears {limit} °C: {over}, from {at}, for {}.",
            duration(f.when.for_s)
        )
    } else {
        // What the slowest fuse of its type would have let through; the fuse of this run opened before.
        format!(
            "behind the slowest fuse of this type {cable} would reach {value} °C soon after {at}. Its insulation bears {limit} \
             °C: {over}."
        )
    };
    let marking = if typed { "" } else { " That limit is assumed: read the cable's marking." };
    format!("{heat}{marking}")
}

fn broken(key: &str, m: &Measure) -> String {
    let (value, limit) = apart(m.value, m.limit, 2);
    let (value, limit) = match (value.strip_suffix(".00"), limit.strip_suffix(".00")) {
        (Some(value), Some(limit)) => (value.to_owned(), limit.to_owned()),
        _ => (value, limit),
    };
    let bound = if m.value > m.limit { "at most" } else { "at least" };
    let unit = if m.unit.is_empty() { String::new() } else { format!(" {}", m.unit) };
    format!("your limit limits.{key} asks for {bound} {limit}{unit}. The run comes to {value}{unit}.")
}

fn tapers(m: &Measure, by: Taper, at: &str) -> String {
    let (value, limit) = apart(m.value, m.limit, 1);
    let why = match by {
        Taper::Target => "A full battery of this kind stands higher than this target: it never gets full.",
        Taper::Cable => {
            "The output cable takes the volts: measure from the unit's output to the house posts."
        }
        Taper::Battery => {
            "The house battery takes the volts itself: it is worn, cold or small for this unit."
        }
    };
    format!(
        "the unit gives {value} A on average, of the {limit} A that it could. At {at} it reaches its target voltage, and the \
         battery is far from full. {why}"
    )
}

/// Who feeds the house battery.
pub fn feeds(source: Source) -> &'static str {
    match source {
        Source::Sun => "the sun",
        Source::Mains => "the mains charger",
    }
}

/// Seconds for short cycles, else minutes.
fn period(s: f64) -> String {
    if s < 120.0 { format!("{s:.1} s") } else { duration(s) }
}

/// Why a unit never came on.
fn never(told: &Told, want: Want, m: &Measure) -> String {
    let delay = duration(told.model.link().start_stop.turn_on_delay_s);
    let why = match want {
        Want::Signal => "it needs its run signal, and the signal never comes".to_owned(),
        Want::Volts => {
            let (value, limit) = apart(m.value, m.limit, 2);
            format!("its input never reaches turn-on ({limit} V). The highest while driving is {value} V")
        }
        Want::Held => {
            format!("its input reaches turn-on, but never for the {delay} of the turn-on delay")
        }
        Want::LongerDrives => {
            let longest = duration(m.value);
            format!("the turn-on delay is {delay}, and the longest drive lasts {longest}")
        }
    };
    format!("the unit never comes on: {why}.")
}
