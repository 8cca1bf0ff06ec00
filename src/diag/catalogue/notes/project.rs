//! What the text must agree with elsewhere in the project.

use super::super::{Class, CodeEntry, Example};

pub(super) const NOTHING_IT_APPLIES_TO: CodeEntry = CodeEntry {
    code: "nothing-it-applies-to",
    class: Class::Note,
    summary: "a requirement with no item, tag or event attached",
    why: "Without an item there is no serial to show it on, and a change of hardware undoes nothing.",
    source: "INCOSE Guide to Writing Requirements, R29 (classify); NASA Systems Engineering Handbook, Appendix C, C.4 traceability (from memory)",
    example: Some(Example { bad: "(statement with no applies_to)", good: "(statement with applies_to = \"MOV\")" }),
    help: "add `applies_to` with the item, or leave it off only where the project as a whole is meant",
};

pub(super) const NEAR_DUPLICATE: CodeEntry = CodeEntry {
    code: "near-duplicate",
    class: Class::Note,
    summary: "two active requirements whose words overlap by 90 % or more",
    why: "When one of them is changed the other stays, and the two then contradict each other.",
    source: "INCOSE Guide to Writing Requirements, R30 (from memory)",
    example: Some(Example {
        bad: "The valve shall close within 2 s. | The valve shall be closed within 2 s.",
        good: "(one of them withdrawn with a reason)",
    }),
    help: "withdraw one of them with a reason, or write what sets them apart",
};

pub(super) const NO_RATIONALE: CodeEntry = CodeEntry {
    code: "no-rationale",
    class: Class::Note,
    summary: "no rationale, or one of fewer than four words",
    why: "Without the reason nobody dares to relax the limit when it turns out hard to meet, and nobody knows what falls with it.",
    source: "NASA Systems Engineering Handbook, Appendix C, C.3 (from memory)",
    example: Some(Example {
        bad: "(requirement file without \"## Rationale\")",
        good: "(with: \"Static friction of the seat rises when cold; see AN-003.\")",
    }),
    help: "add a section \"## Rationale\" that says why, and where the number comes from",
};

pub(super) const LIMIT_NOT_IN_STATEMENT: CodeEntry = CodeEntry {
    code: "limit-not-in-statement",
    class: Class::Note,
    summary: "a limit of a criterion that the statement does not contain",
    why: "Evidence is judged against the limit and people read the sentence: if they differ, one of them is wrong.",
    source: "common practice, no source (follows from \"unambiguous\")",
    example: Some(Example {
        bad: "text \"at most 2 s\", criterion max = \"1.5 s\"",
        good: "text \"at most 1.5 s\", criterion max = \"1.5 s\"",
    }),
    help: "make the sentence and the limit say the same value",
};

pub(super) const NUMBER_WITHOUT_CRITERION: CodeEntry = CodeEntry {
    code: "number-without-criterion",
    class: Class::Note,
    summary: "a value in the statement that no criterion, condition or parameter holds",
    why: "A value in the sentence that no criterion holds is never compared with a result.",
    source: "common practice, no source (follows from \"unambiguous\")",
    example: Some(Example {
        bad: "text \"within 2 s at 20 V\", criteria: time only",
        good: "text \"within 2 s at 20 V\", criteria: time; condition: supply = \"20 V\"",
    }),
    help: "add a criterion or a condition with that value, or take it out of the sentence",
};
