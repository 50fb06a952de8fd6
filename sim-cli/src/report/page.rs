//! The page: the answer first, in words that a fitter would repeat to a customer.

use super::days::collapse;
use super::distance;
use super::why::{self, Depth};
use super::{Told, cranking, fuses, meter, sections, soc_pct, warmth};
use crate::clock::{day_and_time, duration};
use crate::paragraph::{WIDTH, indented};
use sim_core::logic::Refusal;
use sim_core::model::SignalUse;
use sim_core::record::days::goes_flat;
use sim_core::record::{Cause, Event, EventKind, Line};
use std::io::{self, Write};

/// Prints the whole page.
pub fn print(told: &Told, out: &mut dyn Write) -> io::Result<()> {
    heading(told, out)?;
    writeln!(out, "ANSWER")?;
    for sentence in answer(told) {
        paragraph(out, &sentence)?;
    }
    sections::broken_limits(told, out)?;
    super::days::print(told, out)?;
    why::print(told, Depth::Apprentice, out)?;
    distance::print_nearest(told.far, out)?;
    sections::events(told, out)?;
    meter::print(told, out)?;
    sections::volts(told, out)?;
    sections::charge(told, out)?;
    warmth::temperatures(told, out)?;
    warmth::alternator(told, out)?;
    sections::assumed(told, out)?;
    sections::left_out(told, out)
}

/// The title of a page.
pub fn heading(told: &Told, out: &mut dyn Write) -> io::Result<()> {
    let right = "predicted by a model; check with a meter";
    let gap = WIDTH.saturating_sub(told.name.chars().count() + right.len());
    writeln!(out, "{}{}{right}", told.name.to_uppercase(), " ".repeat(gap.max(2)))?;
    if !told.changed.is_empty() {
        paragraph(out, &format!("with {}", told.changed.join(", ")))?;
    }
    writeln!(out)
}

/// The answer, a sentence an entry, the most important first.
pub fn answer(told: &Told) -> Vec<String> {
    let mut lines: Vec<String> = crate::as_far::told(told.run, told.profile).into_iter().collect();
    lines.extend(cranking::answer(told));
    lines.push(top_up(told));
    lines.extend(super::days::answer(told));
    lines.extend(flat_today(told));
    lines.extend(collapse(told));
    lines.extend(switching(told));
    lines.extend(stop_start(told));
    lines.extend(margin(told));
    lines.push(starter(told));
    lines.extend(told.run.fuses.iter().map(fuses::carried));
    lines
}

/// A house battery that stands flat within a run of one day, which is not told day by day.
fn flat_today(told: &Told) -> Option<String> {
    let first = told.run.events.iter().find(|e| goes_flat(e.kind)).filter(|_| told.days.is_empty())?;
    let s = told.summary;
    Some(format!(
        "The house battery is FLAT, {}: lowest {:.1} %.",
        day_and_time(told.profile, first.t.as_s()),
        soc_pct(s.house_low_soc)
    ))
}

/// The first sentence alone: what a picture carries under its title.
pub fn top_up(told: &Told) -> String {
    let s = told.summary;
    let (from, to) = (soc_pct(s.house_start_soc), soc_pct(s.house_end_soc));
    if s.driving_s == 0.0 {
        return format!(
            "The engine never runs: the house battery goes from {from:.1} to {to:.1} % ({:+.1} Ah) in {}.",
            s.house_gain_ah,
            duration(s.span_s)
        );
    }
    let driving = duration(s.driving_s);
    if s.came_on == 0 {
        return format!(
            "No: the unit never comes on in {driving} of driving. The house battery goes from {from:.1} to {to:.1} % \
             ({:+.1} Ah).",
            s.house_gain_ah
        );
    }
    let verdict = if from >= FULL_PCT {
        "The house battery is full already"
    } else if s.house_gain_driving_ah <= 0.0 {
        "No: this drive does not top up the house battery"
    } else if s.house_gain_ah <= 0.0 {
        "Only while driving: over the whole time the loads take more than the drive puts in"
    } else if cranking::is_doubtful(told) {
        "If the engine starts: this drive tops up the house battery"
    } else {
        "Yes: this drive tops up the house battery"
    };
    let mut text = format!(
        "{verdict}. {} Ah while driving ({driving}), {} Ah in all: from {from:.1} to {to:.1} %.",
        signed(s.house_gain_driving_ah),
        signed(s.house_gain_ah)
    );
    for more in [dropping_out(told), sun(told), refused(told), starter_pays(told)].into_iter().flatten() {
        text.push(' ');
        text.push_str(&more);
    }
    text
}

