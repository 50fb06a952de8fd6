//! A run of several days: its headlines in words, a row a day, the same as a table.

use super::page::paragraph;
use super::{Told, soc_pct};
use crate::clock::{clock, day_called, duration, over_a_week};
use crate::failure::Failure;
use crate::problems::count;
use serde_json::{Map, Value, json};
use sim_core::record::EventKind;
use sim_core::record::days::Headlines;
use sim_core::state::STARTER;
use sim_core::time::DAY_S;
use sim_core::{Model, Profile, Run};
use std::io::{self, Write};

/// A run shorter than this is no day, days.
pub const WHOLE_DAY: f64 = 0.9;
/// Most days that are printed: the first and the last of more.
const PRINTED: usize = 16;

/// A moment by its day and clock: "Fri 18:41", in more than a week "Fri 2026-03-06 18:41"; midnight is the end of the day
/// before, but for the start.
pub fn moment(profile: &Profile, t_s: f64) -> String {
    let day = day_at(profile, t_s);
    let minutes = ((profile.start_clock_s + t_s - f64::from(day) * DAY_S) / 60.0).floor() as u32;
    format!("{} {:02}:{:02}", day_of(profile, day), minutes / 60, minutes % 60)
}

/// The day of a moment, from 0.
fn day_at(profile: &Profile, t_s: f64) -> u32 {
    let at = profile.start_clock_s + t_s;
    let day = (at / DAY_S).floor();
    let ends = at == day * DAY_S && t_s > 0.0;
    (if ends { day - 1.0 } else { day }) as u32
}

/// A day counted from 0, so that it is told from the others of the same drive.
fn day_of(profile: &Profile, day: u32) -> String {
    if over_a_week(profile) { day_called(profile, day) } else { profile.day_name(day) }
}

/// Headlines as sentences; none where the run is all one day.
pub fn answer(told: &Told) -> Vec<String> {
    let Some(h) = Headlines::of(told.days) else { return Vec::new() };
    let flat = h.house_flat_at_s.map(|t| format!(" and is FLAT, {}", moment(told.profile, t)));
    let mut lines = vec![format!(
        "{}{}. Its lowest is {:.1} % ({}); it ends at {:.1} %.",
        balance(&h),
        flat.unwrap_or_default(),
        soc_pct(h.house_low_soc),
        moment(told.profile, h.house_low_at_s),
        soc_pct(h.house_end_soc)
    )];
    if let Some(got) = h.ah_per_drive_hour {
        lines.push(per_drive_hour(got, &h));
    }
    let morning = soc_pct(h.starter_lowest_morning_soc);
    let which = day_of(told.profile, day_at(told.profile, h.starter_lowest_morning_at_s));
    let mut text = format!("Starter battery, lowest of its mornings: {morning:.1} % ({which})");
    match told.crank_reserve_soc {
        Some(reserve) if h.starter_lowest_morning_soc < reserve => {
            let first = told.days.iter().find(|d| d.starter_morning_soc < reserve);
            // Days that are booked as one hide the moment; it is looked for in the run itself.
            let long = first.is_some_and(|d| d.days > 1.5);
            let day = match falls_under(told.run, told.model, told.profile, reserve).filter(|_| long) {
                Some(t_s) => moment_and_days(told.profile, t_s),
                None => first.map_or(which, |d| day_of(told.profile, d.day - 1)),
            };
            text.push_str(&format!(", under the crank reserve of {:.0} % from {day} on", reserve * 100.0));
        }
        Some(reserve) => text.push_str(&format!(", over the crank reserve of {:.0} %", reserve * 100.0)),
        None => text.push_str("; no crank reserve is typed (limits.crank_reserve_pct)"),
    }
    lines.push(format!("{text}."));
    let collapses = told.run.events.iter().any(|e| e.kind == EventKind::StarterDead { dead: true });
    if let Some(t_s) = falls_under(told.run, told.model, told.profile, 0.0).filter(|_| !collapses) {
        lines.push(format!(
            "The starter battery is EMPTY from {} on. What the vehicle would still draw, no battery gives.",
            moment_and_days(told.profile, t_s)
        ));
    }
    lines
}

