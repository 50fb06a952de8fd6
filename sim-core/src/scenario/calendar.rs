//! What a scenario says of a calendar: named days of drives and loads by clock time, which day is which, seasons, lay-ups.
//!
//! A calendar and a list of pieces are alternatives; both become the same profile.

use super::drive::PieceSpec;
use super::field::{Num, Text};
use super::key::{Unit, choice, number, text};
use super::list_path::numbered;
use super::node::{Entry, Node, Value};
use super::problem::{Problem, ProblemKind};
use super::section::{Section, section};

/// Names of the days of the week, Monday first, as keys and values.
pub const WEEKDAYS: [&str; 7] =
    ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];

section! {
    /// `[calendar]`: a life by clock time, in place of a list of pieces. A day without a name is parked.
    CalendarSpec {
        /// Weekday of the first day; it begins at midnight.
        start_day: Text = choice(&WEEKDAYS).or_word("monday", "invented"),
        /// Date of the first day, "yyyy-mm-dd"; it decides the weekday, and which season holds.
        start_date: Option<Text> = text(),
        /// How many weeks.
        weeks: Option<Num> = number(Unit::One, 1.0, 520.0),
        /// How many days, in place of weeks; without either, one week.
        days: Option<Num> = number(Unit::One, 1.0, 3660.0),
        /// Name of the day that every day is, where no other key names one.
        every_day: Option<Text> = text(),
        /// Name of the day from Monday to Friday.
        workdays: Option<Text> = text(),
        /// Name of the day on Saturday and Sunday.
        weekend: Option<Text> = text(),
        /// Name of the day on Mondays.
        monday: Option<Text> = text(),
        /// Name of the day on Tuesdays.
        tuesday: Option<Text> = text(),
        /// Name of the day on Wednesdays.
        wednesday: Option<Text> = text(),
        /// Name of the day on Thursdays.
        thursday: Option<Text> = text(),
        /// Name of the day on Fridays.
        friday: Option<Text> = text(),
        /// Name of the day on Saturdays.
        saturday: Option<Text> = text(),
        /// Name of the day on Sundays.
        sunday: Option<Text> = text(),
        /// Name of the season that holds throughout; without it, seasons with a `from` follow the date.
        hold_season: Option<Text> = text(),
        /// Longest piece of constant sun where a season makes the sun rise and set, min.
        sun_step_min: Num = number(Unit::Min, 1.0, 240.0).or(10.0, "follows the sun within 5 % of noon"),
        /// How many times as long every drive is as it says: what would more driving do?
        drive_factor: Num = number(Unit::One, 0.01, 100.0).or(1.0, "as written"),
    }
    read { [sun_step_min, drive_factor] if |_| false }
}

section! {
    /// `[[calendar.day]]`: a day by name, with its own `[[calendar.day.drive]]` and `[[calendar.day.during]]`.
    DaySpec {
        /// Its name, as the week's keys use it.
        name: Option<Text> = text(),
    }
}

section! {
    /// `[[calendar.day.drive]]`: a drive that begins at a clock time; engine running unless a file says otherwise.
    DayDriveSpec {
        /// When it begins, "hh:mm" or "hh:mm:ss".
        at: Option<Text> = text(),
        /// How long it lasts, s. One duration is given, in seconds, minutes or hours, or a file.
        duration_s: Option<Num> = number(Unit::S, 0.001, 86400.0),
        /// How long it lasts, min.
        duration_min: Option<Num> = number(Unit::Min, 0.001, 1440.0),
        /// How long it lasts, h.
        duration_h: Option<Num> = number(Unit::H, 0.0001, 24.0),
        /// A CSV file of time and road speed or engine speed, in place of a duration; its path counts from this file.
        file: Option<Text> = text(),
        /// Engine speed, rpm; without a file it is needed, and above 0.
        engine_rpm: Option<Num> = number(Unit::Rpm, 0.0, 10000.0),
        /// How often it is driven in a row.
        times: Num = number(Unit::One, 1.0, 500.0).or(1.0, "once"),
        /// From one beginning to the next where it is driven several times, min.
        every_min: Option<Num> = number(Unit::Min, 0.01, 1440.0),
        /// What happens between these drives: the vehicle is parked, or stop-start has stopped the engine, ignition on.
        between: Text = choice(&["parked", "stop-start"]).or_word("parked", "a stop with the key taken out"),
        /// Current of the vehicle's own loads between these drives with stop-start, A; without it that of `[vehicle]`.
        between_load_a: Option<Num> = number(Unit::A, 0.0, 500.0),
        /// Alternator set-point during this drive, V, as read at that temperature: it is not compensated again.
        set_point_v: Option<Num> = number(Unit::V, 10.0, 62.0),
        /// Current of the vehicle's own loads during this drive, A.
        vehicle_load_a: Option<Num> = number(Unit::A, 0.0, 500.0),
        /// House load during this drive, W.
        house_load_w: Option<Num> = number(Unit::W, 0.0, 20000.0),
        /// What the engine does, for a variable set-point; a file of road speed says it by itself.
        phase: Option<Text> = choice(&["idle", "cruise", "accelerating", "overrun"]),
        /// Zone of wall-clock stamps in the file that carry none: a place name of the time-zone database, or "+01:00".
        zone: Option<Text> = text(),
        /// What this drive is, in words.
        label: Option<Text> = text(),
    }
    read { [times] if |_| false }
}

