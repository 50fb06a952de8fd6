//! Guard-rails: what no remedy and no tuning may ask for, whatever it gains.
//!
//! A change is held against the vehicle as it is. What is already beyond a rail may stay there; it may not go further.

use super::Verdict;
use crate::model::{Model, Profile, SignalUse};
use crate::plant::fuse::FusePlace;
use crate::record::Summary;
use serde::Serialize;

/// Room between the starter battery's rested volts, full, and a turn-off that volts alone decide, V: less than that is within
/// what meters, temperature and surface charge differ by; common practice, no source.
pub const TURN_OFF_ROOM_V: f64 = 0.1;
/// Share of the starter battery's charge that a run signal may cost: more, and the starter battery pays for it.
const SIGNAL_PAYS: f64 = 0.02;
/// What rounding may add to a value, share.
const ROUNDING: f64 = 1e-9;

/// A rail that a change breaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rail {
    /// A source holds more volts than a battery on its bus bears.
    SetPoint,
    /// Volts alone decide when the unit stops, and they are no higher than those of a rested starter battery.
    TurnOff,
    /// A fuse is larger than its conductor carries.
    Fuse,
    /// A run signal would hold the unit on while something can hurt somebody.
    SignalInDanger,
    /// A run signal would hold the unit on, and the starter battery pays for it.
    SignalPaid,
}

/// A vehicle on its drive.
pub type Vehicle<'a> = (&'a Model, &'a Profile);

/// The most that the alternator may be set to, V: what the starter battery bears; 14.8 V for a lead-acid one of six cells
/// where nothing is typed.
pub fn most_set_point_v(model: &Model) -> f64 {
    model.bears.starter.most_set_v(&model.starter, true)
}

/// The least turn-off that volts alone may decide, V: the rested volts of a full starter battery, and room.
pub fn least_turn_off_v(model: &Model) -> f64 {
    model.starter.rested_v(1.0) + TURN_OFF_ROOM_V
}

/// What the conductors of the input cable and of the output cable carry all the time, A; `None` where nobody follows their heat.
pub fn carries_a((model, profile): Vehicle) -> [Option<f64>; 2] {
    let (air_c, bay_c) = hottest_air_c(profile);
    let (b, link) = (&model.bears, model.link());
    [(&link.input_cable, b.input_insulation_c), (&link.output_cable, b.output_insulation_c)]
        .map(|(cable, limit)| cable.carries_a(limit.most, air_c, bay_c))
}

/// The warmest air of a drive: outside, and in the engine bay, °C.
pub fn hottest_air_c(profile: &Profile) -> (f64, f64) {
    let hottest = |of: fn(&crate::model::Piece) -> f64| {
        profile.pieces().iter().map(|p| of(&p)).fold(f64::NEG_INFINITY, f64::max)
    };
    (hottest(|p| p.air_c), hottest(|p| p.bay_c))
}

/// The highest set-points of a vehicle on its drive: on the starter bus and on the house bus, V.
fn set_points_v((model, profile): Vehicle) -> [f64; 2] {
    let pieces = profile.pieces().iter().filter(|p| p.engine_runs()).map(|p| p.set_point_v);
    let rule = model.alternator.rule.iter().flat_map(|r| r.levels_v());
    let stages = &model.link().stages;
    [pieces.chain(rule).fold(f64::NEG_INFINITY, f64::max), stages.absorption_v.max(stages.float_v)]
}

/// The lowest turn-off that volts alone decide, V; infinite where the unit runs only with its signal.
fn turn_off_by_volts_v(model: &Model) -> f64 {
    let rule = &model.link().start_stop;
    if rule.signal == SignalUse::Required { f64::INFINITY } else { rule.turn_off_v }
}

/// The rail that a change breaks before anything is run: `now` as it is, with what the judge says of it; `then` changed.
pub fn broken(now: Vehicle, says: &Verdict, then: Vehicle) -> Option<Rail> {
    let more = |value: f64, than: f64| value > than + ROUNDING * than.abs();
    let set = [most_set_point_v(now.0), now.0.bears.house.most_set_v(&now.0.house, false)];
    let (set_now, set_then) = (set_points_v(now), set_points_v(then));
    if (0..2).any(|n| more(set_then[n], set[n].max(set_now[n]))) {
        return Some(Rail::SetPoint);
    }
    let least_v = least_turn_off_v(now.0).min(turn_off_by_volts_v(now.0));
    if more(least_v, turn_off_by_volts_v(then.0)) {
        return Some(Rail::TurnOff);
    }
    if fuse(now, then) {
        return Some(Rail::Fuse);
    }
    let signal = |m: &Model| m.link().start_stop.signal;
    if says.is_danger() && signal(then.0) != SignalUse::Ignored && signal(then.0) != signal(now.0) {
        return Some(Rail::SignalInDanger);
    }
    None
}

