//! What can be changed, one at a time: a knob moves one key, or several that mean the same thing.

use super::case::{Case, CaseError};
use crate::plant::conductor;
use crate::scenario::list_path::numbered;
use crate::scenario::node::Value;
use crate::scenario::{Num, Origin, Scenario};

/// One thing to change.
#[derive(Debug, Clone, PartialEq)]
pub struct Knob {
    /// What it is called, in an installer's words.
    pub name: String,
    /// Unit of its values.
    pub unit: &'static str,
    /// Its value now.
    pub now: f64,
    /// Values to look at first, rising.
    pub grid: Vec<f64>,
    /// The keys that it moves.
    pub keys: Vec<KnobKey>,
    /// Sizes that are sold, where it takes no others: what each is called, and its area, mm².
    pub sizes: Vec<(String, f64)>,
    /// What kind of thing it is.
    pub part: Part,
}

/// One key that a knob moves.
#[derive(Debug, Clone, PartialEq)]
pub struct KnobKey {
    /// Its path.
    pub path: String,
    /// How far it stands from the knob's value; every key keeps its distance.
    pub offset: f64,
    /// Whether it takes the name of a size and not a number.
    pub takes_name: bool,
}

/// What kind of thing a knob is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// Length of the input cable.
    InputLength,
    /// Conductor size of the input cable.
    InputSize,
    /// Joints of the input cable.
    InputJoints,
    /// Resistance of the input cable, given as a whole.
    InputOhm,
    /// Length of the output cable.
    OutputLength,
    /// Conductor size of the output cable.
    OutputSize,
    /// Joints of the output cable.
    OutputJoints,
    /// Output current limit.
    OutputLimit,
    /// Input current limit.
    InputLimit,
    /// Turn-on voltage.
    TurnOn,
    /// Turn-off voltage.
    TurnOff,
    /// Turn-on delay.
    TurnOnDelay,
    /// Turn-off delay.
    TurnOffDelay,
    /// The alternator's set-point.
    SetPoint,
    /// Engine speed held in some pieces of the drive.
    EngineSpeed,
    /// Idle speed of a drive by road speed.
    IdleSpeed,
    /// The vehicle's own load.
    VehicleLoad,
    /// Temperature of the air.
    Air,
    /// State of charge of the house battery at the start.
    HouseSoc,
    /// State of charge of the starter battery at the start.
    StarterSoc,
    /// House load.
    HouseLoad,
    /// What a run signal does.
    RunSignal,
}

impl Part {
    /// Place in the order in which practice turns to it: a joint is mended, a run signal fitted, a cable laid, a limit turned
    /// down, a delay set, and only then a threshold moved; [`crate::explain::Knob::practice`] has the same order.
    pub fn practice(self) -> u8 {
        match self {
            Part::InputJoints | Part::OutputJoints => 0,
            Part::RunSignal => 1,
            Part::InputLength | Part::InputSize | Part::InputOhm => 2,
            Part::OutputLength | Part::OutputSize => 3,
            Part::OutputLimit | Part::InputLimit => 4,
            Part::TurnOnDelay | Part::TurnOffDelay => 5,
            Part::TurnOn => 6,
            Part::TurnOff => 7,
            Part::SetPoint => 8,
            Part::EngineSpeed | Part::IdleSpeed | Part::VehicleLoad => 9,
            Part::Air | Part::HouseSoc | Part::StarterSoc | Part::HouseLoad => 10,
        }
    }
}

impl Knob {
    /// The case with the knob at `value`.
    ///
    /// # Errors
    /// As [`Case::with`].
    pub fn turned(&self, case: &Case, value: f64) -> Result<Case, CaseError> {
        let mut turned = case.clone();
        for key in &self.keys {
            turned = if key.takes_name {
                turned.with_value(&key.path, Value::Text(self.size_name(value).to_owned()))?
            } else {
                turned.with(&key.path, value + key.offset)?
            };
        }
        Ok(turned)
    }

