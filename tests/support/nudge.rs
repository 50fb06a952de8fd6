//! Proof that a sequence of events hangs on less than anybody can know: a threshold moved by a microvolt changes it.

use crate::agree::{kinds, parting};
use sim_core::model::{Model, Profile, SignalUse};
use sim_core::plant::battery::{Battery, Chemistry, Emf};
use sim_core::{Options, Record, Run, simulate};

/// How far a threshold is moved, V (A and K where it is one of those).
pub const NUDGE: f64 = 1e-6;

/// A threshold, moved.
type Nudge = (&'static str, fn(&mut Model, &mut Profile, f64));

const NUDGES: [Nudge; 13] = [
    ("turn-on", |m, _, by| {
        m.links[0].start_stop.turn_on_v += by;
        if let SignalUse::SecondPair { turn_on_v, .. } = &mut m.links[0].start_stop.signal {
            *turn_on_v += by;
        }
    }),
    ("turn-off", |m, _, by| {
        m.links[0].start_stop.turn_off_v += by;
        if let SignalUse::SecondPair { turn_off_v, .. } = &mut m.links[0].start_stop.signal {
            *turn_off_v += by;
        }
    }),
    ("absorption", |m, _, by| m.links[0].stages.absorption_v += by),
    ("float", |m, _, by| m.links[0].stages.float_v += by),
    ("recharge", |m, _, by| m.links[0].stages.recharge_v += by),
    ("tail current", |m, _, by| m.links[0].stages.tail_a += by),
    ("input floor", |m, _, by| m.links[0].converter.floor_v += by),
    ("set-points of the drive", |_, p, by| {
        let pieces = p.pieces().iter().map(|q| sim_core::Piece { set_point_v: q.set_point_v + by, ..q });
        *p = Profile::new(pieces, p.start_clock_s).expect("the same pieces");
    }),
    ("house solar set-point", |m, _, by| m.house_solar.set_v += by),
    ("mains and starter-side set-points", |m, _, by| {
        m.house_mains.set_v += by;
        m.starter_solar.set_v += by;
    }),
    ("protection", |m, _, by| {
        let p = &mut m.protection;
        for v in [&mut p.high_v, &mut p.high_release_v, &mut p.low_v, &mut p.low_release_v, &mut p.over_a] {
            *v += by;
        }
    }),
    ("starter battery's EMF", |m, _, by| raise(&mut m.starter, by)),
    ("house battery's EMF", |m, _, by| raise(&mut m.house, by)),
];

fn raise(battery: &mut Battery, by: f64) {
    let emf = match &mut battery.chemistry {
        Chemistry::Plain(b) => &mut b.emf,
        Chemistry::Lithium(b) => &mut b.emf,
        Chemistry::LeadAcid(b) => {
            b.empty_v += by;
            b.full_v += by;
            return;
        }
    };
    match emf {
        Emf::Linear { empty_v, full_v } => {
            *empty_v += by;
            *full_v += by;
        }
        Emf::Table(table) => {
            let ends: Vec<f64> =
                (0..table.pieces()).map(|n| table.bounds(n).1).filter(|x| x.is_finite()).collect();
            let volts: Vec<f64> = ends.iter().map(|x| table.value(*x) + by).collect();
            *table = sim_core::pchip::Pchip::new(&ends, &volts).expect("the same knots");
        }
    }
}

/// A threshold which, moved by [`NUDGE`], makes the reference's own events part from themselves no later than at `place`.
pub fn proof(model: &Model, profile: &Profile, options: &Options, of: &Run, place: usize) -> Option<String> {
    let own = kinds(of);
    for (name, nudge) in NUDGES {
        for by in [NUDGE, -NUDGE] {
            let (mut m, mut p) = (model.clone(), profile.clone());
            nudge(&mut m, &mut p, by);
            let light = Options { record: Record::Summary, ..*options };
            let Ok(moved) = simulate(&m, &p, &light) else { continue };
            if let Some(at) = parting(&own, &kinds(&moved))
                && at <= place
            {
                return Some(format!("{name} moved by {by:+e} changes event {at} of the reference itself"));
            }
        }
    }
    None
}
