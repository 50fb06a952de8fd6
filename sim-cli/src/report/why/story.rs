//! A story in words.

use super::{Depth, Words, change, ended, evidence, kind};
use crate::clock::duration;
use sim_core::explain::{Alike, Drops, Explanation, Family, Kind, Story};
use sim_core::record::Cause;

fn times(n: u32) -> String {
    match n {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    }
}

fn period(s: f64) -> String {
    if s < 120.0 { format!("{s:.1} s") } else { duration(s) }
}

/// What happened: how often, from when to when, how regularly, and what it cost.
fn what(words: &Words, s: &Story) -> String {
    let verb = match s.family {
        Family::Driving => "it dropped out",
        Family::Stop => "it went off with the engine",
        Family::Parked => "it came on with the engine stopped",
        Family::Heat => "it locked itself out",
        Family::Signal => "it stopped for its run signal",
        Family::Protection => "the house battery refused charge",
        Family::Stages => "a new charge began",
    };
    let (from, to) = (words.at(s.from), words.at(s.to));
    let mut text = match s.family {
        Family::Protection if s.times == 1 => format!("The house battery refused charge from {from} to {to}"),
        _ if s.times == 1 => format!("At {to} {verb}, once"),
        _ => format!("From {from} to {to} {verb} {}", times(s.times)),
    };
    if let Some(p) = s.period.filter(|_| s.times > 2) {
        text.push_str(&format!(", one every {}", period(p.mean_s)));
        if words.depth > Depth::Customer && period(p.least_s) != period(p.most_s) {
            text.push_str(&format!(" ({} to {})", period(p.least_s), period(p.most_s)));
        }
    }
    if s.times > 1 && s.family != Family::Parked {
        if words.depth > Depth::Customer && s.typical.is_some() {
            let time = if s.family == Family::Stop { "the time that the engine ran" } else { "that time" };
            text.push_str(&format!("; on for {:.0} % of {time}", 100.0 * s.duty));
        }
        let time = format!("Running all the time it would have delivered {:.1} Ah.", s.steady_ah);
        return format!("{text}. It delivered {:.1} Ah. {time}", s.delivered_ah);
    }
    text.push('.');
    text
}

/// Where the drop sat at a typical drop-out.
fn drops(d: &Drops, turn_off_v: f64) -> Option<String> {
    let mut parts = Vec::new();
    let head = match (d.set_point_v, d.alternator_v) {
        (Some(set), Some(v)) => {
            parts.push(format!("{v:.2} V at the alternator and its cable"));
            format!("From the set-point ({set:.2} V) to the input ({:.2} V)", d.input_v)
        }
        _ => format!("From the starter posts ({:.2} V) to the input ({:.2} V)", d.posts_v, d.input_v),
    };
    if d.input_v <= 0.0 {
        return None;
    }
    parts.push(format!("{:.2} V along the positive leg", d.positive_v));
    parts.push(format!("{:.2} V along the negative leg", d.negative_v));
    parts.push(format!("{:.2} V at joints and fuses", d.joints_v));
    let left = if d.input_v < turn_off_v {
        format!("{:.2} V below turn-off", turn_off_v - d.input_v)
    } else {
        format!("{:.2} V above turn-off", d.input_v - turn_off_v)
    };
    let full = if d.alternator_full && d.set_point_v.is_some() {
        format!(" The alternator gives all it can, {:.0} A.", d.alternator_a)
    } else {
        String::new()
    };
    Some(format!(
        "{head} it lost: {}. That is {left} ({turn_off_v:.2} V). {:.1} A flow through the {:.1} mΩ of the input cable.{full}",
        parts.join("; "),
        d.input_a,
        1e3 * d.cable_ohm
    ))
}

/// Where the starter battery stands in it.
fn battery(d: &Drops) -> Option<String> {
    if d.set_point_v.is_none() {
        return Some(format!(
            "The engine is stopped: the starter battery gives {:.0} A of it.",
            -d.starter_a
        ));
    }
    (d.starter_a < -1.0).then(|| {
        format!(
            "The starter battery gave {:.0} A of it: what the alternator does not carry comes out of there.",
            -d.starter_a
        )
    })
}

/// How often the same was to be seen at other times.
fn again(words: &Words, others: &[&Story]) -> Option<String> {
    let (first, last) = (others.first()?, others.last()?);
    let counts = || others.iter().map(|s| s.times);
    let (least, most) = (counts().min()?, counts().max()?);
    let each = match (others.len(), least == most) {
        (1, _) => times(most),
        (_, true) => format!("{} each", times(most)),
        (_, false) => format!("{least} to {} each", times(most)),
    };
    let span = format!("{} to {}", words.at(first.from), words.at(last.to));
    Some(match others.len() {
        1 => format!("It did the same from {span}, {each}."),
        n => format!("It did the same on {n} more occasions, from {span}: {each}."),
    })
}

/// A story's sentences; each entry is a paragraph.
pub fn sentences(words: &Words, e: &Explanation, tale: &Alike) -> Vec<String> {
    let depth = words.depth;
    let s = &e.stories[tale.worst];
    let mut lines = vec![what(words, s)];
    let plain = |k: Kind| [Some(kind::plain(k, depth)), kind::again(k, depth).filter(|_| s.times > 1)];
    let mut why: Vec<String> =
        s.kinds.iter().flat_map(|n| plain(n.kind)).flatten().map(str::to_owned).collect();
    if s.kinds.is_empty() {
        why.push(kind::CANNOT_TELL.to_owned());
    }
    if s.kinds.len() > 1 {
        let counted: Vec<String> =
            s.kinds.iter().map(|n| format!("{} ({} of {})", kind::name(n.kind), n.times, s.times)).collect();
        why.insert(0, format!("Two causes at once: {}.", counted.join(" and ")));
    }
    lines.push(why.join(" "));
    if depth > Depth::Customer {
        let typical = s.typical.and_then(|n| e.switches.get(n));
        // A remote cause needs no ladder of drops.
        let voltage = matches!(s.family, Family::Driving | Family::Parked);
        if let Some(d) = typical.and_then(|t| t.drops.as_ref()).filter(|_| voltage) {
            // The threshold that counted then: with a run signal there can be a second pair.
            let turn_off_v = match typical.map(|t| t.cause) {
                Some(Cause::InputHeld { threshold_v, .. }) => threshold_v,
                _ => words.model.link().start_stop.turn_off_v,
            };
            let told = [drops(d, turn_off_v), battery(d)].into_iter().flatten();
            lines.push(
                told.chain(typical.and_then(|t| change::sentence(&t.changed))).collect::<Vec<_>>().join(" "),
            );
        }
        if depth == Depth::Engineer {
            for named in &s.kinds {
                let told: Vec<String> = named.evidence.iter().map(evidence::sentence).collect();
                lines.push(format!("Speaks for {}: {}", kind::name(named.kind), told.join(" ")));
            }
        }
        lines.push(ended::sentence(&s.ended, s.family));
    }
    if depth > Depth::Customer {
        let looks: Vec<&str> = s.kinds.iter().map(|n| kind::look(n.kind)).collect();
        lines.push(looks.join(" "));
    }
    let others: Vec<&Story> = tale.others.iter().map(|&n| &e.stories[n]).collect();
    lines.extend(again(words, &others));
    lines.retain(|l| !l.is_empty());
    lines
}
