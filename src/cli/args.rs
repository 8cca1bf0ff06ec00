//! Arguments that several commands share, and the top of the command line.

use std::ffi::OsString;
use std::path::PathBuf;

use clap::{Args, CommandFactory, FromArgMatches, Parser, ValueEnum};
use jiff::civil::Date;

use super::commands::Command;
use crate::git::Repo;
use crate::kept::Kept;

/// Requirements to verification evidence, in plain text and git: what is still open before the next test.
#[derive(Debug, Parser)]
#[command(name = "slipmark", version, disable_help_subcommand = true, help_template = TEMPLATE, after_help = GROUPS)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Option<Command>,
    /// What every command takes.
    #[command(flatten)]
    pub common: Common,
}

const TEMPLATE: &str = "{about-with-newline}\n{usage-heading} {usage}{after-help}\n\nOptions:\n{options}";

/// Commands by when they are used, with worked examples.
const GROUPS: &str = "\
Daily:
  before     what is open before an event, worst first, and what closes it
  check      what is wrong with the files: faults, gaps, orphans, wording
  show       one thing: what it says, what hangs from it, where it stands
  new        write a new file of any kind, filled in as far as is known
  sheet      print the blank data sheet of a procedure, for the stand
  fill       write results into a draft record, checked first
  sign       stand by a record: complete it, judge it, seal it
  mark       the requirement was reworded, I looked, this evidence still stands

Review:
  matrix     requirement by requirement: method, piece, result, margin, state
  changes    what changed between two commits, and what evidence that undid
  history    how one requirement came to read like this
  trend      are we converging? how the rows stood, commit by commit
  packet     the document for the review board
  view       the project as pages in a browser, following the files

Design:
  concepts   the options of a slot side by side, against what is asked of them
  impact     what would fall if something changed, before anyone changes it
  calc       what a record computes, step by step; or one expression

Desk:
  init       start a project
  demo       make the example project, and look around in it
  explain    what a code, state or word means
  templates  what pages are laid out by, to start your own from

Without a command: before, asked about the next event with something open.
slipmark COMMAND --help says more about each.

Examples:
  slipmark before hot-fire                       # what is open, what closes it
  slipmark show ACT-010                          # one requirement
  slipmark new test --for ACT-010 --serial ACT-W/SN02
  slipmark sheet TP-03 --serial MOV/SN02 -o tp-03.html
  slipmark new test --from TP-03 --serial MOV/SN02
  slipmark fill TR-012 torque_margin=\"0.83 ± 0.11\" --data tr-012.csv
  slipmark sign TR-012 --by \"test conductor\" --witness \"pad chief\"
  slipmark check --gaps                          # before a commit
  slipmark changes TRR-1..HEAD                   # before a review
  slipmark before hot-fire --at TRR-1            # as it was at the review
  slipmark matrix --format csv > matrix.csv      # for a spreadsheet
  slipmark calc -e \"12 lbf*in to N*m\"           # a calculation at the desk

Exit codes:
  before     0 nothing open, 1 something open or nothing planned
  check      0 no fault, 1 a fault; gaps and warnings count if asked for
  packet     with --verify: 0 it matches, 1 it does not
  all others 0 done
  all        2 no answer could be made";

/// Longer lines are hard to read.
const WIDEST_HELP: usize = 100;

impl Arguments {
    /// Reads the command line; `width` is the columns that help and complaints are laid out for.
    ///
    /// # Errors
    /// If it cannot be read, or asks for help.
    pub fn read(arguments: impl IntoIterator<Item = OsString>, width: usize) -> Result<Arguments, clap::Error> {
        let mut command = Arguments::laid_out(width);
        let arguments: Vec<OsString> = arguments.into_iter().collect();
        let matches = command.try_get_matches_from_mut(&arguments).map_err(|mut error| {
            super::tip::put_right(&mut error, &command, &arguments);
            error
        })?;
        Arguments::from_arg_matches(&matches).map_err(|error| error.format(&mut command))
    }

    /// The command line with its help. `-h` and `--help` say the same: what a command's own comment says, in full.
    fn laid_out(width: usize) -> clap::Command {
        Arguments::command().term_width(width.min(WIDEST_HELP)).mut_subcommands(|own| {
            let whole = own.get_long_about().or(own.get_about()).cloned().unwrap_or_default();
            own.about(whole).long_about(None)
        })
    }
}

/// What every command takes.
#[derive(Args, Clone, Debug, Default)]
#[command(next_help_heading = "Which project, and when")]
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
    /// Work everything out anew: use nothing that earlier runs kept in the git directory, and keep nothing
    #[arg(long, global = true)]
    pub no_cache: bool,
}

impl Common {
    /// Where answers about commits are kept between runs.
    pub fn kept(&self, repo: &Repo) -> Kept {
        if self.no_cache { Kept::nothing() } else { Kept::beside(repo) }
    }
}

