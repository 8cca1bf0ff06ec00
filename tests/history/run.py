"""Compares `changes` and `history` with an oracle of their own, on random histories.

  python3 tests/history/run.py --slipmark target/debug/slipmark [--count 200] [--seed 1] [--every 1] [--only SEED]

For each history several pairs of commits, forwards, backwards, side by side and in threes:
- the things that changed, and how: added, withdrawn, removed, revised, plan, moved, cosmetic; statements then and now; the way in which each
  criterion went, for limits that are numbers with a unit;
- the commits behind each change are those that touched the thing; a merge only where it did something itself;
- from B to A is the mirror image of from A to B; between a commit and itself lies nothing; from A to B to C comes to the same as from A to C;
- the history of an id: every commit that touched it, each with what it did, parents first; numbers count revisions.

Then the same on pairs of the example's commits, and on the public tables where `SLIPMARK_PUBLIC_DATA` names them: all pairs, or with `--every N`
neighbours, the first and the last commit with every other, and each Nth pair of the rest. First of all answers are harmed, and each harm must be found.
"""

import argparse
import collections
import copy
import functools
import importlib.util
import json
import multiprocessing
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile

import generate
from oracle import Repository, all_ids, directions, kind_of_change, looked_at_again, reworded

HERE = os.path.dirname(os.path.abspath(__file__))

MIRROR = {"added": "removed", "removed": "added", "tightened": "relaxed", "relaxed": "tightened"}
# What keeps the number of before.
KEEPS = {"moved", "cosmetic", "reaffirmed", "unreadable"}
# Histories whose answers are harmed, before any other.
HARMED = 20
# What stands in settings files, and is not compared here.
SETTINGS = {"parameter", "instrument", "project"}


def ask(program, folder, *args):
    command = [program, *args, "--format", "json", "--today", "2026-06-16"]
    done = subprocess.run(command, cwd=folder, env={**os.environ, **generate.GIT}, capture_output=True, timeout=120, check=False)
    try:
        return json.loads(done.stdout)
    except ValueError:
        raise RuntimeError(f"{' '.join(args)}: exit {done.returncode}, no JSON: {done.stderr.decode(errors='replace')[-400:]}") from None


class Found:
    """Disagreements, each with the sort that it is of, and how much was compared."""

    def __init__(self):
        self.said, self.compared = [], collections.Counter()

    def check(self, sort, good, said):
        self.compared[sort] += 1
        if not good:
            self.said.append((sort, said))


# ---- changes -----------------------------------------------------------------------------------------------------------


def compare_changes(found, repo, one, two, answer):
    where = f"changes {one[:8]}..{two[:8]}"
    then, now = repo.at(one), repo.at(two)
    hidden = {id for id, (path, _) in now.items() if repo.may_stand(one, id, path)}
    hidden |= {id for id, (path, _) in then.items() if repo.may_stand(two, id, path)}
    unsure = hidden | repo.leaning(one, two) | {maybe for commit in (one, two) for maybe in repo.broken(commit).values()}
    expected = {id: kind_of_change(then.get(id), now.get(id)) for id in {*then, *now} - unsure}
    expected = {id: word for id, word in expected.items() if word}
    theirs = {change["id"]: change for change in answer["changes"] if change["kind"] not in SETTINGS}
    said = {id: change["change"] for id, change in theirs.items() if id not in unsure}
    different = {id: (expected.get(id), said.get(id)) for id in expected.keys() | said.keys() if expected.get(id) != said.get(id)}
    found.check("ids", not different, f"{where}: oracle, program: {different}")
    for id in sorted(hidden):
        word = theirs.get(id, {}).get("change")
        found.check("unreadable", word not in ("added", "removed"), f"{where}: {id} is {word}, and a file that cannot be read may hold it")
    for id, change in theirs.items():
        if id not in unsure and said.get(id) == expected.get(id):
            compare_change(found, repo, (one, two), change, then.get(id), now.get(id), f"{where}: {id}")
    ours = {path for commit in (one, two) for path in repo.broken(commit)}
    inside = {path for commit in repo.between(one, two) for path in repo.unread(commit)}
    listed = {entry["path"] for entry in answer["unreadable"]}
    found.check("unreadable", ours <= listed <= ours | inside, f"{where}: unreadable: oracle {sorted(ours)} to {sorted(inside)}, program {sorted(listed)}")
    for commit in repo.ancestors[two] - repo.ancestors[one] if one in repo.ancestors[two] else []:
        before = {blob for parent in repo.parents[commit] for blob in repo.trees[parent].values()}
        for path in repo.broken(commit):
            if repo.trees[commit][path] not in before:
                found.check("unreadable", path in listed, f"{where}: {path} cannot be read at {commit[:8]}, and is not told")


