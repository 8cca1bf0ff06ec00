//! `slipmark before`.

use clap::{Args, ValueEnum};

use crate::analysis::{Analysis, Request};
use crate::cli::args::{Common, Format};
use crate::cli::{CliError, ExitStatus, Project, Ui, answered};
use crate::history::{self, Baseline, Guard, Look};
use crate::report::view::{self, BeforeView, GroupBy, Point, VerdictWord};
use crate::report::{json, tables, text};
use crate::state::State;

/// What is open before an event, worst first, with the reason and what closes it.
///
/// Counts every row due before the event or an earlier one, every open nonconformance due, every gap of what is due,
/// and every fault in the project. Exit code 0 only if nothing is open.
#[derive(Args, Debug, Default)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The event [default: the first that has something open]
    pub event: Option<String>,
    /// How the answer is written: text, json, markdown or csv
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: Format,
    /// Also list the rows that are closed
    #[arg(long)]
    pub all: bool,
    /// Put the open rows together by procedure, serial, item, owner or event
    #[arg(long, value_enum, value_name = "WHAT", hide_possible_values = true)]
    pub by: Option<By>,
    /// List only rows of one state, such as "not met"; the verdict stays that of all
    #[arg(long, value_name = "STATE", value_parser = state)]
    pub only: Option<State>,
    /// What has moved since a commit, tag, date or decision, beside the answer
    #[arg(long, value_name = "POINT")]
    pub since: Option<String>,
    /// The shortest order of records that closes the most open rows: no permission to run anything
    #[arg(long, conflicts_with_all = ["by", "only", "all"])]
    pub next: bool,
}

/// By what open rows are put together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum By {
    /// The procedure.
    Procedure,
    /// The piece.
    Serial,
    /// The item.
    Item,
    /// Who answers for the requirement.
    Owner,
    /// The event.
    Event,
}

fn state(text: &str) -> Result<State, String> {
    let plain = text.replace(['-', '_'], " ");
    State::ALL.into_iter().find(|state| state.word() == plain).ok_or_else(|| {
        let words: Vec<String> = State::ALL.iter().map(|state| state.word().replace(' ', "-")).collect();
        format!("there is no such state; write one of: {}", words.join(", "))
    })
}

const EXAMPLES: &str = "\
Examples:
  slipmark before hot-fire
  slipmark before hot-fire --all               # closed and waived rows too
  slipmark before hot-fire --by procedure      # or serial, item, owner, event
  slipmark before hot-fire --next              # in which order to close the most
  slipmark before leak-check --at TRR-1        # as it was at the review
  slipmark before hot-fire --since TRR-1       # what has closed since, and what has slipped
  slipmark before hot-fire --today 2026-09-01  # will anything have lapsed?
  slipmark before hot-fire --format json";

/// Answers for the event that was named; else for the first that has something open, or if none has, for the last.
///
/// # Errors
/// If there is no project, no such event, or no event at all.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    answered::once(&("before", arguments), common, ui, Project::open_with_history, |project, ui| {
        answer(arguments, common, project, ui)
    })
}

fn answer(arguments: &Arguments, common: &Common, project: &Project, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    // A state that is not open is listed where it is asked for.
    let closed_too = arguments.all || arguments.only.is_some_and(|state| !state.is_open());
    let open_only = arguments.format == Format::Text && !closed_too;
    let make = if open_only { view::before_open } else { view::before };
    let mut view = match &arguments.event {
        Some(name) => make(&project.analysis, project.guard()?, project.event(name)?),
        None => next(project, make)?,
    };
    if let Some(state) = arguments.only {
        view.list_only(state);
    }
    if let Some(by) = arguments.by {
        view.group(by.into());
    }
    if let Some(since) = &arguments.since {
        let event = project.event(&view.event)?;
        moved(&mut view, (project, common), since, event)?;
    }
    if arguments.next {
        view.next = Some(view::next(&project.analysis, project.event(&view.event)?));
    }
    show(&view, arguments.format, closed_too, ui)
}

impl From<By> for GroupBy {
    fn from(by: By) -> GroupBy {
        match by {
            By::Procedure => GroupBy::Procedure,
            By::Serial => GroupBy::Serial,
            By::Item => GroupBy::Item,
            By::Owner => GroupBy::Owner,
            By::Event => GroupBy::Event,
        }
    }
}

/// How the rows stand beside a point in history: the project as that commit held it, asked on the commit's own day. What is asked
/// less than there is listed too, beside what is asked less than at the last review.
fn moved(
    view: &mut BeforeView,
    (project, common): (&Project, &Common),
    since: &str,
    event: usize,
) -> Result<(), CliError> {
    let range = super::changes::range((None, Some(since)), common, project)?;
    let (repo, prefix, name) = (&project.repo, &project.prefix, range.from_name);
    let before = range.from_before;
    let mut then = None;
    if let Some(oid) = range.from {
        let today = repo.commit(oid)?.made_on;
        let request = Request { today, wording: false, ..project.analysis.request };
        then = history::project_at(repo, prefix, oid, request)?;
        let look = Look { since: Some(Baseline { name: name.clone(), oid }), kept: common.kept(repo) };
        let guard = history::guard(repo, prefix, project.commit, &look, &project.analysis)?;
        view.add_less_asked(&guard, &name);
    }
    let oid = range.from.map(|oid| oid.to_string());
    view.since = Some(view::since(&project.analysis, event, &Point { name, before, oid, then: then.as_ref() }));
    Ok(())
}

type Make = fn(&Analysis, &Guard, usize) -> BeforeView;

/// The first event that has something open, or if none has, the last.
///
/// # Errors
/// If there is no event at all.
pub(super) fn next_event(project: &Project) -> Result<usize, CliError> {
    project.event(&next(project, view::before_open)?.event)
}

fn next(project: &Project, make: Make) -> Result<BeforeView, CliError> {
    let events = project.analysis.model.config.events.len();
    let guard = project.guard()?;
    let mut views = (0..events).map(|event| make(&project.analysis, guard, event)).peekable();
    while let Some(view) = views.next() {
        if view.verdict != VerdictWord::NothingOpen || views.peek().is_none() {
            return Ok(view);
        }
    }
    Err(project.no_events())
}

fn show(view: &BeforeView, format: Format, all: bool, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let status = if view.verdict == VerdictWord::NothingOpen { ExitStatus::Done } else { ExitStatus::Open };
    match format {
        Format::Text => ui.text(&text::before::render(view, all, ui.width())),
        Format::Json => ui.bytes(json::render(view)?.as_bytes()),
        Format::Markdown => ui.bytes(tables::markdown(&tables::before(view)).as_bytes()),
        Format::Csv => ui.bytes(&tables::csv(&tables::listed(view))?),
    }
    Ok(status)
}
