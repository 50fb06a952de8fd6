//! `tickover compare`: set-ups side by side, and which difference does what.

use crate::Exit;
use crate::args::CompareArgs;
use crate::chart::figures::Heading;
use crate::chart::figures::side_by_side::{Column, Drops, Grade, Row, SideBySide, Taker, side_by_side};
use crate::clock::duration;
use crate::failure::Failure;
use crate::load::{Loaded, load_from};
use crate::numbers::plain;
use crate::outputs::{Outputs, Place};
use crate::printable::printable;
use crate::progress::while_working;
use crate::report::page::{self, paragraph};
use crate::report::{Judged, Told, findings};
use crate::streams::Streams;
use crate::tolerance;
use rayon::iter::{IntoParallelRefIterator, ParallelIterator};
use sim_core::record::Watched;
use sim_core::study::margins::{Against, Limit, Margins};
use sim_core::study::{Difference, Effect, Trial, TrialError};
use sim_core::{Options, Record};
use std::io::{self, Write};
use std::sync::OnceLock;

/// Most set-ups: a page has room for no more.
const MOST: usize = 7;

struct SetUp {
    letter: char,
    name: String,
    loaded: Loaded,
}

/// Runs the command.
pub fn run(args: &CompareArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let set_ups = set_ups(args, io)?;
    let first = &set_ups[0].loaded;
    let inputs = set_ups.iter().flat_map(|s| s.loaded.sources.paths()).collect();
    let place = Place::folder(&args.folder, first.stem.clone(), "compare", first.title(), inputs);
    place.check(&["compare.png"], &mut io.err)?;
    let tolerances = set_ups.iter().map(|s| tolerance::of(&s.loaded.resolved.profile));
    let tolerance = tolerances.fold(0.0, f64::max);
    let options = Options { tolerance, record: Record::Bounded, ..Options::default() };
    let (trials, causes) = while_working(io, "simulating", || {
        let trials: Result<Vec<Trial>, TrialError> =
            set_ups.par_iter().map(|s| Trial::run_with(&s.loaded.case, &options)).collect();
        let trials = trials?;
        let causes: Result<Vec<_>, TrialError> =
            set_ups[1..].par_iter().map(|s| causes(&set_ups[0], s, &trials[0])).collect();
        Ok::<_, Failure>((trials, causes?))
    })?;
    let mut outputs = Outputs::default();
    let scene = side_by_side(&picture(&set_ups, &trials), &args.sheet.theme(), args.sheet.size);
    for (name, bytes) in args.sheet.files(("compare.png", "compare.svg"), &scene)? {
        outputs.add(name, bytes);
    }
    let written = outputs.write(&place, &mut io.err)?;
    page::title(&mut io.out, "Set-ups side by side", &[])?;
    table(&set_ups, &trials, &mut io.out)?;
    verdicts(&set_ups, &trials, &mut io.out)?;
    tell_causes(&set_ups, &trials, &causes, &mut io.out)?;
    page::written(&mut io.out, &written)?;
    Ok(Exit::Done)
}

fn set_ups(args: &CompareArgs, io: &mut Streams) -> Result<Vec<SetUp>, Failure> {
    let mut set_ups = Vec::new();
    let mut add = |name: String, loaded: Loaded| {
        let letter = char::from(b'A' + set_ups.len() as u8);
        set_ups.push(SetUp { letter, name, loaded });
    };
    let many = args.files.len() + args.with.len();
    if !(2..=MOST).contains(&many) {
        return Err(Failure::Usage(format!(
            "{many} set-ups: two to {MOST} are compared; name more files, or changes by --with key=value"
        )));
    }
    for file in &args.files {
        let loaded = load_from(file, &[], &mut io.input)?;
        let own = Some(&loaded.scenario.name).filter(|n| !n.is_empty());
        add(own.unwrap_or(&loaded.stem).clone(), loaded);
    }
    for with in &args.with {
        let words = changes(with);
        add(format!("with {}", words.join(", ")), load_from(&args.files[0], &words, &mut io.input)?);
    }
    Ok(set_ups)
}

