"""Reads the packet's workbook back with another library, and holds it against what the program says as JSON and what the files say.

  target/venv/bin/python tests/workbook/run.py --slipmark target/debug/slipmark

Every row, state, reason and number must be there, in the order and as often as in the answer; numbers must be numbers and days days;
links must lead to cells that are there; nothing in it may run or lead out of it; the same commit must give the same bytes wherever it is.
Workbooks that were harmed, one way at a time, must be found first.
"""

import argparse
import collections
import csv
import datetime
import hashlib
import io
import json
import os
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree
import zipfile
import zlib

import openpyxl

HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, os.path.join(HERE, "..", "mutation"))

import fixture  # noqa: E402

TODAY = "2026-06-16"
SHEETS = ["summary", "open", "also-open", "matrix", "changes", "evidence", "serials", "files"]
METHODS = ("analysis", "test", "inspection", "demonstration")
OPEN = ("not met", "void", "slipped", "inconclusive", "unsigned", "no evidence")
NUMBERS = ["value", "U", "least", "most", "margin in unit"]
DAYS = {"evidence": ["date"], "serials": ["built", "last rework"], "changes": ["last commit on"]}
NUMBER = r"-?\d+(?:\.\d+)?(?:e-?\d+)?"


def run(program, folder, *args, env=None):
    environment = {**os.environ, **fixture.GIT_ENV, **(env or {})}
    return subprocess.run([program, *args], cwd=folder, env=environment, capture_output=True, timeout=300, check=False)


def ask(program, folder, *args):
    return json.loads(run(program, folder, *args, "--format", "json").stdout)


class Answer:
    """What the workbook must say: the program's other answers, and the project's files."""

    def __init__(self, program, folder, event, more, base):
        self.event = event
        self.before = ask(program, folder, "before", event, "--all", *more)
        self.matrix = ask(program, folder, "matrix", *more)
        self.changes = ask(program, folder, "changes", base, *more) if base else None
        self.records, self.pieces = things(folder) if "--at" not in more else (None, None)
        self.files = hashes(folder)


def hashes(folder):
    """SHA-256 of each file that git lists or would."""
    listed = subprocess.run(["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"], cwd=folder, capture_output=True, check=True)
    found = {}
    for path in listed.stdout.decode().split("\0")[:-1]:
        with open(os.path.join(folder, path), "rb") as file:
            found[path] = hashlib.sha256(file.read()).hexdigest()
    return found


def things(folder):
    """Day of each record by id, and every piece, as the files have them."""
    records, pieces = {}, set()
    for place, _, names in os.walk(folder):
        for name in (name for name in names if name.endswith(".md")):
            with open(os.path.join(place, name), encoding="utf-8") as file:
                front = file.read().split("+++")[1:2]
            front = front[0] if front else ""
            kind, own = (re.search(rf'^{key} = "([^"]*)"', front, re.M) for key in ("kind", "id"))
            if kind and kind[1] in METHODS:
                day = re.search(r"^date = (\d{4}-\d\d-\d\d)", front, re.M)
                records[own[1]] = datetime.date.fromisoformat(day[1]) if day else None
            elif kind and kind[1] == "item":
                pieces.update(f"{own[1]}/{number}" for number in re.findall(r'^number = "([^"]*)"', front, re.M))
    return records, pieces


class Sheet:
    """A sheet as the other library reads it: lines by the heads of its columns."""

    def __init__(self, sheet):
        self.sheet = sheet
        rows = [list(row) for row in sheet.iter_rows()]
        self.heads = [cell.value for cell in rows[0]] if rows else []
        self.lines = [dict(zip(self.heads, row)) for row in rows[1:]]

    def column(self, head):
        return [line[head].value for line in self.lines]


def expected(row):
    """What a row's lines must say, in the order of its criteria."""
    reasons = "\n".join(reason["text"] for reason in row["reasons"])
    steps = "\n".join(dict.fromkeys(reason["help"] for reason in row["reasons"]))
    for own in row["criteria"] or [dict.fromkeys(("name", "state", "limit", "result", "margin", "record"))]:
        yield {
            "requirement": row["requirement"], "title": row["title"], "statement": row["statement"], "subject": row["subject"],
            "before": row["before"], "method": "children" if row["entry"] == "children" else row["method"],
            "procedure": row["procedure"], "state": row["state"], "criterion": own["name"], "limit": own["limit"],
            "result": own["result"], "margin": own["margin"], "record": own["record"], "reason": reasons or None, "next": steps or None,
            "criterion state": own["state"], "safety": "yes" if row["safety"] else "no", "stage": row["stage"], "on": row["on"],
            "facility": row["facility"], "by": row["by"], "owner": row["owner"], "covers": row["covers"], "waiver": row["waiver"],
        }


