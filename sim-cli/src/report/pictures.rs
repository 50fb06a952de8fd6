//! The two pictures of a run: overview and voltage ladder.

use super::Told;
use super::page::top_up;
use crate::chart::events::{Event as Tick, EventKind as TickKind};
use crate::chart::figures::Heading;
use crate::chart::figures::ladder::{LadderData, SmallestGap, Trigger, ladder};
use crate::chart::figures::overview::{OverviewData, overview};
use crate::chart::figures::timeline::{EngineState, Span, StageState, Timeline, UnitState};
use crate::chart::scene::Scene;
use crate::chart::size::FigureSize;
use crate::chart::theme::Theme;
use crate::chart::time_axis::Clock;
use crate::clock::duration;
use sim_core::logic::Stage;
use sim_core::record::event::{Bound, Cause, EventKind, Side};
use sim_core::record::trace::Sample;
use sim_core::state::{CASE_C, HOUSE, STARTER};

/// Draws both pictures.
pub fn draw(told: &Told) -> (Scene, Scene) {
    let (from_s, to_s) = (told.run.span.0.as_s(), told.run.span.1.as_s());
    // Twice as many samples as there are pixels across; every switching adds both of its sides.
    let step_s = ((to_s - from_s) / 3000.0).max(0.05);
    let samples: Vec<Sample> = told.run.trace.samples(told.model, told.profile, step_s).collect();
    let column = |f: &dyn Fn(&Sample) -> f64| -> Vec<f64> { samples.iter().map(f).collect() };
    let time_s = column(&|s| s.t.as_s());
    let timeline = timeline(told, &samples);
    let heading = Heading { title: title(told), answer: top_up(told), footer: footer(told) };
    let theme = Theme::light();
    let link = told.model.link();
    let (in_ohm, out_ohm) = (link.input_run.resistance_ohm(), link.output_run.resistance_ohm());
    let over = OverviewData {
        heading: heading.clone(),
        timeline: timeline.clone(),
        time_s: time_s.clone(),
        // A full battery may stand a rounding over 1.
        house_soc_pct: column(&|s| s.state[HOUSE].min(1.0) * 100.0),
        starter_soc_pct: column(&|s| s.state[STARTER].min(1.0) * 100.0),
        unit_loss_w: column(&|s| s.net.in_v * s.net.input_a - s.net.out_v * s.net.output_a),
        input_run_loss_w: column(&|s| s.net.input_a * s.net.input_a * in_ohm),
        output_run_loss_w: column(&|s| s.net.output_a * s.net.output_a * out_ohm),
        case_temp_c: Some(column(&|s| s.state[CASE_C])),
    };
    let rule = &link.start_stop;
    let steps = LadderData {
        heading,
        timeline,
        time_s,
        set_point_v: column(&|s| s.set_point_v),
        starter_posts_v: column(&|s| s.net.sb_v),
        input_v: column(&|s| s.net.in_v),
        output_v: column(&|s| s.net.out_v),
        house_posts_v: column(&|s| s.net.house_v),
        alternator_a: column(&|s| s.net.alternator_a),
        input_a: column(&|s| s.net.input_a),
        output_a: column(&|s| s.net.output_a),
        starter_a: column(&|s| s.net.starter_a),
        house_a: column(&|s| s.net.house_a),
        turn_on: Some(Trigger { volts_v: rule.turn_on_v, hold_s: rule.turn_on_delay_s }),
        turn_off: Some(Trigger { volts_v: rule.turn_off_v, hold_s: rule.turn_off_delay_s }),
        smallest_gap: told.summary.extremes.margin_v.map(|m| SmallestGap { time_s: m.t_s, gap_v: m.value }),
        ..LadderData::default()
    };
    let size = FigureSize::default();
    (overview(&over, &theme, size), ladder(&steps, &theme, size))
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
    format!(
        "Predicted for these inputs: set-point {:.2} V; input run {:.1} mΩ; unit {:.0} A out, {:.0} A in at most; turn-on \
         {:.2} V for {}, turn-off {:.2} V for {}; absorption {:.2} V, float {:.2} V; house {:.0} Ah, load {:.0} W. Not \
         validated on vehicles: check with a meter.",
        told.profile
            .pieces()
            .iter()
            .find(|p| p.engine_runs())
            .map_or(told.model.alternator.set_point_v, |p| p.set_point_v),
        link.input_run.resistance_ohm() * 1e3,
        c.output_limit_a,
        c.input_limit_a,
        rule.turn_on_v,
        duration(rule.turn_on_delay_s),
        rule.turn_off_v,
        duration(rule.turn_off_delay_s),
        stages.absorption_v,
        stages.float_v,
        told.model.house.capacity_c() / 3600.0,
        told.profile.pieces()[0].house_load_w,
    )
}

fn timeline(told: &Told, samples: &[Sample]) -> Timeline {
    let mut t = Timeline {
        clock: Clock { start_s_of_day: Some(told.profile.start_clock_s), weekday: None },
        start_s: told.run.span.0.as_s(),
        end_s: told.run.span.1.as_s(),
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
    t.events = told.run.events.iter().filter_map(tick).collect();
    t
}

fn extend<S: PartialEq + Copy>(spans: &mut Vec<Span<S>>, start_s: f64, end_s: f64, state: S) {
    match spans.last_mut() {
        Some(last) if last.state == state => last.end_s = end_s,
        _ if end_s > start_s => spans.push(Span { start_s, end_s, state }),
        _ => {}
    }
}

/// The tick of an event in the lane, if it has one.
fn tick(event: &sim_core::record::Event) -> Option<Tick> {
    let (kind, letter, meaning) = match (event.kind, event.cause) {
        (EventKind::UnitOn, _) => (TickKind::On, 'T', "turn-on held for its delay"),
        (EventKind::UnitOff, _) => (TickKind::Off, 'V', "voltage under turn-off"),
        (EventKind::KeyOff, _) => (TickKind::Mark, 'K', "key off"),
        (EventKind::Stage { to: Stage::Float }, Cause::AbsorptionCap { .. }) => {
            (TickKind::Mark, 'C', "absorption cap")
        }
        (EventKind::Stage { to: Stage::Float }, _) => (TickKind::Mark, 'F', "finished: tail current"),
        (EventKind::Stage { to: Stage::Absorption }, _) => {
            (TickKind::Mark, 'A', "absorption voltage reached")
        }
        (EventKind::Stage { to: Stage::Bulk }, _) => (TickKind::Mark, 'R', "recharge"),
        (EventKind::Bound { side: Side::House, at: Bound::Empty }, _) => {
            (TickKind::Mark, 'E', "house battery empty")
        }
        _ => return None,
    };
    Some(Tick { time_s: event.t.as_s(), kind, letter: Some(letter), meaning: meaning.to_owned() })
}
