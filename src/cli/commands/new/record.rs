//! A new record: everything but the results.

use std::collections::BTreeMap;

use super::Asked;
use super::sheet::{Sheet, dotted, one_or_list};
use crate::cli::CliError;
use crate::edit::{Toml, key};
use crate::model::kinds::requirement::show_limits;
use crate::model::kinds::{
    AppliesTo, Expectation, Feed, Item, Method, On, PlanEntry, Procedure, Requirement, RequirementStatus, Stage,
};
use crate::model::{Id, Ref, SerialId};
use crate::state::fits::candidates;
use crate::state::people;
use crate::state::scope::{Target, choices, event_of, targets};
use crate::state::{EntryRef, Facts, Row, Subject};

/// A requirement and the entry of its plan that the record is for.
struct Goal<'p> {
    requirement: &'p Requirement,
    entry: Option<&'p PlanEntry>,
}

/// What the record is about.
#[derive(Default)]
struct About {
    serials: Vec<SerialId>,
    item: Option<Id>,
    /// Pieces to choose from, where the project does not tell which.
    choice: Vec<SerialId>,
}

/// The text of a new record.
///
/// # Errors
/// If a requirement does not ask for such a record.
pub(super) fn text(asked: &Asked<'_>, method: Method) -> Result<String, CliError> {
    let rows = asked.project.analysis.rows(None);
    let mut goals: Vec<Goal<'_>> = Vec::new();
    for one in asked.run.iter().flat_map(|run| &run.wanted) {
        if !goals.iter().any(|own| own.requirement.head.id.value == one.requirement.head.id.value) {
            goals.push(Goal { requirement: one.requirement, entry: Some(one.entry) });
        }
    }
    for id in &asked.arguments.requirements {
        goals.push(goal(asked, method, id, &rows, goals.first().and_then(|first| first.entry))?);
    }
    let item = item_named(asked, &goals)?;
    let about = about(asked, &goals, &rows, item);
    let procedure = procedure(asked, &goals);
    let mut sheet = Sheet::default();
    sheet.set("kind", &Toml::text(method.word()));
    sheet.set("id", &Toml::text(&*asked.id));
    sheet.set("title", &Toml::text(title(asked, &goals, &about)));
    sheet.set("date", &Toml::Bare(asked.date.to_string()));
    subject(asked, &about, &mut sheet);
    if let Some(procedure) = procedure {
        sheet.set("procedure", &Toml::text(&*procedure.head.id.value));
        if let Some(revision) = &procedure.revision {
            sheet.set("procedure_revision", &Toml::text(&revision.value));
        }
    }
    if let Some(stage) = goals.iter().find_map(|goal| goal.entry?.stage) {
        sheet.set("stage", &Toml::text(stage.word()));
    }
    people(asked, &goals, &mut sheet);
    instruments(method, procedure, &mut sheet);
    let fields = procedure.filter(|_| asked.run.is_some());
    conditions(&goals, fields, &mut sheet);
    readings(asked, &mut sheet);
    for name in procedure.iter().flat_map(|own| &own.uses) {
        let note = "what the run used of this limited life of its pieces; 0 if none";
        sheet.open(&format!("{} = \"\"", dotted("uses", &name.value)), note);
    }
    sheet.set("status", &Toml::text("draft"));
    for goal in &goals {
        shows(goal, fields, &mut sheet);
    }
    if goals.is_empty() {
        sheet.gap();
        sheet.open("[verifies.ID]", "the requirement that it shows");
        sheet.open("results.NAME = \"\"", "one for each of its criteria");
    }
    rest(asked, method, &mut sheet);
    let body = if method == Method::Analysis { ANALYSIS } else { "Notes of the run.\n" };
    Ok(sheet.finish(body))
}

