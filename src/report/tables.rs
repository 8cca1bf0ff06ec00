//! Tables of text, and the two formats that are nothing but tables: CSV and Markdown.

use super::ReportError;
use super::style::acting;
use super::view::{
    BeforeView, ChangesView, CommitView, ConceptsView, CriterionChangeView, EditedView, EventStateView, FindingView,
    FromTo, HistoryView, ImpactView, KnownView, LapsingView, NextView, RevisionEvidence, RevisionsView, RowView,
    SinceView, StillView, TrendPoint, TrendView, UndoneView, VerdictWord, to_do,
};
use crate::state::State;

/// A table of text.
#[derive(Clone, Debug, Default)]
pub struct Table {
    /// Words above it.
    pub caption: String,
    /// Column heads.
    pub heads: Vec<&'static str>,
    /// Rows, each as long as the heads.
    pub rows: Vec<Vec<String>>,
}

/// The rows of a matrix or an open list as a table.
pub fn rows(rows: &[RowView]) -> Table {
    let heads = vec![
        "requirement",
        "title",
        "statement",
        "method",
        "stage",
        "on",
        "procedure",
        "facility",
        "by",
        "owner",
        "before",
        "subject",
        "safety",
        "state",
        "covers",
        "waiver",
        "criterion",
        "limit",
        "result",
        "margin",
        "record",
        "reason",
        "next",
    ];
    let each = rows.iter().flat_map(|row| row.criteria.iter().map(move |criterion| (row, criterion)));
    let body = each.map(|(row, criterion)| {
        let to_do = to_do(&row.reasons);
        let reasons: Vec<&str> = to_do.iter().flat_map(|own| &own.reasons).map(|reason| reason.text.as_str()).collect();
        let steps: Vec<&str> = to_do.iter().map(|own| own.help.as_ref()).collect();
        let text = |value: &Option<String>| value.clone().unwrap_or_default();
        let word = |value: Option<&'static str>| value.unwrap_or_default().to_string();
        vec![
            row.requirement.clone(),
            row.title.clone(),
            row.statement.clone(),
            word(row.method),
            word(row.stage),
            word(row.on),
            text(&row.procedure),
            text(&row.facility),
            text(&row.by),
            text(&row.owner),
            text(&row.before),
            row.subject.clone(),
            if row.safety { "yes" } else { "no" }.to_string(),
            criterion.state.word().to_string(),
            row.covers.map(crate::state::State::word).unwrap_or_default().to_string(),
            text(&row.waiver),
            criterion.name.clone(),
            criterion.limit.clone(),
            text(&criterion.result),
            text(&criterion.margin.show()),
            text(&criterion.record),
            reasons.join("; "),
            steps.join("; "),
        ]
    });
    Table { caption: "Rows".into(), heads, rows: body.collect() }
}

/// An answer about an event as tables.
pub fn before(view: &BeforeView) -> Vec<Table> {
    let mut verdict = match view.verdict {
        VerdictWord::NothingOpen => format!("Nothing that this project lists before {} is open.", view.event),
        VerdictWord::Open => format!("{} open before {}", view.open_total, view.event),
        VerdictWord::NothingPlanned => format!("nothing is planned before {}", view.event),
    };
    let mut rows_table = listed(view);
    if let Some(next) = &view.next {
        verdict.push_str(&format!(". {}", next.note));
    }
    for beside in view.earlier_only().into_iter().chain(view.later()) {
        verdict = format!("{}. {beside}", verdict.trim_end_matches('.'));
    }
    rows_table.caption = format!("{verdict} ({})", super::cautions::DEFER);
    let mut findings = self::findings(view.faults.iter().chain(&view.gaps));
    findings.caption = "Faults and gaps".into();
    let mut all = vec![rows_table, findings, lapsing(view)];
    all.splice(0..0, view.since.as_ref().map(since));
    all
}

/// The rows that have moved since a point in history.
fn since(view: &SinceView) -> Table {
    let lists = [
        ("closed", &view.closed),
        ("open again", &view.opened),
        ("open in another state", &view.changed),
        ("new", &view.new),
        ("not due any more", &view.gone),
    ];
    let word = |state: Option<State>| state.map_or(String::new(), |state| state.word().to_string());
    let rows = lists.iter().flat_map(|(what, rows)| rows.iter().map(move |row| (*what, row)));
    let cells = rows.map(|(what, row)| {
        let why = row.reason.clone().unwrap_or_default();
        vec![
            what.to_string(),
            row.requirement.clone(),
            row.title.clone(),
            row.subject.clone(),
            word(row.was),
            word(row.state),
            why,
        ]
    });
    Table {
        caption: view.summary.clone(),
        heads: vec!["what", "requirement", "title", "on", "was", "is", "why"],
        rows: cells.collect(),
    }
}

