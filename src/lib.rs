#![forbid(unsafe_code)]
#![warn(missing_docs)]
//! slipmark: requirements and their verification evidence, in plain text and git.
//!
//! This comment is the map of the code. How to work on it, the rules in full and what is declined: `DEVELOPERS.md`.
//!
//! # From files to answers
//!
//! ```text
//! work tree | commit | memory ─► Snapshot ─► Document(s) ─► Model ─► TraceGraph ─► Facts ─┬─► Findings   (check)
//!                      (source)      (parse)       (model)    (graph)     (state) ├─► Row(s)     (state)
//!                                                                              all of these: Analysis
//! Analysis ─► view ─► text, JSON, Markdown, CSV, HTML (report)         Analysis at A + at B + commits ─► changes (history)
//! ```
//!
//! One-way: a stage is a function from value to value, keeps no state and calls no later one. Everything between
//! [`source`] and [`report`] is pure: no disk, no clock, no environment. [`analysis::run`] is the whole of it on one page, and the work
//! tree, a past commit and a fixture in memory go through the same lines.
//!
//! # The modules, from the ground up
//!
//! Each may use only those above it; a test holds that.
//!
//! | module | what it is for |
//! |---|---|
//! | [`text`] | files, paths inside a project, spans, lines and columns |
//! | [`statistics`] | distributions, tolerance factors, trials; numbers in, numbers out |
//! | [`quantity`] | exact numbers, units, uncertainty, conformity; knows nothing of files |
//! | [`table`] | tables of data with units in their headers, and what is reduced from them |
//! | [`calc`] | the calculation language: read, unit-checked, worked out with its uncertainty |
//! | [`id`] | names of things and of serial-numbered pieces |
//! | [`git`] | the only user of the git library: commits, trees, blobs, the index |
//! | [`kept`] | what is kept between runs, in the git directory; nothing rests on it |
//! | [`source`] | the [`Source`](source::Source) of a project's files and its three kinds; what would go unseen is a problem |
//! | [`templates`] | what pages are laid out by: the program's own, and a project's in their place |
//! | [`diag`] | findings, their codes and classes, the catalogue behind `explain` |
//! | [`parse`] | front matter and Markdown, with places kept; a typed reader that reports all faults of a file |
//! | [`config`] | the three TOML files at the top of a project |
//! | [`model`] | the kinds of things, each read in a file of its own; limits worked out, names resolved, marks and seals |
//! | [`graph`] | what hangs from what |
//! | [`computed`] | what the records compute: calculations and reductions |
//! | [`state`] | the state of every row and every reason for it |
//! | [`check`] | the registry of checks: faults, gaps, warnings, wording |
//! | [`analysis`] | all of the above, composed; and again on a model in which something is only supposed |
//! | [`history`] | what left, what is asked less, what changed and why |
//! | [`report`] | views (plain data, the JSON's field names) and what is made of them |
//! | [`serve`] | pages on the loopback; knows nothing of projects |
//! | [`example`] | the example project and its history |
//! | [`edit`] | front matter edited as text, every edit read again; writing is `cli`'s |
//! | [`cli`] | arguments, the terminal, exit codes; the only module that writes |
//!
//! # Three sorts of trouble, never mixed
//!
//! A *finding*: the user's data is wrong; it is collected and the run goes on. An *error*: the run cannot go on; a typed value with its
//! causes. A *bug*: a panic that names the invariant. Bad input is never the third.
//!
//! # Words
//!
//! A **requirement** has a *statement*, *criteria* and a *plan*; a **plan entry** on one subject is a **row**; a **record** is evidence; an **item**
//! has **serials** and may fill a **slot** as an *option*; an **event** is what things must be closed before, a **held event**
//! that it was held. A **mark** is what a requirement
//! said when evidence was judged against it; a **seal** shows an edit of a signed record. A row's **state** is one of
//! [`State::ALL`](state::State::ALL); a row is *open* if it is neither closed nor waived.

pub mod analysis;
pub mod calc;
pub mod check;
#[allow(clippy::disallowed_methods, reason = "one of the modules that see the disk")]
pub mod cli;
pub mod computed;
pub mod config;
pub mod diag;
pub mod edit;
pub mod example;
#[allow(clippy::disallowed_methods, reason = "one of the modules that see the disk")]
pub mod git;
pub mod graph;
pub mod history;
pub mod id;
#[allow(clippy::disallowed_methods, reason = "one of the modules that see the disk")]
pub mod kept;
pub mod model;
pub mod parse;
pub mod quantity;
pub mod report;
pub mod serve;
#[allow(clippy::disallowed_methods, reason = "one of the modules that see the disk")]
pub mod source;
pub mod state;
pub mod statistics;
pub mod table;
pub mod templates;
pub mod text;

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "it reads the sources")]
mod layers;
