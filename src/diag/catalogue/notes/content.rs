//! What points outside the statement, and what does not belong in it.

use super::super::{Class, CodeEntry, Example};

pub(super) const PURPOSE_INSIDE: CodeEntry = CodeEntry {
    code: "purpose-inside",
    class: Class::Note,
    summary: "in order to, so that, so as to, to ensure that, for the purpose of, thus, thereby",
    why: "The purpose is not what is verified, and inside the sentence it reads as a second demand.",
    source: "INCOSE Guide to Writing Requirements, R20; it belongs in the rationale (from memory)",
    example: Some(Example {
        bad: "The bonnet shall be 120 mm long in order to keep ice off the seal.",
        good: "The bonnet shall be 120 mm +/- 1 mm long.",
    }),
    help: "move the reason to the rationale",
};

pub(super) const SOLUTION_INSIDE: CodeEntry = CodeEntry {
    code: "solution-inside",
    class: Class::Note,
    summary: "by means of, using, via, consisting of, made by, a named mechanism",
    why: "A demand on how it is built outlives the concept it was written for: when the concept is dropped, the requirement has to be rewritten and its evidence slips.",
    source: "INCOSE Guide to Writing Requirements, R31; NASA Systems Engineering Handbook, Appendix C, C.2 (free of implementation)",
    example: Some(Example {
        bad: "The valve shall open by means of a worm gearmotor.",
        good: "The valve shall open within 2 s at 90 K body temperature.",
    }),
    help: "write what it has to achieve; if the solution itself is demanded, say in the rationale why",
};

pub(super) const BRACKETED_TEXT: CodeEntry = CodeEntry {
    code: "bracketed-text",
    class: Class::Note,
    summary: "parentheses or square brackets that hold words",
    why: "Nobody can tell whether words in brackets are part of the demand or a remark.",
    source: "INCOSE Guide to Writing Requirements, R21 (from memory)",
    example: Some(Example {
        bad: "The seat (preferably filled PTFE) shall seal at 90 K.",
        good: "The seat leakage at 90 K shall be at most 5 mL/min.",
    }),
    help: "make the words part of the sentence, or move them to the rationale",
};

pub(super) const SEE_ELSEWHERE: CodeEntry = CodeEntry {
    code: "see-elsewhere",
    class: Class::Note,
    summary: "as described above, the above, aforementioned, see table, refer to, when they point outside the statement",
    why: "What the evidence is judged against must be in the statement: what it points to can change without the mark noticing.",
    source: "INCOSE Guide to Writing Requirements, R23, R25; ISO/IEC/IEEE 29148 complete (from memory)",
    example: Some(Example {
        bad: "The seal shall fit the groove as described above.",
        good: "The stem seal shall fit groove G-12 of drawing MOV-104 revision C.",
    }),
    help: "repeat the value here, or name the document with its revision",
};

pub(super) const PRONOUN: CodeEntry = CodeEntry {
    code: "pronoun",
    class: Class::Note,
    summary: "it, its, they, them, their; this, these, those, which, one standing for a noun",
    why: "A pronoun has more than one candidate as soon as the sentence names two things, and the tester picks one.",
    source: "INCOSE Guide to Writing Requirements, R24; ISO/IEC/IEEE 29148:2018, 5.2.7 vague pronouns (from memory); NASA Systems Engineering Handbook, Appendix C, C.4 (from memory)",
    example: Some(Example {
        bad: "When the valve is shut it shall hold 4 MPa gauge.",
        good: "The shut valve shall hold 4.0 MPa gauge for 600 s.",
    }),
    help: "repeat the noun",
};

pub(super) const UNLISTED_SET: CodeEntry = CodeEntry {
    code: "unlisted-set",
    class: Class::Note,
    summary: "all, each of or every with a group noun (sensors, seals, lines) that no item's title names; \"the following\" with no list",
    why: "Whether all of them were shown depends on what is in the set, and the set is nowhere written down.",
    source: "INCOSE Guide to Writing Requirements, R22 (from memory)",
    example: Some(Example {
        bad: "The stand shall record all sensors at 1 kHz.",
        good: "The stand shall record PT-01, PT-02 and TC-04 at 1 kHz.",
    }),
    help: "name the members, or make the group an item of its own",
};

pub(super) const PLACEHOLDER: CodeEntry = CodeEntry {
    code: "placeholder",
    class: Class::Note,
    summary: "TBD, TBR, TBC, TBS, XX, ???, to be determined, <...>",
    why: "Evidence cannot be judged against a value that does not exist yet.",
    source: "NASA Systems Engineering Handbook, Appendix C, C.3 (from memory)",
    example: Some(Example {
        bad: "The torque margin shall be at least TBD.",
        good: "The torque margin shall be at least 0.5.",
    }),
    help: "write the value; until it is known, give the best estimate and say in the rationale who will settle it by when",
};

pub(super) const UNDATED_REFERENCE: CodeEntry = CodeEntry {
    code: "undated-reference",
    class: Class::Note,
    summary: "a standard's number with no edition: ASTM, ASME, ISO, IEC, CGA, MIL, NASA-STD, ECSS, AIAA and the like",
    why: "Limits and methods change between editions, so a pass to one edition may be a fail to the next.",
    source: "ISO/IEC/IEEE 29148:2018, 5.2.7 incomplete references (from memory)",
    example: Some(Example {
        bad: "The valve shall pass the closure test of ISO 5208.",
        good: "The valve shall pass the closure test of ISO 5208:2015, rate A.",
    }),
    help: "add the year or revision letter: \"ISO 5208:2015\"",
};
