//! `tickover week`: how a calendar goes on, in an installer's words, each answer found by running it.

use crate::Exit;
use crate::args::WeekArgs;
use crate::clock::duration;
use crate::failure::Failure;
use crate::load::load_from;
use crate::printable::{json_text, printable};
use crate::problems::render_warnings;
use crate::progress::while_working;
use crate::report::days::{WHOLE_DAY, balance, falls_under, moment};
use crate::report::page::paragraph;
use crate::report::{Judged, Told, findings, soc_pct};
use crate::streams::Streams;
use crate::tolerance;
use serde_json::json;
use sim_core::record::days::{Headlines, rows};
use sim_core::scenario::calendar::WEEKDAYS;
use sim_core::study::week::{
    Balance, BreakEven, Ending, FULL_SOC, Outlook, TripPays, break_even, outlook, trip_pays,
};
use sim_core::study::{Case, TrialError};
use sim_core::time::DAY_S;
use sim_core::{Options, Profile, Record, simulate};
use std::io::Write;
use std::sync::OnceLock;

/// Everything that is asked.
struct Answers {
    headlines: Option<Headlines>,
    outlook: Outlook,
    house: Option<BreakEven>,
    starter: Option<BreakEven>,
    trip: Option<TripPays>,
    /// When the starter battery falls under the crank reserve in the first run of the calendar, s.
    under_reserve_s: Option<f64>,
}

/// Runs the command.
pub fn run(args: &WeekArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    let colour = io.err.colour();
    write!(io.err, "{}", render_warnings(&loaded.sources, &loaded.resolved.warnings, colour))?;
    let (model, profile) = (&loaded.resolved.model, &loaded.resolved.profile);
    let reserve = loaded.scenario.limits.crank_reserve_pct.as_ref().map(|n| n.value / 100.0);
    let tolerance = tolerance::of(profile);
    let options = Options { tolerance, record: Record::Summary, ..Options::default() };
    let has_calendar = loaded.scenario.calendar.is_some();
    // What was missed, and when, is read off the trace of the first time.
    let run = while_working(io, "simulating", || {
        simulate(model, profile, &Options { record: Record::Bounded, ..options })
    })?;
    let judged = Judged::of(&loaded, &run);
    let answers =
        while_working(io, "running the calendar again and again", || -> Result<Answers, Failure> {
            let even = |balance| -> Result<Option<BreakEven>, Failure> {
                has_calendar.then(|| solved(&loaded.case, balance)).transpose()
            };
            Ok(Answers {
                headlines: Headlines::of(&rows(&run, model, profile)),
                outlook: outlook(model, profile, reserve, most_repeats(profile, args.days), &options)?,
                house: even(Balance::House)?,
                starter: even(Balance::Starter)?,
                trip: trip_pays(model, profile, &options)?,
                under_reserve_s: reserve.and_then(|level| falls_under(&run, model, profile, level)),
            })
        })?;
    if args.json {
        let whole = json!({
            "verdict": judged.verdict.word(),
            "weight": judged.verdict.weight(),
            "headlines": answers.headlines,
            "outlook": answers.outlook,
            "house_break_even": answers.house,
            "starter_break_even": answers.starter,
            "trip": answers.trip,
            "note": "Model result from the inputs listed; verify by measurement before hand-over.",
        });
        io.out.write_all(&json_text(&whole))?;
        return Ok(Exit::Done);
    }
    let name = printable(loaded.title());
    writeln!(io.out, "{}\n\nANSWER, predicted for these inputs", name.to_uppercase())?;
    let why = OnceLock::new();
    let told = Told::of(&loaded, &args.scenario.set, &run, &judged, &why);
    let verdict = findings::verdict(&told);
    // Dangers before charge.
    if !judged.verdict.is_good() {
        paragraph(&mut io.out, &verdict)?;
    }
    if !has_calendar && profile.end().since(profile.start()) < WHOLE_DAY * DAY_S {
        let whole = duration(profile.end().since(profile.start()));
        paragraph(
            &mut io.out,
            &format!(
                "This drive has no calendar: its {whole} are run end to end, day and night. A [calendar] says when it is driven \
                 and when it is parked."
            ),
        )?;
    }
    for sentence in sentences(&answers, profile, reserve) {
        paragraph(&mut io.out, &sentence)?;
    }
    if judged.verdict.is_good() {
        paragraph(&mut io.out, &verdict)?;
    }
    writeln!(io.out, "\nHOW")?;
    paragraph(
        &mut io.out,
        &format!(
            "The calendar was run {}, each time from where the last one ended: no averages. Break-even: every drive \
             begins when it begins now and is as many times as long. With that the calendar can go on and on with no loads \
             shed. A trip: the first drive of the calendar, cut short. Half an hour after key-off the starter battery is \
             compared with the same time parked.",
            match answers.outlook.repeats {
                1 => "once".to_owned(),
                n => format!("{n} times in a row"),
            }
        ),
    )?;
    paragraph(
        &mut io.out,
        "Not validated on vehicles: check with a meter. `tickover run` shows the days one by one; `tickover cautions` \
         prints the cautions.",
    )?;
    Ok(Exit::Done)
}

