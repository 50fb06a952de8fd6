//! Parts of the model from sections of the scenario.

use super::entry::Entry;
use crate::network::Sense;
use crate::pchip::Pchip;
use crate::plant::alternator::{Alternator, LABEL_IDLE_RPM, LABEL_RATED_RPM, curve_from_label};
use crate::plant::battery::{Battery, Emf, LFP, PlainBattery};
use crate::plant::cable::Cable;
use crate::plant::conductor::{self, Build};
use crate::scenario::Warning;
use crate::scenario::engine_side::{AlternatorSpec, StarterBatterySpec};
use crate::scenario::field::{Num, Nums, Origin, Text};
use crate::scenario::house_side::HouseBatterySpec;
use crate::scenario::key::Unit;
use crate::scenario::node::Place;
use crate::scenario::problem::Problem;
use std::collections::BTreeSet;

/// What an alternator gives at 1500 of its rpm, of its rated current, where the label's smaller current is not stated.
const IDLE_SHARE: f64 = 0.5;
/// Where that comes from.
const IDLE_SOURCE: &str = "half of rated_a; common practice, no source (0.4 to 0.6)";

/// Collects derived entries and problems while parts are made.
pub(super) struct Maker<'a> {
    pub entries: &'a mut Vec<Entry>,
    pub problems: &'a mut Vec<Problem>,
    pub warnings: &'a mut Vec<Warning>,
    /// Paths of the problems found while reading: what stands there holds its default and proves nothing.
    pub read: &'a BTreeSet<String>,
    /// A text is broken or a file is missing, so that a default may stand for a value that was lost.
    pub syntax: bool,
}