/// A gain or loss with its sign; nothing has none.
fn signed(ah: f64) -> String {
    if ah.abs() < 0.05 { "0.0".to_owned() } else { format!("{ah:+.1}") }
}

/// State of charge from which a house battery counts as full, %.
const FULL_PCT: f64 = 98.0;
/// Fall of the starter battery that belongs in the first sentence, share of its capacity.
const PAYS: f64 = 0.10;

/// A unit that keeps dropping out, in few words.
fn dropping_out(told: &Told) -> Option<String> {
    let s = told.summary;
    let full = told.model.link().converter.output_limit_a * s.driving_s / 3600.0;
    (s.dropped_out_driving >= 3).then(|| {
        format!(
            "The unit drops out {} and delivers {:.1} of {full:.1} Ah.",
            times(s.dropped_out_driving),
            s.unit_output_ah
        )
    })
}

/// What the sun and a mains charger gave beside the unit.
fn sun(told: &Told) -> Option<String> {
    let l = &told.run.ledger;
    let others: Vec<String> = [("the sun", Line::SolarC), ("the mains charger", Line::MainsC)]
        .iter()
        .filter(|(_, line)| l.ah(*line) > 0.5)
        .map(|(who, line)| format!("{who} {:.1} Ah", l.ah(*line)))
        .collect();
    (!others.is_empty())
        .then(|| format!("The unit gave {:.1} Ah, {}.", told.summary.unit_output_ah, others.join(", ")))
}

/// How long the house battery refused charge with the engine running, and why first.
fn refused(told: &Told) -> Option<String> {
    let (mut driving, mut since, mut why, mut total_s) = (false, None::<sim_core::Instant>, None, 0.0);
    let mut refusing = false;
    let mut book = |t: sim_core::Instant, counts: bool| {
        if let Some(from) = since.take() {
            total_s += t.since(from);
        }
        since = counts.then_some(t);
    };
    for event in &told.run.events {
        match event.kind {
            EventKind::KeyOn => driving = true,
            EventKind::KeyOff => driving = false,
            EventKind::ChargeRefused { why: now } => {
                refusing = now.is_some();
                why = why.or(now);
            }
            _ => continue,
        }
        book(event.t, driving && refusing);
    }
    book(told.run.span.1, false);
    let why = match why? {
        Refusal::Cold => "its cells are too cold",
        Refusal::HighVoltage => "its voltage was too high",
        Refusal::OverCurrent => "its current was too high",
    };
    (total_s > 0.0).then(|| format!("It refuses charge for {} of the driving: {why}.", duration(total_s)))
}

/// A starter battery that is left much emptier belongs at the top.
fn starter_pays(told: &Told) -> Option<String> {
    let s = told.summary;
    (s.starter_start_soc - s.starter_end_soc > PAYS).then(|| {
        format!(
            "But the starter battery is left emptier: it goes from {:.0} to {:.0} %.",
            soc_pct(s.starter_start_soc),
            soc_pct(s.starter_end_soc)
        )
    })
}

/// Stops in which the starter battery kept the engine running, or had it started again.
fn stop_start(told: &Told) -> Option<String> {
    let stops = told.stops?;
    let at = |t: &sim_core::Instant| day_and_time(told.profile, t.as_s());
    let mut said = Vec::new();
    if let Some(first) = stops.kept.first() {
        let n = stops.kept.len();
        said.push(format!(
            "in {n} the engine is left running, the starter battery being under {:.0} % or too weak for the load \
             (first {})",
            stops.rule.least_soc * 100.0,
            at(first)
        ));
    }
    if let Some(first) = stops.restarted.first() {
        let n = stops.restarted.len();
        said.push(format!(
            "in {n} it is started again early, the starter posts falling under {:.1} V (first {})",
            stops.rule.restart_v,
            at(first)
        ));
    }
    let offered = if stops.offered == 1 { "one stop".into() } else { format!("{} stops", stops.offered) };
    (!said.is_empty()).then(|| format!("Stop-start: of {offered}, {}.", said.join("; ")))
}

