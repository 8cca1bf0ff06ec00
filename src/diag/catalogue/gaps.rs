//! Gaps: something that must exist does not.

use super::{CodeEntry, PRACTICE, codes};

const VERIFIABLE: &str = "NASA Systems Engineering Handbook, Appendix C (each requirement has a way to be verified)";

/// Everything that is missing.
pub(super) const GAPS: &[CodeEntry] = codes! { Gap;
    "concerns-nothing", "a nonconformance has an empty list of requirements, and does not say why evidence still stands",
        "It makes no evidence void, whatever is found out or done to the piece; without `requirements` it would concern all.",
        "name what it concerns in `requirements`, or leave that key out if it may be anything; if evidence still stands, write voids = \"nothing\" with a reason", PRACTICE;
    "criterion-in-no-entry", "no plan entry asks for a criterion",
        "Nobody plans to show it, and the requirement would close without it.",
        "add the criterion to `criteria` of an entry, or remove that key so that the entry takes them all", VERIFIABLE;
    "decided-and-not-done", "an accepted decision says that it adds, revises or withdraws something, and that has not happened",
        "Everybody takes it for done, and what is shown is still held against the old words. It counts if it happened in the commit that made the decision accepted or after it, or in one that names the decision in a `Decision:` line.",
        "do what was decided, or correct the decision", PRACTICE;
    "dropped-and-not-carried-over", "a requirement applied to an option that a decision drops, and nobody says what becomes of it",
        "It was written for another concept: what it asks may be pointless now, or too little. It must be revised, withdrawn, or kept by name.",
        "name it in `keeps` of the decision if it holds for what comes instead; else revise or withdraw it", PRACTICE;
    "event-names-no-piece", "an event names pieces, and none of an item of which pieces are needed by then",
        "The rows fall back on whatever is in service, which need not be what will be there.",
        "add the piece that will be used to the event's `serials`", PRACTICE;
    "failure-not-signed", "a run that was written down and not signed shows a failure",
        "A failure counts from the day on which somebody stands by it: until then another run may decide, and what this one showed is forgotten.",
        "sign it and write the failure up; if nothing was run, take the file away", PRACTICE;
    "failure-without-nonconformance", "no nonconformance about the requirement names a failure that stands",
        "What was done about the failure, to which hardware, and by whose decision is written nowhere.",
        "write a nonconformance that names the record in found_by, and the requirement if it lists any", PRACTICE;
    "instrument-cannot-decide", "no reading of the instrument that is planned could show that a limit is met",
        "The run would be made, and would decide nothing: what is permitted lies outside the range of the instrument, or no value is inside by its uncertainty.",
        "read it from a better instrument, or ask whether the limit can be wider", "JCGM 106:2012, 7.6 and 8.3; ILAC-G8:09/2019, 4.2.2 (search excerpts)";
    "life-exceeded", "a piece has more behind it, or will have, than its limited life allows",
        "What wears out gives no sign of it: a seal after too many cold cycles leaks at the next one.",
        "use another piece, renew this one and say so with `resets` of its rework, or raise the limit on evidence", PRACTICE;
    "life-unknown", "it cannot be told how much of its limited life a piece has used, or will use",
        "Use that nobody wrote down wears the part as well; what is not known is never taken for nothing.",
        "write `uses.NAME` where it is missing; 0 if it used none", PRACTICE;
    "no-children", "a requirement is verified by its children and has none that are active",
        "Nothing shows it: all of none is no evidence.",
        "name it in `parents` of the requirements that suffice for it, or plan evidence of its own", PRACTICE;
    "no-item-with-tag", "no current item has the tag that a requirement applies to",
        "The requirement is about nothing, and would be forgotten.",
        "tag an item, or correct applies_to", PRACTICE;
    "no-option-chosen", "no option is chosen for the slot that a requirement applies to",
        "There is nothing yet that could meet it.",
        "set status = \"current\" on the option that a decision selects", PRACTICE;
    "no-plan-entry", "a requirement says nowhere how it will be shown",
        "A requirement that nobody plans to show will not be shown.",
        "add a [[verify]] entry with a method and the event it must come before", VERIFIABLE;
    "no-procedure", "a test or demonstration is planned without a procedure",
        "Without written steps a run cannot be repeated, and the next one tests something else.",
        "name a procedure in the entry: procedure = \"…\"", PRACTICE;
    "no-serial-in-scope", "no piece of an item is in scope of a plan entry",
        "Nothing can be tested that is not there: all of none is no evidence.",
        "add a serial in use to the item, or name the pieces in the event's `serials`", PRACTICE;
    "no-sufficiency-statement", "a requirement is verified by its children, and nobody has said that they suffice",
        "Each child may be met and the parent not: somebody has to judge that nothing lies between them.",
        "add [by_children] with mark, list, judged_by and date", PRACTICE;
    "nothing-committed", "the branch has no commit yet",
        "What leaves the files, or is asked less, is seen by comparison with what was committed; without a commit it leaves silently.",
        "commit the files: git add --all && git commit", PRACTICE;
 "piece-passed-over", "an event uses a piece of which nothing asks what is asked of others before an earlier event",
        "An entry for each piece is about those that its own event names, or about those in service. Another that is used later would go into the event with nothing shown of it, and nothing would be open.",
        "name the piece in `serials` of the earlier event too, or only the pieces that will be there in the later one; a spare that is built in is in service", PRACTICE;
    "procedure-not-released", "a planned procedure is not released",
        "A draft can still change, and what is run by it would have to be run again.",
        "finish and review it, then set status = \"released\"", PRACTICE;
    "relaxed-without-decision", "a safety requirement asks less than when evidence for it was signed, and no decision revises it",
        "A limit that is moved towards a result shows nothing. Who relaxes it after the result is known must say so, with the reason, where it can be found.",
        "write a decision that names the requirement in `revises`, or take the limit back", PRACTICE;
    "returned-and-in-use", "a nonconformance was closed by sending a piece back, and the piece is in use as before",
        "What was found on it was neither mended nor accepted, and its evidence closes requirements as if nothing had been found.",
        "set `use` of the piece to spare or its `status` to scrapped; if it came back, write what was done to it under [[serials.reworked]]", PRACTICE;
};
