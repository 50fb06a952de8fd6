//! How far a run drives its parts: greatest values beside what each part bears, and how long beyond it.
//!
//! Looked at at both ends of every step, and where a temperature turns back inside one. Times beyond a limit are counted
//! along a straight line between the ends.

use crate::effects::Effects;
use crate::mode::Mode;
use crate::model::Model;
use crate::network::Net;
use crate::state::{
    CASE_C, HOUSE_C, INPUT_CABLE_C, INPUT_JOINTS_C, OUTPUT_CABLE_C, OUTPUT_JOINTS_C, STARTER_C, Vector,
    WINDING_C,
};
use crate::time::Instant;
use serde::Serialize;

/// What is watched.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Watched {
    /// Input cable in the engine bay, °C.
    InputBay,
    /// Input cable in the cabin, °C.
    InputCabin,
    /// Output cable, °C.
    Output,
    /// Joints of the input cable, °C.
    InputJoints,
    /// Joints of the output cable, °C.
    OutputJoints,
    /// Alternator winding, °C.
    Winding,
    /// Case of the unit against where its derating begins, °C.
    Case,
    /// Posts of the starter battery, V.
    StarterVolts,
    /// Posts of the house battery while it lets charge in, V.
    HouseVolts,
}

/// How many things are watched.
const ALL: usize = 9;
/// Those that are temperatures: the first ones.
const TEMPERATURES: usize = 7;

/// How far one thing got.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Peak {
    /// Its value where it was furthest over its limit, or nearest to it.
    pub value: f64,
    /// The limit then.
    pub limit: f64,
    /// When, s since the start.
    pub t_s: f64,
    /// Time beyond the limit, s.
    pub over_s: f64,
    /// The longest time without a break, s.
    pub longest_s: f64,
    /// When it was first passed, s since the start; `None` where it never was.
    pub first_s: Option<f64>,
    /// When it was last seen beyond it, s since the start.
    pub last_s: f64,
    /// How often it was passed.
    pub times: u32,
}

impl Peak {
    /// How far beyond the limit; negative under it.
    pub fn over(&self) -> f64 {
        self.value - self.limit
    }
}

/// How far a run drives its parts.
#[derive(Debug, Clone, PartialEq)]
pub struct Stress {
    peaks: [Option<Peak>; ALL],
    /// Over its limit or under it just now, and since when without a break.
    now: [Option<(f64, f64)>; ALL],
    at: Instant,
    rises: Rises,
}

/// Where the temperatures stand in the state vector, and what each bears; those that a model does not follow are left out.
#[derive(Debug, Clone, PartialEq)]
struct Rises {
    places: [Option<(usize, f64)>; TEMPERATURES],
    any: bool,
}

impl Rises {
    fn of(model: &Model) -> Rises {
        let (link, b) = (model.link(), &model.bears);
        let (input, output) = (&link.input_cable, &link.output_cable);
        let acts = Effects::of(model);
        // Both legs of a section warm alike: the first stands for both.
        let section = |bay: bool| {
            let at = [0, 2]
                .into_iter()
                .find(|n| input.conductors[*n].ohm_20 > 0.0 && input.conductors[*n].in_bay == bay);
            at.filter(|n| input.conductors[*n].j_per_k > 0.0).map(|n| INPUT_CABLE_C + n)
        };
        let there =
            |is: bool, place: usize, most: f64| is.then_some((place, most)).filter(|_| most.is_finite());
        let places = [
            section(true).and_then(|p| there(true, p, b.input_insulation_c.most)),
            section(false).and_then(|p| there(true, p, b.input_insulation_c.most)),
            there(acts.output_cable, OUTPUT_CABLE_C, b.output_insulation_c.most),
            there(acts.input_joints, INPUT_JOINTS_C, b.input_joints_c.most),
            there(acts.output_joints && output.joints_ohm > 0.0, OUTPUT_JOINTS_C, b.output_joints_c.most),
            there(acts.winding, WINDING_C, b.winding_c.most),
            there(true, CASE_C, link.converter.derate_from_c),
        ];
        Rises { any: places.iter().any(Option::is_some), places }
    }
}

impl Stress {
    pub(crate) fn new(model: &Model, t: Instant) -> Stress {
        Stress { peaks: [None; ALL], now: [None; ALL], at: t, rises: Rises::of(model) }
    }

    /// How far something got; `None` where the model does not follow it or nothing limits it.
    pub fn peak(&self, what: Watched) -> Option<&Peak> {
        self.peaks[what as usize].as_ref()
    }

    /// Looks at one instant, what is held since the last look having been the same throughout.
    pub(crate) fn see(&mut self, t: Instant, mode: &Mode, model: &Model, y: &Vector, net: &Net) {
        self.look(t, mode, model, y, net, true);
    }

    /// Looks at the beginning of a hold: what jumped there did so in no time.
    pub(crate) fn begin(&mut self, t: Instant, mode: &Mode, model: &Model, y: &Vector, net: &Net) {
        self.look(t, mode, model, y, net, false);
    }

    fn look(&mut self, t: Instant, mode: &Mode, model: &Model, y: &Vector, net: &Net, booked: bool) {
        let dt_s = t.since(self.at);
        self.at = t;
        let rises = self.rises.places;
        for (n, place) in rises.into_iter().enumerate() {
            if let Some((place, most)) = place {
                self.one(n, (t, dt_s), y[place], most, booked);
            }
        }
        let b = &model.bears;
        let mut volts = |what: Watched, is: bool, v: f64, most: f64| {
            if is && most.is_finite() {
                self.one(what as usize, (t, dt_s), v, most, booked);
            } else {
                self.now[what as usize] = None;
            }
        };
        volts(Watched::StarterVolts, !mode.cranking(), net.sb_v, b.starter.held_at(y[STARTER_C]));
        // Behind an open contact the bus is not the battery's.
        volts(Watched::HouseVolts, mode.refusal.is_none(), net.house_v, b.house.held_at(y[HOUSE_C]));
    }

