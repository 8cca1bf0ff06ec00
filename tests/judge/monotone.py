"""Changes random projects for the worse, and looks whether any row is closed by that.

  python3 tests/judge/monotone.py --slipmark target/debug/slipmark [--count 2000] [--seed 1] [--only SEED] [--change NAME]

Each project is committed and tagged, as after a review; then one thing is changed in the work tree, and the program is asked again. A
pair is a project and one change. A row that was open (neither closed nor waived), asked about its own event or about the last one, must
be open still; if it is gone, another row of the same plan entry must be open, or `before` must say that less is asked. A gap of limited
life must be there still, of the same piece and budget. And a verdict that was "open" must not become "nothing open" unless `before` says
that less is asked.

- Added: a nonconformance, a rework, a revision, a failure, a tighter limit (judged anew, and with the marks of before), a finding that
  an instrument was out of tolerance, a holding of an event, more use, a lower budget, a stricter rule about people. No exception.
- Taken away: the file of a record that was signed or of a held event, its signature, or the record by withdrawing it. The rules let the
  row close where the answer says what was taken away: a deleted one is the fault `vanished`; a withdrawn record stands in the list of
  what was withdrawn, and a failing or unjudgeable one counts on unless a closed nonconformance names it; see SAID below.
- Asked less: a finding taken back, a budget raised or lost, a renewal claimed afterwards, less use planned, an event of `again_after` or
  `after` lost, a rule about people made weaker or lost. What closes by that must be said.
- Hardware: a piece made spare or scrapped. A row on which a failure stood stays; other rows may go, and it is said.
- Moved: files in other folders under other names. Every row is the same, with all its reasons, and so are the faults.

THE ONE EXCEPTION of what is taken away: a draft that was never signed may be thrown away, and nothing is said. Only signed records are
protected (design 5): what nobody has put a name to is nobody's evidence yet, even if it is of a failed run. So a row of what it
reports closes on which nothing else stood but that the draft was newer than what decides, or is waived if what else stood is; and a gap
of the life that the draft used goes. `discard` holds it to that: no other row may close, and no other gap go.

What the rules themselves make an exception of is not changed here: a nonconformance that is properly closed and names a failure ends
it, so none is added; a failure within the relief of a waiver is waived, whatever it is newer than, so none is added where there is a
relief; scrapping a piece completes a nonconformance that was closed by scrapping it; a failing run comes first for
`after` as well as any other; a revision that a record already names makes that record one of the current revision; an event that is held
and completed comes first for `after`, and one whose use is stated is known, so that the holding which is added is aborted and uses what
was planned.
"""

import argparse
import collections
import copy
import multiprocessing
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile

import canon
import files
import generate
from canon import as_list
from changes import ADDED, CHANGES, HARDWARE, delete, discard, move, unsign, weaker_roles, withdraw
from run import ask, event_names, life_gaps, removals

DONE = ("closed", "waived")
# The least share of pairs in which a change must have been felt: else it tests nothing.
FELT = 0.02


# ---- looking ------------------------------------------------------------------------------------------------------------


class Answers:
    def __init__(self, program, folder, today, event):
        code, matrix, said = ask(program, folder, "matrix", "--today", str(today))
        self.code, before, said_too = ask(program, folder, "before", event, "--today", str(today))
        if matrix is None or before is None or self.code not in (0, 1):
            raise RuntimeError(f"no answer: exit {code}, {self.code}: {said} {said_too}")
        self.matrix = {row_key(row): row for row in matrix["rows"]}
        self.before = {row_key(row): row for row in before["rows"]}
        self.life = {gap[1:]: gap[0] for gap in life_gaps(before["gaps"])}
        self.verdict = before["verdict"]
        self.faults = sorted((f["code"], f["message"]) for f in before["faults"])
        self.less_asked = [(one["id"], one["text"]) for one in before["less_asked"]]
        self.withdrawn = set(before["withdrawn"])

    def state(self, key, asked):
        """None if there is no such row. `before` need not list what is closed."""
        row = (self.matrix if asked == "matrix" else self.before).get(key)
        if row is None and asked == "before" and key in self.matrix:
            return "closed"
        return row and row["state"]

    def open(self, asked):
        rows = self.matrix if asked == "matrix" else self.before
        return {key: row for key, row in rows.items() if row["state"] not in DONE}


def row_key(row):
    return (row["requirement"], str(row["entry"]), row["subject"])


