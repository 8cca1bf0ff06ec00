//! The working of a record: what it starts from, step by step, what it comes to, and what its uncertainty comes from.

use std::sync::Arc;

use serde::Serialize;

use crate::analysis::Analysis;
use crate::calc::Step;
use crate::computed::{InputValue, Made, Origin, Values, results, solve};
use crate::diag::{Class, Finding, Place};
use crate::model::kinds::{Criterion, Expectation, Record, Requirement, ResultText, Verifies};
use crate::quantity::{self, Conformity, Measured, Quantity, parse_quantity};
use crate::report::pictures::data::Trace;
use crate::state::Facts;
use crate::state::judge::{Judgement, Verdict, judge, known_limits};
use crate::state::kept::is_same;
use crate::table::{Reduced, Table};
use crate::text::Span;

use super::{FindingView, Heading, ResultView, WorkingView, calc};

/// The working of a record.
#[derive(Clone, Debug, Serialize)]
pub struct WorkedView {
    /// Where it came from.
    #[serde(flatten)]
    pub heading: Heading,
    /// The record.
    pub id: Option<String>,
    /// Its title.
    pub title: String,
    /// What was supposed in place of what the files say, each as it was typed.
    pub supposed: Vec<String>,
    /// What it starts from.
    pub inputs: Vec<WorkedInput>,
    /// The lines of the calculation, in the order in which they were worked out.
    pub steps: Vec<WorkingView>,
    /// What data were reduced to.
    pub reductions: Vec<WorkedReduction>,
    /// What the lines come to that results take; of a calculation of which no result takes any, the last line.
    pub results: Vec<ResultView>,
    /// Each computed result against its criterion.
    pub verdicts: Vec<WorkedVerdict>,
    /// Where a criterion stops or begins to be met as one value changes, where that was asked.
    pub solved: Vec<SolvedView>,
    /// The faults of its file.
    pub faults: Vec<FindingView>,
}

/// A value that the calculation starts from.
#[derive(Clone, Debug, Serialize)]
pub struct WorkedInput {
    /// Its name.
    pub name: String,
    /// As it was written, or rounded for display.
    pub value: String,
    /// Where it comes from.
    pub source: String,
    /// What it was read with.
    pub instrument: Option<String>,
}

/// A reduction of data.
#[derive(Clone, Debug, Serialize)]
pub struct WorkedReduction {
    /// What was asked.
    pub asked: String,
    /// What it comes to, rounded for display.
    pub value: String,
    /// How many rows it rests on.
    pub rows: usize,
    /// Where it comes from: `max 4.2 N·m in line 31, at 3.1 s`.
    pub marks: Vec<String>,
    /// What a picture of it shows.
    #[serde(skip)]
    pub trace: Trace,
}

/// Where a criterion stops or begins to be met as one value changes.
#[derive(Clone, Debug, Serialize)]
pub struct SolvedView {
    /// The value that changes.
    pub input: String,
    /// What it is now.
    pub now: String,
    /// The requirement.
    pub requirement: String,
    /// The criterion.
    pub criterion: String,
    /// The least value for which it is met, if that is on the way.
    pub from: Option<String>,
    /// The greatest value for which it is met, if that is on the way.
    pub to: Option<String>,
    /// Whether it is met now.
    pub met_now: bool,
    /// All of it in a sentence.
    pub text: String,
}

/// A computed result against its criterion.
#[derive(Clone, Debug, Serialize)]
pub struct WorkedVerdict {
    /// The requirement.
    pub requirement: String,
    /// The criterion.
    pub criterion: String,
    /// What is expected.
    pub limit: String,
    /// What the result is.
    pub result: Option<String>,
    /// met, not met, inconclusive, cannot be judged.
    pub verdict: &'static str,
    /// Why, where it is not plain.
    pub why: Option<String>,
    /// The margin: in the unit of the limit, in percent of it, in multiples of U.
    pub margin: Option<String>,
    /// The consumer's risk: the probability that the value is outside its limits, as far as this result tells.
    pub risk: Option<f64>,
    /// The same in words, where the margin does not say it already.
    pub risk_text: Option<String>,
    /// What it came to when the record was signed.
    pub when_signed: Option<String>,
    /// Whether that is something else than now.
    pub moved: bool,
}

/// What is shown of a working beside the working itself.
#[derive(Clone, Copy, Debug)]
pub struct Beside<'a> {
    /// A value for which the crossings are looked for.
    pub solve: Option<&'a str>,
    /// Whether trials are shown of every result, or only of those that they decide.
    pub all_trials: bool,
}

