"""A project in which everything that is asked is closed, signed and sealed, or waived in the one row that has a waiver. Every
value in it is invented.

It uses as many of the rules as such a project can: both ways of writing criteria, conditions, parameters, parents closed by
their children, each/one/design, both stages, order, lapsing, instruments, a failure with its rework and retest, one that is used
as it is with a waiver, an action done after signing, an accepted deviation, attachments, a dropped option, a revision that
keeps some of its evidence, events that were held (one of them aborted first), evidence to be shown again after one, limited life that
lasts with little to spare, an instrument that was found out of tolerance, and rules about who does a thing and who sees it. What a
mutation harms should therefore be felt somewhere.
"""

import datetime
import os
import subprocess
import sys
from decimal import Decimal

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "judge"))

import files  # noqa: E402  (beside the judge: both write the same canonical texts)
from files import AUTO  # noqa: E402

TODAY = "2026-06-15"
EVENT = "hot-fire"
PROJECT = "stand"


def day(month, number, hour=None):
    """A day of 2026, or an hour of it."""
    if hour is None:
        return datetime.date(2026, month, number)
    return datetime.datetime(2026, month, number, hour)


def thing(kind, id, path, body="", **keys):
    return {"kind": kind, "id": id, "title": f"About {id}", **keys, "_path": path, "_body": body}


def statement(text, rationale="Invented for this test.\nIt says why, and nobody is judged against it."):
    return f"{text}\n\n## Rationale\n\n{rationale}\n"


def items():
    return [
        thing("item", "STAND", "tree/stand.md", "The stand.\n"),
        thing(
            "item", "MOV", "tree/valve/mov.md", "The valve.\n", assembly="STAND", revision="B", tags=["wet"], hazards=["oxygen"],
            revisions=[
                {"revision": "A", "date": day(1, 5)},
                {"revision": "B", "date": day(2, 20), "keeps_evidence": ["MOV-020", "TR-001"], "reason": "only the handle changed"},
            ],
            life={"strokes": {"limit": 300, "note": "of the seat"}, "packing": {"limit": "400 d", "counted": "age"}},
            serials=[
                {"number": "SN01", "use": "qualification", "built": day(1, 4)},
                {"number": "SN02", "built": datetime.date(2024, 5, 6), "used": {"strokes": 150}, "contains": [
                    {"serial": "STM/SN12", "from": day(1, 6), "to": day(2, 21), "keeps_evidence": ["MOV-020"], "reason": "the bore is the body's"},
                    {"serial": "STM/SN11", "from": day(2, 21), "keeps_evidence": "MOV-020", "reason": "the bore is the body's"},
                 ], "reworked": [{"date": day(3, 9), "reason": "seat lapped", "affects": ["MOV-050"], "resets": ["packing"]}]},
                {"number": "SN03", "built": day(1, 4)},
                {"number": "SN04", "use": "spare"},
            ],
        ),
        thing("item", "STM", "tree/valve/stm.md", "The stem.\n", assembly="MOV", life={"turns": {"limit": "100"}},
              serials=[{"number": "SN11", "reworked": [{"date": day(2, 20), "reason": "new", "affects": "MOV-050", "resets": "turns"}], "used": {"turns": 900}}, {"number": "SN12"}]),
        thing("slot", "MOV-ACT", "tree/actuator/slot.md", "What turns the stem.\n", assembly="MOV"),
        thing("item", "ACT-P", "tree/actuator/act-p.md", "Rack and pinion.\n", fills="MOV-ACT", status="dropped"),
        thing(
            "item", "ACT-W", "tree/actuator/act-w.md", "Worm gear.\n", fills="MOV-ACT", status="current", revision="C",
            revisions=[{"revision": "C", "date": day(1, 2)}], life={"running": {"limit": "3600 s", "counted": "use"}},
            serials=[{"number": "SN01", "use": "qualification"}, {"number": "SN02"}],
        ),
        thing("item", "PRG", "tree/prg.md", "The purge panel.\n", assembly="STAND", tags=["wet"], serials=["SN01"]),
    ]  # fmt: skip