def compare(change, raw, old, new, what):
    """(problems, whether it was felt, excuses used)."""
    if change is move:
        return compare_same(old, new)
    if change is discard:
        return compare_discarded(raw, old, new, what)
    problems, excuses = compare_life(change, old, new, what)
    said = excuse(change, new, what)
    for asked in ("matrix", "before"):
        for key, row in old.open(asked).items():
            if change in HARDWARE and "failure-stands" not in {reason["code"] for reason in row["reasons"]}:
                strict = False
            else:
                strict = change in ADDED or change in HARDWARE
            now = new.state(key, asked)
            if now is None:
                instead = any(k[:2] == key[:2] for k in new.open(asked))
                named = {one for one, _ in new.less_asked}
                if instead:
                    excuses["replaced by another open row"] += 1
                elif not strict and named & {key[0], key[2], key[2].split("/")[0]}:
                    excuses["less is asked, and said"] += 1
                else:
                    problems.append(f"{asked}: {key}: {row['state']} is gone, and nothing says so: {new.less_asked}")
            elif now in DONE:
                if strict or not said(key):
                    problems.append(f"{asked}: {key}: {row['state']} {[x['code'] for x in row['reasons']]} -> {now}")
                else:
                    excuses[f"{now}, and said"] += 1
    if old.code == 1 and new.code == 0 and not new.less_asked and not new.withdrawn - old.withdrawn:
        problems.append("before: open -> nothing open")
    return problems, differ(old, new), excuses


def differ(old, new):
    felt = [({k: plain(row) for k, row in answers.matrix.items()}, answers.life) for answers in (old, new)]
    return felt[0] != felt[1]


def compare_life(change, old, new, what):
    """Every gap of limited life is there still; one that is not exceeded any more, but not known, would be no progress."""
    problems, excuses = [], collections.Counter()
    said = excuse(change, new, what)
    for gap in sorted(old.life.keys() - new.life.keys()):
        if change in ADDED or not said(("", "", gap[0])):
            problems.append(f"{old.life[gap]} of {gap} is gone, and nothing says so: {new.less_asked}")
        else:
            excuses["gaps gone, and said"] += 1
    if change in ADDED:
        softer = [gap for gap, code in new.life.items() if code == "life-unknown" and old.life.get(gap) == "life-exceeded"]
        problems += [f"life-exceeded of {gap} is no more than unknown" for gap in softer]
    return problems, excuses


def compare_discarded(raw, old, new, what):
    """THE ONE EXCEPTION, and no more. A sum of children follows the rows that it closes; of a row on an item another piece may be the
    best one now, so that only its requirement is looked at."""
    draft = next(t for t in raw["things"] if t["id"] == what.split()[-1])
    uses = set(draft.get("uses", {})) | {n for p in raw["things"] if p["id"] == draft.get("procedure") for n in as_list(p.get("uses"))}
    reported, problems, excuses = set(draft["verifies"]), [], collections.Counter()
    for asked in ("matrix", "before"):
        for key in sorted(old.open(asked)):
            was, now = old.open(asked)[key], new.state(key, asked)
            codes = {x["code"] for x in was["reasons"]}
            newer = "newer-unsigned" in codes and (now == "waived" or codes == {"newer-unsigned"})
            follows = codes == {"child-open"} or key[0] in reported and (newer or "/" not in key[2] != "project")
            if now is None or now in DONE and not follows:
                problems.append(f"{asked}: {key}: {was['state']} {sorted(codes)} -> {now}")
            elif now in DONE:
                excuses[f"{now}: the draft was newer"] += 1
    for gap in sorted(old.life.keys() - new.life.keys()):
        if gap[1] not in uses:
            problems.append(f"{old.life[gap]} of {gap} is gone with a draft that did not use it")
        else:
            excuses["gaps gone: the draft used it"] += 1
    return problems, differ(old, new), excuses


def excuse(change, new, what):
    """SAID: whether the answer says what was taken away, so that a row which it closes does not close unseen."""
    record = next((word for word in what.split() if word.startswith(("TR-", "HE-"))), None)
    if change is withdraw:
        return lambda _key: record in new.withdrawn
    if change in (delete, unsign):
        faulty = new.verdict == "open" and any(record in message for _, message in new.faults)
        return lambda _key: faulty or any(one == record for one, _ in new.less_asked)
    if change is weaker_roles:  # it is about no one thing
        return lambda _key: any(one == "slipmark.toml" and "ed by" in text for one, text in new.less_asked)
    return lambda key: bool({one for one, _ in new.less_asked} & {key[0], key[2], key[2].split("/")[0], *what.split()})


