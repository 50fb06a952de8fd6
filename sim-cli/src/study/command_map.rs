//! `tickover map`: what the unit does for every pair of thresholds.

use super::args::MapArgs;
use super::conditions::conditions;
use super::pool::Pool;
use crate::Exit;
use crate::chart::figures::Heading;
use crate::chart::figures::threshold_map::{self as figure, MapData, MapLine, SmallMap};
use crate::failure::Failure;
use crate::load::{Loaded, load_from};
use crate::outputs::{Outputs, Place};
use crate::printable::{csv_table, printable};
use crate::progress::while_counting;
use crate::streams::Streams;
use sim_core::study::map_lines::MapLines;
use sim_core::study::sweep::Span;
use sim_core::study::threshold_map::{Crossing, MapPlan, ThresholdMap};
use sim_core::study::{Region, Trial};
use std::io::Write;

/// How near borders are found, V.
const BORDER_V: f64 = 0.010;
/// How near the setting's own distances are found, V.
const OWN_V: f64 = 0.001;
/// Points along each side of a small map.
const SMALL_GRID: usize = 20;

/// Why borders and closed forms differ.
const WHY_OFF: [&str; 5] = [
    "They take the alternator as regulating and the starter battery as full and settled.",
    "Drops out: start-up cycles that outlast the first five minutes count too, so it begins earlier.",
    "Start-up cycles: a turn-on delay lets the source rise before the load comes; a low turn-on is",
    "  passed while the source is still rising, so the unit comes on above it.",
    "Runs on: the form holds the power of the moment of key-off.",
];

/// One thing that can be said of the setting: a move and what it ends in.
struct Reach {
    words: &'static str,
    found: Option<(f64, Region)>,
}

