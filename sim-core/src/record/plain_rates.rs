//! The ledger's lines over a step of the plain model, from its nodes: what [`super::ledger::rates`] books, in fewer
//! numbers. The test compares.

use super::ledger::{Ledger, Line};
use crate::network::Net;
use crate::plant::battery::{Flow, Hold};
use crate::plant_view::Held;
use crate::plant_view::plain::{Cell, Plain, PlainHeld};
use crate::state::{HOUSE, STARTER};

/// What a node of the quadrature leaves behind.
#[derive(Debug, Clone, Copy, Default)]
pub struct Node {
    /// Volts and amps.
    pub net: Net,
    /// Heat in resistance and branches, starter and house battery, W.
    heat_w: [f64; 2],
    /// Rested volts, likewise.
    rested_v: [f64; 2],
}

impl Node {
    /// The node at a state.
    #[inline]
    pub fn new(held: &PlainHeld, x: &Plain, net: Net) -> Node {
        let heat_w = |c: &Cell, at: usize, i: f64| {
            let (v1, v2) = (x[at + 1], x[at + 2]);
            c.r0_ohm * i * i + v1 * v1 * c.branch_g[0] + v2 * v2 * c.branch_g[1]
        };
        Node {
            net,
            heat_w: [heat_w(&held.starter, STARTER, net.starter_a), heat_w(&held.house, HOUSE, net.house_a)],
            rested_v: [held.starter.rested_v(x[STARTER]), held.house.rested_v(x[HOUSE])],
        }
    }
}

/// Shares of a battery's current that are lost and refused.
pub(super) fn shares(hold: Hold, efficiency: f64) -> [f64; 2] {
    match (hold.saturated, hold.flow) {
        (true, _) => [0.0, 1.0],
        (false, Flow::Charging) => [1.0 - efficiency, 0.0],
        (false, Flow::Discharging) => [0.0; 2],
    }
}

/// Adds the integrals over `dt` seconds; `weights` are the nodes', in seconds.
pub fn book<const K: usize>(
    held: &Held,
    plain: &PlainHeld,
    nodes: &[Node; K],
    weights: &[f64; K],
    dt: f64,
    ledger: &mut Ledger,
) {
    let sum = |f: &dyn Fn(&Node) -> f64| -> f64 { nodes.iter().zip(weights).map(|(n, w)| w * f(n)).sum() };
    let (m, mode) = (held.model, &held.mode);
    let mut put = |line: Line, amount: f64| ledger.0[line as usize] += amount;
    let vehicle_a = held.vehicle_a();
    let starter_c = sum(&|n| n.net.starter_a);
    let house_c = sum(&|n| n.net.house_a);
    let (input_c, output_c) = (sum(&|n| n.net.input_a), sum(&|n| n.net.output_a));
    put(Line::VehicleC, vehicle_a * dt);
    put(Line::StarterUnservedC, held.unserved_a() * dt);
    put(Line::HouseUnservedJ, held.unserved_w() * dt);
    put(Line::StarterC, starter_c);
    put(Line::HouseC, house_c);
    put(Line::InputC, input_c);
    put(Line::OutputC, output_c);
    put(Line::HouseLoadC, sum(&|n| n.net.house_load_a));
    put(Line::VehicleJ, vehicle_a * sum(&|n| n.net.sb_v));
    put(Line::HouseLoadJ, held.house_load_w() * dt);
    let sides = [
        (&m.starter, mode.starter_hold, starter_c, STARTER_LINES),
        (&m.house, mode.house_hold, house_c, HOUSE_LINES),
    ];
    let posts_j = [sum(&|n| n.net.sb_v * n.net.starter_a), sum(&|n| n.net.house_v * n.net.house_a)];
    for (side, (battery, hold, charge, lines)) in sides.into_iter().enumerate() {
        let efficiency = battery.plain().map_or(1.0, |b| b.charge_efficiency);
        let of = shares(hold.plain, efficiency);
        for (line, share) in lines[..2].iter().zip(of) {
            put(*line, share * charge);
        }
        let heat_j = sum(&|n| n.heat_w[side]);
        let gone = of[0] + of[1];
        let forgone_j = if gone == 0.0 {
            0.0
        } else {
            let a = |n: &Node| if side == 0 { n.net.starter_a } else { n.net.house_a };
            gone * sum(&|n| n.rested_v[side] * a(n))
        };
        let amounts = [posts_j[side], heat_j, forgone_j, posts_j[side] - heat_j - forgone_j];
        for (line, j) in lines[2..].iter().zip(amounts) {
            put(*line, j);
        }
    }
    let starter_out_c = if nodes.iter().all(|n| n.net.starter_a >= 0.0) {
        0.0
    } else {
        sum(&|n| (-n.net.starter_a).max(0.0))
    };
    put(Line::StarterOutC, starter_out_c);
    let input_j = sum(&|n| n.net.in_v * n.net.input_a);
    put(Line::InputJ, input_j);
    put(Line::InputCableJ, plain.bias.starter.cable_ohm * sum(&|n| n.net.input_a * n.net.input_a));
    if mode.on {
        let loss = &m.link().converter.loss;
        let loss_j = sum(&|n| {
            let lost_w = loss.lost_w(n.net.out_v * n.net.output_a);
            if n.net.output_a == 0.0 { lost_w.min(n.net.in_v * n.net.input_a) } else { lost_w }
        });
        put(Line::UnitLossJ, loss_j);
        put(Line::OutputJ, sum(&|n| n.net.out_v * n.net.output_a));
        put(Line::OutputCableJ, plain.bias.house.cable_ohm * sum(&|n| n.net.output_a * n.net.output_a));
    } else {
        put(Line::UnitLossJ, input_j);
    }
    if mode.alternator_turns() {
        put(Line::AlternatorC, sum(&|n| n.net.alternator_a));
        put(Line::AlternatorJ, sum(&|n| n.net.sb_v * n.net.alternator_a));
    }
    if !mode.engine_runs {
        put(Line::OutputParkedC, output_c);
        put(Line::InputParkedC, input_c);
    }
    if plain.bias.starter.sources[1].present() {
        put(Line::StarterSourceC, sum(&|n| n.net.starter_source_a));
        put(Line::StarterSourceJ, sum(&|n| n.net.sb_v * n.net.starter_source_a));
    }
    if plain.bias.house.sources[0].present() {
        put(Line::SolarC, sum(&|n| n.net.solar_a));
        put(Line::SolarJ, sum(&|n| n.net.house_v * n.net.solar_a));
    }
    if plain.bias.house.sources[1].present() {
        put(Line::MainsC, sum(&|n| n.net.charger_a));
        put(Line::MainsJ, sum(&|n| n.net.house_v * n.net.charger_a));
    }
}

/// Lost, refused; at the posts, heat, forgone, stored.
pub(super) const STARTER_LINES: [Line; 6] = [
    Line::StarterLostC,
    Line::StarterRefusedC,
    Line::StarterJ,
    Line::StarterHeatJ,
    Line::StarterForgoneJ,
    Line::StarterStoredJ,
];
pub(super) const HOUSE_LINES: [Line; 6] = [
    Line::HouseLostC,
    Line::HouseRefusedC,
    Line::HouseJ,
    Line::HouseHeatJ,
    Line::HouseForgoneJ,
    Line::HouseStoredJ,
];
