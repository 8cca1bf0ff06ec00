"""Reads public requirement tables with history, and compares what the program says of them with a plain reading.

  SLIPMARK_PUBLIC_DATA=DIR python3 tests/public/run.py --slipmark target/debug/slipmark

The tables: functional requirements of NASA flight-software applications (repositories nasa/CS, DS, FM, HK, LC, MD, MM and SC, file
docs/<name>_FunctionalRequirements.csv at each commit that changed it; Apache-2.0). They are not part of this project: the environment
says where they are, and without it this test says that it was skipped. Each table becomes a repository with one commit for each
revision and one file for each requirement.
"""

import argparse
import csv
import json
import os
import re
import subprocess
import sys
import tempfile

GIT = {"GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_SYSTEM": os.devnull, "GIT_AUTHOR_NAME": "tester", "GIT_AUTHOR_EMAIL": "t@example.invalid",
       "GIT_COMMITTER_NAME": "tester", "GIT_COMMITTER_EMAIL": "t@example.invalid"}  # fmt: skip
TABLES = 8
TODAY = "2026-06-15"


class Tally:
    def __init__(self):
        self.passed, self.failed, self.skipped = 0, 0, 0

    def check(self, good, said):
        if good:
            self.passed += 1
        else:
            self.failed += 1
            print(f"FAILED: {said}")

    def skip(self, said):
        self.skipped += 1
        print(f"skipped: {said}")


# ---- the independent reader and the writer -----------------------------------------------------------------------------------


def read(path):
    """{id: row} of one revision of a table."""
    with open(path, newline="", encoding="utf-8") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


HEADING = re.compile(r"^( {0,3})(#{1,6}(?:[ \t]|$)|=+[ \t]*$|-+[ \t]*$)")


def escaped(text):
    """Text that Markdown would take for a heading gets a backslash, and nothing else is touched (CommonMark 0.31.2, 2.4 and 4.2-4.3)."""
    return "\n".join(HEADING.sub(r"\1\\\2", line) for line in text.split("\n"))


def unescaped(text):
    return "\n".join(re.sub(r"^( {0,3})\\(?=[#=-])", r"\1", line) for line in text.split("\n"))


def quoted(text):
    return json.dumps(text, ensure_ascii=False)


def file_of(row, table):
    parents = [one for one in re.split(r"[,;\s]+", row["parent"]) if one in table]
    origin = f"parents = [{', '.join(map(quoted, parents))}]" if parents else f"source = {quoted('the public table')}"
    head = f'+++\nkind = "requirement"\nid = {quoted(row["id"])}\ntitle = {quoted(row["title"])}\n{origin}\n+++\n'
    rationale = f"\n\n## Rationale\n\n{row['rationale']}\n" if row["rationale"].strip() else "\n"
    return head + escaped(row["text"]) + rationale


def make_repository(folder, revisions):
    """One commit for each revision; the commits' ids, oldest first."""

    def git(*args, **more):
        return subprocess.run(["git", "-C", folder, *args], env={**os.environ, **GIT, **more}, check=True, capture_output=True, text=True).stdout

    git("init", "-q", "-b", "main")
    with open(os.path.join(folder, "slipmark.toml"), "w", encoding="utf-8") as file:
        file.write('name = "Public table"\nevents = ["release"]\n')
    os.makedirs(os.path.join(folder, "reqs"))
    commits, before = [], {}
    for name, table in revisions:
        for id in before.keys() - table.keys():
            os.remove(os.path.join(folder, "reqs", id + ".md"))
        for id, row in table.items():
            with open(os.path.join(folder, "reqs", id + ".md"), "w", encoding="utf-8", newline="") as file:
                file.write(file_of(row, table))
        date = re.search(r"\d{4}-\d\d-\d\d", name)[0] + "T12:00:00+00:00"
        git("add", "-A")
        git("commit", "-q", "--allow-empty", "-m", f"Revision {name}", GIT_AUTHOR_DATE=date, GIT_COMMITTER_DATE=date)
        commits.append(git("rev-parse", "HEAD").strip())
        before = table
    return commits


# ---- asking -------------------------------------------------------------------------------------------------------------------


class Asked:
    def __init__(self, program, folder, *args, form="json"):
        command = [program, *args, "--today", TODAY, *(["--format", form] if form else [])]
        done = subprocess.run(command, cwd=folder, env={**os.environ, **GIT}, capture_output=True, timeout=120, check=False)
        self.code, self.out, self.err = done.returncode, done.stdout.decode(), done.stderr.decode()
        self.json = json.loads(self.out) if form == "json" and self.out.strip() else None


def knows(program, command):
    return subprocess.run([program, command, "--help"], capture_output=True, check=False).returncode == 0


def same_statements(tally, rows, table, where):
    said = {row["requirement"]: row["statement"] for row in rows}
    tally.check(said.keys() == table.keys(), f"{where}: ids differ: {sorted(said.keys() ^ table.keys())[:5]}")
    for id in said.keys() & table.keys():
        tally.check(unescaped(said[id]) == table[id]["text"].strip(), f"{where}: statement of {id}: {said[id]!r}")


def plain(text):
    return " ".join(text.split())


