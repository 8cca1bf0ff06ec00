"""Holds what the program says as JSON against the published schemas, on real projects.

  python3 tests/schemas/run.py --slipmark target/debug/slipmark

The schemas are draft 2020-12 (https://json-schema.org/draft/2020-12/schema) and let fields be added; here every field that the program
writes must stand in its schema too, so that none is published unseen.
"""

import argparse
import copy
import functools
import json
import multiprocessing
import os
import re
import shutil
import subprocess
import sys
import tempfile

import jsonschema

HERE = os.path.dirname(os.path.abspath(__file__))
TOP = os.path.join(HERE, "..", "..")
sys.path.insert(0, os.path.join(HERE, "..", "mutation"))

import fixture  # noqa: E402

SCHEMAS = os.path.join(TOP, "src", "report", "schemas")


def load():
    found = {}
    for name in sorted(os.listdir(SCHEMAS)):
        with open(os.path.join(SCHEMAS, name), encoding="utf-8") as file:
            found[name.removesuffix(".json")] = json.load(file)
    return found


def strict(schema):
    """The same, with no field allowed that it does not name."""
    if isinstance(schema, dict):
        closed = {key: (value if key in ("if", "then", "else", "allOf") else strict(value)) for key, value in schema.items()}
        if closed.get("type") == "object" and "properties" in closed:
            closed.setdefault("additionalProperties", False)
        return closed
    return [strict(one) for one in schema] if isinstance(schema, list) else schema


class Question:
    """One command line in one folder; where it may fail, it may end with 2 and say nothing on the output."""

    def __init__(self, folder, *args, may_fail=False):
        self.folder, self.args, self.may_fail = folder, args, may_fail


@functools.cache
def validator(command):
    return jsonschema.Draft202012Validator(strict(load()[command]))


def ask(job):
    """(answer, what is wrong with it) of one question; neither if it has none and need not have one."""
    program, question = job
    command = [program, *question.args, "--format", "json"]
    environment = {**os.environ, **fixture.GIT_ENV}
    done = subprocess.run(command, cwd=question.folder, env=environment, capture_output=True, timeout=120, check=False)
    if question.may_fail and done.returncode == 2 and not done.stdout:
        return None, None
    where = f"{' '.join(question.args)} in {os.path.basename(question.folder)}"
    try:
        answer = json.loads(done.stdout)
    except ValueError:
        return None, f"{where}: exit {done.returncode}, no JSON: {done.stderr[-300:]}"
    errors = [f"{error.json_path}: {error.message[:200]}" for error in validator(question.args[0]).iter_errors(answer)]
    return answer, f"{where}: {errors[:4]}" if errors else None


class Run:
    def __init__(self, program):
        self.program, self.passed, self.failed, self.skipped = program, 0, 0, 0
        self.schemas = load()
        self.seen = {}
        self.questions = []

    def check(self, good, said):
        self.passed += bool(good)
        self.failed += not good
        if not good:
            print(f"FAILED: {said}")

    def commands(self):
        """Those that the program's own help lists."""
        said = self.help()
        return re.findall(r"^  ([a-z]+)  +\S", said.split("Without a command", 1)[0], re.M)

    def help(self, *command):
        return subprocess.run([self.program, *command, "--help"], capture_output=True, check=True, encoding="utf-8").stdout

    @property
    def speaks(self):
        """The commands that offer JSON."""
        return {command for command in self.commands() if re.search(r"--format[^-]*json", self.help(command))}

    def ask(self, folder, *args, may_fail=False):
        """Asks for one answer, which there must be unless it may fail."""
        self.questions.append(Question(folder, *args, may_fail=may_fail))

    def answers(self):
        """Has the program answer everything that was asked, some at a time, and validates each answer."""
        with multiprocessing.Pool((os.cpu_count() or 2) + 1) as pool:
            jobs = ((self.program, question) for question in self.questions)
            for question, (answer, wrong) in zip(self.questions, pool.imap(ask, jobs, chunksize=4)):
                if answer is not None:
                    self.seen.setdefault(question.args[0], []).append(answer)
                if answer is not None or wrong:
                    self.check(not wrong, wrong)


HELD = """+++
kind = "event"
id = "EV-101"
title = "Leak check of SN02"
event = "leak-check"
date = 2026-05-04
outcome = "completed"
serials = ["MOV/SN02"]
procedure = "TP-02"
uses.cycles = 3
note = "calm"
+++
"""


WORN = """+++
kind = "item"
id = "SEAL"
title = "Stem seal"
life.cycles = { limit = 12, note = "by its maker" }
life.shelf = { limit = "1095 d", counted = "age" }

[[serials]]
number = "S1"
built = 2025-11-02
used.cycles = 2

[[serials]]
number = "S2"

[[serials.reworked]]
date = 2026-04-02
reason = "new lips"
resets = ["cycles", "shelf"]
+++
"""


