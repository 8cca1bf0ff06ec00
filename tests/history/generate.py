"""Makes small projects with histories that go wrong in every way that git allows, from a seed.

What the commits hold is chosen here and written as it is; what follows from that is for the oracle to find in the repository, which knows
nothing of what was meant.
"""

import copy
import json
import os
import random
import subprocess

GIT = {"GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_SYSTEM": os.devnull, "GIT_CONFIG_NOSYSTEM": "1"}
SETTINGS = 'name = "Random"\nevents = ["leak-check", "cold-flow", "hot-fire"]\n'
FOLDERS = ["requirements", "requirements/valve", "old", "a/b/c", ""]
WORDS = ["valve", "seat", "stem", "shall", "leak", "open", "hold", "pressure", "within", "cold", "gland", "drain", "close", "purge"]
# Limits in units, with what one of them is in the first of its line; exact, so that a limit can be restated.
UNITS = [[("mm", 1), ("cm", 10), ("m", 1000)], [("s", 1), ("min", 60)], [("K", 1)], [("N", 1), ("kN", 1000)], [("g", 1), ("kg", 1000)]]
# Seconds from 1970, for commits: nothing may be ordered by them.
DATES = [0, 1, 86400, 951782400, 1700000000, 1750000000, 1750003600, 4070908800, 4102444799]


def git(folder, *args, given=None):
    done = subprocess.run(["git", "-C", folder, "-c", "core.fsync=none", *args], env={**os.environ, **GIT}, input=given, capture_output=True, check=True)
    return done.stdout


# ---- things ------------------------------------------------------------------------------------------------------------


class Maker:
    """Things, and what may happen to them."""

    def __init__(self, r):
        self.r, self.next, self.value = r, 1, 10

    def fresh_value(self):
        """Each new limit is a number of its own, so that no criterion can be taken for another one renamed."""
        self.value += 7
        return self.value

    def requirement(self):
        id, self.next = f"R-{self.next:02}", self.next + 1
        thing = {"kind": "requirement", "id": id, "title": f"Title {id}", "path": self.path(id), "words": self.words(), "wrap": 99,
                 "rationale": "Because.", "criteria": {}, "plan": [["test", "leak-check"]], "status": None, "safety": False,
                 "replaces": None, "comment": None, "emphasis": False, "broken": None, "parent": None}  # fmt: skip
        for name in self.r.sample(["alpha", "beta", "gamma"], self.r.randint(0, 2)):
            thing["criteria"][name] = self.criterion()
        return thing

    def other(self):
        kind, letter = self.r.choice([("item", "I"), ("procedure", "TP"), ("decision", "D")])
        id, self.next = f"{letter}-{self.next:02}", self.next + 1
        thing = {"kind": kind, "id": id, "title": f"Title {id}", "path": self.path(id), "words": self.words(), "wrap": 99,
                 "comment": None, "emphasis": False, "broken": None, "number": 1}  # fmt: skip
        return thing

    def path(self, id):
        folder = self.r.choice(FOLDERS)
        return f"{folder}/{id}.md" if folder else f"{id}.md"

    def words(self):
        return [self.r.choice(WORDS) for _ in range(self.r.randint(5, 12))]

    def criterion(self):
        """[unit group, unit, least, most]: whole numbers of the group's first unit, one of them at least."""
        sides = self.r.choice(["min", "max", "both"])
        low, high = self.fresh_value(), self.fresh_value() + 100
        return [self.r.randrange(len(UNITS)), 0, low if sides != "max" else None, high if sides != "min" else None]

    # What may happen to a requirement; each returns nothing and changes the thing.

    def reword(self, t):
        t["words"][self.r.randrange(len(t["words"]))] = f"{self.r.choice(WORDS)}{self.r.randint(0, 99)}"

    def rewrap(self, t):
        t["wrap"] = self.r.choice([2, 3, 5, 99])

    def comments(self, t):
        t["comment"] = f"note {self.r.randint(0, 999)}"

    def emphasises(self, t):
        t["emphasis"] = not t["emphasis"]

    def retitles(self, t):
        t["title"] = f"Title {self.r.randint(0, 999)}"

    def moves(self, t):
        t["path"] = self.path(t["id"])

    def changes_case(self, t):
        folder, name = os.path.split(t["path"])
        t["path"] = os.path.join(folder, name.swapcase().removesuffix(".MD").removesuffix(".md") + ".md")

    def renames(self, t):
        t["path"] = os.path.join(os.path.dirname(t["path"]), f"{self.r.choice(WORDS)}-{t['id']}.md")

    def reasons(self, t):
        t["rationale"] = f"Because of {self.r.randint(0, 999)}."

    def limits(self, t):
        if not t["criteria"]:
            return self.gains(t)
        limit = t["criteria"][self.r.choice(sorted(t["criteria"]))]
        sides = [at for at in (2, 3) if limit[at] is not None]
        for at in self.r.sample(sides, self.r.randint(1, len(sides))):
            limit[at] = max(1, limit[at] + self.r.choice([-3, -2, -1, 1, 2, 3]))
        if None not in limit[2:] and limit[2] > limit[3]:
            limit[3] = limit[2]

    def restates(self, t):
        if t["criteria"]:
            limit = t["criteria"][self.r.choice(sorted(t["criteria"]))]
            limit[1] = self.r.randrange(len(UNITS[limit[0]]))

    def one_side(self, t):
        """A side comes or goes."""
        if not t["criteria"]:
            return
        limit = t["criteria"][self.r.choice(sorted(t["criteria"]))]
        if None not in limit[2:]:
            limit[self.r.choice([2, 3])] = None
        elif limit[2] is None:
            limit[2] = max(1, limit[3] - self.r.randint(1, 9))
        else:
            limit[3] = limit[2] + self.r.randint(1, 9)

    def gains(self, t):
        name = self.r.choice(["alpha", "beta", "gamma", "delta"])
        if name not in t["criteria"]:
            t["criteria"][name] = self.criterion()

    def loses(self, t):
        if t["criteria"]:
            del t["criteria"][self.r.choice(sorted(t["criteria"]))]

    def plans(self, t):
        entry = self.r.choice(t["plan"])
        if self.r.random() < 0.5:
            entry[1] = self.r.choice(["leak-check", "cold-flow", "hot-fire"])
        else:
            entry[0] = self.r.choice(["test", "inspection", "demonstration"])

    def plans_more(self, t):
        if len(t["plan"]) > 1:
            t["plan"].pop()
        else:
            t["plan"].append(["inspection" if t["plan"][0][0] != "inspection" else "test", "hot-fire"])

    def status(self, t):
        t["status"] = self.r.choice([None, "withdrawn", "draft", "withdrawn"])

    def endangers(self, t):
        t["safety"] = not t["safety"]

    def hangs(self, t):
        t["parent"] = self.r.choice([None, "R-01", "R-02"])

    def counts(self, t):
        t["number"] += 1

    def breaks(self, t):
        t["broken"] = self.r.choice(["quote", "markers", "bracket"])

    ANY = [reword, reword, rewrap, comments, emphasises, retitles, moves, moves, changes_case, renames, breaks]
    OWN = [limits, limits, limits, restates, restates, one_side, gains, loses, plans, plans_more, status, endangers, hangs, reasons]

    def happens(self, t):
        if t["broken"]:
            t["broken"] = None
            if self.r.random() < 0.5:
                return
        self.r.choice(self.ANY + (self.OWN * 2 if t["kind"] == "requirement" else [Maker.counts] * 3))(self, t)


