//! Spelling, marks and terms.

use super::WordingRule;

pub(super) const REPEATED_WORD: WordingRule = WordingRule {
    code: "repeated-word",
    summary: "the same word twice in a row",
    why: "It is a slip of the pen, and often the trace of a word that went missing.",
    source: "INCOSE Guide to Writing Requirements, R12 (correct grammar)",
    bad: "The body body temperature shall stay below 95 K.",
    good: "The body temperature shall stay below 95 K for 600 s.",
    help: "Delete one, or write the word that was meant.",
};

pub(super) const UNKNOWN_WORD: WordingRule = WordingRule {
    code: "unknown-word",
    summary: "a common misspelling, or a word one or two letters away from a word of the glossary (no dictionary is shipped: other spelling is not looked at)",
    why: "A misspelt term is not found by a search, and may be taken for another thing. Only a short built-in list and the project's own glossary are compared with: no dictionary is shipped.",
    source: "INCOSE Guide to Writing Requirements, R13 (correct spelling)",
    bad: "The acutator shall weigh at most 2.4 kg.",
    good: "The actuator mass shall be at most 2.4 kg.",
    help: "Correct the spelling, or add the word to the glossary if it is a term of its own.",
};

pub(super) const LOOSE_PUNCTUATION: WordingRule = WordingRule {
    code: "loose-punctuation",
    summary: "brackets or quotes that do not pair, no full stop at the end, two marks in a row",
    why: "A missing end may mean missing words, and a stray mark can change what a condition governs.",
    source: "INCOSE Guide to Writing Requirements, R14 (from memory)",
    bad: "The stem seal leakage shall be at most 1e-4 mbar*L/s",
    good: "The stem seal leakage shall be at most 1e-4 mbar*L/s.",
    help: "Pair the marks and end the sentence with one full stop.",
};

pub(super) const AND_OR: WordingRule = WordingRule {
    code: "and-or",
    summary: "\"and/or\", \"or/and\"",
    why: "It leaves the choice to whoever builds or tests it: each may pick another.",
    source: "INCOSE Guide to Writing Requirements, R15, R17; NASA Systems Engineering Handbook, Appendix C, C.4 (from memory)",
    bad: "The body shall carry the heat number and/or the serial number.",
    good: "The body shall carry the serial number.",
    help: "Write \"and\", or \"or\", or \"at least one of\".",
};

pub(super) const OBLIQUE: WordingRule = WordingRule {
    code: "oblique",
    summary: "\"/\" between two words that are not units",
    why: "An oblique means and, or, per, and sometimes the same thing under two names.",
    source: "INCOSE Guide to Writing Requirements, R17",
    bad: "The open/closed switch shall change state within 3 degrees of travel.",
    good: "The closed-position switch shall change state within 3 degrees of the closed stop.",
    help: "Write the word that is meant.",
};

pub(super) const VARYING_TERM: WordingRule = WordingRule {
    code: "varying-term",
    summary: "a word that the glossary lists as a synonym to avoid",
    why: "Two names for one thing read as two things, and evidence for one is then missing for the other. Fires only where the project has a glossary that says so.",
    source: "NASA Systems Engineering Handbook, Appendix C, C.2, C.4 consistency; INCOSE Guide to Writing Requirements, R36",
    bad: "The gearmotor shall reach the open stop. (elsewhere: the actuator)",
    good: "The actuator shall reach the open stop within 2 s.",
    help: "Write the term of the glossary.",
};

pub(super) const UNKNOWN_ABBREVIATION: WordingRule = WordingRule {
    code: "unknown-abbreviation",
    summary: "two or more capital letters that are in no glossary and are no unit, id or common abbreviation",
    why: "An abbreviation that is explained nowhere is guessed at.",
    source: "INCOSE Guide to Writing Requirements, R37, R38 (from memory)",
    bad: "The LBV shall hold MAWP.",
    good: "The main oxidizer valve shall hold 4.0 MPa gauge for 600 s.",
    help: "Spell it out, or add it to the glossary.",
};
