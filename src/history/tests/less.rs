//! Each way to ask less, one by one; the reverse of each must be silent, unless it cannot be compared either way.

use super::Stand;

/// A file, what stands in it, what it becomes, what is said, and whether the way back is silent.
struct Case(&'static str, &'static str, &'static str, &'static str, Back);

#[derive(PartialEq)]
enum Back {
    Silent,
    Said,
}
use Back::{Said, Silent};

const R1: &str = "requirements/R-1.md";
const R2: &str = "requirements/R-2.md";
const MOV: &str = "items/MOV.md";
const PROJECT: &str = "slipmark.toml";
const NC: &str = "departures/NC-1.md";
const WAIVER: &str = "departures/W-1.md";
const HELD: &str = "events/EV-1.md";
const PRG: &str = "items/PRG.md";

const CASES: &[Case] = &[
    // Requirements.
    Case(R1, "safety = true\n", "", "R-1: no longer marked as safety", Silent),
    Case(R1, "safety = true", "safety = true\nstatus = \"draft\"", "R-1: draft instead of active", Silent),
    Case(
        R1,
        "safety = true",
        "safety = true\nstatus = \"withdrawn\"\nreason = \"r\"",
        "R-1: withdrawn, by no decision",
        Silent,
    ),
    Case(R1, "[\"MOV\", \"PRG\"]", "\"MOV\"", "R-1: no longer applies to PRG", Silent),
    Case(R2, "{ tag = \"pressure\" }", "\"MOV\"", "R-2: applies to MOV instead of items tagged pressure", Said),
    // Criteria.
    Case(R1, "min = 0.5", "min = 0.3", "R-1: margin: relaxed from at least 0.5 to at least 0.3", Silent),
    Case(R1, "25.4 mm", "26 mm", "R-1: gap: relaxed from at most 25.4 mm to at most 26 mm", Silent),
    Case(
        R1,
        "25.4 mm",
        "26 K",
        "R-1: gap: changed from at most 25.4 mm to at most 26 K, which cannot be compared",
        Said,
    ),
    Case(R1, "min = 0.5", "max = 0.5", "R-1: margin: relaxed from at least 0.5 to at most 0.5", Said),
    Case(R1, "[\"tight\"]", "[\"tight\", \"damp\"]", "R-1: state: tight or damp is accepted, not only tight", Silent),
    Case(R1, "[\"tight\"]", "[\"damp\"]", "R-1: state: damp is accepted instead of tight", Said),
    Case(R1, "count = 10", "count = 9", "R-1: strokes: relaxed from at least 10 to at least 9", Silent),
    Case(R1, "[criteria.strokes]\ncount = 10\n", "", "R-1: strokes: no longer asked (was at least 10)", Silent),
    Case(
        R1,
        "{ min = \"80 K\", max = \"95 K\" }",
        "{ min = \"80 K\", max = \"290 K\" }",
        "R-1: margin: asked at body 80 K to 290 K instead of body 80 K to 95 K",
        Said,
    ),
    Case(
        R1,
        "at.body = { min = \"80 K\", max = \"95 K\" }\n",
        "",
        "R-1: margin: no longer asked at body 80 K to 95 K",
        Said,
    ),
    // The plan.
    Case(
        R1,
        "[[verify]]\nmethod = \"analysis\"\nbefore = \"leak-check\"\n",
        "",
        "R-1: analysis before leak-check is no longer planned",
        Silent,
    ),
    Case(
        R1,
        "procedure = \"TP-1\"\nbefore = \"leak-check\"",
        "procedure = \"TP-1\"\nbefore = \"hot-fire\"",
        "R-1: acceptance test TP-1: due before hot-fire instead of leak-check, which is later",
        Silent,
    ),
    Case(
        R2,
        "procedure = \"TP-2\"\n",
        "procedure = \"TP-2\"\nbefore = \"cold-flow\"\n",
        "R-2: test TP-2: due before cold-flow instead of leak-check, which is later",
        Silent,
    ),
    Case(R2, "on = \"each\"", "on = \"one\"", "R-2: test TP-2: on one piece instead of each piece", Silent),
    Case(R2, "on = \"each\"", "on = \"design\"", "R-2: test TP-2: on the design instead of each piece", Silent),
    Case(R1, "\"margin\", \"gap\", ", "\"gap\", ", "R-1: acceptance test TP-1: no longer asks for margin", Silent),
    Case(
        R1,
        "again_after = [\"cold-flow\"]\n",
        "",
        "R-1: acceptance test TP-1: need no longer be shown again after cold-flow",
        Silent,
    ),
    Case(R1, "after = [\"TP-2\"]\n", "", "R-1: acceptance test TP-1: need no longer come after TP-2", Silent),
    Case(R1, "\"30 d\"", "\"60 d\"", "R-1: acceptance test TP-1: valid for 60 d instead of 30 d", Silent),
    Case(R1, "valid_for = \"30 d\"\n", "", "R-1: acceptance test TP-1: no longer lapses (was valid for 30 d)", Silent),
    Case(R2, "procedure = \"TP-2\"\n", "", "R-2: test: no longer by TP-2: any procedure counts", Silent),
    Case(R2, "procedure = \"TP-2\"", "procedure = \"TP-1\"", "R-2: test TP-1: by TP-1 instead of TP-2", Said),
    Case(
        R1,
        "stage = \"acceptance\"\n",
        "",
        "R-1: test TP-1: no longer for acceptance: evidence of any stage counts",
        Silent,
    ),
    Case(
        R1,
        "method = \"analysis\"",
        "method = \"inspection\"\non = \"design\"",
        "R-1: inspection: shown by inspection instead of analysis",
        Said,
    ),
    Case(
        "requirements/R-3.md",
        "[\"R-1\", \"R-2\"]",
        "[\"R-2\"]",
        "R-3: its sufficiency statement no longer lists R-1",
        Silent,
    ),
    Case(
        R2,
        "[[verify]]\nmethod = \"test\"\nprocedure = \"TP-2\"\non = \"each\"\n",
        "verified_by = \"children\"\n",
        "R-2: verified by its children instead of its own plan",
        Silent,
    ),
    // Hardware.
    Case(MOV, "[[serials]]\nnumber = \"SN02\"\n", "", "MOV/SN02: the piece is no longer listed", Silent),
    Case(
        MOV,
        "number = \"SN02\"",
        "number = \"SN02\"\nuse = \"spare\"",
        "MOV/SN02: spare instead of service use",
        Silent,
    ),
    Case(
        MOV,
        "number = \"SN02\"",
        "number = \"SN02\"\nuse = \"qualification\"",
        "MOV/SN02: qualification instead of service use",
        Silent,
    ),
    Case(MOV, "number = \"SN02\"", "number = \"SN02\"\nstatus = \"scrapped\"", "MOV/SN02: scrapped", Said),
    Case(MOV, "tags = [\"pressure\"]\n", "", "MOV: no longer tagged pressure", Silent),
    Case(
        MOV,
        "revision = \"B\"\n[[",
        "revision = \"B\"\nstatus = \"dropped\"\n[[",
        "MOV: dropped instead of current",
        Silent,
    ),
    Case(MOV, "contains = [\"PRG/SN01\"]\n", "", "MOV/SN01: no longer contains PRG/SN01", Silent),
    Case(
        MOV,
        "[[serials.reworked]]\ndate = 2026-02-02\nreason = \"r\"\n",
        "",
        "MOV/SN01: the rework of 2026-02-02 is no longer listed",
        Silent,
    ),
    Case(
        MOV,
        "date = 2026-02-02\n",
        "date = 2026-02-02\naffects = [\"R-2\"]\n",
        "MOV/SN01: the rework of 2026-02-02 affects less than it did",
        Silent,
    ),
    Case(MOV, "[\"R-1\"]", "\"all\"", "MOV: revision B keeps more of the earlier evidence than it did", Silent),
    // The project file.
    Case(PROJECT, "\"guarded\"", "\"simple\"", "slipmark.toml: the decision rule is simple instead of guarded", Silent),
    Case(PROJECT, "101.3 kPa", "99 kPa", "slipmark.toml: ambient is 99 kPa abs instead of 101.3 kPa abs", Said),
    Case(PROJECT, "[[events]]\nname = \"hot-fire\"\n", "", "hot-fire: the event is no longer listed", Silent),
    Case(
        PROJECT,
        "[[events]]\nname = \"cold-flow\"\n[[events]]\nname = \"hot-fire\"",
        "[[events]]\nname = \"hot-fire\"\n[[events]]\nname = \"cold-flow\"",
        "cold-flow: comes after hot-fire now",
        Said,
    ),
    Case(PROJECT, "[\"MOV/SN01\"]", "[\"MOV/SN02\"]", "leak-check: no longer names MOV/SN01", Said),
    Case(
        PROJECT,
        "name = \"hot-fire\"",
        "name = \"hot-fire\"\nserials = [\"MOV/SN01\"]",
        "hot-fire: names other pieces than MOV/SN02 now",
        Silent,
    ),
    // People.
    Case(
        PROJECT,
        "\"safety lead\"]",
        "\"safety lead\", \"guest\"]",
        "slipmark.toml: test before cold-flow may be witnessed by guest, too",
        Silent,
    ),
    Case(
        PROJECT,
        "[\"pad chief\", \"safety lead\"]",
        "[\"guest\"]",
        "slipmark.toml: test before cold-flow may be witnessed by guest, too",
        Said,
    ),
    Case(
        PROJECT,
        "\nwitnessed_by",
        "\nsafety = true\nwitnessed_by",
        "slipmark.toml: no longer asks that test before cold-flow is witnessed by pad chief or safety lead",
        Silent,
    ),
    Case(
        PROJECT,
        "before = \"cold-flow\"",
        "before = \"leak-check\"",
        "slipmark.toml: no longer asks that test before cold-flow is witnessed by pad chief or safety lead",
        Silent,
    ),
    Case(
        PROJECT,
        "[[roles]]\nprocedure = \"TP-1\"\nperformed_by = \"test conductor\"\n",
        "",
        "slipmark.toml: no longer asks that TP-1 is performed by test conductor",
        Silent,
    ),
    Case(
        "parameters.toml",
        "4 MPa",
        "3 MPa",
        "R-2: limit: relaxed from at least 1.5 * meop (6 MPa gauge) to at least 1.5 * meop (4.5 MPa gauge)",
        Silent,
    ),
    // Procedures and instruments.
    Case("procedures/TP-1.md", "instruments = [\"PT-01\"]\n", "", "TP-1: no longer asks for instrument PT-01", Silent),
    Case(
        "procedures/TP-1.md",
        "revision = \"2\"",
        "revision = \"2\"\nearlier_runs = \"count\"\nreason = \"r\"",
        "TP-1: earlier runs count now",
        Silent,
    ),
    Case("procedures/TP-1.md", "\"released\"", "\"draft\"", "TP-1: draft instead of released", Silent),
    Case(
        "instruments.toml",
        "due = 2027-01-10",
        "due = 2028-01-10",
        "PT-01: the calibration of 2026-01-10 holds to 2028-01-10 instead of 2027-01-10",
        Silent,
    ),
    Case(
        "procedures/TP-1.md",
        "instrument = \"PT-01\"",
        "expected.max = \"9 mm\"",
        "TP-1: R-1.gap is no longer read from PT-01",
        Silent,
    ),
    Case(
        "instruments.toml",
        "as_found = \"out of tolerance\"\n",
        "as_found = \"in tolerance\"\n",
        "TQ-01: the calibration of 2026-02-20 no longer says that it was found out of tolerance",
        Silent,
    ),
    Case(
        "instruments.toml",
        "as_found = \"out of tolerance\"\n",
        "",
        "TQ-01: the calibration of 2026-02-20 no longer says that it was found out of tolerance",
        Silent,
    ),
    Case(
        "instruments.toml",
        "as_found = \"out of tolerance\"\n",
        "as_found = \"out of tolerance\"\nkeeps_evidence = \"TR-1\"\nreason = \"r\"\n",
        "TQ-01: the calibration of 2026-02-20 keeps more evidence",
        Silent,
    ),
    Case(
        "instruments.toml",
        "due = 2027-01-05\n",
        "due = 2027-01-05\n[[TQ-01.calibrations]]\non = 2026-02-01\ndue = 2027-02-01\n",
        "TQ-01: the calibration of 2026-02-20 puts only what is from 2026-02-01 on in doubt",
        Said,
    ),
    Case(
        "instruments.toml",
        "0 to 5 N·m",
        "0 to 50 N·m",
        "TQ-01: its range is stated as 0 to 50 N·m instead of 0 to 5 N·m",
        Silent,
    ),
    Case(
        "instruments.toml",
        "0 to 5 N·m",
        "wide",
        "TQ-01: its range is stated as wide instead of 0 to 5 N·m, and the two cannot be compared",
        Silent,
    ),
    Case(
        "instruments.toml",
        "0 to 5 N·m",
        "0 to 5 kPa abs",
        "TQ-01: its range is stated as 0 to 5 kPa abs instead of 0 to 5 N·m, and the two cannot be compared",
        Said,
    ),
    Case(
        "instruments.toml",
        "\"0.01 N·m\"",
        "\"0.01 K\"",
        "TQ-01: its resolution is stated as 0.01 K instead of 0.01 N·m, and the two cannot be compared",
        Said,
    ),
    Case(
        "instruments.toml",
        "[\"0.05 N·m\", \"1 %\"]",
        "\"in words\"",
        "TQ-01: its uncertainty is stated as in words instead of 0.05 N·m or 1 %, whichever is more, and the two cannot be compared",
        Silent,
    ),
    Case(
        "instruments.toml",
        "\"0.01 N·m\"",
        "\"0.001 N·m\"",
        "TQ-01: its resolution is stated as 0.001 N·m instead of 0.01 N·m",
        Silent,
    ),
    Case(
        "instruments.toml",
        "resolution = \"0.01 N·m\"\n",
        "",
        "TQ-01: its resolution is stated as nothing instead of 0.01 N·m",
        Silent,
    ),
    Case(
        "instruments.toml",
        "\"0.05 N·m\", \"1 %\"",
        "\"0.05 N·m\"",
        "TQ-01: its uncertainty is stated as 0.05 N·m instead of 0.05 N·m or 1 %, whichever is more",
        Silent,
    ),
    Case(
        "instruments.toml",
        "\"0.05 N·m\", ",
        "\"0.04 N·m\", ",
        "TQ-01: its uncertainty is stated as 0.04 N·m or 1 %, whichever is more instead of 0.05 N·m or 1 %, whichever is more",
        Silent,
    ),
    // Departures.
    Case(
        NC,
        "before = \"leak-check\"",
        "before = \"hot-fire\"",
        "NC-1: due before hot-fire instead of leak-check, which is later",
        Silent,
    ),
    Case(NC, "\"MOV/SN01\", ", "", "NC-1: no longer against MOV/SN01", Silent),
    Case(NC, "[\"R-1\", \"R-2\"]", "[\"R-2\"]", "NC-1: no longer concerns R-1", Silent),
    Case(NC, "date =", "voids = \"nothing\"\nreason = \"r\"\ndate =", "NC-1: voids no evidence now", Silent),
    Case(WAIVER, "[\"MOV/SN01\"]", "[\"MOV/SN01\", \"MOV/SN02\"]", "W-1: covers MOV/SN02 too", Silent),
    Case(WAIVER, "serials = [\"MOV/SN01\"]", "item = \"MOV\"", "W-1: covers all of MOV", Silent),
    Case(WAIVER, "4.5 MPa", "4.4 MPa", "W-1: accepts more of value", Silent),
    Case(WAIVER, "2026-12-31", "2027-12-31", "W-1: expires 2027-12-31 instead of 2026-12-31, which is later", Silent),
    Case(WAIVER, "\"cold-flow\"", "\"hot-fire\"", "W-1: holds up to hot-fire instead of cold-flow", Silent),
    Case(
        WAIVER,
        "reason = \"r\"",
        "reason = \"r\"\nwithout_evidence = \"r\"",
        "W-1: covers what no evidence shows, too",
        Silent,
    ),
    Case(WAIVER, "accepts.value", "accepts.other = [\"TR-1\"]\naccepts.value", "W-1: accepts other too", Silent),
    Case(WAIVER, "expires = 2026-12-31\n", "", "W-1: no longer expires (was 2026-12-31)", Silent),
    Case(WAIVER, "before = \"cold-flow\"\n", "", "W-1: no longer ends at an event (was cold-flow)", Silent),
    Case(WAIVER, "serials = [\"MOV/SN01\"]\n", "", "W-1: covers the project", Said),
    Case(WAIVER, "requirement = \"R-2\"", "requirement = \"R-1\"", "W-1: is for R-1 instead of R-2", Said),
    Case(
        WAIVER,
        "reason = \"r\"",
        "reason = \"r\"\nconditions = \"none\"",
        "W-1: its conditions are worded otherwise",
        Said,
    ),
    // Revisions that are those of before again.
    Case(
        MOV,
        "revision = \"B\"\n[[revisions]]",
        "revision = \"A\"\n[[revisions]]",
        "MOV: revision A instead of B, which is earlier: what was found on it counts again",
        Silent,
    ),
    Case(MOV, "revision = \"B\"\n[[revisions]]", "[[revisions]]", "MOV: has no revision any more (was B)", Silent),
    Case(
        MOV,
        "number = \"SN02\"",
        "number = \"SN02\"\nrevision = \"A\"",
        "MOV/SN02: revision A instead of B, which is earlier: what was found on it counts again",
        Silent,
    ),
    Case(
        "procedures/TP-1.md",
        "revision = \"2\"",
        "revision = \"1\"",
        "TP-1: revision 1 instead of 2, which is earlier: runs of it count again",
        Silent,
    ),
    Case("procedures/TP-1.md", "revision = \"2\"\n", "", "TP-1: has no revision any more (was 2)", Silent),
    // Records.
    Case(
        "records/TR-1.md",
        "\"signed\"",
        "\"draft\"",
        "TR-1: a draft instead of signed: what it failed no longer counts",
        Silent,
    ),
    Case(
        "records/TR-1.md",
        "outcome.value = \"not met\"\n",
        "",
        "TR-1: no longer reports value of R-2 as not met",
        Silent,
    ),
    Case(
        "records/TR-1.md",
        "\"5 MPa gauge\"",
        "\"7 MPa gauge\"",
        "TR-1: its results for R-2 are not those that were signed",
        Said,
    ),
    Case(
        "records/TR-1.md",
        "[verifies.R-2]\nresult = \"5 MPa gauge\"\noutcome.value = \"not met\"\n",
        "",
        "TR-1: no longer reports on R-2",
        Silent,
    ),
    // Held events.
    Case(HELD, "\"cold-flow\"", "\"leak-check\"", "EV-1: was cold-flow that was held, and is leak-check now", Said),
    Case(HELD, "2026-02-05", "2026-02-04", "EV-1: held on 2026-02-04 instead of 2026-02-05, which is earlier", Silent),
    Case(
        HELD,
        "2026-02-05",
        "2026-02-05T09:00:00",
        "EV-1: held on 2026-02-05T09:00:00 instead of 2026-02-05; which comes first cannot be told",
        Said,
    ),
    Case(HELD, "\"aborted\"", "\"completed\"", "EV-1: completed instead of aborted", Silent),
    Case(HELD, ", \"MOV/SN02\"]", "]", "EV-1: no longer held with MOV/SN02", Silent),
    Case(HELD, "strokes = 3", "strokes = 2", "EV-1: used 2 of strokes instead of 3", Silent),
    Case(HELD, "uses.strokes = 3\n", "", "EV-1: used nothing of strokes instead of 3", Silent),
    // Limited life.
    Case(PRG, "\"100\"", "\"120\"", "PRG: its life in strokes is limited to 120 instead of 100", Silent),
    Case(PRG, "\"900 d\"", "\"901 d\"", "PRG: its life in shelf is limited to 901 d instead of 900 d", Silent),
    Case(PRG, "[life.strokes]\nlimit = \"100\"\n", "", "PRG: its life in strokes is limited no more", Silent),
    Case(
        PRG,
        "\"900 d\"\ncounted = \"age\"",
        "\"900 d\"\ncounted = \"use\"",
        "PRG: shelf is counted by use instead of age",
        Said,
    ),
    Case(PRG, "used.strokes = 5", "used.strokes = 4", "PRG/SN01: had used 4 of strokes instead of 5", Silent),
    Case(PRG, "used.strokes = 5\n", "", "PRG/SN01: had used nothing of strokes instead of 5", Silent),
    Case(PRG, "2026-01-02", "2026-01-03", "PRG/SN01: built on 2026-01-03 instead of 2026-01-02", Silent),
    Case(
        PRG,
        "\"cleaned\"",
        "\"cleaned\"\nresets = [\"strokes\"]",
        "PRG/SN01: the rework of 2026-01-20 begins strokes anew, which it did not",
        Silent,
    ),
    Case(PROJECT, "uses.strokes = 2", "uses.strokes = 1", "leak-check: is to use 1 of strokes instead of 2", Silent),
    Case(PROJECT, "uses.strokes = 2\n", "", "leak-check: is to use nothing of strokes instead of 2", Silent),
    Case(
        "procedures/TP-2.md",
        "uses = [\"strokes\"]\n",
        "",
        "TP-2: its runs need no longer say how much strokes they use",
        Silent,
    ),
    Case("records/TR-1.md", "uses.strokes = 4", "uses.strokes = 3", "TR-1: used 3 of strokes instead of 4", Silent),
    Case(
        "records/TR-1.md",
        "\"MOV/SN01\"",
        "\"MOV/SN02\"",
        "TR-1: no longer on MOV/SN01, of whose limited life it used",
        Said,
    ),
    Case(
        "requirements/R-3.md",
        "verified_by = \"children\"\n",
        "verified_by = \"children\"\nexpect = [\"pass\", \"fail\"]\n",
        "R-3: limit: pass or fail is accepted, not only pass",
        Said,
    ),
];

