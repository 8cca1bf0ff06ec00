"""Ways to change a random project: for the worse, for less, and in nothing.

Each takes a random source, the finished project and today, and returns what it did, or None if there is nothing to do it to. A word of
what it did that is the id of a thing or a piece says whose it is.
"""

import copy
import datetime
import os
import re

import canon
import files
import generate
from canon import as_list
from generate import civil_day
from rules import METHODS, Judge
from run import event_names


def things(project, *kinds):
    return [t for t in project["things"] if t["kind"] in kinds]


def pieces(project):
    """(item, table, name) of every serial; short lists are written out."""
    found = []
    for item in things(project, "item"):
        item["serials"] = [{"number": s} if isinstance(s, str) else s for s in item.get("serials", [])]
        if not item["serials"]:
            del item["serials"]
        found += [(item, s, f"{item['id']}/{s['number']}") for s in item.get("serials", [])]
    return found


def signed(project):
    return [t for t in things(project, *METHODS) if t.get("status") == "signed"]


def some_day(r, project, today):
    """On, before or after the day of a record, or today."""
    days = [civil_day(t["date"]) for t in things(project, *METHODS)] + [today]
    return min(today, r.choice(days) + datetime.timedelta(days=r.choice([-2, -1, 0, 0, 1, 2, 30])))


def nonconformance(r, project, today):
    against = [name for *_, name in pieces(project)] + [t["id"] for t in things(project, "item")] + ["project"]
    day = some_day(r, project, today)
    nc = {"kind": "nonconformance", "id": "NC-99", "title": "Found", "date": day, "_body": "Found.\n", "_path": "departures/nc-99.md"}
    nc["against"] = r.sample(against, min(len(against), r.choice([1, 1, 2])))
    if r.random() < 0.6:
        nc["requirements"] = [r.choice(things(project, "requirement"))["id"]]
    if r.random() < 0.5:
        records = things(project, *METHODS)
        if records:
            nc["found_by"] = [r.choice(records)["id"]]
        nc["status"] = r.choice(["open", "dispositioned"])
    else:
        nc["status"], nc["closed_by"], nc["closed"] = "closed", "lead", today
    if nc["status"] != "open":
        nc["disposition"] = r.choice(["use-as-is", "rework", "repair", "scrap", "return"])
    if r.random() < 0.3:
        nc["before"] = r.choice(event_names(project))
    project["things"].append(nc)
    return f"add NC-99, {nc['status']}, against {nc['against']}"


def rework(r, project, today):
    found = pieces(project)
    if not found:
        return None
    _, s, name = r.choice(found)
    work = {"date": some_day(r, project, today), "reason": "seat lapped"}
    if r.random() < 0.4:
        work["affects"] = [r.choice(things(project, "requirement"))["id"]]
    s["reworked"] = [*s.get("reworked", []), work]
    return f"rework {name} on {work['date']}, affects {work.get('affects')}"


def revision(r, project, today):
    items = things(project, "item")
    item = r.choice(items)
    listed = item.get("revisions", [])
    new = {"revision": "N", "date": some_day(r, project, today), "reason": "invented"}
    if listed and listed[-1]["revision"] == item.get("revision") and r.random() < 0.5:
        new["keeps_evidence"] = r.choice(["all", [r.choice(things(project, "requirement"))["id"]]])
        new["date"] = max(new["date"], listed[-1]["date"])
    item["revision"], item["revisions"] = "N", [*listed, new]
    return f"{item['id']} goes to revision N"


def failure(r, project, today):
    """A run of a requirement that is not met on any of its criteria."""
    runs = [(t, i) for t in signed(project) for i in t["verifies"]]
    reqs = {t["id"]: t for t in things(project, "requirement")}
    runs = [(t, i) for t, i in runs if reqs[i].get("verified_by") != "children"]
    if not runs:
        return None
    base, req_id = r.choice(runs)
    reliefs = [w for w in things(project, "waiver") if w["requirement"] == req_id]
    if any(isinstance(one, dict) for w in reliefs for one in w.get("accepts", {}).values()):
        return None
    new = copy.deepcopy(base)
    new["id"], new["_path"], new["seal"] = "TR-99", "records/tr-99.md", files.AUTO
    new.pop("_signed", None)
    v = new["verifies"] = {req_id: new["verifies"][req_id]}
    v[req_id].pop("not_judged", None)
    v[req_id]["outcome"] = {name: "not met" for name in canon.criteria(reqs[req_id])}
    if r.random() < 0.7:
        new["date"] = some_day(r, project, today)
    named = {p for req in reqs.values() for e in req.get("verify", []) for p in as_list(e.get("after"))}
    if new.get("procedure") in named or r.random() < 0.2:
        new.pop("procedure", None)
        new.pop("procedure_revision", None)
    if r.random() < 0.3:
        new["stage"] = r.choice(["development", "qualification", "acceptance"])
    if r.random() < 0.3:
        new["kind"] = r.choice(METHODS)
    project["things"].append(new)
    return f"add the failing {new['kind']} TR-99, {req_id}, like {base['id']}"


