//! The page's sections behind the answer.

use super::findings::battery;
use super::page::paragraph;
use super::{Told, fuses, soc_pct};
use crate::clock::{day_and_time, duration, weekday_and_time};
use crate::numbers::{beside, plain};
use sim_core::logic::{Refusal, Stage};
use sim_core::network::{Limit, Net};
use sim_core::record::event::{Bound, Cause, Event, EventKind};
use sim_core::record::{Line, ledger};
use sim_core::resolve::From;
use sim_core::state::{INPUT_CABLE_C, OUTPUT_CABLE_C};
use std::io::{self, Write};

/// The first and the last events in words.
pub fn events(told: &Told, out: &mut dyn Write) -> io::Result<()> {
    const HEAD: usize = 12;
    const TAIL: usize = 4;
    let shown: Vec<&Event> = told.run.events.iter().filter(|e| worth_a_line(e)).collect();
    writeln!(out, "\nWHAT HAPPENED")?;
    let skipped = shown.len().saturating_sub(HEAD + TAIL);
    for (n, event) in shown.iter().enumerate() {
        if skipped > 0 && n == HEAD {
            writeln!(out, "  ...       {skipped} more, all in events.csv")?;
        }
        if skipped > 0 && (HEAD..HEAD + skipped).contains(&n) {
            continue;
        }
        let at = day_and_time(told.profile, event.t.as_s());
        paragraph(out, &format!("{at}  {}", in_words(told, event)))?;
    }
    Ok(())
}

fn worth_a_line(event: &Event) -> bool {
    !matches!(
        event.kind,
        EventKind::RampEnd
            | EventKind::EngineRuns
            | EventKind::AlternatorBegins
            // A drive from a file takes the alternator to its limit and back at every gear change.
            | EventKind::AlternatorFull { .. }
            | EventKind::Limit { from: Limit::Off, .. }
    )
}

/// Power that the house loads ask for at an event, W.
fn asked_w(told: &Told, event: &Event) -> f64 {
    told.profile.piece_at(event.t).house_load_w
}

/// House loads shed by volts: an empty battery, or a load that is too heavy for it.
fn low_house(told: &Told, event: &Event, posts_v: f64, threshold_v: f64) -> String {
    let posts = beside(", now ", posts_v, threshold_v, 2, "V");
    format!(
        "HOUSE VOLTS TOO LOW: house posts below {threshold_v:.2} V{posts}, with {:.0} W asked; the house loads are shed",
        asked_w(told, event)
    )
}

/// How long a condition held before it counted; nothing where it counted at once.
fn held(held_s: f64) -> String {
    if held_s > 0.0 { format!(" for {}", duration(held_s)) } else { String::new() }
}

/// Why the unit came on.
fn on_because(cause: Cause) -> &'static str {
    match cause {
        Cause::Signal { .. } => ": the run signal is live",
        _ => "",
    }
}

/// Why the unit dropped out.
fn off_because(cause: Cause) -> String {
    match cause {
        Cause::InputHeld { input_v, threshold_v, held_s } => {
            let now = beside(", now ", input_v, threshold_v, 2, "V");
            format!(": input below turn-off ({threshold_v:.2} V){}{now}", held(held_s))
        }
        Cause::Posts { posts_v, .. } => {
            format!(": the starter battery collapses, {posts_v:.2} V at its posts")
        }
        Cause::Spent { open_v, soc } => format!(
            ": the starter battery can give no more, at {} % and {open_v:.2} V without a load",
            plain(soc_pct(soc), 1)
        ),
        Cause::Signal { .. } => ": the run signal went away".into(),
        Cause::Heat { case_c, limit_c } => {
            format!(": too hot, {case_c:.0} °C at its case, lock-out at {limit_c:.0} °C")
        }
        _ => String::new(),
    }
}

/// Why the house battery refuses charge, and what the unit does then.
fn refusal(why: Refusal, cause: Cause, n: &Net) -> String {
    let (what, unit) = match why {
        Refusal::Cold => ("its cells are too cold", "°C"),
        Refusal::HighVoltage => ("its voltage is too high", "V"),
        Refusal::OverCurrent => ("its current is too high", "A"),
    };
    let numbers = match cause {
        Cause::Protection { value, threshold } => {
            let met = beside("", value, threshold, 2, unit);
            let comma = if met.is_empty() { "" } else { ", " };
            format!(" ({met}{comma}limit {} {unit})", plain(threshold, 2))
        }
        _ => String::new(),
    };
    let alone = if n.output_a > 0.0 {
        format!("; the unit alone carries the load, {:.1} A at {:.2} V", n.output_a, n.out_v)
    } else {
        String::new()
    };
    format!("the house battery refuses charge: {what}{numbers}{alone}")
}