#[test]
fn each_way_to_ask_less_is_said_and_its_reverse_is_not() {
    for Case(path, from, to, said, back) in CASES {
        let stand = Stand::tagged();
        stand.edit(path, from, to);
        let less = stand.less();
        assert!(less.iter().any(|line| line == said), "{path}: {from:?} -> {to:?}\nexpected {said}\nfound {less:#?}");
        // The same once it is committed.
        stand.0.commit("Ask less");
        assert_eq!(stand.less(), less, "{path}: {to:?}");
        // And the way back, from a review that was shown the lesser.
        stand.0.git(&["tag", "-a", "TRR-2", "-m", "review"]);
        assert_eq!(stand.less(), Vec::<String>::new());
        if to.is_empty() {
            let text = super::PROJECT.iter().find(|(name, _)| name == path).map(|(_, text)| *text).unwrap();
            stand.0.write(path, text);
        } else {
            stand.edit(path, to, from);
        }
        let silent = stand.less().is_empty();
        assert_eq!(silent, *back == Silent, "{path}: {to:?} -> {from:?}: {:?}", stand.less());
    }
}

/// What only some other state of the project lets one ask less of: how it is made, then as above.
#[test]
fn each_way_to_ask_less_of_what_was_settled_is_said() {
    let closed = "status = \"closed\"\ndisposition = \"rework\"\nclosed = 2026-02-20\nclosed_by = \"lead\"\ndate =";
    let probable = "rule = \"probability\"\nprobability = 0.95";
    let dated = "name = \"hot-fire\"\ndate = 2026-07-01";
    let cases = [
        (
            (NC, "date =", closed),
            ("\"rework\"", "\"use-as-is\""),
            "NC-1: disposed of by use-as-is instead of rework: earlier evidence is void no more",
        ),
        (
            (NC, "date =", closed),
            ("2026-02-20", "2026-02-19"),
            "NC-1: closed on 2026-02-19 instead of 2026-02-20, which is earlier",
        ),
        (
            (PROJECT, "rule = \"guarded\"", probable),
            ("0.95", "0.9"),
            "slipmark.toml: the probability that the decision rule asks for is lower",
        ),
        (
            (PROJECT, "rule = \"guarded\"", probable),
            ("rule = \"probability\"\nprobability = 0.95", "rule = \"simple\""),
            "slipmark.toml: the decision rule is simple instead of probability",
        ),
        (
            (PROJECT, "name = \"hot-fire\"", dated),
            ("date = 2026-07-01\n", ""),
            "hot-fire: has no date any more (was 2026-07-01)",
        ),
    ];
    for ((path, from, to), (more, less), said) in cases {
        let stand = Stand::committed();
        stand.edit(path, from, to).0.commit("Settle");
        stand.0.git(&["tag", "-a", "TRR-1", "-m", "review"]);
        let full = std::fs::read_to_string(stand.0.path().join(path)).unwrap();
        stand.edit(path, more, less);
        assert_eq!(stand.less(), [said], "{path}");
        stand.0.commit("Ask less");
        assert_eq!(stand.less(), [said], "{path}");
        stand.0.git(&["tag", "-a", "TRR-2", "-m", "review"]);
        stand.0.write(path, full);
        assert_eq!(stand.less(), Vec::<String>::new(), "{path}");
    }
}

