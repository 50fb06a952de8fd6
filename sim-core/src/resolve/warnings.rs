//! What is worth a second look before a run: values that are allowed and seldom meant.

use super::parts::house_cells;
use crate::model::{Model, Profile, SignalUse};
use crate::network::Sense;
use crate::plant::battery::{Battery, Chemistry};
use crate::scenario::node::Place;
use crate::scenario::{Num, Origin, Scenario, Warning, WarningKind};

/// Volts of an LFP cell above which its maker's limit is passed.
const LFP_CELL_MOST_V: f64 = 3.65;

/// Everything worth a second look, in the order of the text.
pub(super) fn warnings(s: &Scenario, model: &Model, profile: &Profile) -> Vec<Warning> {
    let mut found = Found(Vec::new());
    found.thresholds(s, model, profile);
    found.fuses(s, model);
    found.whole_resistance(s);
    found.charge(s, model);
    found.0.sort_by_key(|w| w.place);
    found.0
}

struct Found(Vec<Warning>);

impl Found {
    fn add(&mut self, path: &str, at: &[&Num], kind: WarningKind) {
        self.at(path, at.iter().find_map(|n| n.place()), kind);
    }

    fn at(&mut self, path: &str, place: Option<Place>, kind: WarningKind) {
        self.0.push(Warning { path: path.to_owned(), place, kind });
    }

    fn thresholds(&mut self, s: &Scenario, model: &Model, profile: &Profile) {
        let ss = &s.start_stop;
        let (turn_on_v, turn_off_v) = (ss.turn_on_v.value, ss.turn_off_v.value);
        let running = profile.pieces().iter().filter(|p| p.engine_runs());
        let rule = model.alternator.rule;
        let highest = |p: crate::model::Piece| {
            rule.map_or(p.set_point_v, |r| r.levels_v().into_iter().fold(f64::NEG_INFINITY, f64::max))
        };
        match running.map(highest).max_by(f64::total_cmp) {
            None => {
                let written = |p: &crate::scenario::drive::PieceSpec| {
                    let rpm = p.engine_rpm.as_ref().and_then(|n| n.place());
                    rpm.or(p.file.as_ref().and_then(|f| f.place()))
                };
                let place = s.pieces.iter().find_map(written);
                self.at("drive", place, WarningKind::EngineNeverRuns);
            }
            Some(set_point_v) if set_point_v < turn_on_v => {
                let kind = WarningKind::TurnOnAboveSetPoint { turn_on_v, set_point_v };
                self.add("start_stop.turn_on_v", &[&ss.turn_on_v, &s.alternator.set_point_v], kind);
            }
            Some(_) => {}
        }
        let rested_v = model.starter.rested_v(s.starter_battery.start_pct.value / 100.0);
        // A required run signal stops the unit whatever the volts.
        let stops = model.link().start_stop.signal == SignalUse::Required
            && s.start_stop.signal_live.value != "always";
        if turn_off_v < rested_v && !stops {
            let kind = WarningKind::TurnOffBelowRest { turn_off_v, rested_v };
            self.add("start_stop.turn_off_v", &[&ss.turn_off_v, &s.starter_battery.start_pct], kind);
        }
        let link = model.link();
        let full_w = link.converter.output_limit_a * link.stages.absorption_v;
        let full_a = (link.converter.loss.input_w(full_w) / turn_off_v).min(link.converter.input_limit_a);
        let (drop_v, band_v) = (full_a * link.input_cable.resistance_ohm(), turn_on_v - turn_off_v);
        if drop_v > band_v {
            let at = [&s.input_cable.length_m, &ss.turn_on_v, &ss.turn_off_v];
            let whole = s.input_cable.resistance_mohm.as_ref().map_or_else(|| at.to_vec(), |r| vec![r]);
            self.add("input_cable", &whole, WarningKind::BandNarrowerThanDrop { band_v, drop_v });
        }
    }

