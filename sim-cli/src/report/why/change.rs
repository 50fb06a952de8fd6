//! What changed just before, in words.

use crate::clock::duration;
use sim_core::explain::Change;

/// What changed, as the end of a sentence.
pub fn words(change: &Change) -> String {
    match *change {
        Change::OwnRamp { input_a } => {
            format!("only its own current: it rose to {input_a:.1} A")
        }
        Change::DropGone { by_v } => format!("its own drop had gone with its current ({by_v:.2} V)"),
        Change::SetPoint { from_v, to_v } => {
            format!("the set-point had gone from {from_v:.2} to {to_v:.2} V")
        }
        Change::Speed { from_rpm, to_rpm } => {
            format!("the engine had gone from {from_rpm:.0} to {to_rpm:.0} rpm")
        }
        Change::VehicleLoad { from_a, to_a } => {
            format!("the vehicle's own load had gone from {from_a:.0} to {to_a:.0} A")
        }
        Change::HouseLoad { from_w, to_w } => {
            format!("the house load had gone from {from_w:.0} to {to_w:.0} W")
        }
        Change::Joint { from_ohm, to_ohm } => format!(
            "a joint of the input cable had gone from {:.1} to {:.1} mΩ beyond its own",
            1e3 * from_ohm,
            1e3 * to_ohm
        ),
        Change::CableOpened => "the input cable had opened".to_owned(),
        Change::CableWarmed { from_ohm, to_ohm } => {
            format!("the input cable had warmed from {:.1} to {:.1} mΩ", 1e3 * from_ohm, 1e3 * to_ohm)
        }
        Change::AlternatorWarmed { from_a, to_a } => {
            format!("heat had taken the alternator from {from_a:.0} to {to_a:.0} A")
        }
        Change::KeyOn { ago_s } => format!("the engine had been started {} before", duration(ago_s)),
        Change::KeyOff { ago_s } => format!("the engine had been stopped {} before", duration(ago_s)),
        Change::Crank => "the engine was being started, or had only just been".to_owned(),
        Change::Sun { amps } => {
            format!("the sun, or a maintainer, was giving {amps:.1} A to the starter battery")
        }
        Change::Signal { live: true } => "the run signal had come".to_owned(),
        Change::Signal { live: false } => "the run signal had gone".to_owned(),
        Change::Heat { case_c } => format!("its case had reached {case_c:.0} °C"),
    }
}

/// What changed, as a sentence; `None` where nothing is known.
pub fn sentence(changed: &[Change]) -> Option<String> {
    let told: Vec<String> = changed.iter().map(words).collect();
    (!told.is_empty()).then(|| format!("What had changed: {}.", told.join("; ")))
}