/// Evidence that lapses, by the day on which it does.
fn lapsing(view: &BeforeView) -> Table {
    let row = |it: &LapsingView| vec![it.until.clone(), it.requirement.clone(), it.subject.clone(), it.record.clone()];
    Table {
        caption: format!("Holds until; {} has no date", view.event),
        heads: vec!["until", "requirement", "on", "record"],
        rows: view.lapsing.iter().map(row).collect(),
    }
}

/// Findings as a table.
pub fn findings<'f>(findings: impl IntoIterator<Item = &'f FindingView>) -> Table {
    let row = |finding: &FindingView| {
        vec![finding.class.into(), finding.code.into(), finding.place(), finding.message.clone(), finding.help.clone()]
    };
    Table {
        caption: "Findings".into(),
        heads: vec!["class", "code", "place", "message", "next"],
        rows: findings.into_iter().map(row).collect(),
    }
}

/// What is asked of the options of a slot: one row for each criterion, option and plan entry.
pub fn compared(view: &ConceptsView) -> Table {
    let heads = vec![
        "requirement",
        "title",
        "safety",
        "criterion",
        "limit",
        "conditions",
        "option",
        "status",
        "state",
        "result",
        "margin",
        "method",
        "stage",
        "procedure",
        "subject",
        "record",
        "source",
        "reason",
    ];
    let mut rows = Vec::new();
    for asked in &view.asked {
        for criterion in &asked.criteria {
            for (option, cell) in view.options.iter().zip(&criterion.cells) {
                let start = [
                    asked.requirement.clone(),
                    asked.title.clone(),
                    if asked.safety { "yes" } else { "no" }.to_string(),
                    criterion.name.clone(),
                    criterion.limit.clone(),
                    criterion.conditions.join(", "),
                    option.id.clone(),
                    option.status.to_string(),
                ];
                if cell.shown.is_empty() {
                    let mut row = start.to_vec();
                    row.push("not asked of it".into());
                    row.resize(heads.len(), String::new());
                    rows.push(row);
                }
                for shown in &cell.shown {
                    let text = |value: &Option<String>| value.clone().unwrap_or_default();
                    let word = |value: Option<&str>| value.unwrap_or_default().to_string();
                    let mut row = start.to_vec();
                    row.extend([
                        shown.state.word().to_string(),
                        text(&shown.result),
                        text(&shown.margin),
                        word(shown.method),
                        word(shown.stage),
                        text(&shown.procedure),
                        shown.subject.clone(),
                        text(&shown.record),
                        shown.source.join("; "),
                        word(shown.reasons.first().map(|reason| reason.text.as_str())),
                    ]);
                    rows.push(row);
                }
            }
        }
    }
    Table { caption: format!("What is asked of the options of {}", view.slot), heads, rows }
}

/// The rows of an answer about an event: those listed, those of each group together, or the records to make next.
pub fn listed(view: &BeforeView) -> Table {
    if let Some(next) = &view.next {
        return self::next(next, view);
    }
    if view.by.is_none() {
        return rows(&view.rows);
    }
    let in_order = view.groups.iter().flat_map(|group| group.rows.iter().map(move |at| (group, at)));
    let listed: Vec<(&str, &RowView)> =
        in_order.filter_map(|(group, at)| Some((group.name.as_str(), view.rows.get(*at)?))).collect();
    let mut all = Table { caption: String::new(), heads: vec!["group"], rows: Vec::new() };
    for (name, row) in listed {
        let own = rows(std::slice::from_ref(row));
        all.caption = own.caption;
        if all.heads.len() == 1 {
            all.heads.extend(own.heads);
        }
        all.rows.extend(own.rows.into_iter().map(|cells| std::iter::once(name.to_string()).chain(cells).collect()));
    }
    if all.heads.len() == 1 {
        all.heads.extend(rows(&[]).heads);
    }
    all
}

