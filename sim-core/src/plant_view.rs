//! What the parts show the network at one instant, and how the states move.

use crate::effects::Effects;
use crate::mode::{Derate, Mode, asked_a};
use crate::model::{Model, Piece, STAGES_REFERENCE_C};
use crate::network::house_bus::HouseBus;
use crate::network::source::{Ceiling, Source};
use crate::network::starter_bus::StarterBus;
use crate::network::{Bias, Net, Regime, Unit, free_at, solve_in};
use crate::plant::battery::BatteryAt;
use crate::state::{self, Vector};

pub(crate) mod linear;

/// What does not change while a step is taken, worked out once per step.
#[derive(Debug, Clone, Copy)]
pub struct Held<'a> {
    /// The vehicle.
    pub model: &'a Model,
    /// The conditions of the drive.
    pub piece: &'a Piece,
    /// The discrete state.
    pub mode: Mode,
    /// States in use.
    pub used: usize,
    /// How far past its own limits what a source can give must rise before the unit is free of it, A and V.
    pub(crate) free: f64,
    template: Bias,
    /// Whether the piece stands for several rows of a log, at the lowest of their engine speeds.
    pub(crate) over_rows: bool,
    /// Whether the input cable is open: as the drive has it, or behind a fuse that has opened.
    pub(crate) input_open: bool,
    ramp_from_a: f64,
    ramp_a_per_s: f64,
    /// The vehicle's effects, those of the alternator and the unit's derating as far as they act now.
    acts: Effects,
    /// Both batteries at their temperatures where a step began: what they are at those nearby follows from there.
    around: Option<(Warms<'a>, [f64; 2])>,
}

/// Both batteries at their temperatures.
#[derive(Debug, Clone, Copy)]
pub struct Warms<'a> {
    /// The starter battery.
    pub starter: BatteryAt<'a>,
    /// The house battery.
    pub house: BatteryAt<'a>,
}

impl<'a> Held<'a> {
    /// Prepares a step from the discrete state; `since_on_s` is the time since the unit came on.
    pub fn new(model: &'a Model, piece: &'a Piece, mode: Mode, since_on_s: f64) -> Self {
        let link = model.link();
        let c = &link.converter;
        let a = &model.alternator;
        let effects = Effects::of(model);
        let turns = mode.alternator_turns();
        let alternator = if turns {
            let shift_v =
                if effects.regulator { 0.0 } else { a.shift_v(piece.set_point_as_read, piece.air_c) };
            let ceiling = Ceiling::Current(a.capability_a(piece.engine_rpm));
            Source { set_v: piece.set_point_v + shift_v, droop_ohm: a.droop_ohm, ceiling }
        } else {
            Source::NONE
        };
        let source =
            |r: &crate::model::Regulator, ceiling| Source { set_v: r.set_v, droop_ohm: r.droop_ohm, ceiling };
        let solar = source(&model.house_solar, Ceiling::Power(piece.house_solar_w));
        let mains = source(&model.house_mains, Ceiling::Current(piece.mains_a));
        let starter_solar = source(&model.starter_solar, Ceiling::Current(piece.starter_solar_a));
        let rate = if c.ramp_s > 0.0 { c.output_limit_a / c.ramp_s } else { 0.0 };
        let ramping = mode.ramping();
        let load_a = if mode.starter_dead { 0.0 } else { asked_a(&mode, model, piece) };
        let heater_w = if mode.mat { model.protection.heater_w } else { 0.0 };
        let input_open = piece.input_open || mode.open.input();
        let template = Bias {
            starter: StarterBus {
                emf_v: 0.0,
                r_ohm: 1.0,
                sources: [alternator, starter_solar],
                load_a,
                cable_ohm: link.input_cable.resistance_ohm() + piece.input_joint_extra_ohm,
            },
            house: HouseBus {
                emf_v: 0.0,
                r_ohm: 1.0,
                contact: mode.contact,
                sources: [solar, mains],
                load_w: if mode.shed { 0.0 } else { piece.house_load_w } + heater_w,
                cable_ohm: link.output_cable.resistance_ohm(),
            },
            unit: Unit {
                // Behind an open run a unit that is on is fed nothing, and one that is off draws no standby; nor does it on
                // a collapsed battery.
                on: mode.on && !input_open,
                output_open: mode.open.output(),
                standby_a: if input_open || mode.starter_dead { 0.0 } else { c.standby_a },
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
            used: effects.used(),
            free: free_at(0.0),
            over_rows: false,
            template,
            input_open,
            ramp_from_a: if ramping { rate * since_on_s } else { c.output_limit_a },
            ramp_a_per_s: if ramping { rate } else { 0.0 },
            acts: Effects {
                derate: mode.derate != Derate::Under,
                winding: turns && effects.winding,
                regulator: turns && effects.regulator && !piece.set_point_as_read && !effects.rule,
                rule: turns && effects.rule,
                // An alternator that stands gives nothing, at once.
                pick_up: turns && effects.pick_up,
                ..effects
            },
            around: None,
        }
    }

    /// Works out what temperatures decide around a state from here on; in the plain model they decide nothing.
    pub fn settle_around(&mut self, y: &Vector) {
        if self.used > state::PLAIN {
            self.around = None;
            self.around = Some((self.warm(y), [y[state::STARTER_C], y[state::HOUSE_C]]));
        }
    }

    /// Current of the vehicle's own loads, cranking included, A.
    pub fn vehicle_a(&self) -> f64 {
        self.template.starter.load_a
    }

    /// Current that the vehicle's loads ask for and do not get, A.
    pub fn unserved_a(&self) -> f64 {
        if self.mode.starter_dead { asked_a(&self.mode, self.model, self.piece) } else { 0.0 }
    }

    /// Power that the house loads ask for and do not get, W.
    pub fn unserved_w(&self) -> f64 {
        if self.mode.shed { self.piece.house_load_w } else { 0.0 }
    }

    /// Power of the house loads, a heater mat included, W.
    pub fn house_load_w(&self) -> f64 {
        self.template.house.load_w
    }

    /// The input cable as warm as it is, and whatever its joints have on top, Ω.
    pub fn input_cable_ohm(&self, y: &Vector) -> f64 {
        let run = &self.model.link().input_cable;
        run.resistance_at(&y[state::INPUT_CABLE_C..]) + self.piece.input_joint_extra_ohm
    }

    /// Both batteries at their temperatures.
    pub fn warm(&self, y: &Vector) -> Warms<'a> {
        let [starter_c, house_c] = [y[state::STARTER_C], y[state::HOUSE_C]];
        match &self.around {
            Some((near, [a, b])) => {
                Warms { starter: near.starter.moved(*a, starter_c), house: near.house.moved(*b, house_c) }
            }
            None => Warms { starter: self.model.starter.at(starter_c), house: self.model.house.at(house_c) },
        }
    }