def tighter(r, project, _today, anew=False):
    reqs = things(project, "requirement")
    criteria = []
    for req in reqs:
        tables = req["criteria"].values() if "criteria" in req else [req]
        criteria += [(req, c) for c in tables if any(k in c for k in ("min", "max", "count", "equals", "expect"))]
    if not criteria:
        return None
    req, c = r.choice(criteria)
    was = {k: c[k] for k in ("min", "max", "count", "equals", "expect") if k in c}
    if "count" in c:
        c["count"] += r.choice([1, 5])
    elif "expect" in c:
        c["expect"] = "never seen" if isinstance(c["expect"], str) else c["expect"][: len(c["expect"]) - 1] or "never seen"
    elif "equals" in c:
        c["tolerance"] = times(c["tolerance"], r.choice(["0.5", "0.99"]))
    else:
        side = r.choice([k for k in ("min", "max") if k in c])
        factor = {"min": ["1.001", "1.1", "3"], "max": ["0.999", "0.9", "0.3"]}[side]
        c[side] = times(c[side], r.choice(factor))
    now = {k: c[k] for k in (*was, "tolerance") if k in c}
    if now == was or any(v is None for v in now.values()):
        return None
    if anew:
        rewrite_marks(project, req)
    return f"{req['id']}: {was} becomes {now}{', judged anew' if anew else ''}"


def calibrations(project):
    return [(name, c) for name, one in project["instruments"].items() for c in one["calibrations"]]


def recall(r, project, today):
    """One that is there finds it out of tolerance, or a new one, which is due on its own day so that it makes no record good."""
    found = [(name, c) for name, c in calibrations(project) if c.get("as_found") != "out of tolerance" or "keeps_evidence" in c]
    if found and r.random() < 0.3:
        name, c = r.choice(found)
        c.pop("keeps_evidence", None)
    else:
        name = r.choice(list(project["instruments"]))
        day = some_day(r, project, today)
        c = {"on": day, "due": day}
        project["instruments"][name]["calibrations"].append(c)
    c["as_found"] = "out of tolerance"
    return f"{name} is found out of tolerance on {c['on']}"


def held(r, project, today):
    """Aborted, so that it satisfies no `after`. On pieces only where it is stated how much it uses, and then as much as is planned."""
    events = event_tables(project)
    budgets = {n for t in things(project, "item") for n, b in t.get("life", {}).items() if b.get("counted") != "age"}
    asked = [name for req in things(project, "requirement") for e in req.get("verify", []) for name in as_list(e.get("again_after"))]
    event = r.choice([e["name"] for e in events] + 3 * asked or [None])
    if event is None:
        return None
    new = {"kind": "event", "id": "HE-99", "title": "Held", "event": event, "date": some_day(r, project, today), "outcome": "aborted",
           "_body": "Broken off.\n", "_path": "campaign/he-99.md"}  # fmt: skip
    uses = next((e.get("uses", {}) for e in events if e["name"] == event), {})
    if budgets <= set(uses):
        serials = [name for *_, name in pieces(project)]
        new["serials"] = r.sample(serials, min(len(serials), r.choice([1, 1, 2])))
        new["uses"] = {n: uses[n] for n in budgets & inside_budgets(project, new)}
    elif budgets:
        return None  # held without saying how much: that it is not known any more is no worse than that it was not stated
    project["things"].append({k: v for k, v in new.items() if v not in ([], {})})
    return f"hold {event}, aborted, on {new['date']} with {new['serials'] if 'serials' in new else 'no piece named'}"


def inside_budgets(project, run):
    judge = Judge(project, run["date"])
    return {n for s in run["serials"] for p in (s, *judge.contents(s, run["date"], True)) for n in judge.life(p)}


def amounts(project):
    """(table, name, whose) of every use that is stated."""
    found = [(t["uses"], n, t["id"]) for t in things(project, *METHODS, "event") for n in t.get("uses", {})]
    found += [(s["used"], n, name) for _, s, name in pieces(project) for n in s.get("used", {})]
    return found + [(e["uses"], n, e["name"]) for e in event_tables(project) for n in e.get("uses", {})]


def more_use(r, project, _today):
    found = amounts(project)
    if not found:
        return None
    table, name, whose = r.choice(found)
    was, table[name] = table[name], scaled(table[name], lambda n: n + 5)
    seal_again(project, whose)
    return f"{whose} uses {table[name]} of {name} instead of {was}"