def compare_change(found, repo, ends, change, then, now, where):
    old, new = (version and version[1] for version in (then, now))
    if change["kind"] == "requirement":
        pair = change["statement"]
        if old and new and not reworded(old, new):
            found.check("statement", pair is None, f"{where}: reads the same, but is told: {pair}")
        else:
            wanted = {"from": old and old.statement, "to": new and new.statement}
            found.check("statement", pair == wanted, f"{where}: statement: oracle {wanted}, program {pair}")
        ours = {name: word for name, word in directions(old, new).items() if word != "?"}
        theirs = {criterion["name"]: criterion["direction"] for criterion in change["criteria"]}
        unsure = {name for name, word in directions(old, new).items() if word == "?"}
        good = ours == {name: word for name, word in theirs.items() if name not in unsure}
        found.check("criteria", good, f"{where}: criteria: oracle {ours}, program {theirs}")
    found.check("reaffirmed", change["reaffirmed"] == looked_at_again(then, now), f"{where}: looked at again: {change['reaffirmed']}")
    path = {"from": then and then[0], "to": now and now[0]}
    wanted = {"from": None, "to": None} if path["from"] == path["to"] else path
    found.check("path", change["path"] == wanted, f"{where}: path: oracle {wanted}, program {change['path']}")
    attribution(found, repo, ends, change, path["from"] != path["to"], where)


def attribution(found, repo, ends, change, elsewhere, where):
    inside = repo.between(*ends)
    touched = {commit: repo.touched(commit, change["id"]) for commit in inside}
    must = {commit for commit, word in touched.items() if word == "yes" or (word == "moved" and change["change"] == "moved")}
    may = {commit for commit, word in touched.items() if word in ("may", "moves") or (word == "moved" and elsewhere)}
    listed = [commit["oid"] for commit in change["commits"]]
    good = must <= set(listed) <= must | may and len(listed) == len(set(listed))
    short = lambda commits: sorted(f"{commit[:8]}{'m' if len(repo.parents.get(commit, [])) > 1 else ''}" for commit in commits)
    found.check("commits", good, f"{where}: {change['change']}: commits: missing {short(must - set(listed))}, too many {short(set(listed) - must - may)}")
    place = {commit: at for at, commit in enumerate(listed)}
    upside = [(a, b) for a in listed for b in listed if a != b and a in repo.ancestors.get(b, ()) and place[a] > place[b]]
    found.check("commits", not upside, f"{where}: commits are not in their order")


def mirrored(answer):
    """What the answer to the opposite question must be."""
    out = {}
    for change in answer["changes"]:
        word = MIRROR.get(change["change"], change["change"])
        turn = lambda pair: pair and (pair["to"], pair["from"])
        criteria = sorted((c["name"], MIRROR.get(c["direction"], c["direction"])) for c in change["criteria"])
        out[change["id"]] = (word, turn(change["statement"]), turn(change["path"]), criteria, sorted(c["oid"] for c in change["commits"]))
    return out


def as_told(answer):
    out = {}
    for change in answer["changes"]:
        pair = lambda one: one and (one["from"], one["to"])
        criteria = sorted((c["name"], c["direction"]) for c in change["criteria"])
        out[change["id"]] = (change["change"], pair(change["statement"]), pair(change["path"]), criteria, sorted(c["oid"] for c in change["commits"]))
    return out


def mirrors(found, forth, back, where):
    one, two = mirrored(forth), as_told(back)
    # To withdraw and to take that back are a word each.
    for id in {id for id in one.keys() & two.keys() if "withdrawn" in (one[id][0], two[id][0])}:
        one[id], two[id] = one[id][1:], two[id][1:]
    different = {id: (one.get(id), two.get(id)) for id in one.keys() | two.keys() if one.get(id) != two.get(id)}
    found.check("mirror", not different, f"{where}: not the mirror image: {different}")


