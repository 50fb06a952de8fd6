//! What ended a story, in words.

use super::change::words;
use sim_core::explain::{Ended, Family};

/// One sentence. What happens with the engine stopped may still come about while driving.
pub fn sentence(ended: &Ended, family: Family) -> String {
    let again = if family == Family::Parked {
        "While parked it did not come on again"
    } else {
        "It did not come on again"
    };
    match ended {
        Ended::KeyOff => "It ended with the engine.".to_owned(),
        Ended::KeyOn => "It ended when the engine was started.".to_owned(),
        Ended::EndOfRun => "It was still going on when the simulation ended.".to_owned(),
        Ended::LetIn => "It ended when the house battery let charge in again.".to_owned(),
        Ended::StarterRisen => "It ended once the starter battery had risen far enough.".to_owned(),
        Ended::HouseAsksLess => {
            "It ended because the house battery asks for less current by then.".to_owned()
        }
        Ended::Derated => "It ended because heat lets the unit give less current by then.".to_owned(),
        Ended::Conditions { change } => format!("It ended by a change of the drive: {}.", words(change)),
        Ended::StayedOn => "It ended with the unit staying on, by little.".to_owned(),
        Ended::NeverCameBack { input_v, turn_on_v } if input_v < turn_on_v => {
            format!("{again}: its input reached {input_v:.2} V at most, below turn-on ({turn_on_v:.2} V).")
        }
        Ended::NeverCameBack { turn_on_v, .. } => {
            format!("{again}: its input did not stay above turn-on ({turn_on_v:.2} V) for the turn-on delay.")
        }
    }
}
