//! Makes a tree of the tokens.

use std::ops::Range;

use super::functions::{FUNCTIONS, Function};
use super::lex::{Literal, Sign, Token, What, Word, tokens};
use super::syntax::{Binary, Compare, Expr, Id, Node, Statement};
use super::{CalcError, MAX_DEPTH, MAX_STATEMENTS};
use crate::quantity::parse_quantity;

/// The statements of a text and the nodes that they are made of.
pub(super) struct Parsed {
    pub statements: Vec<Statement>,
    pub nodes: Vec<Node>,
}

/// Most errors that are told of one calculation.
pub(super) const MAX_ERRORS: usize = 20;

/// Reads a text; the last statement may be without a name if `answer` says so.
pub(super) fn read(text: &str, answer: bool) -> Result<Parsed, Vec<CalcError>> {
    let tokens = tokens(text)?;
    let mut parser = Parser { text, tokens: &tokens, at: 0, depth: 0, nodes: Vec::new() };
    let (mut statements, mut errors) = (Vec::new(), Vec::new());
    while parser.at < tokens.len() {
        if matches!(tokens[parser.at].what, What::Break) {
            parser.at += 1;
            continue;
        }
        if statements.len() == MAX_STATEMENTS {
            let range = tokens[parser.at].range.clone();
            let message = format!("this calculation has more than {MAX_STATEMENTS} assignments");
            errors.push(CalcError::new(range, message, "divide it into several records"));
            break;
        }
        let kept = parser.nodes.len();
        match parser.statement(answer) {
            Ok(statement) => statements.push(statement),
            Err(error) => {
                errors.push(*error);
                parser.nodes.truncate(kept);
                parser.skip();
                if errors.len() == MAX_ERRORS {
                    break;
                }
            }
        }
    }
    if statements.is_empty() && errors.is_empty() {
        errors.push(CalcError::new(
            0..text.len(),
            "there is no calculation here",
            "write an assignment such as `margin = available / required - 1`",
        ));
    }
    if errors.is_empty() { Ok(Parsed { statements, nodes: parser.nodes }) } else { Err(errors) }
}

/// Boxed, since it is passed up through many levels.
type Outcome<T> = Result<T, Box<CalcError>>;

struct Parser<'a> {
    text: &'a str,
    tokens: &'a [Token],
    at: usize,
    depth: usize,
    nodes: Vec<Node>,
}

