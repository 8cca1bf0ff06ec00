"""Makes a large repository: N requirements and 2 N records in folders of a hundred, nearly everything closed; invented.

  python3 tests/bench/generate.py DIR [--requirements 1000]

Four commits; an annotated tag at the first, a few files changed by each of the others.
"""

import argparse
import datetime
import os
import random
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


def build(folder, count):
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
    fixture.git(folder, "gc", "-q")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="make a large project")
    parser.add_argument("folder")
    parser.add_argument("--requirements", type=int, default=1000)
    args = parser.parse_args()
    build(args.folder, args.requirements)
