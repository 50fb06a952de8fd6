//! Every number of a model, one after the other, to be turned.
//!
//! The structs are taken apart without `..`: a new field does not compile until it is here, and what is here is turned by
//! the test that holds the steppers against each other (`tests/physics/net.rs`).

use sim_core::Model;
use sim_core::model::{
    Converter, HouseLoads, Link, Piece, Protection, Regulator, SignalUse, Stages, StartStop, Vehicle,
};
use sim_core::plant::alternator::{Alternator, PickUp, RegulatorHeat, Winding};
use sim_core::plant::battery::lead_acid::{Branch, Gassing};
use sim_core::plant::battery::lithium::{Ends, RelaxingTop};
use sim_core::plant::battery::{Battery, Chemistry, Emf, LeadAcid, Lithium, PlainBattery, ThermalNode};
use sim_core::plant::cable::{Cable, Conductor};
use sim_core::plant::converter::Loss;
use sim_core::plant::fuse::Fuse;
use sim_core::plant::set_point_rule::{DEEP, SetPointRule};

/// What is done with each number: its path, itself, and a value at which it acts, for one that is at nothing.
pub struct Turn<'a> {
    path: Vec<String>,
    see: &'a mut dyn FnMut(&str, &mut f64, f64),
}

impl Turn<'_> {
    fn number(&mut self, name: &str, value: &mut f64, acting: f64) {
        self.path.push(name.to_owned());
        (self.see)(&self.path.join("."), value, acting);
        self.path.pop();
    }

    /// A choice between two, as a number that is 0 or 1.
    fn choice(&mut self, name: &str, value: &mut bool) {
        let mut number = f64::from(u8::from(*value));
        let before = number;
        self.number(name, &mut number, 1.0);
        *value ^= number.to_bits() != before.to_bits();
    }

    /// A part that may be missing: turned, it is there.
    fn part<T>(
        &mut self,
        name: &str,
        part: &mut Option<T>,
        there: T,
        inside: impl FnOnce(&mut T, &mut Self),
    ) {
        if let Some(part) = part {
            return self.within(name, |turn| inside(part, turn));
        }
        let mut missing = false;
        self.choice(name, &mut missing);
        if missing {
            *part = Some(there);
        }
    }

    fn within(&mut self, name: &str, inside: impl FnOnce(&mut Self)) {
        self.path.push(name.to_owned());
        inside(self);
        self.path.pop();
    }
}

/// Shows every number of a vehicle.
pub fn of_model(model: &mut Model, see: &mut dyn FnMut(&str, &mut f64, f64)) {
    let turn = &mut Turn { path: Vec::new(), see };
    let Model {
        alternator: a,
        vehicle: v,
        starter,
        house,
        house_solar,
        house_mains,
        starter_solar,
        protection: p,
        house_loads,
        links,
        bears: _, // What parts bear changes no run.
    } = model;
    turn.within("alternator", |t| alternator(a, t));
    turn.within("vehicle", |t| vehicle(v, t));
    turn.within("starter", |t| battery(starter, t));
    turn.within("house", |t| battery(house, t));
    turn.within("house_solar", |t| regulator(house_solar, t));
    turn.within("house_mains", |t| regulator(house_mains, t));
    turn.within("starter_solar", |t| regulator(starter_solar, t));
    turn.within("protection", |t| protection(p, t));
    turn.within("house_loads", |t| {
        let HouseLoads { stop_v, return_v, hold_s } = house_loads;
        t.number("stop_v", stop_v, 12.9);
        t.number("return_v", return_v, 13.4);
        t.number("hold_s", hold_s, 45.0);
    });
    for l in links {
        turn.within("link", |t| link(l, t));
    }
}