def lapses(root):
    """Lets tests that are planned on one line lapse, a long time from now, and asks for them again after an event. Before an event with
    a day it is known what will have lapsed, so that here they have none."""
    settings = os.path.join(root, "slipmark.toml")
    with open(settings, encoding="utf-8") as file:
        lines = file.readlines()
    with open(settings, "w", encoding="utf-8") as file:
        file.writelines(line for line in lines if not line.startswith("date = "))
    for folder, _, files in os.walk(os.path.join(root, "requirements")):
        for path in (os.path.join(folder, name) for name in files):
            with open(path, encoding="utf-8") as file:
                text = file.read()
            more = 'method = "test", valid_for = "9999 d", again_after = "cold-shock",'
            with open(path, "w", encoding="utf-8") as file:
                file.write(text.replace('method = "test",', more))


def projects(folder, program):
    """(folder, events, ranges, commits to ask about, today) of each project: the example as it is here, the same with its history
    and with edits that are not committed, one that is broken, one without any commit, and the closed fixture."""
    closed = os.path.join(folder, "closed")
    os.makedirs(closed)
    fixture.build(closed)
    example = os.path.join(folder, "example")
    subprocess.run(["cp", "-r", os.path.join(TOP, "reqs"), example], check=True)
    fixture.git(example, "init", "-q", "-b", "main")
    fixture.git(example, "add", "-A")
    fixture.git(example, "commit", "-q", "-m", "Example")
    broken = os.path.join(folder, "broken")
    subprocess.run(["cp", "-r", example, broken], check=True)
    with open(os.path.join(broken, "new.md"), "w", encoding="utf-8") as file:
        file.write('+++\nkind = "requirement"\nid = "NEW-1"\ntitle = "New"\nstatus = "draft"\n+++\nTBD.\n')
    with open(os.path.join(broken, "bad.md"), "w", encoding="utf-8") as file:
        file.write('+++\nkind = "requirement\n+++\n')
    past = os.path.join(folder, "past")
    quiet = {"check": True, "stdout": subprocess.DEVNULL}
    subprocess.run([program, "demo", past], **quiet)
    edited = os.path.join(past, "requirements", "actuator", "ACT-010.md")
    with open(edited, encoding="utf-8") as file:
        text = file.read()
    with open(edited, "w", encoding="utf-8") as file:
        file.write(text.replace("min = 0.5", "min = 0.6"))
    os.remove(os.path.join(past, "records", "TR-010.md"))
    lapses(past)
    os.makedirs(os.path.join(past, "events"), exist_ok=True)
    with open(os.path.join(past, "events", "EV-101.md"), "w", encoding="utf-8") as file:
        file.write(HELD)
    with open(os.path.join(past, "items", "SEAL.md"), "w", encoding="utf-8") as file:
        file.write(WORN)
    first = os.path.join(folder, "first")
    subprocess.run([program, "init", first], **quiet)
    return [
        (os.path.join(closed, fixture.PROJECT), ["leak-check", "hot-fire"], ["HEAD~1..HEAD"], ["HEAD~1"], fixture.TODAY),
        (example, ["leak-check", "cold-shock", "cold-flow", "hot-fire"], ["HEAD..HEAD"], [], "2026-11-25"),
        (broken, ["hot-fire"], ["HEAD..HEAD", "HEAD"], [], "2026-11-25"),
        (past, ["leak-check", "hot-fire"], ["PDR..HEAD", "TRR-1..PDR", "PDR"], ["PDR", "TRR-1"], "2026-11-25"),
        (first, ["leak-check"], [], [], "2026-11-25"),
    ]


def names(root):
    """Ids of all things, pieces, events, parameters and instruments, as they stand in the files."""
    found = []
    for folder, _, files in os.walk(root):
        for name in files:
            if not name.endswith((".md", ".toml")):
                continue
            with open(os.path.join(folder, name), encoding="utf-8") as file:
                text = file.read()
            own = re.findall(r'^id = "([^"]*)"', text, re.M)
            found += own
            if 'kind = "item"' in text:
                found += [f"{own[0]}/{number}" for number in re.findall(r'^number = "([^"]*)"', text, re.M)]
                found += [f"{own[0]}/{number}" for line in re.findall(r"^serials = (.*)", text, re.M) for number in re.findall('"([^"]*)"', line)]
            if name in ("parameters.toml", "instruments.toml"):
                found += re.findall(r"^\[([^\[\].]*)\]", text, re.M)
            if name == "slipmark.toml":
                found += re.findall(r'^name = "([^"]*)"', text, re.M)[1:]
    return sorted(set(found))


def kinds(root):
    """The kind of each id, as it stands in the files."""
    found = {}
    for folder, _, files in os.walk(root):
        for name in (name for name in files if name.endswith(".md")):
            with open(os.path.join(folder, name), encoding="utf-8") as file:
                text = file.read()
            kind, own = (re.search(rf'^{key} = "([^"]*)"', text, re.M) for key in ("kind", "id"))
            if kind and own:
                found[own[1]] = kind[1]
    return found