def scaled(amount, change):
    """An amount with another number."""
    if not isinstance(amount, str):
        return change(amount)
    return re.sub(r"\d+", lambda m: str(change(int(m[0]))), amount, count=1)


def seal_again(project, id):
    for t in project["things"]:
        if t["id"] == id and "seal" in t and t["_lines_up"]:
            t["seal"] = files.AUTO


def budget_tables(project):
    return [(t, n) for t in things(project, "item") for n in t.get("life", {})]


def lower_budget(r, project, _today):
    found = budget_tables(project)
    if not found:
        return None
    item, name = r.choice(found)
    budget = item["life"][name]
    was, budget["limit"] = budget["limit"], scaled(budget["limit"], lambda n: n * 2 // 3)
    return f"{item['id']} has {budget['limit']} of {name} instead of {was}"


def stricter_roles(r, project, _today):
    """Another rule, or a name less in a list of one that is there."""
    roles = project["config"].setdefault("roles", [])
    longer = [(role, k) for role in roles for k in ("performed_by", "witnessed_by") if len(as_list(role.get(k))) > 1]
    if longer and r.random() < 0.5:
        role, key = r.choice(longer)
        role[key].remove(r.choice(role[key]))
        return f"a rule asks for {key} {role[key]}"
    filters = {"method": r.choice(METHODS), "stage": "acceptance", "before": r.choice(event_names(project)), "safety": True}
    role = {k: filters[k] for k in r.sample(list(filters), r.choice([0, 0, 1, 2]))}
    role[r.choice(["performed_by", "witnessed_by"])] = r.choice(["pad chief", ["chief engineer"], ["test conductor"]])
    roles.append(role)
    return f"a new rule: {role}"


def unrecall(r, project, _today):
    """A finding taken back, softened, or gone with its calibration."""
    found = [(name, c) for name, c in calibrations(project) if c.get("as_found") == "out of tolerance"]
    if not found:
        return None
    name, c = r.choice(found)
    how = r.choice(["in tolerance", "not stated", "keeps all", "gone"])
    if how == "gone":
        project["instruments"][name]["calibrations"].remove(c)
    elif how == "keeps all":
        c.update(keeps_evidence="all", reason="the error was upward")
    elif how == "not stated":
        del c["as_found"]
    else:
        c["as_found"] = how
    return f"{name} : the finding of {c['on']}: {how}"


def more_life(r, project, today):
    """A budget raised or lost, or a renewal that nobody had written down."""
    found = budget_tables(project)
    if not found:
        return None
    item, name = r.choice(found)
    reworked = [(w, s) for i, s, _ in pieces(project) if i is item for w in s.get("reworked", []) if name not in as_list(w.get("resets"))]
    if reworked and r.random() < 0.5:
        work, s = r.choice(reworked)
        work["resets"] = [*as_list(work.get("resets")), name]
        return f"{item['id']} : {s['number']} is renewed for {name} on {work['date']}"
    if r.random() < 0.6:
        item["life"][name]["limit"] = scaled(item["life"][name]["limit"], lambda n: n * 9)
        return f"{item['id']} : more {name}"
    using = [t.get("uses", []) for t in [*things(project, *METHODS, "event", "procedure"), *event_tables(project)]]
    if any(name in uses for uses in using + [s.get("used", {}) for _, s, _ in pieces(project)]):
        return None  # the name would be unknown there
    del item["life"][name]
    return f"{item['id']} : no limit of {name}"


def event_tables(project):
    return [e for e in project["config"]["events"] if isinstance(e, dict)]


def less_use(r, project, _today):
    """A use lowered: planned, of before, or of a held event, which is not sealed; or a procedure that does not ask for it."""
    found = [x for x in amounts(project) if not x[2].startswith("TR-")]
    asked = [p for p in things(project, "procedure") if "uses" in p]
    if asked and r.random() < 0.3 or not found:
        if not asked:
            return None
        procedure = r.choice(asked)
        gone = procedure["uses"].pop()
        return f"{procedure['id']} does not use {gone}"
    table, name, whose = r.choice(found)
    was, table[name] = table[name], scaled(table[name], lambda n: 0)
    return f"{whose} uses none of {name} instead of {was}"


def less_order(r, project, _today):
    entries = [(req, e) for req in things(project, "requirement") for e in req.get("verify", [])]
    found = [(req, e, k) for req, e in entries for k in ("after", "again_after") if k in e]
    if not found:
        return None
    req, entry, key = r.choice(found)
    names = as_list(entry.pop(key))
    names.remove(r.choice(names))
    if names:
        entry[key] = names
    return f"{req['id']} has {key} {names}"


def weaker_roles(r, project, _today):
    roles = project["config"].get("roles", [])
    if not roles:
        return None
    role = r.choice(roles)
    if r.random() < 0.5:
        roles.remove(role)
        return f"no longer {role}"
    key = r.choice([k for k in ("performed_by", "witnessed_by") if k in role])
    role[key] = [*as_list(role[key]), "test conductor", "pad chief", "guest"]
    return f"a rule takes {key} {role[key]}"


def times(limit, factor):
    """A limit times a number; None where that makes no limit, or not a tighter one."""
    words = str(limit).split(" ", 1)
    try:
        value = float(words[0]) * float(factor)
    except ValueError:  # a parameter or a placeholder
        return f"{factor} * {limit}" if str(limit) in ("meop", "gap") else None
    if float(words[0]) <= 0 or (len(words) > 1 and words[1] == "degC"):
        return None
    return " ".join([generate.text(f"{value:.6f}"), *words[1:]])


def tighter_judged_anew(r, project, today):
    return tighter(r, project, today, anew=True)


def rewrite_marks(project, req):
    """All that lined up with the requirement lines up again, sealed as it is now."""
    for t in project["things"]:
        for table in ([t["verifies"][req["id"]]] if req["id"] in t.get("verifies", {}) else []) + (
            [t] if t["kind"] == "waiver" and t["requirement"] == req["id"] else []
        ):
            if table.get("mark") == req["_mark"]:
                table["mark"] = files.AUTO
                if "seal" in t and t["_lines_up"]:
                    t["seal"] = files.AUTO


def delete(r, project, _today):
    records = [t for t in things(project, *METHODS) if t.get("status") in ("signed", "withdrawn")] + things(project, "event")
    if not records:
        return None
    record = r.choice(records)
    project["things"].remove(record)
    return f"delete {record['id']}"


def discard(r, project, _today):
    """A draft that was never signed."""
    drafts = [t for t in things(project, *METHODS) if t.get("status", "draft") == "draft"]
    if not drafts:
        return None
    draft = r.choice(drafts)
    project["things"].remove(draft)
    return f"discard {draft['id']}"


def unsign(r, project, _today):
    records = signed(project)
    if not records:
        return None
    record = r.choice(records)
    record["status"] = "draft"
    if r.random() < 0.7:
        record.pop("seal", None)
    for v in record["verifies"].values():
        if r.random() < 0.5:
            v.pop("outcome", None)
    return f"{record['id']} is no longer signed"


def withdraw(r, project, today):
    records = signed(project)
    if not records:
        return None
    record = r.choice(records)
    record.update(status="withdrawn", withdrawn=today, withdrawn_by="lead")
    if r.random() < 0.9:
        record["reason"] = "the wrong sheet"
    return f"withdraw {record['id']}"


def spare(r, project, _today):
    found = [(s, name) for _, s, name in pieces(project) if s.get("use") != "spare"]
    if not found:
        return None
    s, name = r.choice(found)
    s["use"] = "spare"
    return f"{name} becomes spare"


def scrap(r, project, _today):
    by_scrap = [nc for nc in things(project, "nonconformance") if nc.get("disposition") == "scrap" and nc.get("status") == "closed"]
    spoken_for = {name for nc in by_scrap for name in as_list(nc["against"])}
    found = [(s, name) for _, s, name in pieces(project) if s.get("status") != "scrapped" and name not in spoken_for]
    if not found:
        return None
    s, name = r.choice(found)
    s["status"] = "scrapped"
    return f"{name} is scrapped"


def move(r, project, _today):
    """Every file elsewhere, an attachment with its record."""
    moved = {}
    for n, t in enumerate(project["things"]):
        folder = "/".join(r.choice(["a", "b", "C", "z"]) for _ in range(r.randrange(4)))
        old, name = os.path.dirname(t["_path"]), f"{r.randrange(10**6)}-{n}.md"
        t["_path"] = os.path.normpath(os.path.join(folder, name))
        for d in t.get("data", []):
            path = os.path.normpath(os.path.join(old, d["file"]))
            if path in project["attachments"]:
                moved[os.path.normpath(os.path.join(folder, d["file"]))] = project["attachments"][path]
            elif ".." in d["file"]:
                return None  # whether it is outside depends on the place
    project["attachments"] = moved
    return "move every file"


ADDED = (nonconformance, rework, revision, failure, tighter, tighter_judged_anew, recall, held, more_use, lower_budget, stricter_roles)
TAKEN = (delete, unsign, withdraw)
LESS = (unrecall, more_life, less_use, less_order, weaker_roles)
HARDWARE = (spare, scrap)
CHANGES = (*ADDED, *TAKEN, *LESS, *HARDWARE, discard, move)
