//! Splits a statement into tokens, once, with the byte range of each.
//!
//! What comes in is Markdown as written. Emphasis, list markers, link targets and comments are dropped here, so that the rules see the sentence and not
//! its mark-up; what is not prose (code, addresses, ids) stays as one or more tokens with the role [`Role::Name`], which no word rule looks at. One pass
//! over the text: every look ahead is bounded or consumes what it looked at.

use std::ops::Range;

/// What a token is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Letters, and digits after the first letter.
    Word,
    /// Digits with decimal point, thousands comma, exponent.
    Number,
    /// One other character, or one of `+/-`, `...`, `<...>`.
    Mark,
}

/// What stands between a token and the one before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Gap {
    /// Nothing.
    None,
    /// Spaces or a line break.
    Space,
    /// A list marker at the start of a line.
    Item,
}

/// What part a token plays, as far as it can be seen from its surroundings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// Prose.
    Plain,
    /// Part of an id, a standard's number, code or an address.
    Name,
    /// Part of a unit after a number.
    Unit,
}

/// One token; offsets are bytes of the statement.
#[derive(Clone, Copy, Debug)]
pub(super) struct Token {
    pub kind: Kind,
    pub start: usize,
    pub end: usize,
    pub gap: Gap,
    pub role: Role,
}

/// How far the end of a `<...>` or of a link target is looked for, in bytes.
const LOOK_AHEAD: usize = 512;

/// The tokens of `source`.
pub(super) fn tokens(source: &str) -> Vec<Token> {
    let mut splitter = Splitter {
        source,
        bytes: source.as_bytes(),
        at: 0,
        gap: Gap::Space,
        line_start: true,
        open_links: Vec::new(),
        code_ends: true,
        comment_ends: true,
        tokens: Vec::with_capacity(source.len() / 4 + 4),
    };
    while splitter.at < source.len() {
        splitter.step();
    }
    splitter.tokens
}

struct Splitter<'a> {
    source: &'a str,
    bytes: &'a [u8],
    at: usize,
    gap: Gap,
    line_start: bool,
    /// Indexes of `[` tokens that may turn out to start a link.
    open_links: Vec<usize>,
    /// False once a search for a closing backtick has failed: it would fail again.
    code_ends: bool,
    comment_ends: bool,
    tokens: Vec<Token>,
}