/// The changes of one variant: words with a `=`; a word without one belongs to the change before it.
fn changes(with: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in with.split_whitespace() {
        match words.last_mut() {
            Some(last) if !word.contains('=') => *last = format!("{last} {word}"),
            _ => words.push(word.to_owned()),
        }
    }
    words
}

type Cause = (Difference, Result<Effect, TrialError>);

fn causes(a: &SetUp, b: &SetUp, base: &Trial) -> Result<Vec<Cause>, TrialError> {
    let (here, there) = (&a.loaded.case, &b.loaded.case);
    let differences = here.differences(there)?;
    Ok(differences.into_iter().map(|d| (d.clone(), here.effect(there, &d, base))).collect())
}

/// What is compared: name, its figures, how they read.
fn rows(trials: &[Trial]) -> Vec<(&'static str, Vec<String>)> {
    let each = |f: &dyn Fn(&Trial) -> String| trials.iter().map(f).collect::<Vec<_>>();
    let some = |v: Option<f64>, places: usize| v.map_or_else(|| "–".to_owned(), |v| plain(v, places));
    vec![
        ("verdict", each(&|t| t.verdict.word().to_owned())),
        ("least margin to turn-off, V", each(&|t| some(margin_v(t), 2))),
        ("times it came on", each(&|t| t.summary.came_on.to_string())),
        ("drop-outs, engine running", each(&|t| t.summary.dropped_out_driving.to_string())),
        ("out of the unit, Ah", each(&|t| format!("{:.1}", t.summary.unit_output_ah))),
        ("house battery, driving, Ah", each(&|t| change(t.summary.house_gain_driving_ah, 1))),
        ("house battery at the end, %", each(&|t| format!("{:.1}", 100.0 * t.summary.house_end_soc))),
        ("starter battery at the end, %", each(&|t| format!("{:.1}", 100.0 * t.summary.starter_end_soc))),
        ("runs on after key-off", each(&|t| t.summary.ran_on_s.map_or_else(|| "–".to_owned(), duration))),
        ("room to the heat limit, K", each(&|t| some(heat_room_k(t), 0))),
        (
            "fuse, most of its rating, %",
            each(&|t| match fuse_load(t) {
                Some((most, opens)) => format!("{most:.0}{}", if opens { ", opens" } else { "" }),
                None => "–".to_owned(),
            }),
        ),
        ("largest input current, A", each(&|t| some(t.summary.extremes.input_a.map(|m| m.value), 1))),
        ("input cable, mΩ at 20 °C", each(&|t| format!("{:.1}", 1e3 * cable_ohm(t)))),
        ("lost in the input cable, Wh", each(&|t| format!("{:.1}", t.summary.input_cable_loss_wh))),
    ]
}

fn margin_v(t: &Trial) -> Option<f64> {
    t.summary.extremes.margin_v.map(|m| m.value)
}

/// Least that a part stays under its heat limit, K; negative over it.
fn heat_room_k(t: &Trial) -> Option<f64> {
    use Watched::{Case, InputBay, InputCabin, InputJoints, Output, OutputJoints, Winding};
    let parts = [InputBay, InputCabin, Output, InputJoints, OutputJoints, Winding, Case];
    let room = parts.into_iter().filter_map(|p| t.run.stress.peak(p)).map(|p| -p.over());
    room.filter(|r| r.is_finite()).reduce(f64::min).map(f64::round)
}

/// The fuse that carries the greatest share of its rating: that share, %, and whether any fuse opens.
fn fuse_load(t: &Trial) -> Option<(f64, bool)> {
    let fuses = || t.run.fuses.iter();
    let most = fuses().map(|f| 100.0 * f.most_a / f.rating_a).reduce(f64::max)?;
    Some((most.round(), fuses().any(|f| f.opened.is_some())))
}

