//! The most telling moment of a run, and the network as it stood then.

use super::super::Told;
use sim_core::network::house_bus::{Contact, HouseBus};
use sim_core::network::source::{Ceiling, Source};
use sim_core::network::starter_bus::StarterBus;
use sim_core::network::{Bias, Net, Unit, solve};
use sim_core::record::Sample;
use sim_core::state::{HOUSE, STARTER, battery};
use sim_core::{Instant, Piece};

/// Why a moment was chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// The unit on, the engine running: the input came nearest to turn-off, or deepest under it.
    SmallestMargin,
    /// The unit never came on with the engine running: the input came nearest to turn-on.
    NearestTurnOn,
    /// The engine never ran: the start of the run.
    Parked,
}

/// A moment.
#[derive(Debug, Clone, Copy)]
pub struct Moment {
    /// Everything at that moment.
    pub sample: Sample,
    /// Why this one.
    pub why: Why,
}

impl Moment {
    /// The most telling moment; `None` for a run without a trace.
    pub fn of(told: &Told) -> Option<Moment> {
        let extremes = &told.summary.extremes;
        let at = |t: Instant| told.run.trace.at(told.model, told.profile, t);
        if let Some(met) = extremes.margin_v {
            let t = Instant::from_s(met.t_s);
            // At a jump the trace shows the side after it; the side with the smaller margin is the one that was met.
            let sample = [0, -1]
                .iter()
                .filter_map(|&ns| at(t.plus_ns(ns)))
                .filter(|s| s.mode.on && s.mode.alternator_turns())
                .min_by(|a, b| a.net.in_v.total_cmp(&b.net.in_v));
            if let Some(sample) = sample {
                return Some(Moment { sample, why: Why::SmallestMargin });
            }
        }
        if let Some(met) = extremes.waiting_in_v {
            let t = Instant::from_s(met.t_s);
            let sample = [0, -1]
                .iter()
                .filter_map(|&ns| at(t.plus_ns(ns)))
                .filter(|s| !s.mode.on && s.mode.alternator_turns())
                .max_by(|a, b| a.net.in_v.total_cmp(&b.net.in_v));
            if let Some(sample) = sample {
                return Some(Moment { sample, why: Why::NearestTurnOn });
            }
        }
        at(told.run.span.0).map(|sample| Moment { sample, why: Why::Parked })
    }

    /// The drive's conditions at that moment.
    pub fn piece<'a>(&self, told: &'a Told) -> &'a Piece {
        &told.profile.pieces()[self.sample.piece]
    }
}

/// The network at a sample with the unit on at its full limit, whatever it did then; the alternator as it was, or still.
pub fn bias_on(told: &Told, s: &Sample, alternator_turns: bool) -> Bias {
    let m = told.model;
    let (link, piece) = (m.link(), &told.profile.pieces()[s.piece]);
    let c = &link.converter;
    let starter = m.starter.port(&battery(&s.state, STARTER), s.mode.starter_hold);
    let house = m.house.port(&battery(&s.state, HOUSE), s.mode.house_hold);
    let alternator = if alternator_turns {
        m.alternator.source(piece.engine_rpm, piece.set_point_v)
    } else {
        Source::NONE
    };
    let solar = Source {
        set_v: m.house_solar.set_v,
        droop_ohm: m.house_solar.droop_ohm,
        ceiling: Ceiling::Power(piece.house_solar_w),
    };
    Bias {
        starter: StarterBus {
            emf_v: starter.emf_v,
            r_ohm: starter.r_ohm,
            sources: [alternator, Source::NONE],
            load_a: piece.vehicle_load_a,
            run_ohm: link.input_run.resistance_ohm(),
        },
        house: HouseBus {
            emf_v: house.emf_v,
            r_ohm: house.r_ohm,
            contact: Contact::Closed,
            sources: [solar, Source::NONE],
            load_w: piece.house_load_w,
            run_ohm: link.output_run.resistance_ohm(),
        },
        unit: Unit {
            on: true,
            standby_a: c.standby_a,
            output_cap_a: c.output_limit_a,
            input_cap_a: c.input_limit_a,
            floor_v: c.floor_v,
            target_v: s.mode.target_v(&link.stages),
            sense: c.sense,
            loss: c.loss,
        },
    }
}

/// Volts and amps with the unit on at its full limit.
pub fn if_on(told: &Told, s: &Sample) -> Net {
    solve(&bias_on(told, s, s.mode.alternator_turns())).0
}
