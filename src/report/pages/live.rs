//! What only a live page has: the page to begin with, what is said where there is no answer, and the script that follows the files.

use minijinja::context;
use minijinja::value::Serde;
use serde::Serialize;

use super::engine::environment;
use crate::report::ReportError;
use crate::report::cautions::DEFER;
use crate::report::packet::page::{STYLE, breakable, css_string, visible};
use crate::report::view::{BeforeView, VerdictWord};
use crate::templates::{Templates, our};
use crate::text::encoded;

/// Follows the files, and gives pages their keys.
pub const SCRIPT: &str = include_str!("../../../templates/live/view.js");
/// Where that stands.
pub const SCRIPT_ADDRESS: &str = "-/view.js";
/// Where the style stands that live pages have beside that of all pages.
pub const STYLE_ADDRESS: &str = "-/view.css";
/// The style of all pages, for those that are about no event.
pub const BASE_ADDRESS: &str = "-/pages.css";
/// What stands in a page where [`seen`] belongs.
pub const SEEN: &str = "<meta name=\"slipmark-seen\" content=\"\">";

/// The number of the reading that a page was made from, for the script.
pub fn seen(number: u64) -> String {
    format!("<meta name=\"slipmark-seen\" content=\"{number}\">")
}

/// The style of live pages.
pub fn style() -> &'static str {
    include_str!("../../../templates/live/view.css")
}

/// The style of all pages.
pub fn base() -> String {
    let own = |name| our(name).map_or("", |own| own.text);
    format!("{}{}", own(STYLE).replace("\"RUNNING\"", &css_string(DEFER)), own("pages/pages.css"))
}

/// How an event stands.
#[derive(Debug, Serialize)]
struct Event<'a> {
    href: String,
    name: &'a str,
    verdict: &'a VerdictWord,
    open_total: usize,
    faults: usize,
    nonconformances: usize,
    gaps: usize,
    counts: Vec<(&'static str, usize)>,
    earlier_only: bool,
}

/// What is wrong with the files.
#[derive(Debug, Serialize)]
struct Fault<'a> {
    place: String,
    message: &'a str,
    help: &'a str,
}

/// How many faults the page to begin with lists.
const FAULTS: usize = 12;

/// The page to begin with: every event, and how it stands. Each comes with the folder of its pages.
///
/// # Errors
/// If a template is at fault.
pub fn events(all: &[(String, BeforeView)]) -> Result<String, ReportError> {
    let heading = all.first().map(|(_, before)| &before.heading);
    let events: Vec<Event<'_>> = all
        .iter()
        .map(|(folder, before)| Event {
            href: format!("/{}/", encoded(folder)),
            name: &before.event,
            verdict: &before.verdict,
            open_total: before.open_total,
            faults: before.faults.len(),
            nonconformances: before.nonconformances.len(),
            gaps: before.gaps.len(),
            counts: crate::state::State::ALL
                .iter()
                .filter_map(|state| before.counts.get(state.word()).map(|count| (state.word(), *count)))
                .filter(|(_, count)| *count > 0)
                .collect(),
            earlier_only: before.earlier_only().is_some(),
        })
        .collect();
    let title = heading.map_or("", |heading| heading.project.as_str());
    let all_faults = all.first().map_or(&[][..], |(_, before)| &before.faults[..]);
    let faults = all_faults.iter().take(FAULTS);
    let faults: Vec<Fault<'_>> =
        faults.map(|own| Fault { place: own.place(), message: &own.message, help: &own.help }).collect();
    filled(
        title,
        "live/events.html",
        context! {
            faults => Serde(&faults),
            fault_count => all_faults.len(),
            events => Serde(&events),
            heading => Serde(&heading),
        },
    )
}

/// That there is no answer: what, why, and what to do.
///
/// # Errors
/// If a template is at fault.
pub fn failed(what: &str, why: &str, help: &str) -> Result<String, ReportError> {
    filled(what, "live/failed.html", context! { what, why, help })
}

/// That there is no such page.
///
/// # Errors
/// If a template is at fault.
pub fn missing() -> Result<String, ReportError> {
    failed(
        "There is no such page",
        "Nothing in the project, as it is now, stands at this address.",
        "begin again at the list of events",
    )
}

fn filled(title: &str, template: &str, view: minijinja::Value) -> Result<String, ReportError> {
    // Not those of a project: of what is wrong with them these pages tell.
    let templates = Templates::default();
    let environment = environment(&templates)?;
    let template = environment.get_template(template).map_err(|error| templates.located(&error))?;
    let page = template.render(context! { title, defer => DEFER, version => env!("CARGO_PKG_VERSION"), ..view });
    Ok(breakable(&visible(&page.map_err(|error| templates.located(&error))?)))
}
