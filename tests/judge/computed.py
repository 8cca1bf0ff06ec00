"""What records compute, for the judge: calculations, reductions, values from other records, by fractions and brute force.

Only what the generator writes is understood. A value is a quantity whose uncertainty is kept in parts, one for each source, so that what two
results share is found by looking at the names of their sources; the parts are signed and expanded (sensitivity times U).
"""

import ast
import csv
import io
import math
import posixpath
import re
from collections import namedtuple
from fractions import Fraction

import canon
import quantity

# parts: source -> (sensitivity times U, instrument or None); exact: no source is uncertain
Value = namedtuple("Value", "value dim tag parts")


class Nothing(Exception):
    """It cannot be worked out."""


def root(x):
    """Exact where it is rational. What is not is nowhere near a limit: the generator aims only what is exact."""
    top, bottom = math.isqrt(x.numerator), math.isqrt(x.denominator)
    if top * top != x.numerator or bottom * bottom != x.denominator:
        return Fraction(math.sqrt(x))
    return Fraction(top, bottom)


def spread(parts, r):
    """U of what has these parts; `r`: {frozenset of two sources: coefficient}. Of two that were read with one instrument, and of which
    nothing is said, the larger of independent and fully correlated counts."""
    stated, alike = Fraction(0), Fraction(0)
    sources = list(parts)
    for i, one in enumerate(sources):
        stated += parts[one][0] ** 2
        for other in sources[:i]:
            both, product = r.get(frozenset((one, other))), 2 * parts[one][0] * parts[other][0]
            if both is not None:
                stated += both * product
            elif parts[one][1] and parts[one][1] == parts[other][1]:
                alike += product
    return root(stated + max(alike, 0))


def of_quantity(q, source, instrument=None):
    if q is None or q.bound:
        raise Nothing
    return Value(q.value, q.dim, q.tag, {} if q.u is None else {source: (q.u, instrument)})


def as_quantity(v, r):
    return quantity.Quantity(v.value, v.dim, v.tag, spread(v.parts, r) if v.parts else None, None)


def scaled(parts, k):
    return {source: (k * part, instrument) for source, (part, instrument) in parts.items()}


def plus(a, b, sign):
    if (a.dim, a.tag) != (b.dim, b.tag) or a.tag in ("gauge", "point"):
        raise Nothing
    parts = dict(a.parts)
    for source, (part, instrument) in b.parts.items():
        parts[source] = (parts.get(source, (0, None))[0] + sign * part, instrument)
    return Value(a.value + sign * b.value, a.dim, a.tag, parts)


def times(a, b):
    if a.dim != quantity.NONE:
        a, b = b, a
    if a.dim != quantity.NONE or b.tag in ("gauge", "point") and (a.value != 1 or a.parts):
        raise Nothing
    parts = scaled(a.parts, b.value)
    for source, (part, instrument) in scaled(b.parts, a.value).items():
        parts[source] = (parts.get(source, (0, None))[0] + part, instrument)
    return Value(a.value * b.value, b.dim, b.tag, parts)


def over(a, b):
    if b.dim != quantity.NONE or b.value == 0 or a.tag in ("gauge", "point"):
        raise Nothing
    inverse = Value(1 / b.value, b.dim, None, scaled(b.parts, -1 / b.value**2))
    return times(inverse, a)


