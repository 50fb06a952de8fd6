//! What the engine does from sample to sample of a drive file, for a set-point rule: above all whether its fuel is cut.
//!
//! A file that says so is taken at its word (`fuel_cut`), and one that logs the engine's load by that (`load_pct`). Otherwise the
//! fuel counts as cut where the vehicle, in gear and well above idle speed, slows down nearly as much as its own drag and the
//! engine's friction would slow it on the level. Slowing down alone is not fuel cut: on measured drives of a petrol car four
//! slowings in five had none.

use super::trace_file::DriveFile;
use crate::column::Numbers;
use crate::plant::set_point_rule::Phase;
use crate::scenario::engine_side::GearsSpec;

/// Acceleration beyond which a vehicle counts as speeding up, m/s²; from memory.
const STEADY_M_PER_S2: f64 = 0.15;
/// The gradient of speed is taken over the interval and so much on either side, s: speeds are logged in whole km/h.
const AROUND_S: f64 = 1.6;
/// Slowing down by rolling, m/s², and by air per square of speed, 1/m: a car or van on the level, from memory.
const ROLLING_M_PER_S2: f64 = 0.12;
const AIR_PER_M: f64 = 3.5e-4;
/// The same by the engine's friction, m/s² for each radian of crank per metre of road: 25 Nm over 1,400 kg, from memory.
const ENGINE_M2_PER_S2: f64 = 0.018;
/// Share of all that from which the fuel counts as cut: what agrees best with the load that a measured car logs.
const CUT_SHARE: f64 = 0.5;
/// Share of the engine's load at idle under which the fuel counts as cut: a measured car shows 18 to 20 % against 26 %.
const LOAD_SHARE: f64 = 0.85;
/// Load that counts so where a file never stands at idle, %; from memory.
const LOAD_PCT: f64 = 20.0;
/// An engine whose measured speed is no more than this share of its idle speed is idling, clutch open.
const IDLE_SHARE: f64 = 1.15;

/// Reads the phases of a drive file.
pub(super) struct Phases<'a> {
    file: &'a DriveFile,
    rpm: &'a Numbers,
    /// Load under which the fuel counts as cut, %, where load is logged.
    cut_load_pct: f64,
    cut_above_rpm: f64,
    /// Engine speed up to which a moving engine idles, rpm.
    idles_rpm: f64,
}

impl<'a> Phases<'a> {
    /// A reader of a file with its engine speed, measured or from gears.
    pub(super) fn new(file: &'a DriveFile, rpm: &'a Numbers, gears: &GearsSpec) -> Phases<'a> {
        let measured = file.engine_rpm.is_some();
        Phases {
            file,
            rpm,
            cut_load_pct: gears
                .fuel_cut_load_pct
                .as_ref()
                .map_or_else(|| cut_load_pct(file, rpm), |p| p.value),
            cut_above_rpm: gears.fuel_cut_above_rpm.value,
            idles_rpm: if measured { IDLE_SHARE * gears.idle_rpm.value } else { 0.0 },
        }
    }

    /// What the engine does from sample `k` to the next; `None` where the file does not tell.
    pub(super) fn at(&self, k: usize) -> Option<Phase> {
        let (file, rpm) = (self.file, self.rpm.at(k));
        let told = file.fuel_cut.is_some() || file.load_pct.is_some();
        let Some(speed) = &file.speed_kmh else {
            return told.then(|| match self.cut(k) {
                Some(true) => Phase::Overrun,
                _ if rpm <= self.idles_rpm => Phase::Idle,
                _ => Phase::Cruise,
            });
        };
        if speed.at(k) == 0.0 && speed.at(k + 1) == 0.0 || rpm <= self.idles_rpm {
            return Some(Phase::Idle);
        }
        let change = self.m_per_s2(speed, k);
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

    /// Gradient of the speed around the interval that begins at sample `k`, m/s².
    fn m_per_s2(&self, speed: &Numbers, k: usize) -> f64 {
        let t = &self.file.time_s;
        let (mut from, mut to) = (k, k + 1);
        while from > 0 && t[from - 1] >= t[k] - AROUND_S {
            from -= 1;
        }
        while to + 1 < t.len() && t[to + 1] <= t[k + 1] + AROUND_S {
            to += 1;
        }
        (speed.at(to) - speed.at(from)) / 3.6 / (t[to] - t[from])
    }
}

/// Load under which the fuel counts as cut, by the load that the file itself shows while the engine idles.
fn cut_load_pct(file: &DriveFile, rpm: &Numbers) -> f64 {
    let (Some(load), Some(speed)) = (&file.load_pct, &file.speed_kmh) else { return LOAD_PCT };
    let idles = (0..file.time_s.len()).filter(|&k| speed.at(k) == 0.0 && rpm.at(k) > 0.0 && load.at(k) > 0.0);
    let mut loads: Vec<f64> = idles.map(|k| load.at(k)).collect();
    if loads.is_empty() {
        return LOAD_PCT;
    }
    // The lower quartile: fans and compressors load an idling engine for minutes.
    loads.sort_by(f64::total_cmp);
    LOAD_SHARE * loads[loads.len() / 4]
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
        // At idle it shows 30 %: under 25.5 % is fuel cut.
        let mut file =
            drive(&[0.0, 0.0, 50.0, 50.0, 50.0, 50.0], &[800.0, 800.0, 1900.0, 1900.0, 1900.0, 1900.0]);
        file.load_pct = Some([30.0, 30.0, 60.0, 20.0, 26.0, 20.0].into_iter().collect());
        assert_eq!(phases(&file).iter().map(cut).collect::<Vec<_>>(), [false, false, false, true, false]);
    }
}
