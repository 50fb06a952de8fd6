//! A remedy does what it says: on vehicles with one fault each, the value that is told ends the trouble, and a little less does
//! not.
//!
//! Both are looked for in the events of whole runs of vehicles that are changed here, by hand, in the terms in which a remedy is
//! told; nothing of the search is used but its answer. The vehicles come from fixed seeds: an edge can have gaps behind it (start-up cycles
//! come one by one), so that a fresh vehicle would now and then fail for no fault of the remedy's.

use sim_core::explain::{Counterfactual, Explanation, Kind, Knob, Story, counterfactual};
use sim_core::logic::Stage;
use sim_core::model::{Model, Piece, Profile, SignalUse};
use sim_core::record::{Cause, EventKind};
use sim_core::{Options, Record, Run, simulate};
use sim_tests::day::{PARKED, day};
use sim_tests::dice::Dice;
use sim_tests::faulty::{Fault, draw};
use sim_tests::full::{full_model, warm_driving};

/// Share of a knob's step to which an edge is bracketed, as its documentation says.
const BRACKET: f64 = 0.1;
/// What counts as settled after an engine start, s: a drive's drop-outs before it are its starting up.
const SETTLED_S: f64 = 300.0;

/// Step of a knob's values.
fn step(knob: Knob) -> f64 {
    match knob {
        Knob::LessRun | Knob::LessDroop => 1e-3,
        Knob::OutputLimit | Knob::HouseTemp => 1.0,
        _ => 0.05,
    }
}

/// The vehicle and its drive with a remedy of this value, put in here as the page words it and not by what found it.
fn mended(knob: Knob, value: f64, m: &Model, p: &Profile) -> (Model, Profile) {
    let mut m = m.clone();
    let mut pieces = p.pieces().iter().collect::<Vec<_>>();
    let link = &mut m.links[0];
    match knob {
        Knob::LessRun => {
            let run = &mut link.input_cable;
            let mut left = value;
            // A joint that opens up, then the joints, then copper.
            let opened = pieces.iter().map(|p| p.input_joint_extra_ohm).fold(0.0, f64::max);
            pieces
                .iter_mut()
                .for_each(|p| p.input_joint_extra_ohm = (p.input_joint_extra_ohm - left).max(0.0));
            left = (left - opened).max(0.0);
            let joints_ohm = run.joints_ohm;
            run.joints_ohm = (joints_ohm - left).max(0.0);
            left = (left - joints_ohm).max(0.0);
            let copper_ohm = run.conductor_ohm();
            run.conductors.iter_mut().for_each(|c| c.ohm_20 *= 1.0 - left / copper_ohm);
        }
        Knob::LessDroop => m.alternator.droop_ohm -= value,
        Knob::OutputLimit => link.converter.output_limit_a = value,
        Knob::SetPointFloor => pieces.iter_mut().for_each(|p| p.set_point_v = p.set_point_v.max(value)),
        Knob::TurnOn => link.start_stop.turn_on_v = value,
        Knob::Recharge => link.stages.recharge_v = value,
        Knob::Absorption => {
            link.stages.absorption_v = value;
            link.stages.float_v = link.stages.float_v.min(value);
        }
        Knob::HouseTemp => {
            m.house.start_c = value;
            pieces.iter_mut().for_each(|p| p.air_c = p.air_c.max(value));
        }
        Knob::Dark => pieces.iter_mut().for_each(|p| p.starter_solar_a = 0.0),
        Knob::KeepRunning => {
            let running = *pieces.iter().find(|p| p.engine_runs()).expect("a drive");
            for p in pieces.iter_mut().filter(|p| p.stop_start) {
                (p.engine_rpm, p.run_signal, p.stop_start) = (running.engine_rpm, true, false);
            }
        }
        Knob::SignalHeld => pieces.iter_mut().for_each(|p| p.run_signal = p.engine_runs()),
        Knob::RunClosed => pieces.iter_mut().for_each(|p| p.input_open = false),
    }
    (m, Profile::new(pieces, p.start_clock_s).expect("a drive"))
}

/// How often the trouble of a kind happens in a run, by its events alone, while the story lasted or could have gone on.
fn troubles(kind: Kind, story: &Story, run: &Run) -> usize {
    let mut engine_since = None;
    let mut count = 0;
    for e in &run.events {
        match e.kind {
            EventKind::KeyOn => engine_since = Some(e.t),
            EventKind::KeyOff => engine_since = None,
            _ => {}
        }
        let settled = engine_since.is_some_and(|t| e.t.since(t) >= SETTLED_S);
        let off = e.kind == EventKind::UnitOff;
        let by_volts = off && matches!(e.cause, Cause::InputHeld { .. });
        count += usize::from(match kind {
            Kind::StartUp => by_volts && engine_since.is_some(),
            Kind::OwnDrop | Kind::WeakSource | Kind::SetPoint | Kind::OpenRun => by_volts && settled,
            Kind::SurfaceCharge | Kind::RestedOverTurnOn | Kind::Sun => {
                e.kind == EventKind::UnitOn && engine_since.is_none()
            }
            Kind::StopStart => off && e.t <= story.to,
            Kind::Heat => off && matches!(e.cause, Cause::Heat { .. }),
            Kind::Signal => off && matches!(e.cause, Cause::Signal { .. }) && engine_since.is_some(),
            Kind::Protection => {
                matches!(e.kind, EventKind::ChargeRefused { why: Some(_) }) && e.t <= story.to
            }
            Kind::StageCycling => {
                e.kind == EventKind::Stage { to: Stage::Bulk } && matches!(e.cause, Cause::OutputLow { .. })
            }
        });
    }
    // A new charge once is what stages are for.
    count.saturating_sub(usize::from(kind == Kind::StageCycling))
}

