//! Conditions on rows: `body < 95 K and not (torque > 2 N·m or "valve open" = 1)`.

use std::cmp::Ordering;
use std::ops::Range;

use super::cells::{Decimal, clearly};
use super::read::instant;
use super::{Column, Holds, Table};
use crate::quantity::{Dimension, Kind, Quantity, Rational, parse_quantity};

/// Longest text of a condition, in bytes.
const MAX_LENGTH: usize = 2000;

/// Deepest nesting of brackets and `not`.
const MAX_DEPTH: usize = 30;

/// What is wrong in the text of a condition.
#[derive(Debug)]
pub(super) struct Wrong {
    pub range: Range<usize>,
    pub message: String,
    pub help: String,
}

impl Wrong {
    pub fn new(range: Range<usize>, message: impl Into<String>, help: impl Into<String>) -> Self {
        Self { range, message: message.into(), help: help.into() }
    }
}

/// A condition that a row meets or not.
#[derive(Debug)]
pub(super) enum Condition {
    One(Comparison),
    Not(Box<Condition>),
    All(Vec<Condition>),
    Any(Vec<Condition>),
}

/// A column held against a number of its own unit.
#[derive(Debug)]
pub(super) struct Comparison {
    pub column: usize,
    pub sign: Sign,
    pub limit: Rational,
    near: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sign {
    Below,
    AtMost,
    Above,
    AtLeast,
    Equal,
    NotEqual,
}

/// The signs, longer ones first.
const SIGNS: [(&str, Sign); 10] = [
    ("<=", Sign::AtMost),
    (">=", Sign::AtLeast),
    ("==", Sign::Equal),
    ("!=", Sign::NotEqual),
    ("≤", Sign::AtMost),
    ("≥", Sign::AtLeast),
    ("≠", Sign::NotEqual),
    ("<", Sign::Below),
    (">", Sign::Above),
    ("=", Sign::Equal),
];

/// Looks up a cell of the row in question by its column; none for a gap.
pub(super) type Look<'a> = &'a dyn Fn(usize) -> Option<Decimal>;

impl Condition {
    /// The columns that it looks at, each once.
    pub fn columns(&self, found: &mut Vec<usize>) {
        match self {
            Self::One(one) if found.contains(&one.column) => {}
            Self::One(one) => found.push(one.column),
            Self::Not(inner) => inner.columns(found),
            Self::All(all) | Self::Any(all) => all.iter().for_each(|one| one.columns(found)),
        }
    }

    /// Whether a row meets it. A gap matters only where the rest does not decide; the error is its column.
    pub fn holds(&self, cell: Look<'_>) -> Result<bool, usize> {
        let any = |all: &[Self], decides: bool| {
            let mut unknown = None;
            for one in all {
                match one.holds(cell) {
                    Ok(holds) if holds == decides => return Ok(decides),
                    Ok(_) => {}
                    Err(gap) => unknown = unknown.or(Some(gap)),
                }
            }
            unknown.map_or(Ok(!decides), Err)
        };
        match self {
            Self::One(comparison) => comparison.holds(cell),
            Self::Not(inner) => inner.holds(cell).map(|holds| !holds),
            Self::All(all) => any(all, false),
            Self::Any(all) => any(all, true),
        }
    }
}

impl Comparison {
    /// Whether the cell of a row meets it; the error is the column, which has a gap there.
    fn holds(&self, cell: Look<'_>) -> Result<bool, usize> {
        cell(self.column).map(|cell| self.meets(cell)).ok_or(self.column)
    }

    /// Whether a number meets it.
    pub fn meets(&self, cell: Decimal) -> bool {
        let order = clearly(cell.double(), self.near).unwrap_or_else(|| cell.exact().cmp(&self.limit));
        match self.sign {
            Sign::Below => order == Ordering::Less,
            Sign::AtMost => order != Ordering::Greater,
            Sign::Above => order == Ordering::Greater,
            Sign::AtLeast => order != Ordering::Less,
            Sign::Equal => order == Ordering::Equal,
            Sign::NotEqual => order != Ordering::Equal,
        }
    }
}

/// Reads a condition against the columns of a table. The ambient pressure lets gauge and absolute pressures meet.
pub(super) fn read(text: &str, table: &Table, ambient: Option<&Quantity>) -> Result<Condition, Wrong> {
    if text.len() > MAX_LENGTH {
        return Err(Wrong::new(0..text.len(), format!("this condition is longer than {MAX_LENGTH} bytes"), HELP));
    }
    let mut reader = Reader { text, at: 0, depth: 0, table, ambient };
    let condition = reader.any()?;
    reader.blank();
    if reader.at < text.len() {
        return Err(Wrong::new(reader.at..text.len(), "this closes no bracket", "take it out, or open the bracket"));
    }
    Ok(condition)
}

const HELP: &str =
    "write a column, a sign and a quantity, such as `body < 95 K`, joined by `and`, `or`, `not` and brackets";

struct Reader<'a> {
    text: &'a str,
    at: usize,
    depth: usize,
    table: &'a Table,
    ambient: Option<&'a Quantity>,
}

