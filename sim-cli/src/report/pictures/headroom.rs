//! Fills the head-room picture: the alternator's curve, what is asked of it, and the drive's time at each speed.

use super::super::warmth;
use super::moment::{Moment, if_on};
use super::view::{View, heading};
use crate::chart::figures::headroom::{Demand, HeadroomData};
use crate::chart::scale::round_step;
use crate::clock::duration;
use sim_core::state::WINDING_C;

/// Points of the capability curve.
const POINTS: u32 = 300;

/// Everything the picture shows.
pub fn fill(view: &View) -> HeadroomData {
    let told = view.told;
    let alternator = &told.model.alternator;
    let demand = demand(view);
    let firm_a: f64 = demand[..2].iter().map(|d| d.amps_a).sum();
    let hot = hot(view);
    // What must be carried must be carried hot.
    let share = hot.map_or(1.0, |h| h.share);
    let lowest_rpm = if firm_a > 0.0 { alternator.lowest_engine_rpm(firm_a / share) } else { None };
    let driven = || told.profile.pieces().iter().filter(|p| p.engine_runs());
    let slowest = driven().map(|p| p.engine_rpm).fold(f64::INFINITY, f64::min);
    let fastest = driven().map(|p| p.engine_rpm).fold(0.0, f64::max);
    let cut_in = alternator.cut_in_rpm / alternator.pulley_ratio;
    let low = (0.8 * cut_in.min(slowest)).max(0.0);
    let reach = lowest_rpm.unwrap_or(0.0).min(8000.0);
    let high = (1.1 * fastest).max(1.3 * reach).max(2.5 * cut_in).max(low + 500.0);
    // Without a drive the curve is shown up to the speed at which labels rate it.
    let high = if fastest > 0.0 { high } else { high.max(6000.0 / alternator.pulley_ratio) };
    let (low, high) = ((low / 50.0).floor() * 50.0, (high / 50.0).ceil() * 50.0);
    let engine_rpm: Vec<f64> =
        (0..=POINTS).map(|k| low + (high - low) * f64::from(k) / f64::from(POINTS)).collect();
    // Exact, piece by piece of the drive.
    let bin = round_step((high - low) / 50.0);
    let mut time_at_rpm: Vec<(f64, f64, f64)> = Vec::new();
    for piece in driven() {
        let n = (piece.engine_rpm / bin).floor();
        let minutes = piece.end.since(piece.start) / 60.0;
        match time_at_rpm.iter_mut().find(|b| b.0 == n * bin) {
            Some(b) => b.2 += minutes,
            None => time_at_rpm.push((n * bin, (n + 1.0) * bin, minutes)),
        }
    }
    time_at_rpm.sort_by(|a, b| a.0.total_cmp(&b.0));
    let short_s: f64 =
        driven().filter(|p| lowest_rpm.is_none_or(|l| p.engine_rpm < l)).map(|p| p.end.since(p.start)).sum();
    let speed = lowest_rpm.map(|l| (l, l * alternator.pulley_ratio));
    HeadroomData {
        heading: heading(told, "Alternator head-room", answer(view, firm_a, speed, short_s)),
        hot: hot.map(|h| {
            let hot_a = engine_rpm.iter().map(|&n| h.share * alternator.capability_a(n)).collect();
            (hot_a, h.winding_c)
        }),
        capability_a: engine_rpm.iter().map(|&n| alternator.capability_a(n)).collect(),
        engine_rpm,
        pulley_ratio: alternator.pulley_ratio,
        demand,
        lowest_rpm,
        time_at_rpm,
    }
}

/// The hottest winding that the run met, and the share of the capability that it left.
#[derive(Debug, Clone, Copy)]
struct Hot {
    winding_c: f64,
    share: f64,
}

fn hot(view: &View) -> Option<Hot> {
    let alternator = &view.told.model.alternator;
    alternator.heat?;
    let winding_c = warmth::hottest(view.told, WINDING_C).1;
    let share = alternator.heat_share(winding_c);
    (share < 1.0).then_some(Hot { winding_c, share })
}

/// What is asked: the vehicle's greatest load, the unit's greatest input, the starter battery on average.
fn demand(view: &View) -> Vec<Demand> {
    let told = view.told;
    let driven = told.profile.pieces().iter().filter(|p| p.engine_runs());
    let vehicle_a = driven.map(|p| p.vehicle_load_a).fold(0.0, f64::max);
    let running =
        |on: bool| view.samples.iter().filter(move |s| s.mode.alternator_turns() && s.mode.on == on);
    let on_a = running(true).map(|s| s.net.input_a).fold(0.0, f64::max);
    let (unit, unit_a) = if on_a > 0.0 {
        ("unit at most", on_a)
    } else if told.summary.driving_s > 0.0 {
        // It never came on: what it would draw if it did.
        ("unit if it were on", Moment::of(told).map_or(0.0, |m| if_on(told, &m.sample).input_a))
    } else {
        ("unit", 0.0)
    };
    let (charge_c, time_s) = view.taken;
    let starter_a = if time_s > 0.0 { charge_c / time_s } else { 0.0 };
    [("vehicle at most", vehicle_a), (unit, unit_a), ("starter battery takes, on average", starter_a)]
        .into_iter()
        .map(|(name, amps_a)| Demand { name: name.to_owned(), amps_a })
        .collect()
}

fn answer(view: &View, firm_a: f64, speed: Option<(f64, f64)>, short_s: f64) -> String {
    let told = view.told;
    if told.summary.driving_s == 0.0 {
        return "The engine never runs: nothing is asked of the alternator. Its curve is shown.".to_owned();
    }
    let Some((engine, own)) = speed else {
        return format!(
            "Vehicle and unit ask for {firm_a:.0} A: no engine speed carries that; the starter battery helps."
        );
    };
    let hot = hot(view).map_or_else(String::new, |h| {
        let cold = told.model.alternator.lowest_engine_rpm(firm_a);
        let cold = cold.map_or_else(String::new, |rpm| format!(" ({rpm:.0} cold)"));
        format!(" with its winding at {:.0} °C{cold}", h.winding_c)
    });
    let tail = if short_s > 0.0 {
        format!(
            "For {} of {} the engine turns slower than that, and the starter battery helps.",
            duration(short_s),
            duration(told.summary.driving_s)
        )
    } else {
        "The engine is never slower.".to_owned()
    };
    format!(
        "Vehicle and unit ask for {firm_a:.0} A at most. The alternator carries that from {engine:.0} engine rpm \
         up ({own:.0} of its own){hot}. {tail}"
    )
}
