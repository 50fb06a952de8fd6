//! The page: the answer first, in words that a fitter would repeat to a customer.

use super::days::collapse;
use super::findings::{self, is_balance};
use super::why::{self, Depth};
use super::{Told, cranking, distance, fuses, meter, sections, soc_pct, warmth};
use crate::as_far;
use crate::clock::{day_and_time, duration};
use crate::numbers::plain;
use crate::paragraph::{WIDTH, indented};
use sim_core::judge::{Kind, Source, Weight};
use sim_core::record::Line;
use sim_core::state::HOUSE;
use std::io::{self, Write};

/// Prints the page: what one reads standing, or all of it.
pub fn print(told: &Told, full: bool, out: &mut dyn Write) -> io::Result<()> {
    heading(told, out)?;
    writeln!(out, "ANSWER")?;
    for sentence in answer(told) {
        paragraph(out, &sentence)?;
    }
    if full {
        super::days::print(told, out)?;
    }
    why::print(told, if full { Depth::Apprentice } else { Depth::Customer }, out)?;
    distance::print_nearest(told.far, full, out)?;
    if full {
        sections::events(told, out)?;
    }
    meter::print(told, out)?;
    if full {
        sections::volts(told, out)?;
        sections::charge(told, out)?;
        warmth::temperatures(told, out)?;
        warmth::alternator(told, out)?;
    }
    sections::assumed(told, out)?;
    if full { sections::left_out(told, out) } else { sections::cautions(out) }
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

/// The answer, a sentence an entry, the most important first: dangers before charge.
pub fn answer(told: &Told) -> Vec<String> {
    let mut lines: Vec<String> = as_far::told(told.run, told.profile).into_iter().collect();
    // Without a start nothing of the rest comes about.
    let first = |k: &Kind| matches!(k, Kind::StartNotExpected { .. });
    let found = |is: &dyn Fn(Weight, &Kind) -> bool| -> Vec<String> {
        let findings = told.verdict.findings.iter().filter(|f| is(f.weight, &f.kind));
        findings.map(|f| findings::sentence(told, f)).collect()
    };
    lines.extend(found(&|w, k| w == Weight::Danger && !first(k)));
    lines.extend(found(&|_, k| first(k)));
    lines.push(top_up(told));
    lines.extend(super::days::answer(told));
    lines.extend(found(&|w, k| w == Weight::Trouble && !first(k) && !is_balance(k)));
    lines.extend(collapse(told));
    // What the starter battery is left with stands in the last sentence.
    let notes = |w, k: &Kind| w == Weight::Note && !is_balance(k) && *k != Kind::StarterEmptier;
    lines.extend(found(&notes));
    lines.extend(causes(told));
    lines.extend(comes_on(told));
    lines.extend(run_on(told));
    lines.extend(stop_start(told));
    lines.extend(margin(told));
    lines.push(starter(told));
    let named = |f: &&sim_core::record::fuse::FuseWork| {
        !told.verdict.findings.iter().any(|found| {
            matches!(
                found.kind,
                Kind::FuseOpened { at } | Kind::FuseMayOpen { at } | Kind::FuseOver { at } | Kind::FuseLoaded { at }
                    if at == f.place
            )
        })
    };
    lines.extend(told.run.fuses.iter().filter(named).map(fuses::carried));
    lines
}

/// What a picture carries under its title: the worst finding where something has to be done, and what the house battery got.
pub fn caption(told: &Told) -> String {
    match told.verdict.worst().filter(|f| !is_balance(&f.kind)) {
        Some(worst) => {
            let whose = if told.summary.driving_s > 0.0 { "House battery: " } else { "" };
            format!("{} {whose}{}", findings::sentence(told, worst), got(told))
        }
        None => top_up(told),
    }
}

/// What the house battery got, as an answer.
pub fn top_up(told: &Told) -> String {
    let s = told.summary;
    if s.driving_s == 0.0 {
        return format!("The engine never runs. {}", got(told));
    }
    let driving = duration(s.driving_s);
    let balance = told.verdict.find(is_balance).map_or(Kind::TopsUp, |f| f.kind);
    let never = told.verdict.find(|k| matches!(k, Kind::NeverComesOn { .. })).is_some();
    let head = match balance {
        _ if never => format!("No: the unit never comes on in {driving} of driving"),
        Kind::FullAlready => "The house battery is full already".to_owned(),
        Kind::FedBy { source } => {
            let who = if source == Source::Sun { "the sun" } else { "the mains charger" };
            let ends = told.run.stretches.iter().map(|s| s.end[HOUSE]);
            let how = if ends.fold(s.house_end_soc, f64::max) >= FULL_SOC { "Full from" } else { "Fed by" };
            format!("{how} {who}: the drive adds nothing")
        }
        Kind::NoGain => "No: this drive does not top up the house battery".to_owned(),
        Kind::Loses => "No: over the whole time the loads take more than the drives put in".to_owned(),
        Kind::GainsOnlyDriving => "Gains while driving, loses overall".to_owned(),
        _ if told.verdict.is_danger() => "The house battery is topped up".to_owned(),
        _ if cranking::is_doubtful(told) => {
            "If the engine starts: this drive tops up the house battery".to_owned()
        }
        _ if !told.verdict.is_good() => {
            "With trouble: this drive tops up the house battery, but see below".to_owned()
        }
        _ => "Yes: this drive tops up the house battery".to_owned(),
    };
    // No yes over a danger, whatever is charged.
    let head = if told.verdict.is_danger() { format!("Not like this: see the danger. {head}") } else { head };
    let mut text = format!("{head}. {}", got(told));
    for more in [dropping_out(told), others(told)].into_iter().flatten() {
        text.push(' ');
        text.push_str(&more);
    }
    text
}

/// What the house battery got, in figures.
fn got(told: &Told) -> String {
    let s = told.summary;
    let (from, to) = (soc_pct(s.house_start_soc), soc_pct(s.house_end_soc));
    if s.driving_s == 0.0 {
        return format!(
            "In {} the house battery goes from {from:.1} to {to:.1} % ({} Ah).",
            duration(s.span_s),
            signed(s.house_gain_ah)
        );
    }
    format!(
        "{} Ah while driving ({}), {} Ah in all. {}",
        signed(s.house_gain_driving_ah),
        duration(s.driving_s),
        signed(s.house_gain_ah),
        if to - from == 0.0 || format!("{from:.1}") == format!("{to:.1}") {
            format!("It ends as it began, at {to:.1} %.")
        } else {
            format!("It goes from {from:.1} to {to:.1} %.")
        }
    )
}

/// A gain or loss with its sign; nothing has none.
fn signed(ah: f64) -> String {
    if ah.abs() < 0.05 { "0.0".to_owned() } else { format!("{ah:+.1}") }
}

/// State of charge from which a house battery has been full, share.
const FULL_SOC: f64 = 0.9;

/// What a unit that drops out delivers beside what it could.
fn dropping_out(told: &Told) -> Option<String> {
    let s = told.summary;
    let full = told.model.link().converter.output_limit_a * s.driving_s / 3600.0;
    (s.dropped_out_driving >= 1).then(|| {
        format!(
            "The unit delivered {:.1} Ah. At its limit all the time it would have delivered {full:.1} Ah.",
            s.unit_output_ah
        )
    })
}

/// What the sun and a mains charger gave beside the unit.
fn others(told: &Told) -> Option<String> {
    let l = &told.run.ledger;
    let others: Vec<String> = [("the sun", Line::SolarC), ("the mains charger", Line::MainsC)]
        .iter()
        .filter(|(_, line)| l.ah(*line) > 0.5)
        .map(|(who, line)| format!("{who} {:.1} Ah", l.ah(*line)))
        .collect();
    (!others.is_empty())
        .then(|| format!("The unit gave {:.1} Ah, {}.", told.summary.unit_output_ah, others.join(", ")))
}

/// Stops in which the starter battery kept the engine running, or had it started again.
fn stop_start(told: &Told) -> Option<String> {
    let stops = told.stops?;
    let at = |t: &sim_core::Instant| day_and_time(told.profile, t.as_s());
    let mut said = Vec::new();
    if let Some(first) = stops.kept.first() {
        let n = stops.kept.len();
        said.push(format!(
            "In {n} the engine is left running (first {}): the starter battery is under {:.0} %, or too weak for the load.",
            at(first),
            stops.rule.least_soc * 100.0
        ));
    }
    if let Some(first) = stops.restarted.first() {
        let n = stops.restarted.len();
        said.push(format!(
            "In {n} it is started again early (first {}): the starter posts fall under {:.1} V.",
            at(first),
            stops.rule.restart_v
        ));
    }
    let offered = if stops.offered == 1 { "one stop".into() } else { format!("{} stops", stops.offered) };
    (!said.is_empty()).then(|| format!("Stop-start offers {offered}. {}", said.join(" ")))
}

/// What the drop-outs are called, for whoever looks at WHY.
fn causes(told: &Told) -> Option<String> {
    let kinds: Vec<&str> = told.why().explanation.kinds().into_iter().map(why::name).collect();
    (!kinds.is_empty()).then(|| format!("Cause: {}.", kinds.join("; ")))
}

/// When the unit came on first with the engine running, and whether it stayed on.
fn comes_on(told: &Told) -> Option<String> {
    // Starts with the engine stopped are counted among the findings.
    let driving = told.timeline.turn_ons().find(|(_, on)| on.driving).map(|(t, _)| t);
    let first = driving.or_else(|| told.timeline.first_on())?;
    let stays = if told.summary.dropped_out_driving == 0 && told.summary.came_on > told.summary.came_on_parked
    {
        " and does not drop out while the engine runs"
    } else {
        ""
    };
    Some(format!("The unit comes on at {}{stays}.", day_and_time(told.profile, first.as_s())))
}

/// How long it stayed on after the last key-off, and what that took.
fn run_on(told: &Told) -> Option<String> {
    let s = told.summary;
    let ran_on = s.ran_on_s?;
    let how = match told.timeline.last_off_parked() {
        Some(_) if ran_on < 0.05 => "It stops with the engine".to_owned(),
        Some(_) => format!("It runs on for {} after the last key-off", duration(ran_on)),
        None => {
            format!("It is still on {} after the last key-off, when the simulation ends", duration(ran_on))
        }
    };
    // A run-on of minutes hangs on tens of millivolts: a bare number would claim too much.
    let wide = |band: &(f64, f64)| duration(band.0) != duration(band.1);
    let band = told.run_on_band_s.filter(wide).map_or_else(String::new, |(low, high)| {
        format!(
            ". As far as the starter battery's rested volts are known, that may be {} to {}",
            duration(low),
            duration(high)
        )
    });
    Some(format!("{how}{band}. With the engine stopped it takes {:.2} Ah in all.", s.unit_input_parked_ah))
}

/// The smallest margin to turn-off; where the unit drops out on volts, WHY says by how much it falls short.
fn margin(told: &Told) -> Option<String> {
    let met = told.summary.extremes.margin_v?;
    let at = day_and_time(told.profile, met.t_s);
    if met.value >= 0.0 {
        return Some(format!(
            "Smallest margin to turn-off with the engine running: {:.2} V, at {at}.",
            met.value
        ));
    }
    let in_why = told.timeline.drop_outs_on_volts().next().is_some();
    (!in_why).then(|| format!("Lowest with the engine running: {:.2} V below turn-off, at {at}.", -met.value))
}

fn starter(told: &Told) -> String {
    let s = told.summary;
    let (from, to) = (soc_pct(s.starter_start_soc), soc_pct(s.starter_end_soc));
    let how = if format!("{from:.1}") == format!("{to:.1}") {
        format!("ends as it began, at {to:.1} %")
    } else {
        let word = if to > from { "fuller" } else { "emptier" };
        format!("is left {word}: {from:.1} to {to:.1} % ({} Ah)", signed(s.starter_gain_ah))
    };
    let gave = plain(told.run.ledger.ah(Line::StarterOutC), 1);
    format!("The starter battery {how}. It gave {gave} Ah on the way.")
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
