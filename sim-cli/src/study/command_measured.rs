//! `tickover measured`: a pair of thresholds asked against measured cars, and against logs.

use super::args::MeasuredArgs;
use crate::Exit;
use crate::bounds::LARGEST_DRIVE;
use crate::failure::Failure;
use crate::load::{load_from, text::read_named};
use crate::paragraph::indented;
use crate::printable::printable;
use crate::streams::Streams;
use sim_core::study::measured_cars::{Asked, Between, CARS, MeasuredCar, Moment, Pair};
use std::io::Write;
use std::path::Path;

/// Columns of a log: others are let be.
const TIME: &str = "time_s";
const VOLTS: &str = "volts";
const RPM: &str = "engine_rpm";

/// Runs the command.
pub fn run(args: &MeasuredArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    let s = &loaded.resolved.model.link().start_stop;
    let pair =
        Pair { on_v: s.turn_on_v, on_s: s.turn_on_delay_s, off_v: s.turn_off_v, off_s: s.turn_off_delay_s };
    let logs = args
        .logs
        .iter()
        .map(|path| read_log(path).map(|log| (path, log)))
        .collect::<Result<Vec<_>, Failure>>()?;
    let out = &mut io.out;
    writeln!(out, "{}: {}", printable(loaded.title()), words(&pair))?;
    if !(11.0..=16.0).contains(&pair.on_v) {
        writeln!(out, "These cars have 12 V: a pair of another system says nothing here.")?;
    }
    for car in &CARS {
        writeln!(out, "\n{}: {}", car.name, car.logged)?;
        for line in told(car, &pair) {
            indented(out, &line, "   ", "   ")?;
        }
        indented(out, &format!("Source: {}.", car.source), "   ", "   ")?;
    }
    if !logs.is_empty() {
        writeln!(
            out,
            "\nLOGS                                engine on   input falls    on for   drop-outs an hour"
        )?;
        for falls_v in &args.falls {
            let mut never = 0;
            for (path, points) in &logs {
                let on = pair.on(points, *falls_v);
                never += u32::from(on.came_on == 0);
                let name = path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
                let share = 100.0 * on.on_s / on.span_s;
                writeln!(
                    out,
                    "   {:<32} {:>6.1} min      {falls_v:>5.2} V    {share:>4.0} %   {:>8.1}",
                    printable(&name),
                    on.span_s / 60.0,
                    3600.0 * f64::from(on.dropped_out) / on.span_s
                )?;
            }
            writeln!(out, "   falling by {falls_v:.2} V, it never comes on in {never} of {}", logs.len())?;
        }
    }
    writeln!(out)?;
    indented(
        out,
        "Volts of a control unit, some tens of millivolts under the battery's posts. The pair is asked by these volts alone: what \
         a unit's own current does to them is only what is said of its input. Two cars show what can happen, not what is usual; \
         measure the vehicle.",
        "",
        "",
    )?;
    Ok(Exit::Done)
}

fn words(pair: &Pair) -> String {
    format!(
        "on from {:.2} V held for {} s, off under {:.2} V held for {} s",
        pair.on_v, pair.on_s, pair.off_v, pair.off_s
    )
}

