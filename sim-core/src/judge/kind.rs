//! What can be found, by name.

use crate::logic::Refusal;
use crate::plant::fuse::FusePlace;
use crate::record::Side;
use serde::Serialize;

/// Which cable.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CableOf {
    /// From the starter battery to the unit.
    Input,
    /// From the unit to the house battery.
    Output,
}

/// Which part of a cable.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Section {
    /// In the engine bay.
    Bay,
    /// In the cabin.
    Cabin,
}

/// What a unit that never comes on is short of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Want {
    /// Its run signal.
    Signal,
    /// Volts: its input never reaches turn-on.
    Volts,
    /// Time: its input reaches turn-on, and never for the delay.
    Held,
    /// Longer drives: none lasts much longer than the delay.
    LongerDrives,
}

/// Who feeds the house battery where the unit does not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// The sun.
    Sun,
    /// A mains charger.
    Mains,
}

/// What keeps the unit under its current before the house battery is full.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Taper {
    /// The target voltage: it lies under the battery's own volts when full.
    Target,
    /// The output cable, which takes more of the volts than the battery does.
    Cable,
    /// The battery's own resistance.
    Battery,
}

/// What is found. The order of the variants is the order of gravity among findings of one weight.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Kind {
    /// A conductor grows hotter than its insulation bears.
    ConductorHot {
        /// Which cable.
        cable: CableOf,
        /// Where.
        section: Section,
        /// Whether its insulation was typed; if not, its marking has to be read.
        typed: bool,
    },
    /// Joints grow hotter than they bear, or nearly.
    JointHot {
        /// Of which cable.
        cable: CableOf,
        /// Whether what they bear was typed.
        typed: bool,
    },
    /// A fuse opens.
    FuseOpened {
        /// Which.
        at: FusePlace,
    },
    /// The quickest fuse of its type would have opened; the one that is counted with did not.
    FuseMayOpen {
        /// Which.
        at: FusePlace,
    },
    /// A fuse carries more than its rating.
    FuseOver {
        /// Which.
        at: FusePlace,
    },
    /// Alternator or charger are made for another system voltage than a battery on their bus.
    SystemVoltage {
        /// Which bus.
        side: Side,
    },
    /// A bus stands above what its battery bears.
    BusTooHigh {
        /// Which bus.
        side: Side,
        /// Whether what it bears was typed.
        typed: bool,
    },
    /// The alternator's winding grows hotter than it bears.
    WindingHot,
    /// An engine start is not to be expected.
    StartNotExpected {
        /// Whether nothing on the starter side ran any more before it.
        dead: bool,
    },
    /// The starter battery is drained.
    StarterDrained,
    /// The starter battery holds less than it needs to crank.
    StarterUnderReserve {
        /// Whether the reserve was typed.
        typed: bool,
    },
    /// The unit takes much out of the starter battery with the engine stopped.
    StarterPays,
    /// Each day leaves the starter battery emptier.
    StarterEmptierEachDay,
    /// It does not come on in any drive.
    NeverComesOn {
        /// For want of what.
        want: Want,
    },
    /// It drops out again and again on its input voltage, to the end of a drive.
    KeepsDroppingOut,
    /// It drops out on its input voltage and stays off for long with the engine running.
    StaysOff,
    /// Stops of the engine keep it off for most of a drive.
    StopsKeepItOff,
    /// It drops out beyond the first minutes of a drive, and is steady at its end.
    DropsOutAtFirst,
    /// It stays on for too long after a key-off.
    RunsOn,
    /// It comes on with the engine stopped.
    ComesOnParked,
    /// A limit of the user's is broken.
    LimitBroken {
        /// Its key in `[limits]`.
        key: &'static str,
    },
    /// It gives less, or nothing, because it is hot.
    LimitedByHeat {
        /// Whether it locks itself out.
        locks: bool,
    },
    /// The house battery refuses charge with the engine running.
    Refused {
        /// Why.
        why: Refusal,
    },
    /// It goes back from float to a new charge again and again.
    StagesCycle,
    /// The house loads are shed, though the battery is not flat: they are too heavy for it.
    LoadsShed,
    /// The house battery is flat, and its loads are shed.
    HouseFlat,
    /// It comes on, and most of the driving is over by then.
    OnTooLate,
    /// A fuse carries so much of its rating for hours that it grows hot.
    FuseLoaded {
        /// Which.
        at: FusePlace,
    },
    /// The target voltage holds the unit back long before the house battery is full.
    TapersEarly {
        /// What takes the volts.
        by: Taper,
    },
    /// Absorption ends by time alone: the house load keeps the current over the tail current, the battery being full.
    LoadHidesTail,
    /// The float voltage is about as high as absorption: charge never really ends.
    FloatHigh,
    /// Driving leaves the starter battery emptier.
    StarterLosesDriving,
    /// Driving does not charge the house battery.
    NoGain,
    /// The house battery loses over the whole time, and gains nothing while driving.
    Loses,
    /// The house battery gains while driving and loses overall.
    GainsOnlyDriving,
    /// It drops out and comes back in the first minutes of a drive, and then stays on.
    StartUpCycles,
    /// It drops out where the drive offers less, and is back soon.
    DropsOutOnLess,
    /// The starter battery is left emptier.
    StarterEmptier,
    /// The house battery is fed by something else, and the drive adds next to nothing.
    FedBy {
        /// By what.
        source: Source,
    },
    /// The house battery is full before it begins.
    FullAlready,
    /// The drive tops up the house battery.
    TopsUp,
}