impl Parser<'_> {
    fn statement(&mut self, answer: bool) -> Outcome<Statement> {
        let first = self.tokens[self.at].clone();
        let assigned = matches!(self.tokens.get(self.at + 1), Some(Token { what: What::Sign(Sign::Assign), .. }));
        let name = match first.what {
            What::Name if assigned => {
                self.check_name(&first.range)?;
                self.at += 2;
                first.range.clone()
            }
            What::Word(_) | What::To(_) if assigned => return Err(self.reserved(&first.range)),
            _ if answer && self.is_last() => first.range.start..first.range.start,
            _ => return Err(self.nameless(&first)),
        };
        let start = self.nodes.len();
        match self.whole_quantity() {
            Some(quantity) => self.uncertain_quantity(quantity)?,
            None => self.expression().map(|_| ())?,
        }
        match self.tokens.get(self.at) {
            Some(Token { what: What::Break, .. }) | None => {}
            Some(_) => return Err(self.unexpected()),
        }
        let whole = self.nodes.last().map_or(0..0, |node| node.range.clone());
        Ok(Statement { name, expression: whole, nodes: start..self.nodes.len() })
    }

    fn check_name(&self, range: &Range<usize>) -> Outcome<()> {
        let name = &self.text[range.clone()];
        if Function::named(name).is_some() {
            return Err(fail(
                range,
                format!("`{name}` is a function"),
                format!("choose another name, such as `{name}_1`"),
            ));
        }
        if name.contains(['.', '°', '℃', '℉']) {
            return Err(fail(range, format!("`{name}` is not a name"), "use letters, digits and `_`"));
        }
        Ok(())
    }

    fn reserved(&self, range: &Range<usize>) -> Box<CalcError> {
        let word = self.text[range.clone()].split_whitespace().next().unwrap_or("to");
        fail(range, format!("`{word}` is a word of the language"), format!("choose another name, such as `{word}_1`"))
    }

    fn nameless(&self, first: &Token) -> Box<CalcError> {
        if let What::Bad(error) = &first.what {
            return error.clone();
        }
        let end = self.tokens[self.at..].iter().find(|token| matches!(token.what, What::Break));
        let range = first.range.start..end.map_or(first.range.end, |end| end.range.start);
        fail(&range, "this has no name", "write `name = …`, such as `margin = available / required - 1`")
    }

    /// Whether no other statement follows.
    fn is_last(&self) -> bool {
        let rest = &self.tokens[self.at..];
        let end = rest.iter().position(|token| matches!(token.what, What::Break)).unwrap_or(rest.len());
        rest[end..].iter().all(|token| matches!(token.what, What::Break))
    }

    /// Where a right side is one uncertain quantity without brackets, the number of its tokens.
    fn whole_quantity(&self) -> Option<usize> {
        let mut depth = 0usize;
        let mut uncertain = false;
        for (count, token) in self.tokens[self.at..].iter().enumerate() {
            match &token.what {
                What::Break | What::To(_) => return uncertain.then_some(count),
                What::Sign(Sign::Open | Sign::OpenList) => depth += 1,
                What::Sign(Sign::Close | Sign::CloseList) => depth = depth.saturating_sub(1),
                What::Sign(Sign::PlusMinus) if depth == 0 => uncertain = true,
                _ => {}
            }
        }
        None
    }

    fn uncertain_quantity(&mut self, count: usize) -> Outcome<()> {
        let start = self.tokens[self.at].range.start;
        self.at += count;
        let end = self.tokens[self.at - 1].range.end;
        let quantity = parse_quantity(&self.text[start..end]).map_err(|error| error.shifted(start));
        if let Err(error) = &quantity
            && self.text[start..end].contains(['(', '*'])
            && error.message.contains("not expected")
        {
            return Err(Box::new(CalcError::new(error.range.clone(), error.message.clone(), BRACKETS)));
        }
        let literal = Literal { quantity, unit: start..end };
        let node = self.push(start..end, Expr::Literal(Box::new(literal)));
        self.asked(node).map(|_| ())
    }

    /// Goes on behind the end of the statement.
    fn skip(&mut self) {
        while self.at < self.tokens.len() && !matches!(self.tokens[self.at].what, What::Break) {
            self.at += 1;
        }
        self.depth = 0;
    }

    fn push(&mut self, range: Range<usize>, expr: Expr) -> Id {
        self.nodes.push(Node { range, expr });
        self.nodes.len() - 1
    }

    fn span(&self, a: Id, b: Id) -> Range<usize> {
        self.nodes[a].range.start..self.nodes[b].range.end
    }

    fn sign(&mut self, wanted: &[Sign]) -> Option<(Sign, Range<usize>)> {
        let token = self.tokens.get(self.at)?;
        let What::Sign(sign) = token.what else { return None };
        if !wanted.contains(&sign) {
            return None;
        }
        self.at += 1;
        Some((sign, token.range.clone()))
    }

    fn word(&mut self, wanted: Word) -> Option<Range<usize>> {
        let token = self.tokens.get(self.at)?;
        if !matches!(token.what, What::Word(word) if word == wanted) {
            return None;
        }
        self.at += 1;
        Some(token.range.clone())
    }

    /// One level deeper; brackets, signs, powers and conditions count.
    fn deeper<T>(&mut self, inner: impl FnOnce(&mut Self) -> Outcome<T>) -> Outcome<T> {
        if self.depth == MAX_DEPTH {
            let range = self.tokens.get(self.at).map_or(self.text.len()..self.text.len(), |token| token.range.clone());
            return Err(fail(
                &range,
                "this is nested too deep",
                "give a part of it a name in an assignment of its own",
            ));
        }
        self.depth += 1;
        let outcome = inner(self);
        self.depth -= 1;
        outcome
    }

    /// A condition or a sum, and the unit asked for.
    fn expression(&mut self) -> Outcome<Id> {
        let inner = self.conditional()?;
        self.asked(inner)
    }

    fn asked(&mut self, mut inner: Id) -> Outcome<Id> {
        while let Some(Token { range, what: What::To(unit) }) = self.tokens.get(self.at) {
            self.at += 1;
            let whole = self.nodes[inner].range.start..range.end;
            inner = self.push(whole, Expr::To(inner, unit.clone()));
        }
        Ok(inner)
    }

    fn conditional(&mut self) -> Outcome<Id> {
        let Some(start) = self.word(Word::If) else { return self.either() };
        self.deeper(|parser| {
            let condition = parser.either()?;
            parser.expect(Word::Then, "then")?;
            let yes = parser.conditional()?;
            parser.expect(Word::Else, "else")?;
            let no = parser.conditional()?;
            let range = start.start..parser.nodes[no].range.end;
            Ok(parser.push(range, Expr::If(condition, yes, no)))
        })
    }

    fn expect(&mut self, word: Word, text: &str) -> Outcome<()> {
        if self.word(word).is_some() {
            return Ok(());
        }
        let mut error = self.unexpected();
        error.help = format!("write `{text}` here: `if condition then value else other`");
        Err(error)
    }

    fn either(&mut self) -> Outcome<Id> {
        let mut left = self.both()?;
        while self.word(Word::Or).is_some() {
            let right = self.both()?;
            left = self.push(self.span(left, right), Expr::Either(left, right));
        }
        Ok(left)
    }

    fn both(&mut self) -> Outcome<Id> {
        let mut left = self.negated()?;
        while self.word(Word::And).is_some() {
            let right = self.negated()?;
            left = self.push(self.span(left, right), Expr::Both(left, right));
        }
        Ok(left)
    }

    fn negated(&mut self) -> Outcome<Id> {
        let Some(start) = self.word(Word::Not) else { return self.comparison() };
        let inner = self.deeper(Self::negated)?;
        let range = start.start..self.nodes[inner].range.end;
        Ok(self.push(range, Expr::Not(inner)))
    }

    fn comparison(&mut self) -> Outcome<Id> {
        let left = self.sum()?;
        let Some((compare, _)) = self.comparison_sign() else { return Ok(left) };
        let right = self.sum()?;
        if let Some((_, range)) = self.comparison_sign() {
            let help = "write `a < b and b < c`";
            return Err(fail(&range, "two comparisons in a row could be read in two ways", help));
        }
        Ok(self.push(self.span(left, right), Expr::Compare(compare, left, right)))
    }

    fn comparison_sign(&mut self) -> Option<(Compare, Range<usize>)> {
        let signs = [Sign::Equal, Sign::NotEqual, Sign::Less, Sign::LessOrEqual, Sign::Greater, Sign::GreaterOrEqual];
        let (sign, range) = self.sign(&signs)?;
        let compare = match sign {
            Sign::NotEqual => Compare::NotEqual,
            Sign::Less => Compare::Less,
            Sign::LessOrEqual => Compare::LessOrEqual,
            Sign::Greater => Compare::Greater,
            Sign::GreaterOrEqual => Compare::GreaterOrEqual,
            _ => Compare::Equal,
        };
        Some((compare, range))
    }

    fn sum(&mut self) -> Outcome<Id> {
        let mut left = self.product()?;
        while let Some((sign, _)) = self.sign(&[Sign::Plus, Sign::Minus]) {
            let right = self.product()?;
            let binary = if sign == Sign::Plus { Binary::Add } else { Binary::Subtract };
            left = self.push(self.span(left, right), Expr::Binary(binary, left, right));
        }
        Ok(left)
    }

    fn product(&mut self) -> Outcome<Id> {
        let mut left = self.signed()?;
        while let Some((sign, _)) = self.sign(&[Sign::Times, Sign::Over]) {
            let right = self.signed()?;
            let binary = if sign == Sign::Times { Binary::Multiply } else { Binary::Divide };
            left = self.push(self.span(left, right), Expr::Binary(binary, left, right));
        }
        Ok(left)
    }

    fn signed(&mut self) -> Outcome<Id> {
        let Some((sign, range)) = self.sign(&[Sign::Minus, Sign::Plus]) else { return self.power() };
        self.deeper(|parser| {
            if sign == Sign::Minus
                && let Some(literal) = parser.negative_literal(&range)
            {
                return Ok(literal);
            }
            let inner = parser.signed()?;
            if sign == Sign::Plus {
                return Ok(inner);
            }
            let whole = range.start..parser.nodes[inner].range.end;
            Ok(parser.push(whole, Expr::Negative(inner)))
        })
    }

    /// A minus belongs to the number behind it: `-2 degC` is a temperature, not the negative of one. But `-2^2` is minus four.
    fn negative_literal(&mut self, sign: &Range<usize>) -> Option<Id> {
        let token = self.tokens.get(self.at)?;
        let What::Literal(literal) = &token.what else { return None };
        let powered = matches!(self.tokens.get(self.at + 1), Some(Token { what: What::Sign(Sign::Power), .. }));
        if powered || !self.text[token.range.clone()].starts_with(|c: char| c.is_ascii_digit() || c == '.') {
            return None;
        }
        let written = format!("-{}", &self.text[token.range.clone()]);
        let shift = token.range.start.saturating_sub(1);
        let quantity = parse_quantity(&written).map_err(|error| error.shifted(shift));
        let literal = Literal { quantity, unit: literal.unit.clone() };
        self.at += 1;
        Some(self.push(sign.start..token.range.end, Expr::Literal(Box::new(literal))))
    }

    fn power(&mut self) -> Outcome<Id> {
        let base = self.primary()?;
        if self.sign(&[Sign::Power]).is_none() {
            return Ok(base);
        }
        // To the right: 2^3^2 is 2^9. A sign may stand in the exponent.
        let exponent = self.deeper(Self::signed)?;
        Ok(self.push(self.span(base, exponent), Expr::Binary(Binary::Power, base, exponent)))
    }

    fn primary(&mut self) -> Outcome<Id> {
        let Some(token) = self.tokens.get(self.at) else { return Err(self.unexpected()) };
        match &token.what {
            What::Literal(literal) => {
                self.at += 1;
                Ok(self.push(token.range.clone(), Expr::Literal(literal.clone())))
            }
            What::Name => self.name(token.range.clone()),
            What::Sign(Sign::Open) => {
                self.at += 1;
                let inner = self.deeper(Self::expression)?;
                let close = self.close(&token.range, Sign::Close, ")")?;
                self.nodes[inner].range = token.range.start..close.end;
                Ok(inner)
            }
            What::Sign(Sign::OpenList) => {
                self.at += 1;
                let items = self.deeper(|parser| parser.items(Sign::CloseList))?;
                let close = self.close(&token.range, Sign::CloseList, "]")?;
                Ok(self.push(token.range.start..close.end, Expr::List(items)))
            }
            What::Text(_) => Err(fail(
                &token.range,
                "a text is only used to name a table",
                "write it as in `table(\"file.csv\", x)`",
            )),
            _ => Err(self.unexpected()),
        }
    }

    fn name(&mut self, range: Range<usize>) -> Outcome<Id> {
        self.at += 1;
        let name = &self.text[range.clone()];
        let opens = matches!(self.tokens.get(self.at), Some(Token { what: What::Sign(Sign::Open), .. }));
        let uncertain = self.tokens.get(self.at).is_some_and(|token| {
            matches!(token.what, What::Literal(_)) && self.text[token.range.clone()].starts_with('(')
        });
        let function = Function::named(name);
        match function {
            Some(function) if opens || uncertain => self.call(function, range),
            Some(function) => {
                Err(fail(&range, format!("`{name}` is a function"), format!("write `{}`", function.usage())))
            }
            None if opens => Err(self.no_function(name, &range)),
            None => Ok(self.push(range.clone(), Expr::Name(range))),
        }
    }

    fn no_function(&self, name: &str, range: &Range<usize>) -> Box<CalcError> {
        let near =
            FUNCTIONS.iter().map(|(known, _, _)| (strsim::damerau_levenshtein(known, &name.to_lowercase()), *known));
        let help = match near.min().filter(|(distance, known)| *distance <= known.len() / 3) {
            Some((_, known)) => format!("write `{known}(…)`, or `{name} * (…)` if `{name}` is a value"),
            None => format!("write `{name} * (…)` if `{name}` is a value"),
        };
        fail(range, format!("there is no function `{name}`"), help)
    }

    fn call(&mut self, function: Function, name: Range<usize>) -> Outcome<Id> {
        let open = self.tokens[self.at].range.clone();
        if !matches!(self.tokens[self.at].what, What::Sign(Sign::Open)) {
            // `sqrt(4.0 ± 0.1 m)`: the bracket is that of the call and of the value at once.
            let argument = self.deeper(Self::primary)?;
            let range = name.start..self.nodes[argument].range.end;
            return Ok(self.push(range, Expr::Call(function, vec![argument])));
        }
        self.at += 1;
        let items = self.deeper(|parser| parser.items(Sign::Close))?;
        let close = self.close(&open, Sign::Close, ")")?;
        Ok(self.push(name.start..close.end, Expr::Call(function, items)))
    }

    fn items(&mut self, close: Sign) -> Outcome<Vec<Id>> {
        let mut items = Vec::new();
        if matches!(self.tokens.get(self.at), Some(Token { what: What::Sign(sign), .. }) if *sign == close) {
            return Ok(items);
        }
        loop {
            let item = match self.tokens.get(self.at) {
                Some(Token { range, what: What::Text(inner) }) => {
                    self.at += 1;
                    self.push(range.clone(), Expr::Text(inner.clone()))
                }
                _ => self.expression()?,
            };
            items.push(item);
            if self.sign(&[Sign::Comma]).is_none() {
                return Ok(items);
            }
        }
    }

    fn close(&mut self, open: &Range<usize>, close: Sign, text: &str) -> Outcome<Range<usize>> {
        if let Some((_, range)) = self.sign(&[close]) {
            return Ok(range);
        }
        match self.tokens.get(self.at) {
            Some(Token { what: What::Break, .. }) | None => {
                Err(fail(open, "this bracket is not closed", format!("add `{text}`")))
            }
            Some(_) => Err(Box::new(self.unexpected().and(open.clone(), "opened here"))),
        }
    }

    fn unexpected(&self) -> Box<CalcError> {
        let here = self.text.len()..self.text.len();
        let Some(token) = self.tokens.get(self.at) else { return fail(&here, "this ends too early", "complete it") };
        let found = &self.text[token.range.clone()];
        let after_value = self.at.checked_sub(1).and_then(|at| self.tokens.get(at)).is_some_and(|token| {
            matches!(token.what, What::Literal(_) | What::Name | What::Sign(Sign::Close | Sign::CloseList))
        });
        match &token.what {
            What::Bad(error) => error.clone(),
            What::Break => fail(
                &(token.range.start..token.range.start),
                "the expression ends too early",
                "complete it, or put it in brackets if it goes on in the next line",
            ),
            What::Sign(Sign::PlusMinus) => fail(&token.range, "an uncertain value needs brackets here", BRACKETS),
            What::Sign(Sign::Assign) => fail(
                &token.range,
                "`=` gives a name to what follows, and stands once in an assignment",
                "compare with `==`, or begin a new line",
            ),
            What::To(_) => {
                fail(&token.range, "`to` stands behind a whole expression", "put the expression in brackets")
            }
            What::Name if after_value && found == "per" => {
                let next = self.tokens.get(self.at + 1).filter(|next| matches!(next.what, What::Name));
                let before = self.at.checked_sub(1).and_then(|at| self.tokens.get(at));
                let help = match (before, next) {
                    (Some(before), Some(next)) => {
                        let [before, next] = [before, next].map(|token| &self.text[token.range.clone()]);
                        format!("write `{before}/{next}`")
                    }
                    _ => "write `/`".to_string(),
                };
                fail(&token.range, "`per` is written with a sign", help)
            }
            What::Name | What::Literal(_) | What::Sign(Sign::Open | Sign::OpenList) | What::Text(_) if after_value => {
                fail(
                    &token.range,
                    format!("a sign is missing before `{found}`"),
                    "write `*`, `/`, `+` or `-` between them",
                )
            }
            What::Word(_) => fail(
                &token.range,
                format!("`{found}` is not expected here"),
                "write `if condition then value else other`, `a and b`, `a or b` or `not a`",
            ),
            _ => fail(
                &token.range,
                format!("`{found}` is not expected here"),
                "write a name, a quantity such as `4.2 MPa`, a function or a bracket",
            ),
        }
    }
}

const BRACKETS: &str = "put the value with its uncertainty in brackets: `(1.32 ± 0.08 N*m) * 40`";

fn fail(range: &Range<usize>, message: impl Into<String>, help: impl Into<String>) -> Box<CalcError> {
    Box::new(CalcError::new(range.clone(), message, help))
}
