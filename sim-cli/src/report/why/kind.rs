//! Kinds in words.

use super::Depth;
use sim_core::explain::Kind;

/// A kind's name, as the glossary defines it.
pub fn name(kind: Kind) -> &'static str {
    match kind {
        Kind::OwnDrop => "voltage drop in the input cable",
        Kind::StartUp => "start-up cycles",
        Kind::WeakSource => "weak alternator or alternator cable",
        Kind::SetPoint => "alternator voltage that comes and goes",
        Kind::SurfaceCharge => "surface charge",
        Kind::RestedOverTurnOn => "turn-on below rested volts",
        Kind::Sun => "sun on the starter battery",
        Kind::Heat => "heat",
        Kind::Protection => "battery protection",
        Kind::StopStart => "stop-start",
        Kind::StageCycling => "stages that start over",
        Kind::Signal => "run signal lost",
        Kind::OpenCable => "open input cable",
    }
}

/// What a kind is, to somebody who hears of it for the first time.
pub fn plain(kind: Kind, depth: Depth) -> &'static str {
    let customer = depth == Depth::Customer;
    match kind {
        Kind::OwnDrop if customer => {
            "The cable to the unit loses too many volts when the unit works. The unit takes that for a stopped engine and drops \
             out."
        }
        Kind::OwnDrop => {
            "Voltage drop in the input cable: the unit's own current pulls its input below turn-off. Without the current the \
             drop is gone."
        }
        Kind::StartUp if customer => {
            "After a start the van's own battery has to come up first. Until then the unit drops out and tries again. It stops \
             by itself."
        }
        Kind::StartUp => {
            "Start-up cycles: just above turn-on there is no room for the drop that the unit makes. Once the starter battery has \
             risen there is. It ends by itself."
        }
        Kind::WeakSource if customer => {
            "The alternator cannot give what the van and the unit ask together. The volts fall, and the unit drops out."
        }
        Kind::WeakSource => {
            "Weak alternator or alternator cable: the volts fall at the starter battery already, before the input cable. \
             Alternator, belt, its cable or the engine's strap cannot carry what is asked."
        }
        Kind::SetPoint if customer => {
            "The van's alternator turns its voltage down while driving. The unit takes that for a stopped engine."
        }
        Kind::SetPoint => {
            "Alternator voltage that comes and goes: the alternator is told to hold fewer volts. With those the unit cannot stay \
             on. Nothing in the wiring changed."
        }
        Kind::SurfaceCharge if customer => {
            "After the engine is stopped the van's battery reads high for a while. That brings the unit on again and again."
        }
        Kind::SurfaceCharge => {
            "Surface charge: after key-off the starter battery stays above turn-on although nothing charges it. Each time the \
             unit comes on it takes some of that away, until it is gone."
        }
        Kind::RestedOverTurnOn if customer => {
            "The unit is set to come on at volts that the van's battery has even when nobody drives. So it empties it."
        }
        Kind::RestedOverTurnOn => {
            "Turn-on below rested volts: even the rested starter battery is above turn-on. Only the unit's own drop ever stops \
             it, and it comes on again until the battery is down."
        }
        Kind::Sun if customer => {
            "The solar panel on the van's battery lifts its volts as a running engine would. The unit comes on while the van is \
             parked."
        }
        Kind::Sun => {
            "Sun on the starter battery: what charges it while parked lifts the unit's input above turn-on, as an engine would. \
             The panel cannot carry the unit, so the volts fall and it drops out."
        }
        Kind::Heat if customer => "The unit becomes too hot and switches itself off until it has cooled.",
        Kind::Heat => {
            "Heat: the unit's case reaches its lock-out. It stays off until it has cooled to its reclose temperature. Then it \
             waits for turn-on."
        }
        Kind::Protection if customer => "The house battery protects itself and refuses charge.",
        Kind::Protection => {
            "Battery protection: the house battery refuses charge. The unit stays on and carries the load alone. Its output is at \
             the target at once, which can end the charge early."
        }
        Kind::StopStart if customer => {
            "The engine stops again and again. Each time the unit waits anew before it charges."
        }
        Kind::StopStart => {
            "Stop-start: each engine stop takes the unit off, and each start costs the turn-on delay anew."
        }
        Kind::StageCycling if customer => {
            "The unit keeps starting a new charge although the house battery is full."
        }
        Kind::StageCycling => {
            "Stages that start over: in float the output falls below the recharge voltage. So a new charge begins each time one \
             has ended."
        }
        Kind::Signal if customer => "The wire that tells the unit that the engine runs comes and goes.",
        Kind::Signal => {
            "Run signal lost: it went away while the engine ran. Without it the unit stops at once, whatever its volts."
        }
        Kind::OpenCable if customer => "The cable to the unit is broken, or its fuse has blown.",
        Kind::OpenCable => {
            "Open input cable: the unit's input is dead while the starter posts are live. Fuse, lug or cable is open."
        }
    }
}

/// Why it happens again and again, where that is part of what it is.
pub fn again(kind: Kind, depth: Depth) -> Option<&'static str> {
    match (kind, depth) {
        (Kind::OwnDrop, Depth::Customer) => Some("A moment later it tries again."),
        (Kind::OwnDrop, _) => Some("The input rises above turn-on, and the unit comes on again."),
        _ => None,
    }
}

/// Where to look first.
pub fn look(kind: Kind) -> &'static str {
    match kind {
        Kind::OwnDrop => {
            "Measure millivolts across each joint and along each leg with the unit at full current. Do not lower turn-off \
             before: it protects the starter battery."
        }
        Kind::StartUp => "It does little harm; note how long after a start it lasts.",
        Kind::WeakSource => {
            "Measure volts at the alternator's stud and at the starter posts, and amps in the alternator's cable, at idle \
             with everything on."
        }
        Kind::SetPoint => "Watch volts at the starter posts over a whole drive, unit off.",
        Kind::SurfaceCharge => "Watch volts at the starter posts for ten minutes after key-off, unit off.",
        Kind::RestedOverTurnOn => {
            "Measure the rested starter battery after a night, and set turn-on well over it."
        }
        Kind::Sun => "Cover the panel and see whether it stops.",
        Kind::Heat => "Feel the case and the locker's air; open the locker and see whether it stops.",
        Kind::Protection => {
            "Measure current into the house battery with a clamp, and the temperature of its cells."
        }
        Kind::StopStart => "Count the stops, and compare the time between them with the turn-on delay.",
        Kind::StageCycling => {
            "Compare the recharge voltage with float, and watch the output for an hour after a charge."
        }
        Kind::Signal => "Measure the signal wire at the unit while driving.",
        Kind::OpenCable => "Measure volts on both sides of the input fuse.",
    }
}

/// What is said where no kind can be told.
pub const CANNOT_TELL: &str = "Cannot tell: with everything settled it would have stayed on. What tipped it is faster than this \
                               model looks at, or is not known to it.";