    /// Keys of a cable that its whole resistance leaves without a say.
    fn whole_resistance(&mut self, s: &Scenario) {
        let (i, o) = (&s.input_cable, &s.output_cable);
        let cables = [
            ("input_cable", &i.resistance_mohm, [&i.length_m, &i.area_mm2, &i.joints_mohm], [&i.awg, &i.sae]),
            (
                "output_cable",
                &o.resistance_mohm,
                [&o.length_m, &o.area_mm2, &o.joints_mohm],
                [&o.awg, &o.sae],
            ),
        ];
        for (section, whole, numbers, sizes) in cables {
            let Some(whole) = whole else { continue };
            let typed = |n: &Num| !matches!(n.origin, Origin::Default(_));
            let numbers = ["length_m", "area_mm2", "joints_mohm"].into_iter().zip(numbers);
            let sizes = ["awg", "sae"].into_iter().zip(sizes);
            let said: Vec<&str> = (numbers.filter(|(_, n)| typed(n)).map(|(key, _)| key))
                .chain(sizes.filter(|(_, t)| t.is_some()).map(|(key, _)| key))
                .collect();
            if !said.is_empty() {
                let kind = WarningKind::WholeResistance { unused: said.join(" and ") };
                self.add(&format!("{section}.resistance_mohm"), &[whole], kind);
            }
        }
    }

    /// Each of the four fuses against what the unit may draw or give.
    fn fuses(&mut self, s: &Scenario, model: &Model) {
        let c = &model.link().converter;
        let (input, output) = ((c.input_limit_a, "draw"), (c.output_limit_a, "give"));
        let (input_key, output_key) = (&s.converter.input_limit_a, &s.converter.output_limit_a);
        let all = [
            ("input_cable.fuse_a", &s.input_cable.fuse_a, input, input_key),
            ("input_cable.unit_end_fuse_a", &s.input_cable.unit_end_fuse_a, input, input_key),
            ("output_cable.fuse_a", &s.output_cable.fuse_a, output, output_key),
            ("output_cable.unit_end_fuse_a", &s.output_cable.unit_end_fuse_a, output, output_key),
        ];
        for (path, fuse, (unit_a, does), limit) in all {
            if let Some(fuse) = fuse.as_ref().filter(|f| f.value < unit_a) {
                let kind = WarningKind::FuseUnderLimit { fuse_a: fuse.value, unit_a, does };
                self.add(path, &[fuse, limit], kind);
            }
        }
    }

    fn charge(&mut self, s: &Scenario, model: &Model) {
        let link = model.link();
        let (unit_a, absorption_v) = (link.converter.output_limit_a, link.stages.absorption_v);
        let capacity_ah = s.house_battery.capacity_ah.value;
        if unit_a > capacity_ah {
            let at = [&s.converter.output_limit_a, &s.house_battery.capacity_ah];
            self.add("converter.output_limit_a", &at, WarningKind::HouseOverOneC { unit_a, capacity_ah });
        }
        let high_v = model.protection.high_v;
        if absorption_v >= high_v {
            let kind = WarningKind::AbsorptionAboveProtection { absorption_v, high_v };
            self.add("stages.absorption_v", &[&s.stages.absorption_v], kind);
        }
        let tail_a = link.stages.tail_a;
        if tail_a >= unit_a && !link.stages.fixed_supply {
            let at = [&s.stages.tail_a, &s.converter.output_limit_a];
            self.add("stages.tail_a", &at, WarningKind::TailAboveLimit { tail_a, unit_a });
        }
        let cell_v = absorption_v / house_cells(&s.house_battery);
        let lfp = s.house_battery.chemistry.value == "lfp";
        if lfp && cell_v > LFP_CELL_MOST_V {
            let mut at = vec![&s.stages.absorption_v];
            at.extend(&s.house_battery.cells);
            self.add("stages.absorption_v", &at, WarningKind::AbsorptionAboveCells { absorption_v, cell_v });
        }
        let house = &model.house;
        let Some(mut ohm) = settled_ohm(house) else { return };
        if link.converter.sense == Sense::Terminals {
            ohm += link.output_cable.resistance_ohm();
        }
        let reached_v = house.rested_v(1.0) + unit_a * ohm;
        if reached_v < absorption_v {
            let kind = WarningKind::AbsorptionOutOfReach { absorption_v, unit_a, reached_v };
            let battery = &s.house_battery;
            let place =
                s.stages.absorption_v.place().or(battery.full_v.place()).or(battery.chemistry.place());
            self.at("stages.absorption_v", place, kind);
        }
    }
}

/// Resistance once both branches have settled, Ω; `None` where it is no constant.
fn settled_ohm(battery: &Battery) -> Option<f64> {
    match &battery.chemistry {
        Chemistry::Plain(b) => Some(b.r0_ohm + b.branch_ohm.iter().sum::<f64>()),
        // Past full these rise by themselves until they reach any absorption voltage.
        Chemistry::Lithium(_) | Chemistry::LeadAcid(_) => None,
    }
}
