"""The rules of design section 5, stated by brute force.

A project is plain data, as its files hold it:
  {"config": slipmark.toml, "parameters": {...}, "instruments": {...},
   "things": [front matter + "_body" + "_path"], "attachments": {path: bytes}}
Nothing here is fast or clever; every rule carries its words from the design (paraphrased) beside it.
Where the design allows two readings, the one taken is marked READING.
"""

import datetime
import hashlib
import posixpath
import re

import canon
import chance
import quantity
from computed import Computed
from canon import as_list

# The order of the table: the first is the worst.
STATES = ["not met", "void", "slipped", "inconclusive", "unsigned", "no evidence", "waived", "closed"]
OPEN = STATES[:6]
# Which serial is the best for `one`, the worst first: a serial with some evidence is before one with none.
BEST_SERIAL = ["no evidence", *STATES[:5], "waived", "closed"]

CODES = {
    "not met": "failure-stands result-outside",
    "void": "option-dropped other-revision revision-not-stated serial-scrapped reworked-since contents-changed nonconformance-open "
    "nonconformance-voids attachment-missing attachment-altered seal-broken instrument-not-named "
    "instrument-not-calibrated instrument-recalled procedure-superseded result-missing conditions-not-shown out-of-order used-up "
    "lapsed recomputed rests-on-void",
    "slipped": "mark-missing mark-slipped children-changed",
    "inconclusive": "straddles-limit no-uncertainty bound-undecided on-the-limit too-few-trials",
    "unsigned": "only-unsigned newer-unsigned deviation-not-accepted action-open not-kept-when-signed safety-without-seal role-missing not-witnessed",
    "no evidence": "no-record limit-tbd requirement-draft no-option cannot-compute no-plan no-serial no-item no-child "
    "child-not-due no-sufficiency child-open children-cycle",
}
STATE_OF = {code: state for state, codes in CODES.items() for code in codes.split()}

METHODS = ("analysis", "test", "inspection", "demonstration")

# Gaps, no reasons of a row: a piece has, or may have, less life left than what is planned takes.
LIFE_GAPS = ("life-exceeded", "life-unknown")


def worst(states):
    """The worst of some states; closed when there are none to choose from is never asked for."""
    return min(states, key=STATES.index)


def day(d):
    """The civil day of a date or date-time, as written."""
    return d.date() if isinstance(d, datetime.datetime) else d


def has_hour(d):
    return isinstance(d, datetime.datetime)


def strictly_before(a, b):
    """Only an earlier day is before; on one day the hour decides where both have one on clocks that can be compared: both
    with an offset or neither. Instants that contradict the days leave it open, unless these are two or more apart."""
    if not (has_hour(a) and has_hour(b)) or bool(a.tzinfo) != bool(b.tzinfo):
        return day(a) < day(b)
    if not a.tzinfo:
        return a < b
    apart = (day(b) - day(a)).days
    return apart >= 2 or (apart >= 0 and a < b)


def earlier_day(a, b):
    """For what the same day counts as after, whatever the hours."""
    return day(a) < day(b) and strictly_before(a, b)


def person(name):
    """Names and roles compare without the white space around them, whatever the case."""
    return str(name).strip().lower()


def people(names):
    return {person(n) for n in as_list(names)} - {""}


def length_of_time(text):
    """`30 d`, `36 h`."""
    n, unit = re.fullmatch(r"(\d+) ([dh])", text).groups()
    return datetime.timedelta(**{{"d": "days", "h": "hours"}[unit]: int(n)})


def is_computed(result):
    return isinstance(result, dict) and ("calc" in result or "data" in result)


# Since when a record does not apply: since it was made, or since a day that nobody wrote down; else that day.
MADE, UNKNOWN = "made", "unknown"


class Reason:
    """One line of the table that holds for a criterion; `record` is the deciding or failing record where there is one, `since`
    the days since when it holds: of several things that one code stands for each has its own."""

    def __init__(self, code, record=None, state=None, since=(MADE,)):
        self.code, self.record, self.state, self.since = code, record, state or STATE_OF[code], set(since)


class Row:
    """One plan entry for one subject, before it is judged."""

    def __init__(self, req, index, entry, subject, how, item=None, event=None, serials=(), structural=()):
        self.req, self.index, self.entry, self.subject, self.how = req, index, entry, subject, how
        self.item, self.event, self.serials, self.structural = item, event, list(serials), list(structural)


