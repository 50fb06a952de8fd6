//! How a calendar goes on, found by running it: flat or full when, how much driving breaks even, which trips pay.

use super::case::Case;
use super::trial::{TOLERANCE_OF_MANY, TrialError};
use crate::engine::{Options, Record, Run, RunError, Standing, simulate, simulate_from};
pub use crate::judge::FULL_SOC;
use crate::model::pieces::Pieces;
use crate::model::{Model, Piece, Profile};
use crate::record::Timeline;
use crate::record::days::is_flat;
use crate::state::{HOUSE, STARTER};
use crate::time::{DAY_S, Instant};
use serde::Serialize;

/// Change of the state of charge from one repeat to the next under which it has settled.
const SETTLED_SOC: f64 = 0.0005;

/// How it ends when the same calendar is lived again and again.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "ending")]
pub enum Ending {
    /// The house battery is flat: its loads are shed, or it is empty.
    Flat {
        /// When, s since the start.
        t_s: f64,
    },
    /// It is full.
    Full {
        /// When, s since the start.
        t_s: f64,
    },
    /// It comes back to where it was, neither flat nor full.
    Settles {
        /// Lowest state of charge of the last repeat, share of full.
        low_soc: f64,
        /// State of charge at its end, share of full.
        end_soc: f64,
        /// After how long, s.
        t_s: f64,
    },
    /// Neither by the last repeat.
    Undecided {
        /// State of charge at the end, share of full.
        end_soc: f64,
        /// After how long, s.
        t_s: f64,
    },
}

/// What comes of a calendar that goes on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outlook {
    /// How it ends for the house battery.
    pub ending: Ending,
    /// When the starter battery first stood under the reserve at an engine start or at midnight, s, with its state of
    /// charge; `None` where it never did or no reserve was given.
    pub starter_short: Option<(f64, f64)>,
    /// Lowest state of charge of the starter battery at an engine start or at midnight, share of full.
    pub starter_least_soc: f64,
    /// How often the calendar was run.
    pub repeats: u32,
}

/// Lives a calendar again and again, each time from where the last one ended.
///
/// # Errors
/// [`RunError`] of any of the runs.
pub fn outlook(
    model: &Model,
    profile: &Profile,
    reserve_soc: Option<f64>,
    most_repeats: u32,
    options: &Options,
) -> Result<Outlook, RunError> {
    let options = Options { record: Record::Summary, ..*options };
    let span_s = profile.end().since(profile.start());
    let mut standing: Option<Standing> = None;
    let mut short: Option<(f64, f64)> = None;
    let (mut least, mut ending) = (f64::INFINITY, None);
    let mut repeats = 0;
    while ending.is_none() {
        let run = match &standing {
            None => simulate(model, profile, &options)?,
            Some(from) => simulate_from(model, profile, &options, &from.moved_to(profile.start()))?,
        };
        let past_s = f64::from(repeats) * span_s;
        for (t, soc) in cranks(&run) {
            least = least.min(soc);
            if short.is_none() && reserve_soc.is_some_and(|reserve| soc < reserve) {
                short = Some((past_s + t.since(run.span.0), soc));
            }
        }
        repeats += 1;
        let (from, to) = (run.start[HOUSE], run.end[HOUSE]);
        let low_soc = run.days.iter().map(|d| d.lows.house_soc).fold(from, f64::min);
        let t_s = past_s + span_s;
        let timeline = Timeline::of(&run, model, profile);
        ending = if let Some(t) = timeline.shed.iter().map(|s| s.from).find(|t| is_flat(&run, model, *t)) {
            Some(Ending::Flat { t_s: past_s + t.since(run.span.0) })
        } else if let Some(t) = full(&run, &timeline).filter(|_| to >= from - SETTLED_SOC) {
            Some(Ending::Full { t_s: past_s + t.since(run.span.0) })
        } else if (to - from).abs() < SETTLED_SOC && repeats > 1 {
            Some(Ending::Settles { low_soc, end_soc: to, t_s })
        } else if repeats >= most_repeats {
            Some(Ending::Undecided { end_soc: to, t_s })
        } else {
            None
        };
        standing = Some(run.standing);
    }
    let ending = ending.expect("the loop ends with one");
    Ok(Outlook { ending, starter_short: short, starter_least_soc: least, repeats })
}

/// The starter battery's state of charge at every engine start and every midnight.
fn cranks(run: &Run) -> impl Iterator<Item = (Instant, f64)> + '_ {
    let starts = run.stretches.iter().filter(|s| !s.driving).map(|s| (s.to, s.end[STARTER]));
    let first = run.stretches.first().filter(|s| s.driving).map(|s| (s.from, run.start[STARTER]));
    let mut all: Vec<_> =
        starts.chain(first).chain(run.days.iter().map(|d| (d.to, d.end[STARTER]))).collect();
    all.sort_by_key(|c| c.0);
    all.into_iter()
}