def words(line, like):
    return {head: line[head].value if head in line else f"no column {head}" for head in like}


def shown(text):
    """(number, unit, the least that it can be off by rounding) at the start of a text."""
    found = re.match(rf"(?:at least |at most |[<>]=? ?)?\(?({NUMBER})", text or "")
    if not found:
        return None
    digits = re.sub(r"e.*", "", found[1])
    step = 10.0 ** -(len(digits.split(".")[1]) if "." in digits else 0) * 10.0 ** int((re.findall(r"e(-?\d+)", found[1]) or ["0"])[0])
    return float(found[1]), text[found.end():], step


def numbers(line, where):
    """What is wrong with the numbers of a line, beside its texts."""
    for head in NUMBERS:
        cell = line.get(head)
        if cell is not None and cell.value is not None and (cell.data_type != "n" or isinstance(cell.value, bool)):
            yield f"{where}: {head} is no number: {cell.value!r}"
            return
    value = {head: line[head].value for head in NUMBERS if head in line}
    margin = shown(line["margin"].value) if "margin" in line else None
    if "margin" in line and (margin is None) != (value["margin in unit"] is None):
        yield f"{where}: the margin is {line['margin'].value!r}, and in numbers {value['margin in unit']!r}"
    elif margin:
        number, rest, step = margin
        unit = rest.split("(")[0].strip()
        if abs(value["margin in unit"] - number) > max(step, 1e-5 * abs(number)):
            yield f"{where}: the margin is {line['margin'].value!r}, and in numbers {value['margin in unit']!r}"
        # A margin from a gauge pressure is a difference.
        if unit != (line["unit"].value or "").removesuffix(" gauge"):
            yield f"{where}: the margin is in {unit!r}, and the column says {line['unit'].value!r}"
        times = re.search(rf"({NUMBER}) U\b", line["margin"].value)
        # Two digits, cut.
        step = 0.1 if times and "." in times[1] else max(1, 10 ** (len(times[1].lstrip("-")) - 2)) if times else 1
        if bool(times) != bool(value["U"]) or times and abs(value["margin in unit"] / value["U"] - float(times[1])) > step:
            yield f"{where}: the margin is {line['margin'].value!r}, and U {value['U']!r}"
        # The margin is what lies between the value and the nearer limit.
        known = value["value"] is not None
        ends = [value["value"] - value["least"]] if known and value["least"] is not None else []
        ends += [value["most"] - value["value"]] if known and value["most"] is not None else []
        if not ends or abs(min(ends) - value["margin in unit"]) > 1e-9 * max(map(abs, ends + [value["value"]])) and "for" not in line["limit"].value:
            yield f"{where}: {value} do not go together"
    limit = line["limit"].value or ""
    between = re.fullmatch(rf"({NUMBER})(.*?) to ({NUMBER})(.*)", limit)
    want = {"least": None, "most": None}
    if between:
        want = {"least": float(between[1]), "most": float(between[3])} if between[2] == between[4] else None
    elif " * " in limit or "confidence" in limit or "±" in limit:
        want = None  # Worked out from parameters, or no limit of the value itself.
    elif re.match(rf"at (least|most) {NUMBER}", limit):
        want["least" if limit.startswith("at least") else "most"] = shown(limit)[0]
    if want is not None:
        for head, number in want.items():
            if value[head] != number and not (number is not None and value[head] is not None and abs(value[head] - number) < 1e-12 * abs(number)):
                yield f"{where}: the limit is {limit!r}, and {head} in numbers {value[head]!r}"
    result = shown(line["result"].value)
    if value["value"] is not None:
        number, _, step = result or (float("nan"), "", 0)
        own = re.search(rf"(?<!±) ?({NUMBER})(?: (.*?))?(?: \(|$| ±)", line["result"].value or "")
        same_unit = own and (line["unit"].value or "") in line["result"].value
        if same_unit and not abs(value["value"] - number) <= step:
            yield f"{where}: the result is {line['result'].value!r}, and in numbers {value['value']!r}"
        spread = re.search(rf"± ({NUMBER})", line["result"].value or "")
        if same_unit and spread and "%" not in line["result"].value and "(k=2)" not in line["result"].value and "(" not in line["result"].value:
            if value["U"] is None or abs(value["U"] - float(spread[1])) > 1e-9:
                yield f"{where}: the result is {line['result'].value!r}, and U {value['U']!r}"
    elif result and "unit" in line and line["unit"].value and line["unit"].value in line["result"].value and (line["margin"].value if "margin" in line else False):
        yield f"{where}: the result {line['result'].value!r} is not there in numbers"


