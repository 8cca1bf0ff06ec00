//! `slipmark packet`.

use std::path::{Path, PathBuf};

use clap::Args;

use super::{changes, history};
use crate::cli::args::Common;
use crate::cli::{CliError, ExitStatus, Project, Ui, document};
use crate::history::{Range, WORK_TREE, revisions_of};
use crate::report::packet::{self, Dated, Made, Packet, Past, Since};
use crate::report::view;

/// The document for the review board: one page of HTML that needs nothing beside it.
///
/// Holds the verdict, what is open, the verification matrix, every requirement with its evidence and its history, the
/// records, decisions and departures, the hardware, what changed since a base, and a manifest of every file. The same
/// commit, day and program give the same bytes.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The event
    pub event: String,
    /// Where to write it; `-` writes to the standard output [default: EVENT-packet-COMMIT.html here]
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// The base for what changed: a commit, tag, date or decision [default: the last annotated tag before this commit]
    #[arg(long, value_name = "WHEN")]
    pub since: Option<String>,
    /// Write over a file that is not a packet
    #[arg(long)]
    pub force: bool,
}

const EXAMPLES: &str = "\
Examples:
  slipmark packet hot-fire                      # hot-fire-packet-COMMIT.html, here
  slipmark packet hot-fire -o ../review.html
  slipmark packet leak-check --at TRR-1 -o trr.html";

const PACKET: document::Sort = document::Sort { name: "packet", starts: packet::is_packet };

/// Writes the packet.
///
/// # Errors
/// If there is no project or no such event, or the file cannot or must not be written.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let project = Project::open(common)?;
    let event = project.event(&arguments.event)?;
    let dated = dated(project)?;
    let past = past(arguments.since.as_deref(), common, project)?;
    let (analysis, guard, source) = (&project.analysis, project.guard()?, &*project.source);
    let made = packet::packet(Made { analysis, guard, past: &past, source, dated: &dated }, event)?;
    let path = match &arguments.output {
        Some(path) if path.as_os_str() == "-" => {
            ui.bytes(made.html.as_bytes());
            return Ok(ExitStatus::Done);
        }
        Some(path) => path.clone(),
        None => PathBuf::from(&made.name),
    };
    document::write(&path, made.html.as_bytes(), arguments.force, PACKET)?;
    tell(project, &made, &path, ui);
    Ok(ExitStatus::Done)
}

fn tell(project: &Project, made: &Packet, path: &Path, ui: &mut Ui) {
    ui.text(&format!("{}\n{}\n", path.display(), made.verdict));
    if let Some(draft) = &made.draft {
        ui.text(&format!("{draft}\n"));
    }
    let inside = path.canonicalize().is_ok_and(|path| path.starts_with(&project.root));
    if inside && !project.past {
        ui.aside("the packet lies inside the project, where it counts as a file not committed: let git ignore it, or write it elsewhere with -o");
    }
}

/// What changed since the base, and how each requirement came to read as it does.
fn past(since: Option<&str>, common: &Common, project: &Project) -> Result<Past, CliError> {
    let range = match since {
        Some(since) => Some(changes::range((None, Some(since)), common, project)?),
        None => last_review(common, project)?,
    };
    let since = match range {
        Some(range) => {
            let changes = changes::compare(project, range)?;
            Since::Changes(view::changes(&project.analysis.model.config.name, &changes))
        }
        None if project.commit.is_none() => Since::default(),
        None => Since::Nothing(
            "There is no annotated tag to compare with. A review is marked with git tag -a NAME; any other base is named \
             with --since.",
        ),
    };
    let requirements = project.analysis.model.requirements.iter().map(|it| it.head.id.as_str());
    let told = match project.commit {
        Some(end) => revisions_of(&project.repo, &project.prefix, requirements.clone(), end)?,
        None => Default::default(),
    };
    let uncommitted = history::uncommitted(project)?;
    let histories = requirements.filter_map(|id| {
        let change = uncommitted.iter().find(|change| change.id == id);
        let view = match (told.get(id), change) {
            (Some(told), change) => view::history(told, change),
            (None, Some(change)) => view::history_to_be(change),
            (None, None) => return None,
        };
        Some((id.to_string(), view))
    });
    Ok(Past { since, histories: histories.collect() })
}

/// Since the last annotated tag. Made at a tag itself, a packet is about what happened since the one before.
fn last_review(common: &Common, project: &Project) -> Result<Option<Range>, CliError> {
    let Some(commit) = project.commit else { return Ok(None) };
    let mut base = project.repo.last_annotated_tag(commit)?;
    if base.as_ref().is_some_and(|(_, oid)| *oid == commit) && project.holds_a_commit() {
        for parent in project.repo.commit(commit)?.parents {
            if let Some(earlier) = project.repo.last_annotated_tag(parent)? {
                base = Some(earlier);
                break;
            }
        }
    }
    let (to, to_name) = match &common.at {
        Some(name) => (Some(commit), name.clone()),
        None => (None, WORK_TREE.to_string()),
    };
    Ok(base.map(|(from_name, oid)| Range { from: Some(oid), from_name, to, to_name }))
}

/// The packet's date, and what its commit says.
fn dated(project: &Project) -> Result<Dated, CliError> {
    let commit = project.commit.map(|oid| project.repo.commit(oid)).transpose()?;
    let subject = commit.as_ref().map(|commit| commit.summary.clone());
    if let Some(epoch) = std::env::var_os("SOURCE_DATE_EPOCH") {
        let seconds = epoch.to_str().and_then(|text| text.trim().parse::<i64>().ok());
        let instant = seconds.and_then(|seconds| jiff::Timestamp::from_second(seconds).ok()).ok_or_else(|| {
            CliError::refused("SOURCE_DATE_EPOCH is no number of seconds", "unset it, or set it to seconds since 1970")
        })?;
        let date = jiff::tz::Offset::UTC.to_datetime(instant).date();
        return Ok(Dated { date: Some(date.to_string()), from: "SOURCE_DATE_EPOCH", subject });
    }
    let from = if commit.is_some() { "the commit" } else { "there is no commit" };
    Ok(Dated { date: commit.map(|commit| commit.author_date.to_string()), from, subject })
}
