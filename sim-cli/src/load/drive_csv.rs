//! Drive files: CSV of time and road speed or engine speed, and any of set-point, loads, sun, air, the
//! engine's load or fuel cut, measured volts.
//!
//! Lines that begin with `#` are comments. Units are in the column names, never guessed. Time is seconds, or a stamp by the
//! clock on the wall whose zone is stated. Rows are read one by one; what is kept of each is its time and where in a table
//! of distinct values each number stands.

use super::drive_rows::{Oddities, Row};
use super::stamps::Stamps;
use crate::bounds::MOST_ROWS;
use sim_core::column::Numbers;
use sim_core::resolve::DriveFile;
use sim_core::scenario::node::Place;
use sim_core::scenario::problem::guess;
use sim_core::scenario::{Problem, ProblemKind, Warning, WarningKind};

/// Columns that are known, with the least and the greatest value taken.
const COLUMNS: [(&str, f64, f64); 11] = [
    ("time_s", -1e10, 1e10),
    ("speed_kmh", 0.0, 400.0),
    ("engine_rpm", 0.0, 10_000.0),
    ("set_point_v", 10.0, 62.0),
    ("vehicle_load_a", 0.0, 500.0),
    ("house_load_w", 0.0, 20_000.0),
    ("house_solar_w", 0.0, 20_000.0),
    ("air_c", -60.0, 80.0),
    ("load_pct", 0.0, 100.0),
    ("fuel_cut", 0.0, 1.0),
    ("volts", 0.0, 62.0),
];
/// Other names of columns, with the factor to the unit kept: the unit is the one in the name.
const OTHERS: [(&str, &str, f64); 4] = [
    ("time_ms", "time_s", 1e-3),
    ("speed_mph", "speed_kmh", 1.609_344),
    ("speed_m_per_s", "speed_kmh", 3.6),
    ("speed_kn", "speed_kmh", 1.852),
];
/// What other programs put between columns.
const SEPARATORS: [(char, &str); 2] = [(';', "semicolons"), ('\t', "tabs")];
/// Wall-clock stamps in place of the first column.
const STAMP: &str = "stamp";
const SPEED: usize = 1;
/// Most problems told of one file: the rest repeats them.
const MOST: usize = 10;
/// What stands for the rest.
const MORE: &str = "from here on more is wrong in this drive file";
/// Most columns of a header that are looked at.
const MOST_COLUMNS: usize = 64;

/// How a drive file is read.
#[derive(Debug, Clone, Copy)]
pub struct Reading<'a> {
    /// Zone of stamps that carry none.
    pub zone: Option<&'a str>,
    /// Longest step that is still driving, s.
    pub longest_sample_s: f64,
    /// Path of the key that names the file.
    pub key: &'a str,
    /// Most rows that are taken.
    pub most_rows: usize,
}

impl Default for Reading<'_> {
    fn default() -> Self {
        Reading { zone: None, longest_sample_s: 30.0, key: "file", most_rows: MOST_ROWS }
    }
}

/// Problems of one file, no more than help.
struct Wrong<'a> {
    text: &'a str,
    source: u32,
    before: usize,
    problems: &'a mut Vec<Problem>,
}

impl Wrong<'_> {
    fn tell(&mut self, start: u64, end: u64, what: String) {
        let told = self.problems.len() - self.before;
        if told > MOST {
            return;
        }
        let what = if told == MOST { MORE.to_owned() } else { what };
        let length = self.text.len() as u64;
        self.problems.push(Problem {
            path: String::new(),
            place: Some(Place {
                source: self.source,
                start: start.min(length) as u32,
                end: end.min(length) as u32,
            }),
            kind: ProblemKind::Drive(what),
            help: None,
        });
    }

    fn any(&self) -> bool {
        self.problems.len() > self.before
    }
}

/// What is kept of the rows.
#[derive(Default)]
struct Columns {
    time_s: Vec<f64>,
    /// The others, in the order of [`COLUMNS`].
    rest: [Numbers; COLUMNS.len() - 1],
}

/// Which column of the file is which of ours, and the factor to its unit.
struct Header {
    names: usize,
    places: Vec<Option<(usize, f64)>>,
    stamped: bool,
}