def composes(found, repo, ends, answers, where):
    """What the answers make of the first commit's things, step by step and at once, must be the last one's."""
    one, two, three = ends
    if any(repo.broken(commit) for commit in ends):
        return

    def applied(start, *steps):
        state = {id: (path, thing.statement if thing.kind == "requirement" else "") for id, (path, thing) in start.items()}
        for step in steps:
            for change in step["changes"]:
                if change["kind"] in SETTINGS:
                    continue
                path, said = state.get(change["id"], (None, ""))
                if change["path"]["from"] or change["path"]["to"]:
                    path = change["path"]["to"]
                if change["statement"]:
                    said = change["statement"]["to"] or ""
                state[change["id"]] = (path, said)
        return {id: (path, " ".join(said.replace("*", "").split())) for id, (path, said) in state.items() if path}

    first, second, whole = answers
    steps, once, end = applied(repo.at(one), first, second), applied(repo.at(one), whole), applied(repo.at(three))
    found.check("composes", steps == once == end, f"{where}: steps {sorted(steps.items() ^ end.items())}, at once {sorted(once.items() ^ end.items())}")
    ids = lambda answer: {change["id"] for change in answer["changes"]}
    found.check("composes", ids(whole) <= ids(first) | ids(second), f"{where}: {ids(whole) - ids(first) - ids(second)} in the whole alone")
    more = (ids(first) ^ ids(second)) - ids(whole)
    found.check("composes", not more, f"{where}: {more} in one of the steps, and not in the whole")


# ---- history -----------------------------------------------------------------------------------------------------------


def compare_history(found, repo, tip, answer, replaced=True):
    id = answer["id"]
    where = f"history {id}"
    told = answer["revisions"]
    oids = [entry["oid"] for entry in told]
    found.check("history order", len(oids) == len(set(oids)), f"{where}: a commit twice")
    upside = [(a, b) for at, a in enumerate(oids) for b in oids[at + 1 :] if b in repo.ancestors[a]]
    found.check("history order", not upside, f"{where}: a commit before its parent: {upside[:2]}")
    inside = repo.ancestors[tip]
    touched = {commit: repo.touched(commit, id) for commit in inside}
    unsure = {commit for commit in inside if cannot_tell(repo, commit, id)}
    lost = {commit for commit in inside if becomes_unreadable(repo, commit, id)}
    must = lost | {commit for commit, word in touched.items() if word == "yes" or (word == "moved" and commit not in unsure)}
    may = unsure | {commit for commit, word in touched.items() if word in ("may", "moves")}
    missing, more = must - set(oids), set(oids) - must - may
    found.check("history commits", not missing and not more, f"{where}: missing {sorted(c[:8] for c in missing)}, too many {sorted(c[:8] for c in more)}")
    words = {entry["oid"]: entry["change"] for entry in told}
    for commit in sorted(lost):
        found.check("history unreadable", words.get(commit) == "unreadable", f"{where}: unreadable at {commit[:8]}, told as {words.get(commit)}")
    number = 1
    for at, entry in enumerate(told):
        number += at > 0 and entry["change"] not in KEEPS
        found.check("history numbers", entry["number"] == number, f"{where}: {entry['oid'][:8]} is number {entry['number']}, counted {number}")
        commit = entry["oid"]
        if commit in repo.parents and len(repo.parents[commit]) < 2 and commit in must - unsure:
            parents = repo.parents[commit]
            both = repo.things[parents[0]].get(id) if parents else None, repo.things[commit].get(id)
            change = "reaffirmed" if looked_at_again(*both) else kind_of_change(*both)
            found.check("history changes", entry["change"] == change, f"{where}: {commit[:8]}: oracle {change}, program {entry['change']}")
        version = repo.things[commit].get(id)
        if repo.version(commit, id) != "hidden":
            said = version[1].statement if version and version[1].kind == "requirement" else None
            found.check("history statements", entry["statement"] == said, f"{where}: {commit[:8]}: oracle {said!r}, program {entry['statement']!r}")
    newest = repo.things[tip].get(id)
    if replaced and newest and newest[1].keys.get("replaces") in set(all_ids(repo)):
        inner = {thing["id"]: thing for thing in answer["replaces"]}
        old = newest[1].keys["replaces"]
        found.check("history replaces", old in inner, f"{where}: replaces {old}, told: {sorted(inner)}")
        if old in inner:
            compare_history(found, repo, tip, inner[old], replaced=False)


