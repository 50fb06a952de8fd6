//! The resolved model: SI, validated, immutable, nothing optional.

use crate::network::Sense;
pub mod pieces;

use crate::plant::alternator::Alternator;
use crate::plant::battery::{Battery, ThermalNode};
use crate::plant::bears::Bears;
use crate::plant::cable::Cable;
use crate::plant::converter::Loss;
use crate::plant::fuse::{Edge, Fuse, FusePlace};
use crate::plant::set_point_rule::Phase;
use crate::time::Instant;
use pieces::Pieces;
use serde::Serialize;

/// One vehicle.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Model {
    /// Alternator and its cable.
    pub alternator: Alternator,
    /// The vehicle's own loads.
    pub vehicle: Vehicle,
    /// The battery that cranks the engine.
    pub starter: Battery,
    /// The battery that serves the house loads.
    pub house: Battery,
    /// Solar regulator on the house bus; its power is a condition of the drive.
    pub house_solar: Regulator,
    /// Mains charger on the house bus; its current is a condition of the drive.
    pub house_mains: Regulator,
    /// Solar regulator or maintainer on the starter bus; its current is a condition of the drive.
    pub starter_solar: Regulator,
    /// The house battery's own protection.
    pub protection: Protection,
    /// When the house loads are shed, whatever the battery's protection does.
    pub house_loads: HouseLoads,
    /// What joins the two buses. One link is simulated.
    pub links: Vec<Link>,
    /// What the parts bear; it changes no run.
    #[serde(skip)] // Judged by, and no number of a run.
    pub bears: Bears,
}

impl Model {
    /// What the alternator's regulator aims at in a piece that goes on until it is as warm as it gets, the starter battery charged, V.
    pub fn settled_set_point_v(&self, piece: &Piece) -> f64 {
        let a = &self.alternator;
        let own_v = match &a.rule {
            Some(rule) => rule.target_v(piece.phase, false, false, piece.air_c, piece.vehicle_load_a),
            None => piece.set_point_v,
        };
        let temp_c = a.regulator.map_or(piece.air_c, |r| r.goal_c(piece.bay_c, piece.engine_runs()));
        own_v + a.shift_v(piece.set_point_as_read, temp_c)
    }

    /// The only link that is simulated so far.
    pub fn link(&self) -> &Link {
        &self.links[0]
    }

    /// The fuses, in the order of [`FusePlace::ALL`].
    pub fn fuses(&self) -> [Option<&Fuse>; FusePlace::ALL.len()] {
        let Link { input_cable, output_cable, .. } = self.link();
        [
            &input_cable.battery_end_fuse,
            &input_cable.unit_end_fuse,
            &output_cable.battery_end_fuse,
            &output_cable.unit_end_fuse,
        ]
        .map(Option::as_ref)
    }

    /// The same vehicle with fuses that open at another edge of their bands: at the late one, what conductors bear.
    #[must_use]
    pub fn opening_at(&self, edge: Edge) -> Model {
        let mut model = self.clone();
        for link in &mut model.links {
            for cable in [&mut link.input_cable, &mut link.output_cable] {
                let fuses = [&mut cable.battery_end_fuse, &mut cable.unit_end_fuse];
                fuses.into_iter().flatten().filter_map(|f| f.opening.as_mut()).for_each(|o| o.at = edge);
            }
        }
        model
    }
}

/// The vehicle's own loads.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Vehicle {
    /// Extra current while cranking, A.
    pub crank_a: f64,
    /// How long an engine start cranks, s.
    pub crank_s: f64,
    /// Extra current after key-off until the vehicle falls asleep, A.
    pub awake_a: f64,
    /// How long after key-off it falls asleep, s.
    pub sleep_after_s: f64,
    /// Posts under which nothing on the starter side runs any more, V; half as much while cranking; 0: no
    /// volts stop it as long as there are some.
    pub drop_out_v: f64,
    /// Posts over which it runs again once something else than the battery can carry it, V.
    pub return_v: f64,
    /// Whether the starter battery lies in the air of the engine bay; else in that outside.
    pub starter_in_bay: bool,
}

/// When the house loads are shed and come back.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HouseLoads {
    /// Volts at the house posts under which they are shed; 0: only where the battery can give no more.
    pub stop_v: f64,
    /// Volts over which they may come back, above `stop_v`.
    pub return_v: f64,
    /// How long they stay shed at least, s; above zero.
    pub hold_s: f64,
}

impl HouseLoads {
    /// No cut-off of their own.
    pub const BARE: HouseLoads = HouseLoads { stop_v: 0.0, return_v: 0.0, hold_s: 60.0 };
}

/// A regulated source on a bus; what it can give at most is a condition of the drive.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Regulator {
    /// Set-point, V.
    pub set_v: f64,
    /// Resistance between regulator and battery posts, Ω.
    pub droop_ohm: f64,
}