/// Whether the house loads are shed as a run begins or ends.
fn is_shed(standing: &Standing) -> bool {
    standing.mode.shed
}

fn full(run: &Run, t: &Timeline) -> Option<Instant> {
    let stretch = run.stretches.iter().find(|s| s.end[HOUSE] >= FULL_SOC).map(|s| s.to);
    [t.house_full.first().map(|s| s.from), stretch].into_iter().flatten().min()
}

/// Which battery's balance a question is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Balance {
    /// The house battery's.
    House,
    /// The starter battery's.
    Starter,
}

/// With how much driving a battery holds out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "break_even")]
pub enum BreakEven {
    /// With drives this long.
    At {
        /// Times as long as written.
        factor: f64,
        /// Driving, min a day.
        driving_min_per_day: f64,
    },
    /// It holds out with the shortest drives tried.
    Always {
        /// Their driving, min a day.
        driving_min_per_day: f64,
    },
    /// It does not with the longest drives tried.
    Never {
        /// Their driving, min a day.
        driving_min_per_day: f64,
    },
}

/// Shortest and longest drives tried, times as written.
const FACTORS: (f64, f64) = (0.02, 64.0);
/// How closely a break-even is found, relative.
const CLOSE: f64 = 1e-4;

/// How often a calendar is lived to see whether it goes on so: what fills up has come round by then, and what does not
/// goes down by the same again.
const PASSES: u32 = 3;
/// Loss from one pass to the next that is none, share of full.
const NO_LOSS_SOC: f64 = 1e-4;

/// How long the drives of a calendar must be for a battery to hold out, everything else as written.
///
/// The house battery holds out where the calendar, lived several times, ends its last time no emptier than it began it and
/// never has its loads shed on the way; the starter battery where the calendar leaves it no emptier. Every drive keeps its
/// beginning and is made longer or shorter by the same factor (`calendar.drive_factor`).
///
/// # Errors
/// [`TrialError`] where the calendar cannot be run.
pub fn break_even(case: &Case, balance: Balance) -> Result<BreakEven, TrialError> {
    let at = |factor: f64| -> Result<(f64, f64), TrialError> {
        let case = case.with("calendar.drive_factor", factor)?;
        let (_, resolved) = case.resolve()?;
        let (model, profile) = (&resolved.model, &resolved.profile);
        // A border to 1 % asks for no more than any study.
        let options = Options { record: Record::Summary, tolerance: TOLERANCE_OF_MANY, ..Options::default() };
        let mut run = simulate(model, profile, &options)?;
        let shed = |run: &Run| !Timeline::of(run, model, profile).shed.is_empty();
        let mut emptied = is_shed(&run.standing) || shed(&run);
        if balance == Balance::House {
            for _ in 1..PASSES {
                let from = run.standing.moved_to(profile.start());
                run = simulate_from(model, profile, &options, &from)?;
                emptied = is_shed(&from) || shed(&run);
                if emptied {
                    break;
                }
            }
        }
        let place = if balance == Balance::House { HOUSE } else { STARTER };
        let net = run.end[place] - run.start[place] + NO_LOSS_SOC;
        let net = if emptied && balance == Balance::House { -1.0 } else { net };
        Ok((net, profile.driving_s() / 60.0 / (profile.end().since(profile.start()) / DAY_S)))
    };
    let (net, driving_min_per_day) = at(1.0)?;
    if driving_min_per_day == 0.0 {
        return Ok(BreakEven::Never { driving_min_per_day });
    }
    let (mut low, mut high) = (1.0, 1.0);
    if net < 0.0 {
        loop {
            high *= 2.0;
            let (net, minutes) = at(high)?;
            if net >= 0.0 {
                break;
            }
            // Days that are full of driving can take no more of it.
            if high >= FACTORS.1 || minutes > 0.97 * 1440.0 {
                return Ok(BreakEven::Never { driving_min_per_day: minutes });
            }
            low = high;
        }
    } else {
        loop {
            low /= 2.0;
            let (net, minutes) = at(low)?;
            if net < 0.0 {
                break;
            }
            if low <= FACTORS.0 {
                return Ok(BreakEven::Always { driving_min_per_day: minutes });
            }
            high = low;
        }
    }
    while high - low > CLOSE * high {
        let mid = 0.5 * (low + high);
        if at(mid)?.0 < 0.0 { low = mid } else { high = mid }
    }
    let (_, driving_min_per_day) = at(high)?;
    Ok(BreakEven::At { factor: high, driving_min_per_day })
}

