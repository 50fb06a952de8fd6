//! Margins: how near a run comes to each of its limits, when, and under which conditions.

use crate::engine::Run;
use crate::logic::start_stop::{above_turn_off_v, above_turn_on_v, thresholds};
use crate::model::{Model, Profile};
use crate::record::trace::{Knot, Sample};
use crate::scenario::Scenario;
use crate::scenario::limits::CRANK_RESERVE_PCT;
use crate::state::{
    CASE_C, HOUSE, INPUT_CABLE_C, INPUT_JOINTS_C, OUTPUT_CABLE_C, OUTPUT_JOINTS_C, STARTER, WINDING_C,
};
use serde::Serialize;

/// The limits that a run is held against.
#[derive(Debug, Clone, PartialEq)]
pub struct Against {
    /// Rating of the smaller fuse of the input cable, A, if there is one.
    pub input_fuse_a: Option<f64>,
    /// What the insulation of the input cable bears, °C.
    pub input_insulation_c: f64,
    /// What that of the output cable bears, °C.
    pub output_insulation_c: f64,
    /// What the joints of input and output cable bear, °C.
    pub joints_c: [f64; 2],
    /// State of charge that the starter battery must keep to crank, share of full.
    pub crank_reserve_soc: f64,
}

/// Which limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Limit {
    /// Turn-off, unit on and engine running, V.
    TurnOff,
    /// Turn-on, in the wait with the engine running that came least far above it, V. A wait counts from the turn-on delay.
    TurnOn,
    /// The input fuse's rating, A.
    Fuse,
    /// What the insulation of a conductor bears, K.
    Insulation,
    /// What the joints of a cable bear, K.
    Joints,
    /// What the alternator can give at that speed and heat, A: with the unit on, where it ever is.
    Alternator,
    /// The starter battery's reserve for cranking, Ah.
    CrankReserve,
}

/// A margin: the smallest, and where it was met.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Margin {
    /// Which limit.
    pub limit: Limit,
    /// How far from it, as what is judged sees it: behind its filter, with its compensation; negative beyond it. V, A, K or Ah,
    /// as the limit says.
    pub left: f64,
    /// The limit that rules then, V, A, °C or Ah: of two pairs of thresholds the one that the run signal calls.
    pub limit_at: f64,
    /// Conditions at that moment.
    pub at: Conditions,
}

/// Conditions at one moment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Conditions {
    /// When, s since the start.
    pub t_s: f64,
    /// Engine speed, rpm.
    pub engine_rpm: f64,
    /// What the alternator's regulator aims at, V; `None` while it stands.
    pub set_point_v: Option<f64>,
    /// Volts at the starter posts.
    pub starter_v: f64,
    /// Volts at the unit's input.
    pub input_v: f64,
    /// Alternator current, A.
    pub alternator_a: f64,
    /// Current into the starter battery, A.
    pub starter_a: f64,
    /// Input current of the unit, A.
    pub input_a: f64,
    /// Output current of the unit, A.
    pub output_a: f64,
    /// Temperature of the air, °C.
    pub air_c: f64,
    /// Hottest conductor or joint of both runs, °C; `None` where they stay at one temperature.
    pub hottest_cable_c: Option<f64>,
    /// Case of the unit, °C.
    pub case_c: f64,
    /// Alternator winding, °C; `None` where heat takes nothing away.
    pub winding_c: Option<f64>,
    /// Starter battery, share of full.
    pub starter_soc: f64,
    /// House battery, share of full.
    pub house_soc: f64,
}

/// All margins of a run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Margins {
    /// Those that the run has.
    pub all: Vec<Margin>,
    /// Lowest volts at the starter posts while cranking, and when.
    pub crank_low: Option<Margin>,
    /// Time with the unit on and the alternator within 1 % of all it can give, s.
    pub alternator_full_s: f64,
}

