//! Lowers a calculation to a tape and checks names and units on the way.

use std::collections::{HashMap, HashSet};
use std::ops::Range;
use std::sync::Arc;

use super::functions::{CONSTANTS, FUNCTIONS, Function, constant};
use super::lex::{Literal, is_name_part};
use super::parse::MAX_ERRORS;
use super::syntax::{Binary, Compare, Expr, Id};
use super::tape::{Entry, Op, Slot, Tape};
use super::worked::{Form, is_gauge};
use super::{CalcError, Given, MAX_OPERATIONS, Scope, Sheet, Source, Worked};
use crate::quantity::rules::{self, Scales};
use crate::quantity::{Dimension, Kind, Quantity, QuantityError, Rational, Unit};
use crate::table::{Between, Curve, Table};

/// What an expression was lowered to.
#[derive(Clone, Debug)]
pub(super) enum Low {
    Quantity(Lowered),
    Truth(Slot),
    List(Vec<Lowered>),
    Text(Range<usize>),
    /// Wrong, and told.
    Broken,
}

/// A quantity on the tape.
#[derive(Clone, Debug)]
pub(super) struct Lowered {
    pub slot: Slot,
    pub unit: Arc<Unit>,
    /// Whether the unit is exact.
    pub exact: bool,
    /// Whether the sort of quantity was only inferred: a force times a length is a torque, unless it turns out to be an energy.
    loose: bool,
    /// The value of a plain number that stands in the text.
    number: Option<Rational>,
    pub range: Range<usize>,
}

/// Lowers the statements of a sheet, in the order in which they are given.
pub(super) struct Lowering<'a> {
    sheet: &'a Sheet,
    scope: &'a dyn Scope,
    /// The names that stand for something, in the sheet or outside.
    known: HashSet<String>,
    pub tape: Tape,
    pub errors: Vec<CalcError>,
    sources: HashMap<String, usize>,
    source_slots: HashMap<usize, Slot>,
    joined: HashMap<(usize, Slot), Slot>,
    given: HashMap<String, Low>,
    curves: HashMap<(String, Option<String>, bool), Arc<Curve>>,
    /// The items of lists that names stood for.
    listed: usize,
    full: bool,
}

type Outcome<T> = Result<T, Box<CalcError>>;

const ENERGY: Dimension = Dimension::of([1, 2, -2, 0, 0, 0, 0]);
const POWER: Dimension = Dimension::of([1, 2, -3, 0, 0, 0, 0]);
const TEMPERATURE: Dimension = Dimension::of([0, 0, 0, 0, 1, 0, 0]);

impl<'a> Lowering<'a> {
    pub(super) fn new(sheet: &'a Sheet, scope: &'a dyn Scope) -> Self {
        let mut known: HashSet<String> = scope.names().into_iter().collect();
        known.extend(sheet.names().into_iter().map(str::to_owned));
        Self {
            sheet,
            scope,
            known,
            tape: Tape::default(),
            errors: Vec::new(),
            sources: HashMap::new(),
            source_slots: HashMap::new(),
            joined: HashMap::new(),
            given: HashMap::new(),
            curves: HashMap::new(),
            listed: 0,
            full: false,
        }
    }

    /// Lowers one statement; `defined` says what the names of the sheet came to that it rests on.
    pub(super) fn statement(&mut self, which: usize, defined: &[Option<Low>]) -> Low {
        let nodes = self.sheet.statements[which].nodes.clone();
        let start = nodes.start;
        let mut lows: Vec<Low> = Vec::with_capacity(nodes.len());
        for id in nodes {
            if self.errors.len() >= MAX_ERRORS {
                // Enough to mend; to say what was meant takes time.
                return Low::Broken;
            }
            let lowered = self.node(which, id, |id: Id| &lows[id - start], defined);
            lows.push(match lowered {
                Ok(low) => low,
                Err(error) => {
                    self.errors.push(*error);
                    Low::Broken
                }
            });
        }
        match lows.pop() {
            Some(Low::Text(range)) => {
                let error = CalcError::new(range, "a text is no value", "write an expression");
                self.errors.push(error);
                Low::Broken
            }
            Some(low) => low,
            None => Low::Broken,
        }
    }

    /// The names from outside that stand for a value, with their place on the tape; units by themselves left out.
    pub(super) fn given(&self) -> HashMap<String, (Slot, Form)> {
        let values =
            self.given.iter().filter(|(name, _)| self.known.contains(*name) || CONSTANTS.contains(&name.as_str()));
        values
            .filter_map(|(name, low)| match low {
                Low::Quantity(lowered) => {
                    Some((name.clone(), (lowered.slot, Form { unit: Arc::clone(&lowered.unit), exact: lowered.exact })))
                }
                _ => None,
            })
            .collect()
    }

