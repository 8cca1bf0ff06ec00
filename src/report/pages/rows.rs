//! Rows as somebody chose them: which, with what columns, put together by what. The choice stands in the address.

use std::collections::{BTreeMap, BTreeSet};

use minijinja::context;
use minijinja::value::Serde;
use serde::Serialize;

use super::Set;
use super::engine::{Framed, Place, framed};
use crate::report::ReportError;
use crate::report::packet::links::Linker;
use crate::report::packet::row::RowPart;
use crate::report::view::{GroupBy, RowView, group_name};
use crate::state::State;
use crate::text::encoded;

/// How many rows a page holds.
const ROWS: usize = 300;

/// What can be shown of a row beside its state and its requirement: name, head, whether it is shown if nothing is chosen.
const COLUMNS: &[(&str, &str, bool)] = &[
    ("title", "title", true),
    ("statement", "statement", false),
    ("shown", "how it is shown", true),
    ("before", "before", true),
    ("owner", "owner", false),
    ("criteria", "asked, result, margin", false),
    ("evidence", "evidence", true),
    ("why", "why it is open", true),
];

/// By what rows can be put together.
const BY: &[GroupBy] = &[GroupBy::Procedure, GroupBy::Serial, GroupBy::Item, GroupBy::Owner, GroupBy::Event];

/// One box or line of a form.
#[derive(Debug, Serialize)]
struct Choice {
    value: String,
    words: String,
    chosen: bool,
}

/// Rows that belong together.
#[derive(Debug, Serialize)]
struct Together {
    name: String,
    rows: Vec<Shown>,
}

#[derive(Debug, Serialize)]
struct Shown {
    row: RowPart,
    statement: String,
    owner: String,
    /// The first reason, where the row is open.
    why: String,
    due: bool,
}

/// The fields of a form as they came.
struct Fields<'f>(&'f [(String, String)]);

impl<'f> Fields<'f> {
    fn all(&self, name: &str) -> Vec<&'f str> {
        let own = self.0.iter().filter(|(own, value)| own == name && !value.is_empty());
        own.map(|(_, value)| value.as_str()).collect()
    }

    fn one(&self, name: &str) -> Option<&'f str> {
        self.all(name).first().copied()
    }

    /// The same choice on another page of it.
    fn on_page(&self, page: usize) -> String {
        let rest = self.0.iter().filter(|(name, value)| name != "page" && !value.is_empty());
        let mut query: Vec<String> =
            rest.map(|(name, value)| format!("{}={}", encoded(name), encoded(value))).collect();
        query.push(format!("page={page}"));
        format!("?{}", query.join("&"))
    }
}