def procedures():
    def one(id, revision="2", **keys):
        return thing("procedure", id, f"procedures/{id.lower()}.md", "Steps.\n", revision=revision, status="released", **keys)

    return [
        one("TP-01", item="MOV", instruments=["PT-02"]),
        one(
            "TP-02", instruments=["TQ-01", "TC-04"], prerequisites=["TP-01", "leak-check", "area cleared"], uses=["strokes"],
            fields=[
                {"name": "body", "unit": "K", "feeds": ["conditions.body"], "instrument": "TC-04"},
                {"name": "travel", "unit": "s", "feeds": ["MOV-030.travel"]},
                {"name": "margin", "feeds": ["ACT-010.margin"]},
                {"name": "stall", "unit": "N*m", "feeds": ["ACT-010.stall"], "instrument": "TQ-01"},
            ],
        ),
        one("TP-03", earlier_runs="count", reason="only the layout changed"),
        one("TP-04", revision="1", instruments="TC-04", uses="running"),
    ]


def requirements():
    def one(id, text, path, **keys):
        return thing("requirement", id, f"reqs/{path}", statement(text), **keys)

    return [
        one(
            "SYS-001", "The valve assembly shall hold, move and report.", "sys-001.md", source="the engine's interface sheet",
            before="hot-fire", verified_by="children",
            by_children={"mark": AUTO, "list": ["MOV-010", "MOV-030", "ACT-010"], "judged_by": "lead", "date": day(2, 1)},
        ),
        one(
            "MOV-010", "The valve shall hold *proof* pressure\nwithout leaking or yielding.", "valve/mov-010.md", parents=["SYS-001"],
            applies_to="MOV", safety=True, owner="valve lead",
            criteria={
                "proof": {"min": "1.5 * meop"},
                "hold": {"min": "300 s"},
                "growth": {"max": "0.254 mm", "text": "across the bonnet"},
                "leak": {"expect": "none"},
            },
            verify=[
                {"method": "test", "stage": "acceptance", "procedure": "TP-01", "before": "leak-check"},
                {"method": "test", "stage": "qualification", "procedure": "TP-01", "before": "cold-shock"},
            ],
        ),
        one(
            "MOV-020", "The open valve shall have a bore of at least 19.9 mm.", "valve/mov-020.md", source="flow calculation",
            applies_to="MOV", min="19.9 mm", verify=[{"method": "inspection", "before": "leak-check"}],
        ),
        one(
            "MOV-030", "The valve shall close within 2 s at cold soak.", "valve/mov-030.md", parents=["SYS-001"], applies_to="MOV",
            before="cold-flow", criteria={"travel": {"max": "2 s", "at": {"body": {"max": "95 K"}}}},
            verify=[
                {"method": "test", "stage": "qualification", "procedure": "TP-02", "on": "one"},
                {"method": "test", "stage": "acceptance", "procedure": "TP-02", "after": ["TP-01", "leak-check"]},
            ],
        ),
        one(
            "MOV-040", "The valve shall survive fifty cold strokes.", "valve/mov-040.md", source="stand design", applies_to="MOV", count=50,
            verify=[{"method": "demonstration", "stage": "qualification", "procedure": "TP-03", "before": "cold-flow", "on": "one"}],
        ),
        one(
            "MOV-050", "The closed valve shall pass at most 0.2 % of its flow.", "valve/mov-050.md", source="stand design",
            applies_to="MOV", safety=True, criteria={"seat": {"max": "0.2 %"}},
            verify=[{"method": "test", "stage": "acceptance", "procedure": "TP-01", "before": "hot-fire", "valid_for": "400 d"}],
        ),
        one(
            "MOV-060", "The valve shall be 90 mm to 100 mm long.", "valve/mov-060.md", source="bracket drawing", applies_to="MOV",
            before="hot-fire", criteria={"length": {"min": "90 mm", "max": "100 mm"}}, verify=[{"method": "inspection", "stage": "acceptance"}],
        ),
        one(
            "ACT-010", "The actuator shall develop at least 1.5 times the torque “required” to move the valve.", "act/act-010.md",
            parents=["SYS-001"], applies_to="MOV-ACT", safety=True, criteria={"margin": {"min": Decimal("0.5"), "at": {"body": {"min": "77 K", "max": "95 K"}}}, "stall": {"min": "40 N*m"}},
            verify=[
                {"method": "analysis", "before": "cold-shock", "criteria": ["margin"]},
                {"method": "test", "stage": "qualification", "procedure": "TP-02", "before": "cold-flow", "on": "design"},
            ],
        ),
        one(
            "ACT-020", "The actuator body shall stay at 293 K within 20 K.", "act/act-020.md", source="gear maker's sheet",
            applies_to="MOV-ACT", criteria={"low": {"min": "273 K"}, "play": {"equals": "2 mm", "tolerance": "0.5 mm"}},
            verify=[{"method": "test", "stage": "acceptance", "procedure": "TP-04", "before": "cold-flow", "again_after": ["leak-check", "cold-shock"]}],
        ),
        one(
            "ACT-030", "The switch shall report the closed position.", "act/act-030.md", source="stand design", applies_to=["ACT-W"],
            before="hot-fire", expect=["white", "grey"], verify=[{"method": "inspection", "stage": "acceptance"}],
        ),
        one(
            "PRG-010", "Wetted parts shall be clean.", "prg-010.md", source="cleaning sheet", applies_to={"tag": "wet"}, safety=True,
            verify=[{"method": "inspection", "stage": "acceptance", "before": "leak-check"}],
        ),
        one(
            "STD-010", "The stand shall keep people behind the wall.", "std-010.md", source="site rules", before="hot-fire",
            verify=[{"method": "inspection", "again_after": "cold-shock"}],
        ),
        one(
            "STD-020", "The line shall not exceed 8 MPa.", "std-020.md", source="site rules", criteria={"peak": {"max": "2 * meop"}},
            verify=[{"method": "analysis", "before": "cold-flow"}],
        ),
        one(
            "STD-040", "The gantry shall carry its load.", "gantry/std-040.md", source="site rules",
            criteria={"moment": {"min": "28 N*m"}, "reserve": {"min": Decimal("0.4")}}, verify=[{"method": "analysis", "before": "cold-flow"}],
        ),
        one(
            "STD-050", "The line shall be open in time.", "gantry/std-050.md", source="site rules",
            criteria={"total": {"max": "6.5 s"}, "share": {"max": Decimal("0.7")}, "drop": {"max": "0.6 MPa"}},
            verify=[{"method": "analysis", "before": "cold-flow"}],
        ),
        one(
            "STD-060", "The line shall hold its pressure.", "gantry/std-060.md", source="site rules",
            criteria={"peak": {"max": "7.5 MPa"}, "end": {"min": "6 MPa"}}, verify=[{"method": "test", "procedure": "TP-03", "before": "cold-flow"}],
        ),
        one("STD-030", "The stand shall have a bell.", "std-030.md", source="site rules", status="withdrawn", reason="there is a horn"),
    ]  # fmt: skip