/// Another of the unit's limits sets its current.
fn limit_rules(to: Limit, n: &Net) -> String {
    match to {
        Limit::Off if n.in_v == 0.0 => "the unit gives nothing: its input is dead".into(),
        Limit::Off => "the unit gives nothing".into(),
        to => format!(
            "{} now sets the current: {:.1} A in, {:.1} A out, {:.2} V at the input",
            limit(to),
            n.input_a,
            n.output_a,
            n.in_v
        ),
    }
}

/// One event in words.
pub fn in_words(told: &Told, event: &Event) -> String {
    let n = &event.after;
    match event.kind {
        EventKind::KeyOn => "the engine is started".into(),
        EventKind::EngineRuns => "the engine runs".into(),
        EventKind::AlternatorBegins => "the alternator begins to charge".into(),
        EventKind::KeyOff => "the engine is stopped".into(),
        EventKind::UnitOn => match event.cause {
            Cause::InputHeld { threshold_v, held_s, .. } => {
                format!("the unit comes on: input above turn-on ({threshold_v:.2} V){}", held(held_s))
            }
            cause => format!("the unit comes on{}", on_because(cause)),
        },
        EventKind::UnitOff => format!("the unit drops out{}", off_because(event.cause)),
        EventKind::RampEnd => "the soft start ends".into(),
        EventKind::Stage { to } => format!("{}{}", stage(to), stage_cause(event.cause)),
        EventKind::Limit { to, .. } => limit_rules(to, n),
        EventKind::AlternatorFull { full: true } => format!(
            "the alternator gives all it can, {:.0} A, with {:.2} V at the starter posts",
            n.alternator_a, n.sb_v
        ),
        EventKind::AlternatorFull { full: false }
            if told.model.alternator.droop_ohm > 0.0 && n.alternator_a > 0.0 =>
        {
            format!("the alternator holds its set-point again, {:.0} A", n.alternator_a)
        }
        EventKind::AlternatorFull { .. } => "the alternator gives nothing any more".into(),
        EventKind::FallsAsleep => "the vehicle falls asleep".into(),
        EventKind::HeatLock { locked } => {
            let case = match event.cause {
                Cause::Heat { case_c, .. } => format!(": {case_c:.0} °C at its case"),
                _ => String::new(),
            };
            let does = if locked { "locks itself out" } else { "has cooled and may start again" };
            format!("the unit {does}{case}")
        }
        EventKind::ChargeRefused { why: Some(why) } => refusal(why, event.cause, n),
        EventKind::ChargeRefused { why: None } => "the house battery takes charge again".into(),
        EventKind::LoadsShed { shed: true } => match event.cause {
            Cause::Protection { value: posts_v, threshold: threshold_v }
            | Cause::Posts { posts_v, threshold_v } => low_house(told, event, posts_v, threshold_v),
            Cause::Spent { open_v, soc } => format!(
                "HOUSE BATTERY CAN GIVE NO MORE: {} % and {open_v:.2} V without a load, with {:.0} W asked; the house loads \
                 are shed",
                plain(soc_pct(soc), 1),
                asked_w(told, event)
            ),
            _ => "the house loads are shed".into(),
        },
        EventKind::LoadsShed { shed: false } => "the house loads come back".into(),
        EventKind::HeaterMat { on: true } => "the heater mat is on".into(),
        EventKind::HeaterMat { on: false } => "the heater mat is off".into(),
        EventKind::StarterDead { dead: true } => {
            let (head, numbers) = match event.cause {
                Cause::Spent { open_v, soc } => (
                    "CAN GIVE NO MORE",
                    format!(": {} % and {open_v:.2} V without a load", plain(soc_pct(soc), 1)),
                ),
                Cause::Posts { posts_v, threshold_v } => {
                    let posts = beside(", now ", posts_v, threshold_v, 2, "V");
                    ("FLAT", format!(": its posts below {threshold_v:.2} V{posts}"))
                }
                _ => ("FLAT", String::new()),
            };
            format!("STARTER BATTERY {head}{numbers}; nothing on its side works any more")
        }
        EventKind::StarterDead { dead: false } => "the starter side works again".into(),
        EventKind::FuseOpened { at } => match event.cause {
            Cause::OverRating { amps, rating_a } => format!(
                "FUSE OPENS: {} ({rating_a:.0} A), at {amps:.1} A; its cable stays open",
                fuses::place(at)
            ),
            _ => format!("FUSE OPENS: {}; its cable stays open", fuses::place(at)),
        },
        EventKind::Bound { side, at: Bound::Full } => format!("the {} is full", battery(side)),
        EventKind::Bound { side, at: Bound::Within } => {
            format!("the {} is no longer full", battery(side))
        }
    }
}

