//! What a new scenario is made of: six facts, answers that follow from them, and every default as a comment.

mod drives;
mod facts;
mod write;

pub use drives::{Alternator, Drive};
pub use facts::{Facts, QUESTIONS, Question, name};
pub use write::scenario;
