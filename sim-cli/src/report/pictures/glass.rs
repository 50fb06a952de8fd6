//! Fills the enlarged pictures: the first turn-on, and one period of a unit that cycles.

use super::over_time::ladder_of;
use super::view::{View, heading, samples_at, timeline};
use crate::chart::figures::glass::{GlassData, Step};
use crate::clock::{day_and_time, duration};
use sim_core::Instant;
use sim_core::explain::Kind;
use sim_core::record::{Cause, Event, EventKind};

/// Samples over the window.
const POINTS: u32 = 1500;
/// Most steps with words.
const MOST_STEPS: usize = 7;

/// The first turn-on; of a run without one, the first minutes with the engine running.
pub fn first_minutes(view: &View) -> GlassData {
    let told = view.told;
    let (from, to) = told.run.span;
    let rule = &told.model.link().start_stop;
    let first = |kind: EventKind| told.run.events.iter().find(|e| e.kind == kind).map(|e| e.t.since(from));
    let at = |t_s: f64| day_and_time(told.profile, t_s);
    let (window, answer) = match (first(EventKind::UnitOn), first(EventKind::KeyOn)) {
        (Some(on), _) => {
            let lead = rule.turn_on_delay_s.min(120.0) + 20.0;
            let words = format!(
                "The unit comes on at {}, with its input at or above turn-on ({:.2} V) for {}.",
                at(on),
                rule.turn_on_v,
                duration(rule.turn_on_delay_s)
            );
            ((on - lead, on + lead.max(60.0)), words)
        }
        (None, Some(key)) => (
            (key - 10.0, key + 170.0),
            format!("The unit never comes on; these are the first minutes after {}.", at(key)),
        ),
        (None, None) => {
            ((0.0, 180.0), "The engine never runs; these are the first minutes, parked.".to_owned())
        }
    };
    let span_s = to.since(from);
    let window = (window.0.max(0.0), window.1.min(span_s));
    under_glass(view, "The first minutes", answer, window)
}

/// The shortest period between two drop-outs with the engine running; without two, the first minutes.
pub fn busiest(view: &View) -> GlassData {
    let told = view.told;
    let mut driving = false;
    let mut offs: Vec<Instant> = Vec::new();
    let mut best: Option<(Instant, Instant, Cause)> = None;
    for event in &told.run.events {
        match event.kind {
            EventKind::KeyOn => driving = true,
            EventKind::KeyOff => {
                driving = false;
                offs.clear();
            }
            EventKind::UnitOff if driving => {
                if let Some(&last) = offs.last()
                    && best.is_none_or(|(a, b, _)| event.t.since(last) < b.since(a) - 1e-3)
                {
                    best = Some((last, event.t, event.cause));
                }
                offs.push(event.t);
            }
            _ => {}
        }
    }
    let Some((a, b, cause)) = best else {
        let mut data = first_minutes(view);
        let first = std::mem::take(&mut data.ladder.heading);
        let answer = format!("It does not cycle, so there is no period to enlarge. {}", first.answer);
        data.ladder.heading = heading(told, "The first minutes", answer);
        return data;
    };
    let period_s = b.since(a);
    let came_on = told.run.events.iter().find(|e| e.t >= a && e.kind == EventKind::UnitOn).map_or(a, |e| e.t);
    let on_s = b.since(came_on);
    let start_s = told.run.span.0.as_s();
    let (a_s, on_at_s, b_s) = (a.as_s() - start_s, came_on.as_s() - start_s, b.as_s() - start_s);
    let brief = on_s < 0.3 * period_s;
    // A short burst in a long wait would be a spike: then the burst itself fills the window.
    let window = if brief {
        ((on_at_s - 0.8 * on_s).max(a_s), b_s + 1.4 * on_s)
    } else {
        (a_s - 0.1 * period_s, b_s + 0.1 * period_s)
    };
    let shown = if brief { "the burst is shown, the wait is cut" } else { "all of it is shown" };
    let answer = format!(
        "Period {}, of which the unit is on for {} ({shown}). {}",
        seconds(period_s),
        seconds(on_s),
        ends_by(told, b, cause)
    );
    under_glass(view, "One period", answer, window)
}

/// Tenths of a second where they can be seen.
fn seconds(s: f64) -> String {
    if s < 120.0 { format!("{s:.1} s") } else { duration(s) }
}