fn stage(to: Stage) -> &'static str {
    match to {
        Stage::Bulk => "bulk begins",
        Stage::Absorption => "absorption begins",
        Stage::Float => "float begins",
    }
}

fn stage_cause(cause: Cause) -> String {
    match cause {
        Cause::TargetReached { output_v, .. } => format!(": output at its target, {output_v:.2} V"),
        Cause::TailCurrent { output_a, tail_a, held_s } => {
            let now = beside(", now ", output_a, tail_a, 1, "A");
            format!(": output below {tail_a:.1} A{}{now}, house load included", held(held_s))
        }
        Cause::AbsorptionCap { cap_s } => format!(": absorption has lasted its longest, {}", duration(cap_s)),
        Cause::OutputLow { output_v, threshold_v, held_s } => {
            let now = beside(", now ", output_v, threshold_v, 2, "V");
            format!(": output below {threshold_v:.2} V{}{now}", held(held_s))
        }
        _ => String::new(),
    }
}

fn limit(limit: Limit) -> &'static str {
    match limit {
        Limit::Off => "nothing",
        Limit::OutputCurrent => "the output current limit",
        Limit::Voltage => "the target voltage",
        Limit::Idle => "the house bus, already above the target voltage,",
        Limit::InputCurrent => "the input current limit",
        Limit::Floor => "the input-voltage floor",
        Limit::Source | Limit::SourceKink => "the source, which can give no more,",
        Limit::Starved => "a source too weak to feed the unit's own loss",
    }
}

/// Where the volts go when the margin to turn-off is smallest with the engine running, else at the largest input current.
pub fn volts(told: &Told, out: &mut dyn Write) -> io::Result<()> {
    let extremes = &told.summary.extremes;
    let Some(met) = extremes.margin_v.or(extremes.input_a) else { return Ok(()) };
    let when =
        if extremes.margin_v.is_some() { "at the smallest margin" } else { "at the largest input current" };
    let t = sim_core::Instant::from_s(met.t_s);
    // At a jump the trace shows the side after it; the side with the smaller margin is the one that was met.
    let sample = [0, -1]
        .iter()
        .filter_map(|&ns| told.run.trace.at(told.model, told.profile, t.plus_ns(ns)))
        .filter(|s| s.mode.on && (s.mode.alternator_turns() || extremes.margin_v.is_none()))
        .min_by(|a, b| a.net.in_v.total_cmp(&b.net.in_v));
    let Some(s) = sample else { return Ok(()) };
    let link = told.model.link();
    let (n, i) = (s.net, s.net.input_a);
    let at = weekday_and_time(told.profile, met.t_s);
    let title = format!("WHERE THE VOLTS WENT {when}, {i:.1} A at {at}");
    writeln!(out, "\n{title:<68}{:>9}{:>8}{:>8}", "V", "mΩ", "W")?;
    let mut row = |what: &str, v: f64, ohm: Option<f64>, w: Option<f64>| {
        let ohm = ohm.map(|o| format!("{:.2}", o * 1e3)).unwrap_or_default();
        let w = w.map(|w| format!("{w:.1}")).unwrap_or_default();
        writeln!(out, "  {what:<66}{:>9}{ohm:>8}{w:>8}", plain(v, 3))
    };
    if n.alternator_a > 0.0 {
        row("alternator set-point", s.set_point_v, None, None)?;
        row(
            "  less: alternator and its cable, down to the starter posts",
            n.sb_v - s.set_point_v,
            None,
            None,
        )?;
    }
    row("starter posts", n.sb_v, None, None)?;
    let joints_ohm = link.input_cable.joints_ohm + told.profile.pieces().at(s.piece).input_joint_extra_ohm;
    // Copper as warm as it was at that moment.
    let copper_ohm = link.input_cable.resistance_at(&s.state[INPUT_CABLE_C..]) - link.input_cable.joints_ohm;
    for (what, ohm) in [
        ("  less: conductors of the input cable, both legs", copper_ohm),
        ("  less: joints and fuses of the input cable", joints_ohm),
    ] {
        row(what, -i * ohm, Some(ohm), Some(i * i * ohm))?;
    }
    row("unit input", n.in_v, None, None)?;
    row("  turn-off", link.start_stop.turn_off_v, None, None)?;
    row("  left above turn-off", n.in_v - link.start_stop.turn_off_v, None, None)?;
    row("unit output", n.out_v, None, Some(n.out_v * n.output_a))?;
    let r = link.output_cable.resistance_at(&s.state[OUTPUT_CABLE_C..]);
    row("  less: output cable", -n.output_a * r, Some(r), Some(n.output_a * n.output_a * r))?;
    row("house posts", n.house_v, None, None)
}

