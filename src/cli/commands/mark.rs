//! `slipmark mark`.

use std::collections::{BTreeMap, BTreeSet};

use clap::Args;

use super::aftermath;
use super::to_commit::to_commit;
use crate::cli::args::{Common, NoPast, one_line};
use crate::cli::{After, Change, CliError, ExitStatus, Project, Ui, write_all};
use crate::edit::{self, Place, Toml};
use crate::history::recall;
use crate::model::Ref;
use crate::model::kinds::{Criterion, Record, RecordStatus, Requirement, RequirementStatus, Verifies};
use crate::report::style::{BAD, GOOD, NAME, OFF, QUIET, STRONG, WARN, columns};
use crate::report::text::words::differences;
use crate::report::text::wrap;
use crate::state::fits::fitting;
use crate::state::judge::Verdict;
use crate::state::standing::lines_up;
use crate::state::stands::{self, Still};
use crate::text::shell_word;

/// Say that evidence still stands although its requirement was reworded.
///
/// Shows what the requirement said then against what it says now, and judges each result against the text of now. What
/// would no longer be met is refused, and then nothing is written. Otherwise each record gets a dated, named
/// re-affirmation; nothing else in its file changes. Evidence without any mark gets its first one.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Records, or requirements: then every signed record of theirs whose mark does not line up
    #[arg(required = true, value_name = "ID")]
    pub ids: Vec<String>,
    /// Why the evidence still stands
    #[arg(long, value_name = "REASON")]
    pub because: String,
    /// Who looked at the two texts: a role or a name. Asked for, and written into the record
    #[arg(long, value_name = "ROLE", value_parser = one_line)]
    pub by: Option<String>,
    /// It writes.
    #[command(flatten)]
    pub past: NoPast,
}

const EXAMPLES: &str = "\
Examples:
  slipmark mark TR-006 --by \"responsible engineer\" --because \"still inside by 3 U\"
  slipmark mark ACT-010 --by \"responsible engineer\" --because \"reworded only\"";

/// One record's word on one requirement, whose mark does not line up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Case {
    requirement: usize,
    record: usize,
    verifies: usize,
}

/// Compares, judges, and writes if all of it still stands.
///
/// # Errors
/// If something is unknown, would no longer be met, or cannot be written.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let project = Project::open(common)?;
    project.writable()?;
    if arguments.because.trim().is_empty() {
        return Err(CliError::refused("the reason is empty", "say in a sentence why the evidence still stands"));
    }
    let cases = cases(project, &arguments.ids, ui)?;
    if cases.is_empty() {
        ui.text("nothing to do: every mark lines up\n");
        return Ok(ExitStatus::Done);
    }
    compare(project, &cases, ui)?;
    let refused: Vec<String> = cases.iter().flat_map(|case| objections(project, *case)).collect();
    if !refused.is_empty() {
        return Err(CliError::refused(
            format!("nothing was written: {}", refused.join("; ")),
            "make new evidence for these, and name the records that still stand by their own ids",
        ));
    }
    let again = cases.iter().any(|case| verifies(project, *case).mark.is_some());
    let by = arguments.by.as_deref().map(str::trim).filter(|by| !by.is_empty());
    if again && by.is_none() {
        return Err(nobody(arguments));
    }
    let changes = changes(project, &cases, by.unwrap_or_default(), arguments)?;
    write_all(&project.root, &changes)?;
    for change in &changes {
        let own = |case: &&Case| *project.analysis.path(record(project, **case).head.file) == change.path;
        let again = cases.iter().filter(own).any(|case| verifies(project, *case).mark.is_some());
        let who = by.filter(|_| again).map(|by| format!("; re-affirmed by {by}")).unwrap_or_default();
        ui.text(&format!("{GOOD}written{OFF}: {}{who}\n", change.path));
    }
    let ids = |wanted: &dyn Fn(&Case) -> String| -> BTreeSet<String> { cases.iter().map(wanted).collect() };
    let requirements = ids(&|case| requirement(project, *case).head.id.to_string());
    let records = ids(&|case| record(project, *case).head.id.to_string());
    let after = Project::open(common)?;
    aftermath::show(&project.analysis, &after.analysis, &requirements, &records, ui);
    let joined = |ids: &BTreeSet<String>| ids.iter().cloned().collect::<Vec<_>>().join(", ");
    let message = format!("Re-affirm {} for {}", joined(&records), joined(&requirements));
    let paths = changes.iter().map(|change| &change.path);
    ui.aside(&format!("{NAME}do{OFF}: {}", to_commit(project, common, paths, &message)));
    Ok(ExitStatus::Done)
}

