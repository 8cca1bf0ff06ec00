"""Random expressions: their text for slipmark, and the same as a tree that other libraries work out.

A tree works itself out with whatever makes its leaves: values of pint, which converts and checks dimensions.
"""

import math
import operator
import statistics
from dataclasses import dataclass
from fractions import Fraction
from typing import Callable

from correspondence import GROUPS, PREFIXES

# Units by group that stand in brackets of an expression without being mistaken: (slipmark, pint).
UNITS = {name: [(row[0].lstrip("+"), row[1]) for row in rows if row[1]] for name, rows in GROUPS.items()}
# What is added up: quantities whose sum means something, and which are not measured from a zero of their own.
ADDED = ["length", "area", "volume", "mass", "time", "velocity", "acceleration", "force", "torque", "stiffness", "pressure", "energy",
         "power", "current", "charge", "voltage", "resistance", "capacitance", "viscosity", "mass flow", "volume flow", "density",
         "leak rate", "temperature difference", "amount"]
# What is multiplied: the kinds whose products have a kind of their own (torque, angle) are compared by their SI value all the same.
FACTORS = [name for name in ADDED if name != "temperature difference"]


@dataclass
class Node:
    """A text, what it is worked out by, and whether fractions suffice."""

    text: str
    work: Callable  # takes a maker of leaves, gives a pint quantity or a plain number
    rational: bool = True


def number(random, digits=5, low=-2, high=3, signed=False):
    """A decimal as people write them."""
    figures = random.randint(1, digits)
    mantissa = random.randint(10 ** (figures - 1), 10**figures - 1)
    exponent = random.randint(low, high) - figures
    value = Fraction(mantissa) * Fraction(10) ** exponent
    text = plain(value)
    if random.random() < 0.1:
        text = f"{mantissa}e{exponent}"
    return ("-" + text) if signed and random.random() < 0.3 else text


def plain(value):
    """A fraction with a power of ten below, as a decimal."""
    places = 0
    while (value * 10**places).denominator != 1:
        places += 1
    digits = str((value * 10**places).numerator).rjust(places + 1, "0")
    return digits if not places else f"{digits[:-places]}.{digits[-places:]}"


def leaf(random, group):
    """A value with a unit of the group."""
    ours, pints = random.choice(UNITS[group])
    text = number(random)
    return Node(f"({text} {ours})", lambda make: make(text, pints))


def plain_number(random):
    text = number(random, digits=3, low=0, high=2)
    return Node(text, lambda make: make(text, ""))


def total(random, group, depth=2):
    """A sum of values of one group, with factors here and there."""
    parts = [leaf(random, group) for _ in range(random.randint(1, 3))]
    signs = [random.choice("+-") for _ in parts[1:]]
    text = parts[0].text + "".join(f" {sign} {part.text}" for sign, part in zip(signs, parts[1:]))

    def work(make):
        value = parts[0].work(make)
        for sign, part in zip(signs, parts[1:]):
            value = value + part.work(make) if sign == "+" else value - part.work(make)
        return value

    node = Node(text if len(parts) == 1 else f"({text})", work)
    if depth and random.random() < 0.3:
        factor = plain_number(random)
        inner = node
        if random.random() < 0.5:
            return Node(f"({inner.text} * {factor.text})", lambda make: inner.work(make) * factor.work(make))
        return Node(f"({inner.text} / {factor.text})", lambda make: inner.work(make) / factor.work(make))
    return node


