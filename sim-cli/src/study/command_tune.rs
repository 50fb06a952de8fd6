//! `tickover tune`: the settings that deliver most in the worst case, within limits.

use super::args::TuneArgs;
use super::pool::Pool;
use crate::Exit;
use crate::chart::figures::Heading;
use crate::chart::figures::trade_off::{TradeOffData, trade_off};
use crate::failure::Failure;
use crate::load::{StudyWords, load_study, output_stem};
use crate::outputs::{Outputs, Place};
use crate::printable::{csv_table, printable};
use crate::problems::count;
use crate::progress::while_counting;
use crate::report::page::paragraph;
use crate::streams::Streams;
use sim_core::judge::Weight;
use sim_core::judge::guard_rails::least_turn_off_v;
use sim_core::scenario::node::Value;
use sim_core::study::tune::{Candidate, Knob, Limit, Limited, Score, TunePlan, Tuned};
use sim_core::study::{Case, Trial};
use std::io::Write;

/// Most cases that one setting can serve.
const MOST_CASES: u64 = 10_000;
/// What counts as nearly as good, share of the best.
const NEARLY: f64 = 0.98;

/// Runs the command.
pub fn run(args: &TuneArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let pool = Pool::new(args.study.threads)?;
    let mut cases: Vec<Case> = Vec::new();
    let (mut names, mut inputs) = (Vec::new(), Vec::new());
    let mut limit_a = f64::INFINITY;
    for file in &args.files {
        let words = StudyWords { set: &args.set, tolerance: args.study.tolerance, ..StudyWords::default() };
        let study = load_study(file, words, &mut io.input)?;
        let jobs = study.sweep.len().filter(|n| *n <= MOST_CASES).ok_or_else(|| {
            Failure::Usage(format!("{} makes more than {MOST_CASES} cases", file.display()))
        })?;
        limit_a = limit_a.min(study.base.resolved.model.link().converter.output_limit_a);
        for n in 0..jobs {
            let case = study.sweep.case(&study.sweep.job(n)).map_err(|e| Failure::Usage(e.to_string()))?;
            cases.push(case);
        }
        names.push(study.name.clone());
        inputs.extend(study.inputs);
    }
    let here = format!("{}-tune", output_stem(&args.files[0]));
    let place = Place::folder(&args.folder, here, "tune", &names[0], inputs);
    place.check(&["tried.csv", "trade-off.png"], &mut io.err)?;
    let plan = TunePlan {
        cases,
        knobs: knobs(limit_a),
        limits: limits(args),
        candidates: args.candidates,
        seed: args.seed,
        tolerance: args.study.tolerance,
    };
    let expected = args.candidates + 7 * (16 + 2 * plan.knobs.len() as u64) + 60;
    let tuned = while_counting(io, "settings", &pool.done, expected, || plan.run(&pool));
    let signal = with_signal(&plan);
    let signalled =
        while_counting(io, "settings with a run signal", &pool.done, 2 * expected, || signal.run(&pool));
    let flats: Vec<(f64, f64)> = match &tuned.best {
        Some(best) => (0..plan.knobs.len()).map(|k| plan.flat(&pool, best, k, NEARLY)).collect(),
        None => Vec::new(),
    };
    let title = names.first().cloned().unwrap_or_default();
    let title = if names.len() > 1 { format!("{title} and {} more", names.len() - 1) } else { title };
    let signal = offered(&plan, &tuned, &signalled);
    let answer = answer(&plan, &tuned, &signal);
    let heading = Heading {
        title: format!("{title}: settings"),
        answer: answer.clone(),
        footer: format!(
            "{}, {} settings tried; each figure is the worst over all cases. {}. Predicted for these inputs.",
            count(plan.cases.len(), "case"),
            tuned.tried.len(),
            limits_told(&plan.limits)
        ),
    };
    let mut outputs = Outputs::default();
    outputs.add("tried.csv", csv(&plan, &tuned)?);
    let scene = trade_off(&picture(&plan, &tuned, heading), &args.pictures.theme(), args.pictures.size);
    args.pictures.add(["trade-off.png", "trade-off.svg"], &scene, &mut outputs)?;
    let written = outputs.write(&place, &mut io.err)?;
    if !args.study.quiet {
        let out = &mut io.out;
        writeln!(out, "{}: {}", printable(&title), count(plan.cases.len(), "case"))?;
        writeln!(out, "ANSWER    {answer}")?;
        page(&plan, &tuned, &flats, &pool, out)?;
        signal_told(&tuned, &signal, out)?;
        writeln!(
            out,
            "\nDo not cure cycling by lowering turn-off before the drop has been measured.\n\nWRITTEN"
        )?;
        for path in written {
            writeln!(out, "  {}", printable(&path.display().to_string()))?;
        }
    }
    Ok(if tuned.best.is_some() { Exit::Done } else { Exit::LimitBroken })
}

