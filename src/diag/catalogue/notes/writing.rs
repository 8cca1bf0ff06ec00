//! Spelling, marks and terms.

use super::super::{Class, CodeEntry, Example};

pub(super) const REPEATED_WORD: CodeEntry = CodeEntry {
    code: "repeated-word",
    class: Class::Note,
    summary: "the same word twice in a row",
    why: "It is a slip of the pen, and often the trace of a word that went missing.",
    source: "INCOSE Guide to Writing Requirements, R12 (correct grammar)",
    example: Some(Example {
        bad: "The body body temperature shall stay below 95 K.",
        good: "The body temperature shall stay below 95 K for 600 s.",
    }),
    help: "delete one, or write the word that was meant",
};

pub(super) const MISSPELT_WORD: CodeEntry = CodeEntry {
    code: "misspelt-word",
    class: Class::Note,
    summary: "a common misspelling, or a word one or two letters away from a word in the title of an item (no dictionary is shipped: other spelling is not looked at)",
    why: "A misspelt term is not found by a search, and may be taken for another thing. Only a short built-in list and the titles of the project's own items are compared with: no dictionary is shipped.",
    source: "INCOSE Guide to Writing Requirements, R13 (correct spelling)",
    example: Some(Example {
        bad: "The acutator shall weigh at most 2.4 kg.",
        good: "The actuator mass shall be at most 2.4 kg.",
    }),
    help: "correct the spelling, or use the word in the title of an item if it is a term of its own",
};

pub(super) const LOOSE_PUNCTUATION: CodeEntry = CodeEntry {
    code: "loose-punctuation",
    class: Class::Note,
    summary: "brackets or quotes that do not pair, no full stop at the end, two marks in a row",
    why: "A missing end may mean missing words, and a stray mark can change what a condition governs.",
    source: "INCOSE Guide to Writing Requirements, R14 (from memory)",
    example: Some(Example {
        bad: "The stem seal leakage shall be at most 1e-4 mbar*L/s",
        good: "The stem seal leakage shall be at most 1e-4 mbar*L/s.",
    }),
    help: "pair the marks and end the sentence with one full stop",
};

pub(super) const AND_OR: CodeEntry = CodeEntry {
    code: "and-or",
    class: Class::Note,
    summary: "\"and/or\", \"or/and\"",
    why: "It leaves the choice to whoever builds or tests it: each may pick another.",
    source: "INCOSE Guide to Writing Requirements, R15, R17; NASA Systems Engineering Handbook, Appendix C, C.4 (from memory)",
    example: Some(Example {
        bad: "The body shall carry the heat number and/or the serial number.",
        good: "The body shall carry the serial number.",
    }),
    help: "write \"and\", or \"or\", or \"at least one of\"",
};

pub(super) const OBLIQUE: CodeEntry = CodeEntry {
    code: "oblique",
    class: Class::Note,
    summary: "\"/\" between two words that are not units",
    why: "An oblique means and, or, per, and sometimes the same thing under two names.",
    source: "INCOSE Guide to Writing Requirements, R17",
    example: Some(Example {
        bad: "The open/closed switch shall change state within 3 degrees of travel.",
        good: "The closed-position switch shall change state within 3 degrees of the closed stop.",
    }),
    help: "write the word that is meant",
};

pub(super) const UNKNOWN_ABBREVIATION: CodeEntry = CodeEntry {
    code: "unknown-abbreviation",
    class: Class::Note,
    summary: "two or more capital letters that are not spelled out and are no unit, id or common abbreviation",
    why: "An abbreviation that is explained nowhere is guessed at.",
    source: "INCOSE Guide to Writing Requirements, R37, R38 (from memory)",
    example: Some(Example {
        bad: "The LBV shall hold MAWP.",
        good: "The main oxidizer valve shall hold 4.0 MPa gauge for 600 s.",
    }),
    help: "spell it out: \"maximum expected operating pressure (MEOP)\"",
};
