//! `slipmark packet`.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::{changes, history};
use crate::cli::args::Common;
use crate::cli::document::{self, Output};
use crate::cli::{CliError, ExitStatus, Project, Ui, folder};
use crate::history::{Change, Range, Revisions, WORK_TREE, revisions_of};
use crate::report::packet::{self, Dated, EPOCH, Made, Packet, Past, Scheme, Since};
use crate::report::pages::{self, Set};
use crate::report::view::HistoryView;
use crate::report::workbook::{self, List};
use crate::report::{tables, view};

/// The document for the review board: one page of HTML that needs nothing beside it, a PDF, or a workbook.
///
/// Holds the verdict, what is open, the verification matrix, every requirement with its evidence and its history, the
/// records, decisions and departures, the hardware, what changed since a base, and a manifest of every file. The
/// workbook has what is open, the matrix, the changes, the evidence and the serials on a sheet each, to sort and to
/// filter. The same commit, day and program give the same bytes.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The event
    pub event: Option<String>,
    /// Whether a packet, a file or a folder of pages, is still as it was made, its commit says so, and the files are as it says: exit code 0, else 1
    #[arg(long, value_name = "PATH", conflicts_with_all = ["event", "list", "output", "site", "since", "force"])]
    pub verify: Option<PathBuf>,
    /// How it is written: html, pdf or xlsx; a list as markdown or csv; what --verify says as json [default: as -o ends, else html]
    #[arg(long, value_enum, hide_possible_values = true)]
    pub format: Option<Format>,
    /// Of a PDF: the size of the paper, a4 or letter
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub paper: Paper,
    /// Only one of the lists that no other command has, evidence, serials or files, as markdown or csv
    #[arg(long, value_enum, value_name = "LIST", hide_possible_values = true)]
    pub list: Option<Listed>,
    /// Where to write it; `-` writes to the standard output [default: EVENT-packet-COMMIT.html, .pdf or .xlsx here; for a list the standard output]
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// As a folder of pages instead: one for every thing, with what names it, and a search; needs no server
    #[arg(long, value_name = "DIR", conflicts_with_all = ["format", "list", "output"])]
    pub site: Option<PathBuf>,
    /// The base for what changed: a commit, tag, date or decision [default: the last annotated tag before this commit]
    #[arg(long, value_name = "WHEN")]
    pub since: Option<String>,
    /// Write over a file that is not a packet, or into a folder that holds other things
    #[arg(long)]
    pub force: bool,
}

impl Arguments {
    /// The page about an event, where it goes if nobody says.
    pub fn about(event: &str) -> Arguments {
        Arguments {
            event: Some(event.into()),
            verify: None,
            format: None,
            paper: Paper::A4,
            list: None,
            output: None,
            site: None,
            since: None,
            force: false,
        }
    }
}

const EXAMPLES: &str = "\
Examples:
  slipmark packet hot-fire                      # hot-fire-packet-COMMIT.html, here
  slipmark packet hot-fire -o ../review.html
  slipmark packet leak-check --at TRR-1 -o trr.html
  slipmark packet hot-fire -o ../review.pdf --paper letter
  slipmark packet hot-fire -o ../review.xlsx    # a workbook
  slipmark packet hot-fire --list serials --format csv > serials.csv
  slipmark packet hot-fire --site ../site       # a page for every thing
  slipmark packet --verify ../review.html       # does it still hold?";

/// How the packet is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// A page.
    Html,
    /// A page on paper.
    Pdf,
    /// A workbook.
    Xlsx,
    /// One list, for documents.
    Markdown,
    /// One list, for spreadsheets.
    Csv,
    /// Whether a packet holds, for programs.
    Json,
}

/// The size of the paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Paper {
    /// 210 mm by 297 mm.
    #[default]
    A4,
    /// 8.5 in by 11 in.
    Letter,
}

/// A list that only the packet has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Listed {
    /// Every record, and what it says of each criterion.
    Evidence,
    /// Every piece.
    Serials,
    /// Every file, with its hashes.
    Files,
}

const PACKET: document::Sort = document::Sort { name: "packet", ours: is_ours };

fn is_ours(ends: &[u8]) -> bool {
    packet::is_packet(ends) || packet::is_pdf(ends) || workbook::is_workbook(ends)
}

const LIST: document::Sort = document::Sort { name: "list of a packet", ours: |_| false };

