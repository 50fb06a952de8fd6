//! The drive: pieces of constant conditions and sampled files become one profile.

use super::alternator::set_point;
use super::days;
use super::entry::Entry;
use super::parts::Maker;
use super::phase::Phases;
use super::trace_file::{DriveFile, Gearbox};
use crate::bounds::{self, MOST_DAYS, MOST_PIECES, MOST_ROWS_DRIVEN};
use crate::column::{Column, Numbers};
use crate::model::pieces::Pieces;
use crate::model::{Piece, Profile};
use crate::plant::set_point_rule::Phase;
use crate::scenario::drive::PieceSpec;
use crate::scenario::list_path::numbered;
use crate::scenario::node::Place;
use crate::scenario::problem::{Problem, ProblemKind};
use crate::scenario::{Num, Scenario, Text, Warning, WarningKind};
use crate::time::{DAY_S, Instant};
use std::ops::ControlFlow;
use std::sync::Arc;

/// Longest run that is accepted, s.
const LONGEST_S: f64 = MOST_DAYS * DAY_S;

/// Conditions where nothing else is said.
pub(super) struct Ground<'a> {
    pub(super) scenario: &'a Scenario,
    gearbox: Gearbox,
    /// Set-point of a fixed-voltage alternator with its regulator cold, V.
    set_point_v: f64,
    longest_sample_s: f64,
}

impl Ground<'_> {
    /// Whether what is parked this long is a new drive for a warm engine.
    fn cools(&self, parked_s: f64) -> bool {
        parked_s >= self.scenario.gears.cools_h.value * 3600.0
    }
}

/// When a drive begins.
pub(super) struct Start {
    pub(super) clock_s: f64,
    pub(super) date: Option<jiff::civil::Date>,
    pub(super) weekday: Option<u8>,
}

/// Day of the week of a date, 0 Monday to 6 Sunday.
pub(super) fn weekday(date: jiff::civil::Date) -> u8 {
    date.weekday().to_monday_zero_offset().unsigned_abs()
}

/// How long the engine has stood and, since it was last cold, run.
#[derive(Debug, Clone, Copy)]
pub(super) struct EngineWarmth {
    /// Stopped for, s; an engine at the very start has stood for ever.
    pub(super) stood_s: f64,
    /// Run since it was cold, s.
    pub(super) ran_s: f64,
}

impl Default for EngineWarmth {
    fn default() -> Self {
        EngineWarmth { stood_s: f64::INFINITY, ran_s: 0.0 }
    }
}

impl EngineWarmth {
    /// Books a stretch.
    pub(super) fn book(&mut self, runs: bool, seconds: f64, ground: &Ground) {
        if !runs {
            self.stood_s += seconds;
            return;
        }
        if ground.cools(self.stood_s) {
            self.ran_s = 0.0;
        }
        self.stood_s = 0.0;
        self.ran_s += seconds;
    }

    /// Whether the engine, running at this moment, has run for as long as it takes to warm up.
    fn warm(&self, ground: &Ground) -> bool {
        let ran_s = if ground.cools(self.stood_s) { 0.0 } else { self.ran_s };
        ran_s >= ground.scenario.gears.warm_up_min.value * 60.0
    }
}

/// Stretches of conditions one after the other, before they have a place in time. A log says the same thing row after
/// row: neighbours that are alike are one from the start, so that what is held is what changes.
#[derive(Default)]
pub(super) struct Laid {
    /// One after the other from zero.
    pieces: Pieces,
    /// The row that made the last piece what it is so far begins there.
    last_row: Instant,
    /// How far into each of the pieces before that its last row begins, ns.
    last_row_ns: Column<i64>,
    /// Together, s.
    seconds: f64,
    /// Rows of drive files gone through.
    rows: u64,
}