impl Maker<'_> {
    /// Whether a value is what somebody meant, and not a default in place of what could not be read.
    pub(super) fn was_read(&self, path: &str, num: &Num) -> bool {
        (!self.syntax || num.place().is_some()) && !self.was_told(path)
    }

    /// Whether a problem has been told of this key or of a key within it.
    pub(super) fn was_told(&self, path: &str) -> bool {
        let within = format!("{path}.");
        let next = self.read.range(within.clone()..).next();
        self.read.contains(path) || next.is_some_and(|p| p.starts_with(&within))
    }

    pub(super) fn conflict(&mut self, path: &str, at: Option<&Num>, what: String) {
        self.problems.push(Problem::conflict(path, at.and_then(|n| n.place()), what));
    }

    pub(super) fn alternator(&mut self, spec: &AlternatorSpec) -> Alternator {
        let mut curve = (spec.asymptote_a.value, spec.rise_rpm.value);
        // One current of the label is enough where it is the rated one.
        let follows = match (&spec.idle_a, &spec.rated_a) {
            (None, Some(rated)) => {
                Some(Num { value: IDLE_SHARE * rated.value, origin: Origin::Default(IDLE_SOURCE) })
            }
            _ => None,
        };
        if let Some(idle) = &follows {
            self.entries.push(Entry::of("alternator.idle_a".to_owned(), Unit::A, idle));
        }
        match (spec.idle_a.as_ref().or(follows.as_ref()), &spec.rated_a) {
            (Some(idle), Some(rated)) => {
                match curve_from_label(idle.value, rated.value, spec.cut_in_rpm.value) {
                    Some(found) => {
                        curve = found;
                        let how = format!(
                            "curve through {} A at {LABEL_IDLE_RPM} and {} A at {LABEL_RATED_RPM} alternator rpm",
                            idle.value, rated.value
                        );
                        self.entries.push(Entry::derived("alternator.asymptote_a", curve.0, "A", how.clone()));
                        self.entries.push(Entry::derived("alternator.rise_rpm", curve.1, "rpm", how));
                    }
                    None if self.was_told("alternator.cut_in_rpm") => {}
                    None => self.conflict(
                        "alternator.idle_a",
                        spec.idle_a.as_ref().or(Some(rated)),
                        format!(
                            "no rising curve passes through {} A at {LABEL_IDLE_RPM} and {} A at {LABEL_RATED_RPM} \
                             alternator rpm with cut-in at {} rpm",
                            idle.value, rated.value, spec.cut_in_rpm.value
                        ),
                    ),
                }
            }
            (None, _) => {}
            _ if self.syntax || self.was_told("alternator") => {}
            (Some(one), None) => self.conflict(
                "alternator.idle_a",
                Some(one),
                "`idle_a` alone fixes no curve: give the label's greater current as `rated_a`, which is enough by itself"
                    .into(),
            ),
        }
        Alternator::plain(
            spec.set_point_v.value,
            spec.droop_mohm.value * 1e-3,
            curve.0,
            spec.cut_in_rpm.value,
            curve.1,
            spec.pulley_ratio.value,
        )
    }

    pub(super) fn starter_battery(&mut self, s: &StarterBatterySpec) -> Battery {
        let path = "starter_battery";
        let emf = match s.chemistry.value.as_str() {
            "table" => self.table(path, &s.chemistry, s.table_pct.as_ref(), s.table_v.as_ref()),
            _ => self.line(path, &s.empty_v, &s.full_v),
        };
        Battery::from(PlainBattery {
            capacity_c: s.capacity_ah.value * 3600.0,
            emf,
            r0_ohm: s.r0_mohm.value * 1e-3,
            branch_ohm: [s.r1_mohm.value * 1e-3, s.r2_mohm.value * 1e-3],
            branch_s: [s.tau1_s.value, s.tau2_s.value],
            charge_efficiency: s.charge_efficiency_pct.value / 100.0,
            start_soc: s.start_pct.value / 100.0,
        })
    }

    pub(super) fn house_battery(&mut self, s: &HouseBatterySpec) -> Battery {
        let path = "house_battery";
        let emf = match s.chemistry.value.as_str() {
            "table" => self.table(path, &s.chemistry, s.table_pct.as_ref(), s.table_v.as_ref()),
            "linear" => self.line(path, &s.empty_v, &s.full_v),
            // What lead-acid is made of comes with its effects.
            "flooded" | "agm" | "gel" => Emf::Linear { empty_v: s.empty_v.value, full_v: s.full_v.value },
            _ => {
                let cells = house_cells(s);
                let volts: Vec<f64> = LFP.cell_v.iter().map(|v| v * cells).collect();
                let how = "measured C/32 table of one LFP cell (Sunil, Pattipati, Balasingam, IEEE TIM 2025), times cells";
                for (soc, v) in LFP.soc.iter().zip(&volts) {
                    let name = format!("house_battery.rested_v_at_{:.2}_pct", soc * 100.0);
                    self.entries.push(Entry::derived(&name, *v, "V", how.to_owned()));
                }
                Emf::Table(Pchip::new(LFP.soc, &volts).expect("the built-in table rises"))
            }
        };
        Battery::from(PlainBattery {
            capacity_c: s.capacity_ah.value * 3600.0,
            emf,
            r0_ohm: s.r0_mohm.value * 1e-3,
            branch_ohm: [s.r1_mohm.value * 1e-3, s.r2_mohm.value * 1e-3],
            branch_s: [s.tau1_s.value, s.tau2_s.value],
            charge_efficiency: s.charge_efficiency_pct.value / 100.0,
            start_soc: s.start_pct.value / 100.0,
        })
    }

    fn line(&mut self, path: &str, empty: &Num, full: &Num) -> Emf {
        let read = self.was_read(&format!("{path}.full_v"), full)
            && self.was_read(&format!("{path}.empty_v"), empty);
        if full.value <= empty.value && read {
            let what = format!("full at {} V does not stand above empty at {} V", full.value, empty.value);
            self.conflict(&format!("{path}.full_v"), Some(full), what);
        }
        Emf::Linear { empty_v: empty.value, full_v: full.value }
    }

    fn table(&mut self, path: &str, chemistry: &Text, soc: Option<&Nums>, volts: Option<&Nums>) -> Emf {
        let built = match (soc, volts) {
            (Some(soc), Some(volts)) => {
                let share: Vec<f64> = soc.value.iter().map(|p| p / 100.0).collect();
                let curve = Pchip::new(&share, &volts.value).map_err(|e| e.to_string());
                let curve = curve.and_then(|curve| match no_rested_volts(&curve, &volts.value) {
                    Some(why) => Err(why),
                    None => Ok(curve),
                });
                curve.map_err(|what| (volts.place(), what))
            }
            _ => Err((
                chemistry.place(),
                "a battery of chemistry \"table\" needs `table_pct` and `table_v`".to_owned(),
            )),
        };
        match built {
            Ok(pchip) => Emf::Table(pchip),
            Err(_) if self.syntax || self.was_told(path) => Emf::Linear { empty_v: 0.0, full_v: 1.0 },
            Err((place, what)) => {
                self.problems.push(Problem::conflict(&format!("{path}.table_v"), place, what));
                Emf::Linear { empty_v: 0.0, full_v: 1.0 }
            }
        }
    }

    pub(super) fn cable(&mut self, path: &str, spec: &CableFields) -> Cable {
        self.one_size(path, spec);
        if let Some(whole) = spec.resistance_mohm {
            let how = "given as a whole".to_owned();
            self.entries.push(Entry::derived(&format!("{path}.loop_ohm"), whole.value * 1e-3, "Ω", how));
            return Cable::constant(whole.value * 1e-3, 0.0);
        }
        let (per_m, what) = self.per_metre(path, spec);
        let length = spec.length_m.value;
        let cable = Cable::constant(2.0 * length * per_m, spec.joints_mohm * 1e-3);
        self.entries.push(Entry::derived(&format!("{path}.leg_ohm_per_m"), per_m, "Ω/m", what));
        let how = format!("2 × {length} m × {:.4} mΩ/m + {} mΩ of joints", per_m * 1e3, spec.joints_mohm);
        self.entries.push(Entry::derived(&format!("{path}.loop_ohm"), cable.resistance_ohm(), "Ω", how));
        cable
    }

    /// Reports sizes beside each other, each at its place: all but one would be ignored.
    fn one_size(&mut self, path: &str, spec: &CableFields) {
        let area = (!matches!(spec.area_mm2.origin, Origin::Default(_))).then(|| spec.area_mm2.place());
        let said =
            [("area_mm2", area), ("awg", spec.awg.map(|t| t.place())), ("sae", spec.sae.map(|t| t.place()))];
        let said: Vec<(&str, Option<Place>)> =
            said.into_iter().filter_map(|(key, place)| Some((key, place?))).collect();
        if said.len() < 2 {
            return;
        }
        for (key, place) in &said {
            let others: Vec<String> =
                said.iter().filter(|(k, _)| k != key).map(|(k, _)| format!("`{k}`")).collect();
            let what = format!(
                "`{key}` stands beside {}; a cable's size is said in one way: keep the one that is printed on it",
                others.join(" and ")
            );
            self.problems.push(Problem::conflict(&format!("{path}.{key}"), *place, what));
        }
    }

    fn per_metre(&mut self, path: &str, spec: &CableFields) -> (f64, String) {
        let sized = [
            (spec.awg, "AWG (ASTM B258, 2 % stranding lay)", "awg", conductor::awg_area_mm2 as fn(&str) -> _),
            (spec.sae, "SAE (J1128, smallest area, 2 % stranding lay)", "sae", conductor::sae_area_mm2),
        ];
        for (text, what, key, area) in sized {
            let Some(text) = text else { continue };
            if let Some(area) = area(text.value.trim()) {
                return (conductor::stranded_ohm_per_m(area), format!("{what} {}", text.value));
            }
            let what = format!("`{}` is no size of this kind; write it like \"6\" or \"2/0\"", text.value);
            self.problems.push(Problem::conflict(&format!("{path}.{key}"), text.place(), what));
        }
        let (build, source) = match spec.conductor.value.as_str() {
            "class-2" => (Build::Class2, "IEC 60228 table 2, class 2"),
            "class-5-tinned" => (Build::Class5Tinned, "IEC 60228 table 3, class 5 tinned"),
            "pure-copper" => (Build::PureCopper, "IEC 60028, 1/58 Ω·mm²/m; a real cable has 10 to 16 % more"),
            _ => (Build::Class5, "IEC 60228 table 3, class 5"),
        };
        if let Some(per_m) = conductor::ohm_per_m(build, spec.area_mm2.value) {
            return (per_m, format!("{source}, {} mm²", spec.area_mm2.value));
        }
        let sizes: Vec<String> = conductor::areas_mm2().map(|a| a.to_string()).collect();
        let what = format!(
            "{} mm² is not a size of IEC 60228's table here ({}); take one of these, or conductor = \"pure-copper\", or \
             give resistance_mohm",
            spec.area_mm2.value,
            sizes.join(", ")
        );
        self.conflict(&format!("{path}.area_mm2"), Some(spec.area_mm2), what);
        (conductor::COPPER_OHM_MM2_PER_M / spec.area_mm2.value, source.to_owned())
    }
}

