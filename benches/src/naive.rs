//! The loop one would write first: forward Euler, one second, thresholds polled once a step, timers counted in steps.
//!
//! It solves the same network and moves the same plain batteries, so that only stepping and switching differ. It keeps no
//! ledger, no trace and no events but the count of switchings.

use sim_core::logic::Stage;
use sim_core::model::{Model, Piece, Profile};
use sim_core::network::house_bus::{Contact, HouseBus};
use sim_core::network::source::{Ceiling, Source};
use sim_core::network::starter_bus::StarterBus;
use sim_core::network::{Bias, Limit, Unit, solve};
use sim_core::plant::battery::{BranchState, PlainBattery};

/// What the loop leaves behind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outcome {
    /// House battery at the end, share of full.
    pub house_soc: f64,
    /// Times the unit came on.
    pub came_on: u32,
    /// Steps taken.
    pub steps: u64,
}

#[derive(Default)]
struct Rules {
    on: bool,
    stage: Stage,
    over_s: f64,
    under_s: f64,
    on_s: f64,
    tail_s: f64,
    absorption_s: f64,
    recharge_s: f64,
}

/// Runs a plain vehicle with steps of `h_s` seconds.
///
/// # Panics
/// On batteries that are not plain.
pub fn run(m: &Model, profile: &Profile, h_s: f64) -> Outcome {
    let (starter, house) = (m.starter.plain().expect("plain"), m.house.plain().expect("plain"));
    let link = m.link();
    let (mut s, mut h) = (starter.start(), house.start());
    let mut case_c = profile.pieces().at(0).air_c;
    let mut r = Rules::default();
    let (mut came_on, mut steps, mut crank_left_s, mut ran) = (0, 0, 0.0, false);
    for piece in profile.pieces().iter() {
        if piece.engine_runs() && !ran {
            crank_left_s = m.vehicle.crank_s;
        }
        ran = piece.engine_runs();
        let mut left_s = piece.end.since(piece.start);
        while left_s > 1e-9 {
            let dt = h_s.min(left_s);
            let bias = bias(m, &piece, starter, house, &s, &h, &r, crank_left_s > 0.0);
            let (net, regime) = solve(&bias);
            came_on += u32::from(r.poll(m, net.in_v, net.out_v, net.output_a, regime.limit, dt));
            move_battery(starter, &mut s, net.starter_a, dt);
            move_battery(house, &mut h, net.house_a, dt);
            let heat_w = net.in_v * net.input_a - net.out_v * net.output_a;
            let c = &link.converter;
            case_c += dt * (heat_w - c.case_w_per_k * (case_c - piece.air_c)) / c.case_j_per_k;
            crank_left_s -= dt;
            left_s -= dt;
            steps += 1;
        }
    }
    Outcome { house_soc: h.soc, came_on, steps }
}

fn move_battery(b: &PlainBattery, x: &mut BranchState, i: f64, dt: f64) {
    let d = b.derivative(x, i, b.hold(x, i));
    x.soc = (x.soc + dt * d.soc).clamp(0.0, 1.0);
    x.v1 += dt * d.v1;
    x.v2 += dt * d.v2;
}

#[expect(clippy::too_many_arguments, reason = "a loop of this kind has them all at hand")]
fn bias(
    m: &Model,
    piece: &Piece,
    starter: &PlainBattery,
    house: &PlainBattery,
    s: &BranchState,
    h: &BranchState,
    r: &Rules,
    cranking: bool,
) -> Bias {
    let link = m.link();
    let c = &link.converter;
    let port = |b: &PlainBattery, x: &BranchState| b.port(x, b.hold(x, 0.0));
    let (sp, hp) = (port(starter, s), port(house, h));
    let alternator = if piece.engine_runs() && !cranking {
        let ceiling = Ceiling::Current(m.alternator.capability_a(piece.engine_rpm));
        Source { set_v: piece.set_point_v, droop_ohm: m.alternator.droop_ohm, ceiling }
    } else {
        Source::NONE
    };
    let ramp = if c.ramp_s > 0.0 { (r.on_s / c.ramp_s).min(1.0) } else { 1.0 };
    Bias {
        starter: StarterBus {
            emf_v: sp.emf_v,
            r_ohm: sp.r_ohm,
            sources: [alternator, Source::NONE],
            load_a: piece.vehicle_load_a + if cranking { m.vehicle.crank_a } else { 0.0 },
            cable_ohm: link.input_cable.resistance_ohm(),
        },
        house: HouseBus {
            emf_v: hp.emf_v,
            r_ohm: hp.r_ohm,
            contact: Contact::Closed,
            sources: [
                Source {
                    set_v: m.house_solar.set_v,
                    droop_ohm: m.house_solar.droop_ohm,
                    ceiling: Ceiling::Power(piece.house_solar_w),
                },
                Source::NONE,
            ],
            load_w: piece.house_load_w,
            cable_ohm: link.output_cable.resistance_ohm(),
        },
        unit: Unit {
            on: r.on,
            output_open: false,
            standby_a: c.standby_a,
            output_cap_a: ramp * c.output_limit_a,
            input_cap_a: c.input_limit_a,
            floor_v: c.floor_v,
            target_v: if r.stage == Stage::Float { link.stages.float_v } else { link.stages.absorption_v },
            sense: c.sense,
            loss: c.loss,
        },
    }
}

impl Rules {
    /// Counts what holds; returns whether the unit came on.
    fn poll(&mut self, m: &Model, in_v: f64, out_v: f64, output_a: f64, limit: Limit, dt: f64) -> bool {
        let (rule, stages) = (&m.link().start_stop, &m.link().stages);
        let count = |held: bool, s: f64| if held { s + dt } else { 0.0 };
        if !self.on {
            self.over_s = count(in_v >= rule.turn_on_v, self.over_s);
            if self.over_s >= rule.turn_on_delay_s {
                *self = Rules { on: true, ..Rules::default() };
                return true;
            }
            return false;
        }
        self.on_s += dt;
        self.under_s = count(in_v < rule.turn_off_v, self.under_s);
        if self.under_s >= rule.turn_off_delay_s {
            *self = Rules::default();
            return false;
        }
        let by_voltage = matches!(limit, Limit::Voltage | Limit::Idle);
        match self.stage {
            Stage::Bulk if by_voltage => self.stage = Stage::Absorption,
            Stage::Bulk => {}
            Stage::Absorption => {
                self.absorption_s += dt;
                self.tail_s = count(by_voltage && output_a < stages.tail_a, self.tail_s);
                if self.tail_s >= stages.tail_hold_s || self.absorption_s >= stages.absorption_cap_s {
                    self.stage = Stage::Float;
                }
            }
            Stage::Float => {
                self.recharge_s = count(out_v < stages.recharge_v, self.recharge_s);
                if self.recharge_s >= stages.recharge_hold_s {
                    (self.stage, self.recharge_s) = (Stage::Bulk, 0.0);
                    (self.tail_s, self.absorption_s) = (0.0, 0.0);
                }
            }
        }
        false
    }
}
