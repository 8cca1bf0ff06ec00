//! The expressions that limits may hold: `1.5 * meop`, `meop + 0.2 MPa`.

use std::collections::BTreeSet;
use std::ops::Range;

use super::extent::quantity_end;
use super::literal::{is_placeholder, parse_quantity};
use super::number::{is_no_number, not_finite};
use super::{MAX_TEXT, Quantity, QuantityError, number};

/// Evaluates a quantity, or `+ - * /` and brackets over quantities and named parameters.
///
/// What reads as one quantity is one: `5 N * m` is a torque. If `m` is also a parameter that is refused, and `m * 5 N` is the
/// way out. Uncertainties of parameters are left out of what is computed, since a limit has none.
///
/// # Errors
/// What [`parse_quantity`] and the arithmetic refuse, unknown names, signs that are not expected.
pub fn evaluate(expr: &str, params: &dyn Fn(&str) -> Option<Quantity>) -> Result<Quantity, QuantityError> {
    let as_quantity = match parse_quantity(expr) {
        Ok(quantity) => return refuse_parameter_as_unit(expr, params).map(|()| quantity),
        Err(error) => error,
    };
    if expr.len() > MAX_TEXT || is_placeholder(expr) {
        return Err(as_quantity);
    }
    let (tokens, error) = tokenize(expr);
    if is_meant_as_quantity(expr, &tokens) {
        return Err(as_quantity);
    }
    if let Some(error) = error {
        return Err(error);
    }
    let mut parser = Parser { text: expr, tokens: &tokens, at: 0, depth: 0, params };
    let result = parser.sum()?;
    if parser.at < tokens.len() {
        return Err(parser.unexpected());
    }
    let shown = result.show();
    Ok(result.with_text(&shown))
}

/// Whether what went wrong is better told as an error in a single quantity.
fn is_meant_as_quantity(expr: &str, tokens: &[Token]) -> bool {
    let has_name = tokens.iter().any(|token| matches!(token.what, What::Name));
    let has_sign = tokens.iter().any(|token| matches!(token.what, What::Sign(sign) if !matches!(sign, '(' | ')')));
    let starts_as_number = expr.trim_start().starts_with(|c: char| c.is_ascii_digit() || "+-−.[<>≤≥±".contains(c));
    let uncertain = expr.contains('±') || expr.contains("+/-");
    tokens.is_empty() || (!has_name && uncertain) || (!has_sign && starts_as_number)
}

/// `2 MPa * h` is megapascal hours, unless somebody has a parameter `h` in mind.
fn refuse_parameter_as_unit(expr: &str, params: &dyn Fn(&str) -> Option<Quantity>) -> Result<(), QuantityError> {
    if !expr.contains([' ', '\t']) || !expr.contains(['*', '/', '·', '×']) {
        return Ok(());
    }
    let (tokens, _) = tokenize(expr);
    for token in tokens.iter().filter(|token| matches!(token.what, What::Name)) {
        let name = &expr[token.range.clone()];
        if params(name).is_some() {
            return Err(QuantityError::new(
                token.range.clone(),
                format!("`{name}` is both a unit and a parameter here"),
                format!("write the unit without spaces, as in `N*m`, or the parameter first: `{name} * …`"),
            ));
        }
    }
    Ok(())
}

/// The names of the parameters that an expression uses, sorted, each once.
pub fn names(expr: &str) -> Vec<String> {
    if parse_quantity(expr).is_ok() || expr.len() > MAX_TEXT || is_placeholder(expr) {
        return Vec::new();
    }
    let (tokens, _) = tokenize(expr);
    let names: BTreeSet<&str> = tokens
        .iter()
        .filter(|token| matches!(token.what, What::Name))
        .map(|token| &expr[token.range.clone()])
        .collect();
    names.into_iter().map(str::to_owned).collect()
}

const HELP: &str = "write quantities and parameter names joined by `+ - * /` and brackets, such as `1.5 * meop`";

struct Token {
    range: Range<usize>,
    what: What,
}

enum What {
    Quantity(Box<Quantity>),
    Name,
    Sign(char),
}

/// The tokens up to the end, or up to an error and that error.
fn tokenize(text: &str) -> (Vec<Token>, Option<QuantityError>) {
    let mut tokens: Vec<Token> = Vec::new();
    let mut at = 0;
    while let Some(c) = text[at..].chars().next() {
        if c.is_whitespace() {
            at += c.len_utf8();
            continue;
        }
        match token(text, at, c, tokens.last()) {
            Ok(token) => {
                at = token.range.end;
                tokens.push(token);
            }
            Err(error) => return (tokens, Some(error)),
        }
    }
    (tokens, None)
}