/// A starter battery that collapses, however long the run is.
pub fn collapse(told: &Told) -> Option<String> {
    let mut times = told.run.events.iter().filter(|e| e.kind == EventKind::StarterDead { dead: true });
    let first = times.next()?.t.as_s();
    let when = match Headlines::of(told.days) {
        Some(_) => moment_and_days(told.profile, first),
        None => clock(told.profile.start_clock_s, first),
    };
    // Told as a lasting state only where nothing brings it back.
    let returns = told.run.events.iter().any(|e| e.kind == EventKind::StarterDead { dead: false });
    let (since, start) =
        if returns { (format!("at {when}"), "") } else { (format!("from {when} on"), " It does not start.") };
    let again = match times.count() {
        0 => String::new(),
        more => format!(" It collapses {} in all.", count(more + 1, "time")),
    };
    Some(format!(
        "The starter battery is FLAT {since}. Its posts collapse, and nothing on its side works.{start}{again}"
    ))
}

/// A moment with the time since the start in days.
pub fn moment_and_days(profile: &Profile, t_s: f64) -> String {
    format!("{} (after {:.1} days)", moment(profile, t_s), t_s / DAY_S)
}

/// When the starter battery's state of charge first falls under a level, s since the start.
pub fn falls_under(run: &Run, model: &Model, profile: &Profile, level_soc: f64) -> Option<f64> {
    if run.start[STARTER] < level_soc {
        return Some(run.span.0.as_s());
    }
    let day = run.days.iter().find(|d| d.lows.starter_soc < level_soc)?;
    let steps = run.trace.steps_from(model, profile, day.from);
    let mut ends = steps.map(|k| (k.start, k.start.plus_ns(k.ns), k.dense.at(k.ns as f64 * 1e-9)[STARTER]));
    let (from, to, _) = ends.find(|(.., soc)| *soc < level_soc)?;
    let soc = |t: sim_core::Instant| run.trace.at(model, profile, t).map(|s| s.state[STARTER]);
    let (mut high, mut low) = (to, from);
    while high.ns() - low.ns() > 1_000_000_000 {
        let mid = low.plus_ns((high.ns() - low.ns()) / 2);
        if soc(mid).is_some_and(|s| s < level_soc) { high = mid } else { low = mid }
    }
    Some(high.as_s())
}

/// A balance in an installer's words: a day, or the whole of a run that is shorter than one.
pub fn balance(h: &Headlines) -> String {
    let (net_ah, per) = if h.days < WHOLE_DAY {
        (h.house_net_ah_per_day * h.days, format!(" in {}", duration(h.days * DAY_S)))
    } else {
        (h.house_net_ah_per_day, " a day".to_owned())
    };
    match net_ah {
        n if n < -0.05 => format!("The house battery loses {:.1} Ah{per}", -n),
        n if n > 0.05 => format!("The house battery gains {n:.1} Ah{per}"),
        _ => "The house battery breaks even".to_owned(),
    }
}

fn per_drive_hour(got: f64, h: &Headlines) -> String {
    let mut causes: Vec<(&str, f64)> =
        h.missed_ah.named().into_iter().filter(|(_, ah)| *ah >= 0.05).collect();
    causes.sort_by(|a, b| b.1.total_cmp(&a.1));
    let lost: Vec<String> = causes.iter().take(3).map(|(what, ah)| format!("{ah:.1} Ah to {what}")).collect();
    let rest = if lost.is_empty() {
        String::new()
    } else {
        format!(" Over the whole time it lost {}.", lost.join(", "))
    };
    format!(
        "Each hour of driving brings {got:.1} Ah of the {:.0} Ah that the unit could give.{rest}",
        h.could_ah_per_drive_hour
    )
}

