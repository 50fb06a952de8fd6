//! Samples of a run whose conditions change more often than a picture can show: of each short stretch of time what a
//! reader could see is left, the lowest and the highest of every quantity that is drawn, and both sides of every switching.

use super::over_time::heat_w;
use sim_core::record::Sample;
use sim_core::state::{
    CASE_C, HOUSE, HOUSE_C, INPUT_CABLE_C, INPUT_JOINTS_C, LOCKER_C, OUTPUT_CABLE_C, OUTPUT_JOINTS_C,
    STARTER, STARTER_C, WINDING_C,
};

/// What is drawn over time.
const DRAWN: [fn(&Sample) -> f64; 25] = [
    |s| s.set_point_v,
    |s| s.net.sb_v,
    |s| s.net.in_v,
    |s| s.net.out_v,
    |s| s.net.house_v,
    |s| s.net.alternator_a,
    |s| s.net.input_a,
    |s| s.net.output_a,
    |s| s.net.starter_a,
    |s| s.net.house_a,
    |s| heat_w(s)[0],
    |s| heat_w(s)[1],
    |s| heat_w(s)[2],
    |s| s.state[STARTER],
    |s| s.state[HOUSE],
    |s| s.state[CASE_C],
    |s| s.state[LOCKER_C],
    |s| s.state[INPUT_CABLE_C],
    |s| s.state[INPUT_CABLE_C + 2],
    |s| s.state[INPUT_JOINTS_C],
    |s| s.state[OUTPUT_CABLE_C],
    |s| s.state[OUTPUT_JOINTS_C],
    |s| s.state[WINDING_C],
    |s| s.state[STARTER_C],
    |s| s.state[HOUSE_C],
];

/// Thins samples, given in order, to some per stretch of `stretch_s`.
pub struct Thinned {
    stretch_s: f64,
    kept: Vec<Sample>,
    open: Option<Stretch>,
    count: usize,
}

/// One stretch, one mode.
struct Stretch {
    number: i64,
    first: (usize, Sample),
    last: (usize, Sample),
    lowest: [(usize, Sample); DRAWN.len()],
    highest: [(usize, Sample); DRAWN.len()],
}

impl Thinned {
    /// Stretches of `stretch_s` seconds.
    pub fn new(stretch_s: f64) -> Thinned {
        Thinned { stretch_s, kept: Vec::new(), open: None, count: 0 }
    }

    /// The next sample.
    pub fn add(&mut self, s: Sample) {
        let number = (s.t.as_s() / self.stretch_s).floor() as i64;
        let at = (self.count, s);
        self.count += 1;
        match &mut self.open {
            Some(open) if open.number == number && alike(&open.last.1, &s) => {
                open.last = at;
                for (n, of) in DRAWN.iter().enumerate() {
                    let (v, low, high) = (of(&s), of(&open.lowest[n].1), of(&open.highest[n].1));
                    if v < low || low.is_nan() {
                        open.lowest[n] = at;
                    }
                    if v > high || high.is_nan() {
                        open.highest[n] = at;
                    }
                }
            }
            _ => {
                self.close();
                let all = [at; DRAWN.len()];
                self.open = Some(Stretch { number, first: at, last: at, lowest: all, highest: all });
            }
        }
    }

    fn close(&mut self) {
        let Some(open) = self.open.take() else { return };
        let ends = [open.first, open.last];
        let mut kept: Vec<(usize, Sample)> =
            ends.into_iter().chain(open.lowest).chain(open.highest).collect();
        kept.sort_unstable_by_key(|s| s.0);
        kept.dedup_by_key(|s| s.0);
        self.kept.extend(kept.into_iter().map(|s| s.1));
    }

    /// What is left.
    pub fn kept(mut self) -> Vec<Sample> {
        self.close();
        self.kept
    }
}

/// Whether nothing that a lane of states shows changes between two samples.
fn alike(a: &Sample, b: &Sample) -> bool {
    a.mode.on == b.mode.on
        && a.mode.stage == b.mode.stage
        && a.mode.engine_runs == b.mode.engine_runs
        && a.mode.cranking() == b.mode.cranking()
        && a.mode.alternator_turns() == b.mode.alternator_turns()
}

#[cfg(test)]
mod tests {
    use super::super::checks::Case;
    use super::super::view::{STRETCHES, timeline};
    use super::*;

    #[test]
    fn no_extreme_and_no_switching_is_lost() {
        let case = Case::new("delivery-round.toml", &["input_cable.length_m=25"]);
        let told = &case.told();
        let stretch_s = told.summary.span_s / STRETCHES;
        let all: Vec<Sample> = told.run.trace.samples(told.model, told.profile, stretch_s).collect();
        let thin = |stretch_s: f64| {
            let mut thinned = Thinned::new(stretch_s);
            all.iter().for_each(|s| thinned.add(*s));
            thinned.kept()
        };
        // Wide stretches, so that there is something to leave out.
        let wide_s = 60.0;
        let few = thin(wide_s);
        assert!(3 * few.len() < 2 * all.len(), "{} of {}", few.len(), all.len());
        assert_eq!(format!("{:?}", timeline(told, &few)), format!("{:?}", timeline(told, &all)));
        assert!(told.summary.dropped_out_driving > 3, "there is switching to lose");
        assert!(few.is_sorted_by_key(|s| s.t));
        let range = |samples: &[Sample], of: fn(&Sample) -> f64, k: f64| {
            let inside = samples.iter().filter(|s| (s.t.as_s() / wide_s).floor() == k).map(of);
            inside
                .filter(|v| v.is_finite())
                .fold((f64::INFINITY, f64::NEG_INFINITY), |r, v| (r.0.min(v), r.1.max(v)))
        };
        for k in 0..(told.summary.span_s / wide_s) as usize {
            for (n, of) in DRAWN.into_iter().enumerate() {
                assert_eq!(range(&few, of, k as f64), range(&all, of, k as f64), "quantity {n}, stretch {k}");
            }
        }
    }
}
