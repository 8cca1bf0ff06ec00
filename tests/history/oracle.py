"""What changed between two commits, and which commits did it, worked out a second time: from git's own commands, slowly, and from the rules.

The rules are those of DEVELOPERS.md and of the published schemas: things are matched by id; a merge changed a thing itself where it is not
what the lines of work give that it joins; what cannot be read is said, and is neither new nor gone.
"""

import functools
import itertools
import os
import re
import subprocess
import tomllib
import unicodedata
from decimal import Decimal
from fractions import Fraction

GIT = {"GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_SYSTEM": os.devnull, "GIT_CONFIG_NOSYSTEM": "1"}
# Of these, one and what it is in the first of its sort; enough for the limits that are compared here.
UNITS = {"mm": ("m", "0.001"), "cm": ("m", "0.01"), "m": ("m", "1"), "s": ("s", "1"), "min": ("s", "60"), "K": ("K", "1"), "N": ("N", "1"),
         "kN": ("N", "1000"), "g": ("kg", "0.001"), "kg": ("kg", "1"), "": ("", "1")}  # fmt: skip


# ---- files -------------------------------------------------------------------------------------------------------------


class Unreadable:
    """A file that should be one of the project's, and is none. `maybe`: the id that it seems to have."""

    def __init__(self, text):
        found = re.search(r'^\s*id\s*=\s*"([^"\n]*)"', text, re.M)
        self.maybe = found and found[1]


class Thing:
    """What one file says."""

    def __init__(self, text):
        front, body = re.fullmatch(r"\+\+\+\n(.*?\n)?\+\+\+(?:\n(.*))?", text, re.S).groups()
        self.text, self.keys, self.body = text, tomllib.loads((front or "").replace("\r\n", "\n")), body or ""
        self.id, self.kind = self.keys["id"], self.keys["kind"]
        said = re.split(r"^#{1,6}(?:[ \t]|$)", self.body, maxsplit=1, flags=re.M)
        self.statement = said[0].strip()
        self.rest = self.body[len(said[0]) :].strip()

    @property
    def status(self):
        return self.keys.get("status", "active")

    @functools.cached_property
    def criteria(self):
        """Name -> as written."""
        own = dict(self.keys.get("criteria", {}))
        short = {key: self.keys[key] for key in ("min", "max", "equals", "tolerance", "expect", "count", "at") if key in self.keys}
        return own | ({"value": short} if short else {})

    def flat(self):
        """Every key with its value, tables taken apart; the statement and what follows it."""
        out = {"statement": self.statement, "rest": self.rest}

        def walk(value, name):
            if isinstance(value, dict):
                for key, inner in value.items():
                    walk(inner, (*name, key))
            else:
                out[name] = repr(value)

        walk(self.keys, ())
        return out

    def coarse(self):
        return {"body": self.body, **{key: repr(value) for key, value in self.keys.items()}}


def read(text):
    """The thing in a Markdown file; none if it is other Markdown."""
    if not text.startswith("+++\n"):
        return Unreadable(text) if re.search(r'^\s*kind\s*=\s*"', "\n".join(text.split("\n")[:20]), re.M) else None
    if re.search(r"^(<{7}|>{7}) ", text, re.M):
        return Unreadable(text)
    try:
        return Thing(text)
    except (ValueError, KeyError, AttributeError):
        return Unreadable(text)


def plain(text):
    """Words, whatever their wrapping, quotes, dashes and emphasis."""
    text = unicodedata.normalize("NFC", re.sub(r"(?<!\w)[*_]+|[*_]+(?!\w)", "", text))
    for group, one in (("‘’‚‛", "'"), ("“”„", '"'), ("‐‑‒–—−", "-")):
        text = re.sub(f"[{group}]", one, text)
    return " ".join(text.split())


def quantity(text):
    """(sort, number); none if it is not as simple as that."""
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        return "", Fraction(str(text))
    found = isinstance(text, str) and re.fullmatch(r"([+-]?\d+(?:\.\d+)?(?:e[+-]?\d+)?) ?([A-Za-z]*)", text.strip())
    if not found or found[2] not in UNITS:
        return None
    sort, one = UNITS[found[2]]
    return sort, Fraction(Decimal(found[1])) * Fraction(one)