/// Where the charge and the losses went.
pub fn charge(told: &Told, out: &mut dyn Write) -> io::Result<()> {
    let l = &told.run.ledger;
    writeln!(out, "\nWHERE THE CHARGE WENT, Ah{:>25}while driving   whole time", "")?;
    let driving =
        told.run.stretches.iter().filter(|s| s.driving).fold(ledger::Ledger::default(), |mut sum, s| {
            sum.add(&s.ledger, 1.0);
            sum
        });
    let rows: [(&str, Line); 14] = [
        ("from the alternator", Line::AlternatorC),
        ("from the sun or a maintainer, starter side", Line::StarterSourceC),
        ("  to the vehicle's own loads", Line::VehicleC),
        ("  to the starter battery, net", Line::StarterC),
        ("    of which lost, refused or gassed", Line::StarterLostC),
        ("    of which self-discharged", Line::StarterSelfC),
        ("  into the unit", Line::InputC),
        ("out of the unit", Line::OutputC),
        ("from the sun, house side", Line::SolarC),
        ("from the mains charger", Line::MainsC),
        ("  to the house loads", Line::HouseLoadC),
        ("  to the house battery, net", Line::HouseC),
        ("    of which lost, refused or gassed", Line::HouseLostC),
        ("    of which self-discharged", Line::HouseSelfC),
    ];
    for (what, line) in rows {
        let pick = |l: &ledger::Ledger| match line {
            Line::StarterLostC => {
                l.ah(Line::StarterLostC) + l.ah(Line::StarterRefusedC) + l.ah(Line::StarterGassedC)
            }
            Line::HouseLostC => l.ah(Line::HouseLostC) + l.ah(Line::HouseRefusedC) + l.ah(Line::HouseGassedC),
            other => l.ah(other),
        };
        let rare = matches!(
            line,
            Line::SolarC
                | Line::MainsC
                | Line::StarterSourceC
                | Line::HouseLostC
                | Line::StarterSelfC
                | Line::HouseSelfC
        );
        if rare && pick(l).abs() < 5e-4 {
            continue;
        }
        writeln!(out, "  {what:<44}{:>16}{:>13}", plain(pick(&driving), 3), plain(pick(l), 3))?;
    }
    let unserved = [
        ("asked by vehicle loads and NOT SERVED, Ah", l.ah(Line::StarterUnservedC)),
        ("asked by house loads and NOT SERVED, Wh", l.wh(Line::HouseUnservedJ)),
    ];
    for (what, amount) in unserved.into_iter().filter(|(_, amount)| *amount > 0.0) {
        writeln!(out, "  {what:<44}{amount:>29.3}")?;
    }
    writeln!(
        out,
        "  lost as heat: unit {:.1} Wh, input cable {:.1} Wh, output cable {:.1} Wh",
        l.wh(Line::UnitLossJ),
        l.wh(Line::InputCableJ),
        l.wh(Line::OutputCableJ),
    )?;
    let c = told.run.closure;
    writeln!(out, "  balances close to {:.0e} in charge and {:.0e} in energy, relative", c.charge, c.energy)
}

