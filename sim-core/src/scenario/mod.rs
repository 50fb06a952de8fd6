//! What a user writes: sections of keys with units in their names, every value with its origin.
//!
//! All problems are reported at once. Units are the user's here; [`crate::resolve`] makes SI of them.

pub mod calendar;
mod conversion;
pub mod drive;
pub mod engine_side;
pub mod field;
pub mod head;
pub mod house_side;
pub mod key;
pub mod layers;
pub mod limits;
pub mod list_path;
pub mod node;
pub mod old_names;
pub mod physics;
pub mod problem;
pub(crate) mod section;
pub mod stand_ins;
pub mod unit_side;
pub mod warning;

pub use field::{Num, Nums, Origin, Text};
pub use head::FORMAT;
pub use problem::{Problem, ProblemKind};
pub use section::Section;
pub use warning::{Warning, WarningKind};

use calendar::{Calendar, CalendarSpec, DayDriveSpec, DaySpec, DuringSpec, LayUpSpec, SeasonSpec};
use drive::{DriveSpec, PieceSpec};
use engine_side::{AlternatorSpec, GearsSpec, StarterBatterySpec, VehicleSpec};
use head::HeadSpec;
use house_side::{
    HouseBatterySpec, HouseMainsSpec, HouseSolarSpec, HouseSpec, ProtectionSpec, StarterSolarSpec,
};
use limits::LimitsSpec;
use list_path::numbered;
use node::{Entry, Node, Value};
use physics::PhysicsSpec;
use unit_side::{ConverterSpec, InputCableSpec, OutputCableSpec, StagesSpec, StartStopSpec};

/// A whole scenario.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Scenario {
    /// Title of every page and picture.
    pub name: String,
    /// What it is about.
    pub about: String,
    /// `[alternator]`
    pub alternator: AlternatorSpec,
    /// `[vehicle]`
    pub vehicle: VehicleSpec,
    /// `[starter_battery]`
    pub starter_battery: StarterBatterySpec,
    /// `[input_cable]`
    pub input_cable: InputCableSpec,
    /// `[converter]`
    pub converter: ConverterSpec,
    /// `[start_stop]`
    pub start_stop: StartStopSpec,
    /// `[stages]`
    pub stages: StagesSpec,
    /// `[output_cable]`
    pub output_cable: OutputCableSpec,
    /// `[house_battery]`
    pub house_battery: HouseBatterySpec,
    /// `[house]`
    pub house: HouseSpec,
    /// `[house_solar]`
    pub house_solar: HouseSolarSpec,
    /// `[house_mains]`
    pub house_mains: HouseMainsSpec,
    /// `[starter_solar]`
    pub starter_solar: StarterSolarSpec,
    /// `[protection]`
    pub protection: ProtectionSpec,
    /// `[physics]`
    pub physics: PhysicsSpec,
    /// `[gears]`
    pub gears: GearsSpec,
    /// `[limits]`
    pub limits: LimitsSpec,
    /// `[drive]`
    pub drive: DriveSpec,
    /// `[[drive.piece]]`
    pub pieces: Vec<PieceSpec>,
    /// `[calendar]`, in place of pieces.
    pub calendar: Option<Calendar>,
}

/// A drive file that a scenario names.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedFile<'a> {
    /// Its number, as [`crate::resolve::resolve`] asks for it.
    pub number: usize,
    /// Path of the key that names it.
    pub key: String,
    /// The path as written.
    pub file: &'a Text,
    /// Zone of wall-clock stamps that carry none.
    pub zone: Option<&'a Text>,
}

impl Scenario {
    /// The drive files that it names, by number: pieces in order, or the drives of a calendar's days in order.
    pub fn drive_files(&self) -> Vec<NamedFile<'_>> {
        let pieces = self.pieces.iter().enumerate().filter_map(|(number, piece)| {
            let key = format!("{}.file", numbered("drive.piece", number));
            piece.file.as_ref().map(|file| NamedFile { number, key, file, zone: piece.zone.as_ref() })
        });
        let drives = self.calendar.iter().flat_map(|c| c.drives().enumerate());
        let drives = drives.filter_map(|(number, (path, drive))| {
            let key = format!("{path}.file");
            drive.file.as_ref().map(|file| NamedFile { number, key, file, zone: drive.zone.as_ref() })
        });
        if self.calendar.is_some() { drives.collect() } else { pieces.collect() }
    }
}

/// Calls a macro with every plain section: field and type.
macro_rules! for_each_section {
    ($call:ident) => {
        $call! {
            alternator: AlternatorSpec, vehicle: VehicleSpec, starter_battery: StarterBatterySpec,
            input_cable: InputCableSpec, converter: ConverterSpec, start_stop: StartStopSpec, stages: StagesSpec,
            output_cable: OutputCableSpec, house_battery: HouseBatterySpec, house: HouseSpec,
            house_solar: HouseSolarSpec, house_mains: HouseMainsSpec, starter_solar: StarterSolarSpec,
            protection: ProtectionSpec, physics: PhysicsSpec, gears: GearsSpec, limits: LimitsSpec
        }
    };
}

