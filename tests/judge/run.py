"""Compares the program with the judge on random projects, row by row.

  python3 tests/judge/run.py --slipmark target/debug/slipmark --count 5000 --seed 1 [--whole] [--keep DIR]

Exit 0: every answer agreed, and every state and reason code was met often enough for that to mean something.
"""

import argparse
import collections
import copy
import json
import multiprocessing
import os
import re
import shutil
import subprocess
import sys
import tempfile

import files
import generate
import rules
from canon import as_list

ENOUGH = 20  # times each state, reason code and gap must occur in 5000 projects
CODES = [*rules.STATE_OF, *rules.LIFE_GAPS]
# Keys without which a file is not one; the shrinker leaves them.
NEEDED = {"kind", "id", "title", "name", "date", "method", "requirement", "against", "number", "verifies", "file",
          "sha256", "text", "value", "revision", "on", "due", "events", "from", "event", "outcome", "limit", "calc", "column", "reduce", "between", "r"}  # fmt: skip


def ask(program, folder, *args):
    """(exit code, JSON or None, what it said instead)."""
    done = subprocess.run([program, *args, "--format", "json"], cwd=folder, capture_output=True, timeout=60, check=False)
    try:
        return done.returncode, json.loads(done.stdout), ""
    except ValueError:
        return done.returncode, None, (done.stdout[-500:] + done.stderr[-1500:]).decode(errors="replace")


def key(row):
    return (row["requirement"], row["entry"], row["subject"])


def compare_rows(mine, theirs, where, circle):
    """Disagreements between judged rows and the program's: (signature, sentence). `circle`: requirements in a parent
    cycle or above one, of whose rows only this is compared: that they are not closed."""
    found = []
    mine_by, theirs_by = collections.defaultdict(list), collections.defaultdict(list)
    for r in mine:
        mine_by[key(r)].append(r)
    for r in theirs:
        theirs_by[key(r)].append(r)
    for k in sorted(set(mine_by) | set(theirs_by), key=str):
        if len(mine_by[k]) != len(theirs_by[k]):
            found.append((("rows", len(mine_by[k]), len(theirs_by[k])),
                          f"{where} {k}: judge has {len(mine_by[k])} rows, program {len(theirs_by[k])}"))  # fmt: skip
            continue
        for a, b in zip(mine_by[k], theirs_by[k]):
            compare = compare_open if k[0] in circle else compare_row
            found += [(sig, f"{where} {k}: {said}") for sig, said in compare(a, b)]
    return found


def compare_open(a, b):
    """For rows in a circle: which of them names it and which takes it over from its child, and so what a waiver covers, is
    left to the program. The circle itself is a fault of the project."""
    if "closed" not in (a["state"], b["state"]):
        return []
    return [(("circle", a["state"], b["state"]), f"in a circle, never closed: judge {a['state']!r}, program {b['state']!r}")]


def compare_row(a, b):
    found = []
    if a["state"] != b["state"]:
        found.append((("state", a["state"], b["state"]), f"state: judge {a['state']!r}, program {b['state']!r}"))
    mine, theirs = set(a["reasons"]), {r["code"] for r in b["reasons"]}
    if mine != theirs:
        only_a, only_b = sorted(mine - theirs), sorted(theirs - mine)
        found.append((("reasons", tuple(only_a), tuple(only_b)), f"reasons: judge alone {only_a}, program alone {only_b}"))
    if a["covers"] != b["covers"]:
        found.append((("covers", a["covers"], b["covers"]), f"covers: judge {a['covers']!r}, program {b['covers']!r}"))
    if a["waivers"] and b["waiver"] not in a["waivers"] or not a["waivers"] and a["state"] == b["state"] and b["waiver"]:
        found.append((("waiver",), f"waiver: judge one of {a['waivers']}, program {b['waiver']!r}"))
    mine_c = sorted((c["name"], c["state"]) for c in a["criteria"])
    theirs_c = sorted((c["name"], c["state"]) for c in b["criteria"])
    if mine_c != theirs_c:
        found.append((("criteria",), f"criteria: judge {mine_c}, program {theirs_c}"))
    return found


def life_gaps(gaps):
    """[(code, piece, budget)] as the program's gaps name them: each first in its message."""
    budgets = rf"\b({'|'.join(generate.BUDGETS)})\b"
    gaps = [(g["code"], g["message"]) for g in gaps if g["code"] in rules.LIFE_GAPS]
    return sorted((code, re.search(r"[\w.-]+/[\w.-]+", said)[0], re.search(budgets, said)[1]) for code, said in gaps)


