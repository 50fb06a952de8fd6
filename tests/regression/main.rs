//! Checks against the program's own past.

mod counters;
