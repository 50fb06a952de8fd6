//! Pictures on the run's own time axis: overview, voltage ladder, temperatures.

use super::super::page::caption;
use super::super::{Told, findings, fuses, soc_pct, warmth};
use super::view::{View, heading};
use crate::chart::figures::Heading;
use crate::chart::figures::ladder::{LadderData, SmallestGap, Trigger};
use crate::chart::figures::overview::OverviewData;
use crate::chart::figures::temperatures::{HeatLine, Temperature, TemperatureData};
use crate::chart::figures::timeline::Timeline;
use crate::clock::weekday_and_time;
use sim_core::record::trace::Sample;
use sim_core::record::{Event, EventKind};
use sim_core::state::{CASE_C, HOUSE, STARTER};

/// Heat in the unit, the input cable and the output cable, W.
pub fn heat_w(s: &Sample) -> [f64; 3] {
    let n = &s.net;
    [
        n.in_v * n.input_a - n.out_v * n.output_a,
        n.input_a * (n.sb_v - n.in_v),
        n.output_a * (n.out_v - n.house_v),
    ]
}

/// The same over the whole run.
fn heats_w(view: &View) -> [Vec<f64>; 3] {
    [0, 1, 2].map(|n| view.column(|s| heat_w(s)[n]))
}

/// State of charge, heat, events.
pub fn overview(view: &View) -> OverviewData {
    let [unit_loss_w, input_cable_loss_w, output_cable_loss_w] = heats_w(view);
    let hot = hot_parts(view);
    OverviewData {
        heading: heading(view.told, "", caption(view.told)),
        timeline: view.timeline.clone(),
        time_s: view.time_s(),
        // What rounding leaves above full would fall off the axis.
        house_soc_pct: view.column(|s| soc_pct(s.state[HOUSE]).min(100.0)),
        starter_soc_pct: view.column(|s| soc_pct(s.state[STARTER]).min(100.0)),
        unit_loss_w,
        input_cable_loss_w,
        output_cable_loss_w,
        limits: limits(view.told, &hot.iter().map(|p| p.0).collect::<Vec<_>>()),
        nearest: nearest(view.told, &hot),
        hot: hot.into_iter().map(|p| p.1).collect(),
        marks: marks(view),
    }
}

/// The unit's case, and the part that comes nearest to what it bears.
fn hot_parts(view: &View) -> Vec<(usize, Temperature)> {
    let told = view.told;
    let parts = warmth::followed(told);
    let room_c = |place: usize| {
        let limits = warmth::heat_limits(told).into_iter().filter(|l| l.place == place);
        let lowest_c = limits.map(|l| l.limit_c).fold(f64::INFINITY, f64::min);
        lowest_c - warmth::hottest(told, place).1
    };
    let others = parts.iter().filter(|p| p.place != CASE_C && room_c(p.place).is_finite());
    let nearest = others.min_by(|a, b| room_c(a.place).total_cmp(&room_c(b.place)));
    let case = parts.iter().filter(|p| p.place == CASE_C);
    case.chain(nearest).map(|p| (p.place, temperature(view, p))).collect()
}

/// Which of some parts comes nearest to a limit of its own, and that limit.
fn nearest(told: &Told, parts: &[(usize, Temperature)]) -> Option<(usize, HeatLine)> {
    let limits = warmth::heat_limits(told);
    let of = |(n, (place, part)): (usize, &(usize, Temperature))| {
        let own = limits.iter().filter(|l| l.place == *place);
        let lowest = own.min_by(|a, b| a.limit_c.total_cmp(&b.limit_c))?;
        let line = HeatLine {
            names: vec![lowest.name.to_owned()],
            temp_c: lowest.limit_c,
            assumed: lowest.assumed,
            shown: true,
        };
        Some((n, lowest.limit_c - part.hottest?.1, line))
    };
    let all = parts.iter().enumerate().filter_map(of);
    all.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(n, _, line)| (n, line))
}

fn temperature(view: &View, f: &warmth::Followed) -> Temperature {
    Temperature {
        name: f.short.to_owned(),
        temp_c: view.column(|s| s.state[f.place]),
        hottest: Some(warmth::hottest(view.told, f.place)),
    }
}

