//! Fills the key-off picture: samples on a log grid after the last key-off, and the crossings, exact from the events.

use super::super::{Told, soc_pct};
use super::over_time::triggers;
use super::view::{View, heading, samples_at, timeline};
use crate::chart::figures::key_off::{Crossing, KeyOffData};
use crate::chart::figures::timeline::{Span, Timeline};
use crate::chart::time_axis::Clock;
use crate::clock::{day_and_time, duration};
use sim_core::Instant;
use sim_core::record::{Cause, EventKind, Line, Sample};
use sim_core::state::STARTER;

/// Samples over the log axis.
const POINTS: u32 = 700;
/// Most restarts that are written out.
const MOST_WORDS: usize = 5;

/// Since when the engine stands: the last key-off, or the start of a run that never drives.
fn since(told: &Told) -> Option<(Instant, bool)> {
    let keys = || told.run.events.iter().filter(|e| matches!(e.kind, EventKind::KeyOn | EventKind::KeyOff));
    match keys().next_back() {
        None => Some((told.run.span.0, false)),
        Some(last) if last.kind == EventKind::KeyOff => Some((last.t, true)),
        Some(_) => None,
    }
}

/// Everything the picture shows.
pub fn fill(view: &View) -> KeyOffData {
    let told = view.told;
    let what = "After the last key-off";
    let Some((from, keyed)) = since(told) else {
        let words =
            "The engine still runs at the end: there is nothing after a last key-off to show.".to_owned();
        return KeyOffData { heading: heading(told, what, words), ..KeyOffData::default() };
    };
    let what = if keyed { what } else { "Parked from the start" };
    let (from_s, to_s) = (from.as_s(), told.run.span.1.as_s());
    let long_s = (to_s - from_s).max(2.0);
    let grid: Vec<f64> = [0.0]
        .into_iter()
        .chain((0..=POINTS).map(|k| long_s.powf(f64::from(k) / f64::from(POINTS))))
        .map(|t| (from_s + t).min(to_s))
        .collect();
    let all = samples_at(told, &grid);
    let (turn_on, turn_off) = triggers(told);
    let crossings = crossings(told, from, &all);
    let samples: Vec<&Sample> = all.iter().filter(|s| s.t.since(from) >= 1.0 - 1e-9).collect();
    let column = |f: &dyn Fn(&Sample) -> f64| -> Vec<f64> { samples.iter().map(|s| f(s)).collect() };
    KeyOffData {
        heading: heading(told, what, answer(told, from, &all)),
        timeline: shifted(&timeline(told, &all), from_s),
        axis_name: if keyed { "since key-off" } else { "since the start" }.to_owned(),
        time_s: column(&|s| s.t.since(from)),
        starter_posts_v: column(&|s| s.net.sb_v),
        input_v: column(&|s| s.net.in_v),
        input_a: column(&|s| s.net.input_a),
        starter_a: column(&|s| s.net.starter_a),
        turn_on: Some(turn_on),
        turn_off: Some(turn_off),
        crossings,
    }
}

/// Minutes as a fitter writes them down; seconds for what is over at once.
fn minutes(s: f64) -> String {
    match s {
        s if s < 0.5 => "at once".to_owned(),
        s if s < 60.0 => format!("after {s:.0} s"),
        s if s < 600.0 => format!("after {:.1} min", s / 60.0),
        s if s < 36_000.0 => format!("after {:.0} min", s / 60.0),
        s => format!("after {:.1} h", s / 3600.0),
    }
}

