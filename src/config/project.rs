//! `slipmark.toml`.

use std::cell::RefCell;
use std::collections::BTreeMap;

use crate::diag::{Class, Finding, Findings, catalogue};
use crate::id::SerialId;
use crate::parse::{Amount, Moment, Reader, settings};
use crate::quantity::{Quantity, Rational, Rule, parse_quantity, parse_share};
use crate::text::{FileId, Span, Spanned};

use super::roles::{self, Role};

/// The project as its file describes it.
#[derive(Clone, Debug)]
pub struct Config {
    /// Its name.
    pub name: String,
    /// The events, in the order in which they happen.
    pub events: Vec<Event>,
    /// The decision rule.
    pub rule: Rule,
    /// The absolute pressure that gauge readings are relative to.
    pub ambient: Option<Quantity>,
    /// Who must do and who must watch what, in the order of the file.
    pub roles: Vec<Role>,
    /// Nested projects that are meant to be there.
    pub projects: Vec<Spanned<String>>,
    /// The folder of the templates that the project has in place of the program's.
    pub templates: Option<Spanned<String>>,
    /// Levels of warnings and notes that the project sets, with where it does.
    pub levels: BTreeMap<String, (Level, Span)>,
    /// Where the file starts.
    pub top: Span,
}

/// A point in the campaign that things must be closed before.
#[derive(Clone, Debug)]
pub struct Event {
    /// Its name.
    pub name: Spanned<String>,
    /// When it is planned.
    pub date: Option<Spanned<Moment>>,
    /// The pieces that will be there.
    pub serials: Vec<Spanned<SerialId>>,
    /// What one holding of it uses of the limited life of each of its pieces: an amount by the name of each budget.
    pub uses: Vec<(Spanned<String>, Spanned<Amount>)>,
}

impl Event {
    /// What it uses of a budget, if it says so.
    pub fn uses_of(&self, budget: &str) -> Option<&Spanned<Amount>> {
        self.uses.iter().find(|(name, _)| name.value == budget).map(|(_, amount)| amount)
    }
}

/// How loud a warning or a note is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Level {
    /// Shown as a warning.
    Warning,
    /// Shown as a note.
    Note,
    /// Not shown.
    Off,
}

/// Keys of the project file, for complaints about keys that slid into a table below.
pub(super) const KEYS: &[&str] =
    &["name", "events", "roles", "ambient", "projects", "templates", "levels", "conformity"];

impl Config {
    /// Reads `slipmark.toml`.
    pub fn read(file: FileId, text: &str, findings: &mut Findings) -> Config {
        let (table, base) = settings(file, text, findings);
        let top = Span::new(file, 0..text.lines().next().map_or(0, str::len));
        let collected = RefCell::new(std::mem::take(findings));
        let config = read(Reader::new(&table, top, base, "project file", &collected));
        *findings = collected.into_inner();
        config
    }

    /// The position of an event in the campaign.
    pub fn event_index(&self, name: &str) -> Option<usize> {
        self.events.iter().position(|event| event.name.value == name)
    }
}

fn read(reader: Reader<'_>) -> Config {
    let top = reader.span();
    let config = Config {
        name: reader.required_text("name").map_or_else(|| "unnamed project".to_string(), |name| name.value),
        events: events(&reader),
        rule: conformity(&reader),
        ambient: ambient(&reader),
        roles: reader.tables("roles", "[[roles]]").into_iter().map(roles::role).collect(),
        projects: reader.list("projects"),
        templates: reader.text("templates"),
        levels: levels(&reader),
        top,
    };
    if config.events.is_empty() {
        reader.report(
            Finding::at("no-events", top, "the project names no event that things must be closed before").help(
                "add events = [\"leak-check\", \"hot-fire\"] with your own names, in the order in which they happen",
            ),
        );
    }
    reader.finish(&[]);
    config
}

