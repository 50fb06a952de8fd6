//! `tickover mend`: the smallest changes that give a margin asked for, in the order of practice, and what each costs.

use crate::Exit;
use crate::args::MendArgs;
use crate::chart::figures::distance_bars::short;
use crate::clock::duration;
use crate::failure::Failure;
use crate::load::load_from;
use crate::progress::while_working;
use crate::report::page::{self, paragraph};
use crate::streams::Streams;
use rayon::iter::{IntoParallelRefIterator, ParallelIterator};
use sim_core::judge::guard_rails::{least_turn_off_v, most_set_point_v};
use sim_core::study::Outcome;
use sim_core::study::knobs::{Knob, Part};
use sim_core::study::mend::{Ask, Mend, Offer, parked_s, run_on_s};
use std::io::Write;

/// Parked time over which the drain of a lower turn-off is told, h.
const PARKED_H: f64 = 12.0;

/// Most pairs that are printed.
const MOST_PAIRS: usize = 4;

/// Runs the command.
pub fn run(args: &MendArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    let ask = Ask {
        margin_v: args.margin_v,
        most_cable_share: args.cable_share_pct / 100.0,
        parked_s: PARKED_H * 3600.0,
    };
    let (mend, tried) = while_working(io, "trying one change after the other", || {
        let mend = Mend::new(&loaded.case, ask)?;
        let candidates = if mend.is_well() { Vec::new() } else { mend.candidates() };
        let offers: Vec<Option<Offer>> = candidates.par_iter().map(|c| mend.try_out(c)).collect();
        let mut tried: Vec<(String, Option<Offer>)> =
            candidates.iter().map(|c| c.knob.name.clone()).zip(offers).collect();
        if tried.iter().all(|t| t.1.is_none()) {
            let pairs = mend.pairs(&candidates);
            let offers: Vec<Option<Offer>> = pairs.par_iter().map(|p| mend.try_pair(p)).collect();
            tried.extend(offers.into_iter().flatten().take(MOST_PAIRS).map(|o| (String::new(), Some(o))));
        }
        Ok::<_, Failure>((mend, tried))
    })?;
    let name = loaded.title();
    page::title(&mut io.out, name, &args.scenario.set)?;
    print(args, &mend, tried, &mut io.out)?;
    Ok(Exit::Done)
}

fn print(
    args: &MendArgs,
    mend: &Mend,
    tried: Vec<(String, Option<Offer>)>,
    out: &mut dyn Write,
) -> Result<(), Failure> {
    let outcome = Outcome::of(&mend.base);
    let margin = mend.margin_v.map_or_else(|| no_margin(mend), |m| format!("smallest margin {m:.2} V"));
    writeln!(out, "CHANGES THAT LEAVE NO TROUBLE, AND {:.2} V ABOVE TURN-OFF", args.margin_v)?;
    let delivered = mend.base.summary.unit_output_ah;
    paragraph(out, &format!("As it is: {}, {margin}, {delivered:.1} Ah out of the unit.", outcome.words()))?;
    if mend.is_well() {
        paragraph(out, "It has that margin already: nothing to change.")?;
        return Ok(());
    }
    let (mut offers, mut cannot) = (Vec::new(), Vec::new());
    for (name, offer) in tried {
        match offer {
            Some(offer) => offers.push(offer),
            None => cannot.push(name),
        }
    }
    if offers.is_empty() {
        paragraph(out, "No change within the spans looked at is enough, and no two together.")?;
    } else {
        writeln!(out, "\n  {:<34}{:>12}{:>13}{:>9}{:>8}  cost", "change", "from", "to", "margin", "Ah out")?;
    }
    for o in &offers {
        let value = |v: f64| value(&o.knob, v);
        if let Some((knob, to)) = &o.beside {
            paragraph(out, &format!("Together with \"{}\" at {}:", knob.name, self::value(knob, *to)))?;
        }
        writeln!(
            out,
            "  {:<34}{:>12}{:>13}{:>9}{:>8.1}  {}",
            o.knob.name,
            value(o.knob.now),
            value(o.to),
            if o.margin_v.is_finite() { format!("{:.2} V", o.margin_v) } else { "held on".to_owned() },
            o.output_ah,
            cost(o, mend, &offers)
        )?;
        if let Some((before, after)) = &o.drain {
            paragraph(
                out,
                &format!(
                    "With that turn-off and {PARKED_H:.0} h parked the unit runs on for {} and takes {:.2} Ah (now {}, \
                     {:.2} Ah); the starter battery is left at {:.1} % (now {:.1} %).",
                    duration(after.ran_on_s),
                    after.ah,
                    duration(before.ran_on_s),
                    before.ah,
                    100.0 * after.starter_end_soc,
                    100.0 * before.starter_end_soc
                ),
            )?;
        }
    }
    writeln!(out)?;
    if let Some((_, best)) = offers.iter().find_map(|o| less_than_best(o, &offers)) {
        paragraph(
            out,
            &format!(
                "A lower current costs charge in every drive. Best here is \"{}\": it leaves the current as it is and gives {:.1} Ah.",
                best.knob.name, best.output_ah
            ),
        )?;
    }
    if !cannot.is_empty() {
        paragraph(out, &format!("Not enough alone, as far as it may go: {}.", cannot.join("; ")))?;
    }
    let model = &mend.base.resolved.model;
    paragraph(
        out,
        &format!(
            "Not offered, whatever it gains: an alternator set over {:.2} V, a turn-off under {:.2} V that volts alone decide, \
             a run signal while there is a danger or where the starter battery pays for it.",
            most_set_point_v(model),
            least_turn_off_v(model)
        ),
    )?;
    if !mend.may_lower_turn_off() {
        let share = mend.cable_share.map_or_else(
            || format!("{}, so no drop is held against it", no_margin(mend)),
            |s| {
                format!(
                    "the input cable takes {:.0} % of the drop from set-point to input, and the limit is {:.0} % \
                     (--cable-share-pct)",
                    100.0 * s,
                    args.cable_share_pct
                )
            },
        );
        paragraph(
            out,
            &format!(
                "A lower turn-off is not offered: {share}. The threshold protects the starter battery; measure the drop \
                 across each joint first."
            ),
        )?;
    }
    paragraph(
        out,
        "What practice turns to first comes first; each was tried on the whole run and leaves no trouble. Predicted for these \
         inputs; verify by measurement.",
    )?;
    Ok(())
}