impl Against {
    /// What a scenario states. `insulation_c` and `reserve_pct` stand in for its own values.
    pub fn of(scenario: &Scenario, insulation_c: Option<f64>, reserve_pct: Option<f64>) -> Self {
        let cable = &scenario.input_cable;
        let ratings = [&cable.fuse_a, &cable.unit_end_fuse_a].into_iter().flatten().map(|n| n.value);
        let typed = scenario.limits.crank_reserve_pct.as_ref().map(|n| n.value);
        Against {
            input_fuse_a: ratings.reduce(f64::min),
            input_insulation_c: insulation_c.unwrap_or(scenario.input_cable.insulation_c.value),
            output_insulation_c: insulation_c.unwrap_or(scenario.output_cable.insulation_c.value),
            joints_c: [scenario.input_cable.joints_most_c.value, scenario.output_cable.joints_most_c.value],
            crank_reserve_soc: reserve_pct.or(typed).unwrap_or(CRANK_RESERVE_PCT) / 100.0,
        }
    }

    /// Nothing: for whoever asks for the margin to turn-off alone.
    pub fn nothing() -> Self {
        Against {
            input_fuse_a: None,
            input_insulation_c: f64::INFINITY,
            output_insulation_c: f64::INFINITY,
            joints_c: [f64::INFINITY; 2],
            crank_reserve_soc: 0.0,
        }
    }
}

impl Margins {
    /// Measures a run that kept its trace, in one pass; the smallest values are looked for inside steps too, so they do not
    /// hang on where steps ended.
    pub fn of(run: &Run, model: &Model, profile: &Profile, against: &Against) -> Margins {
        let scan = Scan { run, model, profile };
        let rule = &model.link().start_stop;
        let capacity_ah = model.starter.capacity_c() / 3600.0;
        let reserve_ah = against.crank_reserve_soc * capacity_ah;
        let rating_a = against.input_fuse_a;
        let spare_a = |s: &Sample| s.mode.alternator_turns().then(|| scan.most_a(s) - s.net.alternator_a);
        let turn_off = |s: &Sample| {
            let turns = s.mode.alternator_turns();
            turns.then(|| above_turn_off_v(&s.mode, model, &s.state, &s.net)).flatten()
        };
        let fuse = |s: &Sample| rating_a.filter(|_| s.mode.on).map(|a| a - s.net.input_a);
        let insulation = |s: &Sample| scan.insulation(s, against).map(|(left_k, _)| left_k);
        let joints = |s: &Sample| scan.joints(s, against).map(|(left_k, _)| left_k);
        let alternator_on = |s: &Sample| spare_a(s).filter(|_| s.mode.on);
        let reserve = |s: &Sample| Some(s.state[STARTER] * capacity_ah - reserve_ah);
        let cranking = |s: &Sample| s.mode.cranking().then_some(s.net.sb_v);
        let mut least = [
            &turn_off as Quantity,
            &fuse,
            &insulation,
            &joints,
            &alternator_on,
            &spare_a,
            &reserve,
            &cranking,
        ]
        .map(|of| Least { of, best: None });
        let mut waits = Waits::default();
        let (mut came_on, mut alternator_full_s) = (false, 0.0);
        for knot in run.trace.steps(model, profile) {
            let samples = INSIDE.map(|share| (share, scan.sample(&knot, (share * knot.ns as f64) as i64)));
            least.iter_mut().for_each(|l| l.see(&knot, &samples));
            waits.see(&scan, &knot);
            if knot.mode.on && knot.mode.alternator_turns() {
                came_on = true;
                let full = scan.is_full(&scan.sample(&knot, knot.ns / 2));
                alternator_full_s += if full { knot.ns as f64 * 1e-9 } else { 0.0 };
            }
        }
        let [turn_off, fuse, insulation, joints, alternator_on, alternator, reserve, cranking] =
            least.map(|l| l.found(&scan));
        let margin = |found: Option<(f64, Sample)>, limit, limit_at: f64| {
            found.map(|(left, s)| Margin { limit, left, limit_at, at: scan.conditions(&s) })
        };
        let alternator = if came_on { alternator_on } else { alternator };
        let all = [
            turn_off.map(|(left, s)| Margin {
                limit: Limit::TurnOff,
                left,
                limit_at: thresholds(rule, s.mode.signal).1,
                at: scan.conditions(&s),
            }),
            waits.margin(&scan),
            margin(fuse, Limit::Fuse, rating_a.unwrap_or(f64::NAN)),
            insulation.map(|(left, s)| Margin {
                limit: Limit::Insulation,
                left,
                limit_at: scan.insulation(&s, against).map_or(f64::NAN, |(_, limit_c)| limit_c),
                at: scan.conditions(&s),
            }),
            joints.map(|(left, s)| Margin {
                limit: Limit::Joints,
                left,
                limit_at: scan.joints(&s, against).map_or(f64::NAN, |(_, limit_c)| limit_c),
                at: scan.conditions(&s),
            }),
            margin(alternator, Limit::Alternator, 0.0)
                .map(|m| Margin { limit_at: m.left + m.at.alternator_a, ..m }),
            margin(reserve, Limit::CrankReserve, reserve_ah),
        ];
        Margins {
            all: all.into_iter().flatten().collect(),
            crank_low: margin(cranking, Limit::CrankReserve, 0.0),
            alternator_full_s,
        }
    }