/// Shows every condition of a piece of the drive, times apart.
pub fn of_piece(piece: &mut Piece, see: &mut dyn FnMut(&str, &mut f64, f64)) {
    let t = &mut Turn { path: vec!["piece".to_owned()], see };
    let Piece {
        start: _,
        end: _,
        engine_rpm,
        set_point_v,
        set_point_as_read,
        vehicle_load_a,
        house_load_w,
        house_solar_w,
        air_c,
        bay_c,
        run_signal,
        phase: _, // Turned by the rule's levels.
        starter_solar_a,
        mains_a,
        stop_start,
        input_joint_extra_ohm,
        input_open,
        day: _, // Books the ledger; `days` tests hold that.
    } = piece;
    t.number("engine_rpm", engine_rpm, 900.0);
    t.number("set_point_v", set_point_v, 14.0);
    t.choice("set_point_as_read", set_point_as_read);
    t.number("vehicle_load_a", vehicle_load_a, 15.0);
    t.number("house_load_w", house_load_w, 80.0);
    t.number("house_solar_w", house_solar_w, 120.0);
    t.number("air_c", air_c, 5.0);
    t.number("bay_c", bay_c, 35.0);
    t.choice("run_signal", run_signal);
    t.number("starter_solar_a", starter_solar_a, 3.0);
    t.number("mains_a", mains_a, 10.0);
    t.choice("stop_start", stop_start);
    t.number("input_joint_extra_ohm", input_joint_extra_ohm, 0.004);
    t.choice("input_open", input_open);
}

fn alternator(a: &mut Alternator, t: &mut Turn<'_>) {
    let Alternator {
        set_point_v,
        set_point_v_per_k,
        regulator,
        heat,
        build_up_s,
        pick_up,
        rule,
        efficiency: _,     // Tells fuel.
        fuel_l_per_kwh: _, // Tells fuel.
        droop_ohm,
        asymptote_a,
        cut_in_rpm,
        rise_rpm,
        pulley_ratio,
    } = a;
    t.number("set_point_v", set_point_v, 14.2);
    t.number("set_point_v_per_k", set_point_v_per_k, -0.02);
    let cold = RegulatorHeat { rise_k: 40.0, warms_s: 300.0, cools_s: 900.0, start_c: 30.0 };
    t.part("regulator", regulator, cold, |r, t| {
        let RegulatorHeat { rise_k, warms_s, cools_s, start_c } = r;
        t.number("rise_k", rise_k, 30.0);
        t.number("warms_s", warms_s, 300.0);
        t.number("cools_s", cools_s, 600.0);
        t.number("start_c", start_c, 30.0);
    });
    let winding = Winding { full_rise_k: 110.0, time_s: 300.0, derate_per_k: 0.0025 };
    t.part("heat", heat, winding, |h, t| {
        let Winding { full_rise_k, time_s, derate_per_k } = h;
        t.number("full_rise_k", full_rise_k, 100.0);
        t.number("time_s", time_s, 300.0);
        t.number("derate_per_k", derate_per_k, 0.003);
    });
    t.number("build_up_s", build_up_s, 3.0);
    t.part("pick_up", pick_up, PickUp { rate_a_per_s: 80.0, lag_s: 1.0 }, |p, t| {
        let PickUp { rate_a_per_s, lag_s } = p;
        t.number("rate_a_per_s", rate_a_per_s, 40.0);
        t.number("lag_s", lag_s, 1.0);
    });
    t.part("rule", rule, a_rule(), |r, t| set_point_rule(r, t));
    t.number("droop_ohm", droop_ohm, 0.003);
    t.number("asymptote_a", asymptote_a, 140.0);
    t.number("cut_in_rpm", cut_in_rpm, 1000.0);
    t.number("rise_rpm", rise_rpm, 1500.0);
    t.number("pulley_ratio", pulley_ratio, 2.6);
}

fn a_rule() -> SetPointRule {
    SetPointRule { cruise_v: 13.6, idle_v: 14.0, start_up_v: 14.4, ..DEEP }
}

fn set_point_rule(r: &mut SetPointRule, t: &mut Turn<'_>) {
    let SetPointRule {
        overrun_v,
        cruise_v,
        accelerating_v,
        idle_v,
        refresh_v,
        low_soc,
        cold_c,
        heavy_a,
        up_v_per_s,
        down_v_per_s,
        start_up_v,
        start_up_s,
    } = r;
    t.number("overrun_v", overrun_v, 14.9);
    t.number("cruise_v", cruise_v, 13.0);
    t.number("accelerating_v", accelerating_v, 12.5);
    t.number("idle_v", idle_v, 13.5);
    t.number("refresh_v", refresh_v, 14.5);
    t.number("low_soc", low_soc, 0.95);
    t.number("cold_c", cold_c, 25.0);
    t.number("heavy_a", heavy_a, 10.0);
    t.number("up_v_per_s", up_v_per_s, 0.05);
    t.number("down_v_per_s", down_v_per_s, 0.05);
    t.number("start_up_s", start_up_s, 60.0);
    t.number("start_up_v", start_up_v, 14.4);
}

