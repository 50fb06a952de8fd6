//! What a meter should show: volts at the four points and amps in and out, at the moments when a fitter reads them.
//!
//! A meter is read for a minute: where the unit switches in that minute, the lowest and the greatest reading are told, so
//! that a van that cycles does not read like one whose unit never starts.

use super::Told;
use super::findings::times as times_of;
use crate::clock::weekday_and_time;
use crate::numbers::plain;
use serde::Serialize;
use sim_core::Instant;
use sim_core::network::Net;
use sim_core::record::{EventKind, Sample};
use std::io::{self, Write};

/// How long after the unit came on it counts as settled at full current, s.
const AFTER_ON_S: f64 = 60.0;
/// How long a meter is watched, s.
const WATCHED_S: f64 = 60.0;

/// What a meter shows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Values {
    /// Volts at the starter posts.
    pub starter_posts_v: f64,
    /// Volts at the unit's input.
    pub unit_input_v: f64,
    /// Volts at the unit's output.
    pub unit_output_v: f64,
    /// Volts at the house posts.
    pub house_posts_v: f64,
    /// Amperes into the unit.
    pub unit_input_a: f64,
    /// Amperes out of the unit.
    pub unit_output_a: f64,
}

impl Values {
    fn of(net: &Net) -> Values {
        Values {
            starter_posts_v: net.sb_v,
            unit_input_v: net.in_v,
            unit_output_v: net.out_v,
            house_posts_v: net.house_v,
            unit_input_a: net.input_a,
            unit_output_a: net.output_a,
        }
    }

    /// Each value by itself.
    fn each(self, other: Values, pick: fn(f64, f64) -> f64) -> Values {
        Values {
            starter_posts_v: pick(self.starter_posts_v, other.starter_posts_v),
            unit_input_v: pick(self.unit_input_v, other.unit_input_v),
            unit_output_v: pick(self.unit_output_v, other.unit_output_v),
            house_posts_v: pick(self.house_posts_v, other.house_posts_v),
            unit_input_a: pick(self.unit_input_a, other.unit_input_a),
            unit_output_a: pick(self.unit_output_a, other.unit_output_a),
        }
    }
}

/// A minute in which the unit switches.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Minute {
    /// How often it comes on or drops out in it.
    pub switchings: usize,
    /// The lowest of each reading.
    pub lowest: Values,
    /// The greatest of each reading.
    pub greatest: Values,
}

/// One moment at which a meter is read.
#[derive(Debug, Clone, Serialize)]
pub struct Reading {
    /// When, in words.
    pub when: &'static str,
    /// When, s since the start.
    pub t_s: f64,
    /// Whether the unit is on.
    pub unit_on: bool,
    /// What the meter shows at that moment.
    #[serde(flatten)]
    pub shows: Values,
    /// The minute of it, where the unit switches in it.
    pub minute: Option<Minute>,
}

