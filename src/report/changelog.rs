//! What changed as a document to attach to a review: by decision, then by what it is about; as a page and as Markdown.

use minijinja::context;
use minijinja::value::Serde;
use pulldown_cmark::{Event, Parser, TagEnd};

use super::ReportError;
use super::finished::Must;
use super::packet::links::Linker;
use super::packet::page::{Document, STYLE, fill};
use super::packet::past::{ChangesPart, Since};
use super::tables::cell;
use super::text::changes::Told;
use super::text::words::AROUND;
use super::view::changelog::{Again, Group, changelog};
use super::view::{ChangeView, ChangesView, CommitView, EvidenceView, Said, UndoneView};
use crate::history::{Piece, around_changes, word_by_word};
use crate::templates::Templates;

/// What the document is.
const NOTE: &str = "This compares records, not hardware: whether to operate is for the people responsible, under the codes that \
                    apply where they are.";

/// Above what no one change is behind.
const REST: &str = "What else does not stand any more, because of no one change";

/// What every such page has near its start.
const GENERATOR: &str = "<meta name=\"generator\" content=\"slipmark changes";

/// What every such Markdown document starts with.
const TITLE: &str = "# Changes of ";

/// Whether a file that starts with these bytes is such a document, which may be written over.
pub fn is_changelog(start: &[u8]) -> bool {
    let start = String::from_utf8_lossy(&start[..start.len().min(2000)]);
    start.contains(GENERATOR) || start.starts_with(TITLE)
}

/// The page; it needs nothing beside it. `all` lists what only moved, and looks, too.
///
/// # Errors
/// If a template is at fault, or the page does not say what it must.
pub fn html(view: &ChangesView, all: bool, templates: &Templates) -> Result<String, ReportError> {
    let part = ChangesPart::of(&Linker::default(), &Since::Changes(view.clone()), &view.to_name, all);
    let running = format!("{}, changes from {} to {}", view.project, view.from_name, view.to_name);
    let whole = context! {
        changes => Serde(&part),
        slipmark => view.slipmark,
        project => &view.project,
        from_name => &view.from_name,
        to_name => &view.to_name,
        note => NOTE,
    };
    let own = Document { templates, name: "changes.html", style: STYLE, running: &running, words: NOTE };
    fill(own, whole, || must(view))
}

/// What the page must say: what to mind about it, what could not be read, and the evidence that was undone.
fn must(view: &ChangesView) -> Vec<Must> {
    let mut all = vec![Must::Say(NOTE.into())];
    all.extend(view.cautions.iter().map(|caution| Must::Say(caution.clone())));
    all.extend(view.unreadable.iter().map(|file| Must::Say(file.why.clone())));
    let slipped = view.changes.iter().flat_map(|change| &change.slipped);
    all.extend(slipped.map(|record| Must::Say(record.clone())));
    let undone = view.changes.iter().flat_map(|change| &change.undone).chain(&view.undone);
    all.extend(undone.map(|it| Must::Say(it.why().to_string())));
    all
}

/// The same as Markdown. What files say is text in it, never markup.
pub fn markdown(view: &ChangesView, all: bool) -> String {
    let log = changelog(view, all);
    let mut page = Page::default();
    page.line(&format!("{TITLE}{}, from {} to {}", cell(&view.project), cell(&view.from_name), cell(&view.to_name)));
    let commit = |oid: &Option<String>, other: &str| oid.clone().unwrap_or_else(|| other.to_string());
    let (from, to) = (commit(&view.from, "the start"), commit(&view.to, "the work tree"));
    let from =
        if view.from_before && view.from.is_some() { format!("{from}, {},", cell(&view.from_words())) } else { from };
    page.paragraph(&format!("From {from} to {to}; commits in between: {}.", view.commit_count));
    let summary = view.summary();
    if !summary.is_empty() {
        page.line("");
    }
    summary.iter().for_each(|line| page.item(0, &cell(line)));
    for caution in &view.cautions {
        page.paragraph(&format!("**{}**", cell(caution)));
    }
    for file in &view.unreadable {
        page.item(
            0,
            &format!("**unreadable** {}: {}; what it said is not listed in full", cell(&file.path), cell(&file.why)),
        );
    }
    for group in &log.groups {
        page.group(group);
    }
    if !view.put_back.is_empty() {
        page.heading(2, "Touched in between, and as it was");
    }
    for it in &view.put_back {
        let word = if it.came_and_went { "came and went" } else { "put back" };
        page.item(0, &format!("**{word}** {} {} ({})", cell(&it.id), cell(&it.title), cell(&it.kind)));
        page.evidence(&it.evidence);
        page.commits(&it.commits);
    }
    if !view.undone.is_empty() {
        page.heading(2, REST);
    }
    view.undone.iter().for_each(|it| page.undone(0, it));
    page.again(&log.rest);
    if !log.small.is_empty() {
        let ids: Vec<String> = log.small.iter().map(|change| cell(&change.id)).collect();
        let words = "Not listed, as nothing that evidence or plans hang from differs";
        page.paragraph(&format!("{words}: {}.", ids.join(", ")));
    }
    if view.changes.is_empty() && view.put_back.is_empty() {
        page.paragraph("Nothing that this project lists differs.");
    }
    page.paragraph(NOTE);
    page.text
}

#[derive(Default)]
struct Page<'v> {
    text: String,
    told: Told<'v>,
}

impl<'v> Page<'v> {
    fn line(&mut self, words: &str) {
        self.text.push_str(words.trim_end());
        self.text.push('\n');
    }

    fn heading(&mut self, depth: usize, words: &str) {
        self.line("");
        self.line(&format!("{} {words}", "#".repeat(depth)));
        self.line("");
    }

