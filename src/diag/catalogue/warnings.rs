//! Warnings: poor practice, and what hangs from nothing.

use super::{CodeEntry, PRACTICE, codes};

/// What is worth mending although no answer is wrong.
pub(super) const WARNINGS: &[CodeEntry] = codes! { Warning;
    "accuracy-not-reached", "an instrument is stated to be less accurate than the procedure needs",
        "What it reads may not decide the limit, and that would be found out after the run.",
        "use a better instrument, or relax `accuracy` in the procedure and say why", "JCGM 106:2012, section 8.3 (guard bands)";
    "attachment-shared", "two records attach one file",
        "Either one recording was taken for two runs, or a file was attached to the wrong record; who changes it voids both.",
        "attach to each record what was recorded in its run; of one recording for both, a copy beside each", PRACTICE;
    "closed-in-name-only", "a nonconformance is set to closed and lacks what closing takes",
        "Its author takes it for closed; every answer counts it as open.",
        "add what is missing", PRACTICE;
    "criterion-not-recorded", "the fields of a procedure leave out something that a plan wants from it",
        "Whoever fills in the data sheet is not asked for it, and the run cannot close the requirement.",
        "add a field that feeds it to the procedure, or name another procedure in the plan entry", PRACTICE;
    "decision-not-carried-out", "an item's status is not what the newest decision about it says",
        "Either the decision or the product tree is out of date, and answers follow the tree.",
        "set `status` of the item as decided, or write the decision that changed it", PRACTICE;
    "applies-to-dropped", "a requirement applies to nothing but what was dropped",
        "No evidence can close it any more: it is about hardware that will not be there.",
        "withdraw it with a reason, or let it apply to what comes instead", PRACTICE;
    "draft-on-withdrawn-requirement", "a draft record is meant for a requirement that is withdrawn",
        "Work is being prepared that nothing asks for.",
        "remove that [verifies.…] table, or the draft", PRACTICE;
    "evidence-after-drop", "evidence was made on an option after a decision dropped it",
        "Either the date or the piece is wrong, or work goes on that nothing asks for; it counts for no requirement.",
        "correct `date`, `serial` or `item` of the record, or write the decision that takes the option up again", PRACTICE;
    "events-out-of-order", "an event is dated before one that comes earlier in the list",
        "The list gives the order that everything is due in; one of the two dates or places is wrong.",
        "put the events into the order in which they happen, or correct the date", PRACTICE;
    "field-feeds-nothing", "a field of a procedure is for something that nobody asks of it",
        "It is written down on every run and decides nothing; often a plan entry was moved to another procedure.",
        "plan the requirement by this procedure, correct `feeds`, or remove it", PRACTICE;
    "first-order-not-valid", "a calculation is so bent over what its inputs may be that first order misstates its uncertainty",
        "The usual law for carrying uncertainties is a straight line through the values; here trials disagree with it, and decide.",
        "nothing need be done; where it matters, make the uncertainty of what drives it smaller", "JCGM 101:2008, 8.1";
    "input-differs-from-source", "a typed input is not what the record says that it is from",
        "The calculation uses a number that nobody measured, or one that was corrected since.",
        "take the value with `from`, or correct the value or its source", PRACTICE;
    "instrument-in-words", "an instrument that readings are taken from states its range or uncertainty in words",
        "Nothing can be calculated from it: whether the instrument could decide a limit is not looked at, and no uncertainty is written into results.",
        "write range = \"0 to 5 N·m\" and uncertainty = \"± 0.05 N·m\"; of several uncertainties, a list", PRACTICE;
    "instrument-without-calibration", "an instrument that is used has no calibration at all",
        "What it reads cannot be traced to anything, and evidence made with it is void.",
        "add [[ID.calibrations]] with `on` and `due` to instruments.toml", "ISO/IEC 17025:2017, 6.4 and 6.5 (from memory)";
    "limited-life-unwatched", "a piece in service has a limited life, and no event uses it",
        "Whether its life lasts is asked before the events that use it; often nobody has written down what it sits in.",
        "name it in `contains` of the piece that it sits in, or in `serials` of an event", PRACTICE;
    "newer-result-not-used", "an analysis rests on a result that a newer one has replaced",
        "The analysis says something about the hardware as it was.",
        "name the newer record in `from` and calculate again, or say in the body why the older one is right", PRACTICE;
    "orphan-attachment", "a data file, picture or document lies among the records and no record names it",
        "Its hash is nowhere, so that nobody would see it change; often it belongs to the record beside it.",
        "name it under [[data]] of its record, or move it elsewhere", PRACTICE;
    "orphan-requirement", "a requirement has neither a parent nor a source",
        "Nobody can say why it is there, or whether it may be relaxed.",
        "add parents = [\"…\"], or source = \"…\" if it comes from outside the project", "ISO/IEC/IEEE 29148:2018, 5.2.8 (from memory)";
    "outside-instrument-range", "a recorded value lies outside the range of the instrument that its field names",
        "The instrument cannot have read it, or did so where nothing is known of how well it reads.",
        "correct the value or its unit, or name the instrument that was used", PRACTICE;
    "parent-moved", "a parent asks something else than when its child was last looked at",
        "The child was derived from the parent as it read then, and may no longer suffice for it. What is only written otherwise moves no parent, and to give the child another title or owner is not to look at it.",
        "look at the child: change it, name it in a decision, or write the parent's mark into it: parent_marks.ID = \"m1-…\"", "NASA Systems Engineering Handbook, 6.2 (bidirectional traceability; from memory)";
    "prerequisite-not-run", "a run was made without what its procedure has as a prerequisite",
        "What had to hold first was never shown: no signed record is a run of the prerequisite on the piece, on what is in it or on what it is in.",
        "write down the run of the prerequisite, if there was one; else make both; where the order matters to a requirement, put it into `after` of the plan entry, which is judged", PRACTICE;
    "qualification-in-service", "a qualification piece is named or built in where a piece in service is asked for",
        "It has been loaded beyond what service asks, and what life that left in it is not known.",
        "use a piece that is meant for service, or set `use` to what the piece is for now, with a decision", PRACTICE;
    "relief-moved", "a waiver accepts more than when it was approved, because a parameter moved",
        "Whoever approved it accepted what its limit came to then; the same words come to more now, and it still covers what it covers.",
        "look at it again: approve it anew, with the day in `approved`, or write under `accepts` what was approved", PRACTICE;
    "run-before-prerequisite", "a run was made before what its procedure has as a prerequisite",
        "What had to hold first was not shown when it was run; the prerequisite was run on the same piece, and only later.",
        "run it again, or write down the earlier run of the prerequisite; where the order matters to a requirement, put it into `after` of the plan entry, which is judged", PRACTICE;
    "same-departure", "several pieces of an item depart in the same way",
        "What is found on one piece after the other is seldom the piece: the design, the drawing or the process may be at fault, and the pieces that were not looked at have it too.",
        "look for the common cause; if there is one, write a nonconformance against the item itself that names the same requirement", PRACTICE;
    "same-day-evidence", "two records of one day decide, and the hours do not say which is the newer",
        "Without the hour the worse of them decides.",
        "write the hour in `date` of both: 2026-03-14T09:30:00", PRACTICE;
    "steps-changed-after-run", "a procedure was changed after signed runs of it, and its revision was not",
        "The records say that they ran this revision, and what it says now is not what was done. What is only written otherwise, cautions and titles change nothing.",
        "give the procedure its next revision, and say in `earlier_runs` whether runs of the earlier one count", PRACTICE;
    "template-broken", "a template of the project cannot be used",
        "The documents that it belongs to cannot be made until it is mended; none is ever made with a part left blank.",
        "correct it, or take it away to have slipmark's own", PRACTICE;
    "test-uncertainty-ratio", "half the width between two limits is less than four times the uncertainty of the instrument",
        "Much of what is permitted lies so near to a limit that the reading cannot tell; under the guarded rule a good part may come out as inconclusive.",
        "use a better instrument, or work out how often a wrong value would be accepted and say so in the procedure", "ANSI/NCSL Z540.3-2006, 5.3 b (from memory); JCGM 106:2012, 7.6 (measurement capability index)";
    "tolerance-too-narrow", "the limits lie closer together than twice the uncertainty of a result",
        "Under the guarded rule no value measured this way could ever be inside by its whole uncertainty.",
        "measure better, or ask whether the limits can be wider", "JCGM 106:2012, section 8.3 (guard bands)";
    "uncertainty-below-instrument", "a result states a smaller uncertainty than its instrument has",
        "One reading cannot be better than what it was read from: than its stated uncertainty, or where it states none, than its resolution allows.",
        "write the uncertainty of the instrument or more, or say in the body why several readings come to less", "JCGM 100:2008, F.2.2.1 (resolution)";
    "uncertainty-of-zero", "a result states an uncertainty of zero",
        "It decides as if the value were perfect: on the limit it is met, and a hair beside it not. No measurement is that good, and nothing that follows from one.",
        "write its uncertainty, that of the instrument at least; for what is exact by definition, say so in the body and lower the level of this warning", "JCGM 100:2008, 3.3 (what makes a measurement uncertain)";
    "unknown-hazard", "an item names a hazard that is nearly a word that cautions are known for, and is none",
        "Sheets, answers and packets list cautions for the hazards that it knows, and say nothing for another word: a slip of the pen would take them away unseen.",
        "write the word that it knows; if it is another hazard, write its cautions into the procedures and lower the level of this warning", PRACTICE;
    "unknown-template", "a file among the project's templates takes the place of none, or there is no such folder",
        "Whoever wrote it believes that it is used, and documents look as if it were not there.",
        "give it the name and folder of the template that it stands for: slipmark templates lists them", PRACTICE;
    "unknown-revision", "a record states a revision that its item does not list",
        "Whether later revisions keep the evidence cannot be told, and it counts as void.",
        "correct the revision, or add it under [[revisions]] of the item", PRACTICE;
    "unsealed-record", "a signed record carries no seal",
        "An edit after the signature would not show.",
        "run slipmark sign on the record", PRACTICE;
    "waiver-covers-nothing", "an approved waiver cannot cover anything: by what it is for, or by what it accepts",
        "What was accepted is still open, and nobody is told that the waiver does not reach it.",
        "name what the requirement is shown on, and write what is accepted in the unit of the limit", PRACTICE;
    "waiver-incomplete", "a waiver is set to approved and does not say by whom, when, or until when",
        "It covers nothing until it does: a permission without an end would outlive what it was given for.",
        "add approved_by, approved, and before or expires", PRACTICE;
    "waiver-slipped", "an approved waiver was written for another text of its requirement",
        "It covers nothing now: what was accepted is not what is asked.",
        "look at both texts, then set `mark` and `approved` again, or withdraw the waiver", PRACTICE;
    "withdrawal-without-effect", "a record is withdrawn, and its failure is accounted for nowhere",
        "A failing record cannot be withdrawn by itself: it counts as if it were still signed.",
        "write a nonconformance that names the record in found_by, and close it", PRACTICE;
};
