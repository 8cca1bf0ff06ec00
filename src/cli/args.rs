//! Arguments that several commands share, and the top of the command line.

use std::path::PathBuf;

use clap::{Args, Parser, ValueEnum};
use jiff::civil::Date;

use super::commands::Command;

/// Requirements to verification evidence, in plain text and git.
///
/// Without a command: what is open before the next event that has something open.
#[derive(Debug, Parser)]
#[command(name = "slipmark", version, about, max_term_width = 100, disable_help_subcommand = true, help_template = TEMPLATE, after_help = GROUPS)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Option<Command>,
    /// What every command takes.
    #[command(flatten)]
    pub common: Common,
}

const TEMPLATE: &str = "{about-with-newline}\n{usage-heading} {usage}\n{after-help}\n\nOptions:\n{options}\n";

/// Commands by when they are used, with worked examples.
const GROUPS: &str = "\
Daily:
  before     what is open before an event, worst first, and what closes it
  check      faults, gaps, orphans and wording
  show       one thing: what it says, what hangs from it, where it stands
  new        a new file of any kind, filled in as far as is known
  sign       stand by a record: complete it, write marks, outcome and seal
  mark       the requirement was reworded, I looked, this evidence still stands

Review:
  matrix     requirement by requirement: method, piece, result, margin, state
  changes    what changed between two commits, and what evidence it undid
  history    how one requirement came to read like this
  packet     the document for the review board

Design:
  concepts   the options of a slot side by side, against all that is asked of them

Desk:
  init       a new project here
  demo       the example project, as a repository to look around in
  explain    what a code, state or word means

Examples:
  slipmark before hot-fire
  slipmark before hot-fire --at TRR-1 --format json
  slipmark check --gaps
  slipmark changes TRR-1..HEAD
  slipmark new test --for ACT-010 --serial ACT-W/SN02
  slipmark sign TR-012 --by \"test conductor\" --witness \"pad chief\"

Exit codes: before: 0 nothing open, 1 something open; check: 0 or 1; other commands: 0 done; all: 2 no answer.";

/// What every command takes.
#[derive(Args, Clone, Debug, Default)]
pub struct Common {
    /// The project's folder, or one below it [default: this one]
    #[arg(long, global = true, value_name = "DIR")]
    pub project: Option<PathBuf>,
    /// Answer as of this commit, tag or branch
    #[arg(long, global = true, value_name = "COMMIT")]
    pub at: Option<String>,
    /// The day on which the question is asked [default: today; with --at, the commit's own]
    #[arg(long, global = true, value_name = "YYYY-MM-DD", value_parser = day)]
    pub today: Option<Date>,
}

fn day(text: &str) -> Result<Date, String> {
    text.parse().map_err(|_| format!("{text} is no day; write it as 2026-03-14"))
}

/// How a list or an answer is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For a terminal.
    #[default]
    Text,
    /// For programs.
    Json,
    /// For documents.
    Markdown,
    /// For spreadsheets.
    Csv,
}
