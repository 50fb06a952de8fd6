//! Where closed forms put the borders of a threshold map: straight algebra, each line with the regime it holds in.
//!
//! They take the alternator as regulating and the starter battery as full and settled; a lead-acid one, whose charge dies
//! away, as drawing nothing. Where the map's own borders lie elsewhere, the simulation holds what a line leaves out.

use super::key_off::Parked;
use super::trial::Trial;
use crate::network::Net;
use crate::record::event::EventKind;

/// What the lines are made of, read off one run of the vehicle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapLines {
    /// Starter posts without the unit, V.
    pub open_v: f64,
    /// How far they fall for each ampere, the starter battery settled, Ω.
    pub source_ohm: f64,
    /// How far they fall at once, Ω.
    pub source_at_once_ohm: f64,
    /// The input cable, Ω.
    pub cable_ohm: f64,
    /// Input power of the unit at its full output, W.
    pub input_w: f64,
    /// Its input current limit, A.
    pub input_limit_a: f64,
    /// Its draw while off, A.
    pub standby_a: f64,
    /// Volts at the input a given time after key-off under a steady power, where there is a form for it.
    pub parked: Option<Parked>,
}

impl MapLines {
    /// Reads them off a run in which the unit came on; `None` where it never did or the engine never ran.
    pub fn of(trial: &Trial) -> Option<MapLines> {
        let (model, profile) = (&trial.resolved.model, &trial.resolved.profile);
        let driven = profile.pieces().iter().filter(|p| p.engine_runs());
        let piece = driven.max_by(|a, b| a.end.since(a.start).total_cmp(&b.end.since(b.start)))?;
        let on = |net: &Net| net.output_a > 0.0;
        let ends = trial.run.events.iter().rev();
        let mut stops = ends.filter(|e| matches!(e.kind, EventKind::KeyOff | EventKind::UnitOff));
        let last = stops.find(|e| on(&e.before))?;
        let link = model.link();
        let droop_ohm = model.alternator.droop_ohm;
        let plain = model.starter.plain();
        let full = plain.map(|b| {
            let full_v = b.emf.value_in(b.emf.piece_of(1.0), 1.0);
            (full_v, b.r0_ohm + b.branch_ohm.iter().sum::<f64>())
        });
        let parallel = |other: Option<f64>| other.map_or(droop_ohm, |r| droop_ohm * r / (droop_ohm + r));
        let source_ohm = parallel(full.map(|f| f.1));
        let pushed_a = full.map_or(0.0, |(v, r)| v / r);
        let set_v = model.settled_set_point_v(&piece);
        Some(MapLines {
            open_v: (set_v / droop_ohm - piece.vehicle_load_a + pushed_a) * source_ohm,
            source_ohm,
            source_at_once_ohm: parallel(plain.map(|b| b.r0_ohm)),
            cable_ohm: link.input_cable.resistance_ohm(),
            input_w: link.converter.loss.input_w(last.before.out_v * link.converter.output_limit_a),
            input_limit_a: link.converter.input_limit_a,
            standby_a: link.converter.standby_a,
            parked: Parked::at_last_key_off(trial),
        })
    }

    /// Input current with the input standing at `volts`, A.
    fn input_a(&self, volts: f64) -> f64 {
        (self.input_w / volts).min(self.input_limit_a)
    }

    /// (c17 at no current) Turn-on at and above which the unit never comes on, V. Holds once the starter battery is full;
    /// a drive too short for that never sees so much.
    pub fn never_starts_v(&self) -> f64 {
        self.open_v - self.standby_a * (self.source_ohm + self.cable_ohm)
    }

    /// (c3, c17) Turn-off at and above which the unit keeps dropping out under its own load, V.
    pub fn hunts_v(&self) -> f64 {
        crossing(5.0, self.open_v, |off| {
            off - (self.open_v - self.input_a(off) * (self.source_ohm + self.cable_ohm))
        })
    }

    /// (c17) The run, Ω, with which the input stands at `off_v` under load: `(V_SB,on − V_off)/I_in`.
    pub fn critical_cable_ohm(&self, off_v: f64) -> f64 {
        (self.open_v - off_v) / self.input_a(off_v) - self.source_ohm
    }

    /// (c18) Turn-on at and below which the unit cycles at the start, V. Sharp where it comes on exactly at turn-on;
    /// a delay in which the starter battery rises allows less.
    pub fn start_up_v(&self, off_v: f64) -> f64 {
        off_v + self.input_a(off_v) * (self.cable_ohm + self.source_at_once_ohm)
    }

    /// (c5) Turn-on at and above which the band is wide enough whatever the set-point, V: a guide, no border.
    pub fn wide_enough_v(&self, off_v: f64) -> f64 {
        off_v + self.input_a(off_v) * (self.cable_ohm + self.source_ohm)
    }

    /// (c6) Turn-off at and below which the unit runs on for longer than `seconds` after key-off, V, at a steady power
    /// from the starter battery as it stood at key-off, its rested voltage falling with the charge drawn; `None` where the
    /// battery has no such form.
    pub fn runs_on_v(&self, seconds: f64) -> Option<f64> {
        let p = self.parked?;
        let left = |off: f64| off - p.input_v(seconds, off, self.cable_ohm);
        Some(crossing(5.0, p.rested_v + 3.0, left))
    }
}

/// Where a rising function passes zero.
fn crossing(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..60 {
        let mid = f64::midpoint(low, high);
        if f(mid) < 0.0 { low = mid } else { high = mid }
    }
    f64::midpoint(low, high)
}