impl Splitter<'_> {
    fn peek(&self, offset: usize) -> Option<char> {
        self.source.get(self.at + offset..).and_then(|rest| rest.chars().next())
    }

    fn previous(&self) -> Option<char> {
        self.source[..self.at].chars().next_back()
    }

    fn push(&mut self, kind: Kind, end: usize, role: Role) {
        self.tokens.push(Token { kind, start: self.at, end, gap: self.gap, role });
        self.gap = Gap::None;
        self.line_start = false;
        self.at = end;
    }

    fn step(&mut self) {
        let Some(first) = self.peek(0) else {
            self.at = self.source.len();
            return;
        };
        if first.is_whitespace() {
            self.at += first.len_utf8();
            if self.gap != Gap::Item {
                self.gap = Gap::Space;
            }
            self.line_start |= first == '\n';
        } else if self.line_start && self.list_marker() {
            self.gap = Gap::Item;
            self.line_start = false;
        } else if let Some(end) = grade_end(self.source, self.at) {
            self.push(Kind::Word, end, Role::Name);
        } else if first.is_ascii_digit() {
            let end = number_end(self.bytes, self.at);
            self.push(Kind::Number, end, Role::Plain);
        } else if first.is_alphabetic() {
            self.word();
        } else {
            self.mark(first);
        }
    }

    /// Skips a list marker or a quotation mark of a line; whether there was one.
    fn list_marker(&mut self) -> bool {
        let rest = &self.bytes[self.at..];
        let body = rest.first() == Some(&b'(');
        let from = usize::from(body);
        let inner = rest[from..].iter().take(5).take_while(|byte| byte.is_ascii_alphanumeric()).count();
        let label = &rest[from..from + inner];
        let labelled = (1..=3).contains(&inner) && label.iter().all(u8::is_ascii_digit)
            || inner == 1
            || (1..=4).contains(&inner) && label.iter().all(|byte| b"ivx".contains(byte));
        let close = rest.get(from + inner).copied();
        let length = match self.peek(0) {
            Some('-' | '*' | '+' | '>') => 1,
            Some(bullet @ ('•' | '–' | '▪' | '·')) => bullet.len_utf8(),
            _ if labelled && (close == Some(b')') || !body && close == Some(b'.')) => from + inner + 1,
            _ => return false,
        };
        if !rest.get(length).is_none_or(u8::is_ascii_whitespace) {
            return false;
        }
        self.at += length;
        true
    }

    fn word(&mut self) {
        if let Some(end) = address_end(self.source, self.at) {
            self.push(Kind::Word, end, Role::Name);
            return;
        }
        if let Some(end) = dotted_end(self.bytes, self.at) {
            self.push(Kind::Word, end, Role::Plain);
            return;
        }
        let rest = &self.source[self.at..];
        let mut end = rest.len();
        for (offset, letter) in rest.char_indices() {
            let inside = letter.is_alphanumeric() && !is_superscript(letter)
                || letter == '_'
                || matches!(letter, '\'' | '’')
                    && rest[offset + letter.len_utf8()..].chars().next().is_some_and(char::is_alphabetic);
            if !inside {
                end = offset;
                break;
            }
        }
        // An underscore at the end closes an emphasis.
        let end = self.at + rest[..end].trim_end_matches('_').len();
        let role = if self.source[self.at..end].contains('_') { Role::Name } else { Role::Plain };
        self.push(Kind::Word, end, role);
    }

    fn mark(&mut self, first: char) {
        let length = first.len_utf8();
        match first {
            '`' => self.code(),
            '<' => self.angle(),
            '\\' | '~' => self.at += length,
            '_' => self.at += length,
            '*' if self.is_emphasis() => self.at += length,
            ']' => self.link_target(),
            '[' => {
                self.open_links.push(self.tokens.len());
                self.push(Kind::Mark, self.at + length, Role::Plain);
            }
            '+' if self.source[self.at..].starts_with("+/-") => self.push(Kind::Mark, self.at + 3, Role::Plain),
            '+' if self.source[self.at..].starts_with("+-") => self.push(Kind::Mark, self.at + 2, Role::Plain),
            '.' if self.source[self.at..].starts_with("...") => {
                let dots = self.bytes[self.at..].iter().take_while(|byte| **byte == b'.').count();
                self.push(Kind::Mark, self.at + dots, Role::Plain);
            }
            '?' if self.source[self.at..].starts_with("??") => {
                let marks = self.bytes[self.at..].iter().take_while(|byte| **byte == b'?').count();
                self.push(Kind::Mark, self.at + marks, Role::Plain);
            }
            _ => self.push(Kind::Mark, self.at + length, Role::Plain),
        }
    }

    /// A star between two letters or digits, or with a space on both sides, multiplies.
    fn is_emphasis(&self) -> bool {
        let operand =
            |neighbour: Option<char>| neighbour.is_some_and(|c| c.is_alphanumeric() || matches!(c, '(' | ')'));
        let blank = |neighbour: Option<char>| neighbour.is_none_or(char::is_whitespace);
        let (before, after) = (self.previous(), self.peek(1));
        !(operand(before) && operand(after) || blank(before) && blank(after))
    }

    fn code(&mut self) {
        let fence = self.bytes[self.at..].iter().take_while(|byte| **byte == b'`').count();
        let inner = self.at + fence;
        let found = if self.code_ends { self.source[inner..].find('`') } else { None };
        let Some(length) = found else {
            self.code_ends = false;
            self.at = inner;
            return;
        };
        self.at = inner;
        if length > 0 {
            self.push(Kind::Word, inner + length, Role::Name);
        }
        self.at += self.bytes[self.at..].iter().take_while(|byte| **byte == b'`').count();
    }

    /// `<...>`: a comment or an HTML tag is dropped, an address is a name, anything else is a placeholder.
    fn angle(&mut self) {
        let rest = &self.source[self.at..];
        if rest.starts_with("<!--") && self.comment_ends {
            if let Some(length) = rest.find("-->") {
                self.at += length + 3;
                return;
            }
            self.comment_ends = false;
        }
        let close = rest.bytes().take(LOOK_AHEAD).skip(1).position(|byte| matches!(byte, b'>' | b'<' | b'\n'));
        let inner = close.filter(|at| rest.as_bytes()[at + 1] == b'>').map(|at| &rest[1..at + 1]);
        match inner {
            Some(inner) if inner.starts_with(|c: char| c.is_alphabetic() || c == '/') => {
                let end = self.at + inner.len() + 2;
                if is_html(inner) {
                    self.at = end;
                } else if inner.contains("://") || inner.contains('@') {
                    self.push(Kind::Word, end, Role::Name);
                } else {
                    self.push(Kind::Mark, end, Role::Plain);
                }
            }
            _ => self.push(Kind::Mark, self.at + 1, Role::Plain),
        }
    }

    /// `](target)` closes a link: its brackets are no brackets of the sentence.
    fn link_target(&mut self) {
        let open = self.open_links.pop();
        let rest = &self.bytes[self.at..];
        if let (Some(open), Some(b'(')) = (open, rest.get(1)) {
            let close = rest.iter().take(LOOK_AHEAD).position(|byte| matches!(byte, b')' | b'\n'));
            if let Some(close) = close.filter(|close| rest[*close] == b')') {
                self.tokens[open].role = Role::Name;
                self.at += close + 1;
                return;
            }
        }
        self.push(Kind::Mark, self.at + 1, Role::Plain);
    }
}

