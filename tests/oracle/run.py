#!/usr/bin/env python3
"""Holds `slipmark calc -e` against pint, uncertainties, scipy and GNU units on generated conversions and expressions.

  tests/oracle/run.py --slipmark target/debug/slipmark [--count 2400] [--seed 1]

Values that pint works out in fractions must be met to the last bit of the nearest double. What goes through a function or a root is
compared within 1e-12, or what the expression makes of a change of its inputs by 1e-14 if that is more. GNU units prints 15 digits: 2e-14.
What is left out is printed with the reason for it; there is no list of expressions that are let off.
"""

import argparse
import functools
import math
import os
import random
import re
import subprocess
import sys
import tomllib
from fractions import Fraction

import pint
import scipy.stats
from uncertainties import ufloat, umath

import generate
from correspondence import GROUPS, SCALES, WITHOUT
from generate import base
from oracle import Slipmark, Tally

UNITS = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "src", "quantity", "units.toml")
EXACT = pint.UnitRegistry(non_int_type=Fraction)
# The level at which a finite number of degrees of freedom is expanded, as DEVELOPERS.md has it.
LEVEL = 0.9545


@functools.cache
def one_of(unit):
    """One of a unit that is measured from zero; pint reads whole expressions only as values."""
    return EXACT.Quantity(EXACT.parse_expression(unit)) if unit else EXACT.Quantity(Fraction(1), "")


def exact(text, unit):
    return Fraction(text) * one_of(unit)


# ---- conversions ---------------------------------------------------------------------------------------------------


def gnu_units(pairs):
    """What GNU units makes of (from, to), all in one process; 15 digits."""
    lines = "".join(f"{have}\n{want}\n" for have, want in pairs)
    done = subprocess.run(["units", "-t", "-q", "-d", "15"], input=lines, capture_output=True, text=True, check=False)
    answers = done.stdout.splitlines()
    if len(answers) == len(pairs):
        return answers
    one = lambda pair: subprocess.run(["units", "-t", "-d", "15", *pair], capture_output=True, text=True, check=False).stdout.strip()
    return [one(pair) for pair in pairs]


def conversions(slipmark, tally, dice, count):
    cases = []
    groups = list(GROUPS)
    while len(cases) < count:
        group = groups[len(cases) % len(groups)]
        have, want = (generate.prefixed(dice, dice.choice(GROUPS[group])) for _ in range(2))
        cases.append((generate.number(dice, signed=True), have, want))
    asked = [f"{text} {have[0]} to {want[0]}" for text, have, want in cases]
    answers = slipmark.ask_all(asked)
    by_units = [at for at, (_, have, want) in enumerate(cases) if have[2] and want[2]]
    others = gnu_units([(f"{cases[at][0]} {cases[at][1][2]}", cases[at][2][2]) for at in by_units])
    for at, other in zip(by_units, others):
        if not isinstance(answers[at], str):
            try:
                tally.close("conversions, GNU units", asked[at], "value", answers[at]["value"], float(other), 2e-14)
            except ValueError:
                tally.fail("conversions, GNU units", asked[at], f"GNU units says {other!r}")
    for expression, (text, have, want), ours in zip(asked, cases, answers):
        if isinstance(ours, str):
            tally.fail("conversions, pint", expression, ours)
        elif have[1] and want[1]:
            theirs = float(base(exact(text, have[1])) / base(exact("1", want[1])))
            tally.close("conversions, pint", expression, "value", ours["value"], theirs, 0.0)


def temperatures(slipmark, tally, dice, count):
    cases = []
    for _ in range(count):
        have, want = dice.choice(SCALES), dice.choice(SCALES)
        cases.append((generate.number(dice, 4, 2, 3), have, want))
    asked = [f"{text} {have[0]} to {want[0]}" for text, have, want in cases]
    call = lambda scale, text: f"{scale}({text})" if scale.startswith("temp") else f"{text} {scale}"
    others = gnu_units([(call(have[2], text), want[2]) for text, have, want in cases])
    for expression, (text, have, want), ours, other in zip(asked, cases, slipmark.ask_all(asked), others):
        if isinstance(ours, str):
            tally.fail("temperatures", expression, ours)
            continue
        theirs = EXACT.Quantity(Fraction(text), have[1]).to(want[1]).magnitude
        # The offsets of pint's Fahrenheit are written to so many digits.
        tally.close("temperatures, pint", expression, "value", ours["value"], float(theirs), 1e-15)
        slack = 2e-14 * max(1.0, 460 / abs(float(theirs)))
        tally.close("temperatures, GNU units", expression, "value", ours["value"], float(other), slack)