/// Writes the packet.
///
/// # Errors
/// If there is no project or no such event, or the file cannot or must not be written.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    if let Some(path) = &arguments.verify {
        if arguments.format.is_some_and(|format| format != Format::Json) {
            return Err(CliError::refused(
                "whether a packet holds is told as text or json",
                "add --format json, or none",
            ));
        }
        return super::verify::run(path, arguments.format, common, ui);
    }
    let format = format(arguments)?;
    let project = Project::open_with_history(common)?;
    let Some(event) = &arguments.event else {
        let events = project.analysis.model.config.events.iter().map(|event| event.name.value.as_str());
        let help = format!("name it: slipmark packet {}", events.collect::<Vec<_>>().join(", or "));
        return Err(CliError::refused("a packet is about what is open before one event", help));
    };
    let event = project.event(event)?;
    if let Some(list) = arguments.list {
        return listed(arguments, project, event, (list, format), ui);
    }
    let base = arguments.since.as_deref().map_or(Base::LastReview, Base::Named);
    if let Some(folder) = &arguments.site {
        return site(project, common, (folder, event, arguments.force), base, ui);
    }
    let made = make(project, common, (event, format, arguments.paper), base, None)?;
    let path = match &arguments.output {
        Some(path) if path.as_os_str() == "-" => {
            ui.bytes(&made.bytes);
            return Ok(ExitStatus::Done);
        }
        Some(path) => path.clone(),
        None => PathBuf::from(&made.name),
    };
    document::write(&path, &made.bytes, arguments.force, PACKET)?;
    tell(project, &made, &path, ui);
    Ok(ExitStatus::Done)
}

/// The format that was asked for, or that the name of the file says.
fn format(arguments: &Arguments) -> Result<Format, CliError> {
    let named = arguments.output.as_ref().and_then(|path| path.extension());
    let ends = |word: &str| named.is_some_and(|end| end.eq_ignore_ascii_case(word));
    let by_name = match () {
        () if ends("xlsx") => Format::Xlsx,
        () if ends("pdf") => Format::Pdf,
        () => Format::Html,
    };
    let list_by_name = if ends("csv") { Format::Csv } else { Format::Markdown };
    let format = arguments.format.unwrap_or(if arguments.list.is_some() { list_by_name } else { by_name });
    let known = ["html", "htm", "xhtml", "pdf", "xlsx"].into_iter().any(ends);
    if let (None, None, false, Some(ending)) = (arguments.format, arguments.list, known, named) {
        return Err(CliError::refused(
            format!("a packet is no .{}", ending.display()),
            "end the name in .html, .pdf or .xlsx; or say with --format which of them it is",
        ));
    }
    match (arguments.list.is_some(), format) {
        (_, Format::Json) => Err(CliError::refused(
            "a packet is no JSON",
            "slipmark before EVENT --format json has what it says; --verify PATH --format json whether it holds",
        )),
        (true, Format::Html | Format::Pdf | Format::Xlsx) => Err(CliError::refused(
            "a list is written as markdown or csv",
            "add --format csv, or leave --list out for the whole packet",
        )),
        (false, Format::Markdown | Format::Csv) => Err(CliError::refused(
            "the whole packet is a page, a PDF or a workbook",
            "--list evidence, serials or files for those lists; before, matrix and changes write theirs with --format",
        )),
        _ => Ok(format),
    }
}

/// One list of the workbook.
fn listed(
    arguments: &Arguments,
    project: &Project,
    event: usize,
    (list, format): (Listed, Format),
    ui: &mut Ui,
) -> Result<ExitStatus, CliError> {
    let list = match list {
        Listed::Evidence => List::Evidence,
        Listed::Serials => List::Serials,
        Listed::Files => List::Files,
    };
    let table = workbook::list((&project.analysis, project.guard()?, &*project.source), event, list);
    project.tell_faults(ui)?;
    let bytes = match format {
        Format::Csv => tables::csv(&table)?,
        _ => tables::markdown(&[table]).into_bytes(),
    };
    let to = Output { output: arguments.output.clone(), force: arguments.force };
    document::put(&to, &bytes, LIST, ui)?;
    Ok(ExitStatus::Done)
}

fn tell(project: &Project, made: &Packet, path: &Path, ui: &mut Ui) {
    ui.text(&format!("{}\n{}\n", path.display(), made.verdict));
    if let Some(draft) = &made.draft {
        ui.text(&format!("{draft}\n"));
    }
    say_if_inside(
        project,
        path,
        "the packet lies inside the project, where it counts as a file not committed: let git ignore it, or write it elsewhere with -o",
        ui,
    );
}