fn requirement(project: &Project, case: Case) -> &Requirement {
    &project.analysis.model.requirements[case.requirement]
}

fn record(project: &Project, case: Case) -> &Record {
    &project.analysis.model.records[case.record]
}

fn verifies(project: &Project, case: Case) -> &Verifies {
    &record(project, case).verifies[case.verifies]
}

/// What the ids mean, by requirement, each once.
fn cases(project: &Project, ids: &[String], ui: &mut Ui) -> Result<Vec<Case>, CliError> {
    let model = &project.analysis.model;
    let mut found: BTreeSet<Case> = BTreeSet::new();
    for id in ids {
        match model.find(id) {
            Some(Ref::Record(at)) => {
                if model.records[at].status.value == RecordStatus::Withdrawn {
                    return Err(CliError::refused(format!("{id} is withdrawn"), "name a record that still counts"));
                }
                found.extend(of_record(project, at));
            }
            Some(Ref::Requirement(at)) => found.extend(of_requirement(project, at, ui)),
            Some(other) => {
                let what = format!("{id} is a {}, and only evidence carries marks", model.kind(other));
                return Err(CliError::refused(what, "name records or requirements"));
            }
            None => {
                let marked = |place: &Ref| matches!(place, Ref::Record(_) | Ref::Requirement(_));
                let known = model.ids().filter(|(_, place)| marked(place)).map(|(id, _)| id.as_str());
                let known: Vec<&str> = known.collect();
                return Err(project.unknown("no record or requirement has the id", id, known.iter().copied()));
            }
        }
    }
    Ok(found.into_iter().collect())
}

fn of_record(project: &Project, at: usize) -> Vec<Case> {
    let model = &project.analysis.model;
    let each = model.records[at].verifies.iter().enumerate();
    let slipped = each.filter_map(|(which, verifies)| {
        let Some(Ref::Requirement(requirement)) = model.find(&verifies.requirement.value) else { return None };
        let asked = &model.requirements[requirement];
        let counts = asked.status != RequirementStatus::Withdrawn && !lines_up(&asked.mark, verifies);
        counts.then_some(Case { requirement, record: at, verifies: which })
    });
    slipped.collect()
}

fn of_requirement(project: &Project, at: usize, ui: &mut Ui) -> Vec<Case> {
    let analysis = &project.analysis;
    let asked = &analysis.model.requirements[at];
    let mut found = Vec::new();
    for (record, which) in &analysis.graph.evidence[at] {
        let own = &analysis.model.records[*record];
        if own.status.value != RecordStatus::Signed || lines_up(&asked.mark, &own.verifies[*which]) {
            continue;
        }
        if fitting(&analysis.facts(), asked, own).is_empty() {
            let (id, asked) = (&own.head.id.value, &asked.head.id.value);
            ui.text(&format!("{id} is left out: it counts for no entry of {asked} as things are now\n"));
            continue;
        }
        found.push(Case { requirement: at, record: *record, verifies: *which });
    }
    found
}

/// Prints what each requirement said then and says now, and each result against the text of now.
fn compare(project: &Project, cases: &[Case], ui: &mut Ui) -> Result<(), CliError> {
    let width = ui.width();
    let mut last = None;
    for case in cases {
        let (now, own) = (requirement(project, *case), verifies(project, *case));
        let carried = own.marks().last().map(str::to_string);
        if last != Some((case.requirement, carried.clone())) {
            let safety = if now.safety { " [safety]" } else { "" };
            ui.text(&format!("{STRONG}{}{OFF}{safety} {}\n", now.head.id.value, now.head.title));
            let text = match &carried {
                None => unmarked(now, width),
                Some(mark) => {
                    let then = recall(&project.repo, &project.prefix, project.commit, &now.head.id.value, mark)?;
                    match then {
                        Some(then) => then_and_now(&then.requirement, &then.commit, now, width),
                        None => not_held(mark, now, width),
                    }
                }
            };
            ui.text(&text);
            last = Some((case.requirement, carried));
        }
        ui.text(&judged(project, *case, width));
    }
    Ok(())
}