/// For commands that write: `--at` is out of sight in their help. One that is given is refused, since it stands for the
/// one that every command takes.
#[derive(Args, Clone, Debug, Default)]
pub struct NoPast {
    /// See [`Common::at`].
    #[arg(long, hide = true)]
    pub at: Option<String>,
}

/// For commands that ask no project: the same for all that [`Common`] has.
#[derive(Args, Clone, Debug, Default)]
pub struct NoProject {
    /// See [`Common::project`].
    #[arg(long, hide = true)]
    pub project: Option<PathBuf>,
    /// See [`Common::at`].
    #[arg(long, hide = true)]
    pub at: Option<String>,
    /// See [`Common::today`].
    #[arg(long, hide = true, value_parser = day)]
    pub today: Option<Date>,
    /// See [`Common::no_cache`].
    #[arg(long, hide = true)]
    pub no_cache: bool,
}

/// A day as a person types it.
pub fn day(text: &str) -> Result<Date, String> {
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

/// How something is written that is no answer about a project.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum TextOrJson {
    /// For a terminal.
    #[default]
    Text,
    /// For programs.
    Json,
}

/// A name, a title or a reason: one line that says something.
///
/// # Errors
/// What is wrong with it, and what to write.
pub fn one_line(text: &str) -> Result<String, String> {
    if text.trim().is_empty() {
        return Err("it is empty; write a few words".into());
    }
    if text.contains(char::is_control) {
        return Err("it holds a line feed or another control character; write it on one line".into());
    }
    Ok(text.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn help_of(command: &mut clap::Command) -> String {
        command.render_help().to_string()
    }

    /// The arguments of an example, as a shell would cut them.
    fn words(example: &str) -> Vec<OsString> {
        let line = example.split(" # ").next().unwrap_or("").split(" > ").next().unwrap_or("");
        let mut words = Vec::new();
        for (at, part) in line.split('"').enumerate() {
            match at % 2 {
                1 => words.push(part.into()),
                _ => words.extend(part.split_whitespace().map(OsString::from)),
            }
        }
        words
    }

    /// Every line of help that shows what to type.
    fn examples(help: &str) -> Vec<&str> {
        let after = help.split_once("Examples:").map_or("", |(_, after)| after);
        after.lines().map(str::trim).filter(|line| line.starts_with("slipmark ")).collect()
    }

    #[test]
    fn every_command_stands_in_one_group() {
        let command = Arguments::laid_out(80);
        let mut known: Vec<&str> = command.get_subcommands().map(clap::Command::get_name).collect();
        known.sort_unstable();
        let groups = GROUPS.split_once("Without a command").map_or("", |(groups, _)| groups);
        let lines = groups.lines().filter_map(|line| line.strip_prefix("  "));
        let mut listed: Vec<&str> = lines.filter_map(|line| line.split_whitespace().next()).collect();
        listed.sort_unstable();
        assert_eq!(listed, known);
    }

    #[test]
    fn every_example_can_be_typed() {
        let mut command = Arguments::laid_out(80);
        command.build();
        let mut pages = vec![(String::new(), help_of(&mut command))];
        pages.extend(command.get_subcommands_mut().map(|own| (own.get_name().to_string(), help_of(own))));
        for (name, help) in pages {
            let examples = examples(&help);
            assert!(examples.len() > 1, "{name} needs examples:\n{help}");
            let own = format!("slipmark {name}");
            assert!(
                examples.iter().all(|it| it.starts_with(&own) || it.starts_with("slipmark explain")),
                "{examples:?}"
            );
            for example in examples {
                let read = Arguments::read(words(example), 80);
                assert!(read.is_ok(), "{example}: {}", read.unwrap_err());
            }
        }
    }

    #[test]
    fn every_command_takes_the_same_options() {
        let mut command = Arguments::laid_out(80);
        command.build();
        let shown = |own: &clap::Command, name: &str| {
            own.get_arguments().any(|it| it.get_long() == Some(name) && !it.is_hide_set())
        };
        let has = |name: &str, options: &[&str]| {
            let own = command.find_subcommand(name).unwrap();
            ["project", "today", "at", "format"].into_iter().filter(|it| shown(own, it)).eq(options.iter().copied())
        };
        for read in ["before", "check", "matrix", "show", "changes", "history"] {
            assert!(has(read, &["project", "today", "at", "format"]), "{read}");
        }
        assert!(has("packet", &["project", "today", "at", "format"]));
        for writing in ["new", "sign", "mark"] {
            assert!(has(writing, &["project", "today"]), "{writing}");
        }
        assert!(
            has("explain", &["format"])
                && has("calc", &["project", "today", "at", "format"])
                && has("init", &[])
                && has("demo", &[])
        );
    }

    #[test]
    fn help_fits_eighty_columns() {
        let mut command = Arguments::laid_out(80);
        command.build();
        let mut pages = vec![help_of(&mut command)];
        pages.extend(command.get_subcommands_mut().map(help_of));
        for line in pages.iter().flat_map(|page| page.lines()) {
            assert!(line.chars().count() <= 80, "{line}");
        }
    }
}
