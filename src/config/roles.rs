//! `[[roles]]` of the project file: who must do and who must watch what.

use crate::diag::Finding;
use crate::id::Id;
use crate::parse::Reader;
use crate::text::{Span, Spanned};

use super::project::KEYS;
use super::words::{METHODS, Method, STAGES, Stage};

/// One rule about who does what. Every filter that it states must fit; one that states none is for everything.
#[derive(Clone, Debug)]
pub struct Role {
    /// Where it stands.
    pub span: Span,
    /// Only for entries of this method.
    pub method: Option<Method>,
    /// Only for entries that are due before this event, or before an earlier one.
    pub before: Option<Spanned<String>>,
    /// Only for this stage.
    pub stage: Option<Stage>,
    /// Only for this procedure.
    pub procedure: Option<Spanned<Id>>,
    /// Only for requirements that people depend on.
    pub safety: bool,
    /// One of these must have done it; none: anybody.
    pub performed_by: Option<Vec<Spanned<String>>>,
    /// One of these at least must have watched; none: nobody has to.
    pub witnessed_by: Option<Vec<Spanned<String>>>,
}

impl Role {
    /// What it is for, in words: `acceptance test TP-02 before hot-fire of safety requirements`, `all evidence before hot-fire`; empty: everything.
    pub fn filters(&self) -> String {
        let mut words: Vec<String> = Vec::new();
        words.extend(self.stage.map(|stage| stage.word().to_string()));
        words.extend(self.method.map(|method| method.word().to_string()));
        words.extend(self.procedure.as_ref().map(|procedure| procedure.value.to_string()));
        if words.is_empty() && (self.before.is_some() || self.safety) {
            words.push("all evidence".to_string());
        }
        words.extend(self.before.as_ref().map(|before| format!("before {}", before.value)));
        words.extend(self.safety.then(|| "of safety requirements".to_string()));
        words.join(" ")
    }
}

/// Whether two names are one person or role: white space around them and the case of letters make no difference.
pub fn is_same_person(one: &str, other: &str) -> bool {
    one.trim().to_lowercase() == other.trim().to_lowercase()
}

/// Reads one rule.
pub(super) fn role(table: Reader<'_>) -> Role {
    let people = |key: &'static str| Some(table.some_list(key)).filter(|people| !people.is_empty());
    if !table.has("performed_by") && !table.has("witnessed_by") {
        let text = "this [[roles]] says neither `performed_by` nor `witnessed_by`";
        table.report(
            Finding::at("missing-key", table.span(), text)
                .help("add performed_by = [\"…\"], witnessed_by = [\"…\"], or both"),
        );
    }
    let role = Role {
        span: table.span(),
        method: table.choice("method", METHODS).map(|word| word.value),
        before: table.text("before"),
        stage: table.choice("stage", STAGES).map(|word| word.value),
        procedure: table.id("procedure"),
        safety: table.flag("safety").is_some_and(|flag| flag.value),
        performed_by: people("performed_by"),
        witnessed_by: people("witnessed_by"),
    };
    table.finish(KEYS);
    role
}
