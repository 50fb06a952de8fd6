//! Each effect set to nothing is the plain model: the same bits where nothing is computed otherwise, else within 1e-12.

use sim_core::model::{Piece, Protection, Regulator, SignalUse};
use sim_core::network::Sense;
use sim_core::plant::alternator::{RegulatorHeat, Winding};
use sim_core::plant::battery::{Battery, Chemistry, LeadAcid, Lithium, ThermalNode};
use sim_core::plant::set_point_rule::SetPointRule;
use sim_core::{Model, Options, Profile, Run, Stepper, simulate};
use sim_tests::look::run_at;
use sim_tests::van::{absorption_day, reference_van, thin_run};

/// A run by the reference stepper: the bits are the physics' own. The fast stepper chooses its method by the states that
/// a model moves, so one state more, at nothing, changes its rounding; `steppers.rs` holds it to the reference.
fn run(model: &Model, profile: &Profile) -> Run {
    let options = Options { stepper: Stepper::Reference, ..Options::default() };
    simulate(model, profile, &options).unwrap_or_else(|e| panic!("{e}"))
}

/// How exactly an effect at nothing gives the plain model.
#[derive(Clone, Copy, PartialEq)]
enum Exactly {
    /// States, events and ledgers to the bit.
    Bits,
    /// The same sums in another order, or the same exponent in another expression.
    Rounding,
}
use Exactly::{Bits, Rounding};

type Change = fn(&mut Model, &mut Piece);
type Make = fn() -> (Model, Profile);

/// A rule whose every voltage is the fixed set-point.
fn flat_rule(v: f64) -> SetPointRule {
    SetPointRule {
        overrun_v: v,
        cruise_v: v,
        accelerating_v: v,
        idle_v: v,
        refresh_v: v,
        low_soc: 0.0,
        cold_c: -300.0,
        heavy_a: f64::INFINITY,
        up_v_per_s: 0.05,
        down_v_per_s: 0.05,
        start_up_v: v,
        start_up_s: 0.0,
    }
}

fn lead_acid_starter(m: &mut Model) {
    let plain = m.starter.plain().expect("a plain battery");
    let battery = LeadAcid::plain(plain, 6).expect("a line");
    m.starter.chemistry = Chemistry::LeadAcid(battery);
}

fn lithium_house(m: &mut Model) {
    m.house = Battery::from(m.house.plain().expect("a plain battery").clone());
    let battery = Lithium::plain(m.house.plain().expect("a plain battery"), 4);
    m.house.chemistry = Chemistry::Lithium(battery);
}