/// The end of the number that starts at `start`: digits, groups after a comma, decimals, an exponent, an uncertainty in brackets.
fn number_end(bytes: &[u8], start: usize) -> usize {
    let digits = |from: usize| from + bytes[from..].iter().take_while(|byte| byte.is_ascii_digit()).count();
    let is_digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    let mut end = digits(start);
    while bytes.get(end) == Some(&b',') && is_digit(end + 1) {
        end = digits(end + 1);
    }
    if bytes.get(end) == Some(&b'.') && is_digit(end + 1) {
        end = digits(end + 1);
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        if is_digit(end + 1 + sign) {
            end = digits(end + 1 + sign);
        }
    }
    if bytes.get(end) == Some(&b'(') && is_digit(end + 1) {
        let close = digits(end + 1);
        if close - end <= 4 && bytes.get(close) == Some(&b')') {
            end = close + 1;
        }
    }
    end
}

/// The end of the grade of a stainless steel that starts here: `316L`, `304LN`, `321H`. It is three digits of the series that have such grades with the
/// letter directly behind them (common practice, no source); round numbers, `300L`, are no grades, and with a space between, `316 L`, it is a volume.
fn grade_end(source: &str, start: usize) -> Option<usize> {
    let inside_a_word = |c: char| c.is_alphanumeric() || matches!(c, '.' | ',' | '-' | '_' | '/');
    if source[..start].chars().next_back().is_some_and(|c| inside_a_word(c) && c != '/') {
        return None;
    }
    let rest = &source[start..];
    let number: u32 = rest.get(..3).filter(|digits| digits.bytes().all(|byte| byte.is_ascii_digit()))?.parse().ok()?;
    let grade = matches!(number, 201 | 301..=499 | 904) && !number.is_multiple_of(50);
    let letters = ["LN", "L", "H"].into_iter().find(|letters| rest[3..].starts_with(letters)).filter(|_| grade)?;
    let end = start + 3 + letters.len();
    let mut behind = source[end..].chars();
    let unit_goes_on = match behind.next() {
        Some('/' | '*' | '·') => behind.next().is_some_and(char::is_alphabetic),
        Some(c) => c.is_alphanumeric() || matches!(c, '^' | '²' | '³' | '_'),
        None => false,
    };
    (!unit_goes_on).then_some(end)
}

/// The end of an abbreviation such as `e.g.` or `U.S.`, if one starts here.
fn dotted_end(bytes: &[u8], start: usize) -> Option<usize> {
    let pair = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_alphabetic) && bytes.get(at + 1) == Some(&b'.');
    if !pair(start) {
        return None;
    }
    let mut end = start;
    while pair(end) {
        end += 2;
    }
    if end - start >= 4 {
        return (!bytes.get(end).is_some_and(u8::is_ascii_alphanumeric)).then_some(end);
    }
    // "e.g" without its last full stop.
    let last = bytes.get(end).is_some_and(u8::is_ascii_alphabetic);
    let after = bytes.get(end + 1).is_some_and(|byte| byte.is_ascii_alphanumeric() || *byte == b'.');
    (last && !after && matches!(bytes[start], b'e' | b'i')).then_some(end + 1)
}

