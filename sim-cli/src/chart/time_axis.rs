//! Time axis: maps seconds to pixels and chooses ticks that fall on round clock times.
//! Spans from a minute to weeks; with no clock known it counts elapsed time.

use super::font::{Face, text_width};
use crate::clock::short_date;
use sim_core::time::DAY_S;

/// Candidate tick steps, seconds.
const STEPS_S: [f64; 25] = [
    1.0,
    2.0,
    5.0,
    10.0,
    15.0,
    30.0,
    60.0,
    120.0,
    300.0,
    600.0,
    900.0,
    1800.0,
    3600.0,
    7200.0,
    10_800.0,
    21_600.0,
    43_200.0,
    DAY_S,
    172_800.0,
    432_000.0,
    864_000.0,
    1_728_000.0,
    4_320_000.0,
    8_640_000.0,
    31_536_000.0,
];

const WEEKDAYS: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];

/// How the simulation's time zero relates to a wall clock.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Clock {
    /// Seconds after midnight at time zero; `None` shows elapsed time.
    pub start_s_of_day: Option<f64>,
    /// Day of the week at time zero, 0 Monday to 6 Sunday; `None` numbers the days.
    pub weekday: Option<u8>,
    /// Date at time zero; names the days of a span of more than a week.
    pub date: Option<jiff::civil::Date>,
    /// Whether what is drawn is part of more than a week, so that weekdays would name two days.
    pub over_a_week: bool,
}

impl Clock {
    fn offset_s(&self) -> f64 {
        self.start_s_of_day.unwrap_or(0.0)
    }

    /// A moment to the second, with the day when `span_s` is longer than one.
    #[must_use]
    pub fn moment(&self, t_s: f64, span_s: f64) -> String {
        if self.start_s_of_day.is_none() {
            return elapsed(t_s);
        }
        let clock = hms(t_s + self.offset_s(), true);
        if span_s > DAY_S { format!("{} {clock}", self.day_name(t_s, span_s)) } else { clock }
    }

    /// "Tue", or "day 2" when no weekday is known; in a span of more than a week "6 Mar", or the day's number.
    #[must_use]
    pub fn day_name(&self, t_s: f64, span_s: f64) -> String {
        let day = ((t_s + self.offset_s()) / DAY_S).floor() as i64;
        let long = self.over_a_week || span_s > 7.0 * DAY_S;
        if let (true, Some(date)) = (long && self.start_s_of_day.is_some(), self.date) {
            let on = jiff::Span::new().try_days(day).and_then(|days| date.checked_add(days));
            if let Ok(on) = on {
                return if span_s > 365.0 * DAY_S { on.to_string() } else { short_date(on) };
            }
        }
        match self.weekday {
            Some(first) if self.start_s_of_day.is_some() && !long => {
                WEEKDAYS[(i64::from(first) + day).rem_euclid(7) as usize].to_owned()
            }
            _ => format!("day {}", day + 1),
        }
    }
}

/// Seconds of day as HH:MM or HH:MM:SS.
fn hms(s_of_day: f64, seconds: bool) -> String {
    // Rounded first: 08:13:59.9999 must not be cut down to 08:13:59.
    let whole = s_of_day.round().rem_euclid(DAY_S) as u64;
    let (h, m, s) = (whole / 3600, whole / 60 % 60, whole % 60);
    if seconds { format!("{h:02}:{m:02}:{s:02}") } else { format!("{h:02}:{m:02}") }
}

/// Elapsed time in words: "42 s", "12 min 30 s", "3 h 05 min".
fn elapsed(t_s: f64) -> String {
    let sign = if t_s < -0.5 { "−" } else { "" };
    let whole = t_s.abs().round() as u64;
    match whole {
        0..60 => format!("{sign}{whole} s"),
        60..3600 => format!("{sign}{} min {:02} s", whole / 60, whole % 60),
        _ => format!("{sign}{} h {:02} min", whole / 3600, whole / 60 % 60),
    }
}

/// One labelled mark of the axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Tick {
    /// Time, seconds of the simulation.
    pub time_s: f64,
    /// What is written under it.
    pub label: String,
    /// Midnight in a span of several days.
    pub day_start: bool,
}

/// Seconds to pixels over a window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimeScale {
    /// Left edge, seconds.
    pub from_s: f64,
    /// Right edge, seconds.
    pub to_s: f64,
    /// Left edge, logical pixels.
    pub x0: f64,
    /// Right edge, logical pixels.
    pub x1: f64,
}

impl TimeScale {
    /// A scale over a window; an empty or broken window becomes one minute.
    #[must_use]
    pub fn new(from_s: f64, to_s: f64, x0: f64, x1: f64) -> Self {
        let from_s = if from_s.is_finite() { from_s } else { 0.0 };
        let to_s = if to_s.is_finite() && to_s > from_s { to_s } else { from_s + 60.0 };
        Self { from_s, to_s, x0, x1 }
    }

    /// Length of the window, seconds.
    #[must_use]
    pub fn span_s(&self) -> f64 {
        self.to_s - self.from_s
    }

    /// Pixel of a time.
    #[must_use]
    pub fn x(&self, t_s: f64) -> f64 {
        self.x0 + (t_s - self.from_s) / self.span_s() * (self.x1 - self.x0)
    }

    /// Pixel of a time, held inside the window.
    #[must_use]
    pub fn x_clamped(&self, t_s: f64) -> f64 {
        self.x(t_s).clamp(self.x0, self.x1)
    }