fn light(m: &Model, p: &Profile) -> Run {
    simulate(m, p, &Options { record: Record::Summary, ..Options::default() })
        .unwrap_or_else(|e| panic!("{e}"))
}

/// The remedy of the first story of a kind, tried on both sides of its edge and where it is told.
fn holds(kind: Kind, knob: Knob, m: &Model, p: &Profile) -> Result<Counterfactual, String> {
    let run = simulate(m, p, &Options::default()).map_err(|e| e.to_string())?;
    let told = Explanation::new(&run, m, p);
    let story = told.stories.iter().find(|s| s.kinds.first().is_some_and(|k| k.kind == kind));
    let story = story.ok_or(format!("no story of {kind:?}: {:?}", told.kinds()))?;
    let c = counterfactual::find(&run, m, p, story).ok_or(format!("{kind:?}: no remedy"))?;
    if c.knob != knob {
        return Err(format!("{kind:?}: {:?} for {knob:?}", c.knob));
    }
    let with = |value: f64| {
        let (m, p) = mended(knob, value, m, p);
        troubles(kind, story, &light(&m, &p))
    };
    if troubles(kind, story, &run) == 0 {
        return Err(format!("{kind:?}: no trouble to begin with"));
    }
    let (Some(now), Some(edge), Some(tried)) = (c.now, c.edge, c.tried) else {
        return if with(0.0) == 0 { Ok(c) } else { Err(format!("{kind:?}: {knob:?} does not end it")) };
    };
    let less = edge - (edge - now).signum() * BRACKET * step(knob);
    let counts = [with(tried), with(edge), with(less), with(now)];
    println!("{kind:?} {knob:?}: now {now:.5}, edge {edge:.5}, tried {tried:.5}: {counts:?}");
    let further = (tried - edge) * (edge - now) >= 0.0;
    let good = counts[0] == 0 && counts[1] == 0 && counts[2] > 0 && counts[3] > 0 && further;
    if good { Ok(c) } else { Err(format!("{kind:?} {knob:?}: {c:?}, told/edge/less/now {counts:?}")) }
}

/// What is to be turned for each fault.
fn knob_of(fault: Fault) -> Knob {
    match fault {
        Fault::Joint | Fault::Cable | Fault::WarmJoint | Fault::TurnOff => Knob::LessRun,
        Fault::Band | Fault::LowThresholds => Knob::TurnOn,
        Fault::Alternator | Fault::Idle | Fault::Locker | Fault::OverCurrent => Knob::OutputLimit,
        Fault::Droop => Knob::LessDroop,
        Fault::SetPointFalls | Fault::SetPointPulses => Knob::SetPointFloor,
        Fault::Sun => Knob::Dark,
        Fault::HighVoltage => Knob::Absorption,
        Fault::Cold => Knob::HouseTemp,
        Fault::Stops => Knob::KeepRunning,
        Fault::Recharge => Knob::Recharge,
    }
}

/// A vehicle whose fault shows.
fn faulty(fault: Fault, seed: u64) -> (Model, Profile) {
    let mut dice = Dice::new(seed.wrapping_mul(1_000_003).wrapping_add(fault as u64));
    loop {
        let case = draw(&mut dice, fault);
        if case.share > 1.0 && case.label == [fault.kind()] {
            return (case.model, case.profile);
        }
    }
}

#[test]
fn a_remedy_ends_its_fault_and_a_little_less_does_not() {
    let seed = std::env::var("TICKOVER_SEED").ok().and_then(|s| s.parse().ok()).unwrap_or(7);
    let wrong = std::thread::scope(|scope| {
        let halves = [0, 1].map(|half| {
            scope.spawn(move || {
                let faults = Fault::ALL.iter().skip(half).step_by(2);
                let of = |&fault: &Fault| {
                    let (m, p) = faulty(fault, seed);
                    holds(fault.kind(), knob_of(fault), &m, &p).err().map(|e| format!("{fault:?}: {e}"))
                };
                faults.filter_map(of).collect::<Vec<_>>()
            })
        });
        halves.into_iter().flat_map(|h| h.join().expect("a half of the faults")).collect::<Vec<_>>()
    });
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A run signal that comes and goes.
#[test]
fn a_signal_that_is_held_ends_it() {
    let mut m = full_model();
    m.links[0].start_stop.signal = SignalUse::Required;
    let lost = Piece { run_signal: false, ..warm_driving() };
    let mut stretches = vec![(60.0, PARKED)];
    (0..4).for_each(|_| stretches.extend([(200.0, warm_driving()), (20.0, lost)]));
    holds(Kind::Signal, Knob::SignalHeld, &m, &day(&stretches)).unwrap_or_else(|e| panic!("{e}"));
}

/// Thresholds under the rested volts.
#[test]
fn a_turn_on_over_the_rested_volts_ends_it() {
    let mut m = full_model();
    (m.links[0].start_stop.turn_on_v, m.links[0].start_stop.turn_off_v) = (12.5, 12.2);
    let p = day(&[(3.0 * 3600.0, PARKED)]);
    holds(Kind::RestedOverTurnOn, Knob::TurnOn, &m, &p).unwrap_or_else(|e| panic!("{e}"));
}

/// A run that opens and closes, as a loose plug does.
#[test]
fn a_run_that_stays_closed_ends_it() {
    let m = full_model();
    let open = Piece { input_open: true, ..warm_driving() };
    let mut stretches = vec![(60.0, PARKED), (400.0, warm_driving())];
    (0..3).for_each(|_| stretches.extend([(30.0, open), (300.0, warm_driving())]));
    holds(Kind::OpenRun, Knob::RunClosed, &m, &day(&stretches)).unwrap_or_else(|e| panic!("{e}"));
}