/// The commit that is asked about takes the place of the tag.
#[test]
fn what_is_asked_less_is_told_since_any_commit() {
    let stand = Stand::tagged();
    stand.edit(R1, "min = 0.5", "min = 0.4").0.commit("Relax");
    let middle = stand.0.repo().head().unwrap().unwrap();
    stand.edit(R1, "min = 0.4", "min = 0.3").0.commit("Relax more");
    let since = |name: &str, oid| {
        let repo = stand.0.repo();
        let since = Some(crate::history::Baseline { name: name.into(), oid });
        let look = crate::history::Look { since, ..Default::default() };
        crate::history::guard(&repo, "", repo.head().unwrap(), &look, &stand.analysis()).unwrap()
    };
    let told = since("HEAD~1", middle);
    assert_eq!(told.since.as_deref(), Some("HEAD~1"));
    let texts: Vec<String> = told.less_asked.into_iter().map(|less| less.text).collect();
    assert_eq!(texts, ["margin: relaxed from at least 0.4 to at least 0.3"]);
    assert_eq!(stand.less(), ["R-1: margin: relaxed from at least 0.5 to at least 0.3"]);
}

/// What an event was held with is not known where it names no piece: to name some is to leave others out.
#[test]
fn pieces_named_later_leave_others_out() {
    let stand = Stand::committed();
    stand.edit(HELD, "serials = [\"MOV/SN01\", \"MOV/SN02\"]\n", "").0.commit("With what?");
    stand.0.git(&["tag", "-a", "TRR-1", "-m", "review"]);
    stand.edit(HELD, "uses", "serials = [\"MOV/SN01\"]\nuses");
    assert_eq!(stand.less(), ["EV-1: names pieces now: it was held with any"]);
    stand.edit(HELD, "\"MOV/SN01\"]", "\"MOV/SN01\", \"MOV/SN02\"]");
    stand.0.git(&["rm", "-q", "-f", HELD]);
    assert_eq!(stand.less(), ["EV-1: the held event is gone: nothing says why"]);
}

