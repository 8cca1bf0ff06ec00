#!/usr/bin/env python3
"""Reads the packet's PDF back with poppler and qpdf, and holds it against the JSON of `before`.

  tests/pdf/run.py --slipmark target/debug/slipmark

The program must have been built with the feature `pdf`.
"""

import argparse
import json
import os
import re
import subprocess
import sys
import tempfile

passed = failed = 0


def check(good, what):
    global passed, failed
    if good:
        passed += 1
    else:
        failed += 1
        print(f"FAILED: {what}")


def run(*command, folder=None, env=None):
    done = subprocess.run(command, cwd=folder, env={**os.environ, **(env or {})}, capture_output=True, check=False)
    return done.returncode, done.stdout.decode("utf-8", "replace"), done.stderr.decode("utf-8", "replace")


def bare(text):
    """Without white space, and without what only says where a word may be broken: a table breaks words at its will."""
    return re.sub(r"[\s\u200b\u00ad]+", "", text)


def read(pdf):
    """(text of each page, what pdfinfo says, fonts, links within the document)"""
    info = dict(line.split(":", 1) for line in run("pdfinfo", pdf)[1].splitlines() if ":" in line)
    pages = run("pdftotext", "-layout", pdf, "-")[1].split("\f")[:-1]
    fonts = run("pdffonts", pdf)[1].splitlines()[2:]
    unpacked = run("qpdf", "--qdf", "--object-streams=disable", pdf, "-")[1]
    return pages, info, fonts, unpacked.count("/Subtype /Link")


def holds_all(pages, before, name):
    text = bare(" ".join(pages))
    check(bare(f"{before['open_total']} open") in text or before["open_total"] == 0, f"{name}: how many are open")
    for row in before["rows"]:
        of = f"{name}: {row['requirement']} {row['subject']}"
        for word in (row["requirement"], row["title"], row["state"], row["subject"].split("/")[0]):
            check(bare(word) in text, f"{of}: {word!r}")
        for reason in row["reasons"]:
            check(bare(reason["text"]) in text, f"{of}: {reason['text']!r}")
        for criterion in row["criteria"]:
            for key in ("result", "limit", "margin"):
                value = criterion[key]
                check(value is None or bare(value) in text, f"{of}: {key} {value!r}")
    for key in ("faults", "gaps"):
        for finding in before[key]:
            check(bare(finding["message"]) in text, f"{name}: {finding['code']}")
    # As many rows of each state as there are, counted where the second table of the matrix gives one to each row.
    for less in before["less_asked"]:
        check(bare(less["text"]) in text, f"{name}: less is asked: {less['text']}")


def well_made(pdf, pages, info, fonts, links, draft):
    name = os.path.basename(pdf)
    check(info.get("Tagged", "").strip() == "yes", f"{name}: tagged")
    check(int(info.get("Pages", "0")) == len(pages) > 5, f"{name}: pages")
    check("verification packet" in info.get("Title", ""), f"{name}: title")
    check(fonts and all(font.split()[-5] == "yes" for font in fonts), f"{name}: every font is embedded")
    check(links > 100, f"{name}: links")
    for number, page in enumerate(pages, 1):
        check(f"page {number} of {len(pages)}" in page, f"{name}: number of page {number}")
        if number > 1:
            check("before hot-fire" in page, f"{name}: running head of page {number}")
    check(("not committed" in pages[-1]) == draft, f"{name}: said to be a draft on every page")
    code, said, wrong = run("qpdf", "--check", pdf)
    check(code == 0, f"{name}: qpdf --check: {said} {wrong}")
    outline = run("qpdf", "--json", "--json-key=outlines", pdf)[1]
    check(len(json.loads(outline)["outlines"]) > 9, f"{name}: bookmarks")


def main():
    parser = argparse.ArgumentParser(description="read the packet's PDF back")
    parser.add_argument("--slipmark", required=True)
    program = os.path.abspath(parser.parse_args().slipmark)
    with tempfile.TemporaryDirectory() as outside:
        project = os.path.join(outside, "valve")
        run(program, "demo", project)
        common = ("--today", "2026-06-16")
        before = json.loads(run(program, "before", "hot-fire", "--format", "json", *common, folder=project)[1])
        for paper, size in (("a4", "595"), ("letter", "612")):
            pdf = os.path.join(outside, f"{paper}.pdf")
            code, _, wrong = run(program, "packet", "hot-fire", "--paper", paper, "-o", pdf, *common, folder=project)
            check(code == 0, f"{paper}: {wrong}")
            pages, info, fonts, links = read(pdf)
            check(info.get("Page size", "").strip().startswith(size), f"{paper}: size of the paper")
            well_made(pdf, pages, info, fonts, links, draft=False)
            holds_all(pages, before, paper)
            code, said, _ = run(program, "packet", "--verify", pdf, *common, folder=project)
            check(code == 0 and "it is the same" in said, f"{paper}: --verify: {said}")
        same_again(program, project, outside, common)
        altered(program, project, outside, common)
        draft(program, project, outside, common)
    print(f"{passed} passed, {failed} failed, 0 skipped")
    return 1 if failed else 0


def same_again(program, project, outside, common):
    """Another folder, time zone, language and user's home, and the same bytes."""
    elsewhere = os.path.join(outside, "else where")
    run("git", "clone", "-q", project, elsewhere)
    pdf = os.path.join(outside, "again.pdf")
    env = {"TZ": "Pacific/Kiritimati", "LC_ALL": "tr_TR.UTF-8", "HOME": outside, "COLUMNS": "60"}
    run(program, "packet", "hot-fire", "-o", pdf, *common, folder=elsewhere, env=env)
    with open(pdf, "rb") as one, open(os.path.join(outside, "a4.pdf"), "rb") as other:
        check(one.read() == other.read(), "the same bytes elsewhere")


def altered(program, project, outside, common):
    with open(os.path.join(outside, "a4.pdf"), "rb") as file:
        whole = bytearray(file.read())
    for at in (20, len(whole) // 2, len(whole) - 400):
        other = bytearray(whole)
        other[at] ^= 1
        pdf = os.path.join(outside, "altered.pdf")
        with open(pdf, "wb") as file:
            file.write(other)
        code, said, _ = run(program, "packet", "--verify", pdf, *common, folder=project)
        check(code == 1, f"a bit of byte {at} was turned and --verify says {code}: {said}")


def draft(program, project, outside, common):
    with open(os.path.join(project, "parameters.toml"), "a", encoding="utf-8") as file:
        file.write("# not committed\n")
    pdf = os.path.join(outside, "draft.pdf")
    run(program, "packet", "hot-fire", "-o", pdf, *common, folder=project)
    pages, info, fonts, links = read(pdf)
    well_made(pdf, pages, info, fonts, links, draft=True)


if __name__ == "__main__":
    sys.exit(main())