impl Laid {
    /// Adds a stretch; the last that can be, where it breaks off.
    fn push(&mut self, seconds: f64, piece: Piece) -> ControlFlow<()> {
        self.add(seconds, piece);
        let room = self.pieces.len() <= MOST_PIECES && self.seconds <= LONGEST_S;
        if room { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
    }

    fn add(&mut self, seconds: f64, piece: Piece) {
        self.seconds += seconds;
        let length = Instant::ZERO.plus_s(seconds);
        if length <= Instant::ZERO {
            return;
        }
        let start = self.pieces.end();
        let before = self.pieces.last();
        let longer = self.pieces.push(&Piece { start, end: start.plus_ns(length.ns()), ..piece });
        if let Some(before) = before.filter(|_| !longer) {
            self.last_row_ns.push(self.last_row.ns() - before.start.ns());
        }
        self.last_row = start;
    }

    /// In their places, so many times over, and cut at midnight where the engine runs on more than one day.
    fn placed(mut self, times: usize, start_clock_s: f64) -> Box<dyn Iterator<Item = Piece>> {
        if let Some(last) = self.pieces.last() {
            self.last_row_ns.push(self.last_row.ns() - last.start.ns());
        }
        let Laid { pieces, last_row_ns, .. } = self;
        let long_ns = pieces.end().ns();
        let count = pieces.len();
        let place = move |n: usize| {
            let (piece, by_ns) = (pieces.at(n % count), (n / count) as i64 * long_ns);
            Piece { start: piece.start.plus_ns(by_ns), end: piece.end.plus_ns(by_ns), ..piece }
        };
        let driven = (0..count * times).map(|n| (place(n), n)).filter(|(p, _)| p.engine_runs());
        let begins = driven.flat_map(|(p, n)| [p.start, p.start.plus_ns(last_row_ns.at(n % count))]);
        let several = days::several(begins, start_clock_s);
        let placed = (0..count * times).map(place);
        if several {
            Box::new(placed.flat_map(move |p| days::parts(p, start_clock_s)))
        } else {
            Box::new(placed)
        }
    }
}

impl Maker<'_> {
    pub(super) fn profile(
        &mut self,
        s: &Scenario,
        files: &dyn Fn(usize) -> Option<Arc<DriveFile>>,
    ) -> Option<Profile> {
        let start_clock_s = self.clock(s);
        let gears = &s.gears.kmh_per_1000rpm;
        if gears.value.is_empty() || gears.value.windows(2).any(|w| w[1] <= w[0]) {
            let what = "gears are listed from low to high, at least one".to_owned();
            self.problems.push(Problem::conflict("gears.kmh_per_1000rpm", gears.place(), what));
            return None;
        }
        let shifts = self.was_read("gears.shift_down_rpm", &s.gears.shift_down_rpm)
            && self.was_read("gears.shift_up_rpm", &s.gears.shift_up_rpm);
        if s.gears.shift_down_rpm.value >= s.gears.shift_up_rpm.value && shifts {
            let what = "shifting down must happen at a lower engine speed than shifting up".to_owned();
            self.conflict("gears.shift_down_rpm", Some(&s.gears.shift_down_rpm), what);
        }
        let ground = Ground {
            scenario: s,
            gearbox: Gearbox::new(&s.gears),
            set_point_v: set_point(s).cold_v,
            longest_sample_s: s.drive.longest_sample_s.value,
        };
        if let Some(calendar) = &s.calendar {
            return self.calendar(calendar, &ground, files);
        }
        let mut once = Laid::default();
        let mut engine = EngineWarmth::default();
        let stamp_of = |n: usize, spec: &PieceSpec| spec.file.as_ref().and_then(|_| files(n)?.stamp);
        // The first log that says when it begins, and where in the drive that is.
        let mut known: Option<(super::Stamp, f64)> = None;
        for (n, spec) in s.pieces.iter().enumerate() {
            if let Some(stamp) = stamp_of(n, spec) {
                let (first, at_s) = *known.get_or_insert((stamp, once.seconds));
                let later_s = at_s + stamp.after_s(&first) - once.seconds;
                if !self.follows(n, spec, (&first, &stamp), later_s, &ground) {
                    break;
                }
                if later_s > ground.longest_sample_s {
                    engine.book(false, later_s, &ground);
                    // What the piece says holds in it, and not before.
                    once.add(later_s, ground.conditions(&PieceSpec::default(), &Sample::default()));
                }
            }
            // A long file can be named any number of times: stop before memory and time do.
            if let ControlFlow::Break(at) = self.piece(n, spec, &ground, files, &mut engine, &mut once) {
                self.too_long(
                    &numbered("drive.piece", n),
                    at,
                    (once.seconds, once.pieces.len() as f64, once.rows),
                );
                return None;
            }
        }
        let repeat = s.drive.repeat.value;
        if repeat.fract() != 0.0 {
            self.conflict("drive.repeat", Some(&s.drive.repeat), "repeat is a whole number".into());
        }
        let total_s = once.seconds * repeat;
        let count = once.pieces.len() as f64 * repeat;
        if total_s > LONGEST_S || count > MOST_PIECES as f64 {
            self.too_long("drive.repeat", s.drive.repeat.place(), (total_s, count, 0));
        }
        if !self.problems.is_empty() || !self.read.is_empty() {
            return None;
        }
        // A log that carries its own clock says when the drive begins, unless somebody typed that.
        let typed = s.drive.start_clock.place().is_some();
        let known = known.map(|(stamp, at_s)| stamp.earlier(at_s));
        let date = known.and_then(|k| k.1);
        let start = Start {
            clock_s: known.filter(|_| !typed).map_or(start_clock_s, |k| k.0),
            date,
            weekday: date.map(weekday),
        };
        let long_ns = once.pieces.end().ns() * repeat as i64;
        let long_s = Instant::from_ns(long_ns).as_s();
        let pieces = once.placed(repeat as usize, start.clock_s);
        self.entries.push(Entry::derived("drive.duration_s", long_s, "s", "sum of its pieces".into()));
        self.finished(pieces, &start)
    }

