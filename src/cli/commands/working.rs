//! The working of a record, for `slipmark calc ID`: as it is, with other values supposed, and how far it holds.

use crate::analysis::Analysis;
use crate::cli::{CliError, Project};
use crate::diag::Findings;
use crate::model::{Model, Ref, link};
use crate::parse::Scalar;
use crate::quantity::parse_quantity;
use crate::report::view::{self, WorkedView};
use crate::text::Spanned;

/// The working of the record with this id, with each `NAME=VALUE` of `what_if` in place of what the files say.
///
/// # Errors
/// If there is no such record, it computes nothing, or a value cannot be read or names nothing that it starts from.
pub fn of(project: &Project, id: &str, what_if: &[String], solve: Option<&str>) -> Result<WorkedView, CliError> {
    let analysis = &project.analysis;
    let at = find(project, id)?;
    if let Some(name) = solve {
        known(analysis, at, name)?;
    }
    let supposed: Vec<(&str, &str)> = what_if.iter().map(|text| split(text)).collect::<Result<_, _>>()?;
    supposing(analysis, at, &supposed, view::Beside { solve, all_trials: true })
}

/// The same of the record at a place of the model, with names and values apart.
///
/// # Errors
/// If a value cannot be read or names nothing that it starts from.
pub fn supposing(
    analysis: &Analysis,
    at: usize,
    supposed: &[(&str, &str)],
    beside: view::Beside<'_>,
) -> Result<WorkedView, CliError> {
    for (name, value) in supposed {
        known(analysis, at, name)?;
        parse_quantity(value)
            .map_err(|error| CliError::refused(format!("{name}={value}: {}", error.message), error.help))?;
    }
    let mut view = if supposed.is_empty() {
        view::worked(analysis, &analysis.facts(), at, beside)
    } else {
        let other = analysis.suppose(|model| supposed.iter().for_each(|(name, value)| put(model, at, name, value)));
        view::worked(analysis, &other.facts(), at, beside)
    };
    view.supposed = supposed.iter().map(|(name, value)| format!("{name}={value}")).collect();
    Ok(view)
}

fn find(project: &Project, id: &str) -> Result<usize, CliError> {
    let model = &project.analysis.model;
    match model.find(id) {
        Some(Ref::Record(at)) => Ok(at),
        Some(other) => Err(CliError::refused(
            format!("{id} is a {}, and only records compute", model.kind(other)),
            format!("name a record; slipmark show {id} lists its evidence"),
        )),
        None => Err(project.unknown("no record has the id", id, model.records.iter().map(|own| own.head.id.as_str()))),
    }
}

fn split(text: &str) -> Result<(&str, &str), CliError> {
    let cut = text.split_once('=').map(|(name, value)| (name.trim(), value.trim()));
    cut.filter(|(name, _)| !name.is_empty()).ok_or_else(|| {
        CliError::refused(
            format!("\"{text}\" supposes nothing"),
            "write NAME=VALUE, such as --what-if T_stem=\"18 ± 1.5 N·m\"",
        )
    })
}

/// Whether a name is of something that the record starts from.
fn known(analysis: &Analysis, at: usize, name: &str) -> Result<(), CliError> {
    let record = &analysis.model.records[at];
    let used = analysis.computed.of_record(at).into_iter().flat_map(|values| &values.inputs);
    let names: Vec<&str> =
        record.inputs.iter().map(|own| own.name.value.as_str()).chain(used.map(|own| own.name.as_str())).collect();
    if names.contains(&name) {
        return Ok(());
    }
    let id = &record.head.id.value;
    Err(CliError::unknown(&format!("{id} starts from nothing called"), name, names.into_iter()))
}

/// Writes a supposed value over an input of the record, or over the parameter.
fn put(model: &mut Model, at: usize, name: &str, value: &str) {
    let record = std::sync::Arc::make_mut(&mut model.records[at]);
    if let Some(input) = record.inputs.iter_mut().find(|own| own.name.value == name) {
        input.value = Some(Spanned::new(Scalar::Text(value.to_string()), input.name.span));
        input.from = None;
        input.readings.clear();
    } else if let Some(parameter) = model.parameters.get_mut(name) {
        parameter.value = parse_quantity(value).ok();
        // A limit may rest on it too.
        link::work_out(model, &mut Findings::new());
    }
}
