//! A run told day by day: what came in, what went out, how low it got, how the starter battery stood each morning.

use super::event::{Event, EventKind};
use super::ledger::Line;
use super::missed::Missed;
use super::timeline::Timeline;
use crate::engine::Run;
use crate::model::{Model, Profile};
use crate::run_data::day_book::DayBook;
use crate::state::{HOUSE, STARTER};
use crate::time::{DAY_S, Instant};
use serde::Serialize;

/// Share of its capacity that a flat house battery has left at most of what a light load can take. Common practice, no source.
const FLAT_SOC: f64 = 0.1;

/// State of charge under which a house battery whose loads are shed is flat, share of full; above it they are too heavy
/// for it. What its plates give no more, even to a light load, does not count as left.
pub fn flat_soc(model: &Model) -> f64 {
    FLAT_SOC + model.house.spent_soc()
}

/// Lowest state of charge of the house battery on the day of an instant, share of full.
pub fn house_low(run: &Run, at: Instant) -> f64 {
    let day = run.days.iter().find(|d| d.from <= at && at < d.to).or(run.days.last());
    day.map_or(run.end[HOUSE], |d| d.lows.house_soc)
}

/// Whether the house battery is flat when its loads are shed, and not only loaded too heavily: next to nothing is left on
/// that day, and what its posts lose to the load by its resistance alone does not explain that they are so low.
pub fn is_flat(run: &Run, model: &Model, shed_at: Instant) -> bool {
    let shed = |e: &&Event| e.t == shed_at && e.kind == EventKind::LoadsShed { shed: true };
    let heavy = run.events.iter().find(shed).is_some_and(|e| {
        let house = &model.house;
        let x = house.start(25.0);
        let r_ohm = house.port(&x, &house.hold(&x, 0.0)).r_ohm;
        e.before.house_v - e.before.house_a * r_ohm > house.rested_v(flat_soc(model))
    });
    house_low(run, shed_at) < flat_soc(model) && !heavy
}

/// One day in a handful of numbers; units are in the names.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DayRow {
    /// Number of the day, from 1.
    pub day: u32,
    /// Its name: weekday, or its number where that is not known.
    pub name: String,
    /// Its date, where it is known.
    pub date: Option<String>,
    /// Beginning, s since the start of the run.
    pub from_s: f64,
    /// How many days it stands for: more than one for a lay-up.
    pub days: f64,
    /// Time with the engine running, h.
    pub driving_h: f64,
    /// Engine starts.
    pub starts: u32,
    /// Times the unit came on.
    pub came_on: u32,
    /// Times the unit dropped out with the engine running.
    pub dropped_out_driving: u32,
    /// Charge out of the unit, Ah.
    pub unit_output_ah: f64,
    /// Charge out of the unit with the engine running, for each hour of that, Ah; `None` without driving.
    pub ah_per_drive_hour: Option<f64>,
    /// Charge from the sun into the house bus, Ah.
    pub solar_ah: f64,
    /// Charge from the mains charger, Ah.
    pub mains_ah: f64,
    /// Charge into the house loads, Ah.
    pub house_load_ah: f64,
    /// Change of what the house battery holds, Ah.
    pub house_net_ah: f64,
    /// Lowest state of charge of the house battery, share of full.
    pub house_low_soc: f64,
    /// When that was, s since the start of the run.
    pub house_low_at_s: f64,
    /// House battery at the end of the day, share of full.
    pub house_end_soc: f64,
    /// When it was flat first (loads shed, and next to nothing left), s since the start of the run.
    pub house_flat_at_s: Option<f64>,
    /// Starter battery at the first engine start, or at the day's end where there is none, share of full.
    pub starter_morning_soc: f64,
    /// When that was, s since the start of the run.
    pub starter_morning_at_s: f64,
    /// Change of what the starter battery holds, Ah.
    pub starter_net_ah: f64,
    /// Starter battery at the end of the day, share of full.
    pub starter_end_soc: f64,
    /// What the unit could have given at its limit with the engine running, Ah.
    pub could_ah: f64,
    /// What kept it from that, Ah; only of runs with a trace.
    pub missed_ah: Missed,
}

