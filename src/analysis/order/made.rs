//! Records and held events that are only supposed, and how the rows stand with them.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use jiff::ToSpan;

use crate::analysis::suppose::held;
use crate::config::{Event, Role, is_same_person};
use crate::model::kinds::{
    Criterion, Expectation, HeldEvent, Limit, Record, RecordStatus, Requirement, ResultText, Verifies,
};
use crate::model::{Id, Model, SerialId};
use crate::parse::{Moment, Scalar};
use crate::quantity::Tally;
use crate::state::judge::{Verdict, condition_holds, judge_result};
use crate::state::{EntryRef, Facts, Row, Subject, people};
use crate::text::{Span, Spanned};

use super::{Step, Work};

impl Work<'_> {
    /// The rows after every step has been carried out and met everything, by the position of the row of today.
    pub(super) fn supposing(&self, steps: &[Step], names: &[Id]) -> BTreeMap<usize, Option<Row>> {
        self.supposing_for(steps, names, &BTreeMap::new())
    }

    /// The same, where some steps, by position, are for one requirement only, by position.
    pub(super) fn supposing_for(
        &self,
        steps: &[Step],
        names: &[Id],
        only: &BTreeMap<usize, usize>,
    ) -> BTreeMap<usize, Option<Row>> {
        let facts = self.analysis.facts();
        let named = steps.iter().zip(names).enumerate();
        let records: Vec<Record> = named
            .filter_map(|(at, (step, name))| self.record(&facts, steps, step, name, only.get(&at).copied()))
            .collect();
        let held = self.held(steps);
        let after = self.analysis.suppose(|model| {
            model.records.extend(records.into_iter().map(Arc::new));
            model.held.extend(held);
        });
        let mut later: BTreeMap<(usize, EntryRef, Subject), Row> = after
            .rows(Some(self.event))
            .into_iter()
            .map(|row| ((row.requirement, row.entry, row.subject.clone()), row))
            .collect();
        let own = self.rows.iter().map(|row| later.remove(&(row.requirement, row.entry, row.subject.clone())));
        own.enumerate().collect()
    }

    /// The events that come before steps, each held and completed on the day before the first of them, with the pieces of all.
    ///
    /// Only those before the event asked about: what comes after that cannot come first.
    fn held(&self, steps: &[Step]) -> Vec<HeldEvent> {
        let earlier = self.model().config.events.iter().take(self.event);
        earlier.filter_map(|event| self.holding(steps, event)).collect()
    }

    fn holding(&self, steps: &[Step], event: &Event) -> Option<HeldEvent> {
        let following = || steps.iter().filter(|step| step.events.contains(&event.name.value));
        let day = following().map(|step| depth(steps, step, 0)).min()? - 1;
        let pieces = following().filter_map(|step| match &step.node.subject {
            Subject::Serial(serial) => Some(Spanned::new(serial.clone(), event.name.span)),
            Subject::Item(_) | Subject::Project => None,
        });
        let day = self.analysis.request.today.checked_add(day.days()).ok()?;
        Some(held(event, pieces.collect(), day))
    }

    /// A signed record that meets what is asked of every row that it counts for, on the day after what it follows.
    fn record(&self, facts: &Facts<'_>, steps: &[Step], step: &Step, name: &Id, only: Option<usize>) -> Option<Record> {
        let model = self.model();
        let span = model.requirements.first()?.head.fence;
        let mut head = model.requirements.first()?.head.clone();
        head.id = Spanned::new(name.clone(), span);
        let node = &step.node;
        let date = facts.today.checked_add(depth(steps, step, 0).days()).ok()?;
        let (serials, item) = match &node.subject {
            Subject::Serial(serial) => (vec![Spanned::new(serial.clone(), span)], None),
            Subject::Item(item) => (Vec::new(), Some(Spanned::new(item.clone(), span))),
            Subject::Project => (Vec::new(), None),
        };
        let procedure = node.procedure.as_ref().and_then(|id| model.procedure(id));
        let meant = |row: &usize| only.is_none_or(|only| self.rows[*row].requirement == only);
        let counting: Vec<usize> = (0..self.rows.len()).filter(meant).filter(|row| self.counts(node, *row)).collect();
        let asked: BTreeSet<usize> = counting.iter().map(|row| self.rows[*row].requirement).collect();
        let conditions =
            asked.iter().flat_map(|at| &model.requirements[*at].criteria).flat_map(|own| &own.at).filter_map(|own| {
                let texts = candidates(own.min.as_ref(), own.max.as_ref())
                    .into_iter()
                    .map(|text| Spanned::new(Scalar::Text(text), span));
                let good = texts.into_iter().find(|text| condition_holds(facts, own, Some(text)).is_ok())?;
                Some((Spanned::new(own.name.clone(), span), good))
            });
        let (performed_by, witnessed_by) = self.people(facts, &counting, span);
        Some(Record {
            head,
            method: node.method,
            date: Some(Spanned::new(Moment::day(date), span)),
            revision: None,
            revisions: revisions(model, &node.subject),
            serials,
            item,
            stage: node.stage,
            procedure: node.procedure.clone().map(|id| Spanned::new(id, span)),
            procedure_revision: procedure.and_then(|own| own.revision.clone()),
            performed_by,
            witnessed_by,
            signed_by: None,
            instruments: procedure.map(|own| own.instruments.clone()).unwrap_or_default(),
            no_instrument: Some("supposed".into()),
            conditions: conditions.collect(),
            readings: Vec::new(),
            uses: Vec::new(),
            status: Spanned::new(RecordStatus::Signed, span),
            reason: None,
            withdrawn_by: None,
            withdrawn: None,
            seal: Some(Spanned::new("supposed".into(), span)),
            seal_now: "supposed".into(),
            signed_again: Vec::new(),
            deviations: Vec::new(),
            actions: Vec::new(),
            verifies: asked.iter().map(|at| verifies(facts, &model.requirements[*at])).collect(),
            data: Vec::new(),
            inputs: Vec::new(),
            correlations: Vec::new(),
            calculation: None,
        })
    }

    /// People such as all that a record counts for asks for, as far as one performer can be that.
    fn people(&self, facts: &Facts<'_>, rows: &[usize], span: Span) -> (Option<Spanned<String>>, Vec<Spanned<String>>) {
        let planned = rows.iter().filter_map(|row| self.plan(*row));
        let roles: Vec<&Role> = planned.flat_map(|(it, entry)| people::rules(facts, it, entry, None)).collect();
        let lists: Vec<&Vec<Spanned<String>>> = roles.iter().filter_map(|role| role.performed_by.as_ref()).collect();
        let in_all = |who: &&Spanned<String>| {
            lists.iter().all(|list| list.iter().any(|own| is_same_person(&own.value, &who.value)))
        };
        let performer = lists.iter().flat_map(|list| list.iter()).find(in_all);
        let witnesses = roles.iter().filter_map(|role| role.witnessed_by.as_ref()).flatten().cloned();
        let supposed = |who: &str| Spanned::new(who.to_string(), span);
        (
            Some(performer.cloned().unwrap_or_else(|| supposed("performer"))),
            witnesses.chain([supposed("another")]).collect(),
        )
    }
}

