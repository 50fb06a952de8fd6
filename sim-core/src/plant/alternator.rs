//! The alternator: a regulated source whose ceiling depends on its speed.
//!
//! `I_max(n) = I_r (1 − exp(−(n − n0)/n_k))` above cut-in n0, a saturating curve through the two currents of a rating
//! label (ISO 8854 names them at 1500 and 6000 alternator rpm; speeds from memory).

use super::set_point_rule::SetPointRule;
use serde::Serialize;

/// Alternator speed of the label's idle current, rpm (ISO 8854, from memory).
pub const LABEL_IDLE_RPM: f64 = 1500.0;
/// Alternator speed of the label's rated current, rpm (ISO 8854, from memory).
pub const LABEL_RATED_RPM: f64 = 6000.0;

/// Temperature of the regulator, or of the air, at which a set-point is what its label says, °C.
pub const SET_POINT_REFERENCE_C: f64 = 25.0;
/// Winding temperature at which the capability is that of the curve, °C.
pub const WINDING_REFERENCE_C: f64 = 25.0;
/// Share of the capability that no heat takes away.
pub const LEAST_HEAT_SHARE: f64 = 0.05;

/// Heat in the winding, a first-order node: it heads for `bay + rise (I / I_r)²` and takes capability away.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Winding {
    /// Rise over the engine bay at the curve's asymptote, K.
    pub full_rise_k: f64,
    /// Time constant, s.
    pub time_s: f64,
    /// Share of capability lost per kelvin above 25 °C.
    pub derate_per_k: f64,
}

/// The regulator's temperature, a first-order node: it sits on the alternator and warms with the engine.
///
/// `dT/dt = (bay + rise − T) / warms` while the engine runs, `(bay − T) / cools` while it stands.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RegulatorHeat {
    /// Rise over the engine bay while the engine runs, K.
    pub rise_k: f64,
    /// Time constant while the engine runs, s.
    pub warms_s: f64,
    /// Time constant while it stands, s.
    pub cools_s: f64,
    /// Temperature at the start, °C; not a number: that of the air.
    pub start_c: f64,
}

impl RegulatorHeat {
    /// Temperature at the start, °C.
    pub fn start(&self, air_c: f64) -> f64 {
        if self.start_c.is_nan() { air_c } else { self.start_c }
    }

    /// The temperature that it heads for, °C.
    pub fn goal_c(&self, bay_c: f64, engine_runs: bool) -> f64 {
        bay_c + if engine_runs { self.rise_k } else { 0.0 }
    }

    /// Its time constant, s.
    pub fn time_s(&self, engine_runs: bool) -> f64 {
        if engine_runs { self.warms_s } else { self.cools_s }
    }

    /// Rate of its temperature, K/s.
    pub fn rate(&self, regulator_c: f64, bay_c: f64, engine_runs: bool) -> f64 {
        (self.goal_c(bay_c, engine_runs) - regulator_c) / self.time_s(engine_runs)
    }
}

/// How fast the alternator takes up a load: `dI/dt = min(rate, (I_reg − I)/lag)`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PickUp {
    /// Fastest increase, A/s.
    pub rate_a_per_s: f64,
    /// Lag behind the regulator, s.
    pub lag_s: f64,
}

/// The alternator and its cable to the starter battery.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Alternator {
    /// Set-point where a piece of the drive says nothing else, V.
    pub set_point_v: f64,
    /// Change of the set-point with the temperature of the regulator, or of the air, V/K, from 25 °C.
    pub set_point_v_per_k: f64,
    /// The regulator's own temperature, by which the set-point is compensated; `None`: by that of the air.
    pub regulator: Option<RegulatorHeat>,
    /// Heat in the winding; `None`: capability does not depend on it.
    pub heat: Option<Winding>,
    /// How long after cranking it gives nothing yet, s.
    pub build_up_s: f64,
    /// Pick-up; `None`: the current follows the regulator at once.
    pub pick_up: Option<PickUp>,
    /// Declared rule of a variable set-point; `None`: the drive's set-point holds.
    pub rule: Option<SetPointRule>,
    /// Electrical output over shaft power.
    pub efficiency: f64,
    /// Fuel that the engine burns for a kilowatt-hour at the alternator's shaft, L.
    pub fuel_l_per_kwh: f64,
    /// Fall of the regulated voltage at the starter posts per ampere, Ω.
    pub droop_ohm: f64,
    /// The curve's asymptote I_r, A.
    pub asymptote_a: f64,
    /// Cut-in speed n0, alternator rpm.
    pub cut_in_rpm: f64,
    /// Speed constant n_k of the rise, alternator rpm.
    pub rise_rpm: f64,
    /// Alternator speed over engine speed.
    pub pulley_ratio: f64,
}