    /// Marks whose labels, at `size_px`, leave air between them.
    #[must_use]
    pub fn ticks(&self, clock: &Clock, size_px: f64) -> Vec<Tick> {
        let mut step_s = STEPS_S[STEPS_S.len() - 1];
        for &candidate in &STEPS_S {
            let spacing_px = candidate / self.span_s() * (self.x1 - self.x0);
            if spacing_px < 24.0 {
                continue;
            }
            let widest = self
                .ticks_every(candidate, clock)
                .iter()
                .map(|t| text_width(&t.label, size_px, Face::Regular))
                .fold(0.0, f64::max);
            if spacing_px >= widest + 16.0 {
                step_s = candidate;
                break;
            }
        }
        self.ticks_every(step_s, clock)
    }

    fn ticks_every(&self, step_s: f64, clock: &Clock) -> Vec<Tick> {
        let offset = clock.offset_s();
        let first = ((self.from_s + offset) / step_s - 1e-9).ceil() as i64;
        let last = ((self.to_s + offset) / step_s + 1e-9).floor() as i64;
        let many_days = self.span_s() > DAY_S;
        (first..=last)
            .map(|i| {
                let of_day = i as f64 * step_s;
                let time_s = of_day - offset;
                let day_start = many_days && of_day.rem_euclid(DAY_S).abs() < 0.5;
                let label = if clock.start_s_of_day.is_none() {
                    self.elapsed_label(time_s)
                } else if day_start {
                    clock.day_name(time_s + 1.0, self.span_s())
                } else {
                    hms(of_day, step_s < 60.0)
                };
                Tick { time_s, label, day_start }
            })
            .collect()
    }

    fn elapsed_unit(&self) -> (f64, &'static str) {
        match self.span_s() {
            s if s <= 180.0 => (1.0, "s"),
            s if s <= 3.0 * 3600.0 => (60.0, "min"),
            s if s <= 3.0 * DAY_S => (3600.0, "h"),
            _ => (DAY_S, "days"),
        }
    }

    fn elapsed_label(&self, time_s: f64) -> String {
        let v = time_s / self.elapsed_unit().0;
        let text = format!("{:.2}", if v.abs() < 5e-3 { 0.0 } else { v });
        text.trim_end_matches('0').trim_end_matches('.').replace('-', "−")
    }

    /// Name of the axis with its unit.
    #[must_use]
    pub fn title(&self, clock: &Clock) -> String {
        if clock.start_s_of_day.is_some() {
            "clock time".to_owned()
        } else {
            format!("time from start, {}", self.elapsed_unit().1)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(start: f64) -> Clock {
        Clock { start_s_of_day: Some(start), weekday: Some(0), ..Clock::default() }
    }

    fn labels(span_s: f64, clock: &Clock) -> Vec<String> {
        TimeScale::new(0.0, span_s, 0.0, 700.0).ticks(clock, 10.5).into_iter().map(|t| t.label).collect()
    }

    #[test]
    fn one_minute_shows_seconds_and_a_drive_shows_round_minutes() {
        let clock = at(8.0 * 3600.0 + 14.0 * 60.0);
        let minute = labels(60.0, &clock);
        assert_eq!(minute[0], "08:14:00");
        assert!(minute.len() >= 5);
        let drive = labels(6360.0, &at(8.0 * 3600.0 + 13.0 * 60.0 + 7.0));
        assert!(drive.iter().all(|l| l.ends_with('0') || l.ends_with('5')), "{drive:?}");
    }

    #[test]
    fn a_week_names_its_days() {
        let week = labels(7.0 * DAY_S, &at(6.0 * 3600.0));
        assert!(week.contains(&"Tue".to_owned()) && week.contains(&"Sun".to_owned()));
        let dated = Clock { date: Some(jiff::civil::date(2026, 2, 23)), ..at(0.0) };
        assert_eq!(dated.day_name(9.5 * DAY_S, 7.0 * DAY_S), "Wed");
        assert_eq!(dated.day_name(9.5 * DAY_S, 14.0 * DAY_S), "4 Mar");
        assert_eq!(at(0.0).day_name(9.5 * DAY_S, 14.0 * DAY_S), "day 10");
        let unnamed = Clock { weekday: None, ..at(0.0) };
        assert!(labels(7.0 * DAY_S, &unnamed).contains(&"day 2".to_owned()));
    }

    #[test]
    fn labels_never_touch_at_any_span() {
        let mut span_s = 1.0;
        while span_s < 60.0 * DAY_S {
            for clock in [at(30_000.0), Clock::default()] {
                let scale = TimeScale::new(17.0, 17.0 + span_s, 0.0, 180.0);
                let ticks = scale.ticks(&clock, 10.5);
                for pair in ticks.windows(2) {
                    let half = |t: &Tick| text_width(&t.label, 10.5, Face::Regular) / 2.0;
                    let air = scale.x(pair[1].time_s) - scale.x(pair[0].time_s);
                    assert!(air > half(&pair[0]) + half(&pair[1]) + 4.0, "span {span_s}");
                }
                assert!(ticks.len() < 60);
            }
            span_s *= 1.37;
        }
    }

    #[test]
    fn moments_read_like_a_clock() {
        assert_eq!(at(8.0 * 3600.0).moment(131.0, 3600.0), "08:02:11");
        assert_eq!(at(0.0).moment(DAY_S + 61.0, 7.0 * DAY_S), "Tue 00:01:01");
        assert_eq!(Clock::default().moment(750.0, 3600.0), "12 min 30 s");
    }

    #[test]
    fn a_broken_window_is_repaired() {
        let scale = TimeScale::new(f64::NAN, f64::NAN, 0.0, 100.0);
        assert!(scale.span_s() > 0.0);
        assert!(TimeScale::new(5.0, 5.0, 0.0, 1.0).x(5.0).is_finite());
    }
}
