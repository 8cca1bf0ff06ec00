//! New files of the kinds that are no records.

use super::Asked;
use super::sheet::{Sheet, dotted, one_or_list};
use crate::cli::CliError;
use crate::edit::{Toml, key};
use crate::model::Ref;
use crate::model::kinds::{Expectation, Outcome, Requirement};
use crate::state::standing::failures;

/// The text of a new file.
///
/// # Errors
/// If something that the kind cannot do without was not named.
pub(super) fn text(asked: &Asked<'_>) -> Result<String, CliError> {
    match asked.kind {
        "requirement" => Ok(requirement(asked)),
        "item" => Ok(item(asked)),
        "slot" => Ok(slot(asked)),
        "procedure" => Ok(procedure(asked)),
        "decision" => Ok(decision(asked)),
        "nonconformance" => nonconformance(asked),
        "event" => held(asked),
        _ => waiver(asked),
    }
}

fn head(asked: &Asked<'_>, usual: &str) -> Sheet {
    let mut sheet = Sheet::default();
    sheet.set("kind", &Toml::text(asked.kind));
    sheet.set("id", &Toml::text(&*asked.id));
    let title = asked.arguments.title.clone().unwrap_or_else(|| usual.to_string());
    sheet.set("title", &Toml::text(title));
    sheet
}

fn requirement(asked: &Asked<'_>) -> String {
    let model = &asked.project.analysis.model;
    let mut sheet = head(asked, "New requirement");
    match asked.arguments.requirements.as_slice() {
        [] => sheet.open("source = \"\"", "where it comes from; or parents = [\"…\"]"),
        parents => sheet.set("parents", &Toml::Texts(parents.to_vec())),
    }
    match &asked.arguments.item {
        Some(item) => sheet.set("applies_to", &Toml::text(item)),
        None => sheet.open("applies_to = \"\"", "an item or a slot; without it: the project as a whole"),
    }
    sheet.noted("status", &Toml::text("draft"), "remove this line when it is agreed");
    sheet.open("safety = true", "if somebody can be hurt where it is not met: rows come first and need a witness");
    sheet.gap();
    sheet.open("[criteria.NAME]", "without any: pass or fail");
    sheet.open("min = \"\"", "or max, or both; or equals with tolerance; or expect; or count = 3: at least so many");
    sheet.open("at.NAME = { max = \"\" }", "a condition under which it is asked; or min, or both");
    sheet.gap();
    sheet.open("[[verify]]", "one for each way in which it will be shown");
    sheet.open("method = \"test\"", "or analysis, inspection, demonstration");
    sheet.open("stage = \"qualification\"", "once, of the design; or acceptance, of every piece");
    sheet.open("procedure = \"\"", "a test or a demonstration needs one");
    if let Some(event) = model.config.events.first() {
        sheet.open(
            &format!("before = {}", Toml::text(&event.name.value).written()),
            "the event that it must be closed before",
        );
    }
    let subject =
        asked.arguments.item.as_ref().and_then(|item| model.find(item)).map(|place| model.head(place).title.clone());
    let subject = subject.map_or_else(|| "system".to_string(), |title| small(&title));
    sheet.finish(&format!("The {subject} shall TBD.\n\n## Rationale\n\nTBD.\n"))
}

/// A title inside a sentence: its first letter small, unless the word is an abbreviation.
fn small(title: &str) -> String {
    let mut letters = title.chars();
    match (letters.next(), letters.clone().next()) {
        (Some(first), Some(second)) if second.is_lowercase() => first.to_lowercase().chain(letters).collect(),
        _ => title.to_string(),
    }
}

