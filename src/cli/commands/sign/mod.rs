//! `slipmark sign`.

mod complete;
pub(super) mod lacks;

use std::collections::{BTreeMap, BTreeSet};

use clap::Args;

use super::aftermath;
use super::to_commit::{git_here, to_commit};
use crate::analysis::Analysis;
use crate::cli::args::{Common, NoPast, one_line};
use crate::cli::{After, Change, CliError, ExitStatus, Project, Ui, write_all};
use crate::config::is_same_person;
use crate::history::LostFailure;
use crate::model::kinds::{Item, ProcedureStatus, Record, RecordStatus};
use crate::model::{Id, Ref};
use crate::report::style::{GOOD, NAME, OFF, STRONG, WARN};
use crate::report::view::lives;
use crate::state::accounted::account;
use crate::state::fits::candidates;
use crate::state::judge::{Verdict, judge};
use crate::state::life::touched;
use crate::state::standing::lines_up;
use crate::text::{RepoPath, shell_word};

use complete::{Again, Altered};

/// Stand by a record: complete it, judge it, and seal it.
///
/// Refuses a record that is not complete, with everything that is missing and what to type for each. Then writes the
/// marks that are missing, the outcome of each criterion as judged now, who signs, and a seal over the contents, so that
/// a later change shows. A signed record that is unchanged is left as it is.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The record
    pub id: String,
    /// Who stands by it: a role or a name
    #[arg(long, value_name = "ROLE", value_parser = one_line)]
    pub by: String,
    /// Who watched; may be given several times
    #[arg(long, value_name = "ROLE", value_parser = one_line)]
    pub witness: Vec<String>,
    /// To sign again what was changed after it was signed: why. The record keeps it, under the new seal
    #[arg(long, value_name = "REASON")]
    pub because: Option<String>,
    /// It writes.
    #[command(flatten)]
    pub past: NoPast,
}

const EXAMPLES: &str = "\
Examples:
  slipmark sign TR-012 --by \"test conductor\"
  slipmark sign TR-012 --by \"test conductor\" --witness \"pad chief\"
  slipmark sign TR-012 --by \"test conductor\" --because \"typing error\"";

/// Completes a record and seals it.
///
/// # Errors
/// If there is no such record, it is not complete, or it cannot be written.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let project = Project::open(common)?;
    project.writable()?;
    let at = find(project, &arguments.id)?;
    let record = &project.analysis.model.records[at];
    let id = record.head.id.value.to_string();
    if record.status.value == RecordStatus::Withdrawn {
        return Err(CliError::refused(format!("{id} is withdrawn"), "write a new record: slipmark new"));
    }
    let stands = comes_to_the_same(project, at);
    let replaced = project.account()?.replaced.iter().find(|own| own.id == id);
    if let Some(LostFailure { text, help }) = replaced.and_then(|own| own.lost.as_ref()) {
        return Err(CliError::refused(text.clone(), help.clone()));
    }
    let replaced = replaced.map(|own| own.seals.clone()).unwrap_or_default();
    let altered = complete::altered(project, at);
    if stands && altered.is_empty() && replaced.is_empty() && is_signed_and_unchanged(record, arguments) {
        ui.text(&format!("{id} is signed, and nothing in it has changed since; nothing to do\n"));
        slipped(project, record, ui);
        return Ok(ExitStatus::Done);
    }
    let lacks = lacks::of(project, at);
    if !lacks.is_empty() {
        return Err(incomplete(&id, project.analysis.path(record.head.file), &lacks));
    }
    if !altered.is_empty() && arguments.because.is_none() {
        return Err(other_files(project, common, record, &altered, arguments));
    }
    let signed = record.status.value == RecordStatus::Signed && record.seal.is_some();
    let intact = is_intact(record);
    let changed = signed && !(intact && stands);
    if (changed || !replaced.is_empty()) && arguments.because.is_none() {
        return Err(CliError::refused(
            match changed && intact {
                true => format!("{id} computes something else than when it was signed"),
                false => format!("{id} was changed after it was signed"),
            },
            format!(
                "look at slipmark history {id}; to take it back: git checkout; to stand by it as it is now: slipmark sign {id} --by \"{}\" --because \"…\"",
                arguments.by
            ),
        ));
    }
    if let Some(signer) = record.signed_by.as_ref().filter(|_| signed && arguments.because.is_none())
        && !is_same_person(&signer.value, &arguments.by)
    {
        return Err(another_signer(&id, &signer.value, arguments));
    }
    let file = project.analysis.sources.file(record.head.file);
    let after = complete::signed(project, at, arguments, again(project, record, replaced, arguments)?)?;
    write_all(
        &project.root,
        &[Change {
            path: file.path.clone(),
            before: Some(file.text.as_bytes().into()),
            after: After::Bytes(after.into()),
        }],
    )?;
    for own in &altered {
        ui.text(&format!(
            "{WARN}{} is another file{OFF} than was signed for: its SHA-256 was\n  {}, and is\n  {}\n",
            own.file, own.was, own.is
        ));
    }
    let now = Project::open(common)?;
    report((project, now), &id, arguments, common, ui);
    Ok(ExitStatus::Done)
}