#[test]
fn what_says_the_same_is_not_less() {
    let same = [
        (R1, "25.4 mm", "1 in"),
        (R1, "0.5\nat", "50 %\nat"),
        (R2, "1.5 * meop", "6 MPa gauge"),
        (R1, "[criteria.gap]", "[criteria.clearance]"),
        (R1, "title = \"Torque margin\"", "title = \"Margin of torque\""),
        (R1, "margin of at least", "margin\nof at least"),
        (R1, "valid_for = \"30 d\"", "valid_for = \"720 h\""),
        (PROJECT, "name = \"leak-check\"", "name = \"seal-check\""),
        (HELD, "strokes = 3", "strokes = 3.0"),
        (PRG, "\"100\"", "\"1e2\""),
        (PRG, "\"900 d\"", "\"21600 h\""),
        (PRG, "used.strokes = 5", "used.strokes = \"5\""),
        (PROJECT, "\"pad chief\", ", "\" Pad Chief\", "),
        (NC, "date =", "status = \"closed\"\ndate ="),
    ];
    for (path, from, to) in same {
        let stand = Stand::tagged();
        stand.edit(path, from, to);
        let less: Vec<String> = stand.less().into_iter().filter(|line| !line.contains("asks for")).collect();
        assert_eq!(less, Vec::<String>::new(), "{path}: {from:?} -> {to:?}");
    }
}

