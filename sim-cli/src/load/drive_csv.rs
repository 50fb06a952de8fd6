//! Drive files: CSV of time and road speed or engine speed, and any of set-point, loads, sun, air.
//!
//! Lines that begin with `#` are comments. Units are in the column names, never guessed.

use sim_core::resolve::DriveFile;
use sim_core::scenario::node::Place;
use sim_core::scenario::problem::guess;
use sim_core::scenario::{Problem, ProblemKind};

/// Columns that are known, with the least and the greatest value taken.
const COLUMNS: [(&str, f64, f64); 8] = [
    ("time_s", -1e10, 1e10),
    ("speed_kmh", 0.0, 400.0),
    ("engine_rpm", 0.0, 10_000.0),
    ("set_point_v", 10.0, 62.0),
    ("vehicle_load_a", 0.0, 500.0),
    ("house_load_w", 0.0, 20_000.0),
    ("house_solar_w", 0.0, 20_000.0),
    ("air_c", -60.0, 80.0),
];
/// Road speed in miles an hour, another name for the second column.
const SPEED_MPH: &str = "speed_mph";
const KM_PER_MILE: f64 = 1.609_344;
/// Most problems told of one file: the rest repeats them.
const MOST: usize = 10;
/// What stands for the rest.
const MORE: &str = "from here on more is wrong in this drive file";

