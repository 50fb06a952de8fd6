//! What is worth a second look and stops nothing: data for whoever prints it.

use super::node::Place;

/// One thing that is worth a second look.
#[derive(Debug, Clone, PartialEq)]
pub struct Warning {
    /// Key path of the value to look at.
    pub path: String,
    /// Where it stands, if it stands anywhere.
    pub place: Option<Place>,
    /// What was noticed.
    pub kind: WarningKind,
}

/// What was noticed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum WarningKind {
    /// No piece of the drive has a running engine.
    #[error("the engine never runs in this drive")]
    EngineNeverRuns,
    /// The regulated voltage never gets to turn-on.
    #[error(
        "turn-on at {turn_on_v} V is above {set_point_v} V, the highest set-point of the drive: the unit cannot come on"
    )]
    TurnOnAboveSetPoint {
        /// Turn-on voltage, V.
        turn_on_v: f64,
        /// Highest set-point with the engine running, V.
        set_point_v: f64,
    },
    /// A drive file brings measured volts, and a rule commands the alternator.
    #[error("the file's `volts` are not replayed: a rule commands this alternator's set-point")]
    VoltsNotReplayed,
    /// Turn-off lies below what the starter battery has at rest.
    #[error(
        "turn-off at {turn_off_v} V is below the {rested_v:.2} V of the rested starter battery at the start: the unit \
         can run on after key-off"
    )]
    TurnOffBelowRest {
        /// Turn-off voltage, V.
        turn_off_v: f64,
        /// Rested voltage of the starter battery at its start, V.
        rested_v: f64,
    },
    /// The cable's own drop is wider than the band between the thresholds.
    #[error(
        "the input cable drops {drop_v:.2} V at full current, and turn-on is only {band_v:.2} V above turn-off: the unit can \
         cycle"
    )]
    BandNarrowerThanDrop {
        /// Turn-on minus turn-off voltage, V.
        band_v: f64,
        /// Drop of the input cable at the greatest input current, V.
        drop_v: f64,
    },
    /// The unit gives more than the house battery's capacity in an hour.
    #[error("{unit_a} A into {capacity_ah} Ah is {:.1} times its capacity in an hour", unit_a / capacity_ah)]
    HouseOverOneC {
        /// Output current limit, A.
        unit_a: f64,
        /// Capacity, Ah.
        capacity_ah: f64,
    },
    /// The house battery never stands at the absorption voltage.
    #[error(
        "absorption at {absorption_v} V is out of reach: full, at {unit_a} A, the house battery's model brings the unit to \
         {reached_v:.2} V"
    )]
    AbsorptionOutOfReach {
        /// Absorption voltage, V.
        absorption_v: f64,
        /// Output current limit, A.
        unit_a: f64,
        /// Greatest voltage where the unit measures, with the battery full and the current at its limit, V.
        reached_v: f64,
    },
    /// More volts on a cell than cells are made for.
    #[error("absorption at {absorption_v} V is {cell_v:.2} V a cell")]
    AbsorptionAboveCells {
        /// Absorption voltage, V.
        absorption_v: f64,
        /// Volts of one cell.
        cell_v: f64,
    },
    /// The battery's protection opens before absorption ends.
    #[error(
        "absorption at {absorption_v} V is not below the {high_v:.2} V at which the house battery's protection refuses charge"
    )]
    AbsorptionAboveProtection {
        /// Absorption voltage, V.
        absorption_v: f64,
        /// Voltage at which the protection refuses charge, V.
        high_v: f64,
    },
    /// The unit may draw or give more than a fuse carries.
    #[error("this fuse of {fuse_a} A is smaller than the {unit_a} A that the unit may {does}")]
    FuseUnderLimit {
        /// Rating of the fuse, A.
        fuse_a: f64,
        /// The unit's current limit on that side, A.
        unit_a: f64,
        /// "draw" on the input, "give" on the output.
        does: &'static str,
    },
    /// Steps of a drive file that are too long to be driving.
    #[error(
        "{} of more than {limit_s} s, {hours:.1} h in all, count as parked: before {rows}", gaps(*.count)
    )]
    DriveGapsParked {
        /// How many.
        count: usize,
        /// How long together, h.
        hours: f64,
        /// Longest step that is still driving, s.
        limit_s: f64,
        /// The rows behind them, in words.
        rows: String,
    },
    /// Steps of a drive file that are too long to be driving, the vehicle moving before and after.
    #[error(
        "{} of more than {limit_s} s, {hours:.1} h in all, with the vehicle moving before and after, count as parked all the \
         same, engine off: before {rows}", gaps(*.count)
    )]
    DriveGapsMoving {
        /// How many.
        count: usize,
        /// How long together, h.
        hours: f64,
        /// Longest step that is still driving, s.
        limit_s: f64,
        /// The rows behind them, in words.
        rows: String,
    },
    /// A drive file whose stamps begin after the piece before it ends.
    #[error(
        "its stamps begin {hours:.2} h after the piece before it ends: the time between counts as parked"
    )]
    StampsLaidApart {
        /// By how much, h.
        hours: f64,
    },
    /// A drive file whose stamps begin before the piece before it ends.
    #[error("its stamps begin {hours:.2} h before the piece before it ends, and it is joined on there")]
    StampsNotFollowed {
        /// By how much, h.
        hours: f64,
    },
    /// A drive past midnight that still lasts when the first one of the next day begins.
    #[error(
        "the first drive of day {day} begins {minutes:.1} min before the last one of the day before is over, and holds from there"
    )]
    DrivesOverlap {
        /// The later day, counted from 1.
        day: usize,
        /// By how much, min.
        minutes: f64,
    },
    /// The clock on the wall is put forward or back within a drive file, or between two.
    #[error(
        "the clock is put forward or back before the stamp {from}; times and days are told by the clock of the first row"
    )]
    ClockChanges {
        /// The first stamp by the other clock.
        from: String,
    },
    /// Steps of a drive file that are much longer than usual; the row before each holds.
    #[error("{} in steps of {usual_s:.1} s, {seconds:.0} s in all; the row before each is held: before {rows}", gaps(*.count))]
    DriveHolesHeld {
        /// How many.
        count: usize,
        /// How long together, s.
        seconds: f64,
        /// The usual step, s.
        usual_s: f64,
        /// The rows behind them, in words.
        rows: String,
    },
    /// Rows of a drive file that say again what the row before them says.
    #[error("the same time and the same values again are left out ({count}): {rows}")]
    DriveRowsRepeated {
        /// How many.
        count: usize,
        /// The rows, in words.
        rows: String,
    },
    /// Changes of road speed that no vehicle makes.
    #[error(
        "road speed changes by more than {most_m_per_s2} m/s² from one row to the next ({count}): {rows}"
    )]
    DriveSpeedJumps {
        /// How many.
        count: usize,
        /// Greatest change that passes without a word, m/s².
        most_m_per_s2: f64,
        /// The rows, in words.
        rows: String,
    },
    /// A file of format 1 uses names that have changed.
    #[error("{what}, since format 2")]
    OldNames {
        /// The names, in words.
        what: String,
    },
    /// A cable's whole resistance is typed beside what it would follow from.
    #[error("resistance_mohm is the whole cable: {unused} beside it {} not used", if unused.contains(" and ") { "are" } else { "is" })]
    WholeResistance {
        /// The keys that count for nothing, in words.
        unused: String,
    },
    /// Absorption ends the moment it begins.
    #[error(
        "a tail current of {tail_a} A is not below the output limit of {unit_a} A: absorption ends as it begins"
    )]
    TailAboveLimit {
        /// Tail current, A.
        tail_a: f64,
        /// Output current limit, A.
        unit_a: f64,
    },
}