fn knobs(limit_a: f64) -> Vec<Knob> {
    let knob = |path: &str, from: f64, to: f64, step: f64| Knob { path: path.to_owned(), from, to, step };
    vec![
        knob("start_stop.turn_on_v", 12.8, 14.4, 0.05),
        knob("start_stop.turn_off_v", 11.8, 13.4, 0.05),
        knob("start_stop.turn_on_delay_s", 5.0, 120.0, 5.0),
        knob("start_stop.turn_off_delay_s", 1.0, 30.0, 1.0),
        knob(
            "converter.output_limit_a",
            (0.2 * limit_a).ceil().min(limit_a),
            limit_a,
            if limit_a > 10.0 { 1.0 } else { 0.1 },
        ),
    ]
}

fn limits(args: &TuneArgs) -> Vec<Limit> {
    let pairs = [
        (Limited::StarterPct, args.least_starter_pct),
        (Limited::Switchings, args.most_switchings),
        (Limited::HottestC, args.hottest_c),
        (Limited::RunOnMin, args.longest_run_on_min),
    ];
    pairs.into_iter().filter_map(|(on, value)| value.map(|value| Limit { on, value })).collect()
}

/// The same search for units that start and stop by a run signal as well.
fn with_signal(plan: &TunePlan) -> TunePlan {
    let required = |case: &Case| case.with_value("start_stop.signal", Value::Text("required".into()));
    let cases = plan.cases.iter().filter_map(|c| required(c).ok()).collect();
    TunePlan { cases, ..plan.clone() }
}

/// What a run signal would come to, or why none is offered: while a danger stands, or where the starter battery pays for it.
fn offered<'a>(
    plan: &TunePlan,
    tuned: &Tuned,
    signalled: &'a Tuned,
) -> Result<Option<&'a Score>, &'static str> {
    let danger = |case: &Case| Trial::run_of_many(case).is_ok_and(|t| t.verdict.is_danger());
    if plan.cases.iter().any(danger) {
        return Err("is not offered while there is a danger: mend that first");
    }
    let score = |t: &'a Tuned| t.best.as_ref().and_then(|b| b.score.as_ref());
    let pays = |by_volts: Score, with: &Score| by_volts.starter_pct - with.starter_pct > SIGNAL_PAYS_PCT;
    let by_volts = tuned.best.as_ref().and_then(|b| b.score);
    match score(signalled) {
        Some(with) if by_volts.is_some_and(|v| pays(v, with)) => {
            Err("is not offered: the starter battery would pay for it")
        }
        found => Ok(found),
    }
}

/// How much further down the starter battery may go with a run signal, % of full.
const SIGNAL_PAYS_PCT: f64 = 2.0;

fn told(limit: &Limit) -> String {
    match limit.on {
        Limited::StarterPct => format!("starter battery at least {} %", limit.value),
        Limited::Switchings => format!("at most {} starts a drive", limit.value),
        Limited::HottestC => format!("no conductor over {} °C", limit.value),
        Limited::RunOnMin => format!("at most {} min on after a stop", limit.value),
    }
}

fn limits_told(limits: &[Limit]) -> String {
    if limits.is_empty() {
        return "No limits".to_owned();
    }
    format!("Limits: {}", limits.iter().map(told).collect::<Vec<_>>().join(", "))
}

fn setting(plan: &TunePlan, values: &[f64]) -> String {
    let pairs = plan.knobs.iter().zip(values).map(|(k, v)| {
        let name = k.path.split('.').next_back().unwrap_or_default();
        let (words, unit) = name.rsplit_once('_').unwrap_or((name, ""));
        format!(
            "{} {v} {}",
            words.replace("turn_", "turn-").replace('_', " "),
            unit.to_uppercase().replace('S', "s")
        )
    });
    pairs.collect::<Vec<_>>().join(", ")
}

