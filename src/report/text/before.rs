//! `before` for a terminal.

use rayon::prelude::*;

use crate::report::cautions::{DEFER, for_hazard};
use crate::report::style::{BAD, GOOD, Mark, NAME, OFF, QUIET, STRONG, WARN};
use crate::report::view::{BeforeView, GroupBy, NonconformanceView, RowView, SinceRow, VerdictWord, procedures};
use crate::state::State;

use super::{Lines, findings, pad};

/// The answer as text; `all` also lists the rows that are closed.
pub fn render(view: &BeforeView, all: bool, width: usize) -> String {
    let mut page = Page { text: String::new(), width };
    page.first_things(view);
    page.since_line(view);
    page.verdict(view);
    match (&view.next, view.by) {
        (Some(next), _) => {
            page.text.push_str(&super::next::render(next, view, width));
            return page.text;
        }
        (None, Some(by)) => page.groups(view, by),
        (None, None) => page.open_rows(view),
    }
    page.since_rows(view);
    page.gaps(view);
    page.departures(view);
    page.lapsing(view);
    if all {
        page.closed_rows(view);
    }
    page.cautions(view);
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
}

impl Page {
    /// What could make every other line wrong: faults, and what is asked less.
    fn first_things(&mut self, view: &BeforeView) {
        if !view.faults.is_empty() {
            let faults = counted(view.faults.len(), "fault", "faults");
            self.line(&format!("{BAD}{faults}{OFF}, which could make this answer wrong:"));
            for finding in &view.faults {
                self.text.push_str(&findings::one(finding, self.width));
            }
            self.line("");
        }
        if !view.less_asked.is_empty() {
            let since = view.less_asked_since.as_deref().unwrap_or("the last tag");
            self.line(&format!("{WARN}Less is asked than at {since}:{OFF}"));
            for less in &view.less_asked {
                self.paragraph(&format!("  {} ", less.id), &less.text, 4);
            }
            self.line("");
        }
    }

    /// What has moved since a point in history, in one line.
    fn since_line(&mut self, view: &BeforeView) {
        if let Some(since) = &view.since {
            self.paragraph("", &since.summary, 2);
        }
    }

    /// The rows that have moved since, by what happened to them.
    fn since_rows(&mut self, view: &BeforeView) {
        let Some(since) = &view.since else { return };
        let lists = [
            ("Closed", &since.closed),
            ("Open again", &since.opened),
            ("Still open, in another state", &since.changed),
            ("New", &since.new),
            ("Not due any more", &since.gone),
        ];
        for (what, rows) in lists.into_iter().filter(|(_, rows)| !rows.is_empty()) {
            self.heading(&format!("{what} since {}", since.name));
            rows.iter().for_each(|row| self.since_row(row));
        }
    }

    fn since_row(&mut self, row: &SinceRow) {
        let (word, mark) = match (row.state, row.was) {
            (Some(state), _) => (state.word(), if state.is_open() { colour(state) } else { GOOD }),
            (None, was) => (was.map_or("", State::word), QUIET),
        };
        let lead = format!("  {mark}{}{OFF} {STRONG}{}{OFF} ", pad(word, 12), row.requirement);
        let was =
            row.was.filter(|_| row.state.is_some()).map(|was| format!("; was {}", was.word())).unwrap_or_default();
        let why = row.reason.as_ref().map(|why| format!("; {why}")).unwrap_or_default();
        self.paragraph(&lead, &format!("{} on {}{was}{why}", row.title, row.subject), 15);
    }

