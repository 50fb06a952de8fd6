//! What a new scenario is made of: a few facts, answers that follow from them, and on demand every default as a comment.

mod drives;
mod facts;
mod write;

pub use drives::{Alternator, Drive};
pub use facts::{About, Facts, QUESTIONS, Question};
pub use write::scenario;
