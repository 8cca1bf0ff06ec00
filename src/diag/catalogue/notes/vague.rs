//! Words that two people measure differently.

use super::super::{Class, CodeEntry, Example};

pub(super) const VAGUE_QUANTITY: CodeEntry = CodeEntry {
    code: "vague-quantity",
    class: Class::Note,
    summary: "some, several, many, a lot of, a few, almost, nearly, about, close to, approximately, around, roughly, most of",
    why: "A result can be neither inside nor outside of \"about\".",
    source: "INCOSE Guide to Writing Requirements, R7",
    example: Some(Example {
        bad: "The stem extension shall be about 120 mm long.",
        good: "The stem extension shall be 120 mm +/- 1 mm long.",
    }),
    help: "write the value with its tolerance: \"120 mm +/- 1 mm\"",
};

pub(super) const VAGUE_ADJECTIVE: CodeEntry = CodeEntry {
    code: "vague-adjective",
    class: Class::Note,
    summary: "adequate, sufficient, suitable, acceptable, reliable, safe and the like; low, high, clean and the like with no number",
    why: "Whoever writes the report decides what adequate means, after the test.",
    source: "INCOSE Guide to Writing Requirements, R7; NASA Systems Engineering Handbook, Appendix C, C.4 verifiability (from memory)",
    example: Some(Example {
        bad: "The actuator shall have adequate torque at cold soak.",
        good: "The actuator torque margin at 90 K shall be at least 0.5.",
    }),
    help: "write the quantity and its limit",
};

pub(super) const VAGUE_ADVERB: CodeEntry = CodeEntry {
    code: "vague-adverb",
    class: Class::Note,
    summary: "adverbs in -ly that stand for a number: quickly, easily, smoothly, properly",
    why: "How quickly is quickly is settled only when somebody has measured it, and then too late.",
    source: "INCOSE Guide to Writing Requirements, R7; ISO/IEC/IEEE 29148:2018, 5.2.7 (from memory)",
    example: Some(Example {
        bad: "The valve shall close quickly on loss of power.",
        good: "On loss of power, the valve shall close within 1.5 s.",
    }),
    help: "write the time, force or other quantity that the adverb stands for",
};

pub(super) const ESCAPE_CLAUSE: CodeEntry = CodeEntry {
    code: "escape-clause",
    class: Class::Note,
    summary: "if possible, where practicable, as required, as appropriate, to the extent, unless otherwise, and the like",
    why: "A demand that may be declined on the day cannot fail, so it shows nothing.",
    source: "INCOSE Guide to Writing Requirements, R8; ISO/IEC/IEEE 29148:2018, 5.2.7 loopholes (from memory)",
    example: Some(Example {
        bad: "The supply shall filter nitrogen to 10 um where practicable.",
        good: "The purge supply shall filter nitrogen to 10 um absolute.",
    }),
    help: "drop the clause, or write the exact condition under which the demand does not hold",
};

pub(super) const OPEN_ENDED: CodeEntry = CodeEntry {
    code: "open-ended",
    class: Class::Note,
    summary: "etc., and so on, including but not limited to, such as, e.g., for example, as a minimum, or similar",
    why: "A list without an end can never be shown to be complete.",
    source: "INCOSE Guide to Writing Requirements, R9; NASA Systems Engineering Handbook, Appendix C, C.4 clarity (from memory)",
    example: Some(Example {
        bad: "The report shall list torque, temperature, travel, etc.",
        good: "The report shall list torque, temperature and travel for each stroke.",
    }),
    help: "list everything that is meant, and nothing else",
};

pub(super) const ABSOLUTE: CodeEntry = CodeEntry {
    code: "absolute",
    class: Class::Note,
    summary: "100 %, always, never, completely, entirely, perfect, zero leakage, under all circumstances",
    why: "No test shows zero or always: every measurement has a floor and every campaign an end.",
    source: "INCOSE Guide to Writing Requirements, R26; ISO/IEC/IEEE 29148:2018, 5.2.7 totality (from memory)",
    example: Some(Example {
        bad: "The seat shall have zero leakage.",
        good: "The seat leakage shall be at most 1e-4 mbar*L/s of helium.",
    }),
    help: "write a limit that an instrument can resolve",
};

pub(super) const UNMEASURABLE: CodeEntry = CodeEntry {
    code: "unmeasurable",
    class: Class::Note,
    summary: "maximize, minimize, optimize; improve, reduce, enhance with no number",
    why: "It is never finished: there is no value at which it is met.",
    source: "INCOSE Guide to Writing Requirements, R34; NASA Systems Engineering Handbook, Appendix C, C.4 (from memory)",
    example: Some(Example {
        bad: "The design shall minimize heat leak along the stem.",
        good: "The heat flow along the stem shall be at most 2.5 W with the body at 90 K.",
    }),
    help: "write the value that is good enough: \"at most 2.5 W\"",
};

pub(super) const COMPARATIVE: CodeEntry = CodeEntry {
    code: "comparative",
    class: Class::Note,
    summary: "better, faster, stronger, improved, comparable, equivalent to, similar to, than the current",
    why: "The other side of the comparison is not in the requirement, and may change or be scrapped.",
    source: "ISO/IEC/IEEE 29148:2018, 5.2.7 (from memory)",
    example: Some(Example {
        bad: "The reworked valve shall be faster than the current valve.",
        good: "The reworked valve shall open within 2 s of the open command.",
    }),
    help: "write the value that was to be bettered",
};

pub(super) const SUPERLATIVE: CodeEntry = CodeEntry {
    code: "superlative",
    class: Class::Note,
    summary: "best, most, least, highest, lowest, optimum, state of the art; maximum or minimum with no value",
    why: "The best of what, known to whom, on which day: no record can show it.",
    source: "ISO/IEC/IEEE 29148:2018, 5.2.7 (from memory)",
    example: Some(Example {
        bad: "The seal shall be made with the best available PTFE.",
        good: "The seal compound shall meet ASTM D4894-19 type II.",
    }),
    help: "write the value or the standard that counts as good enough",
};

pub(super) const SUBJECTIVE: CodeEntry = CodeEntry {
    code: "subjective",
    class: Class::Note,
    summary: "user-friendly, easy, simple, intuitive, convenient, cost-effective, elegant, good, high-quality",
    why: "These are opinions, and evidence is not an opinion.",
    source: "ISO/IEC/IEEE 29148:2018, 5.2.7; NASA Systems Engineering Handbook, Appendix C, C.4 (from memory)",
    example: Some(Example {
        bad: "The manual override shall be easy to use.",
        good: "The manual override shall move the valve from closed to open with at most 8 N·m.",
    }),
    help: "write what makes it so in numbers: force, time, count of steps",
};

pub(super) const ALL_ANY_BOTH: CodeEntry = CodeEntry {
    code: "all-any-both",
    class: Class::Note,
    summary: "all, any, both, either before a noun where \"each\" is meant",
    why: "\"Both seats shall seal at 5 mL/min\" may be the sum or one at a time; \"any\" may be one of them or every one.",
    source: "INCOSE Guide to Writing Requirements, R32",
    example: Some(Example {
        bad: "Both seats shall seal at 4 MPa gauge.",
        good: "Each seat shall seal at 4.0 MPa gauge with at most 5 mL/min of leakage.",
    }),
    help: "write \"each\", or name the pieces",
};