section! {
    /// `[[calendar.day.during]]`: what else holds between two clock times, driving or parked. A later one wins over an earlier one.
    DuringSpec {
        /// From this clock time, "hh:mm" or "hh:mm:ss".
        from: Option<Text> = text(),
        /// To this clock time; up to "24:00", or past midnight where it is not after `from`.
        to: Option<Text> = text(),
        /// House load, W; a drive's own wins.
        house_load_w: Option<Num> = number(Unit::W, 0.0, 20000.0),
        /// Power that the sun offers on the house bus, W.
        house_solar_w: Option<Num> = number(Unit::W, 0.0, 20000.0),
        /// Greatest current of the mains charger, A.
        house_mains_a: Option<Num> = number(Unit::A, 0.0, 1000.0),
        /// Power that the starter side's solar regulator or maintainer offers, W.
        starter_solar_w: Option<Num> = number(Unit::W, 0.0, 2000.0),
        /// Current of the vehicle's own loads, A, where the engine stands.
        parked_load_a: Option<Num> = number(Unit::A, 0.0, 500.0),
        /// Temperature of the air, °C.
        air_c: Option<Num> = number(Unit::C, -60.0, 80.0),
        /// What this is, in words.
        label: Option<Text> = text(),
    }
}

section! {
    /// `[[calendar.season]]`: air and sun of a time of the year. What a day says of them wins.
    SeasonSpec {
        /// Its name.
        name: Option<Text> = text(),
        /// First day of it in every year, "mm-dd"; it lasts until the next season begins. It takes a `start_date`.
        from: Option<Text> = text(),
        /// Temperature of the air, °C.
        air_c: Option<Num> = number(Unit::C, -60.0, 80.0),
        /// When the sun rises, "hh:mm".
        sunrise: Option<Text> = text(),
        /// When it sets, "hh:mm"; between the two it follows half a sine.
        sunset: Option<Text> = text(),
        /// Power that the sun offers on the house bus at the top of that curve, W.
        noon_w: Option<Num> = number(Unit::W, 0.0, 20000.0),
    }
}

section! {
    /// `[[calendar.lay_up]]`: days on which nothing is driven and no day's loads hold; one stretch, not a row a day.
    LayUpSpec {
        /// Its first day, counted from 1.
        from_day: Option<Num> = number(Unit::One, 1.0, 3660.0),
        /// How many days.
        days: Option<Num> = number(Unit::One, 1.0, 3660.0),
        /// House load, W.
        house_load_w: Option<Num> = number(Unit::W, 0.0, 20000.0),
        /// Power that the sun offers on the house bus, W, day and night; 0 keeps a season's sun off.
        house_solar_w: Option<Num> = number(Unit::W, 0.0, 20000.0),
        /// Greatest current of the mains charger, A.
        house_mains_a: Option<Num> = number(Unit::A, 0.0, 1000.0),
        /// Power that the starter side's solar regulator or maintainer offers, W.
        starter_solar_w: Option<Num> = number(Unit::W, 0.0, 2000.0),
        /// Current of the vehicle's own loads, A.
        parked_load_a: Option<Num> = number(Unit::A, 0.0, 500.0),
        /// Temperature of the air, °C.
        air_c: Option<Num> = number(Unit::C, -60.0, 80.0),
    }
}

