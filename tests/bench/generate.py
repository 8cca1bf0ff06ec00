"""Makes a large repository: N requirements and 2 N records in folders of a hundred, nearly everything closed; invented.

  python3 tests/bench/generate.py DIR [--requirements 1000] [--commits 500]

Four commits; an annotated tag at the first, a few files changed by each of the others. With --commits so many more on
top, each of which changes one to three files as people do: a limit, a word, a due date, a note; some name a decision.
"""

import argparse
import datetime
import os
import random
import re
import subprocess
import sys
from decimal import Decimal

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "mutation"))

import fixture  # noqa: E402
import files  # noqa: E402  (beside the judge)
from files import AUTO  # noqa: E402
from fixture import thing  # noqa: E402

PROSE = """
## Rationale

The margin is asked because the stem seal stiffens when it is cold, and nobody has measured by how much on this
lot of rings. The limit was taken from the gear maker's sheet and a reserve on top of it; see the trade study.

## Notes

- Measured at the output shaft, after the coupling, in the direction that is harder.
- The stand's own friction is taken off; it is measured before each run.
"""


def items(count):
    found = [thing("item", "STAND", "tree/stand.md", "The stand.\n")]
    for n in range(count):
        serials = [{"number": "SN01", "use": "qualification"}, {"number": "SN02"}]
        found.append(thing("item", f"IT-{n:03}", f"tree/it-{n:03}.md", "A piece.\n", assembly="STAND", revision="B",
                           revisions=[{"revision": "B", "date": datetime.date(2025, 1, 2)}], serials=serials))  # fmt: skip
    return found


def requirement(n, item, event):
    entries = [
        {"method": "analysis", "before": event, "criteria": ["margin"]},
        {"method": "test", "stage": "acceptance", "procedure": f"TP-{n % 20:02}", "before": event},
    ]
    body = f"The piece {n} shall develop at least 1.5 times the torque\nrequired to move it through its full travel at cold soak.\n{PROSE}"
    criteria = {"margin": {"min": Decimal("0.5"), "at": {"body": {"max": "95 K"}}}, "travel": {"max": "2 s"}}
    return thing("requirement", f"REQ-{n:05}", f"reqs/{n // 100:03}/req-{n:05}.md", body, source="invented", applies_to=item, owner=f"owner {n % 7}",
                 safety=n % 5 == 0, criteria=criteria, verify=entries)  # fmt: skip


def record(kind, n, item, r):
    results = {"margin": f"{r.randrange(70, 99) / 100:.2f} ± 0.08"}
    keys = {"performed_by": "test conductor", "witnessed_by": "pad chief", "conditions": {"body": "90 ± 1 K"}, "revision": "B"}
    if kind == "test":
        results["travel"] = f"{r.randrange(10, 17) / 10} ± 0.1 s"
        keys |= {"serial": f"{item}/SN02", "stage": "acceptance", "procedure": f"TP-{n % 20:02}", "procedure_revision": "2", "instruments": ["TQ-01"]}
    else:
        results["travel"] = "1.5 ± 0.1 s"
        keys |= {"item": item}
    date = datetime.date(2026, 1, 5) + datetime.timedelta(days=r.randrange(90))
    id = f"{'TR' if kind == 'test' else 'AN'}-{n:05}"
    return thing(kind, id, f"records/{n // 100:03}/{id.lower()}.md", "Notes of the run.\n" + PROSE, date=date, **keys, status="signed", seal=AUTO,
                 verifies={f"REQ-{n:05}": {"mark": AUTO, "results": results, "outcome": dict.fromkeys(results, "met")}})  # fmt: skip


