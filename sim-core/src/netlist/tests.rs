//! Shape of the text; what it computes is compared with a circuit simulator outside this crate.

use super::*;
use crate::model::{Converter, HouseLoads, Link, Piece, Protection, Regulator, Stages, StartStop, Vehicle};
use crate::network::Sense;
use crate::pchip::Pchip;
use crate::plant::alternator::Alternator;
use crate::plant::battery::Chemistry;
use crate::plant::battery::{Battery, Emf, LeadAcid, PlainBattery};
use crate::plant::cable::{Cable, Conductor};
use crate::plant::converter::Loss;
use crate::state::{HOUSE, STARTER};
use std::collections::BTreeSet;

/// An invented vehicle.
fn model() -> Model {
    let table =
        Pchip::new(&[0.0, 0.1, 0.5, 0.9, 1.0], &[10.0, 12.8, 13.2, 13.4, 14.2]).expect("a rising table");
    let battery = |emf, start_soc| {
        Battery::from(PlainBattery {
            capacity_c: 80.0 * 3600.0,
            emf,
            r0_ohm: 0.005,
            branch_ohm: [0.006, 0.012],
            branch_s: [60.0, 1200.0],
            charge_efficiency: 0.95,
            start_soc,
        })
    };
    Model {
        alternator: Alternator::plain(14.2, 0.003, 140.0, 1000.0, 1500.0, 2.6),
        vehicle: Vehicle { crank_a: 180.0, crank_s: 0.8, ..Vehicle::default() },
        starter: battery(Emf::Linear { empty_v: 11.85, full_v: 12.7 }, 0.9),
        house: battery(Emf::Table(table), 0.4),
        house_solar: Regulator { set_v: 14.4, droop_ohm: 0.02 },
        house_mains: Regulator::NONE,
        starter_solar: Regulator::NONE,
        protection: Protection::NONE,
        house_loads: HouseLoads::BARE,
        links: vec![Link {
            input_cable: Cable::constant(0.012, 0.002),
            converter: Converter {
                output_limit_a: 40.0,
                input_limit_a: 60.0,
                floor_v: 0.0,
                sense: Sense::Terminals,
                loss: Loss { fixed_w: 4.0, proportional: 0.04, square_per_w: 2e-5 },
                ramp_s: 2.0,
                standby_a: 0.005,
                case_j_per_k: 900.0,
                case_w_per_k: 1.6,
                ..Converter::default()
            },
            start_stop: StartStop {
                turn_on_v: 13.6,
                turn_on_delay_s: 30.0,
                turn_off_v: 12.8,
                turn_off_delay_s: 2.0,
                ..StartStop::default()
            },
            stages: Stages {
                absorption_v: 14.2,
                tail_a: 8.0,
                tail_hold_s: 60.0,
                absorption_cap_s: 3600.0,
                float_v: 13.5,
                recharge_v: 13.2,
                recharge_hold_s: 60.0,
                ..Stages::default()
            },
            output_cable: Cable::constant(0.0, 0.0),
        }],
        bears: crate::plant::bears::Bears::default(),
    }
}

fn drive() -> Profile {
    let piece = |start, end, engine_rpm| Piece {
        start: Instant::from_s(start),
        end: Instant::from_s(end),
        engine_rpm,
        set_point_v: 14.2,
        vehicle_load_a: 25.0,
        house_load_w: 60.0,
        house_solar_w: 0.0,
        air_c: 20.0,
        ..Piece::default()
    };
    Profile::new(vec![piece(0.0, 60.0, 0.0), piece(60.0, 600.0, 2000.0)], 0.0).expect("a drive")
}

fn cut(unit: HeldUnit) -> Cut {
    Cut {
        from: Instant::from_s(30.0),
        to: Instant::from_s(300.0),
        state: crate::state::at_start(&model(), 20.0, 20.0),
        unit,
        times: [30.0, 100.0, 300.0].map(Instant::from_s).to_vec(),
        output: Output::File("cut.data".into()),
    }
}

fn on(since_s: f64) -> HeldUnit {
    HeldUnit::On { stage: Stage::Bulk, since: Instant::from_s(since_s) }
}

fn replayed(since_s: Option<f64>, switches_s: &[f64]) -> HeldUnit {
    HeldUnit::Replayed {
        stage: Stage::Bulk,
        since: since_s.map(Instant::from_s),
        switches: switches_s.iter().map(|t| Instant::from_s(*t)).collect(),
    }
}

fn text(unit: HeldUnit) -> String {
    netlist(&model(), &drive(), &cut(unit)).expect("a netlist")
}

/// The model with an input cable that warms, half of it in the engine bay.
fn warm() -> Model {
    let mut m = model();
    let leg = |in_bay| Conductor { ohm_20: 0.003, j_per_k: 90.0, w_per_k: 0.5, in_bay };
    m.links[0].input_cable.conductors = [leg(true), leg(true), leg(false), leg(false)];
    m
}

