//! Batteries: one port, many chemistries.
//!
//! To the network every battery is a Thevenin source, `V = emf + r·I` with current into the battery positive. All
//! chemistry lives in the battery's own states and their derivatives, so a new one never touches the network.

mod at_temp;
mod branches;
pub mod emf;
pub mod lead_acid;
mod lead_acid_sets;
pub mod lithium;
mod lithium_sets;
pub mod slopes;
#[cfg(test)]
mod test_stepper;
pub mod thermal;

pub use at_temp::BatteryAt;
pub use branches::{BranchState, PlainBattery, PlainRates};
pub use emf::Emf;
pub use lead_acid::{LeadAcid, LeadAcidHold};
pub use lead_acid_sets::*;
pub use lithium::{Lithium, LithiumHold, LithiumState};
pub use lithium_sets::*;
use serde::Serialize;
pub use thermal::ThermalNode;

/// What a battery shows the network.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Port {
    /// Voltage behind the resistance, V.
    pub emf_v: f64,
    /// Resistance, Ω.
    pub r_ohm: f64,
}

/// Which way current flows, held while a step is taken: charge counts with its efficiency, discharge in full.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Flow {
    /// Current into the battery, or none.
    #[default]
    Charging,
    /// Current out of the battery.
    Discharging,
}

/// What is held about a battery while a step is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Hold {
    /// Which way current flows.
    pub flow: Flow,
    /// Charging when full: the state of charge stays and the current is booked as refused. There is no such end at empty:
    /// the loads are shed there, see `logic`.
    pub saturated: bool,
    /// Piece of the EMF table.
    pub piece: u16,
}

/// A battery's states, of any chemistry; those that a chemistry does not have stay where they start.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BatteryState {
    /// State of charge, 1 = full.
    pub soc: f64,
    /// Polarisation of the fast branch, V.
    pub v1: f64,
    /// Polarisation of the slow branch, V.
    pub v2: f64,
    /// Hysteresis, −1 after discharge to 1 after charge.
    pub hysteresis: f64,
    /// Share of a lithium battery's top that has not relaxed.
    pub unrelaxed: f64,
    /// Temperature, °C.
    pub temp_c: f64,
}

impl BatteryState {
    fn branches(&self) -> BranchState {
        BranchState { soc: self.soc, v1: self.v1, v2: self.v2 }
    }

    fn lithium(&self) -> LithiumState {
        let BatteryState { soc, v1, v2, hysteresis, unrelaxed, .. } = *self;
        LithiumState { soc, v1, v2, hysteresis, unrelaxed }
    }
}

/// What is held about a battery while a step is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct BatteryHold {
    /// Direction of current, saturation, table piece.
    pub plain: Hold,
    /// Piece of a lithium battery's table of excess.
    pub top_piece: u16,
    /// Corners of a lead-acid battery.
    pub lead_acid: LeadAcidHold,
}

impl BatteryHold {
    fn lithium(&self) -> LithiumHold {
        LithiumHold { plain: self.plain, top_piece: self.top_piece }
    }
}

/// What a battery's current turns into. The powers add up: volts times current is what is stored plus all of them.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BatteryRates {
    /// Charge current lost to coulombic efficiency, A.
    pub lost_a: f64,
    /// Charge current offered to a full battery, A.
    pub refused_a: f64,
    /// Current that splits water, A.
    pub gassed_a: f64,
    /// Charge that the battery loses by itself, A.
    pub self_discharged_a: f64,
    /// Power into store, W; negative on discharge.
    pub stored_w: f64,
    /// Heat in resistance, branches and hysteresis, W.
    pub internal_w: f64,
    /// Power of charge lost, refused, gassed or self-discharged, W.
    pub forgone_w: f64,
    /// Heat to the battery's thermal node, W.
    pub heat_w: f64,
}

/// The kinds of battery.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Chemistry {
    /// Two branches, constant in temperature.
    Plain(PlainBattery),
    /// Lead-acid: acceptance, gassing, surface charge.
    LeadAcid(LeadAcid),
    /// Lithium: measured table, relaxing top, hysteresis.
    Lithium(Lithium),
}

/// A battery: its chemistry and its thermal node.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Battery {
    /// Chemistry.
    pub chemistry: Chemistry,
    /// Thermal node; [`ThermalNode::FIXED`] holds the temperature at which the run starts.
    pub thermal: ThermalNode,
    /// Temperature at the start of the run, °C; not a number: that of the air.
    pub start_c: f64,
}

impl From<PlainBattery> for Battery {
    fn from(plain: PlainBattery) -> Battery {
        Battery { chemistry: Chemistry::Plain(plain), thermal: ThermalNode::FIXED, start_c: f64::NAN }
    }
}

impl Battery {
    /// Charge between SOC 0 and 1, C.
    pub fn capacity_c(&self) -> f64 {
        match &self.chemistry {
            Chemistry::Plain(b) => b.capacity_c,
            Chemistry::LeadAcid(b) => b.capacity_c,
            Chemistry::Lithium(b) => b.capacity_c,
        }
    }

    /// The plain battery, if it is one.
    pub fn plain(&self) -> Option<&PlainBattery> {
        if let Chemistry::Plain(b) = &self.chemistry { Some(b) } else { None }
    }

    /// The plain battery, if it is one, to be changed.
    pub fn plain_mut(&mut self) -> Option<&mut PlainBattery> {
        if let Chemistry::Plain(b) = &mut self.chemistry { Some(b) } else { None }
    }

