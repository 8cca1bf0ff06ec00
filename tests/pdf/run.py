#!/usr/bin/env python3
"""Reads the packet's PDF back with poppler and qpdf, and holds it against the JSON of `before`.

  tests/pdf/run.py --slipmark target/debug/slipmark

The program must have been built with the feature `pdf`. What stands in tables is read by what the file says that it is, row by row and
cell by cell, so that each row of the answer must be there, as often, in its state. Answers that were harmed must be found first.
"""

import argparse
import collections
import copy
import json
import os
import re
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from functools import cached_property

TODAY = ("--today", "2026-06-16")
EVENT = "hot-fire"
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
    """Without white space, and without what only says where a word may be broken: lines end where there is no more room."""
    return re.sub(r"[\s\u200b\u00ad\u00a0]+", "", text)


class Pdf:
    """A PDF, as poppler and qpdf read it."""

    def __init__(self, path):
        self.path, self.name = path, os.path.basename(path)
        self.info = dict(line.split(":", 1) for line in run("pdfinfo", path)[1].splitlines() if ":" in line)
        count = int(self.info.get("Pages", "0"))
        sizes = run("pdfinfo", "-f", "1", "-l", str(count), path)[1]
        self.sizes = re.findall(r"^Page +\d+ size: +([\d.]+) x ([\d.]+) pts", sizes, re.M)
        self.pages = run("pdftotext", "-raw", path, "-")[1].split("\f")[:-1]
        self.fonts = run("pdffonts", path)[1].splitlines()[2:]
        self.links = run("qpdf", "--qdf", "--object-streams=disable", path, "-")[1].count("/Subtype /Link")
        self.outlines = json.loads(run("qpdf", "--json", "--json-key=outlines", path)[1] or "{}").get("outlines", [])

    @cached_property
    def structured(self):
        """What it says that everything is, which poppler takes long for."""
        return structure(run("pdfinfo", "-struct-text", self.path)[1])

    tables = property(lambda self: self.structured[0])
    contents = property(lambda self: self.structured[1])
    text = property(lambda self: self.structured[2])

    def table(self, start):
        """The rows of the table whose caption starts so."""
        return [row for caption, _, rows in self.tables if caption.startswith(bare(start)) for row in rows]


def structure(said):
    """(tables as (caption, head, rows of cells), lines of the list of contents, all text), of what poppler says of the tags"""
    tables, contents, everything = [], [], []
    within = []
    for line in said.splitlines():
        depth = len(line) - len(line.lstrip(" "))
        word = line.strip()
        within = [(own, tag) for own, tag in within if own < depth]
        if word.startswith('"'):
            text = word.strip('"')
            everything.append(text)
            tags = [tag for _, tag in within]
            if "TOCI" in tags:
                contents[-1].append(text)
            if "Caption" in tags:
                tables[-1][0].append(text)
            elif "TH" in tags and "THead" in tags:
                tables[-1][1][-1].append(text)
            elif "TD" in tags or "TH" in tags:
                tables[-1][2][-1][-1].append(text)
            continue
        tag = word.split(" ")[0].rstrip(":")
        if tag.startswith(("/", "Object")):
            continue
        head = any(tag == "THead" for _, tag in within)
        if tag == "TOCI":
            contents.append([])
        elif tag == "Table":
            tables.append(([], [], []))
        elif tag == "TR" and not head:
            tables[-1][2].append([])
        elif tag in ("TD", "TH"):
            (tables[-1][1] if head else tables[-1][2][-1]).append([])
        within.append((depth, tag))
    joined = lambda parts: bare("".join(parts))
    tables = [(joined(caption), [joined(cell) for cell in head], [[joined(cell) for cell in row] for row in rows]) for caption, head, rows in tables]
    lines = [" ".join(parts).rsplit(None, 1) for parts in contents]
    return tables, [(bare(line[0]), line[-1]) for line in lines], joined(everything)