/// The model with a lead-acid starter battery that warms.
fn flooded() -> Model {
    let mut m = model();
    let battery = LeadAcid::starter_flooded(80.0);
    let thermal = battery.thermal_node();
    m.starter = Battery { chemistry: Chemistry::LeadAcid(battery), thermal, start_c: 20.0 };
    m
}

fn wave(text: &str, name: &str) -> Vec<(f64, f64)> {
    let from = text.split(&format!("V{name} {name} 0 PWL(\n")).nth(1).expect("a wave");
    let number = |w: Option<&str>| w.and_then(|w| w.parse().ok());
    from.lines()
        .map_while(|l| {
            let mut words = l.split_whitespace().skip(1);
            Some((number(words.next())?, number(words.next())?))
        })
        .collect()
}

/// What stands in the parentheses after `letter` in every call such as `V(sb)`, upper or lower case.
fn called(text: &str, letter: char) -> BTreeSet<String> {
    let lower = text.to_lowercase();
    let alone = |at: usize| !lower[..at].ends_with(|c: char| c.is_ascii_alphanumeric() || c == '_');
    lower
        .match_indices(&format!("{letter}("))
        .filter(|&(at, _)| alone(at))
        .map(|(at, _)| lower[at + 2..].split(')').next().unwrap_or_default().to_string())
        .collect()
}

#[test]
fn text_is_the_same_every_time_and_holds_finite_numbers_only() {
    for unit in [HeldUnit::Off, on(29.0), on(0.0), replayed(None, &[50.0, 90.0])] {
        let a = text(unit.clone());
        assert_eq!(a, text(unit));
        let words: Vec<&str> = a.split(|c: char| !c.is_ascii_alphanumeric()).collect();
        assert!(!words.iter().any(|w| ["NaN", "inf", "nan"].contains(w)), "{a}");
        assert!(a.is_ascii() && a.ends_with(".end\n"));
    }
}

#[test]
fn every_node_and_ammeter_that_is_read_exists() {
    let of = |m: &Model, unit| netlist(m, &drive(), &cut(unit)).expect("a netlist");
    let plain = [HeldUnit::Off, on(29.0), replayed(Some(29.0), &[50.0])].map(|unit| of(&model(), unit));
    let warm = [HeldUnit::Off, on(29.0)].map(|unit| of(&warm(), unit));
    let lead_acid = [HeldUnit::Off, on(29.0)].map(|unit| of(&flooded(), unit));
    for a in plain.into_iter().chain(warm).chain(lead_acid) {
        let circuit = a.split(".control").next().expect("a circuit");
        let elements: Vec<Vec<String>> = circuit
            .lines()
            .filter(|l| l.starts_with(|c: char| c.is_ascii_uppercase()))
            .map(|l| l.split_whitespace().take(3).map(str::to_lowercase).collect())
            .collect();
        let names: Vec<&String> = elements.iter().map(|e| &e[0]).collect();
        assert_eq!(names.iter().collect::<BTreeSet<_>>().len(), names.len(), "two elements of one name");
        let nodes: BTreeSet<&String> = elements.iter().flat_map(|e| &e[1..3]).collect();
        for node in called(&a, 'v') {
            assert!(nodes.contains(&node), "{node} is read and is nowhere");
        }
        for meter in called(&a, 'i') {
            assert!(meter.starts_with('v') && names.contains(&&meter), "{meter} is no ammeter");
        }
        for column in COLUMNS {
            assert!(a.contains(&format!("let {column} = ")), "{column}");
        }
    }
}

#[test]
fn drive_changes_just_before_its_instant_and_the_saw_has_every_time() {
    let a = text(on(29.0));
    let wave = |name: &str| wave(&a, name);
    let load = wave("vehicle_a");
    assert_eq!(load.iter().map(|p| p.1).collect::<Vec<_>>(), [25.0, 25.0, 205.0, 205.0, 25.0]);
    assert!(load[2].0 < 30.0 && load[2].0 > 29.999 && load[4].0 < 30.8, "{load:?}");
    let most = wave("most_a");
    assert!(most[1].0 > 30.79 && most[1].1 == 0.0 && most[2].1 > 100.0, "{most:?}");
    assert_eq!(wave("cap_a"), [(0.0, 20.0), (1.0, 40.0)]);
    assert_eq!(wave("times").iter().map(|p| p.0).collect::<Vec<_>>(), [0.0, 70.0, 270.0]);
    assert!(text(on(0.0)).contains("Vcap_a cap_a 0 DC 4e1\n"));
}

