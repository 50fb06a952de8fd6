//! Why a finding is so, in words.

use super::change;
use super::{Depth, Words};
use crate::clock::duration;
use crate::numbers::plain as number;
use crate::report::fuses;
use sim_core::explain::{Holder, Reason};
use sim_core::judge::{CableOf, Finding};
use sim_core::record::Side;

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

fn holder(by: Holder) -> &'static str {
    match by {
        Holder::Alternator => "the alternator",
        Holder::Unit => "the unit",
        Holder::Sun => "the solar regulator or maintainer",
        Holder::Mains => "the mains charger",
    }
}

/// Why a finding is so, with its name before it; `None` where a story tells it.
pub fn sentence(words: &Words, finding: &Finding, reason: &Reason) -> Option<String> {
    let text = match words.depth {
        Depth::Customer => plain(reason)?,
        Depth::Apprentice => numbers(words, reason)?,
        Depth::Engineer => [numbers(words, reason)?, more(reason)].join(" ").trim_end().to_owned(),
    };
    let word = finding.kind.word();
    let mut letters = word.chars();
    let head: String = letters.next().map_or_else(String::new, |c| c.to_uppercase().chain(letters).collect());
    Some(format!("{head}: {text}"))
}

/// For a customer.
fn plain(reason: &Reason) -> Option<String> {
    Some(match reason {
        Reason::Story { .. } => return None,
        Reason::Current { cable: of, .. } => {
            format!("the {} is too thin for the current that the unit draws.", cable(*of))
        }
        Reason::Joints { cable: of, .. } => {
            format!("a poor connection in the {} turns current into heat.", cable(*of))
        }
        Reason::Fuse { at, .. } => format!("{} is too small for what the unit draws.", fuses::place(*at)),
        Reason::OtherSystem { side, .. } => {
            format!("the {} and what charges it are made for different voltages.", battery(*side))
        }
        Reason::Held { side, by, .. } => {
            format!("{} charges the {} with more volts than it bears.", holder(*by), battery(*side))
        }
        Reason::Winding { .. } => "the alternator has to give nearly all it can for too long.".to_owned(),
        Reason::Starter { driven_ah, unit_ah, .. } if *driven_ah < 0.0 && -driven_ah > *unit_ah => {
            "driving itself empties the starter battery: the alternator does not carry what is asked.".to_owned()
        }
        Reason::Starter { unit_ah, vehicle_ah, .. } if unit_ah > vehicle_ah => {
            "with the engine stopped the unit takes more out of the starter battery than the drives put back."
                .to_owned()
        }
        Reason::Starter { .. } => {
            "the vehicle takes more out of the starter battery than the drives put back.".to_owned()
        }
        Reason::NoSignal => "the wire that tells the unit that the engine runs is dead.".to_owned(),
        Reason::UnderTurnOn { .. } => {
            "the alternator never holds as many volts as the unit waits for.".to_owned()
        }
        Reason::NotHeld { .. } => {
            "the volts that the unit waits for come and go; they never last long enough.".to_owned()
        }
        Reason::ShortDrives { .. } => "the drives are over before the unit has waited long enough.".to_owned(),
        Reason::StaysUp { source_a, .. } if *source_a > 0.1 => {
            "the sun or a maintainer holds the starter battery's volts up, so the unit takes the engine for running."
                .to_owned()
        }
        Reason::StaysUp { .. } => {
            "the starter battery reads high for a while after charging, so the unit takes the engine for running."
                .to_owned()
        }
        Reason::DroppedOut { .. } => "its input volts fall while it works.".to_owned(),
        Reason::CameOnParked { .. } => {
            "the starter battery reads as high as with the engine running, so the unit comes on.".to_owned()
        }
        Reason::HotUnit { .. } => "the unit cannot get rid of its heat where it is fitted.".to_owned(),
        Reason::Refused { .. } => "the house battery protects itself.".to_owned(),
        Reason::House { driven_ah, loads_ah, on_share, .. } => {
            let drives = match on_share {
                Some(_) => format!("the drives bring {driven_ah:.1} Ah"),
                None => "there is no drive".to_owned(),
            };
            format!("{drives}, and the loads take {loads_ah:.1} Ah in all.")
        }
        Reason::Waits { .. } => "the unit waits for most of each drive before it charges.".to_owned(),
        Reason::Stops { .. } => "each stop of the engine makes the unit wait again.".to_owned(),
        Reason::Limit { .. } => "a limit that you set is not kept.".to_owned(),
    })
}

fn or_unknown(amps: Option<f64>) -> String {
    amps.map_or_else(
        || "The heat of its conductors is not simulated.".to_owned(),
        |a| format!("In the hottest air of this drive its conductors can carry {a:.0} A all the time."),
    )
}