def compare_before(mine, code, theirs, circle):
    """The verdict, the counts, the nonconformances, limited life, what will lapse; and the rows that `before` lists."""
    found = []

    def differs(what, a, b):
        if a != b:
            found.append((("before", what), f"before: {what}: judge {a!r}, program {b!r}"))

    counts = collections.Counter(r["state"] for r in mine["rows"])
    counted = {s: n for s, n in theirs["counts"].items() if n}
    if any(r["requirement"] in circle for r in mine["rows"]):  # of those only how many are closed is fixed
        differs("counts", counts.get("closed", 0), counted.get("closed", 0))
    else:
        differs("counts", dict(counts), counted)
    differs("limited life", mine["life"], life_gaps(theirs["gaps"]))
    lapsing = {(x["requirement"], x["subject"], x["record"], x["until"]) for x in theirs["lapsing"]}
    differs("lapsing, of those that none names", [], sorted(lapsing - mine["lapsing"]))  # of several of one date, one is enough
    differs("lapsing", sorted({x[:2] for x in mine["lapsing"]}), sorted({x[:2] for x in lapsing}))
    differs("nonconformances", mine["nonconformances"], sorted(theirs["nonconformances"]))
    verdict = mine["verdict"]
    if verdict == "nothing-open" and (theirs["faults"] or theirs["gaps"]):
        verdict = "open"  # the judge knows no faults, and no gaps but those of limited life
    differs("verdict", verdict, theirs["verdict"])
    differs("exit code", 0 if theirs["verdict"] == "nothing-open" else 1, code)
    if not circle and theirs["open_total"] < mine["open_total"] or (theirs["open_total"] == 0) != (verdict == "nothing-open"):
        if verdict != "nothing-planned":
            differs("open_total (at least)", mine["open_total"], theirs["open_total"])
    listed = {key(r) for r in theirs["rows"]}
    must = {key(r) for r in mine["rows"] if r["state"] != "closed"}
    differs("rows not listed", [], sorted(must - listed, key=str))
    return found + compare_rows([r for r in mine["rows"] if key(r) in listed], theirs["rows"], "before", circle)


def check(program, folder, raw, today):
    """(judge's matrix, its gaps, disagreements, codes of the faults that the program found) for one project, asked about
    every row's own event and then about each event."""
    project = files.finish(raw)
    files.write(project, folder)
    judge = rules.Judge(project, today)
    mine, circle = judge.matrix(), judge.touched_by_circle()
    found, gaps, faults = [], set(), set()
    code, theirs, said = ask(program, folder, "matrix", "--today", str(today))
    if theirs is None or "rows" not in theirs:
        found.append((("matrix", "no answer"), f"matrix: exit {code}, no JSON: {said}"))
    else:
        found += compare_rows(mine, theirs["rows"], "matrix", circle)
    for event in event_names(raw):
        judged = judge.before(event)
        gaps |= set(judged["life"])
        code, theirs, said = ask(program, folder, "before", event, "--today", str(today))
        if theirs is None or "rows" not in theirs:
            found.append((("before", "no answer"), f"before {event}: exit {code}, no JSON: {said}"))
        else:
            found += [(sig, f"{said} (before {event})") for sig, said in compare_before(judged, code, theirs, circle)]
            faults |= {f.get("code") for f in theirs["faults"]}
    return mine, gaps, found, faults


# ---- shrinking -------------------------------------------------------------------------------------------------------


def removals(value, path=()):
    """Paths of everything that could be left out, largest first."""
    paths = []
    if isinstance(value, dict):
        inside = [(k, v) for k, v in value.items() if not str(k).startswith("_")]
        paths += [(*path, k) for k, _ in inside if k not in NEEDED]
    elif isinstance(value, list):
        inside = list(enumerate(value))
        paths += [(*path, i) for i, _ in reversed(inside)]
    else:
        return []
    for k, v in inside:
        paths += removals(v, (*path, k))
    return sorted(paths, key=len)


def without(raw, path):
    small = copy.deepcopy(raw)
    place = small
    for k in path[:-1]:
        place = place[k]
    del place[path[-1]]
    return small


def shrink(program, folder, raw, today, signature):
    """Leave out files, keys and list members while the same disagreement remains."""
    *_, allowed = check(program, folder, raw, today)  # leaving out must not break the files anew
    parts = ("things", "config", "instruments", "parameters", "attachments")
    again = True
    while again:
        again = False
        for path in removals({k: raw[k] for k in parts}):
            if len(path) < 2:
                continue
            try:
                small = without(raw, path)
                *_, found, faults = check(program, folder, small, today)
            except (KeyError, IndexError, TypeError, ValueError, AttributeError):
                continue  # no longer a project, for the judge
            if faults <= allowed and signature in [s for s, _ in found]:
                raw, again = small, True
    return raw


