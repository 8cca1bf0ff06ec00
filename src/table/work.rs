//! Works the reductions out, in exact numbers.

use std::sync::Arc;

use super::Column;
use super::cells::Decimal;
use super::condition::{Comparison, Condition, Sign, number_of};
use super::reduce::{Mark, Reduce, ReduceError, Reduced, Reduction, root};
use super::select::{MAX_MARKS, Selected, condition, exact, in_key, key};
use super::sums::Aligned;
use crate::quantity::{Quantity, QuantityError, Rational, Uncertainty, Unit};

/// A reduction of one column.
pub(super) fn column(
    selected: &Selected<'_>,
    reduce: Reduce,
    reduction: &Reduction,
    ambient: Option<&Quantity>,
) -> Result<Reduced, ReduceError> {
    let name = reduction.column.as_deref().unwrap_or("");
    let in_column = |error: super::TableError| key("column", name, error.message, error.help);
    let index = selected.table.column(name).map_err(in_column)?;
    let column = selected.column(index)?;
    if column.holds != super::Holds::Numbers {
        let message = format!("column `{}` holds no numbers", column.name);
        return Err(key("column", name, message, "name a column of numbers"));
    }
    let own = Own { selected, index, column, name, values: selected.values(index)? };
    match reduce {
        Reduce::Min | Reduce::Max => Ok(own.extremum(reduce)),
        Reduce::First => Ok(own.cell("first", 0)),
        Reduce::Last => Ok(own.cell("last", own.values.len() - 1)),
        Reduce::Range => Ok(own.range()),
        Reduce::Median => Ok(own.median()),
        Reduce::Mean => own.mean(),
        Reduce::Sd => own.sd(),
        Reduce::Value => own.value(reduction.at.as_deref().unwrap_or(""), ambient),
        Reduce::Rate => own.rate(),
        Reduce::Fit => own.fit(reduction.at.as_deref().unwrap_or(""), ambient),
        Reduce::Integral => own.integral(),
        Reduce::TimeBetween | Reduce::Cycles => Err(key("column", name, "this plays no part here", "leave it out")),
    }
}

/// The column that is reduced.
struct Own<'s, 't> {
    selected: &'s Selected<'t>,
    index: usize,
    column: &'t Column,
    name: &'s str,
    values: Vec<Decimal>,
}

impl Own<'_, '_> {
    fn quantity(&self, i: usize) -> Quantity {
        self.column.quantity(&exact(&self.values, i))
    }

    fn mark(&self, what: &'static str, i: usize) -> Mark {
        self.selected.mark(what, self.index, i, self.quantity(i))
    }

    fn cell(&self, what: &'static str, i: usize) -> Reduced {
        self.selected.result(self.quantity(i), vec![self.mark(what, i)])
    }

    /// The first of the largest, or of the smallest.
    fn place(&self, largest: bool) -> usize {
        let mut best = 0;
        for (i, value) in self.values.iter().enumerate() {
            let order = self.values.get(best).map_or(std::cmp::Ordering::Equal, |best| value.compare(*best));
            if if largest { order.is_gt() } else { order.is_lt() } {
                best = i;
            }
        }
        best
    }

    fn extremum(&self, reduce: Reduce) -> Reduced {
        self.cell(reduce.word(), self.place(reduce == Reduce::Max))
    }

    fn range(&self) -> Reduced {
        let (low, high) = (self.place(false), self.place(true));
        let width = exact(&self.values, high) - exact(&self.values, low);
        let marks = vec![self.mark("min", low), self.mark("max", high)];
        self.selected.result(self.difference(&width), marks)
    }

    /// A difference of two of the column's numbers.
    fn difference(&self, number: &Rational) -> Quantity {
        let unit = Arc::new(self.column.unit.as_difference());
        Quantity::computed(unit.span_to_si(number), unit, self.column.unit.exact)
    }