def complaints(pdf, before):
    """What of an answer is not in the PDF, or not as often."""
    found = []

    def want(good, what):
        if not good:
            found.append(what)

    rows = before["rows"]
    open_rows = [row for row in rows if row["state"] not in ("closed", "waived")]
    table = pdf.table("Rows, safety first, worst first")
    want(len(table) == len(open_rows), f"{len(table)} rows are open, not {len(open_rows)}")
    for row, cells in zip(open_rows, table):
        of = f"open {row['requirement']} {row['subject']}"
        want(cells[0] == bare(row["state"]), f"{of}: {cells[0]}, not {row['state']}")
        owner = f"owner: {row['owner']}" if row["owner"] else ""
        want(cells[1].startswith(bare(row["requirement"])) and cells[1].endswith(bare(row["title"] + owner)), f"{of}: {cells[1]}")
        want(bare(f"on {row['subject']}") in cells[2], f"{of}: {cells[2]}")
        want(("safety" in cells[1]) == row["safety"], f"{of}: safety")
        for reason in row["reasons"]:
            want(bare(reason["text"]) in cells[3], f"{of}: {reason['text']!r} not in {cells[3]!r}")
    matrix = pdf.table("How it is shown, and how far that has come")
    states = sorted({row["state"] for row in rows} | set(before["counts"]), key=len, reverse=True)
    state_of = lambda cell: next((state for state in states if cell.startswith(bare(state))), cell)
    shown = collections.Counter((cells[1], state_of(cells[-1])) for cells in matrix)
    told = collections.Counter((bare(row["requirement"] + row["subject"]), row["state"]) for row in rows)
    want(shown == told, f"the matrix: only there {shown - told}, only in the answer {told - shown}")
    by_state = collections.Counter(state_of(cells[-1]) for cells in matrix)
    for state, count in before["counts"].items():
        want(by_state[state] == count, f"{by_state[state]} rows are {state}, not {count}")
    numbers = collections.Counter(
        (cells[2], cells[3], cells[4])
        for _, head, rows in pdf.tables if head[:4] == ["criterion", "asked", "result", "margin"]
        for cells in rows if len(cells) == 5
    )
    said = collections.Counter(
        (bare(own["result"] or "none"), bare(own["margin"] or "–"), bare(own["record"] or "none"))
        for row in rows if row["method"] for own in row["criteria"]
    )
    want(numbers == said, f"results: only there {numbers - said}, only in the answer {said - numbers}")
    want(before["open_total"] == 0 or bare(f"{before['open_total']} open before {EVENT}") in pdf.text, "how many are open")
    for row in filter(lambda row: row["method"], rows):
        for own in row["criteria"]:
            want(not own["limit"] or bare(own["limit"]) in pdf.text, f"{row['requirement']}: the limit {own['limit']!r}")
    for finding in before["faults"] + before["gaps"]:
        want(bare(finding["message"]) in pdf.text, finding["message"])
    for less in before["less_asked"]:
        want(bare(less["text"]) in pdf.text, less["text"])
    for named in before["nonconformances"] + before["waivers"] + before["withdrawn"]:
        want(bare(named) in pdf.text, named)
    return found


def harmed(before):
    """Answers that are not the one in the PDF, each with how."""
    def changed(how, change):
        other = copy.deepcopy(before)
        change(other)
        return how, other

    rows = before["rows"]
    closed = next(at for at, row in enumerate(rows) if row["state"] == "closed")
    for at in range(len(rows)):
        yield changed(f"row {at} left out", lambda it, at=at: it["rows"].pop(at))
        yield changed(f"row {at} said twice", lambda it, at=at: it["rows"].insert(at, copy.deepcopy(it["rows"][at])))
        other = "void" if rows[at]["state"] != "void" else "closed"
        yield changed(f"row {at} {other}", lambda it, at=at, other=other: it["rows"][at].update(state=other))
        yield changed(f"row {at} on another piece", lambda it, at=at: it["rows"][at].update(subject="MOV/SN77"))
        for number in range(len(rows[at]["criteria"])):
            for key in ("result", "margin", "record", "limit"):
                if rows[at]["criteria"][number][key] and rows[at]["method"]:
                    yield changed(
                        f"row {at}: another {key}",
                        lambda it, at=at, number=number, key=key: it["rows"][at]["criteria"][number].update({key: "77.7 furlong"}),
                    )
    yield changed("an open row of somebody else's", lambda it: it["rows"][0].update(owner="nobody"))
    yield changed("open rows in another order", lambda it: it["rows"].insert(0, it["rows"].pop(closed - 1)))
    yield changed("one more open", lambda it: it.update(open_total=it["open_total"] + 1))
    yield changed("another gap", lambda it: it["gaps"][0].update(message="nobody said so"))
    yield changed("another waiver", lambda it: it["waivers"].append("W-777"))


