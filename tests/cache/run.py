"""What is kept between runs changes no answer: a small repository is edited at random, and asked with and without it.

  python3 tests/cache/run.py --slipmark target/debug/slipmark [--edits 1000] [--seed 1]

An edit changes, adds, removes, renames or withdraws a file; some keep its size and its time stamp. In between is everything that makes history:
commits, merges, tags, commits taken back, amended, and branches given up. What is kept is now and then deleted, cut off, or has a bit
turned; and asked for by two processes at once. Every so many edits each command is asked as it is and with --no-cache: both must print
the same and end the same. At the end it must have mattered: answers must have been of many sorts, and most of them from what was kept.
"""

import argparse
import hashlib
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time

ENV = {
    "PATH": os.environ["PATH"],
    "GIT_CONFIG_NOSYSTEM": "1",
    **{f"GIT_{who}_{what}": text for who in ("AUTHOR", "COMMITTER") for what, text in (("NAME", "engineer"), ("EMAIL", "engineer@example.org"))},
}
TODAY = "2026-06-16"
EVENTS = ["leak-check", "hot-fire"]
# What every file that is kept starts with, before its hash.
MAGIC = b"slipmark kept 1\n"
# How many edits lie between two questions.
APART = 12

PROJECT = """name = "Stand"
events = ["leak-check", "hot-fire"]
"""


def requirement(n, limit="0.5", more=""):
    return f"""+++
kind = "requirement"
id = "R-{n}"
title = "Margin {n}"
source = "invented"
applies_to = "MOV"
min = {limit}
before = "{EVENTS[n % 2]}"
verify = [{{ method = "analysis" }}]
{more}+++
The valve shall have a margin of at least {limit}, number {n}.
"""


def record(n, result="0.9", status="signed"):
    return f"""+++
kind = "analysis"
id = "AN-{n}"
title = "Margin {n}"
date = 2026-03-0{n % 9 + 1}
item = "MOV"
status = "{status}"
[verifies.R-{n}]
result = "{result} ± 0.1"
+++
Notes.
"""


ITEM = """+++
kind = "item"
id = "MOV"
title = "Valve"
+++
"""


