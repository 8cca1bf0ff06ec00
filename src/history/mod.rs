//! What git knows: what has left, what is asked less, what changed and why.
//!
//! In: a repository and analyses of commits. Out: the [`Guard`] (what must not leave silently) and change lists.

mod compare;
mod guard;
mod less;
mod recall;
mod then;
mod vanished;

pub use guard::{Guard, LessAsked, guard};
pub use recall::{Recalled, recall};

#[cfg(test)]
mod tests;