macro_rules! section_names {
    ($($field:ident: $ty:ty),+) => {
        /// Names of the plain sections, in the order of the print.
        pub const SECTIONS: &[&str] = &[$(stringify!($field)),+];

        /// Names of the sections behind the plain ones: the drive, the calendar and their lists.
        pub const DRIVE_SECTIONS: &[&str] = &[
            "drive",
            "drive.piece",
            "calendar",
            "calendar.day",
            "calendar.day.drive",
            "calendar.day.during",
            "calendar.season",
            "calendar.lay_up",
        ];

        /// Keys of a section by its name; the head under the empty name, those of [`DRIVE_SECTIONS`] included.
        pub fn keys_of(section: &str) -> Option<Vec<key::Key>> {
            described(section).map(|(_, keys)| keys)
        }

        /// What a section describes, by the names of [`keys_of`].
        pub fn doc_of(section: &str) -> Option<&'static str> {
            described(section).map(|(doc, _)| doc)
        }

        fn described(section: &str) -> Option<(&'static str, Vec<key::Key>)> {
            match section {
                "" => Some((HeadSpec::doc(), HeadSpec::keys())),
                $(stringify!($field) => Some((<$ty>::doc(), <$ty>::keys())),)+
                "drive" => Some((DriveSpec::doc(), DriveSpec::keys())),
                "drive.piece" => Some((PieceSpec::doc(), PieceSpec::keys())),
                "calendar" => Some((CalendarSpec::doc(), CalendarSpec::keys())),
                "calendar.day" => Some((DaySpec::doc(), DaySpec::keys())),
                "calendar.day.drive" => Some((DayDriveSpec::doc(), DayDriveSpec::keys())),
                "calendar.day.during" => Some((DuringSpec::doc(), DuringSpec::keys())),
                "calendar.season" => Some((SeasonSpec::doc(), SeasonSpec::keys())),
                "calendar.lay_up" => Some((LayUpSpec::doc(), LayUpSpec::keys())),
                _ => None,
            }
        }

        impl Scenario {
            fn read_sections(&mut self, entries: &[Entry], problems: &mut Vec<Problem>) {
                let find = |name: &str| entries.iter().find(|e| e.key == name).map(|e| &e.node);
                $(self.$field = <$ty>::read(find(stringify!($field)), stringify!($field), problems);)+
                if self.physics.effects.value == "none" {
                    $(self.$field.make_plain();)+
                }
            }

            /// Values that their keys do not take: what was read has none, what was set in code may.
            pub(crate) fn check(&self) -> Vec<Problem> {
                let mut problems = Vec::new();
                $(self.$field.check(stringify!($field), &mut problems);)+
                self.drive.check("drive", &mut problems);
                for (n, piece) in self.pieces.iter().enumerate() {
                    piece.check(&numbered("drive.piece", n), &mut problems);
                }
                self.calendar.iter().for_each(|calendar| calendar.check(&mut problems));
                problems
            }

            /// Keys that nothing reads here, by section and name: nobody needs to measure their defaults.
            pub(crate) fn unused(&self) -> Vec<String> {
                let mut unused = Vec::new();
                let mut of = |section: &str, keys: Vec<&str>| {
                    unused.extend(keys.into_iter().map(|key| format!("{section}.{key}")));
                };
                $(of(stringify!($field), <$ty>::unused(self));)+
                of("drive", DriveSpec::unused(self));
                of("calendar", CalendarSpec::unused(self));
                of("calendar.day.drive", DayDriveSpec::unused(self));
                unused
            }

            /// Visits every number of the plain sections: path, unit, value.
            pub fn each_number(&self, visit: &mut dyn FnMut(String, key::Unit, &Num)) {
                $(self.$field.each_number(&mut |name, unit, num| {
                    visit(format!("{}.{name}", stringify!($field)), unit, num);
                });)+
                self.drive.each_number(&mut |name, unit, num| visit(format!("drive.{name}"), unit, num));
                for (n, piece) in self.pieces.iter().enumerate() {
                    let path = numbered("drive.piece", n);
                    piece.each_number(&mut |name, unit, num| visit(format!("{path}.{name}"), unit, num));
                }
                if let Some(calendar) = &self.calendar {
                    calendar.each_number(visit);
                }
            }
        }
    };
}
for_each_section!(section_names);

impl Scenario {
    /// Reads a scenario from a tree of values.
    ///
    /// # Errors
    /// Every problem found, in the order of the text.
    pub fn read(root: &Node) -> Result<Scenario, Vec<Problem>> {
        let (scenario, problems) = Scenario::read_all(root);
        if problems.is_empty() { Ok(scenario) } else { Err(problems) }
    }

