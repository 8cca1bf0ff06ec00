//! Gaps: what must exist and does not.

use super::{Class, CodeEntry};

/// Gaps: what must exist and does not.
pub(super) const GAPS: &[CodeEntry] = &[
    CodeEntry {
        code: "childless-parent",
        class: Class::Gap,
        summary: "a requirement verified by its children that has none active",
        why: "All of none is not enough.",
        help: "add children, or plan evidence of its own",
        source: OWN,
    },
    CodeEntry {
        code: "entry-without-procedure",
        class: Class::Gap,
        summary: "a test or demonstration without a procedure",
        why: "Nobody can run it the same way twice.",
        help: "write the procedure and name it in the entry",
        source: OWN,
    },
    CodeEntry {
        code: "no-current-option",
        class: Class::Gap,
        summary: "a requirement on a slot for which no option is chosen",
        why: "There is nothing to show it on.",
        help: "set status = \"current\" on the option that a decision selects",
        source: OWN,
    },
    CodeEntry {
        code: "no-piece-in-scope",
        class: Class::Gap,
        summary: "an entry for which no piece is in scope",
        why: "All of none is not enough.",
        help: "name the serials that the event will use, or add pieces to the item",
        source: OWN,
    },
    CodeEntry {
        code: "no-sufficiency-statement",
        class: Class::Gap,
        summary: "nobody has said that the children suffice",
        why: "Children that are closed show the parent only if somebody judged that they do.",
        help: "add [by_children] with mark, list, judged_by and date",
        source: OWN,
    },
    CodeEntry {
        code: "no-tagged-item",
        class: Class::Gap,
        summary: "a tag that no current item has",
        why: "All of none is not enough.",
        help: "tag an item, or correct applies_to",
        source: OWN,
    },
    CodeEntry {
        code: "procedure-not-released",
        class: Class::Gap,
        summary: "an entry whose procedure is not released",
        why: "Evidence by a draft procedure may have to be made again.",
        help: "finish the procedure and set status = \"released\"",
        source: OWN,
    },
    CodeEntry {
        code: "unaccounted-failure",
        class: Class::Gap,
        summary: "a failure that no nonconformance names",
        why: "A failure without a disposition is forgotten or fixed in silence.",
        help: "slipmark new nonconformance --found-by RECORD",
        source: OWN,
    },
    CodeEntry {
        code: "unasked-criterion",
        class: Class::Gap,
        summary: "a criterion that no plan entry asks for",
        why: "It would never be shown.",
        help: "add it to the `criteria` of an entry, or remove the list",
        source: OWN,
    },
    CodeEntry {
        code: "unplanned-requirement",
        class: Class::Gap,
        summary: "a requirement that says nowhere how it will be shown",
        why: "It can never be closed.",
        help: "add [[verify]] with method and before",
        source: OWN,
    },
];

/// None of these is from a publication.
const OWN: &str = "common practice, no source";