def span(criterion):
    """(sort, least, most) of what a criterion permits; none where that is more than two numbers."""
    if not isinstance(criterion, dict) or not criterion.keys() <= {"min", "max", "text"} or not criterion.keys() & {"min", "max"}:
        return None
    ends = {key: quantity(criterion[key]) for key in ("min", "max") if key in criterion}
    if None in ends.values() or len({sort for sort, _ in ends.values()}) != 1:
        return None
    sort = next(iter(ends.values()))[0]
    return sort, *(ends[key][1] if key in ends else None for key in ("min", "max"))


def shown(criterion):
    """A criterion without what only explains it."""
    return {key: value for key, value in criterion.items() if key != "text"} if isinstance(criterion, dict) else criterion


def direction(then, now):
    """How a criterion moved: a word, none if it did not, and "?" where this is more than two numbers."""
    if shown(then) == shown(now):
        return None
    one, two = span(then), span(now)
    if one is None or two is None:
        return "?"
    if one[0] != two[0]:
        return "changed"
    if one == two:
        return "restated"
    low = [Fraction(-(10**30)) if ends[1] is None else ends[1] for ends in (one, two)]
    high = [Fraction(10**30) if ends[2] is None else ends[2] for ends in (one, two)]
    if low[1] >= low[0] and high[1] <= high[0]:
        return "tightened"
    return "relaxed" if low[1] <= low[0] and high[1] >= high[0] else "changed"


# What a requirement without any criterion has.
MET = {"met": {"expect": "pass"}}


def directions(then, now):
    """Name -> how the criterion went; of what came or went as a whole only those that it names."""
    both = then and now
    then, now = ((thing.criteria or (MET if both else {})) if thing else {} for thing in (then, now))
    found = {name: "added" for name in now.keys() - then.keys()} | {name: "removed" for name in then.keys() - now.keys()}
    found |= {name: direction(then[name], now[name]) for name in then.keys() & now.keys()}
    return {name: word for name, word in found.items() if word}


# ---- two versions of a thing ---------------------------------------------------------------------------------------------

# What evidence and plans hang from, besides the statement and the criteria.
REACH = ("parents", "applies_to", "safety", "replaces")
PLAN = ("verify", "before", "verified_by", "by_children")


def listed(value):
    return [value] if isinstance(value, str) else value


def told(thing, looks=True):
    """The keys of anything but a requirement without its title, with or without the looks that were taken again."""
    keys = {key: value for key, value in thing.keys.items() if key != "title"}
    if not looks and isinstance(keys.get("verifies"), dict):
        keys["verifies"] = {id: {key: value for key, value in of.items() if key != "reaffirmed"} for id, of in keys["verifies"].items()}
    return keys


def looked_at_again(then, now):
    """Whether evidence was looked at again and nothing else happened."""
    if not then or not now or then[1].kind == "requirement" or told(then[1]) == told(now[1]):
        return False
    return told(then[1], False) == told(now[1], False) and then[1].body.split() == now[1].body.split()


def reworded(then, now):
    return plain(then.statement) != plain(now.statement)


def kind_of_change(then, now):
    """The word for what lies between two versions, each (path, thing) or none; none if nothing does."""
    if then is None or now is None:
        return None if then is now else "added" if then is None else "removed"
    (old_path, old), (new_path, new) = then, now
    if old_path == new_path and old.text == new.text:
        return None
    if new.status == "withdrawn" and old.status != "withdrawn":
        return "withdrawn"
    if old.kind == "requirement":
        reach = old.status != new.status or any(listed(old.keys.get(key)) != listed(new.keys.get(key)) for key in REACH)
        if reworded(old, new) or directions(old, new) or reach:
            return "revised"
        if any(old.keys.get(key) != new.keys.get(key) for key in PLAN):
            return "plan"
    else:
        if told(old) != told(new) or old.body.split() != new.body.split():
            return "revised"
    return "moved" if old_path != new_path else "cosmetic"


# ---- the repository --------------------------------------------------------------------------------------------------------