/// Whether it came on, and whether it cycled, and why.
pub fn switching(told: &Told) -> Vec<String> {
    let s = told.summary;
    let at = |t_s: f64| day_and_time(told.profile, t_s);
    let Some(first) = s.first_on_s else { return never(told) };
    let mut lines = Vec::new();
    let (driving_off, parked_off) = last_drop_outs(told);
    let came_on_driving = s.came_on - s.came_on_parked;
    // The first start is told by its time; where it was parked, it is not told again among those.
    let parked_first = first_on_is_parked(&told.run.events);
    let stands = if parked_first { ", with the engine stopped," } else { "" };
    let told_first = u32::from(parked_first && s.dropped_out_driving < 2);
    match (s.dropped_out_driving, driving_off) {
        (0, _) | (_, None) => lines.push(format!(
            "The unit comes on at {}{stands} and does not drop out while the engine runs.",
            at(first)
        )),
        (1, Some(off)) => lines.push(format!(
            "The unit comes on at {}{stands} and drops out once with the engine running, at {}, {}.",
            at(first),
            at(off.t.as_s()),
            counted(&told.run.events)
        )),
        (n, Some(_)) => {
            let cycles = n >= 3 && s.cycle_period_s.is_some_and(|p| p < CYCLES_WITHIN_S);
            let period = s
                .cycle_period_s
                .map(|p| format!(", one every {} at the end", period_in_words(p)))
                .unwrap_or_default();
            let why = counted(&told.run.events);
            lines.push(if cycles {
                format!(
                    "It cycles: the unit comes on {} and drops out {n} times with the engine running{period}, {why}.",
                    times(came_on_driving)
                )
            } else {
                format!(
                    "The unit comes on {} and drops out {} with the engine running, {why}.",
                    times(came_on_driving),
                    times(n)
                )
            });
        }
    }
    let kinds: Vec<&str> = told.why().explanation.kinds().into_iter().map(why::name).collect();
    if !kinds.is_empty() {
        lines.push(format!("Called here: {}; see WHY.", kinds.join(", ")));
    }
    if let Some(ran_on) = s.ran_on_s {
        let taken = s.unit_input_parked_ah;
        let how = match parked_off {
            Some(_) if ran_on < 0.05 => "stops with the engine".to_owned(),
            Some(_) => format!("runs on for {} after the last key-off", duration(ran_on)),
            None => format!("is still on {} after the last key-off, at the end of the run", duration(ran_on)),
        };
        // A run-on of minutes hangs on tens of millivolts: a bare number would claim too much.
        let wide = |band: &(f64, f64)| duration(band.0) != duration(band.1);
        let band = told.run_on_band_s.filter(wide).map_or_else(String::new, |(low, high)| {
            format!(
                " (anything from {} to {} with the starter battery's rested volts 0.05 V either way)",
                duration(low),
                duration(high)
            )
        });
        let again = match s.came_on_parked - told_first {
            0 => String::new(),
            1 => ", and comes on once more while parked".to_owned(),
            n => format!(", and comes on {n} more times while parked"),
        };
        lines.push(format!("It {how}{band}{again}; with the engine stopped it takes {taken:.2} Ah in all."));
    } else if s.came_on_parked > told_first {
        let (n, taken) = (times(s.came_on_parked - told_first), s.unit_input_parked_ah);
        let more = if told_first > 0 { " more" } else { "" };
        lines.push(format!("It comes on {n}{more} while parked and takes {taken:.2} Ah there."));
    }
    lines
}

/// Whether the unit comes on for the first time with the engine stopped.
fn first_on_is_parked(events: &[Event]) -> bool {
    let before = events.iter().take_while(|e| e.kind != EventKind::UnitOn);
    let key = before.filter(|e| matches!(e.kind, EventKind::KeyOn | EventKind::KeyOff)).last();
    key.is_none_or(|e| e.kind == EventKind::KeyOff)
}

/// The last drop-out with the engine running, and the last after key-off.
fn last_drop_outs(told: &Told) -> (Option<Event>, Option<Event>) {
    let mut driving = false;
    let mut found = (None, None);
    for event in &told.run.events {
        match event.kind {
            EventKind::KeyOn => driving = true,
            EventKind::KeyOff => driving = false,
            EventKind::UnitOff if driving => found.0 = Some(*event),
            EventKind::UnitOff => found.1 = Some(*event),
            _ => {}
        }
    }
    found
}

