//! Sampled drives: what a drive file holds, and how road speed becomes engine speed.

use crate::column::Numbers;
use crate::scenario::engine_side::GearsSpec;
use crate::time::DAY_S;

/// Columns of a drive file. A sample holds until the next; the last one only marks the end.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DriveFile {
    /// Seconds since the file's start, rising strictly.
    pub time_s: Vec<f64>,
    /// Road speed, km/h.
    pub speed_kmh: Option<Numbers>,
    /// Engine speed, rpm; 0 is a stopped engine. Wins over road speed.
    pub engine_rpm: Option<Numbers>,
    /// Alternator set-point, V.
    pub set_point_v: Option<Numbers>,
    /// The vehicle's own load, A.
    pub vehicle_load_a: Option<Numbers>,
    /// House load, W.
    pub house_load_w: Option<Numbers>,
    /// Power the sun offers on the house bus, W.
    pub house_solar_w: Option<Numbers>,
    /// Temperature of the air, °C.
    pub air_c: Option<Numbers>,
    /// Engine load, % of what it could do at that speed, as the engine's computer tells it.
    pub load_pct: Option<Numbers>,
    /// Whether the fuel is cut: 1 or 0.
    pub fuel_cut: Option<Numbers>,
    /// Volts measured at the starter posts, V: replayed by the alternator while the engine runs.
    pub volts: Option<Numbers>,
    /// Clock and date of the first row, where the file carries wall-clock stamps.
    pub stamp: Option<Stamp>,
}

/// A moment by the clock on the wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stamp {
    /// Seconds after midnight.
    pub clock_s: f64,
    /// The date.
    pub date: jiff::civil::Date,
    /// The same moment wherever one is, s since the beginning of 1970: clocks are put forward and back.
    pub unix_s: f64,
    /// How far the clock is ahead of UTC, s.
    pub utc_offset_s: f64,
}

impl Stamp {
    /// How long after another, s.
    pub fn after_s(&self, other: &Stamp) -> f64 {
        self.unix_s - other.unix_s
    }

    /// The clock and the date so long before.
    pub fn earlier(&self, seconds: f64) -> (f64, Option<jiff::civil::Date>) {
        let clock_s = self.clock_s - seconds;
        let days = (clock_s / DAY_S).floor();
        let back = jiff::Span::new().try_days(days as i64).ok();
        (clock_s - days * DAY_S, back.and_then(|days| self.date.checked_add(days).ok()))
    }
}

impl DriveFile {
    /// Distance covered, m: each sample's speed held until the next. Zero without a speed column.
    pub fn distance_m(&self) -> f64 {
        let Some(speed) = &self.speed_kmh else { return 0.0 };
        self.time_s.windows(2).zip(speed.iter()).map(|(t, v)| v / 3.6 * (t[1] - t[0])).sum()
    }
}

/// A gearbox that shifts by engine speed, with a gap between shifting up and down.
#[derive(Debug, Clone, PartialEq)]
pub struct Gearbox {
    /// Idle speed, rpm.
    pub idle_rpm: f64,
    /// Road speed at 1000 rpm in each gear, km/h, rising.
    pub kmh_per_1000rpm: Vec<f64>,
    /// Shift to the next higher gear above this engine speed, rpm.
    pub shift_up_rpm: f64,
    /// Shift to the next lower gear below this engine speed, rpm.
    pub shift_down_rpm: f64,
}

impl Gearbox {
    pub(super) fn new(spec: &GearsSpec) -> Gearbox {
        Gearbox {
            idle_rpm: spec.idle_rpm.value,
            kmh_per_1000rpm: spec.kmh_per_1000rpm.value.clone(),
            shift_up_rpm: spec.shift_up_rpm.value,
            shift_down_rpm: spec.shift_down_rpm.value,
        }
    }

    /// The gear taken at a road speed, km/h, coming from another; changing down may be left for later.
    pub(super) fn shifted(&self, mut gear: usize, speed_kmh: f64, may_change_down: bool) -> usize {
        while gear + 1 < self.kmh_per_1000rpm.len() && self.rpm(gear, speed_kmh) > self.shift_up_rpm {
            gear += 1;
        }
        while may_change_down && gear > 0 && self.rpm(gear, speed_kmh) < self.shift_down_rpm {
            gear -= 1;
        }
        gear
    }

    /// Engine speed in a gear with the clutch closed, rpm.
    pub(super) fn rpm(&self, gear: usize, speed_kmh: f64) -> f64 {
        1000.0 * speed_kmh / self.kmh_per_1000rpm[gear]
    }

    /// Engine speed for each road speed, rpm; never under idle, since the clutch opens there.
    pub fn engine_rpm(&self, speed_kmh: impl Iterator<Item = f64>) -> Numbers {
        let mut gear = 0;
        speed_kmh
            .map(|v| {
                gear = self.shifted(gear, v, true);
                self.rpm(gear, v).max(self.idle_rpm)
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gears_follow_the_speed_and_idle_is_the_floor() {
        let box_ = Gearbox {
            idle_rpm: 800.0,
            kmh_per_1000rpm: vec![8.0, 16.0, 32.0],
            shift_up_rpm: 2400.0,
            shift_down_rpm: 1100.0,
        };
        let rpm = box_.engine_rpm([0.0, 4.0, 16.0, 24.0, 24.0, 50.0, 30.0, 5.0, 0.0].into_iter());
        assert_eq!(rpm.at(0), 800.0);
        assert_eq!(rpm.at(1), 800.0);
        assert_eq!(rpm.at(2), 2000.0);
        assert_eq!(rpm.at(3), 1500.0, "second gear");
        assert_eq!(rpm.at(5), 1562.5, "third gear");
        assert_eq!(rpm.at(6), 30.0 / 16.0 * 1000.0, "back in second under 1100 rpm");
        assert_eq!(rpm.at(8), 800.0);
    }
}