/// Defaults that move the answer most, most important first: what a fitter should measure or read off a label.
const WORTH_MEASURING: [(&str, &str); 15] = [
    ("alternator.set_point_v", "volts at the starter posts, engine at a fast idle, unit off"),
    ("input_cable.length_m", "the cable's length, one way"),
    ("input_cable.joints_mohm", "millivolts across each joint and fuse with the unit at full current"),
    ("alternator.idle_a", "the smaller current on the alternator's label"),
    ("alternator.asymptote_a", "both currents on the alternator's label"),
    ("start_stop.turn_off_v", "turn-off on a bench supply"),
    ("start_stop.turn_on_v", "turn-on on a bench supply"),
    ("vehicle.running_load_a", "a clamp on the alternator's cable, blower and lights on"),
    ("alternator.droop_mohm", "volts at the starter posts with and without a known load"),
    ("house.load_w", "a clamp on the house loads"),
    ("house_battery.start_pct", "the house battery's counter"),
    ("starter_battery.start_pct", "rested volts of the starter battery after hours"),
    ("house_battery.r0_mohm", "volts at the house posts with the unit on and off"),
    ("vehicle.parked_load_a", "milliamps after the vehicle has gone to sleep"),
    ("converter.standby_ma", "milliamps of the unit while off"),
];

/// What nobody typed or measured.
pub fn assumed(told: &Told, out: &mut dyn Write) -> io::Result<()> {
    let named = |pick: fn(&From) -> bool| -> Vec<&str> {
        told.entries.iter().filter(|e| pick(&e.from)).map(|e| e.name.as_str()).collect()
    };
    let defaults = named(|f| matches!(f, From::Default(_)));
    let measured = named(|f| matches!(f, From::Measured { .. }));
    writeln!(out, "\nASSUMED, NOT MEASURED")?;
    if defaults.is_empty() {
        paragraph(out, "Every number was typed or measured.")?;
    } else {
        let first: Vec<String> = WORTH_MEASURING
            .iter()
            .filter(|(name, _)| defaults.contains(name))
            .take(3)
            .map(|(name, how)| format!("{name} ({how})"))
            .collect();
        let worth = if first.is_empty() {
            String::new()
        } else {
            format!(" Most worth measuring: {}.", first.join("; "))
        };
        paragraph(out, &format!("{} numbers are defaults.{worth}", defaults.len()))?;
    }
    let measured = match measured.len() {
        0 => "No number is marked as measured.".to_owned(),
        1 => format!("One number is marked as measured: {}.", measured[0]),
        n => format!("{n} are marked as measured: {}.", measured.join(", ")),
    };
    paragraph(out, &format!("{measured} `tickover model` lists every number with its source."))
}

/// The cautions in two sentences.
pub fn cautions(out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "\nBEFORE ANYONE CUTS A CABLE")?;
    paragraph(
        out,
        "A calculation is no installation approval: local codes, the makers' instructions and licensed practice come first.",
    )?;
    paragraph(
        out,
        "Fuse both ends of each cable; measure before hand-over. The rest: `tickover cautions`, `--full`.",
    )
}

/// What the model leaves out, and the cautions.
pub fn left_out(told: &Told, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "\nLEFT OUT")?;
    let off = super::warmth::effects_off(told);
    if !off.is_empty() {
        paragraph(out, &format!("Here: {}.", off.join("; ")))?;
    }
    paragraph(
        out,
        "Always: losses that change with input voltage; anything faster than about 0.1 s (load dump, ripple, the \
         unit's control loop); cells out of balance; ageing; stratified or sulfated lead-acid. Not validated on vehicles.",
    )?;
    writeln!(out, "\nBEFORE ANYONE CUTS A CABLE")?;
    for caution in [
        "Model result from the inputs listed; verify by measurement before hand-over. It is no installation approval: \
         local codes, the makers' instructions and licensed practice come first.",
        "Fuse both ends of each cable, each as near its battery as practicable. A resistive joint is a heater: a joint too \
         hot to hold is a fire risk.",
        "Do not cure cycling by lowering turn-off before the drop has been measured: it protects the starter battery.",
        "Never disconnect a battery with the engine running. Do not idle an engine in an enclosed space.",
        "The rest: `tickover cautions`.",
    ] {
        paragraph(out, caution)?;
    }
    Ok(())
}