def counted(line):
    return tuple(sorted((head, str(value)) for head, value in line.items()))


def rows(book, answer):
    opened, matrix = Sheet(book["open"]), Sheet(book["matrix"])
    want = [line for row in answer.before["rows"] if row["state"] in OPEN for line in expected(row)]
    found = [words(line, want[0]) for line in opened.lines] if want else []
    if len(opened.lines) != len(want):
        yield f"open has {len(opened.lines)} lines and should have {len(want)}"
    for at, (own, other) in enumerate(zip(found, want)):
        if own != other:
            yield f"open, line {at + 2}: { {head: (own[head], other[head]) for head in other if own[head] != other[head]} }"
    due = {(row["requirement"], str(row["entry"]), row["subject"]) for row in answer.before["rows"]}
    later = [row for row in answer.matrix["rows"] if (row["requirement"], str(row["entry"]), row["subject"]) not in due]
    for word, wanted in [("yes", answer.before["rows"]), ("later", later)]:
        want = [line for row in wanted for line in expected(row)]
        found = [words(line, want[0]) for line in matrix.lines if line["due"].value == word] if want else []
        lost = collections.Counter(map(counted, want)) - collections.Counter(map(counted, found))
        more = collections.Counter(map(counted, found)) - collections.Counter(map(counted, want))
        if lost or more:
            yield f"matrix, due {word}: {len(lost)} lines lost, {len(more)} too many: {list(lost)[:1]} {list(more)[:1]}"
    if len({line["row"].value for line in matrix.lines}) != len(answer.before["rows"]) + len(later):
        yield "matrix: the rows are not numbered one by one"
    for name, sheet in [("open", opened), ("matrix", matrix)]:
        for at, line in enumerate(sheet.lines):
            yield from numbers(line, f"{name}, line {at + 2}")
    yield from counts(book, answer)


def counts(book, answer):
    """The first sheet, and what counts as open beside rows."""
    said = {line[0].value: line[1].value for line in book["summary"].iter_rows(max_col=2)}
    before = answer.before
    want = {
        "project": before["project"], "event": before["event"], "commit": before["commit"] or "none", "open in all": before["open_total"],
        "rows due": len(before["rows"]), "gaps": len(before["gaps"]), "open nonconformances": len(before["nonconformances"]),
        "waivers in force": len(before["waivers"]), "withdrawn records": len(before["withdrawn"]), "made by": f"slipmark {before['slipmark']}",
        "asked about": datetime.datetime.fromisoformat(before["today"]),
        **{f"rows {state}": before["counts"].get(state, 0) for state in OPEN + ("waived", "closed")},
    }
    for what, value in want.items():
        if said.get(what) != value:
            yield f"summary: {what} is {said.get(what)!r} and should be {value!r}"
    verdict = {"open": f"{before['open_total']} open before", "nothing-open": "Nothing that this project lists", "nothing-planned": "that is no answer"}
    if verdict[before["verdict"]] not in str(said.get("verdict")):
        yield f"summary: the verdict is {said.get('verdict')!r}"
    if before["clean"] != str(said.get("files")).startswith("clean"):
        yield f"summary: files are {said.get('files')!r}"
    if "for the people responsible" not in str(said.get("caution")):
        yield "summary: it does not say that it is no permission"
    others = Sheet(book["also-open"])
    want = sorted(before["nonconformances"] + [finding["code"] for finding in before["gaps"] + before["faults"]])
    if sorted(others.column("id or code")) != want:
        yield f"also-open has {sorted(others.column('id or code'))} and should have {want}"
    messages = set(others.column("message"))
    if any(finding["message"] not in messages for finding in before["gaps"] + before["faults"]):
        yield "also-open: a gap or a fault is not as it was said"