impl Alternator {
    /// Greatest current at an engine speed, A.
    pub fn capability_a(&self, engine_rpm: f64) -> f64 {
        let n = engine_rpm * self.pulley_ratio;
        if n <= self.cut_in_rpm {
            return 0.0;
        }
        self.asymptote_a * -(-(n - self.cut_in_rpm) / self.rise_rpm).exp_m1()
    }

    /// Lowest engine speed that can give `demand_a`, rpm; `None` where no speed can.
    pub fn lowest_engine_rpm(&self, demand_a: f64) -> Option<f64> {
        let share = demand_a / self.asymptote_a;
        (share < 1.0)
            .then(|| (self.cut_in_rpm - self.rise_rpm * (-share.max(0.0)).ln_1p()) / self.pulley_ratio)
    }

    /// Shift of the set-point at a temperature of what it is compensated by, V; nothing for one that was read off, nor under a
    /// rule, whose levels are commanded as they are.
    pub fn shift_v(&self, as_read: bool, temp_c: f64) -> f64 {
        if as_read || self.rule.is_some() {
            0.0
        } else {
            self.set_point_v_per_k * (temp_c - SET_POINT_REFERENCE_C)
        }
    }

    /// Share of the capability that a winding temperature leaves.
    pub fn heat_share(&self, winding_c: f64) -> f64 {
        self.heat
            .map_or(1.0, |h| (1.0 - h.derate_per_k * (winding_c - WINDING_REFERENCE_C)).max(LEAST_HEAT_SHARE))
    }

    /// Rate of the winding's temperature, K/s.
    pub fn winding_rate(&self, winding_c: f64, bay_c: f64, i: f64) -> f64 {
        let Some(h) = self.heat else { return 0.0 };
        let share = i / self.asymptote_a;
        (bay_c + h.full_rise_k * share * share - winding_c) / h.time_s
    }

    /// The plain alternator: no heat, no compensation, no build-up, no pick-up, no rule.
    pub fn plain(
        set_point_v: f64,
        droop_ohm: f64,
        asymptote_a: f64,
        cut_in_rpm: f64,
        rise_rpm: f64,
        pulley_ratio: f64,
    ) -> Self {
        Alternator {
            set_point_v,
            set_point_v_per_k: 0.0,
            regulator: None,
            heat: None,
            build_up_s: 0.0,
            pick_up: None,
            rule: None,
            efficiency: 0.67,
            fuel_l_per_kwh: 0.3,
            droop_ohm,
            asymptote_a,
            cut_in_rpm,
            rise_rpm,
            pulley_ratio,
        }
    }
}

/// Asymptote and rise (A, rpm) of the curve through the two currents of a rating label, or `None` where no such curve
/// passes (the idle share must lie between what a straight line and a step would give).
pub fn curve_from_label(idle_a: f64, rated_a: f64, cut_in_rpm: f64) -> Option<(f64, f64)> {
    let (a, b) = (LABEL_IDLE_RPM - cut_in_rpm, LABEL_RATED_RPM - cut_in_rpm);
    let share = idle_a / rated_a;
    if a <= 0.0 || share <= a / b || share >= 1.0 {
        return None;
    }
    let shape = |rise: f64| (-a / rise).exp_m1() / (-b / rise).exp_m1() - share;
    // The share falls from 1 to a/b as the rise grows: one crossing, found by halving.
    let (mut low, mut high) = (1.0, 1e7);
    for _ in 0..200 {
        let mid = 0.5 * (low + high);
        if shape(mid) > 0.0 { low = mid } else { high = mid }
    }
    let rise = 0.5 * (low + high);
    Some((rated_a / -(-b / rise).exp_m1(), rise))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn label_points_lie_on_the_curve() {
        let (asymptote_a, rise_rpm) = curve_from_label(60.0, 140.0, 1000.0).expect("a curve");
        let alternator = Alternator::plain(14.2, 0.003, asymptote_a, 1000.0, rise_rpm, 1.0);
        assert!((alternator.capability_a(1500.0) - 60.0).abs() < 1e-9);
        assert!((alternator.capability_a(6000.0) - 140.0).abs() < 1e-9);
        assert_eq!(curve_from_label(10.0, 140.0, 1000.0), None);
        assert_eq!(alternator.capability_a(900.0), 0.0);
    }

    #[test]
    fn lowest_speed_inverts_the_capability() {
        let alternator = Alternator::plain(14.2, 0.003, 140.0, 1000.0, 1500.0, 2.6);
        let rpm = alternator.lowest_engine_rpm(70.0).expect("within reach");
        assert!((alternator.capability_a(rpm) - 70.0).abs() < 1e-10);
        assert_eq!(alternator.lowest_engine_rpm(140.0), None);
    }
}
