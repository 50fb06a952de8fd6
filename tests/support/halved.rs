//! Half of a vehicle: every current, power, charge and heat halved, every resistance doubled. Volts, temperatures and times
//! stay, by the scaling of linear circuits and of every law in the model. A factor of two is exact in binary numbers.

use sim_core::model::{Model, Piece, Profile, Protection, Regulator, Vehicle};
use sim_core::plant::battery::{Battery, Chemistry, LeadAcid, Lithium, PlainBattery, ThermalNode};
use sim_core::plant::cable::Cable;

const HALF: f64 = 0.5;
const TWICE: f64 = 2.0;

/// Half of a vehicle and of its drive.
pub fn halved(m: &Model, p: &Profile) -> (Model, Profile) {
    (model(m.clone()), profile(p))
}

fn model(mut m: Model) -> Model {
    let a = &mut m.alternator;
    a.droop_ohm *= TWICE;
    a.asymptote_a *= HALF;
    if let Some(pick_up) = &mut a.pick_up {
        pick_up.rate_a_per_s *= HALF;
    }
    if let Some(rule) = &mut a.rule {
        rule.heavy_a *= HALF;
    }
    m.vehicle = Vehicle { crank_a: m.vehicle.crank_a * HALF, awake_a: m.vehicle.awake_a * HALF, ..m.vehicle };
    battery(&mut m.starter);
    battery(&mut m.house);
    for r in [&mut m.house_solar, &mut m.house_mains, &mut m.starter_solar] {
        *r = Regulator { droop_ohm: r.droop_ohm * TWICE, ..*r };
    }
    let p = m.protection;
    m.protection = Protection { over_a: p.over_a * HALF, heater_w: p.heater_w * HALF, ..p };
    for link in &mut m.links {
        cable(&mut link.input_cable);
        cable(&mut link.output_cable);
        let c = &mut link.converter;
        for x in [
            &mut c.output_limit_a,
            &mut c.input_limit_a,
            &mut c.loss.fixed_w,
            &mut c.standby_a,
            &mut c.case_j_per_k,
            &mut c.case_w_per_k,
        ] {
            *x *= HALF;
        }
        c.loss.square_per_w *= TWICE;
        node(&mut c.locker);
        link.start_stop.compensation_ohm *= TWICE;
        link.stages.tail_a *= HALF;
    }
    m
}

fn node(n: &mut ThermalNode) {
    *n = ThermalNode { j_per_k: n.j_per_k * HALF, w_per_k: n.w_per_k * HALF };
}

fn cable(r: &mut Cable) {
    for c in &mut r.conductors {
        c.ohm_20 *= TWICE;
        c.j_per_k *= HALF;
        c.w_per_k *= HALF;
    }
    r.joints_ohm *= TWICE;
    r.joints_j_per_k *= HALF;
    r.joints_w_per_k *= HALF;
}

fn battery(b: &mut Battery) {
    node(&mut b.thermal);
    match &mut b.chemistry {
        Chemistry::Plain(PlainBattery { capacity_c, r0_ohm, branch_ohm, .. }) => {
            *capacity_c *= HALF;
            *r0_ohm *= TWICE;
            branch_ohm.iter_mut().for_each(|r| *r *= TWICE);
        }
        Chemistry::LeadAcid(LeadAcid { capacity_c, r0_ohm, fast, slow, gassing, .. }) => {
            *capacity_c *= HALF;
            for r in [r0_ohm, &mut fast.discharge_ohm, &mut slow.discharge_ohm] {
                *r *= TWICE;
            }
            gassing.scale_a *= HALF;
        }
        Chemistry::Lithium(Lithium { capacity_c, r0_ohm, branch_ohm, top, .. }) => {
            *capacity_c *= HALF;
            *r0_ohm *= TWICE;
            branch_ohm.iter_mut().for_each(|r| *r *= TWICE);
            if let Some(top) = top {
                top.follow_c *= HALF;
            }
        }
    }
}

fn profile(p: &Profile) -> Profile {
    let half = |q: Piece| Piece {
        vehicle_load_a: q.vehicle_load_a * HALF,
        house_load_w: q.house_load_w * HALF,
        house_solar_w: q.house_solar_w * HALF,
        starter_solar_a: q.starter_solar_a * HALF,
        mains_a: q.mains_a * HALF,
        input_joint_extra_ohm: q.input_joint_extra_ohm * TWICE,
        ..q
    };
    Profile::new(p.pieces().iter().map(half), p.start_clock_s).expect("the same pieces")
}
