//! What meters read at six moments, and figures of the whole run.

use crate::catalogue::Ran;
use sim_core::Instant;
use sim_core::logic::{Refusal, Stage};
use sim_core::network::Net;
use sim_core::record::{Cause, Event, EventKind, Line};
use sim_core::state::HOUSE;

/// Moments of the table: its letter, what it is.
pub const MOMENTS: [&str; 6] = ["P", "S", "D", "H", "X", "Z"];

/// What is read at a moment.
const QUANTITIES: [&str; 10] = [
    "sb_v",
    "in_v",
    "out_v",
    "house_v",
    "cable_out_v",
    "input_a",
    "output_a",
    "house_a",
    "starter_a",
    "alternator_a",
];

/// The smallest and the greatest value over a window.
#[derive(Debug, Clone, Copy)]
pub struct Band {
    /// Smallest.
    pub low: f64,
    /// Greatest.
    pub high: f64,
}

fn value(net: &Net, quantity: &str) -> f64 {
    match quantity {
        "sb_v" => net.sb_v,
        "in_v" => net.in_v,
        "out_v" => net.out_v,
        "house_v" => net.house_v,
        "cable_out_v" => net.out_v - net.house_v,
        "input_a" => net.input_a,
        "output_a" => net.output_a,
        "house_a" => net.house_a,
        "starter_a" => net.starter_a,
        "alternator_a" => net.alternator_a,
        other => panic!("`{other}` is no quantity; known are {QUANTITIES:?}"),
    }
}

impl Ran {
    fn first(&self, kind: EventKind) -> f64 {
        self.run.events.iter().find(|e| e.kind == kind).expect("the engine is started and stopped").t.as_s()
    }

    fn key_off_s(&self) -> f64 {
        let last = self.run.events.iter().rev().find(|e| e.kind == EventKind::KeyOff);
        last.expect("the engine is stopped").t.as_s()
    }

    /// The window of a moment: its beginning and length, s.
    fn window(&self, moment: &str) -> (f64, f64) {
        let start = self.first(EventKind::KeyOn);
        match moment {
            "P" => (start - 60.0, 59.0),
            "S" => (start + 10.0, 1.0),
            "D" => (start + 60.0, 60.0),
            "H" => (start + 1800.0, 60.0),
            "F" => (self.key_off_s() - 61.0, 60.0),
            "X" => (self.key_off_s() + 10.0, 60.0),
            "Z" => (self.key_off_s() + 3600.0, 60.0),
            other => panic!("`{other}` is no moment"),
        }
    }

    /// Smallest and greatest value of a quantity at a moment.
    pub fn band(&self, quantity: &str, moment: &str) -> Band {
        let (from, long) = self.window(moment);
        let mut band = Band { low: f64::INFINITY, high: f64::NEG_INFINITY };
        let mut see = |net: &Net| {
            let v = value(net, quantity);
            band = Band { low: band.low.min(v), high: band.high.max(v) };
        };
        for k in 0..=(long as u32) {
            let t = Instant::from_s(from + f64::from(k));
            let sample = self.run.trace.at(&self.model, &self.profile, t);
            see(&sample.unwrap_or_else(|| panic!("{moment} is not within the run")).net);
        }
        for event in &self.run.events {
            if event.t.as_s() > from && event.t.as_s() < from + long {
                see(&event.before);
                see(&event.after);
            }
        }
        band
    }

    /// Charge out of the unit, Ah.
    pub fn delivered_ah(&self) -> f64 {
        self.run.ledger.ah(Line::OutputC)
    }

    /// A figure of the whole run, `delivered_pct` apart.
    pub fn total(&self, name: &str) -> f64 {
        let s = &self.summary;
        let count = |which: &dyn Fn(&EventKind, &Cause) -> bool| {
            self.run.events.iter().filter(|e| which(&e.kind, &e.cause)).count() as f64
        };
        let refused = |why: Refusal| count(&|kind, _| *kind == EventKind::ChargeRefused { why: Some(why) });
        let to_float = EventKind::Stage { to: Stage::Float };
        match name {
            "starts" => f64::from(s.came_on),
            "starts_driving" => f64::from(s.came_on - s.came_on_parked),
            "starts_parked" => f64::from(s.came_on_parked),
            "delivered_ah" => self.delivered_ah(),
            "ran_on_s" => s.ran_on_s.unwrap_or(0.0),
            "starter_gain_pct" => 100.0 * (s.starter_end_soc - s.starter_start_soc),
            "house_high_pct" => 100.0 * self.house_high(),
            "sb_low_v" => s.extremes.starter_low_v.expect("volts were met").value,
            "jump_a" => self.jump(|e| (e.after.output_a - e.before.output_a).abs()),
            "jump_out_v" => self.jump(|e| e.after.out_v - e.before.out_v),
            "stages" => count(&|kind, _| matches!(kind, EventKind::Stage { .. })),
            "refused_cold" => refused(Refusal::Cold),
            "refused_high_voltage" => refused(Refusal::HighVoltage),
            "ended_by_cap" => {
                count(&|kind, cause| *kind == to_float && matches!(cause, Cause::AbsorptionCap { .. }))
            }
            "ended_by_tail" => {
                count(&|kind, cause| *kind == to_float && matches!(cause, Cause::TailCurrent { .. }))
            }
            other => panic!("`{other}` is no figure of a run"),
        }
    }

    /// The greatest step at one instant, from 2 min after the start until the last key-off.
    fn jump(&self, step: impl Fn(&Event) -> f64) -> f64 {
        let (from, to) = (self.first(EventKind::KeyOn) + 120.0, self.key_off_s());
        let inside = self.run.events.iter().filter(|e| e.t.as_s() > from && e.t.as_s() < to);
        inside.map(step).fold(0.0, f64::max)
    }

    /// The fullest that a drive or a parked stretch leaves the house battery.
    fn house_high(&self) -> f64 {
        self.run.stretches.iter().map(|s| s.end[HOUSE]).fold(0.0, f64::max)
    }
}
