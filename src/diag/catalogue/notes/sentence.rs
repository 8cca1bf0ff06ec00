//! The shall sentence: one subject, one verb, one demand.

use super::super::{Class, CodeEntry, Example};

pub(super) const NO_SHALL: CodeEntry = CodeEntry {
    code: "no-shall",
    class: Class::Note,
    summary: "no word \"shall\" in the statement",
    why: "Without \"shall\" nobody can tell a demand from a description, so nobody knows whether it has to be shown.",
    source: "NASA Systems Engineering Handbook, Appendix C, C.1; INCOSE Guide to Writing Requirements, R1",
    example: Some(Example {
        bad: "The valve opens within 2 s of the open command.",
        good: "The valve shall open within 2 s of the open command.",
    }),
    help: "write one sentence with \"shall\", or move the text to the rationale",
};

pub(super) const SEVERAL_SHALLS: CodeEntry = CodeEntry {
    code: "several-shalls",
    class: Class::Note,
    summary: "\"shall\" twice or more",
    why: "Two demands under one id share one state: if one is met and the other is not, the requirement has no honest answer.",
    source: "INCOSE Guide to Writing Requirements, R18; NASA Systems Engineering Handbook, Appendix C, C.4 clarity (from memory)",
    example: Some(Example {
        bad: "The actuator shall open the valve and the switch shall report it.",
        good: "The actuator shall open the valve within 2 s.",
    }),
    help: "give each \"shall\" a requirement of its own",
};

pub(super) const GOAL_WORD: CodeEntry = CodeEntry {
    code: "goal-word",
    class: Class::Note,
    summary: "should, may, might, could, can, must, ought, would, needs to, is to; \"will\" for a demand",
    why: "These words state goals, permissions and facts. Evidence is owed for demands only, and a reader cannot tell that this was meant as one.",
    source: "NASA Systems Engineering Handbook, Appendix C, C.1",
    example: Some(Example {
        bad: "The seat should not leak more than 5 mL/min.",
        good: "The seat leakage shall be at most 5 mL/min at 4.0 MPa gauge.",
    }),
    help: "write \"shall\" for a demand; put goals and facts in the rationale",
};

pub(super) const PASSIVE_VOICE: CodeEntry = CodeEntry {
    code: "passive-voice",
    class: Class::Note,
    summary: "\"shall be\" and a participle: be vented, be kept",
    why: "The passive hides what has to do it, so nobody knows which piece to test.",
    source: "NASA Systems Engineering Handbook, Appendix C, C.2; INCOSE Guide to Writing Requirements, R2",
    example: Some(Example {
        bad: "The ball shall be vented to the upstream side.",
        good: "The ball shall have a vent hole of 2.0 mm +/- 0.1 mm to the upstream side.",
    }),
    help: "name the thing that does it as the subject: \"The purge panel shall vent ...\"",
};

pub(super) const NO_SUBJECT: CodeEntry = CodeEntry {
    code: "no-subject",
    class: Class::Note,
    summary: "\"shall\" with nothing before it, or \"There shall\", \"It shall\"",
    why: "A demand on nothing in particular cannot be allotted to an item, and no item can be shown to meet it.",
    source: "INCOSE Guide to Writing Requirements, R1, R3; NASA Systems Engineering Handbook, Appendix C, C.2",
    example: Some(Example {
        bad: "Shall withstand 6.0 MPa.",
        good: "The body shall withstand 6.0 MPa gauge for 180 s.",
    }),
    help: "start with the item that has to comply: \"The valve body shall ...\"",
};

pub(super) const PERSON_AS_SUBJECT: CodeEntry = CodeEntry {
    code: "person-as-subject",
    class: Class::Note,
    summary: "an operator, technician, crew, user, team, engineer, inspector or supplier as the subject",
    why: "What people do belongs in a procedure. A requirement on the product is shown on the product, and a person has no serial number.",
    source: "NASA Systems Engineering Handbook, Appendix C, C.2 (no descriptions of operations)",
    example: Some(Example {
        bad: "The operator shall check the purge before chill-down.",
        good: "The purge panel shall indicate nitrogen flow from 2 g/s to 6 g/s.",
    }),
    help: "write what the product does or has that lets them do it, and move the action to a procedure",
};

pub(super) const SEVERAL_SENTENCES: CodeEntry = CodeEntry {
    code: "several-sentences",
    class: Class::Note,
    summary: "more than one sentence in the statement",
    why: "What stands in a second sentence is read as explanation by one person and as a further demand by the next.",
    source: "INCOSE Guide to Writing Requirements, R18",
    example: Some(Example {
        bad: "The valve shall seal at 4 MPa gauge. The maker knows the seat.",
        good: "The valve seat leakage shall be at most 5 mL/min at 4.0 MPa gauge.",
    }),
    help: "keep one sentence; move explanations to the rationale and further demands to requirements of their own",
};