    /// The same battery with its rested voltage moved by `dv`, V, at every state of charge.
    ///
    /// How long a unit runs on after key-off hangs on tens of millivolts of it, and no table is better than ±0.05 V.
    #[must_use]
    pub fn moved_v(mut self, dv: f64) -> Battery {
        match &mut self.chemistry {
            Chemistry::Plain(PlainBattery { emf, .. }) | Chemistry::Lithium(Lithium { emf, .. }) => {
                *emf = emf.moved_v(dv);
            }
            Chemistry::LeadAcid(b) => {
                b.empty_v += dv;
                b.full_v += dv;
                b.gassing.onset_v += dv;
            }
        }
        self
    }

    /// The most that its state of charge comes to: 1, and what a chemistry says it takes past that.
    pub fn full_soc(&self) -> f64 {
        match &self.chemistry {
            Chemistry::Plain(_) => 1.0,
            Chemistry::LeadAcid(b) => b.full_soc(),
            Chemistry::Lithium(b) => b.full_soc(),
        }
    }

    /// State of charge at which it gives no more even to a load that would empty it in 20 h.
    pub fn spent_soc(&self) -> f64 {
        if let Chemistry::LeadAcid(b) = &self.chemistry { b.spent_soc() } else { 0.0 }
    }

    /// The most that it can give back of what was booked as its heat, J: what a lithium battery's top still shows.
    pub fn returns_j(&self) -> f64 {
        if let Chemistry::Lithium(b) = &self.chemistry { b.top_returns_j() } else { 0.0 }
    }

    /// Rested voltage at a state of charge and 25 °C, V.
    pub fn rested_v(&self, soc: f64) -> f64 {
        let x = BatteryState { soc, ..self.start(25.0) };
        self.port(&x, &self.hold(&x, 0.0)).emf_v
    }

    /// States at the start of the run: rested.
    pub fn start(&self, air_c: f64) -> BatteryState {
        let temp_c = if self.start_c.is_finite() { self.start_c } else { air_c };
        let rested = |soc| BatteryState { soc, temp_c, ..BatteryState::default() };
        match &self.chemistry {
            Chemistry::Plain(b) => rested(b.start_soc),
            Chemistry::LeadAcid(b) => rested(b.start_soc),
            Chemistry::Lithium(b) => BatteryState { hysteresis: b.start_hysteresis, ..rested(b.start_soc) },
        }
    }

    /// The Thevenin port with the table pieces held.
    pub fn port(&self, x: &BatteryState, hold: &BatteryHold) -> Port {
        self.at(x.temp_c).port(x, hold)
    }

    /// What holds at this state with current `i`.
    pub fn hold(&self, x: &BatteryState, i: f64) -> BatteryHold {
        let mut hold = BatteryHold::default();
        match &self.chemistry {
            Chemistry::Plain(b) => hold.plain = b.hold(&x.branches(), i),
            Chemistry::LeadAcid(b) => hold.lead_acid = b.at(x.temp_c).corners(&x.branches(), i),
            Chemistry::Lithium(b) => {
                let held = b.hold(&x.lithium(), i);
                hold.plain = held.plain;
                hold.top_piece = held.top_piece;
            }
        }
        hold
    }

    /// How soon the volts that a current brings turn it back, s: a time constant of capacity and resistance, where the held piece of
    /// the table is steepest; infinite without a table.
    pub(crate) fn turns_back_s(&self, x: &BatteryState, hold: &BatteryHold) -> f64 {
        let (emf, piece) = match &self.chemistry {
            Chemistry::Plain(b) => (&b.emf, hold.plain.piece),
            Chemistry::Lithium(b) => (&b.emf, hold.plain.piece),
            Chemistry::LeadAcid(_) => return f64::INFINITY,
        };
        self.capacity_c() * self.port(x, hold).r_ohm / emf.steepest_in(piece)
    }

    /// Derivatives of the states with current `i`; `heater_w` warms the battery from outside.
    pub fn derivative(
        &self,
        x: &BatteryState,
        i: f64,
        hold: &BatteryHold,
        air_c: f64,
        heater_w: f64,
    ) -> BatteryState {
        self.at(x.temp_c).derivative(&self.thermal, x, i, hold, [air_c, heater_w])
    }

    /// What the current turns into.
    pub fn rates(&self, x: &BatteryState, i: f64, hold: &BatteryHold) -> BatteryRates {
        self.at(x.temp_c).rates(x, i, hold)
    }

    /// Energy put into store between two states, J, where it is a function of state: a check on the integral of
    /// [`BatteryRates::stored_w`]. `None` where the temperature moves the EMF: then it hangs on the way between the two, even
    /// where the temperature comes back to what it was.
    pub fn stored_j(&self, from: &BatteryState, to: &BatteryState) -> Option<f64> {
        match &self.chemistry {
            Chemistry::Plain(b) => Some(b.stored_j(&from.branches(), &to.branches())),
            Chemistry::LeadAcid(b) => {
                let moves = self.thermal.moves() && b.emf_v_per_k != 0.0;
                (!moves).then(|| b.stored_j(&from.branches(), &to.branches(), to.temp_c))
            }
            Chemistry::Lithium(b) => Some(b.stored_j(&from.lithium(), &to.lithium())),
        }
    }
}