/// The records to make next, one row for each row that they close, and all that stays open.
fn next(view: &NextView, answer: &BeforeView) -> Table {
    let heads = vec![
        "step",
        "method",
        "stage",
        "procedure",
        "on",
        "after",
        "needs",
        "known",
        "requirement",
        "title",
        "subject",
        "before",
        "note",
    ];
    let mut rows = Vec::new();
    for step in &view.steps {
        let after = step.after.iter().map(ToString::to_string).chain(step.after_events.iter().cloned());
        let start = [
            step.number.to_string(),
            step.method.to_string(),
            step.stage.unwrap_or_default().to_string(),
            step.procedure.clone().unwrap_or_default(),
            step.subject.clone(),
            after.collect::<Vec<_>>().join(", "),
            step.needs.join("; "),
            step.known.iter().map(known).collect::<Vec<_>>().join("; "),
        ];
        let mut add = |cells: [String; 5]| rows.push(start.iter().cloned().chain(cells).collect());
        if step.closes.is_empty() {
            add([
                String::new(),
                String::new(),
                String::new(),
                String::new(),
                "closes nothing itself; another must follow it".into(),
            ]);
        }
        for own in &step.closes {
            let before = own.before.clone().unwrap_or_default();
            add([own.requirement.clone(), own.title.clone(), own.subject.clone(), before, String::new()]);
        }
    }
    let mut stays: Vec<([String; 3], String)> = Vec::new();
    for (what, list) in [
        ("look first", &view.look_first),
        ("follows its children", &view.follow),
        ("needs a run of its own", &view.apart),
        ("stays open", &view.left),
    ] {
        for own in list {
            let reasons: Vec<&str> = own.reasons.iter().map(|reason| reason.text.as_str()).collect();
            let reason = if reasons.is_empty() { String::new() } else { format!(": {}", reasons.join("; ")) };
            let own = [&own.requirement, &own.title, &own.subject].map(String::clone);
            stays.push((own, format!("{what}{reason}")));
        }
    }
    for own in &answer.nonconformance_details {
        let about = [own.id.clone(), own.title.clone(), own.against.join(", ")];
        stays.push((about, format!("stays open: {}", own.lacks)));
    }
    for gap in &answer.gaps {
        let about = [gap.code.to_string(), gap.message.clone(), gap.place()];
        stays.push((about, format!("stays open: {}", gap.help)));
    }
    rows.extend(stays.into_iter().map(|(about, note)| {
        let start = vec![String::new(); 8].into_iter().chain(about);
        start.chain([String::new(), note]).collect()
    }));
    Table { caption: view.note.to_string(), heads, rows }
}

/// Something that is known of a piece, in a line.
fn known(own: &KnownView) -> String {
    format!("{}, {}: {}", own.name, own.what, own.today)
}

/// What changes would do: one row for each row that would stand differently.
pub fn impact(view: &ImpactView) -> Table {
    let heads = vec![
        "change",
        "what",
        "requirement",
        "title",
        "safety",
        "how",
        "subject",
        "before",
        "state",
        "state then",
        "reasons",
    ];
    let row = |change: &str, what: &str, own: &StillView, then: &str, reasons: String| {
        vec![
            change.to_string(),
            what.to_string(),
            own.requirement.clone(),
            own.title.clone(),
            if own.safety { "yes" } else { "no" }.to_string(),
            own.how.clone(),
            own.subject.clone(),
            own.before.clone().unwrap_or_default(),
            own.state.word().to_string(),
            then.to_string(),
            reasons,
        ]
    };
    let mut rows = Vec::new();
    for change in &view.changes {
        let moved =
            [("reopens", &change.reopened), ("further reason", &change.worse), ("no longer open", &change.better)];
        for (what, own) in moved.iter().flat_map(|(what, list)| list.iter().map(move |own| (what, own))) {
            let reasons = own.reasons.iter().map(|reason| reason.text.as_str()).collect::<Vec<_>>().join("; ");
            rows.push(row(&change.change, what, &own.row, own.state_then.word(), reasons));
        }
        rows.extend(change.gone.iter().map(|own| row(&change.change, "no longer asked", own, "", String::new())));
        let fresh = change.fresh.iter();
        rows.extend(fresh.map(|own| {
            let then = own.state.word();
            let mut cells = row(&change.change, "asked then", own, then, String::new());
            cells[8].clear();
            cells
        }));
        rows.extend(change.life.iter().map(|own| {
            let mut cells = vec![String::new(); heads.len()];
            (cells[0], cells[1]) = (change.change.clone(), "limited life".into());
            (cells[6], cells[10]) = (own.piece.clone(), own.says());
            cells
        }));
    }
    Table { caption: format!("What would stand differently if {} changed", view.id), heads, rows }
}

