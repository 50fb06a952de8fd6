//! What the pictures share: samples, states and events of a run, its title and its footer.

use super::super::Told;
use super::thinned::Thinned;
use crate::bounds::MOST_SAMPLES;
use crate::chart::events::{Event as Tick, EventKind as TickKind};
use crate::chart::figures::Heading;
use crate::chart::figures::timeline::{EngineState, Span, StageState, Timeline, UnitState};
use crate::chart::time_axis::Clock;
use crate::clock::{duration, over_a_week};
use sim_core::Instant;
use sim_core::logic::Stage;
use sim_core::record::event::{Cause, EventKind};
use sim_core::record::trace::Sample;

/// Stretches of time that samples stand apart: twice as many as there are pixels across.
pub const STRETCHES: f64 = 3000.0;

/// So long after a switching samples stand close together, s: what an alternator's current and a starter battery do then is
/// over before the next of the others.
const CLOSE_S: f64 = 3.0;
/// How close.
const CLOSE_STEP_S: f64 = 0.04;

/// A run with its samples.
pub struct View<'a> {
    /// The run and all around it.
    pub told: &'a Told<'a>,
    /// Samples over the whole run; of a long log what can be seen of them.
    pub samples: Vec<Sample>,
    /// What the starter battery took while the alternator turned, As, and for how long it did, s.
    pub taken: (f64, f64),
    /// States and events over the whole run.
    pub timeline: Timeline,
}

impl<'a> View<'a> {
    /// Samples a run.
    pub fn new(told: &'a Told<'a>) -> Self {
        let (from_s, to_s) = (told.run.span.0.as_s(), told.run.span.1.as_s());
        // Every switching, and every change of the conditions, adds both of its sides.
        let step_s = ((to_s - from_s) / STRETCHES).max(0.05);
        let all = told.run.trace.samples(told.model, told.profile, step_s);
        let most = STRETCHES as usize + 2 * (told.profile.pieces().len() + told.run.events.len());
        let (mut taken, mut before) = ((0.0, 0.0), None);
        let all = all.inspect(|s| {
            if let Some((t, starter_a)) = before {
                let seconds = s.t.since(t);
                taken.0 += f64::max(starter_a, 0.0) * seconds;
                taken.1 += seconds;
            }
            before = s.mode.alternator_turns().then_some((s.t, s.net.starter_a));
        });
        let mut samples: Vec<Sample> = if most <= MOST_SAMPLES {
            all.collect()
        } else {
            let mut thinned = Thinned::new(step_s);
            all.for_each(|s| thinned.add(s));
            thinned.kept()
        };
        let timeline = timeline(told, &samples);
        if most > MOST_SAMPLES {
            samples = with_closeup(told, samples, &timeline, step_s);
        }
        // Of a run that switches all the time at least what is drawn enlarged.
        let close = close_to_switchings(told, step_s, (from_s, to_s), MOST_SAMPLES.saturating_sub(most))
            .or_else(|| close_to_switchings(told, step_s, timeline.closeup()?.window_s, MOST_SAMPLES));
        let samples = merged(samples, close.unwrap_or_default());
        View { told, samples, taken, timeline }
    }

    /// Sample times, s.
    pub fn time_s(&self) -> Vec<f64> {
        self.column(|s| s.t.as_s())
    }

    /// One quantity of every sample.
    pub fn column(&self, f: impl Fn(&Sample) -> f64) -> Vec<f64> {
        self.samples.iter().map(f).collect()
    }
}

