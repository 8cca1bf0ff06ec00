//! The data sheet of a run: what is done, what is written down, and what it will be held against.

use jiff::civil::Date;
use pulldown_cmark::{Event, Parser, Tag, TagEnd};
use serde::Serialize;

use crate::analysis::Analysis;
use crate::config::Instrument;
use crate::model::kinds::requirement::show_limits;
use crate::model::kinds::{Criterion, Expectation, Feed, Field, Procedure, ProcedureStatus, Requirement, Stage};
use crate::model::{Id, SerialId, fed};
use crate::parse::Body;
use crate::report::cautions::{DEFER, for_hazard};
use crate::state::Row;
use crate::state::people::asked as asked_of_people;
use crate::state::run::{Ask, Run};
use crate::text::Spanned;

use super::known::{is_used, limited, nonconformances};
use super::prerequisites::{SheetPrerequisite, prerequisites};
use super::{Heading, KnownView, LifeView, lives};

/// What stands above everything on a sheet.
pub const LOCAL: &str = "Local codes, and the people licensed under them, decide what may be done here and by whom. This sheet lists what is written down about the run; it permits nothing.";

/// A data sheet.
#[derive(Clone, Debug, Serialize)]
pub struct SheetView {
    /// Where it came from.
    #[serde(flatten)]
    pub heading: Heading,
    /// The procedure's id.
    pub procedure: String,
    /// Its title.
    pub title: String,
    /// Its revision.
    pub revision: Option<String>,
    /// Draft or released.
    pub status: &'static str,
    /// The pieces under test.
    pub pieces: Vec<SheetPiece>,
    /// The stage of the run.
    pub stage: Option<&'static str>,
    /// What is to be known before anything else: draft procedure, other stages, nothing asked.
    pub remarks: Vec<String>,
    /// What can hurt, by the procedure.
    pub cautions: Vec<String>,
    /// What can hurt, by the hazards of the items.
    pub hazards: Vec<SheetHazard>,
    /// Who decides.
    pub decides: [&'static str; 2],
    /// What must hold first.
    pub prerequisites: Vec<SheetPrerequisite>,
    /// What is known of the pieces: open nonconformances against them, and their limited life.
    pub known: Vec<KnownView>,
    /// What it is measured with.
    pub instruments: Vec<SheetInstrument>,
    /// What is written down for the whole run.
    pub fields: Vec<SheetField>,
    /// The steps.
    pub steps: Vec<SheetStep>,
    /// What is asked of the run and no field of the procedure is for.
    pub also: Vec<SheetField>,
    /// What the results will be held against, with the marks of today.
    pub requirements: Vec<SheetRequirement>,
    /// Who must perform and watch it, for which of them.
    pub people: Vec<String>,
}

/// A piece.
#[derive(Clone, Debug, Serialize)]
pub struct SheetPiece {
    /// Its name.
    pub serial: String,
    /// The item's title.
    pub title: String,
    /// Its revision today.
    pub revision: Option<String>,
    /// What it is used for.
    pub purpose: &'static str,
}

/// A hazard with the usual cautions.
#[derive(Clone, Debug, Serialize)]
pub struct SheetHazard {
    /// As items write it.
    pub hazard: String,
    /// The cautions; none for a hazard that is not known here.
    pub cautions: &'static [&'static str],
}

/// An instrument.
#[derive(Clone, Debug, Serialize)]
pub struct SheetInstrument {
    /// Its id.
    pub id: String,
    /// What it is.
    pub what: String,
    /// Its range.
    pub range: Option<String>,
    /// The least step that it shows.
    pub resolution: Option<String>,
    /// Its uncertainty.
    pub uncertainty: Option<String>,
    /// The accuracy that the run needs.
    pub needed: Option<String>,
    /// When its calibration is due, or what is amiss with it.
    pub due: String,
    /// Whether a calibration covers today.
    pub calibrated: bool,
}

