//! Clock times and durations as people write them.

use sim_core::Profile;
use sim_core::time::DAY_S;

/// The clock time `t_s` seconds into a run that starts `start_s` seconds after midnight; later days are named.
pub fn clock(start_s: f64, t_s: f64) -> String {
    let at = (start_s + t_s).round() as i64;
    let (day, s) = (at.div_euclid(86_400), at.rem_euclid(86_400));
    let time = format!("{:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60);
    if day == 0 { time } else { format!("day {} {time}", day + 1) }
}

/// The moment `t_s` seconds into a drive as its days are called: by weekday, and by date where the drive has one. A drive
/// of a single day says the time alone.
pub fn day_and_time(profile: &Profile, t_s: f64) -> String {
    named(profile, t_s, |day| day_called(profile, day))
}

/// A day counted from 0 by its weekday and its date, as far as they are known.
pub fn day_called(profile: &Profile, day: u32) -> String {
    match profile.date_of(day) {
        Some(date) => format!("{} {date}", profile.day_name(day)),
        None => weekday(profile, day),
    }
}

/// A day of the month and its month, for a narrow column or an axis: "6 Mar".
pub fn short_date(date: jiff::civil::Date) -> String {
    date.strftime("%-d %b").to_string()
}

/// Days from the midnight before a drive to its end.
fn days(profile: &Profile) -> f64 {
    (profile.start_clock_s + profile.end().as_s()) / DAY_S
}

/// Whether a weekday names two days of a drive.
pub fn over_a_week(profile: &Profile) -> bool {
    days(profile) > 7.0
}

/// Whether a day and a month name two days of a drive.
fn over_a_year(profile: &Profile) -> bool {
    days(profile) > 365.0
}

/// A moment for a narrow column: its day by weekday alone, or in a drive of more than a week by date, or counted.
pub fn weekday_and_time(profile: &Profile, t_s: f64) -> String {
    if !over_a_week(profile) {
        return named(profile, t_s, |day| weekday(profile, day));
    }
    match profile.date {
        Some(_) => named(profile, t_s, |day| match profile.date_of(day) {
            Some(date) if over_a_year(profile) => date.to_string(),
            Some(date) => short_date(date),
            None => weekday(profile, day),
        }),
        None => clock(profile.start_clock_s, t_s),
    }
}

/// A weekday; after a week it says which one it is.
fn weekday(profile: &Profile, day: u32) -> String {
    let name = profile.day_name(day);
    if day < 7 || profile.weekday_of(day).is_none() { name } else { format!("{name} (day {})", day + 1) }
}

fn named(profile: &Profile, t_s: f64, name: impl Fn(u32) -> String) -> String {
    let start_s = profile.start_clock_s;
    let at = (start_s + t_s).round() as i64;
    let day = at.div_euclid(86_400).max(0) as u32;
    if profile.weekday_of(day).is_none() || days(profile) <= 1.0 {
        return clock(start_s, t_s);
    }
    format!("{} {}", name(day), clock(0.0, at.rem_euclid(86_400) as f64))
}

/// A duration in its two largest units.
pub fn duration(s: f64) -> String {
    let whole = s.round() as i64;
    if s < 10.0 && (s - s.round()).abs() > 0.05 {
        format!("{s:.1} s")
    } else if whole < 120 {
        format!("{whole} s")
    } else if whole < 3600 {
        match whole % 60 {
            0 => format!("{} min", whole / 60),
            rest => format!("{} min {rest} s", whole / 60),
        }
    } else if whole < 2 * 86_400 {
        let minutes = (whole + 30) / 60;
        match minutes % 60 {
            0 => format!("{} h", minutes / 60),
            rest => format!("{} h {rest} min", minutes / 60),
        }
    } else {
        let hours = (whole + 1800) / 3600;
        match hours % 24 {
            0 => format!("{} days", hours / 24),
            rest => format!("{} days {rest} h", hours / 24),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sim_core::{Instant, Piece};

    fn drive(days: f64) -> Profile {
        let end = Instant::from_s(days * 86_400.0);
        let piece = Piece { start: Instant::ZERO, end, ..Piece::NOTHING };
        Profile::new(vec![piece], 0.0).expect("a piece that lasts")
    }

    #[test]
    fn days_are_called_by_what_is_known_of_them() {
        let friday_s = 4.0 * 86_400.0 + 3600.0;
        assert_eq!(day_and_time(&drive(10.0), friday_s), "day 5 01:00:00");
        let mut week = drive(10.0);
        week.weekday = Some(0);
        assert_eq!(day_and_time(&week, friday_s), "Fri 01:00:00");
        assert_eq!(day_and_time(&week, 3600.0), "Mon 01:00:00");
        assert_eq!(day_and_time(&week, friday_s + 7.0 * 86_400.0), "Fri (day 12) 01:00:00");
        let mut dated = week;
        dated.date = Some(jiff::civil::date(2026, 3, 2));
        assert_eq!(day_and_time(&dated, friday_s), "Fri 2026-03-06 01:00:00");
        assert_eq!(weekday_and_time(&dated, friday_s), "6 Mar 01:00:00");
        assert_eq!(weekday_and_time(&drive(10.0), friday_s), "day 5 01:00:00");
        let mut days = drive(7.0);
        days.weekday = Some(0);
        assert_eq!(weekday_and_time(&days, friday_s), "Fri 01:00:00");
        let mut day = drive(1.0);
        day.weekday = Some(0);
        assert_eq!(day_and_time(&day, 3600.0), "01:00:00");
    }

    #[test]
    fn times_read_as_people_write_them() {
        assert_eq!(clock(8.0 * 3600.0, 143.59), "08:02:24");
        assert_eq!(clock(23.0 * 3600.0, 7200.0), "day 2 01:00:00");
        assert_eq!(duration(2.0), "2 s");
        assert_eq!(duration(0.8), "0.8 s");
        assert_eq!(duration(2700.0), "45 min");
        assert_eq!(duration(6360.0), "1 h 46 min");
        assert_eq!(duration(604_800.0), "7 days");
    }
}