/// Samples of the seconds after starts, stops and switchings within a window; none where they would be more than `most`.
fn close_to_switchings(
    told: &Told,
    step_s: f64,
    (from_s, to_s): (f64, f64),
    most: usize,
) -> Option<Vec<Sample>> {
    if step_s <= CLOSE_STEP_S {
        return Some(Vec::new());
    }
    let step_ns = (CLOSE_STEP_S * 1e9) as i64;
    let end = Instant::from_s(to_s).ns();
    let switchings = told.run.events.iter().filter(|e| {
        use EventKind::{AlternatorBegins, EngineRuns, KeyOff, KeyOn, UnitOff, UnitOn};
        matches!(e.kind, KeyOn | EngineRuns | AlternatorBegins | KeyOff | UnitOn | UnitOff)
    });
    let mut at: Vec<i64> = Vec::new();
    for event in switchings.filter(|e| (from_s..to_s).contains(&e.t.as_s())) {
        let (from, to) = (event.t.ns(), end.min(event.t.plus_ns((CLOSE_S * 1e9) as i64).ns()));
        let first = at.last().map_or(from, |last| from.max(*last)).div_euclid(step_ns) + 1;
        at.extend((first..).map(|k| k * step_ns).take_while(|t| *t < to));
        if at.len() > most {
            return None;
        }
    }
    let sample = |ns: i64| told.run.trace.at(told.model, told.profile, Instant::ZERO.plus_ns(ns));
    Some(at.into_iter().filter_map(sample).collect())
}

/// Samples with others in between; at one instant the first of both stand.
fn merged(mut samples: Vec<Sample>, others: Vec<Sample>) -> Vec<Sample> {
    if others.is_empty() {
        return samples;
    }
    let there = |t: Instant| {
        let at = samples.partition_point(|s| s.t < t);
        samples.get(at).is_some_and(|s| s.t == t)
    };
    let new: Vec<Sample> = others.into_iter().filter(|s| !there(s.t)).collect();
    samples.extend(new);
    // Both sides of a jump stay in order.
    samples.sort_by_key(|s| s.t);
    samples
}

/// What is drawn enlarged needs all its samples.
fn with_closeup(told: &Told, mut thinned: Vec<Sample>, timeline: &Timeline, step_s: f64) -> Vec<Sample> {
    let Some(closeup) = timeline.closeup() else { return thinned };
    let (from, to) = (Instant::from_s(closeup.window_s.0), Instant::from_s(closeup.window_s.1));
    let all = told.run.trace.samples_from(told.model, told.profile, step_s, from);
    let all: Vec<Sample> = all.skip_while(|s| s.t < from).take_while(|s| s.t <= to).collect();
    let place = |t: Instant, end: bool| thinned.partition_point(|s| s.t < t || end && s.t == t);
    let inside = place(from, false)..place(to, true);
    thinned.splice(inside, all);
    thinned
}

/// Samples at given times (seconds of the run, rising), and both sides of every event between the first and the last.
pub fn samples_at(told: &Told, times_s: &[f64]) -> Vec<Sample> {
    let (Some(&from_s), Some(&to_s)) = (times_s.first(), times_s.last()) else { return Vec::new() };
    let mut at: Vec<i64> = times_s.iter().map(|&t| Instant::from_s(t).ns()).collect();
    let (from, to) = (Instant::from_s(from_s).ns(), Instant::from_s(to_s).ns());
    for event in &told.run.events {
        let ns = event.t.ns();
        if (from..=to).contains(&ns) {
            at.extend([ns - 1, ns].into_iter().filter(|t| *t >= from));
        }
    }
    at.sort_unstable();
    at.dedup();
    let sample = |ns: i64| told.run.trace.at(told.model, told.profile, Instant::ZERO.plus_ns(ns));
    at.into_iter().filter_map(sample).collect()
}

/// Words around a picture.
pub fn heading(told: &Told, what: &str, answer: String) -> Heading {
    let title = if what.is_empty() { title(told) } else { format!("{what}: {}", title(told)) };
    Heading { title, answer: true_minus(&answer), footer: footer(told) }
}

/// A hyphen before a digit is a minus; one between letters stays.
fn true_minus(text: &str) -> String {
    let next = text.chars().skip(1).chain([' ']);
    let before = [' '].into_iter().chain(text.chars());
    text.chars()
        .zip(before.zip(next))
        .map(|(c, (b, n))| if c == '-' && n.is_ascii_digit() && matches!(b, ' ' | '(') { '−' } else { c })
        .collect()
}