/// Every effect, set to nothing in its own terms rather than left out.
fn effects() -> Vec<(&'static str, Exactly, Change)> {
    vec![
        // Its form of power is its own, so energy lines differ by rounding.
        ("lithium house battery", Rounding, |m, _| lithium_house(m)),
        ("battery temperatures held", Bits, |m, _| {
            m.starter.thermal = ThermalNode::FIXED;
            m.house.start_c = 20.0;
        }),
        ("air that the plain model does not feel", Bits, |m, _| m.starter.start_c = -10.0),
        // The loop is added leg by leg, not as one resistance.
        ("conductors that hold their 20 °C", Rounding, |m, _| {
            let run = &mut m.links[0].input_cable;
            let half = 0.5 * run.conductors[0].ohm_20;
            for c in &mut run.conductors[..2] {
                (c.ohm_20, c.j_per_k, c.w_per_k) = (half, 1e30, 0.1);
            }
        }),
        ("joints without a temperature", Bits, |m, _| m.links[0].input_cable.joints_w_per_k = 0.3),
        ("a joint with nothing on top", Bits, |_, p| {
            (p.input_joint_extra_ohm, p.input_open) = (0.0, false);
        }),
        ("derating beyond reach", Bits, |m, _| {
            (m.links[0].converter.derate_from_c, m.links[0].converter.derate_to_c) = (900.0, 999.0);
        }),
        ("lock-out beyond reach", Bits, |m, _| {
            (m.links[0].converter.lock_c, m.links[0].converter.reclose_c) = (900.0, 800.0);
        }),
        ("a locker of endless heat capacity", Bits, |m, _| m.links[0].converter.locker.w_per_k = 0.7),
        // Its temperature stands still: a state that moves would count in the length of steps.
        ("a winding whose heat takes nothing away", Bits, |m, _| {
            m.alternator.heat = Some(Winding { full_rise_k: 110.0, time_s: 1e30, derate_per_k: 0.0 });
        }),
        ("a regulator whose warmth moves nothing", Bits, |m, _| {
            m.alternator.regulator =
                Some(RegulatorHeat { rise_k: 30.0, warms_s: 1e30, cools_s: 1e30, start_c: f64::NAN });
        }),
        ("no set-point compensation", Bits, |m, _| m.alternator.set_point_v_per_k = 0.0),
        // The case, warmer from the start, counts in the length of steps.
        ("set-point compensation at 25 °C", Rounding, |m, p| {
            m.alternator.set_point_v_per_k = -0.03;
            (p.air_c, p.bay_c) = (25.0, 25.0);
        }),
        ("a rule that always asks for the set-point", Bits, |m, _| {
            m.alternator.rule = Some(flat_rule(m.alternator.set_point_v));
        }),
        ("no floor", Bits, |m, _| m.links[0].converter.floor_v = 0.0),
        ("a floor under all volts", Bits, |m, _| m.links[0].converter.floor_v = 3.0),
        ("filter and compensation of nothing", Bits, |m, _| {
            (m.links[0].start_stop.filter_s, m.links[0].start_stop.compensation_ohm) = (0.0, 0.0);
        }),
        ("a shortest time off of nothing", Bits, |m, _| m.links[0].start_stop.least_off_s = 0.0),
        ("a run signal that nothing listens to", Bits, |m, p| {
            m.links[0].start_stop.signal = SignalUse::Ignored;
            p.run_signal = p.engine_runs();
        }),
        ("a second pair of the same thresholds", Bits, |m, _| {
            let rule = &mut m.links[0].start_stop;
            rule.signal = SignalUse::SecondPair { turn_on_v: rule.turn_on_v, turn_off_v: rule.turn_off_v };
        }),
        ("a second pair without its signal", Bits, |m, _| {
            m.links[0].start_stop.signal = SignalUse::SecondPair { turn_on_v: 12.2, turn_off_v: 11.5 };
        }),
        ("either, without the signal", Bits, |m, _| m.links[0].start_stop.signal = SignalUse::Either),
        ("required, with the signal always live", Bits, |m, p| {
            m.links[0].start_stop.signal = SignalUse::Required;
            p.run_signal = true;
        }),
        ("nothing stays awake", Bits, |m, _| (m.vehicle.awake_a, m.vehicle.sleep_after_s) = (0.0, 1800.0)),
        ("loads that stop far under all volts", Bits, |m, _| {
            (m.vehicle.drop_out_v, m.vehicle.return_v) = (0.5, 1.0);
        }),
        ("a stop-start that keeps nothing awake", Bits, |_, p| p.stop_start = !p.engine_runs()),
        ("a maintainer that gives nothing", Bits, |m, _| {
            m.starter_solar = Regulator { set_v: 13.9, droop_ohm: 0.05 };
        }),
        ("a mains charger that gives nothing", Bits, |m, _| {
            m.house_mains = Regulator { set_v: 14.4, droop_ohm: 0.01 };
        }),
        ("house solar in the dark", Bits, |m, _| m.house_solar = Regulator { set_v: 14.4, droop_ohm: 0.1 }),
        ("protection beyond reach", Bits, |m, _| {
            m.protection = Protection {
                cold_c: -40.0,
                cold_release_c: -35.0,
                high_v: 16.0,
                high_release_v: 15.0,
                low_v: 5.0,
                low_release_v: 6.0,
                over_a: 900.0,
                over_release_s: 60.0,
                heater_w: 100.0,
            };
        }),
        ("no compensation of the stages", Bits, |m, _| m.links[0].stages.v_per_k = 0.0),
        ("a phase that no rule reads", Bits, |_, p| {
            p.phase = sim_core::plant::set_point_rule::Phase::Overrun
        }),
    ]
}

/// The vehicle and its drive, changed.
fn changed((original, p): (Model, Profile), change: Change) -> (Model, Profile) {
    let mut m = original.clone();
    let pieces = p.pieces().iter().map(|mut piece| {
        m = original.clone();
        change(&mut m, &mut piece);
        piece
    });
    let profile = Profile::new(pieces, p.start_clock_s).expect("the same pieces");
    (m, profile)
}

/// At 25 °C the case, which acts on nothing here, is 5 K warmer: it alone may differ.
const CASE: usize = sim_core::state::CASE_C;

fn compare(name: &str, exactly: Exactly, plain: &Run, off: &Run) {
    let kinds = |r: &Run| r.events.iter().map(|e| e.kind).collect::<Vec<_>>();
    assert_eq!(kinds(plain), kinds(off), "{name}");
    let near = |what: String, a: f64, b: f64, size: f64| match exactly {
        Bits => assert_eq!(a.to_bits(), b.to_bits(), "{name}: {what}: {a} against {b}"),
        Rounding => assert!((a - b).abs() <= 1e-12 * size, "{name}: {what}: {a} against {b}"),
    };
    for (a, b) in plain.events.iter().zip(&off.events) {
        // An instant is a whole nanosecond; where bits differ it may fall on its neighbour.
        let slack_ns = if exactly == Bits { 0 } else { 2 };
        assert!((a.t.ns() - b.t.ns()).abs() <= slack_ns, "{name}: {:?} at {:?} and {:?}", a.kind, a.t, b.t);
    }
    for n in (0..sim_core::state::PLAIN).filter(|n| *n != CASE) {
        near(format!("state {n}"), plain.end[n], off.end[n], 10.0);
    }
    let size = plain.ledger.0.iter().fold(1.0_f64, |a, b| a.max(b.abs()));
    for (line, (a, b)) in sim_core::record::Line::ALL.iter().zip(plain.ledger.0.iter().zip(&off.ledger.0)) {
        near(line.key().to_owned(), *a, *b, size);
    }
}

