//! Cuts the text of a calculation into words, signs and quantities.

use std::ops::Range;

use super::parse::MAX_ERRORS;
use super::{CalcError, MAX_TEXT};
use crate::quantity::{Quantity, QuantityError, Unit, parse_quantity, quantity_end, unit_end};

/// A word, a sign or a quantity, and where it stands.
#[derive(Clone, Debug)]
pub(super) struct Token {
    pub range: Range<usize>,
    pub what: What,
}

#[derive(Clone, Debug)]
pub(super) enum What {
    Literal(Box<Literal>),
    Name,
    /// A text in double quotes; the range is of what stands between them.
    Text(Range<usize>),
    Word(Word),
    Sign(Sign),
    /// `to`, with the unit that follows.
    To(Range<usize>),
    /// The end of a statement.
    Break,
    /// Something that is not part of the language; told when it is met.
    Bad(Box<CalcError>),
}

/// A quantity as it stands in the text.
#[derive(Clone, Debug)]
pub(super) struct Literal {
    /// What it reads as; an error waits until the names are known, which may explain it.
    pub quantity: Result<Quantity, QuantityError>,
    /// Where its unit stands.
    pub unit: Range<usize>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Word {
    And,
    Or,
    Not,
    If,
    Then,
    Else,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sign {
    Plus,
    Minus,
    Times,
    Over,
    Power,
    Open,
    Close,
    OpenList,
    CloseList,
    Comma,
    Assign,
    Equal,
    NotEqual,
    Less,
    LessOrEqual,
    Greater,
    GreaterOrEqual,
    PlusMinus,
}

/// The words that no name may be.
pub(super) const KEYWORDS: [&str; 7] = ["to", "and", "or", "not", "if", "then", "else"];

/// Words that say what a pressure is measured from; they follow a unit after a space.
const SUFFIXES: [&str; 5] = ["gauge", "gage", "abs", "absolute", "differential"];

/// The tokens of a text.
pub(super) fn tokens(text: &str) -> Result<Vec<Token>, Vec<CalcError>> {
    if text.len() > MAX_TEXT {
        let message = format!("this calculation is longer than {MAX_TEXT} bytes");
        return Err(vec![CalcError::new(0..text.len(), message, "divide it into several records")]);
    }
    let mut lexer =
        Lexer { text, at: 0, depth: 0, tokens: Vec::new(), uncertain: uncertain_brackets(text), wrong: Vec::new() };
    while lexer.at < text.len() {
        lexer.next();
        if lexer.wrong.len() == MAX_ERRORS {
            return Err(lexer.wrong);
        }
    }
    lexer.push(text.len()..text.len(), What::Break);
    Ok(lexer.tokens)
}

/// Longest quantity in bytes; no look ahead goes further, so that hostile texts cost no more than others.
const WINDOW: usize = crate::quantity::MAX_TEXT;

/// The text up to so far behind a place that one quantity may reach.
fn window(text: &str, from: usize) -> &str {
    let mut end = (from + WINDOW).min(text.len());
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    &text[..end]
}

struct Lexer<'a> {
    text: &'a str,
    at: usize,
    depth: usize,
    tokens: Vec<Token>,
    /// The brackets in which a `±` stands directly: where they open and close, in order.
    uncertain: Vec<Range<usize>>,
    /// What is wrong with quantities so far: to say what was meant takes time.
    wrong: Vec<CalcError>,
}

impl Lexer<'_> {
    fn push(&mut self, range: Range<usize>, what: What) {
        self.at = range.end;
        self.tokens.push(Token { range, what });
    }

    fn bad(&mut self, range: Range<usize>, message: impl Into<String>, help: impl Into<String>) {
        let error = CalcError::new(range.clone(), message, help);
        self.push(range, What::Bad(Box::new(error)));
    }