class Computed:
    """The computed results of a project."""

    def __init__(self, judge):
        self.judge = judge

    # ---- values ------------------------------------------------------------------------------------------------------

    def of(self, record, result):
        """What `{ calc }` or `{ data }` comes to, as a quantity; None where it comes to nothing."""
        try:
            r = self.correlations(record)
            return as_quantity(self.value(record, result, "here"), r)
        except Nothing:
            return None

    def value(self, record, result, source):
        if self.goes_round(record):
            raise Nothing
        if "data" in result:
            return self.reduction(record, result, source)
        lines = self.lines(record)
        return self.line(record, lines, result["calc"])

    def lines(self, record):
        """name -> expression; a name twice takes the value from all."""
        lines = {}
        for block in canon.calc_blocks(record["_body"]):
            for line in block.split("\n"):
                m = re.fullmatch(r"\s*(\w+) = (.*?)\s*(#.*)?", line)
                if m:
                    if m[1] in lines:
                        raise Nothing
                    lines[m[1]] = m[2]
        for name in lines:  # whatever is wrong with one takes the value from all
            self.line(record, lines, name)
        return lines

    def line(self, record, lines, name):
        if name not in lines:
            raise Nothing
        return self.expression(record, lines, ast.parse(lines[name], mode="eval").body, (name,))

    def expression(self, record, lines, node, inside):
        if isinstance(node, ast.Constant):
            return Value(Fraction(str(node.value)), quantity.NONE, None, {})
        if isinstance(node, ast.Name):
            if node.id in inside:
                raise Nothing
            if node.id in lines:
                return self.expression(record, lines, ast.parse(lines[node.id], mode="eval").body, (*inside, node.id))
            return self.outside(record, node.id)
        left, right = (self.expression(record, lines, side, inside) for side in (node.left, node.right))
        if isinstance(node.op, (ast.Add, ast.Sub)):
            return plus(left, right, 1 if isinstance(node.op, ast.Add) else -1)
        return times(left, right) if isinstance(node.op, ast.Mult) else over(left, right)

    def outside(self, record, name):
        """An input of the record, else a parameter of the project."""
        given = record.get("inputs", {}).get(name)
        if given is None:
            if name not in self.judge.parameters:
                raise Nothing
            return of_quantity(quantity.parse(self.judge.parameters[name]["value"]), f"parameter {name}")
        if "value" in given:
            q = quantity.parse(given["value"])
            if q is not None and q.u is None and "instrument" in given:
                raise Nothing  # the generator's instruments state no uncertainty that it could have
            return of_quantity(q, f"{record['id']} {name}", given.get("instrument"))
        base, req, wanted = self.named(given["from"])
        if base is None:
            raise Nothing
        source = f"{base['id']} {req['id']}.{wanted}"
        result = self.judge.results(base, req).get(wanted)
        if isinstance(result, dict):
            if not ("calc" in result or "data" in result):
                raise Nothing  # a sample is no one value
            return self.value(base, result, source)
        return of_quantity(quantity.parse(result), source)

    def named(self, text):
        """(record, requirement, criterion) of `RECORD.REQUIREMENT.CRITERION`."""
        parts = text.split(".")
        base = self.judge.records.get(parts[0])
        if base is None or len(parts) != 3 or parts[1] not in base["verifies"]:
            return None, None, None
        return base, self.judge.requirements[parts[1]], parts[2]

    def correlations(self, record):
        r = {}
        for own in record.get("correlations", []):
            if any(name not in record.get("inputs", {}) for name in own["between"]) or abs(own["r"]) > 1:
                raise Nothing
            r[frozenset(f"{record['id']} {name}" for name in own["between"])] = Fraction(str(own["r"]))
        return r

    def goes_round(self, record):
        """Whether what it takes values from, or what that does, comes back to itself."""

        def circle(own, way):
            if own["id"] in way:
                return True
            names = [x["from"].split(".")[0] for x in own.get("inputs", {}).values() if "from" in x and "value" not in x]
            return any(circle(self.judge.records[n], (*way, own["id"])) for n in names if n in self.judge.records)

        return circle(record, ())

    # ---- tables ------------------------------------------------------------------------------------------------------

    def reduction(self, record, result, source):
        """The greatest, least, first or last cell of a column."""
        if all(d["file"] != result["data"] for d in record.get("data", [])):
            raise Nothing
        content = self.judge.attachments.get(posixpath.join(posixpath.dirname(record["_path"]), result["data"]))
        if content is None:
            raise Nothing
        header, *rows = csv.reader(io.StringIO(content.decode()))
        names = [cell.split(" [")[0] for cell in header]
        if result["column"] not in names:
            raise Nothing
        at = names.index(result["column"])
        cells = [row[at] for row in rows]
        if not cells or any(cell in ("", "NaN") for cell in cells):
            raise Nothing
        unit = header[at].split(" [")[1].rstrip("]").replace("-", "")
        pick = {"max": max, "min": min, "first": lambda x, key: x[0], "last": lambda x, key: x[-1]}[result["reduce"]]
        q = quantity.parse(f"{pick(cells, key=Fraction)} {unit}".strip())
        if "uncertainty" in result:
            width = quantity.parse(result["uncertainty"].replace("± ", ""))
            if width.dim != q.dim:  # a width of another sort says nothing about the value
                raise Nothing
            q = q._replace(u=width.value)
        return of_quantity(q, source)

    # ---- what was kept -----------------------------------------------------------------------------------------------

    def kept(self, record, v, name, now):
        """None where it came to the same when it was signed; else the reason."""
        if record.get("status") != "signed" and not (record.get("status") == "withdrawn" and not record.get("reason")):
            return None
        then = v.get("computed", {}).get(name)
        if then is None:
            return "not-kept-when-signed"
        was = quantity.parse(then)
        return None if was is not None and not was.bound and same(was, now) else "recomputed"


def same(was, now):
    scale = max(abs(now.value), now.u or 0)
    near = lambda a, b: abs(a - b) * 10**8 <= scale
    if not quantity.same_kind(was, now) or not near(was.value, now.value):
        return False
    return was.u == now.u if was.u is None or now.u is None else near(was.u, now.u)