    fn verdict(&mut self, view: &BeforeView) {
        let mut when = format!("{}, {}", view.heading.project, view.heading.today);
        if let Some(planned) = view.planned() {
            when.push_str(&format!("; {} {planned}", view.event));
        }
        let tree = match (&view.heading.commit, view.heading.uncommitted) {
            (None, _) => "no commit yet".to_string(),
            (Some(commit), 0) => format!("commit {}", short(commit)),
            (Some(commit), 1) => format!("commit {} and 1 file not committed", short(commit)),
            (Some(commit), n) => format!("commit {} and {n} files not committed", short(commit)),
        };
        let line = match view.verdict {
            VerdictWord::NothingOpen => {
                format!("{GOOD}Nothing that this project lists before {} is open.{OFF} {DEFER}", view.event)
            }
            VerdictWord::NothingPlanned => {
                format!("{WARN}nothing is planned before {}{OFF}: that is no answer", view.event)
            }
            VerdictWord::Open => format!("{BAD}{} open before {}{OFF}", view.open_total, view.event),
        };
        self.paragraph("", &line, 0);
        for beside in view.earlier_only().into_iter().chain(view.later()) {
            self.paragraph("", &format!("{WARN}{beside}{OFF}"), 2);
        }
        let counts = State::ALL.iter().filter_map(|state| match view.counts.get(state.word()) {
            None | Some(0) => None,
            Some(count) => Some(format!("{count} {}", state.word())),
        });
        let mut parts: Vec<String> = counts.collect();
        let more = [
            (view.nonconformances.len(), "open nonconformance", "open nonconformances"),
            (view.gaps.len(), "gap", "gaps"),
            (view.faults.len(), "fault", "faults"),
            (view.waivers.len(), "waiver in force", "waivers in force"),
        ];
        parts.extend(more.iter().filter(|(count, ..)| *count > 0).map(|(count, one, many)| counted(*count, one, many)));
        let due: usize = view.counts.values().sum();
        self.paragraph("", &format!("{due} due: {}", parts.join(", ")), 2);
        self.paragraph("", &format!("{QUIET}{when}; {tree}{OFF}"), 2);
    }

    /// Says that not every row is listed.
    fn only(&mut self, view: &BeforeView) {
        if let Some(state) = view.only {
            self.line("");
            self.paragraph("", &format!("Listed are only rows that are {state}; the verdict is of all."), 0);
        }
    }

    /// Open rows put together by what was asked for.
    fn groups(&mut self, view: &BeforeView, by: &str) {
        self.only(view);
        for group in &view.groups {
            self.heading(&format!("{by} {}: {}", group.name, counted(group.rows.len(), "row open", "rows open")));
            let rows: Vec<&RowView> = group.rows.iter().filter_map(|at| view.rows.get(*at)).collect();
            self.rows(&rows, by != GroupBy::Owner.word());
        }
    }

    /// Open rows by what closes them: the procedure, or the kind of work.
    fn open_rows(&mut self, view: &BeforeView) {
        let open: Vec<&RowView> = view.rows.iter().filter(|row| row.state.is_open()).collect();
        self.only(view);
        if open.is_empty() {
            return;
        }
        self.heading("Open, safety first, worst first");
        self.rows(&open, true);
        let closers = procedures(&view.rows, &view.draft_procedures);
        if !closers.is_empty() {
            self.heading("What closes them");
        }
        for (procedure, closer) in closers {
            let mut ids: Vec<&str> = closer.rows.iter().map(|at| view.rows[*at].requirement.as_str()).collect();
            ids.dedup();
            let text = format!("{}: {}", closer.said(), ids.join(", "));
            self.paragraph(&format!("  {NAME}{procedure}{OFF} "), &text, 4);
        }
    }

    /// Rows one after another, each written by itself: there can be tens of thousands.
    fn rows(&mut self, rows: &[&RowView], with_owner: bool) {
        let width = self.width;
        let one = |row: &&RowView| {
            let mut page = Page { text: String::new(), width };
            page.row(row, with_owner);
            page.text
        };
        let texts: Vec<String> = rows.par_iter().with_min_len(64).map(one).collect();
        self.text.push_str(&texts.concat());
    }