fn paragraph(label: &str, text: &str, width: usize) -> String {
    let lead = format!("  {QUIET}{label:<13}{OFF} ");
    let indent = columns(&lead);
    format!("{lead}{}\n", wrap(text, width, indent, indent))
}

fn unmarked(now: &Requirement, width: usize) -> String {
    let mut text = paragraph("then", "not known: the record carries no mark", width);
    text.push_str(&says(now, width));
    text
}

fn not_held(mark: &str, now: &Requirement, width: usize) -> String {
    let unknown =
        format!("{mark}: the history of this project holds no text with that mark, so there is nothing to compare");
    let mut text = paragraph("then", &unknown, width);
    text.push_str(&says(now, width));
    text
}

/// What a requirement says now.
fn says(now: &Requirement, width: usize) -> String {
    let mut text = paragraph("now", &now.mark, width);
    text.push_str(&paragraph("statement", &now.plain, width));
    for criterion in &now.criteria {
        text.push_str(&paragraph(&criterion.name, &expects(criterion), width));
    }
    text
}

fn then_and_now(then: &Requirement, commit: &crate::git::CommitInfo, now: &Requirement, width: usize) -> String {
    let brought = format!("{}, since {} of {}: {}", then.mark, commit.oid.short(), commit.author_date, commit.summary);
    let mut text = paragraph("then", &brought, width);
    text.push_str(&paragraph("now", &now.mark, width));
    text.push_str(&paragraph("statement", &differences(&then.plain, &now.plain), width));
    let mut names: Vec<&str> = then.criteria.iter().chain(&now.criteria).map(|own| own.name.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    for name in names {
        let words = |requirement: &Requirement| {
            requirement.criteria.iter().find(|own| own.name == name).map(expects).unwrap_or_default()
        };
        text.push_str(&paragraph(name, &differences(&words(then), &words(now)), width));
    }
    text
}

/// A criterion with its conditions, in words. Limits that rest on parameters come with what they amount to.
fn expects(criterion: &Criterion) -> String {
    let mut text = criterion.show();
    for (at, condition) in criterion.at.iter().enumerate() {
        let limits = crate::model::kinds::requirement::show_limits(condition.min.as_ref(), condition.max.as_ref());
        text.push_str(&format!(" {} {} {limits}", if at == 0 { "with" } else { "and" }, condition.name));
    }
    for limit in criterion.limits() {
        if let Some(quantity) = limit.quantity()
            && quantity.text != limit.text.value
            && limit.tolerance.is_none()
        {
            text.push_str(&format!(" ({} = {})", limit.text.value, quantity.show()));
        }
    }
    text
}

/// What a record says, held against the text of now.
fn still(project: &Project, case: Case) -> Vec<Still<'_>> {
    stands::still(&project.analysis.facts(), requirement(project, case), case.record, case.verifies)
}

/// A record and its results against the text of now.
fn judged(project: &Project, case: Case, width: usize) -> String {
    let record = record(project, case);
    let date = record.date.as_ref().map(|date| format!(", {}", date.text)).unwrap_or_default();
    let mut text = format!("\n  {STRONG}{}{OFF} {}{date}\n", record.head.id.value, record.head.title);
    for Still { criterion, judgement, .. } in still(project, case) {
        let (colour, word) = match &judgement.verdict {
            Verdict::Met => (GOOD, "met"),
            Verdict::NotMet => (BAD, "not met"),
            Verdict::Inconclusive(_) => (WARN, "inconclusive"),
            Verdict::Missing => (BAD, "no result"),
            Verdict::CannotTell(_) | Verdict::Unsettled | Verdict::Moved { .. } | Verdict::NotKept => {
                (WARN, "cannot be judged")
            }
        };
        let mut line = format!("{}: {colour}{word}{OFF}", criterion.name);
        if let Some(result) = &judgement.result {
            line.push_str(&format!(": {result} against {}", criterion.show()));
        }
        line.extend(judgement.margin.as_ref().map(|margin| format!("; margin {}", margin.show())));
        text.push_str(&format!("    {}\n", wrap(&line, width, 4, 6)));
    }
    text.push('\n');
    text
}

