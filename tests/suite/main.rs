//! The program as people run it: the built binary in fresh git repositories, with an empty environment and fixed dates.
//!
//! One module for each command. Most rules are tested beside their code; here is what only the whole program shows:
//! exit codes, both streams, what is on disk afterwards.

#![allow(clippy::disallowed_methods, reason = "tests prepare files and look at what is on disk")]

mod account;
mod again;
mod bad_input;
mod before;
mod bytes;
mod calc;
mod campaign;
mod changes;
mod check;
mod concepts;
mod demo;
mod events;
mod hostile;
mod impact;
mod init;
mod life;
mod mark;
mod moved;
mod new;
mod newcomer;
mod packet;
mod past;
mod pictures;
mod readme;
mod show;
mod sign;
mod site;
mod sources;
mod stand;
mod support;
mod templates;
mod text;
mod told;
mod trend;
mod verify;
mod view;
mod worth;
