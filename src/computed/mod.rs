//! What the records of a project compute: calculations and reductions, with the values that they start from.
//!
//! In: the model, and the tables that were attached. Out: [`Computed`], what every `{ calc = … }` and `{ data = … }` comes to,
//! by the place where it is written, with the steps on the way; or the [`Trouble`] for which it comes to nothing, which keeps
//! the row open. Records that use one another's results are worked out in the order of their dependence. Nothing here reads
//! a file: the tables are handed in.

mod inputs;
mod order;
mod record;
pub mod solve;
mod tables;
pub mod trials;

use std::sync::Arc;

use foldhash::HashMap;
use rayon::prelude::*;

use crate::model::Model;
use crate::model::kinds::{Record, ResultText};
use crate::quantity::Quantity;
use crate::text::{Span, Spanned};

pub use inputs::Origin;
pub use record::{InputValue, Made, Values, results};
pub use tables::{Tables, wanted};

use trials::Tried;

/// Why something could not be worked out.
#[derive(Clone, Debug)]
pub struct Trouble {
    /// The code of the finding; none where another part says it.
    pub code: Option<&'static str>,
    /// Where it is wrong.
    pub span: Span,
    /// What was found.
    pub message: String,
    /// What to type.
    pub help: String,
    /// Other places that bear on it.
    pub also: Vec<(Span, String)>,
}

impl Trouble {
    /// One that is a finding of its own.
    fn new(code: &'static str, span: Span, message: impl Into<String>, help: impl Into<String>) -> Trouble {
        Trouble { code: Some(code), span, message: message.into(), help: help.into(), also: Vec::new() }
    }
}

/// What the records of a project compute.
#[derive(Debug, Default)]
pub struct Computed {
    by_place: HashMap<Span, Answer>,
    /// The trials that decided, where some did.
    tried: HashMap<Span, Arc<Tried>>,
    by_record: HashMap<usize, Arc<Values>>,
}

/// What a result comes to, or why to nothing.
pub type Answer = Result<Quantity, Arc<Trouble>>;

impl Computed {
    /// Works out everything that the records of a project compute.
    pub fn of(model: &Model, tables: &Tables) -> Computed {
        let order = order::order(model);
        let mut by_record: HashMap<usize, Arc<Values>> = HashMap::default();
        for (at, way) in &order.cycles {
            by_record.insert(*at, Arc::new(Values::none_for(&model.records[*at], goes_round(model, *at, way))));
        }
        for stage in &order.stages {
            let before = |at: usize| by_record.get(&at).map(|values| &**values);
            let one = |at: &usize| (*at, Arc::new(record::work_out(model, tables, &model.records[*at], &before)));
            let done: Vec<(usize, Arc<Values>)> = stage.par_iter().with_min_len(8).map(one).collect();
            by_record.extend(done);
        }
        let results = || by_record.values().flat_map(|values| &values.results);
        let answer = |result: &Result<Made, Arc<Trouble>>| {
            result.as_ref().map(|made| made.quantity().clone()).map_err(Arc::clone)
        };
        let by_place = results().map(|(place, result)| (*place, answer(result))).collect();
        let tried =
            results().filter_map(|(place, result)| Some((*place, Arc::clone(result.as_ref().ok()?.decided()?))));
        Computed { tried: tried.collect(), by_place, by_record }
    }

    /// Whether two models give the same values: a project is supposed to be otherwise in many ways, and few of them touch a calculation.
    /// Records and requirements are the same if they are shared.
    pub fn rests_on_the_same(one: &Model, other: &Model) -> bool {
        fn shared<T>(one: &[Arc<T>], other: &[Arc<T>]) -> bool {
            one.len() <= other.len() && one.iter().zip(other).all(|(one, other)| Arc::ptr_eq(one, other))
        }
        // What is added stands behind the rest, and other records cannot have named it.
        let added = other.records.get(one.records.len()..).unwrap_or_default();
        let plain =
            |own: &Arc<Record>| own.calculation.is_none() && own.inputs.is_empty() && results(own).next().is_none();
        let parameter = |own: &crate::config::Parameter| own.value.clone();
        let capability = |own: &crate::config::Instrument| format!("{:?}", own.capability);
        added.iter().all(plain)
            && shared(&one.records, &other.records)
            && one.requirements.len() == other.requirements.len()
            && shared(&one.requirements, &other.requirements)
            && one.config.ambient == other.config.ambient
            && one.parameters.values().map(parameter).eq(other.parameters.values().map(parameter))
            && one.parameters.keys().eq(other.parameters.keys())
            && one.instruments.keys().eq(other.instruments.keys())
            && one.instruments.values().map(capability).eq(other.instruments.values().map(capability))
    }

    /// What the result that is written at a place comes to; none for one that is not computed.
    pub fn at(&self, place: Span) -> Option<&Answer> {
        self.by_place.get(&place)
    }

    /// The trials by which the result that is written at a place was decided; none where first order stands.
    pub fn tried(&self, place: Span) -> Option<&Tried> {
        self.tried.get(&place).map(|tried| &**tried)
    }

    /// A result for display: as written, or what it comes to; where that is nothing, what was asked.
    pub fn shown(&self, result: &Spanned<ResultText>) -> String {
        match self.at(result.span) {
            Some(Ok(quantity)) => quantity.show(),
            _ => result.value.show(),
        }
    }

    /// What a record computes; none for one that computes nothing.
    pub fn of_record(&self, at: usize) -> Option<&Values> {
        self.by_record.get(&at).map(|values| &**values)
    }

    /// Everything that is wrong, by the record's place in the model, in its order.
    pub fn troubles(&self) -> Vec<(usize, &Arc<Trouble>)> {
        let all = self.by_record.iter().flat_map(|(at, values)| values.troubles.iter().map(|trouble| (*at, trouble)));
        let mut all: Vec<(usize, &Arc<Trouble>)> = all.collect();
        all.sort_by_key(|(at, trouble)| (*at, trouble.span));
        all
    }
}

/// That a record rests on itself, and by what way.
fn goes_round(model: &Model, at: usize, way: &[usize]) -> Trouble {
    let ids: Vec<&str> = way.iter().map(|at| model.records[*at].head.id.as_str()).collect();
    let inputs = model.records[at].inputs.iter();
    let from = inputs.filter(|input| input.record(model).is_some_and(|id| ids.contains(&id)));
    let span =
        from.filter_map(|input| input.from.as_ref()).next().map_or(model.records[at].head.fence, |from| from.span);
    let message = format!("{} rests on itself: {}", model.records[at].head.id.value, ids.join(" → "));
    Trouble::new("calculation-cycle", span, message, "write the value of one of these inputs, with its source")
}