fn answer(plan: &TunePlan, tuned: &Tuned, signal: &Result<Option<&Score>, &str>) -> String {
    match tuned.best.as_ref().and_then(|b| b.score.map(|s| (b, s))) {
        Some((best, score)) => {
            let setting = setting(plan, &best.values);
            let (first, rest) = setting.split_at(1);
            let trouble = match score.verdict {
                (Weight::Trouble | Weight::Danger, word) => format!(" No setting is without trouble: {word}."),
                _ => String::new(),
            };
            format!(
                "{}{rest}: {:.1} Ah per drive-hour in the worst case.{trouble}",
                first.to_uppercase(),
                score.ah_per_drive_hour
            )
        }
        None if matches!(signal, Ok(Some(_))) => {
            "No setting that was tried holds all limits without a danger by voltage alone; with a run signal there is one."
                .to_owned()
        }
        None if signal.is_err() => "No setting that was tried holds all limits without a danger.".to_owned(),
        None => "No setting that was tried holds all limits without a danger, with a run signal or without.".to_owned(),
    }
}

fn line(score: Option<Score>, limits: &[Limit]) -> String {
    let Some(s) = score else { return "not allowed, or cannot be run".to_owned() };
    let limited = limits.iter().any(|l| l.on == Limited::HottestC);
    let hot = if limited { format!(" {:6.1} °C", s.hottest_c) } else { String::new() };
    format!(
        "{:7.2} Ah/h  {:5.1} %  {:6.1} starts  {:6.1} min{hot}{}",
        s.ah_per_drive_hour,
        s.starter_pct,
        s.switchings,
        s.run_on_min,
        match s.verdict {
            _ if !s.within(limits) => "  breaks a limit".to_owned(),
            (Weight::Trouble | Weight::Danger, word) => format!("  {word}"),
            _ => String::new(),
        }
    )
}

fn page(
    plan: &TunePlan,
    tuned: &Tuned,
    flats: &[(f64, f64)],
    pool: &Pool,
    out: &mut dyn Write,
) -> Result<(), Failure> {
    writeln!(out, "{}", limits_told(&plan.limits))?;
    if let Some((_, first)) = plan.cases.first().and_then(|c| c.resolve().ok()) {
        let least_v = least_turn_off_v(&first.model);
        paragraph(
            out,
            &format!(
                "Not allowed, whatever it gains: a lower turn-off than {least_v:.2} V where volts alone decide (the rested \
                 starter battery and room), charge volts over what a battery bears, a fuse over what its cable carries."
            ),
        )?;
    }
    if let Some(best) = &tuned.best {
        writeln!(
            out,
            "\nCHOSEN, AND ONE STEP AWAY                Ah/drive-h  starter  a drive    on parked"
        )?;
        writeln!(
            out,
            "   {:<36} {}",
            "as chosen, simulated once more",
            line(plan.score(&best.values), &plan.limits)
        )?;
        for next in plan.neighbours(&best.values) {
            let moved = plan.knobs.iter().zip(&next).zip(&best.values).find(|((_, a), b)| a != b);
            let Some(((knob, value), _)) = moved else { continue };
            let words = format!("{} {value}", knob.path);
            writeln!(out, "   {words:<36} {}", line(plan.score(&next), &plan.limits))?;
        }
        writeln!(
            out,
            "\nHOW FLAT IT IS: within all limits and at least {:.0} % of the best, alone",
            100.0 * NEARLY
        )?;
        for (knob, (low, high)) in plan.knobs.iter().zip(flats) {
            writeln!(out, "   {:<36} from {low} to {high}", knob.path)?;
        }
        let most = best.score.map_or(0.0, |s| s.ah_per_drive_hour);
        if !plan.limits.is_empty() {
            writeln!(
                out,
                "\nWHAT EACH LIMIT COSTS: more that something tried delivers without it, Ah per drive-hour"
            )?;
        }
        for (n, limit) in plan.limits.iter().enumerate() {
            let others: Vec<Limit> = without(&plan.limits, n);
            // The search without the limit, not only what the search with it came across.
            let free = TunePlan { limits: others.clone(), ..plan.clone() }.run(pool);
            let without = free.best.and_then(|b| b.score).map(|s| s.ah_per_drive_hour);
            let more = without.or(tuned.most_within(&others)).map_or(0.0, |v| (v - most).max(0.0));
            writeln!(out, "   {:<48} {more:6.2}", told(limit))?;
        }
        return Ok(());
    }
    writeln!(out, "\nWHICH LIMITS CANNOT BOTH HOLD, of {} settings tried", tuned.tried.len())?;
    let mut found = false;
    for (n, a) in plan.limits.iter().enumerate() {
        if tuned.most_within(&[*a]).is_none() {
            writeln!(out, "   alone: {}", told(a))?;
            found = true;
        }
        for b in &plan.limits[n + 1..] {
            let each = [a, b].iter().all(|l| tuned.most_within(&[**l]).is_some());
            if each && tuned.most_within(&[*a, *b]).is_none() {
                writeln!(out, "   {} with {}", told(a), told(b))?;
                found = true;
            }
        }
    }
    if !found {
        writeln!(out, "   each two hold together in some setting; all of them in none")?;
    }
    Ok(())
}

