//! What a run writes down as it goes: events with causes, ledgers, books of days, wear and stress of parts.

pub mod day_book;
pub mod event;
pub mod fuse;
pub mod ledger;
pub mod stress;
