//! What a run leaves behind: events with causes, ledgers, knots of a lazily evaluated trace, a summary.

pub mod days;
pub mod limits;
pub mod missed;
pub mod summary;
pub mod timeline;

pub use crate::engine::trace;
pub use crate::run_data::{day_book, event, fuse, ledger, stress};

pub use event::{Bound, Cause, Event, EventKind, Side};
pub use ledger::{Ledger, Line};
pub use stress::{Peak, Stress, Watched};
pub use summary::Summary;
pub use timeline::{SETTLED_S, Timeline};
pub use trace::{Sample, Trace};