    fn text(&self, range: &Range<usize>) -> &'a str {
        &self.sheet.text[range.clone()]
    }

    fn push(&mut self, op: Op, range: &Range<usize>) -> Outcome<Slot> {
        self.room(range)?;
        self.tape.entries.push(Entry { op, range: range.clone() });
        Ok(self.tape.entries.len() - 1)
    }

    /// A list counts as often as a name stands for it: a short text can name a long list again and again.
    fn room(&mut self, range: &Range<usize>) -> Outcome<()> {
        if self.tape.entries.len() + self.listed >= MAX_OPERATIONS {
            if self.full {
                // Told once; what rests on it is broken all the same.
                return Err(fail(range, "this calculation has too many operations", "divide it"));
            }
            self.full = true;
            let message =
                format!("this calculation has more than {MAX_OPERATIONS} operations, those of its inputs included");
            return Err(fail(range, message, "divide it, or type in a result that it rests on"));
        }
        Ok(())
    }

    fn node<'l>(&mut self, which: usize, id: Id, low: impl Fn(Id) -> &'l Low, defined: &[Option<Low>]) -> Outcome<Low> {
        let sheet = self.sheet;
        let node = &sheet.nodes[id];
        let range = &node.range;
        let ids: Vec<Id> = operands(&node.expr);
        if ids.iter().any(|id| matches!(low(*id), Low::Broken)) {
            return Ok(Low::Broken);
        }
        let quantity = |id: Id| self.sheet_quantity(low(id), &sheet.nodes[id].range);
        match &node.expr {
            Expr::Literal(literal) => self.literal(which, literal, range).map(Low::Quantity),
            Expr::Name(name) => self.name(name, defined),
            Expr::Text(inner) => Ok(Low::Text(inner.clone())),
            Expr::Negative(a) => {
                let a = quantity(*a)?;
                self.negative(a, range).map(Low::Quantity)
            }
            Expr::Binary(binary, a, b) => {
                let (a, b) = (quantity(*a)?, quantity(*b)?);
                self.binary(*binary, a, b, range).map(Low::Quantity)
            }
            Expr::Compare(compare, a, b) => {
                let (a, b) = (quantity(*a)?, quantity(*b)?);
                self.compare(*compare, a, b, range)
            }
            Expr::Not(a) => {
                let a = truth(low(*a), &sheet.nodes[*a].range)?;
                self.push(Op::Not(a), range).map(Low::Truth)
            }
            Expr::Both(a, b) | Expr::Either(a, b) => {
                let one = truth(low(*a), &sheet.nodes[*a].range)?;
                let other = truth(low(*b), &sheet.nodes[*b].range)?;
                let both = matches!(node.expr, Expr::Both(..));
                self.push(if both { Op::Both(one, other) } else { Op::Either(one, other) }, range).map(Low::Truth)
            }
            Expr::If(condition, yes, no) => {
                let condition = truth(low(*condition), &sheet.nodes[*condition].range)?;
                self.choice(
                    condition,
                    (low(*yes), &sheet.nodes[*yes].range),
                    (low(*no), &sheet.nodes[*no].range),
                    range,
                )
            }
            Expr::List(items) => {
                let items = items.iter().map(|id| quantity(*id)).collect::<Outcome<Vec<_>>>()?;
                Ok(Low::List(items))
            }
            Expr::Call(Function::Table | Function::Integral, items) => {
                let items: Vec<(&Low, &Range<usize>)> =
                    items.iter().map(|id| (low(*id), &sheet.nodes[*id].range)).collect();
                let integral = matches!(node.expr, Expr::Call(Function::Integral, _));
                self.look_up(integral, &items, range).map(Low::Quantity)
            }
            Expr::Call(function, items) => {
                let mut all = Vec::new();
                for id in items {
                    match low(*id) {
                        Low::List(items) => all.extend(items.iter().cloned()),
                        _ => all.push(quantity(*id)?),
                    }
                }
                self.call(*function, all, range).map(Low::Quantity)
            }
            Expr::To(a, unit) => {
                let a = quantity(*a)?;
                self.asked(a, unit, range).map(Low::Quantity)
            }
        }
    }

    fn sheet_quantity(&self, low: &Low, range: &Range<usize>) -> Outcome<Lowered> {
        let what = match low {
            Low::Quantity(lowered) => return Ok(Lowered { range: range.clone(), ..lowered.clone() }),
            Low::Truth(_) => "this is the answer of a comparison, but a quantity is expected",
            Low::List(_) => "this is a list, but one quantity is expected",
            Low::Text(_) | Low::Broken => "this is a text, but a quantity is expected",
        };
        let help = match low {
            Low::Truth(_) => "choose by it with `if … then … else …`",
            Low::List(_) => "take one value of it, as with `max(…)` or `mean(…)`",
            _ => "a text only names a table: `table(\"file.csv\", x)`",
        };
        Err(fail(range, what, help))
    }

    fn literal(&mut self, which: usize, literal: &Literal, range: &Range<usize>) -> Outcome<Lowered> {
        self.refuse_name_in_unit(literal, range)?;
        let quantity = literal.quantity.as_ref().map_err(|error| Box::new(CalcError::of_quantity(error.clone(), 0)))?;
        if quantity.uncertainty.is_none() && !quantity.approximate {
            return self.fixed(quantity, range);
        }
        let statement = &self.sheet.statements[which];
        let alone = statement.expression == *range && !statement.name.is_empty();
        let name = if alone { self.text(&statement.name) } else { self.text(range) };
        let place = if alone { name.to_owned() } else { format!("{name} at {}", range.start) };
        let here = self.scope.here();
        let key = if here.is_empty() { place } else { format!("{here}.{place}") };
        let source = Source { key, name: name.to_owned(), quantity: quantity.clone(), instrument: None };
        self.source(source, range)
    }

    /// `5 N*m` is a torque; where something is called `m`, it could be a product with that.
    fn refuse_name_in_unit(&self, literal: &Literal, range: &Range<usize>) -> Outcome<()> {
        let unit = self.text(&literal.unit);
        let mut first = true;
        let mut at = 0;
        while let Some(offset) = unit[at..].find(|c: char| is_name_part(c) && !c.is_ascii_digit()) {
            let start = at + offset;
            let length = unit[start..].find(|c: char| !is_name_part(c)).unwrap_or(unit.len() - start);
            let word = &unit[start..start + length];
            let known = self.known.contains(word);
            let place = literal.unit.start + start..literal.unit.start + start + length;
            if known && literal.quantity.is_err() {
                let help = format!("write `*` with spaces before it: `… * {word}`");
                return Err(fail(&place, format!("`{word}` is a name and not a unit"), help));
            }
            if known && !first && literal.unit.end <= range.end {
                let message = format!("`{word}` is both a unit and a name here");
                let help = format!(
                    "write spaces round the sign if the name is meant, `… * {word}`; else give the name another spelling"
                );
                return Err(fail(&place, message, help));
            }
            first = false;
            at = start + length;
        }
        Ok(())
    }

    /// A quantity without an uncertainty that stands in the text.
    fn fixed(&mut self, quantity: &Quantity, range: &Range<usize>) -> Outcome<Lowered> {
        let slot = self.push(Op::Constant(quantity.value.clone()), range)?;
        let unit = Arc::clone(&quantity.unit);
        let number = rules::is_number(&unit).then(|| quantity.value.clone());
        Ok(Lowered { slot, unit, exact: quantity.exact, loose: false, number, range: range.clone() })
    }

    fn source(&mut self, source: Source, range: &Range<usize>) -> Outcome<Lowered> {
        let (unit, exact) = (Arc::clone(&source.quantity.unit), source.quantity.exact);
        let place = self.source_place(Arc::new(source));
        let slot = self.source_slot(place, range)?;
        Ok(Lowered { slot, unit, exact, loose: false, number: None, range: range.clone() })
    }

    fn source_place(&mut self, source: Arc<Source>) -> usize {
        let next = self.tape.sources.len();
        let place = *self.sources.entry(source.key.clone()).or_insert(next);
        if place == next {
            self.tape.sources.push(source);
        }
        place
    }

    fn source_slot(&mut self, place: usize, range: &Range<usize>) -> Outcome<Slot> {
        if let Some(slot) = self.source_slots.get(&place) {
            return Ok(*slot);
        }
        let slot = self.push(Op::Source(place), range)?;
        self.source_slots.insert(place, slot);
        Ok(slot)
    }

    fn name(&mut self, range: &Range<usize>, defined: &[Option<Low>]) -> Outcome<Low> {
        let name = self.text(range);
        if let Some(which) = self.sheet.defined(name) {
            if let Some(Low::List(items)) = &defined[which] {
                self.listed += items.len();
                self.room(range)?;
            }
            return Ok(defined[which].clone().unwrap_or(Low::Broken));
        }
        if let Some(low) = self.given.get(name) {
            return Ok(low.clone());
        }
        let low = match self.scope.given(name) {
            Some(Given::Source(source)) => Low::Quantity(self.source(source, range)?),
            Some(Given::Worked(worked)) => Low::Quantity(self.join(&worked, range)?),
            Some(Given::Refused { message, help }) => {
                // Told once, at its first use.
                self.given.insert(name.to_owned(), Low::Broken);
                return Err(fail(range, message, help));
            }
            None => match constant(name) {
                Some(constant) => Low::Quantity(self.fixed(&constant, range)?),
                None => Low::Quantity(self.bare_unit(name, range)?),
            },
        };
        self.given.insert(name.to_owned(), low.clone());
        Ok(low)
    }

    /// A unit by itself is one of it; of a scale with a zero of its own, a difference.
    fn bare_unit(&mut self, name: &str, range: &Range<usize>) -> Outcome<Lowered> {
        match Unit::parse(name) {
            Ok(unit) => {
                let unit = if unit.offset.is_zero() { unit } else { Arc::new(unit.as_difference()) };
                let one = Quantity::computed(unit.to_si(&Rational::one()), Arc::clone(&unit), unit.exact);
                let lowered = self.fixed(&one, range)?;
                Ok(Lowered { number: None, ..lowered })
            }
            Err(error) if error.message.contains("not a known unit") => Err(self.unknown(name, range)),
            Err(error) => Err(Box::new(CalcError::of_quantity(error, range.start))),
        }
    }

    fn unknown(&self, name: &str, range: &Range<usize>) -> Box<CalcError> {
        let known = self.known.iter().map(String::as_str);
        let words = known.chain(CONSTANTS).chain(FUNCTIONS.iter().map(|(name, _, _)| *name));
        let near = words.map(|word| (strsim::damerau_levenshtein(word, name), word));
        let near = near.filter(|(distance, word)| *distance <= (word.chars().count() / 3).max(1)).min();
        let unit = Unit::parse(name).err().map(|error| error.help).filter(|help| !help.contains("an SI unit"));
        let help = match (near, unit) {
            (Some((_, word)), _) => format!("did you mean `{word}`?"),
            (None, Some(help)) => help,
            _ => format!("define it, `{name} = …`, or check its spelling"),
        };
        fail(range, format!("there is nothing called `{name}`: no value, and no unit"), help)
    }

    /// Takes over what another result rests on.
    fn join(&mut self, worked: &Arc<Worked>, range: &Range<usize>) -> Outcome<Lowered> {
        let from = Arc::as_ptr(&worked.tape) as usize;
        for slot in worked.tape.reach(worked.root) {
            if self.joined.contains_key(&(from, slot)) {
                continue;
            }
            let new = match &worked.tape.entries[slot].op {
                Op::Source(at) => {
                    let place = self.source_place(Arc::clone(&worked.tape.sources[*at]));
                    self.source_slot(place, range)?
                }
                op => {
                    let moved = op.moved(|operand| self.joined.get(&(from, operand)).copied().unwrap_or(0));
                    self.push(moved, range)?
                }
            };
            self.joined.insert((from, slot), new);
        }
        let slot = self.joined.get(&(from, worked.root)).copied().unwrap_or(0);
        let (unit, exact) = (Arc::clone(&worked.quantity.unit), worked.quantity.exact);
        Ok(Lowered { slot, unit, exact, loose: false, number: None, range: range.clone() })
    }

    /// Where one side's sort was only inferred, it is what the other side is.
    fn settled(
        &self,
        mut a: Lowered,
        mut b: Lowered,
        whole: &Range<usize>,
        minus: bool,
    ) -> Outcome<(Lowered, Lowered)> {
        if a.unit.dimension != b.unit.dimension || a.unit.kind == b.unit.kind {
            return Ok((a, b));
        }
        let dimension = a.unit.dimension;
        let as_kind = |kind: Kind| Arc::new(Unit::coherent(dimension, kind));
        match (a.loose, b.loose) {
            (true, true) => (a.unit, b.unit) = (as_kind(Kind::Plain), as_kind(Kind::Plain)),
            (true, false) => (a.unit, a.loose) = (as_kind(b.unit.kind), false),
            (false, true) if dimension == TEMPERATURE && a.unit.kind == Kind::TemperaturePoint && minus => {
                return Err(Box::new(
                    CalcError::new(
                        whole.clone(),
                        format!("`{}` could be a temperature or a rise", self.text(&b.range)),
                        format!("write `({} to K)` for a temperature, or `to delta_K` for a rise", self.text(&b.range)),
                    )
                    .and(b.range.clone(), "this was worked out in kelvin"),
                ));
            }
            (false, true) => (b.unit, b.loose) = (as_kind(b_kind(a.unit.kind, minus)), false),
            (false, false) => {}
        }
        Ok((a, b))
    }

    /// Joins two quantities by a rule for their units; an error points at both.
    fn joined_unit(
        &self,
        rule: impl Fn(rules::Side<'_>, rules::Side<'_>) -> Result<Arc<Unit>, QuantityError>,
        a: &Lowered,
        b: &Lowered,
        whole: &Range<usize>,
    ) -> Outcome<Arc<Unit>> {
        let (one, other) = (|| self.text(&a.range).to_owned(), || self.text(&b.range).to_owned());
        rule((&a.unit, &one), (&b.unit, &other)).map_err(|error| pair(error, a, b, whole))
    }

    fn negative(&mut self, a: Lowered, range: &Range<usize>) -> Outcome<Lowered> {
        let unit = self.scaled_unit(&a, range)?;
        let slot = self.push(Op::Negative(a.slot), range)?;
        Ok(Lowered { slot, unit, number: a.number.map(|number| -number), range: range.clone(), ..a })
    }

    /// The unit of something times a number. A factor on a gauge pressure could be meant on the absolute one.
    fn scaled_unit(&self, a: &Lowered, whole: &Range<usize>) -> Outcome<Arc<Unit>> {
        let text = self.text(&a.range);
        if is_gauge(&a.unit) {
            let plain = a.unit.as_difference().symbol;
            return Err(Box::new(
                CalcError::new(
                    whole.clone(),
                    format!("`{text}` is a gauge pressure: a factor on it could be meant on the gauge or on the absolute value"),
                    format!(
                        "write `0 {0} + 1.5 * ({text} - 0 {0})` for the gauge value, or `1.5 * ({text} to {plain} abs)`",
                        a.unit.symbol
                    ),
                )
                .and(a.range.clone(), "measured from ambient"),
            ));
        }
        rules::scaled((&a.unit, &|| text.to_owned())).map_err(|error| {
            Box::new(CalcError::new(whole.clone(), error.message, error.help).and(a.range.clone(), describe(a)))
        })
    }

    fn binary(&mut self, binary: Binary, a: Lowered, b: Lowered, range: &Range<usize>) -> Outcome<Lowered> {
        match binary {
            Binary::Add | Binary::Subtract => self.sum(binary == Binary::Subtract, a, b, range),
            Binary::Multiply | Binary::Divide => self.product(binary == Binary::Divide, &a, &b, range),
            Binary::Power => self.power(&a, &b, range),
        }
    }

    fn sum(&mut self, minus: bool, a: Lowered, b: Lowered, range: &Range<usize>) -> Outcome<Lowered> {
        if minus && is_mixed(&a.unit, &b.unit) {
            return self.mixed_difference(&a, &b, range);
        }
        let (a, b) = self.settled(a, b, range, minus)?;
        let rule = if minus { rules::difference } else { rules::sum };
        let mut unit = self.joined_unit(rule, &a, &b, range)?;
        if rules::is_number(&unit) && a.unit.symbol != b.unit.symbol {
            unit = Arc::new(Unit::none());
        }
        let slot = self.push(if minus { Op::Subtract(a.slot, b.slot) } else { Op::Add(a.slot, b.slot) }, range)?;
        let number = a.number.zip(b.number).map(|(a, b)| if minus { a - b } else { a + b });
        Ok(Lowered { slot, unit, exact: a.exact && b.exact, loose: a.loose && b.loose, number, range: range.clone() })
    }

    /// The difference of a gauge and an absolute pressure, through the ambient pressure.
    fn mixed_difference(&mut self, a: &Lowered, b: &Lowered, range: &Range<usize>) -> Outcome<Lowered> {
        let unit = Arc::new(a.unit.as_difference());
        let moved = self.on_scale(a, b, range)?;
        let slot = self.push(Op::Subtract(moved, b.slot), range)?;
        Ok(Lowered { slot, unit, exact: a.exact && b.exact, loose: false, number: None, range: range.clone() })
    }

    /// The first on the scale of the second, for which a gauge and an absolute pressure need the ambient one.
    fn on_scale(&mut self, a: &Lowered, b: &Lowered, whole: &Range<usize>) -> Outcome<Slot> {
        let (one, other) = (|| self.text(&a.range).to_owned(), || self.text(&b.range).to_owned());
        let sides: (rules::Side<'_>, rules::Side<'_>) = ((&a.unit, &one), (&b.unit, &other));
        let scales = rules::scales(sides.0, sides.1).map_err(|error| pair(error, a, b, whole))?;
        if scales == Scales::Same {
            return Ok(a.slot);
        }
        let ambient = self.scope.ambient();
        let ambient =
            rules::ambient(sides.0, sides.1, ambient.as_ref()).map_err(|error| pair(error, a, b, whole))?.clone();
        let ambient = match ambient.uncertainty {
            None => self.fixed(&ambient, whole)?,
            Some(_) => {
                let source =
                    Source { key: "ambient".into(), name: "ambient".into(), quantity: ambient, instrument: None };
                self.source(source, whole)?
            }
        };
        let op = match scales {
            Scales::GaugeOnAbsolute => Op::Add(a.slot, ambient.slot),
            _ => Op::Subtract(a.slot, ambient.slot),
        };
        self.push(op, whole)
    }

    fn product(&mut self, over: bool, a: &Lowered, b: &Lowered, range: &Range<usize>) -> Outcome<Lowered> {
        let numbers = (rules::is_number(&a.unit), rules::is_number(&b.unit));
        if numbers.1 {
            self.scaled_unit(a, range)?;
        } else if numbers.0 && !over {
            self.scaled_unit(b, range)?;
        }
        let rule = if over { rules::quotient } else { rules::product };
        let mut unit = self.joined_unit(rule, a, b, range)?;
        if numbers == (true, true) && !b.unit.symbol.is_empty() && (over || !a.unit.symbol.is_empty()) {
            unit = Arc::new(Unit::none());
        }
        let plain = a.unit.kind == Kind::Plain && b.unit.kind == Kind::Plain;
        let inferred = plain && matches!(unit.kind, Kind::Torque | Kind::Throughput);
        let open = unit.kind == Kind::Plain && [ENERGY, POWER, TEMPERATURE].contains(&unit.dimension);
        let kept = if numbers.1 { a.loose } else { numbers.0 && !over && b.loose };
        let loose = if numbers.0 || numbers.1 { kept || (open && over) } else { inferred || open };
        let number = match (&a.number, &b.number) {
            (Some(a), Some(b)) if !over => Some(a * b),
            (Some(_), Some(b)) if b.is_zero() => return Err(fail(range, "this divides by zero", "check the divisor")),
            (Some(a), Some(b)) => Some(a / b),
            _ => None,
        };
        let number = number.filter(|number| number.bits() <= 512);
        let slot = self.push(if over { Op::Divide(a.slot, b.slot) } else { Op::Multiply(a.slot, b.slot) }, range)?;
        Ok(Lowered { slot, unit, exact: a.exact && b.exact, loose, number, range: range.clone() })
    }

    fn power(&mut self, a: &Lowered, b: &Lowered, range: &Range<usize>) -> Outcome<Lowered> {
        if !rules::is_number(&b.unit) {
            let message =
                format!("the exponent `{}` is {}, but a plain number is expected", self.text(&b.range), describe(b));
            return Err(Box::new(
                CalcError::new(range.clone(), message, "divide it by its unit, or check the brackets")
                    .and(b.range.clone(), describe(b)),
            ));
        }
        let small = |number: &Rational| {
            let part = |whole: num_bigint::BigInt| i32::try_from(whole).ok().filter(|part| part.unsigned_abs() <= 1000);
            Some((part(number.numer())?, part(number.denom())?))
        };
        if let Some((n, d)) = b.number.as_ref().and_then(small) {
            return self.fixed_power(a, n, d, range);
        }
        if !rules::is_number(&a.unit) {
            let message = format!(
                "`{}` is {}, so that the unit of this depends on the exponent",
                self.text(&a.range),
                describe(a)
            );
            let help = "write the exponent as a number, such as `^2` or `^(1/2)`";
            return Err(Box::new(
                CalcError::new(range.clone(), message, help).and(b.range.clone(), "not a number that stands here"),
            ));
        }
        let slot = self.push(Op::Raise(a.slot, b.slot), range)?;
        let unit = Arc::new(Unit::none());
        Ok(Lowered { slot, unit, exact: a.exact && b.exact, loose: false, number: None, range: range.clone() })
    }

    fn fixed_power(&mut self, a: &Lowered, n: i32, d: i32, range: &Range<usize>) -> Outcome<Lowered> {
        if is_gauge(&a.unit) {
            self.scaled_unit(a, range)?;
        }
        let text = || self.text(&a.range).to_owned();
        let mut unit = rules::power((&a.unit, &text), n, d).map_err(|error| {
            Box::new(CalcError::new(range.clone(), error.message, error.help).and(a.range.clone(), describe(a)))
        })?;
        if rules::is_number(&unit) && n != d {
            unit = Arc::new(Unit::none());
        }
        let loose =
            a.loose && n == d || unit.kind == Kind::Plain && [ENERGY, POWER, TEMPERATURE].contains(&unit.dimension);
        let slot = self.push(Op::Power(a.slot, n, d), range)?;
        let number = a.number.as_ref().filter(|base| d == 1 && n.unsigned_abs() <= 64 && !(base.is_zero() && n < 0));
        let number = number.map(|base| base.pow(n)).filter(|number| number.bits() <= 512);
        Ok(Lowered { slot, unit, exact: a.exact, loose, number, range: range.clone() })
    }

    fn compare(&mut self, compare: Compare, a: Lowered, b: Lowered, range: &Range<usize>) -> Outcome<Low> {
        let (a, b) = self.settled(a, b, range, false)?;
        let left = self.on_scale(&a, &b, range)?;
        self.push(Op::Compare(compare, left, b.slot), range).map(Low::Truth)
    }

    fn choice(
        &mut self,
        condition: Slot,
        yes: (&Low, &Range<usize>),
        no: (&Low, &Range<usize>),
        range: &Range<usize>,
    ) -> Outcome<Low> {
        if let (Low::Truth(a), Low::Truth(b)) = (yes.0, no.0) {
            return self.push(Op::If(condition, *a, *b), range).map(Low::Truth);
        }
        let (a, b) = (self.sheet_quantity(yes.0, yes.1)?, self.sheet_quantity(no.0, no.1)?);
        let (a, b) = self.settled(a, b, range, false)?;
        self.same(&a, &b, range)?;
        let slot = self.push(Op::If(condition, a.slot, b.slot), range)?;
        let loose = a.loose && b.loose;
        Ok(Low::Quantity(Lowered {
            slot,
            unit: a.unit,
            exact: a.exact && b.exact,
            loose,
            number: None,
            range: range.clone(),
        }))
    }

    /// Refuses two quantities that are not measured on one scale.
    fn same(&self, a: &Lowered, b: &Lowered, whole: &Range<usize>) -> Outcome<()> {
        let (one, other) = (|| self.text(&b.range).to_owned(), || self.text(&a.range).to_owned());
        match rules::scales((&b.unit, &one), (&a.unit, &other)) {
            Ok(Scales::Same) => Ok(()),
            Ok(_) => Err(Box::new(
                CalcError::new(
                    whole.clone(),
                    "one of these is a gauge and the other an absolute pressure",
                    format!(
                        "bring both to one scale, as with `{} to {} abs`",
                        self.text(&a.range),
                        a.unit.as_difference().symbol
                    ),
                )
                .and(a.range.clone(), describe(a))
                .and(b.range.clone(), describe(b)),
            )),
            Err(error) => Err(pair(error, a, b, whole)),
        }
    }

    fn call(&mut self, function: Function, items: Vec<Lowered>, range: &Range<usize>) -> Outcome<Lowered> {
        let name = function.name();
        let usage = format!("write `{}`", function.usage());
        match function {
            Function::Min
            | Function::Max
            | Function::Sum
            | Function::Mean
            | Function::Median
            | Function::Hypot
            | Function::Count
            | Function::Sd => {
                let least = if function == Function::Sd { 2 } else { 1 };
                if items.len() < least {
                    return Err(fail(
                        range,
                        format!("`{name}` needs at least {least} {}", if least == 1 { "value" } else { "values" }),
                        usage,
                    ));
                }
                self.fold(function, items, range)
            }
            Function::Atan2 => match <[Lowered; 2]>::try_from(items) {
                Ok([y, x]) => {
                    let (y, x) = self.settled(y, x, range, false)?;
                    self.same(&y, &x, range)?;
                    let slot = self.push(Op::Angle(y.slot, x.slot), range)?;
                    Ok(self.result(slot, Kind::Angle, range))
                }
                Err(items) => Err(fail(range, format!("`{name}` takes two values, not {}", items.len()), usage)),
            },
            _ => match <[Lowered; 1]>::try_from(items) {
                Ok([x]) => self.function(function, &x, range),
                Err(items) => Err(fail(range, format!("`{name}` takes one value, not {}", items.len()), usage)),
            },
        }
    }

    /// A plain number or an angle that a function gives.
    fn result(&self, slot: Slot, kind: Kind, range: &Range<usize>) -> Lowered {
        let unit = Arc::new(Unit::coherent(Dimension::NONE, kind));
        Lowered { slot, unit, exact: true, loose: false, number: None, range: range.clone() }
    }

    fn function(&mut self, function: Function, x: &Lowered, range: &Range<usize>) -> Outcome<Lowered> {
        match function {
            Function::Sqrt => return self.fixed_power(x, 1, 2, range),
            Function::Cbrt => return self.fixed_power(x, 1, 3, range),
            Function::Abs => {
                let unit = self.scaled_unit(x, range)?;
                let slot = self.push(Op::Apply(function, x.slot), range)?;
                let number = x.number.as_ref().map(Rational::abs);
                return Ok(Lowered { slot, unit, exact: x.exact, loose: x.loose, number, range: range.clone() });
            }
            _ => {}
        }
        let angle = matches!(function, Function::Sin | Function::Cos | Function::Tan);
        if !(rules::is_number(&x.unit) || (angle && x.unit.kind == Kind::Angle)) {
            let wanted = if angle { "an angle or a plain number" } else { "a plain number" };
            let message =
                format!("`{}` is {}, but `{}` takes {wanted}", self.text(&x.range), describe(x), function.name());
            let help = if angle {
                "write an angle, in `deg` or `rad`"
            } else {
                "divide by a value of the same sort, such as `x / (1 Pa)`"
            };
            return Err(Box::new(CalcError::new(range.clone(), message, help).and(x.range.clone(), describe(x))));
        }
        let slot = self.push(Op::Apply(function, x.slot), range)?;
        let kind = if matches!(function, Function::Asin | Function::Acos | Function::Atan) {
            Kind::Angle
        } else {
            Kind::Plain
        };
        Ok(Lowered { exact: x.exact, ..self.result(slot, kind, range) })
    }

    fn fold(&mut self, function: Function, items: Vec<Lowered>, range: &Range<usize>) -> Outcome<Lowered> {
        let mut items = items.into_iter();
        let Some(first) = items.next() else { return Err(fail(range, "this list is empty", "write its values")) };
        let (mut exact, mut loose) = (first.exact, first.loose);
        let mut slots = vec![first.slot];
        let mut unit = Arc::clone(&first.unit);
        for item in items {
            let (one, item) =
                self.settled(Lowered { unit: Arc::clone(&unit), loose, ..first.clone() }, item, range, false)?;
            unit = match function {
                Function::Sum => self.joined_unit(rules::sum, &one, &item, range)?,
                _ => self.same(&one, &item, range).map(|()| Arc::clone(&one.unit))?,
            };
            exact &= item.exact;
            loose = one.loose && item.loose;
            slots.push(item.slot);
        }
        match function {
            Function::Count => {
                let count = Rational::from_integer(slots.len().into());
                return self.fixed(&Quantity::computed(count, Unit::none(), true), range);
            }
            Function::Sd => unit = Arc::new(unit.as_difference()),
            Function::Hypot => {
                self.scaled_unit(&Lowered { unit: Arc::clone(&unit), ..first }, range)?;
            }
            _ => {}
        }
        let slot = self.push(Op::Fold(function, slots.into_boxed_slice()), range)?;
        Ok(Lowered { slot, unit, exact, loose, number: None, range: range.clone() })
    }

    /// `x to UNIT`: the same value on another scale, or said to be of a sort that was open.
    fn asked(&mut self, a: Lowered, range: &Range<usize>, whole: &Range<usize>) -> Outcome<Lowered> {
        let asked =
            Unit::parse(self.text(range)).map_err(|error| Box::new(CalcError::of_quantity(error, range.start)))?;
        let (mine, theirs) = (a.unit.kind, asked.kind);
        let wrong = |help: String| {
            let message = format!(
                "`{}` is {}, but `{}` is for {}",
                self.text(&a.range),
                describe(&a),
                asked.symbol,
                asked.kind.describe(&asked.dimension)
            );
            Box::new(
                CalcError::new(whole.clone(), message, help)
                    .and(a.range.clone(), describe(&a))
                    .and(range.clone(), asked.kind.describe(&asked.dimension)),
            )
        };
        if a.unit.dimension != asked.dimension {
            if let Some(help) = meant_degrees(&a.unit, &asked, self.text(&a.range), self.text(range)) {
                return Err(wrong(help));
            }
            return Err(wrong(format!("ask for a unit of {}", a.unit.kind.describe(&a.unit.dimension))));
        }
        let open = a.loose || mine == Kind::Plain;
        let (slot, unit) = match (mine, theirs) {
            (mine, theirs) if mine == theirs => (a.slot, asked),
            (Kind::GaugePressure, Kind::AbsolutePressure) | (Kind::AbsolutePressure, Kind::GaugePressure) => {
                let target = Lowered { unit: Arc::clone(&asked), range: range.clone(), ..a.clone() };
                (self.on_scale(&a, &target, whole)?, asked)
            }
            (Kind::TemperatureDifference, Kind::TemperaturePoint) => (a.slot, Arc::new(asked.as_difference())),
            (Kind::TemperaturePoint, Kind::TemperatureDifference) if a.unit.offset.is_zero() => (a.slot, asked),
            (Kind::Plain, Kind::GaugePressure) => {
                let help = format!(
                    "add it to ambient, `0 {} + {}`, if it is above ambient",
                    asked.symbol,
                    self.text(&a.range)
                );
                return Err(wrong(help));
            }
            (_, theirs) if open && theirs != Kind::Plain => (a.slot, asked),
            (_, Kind::Plain) if a.loose || mine == Kind::Angle => (a.slot, asked),
            (mine, theirs) => return Err(wrong(rules::help_for(mine, theirs, &a.unit))),
        };
        let exact = a.exact && unit.exact;
        Ok(Lowered { slot, unit, exact, loose: false, number: a.number, range: whole.clone() })
    }

    fn look_up(&mut self, integral: bool, items: &[(&Low, &Range<usize>)], range: &Range<usize>) -> Outcome<Lowered> {
        let usage = if integral {
            "write `integral(\"file.csv\", a, b)` or `integral(\"file.csv\", \"column\", a, b)`"
        } else {
            "write `table(\"file.csv\", x)`, `table(\"file.csv\", \"column\", x)` or `table(\"file.csv\", x, \"cubic\")`"
        };
        let wrong = |message: &str| fail(range, message, usage);
        let [(Low::Text(file), _), rest @ ..] = items else {
            return Err(wrong("the first argument names the file of the table"));
        };
        let (column, rest) = match rest {
            [(Low::Text(column), _), rest @ ..] => (Some(self.text(column).to_owned()), rest),
            _ => (None, rest),
        };
        let (smooth, rest) = match rest {
            [rest @ .., (Low::Text(how), how_range)] => match self.text(how) {
                "cubic" => (true, rest),
                "linear" => (false, rest),
                _ => {
                    return Err(fail(
                        how_range,
                        "this is no way to go from row to row",
                        "write \"linear\" or \"cubic\"",
                    ));
                }
            },
            _ => (false, rest),
        };
        let curve = self.curve(file, column, smooth)?;
        let arguments = rest.iter().map(|(low, range)| self.sheet_quantity(low, range)).collect::<Outcome<Vec<_>>>()?;
        match (integral, arguments.as_slice()) {
            (false, [x]) => {
                let x_slot = self.argument(&curve, x, range)?;
                let (unit, exact) = (Arc::clone(curve.y_unit()), curve.y_unit().exact);
                let slot = self.push(Op::Look(curve, x_slot), range)?;
                Ok(Lowered { slot, unit, exact, loose: false, number: None, range: range.clone() })
            }
            (true, [a, b]) => {
                let (low, high) = (self.argument(&curve, a, range)?, self.argument(&curve, b, range)?);
                let slot = self.push(Op::Integral(Arc::clone(&curve), low, high), range)?;
                self.area(&curve, slot, range)
            }
            _ => Err(wrong("this takes other arguments")),
        }
    }

    /// What is looked up must be what the first column holds.
    fn argument(&mut self, curve: &Curve, x: &Lowered, range: &Range<usize>) -> Outcome<Slot> {
        let column = Lowered { unit: Arc::clone(curve.x_unit()), loose: false, number: None, ..x.clone() };
        let (x, column) = self.settled(x.clone(), column, range, false)?;
        let (one, other) = (|| self.text(&x.range).to_owned(), || "the first column".to_owned());
        match rules::scales((&x.unit, &one), (&column.unit, &other)) {
            Ok(_) => self.on_scale(&x, &column, range),
            Err(error) => Err(Box::new(CalcError::new(x.range.clone(), error.message, error.help))),
        }
    }

    /// The unit of an integral: that of the value times that of a difference of the argument.
    fn area(&mut self, curve: &Curve, slot: Slot, range: &Range<usize>) -> Outcome<Lowered> {
        let along = Arc::new(curve.x_unit().as_difference());
        let (value, step) = (|| "the column".to_owned(), || "the first column".to_owned());
        let unit = rules::product((curve.y_unit(), &value), (&along, &step))
            .map_err(|error| Box::new(CalcError::new(range.clone(), error.message, error.help)))?;
        let coherent = Arc::new(Unit::coherent(unit.dimension, unit.kind));
        let plain = curve.y_unit().kind == Kind::Plain && along.kind == Kind::Plain;
        let inferred = plain && matches!(coherent.kind, Kind::Torque | Kind::Throughput);
        let loose =
            inferred || coherent.kind == Kind::Plain && [ENERGY, POWER, TEMPERATURE].contains(&coherent.dimension);
        let exact = curve.x_unit().exact && curve.y_unit().exact;
        Ok(Lowered { slot, unit: coherent, exact, loose, number: None, range: range.clone() })
    }

    fn curve(&mut self, file: &Range<usize>, column: Option<String>, smooth: bool) -> Outcome<Arc<Curve>> {
        let name = self.text(file);
        let key = (name.to_owned(), column.clone(), smooth);
        if let Some(curve) = self.curves.get(&key) {
            return Ok(Arc::clone(curve));
        }
        let table = self.scope.table(name).map_err(|(message, help)| fail(file, message, help))?;
        let curve = Arc::new(through(&table, column.as_deref(), smooth).map_err(|error| {
            fail(file, format!("{name}:{}:{}: {}", error.line, error.column, error.message), error.help)
        })?);
        self.curves.insert(key, Arc::clone(&curve));
        Ok(curve)
    }
}