def standard_volumes(slipmark, tally, dice, count):
    """Gas at stated conditions: an amount, of an ideal gas, by the molar gas constant that the SI defines."""
    gas = Fraction("8.31446261815324")
    units = [("slpm", "liter/minute", "mol/s"), ("sccm", "centimeter**3/minute", "mol/s"), ("scfm", "foot**3/minute", "mol/s"),
             ("scfh", "foot**3/hour", "mol/s"), ("scim", "inch**3/minute", "mol/s"), ("scc", "centimeter**3", "mol"),
             ("Nm3", "meter**3", "mol"), ("sL", "liter", "mol")]
    asked, theirs = [], []
    for _ in range(count):
        symbol, pints, want = dice.choice(units)
        text, celsius = generate.number(dice), dice.choice(["0", "15", "20", "25", "21.1"])
        kilopascal = dice.choice(["100", "101.325", "101.35"])
        asked.append(f"{text} {symbol}({celsius} degC, {kilopascal} kPa) to {want}")
        theirs.append(base(exact(text, pints)) * Fraction(kilopascal) * 1000 / (gas * (Fraction(celsius) + Fraction("273.15"))))
    for expression, ours, value in zip(asked, slipmark.ask_all(asked), theirs):
        if isinstance(ours, str):
            tally.fail("standard volumes", expression, ours)
        else:
            tally.close("standard volumes", expression, "value", ours["value"], float(value), 0.0)


# ---- expressions ---------------------------------------------------------------------------------------------------


def expressions(slipmark, tally, dice, count, make, name):
    nodes = [make(dice) for _ in range(count)]
    for node, ours in zip(nodes, slipmark.ask_all([node.text for node in nodes])):
        try:
            theirs = base(node.work(exact))
        except ZeroDivisionError:
            if isinstance(ours, str) and "zero" in ours:
                tally.agree(name, True)
            else:
                tally.fail(name, node.text, f"a division by zero gives {ours}")
            continue
        if isinstance(ours, str):
            tally.fail(name, node.text, ours)
        elif node.rational:
            if tally.close(name, node.text, "value", ours["value"], float(theirs), 0.0) and not ours["exact"]:
                tally.fail(name, node.text, "is said not to be exact")
        else:
            moved = base(node.work(lambda text, unit: (1 + Fraction(1, 10**14)) * exact(text, unit)))
            slack = max(1e-12, 20 * abs(float(moved) - float(theirs)) / (abs(float(theirs)) or 1.0))
            tally.close(name, node.text, "value", ours["value"], float(theirs), slack)


def comparisons(slipmark, tally, dice, count):
    """Which of two values is the greater, decided in exact numbers: also where doubles cannot tell."""
    cases = [generate.comparison(dice, exact) for _ in range(count)]
    name = "comparisons, pint in fractions"
    for (expression, theirs), ours in zip(cases, slipmark.ask_all([text for text, _ in cases])):
        if not isinstance(ours, str) and ours["value"] is theirs:
            tally.agree(name, True)
        else:
            tally.fail(name, expression, f"{ours if isinstance(ours, str) else ours['value']}, expected {theirs}")


# ---- uncertainty ---------------------------------------------------------------------------------------------------


def half_width(level, freedom):
    """The half width, in standard uncertainties, of the interval that holds so much."""
    upper = (1 + level) / 2
    return scipy.stats.t.ppf(upper, freedom) if freedom else scipy.stats.norm.ppf(upper)


