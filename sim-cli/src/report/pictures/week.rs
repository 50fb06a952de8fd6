//! Fills the week: seven days of the run, those around its worst moment.

use super::super::days::{balance, moment};
use super::super::{Told, soc_pct};
use super::view::{clock_of, heading};
use crate::chart::figures::week::{DayStrip, Week, Worst};
use crate::clock::short_date;
use sim_core::Instant;
use sim_core::record::EventKind;
use sim_core::record::days::{DayRow, Headlines, goes_flat, rows};
use sim_core::state::{HOUSE, STARTER};
use sim_core::time::DAY_S;

/// Days in the picture.
const SHOWN: usize = 7;
/// Parts of a day that a current is averaged over.
const PARTS: usize = 288;
/// Samples of a day in the lower strip.
const POINTS: f64 = 96.0;

/// Everything the picture shows.
pub fn fill(told: &Told) -> Week {
    // A run of a single day has no rows on its page, and still is a day.
    let own;
    let days = if told.days.is_empty() {
        own = rows(told.run, told.model, told.profile);
        &own
    } else {
        told.days
    };
    let Some(h) = Headlines::of(days) else {
        return Week { heading: heading(told, "Day by day", String::new()), ..Week::default() };
    };
    let lowest = || {
        let days = days.iter().enumerate();
        days.min_by(|a, b| a.1.house_low_soc.total_cmp(&b.1.house_low_soc)).map(|(n, _)| n)
    };
    let flat = days.iter().position(|d| d.house_flat_at_s.is_some());
    let worst = flat.or_else(lowest).unwrap_or(0);
    // Whole weeks from the first day on: the one that holds the worst moment.
    let first = (worst / SHOWN * SHOWN).min(days.len().saturating_sub(SHOWN));
    let shown = &days[first..(first + SHOWN).min(days.len())];
    let span_s = (shown[0].from_s, shown.last().map_or(0.0, |d| d.from_s + d.days * DAY_S));
    let several = days.len() > SHOWN;
    let mut week = Week {
        heading: heading(told, "Day by day", answer(told, &h, several)),
        days: shown.iter().map(|d| strip(told, d, several)).collect(),
        worst: Some(worst_of(told, worst - first, &days[worst])),
        clock: clock_of(told),
        span_s,
        reserve_pct: told.crank_reserve_soc.map(|s| s * 100.0),
        ..Week::default()
    };
    let points = (POINTS * (span_s.1 - span_s.0) / DAY_S).ceil().clamp(2.0, 4000.0);
    for k in 0..=points as usize {
        let t_s = span_s.0 + (span_s.1 - span_s.0) * k as f64 / points;
        let t = Instant::from_s(t_s).min(told.run.span.1);
        if let Some(s) = told.run.trace.at(told.model, told.profile, t) {
            week.time_s.push(t_s);
            week.house_pct.push(soc_pct(s.state[HOUSE]));
            week.starter_pct.push(soc_pct(s.state[STARTER]));
        }
    }
    week
}

fn answer(told: &Told, h: &Headlines, several: bool) -> String {
    let flat = h.house_flat_at_s.map(|t| format!(" and is flat, {}", moment(told.profile, t)));
    let more =
        if several { " The seven days around the house battery's worst moment are shown." } else { "" };
    format!(
        "{}{}: lowest {:.1} %, {}. Starter battery, lowest of its mornings: {:.1} %.{more}",
        balance(h),
        flat.unwrap_or_default(),
        soc_pct(h.house_low_soc),
        moment(told.profile, h.house_low_at_s),
        soc_pct(h.starter_lowest_morning_soc),
    )
}

/// Midnight before a day's beginning, s since the start of the run.
fn midnight_s(told: &Told, day: &DayRow) -> f64 {
    f64::from(day.day - 1) * DAY_S - told.profile.start_clock_s
}

fn strip(told: &Told, day: &DayRow, several: bool) -> DayStrip {
    let from_s = midnight_s(told, day);
    let hours = |t: Instant| ((t.as_s() - from_s) / 3600.0).clamp(0.0, 24.0);
    let engine = told.run.stretches.iter().filter(|s| s.driving).map(|s| (hours(s.from), hours(s.to)));
    let name = match (day.days > 1.5, several) {
        (true, _) => format!("{:.0} days", day.days),
        (_, true) => match told.profile.date_of(day.day - 1) {
            Some(date) => format!("{} {}", day.name, short_date(date)),
            None if told.profile.weekday.is_some() => format!("{}, day {}", day.name, day.day),
            None => day.name.clone(),
        },
        _ => day.name.clone(),
    };
    DayStrip {
        name,
        engine_h: engine.filter(|(a, b)| b > a).collect(),
        house_a: means_a(told, from_s),
        in_ah: day.unit_output_ah + day.solar_ah + day.mains_ah,
        out_ah: day.house_load_ah,
        end_pct: soc_pct(day.house_end_soc),
        flat_h: flat_s(told, day).map(|t_s| (t_s - from_s) / 3600.0).filter(|_| day.days <= 1.5),
    }
}