def well_made(pdf, draft):
    name, pages = pdf.name, pdf.pages
    check(pdf.info.get("Tagged", "").strip() == "yes", f"{name}: tagged")
    check(int(pdf.info.get("Pages", "0")) == len(pages) > 5, f"{name}: pages")
    check("verification packet" in pdf.info.get("Title", ""), f"{name}: title")
    check("none" in pdf.info.get("JavaScript", "no") or pdf.info.get("JavaScript", "").strip() == "no", f"{name}: scripts")
    check(pdf.fonts and all(font.split()[-5] == "yes" for font in pdf.fonts), f"{name}: every font is embedded")
    check(all(font.split()[-3] == "yes" for font in pdf.fonts), f"{name}: every font says which characters its glyphs are")
    check(pdf.links > 300, f"{name}: {pdf.links} links")
    for number, page in enumerate(pages, 1):
        check(f"page {number} of {len(pages)}" in page, f"{name}: number of page {number}")
        check(number == 1 or f"before {EVENT}" in page, f"{name}: running head of page {number}")
        check(("not committed" in page.replace("\n", " ")) == draft, f"{name}: draft on page {number}")
    code, said, wrong = run("qpdf", "--check", pdf.path)
    check(code == 0, f"{name}: qpdf --check: {said} {wrong}")
    check([own["title"].split()[0] for own in pdf.outlines] == [str(number) for number in range(1, 11)], f"{name}: bookmarks")
    if draft:
        return
    check(len(pdf.contents) > 50, f"{name}: list of contents")
    check(not any("\ufffd" in page for page in pages), f"{name}: characters that cannot be read")
    for title, number in pdf.contents:
        start = title.split("…")[0][:40]
        good = number.isdigit() and 2 < int(number) <= len(pages) and start in bare(pages[int(number) - 1])
        check(good, f"{name}: {title} is not on page {number}")


def made(program, project, path, *more, env=None):
    return run(program, "packet", EVENT, "-o", path, *more, *TODAY, folder=project, env=env)


def same_again(program, project, outside):
    """Another folder, time zone, language and user, and the same bytes."""
    elsewhere = os.path.join(outside, "else where")
    run("git", "clone", "-q", project, elsewhere)
    with open(os.path.join(outside, "a4.pdf"), "rb") as file:
        first = file.read()
    for number, env in enumerate((
        {"TZ": "Pacific/Kiritimati", "LC_ALL": "tr_TR.UTF-8", "COLUMNS": "60"},
        {"TZ": "America/St_Johns", "HOME": outside, "USER": "someone", "LOGNAME": "someone", "RAYON_NUM_THREADS": "1"},
    )):
        pdf = os.path.join(outside, f"again-{number}.pdf")
        made(program, elsewhere, pdf, env=env)
        with open(pdf, "rb") as file:
            check(file.read() == first, f"the same bytes with {env}")