class Repository:
    def __init__(self, folder, seed):
        self.folder, self.random, self.days, self.tags = folder, random.Random(seed), 0, 0
        os.makedirs(folder)
        self.git("init", "-q", "-b", "main")
        self.write("slipmark.toml", PROJECT)
        self.write("items/mov.md", ITEM)
        for n in range(1, 7):
            self.write(f"requirements/r-{n}.md", requirement(n))
            self.write(f"records/an-{n}.md", record(n))
        self.commit()

    def git(self, *args, fine=False):
        day = f"2026-0{self.days // 28 % 6 + 1}-{self.days % 28 + 1:02}T12:00:00+00:00"
        env = {**ENV, "HOME": self.folder, "GIT_AUTHOR_DATE": day, "GIT_COMMITTER_DATE": day}
        done = subprocess.run(["git", *args], cwd=self.folder, env=env, capture_output=True, encoding="utf-8", check=False)
        if done.returncode and not fine:
            sys.exit(f"git {' '.join(args)}: {done.stderr}")
        return done.stdout

    def path(self, name):
        return os.path.join(self.folder, name)

    def write(self, name, text):
        os.makedirs(os.path.dirname(self.path(name)), exist_ok=True)
        with open(self.path(name), "w", encoding="utf-8") as file:
            file.write(text)

    def files(self):
        found = []
        for top in ("requirements", "records"):
            for folder, _, names in os.walk(self.path(top)):
                found += [os.path.relpath(os.path.join(folder, name), self.folder) for name in names if name.endswith(".md")]
        return sorted(found)

    def commit(self, *more):
        self.days += self.random.randrange(3)
        self.git("add", "-A")
        self.git("commit", "-q", "--allow-empty", "-m", f"Commit {self.days}", *more)

    # ---- edits -----------------------------------------------------------------------------------------------------

    def edit(self):
        kinds = [(self.change, 8), (self.same_size, 6), (self.add, 4), (self.remove, 3), (self.rename, 2), (self.withdraw, 3), (self.spoil, 2)]
        self.random.choices([kind for kind, _ in kinds], [weight for _, weight in kinds])[0]()

    def some_file(self):
        files = self.files()
        return self.random.choice(files) if files else None

    def change(self):
        n = self.random.randrange(1, 13)
        if self.random.random() < 0.5:
            self.write(f"requirements/r-{n}.md", requirement(n, self.random.choice(["0.5", "0.6", "0.95"])))
        else:
            status = self.random.choice(["signed", "signed", "draft"])
            self.write(f"records/an-{n}.md", record(n, self.random.choice(["0.9", "0.4", "0.62"]), status))

    def same_size(self):
        """One digit is another, and nothing else that the system tells of the file."""
        name = self.some_file()
        if not name:
            return
        before = os.stat(self.path(name))
        with open(self.path(name), "rb+") as file:
            text = file.read()
            at = self.random.choice([at for at, byte in enumerate(text) if chr(byte).isdigit()] or [0])
            file.seek(at)
            file.write(str(self.random.randrange(1, 10)).encode())
        os.utime(self.path(name), ns=(before.st_atime_ns, before.st_mtime_ns))

    def add(self):
        n = self.random.randrange(20, 60)
        self.write(f"requirements/r-{n}.md", requirement(n))
        self.write(f"records/an-{n}.md", record(n))

    def remove(self):
        name = self.some_file()
        if name:
            os.remove(self.path(name))

    def rename(self):
        name = self.some_file()
        if name:
            new = os.path.join(os.path.dirname(name).split(os.sep)[0], f"moved-{self.random.randrange(9)}", os.path.basename(name))
            os.makedirs(os.path.dirname(self.path(new)), exist_ok=True)
            os.replace(self.path(name), self.path(new))

    def withdraw(self):
        n = self.random.randrange(1, 13)
        self.write(f"requirements/r-{n}.md", requirement(n, more='status = "withdrawn"\nreason = "not needed"\n'))

    def spoil(self):
        name = self.some_file()
        if name:
            with open(self.path(name), "r+", encoding="utf-8", errors="replace") as file:
                text = file.read()
                file.seek(0)
                file.write(text.replace("kind =", "kind ==", 1) if "kind ==" not in text else text.replace("kind ==", "kind =", 1))
                file.truncate()

    # ---- history ---------------------------------------------------------------------------------------------------

    def happen(self):
        kinds = [(self.commit, 10), (self.amend, 2), (self.take_back, 2), (self.merge, 2), (self.tag, 1), (self.branch, 1)]
        self.random.choices([kind for kind, _ in kinds], [weight for _, weight in kinds])[0]()

    def amend(self):
        self.commit("--amend")

    def take_back(self):
        self.git("reset", "-q", self.random.choice(["--hard", "--mixed"]), f"HEAD~{self.random.randrange(1, 4)}", fine=True)

    def branch(self):
        """Work is given up: the next commits go on from an earlier one."""
        self.commit()
        self.git("checkout", "-q", "-B", "main", f"HEAD~{self.random.randrange(0, 6)}", fine=True)

    def merge(self):
        self.commit()
        self.git("checkout", "-q", "-B", "side", f"HEAD~{self.random.randrange(0, 3)}", fine=True)
        for _ in range(2):
            self.edit()
            self.commit()
        self.git("checkout", "-q", "main")
        self.git("merge", "-q", "--no-ff", "-X", self.random.choice(["ours", "theirs"]), "-m", "Merge", "side", fine=True)
        if os.path.exists(self.path(".git/MERGE_HEAD")):
            self.commit()

    def tag(self):
        self.commit()
        self.tags += 1
        self.git("tag", "-a", f"REV-{self.tags}", "-m", "review")

    # ---- what is kept ----------------------------------------------------------------------------------------------

    def kept(self):
        top = self.path(".git/slipmark-kept")
        return [os.path.join(folder, name) for folder, _, names in os.walk(top) for name in sorted(names)]

    def harm(self):
        """What is kept is deleted, cut off, emptied, or has a bit turned."""
        kept = self.kept()
        if not kept:
            return
        if self.random.random() < 0.3:
            shutil.rmtree(self.path(".git/slipmark-kept"))
            return
        name = self.random.choice(kept)
        with open(name, "rb") as file:
            data = bytearray(file.read())
        if self.random.random() < 0.5:
            del data[self.random.randrange(len(data) + 1) :]
        elif data:
            data[self.random.randrange(len(data))] ^= 1 << self.random.randrange(8)
        with open(name, "wb") as file:
            file.write(data)


