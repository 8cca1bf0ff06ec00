"""Ways to harm a project. Each takes a random source and a sandbox, changes files, and says what it did.

A mutation that brings something new which must be seen (a requirement, a failing record, an open nonconformance) is in
`MUST_OPEN`: after it, no answer may be "nothing open", however the old rows stand. One that asks less of what no row shows (how long a
piece may be used, who must have been there, what was found out about an instrument) is in `MUST_SAY`: after it an answer
"nothing open" must say that less is asked.
"""

import datetime
import hashlib
import os
import re
import subprocess

import fixture

# ---- choosing ----------------------------------------------------------------------------------------------------------


def things(box):
    return sorted(path for path in box.files if path.endswith(".md") and box.exists(path))


def tables(box):
    return [path for path in ("slipmark.toml", "parameters.toml", "instruments.toml") if box.exists(path)]


def any_text(r, box):
    return r.choice(tables(box)) if r.random() < 0.15 else r.choice(things(box))


def attachments(box):
    return sorted(path for path in box.files if path.endswith((".csv", ".log", ".png")) and box.exists(path))


def front(text):
    """Line numbers of the front matter, without the fences; every line of a TOML file."""
    lines = text.split("\n")
    if lines[0] != "+++" or "+++" not in lines[1:]:
        return lines, range(len(lines) - 1)
    return lines, range(1, lines.index("+++", 1))


def edit_line(r, box, wanted, change):
    """Changes one front-matter line that matches `wanted`; `change` gives the new line or None."""
    paths = [*things(box), *tables(box)]
    r.shuffle(paths)
    for path in paths:
        lines, inside = front(box.text(path))
        fitting = [n for n in inside if re.search(wanted, lines[n])]
        r.shuffle(fitting)
        for n in fitting:
            old, new = lines[n], change(lines[n])
            if new is not None and new != old:
                lines[n] = new
                box.write(path, "\n".join(lines))
                return f"{path}:{n + 1}: {old!r} -> {new!r}"
    return None


def other(r, options, now):
    return r.choice([option for option in options if option != now])


# ---- bytes and lines -----------------------------------------------------------------------------------------------------


def flip_bit(r, box):
    path = any_text(r, box)
    data = bytearray(box.read(path))
    if not data:
        return None
    at = r.randrange(len(data))
    old = data[at]
    data[at] ^= 1 << r.randrange(8)
    box.write(path, bytes(data))
    return f"{path}: byte {at}: {old:#x} -> {data[at]:#x}"


def change_byte(r, box):
    path = any_text(r, box)
    data = box.read(path)
    at, new = r.randrange(len(data) + 1), r.choice([b"", b"0", b"9", b"#", b'"', b"\n", b" ", b"\0", b"\xff", b"=", b"[", "±".encode(), b"-"])
    box.write(path, data[:at] + new + data[at + (r.random() < 0.5) :])
    return f"{path}: byte {at} replaced by or given {new!r}"


def truncate(r, box):
    path = any_text(r, box)
    data = box.read(path)
    at = r.choice([0, r.randrange(len(data) + 1), r.randrange(len(data) + 1)])
    box.write(path, data[:at])
    return f"{path}: cut to {at} of {len(data)} bytes"


def recode(r, box):
    path = any_text(r, box)
    how = r.choice(["utf-16", "utf-8-sig", "latin-1"])
    box.write(path, box.text(path).encode(how, errors="replace"))
    return f"{path}: written as {how}"


def lose_line(r, box):
    path = any_text(r, box)
    lines = box.text(path).split("\n")
    at = r.randrange(len(lines))
    count = r.choice([1, 1, 1, 2, 3, 6])
    gone = lines[at : at + count]
    box.write(path, "\n".join(lines[:at] + lines[at + count :]))
    return f"{path}:{at + 1}: lost {gone!r}"


def double_line(r, box):
    path = any_text(r, box)
    lines = box.text(path).split("\n")
    at = r.randrange(len(lines))
    lines.insert(r.choice([at, r.randrange(len(lines))]), lines[at])
    box.write(path, "\n".join(lines))
    return f"{path}:{at + 1}: doubled {lines[at]!r}"


def swap_lines(r, box):
    path = any_text(r, box)
    lines = box.text(path).split("\n")
    a, b = r.randrange(len(lines)), r.randrange(len(lines))
    lines[a], lines[b] = lines[b], lines[a]
    box.write(path, "\n".join(lines))
    return f"{path}: lines {a + 1} and {b + 1} swapped"


def double_key(r, box):
    """The same key once more with another value."""
    path = any_text(r, box)
    lines, inside = front(box.text(path))
    keyed = [n for n in inside if re.match(r"[\w.]+ = ", lines[n])]
    if not keyed:
        return None
    at = r.choice(keyed)
    lines.insert(at + r.randrange(2), lines[at].split(" = ")[0] + ' = "other"')
    box.write(path, "\n".join(lines))
    return f"{path}:{at + 1}: second value for {lines[at]!r}"


def comment_out(r, box):
    return edit_line(r, box, r"\S", lambda line: "# " + line)


def rename_key(r, box):
    def change(line):
        key, rest = line.split(" = ", 1)
        return r.choice([key + "s", key[:-1], key.upper(), key + "_", f'"{key}"', other(r, KEYS, key)]) + " = " + rest

    return edit_line(r, box, r"^[\w.]+ = ", change)


KEYS = ["min", "max", "equals", "result", "date", "serial", "item", "status", "mark", "method", "stage", "before", "text", "note"]


def conflict(r, box):
    path = any_text(r, box)
    lines = box.text(path).split("\n")
    at = r.randrange(len(lines))
    theirs = [re.sub(r"\d", "7", lines[at])]
    lines[at : at + 1] = ["<<<<<<< ours", lines[at], "=======", *theirs, ">>>>>>> theirs"]
    box.write(path, "\n".join(lines))
    return f"{path}:{at + 1}: conflict markers"


def early_fence(r, box):
    path = r.choice(things(box))
    lines, inside = front(box.text(path))
    at = r.choice([0, *inside])
    if r.random() < 0.7:
        lines.insert(at, "+++")
    else:
        lines.insert(0, r.choice(["", " ", "---", "# Title"]))
    box.write(path, "\n".join(lines))
    return f"{path}: fence out of place near line {at + 1}"


def line_ends(r, box):
    path = any_text(r, box)
    data = box.read(path)
    new = r.choice([b"\r\n", b"\r", b"\n\n"])
    box.write(path, data.replace(b"\n", new))
    return f"{path}: line ends {new!r}"


# ---- values --------------------------------------------------------------------------------------------------------------


def change_number(r, box):
    def change(line):
        found = list(re.finditer(r"(?<![\w-])\d+(\.\d+)?", line))
        if not found or re.search(r"\d{4}-\d\d-\d\d|sha256 =|mark|seal", line):
            return None
        one = r.choice(found)
        n = float(one[0])
        new = r.choice([n * 10, n / 10, n * 2, n / 2, n + 1, n - 1, -n, 0, n * 1.01, n * 0.99])
        return line[: one.start()] + f"{new:g}" + line[one.end() :]

    return edit_line(r, box, r"= .*\d", change)