fn item(asked: &Asked<'_>) -> String {
    let mut sheet = head(asked, "New item");
    assembly(asked, &mut sheet);
    sheet.open(
        "fills = \"\"",
        "the slot that it is an option for, if it is one; then status = \"candidate\", \"current\" or \"dropped\"",
    );
    sheet.open("revision = \"A\"", "what is built now; records say which one they saw");
    sheet.open("hazards = [\"\"]", "oxygen, pressure, cryogenic, stored-energy, …");
    sheet.gap();
    sheet.open("[life.NAME]", "what its pieces have a limited life in: cycles, hours, age");
    sheet.open(
        "limit = 0",
        "a number, or a quantity in quotes; counted = \"age\" for a length of time since it was built",
    );
    sheet.gap();
    sheet.open("[[serials]]", "one for each piece");
    sheet.open("number = \"SN01\"", "");
    sheet.open("use = \"service\"", "or qualification, spare");
    sheet.finish("What it is.\n")
}

fn slot(asked: &Asked<'_>) -> String {
    let mut sheet = head(asked, "New slot");
    assembly(asked, &mut sheet);
    let fills = Toml::text(&*asked.id).written();
    sheet.finish(&format!("What goes here. Options are items with `fills = {fills}`.\n"))
}

fn assembly(asked: &Asked<'_>, sheet: &mut Sheet) {
    match &asked.arguments.item {
        Some(item) => sheet.set("assembly", &Toml::text(item)),
        None => sheet.open("assembly = \"\"", "the next higher item"),
    }
}

fn procedure(asked: &Asked<'_>) -> String {
    let mut sheet = head(asked, "New procedure");
    sheet.set("revision", &Toml::text("1"));
    sheet.noted("status", &Toml::text("draft"), "released when it may be used");
    if let Some(item) = &asked.arguments.item {
        sheet.set("item", &Toml::text(item));
    }
    sheet.open("instruments = [\"\"]", "those that every run must name");
    sheet.open("accuracy.ID = \"\"", "the most that one of them may be uncertain by");
    sheet.open("uses = [\"\"]", "limited lives of the pieces of which every run says how much it used");
    sheet.open("prerequisites = [\"\"]", "procedures, events, requirements; or what is to be checked, in words");
    sheet.open("cautions = [\"\"]", "what can hurt");
    sheet.gap();
    sheet.open("[[steps]]", "one for each, in order");
    sheet.open("text = \"\"", "what is done; name = \"…\" if it has one");
    sheet.open("hold = true", "nobody goes on before somebody has signed for it");
    sheet.open("cautions = [\"\"]", "what can hurt in this step");
    sheet.gap();
    sheet.open("[[steps.fields]]", "one for each thing to write down; [[fields]] for those of the whole run");
    sheet.open("name = \"\"", "as slipmark fill takes it; text = \"…\" says what it is");
    sheet.open("unit = \"\"", "none for a word or a count");
    sheet.open("instrument = \"\"", "that it is read from, one of those above; fill takes its uncertainty");
    sheet.open("feeds = \"\"", "REQUIREMENT.CRITERION or conditions.NAME");
    sheet.open("expected = { min = \"\", max = \"\" }", "outside it something is amiss");
    sheet.finish("What it measures.\n")
}

fn decision(asked: &Asked<'_>) -> String {
    let mut sheet = head(asked, "New decision");
    sheet.set("date", &Toml::Bare(asked.date.to_string()));
    sheet.noted("status", &Toml::text("proposed"), "or accepted");
    match asked.arguments.requirements.as_slice() {
        [] => sheet.open("revises = [\"\"]", "requirements that it changes; also adds, withdraws, keeps"),
        ids => sheet.noted("revises", &Toml::Texts(ids.to_vec()), "also adds, withdraws, keeps"),
    }
    sheet.open("selects = [\"\"]", "options; also drops");
    sheet.finish("What was chosen, and why.\n")
}

