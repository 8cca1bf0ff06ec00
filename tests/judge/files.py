"""Writes a project (plain data) as files: slipmark.toml, Markdown with front matter, parameters, instruments, attachments."""

import copy
import datetime
import hashlib
import json
import os
import posixpath
import re
import shutil
import zlib
from decimal import Decimal

import canon

AUTO = "AUTO"  # a mark, hash or seal to be computed when the project is finished

# Tables written inline, as people write them.
INLINE = {"applies_to", "revision"}
INLINE_INSIDE = {"at", "results", "accepts"}


def finish(project):
    """A copy with every AUTO replaced: marks, then hashes of attachments, then seals (which cover both)."""
    p = copy.deepcopy(project)
    requirements = {t["id"]: t for t in p["things"] if t["kind"] == "requirement"}
    marks = {i: canon.mark(t, p["parameters"]) for i, t in requirements.items()}

    def set_mark(table, req_id):
        if table.get("mark") == AUTO:
            table["mark"] = marks[req_id]

    for t in p["things"]:
        for req_id, v in t.get("verifies", {}).items():
            set_mark(v, req_id)
            for again in v.get("reaffirmed", []):
                set_mark(again, req_id)
        if t["kind"] == "waiver":
            set_mark(t, t["requirement"])
        if "by_children" in t:
            set_mark(t["by_children"], t["id"])
        for d in t.get("data", []):
            if d["sha256"] == AUTO:
                path = posixpath.join(posixpath.dirname(t["_path"]), d["file"])
                d["sha256"] = hashlib.sha256(p["attachments"].get(path, b"")).hexdigest()
    for t in p["things"]:
        if t.get("seal") == AUTO:
            t["seal"] = canon.seal({**t, **t.get("_signed", {})})  # with what has changed since as it was
    return p


def scalar(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, Decimal)):
        return str(value)
    if isinstance(value, (datetime.date, datetime.datetime)):
        return value.isoformat()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, list):
        return "[" + ", ".join(scalar(v) for v in value) + "]"
    return "{ " + ", ".join(f"{key(k)} = {scalar(v)}" for k, v in value.items()) + " }" if value else "{}"


def key(k):
    return k if re.fullmatch(r"[A-Za-z0-9_-]+", k) else json.dumps(k)


def toml(table, path=(), inline_lists=False):
    """A table as TOML: plain keys first, then its sub-tables under headers."""
    lines, later = [], []
    for k, v in table.items():
        if k.startswith("_"):
            continue
        dicts = isinstance(v, list) and v and all(isinstance(x, dict) for x in v)
        inline = k in INLINE or (path and path[-1] in INLINE_INSIDE) or (dicts and inline_lists)
        if inline and not (dicts and k == "serials"):
            lines.append(f"{key(k)} = {scalar(v)}")
        elif isinstance(v, dict) or dicts:
            later.append((k, v))
        else:
            lines.append(f"{key(k)} = {scalar(v)}")
    for k, v in later:
        here = (*path, k)
        name = ".".join(key(x) for x in here)
        for one in v if isinstance(v, list) else [v]:
            lines.append("")
            lines.append(f"[[{name}]]" if isinstance(v, list) else f"[{name}]")
            lines.append(toml(one, here, inline_lists))
    return "\n".join(lines)


def texts(project):
    """{path: bytes} of every file of a finished project."""
    out = {"slipmark.toml": toml(project["config"])}
    if project["parameters"]:
        out["parameters.toml"] = toml(project["parameters"])
    if project["instruments"]:
        out["instruments.toml"] = toml(project["instruments"])
    for t in project["things"]:
        inline_lists = zlib.crc32(t["id"].encode()) % 2 == 0
        out[t["_path"]] = "+++\n" + toml(t, (), inline_lists) + "\n+++\n" + t["_body"]
    found = {path: (text + "\n").encode() for path, text in out.items()}
    found.update(project["attachments"])
    return found


def write(project, folder):
    """Replace whatever is in the folder, except git's own, by the project's files."""
    for name in os.listdir(folder):
        if name != ".git":
            path = os.path.join(folder, name)
            shutil.rmtree(path) if os.path.isdir(path) else os.remove(path)
    for path, data in texts(project).items():
        full = os.path.join(folder, path)
        os.makedirs(os.path.dirname(full), exist_ok=True)
        with open(full, "wb") as f:
            f.write(data)
