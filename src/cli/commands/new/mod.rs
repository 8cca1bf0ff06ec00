//! `slipmark new`.

mod habits;
mod other;
mod record;
mod sheet;

use std::path::PathBuf;

use clap::Args;
use jiff::civil::Date;

use super::run_of;
use crate::cli::args::{Common, NoPast, day, one_line};
use crate::cli::{After, Change, CliError, ExitStatus, Project, Ui, write_all};
use crate::diag::Class;
use crate::history::taken_ids;
use crate::model::kinds::{Field, KINDS, Method};
use crate::model::load::load_one;
use crate::model::{Id, Ref, SerialId};
use crate::report::style::{NAME, OFF};
use crate::state::run::Run;
use crate::text::{FileId, RepoPath};

/// Write a new file of any kind, filled in as far as the project knows.
///
/// A record for a requirement comes with procedure, stage, piece, revision, instruments, the conditions to note and the
/// mark; what remains is the results. The id is the next free one, and the file goes where others of its kind are.
/// Prints the path of the new file.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// requirement, analysis, test, inspection, demonstration, item, slot, procedure, decision, nonconformance, waiver or event
    pub kind: String,
    /// Its id [default: the next free one]
    pub id: Option<String>,
    /// The requirement that it is for, or the event that was held; of requirements there may be several
    #[arg(long = "for", value_name = "ID")]
    pub requirements: Vec<String>,
    /// The record that found a nonconformance; may be given several times
    #[arg(long, value_name = "ID")]
    pub found_by: Vec<String>,
    /// The piece that it is about; may be given several times
    #[arg(long, value_name = "ITEM/NUMBER")]
    pub serial: Vec<String>,
    /// The item that it is about
    #[arg(long, value_name = "ID")]
    pub item: Option<String>,
    /// The procedure that a record is a run of: everything that the plan asks of the piece by it
    #[arg(long, value_name = "ID", conflicts_with_all = ["requirements", "procedure", "item"])]
    pub from: Option<String>,
    /// The procedure that is run
    #[arg(long, value_name = "ID")]
    pub procedure: Option<String>,
    /// How an event that was held ended
    #[arg(long, value_name = "WORD")]
    pub outcome: Option<String>,
    /// Which of several plan entries is meant
    #[arg(long, value_name = "STAGE")]
    pub stage: Option<String>,
    /// Its title
    #[arg(long, value_parser = one_line)]
    pub title: Option<String>,
    /// The folder to write it into, from the top of the project
    #[arg(long, value_name = "DIR")]
    pub folder: Option<String>,
    /// Its date [default: today]
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    pub date: Option<Date>,
    /// It writes.
    #[command(flatten)]
    pub past: NoPast,
}

const EXAMPLES: &str = "\
Examples:
  slipmark new item PANEL --title \"Regulator panel\"
  slipmark new requirement --for MOV-070 --item MOV --title \"Stem seal wear\"
  slipmark new procedure --item MOV --title \"Stem seal wear test\"
  slipmark new test --for ACT-010 --serial ACT-W/SN02
  slipmark new test --from TP-03 --serial MOV/SN02     # a run of TP-03
  slipmark new nonconformance --found-by TR-009
  slipmark new waiver --for MOV-035 --serial MOV/SN02
  slipmark new event --for leak-check --outcome completed --date 2026-03-14";

/// Writes the file and prints its path.
///
/// # Errors
/// If the kind or a name is unknown, the requirement does not ask for such a record, or the file cannot be written.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let words = KINDS.iter().map(|kind| kind.word);
    let Some(kind) = words.clone().find(|word| *word == arguments.kind) else {
        return Err(CliError::unknown("there is no kind", &arguments.kind, words));
    };
    let project = Project::open(common)?;
    project.writable()?;
    let asked = Asked::check(project, kind, arguments)?;
    let text = match asked.method() {
        Some(method) => record::text(&asked, method)?,
        None => other::text(&asked)?,
    };
    let path = asked.path()?;
    must_be_readable(&path, &text)?;
    write_all(&project.root, &[Change { path: path.clone(), before: None, after: After::Bytes(text.into()) }])?;
    ui.text(&format!("{}\n", from_here(&project.root.join(path.as_str()))));
    ui.aside(&format!("{NAME}do{OFF}: {}", asked.next()));
    Ok(ExitStatus::Done)
}