    /// The network's inputs `dt` seconds into the step.
    pub fn bias(&self, dt: f64, y: &Vector) -> Bias {
        self.bias_at(&self.warm(y), dt, y)
    }

    /// The network's inputs `dt` seconds into the step, what temperatures decide given.
    pub fn bias_at(&self, warm: &Warms, dt: f64, y: &Vector) -> Bias {
        let mut bias = self.template;
        let starter = warm.starter.port(&state::starter(y), &self.mode.starter_hold);
        bias.starter.emf_v = starter.emf_v;
        bias.starter.r_ohm = starter.r_ohm;
        let house = warm.house.port(&state::house(y), &self.mode.house_hold);
        bias.house.emf_v = house.emf_v;
        bias.house.r_ohm = house.r_ohm;
        bias.unit.output_cap_a = self.ramp_from_a + self.ramp_a_per_s * dt;
        self.effects(&mut bias, y);
        bias
    }

    /// What the effects beyond the plain model do to the network's inputs.
    fn effects(&self, bias: &mut Bias, y: &Vector) {
        let link = self.model.link();
        if self.acts.input_cable {
            bias.starter.cable_ohm = self.input_cable_ohm(y);
        }
        if self.acts.output_cable {
            bias.house.cable_ohm = link.output_cable.resistance_at(&y[state::OUTPUT_CABLE_C..]);
        }
        if self.acts.derate {
            bias.unit.output_cap_a *= derate_share(self, y);
        }
        if self.acts.compensation {
            bias.unit.target_v = self.target_v(y);
        }
        let alternator = &mut bias.starter.sources[0];
        if self.acts.winding
            && let Ceiling::Current(most) = &mut alternator.ceiling
        {
            *most *= self.model.alternator.heat_share(y[state::WINDING_C]);
        }
        alternator.set_v += self.shift_v(y);
        if self.acts.pick_up {
            // Behind the pick-up the alternator is a current source; its regulator's wish moves the state.
            bias.starter.load_a -= y[state::PICKED_UP_A];
            bias.starter.sources[0] = Source::NONE;
        }
    }