def compare_changes(tally, answer, old, new, where):
    """Added, removed and changed ids of one step against the two tables."""
    said = {}
    for change in answer["changes"]:
        said.setdefault(change["change"], set()).add(change["id"])
    both = old.keys() & new.keys()
    reworded = {id for id in both if plain(old[id]["text"]) != plain(new[id]["text"])}
    tally.check(said.get("added", set()) == new.keys() - old.keys(), f"{where}: added {said.get('added')}")
    tally.check(said.get("removed", set()) == old.keys() - new.keys(), f"{where}: removed {said.get('removed')}")
    tally.check(said.get("revised", set()) == reworded, f"{where}: revised {sorted(said.get('revised', set()) ^ reworded)} differ")
    for change in answer["changes"]:
        if change["change"] == "revised" and change["id"] in both:
            pair = change["statement"] or {"from": None, "to": None}
            right = [old[change["id"]]["text"].strip(), new[change["id"]]["text"].strip()]
            tally.check([unescaped(pair["from"] or ""), unescaped(pair["to"] or "")] == right, f"{where}: words of {change['id']}")
    touched = {id for id in both if file_of(old[id], old) != file_of(new[id], new)}
    listed = set().union(*said.values()) & both if said else set()
    tally.check(listed == touched, f"{where}: listed and touched differ: {sorted(listed ^ touched)}")


def one_table(tally, program, name, folder, revisions):
    commits = make_repository(folder, revisions)
    newest = revisions[-1][1]
    matrix = Asked(program, folder, "matrix")
    tally.check(matrix.code == 0, f"{name}: matrix: exit {matrix.code}: {matrix.err[-300:]}")
    same_statements(tally, matrix.json["rows"], newest, f"{name}: matrix")
    for commit, (revision, table) in zip(commits, revisions):
        past = Asked(program, folder, "matrix", "--at", commit)
        same_statements(tally, past.json["rows"], table, f"{name} at {revision}")
    before = Asked(program, folder, "before", "release")
    tally.check(before.code == 1 and before.json["verdict"] == "open", f"{name}: before: exit {before.code}")
    gone = set().union(*(table.keys() for _, table in revisions)) - newest.keys()
    vanished = {fault["code"] for fault in before.json["faults"]}
    tally.check(vanished <= ({"vanished"} if gone else set()), f"{name}: faults: {before.json['faults'][:2]}")
    checked = Asked(program, folder, "check")
    tally.check(checked.code == (1 if gone else 0) and checked.json is not None, f"{name}: check: exit {checked.code}: {checked.out[:300]}{checked.err[-300:]}")
    for form in ("text", "markdown", "csv"):
        answer = Asked(program, folder, "matrix", form=form)
        tally.check(answer.code == 0 and all(id in answer.out for id in newest), f"{name}: matrix as {form}")
    if knows(program, "show"):
        for id, row in newest.items():
            answer = Asked(program, folder, "show", id)
            good = answer.code == 0 and answer.json["id"] == id and unescaped(answer.json["statement"]) == row["text"].strip()
            tally.check(good, f"{name}: show {id}: exit {answer.code}")
    if knows(program, "changes"):
        for at in range(1, len(revisions)):
            answer = Asked(program, folder, "changes", f"{commits[at - 1]}..{commits[at]}")
            where = f"{name}: changes to {revisions[at][0]}"
            tally.check(answer.code == 0, f"{where}: exit {answer.code}: {answer.err[-300:]}")
            if answer.json:
                compare_changes(tally, answer.json, revisions[at - 1][1], revisions[at][1], where)
    if knows(program, "history"):
        for id in list(newest)[:20]:
            texts = [plain(table[id]["text"]) for _, table in revisions if id in table]
            distinct = 1 + sum(a != b for a, b in zip(texts, texts[1:]))
            answer = Asked(program, folder, "history", id)
            good = answer.code == 0 and answer.json["id"] == id and len(answer.json["revisions"]) >= distinct
            tally.check(good, f"{name}: history {id}: exit {answer.code}, at least {distinct} revisions")


def self_check(tally):
    """The writer must not change what it need not, and must be undone exactly."""
    hostile = "# one\nplain # two\n  ## three\n---\n===\n- item\n-\n#hash\n1. list\n    # code\n"
    tally.check(unescaped(escaped(hostile)) == hostile, "the writer's escapes are undone exactly")
    tally.check(escaped("a\n- b\n#c\n1. d") == "a\n- b\n#c\n1. d", "the writer touches nothing without need")


def main():
    parser = argparse.ArgumentParser(description="compare the program with public requirement tables")
    parser.add_argument("--slipmark", required=True)
    args = parser.parse_args()
    program, data, tally = os.path.abspath(args.slipmark), os.environ.get("SLIPMARK_PUBLIC_DATA"), Tally()
    self_check(tally)
    if not data or not os.path.isdir(data):
        tally.skip("the public tables: SLIPMARK_PUBLIC_DATA names no folder")
    else:
        for command in ("show", "changes", "history"):
            if not knows(program, command):
                tally.skip(f"{command}: the program does not have it yet")
        tables = sorted(name for name in os.listdir(data) if os.path.isdir(os.path.join(data, name)))
        tally.check(len(tables) == TABLES, f"{len(tables)} tables, {TABLES} expected")
        for name in tables:
            paths = sorted(os.listdir(os.path.join(data, name)))
            revisions = [(path, read(os.path.join(data, name, path))) for path in paths]
            with tempfile.TemporaryDirectory(prefix="public-") as folder:
                one_table(tally, program, name, folder, revisions)
    print(f"{tally.passed} passed, {tally.failed} failed, {tally.skipped} skipped")
    return 1 if tally.failed else 0


if __name__ == "__main__":
    sys.exit(main())