def becomes_unreadable(repo, commit, id):
    """Whether a commit of one line of work made unreadable what could be read before it."""
    then = repo.things[repo.parents[commit][0]].get(id) if len(repo.parents[commit]) == 1 else None
    return then is not None and id not in repo.things[commit] and any(maybe == id or path == then[0] for path, maybe in repo.unread(commit).items())


def cannot_tell(repo, commit, id):
    """Whether the thing cannot be read at the commit or just before it."""
    return any(repo.hidden(one, id) for one in (commit, *repo.parents[commit]))


# ---- running -----------------------------------------------------------------------------------------------------------


def pairs(r, repo, tip, commits):
    """Pairs and triples to ask about: along one line, and side by side."""
    inside = [commit for commit in commits if commit in repo.ancestors[tip]]
    along = sorted(r.sample(inside, min(3, len(inside))), key=repo.order.index)
    far = r.sample(commits, 2) if len(commits) > 1 else commits * 2
    return along, far


def one_history(program, folder, seed):
    found = Found()
    history = generate.History(seed)
    commits = generate.write(history, folder, seed)
    repo = Repository(folder)
    r = random.Random(f"asked {seed}")
    tip = commits[history.commits.index(history.tip)]
    commits = [commit for commit in commits if commit in repo.projects]
    along, far = pairs(r, repo, tip, commits)
    asked = {}

    def changes(one, two):
        if (one, two) not in asked:
            asked[one, two] = ask(program, folder, "changes", f"{one}..{two}")
            compare_changes(found, repo, one, two, asked[one, two])
        return asked[one, two]

    for one, two in [(commits[0], tip), tuple(far)]:
        mirrors(found, changes(one, two), changes(two, one), f"{one[:8]} and {two[:8]}")
    for parent in repo.parents[tip][:2]:
        changes(parent, tip)
    empty = changes(tip, tip)
    found.check("itself", not empty["changes"], f"{tip[:8]} and itself: {empty['changes'][:1]}")
    if len(along) == 3:
        steps = [changes(along[0], along[1]), changes(along[1], along[2]), changes(along[0], along[2])]
        composes(found, repo, along, steps, " ".join(commit[:8] for commit in along))
    ids = sorted({id for commit in repo.ancestors[tip] for id in repo.things[commit]})
    for id in r.sample(ids, min(4, len(ids))):
        compare_history(found, repo, tip, ask(program, folder, "history", id))
    return found


def work(job):
    """One history by its seed, or pairs of commits of a repository that is there."""
    program, seed, *more = job
    folder = more[0] if more else tempfile.mkdtemp(prefix="history-")
    try:
        found = known(program, folder, *more[1:]) if more else one_history(program, folder, seed)
        return seed, found.compared, found.said
    except RuntimeError as error:
        return seed, collections.Counter(), [("no answer", str(error))]
    finally:
        if not more:
            shutil.rmtree(folder, ignore_errors=True)


@functools.cache
def opened(folder):
    return Repository(folder)


def known(program, folder, one, others, ids):
    """One commit with each of the others, every fifth both ways, and the histories of some things."""
    found, repo = Found(), opened(folder)
    for at, two in enumerate(others):
        forth = ask(program, folder, "changes", f"{one}..{two}")
        compare_changes(found, repo, one, two, forth)
        if at % 5 == 0:
            back = ask(program, folder, "changes", f"{two}..{one}")
            compare_changes(found, repo, two, one, back)
            mirrors(found, forth, back, f"{one[:8]} and {two[:8]}")
    for id in ids:
        compare_history(found, repo, repo.order[-1], ask(program, folder, "history", id))
    return found


def shares(program, name, folder, every):
    """The work on a repository that is there: pairs of its commits, and the histories of its things, up to twenty."""
    repo = Repository(folder)
    ids = random.Random(name).sample(all_ids(repo), min(20, len(all_ids(repo))))
    last = len(repo.order) - 1
    for at, one in enumerate(repo.order):
        others = [two for two in range(at + 1, last + 1) if at == 0 or two in (at + 1, last) or (at + two) % every == 0]
        yield program, name, folder, one, [repo.order[two] for two in others], ids[at :: len(repo.order)]


