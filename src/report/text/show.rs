//! One thing for a terminal, and as Markdown.

use crate::report::style::{OFF, QUIET, STRONG, WARN, columns};
use crate::report::tables::{Table, markdown as tables, rows};
use crate::report::view::{Detail, LifeView, Link, ShowView};

use super::{Lines, row, wrap};

/// The view as text.
pub fn render(view: &ShowView, width: usize) -> String {
    let mut page = Page { text: String::new(), width };
    page.head(view);
    page.prose(view.statement.as_deref().or(view.body.as_deref()));
    page.details(view);
    page.criteria(view);
    page.limited_life(view);
    page.rows(view);
    page.links(&view.links);
    page.text
}

struct Page {
    text: String,
    width: usize,
}

impl Lines for Page {
    fn page(&mut self) -> (&mut String, usize) {
        (&mut self.text, self.width)
    }

    fn heading(&mut self, text: &str) {
        self.line("");
        let mut letters = text.chars();
        let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
        self.line(&format!("{STRONG}{first}{}{OFF}", letters.as_str()));
    }
}

impl Page {
    /// `label   text`, wrapped under itself.
    fn labelled(&mut self, label: &str, text: &str, at: usize) {
        let lead = format!("  {QUIET}{label}{OFF}{}", " ".repeat(at.saturating_sub(columns(label)).max(2)));
        let indent = at + 2;
        let wrapped = wrap(text, self.width, columns(&lead), indent);
        self.line(&format!("{lead}{wrapped}"));
    }

    fn head(&mut self, view: &ShowView) {
        let safety = view.details.iter().any(|own| own.name == "safety");
        let safety = if safety { format!(" {WARN}[safety]{OFF}") } else { String::new() };
        let lead = format!("{STRONG}{}{OFF}{safety} ", view.id);
        let title = wrap(&view.title, self.width, columns(&lead), 2);
        self.line(&format!("{lead}{title}"));
        let place = match (&view.path, view.line) {
            (Some(path), Some(line)) => format!(", {path}:{line}"),
            (Some(path), None) => format!(", {path}"),
            _ => String::new(),
        };
        self.line(&format!("{QUIET}{}{place}{OFF}", view.kind));
    }

    /// Text as written: paragraphs and the lines of lists are wrapped; tables and blocks of code are not.
    fn prose(&mut self, text: Option<&str>) {
        let Some(text) = text else { return };
        self.line("");
        let mut fenced = false;
        let mut running = String::new();
        for line in text.replace('\r', "").lines() {
            let fence = line.trim_start().starts_with("```");
            let verbatim = fenced || fence || line.trim_start().starts_with('|');
            fenced ^= fence;
            if verbatim || line.trim().is_empty() || marker(line) > 0 {
                self.running(&std::mem::take(&mut running));
            }
            match line.trim() {
                _ if verbatim => self.line(&format!("  {line}")),
                "" => self.line(""),
                _ if running.is_empty() => running.push_str(line),
                more => {
                    running.push(' ');
                    running.push_str(more);
                }
            }
        }
        self.running(&running);
        self.text.truncate(self.text.trim_end().len());
        self.text.push('\n');
    }

    /// A paragraph, or an item of a list under its own mark.
    fn running(&mut self, text: &str) {
        if text.is_empty() {
            return;
        }
        let at = 2 + (text.len() - text.trim_start().len()).min(DEEPEST);
        let wrapped = wrap(text, self.width, at, at + marker(text));
        self.line(&format!("{}{wrapped}", " ".repeat(at)));
    }

    fn details(&mut self, view: &ShowView) {
        let shown: Vec<&Detail> = view.details.iter().filter(|own| own.name != "safety").collect();
        if shown.is_empty() {
            return;
        }
        self.line("");
        let at = shown.iter().map(|own| columns(own.name)).max().unwrap_or(0) + 2;
        let mut last = "";
        for own in shown {
            let label = if own.name == last { "" } else { own.name };
            self.labelled(label, &own.text, at);
            last = own.name;
        }
    }

    fn criteria(&mut self, view: &ShowView) {
        if !view.criteria.is_empty() {
            self.heading("criteria");
        }
        let at = view.criteria.iter().map(|own| columns(&own.name)).max().unwrap_or(0) + 2;
        for criterion in &view.criteria {
            let mut text = criterion.limit.clone();
            for (index, condition) in criterion.conditions.iter().enumerate() {
                text.push_str(&format!(" {} {condition}", if index == 0 { "with" } else { "and" }));
            }
            self.labelled(&criterion.name, &text, at);
            if let Some(note) = &criterion.text {
                self.labelled("", note, at);
            }
        }
        if !view.plan.is_empty() {
            self.heading("plan");
        }
        for entry in &view.plan {
            let wrapped = wrap(&entry.text, self.width, 2, 4);
            self.line(&format!("  {wrapped}"));
        }
    }

