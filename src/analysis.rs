//! The whole pipeline on one page: source → parse → model → graph → facts → findings and states.
//!
//! The work tree, a commit and a fixture in memory go through the same lines, so that an answer about the past and one
//! about the present cannot be made by different code.

pub mod again;
pub mod beside;
pub mod change;
pub mod order;
mod suppose;

use std::collections::BTreeMap;
use std::sync::Arc;

use jiff::civil::Date;
use rayon::prelude::*;

use crate::check;
use crate::computed::{self, Computed, Tables};
use crate::config::{self, Config, Instrument, Parameter};
use crate::diag::{Finding, Findings, Place, Switch};
use crate::graph::TraceGraph;
use crate::model::kinds::{Entity, Record};
use crate::model::{Id, Model, link, load};
use crate::source::{
    Content, Held, INSTRUMENTS_FILE, Limits, Origin, PARAMETERS_FILE, PROJECT_FILE, ReadError, Snapshot, Source,
    SourceError, hold,
};
use crate::state::judge::Judgements;
use crate::state::{self, AttachmentState, Facts, Row};
use crate::templates::Templates;
use crate::text::{FileId, SourceMap};

pub use suppose::Supposed;

/// What an analysis is asked.
#[derive(Clone, Copy, Debug)]
pub struct Request {
    /// The day on which the question is asked.
    pub today: Date,
    /// Whether the wording of statements is looked at.
    pub wording: bool,
    /// For tests only.
    pub switch: Switch,
}

impl Request {
    /// Asked on this day, about everything but wording.
    pub fn on(today: Date) -> Request {
        Request { today, wording: false, switch: Switch::default() }
    }
}

/// A project, read and judged.
#[derive(Debug)]
pub struct Analysis {
    /// Where the files came from.
    pub origin: Origin,
    /// Their texts; a [`FileId`] is a file's position in the snapshot.
    pub sources: SourceMap,
    /// What was read: paths, blob ids, attachments.
    pub snapshot: Snapshot,
    /// The project.
    pub model: Model,
    /// What hangs from what.
    pub graph: TraceGraph,
    /// For each record, each of its attachments.
    pub attachments: Vec<Vec<AttachmentState>>,
    /// The attached tables that are calculated with.
    pub tables: Tables,
    /// What its pages are set with.
    pub templates: Templates,
    /// What calculations and reductions come to.
    pub computed: Arc<Computed>,
    /// Every result held against its criterion.
    pub judgements: Judgements,
    /// What is wrong, sorted.
    pub findings: Findings,
    /// What was asked.
    pub request: Request,
}

impl Analysis {
    /// What states and checks are computed from.
    pub fn facts(&self) -> Facts<'_> {
        Facts {
            model: &self.model,
            graph: &self.graph,
            attachments: &self.attachments,
            computed: &self.computed,
            judgements: &self.judgements,
            today: self.request.today,
            switch: self.request.switch,
        }
    }

    /// The states of all rows; `asked` is an event's position, none asks each row at its own event.
    pub fn rows(&self, asked: Option<usize>) -> Vec<Row> {
        state::derive(&self.facts(), asked)
    }

    /// The path of the file that something stands in.
    pub fn path(&self, file: FileId) -> &crate::text::RepoPath {
        &self.sources.file(file).path
    }
}

/// Reads a project and judges it.
///
/// # Errors
/// If the source as a whole cannot be read. Whatever is wrong inside it is a finding.
pub fn run(source: &dyn Source, request: Request) -> Result<Analysis, SourceError> {
    with(source, request, load::load)
}

/// The same for whoever reads the project again and again: files that say what they said are not read as things again.
///
/// # Errors
/// As [`run`].
pub fn run_again(source: &dyn Source, request: Request, read: &mut load::Read) -> Result<Analysis, SourceError> {
    with(source, request, |sources, files| load::load_again(sources, files, read))
}

fn with(
    source: &dyn Source,
    request: Request,
    load: impl FnOnce(&SourceMap, &[FileId]) -> Vec<load::Loaded>,
) -> Result<Analysis, SourceError> {
    let nested_allowed = nested(&source.project_file(&Limits::default())?);
    let snapshot = source.snapshot(&Limits { nested_allowed, ..Limits::default() })?;
    let mut findings = Findings::with(request.switch);
    let sources = texts(&snapshot, &mut findings);
    let model = model(&snapshot, &sources, &mut findings, load);
    let graph = TraceGraph::build(&model);
    let attachments = attachments(source, &sources, &model.records);
    let tables = tables_of(source, &sources, &model);
    let templates = Templates::read(source, &snapshot, model.config.templates.as_ref());
    let computed = Arc::new(Computed::of(&model, &tables));
    let none = Judgements::default();
    let Request { today, switch, .. } = request;
    let facts = Facts {
        model: &model,
        graph: &graph,
        attachments: &attachments,
        computed: &computed,
        judgements: &none,
        today,
        switch,
    };
    let judgements = Judgements::of(&facts);
    let facts = Facts { judgements: &judgements, ..facts };
    check::run(
        &check::Subject {
            facts,
            sources: &sources,
            snapshot: &snapshot,
            templates: &templates,
            wording: request.wording,
        },
        &mut findings,
    );
    findings.sort(&sources);
    Ok(Analysis {
        origin: snapshot.origin.clone(),
        sources,
        snapshot,
        model,
        graph,
        attachments,
        tables,
        templates,
        computed,
        judgements,
        findings,
        request,
    })
}