const SITE: folder::Sort = folder::Sort { name: "folder of slipmark's pages", first: (pages::FIRST, pages::is_page) };

/// Writes the project as a folder of pages.
fn site(
    project: &Project,
    common: &Common,
    (into, event, force): (&Path, usize, bool),
    base: Base<'_>,
    ui: &mut Ui,
) -> Result<ExitStatus, CliError> {
    set_of(project, common, event, base, None, |set| {
        let names: Vec<&str> = set.names().collect();
        folder::write(into, &names, &|address| page_of(set, address), force, SITE)?;
        let verdict = set.verdict();
        ui.text(&format!("{}\n{} files\n{verdict}\n", into.join(pages::FIRST).display(), names.len() + 1));
        if let Some(draft) = set.draft() {
            ui.text(&format!("{draft}\n"));
        }
        Ok(())
    })?;
    say_if_inside(
        project,
        into,
        "the pages lie inside the project, where they count as files not committed: let git ignore them, or name a folder elsewhere",
        ui,
    );
    Ok(ExitStatus::Done)
}

/// The bytes of a page.
pub(super) fn page_of(set: &Set<'_>, address: &str) -> Result<Vec<u8>, CliError> {
    match set.page(address) {
        Some(page) => Ok(page?.text.into_bytes()),
        None => Err(CliError::refused(format!("there is no page {address}"), "this is a mistake in slipmark")),
    }
}