def change_limit(r, box):
    """A limit, a condition, a relief or a length of time; mostly so that it asks less."""

    def change(line):
        found = list(re.finditer(r"(?<![\w.-])\d+(\.\d+)?", line))
        if not found:
            return re.sub(r'"(pass|none|white|grey)"', r.choice(['"fail"', '["pass", "fail"]', '"any"']), line)
        one = r.choice(found)
        factor = r.choice([0, 0.5, 0.9, 0.99, 1.01, 1.1, 2, 10, 1000])
        return line[: one.start()] + f"{float(one[0]) * factor:g}" + line[one.end() :]

    return edit_line(r, box, r"^(min|max|equals|tolerance|count|expect|length|travel|body|valid_for|value) = |valid_for", change)


def change_result(r, box):
    """What a record reports, with its seal or without."""
    path = r.choice([path for path in things(box) if path.startswith("records/")])
    text = box.text(path)
    lines = text.split("\n")
    start = next((n for n, line in enumerate(lines) if line.startswith("[verifies.")), None)
    if start is None:
        return None
    fitting = [n for n in range(start, len(lines)) if re.match(r"(?!mark|sha256|file)\w+ = ", lines[n])]
    at = r.choice(fitting)
    old = lines[at]
    number = re.search(r"\d+(\.\d+)?", old)
    if number and r.random() < 0.7:
        lines[at] = old.replace(number[0], f"{float(number[0]) * r.choice([0, 0.5, 0.9, 1.1, 2, 100]):g}", 1)
    else:
        lines[at] = re.sub(r'"[^"]*"', r.choice(['"pass"', '"fail"', '"met"', '"not met"', '"1"', '"> 0.1 mm"']), old)
    new = "\n".join(lines)
    if new == text:
        return None
    said = ""
    if r.random() < 0.4:
        new = re.sub(r"^seal = .*\n", "", new, flags=re.M)
        said = ", unsealed"
    box.write(path, new)
    return f"{path}:{at + 1}: {old!r} -> {lines[at]!r}{said}"


def change_contents(r, box):
    """What is or was in the valve: another piece, another day, no such day any more, more or less that is kept."""
    days = ["2026-01-06", "2026-02-21", "2026-02-25", "2026-03-05", "2026-03-20", "2026-04-02", "2026-06-15"]

    def change(line):
        one = r.choice(list(re.finditer(r"\b(serial|from|to|keeps_evidence) = (\S+?)(?=, \w+ = | \})", line)))
        key, value = one[1], one[2]
        if key == "serial":
            new = f'{key} = "{other(r, ["STM/SN11", "STM/SN12", "ACT-W/SN02", "PRG/SN01"], value.strip(chr(34)))}"'
        elif key == "keeps_evidence":
            new = f"{key} = " + r.choice(["[]", '"MOV-050"', '["MOV-020", "TR-002"]', '"all"'])
        else:
            new = f"{r.choice([key, key, 'from', 'to'])} = {other(r, days, value)}"
        left_out = line[: one.start()] + re.sub(r"^, ", "", line[one.end() :])
        return r.choice([line[: one.start()] + new + line[one.end() :]] * 3 + [left_out])

    return edit_line(r, box, r"^contains = \[\{", change)


# ---- what is held, used, found out; and by whom ----------------------------------------------------------------------------


def replace_once(r, box, options):
    """One of (path, pattern, replacement) that changes its file."""
    options = list(options)
    r.shuffle(options)
    for path, pattern, new in options:
        if not box.exists(path):
            continue
        text = box.text(path)
        changed, count = re.subn(pattern, new, text, count=1, flags=re.M)
        if count and changed != text:
            box.write(path, changed)
            return f"{path}: {pattern!r} -> {new!r}"
    return None


HELD = ["campaign/he-001.md", "campaign/he-002.md", "campaign/he-003.md"]


def change_held(r, box):
    """Another event, day, end, procedure; pieces lost; or the file is gone."""
    path = r.choice(HELD)
    if r.random() < 0.15 and box.exists(path):
        box.remove(path)
        return f"{path}: deleted"
    day = r.choice(["2026-03-09", "2026-04-02", "2026-04-03", "2026-04-11", "2026-04-12T08:00:00", "2026-05-04", "2026-05-30", "2026-07-01"])
    return replace_once(r, box, [
        (path, r"^date = .*$", f"date = {day}"), (path, r"^date = .*\n", ""), (path, r"^serials = .*\n", ""), (path, r'"MOV/SN02", ', ""), (path, r', "ACT-W/SN02"', ""),
        (path, r'^event = ".*"', f'event = "{r.choice(["leak-check", "cold-shock", "cold-flow", "hot-fire"])}"'), (path, r"^outcome = .*\n", ""),
        (path, r'^outcome = ".*"', f'outcome = "{r.choice(["completed", "aborted", "Completed", "scrubbed"])}"'), (path, r'^kind = "event"', 'kind = "decision"'),
    ])  # fmt: skip


USERS = [*HELD, "records/tr-005.md", "records/tr-006.md", "records/tr-007.md", "records/tr-009.md"]


def change_uses(r, box):
    """What a run or a holding used: more, less, in another unit, under another name, or not stated."""
    path = r.choice(USERS)
    unsealed = path.startswith("records/") and r.random() < 0.4
    amount = r.choice(["0", "1", "999", '"0 s"', '"2 h"', '"3 K"', "-5", '"< 9"', '"some"', '"1 ± 900"'])
    said = replace_once(r, box, [
        (path, r"^(strokes|turns|running) = .*$", rf"\1 = {amount}"), (path, r"^(strokes|turns|running) = .*\n", ""), (path, r"^strokes = ", "turns = "),
        (path, r"^(strokes|turns|running) = ", "packing = "), (path, r"^\[uses\]\n(\w+ = .*\n)+", ""),
    ])  # fmt: skip
    if said and unsealed:
        box.write(path, re.sub(r"^seal = .*\n", "", box.text(path), flags=re.M))
        said += ", unsealed"
    return said


def more_life(r, box):
    """A budget raised, lost or counted otherwise; what a piece had used before forgotten; a renewal claimed; a use no longer asked for."""
    mov, stm, act = "tree/valve/mov.md", "tree/valve/stm.md", "tree/actuator/act-w.md"
    return replace_once(r, box, [
        (mov, "^limit = 300", "limit = 3000"), (mov, '^limit = "400 d"', 'limit = "9000 d"'), (stm, '^limit = "100"', "limit = 101"), (act, '^limit = "3600 s"', 'limit = "61 min"'),
        (mov, r"^\[serials\.used\]\nstrokes = 150\n", ""), (mov, "^strokes = 150", "strokes = 149"), (mov, r'resets = \["packing"\]', 'resets = ["packing", "strokes"]'),
        ("procedures/tp-02.md", r"^uses = .*\n", ""), ("procedures/tp-04.md", r"^uses = .*\n", ""),
        ("slipmark.toml", "^strokes = 40", "strokes = 39"), ("slipmark.toml", '^strokes = "30"', "strokes = 0"), ("slipmark.toml", '^running = "20 min"', 'running = "1199 s"'),
        ("slipmark.toml", "^turns = 20", "turns = 1"), ("campaign/he-001.md", "^strokes = 12", "strokes = 11"), ("campaign/he-003.md", '^strokes = "30 ± 2"', 'strokes = "30 ± 1"'),
    ])  # fmt: skip


