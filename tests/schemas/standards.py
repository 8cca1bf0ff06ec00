"""Holds the findings in forms that others publish against what they publish, on the same projects as the JSON.

  python3 tests/schemas/standards.py --slipmark target/debug/slipmark --sarif SCHEMA --junit SCHEMA

SARIF 2.1.0 is held against the JSON schema of the OASIS technical committee, JUnit XML against junit-10.xsd of the Jenkins xUnit plugin.
Neither is kept here: tests/run takes them out of packages that carry them. What no schema can say is looked up in the files: that a
place is there, that an index leads to its rule, that counts are those of what is listed.
"""

import argparse
import copy
import json
import os
import subprocess
import sys
import tempfile
import urllib.parse

import jsonschema
from lxml import etree

import run as schemas

TOP = "%SRCROOT%"


def ask(program, root, *args):
    environment = {**os.environ, **schemas.fixture.GIT_ENV}
    done = subprocess.run([program, "check", *args], cwd=root, env=environment, capture_output=True, timeout=120, check=False)
    return done.returncode, done.stdout


class Held:
    def __init__(self, program, sarif, junit):
        with open(sarif, encoding="utf-8") as file:
            self.sarif_schema = json.load(file)
        self.sarif = jsonschema.Draft7Validator(self.sarif_schema)
        self.junit = etree.XMLSchema(etree.parse(junit))
        self.program, self.passed, self.failed = program, 0, 0

    def check(self, good, said):
        self.passed += bool(good)
        self.failed += not good
        if not good:
            print(f"FAILED: {said}")

    def findings(self, root, now, *args):
        """The same findings in three forms; `now` says that the files on disk are those that are asked about."""
        where = f"{os.path.basename(root)} {' '.join(args)}"
        code, answer = ask(self.program, root, "--format", "json", *args)
        listed = json.loads(answer)["findings"]
        other, log = ask(self.program, root, "--format", "sarif", *args)
        self.check(code == other, f"{where}: exit {code} and {other}")
        log = json.loads(log)
        errors = [f"{error.json_path}: {error.message[:200]}" for error in self.sarif.iter_errors(log)]
        self.check(not errors, f"{where}: {errors[:4]}")
        self.sarif_says(where, root, now, listed, log["runs"][0])
        other, text = ask(self.program, root, "--format", "junit", *args)
        self.check(code == other, f"{where}: exit {code} and {other}")
        report = etree.fromstring(text)
        self.check(self.junit.validate(report), f"{where}: {self.junit.error_log.last_error}")
        self.junit_says(where, code, listed, report)
        return log, report

    def sarif_says(self, where, root, now, listed, one):
        results, rules = one["results"], one["tool"]["driver"]["rules"]
        self.check([it["code"] for it in listed] == [it["ruleId"] for it in results], f"{where}: other findings")
        self.check(all(rules[it["ruleIndex"]]["id"] == it["ruleId"] for it in results), f"{where}: an index leads elsewhere")
        self.check(set(one["originalUriBaseIds"]) == {TOP} and one["columnKind"] == "unicodeCodePoints", f"{where}: what places mean")
        self.check(len({rule["id"] for rule in rules}) == len(rules), f"{where}: a rule stands twice")
        prints = [(place(it)["artifactLocation"]["uri"], *it["partialFingerprints"].values()) for it in results]
        self.check(len(set(prints)) == len(prints), f"{where}: two findings cannot be told apart")
        top = subprocess.run(["git", "rev-parse", "--show-toplevel"], cwd=root, capture_output=True, check=True, encoding="utf-8").stdout.strip()
        for it in results:
            for one_place in [place(it)] + [also["physicalLocation"] for also in it.get("relatedLocations", [])]:
                self.check(not now or is_there(top, one_place), f"{where}: {it['ruleId']}: no such place: {one_place}")

    def junit_says(self, where, code, listed, report):
        suites = report.findall("testsuite")
        for suite in suites:
            cases = suite.findall("testcase")
            counted = {"tests": len(cases), "failures": len(suite.findall("testcase/failure")), "skipped": len(suite.findall("testcase/skipped")), "errors": 0}
            self.check({key: int(suite.get(key)) for key in counted} == counted, f"{where}: {suite.attrib} of {counted}")
        failures = len(report.findall(".//failure"))
        self.check((failures > 0) == (code == 1) and int(report.get("failures")) == failures, f"{where}: {failures} failures, exit {code}")
        named = [case.get("name").split(":")[0] for case in report.iter("testcase") if len(case)]
        self.check(named == [it["code"] for it in listed], f"{where}: other findings")


