//! What a meter should show: volts at the four points and amps in and out, at the moments when a fitter reads them.

use super::Told;
use crate::clock::weekday_and_time;
use serde::Serialize;
use sim_core::Instant;
use sim_core::record::{EventKind, Sample};
use std::io::{self, Write};

/// How long after the unit came on it counts as settled at full current, s.
const AFTER_ON_S: f64 = 60.0;

/// One moment at which a meter is read.
#[derive(Debug, Clone, Serialize)]
pub struct Reading {
    /// When, in words.
    pub when: &'static str,
    /// When, s since the start.
    pub t_s: f64,
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

/// The readings that this run has: those of its first drive that is long enough, and after the last key-off.
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
    moments.push(("just before key-off", key_off.map(|t| t.plus_s(-1.0)).filter(|t| Some(*t) > settled)));
    for (when, s) in [("10 s after the last key-off", 10.0), ("1 h after it", 3600.0)] {
        moments.push((when, last_off.map(|t| t.plus_s(s)).filter(|t| *t <= end)));
    }
    moments.into_iter().filter_map(|(when, t)| Some(reading(when, &sample(told, t?)?))).collect()
}

fn sample(told: &Told, t: Instant) -> Option<Sample> {
    told.run.trace.at(told.model, told.profile, t)
}

fn reading(when: &'static str, s: &Sample) -> Reading {
    Reading {
        when,
        t_s: s.t.as_s(),
        starter_posts_v: s.net.sb_v,
        unit_input_v: s.net.in_v,
        unit_output_v: s.net.out_v,
        house_posts_v: s.net.house_v,
        unit_input_a: s.net.input_a,
        unit_output_a: s.net.output_a,
    }
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
    let to_volts = wide + 19;
    writeln!(
        out,
        "\nWHAT A METER SHOULD SHOW{:>to_volts$}{:>9}{:>9}{:>9}{:>13}",
        "SB", "IN", "OUT", "house", "A in / out"
    )?;
    for (r, at) in readings.iter().zip(times) {
        writeln!(
            out,
            "  {at:<wide$}  {:<31}{:>8.2}{:>9.2}{:>9.2}{:>9.2}{:>7.1} / {:.1}",
            r.when,
            r.starter_posts_v,
            r.unit_input_v,
            r.unit_output_v,
            r.house_posts_v,
            r.unit_input_a,
            r.unit_output_a
        )?;
    }
    super::page::paragraph(
        out,
        "SB low too: look at the source. SB well, IN low: the input cable. IN well, OUT under its target and few amps: heat \
         or a limit. OUT at its target, few amps: the output cable, or a full battery.",
    )
}