fn nonconformance(asked: &Asked<'_>) -> Result<String, CliError> {
    let model = &asked.project.analysis.model;
    let records = asked.arguments.found_by.iter().filter_map(|id| match model.find(id) {
        Some(Ref::Record(at)) => Some(&model.records[at]),
        _ => None,
    });
    let records: Vec<_> = records.collect();
    let mut against: Vec<String> = asked.serials.iter().map(ToString::to_string).collect();
    against.extend(asked.arguments.item.clone());
    if against.is_empty() {
        for record in &records {
            against.extend(record.serials.iter().map(|serial| serial.value.to_string()));
            against.extend(record.item.iter().map(|item| item.value.to_string()));
        }
        if against.is_empty() && !records.is_empty() {
            against.push("project".to_string());
        }
    }
    if against.is_empty() {
        return Err(CliError::refused(
            "it is not said what the nonconformance is against",
            "add --found-by RECORD, --serial ITEM/NUMBER or --item ID",
        ));
    }
    against.dedup();
    let requirements = concerned(asked);
    let first = requirements.first().and_then(|id| model.requirement(id));
    let usual = first
        .map_or_else(|| "New nonconformance".to_string(), |it| format!("{}: {}, not met", against[0], it.head.title));
    let mut sheet = head(asked, &usual);
    sheet.set("date", &Toml::Bare(asked.date.to_string()));
    sheet.set("against", &Toml::Texts(against));
    match requirements.is_empty() {
        true => sheet.open("requirements = [\"\"]", "those it concerns; without this line: all"),
        false => sheet.set("requirements", &Toml::Texts(requirements)),
    }
    if !asked.arguments.found_by.is_empty() {
        sheet.set("found_by", &Toml::Texts(asked.arguments.found_by.clone()));
    }
    sheet.set("status", &Toml::text("open"));
    sheet.open("disposition = \"\"", "use-as-is, rework, repair, scrap, return");
    sheet.open(&format!("closed = {}", asked.date), "then status = \"closed\"");
    sheet.open("closed_by = \"\"", "");
    Ok(sheet.finish("What was found, what is not known yet, and what is done first.\n"))
}

/// The requirements that were named, else those that the records fail, else all that they verify.
fn concerned(asked: &Asked<'_>) -> Vec<String> {
    if !asked.arguments.requirements.is_empty() {
        return asked.arguments.requirements.clone();
    }
    let (facts, model) = (asked.project.analysis.facts(), &asked.project.analysis.model);
    let (mut failed, mut all) = (Vec::new(), Vec::new());
    for id in &asked.arguments.found_by {
        let Some(Ref::Record(record)) = model.find(id) else { continue };
        for (which, verifies) in model.records[record].verifies.iter().enumerate() {
            let Some(Ref::Requirement(at)) = model.find(&verifies.requirement.value) else { continue };
            let id = verifies.requirement.value.to_string();
            if !failures(&facts, at, record, which).is_empty() && !failed.contains(&id) {
                failed.push(id.clone());
            }
            if !all.contains(&id) {
                all.push(id);
            }
        }
    }
    if failed.is_empty() { all } else { failed }
}

fn waiver(asked: &Asked<'_>) -> Result<String, CliError> {
    let model = &asked.project.analysis.model;
    let [id] = asked.arguments.requirements.as_slice() else {
        return Err(CliError::refused("a waiver departs from one requirement", "add --for ID, once"));
    };
    let Some(requirement) = model.requirement(id) else {
        return Err(CliError::unknown("no requirement has the id", id, std::iter::empty()));
    };
    let mut sheet = head(asked, &format!("Departure from {}", requirement.head.title));
    sheet.set("requirement", &Toml::text(id));
    sheet.set("mark", &Toml::text(&requirement.mark));
    match (asked.serials.as_slice(), &asked.arguments.item) {
        ([], Some(item)) => sheet.set("item", &Toml::text(item)),
        ([], None) => sheet.open("serials = [\"\"]", "the pieces it covers; or item; neither: the project"),
        (serials, _) => {
            let names: Vec<String> = serials.iter().map(ToString::to_string).collect();
            match one_or_list(&names) {
                Toml::Text(one) => sheet.set("serials", &Toml::Texts(vec![one])),
                many => sheet.set("serials", &many),
            }
        }
    }
    accepts(requirement, &mut sheet);
    sheet.open(
        "without_evidence = \"\"",
        "why it may cover what is slipped, unsigned or without any evidence, if it should",
    );
    if let Some(event) = model.config.events.last() {
        sheet.open(
            &format!("before = {}", Toml::text(&event.name.value).written()),
            "the last event that it holds for; and/or expires = DATE",
        );
    }
    sheet.set("status", &Toml::text("draft"));
    sheet.open("approved_by = \"\"", "then status = \"approved\"");
    sheet.open(&format!("approved = {}", asked.date), "");
    sheet.open("reason = \"\"", "");
    Ok(sheet.finish("Why the departure can be lived with, and for how long.\n"))
}