    fn one(&mut self, n: usize, (t, dt_s): (Instant, f64), value: f64, limit: f64, booked: bool) {
        let over = value - limit;
        let t_s = t.as_s();
        let peak = self.peaks[n].get_or_insert(Peak {
            value,
            limit,
            t_s,
            over_s: 0.0,
            longest_s: 0.0,
            first_s: None,
            last_s: t_s,
            times: 0,
        });
        if over > peak.over() {
            (peak.value, peak.limit, peak.t_s) = (value, limit, t_s);
        }
        let (before, mut without_break_s) = self.now[n].unwrap_or((f64::NEG_INFINITY, 0.0));
        if booked && (before > 0.0 || over > 0.0) && dt_s > 0.0 {
            // A straight line between both ends; where it was not looked at before, all of it counts for what is now.
            let share = match (before > 0.0, over > 0.0) {
                (true, true) => 1.0,
                (true, false) => before / (before - over),
                _ if before.is_finite() => over / (over - before),
                _ => 0.0,
            };
            peak.over_s += share * dt_s;
            without_break_s += share * dt_s;
            peak.longest_s = peak.longest_s.max(without_break_s);
        }
        if over > 0.0 {
            if before <= 0.0 {
                peak.times += 1;
            }
            peak.first_s.get_or_insert(t_s);
            peak.last_s = t_s;
        } else {
            without_break_s = 0.0;
        }
        self.now[n] = Some((over, without_break_s));
    }

    /// Whether a temperature may turn back inside a step between these states above what was met so far.
    pub(crate) fn may_turn(&self, from: &Vector, to: &Vector) -> bool {
        let near = |(n, place): (usize, &Option<(usize, f64)>)| {
            let Some((place, _)) = place else { return false };
            self.peaks[n].is_some_and(|p| from[*place].max(to[*place]) > p.value - NEAR_K)
        };
        self.rises.any && self.rises.places.iter().enumerate().any(near)
    }

    /// Where temperatures turn inside a step, as shares of it, by the parabola through its ends and its middle.
    pub(crate) fn turns(&self, from: &Vector, mid: &Vector, to: &Vector) -> [Option<f64>; TEMPERATURES] {
        self.rises.places.map(|place| {
            let (place, _) = place?;
            let (a, m, b) = (from[place], mid[place], to[place]);
            let bend = a - 2.0 * m + b;
            let share = 0.5 + 0.25 * (a - b) / bend;
            (bend < 0.0 && share > 0.0 && share < 1.0).then_some(share)
        })
    }

    /// Lets temperatures inside the last step raise the peaks; times beyond limits stay as they were counted.
    pub(crate) fn inside(&mut self, t: Instant, y: &Vector) {
        for n in 0..TEMPERATURES {
            let (Some((place, limit)), Some(peak)) = (self.rises.places[n], &mut self.peaks[n]) else {
                continue;
            };
            if y[place] - limit > peak.over() {
                (peak.value, peak.limit, peak.t_s) = (y[place], limit, t.as_s());
            }
        }
    }
}

/// A step that stays this far under the greatest so far hides none, K.
const NEAR_K: f64 = 1.0;

#[cfg(test)]
mod tests {
    use super::*;

    fn stress() -> Stress {
        let rises = Rises { places: [Some((CASE_C, 60.0)), None, None, None, None, None, None], any: true };
        Stress { peaks: [None; ALL], now: [None; ALL], at: Instant::ZERO, rises }
    }

    #[test]
    fn time_beyond_a_limit_is_that_of_the_line_between_looks() {
        let mut s = stress();
        // 50 to 70 in 10 s: half of it above 60; 10 s above; 70 to 40 in 30 s: a third of it; then a jump counts no time.
        for (t, value, booked) in
            [(0.0, 50.0, false), (10.0, 70.0, true), (20.0, 70.0, true), (50.0, 40.0, true)]
        {
            let t = Instant::from_s(t);
            let dt_s = t.since(s.at);
            s.at = t;
            s.one(0, (t, dt_s), value, 60.0, booked);
        }
        let peak = s.peaks[0].expect("seen");
        assert!((peak.over_s - 25.0).abs() < 1e-9 && (peak.longest_s - 25.0).abs() < 1e-9, "{peak:?}");
        assert_eq!((peak.times, peak.first_s, peak.t_s), (1, Some(10.0), 10.0));
    }

    #[test]
    fn a_turn_inside_a_step_is_where_the_parabola_has_it() {
        let s = stress();
        let at = |c: f64| {
            let mut y = [0.0; crate::state::N];
            y[CASE_C] = c;
            y
        };
        // −(x − 0.3)²: 0.3 from the beginning.
        let f = |x: f64| 70.0 - (x - 0.3f64).powi(2);
        let share = s.turns(&at(f(0.0)), &at(f(0.5)), &at(f(1.0)))[0].expect("a turn");
        assert!((share - 0.3).abs() < 1e-9, "{share}");
        assert!(s.turns(&at(1.0), &at(2.0), &at(3.0))[0].is_none());
    }
}