def less_order(r, box):
    """What must come first, or after what a thing must be shown again."""
    return replace_once(r, box, [
        ("reqs/act/act-020.md", r'again_after = \["leak-check", "cold-shock"\]', r.choice(['again_after = ["leak-check"]', 'again_after = "cold-shock"', "again_after = []"])),
        ("reqs/std-010.md", r'(, again_after = "cold-shock"|^again_after = .*\n)', ""), ("reqs/valve/mov-030.md", r', "leak-check"\]', "]"),
        ("reqs/valve/mov-030.md", r'(, after = \["TP-01", "leak-check"\]|^after = .*\n)', ""),
    ])  # fmt: skip


def weaker_roles(r, box):
    """A rule about people lost, weakened, or about less."""
    path = "slipmark.toml"
    return replace_once(r, box, [
        (path, r"^\[\[roles\]\]\n(\w+ = .*\n)+", ""), (path, r'"range lead"\]', '"range lead", "anybody"]'), (path, r'^performed_by = "Test Conductor"', 'performed_by = ["Test Conductor", "guest"]'),
        (path, "^witnessed_by = .*\n", ""), (path, '^before = "leak-check"', 'before = "leak-check"\nmethod = "demonstration"'),
        (path, '^procedure = "TP-02"', 'procedure = "TP-04"'), (path, '^stage = "acceptance"', 'stage = "development"'),
    ])  # fmt: skip


def weaker_finding(r, box):
    """What was found out about an instrument taken back, or more of its evidence kept."""
    path = "instruments.toml"
    return replace_once(r, box, [
        (path, '^as_found = "out of tolerance"', r.choice(['as_found = "in tolerance"', 'note = "odd"'])), (path, r"^keeps_evidence = .*$", 'keeps_evidence = "all"'),
        (path, r'(?s)\[\[TQ-01\.calibrations\]\]\non = 2026-05-10.*?\n\n', ""),
    ])  # fmt: skip


def change_instrument(r, box):
    """Range, resolution, uncertainty; which instrument a field is read from; what was found, when, and what that keeps."""
    path, procedure = "instruments.toml", "procedures/tp-02.md"
    bad = r.choice(['"0 to 1 N*m"', '"all of it"', '"5"', '"0 to 5 s"', '""'])
    return replace_once(r, box, [
        (path, r"^range = .*$", f"range = {bad}"), (path, r"^range = .*\n", ""), (path, r"^resolution = .*$", f"resolution = {bad}"), (path, r"^resolution = .*\n", ""),
        (path, r"^uncertainty = .*$", r.choice(['uncertainty = "± 50 N*m"', 'uncertainty = "99 %"', 'uncertainty = "some"', 'uncertainty = "0.1 mm"'])),
        (path, r"^uncertainty = .*\n", ""), (path, r'"TR-00[5-9]",? ?', ""), (path, r"^keeps_evidence = .*\n", ""), (path, r'^reason = ".*"\n', ""),
        (path, r'^as_found = "in tolerance"', 'as_found = "out of tolerance"'), (path, r'^as_found = ".*"', 'as_found = "fine"'), (path, "^on = 2025-07-01", "on = 2026-05-01"),
        (path, "^on = 2026-05-10", r.choice(["on = 2026-04-01", "on = 2026-04-12", "on = 2026-06-30"])),
        (procedure, r', instrument = "TQ-01"', ""), (procedure, r'instrument = "TQ-01"', 'instrument = "TC-04"'), (procedure, r'instrument = "TC-04"', 'instrument = "PT-02"'),
    ])  # fmt: skip


def change_people(r, box):
    """Who did it and who saw it."""
    path = r.choice([path for path in things(box) if path.startswith("records/")])
    name = r.choice(["guest", "test conductor", "Pad Chief", "", " "])
    said = replace_once(r, box, [
        (path, r"^performed_by = .*$", f'performed_by = "{name}"'), (path, r"^performed_by = .*\n", ""), (path, r"^witnessed_by = .*$", f'witnessed_by = ["{name}"]'), (path, r"^witnessed_by = .*\n", ""),
    ])  # fmt: skip
    if said and r.random() < 0.5:
        box.write(path, re.sub(r"^seal = .*\n", "", box.text(path), flags=re.M))
        said += ", unsealed"
    return said


def change_prerequisites(r, box):
    """What has to be there before a run; what it names must exist."""
    new = r.choice(['["TP-01", "leak-chekc"]', '["TP-09"]', "[]", '"leak-check"', '["TP-01", "hot-fire", "MOV-010"]'])
    return replace_once(r, box, [("procedures/tp-02.md", r"^prerequisites = .*$", f"prerequisites = {new}")])


# A run that does not say how much it used, one that used too much, or on no piece; what must be shown again since; a finding that
# reaches back; a rule about people that nobody meets.
RUN = '+++\nkind = "test"\nid = "TR-09{n}"\ntitle = "Another run"\ndate = 2026-05-02\n{keys}\n[verifies.MOV-010]\n+++\nNotes.\n'
BURDENS = {
    "records/tr-091.md": RUN.format(n=1, keys='serial = "MOV/SN02"\nprocedure = "TP-02"'),
    "records/tr-092.md": RUN.format(n=2, keys='serial = "MOV/SN02"\nuses.strokes = 99'),
    "records/tr-093.md": RUN.format(n=3, keys='serial = "MOV/SN02"\nuses.turns = 99'),
    "records/tr-096.md": RUN.format(n=6, keys="uses.strokes = 1"),
    "records/tr-097.md": RUN.format(n=7, keys='item = "MOV"\nprocedure = "TP-02"'),
    "campaign/he-094.md": '+++\nkind = "event"\nid = "HE-094"\ntitle = "Again"\nevent = "cold-shock"\ndate = 2026-05-05\nserials = ["PRG/SN01"]\noutcome = "aborted"\n+++\nBroken off.\n',
    "campaign/he-095.md": '+++\nkind = "event"\nid = "HE-095"\ntitle = "Again"\nevent = "hot-fire"\ndate = 2026-05-05\nserials = ["ACT-W/SN02"]\noutcome = "completed"\n+++\nFired.\n',
    "instruments.toml": '\n[[TC-04.calibrations]]\non = 2026-06-01\ndue = 2026-12-01\nas_found = "out of tolerance"\n\n[[PT-02.calibrations]]\non = 2026-04-01\ndue = 2026-12-01\nas_found = "out of tolerance"\n',
    "slipmark.toml": '\n[[roles]]\nmethod = "inspection"\nwitnessed_by = ["chief engineer"]\n',
}  # fmt: skip


def new_burden(r, box):
    path = r.choice(sorted(BURDENS))
    before = box.text(path) if box.exists(path) else ""
    if before and path.startswith(("records", "campaign")) or not before and "toml" in path:
        return None
    box.write(path, before + BURDENS[path])
    return f"{path}: given {BURDENS[path]!r}"


# ---- what is computed ------------------------------------------------------------------------------------------------------

CALC = ["records/analyses/an-003.md", "records/analyses/an-004.md"]
COMPUTING = [*CALC, "records/tr-011.md"]


def unsealed(r, box, path, said, chance=0.5):
    """Takes the seal away, so that only what was written down when it was signed can tell."""
    if said and r.random() < chance:
        box.write(path, re.sub(r"^seal = .*\n", "", box.text(path), flags=re.M))
        said += ", unsealed"
    return said