/// For an apprentice: the numbers.
fn numbers(words: &Words, reason: &Reason) -> Option<String> {
    Some(match reason {
        Reason::Story { .. } => return None,
        Reason::Current { cable: of, amps, carries_a, air_c } => format!(
            "{amps:.0} A flow through the {} in air of {air_c:.0} °C. {}",
            cable(*of),
            or_unknown(*carries_a)
        ),
        Reason::Joints { cable: of, amps, ohm, watts, opened } => {
            let since = opened.map_or_else(String::new, |(extra, s)| {
                let at = words.at(sim_core::Instant::from_s(s));
                format!(" A joint has {:.1} mΩ on top since {at}.", 1e3 * extra)
            });
            format!(
                "{amps:.0} A through {:.1} mΩ of joints and fuses in the {} make {watts:.0} W of heat.{since}",
                1e3 * ohm,
                cable(*of)
            )
        }
        Reason::Fuse { at, amps, rating_a, input_v, output_a, carries_a } => {
            let low = if at.on_input() {
                format!(
                    " At {input_v:.2} V the unit draws {amps:.1} A to give {output_a:.1} A: the fewer volts, the more amps."
                )
            } else {
                String::new()
            };
            format!(
                "{} carries {amps:.1} A, and its rating is {rating_a:.0} A.{low} {}",
                fuses::place(*at),
                or_unknown(*carries_a)
            )
        }
        Reason::OtherSystem { side, set_v, rested_v } => format!(
            "what charges the {} holds {set_v:.1} V. Full and rested the battery stands at {rested_v:.1} V.",
            battery(*side)
        ),
        Reason::Held { side, by, set_v, bears_v, temp_c } => format!(
            "{} is set to {set_v:.2} V. The {} bears {bears_v:.2} V at {temp_c:.0} °C.",
            holder(*by),
            battery(*side)
        ),
        Reason::Winding { amps, most_a, unit_a, bay_c } => format!(
            "the alternator gives {amps:.0} of the {most_a:.0} A that it can at that speed, in air of {bay_c:.0} °C. The unit \
             draws {unit_a:.0} A of it."
        ),
        Reason::Starter { from_soc, lowest_soc, driven_ah, unit_ah, vehicle_ah, source_ah, .. } => format!(
            "the starter battery begins at {} % and is down to {} % at its lowest. {} With the engine stopped the unit takes \
             {} Ah and the vehicle {} Ah{}.",
            number(100.0 * from_soc, 0),
            number(100.0 * lowest_soc, 0),
            match number(*driven_ah, 1) {
                lost if lost.starts_with('-') => format!("Driving takes {} Ah out of it.", &lost[1..]),
                put_in => format!("The drives put in {put_in} Ah."),
            },
            number(*unit_ah, 1),
            number(*vehicle_ah, 1),
            if *source_ah > 0.05 {
                format!("; sun or maintainer give {source_ah:.1} Ah")
            } else {
                String::new()
            }
        ),
        Reason::NoSignal => {
            "it runs only with its run signal. The signal is never live while the engine runs. Measure the signal wire."
                .to_owned()
        }
        Reason::UnderTurnOn { highest_v, turn_on_v, set_point_v, alternator_full, vehicle_a } => {
            let because = if *alternator_full {
                format!(
                    "The alternator gives all it can then, and the vehicle's own loads take {vehicle_a:.0} A."
                )
            } else if set_point_v < turn_on_v {
                format!("The alternator is told to hold {set_point_v:.2} V: less than turn-on.")
            } else {
                format!("The alternator is told to hold {set_point_v:.2} V; the rest is lost on the way.")
            };
            format!("its input reaches {highest_v:.2} V at most. Turn-on is {turn_on_v:.2} V. {because}")
        }
        Reason::NotHeld { longest_s, delay_s, changed } => {
            let because = change::sentence(changed).map_or_else(String::new, |s| format!(" {s}"));
            format!(
                "the longest time above turn-on is {}. The delay is {}.{because}",
                duration(*longest_s),
                duration(*delay_s)
            )
        }
        Reason::ShortDrives { longest_s, delay_s } => {
            format!("the longest drive is {}. The delay is {}.", duration(*longest_s), duration(*delay_s))
        }
        Reason::StaysUp { after_v, end_v, turn_off_v, rested_v, input_a, .. } => {
            let because = if rested_v >= turn_off_v {
                format!("Even at rest the starter battery stands at {rested_v:.2} V: above turn-off.")
            } else {
                format!(
                    "At rest the starter battery stands at {rested_v:.2} V; it reads high for a while after charging."
                )
            };
            format!(
                "a minute after the key the input stands at {after_v:.2} V, at the end at {end_v:.2} V. Turn-off is \
                 {turn_off_v:.2} V. The unit draws only {input_a:.1} A, so it pulls nothing down. {because}"
            )
        }
        Reason::DroppedOut { input_v, turn_off_v, posts_v, input_a } => format!(
            "its input is at {input_v:.2} V when it drops out, and turn-off is {turn_off_v:.2} V. The starter posts are at \
             {posts_v:.2} V, and {input_a:.0} A flow."
        ),
        Reason::CameOnParked { input_v, turn_on_v, rested_v, stood_s, source_a } => {
            let stood = stood_s.map_or_else(
                || "The engine had not run yet".to_owned(),
                |s| format!("The engine had stood for {}", duration(s)),
            );
            let source = if *source_a > 0.05 {
                format!(" Sun or maintainer give {source_a:.1} A.")
            } else {
                String::new()
            };
            format!(
                "its input stands at {input_v:.2} V, and turn-on is {turn_on_v:.2} V. {stood}. At rest the starter battery \
                 stands at {rested_v:.2} V.{source}"
            )
        }
        Reason::HotUnit { case_c, from_c, locker_c, air_c, loss_w } => format!(
            "its case reaches {case_c:.0} °C, and it gives less, or nothing, from {from_c:.0} °C on. It turns {loss_w:.0} W into heat; the \
             air around it is at {locker_c:.0} °C, outside it is {air_c:.0} °C."
        ),
        Reason::Refused { cells_c, house_v, house_a } => format!(
            "when it refuses, its cells are at {cells_c:.0} °C, its posts at {house_v:.2} V, and {house_a:.0} A flow into it."
        ),
        Reason::House { driven_ah, others_ah, loads_ah, driving_loads_ah, on_share, lowest_soc } => {
            let others = if *others_ah > 0.05 {
                format!(" Sun and mains bring {others_ah:.1} Ah.")
            } else {
                String::new()
            };
            let (unit, driving) = match on_share {
                Some(share) => (
                    format!(
                        "while driving the unit brings {driven_ah:.1} Ah; it is on for {:.0} % of that time.",
                        100.0 * share
                    ),
                    format!(", {} Ah of it while driving", number(*driving_loads_ah, 1)),
                ),
                None => ("the engine never runs, so the unit brings nothing.".to_owned(), String::new()),
            };
            format!(
                "{unit}{others} The loads take {loads_ah:.1} Ah in all{driving}. The house battery is down to {:.0} %.",
                100.0 * lowest_soc.max(0.0)
            )
        }
        Reason::Waits { waited_s, delayed_s, delay_s, drives } => format!(
            "in {drives} {} it waits for {} in all. {} of that is the turn-on delay ({}); the rest its input is under turn-on.",
            if *drives == 1 { "drive" } else { "drives" },
            duration(*waited_s),
            duration(*delayed_s),
            duration(*delay_s)
        ),
        Reason::Stops { times, lost_s, delay_s } => format!(
            "{times} {} of the engine keep it off for {}. After each it waits {}.",
            if *times == 1 { "stop" } else { "stops" },
            duration(*lost_s),
            duration(*delay_s)
        ),
        Reason::Limit { key, measure } => format!(
            "limits.{key} allows {:.2} {}; {:.2} {} was met.",
            measure.limit, measure.unit, measure.value, measure.unit
        ),
    })
}

