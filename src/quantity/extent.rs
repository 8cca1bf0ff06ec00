//! How far a quantity goes on in a longer text: its number, and the unit that follows without a break.

use super::catalogue::catalogue;
use super::unit_reader::{is_symbol_part, is_symbol_start};
use super::{QuantityError, number};

/// The end of the quantity that starts here. `takes` says whether a word is part of the unit, and is told whether it is the first.
pub(crate) fn quantity_end(
    text: &str,
    start: usize,
    takes: &dyn Fn(&str, bool) -> bool,
) -> Result<usize, QuantityError> {
    let number = number::scan(text, start)?.end;
    Ok(unit_end(text, number, takes))
}

/// The end of the unit that begins at byte `from`, white space before it left aside; `from` if there is none.
pub(crate) fn unit_end(text: &str, from: usize, takes: &dyn Fn(&str, bool) -> bool) -> usize {
    let mut end = from;
    let mut first = true;
    loop {
        let gap = text[end..].len() - text[end..].trim_start_matches([' ', '\u{a0}', '\u{202f}', '\u{2009}']).len();
        let at = end + gap;
        let rest = &text[at..];
        if rest.starts_with(is_symbol_start) && (first || gap > 0) {
            if !takes(word(text, at), first) {
                return end;
            }
            end = symbol_end(text, at);
        } else if first && rest.starts_with("1/") {
            end = at + 1;
        } else if let Some(next) = joined_end(text, end, takes).filter(|_| !first) {
            end = next;
        } else {
            return end;
        }
        first = false;
    }
}

fn word(text: &str, start: usize) -> &str {
    let rest = &text[start..];
    &rest[..rest.find(|c| !is_symbol_part(c)).unwrap_or(rest.len())]
}

/// The end of a symbol with its reference conditions, as in `slpm(0 degC, 101.325 kPa)`, and its exponent.
fn symbol_end(text: &str, start: usize) -> usize {
    let symbol = word(text, start);
    let mut end = start + symbol.len();
    if text[end..].starts_with('(') && catalogue().standard(symbol).is_some() {
        end += text[end..].find(')').map_or(0, |close| close + 1);
    }
    let rest = &text[end..];
    if let Some(exponent) = rest.strip_prefix('^') {
        let length = match exponent.strip_prefix('(') {
            Some(inner) => inner.find(')').map_or(exponent.len(), |close| close + 2),
            None => {
                let sign = usize::from(exponent.starts_with('-'));
                sign + exponent[sign..].bytes().take_while(u8::is_ascii_digit).count()
            }
        };
        return end + 1 + length;
    }
    end + rest.find(|c| !"⁻⁰¹²³⁴⁵⁶⁷⁸⁹".contains(c)).unwrap_or(rest.len())
}

/// The end of what a sign without spaces around it joins to a unit: `*m`, `/s`, `/(m·K)`.
fn joined_end(text: &str, at: usize, takes: &dyn Fn(&str, bool) -> bool) -> Option<usize> {
    let sign = text[at..].chars().next().filter(|sign| matches!(sign, '*' | '/' | '·' | '⋅' | '.'))?;
    let next = at + sign.len_utf8();
    if text[next..].starts_with(is_symbol_start) {
        return takes(word(text, next), false).then(|| symbol_end(text, next));
    }
    if sign == '/' && text[next..].starts_with('(') {
        let close = text[next..].find(')').map(|close| next + close + 1)?;
        return takes(&text[next..close], false).then_some(close);
    }
    None
}
