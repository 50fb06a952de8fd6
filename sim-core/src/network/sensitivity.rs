//! How the operating point moves when what the parts show the network moves a little, the regime held.
//!
//! Differentiated by hand from the equations of `solve_in`; the test compares with differences of it.

use super::converter_point::{Limit, Sense, starved_a};
use super::source::SourceState;
use super::{Bias, Net, Regime};

/// What can move, as few numbers as do: shift of the starter bus's current at its volts (A), input cable (Ω), shift of the
/// house bus's current at its volts (A), output cable (Ω), output current cap (A), target (V), kink of a source (V).
pub const INPUTS: usize = 7;
/// What moves with it: input current, volts at the starter posts, output current, volts at the house posts.
pub const OUTPUTS: usize = 4;
/// Derivatives of the outputs to the inputs.
pub type Sensitivity = [[f64; INPUTS]; OUTPUTS];

/// Shift of the starter bus's current.
pub const STARTER_SHIFT: usize = 0;
/// Input cable.
pub const INPUT_OHM: usize = 1;
/// Shift of the house bus's current.
pub const HOUSE_SHIFT: usize = 2;
/// Output cable.
pub const OUTPUT_OHM: usize = 3;
/// Output current cap.
pub const CAP: usize = 4;
/// Target voltage.
pub const TARGET: usize = 5;
/// Volts of the kink on which a source-limited unit stands.
pub const KINK: usize = 6;

/// Keeps a slope that vanishes at a fold away from zero.
fn off_zero(x: f64) -> f64 {
    if x.abs() < 1e-9 { 1e-9f64.copysign(x) } else { x }
}