/// The scenario's name, with the first change made on the command line.
fn title(told: &Told) -> String {
    match told.changed {
        [] => told.name.to_owned(),
        [one] => format!("{}, with {one}", told.name),
        [one, rest @ ..] => format!("{}, with {one} and {} more", told.name, rest.len()),
    }
}

/// The inputs that matter most, so that a picture stands alone.
fn footer(told: &Told) -> String {
    let link = told.model.link();
    let (c, rule, stages) = (&link.converter, &link.start_stop, &link.stages);
    let pieces = || told.profile.pieces().iter();
    let any_runs = pieces().any(|p| p.engine_runs());
    let set_point = range(pieces().filter(|p| p.engine_runs() || !any_runs).map(|p| p.set_point_v), 2);
    let compensated = told.model.alternator.set_point_v_per_k != 0.0;
    let typed = if compensated && pieces().any(|p| !p.set_point_as_read) { " at 25 °C" } else { "" };
    let load = range(pieces().map(|p| p.house_load_w), 0);
    format!(
        "Predicted for these inputs: set-point {set_point} V{typed}; input cable {:.1} mΩ; unit {:.0} A out, {:.0} A in at most; turn-on \
         {:.2} V for {}, turn-off {:.2} V for {}; absorption {:.2} V, float {:.2} V; house {:.0} Ah, load {load} W. Not \
         validated on vehicles: check with a meter.",
        link.input_cable.resistance_ohm() * 1e3,
        c.output_limit_a,
        c.input_limit_a,
        rule.turn_on_v,
        duration(rule.turn_on_delay_s),
        rule.turn_off_v,
        duration(rule.turn_off_delay_s),
        stages.absorption_v,
        stages.float_v,
        told.model.house.capacity_c() / 3600.0,
    )
}

/// One value, or the lowest and the highest.
fn range(values: impl Iterator<Item = f64>, decimals: usize) -> String {
    let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)));
    let (a, b) = (format!("{low:.decimals$}"), format!("{high:.decimals$}"));
    if a == b { a } else { format!("{a} to {b}") }
}

/// The wall clock of a run.
pub fn clock_of(told: &Told) -> Clock {
    let p = told.profile;
    Clock {
        start_s_of_day: Some(p.start_clock_s),
        weekday: p.weekday,
        date: p.date,
        over_a_week: over_a_week(p),
    }
}

/// States and events that some samples span.
pub fn timeline(told: &Told, samples: &[Sample]) -> Timeline {
    let mut t = Timeline {
        clock: clock_of(told),
        start_s: samples.first().map_or(0.0, |s| s.t.as_s()),
        end_s: samples.last().map_or(0.0, |s| s.t.as_s()),
        ..Timeline::default()
    };
    for pair in samples.windows(2) {
        let (s, until) = (&pair[0], pair[1].t.as_s());
        let engine = match (s.mode.cranking(), s.mode.engine_runs) {
            (true, _) => EngineState::Cranking,
            (_, true) => EngineState::Running,
            _ => EngineState::Parked,
        };
        extend(&mut t.engine, s.t.as_s(), until, engine);
        extend(&mut t.unit, s.t.as_s(), until, if s.mode.on { UnitState::On } else { UnitState::Off });
        let stage = match (s.mode.on, s.mode.stage) {
            (false, _) => StageState::Waiting,
            (_, Stage::Bulk) => StageState::Bulk,
            (_, Stage::Absorption) => StageState::Absorption,
            (_, Stage::Float) => StageState::Float,
        };
        extend(&mut t.stage, s.t.as_s(), until, stage);
    }
    let inside = |e: &&sim_core::record::Event| (t.start_s..=t.end_s).contains(&e.t.as_s());
    t.events = told.run.events.iter().filter(inside).filter_map(|e| tick(told, e)).collect();
    t
}