/// What the drop-outs with the engine running were for: one reason, or several with their counts.
fn counted(events: &[Event]) -> String {
    let mut driving = false;
    let mut reasons = [
        ("on low input volts", 0u32),
        ("for heat", 0),
        ("for its run signal", 0),
        ("as the starter battery collapsed", 0),
    ];
    for event in events {
        match (event.kind, event.cause) {
            (EventKind::KeyOn, _) => driving = true,
            (EventKind::KeyOff, _) => driving = false,
            (EventKind::UnitOff, Cause::Heat { .. }) if driving => reasons[1].1 += 1,
            (EventKind::UnitOff, Cause::Signal { .. }) if driving => reasons[2].1 += 1,
            (EventKind::UnitOff, Cause::Posts { .. }) if driving => reasons[3].1 += 1,
            (EventKind::UnitOff, _) if driving => reasons[0].1 += 1,
            _ => {}
        }
    }
    let met: Vec<(&str, u32)> = reasons.into_iter().filter(|(_, n)| *n > 0).collect();
    match met.as_slice() {
        [(only, _)] => (*only).to_owned(),
        several => {
            let words: Vec<String> =
                several.iter().map(|(what, n)| format!("{} {what}", times(*n))).collect();
            words.join(" and ")
        }
    }
}

fn times(n: u32) -> String {
    match n {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    }
}

/// Drop-outs at least this often are called cycling, s.
const CYCLES_WITHIN_S: f64 = 600.0;

fn period_in_words(s: f64) -> String {
    if s < 120.0 { format!("{s:.1} s") } else { duration(s) }
}

/// Why a unit never came on.
pub fn never(told: &Told) -> Vec<String> {
    let rule = &told.model.link().start_stop;
    let live = told.profile.pieces().iter().any(|p| p.run_signal);
    if rule.signal == SignalUse::Required && !live {
        return vec!["The unit needs its run signal, and the signal never comes.".to_owned()];
    }
    match told.summary.extremes.waiting_in_v {
        Some(met) if met.value < rule.turn_on_v => vec![format!(
            "Its input never reaches turn-on ({:.2} V): the highest with the engine running is {:.2} V, at {}.",
            rule.turn_on_v,
            met.value,
            day_and_time(told.profile, met.t_s)
        )],
        Some(met) => vec![format!(
            "Its input reaches {:.2} V, over turn-on ({:.2} V), but never for the {} of the turn-on delay.",
            met.value,
            rule.turn_on_v,
            duration(rule.turn_on_delay_s)
        )],
        None => Vec::new(),
    }
}

fn margin(told: &Told) -> Option<String> {
    let met = told.summary.extremes.margin_v?;
    let at = day_and_time(told.profile, met.t_s);
    Some(if met.value >= 0.0 {
        format!("Smallest margin to turn-off with the engine running: {:.2} V, at {at}.", met.value)
    } else {
        format!("Deepest under turn-off with the engine running: {:.2} V, at {at}.", -met.value)
    })
}

fn starter(told: &Told) -> String {
    let s = told.summary;
    let (from, to) = (soc_pct(s.starter_start_soc), soc_pct(s.starter_end_soc));
    let word = if s.starter_end_soc >= s.starter_start_soc { "fuller" } else { "emptier" };
    format!(
        "The starter battery is left {word}: {from:.1} to {to:.1} % ({:+.1} Ah); {:.1} Ah went out of it on the way.",
        s.starter_gain_ah,
        told.run.ledger.ah(Line::StarterOutC)
    )
}

/// Prints the title of a page that is not one run's.
pub fn title(out: &mut dyn Write, name: &str, changed: &[String]) -> io::Result<()> {
    let right = "predicted by a model; check with a meter";
    let name = crate::printable::printable(name).to_uppercase();
    let gap = WIDTH.saturating_sub(name.chars().count() + right.len());
    writeln!(out, "{name}{}{right}", " ".repeat(gap.max(2)))?;
    if !changed.is_empty() {
        paragraph(out, &format!("with {}", changed.join(", ")))?;
    }
    writeln!(out)
}

/// Prints where files were written.
pub fn written(out: &mut dyn Write, paths: &[std::path::PathBuf]) -> io::Result<()> {
    writeln!(out, "\nWRITTEN")?;
    for path in paths {
        writeln!(out, "  {}", crate::printable::printable(&path.display().to_string()))?;
    }
    Ok(())
}

/// Prints a paragraph, wrapped and indented.
pub fn paragraph(out: &mut dyn Write, text: &str) -> io::Result<()> {
    indented(out, text, "  ", "    ")
}
