"""Seeded random small projects: mostly valid and nearly valid, so that every reason is met often.

A project is built right first (a record for most rows, at the right mark, revision and conditions) and then harmed in
one or two places. Nonconformances and waivers are aimed at what the judge finds open. All of it is invented.
"""

import datetime
import hashlib
import math
import random
from fractions import Fraction

import canon
import chance
import quantity
from files import AUTO, finish
from rules import METHODS, OPEN, Judge, length_of_time

OLD_MARK = "m1-0123456789ab"
WRONG_SEAL = "s1-0123456789ab"

# family: (unit, other unit or None, lower limit, upper limit, typical U, decimals of the other unit)
FAMILIES = {
    "ratio": ("", "%", 1, 2, "0.2"),
    "length": ("mm", "in", 10, 20, "0.5"),
    "pressure": ("MPa", "psi", 4, 8, "0.25"),
    "gauge": ("MPa gauge", None, 4, 8, "0.25"),
    "time": ("s", "ms", 2, 6, "0.5"),
    "torque": ("N*m", "lbf*in", 30, 60, "2"),
    "heat": ("K", "degC", 250, 300, "2"),
}
# budget of limited life: (limits, amounts); the third is an age
BUDGETS = {
    "cycles": ((4, 6, 9, "8"), (0, 1, 1, 2, 3, "2", "1 ± 1")),
    "burn": (("20 s", "30000 ms", "45 s"), ("0 s", "4 s", "9000 ms", "8 ± 2 s")),
    "seal": (("200 d", "300 d", "450 d", "9600 h"), ()),
}
TEST_CONDUCTOR = "test conductor"
NAMES = ["margin", "leak", "travel", "stroke", "seat"]
STATEMENTS = [
    "The {id} assembly shall *hold* its position\nat cold soak.\n",
    "The {id} assembly shall close — “fully” — within the time\nthat `CLOSE` allows.\n\nIt shall stay closed.\n",
    "The {id} assembly shall not leak.\n",
]


def text(x):
    """A short decimal."""
    x = Fraction(x)
    return f"{float(x):.6f}".rstrip("0").rstrip(".")