    /// Tells of the key at which a drive is longer than is simulated: by its time, its pieces or its rows.
    fn too_long(&mut self, path: &str, place: Option<Place>, (seconds, pieces, rows): (f64, f64, u64)) {
        let what = if rows > MOST_ROWS_DRIVEN {
            bounds::passed("rows of drive files", MOST_ROWS_DRIVEN, rows)
        } else {
            format!(
                "the drive comes to {:.0} days and {pieces:.0} pieces here; at most {MOST_DAYS} days and {MOST_PIECES} pieces \
                 are simulated",
                seconds / DAY_S
            )
        };
        self.problems.push(Problem::conflict(path, place, what));
    }

    /// Tells of a log that does not begin where the piece before it ends, by its own stamps, or by another clock than the
    /// first; says whether it can be laid there.
    fn follows(
        &mut self,
        n: usize,
        spec: &PieceSpec,
        (first, stamp): (&super::Stamp, &super::Stamp),
        later_s: f64,
        ground: &Ground,
    ) -> bool {
        let place = spec.file.as_ref().and_then(|f| f.place());
        let path = format!("{}.file", numbered("drive.piece", n));
        if later_s > LONGEST_S {
            let what = format!(
                "its stamps begin on {}, {:.0} days after the piece before it ends; at most {MOST_DAYS} days are simulated",
                stamp.date,
                later_s / DAY_S
            );
            self.problems.push(Problem::conflict(&path, place, what));
            return false;
        }
        if stamp.utc_offset_s != first.utc_offset_s {
            let kind = WarningKind::ClockChanges { from: stamp.date.to_string() };
            self.warnings.push(Warning { path: path.clone(), place, kind });
        }
        if later_s.abs() > ground.longest_sample_s {
            let hours = later_s.abs() / 3600.0;
            let kind = if later_s > 0.0 {
                WarningKind::StampsLaidApart { hours }
            } else {
                WarningKind::StampsNotFollowed { hours }
            };
            self.warnings.push(Warning { path, place, kind });
        }
        true
    }

    /// The profile of pieces that follow on each other.
    pub(super) fn finished(
        &mut self,
        pieces: impl IntoIterator<Item = Piece>,
        start: &Start,
    ) -> Option<Profile> {
        match Profile::new(pieces, start.clock_s) {
            Ok(mut profile) => {
                (profile.weekday, profile.date) = (start.weekday, start.date);
                Some(profile)
            }
            Err(e) => {
                self.conflict("drive", None, e.to_string());
                None
            }
        }
    }

    fn clock(&mut self, s: &Scenario) -> f64 {
        let text = &s.drive.start_clock;
        let parsed = text.value.split_once(':').and_then(|(h, m)| {
            let (h, m): (u32, u32) = (h.trim().parse().ok()?, m.trim().parse().ok()?);
            (h < 24 && m < 60).then_some(f64::from(h * 3600 + m * 60))
        });
        parsed.unwrap_or_else(|| {
            let what = format!("`{}` is no clock time; write it like \"08:00\"", text.value);
            self.problems.push(Problem::conflict("drive.start_clock", text.place(), what));
            0.0
        })
    }

