"""Harms a closed project in thousands of ways and looks for an answer that says "nothing open" all the same.

  python3 tests/mutation/run.py --slipmark target/release/slipmark [--count 3000] [--control 200] [--seed 1] [--only N]

Rule: exit 0 is right only if every row of the unharmed answer is still there, closed on the same criteria, results and limits and
judged against the same words, or the answer itself says that less is asked and names the requirement, the thing or the record. A crash, an exit code that is none of the
program's, and an exit code that its own JSON contradicts are failures too. Of what no row shows, the answer must say that less is asked. Control: edits that change nothing must stay at 0.
"""

import argparse
import collections
import json
import multiprocessing
import os
import random
import subprocess
import sys

import fixture  # first: it finds the judge's folder
import canon
import control
import mutations
from sandbox import Sandbox


def ask(program, folder, *args):
    """(exit code, JSON or None, what went to the error stream)."""
    command = [program, *args, "--today", fixture.TODAY, "--format", "json"]
    environment = {**fixture.GIT_ENV, "PATH": os.environ["PATH"], "HOME": folder}
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, timeout=60, check=False)
    try:
        return done.returncode, json.loads(done.stdout), done.stderr.decode(errors="replace")
    except ValueError:
        return done.returncode, None, done.stderr.decode(errors="replace")


def shown(row, statement):
    """What a closed row says, as far as a mutation must not change it unseen."""
    criteria = sorted((c["name"], c["state"], plain(c["limit"]), plain(c["result"])) for c in row["criteria"])
    return row["state"], row["covers"], row["waiver"], canon.statement(statement), criteria


def plain(text):
    """A limit or a result without what says nothing: which white space, and whether a bound is below or at most."""
    return text and canon.fold(text).replace("≤ ", "< ").replace("≥ ", "> ")


def key(row):
    return row["requirement"], str(row["entry"]), row["subject"]


def rows(answer, matrix):
    """The rows of an answer: key -> (what it says, the records that decide, its event). Only the matrix has the statements."""
    said = {key(row): row["statement"] for row in matrix["rows"]}
    records = lambda row: {c["record"] for c in row["criteria"] if c["record"]}
    return {key(row): (shown(row, said[key(row)]), records(row), row["before"]) for row in answer["rows"]}


def first_rows(program, box):
    """The rows of the unharmed project."""
    _, answer, _ = ask(program, box.root, "before", fixture.EVENT)
    _, matrix, _ = ask(program, box.root, "matrix")
    return rows(answer, matrix)


def judge(program, folder, start, must_open, must_say):
    """(outcome, explanation) of the program's answer about a harmed project."""
    try:
        code, answer, said = ask(program, folder, "before", fixture.EVENT)
    except subprocess.TimeoutExpired:
        return "crash", "no answer within a minute"
    if code not in (0, 1, 2) or "panicked" in said:
        return "crash", f"exit {code}: {said[-800:]}"
    if answer is None:
        return ("no answer", "") if code == 2 else ("crash", f"exit {code} without JSON: {said[-800:]}")
    if (code == 0) != (answer["verdict"] == "nothing-open") or (code == 0 and answer["open_total"]):
        return "crash", f"exit {code}, verdict {answer['verdict']}, {answer['open_total']} open"
    if code:
        return "open", ""
    if must_open:
        return "false closure", "something new must be seen"
    code, matrix, said = ask(program, folder, "matrix")
    if matrix is None or code:
        return "crash", f"matrix: exit {code}: {said[-800:]}"
    if must_say and not answer["less_asked"]:
        return "false closure", "less is asked, and nothing says so"
    return compare(start, rows(answer, matrix), {one["id"] for one in answer["less_asked"]})


def compare(start, now, less_asked):
    lost = []
    for row, (before, records, event) in start.items():
        requirement, _, subject = row
        after = now[row][0] if row in now else None
        named = {requirement, subject, *records}
        if after is None:
            named |= {subject.split("/")[0], event}  # the row is gone with its item, or with what its event names
        if after != before and not named & less_asked:
            lost.append(f"{row}: {before} -> {after}")
    if lost:
        return "false closure", "\n    ".join(lost)
    return ("less asked, and said", "") if less_asked else ("unchanged", "")


def pick(r):
    chosen, weights = zip(*mutations.ALL)
    return r.choices(chosen, weights)[0]


def harm(seed, box):
    """One mutation, sometimes two, sometimes committed: (names, what was done, whether it must be open, or said)."""
    r = random.Random(seed)
    names, done, must_open, must_say = [], [], False, False
    while not done or (len(done) == 1 and r.random() < 0.15):
        mutation = pick(r)
        try:
            said = mutation(r, box)
        except (FileNotFoundError, IndexError, ValueError, IsADirectoryError, RuntimeError):
            if len(done) == 0:
                box.restore()  # what it needed is not there: another one
            said = None
        if said:
            names.append(mutation.__name__)
            done.append(said)
            must_open = must_open or mutation in mutations.MUST_OPEN
            must_say = must_say or mutation in mutations.MUST_SAY
    if r.random() < 0.4:
        try:
            box.commit()
            done.append("committed")
        except RuntimeError:
            done.append("not committed")
    return names, "; ".join(done), must_open, must_say