fn cable_ohm(t: &Trial) -> f64 {
    t.resolved.model.link().input_cable.resistance_ohm()
}

fn table(set_ups: &[SetUp], trials: &[Trial], out: &mut dyn Write) -> io::Result<()> {
    for s in set_ups {
        paragraph(out, &format!("{}  {}", s.letter, printable(&s.name)))?;
    }
    // Three to a block keep to the width of a page.
    for block in (0..trials.len()).collect::<Vec<_>>().chunks(3) {
        write!(out, "\n  {:<31}", "")?;
        for n in block {
            write!(out, "{:>22}", set_ups[*n].letter)?;
        }
        writeln!(out)?;
        for (name, cells) in rows(trials) {
            write!(out, "  {name:<31}")?;
            for n in block {
                write!(out, "{:>22}", cells[*n])?;
            }
            writeln!(out)?;
        }
    }
    Ok(())
}

/// What each set-up comes to, by the judge's first finding.
fn verdicts(set_ups: &[SetUp], trials: &[Trial], out: &mut dyn Write) -> io::Result<()> {
    writeln!(out)?;
    for (s, trial) in set_ups.iter().zip(trials) {
        let (judged, why) = (Judged::of_trial(trial), OnceLock::new());
        let told = Told::of(&s.loaded, &[], &trial.run, &judged, &why);
        paragraph(out, &format!("{}  {}", s.letter, findings::verdict(&told)))?;
    }
    Ok(())
}

fn tell_causes(
    set_ups: &[SetUp],
    trials: &[Trial],
    causes: &[Vec<Cause>],
    out: &mut dyn Write,
) -> io::Result<()> {
    writeln!(out, "\nWHICH DIFFERENCE DOES WHAT, each alone on A")?;
    for ((s, trial), causes) in set_ups[1..].iter().zip(&trials[1..]).zip(causes) {
        if causes.is_empty() {
            paragraph(out, &format!("{}: nothing in it differs from A that matters.", s.letter))?;
            continue;
        }
        let said = |x: &Option<String>| x.clone().unwrap_or_else(|| "its default".into());
        for (d, effect) in causes {
            let change = format!("{}: {} {} in place of {}", s.letter, d.path, said(&d.there), said(&d.here));
            let does = match effect {
                Ok(effect) => does(effect),
                Err(e) => format!("cannot be taken over alone: {e}"),
            };
            paragraph(out, &printable(&format!("{change}: {does}.")))?;
        }
        if causes.len() > 1 {
            let alone: f64 = causes.iter().filter_map(|c| Some(c.1.as_ref().ok()?.output_ah)).sum();
            let all = trial.summary.unit_output_ah - trials[0].summary.unit_output_ah;
            paragraph(
                out,
                &format!(
                    "{}: all together {} Ah out of the unit. The single changes add up to {} Ah.",
                    s.letter,
                    change(all, 1),
                    change(alone, 1)
                ),
            )?;
        }
    }
    Ok(())
}

/// A change with its sign; one that rounds to nothing has none.
fn change(value: f64, places: usize) -> String {
    let text = plain(value, places);
    if value > 0.0 && text != plain(0.0, places) { format!("+{text}") } else { text }
}

fn does(effect: &Effect) -> String {
    let mut parts = vec![effect.outcome.words().to_owned()];
    if let Some(v) = effect.margin_v {
        parts.push(format!("margin {} V", change(v, 2)));
    }
    let none = change(0.0, 1);
    parts.push(match change(effect.output_ah, 1) {
        same if same == none => "as many Ah out of the unit as A".to_owned(),
        more => format!("{more} Ah out of the unit"),
    });
    parts.push(match change(effect.starter_ah, 1) {
        same if same == none => "starter battery as in A".to_owned(),
        more => format!("starter battery {more} Ah"),
    });
    parts.join(", ")
}