/// The readings that this run has: those of its first drive that is long enough, and after the last key-off. Where the engine
/// never stops, or never runs, the last minute stands for those.
pub fn readings(told: &Told) -> Vec<Reading> {
    let events = &told.run.events;
    let (start, end) = told.run.span;
    let first = |from: Instant, is: fn(&EventKind) -> bool| {
        events.iter().find(|e| e.t >= from && is(&e.kind)).map(|e| e.t)
    };
    let key_on = first(start, |k| *k == EventKind::KeyOn);
    let unit_on = key_on.and_then(|t| first(t, |k| *k == EventKind::UnitOn));
    let key_off = key_on.and_then(|t| first(t, |k| *k == EventKind::KeyOff));
    let last_off = events.iter().rev().find(|e| e.kind == EventKind::KeyOff).map(|e| e.t);
    let until = key_off.unwrap_or(end);
    let mut moments: Vec<(&'static str, Option<Instant>)> = Vec::new();
    if key_on.is_none_or(|t| t > start) {
        moments.push(("parked, before the first start", Some(start)));
    }
    moments.push(("10 s after the start", key_on.map(|t| t.plus_s(10.0)).filter(|t| *t < until)));
    let settled = unit_on.map(|t| t.plus_s(AFTER_ON_S)).filter(|t| *t < until);
    moments.push(("1 min after the unit came on", settled));
    const BEFORE_KEY_OFF: &str = "just before key-off";
    const RUNNING: &str = "at the end, engine running";
    const PARKED: &str = "at the end, parked";
    /// Readings of a meter that was watched up to that moment.
    const BACK: [&str; 3] = [BEFORE_KEY_OFF, RUNNING, PARKED];
    moments.push((BEFORE_KEY_OFF, key_off.map(|t| t.plus_s(-1.0)).filter(|t| Some(*t) > settled)));
    for (when, s) in [("10 s after the last key-off", 10.0), ("1 h after it", 3600.0)] {
        moments.push((when, last_off.map(|t| t.plus_s(s)).filter(|t| *t <= end)));
    }
    let last = if key_on.is_some() { RUNNING } else { PARKED };
    moments.push((
        last,
        Some(end.plus_s(-1.0)).filter(|t| last_off.is_none() && Some(*t) > settled && *t > start),
    ));
    let read = |(when, t): (&'static str, Option<Instant>)| {
        let t = t?;
        let s = sample(told, t)?;
        // A meter that is watched up to the key-off, or from the moment on until the key turns.
        let (from, to) = if BACK.contains(&when) {
            (t.plus_s(-WATCHED_S).max(key_on.unwrap_or(start)), t)
        } else {
            let key = |k: &EventKind| matches!(k, EventKind::KeyOn | EventKind::KeyOff);
            let turned = first(t.plus_ns(1), key).unwrap_or(end);
            (t, t.plus_s(WATCHED_S).min(turned.plus_ns(-1)).min(end))
        };
        let minute = minute(told, from, to);
        Some(Reading { when, t_s: s.t.as_s(), unit_on: s.mode.on, shows: Values::of(&s.net), minute })
    };
    moments.into_iter().filter_map(read).collect()
}

fn sample(told: &Told, t: Instant) -> Option<Sample> {
    told.run.trace.at(told.model, told.profile, t)
}

/// The lowest and greatest readings from one instant to another, where the unit switches between them.
fn minute(told: &Told, from: Instant, to: Instant) -> Option<Minute> {
    let within = || told.run.events.iter().filter(|e| from <= e.t && e.t <= to);
    let switchings = within().filter(|e| matches!(e.kind, EventKind::UnitOn | EventKind::UnitOff)).count();
    if switchings == 0 {
        return None;
    }
    let seconds = (0..=to.since(from).floor() as u32).map(|k| from.plus_s(f64::from(k)));
    let each_second = seconds.filter_map(|t| Some(Values::of(&sample(told, t)?.net)));
    let jumps = within().flat_map(|e| [Values::of(&e.before), Values::of(&e.after)]);
    let all: Vec<Values> = each_second.chain(jumps).collect();
    let of = |pick| all.iter().copied().reduce(|a, b| a.each(b, pick));
    Some(Minute { switchings, lowest: of(f64::min)?, greatest: of(f64::max)? })
}

/// Prints the readings.
pub fn print(told: &Told, out: &mut dyn Write) -> io::Result<()> {
    let readings = readings(told);
    if readings.is_empty() {
        return Ok(());
    }
    let times: Vec<String> = readings.iter().map(|r| weekday_and_time(told.profile, r.t_s)).collect();
    // As wide as the longest, so that the words begin below each other.
    let wide = times.iter().map(|t| t.chars().count()).max().unwrap_or(0);
    let to_volts = wide + 17;
    writeln!(
        out,
        "\nWHAT A METER SHOULD SHOW{:>to_volts$}{:>8}{:>8}{:>8}{:>13}  unit",
        "SB", "IN", "OUT", "house", "A in / out"
    )?;
    for (r, at) in readings.iter().zip(&times) {
        let line = |at: &str, when: &str, v: &Values, unit: &str| {
            format!(
                "  {at:<wide$}  {when:<30}{:>7}{:>8}{:>8}{:>8}{:>7} / {:<4}  {unit}",
                plain(v.starter_posts_v, 2),
                plain(v.unit_input_v, 2),
                plain(v.unit_output_v, 2),
                plain(v.house_posts_v, 2),
                plain(v.unit_input_a, 1),
                plain(v.unit_output_a, 1)
            )
        };
        let Some(m) = &r.minute else {
            let unit = if r.unit_on { "on" } else { "off" };
            writeln!(out, "{}", line(at, r.when, &r.shows, unit))?;
            continue;
        };
        let switches = times_of(m.switchings as u32);
        writeln!(out, "  {at:<wide$}  {}: the unit switches {switches} in this minute", r.when)?;
        for (which, values) in [("  lowest", &m.lowest), ("  greatest", &m.greatest)] {
            writeln!(out, "{}", line("", which, values, "").trim_end())?;
        }
    }
    super::page::paragraph(
        out,
        "SB low too: look at the source. SB good, IN low: look at the input cable. IN good, OUT below its target, few amps: \
         heat or a limit. OUT at its target, few amps: the output cable, or a full battery.",
    )
}
