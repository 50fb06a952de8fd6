//! The resolved model: SI, validated, immutable, nothing optional.

use crate::network::Sense;
use crate::plant::alternator::Alternator;
use crate::plant::battery::Battery;
use crate::plant::converter::Loss;
use crate::plant::run::Run;
use crate::time::Instant;

/// One vehicle.
#[derive(Debug, Clone, PartialEq)]
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
    pub house_solar: SolarRegulator,
    /// What joins the two buses. One link is simulated.
    pub links: Vec<Link>,
}

impl Model {
    /// The only link that is simulated so far.
    pub fn link(&self) -> &Link {
        &self.links[0]
    }
}

/// The vehicle's own loads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vehicle {
    /// Extra current while cranking, A.
    pub crank_a: f64,
    /// How long an engine start cranks, s.
    pub crank_s: f64,
}

/// A solar regulator as a source on its bus.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SolarRegulator {
    /// Set-point, V.
    pub set_v: f64,
    /// Resistance between regulator and battery posts, Ω.
    pub droop_ohm: f64,
}

/// A converter with its two runs and its rules.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Link {
    /// Starter battery to the unit's input terminals.
    pub input_run: Run,
    /// The power stage.
    pub converter: Converter,
    /// When it comes on and drops out.
    pub start_stop: StartStop,
    /// What it charges to.
    pub stages: Stages,
    /// The unit's output terminals to the house battery.
    pub output_run: Run,
}

/// The converter's power stage and case.
#[derive(Debug, Clone, Copy, PartialEq)]
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
    /// Heat released by the case per kelvin above the air, W/K.
    pub case_w_per_k: f64,
}

/// When the unit comes on and drops out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StartStop {
    /// Input voltage that, held, starts the unit, V.
    pub turn_on_v: f64,
    /// How long it must be held, s.
    pub turn_on_delay_s: f64,
    /// Input voltage under which, held, it stops, V.
    pub turn_off_v: f64,
    /// How long it must be held, s.
    pub turn_off_delay_s: f64,
}

/// Charge stages.
#[derive(Debug, Clone, Copy, PartialEq)]
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
}

/// Conditions over one stretch of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// Beginning.
    pub start: Instant,
    /// End.
    pub end: Instant,
    /// Engine speed, rpm; zero is a stopped engine.
    pub engine_rpm: f64,
    /// Alternator set-point, V.
    pub set_point_v: f64,
    /// The vehicle's own load, A.
    pub vehicle_load_a: f64,
    /// House load, W.
    pub house_load_w: f64,
    /// Power the sun offers on the house bus, W.
    pub house_solar_w: f64,
    /// Air around battery, unit and runs, °C.
    pub air_c: f64,
}

impl Piece {
    /// Whether the engine turns.
    pub fn engine_runs(&self) -> bool {
        self.engine_rpm > 0.0
    }

    /// True where all conditions are the same as in `other`.
    pub fn same_conditions(&self, other: &Piece) -> bool {
        Piece { start: self.start, end: self.end, ..*other } == *self
    }
}

/// The drive: conditions over time, without gaps.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Profile {
    pieces: Vec<Piece>,
    /// Clock time of the start, seconds after midnight.
    pub start_clock_s: f64,
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
    pub fn new(pieces: Vec<Piece>, start_clock_s: f64) -> Result<Self, ProfileError> {
        if pieces.is_empty() {
            return Err(ProfileError::Empty);
        }
        let mut merged: Vec<Piece> = Vec::with_capacity(pieces.len());
        let mut at = pieces[0].start;
        for (index, piece) in pieces.into_iter().enumerate() {
            if piece.start != at || piece.end <= piece.start {
                return Err(ProfileError::Gap { index });
            }
            at = piece.end;
            match merged.last_mut() {
                Some(last) if last.same_conditions(&piece) => last.end = piece.end,
                _ => merged.push(piece),
            }
        }
        Ok(Profile { pieces: merged, start_clock_s })
    }

    /// The pieces, in order.
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// When the run starts.
    pub fn start(&self) -> Instant {
        self.pieces[0].start
    }

    /// When the run ends.
    pub fn end(&self) -> Instant {
        self.pieces[self.pieces.len() - 1].end
    }

    /// The piece that holds an instant; the last one after the end.
    pub fn index_at(&self, t: Instant) -> usize {
        self.pieces.partition_point(|p| p.end <= t).min(self.pieces.len() - 1)
    }

    /// Engine-running time over the whole profile, s.
    pub fn driving_s(&self) -> f64 {
        self.pieces.iter().filter(|p| p.engine_runs()).map(|p| p.end.since(p.start)).sum()
    }
}
