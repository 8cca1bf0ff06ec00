//! What a page must say.

use std::collections::HashMap;

use super::read::{Read, folded};
use crate::report::cautions::{DEFER, for_hazard};
use crate::report::packet::{draft, sentence};
use crate::report::view::{BeforeView, RowView};

/// Something that a page must say.
#[derive(Clone, Debug)]
pub(in crate::report) enum Must {
    /// A text, anywhere.
    Say(String),
    /// Lines that each hold some words, among others: a row of a table, a point of a list, a paragraph. The first of the words
    /// is one without blanks.
    Lines(Vec<Vec<String>>),
}

impl Must {
    /// What of it was missed, in words.
    pub(super) fn what(&self) -> String {
        match self {
            Must::Say(text) => format!("\"{text}\""),
            Must::Lines(lines) => match lines.first() {
                Some(words) => format!("{} in one line", words.join(", ")),
                None => "a line".into(),
            },
        }
    }

    /// What of it is missed in a page, if anything.
    pub(super) fn missed(&self, read: &Read) -> Option<Must> {
        match self {
            Must::Say(text) => (!read.says(text)).then(|| self.clone()),
            Must::Lines(lines) => missing(lines, read).map(|line| Must::Lines(vec![line])),
        }
    }
}

/// The first of the lines that a page lacks. Each line of the page is one of them at most, so that two rows alike need two.
fn missing(wanted: &[Vec<String>], read: &Read) -> Option<Vec<String>> {
    let mut left: HashMap<&str, Vec<&Vec<String>>> = HashMap::new();
    for words in wanted.iter().filter(|words| !words.is_empty()) {
        left.entry(&words[0]).or_default().push(words);
    }
    for line in &read.lines {
        for name in names(line) {
            if let Some(own) = left.get_mut(name)
                && let Some(at) = own.iter().position(|words| words.iter().all(|word| holds(line, word)))
            {
                own.remove(at);
                break;
            }
        }
    }
    wanted.iter().find(|words| left.values().flatten().any(|own| own == words)).cloned()
}

fn is_of_name(character: char) -> bool {
    character.is_alphanumeric() || matches!(character, '.' | '_' | '-')
}

/// What could be an id in a line.
fn names(line: &str) -> impl Iterator<Item = &str> {
    line.split(|c: char| !is_of_name(c)).map(|word| word.trim_matches('.')).filter(|word| !word.is_empty())
}

/// Whether a line holds some words, or one that is no part of a longer one.
fn holds(line: &str, word: &str) -> bool {
    let word = folded(word);
    if word.contains(' ') {
        return line.contains(&word);
    }
    line.match_indices(&word).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        let mut after = line[at + word.len()..].chars();
        let ends = match after.next() {
            // A full stop ends a sentence if nothing of a name follows it.
            Some('.') => !after.next().is_some_and(is_of_name),
            next => !next.is_some_and(is_of_name),
        };
        ends && !before.is_some_and(is_of_name)
    })
}

/// What a page that answers about an event must say: the verdict, and whatever counts as open or must be read with it.
pub(in crate::report) fn of_answer(before: &BeforeView) -> Vec<Must> {
    let mut all = beside_rows(before);
    all.push(of_rows(before.rows.iter().filter(|row| row.state.is_open())));
    all
}

/// The same without the rows.
pub(in crate::report) fn beside_rows(before: &BeforeView) -> Vec<Must> {
    let mut all = vec![Must::Say(sentence(before)), Must::Say(DEFER.to_string())];
    all.extend(draft(before).map(Must::Say));
    all.extend(before.earlier_only().into_iter().chain(before.later()).map(Must::Say));
    for hazard in &before.hazards {
        all.extend(for_hazard(hazard).iter().map(|caution| Must::Say((*caution).to_string())));
    }
    if !before.less_asked.is_empty() {
        let since = before.less_asked_since.as_deref().unwrap_or("the last tag");
        all.push(Must::Say(format!("Less is asked than at {since}")));
    }
    all.push(Must::Lines(before.less_asked.iter().map(|less| vec![less.id.clone(), less.text.clone()]).collect()));
    let problems = before.faults.iter().chain(&before.gaps);
    all.push(Must::Lines(problems.map(|own| vec![own.code.to_string(), own.message.clone()]).collect()));
    let open = before.nonconformance_details.iter();
    all.push(Must::Lines(open.map(|own| vec![own.id.clone(), own.lacks.clone()]).collect()));
    all
}

/// The rows that a page must list: requirement, state and subject of each.
pub(in crate::report) fn of_rows<'v>(rows: impl Iterator<Item = &'v RowView>) -> Must {
    let line = |row: &RowView| vec![row.requirement.clone(), row.state.word().to_string(), row.subject.clone()];
    Must::Lines(rows.map(line).collect())
}
