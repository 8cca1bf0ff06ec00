"""Quantities for the judge: a few units, exact values, uncertainty, bounds, and the canonical text of design section 4.

Only what the generator writes is understood. Everything is a Fraction, so no comparison here can round.
"""

import functools
import re
from collections import namedtuple
from fractions import Fraction

import chance

# value in SI (exact), dimension exponents (kg m s A K mol cd), tag or None,
# expanded uncertainty in SI or None, bound "<" or ">" or None
Quantity = namedtuple("Quantity", "value dim tag u bound")

NONE = (0, 0, 0, 0, 0, 0, 0)
LENGTH = (0, 1, 0, 0, 0, 0, 0)
TIME = (0, 0, 1, 0, 0, 0, 0)
TEMPERATURE = (0, 0, 0, 0, 1, 0, 0)
PRESSURE = (1, -1, -2, 0, 0, 0, 0)
TORQUE = (1, 2, -2, 0, 0, 0, 0)

INCH = Fraction(254, 10000)
POUND_FORCE = Fraction("4.4482216152605")  # 0.45359237 kg x 9.80665 m/s2, exact

# unit: (factor to SI, offset in SI added after scaling, dimension, tag)
UNITS = {
    "": (Fraction(1), 0, NONE, None),
    "%": (Fraction(1, 100), 0, NONE, None),
    "mm": (Fraction(1, 1000), 0, LENGTH, None),
    "in": (INCH, 0, LENGTH, None),
    "s": (Fraction(1), 0, TIME, None),
    "ms": (Fraction(1, 1000), 0, TIME, None),
    "MPa": (Fraction(10**6), 0, PRESSURE, None),
    "psi": (POUND_FORCE / INCH**2, 0, PRESSURE, None),
    "MPa gauge": (Fraction(10**6), 0, PRESSURE, "gauge"),
    "K": (Fraction(1), 0, TEMPERATURE, "point"),
    "degC": (Fraction(1), Fraction("273.15"), TEMPERATURE, "point"),
    "N*m": (Fraction(1), 0, TORQUE, "torque"),
    "lbf*in": (POUND_FORCE * INCH, 0, TORQUE, "torque"),
}

NUMBER = r"[+-]?\d+(?:\.\d+)?"
PATTERN = re.compile(
    rf"^(?P<bound>[<>])?\s*(?P<n>{NUMBER})(?:\((?P<digits>\d+)\))?"
    rf"(?:\s*±\s*(?P<u>\d+(?:\.\d+)?))?\s*(?P<unit>[A-Za-z%*][A-Za-z*% ]*?)?"
    rf"(?:\s*±\s*(?P<rel>\d+(?:\.\d+)?)\s*%)?$"
)


def parse(text):
    """A quantity from what a project file holds (text or a bare number), or None when it is not one."""
    if isinstance(text, bool):
        return None
    if not isinstance(text, str):
        try:
            return Quantity(Fraction(text), NONE, None, None, None)
        except (TypeError, ValueError):
            return None
    return parse_text(text)


@functools.lru_cache(maxsize=10000)
def parse_text(text):
    """The same from text."""
    text = text.strip().replace("N·m", "N*m")
    together = re.fullmatch(r"\(([^()]*)\)\s*%", text)  # (50 ± 2) %
    m = PATTERN.match(f"{together[1]} %" if together else text)
    if not m or (m["unit"] or "") not in UNITS:
        return None
    if m["u"] is not None and m["unit"] == "%" and not together:
        return None  # 50 ± 2 %: two points or two percent of fifty? Refused
    factor, offset, dim, tag = UNITS[m["unit"] or ""]
    n = Fraction(m["n"])
    u = None
    if m["u"] is not None:  # "±" is expanded, k = 2, unless stated
        u = Fraction(m["u"]) * factor
    elif m["digits"] is not None:  # 1.320(15): a standard uncertainty in the last digits; U = 2 u
        decimals = len(m["n"].split(".")[1]) if "." in m["n"] else 0
        u = 2 * Fraction(int(m["digits"]), 10**decimals) * factor
    elif m["rel"] is not None:  # ± 2 % is of the value
        u = abs(n) * Fraction(m["rel"]) / 100 * factor
    return Quantity(n * factor + offset, dim, tag, u, m["bound"])