impl<'a> Reader<'a> {
    fn rest(&self) -> &'a str {
        self.text.get(self.at..).unwrap_or("")
    }

    fn blank(&mut self) {
        self.at = self.text.len() - self.rest().trim_start().len();
    }

    /// Takes a word, if it stands here.
    fn word(&mut self, word: &str) -> bool {
        self.blank();
        let taken = word_at(self.rest(), word);
        if taken {
            self.at += word.len();
        }
        taken
    }

    fn any(&mut self) -> Result<Condition, Wrong> {
        let mut all = vec![self.all()?];
        while self.word("or") {
            all.push(self.all()?);
        }
        Ok(one_or(all, Condition::Any))
    }

    fn all(&mut self) -> Result<Condition, Wrong> {
        let mut all = vec![self.one()?];
        while self.word("and") {
            all.push(self.one()?);
        }
        Ok(one_or(all, Condition::All))
    }

    fn one(&mut self) -> Result<Condition, Wrong> {
        let start = self.at;
        let not = self.word("not");
        self.blank();
        if !not && !self.rest().starts_with('(') {
            return self.comparison().map(Condition::One);
        }
        self.depth += 1;
        if self.depth > MAX_DEPTH {
            return Err(Wrong::new(start..self.at, "this is nested too deeply", "write a simpler condition"));
        }
        let inner = if not { Condition::Not(Box::new(self.one()?)) } else { self.bracket()? };
        self.depth -= 1;
        Ok(inner)
    }

    fn bracket(&mut self) -> Result<Condition, Wrong> {
        let open = self.at;
        self.at += 1;
        let inner = self.any()?;
        self.blank();
        if !self.rest().starts_with(')') {
            return Err(Wrong::new(open..self.text.len(), "this bracket is not closed", "close it with `)`"));
        }
        self.at += 1;
        Ok(inner)
    }

    fn comparison(&mut self) -> Result<Comparison, Wrong> {
        let column = self.column()?;
        self.blank();
        let Some((written, sign)) = sign_at(self.rest()) else {
            let range = self.at..self.at + self.rest().chars().next().map_or(0, char::len_utf8);
            return Err(Wrong::new(range, "expected `<`, `<=`, `>`, `>=`, `=` or `!=`", HELP));
        };
        self.at += written.len();
        self.blank();
        let (start, length) = (self.at, limit_length(self.rest()));
        let end = start + self.text.get(start..start + length).unwrap_or("").trim_end().len();
        self.at = start + length;
        if let Some((again, _)) = sign_at(self.rest()) {
            let range = self.at..self.at + again.len();
            let help = "join two comparisons by `and`, such as `90 K` and `95 K` in `body > 90 K and body < 95 K`";
            return Err(Wrong::new(range, "a second sign stands in this comparison", help));
        }
        let limit = self.limit(column, start..end)?;
        let near = limit.to_f64().unwrap_or(f64::NAN);
        Ok(Comparison { column, sign, limit, near })
    }

    /// The column at this place: in quotes, or as it is up to the sign.
    fn column(&mut self) -> Result<usize, Wrong> {
        let start = self.at;
        let rest = self.rest();
        let (name, range) = match rest.chars().next().filter(|c| matches!(c, '"' | '\'' | '`')) {
            Some(quote) => {
                let inside = rest.get(1..).unwrap_or("");
                let Some(length) = inside.find(quote) else {
                    return Err(Wrong::new(start..self.text.len(), "this quote is not closed", "close it"));
                };
                self.at += length + 2;
                (inside.get(..length).unwrap_or(""), start..self.at)
            }
            None => {
                let ends = |(at, _): &(usize, char)| sign_at(rest.get(*at..).unwrap_or("")).is_some();
                let length = rest.char_indices().find(ends).map_or(rest.len(), |(at, _)| at);
                let name = rest.get(..length).unwrap_or("").trim_end();
                self.at += length;
                (name, start..start + name.len())
            }
        };
        if name.is_empty() {
            return Err(Wrong::new(range, "expected the name of a column", HELP));
        }
        self.table.column(name).map_err(|error| {
            let is_quantity = parse_quantity(name).is_ok();
            let help =
                if is_quantity { "write the column first, such as `body < 95 K`".to_owned() } else { error.help };
            Wrong::new(range, error.message, help)
        })
    }

    /// What stands at `range`, as a number of the column's unit.
    fn limit(&self, index: usize, range: Range<usize>) -> Result<Rational, Wrong> {
        let text = self.text.get(range.clone()).unwrap_or("");
        let Some(column) = self.table.columns.get(index) else { return Err(Wrong::new(range, "no such column", HELP)) };
        number_of(column, text, self.ambient).map_err(|mut wrong| {
            wrong.range =
                wrong.range.start + range.start..(wrong.range.end + range.start).min(range.end.max(range.start));
            wrong
        })
    }
}

