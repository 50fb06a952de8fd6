//! What would leave no trouble at all, in words.

use super::super::Told;
use super::Depth;
use crate::clock::duration;
use sim_core::explain::remedy::Change;
use sim_core::explain::{Knob, Remedy, SignalMode};
use sim_core::judge::CableOf;

/// Charge by which a change must deliver more or less before that is said, Ah.
const WORTH_AH: f64 = 0.05;
/// Change of the starter battery's charge that is worth a word, share of full.
const WORTH_SOC: f64 = 0.005;
/// Change of a time that is worth a word, s.
const WORTH_S: f64 = 30.0;

fn cable(of: CableOf) -> &'static str {
    match of {
        CableOf::Input => "input cable",
        CableOf::Output => "output cable",
    }
}

/// A value of a knob, with its unit.
fn figures(knob: Knob, value: f64) -> String {
    match knob {
        Knob::Joints(_) | Knob::LessCable | Knob::LessDroop => format!("{:.0} mΩ", 1e3 * value),
        Knob::OutputLimit | Knob::Fuse(_) => format!("{value:.0} A"),
        Knob::HouseTemp => format!("{value:.0} °C"),
        Knob::TurnOnDelay | Knob::TurnOffDelay => format!("{value:.0} s"),
        Knob::Copper(_) => format!("{} times", (100.0 * value).round() / 100.0),
        Knob::Idle => format!("{value:.0} rpm"),
        _ => format!("{value:.2} V"),
    }
}

/// A signal of this kind, in words.
fn signal(mode: SignalMode) -> &'static str {
    match mode {
        SignalMode::Required => {
            "a run signal that the unit must have (signal = \"required\"): it stops with the engine"
        }
        SignalMode::Either => {
            "a run signal that holds the unit on while the engine runs (signal = \"either\")"
        }
        SignalMode::SecondPair => "a run signal with lower thresholds of its own (signal = \"second-pair\")",
    }
}

/// A change for a customer: what is done, without a number more than needed.
fn plain(c: &Change) -> String {
    match c.knob {
        Knob::Joints(of) => format!("better joints in the {}", cable(of)),
        Knob::LessCable => "a thicker cable or better joints to the unit".to_owned(),
        Knob::LessDroop => "a better cable or strap between alternator and battery".to_owned(),
        Knob::Copper(of) => format!("a thicker {}", cable(of)),
        Knob::Fuse(of) => format!("a larger fuse in the {}", cable(of)),
        Knob::Signal(_) => "a wire that tells the unit that the engine runs".to_owned(),
        Knob::HouseTemp => "a warmer house battery".to_owned(),
        _ => change(c),
    }
}

/// A change: what it is now and what it becomes, and the least that is enough.
fn change(c: &Change) -> String {
    let of = |v: Option<f64>| v.map(|v| figures(c.knob, v)).unwrap_or_default();
    let (to, now, least) = (of(c.to), of(c.now), of(c.least));
    let more = |what: &str| {
        let enough = if least == to { String::new() } else { format!("; {least} less is the least") };
        format!("{to} less {what}{enough}")
    };
    let enough = if least == to { String::new() } else { format!("; {least} is just enough") };
    match c.knob {
        Knob::Joints(of) => more(&format!("in the joints of the {}", cable(of))),
        Knob::LessCable => more("in the input cable (a thicker or shorter cable, better joints)"),
        Knob::LessDroop => more("between alternator and starter battery"),
        Knob::Copper(of) => format!("{to} the copper in the {}", cable(of)),
        Knob::Fuse(of) => format!("a fuse of {to} in the {} (now {now}){enough}", cable(of)),
        Knob::Signal(mode) => signal(mode).to_owned(),
        Knob::SignalHeld => "a run signal that stays live while the engine runs".to_owned(),
        Knob::CableClosed => "an input cable that stays closed".to_owned(),
        Knob::OutputLimit => format!("the output limit at {to} (now {now}){enough}"),
        Knob::TurnOnDelay => format!("a turn-on delay of {to} (now {now}){enough}"),
        Knob::TurnOffDelay => format!("a turn-off delay of {to} (now {now}){enough}"),
        Knob::TurnOn | Knob::TurnOnLower => format!("turn-on at {to} (now {now}){enough}"),
        Knob::TurnOff | Knob::TurnOffLower => format!("turn-off at {to} (now {now}){enough}"),
        Knob::SetPointFloor => {
            format!("a set-point that never goes under {to} (now {now}), if it can be set{enough}")
        }
        Knob::SetPointCap => {
            format!("a set-point that never goes over {to} (now {now}), if it can be set{enough}")
        }
        Knob::Recharge => format!("the recharge voltage at {to} (now {now}){enough}"),
        Knob::Absorption => format!("absorption at {to} (now {now}){enough}"),
        Knob::HouseTemp => format!("the house battery at {to} (now {now}){enough}"),
        Knob::Dark => "no sun or maintainer on the starter battery".to_owned(),
        Knob::KeepRunning => "an engine that idles instead of stopping".to_owned(),
        Knob::Idle => format!("an engine that never turns slower than {to} (now {now}){enough}"),
    }
}

