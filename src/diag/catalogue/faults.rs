//! Faults of what the files say: keys, names, and contradictions.

use super::{CodeEntry, PRACTICE, codes};

const SI: &str = "BIPM, The International System of Units (SI Brochure), 9th edition, section 5";

/// Faults of keys and names, and of what they say together.
pub(super) const FAULTS: &[CodeEntry] = codes! { Fault;
    "assembly-cycle", "an item or slot sits in itself",
        "What is dropped with an assembly cannot be told when the assemblies run in a circle.",
        "correct `assembly` or `fills` of one of them", PRACTICE;
    "bad-ambient", "`ambient` is not an absolute pressure",
        "Gauge readings cannot be compared with absolute limits without it.",
        "write ambient = \"101.325 kPa abs\", or what your barometer shows", PRACTICE;
    "bad-calculation", "a calculation cannot be read, its units do not fit, or it cannot be worked out",
        "What rests on it has no value, and counts as open.",
        "correct the line that is shown; to try a part of it: slipmark calc -e \"…\"", SI;
    "bad-correlation", "what is said about how two inputs go together cannot be used",
        "An uncertainty that leaves a correlation out is too small, or too large.",
        "write [[correlations]] with between = [\"…\", \"…\"] and r = 0.8", "JCGM 100:2008, 5.2";
    "bad-id", "an id has another form than ids have",
        "An id is written in other files, in commands and in file names; a space or a slash would end it there.",
        "start with a letter, and use only letters, digits, `.`, `_` and `-`", PRACTICE;
    "bad-input", "an input has not exactly one of `value`, `readings` and `from`, or no value that can be calculated with",
        "A typed value and a reference to a record could differ, and nobody would see which was used.",
        "write value = \"…\" with its source, readings = [\"…\", \"…\"], or from = \"RECORD.CRITERION\"", PRACTICE;
    "bad-probability", "the probability of conformity does not lie between 0.5 and 1",
        "Below one half a result that is more likely outside than inside would count as met.",
        "write probability = 0.95", "JCGM 106:2012, section 7";
    "bad-quantity", "a limit, result, parameter or duration cannot be read as a quantity",
        "What cannot be read cannot be compared.",
        "write number, uncertainty and unit: \"0.83 ± 0.11 N·m\"", SI;
    "bad-reduction", "what is asked of attached data cannot be worked out",
        "The result that rests on it has no value, and counts as open.",
        "correct the key or the line of the file that is shown", PRACTICE;
    "bad-result", "a result is a table, but neither a calculation nor a reduction of data nor a sample",
        "What it was meant to be computed from cannot be told.",
        "write { calc = \"…\" }, { data = \"FILE.csv\", column = \"…\", reduce = \"…\" } or { sample = [\"…\"] }", PRACTICE;
    "bad-share", "a reliability, confidence or share to cover does not lie between 0 and 100 %",
        "No number of trials shows certainty, and with a confidence below one half a coin would do.",
        "write confidence = \"95 %\"", PRACTICE;
    "by-children-unused", "children are said to suffice, and the requirement is not verified by them",
        "The statement has no effect: the requirement stays without the evidence that its author thought it had.",
        "add verified_by = \"children\" above the tables, or remove [by_children]", PRACTICE;
    "calculation-cycle", "calculations take their values from one another in a circle",
        "None of them can be worked out before the others.",
        "write the value of one of the inputs, with its source", PRACTICE;
    "candidate-piece-built-in", "a piece in service contains a piece of an option that was not chosen",
        "Evidence is asked for on the option that is current, and what will be used is not that.",
        "take it out, with its date in `to`; or make it the current option, with the decision that says so", PRACTICE;
    "changed-after-signing", "a signed or withdrawn record does not hold what was signed",
        "Where it decides, the row is void; where it does not, it may be a failure that was edited away.",
        "bring it back from git, or sign it again and say why", PRACTICE;
    "condition-units-differ", "two criteria of a requirement give one condition in units that do not go together",
        "A record states a condition once, so that it can fit only one of the two.",
        "give one of the two conditions another name, or correct its unit", SI;
    "condition-without-limit", "a condition has neither min nor max",
        "It would hold whatever the conditions were.",
        "write at.NAME = { min = \"…\" } or { max = \"…\" }, or both", PRACTICE;
    "contains-cycle", "a piece contains itself",
        "Whose evidence is undone by work on it cannot be told.",
        "correct `contains` of one of the pieces", PRACTICE;
    "count-expected", "a criterion counts, and the result is no whole number",
        "It cannot be compared with the count that is asked.",
        "write a whole number", PRACTICE;
    "criterion-shape", "a criterion expects nothing, or two things at once",
        "Whether a result meets it cannot be told.",
        "give it exactly one of: min and/or max; equals with tolerance; expect; count; reliability with confidence", PRACTICE;
    "criterion-twice", "a requirement has both the short form of a criterion and [criteria.…] tables",
        "One of the two would silently not be judged.",
        "move the key into one of the [criteria.NAME] tables", PRACTICE;
    "date-in-future", "something is dated later than today anywhere on Earth",
        "What has not happened yet can show nothing, and a mistyped year makes an old record the newest.",
        "correct the date, or ask with --today", PRACTICE;
    "duplicate-id", "two things have one id",
        "Only the first is used; what the second says is not in any answer.",
        "give one of them another id", PRACTICE;
    "dropped-piece-built-in", "a piece in use contains a piece of an item that was dropped",
        "Evidence is asked for on what was chosen instead, and what will be used is not that.",
        "take it out, with its date in `to`; or correct the status of the item", PRACTICE;
    "earlier-runs-without-reason", "a procedure says that earlier runs count, without a reason",
        "Whoever reads it later cannot tell whether anybody compared the two revisions.",
        "add reason = \"…\": what changed, and why runs of the earlier revision are still good", PRACTICE;
    "empty-value", "a key holds an empty text, or an empty list where there must be something",
        "It looks filled in and says nothing.",
        "fill it in, or remove the key", PRACTICE;
    "evidence-before-built", "a record is dated before the piece that it is about was built",
        "One of the two days is wrong, or the record is of another piece. What was found before a piece was there says nothing of it, and would count as if it did. Analyses may come first.",
        "correct `date` or `serial` of the record, or `built`; of what was looked at while it was made, `built` is the day on which that began", PRACTICE;
    "evidence-before-revision", "a record is dated before the revision that it is said to have seen",
        "The record saw an earlier one, and would count for this one; or one of the two days is wrong. Analyses, and inspections that name no piece, may come first.",
        "correct `date` or `revision` of the record, or `date` of the revision", PRACTICE;
    "event-piece-unusable", "an event names a piece that is spare, scrapped, or of an item that was dropped",
        "No row asks for evidence on such a piece: what will be used would be shown on nothing.",
        "name a piece that will be there, or correct `use`, `status` or the item", PRACTICE;
    "event-twice", "an event is listed twice",
        "What comes before what cannot be told.",
        "remove one of the two", PRACTICE;
    "field-twice", "two fields of a procedure have one name",
        "Results are filled in by the name of the field; which of the two was meant could not be told.",
        "give one of them another name", PRACTICE;
    "id-case-clash", "two ids differ only in case",
        "They are easily taken for one another, and some file systems cannot tell their files apart.",
        "give one of them another id", PRACTICE;
    "level-cannot-be-lowered", "slipmark.toml sets the level of a fault or a gap",
        "Faults and gaps can make an answer wrong; hiding them would make it look right.",
        "remove this line", PRACTICE;
    "limits-contradict", "the least permitted lies above the most, or the two do not go together",
        "No result can ever meet the criterion.",
        "swap `min` and `max`, or correct one of them", PRACTICE;
    "matches-no-entry", "a signed record names a requirement and counts for no entry of its plan",
        "Somebody made the evidence and it is not looked at: whatever it shows, good or bad, changes nothing.",
        "correct method, stage, procedure or serial of the record, or add a [[verify]] entry that fits it", PRACTICE;
    "missing-key", "a key that must be there is not",
        "Without it the thing cannot be judged, or not be placed in time.",
        "add the key", PRACTICE;
    "no-events", "the project names no event",
        "Without an event nothing is due, and no answer can be made.",
        "add events = [\"leak-check\", \"hot-fire\"] with your own names, in the order in which they happen", PRACTICE;
    "no-statement", "a requirement says nothing before its first heading",
        "There is nothing that evidence could be judged against, and the mark covers no text.",
        "write the shall sentence below the closing `+++`", "NASA Systems Engineering Handbook, Appendix C";
    "no-such-date", "a date does not exist",
        "What cannot be dated cannot be put in order.",
        "write a day that exists, as 2026-03-14 or 2026-03-14T09:30:00", "TOML 1.0 (toml.io): RFC 3339 dates";
    "not-a-serial", "a serial is not written ITEM/NUMBER",
        "Which piece was meant cannot be told.",
        "write ITEM/NUMBER, such as \"MOV/SN02\"", PRACTICE;
    "out-before-in", "a piece is taken out of another before it was put in",
        "It would never have been inside, and evidence made with it inside would not fall with it.",
        "correct `from` or `to`", PRACTICE;
    "parent-cycle", "a requirement is among its own descendants",
        "What hangs from what cannot be told, and a parent that its children close could close itself.",
        "correct `parents` of one of them", PRACTICE;
    "revision-not-reached", "a revision is listed that neither its item nor any piece of it is at",
        "What came about by the list is what voids earlier evidence, and does not as long as `revision` is an earlier one. A step whose date is still to come may be listed ahead.",
        "set `revision` of the item or of the pieces to it, or remove it from [[revisions]]", PRACTICE;
    "reworked-before-built", "a piece is reworked before it is built",
        "One of the two days is wrong. Evidence is void up to a rework, so that a year that was typed wrongly would leave standing what it undid.",
        "correct `date` of the rework, or `built`", PRACTICE;
    "sample-expected", "a criterion is about most of what is made, and the result is no sample; or the reverse",
        "One value does not tell how those scatter that were not measured.",
        "write { sample = [\"…\", \"…\"] } with every reading, or { mean = \"…\", sd = \"…\", n = 10 }", PRACTICE;
    "scrapped-piece-built-in", "a piece in use contains one that is scrapped",
        "What was found wrong with it counts no more, since it is to be used no more; and there it is.",
        "take it out, with its date in `to`; or correct which of them is scrapped", PRACTICE;
    "seal-replaced", "a record was signed with another seal than it carries, and does not say why",
        "A seal that is worked out anew over an edited record looks whole; only history shows what was signed. It may be a failure that was edited away.",
        "bring back what was signed, or sign it again and say why: slipmark sign ID --by ROLE --because \"…\"", PRACTICE;
    "seal-without-signature", "a draft carries a seal",
        "A seal stands for a signature; a draft with one looks signed and does not count.",
        "sign it again with slipmark sign, or remove `seal`", PRACTICE;
    "serial-and-item", "a record names both serials and an item",
        "Whether it is evidence from a piece or about the design cannot be told.",
        "keep `serial` for evidence from pieces, `item` for evidence about the design", PRACTICE;
    "serial-twice", "a serial is listed twice",
        "The second may say something else than the first, and only one is used.",
        "remove one of the two", PRACTICE;
    "trials-expected", "a criterion asks for a reliability, and the result does not say how many trials succeeded",
        "What trials show depends on how many there were.",
        "write the successes and all trials, such as \"59 of 59\"", PRACTICE;
    "two-current-options", "two options of a slot are current",
        "Which of them the requirements on the slot are about cannot be told.",
        "set status = \"dropped\" or \"candidate\" on all but one", PRACTICE;
    "units-do-not-match", "a result and its criterion do not go together",
        "A torque cannot be held against an energy, nor a gauge pressure against an absolute one without `ambient`.",
        "write the result in a unit of the criterion's sort", SI;
    "unknown-code", "[levels] names a code that no finding has",
        "The line has no effect.",
        "run slipmark explain to list the codes", PRACTICE;
    "unknown-key", "a key is not known here",
        "What it says is not used; often it is another key misspelt, or one that slid into the table above it.",
        "correct or remove it", PRACTICE;
    "unknown-kind", "a `kind` is not known",
        "Nothing else in the file is used.",
        "write one of the kinds", PRACTICE;
    "unknown-name", "a name refers to nothing",
        "What was meant to be connected is not.",
        "create it, or correct the name", PRACTICE;
    "unknown-result-word", "a result is a word that its criterion does not know",
        "Whether it was good cannot be told.",
        "write \"pass\" or \"fail\", or one of the expected words", PRACTICE;
    "unknown-word", "a key holds a word that it cannot hold",
        "What was meant cannot be told, and the usual value is taken instead.",
        "write one of the words that the key takes", PRACTICE;
    "uses-without-piece", "something used up limited life, and names no piece",
        "The use counts for no piece, and the piece that was used looks fresher than it is.",
        "name the pieces: `serial` of a record, `serials` of a held event", PRACTICE;
    "verifies-nothing", "a signed record verifies no requirement",
        "A failure in it counts nowhere.",
        "add [verifies.ID] with its results", PRACTICE;
    "voids-without-reason", "a nonconformance says that it voids no evidence, without a reason",
        "The work on the hardware undoes earlier evidence unless somebody says why it does not.",
        "add reason = \"…\": why earlier evidence still stands", PRACTICE;
    "which-criterion", "a record gives one `result` for a requirement with several criteria",
        "Which criterion was measured cannot be told.",
        "write results.NAME = … for each of them", PRACTICE;
    "withdrawn-without-reason", "a requirement or a record is withdrawn without a reason",
        "It counts as not withdrawn until somebody says why it was.",
        "add reason = \"…\"", PRACTICE;
    "word-for-quantity", "a result is pass or fail where the criterion is a limit in numbers",
        "The margin is lost, and whether the reader of the gauge knew the limit cannot be seen.",
        "write the measured value with its unit and uncertainty", "JCGM 106:2012";
    "wrong-kind", "a name refers to a thing of another kind",
        "What was meant to be connected is not.",
        "name a thing of the kind that is expected here", PRACTICE;
    "wrong-type", "a key holds a value of another type",
        "The value is not used.",
        "write a value of the type that the key takes", PRACTICE;
};
