"""Kills every command that writes, at random moments, and looks at what is left.

  python3 tests/kill/run.py --slipmark target/debug/slipmark [--count 400] [--seed 1] [--only CASE]

After each kill (signal 9):
- every file of the project is byte for byte as it was, or as the finished command leaves it, and there is no other file. Of several
  files some may be old and some new; folders may be there that are still empty;
- what is left elsewhere is one of two things. In git's own folder: `.git/slipmark/.slipmark-….part`, which the program does not read and
  `git status` does not show. In a folder where `init` or `demo` was making a repository: `.slipmark.part`. A packet that is written where no repository is can leave `.slipmark-….part` there: nothing else would be on the same file system. Beside a folder of pages: `.slipmark-NAME.part`,
  and `.slipmark-NAME.old`, which holds the earlier one if its place is empty, and which the next run puts back;
- the program still answers: `check` ends with 0, 1 or 2 and no panic;
- the command, run again, ends with 0 and leaves exactly what an undisturbed run leaves; or ends with 2, says what to type, changes
  nothing, and all was done already.

And undisturbed, for each command: run twice, it leaves the same, or refuses and says what to type; of the lines of a file that was there
none is gone or out of place but those that the command is for.

A delay is drawn from the command's own run time, or counted from the moment at which its first trace can be seen, so that kills land
while it writes; one that comes too late is tried again. How many landed is printed, and too few are a failure.
"""

import argparse
import collections
import multiprocessing
import os
import random
import re
import shutil
import signal
import stat
import subprocess
import sys
import tempfile
import time

TODAY = "2026-06-16"
TRIES = 4
STAGED = re.compile(r"\.slipmark-\w+\.part")
BUILDING = ".slipmark.part"
BESIDE = re.compile(r"\.slipmark-site\.(part|old)")

REQUIREMENT = "requirements/R-001.md"
BODY = "The valve shall leak at most 10 mL/min of nitrogen to the outside."
# A record as people leave it: their own order, comments, spacing, and keys quoted in more than one way.
RECORD = """+++
# filled in on the stand
id    = "TR-00{n}"
kind  = 'test'
title = "External leakage, SN0{n}"   # short
serial = "VALVE/SN0{n}"
date=2026-06-0{n}

procedure = "TP-01"
  procedure_revision = "1"
stage     = "acceptance"
status = "draft"      # not signed yet
no_instrument = "read off the panel"

[verifies.'R-001']
# highest of five minutes
results = {{ leakage = "3.{n} ± 0.4 mL/min" }}
# end of the front matter
+++
Notes of the run.   

+ the last line has no end"""


class Case:
    """One command: what is there before it, and what may differ between the old and the new text of a file."""

    def __init__(self, name, prepare, args, replaced=None, trace=".git/slipmark", again="same"):
        self.name, self.prepare, self.args = name, prepare, args
        self.replaced = replaced or re.compile(r"(?!)")  # lines that the command is for
        self.trace = trace  # what shows that it has begun to write
        self.again = again  # how a second run ends: "same" (0) or "refused" (2)


def environment(home):
    who = {f"GIT_{a}_{b}": c for a in ("AUTHOR", "COMMITTER") for b, c in (("NAME", "engineer"), ("EMAIL", "engineer@example.org"))}
    return {**who, "HOME": home, "PATH": os.environ["PATH"], "GIT_CONFIG_NOSYSTEM": "1", "SOURCE_DATE_EPOCH": "1781600000"}


def program(slipmark, folder, args):
    return subprocess.run([slipmark, "--today", TODAY, *args], cwd=folder, env=environment(folder), capture_output=True,
                          timeout=120, check=False)  # fmt: skip


def must(slipmark, folder, *args):
    done = program(slipmark, folder, args)
    if done.returncode:
        sys.exit(f"{' '.join(args)}: exit {done.returncode}: {done.stderr.decode()}")


def git(folder, *args):
    done = subprocess.run(["git", *args], cwd=folder, env=environment(folder), capture_output=True, check=True)
    return done.stdout.decode()


def write(folder, path, text):
    full = os.path.join(folder, path)
    os.makedirs(os.path.dirname(full), exist_ok=True)
    with open(full, "wb") as file:
        file.write(text.encode())


def read(folder, path):
    with open(os.path.join(folder, path), "rb") as file:
        return file.read().decode()


# ---- what is there before --------------------------------------------------------------------------------------------


def nothing(_slipmark, _folder):
    pass