def move_calculation(r, box):
    """A line of a calculation, or what a result is taken from, so that some result comes to something else or to nothing."""
    one, two, data = COMPUTING
    options = [
        (one, "^M = load \\* arm", r.choice(["M = load * arm / 2", "M = load / arm", "M = load * arm * arm", "M = 1.0001 * load * arm", "M = (30 N*m)", "arm = 26 cm\nM = load * arm", "M = lode * arm", "M = M * 2"])),
        (one, "^n = M / need - 1", r.choice(["n = M / need", "n = M / need + 1", "n = need / M - 1", "n = if M > need then 9 else 0", "n = M / need - M", "n = (M / need - 1) to m", "n = 0.5"])),
        (one, "^M = .*\\n", ""), (one, "^n = .*\\n", ""), (one, "^```calc\\n", r.choice(["```\n", "```text\n", "~~~calc\n", "", "````calc\n"])),
        (one, "\\Z", "\n```calc\n" + r.choice(["M = 50 N*m", "n = 0.9", "arm = 0.3 m", "load = 120 N", "need = 10 N*m", "x = 1 +", "x = 1 / 0", "x = 1 m + 1 s"]) + "\n```\n"),
        (one, 'moment = \\{ calc = "M" \\}', r.choice(['moment = { calc = "need" }', 'moment = { calc = "m" }', 'moment = { calc = "n" }', 'moment = { calc = "" }', 'moment = { calc = "load" }', 'moment = "31 ± 1 N*m"'])),
        (one, 'reserve = \\{ calc = "n" \\}', r.choice(['reserve = { calc = "N" }', 'reserve = { calc = "M" }', 'reserve = { calc = ["n"] }', "reserve = {}", 'reserve = { value = "0.5" }'])),
        (two, "^total = opening", r.choice(["total = 2 * opening", "total = delay", "total = opening - opening", "total = opening.", "total = sqrt(opening - opening)"])),
        (two, r"^total = opening.*\n", ""), (two, r"lift < 1 mm", "lift < 2 mm"), (two, r"lift < 1 mm", "lift < 1"), (two, r"\(50 N\*m\)", "(51 N*m)"), (two, '"drop.csv", lift', '"drop.csv", 2 * lift'), (two, "drop\\.csv\\\"", 'drop2.csv"'),
        (data, 'reduce = "max"', r.choice(['reduce = "min"', 'reduce = "mean"', 'reduce = "range"', 'reduce = "most"', 'reduce = "last"'])), (data, 'reduce = "last"', r.choice(['reduce = "max"', 'reduce = "median"', 'reduce = "integral"'])),
        (data, 'where = "t > 0.5 s"', r.choice(['where = "t > 1.5 s"', 'where = "t > 9 s"', 'where = "t > 0.5"', 'where = "p < 7.2 MPa"'])), (data, 'uncertainty = "± 0.05 MPa"', r.choice(['uncertainty = "± 0.1 MPa"', 'uncertainty = "0.05 s"', 'uncertainty = "1 %"', 'instrument = "PT-03"'])),
        (data, ', uncertainty = "± 0.05 MPa"', ""), (data, 'column = "p"', 'column = "t"'), (data, 'column = "p"', 'column = "q"'), (data, ', instrument = "PT-03"', ""), (data, 'instrument = "PT-03"', 'instrument = "TC-04"'),
    ]  # fmt: skip
    path, pattern, new = r.choice(options)
    return unsealed(r, box, path, replace_once(r, box, [(path, pattern, new.replace("\\", "\\\\"))]))


def move_input(r, box):
    """An input that a result rests on: another value, another spread, another source, none."""
    one, two, _ = COMPUTING
    options = [
        (one, '^value = "20 N\\*m"', r.choice(['value = "21 N*m"', 'value = "20 ± 1 N*m"', 'value = "20 kJ"', 'value = "< 20 N*m"', 'value = ""', 'value = 20', 'from = "AN-003.n"', 'from = "AN-009.M"', 'readings = ["20 N*m"]', 'readings = ["19 N*m", "21 N*m"]'])),
        (one, '^value = "20 N\\*m"\\n', ""), (one, r"^\[inputs\.need\]", r.choice(["[inputs.needs]", "[inputs.arm]", "[inputs.load]"])),
        (two, '^value = "3 ± 0.6 s"', r.choice(['value = "3 s"', 'value = "3 ± 0.1 s"', 'value = "2 ± 0.6 s"', 'value = "3 ± 0.6 (rectangular) s"', 'value = "[2, 4] s"', 'value = "3 ± 0.6 s (95 %, nu=3)"'])),
        (two, '^value = "2 ± 1 s"', r.choice(['value = "2 s"', 'value = "2 ± 1"', 'value = "1 ± 1 s"'])), (two, '^value = "1.5 ± 0.1 mm"', r.choice(['value = "2.5 mm"', 'value = "0.5 ± 0.1 mm"', 'value = "1.5 mm"', 'value = "1.0 ± 0.1 mm"', 'value = "15 m"'])),
        (two, '^from = "AN-003.moment"', r.choice(['from = "AN-003.reserve"', 'from = "AN-004.M"', 'from = "AN-004.share"', 'from = "AN-003.m"', 'from = "TR-005.travel"', 'from = "AN-003"', 'from = "TR-011.peak"', 'value = "30 N*m"', 'from = "MOV-010.proof"'])),
        (two, '^r = 0.5', r.choice(["r = 0.4", "r = 0", "r = -1", "r = 2", 'r = "half"', "r = 1"])), (two, r"^r = .*\n", ""), (two, r'^between = .*', r.choice(['between = ["opening"]', 'between = ["opening", "M"]', 'between = ["opening", "opening"]', 'between = ["opening", "late"]'])),
        (two, r"^\[\[correlations\]\]\n(\w+ = .*\n)+", ""), (two, r"^\[\[data\]\]\n(\w+ = .*\n)+", ""), (two, "^sha256 = .*\\n", ""),
    ]  # fmt: skip
    path, pattern, new = r.choice(options)
    return unsealed(r, box, path, replace_once(r, box, [(path, pattern, new)]))


def move_kept(r, box):
    """What it came to when it was signed."""
    path = r.choice(COMPUTING)
    number = r.choice(["31 ± 1 N·m", "30 N·m", "0.6", "0.45 ± 0.06 MPa", "5 ± 1.41 s", "7.3 MPa", "", "some", "< 5 s", "30 ± 1 J"])
    return unsealed(r, box, path, replace_once(r, box, [
        (path, r"^\[verifies\.STD-0\d0\.computed\]\n(\w+ = .*\n)+", ""), (path, r'^(moment|reserve|total|share|drop|peak|end) = "\d.*"$', rf'\1 = "{number}"'), (path, r'^(moment|reserve|total|share|drop|peak|end) = "\d.*"\n', ""),
        (path, r"^\[verifies\.(STD-0\d0)\.computed\]", r"[verifies.\1.outcomes]"), (path, r'^(moment|total|peak) = ("\d.*")$', r"x\1 = \2"), (path, r'^(moment|total|peak) = ("\d.*")$', r"\1 = [\2]"),
    ]))  # fmt: skip