fn vehicle(v: &mut Vehicle, t: &mut Turn<'_>) {
    let Vehicle { crank_a, crank_s, awake_a, sleep_after_s, drop_out_v, return_v, starter_in_bay } = v;
    t.number("crank_a", crank_a, 180.0);
    t.number("crank_s", crank_s, 0.8);
    t.number("awake_a", awake_a, 4.0);
    t.number("sleep_after_s", sleep_after_s, 300.0);
    t.number("drop_out_v", drop_out_v, 12.3);
    t.number("return_v", return_v, 12.9);
    t.choice("starter_in_bay", starter_in_bay);
}

fn regulator(r: &mut Regulator, t: &mut Turn<'_>) {
    let Regulator { set_v, droop_ohm } = r;
    t.number("set_v", set_v, 14.0);
    t.number("droop_ohm", droop_ohm, 0.02);
}

fn protection(p: &mut Protection, t: &mut Turn<'_>) {
    let Protection {
        cold_c,
        cold_release_c,
        high_v,
        high_release_v,
        low_v,
        low_release_v,
        over_a,
        over_release_s,
        heater_w,
    } = p;
    t.number("cold_c", cold_c, 22.0);
    t.number("cold_release_c", cold_release_c, 24.0);
    t.number("high_v", high_v, 13.3);
    t.number("high_release_v", high_release_v, 13.2);
    t.number("low_v", low_v, 13.15);
    t.number("low_release_v", low_release_v, 13.3);
    t.number("over_a", over_a, 30.0);
    t.number("over_release_s", over_release_s, 40.0);
    t.number("heater_w", heater_w, 60.0);
}

fn battery(b: &mut Battery, t: &mut Turn<'_>) {
    let Battery { chemistry, thermal, start_c } = b;
    match chemistry {
        Chemistry::Plain(b) => t.within("plain", |t| plain(b, t)),
        Chemistry::LeadAcid(b) => t.within("lead_acid", |t| lead_acid(b, t)),
        Chemistry::Lithium(b) => t.within("lithium", |t| lithium(b, t)),
    }
    node("thermal", thermal, t);
    t.number("start_c", start_c, 10.0);
}

fn node(name: &str, n: &mut ThermalNode, t: &mut Turn<'_>) {
    let ThermalNode { j_per_k, w_per_k } = n;
    t.within(name, |t| {
        t.number("j_per_k", j_per_k, 2000.0);
        t.number("w_per_k", w_per_k, 2.0);
    });
}

fn emf(e: &mut Emf, t: &mut Turn<'_>) {
    if let Emf::Linear { empty_v, full_v } = e {
        t.number("empty_v", empty_v, 11.8);
        t.number("full_v", full_v, 12.7);
    } else {
        let mut moved = 0.0;
        t.number("emf", &mut moved, 0.05);
        if moved != 0.0 {
            *e = e.moved_v(moved);
        }
    }
}

fn pairs(name: &str, pair: &mut [f64; 2], acting: f64, t: &mut Turn<'_>) {
    let [fast, slow] = pair;
    t.within(name, |t| {
        t.number("0", fast, acting);
        t.number("1", slow, acting);
    });
}

fn plain(b: &mut PlainBattery, t: &mut Turn<'_>) {
    let PlainBattery { capacity_c, emf: e, r0_ohm, branch_ohm, branch_s, charge_efficiency, start_soc } = b;
    t.number("capacity_c", capacity_c, 3e5);
    emf(e, t);
    t.number("r0_ohm", r0_ohm, 0.005);
    pairs("branch_ohm", branch_ohm, 0.005, t);
    pairs("branch_s", branch_s, 60.0, t);
    t.number("charge_efficiency", charge_efficiency, 0.9);
    t.number("start_soc", start_soc, 0.5);
}

fn branch(name: &str, b: &mut Branch, t: &mut Turn<'_>) {
    let Branch {
        discharge_ohm,
        time_s,
        charge_share,
        acceptance,
        charge_soft_v,
        charge_power,
        discharge_soft_v,
        charge_per_k,
        discharge_per_k,
        half_soc,
    } = b;
    t.within(name, |t| {
        t.number("discharge_ohm", discharge_ohm, 0.004);
        t.number("time_s", time_s, 20.0);
        t.number("charge_share", charge_share, 0.5);
        t.number("acceptance", acceptance, 0.5);
        t.number("charge_soft_v", charge_soft_v, 0.3);
        t.number("charge_power", charge_power, 3.0);
        t.number("discharge_soft_v", discharge_soft_v, 0.3);
        t.number("charge_per_k", charge_per_k, 0.02);
        t.number("discharge_per_k", discharge_per_k, 0.02);
        t.number("half_soc", half_soc, 0.3);
    });
}