/// The end of a web address that starts here.
fn address_end(source: &str, start: usize) -> Option<usize> {
    let rest = &source[start..];
    let known = ["http://", "https://", "www.", "mailto:"].iter().any(|scheme| {
        rest.as_bytes().get(..scheme.len()).is_some_and(|head| head.eq_ignore_ascii_case(scheme.as_bytes()))
    });
    known.then(|| {
        let end = rest.find(|c: char| c.is_whitespace() || matches!(c, '>' | ')' | ']' | '"')).unwrap_or(rest.len());
        start + rest[..end].trim_end_matches(['.', ',', ';']).len()
    })
}

fn is_superscript(letter: char) -> bool {
    matches!(letter, '²' | '³' | '¹' | '⁰' | '⁴'..='⁹')
}

fn is_html(inner: &str) -> bool {
    let name = inner.trim_start_matches('/').split(|c: char| !c.is_ascii_alphanumeric()).next().unwrap_or("");
    const TAGS: &[&str] = &[
        "a", "b", "br", "code", "del", "div", "em", "i", "img", "ins", "kbd", "li", "ol", "p", "pre", "s", "small",
        "span", "strong", "sub", "sup", "table", "td", "th", "tr", "u", "ul",
    ];
    TAGS.iter().any(|tag| tag.eq_ignore_ascii_case(name))
}

/// The bytes from the start of the first token to the end of the last.
pub(super) fn cover(first: &Token, last: &Token) -> Range<usize> {
    first.start..last.end.max(first.start)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(source: &str) -> Vec<&str> {
        tokens(source).iter().map(|token| &source[token.start..token.end]).collect()
    }

    #[test]
    fn numbers_keep_their_decimals_and_leave_the_full_stop() {
        assert_eq!(split("at most 1e-4 mbar*L/s."), ["at", "most", "1e-4", "mbar", "*", "L", "/", "s", "."]);
        assert_eq!(split("12,0 mm, 1.320(15) V and 3."), ["12,0", "mm", ",", "1.320(15)", "V", "and", "3", "."]);
        assert_eq!(split("120 mm +/- 1 mm"), ["120", "mm", "+/-", "1", "mm"]);
        assert_eq!(split("90K"), ["90", "K"]);
    }

    #[test]
    fn a_grade_of_steel_is_a_name_and_a_volume_is_not() {
        let names = |source: &str| -> Vec<String> {
            let all = tokens(source).into_iter().filter(|token| token.role == Role::Name);
            all.map(|token| source[token.start..token.end].to_string()).collect()
        };
        assert_eq!(names("of 316L, 304LN/321H or **904L**."), ["316L", "304LN", "321H", "904L"]);
        for volume in
            ["316 L", "300L", "12L", "1316L", "3.316L", "316L/min", "316L·s", "316Lm", "555L", "316l", "0,316L"]
        {
            assert_eq!(names(volume), Vec::<String>::new(), "{volume}");
        }
    }

    #[test]
    fn mark_up_is_not_part_of_the_sentence() {
        assert_eq!(split("The **valve** shall _close_."), ["The", "valve", "shall", "close", "."]);
        assert_eq!(split("see [the sheet](a.md), `cmd` x<br>y"), ["see", "[", "the", "sheet", ",", "cmd", "x", "y"]);
        assert_eq!(split("a:\n- one\n- two\n1. three\n\tb)\tfour"), ["a", ":", "one", "two", "three", "four"]);
        assert_eq!(split("x <!-- no --> y <VALUE> z"), ["x", "y", "<VALUE>", "z"]);
    }

    #[test]
    fn a_star_between_operands_multiplies() {
        assert_eq!(split("2 * 3 N*m"), ["2", "*", "3", "N", "*", "m"]);
    }

    #[test]
    fn abbreviations_with_dots_are_one_word() {
        assert_eq!(split("valves, e.g. MOV, i.e. it"), ["valves", ",", "e.g.", "MOV", ",", "i.e.", "it"]);
        assert_eq!(split("2 s. A valve"), ["2", "s", ".", "A", "valve"]);
    }

    #[test]
    fn unfinished_mark_up_is_text() {
        for source in ["`a", "<", "<a", "[x](", "](", "**", "_", "<!--", "\\", "a_", "(", "9(", "9,", "1e", "e."] {
            tokens(source);
        }
    }
}