def shared_parts(run):
    """A part that several schemas have is the same in each."""
    parts = {}
    for name, schema in run.schemas.items():
        jsonschema.Draft202012Validator.check_schema(schema)
        for part, content in schema.get("$defs", {}).items():
            first, known = parts.setdefault(part, (name, content))
            run.check(known == content, f"`{part}` differs between {first} and {name}")


def refuses(run):
    """A schema that accepts anything would prove nothing: each must refuse an answer with any required field gone."""
    for command, answers in run.seen.items():
        schema = run.schemas[command]
        for field in schema["required"] + schema.get("then", {}).get("required", []):
            less = copy.deepcopy(answers[0])
            less.pop(field, None)
            run.check(not jsonschema.Draft202012Validator(schema).is_valid(less), f"{command}: `{field}` may be left out")


def packets(run, root, folder):
    """Packets of every sort, and whether each holds: as it was made, and altered."""
    command = [run.program, "--today", fixture.TODAY, "packet", "hot-fire"]
    for ending in ["html", "xlsx"]:
        subprocess.run([*command, "-o", os.path.join(folder, f"held.{ending}")], cwd=root, check=True, capture_output=True)
        run.ask(root, "packet", "--verify", os.path.join(folder, f"held.{ending}"))
    site = os.path.join(folder, "held")
    subprocess.run([*command, "--site", site], cwd=root, check=True, capture_output=True)
    run.ask(root, "packet", "--verify", site)
    harmed = os.path.join(folder, "harmed")
    shutil.copytree(site, harmed)
    with open(os.path.join(harmed, "index.html"), "a", encoding="utf-8") as page:
        page.write("more")
    run.ask(root, "packet", "--verify", harmed)


def main():
    parser = argparse.ArgumentParser(description="hold JSON output against the published schemas")
    parser.add_argument("--slipmark", required=True)
    run = Run(os.path.abspath(parser.parse_args().slipmark))
    shared_parts(run)
    with tempfile.TemporaryDirectory(prefix="schemas-") as folder:
        for root, events, ranges, commits, today in projects(folder, run.program):
            for asked in [["--today", today]] + [["--at", commit] for commit in commits]:
                run.ask(root, "matrix", *asked)
                run.ask(root, "check", *asked)
                run.ask(root, "check", "--notes", *asked)
                run.ask(root, "before", *asked)
                for event in events:
                    run.ask(root, "before", event, *asked)
                    run.ask(root, "before", event, "--next", *asked)
                    run.ask(root, "before", event, "--by", "owner", "--only", "no-evidence", *asked)
            for pace in [[], ["--by", "commit"], ["--by", "day"], ["--by", "week"]]:
                run.ask(root, "trend", events[-1], *pace, "--today", today, may_fail=True)
            for span in ranges:
                run.ask(root, "changes", span, "--today", today)
            kind = kinds(root)
            for name in names(root):
                run.ask(root, "show", name, "--today", today)
                # Nothing hangs from a decision, only a slot has options, and only an item a revision to be.
                run.ask(root, "impact", name, "--today", today, may_fail=True)
                if kind.get(name) == "item":
                    run.ask(root, "impact", name, "--revision", "Z", "--today", today, may_fail=True)
                if kind.get(name) == "slot":
                    run.ask(root, "concepts", name, "--today", today, may_fail=True)
                if "/" not in name:
                    run.ask(root, "history", name, "--today", today, may_fail=True)
            pieces = [["--serial", name] for name in names(root) if "/" in name]
            for procedure in [name for name in names(root) if name.startswith("TP-")]:
                for piece in [[], *pieces]:
                    run.ask(root, "sheet", procedure, *piece, "--today", today, may_fail=True)
        closed = os.path.join(folder, "closed", fixture.PROJECT)
        for more in [["AN-003"], ["AN-004", "--solve", "opening"], ["AN-004", "--what-if", "delay=2.5 ± 2 s", "--what-if", "M=31 N*m"], ["TR-011"]]:
            run.ask(closed, "calc", *more, "--today", fixture.TODAY)
        run.ask(folder, "calc", "-e", "T = (1.32 ± 0.08 N*m); k = 2.0(1) (nu=9); T * k to J/rad")
        run.ask(folder, "calc", "-e", "0.1 + 0.2 == 0.3")
        run.ask(folder, "calc", "-e", "x = [1 m, 2 ft]; x")
        run.ask(folder, "explain")
        run.ask(folder, "templates")
        packets(run, closed, folder)
        run.ask(folder, "explain", "not met", "failure-stands", "vanished", "placeholder")
        run.answers()
    for command in run.commands():
        run.check(command not in run.speaks or command in run.schemas, f"{command} --format json has no schema")
    for command in sorted(run.schemas):
        run.check(command in run.seen, f"{command}.json: no answer was held against it")
    run.check(any(answer["lapsing"] for answer in run.seen["before"]), "before: nothing lapses anywhere")
    refuses(run)
    print(f"{run.passed} passed, {run.failed} failed, {run.skipped} skipped")
    return 1 if run.failed else 0


if __name__ == "__main__":
    sys.exit(main())