#[test]
fn every_effect_at_nothing_is_the_plain_model() {
    let days: [(&str, Make); 3] =
        [("reference van", reference_van), ("thin run", thin_run), ("absorption", absorption_day)];
    for (day, make) in days {
        let (m, p) = make();
        let plain = run(&m, &p);
        for (effect, exactly, change) in effects() {
            let (m, p) = changed(make(), change);
            compare(&format!("{effect}, {day}"), exactly, &plain, &run(&m, &p));
        }
    }
}

/// A lead-acid battery has no saturated end, so here the plain one must not reach it: it is large and half full.
#[test]
fn lead_acid_at_nothing_is_the_plain_battery() {
    for make in [reference_van, thin_run, absorption_day] {
        let half = || {
            let (mut m, p) = make();
            let starter = sim_tests::plain(&mut m.starter);
            starter.start_soc = 0.5;
            starter.capacity_c *= 20.0;
            (m, p)
        };
        // Its corners end steps of their own, so the two agree as far as the stepper does.
        let (m, p) = half();
        let plain = run_at(1e-12, &m, &p);
        let (m, p) = changed(half(), |m, _| lead_acid_starter(m));
        let off = run_at(1e-12, &m, &p);
        let kinds = |r: &Run| r.events.iter().map(|e| e.kind).collect::<Vec<_>>();
        assert_eq!(kinds(&plain), kinds(&off));
        for (a, b) in plain.events.iter().zip(&off.events) {
            assert!((a.t.ns() - b.t.ns()).abs() <= 5, "{:?} at {:?} and {:?}", a.kind, a.t, b.t);
        }
        for n in (0..sim_core::state::PLAIN).filter(|n| *n != CASE) {
            let off = (plain.end[n] - off.end[n]).abs();
            assert!(off <= 1e-12, "state {n} is off by {off:e}");
        }
    }
}

/// Rules of the stages say nothing on a drive that never reaches their business; a fixed supply never reaches it either.
#[test]
fn stage_rules_are_plain_where_they_have_no_business() {
    let changes: [(&str, Change); 3] = [
        ("fixed supply", |m, _| m.links[0].stages.fixed_supply = true),
        ("resume", |m, _| m.links[0].stages.resume = true),
        ("cumulative cap", |m, _| m.links[0].stages.cap_cumulative = true),
    ];
    let (m, p) = reference_van();
    let plain = run(&m, &p);
    for (name, change) in changes {
        let (m, p) = changed(reference_van(), change);
        compare(name, Bits, &plain, &run(&m, &p));
    }
}

/// Remote sense at the end of a run without resistance is sense at the terminals.
#[test]
fn remote_sense_without_a_run_is_none() {
    let short = |sense| {
        let (mut m, p) = absorption_day();
        m.links[0].output_cable = sim_core::plant::cable::Cable::constant(0.0, 0.0);
        m.links[0].converter.sense = sense;
        run(&m, &p)
    };
    compare("remote sense", Bits, &short(Sense::Terminals), &short(Sense::HousePosts));
}

/// A pick-up has no setting that is exactly none but being left out; it comes nearer as its lag shrinks.
#[test]
fn pick_up_and_filter_fade_with_their_lag() {
    use sim_core::plant::alternator::PickUp;
    let (m, p) = reference_van();
    let plain = run(&m, &p).end[sim_core::state::HOUSE];
    let off = |change: &dyn Fn(&mut Model)| {
        let (mut m, p) = reference_van();
        change(&mut m);
        (run(&m, &p).end[sim_core::state::HOUSE] - plain).abs()
    };
    for (name, slow, fast) in [
        (
            "pick-up",
            off(&|m| m.alternator.pick_up = Some(PickUp { rate_a_per_s: 1e6, lag_s: 1.0 })),
            off(&|m| m.alternator.pick_up = Some(PickUp { rate_a_per_s: 1e6, lag_s: 0.02 })),
        ),
        (
            "filter",
            off(&|m| m.links[0].start_stop.filter_s = 1.0),
            off(&|m| m.links[0].start_stop.filter_s = 0.02),
        ),
    ] {
        println!("{name}: house SOC off by {slow:e}, with a fiftieth of the lag {fast:e}");
        assert!(slow > 1e-7 && fast < 0.05 * slow, "{name}: {slow:e} and {fast:e}");
    }
}