/// The working of the record at a place of the model, by facts that may be supposed.
pub fn worked(analysis: &Analysis, facts: &Facts<'_>, at: usize, beside: Beside<'_>) -> WorkedView {
    let record = &facts.model.records[at];
    let none = Values::default();
    let values = facts.computed.of_record(at).unwrap_or(&none);
    WorkedView {
        heading: Heading::of(analysis),
        id: Some(record.head.id.value.to_string()),
        title: record.head.title.clone(),
        supposed: Vec::new(),
        inputs: values.inputs.iter().map(input).collect(),
        steps: values.steps.iter().map(calc::step).collect(),
        reductions: reductions(record, values),
        results: taken(record, values)
            .into_iter()
            .map(|step| ResultView { trials: calc::trials(step, beside.all_trials), ..calc::result(step) })
            .collect(),
        verdicts: verdicts(facts, record),
        solved: beside.solve.map_or(Vec::new(), |name| solved(facts, record, values, name)),
        faults: faults(analysis, record),
    }
}

fn faults(analysis: &Analysis, record: &Record) -> Vec<FindingView> {
    let here = |finding: &&Finding| matches!(finding.place, Place::At(span) if span.file == record.head.file);
    let faults = analysis.findings.of(Class::Fault).filter(here);
    faults.map(|finding| FindingView::of(finding, &analysis.sources)).collect()
}

fn input(own: &InputValue) -> WorkedInput {
    let source = match &own.origin {
        Origin::Typed(None) => "no source is stated".to_string(),
        Origin::Typed(Some(source)) => source.clone(),
        Origin::Readings(count) => format!("mean of {count} readings"),
        Origin::Record(from) => from.clone(),
        Origin::Parameter(None) => "parameters.toml".to_string(),
        Origin::Parameter(Some(source)) => format!("parameters.toml: {source}"),
    };
    WorkedInput { name: own.name.clone(), value: own.quantity.show(), source, instrument: own.instrument.clone() }
}

fn reductions(record: &Record, values: &Values) -> Vec<WorkedReduction> {
    let texts: Vec<_> = results(record).collect();
    let one = |(span, asked, table, reduced): &(_, _, Arc<Table>, Reduced)| {
        let text = texts.iter().find(|(_, result)| result.span == *span)?;
        let made = values.results.iter().find(|(place, _)| place == span);
        let quantity = made.and_then(|(_, made)| made.as_ref().ok()).map_or(&reduced.quantity, Made::quantity);
        let marks = reduced.marks.iter().map(|mark| {
            let time = mark.time.as_ref().map(|time| format!(", at {}", time.show())).unwrap_or_default();
            format!("{} {} in line {}{time}", mark.what, mark.value.show(), mark.line)
        });
        Some(WorkedReduction {
            asked: text.1.value.show(),
            value: quantity.show(),
            rows: reduced.rows.iter().map(std::ops::Range::len).sum(),
            marks: marks.collect(),
            trace: Trace::of(table, asked, reduced),
        })
    };
    values.reduced.iter().filter_map(one).collect()
}

/// The lines that results take, each once; if none does, the last.
fn taken<'v>(record: &Record, values: &'v Values) -> Vec<&'v Step> {
    let names: Vec<&str> = results(record)
        .filter_map(|(_, result)| match &result.value {
            ResultText::Calculation(name) => Some(name.as_str()),
            _ => None,
        })
        .collect();
    let mut found: Vec<&Step> = values.steps.iter().filter(|step| names.contains(&step.name.as_str())).collect();
    if found.is_empty() {
        found.extend(values.steps.last());
    }
    found
}

/// Every criterion that the record has a computed result for, with the result's place in the file.
fn computed_criteria<'m>(
    facts: &Facts<'m>,
    record: &'m Record,
) -> Vec<(&'m Requirement, &'m Criterion, &'m Verifies, Span)> {
    let mut all = Vec::new();
    for verifies in &record.verifies {
        let Some(requirement) = facts.model.requirement(&verifies.requirement.value) else { continue };
        let only = requirement.only_criterion();
        for criterion in &requirement.criteria {
            let result = verifies.result_for(&criterion.name, only);
            if let Some(result) = result.filter(|result| result.value.is_computed()) {
                all.push((requirement, criterion, verifies, result.span));
            }
        }
    }
    all
}

