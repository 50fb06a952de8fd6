//! Usual drives, invented and marked so: pieces of constant conditions.

use clap::ValueEnum;

/// How the alternator's regulator behaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Alternator {
    /// It holds one voltage.
    Fixed,
    /// The vehicle changes it while driving.
    Variable,
}

/// The usual drive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Drive {
    /// A quarter of an hour on the road.
    Short,
    /// Three quarters of an hour of stop and go, with deliveries.
    Town,
    /// Three hours of open road with a break.
    Long,
}

/// One stretch of a drive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// What it is.
    pub label: &'static str,
    /// How long, min.
    pub minutes: u32,
    /// Engine speed, rpm.
    pub rpm: u32,
}

const fn stretch(label: &'static str, minutes: u32, rpm: u32) -> Stretch {
    Stretch { label, minutes, rpm }
}

const SHORT: &[Stretch] = &[
    stretch("parked, before the start", 1, 0),
    stretch("warming up at idle", 1, 900),
    stretch("driving", 14, 1800),
    stretch("parked", 120, 0),
];
const TOWN: &[Stretch] = &[
    stretch("parked, before the start", 1, 0),
    stretch("warming up at idle", 2, 900),
    stretch("driving", 7, 1700),
    stretch("at the lights", 2, 800),
    stretch("driving", 6, 1600),
    stretch("delivering, engine off", 5, 0),
    stretch("driving", 8, 1700),
    stretch("at the lights", 2, 800),
    stretch("driving", 6, 1500),
    stretch("in a queue", 4, 850),
    stretch("driving", 5, 1700),
    stretch("parked", 120, 0),
];
const LONG: &[Stretch] = &[
    stretch("parked, before the start", 1, 0),
    stretch("warming up at idle", 2, 900),
    stretch("out of town", 10, 1700),
    stretch("open road", 80, 2200),
    stretch("break, engine off", 20, 0),
    stretch("open road", 75, 2200),
    stretch("into town", 10, 1600),
    stretch("parked", 240, 0),
];

/// Set-point while the vehicle recharges its own battery after a start, V; invented.
const RECHARGING_V: f64 = 14.6;
/// Set-point once it has done so, V; invented.
const CRUISING_V: f64 = 12.9;
/// How long it recharges after each start, min; invented.
const RECHARGING_MIN: u32 = 6;

impl Drive {
    fn stretches(self) -> &'static [Stretch] {
        match self {
            Drive::Short => SHORT,
            Drive::Town => TOWN,
            Drive::Long => LONG,
        }
    }

    /// The pieces, with set-points if the alternator varies: higher for the first minutes after each start, then lower.
    pub fn pieces(self, alternator: Alternator) -> Vec<(Stretch, Option<f64>)> {
        let mut pieces = Vec::new();
        let mut left = RECHARGING_MIN;
        for &whole in self.stretches() {
            if whole.rpm == 0 || alternator == Alternator::Fixed {
                left = RECHARGING_MIN;
                pieces.push((whole, None));
                continue;
            }
            let high = whole.minutes.min(left);
            left -= high;
            if high > 0 {
                pieces.push((Stretch { minutes: high, ..whole }, Some(RECHARGING_V)));
            }
            if whole.minutes > high {
                pieces.push((Stretch { minutes: whole.minutes - high, ..whole }, Some(CRUISING_V)));
            }
        }
        pieces
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_varying_set_point_keeps_the_duration_and_begins_high_after_each_start() {
        for drive in [Drive::Short, Drive::Town, Drive::Long] {
            let (fixed, varying) = (drive.pieces(Alternator::Fixed), drive.pieces(Alternator::Variable));
            let minutes = |p: &[(Stretch, Option<f64>)]| p.iter().map(|x| x.0.minutes).sum::<u32>();
            assert_eq!(minutes(&fixed), minutes(&varying));
            for pair in varying.windows(2).filter(|w| w[0].0.rpm == 0 && w[1].0.rpm > 0) {
                assert_eq!(pair[1].1, Some(RECHARGING_V));
            }
            assert!(varying.iter().any(|p| p.1 == Some(CRUISING_V)));
            assert!(varying.iter().all(|p| (p.0.rpm == 0) == p.1.is_none()));
        }
    }
}