impl DayRow {
    /// The day by name and date; several days booked as one by their number.
    pub fn label(&self) -> String {
        if self.days > 1.5 {
            return format!("{} +{:.0} days", self.name, self.days - 1.0);
        }
        self.date.as_ref().map_or_else(|| self.name.clone(), |date| format!("{} {date}", self.name))
    }
}

/// The run day by day.
pub fn rows(run: &Run, model: &Model, profile: &Profile) -> Vec<DayRow> {
    let missed = Missed::by_day(run, model, profile);
    let t = Timeline::of(run, model, profile);
    run.days.iter().zip(missed).map(|(book, missed)| row(book, missed, (run, &t), model, profile)).collect()
}

fn row(
    book: &DayBook,
    missed: Missed,
    (run, t): (&Run, &Timeline),
    model: &Model,
    profile: &Profile,
) -> DayRow {
    let l = &book.ledger;
    let gain = |first: usize, c: f64| (book.end[first] - book.start[first]) * c / 3600.0;
    let mut driving_s = 0.0;
    let mut morning = (book.end[STARTER], book.to);
    let mut started = false;
    for (n, stretch) in run.stretches.iter().enumerate().filter(|(_, s)| s.driving) {
        let (from, to) = (stretch.from.max(book.from), stretch.to.min(book.to));
        driving_s += to.since(from).max(0.0);
        if !started && (book.from..book.to).contains(&stretch.from) {
            let before = n.checked_sub(1).map_or(&run.start, |n| &run.stretches[n].end);
            (morning, started) = ((before[STARTER], stretch.from), true);
        }
    }
    let today = book.from..book.to;
    let count = |of: &mut dyn Iterator<Item = Instant>| of.filter(|t| today.contains(t)).count() as u32;
    let driving_h = driving_s / 3600.0;
    let flat = t.shed.iter().map(|s| s.from).find(|from| today.contains(from) && is_flat(run, model, *from));
    let driven_ah = l.ah(Line::OutputC) - l.ah(Line::OutputParkedC);
    DayRow {
        day: book.day + 1,
        name: profile.day_name(book.day),
        date: profile.date_of(book.day).map(|d| d.to_string()),
        from_s: book.from.as_s(),
        days: book.to.since(book.from) / DAY_S,
        driving_h,
        starts: count(&mut t.engine.iter().filter_map(|e| Some(e.crank?.at))),
        came_on: count(&mut t.turn_ons().map(|(at, _)| at)),
        dropped_out_driving: count(&mut t.drop_outs().map(|(off, _)| off.t)),
        unit_output_ah: l.ah(Line::OutputC),
        ah_per_drive_hour: (driving_h > 0.0).then(|| driven_ah / driving_h),
        solar_ah: l.ah(Line::SolarC),
        mains_ah: l.ah(Line::MainsC),
        house_load_ah: l.ah(Line::HouseLoadC),
        house_net_ah: gain(HOUSE, model.house.capacity_c()),
        house_low_soc: book.lows.house_soc,
        house_low_at_s: book.lows.house_at.as_s(),
        house_end_soc: book.end[HOUSE],
        house_flat_at_s: flat.map(Instant::as_s),
        starter_morning_soc: morning.0,
        starter_morning_at_s: morning.1.as_s(),
        starter_net_ah: gain(STARTER, model.starter.capacity_c()),
        starter_end_soc: book.end[STARTER],
        could_ah: model.link().converter.output_limit_a * driving_h,
        missed_ah: missed,
    }
}

/// Whether an event says that the house battery is flat.
pub fn goes_flat(run: &Run, model: &Model, event: &Event) -> bool {
    event.kind == EventKind::LoadsShed { shed: true } && is_flat(run, model, event.t)
}