    /// The margin to one limit, if the run has it.
    pub fn to(&self, limit: Limit) -> Option<&Margin> {
        self.all.iter().find(|m| m.limit == limit)
    }
}

struct Scan<'a> {
    run: &'a Run,
    model: &'a Model,
    profile: &'a Profile,
}

/// Places inside a step that are looked at, shares of it.
const INSIDE: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];

/// Something that can be little; `None` where it is not defined.
type Quantity<'a> = &'a dyn Fn(&Sample) -> Option<f64>;

/// The least value of a quantity, and the step that has it.
struct Least<'a> {
    of: Quantity<'a>,
    best: Option<(f64, Sample, Knot, f64)>,
}

impl Least<'_> {
    fn see(&mut self, knot: &Knot, samples: &[(f64, Sample)]) {
        for (share, sample) in samples {
            if let Some(value) = (self.of)(sample)
                && self.best.as_ref().is_none_or(|b| value < b.0)
            {
                self.best = Some((value, *sample, *knot, *share));
            }
        }
    }

    /// It and where it is met: golden section between the neighbouring places, since a smooth quantity has one dip there.
    fn found(self, scan: &Scan) -> Option<(f64, Sample)> {
        let (mut value, mut sample, knot, share) = self.best?;
        let ns = knot.ns as f64;
        let (mut low, mut high) = (((share - 0.25).max(0.0)) * ns, ((share + 0.25).min(1.0)) * ns);
        for _ in 0..40 {
            let (a, b) = (low + 0.382 * (high - low), low + 0.618 * (high - low));
            let (at_a, at_b) = (scan.sample(&knot, a as i64), scan.sample(&knot, b as i64));
            let (Some(va), Some(vb)) = ((self.of)(&at_a), (self.of)(&at_b)) else { break };
            for (v, s) in [(va, at_a), (vb, at_b)] {
                if v < value {
                    (value, sample) = (v, s);
                }
            }
            if va < vb { high = b } else { low = a }
        }
        Some((value, sample))
    }
}

/// Waits with the engine running, and the one that came least far above turn-on.
#[derive(Default)]
struct Waits {
    /// The one that goes on: how long so far, ns, its highest value, and where.
    open: Option<(i64, f64, Sample)>,
    worst: Option<(f64, Sample)>,
}

impl Waits {
    fn see(&mut self, scan: &Scan, knot: &Knot) {
        if knot.mode.on || !knot.mode.alternator_turns() {
            return self.close(scan);
        }
        for ns in knot.places_ns() {
            let sample = scan.sample(knot, ns);
            let above = above_turn_on_v(&sample.mode, scan.model, &sample.state, &sample.net);
            let Some(above) = above else { continue };
            let (_, best, at) = self.open.get_or_insert((0, above, sample));
            if above > *best {
                (*best, *at) = (above, sample);
            }
        }
        if let Some((ns, ..)) = &mut self.open {
            *ns += knot.ns;
        }
    }

    fn close(&mut self, scan: &Scan) {
        if let Some((ns, best, sample)) = self.open.take()
            && ns as f64 * 1e-9 >= 0.999 * scan.model.link().start_stop.turn_on_delay_s
            && self.worst.as_ref().is_none_or(|w| best < w.0)
        {
            self.worst = Some((best, sample));
        }
    }

