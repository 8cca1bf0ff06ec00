//! A statement taken apart: tokens with their roles, the values in it, where each "shall" stands.
//!
//! Everything here is worked out once; the matchers only look. Looking past either end gives an empty word, so that they need no bounds.

use super::tokens::{Gap, Kind, Role, Token, tokens};
use super::units::{Dimension, Unit, unit_at};
use super::{Context, words};

/// A number, with its unit if one follows.
#[derive(Clone, Debug)]
pub(super) struct Quantity {
    /// Index of the number's token.
    pub token: usize,
    pub value: f64,
    pub unit: Option<Unit>,
    /// The unit was written after a later number of the same range or list.
    pub inherited: bool,
    /// What follows `+/-`.
    pub tolerance: bool,
    /// Names something (step 4, level 100, 2nd): is no value.
    pub label: bool,
}

/// A statement and what was found in it.
pub(super) struct Statement<'a> {
    pub source: &'a str,
    lower: String,
    tokens: Vec<Token>,
    pub quantities: Vec<Quantity>,
    /// Token indexes of "shall".
    pub shalls: Vec<usize>,
    /// The first token of the first list item after the lead, or the number of tokens.
    pub list: usize,
}

impl<'a> Statement<'a> {
    pub(super) fn new(source: &'a str, context: &Context) -> Self {
        let mut statement = Statement {
            source,
            lower: source.to_ascii_lowercase(),
            tokens: tokens(source),
            quantities: Vec::new(),
            shalls: Vec::new(),
            list: 0,
        };
        statement.find_names(context);
        statement.find_quantities();
        statement.shalls = (0..statement.len()).filter(|at| statement.word(*at) == "shall").collect();
        let first_item = (1..statement.len()).find(|at| statement.gap(*at) == Some(Gap::Item));
        statement.list = first_item.unwrap_or(statement.len());
        statement
    }

    /// How many tokens there are.
    pub(super) fn len(&self) -> usize {
        self.tokens.len()
    }

    pub(super) fn token(&self, at: usize) -> Option<&Token> {
        self.tokens.get(at)
    }

    pub(super) fn kind(&self, at: usize) -> Option<Kind> {
        self.tokens.get(at).map(|token| token.kind)
    }

    pub(super) fn gap(&self, at: usize) -> Option<Gap> {
        self.tokens.get(at).map(|token| token.gap)
    }

    pub(super) fn role(&self, at: usize) -> Option<Role> {
        self.tokens.get(at).map(|token| token.role)
    }

    /// Whether nothing stands between this token and the one before.
    pub(super) fn glued(&self, at: usize) -> bool {
        at > 0 && self.gap(at) == Some(Gap::None)
    }

    /// The token as written; empty past the ends.
    pub(super) fn raw(&self, at: usize) -> &str {
        self.tokens.get(at).map_or("", |token| &self.source[token.start..token.end])
    }

    /// The text from one token to another, both included; empty if there is no such token.
    pub(super) fn between(&self, first: usize, last: usize) -> &str {
        match (self.tokens.get(first), self.tokens.get(last)) {
            (Some(from), Some(to)) if from.start < to.end => &self.source[from.start..to.end],
            _ => "",
        }
    }

    /// The word in lower case; empty for anything but a word of prose.
    pub(super) fn word(&self, at: usize) -> &str {
        match self.tokens.get(at) {
            Some(token) if token.kind == Kind::Word && token.role == Role::Plain => &self.lower[token.start..token.end],
            _ => "",
        }
    }

    /// The word before `at`; empty at the start.
    pub(super) fn word_before(&self, at: usize) -> &str {
        at.checked_sub(1).map_or("", |before| self.word(before))
    }

    /// The mark; empty for anything else.
    pub(super) fn mark(&self, at: usize) -> &str {
        match self.tokens.get(at) {
            Some(token) if token.kind == Kind::Mark => &self.source[token.start..token.end],
            _ => "",
        }
    }

    pub(super) fn mark_before(&self, at: usize) -> &str {
        at.checked_sub(1).map_or("", |before| self.mark(before))
    }

    /// Whether the token is part of a compound joined by a hyphen on the left.
    pub(super) fn hyphen_before(&self, at: usize) -> bool {
        self.mark_before(at) == "-" && self.glued(at) && at.checked_sub(1).is_some_and(|hyphen| self.glued(hyphen))
    }

