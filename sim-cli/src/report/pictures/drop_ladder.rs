//! Fills the drop ladder: from the set-point down to the unit's input at the most telling moment.

use super::super::Told;
use super::moment::{Moment, Why};
use super::view::heading;
use crate::chart::figures::drop_ladder::{Drop, DropLadder, Goal, Rung};
use crate::clock::day_and_time;
use sim_core::network::source::SourceState;
use sim_core::state::INPUT_CABLE_C;

/// Everything the picture shows.
pub fn fill(told: &Told) -> DropLadder {
    let what = "Where the volts went";
    let Some(moment) = Moment::of(told) else {
        let heading = heading(told, what, "No trace was kept of this run.".to_owned());
        return DropLadder { heading, ..DropLadder::default() };
    };
    let (link, s) = (told.model.link(), &moment.sample);
    let (net, piece, cable) = (&s.net, moment.piece(told), &link.input_cable);
    let rung = |name: &str, volts_v| Rung { name: name.to_owned(), volts_v };
    let (mut rungs, mut drops) = (Vec::new(), Vec::new());
    if net.alternator_a > 0.0 {
        rungs.push(rung("set-point", s.set_point_v));
        let full = s.regime.starter[0] == SourceState::Full;
        drops.push(Drop {
            name: if full {
                format!(
                    "alternator at its limit: {:.0} A is all it can give at {:.0} rpm",
                    net.alternator_a, piece.engine_rpm
                )
            } else {
                format!("alternator and its cable, {:.1} A: droop", net.alternator_a)
            },
            volts_v: s.set_point_v - net.sb_v,
            // Volts and amps fit the droop only once the alternator has taken up its load.
            ohm: Some(told.model.alternator.droop_ohm)
                .filter(|r| !full && (s.set_point_v - net.sb_v - r * net.alternator_a).abs() < 0.005),
            heat_w: None,
        });
    }
    let i = net.input_a;
    // Copper as warm as it was at that moment.
    let copper_ohm = cable.resistance_at(&s.state[INPUT_CABLE_C..]) - cable.joints_ohm;
    rungs.push(rung("SB starter posts", net.sb_v));
    for (name, ohm) in [
        ("conductors of the input cable, both legs", copper_ohm),
        ("joints and fuses of the input cable", cable.joints_ohm + piece.input_joint_extra_ohm),
    ] {
        drops.push(Drop {
            name: format!("{name}, {i:.1} A"),
            volts_v: i * ohm,
            ohm: Some(ohm),
            heat_w: Some(i * i * ohm),
        });
    }
    rungs.push(rung("IN unit input", net.in_v));
    let rule = &link.start_stop;
    let goal = match moment.why {
        Why::SmallestMargin | Why::HeldOn => Goal { name: "turn-off".to_owned(), volts_v: rule.turn_off_v },
        Why::NearestTurnOn | Why::Parked => Goal { name: "turn-on".to_owned(), volts_v: rule.turn_on_v },
    };
    let heading = heading(told, what, answer(told, &moment, &drops, &goal));
    DropLadder { heading, rungs, drops, goal: Some(goal), input_a: i }
}

fn answer(told: &Told, moment: &Moment, drops: &[Drop], goal: &Goal) -> String {
    let s = &moment.sample;
    let at = day_and_time(told.profile, s.t.as_s());
    let margin_v = s.net.in_v - goal.volts_v;
    let side = if margin_v >= 0.0 {
        format!("{margin_v:.3} V is left above turn-off")
    } else {
        format!("the input is {:.3} V under turn-off", -margin_v)
    };
    let most = drops.iter().max_by(|a, b| a.volts_v.total_cmp(&b.volts_v));
    let taker = most.map_or(String::new(), |d| format!(" The most, {:.3} V: {}.", d.volts_v, d.name));
    match moment.why {
        Why::SmallestMargin => {
            format!("The smallest margin with the engine running, at {at}: {side}.{taker}")
        }
        Why::HeldOn => format!("The lowest input, at {at}: {side}. The run signal holds the unit on.{taker}"),
        Why::NearestTurnOn if margin_v < 0.0 => {
            format!(
                "The unit never comes on. Nearest to turn-on, at {at}: its input is {:.3} V short.",
                -margin_v
            )
        }
        Why::NearestTurnOn => {
            format!(
                "The unit never comes on: at {at} its input is {margin_v:.3} V over turn-on, but not for long enough."
            )
        }
        Why::Parked => format!(
            "The engine never runs: from the start, at {at}, the input stands {:.3} V {} turn-on.",
            margin_v.abs(),
            if margin_v < 0.0 { "short of" } else { "over" }
        ),
    }
}