class Run:
    def __init__(self, program, repository):
        self.program, self.repository, self.passed, self.failed = program, repository, 0, 0
        self.answers, self.together, self.rested = {}, 0, 0

    def start(self, arguments, *more):
        env = {"HOME": self.repository.folder, "PATH": ENV["PATH"]}
        command = [self.program, *arguments, *more]
        return subprocess.Popen(command, cwd=self.repository.folder, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE)

    def questions(self):
        random = self.repository.random
        event = random.choice(EVENTS)
        at = ["--at", f"HEAD~{random.randrange(0, 5)}"]
        asked = [
            ["before", event, "--format", "json", "--today", TODAY],
            ["check", "--format", "json", "--today", TODAY],
            ["trend", event, "--format", "csv", *random.choice([[], ["--by", "commit"], ["--by", "day"]])],
            ["before", event, "--format", "json", *at],
            ["history", random.choice(["MOV", f"R-{random.randrange(1, 13)}", f"AN-{random.randrange(1, 13)}"]), "--format", "json"],
            ["changes", f"HEAD~{random.randrange(1, 12)}..{random.choice(['HEAD', ''])}", "--format", "json", "--today", TODAY],
        ]
        return random.sample(asked, 3)

    def ask(self):
        for arguments in self.questions():
            both = self.repository.random.random() < 0.3
            if self.repository.random.random() < 0.03:
                # Long enough for a whole answer to be kept, and given again.
                time.sleep(2.1)
                self.start(arguments).communicate(timeout=120)
                self.rested += 1
            runs = [self.start(arguments) for _ in range(2 if both else 1)] + [self.start(arguments, "--no-cache")]
            said = [(*run.communicate(timeout=120), run.returncode) for run in runs]
            self.together += both
            good = all(one == said[-1] for one in said) and said[-1][2] in (0, 1, 2) and b"panicked" not in said[-1][1]
            self.passed += good
            self.failed += not good
            self.answers.setdefault(arguments[0], set()).add(said[-1])
            if not good:
                print(f"FAILED after commit {self.repository.days}: {' '.join(arguments)}")
                for out, err, code in said:
                    print(f"  exit {code}, {len(out)} bytes, {err[-200:]}")

    def forged(self, start, arguments, places):
        """Whether an answer shows a forgery in what is kept under such a name: else that is not what is answered from, and nothing was tested."""
        self.start(arguments).communicate(timeout=120)
        right, kept = self.start(arguments, "--no-cache").communicate(timeout=120)[0], self.repository.kept()
        for name in [name for name in kept if os.path.basename(name).startswith(start)]:
            with open(name, "rb") as file:
                data = file.read()
            head, content = data[: len(MAGIC)], data[len(MAGIC) + 32 :]
            for at in places(content):
                other = content[:at] + bytes([content[at] ^ 1]) + content[at + 1 :]
                # A whole answer that is kept, as of files at rest, would be given without a look at what it was made from.
                for beside in self.repository.kept():
                    if beside != name:
                        os.remove(beside)
                with open(name, "wb") as file:
                    file.write(head + hashlib.sha256(other).digest() + other)
                if self.start(arguments).communicate(timeout=120)[0] != right:
                    return True
        return False

    def check(self, good, said):
        self.passed += bool(good)
        self.failed += not good
        if not good:
            print(f"FAILED: {said}")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--slipmark", required=True)
    parser.add_argument("--edits", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="cache-") as folder:
        repository = Repository(os.path.join(folder, "stand"), args.seed)
        run = Run(os.path.abspath(args.slipmark), repository)
        found = 0
        for edit in range(args.edits):
            repository.edit()
            if repository.random.random() < 0.3:
                repository.happen()
            if repository.random.random() < 0.03:
                repository.harm()
            if edit % APART == 0:
                found += bool(repository.kept())
                run.ask()
        asked = (args.edits + APART - 1) // APART
        run.check(found > asked * 0.8, f"something was kept before only {found} of {asked} questions")
        for command, answers in run.answers.items():
            run.check(len(answers) > asked / 10, f"{command} gave only {len(answers)} different answers")
        vanished = sum(b'"vanished"' in out for out, _, _ in run.answers.get("check", []))
        run.check(vanished > 3, f"only {vanished} answers said that something vanished")
        trend = ["trend", EVENTS[0], "--by", "commit", "--format", "csv"]
        run.check(run.forged("trend-", trend, lambda content: range(len(content) - 1, max(0, len(content) - 12), -1)), "a forgery in what is kept of a trend was not seen")
        # A commit that the answer names, and that is taken for another in the list of ids.
        own = ["history", "R-1", "--format", "json"]
        named = json.loads(run.start(own).communicate(timeout=120)[0])["revisions"]
        commits = [bytes.fromhex(revision["oid"]) for revision in named]
        ids = lambda content: [at for at in map(content.find, commits) if at >= 0]  # noqa: E731
        run.check(run.forged("commits-", own, ids), f"a forgery in what is kept of commits was not seen, of {len(commits)}")
        print(f"{args.edits} edits, {len(repository.git('rev-list', '--all').split())} commits left, {run.together} questions by two at once, {run.rested} after a rest")
    print(f"{run.passed} passed, {run.failed} failed")
    return 1 if run.failed else 0


if __name__ == "__main__":
    sys.exit(main())