pub(super) const JOINED_ACTIONS: CodeEntry = CodeEntry {
    code: "joined-actions",
    class: Class::Note,
    summary: "two actions after one \"shall\", joined by and, or, as well as, but also, then, whereas",
    why: "Each action needs evidence of its own; joined, one of them is easily left untested.",
    source: "INCOSE Guide to Writing Requirements, R19; ISO/IEC/IEEE 29148:2018, 5.2.5 singular (from memory)",
    example: Some(Example {
        bad: "The valve shall open within 2 s and report its position.",
        good: "The position switch shall report the closed position within 50 ms.",
    }),
    help: "split it into one requirement for each action",
};

pub(super) const NEGATIVE_SHALL: CodeEntry = CodeEntry {
    code: "negative-shall",
    class: Class::Note,
    summary: "shall not, shall never, shall no longer (a milder note: some prohibitions are clearest so)",
    why: "That something never happens cannot be shown by any finite test. A limit on something measurable can.",
    source: "INCOSE Guide to Writing Requirements, R16; NASA Systems Engineering Handbook, Appendix C, C.3",
    example: Some(Example {
        bad: "The actuator shall not draw more than 6 A.",
        good: "The actuator supply current shall be at most 6 A.",
    }),
    help: "state what is wanted as a limit: \"at most 6 A\". Keep a true prohibition, and say in the rationale how its absence is shown",
};

pub(super) const WEAK_VERB: CodeEntry = CodeEntry {
    code: "weak-verb",
    class: Class::Note,
    summary: "support, provide for, handle, process, accommodate, facilitate, enable, address, allow for, consider, assist after \"shall\"",
    why: "These verbs do not say what happens, so there is nothing to observe.",
    source: "ISO/IEC/IEEE 29148:2018, 5.2.7 open-ended terms; NASA Systems Engineering Handbook, Appendix C, C.4 (from memory)",
    example: Some(Example {
        bad: "The bracket shall accommodate thermal growth.",
        good: "The bracket shall permit axial growth of 0.4 mm at less than 50 N.",
    }),
    help: "write what can be observed: the motion, the flow, the load, the time",
};

pub(super) const LONG_STATEMENT: CodeEntry = CodeEntry {
    code: "long-statement",
    class: Class::Note,
    summary: "more than 40 words, or more than three commas",
    why: "Long sentences hide conditions and second demands, and the evidence then covers only the part that was noticed.",
    source: "NASA Systems Engineering Handbook, Appendix C, C.4 (concise) and ISO/IEC/IEEE 29148 (from memory); the numbers are common practice, no source",
    example: Some(Example {
        bad: "The main oxidizer valve of the stand when cold and pressurised and after at least one chill-down cycle in which the body has been held below the given temperature for the given time shall open fully on command and stay open for the whole burn.",
        good: "After 600 s below 95 K, the main oxidizer valve shall open within 2 s.",
    }),
    help: "split the sentence, or state conditions as conditions of the criterion",
};

pub(super) const HEADING_NEEDED: CodeEntry = CodeEntry {
    code: "heading-needed",
    class: Class::Note,
    summary: "fewer than five words, or a start with ditto, same as, as for",
    why: "A statement that only makes sense under its heading or after its neighbour loses its meaning when it is moved or quoted.",
    source: "INCOSE Guide to Writing Requirements, R25",
    example: Some(Example {
        bad: "Shall be oxygen clean.",
        good: "The wetted surfaces shall meet particle level 100 of IEST-STD-CC1246D.",
    }),
    help: "write a whole sentence that can be read alone",
};

pub(super) const INDEFINITE_ARTICLE: CodeEntry = CodeEntry {
    code: "indefinite-article",
    class: Class::Note,
    summary: "\"A\" or \"An\" before the item that the demand is on",
    why: "\"A valve\" may be any valve: it is not clear which one has to be shown to comply, or whether one is enough.",
    source: "INCOSE Guide to Writing Requirements, R5",
    example: Some(Example {
        bad: "A valve shall close within 2 s of the close command.",
        good: "The valve shall close within 2 s of the close command.",
    }),
    help: "write \"The\" and the item's name from the product tree",
};

pub(super) const NEEDLESS_INFINITIVE: CodeEntry = CodeEntry {
    code: "needless-infinitive",
    class: Class::Note,
    summary: "be able to, be capable of, be designed to, be provided to, have the capability to",
    why: "To be able to is not to do: a valve that could close meets the words without ever closing in a test.",
    source: "INCOSE Guide to Writing Requirements, R10",
    example: Some(Example {
        bad: "The actuator shall be able to hold position without power.",
        good: "The actuator shall hold position within 2 degrees without power for 300 s.",
    }),
    help: "drop the phrase and write the verb itself",
};