/// Where the volts go at the smallest margin, or why there is none.
fn drops(t: &Trial) -> Result<Drops, &'static str> {
    let none = match t.summary.first_on_s {
        Some(_) => "its run signal holds it on: no margin",
        None => "it never comes on",
    };
    drops_at_margin(t).ok_or(none)
}

fn drops_at_margin(t: &Trial) -> Option<Drops> {
    let (model, profile) = (&t.resolved.model, &t.resolved.profile);
    let against = Against::nothing();
    let margins = Margins::of(&t.run, model, profile, &against);
    let m = *margins.to(Limit::TurnOff)?;
    let at = sim_core::Instant::from_s(m.at.t_s);
    let extra_ohm = profile.piece_at(at).input_joint_extra_ohm;
    let (set_v, i) = (m.at.set_point_v?, m.at.input_a);
    let joints_v = i * (model.link().input_cable.joints_ohm + extra_ohm);
    let copper_v = m.at.starter_v - m.at.input_v - joints_v;
    let taker = |name: &'static str, volts_v: f64, in_cable: bool| Taker {
        name,
        volts_v,
        ohm_w: (in_cable && i > 0.0).then_some((volts_v / i, volts_v * i)),
    };
    Some(Drops {
        top_v: set_v,
        takers: vec![
            taker("alternator", set_v - m.at.starter_v, false),
            taker("conductors", copper_v, true),
            taker("joints", joints_v, true),
        ],
        goal_v: m.limit_at,
    })
}

fn picture(set_ups: &[SetUp], trials: &[Trial]) -> SideBySide {
    let column = |name: &str, bad: Option<(f64, bool)>, f: &dyn Fn(&Trial) -> Option<f64>| Column {
        name: name.to_owned(),
        values: trials.iter().map(f).collect(),
        bad,
        notes: Vec::new(),
    };
    let opens = |t: &Trial| fuse_load(t).is_some_and(|f| f.1);
    let fuses = Column {
        notes: trials.iter().map(|t| if opens(t) { "opens" } else { "" }).collect(),
        ..column("fuse, most of its rating, %", Some((100.0, false)), &|t| fuse_load(t).map(|f| f.0))
    };
    let most = trials
        .iter()
        .zip(set_ups)
        .max_by(|a, b| a.0.summary.unit_output_ah.total_cmp(&b.0.summary.unit_output_ah));
    let answer = most.map_or_else(String::new, |(t, s)| {
        format!("{} delivers the most, {:.1} Ah: {}.", s.letter, t.summary.unit_output_ah, t.verdict.word())
    });
    SideBySide {
        heading: Heading {
            title: format!("Side by side: {}", printable(&set_ups[0].name)),
            answer,
            footer: "Each row is a whole run of a model with its own inputs; check with a meter.".into(),
        },
        rows: set_ups
            .iter()
            .zip(trials)
            .map(|(s, t)| {
                let grade = if t.verdict.is_danger() {
                    Grade::Danger
                } else if t.verdict.is_good() {
                    Grade::Good
                } else {
                    Grade::Trouble
                };
                let name = printable(&s.name);
                Row { letter: s.letter, name, outcome: t.verdict.word().to_owned(), grade }
            })
            .collect(),
        columns: vec![
            column("smallest margin, V", Some((0.0, true)), &margin_v),
            column("out of the unit, Ah", None, &|t| Some(t.summary.unit_output_ah)),
            column("drop-outs, driving", Some((0.0, false)), &|t| {
                Some(f64::from(t.summary.dropped_out_driving))
            }),
            column("room to a heat limit, K", Some((0.0, true)), &heat_room_k),
            fuses,
            column("starter battery at the end, %", None, &|t| Some(100.0 * t.summary.starter_end_soc)),
        ],
        drops: trials.iter().map(drops).collect(),
    }
}