/// The curve through a column over the first.
fn through(table: &Table, column: Option<&str>, smooth: bool) -> Result<Curve, crate::table::TableError> {
    let y = match column {
        Some(name) => table.column(name)?,
        None => 1,
    };
    if y >= table.columns().len() {
        return Err(crate::table::TableError {
            line: 1,
            column: 1,
            message: "this table has no second column".to_owned(),
            help: "add a column of values beside that of the arguments".to_owned(),
        });
    }
    table.interpolate(0, y, if smooth { Between::Monotone } else { Between::Linear })
}

/// What a value of open sort is beside one of this kind: beside a temperature in a sum, a rise.
fn b_kind(kind: Kind, minus: bool) -> Kind {
    if kind == Kind::TemperaturePoint && !minus { Kind::TemperatureDifference } else { kind }
}

/// True for a gauge and an absolute pressure, in either order.
fn is_mixed(a: &Unit, b: &Unit) -> bool {
    matches!(
        (a.kind, b.kind),
        (Kind::GaugePressure, Kind::AbsolutePressure) | (Kind::AbsolutePressure, Kind::GaugePressure)
    )
}

fn operands(expr: &Expr) -> Vec<Id> {
    match expr {
        Expr::Literal(_) | Expr::Name(_) | Expr::Text(_) => Vec::new(),
        Expr::Negative(a) | Expr::Not(a) | Expr::To(a, _) => vec![*a],
        Expr::Binary(_, a, b) | Expr::Compare(_, a, b) | Expr::Both(a, b) | Expr::Either(a, b) => vec![*a, *b],
        Expr::If(a, b, c) => vec![*a, *b, *c],
        Expr::List(all) | Expr::Call(_, all) => all.clone(),
    }
}

