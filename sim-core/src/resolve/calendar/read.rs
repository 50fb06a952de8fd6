//! A calendar as written becomes a plan: what each day of it is. All problems are told at their places.

use super::super::drive::{Ground, weekday};
use super::super::parts::Maker;
use super::super::trace_file::DriveFile;
use super::clock::{clock_s, month_day};
use crate::scenario::calendar::{Calendar, Day, DayDriveSpec, SeasonSpec, WEEKDAYS};
use crate::scenario::drive::PieceSpec;
use crate::scenario::list_path::numbered;
use crate::scenario::node::Place;
use crate::scenario::problem::{Problem, ProblemKind, guess};
use crate::scenario::{Num, Text};
use crate::time::DAY_S;
use std::rc::Rc;
use std::sync::Arc;

/// What a calendar comes to.
pub(super) struct Plan {
    pub(super) named: Vec<PlannedDay>,
    pub(super) seasons: Vec<Season>,
    pub(super) lay_ups: Vec<(Rc<PieceSpec>, Option<f64>)>,
    pub(super) days: Vec<OneDay>,
    pub(super) date: Option<jiff::civil::Date>,
    pub(super) weekday: u8,
    pub(super) sun_step_s: f64,
    pub(super) sun_step_place: Option<Place>,
    pub(super) factor: f64,
}

/// One day of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct OneDay {
    /// Which of the named days; none is parked.
    pub(super) planned: Option<usize>,
    /// Which season.
    pub(super) season: Option<usize>,
    /// First day and number of the lay-up that it falls in.
    pub(super) lay_up: Option<(usize, usize)>,
}

/// A season.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Season {
    pub(super) air_c: Option<f64>,
    /// Rise and set, s after midnight, and power at noon, W.
    pub(super) sun: Option<(f64, f64, f64)>,
    from: Option<(i8, i8)>,
}

/// A named day.
#[derive(Debug, Default)]
pub(super) struct PlannedDay {
    pub(super) drives: Vec<PlannedDrive>,
    pub(super) during: Vec<PlannedDuring>,
}

/// One drive of a day, or several in a row.
#[derive(Debug, Clone)]
pub(super) struct PlannedDrive {
    /// When the first begins, s after midnight.
    pub(super) at_s: f64,
    pub(super) long_s: f64,
    /// How many in a row, and from one beginning to the next, s.
    pub(super) times: u32,
    pub(super) every_s: f64,
    /// Whether stop-start holds from each to the next.
    pub(super) stop_start: bool,
    pub(super) rpm: f64,
    pub(super) file: Option<Arc<DriveFile>>,
    pub(super) spec: Rc<PieceSpec>,
    pub(super) between_a: Option<f64>,
    /// Its path, and where it is written how often it is driven, or what.
    pub(super) path: String,
    pub(super) place: Option<Place>,
}

impl PlannedDrive {
    /// When each of them begins, s after midnight.
    pub(super) fn begins_s(&self) -> impl Iterator<Item = f64> + '_ {
        (0..self.times).map(|k| self.at_s + f64::from(k) * self.every_s)
    }

    /// Until when stop-start holds behind the one that begins then.
    pub(super) fn stop_start_until_s(&self, begins_s: f64) -> Option<f64> {
        let last = begins_s >= self.at_s + f64::from(self.times - 1) * self.every_s;
        (self.stop_start && !last).then_some(begins_s + self.every_s)
    }

    /// Rows of a drive file that one day of it goes through, or stretches.
    pub(super) fn rows(&self, factor: f64) -> u64 {
        let rows = self.file.as_ref().map_or(1.0, |file| file.time_s.len() as f64);
        (rows * f64::from(self.times) * factor.max(1.0)).ceil() as u64
    }

    /// The first of them that a stretch touches, and when it begins.
    fn touched_s(&self, from_s: f64, to_s: f64) -> Option<f64> {
        let before = ((from_s - self.at_s - self.long_s) / self.every_s.max(1e-3)).floor().max(1.0) - 1.0;
        let near = (before as u32).min(self.times - 1);
        let begins = (near..self.times).map(|k| self.at_s + f64::from(k) * self.every_s);
        begins.take_while(|at_s| *at_s < to_s - 1e-9).find(|at_s| from_s < at_s + self.long_s - 1e-9)
    }
}