def repositories(program, top):
    """(name, folder) of the example and of the public tables."""
    example = os.path.join(top, "example")
    subprocess.run([program, "demo", example], check=True, stdout=subprocess.DEVNULL)
    yield "example", example
    data = os.environ.get("SLIPMARK_PUBLIC_DATA")
    if not data or not os.path.isdir(data):
        print("skipped: the public tables: SLIPMARK_PUBLIC_DATA names no folder")
        return
    spec = importlib.util.spec_from_file_location("public", os.path.join(HERE, "..", "public", "run.py"))
    public = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(public)
    for name in sorted(name for name in os.listdir(data) if os.path.isdir(os.path.join(data, name))):
        paths = sorted(os.listdir(os.path.join(data, name)))
        folder = os.path.join(top, name)
        os.mkdir(folder)
        public.make_repository(folder, [(path, public.read(os.path.join(data, name, path))) for path in paths])
        yield name, folder


# ---- harm: what could not fail would show nothing ------------------------------------------------------------------------


def sure(repo, ends, change, word):
    """Commits of which it is beyond doubt whether they touched a thing."""
    return sorted(commit for commit in repo.between(*ends) if repo.touched(commit, change["id"]) == word)


def loses_a_commit(r, repo, ends, answer, change):
    certain = [commit for commit in change["commits"] if commit["oid"] in sure(repo, ends, change, "yes")]
    if certain:
        change["commits"].remove(r.choice(certain))
        return True


def names_another_commit(r, repo, ends, answer, change):
    others = sorted(set(sure(repo, ends, change, "no")) - {commit["oid"] for commit in change["commits"]})
    if others:
        change["commits"].append({**change["commits"][0], "oid": r.choice(others)} if change["commits"] else {"oid": r.choice(others)})
        return True


def forgets_a_change(r, repo, ends, answer, change):
    answer["changes"].remove(change)
    return True


def makes_one_up(r, repo, ends, answer, change):
    answer["changes"].append({**change, "id": "R-99"})
    return True


def another_word(r, repo, ends, answer, change):
    change["change"] = r.choice(sorted({"added", "withdrawn", "removed", "revised", "plan", "moved", "cosmetic"} - {change["change"]}))
    return True


def another_direction(r, repo, ends, answer, change):
    if change["criteria"]:
        criterion = r.choice(change["criteria"])
        criterion["direction"] = r.choice(sorted({"tightened", "relaxed", "restated", "changed", "added", "removed"} - {criterion["direction"]}))
        return True


def another_statement(r, repo, ends, answer, change):
    if change["statement"]:
        side = r.choice([side for side in ("from", "to") if change["statement"][side]])
        change["statement"][side] += " Or not."
        return True


def another_path(r, repo, ends, answer, change):
    change["path"] = {"from": change["path"]["to"], "to": "elsewhere.md"}
    return True


def silent_about_a_file(r, repo, ends, answer, change):
    if any(repo.broken(commit) for commit in ends):
        answer["unreadable"] = []
        return True


HARMS = [loses_a_commit, names_another_commit, forgets_a_change, makes_one_up, another_word, another_direction, another_statement, another_path,
         silent_about_a_file]  # fmt: skip


def loses_a_revision(r, told):
    told.pop(r.randrange(len(told)))


def counts_wrong(r, told):
    r.choice(told)["number"] += 1


def turns_about(r, told):
    told.reverse()


def reads_otherwise(r, told):
    r.choice(told)["statement"] = "It may."


OF_HISTORY = [loses_a_revision, counts_wrong, turns_about, reads_otherwise]