def record(kind, id, date, verifies, **keys):
    """Signed and sealed; `verifies`: requirement -> result (the only one) or results, with the outcome of each and, where it is
    computed, what it came to."""
    known = {}
    for requirement, results in verifies.items():
        one = {"mark": AUTO, "outcome": {}}
        if isinstance(results, dict):
            one["results"] = {name: value for name, (value, *_) in results.items()}
            one["outcome"] = {name: outcome for name, (_, outcome, *_) in results.items()}
            kept = {name: more[0] for name, (_, _, *more) in results.items() if more}
            one |= {"computed": kept} if kept else {}
        else:
            one["result"] = results[0]
            one["outcome"] = {results[2] if len(results) > 2 else "value": results[1]}
        known[requirement] = one
    path = keys.pop("path", f"records/{id.lower()}.md")
    keys = {"performed_by": "test conductor", "status": "signed", "seal": AUTO, **keys}
    body = "Notes of the run.\nNothing odd was seen.\n" + "".join(f"\n```calc\n{block}```\n" for block in keys.pop("calc", []))
    return thing(kind, id, path, body, date=date, **keys, verifies=known)


MET, NOT = "met", "not met"
PROOF = {"proof": ("9.1 ± 0.05 MPa gauge", MET), "hold": ("310 ± 1 s", MET), "growth": ("< 0.1 mm", MET), "leak": ("none", MET)}
COLD = {"body": "90 ± 1 K"}