def number(value, unit):
    """A number of the unit, exact."""
    whole, rest = divmod(value * 10**6, unit * 10**6)
    if not rest:
        return str(whole)
    text = f"{value * 10**6 // unit:07d}"
    if value * 10**6 % unit:
        return None  # has no end in this unit
    return (text[:-6] + "." + text[-6:]).rstrip("0")


def limit_text(limit):
    group, at, low, high = limit
    name, unit = UNITS[group][at]
    texts = {key: number(value, unit) for key, value in (("min", low), ("max", high)) if value is not None}
    if None in texts.values():
        name, unit = UNITS[group][0]
        texts = {key: number(value, unit) for key, value in (("min", low), ("max", high)) if value is not None}
    return ", ".join(f'{key} = "{text} {name}"' for key, text in texts.items())


def file_text(t):
    lines = ["+++", f'kind = "{t["kind"]}"']
    if t["comment"]:
        lines.append(f"# {t['comment']}")
    lines += [f'id = "{t["id"]}"', f"title = {json.dumps(t['title'])}"]
    if t["kind"] == "requirement":
        if t["replaces"]:
            lines.append(f'replaces = "{t["replaces"]}"')
        lines.append(f'parents = ["{t["parent"]}"]' if t["parent"] and t["parent"] != t["id"] else 'source = "us"')
        if t["safety"]:
            lines.append("safety = true")
        if t["status"]:
            lines += [f'status = "{t["status"]}"'] + ['reason = "not wanted"'] * (t["status"] == "withdrawn")
        lines += [f"criteria.{name} = {{ {limit_text(limit)} }}" for name, limit in t["criteria"].items()]
        entries = [f'{{ method = "{method}", procedure = "TP-1", before = "{before}" }}' for method, before in t["plan"]]
        lines.append(f"verify = [{', '.join(entries)}]")
    elif t["kind"] == "decision":
        lines.append(f"date = 2026-01-{min(t['number'], 28):02}")
    elif t["kind"] == "procedure":
        lines.append(f'revision = "{t["number"]}"')
    else:
        lines.append(f'revision = "{t["number"]}"')
    words = list(t["words"])
    if t["emphasis"]:
        words[1] = f"*{words[1]}*"
    wrapped = "\n".join(" ".join(words[at : at + t["wrap"]]) for at in range(0, len(words), t["wrap"]))
    lines += ["+++", f"It {wrapped}."]
    if t["kind"] == "requirement":
        lines += ["", "## Rationale", "", t["rationale"]]
    text = "\n".join(lines) + "\n"
    if t["broken"] == "quote":
        return text.replace('title = "', 'title = ""x', 1)
    if t["broken"] == "bracket":
        return text.replace("\ntitle", "\nlist = [1, \ntitle", 1)
    if t["broken"] == "markers":
        return text.replace("\ntitle", "\n<<<<<<< ours\ntitle = 1\n=======\ntitle = 2\n>>>>>>> theirs\ntitle", 1)
    return text