def compare_same(old, new):
    problems = []
    for asked in ("matrix", "before"):
        a, b = getattr(old, asked), getattr(new, asked)
        for key in sorted(a.keys() | b.keys()):
            x, y = (rows.get(key) and plain(rows[key]) for rows in (a, b))
            if x != y:
                problems.append(f"{asked}: {key}:\n      {x}\n      {y}")
    if [code for code, _ in old.faults] != [code for code, _ in new.faults]:
        problems.append(f"faults: {old.faults}\n      {new.faults}")
    if old.verdict != new.verdict:
        problems.append(f"verdict: {old.verdict} -> {new.verdict}")
    return problems, True, collections.Counter()


def plain(row):
    criteria = sorted((c["name"], c["state"], str(c["record"]), str(c["result"])) for c in row["criteria"])
    return row["state"], row["covers"], row["waiver"], sorted({x["code"] for x in row["reasons"]}), criteria


# ---- shrinking ----------------------------------------------------------------------------------------------------------


def looked_at(program, folder, old, new, today, change, what, event):
    """(problems, codes of the faults of both) of a pair."""
    review(folder, old)
    before = Answers(program, folder, today, event)
    files.write(new, folder)
    after = Answers(program, folder, today, event)
    return compare(change, old, before, after, what)[0], {code for code, _ in before.faults + after.faults}


def without_both(pair, path):
    """What stands at a path left out of both, where it is; what was sealed rightly is sealed again. None if it is in neither."""
    pair, found = copy.deepcopy(pair), False
    for keyed in pair:
        try:
            place = keyed
            for k in path[:-1]:
                place = place[k]
            del place[path[-1]]
            found = True
        except (KeyError, IndexError, TypeError):
            pass
    return pair if found else None


def written(keyed):
    """A project again; things have stood by their id, so that a path means the same in both."""
    project = {**keyed, "things": list(copy.deepcopy(keyed["things"]).values())}
    for t in project["things"]:
        if "seal" in t and t.get("_lines_up"):
            t["seal"] = files.AUTO
    return files.finish(project)


def shrink(program, old, new, today, change, what, event):
    """Leaves out of both what can go while the change still closes what it closed, whatever the other reasons were."""
    named = lambda problems: {re.sub(r"\[.*", "", said) for said in problems[:1]}
    pair = [{**p, "things": {t["id"]: t for t in p["things"]}} for p in (old, new)]
    folder = tempfile.mkdtemp(prefix="monotone-")
    try:
        problems, allowed = looked_at(program, folder, *map(written, pair), today, change, what, event)
        wanted = named(problems)
        again = True
        while again:
            again = False
            for path in removals(pair[0]) + removals(pair[1]):
                small = without_both(pair, path) if len(path) > 1 else None
                if small is None or event not in event_names(small[0]):
                    continue
                try:
                    problems, faults = looked_at(program, folder, *map(written, small), today, change, what, event)
                except (KeyError, IndexError, TypeError, ValueError, AttributeError, StopIteration, RuntimeError):
                    continue  # no longer a project
                if problems and named(problems) == wanted and faults <= allowed:
                    pair, again = small, True
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    return [written(p) for p in pair]


# ---- running ------------------------------------------------------------------------------------------------------------

GIT = {"GIT_CONFIG_NOSYSTEM": "1", "HOME": "/", **{f"GIT_{who}_{what}": value for who in ("AUTHOR", "COMMITTER") for what, value in (
    ("NAME", "engineer"), ("EMAIL", "engineer@example.org"), ("DATE", "2026-06-01T12:00:00Z"))}}  # fmt: skip


def git(folder, *args):
    subprocess.run(["git", *args], cwd=folder, env={**GIT, "PATH": os.environ["PATH"]}, capture_output=True, check=True)


def review(folder, project):
    """The project, committed, and tagged as reviewed."""
    shutil.rmtree(os.path.join(folder, ".git"), ignore_errors=True)
    git(folder, "init", "-q", "--template=", "-b", "main")
    files.write(project, folder)
    git(folder, "add", "--all")
    git(folder, "commit", "-q", "-m", "Review")
    git(folder, "tag", "-a", "TRR-1", "-m", "Review")