    /// What a size is called; empty where the knob takes any number.
    pub fn size_name(&self, value: f64) -> &str {
        self.sizes.iter().find(|(_, area)| *area == value).map_or("", |(name, _)| name)
    }

    /// How near two values lie before the border between them counts as found: 0.05 % of the value, and no less than a
    /// thousandth of the grid's first step.
    pub fn resolution(&self, value: f64) -> f64 {
        let span = self.grid.last().unwrap_or(&1.0) - self.grid.first().unwrap_or(&0.0);
        (5e-4 * value.abs()).max(1e-5 * span)
    }
}

/// Builds the knobs of one scenario.
struct Bench<'a> {
    scenario: &'a Scenario,
    knobs: Vec<Knob>,
}

/// Values from `low` to `high` with equal steps, `now` among them.
fn even(low: f64, high: f64, steps: u32, now: f64) -> Vec<f64> {
    let values = (0..=steps).map(|k| low + (high - low) * f64::from(k) / f64::from(steps));
    with_now(values.filter(|v| v.is_finite()).collect(), now)
}

/// Values from `low` to `high` with equal ratios, nothing before them if `zero`, `now` among them.
fn ratios(low: f64, high: f64, steps: u32, zero: bool, now: f64) -> Vec<f64> {
    let step = (high / low).ln() / f64::from(steps);
    let mut values: Vec<f64> = (0..=steps).map(|k| low * (step * f64::from(k)).exp()).collect();
    if zero {
        values.insert(0, 0.0);
    }
    with_now(values, now)
}

fn with_now(mut values: Vec<f64>, now: f64) -> Vec<f64> {
    // A neighbour that is nearly the same value would only cost a run.
    values.retain(|v| (v - now).abs() > 1e-3 * now.abs().max(1e-9));
    values.push(now);
    values.sort_by(f64::total_cmp);
    values
}

/// All knobs of a scenario; some may move nothing in it.
pub fn knobs(scenario: &Scenario) -> Vec<Knob> {
    let mut bench = Bench { scenario, knobs: Vec::new() };
    bench.cables();
    bench.unit();
    bench.engine_side();
    bench.charge();
    bench.knobs
}