    fn piece(
        &mut self,
        n: usize,
        spec: &PieceSpec,
        ground: &Ground,
        files: &dyn Fn(usize) -> Option<Arc<DriveFile>>,
        engine: &mut EngineWarmth,
        out: &mut Laid,
    ) -> ControlFlow<Option<Place>> {
        let path = numbered("drive.piece", n);
        let durations: Vec<(&Num, f64)> = [
            (spec.duration_s.as_ref(), 1.0),
            (spec.duration_min.as_ref(), 60.0),
            (spec.duration_h.as_ref(), 3600.0),
        ]
        .into_iter()
        .filter_map(|(d, unit)| d.map(|d| (d, unit)))
        .collect();
        match (&spec.file, durations.as_slice()) {
            (None, [(duration, unit)]) => {
                let seconds = duration.value * unit;
                let Some(rpm) = &spec.engine_rpm else {
                    if !self.syntax && !self.was_told(&path) {
                        let what = "a piece says its `engine_rpm`; 0 is a stopped engine".to_owned();
                        self.conflict(&path, Some(duration), what);
                    }
                    return ControlFlow::Continue(());
                };
                let sample = Sample { rpm: rpm.value, ..Sample::default() };
                engine.book(rpm.value > 0.0, seconds, ground);
                return out.push(seconds, ground.conditions(spec, &sample)).map_break(|()| duration.place());
            }
            (Some(_), []) => {
                // Whoever reads files has reported a file that cannot be used.
                let Some(file) = files(n) else { return ControlFlow::Continue(()) };
                self.says_speed(&path, spec.file.as_ref(), &file);
                if file.volts.is_some() && ground.scenario.alternator.regulation.value != "fixed" {
                    let place = spec.file.as_ref().and_then(|f| f.place());
                    self.warnings.push(Warning {
                        path: format!("{path}.file"),
                        place,
                        kind: WarningKind::VoltsNotReplayed,
                    });
                }
                let place = || spec.file.as_ref().and_then(|f| f.place());
                out.rows += file.time_s.len() as u64;
                if out.rows > MOST_ROWS_DRIVEN {
                    return ControlFlow::Break(place());
                }
                let each = |seconds, sample: Sample| out.push(seconds, ground.conditions(spec, &sample));
                return ground.drive_samples(&file, engine, each).map_break(|()| place());
            }
            // A misspelt duration has been told as an unknown key.
            (None, []) if self.syntax || self.was_told(&path) => {}
            (None, []) => {
                let kind = ProblemKind::Missing { what: "duration_s".into() };
                let help = Some("a piece has a duration in seconds, minutes or hours, or a file".into());
                let place = [&spec.engine_rpm, &spec.set_point_v, &spec.vehicle_load_a, &spec.house_load_w]
                    .iter()
                    .find_map(|f| f.as_ref().and_then(|n| n.place()));
                self.problems.push(Problem { path, place, kind, help });
            }
            (_, [.., (last, _)]) => {
                let what =
                    "a piece has one duration, in seconds, minutes or hours, or a file, and not two of these";
                self.conflict(&path, Some(last), what.into());
            }
        }
        ControlFlow::Continue(())
    }

    /// A drive file says how fast the engine or the vehicle goes.
    pub(super) fn says_speed(&mut self, path: &str, named: Option<&Text>, file: &DriveFile) -> bool {
        let says = file.engine_rpm.is_some() || file.speed_kmh.is_some();
        if !says {
            let place = named.and_then(|f| f.place());
            let what = "a drive file has a column speed_kmh or engine_rpm".to_owned();
            self.problems.push(Problem::conflict(path, place, what));
        }
        says
    }
}

impl Ground<'_> {
    /// The set-point that shows the volts of a log at the posts while the alternator carries the vehicle's own load, V; a rule
    /// lets nobody else have a say.
    fn replayed_v(&self, file: &DriveFile, k: usize, runs: bool) -> Option<f64> {
        let s = self.scenario;
        let replays = runs && s.alternator.regulation.value == "fixed";
        let volts = file.volts.as_ref().filter(|_| replays)?.at(k);
        let load_a = file.vehicle_load_a.as_ref().map_or(s.vehicle.running_load_a.value, |a| a.at(k));
        Some(volts + s.alternator.droop_mohm.value * 1e-3 * load_a)
    }

    /// What a drive file says from sample to sample, with the seconds that each lasts, until it is told to break off.
    pub(super) fn drive_samples(
        &self,
        file: &DriveFile,
        engine: &mut EngineWarmth,
        mut each: impl FnMut(f64, Sample) -> ControlFlow<()>,
    ) -> ControlFlow<()> {
        let ground = self;
        let gears = &ground.scenario.gears;
        let speeds = file.speed_kmh.as_ref().map(|v| ground.gearbox.engine_rpm(v.iter()));
        let Some(rpm) = file.engine_rpm.as_ref().or(speeds.as_ref()) else {
            return ControlFlow::Continue(());
        };
        let phases = Phases::new(file, rpm, gears);
        let from_speed = file.engine_rpm.is_none();
        let column = |c: &Option<Numbers>, k: usize| c.as_ref().map(|c| c.at(k));
        let mut standing_since = None;
        for (k, times) in file.time_s.windows(2).enumerate() {
            let seconds = times[1] - times[0];
            let parked = seconds > ground.longest_sample_s;
            let warm = engine.warm(ground);
            let stands = column(&file.speed_kmh, k).is_some_and(|v| v <= 0.0) && !parked;
            let since: f64 = if stands { *standing_since.get_or_insert(times[0]) } else { times[0] };
            if !stands {
                standing_since = None;
            }
            let air_c = column(&file.air_c, k).unwrap_or(ground.scenario.drive.air_c.value);
            let stop_start = stands
                && gears.stop_start.value == "yes"
                && times[0] - since >= gears.stop_after_s.value
                && warm
                && air_c >= gears.stop_from_c.value;
            let runs = rpm.at(k) > 0.0 && !parked && !stop_start;
            // A cold engine idles faster; a measured engine speed says so itself.
            let least_rpm = if from_speed && !warm { gears.fast_idle_rpm.value } else { 0.0 };
            engine.book(runs || stop_start, seconds, ground);
            let sample = Sample {
                rpm: if runs { rpm.at(k).max(least_rpm) } else { 0.0 },
                phase: if runs { phases.at(k) } else { Some(Phase::Idle) },
                stop_start,
                set_point_v: column(&file.set_point_v, k).or_else(|| ground.replayed_v(file, k, runs)),
                vehicle_load_a: column(&file.vehicle_load_a, k).filter(|_| !parked),
                house_load_w: column(&file.house_load_w, k),
                house_solar_w: column(&file.house_solar_w, k),
                air_c: column(&file.air_c, k),
            };
            each(seconds, sample)?;
        }
        ControlFlow::Continue(())
    }
}