    fn next(&mut self) {
        let start = self.at;
        let rest = &self.text[start..];
        let Some(c) = rest.chars().next() else { return };
        let one = start..start + c.len_utf8();
        match c {
            '\n' | '\r' if self.depth == 0 => self.push(one, What::Break),
            c if c.is_whitespace() => self.at = one.end,
            '#' => self.at = start + rest.find('\n').unwrap_or(rest.len()),
            ';' => {
                self.depth = 0;
                self.push(one, What::Break);
            }
            '"' => self.quoted(start),
            '(' if self.uncertain.binary_search_by_key(&start, |range| range.start).is_ok() => self.uncertain(start),
            '[' if self.interval_end(start).is_some() => {
                let close = self.interval_end(start).unwrap_or(start + 1);
                self.with_unit(start, close);
            }
            c if c.is_ascii_digit() || (c == '.' && rest[1..].starts_with(|c: char| c.is_ascii_digit())) => {
                self.number(start);
            }
            c if is_name_start(c) => self.name(start),
            _ => self.sign(c, one),
        }
    }

    fn quoted(&mut self, start: usize) {
        let rest = &self.text[start + 1..];
        let end = rest.find(['"', '\n']).unwrap_or(rest.len());
        if rest[end..].starts_with('"') {
            let inner = start + 1..start + 1 + end;
            self.push(start..inner.end + 1, What::Text(inner));
        } else {
            self.bad(start..start + 1 + end, "this text has no end", "add `\"`");
        }
    }

    /// A number with its unit, and perhaps the digits of its standard uncertainty.
    fn number(&mut self, start: usize) {
        match quantity_end(window(self.text, start), start, &takes) {
            Ok(end) => {
                let number = match concise_end(window(self.text, start), start) {
                    Some(close) => return self.with_unit(start, close),
                    None => quantity_end(window(self.text, start), start, &|_, _| false).unwrap_or(end),
                };
                let end = self.bracketed_unit(number, end);
                self.literal(start..end, number..end);
            }
            Err(error) => {
                let error = CalcError::of_quantity(error, 0);
                let end = error.range.end.max(start + 1);
                self.push(start..end, What::Bad(Box::new(error)));
            }
        }
    }

    /// A bracket that holds an uncertain value; the unit may stand behind it.
    fn uncertain(&mut self, start: usize) {
        let close = self.uncertain.binary_search_by_key(&start, |range| range.start);
        let close = close.ok().and_then(|at| self.uncertain.get(at)).map_or(start + 1, |range| range.end);
        if unit_end(window(self.text, close), close, &takes) > close
            || coverage_end(window(self.text, close), close).is_some()
        {
            return self.with_unit(start, close);
        }
        let inner = start + 1..close - 1;
        let quantity = parse_quantity(&self.text[inner.clone()]).map_err(|error| error.shifted(inner.start));
        let unit = inner.clone();
        self.push_literal(start..close, Literal { quantity, unit });
    }

    /// What ends at `close` so far, its unit, and a bracket that says how the uncertainty is meant.
    fn with_unit(&mut self, start: usize, close: usize) {
        let unit = self.bracketed_unit(close, unit_end(window(self.text, close), close, &takes));
        let end = coverage_end(window(self.text, unit), unit).unwrap_or(unit);
        self.literal(start..end, close..unit);
    }

    fn literal(&mut self, range: Range<usize>, unit: Range<usize>) {
        let quantity = parse_quantity(&self.text[range.clone()]).map_err(|error| error.shifted(range.start));
        self.push_literal(range, Literal { quantity, unit });
    }

    fn push_literal(&mut self, range: Range<usize>, literal: Literal) {
        if let Err(error) = &literal.quantity {
            self.wrong.push(CalcError::of_quantity(error.clone(), 0));
        }
        self.push(range, What::Literal(Box::new(literal)));
    }

    /// A bracket that belongs to the unit before it, as in `bar(g)`.
    fn bracketed_unit(&self, start: usize, end: usize) -> usize {
        let rest = &window(self.text, end)[end..];
        if end == start || !rest.starts_with('(') {
            return end;
        }
        let Some(close) = rest.find(')').map(|close| end + close + 1) else { return end };
        if Unit::is_unit(&self.text[start..close]) { close } else { end }
    }

