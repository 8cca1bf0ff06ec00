//! `slipmark fill`.

mod attach;
mod sample;
mod value;
mod where_to;

use std::path::PathBuf;

use clap::Args;

use crate::cli::args::{Common, NoPast};
use crate::cli::{After, Change, CliError, ExitStatus, Project, Ui, write_all};
use crate::edit::{self, EditError};
use crate::model::Ref;
use crate::model::kinds::{Method, Record, RecordStatus};
use crate::report::style::{NAME, OFF, QUIET, STRONG, WARN};
use crate::report::text::wrap;
use value::{Checked, check};
use where_to::{Destination, Names};

/// Write results into a draft record, each checked first.
///
/// A name is a field of the record's procedure, a criterion (closing, ACT-020.closing), a condition (body), or what was used
/// of a limited life (uses.cycles). Each value is held against the unit of what it is for and the range in which the field is
/// expected; if one does not fit, nothing at all is written. A value without a unit takes the one of its field. Of a sample
/// every reading is written, or its mean, sd and n, parted by `;`. Comments, order and spacing of the file stay.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The record
    pub id: String,
    /// What was read: NAME="VALUE ± UNCERTAINTY UNIT"
    #[arg(value_name = "NAME=VALUE")]
    pub values: Vec<String>,
    /// A file to copy beside the record, with its SHA-256 under [[data]]; may be given several times
    #[arg(long, value_name = "FILE")]
    pub data: Vec<PathBuf>,
    /// The values were really read like this, though they lie outside the range expected of their fields
    #[arg(long)]
    pub as_read: bool,
    /// It writes.
    #[command(flatten)]
    pub past: NoPast,
}

const EXAMPLES: &str = "\
Examples:
  slipmark fill TR-012 closing=\"1.21 ± 0.02 s\" supply=\"19.8 ± 0.1 V\"
  slipmark fill TR-012 strength=\"1.29; 1.31; 1.32 N·m\"
  slipmark fill TR-012 strength=\"mean 1.31 N·m; sd 0.02 N·m; n 10\"
  slipmark fill TR-012 conditions.body=\"86 ± 1 K\" --data recording.csv";

/// Checks and writes.
///
/// # Errors
/// If there is no such draft, a name or a value does not fit, or a file cannot be written. Nothing is written then.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let project = Project::open(common)?;
    project.writable()?;
    let record = draft(project, &arguments.id)?;
    let names = Names::of(&project.analysis.facts(), record);
    if arguments.values.is_empty() && arguments.data.is_empty() {
        let id = &arguments.id;
        let help = format!("slipmark fill {id} NAME=\"VALUE ± UNCERTAINTY UNIT\"; {}", names.taken());
        return Err(CliError::refused(format!("nothing was given to write into {id}"), help));
    }
    let mut filled: Vec<(Destination<'_>, Checked)> = Vec::new();
    let mut wrong: Vec<(String, String)> = Vec::new();
    for argument in &arguments.values {
        match one(project, record, &names, argument, arguments.as_read) {
            Ok(values) => filled.extend(values),
            Err(said) => wrong.push(said),
        }
    }
    twice(&filled, &mut wrong);
    if !wrong.is_empty() {
        return Err(refused(&arguments.id, &wrong));
    }
    let file = project.analysis.sources.file(record.head.file);
    let by_hand = |error: EditError| {
        CliError::refused(format!("{}: {error}", file.path), format!("type this yourself: {}", error.type_this))
    };
    let mut text = file.text.to_string();
    for (destination, checked) in &filled {
        text = edit::put(&text, &destination.path(), &checked.written, destination.place()).map_err(by_hand)?;
    }
    let mut changes: Vec<Change> = Vec::new();
    for (at, path) in arguments.data.iter().enumerate() {
        if arguments.data[..at].iter().any(|other| other.file_name() == path.file_name()) {
            let help = "files beside a record need names of their own; rename one of them";
            return Err(CliError::refused(format!("{} is given twice", path.display()), help));
        }
        text = attach::one(project, record, path, text, &mut changes)?;
    }
    super::new::must_be_readable(&file.path, &text)?;
    let before = Some(file.text.as_bytes().to_vec());
    changes.push(Change { path: file.path.clone(), before, after: After::Bytes(text.into()) });
    write_all(&project.root, &changes)?;
    report(&filled, &changes, ui);
    open_still(Project::open(common)?, &arguments.id, ui);
    Ok(ExitStatus::Done)
}