/// A day with what stands in it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Day {
    /// `[[calendar.day]]`
    pub spec: DaySpec,
    /// `[[calendar.day.drive]]`
    pub drives: Vec<DayDriveSpec>,
    /// `[[calendar.day.during]]`
    pub during: Vec<DuringSpec>,
}

/// A whole calendar.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Calendar {
    /// `[calendar]`
    pub spec: CalendarSpec,
    /// `[[calendar.day]]`
    pub days: Vec<Day>,
    /// `[[calendar.season]]`
    pub seasons: Vec<SeasonSpec>,
    /// `[[calendar.lay_up]]`
    pub lay_ups: Vec<LayUpSpec>,
}

/// Where the lists of a calendar stand under it, and the name of their keys.
pub const LISTS: [&str; 3] = ["day", "season", "lay_up"];
/// The lists of a day.
pub const DAY_LISTS: [&str; 2] = ["drive", "during"];

impl Calendar {
    /// Reads `[calendar]` and its lists.
    pub fn read(node: &Node, problems: &mut Vec<Problem>) -> Calendar {
        let Value::Table(entries) = &node.value else {
            return Calendar {
                spec: CalendarSpec::read(Some(node), "calendar", problems),
                ..Calendar::default()
            };
        };
        let spec = plain(node, entries, &LISTS, |n| CalendarSpec::read(Some(n), "calendar", problems));
        let mut days = Vec::new();
        for (path, item) in list(entries, "calendar", "day", problems) {
            let Value::Table(own) = &item.value else {
                days.push(Day { spec: DaySpec::read(Some(item), &path, problems), ..Day::default() });
                continue;
            };
            let spec = plain(item, own, &DAY_LISTS, |n| DaySpec::read(Some(n), &path, problems));
            let drives = list(own, &path, "drive", problems);
            let drives = drives.into_iter().map(|(p, n)| DayDriveSpec::read(Some(n), &p, problems)).collect();
            let during = list(own, &path, "during", problems);
            let during = during.into_iter().map(|(p, n)| DuringSpec::read(Some(n), &p, problems)).collect();
            days.push(Day { spec, drives, during });
        }
        let seasons = list(entries, "calendar", "season", problems);
        let seasons = seasons.into_iter().map(|(p, n)| SeasonSpec::read(Some(n), &p, problems)).collect();
        let lay_ups = list(entries, "calendar", "lay_up", problems);
        let lay_ups = lay_ups.into_iter().map(|(p, n)| LayUpSpec::read(Some(n), &p, problems)).collect();
        Calendar { spec, days, seasons, lay_ups }
    }

    /// Visits every number: path, unit, value.
    pub fn each_number(&self, visit: &mut dyn FnMut(String, Unit, &Num)) {
        self.each_section(&mut |path, section| {
            section.each(&mut |name, unit, num| visit(format!("{path}.{name}"), unit, num));
        });
    }

    /// Reports values that their keys do not take.
    pub(super) fn check(&self, problems: &mut Vec<Problem>) {
        self.each_section(&mut |path, section| section.looked_over(&path, problems));
    }

    fn each_section(&self, of: &mut dyn FnMut(String, &dyn Visited)) {
        of("calendar".into(), &self.spec);
        for (d, day) in self.days.iter().enumerate() {
            let path = numbered("calendar.day", d);
            for (n, drive) in day.drives.iter().enumerate() {
                of(numbered(&format!("{path}.drive"), n), drive);
            }
            for (n, during) in day.during.iter().enumerate() {
                of(numbered(&format!("{path}.during"), n), during);
            }
        }
        for (n, season) in self.seasons.iter().enumerate() {
            of(numbered("calendar.season", n), season);
        }
        for (n, lay_up) in self.lay_ups.iter().enumerate() {
            of(numbered("calendar.lay_up", n), lay_up);
        }
    }

    /// The drives of all days in the order written, with their paths.
    pub fn drives(&self) -> impl Iterator<Item = (String, &DayDriveSpec)> {
        self.days.iter().enumerate().flat_map(|(d, day)| {
            let list = format!("{}.drive", numbered("calendar.day", d));
            let path = move |(n, drive)| (numbered(&list, n), drive);
            day.drives.iter().enumerate().map(path)
        })
    }
}

