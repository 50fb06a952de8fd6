//! The gate: what no run may leave behind. A run that does not pass it is an error and no result, whoever asked for it.
//!
//! States lie within their ranges all along, every balance closes, no loss is negative, and nothing is colder than the coldest
//! air or start. Each bound is a share of what went through or of a hundredth of a battery, whichever is more.

use crate::effects::Effects;
use crate::engine::{Options, RunError};
use crate::model::{Model, Piece};
use crate::plant::battery::Battery;
use crate::run_data::ledger::{Closure, Ledger, Line, hundredth, step_open};
use crate::state::{self, CASE_C, HOUSE, HOUSE_C, LOCKER_C, REGULATOR_C, STARTER, STARTER_C, Vector};

/// What charge balances may be open by, relative.
const CHARGE: f64 = 1e-9;
/// What energy balances may be open by, relative, up to a tolerance of [`TIGHT`].
const ENERGY: f64 = 1e-6;
/// Tolerance per step up to which [`ENERGY`] holds. Charge is put on the quadrature of the states and closes at any tolerance.
/// Energy is the product of two quantities that a step knows to its tolerance only. Measured on the fast stepper, the worst of
/// 400 wild plain vehicles (batteries of 3 Ah under hundreds of watts) and of 400 full ones: 4e-8 and 8e-10 at 1e-8, 4e-6 and
/// 9e-8 at 1e-6, 1.4e-4 and 1e-6 at 1e-5, 1e-3 and 4e-6 at 1e-4, 2e-3 and 3e-5 at 1e-3.
const TIGHT: f64 = 1e-8;
/// The most that a loose tolerance is let off, as a factor.
const MOST_LOOSE: f64 = 1e4;
/// A step may leave this share of what a run may leave open. Next to the greatest power of its source a unit's current moves as
/// a root: such steps are halved until they close.
const STEP_SHARE: f64 = 0.1;
/// What a state of charge may lie past its end by: an event is located to a nanosecond.
const PAST_SOC: f64 = 1e-9;
/// Losses: lines that are at or above zero in any run.
const LOSSES: [Line; 16] = [
    Line::StarterLostC,
    Line::StarterRefusedC,
    Line::StarterGassedC,
    Line::StarterSelfC,
    Line::StarterUnservedC,
    Line::HouseLostC,
    Line::HouseRefusedC,
    Line::HouseGassedC,
    Line::HouseSelfC,
    Line::HouseUnservedJ,
    Line::StarterHeatJ,
    Line::HouseHeatJ,
    Line::InputCableJ,
    Line::OutputCableJ,
    Line::UnitLossJ,
    Line::HouseLoadJ,
];

/// The ends that a run's states have reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Reached {
    starter_soc: [f64; 2],
    house_soc: [f64; 2],
    /// How far each temperature came below the coldest air and start so far, K; with its place among the states.
    below: (f64, usize),
    coldest_c: f64,
    /// States in use.
    used: usize,
    /// What a lithium battery's top gives back as cold of what it took as heat, K.
    top_k: f64,
}

impl Reached {
    /// Nothing yet but the start.
    pub fn new(model: &Model, start: &Vector, piece: &Piece) -> Reached {
        let used = Effects::of(model).used();
        let coldest_c = temperatures(used).map(|n| start[n]).fold(f64::INFINITY, f64::min);
        let top_k = model.house.returns_j() / model.house.thermal.j_per_k;
        let (s, h) = (start[STARTER], start[HOUSE]);
        let below = (f64::NEG_INFINITY, CASE_C);
        let mut reached = Reached { starter_soc: [s, s], house_soc: [h, h], below, coldest_c, used, top_k };
        reached.enter(piece);
        reached
    }

    /// Takes the air of a piece of the drive into account.
    pub fn enter(&mut self, piece: &Piece) {
        self.coldest_c = self.coldest_c.min(piece.air_c).min(piece.bay_c);
    }

    /// Looks at the states at the end of a step.
    pub fn see(&mut self, y: &Vector) {
        for (ends, soc) in [(&mut self.starter_soc, y[STARTER]), (&mut self.house_soc, y[HOUSE])] {
            *ends = [ends[0].min(soc), ends[1].max(soc)];
        }
        for n in temperatures(self.used) {
            let below = self.coldest_c - if n == HOUSE_C { self.top_k } else { 0.0 } - y[n];
            if below > self.below.0 {
                self.below = (below, n);
            }
        }
    }
}

