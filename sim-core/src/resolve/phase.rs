//! What the engine does from sample to sample of a drive file, for a set-point rule: above all whether its fuel is cut.
//!
//! A file that says so is taken at its word (`fuel_cut`), and one that logs the engine's load by that (`load_pct`). Otherwise the
//! fuel counts as cut where the vehicle, in gear and well above idle speed, slows down nearly as much as its own drag and the
//! engine's friction would slow it on the level. Slowing down alone is not fuel cut: on measured drives of a petrol car four
//! slowings in five had none. Where engine speed is not logged either, the gear in which a slowing began is kept until the
//! clutch opens near idle: who slows down seldom changes down through the gears.
//!
//! `tests/measured/phases.rs` tries all that on measured drives, spoilt as loggers spoil them.

use super::trace_file::{DriveFile, Gearbox};
use crate::column::Numbers;
use crate::plant::set_point_rule::Phase;
use crate::scenario::engine_side::GearsSpec;

/// Acceleration beyond which a vehicle counts as speeding up, m/s²; from memory.
const STEADY_M_PER_S2: f64 = 0.15;
/// The gradient of speed is taken over the interval and so much on either side, s: speeds are logged in whole km/h, and often
/// read anew every other second only.
const AROUND_S: f64 = 2.1;
/// Speed under which a vehicle stands, or rolls with its clutch open, km/h: what is derived from positions is never quite 0.
const STANDS_KMH: f64 = 3.0;
/// Slowing down from which on a gear is kept, m/s²; from memory.
const SLOWS_M_PER_S2: f64 = 0.05;
/// Slowing down by rolling, m/s², and by air per square of speed, 1/m: a car or van on the level, from memory.
const ROLLING_M_PER_S2: f64 = 0.12;
const AIR_PER_M: f64 = 3.5e-4;
/// The same by the engine's friction, m/s² for each radian of crank per metre of road: 25 Nm over 1,400 kg, from memory.
const ENGINE_M2_PER_S2: f64 = 0.018;
/// Share of all that from which the fuel counts as cut: what agrees best with the load that a measured car logs.
const CUT_SHARE: f64 = 0.5;
/// Share of the engine's load at idle under which the fuel counts as cut, where a file slows down too little to show more: a
/// measured car shows 18 to 20 % against 26 %.
const LOAD_SHARE: f64 = 0.85;
/// Load that counts so where a file never stands at idle, %; from memory.
const LOAD_PCT: f64 = 20.0;
/// An engine whose measured speed is no more than this share of its idle speed is idling, clutch open.
const IDLE_SHARE: f64 = 1.15;
/// Fewest samples from which a file's own idle, or its own fuel cut, is told.
const FEWEST: usize = 5;

/// Reads the phases of a drive file.
pub(super) struct Phases<'a> {
    file: &'a DriveFile,
    rpm: &'a Numbers,
    /// Load under which the fuel counts as cut, %, where load is logged.
    cut_load_pct: f64,
    cut_above_rpm: f64,
    /// Engine speed up to which a moving engine idles, rpm.
    idles_rpm: f64,
    /// Engine speed in the gear in which a slowing began, where the file tells neither engine speed nor load.
    kept_rpm: Option<Numbers>,
}