trait Visited {
    fn each(&self, visit: &mut dyn FnMut(&'static str, Unit, &Num));
    fn looked_over(&self, path: &str, problems: &mut Vec<Problem>);
}

impl<S: Section> Visited for S {
    fn each(&self, visit: &mut dyn FnMut(&'static str, Unit, &Num)) {
        self.each_number(visit);
    }

    fn looked_over(&self, path: &str, problems: &mut Vec<Problem>) {
        self.check(path, problems);
    }
}

/// Reads a table without the lists that stand in it.
fn plain<S>(node: &Node, entries: &[Entry], lists: &[&str], read: impl FnOnce(&Node) -> S) -> S {
    let own: Vec<Entry> = entries.iter().filter(|e| !lists.contains(&e.key.as_str())).cloned().collect();
    read(&Node { place: node.place, value: Value::Table(own) })
}

/// The items of a list of tables, each with its path.
fn list<'a>(
    entries: &'a [Entry],
    path: &str,
    name: &str,
    problems: &mut Vec<Problem>,
) -> Vec<(String, &'a Node)> {
    let path = format!("{path}.{name}");
    match entries.iter().find(|e| e.key == name).map(|e| &e.node) {
        None => Vec::new(),
        Some(Node { value: Value::List(items), .. }) => {
            items.iter().enumerate().map(|(n, item)| (numbered(&path, n), item)).collect()
        }
        Some(other) => {
            let written: Vec<&str> = path.split('.').filter(|p| p.parse::<usize>().is_err()).collect();
            problems.push(Problem {
                path: path.clone(),
                place: Some(other.place),
                kind: ProblemKind::WrongKind {
                    found: other.value.kind(),
                    allowed: format!("a list, each item written [[{}]]", written.join(".")),
                },
                help: None,
            });
            Vec::new()
        }
    }
}

impl DayDriveSpec {
    /// The conditions that it states, as a piece states them.
    pub(crate) fn conditions(&self) -> PieceSpec {
        PieceSpec {
            set_point_v: self.set_point_v.clone(),
            vehicle_load_a: self.vehicle_load_a.clone(),
            house_load_w: self.house_load_w.clone(),
            phase: self.phase.clone(),
            ..PieceSpec::default()
        }
    }
}

impl DuringSpec {
    /// The conditions that it states; the parked load apart.
    pub(crate) fn conditions(&self) -> PieceSpec {
        PieceSpec {
            house_load_w: self.house_load_w.clone(),
            house_solar_w: self.house_solar_w.clone(),
            house_mains_a: self.house_mains_a.clone(),
            starter_solar_w: self.starter_solar_w.clone(),
            air_c: self.air_c.clone(),
            ..PieceSpec::default()
        }
    }
}

impl LayUpSpec {
    /// The conditions that it states; the parked load apart.
    pub(crate) fn conditions(&self) -> PieceSpec {
        PieceSpec {
            house_load_w: self.house_load_w.clone(),
            house_solar_w: self.house_solar_w.clone(),
            house_mains_a: self.house_mains_a.clone(),
            starter_solar_w: self.starter_solar_w.clone(),
            air_c: self.air_c.clone(),
            ..PieceSpec::default()
        }
    }
}

impl PieceSpec {
    /// These conditions with what `over` states laid over them.
    pub(crate) fn under(mut self, over: &PieceSpec) -> PieceSpec {
        fn put<T: Clone>(mine: &mut Option<T>, theirs: &Option<T>) {
            if theirs.is_some() {
                mine.clone_from(theirs);
            }
        }
        put(&mut self.set_point_v, &over.set_point_v);
        put(&mut self.vehicle_load_a, &over.vehicle_load_a);
        put(&mut self.house_load_w, &over.house_load_w);
        put(&mut self.house_solar_w, &over.house_solar_w);
        put(&mut self.house_mains_a, &over.house_mains_a);
        put(&mut self.starter_solar_w, &over.starter_solar_w);
        put(&mut self.air_c, &over.air_c);
        put(&mut self.phase, &over.phase);
        self
    }
}