/// The entry of a requirement's plan that a record of this method is for.
fn goal<'p>(
    asked: &Asked<'p>,
    method: Method,
    id: &str,
    rows: &[Row],
    first: Option<&PlanEntry>,
) -> Result<Goal<'p>, CliError> {
    let project = asked.project;
    let Some(at) = project.analysis.model.requirements.iter().position(|own| own.head.id.as_str() == id) else {
        return Err(CliError::unknown("no requirement has the id", id, std::iter::empty()));
    };
    let requirement = &project.analysis.model.requirements[at];
    if requirement.status == RequirementStatus::Withdrawn {
        return Err(CliError::refused(format!("{id} is withdrawn"), "name a requirement that is in force"));
    }
    let fits = |entry: &&PlanEntry| {
        let procedure = asked
            .arguments
            .procedure
            .as_deref()
            .or(first.and_then(|first| first.procedure.as_ref()).map(|id| id.as_str()));
        let stage = asked.arguments.stage.as_deref().or(first.and_then(|first| first.stage).map(Stage::word));
        entry.method == Some(method)
            && procedure.is_none_or(|wanted| entry.procedure.as_ref().is_none_or(|own| own.as_str() == wanted))
            && stage.is_none_or(|wanted| entry.stage.is_none_or(|own| own.word() == wanted))
    };
    let fitting: Vec<(usize, &PlanEntry)> =
        requirement.plan.iter().enumerate().filter(|(_, entry)| fits(entry)).collect();
    if fitting.is_empty() {
        return Err(CliError::refused(
            format!("{id} asks for no {} like this", method.word()),
            what_is_asked(requirement),
        ));
    }
    let rank = |index: usize| {
        let own = rows.iter().filter(|row| row.requirement == at && row.entry == EntryRef::Plan(index));
        own.filter(|row| row.state.is_open()).map(|row| nearness(asked, row)).min().unwrap_or(3)
    };
    let chosen = fitting.iter().min_by_key(|(index, _)| rank(*index));
    Ok(Goal { requirement, entry: chosen.map(|(_, entry)| *entry) })
}

/// How near a row is to the pieces that were named: 0 for one of them, or if none was named.
fn nearness(asked: &Asked<'_>, row: &Row) -> usize {
    match &row.subject {
        _ if asked.serials.is_empty() => 0,
        Subject::Serial(serial) if asked.serials.contains(serial) => 0,
        Subject::Item(item) if asked.serials.iter().any(|serial| serial.item == *item) => 1,
        _ => 2,
    }
}

fn what_is_asked(requirement: &Requirement) -> String {
    let id = &requirement.head.id.value;
    let entries: Vec<String> = requirement
        .plan
        .iter()
        .map(|entry| {
            let words = [
                entry.method.map(|method| method.word().to_string()),
                entry.stage.map(|stage| stage.word().to_string()),
                entry.procedure.as_ref().map(|procedure| procedure.value.to_string()),
            ];
            words.into_iter().flatten().collect::<Vec<_>>().join(" ")
        })
        .collect();
    let mut typed: Vec<String> = Vec::new();
    for method in requirement.plan.iter().filter_map(|entry| entry.method) {
        let command = format!("slipmark new {} --for {id}", method.word());
        if !typed.contains(&command) {
            typed.push(command);
        }
    }
    match typed.is_empty() {
        true => format!("add a [[verify]] entry to {id} first"),
        false => format!(
            "its plan has: {}; type {}, or add a [[verify]] entry to {id}",
            entries.join("; "),
            typed.join(" or ")
        ),
    }
}

/// What the record is about: what was named, else what the plan leaves no choice in.
fn about(asked: &Asked<'_>, goals: &[Goal<'_>], rows: &[Row], named: Option<&Item>) -> About {
    if let Some(run) = &asked.run {
        // The piece that was named, and of what it contains that which something is asked of.
        let shown = |piece: &&SerialId| run.wanted.iter().any(|one| one.piece.as_ref() == Some(*piece));
        let first = run.pieces.first();
        let serials = run.pieces.iter().filter(|piece| first == Some(*piece) || shown(piece)).cloned().collect();
        return About { serials, ..About::default() };
    }
    if !asked.serials.is_empty() {
        return About { serials: asked.serials.clone(), ..About::default() };
    }
    let facts = asked.project.analysis.facts();
    for goal in goals {
        let first = || current(&facts, goal.requirement).into_iter().next();
        let (Some(item), Some(entry)) = (named.or_else(first), goal.entry) else { continue };
        let id = &item.head.id.value;
        let pieces = choices(&facts, item, entry.stage, event_of(&facts, goal.requirement, Some(entry)));
        let open = |serial: &&SerialId| {
            rows.iter().any(|row| row.state.is_open() && row.subject == Subject::Serial((*serial).clone()))
        };
        let open: Vec<&SerialId> = pieces.iter().filter(open).collect();
        if entry.on == On::Design {
            let choice = if entry.method == Some(Method::Analysis) { Vec::new() } else { pieces };
            return About { item: Some(id.clone()), serials: Vec::new(), choice };
        }
        return match (pieces.as_slice(), open.as_slice()) {
            ([one], _) => About { serials: vec![one.clone()], ..About::default() },
            (_, [one]) if entry.on == On::Each => About { serials: vec![(*one).clone()], ..About::default() },
            // What was asked for is written down; that a piece is needed is said when it is signed.
            ([], _) if named.is_some() => About { item: Some(id.clone()), ..About::default() },
            _ => About { choice: pieces, ..About::default() },
        };
    }
    About { item: named.map(|item| item.head.id.value.clone()), ..About::default() }
}