/// Why a vehicle has no margin to turn-off.
fn no_margin(mend: &Mend) -> String {
    let on = mend.base.summary.first_on_s.is_some();
    if on { "its run signal holds it on" } else { "it never comes on" }.to_owned()
}

/// What a lower current costs: how many Ah less it gives in this drive than the best change that leaves the current as it is.
fn less_than_best<'a>(o: &Offer, offers: &'a [Offer]) -> Option<(f64, &'a Offer)> {
    let limits = |o: &Offer| matches!(o.knob.part, Part::OutputLimit | Part::InputLimit);
    let others = offers.iter().filter(|other| !limits(other));
    let best = others.max_by(|a, b| a.output_ah.total_cmp(&b.output_ah))?;
    let ah = best.output_ah - o.output_ah;
    (limits(o) && ah > 0.05).then_some((ah, best))
}

/// A value of a knob, by its name or with its unit.
fn value(knob: &Knob, v: f64) -> String {
    match knob.size_name(v) {
        "" => format!("{} {}", short(v), knob.unit),
        name => name.to_owned(),
    }
}

fn cost(o: &Offer, mend: &Mend, offers: &[Offer]) -> String {
    let mut parts = Vec::new();
    if let Some((ah, _)) = less_than_best(o, offers) {
        parts.push(format!("{ah:.1} Ah under best"));
    } else if matches!(o.knob.part, Part::OutputLimit | Part::InputLimit) {
        parts.push(format!("{:.0} % less current", 100.0 * (1.0 - o.to / o.knob.now)));
    }
    if o.copper_kg != 0.0 {
        parts.push(format!("{:+.1} kg copper", o.copper_kg));
    }
    if o.later_s > 0.5 {
        parts.push(format!("on {} later", duration(o.later_s)));
    }
    let soc = 100.0 * (o.starter_end_soc - mend.base.summary.starter_end_soc);
    if soc.abs() > 0.5 {
        parts.push(format!("starter battery {soc:+.1} %"));
    }
    let more = |what: &str, then_s: f64, now_s: f64| {
        (then_s > now_s + 30.0).then(|| format!("{what} {} (now {})", duration(then_s), duration(now_s)))
    };
    let (run_on, parked) = (run_on_s(&mend.base), parked_s(&mend.base));
    parts.extend(more("runs on for up to", o.run_on_s, run_on));
    if o.parked_s - o.run_on_s > parked - run_on + 30.0 {
        parts.extend(more("on while parked for", o.parked_s, parked));
    }
    let less = mend.base.summary.unit_output_ah - o.output_ah;
    if less > 0.05 {
        parts.push(format!("{less:.1} Ah less"));
    }
    if o.knob.part == Part::SetPoint {
        parts.push("if it can be set".into());
    }
    parts.join(", ")
}