fn header(names: &[String], end: u64, wrong: &mut Wrong) -> Option<Header> {
    if names.len() > MOST_COLUMNS {
        wrong.tell(0, end, format!("{} columns; a drive file has at most {}", names.len(), COLUMNS.len()));
        return None;
    }
    if let ([one], Some((_, called))) =
        (names, SEPARATORS.iter().find(|s| names.len() == 1 && names[0].contains(s.0)))
    {
        let what = format!(
            "columns are separated by commas and decimals take a point; `{one}` is separated by {called}"
        );
        wrong.tell(0, end, what);
        return None;
    }
    let mut known: Vec<&str> = COLUMNS.iter().map(|c| c.0).collect();
    known.extend(OTHERS.iter().map(|o| o.0));
    known.push(STAMP);
    let mut places: Vec<Option<(usize, f64)>> = Vec::new();
    let mut stamped = false;
    for (n, name) in names.iter().enumerate() {
        let other = OTHERS.iter().find(|o| o.0 == name);
        let (own, factor) = other.map_or((name.as_str(), 1.0), |o| (o.1, o.2));
        let own = if own == STAMP { "time_s" } else { own };
        match COLUMNS.iter().position(|c| c.0 == own) {
            Some(k) if places.iter().flatten().any(|p| p.0 == k) => {
                wrong.tell(0, end, format!("column `{name}` stands there twice"));
                places.push(None);
            }
            Some(k) => {
                stamped |= name == STAMP;
                places.push(Some((k, factor)));
            }
            None => {
                let guess =
                    guess(name, &known).map(|g| format!(" (did you mean `{g}`?)")).unwrap_or_default();
                let what = format!("unknown column `{name}`{guess}; known are {}", known.join(", "));
                wrong.tell(0, end, format!("{what}, in column {}", n + 1));
                places.push(None);
            }
        }
    }
    if !places.iter().flatten().any(|p| p.0 == 0) {
        wrong.tell(0, end, "there is no column `time_s`, nor one of wall-clock times, `stamp`".into());
        return None;
    }
    Some(Header { names: names.len(), places, stamped })
}

/// Reads a drive file; reports what is wrong by row, and what is odd as warnings.
pub fn read_drive(
    text: &str,
    source: u32,
    how: &Reading,
    problems: &mut Vec<Problem>,
    warnings: &mut Vec<Warning>,
) -> Option<DriveFile> {
    let before = problems.len();
    let mut wrong = Wrong { text, source, before, problems };
    let mut reader = reader_of(text);
    let names: Vec<String> = match reader.headers() {
        Ok(names) => names.iter().map(str::to_owned).collect(),
        Err(e) => {
            wrong.tell(0, 0, format!("the header cannot be read: {e}"));
            return None;
        }
    };
    let head = reader.position().byte();
    let header = header(&names, head, &mut wrong)?;
    let mut stamps = match Stamps::new(how.zone) {
        Ok(stamps) => stamps,
        Err(what) => {
            wrong.tell(0, head, what);
            return None;
        }
    };
    let mut oddities = Oddities::new(how.longest_sample_s);
    let mut columns = Columns::default();
    let mut rows_read = true;
    let mut record = csv::StringRecord::new();
    loop {
        let at = reader.position().byte();
        let row = match next(&mut reader, &mut record) {
            Ok(Some(row)) => row,
            Ok(None) => break,
            Err(e) => {
                wrong.tell(at, at + 1, format!("this row cannot be read: {e}"));
                return None;
            }
        };
        if record.len() != header.names {
            let what = format!(
                "{} in this row, {} in the header; decimals take a point",
                crate::problems::count(record.len(), "value"),
                header.names
            );
            wrong.tell(row.start, row.end, what);
            rows_read = false;
            continue;
        }
        let values = cells(&record, &header, &row, &mut stamps, &mut wrong);
        rows_read &= values[0].is_some();
        keep(&values, &row, &mut columns, &mut oddities, &mut wrong);
        if columns.time_s.len() > how.most_rows {
            let what = format!(
                "the drive files of a scenario have more than {MOST_ROWS} rows up to here, the most that are read"
            );
            wrong.tell(row.start, row.end, what);
            return None;
        }
        // Rows behind a full list of problems would only fill memory.
        if wrong.problems.len() - before > MOST {
            return None;
        }
    }
    if columns.time_s.len() < 2 && rows_read {
        wrong.tell(0, text.len() as u64, "a drive file has at least two rows; the last marks the end".into());
    }
    if wrong.any() {
        return None;
    }
    let rows = |wanted: &[usize]| rows_at(text, &header, how.zone, wanted);
    oddities.warnings((how.key, source), &columns.time_s, rows, warnings);
    if let Some(from) = stamps.changed.take() {
        warnings.push(Warning {
            path: how.key.to_owned(),
            place: None,
            kind: WarningKind::ClockChanges { from },
        });
    }
    let Columns { mut time_s, rest } = columns;
    time_s.shrink_to_fit();
    let mut rest = rest.into_iter().map(|mut c| {
        c.settle();
        (!c.is_empty()).then_some(c)
    });
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
        load_pct: next(),
        fuel_cut: next(),
        volts: next(),
        stamp: stamps.start,
    })
}

