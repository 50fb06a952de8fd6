//! Parameter values of five kinds of lead-acid battery, each with where it comes from and how far to trust it.
//!
//! Two kinds were fitted, the others are scaled from them. All values belong to six cells at 25 °C.
//!
//! *House AGM*: to a sealed 100 Ah battery measured on a bench (figures only, no licence; one battery of unknown age): of its
//! charge at 31.2 A the volts after 50, 110 and 140 min, of its hold at 14.95 V the amperes after 170 and 230 min, of its rest
//! 10 min and 2.4 h, of its discharge at 10 A the volts soon, after 1, 6 and 8.5 h, its rested volts when empty, and its
//! warming; and, from memory, to how capacity falls with current (0.90, 0.78, 0.42 of Q in 20, 5, 1 h). Left for checking:
//! the other figures of charge, hold, rest and discharge (`tests/physics/measured_batteries.rs`).
//! *Flooded starter*: to trade figures (current taper at 14.2 V, the first minute after key-off, cranking dip, capacity against
//! current); its slow relaxation to the shape of a light aircraft's bus, which falls by 0.08 V from 20 to 80 minutes after
//! key-off. Confidence: shape of relaxation and taper ±30 %, rested volts ±0.1 V, gassing times or divided by 3 between
//! makes and ages.

use super::lead_acid::{Branch, Gassing, LeadAcid};
use super::thermal::ThermalNode;
use crate::time::DAY_S;

/// What differs between kinds, for six cells and scaled by the label capacity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeadAcidSet {
    /// Rested voltage at SOC 0, V.
    pub empty_v: f64,
    /// Rested voltage at SOC 1 and onset of gassing, V.
    pub full_v: f64,
    /// Series resistance times capacity, Ω·Ah.
    pub r0_ohm_ah: f64,
    /// Charge-transfer resistance on discharge times capacity, Ω·Ah.
    pub fast_discharge_ohm_ah: f64,
    /// Acceptance resistance of the fast branch at SOC 0 times capacity, Ω·Ah.
    pub fast_charge_ohm_ah: f64,
    /// The same of the slow branch, Ω·Ah.
    pub slow_charge_ohm_ah: f64,
    /// Slow polarisation on discharge times capacity, Ω·Ah.
    pub slow_discharge_ohm_ah: f64,
    /// Capacitance of the slow branch per capacity, F/Ah.
    pub slow_f_per_ah: f64,
    /// Activation step of the slow branch on charge, V.
    pub slow_charge_soft_v: f64,
    /// Activation step of the slow branch on discharge, V.
    pub slow_discharge_soft_v: f64,
    /// Local depletion, 1/V.
    pub depletion_per_v: f64,
    /// Slow discharge polarisation from which depletion goes with it in proportion, V.
    pub depletion_soft_v: f64,
    /// Gassing scale per capacity, A/Ah.
    pub gassing_a_per_ah: f64,
    /// Self-discharge at 25 °C, share per day.
    pub self_discharge_per_day: f64,
    /// Share of charge current past gassing that raises the state of charge.
    pub charge_efficiency: f64,
    /// Whether gas recombines inside and its energy stays as heat.
    pub recombining: bool,
}

/// Starter battery, flooded (EFB-like).
pub const STARTER_FLOODED: LeadAcidSet = LeadAcidSet {
    empty_v: 11.90,              // industry table of rested volts (11.89 V; BCI type), spread ±0.1 V
    full_v: 12.70,               // the same table (12.65 V), raised to meet 12.65 to 12.75 V at 97 %
    r0_ohm_ah: 0.272,            // fitted: 3.4 mΩ at 80 Ah; trade range 3 to 6 mΩ, from memory
    fast_discharge_ohm_ah: 0.16, // fitted to the cranking dip
    fast_charge_ohm_ah: 0.95,    // fitted to the taper at 14.2 V
    slow_charge_ohm_ah: 0.15, // fitted with the step to the first minute and the shape of the hours after key-off
    slow_discharge_ohm_ah: 0.40, // fitted to recovery after a load
    slow_f_per_ah: 200.0,     // fitted, with 10 A removing surface charge in about 5 min
    slow_charge_soft_v: 0.44, // fitted: −0.08 V from 20 to 80 min after key-off, an aircraft's bus
    slow_discharge_soft_v: 0.30, // fitted to recovery after a load
    depletion_per_v: 1.5,     // fitted: 65 Ah at 25 A, 53 Ah at 45 A of 80 Ah
    depletion_soft_v: 0.30,   // the slow branch's own
    // 0.6 A at 14.2 V when full, 80 Ah: between trade (0.5 to 2 A) and 0.3 A by IEC 62485-2 (4 mA/Ah at 2.40 V), from memory.
    gassing_a_per_ah: 0.65e-3,
    self_discharge_per_day: 0.001, // common practice: 3 % a month
    charge_efficiency: 1.0,        // structure: gassing tells the loss
    recombining: false,            // by construction: vented
};