def rational(random):
    """Products, quotients, powers and sums of like things."""
    shape = random.randrange(8)
    one, two = random.choice(FACTORS), random.choice(FACTORS)
    a, b = total(random, one), total(random, two)
    if shape == 0:
        return Node(f"{a.text} * {b.text}", lambda make: a.work(make) * b.work(make))
    if shape == 1:
        return Node(f"{a.text} / {b.text}", lambda make: a.work(make) / b.work(make))
    if shape == 2:
        power = random.choice([2, 3, -1, -2])
        return Node(f"{a.text} ^ {power}", lambda make: a.work(make) ** power)
    if shape == 3:
        c, d = total(random, one), total(random, two)
        return Node(f"{a.text} * {b.text} + {c.text} * {d.text}",
                    lambda make: a.work(make) * b.work(make) + c.work(make) * d.work(make))
    if shape == 4:
        c, d = total(random, one), total(random, two)
        return Node(f"{a.text} / {b.text} - {c.text} / {d.text}",
                    lambda make: a.work(make) / b.work(make) - c.work(make) / d.work(make))
    if shape == 5:
        c = total(random, one)
        return Node(f"{a.text} / {c.text} * 2 - 1", lambda make: a.work(make) / c.work(make) * 2 - 1)
    if shape == 6:
        c = total(random, one)
        name, whole = random.choice([("floor", math.floor), ("ceil", math.ceil), ("round", half_away)])
        return Node(f"{name}({a.text} / {c.text})", lambda make: Fraction(whole(base(a.work(make) / c.work(make)))))
    parts = [total(random, one) for _ in range(random.randint(2, 5))]
    inside = ", ".join(part.text for part in parts)
    name = random.choice(["max", "min", "sum", "mean", "median", "count", "abs"])
    if name == "abs":
        return Node(f"abs({parts[0].text} - {parts[1].text})", lambda make: abs(parts[0].work(make) - parts[1].work(make)))
    folds = {
        "max": max, "min": min, "sum": lambda values: sum(values[1:], values[0]), "count": lambda values: Fraction(len(values)),
        "mean": lambda values: sum(values[1:], values[0]) / len(values),
        "median": lambda values: (sorted(values)[(len(values) - 1) // 2] + sorted(values)[len(values) // 2]) / 2,
    }
    return Node(f"{name}([{inside}])", lambda make: folds[name]([part.work(make) for part in parts]))


def base(value):
    """The magnitude in SI base units."""
    return value.to_base_units().magnitude if hasattr(value, "to_base_units") else value


def half_away(value):
    """The nearest whole number, of two the one away from zero."""
    return math.floor(value + Fraction(1, 2)) if value >= 0 else math.ceil(value - Fraction(1, 2))


def as_number(value):
    """The number of a quantity that has no dimension."""
    return float(value.to_base_units().magnitude) if hasattr(value, "to_base_units") else float(value)


FUNCTIONS = {
    "sin": math.sin, "cos": math.cos, "tan": math.tan, "exp": math.exp, "ln": math.log, "log10": math.log10,
    "log2": math.log2, "asin": math.asin, "acos": math.acos, "atan": math.atan, "sinh": math.sinh, "cosh": math.cosh, "tanh": math.tanh,
}


def transcendental(random):
    """A function of something without a dimension, or a root of something with one."""
    shape = random.randrange(7)
    one = random.choice(FACTORS)
    if shape == 0:
        name = random.choice(["sin", "cos", "tan"])
        ours, pints = random.choice(UNITS["angle"])
        text = number(random, 4, 0, 2)
        return Node(f"{name}({text} {ours})", lambda make: FUNCTIONS[name](as_number(make(text, pints))), False)
    if shape == 1:
        name = random.choice(["exp", "sinh", "cosh", "tanh", "atan", "ln", "log10", "log2"])
        a, b = leaf(random, one), leaf(random, one)
        return Node(f"{name}({a.text} / ({a.text} + {b.text}) + 0.1)",
                    lambda make: FUNCTIONS[name](as_number(a.work(make) / (a.work(make) + b.work(make))) + 0.1), False)
    if shape == 2:
        name = random.choice(["asin", "acos"])
        a, b = leaf(random, one), leaf(random, one)
        return Node(f"{name}({a.text} / ({a.text} + {b.text}))",
                    lambda make: FUNCTIONS[name](as_number(a.work(make) / (a.work(make) + b.work(make)))), False)
    if shape == 3:
        a, b = leaf(random, one), leaf(random, random.choice(FACTORS))
        roots = [("sqrt({})", 0.5), ("cbrt({})", 1 / 3), ("({}) ^ 0.5", 0.5), ("({}) ^ 1.5", 1.5), ("({}) ^ -0.5", -0.5)]
        text, power = random.choice(roots)
        return Node(text.format(f"{a.text} / {b.text}"), lambda make: (a.work(make) / b.work(make)) ** power, False)
    if shape == 4:
        a, b = leaf(random, one), leaf(random, one)
        sides = lambda make: (float(base(a.work(make))), float(base(b.work(make))))
        if random.random() < 0.5:
            return Node(f"atan2({a.text}, {b.text})", lambda make: math.atan2(*sides(make)), False)
        return Node(f"hypot({a.text}, {b.text})", lambda make: math.hypot(*sides(make)), False)
    if shape == 5:
        parts = [leaf(random, one) for _ in range(random.randint(2, 5))]
        inside = ", ".join(part.text for part in parts)
        return Node(f"sd([{inside}])", lambda make: statistics.stdev([base(part.work(make)) for part in parts]), False)
    a, b = total(random, one), total(random, one)
    text, power = number(random, 2, 0, 1), random.choice(["0.3", "1.7", "2.5"])
    factor = float(text) ** float(power)
    return Node(f"{text} ^ {power} * ({a.text} * {b.text}) / 3", lambda make: a.work(make) * b.work(make) / 3 * factor, False)


ORDER = {"<": operator.lt, "<=": operator.le, ">": operator.gt, ">=": operator.ge, "==": operator.eq, "!=": operator.ne}


def comparison(random, make):
    """A comparison of two values of one sort, often of one size in two units or a last digit away from that: (text, answer)."""
    group, sign = random.choice(ADDED), random.choice(list(ORDER))
    (one, pint_one), (two, pint_two) = random.choice(UNITS[group]), random.choice(UNITS[group])
    left, right = number(random), number(random)
    same = base(make(left, pint_one)) / base(make("1", pint_two))
    # Decimals only: a third of a foot cannot be written.
    if set(factors(same.denominator)) <= {2, 5} and same.denominator < 10**40 and random.random() < 0.8:
        right = plain(same * random.choice([1, 1, 1 + Fraction(1, 10**12), 1 - Fraction(1, 10**15)]))
    return f"{left} {one} {sign} {right} {two}", ORDER[sign](base(make(left, pint_one)), base(make(right, pint_two)))


def factors(number):
    """2, 5, and whatever is left."""
    for prime in (2, 5):
        while number % prime == 0:
            number //= prime
            yield prime
    if number > 1:
        yield number


def spelled(random, unit):
    """The same unit with another sign for products."""
    return unit.replace("*", random.choice(["*", "·", " "]))


def prefixed(random, row):
    """A unit of a row, perhaps with a prefix, in the three ways of writing."""
    ours, pints, gnu = row
    if not ours.startswith("+"):
        return spelled(random, ours), pints, gnu
    ours = ours[1:]
    if random.random() < 0.4:
        return ours, pints, gnu
    short = random.choice(["n", "µ", "m", "k", "M", "G", "c", "d", "da", "h", "u", "T", "p", "f", "a", "P"])
    return short + ours, pints and PREFIXES[short] + pints, gnu and PREFIXES[short] + gnu
