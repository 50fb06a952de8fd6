//! A battery at one temperature: what that alone decides is worked out once, and shared by all that is asked of a state there.

use super::lead_acid::LeadAcidAt;
use super::{
    Battery, BatteryHold, BatteryRates, BatteryState, BranchState, Chemistry, Lithium, PlainBattery, Port,
    ThermalNode,
};

/// A battery at one temperature.
#[derive(Debug, Clone, Copy)]
pub enum BatteryAt<'a> {
    /// Constant in temperature.
    Plain(&'a PlainBattery),
    /// Lead-acid, with all its exponentials.
    LeadAcid(LeadAcidAt<'a>),
    /// Lithium, and how many times as high as at 25 °C its resistances are.
    Lithium(&'a Lithium, f64),
}

impl Battery {
    /// The battery at a temperature.
    pub fn at(&self, temp_c: f64) -> BatteryAt<'_> {
        match &self.chemistry {
            Chemistry::Plain(b) => BatteryAt::Plain(b),
            Chemistry::LeadAcid(b) => BatteryAt::LeadAcid(b.at(temp_c)),
            Chemistry::Lithium(b) => BatteryAt::Lithium(b, b.cold_at(temp_c)),
        }
    }
}

/// Derivatives of the states that every chemistry has.
fn branches(d: BranchState) -> BatteryState {
    BatteryState { soc: d.soc, v1: d.v1, v2: d.v2, ..BatteryState::default() }
}

impl<'a> BatteryAt<'a> {
    /// The same battery at a temperature nearby, °C: to rounding what [`Battery::at`] gives, for less.
    pub fn moved(&self, from_c: f64, temp_c: f64) -> BatteryAt<'a> {
        match self {
            BatteryAt::Plain(b) => BatteryAt::Plain(b),
            BatteryAt::LeadAcid(at) => BatteryAt::LeadAcid(at.moved(temp_c - from_c)),
            BatteryAt::Lithium(b, cold) => BatteryAt::Lithium(b, b.cold_moved(*cold, from_c, temp_c)),
        }
    }

    /// The Thevenin port with the table pieces held.
    pub fn port(&self, x: &BatteryState, hold: &BatteryHold) -> Port {
        match self {
            BatteryAt::Plain(b) => b.port(&x.branches(), hold.plain),
            BatteryAt::LeadAcid(at) => at.port(&x.branches()),
            BatteryAt::Lithium(b, cold) => b.port_with(&x.lithium(), *cold, hold.lithium()),
        }
    }

    /// At or above zero while the hold stands, negative once it should have changed.
    pub fn margin(&self, x: &BatteryState, i: f64, hold: &BatteryHold) -> f64 {
        match self {
            BatteryAt::Plain(b) => b.margin(&x.branches(), i, hold.plain),
            BatteryAt::LeadAcid(at) => at.margin(&x.branches(), i, &hold.lead_acid),
            BatteryAt::Lithium(b, _) => b.margin(&x.lithium(), i, hold.lithium()),
        }
    }

    /// Derivatives of the states with current `i`, that of the temperature by the battery's node; around it air, °C, and a
    /// heater, W.
    pub fn derivative(
        &self,
        node: &ThermalNode,
        x: &BatteryState,
        i: f64,
        hold: &BatteryHold,
        [air_c, heater_w]: [f64; 2],
    ) -> BatteryState {
        let warms = node.moves();
        let (mut dx, heat_w) = match self {
            BatteryAt::Plain(b) => {
                let heat_w = if warms { self.rates(x, i, hold).heat_w } else { 0.0 };
                (branches(b.derivative(&x.branches(), i, hold.plain)), heat_w)
            }
            BatteryAt::LeadAcid(at) => {
                let (d, heat_w) = at.derivative_and_heat(&x.branches(), i, &hold.lead_acid);
                (branches(d), heat_w)
            }
            BatteryAt::Lithium(b, cold) => {
                let d = b.derivative(&x.lithium(), i, *cold, hold.lithium());
                let heat_w =
                    if warms { b.rates_with(&x.lithium(), i, *cold, hold.lithium()).heat_w } else { 0.0 };
                let of = BranchState { soc: d.soc, v1: d.v1, v2: d.v2 };
                (BatteryState { hysteresis: d.hysteresis, unrelaxed: d.unrelaxed, ..branches(of) }, heat_w)
            }
        };
        if warms {
            dx.temp_c = node.derivative(x.temp_c, air_c, heat_w, heater_w);
        }
        dx
    }

    /// Derivatives of the two branches alone, V/s.
    pub fn branches(&self, x: &BatteryState, i: f64, hold: &BatteryHold) -> [f64; 2] {
        match self {
            BatteryAt::Plain(b) => {
                let d = b.derivative(&x.branches(), i, hold.plain);
                [d.v1, d.v2]
            }
            BatteryAt::LeadAcid(at) => {
                let d = at.derivative(&x.branches(), i, &hold.lead_acid);
                [d.v1, d.v2]
            }
            BatteryAt::Lithium(b, cold) => {
                let d = b.derivative(&x.lithium(), i, *cold, hold.lithium());
                [d.v1, d.v2]
            }
        }
    }

    /// What the current turns into.
    pub fn rates(&self, x: &BatteryState, i: f64, hold: &BatteryHold) -> BatteryRates {
        match self {
            BatteryAt::Plain(b) => {
                let r = b.rates(&x.branches(), i, hold.plain);
                let rested_v = b.emf.value_in(hold.plain.piece, x.soc);
                let forgone_w = rested_v * (r.lost_a + r.refused_a);
                let internal_w = r.ohmic_w + r.branch_w;
                let port = b.port(&x.branches(), hold.plain);
                BatteryRates {
                    lost_a: r.lost_a,
                    refused_a: r.refused_a,
                    stored_w: (port.emf_v + port.r_ohm * i) * i - internal_w - forgone_w,
                    internal_w,
                    forgone_w,
                    heat_w: internal_w + rested_v * r.lost_a,
                    ..BatteryRates::default()
                }
            }
            BatteryAt::LeadAcid(at) => {
                let (r, capacitance_w) = at.rates_and_capacitance(&x.branches(), i, &hold.lead_acid);
                BatteryRates {
                    lost_a: r.lost_a,
                    gassed_a: r.gassed_a,
                    self_discharged_a: r.self_discharged_a,
                    stored_w: r.chemical_w + capacitance_w,
                    internal_w: r.ohmic_w + r.branch_w,
                    forgone_w: r.gassing_w + r.self_discharge_w + r.lost_w,
                    heat_w: r.heat_w,
                    ..BatteryRates::default()
                }
            }
            BatteryAt::Lithium(b, cold) => {
                let r = b.rates_with(&x.lithium(), i, *cold, hold.lithium());
                BatteryRates {
                    lost_a: r.lost_a,
                    refused_a: r.refused_a,
                    self_discharged_a: r.self_discharged_a,
                    stored_w: r.stored_w,
                    internal_w: r.ohmic_w + r.branch_w + r.hysteresis_w + r.top_w,
                    forgone_w: r.self_discharge_w + r.lost_w + r.refused_w,
                    heat_w: r.heat_w,
                    ..BatteryRates::default()
                }
            }
        }
    }
}