/// Reads a drive file; reports what is wrong by row.
pub fn read_drive(text: &str, source: u16, problems: &mut Vec<Problem>) -> Option<DriveFile> {
    let before = problems.len();
    let mut wrong = |start: u64, end: u64, what: String| {
        if problems.len() - before <= MOST {
            let what = if problems.len() - before == MOST { MORE.to_owned() } else { what };
            let (start, end) = (start.min(text.len() as u64) as u32, end.min(text.len() as u64) as u32);
            problems.push(Problem {
                path: String::new(),
                place: Some(Place { source, start, end }),
                kind: ProblemKind::Drive(what),
                help: None,
            });
        }
    };
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .flexible(true)
        .from_reader(text.as_bytes());
    let names: Vec<String> = match reader.headers() {
        Ok(names) => names.iter().map(str::to_owned).collect(),
        Err(e) => {
            wrong(0, 0, format!("the header cannot be read: {e}"));
            return None;
        }
    };
    let head = reader.position().byte();
    let known: Vec<&str> = COLUMNS.iter().map(|c| c.0).collect();
    let mut places = Vec::new();
    let mut factors = Vec::new();
    for (n, name) in names.iter().enumerate().take(64) {
        // Miles are taken where the column says miles.
        let known_name = if name == SPEED_MPH { "speed_kmh" } else { name.as_str() };
        factors.push(if name == SPEED_MPH { KM_PER_MILE } else { 1.0 });
        match COLUMNS.iter().position(|c| c.0 == known_name) {
            Some(k) if places.contains(&Some(k)) => {
                wrong(0, head, format!("column `{name}` stands there twice"));
                places.push(None);
            }
            Some(k) => places.push(Some(k)),
            None => {
                let guess =
                    guess(name, &known).map(|g| format!(" (did you mean `{g}`?)")).unwrap_or_default();
                let what = format!("unknown column `{name}`{guess}; known are {}", known.join(", "));
                wrong(0, head, format!("{what}, in column {}", n + 1));
                places.push(None);
            }
        }
    }
    if names.len() > 64 {
        wrong(0, head, format!("{} columns; a drive file has at most {}", names.len(), COLUMNS.len()));
        return None;
    }
    if !places.contains(&Some(0)) {
        wrong(0, head, "there is no column `time_s`".into());
        return None;
    }
    let mut columns: [Vec<f64>; COLUMNS.len()] = Default::default();
    let mut rows_read = true;
    let mut record = csv::StringRecord::new();
    loop {
        let start = reader.position().byte();
        match reader.read_record(&mut record) {
            Ok(true) => {}
            Ok(false) => break,
            Err(e) => {
                wrong(start, start + 1, format!("this row cannot be read: {e}"));
                return None;
            }
        }
        let end = reader.position().byte();
        if record.len() != names.len() {
            let what = format!(
                "{} in this row, {} in the header; decimals take a point",
                crate::problems::count(record.len(), "value"),
                names.len()
            );
            wrong(start, end, what);
            rows_read = false;
            continue;
        }
        for ((cell, place), factor) in record.iter().zip(&places).zip(&factors) {
            let Some(k) = *place else { continue };
            let (name, least, most) = COLUMNS[k];
            match cell.parse::<f64>().map(|v| v * factor) {
                Ok(v) if v.is_finite() && v >= least && v <= most => {
                    if k == 0 && columns[0].last().is_some_and(|last| v <= *last) {
                        wrong(start, end, format!("time {v} s does not follow on the row before it"));
                    }
                    columns[k].push(v);
                }
                Ok(v) => {
                    wrong(start, end, format!("{name} is {v}; expected a number from {least} to {most}"));
                    columns[k].push(least);
                }
                Err(_) => {
                    wrong(start, end, format!("{name} is `{cell}`, which is no number"));
                    columns[k].push(least);
                }
            }
        }
    }
    if columns[0].len() < 2 && rows_read {
        wrong(0, text.len() as u64, "a drive file has at least two rows; the last marks the end".into());
    }
    if problems.len() > before {
        return None;
    }
    let [time_s, rest @ ..] = columns;
    let mut rest = rest.into_iter().map(|c| if c.is_empty() { None } else { Some(c) });
    let mut next = || rest.next().flatten();
    Some(DriveFile {
        time_s,
        speed_kmh: next(),
        engine_rpm: next(),
        set_point_v: next(),
        vehicle_load_a: next(),
        house_load_w: next(),
        house_solar_w: next(),
        air_c: next(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn problems_of(text: &str) -> Vec<String> {
        let mut problems = Vec::new();
        read_drive(text, 0, &mut problems);
        problems.iter().map(|p| p.kind.to_string()).collect()
    }

    #[test]
    fn comments_blank_ends_and_crlf_are_read() {
        let mut problems = Vec::new();
        let text = "# origin\r\ntime_s,speed_kmh\r\n0,0\r\n1,3.5\r\n2,7\r\n";
        let drive = read_drive(text, 0, &mut problems).expect("a good file");
        assert!(problems.is_empty());
        assert_eq!(drive.time_s, [0.0, 1.0, 2.0]);
        assert_eq!(drive.speed_kmh, Some(vec![0.0, 3.5, 7.0]));
        assert_eq!(drive.engine_rpm, None);
    }

    #[test]
    fn miles_become_kilometres() {
        let mut problems = Vec::new();
        let drive = read_drive("time_s,speed_mph\n0,0\n1,50\n", 0, &mut problems).expect("a good file");
        assert!((drive.speed_kmh.expect("speeds")[1] - 80.4672).abs() < 1e-9);
        assert_eq!(problems_of("time_s,speed_mph,speed_kmh\n0,0,0\n1,1,1\n").len(), 1);
    }

    #[test]
    fn bad_rows_are_named() {
        assert_eq!(
            problems_of("time_s,speed_kmh\n0,0\n0,1\n")[0],
            "time 0 s does not follow on the row before it"
        );
        assert_eq!(problems_of("time_s,sped_kmh\n0,0\n1,1\n").len(), 1);
        assert!(problems_of("time_s,speed_kmh\n0,NaN\n1,1\n")[0].contains("speed_kmh is NaN"));
        assert!(problems_of("time_s;speed_kmh\n0;0\n").iter().any(|p| p.contains("no column `time_s`")));
        assert!(problems_of("time_s,speed_kmh\n0,0,5\n1,1\n")[0].contains("3 values in this row"));
        assert!(problems_of("time_s,speed_kmh\n0,x\n1,1\n")[0].contains("no number"));
        assert!(problems_of("").iter().any(|p| p.contains("time_s")));
    }
}
