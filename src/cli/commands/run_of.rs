//! The run of a procedure that a command line names.

use crate::cli::{CliError, Project};
use crate::model::SerialId;
use crate::model::kinds::Stage;
use crate::model::kinds::shared::STAGES;
use crate::state::run::Run;

/// Finds the procedure, the piece and the stage, and what the run is for.
///
/// # Errors
/// If a name is unknown, or the plan asks for nothing by this procedure on this piece.
pub(super) fn find<'p>(
    project: &'p Project,
    procedure: &str,
    serial: Option<&str>,
    stage: Option<&str>,
) -> Result<Run<'p>, CliError> {
    let model = &project.analysis.model;
    let Some(found) = model.procedure(procedure) else {
        let known = model.procedures.iter().map(|own| own.head.id.value.as_str());
        return Err(CliError::unknown("no procedure has the id", procedure, known));
    };
    let piece = serial.map(|serial| super::new::piece(project, serial)).transpose()?;
    let stage = stage.map(stage_named).transpose()?;
    let run = Run::of(&project.analysis.facts(), found, piece.as_ref(), stage);
    if run.wanted.is_empty() {
        let what = match (&piece, stage) {
            (Some(piece), Some(stage)) => format!("nothing is asked of {piece} by {procedure} for {}", stage.word()),
            (Some(piece), None) => format!("nothing is asked of {piece} by {procedure}"),
            (None, _) => format!("nothing is asked of the project as a whole by {procedure}"),
        };
        return Err(CliError::refused(what, instead(project, procedure, &run)));
    }
    Ok(run)
}

fn stage_named(word: &str) -> Result<Stage, CliError> {
    let words = STAGES.iter().map(|(word, _)| *word);
    let found = STAGES.iter().find(|(own, _)| *own == word).map(|(_, stage)| *stage);
    found.ok_or_else(|| CliError::unknown("there is no stage", word, words))
}

/// Stages and pieces for which the plan does ask for a run.
fn instead(project: &Project, procedure: &str, run: &Run<'_>) -> String {
    if let Some(stage) = run.other_stages.first() {
        return format!("name a stage that is asked for: --stage {}", stage.word());
    }
    let model = &project.analysis.model;
    let facts = project.analysis.facts();
    let all = model.items.iter().flat_map(|item| {
        let number = |own: &crate::model::kinds::Serial| own.number.value.clone();
        item.serials.iter().map(move |own| SerialId { item: item.head.id.value.clone(), number: number(own) })
    });
    let asked = all.filter(|piece| !Run::of(&facts, run.procedure, Some(piece), None).wanted.is_empty());
    let asked: Vec<String> = asked.map(|piece| piece.to_string()).collect();
    match asked.is_empty() {
        true => format!("name {procedure} in a [[verify]] entry of a requirement"),
        false => format!("name a piece that it is asked of: --serial {}", asked.join(" or ")),
    }
}