def repository(_slipmark, folder):
    git(folder, "init", "-q", "-b", "main")
    write(folder, "README.md", "Drawings.\n")
    git(folder, "add", "--all")
    git(folder, "commit", "-q", "-m", "Start")


def project(slipmark, folder):
    repository(slipmark, folder)
    must(slipmark, folder, "init", "--name", "Stand")
    item = read(folder, "items/VALVE.md")
    pieces = "".join(f'\n[[serials]]\nnumber = "SN0{n}"\n' for n in (2, 3, 4))
    write(folder, "items/VALVE.md", item.replace("\n+++\n", f"\n{pieces}+++\n", 1))
    commit(folder)


def commit(folder):
    git(folder, "add", "--all")
    git(folder, "commit", "-q", "--allow-empty", "-m", "Go on")
    shutil.rmtree(os.path.join(folder, ".git/slipmark"), ignore_errors=True)  # so that its coming back is seen


def drafts(slipmark, folder, ends="\n"):
    project(slipmark, folder)
    for n in (1, 2, 3, 4):
        write(folder, f"records/TR-00{n}.md", RECORD.format(n=n).replace("\n", ends))
    commit(folder)


def drafts_with_carriage_returns(slipmark, folder):
    drafts(slipmark, folder, "\r\n")


def reworded(slipmark, folder):
    drafts(slipmark, folder)
    for n in (1, 2, 3, 4):
        must(slipmark, folder, "sign", f"TR-00{n}", "--by", "test conductor")
    commit(folder)
    write(folder, ".gitignore", "review.html\n")  # a packet inside the project would count as a file not committed
    text = read(folder, REQUIREMENT)
    write(folder, REQUIREMENT, text.replace(BODY, BODY.replace("nitrogen", "dry nitrogen")))
    commit(folder)


def half_filled(slipmark, folder):
    """Records without a result, and what a logger wrote, outside the project's records."""
    project(slipmark, folder)
    for n in (1, 2, 3, 4):
        write(folder, f"records/TR-00{n}.md", re.sub(r"results = .*\n", "", RECORD.format(n=n)))
    write(folder, "logger/leakage.csv", "t [s],q [mL/min]\n" + "".join(f"{n},{n % 7}\n" for n in range(20000)))
    write(folder, ".gitignore", "/logger/\n")
    commit(folder)


COMPUTES = """+++
kind = "analysis"
id = "AN-00{n}"
title = "Leakage of SN0{n}, worked out"   # short
item = "VALVE"
date = 2026-06-0{n}
performed_by = "designer"
status = "draft"
inputs = {{ leak = {{ from = "TR-00{n}.R-001.leakage" }}, pumped = {{ value = "1.0 ± 0.1 mL/min", source = "pump" }} }}

[verifies.R-005]
# the pump brings in the rest
results.rest = {{ calc = "rest" }}
+++
```calc
rest = leak - pumped   # what the seat lets through
```
"""


def computes(slipmark, folder):
    """Analyses that take a value from a signed record, so that signing writes what it used and what it came to."""
    drafts(slipmark, folder)
    for n in (1, 2):
        must(slipmark, folder, "sign", f"TR-00{n}", "--by", "test conductor")
    text = read(folder, REQUIREMENT)
    front, body = text.split("\n+++\n", 1)
    kept = [line for line in front.split("\n") if re.match(r'\+\+\+|(kind|title|source|owner|before|applies_to) = ', line)]
    front = "\n".join([*kept, 'id = "R-005"', 'criteria.rest = { max = "10 mL/min" }', "", "[[verify]]", 'method = "analysis"'])
    write(folder, "requirements/R-005.md", front + "\n+++\n" + body)
    for n in (1, 2):
        write(folder, f"records/AN-00{n}.md", COMPUTES.format(n=n))
    commit(folder)


SLOT = '+++\nkind = "slot"\nid = "ACT"\ntitle = "What turns the stem"\nassembly = "VALVE"\n+++\n'
OPTION = '+++\nkind = "item"\nid = "{id}"\ntitle = "{id}"\nfills = "ACT"\nstatus = "{status}"\nserials = ["SN01"]\n+++\n'


def reports(slipmark, folder):
    """A slot with two options; reports are written into a folder that git ignores, so that they do not count as changes."""
    drafts(slipmark, folder)
    write(folder, "items/ACT.md", SLOT)
    write(folder, "items/ACT-P.md", OPTION.format(id="ACT-P", status="candidate"))
    write(folder, "items/ACT-W.md", OPTION.format(id="ACT-W", status="current"))
    text = read(folder, REQUIREMENT)
    write(folder, "requirements/R-009.md", text.replace('id = "R-001"', 'id = "R-009"').replace('applies_to = "VALVE"', 'applies_to = "ACT"'))
    write(folder, ".gitignore", "/out/\n")
    write(folder, "out/README", "Reports.\n")
    commit(folder)