/// Runs the command.
pub fn run(args: &MapArgs, io: &mut Streams) -> Result<Exit, Failure> {
    let loaded = load_from(&args.scenario.file, &args.scenario.set, &mut io.input)?;
    let here = format!("{}-map", loaded.stem);
    let place = Place::folder(&args.folder, here, "map", loaded.title(), loaded.sources.paths());
    place.check(&["map.csv", "borders.csv", "map.png"], &mut io.err)?;
    let pool = Pool::new(args.study.threads)?;
    let plan = |cases, grid: usize| MapPlan {
        cases,
        off_v: span(args.turn_off, grid),
        on_v: span(args.turn_on, grid),
        border_v: BORDER_V,
        tolerance: args.study.tolerance,
    };
    let grid = args.grid as usize;
    let all = conditions(&loaded.case).map_err(|e| Failure::Usage(e.to_string()))?;
    let small = if args.no_conditions { 0 } else { all.len() * SMALL_GRID * SMALL_GRID };
    let big = plan(vec![loaded.case.clone()], grid);
    let (map, smalls) = while_counting(io, "runs", &pool.done, (grid * grid + small) as u64, || {
        let map = big.run(&pool);
        if args.no_conditions {
            return (map, Vec::new());
        }
        let mut smalls: Vec<SmallMap> = all
            .iter()
            .map(|(name, case)| SmallMap {
                name: name.clone(),
                map: plan(vec![case.clone()], SMALL_GRID).run(&pool),
            })
            .collect();
        let cases = all.iter().map(|(_, case)| case.clone()).collect();
        let worst = plan(cases, SMALL_GRID).worst_of(smalls.iter().map(|s| &s.map), &pool);
        smalls.push(SmallMap { name: "the worst of all of these".to_owned(), map: worst });
        (map, smalls)
    });
    let rule = &loaded.resolved.model.link().start_stop;
    let here = (rule.turn_off_v, rule.turn_on_v);
    let nearest = map.nearest(here.0, here.1);
    let own = big.point(here.0, here.1).map(|p| p.region);
    let reaches = own.map_or_else(Vec::new, |own| reaches(&big, here, own, (args.turn_off, args.turn_on)));
    let trial = loaded.case.with("limits.longest_run_on_min", 1e6).ok().and_then(|c| Trial::run(&c).ok());
    let lines = trial.as_ref().and_then(MapLines::of);
    let limit_s = 60.0 * loaded.scenario.limits.longest_run_on_min.as_ref().map_or(10.0, |n| n.value);

    let title = loaded.title();
    let footer = format!(
        "Turn-off {:.2} V, turn-on {:.2} V as set (cross). {} runs of the scenario's drive, {:.1} events each on average; \
         borders found to 10 mV. Predicted for these inputs; not validated on vehicles.",
        here.0,
        here.1,
        map.runs,
        map.mean_events()
    );
    let answer = answer(own, nearest.as_ref());
    let heading = Heading { title: format!("{title}: threshold map"), answer: answer.clone(), footer };
    let theme = args.pictures.theme();
    let data = MapData {
        heading,
        map: &map,
        lines: lines.map_or_else(Vec::new, |l| drawn(&l, args, limit_s)),
        setting: Some((here, nearest.map(|(_, c)| (c.off_v, c.on_v)))),
    };
    let mut outputs = Outputs::default();
    outputs.add("map.csv", points_csv(&map)?);
    outputs.add("borders.csv", borders_csv(&map, lines.as_ref(), limit_s)?);
    let scene = figure::threshold_map(&data, &theme, args.pictures.size);
    args.pictures.add(["map.png", "map.svg"], &scene, &mut outputs)?;
    if let Some(worst) = smalls.last() {
        let good = worst.map.area_v2(Region::Good);
        let heading = Heading {
            title: format!("{title}: threshold map under other conditions"),
            answer: if good > 0.0 {
                format!("{good:.2} V² of thresholds are good under all of them (last map).")
            } else {
                "No pair of thresholds is good under all of them (last map): look at a run signal.".to_owned()
            },
            footer: "One thing changed at a time; the cross is the setting. Predicted for these inputs."
                .to_owned(),
        };
        let scene = figure::small_maps(&heading, &smalls, here, &theme, args.pictures.size);
        args.pictures.add(["map-conditions.png", "map-conditions.svg"], &scene, &mut outputs)?;
    }
    let written = outputs.write(&place, &mut io.err)?;
    if !args.study.quiet {
        page(&loaded, &map, &answer, &reaches, lines.as_ref(), limit_s, &mut io.out)?;
        conditions_told(&smalls, &mut io.out)?;
        writeln!(io.out, "\nWRITTEN")?;
        for path in written {
            writeln!(io.out, "  {}", printable(&path.display().to_string()))?;
        }
    }
    Ok(Exit::Done)
}

fn span((from, to): (f64, f64), count: usize) -> Vec<f64> {
    Span { from, to, count, log: false }.iter().collect()
}

fn answer(own: Option<Region>, nearest: Option<&(f64, Crossing)>) -> String {
    let Some(own) = own else {
        return "The thresholds as set make no run: turn-on has to stand above turn-off.".to_owned();
    };
    let now = match own {
        Region::Good => "As set, the unit comes on, stays on and goes off soon after a stop.",
        Region::StartUpCycles => "As set, the unit drops out and comes back in the first minutes of a drive.",
        Region::ComesBack => "As set, the unit comes on again with the engine stopped.",
        Region::RunsOn => "As set, the unit runs on for long after a stop.",
        Region::OtherTrouble => "As set, there is other trouble: `tickover run` says which.",
        Region::Hunts => "As set, the unit drops out on low input volts.",
        Region::NeverStarts => "As set, the unit never comes on.",
        Region::Danger => "As set, there is a danger: `tickover run` says which.",
    };
    match nearest {
        Some((far, c)) => {
            let beyond = if c.from == own { c.to } else { c.from };
            format!("{now} The nearest border is {far:.2} V away; beyond it: {}.", beyond.words())
        }
        None => format!("{now} No border lies on this map."),
    }
}

