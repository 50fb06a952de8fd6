//! Margins say how far a regime reaches: where all of them stand, the regime held is the regime found.

use sim_core::engine::Guard;
use sim_core::network::house_bus::{Contact, HouseBus};
use sim_core::network::source::{Ceiling, Source};
use sim_core::network::starter_bus::StarterBus;
use sim_core::network::{Bias, Limit, Net, Sense, Unit, margins, solve, solve_in};
use sim_core::plant::converter::Loss;
use sim_tests::dice::Dice;

fn bias(d: &mut Dice) -> Bias {
    let current = |d: &mut Dice, low, high| Ceiling::Current(f64::max(d.between(low, high), 0.0));
    Bias {
        starter: StarterBus {
            emf_v: d.between(10.5, 14.4),
            r_ohm: d.log_between(0.002, 0.1),
            sources: [
                Source { set_v: d.between(12.4, 15.0), droop_ohm: 0.004, ceiling: current(d, -20.0, 160.0) },
                Source { set_v: d.between(13.2, 14.4), droop_ohm: 0.02, ceiling: current(d, -5.0, 5.0) },
            ],
            load_a: d.between(0.0, 70.0),
            cable_ohm: d.log_between(0.002, 0.3),
        },
        house: HouseBus {
            emf_v: d.between(12.0, 14.2),
            r_ohm: d.between(0.002, 0.03),
            contact: Contact::Closed,
            sources: [
                Source {
                    set_v: d.between(13.4, 14.6),
                    droop_ohm: 0.02,
                    ceiling: Ceiling::Power(f64::max(d.between(-200.0, 300.0), 0.0)),
                },
                Source { set_v: d.between(13.4, 14.6), droop_ohm: 0.03, ceiling: current(d, -20.0, 20.0) },
            ],
            load_w: d.between(0.0, 300.0),
            cable_ohm: d.between(0.001, 0.03),
        },
        unit: Unit {
            on: d.chance(0.95),
            output_open: false,
            standby_a: 0.005,
            output_cap_a: d.between(0.0, 70.0),
            input_cap_a: d.between(3.0, 90.0),
            floor_v: if d.chance(0.4) { d.between(8.0, 13.5) } else { 0.0 },
            target_v: d.between(13.0, 14.6),
            sense: if d.chance(0.5) { Sense::Terminals } else { Sense::HousePosts },
            loss: Loss { fixed_w: d.log_between(1.0, 60.0), proportional: 0.04, square_per_w: 2e-5 },
        },
    }
}

/// What moves while a step is taken: both EMFs, both resistances and runs, the cap.
fn moved(d: &mut Dice, mut b: Bias, by: f64) -> Bias {
    b.starter.emf_v += d.between(-by, by);
    b.house.emf_v += d.between(-by, by);
    for x in [&mut b.starter.r_ohm, &mut b.starter.cable_ohm, &mut b.house.r_ohm, &mut b.house.cable_ohm] {
        *x *= 1.0 + d.between(-by, by);
    }
    b.unit.output_cap_a *= 1.0 + d.between(-by, by);
    b
}

fn apart(a: &Net, b: &Net) -> f64 {
    let of = |n: &Net| [n.sb_v, n.in_v, n.out_v, n.house_v, n.input_a, n.output_a, n.alternator_a, n.house_a];
    of(a).into_iter().zip(of(b)).map(|(x, y)| (x - y).abs()).fold(0.0, f64::max)
}

/// A regime held over a small move, its margins all standing, gives what solving anew gives. It is the margins alone that
/// end a step, so one that never falls below zero would leave the unit past its limit.
#[test]
fn a_regime_that_stands_is_the_regime() {
    let mut d = Dice::new(77);
    let mut kept = std::collections::HashMap::new();
    let mut left = std::collections::HashMap::new();
    for n in 0..60_000 {
        let before = bias(&mut d);
        let (_, regime) = solve(&before);
        let by = d.log_between(1e-3, 0.3);
        let after = moved(&mut d, before, by);
        let held = solve_in(&after, regime);
        let (found, other) = solve(&after);
        if margins(&after, regime, &held).iter().all(|m| *m >= 0.0) {
            *kept.entry(regime.limit).or_insert(0) += 1;
            // The unit may go on holding its target for 1e-5 V past it.
            let off = apart(&held, &found);
            assert!(off < 1e-6, "case {n}: off by {off}: {regime:?} held, {other:?} found: {after:?}");
        } else {
            *left.entry(regime.limit).or_insert(0) += 1;
        }
    }
    for limit in [
        Limit::Off,
        Limit::OutputCurrent,
        Limit::Voltage,
        Limit::Idle,
        Limit::InputCurrent,
        Limit::Floor,
        Limit::Source,
        Limit::SourceKink,
        Limit::Starved,
    ] {
        assert!(kept.get(&limit).is_some_and(|n| *n > 10), "{limit:?}: {kept:?}");
        assert!(left.get(&limit).is_some_and(|n| *n > 3), "{limit:?}: {left:?}");
    }
}

/// A contact's margin is below zero exactly where its state would be another.
#[test]
fn contacts_know_where_they_end() {
    let mut d = Dice::new(78);
    for _ in 0..20_000 {
        let mut b = bias(&mut d).house;
        b.sources = [Source::NONE; 2];
        b.contact = [Contact::Closed, Contact::ChargeBlocked, Contact::DischargeBlocked, Contact::Open]
            [d.between(0.0, 4.0) as usize];
        let (v, w) = (d.between(11.5, 14.5), d.between(11.5, 14.5));
        let states = b.states_at(v);
        assert_eq!(b.margin_in(states, w) < 0.0, b.states_at(w) != states, "{b:?} at {v} V and {w} V");
        assert!(b.margin_in(states, v) >= 0.0);
    }
}

#[test]
fn a_source_of_nothing_is_not_there() {
    assert!(!Source::NONE.present());
    let dark = Source { set_v: 14.0, droop_ohm: 0.02, ceiling: Ceiling::Power(0.0) };
    assert!(!dark.present());
}

/// Every guard has its own name in the message of a run that stalls.
#[test]
fn guards_by_number() {
    use Guard::*;
    let names = [
        UnitLimit,
        UnitLimit,
        UnitLimit,
        UnitLimit,
        SourceState,
        StartStop,
        Stage,
        Heat,
        Protection,
        Alternator,
        Alternator,
        Starter,
        House,
    ];
    for (n, name) in names.into_iter().enumerate() {
        assert_eq!(Guard::of(n), name, "guard {n}");
    }
}