fn gaps(count: usize) -> String {
    if count == 1 { "1 gap".to_owned() } else { format!("{count} gaps") }
}

impl WarningKind {
    /// What to do about it.
    pub fn advice(&self) -> &'static str {
        match self {
            WarningKind::EngineNeverRuns => {
                "fine for a parked vehicle; otherwise give a piece an engine_rpm above 0. In a drive file, a gap between \
                 samples longer than longest_sample_s counts as parked"
            }
            WarningKind::TurnOnAboveSetPoint { .. } => {
                "measure at the unit's input with the engine at a fast idle; turn-on lies below that reading, and above \
                 the rested starter battery"
            }
            WarningKind::TurnOffBelowRest { .. } => {
                "the starter battery pays for run-on; raise turn-off above its rested voltage, unless a run signal stops \
                 the unit"
            }
            WarningKind::BandNarrowerThanDrop { .. } => {
                "measure the drop across each joint and the cable before touching a threshold: turn-off protects the \
                 starter battery"
            }
            WarningKind::HouseOverOneC { .. } => {
                "look for the greatest charge current on the battery's label; its protection opens above it"
            }
            WarningKind::AbsorptionOutOfReach { .. } => {
                "absorption would never begin nor end, and the count would run past 100 %; check absorption_v, and the \
                 battery's voltages and resistances"
            }
            WarningKind::AbsorptionAboveCells { .. } => {
                "cells of this kind are held at 3.65 V or less; the battery's protection opens above that"
            }
            WarningKind::AbsorptionAboveProtection { .. } => {
                "protection is a last resort, not a control: hold less than it opens at"
            }
            WarningKind::FuseUnderLimit { .. } => {
                "a fuse carries about three quarters of its rating for hours, less in a hot engine bay. Never fit a larger \
                 one than the conductor carries"
            }
            WarningKind::DriveGapsParked { .. } => {
                "right for a log that pauses with the engine; if not, raise drive.longest_sample_s"
            }
            WarningKind::DriveGapsMoving { .. } => {
                "the logger may have been off while the engine ran: raise drive.longest_sample_s to hold the row before, or fill \
                 the rows in"
            }
            WarningKind::StampsLaidApart { .. } => {
                "right for two logs of one vehicle; to join them on, give the second a column time_s in place of its stamps"
            }
            WarningKind::StampsNotFollowed { .. } => {
                "put the pieces in order of time, or give this file a column time_s in place of its stamps"
            }
            WarningKind::VoltsNotReplayed => {
                "lay them beside the prediction; to replay them, write alternator.regulation = \"fixed\""
            }
            WarningKind::DrivesOverlap { .. } => {
                "look at the clock times of both, and at how long the earlier one lasts"
            }
            WarningKind::ClockChanges { .. } => {
                "later times and days are told as before the change; an hour that comes twice is read as the first of the two, \
                 unless it follows on that"
            }
            WarningKind::DriveHolesHeld { .. } => "look whether the logger lost rows while the engine ran",
            WarningKind::DriveRowsRepeated { .. } => "harmless, unless the logger's clock stood still",
            WarningKind::DriveSpeedJumps { .. } => {
                "a lost fix or a wrong unit: check these rows, and the unit in the column's name"
            }
            WarningKind::OldNames { .. } => "read all the same; rename it in the file and write format = 2",
            WarningKind::WholeResistance { .. } => {
                "keep one way: the resistance that was measured, or length, size and joints"
            }
            WarningKind::TailAboveLimit { .. } => "a usual tail current is 0.02 to 0.05 of the capacity",
        }
    }
}
