"""Edits that change nothing about the evidence: after any of them the answer must still be "nothing open"."""

import os

import fixture
from mutations import attachments, front, tables, things


def requirements(box):
    return [path for path in things(box) if path.startswith("reqs/")]


def records(box):
    return [path for path in things(box) if path.startswith("records/")]


def change(r, box, paths, edit):
    """Tries files in a random order until one of them is changed by `edit`."""
    paths = list(paths)
    r.shuffle(paths)
    for path in paths:
        old = box.text(path)
        new = edit(old)
        if new != old:
            box.write(path, new)
            return path
    return None


def rationale(r, box):
    return change(r, box, requirements(box), lambda text: text.replace("Invented for", r.choice(["Written for", "Made up\nfor", "**Invented** for"])))


def prose(r, box):
    extra = r.choice(["\nThe wind was light.\n", "\n- one\n- two\n", "\n## Later\n\nA typo mended.\n"])
    return change(r, box, records(box), lambda text: text + extra)


def body_of(text):
    at = text.index("\n+++\n") + 5
    return text[:at], text[at:]


def wrap(r, box):
    """Wraps a statement elsewhere."""

    def edit(text):
        head, body = body_of(text)
        said, rest = body.split("\n\n", 1)
        words = said.replace("\n", " ").split(" ")
        at = r.randrange(1, len(words))
        return head + " ".join(words[:at]) + "\n" + " ".join(words[at:]) + "\n\n" + rest

    return change(r, box, requirements(box), edit)


def quotes(r, box):
    return change(r, box, requirements(box), lambda text: text.replace("“required”", '"required"').replace("*proof*", "_proof_"))


def comment(r, box):
    def edit(text):
        lines, inside = front(text)
        at = r.choice(inside)
        if r.random() < 0.5:
            lines.insert(at, "# Somebody noted something.")
        elif lines[at] and not lines[at].startswith("["):
            lines[at] += "  # as agreed"
        return "\n".join(lines)

    return change(r, box, [*things(box), *tables(box)], edit)


def blank(r, box):
    def edit(text):
        lines, inside = front(text)
        lines.insert(r.choice(inside), "")
        return "\n".join(lines)

    return change(r, box, [*things(box), *tables(box)], edit)


def key_order(r, box):
    """Keys of the first table in another order."""

    def edit(text):
        lines, inside = front(text)
        end = next((n for n in inside if lines[n].startswith("[") or not lines[n]), inside[-1] + 1)
        keys = lines[inside[0] : end]
        r.shuffle(keys)
        return "\n".join([*lines[: inside[0]], *keys, *lines[end:]])

    return change(r, box, things(box), edit)


def line_ends(r, box):
    return change(r, box, things(box), lambda text: text.replace("\n", "\r\n"))


def bom(r, box):
    return change(r, box, things(box), lambda text: "\ufeff" + text)


# The same quantity in another unit, exactly: 1 in = 25.4 mm, 0 degC = 273.15 K (BIPM SI brochure, 9th edition, and its table 8).
RESTATED = [
    ('"0.254 mm"', '"0.01 in"'), ('"300 s"', '"5 min"'), ('"2 s"', '"2000 ms"'), ('"95 K"', '"-178.15 degC"'), ('"19.9 mm"', '"1.99 cm"'),
    ('"40 N*m"', '"0.04 kN*m"'), ('"4 MPa gauge"', '"4000 kPa gauge"'), ('"9.1 ± 0.05 MPa gauge"', '"9100 ± 50 kPa gauge"'),
    ('"1.5 ± 0.1 s"', '"1500 ± 100 ms"'), ('"310 ± 1 s"', '"310000 ± 1000 ms"'), ('"2 mm"', '"0.2 cm"'), ('"0.2 %"', '"0.002"'),
    ("min = 0.5", 'min = "50 %"'), ("min = 0.5", "min = 0.50"), ('"284 ± 2 K"', '"10.85 ± 2 degC"'), ('"52 ± 2 N*m"', '"52.0 ± 2.0 N·m"'),
    ('"< 0.1 mm"', '"< 100 um"'), ('"20.01(2) mm"', '"20.01 ± 0.04 mm"'), ('"31 ± 1 N*m"', '"31 N*m ± 1 N*m"'), ('"273 K"', '"-0.15 degC"'),
    ('"3600 s"', '"1 h"'), ('"20 min"', '"1200 s"'), ('"0.2 h"', '"720 s"'), ('"240 ± 10 s"', '"4 min ± 10 s"'), ("limit = 300", 'limit = "300.0"'), ("strokes = 12", 'strokes = "12"'),
    ('"400 d"', '"9600 h"'), ('"0.1 N*m"', '"0.1 N·m"'), ('"± 0.03 MPa"', '"30 kPa"'), ('"0.01 MPa"', '"10 kPa"'), ('"60 K to 400 K"', '"60 to 400 K"'), ("strokes = 150", 'strokes = "150"'),
    ('"120 ± 4 N"', '"0.12 kN ± 4 N"'), ('"120 ± 4 N"', '"120.0 N ± 4 N (k=2)"'), ('"0.25 m"', '"250 mm"'), ('"3 ± 0.6 s"', '"3000 ± 600 ms"'), ('"20 N*m"', '"0.02 kN*m"'), ('"± 0.04 MPa"', '"40 kPa"'), ("r = 0.5", "r = 0.50"),
    ('"104 ± 1 mm"', '"10.4 ± 0.1 cm"'), ('"105 mm"', '"0.105 m"'), ('"100 mm"', '"1 dm"'),
]  # fmt: skip