    /// The end of `[9.99, 10.02]` if a unit follows: two ends, not a list.
    fn interval_end(&self, start: usize) -> Option<usize> {
        let rest = &window(self.text, start)[start + 1..];
        let length = rest.find(']')?;
        let numeric = |part: &str| {
            let part = part.trim();
            !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit() || b"+-.eE_".contains(&b))
        };
        let (low, high) = rest[..length].split_once(',')?;
        let close = start + 1 + length + 1;
        let follows = unit_end(window(self.text, close), close, &takes) > close
            || coverage_end(window(self.text, close), close).is_some();
        (numeric(low) && numeric(high) && follows).then_some(close)
    }

    fn name(&mut self, start: usize) {
        let end = name_end(self.text, start);
        let word = match &self.text[start..end] {
            "to" => return self.unit_asked(start, end),
            "and" => Word::And,
            "or" => Word::Or,
            "not" => Word::Not,
            "if" => Word::If,
            "then" => Word::Then,
            "else" => Word::Else,
            _ => return self.push(start..end, What::Name),
        };
        self.push(start..end, What::Word(word));
    }

    fn unit_asked(&mut self, start: usize, end: usize) {
        let gap = self.text[end..].len() - self.text[end..].trim_start_matches([' ', '\u{a0}', '\t']).len();
        let from = end + gap;
        let unit = if self.text[from..].starts_with("1/") { from + 1 } else { from };
        let mut close = unit_end(window(self.text, unit), unit, &|word, first| first || takes(word, false));
        if unit > from && close == unit {
            close = unit_end(window(self.text, from), from, &takes);
        }
        let close = self.bracketed_unit(from, close);
        if KEYWORDS.contains(&&self.text[from..close]) || close == from {
            if self.text[from..].starts_with('1') && !self.text[from + 1..].starts_with(|c: char| c.is_ascii_digit()) {
                return self.push(start..from + 1, What::To(from..from));
            }
            if self.text[from..].starts_with('=') {
                return self.bad(start..end, "`to` is a word of the language", "choose another name, such as `to_1`");
            }
            return self.bad(start..end, "a unit must follow `to`", "write it as in `12 lbf*in to N*m`");
        }
        self.push(start..close, What::To(from..close));
    }

    fn sign(&mut self, c: char, one: Range<usize>) {
        let rest = &self.text[one.start..];
        let two = |sign: &str| rest.starts_with(sign);
        let (sign, length) = match c {
            '+' if two("+/-") => (Sign::PlusMinus, 3),
            '±' => (Sign::PlusMinus, c.len_utf8()),
            '+' => (Sign::Plus, 1),
            '-' | '−' => (Sign::Minus, c.len_utf8()),
            '*' if two("**") => {
                return self.bad(one.start..one.start + 2, "`**` is not a sign here", "write a power with `^`");
            }
            '*' | '·' | '⋅' | '×' => (Sign::Times, c.len_utf8()),
            '/' | '÷' => (Sign::Over, c.len_utf8()),
            '^' => (Sign::Power, 1),
            '(' => (Sign::Open, 1),
            ')' => (Sign::Close, 1),
            '[' => (Sign::OpenList, 1),
            ']' => (Sign::CloseList, 1),
            ',' => (Sign::Comma, 1),
            '=' if two("==") => (Sign::Equal, 2),
            '=' => (Sign::Assign, 1),
            '!' if two("!=") => (Sign::NotEqual, 2),
            '≠' => (Sign::NotEqual, c.len_utf8()),
            '<' if two("<=") => (Sign::LessOrEqual, 2),
            '≤' => (Sign::LessOrEqual, c.len_utf8()),
            '<' => (Sign::Less, 1),
            '>' if two(">=") => (Sign::GreaterOrEqual, 2),
            '≥' => (Sign::GreaterOrEqual, c.len_utf8()),
            '>' => (Sign::Greater, 1),
            _ => return self.unknown(c, one),
        };
        match sign {
            Sign::Open | Sign::OpenList => self.depth += 1,
            Sign::Close | Sign::CloseList => self.depth = self.depth.saturating_sub(1),
            _ => {}
        }
        self.push(one.start..one.start + length, What::Sign(sign));
    }

    fn unknown(&mut self, c: char, one: Range<usize>) {
        let help = match c {
            c if SUPERSCRIPTS.contains(c) => "write a power with `^`, such as `x^2`",
            '%' => "write a number before it, such as `5 %`",
            '\'' => "write a file name in double quotes",
            '&' => "write `and`",
            '|' => "write `or`",
            '!' => "write `not`",
            _ => "write names, quantities and `+ - * / ^`, such as `available / required - 1`",
        };
        let shown: String = c.escape_debug().collect();
        self.bad(one, format!("`{shown}` is not expected here"), help);
    }
}

const SUPERSCRIPTS: &str = "⁰¹²³⁴⁵⁶⁷⁸⁹⁻";

