//! What the parts show the network at one instant, and how the states move.

use crate::logic::Mode;
use crate::model::{Model, Piece};
use crate::network::house_bus::{Contact, HouseBus};
use crate::network::source::{Ceiling, Source};
use crate::network::starter_bus::StarterBus;
use crate::network::{Bias, Net, Unit};
use crate::state::{CASE_C, HOUSE, N, STARTER, Vector, battery, put_battery};

/// What does not change while a step is taken, worked out once per step.
#[derive(Debug, Clone, Copy)]
pub struct Held<'a> {
    /// The vehicle.
    pub model: &'a Model,
    /// The conditions of the drive.
    pub piece: &'a Piece,
    /// The discrete state.
    pub mode: Mode,
    template: Bias,
    ramp_from_a: f64,
    ramp_a_per_s: f64,
}

impl<'a> Held<'a> {
    /// Prepares a step from the discrete state; `since_on_s` is the time since the unit came on.
    pub fn new(model: &'a Model, piece: &'a Piece, mode: Mode, since_on_s: f64) -> Self {
        let link = model.link();
        let c = &link.converter;
        let alternator = if mode.alternator_turns() {
            model.alternator.source(piece.engine_rpm, piece.set_point_v)
        } else {
            Source::NONE
        };
        let solar = Source {
            set_v: model.house_solar.set_v,
            droop_ohm: model.house_solar.droop_ohm,
            ceiling: Ceiling::Power(piece.house_solar_w),
        };
        let rate = if c.ramp_s > 0.0 { c.output_limit_a / c.ramp_s } else { 0.0 };
        let ramping = mode.ramping();
        let template = Bias {
            starter: StarterBus {
                emf_v: 0.0,
                r_ohm: 1.0,
                sources: [alternator, Source::NONE],
                load_a: piece.vehicle_load_a + if mode.cranking() { model.vehicle.crank_a } else { 0.0 },
                run_ohm: link.input_run.resistance_ohm(),
            },
            house: HouseBus {
                emf_v: 0.0,
                r_ohm: 1.0,
                contact: Contact::Closed,
                sources: [solar, Source::NONE],
                load_w: piece.house_load_w,
                run_ohm: link.output_run.resistance_ohm(),
            },
            unit: Unit {
                on: mode.on,
                standby_a: c.standby_a,
                output_cap_a: c.output_limit_a,
                input_cap_a: c.input_limit_a,
                floor_v: c.floor_v,
                target_v: mode.target_v(&link.stages),
                sense: c.sense,
                loss: c.loss,
            },
        };
        Held {
            model,
            piece,
            mode,
            template,
            ramp_from_a: if ramping { rate * since_on_s } else { c.output_limit_a },
            ramp_a_per_s: if ramping { rate } else { 0.0 },
        }
    }

    /// Current of the vehicle's own loads, cranking included, A.
    pub fn vehicle_a(&self) -> f64 {
        self.template.starter.load_a
    }

    /// The network's inputs `dt` seconds into the step.
    pub fn bias(&self, dt: f64, y: &Vector) -> Bias {
        let mut bias = self.template;
        let starter = self.model.starter.port(&battery(y, STARTER), self.mode.starter_hold);
        bias.starter.emf_v = starter.emf_v;
        bias.starter.r_ohm = starter.r_ohm;
        let house = self.model.house.port(&battery(y, HOUSE), self.mode.house_hold);
        bias.house.emf_v = house.emf_v;
        bias.house.r_ohm = house.r_ohm;
        bias.unit.output_cap_a = self.ramp_from_a + self.ramp_a_per_s * dt;
        bias
    }

    /// Derivatives of all states.
    pub fn flow(&self, y: &Vector, net: &Net) -> Vector {
        let mut dy = [0.0; N];
        let m = self.model;
        let starter = m.starter.derivative(&battery(y, STARTER), net.starter_a, self.mode.starter_hold);
        put_battery(&mut dy, STARTER, &starter);
        let house = m.house.derivative(&battery(y, HOUSE), net.house_a, self.mode.house_hold);
        put_battery(&mut dy, HOUSE, &house);
        let c = &m.link().converter;
        let heat_w = net.in_v * net.input_a - net.out_v * net.output_a;
        dy[CASE_C] = (heat_w - c.case_w_per_k * (y[CASE_C] - self.piece.air_c)) / c.case_j_per_k;
        dy
    }
}