fn token(text: &str, at: usize, c: char, last: Option<&Token>) -> Result<Token, QuantityError> {
    let after = &text[at + c.len_utf8()..];
    let digit_follows = after.starts_with(|c: char| c.is_ascii_digit());
    // Where a value is expected a sign belongs to the number: `-2 degC` is a temperature, not the negative of one.
    let value_expected = last.is_none_or(|last| matches!(last.what, What::Sign(sign) if sign != ')'));
    if c.is_ascii_digit() || (digit_follows && (c == '.' || (value_expected && matches!(c, '-' | '−' | '+')))) {
        let end = quantity_end(text, at, &|_, _| true)?;
        let quantity = parse_quantity(&text[at..end]).map_err(|error| error.shifted(at))?;
        return Ok(Token { range: at..end, what: What::Quantity(Box::new(quantity)) });
    }
    if c.is_alphabetic() || c == '_' {
        return Ok(Token { range: at..name_end(text, at), what: What::Name });
    }
    let range = at..at + c.len_utf8();
    match operator(c) {
        Some(sign) => Ok(Token { range, what: What::Sign(sign) }),
        None => Err(QuantityError::new(range, format!("`{c}` is not expected here"), HELP)),
    }
}

fn operator(c: char) -> Option<char> {
    match c {
        '−' => Some('-'),
        '·' | '×' => Some('*'),
        '+' | '-' | '*' | '/' | '(' | ')' => Some(c),
        _ => None,
    }
}

fn name_end(text: &str, start: usize) -> usize {
    let part = |c: char| c.is_alphanumeric() || c == '_';
    let mut end = start;
    loop {
        end += text[end..].find(|c| !part(c)).unwrap_or(text.len() - end);
        // A dot joins names, as in `valve.stroke`.
        match text[end..].strip_prefix('.') {
            Some(after) if after.starts_with(part) => end += 1,
            _ => return end,
        }
    }
}

/// Deepest nesting of brackets and signs in an expression.
const MAX_DEPTH: usize = 20;

struct Parser<'a> {
    text: &'a str,
    tokens: &'a [Token],
    at: usize,
    depth: usize,
    params: &'a dyn Fn(&str) -> Option<Quantity>,
}

impl Parser<'_> {
    fn sum(&mut self) -> Result<Quantity, QuantityError> {
        let mut left = self.product()?;
        while let Some((sign, range)) = self.sign(&['+', '-']) {
            let right = self.product()?;
            let result = if sign == '+' { left.add(&right) } else { left.subtract(&right) };
            left = checked(result, range)?;
        }
        Ok(left)
    }

    fn product(&mut self) -> Result<Quantity, QuantityError> {
        let mut left = self.value()?;
        while let Some((sign, range)) = self.sign(&['*', '/']) {
            let right = self.value()?;
            let result = if sign == '*' { left.multiply(&right) } else { left.divide(&right) };
            left = checked(result, range)?;
        }
        Ok(left)
    }

    fn value(&mut self) -> Result<Quantity, QuantityError> {
        if self.depth == MAX_DEPTH {
            let message = "this expression is nested too deep";
            return Err(QuantityError::new(0..self.text.len(), message, "give a part of it a name in parameters.toml"));
        }
        self.depth += 1;
        let value = self.nested_value();
        self.depth -= 1;
        value
    }

    fn nested_value(&mut self) -> Result<Quantity, QuantityError> {
        if let Some((_, range)) = self.sign(&['-']) {
            return self.value()?.negate().map_err(|error| QuantityError { range, ..error });
        }
        if let Some((_, open)) = self.sign(&['(']) {
            let inner = self.sum()?;
            if self.sign(&[')']).is_none() {
                return Err(QuantityError::new(open, "this bracket is not closed", "add `)`"));
            }
            return Ok(inner);
        }
        let Some(token) = self.tokens.get(self.at) else {
            return Err(self.unexpected());
        };
        match &token.what {
            What::Quantity(quantity) => {
                self.at += 1;
                Ok((**quantity).clone())
            }
            What::Name => {
                self.at += 1;
                let name = &self.text[token.range.clone()];
                (self.params)(name).ok_or_else(|| {
                    if is_no_number(name) {
                        return not_finite(token.range.clone(), name);
                    }
                    QuantityError::new(
                        token.range.clone(),
                        format!("there is no parameter `{name}`"),
                        format!(
                            "add `[{name}]` with a `value` to parameters.toml, or write a quantity such as `4.2 MPa`"
                        ),
                    )
                })
            }
            What::Sign(_) => Err(self.unexpected()),
        }
    }

    fn sign(&mut self, wanted: &[char]) -> Option<(char, Range<usize>)> {
        let token = self.tokens.get(self.at)?;
        let What::Sign(sign) = token.what else { return None };
        if !wanted.contains(&sign) {
            return None;
        }
        self.at += 1;
        Some((sign, token.range.clone()))
    }

    fn unexpected(&self) -> QuantityError {
        match self.tokens.get(self.at) {
            Some(token) => {
                let found = &self.text[token.range.clone()];
                QuantityError::new(token.range.clone(), format!("`{found}` is not expected here"), HELP)
            }
            None => QuantityError::new(self.text.len()..self.text.len(), "the expression ends too early", HELP),
        }
    }
}

/// The result of an operation, its error at the sign.
fn checked(result: Result<Quantity, QuantityError>, range: Range<usize>) -> Result<Quantity, QuantityError> {
    match result {
        Ok(value) if number::is_absurd(&value.value) => Err(QuantityError::new(
            range,
            "this comes to a number with more than a thousand digits",
            "check the exponents",
        )),
        Ok(value) => Ok(value),
        Err(error) => Err(QuantityError { range, ..error }),
    }
}