/// What is asked for, every name of it known to the project.
struct Asked<'p> {
    project: &'p Project,
    kind: &'static str,
    id: Id,
    arguments: &'p Arguments,
    serials: Vec<SerialId>,
    date: Date,
    /// The run that a record is made from.
    run: Option<Run<'p>>,
}

impl<'p> Asked<'p> {
    fn check(project: &'p Project, kind: &'static str, arguments: &'p Arguments) -> Result<Asked<'p>, CliError> {
        let model = &project.analysis.model;
        let known = |what: &str, id: &String, fits: &dyn Fn(Ref) -> bool| {
            if model.find(id).is_some_and(fits) {
                return Ok(());
            }
            let known: Vec<&str> = model.ids().filter(|(_, at)| fits(*at)).map(|(id, _)| id.as_str()).collect();
            Err(project.unknown(&format!("no {what} has the id"), id, known.iter().copied()))
        };
        for id in &arguments.requirements {
            match kind {
                "event" => project.event(id).map(|_| ())?,
                _ => known("requirement", id, &|at| matches!(at, Ref::Requirement(_)))?,
            }
        }
        for id in &arguments.found_by {
            known("record", id, &|at| matches!(at, Ref::Record(_)))?;
        }
        if let Some(id) = &arguments.item {
            known("item or slot", id, &|at| matches!(at, Ref::Item(_) | Ref::Slot(_)))?;
        }
        if let Some(id) = &arguments.procedure {
            known("procedure", id, &|at| matches!(at, Ref::Procedure(_)))?;
        }
        let id = match &arguments.id {
            Some(id) => free(project, id)?,
            None => {
                let taken = taken_ids(&project.repo, &project.prefix, project.commit)?;
                habits::next_id(model, kind, &taken)
            }
        };
        let date = arguments.date.unwrap_or(project.analysis.request.today);
        let serials = arguments.serial.iter().map(|serial| piece(project, serial)).collect::<Result<_, _>>()?;
        let run =
            arguments.from.as_deref().map(|procedure| planned(project, kind, procedure, arguments)).transpose()?;
        Ok(Asked { project, kind, id, arguments, serials, date, run })
    }

    fn method(&self) -> Option<Method> {
        let methods = [Method::Analysis, Method::Test, Method::Inspection, Method::Demonstration];
        methods.into_iter().find(|method| method.word() == self.kind)
    }

    /// Where the file goes.
    fn path(&self) -> Result<RepoPath, CliError> {
        let analysis = &self.project.analysis;
        let name = habits::file_name(analysis, self.kind, &self.id);
        let folder = match &self.arguments.folder {
            Some(folder) => folder.trim_end_matches('/').to_string(),
            None => habits::folder(analysis, self.kind, &self.id),
        };
        let path = if folder.is_empty() || folder == "." { name } else { format!("{folder}/{name}") };
        RepoPath::new("x").beside(&path).ok_or_else(|| {
            CliError::refused(format!("{folder} lies outside the project"), "name a folder from the top of the project")
        })
    }

    /// What to type next; a line to fill in starts with `#` until it is.
    fn next(&self) -> String {
        let id = &self.id;
        if let Some(run) = &self.run {
            let model = &self.project.analysis.model;
            let is_asked = |field: &&Field| !run.asks(model, field).is_empty();
            let first = run.procedure.all_fields().find(is_asked).or_else(|| run.procedure.all_fields().next());
            let first = first.map_or("NAME", |field| field.name.value.as_str());
            return format!(
                "slipmark fill {id} {first}=\"VALUE ± UNCERTAINTY UNIT\" …, then slipmark sign {id} --by ROLE"
            );
        }
        match self.kind {
            _ if self.method().is_some() && self.arguments.requirements.is_empty() => format!(
                "fill in [verifies.ID] (with --for REQUIREMENT it comes filled in) and the results, then slipmark sign {id} --by ROLE"
            ),
            _ if self.method().is_some() => {
                format!("take the # off the lines that you fill in, then slipmark sign {id} --by ROLE")
            }
            "requirement" => {
                "write the statement, the criteria and the plan; take the # off the lines that you fill in; when it is agreed, remove the line status = \"draft\"; then slipmark check".into()
            }
            "item" => format!("name its pieces under [[serials]], then slipmark new requirement --item {id}"),
            "slot" => format!("an option for it is an item with fills = \"{id}\": slipmark new item"),
            "procedure" => format!(
                "write the steps, set status = \"released\", and plan it in a requirement: [[verify]] with procedure = \"{id}\""
            ),
            "nonconformance" => "write down what was found, and in `requirements` what it bears on: unnamed, it counts for all; it stays open until it is closed".into(),
            "waiver" => "fill in what it accepts and why; it counts once it is approved".into(),
            "event" => format!("name the pieces that were there and no others, then slipmark show {id}"),
            _ => "fill it in, then slipmark check".into(),
        }
    }
}

/// The run of a procedure on the piece that was named.
fn planned<'p>(project: &'p Project, kind: &str, procedure: &str, arguments: &Arguments) -> Result<Run<'p>, CliError> {
    let serial = match arguments.serial.as_slice() {
        [] => None,
        [one] => Some(one.as_str()),
        _ => {
            let help = "name the piece under test; what it contains comes with it";
            return Err(CliError::refused("a run from a procedure is on one piece", help));
        }
    };
    let mut run = run_of::find(project, procedure, serial, arguments.stage.as_deref())?;
    let methods: Vec<&str> = run.wanted.iter().filter_map(|one| one.entry.method).map(Method::word).collect();
    if !methods.contains(&kind) {
        let on = serial.map_or(String::new(), |serial| format!(" --serial {serial}"));
        let mut others: Vec<String> =
            methods.into_iter().map(|method| format!("slipmark new {method} --from {procedure}{on}")).collect();
        others.sort_unstable();
        others.dedup();
        return Err(CliError::refused(
            format!("nothing that is asked of this run is shown by {kind}"),
            others.join(" or "),
        ));
    }
    run.wanted.retain(|one| one.entry.method.is_some_and(|method| method.word() == kind));
    Ok(run)
}