/// The items that a requirement applies to as things are.
fn current<'m>(facts: &Facts<'m>, requirement: &'m Requirement) -> Vec<&'m Item> {
    let items = targets(facts, requirement).into_iter().filter_map(|target| match target {
        Target::Item(at) => Some(&facts.model.items[at]),
        _ => None,
    });
    items.collect()
}

/// The item that was named, or what fills the slot that was: every requirement must apply to it, by its name, by a tag, or as an option.
///
/// # Errors
/// If one of them does not, or the pieces that were named are of other items.
fn item_named<'p>(asked: &Asked<'p>, goals: &[Goal<'p>]) -> Result<Option<&'p Item>, CliError> {
    let Some(name) = asked.arguments.item.as_deref() else { return Ok(None) };
    let facts = asked.project.analysis.facts();
    let item = match facts.model.find(name) {
        Some(Ref::Slot(at)) => facts.graph.options[at].first().map(|option| &facts.model.items[*option]),
        _ => facts.model.item(name),
    };
    for goal in goals {
        let requirement = goal.requirement;
        let current = current(&facts, requirement);
        let mut fitting = current.into_iter().chain(candidates(&facts, requirement));
        if item.is_none_or(|item| !fitting.any(|own| own.head.id.value == item.head.id.value)) {
            return Err(not_about(&facts, requirement, name));
        }
    }
    let Some(item) = item else {
        let options =
            facts.model.items.iter().filter(|item| item.fills.as_ref().is_some_and(|own| own.value.as_str() == name));
        let help = options.map(|item| format!("--item {}", item.head.id.value)).collect::<Vec<_>>();
        let help = if help.is_empty() {
            format!("an option for it is an item with fills = \"{name}\"")
        } else {
            help.join(" or ")
        };
        return Err(CliError::refused(format!("{name} is a slot for which no option is chosen"), help));
    };
    if !asked.serials.is_empty() && asked.serials.iter().all(|serial| serial.item != item.head.id.value) {
        let pieces = asked.serials.iter().map(SerialId::to_string).collect::<Vec<_>>().join(", ");
        let what = format!("{pieces} is no piece of {}", item.head.id.value);
        return Err(CliError::refused(what, "leave --item out: the piece says which item it is of"));
    }
    Ok(Some(item))
}

/// That a requirement does not apply to what was named, and to what it does.
fn not_about(facts: &Facts<'_>, requirement: &Requirement, name: &str) -> CliError {
    let id = &requirement.head.id.value;
    let current = current(facts, requirement);
    let fitting = current.into_iter().chain(candidates(facts, requirement));
    let typed: Vec<String> = fitting.map(|item| format!("--item {}", item.head.id.value)).collect();
    let help = match &requirement.applies_to {
        AppliesTo::Project => format!("{id} applies to the project as a whole: leave --item out"),
        _ if typed.is_empty() => format!("nothing is there yet that {id} applies to: slipmark show {id}"),
        _ => format!("{id} applies to what is named so: {}", typed.join(" or ")),
    };
    CliError::refused(format!("{id} does not apply to {name}"), help)
}

fn subject(asked: &Asked<'_>, about: &About, sheet: &mut Sheet) {
    let model = &asked.project.analysis.model;
    if let Some(item) = &about.item {
        sheet.set("item", &Toml::text(&**item));
        if let Some(revision) = model.item(item).and_then(|item| item.revision.as_ref()) {
            sheet.noted("revision", &Toml::text(&revision.value), "as it was; this is the one of now");
        }
    }
    if about.serials.is_empty() {
        if !about.choice.is_empty() {
            let all: Vec<String> = about.choice.iter().map(SerialId::to_string).collect();
            let instead = if about.item.is_some() { "instead of item: " } else { "" };
            sheet.open("serial = \"\"", &format!("{instead}one of {}", all.join(", ")));
        }
        if !about.choice.is_empty() && about.item.is_none() {
            sheet.open("revision = \"\"", "as it was tested");
        }
        return;
    }
    let names: Vec<String> = about.serials.iter().map(SerialId::to_string).collect();
    sheet.set("serial", &one_or_list(&names));
    let mut revisions: BTreeMap<&Id, &str> = BTreeMap::new();
    for serial in &about.serials {
        let Some((item, piece)) = model.serial(serial) else { continue };
        if let Some(revision) = piece.revision.as_ref().or(item.revision.as_ref()) {
            revisions.insert(&serial.item, &revision.value);
        }
    }
    let note = "as tested; this is the one of now";
    let items: std::collections::BTreeSet<&Id> = about.serials.iter().map(|serial| &serial.item).collect();
    if let (1, Some(revision)) = (items.len(), revisions.values().next()) {
        sheet.noted("revision", &Toml::text(*revision), note);
    } else if !revisions.is_empty() {
        let entries =
            revisions.iter().map(|(item, revision)| format!("{} = {}", key(item), Toml::text(*revision).written()));
        let table = format!("{{ {} }}", entries.collect::<Vec<_>>().join(", "));
        sheet.noted("revision", &Toml::Bare(table), note);
    }
}

fn procedure<'p>(asked: &Asked<'p>, goals: &[Goal<'p>]) -> Option<&'p Procedure> {
    let planned = goals.iter().find_map(|goal| goal.entry?.procedure.as_ref().map(|id| id.value.to_string()));
    if let Some(run) = &asked.run {
        return Some(run.procedure);
    }
    asked.project.analysis.model.procedure(&asked.arguments.procedure.clone().or(planned)?)
}

fn title(asked: &Asked<'_>, goals: &[Goal<'_>], about: &About) -> String {
    if let Some(title) = &asked.arguments.title {
        return title.clone();
    }
    let first = asked.run.as_ref().map(|run| run.procedure.head.title.clone());
    let what = first.unwrap_or_else(|| {
        goals.first().map_or_else(|| format!("New {}", asked.kind), |goal| goal.requirement.head.title.clone())
    });
    let on: Vec<String> =
        about.serials.iter().map(SerialId::to_string).chain(about.item.iter().map(Id::to_string)).collect();
    if on.is_empty() { what } else { format!("{what}, {}", on.join(" and ")) }
}

/// Who did it and who watched, with those who are asked for.
fn people(asked: &Asked<'_>, goals: &[Goal<'_>], sheet: &mut Sheet) {
    let facts = asked.project.analysis.facts();
    let planned = goals.iter().filter_map(|goal| Some((goal.requirement, goal.entry?)));
    let wanted: Vec<String> = planned.flat_map(|(it, entry)| people::asked(&facts, it, entry)).collect();
    let note = |verb: &str, usual: &str| {
        let mut own: Vec<&str> = Vec::new();
        for text in wanted.iter().filter_map(|text| text.strip_prefix(verb)) {
            if !own.contains(&text) {
                own.push(text);
            }
        }
        if own.is_empty() { usual.to_string() } else { own.join("; ") }
    };
    sheet.open("performed_by = \"\"", &note("performed by ", "a role or a name"));
    sheet.open("witnessed_by = [\"\"]", &note("witnessed by ", ""));
}