def notations(slipmark, tally, dice, count):
    """Every way to state an uncertainty: value, u, and what is made of it."""
    asked, expected = [], []
    for _ in range(count):
        group = dice.choice(generate.ADDED)
        unit, pints = dice.choice(generate.UNITS[group])
        scale = float(base(exact("1", pints)))
        text = generate.number(dice, 4, 0, 2)
        half = generate.plain(Fraction(dice.randint(1, 99)) * Fraction(10) ** dice.randint(-3, -1))
        freedom = dice.choice([2, 3, 5, 9, 12, 30, 2.5, 100])
        level = dice.choice(["50", "68", "90", "95", "95.45", "99", "99.73"])
        part = float(level) / 100
        plain, wide = float(text), float(half)
        forms = [
            (f"({text} ± {half} {unit})", wide / 2, None),
            (f"({text} {unit} ± {half} {unit})", wide / 2, None),
            (f"(({text} ± {half}) {unit} (k=1))", wide, None),
            (f"({text} +/- {half} {unit} (k=2.26))", wide / 2.26, None),
            (f"({text} ± {half} {unit} (k=2.26, nu={freedom}))", wide / 2.26, freedom),
            (f"({text} ± {half} {unit} ({level} %))", wide / half_width(part, None), None),
            (f"({text} ± {half} {unit} ({level} %, nu={freedom}))", wide / half_width(part, freedom), freedom),
            (f"({text} ± {half} {unit} (rectangular))", wide / math.sqrt(3), "rectangular"),
            (f"({text} ± {half} {unit} (triangular))", wide / math.sqrt(6), "triangular"),
            (f"({text} ± {half} {unit} (u-shaped))", wide / math.sqrt(2), "u-shaped"),
            (f"({text} {unit} ± {level} %)", plain * part / 2, None),
        ]
        form, u, spread = dice.choice(forms)
        asked.append(f"{form} * 3")
        expected.append((plain * 3 * scale, u * 3 * scale, spread))
    for expression, ours, (value, u, spread) in zip(asked, slipmark.ask_all(asked), expected):
        name = "notations of uncertainty"
        if isinstance(ours, str):
            tally.fail(name, expression, ours)
            continue
        tally.close(name, expression, "value", ours["value"], value, 1e-14)
        tally.close(name, expression, "u", ours["standard_uncertainty"], u, 1e-12)
        freedom = spread if isinstance(spread, (int, float)) else None
        tally.close(name, expression, "U", ours["expanded_uncertainty"], u * (half_width(LEVEL, freedom) if freedom else 2), 1e-11)


def propagated(dice):
    """(statements for slipmark, what works the same out with ufloats): two to four uncertain inputs, some used twice."""
    groups = [dice.choice(["length", "force", "pressure", "voltage", "time", "mass flow", "torque"]) for _ in range(2)]
    inputs = []
    for at in range(dice.randint(2, 4)):
        units = generate.UNITS[groups[at % 2]]
        if at > 1:
            # Sums of like sizes: doubles, in which the other side works, would lose digits in a + b with b far below a.
            near = lambda pints: abs(math.log10(float(base(exact("1", pints))) / inputs[at - 2][5])) < 2
            units = [row for row in units if near(row[1])]
        unit, pints = dice.choice(units)
        text = generate.number(dice, 4, 1, 2)
        half = generate.plain(Fraction(text) * dice.randint(1, 8) / 100)
        freedom = dice.choice([None, None, 4, 9, 20])
        scale = float(base(exact("1", pints)))
        inputs.append(("abcd"[at] + "_in", text, half, unit, freedom, scale))
    names = [entry[0] for entry in inputs]
    a, b = names[0], names[1]
    c = names[2] if len(names) > 2 else a
    d = names[3] if len(names) > 3 else b
    shapes = [
        (f"{a} * {b} / ({c} + {a})", lambda v: v[a] * v[b] / (v[c] + v[a])),
        (f"{a} / {b} - 2 * {c} / {d}", lambda v: v[a] / v[b] - 2 * v[c] / v[d]),
        (f"sqrt({a}^2 + {c}^2) * {b}", lambda v: umath.sqrt(v[a] ** 2 + v[c] ** 2) * v[b]),
        (f"({a} / {c})^1.5 + exp(-{b} / ({b} + {d}))", lambda v: (v[a] / v[c]) ** 1.5 + umath.exp(-v[b] / (v[b] + v[d]))),
        (f"ln({a} / ({a} + {c})) * {b}", lambda v: umath.log(v[a] / (v[a] + v[c])) * v[b]),
        (f"atan2({a}, {c}) * sin({b} / ({b} + {d}))", lambda v: umath.atan2(v[a], v[c]) * umath.sin(v[b] / (v[b] + v[d]))),
        (f"mean([{a}, {c}, 2 * {a}]) / {b}", lambda v: (v[a] + v[c] + 2 * v[a]) / 3 / v[b]),
        (f"{b} * cosh({a} / ({a} + {c})) - tanh({a} / {c}) * {d}",
         lambda v: v[b] * umath.cosh(v[a] / (v[a] + v[c])) - umath.tanh(v[a] / v[c]) * v[d]),
        (f"hypot({a}, {c}) / cbrt({b}^3)", lambda v: umath.sqrt(v[a] ** 2 + v[c] ** 2) / v[b]),
        (f"if {a} > 0 * {a} then abs({a} - 3 * {c}) else {a}", lambda v: max(v[a] - 3 * v[c], 3 * v[c] - v[a], key=lambda side: side.n)),
    ]
    text, work = dice.choice(shapes)
    behind = lambda freedom: f" (k=2, nu={freedom})" if freedom else ""
    stated = [f"{name} = ({value} ± {half} {unit}{behind(freedom)})" for name, value, half, unit, freedom, _ in inputs]
    values = {name: ufloat(float(value) * scale, float(half) / 2 * scale, name) for name, value, half, _, _, scale in inputs}
    return "; ".join([*stated, text]), work(values), {name: freedom for name, _, _, _, freedom, _ in inputs}


