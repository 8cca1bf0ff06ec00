//! Works out one record: its inputs, the lines of its calculation, what is reduced from its data, its results.

use std::cell::RefCell;
use std::ops::Range;
use std::sync::Arc;

use crate::calc::{self, CalcError, Correlations, Given, Scope, Sheet, Source, Step, Worked};
use crate::model::Model;
use crate::model::kinds::{Calculation, Record, ReductionText, ResultText};
use crate::parse::nearest;
use crate::quantity::{Quantity, parse_number};
use crate::table::{Place, Reduce, Reduced, Reduction, Table, combine, reduce};
use crate::text::{Span, Spanned};

use super::inputs::{self, Before, Origin};
use super::trials::{self, Tried};
use super::{Tables, Trouble};

/// What one record computes.
#[derive(Debug, Default)]
pub struct Values {
    /// What it starts from, in the order of the file; parameters after the inputs.
    pub inputs: Vec<InputValue>,
    /// The lines of its calculation, in the order in which they were worked out.
    pub steps: Vec<Step>,
    /// What was reduced from data, by the place of the result.
    pub reduced: Vec<(Span, Reduction, Arc<Table>, Reduced)>,
    /// What each computed result comes to, by its place.
    pub results: Vec<(Span, Result<Made, Arc<Trouble>>)>,
    /// What is wrong, in the order of the file.
    pub troubles: Vec<Arc<Trouble>>,
}

/// A value that a calculation starts from.
#[derive(Clone, Debug)]
pub struct InputValue {
    /// Its name.
    pub name: String,
    /// What it is.
    pub quantity: Quantity,
    /// Where it comes from.
    pub origin: Origin,
    /// What it was read with.
    pub instrument: Option<String>,
}

/// What a computed result comes to.
#[derive(Clone, Debug)]
pub enum Made {
    /// A line of the calculation; with what trials say of it, where first order is poor.
    Worked(Arc<Worked>, Option<Arc<Tried>>),
    /// A reduction, and the instrument that its data were taken with, if it names one.
    Reduced(Quantity, Option<String>),
}

impl Made {
    /// The value.
    pub fn quantity(&self) -> &Quantity {
        match self {
            Made::Worked(worked, _) => &worked.quantity,
            Made::Reduced(quantity, _) => quantity,
        }
    }

    /// The trials that it is from; none where first order stands.
    pub(super) fn decided(&self) -> Option<&Arc<Tried>> {
        match self {
            Made::Worked(_, tried) => tried.as_ref().filter(|tried| tried.decides()),
            Made::Reduced(..) => None,
        }
    }
}

impl Values {
    /// A computed result for use in another calculation.
    pub(super) fn given(&self, place: Span, key: &str, name: &str) -> Option<Given> {
        let (_, result) = self.results.iter().find(|(own, _)| *own == place)?;
        Some(match result.as_ref().ok()? {
            Made::Worked(worked, _) => Given::Worked(worked.clone()),
            Made::Reduced(quantity, instrument) => Given::Source(Source {
                key: key.to_string(),
                name: name.to_string(),
                quantity: quantity.clone(),
                // What two readings of one instrument share goes with them.
                instrument: instrument.clone(),
            }),
        })
    }

    /// Nothing, for this reason.
    pub(super) fn none_for(record: &Record, trouble: Trouble) -> Values {
        let trouble = Arc::new(trouble);
        let results = results(record).map(|(_, result)| (result.span, Err(trouble.clone()))).collect();
        Values { results, troubles: vec![trouble], ..Values::default() }
    }
}

/// The results of a record that are computed, each with the name of its criterion where it has one.
pub fn results(record: &Record) -> impl Iterator<Item = (Option<&str>, &Spanned<ResultText>)> {
    let all = record.verifies.iter().flat_map(|own| {
        let named = own.results.iter().map(|(name, result)| (Some(name.value.as_str()), result));
        own.result.iter().map(|result| (None, result)).chain(named)
    });
    all.filter(|(_, result)| result.value.is_computed())
}

