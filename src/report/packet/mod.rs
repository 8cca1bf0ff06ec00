//! The packet: one self-contained HTML page for the people who decide, and for those who look into it years later.
//!
//! In: an analysis, its guard, its past, the source (for hashes), an event. Out: the page. The parts of the page are views, one
//! file each; the templates under `templates/packet` only lay them out. Nothing in the page can run: no script, a content
//! policy that forbids any, and whatever a project's files say is escaped in `html` or by the template engine.
//! To add a section: its view in a file here, a field of [`Packet`], a template, and a line in `packet.html`.

pub(in crate::report) mod cover;
pub(in crate::report) mod fingerprint;
pub(in crate::report) mod hardware;
pub(in crate::report) mod html;
pub(in crate::report) mod life;
pub(in crate::report) mod links;
pub(in crate::report) mod manifest;
pub(in crate::report) mod page;
pub(in crate::report) mod past;
pub(in crate::report) mod photo;
pub(in crate::report) mod record;
pub(in crate::report) mod registers;
pub(in crate::report) mod requirement;
pub(in crate::report) mod row;
pub(in crate::report) mod steps;

#[cfg(test)]
pub(in crate::report) mod tests;

use std::collections::BTreeMap;

use serde::Serialize;

use self::links::{Link, Linker};
use self::row::RowPart;
use super::ReportError;
use super::pictures;
use super::view::{self, BeforeView, RowView};
use crate::analysis::Analysis;
use crate::history::Guard;
use crate::source::Source;
use crate::templates::Templates;

pub(in crate::report) use self::cover::{draft, rule, sentence};
pub use self::fingerprint::{Claims, Looked, differing, look};
pub use self::links::Scheme;
pub(in crate::report) use self::manifest::{Manifest, file_count, files, manifest};
pub use self::page::is_packet;

/// Whether a file is a packet as a PDF, by its first and last bytes.
pub fn is_pdf(ends: &[u8]) -> bool {
    ends.starts_with(fingerprint::PDF) && fingerprint::is_stamped(ends)
}

pub use self::past::{Past, Since};

/// Where a date is from that is not the commit's.
pub const EPOCH: &str = "SOURCE_DATE_EPOCH";

/// Where the packet's date is from, and what its commit says: never the clock.
#[derive(Clone, Debug)]
pub struct Dated {
    /// The date.
    pub date: Option<String>,
    /// `commit`, `SOURCE_DATE_EPOCH`, or why there is none.
    pub from: &'static str,
    /// The first line of the commit's message.
    pub subject: Option<String>,
}

/// A packet, ready to be written.
#[derive(Clone, Debug)]
pub struct Packet {
    /// The page, or the workbook.
    pub bytes: Vec<u8>,
    /// The verdict in a sentence.
    pub verdict: String,
    /// Why it is a draft, if it is one.
    pub draft: Option<String>,
    /// A name for the file: the event, and the commit.
    pub name: String,
}

/// What the templates see.
#[derive(Debug, Serialize)]
struct Whole<'a> {
    before: &'a BeforeView,
    cover: cover::Cover,
    less_asked: Vec<cover::LessAsked>,
    faults: Vec<Problem>,
    gaps: Vec<Problem>,
    open: Vec<RowPart>,
    closes: Vec<Closes>,
    /// How far results are from their limits, if any has a margin.
    margins: Option<html::Html>,
    nonconformances: Vec<Link>,
    waivers: Vec<Link>,
    withdrawn: Vec<Link>,
    lapsing: Vec<Lapsing>,
    /// Whether the requirements have pictures; of very many none has.
    drawn: bool,
    parts: Vec<requirement::RequirementPart>,
    others: Vec<requirement::RequirementPart>,
    records: Vec<record::RecordPart>,
    registers: registers::Registers,
    /// The product tree, with where its parts stand.
    product: Option<html::Html>,
    items: Vec<hardware::ItemPart>,
    slots: Vec<hardware::SlotPart>,
    lives: Vec<life::LifePart>,
    changes: past::ChangesPart,
    manifest: Manifest,
    places: links::Sections,
}

/// Evidence that lapses.
#[derive(Debug, Serialize)]
pub(in crate::report) struct Lapsing {
    until: String,
    requirement: Link,
    subject: Link,
    record: Link,
}