fn events(reader: &Reader<'_>) -> Vec<Event> {
    let events: Vec<Event> = if reader.holds_tables("events") {
        reader.tables("events", "[[events]]").into_iter().map(event).collect()
    } else {
        let plain = |name: Spanned<String>| Event { name, date: None, serials: Vec::new(), uses: Vec::new() };
        reader.list("events").into_iter().map(plain).collect()
    };
    for (index, event) in events.iter().enumerate() {
        let name = &event.name.value;
        let alike = |earlier: &&Event| earlier.name.value.to_lowercase() == name.to_lowercase();
        let Some(first) = events[..index].iter().find(alike).map(|first| &first.name) else { continue };
        let (text, help) = match first.value == *name {
            true => (format!("event `{name}` is listed twice"), "remove one of the two"),
            false => (
                format!(
                    "events `{}` and `{name}` differ only in case: whoever asks for one may get the other",
                    first.value
                ),
                "give one of them another name",
            ),
        };
        reader.report(Finding::at("event-twice", event.name.span, text).also(first.span, "first here").help(help));
    }
    events
}

fn event(table: Reader<'_>) -> Event {
    let span = table.span();
    let event = Event {
        name: table.required_text("name").unwrap_or(Spanned::new(String::new(), span)),
        date: table.date("date"),
        serials: table.serials("serials"),
        uses: table.amounts("uses"),
    };
    table.finish(KEYS);
    event
}

fn conformity(reader: &Reader<'_>) -> Rule {
    let usual = Rational::new(95.into(), 100.into());
    let Some(table) = reader.table("conformity", "[conformity]") else { return Rule::Guarded };
    type Named = (&'static str, fn(Rational) -> Rule);
    let rules: [Named; 3] =
        [("simple", |_| Rule::Simple), ("guarded", |_| Rule::Guarded), ("probability", Rule::Probability)];
    let rule = table.choice("rule", &rules).map_or(rules[1].1, |rule| rule.value);
    let probability = table.scalar("probability").and_then(|written| match parse_share(written.value.text()) {
        Some(share) if share > Rational::new(1.into(), 2.into()) && share < Rational::one() => Some(share),
        _ => {
            table.report(
                Finding::at(
                    "bad-probability",
                    written.span,
                    "the probability of conformity must lie between 0.5 and 1",
                )
                .help("write probability = 0.95"),
            );
            None
        }
    });
    table.finish(KEYS);
    rule(probability.unwrap_or(usual))
}

fn ambient(reader: &Reader<'_>) -> Option<Quantity> {
    let written = reader.scalar("ambient")?;
    let fits = parse_quantity(written.value.text()).ok().filter(|quantity| quantity.kind.tag() == "absolute");
    if fits.is_none() {
        reader.report(
            Finding::at("bad-ambient", written.span, "`ambient` must be an absolute pressure")
                .help("write ambient = \"101.325 kPa abs\", or what your barometer shows"),
        );
    }
    fits
}

fn levels(reader: &Reader<'_>) -> BTreeMap<String, (Level, Span)> {
    let words = [("warning", Level::Warning), ("note", Level::Note), ("off", Level::Off)];
    let mut levels = BTreeMap::new();
    for (code, level) in reader.named_texts("levels") {
        let Some((_, chosen)) = words.iter().find(|(word, _)| *word == level.value) else {
            reader.report(
                Finding::at("unknown-word", level.span, format!("\"{}\" is no level", level.value))
                    .help("write one of: warning, note, off"),
            );
            continue;
        };
        match catalogue::entry(&code.value).map(|entry| entry.class) {
            None => reader.report(
                Finding::at("unknown-code", code.span, format!("no finding has the code `{}`", code.value)).help(
                    match crate::parse::nearest(&code.value, catalogue::all().iter().map(|entry| entry.code)) {
                        Some(meant) => format!("did you mean `{meant}`?"),
                        None => "run `slipmark explain` to list the codes".to_string(),
                    },
                ),
            ),
            Some(Class::Fault | Class::Gap) => reader.report(
                Finding::at(
                    "level-cannot-be-lowered",
                    code.span,
                    format!("`{}` is a fault or a gap: its level is fixed", code.value),
                )
                .help("remove this line"),
            ),
            Some(_) => {
                levels.insert(code.value, (*chosen, code.span));
            }
        }
    }
    levels
}