    /// Whether the token is part of a compound joined by a hyphen on the right.
    pub(super) fn hyphen_after(&self, at: usize) -> bool {
        self.mark(at + 1) == "-" && self.glued(at + 1) && self.glued(at + 2)
    }

    /// Whether a clause can end before `at`: a mark that closes, or the end.
    pub(super) fn ends_at(&self, at: usize) -> bool {
        at >= self.len()
            || matches!(self.mark(at), "." | "," | ";" | ":" | ")" | "]" | "!" | "?")
            || self.gap(at) == Some(Gap::Item)
    }

    /// Whether a word of the statement is in `words`, which must be in lower case.
    pub(super) fn has_word(&self, words: &[&str]) -> bool {
        (0..self.len()).any(|at| words.contains(&self.word(at)))
    }

    /// The value whose number is the token `at`.
    pub(super) fn quantity_at(&self, at: usize) -> Option<&Quantity> {
        self.quantities.binary_search_by(|quantity| quantity.token.cmp(&at)).ok().map(|found| &self.quantities[found])
    }

    /// Whether any value (not a label) stands at or after the token `at`.
    pub(super) fn value_after(&self, at: usize) -> bool {
        self.quantities.last().is_some_and(|last| last.token >= at && !last.label)
    }

    /// Gives the tokens of ids, file names and designations the role of names.
    fn find_names(&mut self, context: &Context) {
        let mut at = 0;
        while at < self.len() {
            let mut end = at + 1;
            while end < self.len()
                && self.glued(end)
                && (self.kind(end) != Some(Kind::Mark) || matches!(self.mark(end), "-" | "/" | "_" | "." | ":"))
            {
                end += 1;
            }
            let mut last = end;
            while last > at && self.kind(last - 1) == Some(Kind::Mark) {
                last -= 1;
            }
            if last > at && self.kind(at) != Some(Kind::Mark) {
                self.name_run(at, last, context);
            }
            at = end.max(at + 1);
        }
    }

    /// Decides for one run of glued tokens; if it is no name, for each part between obliques.
    fn name_run(&mut self, first: usize, end: usize, context: &Context) {
        if self.is_name(first, end, context) {
            self.set_role(first, end, Role::Name);
            return;
        }
        let mut start = first;
        for at in first..=end {
            if at == end || matches!(self.mark(at), "/" | ":") {
                if at > start && (start, at) != (first, end) && self.is_name(start, at, context) {
                    self.set_role(start, at, Role::Name);
                }
                start = at + 1;
            }
        }
    }

    fn is_name(&self, first: usize, end: usize, context: &Context) -> bool {
        let (Some(from), Some(to)) = (self.token(first), self.token(end - 1)) else {
            return false;
        };
        if from.role == Role::Name {
            return true;
        }
        let text = &self.source[from.start..to.end];
        let upper = text.bytes().filter(u8::is_ascii_uppercase).count();
        let digit = text.bytes().any(|byte| byte.is_ascii_digit());
        let single = end - first == 1;
        if single && upper == 0 && !digit {
            return false; // as nearly every word is
        }
        if from.kind == Kind::Word && (upper > 0 || digit || !single) && (context.ids)(text) {
            return true;
        }
        if from.kind == Kind::Number || (single && super::units::is_unit(text)) {
            return false;
        }
        let lower = text.bytes().any(|byte| byte.is_ascii_lowercase());
        let file = (first + 1..end).any(|at| self.mark(at) == "." && self.raw(at + 1).len() >= 2)
            && self.mark(first + 1) != "/";
        upper > 0 && digit && !lower || file
    }

    fn set_role(&mut self, first: usize, end: usize, role: Role) {
        for token in &mut self.tokens[first..end] {
            token.role = role;
        }
    }

    fn find_quantities(&mut self) {
        let mut at = 0;
        while at < self.len() {
            if self.kind(at) != Some(Kind::Number) || self.role(at) != Some(Role::Plain) {
                at += 1;
                continue;
            }
            let (value, end) = self.value(at);
            let unit = unit_at(self, end);
            let tolerance = matches!(self.mark_before(at), "+/-" | "+-" | "±");
            let label = unit.is_none() && self.is_label(at, end);
            let next = unit.as_ref().map_or(end, |unit| unit.end);
            if unit.is_some() {
                self.set_role(end, next, Role::Unit);
            }
            self.quantities.push(Quantity { token: at, value, unit, inherited: false, tolerance, label });
            at = next.max(at + 1);
        }
        self.share_units();
    }