/// A step.
#[derive(Clone, Debug, Serialize)]
pub struct SheetStep {
    /// From 1.
    pub number: usize,
    /// Its name.
    pub name: Option<String>,
    /// What is done.
    pub text: String,
    /// Whether nobody goes on without a signature.
    pub hold: bool,
    /// What can hurt.
    pub cautions: Vec<String>,
    /// What is written down.
    pub fields: Vec<SheetField>,
}

/// A field to fill in.
#[derive(Clone, Debug, Serialize)]
pub struct SheetField {
    /// Its name.
    pub name: String,
    /// What it is.
    pub text: Option<String>,
    /// Its unit.
    pub unit: Option<String>,
    /// The instrument that it is read from.
    pub instrument: Option<String>,
    /// What is asked of it today, by which requirement.
    pub asked: Vec<String>,
    /// Between what it is expected.
    pub expected: Option<String>,
    /// Whether it is a measured value, with its uncertainty; else a word or a count.
    pub measured: bool,
}

/// A requirement that the run is for.
#[derive(Clone, Debug, Serialize)]
pub struct SheetRequirement {
    /// Its id.
    pub id: String,
    /// Its title.
    pub title: String,
    /// Its statement as plain text.
    pub statement: String,
    /// What it is shown on.
    pub subject: String,
    /// By which method.
    pub method: Option<&'static str>,
    /// Whether people depend on it.
    pub safety: bool,
    /// Its mark today.
    pub mark: String,
    /// Its state today.
    pub state: &'static str,
}

/// Makes the sheet of a run.
pub fn sheet(analysis: &Analysis, run: &Run<'_>) -> SheetView {
    let procedure = run.procedure;
    let body = Procedural::of(analysis, procedure);
    let rows = analysis.rows(None);
    let mut cautions = procedure.cautions.clone();
    cautions.extend(body.cautions);
    let mut steps = steps(analysis, run);
    if steps.is_empty() {
        let numbered = body.steps.into_iter().enumerate();
        steps.extend(numbered.map(|(at, text)| SheetStep {
            number: at + 1,
            name: None,
            text,
            hold: false,
            cautions: Vec::new(),
            fields: Vec::new(),
        }));
    }
    SheetView {
        heading: Heading::of(analysis),
        procedure: procedure.head.id.value.to_string(),
        title: procedure.head.title.clone(),
        revision: procedure.revision.as_ref().map(|revision| revision.value.clone()),
        status: procedure.status.word(),
        pieces: run.pieces.iter().filter_map(|serial| piece(analysis, serial)).collect(),
        stage: run.stage.map(Stage::word),
        remarks: remarks(analysis, run),
        cautions,
        hazards: hazards(analysis, run),
        decides: [LOCAL, DEFER],
        prerequisites: prerequisites(analysis, run, &rows),
        known: known(analysis, run),
        instruments: procedure.instruments.iter().map(|id| instrument(analysis, procedure, &id.value)).collect(),
        fields: procedure.fields.iter().map(|own| field(analysis, run, own)).collect(),
        steps,
        also: also(analysis, run).into_iter().chain(uses(analysis, run)).collect(),
        requirements: requirements(run, &rows),
        people: people(analysis, run),
    }
}

fn piece(analysis: &Analysis, serial: &SerialId) -> Option<SheetPiece> {
    let (item, piece) = analysis.model.serial(serial)?;
    Some(SheetPiece {
        serial: serial.to_string(),
        title: item.head.title.clone(),
        revision: piece.revision.as_ref().or(item.revision.as_ref()).map(|revision| revision.value.clone()),
        purpose: piece.purpose.word(),
    })
}

fn remarks(analysis: &Analysis, run: &Run<'_>) -> Vec<String> {
    let mut remarks = Vec::new();
    if run.procedure.status == ProcedureStatus::Draft {
        remarks.push("The procedure is a draft and not released.".to_string());
    }
    if run.wanted.is_empty() {
        remarks.push("No plan asks for this run: nothing that is written here closes anything.".to_string());
    }
    remarks.extend(worn(analysis, run));
    for stage in &run.other_stages {
        remarks.push(format!("Left out: what is asked for {0}. Its sheet: --stage {0}.", stage.word()));
    }
    remarks
}