/// Whether a word goes on the unit before it. What is no unit is a name, and `x*y` a product, not a unit.
fn takes(word: &str, first: bool) -> bool {
    if KEYWORDS.contains(&word) {
        return false;
    }
    if first || SUFFIXES.contains(&word) {
        return true;
    }
    if word.starts_with('(') { Unit::is_unit(word) } else { Unit::is_symbol(word) }
}

fn is_name_start(c: char) -> bool {
    c.is_alphabetic() || matches!(c, '_' | '°' | '℃' | '℉')
}

/// True for a character that may go on a name.
pub(super) fn is_name_part(c: char) -> bool {
    is_name_start(c) || (c.is_alphanumeric() && !SUPERSCRIPTS.contains(c))
}

fn name_end(text: &str, start: usize) -> usize {
    let mut end = start;
    loop {
        end += text[end..].find(|c| !is_name_part(c)).unwrap_or(text.len() - end);
        // A dot joins names, as in `valve.stroke`.
        match text[end..].strip_prefix('.') {
            Some(after) if after.starts_with(is_name_part) => end += 1,
            _ => return end,
        }
    }
}

/// The end of `1.32(4)`, an exponent behind it included.
fn concise_end(text: &str, start: usize) -> Option<usize> {
    let number = quantity_end(text, start, &|_, _| false).ok()?;
    let inner = text[number..].strip_prefix('(')?;
    let length = inner.find(|c: char| !(c.is_ascii_digit() || c == '.')).filter(|length| *length > 0)?;
    let after = inner[length..].strip_prefix(')')?;
    let close = text.len() - after.len();
    let Some(exponent) = after.strip_prefix(['e', 'E']) else { return Some(close) };
    let digits = exponent.strip_prefix(['-', '+', '−']).unwrap_or(exponent);
    let count = digits.bytes().take_while(u8::is_ascii_digit).count();
    Some(if count == 0 { close } else { text.len() - digits.len() + count })
}

/// The end of a bracket such as `(k=2)`, `(95 %)` or `(rectangular)`, if one follows.
fn coverage_end(text: &str, from: usize) -> Option<usize> {
    let rest = text[from..].trim_start_matches([' ', '\u{a0}']);
    let inner = rest.strip_prefix('(')?;
    let length = inner.find([')', '\n'])?;
    if !inner[length..].starts_with(')') {
        return None;
    }
    let content = inner[..length].trim().to_lowercase();
    let words = ["normal", "rectangular", "uniform", "triangular", "u-shaped", "arcsine", "trapezoidal", "resolution"];
    let factor = content.strip_prefix('k').is_some_and(|after| after.trim_start().starts_with('='));
    let level = content.starts_with(|c: char| c.is_ascii_digit()) && content.contains('%');
    let freedom = ["nu", "ν", "dof"]
        .iter()
        .any(|word| content.strip_prefix(word).is_some_and(|after| after.trim_start().starts_with('=')));
    let shape = words.iter().any(|word| content.starts_with(word));
    (factor || level || freedom || shape).then_some(text.len() - inner.len() + length + 1)
}

/// The brackets in which a `±` stands directly, in the order in which they open. Brackets inside them, as in `(1 ± 0.1 mm (k=2))`, do not
/// change that.
fn uncertain_brackets(text: &str) -> Vec<Range<usize>> {
    if !text.contains('±') && !text.contains("+/-") {
        return Vec::new();
    }
    let mut open: Vec<(usize, bool)> = Vec::new();
    let mut found = Vec::new();
    let (mut comment, mut quoted) = (false, false);
    for (at, c) in text.char_indices() {
        match c {
            '\n' => (comment, quoted) = (false, false),
            _ if comment => {}
            '"' => quoted = !quoted,
            _ if quoted => {}
            '#' => comment = true,
            ';' => open.clear(),
            '(' => open.push((at, false)),
            ')' => {
                if let Some((start, true)) = open.pop() {
                    found.push(start..at + 1);
                }
            }
            '±' => mark(&mut open),
            '+' if text[at..].starts_with("+/-") => mark(&mut open),
            _ => {}
        }
    }
    found.sort_by_key(|range| range.start);
    found
}

fn mark(open: &mut [(usize, bool)]) {
    if let Some(last) = open.last_mut() {
        last.1 = true;
    }
}