def project(count, seed=1):
    r = random.Random(seed)
    pieces = max(2, count // 50)
    events = ["leak-check", "cold-shock", "hot-fire"]
    things = items(pieces)
    things += [thing("procedure", f"TP-{n:02}", f"procedures/tp-{n:02}.md", "Steps.\n", revision="2", status="released", instruments=["TQ-01"]) for n in range(20)]
    for n in range(count):
        item = f"IT-{n % pieces:03}"
        things.append(requirement(n, item, events[n % 3]))
        things.append(record("analysis", n, item, r))
        if n % 97:  # a few rows stay open
            things.append(record("test", n, item, r))
        else:
            things.append(record("test", n, item, r) | {"status": "draft"})
    return {
        "config": {"name": "Large", "conformity": {"rule": "guarded"}, "events": events},
        "parameters": {},
        "instruments": {"TQ-01": {"what": "torque cell", "calibrations": [{"on": datetime.date(2026, 1, 2), "due": datetime.date(2026, 12, 30)}]}},
        "things": things,
        "attachments": {},
    }  # fmt: skip


def edit(r, text):
    """One change of the sort that people make to a requirement or a record; none if this one has no place for it."""
    kind = r.randrange(6)
    if kind == 0:
        return re.sub(rb"min = 0\.\d+", b"min = 0.%02d" % r.randrange(30, 70), text, count=1)
    if kind == 1:
        return re.sub(rb'max = "\d+(\.\d+)? s"', b'max = "%d.%d s"' % (r.randrange(2, 4), r.randrange(10)), text, count=1)
    if kind == 2:
        return re.sub(rb'before = "[a-z-]+"', b'before = "%s"' % r.choice([b"leak-check", b"cold-shock", b"hot-fire"]), text, count=1)
    if kind == 3:
        return re.sub(rb"full travel( of \d+ degrees)?", b"full travel of %d degrees" % r.randrange(80, 100), text, count=1)
    if kind == 4:
        return text + b"- Looked at again with lot %d.\n" % r.randrange(10000)
    return re.sub(rb"reserve( of \d+ %)? on top", b"reserve of %d %% on top" % r.randrange(10, 60), text, count=1)


def campaign(folder, count, seed=1):
    """So many commits on top of what is there, written in one go."""
    r = random.Random(seed)
    paths = [os.path.relpath(os.path.join(top, name), folder) for part in ("reqs", "records") for top, _, names in os.walk(os.path.join(folder, part)) for name in names]
    paths.sort()
    held = {}
    stream = []
    for n in range(count):
        files = []
        while not files:
            for path in r.sample(paths, r.randrange(1, 4)):
                if path not in held:
                    with open(os.path.join(folder, path), "rb") as file:
                        held[path] = file.read()
                new = edit(r, held[path])
                if new != held[path]:
                    held[path] = new
                    files.append(path)
        message = f"Change {', '.join(os.path.basename(path)[:-3] for path in files)}\n\nThe run of last week says so, and nobody could say why not.\n"
        if n % 10 == 0:
            message += f"\nDecision: D-{n // 10:04}\n"
        who = f"Responsible engineer <engineer@example.org> {1767600000 + 3600 * n} +0100"
        stream.append(f"commit refs/heads/main\nauthor {who}\ncommitter {who}\ndata {len(message.encode())}\n{message}".encode())
        if n == 0:
            stream.append(b"from refs/heads/main^0\n")
        for path in files:
            stream.append(f"M 100644 inline {path}\ndata {len(held[path])}\n".encode() + held[path] + b"\n")
    subprocess.run(["git", "fast-import", "--quiet"], cwd=folder, input=b"".join(stream), check=True)
    fixture.git(folder, "reset", "-q", "--hard")


def build(folder, count, commits):
    os.makedirs(folder)
    fixture.git(folder, "init", "-q", "-b", "main")
    fixture.git(folder, "config", "gc.auto", "0")  # once, at the end
    for path, data in files.texts(files.finish(project(count))).items():
        full = os.path.join(folder, path)
        os.makedirs(os.path.dirname(full), exist_ok=True)
        with open(full, "wb") as file:
            file.write(data)
    fixture.git(folder, "add", "-A")
    fixture.git(folder, "commit", "-q", "-m", "Baseline")
    fixture.git(folder, "tag", "-a", "PDR", "-m", "Review")
    for n in range(3):
        for k in range(5):
            number = n * 7 + k
            with open(os.path.join(folder, f"reqs/000/req-{number:05}.md"), "a", encoding="utf-8") as file:
                file.write(f"\nLooked at again, {n}.\n")
        fixture.git(folder, "commit", "-qam", f"Say more about {n}")
    if commits:
        campaign(folder, commits)
    fixture.git(folder, "gc", "-q")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="make a large project")
    parser.add_argument("folder")
    parser.add_argument("--requirements", type=int, default=1000)
    parser.add_argument("--commits", type=int, default=0)
    args = parser.parse_args()
    build(args.folder, args.requirements, args.commits)