    fn limited_life(&mut self, view: &ShowView) {
        if view.limited_life.is_empty() {
            return;
        }
        self.heading("limited life");
        let label = |own: &LifeView| format!("{} {}", own.piece, own.name);
        let at = view.limited_life.iter().map(|own| columns(&label(own))).max().unwrap_or(0).min(28) + 2;
        for own in &view.limited_life {
            let text = if own.outlook == "lasts" { own.text.clone() } else { format!("{WARN}{}{OFF}", own.text) };
            self.labelled(&label(own), &text, at);
            // Of an item, how each piece stands is enough.
            let lines = if view.kind == "serial" { own.lines() } else { Vec::new() };
            lines.iter().for_each(|line| self.labelled("", line, at));
        }
    }

    fn rows(&mut self, view: &ShowView) {
        if view.rows.is_empty() {
            return;
        }
        self.heading(match view.kind {
            "analysis" | "test" | "inspection" | "demonstration" => "rows that it decides or touches",
            "event" => "due before it, and not earlier",
            "procedure" => "open rows that it closes",
            _ => "where it stands",
        });
        for one in &view.rows {
            self.text.push_str(&row::one(one, "", self.width));
        }
    }

    fn links(&mut self, links: &[Link]) {
        let mut relations: Vec<&str> = Vec::new();
        for link in links {
            if !relations.contains(&link.relation) {
                relations.push(link.relation);
            }
        }
        let at = links.iter().map(|link| columns(&link.id)).max().unwrap_or(0).min(24) + 2;
        for relation in relations {
            self.heading(relation);
            for link in links.iter().filter(|link| link.relation == relation) {
                let note = if link.note.is_empty() { String::new() } else { format!(" {QUIET}({}){OFF}", link.note) };
                let text = if link.kind == "unknown" { "nothing has this id".into() } else { link.title.clone() };
                let lead = format!("  {}{}", link.id, " ".repeat(at.saturating_sub(columns(&link.id)).max(2)));
                let noted = format!("{text}{note}");
                let wrapped = wrap(&noted, self.width, columns(&lead), at + 2);
                self.line(&format!("{lead}{wrapped}"));
            }
        }
    }
}

/// Columns that the items of a list are moved in at most.
const DEEPEST: usize = 12;

/// How wide the mark is that makes a line of Markdown an item of a list, a heading or a quotation; 0 if there is none.
fn marker(line: &str) -> usize {
    let line = line.trim_start();
    let rest = line.trim_start_matches('#');
    let rest = if rest.len() < line.len() { rest } else { line.trim_start_matches(|c: char| c.is_ascii_digit()) };
    let sign = match rest.chars().next() {
        Some('-' | '*' | '+' | '>') if rest.len() == line.len() => 1,
        Some('.' | ')') if rest.len() < line.len() && !line.starts_with('#') => 1,
        Some(' ') if line.starts_with('#') => 0,
        _ => return 0,
    };
    let rest = rest.get(sign..).unwrap_or_default();
    if rest.starts_with(' ') { line.len() - rest.len() + 1 } else { 0 }
}

/// The view as Markdown: its words as text, never as markup.
pub fn markdown(view: &ShowView) -> String {
    let table = |caption: &str, heads: &[&'static str], rows: Vec<Vec<String>>| Table {
        caption: caption.to_string(),
        heads: heads.to_vec(),
        rows,
    };
    let place = view.path.clone().unwrap_or_default();
    let text = view.statement.clone().or_else(|| view.body.clone()).unwrap_or_default();
    let mut head = vec![
        vec!["kind".to_string(), view.kind.to_string()],
        vec!["file".to_string(), place],
        vec!["says".to_string(), text],
    ];
    head.extend(view.details.iter().map(|own| vec![own.name.to_string(), own.text.clone()]));
    let criteria = view.criteria.iter().map(|own| vec![own.name.clone(), own.limit.clone(), own.conditions.join("; ")]);
    let plan = view.plan.iter().map(|own| vec![own.entry.to_string(), own.text.clone()]);
    let links = view.links.iter().map(|own| {
        vec![own.relation.to_string(), own.id.clone(), own.kind.to_string(), own.title.clone(), own.note.clone()]
    });
    let lives = view.limited_life.iter().map(|own| {
        vec![own.piece.clone(), own.name.clone(), own.text.clone(), own.lines().join("; "), own.outlook.to_string()]
    });
    let mut standing = rows(&view.rows);
    standing.caption = "Rows".to_string();
    tables(&[
        table(&format!("{} {}", view.id, view.title), &["", "value"], head),
        table("Criteria", &["criterion", "limit", "conditions"], criteria.collect()),
        table("Plan", &["entry", "how"], plan.collect()),
        table("Limited life", &["piece", "name", "stands", "by", "outlook"], lives.collect()),
        standing,
        table("Links", &["relation", "id", "kind", "title", "note"], links.collect()),
    ])
}