    fn median(&self) -> Reduced {
        let mut order: Vec<usize> = (0..self.values.len()).collect();
        order.sort_by(|a, b| match (self.values.get(*a), self.values.get(*b)) {
            (Some(x), Some(y)) => x.compare(*y).then(a.cmp(b)),
            _ => a.cmp(b),
        });
        let middle = |at: usize| order.get(at).copied().unwrap_or(0);
        let count = order.len();
        if count % 2 == 1 {
            return self.cell("median", middle(count / 2));
        }
        let (low, high) = (middle(count / 2 - 1), middle(count / 2));
        let half = (exact(&self.values, low) + exact(&self.values, high)) / Rational::from_integer(2.into());
        self.selected.result(self.column.quantity(&half), vec![self.mark("below", low), self.mark("above", high)])
    }

    fn aligned(&self) -> Result<Aligned, ReduceError> {
        Aligned::new(&self.values).ok_or_else(|| too_far_apart(self.name))
    }

    /// The mean, and the experimental variance of the values where there are two or more.
    fn moments(&self) -> Result<(Rational, Option<Rational>), ReduceError> {
        let aligned = self.aligned()?;
        let (sum, count) = (aligned.sum(), whole(self.values.len()));
        if self.values.len() < 2 {
            return Ok((sum, None));
        }
        let squares = aligned.sum_of_products(&aligned);
        let variance = (squares - &sum * &sum / &count) / (&count - Rational::one());
        Ok((sum / count, Some(variance)))
    }

    fn mean(&self) -> Result<Reduced, ReduceError> {
        let (mean, variance) = self.moments()?;
        let mut quantity = self.column.quantity(&mean);
        if let Some(variance) = variance {
            let (standard, exact) = root(&(variance / whole(self.values.len())));
            let standard = self.column.unit.span_to_si(&standard);
            quantity.approximate = !exact;
            uncertain(&mut quantity, standard, self.values.len() - 1);
        }
        Ok(self.selected.result(quantity, Vec::new()))
    }

    fn sd(&self) -> Result<Reduced, ReduceError> {
        let (_, variance) = self.moments()?;
        let Some(variance) = variance else { return Err(self.too_few("a standard deviation", 2)) };
        let (sd, exact) = root(&variance);
        let mut quantity = self.difference(&sd);
        quantity.approximate = !exact;
        Ok(self.selected.result(quantity, Vec::new()))
    }

    fn too_few(&self, what: &str, least: usize) -> ReduceError {
        let count = self.values.len();
        let message = format!("{what} needs {least} rows or more, and {count} counts");
        key("column", self.name, message, "let more rows count, or reduce in another way")
    }

    /// The value at a time, on the line between the two rows about it.
    fn value(&self, at: &str, ambient: Option<&Quantity>) -> Result<Reduced, ReduceError> {
        let (time, times) = self.selected.times()?;
        let number = number_of(time, at, ambient).map_err(|wrong| in_key("at", wrong))?;
        let after = times.partition_point(|other| other.exact() < number);
        let same = times.iter().skip(after).take_while(|other| other.exact() == number).count();
        if same > 0 {
            let values = self.values.get(after..after + same).unwrap_or(&[]);
            if values.windows(2).any(|pair| matches!(pair, [a, b] if a.compare(*b).is_ne())) {
                let message = format!("{same} rows with different values are of this time");
                return Err(key("at", at, message, "write a time at which there is one value"));
            }
            return Ok(self.cell("value", after));
        }
        if after == 0 || after == times.len() {
            let [from, to] = [0, times.len() - 1].map(|i| time.quantity(&exact(&times, i)).show());
            let message = format!("this time is outside: the rows that count are of {from} to {to}");
            return Err(key("at", at, message, "write a time between these"));
        }
        self.selected.check_neighbours(after - 1, after)?;
        let point = |i: usize| (exact(&times, i), exact(&self.values, i));
        let ((t0, y0), (t1, y1)) = (point(after - 1), point(after));
        let value = self.column.quantity(&(&y0 + (y1 - &y0) * (&number - &t0) / (t1 - t0)));
        let mut mark = self.selected.mark("value", self.index, after - 1, value.clone());
        mark.time = Some(time.quantity(&number));
        Ok(self.selected.result(value, vec![mark]))
    }