    fn paragraph(&mut self, words: &str) {
        self.line("");
        self.line(words);
    }

    fn item(&mut self, depth: usize, words: &str) {
        self.line(&format!("{}- {words}", "  ".repeat(depth)));
    }

    fn group(&mut self, group: &Group<'v>) {
        match group.decision {
            Some(decision) => {
                let title = decision.title.as_deref().unwrap_or("a decision that no file records");
                let date = decision.date.as_ref().map(|date| format!(", {date}")).unwrap_or_default();
                self.heading(2, &format!("{} {}{}", cell(&decision.id), cell(title), cell(&date)));
                for words in paragraphs(&decision.body) {
                    self.line(&format!("> {}", cell(&words)));
                    self.line(">");
                }
            }
            None => self.heading(2, "Named by no decision"),
        }
        if let Some(own) = group.own {
            self.line("");
            self.change(own);
        }
        for part in &group.parts {
            self.heading(3, &cell(&part.name));
            part.changes.iter().for_each(|change| self.change(change));
        }
        if !group.elsewhere.is_empty() {
            let listed: Vec<String> =
                group.elsewhere.iter().map(|(id, under)| format!("{} under {}", cell(id), cell(under))).collect();
            self.paragraph(&format!("It changed too, told under another decision: {}.", listed.join(", ")));
        }
        self.again(&group.again);
    }

    fn change(&mut self, change: &'v ChangeView) {
        let safety = if change.safety { ", safety" } else { "" };
        let lead = format!(
            "**{}** {} {} ({}{safety})",
            change.word(),
            cell(&change.id),
            cell(&change.title),
            cell(&change.kind)
        );
        self.item(0, &lead);
        for said in change.said() {
            let words = match said {
                Said::Reworded(None, it) => match (&it.from, &it.to) {
                    (Some(from), Some(to)) => marked(word_by_word(from, to)),
                    (from, to) => cell(to.as_ref().or(from.as_ref()).map(String::as_str).unwrap_or_default()),
                },
                Said::Reworded(Some(name), it) => {
                    let (from, to) = (it.from.unwrap_or_default(), it.to.unwrap_or_default());
                    format!("{name}: {}", marked(around_changes(&from, &to, AROUND)))
                }
                Said::Criterion(it) => {
                    let notes: String = it.notes().iter().map(|note| format!("; {}", cell(note))).collect();
                    format!("{} **{}**: {}{notes}", cell(&it.name), it.direction, cell(&it.values()))
                }
                Said::Plain(words) => cell(&words),
            };
            self.item(1, &words);
        }
        self.evidence(&change.evidence);
        change.undone.iter().for_each(|it| self.undone(1, it));
        self.commits(&change.commits);
        if change.uncommitted {
            self.item(1, "**not committed**");
        }
    }

    fn evidence(&mut self, list: &[EvidenceView]) {
        for (_, words) in list.iter().flat_map(EvidenceView::says) {
            self.item(1, &format!("**slipped**: {}", cell(&words)));
        }
    }

    fn undone(&mut self, depth: usize, it: &UndoneView) {
        self.item(depth, &format!("**{}**: {}", it.state.word(), cell(&it.says())));
    }

    fn commits(&mut self, list: &'v [CommitView]) {
        for it in list {
            let who = it.who.as_ref().map(|who| format!(", {}", cell(who))).unwrap_or_default();
            let short = it.oid.get(..10).unwrap_or(&it.oid);
            self.item(1, &format!("{} ({}, {short}{who})", cell(&it.summary), cell(&it.date)));
            // Why it was made is said where it is named first.
            if let Some(reason) = it.reason.as_ref().filter(|_| self.told.insert(&it.oid)) {
                self.item(2, &cell(reason));
            }
        }
    }

    fn again(&mut self, list: &[Again<'_>]) {
        if list.is_empty() {
            return;
        }
        self.paragraph("To be done, because evidence was undone:");
        self.line("");
        for it in list {
            let note = it.redo.note.as_ref().map(|note| format!(" ({})", cell(note))).unwrap_or_default();
            self.item(0, &format!("**{}**{note}", cell(&it.redo.how)));
            for row in &it.rows {
                let look = if row.anew { "" } else { "; no new run is needed, only that somebody looks and says so" };
                self.item(1, &format!("{}{look}", cell(&row.says())));
            }
        }
    }
}

/// Two texts word by word: what went struck through, what came in bold.
fn marked(pieces: Vec<Piece>) -> String {
    let mut shown: Vec<String> = Vec::new();
    for piece in pieces {
        match piece {
            Piece::Same(words) => shown.push(cell(&words)),
            Piece::Changed { from, to } => {
                if !from.is_empty() {
                    shown.push(format!("~~{}~~", cell(&from)));
                }
                if !to.is_empty() {
                    shown.push(format!("**{}**", cell(&to)));
                }
            }
        }
    }
    shown.join(" ")
}

/// The paragraphs of a Markdown text as plain words.
fn paragraphs(body: &str) -> Vec<String> {
    let mut found = vec![String::new()];
    for event in Parser::new(body) {
        let Some(last) = found.last_mut() else { break };
        match event {
            Event::Text(text) | Event::Code(text) | Event::Html(text) | Event::InlineHtml(text) => last.push_str(&text),
            Event::SoftBreak | Event::HardBreak => last.push(' '),
            Event::End(
                TagEnd::Paragraph | TagEnd::Heading(_) | TagEnd::Item | TagEnd::CodeBlock | TagEnd::HtmlBlock,
            ) => found.push(String::new()),
            _ => {}
        }
    }
    found.retain(|words| !words.trim().is_empty());
    found
}