/// The house battery's own protection; a threshold that is infinite never acts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Protection {
    /// Charge is refused below this temperature of the battery, °C.
    pub cold_c: f64,
    /// ... and allowed again above this, °C.
    pub cold_release_c: f64,
    /// Charge is refused above this voltage at the posts, V.
    pub high_v: f64,
    /// ... and allowed again below this, V.
    pub high_release_v: f64,
    /// Discharge is refused, and the house loads shed, below this voltage at the posts, V.
    pub low_v: f64,
    /// ... and allowed again above this, V.
    pub low_release_v: f64,
    /// Charge is refused above this current into the battery, A.
    pub over_a: f64,
    /// ... and allowed again after this time, s.
    pub over_release_s: f64,
    /// Power of a heater mat on the battery, W; it is fed from the house bus while charge is refused for cold
    /// and a charger is there.
    pub heater_w: f64,
}

impl Protection {
    /// No protection.
    pub const NONE: Protection = Protection {
        cold_c: f64::NEG_INFINITY,
        cold_release_c: f64::NEG_INFINITY,
        high_v: f64::INFINITY,
        high_release_v: f64::INFINITY,
        low_v: f64::NEG_INFINITY,
        low_release_v: f64::NEG_INFINITY,
        over_a: f64::INFINITY,
        over_release_s: 60.0,
        heater_w: 0.0,
    };
}

/// A converter with its two runs and its rules.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Link {
    /// Starter battery to the unit's input terminals.
    pub input_cable: Cable,
    /// The power stage.
    pub converter: Converter,
    /// When it comes on and drops out.
    pub start_stop: StartStop,
    /// What it charges to.
    pub stages: Stages,
    /// The unit's output terminals to the house battery.
    pub output_cable: Cable,
}

/// The converter's power stage and case.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Converter {
    /// Output current limit, A.
    pub output_limit_a: f64,
    /// Input current limit, A.
    pub input_limit_a: f64,
    /// Input-voltage floor, V; zero where it has none.
    pub floor_v: f64,
    /// Where it measures the voltage that it holds.
    pub sense: Sense,
    /// Loss of the power stage.
    pub loss: Loss,
    /// Time for the output current limit to rise from zero, s.
    pub ramp_s: f64,
    /// Input current while off, A.
    pub standby_a: f64,
    /// Heat capacity of the case, J/K.
    pub case_j_per_k: f64,
    /// Heat released by the case per kelvin above the locker's air, W/K.
    pub case_w_per_k: f64,
    /// The locker's air: heat capacity, and what passes through its walls and vent. Infinite capacity: the open air.
    pub locker: ThermalNode,
    /// Case temperature from which the output current limit falls, °C; infinite: never.
    pub derate_from_c: f64,
    /// Case temperature at which it has fallen to nothing, °C.
    pub derate_to_c: f64,
    /// Case temperature at which the unit locks itself out, °C; infinite: never.
    pub lock_c: f64,
    /// Case temperature under which it may start again, °C.
    pub reclose_c: f64,
}

/// When the unit comes on and drops out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StartStop {
    /// Input voltage that, held, starts the unit, V.
    pub turn_on_v: f64,
    /// How long it must be held, s.
    pub turn_on_delay_s: f64,
    /// Input voltage under which, held, it stops, V.
    pub turn_off_v: f64,
    /// How long it must be held, s.
    pub turn_off_delay_s: f64,
    /// Shortest time off, s.
    pub least_off_s: f64,
    /// What the run signal does.
    pub signal: SignalUse,
    /// Time constant of the filter before the thresholds, s; 0: none.
    pub filter_s: f64,
    /// Input resistance whose drop the unit adds to what it sees, Ω; 0: none.
    pub compensation_ohm: f64,
}

/// What a run signal does.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SignalUse {
    /// There is none: voltage alone decides.
    Ignored,
    /// The unit runs only with the signal, and then by voltage; without it, it stops at once.
    Required,
    /// The signal counts as the turn-on voltage held; voltage alone starts it too.
    Either,
    /// With the signal, a second pair of thresholds counts.
    SecondPair {
        /// Turn-on voltage with the signal, V.
        turn_on_v: f64,
        /// Turn-off voltage with the signal, V.
        turn_off_v: f64,
    },
}

/// Temperature of the house battery at which the charge voltages are what they say, °C.
pub const STAGES_REFERENCE_C: f64 = 25.0;