def lists(book, answer):
    """Changes, evidence and pieces."""
    changes = Sheet(book["changes"])
    if answer.changes:
        want = sorted([it["id"] for it in answer.changes["changes"] + answer.changes["put_back"]] + [it["path"] for it in answer.changes["unreadable"]])
        if sorted(changes.column("id")) != want:
            yield f"changes has {len(changes.lines)} lines and should have {len(want)}"
        statements = {it["id"]: (it["statement"] or {}).get("to") for it in answer.changes["changes"]}
        for line in changes.lines:
            if (line["statement now"].value or None) != (statements.get(line["id"].value) or None):
                yield f"changes: the statement of {line['id'].value} is another"
    if answer.records is not None:
        evidence = Sheet(book["evidence"])
        days = {(line["record"].value, line["date"].value) for line in evidence.lines}
        want = {own: datetime.datetime.combine(day, datetime.time()) if day else None for own, day in answer.records.items()}
        if days != set(want.items()):
            yield f"evidence: {sorted(days ^ set(want.items()), key=str)[:3]}"
        for at, line in enumerate(evidence.lines):
            yield from numbers(line, f"evidence, line {at + 2}")
        deciding = {own for row in answer.before["rows"] for own in [criterion["record"] for criterion in row["criteria"]] if own}
        if any((line["record"].value in deciding) != bool(line["decides"].value) for line in evidence.lines):
            yield "evidence: other records decide"
        files = Sheet(book["files"])
        if dict(zip(files.column("file"), files.column("SHA-256"))) != answer.files:
            yield "files: other files, or other hashes"
        if sorted(map(str, Sheet(book["serials"]).column("serial"))) != sorted(answer.pieces):
            yield "serials: other pieces"


def form(book):
    """Sheets, heads, filters, panes, print set-up, days, links."""
    if book.sheetnames != SHEETS:
        yield f"sheets are {book.sheetnames}"
        return
    for sheet in book:
        if not sheet.freeze_panes or sheet.print_title_rows != "$1:$1" or not sheet.sheet_properties.pageSetUpPr.fitToPage:
            yield f"{sheet.title}: panes, repeated rows or fit to the page are missing"
        if sheet.page_setup.fitToHeight != 0 or "&P" not in sheet.oddFooter.right.text or "before" not in sheet.oddHeader.left.text:
            yield f"{sheet.title}: header, footer or page set-up are missing"
        if sheet.title != "summary" and (sheet.auto_filter.ref != sheet.dimensions or sheet.page_setup.orientation != "landscape"):
            yield f"{sheet.title}: the filter is over {sheet.auto_filter.ref}, the lines are {sheet.dimensions}"
        heads = {cell.value: at for at, cell in enumerate(sheet[1])}
        for head in DAYS.get(sheet.title, []):
            for row in sheet.iter_rows(min_row=2):
                cell = row[heads[head]] if head in heads else None
                if cell is not None and cell.value is not None and not cell.is_date:
                    yield f"{sheet.title}: {cell.coordinate} is no day: {cell.value!r}"
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f" or cell.data_type == "e":
                    yield f"{sheet.title}: {cell.coordinate} is a formula: {cell.value!r}"
                if cell.hyperlink is not None:
                    yield from link(book, sheet, cell)
    for name, head in [("open", "requirement"), ("matrix", "record"), ("evidence", "requirement"), ("serials", "rows")]:
        sheet = Sheet(book[name])
        said = [line[head] for line in sheet.lines if head in line and line[head].value]
        if said and not any(cell.hyperlink for cell in said):
            yield f"{name}: no {head} leads anywhere"


def link(book, sheet, cell):
    """A link must lead to a line about the same thing."""
    place = re.fullmatch(r"'?([a-z-]+)'?!A(\d+)", cell.hyperlink.location or "")
    if cell.hyperlink.target or not place or place[1] not in book.sheetnames:
        yield f"{sheet.title}: {cell.coordinate} leads to {cell.hyperlink.target or cell.hyperlink.location}"
        return
    to = book[place[1]]
    if int(place[2]) > to.max_row:
        yield f"{sheet.title}: {cell.coordinate} leads below the last line of {place[1]}"
    elif sheet.title not in ("summary", "serials") and cell.value not in [other.value for other in to[int(place[2])]]:
        yield f"{sheet.title}: {cell.coordinate} says {cell.value!r} and leads to a line about {to[int(place[2])][0].value!r}"