/// That an event was held: which one and how it ended are facts that nobody can guess.
fn held(asked: &Asked<'_>) -> Result<String, CliError> {
    let config = &asked.project.analysis.model.config;
    let [name] = asked.arguments.requirements.as_slice() else {
        return Err(CliError::refused("it is not said which event was held", "add --for EVENT, once"));
    };
    let words = [Outcome::Completed, Outcome::Aborted].map(Outcome::word);
    let outcome = match &asked.arguments.outcome {
        Some(word) if words.contains(&word.as_str()) => word,
        Some(word) => return Err(CliError::unknown("an event cannot have ended as", word, words.into_iter())),
        None => {
            let help = "add --outcome completed, or --outcome aborted if it was given up on the way";
            return Err(CliError::refused(format!("it is not said how {name} ended"), help));
        }
    };
    let planned = config.events.iter().filter(|event| event.name.value == *name).flat_map(|event| &event.serials);
    let pieces: Vec<String> = match asked.serials.as_slice() {
        [] => planned.map(|serial| serial.value.to_string()).collect(),
        named => named.iter().map(ToString::to_string).collect(),
    };
    let mut sheet = head(asked, &format!("{name}, {}", asked.date));
    sheet.set("event", &Toml::text(name));
    sheet.set("date", &Toml::Bare(asked.date.to_string()));
    sheet.set("outcome", &Toml::text(outcome));
    match pieces.is_empty() {
        true => sheet.open("serials = [\"\"]", "the pieces that were there"),
        false => sheet.noted("serials", &Toml::Texts(pieces), "the pieces that were there"),
    }
    match &asked.arguments.procedure {
        Some(procedure) => sheet.set("procedure", &Toml::text(procedure)),
        None => sheet.open("procedure = \"\"", "by which it was run"),
    }
    let uses = config.events.iter().filter(|event| event.name.value == *name).flat_map(|event| &event.uses);
    let uses: Vec<_> = uses.collect();
    if uses.is_empty() {
        sheet.open("uses.NAME = \"\"", "what it used of the limited life of the pieces");
    }
    for (budget, amount) in uses {
        let note = format!("what it used of the limited life of the pieces; planned: {}", amount.value.text);
        sheet.open(&format!("{} = \"\"", dotted("uses", &budget.value)), &note);
    }
    Ok(sheet.finish("What was done, what was seen, and why it was given up if it was.\n"))
}

/// The reliefs to fill in.
fn accepts(requirement: &Requirement, sheet: &mut Sheet) {
    for criterion in &requirement.criteria {
        let key = dotted("accepts", &criterion.name);
        let line = match &criterion.expects {
            Expectation::Limits { min: Some(_), max: None } | Expectation::Sample { min: Some(_), max: None, .. } => {
                format!("{key} = {{ min = \"\" }}")
            }
            Expectation::Limits { min: None, .. } | Expectation::Sample { min: None, .. } => {
                format!("{key} = {{ max = \"\" }}")
            }
            Expectation::Limits { .. } | Expectation::Sample { .. } => format!("{key} = {{ min = \"\", max = \"\" }}"),
            Expectation::Words(_) | Expectation::Count(_) | Expectation::Trials { .. } => format!("{key} = [\"\"]"),
        };
        let note = format!("{}: {}; a wider limit, or records to accept", self::key(&criterion.name), criterion.show());
        sheet.open(&line, &note);
    }
}