class Maker:
    def __init__(self, seed):
        self.r = random.Random(seed)
        self.today = datetime.date(2026, 6, 15) + datetime.timedelta(days=self.r.randrange(300))
        self.things, self.attachments = [], {}
        self.counter = 0
        self.families = {}  # (requirement, criterion): family

    def chance(self, p):
        return self.r.random() < p

    def pick(self, *options):
        return self.r.choice(options)

    def ago(self, days):
        return self.today - datetime.timedelta(days=days)

    def hour_of(self, day):
        """An hour of that day, on a clock with or without an offset; now and then one that makes it another day elsewhere."""
        hour = datetime.time(self.pick(0, 1, 9, 9, 14, 14, 20, 23))
        ahead = self.pick(None, None, None, 0, 2, 2, -7, 12)
        zone = None if ahead is None else datetime.timezone(datetime.timedelta(hours=ahead))
        return datetime.datetime.combine(day, hour, zone)

    def perhaps_hour(self, day, p):
        return self.hour_of(day) if self.chance(p) else day

    def add(self, kind, id, body="", folder="reqs", **keys):
        t = {"kind": kind, "id": id, "title": f"About {id}", **keys}
        t["_body"], t["_path"] = body, f"{folder}/{id.lower()}.md"
        self.things.append(t)
        return t

    def kinds(self, *kinds):
        return [t for t in self.things if t["kind"] in kinds]

    # ---- the frame -----------------------------------------------------------------------------------------------

    def project(self):
        self.config = {"name": "Trial stand", "conformity": {"rule": self.pick("guarded", "guarded", "simple", "probability")}}
        if self.config["conformity"]["rule"] == "probability" and self.chance(0.8):
            # The last is the probability of what is inside by exactly U.
            self.config["conformity"]["probability"] = self.pick("0.9", "99 %", "0.97724986805182", "0.97724986805182")
        self.parameters = {"meop": {"value": "4 MPa", "source": "invented"}, "gap": {"value": "10 mm", "source": "invented"}}
        if self.chance(0.5):
            self.parameters["gain"] = {"value": "2", "source": "invented"}
        self.make_instruments()
        self.make_items()
        self.make_events()
        self.aim_ages()
        self.make_procedures()
        self.make_requirements()
        self.make_roles()
        self.make_records()
        self.make_computed()
        self.make_held_events()
        self.aim_contents()
        self.make_uses()
        self.make_recalls()
        self.harm_items()
        self.make_nonconformances()
        self.make_waivers()
        self.config["events"] = self.events
        return self.raw()

    def raw(self):
        return {
            "config": {**self.config, "events": self.events},
            "parameters": self.parameters,
            "instruments": self.instruments,
            "things": self.things,
            "attachments": self.attachments,
        }

    def judge(self):
        return Judge(finish(self.raw()), self.today)

    def make_instruments(self):
        self.instruments = {}
        for name in ("TQ-01", "PT-02"):
            calibrations = [{"on": self.ago(500), "due": self.ago(350), "certificate": "C-1"}]
            calibrations.append({"on": self.ago(351), "due": self.today + datetime.timedelta(days=60), "certificate": "C-2"})
            if self.chance(0.06):  # ran out in the middle of the campaign
                calibrations[1]["due"] = self.ago(self.r.randrange(10, 120))
            if self.chance(0.03):
                calibrations.pop()
            if self.chance(0.1):  # two of one day
                calibrations.append({**calibrations[-1], "due": calibrations[-1]["due"] - datetime.timedelta(days=self.pick(90, 300, 0))})
            for c in calibrations:
                if self.chance(0.3):
                    c["as_found"] = "in tolerance"
            self.instruments[name] = {"what": "gauge", "calibrations": calibrations}

    def make_items(self):
        ids = ["MOV", "ACT", "LIN", "PMP"][: self.r.randint(1, 4)]
        for n, id in enumerate(ids):
            item = self.add("item", id, folder="tree")
            if n and self.chance(0.4):
                item["assembly"] = self.r.choice(ids[:n])
            if self.chance(0.6):
                item["tags"] = ["wet"]
            self.make_revisions(item)
            self.make_serials(item)
            self.make_life(item)
        if len(ids) > 1 and self.chance(0.45):
            self.make_slot(ids)
        self.make_contains()

    def make_revisions(self, item):
        if self.chance(0.45):
            return
        item["revision"] = "B"
        if self.chance(0.6):
            keeps = lambda: self.pick("all", "all", [], ["R-1"], "R-1", ["TR-1", "R-2"])
            when = self.r.randrange(5, 150)
            item["revisions"] = [
                {"revision": "A", "date": self.ago(400)},
                {"revision": "B", "date": self.ago(when), "keeps_evidence": keeps(), "reason": "invented"},
            ]
            if self.chance(0.25):
                item["revision"] = "C"
                item["revisions"].append({"revision": "C", "date": self.ago(when // 2), "keeps_evidence": keeps(), "reason": "invented"})
            if self.chance(0.15):
                item["revisions"] = item["revisions"][1:]
            for revision in item["revisions"]:
                if revision.get("keeps_evidence") == []:
                    del revision["keeps_evidence"]

    def make_serials(self, item):
        serials = []
        for n in range(self.r.choice([0, 1, 1, 1, 2, 2, 3])):
            s = {"number": f"SN0{n + 1}"}
            if self.chance(0.25):
                s["use"] = self.pick("service", "qualification", "qualification", "spare")
            if self.chance(0.06):
                s["status"] = "scrapped"
            if self.chance(0.1) and "revision" in item:
                s["revision"] = self.pick("A", "B")
            serials.append(s)
        if serials:
            plain = all(list(s) == ["number"] for s in serials) and self.chance(0.5)
            item["serials"] = [s["number"] for s in serials] if plain else serials

    def make_life(self, item):
        """Budgets, what was used of them before the first record, and the day from which an age is counted."""
        names = [n for n, p in (("cycles", 0.8), ("burn", 0.35), ("seal", 0.35)) if self.chance(p)]
        if not names or not item.get("serials") or self.chance(0.5):
            return
        item["life"] = {n: {"limit": self.r.choice(BUDGETS[n][0])} for n in names}
        if "seal" in names:
            item["life"]["seal"]["counted"] = "age"
        for s in self.tables(item):
            if "seal" in names and self.chance(0.88):
                s["built"] = self.ago(self.r.randrange(50, 600))
            used = {n: self.r.choice(BUDGETS[n][1]) for n in names if BUDGETS[n][1] and self.chance(0.3)}
            if used:
                s["used"] = used

    def budgets(self):
        """Names of the budgets of the items that a use takes from."""
        names = {n for item in self.kinds("item") for n in item.get("life", {})}
        return [n for n in BUDGETS if n in names and BUDGETS[n][1]]

    def aim_ages(self):
        """Some pieces come of age about today, or about the day of an event."""
        days = [self.today] + [civil_day(e["date"]) for e in self.events if isinstance(e, dict) and "date" in e]
        for item in self.kinds("item"):
            for s in self.tables(item):
                if "built" in s and self.chance(0.4):
                    age = length_of_time(item["life"]["seal"]["limit"])
                    s["built"] = min(self.r.choice(days) - age + datetime.timedelta(days=self.pick(-1, 0, 0, 1)), self.today)

    def make_slot(self, ids):
        """The last items compete for a slot that belongs to the first."""
        self.add("slot", "SLT", folder="tree", assembly=ids[0])
        options = [t for t in self.kinds("item") if t["id"] in ids[-2:] and t["id"] != ids[0]]
        fate = self.r.random()
        if self.chance(0.15):
            self.kinds("item")[0]["status"] = "dropped"  # with the slot and all that fills it
        for n, item in enumerate(options):
            if self.chance(0.6):
                item.pop("assembly", None)
            item["fills"] = "SLT"
            if n == 0 and fate < 0.7:
                item["status"] = "current"
            elif self.chance(0.5):
                item["status"] = "dropped"

    def make_contains(self):
        items = self.kinds("item")
        for n, outer in enumerate(items[:-1]):
            inner = items[n + 1]
            if self.chance(0.55) and self.tables(outer) and inner.get("serials"):
                piece = self.r.choice(self.numbers(inner))
                holder = self.r.choice(self.tables(outer))
                holder["contains"] = self.pick([piece], piece)
                if self.chance(0.7):
                    holder["contains"] = self.make_dated_contents(inner, piece)

    def make_dated_contents(self, inner, piece):
        """Put in early or in the middle of the campaign; now and then taken out, replaced, or put back."""
        entry = {"serial": piece}
        if self.chance(0.6):
            entry["from"] = self.perhaps_hour(self.ago(self.pick(400, 300, self.r.randrange(5, 150))), 0.15)
        entries = [entry]
        if self.chance(0.5):
            when = self.r.randrange(1, 150)
            came = entry.get("from", self.ago(500))
            came = came.date() if isinstance(came, datetime.datetime) else came
            entry["to"] = max(self.ago(when), came + datetime.timedelta(days=1))
            if self.chance(0.6):
                entries.append({"serial": self.r.choice(self.numbers(inner)), "from": entry["to"]})
        for entry in entries:
            if self.chance(0.35):
                entry["keeps_evidence"] = self.pick("all", ["R-1"], "R-1", ["R-1", "R-2"], ["TR-1"])
                entry["reason"] = "only the label was hidden by it"
        return entries

    def tables(self, item):
        return [s for s in item.get("serials", []) if isinstance(s, dict)]

    def numbers(self, item):
        return [f"{item['id']}/{s['number'] if isinstance(s, dict) else s}" for s in item.get("serials", [])]

    def all_serials(self):
        return [s for item in self.kinds("item") for s in self.numbers(item)]

    def make_events(self):
        names = ["leak-check", "cold-shock", "hot-fire"][: self.r.randint(1, 3)]
        if self.chance(0.03):
            names[0] = "TP-01"  # as a procedure is called
        if self.chance(0.04 if self.budgets() else 0.3):
            self.events = names
            return
        self.events, start = [], self.r.randrange(-120, 20)
        for name in names:
            e = {"name": name}
            if self.chance(0.7):
                e["date"] = self.perhaps_hour(self.today + datetime.timedelta(days=start), 0.2)
            start += self.r.randrange(1, 60)
            pieces = self.all_serials()
            if pieces and self.chance(0.25):
                e["serials"] = self.r.sample(pieces, self.r.randint(1, min(2, len(pieces))))
            uses = {n: self.r.choice(BUDGETS[n][1]) for n in self.budgets() if self.chance(0.95)}
            if uses:
                e["uses"] = uses
            self.events.append(e)

    def event_names(self):
        return [e if isinstance(e, str) else e["name"] for e in self.events]

    def make_procedures(self):
        for n in range(self.r.randint(0, 2)):
            p = self.add("procedure", f"TP-0{n + 1}", folder="procedures", revision="2", status="released")
            if self.chance(0.4):
                p["instruments"] = self.pick(["TQ-01"], ["TQ-01", "PT-02"], "PT-02")
            if self.chance(0.3):
                p["earlier_runs"] = self.pick("count", "count", "do not count")
                p["reason"] = "only the layout changed"
            if self.budgets() and self.chance(0.35):
                p["uses"] = self.pick([self.r.choice(self.budgets())], self.budgets())

    # ---- requirements --------------------------------------------------------------------------------------------

    def make_requirements(self):
        count = self.r.randint(1, 4)
        for n in range(count):
            self.make_requirement(f"R-{n + 1}")
        reqs = self.kinds("requirement")
        if count > 2 and self.chance(0.12):  # children of children
            self.make_parent(reqs[1], reqs[2:])
            self.make_parent(reqs[0], [reqs[1]])
        elif count > 1 and self.chance(0.3):
            self.make_parent(reqs[0], reqs[1:])
        elif self.chance(0.04):
            self.make_parent(reqs[0], [])
        if count > 2 and self.chance(0.06):
            for a, b in ((reqs[0], reqs[1]), (reqs[1], reqs[0])):
                self.make_parent(a, [])
                a["parents"] = b["id"]
                a["by_children"]["list"] = [b["id"]]
        for req in reqs:
            if "parents" not in req:
                req["source"] = "the engine's interface sheet"

    def make_requirement(self, id):
        req = self.add("requirement", id, self.r.choice(STATEMENTS).format(id=id) + "\n## Rationale\n\nInvented.\n")
        self.make_applies(req)
        if self.chance(0.15):
            req["safety"] = True
        if self.chance(0.05):
            req["status"] = "draft"
        elif self.chance(0.02):
            req["status"], req["reason"] = "withdrawn", "no longer asked"
        if self.chance(0.3):
            req["before"] = self.r.choice(self.event_names())
        self.make_criteria(req)
        if self.chance(0.04):
            return
        req["verify"] = [self.make_entry(req) for _ in range(self.pick(1, 1, 1, 2))]
        self.make_order(req)

    def make_applies(self, req):
        items = [t["id"] for t in self.kinds("item")]
        x = self.r.random()
        if x < 0.15:
            return
        if x < 0.25:
            req["applies_to"] = {"tag": self.pick("wet", "wet", "wet", "dry")}
        elif x < 0.55 and self.kinds("slot"):
            req["applies_to"] = self.pick("SLT", ["SLT"], ["SLT", items[-1]])
        elif x < 0.65:
            req["applies_to"] = self.r.sample(items, min(2, len(items)))
        else:
            req["applies_to"] = self.r.choice(items)

    def make_criteria(self, req):
        x = self.r.random()
        if x < 0.15:
            return
        if x < 0.45:
            req.update(self.make_criterion(req["id"], "value"))
            return
        names = self.r.sample(NAMES, self.pick(1, 1, 2, 3))
        req["criteria"] = {n: self.make_criterion(req["id"], n) for n in names}

    def make_criterion(self, id, name):
        x = self.r.random()
        if x < 0.12:
            c = {"expect": self.pick("pass", ["white", "grey"], "dry")}
        elif x < 0.2:
            c = {"count": self.r.randint(2, 5)}
        elif x < 0.27:
            c = {"reliability": self.pick("90 %", "0.8"), "confidence": self.pick("90 %", "0.95", "50 %")}
        elif x < 0.35:
            c = self.make_limits(id, name)
            c |= {"covers": self.pick("90 %", "0.95"), "confidence": self.pick("90 %", "95 %")}
        else:
            c = self.make_limits(id, name)
        if self.chance(0.3):
            c["at"] = {"body": self.pick({"max": "95 K"}, {"max": "-178.15 degC"}, {"min": "80 K", "max": "95 K"})}
        return c

    def make_limits(self, id, name):
        family = self.r.choice(list(FAMILIES))
        self.families[(id, name)] = family
        unit, other, lo, hi, _ = FAMILIES[family]
        x = self.r.random()
        if x < 0.03:
            return {"min": self.pick("TBD", f"TBR {unit}".strip())}
        if x < 0.04:  # no such parameter
            return {self.pick("min", "max"): self.pick("reach", "1.5 * reach")}
        lo_text, hi_text = f"{lo} {unit}".strip(), f"{hi} {unit}".strip()
        if family == "ratio":
            lo_text, hi_text = self.pick(lo, "1", "100 %"), self.pick(hi, "200 %")
        if family == "pressure" and self.chance(0.3):
            lo_text, hi_text = self.pick("meop", "1 * meop"), "2 * meop"
        if family == "length" and self.chance(0.3):
            lo_text, hi_text = "gap", "2 * gap"
        if x < 0.5:
            return {"min": lo_text}
        if x < 0.75:
            return {"max": hi_text}
        if x < 0.9 or family == "heat":
            return {"min": lo_text, "max": hi_text}
        middle, half = Fraction(lo + hi, 2), Fraction(hi - lo, 2)
        return {"equals": f"{text(middle)} {unit}".strip(), "tolerance": f"{text(half)} {unit.replace(' gauge', '')}".strip()}

    def make_entry(self, req):
        procedures = [p["id"] for p in self.kinds("procedure")]
        method = self.r.choice(["test", "test", "test", "analysis", "analysis", "inspection", "demonstration"])
        if method in ("test", "demonstration") and not procedures:
            method = self.pick("analysis", "inspection", "test")
        e = {"method": method}
        if method != "analysis" and self.chance(0.6):
            e["stage"] = self.pick("development", "qualification", "qualification", "acceptance")
        if procedures and method != "analysis":
            e["procedure"] = self.r.choice(procedures)
        if self.chance(0.5):
            e["before"] = self.r.choice(self.event_names())
        if self.chance(0.3):
            e["on"] = self.pick("each", "one", "design")
        names = list(canon.criteria(req))
        if len(names) > 1 and self.chance(0.3):
            e["criteria"] = self.r.sample(names, self.r.randint(1, len(names) - 1))
        if self.chance(0.12):
            e["valid_for"] = self.pick("30 d", "60 d", "90 d", "150 d", "36 h", "1000 h")
        return e

    def make_order(self, req):
        entries = req["verify"]
        procedures = [p["id"] for p in self.kinds("procedure")]
        if len(entries) == 2 and len(procedures) == 2 and self.chance(0.6):  # two steps on the same pieces
            second = entries[1] = {"method": "test", **{k: v for k, v in entries[1].items() if k in ("stage", "before", "on")}}
            entries[0] = {**second, "procedure": procedures[0]}
            second["procedure"] = procedures[1]
            second["after"] = self.pick(procedures[0], [procedures[0]])
        elif len(entries) == 2 and entries[0].get("procedure") not in (None, entries[1].get("procedure")):
            if self.chance(0.5):
                entries[1]["after"] = self.pick(entries[0]["procedure"], [entries[0]["procedure"]])
        elif self.chance(0.15):
            entries[-1]["after"] = self.pick(self.r.choice(self.event_names()), [self.r.choice(self.event_names())])
        if self.chance(0.15):
            names = self.event_names()
            entries[-1]["again_after"] = self.pick(self.r.choice(names), [self.r.choice(names)], names)

    def make_parent(self, parent, children):
        for k in ("verify", "criteria", *canon.SHORT_KEYS):
            parent.pop(k, None)
        parent["verified_by"] = "children"
        for child in children:
            child["parents"] = self.pick(parent["id"], [parent["id"]])
            if self.chance(0.5):  # so that the parent is not always due before its children
                child.pop("before", None)
        listed = [c["id"] for c in children if c.get("status", "active") == "active"]
        if self.chance(0.1) and listed:
            listed = listed[:-1]
        if self.chance(0.9):
            parent["by_children"] = {"mark": AUTO, "list": listed, "judged_by": "lead", "date": self.ago(20)}
            if self.chance(0.15):
                parent["by_children"]["mark"] = OLD_MARK
                if self.chance(0.4):
                    del parent["by_children"]["mark"]
        else:
            parent.pop("by_children", None)
        if not children and "by_children" not in parent:
            parent["by_children"] = {"mark": AUTO, "list": [], "judged_by": "lead", "date": self.ago(20)}

    def make_roles(self):
        """Who must have done it, or seen it: of everything, or of what the filters say."""
        if self.chance(0.86):
            return
        self.config["roles"] = roles = []
        for _ in range(self.pick(1, 1, 2)):
            procedures = [p["id"] for p in self.kinds("procedure")] or ["none"]
            filters = {
                "method": self.pick("test", "test", "analysis", "inspection"),
                "before": self.r.choice(self.event_names()),
                "stage": self.pick("qualification", "acceptance", "development"),
                "procedure": self.r.choice(procedures),
                "safety": True,
            }
            chosen = [k for k in self.r.sample(list(filters), self.pick(0, 0, 1, 1, 2)) if filters[k] != "none"]
            role = {k: filters[k] for k in chosen}
            if self.chance(0.6):
                role["performed_by"] = self.pick("Test conductor", [TEST_CONDUCTOR, "range lead"], ["range lead"])
            if self.chance(0.5) or "performed_by" not in role:
                role["witnessed_by"] = self.pick("pad chief", ["Range Lead", "pad chief"], ["chief engineer"])
            roles.append(role)

    # ---- records -------------------------------------------------------------------------------------------------

    def make_records(self):
        rows = [r for r in self.judge().all_rows() if isinstance(r.index, int) and r.how != "none"]
        self.r.shuffle(rows)
        budget = self.r.choice([0, 3, 4, 5, 6, 6, 6])
        for row in rows:
            if len(self.kinds(*METHODS)) >= budget:
                break
            if row.how == "one" and not row.serials:
                continue
            record = self.make_record(row)
            if row.how == "one" and len(row.serials) > 1 and self.chance(0.5):
                self.make_record(row)  # perhaps on another piece
            if row.entry.get("after") and self.chance(0.8):
                self.make_earlier(record, row, rows)
            for key in ("after", "again_after"):
                for name in canon.as_list(row.entry.get(key)):
                    if name in self.event_names() and self.chance(0.8):
                        self.hold_near(name, record, key)
            for _ in range(self.pick(0, 0, 0, 1, 1, 2)):
                self.harm_record(record, row)
            if self.chance(0.25) and len(self.kinds(*METHODS)) < budget:
                self.make_rival(record, row)

    def make_record(self, row):
        self.counter += 1
        req = next(t for t in self.things if t["id"] == row.req["id"])
        entry = row.entry
        date = self.ago(self.r.randrange(5, 200))
        if entry.get("after"):  # the later step of two, most of the time
            date = self.ago(self.r.randrange(5, 40))
        record = self.add(entry["method"], f"TR-{self.counter}", "Notes of the run.\n", "records", date=date)
        if row.how in ("each", "one"):
            s = self.r.choice(row.serials)
            record["serial"] = self.pick(s, s, [s])
            peers = [p for p in self.all_serials() if p.split("/")[0] == row.item and p != s]
            others = [p for p in self.all_serials() if p.split("/")[0] != row.item]
            if peers and self.chance(0.15):
                record["serial"] = [s, self.r.choice(peers)]
            elif others and self.chance(0.12):  # two things on the stand together
                record["serial"] = self.r.sample([s, self.r.choice(others)], 2)
        elif row.how == "design":
            pieces = [p for p in self.all_serials() if p.split("/")[0] == row.item]
            if entry["method"] != "analysis" and pieces and self.chance(0.5):
                record["serial"] = self.r.choice(pieces)
            else:
                record["item"] = row.item
        self.state_revision(record)
        for k in ("stage", "procedure"):
            if k in entry:
                record[k] = entry[k]
        procedure = next((p for p in self.kinds("procedure") if p["id"] == entry.get("procedure")), {})
        if procedure:
            record["procedure_revision"] = procedure["revision"]
        needed = canon.as_list(procedure.get("instruments"))
        if needed or self.chance(0.4):
            record["instruments"] = list(needed) or self.pick(["TQ-01"], "PT-02")
        elif entry["method"] == "test":
            record["no_instrument"] = "seen by eye"
        self.state_people(record, req)
        if any("at" in c for c in canon.criteria(req).values()):
            record["conditions"] = {"body": self.pick("90 K", "91 ± 1 K", "91 ± 4 K", "-182 ± 1 degC")}
        if self.chance(0.15):
            self.attach(record)
        record["date"] = self.perhaps_hour(date, 0.2)
        record["status"] = "signed"
        if self.chance(0.93):
            record["seal"] = AUTO
        record["verifies"] = {req["id"]: self.verify(record, req)}
        if self.chance(0.2):
            self.second_requirement(record, row)
        return record

    def state_people(self, record, req):
        if self.chance(0.94):
            record["performed_by"] = self.pick(TEST_CONDUCTOR, TEST_CONDUCTOR, TEST_CONDUCTOR, " Test Conductor", "pad chief")
        seen = self.chance(0.88 if req.get("safety") and record["kind"] != "analysis" else 0.3)
        if seen:
            record["witnessed_by"] = self.pick("pad chief", ["pad chief", "range lead"], "PAD CHIEF ", "range lead", ["guest"])
        if self.chance(0.06):  # nobody else
            record["witnessed_by"] = self.pick("Test conductor", ["test conductor", " "], record.get("performed_by", "guest"))

    def make_earlier(self, record, row, rows):
        """The step that this record must follow, on the same piece, a little before it."""
        for first in rows:
            if first.how == "one" and not first.serials:
                continue
            if first.req["id"] == row.req["id"] and first.index == 0 and first.how == row.how and row.index == 1:
                earlier = self.make_record(first)
                for k in ("serial", "item"):
                    earlier.pop(k, None)
                    if k in record:
                        earlier[k] = record[k]
                day = civil_day(record["date"])
                earlier["date"] = day - datetime.timedelta(days=self.pick(0, 0, 1, 1, 9))
                if self.chance(0.4):
                    record["date"] = datetime.datetime.combine(day, datetime.time(14))
                    earlier["date"] = datetime.datetime.combine(day, datetime.time(self.pick(9, 14, 16)))
                return

    def hold_near(self, name, record, key):
        """The event that this record must follow, about the day of the record, mostly with its piece."""
        away = self.pick(-9, -1, -1, 0) if key == "after" else self.pick(-9, -9, -1, -1, 0, 1, 20)
        day = civil_day(record["date"]) + datetime.timedelta(days=away)
        pieces = canon.as_list(record.get("serial"))
        outer = [s for s in map(self.holder_of, pieces) if s]
        if outer and self.chance(0.7) or self.chance(0.15):
            pieces = outer
        if away == 0 and self.chance(0.6):
            record["date"] = datetime.datetime.combine(civil_day(record["date"]), datetime.time(14))
            self.hold(name, datetime.datetime.combine(day, datetime.time(self.pick(9, 9, 14, 16))), pieces)
        else:
            self.hold(name, min(day, self.today), pieces)

    def holder_of(self, piece):
        """What has it in it at some time, if anything has."""
        for item in self.kinds("item"):
            for s in self.tables(item):
                if any(piece in (c, c["serial"] if isinstance(c, dict) else c) for c in canon.as_list(s.get("contains"))):
                    return f"{item['id']}/{s['number']}"
        return None

    def make_held_events(self):
        for event in self.events:
            if self.chance(0.22):
                named = event.get("serials") if isinstance(event, dict) else None
                self.hold(event if isinstance(event, str) else event["name"], self.ago(self.r.randrange(0, 150)), named or [])

    def hold(self, name, day, pieces):
        """One holding of an event, now and then with other pieces, or with none stated."""
        pieces = list(dict.fromkeys(pieces))
        others = [s for s in self.all_serials() if s not in pieces]
        if others and self.chance(0.15 if pieces else 0.7):
            pieces = [*pieces, self.r.choice(others)] if self.chance(0.7) else [self.r.choice(others)]
        id = f"HE-{len(self.kinds('event')) + 1}"
        outcome = self.pick("completed", "completed", "aborted")
        event = self.add("event", id, "As planned.\n", "campaign", event=name, date=self.perhaps_hour(day, 0.1), outcome=outcome)
        if pieces and self.chance(0.93):
            event["serials"] = pieces

    def aim_contents(self):
        """Some contents are put in or taken out on the very day of a run."""
        for item in self.kinds("item"):
            for s in self.tables(item):
                name = f"{item['id']}/{s['number']}"
                runs = [t for t in self.kinds(*METHODS, "event") if name in canon.as_list(t.get("serial")) + t.get("serials", [])]
                for entry in canon.as_list(s.get("contains")):
                    keys = [k for k in ("from", "to") if k in entry] if isinstance(entry, dict) and runs else []
                    if keys and self.chance(0.4):
                        aimed = {**entry, self.r.choice(keys): civil_day(self.r.choice(runs)["date"])}
                        if "from" not in aimed or "to" not in aimed or civil_day(aimed["from"]) < civil_day(aimed["to"]):
                            entry.update(aimed)

    def make_uses(self):
        """What each run and each holding took from the budgets of its pieces and of what was inside; not always stated."""
        judge = self.judge()
        procedures = {p["id"]: p for p in self.kinds("procedure")}
        for run in self.kinds(*METHODS, "event"):
            on = canon.as_list(run.get("serial")) + run.get("serials", [])
            pieces = {p for s in on for p in (s, *judge.contents(s, run["date"]))}
            names = {n for p in pieces for n in judge.life(p) if BUDGETS[n][1]}
            asked = canon.as_list(procedures.get(run.get("procedure"), {}).get("uses"))
            stated = lambda n: self.chance(0.88 if n in asked or run["kind"] == "event" else 0.65)
            uses = {n: self.r.choice(BUDGETS[n][1]) for n in BUDGETS if n in names and stated(n)}
            if uses:
                run["uses"] = uses

    def make_recalls(self):
        """A calibration finds an instrument out of tolerance, about the day of a record that names it or with that before it there."""
        for name, instrument in self.instruments.items():
            days = [civil_day(r["date"]) for r in self.kinds(*METHODS) if name in canon.as_list(r.get("instruments"))]
            if not days or self.chance(0.83):
                continue
            made = self.r.choice(days)
            due = self.today + datetime.timedelta(days=60)
            if self.chance(0.4):
                day = made + datetime.timedelta(days=self.pick(-1, 0, 0, 1))
                instrument["calibrations"].append({"on": min(day, self.today), "due": due})
                found = made + datetime.timedelta(days=30)
            else:
                found = made + datetime.timedelta(days=self.pick(-1, 0, 0, 1, 30))
            recall = {"on": min(found, self.today), "due": due, "as_found": "out of tolerance"}
            if self.chance(0.3):
                recall["keeps_evidence"] = self.pick("all", ["TR-1"], ["TR-2", "TR-3"], "TR-1")
                recall["reason"] = "the error was upward"
            instrument["calibrations"].append(recall)
            if self.chance(0.2):  # and once more on that day
                instrument["calibrations"].append({"on": recall["on"], "due": due})

    def state_revision(self, record):
        stated = {}
        for thing in [record["item"]] if "item" in record else canon.as_list(record.get("serial")):
            item_id = thing.split("/")[0]
            item = next((t for t in self.kinds("item") if t["id"] == item_id), {})
            if "revision" in item and item_id not in stated:
                stated[item_id] = item["revision"]
                for s in self.tables(item):
                    if thing == f"{item_id}/{s['number']}":
                        stated[item_id] = s.get("revision", item["revision"])
        if len(stated) > 1 or (stated and self.chance(0.1)):
            record["revision"] = stated
        elif stated:
            record["revision"] = next(iter(stated.values()))

    def second_requirement(self, record, row):
        """The same run serves another requirement whose plan it also fits."""
        for other in self.judge().all_rows():
            same = isinstance(other.index, int) and other.how == row.how and other.item == row.item
            if same and other.req["id"] != row.req["id"] and other.entry["method"] == record["kind"]:
                if all(other.entry.get(k) in (None, record.get(k)) for k in ("procedure", "stage")):
                    req = next(t for t in self.things if t["id"] == other.req["id"])
                    record["verifies"][req["id"]] = self.verify(record, req)
                    if "conditions" not in record and self.chance(0.8):
                        record["conditions"] = {"body": "90 K"}
                    return

    def verify(self, record, req):
        named = canon.criteria(req)
        results, outcome = {}, {}
        for name, c in named.items():
            results[name], outcome[name] = self.make_result(req["id"], name, c)
        v = {"mark": AUTO}
        if len(named) == 1 and self.chance(0.5):
            v["result"] = results[next(iter(named))]
        else:
            v["results"] = results
        if self.chance(0.7):
            v["outcome"] = {n: o for n, o in outcome.items() if o}
        if not v.get("outcome"):
            v.pop("outcome", None)
        return v

    def make_result(self, id, name, c):
        """(result, outcome as judged then): mostly met."""
        aim = self.r.choices(["met", "not met", "straddle", "bare", "bound", "exact"], [72, 10, 4, 3, 4, 7])[0]
        if "expect" in c:
            good = aim != "not met"
            return (self.r.choice(canon.as_list(c["expect"])), "met") if good else ("fail", "not met")
        if "count" in c:
            n = c["count"] + (self.r.randint(0, 2) if aim != "not met" else -1)
            return self.pick(n, str(n)), "met" if aim != "not met" else "not met"
        if "reliability" in c:
            return self.make_trials(aim, chance.share(c["reliability"]), chance.share(c["confidence"]))
        unit, other, lo, hi, u = FAMILIES[self.families[(id, name)]]
        u = Fraction(u)
        if "covers" in c and aim != "bare":
            return self.make_sample(aim, c, unit, lo, hi, u), None
        low_side = "min" in c or "equals" in c
        edge, inward = (lo, 1) if low_side else (hi, -1)
        step = {"met": u + self.pick(u, u / 2), "exact": u, "not met": -2 * u, "straddle": u / 4, "bare": u, "bound": u}[aim]
        y = edge + inward * step
        if aim == "straddle" and self.chance(0.5):
            y = edge - inward * step
        outcome = {"met": "met", "exact": "met", "not met": "not met"}.get(aim)
        if aim == "bare":
            return self.in_unit(y, None, unit, other), None
        if aim == "bound":
            sign = self.pick(">", "<", ">" if low_side else "<")
            return f"{sign} {text(y)} {unit}".strip(), None
        return self.in_unit(y, u, unit, other), outcome

    def make_trials(self, aim, reliability, confidence):
        enough = math.ceil(math.log(1 - confidence) / math.log(reliability) - 1e-9)
        if aim == "bare":
            return str(enough), None
        if aim == "not met":
            n = self.r.randint(6, 12)
            return f"{self.r.randint(0, 2)} of {n}", "not met"
        if aim in ("straddle", "bound"):
            n = self.r.randint(0, enough - 1)
            return f"{max(n - self.pick(0, 0, 1), 0)} of {n}", None
        n = enough + (0 if aim == "exact" else self.r.randint(0, 3))
        failed = self.pick(0, 0, 0, 1)
        return f"{n - failed} of {n}", None

    def make_sample(self, aim, c, unit, lo, hi, u):
        edge, inward = (lo, 1) if "min" in c or "equals" in c else (hi, -1)
        n = self.pick(3, 4, 6)
        two = "equals" in c or ("min" in c and "max" in c)
        if two:  # there is less room, so less scatter
            u /= 8
        step = {"not met": -4 * u, "straddle": u, "bound": u}.get(aim, Fraction(hi - lo, 2) if two else 8 * u)
        middle = edge + inward * step
        if self.chance(0.3):
            spread = "1 ms" if unit == "s" and self.chance(0.5) else f"{text(u)} {unit.replace(' gauge', '')}".strip()
            return {"mean": f"{text(middle)} {unit}".strip(), "sd": spread, "n": n}
        if aim == "exact":  # no spread at all
            return {"sample": [f"{text(middle)} {unit}".strip()] * n}
        readings = [middle + self.r.randint(-4, 4) * u / 4 for _ in range(n)]
        return {"sample": [f"{text(y)} {unit}".strip() for y in readings]}

    def in_unit(self, y, u, unit, other):
        """The value in its unit; sometimes restated in the other; sometimes the uncertainty written another way."""
        spread = f" ± {text(u)}" if u is not None else ""
        if other and unit in ("mm", "s") and self.chance(0.2):
            factor = quantity.UNITS[unit][0] / quantity.UNITS[other][0]
            if other == "ms":
                spread = f" ± {text(u * factor)}" if u is not None else ""
                return f"{text(y * factor)}{spread} {other}"
        if other == "%" and self.chance(0.3):  # without the brackets, ± and % could be read two ways
            return f"{text(y * 100)} %" if u is None else f"({text(y * 100)} ± {text(u * 100)}) %"
        if u is not None and unit == "mm" and self.chance(0.15):
            return f"{float(y):.3f}({int(u * 500)}) mm"
        if u is not None and unit == "N*m" and self.chance(0.15):
            return f"{text(y)} {unit} ± 5 %"
        if unit == "N*m" and self.chance(0.3):
            unit = "N·m"
        return f"{text(y)}{spread} {unit}".strip()

    def attach(self, record):
        name = f"{record['id'].lower()}.csv"
        self.attachments[f"records/{name}"] = f"t [s],x [mm]\n0,{self.r.randrange(99)}\n".encode()
        record["data"] = [{"file": name, "sha256": AUTO}]

    def make_rival(self, record, row):
        """Another record for the same row, near it in time."""
        rival = self.make_record(row)
        for k in ("serial", "item"):
            rival.pop(k, None)
            if k in record:
                rival[k] = record[k]
        base = record["date"]
        noon = datetime.datetime.combine(civil_day(base), datetime.time(12))
        rival["date"] = self.pick(
            civil_day(base),
            civil_day(base),
            noon,
            civil_day(base) + datetime.timedelta(days=self.pick(-1, 1, 3)),
        )
        if isinstance(rival["date"], datetime.datetime) and self.chance(0.6):
            record["date"] = noon + datetime.timedelta(hours=self.pick(-2, 0, 3))
        if self.chance(0.3):
            rival["date"] = self.hour_of(civil_day(base) + datetime.timedelta(days=self.pick(-1, 0, 0, 1)))
        if self.chance(0.45):
            rival["status"] = "draft"
            rival.pop("seal", None)
            for v in rival["verifies"].values():
                v.pop("outcome", None)
        elif self.chance(0.4):
            self.harm_record(rival, row)

    def harm_record(self, record, row):
        """One thing wrong, or nearly wrong."""
        v = record["verifies"][row.req["id"]]
        harms = [
            self.harm_status, self.harm_status, self.harm_mark, self.harm_mark, self.harm_seal, self.harm_revision,
            self.harm_revision, self.harm_procedure, self.harm_instruments, self.harm_instruments, self.harm_results,
            self.harm_results, self.harm_results, self.harm_conditions, self.harm_conditions, self.harm_data, self.harm_notes,
            self.harm_notes, self.harm_inputs, self.harm_inputs, self.harm_date,
        ]  # fmt: skip
        self.r.choice(harms)(record, v, row.req)

    def harm_status(self, record, v, req):
        if self.chance(0.55):
            record["status"] = "draft"
            if self.chance(0.3):
                del record["status"]
            record.pop("seal", None)
            v.pop("outcome", None)
        else:
            record["status"] = "withdrawn"
            record["withdrawn"], record["withdrawn_by"] = self.ago(2), "lead"
            if self.chance(0.8):
                record["reason"] = "gauge was read wrongly"

    def harm_mark(self, record, v, req):
        x = self.r.random()
        v["mark"] = OLD_MARK
        if x < 0.3:
            del v["mark"]
        elif x < 0.6:
            again = AUTO if self.chance(0.7) else "m1-ba9876543210"
            v["reaffirmed"] = [{"mark": again, "date": self.ago(3), "by": "lead", "reason": "wording only"}]
        elif "outcome" in v and self.chance(0.5):  # met then; the limit was tightened since
            v["outcome"] = {n: "met" for n in v["outcome"]}

    def harm_seal(self, record, v, req):
        if "seal" in record:
            record["seal"] = WRONG_SEAL
            if self.chance(0.4):
                del record["seal"]

    def harm_revision(self, record, v, req):
        if "revision" in record:
            record["revision"] = self.pick("A", "A", "0", "Z")
            if self.chance(0.3):
                del record["revision"]

    def harm_procedure(self, record, v, req):
        if "procedure_revision" in record:
            record["procedure_revision"] = "1"
            if self.chance(0.3):
                del record["procedure_revision"]
        elif "procedure" in record and self.chance(0.5):
            del record["procedure"]

    def harm_instruments(self, record, v, req):
        x = self.r.random()
        if x < 0.4:
            record.pop("instruments", None)
            record.pop("no_instrument", None)
        elif x < 0.8:
            record["instruments"] = ["PT-02"]
        else:
            record["date"] = self.ago(self.r.randrange(200, 700))

    def harm_results(self, record, v, req):
        if "result" in v:
            words = "expect" in next(iter(canon.criteria(req).values()))
            v["result"] = self.pick({"calc": "margin"}, "fail", None, *([] if words else ["7 s", "7 N*m", "pass"]))
            if v["result"] is None:
                del v["result"]
            return
        if not v.get("results"):
            return
        name = self.r.choice(list(v["results"]))
        x = self.r.random()
        if x < 0.3:
            if self.chance(0.7):  # else it is written down all the same
                v["results"].pop(name, None)
                v.get("outcome", {}).pop(name, None)
            if self.chance(0.6):
                v["not_judged"] = {name: self.pick("the sensor was not fitted", "the sensor was not fitted", " ")}
        elif x < 0.5:
            v["results"][name] = {"calc": "margin"}
        elif x < 0.7 and "outcome" in v:
            v["outcome"][name] = "not met"
        elif x < 0.75:
            v.setdefault("outcome", {})["former"] = "not met"

    def harm_conditions(self, record, v, req):
        if "conditions" in record:
            record["conditions"]["body"] = self.pick("96 K", "94.5 ± 1 K", "95 K", "94 ± 1 K", "79 K")
            if self.chance(0.3):
                del record["conditions"]

    def harm_data(self, record, v, req):
        if "data" not in record:
            self.attach(record)
        path = f"records/{record['data'][0]['file']}"
        if self.chance(0.1):
            record["data"].append({"file": self.pick("../../outside.csv", "../slipmark.toml/x"), "sha256": "cd" * 32})
        elif self.chance(0.35):
            self.attachments.pop(path, None)
        elif self.chance(0.4):
            record["data"][0]["sha256"] = "ab" * 32
        else:
            self.other_line_ends(record["data"][0], path)

    def other_line_ends(self, attached, path):
        """As another system has them, now or when it was signed; or only some of them, and a text or none."""
        lines = self.pick(b"t [s],x [mm]\n0,1\n", b"t [s],x [mm]\n0,1\n", b"\0\1\n\2\n")
        kinds = [lines, lines.replace(b"\n", b"\r\n"), lines.replace(b"\n", b"\r\n", 1)]
        signed, self.attachments[path] = self.r.choice(kinds), self.r.choice(kinds)
        attached["sha256"] = hashlib.sha256(signed).hexdigest()

    def harm_notes(self, record, v, req):
        """Left open, settled before signing, or settled since: then the seal is that of before."""
        key, settled = self.pick(("deviations", {"accepted_by": "lead"}), ("actions", {"closed": self.ago(4)}))
        record[key] = [{"text": "one turn more"}]
        if self.chance(0.3):
            record[key].append({"text": "replace the seal", **settled})
        if self.chance(0.5):
            if self.chance(0.5):
                record["_signed"] = {key: [dict(one) for one in record[key]]}
            record[key][0].update(settled)
            if key == "actions" and self.chance(0.2):
                record[key][0]["closed"] = self.today + datetime.timedelta(days=self.pick(0, 1, 30))

    def harm_inputs(self, record, v, req):
        """An analysis that rests on another record, good or bad."""
        if record["kind"] != "analysis":
            return self.harm_date(record, v, req)
        others = [r for r in self.kinds(*METHODS) if r is not record] or [record]
        base = self.r.choice(others)
        req_id = next(iter(base["verifies"]))
        req = next(t for t in self.things if t["id"] == req_id)
        record["inputs"] = {"T_stem": {"from": f"{base['id']}.{next(iter(canon.criteria(req)))}"}}
        if self.chance(0.3):
            record["inputs"]["eta"] = {"value": "0.8 ± 0.05", "source": "data sheet"}

    def harm_date(self, record, v, req):
        day = civil_day(record["date"])
        record["date"] = self.pick(
            datetime.datetime.combine(day, datetime.time(9, 30)), day - datetime.timedelta(days=30), self.ago(150)
        )

    # ---- what is computed ------------------------------------------------------------------------------------------

    def make_computed(self):
        """Some results come from a calculation or from data, as the files stand; then something may be changed since."""
        if self.chance(0.45):
            return
        for record in self.kinds(*METHODS):
            for req_id, v in record["verifies"].items():
                req = next(t for t in self.things if t["id"] == req_id)
                for name, criterion in canon.criteria(req).items():
                    if (req_id, name) in self.families and "covers" not in criterion and self.chance(0.6):
                        self.compute(record, req, v, name)
        self.move_computed()

    def compute(self, record, req, v, name):
        """In place of a result, something that comes to it."""
        q = quantity.parse(canon_result(v, name))
        family = self.families[(req["id"], name)]
        unit, _, _, _, _ = FAMILIES[family]
        if q is None or q.bound or q.dim != quantity.UNITS[unit][2] or q.tag != quantity.UNITS[unit][3]:
            return
        base = self.base_for(record, req, name)
        x = self.r.random()
        if base and x < 0.4:
            made = self.from_another(record, req, name, base)
        elif x < 0.6:
            made = self.from_data(record, name, q, unit)
        else:
            made = self.from_lines(record, req, name, q, unit, family)
        if "result" in v:
            v["result"] = made
        else:
            v["results"][name] = made
        judge = self.judge()
        now = judge.computed.of(next(r for r in judge.records.values() if r["id"] == record["id"]), made)
        v.get("outcome", {}).pop(name, None)
        if not v.get("outcome"):
            v.pop("outcome", None)
        if now is None or record.get("status", "draft") == "draft":
            return
        criterion = canon.criteria(req)[name]
        settled = not judge.has_tbd(criterion) and not judge.has_unsettled(criterion)
        state = judge.conform(criterion, now)[0] if settled else None
        if state in ("met", "not met") and self.chance(0.5):
            v.setdefault("outcome", {})[name] = state
        if self.chance(0.93):
            v.setdefault("computed", {})[name] = self.keep(now, unit)

    def keep(self, now, unit):
        """What it came to, as it was written when it was signed; now and then something else, or nearly the same."""
        value, u = in_unit_exactly(now.value, unit), None if now.u is None else now.u / quantity.UNITS[unit][0]
        x = self.r.random()
        if x < 0.03:
            value += Fraction(1, 1000)
        elif x < 0.05:
            u = None if u is not None else Fraction(1, 2)
        elif x < 0.07 and u is not None:
            u *= 1 + Fraction(1, 10**self.pick(3, 11))
        elif x < 0.12:
            value *= 1 + Fraction(1, 10**self.pick(6, 11))
        elif x < 0.13:
            return "as measured"
        spread = "" if u is None else f" ± {exact_text(u)}"
        return f"{exact_text(value)}{spread} {unit}".strip()

    def base_for(self, record, req, name):
        """Another record that reports the same; an earlier one, now and then any, so that it may go round."""
        before = self.kinds(*METHODS)
        if self.chance(0.9):
            before = before[: before.index(record)]
        fits = [r for r in before if r is not record and req["id"] in r["verifies"] and canon_result(r["verifies"][req["id"]], name)]
        return self.r.choice(fits) if fits else None

    def from_another(self, record, req, name, base):
        given = f"of_{name}"
        record.setdefault("inputs", {})[given] = {"from": f"{base['id']}.{req['id']}.{name}"}
        if self.chance(0.3):
            record["inputs"][given]["used"] = "1"
        return self.line(record, f"y_{name}", given)

    def line(self, record, name, expression):
        """A line of the calculation, in a block of its own or in the one that is there."""
        blocks = canon.calc_blocks(record["_body"])
        line = f"{name} = {expression}\n"
        if f"{name} = " in record["_body"]:
            return {"calc": name}
        if blocks and self.chance(0.6):
            record["_body"] = record["_body"].replace("```calc\n", "```calc\n" + line, 1)
        else:
            record["_body"] += f"\n```calc\n{line}```\n"
        return {"calc": self.pick(*[name] * 30, "y_none")}

    def from_lines(self, record, req, name, q, unit, family):
        """One input, scaled or not; or two, so that their uncertainties make up that of the sum."""
        inputs = record.setdefault("inputs", {})
        value, u = in_unit_exactly(q.value, unit), None if q.u is None else q.u / quantity.UNITS[unit][0]
        write = lambda y, u: f"{exact_text(y)}{'' if u is None else f' ± {exact_text(u)}'} {unit}".strip()
        plain = family not in ("gauge", "heat")
        one, other, line = f"a_{name}", f"b_{name}", f"y_{name}"
        if f"y_{name} = " in record["_body"]:
            return {"calc": line}
        x = self.r.random()
        if not plain or x < 0.15:
            inputs[one] = {"value": write(value, u), "source": "invented"}
            return self.line(record, line, one)
        if x < 0.5:
            k, say = self.pick((2, "2 * {}"), (Fraction(1, 2), "{} / 2"), (Fraction(5, 4), "{} * 1.25"), (2, "gain * {}"), (Fraction(1, 2), "{} / gain"))
            if "gain" in say and "gain" not in self.parameters:
                k, say = 1, "({} + {}) - {}"
            inputs[one] = {"value": write(value / k, None if u is None else u / k), "source": "invented"}
            return self.line(record, line, say.replace("{}", one))
        sign = self.pick(1, -1)
        how = self.pick("apart", "apart", "with r", "one instrument", "twice")
        share = Fraction(3, 4)
        parts = (u * 3 / 5, u * 4 / 5) if u is not None else (None, None)
        if how == "with r" and u is not None:
            parts = (u / 4, u * 3 / 4) if sign > 0 else (u, 2 * u)
            record.setdefault("correlations", []).append({"between": [one, other], "r": 1})
        if how == "one instrument" and sign > 0 and u is not None:
            parts = (u / 4, u * 3 / 4)
        inputs[one] = {"value": write(value * share, parts[0]), "source": "invented"}
        inputs[other] = {"value": write(value * (1 - share) * sign, parts[1]), "source": "invented"}
        if how == "one instrument":
            inputs[one]["instrument"] = inputs[other]["instrument"] = self.pick("TQ-01", "PT-02")
        expression = f"{one} {'+' if sign > 0 else '-'} {other}"
        if how == "twice":
            self.line(record, f"z_{name}", expression)
            return self.line(record, line, f"2 * z_{name} - z_{name}")
        return self.line(record, line, expression)

    def from_data(self, record, name, q, unit):
        """The greatest, least, first or last cell of an attached table."""
        file = f"{record['id'].lower()}-{name}.csv"
        value, half = in_unit_exactly(q.value, unit), Fraction(1, 2)
        reduce = self.pick("max", "min", "first", "last")
        cells = {"max": [value - half, value, value - 1], "min": [value, value + half], "first": [value, value + 1, value - 1], "last": [value - 1, value]}[reduce]
        rows = [f"{n},{exact_text(cell)}" for n, cell in enumerate(cells)]
        if self.chance(0.06):
            rows[self.r.randrange(len(rows))] = f"7,{self.pick('', 'NaN')}"
            rows = [row if not row.startswith("7,") else row.replace("7,", f"{n},") for n, row in enumerate(rows)]
        self.attachments[f"records/{file}"] = f"t [s],x [{unit or '-'}]\n".encode() + "".join(row + "\n" for row in rows).encode()
        if self.chance(0.95):
            record.setdefault("data", []).append({"file": file, "sha256": AUTO})
        made = {"data": file, "column": self.pick(*["x"] * 20, "q"), "reduce": reduce}
        if q.u is not None:
            made["uncertainty"] = f"± {exact_text(q.u / quantity.UNITS[unit][0])} {unit.replace(' gauge', '')}".strip()
        return made

    def move_computed(self):
        """A parameter, an input or a cell changed since it was signed, with the seal made anew or not."""
        if "gain" in self.parameters and self.chance(0.3):
            self.parameters["gain"]["value"] = self.pick("2.00000000001", "2.5", "2 ± 0.1", "3", "2 s", "TBD")
            if self.chance(0.2):
                del self.parameters["gain"]
        for record in self.kinds(*METHODS):
            inputs = [i for i in record.get("inputs", {}).values() if "value" in i and i["value"] != "0.8 ± 0.05"]
            if inputs and self.chance(0.12):
                given = self.r.choice(inputs)
                given["value"] = self.pick(given["value"].replace(" ± ", "1 ± "), given["value"].split(" ± ")[0], "< " + given["value"].replace(" ± ", "1"), "some", given["value"])
            if "```calc" in record["_body"] and self.chance(0.06):
                record["_body"] = self.pick(record["_body"].replace("```calc", "```text", 1), record["_body"].replace(" = ", " = lost + ", 1), record["_body"] + "\n```calc\nspare = 1\n```\n")
            if record.get("correlations") and self.chance(0.1):
                record["correlations"][0]["between"] = ["a_none", record["correlations"][0]["between"][1]]

    # ---- what became of the hardware ------------------------------------------------------------------------------

    def harm_items(self):
        for item in self.kinds("item"):
            for s in self.tables(item):
                if self.chance(0.25 if "life" in item else 0.1):
                    self.rework(f"{item['id']}/{s['number']}", s)
                if self.chance(0.03):
                    s["status"] = "scrapped"
            if self.chance(0.03):
                item["status"] = "dropped"

    def rework(self, name, s):
        """Around the date of a record on that piece."""
        dates = [civil_day(r["date"]) for r in self.kinds(*METHODS) if name in canon.as_list(r.get("serial"))]
        base = self.r.choice(dates) if dates else self.ago(60)
        day = base + datetime.timedelta(days=self.pick(-3, -1, 0, 0, 3))
        work = {"date": self.perhaps_hour(day, 0.3), "reason": "seat lapped"}
        if self.chance(0.4):
            work["affects"] = self.pick(["R-1"], "R-2", ["R-1", "R-3"])
        life = next(t for t in self.kinds("item") if t["id"] == name.split("/")[0]).get("life", {})
        if life and self.chance(0.8):
            work["resets"] = self.r.sample(list(life), self.r.randint(1, len(life)))
        s["reworked"] = [work]

    def make_nonconformances(self):
        for n in range(self.r.choice([0, 0, 0, 1, 1, 2])):
            judge = self.judge()
            failing = [r for req in judge.requirements.values() for r, _ in judge.standing_failures(req)]
            withdrawn = [r for r in self.kinds(*METHODS) if r.get("status") == "withdrawn"]
            nc = self.add("nonconformance", f"NC-{n + 1}", "Found.\n", "departures", date=self.ago(30), against="project")
            things = self.all_serials() + [t["id"] for t in self.kinds("item")]
            base = None
            if (failing or withdrawn) and self.chance(0.8):
                base = self.r.choice(failing + withdrawn)
                nc["found_by"] = self.pick(base["id"], [base["id"]])
                nc["date"] = civil_day(base["date"])
                nc["against"] = base.get("item") or (canon.as_list(base.get("serial")) + ["project"])[0]
                nc["requirements"] = list(base["verifies"])
                # about another piece, or another requirement, it accounts for nothing
                if things and self.chance(0.2):
                    nc["against"] = self.r.sample(things, self.pick(1, 1, min(2, len(things))))
                if self.chance(0.15):
                    nc["requirements"] = [self.r.choice(self.kinds("requirement"))["id"]]
            elif things and self.chance(0.93):
                nc["against"] = self.r.sample(things, self.pick(1, 1, min(2, len(things))))
                nc["requirements"] = [self.pick("R-1", "R-1", "R-2") if len(self.kinds("requirement")) > 1 else "R-1"]
            if self.chance(0.3):
                nc.pop("requirements", None)
            if self.chance(0.3):
                nc["before"] = self.r.choice(self.event_names())
            self.close_nonconformance(nc)

    def close_nonconformance(self, nc):
        if self.chance(0.35):
            nc["status"] = self.pick("open", "dispositioned")
            if nc["status"] == "dispositioned":
                nc["disposition"] = "rework"
            return
        nc["status"] = "closed"
        nc["disposition"] = self.pick("use-as-is", "rework", "repair", "scrap", "return")
        nc["closed"] = self.perhaps_hour(nc["date"] + datetime.timedelta(days=self.pick(0, 1, 4)), 0.2)
        if self.chance(0.04):  # not yet
            nc["closed"] = self.today + datetime.timedelta(days=30)
        elif self.chance(0.04):  # another year was typed
            nc["closed"] = nc["date"] - datetime.timedelta(days=360)
        nc["closed_by"] = "lead"
        if self.chance(0.6) and nc["disposition"] in ("use-as-is", "repair"):
            nc["voids"], nc["reason"] = "nothing", "the seat is not touched"
        if nc["disposition"] == "scrap" and self.chance(0.6):
            for item in self.kinds("item"):
                for s in self.tables(item):
                    if f"{item['id']}/{s['number']}" in canon.as_list(nc["against"]):
                        s["status"] = "scrapped"
        if self.chance(0.1):
            nc.pop(self.pick("closed", "closed_by", "disposition"))

    # ---- waivers -------------------------------------------------------------------------------------------------

    def make_waivers(self):
        self.make_departure_waivers()
        for n in range(self.r.choice([0, 0, 1, 1, 2])):
            judge = self.judge()
            judged = [(row, judge.judge(row)) for row in judge.all_rows()]
            judged = [(row, j) for row, j in judged if j["state"] in OPEN]
            if not judged:
                return
            state = self.r.choice(sorted({j["state"] for _, j in judged}))  # rare ones as often as others
            row, result = self.r.choice([(row, j) for row, j in judged if j["state"] == state])
            w = self.add("waiver", f"W-{n + 1}", "Allowed.\n", "departures", requirement=row.req["id"], mark=AUTO)
            if row.how == "each" and self.chance(0.7):
                w["serials"] = self.pick(row.subject, [row.subject])
            elif row.how == "one" and row.serials and self.chance(0.6):
                w["serials"] = self.r.sample(row.serials, self.r.randint(1, len(row.serials)))
            elif row.subject != "project" and row.subject in judge.items or row.item:
                w["item"] = row.item or row.subject
            accepts = {c["name"]: self.accept(judge, row, c["name"]) for c in result["criteria"] if c["reasons"]}
            w["accepts"] = {k: v for k, v in accepts.items() if v}
            if not w["accepts"]:
                del w["accepts"]
            if result["state"] in ("slipped", "unsigned", "no evidence") and self.chance(0.7) or self.chance(0.2):
                w["without_evidence"] = "the campaign ends before it could be shown"
            w["status"], w["approved_by"], w["approved"] = "approved", "chief engineer", self.ago(self.r.randrange(1, 20))
            w["reason"] = "invented"
            if self.chance(0.5):
                w["expires"] = self.today + datetime.timedelta(days=self.pick(0, 30, 200, 200, -1))
            if self.chance(0.5) or "expires" not in w and self.chance(0.9):
                w["before"] = self.r.choice(self.event_names()[-2:])
            if self.chance(0.15):
                self.harm_waiver(w)

    def make_departure_waivers(self):
        """What a use as is or a repair rests on: one waiver for each requirement and thing, most of the time."""
        count = 0
        for nc in self.kinds("nonconformance"):
            if nc.get("disposition") not in ("use-as-is", "repair") or "voids" in nc or self.chance(0.4):
                continue
            for req_id in nc.get("requirements", []):
                for target in canon.as_list(nc["against"]):
                    if self.chance(0.12):
                        continue
                    count += 1
                    w = self.add("waiver", f"W-{10 + count}", "Allowed.\n", "departures", requirement=req_id, mark=AUTO)
                    if target != "project":
                        w["serials" if "/" in target else "item"] = target
                    w["status"], w["approved_by"], w["approved"] = "approved", "chief engineer", self.ago(3)
                    w["before"] = self.event_names()[-1]
                    if self.chance(0.1):
                        self.harm_waiver(w)

    def accept(self, judge, row, name):
        """A relief limit at or about the result, or the records themselves."""
        if row.index == "children":
            return None
        records = [r for r in judge.records.values() if row.req["id"] in r["verifies"] and judge.is_signed(r)]
        if not records:
            return None
        criterion = canon.criteria(row.req)[name]
        if "count" in criterion and self.chance(0.7):
            return self.pick({"min": criterion["count"] - self.pick(0, 1, 1, 2)}, {"max": 9}, {"min": "1", "max": "9"})
        found = [judge.results(r, row.req).get(name) for r in records]
        found = [x for x in found if isinstance(x, str) and quantity.parse(x)]
        if self.chance(0.5) or not found or (row.req["id"], name) not in self.families:
            return [r["id"] for r in self.r.sample(records, self.r.randint(1, len(records)))]
        unit, _, _, _, u = FAMILIES[self.families[(row.req["id"], name)]]
        q = quantity.parse(self.r.choice(found))
        if q.dim != quantity.UNITS[unit][2]:
            return None
        y = (q.value - quantity.UNITS[unit][1]) / quantity.UNITS[unit][0]
        spread = (q.u or 0) / quantity.UNITS[unit][0]
        step = spread + self.pick(0, 0, Fraction(1, 100), Fraction(-1, 100), 1)
        low, high = f"{text(y - step)} {unit}".strip(), f"{text(y + step)} {unit}".strip()
        if self.chance(0.2):
            return self.pick({"min": low, "max": high}, {"max": high}, {"min": low}, {"min": "TBD"})
        return {"min": low} if "min" in criterion or "equals" in criterion else {"max": high}

    def harm_waiver(self, w):
        x = self.r.random()
        if x < 0.2:
            w["approved"] = self.today + datetime.timedelta(days=30)
        elif x < 0.4:
            w["status"] = "draft"
        elif x < 0.6:
            w["mark"] = OLD_MARK
        elif x < 0.8:
            w.pop("approved_by")
        else:
            w["status"], w["reason"] = "withdrawn", "no longer needed"


def canon_result(v, name):
    """The result of a criterion as it is written."""
    return v["result"] if "result" in v else v.get("results", {}).get(name)


def in_unit_exactly(value, unit):
    factor, offset, *_ = quantity.UNITS[unit]
    return (value - offset) / factor


def exact_text(x):
    """A decimal of the whole fraction; of one that has none, more digits than are compared."""
    x, digits = Fraction(x), 0
    if 10**30 % x.denominator:
        x = Fraction(f"{float(x):.13e}")
    while x.denominator != 1 and digits < 30:
        x, digits = x * 10, digits + 1
    whole = str(abs(x.numerator)).rjust(digits + 1, "0")
    cut = len(whole) - digits
    return ("-" if x < 0 else "") + whole[:cut] + ("." + whole[cut:] if digits else "")


def civil_day(d):
    return d.date() if isinstance(d, datetime.datetime) else d


def make(seed):
    """(project with AUTO values, today) for one seed."""
    maker = Maker(seed)
    return maker.project(), maker.today