def altered(program, project, outside):
    with open(os.path.join(outside, "a4.pdf"), "rb") as file:
        whole = bytearray(file.read())
    for at in [*range(20, len(whole), len(whole) // 4), len(whole) - 400]:
        other = bytearray(whole)
        other[at] ^= 1
        pdf = os.path.join(outside, "altered.pdf")
        with open(pdf, "wb") as file:
            file.write(other)
        code, said, _ = run(program, "packet", "--verify", pdf, *TODAY, folder=project)
        check(code == 1, f"a bit of byte {at} was turned and --verify says {code}: {said}")


def without_templates(program, project, outside, before):
    """A project's own template that leaves out what is open is no template of the PDF."""
    own = os.path.join(project, "own", "packet", "open.html")
    os.makedirs(os.path.dirname(own))
    with open(own, "w", encoding="utf-8") as file:
        file.write("<p>Nothing open.</p>\n")
    with open(os.path.join(project, "slipmark.toml"), encoding="utf-8") as file:
        settings = file.read()
    with open(os.path.join(project, "slipmark.toml"), "w", encoding="utf-8") as file:
        file.write('templates = "own"\n' + settings)
    page = os.path.join(outside, "own.html")
    code, _, wrong = run(program, "packet", EVENT, "-o", page, *TODAY, folder=project)
    check(code == 2 and "own/packet/open.html" in wrong, f"a page without what is open was made: {code} {wrong}")
    path = os.path.join(outside, "own.pdf")
    code, _, wrong = made(program, project, path)
    text = bare("".join(Pdf(path).pages))
    check(code == 0 and bare("Nothing open.") not in text, f"a PDF by a template of the project's: {code} {wrong}")
    for row in before["rows"]:
        check(bare(row["requirement"]) in text, f"with templates of the project's: {row['requirement']} is not there")


def right_to_left(path, first, second):
    """Of two words in a script that runs from right to left, with a number behind them, the first stands on the right, as poppler
    sees them: by the Unicode Bidirectional Algorithm (UAX #9). It tells the letters of a word as they stand, from left to right."""
    first, second = first[::-1], second[::-1]
    lines = collections.defaultdict(dict)
    boxes = run("pdftotext", "-bbox", path, "-")[1]
    for page, body in enumerate(boxes.split("<page ")):
        for left, top, word in re.findall(r'<word xMin="([\d.]+)" yMin="([\d.]+)"[^>]*>([^<]*)</word>', body):
            lines[page, round(float(top))][word] = float(left)
    whole = [line for line in lines.values() if {first, second, "12"} <= line.keys()]
    check(whole, f"no line of {path} has {first} {second} 12")
    for line in whole:
        check(line["12"] < line[second] < line[first], f"{first} {second} 12 stand at {line}")


def main():
    parser = argparse.ArgumentParser(description="read the packet's PDF back")
    parser.add_argument("--slipmark", required=True)
    program = os.path.abspath(parser.parse_args().slipmark)
    with tempfile.TemporaryDirectory() as outside:
        project = os.path.join(outside, "valve")
        run(program, "demo", project)
        before = json.loads(run(program, "before", EVENT, "--format", "json", *TODAY, folder=project)[1])
        sizes = {"a4": ("595.28", "841.89"), "letter": ("612", "792")}
        paths = {paper: os.path.join(outside, f"{paper}.pdf") for paper in sizes}
        for paper, path in paths.items():
            code, _, wrong = made(program, project, path, "--paper", paper)
            check(code == 0, f"{paper}: {wrong}")
        with ThreadPoolExecutor() as pool:
            read = dict(zip(paths, pool.map(Pdf, paths.values())))
            list(pool.map(lambda pdf: pdf.structured, read.values()))
        for paper, size in sizes.items():
            pdf, path = read[paper], paths[paper]
            check(set(pdf.sizes) == {size, size[::-1]}, f"{paper}: {set(pdf.sizes)}")
            well_made(pdf, draft=False)
            for complaint in complaints(pdf, before):
                check(False, f"{paper}: {complaint}")
            check(len(before["rows"]) > 20, f"{paper}: the answer has rows")
            code, said, _ = run(program, "packet", "--verify", path, *TODAY, folder=project)
            check(code == 0 and "it is the same" in said, f"{paper}: --verify: {said}")
            if paper == "a4":
                for how, other in harmed(before):
                    check(complaints(pdf, other), f"not found: {how}")
        same_again(program, project, outside)
        altered(program, project, outside)
        without_templates(program, os.path.join(outside, "else where"), outside, before)
        with open(os.path.join(project, "parameters.toml"), "a", encoding="utf-8") as file:
            file.write("# not committed\n")
        words = ("\u05e9\u05dc\u05d5\u05dd", "\u05e2\u05d5\u05dc\u05dd")
        path = os.path.join(project, json.loads(run(program, "show", "STD-020", "--format", "json", folder=project)[1])["path"])
        with open(path, encoding="utf-8") as file:
            text = file.read()
        with open(path, "w", encoding="utf-8") as file:
            file.write(re.sub(r'^title = ".*"$', f'title = "Flow {words[0]} {words[1]} 12"', text, count=1, flags=re.M))
        draft = os.path.join(outside, "draft.pdf")
        made(program, project, draft)
        well_made(Pdf(draft), draft=True)
        right_to_left(draft, *words)
    print(f"{passed} passed, {failed} failed, 0 skipped")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
