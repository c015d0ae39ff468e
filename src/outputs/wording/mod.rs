//! Reasons, verdicts and advice in a user's words: stages say what is so with numbers, here it is told, and rounded as
//! everywhere (`shown.rs`).

mod advice;
mod camera;
mod findings;
mod motion;
mod reasons;
mod two_views;
mod verdict;

pub use advice::CAUTION;
pub use verdict::{VerdictWords, verdict_words};