/// Why evidence cannot be said to stand.
fn objections(project: &Project, case: Case) -> Vec<String> {
    let (record, own) = (record(project, case), verifies(project, case));
    let (id, requirement) = (&record.head.id.value, &requirement(project, case).head.id.value);
    let mut found = Vec::new();
    let hinders = |still: &Still<'_>| still.hinders(own);
    for Still { criterion, judgement } in still(project, case).into_iter().filter(hinders) {
        let name = &criterion.name;
        let of = format!("{id} on {name} of {requirement}");
        match judgement.verdict {
            Verdict::Met => {}
            Verdict::NotMet => found.push(format!("{of} would no longer be met")),
            Verdict::Inconclusive(_) => found.push(format!("{of} would be inconclusive")),
            Verdict::Missing => found.push(format!("{of} has no result")),
            Verdict::Unsettled => found.push(format!("{of}: the limit is not settled")),
            Verdict::Moved { then, now } => {
                found.push(format!("{of} came to {then} when signed, and comes to {now} now"))
            }
            Verdict::NotKept => found.push(format!("{of}: what it came to was not written down when it was signed")),
            Verdict::CannotTell(trouble) => found.push(format!("{of}: {}", trouble.message)),
        }
        found.extend(judgement.conditions.iter().map(|why| format!("{of}: {why}")));
    }
    if own.mark.is_none() && record.seal.as_ref().is_some_and(|seal| seal.value == record.seal_now) {
        found.push(format!(
            "{id} is sealed without a mark of {requirement}, and a mark would break the seal: slipmark sign {id} --by ROLE --because \"…\" writes both"
        ));
    }
    found
}

/// Whoever signed the record need not be who looked now, and nobody is signed for by another.
fn nobody(arguments: &Arguments) -> CliError {
    let ids: String = arguments.ids.iter().map(|id| format!(" {}", shell_word(id.as_ref()))).collect();
    let because = shell_word(arguments.because.as_ref());
    CliError::refused(
        "nothing was written: a re-affirmation names who looked at the two texts",
        format!("slipmark mark{ids} --by ROLE --because {because}"),
    )
}

/// The files with the new marks in them.
fn changes(project: &Project, cases: &[Case], by: &str, arguments: &Arguments) -> Result<Vec<Change>, CliError> {
    let sources = &project.analysis.sources;
    let mut texts: BTreeMap<usize, String> = BTreeMap::new();
    for case in cases {
        let record = record(project, *case);
        let file = sources.file(record.head.file);
        let text = texts.remove(&case.record).unwrap_or_else(|| file.text.to_string());
        let edited = edited(project, *case, &text, by, arguments)?;
        texts.insert(case.record, edited);
    }
    let change = |(record, after): (usize, String)| {
        let file = sources.file(project.analysis.model.records[record].head.file);
        Change { path: file.path.clone(), before: Some(file.text.as_bytes().into()), after: After::Bytes(after.into()) }
    };
    Ok(texts.into_iter().map(change).collect())
}

fn edited(project: &Project, case: Case, text: &str, by: &str, arguments: &Arguments) -> Result<String, CliError> {
    let (record, own, asked) = (record(project, case), verifies(project, case), requirement(project, case));
    let table = ["verifies", own.requirement.value.as_str()];
    let result = if own.mark.is_none() {
        let path = edit::path(&[table[0], table[1], "mark"]);
        edit::put(text, &path, &Toml::text(&asked.mark), Place::First)
    } else {
        let entries = [
            ("mark", Toml::text(&asked.mark)),
            ("date", Toml::Bare(project.analysis.request.today.to_string())),
            ("by", Toml::text(by)),
            ("reason", Toml::text(arguments.because.trim())),
        ];
        edit::append_table(text, &edit::path(&[table[0], table[1], "reaffirmed"]), &entries)
    };
    result.map_err(|error| {
        let path = project.analysis.path(record.head.file);
        CliError::refused(format!("{path}: {error}"), format!("type this yourself: {}", error.type_this))
    })
}
