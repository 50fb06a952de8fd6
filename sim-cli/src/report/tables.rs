//! Tables of a run: summary.json, events.csv, trace.csv. Units are in the names.

use super::Told;
use crate::clock::clock;
use crate::failure::Failure;
use serde::Serialize;
use serde_json::{Map, Value, json};
use sim_core::engine::Stops;
use sim_core::network::Net;
use sim_core::record::Sample;
use sim_core::record::ledger::Line;
use sim_core::resolve::From;
use sim_core::state::{CASE_C, HOUSE, STARTER};

/// The summary, ledgers and origins as JSON.
pub fn summary_json(told: &Told) -> Vec<u8> {
    let ledger = |l: &sim_core::record::Ledger| -> Value {
        let rows = Line::ALL.iter().map(|&line| {
            let key = line.key();
            let (stem, unit) = key.rsplit_once('_').unwrap_or((key, ""));
            let name = if unit == "c" { format!("{stem}_ah") } else { format!("{stem}_wh") };
            (name, json!(l.get(line) / 3600.0))
        });
        Value::Object(rows.collect::<Map<_, _>>())
    };
    let stretches: Vec<Value> = told
        .run
        .stretches
        .iter()
        .map(|s| {
            json!({
                "driving": s.driving,
                "from_s": s.from.as_s(),
                "to_s": s.to.as_s(),
                "house_end_soc": s.end[HOUSE],
                "starter_end_soc": s.end[STARTER],
                "ledger": ledger(&s.ledger),
            })
        })
        .collect();
    let inputs: Map<String, Value> = told
        .entries
        .iter()
        .map(|e| {
            let from = match &e.from {
                From::Typed => json!("typed"),
                From::Measured { plus_minus } => json!({ "measured": { "plus_minus": plus_minus } }),
                From::Default(source) => json!({ "default": source }),
                From::Derived(how) => json!({ "derived": how }),
                From::BuiltIn(source) => json!({ "built_in": source }),
            };
            (e.name.clone(), json!({ "value": e.value, "unit": e.unit, "from": from }))
        })
        .collect();
    let whole = json!({
        "format": 1,
        "name": told.name,
        "ended_early": told.run.ended_early.as_ref().map(ToString::to_string),
        "changed": told.changed,
        "answer": super::page::answer(told),
        "verdict": told.verdict.word(),
        "weight": told.verdict.weight(),
        "findings": findings(told),
        "meter": super::meter::readings(told),
        "temperatures_c": temperatures(told),
        "run_on_band_s": told.run_on_band_s,
        "stop_start": told.stops.map(stop_start),
        "fuses": told.run.fuses,
        "limits_broken": told.broken,
        "stories": stories(told),
        "reasons": told.why().reasons.iter().map(|(f, r)| json!({ "finding": f.kind, "why": r })).collect::<Vec<_>>(),
        "remedies": told.why().remedies,
        "summary": told.summary,
        "ledger": ledger(&told.run.ledger),
        "calendar": super::days::json(told),
        "stretches": stretches,
        "inputs_si": inputs,
        "note": "Model result from the inputs listed; verify by measurement before hand-over.",
    });
    crate::printable::json_text(&whole)
}

/// What the judge found, each with its sentence.
fn findings(told: &Told) -> Vec<Value> {
    let of = |f| {
        let mut row = json!(f);
        row["sentence"] = json!(super::findings::sentence(told, f));
        row
    };
    told.verdict.findings.iter().map(of).collect()
}

/// Stops of stop-start, and those in which the starter battery kept or set the engine running.
fn stop_start(stops: &Stops) -> Value {
    let seconds = |at: &[sim_core::Instant]| at.iter().map(|t| t.as_s()).collect::<Vec<_>>();
    json!({
        "offered": stops.offered,
        "left_running_s": seconds(&stops.kept),
        "started_again_s": seconds(&stops.restarted),
    })
}

/// What repeated itself, with its kinds and their evidence; where stories are alike, the others say by which of them they are
/// told, counted from 0.
fn stories(told: &Told) -> Vec<Value> {
    let why = told.why();
    let of = |n: usize| why.tales.iter().find(|t| t.worst != n && t.others.contains(&n));
    let stories = why.explanation.stories.iter().enumerate();
    stories.map(|(n, s)| json!({ "story": s, "told_by": of(n).map(|t| t.worst) })).collect()
}

/// Every temperature that was followed: at the start, hottest, at the end.
fn temperatures(told: &Told) -> Value {
    let rows = super::warmth::followed(told).into_iter().map(|f| {
        let hottest = super::warmth::hottest(told, f.place);
        let row = json!({
            "start": told.run.start[f.place],
            "hottest": hottest.1,
            "hottest_at_s": hottest.0,
            "end": told.run.end[f.place],
            "limit": f.limit_c,
        });
        (f.what.to_owned(), row)
    });
    Value::Object(rows.collect())
}

/// A CSV table.
pub fn table(head: &[&str], rows: impl Iterator<Item = Vec<String>>) -> Result<Vec<u8>, Failure> {
    let head = head.iter().map(|s| (*s).to_owned()).collect();
    crate::printable::csv_table(std::iter::once(head).chain(rows))
}

