//! Drive files: read, and what is read is what the run takes for granted.

use crate::mutate::mutated;
use crate::scenario::folder;
use sim_cli::load::{Reading, read_drive};
use sim_tests::dice::Dice;
use std::sync::OnceLock;

fn seeds() -> &'static [String] {
    static SEEDS: OnceLock<Vec<String>> = OnceLock::new();
    SEEDS.get_or_init(|| {
        let head = |f: &str| {
            let text = std::fs::read_to_string(folder().join("drives").join(f)).expect("a shipped drive");
            text.lines().take(40).fold(String::new(), |all, line| all + line + "\n")
        };
        let mut all: Vec<String> = ["stop-and-go.csv", "pulsing-set-point.csv", "udds.csv"].map(head).into();
        all.push("time_s,engine_rpm,set_point_v,vehicle_load_a,house_load_w,house_solar_w,air_c\n0,900,14.2,10,5,0,20\n60,0,14.2,1,5,9,20\n".into());
        all.push("# with a mark and the line ends of another system\r\ntime_s,speed_mph\r\n0,0\r\n5,30\r\n".into());
        all.push("time_s;speed_kmh\n0;0\n1,5;10\n".into());
        all
    })
}

/// One drive file.
pub fn one(d: &mut Dice) -> (usize, bool) {
    let words =
        ["time_s", "speed_kmh", "speed_mph", "engine_rpm", "\"", "\"\"", ",,,", "nan", "inf", "1e400", "0,5"];
    let mut bytes = mutated(seeds(), &words.map(str::to_owned), d);
    // Wide or long, as an export gone wrong is.
    if d.once_in(200) {
        bytes.extend(b",x".repeat(50_000));
    }
    // Bytes that are no text do not come as far as the reader.
    let text = String::from_utf8_lossy(&bytes);
    let mut problems = Vec::new();
    let drive = read_drive(&text, 0, &Reading::default(), &mut problems, &mut Vec::new());
    assert_eq!(drive.is_none(), !problems.is_empty(), "read or told, one of the two: {problems:?}");
    assert!(problems.len() <= 11, "{} problems of one file", problems.len());
    for problem in &problems {
        let place = problem.place.expect("a place");
        assert!(place.start <= place.end && place.end as usize <= text.len(), "{problem:?}");
    }
    let Some(drive) = drive else { return (text.len(), false) };
    let t = &drive.time_s;
    assert!(t.len() >= 2 && t.windows(2).all(|w| w[0] < w[1]), "{t:?}");
    let columns = [
        &drive.speed_kmh,
        &drive.engine_rpm,
        &drive.set_point_v,
        &drive.vehicle_load_a,
        &drive.house_load_w,
        &drive.house_solar_w,
        &drive.air_c,
    ];
    for column in columns.into_iter().flatten() {
        assert_eq!(column.len(), t.len());
        assert!(column.iter().all(|x| x.is_finite()), "{column:?}");
    }
    (text.len(), true)
}