    fn margin(mut self, scan: &Scan) -> Option<Margin> {
        self.close(scan);
        self.worst.map(|(left, s)| {
            let at = scan.conditions(&s);
            let limit_at = thresholds(&scan.model.link().start_stop, s.mode.signal).0;
            Margin { limit: Limit::TurnOn, left, limit_at, at }
        })
    }
}

impl Scan<'_> {
    fn sample(&self, knot: &Knot, ns: i64) -> Sample {
        self.run.trace.in_step(self.model, self.profile, knot, ns)
    }

    /// What the alternator can give at a moment, A.
    fn most_a(&self, s: &Sample) -> f64 {
        let a = &self.model.alternator;
        a.capability_a(self.profile.pieces().at(s.piece).engine_rpm) * a.heat_share(s.state[WINDING_C])
    }

    fn is_full(&self, s: &Sample) -> bool {
        s.net.alternator_a >= 0.99 * self.most_a(s)
    }

    /// Hottest conductor or joint of both cables.
    fn hottest_c(&self, s: &Sample) -> Option<f64> {
        let both = self.hottest_conductors_c(s).into_iter().chain(self.joints_c(s));
        both.flatten().reduce(f64::max)
    }

    /// How far the insulation is from what it bears, K, and what that is, °C: of the cable that comes nearest.
    fn insulation(&self, s: &Sample, against: &Against) -> Option<(f64, f64)> {
        let limits = [against.input_insulation_c, against.output_insulation_c];
        nearest(self.hottest_conductors_c(s), limits)
    }

    /// How far joints are from what they bear, K, and what that is, °C: of the cable that comes nearest.
    fn joints(&self, s: &Sample, against: &Against) -> Option<(f64, f64)> {
        nearest(self.joints_c(s), against.joints_c)
    }

    /// Hottest conductor of the input cable and of the output cable, °C.
    fn hottest_conductors_c(&self, s: &Sample) -> [Option<f64>; 2] {
        let link = self.model.link();
        [(&link.input_cable, INPUT_CABLE_C, 4), (&link.output_cable, OUTPUT_CABLE_C, 2)].map(
            |(cable, first, conductors)| {
                let there = (0..conductors).filter(|n| cable.warms() && cable.conductors[*n].ohm_20 > 0.0);
                there.map(|n| s.state[first + n]).reduce(f64::max)
            },
        )
    }

    /// Joints of the input cable and of the output cable, °C.
    fn joints_c(&self, s: &Sample) -> [Option<f64>; 2] {
        let link = self.model.link();
        [(&link.input_cable, INPUT_JOINTS_C), (&link.output_cable, OUTPUT_JOINTS_C)]
            .map(|(cable, place)| (cable.joints_warm() && cable.joints_ohm > 0.0).then(|| s.state[place]))
    }

    fn conditions(&self, s: &Sample) -> Conditions {
        let piece = self.profile.pieces().at(s.piece);
        Conditions {
            t_s: s.t.as_s(),
            engine_rpm: piece.engine_rpm,
            set_point_v: Some(s.set_point_v).filter(|v| v.is_finite()),
            starter_v: s.net.sb_v,
            input_v: s.net.in_v,
            alternator_a: s.net.alternator_a,
            starter_a: s.net.starter_a,
            input_a: s.net.input_a,
            output_a: s.net.output_a,
            air_c: piece.air_c,
            hottest_cable_c: self.hottest_c(s),
            case_c: s.state[CASE_C],
            winding_c: self.model.alternator.heat.map(|_| s.state[WINDING_C]),
            starter_soc: s.state[STARTER],
            house_soc: s.state[HOUSE],
        }
    }
}

/// The smallest distance to a limit, and that limit.
fn nearest(temps_c: [Option<f64>; 2], limits_c: [f64; 2]) -> Option<(f64, f64)> {
    let left = temps_c.into_iter().zip(limits_c).filter_map(|(t, limit_c)| Some((limit_c - t?, limit_c)));
    left.filter(|l| l.0.is_finite()).min_by(|a, b| a.0.total_cmp(&b.0))
}