    /// What the unit holds, V.
    fn target_v(&self, y: &Vector) -> f64 {
        let per_k = self.model.link().stages.v_per_k;
        let off_k = if self.acts.compensation { y[state::HOUSE_C] - STAGES_REFERENCE_C } else { 0.0 };
        self.template.unit.target_v + per_k * off_k
    }

    /// The network's inputs once the alternator has taken up its load.
    pub fn settled_bias(&self, y: &Vector) -> Bias {
        let mut bias = self.bias(0.0, y);
        if self.acts.pick_up {
            bias.starter.load_a += y[state::PICKED_UP_A];
            bias.starter.sources[0] = self.regulator(y);
        }
        bias
    }

    /// The alternator as its regulator sees it, pick-up left out.
    pub fn regulator(&self, y: &Vector) -> Source {
        let mut source = self.template.starter.sources[0];
        if let Ceiling::Current(most) = &mut source.ceiling {
            *most *= self.model.alternator.heat_share(y[state::WINDING_C]);
        }
        source.set_v += self.shift_v(y);
        source
    }

    /// How far states move the set-point from that of the piece, V: the rule's slew, the regulator's temperature.
    fn shift_v(&self, y: &Vector) -> f64 {
        let mut shift_v = 0.0;
        if self.acts.rule {
            shift_v += y[state::SET_POINT_V] - self.piece.set_point_v;
        }
        if self.acts.regulator {
            shift_v += self.model.alternator.shift_v(self.piece.set_point_as_read, y[state::REGULATOR_C]);
        }
        shift_v
    }

    /// Volts and amps `dt` seconds into the step, the regime held.
    pub fn net(&self, dt: f64, y: &Vector, regime: Regime) -> Net {
        self.complete(y, solve_in(&self.bias(dt, y), regime))
    }

    /// The network's answer with what it does not know put in.
    pub fn complete(&self, y: &Vector, mut net: Net) -> Net {
        if self.acts.pick_up {
            net.alternator_a = y[state::PICKED_UP_A];
        }
        if self.input_open {
            net.in_v = 0.0;
        }
        if self.template.unit.output_open {
            // A unit that is off, or has no input, leaves its own terminals dead.
            net.out_v = if self.template.unit.on { self.target_v(y) } else { 0.0 };
        }
        net
    }

    /// What the alternator's regulator aims at, V; not a number while the alternator stands.
    pub fn set_point_v(&self, y: &Vector) -> f64 {
        if self.mode.alternator_turns() { self.regulator(y).set_v } else { f64::NAN }
    }

    /// Whether the alternator's current follows its regulator, as a state of its own.
    pub(crate) fn follows_regulator(&self) -> bool {
        self.acts.pick_up && !self.mode.slewing
    }

    /// Derivatives of all states, what temperatures decide given.
    pub fn flow(&self, warm: &Warms, y: &Vector, net: &Net) -> Vector {
        let mut dy = [0.0; state::N];
        let m = self.model;
        let c = &m.link().converter;
        let air_c = self.piece.air_c;
        let (x, hold) = (state::starter(y), &self.mode.starter_hold);
        let around_c = if m.vehicle.starter_in_bay { self.piece.bay_c } else { air_c };
        let starter = warm.starter.derivative(&m.starter.thermal, &x, net.starter_a, hold, [around_c, 0.0]);
        state::put_starter(&mut dy, &starter);
        let heater_w = if self.mode.mat { m.protection.heater_w } else { 0.0 };
        let (x, hold) = (state::house(y), &self.mode.house_hold);
        let house = warm.house.derivative(&m.house.thermal, &x, net.house_a, hold, [air_c, heater_w]);
        state::put_house(&mut dy, &house);
        let heat_w = net.in_v * net.input_a - net.out_v * net.output_a;
        let around_c = if self.acts.locker { y[state::LOCKER_C] } else { air_c };
        let released_w = self.case_w_per_k() * (y[state::CASE_C] - around_c);
        dy[state::CASE_C] = (heat_w - released_w) / c.case_j_per_k;
        if self.used > state::PLAIN {
            if self.acts.locker {
                dy[state::LOCKER_C] = c.locker.derivative(y[state::LOCKER_C], air_c, released_w, 0.0);
            }
            self.slow_effects(y, net, &mut dy);
        }
        dy
    }

