//! What `check` takes, a run finishes: cases that once stalled, each by its own cause.

use sim_cli::load::{Loaded, load_from};
use sim_core::record::{Event, EventKind};
use sim_core::{Options, Run, RunError, Stepper, simulate, simulate_as_far};
use std::path::Path;

fn loaded(text: &str) -> Loaded {
    let mut input = text.as_bytes();
    load_from(Path::new("-"), &[], &mut input).unwrap_or_else(|e| panic!("{}", e.told(false).0))
}

/// A scenario with both steppers at a tolerance: they go through the same events.
fn both(text: &str, tolerance: f64) -> Run {
    let l = loaded(text);
    let run = |stepper| {
        let options = Options { tolerance, stepper, ..Options::default() };
        simulate(&l.resolved.model, &l.resolved.profile, &options).expect("it finishes")
    };
    let (fast, reference) = (run(Stepper::Fast), run(Stepper::Reference));
    let kinds = |r: &Run| r.events.iter().map(|e| e.kind).collect::<Vec<_>>();
    assert_eq!(kinds(&fast), kinds(&reference));
    fast
}

/// A set-point that moves 7 nV in the nanosecond to which its arrival is located went past its target and back for ever.
#[test]
fn a_quick_set_point_arrives() {
    let run = both(
        "format = 2\n[alternator]\nidle_a = 90\nrated_a = 100\nregulation = \"variable\"\nslew_up_v_per_s = 7\nslew_down_v_per_s = 7\n[[drive.piece]]\n\
         duration_h = 2\nengine_rpm = 600\n",
        1e-8,
    );
    assert!(run.statistics.steps < 2000, "{:?}", run.statistics);
}

/// The same at the ends of the range, and for each phase of the engine.
#[test]
fn a_set_point_arrives_at_any_rate() {
    for slew in [0.001, 0.05, 1.0, 2.0, 10.0] {
        let phases = ["cruise", "overrun", "accelerating", "idle"];
        let pieces = phases
            .map(|p| format!("[[drive.piece]]\nduration_s = 300\nengine_rpm = 1800\nphase = \"{p}\"\n"))
            .concat();
        let head = format!(
            "format = 2\n[alternator]\nregulation = \"variable\"\nslew_up_v_per_s = {slew}\nslew_down_v_per_s = {slew}\n"
        );
        let run = both(&(head + &pieces), 1e-8);
        assert!(run.statistics.steps < 5000, "{slew} V/s: {:?}", run.statistics);
    }
}

/// The input touches turn-off at the top of its bend, where its slope is next to nothing: it passed it to and fro by rounding,
/// nanoseconds apart, and a run of a day took minutes.
#[test]
fn a_threshold_that_is_touched_is_passed_once() {
    let van = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/reference-van-full.toml");
    let set = ["start_stop.turn_off_v=13.3719".to_owned()];
    let l = sim_cli::load::load(&van, &set).expect("a shipped scenario");
    for tolerance in [1e-4, 1e-5, 1e-6, 1e-8] {
        let options = Options { tolerance, ..Options::default() };
        let run = simulate(&l.resolved.model, &l.resolved.profile, &options).expect("it finishes");
        // Since the regulator warms the unit hunts there for a while: some 160 switchings of 30 steps each at the tightest.
        assert!(run.statistics.steps < 10_000, "{tolerance}: {:?}", run.statistics);
    }
}

/// A filter of 0.1 µs asked for steps of nanoseconds; under a millisecond it is none.
#[test]
fn a_filter_of_next_to_nothing_is_none() {
    let with = |filter_s: &str| {
        format!(
            "format = 2\n[start_stop]\nfilter_s = {filter_s}\n[[drive.piece]]\nduration_h = 1\nengine_rpm = 2000\n"
        )
    };
    let (without, tiny) = (both(&with("0"), 1e-8), both(&with("1e-7"), 1e-8));
    assert_eq!(without.events, tiny.events);
    // The shortest that is one delays what the unit sees by itself.
    let short = both(&with("0.001"), 1e-8);
    let on = |r: &Run| r.events.iter().find(|e| e.kind == EventKind::UnitOn).expect("it comes on").t.as_s();
    assert!((0.0..0.1).contains(&(on(&short) - on(&without))), "{} and {}", on(&short), on(&without));
}