def records():
    tp1 = {"procedure": "TP-01", "procedure_revision": "2", "instruments": ["PT-02"]}
    tp2 = {"procedure": "TP-02", "procedure_revision": "2", "instruments": ["TQ-01", "TC-04"], "conditions": COLD}
    tp4 = {"procedure": "TP-04", "procedure_revision": "1", "instruments": ["TC-04", "TQ-01"]}
    accept, qualify = {"stage": "acceptance"}, {"stage": "qualification"}
    valve = {"revision": "B"}
    act = {"revision": "C"}
    seen = {"witnessed_by": ["pad chief"]}
    return [
        record("test", "TR-001", day(2, 10), {"MOV-010": PROOF}, serial="MOV/SN01", revision="A", **qualify, **tp1,
               data=[{"file": "tr-001.csv", "sha256": AUTO}], witnessed_by=["pad chief"]),
        record("test", "TR-002", day(2, 25), {"MOV-010": PROOF, "MOV-050": ("0.10(1) %", MET, "seat")},
               serial=["MOV/SN02", "MOV/SN03"], **valve, **accept, **tp1, **seen),
        record("inspection", "IN-001", day(1, 20), {"MOV-020": ("20.01(2) mm", MET)}, serial=["MOV/SN02", "MOV/SN03"], revision="A"),
        record("test", "TR-003", day(3, 5, 9), {"MOV-050": ("0.40(1) %", NOT, "seat")}, serial="MOV/SN02", **valve, **accept, **tp1, **seen),
        record("test", "TR-004", day(3, 20, 14), {"MOV-050": ("0.12(1) %", MET, "seat")}, serial="MOV/SN02", **valve, **accept, **tp1, **seen,
               data=[{"file": "data/tr-004.csv", "sha256": AUTO}, {"file": "data/tr-004.log", "sha256": AUTO}]),
        record("test", "TR-005", day(3, 25), {"MOV-030": ("1.5 ± 0.1 s", MET, "travel")}, serial="MOV/SN01", **valve, **qualify, **tp2, uses={"strokes": 20}),
        record("test", "TR-006", day(4, 2), {"MOV-030": ("1600 ± 100 ms", MET, "travel")}, serial="MOV/SN02", **valve, **accept, **tp2, uses={"strokes": "20 ± 1"}),
        record("test", "TR-007", day(4, 3), {"MOV-030": ("1.4 ± 0.1 s", MET, "travel")}, serial="MOV/SN03", **valve, **accept, **tp2, uses={"strokes": 20}),
        record("demonstration", "DM-001", day(4, 6), {"MOV-040": ("52", MET)}, serial="MOV/SN01", **valve, **qualify, procedure="TP-03",
               procedure_revision="1"),
        record("analysis", "AN-001", day(2, 15), {"ACT-010": {"margin": ("0.8 ± 0.1", MET)}}, item="ACT-W", **act, conditions=COLD,
               inputs={"torque": {"value": "31 ± 1 N*m", "source": "invented"}}, path="records/analyses/an-001.md"),
        record("test", "TR-008", day(4, 9), {"ACT-010": {"margin": ("0.83 ± 0.11", MET), "stall": ("52 ± 2 N*m", MET)}},
               serial="ACT-W/SN01", **act, **qualify, **tp2, witnessed_by="range lead"),
        record("test", "TR-009", day(4, 11), {"ACT-020": {"low": ("284 ± 2 K", MET), "play": ("2.1 ± 0.1 mm", MET)}},
               serial="ACT-W/SN02", **act, **accept, **tp4, witnessed_by="pad chief", uses={"running": "240 ± 10 s"},
               data=[{"file": "tr-009.csv", "sha256": AUTO}, {"file": "tr-009.png", "sha256": AUTO}],
               actions=[{"text": "seal the bag again", "closed": day(5, 2)}, {"text": "file the chart", "closed": day(4, 11)}],
               _signed={"actions": [{"text": "seal the bag again"}, {"text": "file the chart", "closed": day(4, 11)}]},
               deviations=[{"text": "soaked for 900 s", "accepted_by": "valve lead"}]),
        record("inspection", "IN-006", day(2, 26), {"MOV-060": ("104 ± 1 mm", NOT, "length")}, serial="MOV/SN02", **valve, **accept),
        record("inspection", "IN-007", day(2, 27), {"MOV-060": ("96 ± 1 mm", MET, "length")}, serial="MOV/SN03", **valve, **accept),
        record("inspection", "IN-002", day(4, 12), {"ACT-030": ("grey", MET)}, serial="ACT-W/SN02", **act, **accept),
        record("inspection", "IN-003", day(2, 2), {"PRG-010": ("pass", MET, "met")}, serial="PRG/SN01", **accept, performed_by="inspector", **seen),
        record("inspection", "IN-004", day(3, 14), {"PRG-010": ("pass", MET, "met")}, serial=["MOV/SN02", "MOV/SN03"], **valve, **accept, **seen),
        record("inspection", "IN-005", day(5, 4), {"STD-010": ("pass", MET, "met")}),
        record("analysis", "AN-002", day(4, 20), {"STD-020": ("7.1 ± 0.4 MPa gauge", MET, "peak")}, path="records/analyses/an-002.md",
               inputs={"proof": {"from": "TR-001.proof"}, "surge": {"value": "2 ± 0.1 MPa", "source": "invented"}}),
        # 120 ± 4 N at 0.25 m; 30 / 20 - 1.
        record("analysis", "AN-003", day(4, 21), {"STD-040": {"moment": ({"calc": "M"}, MET, "30 ± 1 N·m"), "reserve": ({"calc": "n"}, MET, "0.5 ± 0.05")}},
               path="records/analyses/an-003.md", inputs={"need": {"value": "20 N*m", "source": "invented"}},
               calc=["M = load * arm  # about the hinge\nn = M / need - 1\n"]),
        # u of 0.3 s and 0.5 s with r = 0.5: 0.09 + 0.25 + 0.15 = 0.49; the mean of four readings, 0.2 s, is taken away twice.
        record("analysis", "AN-004", day(4, 22), {"STD-050": {"total": ({"calc": "total"}, MET, "5 ± 1.4 s"), "share": ({"calc": "share"}, MET, "0.6 ± 0.02"), "drop": ({"calc": "drop"}, MET, "0.45 ± 0.05 MPa")}},
               path="records/analyses/an-004.md",
               inputs={"opening": {"value": "3 ± 0.6 s", "source": "invented"}, "delay": {"value": "2 ± 1 s", "source": "invented"},
                       "M": {"from": "AN-003.moment", "used": "30 ± 1 N·m"}, "lift": {"value": "1.5 ± 0.1 mm", "source": "invented"}},
               correlations=[{"between": ["opening", "delay"], "r": Decimal("0.5")}], data=[{"file": "drop.csv", "sha256": AUTO}],
               calc=["total = opening + delay\n", "share = M / (50 N*m)\ndrop = if lift < 1 mm then 0 MPa else table(\"drop.csv\", lift)\n"]),
        record("test", "TR-011", day(4, 23),
               {"STD-060": {"peak": ({"data": "data/tr-011.csv", "column": "p", "reduce": "max", "where": "t > 0.5 s", "uncertainty": "± 0.05 MPa"}, MET, "7.3 ± 0.05 MPa"),
                            "end": ({"data": "data/tr-011.csv", "column": "p", "reduce": "last", "instrument": "PT-03"}, MET, "6.1 ± 0.04 MPa")}},
               procedure="TP-03", procedure_revision="2", instruments=["PT-03"], data=[{"file": "data/tr-011.csv", "sha256": AUTO}]),
    ]  # fmt: skip