/// Nested projects that the project file lists.
fn nested(file: &Content) -> Vec<String> {
    let Some(text) = file.text() else { return Vec::new() };
    let config = Config::read(FileId(0), text, &mut Findings::new());
    config.projects.into_iter().map(|path| path.value).collect()
}

/// Puts the snapshot's texts into a source map and reports what could not be read.
fn texts(snapshot: &Snapshot, findings: &mut Findings) -> SourceMap {
    let mut sources = SourceMap::with_capacity(snapshot.files.len());
    for file in &snapshot.files {
        let place = || Place::Path(file.path.clone());
        let trouble = match &file.content {
            Content::Text(_) => None,
            Content::NotUtf8 { offset } => {
                let text = format!("{} is not UTF-8: the byte at offset {offset} is none of it", file.path);
                Some(Finding::new("not-utf8", place(), text))
            }
            Content::TooLarge { bytes } => {
                let text = format!("{} has {bytes} bytes, more than is read of one file", file.path);
                Some(Finding::new("file-too-large", place(), text))
            }
            Content::Unreadable { reason } => {
                Some(Finding::new("unreadable-file", place(), format!("{} cannot be read: {reason}", file.path)))
            }
        };
        findings.extend(trouble);
        sources.add(file.path.clone(), file.content.text().cloned().unwrap_or_else(|| "".into()));
    }
    for problem in &snapshot.problems {
        let place = Place::Path(problem.path().clone());
        findings.push(Finding::new(problem.code(), place, problem.to_string()).help(problem.help()));
    }
    sources
}

/// Reads every file of the project and links what is in it.
fn model(
    snapshot: &Snapshot,
    sources: &SourceMap,
    findings: &mut Findings,
    load: impl FnOnce(&SourceMap, &[FileId]) -> Vec<load::Loaded>,
) -> Model {
    let (config, parameters, instruments) = tables(snapshot, sources, findings);
    let markdown: Vec<FileId> = sources.files().filter(|(_, file)| file.path.is_markdown()).map(|(id, _)| id).collect();
    let mut entities: Vec<Entity> = Vec::with_capacity(markdown.len());
    for (entity, wrong) in load(sources, &markdown) {
        findings.extend(wrong);
        entities.extend(entity);
    }
    link::clashes(&entities, findings);
    let mut model = Model::new(config, parameters, instruments, entities);
    link::link(&mut model, sources, findings);
    model
}

type Settings = (Config, BTreeMap<String, Parameter>, BTreeMap<Id, Instrument>);

/// Reads the three TOML files at the top of the project.
fn tables(snapshot: &Snapshot, sources: &SourceMap, findings: &mut Findings) -> Settings {
    let find = |name: &str| snapshot.position(name).map(|at| FileId(at as u32));
    let text = |id: FileId| sources.file(id).text.clone();
    let project = find(PROJECT_FILE).unwrap_or(FileId(0));
    let config = match snapshot.files.get(project.0 as usize) {
        Some(file) if file.content.text().is_some() => Config::read(project, &text(project), findings),
        // That it lacks everything would only hide that it could not be read.
        _ => Config::read(project, "", &mut Findings::new()),
    };
    let parameters = find(PARAMETERS_FILE).map(|id| config::parameters(id, &text(id), findings)).unwrap_or_default();
    let instruments = find(INSTRUMENTS_FILE).map(|id| config::instruments(id, &text(id), findings)).unwrap_or_default();
    (config, parameters, instruments)
}

/// Holds every attachment against the hash that was signed for.
fn attachments(source: &dyn Source, sources: &SourceMap, records: &[Arc<Record>]) -> Vec<Vec<AttachmentState>> {
    let one = |record: &Arc<Record>| {
        let path = &sources.file(record.head.file).path;
        let states = record.data.iter().map(|attachment| {
            let signed_for = attachment.sha256.as_ref().map(|hash| hash.value.as_str());
            match path.beside(&attachment.file.value) {
                None => AttachmentState::Missing("its path leads out of the project".into()),
                Some(path) => match hold(source, &path, signed_for) {
                    Ok(Held::Unchanged) => AttachmentState::Unchanged,
                    Ok(Held::Altered(hash)) => AttachmentState::Altered(hex(&hash)),
                    Ok(Held::Pointer(bytes)) => AttachmentState::Pointer(bytes),
                    Err(ReadError::NotFound { .. }) => AttachmentState::Missing("there is no such file".into()),
                    Err(error) => AttachmentState::Missing(error.to_string()),
                },
            }
        });
        states.collect()
    };
    records.par_iter().with_min_len(64).map(one).collect()
}

/// Reads the attached tables that are calculated with.
fn tables_of(source: &dyn Source, sources: &SourceMap, model: &Model) -> Tables {
    Tables::read(computed::wanted(model), |file, name| match sources.file(file).path.beside(name) {
        None => Err("its path leads out of the project".into()),
        Some(path) => source.read(&path).map_err(|error| error.to_string()),
    })
}

/// Bytes in hex, lower case.
pub fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write;
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}
