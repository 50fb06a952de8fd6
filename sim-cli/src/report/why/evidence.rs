//! Evidence in words.

use crate::clock::duration;
use sim_core::explain::Evidence;
use sim_core::logic::Refusal;

fn count(n: Option<u32>) -> String {
    n.map_or_else(|| "(no run)".to_owned(), |n| n.to_string())
}

/// One sentence.
pub fn sentence(evidence: &Evidence) -> String {
    match *evidence {
        Evidence::Swing { input_v, posts_v } => {
            format!("The input swings by {input_v:.2} V, the starter posts by {posts_v:.2} V.")
        }
        Evidence::CableShare { share } => {
            format!("{:.0} % of the drop from set-point to input sits in the input cable.", 100.0 * share)
        }
        Evidence::HeldOff { volts } => {
            format!("Held off at that moment, its input would be at {volts:.2} V.")
        }
        Evidence::WithoutCable { volts } => {
            format!("With no resistance in the input cable its input would be at {volts:.2} V.")
        }
        Evidence::OneThingMended { drop_outs, strong_source, no_cable } => format!(
            "Drop-outs in the same drive: {drop_outs} as it is, {} behind an alternator that can give any current, {} without \
             resistance in the input cable.",
            count(strong_source),
            count(no_cable)
        ),
        Evidence::AlternatorFull { times, of, amps } => {
            format!("At {times} of {of} drop-outs the alternator gave all it could, {amps:.0} A.")
        }
        Evidence::SetPointBack { from_v, to_v, volts } => format!(
            "The set-point had gone from {from_v:.2} to {to_v:.2} V; under the set-point as it had been its input would be at \
             {volts:.2} V."
        ),
        Evidence::Clock { measured_s, predicted_s } => format!(
            "The period is {measured_s:.1} s; turn-on delay, share of the soft start and turn-off delay add up to \
             {predicted_s:.1} s."
        ),
        Evidence::Rose { from_v, to_v } => {
            format!(
                "The starter posts, unit off, were at {from_v:.2} V after the first drop-out and {to_v:.2} V after the last."
            )
        }
        Evidence::EndedByItself { after_s, prolonged: false } if after_s < 1.0 => {
            "It ended by itself: there was this one drop-out alone.".to_owned()
        }
        Evidence::EndedByItself { after_s, prolonged: false } => {
            format!("It ended by itself {} after the first drop-out.", duration(after_s))
        }
        Evidence::EndedByItself { after_s, prolonged: true } => format!(
            "Had the drive gone on, it would have ended by itself {} after the first drop-out, by simulation.",
            duration(after_s)
        ),
        Evidence::EngineStood { times, since_key_off_s: Some(s) } => format!(
            "The engine stood each of the {times} times; the first was {} after key-off.",
            duration(s)
        ),
        Evidence::EngineStood { times, since_key_off_s: None } => {
            format!("The engine stood each of the {times} times, and had not run before.")
        }
        Evidence::Rested { volts, turn_on_v } => format!(
            "At its state of charge the starter battery rests at {volts:.2} V; turn-on is {turn_on_v:.2} V."
        ),
        Evidence::InTheDark { starts, dark_starts } => {
            format!("The same time simulated in the dark: {dark_starts} starts in place of {starts}.")
        }
        Evidence::TooHot { case_c, limit_c } => {
            format!("Its case was at {case_c:.0} °C; the lock-out is at {limit_c:.0} °C.")
        }
        Evidence::Refused { why, value, threshold } => {
            let (what, unit) = match why {
                Refusal::Cold => ("Its cells are too cold", "°C"),
                Refusal::HighVoltage => ("Its voltage was too high", "V"),
                Refusal::OverCurrent => ("Its current was too high", "A"),
            };
            format!("{what}: {value:.2} {unit}, with the limit at {threshold:.2} {unit}.")
        }
        Evidence::Stops { times, ran_s, stood_s } => format!(
            "{times} stops took the unit with them; between stops the engine ran for {} on average, and stood for {}.",
            duration(ran_s),
            duration(stood_s)
        ),
        Evidence::Recharged { times, output_v, threshold_v } => format!(
            "{times} times the output fell under the recharge voltage ({output_v:.2} V, threshold {threshold_v:.2} V)."
        ),
        Evidence::SignalLost { times } => format!(
            "The signal went away with the engine running, {}.",
            if times == 1 { "once".to_owned() } else { format!("{times} times") }
        ),
        Evidence::InputDead { posts_v } => {
            format!("The input was dead while the starter posts were at {posts_v:.2} V.")
        }
    }
}