/// What is known of the pieces of a run; without a piece, of the project.
fn known(analysis: &Analysis, run: &Run<'_>) -> Vec<KnownView> {
    let lives = limited(analysis, &run.pieces, |_| true);
    nonconformances(analysis, &run.pieces, None).into_iter().chain(lives).collect()
}

/// The limited lives that a run uses, of its pieces and of what is in them.
fn used(analysis: &Analysis, run: &Run<'_>) -> Vec<LifeView> {
    let mut used = lives(analysis, |piece| run.pieces.contains(piece));
    used.retain(|life| is_used(run.procedure, life));
    used
}

/// Pieces that have nothing left for the run, or of which that cannot be told.
fn worn(analysis: &Analysis, run: &Run<'_>) -> Vec<String> {
    let spent = used(analysis, run).into_iter().filter(|life| life.is_spent);
    spent.map(|life| format!("Limited life: {} {}: {}.", life.piece, life.name, life.so_far)).collect()
}

/// What the run writes down of the limited life that it uses, with what is left before it.
fn uses(analysis: &Analysis, run: &Run<'_>) -> Vec<SheetField> {
    let used = used(analysis, run);
    let one = |name: &Spanned<String>| {
        let own: Vec<&LifeView> = used.iter().filter(|life| life.name == name.value).collect();
        SheetField {
            name: format!("uses.{}", name.value),
            text: Some("what this run uses of a limited life".to_string()),
            unit: own.iter().find_map(|life| life.unit.clone()),
            asked: own.iter().map(|life| format!("{}: {}", life.piece, life.so_far)).collect(),
            expected: None,
            instrument: None,
            measured: false,
        }
    };
    run.procedure.uses.iter().filter(|name| used.iter().any(|life| life.name == name.value)).map(one).collect()
}

/// The hazards of the pieces' items, each once.
fn hazards(analysis: &Analysis, run: &Run<'_>) -> Vec<SheetHazard> {
    let mut hazards: Vec<SheetHazard> = Vec::new();
    let items = run.pieces.iter().map(|piece| &piece.item).chain(run.procedure.item.iter().map(|item| &item.value));
    for item in items.filter_map(|id| analysis.model.item(id)) {
        for hazard in &item.hazards {
            if !hazards.iter().any(|own| own.hazard == hazard.value) {
                hazards.push(SheetHazard { hazard: hazard.value.clone(), cautions: for_hazard(&hazard.value) });
            }
        }
    }
    hazards
}

fn instrument(analysis: &Analysis, procedure: &Procedure, id: &Id) -> SheetInstrument {
    let today = analysis.request.today;
    let known = analysis.model.instruments.get(id);
    SheetInstrument {
        id: id.to_string(),
        what: known.and_then(|it| it.what.clone()).unwrap_or_default(),
        range: known.and_then(|it| it.range.as_ref()).map(|range| range.value.clone()),
        resolution: known.and_then(|it| it.resolution.as_ref()).map(|steps| steps.value.clone()),
        uncertainty: known.and_then(|it| it.stated_uncertainty()),
        needed: procedure.needs_accuracy(id).map(|accuracy| accuracy.text.value.clone()),
        due: known.map_or_else(|| "not in instruments.toml".to_string(), |it| due(it, today)),
        calibrated: known.is_some_and(|it| it.calibrated_on(today)),
    }
}

/// When the newest calibration runs out.
fn due(instrument: &Instrument, today: Date) -> String {
    let usable = instrument.calibrations.iter().filter_map(|one| Some((one.on.as_ref()?.date, one.due.as_ref()?.date)));
    match usable.filter(|(on, _)| *on <= today).max() {
        Some((_, due)) if due >= today => due.to_string(),
        Some((_, due)) => format!("was due {due}"),
        None => "not calibrated".to_string(),
    }
}