/// Mean net current into the house battery over each part of a day, A, from what it holds at both ends of the part: points
/// between would tell anything of a unit that cycles. Not a number where there is no run.
fn means_a(told: &Told, from_s: f64) -> Vec<f64> {
    let part_s = DAY_S / PARTS as f64;
    let (begin, end) = told.run.span;
    let capacity_c = told.model.house.capacity_c();
    let held =
        |t: Instant| told.run.trace.at(told.model, told.profile, t).map(|s| s.state[HOUSE] * capacity_c);
    let edge = |k: usize| Instant::from_s(from_s + k as f64 * part_s).max(begin).min(end);
    let edges: Vec<(Instant, Option<f64>)> = (0..=PARTS).map(|k| (edge(k), held(edge(k)))).collect();
    let mean = |pair: &[(Instant, Option<f64>)]| match (pair[0], pair[1]) {
        ((a, Some(from_c)), (b, Some(to_c))) if b > a => (to_c - from_c) / b.since(a),
        _ => f64::NAN,
    };
    edges.windows(2).map(mean).collect()
}

/// When the house battery is flat first on a day, s since the start: its beginning where it is flat already.
fn flat_s(told: &Told, day: &DayRow) -> Option<f64> {
    let tells = |kind| matches!(kind, EventKind::LoadsShed { .. });
    let before = told.run.events.iter().take_while(|e| e.t.as_s() < day.from_s);
    let last = before.filter(|e| tells(e.kind)).last();
    last.filter(|e| goes_flat(told.run, told.model, e)).map(|_| day.from_s).or(day.house_flat_at_s)
}

/// The first time that it is flat, else the lowest point.
fn worst_of(told: &Told, row: usize, day: &DayRow) -> Worst {
    let at_s = day.house_flat_at_s.unwrap_or(day.house_low_at_s);
    let when = moment(told.profile, at_s);
    let text = match day.house_flat_at_s {
        Some(_) => format!("flat, {when}"),
        None => format!("lowest {:.1} %, {when}", soc_pct(day.house_low_soc)),
    };
    Worst { row, at_h: (at_s - midnight_s(told, day)) / 3600.0, text }
}

#[cfg(test)]
mod tests {
    use super::super::checks::Case;
    use super::*;

    /// The current itself, summed in small steps, of a boat whose unit cycles: means that points were taken for swing by 6 A.
    #[test]
    fn bars_of_a_unit_that_cycles_are_means() {
        let case = Case::new("patterns/canal-boat.toml", &[]);
        let told = &case.told();
        let means = means_a(told, 0.0);
        let part_s = DAY_S / PARTS as f64;
        let mut cycles = 0;
        for (k, mean_a) in means.iter().enumerate().skip(120).take(48) {
            let (from, to) = (k as f64 * part_s, (k + 1) as f64 * part_s);
            let (mut sum_c, mut before) = (0.0, None);
            let fine: Vec<f64> = (0..=6000).map(|n| from + part_s * f64::from(n) / 6000.0).collect();
            for s in super::super::view::samples_at(told, &fine) {
                if let Some((t, a)) = before {
                    sum_c += 0.5 * (s.net.house_a + a) * s.t.since(t);
                }
                before = Some((s.t, s.net.house_a));
            }
            assert!((sum_c / part_s - mean_a).abs() < 0.02, "part {k}: {} A, {mean_a} A", sum_c / part_s);
            cycles += told.run.events.iter().filter(|e| (from..to).contains(&e.t.as_s())).count();
        }
        assert!(cycles > 200, "{cycles} events: it does not cycle");
        let all_ah = means.iter().sum::<f64>() * part_s / 3600.0;
        assert!((all_ah - told.summary.house_gain_ah).abs() < 1e-6, "{all_ah} Ah");
    }

    /// An hour and a half is told as what it is.
    #[test]
    fn a_short_run_is_no_day() {
        let case = Case::new("reference-van.toml", &[]);
        let answer = fill(&case.told()).heading.answer;
        assert!(answer.contains("Ah in 1 h 46 min") && !answer.contains("a day"), "{answer}");
    }
}