def is_placeholder(text):
    """A limit that holds TBD, TBR, TBC, TBS or ??? is not a limit yet."""
    return isinstance(text, str) and ("???" in text or re.search(r"\bTB[DRCS]\b", text) is not None)


def limit(text, parameters):
    """A limit: a quantity, the name of a parameter, or `factor * parameter`. None when it cannot be resolved."""
    q = parse(text)
    if q is not None or not isinstance(text, str):
        return q
    m = re.match(rf"^(?:(?P<k>{NUMBER})\s*\*\s*)?(?P<name>[A-Za-z_]\w*)$", text.strip())
    if not m or m["name"] not in parameters:
        return None
    q = parse(parameters[m["name"]]["value"])
    if q is None:
        return None
    k = Fraction(m["k"]) if m["k"] else Fraction(1)
    return q._replace(value=k * q.value, u=None)


def same_kind(a, b):
    """Two quantities may be compared only when dimension and tag agree (gauge is not absolute, torque is not energy)."""
    return a.dim == b.dim and a.tag == b.tag


@functools.lru_cache(maxsize=10000)
def number(x):
    """Canonical number: exact value rounded half-even to twelve significant digits, `d.ddddddddddde<exp>`, or `0`."""
    x = Fraction(x)
    if x == 0:
        return "0"
    sign = "-" if x < 0 else ""
    x = abs(x)
    exp = 0
    while x >= Fraction(10) ** (exp + 1):
        exp += 1
    while x < Fraction(10) ** exp:
        exp -= 1
    digits = round(x * Fraction(10) ** (11 - exp))  # round() of a Fraction is half-even
    if digits == 10**12:
        digits, exp = 10**11, exp + 1
    s = str(digits)
    return f"{sign}{s[0]}.{s[1:]}e{exp}"


def dimension(dim):
    """Canonical dimension: `kg^1 m^-1 s^-2`, or `1` for none."""
    names = ("kg", "m", "s", "A", "K", "mol", "cd")
    return " ".join(f"{n}^{e}" for n, e in zip(names, dim) if e) or "1"


def canonical(q):
    """Canonical quantity of a limit: value, dimension, tag; no uncertainty."""
    return f"{number(q.value)} {dimension(q.dim)}" + (f" {q.tag}" if q.tag else "")


def conform(q, lo, hi, rule):
    """Conformity of result `q` with limits (either may be None): ("met"|"not met"|"inconclusive"|"cannot", code).

    The rule is "simple", "guarded" or the probability that is asked for."""
    for bound in (lo, hi):
        if bound is not None and not same_kind(q, bound):
            return "cannot", "cannot-compute"
    if q.bound:  # `< x` meets a max at or above x, `> x` a min at or below x; all beyond a limit, it is outside; else undecided
        if (lo is not None and q.bound == "<" and q.value <= lo.value) or (hi is not None and q.bound == ">" and q.value >= hi.value):
            return "not met", None
        shows_max = hi is None or (q.bound == "<" and q.value <= hi.value)
        shows_min = lo is None or (q.bound == ">" and q.value >= lo.value)
        return ("met", None) if shows_max and shows_min else ("inconclusive", "bound-undecided")
    room = [q.value - lo.value] if lo is not None else []
    room += [hi.value - q.value] if hi is not None else []
    if rule == "simple":  # y inside; on the limit is inside
        return ("met", None) if min(room) >= 0 else ("not met", None)
    if q.u is None:
        return "inconclusive", "no-uncertainty"
    if rule != "guarded":
        return chance.by_probability(room, q.u, rule)
    if min(room) >= q.u:  # inside by at least U
        return "met", None
    if -min(room) >= q.u:  # outside by at least U
        return "not met", None
    return "inconclusive", "straddles-limit"
