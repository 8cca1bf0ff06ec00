#![forbid(unsafe_code)]
#![warn(missing_docs)]
//! slipmark: requirements and their verification evidence, in plain text and git.

pub mod analysis;
pub mod check;
pub mod cli;
pub mod config;
pub mod diag;
pub mod example;
pub mod git;
pub mod graph;
pub mod history;
pub mod id;
pub mod model;
pub mod parse;
pub mod quantity;
pub mod report;
pub mod source;
pub mod state;
pub mod text;

#[cfg(test)]
mod layers;