impl<'a> Phases<'a> {
    /// A reader of a file with its engine speed, measured or from gears.
    pub(super) fn new(file: &'a DriveFile, rpm: &'a Numbers, gears: &GearsSpec) -> Phases<'a> {
        let measured = file.engine_rpm.is_some();
        let cut_above_rpm = gears.fuel_cut_above_rpm.value;
        let idle_rpm = gears.idle_rpm.value;
        let by_speed = file.speed_kmh.as_ref().filter(|_| !measured);
        Phases {
            file,
            rpm,
            cut_load_pct: gears
                .fuel_cut_load_pct
                .as_ref()
                .map_or_else(|| cut_load_pct(file, rpm, cut_above_rpm), |p| p.value),
            cut_above_rpm,
            idles_rpm: if measured {
                IDLE_SHARE * own_idle_rpm(file, rpm).unwrap_or(idle_rpm)
            } else {
                idle_rpm
            },
            kept_rpm: by_speed.filter(|_| !told(file)).map(|speed| kept_rpm(&file.time_s, speed, gears)),
        }
    }

    /// What the engine does from sample `k` to the next; `None` where the file does not tell.
    pub(super) fn at(&self, k: usize) -> Option<Phase> {
        let file = self.file;
        let rpm = self.kept_rpm.as_ref().unwrap_or(self.rpm).at(k);
        let Some(speed) = &file.speed_kmh else {
            return told(file).then(|| match self.cut(k) {
                Some(true) => Phase::Overrun,
                _ if rpm <= self.idles_rpm => Phase::Idle,
                _ => Phase::Cruise,
            });
        };
        if stands(speed, k) {
            return Some(Phase::Idle);
        }
        let change = m_per_s2(&file.time_s, speed, k);
        // Under the first gear's idle speed a vehicle that is not measured may pull away or roll out.
        let pulls_away = file.engine_rpm.is_none() && change > STEADY_M_PER_S2;
        if rpm <= self.idles_rpm && !pulls_away {
            return Some(Phase::Idle);
        }
        let cut = self.cut(k).unwrap_or_else(|| self.slows_by_itself(speed.at(k) / 3.6, change, rpm));
        Some(match change {
            _ if cut => Phase::Overrun,
            up if up > STEADY_M_PER_S2 => Phase::Accelerating,
            _ => Phase::Cruise,
        })
    }

    /// Whether the fuel is cut, where the file tells.
    fn cut(&self, k: usize) -> Option<bool> {
        let high = self.rpm.at(k) > self.cut_above_rpm;
        let (cut, load) = (&self.file.fuel_cut, &self.file.load_pct);
        cut.as_ref()
            .map(|c| c.at(k) >= 0.5)
            .or_else(|| load.as_ref().map(|l| high && l.at(k) < self.cut_load_pct))
    }

    fn slows_by_itself(&self, m_per_s: f64, m_per_s2: f64, rpm: f64) -> bool {
        let rad_per_m = rpm * std::f64::consts::PI / 30.0 / m_per_s.max(1.0);
        let drag = ROLLING_M_PER_S2 + AIR_PER_M * m_per_s * m_per_s + ENGINE_M2_PER_S2 * rad_per_m;
        rpm > self.cut_above_rpm && m_per_s2 < -CUT_SHARE * drag
    }
}

/// Whether a file tells more of the fuel than its speed does.
fn told(file: &DriveFile) -> bool {
    file.fuel_cut.is_some() || file.load_pct.is_some()
}

/// Whether the vehicle stands from sample `k` to the next.
fn stands(speed: &Numbers, k: usize) -> bool {
    speed.at(k) < STANDS_KMH && speed.at(k + 1) < STANDS_KMH
}

/// Gradient of the speed around the interval that begins at sample `k`, m/s².
fn m_per_s2(t: &[f64], speed: &Numbers, k: usize) -> f64 {
    let (mut from, mut to) = (k, k + 1);
    while from > 0 && t[from - 1] >= t[k] - AROUND_S {
        from -= 1;
    }
    while to + 1 < t.len() && t[to + 1] <= t[k + 1] + AROUND_S {
        to += 1;
    }
    (speed.at(to) - speed.at(from)) / 3.6 / (t[to] - t[from])
}

/// Engine speed at each sample in the gear in which a slowing began, rpm.
fn kept_rpm(t: &[f64], speed: &Numbers, gears: &GearsSpec) -> Numbers {
    let gearbox = Gearbox::new(gears);
    let mut gear = 0;
    (0..t.len())
        .map(|k| {
            let slows = k + 1 < t.len() && m_per_s2(t, speed, k) < -SLOWS_M_PER_S2;
            gear = gearbox.shifted(gear, speed.at(k), !slows);
            gearbox.rpm(gear, speed.at(k))
        })
        .collect()
}