/// A fault or a gap.
#[derive(Debug, Serialize)]
pub(in crate::report) struct Problem {
    code: &'static str,
    place: Link,
    message: html::Html,
    help: html::Html,
}

/// A procedure, and the open rows that it closes.
#[derive(Debug, Serialize)]
pub(in crate::report) struct Closes {
    procedure: Link,
    /// How many it closes as things are.
    rows: usize,
    /// How many wait for something else too.
    waits: usize,
    /// What is said of one that is not released.
    draft: Option<&'static str>,
    requirements: Vec<Link>,
}

/// What a packet is made from.
#[derive(Clone, Copy)]
pub struct Made<'a> {
    /// The project, read and judged.
    pub analysis: &'a Analysis,
    /// What left it.
    pub guard: &'a Guard,
    /// What changed, and how it came to read as it does.
    pub past: &'a Past,
    /// Where its files are read from, for their hashes.
    pub source: &'a dyn Source,
    /// Where the packet's date is from.
    pub dated: &'a Dated,
}

/// SHA-256 and path of every file of a project, and the SHA-256 of that list.
pub fn hashes(analysis: &Analysis, source: &dyn Source) -> (Vec<(Option<String>, String)>, String) {
    let manifest = manifest(analysis, source);
    (manifest.hashes(), manifest.digest)
}

/// Makes the packet for an event, by position, as a page.
///
/// # Errors
/// If a template is at fault.
pub fn packet(from: Made<'_>, event: usize) -> Result<Packet, ReportError> {
    let (page, before, claims) = page(from, event, &from.analysis.templates)?;
    finished(fingerprint::onto_page(page, claims)?, &before, "html")
}

/// Makes the packet for an event, by position, as a PDF. It is set with the program's own templates whatever the project has: on paper
/// nobody could see what one of the project's leaves out.
///
/// # Errors
/// If a template is at fault.
#[cfg(feature = "pdf")]
pub fn packet_on_paper(from: Made<'_>, event: usize, paper: super::pdf::Paper) -> Result<Packet, ReportError> {
    let (page, before, claims) = page(from, event, &Templates::default())?;
    let title = format!("{}: verification packet, before {}", before.heading.project, before.event);
    let pdf = super::pdf::pdf(&page, &title, &running(&before), cover::draft(&before).as_deref(), paper)?;
    let claims = Claims { paper: Some(paper.word().to_string()), ..claims };
    finished(fingerprint::onto_pdf(pdf, claims)?, &before, "pdf")
}

fn finished(bytes: Vec<u8>, before: &BeforeView, ending: &str) -> Result<Packet, ReportError> {
    let (verdict, draft) = (cover::sentence(before), cover::draft(before));
    Ok(Packet { bytes, verdict, draft, name: named(before, ending) })
}

/// Makes the page, and what it is to carry of itself.
fn page(from: Made<'_>, event: usize, templates: &Templates) -> Result<(String, BeforeView, Claims), ReportError> {
    let Made { analysis, guard, past, source, dated } = from;
    let before = view::before(analysis, guard, event);
    let linker = Linker::of(analysis);
    let ordered = cover::in_order(&before.rows);
    let (parts, others): (Vec<_>, Vec<_>) = requirement::parts(analysis, &linker, &ordered, past)
        .into_iter()
        .partition(requirement::RequirementPart::is_due);
    let rows: Vec<RowPart> = parts.iter().flat_map(|part| part.rows.iter().cloned()).collect();
    let files = manifest(analysis, source);
    let claims = Claims::of(&before, dated, &past.since, &files);
    let whole = Whole {
        cover: cover::Cover::of(analysis, &linker, &before, dated, event),
        less_asked: cover::less_asked(&linker, &before).collect(),
        faults: before.faults.iter().map(|fault| problem(&linker, fault)).collect(),
        gaps: before.gaps.iter().map(|gap| problem(&linker, gap)).collect(),
        open: open(&before.rows, &rows),
        closes: closes(&linker, &before),
        margins: pictures::margins(&before, "margins", pictures::Layout::WIDE).map(html::Html::trusted),
        nonconformances: linker.links(&before.nonconformances),
        waivers: linker.links(&before.waivers),
        withdrawn: linker.links(&before.withdrawn),
        lapsing: before.lapsing.iter().map(|own| lapsing(&linker, own)).collect(),
        records: record::parts(analysis, &linker, &rows, source),
        registers: registers::Registers::of(analysis, &linker),
        product: pictures::product(&view::product(analysis, &before.rows, event), "product").map(html::Html::trusted),
        items: hardware::items(analysis, &linker, event),
        slots: hardware::slots(analysis, &linker),
        lives: life::parts(analysis, &linker, |_| true),
        changes: past::ChangesPart::of(&linker, &past.since, "the files of this packet", false),
        manifest: files,
        drawn: parts.is_empty() || parts.iter().any(|part| part.picture.is_some()),
        places: linker.sections(),
        parts,
        others,
        before: &before,
    };
    let page = page::render(&whole, &running(&before), templates)?;
    Ok((page, before, claims))
}

