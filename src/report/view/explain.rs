//! What a code, state or word means.

use serde::Serialize;

use super::words::{METHODS, METHODS_FROM, STAGES, STAGES_FROM, WORDS, Word};
use crate::diag::CodeEntry;
use crate::diag::catalogue::{self, PRACTICE};
use crate::state::{REASONS, ReasonEntry, State};

/// One topic.
#[derive(Clone, Debug, Serialize)]
pub struct TopicView {
    /// The code or the word.
    pub topic: &'static str,
    /// fault, gap, warning, note, reason, state, method, stage or word.
    pub sort: &'static str,
    /// What it means, in one line.
    pub summary: &'static str,
    /// Why it matters, or more about it.
    pub why: Option<String>,
    /// What to type or do.
    pub help: Option<&'static str>,
    /// For wording: a statement with the fault.
    pub bad: Option<&'static str>,
    /// For wording: the same demand without it.
    pub good: Option<&'static str>,
    /// The published source, or that there is none.
    pub source: &'static str,
}

/// The sorts in the order in which they are listed, each with a heading.
pub const SORTS: [(&str, &str); 9] = [
    ("state", "States of a row, worst first"),
    ("reason", "Reasons for a state"),
    ("fault", "Faults: could make an answer wrong"),
    ("gap", "Gaps: something that must exist does not"),
    ("warning", "Warnings: poor practice"),
    ("note", "Notes: wording"),
    ("method", "Methods of verification"),
    ("stage", "Stages"),
    ("word", "Words"),
];

/// Every topic: codes by name, states and reasons worst first, words as the guide has them.
pub fn topics() -> Vec<TopicView> {
    let states = State::ALL.iter().map(|state| of_state(*state));
    let reasons = REASONS.iter().map(of_reason);
    let codes = catalogue::all().iter().map(|entry| of_code(entry));
    let words = |list: &'static [Word], sort, source| list.iter().map(move |word| of_word(word, sort, source));
    states
        .chain(reasons)
        .chain(codes)
        .chain(words(METHODS, "method", METHODS_FROM))
        .chain(words(STAGES, "stage", STAGES_FROM))
        .chain(words(WORDS, "word", PRACTICE))
        .collect()
}

/// The topics with this name; spaces and hyphens are one, and case does not matter.
pub fn explain(name: &str) -> Vec<TopicView> {
    let plain = |text: &str| text.trim().to_lowercase().replace([' ', '_'], "-");
    let wanted = plain(name);
    topics().into_iter().filter(|topic| plain(topic.topic) == wanted).collect()
}

fn of_code(entry: &'static CodeEntry) -> TopicView {
    TopicView {
        topic: entry.code,
        sort: entry.class.word(),
        summary: entry.summary,
        why: Some(entry.why.to_string()),
        help: Some(entry.help),
        bad: entry.example.as_ref().map(|example| example.bad),
        good: entry.example.as_ref().map(|example| example.good),
        source: entry.source,
    }
}

fn of_reason(entry: &'static ReasonEntry) -> TopicView {
    let source = match entry.code {
        "straddles-limit" | "no-uncertainty" | "bound-undecided" | "on-the-limit" => "JCGM 106:2012",
        "too-few-trials" => "the exact binomial limits of Clopper and Pearson (1934)",
        "instrument-not-calibrated" => "ISO/IEC 17025:2017, 6.4 (from memory)",
        "instrument-recalled" => "ISO/IEC 17025:2017, 6.4.9 and 7.10 (from memory)",
        _ => PRACTICE,
    };
    let makes = match entry.code {
        "child-open" => "It makes the parent's row what the child's is.".to_string(),
        _ => format!("It makes a row {}.", entry.state.word()),
    };
    TopicView {
        topic: entry.code,
        sort: "reason",
        summary: entry.meaning,
        why: Some(makes),
        help: Some(entry.help),
        bad: None,
        good: None,
        source,
    }
}

fn of_state(state: State) -> TopicView {
    let reasons = REASONS.iter().filter(|entry| entry.state == state).map(|entry| entry.code);
    let reasons: Vec<&str> = reasons.collect();
    let why = if reasons.is_empty() { None } else { Some(format!("Its reasons: {}.", reasons.join(", "))) };
    TopicView {
        topic: state.word(),
        sort: "state",
        summary: state.meaning(),
        why,
        help: None,
        bad: None,
        good: None,
        source: PRACTICE,
    }
}

fn of_word(word: &'static Word, sort: &'static str, source: &'static str) -> TopicView {
    TopicView {
        topic: word.word,
        sort,
        summary: word.meaning,
        why: (!word.more.is_empty()).then(|| word.more.to_string()),
        help: word.help,
        bad: None,
        good: None,
        source,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_topic_is_of_a_sort_that_is_listed_and_found_by_its_name() {
        for topic in topics() {
            assert!(SORTS.iter().any(|(sort, _)| *sort == topic.sort), "{}", topic.topic);
            let found = explain(topic.topic);
            assert!(found.iter().any(|own| own.sort == topic.sort), "{}", topic.topic);
            assert!(!topic.summary.ends_with('.') && !topic.summary.is_empty(), "{}", topic.topic);
        }
        for (sort, _) in SORTS {
            assert!(topics().iter().any(|topic| topic.sort == sort), "{sort}");
        }
    }

    #[test]
    fn words_of_the_files_say_where_they_are_written() {
        let asked = [
            "attachment",
            "calibration",
            "condition",
            "draft",
            "field",
            "input",
            "limit",
            "method",
            "owner",
            "parameter",
            "parent",
            "result",
            "safety",
            "source",
            "stage",
            "statement",
            "tag",
            "uncertainty",
            "witness",
        ];
        for name in asked {
            let topic = explain(name).into_iter().find(|topic| topic.sort == "word");
            let help = topic.unwrap_or_else(|| panic!("{name}")).help.unwrap_or_default();
            assert!(
                help.contains("in the ")
                    || help.contains("in a ")
                    || help.contains("in parameters.toml")
                    || help.contains("in instruments.toml")
                    || help.contains("status = "),
                "{name}: {help}"
            );
        }
        assert!(explain("condition")[0].help.unwrap().contains("at.body = "));
    }

    #[test]
    fn states_are_found_however_their_words_are_joined() {
        for name in ["not met", "not-met", "Not_Met"] {
            assert_eq!(explain(name)[0].topic, "not met");
        }
        assert!(explain("seal-broken")[0].why.as_deref().unwrap().contains("void"));
        assert!(explain("nothing-of-the-kind").is_empty());
    }
}
