//! Methods and stages: words that the project file and the kinds of things share.

use crate::parse::word_of;

/// How a requirement is shown to be met.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Method {
    /// By calculation, simulation or similarity.
    Analysis,
    /// By running it under controlled conditions and measuring.
    Test,
    /// By looking or gauging without operating it.
    Inspection,
    /// By operating it and observing.
    Demonstration,
}

/// Methods by their words.
pub const METHODS: &[(&str, Method)] = &[
    ("analysis", Method::Analysis),
    ("test", Method::Test),
    ("inspection", Method::Inspection),
    ("demonstration", Method::Demonstration),
];

impl Method {
    /// The word in files.
    pub fn word(self) -> &'static str {
        word_of(METHODS, self)
    }
}

/// When in a product's life the evidence is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    /// While the design is being found.
    Development,
    /// To show that the design meets its requirements with margin.
    Qualification,
    /// To show that one piece was made as designed.
    Acceptance,
}

/// Stages by their words.
pub const STAGES: &[(&str, Stage)] =
    &[("development", Stage::Development), ("qualification", Stage::Qualification), ("acceptance", Stage::Acceptance)];

impl Stage {
    /// The word in files.
    pub fn word(self) -> &'static str {
        word_of(STAGES, self)
    }
}