fn steps(analysis: &Analysis, run: &Run<'_>) -> Vec<SheetStep> {
    let steps = run.procedure.steps.iter().enumerate().map(|(at, step)| SheetStep {
        number: at + 1,
        name: step.name.clone(),
        text: step.text.clone(),
        hold: step.hold,
        cautions: step.cautions.clone(),
        fields: step.fields.iter().map(|own| field(analysis, run, own)).collect(),
    });
    steps.collect()
}

fn field(analysis: &Analysis, run: &Run<'_>, own: &Field) -> SheetField {
    let mut asked: Vec<String> = Vec::new();
    let measured = own.unit.is_some()
        || own.feeds.iter().any(|feed| match &feed.value {
            Feed::Condition(_) => true,
            Feed::Criterion(name) => fed(&analysis.model, name).is_some_and(|(_, criterion)| is_measured(criterion)),
        });
    for ask in run.asks(&analysis.model, own) {
        let text = asked_of(&ask);

        if !asked.contains(&text) {
            asked.push(text);
        }
    }
    SheetField {
        name: own.name.value.clone(),
        text: own.text.clone(),
        unit: own.unit.as_ref().map(|unit| unit.value.clone()),
        instrument: own.instrument.as_ref().map(|instrument| instrument.value.to_string()),
        asked,
        expected: own.expected.as_ref().map(|expected| expected.show()),
        measured,
    }
}

/// What a requirement asks of a reading, in words.
fn asked_of(ask: &Ask<'_>) -> String {
    let id = &ask.requirement.head.id.value;
    match ask.condition.and_then(|at| ask.criterion.at.get(at)) {
        Some(condition) => format!("{} for {id}", show_limits(condition.min.as_ref(), condition.max.as_ref())),
        None => format!("{} ({id})", ask.criterion.show()),
    }
}

/// Criteria and conditions that the run is asked for and no field is for.
fn also(analysis: &Analysis, run: &Run<'_>) -> Vec<SheetField> {
    let asks: Vec<Ask<'_>> = run.procedure.all_fields().flat_map(|own| run.asks(&analysis.model, own)).collect();
    let covered = |requirement: &Requirement, criterion: &Criterion, condition: Option<usize>| {
        asks.iter().any(|ask| {
            let same =
                ask.requirement.head.id.value == requirement.head.id.value && ask.criterion.name == criterion.name;
            same && ask.condition == condition
        })
    };
    let mut also: Vec<SheetField> = Vec::new();
    let mut add = |name: String, text: Option<String>, unit: Option<String>, asked: String, measured: bool| match also
        .iter_mut()
        .find(|own| own.name == name)
    {
        Some(own) if own.asked.contains(&asked) => {}
        Some(own) => own.asked.push(asked),
        None => {
            also.push(SheetField { name, text, unit, instrument: None, asked: vec![asked], expected: None, measured });
        }
    };
    for one in &run.wanted {
        let requirement = one.requirement;
        for criterion in one.criteria() {
            for (at, condition) in criterion.at.iter().enumerate() {
                if !covered(requirement, criterion, Some(at)) {
                    let unit =
                        [&condition.min, &condition.max].into_iter().flatten().find_map(|limit| limit.quantity());
                    let unit = unit.map(|limit| limit.unit.symbol.clone()).filter(|unit| !unit.is_empty());
                    let ask = Ask { requirement, criterion, condition: Some(at) };
                    add(format!("conditions.{}", condition.name), None, unit, asked_of(&ask), true);
                }
            }
            if !covered(requirement, criterion, None) {
                let name = format!("{}.{}", requirement.head.id.value, criterion.name);
                let asked = asked_of(&Ask { requirement, criterion, condition: None });
                add(name, criterion.text.clone(), unit_of(criterion), asked, is_measured(criterion));
            }
        }
    }
    also
}

fn is_measured(criterion: &Criterion) -> bool {
    matches!(criterion.expects, Expectation::Limits { .. } | Expectation::Sample { .. })
}