/// What the engine does in a piece of constant conditions.
fn phase_of(spec: &PieceSpec, rpm: f64) -> Phase {
    match spec.phase.as_ref().map(|p| p.value.as_str()) {
        Some("cruise") => Phase::Cruise,
        Some("accelerating") => Phase::Accelerating,
        Some("overrun") => Phase::Overrun,
        Some(_) => Phase::Idle,
        None if rpm > 0.0 => Phase::Cruise,
        None => Phase::Idle,
    }
}

/// What a sample says; the piece's own keys stand where it says nothing.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Sample {
    pub(super) rpm: f64,
    pub(super) phase: Option<Phase>,
    pub(super) stop_start: bool,
    pub(super) set_point_v: Option<f64>,
    pub(super) vehicle_load_a: Option<f64>,
    pub(super) house_load_w: Option<f64>,
    pub(super) house_solar_w: Option<f64>,
    pub(super) air_c: Option<f64>,
}

impl Ground<'_> {
    pub(super) fn conditions(&self, spec: &PieceSpec, sample: &Sample) -> Piece {
        let s = self.scenario;
        let pick = |sampled: Option<f64>, own: &Option<Num>, otherwise: f64| {
            sampled.or(own.as_ref().map(|n| n.value)).unwrap_or(otherwise)
        };
        let ignition = sample.rpm > 0.0 || sample.stop_start;
        let vehicle = if ignition { s.vehicle.running_load_a.value } else { s.vehicle.parked_load_a.value };
        let air_c = pick(sample.air_c, &spec.air_c, s.drive.air_c.value);
        Piece {
            engine_rpm: sample.rpm,
            set_point_as_read: sample.set_point_v.is_some() || spec.set_point_v.is_some(),
            set_point_v: pick(sample.set_point_v, &spec.set_point_v, self.set_point_v),
            vehicle_load_a: pick(sample.vehicle_load_a, &spec.vehicle_load_a, vehicle),
            house_load_w: pick(sample.house_load_w, &spec.house_load_w, s.house.load_w.value),
            house_solar_w: pick(sample.house_solar_w, &spec.house_solar_w, s.house_solar.power_w.value),
            air_c,
            bay_c: if sample.rpm > 0.0 { s.drive.bay_c.value.max(air_c) } else { air_c },
            run_signal: match s.start_stop.signal_live.value.as_str() {
                "always" => true,
                "never" => false,
                _ => sample.rpm > 0.0 || sample.stop_start,
            },
            phase: sample.phase.unwrap_or_else(|| phase_of(spec, sample.rpm)),
            mains_a: pick(None, &spec.house_mains_a, s.house_mains.current_a.value),
            // A maintainer's power at its own set-point.
            starter_solar_a: pick(None, &spec.starter_solar_w, s.starter_solar.power_w.value)
                / s.starter_solar.set_point_v.value,
            stop_start: sample.stop_start,
            input_joint_extra_ohm: pick(None, &spec.input_joint_extra_mohm, 0.0) * 1e-3,
            input_open: spec.input_cable.as_ref().is_some_and(|t| t.value == "open"),
            ..Piece::default()
        }
    }
}