class Repository:
    def __init__(self, folder, under=""):
        """`under`: where in the repository the project lies, with a slash at its end."""
        self.folder, self.under = folder, under
        self.parents, self.order = {}, []
        for line in self.git("rev-list", "--topo-order", "--reverse", "--parents", "--all").split("\n"):
            if line:
                commit, *parents = line.split()
                self.parents[commit] = parents
                self.order.append(commit)
        self.projects, self.with_parameters = set(), set()
        self.trees = {commit: self.tree(commit) for commit in self.order}
        self.read_files()
        self.files = {commit: {path: self.blobs[blob] for path, blob in tree.items()} for commit, tree in self.trees.items()}
        self.things = {commit: self.things_of(files) for commit, files in self.files.items()}

    def at(self, commit):
        """Id -> (path, thing) of the project, which is there where its settings are; none else."""
        return self.things[commit] if commit in self.projects else {}

    def git(self, *args):
        done = subprocess.run(["git", "-C", self.folder, *args], env={**os.environ, **GIT}, capture_output=True, check=False)
        return done.stdout.decode()

    def tree(self, commit):
        """Path -> blob of what may be the project's. Who wrote a file wrote it, whether the project's settings were there yet or not."""
        out = {}
        for entry in self.git("ls-tree", "-r", "-z", commit).split("\0"):
            if entry:
                about, path = entry.split("\t", 1)
                out[path] = about.split()[2]
        if self.under + "slipmark.toml" in out:
            self.projects.add(commit)
        if self.under + "parameters.toml" in out:
            self.with_parameters.add(commit)
        return {path: blob for path, blob in out.items() if path.startswith(self.under) and path.lower().endswith(".md")}

    def read_files(self):
        wanted = sorted({blob for tree in self.trees.values() for blob in tree.values()})
        given = "".join(f"{blob}\n" for blob in wanted).encode()
        done = subprocess.run(["git", "-C", self.folder, "cat-file", "--batch"], input=given, env={**os.environ, **GIT}, capture_output=True, check=True)
        self.blobs, at = {}, 0
        for blob in wanted:
            end = done.stdout.index(b"\n", at)
            size = int(done.stdout[at:end].split()[2])
            self.blobs[blob] = read(done.stdout[end + 1 : end + 1 + size].decode())
            at = end + 2 + size

    def things_of(self, files):
        """Id -> (path, thing)."""
        return {file.id: (path, file) for path, file in files.items() if isinstance(file, Thing)}

    @functools.cache
    def parameters(self, commit):
        if commit not in self.with_parameters:
            return {}
        try:
            return tomllib.loads(self.git("show", f"{commit}:{self.under}parameters.toml"))
        except ValueError:
            return {}

    def leaning(self, one, two):
        """Requirements whose limits lean on parameters that are not the same: what moved them is more than is worked out here."""
        then, now = self.parameters(one), self.parameters(two)
        moved = {name for name in {*then, *now} if then.get(name) != now.get(name)}
        found = set()
        for commit in (one, two) if moved else ():
            for id, (_, thing) in self.things[commit].items():
                words = set(re.findall(r"[A-Za-z_]\w*", repr(thing.criteria))) if thing.kind == "requirement" else set()
                found |= {id} if words & moved else set()
        return found

    def broken(self, commit):
        """Path -> the id that it seems to have, for each of the project's files that cannot be read."""
        return self.unread(commit) if commit in self.projects else {}

    def may_stand(self, commit, id, path):
        """Whether a file that cannot be read may hold what is not there: it says so, or stands where the thing stands at another commit."""
        return id not in self.at(commit) and any(maybe == id or broken == path for broken, maybe in self.broken(commit).items())

    @functools.cached_property
    def ancestors(self):
        found = {}
        for commit in self.order:
            found[commit] = {commit}.union(*(found[parent] for parent in self.parents[commit]))
        return found

    def between(self, one, two):
        """Commits that only one of the two has."""
        return self.ancestors[one] ^ self.ancestors[two]

    # ---- who did it ----

    @functools.cache
    def places(self, id):
        """Every path at which the thing ever stood."""
        return {things[id][0] for things in self.things.values() if id in things}

    @functools.cache
    def unread(self, commit):
        return {path: file.maybe for path, file in self.files[commit].items() if isinstance(file, Unreadable)}

    @functools.cache
    def hidden(self, commit, id):
        """Whether a file that cannot be read may hold the thing: it says so, or it stands where the thing stood."""
        unread = self.unread(commit)
        return id not in self.things[commit] and any(maybe == id or path in self.places(id) for path, maybe in unread.items())

    def version(self, commit, id):
        """(path, thing), none, or "hidden"."""
        return "hidden" if self.hidden(commit, id) else self.things[commit].get(id)

    @functools.cache
    def touched(self, commit, id):
        """Whether the commit touched what the thing says: "yes", "no", "moved" if only its file, "may" where the rules leave it open."""
        now = self.version(commit, id)
        sides = [self.version(parent, id) for parent in self.parents[commit]]
        if len(sides) > 1:
            return self.mixed(commit, id, now, sides)
        then = sides[0] if sides else None
        if "hidden" in (then, now):
            return self.mended(commit, id, then, now)
        if then is None or now is None:
            return "no" if then is now else "yes"
        if then[1].text != now[1].text:
            return "yes"
        return "no" if then[0] == now[0] else "moved"

    def mended(self, commit, id, then, now):
        """A file that became unreadable, or was mended: into what it was, or into something else, which is a change of its own."""
        if now == "hidden":
            return "may"
        before = self.readable(self.parents[commit][0], id)
        return "may" if before is None or now is None or kind_of_change(before, now) in (None, "cosmetic", "moved") else "yes"

    def readable(self, commit, id):
        """The version that was last seen, along the parents that hold the same file that cannot be read, else along first parents."""
        while True:
            version = self.version(commit, id)
            if version != "hidden":
                return version
            if not self.parents[commit]:
                return None
            hiding = {(path, self.trees[commit][path]) for path, maybe in self.unread(commit).items() if maybe == id or path in self.places(id)}
            same = [parent for parent in self.parents[commit] if hiding <= self.trees[parent].items()]
            commit = (same or self.parents[commit])[0]

    @functools.cache
    def bases(self, commit):
        """Where the lines of work parted that a merge joins."""
        return self.git("merge-base", "--all", *(["--octopus"] if len(self.parents[commit]) > 2 else []), *self.parents[commit]).split()

    def mixed(self, commit, id, now, sides):
        """A merge changed a thing itself where it is not what the lines of work give, key by key."""
        bases = self.bases(commit)
        if len(bases) > 1 or "hidden" in (now, *sides):
            return "may"
        if not self.projects.issuperset(self.parents[commit]):
            return "may"  # a line of work on which there was no project yet
        base = self.version(bases[0], id) if bases else None
        if base == "hidden":
            return "may"
        answers = set()
        for view in (lambda v: v and v[1].flat(), lambda v: v and v[1].coarse(), folded, lambda v: v and {"": v[1].text}):
            answers.add(by_rote(view(base), [view(side) for side in sides], view(now)))
        if answers == {True}:
            path = by_rote(*(at(base), [at(side) for side in sides], at(now)))
            return "no" if path else "moves"
        if answers == {False}:
            return "yes"
        return "may"


def at(version):
    return version and {"path": version[0]}


def folded(version):
    """Every key, however it is written."""
    if not version:
        return None
    return {key: plain(value) if isinstance(key, str) else value for key, value in version[1].flat().items()}


def by_rote(base, sides, now):
    """Whether a merge is what comes out where each key is as the side has it that changed it; none may have it otherwise than another."""
    whole = one_of({} if base is None else {"": repr(base)}, [{} if side is None else {"": repr(side)} for side in sides], "")
    if base is None or now is None or None in sides:
        return whole is not CLASH and whole == ({} if now is None else {"": repr(now)}).get("")
    keys = set(base).union(now, *sides)
    return all(one_of(base, sides, key) is not CLASH and one_of(base, sides, key) == now.get(key) for key in keys)


CLASH = object()


def one_of(base, sides, key):
    changed = {side.get(key) for side in sides} - {base.get(key)}
    return CLASH if len(changed) > 1 else changed.pop() if changed else base.get(key)


def all_ids(repository):
    return sorted(set(itertools.chain.from_iterable(things.keys() for things in repository.things.values())))