/// What a car's figures say of a pair.
fn told(car: &MeasuredCar, pair: &Pair) -> Vec<String> {
    let mut lines = vec![format!(
        "At {:.2} V or over for {} of the time that its engine runs, under {:.2} V for {}.",
        pair.on_v,
        between(car.share_over(pair.on_v), 100.0, "%"),
        pair.off_v,
        between(flipped(car.share_over(pair.off_v)), 100.0, "%")
    )];
    if !car.warm_up.is_empty() {
        let until = |of: fn(&Moment) -> f64| match car.cold_until_s(pair.on_v, of) {
            Some(0.0) => "never".to_owned(),
            Some(s) => format!("for {:.1} min", s / 60.0),
            None => "warm too".to_owned(),
        };
        let [low, median, high] = [|m: &Moment| m.low_v, |m: &Moment| m.median_v, |m: &Moment| m.high_v];
        lines.push(format!(
            "After a cold start it is there: by the lowest twentieth of its volts {}, by their median {}, by the highest {}. \
             Asked for: {:.1} min.",
            until(low),
            until(median),
            until(high),
            pair.on_s / 60.0
        ));
    }
    if let Some((least, most)) = car.longest_s(pair.on_v) {
        let verdict = if most < pair.on_s {
            "It never comes on."
        } else if least >= pair.on_s {
            "It comes on."
        } else {
            "Whether it comes on these figures do not say."
        };
        let stretch =
            if most.is_finite() { between((least, most), 1.0, "s") } else { format!("at least {least} s") };
        lines.push(format!("Its longest stretch there: {stretch}; {} s are asked for. {verdict}", pair.on_s));
    }
    lines.extend(car.asked.iter().map(asked));
    lines
}

fn asked(asked: &Asked) -> String {
    let each = |values: [f64; 3], decimals: usize| values.map(|v| format!("{v:.decimals$}")).join(" / ");
    let mut text = format!("Asked of all its logs: {}.", words(&asked.pair));
    if let Some((never, all)) = asked.never_on {
        text.push_str(&format!(" It never comes on in {never} of {all}."));
    }
    text.push_str(&format!(
        " Its input falling by {} V, it is on for {} % of the time",
        each(asked.on_share.map(|s| s.0), 1),
        each(asked.on_share.map(|s| 100.0 * s.1), 0)
    ));
    if let Some(outs) = asked.drop_outs_per_h {
        text.push_str(&format!(", with {} drop-outs an hour", each(outs, 2)));
    }
    text.push('.');
    text
}

fn flipped((least, most): Between) -> Between {
    (1.0 - most, 1.0 - least)
}

fn between((least, most): Between, factor: f64, unit: &str) -> String {
    let digits = |v: f64| ((v * factor * 10.0).round() / 10.0).to_string();
    if digits(least) == digits(most) {
        format!("{} {unit}", digits(least))
    } else {
        format!("{} to {} {unit}", digits(least), digits(most))
    }
}

/// Volts over time while the engine runs (s, V).
fn read_log(path: &Path) -> Result<Vec<(f64, f64)>, Failure> {
    let text = read_named(path, LARGEST_DRIVE).map_err(|e| Failure::File(path.into(), e))?;
    let wrong = |what: String| Failure::Usage(format!("{}: {what}", path.display()));
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .flexible(true)
        .from_reader(text.as_bytes());
    let names = reader.headers().map_err(|e| wrong(e.to_string()))?.clone();
    let place = |name: &str| names.iter().position(|n| n == name);
    let needed = |name: &str| {
        place(name).ok_or_else(|| {
            wrong(format!("no column `{name}`; a log has `{TIME}` and `{VOLTS}`, and `{RPM}` to tell when the engine runs"))
        })
    };
    let (time, volts, rpm) = (needed(TIME)?, needed(VOLTS)?, place(RPM));
    let mut points: Vec<(f64, f64)> = Vec::new();
    for (n, record) in reader.records().enumerate() {
        let record = record.map_err(|e| wrong(e.to_string()))?;
        let number = |place: usize| {
            let cell = record.get(place).unwrap_or_default();
            let value = cell.parse::<f64>().ok().filter(|v| v.is_finite());
            value.ok_or_else(|| wrong(format!("row {}: `{cell}` is no number", n + 2)))
        };
        let (t, v) = (number(time)?, number(volts)?);
        if points.last().is_some_and(|p| p.0 >= t) {
            return Err(wrong(format!("row {}: time does not rise", n + 2)));
        }
        if rpm.map_or(Ok(true), |place| number(place).map(|r| r > 0.0))? {
            points.push((t, v));
        }
    }
    if points.len() < 2 {
        return Err(wrong("its engine never runs".to_owned()));
    }
    Ok(points)
}
