//! Checks against the program's own past.

mod claims;
mod counters;
mod documents;
mod floors;
mod measured;
mod named_seeds;