    /// Reads what can be read: the scenario, with defaults where something is wrong, and every problem found.
    pub fn read_all(root: &Node) -> (Scenario, Vec<Problem>) {
        let mut problems = Vec::new();
        let mut scenario = Scenario::default();
        if let Some(entries) = root.entries() {
            read_head(&mut scenario, entries, root, &mut problems);
            scenario.read_sections(entries, &mut problems);
            read_drive(&mut scenario, entries, root, &mut problems);
        } else {
            let kind = ProblemKind::Syntax("a scenario is a table of sections".into());
            problems.push(Problem { path: String::new(), place: Some(root.place), kind, help: None });
        }
        problems.sort_by_key(|p| p.place);
        (scenario, problems)
    }
}

fn read_head(scenario: &mut Scenario, entries: &[Entry], root: &Node, problems: &mut Vec<Problem>) {
    let head = HeadSpec::of(entries, root.place, problems);
    scenario.name = head.name.map(|t| t.value).unwrap_or_default();
    scenario.about = head.about.map(|t| t.value).unwrap_or_default();
    let mut known: Vec<&str> = HeadSpec::keys().iter().map(|k| k.name).collect();
    known.extend(["drive", "calendar"]);
    known.extend(SECTIONS);
    for entry in entries {
        match entry.key.as_str() {
            "link" => problems.push(Problem {
                path: "link".into(),
                place: Some(entry.key_place),
                kind: ProblemKind::NotSimulated(
                    "more than one link between the two buses is not simulated".into(),
                ),
                help: Some(
                    "describe the one unit in [input_cable], [converter], [start_stop], [stages], [output_cable]"
                        .into(),
                ),
            }),
            key if !known.contains(&key) => {
                problems.push(Problem::unknown("", entry.key_place, key, &known));
            }
            _ => {}
        }
    }
}

fn pieces_of(entries: &[Entry]) -> Option<&Entry> {
    let drive = entries.iter().find(|e| e.key == "drive")?.node.entries()?;
    drive.iter().find(|e| e.key == "piece")
}

fn read_drive(scenario: &mut Scenario, entries: &[Entry], root: &Node, problems: &mut Vec<Problem>) {
    let missing = |place| {
        Problem {
        path: "drive".into(),
        place: Some(place),
        kind: ProblemKind::Missing { what: "[[drive.piece]]".into() },
        help: Some(
            "a drive has at least one piece: a duration and an engine_rpm, or a file; or there is a [calendar]"
                .into(),
        ),
    }
    };
    let calendar = entries.iter().find(|e| e.key == "calendar");
    let pieces = pieces_of(entries);
    // In files that build on others the one on top decides: it has the smaller number.
    let (calendar, pieces_rest) = match (calendar, pieces) {
        (Some(c), Some(p)) if p.key_place.source < c.key_place.source => (None, false),
        (Some(c), Some(p)) if p.key_place.source == c.key_place.source => {
            let what = "a drive is a list of pieces or a calendar, and this file has both".to_owned();
            problems.push(Problem::conflict("calendar", Some(c.key_place), what));
            (Some(c), true)
        }
        (c, p) => (c, c.is_some() && p.is_some()),
    };
    scenario.calendar = calendar.map(|e| Calendar::read(&e.node, problems));
    let Some(entry) = entries.iter().find(|e| e.key == "drive") else {
        if calendar.is_none() {
            problems.push(missing(node::Place { end: root.place.start, ..root.place }));
        }
        return;
    };
    let Value::Table(drive) = &entry.node.value else {
        scenario.drive = DriveSpec::read(Some(&entry.node), "drive", problems);
        return;
    };
    let plain: Vec<Entry> = drive.iter().filter(|e| e.key != "piece").cloned().collect();
    let node = Node { place: entry.node.place, value: Value::Table(plain) };
    scenario.drive = DriveSpec::read(Some(&node), "drive", problems);
    match drive.iter().find(|e| e.key == "piece").map(|e| &e.node) {
        Some(_) if pieces_rest => {}
        Some(Node { value: Value::List(items), .. }) if !items.is_empty() => {
            for (n, item) in items.iter().enumerate() {
                scenario.pieces.push(PieceSpec::read(Some(item), &numbered("drive.piece", n), problems));
            }
        }
        Some(Node { value: Value::List(_), place }) if calendar.is_none() => problems.push(missing(*place)),
        Some(Node { value: Value::List(_), .. }) => {}
        Some(other) => problems.push(Problem {
            path: "drive.piece".into(),
            place: Some(other.place),
            kind: ProblemKind::WrongKind {
                found: other.value.kind(),
                allowed: "a list of pieces, each written [[drive.piece]]".into(),
            },
            help: None,
        }),
        None if calendar.is_none() => problems.push(missing(entry.key_place)),
        None => {}
    }
}