def start(seed):
    raw, today = generate.make(seed)
    project = files.finish(raw)
    for t in project["things"]:
        if t["kind"] == "requirement":
            t["_mark"] = canon.mark(t, project["parameters"])
        if "seal" in t:
            t["_lines_up"] = t["seal"] != generate.WRONG_SEAL
    return project, today, event_names(raw)[-1]


def changed(project, today, change, seed):
    new = copy.deepcopy(project)
    what = change(random.Random(f"{seed} {change.__name__}"), new, today)
    return (files.finish(new), what) if what else (None, None)


def pairs(program, folder, seed, changes):
    """[(change's name, what was done, problems, felt, excuses)] of one project."""
    project, today, event = start(seed)
    review(folder, project)
    old, out = Answers(program, folder, today, event), []
    for change in changes:
        new, what = changed(project, today, change, seed)
        if new is None:
            continue
        files.write(new, folder)
        out.append((change.__name__, what, *compare(change, project, old, Answers(program, folder, today, event), what)))
    return out


def work(job):
    program, seeds, names = job
    folder = tempfile.mkdtemp(prefix="monotone-")
    try:
        changes = [change for change in CHANGES if change.__name__ in names]
        return [(seed, *one) for seed in seeds for one in pairs(program, folder, seed, changes)]
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def show(project, title):
    print(f"  ==== {title}")
    for path, data in sorted(files.texts(project).items()):
        print(f"  ---- {path}")
        print("".join(f"  | {line}\n" for line in data.decode().rstrip().split("\n")), end="")


def main():
    parser = argparse.ArgumentParser(description="change projects for the worse, and look for a row that this closes")
    parser.add_argument("--slipmark", required=True, help="path of the program")
    parser.add_argument("--count", type=int, default=2000, help="pairs of projects, at least")
    parser.add_argument("--seed", type=int, default=1, help="first seed")
    parser.add_argument("--only", type=int, help="the project of this seed alone")
    parser.add_argument("--change", action="append", help="this change alone; may be given several times")
    parser.add_argument("--show", type=int, default=1, help="how many counter-examples of each change to print in full")
    parser.add_argument("--whole", action="store_true", help="print them as they are, not as small as they will go")
    parser.add_argument("--workers", type=int, default=(os.cpu_count() or 2) + 1)
    args = parser.parse_args()
    program = os.path.abspath(args.slipmark)
    names = set(args.change or [change.__name__ for change in CHANGES])
    unknown = names - {change.__name__ for change in CHANGES}
    if unknown:
        sys.exit(f"no change is called {', '.join(sorted(unknown))}; there are: {', '.join(c.__name__ for c in CHANGES)}")
    results, seed, size, rounds = [], args.only or args.seed, *((1, 1) if args.only else (5, 16))
    with multiprocessing.Pool(args.workers) as pool:
        while len(results) < args.count:
            spans = [range(seed + n * size, seed + (n + 1) * size) for n in range(rounds)]
            seed += rounds * size
            for part in pool.imap(work, [(program, span, names) for span in spans]):
                results += part
            if args.only:
                break
    return report(results, args, {change.__name__: change for change in CHANGES})


def report(results, args, changes):
    count, felt, bad = (collections.Counter() for _ in range(3))
    excuses = collections.defaultdict(collections.Counter)
    for seed, name, what, problems, was_felt, excused in results:
        count[name] += 1
        felt[name] += was_felt
        excuses[name] += excused
        bad[name] += bool(problems)
        if problems:
            print(f"COUNTER-EXAMPLE: seed {seed}, {name}: {what}\n    " + "\n    ".join(problems))
            if bad[name] <= args.show:
                old, today, event = start(seed)
                new, _ = changed(old, today, changes[name], seed)
                if not args.whole:
                    old, new = shrink(os.path.abspath(args.slipmark), old, new, today, changes[name], what, event)
                print(f"  today {today}, event {event}")
                show(old, "before")
                show(new, "after")
    for name in changes:
        said = "".join(f"; {n} rows {why}" for why, n in sorted(excuses[name].items()))
        print(f"  {name:20} {count[name]:>6} pairs, {felt[name]:>6} felt, {bad[name]:>3} counter-examples{said}")
    idle = [name for name in count if felt[name] < FELT * count[name]] if len(results) >= 500 else []
    if idle:
        print("felt too seldom to mean anything: " + ", ".join(idle))
    failed = sum(bad.values()) + len(idle)
    print(f"{len(results) - sum(bad.values())} passed, {failed} failed, 0 skipped")
    return 1 if failed or not results else 0


if __name__ == "__main__":
    sys.exit(main())