/// How far each threshold can be moved by itself, found by simulating along the way.
fn reaches(plan: &MapPlan, here: (f64, f64), own: Region, span: ((f64, f64), (f64, f64))) -> Vec<Reach> {
    let ((off_low, off_high), (on_low, on_high)) = span;
    let moves = [
        ("turn-off raised", (off_high.min(here.1 - 0.01), here.1)),
        ("turn-off lowered", (off_low, here.1)),
        ("turn-on raised", (here.0, on_high)),
        ("turn-on lowered", (here.0, on_low.max(here.0 + 0.01))),
    ];
    let fine = MapPlan { border_v: OWN_V, ..plan.clone() };
    moves
        .into_iter()
        .map(|(words, end)| {
            let at = |u: f64| (here.0 + u * (end.0 - here.0), here.1 + u * (end.1 - here.1));
            let steps = 24;
            let other = (1..=steps).map(|k| f64::from(k) / f64::from(steps)).find_map(|u| {
                let (off, on) = at(u);
                let region = fine.point(off, on)?.region;
                (region != own).then_some((u, region))
            });
            let found = other.and_then(|(u, region)| {
                let last = at(u - 1.0 / f64::from(steps));
                let (crossing, _) = fine.bisect(last, at(u), (own, Some(region)));
                let c = crossing?;
                Some((if words.starts_with("turn-off") { c.off_v } else { c.on_v }, c.to))
            });
            Reach { words, found }
        })
        .collect()
}

fn drawn(lines: &MapLines, args: &MapArgs, limit_s: f64) -> Vec<MapLine> {
    let (off, on) = (args.turn_off, args.turn_on);
    let upright = |v: f64| vec![(v, on.0), (v, on.1)];
    let over = |f: &dyn Fn(f64) -> f64| {
        (0..=200).map(|k| off.0 + (off.1 - off.0) * f64::from(k) / 200.0).map(|v| (v, f(v))).collect()
    };
    let line = |name: &str, points| MapLine { name: name.to_owned(), points, guide: false };
    let never = lines.never_starts_v();
    let mut all = vec![
        line("drops out from here\n(drop under load)", upright(lines.hunts_v())),
        line("never comes on from here\n(no load)", vec![(off.0, never), (off.1, never)]),
        line("start-up cycles below\n(drop at once)", over(&|v| lines.start_up_v(v))),
    ];
    if let Some(v) = lines.runs_on_v(limit_s) {
        all.push(line("runs on below (starter\nbattery relaxing)", upright(v)));
    }
    let points = over(&|v| lines.wide_enough_v(v));
    all.push(MapLine {
        name: "wide enough whatever the\nset-point; no border".to_owned(),
        points,
        guide: true,
    });
    all
}

fn points_csv(map: &ThresholdMap) -> Result<Vec<u8>, Failure> {
    let head = ["turn_off_v", "turn_on_v", "behaviour", "ah_per_drive_hour", "starter_taken_ah", "events"];
    let rows = map.points.iter().enumerate().map(|(n, point)| {
        let (off, on) = (map.off_v[n % map.off_v.len()], map.on_v[n / map.off_v.len()]);
        let mut row = vec![off.to_string(), on.to_string()];
        row.extend(match point {
            Some(p) => [
                p.region.words().to_owned(),
                format!("{:.5}", p.ah_per_drive_hour),
                format!("{:.5}", p.starter_taken_ah),
                p.events.to_string(),
            ],
            None => ["impossible".to_owned(), String::new(), String::new(), String::new()],
        });
        row
    });
    csv_table(std::iter::once(head.map(str::to_owned).to_vec()).chain(rows))
}

/// The closed form that speaks of a border, as (turn-off, turn-on); `None` where none does.
fn form_of(c: &Crossing, lines: &MapLines, limit_s: f64) -> Option<(&'static str, f64, f64)> {
    let two = |region| c.from == region || c.to == region;
    if two(Region::NeverStarts) {
        let v = lines.never_starts_v();
        Some(("never comes on", v, c.on_v - v))
    } else if two(Region::Hunts) {
        let v = lines.hunts_v();
        Some(("drops out", v, c.off_v - v))
    } else if two(Region::StartUpCycles) && two(Region::Good) {
        let v = lines.start_up_v(c.off_v);
        Some(("start-up cycles", v, c.on_v - v))
    } else if two(Region::RunsOn) && (c.off_v - c.on_v).abs() > 0.02 {
        let v = lines.runs_on_v(limit_s)?;
        Some(("runs on", v, c.off_v - v))
    } else {
        None
    }
}

