//! What the judge found, a sentence a finding. Every page, caption and table that words a finding does it here.

use super::{Told, cranking, fuses, soc_pct};
use crate::clock::{day_and_time, duration};
use sim_core::judge::{CableOf, Finding, Kind, Measure, Section, Source, Want, Weight};
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
    let text = words(told, finding);
    let lead = lead(finding.weight);
    let mut letters = text.chars();
    match letters.next() {
        // The word before it begins the sentence.
        Some(first) if lead.is_empty() => first.to_uppercase().chain(letters).collect(),
        _ => format!("{lead}{text}"),
    }
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

fn battery(side: Side) -> &'static str {
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

/// What a limit is that nobody typed.
fn unless_typed(typed: bool, what: &str) -> String {
    if typed { String::new() } else { format!(" {what}") }
}

fn words(told: &Told, f: &Finding) -> String {
    let m = f.measure.unwrap_or(Measure::at_most(0.0, 0.0, ""));
    let at = day_and_time(told.profile, f.when.first_s);
    let how_long = duration(f.when.for_s);
    let n = times(f.when.times);
    match f.kind {
        Kind::ConductorHot { cable: of, section, typed } => {
            let place = match (of, section) {
                (CableOf::Output, _) => String::new(),
                (_, Section::Bay) => " in the engine bay".to_owned(),
                (_, Section::Cabin) => " in the cabin".to_owned(),
            };
            format!(
                "the {}{place} reaches {:.0} °C, first over {:.0} °C at {at}. Its insulation bears {:.0} °C{}.",
                cable(of),
                m.value,
                m.limit,
                m.limit,
                unless_typed(typed, "if nothing else is printed on it: read the cable's marking")
            )
        }
        Kind::JointHot { cable: of, typed } => {
            let over = if m.over > 0.0 { "they bear" } else { "close to what they bear," };
            format!(
                "the joints of the {} reach {:.0} °C; {over} {:.0} °C{}. Measure the millivolts across each joint.",
                cable(of),
                m.value,
                m.limit,
                unless_typed(typed, "(assumed)")
            )
        }
        Kind::FuseOpened { at: place } => format!(
            "{} ({:.0} A) opens at {at}, with {:.1} A through it. Its cable is open from then on.",
            fuses::place(place),
            m.limit,
            m.value
        ),
        Kind::FuseOver { at: place } => format!(
            "{} ({:.0} A) carries up to {:.1} A, over its rating for {how_long}. It can open, and its holder gets hot.",
            fuses::place(place),
            m.limit,
            m.value
        ),
        Kind::FuseLoaded { at: place } => format!(
            "{} carries up to {:.1} A. For {how_long} that is over three quarters of its rating ({:.1} A): it gets hot.",
            fuses::place(place),
            m.value,
            m.limit
        ),
        Kind::SystemVoltage { side } => {
            let source = if side == Side::Starter { "the alternator" } else { "the unit" };
            format!(
                "{source} holds {:.1} V, and the {} is made for another system voltage. Check the number of cells and the \
                 set-point.",
                m.value,
                battery(side)
            )
        }
        Kind::BusTooHigh { side, typed } => format!(
            "the posts of the {} stand at up to {:.2} V; it bears {:.2} V{} and stands over that for {how_long}.",
            battery(side),
            m.value,
            m.limit,
            unless_typed(typed, "(assumed)")
        ),
        Kind::WindingHot => format!(
            "the alternator's winding reaches {:.0} °C; it bears {:.0} °C (assumed). It gives all it can for too long.",
            m.value, m.limit
        ),
        Kind::StartNotExpected { .. } => cranking::why(told, f),
        Kind::StarterDrained => format!(
            "the starter battery is drained: {:.0} % at {at}. {}",
            m.value, "A lead-acid battery that stands like this is soon spoilt."
        ),
        Kind::StarterUnderReserve { typed } => format!(
            "the starter battery is down to {:.0} % at an engine start; it should hold {:.0} %{}.",
            m.value,
            m.limit,
            unless_typed(typed, "(assumed)")
        ),
        Kind::StarterPays => format!(
            "with the engine stopped the unit takes {:.1} Ah a day out of the starter battery.",
            m.value
        ),
        Kind::StarterEmptierEachDay => format!(
            "each day leaves the starter battery emptier: {:.0} % less at the end than at the start.",
            m.value
        ),
        Kind::NeverComesOn { want } => never(told, want, &m),
        Kind::KeepsDroppingOut => {
            let every = told.timeline.cycle_period_s().filter(|_| f.when.times > 2);
            let every = every.map(|s| format!(", one every {} at the end", period(s))).unwrap_or_default();
            format!("the unit keeps dropping out on low input volts: {n} from {at} on{every}.")
        }
        Kind::StaysOff => format!(
            "the unit drops out on low input volts at {at} and stays off with the engine running, {} in one drive.",
            duration(m.value)
        ),
        Kind::StopsKeepItOff => {
            format!(
                "stops of the engine keep the unit off for {how_long} of the driving: it waits anew after each."
            )
        }
        Kind::DropsOutAtFirst => format!(
            "the unit drops out on low input volts {n} from {at} on, well into the drive, and stays on at its end."
        ),
        Kind::RunsOn => format!(
            "the unit runs on without the engine for up to {}. At most {} is usual; the starter battery pays.",
            duration(m.value),
            duration(m.limit)
        ),
        Kind::ComesOnParked => {
            format!(
                "the unit comes on with the engine stopped, {n}, first at {at}. It judges by volts alone."
            )
        }
        Kind::LimitBroken { key } => format!(
            "your limit limits.{key} is {}, and {} was met.",
            (m.limit * 100.0).round() / 100.0,
            (m.value * 100.0).round() / 100.0
        ),
        Kind::LimitedByHeat { locks: true } => {
            format!(
                "the unit gets too hot and locks itself out {n}, first at {at}; off for {how_long} in all."
            )
        }
        Kind::LimitedByHeat { locks: false } => {
            format!(
                "the unit gives less for {how_long} because it is hot, up to {:.0} °C at its case.",
                m.value
            )
        }
        Kind::Refused { why } => {
            let why = match why {
                Refusal::Cold => "its cells are too cold",
                Refusal::HighVoltage => "its voltage is too high",
                Refusal::OverCurrent => "its current is too high",
            };
            format!("the house battery refuses charge for {how_long} of the driving: {why}.")
        }
        Kind::StagesCycle => {
            format!(
                "the unit goes back from float to a new charge {n}, from {at} on: its loads or settings keep it busy."
            )
        }
        Kind::LoadsShed => format!("the house loads are shed {n}, first at {at}, for {how_long} in all."),
        Kind::HouseFlat => {
            format!("the house battery is FLAT at {at}: lowest {:.1} %.", soc_pct(told.summary.house_low_soc))
        }
        Kind::OnTooLate => format!(
            "the unit is on too late to matter: it waits for {how_long} of {} of driving.",
            duration(told.summary.driving_s)
        ),
        Kind::StartUpCycles => format!(
            "the unit drops out {n} in the first minutes after a start, while the starter battery still rises; then it stays \
             on."
        ),
        Kind::DropsOutOnLess => {
            format!(
                "the unit drops out {n} where the drive offers less (idling, loads), and soon comes back."
            )
        }
        Kind::StarterEmptier => format!(
            "the starter battery is left emptier: {:.0} to {:.0} %.",
            soc_pct(told.summary.starter_start_soc),
            soc_pct(told.summary.starter_end_soc)
        ),
        Kind::NoGain => "this drive does not top up the house battery.".to_owned(),
        Kind::Loses => "the house battery loses over the whole time.".to_owned(),
        Kind::GainsOnlyDriving => "it gains while driving, and loses overall.".to_owned(),
        Kind::FedBy { source } => {
            format!("{} feeds the house battery; the drive adds nothing.", feeds(source))
        }
        Kind::FullAlready => "the house battery is full already.".to_owned(),
        Kind::TopsUp => "this drive tops up the house battery.".to_owned(),
        other => format!("{}.", other.word()),
    }
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
    match want {
        Want::Signal => {
            "the unit never comes on: it needs its run signal, and the signal never comes.".to_owned()
        }
        Want::Volts => format!(
            "the unit never comes on: its input never reaches turn-on ({:.2} V). The highest with the engine running is \
             {:.2} V.",
            m.limit, m.value
        ),
        Want::Held => format!(
            "the unit never comes on: its input reaches turn-on, but never for the {} of the delay.",
            duration(told.model.link().start_stop.turn_on_delay_s)
        ),
        Want::LongerDrives => format!(
            "the unit never comes on: no drive lasts much longer than its turn-on delay of {}.",
            duration(told.model.link().start_stop.turn_on_delay_s)
        ),
    }
}
