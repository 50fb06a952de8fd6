//! The converter's operating point: the largest output current that every limit allows.
//!
//! The constant-power equation at the input has two roots; the one of smaller current is the only one a real unit
//! holds. Where no root exists the source gives what it can, a named limit and never a NaN.

use super::house_bus::{Curve, HouseStates};
use super::source::SourceState;
use super::starter_bus::{BusStates, Line, smaller_root};
use super::{Bias, Net, Regime};
use crate::plant::converter::Loss;
use serde::Serialize;

/// Which of the converter's limits rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Limit {
    /// The unit is off and draws its standby current.
    #[default]
    Off,
    /// The output current limit, ramp and derating included.
    OutputCurrent,
    /// The target voltage.
    Voltage,
    /// The target voltage, with the bus already above it or the output cable open: the unit gives nothing.
    Idle,
    /// The input current limit.
    InputCurrent,
    /// The input-voltage floor.
    Floor,
    /// The source cannot give more: collapse, at a smooth peak of its power.
    Source,
    /// The source cannot give more, at the kink where a source reaches its ceiling.
    SourceKink,
    /// What the input may take does not cover the fixed loss: nothing comes out.
    Starved,
}

/// Where the unit measures the voltage that it holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Sense {
    /// At its own output terminals.
    #[default]
    Terminals,
    /// At the house posts, through a thin pair of its own.
    HousePosts,
}

/// The converter at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// Whether it is on.
    pub on: bool,
    /// Whether its output cable is open: it gives nothing, and holds its target at its own terminals.
    pub output_open: bool,
    /// Input current while off, A.
    pub standby_a: f64,
    /// Output current limit just now, ramp and derating included, A.
    pub output_cap_a: f64,
    /// Input current limit, A.
    pub input_cap_a: f64,
    /// Input-voltage floor, V; zero for a unit without one.
    pub floor_v: f64,
    /// Target voltage, V.
    pub target_v: f64,
    /// Where the target holds.
    pub sense: Sense,
    /// Loss of the power stage.
    pub loss: Loss,
}

/// Tolerance of the regimes' ends, V and A: far under anything printed, far over rounding, so that two regimes that
/// meet never hand an operating point back and forth.
const SLACK: f64 = 1e-11;
/// How far the bus may stand above the target before the unit counts as idle, V; it gives nothing there. A current that
/// dies away, as into a full battery without a load, would otherwise cross zero on rounding again and again.
pub(crate) const IDLE_V: f64 = 1e-5;
/// How far past its own limits what a source can give must rise before the unit is free of it, A and V. At the greatest
/// power of a source the two roots meet, and there a unit can be driven against the edge from both sides, as when the
/// alternator picks up what a small battery cannot give: without this it would change hands a hundred thousand times a
/// second, by rounding.
const FREE: f64 = 1e-6;
/// How far past its own limits what a source can give must rise before the unit is free of it, A and V, in a run that is
/// allowed an error of `tolerance` per step.
pub(crate) fn free_at(tolerance: f64) -> f64 {
    // What a step may be off by would drive it against the edge as rounding does; far more would let it go to and fro for longer.
    tolerance.max(FREE)
}

/// Finds the operating point and its regime.
pub fn solve(bias: &Bias) -> (Net, Regime) {
    let regime = find_regime(bias);
    (solve_in(bias, regime), regime)
}

fn sense_ohm(bias: &Bias) -> f64 {
    match bias.unit.sense {
        Sense::Terminals => bias.house.cable_ohm,
        Sense::HousePosts => 0.0,
    }
}