fn find(project: &Project, id: &str) -> Result<usize, CliError> {
    let model = &project.analysis.model;
    match model.find(id) {
        Some(Ref::Record(at)) => Ok(at),
        Some(other) => Err(CliError::refused(
            format!("{id} is a {}, and only records are signed", model.kind(other)),
            "name an analysis, a test, an inspection or a demonstration",
        )),
        None => {
            let known = model.records.iter().map(|record| record.head.id.as_str());
            Err(project.unknown("no record has the id", id, known))
        }
    }
}

/// That files are others than were signed for, which nobody stands by without a reason.
fn other_files(
    project: &Project,
    common: &Common,
    record: &Record,
    altered: &[Altered<'_>],
    arguments: &Arguments,
) -> CliError {
    let id = &record.head.id.value;
    let path = project.analysis.path(record.head.file);
    let files: Vec<&str> = altered.iter().map(|own| own.file).collect();
    let beside = files.iter().filter_map(|file| path.beside(file)).map(|file| shell_word(file.as_str().as_ref()));
    let what = match files.as_slice() {
        [file] => format!("{file} is not the file that {id} was signed for"),
        files => format!("{} are not the files that {id} was signed for", files.join(", ")),
    };
    let help = format!(
        "restore it: {} checkout -- {}; to stand by it as it is now: slipmark sign {id} --by {} --because \"…\"",
        git_here(project, common),
        beside.collect::<Vec<_>>().join(" "),
        shell_word(arguments.by.as_ref())
    );
    CliError::refused(what, help)
}

/// Who names a witness does not thereby stand by the record in the place of who signed it.
fn another_signer(id: &str, signer: &str, arguments: &Arguments) -> CliError {
    let witnesses: String =
        arguments.witness.iter().map(|role| format!(" --witness {}", shell_word(role.as_ref()))).collect();
    let sign = |by: &str| format!("slipmark sign {id} --by {}{witnesses}", shell_word(by.as_ref()));
    CliError::refused(
        format!("{id} is signed by {signer}, and {} would sign in that place", arguments.by),
        format!(
            "to name the witness only: {}; if {} stands by it from now on: {} --because \"…\"",
            sign(signer),
            arguments.by,
            sign(&arguments.by)
        ),
    )
}

/// What the new seal stands in for, and why; none if nobody has seen the record signed.
fn again(
    project: &Project,
    record: &Record,
    mut seals: Vec<String>,
    arguments: &Arguments,
) -> Result<Option<Again>, CliError> {
    let carried = record.seal.as_ref().filter(|_| record.status.value == RecordStatus::Signed);
    if let Some(seal) = carried.map(|seal| &seal.value)
        && (arguments.because.is_some() || is_committed(project, record, seal)?)
        && !seals.contains(seal)
    {
        seals.push(seal.clone());
    }
    // Without a reason nothing but a witness is added.
    let named = || format!("named who witnessed it: {}", arguments.witness.join(", "));
    let reason = arguments.because.as_ref().map_or_else(named, |because| because.trim().to_string());
    Ok((!seals.is_empty()).then_some(Again { seals, reason }))
}

/// Whether the newest commit holds the record under this seal.
fn is_committed(project: &Project, record: &Record, seal: &str) -> Result<bool, CliError> {
    let Some(commit) = project.commit else { return Ok(false) };
    let path = project.analysis.path(record.head.file);
    let Some(file) = project.repo.tree_file(commit, &project.prefix, path)? else { return Ok(false) };
    let held = project.repo.blob(file.oid)?;
    Ok(String::from_utf8_lossy(&held).contains(seal))
}

fn is_signed_and_unchanged(record: &Record, arguments: &Arguments) -> bool {
    let watched = |role: &String| record.witnessed_by.iter().any(|own| own.value == *role);
    record.status.value == RecordStatus::Signed && is_intact(record) && arguments.witness.iter().all(watched)
}

/// Whether nothing was changed after the signature and no mark is missing: then signing again can only name a witness.
fn is_intact(record: &Record) -> bool {
    let sealed = record.seal.as_ref().is_some_and(|seal| seal.value == record.seal_now);
    sealed && record.verifies.iter().all(|own| own.mark.is_some())
}

/// Whether everything that the record computes comes to what was written down when it was signed.
fn comes_to_the_same(project: &Project, at: usize) -> bool {
    let facts = project.analysis.facts();
    let judged =
        (0..project.analysis.model.records[at].verifies.len()).flat_map(|which| facts.judgements.get(at, which));
    judged.into_iter().all(|own| !matches!(own.verdict, Verdict::Moved { .. } | Verdict::NotKept))
}

/// Says which requirements have moved since: that is for another command.
fn slipped(project: &Project, record: &Record, ui: &mut Ui) {
    for own in &record.verifies {
        let moved = project.analysis.model.requirement(&own.requirement.value).filter(|it| !lines_up(&it.mark, own));
        if let Some(moved) = moved {
            let (id, record) = (&moved.head.id.value, &record.head.id.value);
            ui.text(&format!(
                "{WARN}{id} has been reworded since{OFF}\n  {NAME}do{OFF}: slipmark mark {record} --by ROLE --because \"…\"\n"
            ));
        }
    }
}

fn incomplete(id: &str, path: &RepoPath, lacks: &[lacks::Lack]) -> CliError {
    let mut message = format!("{id} cannot be signed as it is; nothing was written. In {path}:");
    for lack in lacks {
        message.push_str(&format!("\n  {WARN}-{OFF} {}\n    {NAME}do{OFF}: {}", lack.what, lack.help));
    }
    CliError::refused(message, format!("then run slipmark sign {id} again"))
}

/// What is left of the limited life that the run used.
fn left(analysis: &Analysis, record: &Record, ui: &mut Ui) {
    if record.uses.is_empty() {
        return;
    }
    let touched = touched(&analysis.facts(), record);
    for life in lives(analysis, |piece| touched.contains(piece)) {
        if record.uses.iter().any(|(name, _)| name.value == life.name) {
            let text = if life.outlook == "lasts" { life.text } else { format!("{WARN}{}{OFF}", life.text) };
            ui.text(&format!("{} {}: {text}\n", life.piece, life.name));
        }
    }
}

/// That the run was made by a procedure that is not released: as long as it is being written, runs by it are runs of something else.
fn by_a_draft(analysis: &Analysis, record: &Record, ui: &mut Ui) {
    let procedure = record.procedure.as_ref().and_then(|id| analysis.model.procedure(&id.value));
    let Some(draft) = procedure.filter(|procedure| procedure.status == ProcedureStatus::Draft) else { return };
    let (id, own) = (&record.head.id.value, &draft.head.id.value);
    ui.text(&format!(
        "{WARN}{own} is a draft{OFF}: if it is released otherwise than it was run, {id} is no run of it\n  {NAME}do{OFF}: release {own} as it was run, or in a new revision and run it again\n"
    ));
}

/// That evidence on a candidate counts for no row, and where it does count.
fn on_candidates(analysis: &Analysis, record: &Record, ui: &mut Ui) {
    let facts = analysis.facts();
    let asked = record.verifies.iter().filter_map(|own| analysis.model.requirement(&own.requirement.value));
    let about = |item: &&Item| {
        let id = &item.head.id.value;
        record.item.as_ref().is_some_and(|own| own.value == *id)
            || record.serials.iter().any(|own| own.value.item == *id)
    };
    let named: BTreeMap<&Id, &Id> = asked
        .flat_map(|requirement| candidates(&facts, requirement).filter(about))
        .filter_map(|item| Some((&item.head.id.value, &item.fills.as_ref()?.value)))
        .collect();
    for (item, slot) in named {
        ui.text(&format!(
            "{item} is a candidate for {slot}: until it is chosen, this counts for no row\n  {NAME}do{OFF}: slipmark concepts {slot}\n"
        ));
    }
}

/// What the signature did, and what comes next.
fn report((before, now): (&Project, &Project), id: &str, arguments: &Arguments, common: &Common, ui: &mut Ui) {
    let Some(Ref::Record(at)) = now.analysis.model.find(id) else { return };
    let record = &now.analysis.model.records[at];
    let seal = record.seal.as_ref().map(|seal| seal.value.clone()).unwrap_or_default();
    let path = now.analysis.path(record.head.file);
    ui.text(&format!("{GOOD}signed{OFF}: {STRONG}{id}{OFF} by {}, seal {seal}; {path}\n", arguments.by));
    let requirements: BTreeSet<String> = record.verifies.iter().map(|own| own.requirement.value.to_string()).collect();
    aftermath::show(&before.analysis, &now.analysis, &requirements, &BTreeSet::from([id.to_string()]), ui);
    let facts = now.analysis.facts();
    left(&now.analysis, record, ui);
    by_a_draft(&now.analysis, record, ui);
    on_candidates(&now.analysis, record, ui);
    let unwritten = record.verifies.iter().any(|own| {
        let asked = now.analysis.model.requirement(&own.requirement.value);
        asked.is_some_and(|asked| asked.criteria.iter().any(|criterion| judge(&facts, asked, criterion, own).fails()))
            && !account(&facts, at, &own.requirement.value, |_| true).is_written_up()
    });
    if unwritten {
        ui.text(&format!(
            "\nA result is outside its limit. No newer pass outvotes it until a nonconformance accounts for it.\n  {NAME}do{OFF}: slipmark new nonconformance --found-by {id}\n"
        ));
    }
    let message = match &arguments.because {
        Some(because) => format!("Sign {id} again: {because}"),
        None => format!("Sign {id}"),
    };
    let message = message.replace('"', "'");
    let beside = record.data.iter().filter_map(|own| path.beside(&own.file.value));
    let files: Vec<RepoPath> = std::iter::once(path.clone()).chain(beside).collect();
    ui.aside(&format!("{NAME}do{OFF}: {}", to_commit(now, common, &files, &message)));
}
