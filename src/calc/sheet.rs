//! A calculation as it was read, checked and worked out.

use std::collections::HashMap;
use std::ops::Range;
use std::sync::Arc;

use super::derive::Sweep;
use super::evaluate::{Values, evaluate};
use super::lower::{Low, Lowered, Lowering};
use super::parse::{MAX_ERRORS, read};
use super::syntax::{Expr, Node, Statement};
use super::tape::{Slot, Tape};
use super::worked::Form;
use super::{CalcError, Correlations, Scope, Worked};
use crate::quantity::Quantity;

/// A calculation as it was read.
#[derive(Clone, Debug)]
pub struct Sheet {
    pub(super) text: String,
    pub(super) statements: Vec<Statement>,
    pub(super) nodes: Vec<Node>,
    places: HashMap<String, usize>,
}

/// A calculation whose units fit.
#[derive(Clone, Debug)]
pub struct Program {
    sheet: Arc<Sheet>,
    tape: Arc<Tape>,
    /// What each statement came to, in the order of the text.
    lows: Vec<Low>,
    /// What the names from outside came to.
    given: HashMap<String, (Slot, Form)>,
    /// The statements in order of dependence.
    order: Vec<usize>,
}

/// One assignment, worked out.
#[derive(Clone, Debug)]
pub struct Step {
    /// The name; empty for a last expression without one.
    pub name: String,
    /// The bytes of the right side.
    pub range: Range<usize>,
    /// The right side as it was written.
    pub expression: String,
    /// The same with values in place of the names.
    pub substituted: String,
    /// Whether the unit was asked for with `to`.
    pub unit_asked: bool,
    /// What came out.
    pub value: Value,
}

impl Step {
    /// The value, unless it is an answer or a list.
    pub fn worked(&self) -> Option<&Arc<Worked>> {
        match &self.value {
            Value::Worked(worked) => Some(worked),
            Value::Truth(_) | Value::List(_) => None,
        }
    }
}

/// What an assignment comes to.
#[derive(Clone, Debug)]
pub enum Value {
    /// A quantity.
    Worked(Arc<Worked>),
    /// The answer of a comparison.
    Truth(bool),
    /// A list of quantities.
    List(Vec<Arc<Worked>>),
}

/// Reads a calculation: one assignment a line, or several joined by `;`.
///
/// # Errors
/// All that is wrong with its form.
pub fn parse(text: &str) -> Result<Sheet, Vec<CalcError>> {
    Sheet::read(text, false)
}

/// Reads a calculation whose last statement may be an expression without a name: the answer.
///
/// # Errors
/// All that is wrong with its form.
pub fn parse_expression(text: &str) -> Result<Sheet, Vec<CalcError>> {
    Sheet::read(text, true)
}

impl Sheet {
    fn read(text: &str, answer: bool) -> Result<Self, Vec<CalcError>> {
        let parsed = read(text, answer)?;
        let mut errors = Vec::new();
        let mut places: HashMap<String, usize> = HashMap::new();
        for (at, statement) in parsed.statements.iter().enumerate().filter(|(_, statement)| !statement.name.is_empty())
        {
            let name = &text[statement.name.clone()];
            if let Some(first) = places.insert(name.to_owned(), at) {
                let first = parsed.statements[first].name.clone();
                let error = CalcError::new(
                    statement.name.clone(),
                    format!("`{name}` is given a value twice"),
                    "choose another name for one of them",
                );
                errors.push(error.and(first, "the first time"));
            }
        }
        errors.truncate(MAX_ERRORS);
        if !errors.is_empty() {
            return Err(errors);
        }
        Ok(Self { text: text.to_owned(), statements: parsed.statements, nodes: parsed.nodes, places })
    }

    /// The statement that defines a name.
    pub(super) fn defined(&self, name: &str) -> Option<usize> {
        self.places.get(name).copied()
    }

    /// The names that it needs from elsewhere, sorted, each once; constants and units that stand by themselves are among them.
    pub fn outside(&self) -> Vec<&str> {
        let names = self.nodes.iter().filter_map(|node| match &node.expr {
            Expr::Name(range) => Some(&self.text[range.clone()]),
            _ => None,
        });
        let mut names: Vec<&str> = names.filter(|name| self.defined(name).is_none()).collect();
        names.sort_unstable();
        names.dedup();
        names
    }

