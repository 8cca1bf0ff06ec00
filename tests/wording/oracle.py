"""Checks the sentences of the wording rules by themselves, with Python's regular expressions.

Every pattern of patterns.toml must fire on its own bad sentence and on no good sentence of the list, so that the sentences that the unit tests of the
matcher rely on are known to be right by a second, independent way. Run: python3 tests/wording/oracle.py (Python 3.11 or later).
"""

import pathlib
import re
import sys
import tomllib

# Their sentences describe a project in words.
PROJECT = {"limit-not-in-statement", "near-duplicate", "no-rationale", "nothing-it-applies-to", "number-without-criterion"}
EXPECTED_RULES = 57
EXPECTED_PATTERNS = 50


def main() -> int:
    path = pathlib.Path(__file__).with_name("patterns.toml")
    rules = tomllib.loads(path.read_text(encoding="utf-8"))["wording"]
    wrong = []
    patterns = 0
    for rule in rules:
        if "pattern" not in rule:
            continue
        patterns += 1
        flags = re.IGNORECASE if "i" in rule["flags"] else 0
        compiled = re.compile(rule["pattern"], flags)
        if not compiled.search(rule["bad"]):
            wrong.append(f"{rule['check']} misses its own bad sentence: {rule['bad']}")
        for other in rules:
            good = other["good"]
            if other["check"] not in PROJECT and compiled.search(good):
                wrong.append(f"{rule['check']} fires on the good sentence of {other['check']}: {good}")
    if len(rules) != EXPECTED_RULES or patterns != EXPECTED_PATTERNS:
        wrong.append(f"{len(rules)} rules and {patterns} patterns, expected {EXPECTED_RULES} and {EXPECTED_PATTERNS}")
    print("\n".join(wrong) if wrong else f"{patterns} patterns hold over {len(rules)} pairs of sentences")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