/// What holds between two clock times.
#[derive(Debug)]
pub(super) struct PlannedDuring {
    pub(super) from_s: f64,
    pub(super) to_s: f64,
    pub(super) spec: Rc<PieceSpec>,
    pub(super) parked_a: Option<f64>,
}

impl Maker<'_> {
    /// Reads a calendar.
    pub(super) fn plan(
        &mut self,
        c: &Calendar,
        ground: &Ground,
        files: &dyn Fn(usize) -> Option<Arc<DriveFile>>,
    ) -> Plan {
        let spec = &c.spec;
        let drive = &ground.scenario.drive;
        if drive.start_clock.place().is_some() {
            let what = "a calendar begins at midnight; leave `start_clock` out".to_owned();
            self.problems.push(Problem::conflict("drive.start_clock", drive.start_clock.place(), what));
        }
        if drive.repeat.place().is_some() {
            let what = "a calendar is repeated by its `weeks`; leave `repeat` out".to_owned();
            self.conflict("drive.repeat", Some(&drive.repeat), what);
        }
        let date = spec.start_date.as_ref().and_then(|t| self.date(t));
        let written = WEEKDAYS.iter().position(|d| *d == spec.start_day.value).unwrap_or(0) as u8;
        let weekday = date.map_or(written, weekday);
        if date.is_some() && spec.start_day.place().is_some() && weekday != written {
            let what = format!("that date is a {}", WEEKDAYS[usize::from(weekday)]);
            self.problems.push(Problem::conflict("calendar.start_day", spec.start_day.place(), what));
        }
        let count = self.how_many(spec.weeks.as_ref(), spec.days.as_ref());
        let mut number = 0;
        let mut named = Vec::new();
        for (d, day) in c.days.iter().enumerate() {
            named.push(self.day(d, day, &mut |_| {
                number += 1;
                files(number - 1)
            }));
        }
        let week = self.week(c);
        let seasons: Vec<Season> =
            c.seasons.iter().enumerate().map(|(n, s)| self.season(n, s, date.is_some())).collect();
        let season = spec.hold_season.as_ref().and_then(|t| {
            let names: Vec<Option<&Text>> = c.seasons.iter().map(|s| s.name.as_ref()).collect();
            self.by_name("calendar.hold_season", t, &names, "season")
        });
        let lay_ups = self.lay_ups(c, count);
        let days = (0..count).map(|n| OneDay {
            planned: week[(usize::from(weekday) + n) % 7],
            season: season.or_else(|| by_date(&seasons, date, n)),
            lay_up: lay_ups.iter().enumerate().find(|(_, l)| (l.0..l.1).contains(&n)).map(|(k, l)| (l.0, k)),
        });
        Plan {
            days: days.collect(),
            named,
            lay_ups: c.lay_ups.iter().map(|l| (Rc::new(l.conditions()), value(&l.parked_load_a))).collect(),
            seasons,
            date,
            weekday,
            sun_step_s: spec.sun_step_min.value * 60.0,
            sun_step_place: spec.sun_step_min.place(),
            factor: spec.drive_factor.value,
        }
    }

    fn how_many(&mut self, weeks: Option<&Num>, days: Option<&Num>) -> usize {
        for (key, n) in [("calendar.weeks", weeks), ("calendar.days", days)] {
            if let Some(n) = n.filter(|n| n.value.fract() != 0.0) {
                self.conflict(key, Some(n), "a calendar has a whole number of these".into());
            }
        }
        match (weeks, days) {
            (Some(_), Some(days)) => {
                let what = "a calendar's length is in weeks or in days, and not in both".to_owned();
                self.conflict("calendar.days", Some(days), what);
                7
            }
            (Some(weeks), None) => 7 * weeks.value as usize,
            (None, Some(days)) => days.value as usize,
            (None, None) => 7,
        }
    }

    fn date(&mut self, text: &Text) -> Option<jiff::civil::Date> {
        let date = text.value.trim().parse::<jiff::civil::Date>().ok();
        if date.is_none() {
            let what = format!("`{}` is no date; write it like \"2026-03-02\"", text.value);
            self.problems.push(Problem::conflict("calendar.start_date", text.place(), what));
        }
        date
    }

    /// A clock time; one that is missing is told at `place`.
    fn time(&mut self, path: String, text: Option<&Text>, place: Option<Place>) -> Option<f64> {
        let Some(text) = text else {
            if !self.syntax && !self.was_told(&path) {
                let what = path.rsplit('.').next().unwrap_or_default().to_owned();
                let help = Some("a clock time, such as \"07:30\"".into());
                self.problems.push(Problem { path, place, kind: ProblemKind::Missing { what }, help });
            }
            return None;
        };
        let at = clock_s(&text.value);
        if at.is_none() {
            let what = format!("`{}` is no clock time; write it like \"08:00\"", text.value);
            self.problems.push(Problem::conflict(&path, text.place(), what));
        }
        at
    }

    /// Which named day each weekday is.
    fn week(&mut self, c: &Calendar) -> [Option<usize>; 7] {
        let s = &c.spec;
        let own = [&s.monday, &s.tuesday, &s.wednesday, &s.thursday, &s.friday, &s.saturday, &s.sunday];
        let names: Vec<Option<&Text>> = c.days.iter().map(|d| d.spec.name.as_ref()).collect();
        for (n, day) in c.days.iter().enumerate() {
            let path = format!("{}.name", numbered("calendar.day", n));
            match &day.spec.name {
                None if !self.syntax && !self.was_told(&path) => {
                    let kind = ProblemKind::Missing { what: "name".into() };
                    let place = day.drives.iter().find_map(|d| d.at.as_ref().and_then(|t| t.place()));
                    let help = Some("a day has a name, which [calendar] uses".into());
                    self.problems.push(Problem { path, place, kind, help });
                }
                None => {}
                Some(name) if names[..n].iter().flatten().any(|other| other.value == name.value) => {
                    let what = format!("there are two days of the name `{}`", name.value);
                    self.problems.push(Problem::conflict(&path, name.place(), what));
                }
                Some(_) => {}
            }
        }
        let mut find = |key: &str, text: &Option<Text>| {
            text.as_ref().and_then(|t| self.by_name(&format!("calendar.{key}"), t, &names, "day"))
        };
        let every = find("every_day", &s.every_day);
        let (workdays, weekend) = (find("workdays", &s.workdays), find("weekend", &s.weekend));
        std::array::from_fn(|n| {
            let part = if n < 5 { workdays } else { weekend };
            find(WEEKDAYS[n], own[n]).or(part).or(every)
        })
    }

    fn by_name(&mut self, path: &str, text: &Text, names: &[Option<&Text>], what: &str) -> Option<usize> {
        // A word of its own for a day on which nothing happens.
        if what == "day" && text.value == "parked" {
            return None;
        }
        let found = names.iter().position(|n| n.is_some_and(|n| n.value == text.value));
        if found.is_none() {
            let known: Vec<&str> = names.iter().flatten().map(|n| n.value.as_str()).collect();
            let allowed = match known.as_slice() {
                [] => format!("the name of a [[calendar.{what}]], of which there is none"),
                known => format!("the name of a [[calendar.{what}]]: {}", known.join(", ")),
            };
            let guess = guess(&text.value, &known);
            let kind = ProblemKind::BadChoice { value: text.value.clone(), allowed, guess };
            self.problems.push(Problem { path: path.to_owned(), place: text.place(), kind, help: None });
        }
        found
    }

    fn day(
        &mut self,
        d: usize,
        day: &Day,
        file: &mut dyn FnMut(&DayDriveSpec) -> Option<Arc<DriveFile>>,
    ) -> PlannedDay {
        let mut planned = PlannedDay::default();
        let path = numbered("calendar.day", d);
        let name_place = day.spec.name.as_ref().and_then(|t| t.place());
        for (n, drive) in day.drives.iter().enumerate() {
            let found = file(drive);
            self.drive(&numbered(&format!("{path}.drive"), n), drive, found, name_place, &mut planned);
        }
        for (n, during) in day.during.iter().enumerate() {
            let path = numbered(&format!("{path}.during"), n);
            let place = [&during.from, &during.to].iter().find_map(|t| t.as_ref().and_then(|t| t.place()));
            let from = self.time(format!("{path}.from"), during.from.as_ref(), place.or(name_place));
            let to = self.time(format!("{path}.to"), during.to.as_ref(), place.or(name_place));
            let (Some(from_s), Some(to_s)) = (from, to) else { continue };
            // Not after `from`: past midnight.
            let to_s = if to_s > from_s { to_s } else { to_s + DAY_S };
            let (spec, parked_a) = (Rc::new(during.conditions()), value(&during.parked_load_a));
            planned.during.push(PlannedDuring { from_s, to_s, spec, parked_a });
        }
        planned
    }

    fn drive(
        &mut self,
        path: &str,
        spec: &DayDriveSpec,
        file: Option<Arc<DriveFile>>,
        day_place: Option<Place>,
        day: &mut PlannedDay,
    ) {
        let durations: Vec<(&Num, f64)> =
            [(&spec.duration_s, 1.0), (&spec.duration_min, 60.0), (&spec.duration_h, 3600.0)]
                .into_iter()
                .filter_map(|(d, unit)| d.as_ref().map(|d| (d, unit)))
                .collect();
        let place = spec.at.as_ref().and_then(|t| t.place()).or(durations.first().and_then(|d| d.0.place()));
        let place = place.or(spec.file.as_ref().and_then(|t| t.place())).or(day_place);
        let at = self.time(format!("{path}.at"), spec.at.as_ref(), place);
        let told = self.syntax || self.was_told(path);
        let (long_s, rpm) = match (&spec.file, durations.as_slice()) {
            (None, [(duration, unit)]) => {
                let rpm = spec.engine_rpm.as_ref().map_or(0.0, |n| n.value);
                if rpm <= 0.0 && !told {
                    let what =
                        "a drive says its `engine_rpm`, above 0; what is parked needs no entry".to_owned();
                    let at = spec.engine_rpm.as_ref().or(Some(duration));
                    self.conflict(path, at, what);
                }
                (duration.value * unit, rpm)
            }
            (Some(_), []) => {
                let Some(file) = &file else { return };
                if !self.says_speed(path, spec.file.as_ref(), file) || file.time_s.len() < 2 {
                    return;
                }
                let long_s = file.time_s[file.time_s.len() - 1] - file.time_s[0];
                if long_s > DAY_S {
                    let what = format!(
                        "this file lasts {:.1} days, and a drive of a calendar's day one at most; a log of days stands alone \
                         under [[drive.piece]], without a calendar",
                        long_s / DAY_S
                    );
                    let place = spec.file.as_ref().and_then(|t| t.place());
                    self.problems.push(Problem::conflict(&format!("{path}.file"), place, what));
                    return;
                }
                (long_s, 0.0)
            }
            (None, []) => {
                if !told {
                    let kind = ProblemKind::Missing { what: "duration_min".into() };
                    let help = Some("a drive has a duration in seconds, minutes or hours, or a file".into());
                    self.problems.push(Problem { path: path.to_owned(), place, kind, help });
                }
                return;
            }
            (_, [.., (last, _)]) => {
                let what = "a drive has one duration, in seconds, minutes or hours, or a file";
                return self.conflict(path, Some(last), what.into());
            }
        };
        let Some(at_s) = at else { return };
        let times = spec.times.value;
        if times.fract() != 0.0 {
            return self.conflict(path, Some(&spec.times), "a drive is driven whole times".into());
        }
        let every_s = match (&spec.every_min, times > 1.0) {
            (Some(every), _) => every.value * 60.0,
            (None, false) => 0.0,
            (None, true) => {
                let what = "driven several times, it also says `every_min`, from one beginning to the next";
                return self.conflict(path, Some(&spec.times), what.into());
            }
        };
        if times > 1.0 && every_s < long_s - 1e-9 {
            let what = format!("it begins again after {every_s} s, and lasts {long_s} s");
            return self.conflict(&format!("{path}.every_min"), spec.every_min.as_ref(), what);
        }
        let last_s = at_s + (times - 1.0) * every_s + long_s;
        if let Some(other_s) = day.drives.iter().find_map(|o| o.touched_s(at_s, last_s)) {
            let what = format!("this drive and the one at {} overlap", hh_mm(other_s));
            self.problems.push(Problem::conflict(&format!("{path}.at"), place, what));
            return;
        }
        let place = if times > 1.0 { spec.times.place() } else { place };
        day.drives.push(PlannedDrive {
            at_s,
            long_s,
            times: times as u32,
            every_s,
            stop_start: spec.between.value == "stop-start",
            rpm,
            file,
            spec: Rc::new(spec.conditions()),
            between_a: value(&spec.between_load_a),
            path: if times > 1.0 { format!("{path}.times") } else { path.to_owned() },
            place,
        });
    }

    fn season(&mut self, n: usize, s: &SeasonSpec, dated: bool) -> Season {
        let path = |key: &str| format!("{}.{key}", numbered("calendar.season", n));
        let from = s.from.as_ref().and_then(|t| {
            let from = month_day(&t.value);
            if from.is_none() {
                let what = format!("`{}` is no day of the year; write it like \"11-01\"", t.value);
                self.problems.push(Problem::conflict(&path("from"), t.place(), what));
            } else if !dated {
                let what = "a season that begins on a date takes `start_date` in [calendar]".to_owned();
                self.problems.push(Problem::conflict(&path("from"), t.place(), what));
            }
            from
        });
        let place = [&s.sunrise, &s.sunset].iter().find_map(|t| t.as_ref().and_then(|t| t.place()));
        let place = place.or(s.noon_w.as_ref().and_then(|n| n.place()));
        let any = s.sunrise.is_some() || s.sunset.is_some() || s.noon_w.is_some();
        let sun = if any {
            let rise = self.time(path("sunrise"), s.sunrise.as_ref(), place);
            let set = self.time(path("sunset"), s.sunset.as_ref(), place);
            if s.noon_w.is_none() && !self.syntax && !self.was_told(&path("noon_w")) {
                let kind = ProblemKind::Missing { what: "noon_w".into() };
                let help = Some("what the sun offers at its highest, W".into());
                self.problems.push(Problem { path: path("noon_w"), place, kind, help });
            }
            match (rise, set) {
                (Some(rise), Some(set)) if rise >= set => {
                    let what = "the sun rises before it sets".to_owned();
                    self.problems.push(Problem::conflict(&path("sunset"), place, what));
                    None
                }
                (Some(rise), Some(set)) => Some((rise, set, value(&s.noon_w).unwrap_or(0.0))),
                _ => None,
            }
        } else {
            None
        };
        Season { air_c: value(&s.air_c), sun, from }
    }

    /// First day and day behind the last of each lay-up, from 0.
    fn lay_ups(&mut self, c: &Calendar, count: usize) -> Vec<(usize, usize)> {
        let mut found: Vec<(usize, usize)> = Vec::new();
        for (n, l) in c.lay_ups.iter().enumerate() {
            let path = numbered("calendar.lay_up", n);
            let (Some(from), Some(days)) = (&l.from_day, &l.days) else {
                if !self.syntax && !self.was_told(&path) {
                    let what = if l.from_day.is_none() { "from_day" } else { "days" };
                    let place =
                        [&l.from_day, &l.days].iter().find_map(|n| n.as_ref().and_then(|n| n.place()));
                    let kind = ProblemKind::Missing { what: what.into() };
                    let help = Some("a lay-up has a first day, counted from 1, and a number of days".into());
                    self.problems.push(Problem { path, place, kind, help });
                }
                continue;
            };
            if from.value.fract() != 0.0 || days.value.fract() != 0.0 {
                self.conflict(&path, Some(from), "a lay-up has whole days".into());
                continue;
            }
            let first = from.value as usize - 1;
            let end = first + days.value as usize;
            if end > count {
                let what = format!("it ends on day {end}, and the calendar has {count}");
                self.conflict(&path, Some(days), what);
            } else if found.iter().any(|f| f.0 < end && first < f.1) {
                self.conflict(&path, Some(from), "two lay-ups overlap".into());
            }
            found.push((first, end));
        }
        found
    }
}

fn value(n: &Option<Num>) -> Option<f64> {
    n.as_ref().map(|n| n.value)
}

/// A clock time in words.
fn hh_mm(s: f64) -> String {
    let minutes = (s / 60.0).round() as u32;
    format!("{:02}:{:02}", minutes / 60 % 24, minutes % 60)
}

/// The season that holds on a day by its date: the last that has begun, going round the year.
fn by_date(seasons: &[Season], date: Option<jiff::civil::Date>, day: usize) -> Option<usize> {
    let date = date?.checked_add(jiff::Span::new().try_days(day as i64).ok()?).ok()?;
    let today = (date.month(), date.day());
    let begun = |n: &usize| seasons[*n].from;
    let dated = || (0..seasons.len()).filter(|n| seasons[*n].from.is_some());
    dated()
        .filter(|n| seasons[*n].from <= Some(today))
        .max_by_key(begun)
        .or_else(|| dated().max_by_key(begun))
}