fn find_regime(bias: &Bias) -> Regime {
    let unit = &bias.unit;
    let (starter, house) = (&bias.starter, &bias.house);
    if !unit.on {
        return Regime {
            limit: Limit::Off,
            starter: starter.states_drawing(unit.standby_a),
            house: house.states_bringing(0.0),
        };
    }
    let (limit, states, i_out, v_house) = wanted_output(bias);
    let wanted_w = unit.loss.input_w(i_out * (v_house + house.cable_ohm * i_out));
    if let Some(at) = starter.smallest_root(wanted_w, unit.input_cap_a) {
        let v_in = starter.line(at.states).v(at.i_a) - starter.cable_ohm * at.i_a;
        if v_in >= unit.floor_v {
            return Regime { limit, starter: at.states, house: states };
        }
    }
    let most = starter.greatest_power(unit.input_cap_a, unit.floor_v);
    let out_w = unit.loss.output_w(most.power_w);
    if out_w <= 0.0 || unit.output_open {
        // It gives nothing, but goes on drawing what its fixed loss takes, as far as the source has that.
        let fed = starter.smallest_root(unit.loss.input_w(0.0), unit.input_cap_a);
        let states = fed.map_or(most.at.states, |at| at.states);
        return Regime { limit: Limit::Starved, starter: states, house: house.states_bringing(0.0) };
    }
    let limit = match (most.source_limited, most.at_kink) {
        (true, false) => Limit::Source,
        (true, true) => Limit::SourceKink,
        _ if most.at.i_a >= unit.input_cap_a => Limit::InputCurrent,
        _ => Limit::Floor,
    };
    Regime { limit, starter: most.at.states, house: house.states_carrying(out_w) }
}

/// What the output side alone would take, with its volts at the posts: its current limit, or the current at which the
/// target voltage stands.
fn wanted_output(bias: &Bias) -> (Limit, HouseStates, f64, f64) {
    let (unit, house) = (&bias.unit, &bias.house);
    let cable_ohm = sense_ohm(bias);
    if unit.output_open {
        let states = house.states_bringing(0.0);
        return (Limit::Idle, states, 0.0, house.curve(states).v(0.0));
    }
    let cap = unit.output_cap_a;
    let at_cap = house.states_bringing(cap);
    let v_cap = house.curve(at_cap).v(cap);
    if v_cap + cable_ohm * cap <= unit.target_v {
        return (Limit::OutputCurrent, at_cap, cap, v_cap);
    }
    let held = house.states_held(unit.target_v, cable_ohm);
    let curve = house.curve(held);
    let v = curve.v_held(unit.target_v, cable_ohm);
    let i = curve.i(v);
    // No battery helps, and the target takes more than the unit may give.
    if curve.g == 0.0 && i > cap {
        return (Limit::OutputCurrent, at_cap, cap, v_cap);
    }
    // Nothing at all may take current: a bare bus stands at the target.
    if i >= 0.0 {
        return (Limit::Voltage, held, i, v);
    }
    // At the target the bus has too much already: it stands higher.
    let states = house.states_above(v);
    let v = house.curve(states).v(0.0);
    (if v > unit.target_v + IDLE_V { Limit::Idle } else { Limit::Voltage }, states, 0.0, v)
}

/// Output current and volts at the house posts with the target held; the unit takes nothing back.
fn holding(bias: &Bias, curve: Curve) -> (f64, f64) {
    let v = curve.v_held(bias.unit.target_v, sense_ohm(bias));
    let i = curve.i(v);
    if i < 0.0 && curve.g > 0.0 { (0.0, curve.v(0.0)) } else { (i, v) }
}

/// Solves with the regime held, continued smoothly a little past its end.
pub fn solve_in(bias: &Bias, regime: Regime) -> Net {
    let (unit, starter, house) = (&bias.unit, &bias.starter, &bias.house);
    let line = starter.line(regime.starter);
    let curve = house.curve(regime.house);
    let (input_a, output_a, house_v) = match regime.limit {
        Limit::Off => (unit.standby_a, 0.0, curve.v(0.0)),
        Limit::OutputCurrent => {
            let i = unit.output_cap_a;
            let v = curve.v(i);
            (drawing(bias, line, unit.loss.input_w(i * (v + house.cable_ohm * i))), i, v)
        }
        Limit::Voltage => {
            let (i, v) = holding(bias, curve);
            (drawing(bias, line, unit.loss.input_w(i * (v + house.cable_ohm * i))), i, v)
        }
        Limit::Idle => (drawing(bias, line, unit.loss.input_w(0.0)), 0.0, curve.v(0.0)),
        Limit::Starved => (starved_a(bias, line, regime.starter).0, 0.0, curve.v(0.0)),
        Limit::InputCurrent | Limit::Floor | Limit::Source | Limit::SourceKink => {
            let i_in = input_ceiling(bias, line, regime);
            let power_w = i_in * (line.v(i_in) - starter.cable_ohm * i_in);
            let i = curve.i_carrying(unit.loss.output_w(power_w), house.cable_ohm);
            (i_in, i, curve.v(i))
        }
    };
    assemble(bias, regime, line, input_a, output_a, house_v)
}

