//! Which evidence carries which mark of a requirement.

use foldhash::{HashMap, HashMapExt};

use crate::analysis::Analysis;
use crate::kept::{Taker, Writer};
use crate::model::kinds::{Record, RecordStatus, Verifies};
use crate::parse::Moment;
use crate::text::Spanned;

use super::history::RevisionEvidence;

/// How a record came to carry a mark.
const HOW: [&str; 3] = ["signed", "withdrawn", "reaffirmed"];

/// The records that somebody stood by, by the requirement and the mark that they carry, in the order of the project.
#[derive(Debug, Default, PartialEq)]
pub struct Carried(HashMap<String, Vec<(String, RevisionEvidence)>>);

impl Carried {
    /// As the project's files have it.
    pub fn of(analysis: &Analysis) -> Carried {
        let mut carried = Carried::default();
        let stood_by = analysis.model.records.iter().filter(|record| record.status.value != RecordStatus::Draft);
        for (record, verifies) in stood_by.flat_map(|record| record.verifies.iter().map(move |own| (record, own))) {
            let rows = rows(record, verifies);
            carried.0.entry(verifies.requirement.value.to_string()).or_default().extend(rows);
        }
        carried
    }

    /// What carries a mark of a requirement.
    pub(super) fn with(&self, requirement: &str, mark: &str) -> Vec<RevisionEvidence> {
        let all = self.0.get(requirement).into_iter().flatten();
        all.filter(|(own, _)| own == mark).map(|(_, evidence)| evidence.clone()).collect()
    }

    /// Writes it down.
    pub fn write(&self, out: &mut Writer) {
        let mut all: Vec<_> = self.0.iter().collect();
        all.sort_unstable_by_key(|(id, _)| *id);
        out.number(all.len());
        for (id, rows) in all {
            out.text(id);
            out.number(rows.len());
            for (mark, RevisionEvidence { record, how, date, by }) in rows {
                out.text(mark);
                out.text(record);
                out.number(HOW.iter().position(|own| own == how).unwrap_or_default());
                for text in [date, by] {
                    out.number(usize::from(text.is_some()));
                    out.text(text.as_deref().unwrap_or_default());
                }
            }
        }
    }

    /// From what was written down; none if that is anything else.
    pub fn read(from: &mut Taker<'_>) -> Option<Carried> {
        let count = from.count()?;
        let mut all = HashMap::with_capacity(count);
        for _ in 0..count {
            let id = from.text()?.to_string();
            let rows: Option<Vec<_>> = (0..from.count()?).map(|_| take_row(from)).collect();
            all.insert(id, rows?);
        }
        Some(Carried(all))
    }
}

/// What one record says of one requirement.
fn rows(record: &Record, verifies: &Verifies) -> Vec<(String, RevisionEvidence)> {
    let mut found = Vec::new();
    let mut say = |mark: &str, how, date: Option<&Spanned<Moment>>, by: Option<&String>| {
        let date = date.map(|date| date.text.clone());
        let evidence = RevisionEvidence { record: record.head.id.value.to_string(), how, date, by: by.cloned() };
        found.push((mark.to_string(), evidence));
    };
    if let Some(mark) = &verifies.mark {
        let by = record.signed_by.as_ref().or(record.performed_by.as_ref());
        let how = if record.status.value == RecordStatus::Signed { HOW[0] } else { HOW[1] };
        say(&mark.value, how, record.date.as_ref(), by.map(|by| &by.value));
    }
    for again in &verifies.reaffirmed {
        if let Some(mark) = &again.mark {
            say(&mark.value, HOW[2], again.date.as_ref(), again.by.as_ref());
        }
    }
    found
}

fn take_row(from: &mut Taker<'_>) -> Option<(String, RevisionEvidence)> {
    let (mark, record) = (from.text()?.to_string(), from.text()?.to_string());
    let how = *HOW.get(from.number()?)?;
    let mut text = || {
        let there = from.number()? == 1;
        let text = from.text()?;
        Some(there.then(|| text.to_string()))
    };
    let (date, by) = (text()?, text()?);
    Some((mark, RevisionEvidence { record, how, date, by }))
}