    /// The names that it defines, in the order in which they stand.
    pub fn names(&self) -> Vec<&str> {
        let named = self.statements.iter().filter(|statement| !statement.name.is_empty());
        named.map(|statement| &self.text[statement.name.clone()]).collect()
    }

    /// The files of tables that it looks into, sorted, each once.
    pub fn tables(&self) -> Vec<&str> {
        let mut files: Vec<&str> = self.nodes.iter().filter_map(|node| self.table_of(node)).collect();
        files.sort_unstable();
        files.dedup();
        files
    }

    fn table_of(&self, node: &Node) -> Option<&str> {
        let Expr::Call(_, items) = &node.expr else { return None };
        match &self.nodes.get(*items.first()?)?.expr {
            Expr::Text(range) => Some(&self.text[range.clone()]),
            _ => None,
        }
    }

    /// The statements that a statement rests on, each with the place where it names it.
    fn needs(&self, which: usize) -> Vec<(usize, Range<usize>)> {
        let nodes = &self.nodes[self.statements[which].nodes.clone()];
        let names = nodes.iter().filter_map(|node| match &node.expr {
            Expr::Name(range) => Some(range.clone()),
            _ => None,
        });
        names.filter_map(|range| Some((self.defined(&self.text[range.clone()])?, range))).collect()
    }

    /// The statements so that each comes after those that it rests on.
    fn order(&self) -> Result<Vec<usize>, CalcError> {
        const NEW: u8 = 0;
        const OPEN: u8 = 1;
        const DONE: u8 = 2;
        let mut marks = vec![NEW; self.statements.len()];
        let mut order = Vec::with_capacity(marks.len());
        for start in 0..self.statements.len() {
            if marks[start] != NEW {
                continue;
            }
            marks[start] = OPEN;
            let mut path = vec![(start, self.needs(start), 0usize)];
            while let Some((at, needs, next)) = path.last_mut() {
                let Some((need, range)) = needs.get(*next).cloned() else {
                    marks[*at] = DONE;
                    order.push(*at);
                    path.pop();
                    continue;
                };
                *next += 1;
                match marks[need] {
                    NEW => {
                        marks[need] = OPEN;
                        path.push((need, self.needs(need), 0));
                    }
                    OPEN => {
                        return Err(self.cycle(&path.iter().map(|(at, _, _)| *at).collect::<Vec<_>>(), need, range));
                    }
                    _ => {}
                }
            }
        }
        Ok(order)
    }

    fn cycle(&self, path: &[usize], back: usize, range: Range<usize>) -> CalcError {
        let start = path.iter().position(|at| *at == back).unwrap_or(0);
        let name = |at: &usize| &self.text[self.statements[*at].name.clone()];
        let mut names: Vec<&str> = path[start..].iter().map(name).collect();
        names.push(name(&back));
        if names.len() > 12 {
            names.splice(5..names.len() - 5, ["…"]);
        }
        let message = format!("this goes in a circle: {}", names.join(" → "));
        let error = CalcError::new(range, message, "define one of them without the others");
        error.and(self.statements[back].name.clone(), "it begins here")
    }

    /// Checks names and units, and lowers it to a tape.
    ///
    /// # Errors
    /// All names that are not known, units that do not fit, a circle.
    pub fn check(&self, scope: &dyn Scope) -> Result<Program, Vec<CalcError>> {
        let order = self.order().map_err(|error| vec![error])?;
        let mut lowering = Lowering::new(self, scope);
        let mut lows: Vec<Option<Low>> = vec![None; self.statements.len()];
        for &which in &order {
            let low = lowering.statement(which, &lows);
            lows[which] = Some(low);
            if lowering.errors.len() >= MAX_ERRORS {
                break;
            }
        }
        let mut errors = std::mem::take(&mut lowering.errors);
        if !errors.is_empty() {
            errors.sort_by_key(|error| (error.range.start, error.range.end));
            errors.dedup();
            errors.truncate(MAX_ERRORS);
            return Err(errors);
        }
        let given = lowering.given();
        let tape = Arc::new(std::mem::take(&mut lowering.tape));
        let lows = lows.into_iter().map(|low| low.unwrap_or(Low::Broken)).collect();
        Ok(Program { sheet: Arc::new(self.clone()), tape, lows, given, order })
    }
}