def held():
    """The leak check; the cold shock, broken off and held again."""

    def one(id, event, date, serials, outcome="completed", **keys):
        path = f"campaign/{id.lower()}.md"
        return thing("event", id, path, "As planned.\n", event=event, date=date, serials=serials, outcome=outcome, **keys)

    service = ["MOV/SN02", "MOV/SN03", "ACT-W/SN02"]
    return [
        one("HE-001", "leak-check", day(3, 30), service, procedure="TP-01", uses={"strokes": 12, "turns": 2}, note="dry"),
        one("HE-002", "cold-shock", day(4, 1), service, "aborted", uses={"strokes": 4, "turns": "1", "running": "60 s"}),
        one("HE-003", "cold-shock", day(4, 4), service, uses={"strokes": "30 ± 2", "turns": 5, "running": "0.2 h"}),
    ]


def project():
    """The project as plain data, marks and seals still to be computed."""

    def instrument(what, reach, resolution, uncertainty, *calibrations):
        done = [{"on": day(1, 2), "due": day(9, 30), "certificate": "C-1"}, *calibrations]
        return {"what": what, "range": reach, "resolution": resolution, "uncertainty": uncertainty, "calibrations": done}

    before = datetime.date(2025, 7, 1)
    recall = {"on": day(5, 10), "due": day(11, 30), "as_found": "out of tolerance", "reason": "it read low by less than half of the margin",
              "keeps_evidence": ["TR-005", "TR-006", "TR-007", "TR-008", "TR-009"]}  # fmt: skip
    return {
        "config": {
            "name": "Trial stand",
            "ambient": "101.3 kPa abs",
            "conformity": {"rule": "guarded"},
            "events": [
                {"name": "leak-check", "date": day(3, 30), "uses": {"strokes": 10, "turns": 2, "running": "0 s"}},
                {"name": "cold-shock", "uses": {"strokes": 30, "turns": 5, "running": "900 s"}},
                {"name": "cold-flow", "date": day(6, 20), "uses": {"strokes": 40, "turns": 20, "running": "20 min"}},
                {"name": "hot-fire", "date": day(6, 30), "serials": ["MOV/SN02", "ACT-W/SN02", "PRG/SN01"],
                 "uses": {"strokes": "30", "turns": 20, "running": "800 s"}},
            ],
            "roles": [
                {"safety": True, "method": "test", "performed_by": ["test conductor"], "witnessed_by": ["Pad chief", "range lead"]},
                {"before": "leak-check", "stage": "acceptance", "performed_by": ["test conductor", "inspector"]},
                {"procedure": "TP-02", "performed_by": "Test Conductor"},
            ],
        },
        "parameters": {
            "meop": {"value": "4 MPa gauge", "source": "invented"},
            "spare": {"value": "3 mm", "source": "invented", "note": "nothing uses it"},
            "load": {"value": "120 ± 4 N", "source": "invented"},
            "arm": {"value": "0.25 m", "source": "invented"},
        },
        "instruments": {
            "PT-03": instrument("pressure cell", "0 to 10 MPa", "0 MPa", "± 0.04 MPa"),
            "PT-02": instrument("pressure gauge", "0 to 16 MPa gauge", "0.01 MPa", "± 0.03 MPa",
                                {"on": before, "due": day(3, 1)}, {"on": day(1, 2), "due": day(9, 30), "as_found": "out of tolerance"}),
            "TQ-01": instrument("torque cell", "0 N*m to 120 N*m", "0.1 N*m", "0.5 % of the reading", recall),
            "TC-04": instrument("thermocouple", "60 K to 400 K", "0.1 K", "0.5 K", {"on": day(5, 9), "due": day(12, 1), "as_found": "in tolerance"}),
        },
        "things": [
            *items(), *procedures(), *requirements(), *records(), *held(),
            thing("nonconformance", "NC-001", "departures/nc-001.md", "Lint under the seat.\n", date=day(3, 5), against=["MOV/SN02"],
                  requirements=["MOV-050"], found_by="TR-003", status="closed", disposition="rework", closed=day(3, 12), closed_by="valve lead"),
            thing("nonconformance", "NC-002", "departures/nc-002.md", "Too long.\n", date=day(2, 26), against="MOV/SN02",
                  requirements="MOV-060", found_by=["IN-006"], status="closed", disposition="use-as-is", closed=day(3, 1),
                  closed_by="valve lead", before="hot-fire"),
            thing("waiver", "W-001", "departures/w-001.md", "The bracket reaches it.\n", requirement="MOV-060", mark=AUTO,
                  serials=["MOV/SN02"], accepts={"length": {"max": "105 mm"}}, before="hot-fire", expires=day(12, 31), status="approved",
                  approved_by="chief engineer", approved=day(3, 1), reason="the bracket reaches 110 mm"),
            thing("decision", "D-001", "decisions/d-001.md", "The worm gear holds without air.\n", date=day(2, 12), selects="ACT-W",
                  drops="ACT-P", keeps=["ACT-010", "ACT-020"]),
        ],
        "attachments": {
            "records/tr-001.csv": b"t [s],p [MPa]\n0,0\n1,9.1\n",
            "records/data/tr-004.csv": b"t [s],q [%]\n0,0.12\n",
            "records/data/tr-004.log": b"quiet\n",
            "records/tr-009.csv": b"t [s],T [K]\n0,284\n",
            "records/tr-009.png": PHOTO,
            "records/data/tr-011.csv": b"t [s],p [MPa]\n0,0\n1,7.3\n2,7.1\n3,6.1\n",
            "records/analyses/drop.csv": b"lift [mm],drop [MPa]\n1,0.2\n2,0.7\n",
        },
    }  # fmt: skip


