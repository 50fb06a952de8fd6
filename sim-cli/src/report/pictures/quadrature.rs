//! Integrals over a run by causes that the ledgers do not book apart: three-point Gauss-Legendre on every step.
//! The steps end at every switching, so the integrand is smooth inside; the ledgers check the sums.

use super::super::Told;
use sim_core::record::trace::{Knot, Sample};

/// Places of the nodes within a step, and their weights (textbook values, order six).
const NODES: [(f64, f64); 3] =
    [(0.112_701_665_379_258_3, 5.0 / 18.0), (0.5, 8.0 / 18.0), (0.887_298_334_620_741_7, 5.0 / 18.0)];

/// Samples at the nodes of a step, each with the seconds it stands for.
pub fn nodes(told: &Told, knot: &Knot) -> impl Iterator<Item = (Sample, f64)> {
    NODES.iter().filter_map(move |&(place, weight)| {
        let t = knot.start.plus_ns((place * knot.ns as f64) as i64);
        let sample = told.run.trace.at(told.model, told.profile, t)?;
        Some((sample, weight * knot.ns as f64 * 1e-9))
    })
}