    /// Heat that the unit's case gives off to what is around it, W/K: what moves it says so here, for flow and slope alike.
    fn case_w_per_k(&self) -> f64 {
        self.model.link().converter.case_w_per_k
    }

    /// Derivatives of the fast states alone, in the order of [`linear::FAST_AT`].
    pub fn fast_flow(&self, warm: &Warms, y: &Vector, net: &Net) -> linear::Fast {
        let hold = &self.mode.starter_hold;
        let [a, b] = warm.starter.branches(&state::starter(y), net.starter_a, hold);
        let hold = &self.mode.house_hold;
        let [c, d] = warm.house.branches(&state::house(y), net.house_a, hold);
        let (mut current, mut seen) = (0.0, 0.0);
        if self.used > state::PLAIN {
            current = self.current_rate(y, net);
            seen = self.seen_rate(y, net);
        }
        [a, b, c, d, current, seen]
    }

    /// Rate of the alternator's current, A/s.
    fn current_rate(&self, y: &Vector, net: &Net) -> f64 {
        // A standing alternator's state rests; the next start sets it to nothing.
        match self.model.alternator.pick_up.filter(|_| self.acts.pick_up) {
            Some(p) if self.mode.slewing => p.rate_a_per_s,
            Some(_) => self.pick_up_rate(y, net),
            None => 0.0,
        }
    }

    /// Rate of the filter before the thresholds, V/s.
    fn seen_rate(&self, y: &Vector, net: &Net) -> f64 {
        let rule = &self.model.link().start_stop;
        if self.acts.filter {
            (net.in_v + rule.compensation_ohm * net.input_a - y[state::SEEN_V]) / rule.filter_s
        } else {
            0.0
        }
    }

    fn slow_effects(&self, y: &Vector, net: &Net, dy: &mut Vector) {
        let (m, piece, link) = (self.model, self.piece, self.model.link());
        let runs = [
            (
                self.acts.input_cable,
                &link.input_cable,
                state::INPUT_CABLE_C,
                state::INPUT_JOINTS_C,
                net.input_a,
            ),
            (
                self.acts.output_cable,
                &link.output_cable,
                state::OUTPUT_CABLE_C,
                state::OUTPUT_JOINTS_C,
                net.output_a,
            ),
        ];
        for (warms, run, first, joints, i) in runs {
            let air = |in_bay: bool| if in_bay { piece.bay_c } else { piece.air_c };
            if warms {
                let conductors = if first == state::OUTPUT_CABLE_C { 2 } else { run.conductors.len() };
                for (n, c) in run.conductors[..conductors].iter().enumerate() {
                    dy[first + n] = c.rate(y[first + n], air(c.in_bay), i);
                }
            }
            let extra_ohm = if first == state::INPUT_CABLE_C { piece.input_joint_extra_ohm } else { 0.0 };
            dy[joints] = run.joints_rate(y[joints], air(run.joints_in_bay), i, extra_ohm);
        }
        dy[state::WINDING_C] = m.alternator.winding_rate(y[state::WINDING_C], piece.bay_c, net.alternator_a);
        if let Some(regulator) = &m.alternator.regulator {
            dy[state::REGULATOR_C] = regulator.rate(y[state::REGULATOR_C], piece.bay_c, piece.engine_runs());
        }
        dy[state::PICKED_UP_A] = self.current_rate(y, net);
        if let Some(rule) = m.alternator.rule {
            dy[state::SET_POINT_V] = rule.rate_v_per_s(self.mode.set_point.way);
        }
        dy[state::SEEN_V] = self.seen_rate(y, net);
    }

    /// Rate at which the alternator's current would follow its regulator, A/s.
    pub fn pick_up_rate(&self, y: &Vector, net: &Net) -> f64 {
        let Some(p) = self.model.alternator.pick_up else { return 0.0 };
        let source = self.regulator(y);
        // The state of the regulator is not held: at its corners the rate is continuous.
        let wish = source.current_in(source.state_at(net.sb_v), net.sb_v);
        (wish - y[state::PICKED_UP_A]) / p.lag_s
    }
}

/// Share of the output current limit that heat leaves.
fn derate_share(held: &Held, y: &Vector) -> f64 {
    let c = &held.model.link().converter;
    match held.mode.derate {
        Derate::Under => 1.0,
        Derate::On => (c.derate_to_c - y[state::CASE_C]) / (c.derate_to_c - c.derate_from_c),
        Derate::Past => 0.0,
    }
}