/// Charge stages.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Stages {
    /// Absorption voltage, also the target in bulk, V.
    pub absorption_v: f64,
    /// Output current under which, held, absorption ends, A.
    pub tail_a: f64,
    /// How long it must be held, s.
    pub tail_hold_s: f64,
    /// Longest absorption, s.
    pub absorption_cap_s: f64,
    /// Float voltage, V.
    pub float_v: f64,
    /// Output voltage under which, held, a new bulk begins, V.
    pub recharge_v: f64,
    /// How long it must be held, s.
    pub recharge_hold_s: f64,
    /// One voltage, no stages: the absorption voltage is held for ever.
    pub fixed_supply: bool,
    /// Whether a turn-on goes on with the stage that a turn-off left.
    pub resume: bool,
    /// Whether the absorption cap counts over restarts, until a float is reached.
    pub cap_cumulative: bool,
    /// Change of absorption and float voltage with the house battery's temperature, V/K, from 25 °C (lead-acid).
    pub v_per_k: f64,
}

/// Conditions over one stretch of time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Piece {
    /// Beginning.
    #[serde(rename = "start_s", serialize_with = "Instant::write_s")]
    pub start: Instant,
    /// End.
    #[serde(rename = "end_s", serialize_with = "Instant::write_s")]
    pub end: Instant,
    /// Engine speed, rpm; zero is a stopped engine.
    pub engine_rpm: f64,
    /// Alternator set-point, V.
    pub set_point_v: f64,
    /// Whether that set-point is as read at the posts, so that compensation with temperature is in it already.
    pub set_point_as_read: bool,
    /// The vehicle's own load, A.
    pub vehicle_load_a: f64,
    /// House load, W.
    pub house_load_w: f64,
    /// Power the sun offers on the house bus, W.
    pub house_solar_w: f64,
    /// Air around batteries, unit and cabin runs, °C.
    pub air_c: f64,
    /// Air in the engine bay, °C.
    pub bay_c: f64,
    /// Whether the run signal is live.
    pub run_signal: bool,
    /// What the engine does, for a set-point rule.
    pub phase: Phase,
    /// Greatest current of the starter side's solar regulator or maintainer, A.
    pub starter_solar_a: f64,
    /// Greatest current of the mains charger on the house bus, A.
    pub mains_a: f64,
    /// Stopped for a moment by stop-start, ignition on: the vehicle does not fall asleep.
    pub stop_start: bool,
    /// Resistance that a joint of the input cable has beyond its own, Ω.
    pub input_joint_extra_ohm: f64,
    /// Whether the input cable is open, as behind a blown fuse: the unit's input stands at nothing.
    pub input_open: bool,
    /// Number of the day, from 0; a run books its ledger by day. Where days are not told apart it stays 0.
    pub day: u32,
}

impl Piece {
    /// A stopped engine, no load, no sun, 20 °C, no duration: a base for struct updates.
    pub const NOTHING: Piece = Piece {
        start: Instant::ZERO,
        end: Instant::ZERO,
        engine_rpm: 0.0,
        set_point_v: 14.2,
        set_point_as_read: false,
        vehicle_load_a: 0.0,
        house_load_w: 0.0,
        house_solar_w: 0.0,
        air_c: 20.0,
        bay_c: 20.0,
        run_signal: false,
        phase: Phase::Idle,
        starter_solar_a: 0.0,
        mains_a: 0.0,
        stop_start: false,
        input_joint_extra_ohm: 0.0,
        input_open: false,
        day: 0,
    };
}

impl Default for Piece {
    fn default() -> Self {
        Piece::NOTHING
    }
}

impl Piece {
    /// Whether the engine turns.
    pub fn engine_runs(&self) -> bool {
        self.engine_rpm > 0.0
    }
}

/// When stop-start leaves the engine running for the sake of the starter battery.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StopRule {
    /// State of charge of the starter battery under which the engine is not stopped, share of full.
    pub least_soc: f64,
    /// Volts at its posts under which a stopped engine is started again, V; 0: never.
    pub restart_v: f64,
    /// Speed at which an engine idles that is not stopped, rpm.
    pub idle_rpm: f64,
    /// Air in the engine bay while it runs, °C, where the air outside is no warmer.
    pub bay_c: f64,
}

impl StopRule {
    /// The conditions of a stop with the engine running.
    pub fn running(&self, stop: &Piece) -> Piece {
        Piece { engine_rpm: self.idle_rpm, bay_c: self.bay_c.max(stop.air_c), stop_start: false, ..*stop }
    }
}

/// The drive: conditions over time, without gaps.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Profile {
    pieces: Pieces,
    /// Clock time of the start, seconds after midnight.
    pub start_clock_s: f64,
    /// Day of the week at the start, 0 Monday to 6 Sunday, where it is known.
    pub weekday: Option<u8>,
    /// Date of the start, where it is known.
    #[serde(serialize_with = "written_date")]
    pub date: Option<jiff::civil::Date>,
}

fn written_date<S: serde::Serializer>(
    date: &Option<jiff::civil::Date>,
    writer: S,
) -> Result<S::Ok, S::Error> {
    date.map(|d| d.to_string()).serialize(writer)
}