impl Kind {
    /// Place in the order of gravity, the gravest first.
    pub fn gravity(&self) -> u8 {
        match self {
            Kind::FuseOpened { .. } => 0,
            Kind::ConductorHot { .. } => 1,
            Kind::JointHot { .. } => 2,
            Kind::FuseMayOpen { .. } => 3,
            Kind::FuseOver { .. } => 4,
            Kind::SystemVoltage { .. } => 5,
            Kind::BusTooHigh { .. } => 6,
            Kind::StartNotExpected { .. } => 7,
            Kind::StarterDrained => 8,
            Kind::StarterUnderReserve { .. } => 9,
            Kind::NeverComesOn { .. } => 10,
            Kind::KeepsDroppingOut => 11,
            Kind::StaysOff => 12,
            Kind::StopsKeepItOff => 13,
            Kind::LimitedByHeat { .. } => 14,
            Kind::Refused { .. } => 15,
            Kind::StagesCycle => 16,
            Kind::DropsOutAtFirst => 17,
            Kind::RunsOn => 18,
            Kind::ComesOnParked => 19,
            Kind::StarterPays => 20,
            Kind::StarterEmptierEachDay => 21,
            Kind::LoadsShed => 22,
            Kind::HouseFlat => 23,
            Kind::LimitBroken { .. } => 24,
            Kind::OnTooLate => 25,
            Kind::NoGain => 26,
            Kind::Loses => 27,
            Kind::WindingHot => 28,
            Kind::FuseLoaded { .. } => 29,
            Kind::TapersEarly { .. } => 30,
            Kind::LoadHidesTail => 31,
            Kind::FloatHigh => 32,
            Kind::StarterLosesDriving => 33,
            Kind::GainsOnlyDriving => 34,
            Kind::StartUpCycles => 35,
            Kind::DropsOutOnLess => 36,
            Kind::StarterEmptier => 37,
            Kind::FedBy { .. } => 38,
            Kind::FullAlready => 39,
            Kind::TopsUp => 40,
        }
    }

    /// A stable short word for tables.
    pub fn word(&self) -> &'static str {
        match self {
            Kind::ConductorHot { .. } => "cable hot",
            Kind::JointHot { .. } => "joint hot",
            Kind::FuseOpened { .. } => "fuse opens",
            Kind::FuseMayOpen { .. } => "fuse may open",
            Kind::FuseOver { .. } => "fuse overloaded",
            Kind::SystemVoltage { .. } => "wrong system voltage",
            Kind::BusTooHigh { .. } => "volts too high",
            Kind::WindingHot => "alternator hot",
            Kind::StartNotExpected { .. } => "no start expected",
            Kind::StarterDrained => "starter drained",
            Kind::StarterUnderReserve { .. } => "starter battery low",
            Kind::StarterPays => "starter battery pays",
            Kind::StarterEmptierEachDay => "starter emptier daily",
            Kind::NeverComesOn { want: Want::LongerDrives } => "drives too short",
            Kind::NeverComesOn { .. } => "never comes on",
            Kind::KeepsDroppingOut => "keeps dropping out",
            Kind::StaysOff => "stays off",
            Kind::StopsKeepItOff => "stops keep it off",
            Kind::DropsOutAtFirst => "drops out at first",
            Kind::RunsOn => "runs on",
            Kind::ComesOnParked => "comes on parked",
            Kind::LimitBroken { .. } => "limit broken",
            Kind::LimitedByHeat { .. } => "limited by heat",
            Kind::Refused { .. } => "charge refused",
            Kind::StagesCycle => "stages cycle",
            Kind::LoadsShed => "loads shed",
            Kind::HouseFlat => "house battery flat",
            Kind::OnTooLate => "on too late",
            Kind::FuseLoaded { .. } => "fuse loaded",
            Kind::TapersEarly { by: Taper::Target } => "target voltage low",
            Kind::TapersEarly { by: Taper::Cable } => "output cable drops much",
            Kind::TapersEarly { by: Taper::Battery } => "house battery takes little",
            Kind::LoadHidesTail => "load hides tail current",
            Kind::FloatHigh => "float too high",
            Kind::StarterLosesDriving => "driving drains starter",
            Kind::NoGain => "no gain",
            Kind::Loses => "loses",
            Kind::GainsOnlyDriving => "gains only while driving",
            Kind::StartUpCycles => "start-up cycles",
            Kind::DropsOutOnLess => "drops out on less",
            Kind::StarterEmptier => "starter left emptier",
            Kind::FedBy { source: Source::Sun } => "fed by the sun",
            Kind::FedBy { source: Source::Mains } => "fed by the mains",
            Kind::FullAlready => "full already",
            Kind::TopsUp => "tops up",
        }
    }
}