/// Up to here the series of [`grown`] is good to rounding.
const NEAR: f64 = 0.01;

/// `e^x`, near zero by its series.
pub(super) fn grown(x: f64) -> f64 {
    if x.abs() > NEAR {
        return x.exp();
    }
    1.0 + x * (1.0 + x * (0.5 + x * (1.0 / 6.0 + x * (1.0 / 24.0 + x * (1.0 / 120.0 + x / 720.0)))))
}

#[cfg(test)]
mod tests {
    use super::super::{LeadAcid, Lithium};
    use super::*;

    #[test]
    fn the_series_is_the_exponential() {
        for n in -30..=30 {
            let x = f64::from(n) * 1e-3;
            assert!((grown(x) / x.exp() - 1.0).abs() < 4e-16, "{x}");
        }
    }

    /// At a temperature nearby, and at one far off, a battery is what it is at that temperature.
    #[test]
    fn near_is_as_good_as_anew() {
        let chemistries = [
            Chemistry::LeadAcid(LeadAcid::starter_agm(70.0)),
            Chemistry::LeadAcid(LeadAcid::house_flooded(110.0)),
            Chemistry::Lithium(Lithium::lfp(100.0, 4)),
        ];
        for chemistry in chemistries {
            let battery = Battery { chemistry, thermal: ThermalNode::FIXED, start_c: f64::NAN };
            for from_c in [-20.0, 25.0, 48.0] {
                let near = battery.at(from_c);
                for moved_k in [-9.0, -0.3, -0.01, 0.0, 1e-4, 0.1, 5.0] {
                    let temp_c = from_c + moved_k;
                    let far_off = far(&near.moved(from_c, temp_c), &battery.at(temp_c));
                    assert!(far_off < 2e-15, "{from_c} °C and {moved_k} K: {far_off} off");
                }
            }
        }
    }

    /// How far apart two are, as a share.
    fn far(found: &BatteryAt, wanted: &BatteryAt) -> f64 {
        match (found, wanted) {
            (BatteryAt::LeadAcid(found), BatteryAt::LeadAcid(wanted)) => found.far_from(wanted),
            (BatteryAt::Lithium(_, found), BatteryAt::Lithium(_, wanted)) => (found / wanted - 1.0).abs(),
            _ => f64::INFINITY,
        }
    }
}