    /// The value of the number at `at` with its sign and power of ten, and one past its last token.
    fn value(&self, at: usize) -> (f64, usize) {
        let mut value = number(self.raw(at));
        let mut end = at + 1;
        if matches!(self.mark(end), "×" | "*" | "·") || self.raw(end) == "x" {
            if self.raw(end + 1) == "10" && self.mark(end + 2) == "^" && self.glued(end + 2) {
                let sign = usize::from(matches!(self.mark(end + 3), "-" | "−"));
                let power = number(self.raw(end + 3 + sign));
                value *= 10f64.powf(if sign == 1 { -power } else { power });
                end += 4 + sign;
            } else if self.raw(end + 1) == "10" && self.glued(end + 2) && superscript(self.raw(end + 2)).is_some() {
                end += 2;
                let mut power = String::new();
                while let Some(digit) = superscript(self.raw(end)).filter(|_| self.glued(end)) {
                    power.push(digit);
                    end += 1;
                }
                value *= 10f64.powf(power.parse().unwrap_or(0.0));
            }
        }
        // A hyphen before a number is a sign only where nothing stands right before it.
        let signed = at
            .checked_sub(1)
            .is_some_and(|sign| matches!(self.mark(sign), "-" | "−") && self.glued(at) && !self.glued(sign));
        (if signed { -value } else { value }, end)
    }

    /// Whether the number names something instead of measuring it.
    fn is_label(&self, at: usize, end: usize) -> bool {
        let ordinal = self.glued(end) && matches!(self.word(end), "st" | "nd" | "rd" | "th");
        let joined =
            self.glued(end) && self.mark(end) == "-" && self.kind(end + 1) == Some(Kind::Word) && self.glued(end + 1);
        let before = if self.mark_before(at) == "." {
            at.checked_sub(2).map_or("", |no| self.word(no))
        } else {
            self.word_before(at)
        };
        let edition = self.mark_before(at) == ":" && self.glued(at);
        let standard = at.checked_sub(1).is_some_and(|body| words::STANDARDS.contains(&self.raw(body)));
        ordinal || joined || edition || standard || words::LABELLED.contains(&before)
    }

    /// "2 to 6 g/s", "90 ± 1 K", "2.0 and 4.0 MPa": the first number has the unit of the second.
    fn share_units(&mut self) {
        for index in (1..self.quantities.len()).rev() {
            let (first, second) = (self.quantities[index - 1].token, self.quantities[index].token);
            let one_apart = second == first + 2
                && (matches!(self.word(first + 1), "to" | "and" | "or")
                    || matches!(self.mark(first + 1), "+/-" | "+-" | "±" | "-" | "–" | "," | "/" | ".."));
            if one_apart && self.quantities[index - 1].unit.is_none() && self.quantities[index].unit.is_some() {
                self.quantities[index - 1].unit = self.quantities[index].unit.clone();
                self.quantities[index - 1].inherited = true;
                self.quantities[index - 1].label = false;
            }
        }
    }
}

/// The number as written, with commas between thousands left out.
fn number(text: &str) -> f64 {
    let digits = text.split('(').next().unwrap_or("");
    if digits.contains(',') {
        let decimal = digits.matches(',').count() == 1 && digits.rsplit(',').next().is_some_and(|tail| tail.len() != 3);
        return digits.replace(',', if decimal { "." } else { "" }).parse().unwrap_or(f64::NAN);
    }
    digits.parse().unwrap_or(f64::NAN)
}

fn superscript(text: &str) -> Option<char> {
    match text {
        "⁻" => Some('-'),
        "⁰" => Some('0'),
        "¹" => Some('1'),
        "²" => Some('2'),
        "³" => Some('3'),
        "⁴" => Some('4'),
        "⁵" => Some('5'),
        "⁶" => Some('6'),
        "⁷" => Some('7'),
        "⁸" => Some('8'),
        "⁹" => Some('9'),
        _ => None,
    }
}

impl Quantity {
    /// The first token of the value: its sign, or its number.
    pub(super) fn first(&self) -> usize {
        self.token - usize::from(self.value < 0.0)
    }

    /// Whether this is a value of something measured, not counted or named.
    pub(super) fn is_measured(&self) -> bool {
        !self.label && self.unit.as_ref().is_some_and(|unit| unit.scale.dimension != Dimension::Count)
    }
}
