//! Checks against the program's own past.

mod counters;
mod documents;