def harm(job):
    """Harms answers on one history: harm -> (tried, found)."""
    program, seed = job
    folder = tempfile.mkdtemp(prefix="history-")
    tried, seen, r = collections.Counter(), collections.Counter(), random.Random(f"harm {seed}")
    try:
        history = generate.History(seed)
        commits = generate.write(history, folder, seed)
        repo = Repository(folder)
        tip = commits[history.commits.index(history.tip)]
        ends = next(commit for commit in commits if commit in repo.projects), tip
        answer = ask(program, folder, "changes", f"{ends[0]}..{ends[1]}")
        unsure = {maybe for commit in ends for maybe in repo.broken(commit).values()}
        faults = len(examined(compare_changes, repo, *ends, answer))
        for one in HARMS:
            harmed = copy.deepcopy(answer)
            able = [change for change in harmed["changes"] if change["kind"] not in SETTINGS and change["id"] not in unsure]
            if able and one(r, repo, ends, harmed, r.choice(able)):
                tried[one.__name__] += 1
                seen[one.__name__] += len(examined(compare_changes, repo, *ends, harmed)) > faults
        for id in sorted(repo.at(tip)):
            if any(cannot_tell(repo, commit, id) for commit in repo.ancestors[tip]):
                continue
            answer = ask(program, folder, "history", id)
            if any(repo.touched(entry["oid"], id) != "yes" for entry in answer["revisions"]) or len(answer["revisions"]) < 2:
                continue
            faults = len(examined(compare_history, repo, tip, answer))
            for one in OF_HISTORY if repo.at(tip)[id][1].kind == "requirement" else OF_HISTORY[:3]:
                harmed = copy.deepcopy(answer)
                one(r, harmed["revisions"])
                tried[one.__name__] += 1
                seen[one.__name__] += len(examined(compare_history, repo, tip, harmed)) > faults
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    return tried, seen


def examined(compare, repo, *args):
    found = Found()
    compare(found, repo, *args)
    return found.said


def finds_harm(pool, program, count):
    tried, seen = collections.Counter(), collections.Counter()
    for more, of_these in pool.imap(harm, [(program, seed) for seed in range(-count, 0)]):
        tried += more
        seen += of_these
    deaf = [name for name in (one.__name__ for one in HARMS + OF_HISTORY) if not tried[name] or seen[name] < tried[name]]
    for name in deaf:
        print(f"FAILED: harm passes: {name}: {tried[name]} tried, {seen[name]} found")
    print(f"  {tried.total()} answers harmed in {len(HARMS) + len(OF_HISTORY)} ways, {seen.total()} found out")
    return not deaf


# ---- all of it -------------------------------------------------------------------------------------------------------------


def main():
    parser = argparse.ArgumentParser(description="compare changes and history with an oracle on random histories")
    parser.add_argument("--slipmark", required=True)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--every", type=int, default=1, help="of pairs of commits of the example and the tables, each Nth (default: all)")
    parser.add_argument("--only", type=int, help="this seed alone, and leave the repository for a look")
    parser.add_argument("--show", type=int, default=3, help="how many disagreements of each sort to print")
    args = parser.parse_args()
    program = os.path.abspath(args.slipmark)
    if args.only is not None:
        folder = tempfile.mkdtemp(prefix="history-")
        found = one_history(program, folder, args.only)
        print("\n".join(f"{sort}: {said}" for sort, said in found.said))
        print(f"left in {folder}")
        return 1 if found.said else 0
    compared, bad = collections.Counter(), collections.defaultdict(list)
    top = tempfile.mkdtemp(prefix="history-")
    try:
        with multiprocessing.Pool((os.cpu_count() or 2) + 1) as pool:
            if not finds_harm(pool, program, HARMED):
                return 1
            jobs = [(program, seed) for seed in range(args.seed, args.seed + args.count)]
            jobs += [share for name, folder in repositories(program, top) for share in shares(program, name, folder, args.every)]
            for seed, counted, said in pool.imap(work, jobs):
                compared += counted
                for sort, what in said:
                    bad[sort].append((seed, what))
    finally:
        shutil.rmtree(top, ignore_errors=True)
    for sort, many in bad.items():
        for seed, what in many[: args.show]:
            print(f"FAILED: {sort}: {f'seed {seed}' if isinstance(seed, int) else seed}: {what}")
    for sort in sorted(compared):
        print(f"  {sort:20} {compared[sort]:>7} compared, {len(bad[sort]):>4} disagree")
    failed = sum(map(len, bad.values()))
    print(f"{compared.total() - failed} passed, {failed} failed, 0 skipped")
    return 1 if failed or not compared else 0


if __name__ == "__main__":
    sys.exit(main())