/// How many days after today a step can be taken at the earliest: one after what it follows, an event on a day of its own.
fn depth(steps: &[Step], step: &Step, deep: usize) -> i64 {
    let own = if step.events.is_empty() { 1 } else { 2 };
    if deep > steps.len() {
        return own;
    }
    own + step.after.iter().filter_map(|at| steps.get(*at)).map(|own| depth(steps, own, deep + 1)).max().unwrap_or(0)
}

/// The revisions that a record on a subject would see.
fn revisions(model: &Model, subject: &Subject) -> BTreeMap<Id, Spanned<String>> {
    let seen = match subject {
        Subject::Serial(serial @ SerialId { item, .. }) => model
            .serial(serial)
            .and_then(|(whole, piece)| piece.revision.clone().or(whole.revision.clone()))
            .map(|own| (item, own)),
        Subject::Item(item) => model.item(item).and_then(|own| own.revision.clone()).map(|own| (item, own)),
        Subject::Project => None,
    };
    seen.into_iter().map(|(item, revision)| (item.clone(), revision)).collect()
}

/// Results that meet a requirement as it is.
fn verifies(facts: &Facts<'_>, requirement: &Requirement) -> Verifies {
    let span = requirement.head.fence;
    let result = |criterion: &Criterion| {
        let texts = match &criterion.expects {
            Expectation::Limits { min, max } => candidates(min.as_ref(), max.as_ref()),
            Expectation::Sample { .. } => return met_sample(criterion, span),
            Expectation::Words(words) => words.clone(),
            Expectation::Count(least) => vec![least.to_string()],
            Expectation::Trials { reliability, confidence } => {
                let tally = Tally { successes: 0, trials: 0 };
                tally
                    .further(&reliability.value, &confidence.value)
                    .map(|n| format!("{n} of {n}"))
                    .into_iter()
                    .collect()
            }
        };
        let mut results = texts.into_iter().map(|text| Spanned::new(ResultText::Written(Scalar::Text(text)), span));
        let good =
            results.find(|result| matches!(judge_result(facts, &criterion.expects, result).verdict, Verdict::Met))?;
        Some((Spanned::new(criterion.name.clone(), span), good))
    };
    Verifies {
        computed: Vec::new(),
        requirement: requirement.head.id.clone(),
        mark: Some(Spanned::new(requirement.mark.clone(), span)),
        result: None,
        results: requirement.criteria.iter().filter_map(result).collect(),
        outcomes: Vec::new(),
        not_judged: Vec::new(),
        reaffirmed: Vec::new(),
    }
}