def restate(r, box):
    old, new = r.choice(RESTATED)
    done = change(r, box, [*things(box), *tables(box)], lambda text: text.replace(old, new, 1))
    return done and f"{done}: {old} as {new}"


# Two ways of writing the same thing.
REWRITTEN = [
    ('min = "19.9 mm"', 'criteria.value.min = "19.9 mm"'), ('serial = "MOV/SN01"', 'serial = ["MOV/SN01"]'), ('witnessed_by = "pad chief"', 'witnessed_by = ["pad chief"]'),
    ('parents = ["SYS-001"]', 'parents = "SYS-001"'), ('applies_to = ["ACT-W"]', 'applies_to = "ACT-W"'), ('expect = ["white", "grey"]', 'expect = ["grey", "white"]'),
    ('equals = "2 mm"\ntolerance = "0.5 mm"', 'min = "1.5 mm"\nmax = "2.5 mm"'), ('owner = "valve lead"\n', ""), ('title = "', 'title = "More '),
    ('kind = "test"', "kind = 'test'"), ('note = "nothing uses it"', 'note = "still nothing"'), ('"3 mm"', '"3.5 mm"'),
    ('certificate = "C-1"', 'certificate = "C-01"'), ("sha256 = \"", "sha256  =  \""), ("source = \"site rules\"", "source = \"the site's rules\""),
    ('performed_by = "Test Conductor"', 'performed_by = [" test conductor"]'), ('"Pad chief", "range lead"', '"range lead", "PAD CHIEF"'), ('as_found = "in tolerance"\n', ""),
    ('note = "dry"\n', ""), ('note = "of the seat"', 'note = "of the seats"'), ('uses = "running"', 'uses = ["running"]'), ('again_after = "cold-shock"', 'again_after = ["cold-shock"]'),
    ('counted = "use"\n', ""), ('resets = "turns"', 'resets = ["turns"]'), ('"TP-01", "leak-check", "area cleared"', '"area cleared", "the wind is light"'),
    ('["MOV/SN02", "MOV/SN03", "ACT-W/SN02"]\noutcome', '["ACT-W/SN02", "MOV/SN03", "MOV/SN02"]\noutcome'), ('procedure = "TP-01"\nnote', "note"),
    ('text = "across the bonnet"', 'text = "over the bonnet"'),
]  # fmt: skip


def rewrite(r, box):
    old, new = r.choice(REWRITTEN)
    done = change(r, box, [*things(box), *tables(box)], lambda text: text.replace(old, new, 1))
    return done and f"{done}: {old!r} as {new!r}"


def move(r, box):
    """Files go anywhere; a record with attachments takes them along only if it goes nowhere."""
    path = r.choice([path for path in things(box) if "data" not in box.text(path)])
    target = r.choice(["", "elsewhere/", "reqs/deeper/still/"]) + r.choice(["", "x-"]) + os.path.basename(path)
    if target == path:
        return None
    data = box.read(path)
    box.remove(path)
    box.write(target, data)
    return f"{path} -> {target}"


def other_files(r, box):
    """Files that are none of the project's."""
    path = r.choice(["README.md", "reqs/notes.md", "records/photo.jpg", "plan.txt", "a.tmp", "build/out.md"])
    box.write(path, "Some notes.\n\nkind of important\n")
    return path


def calibrate(r, box):
    text = box.text("instruments.toml")
    box.write("instruments.toml", text.rstrip("\n") + '\n\n[[TC-04.calibrations]]\non = 2026-06-01\ndue = 2027-06-01\ncertificate = "C-2"\n')
    return "instruments.toml: a later calibration"


def attachment_line_ends(r, box):
    """As a checkout on another system has them: the file as git stores it is the same."""
    path = r.choice([path for path in attachments(box) if path.endswith(".csv")])
    box.write(path, box.read(path).replace(b"\n", b"\r\n"))
    return f"{path}: line ends of another system"


def spare(r, box):
    return change(r, box, ["tree/prg.md"], lambda text: text.replace('["SN01"]', '[{ number = "SN01" }, { number = "SN09", use = "spare" }]'))


def staged(r, box):
    """One of the others, added to the index."""
    said = r.choice([rationale, prose, wrap, comment, key_order, move])(r, box)
    box.git("add", "-A", "--", fixture.PROJECT)
    return said and said + ", staged"


ALL = [rationale, prose, wrap, wrap, quotes, comment, comment, blank, key_order, key_order, line_ends, bom, restate, restate, restate, restate, rewrite, rewrite,
       rewrite, move, move, attachment_line_ends, other_files, calibrate, spare, staged]  # fmt: skip