# ---- histories -----------------------------------------------------------------------------------------------------------


class Commit:
    def __init__(self, things, parents, has_project=True):
        self.things, self.parents, self.has_project = things, parents, has_project
        self.ancestors = {self}.union(*(parent.ancestors for parent in parents))


class History:
    """Commits by chance; `things`: id -> thing, or a thing under a key of its own."""

    def __init__(self, seed):
        self.r = random.Random(f"history {seed}")
        self.maker = Maker(self.r)
        self.commits, self.graveyard = [], []
        for _ in range(self.r.randint(1, 2)):
            self.root()
        tips = list(self.commits)
        for _ in range(self.r.randint(6, 22)):
            dice = self.r.random()
            if len(tips) > 1 and dice < 0.3:
                joined = self.r.sample(tips, min(len(tips), self.r.choice([2, 2, 2, 3, 4])))
                tips = [tip for tip in tips if tip not in joined] + [self.merge(joined)]
            elif dice < 0.5 and len(tips) < 5:
                tips.append(self.edit(self.r.choice(self.commits)))
            else:
                at = self.r.randrange(len(tips))
                tips[at] = self.edit(tips[at])
        while len(tips) > 1:
            joined, tips = tips[:3], tips[3:]
            tips.insert(0, self.merge(joined))
        for _ in range(self.r.randint(0, 2)):
            tips[0] = self.edit(tips[0])
        self.tip = tips[0]

    def add(self, commit):
        self.commits.append(commit)
        return commit

    def root(self):
        makers = [self.maker.requirement] * self.r.randint(2, 4) + [self.maker.other] * self.r.randint(1, 2)
        things = [make() for make in makers]
        if self.commits and self.r.random() < 0.4:
            things.append(copy.deepcopy(self.r.choice(list(self.commits[0].things.values()))))
            self.maker.happens(things[-1])
        self.add(Commit({t["id"]: t for t in things}, [], not self.commits or self.r.random() < 0.5))

    def edit(self, parent):
        things = copy.deepcopy(parent.things)
        for _ in range(self.r.choice([1, 1, 1, 2, 3])):
            self.change(things, parent)
        return self.add(Commit(things, [parent], parent.has_project))

    def change(self, things, parent):
        dice = self.r.random()
        ids = sorted(things)
        if dice < 0.07 or not ids:
            new = self.maker.requirement() if self.r.random() < 0.7 else self.maker.other()
            things[new["id"]] = new
        elif dice < 0.13 and len(ids) > 1:
            self.graveyard.append(things.pop(self.r.choice(ids)))
        elif dice < 0.19 and self.graveyard:
            back = copy.deepcopy(self.r.choice(self.graveyard))
            if back["id"] not in things:
                things[back["id"]] = back
                if self.r.random() < 0.5:
                    self.maker.happens(back)
        elif dice < 0.23:
            self.takes_over(things, self.r.choice(ids))
        elif dice < 0.27:
            one, two = things[self.r.choice(ids)], things[self.r.choice(ids)]
            one["path"], two["path"] = two["path"], one["path"]
        elif dice < 0.33:
            self.reverts(things, parent)
        elif dice < 0.37:
            self.hands_over(things)
        else:
            self.maker.happens(things[self.r.choice(ids)])

    def takes_over(self, things, id):
        """A requirement under another id, which replaces the old one."""
        old = things[id]
        if old["kind"] != "requirement" or old["broken"]:
            return
        new = {**copy.deepcopy(old), "id": self.maker.requirement()["id"], "replaces": id}
        if self.r.random() < 0.5:
            new["path"] = self.maker.path(new["id"])
        del things[id]
        things[new["id"]] = new

    def reverts(self, things, parent):
        """One thing, or all of them, back to how an ancestor had it."""
        then = self.r.choice(sorted(parent.ancestors, key=self.commits.index)).things
        for id in sorted(then) if self.r.random() < 0.2 else [self.r.choice(sorted(then))]:
            things[id] = copy.deepcopy(then[id])

    def hands_over(self, things):
        """A criterion goes from one requirement to another."""
        able = [t for t in things.values() if t["kind"] == "requirement"]
        if len(able) < 2:
            return
        one, two = self.r.sample(sorted(able, key=lambda t: t["id"]), 2)
        for name in sorted(one["criteria"].keys() - two["criteria"].keys())[:1]:
            two["criteria"][name] = one["criteria"].pop(name)

    def base(self, parents):
        shared = set.intersection(*(parent.ancestors for parent in parents))
        return max(shared, key=self.commits.index).things if shared else {}

    def merge(self, parents):
        base = self.base(parents)
        way = self.r.choice(["first", "last", "any", "new"])
        things = {}
        for id in sorted(set(base).union(*(parent.things for parent in parents))):
            made = self.merged(base.get(id), [parent.things.get(id) for parent in parents], way)
            if made:
                things[id] = copy.deepcopy(made)
        if self.r.random() < 0.15:  # whoever merged did more than that
            self.change(things, parents[0])
        if self.r.random() < 0.1:  # or took one side as it was
            things = copy.deepcopy(self.r.choice(parents).things)
        return self.add(Commit(things, parents, any(parent.has_project for parent in parents)))

    def merged(self, base, sides, way):
        """One thing, key by key; what both sides changed goes the way that whoever merges goes."""
        changed = [side for side in sides if side != base]
        if not changed:
            return base
        if base is None or None in changed:
            there = [side for side in changed if side]
            if len({json.dumps(side, sort_keys=True) for side in changed}) == 1:
                return changed[0]
            return self.settled([*there, None] if None in changed else there, way)
        made = copy.deepcopy(base)
        for key in base:
            values = [side[key] for side in changed if side[key] != base[key]]
            if values:
                same = all(value == values[0] for value in values)
                made[key] = copy.deepcopy(values[0] if same else self.settled(values, way))
        if way == "new" and self.r.random() < 0.3:
            self.maker.happens(made)
        return made

    def settled(self, values, way):
        return values[0] if way == "first" else values[-1] if way == "last" else self.r.choice(values)


