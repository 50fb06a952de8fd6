//! Comparisons of the batteries.

use super::Claim;

pub(super) const CLAIMS: &[Claim] = &[];

pub(super) const UNTOUCHED: &[&str] = &["Batteries over hours parked, and anything of diesel vehicles."];