/// House battery, AGM: the one measured on a bench.
pub const HOUSE_AGM: LeadAcidSet = LeadAcidSet {
    empty_v: 11.42, // fitted: 11.55 to 11.58 V rested when 10 A had emptied it; trade tables end at 12.0 V
    full_v: 12.90,  // fitted with the rest after charge; trade: 12.85 V
    r0_ohm_ah: 0.41, // fitted
    fast_discharge_ohm_ah: 0.175, // fitted
    fast_charge_ohm_ah: 0.88, // fitted
    slow_charge_ohm_ah: 0.31, // fitted
    slow_discharge_ohm_ah: 0.20, // fitted
    slow_f_per_ah: 82.0, // fitted
    slow_charge_soft_v: 0.64, // fitted: 13.41 V 10 min after its charge, 13.23 V after 2.4 h
    slow_discharge_soft_v: 2.0, // fitted with how capacity falls with current
    depletion_per_v: 0.757, // fitted: 10.93 V after 8.5 h at 10 A
    depletion_soft_v: 0.02, // fitted with how capacity falls with current
    gassing_a_per_ah: 0.33e-3, // fitted to the end of its hold at 14.95 V
    self_discharge_per_day: 0.0006, // common practice: 2 % a month
    // Of 97.5 Ah that went in 85 Ah came out; gassing tells 4, and the 10 A are nominal, so not all of the rest is taken.
    charge_efficiency: 0.96,
    recombining: true, // by construction: valve-regulated
};

/// Starter battery, AGM: the house battery's with thinner plates.
pub const STARTER_AGM: LeadAcidSet = LeadAcidSet {
    r0_ohm_ah: 0.22,             // common practice, low confidence
    fast_discharge_ohm_ah: 0.13, // scaled from the flooded starter with the series resistance
    fast_charge_ohm_ah: 0.48,    // trade: a starter's plates take charge 1.85 times as fast, low confidence
    slow_charge_ohm_ah: 0.17,    // as above
    slow_discharge_ohm_ah: 0.14, // scaled from the house battery, common practice
    ..HOUSE_AGM
};

/// House battery, flooded deep-cycle: the starter's with thicker plates.
pub const HOUSE_FLOODED: LeadAcidSet = LeadAcidSet {
    r0_ohm_ah: 0.50,                // common practice: thick plates, low confidence
    fast_discharge_ohm_ah: 0.25,    // scaled with the series resistance
    fast_charge_ohm_ah: 2.5,        // common practice: slow acceptance, low confidence
    slow_charge_ohm_ah: 0.28,       // as above
    slow_discharge_ohm_ah: 0.55,    // common practice, low confidence
    gassing_a_per_ah: 0.3e-3,       // scaled from the starter, common practice: 14.4 to 14.8 V absorption
    self_discharge_per_day: 0.0015, // common practice: 4 to 5 % a month
    ..STARTER_FLOODED
};

/// House battery, gel: the AGM's with more resistance.
pub const HOUSE_GEL: LeadAcidSet = LeadAcidSet {
    r0_ohm_ah: 0.62,             // common practice: one and a half times the AGM's, low confidence
    fast_discharge_ohm_ah: 0.26, // as above
    fast_charge_ohm_ah: 1.35,    // as above
    slow_charge_ohm_ah: 0.41,    // a third more, low confidence
    slow_discharge_ohm_ah: 0.27, // as above
    gassing_a_per_ah: 0.26e-3,   // common practice: tail current under 1 % of capacity
    ..HOUSE_AGM
};

