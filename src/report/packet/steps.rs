//! What a procedure says to do: prerequisites, cautions, steps, and what is written down on the way.

use serde::Serialize;

use super::html::{Html, escape};
use super::links::{Link, Linker};
use crate::model::kinds::{Feed, Field, Procedure};

/// The whole of it.
#[derive(Debug, Serialize)]
pub(in crate::report) struct StepsPart {
    prerequisites: Vec<Html>,
    cautions: Vec<String>,
    accuracy: Vec<(Link, String)>,
    fields: Vec<FieldLine>,
    steps: Vec<StepPart>,
}

#[derive(Debug, Serialize)]
struct StepPart {
    name: Option<String>,
    text: Html,
    hold: bool,
    cautions: Vec<String>,
    fields: Vec<FieldLine>,
}

#[derive(Debug, Serialize)]
struct FieldLine {
    name: String,
    text: Option<String>,
    unit: Option<String>,
    instrument: Option<Link>,
    feeds: Vec<Html>,
    expected: Option<String>,
}

impl StepsPart {
    /// From a procedure.
    pub(in crate::report) fn of(it: &Procedure, linker: &Linker) -> StepsPart {
        let fields = |fields: &[Field]| fields.iter().map(|own| field(own, linker)).collect();
        StepsPart {
            prerequisites: it.prerequisites.iter().map(|own| linker.text(&own.value)).collect(),
            cautions: it.cautions.clone(),
            accuracy: it.accuracy.iter().map(|(id, own)| (linker.link(&id.value), own.text.value.clone())).collect(),
            fields: fields(&it.fields),
            steps: it
                .steps
                .iter()
                .map(|own| StepPart {
                    name: own.name.clone(),
                    text: linker.text(&own.text),
                    hold: own.hold,
                    cautions: own.cautions.clone(),
                    fields: fields(&own.fields),
                })
                .collect(),
        }
    }
}

fn field(it: &Field, linker: &Linker) -> FieldLine {
    let feed = |feed: &Feed| match feed {
        Feed::Criterion(name) => match name.split_once('.') {
            // The name of a criterion is none of a thing, even where it reads like one.
            Some((id, criterion)) if linker.link(id).href.is_some() => {
                let mut html = linker.text(id).as_str().to_string();
                html.push_str(": ");
                escape(&mut html, criterion);
                Html::trusted(html)
            }
            _ => linker.text(name),
        },
        Feed::Condition(name) => {
            let mut html = "condition ".to_string();
            escape(&mut html, name);
            Html::trusted(html)
        }
    };
    FieldLine {
        name: it.name.value.clone(),
        text: it.text.clone(),
        unit: it.unit.as_ref().map(|unit| unit.value.clone()),
        instrument: it.instrument.as_ref().map(|id| linker.link(&id.value)),
        feeds: it.feeds.iter().map(|own| feed(&own.value)).collect(),
        expected: it.expected.as_ref().map(|own| own.show()),
    }
}