def effective(value, freedoms):
    """Welch and Satterthwaite (JCGM 100:2008, G.4.1); none if infinite."""
    parts = {variable.tag: abs(part) for variable, part in value.error_components().items()}
    # What cancels in exact numbers leaves a rest in doubles: a / (a + a) does not depend on a.
    below = sum(part**4 / freedoms[name] for name, part in parts.items() if freedoms[name] and part > 1e-12 * value.s)
    return value.s**4 / below if below else None


def propagation(slipmark, tally, dice, count):
    cases = [propagated(dice) for _ in range(count)]
    name = "propagation, uncertainties and scipy"
    for (expression, value, freedoms), ours in zip(cases, slipmark.ask_all([case[0] for case in cases])):
        if isinstance(ours, str):
            tally.fail(name, expression, ours)
            continue
        terms = sum(abs(part) for part in value.error_components().values()) or 1.0
        slack = 1e-12 * max(1.0, terms / (value.s or terms))
        tally.close(name, expression, "value", ours["value"], value.n, 1e-12 * max(1.0, terms / (abs(value.n) or terms)))
        if value.s < 1e-15 * abs(value.n):
            # All of it cancels; what is left there is rounding.
            tally.close(name, expression, "u", ours["standard_uncertainty"], 0.0, 1e-15 * abs(value.n))
            continue
        if not tally.close(name, expression, "u", ours["standard_uncertainty"], value.s, slack):
            continue
        freedom = effective(value, freedoms)
        if (freedom is None) != (ours["degrees_of_freedom"] is None):
            tally.fail(name, expression, f"degrees of freedom: {ours['degrees_of_freedom']}, expected {freedom}")
        elif freedom is not None:
            tally.close(name, expression, "degrees of freedom", ours["degrees_of_freedom"], freedom, 1e-9)
        expanded = value.s * (half_width(LEVEL, freedom) if freedom else 2)
        tally.close(name, expression, "U", ours["expanded_uncertainty"], expanded, 1e-9)


# ---- refusals ------------------------------------------------------------------------------------------------------

# What pint lets pass, since it has no kinds, and slipmark does not: one of each must be refused.
STRICTER = [
    ("5 N*m + 3 J", "a torque and an energy, of one dimension"),
    ("5 W + 3 Pa*m^3/s", "a power and a gas throughput"),
    ("5 Hz + 3 rad/s", "cycles and radians, both 1/s in pint"),
    ("5 Hz to rad/s", "the same"),
    ("1 rad + 1", "an angle and a plain number"),
    ("4 MPa gauge + 4 MPa gauge", "two pressures from ambient"),
    ("4 MPa gauge to MPa abs", "from ambient to from vacuum, without the ambient pressure"),
    ("4 MPa to MPa gauge", "a difference to a pressure from ambient"),
    ("20 degC * 2", "a point on a scale; pint refuses it as well"),
    ("1 gal to L", "a gallon, US or imperial; pint takes the first"),
    ("1 BTU to J", "a British thermal unit of which table"),
    ("1 hp to W", "a horsepower of which sort"),
    ("1 lb to kg", "a pound of mass or of force"),
    ("1 slpm to mol/s", "a standard volume without its conditions"),
]


