//! What is run: a day, a week of errands, a hunting day, a drive given second by second, a long stand.

use sim_core::model::{Piece, Profile};
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::dice::Dice;

/// Two hours on the road, six parked.
pub fn clean_day() -> Profile {
    day(&[(7200.0, DRIVING), (21_600.0, PARKED)])
}

/// A week in ten-minute pieces with two drives of 25 minutes a day; house load and sun change at every piece. Dark nights
/// with the load unchanged make some neighbours one.
pub fn week() -> Profile {
    let mut d = Dice::new(1);
    let mut stretches = Vec::new();
    for _ in 0..7 {
        for slot in 0..144 {
            let hour = f64::from(slot) / 6.0;
            let height = ((hour - 6.0) / 12.0 * std::f64::consts::PI).sin().max(0.0);
            let night = !(6.0..23.0).contains(&hour);
            let piece = Piece {
                house_load_w: if night { 15.0 } else { d.between(10.0, 40.0) },
                house_solar_w: if height > 0.0 { 70.0 * height * d.between(0.3, 1.0) } else { 0.0 },
                ..PARKED
            };
            if slot == 48 || slot == 105 {
                let drive = Piece { engine_rpm: DRIVING.engine_rpm, vehicle_load_a: 25.0, ..piece };
                stretches.push((300.0, drive));
                stretches.push((300.0, Piece { engine_rpm: 2400.0, ..drive }));
            } else if slot == 49 || slot == 106 {
                let drive = Piece { engine_rpm: DRIVING.engine_rpm, vehicle_load_a: 25.0, ..piece };
                stretches.push((600.0, drive));
            } else if slot == 50 || slot == 107 {
                let drive = Piece { engine_rpm: DRIVING.engine_rpm, vehicle_load_a: 25.0, ..piece };
                stretches.push((300.0, drive));
                stretches.push((300.0, piece));
            } else {
                stretches.push((600.0, piece));
            }
        }
    }
    day(&stretches)
}

/// Half an hour with another engine speed and load every second, then two hours parked.
pub fn one_hertz() -> Profile {
    let mut d = Dice::new(2);
    let mut stretches: Vec<(f64, Piece)> = (0..1800)
        .map(|_| {
            let piece = Piece {
                engine_rpm: d.between(800.0, 3200.0),
                vehicle_load_a: d.between(18.0, 30.0),
                ..DRIVING
            };
            (1.0, piece)
        })
        .collect();
    stretches.push((7200.0, PARKED));
    day(&stretches)
}

/// Days parked with next to nothing drawn in the house.
pub fn parked(days: f64) -> Profile {
    day(&[(86_400.0 * days, Piece { house_load_w: 0.3, ..PARKED })])
}