def move_parameter(r, box):
    """A parameter that a calculation uses and no limit does; or the instrument that data were taken with."""
    path = "parameters.toml"
    return replace_once(r, box, [
        (path, '^value = "120 ± 4 N"', 'value = "' + r.choice(["121 ± 4 N", "120 N", "120 ± 3.9 N", "120 ± 4 kg", "-120 ± 4 N", "TBD", "< 120 N", "1e300 N", "120 ± 4 N (rectangular)", "120 ± 4 N (95 %, nu=5)", "12O ± 4 N"]) + '"'),
        (path, '^value = "0.25 m"', 'value = "' + r.choice(["0.26 m", "0.25 ± 0.01 m", "0.25", "0 m", "0.2500001 m", "0.25 mm", "1e-400 m"]) + '"'),
        (path, r"^\[load\]\n(\w+ = .*\n)+", ""), (path, r"^\[arm\]\n(\w+ = .*\n)+", ""), (path, r"^\[load\]", "[laod]"), (path, r"^\[arm\]", "[Arm]"), (path, '^value = "0.25 m"\\n', ""),
        ("instruments.toml", '^uncertainty = "± 0.04 MPa"', r.choice(['uncertainty = "± 0.03 MPa"', 'uncertainty = "some"', 'uncertainty = "1 %"', 'uncertainty = "0.04 s"'])), ("instruments.toml", r'^uncertainty = "± 0.04 MPa"\n', ""), ("instruments.toml", '^resolution = "0 MPa"', 'resolution = "0.01 MPa"'),
    ])  # fmt: skip


def move_cells(r, box):
    """A cell that decides, with the hash made anew and the seal taken away: the file is then what the record says it is."""
    path, table, old, new = r.choice([
        ("records/tr-011.md", "records/data/tr-011.csv", b"1,7.3", r.choice([b"1,7.2", b"1,7.4", b"1,", b"1,NaN", b"1,seven", b"0.4,7.3", b"1,7.3000001", b'1,"7,3"', b"1,7.3,9"])),
        ("records/tr-011.md", "records/data/tr-011.csv", b"3,6.1", r.choice([b"3,6.2", b"3,5", b"3,7.4", b"3,nan", b"3,-6.1", b"1.5,6.1", b""])),
        ("records/tr-011.md", "records/data/tr-011.csv", b"p [MPa]", r.choice([b"p [kPa]", b"p", b"P [MPa]", b"p [MPa gauge]", b"p [s]"])),
        ("records/tr-011.md", "records/data/tr-011.csv", b"t [s],p [MPa]", b"p [MPa],t [s]"),
        ("records/analyses/an-004.md", "records/analyses/drop.csv", b"1,0.2", r.choice([b"1,0.3", b"0,0.2", b"1,", b"3,0.2", b"2,0.2", b"1.6,0.2"])),
        ("records/analyses/an-004.md", "records/analyses/drop.csv", b"2,0.7", r.choice([b"2,0.71", b"2,-0.7", b"2,0.7e9", b"1.4,0.7", b"0.5,0.7", b"2,0,7"])),
        ("records/analyses/an-004.md", "records/analyses/drop.csv", b"lift [mm]", r.choice([b"lift [s]", b"lift [m]", b"lift"])),
    ])  # fmt: skip
    data = box.read(table)
    changed = data.replace(old, new, 1)
    if changed == data:
        return None
    box.write(table, changed)
    text = box.text(path).replace(hashlib.sha256(data).hexdigest(), hashlib.sha256(changed).hexdigest())
    box.write(path, re.sub(r"^seal = .*\n", "", text, flags=re.M))
    return f"{table}: {old!r} -> {new!r}, hashed anew, unsealed"


def swap_tables(r, box):
    """Another table under the same name, hashed anew; or another name for the table, that of a file that is there."""
    path = "records/tr-011.md"
    said = replace_once(r, box, [(path, r'data = "data/tr-011\.csv"', 'data = "data/tr-004.csv"'), (path, r'data = "data/tr-011\.csv"', 'data = "tr-009.csv"'), (path, r'data = "data/tr-011\.csv"', 'data = "../records/data/tr-011.csv"')])
    return unsealed(r, box, path, said)


def harm_calculation(r, box):
    """Any letter of a calculation, or a line of it."""
    path = r.choice(CALC)
    text = box.text(path)
    start = text.index("```calc\n") + 8
    end = text.rindex("```")
    at = r.randrange(start, end)
    new = r.choice(["", "0", "9", " ", "\n", "#", "(", ")", "*", "-", "=", "m", "\0", "±", ";", "^", "."])
    box.write(path, text[:at] + new + text[at + r.randrange(2) :])
    return unsealed(r, box, path, f"{path}: character {at} replaced by or given {new!r}")


def rest_on_less(r, box):
    """The record that another takes a value from is no longer signed, gone, or something else."""
    path = "records/analyses/an-003.md"
    if r.random() < 0.2:
        box.remove(path)
        return f"{path}: deleted"
    return replace_once(r, box, [(path, '^status = "signed"', f'status = "{r.choice(["draft", "withdrawn"])}"'), (path, '^status = "signed"\\n', ""), (path, '^id = "AN-003"', 'id = "AN-033"'), (path, '^kind = "analysis"', 'kind = "test"'), (path, "^date = 2026-04-21", "date = 2027-04-21")])  # fmt: skip


MUST_SAY = {more_life, less_order, weaker_roles, weaker_finding}

UNITS = ["mm", "m", "in", "s", "ms", "min", "MPa", "kPa", "bar", "MPa gauge", "MPa abs", "K", "degC", "N*m", "J", "lbf*in", "%", "kg", ""]


def change_unit(r, box):
    def change(line):
        found = list(re.finditer(r'(?<=[\d)] )(mm|s|ms|MPa gauge|MPa|K|N\*m|%)(?=")', line))
        if not found:
            return None
        one = r.choice(found)
        return line[: one.start()] + other(r, UNITS, one[0]) + line[one.end() :]

    return edit_line(r, box, r'[\d)] (mm|s|ms|MPa|K|N\*m|%)', change)


def change_uncertainty(r, box):
    def change(line):
        if "±" in line:
            return r.choice([re.sub(r" ± [\d.]+", "", line), re.sub(r"± [\d.]+", "± 900", line), re.sub("±", "+", line, count=1)])
        return re.sub(r"\(\d+\)", r.choice(["", "(99)"]), line)

    return edit_line(r, box, r"±|\(\d+\)", change)


def change_bound(r, box):
    return edit_line(r, box, r'"[<>] ', lambda line: line.replace('"< ', r.choice(['"> ', '"', '"≤ ', '"<< '])))


def change_hex(r, box):
    def change(line):
        found = [m.start() for m in re.finditer(r"[0-9a-f](?=[0-9a-f]*\")", line)]
        if not found:
            return None
        at = r.choice(found)
        return line[:at] + other(r, "0123456789abcdef", line[at]) + line[at + 1 :]

    return edit_line(r, box, r"(m1|s1)-[0-9a-f]{12}|sha256", change)


def lose_hex(r, box):
    return edit_line(r, box, r"(m1|s1)-[0-9a-f]{12}", lambda line: re.sub(r'"[ms]1-.*?"', r.choice(['""', '"m1-"', '"s1-000000000000"']), line))


def change_date(r, box):
    def change(line):
        one = r.choice(list(re.finditer(r"\d{4}-\d\d-\d\d", line)))
        date = datetime.date.fromisoformat(one[0]) + datetime.timedelta(days=r.choice([-400, -90, -30, -7, -1, 1, 7, 30, 90, 400]))
        new = r.choice([str(date)] * 6 + ["2026-02-30", "2026-13-01", f'"{date}"'])
        return line[: one.start()] + new + line[one.end() :]

    return edit_line(r, box, r"\d{4}-\d\d-\d\d", change)