impl Program {
    /// Works out every assignment, each after those that it rests on.
    ///
    /// # Errors
    /// What cannot be worked out: division by zero, a root of what is negative, outside a table, correlations that cannot be.
    pub fn work_out(&self, correlations: &Correlations) -> Result<Vec<Step>, Vec<CalcError>> {
        correlations.check().map_err(|error| vec![error])?;
        let values = Arc::new(evaluate(&self.tape, None));
        let correlations = Arc::new(correlations.clone());
        let mut worker = Worker { program: self, values, correlations, sweep: Sweep::new() };
        let (mut steps, mut errors) = (Vec::with_capacity(self.order.len()), Vec::new());
        for &which in &self.order {
            match worker.step(which) {
                Ok(step) => steps.push(step),
                Err(error) => errors.push(error),
            }
            if worker.sweep.is_spent() {
                break;
            }
        }
        if errors.is_empty() {
            return Ok(steps);
        }
        errors.sort_by_key(|error| (error.range.start, error.range.end));
        errors.dedup();
        errors.truncate(MAX_ERRORS);
        Err(errors)
    }
}

struct Worker<'a> {
    program: &'a Program,
    values: Arc<Values>,
    correlations: Arc<Correlations>,
    sweep: Sweep,
}

impl Worker<'_> {
    fn step(&mut self, which: usize) -> Result<Step, CalcError> {
        let sheet = &self.program.sheet;
        let statement = &sheet.statements[which];
        let value = match &self.program.lows[which] {
            Low::Quantity(lowered) => Value::Worked(self.worked(lowered)?),
            Low::Truth(slot) => Value::Truth(self.values.number(*slot)?.is_true()),
            Low::List(items) => Value::List(items.iter().map(|item| self.worked(item)).collect::<Result<_, _>>()?),
            Low::Text(range) => return Err(CalcError::new(range.clone(), "a text is no value", "write an expression")),
            Low::Broken => {
                return Err(CalcError::new(
                    statement.expression.clone(),
                    "this could not be checked",
                    "mend what it rests on",
                ));
            }
        };
        let last = sheet.nodes.get(statement.nodes.end.wrapping_sub(1));
        Ok(Step {
            name: sheet.text[statement.name.clone()].to_owned(),
            range: statement.expression.clone(),
            expression: folded(&sheet.text[statement.expression.clone()]),
            substituted: self.substituted(statement),
            unit_asked: matches!(last, Some(Node { expr: Expr::To(..), .. })),
            value,
        })
    }

    fn worked(&mut self, lowered: &Lowered) -> Result<Arc<Worked>, CalcError> {
        let form = Form { unit: Arc::clone(&lowered.unit), exact: lowered.exact };
        Worked::new(&self.program.tape, &self.values, lowered.slot, &form, &self.correlations, &mut self.sweep)
            .map(Arc::new)
    }

    /// The right side with the values of the names.
    fn substituted(&self, statement: &Statement) -> String {
        let sheet = &self.program.sheet;
        let mut text = String::new();
        let mut at = statement.expression.start;
        for node in &sheet.nodes[statement.nodes.clone()] {
            let Expr::Name(range) = &node.expr else { continue };
            let Some(shown) = self.shown(&sheet.text[range.clone()]) else { continue };
            text.push_str(sheet.text.get(at..range.start).unwrap_or(""));
            let powered = sheet.text[range.end..].trim_start().starts_with('^');
            let bracket = powered || (shown.starts_with('-') && !text.trim().is_empty());
            text.push_str(&if bracket { format!("({shown})") } else { shown });
            at = range.end;
        }
        text.push_str(sheet.text.get(at..statement.expression.end).unwrap_or(""));
        folded(&text)
    }

    /// The value of a name, rounded for display; none for what is no quantity.
    fn shown(&self, name: &str) -> Option<String> {
        let (slot, form) = match self.program.sheet.defined(name) {
            Some(which) => match &self.program.lows[which] {
                Low::Quantity(lowered) => (lowered.slot, Form { unit: Arc::clone(&lowered.unit), exact: true }),
                _ => return None,
            },
            None => self.program.given.get(name).cloned()?,
        };
        let number = self.values.number(slot).ok()?;
        let value = number.exact.clone().or_else(|| crate::quantity::Rational::from_f64(number.double))?;
        Some(Quantity::computed(value, form.unit, form.exact).show())
    }
}

/// A text in one line.
fn folded(text: &str) -> String {
    let lines = text.lines().map(|line| line.split('#').next().unwrap_or("").trim()).filter(|line| !line.is_empty());
    lines.collect::<Vec<_>>().join(" ")
}