/// Works out a record; `before` gives those that it takes values from.
pub(super) fn work_out(model: &Model, tables: &Tables, record: &Record, before: Before<'_>) -> Values {
    let mut values = Values::default();
    let names =
        Names { model, tables, record, inputs: givens(model, record, before, &mut values), used: RefCell::default() };
    if let Some(calculation) = &record.calculation {
        let before = values.troubles.len();
        values.troubles.extend(hidden(record, calculation));
        let correlations = record_correlations(record, &names, &mut values);
        // An uncertainty that leaves a correlation out is none; nor is a value that passes an input by.
        let stated = values.troubles.len() == before;
        match steps(&names, calculation, &correlations) {
            Ok(steps) if stated => values.steps = steps,
            Ok(_) => {}
            Err(errors) => {
                values.troubles.extend(errors.into_iter().map(|error| Arc::new(located(calculation, error))))
            }
        }
    }
    for (name, given) in names.used.into_inner() {
        let Given::Source(source) = given else { continue };
        let note = model.parameters.get(&name).and_then(|own| own.source.clone());
        values.inputs.push(InputValue {
            name,
            quantity: source.quantity,
            origin: Origin::Parameter(note),
            instrument: None,
        });
    }
    let broken = values.troubles.first().cloned();
    for (_, result) in results(record) {
        let made = match &result.value {
            ResultText::Written(_) | ResultText::Readings(_) | ResultText::Summary { .. } => continue,
            ResultText::Calculation(name) => of_step(record, &mut values, name, result.span, broken.as_ref()),
            ResultText::Reduction(text) => of_data(model, tables, record, text, result.span, &mut values),
        };
        if let Err(trouble) = &made {
            values.troubles.push(trouble.clone());
        }
        values.results.push((result.span, made));
    }
    // One trouble may take the value from several results.
    let mut seen: Vec<*const Trouble> = Vec::new();
    values.troubles.retain(|own| {
        let new = !seen.contains(&Arc::as_ptr(own));
        if new {
            seen.push(Arc::as_ptr(own));
        }
        new
    });
    values
}

type Givens = Vec<(String, Result<Given, Arc<Trouble>>)>;

/// What each input is; what is wrong with one counts only where something is calculated.
fn givens(model: &Model, record: &Record, before: Before<'_>, values: &mut Values) -> Givens {
    let mut all = Givens::new();
    for input in &record.inputs {
        let given = inputs::input(model, record, input, before).map_err(Arc::new);
        match &given {
            Ok((given, origin)) => values.inputs.push(InputValue {
                name: input.name.value.clone(),
                quantity: quantity_of(given).clone(),
                origin: origin.clone(),
                instrument: match given {
                    Given::Source(source) => source.instrument.clone(),
                    Given::Worked(_) | Given::Refused { .. } => None,
                },
            }),
            Err(trouble) if record.calculation.is_some() || input.from.is_some() => {
                values.troubles.push(trouble.clone())
            }
            Err(_) => {}
        }
        all.push((input.name.value.clone(), given.map(|(given, _)| given)));
    }
    all
}

fn quantity_of(given: &Given) -> &Quantity {
    match given {
        Given::Source(source) => &source.quantity,
        Given::Worked(worked) => &worked.quantity,
        Given::Refused { .. } => unreachable!("inputs are refused as troubles"),
    }
}

/// What the names in the calculation of a record stand for.
struct Names<'a> {
    model: &'a Model,
    tables: &'a Tables,
    record: &'a Record,
    inputs: Givens,
    /// The parameters that it asked for.
    used: RefCell<Vec<(String, Given)>>,
}

impl Scope for Names<'_> {
    fn given(&self, name: &str) -> Option<Given> {
        if let Some((_, given)) = self.inputs.iter().find(|(own, _)| own == name) {
            return Some(match given {
                Ok(given) => given.clone(),
                Err(trouble) => Given::Refused { message: trouble.message.clone(), help: trouble.help.clone() },
            });
        }
        let given = inputs::parameter(self.model, name)?;
        let mut used = self.used.borrow_mut();
        if used.iter().all(|(own, _)| own != name) {
            used.push((name.to_string(), given.clone()));
        }
        Some(given)
    }

    fn names(&self) -> Vec<String> {
        self.inputs.iter().map(|(name, _)| name.clone()).chain(self.model.parameters.keys().cloned()).collect()
    }

    fn table(&self, file: &str) -> Result<Arc<Table>, (String, String)> {
        self.tables.get(self.record, file)
    }

    fn here(&self) -> &str {
        self.record.head.id.value.as_str()
    }

    fn ambient(&self) -> Option<Quantity> {
        self.model.config.ambient.clone()
    }
}