/// A unit without delays behind a thin cable comes on and drops out a hundred times a second: the run ends there and says so,
/// and a run that must go to the end of its drive is an error.
#[test]
fn chatter_ends_a_run_with_its_finding() {
    let l = loaded(
        "format = 2\n[input_cable]\nlength_m = 40\n[converter]\nramp_s = 0.01\n[start_stop]\nturn_on_delay_s = 0\nturn_off_delay_s = 0\n\
         [[drive.piece]]\nduration_h = 240\nengine_rpm = 2000\n",
    );
    let (m, p) = (&l.resolved.model, &l.resolved.profile);
    let options = Options { tolerance: 1e-6, ..Options::default() };
    let run = simulate_as_far(m, p, &options).expect("a finding");
    let Some(RunError::Chatters { t, times }) = run.ended_early else { panic!("{:?}", run.ended_early) };
    assert_eq!(t, run.span.1);
    let came_on = run.events.iter().filter(|e| e.kind == EventKind::UnitOn).count();
    assert_eq!(came_on, times as usize);
    assert_eq!(simulate(m, p, &options).expect_err("no whole run"), RunError::Chatters { t, times });
    // Up to there it is a run like any other.
    let cut = p.between(p.start(), t).expect("some of the drive");
    assert_eq!(run.trace.steps(m, &cut).count() as u64, run.statistics.steps);
}

/// A current through the battery's resistance brings the volts that its protection refuses, and takes them along: refused and
/// released at one instant. It refuses for as long as for a current that is too great.
#[test]
fn volts_that_a_current_brought_are_refused_for_a_while() {
    let run = both(
        "format = 2\n[house_battery]\nr0_mohm = 30\n[house_solar]\nset_point_v = 20\nresistance_mohm = 5\n[[drive.piece]]\n\
         duration_min = 9\nengine_rpm = 0\nhouse_solar_w = 2000\n",
        1e-8,
    );
    let refused = |e: &&Event| matches!(e.kind, EventKind::ChargeRefused { why: Some(_) });
    let times: Vec<f64> = run.events.iter().filter(refused).map(|e| e.t.as_s()).collect();
    assert!(times.len() > 3 && times.windows(2).all(|w| w[1] - w[0] > 59.9), "{times:?}");
}

/// More sun than its resistance lets through on a bus under half the set-point: the current jumped there, and the run stood on
/// the jump.
#[test]
fn a_sun_behind_a_great_resistance_does_not_stall() {
    both(
        "format = 2\n[house_battery]\ncells = 2\n[stages]\nabsorption_v = 7.1\nfloat_v = 6.75\nrecharge_v = 6.6\n[protection]\nfitted = \"no\"\n[house_solar]\nresistance_mohm = 890\n\
         [[drive.piece]]\nduration_s = 600\nengine_rpm = 0\nhouse_solar_w = 13000\n",
        1e-8,
    );
}

/// A mains charger behind 2 Ω gives its all at minus 80 V: that is no place for a bus, and the unit beside it, which its own
/// source rules, was taken to stand there.
#[test]
fn a_charger_behind_a_great_resistance_does_not_stall() {
    both(
        "format = 2\n[house_mains]\nresistance_mohm = 2000\n[[drive.piece]]\nduration_s = 600\nengine_rpm = 1800\n\
         house_mains_a = 47\ninput_joint_extra_mohm = 1000\n",
        1e-8,
    );
}

/// A load that neither charger nor battery can carry together: the bus has no rest, and was taken to stand where the charger
/// gives three times its all. The loads are shed.
#[test]
fn a_load_beyond_charger_and_battery_is_shed() {
    let run = both(
        "format = 2\n[house_battery]\nr0_mohm = 1990\n[[drive.piece]]\nduration_s = 60\nengine_rpm = 0\nhouse_load_w = 3\n\
         house_mains_a = 20\n[[drive.piece]]\nduration_s = 600\nengine_rpm = 0\nhouse_load_w = 800\nhouse_mains_a = 20\n",
        1e-8,
    );
    assert!(run.events.iter().any(|e| e.kind == EventKind::LoadsShed { shed: true }), "{:?}", run.events);
}

