//! The linearised right-hand side against differences of it, every effect on, in several regimes.

use super::*;
use crate::logic::{Mode, Stage, Timer};
use crate::model::{
    Converter, HouseLoads, Link, Model, Piece, Protection, Regulator, Stages, StartStop, Vehicle,
};
use crate::network::solve;
use crate::plant::alternator::{Alternator, PickUp, RegulatorHeat, Winding};
use crate::plant::battery::{Battery, Chemistry, LeadAcid, Lithium, ThermalNode};
use crate::plant::cable::{Cable, Conductor};
use crate::plant::converter::Loss;
use crate::plant::fuse::FusePlace;
use crate::plant::set_point_rule::{self, Phase, SetPointRule};
use crate::state::N;
use crate::time::Instant;

fn run(ohm: f64) -> Cable {
    let leg = |in_bay| Conductor { ohm_20: ohm, j_per_k: 200.0, w_per_k: 1.0, in_bay };
    let conductors = [leg(true), leg(true), leg(false), leg(false)];
    Cable {
        conductors,
        joints_ohm: 0.002,
        joints_j_per_k: 20.0,
        joints_w_per_k: 0.3,
        joints_in_bay: true,
        ..Cable::default()
    }
}

fn model(pick_up: bool) -> Model {
    let starter = LeadAcid::starter_flooded(80.0);
    let house = Lithium::lfp(200.0, 4);
    let battery = |thermal, chemistry| Battery { chemistry, thermal, start_c: 20.0 };
    let mut alternator = Alternator::plain(14.2, 0.003, 140.0, 1000.0, 1500.0, 2.6);
    alternator.heat = Some(Winding { full_rise_k: 110.0, time_s: 600.0, derate_per_k: 0.0025 });
    alternator.pick_up = pick_up.then_some(PickUp { rate_a_per_s: 80.0, lag_s: 0.2 });
    alternator.rule = Some(SetPointRule { cruise_v: 13.2, ..set_point_rule::DEEP });
    let mut output_cable = run(0.001);
    (output_cable.conductors[2], output_cable.conductors[3]) = (Conductor::default(), Conductor::default());
    Model {
        alternator,
        vehicle: Vehicle::default(),
        starter: battery(starter.thermal_node(), Chemistry::LeadAcid(starter)),
        house: battery(house.thermal_node(), Chemistry::Lithium(house)),
        house_solar: Regulator { set_v: 14.4, droop_ohm: 0.02 },
        house_mains: Regulator::NONE,
        starter_solar: Regulator::NONE,
        protection: Protection::NONE,
        house_loads: HouseLoads::BARE,
        links: vec![Link {
            input_cable: run(0.003),
            converter: Converter {
                output_limit_a: 40.0,
                input_limit_a: 60.0,
                loss: Loss { fixed_w: 4.0, proportional: 0.04, square_per_w: 2e-5 },
                ramp_s: 5.0,
                standby_a: 0.005,
                locker: ThermalNode { j_per_k: 400.0, w_per_k: 4.0 },
                derate_from_c: 40.0,
                derate_to_c: 90.0,
                ..Converter::default()
            },
            start_stop: StartStop { filter_s: 0.2, compensation_ohm: 0.004, ..StartStop::default() },
            stages: Stages { absorption_v: 14.2, v_per_k: -0.02, ..Stages::default() },
            output_cable,
        }],
        bears: crate::plant::bears::Bears::default(),
    }
}

fn state() -> Vector {
    let mut y = [0.0; N];
    y[..9].copy_from_slice(&[0.93, 0.4, 0.25, 0.62, 0.05, 0.08, 55.0, 24.0, 22.0]);
    y[state::HOUSE_HYSTERESIS] = 0.3;
    y[state::HOUSE_UNRELAXED] = 0.2;
    y[state::LOCKER_C..state::LOCKER_C + 9]
        .copy_from_slice(&[30.0, 45.0, 44.0, 33.0, 32.0, 31.0, 30.0, 50.0, 35.0]);
    y[state::WINDING_C] = 80.0;
    y[state::REGULATOR_C] = 70.0;
    y[state::PICKED_UP_A] = 70.0;
    y[state::SET_POINT_V] = 14.2;
    y[state::SEEN_V] = 13.4;
    y
}