    /// One row; whose it is stands behind its title, unless the heading above says so.
    fn row(&mut self, row: &RowView, with_owner: bool) {
        let mark = if row.state.is_open() { colour(row.state) } else { GOOD };
        let safety = if row.safety { " [safety]" } else { "" };
        let lead = format!("  {mark}{}{OFF} {STRONG}{}{OFF}{safety} ", pad(row.state.word(), 12), row.requirement);
        let owner = row.owner.as_ref().filter(|_| with_owner);
        let owner = owner.map_or(String::new(), |owner| format!("{QUIET}; owner: {owner}{OFF}"));
        self.paragraph(&lead, &format!("{}{owner}", row.title), 15);
        let how: Vec<String> = [
            row.method.map(str::to_string),
            row.stage.map(str::to_string),
            row.procedure.clone(),
            Some(format!("on {}", row.subject)),
            row.before.as_ref().map(|event| format!("before {event}")),
        ]
        .into_iter()
        .flatten()
        .collect();
        self.paragraph("               ", &format!("{QUIET}{}{OFF}", how.join(", ")), 15);
        if let (Some(waiver), Some(covers)) = (&row.waiver, row.covers) {
            self.line(&format!("               {waiver} covers that it is {}", covers.word()));
        }
        self.text.push_str(&super::row::reasons(&row.reasons, row.state.is_open(), self.width));
    }

    fn gaps(&mut self, view: &BeforeView) {
        if view.gaps.is_empty() {
            return;
        }
        self.heading("Gaps of what is due");
        for gap in &view.gaps {
            self.text.push_str(&findings::one(gap, self.width));
        }
    }

    fn departures(&mut self, view: &BeforeView) {
        if !view.nonconformance_details.is_empty() {
            self.heading("Open nonconformances");
        }
        for it in &view.nonconformance_details {
            let (lead, text) = nonconformance(it);
            self.paragraph(&lead, &text, 4);
        }
        if !view.waiver_details.is_empty() {
            self.heading("Waivers in force");
        }
        for it in &view.waiver_details {
            let rows = counted(it.rows, "row", "rows");
            let text = format!(
                "{} on {}: {}; {}; approved by {}; covers {rows} here",
                it.requirement, it.scope, it.accepts, it.until, it.approved_by
            );
            self.paragraph(&format!("  {STRONG}{}{OFF} ", it.id), &text, 4);
            if let Some(conditions) = &it.conditions {
                self.paragraph("    ", &format!("{WARN}on condition{OFF}: {conditions}"), 4);
            }
            for void in &it.void {
                self.paragraph("    ", &format!("{WARN}it covers evidence that does not stand{OFF}: {void}"), 4);
            }
        }
        if !view.withdrawn_details.is_empty() {
            self.heading("Withdrawn evidence of what is due");
        }
        for it in &view.withdrawn_details {
            self.paragraph(&format!("  {STRONG}{}{OFF} ", it.id), &format!("{}: {}", it.title, it.reason), 4);
        }
    }

    fn lapsing(&mut self, view: &BeforeView) {
        if view.lapsing.is_empty() {
            return;
        }
        self.heading(&format!("Holds until; {} has no date", view.event));
        for it in &view.lapsing {
            let text = format!("{} on {}, by {}", it.requirement, it.subject, it.record);
            self.paragraph(&format!("  {STRONG}{}{OFF} ", it.until), &text, 13);
        }
    }

    fn closed_rows(&mut self, view: &BeforeView) {
        self.heading("Closed and waived");
        let closed: Vec<&RowView> = view.rows.iter().filter(|row| !row.state.is_open()).collect();
        self.rows(&closed, true);
    }

    fn cautions(&mut self, view: &BeforeView) {
        let known: Vec<&String> = view.hazards.iter().filter(|hazard| !for_hazard(hazard).is_empty()).collect();
        if !known.is_empty() {
            self.heading("The usual cautions, incomplete on purpose");
        }
        for hazard in known {
            self.paragraph(&format!("  {STRONG}{hazard}{OFF}: "), &for_hazard(hazard).join(" "), 4);
        }
        if view.verdict != VerdictWord::NothingOpen {
            self.line("");
            self.paragraph("", DEFER, 0);
        }
    }
}

/// An open nonconformance: what stands first, and the rest.
pub(super) fn nonconformance(it: &NonconformanceView) -> (String, String) {
    let text = format!("{}; against {}; {}", it.title, it.against.join(", "), it.lacks);
    (format!("  {STRONG}{}{OFF} ", it.id), text)
}

/// The style of a state.
pub fn colour(state: State) -> Mark {
    match state {
        State::NotMet | State::Void => BAD,
        State::Waived | State::Closed => GOOD,
        _ => WARN,
    }
}

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

fn short(commit: &str) -> &str {
    commit.get(..10).unwrap_or(commit)
}