/// Two sources hold a bus that nothing draws from: their currents cancel but for rounding, and the bus was taken to stand above
/// both, where nothing holds it.
#[test]
fn two_sources_hold_a_bus_that_takes_nothing() {
    both(
        "format = 2\n[house]\nloads_return_v = 21.9\nloads_stop_v = 20\n[house_solar]\nresistance_mohm = 9.81\nset_point_v = 28.8\n\
         [house_mains]\nresistance_mohm = 45.6\nset_point_v = 28.8\n[[drive.piece]]\nduration_h = 3\nengine_rpm = 0\n\
         house_mains_a = 20\nhouse_solar_w = 174.29\n",
        1e-8,
    );
}

/// A table's piece that begins flat and ends steep: the step before it was carried on into it, over the current that the new volts
/// turn back within seconds, and 1.1e-5 of the energy was missing.
#[test]
fn a_steep_piece_of_a_table_is_not_stepped_over() {
    both(
        "format = 2\n[alternator]\ncompensation_mv_per_k = -65.4\n[starter_battery]\nchemistry = \"table\"\nstart_pct = 40\n\
         table_pct = [0, 16.2, 49.856907563967326, 50]\ntable_v = [0, 12.3, 12.5, 47.13300632025146]\n[[drive.piece]]\n\
         engine_rpm = 6220\ninput_cable = \"open\"\nduration_s = 13200\n",
        1e-8,
    );
}

/// A fixed loss that alternator and maintainer together cannot feed: the unit was taken to draw from the maintainer past its ceiling,
/// which no regime allows, nanosecond after nanosecond.
#[test]
fn a_fixed_loss_that_cannot_be_fed_does_not_stall() {
    // Held at the edge of its source it changes hands there, and two steppers do so at other instants.
    let l = loaded(
        "format = 2\n[vehicle]\nrunning_load_a = 0\n[starter_battery]\ncranking_label_a = 50\nr0_mohm = 226\n[converter]\n\
         fixed_loss_w = 361\n[[drive.piece]]\nduration_s = 32\nengine_rpm = 800\nstarter_solar_w = 27.803879820928135\n",
    );
    for stepper in [Stepper::Fast, Stepper::Reference] {
        let options = Options { stepper, ..Options::default() };
        let run = simulate(&l.resolved.model, &l.resolved.profile, &options).expect("it finishes");
        assert!(run.statistics.steps < 100_000, "{:?}", run.statistics);
    }
}

/// So cold that it refuses charge, and its resistance lets no load through: the bus was taken to stand at no volts at all when the
/// loads came back. They are shed again, a hold later each time.
#[test]
fn a_load_beyond_a_battery_that_refuses_charge_is_shed() {
    let run = both(
        "format = 2\n[house_battery]\nr0_mohm = 1230\nstart_c = -40\n[[drive.piece]]\nduration_s = 200\nengine_rpm = 0\n",
        1e-8,
    );
    let shed = |e: &&Event| e.kind == EventKind::LoadsShed { shed: true };
    assert_eq!(run.events.iter().filter(shed).count(), 4, "{:?}", run.events);
}

/// A charger of far too many volts boils the battery until it discharges itself faster than it is charged: its volts fell
/// through nothing before it was 300 °C. The run ends with its finding where no battery is one any more.
#[test]
fn a_battery_that_boils_ends_a_run_with_its_finding() {
    let flooded = "[house_battery]\nchemistry = \"flooded\"\ncells = 3\n[house_mains]\ncurrent_a = 793\n[stages]\n\
                   absorption_v = 6.06\nmode = \"fixed-supply\"\n";
    let gel = "[house_battery]\nchemistry = \"gel\"\nstart_pct = 0\n[house_mains]\ncurrent_a = 719\nset_point_v = 57.6\n";
    for battery in [flooded, gel] {
        let l = loaded(&format!(
            "format = 2\n{battery}[[drive.piece]]\nduration_h = 2\nengine_rpm = 2716\nhouse_load_w = 80\n"
        ));
        let run = simulate_as_far(&l.resolved.model, &l.resolved.profile, &Options::default());
        let ended = run.expect("a finding").ended_early;
        let Some(RunError::TooHot { what, limit_c, .. }) = ended else { panic!("{battery}: {ended:?}") };
        assert_eq!((what, limit_c), ("house battery temperature", 160.0));
    }
}