class Judge:
    """What is worked out `once` of a project is so for every question about it."""

    def __init__(self, project, today):
        self.today = today
        self.known = {}
        self.parameters = project.get("parameters", {})
        self.instruments = project.get("instruments", {})
        self.attachments = project.get("attachments", {})
        conformity = project["config"].get("conformity", {})
        self.rule = conformity.get("rule", "guarded")
        if self.rule == "probability":
            self.rule = chance.share(conformity.get("probability", "0.95"))
        self.roles = project["config"].get("roles", [])
        self.events = [e if isinstance(e, dict) else {"name": e} for e in project["config"].get("events", [])]
        things = project["things"]

        def by_kind(*kinds):
            return {t["id"]: t for t in things if t["kind"] in kinds}

        self.requirements = by_kind("requirement")
        self.records = by_kind(*METHODS)
        self.held = by_kind("event")
        self.items, self.slots = by_kind("item"), by_kind("slot")
        self.procedures = by_kind("procedure")
        self.ncs, self.waivers = by_kind("nonconformance"), by_kind("waiver")
        self.computed = Computed(self)
        self.serials = {}  # "MOV/SN02" -> its table, in file order
        for item in self.items.values():
            for s in item.get("serials", []):
                s = {"number": s} if isinstance(s, str) else s
                self.serials[f"{item['id']}/{s['number']}"] = s

    # ---- the product tree ------------------------------------------------------------------------------------------

    def item_of(self, serial):
        return serial.split("/")[0]

    def item_status(self, item):
        """current; candidate for an option (an item that fills a slot), unless it says otherwise."""
        return item.get("status", "candidate" if "fills" in item else "current")

    def is_dropped(self, item_id):
        """Dropped itself, or in the assembly of something dropped; a slot passes its own assembly on."""
        seen, todo = set(), [item_id]
        while todo:
            i = todo.pop()
            if i in seen:
                continue
            seen.add(i)
            if i in self.items:
                item = self.items[i]
                if self.item_status(item) == "dropped":
                    return True
                todo += as_list(item.get("assembly")) + as_list(item.get("fills"))
            elif i in self.slots:
                todo += as_list(self.slots[i].get("assembly"))
        return False

    def placed(self, serial):
        """What was ever put into a serial; one of the plain list is there from the start, and still."""
        return [c if isinstance(c, dict) else {"serial": c} for c in as_list(self.serials.get(serial, {}).get("contains"))]

    def contents(self, serial, made=None, perhaps=False):
        """Every serial that this one contains, at any depth: now (what has no `to`), or when a record was `made`; with
        `perhaps` whatever may have been in it then."""
        found, todo = set(), [serial]
        while todo:
            for entry in self.placed(todo.pop()):
                c = entry["serial"]
                if c not in found and c != serial and self.is_inside(entry, made, perhaps):
                    found.add(c)
                    todo.append(c)
        return found

    def is_among(self, piece, named, on, perhaps=False):
        """A piece is one of those that are named, or was (perhaps) in one of them on that day."""
        return any(piece == s or piece in self.contents(s, on, perhaps) for s in named)

    def is_inside(self, entry, made, perhaps=False):
        """By days; a change on the day of the record counts as one after it. `perhaps`: at any time of that day."""
        if made is None:
            return perhaps or "to" not in entry
        if perhaps:
            later = "from" in entry and earlier_day(made, entry["from"])
            return not later and not ("to" in entry and earlier_day(entry["to"], made))
        came = "from" not in entry or earlier_day(entry["from"], made)
        return came and not ("to" in entry and earlier_day(entry["to"], made))

    def contents_changed(self, record, serial, named):
        """What is directly in the serial, or in what it contained then and contains now at any depth, differs from what was
        there when the record was made; leaving aside what every entry that makes the difference keeps. The days on which what
        differs came or went last."""
        made, steady, todo, since = record["date"], set(), [serial], set()
        while todo:
            outer = todo.pop()
            if outer in steady:
                continue
            steady.add(outer)
            then = {e["serial"] for e in self.placed(outer) if self.is_inside(e, made)}
            now = {e["serial"] for e in self.placed(outer) if self.is_inside(e, None)}
            for entry in self.placed(outer):
                if entry["serial"] in then ^ now and self.is_inside(entry, made) != self.is_inside(entry, None):
                    keeps = as_list(entry.get("keeps_evidence"))
                    if not (keeps == ["all"] or record["id"] in keeps or all(r in keeps for r in named)):
                        end = "from" if entry["serial"] in now else "to"
                        own = [e[end] for e in self.placed(outer) if e["serial"] == entry["serial"] and end in e]
                        since.add(max(map(day, own)) if own else UNKNOWN)
            todo += then & now
        return since

    def is_scrapped(self, serial):
        """Scrapped itself, or contained in a scrapped one."""
        gone = lambda s: self.serials.get(s, {}).get("status") == "scrapped"
        return gone(serial) or any(gone(s) and serial in self.contents(s) for s in self.serials)

    def is_gone(self, thing):
        """For a nonconformance: a serial scrapped, an item dropped. READING: a serial of a dropped item is gone too."""
        if thing in self.serials:
            return self.is_scrapped(thing) or self.is_dropped(self.item_of(thing))
        return thing in self.items and self.is_dropped(thing)

    # ---- marks, results ----------------------------------------------------------------------------------------------

    def mark(self, req):
        return self.once(("mark", req["id"]), lambda: canon.mark(req, self.parameters))

    def mark_reason(self, holder, req):
        """Mark missing, or neither it nor a re-affirmed one is the requirement's."""
        if not holder.get("mark"):
            return "mark-missing"
        marks = [holder["mark"]] + [r["mark"] for r in holder.get("reaffirmed", [])]
        return None if self.mark(req) in marks else "mark-slipped"

    def lines_up(self, v, req):
        """A mark of the requirement, first or re-affirmed: a result outside is then a failure."""
        return self.mark(req) in [v.get("mark")] + [r["mark"] for r in v.get("reaffirmed", [])]

    def results(self, record, req):
        """Results by criterion; `result` is that of the only criterion."""
        v = record["verifies"][req["id"]]
        found = dict(v.get("results", {}))
        if "result" in v and len(canon.criteria(req)) == 1:
            found[next(iter(canon.criteria(req)))] = v["result"]
        return found

    def left_out(self, record, req, name):
        """not_judged counts only when it gives a reason."""
        return bool(str(record["verifies"][req["id"]].get("not_judged", {}).get(name, "")).strip())

    def has_tbd(self, criterion):
        values = [criterion.get(k) for k in ("min", "max", "equals", "tolerance", "count")]
        return any(quantity.is_placeholder(v) for v in values + as_list(criterion.get("expect")))

    def has_unsettled(self, criterion):
        """A limit that is no placeholder and yet cannot be worked out (no such parameter)."""
        if self.has_tbd(criterion) or not any(k in criterion for k in ("min", "max", "equals")):
            return False
        lo, hi = canon.limits(criterion, self.parameters)
        return (lo is None and ("min" in criterion or "equals" in criterion)) or (hi is None and "max" in criterion)

    def conform(self, criterion, result):
        """One result against one criterion: (met | not met | inconclusive | cannot, code)."""
        if "expect" in criterion and not isinstance(result, dict):  # words need no uncertainty
            return ("met", None) if result in as_list(criterion["expect"]) else ("not met", None)
        if "reliability" in criterion:
            return chance.by_trials(result, chance.share(criterion["reliability"]), chance.share(criterion["confidence"]))
        if "covers" in criterion:
            return self.of_sample(criterion, result, *canon.limits(criterion, self.parameters))
        q = result if isinstance(result, quantity.Quantity) else quantity.parse(result) if not isinstance(result, dict) else None
        if q is None or "expect" in criterion:  # "pass" for a number: not readable
            return "cannot", "cannot-compute"
        if "count" in criterion:  # counts need no uncertainty
            if q.dim != quantity.NONE or q.bound:
                return "cannot", "cannot-compute"
            return ("met", None) if q.value >= criterion["count"] else ("not met", None)
        lo, hi = canon.limits(criterion, self.parameters)
        return quantity.conform(q, lo, hi, self.rule)

    def of_sample(self, criterion, result, lo, hi):
        """A sample against the limits of a criterion with `covers`."""
        if not isinstance(result, dict) or not ("sample" in result or "mean" in result):
            return "cannot", "cannot-compute"
        if "sample" in result:
            readings = [quantity.parse(x) for x in as_list(result["sample"])]
            if len(readings) < 2 or any(q is None or q.u is not None or q.bound for q in readings):
                return "cannot", "cannot-compute"
            if any(not quantity.same_kind(q, readings[0]) for q in readings):
                return "cannot", "cannot-compute"
            n = len(readings)
            mean = sum(q.value for q in readings) / n
            squared = sum((q.value - mean) ** 2 for q in readings) / (n - 1)
            like = readings[0]
        else:
            like, sd, n = quantity.parse(result["mean"]), quantity.parse(result["sd"]), result["n"]
            mean, squared = like.value, sd.value**2
        limits = [limit for limit in (lo, hi) if limit is not None]
        if any(not quantity.same_kind(like, limit) for limit in limits):
            return "cannot", "cannot-compute"
        room = min(([mean - lo.value] if lo is not None else []) + ([hi.value - mean] if hi is not None else []))
        covers, confidence = chance.share(criterion["covers"]), chance.share(criterion["confidence"])
        return chance.by_sample(room, squared, n, covers, confidence, two=len(limits) == 2)

    def judged(self, record, req, name):
        """The judgement of a record's result now: adds `missing`, and `unsettled` where there is no limit to hold the
        result against: that is said of the requirement, never of the record."""
        return self.once(("judged", record["id"], req["id"], name), lambda: self.judge_result(record, req, name))

    def judge_result(self, record, req, name):
        criterion = canon.criteria(req)[name]
        if name not in self.results(record, req):
            return "missing", "result-missing"
        result = self.results(record, req)[name]
        computed = is_computed(result)
        if computed:  # what it came to is held against what was written down, whatever the limit is
            result = self.computed.of(record, result)
            moved = result is not None and self.computed.kept(record, record["verifies"][req["id"]], name, result)
            if moved:
                return "moved", moved
        if self.has_tbd(criterion) or self.has_unsettled(criterion):
            return "unsettled", None
        if computed and (result is None or any(k in criterion for k in ("expect", "count", "reliability", "covers"))):
            return "cannot", "cannot-compute"
        return self.conform(criterion, result)

    def condition_shown(self, record, name, bounds):
        """A condition must be stated and lie inside: simply inside without an uncertainty, else met by the rule."""
        stated = record.get("conditions", {}).get(name)
        q = quantity.parse(stated) if stated is not None else None
        if q is None:
            return False
        lo, hi = canon.limits(bounds, self.parameters)
        rule = self.rule if q.u is not None else "simple"
        return quantity.conform(q, lo, hi, rule)[0] == "met"

    # ---- which records are evidence ---------------------------------------------------------------------------------

    def is_signed(self, record):
        """Signed and not withdrawn. Withdrawing takes a reason and, for a failing or unjudgeable record, a closed
        nonconformance that names it; else the record counts as signed."""
        if record.get("status") == "signed":
            return True
        if record.get("status") != "withdrawn":
            return False
        if not record.get("reason"):
            return True
        bad = [req_id for req_id in record["verifies"] if self.fails_or_cannot_be_judged(record, req_id)]
        return not all(self.excused(record, req_id, self.record_place(record)[1]) for req_id in bad)

    def fails_or_cannot_be_judged(self, record, req_id):
        v = record["verifies"][req_id]
        if "not met" in v.get("outcome", {}).values():
            return True
        req = self.requirements[req_id]
        for name in canon.criteria(req):
            verdict = self.judged(record, req, name)[0]
            if verdict == "not met" or (verdict != "met" and not self.left_out(record, req, name)):
                return True
        return False

    def excused(self, record, req_id, pieces):
        """Properly closed nonconformances name it in found_by: about the requirement (or about none by name), and for each
        of the pieces one that is not only against others of its item, or against what belongs to those."""

        def concerns(nc, piece):
            item, against = self.item_of(piece), as_list(nc["against"])
            ever = lambda outer: self.contents(outer, None, perhaps=True)
            around = lambda a: {s for outer in self.serials if a in ever(outer) for s in (outer, *ever(outer))}
            own = lambda a: {a} if self.item_of(a) == item else ever(a) | around(a)
            same = {s for a in against if "/" in a for s in own(a) if self.item_of(s) == item}
            return item in against or "project" in against or not same or piece in same

        closed = [
            nc
            for nc in self.ncs.values()
            if record["id"] in as_list(nc.get("found_by"))
            and ("requirements" not in nc or req_id in as_list(nc["requirements"]))
            and self.properly_closed(nc)
        ]
        return bool(closed) and all(any(concerns(nc, piece) for nc in closed) for piece in pieces)

    # ---- nonconformances ------------------------------------------------------------------------------------------------

    def voids_nothing(self, nc):
        return nc.get("voids") == "nothing" and bool(nc.get("reason"))

    def nc_counts(self, nc):
        """It counts unless everything it is against is scrapped or dropped."""
        return not all(self.is_gone(a) for a in as_list(nc["against"]))

    def properly_closed(self, nc, before=None):
        """Closed needs disposition, date and by whom; use-as-is and repair a waiver in force, today or before an event, or
        voids = nothing with a reason; scrap needs its serials scrapped, and of an item all."""
        if nc.get("status") != "closed" or not nc.get("disposition") or not nc.get("closed") or not nc.get("closed_by"):
            return False
        if day(nc["closed"]) > self.today:
            return False
        found = [nc["date"]] if "date" in nc else []
        found += [self.records[r]["date"] for r in as_list(nc.get("found_by")) if "date" in self.records.get(r, {})]
        if any(earlier_day(nc["closed"], date) for date in found):  # closed before it was there
            return False
        against = as_list(nc["against"])
        if nc["disposition"] in ("use-as-is", "repair"):
            return self.voids_nothing(nc) or self.waived_departure(nc, against, before)
        if nc["disposition"] == "scrap":
            of = lambda a: [a] if a in self.serials else [s for s in self.serials if self.item_of(s) == a]
            named = any(a in self.serials for a in against)
            return named and all(of(a) and all(map(self.is_scrapped, of(a))) for a in against)  # every "for all" needs at least one
        return True

    def waived_departure(self, nc, against, before):
        """A waiver in force for each requirement named and each thing it is against, whose scope covers that.
        READING: a nonconformance that names no requirement cannot be covered by waivers (all of none is not enough)."""
        named = as_list(nc.get("requirements"))
        return bool(named) and bool(against) and all(
            any(self.waiver_in_force(w, self.requirements[r], before) and self.waiver_reaches(w, a) for w in self.waivers.values())
            for r in named
            for a in against
        )

    def nc_names(self, nc, named):
        """Names one of these requirements, or none at all: then it is about all of them."""
        return "requirements" not in nc or any(r in named for r in as_list(nc["requirements"]))

    def nc_touches(self, nc, record, item, serials):
        """Against the record's serial, a serial contained in it now or when the record was made, or the item of either; against the item for a record on
        an item; against the project for a record on neither."""
        against = as_list(nc["against"])
        if serials:
            pieces = {c for s in serials for c in (s, *self.contents(s), *self.contents(s, record["date"]))}
            return any(c in against or self.item_of(c) in against for c in pieces)
        return item in against if item else "project" in against

    # ---- void: the record does not apply now ------------------------------------------------------------------------

    def record_place(self, record):
        """(item, serials) that the record as a whole is about."""
        return record.get("item"), as_list(record.get("serial"))

    def void_codes(self, record, named, item, serials, entry=None, chain=()):
        """Why a record does not apply now, apart from single criteria, each with since when. `named`: the requirements asked
        about; `item`, `serials`: the pieces asked about (serials win)."""
        codes = {}

        def say(code, since):
            if since:
                codes.setdefault(code, set()).update(since)

        pieces = [(self.item_of(s), s) for s in serials] or ([(item, None)] if item else [])
        for i, s in pieces:
            if self.is_dropped(i):
                say("option-dropped", {UNKNOWN})
            if s and self.is_scrapped(s):
                say("serial-scrapped", {UNKNOWN})
            if s:
                say("reworked-since", self.reworked_since(record, s, named))
                say("contents-changed", self.contents_changed(record, s, named))
            # an entry for each piece asks of what the piece is, any other of what the item is now
            own = s if entry is None or (entry.get("on") or self.default_on(entry)) == "each" or not self.items.get(i, {}).get("revision") else None
            at = [(i, own)]
            if s and isinstance(record.get("revision"), dict):  # and of what is in it, where the record says which it saw
                inside = [(self.item_of(x), x) for x in self.contents(s)]
                at += [(j, x) for j, x in inside if j in record["revision"] and j not in [k for k, _ in pieces]]
            for i, s in at:
                code = self.revision_code(record, i, s, named)
                if code:
                    say(code, {self.came_to_revision(i, s) or (MADE if code == "revision-not-stated" else UNKNOWN)})
        self.nc_codes(record, named, item, serials, say)
        self.attachment_codes(record, say)
        if "seal" in record and record["seal"] != canon.seal(record):
            say("seal-broken", {MADE})
        self.instrument_codes(record, entry, say)
        if self.superseded(record):
            say("procedure-superseded", {UNKNOWN})
        say("rests-on-void", self.rests_on_void(record, chain))
        return codes

    def reworked_since(self, record, serial, named):
        """Rework voids earlier evidence of that serial, and work on a serial acts on what contains it. Same day: after."""
        since = set()
        for s in [serial, *self.contents(serial)]:
            for work in self.serials.get(s, {}).get("reworked", []):
                about = "affects" not in work or any(r in named for r in as_list(work["affects"]))
                if about and not earlier_day(work["date"], record["date"]):
                    since.add(day(work["date"]))
        return since

    def came_to_revision(self, item_id, serial):
        """The listed day of the revision that the piece, or else the item, is at."""
        item = self.items.get(item_id, {})
        current = (self.serials.get(serial, {}).get("revision") if serial else None) or item.get("revision")
        return next((day(r["date"]) for r in item.get("revisions", []) if r["revision"] == current), None)

    def revision_code(self, record, item_id, serial, named):
        """A new revision voids what keeps_evidence does not name."""
        item = self.items.get(item_id, {})
        current = (self.serials.get(serial, {}).get("revision") if serial else None) or item.get("revision")
        if not current:
            return None
        stated = record.get("revision")
        if isinstance(stated, dict):
            stated = stated.get(item_id)
        if not stated:
            return "revision-not-stated"
        if stated == current:
            return None
        listed = item.get("revisions", [])
        names = [r["revision"] for r in listed]
        if current not in names:
            return "other-revision"
        if stated in names:
            start = names.index(stated) + 1
        elif earlier_day(record["date"], listed[0]["date"]):  # before all of them
            start = 0
        else:
            return "other-revision"
        end = names.index(current) + 1
        if end < start:  # the current one comes before the one tested
            return "other-revision"
        for later in listed[start:end]:
            keeps = as_list(later.get("keeps_evidence"))
            if not (later.get("keeps_evidence") == "all" or record["id"] in keeps or all(r in keeps for r in named)):
                return "other-revision"
        return None

    def nc_codes(self, record, named, item, serials, say):
        for nc in self.ncs.values():
            if not self.nc_names(nc, named) or not self.nc_touches(nc, record, item, serials):
                continue
            if not self.properly_closed(nc):
                if self.nc_counts(nc):
                    say("nonconformance-open", {day(nc["date"]) if "date" in nc else UNKNOWN})
            elif nc["disposition"] in ("rework", "repair") and not self.voids_nothing(nc):
                if not earlier_day(nc["closed"], record["date"]):  # earlier evidence, for good
                    say("nonconformance-voids", {day(nc["closed"])})

    def attachment_codes(self, record, say):
        for d in record.get("data", []):
            path = posixpath.normpath(posixpath.join(posixpath.dirname(record["_path"]), d["file"]))
            if path.startswith("..") or path not in self.attachments:
                say("attachment-missing", {UNKNOWN})
            elif d["sha256"].lower() not in {hashlib.sha256(one).hexdigest() for one in self.as_good(self.attachments[path])}:
                say("attachment-altered", {MADE})

    def as_good(self, content):
        """The content; of a text also that with LF, or with CRLF, at the end of every line, as git stores it or checks it out."""
        if b"\0" in content[:8000]:
            return [content]
        lines = content.replace(b"\r\n", b"\n")
        return [content, lines, lines.replace(b"\n", b"\r\n")]

    def instrument_codes(self, record, entry, say):
        used = as_list(record.get("instruments"))
        procedure = self.procedures.get((entry or {}).get("procedure") or record.get("procedure"), {})
        if any(i not in used for i in as_list(procedure.get("instruments"))):
            say("instrument-not-named", {MADE})
        if record["kind"] == "test" and not used and not record.get("no_instrument"):
            say("instrument-not-named", {MADE})
        # and what its own inputs and data were read with
        read = [x.get("instrument") for x in record.get("inputs", {}).values() if "from" not in x]
        read += [x.get("instrument") for v in record["verifies"].values() for x in [v.get("result"), *v.get("results", {}).values()] if isinstance(x, dict) and "data" in x]
        for i in {*used, *filter(None, read)}:
            done = [c for c in self.instruments.get(i, {}).get("calibrations", []) if day(c["on"]) <= day(record["date"])]
            newest = max((day(c["on"]) for c in done), default=None)
            if not done or any(day(c["due"]) < day(record["date"]) for c in done if day(c["on"]) == newest):
                say("instrument-not-calibrated", {MADE})
            say("instrument-recalled", self.recalled(record, i))

    def recalled(self, record, instrument):
        """A calibration that found it out of tolerance takes back what it measured since the calibration before that (all
        of it, where there was none), that day and the day of the finding included, unless that keeps the evidence."""
        done = self.instruments.get(instrument, {}).get("calibrations", [])
        made, since = day(record["date"]), set()
        for c in done:
            if c.get("as_found") != "out of tolerance":
                continue
            keeps = as_list(c.get("keeps_evidence")) if c.get("reason") else []
            if keeps == ["all"] or record["id"] in keeps:
                continue
            before = [day(other["on"]) for other in done if day(other["on"]) < day(c["on"])]
            if made <= day(c["on"]) and not (before and made < max(before)):
                since.add(day(c["on"]))
        return since

    def superseded(self, record):
        """A procedure revision whose earlier runs do not count (unless it says `count`, with a reason)."""
        procedure = self.procedures.get(record.get("procedure"), {})
        if not procedure.get("revision") or record.get("procedure_revision") == procedure["revision"]:
            return False
        return not (procedure.get("earlier_runs") == "count" and procedure.get("reason"))

    def rests_on_void(self, record, chain):
        """Rests on evidence that is itself void, withdrawn or missing; a circle counts as void. Since when: of what makes one
        piece of evidence void, the last."""
        chain, since = (*chain, record["id"]), set()
        for source in record.get("inputs", {}).values():
            if "from" not in source:
                continue
            base_id = source["from"].split(".")[0]
            base = self.records.get(base_id)
            if base is None or base_id in chain:
                since.add(UNKNOWN)
                continue
            if not self.is_signed(base):
                withdrawn = base.get("withdrawn") if base.get("status") == "withdrawn" else None
                since.add(day(withdrawn) if withdrawn else UNKNOWN)
                continue
            item, serials = self.record_place(base)
            codes = self.void_codes(base, list(base["verifies"]), item, serials, None, chain)
            own = {day(base["date"]) if at == MADE else at for days in codes.values() for at in days}
            if UNKNOWN in own or (not own and self.has_moved(base)):
                since.add(UNKNOWN)
            elif own:
                since.add(max(own))
        return since

    def has_moved(self, record):
        """Whether it computes what nobody has signed for."""
        for req_id, v in record["verifies"].items():
            for name in canon.criteria(self.requirements[req_id]):
                result = self.results(record, self.requirements[req_id]).get(name)
                now = self.computed.of(record, result) if is_computed(result) else None
                if now is not None and self.computed.kept(record, v, name, now):
                    return True
        return False

    def out_of_order(self, record, row, serials):
        """Each of `after` must have come first: a procedure's signed record, or an event that was held and completed, on the
        same serial. Of an event and a procedure with one name both are asked for."""
        names = {e["name"] for e in self.events}
        for name in as_list(row.entry.get("after")):
            if name in names and not self.was_held_first(name, record, serials):
                return True
            if name in names and name not in self.procedures:
                continue
            if not all(self.was_run_first(name, record, piece) for piece in serials or [None]):
                return True
        return False

    def was_run_first(self, procedure, record, piece):
        """On the piece; without one, on the same item, or on the project. A run that went well, and that no work on the piece
        undid until then."""
        return any(
            r.get("procedure") == procedure
            and self.is_signed(r)
            and strictly_before(r["date"], record["date"])
            and self.went_well(r)
            and not (piece and any(at <= day(record["date"]) for at in self.reworked_since(r, piece, list(r["verifies"]))))
            and (piece in as_list(r.get("serial")) if piece else not as_list(r.get("serial")) and r.get("item") == record.get("item"))
            for r in self.records.values()
        )

    def went_well(self, run):
        """It failed nothing, or all that is said of it is that it is used as it is; and its instruments were good."""
        ncs = [nc for nc in self.ncs.values() if run["id"] in as_list(nc.get("found_by"))]
        accepted = bool(ncs) and all(nc.get("disposition") == "use-as-is" and self.properly_closed(nc) for nc in ncs)
        failed = any(run is r for req in self.requirements.values() for r, _ in self.standing_failures(req))
        codes = {}
        self.instrument_codes(run, None, lambda code, since: codes.update({code: since} if since else {}))
        return (accepted or not failed) and not codes

    def was_held_first(self, name, record, serials):
        """Held, completed, and with every piece or with what that was in on the day; any will do where there is no piece."""
        return any(
            e["event"] == name
            and e["outcome"] == "completed"
            and strictly_before(e["date"], record["date"])
            and all(self.is_among(s, as_list(e.get("serials")), e["date"]) for s in serials)
            for e in self.held.values()
        )

    def used_up(self, record, row, serials):
        """Each of `again_after` makes it be shown again: evidence must be of after it, however it ended. One that names no
        piece is about all; so is any for evidence on no piece; in doubt what was changed on the day was there."""
        since = set()
        for e in self.held.values():
            if e["event"] not in as_list(row.entry.get("again_after")) or strictly_before(e["date"], record["date"]):
                continue
            named = as_list(e.get("serials"))
            if not named or not serials or any(self.is_among(s, named, e["date"], True) for s in serials):
                since.add(day(e["date"]))
        return since

    def horizon(self, row, asked):
        """The later of today and the date of the event asked about (else the row's own)."""
        date = self.events[row.event if asked is None else asked].get("date")
        return max(self.today, day(date)) if date else self.today

    def valid_until(self, record, row):
        """On the clock that it was made by."""
        made = record["date"] if has_hour(record["date"]) else datetime.datetime.combine(record["date"], datetime.time())
        return day(made + length_of_time(row.entry["valid_for"]))

    def lapsed(self, record, row, asked):
        return "valid_for" in row.entry and self.valid_until(record, row) < self.horizon(row, asked)

    # ---- people -------------------------------------------------------------------------------------------------------

    def role_missing(self, record, row):
        """Each rule that is about this plan entry names who must have done it, and of whom one must have been there."""
        return any(
            self.role_asks(role, record, row)
            and (
                "performed_by" in role and not people(record.get("performed_by")) & people(role["performed_by"])
                or "witnessed_by" in role and not people(record.get("witnessed_by")) & people(role["witnessed_by"])
            )
            for role in self.roles
        )

    def role_asks(self, role, record, row):
        """All that it says must be so of the entry; of its stage and procedure, where it has none, of the record. What is due
        before an event is due before a later one too."""
        return (
            ("method" not in role or role["method"] == row.entry["method"])
            and all(role[k] == (row.entry.get(k) or record.get(k)) for k in ("stage", "procedure") if k in role)
            and ("before" not in role or row.event <= self.event_index(role["before"]))
            and (not role.get("safety") or bool(row.req.get("safety")))
        )

    def not_witnessed(self, record, req):
        """For safety somebody did it and somebody else saw it; an analysis needs no witness, but its author is none."""
        if not req.get("safety"):
            return False
        performer, seen_by = people(record.get("performed_by")), people(record.get("witnessed_by"))
        if record["kind"] == "analysis":
            return bool(seen_by) and not seen_by - performer
        return not performer or not seen_by - performer

    # ---- limited life ---------------------------------------------------------------------------------------------------

    def life(self, piece):
        return self.items.get(self.item_of(piece), {}).get("life", {})

    def renewed(self, piece, name):
        """The days on which a part of the piece was renewed, so that this budget starts anew."""
        return [w["date"] for w in self.serials[piece].get("reworked", []) if name in as_list(w.get("resets"))]

    def amount(self, value):
        """The most that it may be: an uncertainty counts upward."""
        q = quantity.parse(value)
        return q.value + (q.u or 0)

    def used(self, piece, name):
        """[amount, or None where it is not known] since the piece was made, or since the newest renewal, that day included.
        Whatever became of the paper, the hardware saw it; what was put in or taken out on the day may have seen it too."""
        renewed = self.renewed(piece, name)
        found = [self.amount(v) for k, v in self.serials[piece].get("used", {}).items() if k == name and not renewed]
        for run in [*self.records.values(), *self.held.values()]:
            if any(earlier_day(run["date"], d) for d in renewed) or not self.takes_part(piece, run):
                continue
            if name in run.get("uses", {}):
                found.append(self.amount(run["uses"][name]))
            elif self.must_use(run, name):
                found.append(None)
        return found

    def takes_part(self, piece, run):
        """By the serials of the run; an event that names none may have been held with any piece."""
        on = as_list(run.get("serial")) + as_list(run.get("serials"))
        if run["kind"] == "event" and not on:
            return True
        return self.is_among(piece, on, run["date"], True)

    def must_use(self, run, name):
        """A run of a procedure that uses some must say how much; and so must every holding of an event that does not use none."""
        if run["kind"] != "event":
            return name in as_list(self.procedures.get(run.get("procedure"), {}).get("uses"))
        stated = self.event(run["event"]).get("uses", {}).get(name)
        return stated is None or self.amount(stated) != 0

    def event(self, name):
        return self.events[self.event_index(name)]

    def pieces_of(self, event):
        """The pieces that an event names, else all that are in service; and what is in them now."""
        outer = as_list(event.get("serials")) or [
            s
            for s, table in self.serials.items()
            if table.get("use", "service") == "service" and not self.is_scrapped(s) and not self.is_dropped(self.item_of(s))
        ]
        return {piece for s in outer for piece in (s, *self.contents(s))}

    def is_done(self, event, piece):
        """Held with the piece and completed: what was aborted will be held again."""
        return any(
            e["event"] == event["name"] and e["outcome"] == "completed" and self.is_among(piece, as_list(e.get("serials")), e["date"])
            for e in self.held.values()
        )

    def planned(self, piece, name, index):
        """[amount, or None] of holding an event with the piece, done or not: the question is about holding it; and of those
        before it that are to be held with the piece first."""
        ahead = [e for e in self.events[:index] if piece in self.pieces_of(e) and not self.is_done(e, piece)]
        uses = [e.get("uses", {}).get(name) for e in [*ahead, self.events[index]]]
        return [None if u is None else self.amount(u) for u in uses]

    def life_gap(self, piece, name, index):
        """Of a piece of an event. What is known to be more than the limit is that, whatever else is not known."""
        budget = self.life(piece)[name]
        if budget.get("counted", "use") == "age":
            started = max(map(day, self.renewed(piece, name)), default=self.serials[piece].get("built"))
            if started is None:
                return "life-unknown"
            date = self.events[index].get("date")
            now = max(self.today, day(date)) if date else self.today
            return "life-exceeded" if day(started) + length_of_time(budget["limit"]) < now else None
        takes = self.used(piece, name) + self.planned(piece, name, index)
        if sum(t for t in takes if t is not None) > quantity.parse(budget["limit"]).value:
            return "life-exceeded"
        return "life-unknown" if None in takes else None

    def life_gaps(self, asked):
        """[(code, piece, budget)] of the event asked about, and of those before it that are not done with the piece: one for
        each piece and budget, the worst."""
        found = set()
        for index, event in enumerate(self.events[: asked + 1]):
            for piece in self.pieces_of(event):
                if index == asked or not self.is_done(event, piece):
                    found |= {(self.life_gap(piece, name, index), piece, name) for name in self.life(piece)}
        found = {gap for gap in found if gap[0]}
        return sorted(gap for gap in found if gap[0] == "life-exceeded" or ("life-exceeded", *gap[1:]) not in found)

    # ---- failures live -----------------------------------------------------------------------------------------------

    def standing_failures(self, req):
        """[(record, failed criteria)]: signed results not met now with the mark lined up, or not met when signed.
        Whether closed nonconformances account for one is asked of each of its pieces."""
        return self.once(("standing failures", req["id"]), lambda: self.find_failures(req))

    def find_failures(self, req):
        found = []
        for record in self.records.values():
            if req["id"] not in record["verifies"] or not self.is_signed(record):
                continue
            v = record["verifies"][req["id"]]
            failed = {c for c, o in v.get("outcome", {}).items() if o == "not met"}
            # signed by hand: nothing shows what it came to then, and what is asked now tells
            if self.lines_up(v, req) or not record.get("seal"):
                # whether it is left out or not: a result that was written down is a result
                failed |= {c for c in canon.criteria(req) if self.judged(record, req, c)[0] == "not met"}
            if failed:
                found.append((record, failed))
        return found

    def failure_asked_by(self, entry, req, record, failed):
        """A development failure only counts in entries of that stage or none; an entry that leaves the criterion out is
        not touched; a criterion that is no more counts for all."""
        if record.get("stage") == "development" and entry.get("stage") not in (None, "development"):
            return set()
        names = set(canon.criteria(req))
        hit = names if any(c not in names for c in failed) else failed
        return hit & set(self.entry_criteria(entry, req))

    def failures_of_row(self, row, name, serial=None):
        """Failing records that stand against criterion `name` in this row (of `one`: for one serial, when given)."""
        found = []
        for record, failed in self.standing_failures(row.req):
            if name not in self.failure_asked_by(row.entry, row.req, record, failed):
                continue
            item, serials = self.record_place(record)
            if serial:
                hit = serial in serials
            elif row.how in ("one", "design"):
                hit = item == row.item or any(self.item_of(s) == row.item for s in serials)
            elif row.how == "project":
                hit = not item and not serials
            else:
                hit = False
            here = [s for s in serials if (s == serial if serial else row.how == "project" or self.item_of(s) == row.item)]
            if hit and not self.excused(record, row.req["id"], here):
                found.append(record)
        return found

    # ---- rows --------------------------------------------------------------------------------------------------------

    def event_index(self, name):
        return [e["name"] for e in self.events].index(name) if name else 0

    def entry_criteria(self, entry, req):
        return as_list(entry.get("criteria")) or list(canon.criteria(req))

    def targets(self, req):
        """[(item or None, subject, structural code or None)] of applies_to."""
        applies = req.get("applies_to")
        if applies is None:
            return [(None, "project", None)]
        if isinstance(applies, dict):  # a tag: every current item. READING: what is in a dropped assembly is not current
            tagged = [
                i["id"]
                for i in self.items.values()
                if applies["tag"] in as_list(i.get("tags"))
                and self.item_status(i) == "current"
                and not self.is_dropped(i["id"])
            ]
            return [(i, i, None) for i in tagged] or [(None, "project", "no-item")]
        found = []
        for name in as_list(applies):
            if name in self.slots:  # slots are judged on the current option
                options = [
                    i["id"] for i in self.items.values() if i.get("fills") == name and self.item_status(i) == "current"
                ]
                found += [(i, i, None) for i in options] or [(None, name, "no-option")]
            else:
                found.append((name, name, None))
        return list(dict.fromkeys(found))

    def scope(self, req, entry, event, item, how):
        """Serials in scope: those that the event names; else by use. Spare and scrapped never. For `each`, a serial on
        which a failure stands always. For `one` of a stage before acceptance, those kept for qualification whatever the event uses."""
        own = [s for s in self.serials if self.item_of(s) == item]
        usable = [s for s in own if self.serials[s].get("use") != "spare" and self.serials[s].get("status") != "scrapped"]
        named = as_list(self.events[event].get("serials"))
        if any(s in named for s in own):
            chosen = [s for s in usable if s in named]
        else:
            uses = ["service"] if entry.get("stage") in (None, "acceptance") else ["service", "qualification"]
            chosen = [s for s in usable if self.serials[s].get("use", "service") in uses]
        if how == "one" and entry.get("stage") in ("qualification", "development"):
            chosen += [s for s in usable if self.serials[s].get("use") == "qualification" and s not in chosen]
        if how == "each":
            for record, failed in self.standing_failures(req):
                if self.failure_asked_by(entry, req, record, failed):
                    standing = [s for s in own if not self.excused(record, req["id"], [s])]
                    chosen += [s for s in standing if s in as_list(record.get("serial")) and s not in chosen]
        return [s for s in own if s in chosen]  # file order

    def default_on(self, entry):
        if entry["method"] == "analysis":
            return "design"
        return "one" if entry.get("stage") in ("qualification", "development") else "each"

    def rows_of(self, req):
        """Every row of one requirement, not yet judged."""
        if req.get("status", "active") == "withdrawn":
            return []
        draft = ["requirement-draft"] if req.get("status") == "draft" else []
        rows = []
        if req.get("verified_by") == "children" or not req.get("verify"):
            index = "children" if req.get("verified_by") == "children" else None
            event = self.event_index(req.get("before"))
            for item, subject, code in self.targets(req):
                why = draft + ([code] if code else []) + ([] if index else ["no-plan"])
                rows.append(Row(req, index, {}, subject, index or "none", item, event, (), why))
            return rows
        for index, entry in enumerate(req["verify"]):
            event = self.event_index(entry.get("before") or req.get("before"))
            for item, subject, code in self.targets(req):
                on = entry.get("on") or self.default_on(entry)
                how = on if item else "project"
                if code:  # no current option, no item for the tag: a row all the same, never "all of none"
                    rows.append(Row(req, index, entry, subject, "none", None, event, (), draft + [code]))
                    continue
                serials = self.scope(req, entry, event, item, how) if how in ("each", "one") else []
                if how == "each":
                    for s in serials:
                        rows.append(Row(req, index, entry, s, "each", item, event, [s], draft))
                    if not serials:
                        rows.append(Row(req, index, entry, item, "none", item, event, (), draft + ["no-serial"]))
                elif how == "one":
                    why = draft + ([] if serials else ["no-serial"])
                    rows.append(Row(req, index, entry, item, "one", item, event, serials, why))
                else:
                    rows.append(Row(req, index, entry, subject, how, item, event, (), draft))
        return rows

    def all_rows(self):
        return [row for req in self.requirements.values() for row in self.rows_of(req)]

    # ---- one criterion of one row --------------------------------------------------------------------------------------

    def matching(self, row, serial):
        """Records of the row's method, procedure, stage and subject that name the requirement."""
        found = []
        for r in self.records.values():
            if row.req["id"] not in r["verifies"] or r["kind"] != row.entry["method"]:
                continue
            if row.entry.get("procedure") not in (None, r.get("procedure")):
                continue
            if row.entry.get("stage") not in (None, r.get("stage")):
                continue
            item, serials = self.record_place(r)
            if row.how in ("each", "one"):
                fits = serial in serials
            elif row.how == "design":
                on_piece = r["kind"] != "analysis" and any(self.item_of(s) == row.item for s in serials)
                fits = item == row.item or on_piece
            else:
                fits = not item and not serials
            if fits:
                found.append(r)
        return found

    def pieces(self, record, row, serial):
        """The serials of the record that this row is about. READING: for `design`, all those of the item."""
        if serial:
            return [serial]
        return [s for s in as_list(record.get("serial")) if self.item_of(s) == row.item]

    def deciding_reasons(self, record, row, name, serial, asked):
        """Every line of the table that holds for a deciding record."""
        req, criterion = row.req, canon.criteria(row.req)[name]
        verdict, code = self.judged(record, req, name)
        slipped = self.mark_reason(record["verifies"][req["id"]], req)
        serials = self.pieces(record, row, serial)
        void = self.void_codes(record, [req["id"]], row.item, serials, row.entry)
        again = self.used_up(record, row, serials)
        if again:
            void["used-up"] = again
        codes = set()
        if verdict == "not met" and self.lines_up(record["verifies"][req["id"]], req):
            codes.add("result-outside")
        if record["verifies"][req["id"]].get("outcome", {}).get(name) == "not met":
            codes.add("result-outside")  # it did not meet its criterion when it was signed, whatever is judged now
        if code:
            codes.add(code)
        if slipped:
            codes.add(slipped)
        if any(not self.condition_shown(record, n, b) for n, b in criterion.get("at", {}).items()):
            codes.add("conditions-not-shown")
        if self.out_of_order(record, row, serials):
            codes.add("out-of-order")
        if self.lapsed(record, row, asked):
            codes.add("lapsed")
        if self.role_missing(record, row):
            codes.add("role-missing")
        if self.not_witnessed(record, req):
            codes.add("not-witnessed")
        if any(not d.get("accepted_by") for d in record.get("deviations", [])):
            codes.add("deviation-not-accepted")
        if any(not a.get("closed") or day(a["closed"]) > self.today for a in record.get("actions", [])):
            codes.add("action-open")
        if req.get("safety") and "seal" not in record:
            codes.add("safety-without-seal")
        return [Reason(c, record) for c in codes - void.keys()] + [Reason(c, record, None, since) for c, since in void.items()]

    def requirement_reasons(self, row, name):
        """What holds whatever the records say."""
        reasons = [Reason(c) for c in row.structural]
        if self.has_tbd(canon.criteria(row.req)[name]):
            reasons.append(Reason("limit-tbd"))
        if self.has_unsettled(canon.criteria(row.req)[name]):
            reasons.append(Reason("cannot-compute"))
        return reasons

    def deciding(self, row, name, serial):
        """The newest signed record; of several of the same date, or where the hour is not known, all: the worst decides."""
        signed = [r for r in self.matching(row, serial) if self.is_signed(r) and not self.left_out(r, row.req, name)]
        return [r for r in signed if not any(strictly_before(r["date"], other["date"]) for other in signed)]

    def criterion_reasons(self, row, name, serial, asked):
        """Every reason for one criterion of a row whose subject is a serial, an item or the project."""
        reasons = self.requirement_reasons(row, name)
        reasons += [Reason("failure-stands", r) for r in self.failures_of_row(row, name, serial)]
        drafts = [
            r
            for r in self.matching(row, serial)
            if r.get("status", "draft") == "draft" and name in self.results(r, row.req)
        ]
        deciding = self.deciding(row, name, serial)
        for r in deciding:
            reasons += self.deciding_reasons(r, row, name, serial, asked)
        if not deciding:
            reasons.append(Reason("only-unsigned" if drafts else "no-record"))
        elif any(not any(strictly_before(d["date"], r["date"]) for r in deciding) for d in drafts):
            # READING: of the same date counts as newer; a draft that something deciding is strictly after cannot be the newest
            reasons.append(Reason("newer-unsigned"))
        return reasons

    # ---- waivers -----------------------------------------------------------------------------------------------------

    def is_approved(self, w):
        """An approval that is still to come is none, for whatever it is asked."""
        approved = w.get("approved")
        return w.get("status") == "approved" and bool(w.get("approved_by")) and bool(approved) and day(approved) <= self.today

    def waiver_reaches(self, w, subject):
        """A serial, an item or the project in the waiver's scope; one for an item reaches its serials."""
        serials, item = as_list(w.get("serials")), w.get("item")
        if subject == "project":
            return not serials and not item
        return subject in serials or (item is not None and item in (subject, self.item_of(subject)))

    def waiver_valid(self, w, row, asked):
        """Approved, with an end, in date on the later of today and the event's date, its mark the requirement's, not past
        its event."""
        return self.waiver_in_force(w, row.req, row.event if asked is None else asked)

    def waiver_in_force(self, w, req, event):
        """The same of a requirement, before an event; or today, whichever event it is for."""
        date = None if event is None else self.events[event].get("date")
        horizon = max(self.today, day(date)) if date else self.today
        return (
            w["requirement"] == req["id"]
            and self.is_approved(w)
            and w.get("mark") == self.mark(req)
            and ("expires" in w or "before" in w)
            and ("expires" not in w or day(w["expires"]) >= horizon)
            and ("before" not in w or event is None or self.event_index(w["before"]) >= event)
        )

    def relieved(self, w, req, name, record):
        """The record is listed, or its result meets the relief under the project's rule: a relief limit stands in for the
        one on its side, on the other the criterion's own still holds."""
        accepts = w.get("accepts", {}).get(name)
        if record is None or accepts is None:
            return False
        if not isinstance(accepts, dict):
            return record["id"] in as_list(accepts)
        result = self.results(record, req).get(name)
        criterion = canon.criteria(req)[name]
        if "reliability" in criterion:
            return False
        if is_computed(result):
            q = self.computed.of(record, result)
            if q is None or any(k in criterion for k in ("count", "covers")) or self.computed.kept(record, record["verifies"][req["id"]], name, q):
                return False
        else:
            q = quantity.parse(result) if not isinstance(result, dict) else None
        if q is None and "covers" not in criterion:
            return False
        if "expect" in criterion or not ("min" in accepts or "max" in accepts):
            return False
        if "count" in criterion:
            own = {"min": quantity.parse(str(criterion["count"])), "max": None}
        else:
            own = dict(zip(("min", "max"), canon.limits(criterion, self.parameters)))
        relief = dict(zip(("min", "max"), canon.limits(accepts, self.parameters)))
        bounds = {}
        for side in ("min", "max"):
            bounds[side] = relief[side] if side in accepts else own[side]
            if bounds[side] is None and (side in accepts or side in criterion or "equals" in criterion):
                return False  # not settled
        if "covers" in criterion:
            return self.of_sample(criterion, result, bounds["min"], bounds["max"])[0] == "met"
        rule = "simple" if "count" in criterion else self.rule
        return quantity.conform(q, bounds["min"], bounds["max"], rule)[0] == "met"

    def piece_in_scope(self, w, row, record):
        """A row that asks for one piece, and a failure that stands on its item: within the waiver only if every piece of the
        item that failed is, or the item itself."""
        item, serials = self.record_place(record)
        failed = [s for s in serials if self.item_of(s) == row.item] + ([item] if item == row.item else [])
        return all(self.waiver_reaches(w, x) for x in failed)

    def covers(self, w, row, name, reasons, of_one):
        """Every reason must be covered: not met, void and inconclusive by the relief; the rest by without_evidence. What was
        changed after it was signed is not what was accepted."""
        req = row.req
        for reason in reasons:
            if reason.code in ("seal-broken", "attachment-altered", "recomputed"):
                return False
            if of_one and reason.code == "failure-stands" and not self.piece_in_scope(w, row, reason.record):
                return False
            if reason.state in ("not met", "void", "inconclusive"):
                if not self.relieved(w, req, name, reason.record) or not self.was_known(w, name, reason):
                    return False
            elif not w.get("without_evidence"):
                return False
        return True

    def was_known(self, w, name, reason):
        """What makes a record void was so when the waiver was approved: on that day at the latest. What has no day, and what the
        record brought with it, is known to whoever names the record."""
        if reason.state != "void":
            return True
        is_named, approved = not isinstance(w["accepts"][name], dict), day(w["approved"])
        made = day(reason.record["date"])
        known = {MADE: is_named or made <= approved, UNKNOWN: is_named}
        return all(known[at] if at in known else at <= approved for at in reason.since)

    def judge_criterion(self, row, name, reasons, scope, asked, of_one=False):
        """State of one criterion: the first of its reasons in the table's order, or waived, or closed. `of_one`: of a row
        that asks for one piece, with what stands against the item."""
        state = worst([r.state for r in reasons] or ["closed"])
        waivers = []
        if reasons:
            waivers = [
                w["id"]
                for w in self.waivers.values()
                if self.waiver_valid(w, row, asked)
                and any(self.waiver_reaches(w, s) for s in scope)
                and self.covers(w, row, name, reasons, of_one)
            ]
        return {
            "name": name,
            "state": "waived" if waivers else state,
            "covers": state if waivers else None,
            "waivers": sorted(waivers),
            "reasons": sorted({r.code for r in reasons}),
        }

    # ---- whole rows --------------------------------------------------------------------------------------------------

    def judge(self, row, asked=None):
        """A row with its state. `asked`: index of the event asked about; None: the row's own."""
        if row.index == "children":
            return self.assemble(row, [self.judge_criterion(row, "children", self.child_reasons(row, asked), [row.subject], asked)])
        names = self.entry_criteria(row.entry, row.req)
        if row.how == "none":
            reasons = {n: self.requirement_reasons(row, n) for n in names}
            return self.assemble(row, [self.judge_criterion(row, n, reasons[n], [row.subject], asked) for n in names])
        if row.how == "one":
            return self.judge_one(row, names, asked)
        serial = row.serials[0] if row.how == "each" else None
        return self.assemble(
            row,
            [
                self.judge_criterion(row, n, self.criterion_reasons(row, n, serial, asked), [row.subject], asked)
                for n in names
            ],
        )

    def best_piece(self, row, names, asked):
        """All criteria on one and the same serial: the best one; of equals the first in file order, for qualification and
        development one that is kept for qualification. None without any."""
        ranked, serials = {}, list(row.serials)
        if row.entry.get("stage") in ("qualification", "development"):
            serials.sort(key=lambda s: self.serials[s].get("use") != "qualification")
        for s in serials:
            judged = [self.judge_criterion(row, n, self.criterion_reasons(row, n, s, asked), [s], asked) for n in names]
            ranked[s] = BEST_SERIAL.index(self.assemble(row, judged)["state"])
        return max(serials, key=ranked.get, default=None)

    def judge_one(self, row, names, asked):
        """The best serial's state; then what stands against the item is added."""
        best, judged = self.best_piece(row, names, asked), []
        for n in names:
            reasons = self.criterion_reasons(row, n, best, asked) if best else self.requirement_reasons(row, n)
            added = [Reason("failure-stands", r) for r in self.failures_of_row(row, n)]
            judged.append(self.judge_criterion(row, n, reasons + added, [best or row.item], asked, True))
        return self.assemble(row, judged)

    def assemble(self, row, criteria):
        """The row has the worst state of its criteria."""
        state = worst([c["state"] for c in criteria])
        waived = state == "waived"
        return {
            "requirement": row.req["id"],
            "entry": row.index,
            "subject": row.subject,
            "event": row.event,
            "state": state,
            "covers": worst([c["covers"] for c in criteria if c["covers"]]) if waived else None,
            "waivers": sorted({w for c in criteria for w in c["waivers"]}) if waived else [],
            "reasons": sorted({code for c in criteria for code in c["reasons"]}),
            "criteria": criteria,
        }

    # ---- children ----------------------------------------------------------------------------------------------------

    def children(self, req):
        """Active requirements whose parents name it."""
        return [
            r
            for r in self.requirements.values()
            if r.get("status", "active") == "active" and req["id"] in as_list(r.get("parents"))
        ]

    def below(self, req):
        """Every requirement reached by going down through requirements that children close."""
        found, todo = {}, [req]
        while todo:
            r = todo.pop()
            if r.get("verified_by") != "children":
                continue
            for child in self.children(r):
                if child["id"] not in found:
                    found[child["id"]] = child
                    todo.append(child)
        return found

    def sufficiency_reasons(self, row):
        """Children close a parent only with a sufficiency statement whose mark is the parent's and whose list is its
        active children today."""
        req = row.req
        reasons = [Reason(c) for c in row.structural]
        children = self.children(req)
        statement = req.get("by_children")
        if not statement:
            reasons.append(Reason("no-sufficiency"))
        else:
            code = self.mark_reason(statement, req)
            if code:
                reasons.append(Reason(code))
            if set(as_list(statement.get("list"))) != {c["id"] for c in children}:
                reasons.append(Reason("children-changed"))
        if not children:
            reasons.append(Reason("no-child"))
        if self.in_circle(req):
            reasons.append(Reason("children-cycle"))
        return reasons

    def in_circle(self, req):
        return req["id"] in self.below(req)

    def touched_by_circle(self):
        """Requirements in a parent cycle, and all whose children include one: which of them names the circle and which
        takes it over is left open; only that the row is open is fixed."""
        return {
            r["id"] for r in self.requirements.values() if any(self.in_circle(x) for x in [r, *self.below(r).values()])
        }

    def child_reasons(self, row, asked):
        """The parent has the worst state of its sufficiency and of its children's rows due."""
        reasons = self.sufficiency_reasons(row)
        due = row.event if asked is None else asked
        for child in self.children(row.req):
            states = self.child_states(child, due, asked)
            if not states:
                reasons.append(Reason("child-not-due"))
            elif worst(states) in OPEN:
                reasons.append(Reason("child-open", None, worst(states)))
        return reasons

    def child_states(self, child, due, asked):
        """States of a child's rows due. In a circle the worst state of everything in and below it is everyone's."""
        rows = [r for r in self.rows_of(child) if r.event <= due]
        if not rows or not self.in_circle(child):
            return [self.judge(r, asked)["state"] for r in rows]
        states = []
        for r in self.below(child).values():
            for x in self.rows_of(r):
                if x.event <= due and self.in_circle(r):
                    states += [reason.state for reason in self.sufficiency_reasons(x)]
                elif x.event <= due:
                    states.append(self.judge(x, asked)["state"])
        return states

    # ---- what will not hold for ever ---------------------------------------------------------------------------------

    def lapsing(self, row, judged, asked):
        """{(requirement, subject, record, until)}: the days to which rows hold that are asked about an event without a date.
        What has lapsed already is a reason of its row."""
        names = self.entry_criteria(row.entry, row.req)
        if "date" in self.events[asked] or "valid_for" not in row.entry or judged["state"] in OPEN or row.how == "none":
            return set()
        serial = {"each": lambda: row.serials[0], "one": lambda: self.best_piece(row, names, asked)}.get(row.how, lambda: None)()
        records = [r for n in names for r in self.deciding(row, n, serial) if not self.lapsed(r, row, asked)]
        return {(row.req["id"], row.subject, r["id"], str(self.valid_until(r, row))) for r in records}

    def once(self, key, work):
        if key not in self.known:
            self.known[key] = work()
        return self.known[key]

    # ---- answers -----------------------------------------------------------------------------------------------------

    def matrix(self):
        return [self.judge(row) for row in self.all_rows()]

    def before(self, event_name):
        """Every row due before the event or an earlier one, every open nonconformance due, and every piece without life left."""
        asked = self.event_index(event_name)
        due = [row for row in self.all_rows() if row.event <= asked]
        rows = [self.judge(row, asked) for row in due]
        lapsing = set().union(*(self.lapsing(row, judged, asked) for row, judged in zip(due, rows)))
        ncs = sorted(
            nc["id"]
            for nc in self.ncs.values()
            if self.event_index(nc.get("before")) <= asked and self.nc_counts(nc) and not self.properly_closed(nc, asked)
        )
        gaps = self.life_gaps(asked)
        open_total = sum(r["state"] in OPEN for r in rows) + len(ncs) + len(gaps)
        verdict = "nothing-planned" if not rows else "open" if open_total else "nothing-open"
        return {"verdict": verdict, "open_total": open_total, "rows": rows, "nonconformances": ncs, "life": gaps, "lapsing": lapsing}


def evaluate(project, today, event=None):
    """The answer for `matrix` (event None) or for `before EVENT`."""
    judge = Judge(project, today)
    return judge.matrix() if event is None else judge.before(event)