#[test]
fn what_asks_more_is_not_less() {
    let more = [
        (R1, "min = 0.5", "min = 0.6"),
        (R1, "[[verify]]", "[[verify]]\nmethod = \"inspection\"\n[[verify]]"),
        (PROJECT, "[[events]]\nname = \"hot-fire\"", "[[events]]\nname = \"dry-run\"\n[[events]]\nname = \"hot-fire\""),
        (PROJECT, "\"pad chief\", ", ""),
        (PROJECT, "method = \"test\"\nbefore", "before"),
        (PROJECT, "\nperformed_by", "\nwitnessed_by = \"pad chief\"\nperformed_by"),
        (R2, "min = \"1.5 * meop\"", "min = \"1.5 * meop\"\nmax = \"9 MPa gauge\""),
    ];
    for (path, from, to) in more {
        let stand = Stand::tagged();
        stand.edit(path, from, to);
        assert_eq!(stand.less(), Vec::<String>::new(), "{path}: {from:?} -> {to:?}");
    }
}

#[test]
fn the_decision_that_asks_less_is_named() {
    let stand = Stand::tagged();
    stand.edit(R1, "min = 0.5", "min = 0.3");
    stand.edit(R2, "min =", "status = \"withdrawn\"\nreason = \"r\"\nmin =");
    stand.edit("items/ACT-P.md", "\"current\"", "\"dropped\"");
    stand.edit("items/ACT-W.md", "\"candidate\"", "\"current\"");
    stand.0.write(
        "decisions/D-1.md",
        "+++\nkind = \"decision\"\nid = \"D-1\"\ntitle = \"t\"\ndate = 2026-03-01\nselects = [\"ACT-W\"]\n\
         drops = [\"ACT-P\"]\nrevises = [\"R-1\"]\nwithdraws = [\"R-2\"]\n+++\n",
    );
    let expected = [
        "ACT: filled by ACT-W instead of ACT-P (D-1)",
        "ACT-P: dropped instead of current (D-1)",
        "R-1: margin: relaxed from at least 0.5 to at least 0.3 (D-1)",
        "R-2: withdrawn, by D-1",
    ];
    assert_eq!(stand.less(), expected);
}

