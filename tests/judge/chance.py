"""Probabilities for the judge, by other ways than the program's: sums of fractions, and Simpson's rule."""

import functools
import math
import re
from fractions import Fraction

NEAR = 1e-9  # what is worked out in floating point decides nothing this near to a line


def share(text):
    """`95 %`, `0.95` or a number, as a fraction."""
    m = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(%?)", str(text).strip())
    return Fraction(m[1]) / (100 if m[2] else 1)


def outside(rooms, u):
    """Probability of being outside of one-sided limits at these distances inside; a normal distribution with U = 2u."""
    return sum(math.erfc(float(room / (u / 2)) / math.sqrt(2)) / 2 for room in rooms)


def by_probability(rooms, u, asked):
    if u == 0:
        return ("met", None) if min(rooms) >= 0 else ("not met", None)
    risk = outside(rooms, u)
    if abs(risk - asked) <= NEAR or abs(1 - risk - asked) <= NEAR:
        return "inconclusive", "on-the-limit"
    if 1 - risk >= asked:
        return "met", None
    return ("not met", None) if risk >= asked else ("inconclusive", "straddles-limit")


def at_least(successes, trials, reliability):
    """Probability of so many successes or more."""
    r = Fraction(reliability)
    return sum(math.comb(trials, k) * r**k * (1 - r) ** (trials - k) for k in range(successes, trials + 1))


def by_trials(text, reliability, confidence):
    m = re.fullmatch(r"\s*(\d+)\s*of\s*(\d+)\s*", text) if isinstance(text, str) else None
    if not m or int(m[1]) > int(m[2]):
        return "cannot", "cannot-compute"
    successes, trials = int(m[1]), int(m[2])
    doubt = 1 - confidence
    if at_least(successes, trials, reliability) <= doubt:
        return "met", None
    if at_least(trials - successes, trials, 1 - reliability) <= doubt:  # so many failures or more
        return "not met", None
    return "inconclusive", "too-few-trials"


def normal_below(z):
    return math.erfc(-z / math.sqrt(2)) / 2


def bisect(below, target, low, high):
    """Halved until nothing lies between."""
    while low < (middle := (low + high) / 2) < high:
        if below(middle) < target:
            low = middle
        else:
            high = middle
    return middle


@functools.lru_cache(maxsize=None)
def factor(n, covers, confidence):
    """One-sided tolerance factor: P(mean - k s is below the (1 - covers) quantile) = confidence.

    Integrated over s/sigma, whose square times n - 1 is chi-squared, by Simpson's rule; solved by halving.
    """
    nu = n - 1
    shift = bisect(normal_below, float(covers), -10, 10) * math.sqrt(n)
    log_front = math.log(2) + nu / 2 * math.log(nu / 2) - math.lgamma(nu / 2)
    steps, top = 4000, 1 + 12 / math.sqrt(2 * nu)
    h = top / steps
    grid = [i * h for i in range(1, steps + 1)]
    weights = [math.exp(log_front + (nu - 1) * math.log(s) - nu * s * s / 2) * (4 if i % 2 else 2) * h / 3 for i, s in enumerate(grid, 1)]
    if nu == 1:  # the only density that does not vanish at zero
        grid, weights = [0.0, *grid], [math.exp(log_front) * h / 3, *weights]
    below = lambda t: sum(w * normal_below(t * s - shift) for s, w in zip(grid, weights))
    return bisect(below, float(confidence), -50, 50 + 20 * shift) / math.sqrt(n)


@functools.lru_cache(maxsize=None)
def between(n, covers, confidence):
    """Two-sided tolerance factor: P(mean +- k s holds the share) = confidence.

    Given s, it does where the mean is off by no more than z; integrated over s from where z is zero, in t with s = (w + t^2)/k,
    since z rises like a root there; Simpson's rule, solved by halving.
    """
    nu, p = n - 1, float(covers)
    w = bisect(normal_below, (1 + p) / 2, -10, 10)
    log_front = math.log(2) + nu / 2 * math.log(nu / 2) - math.lgamma(nu / 2)
    top = 1 + 12 / math.sqrt(2 * nu)

    def confident(k):
        if k * top <= w:
            return 0.0
        steps = 400
        end = math.sqrt(k * top - w)
        total = 0.0
        for i in range(1, steps + 1):
            t = i * end / steps
            width = w + t * t
            s = width / k
            density = math.exp(log_front + (nu - 1) * math.log(s) - nu * s * s / 2)
            if density < 1e-18:  # next to nothing of it lies here
                continue
            # The share falls as the middle moves off, so halve on what is missing.
            off = bisect(lambda z: 1 - (normal_below(z + width) - normal_below(z - width)), 1 - p, 0, width + 10)
            weight = 1 if i == steps else 4 if i % 2 else 2
            total += weight * density * (2 * normal_below(off * math.sqrt(n)) - 1) * 2 * t / k
        return total * end / steps / 3

    low, high = w / top, w
    while confident(high) < confidence:
        high *= 2
    for _ in range(45):
        middle = (low + high) / 2
        if confident(middle) < confidence:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def by_sample(room, s, n, covers, confidence, two=False):
    """The mean is inside by `room`, a fraction; `s` is squared, so that it stays one. `two`: between two limits."""
    if s == 0:
        return "inconclusive", "no-uncertainty"
    inside = float(room) / math.sqrt(float(s))
    if inside >= (between if two else factor)(n, covers, confidence):
        return "met", None
    return ("not met", None) if inside <= factor(n, covers, 1 - confidence) else ("inconclusive", "straddles-limit")