fn without(limits: &[Limit], n: usize) -> Vec<Limit> {
    limits.iter().enumerate().filter(|(k, _)| *k != n).map(|(_, l)| *l).collect()
}

fn signal_told(
    tuned: &Tuned,
    signal: &Result<Option<&Score>, &str>,
    out: &mut dyn Write,
) -> Result<(), Failure> {
    let by_volts = tuned.best.as_ref().and_then(|b| b.score).map(|s| s.ah_per_drive_hour);
    let with = match signal {
        Ok(found) => found.map(|s| s.ah_per_drive_hour),
        Err(why) => {
            writeln!(out, "\nA RUN SIGNAL {why}.")?;
            return Ok(());
        }
    };
    let words = match (by_volts, with) {
        (Some(a), Some(b)) if b > a + 0.05 => {
            format!("would help: {b:.2} in place of {a:.2} Ah per drive-hour")
        }
        (Some(_), Some(_)) => "would not deliver more".to_owned(),
        (None, Some(b)) => format!("would make it possible: {b:.2} Ah per drive-hour"),
        (_, None) => "would not help".to_owned(),
    };
    writeln!(out, "\nA RUN SIGNAL that must agree with the voltage {words}.")?;
    Ok(())
}

fn picture(plan: &TunePlan, tuned: &Tuned, heading: Heading) -> TradeOffData {
    let pair = |s: Score| (s.starter_pct, s.ah_per_drive_hour);
    let scores = || tuned.tried.iter().filter_map(|c| c.score);
    TradeOffData {
        heading,
        outside: scores().filter(|s| !s.within(&plan.limits)).map(pair).collect(),
        within: scores().filter(|s| s.within(&plan.limits)).map(pair).collect(),
        front: tuned.front(&plan.limits).iter().filter_map(|c| c.score).map(pair).collect(),
        best: tuned.best.as_ref().and_then(|b| b.score).map(pair),
    }
}

fn csv(plan: &TunePlan, tuned: &Tuned) -> Result<Vec<u8>, Failure> {
    let mut head: Vec<String> = plan.knobs.iter().map(|k| k.path.clone()).collect();
    head.extend(
        [
            "ah_per_drive_hour",
            "starter_low_pct",
            "starts_per_drive",
            "hottest_conductor_c",
            "on_parked_min",
            "within_limits",
            "verdict",
        ]
        .map(str::to_owned),
    );
    let rows = tuned.tried.iter().map(|Candidate { values, score }| {
        let mut row: Vec<String> = values.iter().map(|v| format!("{v:.4}")).collect();
        match score {
            Some(s) => {
                let hot = if s.hottest_c.is_finite() { format!("{:.2}", s.hottest_c) } else { String::new() };
                row.extend([
                    format!("{:.4}", s.ah_per_drive_hour),
                    format!("{:.4}", s.starter_pct),
                    format!("{:.3}", s.switchings),
                    hot,
                    format!("{:.3}", s.run_on_min),
                    if s.within(&plan.limits) { "yes" } else { "no" }.to_owned(),
                    s.verdict.1.to_owned(),
                ]);
            }
            None => row.extend(["", "", "", "", "", "cannot be run", ""].map(str::to_owned)),
        }
        row
    });
    csv_table(std::iter::once(head).chain(rows))
}