/// What an engineer gets on top.
fn more(reason: &Reason) -> String {
    match reason {
        Reason::Current { amps, carries_a: Some(a), .. } if *a > 0.0 => {
            format!("That is {:.2} times what it carries; heat goes with the square.", amps / a)
        }
        Reason::Fuse { amps, rating_a, .. } if *rating_a > 0.0 => {
            format!("That is {:.2} times its rating.", amps / rating_a)
        }
        Reason::Starter { crank_v: Some(v), .. } => {
            format!("The lowest volts at its posts in an engine start are {v:.2} V.")
        }
        Reason::Held { set_v, bears_v, .. } => {
            format!("The setting is {:+.2} V from what the battery bears.", set_v - bears_v)
        }
        Reason::Winding { amps, most_a, .. } if *most_a > 0.0 => {
            format!("That is {:.0} % of its curve when cold.", 100.0 * amps / most_a)
        }
        Reason::StaysUp { source_a, .. } if *source_a > 0.05 => {
            format!("Sun or maintainer give {source_a:.1} A.")
        }
        Reason::HotUnit { case_c, air_c, loss_w, .. } if *loss_w > 1.0 => {
            format!("From the case to the air outside that is {:.2} K/W.", (case_c - air_c) / loss_w)
        }
        _ => String::new(),
    }
}