def inside(path):
    """What stands in the archive itself: nothing that runs, nothing that leads out."""
    with zipfile.ZipFile(path) as archive:
        if archive.testzip():
            yield f"{archive.testzip()} is damaged"
        for name in archive.namelist():
            if not re.fullmatch(r"(\[Content_Types\]|_rels/|docProps/|xl/(worksheets/|theme/|_rels/)?)[\w.\[\]-]*(\.xml|\.rels)?", name) or "External" in name:
                yield f"{name} does not belong there"
            text = archive.read(name).decode("utf-8", "replace")
            if "<!DOCTYPE" in text or "<!ENTITY" in text:
                yield f"{name} declares something"
            if re.search(r"<f[ >/]|TargetMode|ddeLink|oleObject|externalReference|vbaProject|macroEnabled|<webPublish|<connection", text):
                yield f"{name} holds a formula, a link that leads out, or a macro"
            try:
                xml.etree.ElementTree.fromstring(text)
            except xml.etree.ElementTree.ParseError as error:
                yield f"{name}: {error}"


def wrong(path, answer):
    """Everything that is wrong with a workbook."""
    found = list(inside(path))
    try:
        book = openpyxl.load_workbook(path)
    except Exception as error:  # noqa: BLE001 - whatever the library says, it cannot be read
        return [*found, f"it cannot be read: {error}"]
    found += form(book)
    return found if set(book.sheetnames) != set(SHEETS) else [*found, *rows(book, answer), *lists(book, answer)]


def cell_of(book, name, head, keep=lambda cell: cell.value is not None):
    """The first cell of a column that fits."""
    return next(line[head] for line in Sheet(book[name]).lines if keep(line[head]))


def put(name, head, value, **of):
    def harm(book):
        cell_of(book, name, head, **of).value = value

    return harm


def harms():
    """(what, how) of each way to harm a workbook."""
    number = {"keep": lambda cell: isinstance(cell.value, (int, float))}
    for name in ("open", "matrix"):
        yield f"a line of {name} gone", lambda book, name=name: book[name].delete_rows(3)
        yield f"a state of {name}", put(name, "state", "closed" if name == "open" else "void", keep=lambda cell: cell.value != "void")
        for head in ("criterion state", "reason", "next", "title", "statement", "limit", "result", "margin", "subject", "before", "safety", "owner"):
            yield f"{head} of {name}", put(name, head, "something else")
        for head in NUMBERS:
            yield f"{head} of {name} another", put(name, head, 123456.5, **number)
            yield f"{head} of {name} as text", put(name, head, "18", **number)
            yield f"{head} of {name} gone", put(name, head, None, **number) if head not in ("U",) else put(name, head, 1e9, **number)
        yield f"unit of {name}", put(name, "unit", "furlong", keep=lambda cell: cell.value == "s" or cell.value == "mL/min")
    yield "a waiver", put("matrix", "waiver", None)
    yield "a row said to be due later", put("matrix", "due", "later", keep=lambda cell: cell.value == "yes")
    yield "two rows under one number", put("matrix", "row", 1, keep=lambda cell: cell.value == 7)
    yield "a gap gone", lambda book: book["also-open"].delete_rows(3)
    yield "a gap's message", put("also-open", "message", "all is well", keep=lambda cell: "limit" in cell.value)
    yield "a change gone", lambda book: book["changes"].delete_rows(2)
    yield "a statement of now", put("changes", "statement now", "x")
    yield "a record gone", lambda book: book["evidence"].delete_rows(next(r for r in range(2, 99) if book["evidence"].cell(r, 1).value == "AN-003"))
    yield "a day as text", put("evidence", "date", "2026-02-18")
    yield "another day", put("evidence", "date", datetime.datetime(2026, 1, 1))
    yield "what a record decides", put("evidence", "decides", None)
    yield "a day of building as text", put("serials", "built", "2026-03-30")
    yield "another hash", put("files", "SHA-256", "0" * 64)
    yield "a file gone", lambda book: book["files"].delete_rows(9)
    yield "a piece gone", lambda book: book["serials"].delete_rows(2)
    yield "a formula", put("matrix", "title", "=1+1")
    yield "a link that leads out", lambda book: setattr(book["matrix"]["C3"], "hyperlink", "https://example.org")
    yield "a link to nowhere", lambda book: setattr(cell_of(book, "open", "requirement").hyperlink, "location", "'matrix'!A9999")
    yield "a link to another row", lambda book: setattr(cell_of(book, "open", "requirement").hyperlink, "location", "'matrix'!A2")
    yield "no filter", lambda book: setattr(book["open"].auto_filter, "ref", None)
    yield "no panes", lambda book: setattr(book["matrix"], "freeze_panes", None)
    yield "no footer", lambda book: setattr(book["open"].oddFooter.right, "text", "")
    yield "no repeated rows", lambda book: setattr(book["matrix"], "print_title_rows", "2:2")
    yield "a sheet gone", lambda book: book.remove(book["evidence"])
    for what in ("open in all", "rows due", "rows not met", "gaps", "commit", "verdict", "caution", "files", "asked about"):
        def other(book, what=what):
            next(row[1] for row in book["summary"].iter_rows() if row[0].value == what).value = "nothing"

        yield f"{what} on the first sheet", other