/// A sample well inside its limit.
fn met_sample(criterion: &Criterion, span: Span) -> Option<(Spanned<String>, Spanned<ResultText>)> {
    let (min, max) = criterion.expects.ends();
    let limit = min.or(max)?.quantity()?;
    let number = limit.unit.from_si(&limit.value).to_f64()?;
    // Between two limits in the middle.
    let other = max.and_then(|max| max.quantity()).map(|max| limit.unit.from_si(&max.value).to_f64());
    let step = match (min, other) {
        (Some(_), Some(other)) => (other? - number) / 2.0,
        _ if number == 0.0 => 1.0,
        _ => number.abs() / 2.0,
    };
    let mean = if min.is_some() { number + step } else { number - step };
    let text =
        |number: f64, symbol: &str| Spanned::new(Scalar::Text(format!("{number} {symbol}").trim_end().into()), span);
    let made = ResultText::Summary {
        mean: text(mean, &limit.unit.symbol),
        deviation: text(step / 1e6, &limit.unit.as_difference().symbol),
        count: 1000,
    };
    Some((Spanned::new(criterion.name.clone(), span), Spanned::new(made, span)))
}

/// Texts of values of which one lies between limits: a bound, a limit itself, something well inside.
fn candidates(min: Option<&Limit>, max: Option<&Limit>) -> Vec<String> {
    let quantity = |limit: Option<&Limit>| limit.and_then(|limit| limit.quantity().cloned());
    let (min, max) = (quantity(min), quantity(max));
    let mut texts = Vec::new();
    texts.extend(min.iter().map(|own| format!("> {}", own.show())));
    texts.extend(max.iter().map(|own| format!("< {}", own.show())));
    let exactly = |number: &str, unit: &str| format!("{number} ± 0 {unit}").trim_end().to_string();
    for own in min.iter().chain(&max) {
        let shown = own.show();
        let (number, unit) = shown.split_once(' ').unwrap_or((shown.as_str(), ""));
        texts.extend([exactly(number, unit), shown.clone()]);
    }
    let number = |own: &crate::quantity::Quantity| own.unit.from_si(&own.value).to_f64();
    let inside = match (&min, &max) {
        (Some(min), Some(max)) => {
            number(min).zip(max.unit.from_si(&max.value).to_f64()).map(|(a, b)| ((a + b) / 2.0, min))
        }
        (Some(own), None) => number(own).map(|a| (a + a.abs() / 2.0, own)),
        (None, Some(own)) => number(own).map(|a| (a - a.abs() / 2.0, own)),
        (None, None) => None,
    };
    if let Some((value, own)) = inside {
        texts.extend([exactly(&value.to_string(), &own.unit.symbol), format!("{value} {}", own.unit.symbol)]);
    }
    texts
}