/// A comparison of options as tables.
pub fn concepts(view: &ConceptsView) -> Vec<Table> {
    let options = view.options.iter().map(|option| {
        let choices = option.decisions.iter().map(|own| {
            let proposed = if own.accepted { "" } else { " (proposed only)" };
            format!("{} {} it: {}{proposed}", own.id, own.verb, own.title)
        });
        let failed = option.failed.iter().map(|own| {
            format!(
                "{} {}: {}, by {}",
                own.requirement,
                own.criterion,
                own.result.as_deref().unwrap_or("a result not stated"),
                own.record
            )
        });
        vec![
            option.id.clone(),
            option.title.clone(),
            option.status.to_string(),
            option.revision.clone().unwrap_or_default(),
            choices.collect::<Vec<_>>().join("; "),
            failed.collect::<Vec<_>>().join("; "),
        ]
    });
    let options = Table {
        caption: format!("Options of {} ({})", view.slot, super::text::concepts::NOTE),
        heads: vec!["option", "title", "status", "revision", "decided by", "failed"],
        rows: options.collect(),
    };
    let discovered = view
        .discovered
        .iter()
        .map(|own| vec![own.requirement.clone(), own.title.clone(), own.decision.clone(), own.drops.join(", ")]);
    let discovered = Table {
        caption: "Asked for since a choice: nobody had thought of it before".into(),
        heads: vec!["requirement", "title", "added by", "which drops"],
        rows: discovered.collect(),
    };
    let open = view.options.iter().flat_map(|option| {
        option.to_show.iter().map(|own| {
            let before = own.before.clone().unwrap_or_default();
            let start = [option.id.clone(), own.requirement.clone(), own.title.clone(), own.how.clone()];
            start
                .into_iter()
                .chain([before, own.subject.clone(), own.state.word().to_string(), own.help.clone()])
                .collect()
        })
    });
    let open = Table {
        caption: "Still to be shown".into(),
        heads: vec!["option", "requirement", "title", "how", "before", "subject", "state", "next"],
        rows: open.collect(),
    };
    vec![options, compared(view), discovered, open]
}

/// What changed as a table: one row for each thing, and one for each file that could not be read.
pub fn changes(view: &ChangesView) -> Table {
    let heads = vec![
        "id",
        "kind",
        "title",
        "safety",
        "change",
        "statement then",
        "statement now",
        "criteria",
        "plan",
        "other",
        "slipped",
        "undone",
        "decisions",
        "commits",
    ];
    let commit = |it: &CommitView| {
        let who = it.who.as_ref().map(|who| format!(" ({who})")).unwrap_or_default();
        format!("{} {} {}{who}", it.oid.get(..10).unwrap_or(&it.oid), it.date, it.summary)
    };
    let unreadable = view.unreadable.iter().map(|file| {
        let mut row = vec![String::new(); 14];
        (row[0], row[1], row[4]) = (file.path.clone(), "file".into(), "unreadable".into());
        (row[9], row[13]) = (file.why.clone(), file.commit.as_ref().map_or_else(|| "not committed".into(), commit));
        row
    });
    let things = view.changes.iter().map(|change| {
        let statement = change.statement.clone().unwrap_or(FromTo { from: None, to: None });
        let mut other: Vec<String> =
            change.reach.iter().chain(&change.keys).chain(&change.accounted).cloned().collect();
        other.extend(change.parameters.iter().map(|it| {
            let text = |value: &Option<String>| value.clone().unwrap_or_else(|| "nothing".into());
            format!("moved by {}: {} → {}", it.name, text(&it.from), text(&it.to))
        }));
        other.extend(change.rationale.iter().map(|_| "rationale reworded".to_string()));
        other.extend(change.body.iter().map(|_| "text reworded".to_string()));
        if let (Some(from), Some(to)) = (&change.path.from, &change.path.to) {
            other.push(format!("{from} → {to}"));
        }
        let mut commits: Vec<String> = change.commits.iter().map(commit).collect();
        commits.extend(change.uncommitted.then(|| "not committed".to_string()));
        vec![
            change.id.clone(),
            change.kind.clone(),
            change.title.clone(),
            if change.safety { "yes" } else { "no" }.to_string(),
            change.word().to_string(),
            statement.from.unwrap_or_default(),
            statement.to.unwrap_or_default(),
            criteria(&change.criteria),
            change.plan.join("; "),
            other.join("; "),
            change
                .evidence
                .iter()
                .map(|own| format!("{} ({})", own.record, own.verdict.word()))
                .collect::<Vec<_>>()
                .join(", "),
            change.undone.iter().map(undone).collect::<Vec<_>>().join("; "),
            change.decisions.join(", "),
            commits.join("; "),
        ]
    });
    let put_back = view.put_back.iter().map(|it| {
        let mut row = vec![String::new(); 14];
        (row[0], row[1], row[2]) = (it.id.clone(), it.kind.clone(), it.title.clone());
        row[4] = if it.came_and_went { "came and went" } else { "put back" }.into();
        row[10] = it.slipped.join(", ");
        row[13] = it.commits.iter().map(commit).collect::<Vec<_>>().join("; ");
        row
    });
    let rest = view.undone.iter().map(|it| {
        let mut row = vec![String::new(); 14];
        row[0] = it.record.clone().unwrap_or_default();
        (row[4], row[11]) = ("no one change".into(), undone(it));
        row
    });
    let caption = format!("Changes from {} to {}", view.from_name, view.to_name);
    Table { caption, heads, rows: unreadable.chain(things).chain(put_back).chain(rest).collect() }
}