fn steps(
    names: &Names<'_>,
    calculation: &Calculation,
    correlations: &Correlations,
) -> Result<Vec<Step>, Vec<CalcError>> {
    let sheet: Sheet = calc::parse(&calculation.text)?;
    sheet.check(names)?.work_out(correlations)
}

/// Inputs whose names lines of the calculation have too: it would not be seen that they are not used.
fn hidden(record: &Record, calculation: &Calculation) -> Vec<Arc<Trouble>> {
    let Ok(sheet) = calc::parse(&calculation.text) else { return Vec::new() };
    let names = sheet.names();
    let hidden = record.inputs.iter().filter(|input| names.contains(&input.name.value.as_str()));
    let trouble = |input: &crate::model::kinds::Input| {
        let message = format!("`{}` is an input and a line of the calculation too", input.name.value);
        Arc::new(Trouble::new("bad-input", input.name.span, message, "choose another name for one of them"))
    };
    hidden.map(trouble).collect()
}

/// What the record says of how its inputs go together.
fn record_correlations(record: &Record, names: &Names<'_>, values: &mut Values) -> Correlations {
    let mut correlations = Correlations::default();
    for own in &record.correlations {
        let [one, other] = own.between.as_slice() else { continue };
        let Some(r) = &own.r else { continue };
        let mut wrong = |span, message: String, help: &str| {
            values.troubles.push(Arc::new(Trouble::new("bad-correlation", span, message, help)));
        };
        let Ok(coefficient) = parse_number(r.value.text()) else {
            wrong(r.span, format!("a correlation coefficient is a number, not `{}`", r.value.text()), "write r = 0.8");
            continue;
        };
        let mut keys = Vec::new();
        for name in [one, other] {
            match names.inputs.iter().find(|(own, _)| *own == name.value) {
                Some((_, Ok(Given::Source(source)))) => keys.push(source.key.clone()),
                Some((_, Ok(_))) => wrong(
                    name.span,
                    format!(
                        "`{}` is calculated in another record: what it shares with others is known already",
                        name.value
                    ),
                    "state the correlation between the values that it starts from",
                ),
                Some((_, Err(_))) => {}
                None => wrong(
                    name.span,
                    format!("there is no input `{}`", name.value),
                    "name two of the inputs of this record",
                ),
            }
        }
        if let [one, other] = keys.as_slice()
            && let Err(message) = correlations.state(one, other, coefficient.value)
        {
            wrong(r.span, message, "write r = 0.8");
        }
    }
    correlations
}

fn located(calculation: &Calculation, error: CalcError) -> Trouble {
    let place = |range: &Range<usize>| calculation.span(range);
    let also = error.also.iter().map(|(range, what)| (place(range), what.clone())).collect();
    Trouble { also, ..Trouble::new("bad-calculation", place(&error.range), error.message, error.help) }
}

fn of_step(
    record: &Record,
    values: &mut Values,
    name: &str,
    span: Span,
    broken: Option<&Arc<Trouble>>,
) -> Result<Made, Arc<Trouble>> {
    let found = values.steps.iter().find(|step| step.name == name).cloned();
    if let Some((step, worked)) = found.as_ref().and_then(|step| Some((step, step.worked()?))) {
        let line = record.calculation.as_ref().map_or(span, |calculation| calculation.span(&step.range));
        return in_trials(values, name, worked, line);
    }
    if let Some(trouble) = broken {
        return Err(trouble.clone());
    }
    let none = |message: String, help: String| Err(Arc::new(Trouble::new("unknown-name", span, message, help)));
    if found.is_some() {
        return none(format!("`{name}` is no quantity"), "name a line that comes to one value".to_string());
    }
    if record.calculation.is_none() {
        let help = format!(
            "add a fenced block ```calc with a line `{name} = …` to the body, or write the result as a quantity"
        );
        return none(format!("there is no calculation here that could give `{name}`"), help);
    }
    let help = match nearest(name, values.steps.iter().map(|step| step.name.as_str())) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("add a line `{name} = …` to the calculation"),
    };
    none(format!("the calculation has no line `{name}`"), help)
}