fn verdicts(facts: &Facts<'_>, record: &Record) -> Vec<WorkedVerdict> {
    let one = |(requirement, criterion, verifies, span): (&Requirement, &Criterion, &Verifies, Span)| {
        let then = verifies.computed_then(&criterion.name);
        let now = facts.computed.at(span).and_then(|now| now.as_ref().ok());
        let same = |then: &str, now: &Quantity| parse_quantity(then).is_ok_and(|was| is_same(&was, now));
        let judgement = judge(facts, requirement, criterion, verifies);
        let (verdict, why) = word(&judgement);
        WorkedVerdict {
            requirement: requirement.head.id.value.to_string(),
            criterion: criterion.name.clone(),
            limit: criterion.show(),
            verdict,
            why,
            margin: judgement.margin.as_ref().map(|margin| margin.show()),
            risk: judgement.margin.as_ref().and_then(|margin| margin.risk_number()),
            risk_text: judgement.margin.as_ref().filter(|margin| !margin.by_risk).and_then(|margin| margin.show_risk()),
            result: judgement.result,
            when_signed: then.map(|then| then.value.clone()),
            moved: then.is_some_and(|then| !now.is_some_and(|now| same(&then.value, now))),
        }
    };
    computed_criteria(facts, record).into_iter().map(one).collect()
}

/// Where each criterion stops or begins to be met as the value with this name changes.
fn solved(facts: &Facts<'_>, record: &Record, values: &Values, name: &str) -> Vec<SolvedView> {
    let (rule, ambient) = (&facts.model.config.rule, facts.model.config.ambient.as_ref());
    let mut all = Vec::new();
    for (requirement, criterion, _, span) in computed_criteria(facts, record) {
        let Expectation::Limits { min, max } = &criterion.expects else { continue };
        let Some(limits) = known_limits(min.as_ref(), max.as_ref()) else { continue };
        let made = values.results.iter().find(|(place, _)| *place == span).and_then(|(_, made)| made.as_ref().ok());
        let Some(Made::Worked(worked, _)) = made else { continue };
        let sources = worked.sources();
        let Some(source) = sources.iter().find(|source| source.name == name) else { continue };
        let met = |value: &Quantity| {
            let judged = quantity::judge(rule, &Measured::Value(value.clone()), &limits, ambient);
            judged.ok().map(|(conformity, _)| conformity == Conformity::Met)
        };
        let crossings = solve::crossings(worked, &source.key, met);
        let end = |met_below: bool| {
            let found = crossings.iter().find(|crossing| crossing.met_below == met_below);
            found.map(|crossing| crossing.at.show())
        };
        let (from, to) = (end(false), end(true));
        let met_now = met(&worked.quantity) == Some(true);
        let what = format!("{} of {}", criterion.name, requirement.head.id.value);
        let text = match (&from, &to) {
            (Some(from), Some(to)) => format!("{what} is met while {name} is from {from} to {to}"),
            (Some(from), None) => format!("{what} is met from {name} = {from} on"),
            (None, Some(to)) => format!("{what} is met until {name} reaches {to}"),
            (None, None) if met_now => format!("{what} is met whatever {name} is, as far as it was followed"),
            (None, None) => format!("{what} is not met by any {name}, as far as it was followed"),
        };
        all.push(SolvedView {
            input: name.to_string(),
            now: source.quantity.show(),
            requirement: requirement.head.id.value.to_string(),
            criterion: criterion.name.clone(),
            text: format!("{text}; it is {} now", source.quantity.show()),
            from,
            to,
            met_now,
        });
    }
    all
}

fn word(judgement: &Judgement) -> (&'static str, Option<String>) {
    match &judgement.verdict {
        Verdict::Met => ("met", None),
        Verdict::NotMet => ("not met", None),
        Verdict::Inconclusive(code) => {
            ("inconclusive", crate::state::reason::entry(code).map(|reason| reason.meaning.to_string()))
        }
        Verdict::CannotTell(trouble) => ("cannot be judged", Some(trouble.message.clone())),
        Verdict::Missing => ("cannot be judged", Some("there is no result".into())),
        Verdict::Unsettled => ("cannot be judged", Some("the limit is not settled".into())),
        Verdict::Moved { then, .. } => ("cannot be judged", Some(format!("it came to {then} when it was signed"))),
        Verdict::NotKept => {
            ("cannot be judged", Some("what it came to was not written down when it was signed".into()))
        }
    }
}