fn upper(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// What a remedy changes.
fn changes(r: &Remedy, depth: Depth) -> String {
    let one = |c: &Change| if depth == Depth::Customer { plain(c) } else { change(c) };
    upper(&r.changes.iter().map(one).collect::<Vec<_>>().join(". Together with it: "))
}

/// What it gives and costs, beside what it is now.
fn cost(r: &Remedy, depth: Depth) -> String {
    let (now, then) = (&r.before, &r.cost);
    let mut told = Vec::new();
    if (then.output_ah - now.output_ah).abs() > WORTH_AH {
        told.push(format!("It delivers {:.1} Ah (now {:.1} Ah).", then.output_ah, now.output_ah));
    } else if then.output_ah > WORTH_AH {
        told.push(format!("It delivers {:.1} Ah, as now.", then.output_ah));
    }
    if let Some(v) = r.spare_v.filter(|_| depth > Depth::Customer) {
        told.push(format!("The input stays {v:.2} V above turn-off."));
    }
    if (then.starter_end_soc - now.starter_end_soc).abs() > WORTH_SOC {
        let pct = |soc: f64| format!("{:.1} %", 100.0 * soc);
        told.push(format!(
            "The starter battery ends at {} (now {}).",
            pct(then.starter_end_soc),
            pct(now.starter_end_soc)
        ));
    }
    let times = |what: &str, then_s: f64, now_s: f64| {
        let worth = (then_s - now_s).abs() > WORTH_S;
        worth.then(|| format!("{what} {} (now {}).", duration(then_s), duration(now_s)))
    };
    told.extend(times("The longest run-on is", then.run_on_s, now.run_on_s));
    if (then.parked_s - then.run_on_s - now.parked_s + now.run_on_s).abs() > WORTH_S {
        told.extend(times("On with the engine stopped, in all:", then.parked_s, now.parked_s));
    }
    if let (Some(then_s), Some(now_s)) = (then.first_on_s, now.first_on_s)
        && then_s > now_s + WORTH_S
    {
        told.push(format!("It first comes on {} later.", duration(then_s - now_s)));
    }
    told.join(" ")
}

/// One remedy: what is changed, what it gives and costs.
pub fn sentence(head: &str, r: &Remedy, depth: Depth) -> String {
    format!("{head}{}. {}", changes(r, depth), cost(r, depth)).trim_end().to_owned()
}

/// The remedies, a paragraph each; nothing where nothing has to be done.
pub fn sentences(told: &Told, depth: Depth) -> Vec<String> {
    if told.verdict.is_good() {
        return Vec::new();
    }
    let found = &told.why().remedies;
    let mut lines = Vec::new();
    let most = if depth == Depth::Customer { 1 } else { usize::MAX };
    for (n, r) in found.whole.iter().take(most).enumerate() {
        lines.push(sentence(if n == 0 { "What helps: " } else { "Or: " }, r, depth));
    }
    if !found.whole.is_empty() && depth > Depth::Customer {
        lines.push(if found.whole.len() == 1 { WHOLE_ONE } else { WHOLE }.to_owned());
    }
    if found.whole.is_empty() {
        lines.push(if found.runs == 0 { NOTHING.to_owned() } else { NONE.to_owned() });
    }
    if found.cut_short {
        lines.push(CUT_SHORT.to_owned());
    }
    if let Some((r, left)) = &found.partly {
        let mut words: Vec<&str> = left.iter().map(|f| f.kind.word()).collect();
        words.dedup();
        lines.push(format!(
            "The nearest: {}. What is then left: {}. {}",
            changes(r, depth),
            words.join(", "),
            cost(r, depth)
        ));
    }
    lines
}

/// What a remedy rests on.
const WHOLE_ONE: &str = "It was tried on the whole run: no trouble is left with it.";
/// What several rest on.
const WHOLE: &str = "Each was tried on the whole run: no trouble is left with it.";
/// What is said where no change was found.
pub const NONE: &str = "No change that was tried leaves no trouble at all.";
/// What is said where the search came to its bound.
pub const CUT_SHORT: &str = "Not every change was tried to the end: the search may take no more steps.";
/// What is said where there is nothing to be set.
pub const NOTHING: &str = "No setting or cable mends this. It takes another part, a number put right in the file, less load or a longer drive.";