def refusals(slipmark, tally, dice, count):
    """What means nothing is refused by both."""
    asked, wrong = [], []
    for _ in range(count):
        one, two = dice.sample(generate.ADDED, 2)
        a, b = generate.total(dice, one), generate.total(dice, two)
        sign = dice.choice(["+", "-"])
        if a.work(exact).dimensionality == b.work(exact).dimensionality:
            continue
        shapes = [
            (f"{a.text} {sign} {b.text}", lambda a=a, b=b: a.work(exact) + b.work(exact)),
            (f"{a.text} to {generate.UNITS[two][0][0]}", lambda a=a, two=two: a.work(exact).to(generate.UNITS[two][0][1])),
            (f"max({a.text}, {b.text})", lambda a=a, b=b: max(a.work(exact), b.work(exact))),
            (f"{a.text} < {b.text}", lambda a=a, b=b: a.work(exact) < b.work(exact)),
            (f"exp({a.text})", lambda a=a: math.exp(a.work(exact).to("").magnitude)),
            (f"2 ^ {a.text}", lambda a=a: 2 ** a.work(exact).to("").magnitude),
        ]
        text, work = dice.choice(shapes)
        asked.append(text)
        try:
            work()
            wrong.append("pint works it out")
        except (pint.DimensionalityError, ValueError):
            wrong.append(None)
    for expression, why, ours in zip(asked, wrong, slipmark.ask_all(asked)):
        if why or not isinstance(ours, str) or ours.startswith("exit"):
            tally.fail("refusals, pint", expression, why or f"is not refused: {ours}")
        else:
            tally.agree("refusals, pint", True)
    for expression, why in STRICTER:
        ours = slipmark.ask(expression)
        if isinstance(ours, str) and not ours.startswith("exit"):
            tally.agree("refusals of kinds", True)
        else:
            tally.fail("refusals of kinds", expression, f"{why}: is not refused: {ours}")


# ---- all of it -----------------------------------------------------------------------------------------------------


class Harmed(Slipmark):
    """Answers a millionth too large, and what is refused answered: all of it must be found."""

    def ask(self, expression):
        ours = super().ask(expression)
        if isinstance(ours, str):
            return {"value": 1.0, "exact": True}
        if isinstance(ours["value"], bool):
            return {**ours, "value": not ours["value"]}
        more = lambda value: value if value is None else value * (1 + 1e-6) + 1e-9
        names = ["standard_uncertainty", "expanded_uncertainty", "degrees_of_freedom"]
        return {**ours, "value": more(ours["value"]), **{name: more(ours[name]) for name in names}}


def everything(slipmark, tally, dice, count):
    share = lambda part: max(1, count * part // 100)
    conversions(slipmark, tally, dice, share(31))
    temperatures(slipmark, tally, dice, share(5))
    standard_volumes(slipmark, tally, dice, share(3))
    expressions(slipmark, tally, dice, share(17), generate.rational, "arithmetic, pint in fractions")
    expressions(slipmark, tally, dice, share(12), generate.transcendental, "functions and roots, pint and math")
    comparisons(slipmark, tally, dice, share(6))
    notations(slipmark, tally, dice, share(8))
    propagation(slipmark, tally, dice, share(12))
    refusals(slipmark, tally, dice, share(6))


def forgotten():
    """Units of the program that are neither compared nor left out with a reason."""
    with open(UNITS, "rb") as file:
        units = tomllib.load(file)["unit"]
    texts = [row[0].lstrip("+") for rows in GROUPS.values() for row in rows] + [row[0] for row in SCALES] + [row[0] for row in WITHOUT]
    met = {word for text in texts for word in re.split(r"[ */()]|\^[0-9-]+", text)}
    bare = lambda symbol: {symbol} | {prefix + symbol for prefix in generate.PREFIXES}
    return [unit["symbols"][0] for unit in units if not any(bare(symbol) & met for symbol in unit["symbols"])]


def finds_harm(path):
    """Whether no part lets wrong answers pass, however few it looks at."""
    tally = Tally()
    everything(Harmed(path), tally, random.Random(0), 35)
    deaf = [name for name, part in tally.parts.items() if part["compared"]]
    if deaf:
        print(f"wrong answers pass in: {', '.join(deaf)}")
    return not deaf


def main():
    parser = argparse.ArgumentParser(description="hold slipmark's arithmetic against other libraries")
    parser.add_argument("--slipmark", required=True)
    parser.add_argument("--count", type=int, default=2400, help="how many expressions, of all sorts together")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    if not finds_harm(args.slipmark):
        return 1
    if forgotten():
        print(f"neither compared nor left out with a reason: {', '.join(forgotten())}")
        return 1
    tally = Tally()
    everything(Slipmark(args.slipmark), tally, random.Random(args.seed), args.count)
    print("left out, and why:")
    for what, where, why in WITHOUT:
        print(f"  {what} ({where}): {why}")
    for expression, why in STRICTER:
        print(f"  `{expression}` (pint): {why}; slipmark must refuse it")
    return 0 if tally.report() else 1


if __name__ == "__main__":
    sys.exit(main())
