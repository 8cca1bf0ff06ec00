//! Tests of the calculation language.

mod hostile;
mod language;
mod properties;
mod tables;

use std::sync::Arc;

use super::{CalcError, Correlations, Given, Scope, Source, Step, Worked, parse, parse_expression};
use crate::quantity::{Quantity, parse_quantity};
use crate::table::Table;

/// Inputs by name, a table, and perhaps an ambient pressure.
#[derive(Default)]
pub(super) struct Inputs {
    pub inputs: Vec<(String, Given)>,
    pub tables: Vec<(String, Arc<Table>)>,
    pub ambient: Option<Quantity>,
}

impl Inputs {
    pub(super) fn of(all: &[(&str, &str)]) -> Self {
        let mut inputs = Self::default();
        for (name, text) in all {
            inputs.add(name, text, None);
        }
        inputs
    }

    pub(super) fn add(&mut self, name: &str, text: &str, instrument: Option<&str>) {
        let source = Source {
            key: name.to_owned(),
            name: name.to_owned(),
            quantity: parse_quantity(text).expect(text),
            instrument: instrument.map(str::to_owned),
        };
        self.inputs.push((name.to_owned(), Given::Source(source)));
    }
}

impl Scope for Inputs {
    fn given(&self, name: &str) -> Option<Given> {
        self.inputs.iter().find(|(known, _)| known == name).map(|(_, given)| given.clone())
    }

    fn names(&self) -> Vec<String> {
        self.inputs.iter().map(|(name, _)| name.clone()).collect()
    }

    fn table(&self, file: &str) -> Result<Arc<Table>, (String, String)> {
        let found = self.tables.iter().find(|(name, _)| name == file).map(|(_, table)| Arc::clone(table));
        found.ok_or_else(|| (format!("there is no `{file}`"), "attach it".to_owned()))
    }

    fn ambient(&self) -> Option<Quantity> {
        self.ambient.clone()
    }
}

pub(super) fn steps(text: &str, scope: &Inputs, correlations: &Correlations) -> Result<Vec<Step>, Vec<CalcError>> {
    parse_expression(text)?.check(scope)?.work_out(correlations)
}

/// The value of the last statement of the text.
pub(super) fn last(text: &str, scope: &Inputs) -> Result<Arc<Worked>, Vec<CalcError>> {
    let steps = steps(text, scope, &Correlations::none())?;
    let step = steps.last().expect("a statement");
    Ok(Arc::clone(step.worked().unwrap_or_else(|| panic!("{text} comes to {:?}", step.value))))
}

pub(super) fn worked(text: &str, scope: &Inputs) -> Arc<Worked> {
    last(text, scope).unwrap_or_else(|errors| panic!("{text}: {errors:#?}"))
}

pub(super) fn errors(text: &str, scope: &Inputs) -> Vec<CalcError> {
    match steps(text, scope, &Correlations::none()) {
        Ok(steps) => panic!("{text} came out as {:?}", steps.last().map(|step| &step.value)),
        Err(errors) => errors,
    }
}

#[test]
fn a_block_has_names() {
    assert!(parse("1 + 2").is_err());
    assert!(parse("x = 1 + 2").is_ok());
}