def over(*args):
    """The same with an older report in its place."""

    def prepare(slipmark, folder):
        reports(slipmark, folder)
        must(slipmark, folder, *args)
        commit(folder)

    return prepare


def computes_beside_reports(slipmark, folder):
    computes(slipmark, folder)
    write(folder, ".gitignore", "/out/\n")
    write(folder, "out/README", "Reports.\n")
    commit(folder)


SIGNED = re.compile(r'status = "draft"|results = \{ leakage|\+ the last line')  # the status; and where outcome and seal join a table
PACKET = ["packet", "leak-check", "-o", "review.html"]
FILL = ["fill", "TR-002", "leakage=2.9 ± 0.3 mL/min"]
WORKING = ["calc", "AN-002", "--format", "html", "-o", "out/an-002.html"]
SHEET = ["sheet", "TP-01", "--serial", "VALVE/SN02", "-o", "out/sheet.html"]
PAGES = ["packet", "leak-check", "--site", "out/site"]
CONCEPTS = ["concepts", "ACT", "--format", "html", "-o", "out/concepts.html"]
CASES = [
    Case("init", nothing, ["init", "--name", "Stand"], trace=BUILDING, again="refused"),
    Case("init in a repository", repository, ["init", "stand", "--name", "Stand"], again="refused"),
    Case("new record", project, ["new", "test", "TR-009", "--for", "R-001", "--serial", "VALVE/SN02"], again="refused"),
    Case("new requirement", project, ["new", "requirement", "R-002", "--item", "VALVE", "--folder", "a/b/c"], again="refused"),
    Case("new run", project, ["new", "test", "TR-009", "--from", "TP-01", "--serial", "VALVE/SN02"], again="refused"),
    Case("new event", project, ["new", "event", "HE-001", "--for", "leak-check", "--serial", "VALVE/SN02", "--outcome", "completed"], again="refused"),
    Case("fill", half_filled, FILL),
    Case("fill with a recording", half_filled, [*FILL, "--data", "logger/leakage.csv"]),
    Case("sign", drafts, ["sign", "TR-002", "--by", "test conductor", "--witness", "pad chief"], SIGNED),
    Case("sign with carriage returns", drafts_with_carriage_returns, ["sign", "TR-003", "--by", "lead"], SIGNED),
    Case("sign what is computed", computes, ["sign", "AN-002", "--by", "designer"], re.compile(r'status = "draft"|inputs = ')),
    Case("working", computes_beside_reports, WORKING),
    Case("mark one", reworded, ["mark", "TR-001", "--by", "lead", "--because", "reworded only"]),
    Case("mark four", reworded, ["mark", "R-001", "--by", "lead", "--because", "reworded only"]),
    Case("packet", reworded, PACKET),
    Case("packet over a packet", lambda s, f: (reworded(s, f), must(s, f, "packet", "first-run", "-o", "review.html"), commit(f)), PACKET),
    Case("pages", reports, PAGES, trace="out/.slipmark-site.part"),
    Case("pages over pages", over("packet", "first-run", "--site", "out/site"), PAGES, trace="out/.slipmark-site.part"),
    Case("sheet", reports, SHEET),
    Case("sheet over a sheet", over("sheet", "TP-01", "--serial", "VALVE/SN03", "-o", "out/sheet.html"), SHEET),
    Case("concepts", reports, CONCEPTS),
    Case("concepts over concepts", over("concepts", "ACT", "--format", "html", "-o", "out/concepts.html", "--at", "HEAD"), CONCEPTS),
    Case("templates", reports, ["templates", "--write", "out/templates"]),
    Case("demo", nothing, ["demo", "example"], trace="example/" + BUILDING),
    Case("demo here", nothing, ["demo", "."], trace=BUILDING),
    Case("demo in a repository", repository, ["demo", "example"], trace="example/" + BUILDING),
]  # fmt: skip


# ---- looking -----------------------------------------------------------------------------------------------------------