fn borders_csv(map: &ThresholdMap, lines: Option<&MapLines>, limit_s: f64) -> Result<Vec<u8>, Failure> {
    let head = ["turn_off_v", "turn_on_v", "from", "to", "closed_form", "closed_form_v", "difference_v"];
    let rows = map.crossings().map(|c| {
        let mut row = vec![
            format!("{:.4}", c.off_v),
            format!("{:.4}", c.on_v),
            c.from.words().to_owned(),
            c.to.words().to_owned(),
        ];
        row.extend(match lines.and_then(|l| form_of(c, l, limit_s)) {
            Some((name, v, by)) => [name.to_owned(), format!("{v:.4}"), format!("{by:.4}")],
            None => [String::new(), String::new(), String::new()],
        });
        row
    });
    csv_table(std::iter::once(head.map(str::to_owned).to_vec()).chain(rows))
}

fn page(
    loaded: &Loaded,
    map: &ThresholdMap,
    answer: &str,
    reaches: &[Reach],
    lines: Option<&MapLines>,
    limit_s: f64,
    out: &mut dyn Write,
) -> Result<(), Failure> {
    writeln!(out, "{}: threshold map", printable(&loaded.scenario.name))?;
    writeln!(out, "ANSWER    {answer}")?;
    writeln!(out, "\nMOVING ONE THRESHOLD                      goes until       then")?;
    for reach in reaches {
        match reach.found {
            Some((v, region)) => writeln!(out, "   {:<38} {v:>7.3} V     {}", reach.words, region.words())?,
            None => writeln!(out, "   {:<38} no change on this map", reach.words)?,
        }
    }
    writeln!(out, "\nAREA OF EACH BEHAVIOUR, V²")?;
    for region in Region::ALL {
        writeln!(out, "   {:<38} {:>7.3}", region.words(), map.area_v2(region))?;
    }
    if let Some(lines) = lines {
        writeln!(out, "\nBORDERS AGAINST CLOSED FORMS              form      the map lies off by, V")?;
        let mut by_form: Vec<(&'static str, f64, f64, f64)> = Vec::new();
        for (name, v, by) in map.crossings().filter_map(|c| form_of(c, lines, limit_s)) {
            match by_form.iter_mut().find(|f| f.0 == name) {
                Some(f) => (f.2, f.3) = (f.2.min(by), f.3.max(by)),
                None => by_form.push((name, v, by, by)),
            }
        }
        for (name, v, low, high) in by_form {
            let form = if name == "start-up cycles" { "slanted".to_owned() } else { format!("{v:.3} V") };
            writeln!(out, "   {name:<38} {form:<9} {low:+.3} to {high:+.3}")?;
        }
        for line in WHY_OFF {
            writeln!(out, "   {line}")?;
        }
    }
    writeln!(
        out,
        "\n{} runs, {:.1} events each on average{}",
        map.runs,
        map.mean_events(),
        if map.failed > 0 { format!("; {} points could not be run", map.failed) } else { String::new() }
    )?;
    writeln!(out, "Do not cure cycling by lowering turn-off before the drop has been measured.")?;
    Ok(())
}

fn conditions_told(smalls: &[SmallMap], out: &mut dyn Write) -> Result<(), Failure> {
    if smalls.is_empty() {
        return Ok(());
    }
    writeln!(out, "\nGOOD THRESHOLDS UNDER OTHER CONDITIONS, V²")?;
    for one in smalls {
        writeln!(out, "   {:<38} {:>7.3}", one.name, one.map.area_v2(Region::Good))?;
    }
    Ok(())
}