    /// The straight line of least squares through the rows that count.
    fn line(&self, what: &str) -> Result<Line, ReduceError> {
        let (time, times) = self.selected.times()?;
        let count = whole(self.values.len());
        let (t, y) = (Aligned::new(&times).ok_or_else(|| too_far_apart(&time.name))?, self.aligned()?);
        let (st, sy) = (t.sum(), y.sum());
        let spread = t.sum_of_products(&t) - &st * &st / &count;
        if self.values.len() < 2 || spread.is_zero() {
            return Err(self.too_few(what, 2));
        }
        let common = t.sum_of_products(&y) - &st * &sy / &count;
        let slope = &common / &spread;
        let scatter = (self.values.len() > 2).then(|| {
            let freedom = self.values.len() - 2;
            let rest = y.sum_of_products(&y) - &sy * &sy / &count - &slope * &common;
            (rest / whole(freedom), freedom)
        });
        Ok(Line { slope, middle: (st / &count, sy / &count), spread, scatter })
    }

    /// The slope of the straight line of least squares.
    fn rate(&self) -> Result<Reduced, ReduceError> {
        let (time, _) = self.selected.times()?;
        let line = self.line("a rate")?;
        let unit = per(&self.column.unit, &time.unit).map_err(|error| self.no_unit(error))?;
        let si = |number: &Rational| self.column.unit.span_to_si(number) / &time.unit.factor;
        let mut quantity = Quantity::computed(si(&line.slope), unit, self.column.unit.exact && time.unit.exact);
        if let Some((scatter, freedom)) = line.scatter {
            let (standard, exact) = root(&(scatter / line.spread));
            quantity.approximate = !exact;
            uncertain(&mut quantity, si(&standard), freedom);
        }
        Ok(self.ends(quantity))
    }

    /// The value of that line at a time, or at a value of the column that stands in its place.
    fn fit(&self, at: &str, ambient: Option<&Quantity>) -> Result<Reduced, ReduceError> {
        let (time, _) = self.selected.times()?;
        let number = number_of(time, at, ambient).map_err(|wrong| in_key("at", wrong))?;
        let line = self.line("a line")?;
        let (across, up) = line.middle;
        let off = number - across;
        let mut quantity = self.column.quantity(&(up + &line.slope * &off));
        if let Some((scatter, freedom)) = line.scatter {
            let share = Rational::one() / whole(self.values.len()) + &off * &off / line.spread;
            let (standard, exact) = root(&(scatter * share));
            quantity.approximate = !exact;
            uncertain(&mut quantity, self.column.unit.span_to_si(&standard), freedom);
        }
        Ok(self.ends(quantity))
    }

    /// A result of all rows that count, marked at the first and the last.
    fn ends(&self, quantity: Quantity) -> Reduced {
        self.selected.result(quantity, vec![self.mark("first", 0), self.mark("last", self.values.len() - 1)])
    }

    /// The integral over time, each two neighbours joined by a line.
    fn integral(&self) -> Result<Reduced, ReduceError> {
        let (time, times) = self.selected.times()?;
        if self.values.len() < 2 {
            return Err(self.too_few("an integral", 2));
        }
        self.selected.check_neighbours(0, self.values.len() - 1)?;
        let (t, y) = (Aligned::new(&times).ok_or_else(|| too_far_apart(&time.name))?, self.aligned()?);
        let twice = t.neighbours(true).sum_of_products(&y.neighbours(false));
        let unit = times_unit(&self.column.unit, &time.unit).map_err(|error| self.no_unit(error))?;
        let si = self.column.unit.span_to_si(&twice) * &time.unit.factor / Rational::from_integer(2.into());
        Ok(self.ends(Quantity::computed(si, unit, self.column.unit.exact && time.unit.exact)))
    }

    fn no_unit(&self, error: QuantityError) -> ReduceError {
        key("column", self.name, format!("column `{}` over time: {}", self.column.name, error.message), error.help)
    }
}

/// A straight line of least squares, in the numbers of the two columns.
struct Line {
    slope: Rational,
    /// The means, through which it goes.
    middle: (Rational, Rational),
    /// The sum of squares of the distances from the mean across.
    spread: Rational,
    /// The variance of the rows about it with its degrees of freedom, where there are three or more.
    scatter: Option<(Rational, usize)>,
}

fn whole(count: usize) -> Rational {
    Rational::from_integer(count.into())
}

fn too_far_apart(name: &str) -> ReduceError {
    let message = format!("the numbers of `{name}` lie too far apart to be added");
    key("column", name, message, "leave those that are no readings out with `where`")
}