/// EMF with temperature, V/K: 0.2 mV/K per cell; from memory (thermodynamic).
const EMF_V_PER_K: f64 = 1.2e-3;
/// Rise of the series resistance from full to empty; fitted.
const R0_EMPTY_RISE: f64 = 0.4;
/// Series resistance with cold, 1/K: ×1.75 at −18 °C; trade range ×1.5 to 2.5.
const R0_PER_K: f64 = 0.013;
/// Capacitance of the fast branch per capacity, F/Ah; fitted to the first 10 s after key-off.
const FAST_F_PER_AH: f64 = 0.70;
/// Activation step of the fast branch, V; fitted.
const FAST_SOFT_V: f64 = 0.08;
/// Power with which the slow branch's charge current starts: 5, so that surface charge falls as t^(−1/4). The bench battery's
/// falls as t^(−0.19) over 2.4 h; with a square, t^(−1), the shape of hours is not met.
const SLOW_CHARGE_POWER: f64 = 5.0;
/// Local state of charge at which fast discharge conductance halves; assumed.
const HALF_SOC: f64 = 0.05;
/// How far acceptance of the slow branch shuts at full; assumed, under 1 so that surface charge still decays.
const SLOW_ACCEPTANCE: f64 = 0.995;
/// Volts per e-fold of gassing: 11 1/V per cell; Schiffer et al., J. Power Sources 168 (2007), from memory.
const GASSING_SLOPE_V: f64 = 0.545;
/// Gassing and self-discharge with warmth, 1/K: ×1.8 per 10 K; the same paper, from memory.
const GASSING_PER_K: f64 = 0.06;
/// Charge acceptance with warmth, 1/K: ×0.32 at 0 °C; common practice, low confidence.
const ACCEPTANCE_PER_K: f64 = 0.045;
/// Fast discharge conductance with warmth, 1/K; fitted to cranking at −18 °C.
const FAST_DISCHARGE_PER_K: f64 = 0.0065;
/// Slow discharge conductance with warmth, 1/K; fitted to about 55 % of capacity at −18 °C.
const SLOW_DISCHARGE_PER_K: f64 = 0.020;
/// Volts per cell that leave with vented gas: thermoneutral voltage of water splitting, physical chemistry texts.
const THERMONEUTRAL_V: f64 = 1.48;
/// Cold-cranking current that the default 80 Ah starter holds, A: 7.5 V after 10 s at −18 °C; worked out here.
const CRANKING_A_PER_AH: f64 = 536.0 / 80.0;
/// Range of the factor taken from a cranking label; assumed, past it the label and the capacity do not fit together.
const CRANKING_FACTOR: (f64, f64) = (0.6, 2.0);
/// Heat capacity per capacity of six cells, J/(K·Ah): 30 kg of 100 Ah at 1 kJ/(kg·K), from memory.
const J_PER_K_AH: f64 = 300.0;
/// Loss to the air of a six-cell battery of 10 Ah, W/K, growing with the surface. Fitted to the bench battery, whose sensor
/// (its place unknown) rose by 4.3 K through a charge of five hours: 7.5 K here. What it stood on is in it.
const W_PER_K_10AH: f64 = 1.8;