/// How often a calendar fits into so many days, at least once.
fn most_repeats(profile: &Profile, days: u32) -> u32 {
    let once = profile.end().since(profile.start()) / DAY_S;
    (f64::from(days) / once).floor().clamp(1.0, 3660.0) as u32
}

fn solved(case: &Case, balance: Balance) -> Result<BreakEven, Failure> {
    break_even(case, balance).map_err(|e| match e {
        TrialError::Run(e) => Failure::from(e),
        other => Failure::Usage(other.to_string()),
    })
}

/// The answers, the most important first.
fn sentences(a: &Answers, profile: &Profile, reserve: Option<f64>) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(h) = &a.headlines {
        lines.push(format!("{}, {}.", balance(h), ends(&a.outlook, profile)));
        if let Some(even) = &a.house {
            lines.push(house_even(even, h));
        }
        if let Some(got) = h.ah_per_drive_hour {
            lines.push(format!(
                "Each hour of driving brings {got:.1} of {:.0} Ah; the engine runs {}.",
                h.could_ah_per_drive_hour,
                if h.days < WHOLE_DAY {
                    format!(
                        "{} of {}",
                        duration(h.driving_h_per_day * h.days * 3600.0),
                        duration(h.days * DAY_S)
                    )
                } else {
                    format!("{} a day", duration(h.driving_h_per_day * 3600.0))
                }
            ));
        }
    }
    lines.extend(a.trip.as_ref().map(|t| match t {
        TripPays::From { trip_s } => {
            format!(
                "Short trips do not pay below {}: they cost the starter battery more than they give.",
                duration(*trip_s)
            )
        }
        TripPays::Always => "Even the shortest trip gives the starter battery more than it costs.".to_owned(),
        TripPays::Never { longest_s } => {
            format!("No trip of up to {} gives the starter battery back what it costs.", duration(*longest_s))
        }
    }));
    let drives = |h: &&Headlines| h.driving_h_per_day > 0.0;
    if let (Some(even), Some(h)) = (&a.starter, a.headlines.as_ref().filter(drives)) {
        lines.push(starter_even(even, h));
    }
    lines.push(starter_reserve(a, profile, reserve));
    lines
}

/// When it ends, as "flat on Thursday" or in how many days.
fn ends(o: &Outlook, profile: &Profile) -> String {
    let when = |t_s: f64| {
        let days = t_s / DAY_S;
        let at = profile.start_clock_s + t_s;
        let name = profile.weekday_of((at / DAY_S) as u32).map(|w| capital(WEEKDAYS[usize::from(w)]));
        match (days, name) {
            (d, Some(name)) if d < 7.0 => format!("on {name} ({})", clock_of(profile, t_s)),
            (d, Some(name)) => format!("after {d:.0} days, on a {name}"),
            (d, None) => format!("after {d:.1} days"),
        }
    };
    let pct = |soc: f64| soc * 100.0;
    match o.ending {
        Ending::Flat { t_s } => format!("flat {}", when(t_s)),
        Ending::Full { t_s } => format!("full (over {:.0} %) {}", FULL_SOC * 100.0, when(t_s)),
        Ending::Settles { low_soc, end_soc, t_s } => format!(
            "and settles. After {:.0} days it swings between {:.0} and {:.0} %, neither flat nor full",
            t_s / DAY_S,
            pct(low_soc),
            pct(end_soc)
        ),
        Ending::Undecided { end_soc, t_s } => {
            format!("neither flat nor full after {:.0} days ({:.0} %)", t_s / DAY_S, pct(end_soc))
        }
    }
}

