//! Conditions, events and times: when the demand holds.

use super::super::{Class, CodeEntry, Example};

pub(super) const CONDITION_INSIDE: CodeEntry = CodeEntry {
    code: "condition-inside",
    class: Class::Note,
    summary: "a condition clause between \"shall\" and its verb",
    why: "A condition in the middle splits the demand, and it is then unclear which words it governs.",
    source: "INCOSE Guide to Writing Requirements, R11",
    example: Some(Example {
        bad: "The valve shall, if power is lost, close within 1.5 s.",
        good: "If power is lost, then the valve shall close within 1.5 s.",
    }),
    help: "move the condition to the front: \"When ..., the valve shall ...\"",
};

pub(super) const UNDEFINED_CONDITION: CodeEntry = CodeEntry {
    code: "undefined-condition",
    class: Class::Note,
    summary: "normal, nominal, worst-case, operating or all conditions; in service; during operation; at cold",
    why: "Evidence is only as good as the conditions it was taken at. Conditions that are named and nowhere defined can be argued either way afterwards.",
    source: "INCOSE Guide to Writing Requirements, R27",
    example: Some(Example {
        bad: "The actuator shall open the valve under worst-case conditions.",
        good: "The actuator shall open the valve at 90 K body temperature and 20 V supply.",
    }),
    help: "write the values: \"at 90 K body temperature and 20 V supply\"",
};

pub(super) const MIXED_CONDITIONS: CodeEntry = CodeEntry {
    code: "mixed-conditions",
    class: Class::Note,
    summary: "\"and\" and \"or\" both in one condition clause",
    why: "\"A and B or C\" has two readings, and a test made for one of them does not cover the other.",
    source: "INCOSE Guide to Writing Requirements, R28",
    example: Some(Example {
        bad: "If PT-01 is high and TC-04 is low or XV-2 is open, then the controller shall close MOV.",
        good: "If PT-01 exceeds 5.0 MPa gauge, then the controller shall close MOV within 200 ms.",
    }),
    help: "split it into one requirement for each combination, or write the combinations as a list",
};

pub(super) const EVENT_WITHOUT_ANSWER: CodeEntry = CodeEntry {
    code: "event-without-answer",
    class: Class::Note,
    summary: "a start with When, If, While or Where and no comma with \"the ... shall\" after it",
    why: "Where the condition ends and the answer starts cannot be seen, so neither can what has to happen.",
    source: "EARS (Easy Approach to Requirements Syntax), event-driven pattern",
    example: Some(Example {
        bad: "When the abort button is pressed the valve closing shall be at most 1.5 s.",
        good: "When the abort command arrives, the valve shall close within 1.5 s.",
    }),
    help: "write the condition, a comma, and what answers it: \"When E, the X shall R\"",
};

pub(super) const IF_WITHOUT_THEN: CodeEntry = CodeEntry {
    code: "if-without-then",
    class: Class::Note,
    summary: "a start with If and no \", then\"",
    why: "The pattern for unwanted events is If ..., then ...: readers and tests tell faults from ordinary events by it.",
    source: "EARS (Easy Approach to Requirements Syntax), unwanted behaviour pattern",
    example: Some(Example {
        bad: "If power is lost, the valve shall close within 1.5 s.",
        good: "If power is lost, then the valve shall close within 1.5 s.",
    }),
    help: "write \"If C, then the X shall R\", or \"When\" if the event is an expected one",
};

pub(super) const CLAUSE_ORDER: CodeEntry = CodeEntry {
    code: "clause-order",
    class: Class::Note,
    summary: "When or If before While; When or While before Where",
    why: "With the state before the event a tester knows what to set up first; the other order reads as if the event came first.",
    source: "EARS (Easy Approach to Requirements Syntax), complex pattern",
    example: Some(Example {
        bad: "When the abort command arrives, while the stand is armed, the valve shall close within 1.5 s.",
        good: "While the stand is armed, when the abort command arrives, the valve shall close within 1.5 s.",
    }),
    help: "order the clauses Where, While, When or If, then the X shall",
};

pub(super) const INDEFINITE_TIME: CodeEntry = CodeEntry {
    code: "indefinite-time",
    class: Class::Note,
    summary: "eventually, until, before, after, as soon as, immediately, prompt, timely, real time, with no time or event given",
    why: "Without a number there is no time at which the test has failed.",
    source: "INCOSE Guide to Writing Requirements, R35",
    example: Some(Example {
        bad: "On abort, the valve shall close immediately.",
        good: "On abort, the valve shall close within 1.5 s.",
    }),
    help: "write the time: \"within 1.5 s of the abort command\"",
};