/// An id that nothing has yet, in any case.
fn free(project: &Project, id: &str) -> Result<Id, CliError> {
    if !Id::is_valid(id) {
        let help = "start with a letter, and use only letters, digits, `.`, `_` and `-`";
        return Err(CliError::refused(format!("`{id}` cannot be an id"), help));
    }
    let model = &project.analysis.model;
    if let Some((own, place)) = model.ids().find(|(own, _)| own.eq_ignore_ascii_case(id)) {
        let path = project.analysis.path(model.head(place).file);
        return Err(CliError::refused(format!("{own} exists already: {path}"), "leave the id out to get a free one"));
    }
    if taken_ids(&project.repo, &project.prefix, project.commit)?.contains(id) {
        let message = format!("{id} was given to something else: a commit of this or another branch holds it");
        let help =
            format!("leave the id out to get a free one; to bring that back: slipmark history {id}, then git checkout");
        return Err(CliError::refused(message, help));
    }
    Ok(Id::new(id))
}

/// A piece that the project has.
pub(super) fn piece(project: &Project, text: &str) -> Result<SerialId, CliError> {
    let model = &project.analysis.model;
    let known = SerialId::parse(text).filter(|serial| model.serial(serial).is_some());
    known.ok_or_else(|| {
        let all = model.items.iter().flat_map(|item| {
            item.serials.iter().map(move |piece| format!("{}/{}", item.head.id.value, piece.number.value))
        });
        let all: Vec<String> = all.collect();
        project.unknown("no piece is called", text, all.iter().map(String::as_str))
    })
}

/// What this command writes must be free of faults, whatever names went into it.
pub(super) fn must_be_readable(path: &RepoPath, text: &str) -> Result<(), CliError> {
    let (entity, findings) = load_one(FileId(0), text);
    match (entity, findings.of(Class::Fault).next()) {
        (Some(_), None) => Ok(()),
        (_, fault) => {
            let why = fault.map(|fault| fault.message.clone()).unwrap_or_default();
            Err(CliError::Output(format!("{path} could not be read back: {why}")))
        }
    }
}

/// A path as it is named from the current folder, if it lies below that.
fn from_here(full: &std::path::Path) -> String {
    let here: Option<PathBuf> = std::env::current_dir().ok().and_then(|here| here.canonicalize().ok());
    let inside = here.and_then(|here| full.strip_prefix(here).map(std::path::Path::to_path_buf).ok());
    inside.unwrap_or_else(|| full.to_path_buf()).display().to_string()
}