/// From which length on a trip gives the starter battery back what it takes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "trip")]
pub enum TripPays {
    /// From this length on.
    From {
        /// Seconds from the engine start to key-off.
        trip_s: f64,
    },
    /// However short.
    Always,
    /// Not even this long.
    Never {
        /// Seconds from the engine start to key-off.
        longest_s: f64,
    },
}

/// Shortest and longest trip tried, s.
const TRIPS_S: (f64, f64) = (5.0, 4.0 * 3600.0);
/// Trips tried before the border is closed in on, each 8 % longer than the one before: where the unit comes on, a trip that has just
/// begun to pay no longer does, and with steps of 80 % that dip was stepped over.
const SCAN: usize = 100;
/// How long the vehicle stands behind the trip before the account is made, s: run-on belongs to the trip.
const AFTER_S: f64 = 1800.0;

/// The shortest trip after which the starter battery holds more than it would have held parked.
///
/// The trip is the calendar's first drive, cut short or gone on with; the account is made half an hour after key-off, so
/// cranking and run-on are in it, against the same time parked. `None` without a drive.
///
/// # Errors
/// [`RunError`] of any of the runs.
pub fn trip_pays(model: &Model, profile: &Profile, options: &Options) -> Result<Option<TripPays>, RunError> {
    let options = Options { record: Record::Summary, ..*options };
    let pieces = profile.pieces();
    let Some(first) = pieces.iter().position(|p| p.engine_runs()) else { return Ok(None) };
    let key_on = pieces.at(first).start;
    let standing = match profile.between(profile.start(), key_on) {
        Ok(before) => simulate(model, &before, &options)?.standing,
        // It drives from the first instant: rested, as every run begins.
        Err(_) => return trip_from(model, pieces, first, None, &options).map(Some),
    };
    trip_from(model, pieces, first, Some(&standing), &options).map(Some)
}

fn trip_from(
    model: &Model,
    pieces: &Pieces,
    first: usize,
    standing: Option<&Standing>,
    options: &Options,
) -> Result<TripPays, RunError> {
    let gain = |trip_s: f64| -> Result<f64, RunError> {
        let soc = |drive: bool| -> Result<f64, RunError> {
            let trip = trip(pieces, first, trip_s, drive);
            let run = match standing {
                Some(from) => simulate_from(model, &trip, options, from)?,
                None => simulate(model, &trip, options)?,
            };
            Ok(run.end[STARTER])
        };
        Ok(soc(true)? - soc(false)?)
    };
    let ratio = (TRIPS_S.1 / TRIPS_S.0).powf(1.0 / (SCAN - 1) as f64);
    // From the longest down: what pays from there on is what is asked, and a short lucky length is not.
    let mut pays = None;
    for k in (0..SCAN).rev() {
        let trip_s = TRIPS_S.0 * ratio.powi(k as i32);
        if gain(trip_s)? > 0.0 {
            pays = Some(trip_s);
            continue;
        }
        let Some(mut high) = pays else { return Ok(TripPays::Never { longest_s: trip_s }) };
        let mut low = trip_s;
        while high - low > 0.5 {
            let mid = 0.5 * (low + high);
            if gain(mid)? > 0.0 { high = mid } else { low = mid }
        }
        return Ok(TripPays::From { trip_s: high });
    }
    Ok(TripPays::Always)
}

/// The first drive cut to a length or gone on with, and parked behind it; or parked all that time.
fn trip(pieces: &Pieces, first: usize, trip_s: f64, drive: bool) -> Profile {
    let start = pieces.at(first).start;
    let (key_off, end) = (start.plus_s(trip_s), start.plus_s(trip_s + AFTER_S));
    let parked = pieces.iter().find(|p| !p.engine_runs() && !p.stop_start);
    let stand =
        Piece { day: 0, engine_rpm: 0.0, run_signal: false, ..parked.unwrap_or_else(|| pieces.at(first)) };
    let mut all = Vec::new();
    if drive {
        let drives = pieces.iter().skip(first).take_while(|p| p.engine_runs() || p.stop_start);
        for piece in drives.take_while(|p| p.start < key_off) {
            all.push(Piece { end: piece.end.min(key_off), day: 0, ..piece });
        }
        if let Some(last) = all.last_mut() {
            last.end = key_off;
        }
        all.push(Piece { start: key_off, end, ..stand });
    } else {
        all.push(Piece { start, end, ..stand });
    }
    Profile::new(all, 0.0).expect("pieces that follow on each other")
}