fn undone(it: &UndoneView) -> String {
    format!("{}: {}", it.state.word(), it.says())
}

fn criteria(changes: &[CriterionChangeView]) -> String {
    let one = |it: &CriterionChangeView| {
        let notes: String = it.notes().iter().map(|note| format!(", {note}")).collect();
        format!("{} {}: {}{notes}", it.name, it.direction, it.values())
    };
    changes.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// The revisions of a thing as a table, then those of what it replaces.
pub fn history(view: &HistoryView) -> Table {
    let heads = vec![
        "id",
        "number",
        "commit",
        "date",
        "summary",
        "change",
        "statement",
        "criteria",
        "other",
        "mark",
        "decisions",
        "evidence",
        "slipped",
        "edited",
        "states",
    ];
    let safety = if view.thing.safety { "[safety] " } else { "" };
    let caption = format!("{}: {safety}{}", view.thing.id, view.thing.title);
    let mut table = Table { caption, heads, rows: Vec::new() };
    revisions(&view.thing, &mut table.rows);
    if let Some(change) = &view.uncommitted {
        let statement = change.statement.as_ref().and_then(|it| it.to.clone()).unwrap_or_default();
        let other: Vec<&str> =
            change.reach.iter().chain(&change.plan).chain(&change.keys).map(String::as_str).collect();
        let mut row = vec![change.id.clone(), String::new(), String::new(), String::new(), "not committed".into()];
        row.extend([change.change.to_string(), statement, criteria(&change.criteria), other.join("; ")]);
        row.extend([String::new(), change.decisions.join(", "), String::new()]);
        row.extend([change.slipped.join(", "), String::new()]);
        row.push(view.states.as_deref().map(states).unwrap_or_default());
        table.rows.push(row);
    }
    table
}

fn revisions(thing: &RevisionsView, rows: &mut Vec<Vec<String>>) {
    rows.extend(thing.revisions.iter().map(|it| {
        vec![
            thing.id.clone(),
            it.number.to_string(),
            it.oid.clone(),
            it.date.clone(),
            it.summary.clone(),
            it.change.to_string(),
            it.statement.clone().unwrap_or_default(),
            criteria(&it.criteria),
            it.details.join("; "),
            it.mark.clone().unwrap_or_default(),
            it.decisions.join(", "),
            evidence(&it.evidence),
            it.slipped.as_ref().map(|slipped| slipped.records.join(", ")).unwrap_or_default(),
            it.edited.as_ref().map(edited).unwrap_or_default(),
            it.states.as_deref().map(states).unwrap_or_default(),
        ]
    }));
    thing.replaces.iter().for_each(|earlier| revisions(earlier, rows));
}

/// The points of a trend as a table.
pub fn trend(view: &TrendView) -> Table {
    let mut heads = vec!["commit", "date", "summary", "commits", "due", "open"];
    heads.extend(State::ALL.iter().map(|state| state.word()));
    heads.extend(["nonconformances", "gaps", "faults", "files not read", "scope", "tags", "decisions", "problem"]);
    let number = |count: Option<usize>| count.map(|count| count.to_string()).unwrap_or_default();
    let row = |point: &TrendPoint| {
        let mut row = vec![point.oid.clone(), point.date.clone(), point.summary.clone(), point.commits.to_string()];
        row.extend([point.due, point.open].map(number));
        row.extend(State::ALL.iter().map(|state| number(point.count(*state))));
        row.extend([point.nonconformances, point.gaps, point.faults, point.unread].map(number));
        row.push(point.scope.map(|scope| scope.to_string()).unwrap_or_default());
        row.extend([point.tags.join(", "), point.decisions.join(", ")]);
        row.push(point.problem.clone().unwrap_or_default());
        row
    };
    Table {
        caption: format!("Rows due before {}, {}", view.event, view.chosen),
        heads,
        rows: view.points.iter().map(row).collect(),
    }
}

fn evidence(evidence: &[RevisionEvidence]) -> String {
    evidence.iter().map(|it| format!("{} {}", it.record, it.how)).collect::<Vec<_>>().join("; ")
}

fn edited(edited: &EditedView) -> String {
    match &edited.reason {
        Some(reason) => format!("changed after it was signed; signed again by {reason}"),
        None => "changed after it was signed, and it does not say why".into(),
    }
}

fn states(states: &[EventStateView]) -> String {
    states.iter().map(|it| format!("{} before {}", it.state.word(), it.before)).collect::<Vec<_>>().join("; ")
}

/// A table as CSV (RFC 4180), cells made harmless for spreadsheets.
///
/// # Errors
/// If the table cannot be written.
pub fn csv(table: &Table) -> Result<Vec<u8>, ReportError> {
    let mut writer = ::csv::WriterBuilder::new().terminator(::csv::Terminator::CRLF).from_writer(Vec::new());
    let wrong = |error: &dyn std::fmt::Display| ReportError::new(error.to_string());
    writer.write_record(&table.heads).map_err(|error| wrong(&error))?;
    for row in &table.rows {
        writer.write_record(row.iter().map(|cell| harmless(&visible(cell)))).map_err(|error| wrong(&error))?;
    }
    writer.into_inner().map_err(|error| wrong(&error))
}

/// A text in which what would act on a terminal or turn the direction is named instead; lines stay lines.
pub(super) fn visible(cell: &str) -> String {
    let mut text = String::with_capacity(cell.len());
    for character in cell.chars() {
        match acting(character) {
            Some(name) if !matches!(character, '\n' | '\r' | '\t') => text.push_str(&format!("<{name}>")),
            _ => text.push(character),
        }
    }
    text
}

/// A cell that no spreadsheet takes for a formula.
fn harmless(cell: &str) -> String {
    let risky = cell.starts_with(['=', '+', '-', '@', '\t', '\r']);
    let number = cell.parse::<f64>().is_ok();
    if risky && !number { format!("'{cell}") } else { cell.to_string() }
}

/// Tables as Markdown.
pub fn markdown(tables: &[Table]) -> String {
    let mut text = String::new();
    for table in tables.iter().filter(|table| !table.rows.is_empty()) {
        text.push_str(&format!("## {}\n\n", cell(&table.caption)));
        text.push_str(&format!("| {} |\n", table.heads.join(" | ")));
        text.push_str(&format!("|{}\n", " --- |".repeat(table.heads.len())));
        for row in &table.rows {
            let cells: Vec<String> = row.iter().map(|value| cell(value)).collect();
            text.push_str(&format!("| {} |\n", cells.join(" | ")));
        }
        text.push('\n');
    }
    text
}

/// A cell that cannot end its column, its row, or become markup.
pub(super) fn cell(value: &str) -> String {
    let mut text = String::with_capacity(value.len());
    for character in visible(value).chars() {
        match character {
            '\n' | '\r' | '\t' => text.push(' '),
            '|' | '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '#' | '&' | '~' | '$' => {
                text.push('\\');
                text.push(character);
            }
            other => text.push(other),
        }
    }
    text
}