/// A quantity or an instant as a number of a column's unit; of instants the seconds since the first.
pub(super) fn number_of(column: &Column, text: &str, ambient: Option<&Quantity>) -> Result<Rational, Wrong> {
    let all = 0..text.len();
    if column.holds == Holds::Texts {
        let message = format!("column `{}` holds no numbers", column.name);
        return Err(Wrong::new(all, message, "name a column of numbers"));
    }
    if let (Some(zero), Some(at)) = (column.zero, instant(text.trim())) {
        return Ok(Rational::new((i128::from(at) - i128::from(zero)).into(), 1_000_000_000.into()));
    }
    let limit = match parse_quantity(text) {
        Ok(limit) => limit,
        Err(wrong) if column.zero.is_some() => {
            let help =
                "write an instant such as `2026-03-14T10:00:00Z`, or the time since the first row, such as `3.2 s`";
            return Err(Wrong::new(wrong.range, wrong.message, help));
        }
        Err(wrong) => return Err(Wrong::new(wrong.range, wrong.message, wrong.help)),
    };
    if limit.uncertainty.is_some() {
        return Err(Wrong::new(all, "a value that rows are held against has no uncertainty", "write the value alone"));
    }
    let like = column.quantity(&Rational::zero());
    let value = limit.on_scale_of(&like, ambient).map_err(|wrong| {
        let (is, found) = (like.kind.describe(&like.dimension), limit.kind.describe(&limit.dimension));
        let unit = if column.unit.symbol.is_empty() { String::new() } else { format!(" in `{}`", column.unit) };
        let message = format!("column `{}` is {is}{unit}, and `{}` is {found}", column.name, limit.show());
        Wrong::new(all.clone(), message, wrong.help)
    })?;
    Ok(column.unit.from_si(&value))
}

impl Column {
    /// Whether it can be the time of a table.
    pub(super) fn is_time(&self) -> bool {
        let seconds = self.unit.dimension == Dimension::TIME && self.unit.kind == Kind::Plain;
        self.holds == Holds::Instants || (self.holds == Holds::Numbers && seconds)
    }
}

fn one_or(mut all: Vec<Condition>, several: fn(Vec<Condition>) -> Condition) -> Condition {
    match all.pop() {
        Some(only) if all.is_empty() => only,
        Some(last) => {
            all.push(last);
            several(all)
        }
        None => several(all),
    }
}

fn word_at(text: &str, word: &str) -> bool {
    let follows = |rest: &str| !rest.starts_with(|c: char| c.is_alphanumeric() || matches!(c, '_' | '-' | '.'));
    text.strip_prefix(word).is_some_and(follows)
}

fn sign_at(text: &str) -> Option<(&'static str, Sign)> {
    SIGNS.into_iter().find(|(written, _)| text.starts_with(written))
}

/// How long the quantity is that stands here: up to `and`, `or`, another sign, or a bracket that it did not open.
fn limit_length(text: &str) -> usize {
    let mut depth = 0usize;
    let mut after_blank = false;
    for (at, c) in text.char_indices() {
        let rest = text.get(at..).unwrap_or("");
        match c {
            '(' => depth += 1,
            ')' if depth == 0 => return at,
            ')' => depth -= 1,
            _ if depth > 0 => {}
            _ if after_blank && (word_at(rest, "and") || word_at(rest, "or")) => return at,
            _ if sign_at(rest).is_some() => return at,
            _ => {}
        }
        after_blank = c.is_whitespace();
    }
    text.len()
}