/// Limits as lines, those of the parts at `places` among the curves; limits of one temperature are one line with all
/// their names.
fn limits(told: &Told, places: &[usize]) -> Vec<HeatLine> {
    let mut lines: Vec<HeatLine> = Vec::new();
    for limit in warmth::heat_limits(told) {
        let name = format!("{}{}", limit.name, if limit.assumed { " (assumed)" } else { "" });
        let shown = places.contains(&limit.place);
        let (temp_c, assumed) = (limit.limit_c, limit.assumed);
        match lines.iter_mut().find(|l| l.temp_c == temp_c) {
            Some(line) => {
                line.assumed &= assumed;
                line.shown |= shown;
                if !line.names.contains(&name) {
                    line.names.push(name);
                }
            }
            None => lines.push(HeatLine { names: vec![name], temp_c, assumed, shown }),
        }
    }
    lines.sort_by(|a, b| a.temp_c.total_cmp(&b.temp_c));
    lines
}

/// What must not be missed: a fuse that opens, loads that are shed, a starter battery that collapses; the first of each,
/// and how many there are.
fn marks(view: &View) -> Vec<(f64, String)> {
    let events = || view.told.run.events.iter();
    let shed = |e: &&Event| e.kind == EventKind::LoadsShed { shed: true };
    let dead = |e: &&Event| e.kind == EventKind::StarterDead { dead: true };
    let many = |n: usize| if n > 1 { format!(", first of {n}") } else { String::new() };
    let at = |e: &Event| weekday_and_time(view.told.profile, e.t.as_s());
    let fuses = events().filter_map(|e| match e.kind {
        EventKind::FuseOpened { at: place } => Some((e, fuses::short(place).to_owned())),
        _ => None,
    });
    let first = |is: &dyn Fn(&&Event) -> bool, words: &str| {
        let found = events().find(|e| is(e))?;
        Some((found, format!("{words}{}", many(events().filter(|e| is(e)).count()))))
    };
    let rest = [first(&shed, "house loads shed"), first(&dead, "starter battery flat")];
    fuses
        .chain(rest.into_iter().flatten())
        .map(|(e, words)| (e.t.as_s(), format!("{words}\n{}", at(e))))
        .collect()
}

/// The voltage ladder over the whole run.
pub fn ladder(view: &View) -> LadderData {
    let told = view.told;
    let words = heading(told, "", caption(told));
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

/// Every temperature that the run followed, the hottest first; more than can be told apart are left to the page.
pub fn temperatures(view: &View) -> TemperatureData {
    const MOST: usize = 6;
    let told = view.told;
    let air_c = view.column(|s| told.profile.pieces().at(s.piece).air_c);
    let mut parts: Vec<(usize, Temperature)> =
        warmth::followed(told).iter().map(|f| (f.place, temperature(view, f))).collect();
    let hottest = |t: &Temperature| t.hottest.map_or(f64::NEG_INFINITY, |h| h.1);
    // The case stays first: it is the one with a limit of its own.
    parts[1..].sort_by(|a, b| hottest(&b.1).total_cmp(&hottest(&a.1)));
    parts.truncate(MOST);
    let (places, parts): (Vec<usize>, Vec<Temperature>) = parts.into_iter().unzip();
    let case_c = hottest(&parts[0]);
    let other = parts[1..]
        .first()
        .map_or_else(String::new, |p| format!(" Hottest of the rest: {}, {:.0} °C.", p.name, hottest(p)));
    let derate_c = told.model.link().converter.derate_from_c;
    let limit = match derate_c.is_finite().then_some(derate_c) {
        Some(c) if case_c >= c => format!("past {c:.0} °C, from which it gives less current"),
        Some(c) => format!("under the {c:.0} °C from which it gives less current"),
        None => "with no temperature limit in this model".to_owned(),
    };
    // What is too hot comes first, in the judge's words.
    let hot = told.verdict.bad().find(|f| {
        use sim_core::judge::Kind::{ConductorHot, JointHot, LimitedByHeat, WindingHot};
        matches!(f.kind, ConductorHot { .. } | JointHot { .. } | LimitedByHeat { .. } | WindingHot)
    });
    let hot = hot.map_or_else(String::new, |f| format!("{} ", findings::sentence(told, f)));
    let answer = format!("{hot}The unit's case reaches {case_c:.0} °C, {limit}.{other}");
    let [unit, input_cable, output_cable] = heats_w(view);
    TemperatureData {
        heading: heading(told, "Temperatures", answer),
        timeline: view.timeline.clone(),
        time_s: view.time_s(),
        parts,
        limits: limits(told, &places),
        air_c,
        heat_w: vec![
            ("unit".to_owned(), unit),
            ("input cable".to_owned(), input_cable),
            ("output cable".to_owned(), output_cable),
        ],
    }
}
