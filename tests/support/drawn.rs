//! Vehicles drawn at random from the full reference van: a part of its numbers is drawn anew, within what one meets.

use crate::dice::Dice;

/// Keys, and the least and the greatest value that is drawn.
const NUMBERS: [(&str, f64, f64); 14] = [
    ("alternator.set_point_v", 13.4, 14.9),
    ("alternator.droop_mohm", 1.5, 12.0),
    ("vehicle.running_load_a", 10.0, 70.0),
    ("starter_battery.start_pct", 30.0, 98.0),
    ("input_cable.length_m", 2.0, 12.0),
    ("input_cable.joints_mohm", 0.5, 14.0),
    ("converter.output_limit_a", 15.0, 50.0),
    ("start_stop.turn_on_v", 13.0, 13.9),
    ("start_stop.turn_off_v", 11.8, 12.9),
    ("start_stop.turn_on_delay_s", 5.0, 600.0),
    ("house_battery.start_pct", 5.0, 99.0),
    ("house.load_w", 5.0, 700.0),
    ("drive.air_c", -15.0, 45.0),
    ("drive.bay_c", 40.0, 95.0),
];

/// What is set on the command line for one vehicle, where each number is drawn anew with this chance.
pub fn sets(dice: &mut Dice, chance: f64) -> Vec<String> {
    let mut set = Vec::new();
    for (key, from, to) in NUMBERS {
        if dice.chance(chance) {
            set.push(format!("{key}={:.3}", dice.between(from, to)));
        }
    }
    set
}