/// The keys that both runs share.
pub(super) struct CableFields<'a> {
    pub length_m: &'a Num,
    pub area_mm2: &'a Num,
    pub conductor: &'a Text,
    pub awg: Option<&'a Text>,
    pub sae: Option<&'a Text>,
    /// With fuses and their holders.
    pub joints_mohm: f64,
    pub resistance_mohm: Option<&'a Num>,
}

macro_rules! cable_fields {
    ($spec:expr) => {
        $crate::resolve::parts::CableFields {
            length_m: &$spec.length_m,
            area_mm2: &$spec.area_mm2,
            conductor: &$spec.conductor,
            awg: $spec.awg.as_ref(),
            sae: $spec.sae.as_ref(),
            joints_mohm: $spec.joints_with_fuses_mohm(),
            resistance_mohm: $spec.resistance_mohm.as_ref(),
        }
    };
}
pub(super) use cable_fields;

/// Cells in series of a house battery: those that somebody wrote, or those of a 12 V battery of its kind.
pub(super) fn house_cells(spec: &HouseBatterySpec) -> f64 {
    let own = if spec.chemistry.value == "lfp" { 4.0 } else { 6.0 };
    spec.cells.as_ref().map_or(own, |cells| cells.value)
}

pub(super) fn sense(word: &str) -> Sense {
    if word == "house-posts" { Sense::HousePosts } else { Sense::Terminals }
}

/// Why a table is none of rested volts; `None` where it may be one.
fn no_rested_volts(curve: &Pchip, volts: &[f64]) -> Option<String> {
    if let Some(pair) = volts.windows(2).find(|pair| pair[1] < pair[0]) {
        let (from, to) = (pair[0], pair[1]);
        return Some(format!(
            "the volts fall from {from} to {to}; a battery does not rest lower as it fills"
        ));
    }
    let empty_v = curve.value(0.0);
    (empty_v < 0.0)
        .then(|| format!("the table goes on to {empty_v:.3} V at 0 %; a battery does not rest below 0 V"))
}