/// Places of the temperatures among the states in use.
fn temperatures(used: usize) -> impl Iterator<Item = usize> {
    [CASE_C, STARTER_C, HOUSE_C].into_iter().chain(LOCKER_C..=REGULATOR_C).filter(move |n| *n < used)
}

/// What energy balances may be open by, relative, in a run as it is taken.
fn energy_bound(options: &Options) -> f64 {
    ENERGY * (options.tolerance / TIGHT).clamp(1.0, MOST_LOOSE)
}

/// What one step may leave open, in a run as it is taken.
pub(crate) struct StepGate {
    energy: f64,
    rounded_a: f64,
}

impl StepGate {
    /// For a vehicle and the tolerance of a run.
    pub fn new(model: &Model, options: &Options) -> StepGate {
        StepGate { energy: STEP_SHARE * energy_bound(options), rounded_a: rounded_a(model) }
    }

    /// Whether a step of `h_s` that led from one state to another, with what is booked for it, closes.
    pub fn closes(&self, model: &Model, booked: &Ledger, [from, to]: [&Vector; 2], h_s: f64) -> bool {
        const MOST: f64 = STEP_SHARE * CHARGE;
        let open = step_open(model, booked, from, to, self.rounded_a * h_s / MOST);
        open.charge <= MOST && open.energy <= self.energy
    }
}

/// Lets a run through.
///
/// # Errors
/// [`RunError::Impossible`] and [`RunError::OpenBalance`] name what is wrong.
pub(crate) fn pass(
    model: &Model,
    (options, span_s): (&Options, f64),
    reached: &Reached,
    ledger: &Ledger,
    closure: &Closure,
) -> Result<(), RunError> {
    let impossible = |what: &str, value: f64, bound: f64| {
        Err(RunError::Impossible { what: what.to_owned(), value, bound })
    };
    for (what, [low, high], battery) in [
        ("starter battery SOC", reached.starter_soc, &model.starter),
        ("house battery SOC", reached.house_soc, &model.house),
    ] {
        // A state is known to the tolerance of a step.
        let past = PAST_SOC.max(options.tolerance);
        if low < -past {
            return impossible(what, low, 0.0);
        }
        if high > battery.full_soc() + past {
            return impossible(what, high, battery.full_soc());
        }
    }
    let (below_k, n) = reached.below;
    if below_k > 1e-6 + 1e3 * options.tolerance {
        return impossible(state::NAMES[n], reached.coldest_c - below_k, reached.coldest_c);
    }
    let energy = energy_bound(options);
    let [small_c, small_j] = small(model);
    // A current behind a resistance is read off volts, and no better than those are rounded.
    let most_charge = CHARGE + rounded_a(model) * span_s / small_c;
    for line in LOSSES {
        let value = ledger.get(line);
        let (size, bound) = if line.key().ends_with("_j") { (small_j, energy) } else { (small_c, CHARGE) };
        let returns_j = if line == Line::HouseHeatJ { model.house.returns_j() } else { 0.0 };
        if value < -bound * size - returns_j {
            return impossible(line.key(), value, 0.0);
        }
    }
    if closure.charge > most_charge
        || closure.energy > energy
        || closure.charge.is_nan()
        || closure.energy.is_nan()
    {
        let (charge, found) = (closure.charge, closure.energy);
        return Err(RunError::OpenBalance { charge, energy: found, bounds: [most_charge, energy] });
    }
    Ok(())
}

/// What rounding of volts is worth in current behind both batteries' resistances, A.
fn rounded_a(model: &Model) -> f64 {
    let of = |battery: &Battery| {
        let x = battery.start(25.0);
        let port = battery.port(&x, &battery.hold(&x, 0.0));
        f64::EPSILON * port.emf_v.abs() / port.r_ohm
    };
    of(&model.starter) + of(&model.house)
}

/// A hundredth of the larger battery, C and J.
fn small(model: &Model) -> [f64; 2] {
    let [a, b] = [hundredth(&model.starter), hundredth(&model.house)];
    [a[0].max(b[0]), a[1].max(b[1])]
}