fn clock_of(profile: &Profile, t_s: f64) -> String {
    let moment = moment(profile, t_s);
    moment.rsplit(' ').next().unwrap_or_default().to_owned()
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map(|c| c.to_uppercase().collect::<String>() + letters.as_str()).unwrap_or_default()
}

fn minutes(min: f64) -> String {
    if min < 10.0 { format!("{min:.1} minutes") } else { format!("{min:.0} minutes") }
}

fn house_even(even: &BreakEven, h: &Headlines) -> String {
    let now = minutes(h.driving_h_per_day * 60.0);
    match *even {
        BreakEven::At { driving_min_per_day, factor } => format!(
            "It breaks even at {} of driving a day, now {now}: every drive {factor:.2} times as long, at most until the next begins.",
            minutes(driving_min_per_day)
        ),
        BreakEven::Always { driving_min_per_day } => {
            if driving_min_per_day < 1.0 {
                "It needs no driving.".to_owned()
            } else {
                format!("It gains even with {} of driving a day.", minutes(driving_min_per_day))
            }
        }
        BreakEven::Never { driving_min_per_day }
            if h.driving_h_per_day == 0.0 || driving_min_per_day == 0.0 =>
        {
            "There is no driving in it.".to_owned()
        }
        BreakEven::Never { driving_min_per_day } => {
            format!(
                "Longer drives alone do not cure it. With {} a day it still loses, or is empty at some time.",
                minutes(driving_min_per_day)
            )
        }
    }
}

fn starter_even(even: &BreakEven, h: &Headlines) -> String {
    let now = h.starter_net_ah_per_day;
    let word = if now < 0.0 { "loses" } else { "gains" };
    let first = format!("The starter battery {word} {:.2} Ah a day", now.abs());
    match *even {
        BreakEven::At { driving_min_per_day, .. } => {
            format!("{first}; it holds its charge from {} of driving a day on.", minutes(driving_min_per_day))
        }
        BreakEven::Always { driving_min_per_day } => {
            format!("{first}, and would with {} of driving a day.", minutes(driving_min_per_day))
        }
        BreakEven::Never { .. } => format!("{first}, however long these drives are."),
    }
}

fn starter_reserve(a: &Answers, profile: &Profile, reserve: Option<f64>) -> String {
    let o = &a.outlook;
    let least = o.starter_least_soc * 100.0;
    match (o.starter_short, reserve) {
        // Days that are booked as one hide the moment.
        (Some((t_s, soc)), Some(reserve)) if a.under_reserve_s.is_some_and(|at| at + DAY_S < t_s) => {
            let at = a.under_reserve_s.unwrap_or(t_s);
            format!(
                "The starter battery falls under the crank reserve of {:.0} % on {} (after {:.1} days). By {} (after {:.1} days) \
                 it is at {:.1} %.",
                reserve * 100.0,
                moment(profile, at),
                at / DAY_S,
                moment(profile, t_s),
                t_s / DAY_S,
                soc_pct(soc)
            )
        }
        (Some((t_s, soc)), Some(reserve)) => format!(
            "The starter battery is under the crank reserve of {:.0} % by {} (after {:.1} days): {:.1} %.",
            reserve * 100.0,
            moment(profile, t_s),
            t_s / DAY_S,
            soc_pct(soc)
        ),
        (None, Some(reserve)) => format!(
            "At every start and every midnight the starter battery holds {least:.1} % or more. The crank reserve is {:.0} %.",
            reserve * 100.0
        ),
        (_, None) => format!(
            "At every start and every midnight the starter battery holds {least:.1} % or more. No crank reserve is typed \
             (limits.crank_reserve_pct)."
        ),
    }
}