/// Input current at the limit that the input side sets.
pub(crate) fn input_ceiling(bias: &Bias, line: Line, regime: Regime) -> f64 {
    let (unit, starter) = (&bias.unit, &bias.starter);
    let r = 1.0 / line.g + starter.cable_ohm;
    match regime.limit {
        Limit::Floor => (line.open_v() - unit.floor_v) / r,
        Limit::SourceKink => line.a - line.g * kink_v(bias, regime.starter),
        Limit::Source => 0.5 * line.open_v() / r,
        _ => unit.input_cap_a,
    }
}

/// Volts of the kink at the low end of the piece that the states describe.
fn kink_v(bias: &Bias, states: BusStates) -> f64 {
    let mut v = f64::NEG_INFINITY;
    for (source, state) in bias.starter.sources.iter().zip(states) {
        match state {
            SourceState::Idle => v = v.max(source.set_v),
            SourceState::Regulating => v = v.max(source.full_below_v()),
            SourceState::Full | SourceState::Absent => {}
        }
    }
    v
}

/// Input current of a unit that gives nothing, and whether it stands on a kink: where the source cannot feed the fixed loss, and
/// gives most where one of its parts reaches its ceiling, the unit draws no more than that.
pub(crate) fn starved_a(bias: &Bias, line: Line, states: BusStates) -> (f64, bool) {
    let (unit, fixed_w) = (&bias.unit, bias.unit.loss.input_w(0.0));
    let asked_a = drawing(bias, line, fixed_w).min(unit.input_cap_a);
    let kink_a = line.a - line.g * kink_v(bias, states);
    let at_kink = asked_a > kink_a && bias.starter.smallest_root(fixed_w, unit.input_cap_a).is_none();
    if at_kink { (kink_a, true) } else { (asked_a, false) }
}

/// Input current for a power; past the source's greatest power, that of the peak, so that trial points stay finite.
fn drawing(bias: &Bias, line: Line, power_w: f64) -> f64 {
    smaller_root(line, bias.starter.cable_ohm, power_w)
        .unwrap_or_else(|| 0.5 * line.open_v() / (1.0 / line.g + bias.starter.cable_ohm))
}

fn assemble(bias: &Bias, regime: Regime, line: Line, input_a: f64, output_a: f64, house_v: f64) -> Net {
    let (starter, house) = (&bias.starter, &bias.house);
    let sb_v = line.v(input_a);
    let from = |n: usize| starter.sources[n].current_in(regime.starter[n], sb_v);
    let house_from = |n: usize| house.sources[n].current_in(regime.house.sources[n], house_v);
    Net {
        sb_v,
        in_v: sb_v - starter.cable_ohm * input_a,
        out_v: house_v + house.cable_ohm * output_a,
        house_v,
        alternator_a: from(0),
        starter_source_a: from(1),
        starter_a: (sb_v - starter.emf_v) / starter.r_ohm,
        input_a,
        output_a,
        house_a: if regime.house.conducting { (house_v - house.emf_v) / house.r_ohm } else { 0.0 },
        house_load_a: house.load_w / house_v,
        solar_a: house_from(0),
        charger_a: house_from(1),
    }
}

/// How far the regime is from each of its ends: at or above zero while it holds, negative once it should have changed.
///
/// The last entry is the nearest end of a source's state; the others belong to the converter's limit.
pub fn margins(bias: &Bias, regime: Regime, net: &Net) -> [f64; 5] {
    margins_with(bias, regime, net, FREE)
}