fn lead_acid(b: &mut LeadAcid, t: &mut Turn<'_>) {
    let LeadAcid {
        cells: _, // Volts and resistances are of the whole battery.
        capacity_c,
        empty_v,
        full_v,
        emf_v_per_k,
        r0_ohm,
        r0_empty_rise,
        r0_per_k,
        fast,
        slow,
        depletion_per_v,
        depletion_soft_v,
        gassing,
        self_discharge_per_s,
        gassing_per_k,
        charge_efficiency,
        start_soc,
    } = b;
    t.number("capacity_c", capacity_c, 3e5);
    t.number("empty_v", empty_v, 11.8);
    t.number("full_v", full_v, 12.7);
    t.number("emf_v_per_k", emf_v_per_k, 0.001);
    t.number("r0_ohm", r0_ohm, 0.005);
    t.number("r0_empty_rise", r0_empty_rise, 0.4);
    t.number("r0_per_k", r0_per_k, 0.01);
    branch("fast", fast, t);
    branch("slow", slow, t);
    t.number("depletion_per_v", depletion_per_v, 0.5);
    t.number("depletion_soft_v", depletion_soft_v, 0.3);
    let Gassing { scale_a, slope_v, onset_v, carried_v } = gassing;
    t.number("gassing.scale_a", scale_a, 0.5);
    t.number("gassing.slope_v", slope_v, 0.4);
    t.number("gassing.onset_v", onset_v, 14.0);
    t.number("gassing.carried_v", carried_v, 8.9);
    t.number("self_discharge_per_s", self_discharge_per_s, 1e-8);
    t.number("gassing_per_k", gassing_per_k, 0.05);
    t.number("charge_efficiency", charge_efficiency, 0.95);
    t.number("start_soc", start_soc, 0.5);
}

fn lithium(b: &mut Lithium, t: &mut Turn<'_>) {
    let Lithium {
        cells: _, // Tables and resistances are of the whole battery.
        capacity_c,
        emf: e,
        top,
        ends,
        r0_ohm,
        activation_k,
        branch_ohm,
        branch_s,
        hysteresis_v,
        hysteresis_rate,
        self_discharge_per_s,
        charge_efficiency,
        start_soc,
        start_hysteresis,
    } = b;
    t.number("capacity_c", capacity_c, 7e5);
    emf(e, t);
    if let Some(RelaxingTop { excess: _, relax_s, follow_c }) = top {
        t.number("top.relax_s", relax_s, 1800.0);
        t.number("top.follow_c", follow_c, 7000.0);
    }
    let mut steep = *ends == Ends::Steep;
    t.choice("ends", &mut steep);
    *ends = if steep { Ends::Steep } else { Ends::Saturating };
    t.number("r0_ohm", r0_ohm, 0.004);
    t.number("activation_k", activation_k, 2000.0);
    pairs("branch_ohm", branch_ohm, 0.004, t);
    pairs("branch_s", branch_s, 30.0, t);
    t.number("hysteresis_v", hysteresis_v, 0.03);
    t.number("hysteresis_rate", hysteresis_rate, 40.0);
    t.number("self_discharge_per_s", self_discharge_per_s, 1e-8);
    t.number("charge_efficiency", charge_efficiency, 0.98);
    t.number("start_soc", start_soc, 0.5);
    t.number("start_hysteresis", start_hysteresis, 0.5);
}

fn link(l: &mut Link, t: &mut Turn<'_>) {
    let Link { input_cable, converter: c, start_stop: s, stages: st, output_cable } = l;
    t.within("input_cable", |t| cable(input_cable, t));
    t.within("converter", |t| converter(c, t));
    t.within("start_stop", |t| start_stop(s, t));
    t.within("stages", |t| stages(st, t));
    t.within("output_cable", |t| cable(output_cable, t));
}