/// Nothing is asked of what sits in something dropped, however deep, so that it is named by itself.
#[test]
fn what_sits_in_something_dropped_is_named() {
    let stand = Stand::committed();
    stand.edit("items/PRG.md", "title", "assembly = \"ACT-P\"\ntitle").0.commit("The purge sits on the actuator");
    stand.0.git(&["tag", "-a", "TRR-1", "-m", "review"]);
    stand.edit("items/ACT-P.md", "\"current\"", "\"dropped\"");
    let less = stand.less();
    let named = |line: &str| less.iter().any(|found| found == line);
    assert!(named("PRG: sits in ACT-P, which is dropped or sits in what is"), "{less:?}");
    assert!(named("ACT-P: dropped instead of current"), "{less:?}");
    // The slot is dropped with what it belongs to, and the option with the slot.
    let stand = Stand::tagged();
    stand.edit("items/ACT.md", "title", "assembly = \"PRG\"\ntitle");
    assert_eq!(stand.less(), Vec::<String>::new());
    stand.edit("items/PRG.md", "title", "status = \"dropped\"\ntitle");
    let less = stand.less();
    assert!(less.iter().any(|line| line.starts_with("ACT-P: sits in ACT, which is dropped")), "{less:?}");
}

#[test]
fn a_loss_after_the_review_is_seen_before_it_is_committed() {
    let stand = Stand::tagged();
    // Tightened after the review, then half of that taken back: no less than the review was shown, and yet less.
    stand.edit(R1, "min = 0.5", "min = 0.9").0.commit("Tighten");
    stand.edit(R1, "min = 0.9", "min = 0.7");
    assert_eq!(stand.less(), ["R-1: margin: relaxed from at least 0.9 to at least 0.7"]);
    assert_eq!(stand.guard().since.as_deref(), Some("HEAD"));
    stand.edit(R1, "safety = true\n", "").0.commit("Both");
    stand.edit(R1, "min = 0.7", "min = 0.6");
    let expected = [
        "R-1: margin: relaxed from at least 0.7 to at least 0.6 [since HEAD]",
        "R-1: no longer marked as safety [since TRR-1]",
    ];
    assert_eq!(stand.less(), expected);
    assert_eq!(stand.guard().since.as_deref(), Some("TRR-1 or HEAD"));
}