/// What ends the period, by what fired and what the explanation calls it.
fn ends_by(told: &super::super::Told, off: Instant, cause: Cause) -> &'static str {
    let switch = told.why().explanation.switches.iter().find(|s| !s.on && s.t == off);
    let kinds: &[Kind] = switch.map_or(&[], |s| &s.kinds);
    match cause {
        Cause::Heat { .. } => "Its case reaches the lock-out; it stays off until it has cooled.",
        Cause::Signal { .. } => "Its run signal goes away, and it stops at once.",
        _ if kinds.contains(&Kind::SetPoint) => {
            "The alternator's set-point falls, and its input with it, under turn-off."
        }
        _ if kinds.contains(&Kind::OpenCable) => "Its input cable opens.",
        _ if kinds == [Kind::WeakSource] => {
            "The source cannot carry it: the starter posts fall, and its input under turn-off."
        }
        _ if kinds.contains(&Kind::OwnDrop) => {
            "Its own current pulls its input under turn-off; once it is off the drop is gone."
        }
        _ => "Its input falls under turn-off.",
    }
}

fn under_glass(view: &View, what: &str, answer: String, (from_s, to_s): (f64, f64)) -> GlassData {
    let told = view.told;
    let start_s = told.run.span.0.as_s();
    let (from_s, to_s) = (start_s + from_s.max(0.0), start_s + to_s.min(told.summary.span_s));
    let grid: Vec<f64> =
        (0..=POINTS).map(|k| from_s + (to_s - from_s) * f64::from(k) / f64::from(POINTS)).collect();
    let samples = samples_at(told, &grid);
    let words = heading(told, what, answer);
    let ladder = ladder_of(told, words, timeline(told, &samples), &samples);
    GlassData { ladder, steps: steps(view, from_s, to_s) }
}

fn steps(view: &View, from_s: f64, to_s: f64) -> Vec<Step> {
    let told = view.told;
    let rule = &told.model.link().start_stop;
    let inside = |t_s: f64| (from_s..=to_s).contains(&t_s);
    let mut found: Vec<Step> = Vec::new();
    let mut put = |time_s: f64, input_v: f64, text: String| {
        if inside(time_s) && found.len() < MOST_STEPS {
            found.push(Step { time_s, input_v, text });
        }
    };
    let input_at =
        |t_s: f64| told.run.trace.at(told.model, told.profile, Instant::from_s(t_s)).map(|s| s.net.in_v);
    let events: Vec<&Event> = told.run.events.iter().filter(|e| inside(e.t.as_s())).collect();
    for event in events {
        let t_s = event.t.as_s();
        match event.kind {
            EventKind::UnitOn if matches!(event.cause, Cause::Signal { .. }) => {
                put(t_s, event.before.in_v, "comes on: run signal".to_owned());
            }
            EventKind::UnitOff if !matches!(event.cause, Cause::InputHeld { .. }) => {
                let why = match event.cause {
                    Cause::Heat { .. } => "too hot",
                    Cause::Posts { .. } => "battery flat",
                    _ => "signal gone",
                };
                put(t_s, event.before.in_v, format!("drops out: {why}"));
            }
            EventKind::UnitOn => {
                put(t_s, event.before.in_v, "comes on".to_owned());
                let began_s = t_s - rule.turn_on_delay_s;
                // Where a drop-out starts the wait its own words stand there already.
                let after_off = told
                    .run
                    .events
                    .iter()
                    .any(|e| e.kind == EventKind::UnitOff && (e.t.as_s() - began_s).abs() < 0.01);
                if rule.turn_on_delay_s > 0.0
                    && !after_off
                    && let Some(v) = input_at(began_s)
                {
                    put(began_s, v, format!("over turn-on:\n{} begin", duration(rule.turn_on_delay_s)));
                }
            }
            EventKind::UnitOff => {
                let back = if event.after.in_v >= rule.turn_on_v { ",\nback over turn-on" } else { "" };
                put(t_s, event.before.in_v, format!("drops out at {:.2} V{back}", event.before.in_v));
                let began_s = t_s - rule.turn_off_delay_s;
                if rule.turn_off_delay_s > 0.0
                    && let Some(v) = input_at(began_s)
                {
                    put(began_s, v, format!("under turn-off: {} begin", duration(rule.turn_off_delay_s)));
                }
            }
            EventKind::RampEnd => {
                put(t_s, event.after.in_v, format!("soft start ends: {:.1} A in", event.after.input_a))
            }
            EventKind::EngineRuns => put(t_s, event.after.in_v, "engine runs".to_owned()),
            EventKind::KeyOff => put(t_s, event.after.in_v, "key off".to_owned()),
            _ => {}
        }
    }
    found
}