fn extend<S: PartialEq + Copy>(spans: &mut Vec<Span<S>>, start_s: f64, end_s: f64, state: S) {
    match spans.last_mut() {
        Some(last) if last.state == state => last.end_s = end_s,
        _ if end_s > start_s => spans.push(Span { start_s, end_s, state }),
        _ => {}
    }
}

/// The tick of an event in the lane, if it has one. A unit that stops with the engine stopped does what it should.
fn tick(told: &Told, event: &sim_core::record::Event) -> Option<Tick> {
    let off = if told.timeline.driving_at(event.t) { TickKind::Off } else { TickKind::Stopped };
    let (kind, letter, meaning) = match (event.kind, event.cause) {
        (EventKind::UnitOn, Cause::Signal { .. }) => (TickKind::On, 'S', "run signal"),
        (EventKind::UnitOn, _) => (TickKind::On, 'T', "turn-on held for its delay"),
        (EventKind::UnitOff, Cause::Heat { .. }) => (off, 'H', "heat: locked out"),
        (EventKind::UnitOff, Cause::Signal { .. }) => (off, 'S', "run signal"),
        (EventKind::UnitOff, _) => (off, 'V', "voltage under turn-off"),
        (EventKind::ChargeRefused { why: Some(_) }, _) => {
            (TickKind::Mark, 'P', "house battery refuses charge")
        }
        (EventKind::FuseOpened { .. }, _) => (TickKind::Mark, 'O', "a fuse opens"),
        (EventKind::StarterDead { dead: true }, _) => (TickKind::Mark, 'D', "starter battery flat"),
        (EventKind::LoadsShed { shed: true }, _) => (TickKind::Mark, 'L', "house loads shed"),
        (EventKind::KeyOff, _) => (TickKind::Mark, 'K', "key off"),
        (EventKind::Stage { to: Stage::Float }, Cause::AbsorptionCap { .. }) => {
            (TickKind::Mark, 'C', "absorption cap")
        }
        (EventKind::Stage { to: Stage::Float }, _) => (TickKind::Mark, 'F', "finished: tail current"),
        (EventKind::Stage { to: Stage::Absorption }, _) => {
            (TickKind::Mark, 'A', "absorption voltage reached")
        }
        (EventKind::Stage { to: Stage::Bulk }, _) => (TickKind::Mark, 'R', "recharge"),
        _ => return None,
    };
    Some(Tick { time_s: event.t.as_s(), kind, letter: Some(letter), meaning: meaning.to_owned() })
}

#[cfg(test)]
mod tests {
    use super::super::checks::Case;
    use super::*;

    /// What lasts a second after the engine starts, and what a cranking draws, is among the samples of a whole day.
    #[test]
    fn what_lasts_a_second_is_sampled() {
        let case = Case::new("reference-van-full.toml", &[]);
        let told = &case.told();
        let view = View::new(told);
        assert!(view.samples.is_sorted_by_key(|s| s.t));
        let first_s = (told.run.span.0.as_s(), 0.01);
        let fine: Vec<f64> = (0..12_000).map(|n| first_s.0 + first_s.1 * f64::from(n)).collect();
        let fine = samples_at(told, &fine);
        let quantities: [fn(&Sample) -> f64; 4] =
            [|s| s.net.alternator_a, |s| s.net.starter_a, |s| -s.net.starter_a, |s| -s.net.sb_v];
        for (n, of) in quantities.into_iter().enumerate() {
            let most = |samples: &[Sample]| samples.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
            let (shown, there) = (most(&view.samples), most(&fine));
            assert!(shown > there - 0.005 * there.abs(), "quantity {n}: {shown} of {there}");
        }
        // Regular samples alone pass over it.
        let step_s = told.summary.span_s / STRETCHES;
        let regular = told.run.trace.samples(told.model, told.profile, step_s);
        let regular = regular.map(|s| s.net.alternator_a).fold(0.0, f64::max);
        let most = view.column(|s| s.net.alternator_a).into_iter().fold(0.0, f64::max);
        assert!(regular < 0.8 * most, "{regular} A, {most} A");
    }
}
