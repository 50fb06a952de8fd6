//! The most telling moment of a run, and the network as it stood then.

use super::super::Told;
use super::view::STRETCHES;
use sim_core::network::source::Source;
use sim_core::network::{Bias, Net, solve};
use sim_core::record::Sample;
use sim_core::record::trace::settled_bias;
use sim_core::{Instant, Piece};

/// Why a moment was chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// The unit on, the engine running: the input came nearest to turn-off, or deepest under it.
    SmallestMargin,
    /// The unit was on with the engine running, and no volts stopped it: its input was lowest.
    HeldOn,
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
        if told.timeline.on_driving_s() > 0.0
            && let Some(sample) = lowest_on(told)
        {
            return Some(Moment { sample, why: Why::HeldOn });
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
    pub fn piece(&self, told: &Told) -> Piece {
        told.profile.pieces().at(self.sample.piece)
    }
}

/// The lowest input of a unit that is on with the engine running.
fn lowest_on(told: &Told) -> Option<Sample> {
    let (from, to) = told.run.span;
    let all = told.run.trace.samples(told.model, told.profile, to.since(from) / STRETCHES);
    let on = all.filter(|s| s.mode.on && s.mode.alternator_turns());
    on.min_by(|a, b| a.net.in_v.total_cmp(&b.net.in_v))
}

/// The network at a sample with the unit on at its full limit, whatever it did then; the alternator as it was, or still.
pub fn bias_on(told: &Told, s: &Sample, alternator_turns: bool) -> Bias {
    let mut bias = settled_bias(told.model, told.profile, s);
    bias.unit.on = true;
    bias.unit.output_cap_a = told.model.link().converter.output_limit_a;
    if !alternator_turns {
        bias.starter.sources[0] = Source::NONE;
    }
    bias
}

/// Volts and amps with the unit on at its full limit.
pub fn if_on(told: &Told, s: &Sample) -> Net {
    solve(&bias_on(told, s, s.mode.alternator_turns())).0
}