impl LeadAcid {
    /// Six cells of a kind at a label capacity, Ah (checked from 20 to 120 Ah), full and rested.
    pub fn from_set(set: &LeadAcidSet, capacity_ah: f64) -> LeadAcid {
        let q = capacity_ah;
        let branch = |discharge: f64, charge: f64, f_per_ah: f64| Branch {
            charge_share: discharge / charge,
            charge_per_k: ACCEPTANCE_PER_K,
            ..Branch::plain(discharge / q, discharge * f_per_ah)
        };
        LeadAcid {
            cells: 6,
            capacity_c: 3600.0 * q,
            empty_v: set.empty_v,
            full_v: set.full_v,
            emf_v_per_k: EMF_V_PER_K,
            r0_ohm: set.r0_ohm_ah / q,
            r0_empty_rise: R0_EMPTY_RISE,
            r0_per_k: R0_PER_K,
            fast: Branch {
                acceptance: 1.0, // structure: acceptance shuts at full
                charge_soft_v: FAST_SOFT_V,
                discharge_soft_v: FAST_SOFT_V,
                discharge_per_k: FAST_DISCHARGE_PER_K,
                half_soc: HALF_SOC,
                ..branch(set.fast_discharge_ohm_ah, set.fast_charge_ohm_ah, FAST_F_PER_AH)
            },
            slow: Branch {
                acceptance: SLOW_ACCEPTANCE,
                charge_soft_v: set.slow_charge_soft_v,
                charge_power: SLOW_CHARGE_POWER,
                discharge_soft_v: set.slow_discharge_soft_v,
                discharge_per_k: SLOW_DISCHARGE_PER_K,
                ..branch(set.slow_discharge_ohm_ah, set.slow_charge_ohm_ah, set.slow_f_per_ah)
            },
            depletion_per_v: set.depletion_per_v,
            depletion_soft_v: set.depletion_soft_v,
            gassing: Gassing {
                scale_a: set.gassing_a_per_ah * q,
                slope_v: GASSING_SLOPE_V,
                onset_v: set.full_v,
                carried_v: if set.recombining { 0.0 } else { 6.0 * THERMONEUTRAL_V },
            },
            self_discharge_per_s: set.self_discharge_per_day / DAY_S,
            gassing_per_k: GASSING_PER_K,
            charge_efficiency: set.charge_efficiency,
            start_soc: 1.0,
        }
    }

    /// A 12 V flooded starter battery; see [`STARTER_FLOODED`].
    pub fn starter_flooded(capacity_ah: f64) -> LeadAcid {
        LeadAcid::from_set(&STARTER_FLOODED, capacity_ah)
    }

    /// A 12 V AGM starter battery; see [`STARTER_AGM`].
    pub fn starter_agm(capacity_ah: f64) -> LeadAcid {
        LeadAcid::from_set(&STARTER_AGM, capacity_ah)
    }

    /// A 12 V flooded house battery; see [`HOUSE_FLOODED`].
    pub fn house_flooded(capacity_ah: f64) -> LeadAcid {
        LeadAcid::from_set(&HOUSE_FLOODED, capacity_ah)
    }

    /// A 12 V AGM house battery; see [`HOUSE_AGM`].
    pub fn house_agm(capacity_ah: f64) -> LeadAcid {
        LeadAcid::from_set(&HOUSE_AGM, capacity_ah)
    }

    /// A 12 V gel house battery; see [`HOUSE_GEL`].
    pub fn house_gel(capacity_ah: f64) -> LeadAcid {
        LeadAcid::from_set(&HOUSE_GEL, capacity_ah)
    }

    /// A starter battery brought to its cold-cranking label, A (7.5 V of 12 V after 10 s at −18 °C).
    ///
    /// Series and charge-transfer resistance go with the label, within 0.6 to 2 times the kind's own; no other does.
    #[must_use]
    pub fn with_cranking_label(mut self, label_a: f64) -> LeadAcid {
        let own_a = CRANKING_A_PER_AH * self.capacity_c / 3600.0;
        let factor = (own_a / label_a).clamp(CRANKING_FACTOR.0, CRANKING_FACTOR.1);
        self.r0_ohm *= factor;
        self.fast = self.fast.with_discharge_times(factor);
        self
    }

    /// A thermal node for this battery's size.
    pub fn thermal_node(&self) -> ThermalNode {
        // A string of k batteries of six cells has k times the mass and surface of one.
        let strings = f64::from(self.cells) / 6.0;
        let ah = self.capacity_c / 3600.0;
        ThermalNode {
            j_per_k: J_PER_K_AH * ah * strings,
            w_per_k: W_PER_K_10AH * (ah / 10.0).powf(2.0 / 3.0) * strings,
        }
    }
}