def work(job):
    program, kind, seeds = job
    box = Sandbox()
    out = []
    try:
        start = first_rows(program, box)
        for seed in seeds:
            out.append(one(program, kind, seed, box, start))
            box.restore()
    finally:
        box.close()
    return out


def one(program, kind, seed, box, start):
    if kind == "control":
        r = random.Random(-seed)
        said = None
        while not said:
            edit = r.choice(control.ALL)
            said = edit(r, box)
        code, answer, err = ask(program, box.root, "before", fixture.EVENT)
        if code == 0 and answer["verdict"] == "nothing-open":
            return seed, [edit.__name__], said, "still closed", ""
        return seed, [edit.__name__], said, "cried wolf", f"exit {code}: {complaint(answer) or err}"
    names, said, *must = harm(seed, box)
    return seed, names, said, *judge(program, box.root, start, *must)


def complaint(answer):
    """What an answer complains of, in short."""
    if not answer:
        return ""
    found = [f"{one['code']}: {one['message']}" for one in answer["faults"] + answer["gaps"]]
    for row in answer["rows"]:
        found += [f"{row['requirement']} {row['state']}: {reason['text']}" for reason in row["reasons"]]
    return "; ".join(found[:4])


def baseline(program):
    """The unharmed fixture must be closed, or nothing below means anything."""
    box = Sandbox()
    try:
        code, answer, said = ask(program, box.root, "before", fixture.EVENT)
        _, matrix, _ = ask(program, box.root, "matrix")
    finally:
        box.close()
    if code or not answer or answer["verdict"] != "nothing-open" or len(rows(answer, matrix)) < 20:
        sys.exit(f"the unharmed project is not closed: exit {code}: {complaint(answer) or said}")


def main():
    parser = argparse.ArgumentParser(description="look for false closures")
    parser.add_argument("--slipmark", required=True, help="path of the program")
    parser.add_argument("--count", type=int, default=3000)
    parser.add_argument("--control", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1, help="first seed")
    parser.add_argument("--only", type=int, help="this seed of the mutations alone, and leave the project for a look")
    parser.add_argument("--show", type=int, default=10, help="how many of each failing mutation to print")
    parser.add_argument("--workers", type=int, default=(os.cpu_count() or 2) + 1)
    args = parser.parse_args()
    args.slipmark = os.path.abspath(args.slipmark)
    baseline(args.slipmark)
    if args.only is not None:
        return look(args)
    size = 50
    spans = [("mutation", n) for n in range(args.seed, args.seed + args.count, size)]
    spans += [("control", n) for n in range(args.seed, args.seed + args.control, size)]
    ends = {"mutation": args.seed + args.count, "control": args.seed + args.control}
    jobs = [(args.slipmark, kind, range(n, min(n + size, ends[kind]))) for kind, n in spans]
    with multiprocessing.Pool(args.workers) as pool:
        results = [one for part in pool.imap(work, jobs) for one in part]
    return report(results, args)


FAILED = {"false closure", "crash", "cried wolf"}


def report(results, args):
    printed = collections.Counter()
    for seed, names, said, outcome, why in results:
        if outcome in FAILED:
            printed[(outcome, *names)] += 1
            if printed[(outcome, *names)] <= args.show:
                print(f"{outcome.upper()}: seed {seed}: {', '.join(names)}: {said}\n    {why}")
    counts = collections.Counter(outcome for *_, outcome, _ in results)
    kinds = {name for _, names, _, outcome, _ in results for name in names if outcome not in ("still closed", "cried wolf")}
    never = sorted({mutation.__name__ for mutation, _ in mutations.ALL} - kinds)
    felt = collections.defaultdict(collections.Counter)
    for _, names, _, outcome, _ in results:
        if len(names) == 1:
            felt[names[0]]["unchanged" if outcome in ("unchanged", "still closed") else outcome] += 1
    print("each by itself:")
    for name, counted in sorted(felt.items()):
        print(f"  {name:24} " + ", ".join(f"{n} {outcome}" for outcome, n in sorted(counted.items())))
    print("mutations and control edits: " + ", ".join(f"{n} {outcome}" for outcome, n in sorted(counts.items())))
    if never and args.count >= 3000:
        print("never applied: " + ", ".join(never))
    failed = sum(n for outcome, n in counts.items() if outcome in FAILED)
    print(f"{len(results) - failed} passed, {failed} failed, 0 skipped")
    return 1 if failed or (never and args.count >= 3000) else 0


def look(args):
    box = Sandbox()
    start = first_rows(args.slipmark, box)
    names, said, *must = harm(args.only, box)
    print(f"{', '.join(names)}: {said}\nleft in {box.root}")
    print(*judge(args.slipmark, box.root, start, *must), sep=": ")
    return 0


if __name__ == "__main__":
    sys.exit(main())