WORDS = {
    "status": ["active", "draft", "withdrawn", "signed", "released", "current", "candidate", "dropped", "scrapped", "in use", "open", "closed",
               "dispositioned", "accepted", "proposed", "approved", "Signed"],
    "kind": ["requirement", "test", "analysis", "inspection", "demonstration", "item", "slot", "procedure", "decision", "nonconformance", "waiver", "tests"],
    "method": ["test", "analysis", "inspection", "demonstration", "tests"],
    "stage": ["development", "qualification", "acceptance", "flight"],
    "on": ["each", "one", "design", "all"],
    "use": ["service", "qualification", "spare", "other"],
    "disposition": ["use-as-is", "rework", "repair", "scrap", "return", "none"],
    "earlier_runs": ["count", "do not count", "perhaps"],
    "before": ["leak-check", "cold-shock", "cold-flow", "hot-fire", "launch"],
    "rule": ["simple", "guarded", "probability", "none"],
    "verified_by": ["children", "parents"],
    "outcome": ["completed", "aborted", "done"],
    "counted": ["use", "age", "time"],
    "as_found": ["in tolerance", "out of tolerance", "fine"],
    "event": ["leak-check", "cold-shock", "cold-flow", "hot-fire", "launch"],
}  # fmt: skip


def change_word(r, box):
    key = r.choice(sorted(WORDS))

    def change(line):
        return re.sub(rf'\b{key} = "([^"]*)"', lambda m: f'{key} = "{other(r, WORDS[key], m[1])}"', line, count=1)

    return edit_line(r, box, rf'\b{key} = "', change)


SERIALS = ["MOV/SN01", "MOV/SN02", "MOV/SN03", "MOV/SN04", "STM/SN11", "ACT-W/SN01", "ACT-W/SN02", "PRG/SN01", "MOV/SN99", "MOV", "mov/sn02"]


def change_serial(r, box):
    return edit_line(r, box, r"[A-Z]/SN\d", lambda line: re.sub(r"[A-Z-]+/SN\d+", lambda m: other(r, SERIALS, m[0]), line, count=1))


def change_number_of_piece(r, box):
    return edit_line(r, box, r'"SN\d\d"', lambda line: re.sub(r'"SN\d\d"', f'"SN{r.randrange(1, 20):02}"', line, count=r.choice([0, 1])))


IDS = ["MOV-010", "MOV-020", "MOV-030", "MOV-040", "MOV-050", "ACT-010", "ACT-020", "ACT-030", "PRG-010", "STD-010", "STD-020", "SYS-001", "MOV",
       "ACT-W", "ACT-P", "MOV-ACT", "PRG", "STAND", "TP-01", "TP-02", "TP-03", "TP-04", "TR-001", "TR-003", "NC-001", "D-001", "GONE-1", "mov-010", "MOV-060", "W-001", "NC-002", "IN-006"]  # fmt: skip


def change_id(r, box):
    """One id in one place."""
    pattern = "|".join(sorted(IDS, key=len, reverse=True))

    def change(line):
        found = list(re.finditer(rf"(?<![\w/-])({pattern})(?![\w/-])", line))
        if not found:
            return None
        one = r.choice(found)
        return line[: one.start()] + other(r, IDS, one[0]) + line[one.end() :]

    return edit_line(r, box, pattern, change)


def change_id_everywhere(r, box):
    """A consistent new name: what was asked under the old one must not just be gone."""
    old = r.choice(IDS[:24])
    new = old + r.choice(["A", ".1", "-X"])
    count = 0
    for path in [*things(box), *tables(box)]:
        text = box.text(path)
        changed = re.sub(rf"(?<![\w-]){re.escape(old)}(?![\w-])", new, text)
        count += changed != text
        box.write(path, changed)
    return f"{old} is called {new} in {count} files"


LOOKALIKES = {"A": "А", "C": "С", "M": "М", "O": "О", "T": "Т", "-": "‐", "e": "е", "o": "о", "1": "１", "0": "О", " ": "\u00a0", "S": "Ѕ", "a": "а"}


def lookalike(r, box):
    """One letter, digit or space as another alphabet has it."""

    def change(line):
        found = [n for n, letter in enumerate(line) if letter in LOOKALIKES]
        if not found:
            return None
        at = r.choice(found)
        return line[:at] + LOOKALIKES[line[at]] + line[at + 1 :]

    return edit_line(r, box, r"\S", change)


def change_string(r, box):
    return edit_line(r, box, r'= "[^"]+"$', lambda line: re.sub(r'"([^"]+)"$', r.choice(['""', r'"\1 "', r'"TBD"', r'["\1"]', r'"\1\1"', "true", "0"]), line))


def lose_member(r, box):
    """One member of a list."""

    def change(line):
        head, inside = re.match(r"(.*?\[)(.*)(\].*)", line).group(1, 2)
        parts = re.split(r", (?![^{]*\})", inside)
        parts.pop(r.randrange(len(parts)))
        return head + ", ".join(parts) + re.match(r"(.*?\[)(.*)(\].*)", line)[3]

    return edit_line(r, box, r"= \[.+\]$", change)


def lose_table(r, box):
    """A whole [table] or [[table]]."""
    paths = [path for path in [*things(box), *tables(box)] if re.search(r"^\[", box.text(path), re.M)]
    path = r.choice(paths)
    lines, inside = front(box.text(path))
    starts = [n for n in inside if lines[n].startswith("[")]
    if not starts:
        return None
    at = r.choice(starts)
    end = next((n for n in range(at + 1, inside[-1] + 1) if lines[n].startswith("[")), inside[-1] + 1)
    gone = lines[at]
    box.write(path, "\n".join(lines[:at] + lines[end:]))
    return f"{path}:{at + 1}: lost the table {gone}"


def swap_values(r, box):
    """The same key of two files."""
    key = r.choice(["id", "result", "mark", "seal", "serial", "date", "stage", "procedure", "revision", "min", "instruments", "applies_to", "method"])
    holders = [(path, m) for path in things(box) for m in [re.search(rf"^{key} = (.*)$", box.text(path), re.M)] if m]
    if len(holders) < 2:
        return None
    (a, in_a), (b, in_b) = r.sample(holders, 2)
    if in_a[1] == in_b[1]:
        return None
    for path, mine, theirs in ((a, in_a, in_b), (b, in_b, in_a)):
        text = box.text(path)
        box.write(path, text[: mine.start(1)] + theirs[1] + text[mine.end(1) :])
    return f"{a} and {b}: {key} swapped ({in_a[1]}, {in_b[1]})"


def change_statement(r, box):
    path = r.choice([path for path in things(box) if path.startswith("reqs/")])
    text = box.text(path)
    at = text.index("\n+++\n") + 5
    head, tail = text[:at], text[at:]
    new = r.choice(
        [
            tail.replace("shall", r.choice(["shall not", "should", "must"]), 1),
            re.sub(r"\d+", "9", tail, count=1),
            tail.replace(".", ", if possible.", 1),
            "# Statement\n\n" + tail,
            "<!-- " + tail.replace("\n\n", " -->\n\n", 1),
            "\n".join(tail.split("\n")[1:]),
            tail.replace("\n\n##", "\n\nIt shall also float.\n\n##", 1),
        ]
    )
    if new == tail:
        return None
    box.write(path, head + new)
    return f"{path}: statement now {new.split('##')[0]!r}"


