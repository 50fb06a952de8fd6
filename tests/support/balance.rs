//! The balances of a run, written down anew from the ledger's lines: what came in is stored, used or lost. Each with what
//! rounding alone may leave open.
//!
//! A battery's current is a difference of volts over its resistance, so one rounding of 13 V behind 2 mΩ is 1e-12 A: over hours
//! in which next to nothing flows, that is all there is to see, whatever the stepper and its tolerance.

use sim_core::plant::battery::{Battery, BatteryHold, BatteryState};
use sim_core::record::Line::*;
use sim_core::record::ledger::Ledger;
use sim_core::state::{self, HOUSE, STARTER, Vector};
use sim_core::{Model, Run};

/// Rounding of volts of up to 16, in units of the last place at 1: two roundings.
const VOLTS_ULP: f64 = 15.0;
/// Volts that charge is worth at most.
const MOST_V: f64 = 16.0;

/// Terms whose sum is nothing.
#[derive(Debug, Clone)]
pub struct Balance {
    /// Of what.
    pub name: &'static str,
    /// Its terms, C or J, signed.
    pub terms: Vec<f64>,
    /// What rounding may leave, in the same unit.
    pub rounding: f64,
}

impl Balance {
    /// What is left open, C or J.
    pub fn left(&self) -> f64 {
        self.terms.iter().sum::<f64>().abs()
    }

    /// The greatest term.
    pub fn size(&self) -> f64 {
        self.terms.iter().fold(0.0, |size, term| term.abs().max(size))
    }

    /// Why it does not close to a share of its greatest term.
    pub fn open(&self, share: f64) -> Option<String> {
        let allowed = share * self.size() + self.rounding;
        // Not the other way round: what is no number is open.
        if self.left() <= allowed {
            return None;
        }
        let (left, size, rounding) = (self.left(), self.size(), self.rounding);
        Some(format!("{}: {left:e} of {size} open, rounding {rounding:e}", self.name))
    }
}

/// A stretch whose balances are asked for.
#[derive(Debug, Clone, Copy)]
pub struct Span<'a> {
    /// What was booked.
    pub ledger: &'a Ledger,
    /// States at its beginning.
    pub from: &'a Vector,
    /// States at its end.
    pub to: &'a Vector,
    /// How long it is, s.
    pub seconds: f64,
    /// In how many steps at most.
    pub steps: u64,
}

impl<'a> Span<'a> {
    /// A whole run.
    pub fn of(run: &'a Run) -> Span<'a> {
        let seconds = run.span.1.since(run.span.0);
        Span { ledger: &run.ledger, from: &run.start, to: &run.end, seconds, steps: run.statistics.steps }
    }

    fn rounding_c(&self, battery: &Battery, x: &BatteryState) -> f64 {
        let r_ohm = battery.port(x, &BatteryHold::default()).r_ohm;
        let steps = (self.steps as f64).max(1.0);
        f64::EPSILON * (VOLTS_ULP / r_ohm * self.seconds + 0.5 * battery.capacity_c() * steps)
    }

    /// Starter battery's and house battery's.
    fn both_rounding_c(&self, m: &Model) -> (f64, f64) {
        let starter = self.rounding_c(&m.starter, &state::starter(self.from));
        (starter, self.rounding_c(&m.house, &state::house(self.from)))
    }

    /// The four balances of charge.
    pub fn charge(&self, m: &Model) -> [Balance; 4] {
        let g = |line| self.ledger.get(line);
        let stored = |battery: &Battery, soc: usize| (self.to[soc] - self.from[soc]) * battery.capacity_c();
        let (starter, house) = self.both_rounding_c(m);
        let balance = |name, rounding, terms: &[f64]| Balance { name, terms: terms.to_vec(), rounding };
        [
            balance(
                "charge of the starter bus",
                starter,
                &[g(AlternatorC), g(StarterSourceC), -g(VehicleC), -g(StarterC), -g(InputC)],
            ),
            balance(
                "charge of the house bus",
                house,
                &[g(OutputC), g(SolarC), g(MainsC), -g(HouseLoadC), -g(HouseC)],
            ),
            balance(
                "charge of the starter battery",
                starter,
                &[
                    g(StarterC),
                    -stored(&m.starter, STARTER),
                    -g(StarterLostC),
                    -g(StarterRefusedC),
                    -g(StarterGassedC),
                    -g(StarterSelfC),
                ],
            ),
            balance(
                "charge of the house battery",
                house,
                &[
                    g(HouseC),
                    -stored(&m.house, HOUSE),
                    -g(HouseLostC),
                    -g(HouseRefusedC),
                    -g(HouseGassedC),
                    -g(HouseSelfC),
                ],
            ),
        ]
    }

    /// The five balances of energy. Where a store is a function of the states their difference is taken.
    pub fn energy(&self, m: &Model) -> [Balance; 5] {
        let g = |line| self.ledger.get(line);
        let stored = |battery: &Battery, read: fn(&Vector) -> BatteryState, line| {
            battery.stored_j(&read(self.from), &read(self.to)).unwrap_or(g(line))
        };
        let (starter, house) = self.both_rounding_c(m);
        let (starter, house) = (MOST_V * starter, MOST_V * house);
        let balance = |name, rounding, terms: &[f64]| Balance { name, terms: terms.to_vec(), rounding };
        let starter_j = stored(&m.starter, state::starter, StarterStoredJ);
        let house_j = stored(&m.house, state::house, HouseStoredJ);
        let sources = [AlternatorJ, StarterSourceJ, SolarJ, MainsJ].map(g);
        let spent = [VehicleJ, HouseLoadJ, InputCableJ, UnitLossJ, OutputCableJ, StarterHeatJ, HouseHeatJ];
        let gone = [StarterForgoneJ, HouseForgoneJ];
        let whole: Vec<f64> =
            sources.into_iter().chain(spent.into_iter().chain(gone).map(|line| -g(line))).collect();
        let whole = [whole, vec![-starter_j, -house_j]].concat();
        let posts = |j: f64, stored_j: f64, heat_j: f64, gone_j: f64| [j, -stored_j, -heat_j, -gone_j];
        [
            balance(
                "energy of the starter side",
                starter,
                &[g(AlternatorJ), g(StarterSourceJ), -g(VehicleJ), -g(StarterJ), -g(InputCableJ), -g(InputJ)],
            ),
            balance(
                "energy of the unit and the house side",
                starter + house,
                &[
                    g(InputJ),
                    g(SolarJ),
                    g(MainsJ),
                    -g(UnitLossJ),
                    -g(OutputCableJ),
                    -g(HouseLoadJ),
                    -g(HouseJ),
                ],
            ),
            balance(
                "energy of the starter battery",
                starter,
                &posts(g(StarterJ), starter_j, g(StarterHeatJ), g(StarterForgoneJ)),
            ),
            balance(
                "energy of the house battery",
                house,
                &posts(g(HouseJ), house_j, g(HouseHeatJ), g(HouseForgoneJ)),
            ),
            balance("energy of all", starter + house, &whole),
        ]
    }

    /// The first balance that does not close to these shares of its greatest term.
    pub fn open(&self, m: &Model, charge: f64, energy: f64) -> Option<String> {
        let of_charge = self.charge(m).into_iter().find_map(|b| b.open(charge));
        of_charge.or_else(|| self.energy(m).into_iter().find_map(|b| b.open(energy)))
    }
}
