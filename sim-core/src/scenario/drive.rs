//! What a scenario says of the drive: pieces of constant conditions, or sampled files.

use super::field::{Num, Text};
use super::key::{Unit, choice, number, text};
use super::section::section;

section! {
    /// `[drive]`: what holds for the whole drive.
    DriveSpec {
        /// Clock time of the start, "hh:mm".
        start_clock: Text = text().or_word("08:00", "invented"),
        /// Temperature of the air, °C, where a piece says nothing else.
        air_c: Num = number(Unit::C, -60.0, 80.0).or(20.0, "the temperature that tables name"),
        /// Temperature in the engine bay with the engine running, °C; parked it is that of the air.
        bay_c: Num = number(Unit::C, -60.0, 150.0).or(60.0, "from memory, 50 to 90 °C"),
        /// How often the list of pieces is driven.
        repeat: Num = number(Unit::One, 1.0, 1000.0).or(1.0, "once"),
        /// Longest step between samples of a drive file that is still driving, s; a longer gap is parked.
        longest_sample_s: Num = number(Unit::S, 0.001, 86400.0).or(30.0, "invented"),
    }
    read {
        [bay_c] if |s| {
            s.input_cable.laying.value != "constant"
                || s.alternator.derate_pct_per_k.value != 0.0
                || s.starter_battery.place.value == "bay"
                || s.alternator.regulator_warms()
        },
        [repeat] if |_| false,
        [longest_sample_s] if |s| s.has_files(),
    }
}

section! {
    /// `[[drive.piece]]`: a stretch of constant conditions, or a drive file.
    PieceSpec {
        /// How long it lasts, s. One duration is given, in seconds, minutes or hours.
        duration_s: Option<Num> = number(Unit::S, 0.001, 1e9),
        /// How long it lasts, min.
        duration_min: Option<Num> = number(Unit::Min, 0.001, 1e7),
        /// How long it lasts, h.
        duration_h: Option<Num> = number(Unit::H, 0.0001, 1e6),
        /// A CSV file of time and road speed or engine speed, in place of a duration; its path counts from this file. Further
        /// columns: `set_point_v`, `vehicle_load_a`, `house_load_w`, `house_solar_w`, `air_c`; `load_pct` or `fuel_cut` (1 or 0) of
        /// the engine, for a variable set-point; `volts` measured at the starter posts, which a fixed one then replays.
        file: Option<Text> = text(),
        /// Engine speed, rpm; 0 is a stopped engine.
        engine_rpm: Option<Num> = number(Unit::Rpm, 0.0, 10000.0),
        /// Alternator set-point during this piece, V, as read at that temperature: it is not compensated again.
        set_point_v: Option<Num> = number(Unit::V, 10.0, 62.0),
        /// Current of the vehicle's own loads during this piece, A.
        vehicle_load_a: Option<Num> = number(Unit::A, 0.0, 500.0),
        /// House load during this piece, W.
        house_load_w: Option<Num> = number(Unit::W, 0.0, 20000.0),
        /// Power that the sun offers on the house bus during this piece, W.
        house_solar_w: Option<Num> = number(Unit::W, 0.0, 20000.0),
        /// Temperature of the air during this piece, °C.
        air_c: Option<Num> = number(Unit::C, -60.0, 80.0),
        /// Greatest current of the mains charger during this piece, A.
        house_mains_a: Option<Num> = number(Unit::A, 0.0, 1000.0),
        /// Power that the starter side's solar regulator or maintainer offers during this piece, W.
        starter_solar_w: Option<Num> = number(Unit::W, 0.0, 2000.0),
        /// What the engine does in this piece, for a variable set-point.
        phase: Option<Text> = choice(&["idle", "cruise", "accelerating", "overrun"]),
        /// Resistance that a joint of the input cable has beyond its own during this piece, mΩ: one that opens up warm.
        input_joint_extra_mohm: Option<Num> = number(Unit::MilliOhm, 0.0, 1000.0),
        /// Zone of wall-clock stamps in the file that carry none: a place name of the time-zone database, or "+01:00".
        zone: Option<Text> = text(),
        /// Whether the input cable is whole during this piece, or open as behind a blown fuse.
        input_cable: Option<Text> = choice(&["whole", "open"]),
        /// What this piece is, in words.
        label: Option<Text> = text(),
    }
}