/// A line of the calculation as a result: where first order is poor, by trials.
fn in_trials(values: &mut Values, name: &str, worked: &Arc<Worked>, line: Span) -> Result<Made, Arc<Trouble>> {
    let wrong = |message: String, help: &str| Arc::new(Trouble::new("bad-calculation", line, message, help));
    let tried = trials::where_doubtful(worked).map_err(|_| {
        wrong(
            format!("first order is poor for `{name}`, and trials with these correlations cannot be made"),
            "state correlations that can hold together",
        )
    })?;
    let Some(tried) = tried else { return Ok(Made::Worked(worked.clone(), None)) };
    let lost = tried.simulation.not_finite;
    if !tried.decides() {
        return Ok(Made::Worked(worked.clone(), Some(Arc::new(tried))));
    }
    let by_trials = trials::by_trials(worked, &tried).filter(|_| lost == 0).ok_or_else(|| {
        wrong(
            format!(
                "`{name}` cannot be worked out in {lost} of {} trials of what its inputs may be",
                tried.simulation.trials
            ),
            "look for a root of what may be negative, or a divisor that may be zero",
        )
    })?;
    let made = Arc::new(by_trials);
    let (first, trials) = (worked.quantity.show(), made.quantity.show());
    values.troubles.push(Arc::new(Trouble::new(
        "first-order-not-valid",
        line,
        format!("first order states too little for `{name}`: {first}, and {} trials {trials}", tried.simulation.trials),
        "nothing need be done: the trials decide; a smaller uncertainty of what drives it would make both agree",
    )));
    Ok(Made::Worked(made, Some(Arc::new(tried))))
}

/// What attached data come to, with the uncertainty of what they were taken with.
fn of_data(
    model: &Model,
    tables: &Tables,
    record: &Record,
    text: &ReductionText,
    span: Span,
    values: &mut Values,
) -> Result<Made, Arc<Trouble>> {
    let wrong = |span, message: String, help: String| Arc::new(Trouble::new("bad-reduction", span, message, help));
    let table = tables.get(record, &text.file.value).map_err(|(message, help)| wrong(text.file.span, message, help))?;
    let asked = asked(text).map_err(|(span, message, help)| wrong(span.unwrap_or(text.file.span), message, help))?;
    let reduced = reduce(&table, &asked, model.config.ambient.as_ref()).map_err(|error| match error.place {
        Place::Key(key, _) => wrong(text.get(key).map_or(span, |own| own.span), error.message, error.help),
        Place::Cell { line, column } => {
            let message = format!("{}, line {line}, column {column}: {}", text.file.value, error.message);
            wrong(text.file.span, message, error.help)
        }
    })?;
    let stated = inputs::uncertainty_of_data(model, text, &reduced.quantity)
        .map_err(|error| wrong(text.file.span, error.message, error.help))?;
    let mut quantity = match &stated {
        Some(stated) => combine(&reduced.quantity, stated),
        None => reduced.quantity.clone(),
    };
    // Cells that are all the same hide how they scatter: that is no uncertainty of zero.
    quantity.uncertainty = quantity.uncertainty.filter(|own| stated.is_some() || !own.standard.is_zero());
    values.reduced.push((span, asked, table, reduced));
    Ok(Made::Reduced(quantity, text.get("instrument").map(|own| own.value.clone())))
}

/// The reduction that the record asks for.
fn asked(text: &ReductionText) -> Result<Reduction, (Option<Span>, String, String)> {
    let words = || Reduce::WORDS.iter().map(|(word, _)| *word);
    let all = || words().collect::<Vec<_>>().join(", ");
    let Some(word) = text.get("reduce") else {
        return Err((
            None,
            "it is not said what is made of the data".into(),
            format!("add reduce = \"…\" with one of: {}", all()),
        ));
    };
    let Some((_, reduce)) = Reduce::WORDS.iter().find(|(own, _)| *own == word.value) else {
        let help = match nearest(&word.value, words()) {
            Some(near) => format!("did you mean \"{near}\"? there are: {}", all()),
            None => format!("write one of: {}", all()),
        };
        return Err((Some(word.span), format!("data are not reduced by \"{}\"", word.value), help));
    };
    let said = |key: &str| text.get(key).map(|own| own.value.clone());
    let smooth = match text.get("smooth") {
        None => None,
        Some(own) => match own.value.parse::<usize>() {
            Ok(rows) => Some(rows),
            Err(_) => {
                return Err((
                    Some(own.span),
                    format!("`{}` is no number of rows", own.value),
                    "write smooth = 5".into(),
                ));
            }
        },
    };
    Ok(Reduction {
        column: said("column"),
        where_: said("where"),
        time: said("time"),
        against: said("against"),
        at: said("at"),
        from: said("from"),
        to: said("to"),
        smooth,
        ..Reduction::new(*reduce)
    })
}