/// The value under which a share of some values lies, from 0 to 1; `None` of too few.
fn share_under(mut values: Vec<f64>, share: f64) -> Option<f64> {
    if values.len() < FEWEST {
        return None;
    }
    values.sort_by(f64::total_cmp);
    Some(values[(share * (values.len() - 1) as f64) as usize])
}

/// Idle speed of a file's own engine: its lower quartile while it stands, since a cold one idles faster.
fn own_idle_rpm(file: &DriveFile, rpm: &Numbers) -> Option<f64> {
    let speed = file.speed_kmh.as_ref()?;
    let idles = (0..file.time_s.len()).filter(|&k| speed.at(k) < STANDS_KMH && rpm.at(k) > 0.0);
    share_under(idles.map(|k| rpm.at(k)).collect(), 0.25)
}

/// Load under which the fuel counts as cut, by what the file itself shows at idle and as it slows down in gear: halfway between, for
/// loggers give loads on scales of their own.
fn cut_load_pct(file: &DriveFile, rpm: &Numbers, cut_above_rpm: f64) -> f64 {
    let (Some(load), Some(speed)) = (&file.load_pct, &file.speed_kmh) else { return LOAD_PCT };
    let all = 0..file.time_s.len();
    let idles = all.clone().filter(|&k| speed.at(k) < STANDS_KMH && rpm.at(k) > 0.0 && load.at(k) > 0.0);
    // The lower quartile: fans and compressors load an idling engine for minutes.
    let Some(idle) = share_under(idles.map(|k| load.at(k)).collect(), 0.25) else { return LOAD_PCT };
    let slows = |k: &usize| {
        k + 1 < file.time_s.len()
            && rpm.at(*k) > cut_above_rpm
            && m_per_s2(&file.time_s, speed, *k) < -STEADY_M_PER_S2
    };
    let slowing = all.filter(slows).map(|k| load.at(k)).collect();
    share_under(slowing, 0.1)
        .filter(|cut| *cut < idle)
        .map_or(LOAD_SHARE * idle, |cut| f64::midpoint(cut, idle))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::Scenario;

    fn phases(file: &DriveFile) -> Vec<Option<Phase>> {
        let gears = Scenario::default().gears;
        let rpm = file.engine_rpm.clone().expect("engine speeds");
        let read = Phases::new(file, &rpm, &gears);
        (0..file.time_s.len() - 1).map(|k| read.at(k)).collect()
    }

    fn drive(speed_kmh: &[f64], rpm: &[f64]) -> DriveFile {
        DriveFile {
            time_s: (0..speed_kmh.len()).map(|k| k as f64).collect(),
            speed_kmh: Some(speed_kmh.iter().copied().collect()),
            engine_rpm: Some(rpm.iter().copied().collect()),
            ..DriveFile::default()
        }
    }

    #[test]
    fn slowing_in_gear_is_fuel_cut_and_slowing_with_the_clutch_open_is_none() {
        let slowing: Vec<f64> = (0..12).map(|k| 60.0 - 1.5 * f64::from(k)).collect();
        assert!(phases(&drive(&slowing, &[2000.0; 12])).iter().all(|p| *p == Some(Phase::Overrun)));
        assert!(phases(&drive(&slowing, &[850.0; 12])).iter().all(|p| *p == Some(Phase::Idle)));
        assert!(phases(&drive(&slowing, &[1100.0; 12])).iter().all(|p| *p == Some(Phase::Cruise)));
        let faster: Vec<f64> = (0..12).map(|k| 20.0 + 3.0 * f64::from(k)).collect();
        assert!(phases(&drive(&faster, &[2000.0; 12])).iter().all(|p| *p == Some(Phase::Accelerating)));
        // A step of one km/h in a steady drive is the speedometer's.
        let steady = [50.0, 50.0, 50.0, 50.0, 49.0, 50.0, 50.0, 50.0, 50.0, 50.0];
        assert!(phases(&drive(&steady, &[1800.0; 10])).iter().all(|p| *p == Some(Phase::Cruise)));
    }

    #[test]
    fn a_load_or_a_word_in_the_file_goes_before_the_speed() {
        let slowing: Vec<f64> = (0..6).map(|k| 60.0 - 2.0 * f64::from(k)).collect();
        let mut file = drive(&slowing, &[2000.0; 6]);
        file.fuel_cut = Some([0.0, 0.0, 1.0, 1.0, 0.0, 0.0].into_iter().collect());
        let cut = |p: &Option<Phase>| *p == Some(Phase::Overrun);
        assert_eq!(phases(&file).iter().map(cut).collect::<Vec<_>>(), [false, false, true, true, false]);
        // At idle it shows 30 %, and it hardly slows down: under 25.5 % is fuel cut.
        let idle =
            |moving: [f64; 4], standing: f64| -> Vec<f64> { [[standing; 6].as_slice(), &moving].concat() };
        let mut file = drive(&idle([50.0; 4], 0.0), &idle([1900.0; 4], 800.0));
        file.load_pct = Some(idle([60.0, 20.0, 26.0, 20.0], 30.0).into_iter().collect());
        assert_eq!(phases(&file)[6..].iter().map(cut).collect::<Vec<_>>(), [false, true, false]);
    }

    /// A logger whose scale of loads begins elsewhere shows the same fuel cuts: halfway between idle and slowing down.
    #[test]
    fn a_scale_of_loads_may_begin_elsewhere() {
        let mut speed = vec![0.0; 10];
        speed.extend((0..40).map(|_| 60.0));
        speed.extend((0..16).map(|k| 60.0 - 2.0 * f64::from(k)));
        let rpm: Vec<f64> = speed.iter().map(|v| if *v == 0.0 { 800.0 } else { 2000.0 }).collect();
        let load = |k: usize| match k {
            0..10 => 27.0,
            10..50 => 40.0,
            _ => 18.0,
        };
        for (offset, scale) in [(0.0, 1.0), (40.0, 0.5), (-17.0, 1.0)] {
            let mut file = drive(&speed, &rpm);
            file.load_pct = Some((0..speed.len()).map(|k| offset + scale * load(k)).collect());
            let cut = phases(&file).iter().filter(|p| **p == Some(Phase::Overrun)).count();
            assert_eq!(cut, 15, "{offset} and {scale} times");
        }
    }

    fn by_speed(speed_kmh: &[f64]) -> Vec<Phase> {
        let file = DriveFile { engine_rpm: None, ..drive(speed_kmh, &[]) };
        let gears = Scenario::default().gears;
        let rpm = Gearbox::new(&gears).engine_rpm(speed_kmh.iter().copied());
        let read = Phases::new(&file, &rpm, &gears);
        (0..speed_kmh.len() - 1).map(|k| read.at(k).expect("told")).collect()
    }

    /// From 80 km/h to a stand: in gear at first, then with the clutch open, though changing down would keep the engine fast.
    #[test]
    fn by_speed_alone_the_gear_is_kept_until_the_clutch_opens() {
        let mut speed = vec![80.0; 20];
        speed.extend((0..80).map(|k| 80.0 - f64::from(k)));
        speed.extend([0.0, 0.4, 1.2, 0.0, 0.0, 0.7, 0.0]);
        let phases = by_speed(&speed);
        let of = |wanted| phases.iter().filter(|p| **p == wanted).count();
        // Fifth gear: 1200 rpm at 47 km/h, 800 rpm at 31 km/h.
        assert!((30..=34).contains(&of(Phase::Overrun)), "{phases:?}");
        assert!(phases[70..].iter().all(|p| *p == Phase::Idle), "{phases:?}");
        // It pulls away under its idle speed in first gear.
        let away: Vec<f64> = (0..20).map(|k| 2.0 * f64::from(k)).collect();
        assert!(by_speed(&away)[2..].iter().all(|p| *p == Phase::Accelerating));
    }

    /// An engine that idles at 950 rpm, told by its own file.
    #[test]
    fn a_file_tells_its_own_idle_speed() {
        let mut speed = vec![0.0; 10];
        speed.extend((0..20).map(|k| 40.0 - f64::from(k)));
        let phases = phases(&drive(&speed, &[950.0; 30]));
        assert!(phases.iter().all(|p| *p == Some(Phase::Idle)), "{phases:?}");
    }
}