# ---- running -----------------------------------------------------------------------------------------------------------


def event_names(raw):
    return [e if isinstance(e, str) else e["name"] for e in as_list(raw["config"]["events"])]


def work(job):
    """One worker's share: [(seed, rows, states, codes, disagreements)]."""
    program, seeds = job
    folder = tempfile.mkdtemp(prefix="judge-")
    subprocess.run(["git", "init", "-q", folder], check=True)
    out = []
    try:
        for seed in seeds:
            raw, today = generate.make(seed)
            mine, gaps, found, _ = check(program, folder, raw, today)
            states = collections.Counter(r["state"] for r in mine)
            codes = collections.Counter([c for r in mine for c in r["reasons"]] + [code for code, *_ in gaps])
            out.append((seed, len(mine), states, codes, found))
    finally:
        shutil.rmtree(folder)
    return out


def show(raw, today, found):
    for _, said in found:
        print("  " + said)
    print(f"  today {today}")
    for path, data in sorted(files.texts(files.finish(raw)).items()):
        print(f"  ---- {path}")
        print("".join(f"  | {line}\n" for line in data.decode().rstrip().split("\n")), end="")


def report(args, seed, found):
    """One disagreement in full: what differs, and the files."""
    raw, today = generate.make(seed)
    print(f"seed {seed}:")
    if not args.whole:
        folder = tempfile.mkdtemp(prefix="judge-")
        subprocess.run(["git", "init", "-q", folder], check=True)
        raw = shrink(args.slipmark, folder, raw, today, found[0][0])
        *_, found, _ = check(args.slipmark, folder, raw, today)
        shutil.rmtree(folder)
    show(raw, today, found)
    if args.keep:
        kept = os.path.join(args.keep, f"seed-{seed}")
        os.makedirs(kept, exist_ok=True)
        files.write(files.finish(raw), kept)
        print(f"  kept in {kept}")


def table(title, counted, names):
    print(f"{title}:")
    for name in names:
        print(f"  {counted[name]:>8}  {name}")


def rare(states, codes, count):
    """States and codes that occurred too seldom, in proportion to the number of projects."""
    need = ENOUGH * count / 5000
    return [n for n in rules.STATES if states[n] < need] + [c for c in CODES if codes[c] < need]


def main():
    parser = argparse.ArgumentParser(description="compare the program with the judge on random projects")
    parser.add_argument("--slipmark", required=True, help="path of the program")
    parser.add_argument("--count", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=1, help="first seed")
    parser.add_argument("--whole", action="store_true", help="print disagreeing projects as they are, not as small as they will go")
    parser.add_argument("--keep", metavar="DIR", help="write the printed projects here")
    parser.add_argument("--show", type=int, default=3, help="how many disagreeing projects to print")
    parser.add_argument("--workers", type=int, default=(os.cpu_count() or 2) + 1)
    args = parser.parse_args()
    args.slipmark = os.path.abspath(args.slipmark)
    seeds = range(args.seed, args.seed + args.count)
    size = 50
    jobs = [(args.slipmark, seeds[i : i + size]) for i in range(0, len(seeds), size)]
    rows, states, codes, kinds, bad = 0, collections.Counter(), collections.Counter(), collections.Counter(), []
    with multiprocessing.Pool(args.workers) as pool:
        for part in pool.imap(work, jobs):
            for seed, n, s, c, found in part:
                rows += n
                states += s
                codes += c
                if found:
                    bad.append((seed, found))
                    kinds.update({sig for sig, _ in found})
    printed = set()
    for seed, found in bad:  # first of each kind, so that one cause does not hide another
        if len(printed) < args.show and found[0][0] not in printed:
            printed.add(found[0][0])
            report(args, seed, found)
    for sig, n in kinds.most_common(25):
        print(f"{n:>8} projects disagree on {sig}")
    table("states", states, rules.STATES)
    table("reason codes, and gaps of limited life", codes, CODES)
    print("rarest: " + ", ".join(f"{name} {codes[name]}" for name in sorted(CODES, key=lambda name: codes[name])[:5]))
    seldom = rare(states, codes, args.count)
    if seldom:
        print("met too seldom for this run to mean anything: " + ", ".join(seldom))
    print(f"{args.count} projects, {rows} rows, {sum(len(f) for _, f in bad)} disagreements")
    return 1 if bad or seldom else 0


if __name__ == "__main__":
    sys.exit(main())