def tree(folder):
    """Path -> (mode, bytes) of every file that is not git's; and what was left over."""
    files, left = {}, set()
    for here, folders, names in os.walk(folder):
        relative = os.path.relpath(here, folder)
        for name in list(folders):
            if name in (".git", BUILDING) or BESIDE.fullmatch(name):
                folders.remove(name)
                if name != ".git":
                    left.add(os.path.normpath(os.path.join(relative, name)))
        for name in names:
            full = os.path.join(here, name)
            with open(full, "rb") as file:
                files[os.path.normpath(os.path.join(relative, name))] = (stat.S_IMODE(os.lstat(full).st_mode), file.read())
    return files, left


def staged(folder):
    """What is left in git's own folder."""
    path = os.path.join(folder, ".git/slipmark")
    return os.listdir(path) if os.path.isdir(path) else []


def shown(folder):
    """What git status shows; nothing where there is no repository, or one of which `init` has made no more than a part."""
    if not os.path.isdir(os.path.join(folder, ".git", "objects")):
        return set()
    done = subprocess.run(["git", "status", "--porcelain", "-uall"], cwd=folder, env=environment(folder), capture_output=True, check=False)
    return {line[3:] for line in done.stdout.decode().splitlines()}


def lines_kept(before, after, replaced):
    """The lines of the old text that are gone or out of place, those left out that the command is for."""
    rest = iter(after.splitlines(keepends=True))
    return [line for line in before.splitlines(keepends=True) if not replaced.match(line) and line not in rest]


class Kept:
    """What one command starts from, and what it leaves undisturbed."""

    def __init__(self, slipmark, case, top):
        self.slipmark, self.case = slipmark, case
        self.start = os.path.join(top, "start")
        os.mkdir(self.start)
        case.prepare(slipmark, self.start)
        self.before, _ = tree(self.start)
        self.work = os.path.join(top, "work")
        self.times = []
        self.problems = self.undisturbed()

    def fresh(self):
        shutil.rmtree(self.work, ignore_errors=True)
        shutil.copytree(self.start, self.work, symlinks=True)
        return self.work

    def undisturbed(self):
        """Runs it three times for its time, the last time twice over."""
        problems = []
        for _ in range(3):
            work = self.fresh()
            began = time.monotonic()
            done = program(self.slipmark, work, self.case.args)
            self.times.append(time.monotonic() - began)
            if done.returncode:
                return [f"exit {done.returncode}: {done.stderr.decode()}"]
        self.after, left = tree(work)
        self.shown = shown(work)
        if left or staged(work):
            problems.append(f"leaves {left} {staged(work)}")
        if self.after == self.before or (self.case.name.startswith("packet") and "review.html" not in self.after):
            problems.append("writes nothing: this case tests nothing")
        for path, (mode, text) in self.before.items():
            now = self.after.get(path)
            if now is None or now[0] != mode:
                problems.append(f"{path}: gone, or with another mode")
            elif path.endswith(".md"):
                gone = lines_kept(text.decode(), now[1].decode(), self.case.replaced)
                problems += [f"{path}: a line is gone or out of place: {line!r}" for line in gone]
                if text.count(b"\r\n") == text.count(b"\n") and now[1].count(b"\r\n") != now[1].count(b"\n"):
                    problems.append(f"{path}: line ends are mixed")
        self.refused = b""
        again = program(self.slipmark, work, self.case.args)
        wanted = 0 if self.case.again == "same" else 2
        if again.returncode != wanted or tree(work) != (self.after, set()):
            problems.append(f"a second run: exit {again.returncode}, {self.differs(work)}: {again.stderr.decode()}")
        if wanted == 2 and b"do" not in again.stderr:
            problems.append(f"a second run does not say what to type: {again.stderr.decode()}")
        return problems

    def differs(self, work):
        now, left = tree(work)
        paths = sorted(path for path in now.keys() | self.after.keys() if now.get(path) != self.after.get(path))
        return f"differs in {paths[:5]}, left {left}"


def wait(r, kept, process):
    """Until the moment of the kill."""
    usual = sorted(kept.times)[1]
    if r.random() < 0.35:
        time.sleep(r.uniform(0, 0.9 * usual))
        return
    trace = os.path.join(kept.work, kept.case.trace)
    until = time.monotonic() + 30
    while not os.path.lexists(trace) and process.poll() is None and time.monotonic() < until:
        pass
    time.sleep(r.choice([0, r.uniform(0, 0.0005), r.uniform(0, 0.003), r.uniform(0, usual / 3)]))