/// States a standard uncertainty with its degrees of freedom; none that is zero, which would say that nothing is uncertain.
fn uncertain(quantity: &mut Quantity, standard: Rational, freedom: usize) {
    if standard.is_zero() {
        return;
    }
    quantity.approximate = true;
    quantity.uncertainty = Some(Uncertainty::with_freedom(standard, whole(freedom)));
}

/// The unit of a difference of `y` in one of a time, written as the two are if that reads as the right one.
fn per(y: &Unit, time: &Unit) -> Result<Arc<Unit>, QuantityError> {
    let (y, time) = (y.as_difference(), time.as_difference());
    let one = |unit: &Unit| Quantity::computed(unit.factor.clone(), unit.clone(), true);
    let quotient = one(&y).divide(&one(&time))?;
    let written =
        if y.symbol.is_empty() { format!("1/{}", time.symbol) } else { format!("{}/{}", y.symbol, time.symbol) };
    Ok(as_written(&written, &quotient))
}

/// The unit of `y` times a time.
fn times_unit(y: &Arc<Unit>, time: &Arc<Unit>) -> Result<Arc<Unit>, QuantityError> {
    let one = |unit: &Arc<Unit>| Quantity::computed(unit.factor.clone(), unit.clone(), true);
    let product = one(y).multiply(&one(time))?;
    let written = if y.symbol.is_empty() { time.symbol.clone() } else { format!("{}·{}", y.symbol, time.symbol) };
    Ok(as_written(&written, &product))
}

/// The unit with this symbol, if it is what the quantity is one of; else the coherent one.
fn as_written(symbol: &str, one: &Quantity) -> Arc<Unit> {
    let read = Unit::parse(symbol).ok();
    let same = |unit: &Arc<Unit>| {
        unit.dimension == one.dimension && unit.kind == one.kind && unit.offset.is_zero() && unit.factor == one.value
    };
    read.filter(same).unwrap_or_else(|| Arc::new(Unit::coherent(one.dimension, one.kind)))
}

/// When a condition begins to hold: the index of the row in which it does first, and the time on the line to it.
struct Crossing {
    i: usize,
    time: Rational,
}

/// The time from one crossing to the next.
pub(super) fn time_between(
    selected: &Selected<'_>,
    reduction: &Reduction,
    ambient: Option<&Quantity>,
) -> Result<Reduced, ReduceError> {
    let (time, times) = selected.times()?;
    let read = |name: &'static str, text: &Option<String>| {
        let text = text.as_deref().unwrap_or("");
        one_comparison(name, text, selected, ambient).map(|comparison| Edge { name, text: text.to_owned(), comparison })
    };
    let (from, to) = (read("from", &reduction.from)?, read("to", &reduction.to)?);
    let start = from.first(selected, &times, None)?;
    let end = to.first(selected, &times, Some(&start))?;
    let unit = time.unit.clone();
    let span = unit.span_to_si(&(&end.time - &start.time));
    let marks = [(&from, &start), (&to, &end)].map(|(edge, crossing)| {
        let column = edge.comparison.column;
        let value = selected.column(column).map(|column| column.quantity(&edge.comparison.limit));
        value.map(|value| {
            let mut mark = selected.mark(edge.name, column, crossing.i - 1, value);
            mark.time = Some(time.quantity(&crossing.time));
            mark
        })
    });
    let marks = marks.into_iter().collect::<Result<Vec<_>, _>>()?;
    let exact = unit.exact;
    Ok(selected.result(Quantity::computed(span, unit, exact), marks))
}

/// A condition whose beginning is looked for.
struct Edge {
    name: &'static str,
    text: String,
    comparison: Comparison,
}