/// The open rows in the order of the answer, as they stand in the matrix.
fn open(ordered: &[RowView], rows: &[RowPart]) -> Vec<RowPart> {
    let mut by_requirement: BTreeMap<&str, Vec<&RowPart>> = BTreeMap::new();
    for row in rows {
        by_requirement.entry(&row.requirement.text).or_default().push(row);
    }
    let open = ordered.iter().filter(|row| row.state.is_open());
    let found = open.filter_map(|row| by_requirement.get(row.requirement.as_str())?.iter().find(|part| part.is(row)));
    found.map(|part| (*part).clone()).collect()
}

pub(in crate::report) fn lapsing(linker: &Linker, own: &view::LapsingView) -> Lapsing {
    Lapsing {
        until: own.until.clone(),
        requirement: linker.link(&own.requirement),
        subject: linker.link(&own.subject),
        record: linker.link(&own.record),
    }
}

pub(in crate::report) fn problem(linker: &Linker, finding: &view::FindingView) -> Problem {
    let place = finding.place();
    let href = finding.path.as_ref().map(|path| linker.file(&crate::text::RepoPath::new(path.clone()), place.clone()));
    Problem {
        code: finding.code,
        place: href.unwrap_or(Link { text: place, href: None }),
        message: linker.text(&finding.message),
        help: linker.text(&finding.help),
    }
}

/// Procedures by how many open rows each closes.
fn closes(linker: &Linker, before: &BeforeView) -> Vec<Closes> {
    let rows = &before.rows;
    let part = |(procedure, closer): (String, view::Closer)| {
        let mut ids: Vec<&str> = closer.rows.iter().map(|at| rows[*at].requirement.as_str()).collect();
        ids.sort_unstable();
        ids.dedup();
        Closes {
            procedure: linker.link(&procedure),
            rows: closer.closes,
            waits: closer.waits(),
            draft: closer.draft.then_some(view::DRAFT),
            requirements: linker.links(ids),
        }
    };
    view::procedures(rows, &before.draft_procedures).into_iter().map(part).collect()
}

/// What stands at the foot of every printed page.
pub(in crate::report) fn running(before: &BeforeView) -> String {
    let commit = before.heading.commit.as_ref().map_or_else(|| "no commit".to_string(), |oid| short(oid));
    let draft = cover::draft(before).map(|draft| format!("{draft} · ")).unwrap_or_default();
    format!("{draft}{}, before {} · {commit} · {}", before.heading.project, before.event, before.heading.today)
}

/// A name for the file: the event, and the commit.
pub(in crate::report) fn named(before: &BeforeView, ending: &str) -> String {
    let plain = |text: &str| -> String {
        let kept = text.chars().map(|c| if c.is_alphanumeric() || matches!(c, '.' | '_' | '-') { c } else { '-' });
        kept.collect::<String>().trim_matches(['.', '-']).to_string()
    };
    let event = plain(&before.event);
    let event = if event.is_empty() { "event".to_string() } else { event };
    let commit = before.heading.commit.as_ref().map_or_else(|| "no-commit".to_string(), |oid| short(oid));
    let draft = if before.heading.clean { "" } else { "-draft" };
    format!("{event}-packet-{commit}{draft}.{ending}")
}

pub(in crate::report) fn short(commit: &str) -> String {
    commit.get(..10).unwrap_or(commit).to_string()
}
