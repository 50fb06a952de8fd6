//! `--set` words: paths that lead somewhere, nowhere or through a list, and values of any kind.

use crate::mutate::{EVIL, mutated};
use crate::scenario::{judged, program, runs_or_says_why, words};
use sim_tests::dice::Dice;

const GOOD: [&str; 14] = [
    "input_cable.length_m=12",
    "drive.piece.1.engine_rpm=900",
    "house_battery.chemistry=lfp",
    "start_stop.turn_off_v = 12.2",
    "name=\"another\"",
    "physics.effects=none",
    "input_cable.joints_mohm={ measured = 3, plus_minus = 0.5 }",
    "house_solar.power_w=250",
    "converter.output_limit_a=30",
    "drive.air_c=-10",
    "limits.least_house_end_pct=50",
    "starter_battery.start_pct=60",
    "alternator.rated_a=90",
    "gears.kmh_per_1000rpm=[8, 14, 22]",
];

const VAN: &str = "format = 2\n[[drive.piece]]\nduration_min = 5\nengine_rpm = 2000\n[[drive.piece]]\nduration_min = 9\nengine_rpm = 0\n";

/// One to three words on a small scenario.
pub fn one(d: &mut Dice) -> (usize, bool) {
    let seeds = GOOD.map(str::to_owned);
    let said: Vec<String> = (0..1 + d.below(3))
        .map(|_| match d.below(4) {
            0 => d.of(&GOOD).to_owned(),
            // A key as it is, with a value that may not be its own.
            1 => format!("{}={}", words()[d.below(words().len())].trim(), d.of(&EVIL)),
            2 => format!("{}={}", d.of(&GOOD).split('=').next().unwrap_or_default(), d.of(&EVIL)),
            _ => String::from_utf8_lossy(&mutated(&seeds, words(), d)).into_owned(),
        })
        .collect();
    let mut line = vec!["check", "-"];
    // In one word, so that nothing is taken for another option.
    let joined: Vec<String> = said.iter().map(|word| format!("--set={word}")).collect();
    line.extend(joined.iter().map(String::as_str));
    let (exit, out, err) = program(&line, VAN.as_bytes());
    let good = judged(exit, &out, &err);
    if good {
        runs_or_says_why(VAN.as_bytes(), &said);
    }
    (VAN.len() + said.iter().map(String::len).sum::<usize>(), good)
}