impl Edge {
    /// The first time that it begins to hold; not before another crossing, if there is one.
    fn first(
        &self,
        selected: &Selected<'_>,
        times: &[Decimal],
        after: Option<&Crossing>,
    ) -> Result<Crossing, ReduceError> {
        let values = selected.values(self.comparison.column)?;
        let holds = |i: usize| values.get(i).is_some_and(|value| self.comparison.meets(*value));
        if after.is_none() && holds(0) {
            let message = format!("this holds already in the first row, on line {}", selected.line(0));
            let help = "when it began is not in the table: start the data earlier, or choose another condition";
            return Err(key(self.name, &self.text, message, help));
        }
        let earliest = after.map_or(1, |crossing| crossing.i);
        for i in earliest..values.len() {
            if !holds(i) || holds(i - 1) {
                continue;
            }
            selected.check_neighbours(i - 1, i)?;
            let point = |i: usize| (exact(times, i), exact(&values, i));
            let ((t0, y0), (t1, y1)) = (point(i - 1), point(i));
            let time = &t0 + (t1 - &t0) * (&self.comparison.limit - &y0) / (y1 - y0);
            if after.is_none_or(|crossing| time >= crossing.time) {
                return Ok(Crossing { i, time });
            }
        }
        Err(self.never(selected, &values, earliest, after.is_some()))
    }

    fn never(&self, selected: &Selected<'_>, values: &[Decimal], earliest: usize, after: bool) -> ReduceError {
        let upward = matches!(self.comparison.sign, Sign::Above | Sign::AtLeast);
        let later = values.iter().skip(earliest - 1).copied();
        let best = later.reduce(|best, value| {
            let order = value.compare(best);
            if if upward { order.is_gt() } else { order.is_lt() } { value } else { best }
        });
        let column = selected.column(self.comparison.column).ok();
        let reached = column.zip(best).map(|(column, best)| column.quantity(&best.exact()).show()).unwrap_or_default();
        let (word, since) = (if upward { "most" } else { "least" }, if after { " after `from`" } else { "" });
        let message = format!("this never begins to hold{since}; the {word} is {reached}");
        key(
            self.name,
            &self.text,
            message,
            "check the condition against the data; a failure to get there is a result of its own",
        )
    }
}

/// A condition that is one comparison by size, so that it can be said when it begins to hold.
fn one_comparison(
    name: &'static str,
    text: &str,
    selected: &Selected<'_>,
    ambient: Option<&Quantity>,
) -> Result<Comparison, ReduceError> {
    match condition(name, text, selected.table, ambient)? {
        Condition::One(one) if !matches!(one.sign, Sign::Equal | Sign::NotEqual) => Ok(one),
        _ => {
            let help = "write one column, `<` or `>`, and a quantity; what else must hold goes into `where`";
            Err(key(name, text, "when this begins to hold cannot be said", help))
        }
    }
}

/// How often one condition came to hold after another had.
pub(super) fn cycles(
    selected: &Selected<'_>,
    reduction: &Reduction,
    ambient: Option<&Quantity>,
) -> Result<Reduced, ReduceError> {
    let read = |name: &'static str, text: &Option<String>| {
        condition(name, text.as_deref().unwrap_or(""), selected.table, ambient)
    };
    let (from, to) = (read("from", &reduction.from)?, read("to", &reduction.to)?);
    let mut columns = Vec::new();
    [&from, &to].into_iter().for_each(|condition| condition.columns(&mut columns));
    let values = columns.iter().map(|column| selected.values(*column)).collect::<Result<Vec<_>, _>>()?;
    let (mut armed, mut count, mut marks) = (false, 0usize, Vec::new());
    for i in 0..selected.len() {
        let cell = |column: usize| {
            let at = columns.iter().position(|other| *other == column)?;
            values.get(at)?.get(i).copied()
        };
        let gap = |column: usize| selected.gap(selected.row(i), column);
        let (starts, ends) = (from.holds(&cell).map_err(gap)?, to.holds(&cell).map_err(gap)?);
        if starts && ends {
            let text = reduction.to.as_deref().unwrap_or("");
            let message = format!("`from` and `to` both hold on line {}", selected.line(i));
            return Err(key("to", text, message, "leave a gap between them, wider than the noise"));
        }
        if ends && armed {
            count += 1;
            if let Some(column) = columns.last().copied().filter(|_| marks.len() < MAX_MARKS) {
                let number = cell(column).map_or_else(Rational::zero, Decimal::exact);
                marks.push(selected.mark("cycle", column, i, selected.column(column)?.quantity(&number)));
            }
        }
        armed = (armed || starts) && !ends;
    }
    Ok(selected.result(Quantity::computed(whole(count), Unit::none(), true), marks))
}