/// The same, a unit at its source's edge freed by `free`, A and V.
pub(crate) fn margins_with(bias: &Bias, regime: Regime, net: &Net, free: f64) -> [f64; 5] {
    let (unit, starter, house) = (&bias.unit, &bias.starter, &bias.house);
    let far = f64::INFINITY;
    let line = starter.line(regime.starter);
    let peak_v = 0.5 * line.open_v();
    let sensed_v = match unit.sense {
        Sense::Terminals => net.out_v,
        Sense::HousePosts => net.house_v,
    };
    let below_target = unit.target_v - sensed_v;
    let under_output_cap = unit.output_cap_a - net.output_a;
    let under_input_cap = unit.input_cap_a - net.input_a;
    let above_floor = net.in_v - unit.floor_v;
    let over_fixed_loss = net.in_v * net.input_a - unit.loss.input_w(0.0);
    let wanted = |i: f64| unit.loss.input_w(i * net.out_v);
    // Room under the greatest power the line can give, in volts squared: smooth where the two roots meet.
    let room = |i: f64| {
        let v0 = line.open_v();
        v0 * v0 - 4.0 * (1.0 / line.g + starter.cable_ohm) * wanted(i)
    };
    let unit_ends = match regime.limit {
        Limit::Off => [far; 4],
        Limit::OutputCurrent => [below_target, under_input_cap, above_floor, room(net.output_a)],
        Limit::Voltage => {
            [under_output_cap.min(below_target + IDLE_V), under_input_cap, above_floor, room(net.output_a)]
        }
        Limit::Idle => {
            let above = if unit.output_open { far } else { -below_target };
            [above, under_input_cap, above_floor, room(0.0)]
        }
        Limit::InputCurrent => {
            [below_target, under_output_cap, above_floor.min(over_fixed_loss), net.in_v - peak_v]
        }
        Limit::Floor => {
            [below_target, under_output_cap, under_input_cap.min(over_fixed_loss), net.in_v - peak_v]
        }
        Limit::Source => {
            [below_target + free, under_output_cap + free, under_input_cap, above_floor.min(over_fixed_loss)]
        }
        Limit::SourceKink => [
            below_target + free,
            under_output_cap + free,
            under_input_cap.min(above_floor).min(over_fixed_loss),
            peak_room(bias, regime, net),
        ],
        Limit::Starved => {
            // It ends when the fixed loss can be fed again.
            let most = starter.greatest_power(unit.input_cap_a, unit.floor_v);
            [-unit.loss.output_w(most.power_w), far, far, far]
        }
    };
    let mut ends = [0.0; 5];
    for (end, m) in ends.iter_mut().zip(unit_ends) {
        *end = m + SLACK;
    }
    // At a kink the bus stands on the end of its piece by definition; only the other sources can move. So it may when the
    // source cannot even give the fixed loss.
    let starved =
        regime.limit == Limit::Starved && (room(0.0) < 0.0 || starved_a(bias, line, regime.starter).1);
    let starter_end = if regime.limit == Limit::SourceKink || starved {
        far
    } else {
        starter
            .sources
            .iter()
            .zip(regime.starter)
            .map(|(s, state)| s.margin_in(state, net.sb_v))
            .fold(far, f64::min)
    };
    ends[4] = starter_end.min(house.margin_in(regime.house, net.house_v)) + SLACK;
    ends
}

/// How near the house loads may come to the most that their bus can give, as a share of it: at that point itself the volts
/// fall without bound.
pub(crate) const NEAR_MOST: f64 = 1e-4;

/// How far the loads of constant power on the house bus are from the most that battery, sources and unit can give there at any
/// volts, as a share; negative once they ask for more. Past that no volts exist, and [`Curve::v`] would answer with those of
/// the greatest power.
pub(crate) fn house_room(bias: &Bias, regime: Regime, net: &Net) -> f64 {
    let curve = bias.house.curve(regime.house);
    if curve.p <= 0.0 || curve.g == 0.0 {
        return f64::INFINITY;
    }
    let (b, c) = if regime.limit == Limit::Voltage && net.output_a > 0.0 {
        let ohm = sense_ohm(bias);
        (bias.unit.target_v + curve.a * ohm, (1.0 + curve.g * ohm) * ohm)
    } else {
        (curve.a + net.output_a, curve.g)
    };
    let most = if b > 0.0 { 1.0 - NEAR_MOST - 4.0 * c * curve.p / (b * b) } else { -1.0 };
    // Where the curve rests only at volts that its states do not hold at, a battery over its own volts that refuses charge, a
    // source over its set-point that gives its all, no volts exist. States that only just give way are another guard's.
    let holds_v = bias.house.margin_in(regime.house, net.house_v);
    most.min(NEAR_MOST + holds_v / bias.house.emf_v)
}

