//! Every vehicle that a law of physics is tried on: shipped, variants of the vans, random ones, plain and full.

use crate::full::variants;
use crate::shipped::shipped;
use crate::van::{absorption_day, reference_van, thin_run};
use crate::wild::wild;
use crate::wild_full::wild_full;
use sim_core::{Model, Profile};

/// Name, vehicle, drive.
pub type Named = (String, Model, Profile);

/// Shipped scenarios, the vans and the full van's variants.
pub fn known() -> Vec<Named> {
    let vans =
        [("reference van", reference_van()), ("thin run", thin_run()), ("absorption", absorption_day())];
    let mut all = shipped();
    all.extend(vans.map(|(name, (m, p))| (format!("{name} in code"), m, p)));
    all.extend(variants().into_iter().map(|(name, m, p)| (name.to_owned(), m, p)));
    all
}

/// So many random vehicles, plain and full, from seeds that no other test takes.
pub fn random(plain: u64, full: u64) -> Vec<Named> {
    let plain = (2_000_000..2_000_000 + plain).map(|seed| (format!("plain seed {seed}"), wild(seed)));
    let full = (2_000_000..2_000_000 + full).map(|seed| (format!("full seed {seed}"), wild_full(seed)));
    plain.chain(full).map(|(name, (m, p))| (name, m, p)).collect()
}
