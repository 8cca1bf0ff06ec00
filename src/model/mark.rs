//! Marks: what a requirement says, in twelve hex digits.
//!
//! A mark is `m1-` and the first twelve hex digits of the SHA-256 of a canonical text. The text is UTF-8; every line
//! ends in one line feed:
//!
//! ```text
//! slipmark-mark 1
//! statement <the statement as plain text>
//! criterion <name>                 for each criterion, by name in byte order
//! min <quantity>                   then its lines, those that apply, in this order
//! max <quantity>
//! expect <word>                    one line for each distinct word, in byte order
//! count <whole number>
//! reliability <quantity>           a share, for a criterion that trials show
//! covers <quantity>                a share, after the min or max of a criterion that a sample shows
//! confidence <quantity>            after either of the two
//! at <condition>                   for each condition, by name, followed by its own min and max lines
//! ```
//!
//! Plain text is what [`Body`](crate::parse::Body) makes of the Markdown before the first heading: text, code and raw
//! HTML joined, breaks and block ends one space; NFC; typographic quotes and dashes made plain; white space folded.
//! A quantity is [`Quantity::canonical`](crate::quantity::Quantity::canonical): the exact value in SI to twelve
//! significant digits, its dimension, and its kind where the dimension alone would not tell. A limit that cannot be
//! worked out is `unresolved <as written>`. A requirement without criteria has the one criterion `met`, `expect pass`.
//!
//! Version 1 is frozen: tests hold the texts and the digits. A change of any rule is a version 2 beside it.

use std::fmt::Write;

use sha2::{Digest, Sha256};

use crate::quantity::{Quantity, Unit};

use super::kinds::{Criterion, Expectation, Limit, LimitValue, Requirement, Share};

/// The canonical text of a requirement, version 1.
pub fn canonical(requirement: &Requirement) -> String {
    let mut text = format!("slipmark-mark 1\nstatement {}\n", requirement.plain);
    for criterion in &requirement.criteria {
        add_criterion(&mut text, criterion);
    }
    text
}

/// The mark of a requirement, version 1.
pub fn mark(requirement: &Requirement) -> String {
    short_hash("m1-", &canonical(requirement))
}

/// A prefix and the first twelve hex digits of the SHA-256 of a text.
pub(super) fn short_hash(prefix: &str, text: &str) -> String {
    let digest = Sha256::digest(text.as_bytes());
    let mut hash = String::with_capacity(prefix.len() + 12);
    hash.push_str(prefix);
    let digits = digest[..6].iter().flat_map(|byte| [byte >> 4, byte & 0xf]);
    hash.extend(digits.filter_map(|digit| char::from_digit(u32::from(digit), 16)));
    hash
}

fn add_criterion(text: &mut String, criterion: &Criterion) {
    let _ = writeln!(text, "criterion {}", criterion.name);
    match &criterion.expects {
        Expectation::Limits { min, max } => add_limits(text, min.as_ref(), max.as_ref()),
        Expectation::Words(words) => {
            let mut words: Vec<&String> = words.iter().collect();
            words.sort();
            words.dedup();
            for word in words {
                let _ = writeln!(text, "expect {word}");
            }
        }
        Expectation::Count(count) => {
            let _ = writeln!(text, "count {count}");
        }
        Expectation::Trials { reliability, confidence } => {
            add_share(text, "reliability", reliability);
            add_share(text, "confidence", confidence);
        }
        Expectation::Sample { min, max, covers, confidence } => {
            add_limits(text, min.as_ref(), max.as_ref());
            add_share(text, "covers", covers);
            add_share(text, "confidence", confidence);
        }
    }
    for condition in &criterion.at {
        let _ = writeln!(text, "at {}", condition.name);
        add_limits(text, condition.min.as_ref(), condition.max.as_ref());
    }
}

fn add_share(text: &mut String, word: &str, share: &Share) {
    let _ = writeln!(text, "{word} {}", Quantity::computed(share.value.clone(), Unit::none(), true).canonical());
}

fn add_limits(text: &mut String, min: Option<&Limit>, max: Option<&Limit>) {
    for (word, limit) in [("min", min), ("max", max)] {
        let Some(limit) = limit else { continue };
        let value = match &limit.value {
            LimitValue::Known(quantity) => quantity.canonical(),
            _ => format!("unresolved {}", crate::parse::plain_text(&limit.text.value)),
        };
        let _ = writeln!(text, "{word} {value}");
    }
}