/// At a kink: power must still rise towards it on the one side and fall past it on the other.
fn peak_room(bias: &Bias, regime: Regime, net: &Net) -> f64 {
    let starter = &bias.starter;
    let slope = |states: BusStates| {
        let line = starter.line(states);
        line.open_v() - 2.0 * (1.0 / line.g + starter.cable_ohm) * net.input_a
    };
    let before = slope(regime.starter);
    let after = slope(starter.states_at(net.sb_v - 1e-9));
    before.min(-after)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::network::house_bus::{Contact, HouseBus};
    use crate::network::source::{Ceiling, Source};
    use crate::network::starter_bus::StarterBus;

    /// A small generator of our own, so that the cases never change with a library's.
    pub struct Dice(pub u64);
    impl Dice {
        pub fn between(&mut self, low: f64, high: f64) -> f64 {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            low + (high - low) * ((self.0 >> 11) as f64 / (1u64 << 53) as f64)
        }
    }

    pub fn wild(d: &mut Dice) -> Bias {
        let contact =
            [Contact::Closed, Contact::Closed, Contact::ChargeBlocked][d.between(0.0, 3.0) as usize];
        Bias {
            starter: StarterBus {
                emf_v: d.between(10.5, 14.4),
                r_ohm: d.between(0.002, 0.03),
                sources: [
                    Source {
                        set_v: d.between(12.4, 15.0),
                        droop_ohm: d.between(0.001, 0.02),
                        ceiling: Ceiling::Current(d.between(-20.0, 160.0).max(0.0)),
                    },
                    Source {
                        set_v: d.between(13.2, 14.4),
                        droop_ohm: 0.02,
                        ceiling: Ceiling::Current(d.between(-5.0, 5.0).max(0.0)),
                    },
                ],
                load_a: d.between(0.0, 70.0),
                cable_ohm: d.between(0.0, 0.12),
            },
            house: HouseBus {
                emf_v: d.between(12.0, 14.2),
                r_ohm: d.between(0.002, 0.03),
                contact,
                sources: [
                    Source {
                        set_v: 14.4,
                        droop_ohm: 0.02,
                        ceiling: Ceiling::Power(d.between(-200.0, 300.0).max(0.0)),
                    },
                    Source::NONE,
                ],
                load_w: d.between(0.0, 300.0),
                cable_ohm: d.between(0.0, 0.03),
            },
            unit: Unit {
                on: d.between(0.0, 1.0) > 0.1,
                output_open: false,
                standby_a: 0.005,
                output_cap_a: d.between(0.0, 70.0),
                input_cap_a: d.between(5.0, 90.0),
                floor_v: if d.between(0.0, 1.0) > 0.7 { 12.0 } else { 0.0 },
                target_v: d.between(13.0, 14.6),
                sense: if d.between(0.0, 1.0) > 0.5 { Sense::Terminals } else { Sense::HousePosts },
                loss: Loss { fixed_w: 4.0, proportional: 0.04, square_per_w: 2e-5 },
            },
        }
    }

    #[test]
    fn thirty_thousand_wild_networks_balance_and_stay_in_their_regime() {
        let mut dice = Dice(11);
        let mut seen = std::collections::HashMap::new();
        for n in 0..30_000 {
            let bias = wild(&mut dice);
            let (net, regime) = solve(&bias);
            *seen.entry(regime.limit).or_insert(0) += 1;
            let context = || format!("case {n}: {regime:?} {bias:?} {net:?}");
            let starter =
                net.alternator_a + net.starter_source_a - bias.starter.load_a - net.starter_a - net.input_a;
            assert!(starter.abs() < 1e-8, "starter bus {starter}: {}", context());
            let house = net.output_a + net.solar_a - net.house_load_a - net.house_a;
            assert!(house.abs() < 1e-8, "house bus {house}: {}", context());
            if bias.unit.on && regime.limit != Limit::Starved {
                let balance = net.in_v * net.input_a - bias.unit.loss.input_w(net.out_v * net.output_a);
                assert!(balance.abs() < 1e-7, "power {balance}: {}", context());
                let sensed = if bias.unit.sense == Sense::Terminals { net.out_v } else { net.house_v };
                assert!(
                    net.output_a >= -1e-9 && net.output_a <= bias.unit.output_cap_a + 1e-9,
                    "{}",
                    context()
                );
                assert!(net.input_a <= bias.unit.input_cap_a + 1e-9, "{}", context());
                assert!(net.output_a < 1e-9 || sensed <= bias.unit.target_v + 1e-9, "{}", context());
                assert!(net.output_a < 1e-9 || net.in_v >= bias.unit.floor_v - 1e-9, "{}", context());
            }
            for (k, m) in margins(&bias, regime, &net).into_iter().enumerate() {
                assert!(m >= -1e-7, "margin {k} is {m}: {}", context());
            }
        }
        for limit in [
            Limit::Off,
            Limit::OutputCurrent,
            Limit::Voltage,
            Limit::Idle,
            Limit::InputCurrent,
            Limit::Floor,
            Limit::Source,
            Limit::Starved,
        ] {
            assert!(seen.contains_key(&limit), "{limit:?} was never met: {seen:?}");
        }
    }

    /// A fixed loss that the source cannot feed, at a kink of what it gives: the unit drew on past the ceiling of a source,
    /// and its regime was no regime.
    #[test]
    fn a_fixed_loss_that_cannot_be_fed_takes_no_source_past_its_ceiling() {
        let mut dice = Dice(13);
        let mut at_kink = 0;
        for n in 0..30_000 {
            let mut bias = wild(&mut dice);
            bias.unit.loss.fixed_w = dice.between(50.0, 1500.0);
            bias.starter.r_ohm = dice.between(0.01, 0.6);
            let (net, regime) = solve(&bias);
            let context = || format!("case {n}: {regime:?} {bias:?} {net:?}");
            for (k, m) in margins(&bias, regime, &net).into_iter().enumerate() {
                assert!(m >= -1e-7, "margin {k} is {m}: {}", context());
            }
            if regime.limit == Limit::Starved {
                let line = bias.starter.line(regime.starter);
                at_kink += u32::from(starved_a(&bias, line, regime.starter).1);
            }
        }
        assert!(at_kink > 100, "{at_kink}");
    }

    /// The operating point is the largest output current all limits allow: a little more breaks one of them.
    #[test]
    fn a_little_more_output_would_break_a_limit() {
        let mut dice = Dice(12);
        for _ in 0..20_000 {
            let bias = wild(&mut dice);
            let (net, regime) = solve(&bias);
            // Without the battery, on a constant-power load, more current means fewer volts: there the target voltage decides.
            let bare = !regime.house.conducting;
            if !bias.unit.on || regime.limit == Limit::Starved || bare {
                continue;
            }
            let i = net.output_a + 1e-4;
            let v_house = bias.house.curve(bias.house.states_bringing(i)).v(i);
            let v_out = v_house + bias.house.cable_ohm * i;
            let sensed = if bias.unit.sense == Sense::Terminals { v_out } else { v_house };
            let wanted = bias.unit.loss.input_w(i * v_out);
            let allowed = i <= bias.unit.output_cap_a
                && sensed <= bias.unit.target_v
                && bias.starter.smallest_root(wanted, bias.unit.input_cap_a).is_some_and(|at| {
                    bias.starter.line(at.states).v(at.i_a) - bias.starter.cable_ohm * at.i_a
                        >= bias.unit.floor_v
                });
            assert!(!allowed, "{regime:?} {bias:?} {net:?}");
        }
    }
}