def strike(r, kept):
    """One kill: (how it ended, problems)."""
    work = kept.fresh()
    process = subprocess.Popen([kept.slipmark, "--today", TODAY, *kept.case.args], cwd=work, env=environment(work),
                               stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # fmt: skip
    wait(r, kept, process)
    process.kill()
    landed = process.wait() == -signal.SIGKILL
    problems = []
    now, left = tree(work)
    aside = any(path.endswith(".old") for path in left)
    for path in sorted(now.keys() | kept.before.keys()):
        if aside and path not in now and path.startswith("out/site/"):
            continue
        if now.get(path) not in (kept.before.get(path), kept.after.get(path)):
            problems.append(f"{path} is neither as it was nor as intended")
    if left and not kept.case.trace.endswith(".part"):
        problems.append(f"left over: {left}")
    strangers = [name for name in staged(work) if not STAGED.fullmatch(name)]
    if strangers:
        problems.append(f"left over in git's folder: {strangers}")
    inside = tuple(path + "/" for path in left) + (os.path.join("example", ""),) * ("demo" in kept.case.name)
    more = {path for path in shown(work) - kept.shown if not path.startswith(inside)}
    if more and now != kept.before:
        problems.append(f"git status shows {sorted(more)}")
    outcome = "not landed" if not landed else "untouched" if now == kept.before and not left and not staged(work) else (
        "all written" if now == kept.after and not left else "in part"
    )  # fmt: skip
    answer = program(kept.slipmark, work, ["check"])
    if answer.returncode not in (0, 1, 2) or b"panicked" in answer.stderr:
        problems.append(f"check: exit {answer.returncode}: {answer.stderr.decode()[-500:]}")
    again = program(kept.slipmark, work, kept.case.args)
    whole = tree(work) == (kept.after, set())
    done = again.returncode == 0 or (again.returncode == 2 and now == kept.after and kept.case.again == "refused")
    if not whole or not done:
        problems.append(f"run again: exit {again.returncode}, {kept.differs(work)}: {again.stderr.decode()}")
    elif kept.case.name.startswith("demo"):
        folder = os.path.join(work, kept.case.args[1])
        if git(folder, "status", "--porcelain") or len(git(folder, "log", "--format=%h").split()) < 5:
            problems.append("run again: the example's repository is not whole")
    return outcome, problems


def strike_in_time(r, kept):
    """A kill that came too late tests nothing, and is tried again."""
    for _ in range(TRIES):
        outcome, problems = strike(r, kept)
        if outcome != "not landed" or problems:
            break
    return outcome, problems


def work(job):
    slipmark, index, seed, count = job
    case = CASES[index]
    top = tempfile.mkdtemp(prefix="kill-")
    try:
        kept = Kept(slipmark, case, top)
        if kept.problems:
            return index, [("undisturbed", kept.problems)]
        found = []
        for n in range(count):
            found.append(strike_in_time(random.Random(f"{seed} {case.name} {n}"), kept))
        return index, found
    finally:
        shutil.rmtree(top, ignore_errors=True)


def main():
    parser = argparse.ArgumentParser(description="kill what writes, and look at what is left")
    parser.add_argument("--slipmark", required=True, help="path of the program")
    parser.add_argument("--count", type=int, default=400, help="kills in all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", help="the case of this name alone")
    parser.add_argument("--show", type=int, default=3, help="how many failures of each case to print")
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args()
    slipmark = os.path.abspath(args.slipmark)
    cases = [n for n, case in enumerate(CASES) if args.only in (None, case.name)]
    if not cases:
        sys.exit(f"no case is called {args.only}; there are: {', '.join(case.name for case in CASES)}")
    each = -(-args.count // len(cases))
    passed = failed = inside = 0
    with multiprocessing.Pool(args.workers) as pool:
        for index, found in pool.imap(work, [(slipmark, n, args.seed, each) for n in cases]):
            case, printed = CASES[index], 0
            counts = collections.Counter(outcome for outcome, _ in found)
            print(f"  {case.name:28} " + ", ".join(f"{n} {outcome}" for outcome, n in sorted(counts.items())))
            landed = sum(n for outcome, n in counts.items() if outcome not in ("not landed", "undisturbed"))
            inside += landed
            if landed < each / 4:
                failed += 1
                print(f"FAILED: {case.name}: only {landed} of {each} kills landed while it ran")
            for outcome, problems in found:
                failed, passed = (failed + 1, passed) if problems else (failed, passed + 1)
                if problems and printed < args.show:
                    printed += 1
                    print(f"FAILED: {case.name}, {outcome}:\n    " + "\n    ".join(problems))
    print(f"{inside} kills landed while the command ran")
    print(f"{passed} passed, {failed} failed, 0 skipped")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