/// Puts the pages of a folder together and hands them on; `again` as for [`make`].
pub(super) fn set_of<T>(
    project: &Project,
    common: &Common,
    event: usize,
    base: Base<'_>,
    again: Option<Option<Dated>>,
    take: impl FnOnce(&Set<'_>) -> Result<T, CliError>,
) -> Result<T, CliError> {
    let (dated, past) = (when(project, again)?, past(base, common, project)?);
    let (analysis, guard, source) = (&project.analysis, project.guard()?, &*project.source);
    take(&Set::of(Made { analysis, guard, past: &past, source, dated: &dated }, event, Scheme::Folder)?)
}

/// The packet's date. For one that is made again: the date that SOURCE_DATE_EPOCH gave it, or that it was the commit's.
fn when(project: &Project, again: Option<Option<Dated>>) -> Result<Dated, CliError> {
    let subject = project.commit.map(|oid| project.repo.commit(oid)).transpose()?.map(|commit| commit.summary);
    match again {
        None => dated(project, std::env::var_os(EPOCH)),
        Some(None) => dated(project, None),
        Some(Some(dated)) => Ok(Dated { subject, ..dated }),
    }
}

/// Says that what was written counts as a file of the project.
fn say_if_inside(project: &Project, path: &Path, words: &str, ui: &mut Ui) {
    let inside = path.canonicalize().is_ok_and(|path| path.starts_with(&project.root));
    if inside && !project.past {
        ui.aside(words);
    }
}

/// What changes are listed since.
#[derive(Clone, Copy)]
pub(super) enum Base<'a> {
    /// What was asked for.
    Named(&'a str),
    /// The last annotated tag.
    LastReview,
    /// There was none when the packet was made that is made again.
    Nothing,
}

/// Makes the packet; `again` is the date of one that is made again.
pub(super) fn make(
    project: &Project,
    common: &Common,
    (event, format, paper): (usize, Format, Paper),
    base: Base<'_>,
    again: Option<Option<Dated>>,
) -> Result<Packet, CliError> {
    let (dated, past) = (when(project, again)?, past(base, common, project)?);
    let (analysis, guard, source) = (&project.analysis, project.guard()?, &*project.source);
    let from = Made { analysis, guard, past: &past, source, dated: &dated };
    Ok(match format {
        Format::Xlsx => workbook::workbook(from, event)?,
        Format::Pdf => on_paper(from, event, paper)?,
        _ => packet::packet(from, event)?,
    })
}

/// The packet as a PDF, where this program can make one.
#[cfg(feature = "pdf")]
fn on_paper(from: Made<'_>, event: usize, paper: Paper) -> Result<Packet, CliError> {
    use crate::report::pdf;
    let paper = match paper {
        Paper::A4 => pdf::Paper::A4,
        Paper::Letter => pdf::Paper::Letter,
    };
    Ok(packet::packet_on_paper(from, event, paper)?)
}

#[cfg(not(feature = "pdf"))]
fn on_paper(_: Made<'_>, _: usize, _: Paper) -> Result<Packet, CliError> {
    Err(no_pdf())
}

/// Said by a program that can make none; the usual tests are built with what can, and read it here.
#[cfg(any(test, not(feature = "pdf")))]
fn no_pdf() -> CliError {
    CliError::refused(
        "this program was built without what makes PDFs",
        "build it with cargo build --release --features pdf; or leave -o and --format out, and print the page, which is laid out for paper too",
    )
}

/// What changed since the base, and how each requirement came to read as it does.
pub(super) fn past(base: Base<'_>, common: &Common, project: &Project) -> Result<Past, CliError> {
    let since = since(base, common, project)?;
    let requirements = project.analysis.model.requirements.iter().map(|it| it.head.id.as_str());
    let told = match project.commit {
        Some(end) => {
            project.looking_back(|| revisions_of(&project.repo, &project.prefix, requirements.clone(), end))?
        }
        None => Default::default(),
    };
    let uncommitted = history::uncommitted(project)?;
    let history = |id: &str| Some((id.to_string(), history_of(project, id, told.get(id), &uncommitted)?));
    Ok(Past { since, histories: requirements.filter_map(history).collect() })
}

/// What changed since the base.
pub(super) fn since(base: Base<'_>, common: &Common, project: &Project) -> Result<Since, CliError> {
    let range = match base {
        Base::Named(since) => Some(changes::range((None, Some(since)), common, project)?),
        Base::LastReview => last_review(common, project)?,
        Base::Nothing => None,
    };
    Ok(match range {
        Some(range) => {
            let changes = changes::compare(project, range)?;
            Since::Changes(view::changes(&project.analysis.model.config.name, &changes))
        }
        None if project.commit.is_none() => Since::default(),
        None => Since::Nothing(
            "There is no annotated tag to compare with. A review is marked with git tag -a NAME; any other base is named \
             with --since.",
        ),
    })
}

/// How a requirement came to read as it does, from what its commits and the files tell; none if neither knows it.
pub(super) fn history_of(
    project: &Project,
    id: &str,
    told: Option<&Revisions>,
    uncommitted: &[Change],
) -> Option<HistoryView> {
    let change = uncommitted.iter().find(|change| change.id == id);
    let mut view = match (told, change) {
        (Some(told), change) => view::history(told, change),
        (None, Some(change)) => view::history_to_be(change),
        (None, None) => return None,
    };
    view.add_evidence(project.carried());
    Some(view)
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
    Ok(base.map(|(from_name, oid)| Range { from: Some(oid), from_name, from_before: false, to, to_name }))
}

/// The packet's date, and what its commit says.
pub(super) fn dated(project: &Project, epoch: Option<OsString>) -> Result<Dated, CliError> {
    let commit = project.commit.map(|oid| project.repo.commit(oid)).transpose()?;
    let subject = commit.as_ref().map(|commit| commit.summary.clone());
    if let Some(epoch) = epoch {
        let seconds = epoch.to_str().and_then(|text| text.trim().parse::<i64>().ok());
        let instant = seconds.and_then(|seconds| jiff::Timestamp::from_second(seconds).ok()).ok_or_else(|| {
            CliError::refused("SOURCE_DATE_EPOCH is no number of seconds", "unset it, or set it to seconds since 1970")
        })?;
        let date = jiff::tz::Offset::UTC.to_datetime(instant).date();
        return Ok(Dated { date: Some(date.to_string()), from: EPOCH, subject });
    }
    let from = if commit.is_some() { "the commit" } else { "there is no commit" };
    Ok(Dated { date: commit.map(|commit| commit.made_on.to_string()), from, subject })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is to be typed names a feature that there is, and options that there are.
    #[test]
    fn a_program_that_makes_no_pdf_says_how_to_have_one() {
        let help = no_pdf().help().unwrap_or_default();
        let feature = help.split("--features ").nth(1).and_then(|rest| rest.split(';').next()).unwrap_or_default();
        assert!(include_str!("../../../Cargo.toml").contains(&format!("\n{feature} = [\"dep:")), "{help}");
        let known = Arguments::augment_args(clap::Command::new("packet"));
        let has = |name: &str| known.get_arguments().any(|own| own.get_long() == Some(name));
        assert!(help.contains("--format") && has("format") && help.contains("-o ") && has("output"), "{help}");
    }
}