/// Off half a second into the cut, in the middle of a soft start, on at 60 s, off at 100 s.
#[test]
fn a_replayed_unit_starts_softly_each_time() {
    let a = text(replayed(Some(29.5), &[30.5, 90.0, 130.0]));
    let on = wave(&a, "on");
    assert_eq!(on.iter().map(|p| p.1).collect::<Vec<_>>(), [1.0, 1.0, 0.0, 0.0, 1.0, 1.0, 0.0]);
    assert!(on.iter().zip([0.0, 0.5, 0.5, 60.0, 60.0, 100.0, 100.0]).all(|(p, t)| (p.0 - t).abs() < 1e-3));
    assert_eq!(wave(&a, "cap_a"), [(0.0, 10.0), (0.5, 20.0), (60.0, 0.0), (62.0, 40.0), (100.0, 40.0)]);
    assert!(a.contains("V(on)") && !text(HeldUnit::Off).contains("V(on)"));
}

/// At 20 °C a warming cable is what the constant one is; the bay's and the cabin's air each act on their own legs.
#[test]
fn a_run_that_warms_has_a_temperature_per_leg() {
    let a = netlist(&warm(), &drive(), &cut(on(0.0))).expect("a netlist");
    let legs = |air: &str| a.lines().filter(|l| l.starts_with("Binput_cable_") && l.contains(air)).count();
    assert_eq!((legs("V(bay_c)"), legs("V(air_c)")), (2, 2), "{a}");
    assert!(!text(on(0.0)).contains("air_c"));
    // Effects that no netlist has are refused, those without a state too.
    let with = |change: &dyn Fn(&mut Model)| {
        let mut m = flooded();
        change(&mut m);
        netlist(&m, &drive(), &cut(HeldUnit::Off))
    };
    assert!(with(&|_| ()).is_ok());
    assert_eq!(with(&|m| m.vehicle.drop_out_v = 6.0), Err(NetlistError::NotPlain));
    assert_eq!(with(&|m| m.vehicle.awake_a = 1.0), Err(NetlistError::NotPlain));
    assert_eq!(with(&|m| m.links[0].converter.derate_from_c = 60.0), Err(NetlistError::NotPlain));
    assert_eq!(with(&|m| m.links[0].stages.v_per_k = -0.024), Err(NetlistError::NotPlain));
    assert_eq!(with(&|m| m.house = m.starter.clone()), Err(NetlistError::NotPlain));
    let mut other = warm();
    other.house.thermal.j_per_k = 1000.0;
    assert_eq!(netlist(&other, &drive(), &cut(on(0.0))), Err(NetlistError::NotPlain));
}

#[test]
fn cubics_of_the_table_are_the_table() {
    let Chemistry::Plain(PlainBattery { emf: Emf::Table(p), .. }) = model().house.chemistry else {
        panic!("the house battery has a table")
    };
    for n in -50..=1050 {
        let soc = f64::from(n) * 1e-3;
        let [x0, c0, c1, c2, c3] = parts::coefficients(&p, p.piece_of(soc));
        let u = soc - x0;
        assert!((c0 + u * (c1 + u * (c2 + u * c3)) - p.value(soc)).abs() < 1e-12, "at {soc}");
    }
}

#[test]
fn a_run_without_resistance_is_a_short() {
    let a = text(on(0.0));
    assert!(a.contains("Vshort_output_cable out_run hb DC 0\n") && !a.contains("Routput_cable"));
}

#[test]
fn what_does_not_fit_is_refused() {
    let (m, d) = (model(), drive());
    let refused = |change: &dyn Fn(&mut Cut)| {
        let mut c = cut(on(0.0));
        change(&mut c);
        netlist(&m, &d, &c).expect_err("refused")
    };
    assert!(matches!(refused(&|c| c.to = Instant::from_s(601.0)), NetlistError::Span { .. }));
    assert!(matches!(refused(&|c| c.to = c.from), NetlistError::Span { .. }));
    assert!(matches!(refused(&|c| c.times.reverse()), NetlistError::Times { .. }));
    assert!(matches!(refused(&|c| c.times = vec![Instant::ZERO]), NetlistError::Times { .. }));
    assert!(matches!(refused(&|c| c.unit = on(31.0)), NetlistError::OnTooLate { .. }));
    for switches_s in [&[29.0][..], &[30.0], &[300.0], &[90.0, 90.0], &[90.0, 60.0]] {
        let error = refused(&|c| c.unit = replayed(None, switches_s));
        assert!(matches!(error, NetlistError::Switches { .. }), "{switches_s:?}: {error}");
    }
    for name in ["", "data", "a b.data", "../x.data", "A.data", ".data", "x;y.data", "-x.data"] {
        let error = refused(&|c| c.output = Output::File(name.into()));
        assert!(matches!(error, NetlistError::FileName(_)), "{name}");
    }
    assert!(matches!(refused(&|c| c.state[HOUSE] = f64::NAN), NetlistError::Value { .. }));
    let mut flat = model();
    let Chemistry::Plain(battery) = &mut flat.starter.chemistry else { panic!("it is plain") };
    battery.branch_ohm[1] = 0.0;
    assert!(netlist(&flat, &d, &cut(on(0.0))).is_ok());
    let mut charged = cut(on(0.0));
    charged.state[STARTER + 2] = 0.1;
    assert!(matches!(netlist(&flat, &d, &charged), Err(NetlistError::Value { .. })));
}