/// The record, if results may still be written into it.
fn draft(project: &'static Project, id: &str) -> Result<&'static Record, CliError> {
    let model = &project.analysis.model;
    let record = match model.find(id) {
        Some(Ref::Record(at)) => &model.records[at],
        Some(other) => {
            let help = "name a test, an inspection, a demonstration or an analysis";
            return Err(CliError::refused(
                format!("{id} is a {}, and only records hold results", model.kind(other)),
                help,
            ));
        }
        None => {
            let known = model.records.iter().map(|record| record.head.id.as_str());
            return Err(CliError::unknown("no record has the id", id, known));
        }
    };
    let from = match (&record.procedure, record.serials.first()) {
        (Some(procedure), Some(serial)) => format!(" --from {} --serial {}", procedure.value, serial.value),
        (Some(procedure), None) => format!(" --from {}", procedure.value),
        (None, _) => String::new(),
    };
    let again = format!("slipmark new {}{from}", record.method.word());
    match record.status.value {
        RecordStatus::Draft => Ok(record),
        RecordStatus::Signed => Err(CliError::refused(
            format!("{id} is signed, and what somebody stands by is not filled in"),
            format!(
                "for a new run: {again}; to correct a slip: edit the file, then slipmark sign {id} --by ROLE --because \"…\""
            ),
        )),
        RecordStatus::Withdrawn => Err(CliError::refused(format!("{id} is withdrawn"), again)),
    }
}

type Said = (String, String);

/// One argument: where it goes, and what is written there.
fn one<'m>(
    project: &'m Project,
    record: &'m Record,
    names: &Names<'m>,
    argument: &str,
    as_read: bool,
) -> Result<Vec<(Destination<'m>, Checked)>, Said> {
    let Some((name, text)) = argument.split_once('=') else {
        let help = format!("write {argument}=\"VALUE ± UNCERTAINTY UNIT\"");
        return Err((format!("`{argument}` holds no `=`"), help));
    };
    let (name, text) = (name.trim(), text.trim());
    if text.is_empty() {
        return Err((format!("`{name}` is given no value"), format!("write {name}=\"VALUE ± UNCERTAINTY UNIT\"")));
    }
    let (field, destinations) = names.find(name)?;
    let checked = destinations.into_iter().map(|destination| {
        let checked = check(project, record, field, &destination, name, text, as_read)?;
        Ok((destination, checked))
    });
    checked.collect()
}

/// Two arguments for one place would leave it to their order which is written.
fn twice(filled: &[(Destination<'_>, Checked)], wrong: &mut Vec<Said>) {
    for (at, (destination, checked)) in filled.iter().enumerate() {
        let other = filled[..at].iter().find(|(own, _)| own.path() == destination.path());
        if other.is_some_and(|(_, own)| own.written != checked.written) {
            wrong.push((format!("{} is given twice, and differently", destination.show()), "give it once".to_string()));
        }
    }
}

fn refused(id: &str, wrong: &[Said]) -> CliError {
    let mut message = format!("nothing was written into {id}");
    for (what, help) in wrong {
        message.push_str(&format!("\n  {WARN}-{OFF} {what}\n    {NAME}do{OFF}: {help}"));
    }
    CliError::refused(message, format!("correct this and run slipmark fill {id} again"))
}

fn report(filled: &[(Destination<'_>, Checked)], changes: &[Change], ui: &mut Ui) {
    for (destination, checked) in filled {
        ui.text(&format!("{STRONG}{}{OFF} = {}\n", destination.show(), checked.written.written()));
        if !checked.note.is_empty() {
            ui.text(&format!("  {QUIET}{}{OFF}\n", wrap(&checked.note, ui.width(), 2, 2)));
        }
    }
    for change in changes {
        if change.is_nothing() {
            ui.text(&format!("{} holds this already; nothing to do\n", change.path));
        } else {
            ui.text(&format!("written: {}\n", change.path));
        }
    }
}

/// Whether people depend on what a record shows, and it does not say yet who watched.
fn needs_witness(now: &Project, at: usize) -> bool {
    let model = &now.analysis.model;
    let record = &model.records[at];
    let mut asked = record.verifies.iter().filter_map(|own| model.requirement(&own.requirement.value));
    record.witnessed_by.is_empty() && record.method != Method::Analysis && asked.any(|it| it.safety)
}

/// What the record still lacks, and what comes next.
fn open_still(now: &Project, id: &str, ui: &mut Ui) {
    let Some(Ref::Record(at)) = now.analysis.model.find(id) else { return };
    let lacks = super::sign::lacks::of(now, at);
    for lack in &lacks {
        ui.text(&format!("{WARN}still{OFF}: {}\n", wrap(&lack.what, ui.width(), 7, 7)));
        ui.text(&format!("  {NAME}do{OFF}: {}\n", wrap(&lack.help, ui.width(), 6, 6)));
    }
    if lacks.is_empty() {
        let witness = if needs_witness(now, at) { " --witness ROLE" } else { "" };
        ui.aside(&format!("{NAME}do{OFF}: slipmark sign {id} --by ROLE{witness}"));
    }
}