# ---- files ---------------------------------------------------------------------------------------------------------------


def delete_file(r, box):
    path = r.choice(sorted(path for path in box.files if box.exists(path)))
    box.remove(path)
    return f"{path}: deleted"


def delete_both(r, box):
    """A requirement and everything that names it as evidence."""
    path = r.choice([path for path in things(box) if path.startswith("reqs/")])
    id = re.search(r'^id = "(.*)"', box.text(path), re.M)[1]
    box.remove(path)
    for one in things(box):
        text = box.text(one)
        if f"verifies.{id}]" in text or f'"{id}"' in text:
            text = re.sub(rf"\[verifies\.{id}.*?(?=\n\[verifies\.(?!{id})|\n\+\+\+)", "", text, flags=re.S)
            text = re.sub(rf'"{id}",? ?', "", text)
            box.write(one, text)
    return f"{path}: deleted with every mention of {id}"


def delete_folder(r, box):
    folder = r.choice(sorted({path.rsplit("/", 1)[0] for path in box.files if "/" in path}))
    gone = [path for path in sorted(box.files) if path.startswith(folder + "/") and box.exists(path)]
    for path in gone:
        box.remove(path)
    return f"{folder}: deleted with {len(gone)} files" if gone else None


def rename_file(r, box):
    path = r.choice(things(box))
    new = r.choice([path[:-3] + ".txt", path + "~", path[:-3] + ".markdown", path[:-3] + ".MD", path + ".orig", path.replace(".md", ".toml"), "." + path, path[:-3]])
    if "/" in path and new.startswith("."):
        folder, name = path.rsplit("/", 1)
        new = f"{folder}/.{name}"
    data = box.read(path)
    box.remove(path)
    box.write(new, data)
    return f"{path}: renamed to {new}"


def move_out(r, box):
    path = r.choice(sorted(path for path in box.files if box.exists(path)))
    target = r.choice([os.path.join(box.top, "drawings"), box.top, box.outside])
    os.rename(box.full(path), os.path.join(target, os.path.basename(path)))
    return f"{path}: moved out of the project"


def copy_file(r, box):
    a, b = r.sample(things(box), 2)
    target = r.choice([b, "copies/" + os.path.basename(a)])
    box.write(target, box.read(a))
    return f"{a}: copied to {target}"


def link_file(r, box):
    """A link in place of the file."""
    path = r.choice(sorted(path for path in box.files if box.exists(path)))
    data = box.read(path)
    target = r.choice([os.path.join(box.outside, "target"), os.path.join(box.top, "drawings", "target"), box.full("target.dat"), "nowhere"])
    if target != "nowhere":
        with open(target, "wb") as file:
            file.write(data)
    box.remove(path)
    os.symlink(target, box.full(path))
    return f"{path}: replaced by a link to {target}"


def link_folder(r, box):
    folder = r.choice(sorted({path.split("/")[0] for path in box.files if "/" in path and box.exists(path)}))
    target = os.path.join(box.outside, folder)
    os.rename(box.full(folder), target)
    if r.random() < 0.7:
        os.symlink(target, box.full(folder))
    return f"{folder}: moved out and perhaps replaced by a link"


def become_folder(r, box):
    path = r.choice(sorted(path for path in box.files if box.exists(path)))
    box.remove(path)
    os.makedirs(box.full(path))
    box.write(path + "/keep", b"")
    return f"{path}: now a folder"


# As the specification of Git LFS, version 1, has it: what stands in for a file that is kept elsewhere.
POINTER = "version https://git-lfs.github.com/spec/v1\noid sha256:{}\nsize {}\n"


def harm_attachment(r, box):
    """Another content, none, that of another attachment, or what only stands in for it."""
    path = r.choice(attachments(box) or ["records/tr-001.csv"])
    if not box.exists(path):
        return None
    data = box.read(path)
    other_path = r.choice([one for one in attachments(box) if one != path] or [path])
    pointer = lambda content: POINTER.format(hashlib.sha256(content).hexdigest(), len(content)).encode()
    new = {
        "longer": data + b"2,9.2\n", "shorter": data[:-3], "empty": b"", "gone": None, "first byte": b"T" + data[1:], "last byte": data[:-1] + b"7", "spaces": data.replace(b",", b", ") + b" ",
        "swapped": box.read(other_path), "pointer": pointer(data), "pointer to another": pointer(box.read(other_path)),
    }  # fmt: skip
    how = r.choice(sorted(new))
    if new[how] == data:
        return None
    if how == "swapped":
        box.write(other_path, data)
    box.remove(path) if new[how] is None else box.write(path, new[how])
    return f"{path}: attachment {how}"


def mode(r, box):
    path = r.choice(things(box))
    os.chmod(box.full(path), r.choice([0o755, 0o000, 0o200]))
    return f"{path}: other mode"


# ---- git -----------------------------------------------------------------------------------------------------------------


def ignore_some(r, box):
    path = r.choice(things(box))
    where = r.choice([".gitignore", os.path.dirname(path) + "/.gitignore"])
    box.write(where, r.choice(["*\n", "*.md\n", "**/*.md\n", os.path.basename(path) + "\n", "/reqs\n/records\n"]))
    said = f"{where} ignores {path}"
    if r.random() < 0.6:
        box.git("rm", "-q", "--cached", "--", f"{fixture.PROJECT}/{path}")
        said += ", no longer tracked"
    if r.random() < 0.3:
        box.remove(path)
        said += ", deleted"
    return said


def hide_in_index(r, box):
    path = r.choice(sorted(path for path in box.files if box.exists(path)))
    flag = r.choice(["--skip-worktree", "--assume-unchanged"])
    box.git("update-index", flag, f"{fixture.PROJECT}/{path}")
    box.remove(path)
    return f"{path}: {flag} and deleted"


def sparse(r, box):
    folder = r.choice(["records", "reqs", "tree", "departures"])
    for path in sorted(box.files):
        if path.startswith(folder + "/") and box.exists(path):
            box.git("update-index", "--skip-worktree", f"{fixture.PROJECT}/{path}")
            box.remove(path)
    return f"{folder}: left out as a sparse checkout does"


def nested_project(r, box):
    folder = r.choice(sorted({path.rsplit("/", 1)[0] for path in box.files if "/" in path}))
    box.write(f"{folder}/slipmark.toml", 'name = "Another"\nevents = ["x"]\n')
    return f"{folder}: a project of its own inside"


def nested_repository(r, box):
    folder = r.choice(["reqs", "records", "departures"])
    subprocess.run(["git", "init", "-q", box.full(folder)], check=True, env={**os.environ, **fixture.GIT_ENV})
    return f"{folder}: a repository of its own inside"


def gitlink(r, box):
    """A folder becomes a submodule that is not checked out."""
    folder = r.choice(["records", "reqs", "departures", "tree/actuator"])
    for path in sorted(box.files):
        if path.startswith(folder + "/") and box.exists(path):
            box.remove(path)
    box.git("rm", "-q", "-r", "--cached", "--", f"{fixture.PROJECT}/{folder}")
    box.git("update-index", "--add", "--cacheinfo", f"160000,{'1' * 40},{fixture.PROJECT}/{folder}")
    os.makedirs(box.full(folder), exist_ok=True)
    return f"{folder}: a submodule that is not checked out"