/// Names and values of a structure's fields, flat.
fn word(value: &impl Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(Value::String(s)) => s,
        Ok(other) => other.to_string(),
        Err(_) => String::new(),
    }
}

fn volts_amps(net: &Net) -> [f64; 9] {
    [
        net.sb_v,
        net.in_v,
        net.out_v,
        net.house_v,
        net.alternator_a,
        net.input_a,
        net.output_a,
        net.starter_a,
        net.house_a,
    ]
}

const VOLTS_AMPS: [&str; 9] = [
    "starter_posts_v",
    "unit_input_v",
    "unit_output_v",
    "house_posts_v",
    "alternator_a",
    "unit_input_a",
    "unit_output_a",
    "starter_battery_a",
    "house_battery_a",
];

/// One row an event: when, what, from, to, why, values on both sides.
pub fn events_csv(told: &Told) -> Result<Vec<u8>, Failure> {
    let mut head = vec!["time_s", "clock", "what", "from", "to", "cause", "in_words"];
    let sides: Vec<String> =
        ["before", "after"].iter().flat_map(|s| VOLTS_AMPS.map(|v| format!("{s}_{v}"))).collect();
    head.extend(sides.iter().map(String::as_str));
    let mut unit = "off".to_owned();
    let mut stage = "bulk".to_owned();
    let rows = told.run.events.iter().map(move |event| {
        let kind = serde_json::to_value(event.kind).unwrap_or_default();
        let get = |key: &str| kind.get(key).map(|v| v.as_str().map_or_else(|| v.to_string(), str::to_owned));
        let what = get("what").unwrap_or_default();
        let (from, to) = match what.as_str() {
            "unit_on" => (std::mem::replace(&mut unit, "on".into()), "on".to_owned()),
            "unit_off" => {
                // A unit that goes on where it left keeps its stage.
                if !told.model.link().stages.resume {
                    stage = "bulk".into();
                }
                (std::mem::replace(&mut unit, "off".into()), "off".to_owned())
            }
            "stage" => {
                let to = get("to").unwrap_or_default();
                (std::mem::replace(&mut stage, to.clone()), to)
            }
            "loads_shed" if get("shed").as_deref() == Some("true") => ("served".into(), "shed".into()),
            "loads_shed" => ("shed".into(), "served".into()),
            "key_on" => ("parked".into(), "cranking".into()),
            "engine_runs" => ("cranking".into(), "running".into()),
            "alternator_begins" => ("building_up".into(), "charging".into()),
            "key_off" => ("running".into(), "parked".into()),
            "bound" => (get("side").unwrap_or_default(), get("at").unwrap_or_default()),
            "alternator_full" => {
                let full = get("full").unwrap_or_default() == "true";
                let name = |f: bool| if f { "full" } else { "not_full" }.to_owned();
                (name(!full), name(full))
            }
            _ => (get("from").unwrap_or_default(), get("to").unwrap_or_default()),
        };
        let mut row = vec![
            format!("{:.6}", event.t.as_s()),
            clock(told.profile.start_clock_s, event.t.as_s()),
            what,
            from,
            to,
            word(&event.cause),
            super::sections::in_words(told, event),
        ];
        for net in [&event.before, &event.after] {
            row.extend(volts_amps(net).iter().map(|v| format!("{v:.6}")));
        }
        row
    });
    table(&head, rows)
}

/// Most changes of the drive's conditions of which trace.csv shows both sides: a log of days would fill a file that
/// nothing opens, whatever the time between its rows.
const MOST_CHANGES: usize = 5_000;

/// One row a moment.
pub fn trace_csv(told: &Told, every_s: f64) -> Result<Vec<u8>, Failure> {
    let mut head = vec!["time_s", "clock", "engine", "unit", "stage", "limit", "set_point_v"];
    head.extend(VOLTS_AMPS);
    head.extend(["house_load_a", "solar_a", "starter_soc", "house_soc", "case_c"]);
    let (trace, model, profile) = (&told.run.trace, told.model, told.profile);
    let samples: Box<dyn Iterator<Item = Sample>> = if profile.pieces().len() > MOST_CHANGES {
        Box::new(trace.samples_at_switchings(model, profile, every_s))
    } else {
        Box::new(trace.samples(model, profile, every_s))
    };
    let rows = samples.map(|s| {
        let engine = if s.mode.cranking() {
            "cranking"
        } else if s.mode.engine_runs {
            "running"
        } else {
            "parked"
        };
        let mut row = vec![
            format!("{:.6}", s.t.as_s()),
            clock(profile.start_clock_s, s.t.as_s()),
            engine.to_owned(),
            if s.mode.on { "on" } else { "off" }.to_owned(),
            if s.mode.on { word(&s.mode.stage) } else { String::new() },
            word(&s.regime.limit),
            if s.set_point_v.is_finite() { format!("{:.3}", s.set_point_v) } else { String::new() },
        ];
        row.extend(volts_amps(&s.net).iter().map(|v| format!("{v:.6}")));
        row.extend([s.net.house_load_a, s.net.solar_a].map(|v| format!("{v:.6}")));
        row.extend([s.state[STARTER], s.state[HOUSE]].map(|v| format!("{v:.9}")));
        row.push(format!("{:.3}", s.state[CASE_C]));
        row
    });
    table(&head, rows)
}