def harmed(path, answer, check):
    """Each harm must be found, and none where there is none: the other library's own copy is as good as the original."""
    copy = path + ".copy.xlsx"
    openpyxl.load_workbook(path).save(copy)
    check(not wrong(copy, answer), f"a plain copy: {wrong(copy, answer)[:2]}")
    for what, harm in harms():
        book = openpyxl.load_workbook(path)
        harm(book)
        book.save(copy)
        check(wrong(copy, answer), f"not found: {what}")
    with open(path, "rb") as file:
        whole = file.read()
    for name, text in [("xl/vbaProject.bin", "x"), ("xl/externalLinks/externalLink1.xml", "<a/>"), ("xl/x.xml", '<!DOCTYPE a [<!ENTITY b "c">]><a/>')]:
        with open(copy, "wb") as file:
            file.write(whole)
        with zipfile.ZipFile(copy, "a") as archive:
            archive.writestr(name, text)
        check(wrong(copy, answer), f"not found: {name} put in")


class Checks:
    def __init__(self):
        self.passed = self.failed = 0

    def __call__(self, good, said):
        self.passed += bool(good)
        self.failed += not good
        if not good:
            print(f"FAILED: {said}")


def same_bytes(program, root, folder, check):
    """Another folder, time zone, language, home and number of threads, and the bytes are the same."""
    other = os.path.join(folder, "elsewhere", "deeper")
    os.makedirs(os.path.dirname(other))
    subprocess.run(["cp", "-r", root, other], check=True)
    ask_for = ["packet", "hot-fire", "-o", "-", "--format", "xlsx", "--today", TODAY]
    first = run(program, root, *ask_for, env={"TZ": "UTC", "LC_ALL": "C", "RAYON_NUM_THREADS": "1"}).stdout
    second = run(program, other, *ask_for, env={"TZ": "Pacific/Kiritimati", "LC_ALL": "tr_TR.UTF-8", "HOME": folder, "USER": "x"}).stdout
    check(first and first == second, "another place, time zone and language give other bytes")
    check(not any(part.encode() in first for part in (folder, "root")), "a name of this machine is in the workbook")
    third = run(program, root, *ask_for, env={"SOURCE_DATE_EPOCH": "1500000000"}).stdout
    check(third != first, "SOURCE_DATE_EPOCH changes nothing")


def same(value, cell):
    """Whether a cell of CSV says what one of the workbook says."""
    if isinstance(value, datetime.datetime):
        return cell == value.date().isoformat()
    if isinstance(value, (int, float)):
        return float(cell) == value
    # What a spreadsheet would take for a formula has an apostrophe before it in CSV.
    return cell in ((value or ""), "'" + (value or ""))


def of_itself(bytes_):
    """What is wrong with the hashes that a packet carries of itself, worked out as its source documents it."""
    label = b"SHA-256 of this file, with zeros for these digits: "
    start = bytes_.rindex(label) + len(label)
    if hashlib.sha256(bytes_[:start] + b"0" * 64 + bytes_[start + 64:]).hexdigest().encode() != bytes_[start:start + 64]:
        yield "the hash of the whole"
    first = b"slipmark packet\n"
    at = bytes_.rindex(first)
    claims = json.loads(bytes_[at + len(first):bytes_.rindex(label)])
    if bytes_[:2] == b"PK":
        with zipfile.ZipFile(io.BytesIO(bytes_)) as archive:
            parts = [archive.read(name) for name in archive.namelist()]
    else:
        page = bytes_[:at - len(b"\n<!--\n")]
        cuts = [0, *(found.start() for found in re.finditer(b'<section class="part', page)), len(page)]
        parts = [page[one:two] for one, two in zip(cuts, cuts[1:])]
    if [digest for _, digest in claims["parts"]] != [hashlib.sha256(part).hexdigest() for part in parts]:
        yield "the hashes of the parts"
    lines = "".join(f"{digest}  {path}\n" for digest, path in claims["files"])
    if hashlib.sha256(lines.encode()).hexdigest() != claims["list"]:
        yield "the hash of the list of files"