fn cable(c: &mut Cable, t: &mut Turn<'_>) {
    let Cable {
        conductors,
        joints_ohm,
        joints_j_per_k,
        joints_w_per_k,
        joints_in_bay,
        battery_end_fuse,
        unit_end_fuse,
    } = c;
    for (n, conductor) in conductors.iter_mut().enumerate() {
        let Conductor { ohm_20, j_per_k, w_per_k, in_bay } = conductor;
        t.within(&format!("conductors.{n}"), |t| {
            t.number("ohm_20", ohm_20, 0.002);
            t.number("j_per_k", j_per_k, 200.0);
            t.number("w_per_k", w_per_k, 0.5);
            t.choice("in_bay", in_bay);
        });
    }
    t.number("joints_ohm", joints_ohm, 0.003);
    t.number("joints_j_per_k", joints_j_per_k, 20.0);
    t.number("joints_w_per_k", joints_w_per_k, 0.3);
    t.choice("joints_in_bay", joints_in_bay);
    for fuse in [battery_end_fuse, unit_end_fuse].into_iter().flatten() {
        let Fuse { rating_a, kind: _, breaks_a: _, opening: _ } = fuse; // Types and curves have tests of their own.
        t.number("fuse.rating_a", rating_a, 30.0);
    }
}

fn converter(c: &mut Converter, t: &mut Turn<'_>) {
    let Converter {
        output_limit_a,
        input_limit_a,
        floor_v,
        sense: _, // A choice: `on_unit` has both.
        loss: Loss { fixed_w, proportional, square_per_w },
        ramp_s,
        standby_a,
        case_j_per_k,
        case_w_per_k,
        locker,
        derate_from_c,
        derate_to_c,
        lock_c,
        reclose_c,
    } = c;
    t.number("output_limit_a", output_limit_a, 30.0);
    t.number("input_limit_a", input_limit_a, 35.0);
    t.number("floor_v", floor_v, 13.4);
    t.number("loss.fixed_w", fixed_w, 5.0);
    t.number("loss.proportional", proportional, 0.05);
    t.number("loss.square_per_w", square_per_w, 3e-5);
    t.number("ramp_s", ramp_s, 3.0);
    t.number("standby_a", standby_a, 0.02);
    t.number("case_j_per_k", case_j_per_k, 500.0);
    t.number("case_w_per_k", case_w_per_k, 1.5);
    node("locker", locker, t);
    t.number("derate_from_c", derate_from_c, 25.0);
    t.number("derate_to_c", derate_to_c, 60.0);
    t.number("lock_c", lock_c, 27.0);
    t.number("reclose_c", reclose_c, 25.0);
}

fn start_stop(s: &mut StartStop, t: &mut Turn<'_>) {
    let StartStop {
        turn_on_v,
        turn_on_delay_s,
        turn_off_v,
        turn_off_delay_s,
        least_off_s,
        signal,
        filter_s,
        compensation_ohm,
    } = s;
    t.number("turn_on_v", turn_on_v, 13.3);
    t.number("turn_on_delay_s", turn_on_delay_s, 15.0);
    t.number("turn_off_v", turn_off_v, 12.8);
    t.number("turn_off_delay_s", turn_off_delay_s, 2.0);
    t.number("least_off_s", least_off_s, 120.0);
    if let SignalUse::SecondPair { turn_on_v, turn_off_v } = signal {
        t.number("signal.turn_on_v", turn_on_v, 13.0);
        t.number("signal.turn_off_v", turn_off_v, 12.2);
    }
    t.number("filter_s", filter_s, 0.5);
    t.number("compensation_ohm", compensation_ohm, 0.003);
}

fn stages(s: &mut Stages, t: &mut Turn<'_>) {
    let Stages {
        absorption_v,
        tail_a,
        tail_hold_s,
        absorption_cap_s,
        float_v,
        recharge_v,
        recharge_hold_s,
        fixed_supply,
        resume,
        cap_cumulative,
        v_per_k,
    } = s;
    t.number("absorption_v", absorption_v, 13.6);
    t.number("tail_a", tail_a, 8.0);
    t.number("tail_hold_s", tail_hold_s, 30.0);
    t.number("absorption_cap_s", absorption_cap_s, 300.0);
    t.number("float_v", float_v, 13.5);
    t.number("recharge_v", recharge_v, 13.3);
    t.number("recharge_hold_s", recharge_hold_s, 30.0);
    t.choice("fixed_supply", fixed_supply);
    t.choice("resume", resume);
    t.choice("cap_cumulative", cap_cumulative);
    t.number("v_per_k", v_per_k, -0.02);
}
