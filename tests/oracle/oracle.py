"""What runs slipmark, and keeps the tally of agreements and disagreements."""

import json
import math
import os
import subprocess
from concurrent.futures import ThreadPoolExecutor


class Slipmark:
    """The program, asked for one expression a process."""

    def __init__(self, path):
        self.path = os.path.abspath(path)

    def ask(self, expression):
        """The result of an expression as its JSON has it; a text if it is refused."""
        command = [self.path, "calc", "-e", expression, "--format", "json"]
        done = subprocess.run(command, capture_output=True, text=True, check=False, encoding="utf-8")
        if done.returncode == 0:
            return json.loads(done.stdout)["results"][0]
        if done.returncode == 2 and "panicked" not in done.stderr:
            return done.stderr
        return f"exit {done.returncode}: {done.stderr}"

    def ask_all(self, expressions):
        """The results of many, in their order."""
        with ThreadPoolExecutor(max_workers=os.cpu_count() or 2) as pool:
            return list(pool.map(self.ask, expressions))


class Tally:
    """Counts, by part, what was compared and what disagreed."""

    def __init__(self):
        self.parts = {}
        self.failures = []

    def part(self, name):
        return self.parts.setdefault(name, {"compared": 0, "exact": 0, "greatest": 0.0, "failed": 0})

    def fail(self, name, expression, why):
        self.part(name)["failed"] += 1
        self.failures.append(f"{name}: {expression}\n    {why}")

    def agree(self, name, exact=False, difference=0.0):
        part = self.part(name)
        part["compared"] += 1
        part["exact"] += exact
        part["greatest"] = max(part["greatest"], difference)

    def close(self, name, expression, what, ours, theirs, tolerance):
        """Holds two doubles against each other, relatively; of zero, absolutely. True if they agree."""
        if not isinstance(ours, (int, float)) or isinstance(ours, bool):
            self.fail(name, expression, f"{what}: {ours!r}, expected {theirs!r}")
            return False
        difference = abs(ours - theirs) / (abs(theirs) or 1.0)
        if difference <= tolerance and math.isfinite(ours):
            self.agree(name, ours == theirs, difference)
            return True
        self.fail(name, expression, f"{what}: {ours!r}, expected {theirs!r}, off by {difference:.1e}")
        return False

    def report(self):
        """Prints all of it and returns whether nothing disagreed."""
        for name, part in self.parts.items():
            print(f"{name}: {part['compared']} comparisons agree, {part['exact']} to the last bit, "
                  f"greatest relative difference {part['greatest']:.1e}, {part['failed']} disagree")
        for failure in self.failures[:40]:
            print(failure)
        good = sum(part["compared"] for part in self.parts.values())
        print(f"{good} passed, {len(self.failures)} failed, 0 skipped")
        return not self.failures
