//! What would have prevented a story, in words.

use super::Depth;
use sim_core::explain::{Counterfactual, Family, Knob};

fn figures(knob: Knob, value: f64) -> String {
    match knob {
        Knob::LessRun | Knob::LessDroop => format!("{:.0} mΩ", 1e3 * value),
        Knob::OutputLimit => format!("{value:.0} A"),
        Knob::HouseTemp => format!("{value:.0} °C"),
        _ => format!("{value:.2} V"),
    }
}

/// The change, as the beginning of a sentence.
fn with(c: &Counterfactual, depth: Depth) -> String {
    match (depth, c.knob) {
        (Depth::Customer, Knob::LessRun) => {
            return "With a thicker cable or better joints to the unit".to_owned();
        }
        (Depth::Customer, Knob::LessDroop) => {
            return "With a better cable or strap between alternator and battery".to_owned();
        }
        (Depth::Customer, Knob::HouseTemp) => return "With a warmer house battery".to_owned(),
        _ => {}
    }
    let to = c.tried.map(|v| figures(c.knob, v)).unwrap_or_default();
    let now = c.now.map(|v| figures(c.knob, v)).unwrap_or_default();
    match c.knob {
        Knob::LessRun => format!("With {to} less in the run (a thicker or shorter cable, better joints)"),
        Knob::LessDroop => format!("With {to} less between alternator and starter battery"),
        Knob::OutputLimit => format!("With the output limit at {to} in place of {now}"),
        Knob::SetPointFloor => format!("Had the set-point never gone under {to} (it went to {now})"),
        Knob::TurnOn => format!("With turn-on at {to} in place of {now}"),
        Knob::Recharge => format!("With the recharge voltage at {to} in place of {now}"),
        Knob::Absorption => format!("With absorption at {to} in place of {now}"),
        Knob::HouseTemp => format!("With the house battery at {to} in place of {now}"),
        Knob::Dark => "Without sun or maintainer on the starter battery".to_owned(),
        Knob::KeepRunning => "Had the engine idled in place of stopping".to_owned(),
        Knob::SignalHeld => "Had the run signal stayed live".to_owned(),
        Knob::RunClosed => "Had the run stayed closed".to_owned(),
    }
}

/// What does not happen then.
fn then(family: Family) -> &'static str {
    match family {
        Family::Driving | Family::Heat | Family::Signal => "it would have stayed on",
        Family::Stop => "it would have stayed on through the stops",
        Family::Parked => "it would not have come on while parked",
        Family::Protection => "the battery would not have refused charge",
        Family::Stages => "no charge would have begun anew",
    }
}

/// The sentence, found by simulating.
pub fn sentence(c: &Counterfactual, family: Family, depth: Depth) -> String {
    let spare = match (c.spare.filter(|s| *s > 0.0), family) {
        (Some(s), Family::Heat) => format!(" with {s:.0} K to spare"),
        (Some(s), _) => format!(" with {s:.2} V to spare"),
        (None, _) => String::new(),
    };
    let delivered = if family == Family::Parked {
        format!("; it moved {:.2} Ah to the house that way", c.delivered_ah)
    } else if c.then_ah < c.delivered_ah - LESS_AH {
        format!(
            ", but delivered {:.1} Ah in place of {:.1} Ah, less than as it is",
            c.then_ah, c.delivered_ah
        )
    } else {
        format!(", and delivered {:.1} Ah in place of {:.1} Ah", c.then_ah, c.delivered_ah)
    };
    let edge = match (depth, c.edge) {
        (Depth::Customer, _) | (_, None) => String::new(),
        (_, Some(edge)) => match c.knob {
            Knob::LessRun | Knob::LessDroop => format!(" {:.1} mΩ less would just do.", 1e3 * edge),
            Knob::OutputLimit => format!(" {edge:.1} A would just do."),
            Knob::HouseTemp => format!(" {edge:.1} °C would just do."),
            _ => format!(" {edge:.2} V would just do."),
        },
    };
    let simulated = if depth == Depth::Customer { "" } else { " (simulated)" };
    format!("{}, {}{spare}{delivered}{simulated}.{edge}", with(c, depth), then(family))
}

/// Charge by which a change must deliver less before that is said, Ah.
const LESS_AH: f64 = 0.05;

/// What is said where no single change was found.
pub const NONE: &str = "No single change that was tried would have prevented it.";
