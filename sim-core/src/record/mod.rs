//! What a run leaves behind: events with causes, ledgers, knots of a lazily evaluated trace, a summary.

pub mod again;
pub mod days;
pub mod event;
pub mod fuse;
pub mod gate;
pub mod ledger;
pub mod limits;
pub mod missed;
pub mod stress;
pub mod summary;
pub mod timeline;
pub mod trace;

pub use event::{Bound, Cause, Event, EventKind, Side};
pub use ledger::{Ledger, Line};
pub use stress::{Peak, Stress, Watched};
pub use summary::Summary;
pub use timeline::{SETTLED_S, Timeline};
pub use trace::{Sample, Trace};