fn instruments(method: Method, procedure: Option<&Procedure>, sheet: &mut Sheet) {
    let required: Vec<String> =
        procedure.iter().flat_map(|own| &own.instruments).map(|own| own.value.to_string()).collect();
    if !required.is_empty() {
        sheet.noted("instruments", &Toml::Texts(required), "those that the procedure requires; add what else was used");
    } else if method != Method::Analysis {
        sheet.open("instruments = [\"\"]", "or no_instrument = \"why none was needed\"");
    }
}

/// The conditions to note, with what is asked of them.
fn conditions(goals: &[Goal<'_>], procedure: Option<&Procedure>, sheet: &mut Sheet) {
    let mut wanted: BTreeMap<&str, BTreeMap<String, Vec<&str>>> = BTreeMap::new();
    for goal in goals {
        let asked = |name: &str| goal.entry.is_none_or(|entry| entry.asks_for(name));
        for criterion in goal.requirement.criteria.iter().filter(|criterion| asked(&criterion.name)) {
            for condition in &criterion.at {
                let limits = show_limits(condition.min.as_ref(), condition.max.as_ref());
                let ids = wanted.entry(&condition.name).or_default().entry(limits).or_default();
                if !ids.contains(&goal.requirement.head.id.as_str()) {
                    ids.push(&goal.requirement.head.id.value);
                }
            }
        }
    }
    for (name, limits) in wanted {
        let limits = limits.into_iter().map(|(limits, ids)| format!("{limits} ({})", ids.join(", ")));
        let asked = format!("asked: {}", limits.collect::<Vec<_>>().join(", "));
        let note =
            format!("{asked}{}", field_note(procedure, name, &|feed| *feed == Feed::Condition(name.to_string())));
        sheet.open(&format!("{} = \"\"", dotted("conditions", name)), &note);
    }
}

/// The field of the procedure that a line is for, where it has another name, and its unit.
fn field_note(procedure: Option<&Procedure>, name: &str, feeds: &dyn Fn(&Feed) -> bool) -> String {
    let fields = procedure.into_iter().flat_map(Procedure::all_fields);
    let Some(field) = fields.into_iter().find(|field| field.feeds.iter().any(|feed| feeds(&feed.value))) else {
        return String::new();
    };
    let unit = field.unit.as_ref().map_or(String::new(), |unit| format!(" [{}]", unit.value));
    match field.name.value == name {
        true if unit.is_empty() => String::new(),
        true => format!(";{unit}"),
        false => format!("; field {}{unit}", field.name.value),
    }
}

/// Fields that nothing of this record is asked by: they are noted all the same.
fn readings(asked: &Asked<'_>, sheet: &mut Sheet) {
    let Some(run) = &asked.run else { return };
    let model = &asked.project.analysis.model;
    for field in run.procedure.all_fields().filter(|field| run.asks(model, field).is_empty()) {
        let unit = field.unit.as_ref().map_or(String::new(), |unit| format!("[{}] ", unit.value));
        let note = format!("{unit}{}", field.text.as_deref().unwrap_or("not asked of this run; noted only"));
        sheet.open(&format!("{} = \"\"", dotted("readings", &field.name.value)), &note);
    }
}

/// What it will show of one requirement.
fn shows(goal: &Goal<'_>, procedure: Option<&Procedure>, sheet: &mut Sheet) {
    let requirement = goal.requirement;
    sheet.gap();
    sheet.line(&format!("[{}]", dotted("verifies", &requirement.head.id.value)), &requirement.head.title);
    sheet.set("mark", &Toml::text(&requirement.mark));
    for criterion in &requirement.criteria {
        if goal.entry.is_some_and(|entry| !entry.asks_for(&criterion.name)) {
            continue;
        }
        let how = match &criterion.expects {
            Expectation::Limits { .. } => format!("{}; value ± expanded uncertainty and unit", criterion.show()),
            Expectation::Words(words) if words.len() == 1 && words[0] == "pass" => "pass or fail".to_string(),
            Expectation::Words(_) => format!("expected: {}", criterion.show()),
            Expectation::Count(_) => format!("{}; a whole number", criterion.show()),
            Expectation::Trials { .. } => format!("{}; successes of trials, such as 59 of 59", criterion.show()),
            Expectation::Sample { .. } => {
                format!("{}; {{ sample = [\"…\"] }} or {{ mean, sd, n }}", criterion.show())
            }
        };
        let (id, name) = (&requirement.head.id.value, &criterion.name);
        let feeds = |feed: &Feed| match feed {
            Feed::Criterion(own) => *own == format!("{id}.{name}") || (*own == **id && requirement.criteria.len() == 1),
            Feed::Condition(_) => false,
        };
        let note = format!("{how}{}", field_note(procedure, name, &feeds));
        sheet.open(&format!("{} = \"\"", dotted("results", name)), &note);
    }
}

/// The body of an analysis. The block is indented, so that nothing is worked out yet.
const ANALYSIS: &str = "\
How it was worked out. Lines between two such fences, not indented, are worked out each time that the project is read, with
units and uncertainty; a result takes one of them as { calc = \"margin\" }. slipmark calc shows the working.

    ```calc
    margin = available / required - 1
    ```
";

/// Attachments, and what an analysis starts from.
fn rest(asked: &Asked<'_>, method: Method, sheet: &mut Sheet) {
    sheet.gap();
    if method == Method::Analysis {
        sheet.open("[inputs.NAME]", "one for each value that the analysis starts from");
        sheet.open("value = \"\"", "with source; or readings = [\"…\"]; or from = \"RECORD.CRITERION\"");
        sheet.open("source = \"\"", "");
        return;
    }
    sheet.open("[[data]]", "one for each file that belongs to it");
    let file = format!("{}.csv", asked.id.to_lowercase());
    sheet.open(&format!("file = {}", Toml::text(&file).written()), "beside this file; sign writes its sha256");
    let taken = format!("a result may be {{ data = \"{file}\", column = \"…\", reduce = \"max\" }}");
    sheet.line(&format!("# {taken}"), "");
}
