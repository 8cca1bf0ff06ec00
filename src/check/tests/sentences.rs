//! A case for each wording rule that has a sentence: the bad one, as the statement of a requirement.

use crate::diag::catalogue::NOTES;

use super::case::Case;

/// One case for each rule whose example is a statement; the rest describe a situation and have cases of their own.
pub(super) fn cases(base: &Case) -> Vec<Case> {
    let sentences = NOTES.iter().filter_map(|rule| {
        let bad = rule.example.as_ref()?.bad;
        // Situations stand in parentheses, or quote the texts they are about.
        (!bad.starts_with(['(', '"']) && !bad.starts_with("text ") && !bad.contains(" | ")).then_some((rule.code, bad))
    });
    let made = sentences.map(|(code, bad)| {
        let mut world = base.world.clone();
        let line = world.say("R-1.md", bad);
        let finding = format!("note {code} R-1.md:{line}");
        Case::made(format!("sentence of {code}/{code}"), world, finding)
    });
    made.collect()
}