/// Whether a change fits a fuse that is too large for its conductor, or a conductor too thin for its fuse.
fn fuse(now: Vehicle, then: Vehicle) -> bool {
    let (carries_now, carries_then) = (carries_a(now), carries_a(then));
    FusePlace::ALL.into_iter().enumerate().any(|(n, place)| {
        let Some(fuse) = then.0.fuses()[n] else { return false };
        let cable = usize::from(!place.on_input());
        let larger = now.0.fuses()[n].is_none_or(|f| fuse.rating_a > f.rating_a);
        let thinner = carries_then[cable] < carries_now[cable];
        // Of conductors whose heat nobody follows no larger fuse is known to be right.
        (larger || thinner) && carries_then[cable].is_none_or(|a| fuse.rating_a > a)
    })
}

/// The rail that a change breaks by what a run with it comes to: the starter battery pays for a run signal.
pub fn broken_by_run(now: (&Model, &Summary), then: (&Model, &Summary)) -> Option<Rail> {
    let signal = |m: &Model| m.link().start_stop.signal;
    if signal(then.0) == signal(now.0) || signal(then.0) == SignalUse::Ignored {
        return None;
    }
    let left = now.1.starter_end_soc.min(now.1.starter_start_soc);
    (then.1.starter_end_soc < left - SIGNAL_PAYS).then_some(Rail::SignalPaid)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judge::{Finding, Kind, Weight, When};
    use crate::plant::battery::{Battery, Chemistry, LeadAcid, Lithium, ThermalNode};
    use crate::plant::bears::{BatteryVolts, Bears, Limit};
    use crate::plant::cable::{Cable, Conductor};
    use crate::resolve::resolve;
    use crate::scenario::drive::PieceSpec;
    use crate::scenario::{Num, Scenario};

    fn van() -> (Model, Profile) {
        let drive = PieceSpec {
            duration_min: Some(Num::typed(30.0)),
            engine_rpm: Some(Num::typed(2000.0)),
            ..PieceSpec::default()
        };
        let mut s = Scenario { pieces: vec![drive], ..Scenario::default() };
        s.input_cable.fuse_a = Some(Num::typed(60.0));
        let ready = resolve(&s, &|_| None).expect("a consistent scenario");
        (ready.model, ready.profile)
    }

    fn with(change: impl FnOnce(&mut Model)) -> Option<Rail> {
        let (m, p) = van();
        let mut then = m.clone();
        change(&mut then);
        broken((&m, &p), &Verdict::default(), (&then, &p))
    }

    #[test]
    fn a_lead_acid_starter_battery_is_set_to_no_more_than_14_8_volts_unless_typed() {
        let (m, p) = van();
        assert!((most_set_point_v(&m) - 14.8).abs() < 0.01, "{}", most_set_point_v(&m));
        let mut typed = m.clone();
        typed.bears.starter = typed.bears.starter.or_typed(Some(15.2));
        assert_eq!(most_set_point_v(&typed), 15.2);
        // One given by its volts alone, with no limit of its own.
        let mut plain = m.clone();
        plain.bears = Bears::default();
        assert!((most_set_point_v(&plain) - 14.8).abs() < 0.05, "{}", most_set_point_v(&plain));
        let at = |v: f64| {
            let pieces = p.pieces().iter().map(|p| crate::model::Piece { set_point_v: v, ..p });
            let then = Profile::new(pieces, p.start_clock_s).expect("a drive");
            broken((&m, &p), &Verdict::default(), (&m, &then))
        };
        assert_eq!((at(14.75), at(14.9)), (None, Some(Rail::SetPoint)));
        assert_eq!(with(|m| m.links[0].stages.absorption_v = 16.5), Some(Rail::SetPoint));
    }

    #[test]
    fn a_turn_off_by_volts_alone_keeps_over_rested_volts() {
        let (m, _) = van();
        let least_v = least_turn_off_v(&m);
        assert!((least_v - m.starter.rested_v(1.0) - TURN_OFF_ROOM_V).abs() < 1e-12 && least_v > 12.6);
        assert_eq!(
            with(|m| m.links[0].start_stop.turn_off_v = least_v.min(m.links[0].start_stop.turn_off_v)),
            None
        );
        assert_eq!(with(|m| m.links[0].start_stop.turn_off_v = 12.4), Some(Rail::TurnOff));
        // With a signal that it must have, volts do not decide alone.
        assert_eq!(
            with(|m| {
                m.links[0].start_stop.signal = SignalUse::Required;
                m.links[0].start_stop.turn_off_v = 12.0;
            }),
            None
        );
    }

    #[test]
    fn no_fuse_is_larger_than_its_conductor_carries() {
        let fuse = |m: &mut Model, a: f64| {
            let fitted = m.links[0].input_cable.battery_end_fuse.as_mut().expect("a fuse");
            fitted.rating_a = a;
        };
        // Far over what any cable of this van carries; where nobody follows its heat no larger fuse is known to be right.
        let (m, p) = van();
        assert_eq!(with(|m| fuse(m, 400.0)), Some(Rail::Fuse));
        assert_eq!(with(|m| fuse(m, 50.0)), None);
        let mut now = m.clone();
        let leg = Conductor { ohm_20: 6e-3, j_per_k: 300.0, w_per_k: 1.0, in_bay: false };
        let cable = &mut now.links[0].input_cable;
        *cable =
            Cable { conductors: [leg, leg, Conductor::default(), Conductor::default()], ..cable.clone() };
        now.bears.input_insulation_c = Limit { most: 70.0, typed: true };
        let carries = carries_a((&now, &p))[0].expect("its heat is followed");
        let at = |a: f64| {
            let mut then = now.clone();
            fuse(&mut then, a);
            broken((&now, &p), &Verdict::default(), (&then, &p))
        };
        assert!(carries > 60.0, "{carries}");
        assert_eq!((at(carries - 1.0), at(carries + 1.0)), (None, Some(Rail::Fuse)));
        let mut thin = now.clone();
        thin.links[0].input_cable.conductors.iter_mut().for_each(|c| c.ohm_20 *= 9.0);
        assert_eq!(broken((&now, &p), &Verdict::default(), (&thin, &p)), Some(Rail::Fuse));
    }

    #[test]
    fn no_run_signal_while_a_danger_stands_or_where_the_starter_battery_pays() {
        let (m, p) = van();
        let mut then = m.clone();
        then.links[0].start_stop.signal = SignalUse::Either;
        let danger = Finding {
            kind: Kind::WindingHot,
            weight: Weight::Danger,
            when: When::once(0.0, 1.0),
            measure: None,
        };
        let dangerous = Verdict { findings: vec![danger] };
        assert_eq!(broken((&m, &p), &dangerous, (&then, &p)), Some(Rail::SignalInDanger));
        assert_eq!(broken((&m, &p), &Verdict::default(), (&then, &p)), None);
        let run = crate::simulate(&m, &p, &crate::Options::default()).expect("it runs");
        let as_is = Summary::new(&run, &m, &p);
        let ends = |soc: f64| Summary { starter_end_soc: soc, ..as_is.clone() };
        let start = as_is.starter_start_soc;
        assert_eq!(broken_by_run((&m, &as_is), (&then, &ends(start - 0.1))), Some(Rail::SignalPaid));
        assert_eq!(broken_by_run((&m, &as_is), (&then, &ends(start))), None);
        assert_eq!(broken_by_run((&m, &as_is), (&m, &ends(start - 0.1))), None);
    }

    #[test]
    fn lithium_is_set_to_no_more_than_its_cells_bear() {
        let battery = |chemistry| Battery { chemistry, thermal: ThermalNode::FIXED, start_c: f64::NAN };
        let lfp = battery(Chemistry::Lithium(Lithium::lfp(100.0, 4)));
        assert!((BatteryVolts::of(&lfp, false).most_set_v(&lfp, true) - 14.6).abs() < 1e-9);
        let flooded = battery(Chemistry::LeadAcid(LeadAcid::starter_flooded(80.0)));
        assert!((BatteryVolts::NONE.most_set_v(&flooded, false) - 14.8).abs() < 0.01);
    }
}
