//! Checks against what somebody else wrote: an independent program, closed forms, worked examples, standards.

mod alternator;
mod bites;
mod closed_case;
mod closed_charge;
mod closed_forms;
mod closed_hunting;
mod conductors;
mod diffsol;
mod distances;
mod reference_van;
mod sizing;
mod studies;
mod trade;
mod warming;
mod worked_examples;
mod worked_hunting;
