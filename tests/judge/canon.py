"""The canonical texts of design section 4, written independently of the program: mark (m1) and seal (s1)."""

import datetime
import hashlib
import re
import unicodedata
from decimal import Decimal

import chance
import quantity

SHORT_KEYS = ("text", "min", "max", "equals", "tolerance", "expect", "count", "reliability", "covers", "confidence", "at")


def as_list(value):
    """A string where a list is allowed is a list of one."""
    if value is None:
        return []
    return list(value) if isinstance(value, (list, tuple)) else [value]


def fold(text):
    """NFC, white space folded to one space, trimmed."""
    return " ".join(unicodedata.normalize("NFC", text).split())


def statement(body):
    """Plain text of the body before the first heading. Only emphasis, code spans and paragraphs are understood."""
    lines = []
    for line in body.split("\n"):
        if re.match(r"^ {0,3}#{1,6}(\s|$)", line):
            break
        lines.append(line)
    text = fold(re.sub(r"[*`]", "", "\n".join(lines)))
    text = re.sub("[“”„‟«»]", '"', text)
    text = re.sub("[‘’‚‛′]", "'", text)
    text = re.sub("[‐‑‒–—―−]", "-", text)
    return fold(text)


def criteria(requirement):
    """Criteria by name: the long form, the short form (named `value`), or none (`met`, which expects pass)."""
    if requirement.get("criteria"):
        return requirement["criteria"]
    short = {k: requirement[k] for k in SHORT_KEYS if k in requirement}
    if short:
        return {"value": short}
    return {"met": {"expect": "pass"}}


def limits(criterion, parameters):
    """(min, max) as quantities or None; `equals` with `tolerance` is the same as min and max."""
    if "equals" in criterion:
        mid = quantity.limit(criterion["equals"], parameters)
        tol = quantity.parse(criterion["tolerance"])
        if mid is None or tol is None:
            return None, None
        # a tolerance on a temperature is a difference: only its size counts, in the unit's scale
        return mid._replace(value=mid.value - tol.value), mid._replace(value=mid.value + tol.value)
    found = []
    for key in ("min", "max"):
        found.append(quantity.limit(criterion[key], parameters) if key in criterion else None)
    return tuple(found)


def limit_lines(criterion, parameters):
    """The `min` and `max` lines of a criterion or a condition."""
    lo, hi = None, None
    placeholders = any(quantity.is_placeholder(criterion.get(k)) for k in ("equals", "tolerance"))
    if not placeholders:
        lo, hi = limits(criterion, parameters)
    lines = []
    for key, q in (("min", lo), ("max", hi)):
        if q is not None:
            lines.append(f"{key} {quantity.canonical(q)}")
        elif key in criterion:
            lines.append(f"{key} unresolved {criterion[key]}")
    return lines


def mark_text(requirement, parameters):
    """The text whose hash is the mark: what evidence is judged against, and nothing else."""
    lines = ["slipmark-mark 1", "statement " + statement(requirement["_body"])]
    named = criteria(requirement)
    for name in sorted(named, key=lambda n: n.encode()):
        c = named[name]
        lines.append(f"criterion {name}")
        lines += limit_lines(c, parameters)
        if "expect" in c:
            lines += [f"expect {w}" for w in sorted({fold(w) for w in as_list(c["expect"])}, key=str.encode)]
        if "count" in c:
            lines.append(f"count {c['count']}")
        for key in ("reliability", "covers", "confidence"):
            if key in c:
                lines.append(f"{key} {quantity.number(chance.share(c[key]))} 1")
        for at in sorted(c.get("at", {}), key=lambda n: n.encode()):
            lines.append(f"at {at}")
            lines += limit_lines(c["at"][at], parameters)
    return "".join(line + "\n" for line in lines)


def mark(requirement, parameters):
    """m1- and twelve hex digits."""
    return "m1-" + hashlib.sha256(mark_text(requirement, parameters).encode()).hexdigest()[:12]


# Not sealed: what may change after signing without touching the evidence. The day on which an action was done is filled in
# afterwards; that a deviation is accepted is what the signature is for, and stays.
UNSEALED = {"title", "status", "seal", "reason", "withdrawn", "withdrawn_by", "signed_by"}


def is_unsealed(path):
    """Whether what stands under these keys is left out."""
    if len(path) == 1:
        return path[0] in UNSEALED
    return path == ("actions", "closed") or (len(path) == 3 and path[0] == "verifies" and path[2] == "reaffirmed")


LISTS = {"serial", "witnessed_by", "instruments"}


def is_quantity_path(path):
    """results.NAME, result, conditions.NAME, uses.NAME and inputs.NAME.value hold quantities."""
    if path[0] in ("conditions", "uses"):
        return len(path) == 2
    if path[0] == "inputs":
        return len(path) == 3 and path[2] == "value"
    if path[-1] in ("sample", "mean", "sd") and len(path) in (4, 5):
        path = path[:-1]
    return path[0] == "verifies" and (path[2:] == ("result",) or (len(path) == 4 and path[2] == "results"))


def sealed_value(path, value):
    """One value as the seal writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if is_quantity_path(path) and not isinstance(value, (datetime.date, datetime.datetime)):
        q = quantity.parse(value)  # bare numbers too: 5, "5" and 5.0 seal alike
        if q is not None:
            text = (f"{q.bound} " if q.bound else "") + quantity.canonical(q)
            if q.u is not None:
                text += f" U {quantity.number(q.u)} {quantity.dimension(q.dim)}"
            return text
    if isinstance(value, int):
        return str(value)
    if isinstance(value, (Decimal, float)):
        return quantity.number(Decimal(str(value))) + " 1"
    if isinstance(value, (datetime.date, datetime.datetime)):
        return value.isoformat()
    if path == ("data", "sha256"):
        value = value.lower()
    return '"' + fold(value).replace("\\", "\\\\").replace('"', '\\"') + '"'


def seal_text(record):
    """The text whose hash is the seal: the front matter, then the calculations of the body."""
    lines = []

    def walk(path, text, value):
        if isinstance(value, dict):
            for k, v in value.items():
                if k.startswith("_") or is_unsealed((*path, k)):
                    continue
                if not path and k in LISTS:
                    v = as_list(v)
                walk(path + (k,), f"{text}.{k}" if text else k, v)
        elif isinstance(value, list):
            for i, v in enumerate(value):
                walk(path, f"{text}[{i}]", v)
        else:
            lines.append(f"{text} = {sealed_value(path, value)}\n")

    walk((), "", record)
    return "slipmark-seal 1\n" + "".join(sorted(lines, key=str.encode)) + "".join(calc_lines(record["_body"]))


def calc_blocks(body):
    """The texts of the fenced blocks ```calc. Only fences that start a line and are closed are understood."""
    return re.findall(r"^```calc\n(.*?)^```$", body, re.M | re.S)


def calc_lines(body):
    for number, block in enumerate(calc_blocks(body)):
        yield f"calc {number}\n"
        for line in block.split("\n"):
            if line.split():
                yield " ".join(line.split()) + "\n"


def seal(record):
    """s1- and twelve hex digits."""
    return "s1-" + hashlib.sha256(seal_text(record).encode()).hexdigest()[:12]