/// The whole of a run of days in a handful of numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Headlines {
    /// How many days.
    pub days: f64,
    /// Change of what the house battery holds, Ah a day: of the days before it is flat, where it gets there; of the first,
    /// where it gets there in that.
    pub house_net_ah_per_day: f64,
    /// When it is flat first, s since the start.
    pub house_flat_at_s: Option<f64>,
    /// Lowest state of charge of the house battery, share of full.
    pub house_low_soc: f64,
    /// When that was, s since the start.
    pub house_low_at_s: f64,
    /// House battery at the end, share of full.
    pub house_end_soc: f64,
    /// Driving, h a day.
    pub driving_h_per_day: f64,
    /// Charge out of the unit with the engine running, for each hour of that, Ah; `None` without driving.
    pub ah_per_drive_hour: Option<f64>,
    /// What it would give at its limit, Ah for each drive-hour.
    pub could_ah_per_drive_hour: f64,
    /// Lowest of the mornings of the starter battery, share of full.
    pub starter_lowest_morning_soc: f64,
    /// Which day that was, from 1.
    pub starter_lowest_morning_day: u32,
    /// When that was, s since the start.
    pub starter_lowest_morning_at_s: f64,
    /// Change of what the starter battery holds, Ah a day.
    pub starter_net_ah_per_day: f64,
    /// What kept the unit from its limit, Ah in all; only of runs with a trace.
    pub missed_ah: Missed,
}

impl Headlines {
    /// Sums up days; `None` where there are none.
    pub fn of(rows: &[DayRow]) -> Option<Headlines> {
        let sum = |f: fn(&DayRow) -> f64| rows.iter().map(f).sum::<f64>();
        let low = rows.iter().min_by(|a, b| a.house_low_soc.total_cmp(&b.house_low_soc))?;
        let morning = rows.iter().min_by(|a, b| a.starter_morning_soc.total_cmp(&b.starter_morning_soc))?;
        let (days, driving_h) = (sum(|r| r.days), sum(|r| r.driving_h));
        let driven_ah = sum(|r| r.ah_per_drive_hour.unwrap_or(0.0) * r.driving_h);
        let could_ah = sum(|r| r.could_ah);
        // A battery that is flat loses nothing more: its pace is that of the days before, or of the first.
        let before: Vec<&DayRow> = rows.iter().take_while(|r| r.house_flat_at_s.is_none()).collect();
        let pace: Vec<&DayRow> = if before.is_empty() { rows.iter().take(1).collect() } else { before };
        let paced_days: f64 = pace.iter().map(|r| r.days).sum();
        Some(Headlines {
            days,
            house_net_ah_per_day: pace.iter().map(|r| r.house_net_ah).sum::<f64>() / paced_days,
            house_flat_at_s: rows.iter().find_map(|r| r.house_flat_at_s),
            house_low_soc: low.house_low_soc,
            house_low_at_s: low.house_low_at_s,
            house_end_soc: rows.last()?.house_end_soc,
            driving_h_per_day: driving_h / days,
            ah_per_drive_hour: (driving_h > 0.0).then(|| driven_ah / driving_h),
            could_ah_per_drive_hour: if driving_h > 0.0 { could_ah / driving_h } else { 0.0 },
            starter_lowest_morning_soc: morning.starter_morning_soc,
            starter_lowest_morning_day: morning.day,
            starter_lowest_morning_at_s: morning.starter_morning_at_s,
            starter_net_ah_per_day: sum(|r| r.starter_net_ah) / days,
            missed_ah: rows.iter().fold(Missed::default(), |sum, r| sum.plus(&r.missed_ah)),
        })
    }
}

const SHORT: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];

impl Profile {
    /// Day of the week of a day counted from 0, 0 Monday to 6 Sunday, where it is known.
    pub fn weekday_of(&self, day: u32) -> Option<u8> {
        self.weekday.map(|first| ((u32::from(first) + day % 7) % 7) as u8)
    }

    /// "Tue" where the weekday is known, "day 2" otherwise; days count from 0.
    pub fn day_name(&self, day: u32) -> String {
        match self.weekday_of(day) {
            Some(w) => SHORT[usize::from(w)].to_owned(),
            None => format!("day {}", day + 1),
        }
    }

    /// Date of a day counted from 0, where it is known.
    pub fn date_of(&self, day: u32) -> Option<jiff::civil::Date> {
        self.date?.checked_add(jiff::Span::new().try_days(i64::from(day)).ok()?).ok()
    }
}