/// A cause in a word or two, for a narrow column.
fn short(what: &str) -> &str {
    match what {
        "waiting for turn-on" => "waiting",
        "drives without a turn-on" => "never on",
        "off again after a drop-out" => "dropping out",
        other => other,
    }
}

/// The table of days.
pub fn print(told: &Told, out: &mut dyn Write) -> io::Result<()> {
    if told.days.len() < 2 {
        return Ok(());
    }
    writeln!(
        out,
        "\nDAY BY DAY     driving   unit    sun   load    net    house, %    starter, %   most lost to, Ah"
    )?;
    writeln!(out, "                     h     Ah     Ah     Ah     Ah   low    end  morning   end")?;
    let skipped = told.days.len().saturating_sub(PRINTED);
    for (n, d) in told.days.iter().enumerate() {
        if skipped > 0 && (PRINTED / 2..PRINTED / 2 + skipped).contains(&n) {
            if n == PRINTED / 2 {
                writeln!(out, "  ...  {}, all in days.csv", count(skipped, "day"))?;
            }
            continue;
        }
        let lost =
            d.missed_ah.largest().map(|(what, ah)| format!("{} {ah:.1}", short(what))).unwrap_or_default();
        writeln!(
            out,
            "  {:<14} {:>5.2} {:>6.1} {:>6.1} {:>6.1} {:>+6.1} {:>5.1} {:>6.1} {:>8.1} {:>5.1}  {lost}",
            d.label(),
            d.driving_h,
            d.unit_output_ah,
            d.solar_ah,
            d.house_load_ah,
            if d.house_net_ah.abs() < 0.05 { 0.0 } else { d.house_net_ah },
            soc_pct(d.house_low_soc),
            soc_pct(d.house_end_soc),
            soc_pct(d.starter_morning_soc),
            soc_pct(d.starter_end_soc),
        )?;
    }
    paragraph(
        out,
        "Starter: at the first engine start of the day, or at its end where there is none; and at midnight.",
    )
}

/// Columns of days.csv; what kept the unit from its limit follows.
const COLUMNS: [&str; 24] = [
    "day",
    "name",
    "date",
    "from_s",
    "days",
    "driving_h",
    "starts",
    "came_on",
    "dropped_out_driving",
    "unit_output_ah",
    "ah_per_drive_hour",
    "could_ah",
    "solar_ah",
    "mains_ah",
    "house_load_ah",
    "house_net_ah",
    "house_low_soc",
    "house_low_at_s",
    "house_end_soc",
    "house_flat_at_s",
    "starter_morning_soc",
    "starter_morning_at_s",
    "starter_net_ah",
    "starter_end_soc",
];
const MISSED: [&str; 10] = [
    "waiting_ah",
    "never_on_ah",
    "dropped_out_ah",
    "soft_start_ah",
    "heat_ah",
    "input_limit_ah",
    "source_ah",
    "absorption_ah",
    "float_ah",
    "protection_ah",
];

/// days.csv: a row a day.
pub fn csv(told: &Told) -> Result<Vec<u8>, Failure> {
    let cell = |value: &Value| match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Number(n) if n.is_f64() => format!("{:.6}", n.as_f64().unwrap_or(0.0) + 0.0),
        other => other.to_string(),
    };
    let plain = COLUMNS;
    let missed: Vec<String> = MISSED.iter().map(|m| format!("missed_{m}")).collect();
    let head: Vec<&str> = plain.iter().copied().chain(missed.iter().map(String::as_str)).collect();
    let rows = told.days.iter().map(|d| {
        let value = json!(d);
        let own = plain.iter().map(|c| cell(&value[*c]));
        own.chain(MISSED.iter().map(|m| cell(&value["missed_ah"][*m]))).collect()
    });
    super::tables::table(&head, rows)
}

/// The same as JSON: headlines and days.
pub fn json(told: &Told) -> Value {
    if told.days.is_empty() {
        return Value::Null;
    }
    let mut whole = Map::new();
    whole.insert("headlines".into(), json!(Headlines::of(told.days)));
    whole.insert("days".into(), json!(told.days));
    Value::Object(whole)
}
