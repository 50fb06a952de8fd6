//! Pictures on the run's own time axis: overview, voltage ladder, temperatures.

use super::super::Told;
use super::super::page::top_up;
use super::view::{View, heading};
use crate::chart::figures::Heading;
use crate::chart::figures::ladder::{LadderData, SmallestGap, Trigger};
use crate::chart::figures::overview::OverviewData;
use crate::chart::figures::temperatures::{Temperature, TemperatureData};
use crate::chart::figures::timeline::Timeline;
use sim_core::record::trace::Sample;
use sim_core::state::{CASE_C, HOUSE, STARTER};

fn unit_loss_w(s: &Sample) -> f64 {
    s.net.in_v * s.net.input_a - s.net.out_v * s.net.output_a
}

/// Heat in the unit, the input run and the output run, W.
fn heat_w(view: &View) -> [Vec<f64>; 3] {
    let link = view.told.model.link();
    let (in_ohm, out_ohm) = (link.input_run.resistance_ohm(), link.output_run.resistance_ohm());
    [
        view.column(unit_loss_w),
        view.column(|s| s.net.input_a * s.net.input_a * in_ohm),
        view.column(|s| s.net.output_a * s.net.output_a * out_ohm),
    ]
}

/// State of charge, heat, events.
pub fn overview(view: &View) -> OverviewData {
    let [unit_loss_w, input_run_loss_w, output_run_loss_w] = heat_w(view);
    OverviewData {
        heading: heading(view.told, "", top_up(view.told)),
        timeline: view.timeline.clone(),
        time_s: view.time_s(),
        // A full battery may stand a rounding over 1.
        house_soc_pct: view.column(|s| s.state[HOUSE].min(1.0) * 100.0),
        starter_soc_pct: view.column(|s| s.state[STARTER].min(1.0) * 100.0),
        unit_loss_w,
        input_run_loss_w,
        output_run_loss_w,
        case_temp_c: Some(view.column(|s| s.state[CASE_C])),
    }
}

/// The voltage ladder over the whole run.
pub fn ladder(view: &View) -> LadderData {
    let told = view.told;
    let words = heading(told, "", top_up(told));
    let smallest_gap = told.summary.extremes.margin_v.map(|m| SmallestGap { time_s: m.t_s, gap_v: m.value });
    LadderData { smallest_gap, ..ladder_of(told, words, view.timeline.clone(), &view.samples) }
}

/// Volts and amps of some samples.
pub fn ladder_of(told: &Told, heading: Heading, timeline: Timeline, samples: &[Sample]) -> LadderData {
    let column = |f: &dyn Fn(&Sample) -> f64| -> Vec<f64> { samples.iter().map(f).collect() };
    let (turn_on, turn_off) = triggers(told);
    LadderData {
        heading,
        timeline,
        time_s: column(&|s| s.t.as_s()),
        // A regulator without a turning alternator holds nothing.
        set_point_v: column(&|s| {
            let runs = s.mode.alternator_turns();
            if runs { told.profile.pieces()[s.piece].set_point_v } else { f64::NAN }
        }),
        starter_posts_v: column(&|s| s.net.sb_v),
        input_v: column(&|s| s.net.in_v),
        output_v: column(&|s| s.net.out_v),
        house_posts_v: column(&|s| s.net.house_v),
        alternator_a: column(&|s| s.net.alternator_a),
        input_a: column(&|s| s.net.input_a),
        output_a: column(&|s| s.net.output_a),
        starter_a: column(&|s| s.net.starter_a),
        house_a: column(&|s| s.net.house_a),
        turn_on: Some(turn_on),
        turn_off: Some(turn_off),
        ..LadderData::default()
    }
}

/// Turn-on and turn-off.
pub fn triggers(told: &Told) -> (Trigger, Trigger) {
    let rule = &told.model.link().start_stop;
    (
        Trigger { volts_v: rule.turn_on_v, hold_s: rule.turn_on_delay_s },
        Trigger { volts_v: rule.turn_off_v, hold_s: rule.turn_off_delay_s },
    )
}

/// Temperatures that the model follows: today the unit's case, which has no limit of its own.
pub fn temperatures(view: &View) -> TemperatureData {
    let told = view.told;
    let temp_c = view.column(|s| s.state[CASE_C]);
    let air_c = view.column(|s| told.profile.pieces()[s.piece].air_c);
    let hottest_c = temp_c.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let rise_c = temp_c.iter().zip(&air_c).map(|(t, a)| t - a).fold(f64::NEG_INFINITY, f64::max);
    let release = told.model.link().converter.case_w_per_k;
    let answer = format!(
        "The unit's case reaches {hottest_c:.0} °C, at most {rise_c:.0} K above the air; it sheds {release:.1} W for each \
         kelvin. The model gives it no temperature limit: reduced current when hot is left out."
    );
    let [unit, input_run, output_run] = heat_w(view);
    TemperatureData {
        heading: heading(told, "Temperatures", answer),
        timeline: view.timeline.clone(),
        time_s: view.time_s(),
        parts: vec![Temperature { name: "unit case".to_owned(), temp_c, limit: None }],
        air_c,
        heat_w: vec![
            ("unit".to_owned(), unit),
            ("input run".to_owned(), input_run),
            ("output run".to_owned(), output_run),
        ],
    }
}
