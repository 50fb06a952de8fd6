//! A fuse that has opened stays open: nobody replaces it during a run.
//!
//! Behind an open input cable the unit's input stands at nothing, and the unit drops out after its delay. With the output
//! cable open the unit, which measures at its own terminals, goes on holding its target volts there, gives nothing and
//! draws what its fixed loss takes; to its stages that looks like a full battery. The house bus lives from its own
//! battery and sources. Wires of remote sense are taken to be of no use then: the unit holds its own terminals.

use super::{Mode, Sight, Transition};
use crate::plant::fuse::FusePlace;
use crate::run_data::event::{Cause, EventKind};

/// Opens the first fuse that is worn through.
pub fn read(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    let fuses = sight.model.fuses();
    let (at, fuse) = FusePlace::ALL.into_iter().zip(fuses).find_map(|(place, fuse)| {
        let opening = fuse?.opening.as_ref()?;
        let through = sight.worn[place as usize][opening.at as usize] >= 1.0;
        (through && !mode.open.at(place)).then_some((place, fuse?))
    })?;
    mode.open.0[at as usize] = true;
    let amps = if at.on_input() { sight.net.input_a } else { sight.net.output_a };
    Some(Transition {
        kind: EventKind::FuseOpened { at },
        cause: Cause::OverRating { amps, rating_a: fuse.rating_a },
    })
}
