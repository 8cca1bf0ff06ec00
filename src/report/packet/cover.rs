//! The first page: which project, which event, as of which commit and day, the verdict, and where the rows stand.

use serde::Serialize;

use super::links::Link;
use super::{Dated, html::Html, links::Linker};
use crate::analysis::Analysis;
use crate::quantity::Rule;
use crate::report::cautions::{DEFER, for_hazard};
use crate::report::pictures;
use crate::report::view::{BeforeView, RowView, VerdictWord};
use crate::state::State;

// What the first page holds at most of each, so that what is open starts on the second.
const LESS_ASKED: usize = 4;
const PIECES: usize = 8;
const HAZARDS: usize = 12;

/// The first page.
#[derive(Debug, Serialize)]
pub(in crate::report) struct Cover {
    project: String,
    event: String,
    /// When the event is planned, in words that follow its name.
    planned: Option<String>,
    pieces: Vec<Link>,
    pieces_more: usize,
    today: String,
    commit: Option<String>,
    short: Option<String>,
    subject: Option<String>,
    date: Option<String>,
    date_from: &'static str,
    version: &'static str,
    rule: String,
    draft: Option<String>,
    verdict: VerdictWord,
    sentence: String,
    /// That all that is due is due before earlier events.
    earlier_only: Option<String>,
    /// What is open against what is due and must be closed only later.
    later: Option<String>,
    defer: &'static str,
    parts: Vec<String>,
    counts: Vec<Count>,
    /// The rows of each event by state.
    picture: Html,
    /// The same for a narrow screen.
    picture_narrow: Html,
    /// How many faults there are: each could make the rest wrong, so they come before the verdict.
    faults: usize,
    less_asked: Vec<LessAsked>,
    /// How many more are listed in the next part.
    less_asked_more: usize,
    less_asked_since: Option<String>,
    cautions: Vec<Caution>,
    other_hazards: Vec<String>,
}

/// How many rows are in one state.
#[derive(Debug, Serialize)]
struct Count {
    state: &'static str,
    rows: usize,
    meaning: &'static str,
}

/// What is asked less than at the last tag.
#[derive(Debug, Serialize)]
pub(in crate::report) struct LessAsked {
    id: Link,
    text: Html,
}

#[derive(Debug, Serialize)]
struct Caution {
    hazard: String,
    sentences: &'static [&'static str],
}

impl Cover {
    /// From the answer about the event.
    pub(in crate::report) fn of(
        analysis: &Analysis,
        linker: &Linker,
        view: &BeforeView,
        dated: &Dated,
        event: usize,
    ) -> Cover {
        let config = &analysis.model.config;
        let own = &config.events[event];
        let (known, other): (Vec<&String>, Vec<&String>) =
            view.hazards.iter().partition(|hazard| !for_hazard(hazard).is_empty());
        Cover {
            project: view.heading.project.clone(),
            event: view.event.clone(),
            planned: view.planned(),
            pieces: linker.links(own.serials.iter().take(PIECES).map(|serial| serial.value.to_string())),
            pieces_more: own.serials.len().saturating_sub(PIECES),
            today: view.heading.today.clone(),
            short: view.heading.commit.as_ref().map(|commit| super::short(commit)),
            commit: view.heading.commit.clone(),
            subject: dated.subject.clone(),
            date: dated.date.clone(),
            date_from: dated.from,
            version: view.heading.slipmark,
            rule: rule(analysis),
            draft: draft(view),
            verdict: view.verdict,
            sentence: sentence(view),
            earlier_only: view.earlier_only(),
            later: view.later(),
            defer: DEFER,
            parts: parts(view),
            counts: counts(view),
            picture: Html::trusted(pictures::events(view, "events")),
            picture_narrow: Html::trusted(pictures::events_narrow(view, "events-narrow")),
            faults: view.faults.len(),
            less_asked: less_asked(linker, view).take(LESS_ASKED).collect(),
            less_asked_more: view.less_asked.len().saturating_sub(LESS_ASKED),
            less_asked_since: view.less_asked_since.clone(),
            cautions: known
                .into_iter()
                .map(|hazard| Caution { hazard: hazard.clone(), sentences: for_hazard(hazard) })
                .collect(),
            other_hazards: other.into_iter().take(HAZARDS).cloned().collect(),
        }
    }
}

/// Everything that is asked less, in the order of the answer.
pub(in crate::report) fn less_asked<'v>(
    linker: &'v Linker,
    view: &'v BeforeView,
) -> impl Iterator<Item = LessAsked> + 'v {
    view.less_asked.iter().map(|less| LessAsked { id: linker.link(&less.id), text: linker.text(&less.text) })
}

/// The verdict in the words that every format uses.
pub(in crate::report) fn sentence(view: &BeforeView) -> String {
    match view.verdict {
        VerdictWord::NothingOpen => format!("Nothing that this project lists before {} is open.", view.event),
        VerdictWord::NothingPlanned => format!("Nothing is planned before {}: that is no answer.", view.event),
        VerdictWord::Open => format!("{} open before {}.", view.open_total, view.event),
    }
}

/// Why these files are not what a commit holds.
pub(in crate::report) fn draft(view: &BeforeView) -> Option<String> {
    match (&view.heading.commit, view.heading.uncommitted) {
        (None, _) => Some("DRAFT: no commit holds these files".into()),
        (Some(_), 0) => None,
        (Some(_), 1) => Some("DRAFT: 1 file not committed".into()),
        (Some(_), n) => Some(format!("DRAFT: {n} files not committed")),
    }
}

/// How results are judged, in words.
pub(in crate::report) fn rule(analysis: &Analysis) -> String {
    match &analysis.model.config.rule {
        Rule::Simple => "simple: inside the limit".into(),
        Rule::Guarded => "guarded: inside the limit by the expanded uncertainty".into(),
        Rule::Probability(least) => {
            let least = least.to_f64().unwrap_or(f64::NAN);
            format!("probability of conformity at least {least}")
        }
    }
}

/// What else is counted beside rows.
fn parts(view: &BeforeView) -> Vec<String> {
    let all = [
        (view.rows.len(), "row due", "rows due"),
        (view.nonconformances.len(), "open nonconformance", "open nonconformances"),
        (view.gaps.len(), "gap", "gaps"),
        (view.faults.len(), "fault", "faults"),
        (view.waivers.len(), "waiver in force", "waivers in force"),
        (view.withdrawn.len(), "withdrawn record", "withdrawn records"),
    ];
    let some = all.iter().filter(|(count, ..)| *count > 0);
    some.map(|(count, one, many)| format!("{count} {}", if *count == 1 { one } else { many })).collect()
}

fn counts(view: &BeforeView) -> Vec<Count> {
    let count = |state: &State| Count {
        state: state.word(),
        rows: view.counts.get(state.word()).copied().unwrap_or(0),
        meaning: state.meaning(),
    };
    State::ALL.iter().map(count).collect()
}

/// Rows as the matrix has them: by requirement, entry and subject.
pub(in crate::report) fn in_order(rows: &[RowView]) -> Vec<&RowView> {
    let mut ordered: Vec<&RowView> = rows.iter().collect();
    ordered.sort_by(|a, b| (&a.requirement, a.entry, &a.subject).cmp(&(&b.requirement, b.entry, &b.subject)));
    ordered
}
