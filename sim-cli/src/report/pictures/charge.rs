//! Fills the charge bars: what the unit could have given, and what each bus took in and gave out.

use super::super::Told;
use super::view::heading;
use crate::chart::figures::charge_bars::{Block, ChargeBars, Part, PartKind};
use crate::clock::duration;
use sim_core::record::Line;
use sim_core::record::missed::Missed;

/// Everything the bars show.
pub fn fill(told: &Told) -> ChargeBars {
    let offer = offer(told);
    let heading = heading(told, "Where the charge went", answer(told, &offer));
    ChargeBars { heading, blocks: vec![offer, house(told), starter(told)] }
}

fn part(name: &str, ah: f64, kind: PartKind) -> Part {
    Part { name: name.to_owned(), ah, kind }
}

/// Limit times engine time against what came of it.
pub fn offer(told: &Told) -> Block {
    let cap_a = told.model.link().converter.output_limit_a;
    let m = Missed::of(told.run, told.model, told.profile);
    let l = &told.run.ledger;
    let missed = |name: &str, ah: f64| part(name, ah, PartKind::Missed);
    Block {
        title: "While the engine ran: what the unit could have given".to_owned(),
        whole_ah: cap_a * told.summary.driving_s / 3600.0,
        whole: format!("{cap_a:.0} A for {}", duration(told.summary.driving_s)),
        parts: vec![
            missed("waited for turn-on", m.waiting_ah),
            missed("drives without a turn-on", m.never_on_ah),
            missed("off again after a drop-out", m.dropped_out_ah),
            missed("soft start", m.soft_start_ah),
            missed("held back by heat", m.heat_ah),
            missed("held by the input limit", m.input_limit_ah),
            missed("held by a weak source", m.source_ah),
            missed("absorption: battery takes less", m.absorption_ah),
            missed("float", m.float_ah),
            missed("charge refused by protection", m.protection_ah),
            part("delivered", l.ah(Line::OutputC) - l.ah(Line::OutputParkedC), PartKind::Kept),
        ],
    }
}

/// The house side over the whole run.
pub fn house(told: &Told) -> Block {
    let l = &told.run.ledger;
    let mut from = vec![("unit", l.ah(Line::OutputC)), ("sun", l.ah(Line::SolarC))];
    let battery = l.ah(Line::HouseC);
    from.push(("house battery", (-battery).max(0.0)));
    let parts = vec![
        part("into the house battery", battery.max(0.0), PartKind::Kept),
        part("to the house loads", l.ah(Line::HouseLoadC), PartKind::Used),
    ];
    block("House side, whole run", &from, parts)
}

/// The starter side over the whole run.
pub fn starter(told: &Told) -> Block {
    let l = &told.run.ledger;
    let battery = l.ah(Line::StarterC);
    let from = [("alternator", l.ah(Line::AlternatorC)), ("starter battery", (-battery).max(0.0))];
    let lost = l.ah(Line::StarterLostC) + l.ah(Line::StarterRefusedC);
    let mut parts = vec![part("into the unit", l.ah(Line::InputC), PartKind::Kept)];
    if battery > lost && lost > 0.0 {
        parts.push(part("into the starter battery, stored", battery - lost, PartKind::Kept));
        parts.push(part("into the starter battery, not stored", lost, PartKind::Missed));
    } else {
        parts.push(part("into the starter battery", battery.max(0.0), PartKind::Kept));
    }
    parts.push(part("to the vehicle's loads", l.ah(Line::VehicleC), PartKind::Used));
    block("Starter side, whole run", &from, parts)
}

fn block(title: &str, from: &[(&str, f64)], parts: Vec<Part>) -> Block {
    let giving: Vec<&(&str, f64)> = from.iter().filter(|f| f.1 >= 5e-4).collect();
    let whole = match giving.as_slice() {
        [] => "nothing came in".to_owned(),
        [one] => format!("from the {}", one.0),
        many => {
            let words: Vec<String> = many.iter().map(|(who, ah)| format!("{who} {ah:.2}")).collect();
            format!("from {}", words.join(" + "))
        }
    };
    Block { title: title.to_owned(), whole_ah: from.iter().map(|f| f.1).sum(), whole, parts }
}

fn answer(told: &Told, offer: &Block) -> String {
    if told.summary.driving_s == 0.0 {
        return "The engine never runs: nothing is on offer, and the batteries feed the loads.".to_owned();
    }
    let delivered = offer.parts.last().map_or(0.0, |p| p.ah);
    let mut words = format!(
        "At its limit the unit could give {:.1} Ah while the engine runs; it gives {delivered:.1} Ah ({:.0} %).",
        offer.whole_ah,
        delivered / offer.whole_ah * 100.0
    );
    let missed = offer.parts.iter().filter(|p| p.kind == PartKind::Missed);
    if let Some(most) = missed.max_by(|a, b| a.ah.total_cmp(&b.ah)).filter(|p| p.ah > 0.05) {
        words.push_str(&format!(" Most of the rest: {}, {:.1} Ah.", most.name, most.ah));
    }
    words
}
