//! Checks against the program's own past.

mod counters;
mod named_seeds;