# One grey point.
PHOTO = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010800000000" "3a7e9b55" "0000000a49444154789c6360000000020001" "4e1d5f6e" "0000000049454e44ae426082"
)

GIT_ENV = {
    "GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_SYSTEM": os.devnull, "GIT_AUTHOR_NAME": "tester", "GIT_AUTHOR_EMAIL": "t@example.invalid",
    "GIT_COMMITTER_NAME": "tester", "GIT_COMMITTER_EMAIL": "t@example.invalid", "GIT_AUTHOR_DATE": "2026-06-01T12:00:00+00:00",
    "GIT_COMMITTER_DATE": "2026-06-01T12:00:00+00:00",
}  # fmt: skip


def git(folder, *args, check=True):
    done = subprocess.run(["git", "-C", folder, *args], env={**os.environ, **GIT_ENV}, capture_output=True, text=True, check=False)
    if check and done.returncode:
        raise RuntimeError(f"git {' '.join(args)}: {done.stderr}")
    return done.stdout


def build(folder):
    """A repository with the project in `stand/`: two commits, an annotated tag at the second."""
    git(folder, "init", "-q", "-b", "main")
    os.makedirs(os.path.join(folder, "drawings"))
    for path, text in ((".gitignore", "*.tmp\n/build/\n"), ("drawings/README.md", "Drawings live here.\n")):
        with open(os.path.join(folder, path), "w", encoding="utf-8") as file:
            file.write(text)
    finished = files.finish(project())
    late = ("nonconformance", "demonstration", "waiver")
    early = {**finished, "things": [t for t in finished["things"] if t["kind"] not in late]}
    for stage, message in ((early, "Baseline"), (finished, "Close what was open")):
        for path, data in files.texts(stage).items():
            full = os.path.join(folder, PROJECT, path)
            os.makedirs(os.path.dirname(full), exist_ok=True)
            with open(full, "wb") as file:
                file.write(data)
        git(folder, "add", "-A")
        git(folder, "commit", "-q", "-m", message)
    git(folder, "tag", "-a", "TRR-1", "-m", "Review")


if __name__ == "__main__":
    os.makedirs(sys.argv[1], exist_ok=True)
    build(sys.argv[1])