fn check(what: &str, m: &Model, mode: Mode, piece: &Piece, y: &Vector, wanted: Limit) {
    let mut mode = mode;
    let (mut net, mut regime) = (Net::default(), Regime::default());
    for _ in 0..3 {
        let held = Held::new(m, piece, mode, 1.5);
        (net, regime) = solve(&held.bias(0.0, y));
        net = held.complete(y, net);
        mode.starter_hold = m.starter.hold(&state::starter(y), net.starter_a);
        mode.house_hold = m.house.hold(&state::house(y), net.house_a);
    }
    assert_eq!(regime.limit, wanted, "{what}");
    let held = Held::new(m, piece, mode, 1.5);
    let at = |dt: f64, y: &Vector| held.flow(&held.warm(y), y, &held.net(dt, y, regime));
    let linear = Linear::new(&held, 0.0, y, &net, regime);
    let mut factored = Factored::default();
    linear.factor(3.0, &mut factored);
    fast_states_are_those_of_the_whole(what, &held, y, &net, &linear);
    for n in 0..N {
        let h = 1e-5 * state::SCALE[n];
        let (mut low, mut high) = (*y, *y);
        low[n] -= h;
        high[n] += h;
        let (a, b) = (at(0.0, &low), at(0.0, &high));
        let mut unit = [0.0; N];
        unit[n] = 1.0;
        let column = linear.apply(&unit);
        let size = column.iter().fold(0.0f64, |l, v| l.max(v.abs()));
        for i in 0..N {
            let difference = (b[i] - a[i]) / (2.0 * h);
            let off = (column[i] - difference).abs();
            assert!(
                off <= 1e-4 * difference.abs() + 1e-6 * size + 1e-9,
                "{what}: {} to {}: {} against {difference}",
                state::NAMES[i],
                state::NAMES[n],
                column[i]
            );
        }
        // The solve undoes `shift·x − J·x`.
        let mut x: Vector = std::array::from_fn(|i| 3.0 * unit[i] - column[i]);
        linear.solve(&factored, &mut x);
        for i in 0..N {
            assert!((x[i] - unit[i]).abs() < 1e-9 * (1.0 + size), "{what}: solve, {n} {i}: {}", x[i]);
        }
    }
    if let Some(slope) = linear.time_slope() {
        let (a, b) = (at(-1e-4, y), at(1e-4, y));
        for i in 0..N {
            let difference = (b[i] - a[i]) / 2e-4;
            assert!((slope[i] - difference).abs() <= 1e-4 * difference.abs() + 1e-9, "{what}: time, {i}");
        }
    }
}