impl Bench<'_> {
    fn push(&mut self, part: Part, name: &str, unit: &'static str, path: &str, now: f64, grid: Vec<f64>) {
        let keys = vec![KnobKey { path: path.to_owned(), offset: 0.0, takes_name: false }];
        self.knobs.push(Knob { name: name.to_owned(), unit, now, grid, keys, sizes: Vec::new(), part });
    }

    fn cables(&mut self) {
        let s = self.scenario;
        let (i, o) = (&s.input_cable, &s.output_cable);
        let length = |now: f64| ratios((now / 10.0).max(0.1), (now * 8.0).clamp(20.0, 100.0), 14, false, now);
        let joints = |now: f64| ratios(0.25, 128.0f64.max(now * 8.0), 18, true, now);
        if let Some(ohm) = &i.resistance_mohm {
            let (path, now) = ("input_cable.resistance_mohm", ohm.value);
            self.push(Part::InputOhm, "input cable, both legs and joints", "mΩ", path, now, joints(now));
        } else {
            let now = i.length_m.value;
            self.push(
                Part::InputLength,
                "input cable, one way",
                "m",
                "input_cable.length_m",
                now,
                length(now),
            );
            let words = (i.awg.as_ref().map(|t| &t.value), i.sae.as_ref().map(|t| &t.value));
            self.size(Part::InputSize, "input_cable", words, (&i.conductor.value, i.area_mm2.value));
            let (path, now) = ("input_cable.joints_mohm", i.joints_with_fuses_mohm());
            self.push(Part::InputJoints, "joints and fuses of the input cable", "mΩ", path, now, joints(now));
        }
        if o.resistance_mohm.is_none() {
            let now = o.length_m.value;
            self.push(
                Part::OutputLength,
                "output cable, one way",
                "m",
                "output_cable.length_m",
                now,
                length(now),
            );
            let words = (o.awg.as_ref().map(|t| &t.value), o.sae.as_ref().map(|t| &t.value));
            self.size(Part::OutputSize, "output_cable", words, (&o.conductor.value, o.area_mm2.value));
            let (path, now) = ("output_cable.joints_mohm", o.joints_with_fuses_mohm());
            self.push(Part::OutputJoints, "joints of the output cable", "mΩ", path, now, joints(now));
        }
    }

    fn size(
        &mut self,
        part: Part,
        section: &str,
        (awg, sae): (Option<&String>, Option<&String>),
        (build, area_mm2): (&str, f64),
    ) {
        let sized = |names: Vec<&'static str>, area: fn(&str) -> Option<f64>| -> Vec<(String, f64)> {
            names.into_iter().filter_map(|n| Some((n.to_owned(), area(n)?))).collect()
        };
        let (key, mut sizes, now) = match (awg, sae) {
            (Some(size), _) => {
                let sizes = sized(conductor::awg_sizes().collect(), conductor::awg_area_mm2);
                ("awg", sizes, conductor::awg_area_mm2(size).map(|a| (size.clone(), a)))
            }
            (None, Some(size)) => {
                let sizes = sized(conductor::sae_sizes().collect(), conductor::sae_area_mm2);
                ("sae", sizes, conductor::sae_area_mm2(size).map(|a| (size.clone(), a)))
            }
            (None, None) => {
                let sizes = conductor::areas_mm2().map(|a| (format!("{a} mm²"), a)).collect();
                ("area_mm2", sizes, Some((format!("{area_mm2} mm²"), area_mm2)))
            }
        };
        let Some(now) = now else { return };
        if !sizes.iter().any(|(_, area)| *area == now.1) {
            sizes.push(now.clone());
        }
        sizes.sort_by(|a, b| a.1.total_cmp(&b.1));
        let build = if key == "area_mm2" { build } else { key };
        let name = format!("{} conductor, {build}", section.replace('_', " "));
        let key = KnobKey { path: format!("{section}.{key}"), offset: 0.0, takes_name: key != "area_mm2" };
        let grid = sizes.iter().map(|(_, area)| *area).collect();
        self.knobs.push(Knob { name, unit: "mm²", now: now.1, grid, keys: vec![key], sizes, part });
    }

    fn unit(&mut self) {
        let s = self.scenario;
        let (c, rule) = (&s.converter, &s.start_stop);
        let now = c.output_limit_a.value;
        let grid = ratios(now / 5.0, now * 4.0, 16, false, now);
        self.push(Part::OutputLimit, "output current limit", "A", "converter.output_limit_a", now, grid);
        let now = c.input_limit_a.value;
        let grid = ratios(now / 5.0, now * 3.0, 14, false, now);
        self.push(Part::InputLimit, "input current limit", "A", "converter.input_limit_a", now, grid);
        let volts = |now: f64, share: f64| even(now * (1.0 - share), now * (1.0 + share), 16, now);
        let (path, now) = ("start_stop.turn_on_v", rule.turn_on_v.value);
        self.push(Part::TurnOn, "turn-on voltage", "V", path, now, volts(now, 0.12));
        let (path, now) = ("start_stop.turn_off_v", rule.turn_off_v.value);
        self.push(Part::TurnOff, "turn-off voltage", "V", path, now, volts(now, 0.12));
        let delay = |now: f64, most: f64| ratios(0.5, most.max(now * 4.0).min(3600.0), 12, true, now);
        let (path, now) = ("start_stop.turn_on_delay_s", rule.turn_on_delay_s.value);
        self.push(Part::TurnOnDelay, "turn-on delay", "s", path, now, delay(now, 3600.0));
        let (path, now) = ("start_stop.turn_off_delay_s", rule.turn_off_delay_s.value);
        self.push(Part::TurnOffDelay, "turn-off delay", "s", path, now, delay(now, 600.0));
    }

    /// A key of the whole scenario and those of single pieces that stand in for it, all moved by the same.
    fn shared(
        &mut self,
        (part, name, unit): (Part, &str, &'static str),
        (paths, now): (&[(&str, f64)], f64),
        in_pieces: (&str, Vec<(usize, f64)>),
        grid: Vec<f64>,
    ) {
        let (key, pieces) = in_pieces;
        let base = paths.iter().map(|&(path, value)| (path.to_owned(), value - now));
        let mut keys: Vec<KnobKey> =
            base.map(|(path, offset)| KnobKey { path, offset, takes_name: false }).collect();
        keys.extend(pieces.into_iter().map(|(n, value)| KnobKey {
            path: format!("{}.{key}", numbered("drive.piece", n)),
            offset: value - now,
            takes_name: false,
        }));
        self.knobs.push(Knob { name: name.to_owned(), unit, now, grid, keys, sizes: Vec::new(), part });
    }

    /// What pieces with a running engine say under a key of their own.
    fn running(&self, of: fn(&crate::scenario::drive::PieceSpec) -> Option<&Num>) -> Vec<(usize, f64)> {
        let runs = |p: &crate::scenario::drive::PieceSpec| {
            p.file.is_some() || p.engine_rpm.as_ref().is_some_and(|n| n.value > 0.0)
        };
        let pieces = self.scenario.pieces.iter().enumerate().filter(|(_, p)| runs(p));
        pieces.filter_map(|(n, p)| Some((n, of(p)?.value))).collect()
    }

    fn engine_side(&mut self) {
        let s = self.scenario;
        let a = &s.alternator;
        let rule = crate::resolve::set_point_rule(s);
        let pieces = self.running(|p| p.set_point_v.as_ref());
        // With a voltage stated for each piece that of the whole scenario may count nowhere.
        let running = self.running(|p| p.engine_rpm.as_ref()).len();
        let stated = !pieces.is_empty() && pieces.len() == running;
        let now = match (&rule, pieces.first()) {
            (Some(rule), _) => rule.cruise_v,
            (None, Some((_, v))) if stated => *v,
            _ => a.set_point_v.value,
        };
        let grid = even(now * 0.88, now * 1.10, 16, now);
        if let Some(rule) = rule {
            let keys = [
                ("alternator.cruise_v", rule.cruise_v),
                ("alternator.idle_v", rule.idle_v),
                ("alternator.accelerating_v", rule.accelerating_v),
                ("alternator.overrun_v", rule.overrun_v),
                ("alternator.refresh_v", rule.refresh_v),
                ("alternator.start_up_v", rule.start_up_v),
            ];
            let key = |(path, v): (&str, f64)| KnobKey {
                path: path.to_owned(),
                offset: v - now,
                takes_name: false,
            };
            self.knobs.push(Knob {
                name: "set-points of the rule, at cruise".to_owned(),
                unit: "V",
                now,
                grid,
                keys: keys.into_iter().map(key).collect(),
                sizes: Vec::new(),
                part: Part::SetPoint,
            });
        } else {
            // The warm level moves with the cold one.
            let warm = a.warm_set_point_v.as_ref().map(|w| ("alternator.warm_set_point_v", w.value));
            let cold = (warm.is_none() || !matches!(a.set_point_v.origin, Origin::Default(_)))
                .then_some(("alternator.set_point_v", a.set_point_v.value));
            let levels: Vec<(&str, f64)> = cold.into_iter().chain(warm).filter(|_| !stated).collect();
            let now = if stated { now } else { levels.first().map_or(now, |l| l.1) };
            let grid = even(now * 0.88, now * 1.10, 16, now);
            self.shared(
                (Part::SetPoint, "alternator set-point", "V"),
                (&levels, now),
                ("set_point_v", pieces),
                grid,
            );
        }
        self.speeds();
        let now = s.vehicle.running_load_a.value;
        let pieces = self.running(|p| p.vehicle_load_a.as_ref());
        let grid = even(0.0, (now * 4.0).clamp(100.0, 500.0), 16, now);
        let what = (Part::VehicleLoad, "the vehicle's own load", "A");
        self.shared(what, (&[("vehicle.running_load_a", now)], now), ("vehicle_load_a", pieces), grid);
        let now = s.drive.air_c.value;
        let all = s.pieces.iter().enumerate();
        let pieces = all.filter_map(|(n, p)| Some((n, p.air_c.as_ref()?.value))).collect();
        let what = (Part::Air, "temperature of the air", "°C");
        self.shared(what, (&[("drive.air_c", now)], now), ("air_c", pieces), even(-25.0, 55.0, 16, now));
    }

    /// The lowest engine speed of the drive's pieces, and the one held longest.
    fn speeds(&mut self) {
        let s = self.scenario;
        let minutes = |p: &crate::scenario::drive::PieceSpec| {
            let of = |n: &Option<Num>, factor: f64| n.as_ref().map(|n| n.value * factor);
            of(&p.duration_s, 1.0 / 60.0)
                .or(of(&p.duration_min, 1.0))
                .or(of(&p.duration_h, 60.0))
                .unwrap_or(0.0)
        };
        let mut held: Vec<(f64, f64, Vec<usize>)> = Vec::new();
        for (n, piece) in s.pieces.iter().enumerate() {
            let Some(rpm) = piece.engine_rpm.as_ref().map(|r| r.value).filter(|r| *r > 0.0) else { continue };
            match held.iter_mut().find(|h| h.0 == rpm) {
                Some(h) => {
                    h.1 += minutes(piece);
                    h.2.push(n);
                }
                None => held.push((rpm, minutes(piece), vec![n])),
            }
        }
        let lowest = held.iter().min_by(|a, b| a.0.total_cmp(&b.0)).cloned();
        let longest = held.iter().max_by(|a, b| a.1.total_cmp(&b.1)).cloned();
        for (rpm, _, pieces) in lowest.iter().chain(longest.iter().filter(|l| Some(*l) != lowest.as_ref())) {
            let name = if held.len() == 1 {
                "engine speed held".to_owned()
            } else {
                format!("engine speed, now {rpm:.0} rpm")
            };
            let grid =
                ratios((rpm / 4.0).max(400.0).min(*rpm), (rpm * 2.5).clamp(3000.0, 9000.0), 16, false, *rpm);
            let key = |n: &usize| KnobKey {
                path: format!("{}.engine_rpm", numbered("drive.piece", *n)),
                offset: 0.0,
                takes_name: false,
            };
            let keys = pieces.iter().map(key).collect();
            self.knobs.push(Knob {
                name,
                unit: "rpm",
                now: *rpm,
                grid,
                keys,
                sizes: Vec::new(),
                part: Part::EngineSpeed,
            });
        }
        if s.pieces.iter().any(|p| p.file.is_some()) {
            let now = s.gears.idle_rpm.value;
            let grid = even(500.0, 1500.0f64.max(now), 10, now);
            self.push(Part::IdleSpeed, "idle speed", "rpm", "gears.idle_rpm", now, grid);
        }
    }

    fn charge(&mut self) {
        let s = self.scenario;
        let now = s.house_battery.start_pct.value;
        let grid = even(5.0, 100.0, 19, now);
        self.push(Part::HouseSoc, "house battery at the start", "%", "house_battery.start_pct", now, grid);
        let now = s.starter_battery.start_pct.value;
        let grid = even(40.0f64.min(now), 100.0, 12, now);
        self.push(
            Part::StarterSoc,
            "starter battery at the start",
            "%",
            "starter_battery.start_pct",
            now,
            grid,
        );
        let now = s.house.load_w.value;
        let loads = s.pieces.iter().enumerate();
        let pieces = loads.filter_map(|(n, p)| Some((n, p.house_load_w.as_ref()?.value))).collect();
        let what = (Part::HouseLoad, "house load", "W");
        let grid = even(0.0, (now * 4.0).clamp(400.0, 5000.0), 16, now);
        self.shared(what, (&[("house.load_w", now)], now), ("house_load_w", pieces), grid);
    }
}