MESSAGES = ["Go on", "Answer the comments", "Tighten", "Merge", "Fix", "Zurück", "Reword\n\nAt length.", "Change\n\nDecision: D-77"]


def place(things):
    """Path -> text; of two that want one path, the second stands beside."""
    files = {}
    for id in sorted(things):
        path = things[id]["path"]
        while path in files or any(path.startswith(other + "/") for other in files):
            path = path.removesuffix(".md") + "-2.md"
        files[path] = file_text(things[id])
    return files


def write(history, folder, seed):
    """Makes the repository; the commits' ids, in the order in which they were made."""
    r = random.Random(f"dates {seed}")
    git(folder, "init", "-q", "-b", "main", "--template=")
    marks = {commit: at + 1 for at, commit in enumerate(history.commits)}
    out = []
    for commit in history.commits:
        date = r.choice(DATES) + r.choice([0, 0, 60])
        zone = r.choice(["+0000", "-1200", "+1400", "+0530"])
        message = r.choice(MESSAGES).encode()
        out.append(f"commit refs/heads/c{marks[commit]}\nmark :{marks[commit]}\n")
        who = "someone <s@example.invalid>"
        out.append(f"author {who} {date} {zone}\ncommitter {who} {r.choice(DATES)} +0000\ndata {len(message)}\n{message.decode()}\n")
        for at, parent in enumerate(commit.parents):
            out.append(f"{'merge' if at else 'from'} :{marks[parent]}\n")
        out.append("deleteall\n")
        files = place(commit.things)
        if commit.has_project:
            files["slipmark.toml"] = SETTINGS
        for path, text in files.items():
            out.append(f"M 100644 inline {path}\ndata {len(text.encode())}\n{text}\n")
    out.append(f"reset refs/heads/main\nfrom :{marks[history.tip]}\n")
    kept = os.path.join(folder, ".git", "marks")
    git(folder, "fast-import", "--quiet", f"--export-marks={kept}", given="".join(out).encode())
    git(folder, "reset", "-q", "--hard", "main")
    with open(kept, encoding="utf-8") as file:
        ids = dict(line.split() for line in file)
    return [ids[f":{marks[commit]}"] for commit in history.commits]