/// The fast states' derivatives alone, and the small blocks among them, are those of the whole.
fn fast_states_are_those_of_the_whole(what: &str, held: &Held, y: &Vector, net: &Net, linear: &Linear) {
    let warm = held.warm(y);
    let whole = held.flow(&warm, y, net);
    assert_eq!(held.fast_flow(&warm, y, net), FAST_AT.map(|i| whole[i]), "{what}");
    let column = |i: usize| {
        let mut unit = [0.0; N];
        unit[i] = 1.0;
        linear.apply(&unit)
    };
    let near = |found: f64, wanted: f64, name: &str| {
        assert!(
            (found - wanted).abs() <= 1e-12 * (1.0 + wanted.abs()),
            "{what}, {name}: {found} against {wanted}"
        );
    };
    for with_current in [held.follows_regulator(), false] {
        let blocks = linear.fast(with_current);
        let [a, b, c, d, current, seen] = FAST_AT;
        let pair = if with_current { [current, a] } else { [a, b] };
        for (n, i) in pair.into_iter().enumerate() {
            let of = column(i);
            for m in 0..2 {
                near(blocks.starter[m][n], of[pair[m]], "starter side");
            }
            near(blocks.seen_of_starter[n], of[seen], "filter");
            let behind = if with_current { [b, c, d] } else { [i, c, d] };
            for (k, at) in behind.into_iter().enumerate().skip(usize::from(!with_current)) {
                near(blocks.behind[k].of_starter[n], of[at], "behind");
                near(blocks.behind[k].own, column(at)[at], "own");
            }
        }
        for (n, i) in [c, d].into_iter().enumerate() {
            for (m, at) in [c, d].into_iter().enumerate() {
                near(blocks.house[m][n], column(i)[at], "house side");
            }
        }
        near(-blocks.seen_rate, column(seen)[seen], "filter's own");
    }
}

#[test]
fn is_the_slope_of_the_right_hand_side() {
    let driving = Piece {
        engine_rpm: 2000.0,
        vehicle_load_a: 25.0,
        house_load_w: 60.0,
        house_solar_w: 50.0,
        bay_c: 60.0,
        phase: Phase::Cruise,
        set_point_v: 14.65,
        ..Piece::NOTHING
    };
    for (pick_up, ruled) in [(false, true), (true, true), (false, false), (true, false)] {
        let name = |what: &str| format!("{what}, pick-up {pick_up}, ruled {ruled}");
        let mut m = model(pick_up);
        if !ruled {
            // A regulator that has warmed from 25 °C to 70 °C: the set-point of before, or a state that moves it.
            let a = &mut m.alternator;
            (a.rule, a.set_point_v_per_k) = (None, -0.01);
            a.regulator =
                Some(RegulatorHeat { rise_k: 30.0, warms_s: 400.0, cools_s: 900.0, start_c: f64::NAN });
        }
        let mut on = Mode { on: true, engine_runs: true, derate: Derate::On, ..Mode::default() };
        on.set_point.way = 1;
        check(&name("on"), &m, on, &driving, &state(), Limit::OutputCurrent);
        let mut ramping = on;
        ramping.timers.start(Timer::Ramp, Instant::ZERO, 5.0);
        check(&name("ramp"), &m, ramping, &driving, &state(), Limit::OutputCurrent);
        let mut open = on;
        open.open.0[FusePlace::OutputUnitEnd as usize] = true;
        check(&name("output open"), &m, open, &driving, &state(), Limit::Idle);
        let cut = Piece { input_open: true, ..driving };
        check(&name("input open"), &m, on, &cut, &state(), Limit::Off);
        let mut blown = on;
        blown.open.0[FusePlace::InputUnitEnd as usize] = true;
        check(&name("input fuse open"), &m, blown, &driving, &state(), Limit::Off);
        check(&name("off"), &m, Mode { on: false, ..on }, &driving, &state(), Limit::Off);
        let parked = Piece { engine_rpm: 0.0, vehicle_load_a: 0.05, ..driving };
        let asleep = Mode { on: false, engine_runs: false, ..on };
        check(&name("parked"), &m, asleep, &parked, &state(), Limit::Off);
        let mut full = state();
        full[state::HOUSE + 2] = 0.9;
        check(
            &name("held volts"),
            &m,
            Mode { stage: Stage::Absorption, ..on },
            &driving,
            &full,
            Limit::Voltage,
        );
        let mut limited = m.clone();
        limited.links[0].converter.input_limit_a = 15.0;
        check(&name("input limit"), &limited, on, &driving, &state(), Limit::InputCurrent);
        let weak = Piece { engine_rpm: 700.0, vehicle_load_a: 60.0, ..driving };
        check(&name("weak alternator"), &m, on, &weak, &state(), Limit::OutputCurrent);
    }
}