fn reader_of(text: &str) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .flexible(true)
        .from_reader(text.as_bytes())
}

/// Reads the next record and says where it stands.
fn next(reader: &mut csv::Reader<&[u8]>, record: &mut csv::StringRecord) -> csv::Result<Option<Row>> {
    let at = reader.position().clone();
    if !reader.read_record(record)? {
        return Ok(None);
    }
    let line = record.position().map_or(at.line(), csv::Position::line);
    let start = record.position().map_or(at.byte(), csv::Position::byte);
    Ok(Some(Row { line, start, end: reader.position().byte() }))
}

/// Where some rows of a good file stand, by their rising numbers among those kept. Their places are not held while it is
/// read, since few are asked for of millions.
fn rows_at(text: &str, header: &Header, zone: Option<&str>, wanted: &[usize]) -> Vec<Row> {
    let (mut reader, mut record) = (reader_of(text), csv::StringRecord::new());
    let Ok(mut stamps) = Stamps::new(zone) else { return Vec::new() };
    let times = header.places.iter().enumerate().find_map(|(n, p)| p.filter(|p| p.0 == 0).map(|p| (n, p.1)));
    let (place, factor) = times.unwrap_or((0, 1.0));
    let (mut found, mut number, mut last) = (Vec::new(), 0, None);
    while let (Ok(Some(row)), true) = (next(&mut reader, &mut record), found.len() < wanted.len()) {
        let cell = record.get(place).unwrap_or_default();
        let at = if header.stamped {
            stamps.seconds(cell).ok()
        } else {
            cell.parse::<f64>().ok().map(|t| t * factor)
        };
        if number > 0 && at == last {
            continue;
        }
        if wanted[found.len()] == number {
            found.push(row);
        }
        (number, last) = (number + 1, at);
    }
    found
}

/// The values of a row in the order of [`COLUMNS`]; what is wrong is told, and the least stands in for it.
fn cells(
    record: &csv::StringRecord,
    header: &Header,
    row: &Row,
    stamps: &mut Stamps,
    wrong: &mut Wrong,
) -> [Option<f64>; COLUMNS.len()] {
    let mut values = [None; COLUMNS.len()];
    for (cell, place) in record.iter().zip(&header.places) {
        let Some((k, factor)) = *place else { continue };
        let (name, least, most) = COLUMNS[k];
        if k == 0 && header.stamped {
            let read = stamps.seconds(cell).map_err(|what| wrong.tell(row.start, row.end, what));
            values[k] = read.ok();
            continue;
        }
        let value = match cell.parse::<f64>().map(|v| v * factor) {
            Ok(v) if v.is_finite() && v >= least && v <= most => v,
            Ok(v) => {
                wrong.tell(
                    row.start,
                    row.end,
                    format!("{name} is {v}; expected a number from {least} to {most}"),
                );
                least
            }
            Err(_) => {
                wrong.tell(row.start, row.end, format!("{name} is `{cell}`, which is no number"));
                least
            }
        };
        values[k] = Some(value);
    }
    values
}