def text_lists(program, root, book, check):
    """The lists as CSV and Markdown have the lines of the sheets."""
    for name in ("evidence", "serials", "files"):
        said = run(program, root, "packet", "hot-fire", "--list", name, "--format", "csv", "--today", TODAY).stdout.decode()
        table = list(csv.reader(io.StringIO(said)))
        sheet = Sheet(book[name])
        check(table[0] == sheet.heads and len(table) - 1 == len(sheet.lines), f"{name} as CSV has other lines")

        pairs = [(line[head].value, cell) for own, line in zip(table[1:], sheet.lines) for head, cell in zip(sheet.heads, own)]
        other = [(value, cell) for value, cell in pairs if not same(value, cell)]
        check(not other, f"{name} as CSV says something else: {other[:3]}")
        markdown = run(program, root, "packet", "hot-fire", "--list", name, "--format", "markdown", "--today", TODAY).stdout.decode()
        check(sum(line.startswith("| ") for line in markdown.splitlines()) == len(sheet.lines) + 2, f"{name} as Markdown has other lines")


def main():
    parser = argparse.ArgumentParser(description="read the packet's workbook back, beside JSON and files")
    parser.add_argument("--slipmark", required=True)
    program = os.path.abspath(parser.parse_args().slipmark)
    check = Checks()
    with tempfile.TemporaryDirectory(prefix="workbook-") as folder:
        root = os.path.join(folder, "demo")
        subprocess.run([program, "demo", root], check=True, stdout=subprocess.DEVNULL)
        draft = os.path.join(folder, "draft")
        subprocess.run(["cp", "-r", root, draft], check=True)
        with open(os.path.join(draft, "records", "BAD.md"), "w", encoding="utf-8") as file:
            file.write('+++\nkind = "analysis\n+++\n')
        path = os.path.join(folder, "book.xlsx")
        for place, event, more, base in [
            (root, "hot-fire", ["--today", TODAY], "TRR-1"), (root, "leak-check", ["--today", TODAY], "TRR-1"),
            (root, "cold-flow", ["--today", TODAY], "TRR-1"), (root, "leak-check", ["--at", "TRR-1"], "PDR..TRR-1"),
            (root, "hot-fire", ["--at", "PDR"], None), (draft, "hot-fire", ["--today", TODAY], "TRR-1"),
        ]:
            done = run(program, place, "packet", event, "-o", path, "--force", *more)
            check(done.returncode == 0, f"packet {event} {more}: {done.stderr.decode()}")
            if done.returncode == 0:
                found = wrong(path, Answer(program, place, event, more, base))
                check(not found, f"{event} {more} in {os.path.basename(place)}: {found[:5]}")
        run(program, root, "packet", "hot-fire", "-o", path, "--today", TODAY)
        harmed(path, Answer(program, root, "hot-fire", ["--today", TODAY], "TRR-1"), check)
        for ending in ("html", "xlsx"):
            packet = run(program, root, "packet", "hot-fire", "-o", "-", "--format", ending, "--today", TODAY).stdout
            check(not list(of_itself(packet)), f"{ending}: {list(of_itself(packet))}")
            for at in range(100, len(packet), len(packet) // 40):
                other = packet[:at] + bytes([packet[at] ^ 1]) + packet[at + 1:]
                try:
                    found = list(of_itself(other))
                except (ValueError, zipfile.BadZipFile, NotImplementedError, OSError, RuntimeError, zlib.error):
                    found = ["it cannot be read"]
                check(found, f"{ending}: byte {at} turned, and not found")
        text_lists(program, root, openpyxl.load_workbook(path), check)
        same_bytes(program, root, folder, check)
    print(f"{check.passed} passed, {check.failed} failed, 0 skipped")
    return 1 if check.failed else 0


if __name__ == "__main__":
    sys.exit(main())