#[test]
fn a_revision_that_is_not_listed_and_goes_again_is_told_and_its_coming_is_not() {
    let unlisted = ("revision = \"B\"\n[[revisions]]", "revision = \"C\"\n[[revisions]]");
    let stand = Stand::tagged();
    stand.edit(MOV, unlisted.0, unlisted.1);
    assert_eq!(stand.less(), Vec::<String>::new(), "later, and all evidence is void");
    stand.0.commit("Raise");
    stand.0.git(&["tag", "-a", "TRR-2", "-m", "review"]);
    stand.edit(MOV, unlisted.1, unlisted.0);
    assert_eq!(stand.less(), ["MOV: revision B instead of C, which is earlier: what was found on it counts again"]);
    // The same of a piece's own.
    let stand = Stand::committed();
    stand.edit(MOV, "number = \"SN02\"", "number = \"SN02\"\nrevision = \"C\"").0.commit("Raise one");
    stand.0.git(&["tag", "-a", "TRR-2", "-m", "review"]);
    stand.edit(MOV, "number = \"SN02\"\nrevision = \"C\"", "number = \"SN02\"");
    assert_eq!(
        stand.less(),
        ["MOV/SN02: revision B instead of C, which is earlier: what was found on it counts again"]
    );
    // The first step that is listed leads on from one that never was; names need not be letters.
    for (before, after) in [("A", "B"), ("proto", "B"), ("A", "1"), ("Z", "AA")] {
        let stand = Stand::committed();
        let file = std::fs::read_to_string(stand.0.path().join(MOV)).unwrap();
        let step = "[[revisions]]\nrevision = \"B\"\ndate = 2026-01-05\nkeeps_evidence = [\"R-1\"]\nreason = \"r\"\n";
        assert!(file.contains(step));
        let first = file.replace(step, "").replace("revision = \"B\"", &format!("revision = \"{before}\""));
        stand.0.write(MOV, first).commit("The first one");
        stand.0.git(&["tag", "-a", "TRR-2", "-m", "review"]);
        stand.0.write(MOV, file.replace("revision = \"B\"", &format!("revision = \"{after}\"")));
        assert_eq!(stand.less(), Vec::<String>::new(), "{before} to {after}");
    }
}

const DRAFT: &str = "+++\nkind = \"test\"\nid = \"TR-9\"\ntitle = \"Torque\"\ndate = 2026-03-10\nserial = \"MOV/SN01\"\n\
                     status = \"draft\"\n[verifies.R-1.results]\nmargin = 0.1\ngap = \"30 mm\"\n+++\nNotes.\n";

#[test]
fn what_a_draft_reports_is_missed_and_its_growth_is_not() {
    let stand = Stand::committed();
    stand.0.write("records/TR-9.md", DRAFT).commit("Run");
    stand.0.git(&["tag", "-a", "TRR-2", "-m", "review"]);
    let now = |text: &str| {
        stand.0.write("records/TR-9.md", text);
        stand.less()
    };
    assert_eq!(
        now(&DRAFT.replace("03-10", "01-10")),
        ["TR-9: a draft of 2026-01-10 instead of 2026-03-10, which is earlier"]
    );
    assert_eq!(now(&DRAFT.replace("gap = \"30 mm\"\n", "")), ["TR-9: the draft no longer reports gap of R-1"]);
    assert_eq!(now(&DRAFT.replace("verifies.R-1", "verifies.R-2")), ["TR-9: the draft no longer reports on R-1"]);
    assert_eq!(now(&DRAFT.replace("SN01", "SN02")), ["TR-9: the draft is no longer on MOV/SN01"]);
    let more = DRAFT.replace("03-10", "03-11").replace("0.1", "0.6").replace("gap", "state = \"tight\"\ngap");
    assert_eq!(now(&more), Vec::<String>::new());
    assert_eq!(now(&DRAFT.replace("draft", "signed")), Vec::<String>::new());
    stand.delete("records/TR-9.md");
    let gone = "TR-9: the draft test that reports on R-1 is gone: nothing says why";
    assert_eq!(stand.less(), [gone]);
    stand.0.commit("Tidy");
    assert_eq!(stand.less(), [gone]);
    assert_eq!(stand.faults(), Vec::<String>::new());
}

#[test]
fn a_draft_that_came_and_went_between_reviews_is_missed() {
    let stand = Stand::tagged();
    let empty = DRAFT.replace(".results]\nmargin = 0.1\ngap = \"30 mm\"\n", "]\n").replace("TR-9", "TR-8");
    stand.0.write("records/TR-9.md", DRAFT).write("records/TR-8.md", empty).commit("Run");
    assert_eq!(stand.less(), Vec::<String>::new());
    stand.delete("records/TR-9.md").delete("records/TR-8.md").0.commit("Tidy");
    stand.edit(MOV, "Valve", "Main valve").0.commit("Title");
    let less = stand.less();
    assert_eq!(less.len(), 1, "{less:?}");
    assert!(less[0].starts_with("TR-9: the draft test that reports on R-1 is gone: nothing says why; it was in "));
    assert_eq!(stand.guard().since.as_deref(), Some("TRR-1"));
    stand.0.git(&["tag", "-a", "TRR-2", "-m", "review"]);
    assert_eq!(stand.less(), Vec::<String>::new());
}