/// A battery that refuses charge and a charger at its all do not carry the load between them: the curve had its rest at 62 V,
/// over the battery's own volts, where the battery would have taken a charge that it refuses.
#[test]
fn a_load_beyond_a_charger_at_its_all_is_shed() {
    let drive = "[[drive.piece]]\nduration_s = 7\nengine_rpm = 0\nhouse_mains_a = 21.4\nhouse_load_w = 20\n\
                 [[drive.piece]]\nduration_s = 4\nengine_rpm = 0\nhouse_mains_a = 21.4\nhouse_load_w = 606\n\
                 [[drive.piece]]\nduration_s = 300\nengine_rpm = 0\nhouse_mains_a = 21.4\nhouse_load_w = 20\n";
    let run = both(&format!("format = 2\n[house_battery]\nr0_mohm = 1970\n{drive}"), 1e-8);
    let shed =
        run.events.iter().find(|e| e.kind == EventKind::LoadsShed { shed: true }).expect("they are shed");
    assert!((7.0..7.1).contains(&shed.t.as_s()), "{shed:?}");
    let highest = run.events.iter().map(|e| e.after.house_v).fold(0.0, f64::max);
    assert!(highest < 20.0, "{highest} V");
}

/// The sun alone would carry the rest of the load, under its set-point of 10 V; with it the bus would rest at 26 V, where no sun
/// shines into it.
#[test]
fn a_load_that_a_sun_under_its_set_point_would_carry_is_shed() {
    let head = "format = 2\n[house_battery]\nchemistry = \"linear\"\nempty_v = 12\nfull_v = 62\nr0_mohm = 554\n[house]\n\
                loads_stop_v = 0.007\nloads_return_v = 24.8\n[house_solar]\nset_point_v = 10\n";
    let piece = |s: u32, w: u32| {
        format!(
            "[[drive.piece]]\nduration_s = {s}\nengine_rpm = 0\nhouse_solar_w = 181\nhouse_load_w = {w}\n"
        )
    };
    let run = both(&format!("{head}{}{}{}", piece(60, 10), piece(60, 690), piece(300, 10)), 1e-8);
    let shed = run.events.iter().filter(|e| e.kind == EventKind::LoadsShed { shed: true });
    assert_eq!(shed.map(|e| e.t.as_s()).collect::<Vec<_>>(), [60.0]);
}

/// A battery that collapses under its unit alone lets it go, and would take it back at the same instant where no delay stands
/// between.
#[test]
fn a_unit_whose_supply_went_under_it_stays_off_for_a_while() {
    let head = "format = 2\n[starter_battery]\ncells = 14\n[start_stop]\nturn_on_delay_s = 0\n";
    let run = both(&format!("{head}[[drive.piece]]\nduration_min = 71.6\nengine_rpm = 2261\n"), 1e-8);
    let times = |kind| run.events.iter().filter(move |e| e.kind == kind).map(|e| e.t.as_s());
    let (on, off): (Vec<f64>, Vec<f64>) =
        (times(EventKind::UnitOn).collect(), times(EventKind::UnitOff).collect());
    assert!(on.len() > 1 && off.len() > 1, "{on:?} {off:?}");
    for off_s in &off {
        let back = on.iter().find(|t| *t > off_s);
        assert!(back.is_none_or(|t| t - off_s > 9.9), "off at {off_s}, on again at {back:?}");
    }
}

/// A protection that releases colder than it refuses would go to and fro for ever: `check` says so, of a lead-acid battery too,
/// which has no limits of volts.
#[test]
fn a_release_under_its_threshold_is_refused_for_every_chemistry() {
    for chemistry in ["lfp", "gel"] {
        let text = format!(
            "format = 2\n[house_battery]\nchemistry = \"{chemistry}\"\n[protection]\nfitted = \"yes\"\n\
             cold_release_c = -40\n[[drive.piece]]\nduration_s = 60\nengine_rpm = 0\n"
        );
        let mut input = text.as_bytes();
        let refused = load_from(Path::new("-"), &[], &mut input).map(|_| ()).expect_err("it is refused");
        assert!(refused.told(false).0.contains("`cold_release_c` lies under cold_c"), "{chemistry}");
    }
}