/// Derivatives of the operating point `net` in its regime.
///
/// Where the source gives its most, the change of the bus's slope with the battery's resistance is left out: power is flat
/// there, so only the input current feels it.
pub fn sensitivity(bias: &Bias, regime: Regime, net: &Net) -> Sensitivity {
    let (unit, starter, house) = (&bias.unit, &bias.starter, &bias.house);
    let (i, o) = (net.input_a, net.output_a);
    let mut r = 1.0 / starter.r_ohm;
    for (source, state) in starter.sources.iter().zip(regime.starter) {
        if state == SourceState::Regulating {
            r += 1.0 / source.droop_ohm;
        }
    }
    r = 1.0 / r;
    let curve = house.curve(regime.house);
    let d = off_zero(curve.g - curve.p / (net.house_v * net.house_v));
    // dP_in = a·di + i·r·e_s − i²·dR_in and dP_out = b·do + o/D·e_h + o²·dR_out.
    let a = off_zero(net.in_v - i * (starter.cable_ohm + r));
    let b = off_zero(net.out_v + o * (house.cable_ohm + 1.0 / d));
    let lossy = 1.0 + unit.loss.proportional + 2.0 * unit.loss.square_per_w * net.out_v * o;
    let given = [i * r, -i * i, 0.0, 0.0, 0.0, 0.0, 0.0];
    let taken = [0.0, 0.0, o / d, o * o, 0.0, 0.0, 0.0];
    let mut di = [0.0; INPUTS];
    let mut dout = [0.0; INPUTS];
    let drawn = |dout: &[f64; INPUTS]| -> [f64; INPUTS] {
        std::array::from_fn(|n| (lossy * (b * dout[n] + taken[n]) - given[n]) / a)
    };
    match regime.limit {
        Limit::Off => {}
        Limit::OutputCurrent => {
            dout[CAP] = 1.0;
            di = drawn(&dout);
        }
        Limit::Voltage => {
            let (sense_ohm, feels) = match unit.sense {
                Sense::Terminals => (house.cable_ohm, 1.0),
                Sense::HousePosts => (0.0, 0.0),
            };
            let c = off_zero(1.0 + d * sense_ohm);
            dout[TARGET] = d / c;
            dout[OUTPUT_OHM] = -d * o * feels / c;
            dout[HOUSE_SHIFT] = -1.0 / c;
            di = drawn(&dout);
        }
        Limit::Idle => di = std::array::from_fn(|n| -given[n] / a),
        Limit::Starved if starved_a(bias, starter.line(regime.starter), regime.starter).1 => {
            (di[STARTER_SHIFT], di[KINK]) = (1.0, -1.0 / r);
        }
        Limit::Starved if a > 1e-6 * net.in_v => {
            if i < unit.input_cap_a {
                di = std::array::from_fn(|n| -given[n] / a);
            }
        }
        Limit::InputCurrent | Limit::Floor | Limit::Source | Limit::SourceKink | Limit::Starved => {
            let whole = r + starter.cable_ohm;
            match regime.limit {
                Limit::InputCurrent => {}
                Limit::Floor => (di[STARTER_SHIFT], di[INPUT_OHM]) = (r / whole, -i / whole),
                Limit::SourceKink => (di[STARTER_SHIFT], di[KINK]) = (1.0, -1.0 / r),
                _ => (di[STARTER_SHIFT], di[INPUT_OHM]) = (0.5 * r / whole, -i / whole),
            }
            if o > 0.0 {
                dout = std::array::from_fn(|n| ((a * di[n] + given[n]) / lossy - taken[n]) / b);
            }
        }
    }
    let mut s = [di, [0.0; INPUTS], dout, [0.0; INPUTS]];
    for n in 0..INPUTS {
        s[1][n] = r * (f64::from(u8::from(n == STARTER_SHIFT)) - di[n]);
        s[3][n] = (dout[n] + f64::from(u8::from(n == HOUSE_SHIFT))) / d;
    }
    s
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::converter_point::tests::{Dice, wild};
    use crate::network::{solve, solve_in};

    /// The bias with one input moved by `d`.
    fn moved(bias: &Bias, input: usize, d: f64) -> Bias {
        let mut b = *bias;
        match input {
            STARTER_SHIFT => b.starter.emf_v += d * b.starter.r_ohm,
            INPUT_OHM => b.starter.cable_ohm += d,
            HOUSE_SHIFT => b.house.emf_v += d * b.house.r_ohm,
            OUTPUT_OHM => b.house.cable_ohm += d,
            CAP => b.unit.output_cap_a += d,
            TARGET => b.unit.target_v += d,
            _ => {}
        }
        b
    }

    #[test]
    fn matches_differences_in_every_regime() {
        let mut d = Dice(11);
        let mut seen = std::collections::HashMap::new();
        for n in 0..20_000 {
            let bias = wild(&mut d);
            let (net, regime) = solve(&bias);
            let line = bias.starter.line(regime.starter);
            // Right at the fold of the source the slopes have no bound.
            let at_most = matches!(regime.limit, Limit::Source | Limit::SourceKink);
            let near_fold = net.in_v < 0.52 * line.open_v() && !at_most;
            if near_fold || !net.house_v.is_finite() {
                continue;
            }
            *seen.entry(format!("{:?}", regime.limit)).or_insert(0) += 1;
            let s = sensitivity(&bias, regime, &net);
            for input in 0..KINK {
                if input == HOUSE_SHIFT && !regime.house.conducting {
                    continue;
                }
                let h = if input == INPUT_OHM || input == OUTPUT_OHM { 1e-8 } else { 1e-6 };
                let a = solve_in(&moved(&bias, input, -h), regime);
                let b = solve_in(&moved(&bias, input, h), regime);
                let out = |n: &Net| [n.input_a, n.sb_v, n.output_a, n.house_v];
                for (m, (a, b)) in out(&a).into_iter().zip(out(&b)).enumerate() {
                    let wanted = (b - a) / (2.0 * h);
                    let off = (s[m][input] - wanted).abs();
                    assert!(
                        off <= 1e-4 * wanted.abs() + 3e-5,
                        "case {n}, {:?}, output {m} to input {input}: {} against {wanted}",
                        regime.limit,
                        s[m][input]
                    );
                }
            }
        }
        for limit in
            ["Off", "OutputCurrent", "Voltage", "Idle", "InputCurrent", "Floor", "Source", "SourceKink"]
        {
            assert!(seen.get(limit).is_some_and(|n| *n >= 3), "{limit}: {seen:?}");
        }
    }
}