/// Keeps a row that follows on the one before it.
fn keep(
    values: &[Option<f64>; COLUMNS.len()],
    row: &Row,
    columns: &mut Columns,
    oddities: &mut Oddities,
    wrong: &mut Wrong,
) {
    let Some(t) = values[0] else { return };
    if let Some(last) = columns.time_s.last().copied() {
        let before = |k: usize| columns.rest[k - 1].last();
        let same = (1..COLUMNS.len()).all(|k| values[k] == before(k));
        if t == last && same {
            return oddities.repeat(row);
        }
        if t <= last {
            let what = if t == last {
                format!("time {t} s stands there twice, with other values")
            } else {
                format!("time {t} s does not follow on the row before it, at {last} s")
            };
            wrong.tell(row.start, row.end, what);
        } else {
            oddities.step(row, t - last, before(SPEED).zip(values[SPEED]));
        }
    }
    columns.time_s.push(t);
    for (column, value) in columns.rest.iter_mut().zip(&values[1..]) {
        value.iter().for_each(|v| column.push(*v));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str, problems: &mut Vec<Problem>) -> Option<DriveFile> {
        read_drive(text, 0, &Reading::default(), problems, &mut Vec::new())
    }

    fn warnings_of(text: &str) -> Vec<String> {
        let (mut problems, mut warnings) = (Vec::new(), Vec::new());
        read_drive(text, 0, &Reading::default(), &mut problems, &mut warnings).expect("a good file");
        warnings.iter().map(|w| w.kind.to_string()).collect()
    }

    fn problems_of(text: &str) -> Vec<String> {
        let mut problems = Vec::new();
        read(text, &mut problems);
        problems.iter().map(|p| p.kind.to_string()).collect()
    }

    #[test]
    fn other_separators_are_told_as_such() {
        for (text, called) in
            [("time_s;speed_kmh\n0;0,5\n", "semicolons"), ("time_s\tspeed_kmh\n0\t1\n", "tabs")]
        {
            let told = problems_of(text);
            assert!(told.len() == 1 && told[0].contains(called), "{told:?}");
        }
    }

    #[test]
    fn comments_blank_ends_and_crlf_are_read() {
        let mut problems = Vec::new();
        let text = "# origin\r\ntime_s,speed_kmh\r\n0,0\r\n1,3.5\r\n2,7\r\n";
        let drive = read(text, &mut problems).expect("a good file");
        assert!(problems.is_empty());
        assert_eq!(drive.time_s, [0.0, 1.0, 2.0]);
        assert_eq!(drive.speed_kmh, Some([0.0, 3.5, 7.0].into_iter().collect()));
        assert_eq!(drive.engine_rpm, None);
    }

    #[test]
    fn miles_become_kilometres() {
        let mut problems = Vec::new();
        let drive = read("time_s,speed_mph\n0,0\n1,50\n", &mut problems).expect("a good file");
        assert!((drive.speed_kmh.expect("speeds").at(1) - 80.4672).abs() < 1e-9);
        assert_eq!(problems_of("time_s,speed_mph,speed_kmh\n0,0,0\n1,1,1\n").len(), 1);
    }

    #[test]
    fn bad_rows_are_named() {
        assert_eq!(
            problems_of("time_s,speed_kmh\n0,0\n0,1\n")[0],
            "time 0 s stands there twice, with other values"
        );
        assert_eq!(problems_of("time_s,sped_kmh\n0,0\n1,1\n").len(), 1);
        assert!(problems_of("time_s,speed_kmh\n0,NaN\n1,1\n")[0].contains("speed_kmh is NaN"));
        assert!(problems_of("t,speed_kmh\n0,0\n").iter().any(|p| p.contains("no column `time_s`")));
        assert!(problems_of("time_s,speed_kmh\n0,0,5\n1,1\n")[0].contains("3 values in this row"));
        assert!(problems_of("time_s,speed_kmh\n0,x\n1,1\n")[0].contains("no number"));
        assert!(problems_of("").iter().any(|p| p.contains("time_s")));
    }

    #[test]
    fn holes_repeats_and_jumps_are_told_by_row() {
        let mut text = String::from("# a log\ntime_s,speed_kmh\n");
        for t in 0..20 {
            text.push_str(&format!("{t},50\n"));
        }
        text.push_str("19,50\n20,50\n28,50\n29,51\n30,120\n31,119\n7231,0\n7232,0\n");
        let told = warnings_of(&text);
        assert_eq!(told.len(), 4, "{told:#?}");
        assert!(
            told[0].contains("1 gap") && told[0].contains("2.0 h") && told[0].contains("row 29"),
            "{}",
            told[0]
        );
        assert!(told[1].contains("row 25") && told[1].contains("1.0 s"), "{}", told[1]);
        assert!(told[2].contains("row 23"), "{}", told[2]);
        assert!(told[3].contains("row 27"), "{}", told[3]);
        assert!(warnings_of("time_s,speed_kmh\n0,0\n1,0\n2,3\n").is_empty());
        let back = "time_s,speed_kmh\n0,0\n5,1\n4,1\n";
        assert_eq!(problems_of(back)[0], "time 4 s does not follow on the row before it, at 5 s");
    }

    #[test]
    fn stamps_start_the_clock() {
        let mut problems = Vec::new();
        let text = "stamp,engine_rpm\n2026-03-02T07:59:30Z,800\n2026-03-02T07:59:31Z,900\n";
        let drive = read(text, &mut problems).expect("a good file");
        assert_eq!(drive.time_s, [0.0, 1.0]);
        assert_eq!(drive.stamp.map(|s| (s.clock_s, s.date.day())), Some((28_770.0, 2)));
        assert!(
            problems_of("stamp,engine_rpm\n2026-03-02 07:59:30,800\n2026-03-02 07:59:31,1\n")[0]
                .contains("zone")
        );
        assert!(problems_of("stamp,time_s,engine_rpm\n2026-03-02T07:59:30Z,0,800\n")[0].contains("twice"));
    }
}