def place(result):
    return result["locations"][0]["physicalLocation"]


def is_there(top, one):
    """Whether a place is in a file, in the line and column that it says; columns are code points, a byte-order mark is none."""
    location = one["artifactLocation"]
    path = os.path.join(top, urllib.parse.unquote(location["uri"], errors="strict"))
    if location["uriBaseId"] != TOP or urllib.parse.urlparse(location["uri"]).scheme:
        return False
    region = one.get("region")
    if region is None:
        return os.path.lexists(path)
    with open(path, encoding="utf-8", newline="") as file:
        lines = file.read().removeprefix("\ufeff").split("\n")
    if not 1 <= region["startLine"] <= len(lines):
        return False
    width = len(lines[region["startLine"] - 1].rstrip("\r")) + 1
    return 1 <= region["startColumn"] <= region.get("endColumn", width) <= width


def refuses(held, log, report):
    """Schemas that accept anything would prove nothing."""
    for harm in [
        lambda one: one.pop("version"),
        lambda one: one["runs"][0].pop("tool"),
        lambda one: one["runs"][0].update(columnKind="bytes"),
        lambda one: one["runs"][0]["results"][0].pop("message"),
        lambda one: one["runs"][0]["results"][0].update(level="fault"),
        lambda one: one["runs"][0]["results"][0].update(klass="fault"),
        lambda one: place(one["runs"][0]["results"][0])["region"].update(startColumn=0),
        lambda one: one["runs"][0]["tool"]["driver"]["rules"][0].pop("id"),
    ]:
        harmed = copy.deepcopy(log)
        harm(harmed)
        held.check(not held.sarif.is_valid(harmed), "a log that was harmed is accepted")
    for harm in [
        lambda one: one.find("testsuite").attrib.pop("tests"),
        lambda one: one.find(".//testcase").set("line", "3"),
        lambda one: one.find(".//testcase").attrib.pop("name"),
        lambda one: etree.SubElement(one, "finding"),
    ]:
        harmed = copy.deepcopy(report)
        harm(harmed)
        held.check(not held.junit.validate(harmed), "a report that was harmed is accepted")
    harmed = copy.deepcopy(place(log["runs"][0]["results"][0]))
    harmed["region"]["startLine"] = 100_000
    held.check(not is_there("/", harmed | {"artifactLocation": {"uri": urllib.parse.quote(os.path.abspath(__file__)), "uriBaseId": TOP}}), "a place that is not there is found")


def main():
    parser = argparse.ArgumentParser(description="hold SARIF and JUnit XML against the published schemas")
    for name in ("slipmark", "sarif", "junit"):
        parser.add_argument(f"--{name}", required=True)
    asked = parser.parse_args()
    held = Held(os.path.abspath(asked.slipmark), asked.sarif, asked.junit)
    with tempfile.TemporaryDirectory(prefix="standards-") as folder:
        harmed = None
        for root, _, _, commits, today in schemas.projects(folder, held.program):
            for more in [[], ["--gaps"], ["--gaps", "--strict", "--notes"]]:
                log, report = held.findings(root, True, "--today", today, *more)
                harmed = (log, report) if "region" in json.dumps(log) else harmed
            for commit in commits:
                held.findings(root, False, "--at", commit, "--gaps", "--strict", "--notes")
        refuses(held, *harmed)
    print(f"{held.passed} passed, {held.failed} failed, 0 skipped")
    return 1 if held.failed else 0


if __name__ == "__main__":
    sys.exit(main())