/// Why a list of pieces is no profile.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ProfileError {
    /// Nothing to run.
    #[error("a drive needs at least one piece that lasts longer than nothing")]
    Empty,
    /// A piece does not begin where the one before it ends, or lasts no time.
    #[error("piece {index} of the drive does not follow on the one before it")]
    Gap {
        /// Index of the piece, from 0.
        index: usize,
    },
}

impl Profile {
    /// A profile of pieces that follow on each other; neighbours with the same conditions become one.
    ///
    /// # Errors
    /// [`ProfileError`] when the list is empty, leaves a gap, overlaps or holds a piece of no duration.
    pub fn new(from: impl IntoIterator<Item = Piece>, start_clock_s: f64) -> Result<Self, ProfileError> {
        let mut pieces = Pieces::default();
        let mut at = None;
        for (index, piece) in from.into_iter().enumerate() {
            if at.is_some_and(|at| at != piece.start) || piece.end <= piece.start {
                return Err(ProfileError::Gap { index });
            }
            at = Some(piece.end);
            pieces.push(&piece);
        }
        if pieces.is_empty() {
            return Err(ProfileError::Empty);
        }
        pieces.settle();
        Ok(Profile { pieces, start_clock_s, weekday: None, date: None })
    }

    /// The pieces, in order.
    pub fn pieces(&self) -> &Pieces {
        &self.pieces
    }

    /// When the run starts.
    pub fn start(&self) -> Instant {
        self.pieces.start()
    }

    /// When the run ends.
    pub fn end(&self) -> Instant {
        self.pieces.end()
    }

    /// The piece that holds an instant; the last one after the end.
    pub fn index_at(&self, t: Instant) -> usize {
        self.pieces.index_at(t)
    }

    /// What holds at an instant; after the end, what held last.
    pub fn piece_at(&self, t: Instant) -> Piece {
        self.pieces.at(self.index_at(t))
    }

    /// The same drive from one instant to another: what is run when a run is handed on from day to day.
    ///
    /// # Errors
    /// [`ProfileError::Empty`] where the drive has nothing between them.
    pub fn between(&self, from: Instant, to: Instant) -> Result<Profile, ProfileError> {
        let cut = |p: Piece| Piece { start: p.start.max(from), end: p.end.min(to), ..p };
        let (first, last) = (self.index_at(from), self.index_at(to.plus_ns(-1)));
        let inside =
            (first..=last).map(|n| self.pieces.at(n)).filter(|p| p.end > from && p.start < to).map(cut);
        let start_clock_s = self.start_clock_s;
        Ok(Profile { weekday: self.weekday, date: self.date, ..Profile::new(inside, start_clock_s)? })
    }

    /// Engine-running time over the whole profile, s.
    pub fn driving_s(&self) -> f64 {
        self.pieces.iter().filter(|p| p.engine_runs()).map(|p| p.end.since(p.start)).sum()
    }
}

impl Default for Converter {
    /// A unit without losses or limits and without any effect of heat: a base for struct updates.
    fn default() -> Self {
        Converter {
            output_limit_a: f64::MAX,
            input_limit_a: f64::MAX,
            floor_v: 0.0,
            sense: Sense::Terminals,
            loss: Loss { fixed_w: 0.0, proportional: 0.0, square_per_w: 0.0 },
            ramp_s: 0.0,
            standby_a: 0.0,
            case_j_per_k: 900.0,
            case_w_per_k: 1.6,
            locker: ThermalNode::FIXED,
            derate_from_c: f64::INFINITY,
            derate_to_c: f64::INFINITY,
            lock_c: f64::INFINITY,
            reclose_c: f64::INFINITY,
        }
    }
}

impl Default for StartStop {
    /// Voltage alone, no delays, no filter: a base for struct updates.
    fn default() -> Self {
        StartStop {
            turn_on_v: f64::INFINITY,
            turn_on_delay_s: 0.0,
            turn_off_v: 0.0,
            turn_off_delay_s: 0.0,
            least_off_s: 0.0,
            signal: SignalUse::Ignored,
            filter_s: 0.0,
            compensation_ohm: 0.0,
        }
    }
}

impl Default for Stages {
    /// No stage ever ends: a base for struct updates.
    fn default() -> Self {
        Stages {
            absorption_v: f64::INFINITY,
            tail_a: 0.0,
            tail_hold_s: 0.0,
            absorption_cap_s: f64::MAX,
            float_v: 0.0,
            recharge_v: 0.0,
            recharge_hold_s: 0.0,
            fixed_supply: false,
            resume: false,
            cap_cumulative: false,
            v_per_k: 0.0,
        }
    }
}

impl Regulator {
    /// A regulator whose source never gives anything; the droop only keeps its equation regular.
    pub const NONE: Regulator = Regulator { set_v: 0.0, droop_ohm: 1.0 };
}