impl Set<'_> {
    /// The rows that a form asked for.
    ///
    /// # Errors
    /// If a template is at fault.
    pub fn rows_chosen(&self, fields: &[(String, String)]) -> Result<String, ReportError> {
        let prepared = &*self.prepared;
        let linker = prepared.linker("rows");
        let fields = Fields(fields);
        let chosen: Vec<usize> = (0..prepared.row_count()).filter(|at| self.is_chosen(*at, &fields)).collect();
        let pages = chosen.len().div_ceil(ROWS).max(1);
        let page = fields.one("page").and_then(|page| page.parse().ok()).unwrap_or(1).clamp(1, pages);
        let by = BY.iter().copied().find(|by| fields.one("by") == Some(by.word()));
        let shown = chosen.iter().skip((page - 1) * ROWS).take(ROWS);
        let columns = columns(&fields);
        let shows = |of: fn(&Choice) -> &String| -> Vec<String> {
            columns.iter().filter(|own| own.chosen).map(|own| of(own).clone()).collect()
        };
        let (names, heads) = (shows(|own| &own.value), shows(|own| &own.words));
        let title = format!("Rows, before {}", prepared.before.event);
        let view = context! {
            title => &title,
            total => prepared.row_count(),
            count => chosen.len(),
            together => Serde(&self.together(&linker, shown.copied(), by)),
            columns => names,
            heads,
            form => Serde(&self.form(&fields, columns)),
            q => fields.one("q").unwrap_or(""),
            previous => (page > 1).then(|| fields.on_page(page - 1)),
            next => (page < pages).then(|| fields.on_page(page + 1)),
            page, pages,
        };
        framed(
            prepared,
            &linker,
            Framed { title: &title, place: Place::Rows, template: "live/rows.html", view, scripts: &[] },
        )
    }

    fn is_chosen(&self, at: usize, fields: &Fields<'_>) -> bool {
        let row = self.prepared.row(at);
        let states = fields.all("state");
        let is = |name: &str, value: Option<&str>| fields.one(name).is_none_or(|asked| value == Some(asked));
        let due = match fields.one("due") {
            Some("due") => self.prepared.is_due(at),
            Some("later") => !self.prepared.is_due(at),
            _ => true,
        };
        let words = || {
            let asked = fields.one("q").unwrap_or("").to_lowercase();
            let text =
                [&row.requirement, &row.title, &row.subject, &row.statement].map(|text| text.to_lowercase()).join(" ");
            asked.split_whitespace().all(|word| text.contains(word))
        };
        (states.is_empty() || states.contains(&row.state.word()) || states.contains(&"open") && row.state.is_open())
            && is("method", Some(method(row)))
            && is("procedure", row.procedure.as_deref())
            && is("owner", row.owner.as_deref())
            && due
            && (fields.one("safety").is_none() || row.safety)
            && words()
    }

    fn together(&self, linker: &Linker, rows: impl Iterator<Item = usize>, by: Option<GroupBy>) -> Vec<Together> {
        let mut all: BTreeMap<(usize, String), Vec<Shown>> = BTreeMap::new();
        for at in rows {
            let row = self.prepared.row(at);
            let name = by.map(|by| group_name(row, by)).unwrap_or_default();
            all.entry(name).or_default().push(Shown {
                row: RowPart::of(self.from.analysis, linker, row, at + 1),
                statement: row.statement.clone(),
                owner: row.owner.clone().unwrap_or_default(),
                why: row.reasons.first().map(|reason| reason.text.clone()).unwrap_or_default(),
                due: self.prepared.is_due(at),
            });
        }
        all.into_iter().map(|((_, name), rows)| Together { name, rows }).collect()
    }

    /// The lines of the form, with what is chosen of them.
    fn form(&self, fields: &Fields<'_>, columns: Vec<Choice>) -> BTreeMap<&'static str, Vec<Choice>> {
        let rows = || (0..self.prepared.row_count()).map(|at| self.prepared.row(at));
        let of = |name: &'static str, values: BTreeSet<&str>| {
            let line = |value: &str| choice(value, value, fields.one(name) == Some(value));
            (name, values.into_iter().map(line).collect::<Vec<_>>())
        };
        let states = fields.all("state");
        let state = State::ALL.iter().map(|state| choice(state.word(), state.word(), states.contains(&state.word())));
        let due = [("due", "due before this event"), ("later", "due later")];
        let due = due.iter().map(|(value, words)| choice(value, words, fields.one("due") == Some(value)));
        let by = BY.iter().map(|by| choice(by.word(), by.word(), fields.one("by") == Some(by.word())));
        BTreeMap::from([
            ("state", state.collect()),
            of("method", rows().map(method).collect()),
            of("procedure", rows().filter_map(|row| row.procedure.as_deref()).collect()),
            of("owner", rows().filter_map(|row| row.owner.as_deref()).collect()),
            ("due", due.collect()),
            ("by", by.collect()),
            ("safety", vec![choice("1", "safety only", fields.one("safety").is_some())]),
            ("column", columns),
        ])
    }
}

fn choice(value: &str, words: &str, chosen: bool) -> Choice {
    Choice { value: value.to_string(), words: words.to_string(), chosen }
}

fn method(row: &RowView) -> &str {
    row.method.unwrap_or("none")
}

/// The columns, with those that are chosen.
fn columns(fields: &Fields<'_>) -> Vec<Choice> {
    let asked = fields.all("column");
    let known = asked.iter().any(|own| COLUMNS.iter().any(|(name, ..)| name == own));
    COLUMNS
        .iter()
        .map(|(name, head, usual)| choice(name, head, if known { asked.contains(name) } else { *usual }))
        .collect()
}