/// Two lines, each with a review of its own, are merged: what either review was shown is held against the present.
#[test]
fn reviews_side_by_side_are_all_looked_back_to() {
    let stand = Stand::tagged();
    stand.0.git(&["checkout", "--quiet", "-b", "side"]);
    stand.edit(PRG, "limit = \"100\"", "limit = \"90\"").0.commit("Limit the life");
    stand.0.git(&["tag", "-a", "CDR-side", "-m", "review"]);
    stand.0.git(&["checkout", "--quiet", "main"]);
    stand.edit(R1, "min = 0.5", "min = 0.6").0.commit("Tighten");
    stand.0.git(&["tag", "-a", "TRR-2", "-m", "review"]);
    stand.0.git(&["merge", "--quiet", "--no-edit", "side"]);
    assert_eq!(stand.less(), Vec::<String>::new());
    stand.edit(PRG, "limit = \"90\"", "limit = \"100\"").0.commit("Raise the life");
    assert_eq!(stand.less(), ["PRG: its life in strokes is limited to 100 instead of 90"]);
    assert_eq!(stand.guard().since.as_deref(), Some("CDR-side"));
    stand.edit(R1, "min = 0.6", "min = 0.5").edit(R1, "safety = true\n", "").0.commit("Relax");
    stand.edit(R1, "count = 10", "count = 9");
    let expected = [
        "PRG: its life in strokes is limited to 100 instead of 90 [since CDR-side]",
        "R-1: margin: relaxed from at least 0.6 to at least 0.5 [since TRR-2]",
        "R-1: no longer marked as safety [since CDR-side and TRR-2]",
        "R-1: strokes: relaxed from at least 10 to at least 9 [since CDR-side and TRR-2]",
    ];
    assert_eq!(stand.less(), expected);
    assert_eq!(stand.guard().since.as_deref(), Some("CDR-side or TRR-2"));
    // What is told of changes is told from one of them, and names the other.
    let told = stand.changes(None, None);
    assert_eq!(told.range.from_name, "TRR-2");
    let other = "Lines of work were tagged side by side: this is what changed since TRR-2, and not since CDR-side. That too: \
                 slipmark changes CDR-side";
    assert_eq!(told.cautions, [other]);
    assert_eq!(stand.changes(Some("TRR-1..HEAD"), None).cautions, Vec::<String>::new());
    // A review after the merge is the only one.
    stand.0.commit("Ask for fewer");
    stand.0.git(&["tag", "-a", "TRR-3", "-m", "review"]);
    assert_eq!(stand.less(), Vec::<String>::new());
}

/// Reliability, confidence and the share to cover: less of any is less asked, and the same written otherwise is not.
#[test]
fn shares_of_trials_and_samples_are_compared() {
    let trials = "[criteria.strokes]\nreliability = \"95 %\"\nconfidence = \"90 %\"\n";
    let sample = "[criteria.strokes]\nmin = \"8 mm\"\ncovers = \"90 %\"\nconfidence = \"90 %\"\n";
    for (criterion, from, to, said) in [
        (
            trials,
            "95 %",
            "94 %",
            "relaxed from reliability 95 % at 90 % confidence to reliability 94 % at 90 % confidence",
        ),
        (
            trials,
            "90 %",
            "80 %",
            "relaxed from reliability 95 % at 90 % confidence to reliability 95 % at 80 % confidence",
        ),
        (trials, "95 %", "99 %", ""),
        (trials, "\"95 %\"", "0.95", ""),
        (
            sample,
            "8 mm",
            "7 mm",
            "relaxed from at least 8 mm for 90 % at 90 % confidence to at least 7 mm for 90 % at 90 % confidence",
        ),
        (
            sample,
            "covers = \"90 %\"",
            "covers = \"80 %\"",
            "relaxed from at least 8 mm for 90 % at 90 % confidence to at least 8 mm for 80 % at 90 % confidence",
        ),
        (sample, "confidence = \"90 %\"", "confidence = \"95 %\"", ""),
        (sample, "8 mm", "9 mm", ""),
        (
            sample,
            "covers = \"90 %\"\nconfidence = \"90 %\"\n",
            "",
            "changed from at least 8 mm for 90 % at 90 % confidence to at least 8 mm",
        ),
        (
            sample,
            "min = \"8 mm\"",
            "max = \"8 mm\"",
            "relaxed from at least 8 mm for 90 % at 90 % confidence to at most 8 mm for 90 % at 90 % confidence",
        ),
    ] {
        let stand = Stand::committed();
        stand.edit(R1, "[criteria.strokes]\ncount = 10\n", criterion).0.commit("Ask for a share");
        stand.0.git(&["tag", "-a", "TRR-9", "-m", "review"]);
        stand.edit(R1, from, to);
        let expected = if said.is_empty() { vec![] } else { vec![format!("R-1: strokes: {said}")] };
        let less: Vec<String> = stand.less().into_iter().filter(|line| line.contains("strokes")).collect();
        assert_eq!(less, expected, "{from:?} -> {to:?}");
    }
}

/// A plain number without a unit may become a count: nothing less is asked if it is as many.
#[test]
fn a_count_of_as_many_asks_no_less_than_a_plain_number() {
    for (from, to, said) in [
        ("min = 10", "count = 10", ""),
        ("min = 9.5", "count = 10", ""),
        ("min = 10", "count = 11", ""),
        ("min = 10", "count = 9", "changed from at least 10 to at least 9"),
        ("max = 10", "count = 10", "changed from at most 10 to at least 10"),
        ("min = 10\nmax = 20", "count = 10", "changed from 10 to 20 to at least 10"),
        ("min = \"10 mm\"", "count = 10", "changed from at least 10 mm to at least 10"),
    ] {
        let stand = Stand::committed();
        stand.edit(R1, "count = 10", from).0.commit("Ask for a number");
        stand.0.git(&["tag", "-a", "TRR-9", "-m", "review"]);
        stand.edit(R1, from, to);
        let expected = if said.is_empty() { vec![] } else { vec![format!("R-1: strokes: {said}")] };
        let less: Vec<String> = stand.less().into_iter().filter(|line| line.contains("strokes")).collect();
        assert_eq!(less, expected, "{from:?} -> {to:?}");
    }
}
