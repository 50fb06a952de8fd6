//! Stop-start looks at the starter battery: it does not stop the engine on a low one, and starts it again where the posts
//! sag while it stands.
//!
//! A drive says when the vehicle stands long enough; whether the engine then stops depends on what the run has done to the
//! battery. So the drive is run once, stop by stop, and what comes out is a drive like any other, in which the engine
//! turns where the rule kept it turning.

use super::trace::Knot;
use super::{Options, Record, Run, RunError, Standing, simulate, simulate_from};
use crate::model::{Model, Piece, Profile, StopRule};
use crate::state::STARTER;
use crate::time::Instant;
use serde::Serialize;

/// What became of the stops of a drive.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stops {
    /// What they were decided by.
    pub rule: StopRule,
    /// Stops that the drive offered.
    pub offered: usize,
    /// When the engine was left running, for a low battery.
    #[serde(rename = "kept_s", serialize_with = "all_s")]
    pub kept: Vec<Instant>,
    /// When it was started again before the drive went on, for low volts.
    #[serde(rename = "restarted_s", serialize_with = "all_s")]
    pub restarted: Vec<Instant>,
}

fn all_s<S: serde::Serializer>(instants: &[Instant], writer: S) -> Result<S::Ok, S::Error> {
    writer.collect_seq(instants.iter().map(|t| t.as_s()))
}

/// The drive as the vehicle drives it, its stops decided.
///
/// A stop with which a drive begins stands: nothing has run that could be left running.
///
/// # Errors
/// As [`simulate`].
pub fn decide_stops(model: &Model, profile: &Profile, rule: &StopRule) -> Result<(Profile, Stops), RunError> {
    let mut way = Way { model, profile, from: None, since: Vec::new() };
    let mut driven = Vec::with_capacity(profile.pieces().len());
    let mut stops = Stops { rule: *rule, offered: 0, kept: Vec::new(), restarted: Vec::new() };
    let mut pieces = profile.pieces().iter().peekable();
    while let Some(first) = pieces.next() {
        let mut group = vec![first];
        while let Some(next) = pieces.next_if(|p| p.stop_start == first.stop_start) {
            group.push(next);
        }
        let decided = if first.stop_start && first.start > profile.start() {
            stops.offered += 1;
            way.run()?;
            way.stop(&group, rule, &mut stops)?
        } else {
            group
        };
        driven.extend_from_slice(&decided);
        way.since.extend(decided);
    }
    let mut as_driven =
        Profile::new(driven, profile.start_clock_s).expect("pieces follow on each other as they did");
    (as_driven.weekday, as_driven.date) = (profile.weekday, profile.date);
    Ok((as_driven, stops))
}

/// How far the drive has been run.
struct Way<'a> {
    model: &'a Model,
    profile: &'a Profile,
    from: Option<Standing>,
    /// Decided and not yet run.
    since: Vec<Piece>,
}

impl Way<'_> {
    /// Runs what has been decided, and stands at its end.
    fn run(&mut self) -> Result<(), RunError> {
        if !self.since.is_empty() {
            let pieces = std::mem::take(&mut self.since);
            let (run, _) = self.over(pieces, Record::Summary)?;
            self.from = Some(run.standing);
        }
        Ok(())
    }

    fn over(&self, pieces: Vec<Piece>, record: Record) -> Result<(Run, Profile), RunError> {
        let part = Profile::new(pieces, self.profile.start_clock_s).expect("pieces of a profile");
        let options = Options { record, ..Options::default() };
        let run = match &self.from {
            Some(from) => simulate_from(self.model, &part, &options, from)?,
            None => simulate(self.model, &part, &options)?,
        };
        Ok((run, part))
    }

    /// The pieces of a stop as the vehicle drives them.
    fn stop(&mut self, group: &[Piece], rule: &StopRule, stops: &mut Stops) -> Result<Vec<Piece>, RunError> {
        let begins = group[0].start;
        let running = |p: &Piece| rule.running(p);
        let soc = self.from.map_or(1.0, |s| s.state[STARTER]);
        if soc < rule.least_soc {
            stops.kept.push(begins);
            return Ok(group.iter().map(running).collect());
        }
        let (run, part) = self.over(group.to_vec(), Record::Everything)?;
        let Some(at) = first_under(self.model, &part, &run, rule.restart_v) else {
            return Ok(group.to_vec());
        };
        // What would start it again at once does not stop it.
        if at == begins {
            stops.kept.push(begins);
            return Ok(group.iter().map(running).collect());
        }
        stops.restarted.push(at);
        let stands = group.iter().filter(|p| p.start < at).map(|p| Piece { end: p.end.min(at), ..*p });
        let runs =
            group.iter().filter(|p| p.end > at).map(|p| Piece { start: p.start.max(at), ..running(p) });
        Ok(stands.chain(runs).collect())
    }
}

/// When the posts first stand under some volts, to a microsecond.
fn first_under(model: &Model, profile: &Profile, run: &Run, restart_v: f64) -> Option<Instant> {
    const CLOSE_NS: i64 = 1000;
    for knot in run.trace.knots() {
        let under = |ns: i64| run.trace.in_step(model, profile, knot, ns).net.sb_v < restart_v;
        let mut above = 0;
        for ns in Knot::places_ns(knot) {
            if !under(ns) {
                above = ns;
                continue;
            }
            let mut low = ns;
            while low - above > CLOSE_NS {
                let middle = above + (low - above) / 2;
                if under(middle) { low = middle } else { above = middle }
            }
            return Some(knot.start.plus_ns(low)).filter(|at| *at < run.span.1);
        }
    }
    None
}
