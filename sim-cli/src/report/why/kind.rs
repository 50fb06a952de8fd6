//! Kinds in words.

use super::Depth;
use sim_core::explain::Kind;

/// A kind's name, as the glossary defines it.
pub fn name(kind: Kind) -> &'static str {
    match kind {
        Kind::OwnDrop => "own drop",
        Kind::StartUp => "start-up cycles",
        Kind::WeakSource => "weak source",
        Kind::SetPoint => "wandering set-point",
        Kind::SurfaceCharge => "surface charge",
        Kind::RestedOverTurnOn => "turn-on under rest",
        Kind::Sun => "sun on the starter battery",
        Kind::Heat => "heat",
        Kind::Protection => "battery protection",
        Kind::StopStart => "stop-start",
        Kind::StageCycling => "stage cycling",
        Kind::Signal => "run signal",
        Kind::OpenRun => "open run",
    }
}

/// What a kind is, to somebody who hears of it for the first time.
pub fn plain(kind: Kind, depth: Depth) -> &'static str {
    let customer = depth == Depth::Customer;
    match kind {
        Kind::OwnDrop if customer => {
            "The cable to the unit loses too many volts when the unit works: the unit takes that for a stopped engine and \
             drops out, and a moment later it tries again."
        }
        Kind::OwnDrop => {
            "Own drop: the unit's own current makes a voltage drop in its input cable. That takes its input below turn-off. \
             With the current gone the drop is gone, and it comes on again."
        }
        Kind::StartUp if customer => {
            "After a start the van's own battery first has to come up; until then the unit drops out and tries again. It \
             stops by itself."
        }
        Kind::StartUp => {
            "Start-up cycles: just over turn-on there is no room for the drop that the unit makes; once the starter battery \
             has risen there is, and it ends by itself."
        }
        Kind::WeakSource if customer => {
            "The alternator cannot give what the van and the unit ask together, so the volts fall and the unit drops out."
        }
        Kind::WeakSource => {
            "Weak source: the volts fall at the starter battery already, before the unit's cable. Alternator, belt, its cable \
             or the engine's strap cannot carry what is asked."
        }
        Kind::SetPoint if customer => {
            "The van's alternator turns its voltage down while driving; the unit takes that for a stopped engine."
        }
        Kind::SetPoint => {
            "Wandering set-point: the alternator is told to hold fewer volts, and under that set-point the unit cannot stay \
             on; nothing in the wiring changed."
        }
        Kind::SurfaceCharge if customer => {
            "After the engine is stopped the van's battery reads high for a while. That brings the unit on again and again."
        }
        Kind::SurfaceCharge => {
            "Surface charge: after key-off the starter battery stands over turn-on although nothing charges it; each time \
             the unit comes on it takes some of that away, until it is gone."
        }
        Kind::RestedOverTurnOn if customer => {
            "The unit is set to come on at volts that the van's battery has even when nobody drives, so it empties it."
        }
        Kind::RestedOverTurnOn => {
            "Turn-on under rest: even the rested starter battery stands over turn-on, so nothing but its own drop ever stops \
             the unit, and it comes on again until the battery is down."
        }
        Kind::Sun if customer => {
            "The solar panel on the van's battery lifts its volts as a running engine would, and the unit comes on while the \
             van is parked."
        }
        Kind::Sun => {
            "Sun on the starter battery: what charges it while parked lifts the unit's input over turn-on as an engine would; \
             the panel cannot carry the unit, so the volts fall and it drops out."
        }
        Kind::Heat if customer => "The unit becomes too hot and switches itself off until it has cooled.",
        Kind::Heat => {
            "Heat: its case reaches the lock-out; it stays off until it has cooled to its reclose temperature, then waits \
             for turn-on."
        }
        Kind::Protection if customer => "The house battery protects itself and refuses charge.",
        Kind::Protection => {
            "Battery protection: the house battery refuses charge; the unit stays on and carries the load alone, its output \
             at the target at once, which can end the charge early."
        }
        Kind::StopStart if customer => {
            "The engine stops again and again, and each time the unit waits anew before it charges."
        }
        Kind::StopStart => {
            "Stop-start: each engine stop takes the unit with it, and each start costs the turn-on delay anew."
        }
        Kind::StageCycling if customer => {
            "The unit keeps starting a new charge although the house battery is full."
        }
        Kind::StageCycling => {
            "Stage cycling: in float the output falls under the recharge voltage, so a new charge begins each time one has \
             ended."
        }
        Kind::Signal if customer => "The wire that tells the unit that the engine runs comes and goes.",
        Kind::Signal => {
            "Run signal: it went away while the engine ran, and without it the unit stops at once, whatever its volts."
        }
        Kind::OpenRun if customer => "The cable to the unit is broken, or its fuse has blown.",
        Kind::OpenRun => {
            "Open cable: the unit's input is dead while the starter posts are live; fuse, lug or cable is open."
        }
    }
}

/// Where to look first.
pub fn look(kind: Kind) -> &'static str {
    match kind {
        Kind::OwnDrop => {
            "Measure millivolts across each joint and along each leg with the unit at full current; do not lower turn-off \
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
        Kind::StopStart => "Count stops, and compare the engine's runs with the turn-on delay.",
        Kind::StageCycling => {
            "Compare the recharge voltage with float, and watch the output for an hour after a charge."
        }
        Kind::Signal => "Measure the signal wire at the unit while driving.",
        Kind::OpenRun => "Measure volts on both sides of the input fuse.",
    }
}

/// What is said where no kind can be told.
pub const CANNOT_TELL: &str = "Cannot tell: with everything settled it would have stayed on, so something faster than this \
                               model looks at, or something that it does not know, tipped it.";