fn truth(low: &Low, range: &Range<usize>) -> Outcome<Slot> {
    match low {
        Low::Truth(slot) => Ok(*slot),
        _ => Err(fail(range, "this is a value, but a comparison is expected", "compare it, as in `x > 2 mm`")),
    }
}

fn describe(a: &Lowered) -> String {
    a.unit.kind.describe(&a.unit.dimension)
}

/// An error about two operands, pointing at both.
fn pair(error: QuantityError, a: &Lowered, b: &Lowered, whole: &Range<usize>) -> Box<CalcError> {
    let error = CalcError::new(whole.clone(), error.message, error.help);
    Box::new(error.and(a.range.clone(), describe(a)).and(b.range.clone(), describe(b)))
}

fn fail(range: &Range<usize>, message: impl Into<String>, help: impl Into<String>) -> Box<CalcError> {
    Box::new(CalcError::new(range.clone(), message, help))
}

/// What to write where a coulomb or a farad stands for a degree.
fn meant_degrees(unit: &Unit, asked: &Unit, value: &str, target: &str) -> Option<String> {
    let degrees = |symbol: &str| match symbol {
        "C" => Some("degC"),
        "F" => Some("degF"),
        _ => None,
    };
    if asked.dimension == Dimension::TEMPERATURE {
        let (degrees, number) = (degrees(&unit.symbol)?, value.strip_suffix(unit.symbol.as_str())?);
        return Some(format!("write `{number}{degrees} to {target}` if degrees are meant"));
    }
    let degrees = degrees(&asked.symbol).filter(|_| unit.dimension == Dimension::TEMPERATURE)?;
    Some(format!("write `{value} to {degrees}` if degrees are meant"))
}