def attributes(r, box):
    """Git is told to convert files, and a limit is changed meanwhile."""
    line = r.choice(["*.md text eol=crlf", "*.md filter=none", "*.md working-tree-encoding=UTF-16", "*.md -diff", "*.md ident", "*.md export-ignore"])
    box.write(r.choice([".gitattributes", "reqs/.gitattributes"]), line + "\n")
    said = change_limit(r, box)
    return said and f"{line}; {said}"


# ---- the project file ------------------------------------------------------------------------------------------------------


def harm_project_file(r, box):
    text = box.text("slipmark.toml")
    names = ["leak-check", "cold-shock", "cold-flow", "hot-fire"]
    a, b = r.sample(names, 2)
    options = [
        ("no event " + a, re.sub(rf'\[\[events\]\]\nname = "{a}"\n(?:\w+ = .*\n)*', "", text)),
        (f"{a} and {b} swapped", text.replace(f'"{a}"', '"?"').replace(f'"{b}"', f'"{a}"').replace('"?"', f'"{b}"')),
        (f"{a} is now {b}", text.replace(f'"{a}"', f'"{b}"')),
        ("no dates", re.sub(r"^date = .*\n", "", text, flags=re.M)),
        ("no serials", re.sub(r"^serials = .*\n", "", text, flags=re.M)),
        ("only spare serials", re.sub(r"^serials = .*$", 'serials = ["MOV/SN04"]', text, flags=re.M)),
        ("no piece of the actuator", text.replace('"ACT-W/SN02", ', "", 1)),
        ("the spare as well", text.replace('"ACT-W/SN02"', '"ACT-W/SN02", "MOV/SN04"', 1)),
        ("a qualification piece", text.replace('"ACT-W/SN02"', '"ACT-W/SN01"', 1)),
        ("levels off", text + "\n[levels]\n" + "".join(f'{code} = "off"\n' for code in ("vanished", "unsealed", "bad-quantity"))),
        ("nested allowed", text.replace("\nambient", '\nprojects = ["records"]\nambient', 1)),
        ("rule", text.replace("guarded", r.choice(["simple", "probability", "Guarded"]))),
        ("ambient", text.replace("101.3 kPa abs", r.choice(["20 MPa abs", "101.3 kPa", "0 Pa abs"]))),
        ("empty", ""),
    ]
    said, new = r.choice(options)
    if new == text:
        return None
    box.write("slipmark.toml", new)
    return f"slipmark.toml: {said}"


# ---- what is new and must be seen --------------------------------------------------------------------------------------------

NEW = {
    "requirement": '+++\nkind = "requirement"\nid = "NEW-1"\ntitle = "New"\nsource = "site rules"\n[[verify]]\nmethod = "inspection"\n+++\nThe stand shall have a lamp.\n',
    "draft": '+++\nkind = "requirement"\nid = "NEW-2"\ntitle = "New"\nsource = "site rules"\nstatus = "draft"\n+++\nThe stand shall have a lamp.\n',
    "nonconformance": '+++\nkind = "nonconformance"\nid = "NC-9"\ntitle = "Crack"\ndate = 2026-05-02\nagainst = "MOV/SN02"\n+++\nA crack.\n',
    "failure": '+++\nkind = "inspection"\nid = "IN-9"\ntitle = "Seen"\ndate = 2026-05-02\nstatus = "signed"\nperformed_by = "x"\n[verifies.STD-010]\nmark = "MARK"\nresult = "fail"\n+++\nNo.\n',
    "newer draft": '+++\nkind = "inspection"\nid = "IN-8"\ntitle = "Seen"\ndate = 2026-05-09\nperformed_by = "x"\n[verifies.STD-010]\nresult = "fail"\n+++\nNo.\n',
    "unfenced": 'kind = "requirement"\nid = "NEW-3"\n',
    "fenced otherwise": '---\nkind = "requirement"\nid = "NEW-3"\n---\nThe stand shall have a lamp.\n',
    "broken": '+++\nkind = "requirement"\nid = "NEW-4\n+++\nThe stand shall have a lamp.\n',
    "unknown": '+++\nkind = "requirment"\nid = "NEW-5"\ntitle = "New"\n+++\nThe stand shall have a lamp.\n',
}  # fmt: skip


def new_file(r, box):
    what = r.choice(sorted(NEW))
    text = NEW[what]
    if "MARK" in text:
        text = text.replace("MARK", re.search(r"m1-\w+", box.text("records/in-005.md"))[0])
    path = r.choice(["new.md", "reqs/valve/new.MD", "deep/er/still/new.md", ".hidden/new.md", "reqs/New File.md", "build/new.md"])
    box.write(path, text)
    return f"{path}: new: {what}"


def new_hidden(r, box):
    """A new file of the project that git is told to ignore."""
    what = r.choice(["requirement", "draft", "nonconformance", "failure", "broken"])
    text = NEW[what].replace("MARK", "m1-000000000000")
    path = r.choice(["reqs/new.md", "hidden/new.md"])
    box.write(path, text)
    where, line = r.choice([("reqs/.gitignore" if path.startswith("reqs") else ".gitignore", "new.md\n"), (".gitignore", "/hidden/\n/reqs/new.md\n")])
    if r.random() < 0.3:
        with open(os.path.join(box.top, ".git", "info", "exclude"), "a", encoding="utf-8") as file:
            file.write("new.md\n")
        where = ".git/info/exclude"
    else:
        box.write(where, line)
    return f"{path}: new: {what}, ignored by {where}"


MUST_OPEN = {new_file, new_hidden, new_burden, harm_attachment, move_calculation, move_input, move_kept, move_parameter, move_cells, swap_tables, rest_on_less}

# Each with its weight.
ALL = [
    (flip_bit, 6), (change_byte, 8), (truncate, 3), (recode, 1), (lose_line, 10), (double_line, 4), (swap_lines, 4), (double_key, 2),
    (change_limit, 8), (change_result, 8), (lookalike, 4), (gitlink, 1), (attributes, 2), (comment_out, 5), (rename_key, 4), (conflict, 3), (early_fence, 2), (line_ends, 2), (change_number, 10), (change_unit, 4),
    (change_contents, 6), (change_uncertainty, 3), (change_bound, 1), (change_hex, 3), (lose_hex, 2), (change_date, 7), (change_word, 10), (change_serial, 5),
    (change_number_of_piece, 2), (change_id, 7), (change_id_everywhere, 3), (change_string, 5), (lose_member, 4), (lose_table, 5),
    (swap_values, 5), (change_statement, 5), (delete_file, 5), (delete_both, 2), (delete_folder, 1), (rename_file, 4), (move_out, 3),
    (copy_file, 3), (link_file, 3), (link_folder, 1), (become_folder, 1), (harm_attachment, 3), (mode, 1), (ignore_some, 4),
    (hide_in_index, 3), (sparse, 1), (nested_project, 2), (nested_repository, 1), (harm_project_file, 5), (new_file, 4), (new_hidden, 4),
    (change_held, 8), (change_uses, 8), (more_life, 6), (less_order, 3), (weaker_roles, 4), (weaker_finding, 3), (change_instrument, 6), (change_people, 5),
    (change_prerequisites, 1), (new_burden, 4), (move_calculation, 12), (move_input, 12), (move_kept, 5), (move_parameter, 8), (move_cells, 8), (swap_tables, 2),
    (harm_calculation, 6), (rest_on_less, 2),
]  # fmt: skip