fn unit_of(criterion: &Criterion) -> Option<String> {
    let (min, max) = criterion.expects.ends();
    let limit = [min, max].into_iter().flatten().find_map(|limit| limit.quantity())?;
    Some(limit.unit.symbol.clone()).filter(|unit| !unit.is_empty())
}

fn requirements(run: &Run<'_>, rows: &[Row]) -> Vec<SheetRequirement> {
    let shown = run.wanted.iter().map(|one| {
        let own = rows.iter().find(|row| {
            row.requirement == one.at
                && row.entry == crate::state::EntryRef::Plan(one.index)
                && row.subject == one.subject
        });
        SheetRequirement {
            id: one.requirement.head.id.value.to_string(),
            title: one.requirement.head.title.clone(),
            statement: one.requirement.plain.clone(),
            subject: one.subject.to_string(),
            method: one.entry.method.map(|method| method.word()),
            safety: one.requirement.safety,
            mark: one.requirement.mark.clone(),
            state: own.map_or("not in scope", |row| row.state.word()),
        }
    });
    shown.collect()
}

/// Who must perform and watch the run, each with the requirements that it is asked for.
fn people(analysis: &Analysis, run: &Run<'_>) -> Vec<String> {
    let facts = analysis.facts();
    let mut asked: Vec<(String, Vec<&str>)> = Vec::new();
    for one in &run.wanted {
        let id = one.requirement.head.id.as_str();
        for text in asked_of_people(&facts, one.requirement, one.entry) {
            match asked.iter_mut().find(|(own, _)| *own == text) {
                Some((_, ids)) if ids.contains(&id) => {}
                Some((_, ids)) => ids.push(id),
                None => asked.push((text, vec![id])),
            }
        }
    }
    asked.into_iter().map(|(text, ids)| format!("{text}: for {}", ids.join(", "))).collect()
}

/// What the body of a procedure says under `Cautions` and `Steps`, item by item.
struct Procedural {
    cautions: Vec<String>,
    steps: Vec<String>,
}

impl Procedural {
    fn of(analysis: &Analysis, procedure: &Procedure) -> Procedural {
        let text = analysis.sources.slice(procedure.head.body);
        let body = Body::read(text);
        let items = |heading: &str| body.section(text, heading).map(items).unwrap_or_default();
        Procedural { cautions: items("Cautions"), steps: items("Steps") }
    }
}

/// The items of the lists in a Markdown text as plain words, and its paragraphs outside them; nested lists stay with
/// their item.
fn items(markdown: &str) -> Vec<String> {
    let (mut items, mut words, mut depth) = (Vec::new(), String::new(), 0usize);
    for event in Parser::new(markdown) {
        let ends = match event {
            Event::Start(Tag::Item) => {
                depth += 1;
                words.push(' ');
                false
            }
            Event::End(TagEnd::Item) => {
                depth = depth.saturating_sub(1);
                depth == 0
            }
            Event::End(TagEnd::Paragraph | TagEnd::CodeBlock | TagEnd::Heading(_)) => {
                words.push(' ');
                depth == 0
            }
            Event::Text(text) | Event::Code(text) | Event::Html(text) | Event::InlineHtml(text) => {
                words.push_str(&text);
                false
            }
            Event::SoftBreak | Event::HardBreak => {
                words.push(' ');
                false
            }
            _ => false,
        };
        if ends {
            let text = words.split_whitespace().collect::<Vec<_>>().join(" ");
            words.clear();
            items.extend(Some(text).filter(|text| !text.is_empty()));
        }
    }
    items
}

#[cfg(test)]
mod tests {
    use super::items;

    #[test]
    fn lists_become_items_and_nested_ones_stay_with_theirs() {
        let found = items("Mind:\n\n1. One `a`\n   more.\n   - nested\n2. Two.\n\nThe end.\n");
        assert_eq!(found, ["Mind:", "One a more. nested", "Two.", "The end."]);
    }
}