fn crossings(told: &Told, from: Instant, samples: &[Sample]) -> Vec<Crossing> {
    let rule = &told.model.link().start_stop;
    let mut found = Vec::new();
    let switches = told.run.events.iter().filter(|e| e.t > from);
    for event in switches.filter(|e| matches!(e.kind, EventKind::UnitOn | EventKind::UnitOff)) {
        let at_s = event.t.since(from);
        if event.kind == EventKind::UnitOff && !matches!(event.cause, Cause::InputHeld { .. }) {
            let why = match event.cause {
                Cause::Heat { .. } => "too hot",
                Cause::Posts { .. } => "starter battery flat",
                _ => "run signal gone",
            };
            let text = format!("off {}:\n{why}", minutes(at_s));
            found.push(Crossing { time_s: at_s, volts_v: event.before.in_v, text });
        } else if event.kind == EventKind::UnitOff {
            let under_s = at_s - rule.turn_off_delay_s;
            let text = format!(
                "under turn-off {},\noff {} later",
                minutes(under_s.max(0.0)),
                duration(rule.turn_off_delay_s.min(at_s))
            );
            found.push(Crossing { time_s: at_s, volts_v: event.before.in_v, text });
        } else {
            let text = format!("on again {}", minutes(at_s));
            found.push(Crossing { time_s: at_s, volts_v: event.before.in_v, text });
        }
    }
    if found.len() > MOST_WORDS {
        // The first two pairs and the last switching say it; the lane counts the rest.
        found.drain(MOST_WORDS - 1..found.len() - 1);
    }
    found.extend(last_fall(told, from, samples));
    if let Some(last) = samples.last().filter(|s| s.mode.on) {
        let time_s = last.t.since(from);
        let text = format!("still on {},\n{:.1} A in", minutes(time_s), last.net.input_a);
        found.push(Crossing { time_s, volts_v: last.net.in_v, text });
    }
    found
}

/// When the input, unit off, last fell through turn-on: from then on nothing starts it.
fn last_fall(told: &Told, from: Instant, samples: &[Sample]) -> Option<Crossing> {
    let on_v = told.model.link().start_stop.turn_on_v;
    let pair = samples
        .windows(2)
        .rev()
        .find(|p| !p[0].mode.on && !p[1].mode.on && p[0].net.in_v >= on_v && p[1].net.in_v < on_v)?;
    let (mut low, mut high) = (pair[0].t.ns(), pair[1].t.ns());
    while high - low > 1_000_000 {
        let mid = low + (high - low) / 2;
        let s = told.run.trace.at(told.model, told.profile, Instant::from_ns(mid))?;
        if s.net.in_v >= on_v { low = mid } else { high = mid }
    }
    let time_s = Instant::from_ns(high).since(from);
    let text = format!("under turn-on from then on\n{}", minutes(time_s));
    Some(Crossing { time_s, volts_v: on_v, text })
}

fn answer(told: &Told, from: Instant, samples: &[Sample]) -> String {
    let (Some(first), Some(last)) = (samples.first(), samples.last()) else { return String::new() };
    let span = duration(last.t.since(from));
    let since = told.run.stretches.iter().filter(|s| s.from >= from);
    let taken_ah: f64 = since.map(|s| s.ledger.ah(Line::InputParkedC)).sum();
    let offs = told.run.events.iter().filter(|e| e.t > from && e.kind == EventKind::UnitOff);
    let unit = match (first.mode.on, offs.clone().next(), offs.count()) {
        (_, _, n) if n > 1 => format!("The unit goes off {n} times after the key is turned"),
        (_, Some(off), _) => format!("The unit goes off {}", minutes(off.t.since(from))),
        (true, None, _) => format!("The unit is still on {span} later"),
        (false, None, _) => "The unit stays off".to_owned(),
    };
    format!(
        "{unit}; in {span} it takes {taken_ah:.2} Ah out of the starter battery, which stands at {:.2} V and {:.1} % at {}.",
        last.net.sb_v,
        soc_pct(last.state[STARTER]),
        day_and_time(told.profile, last.t.as_s()),
    )
}

/// The same states and events counted from `from_s`.
fn shifted(t: &Timeline, from_s: f64) -> Timeline {
    fn spans<S: Copy>(spans: &[Span<S>], by: f64) -> Vec<Span<S>> {
        spans.iter().map(|s| Span { start_s: s.start_s - by, end_s: s.end_s - by, state: s.state }).collect()
    }
    let mut events = t.events.clone();
    for e in &mut events {
        e.time_s -= from_s;
    }
    Timeline {
        clock: Clock::default(),
        start_s: t.start_s - from_s,
        end_s: t.end_s - from_s,
        unit: spans(&t.unit, from_s),
        stage: spans(&t.stage, from_s),
        engine: spans(&t.engine, from_s),
        events,
    }
}
