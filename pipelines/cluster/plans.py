"""Plans as `quarterturn folder --plan --json` writes them (docs/plan.schema.json)."""

import base64
import glob
import hashlib
import json
import os
from dataclasses import dataclass

SCHEMA = "quarterturn.plan/1"


class NotAPlan(ValueError):
    """A file that is no plan of the version that is read here."""


@dataclass
class Plan:
    """`label` has no name in it where the plan stands in the store."""

    label: str
    common: dict
    tasks: list
    unreadable: list

    def alone(self, task):
        """The plan of one task."""
        return {**self.common, "swings": [task]}


def parse(label, data):
    try:
        plan = json.loads(data)
        if plan["schema"] != SCHEMA:
            raise NotAPlan(f"{label}: schema {plan['schema']!r}, and {SCHEMA!r} is read here. Plan again.")
        tasks, unreadable = plan.pop("swings"), plan.pop("unreadable")
    except (ValueError, KeyError, TypeError) as e:
        if isinstance(e, NotAPlan):
            raise
        raise NotAPlan(f"{label}: not a plan ({e}). Write it with `quarterturn folder --plan --json`.") from e
    return Plan(label, {**plan, "unreadable": [], "skipped": [], "notes": []}, tasks, unreadable)


def without(data, clips):
    """A plan's text without the tasks that show one of these clips; the same text where it has none."""
    whole = json.loads(data)
    kept = [t for t in whole["swings"] if not any(c["sha256"] in clips for c in t["clips"])]
    return data if len(kept) == len(whole["swings"]) else json.dumps({**whole, "swings": kept}).encode()


def plan_key(data):
    return f"plans/{hashlib.sha256(data).hexdigest()}.json"


def from_store(store):
    return [parse(key.rsplit("/", 1)[1].removesuffix(".json"), store.read(key)) for key in store.keys("plans")]


def from_files(patterns):
    paths = [p for pattern in patterns for p in (sorted(glob.glob(pattern)) or [pattern])]
    plans = []
    for path in paths:
        with open(path, "rb") as f:
            plans.append(parse(os.path.splitext(os.path.basename(path))[0], f.read()))
    return plans


def relative(clip):
    """A clip's path below its folder, as the system writes it."""
    path = clip["path"]
    return path if isinstance(path, str) else os.fsdecode(base64.b64decode(path["base64"]))


def below(folder, clip):
    """The clip's place in `folder`; refuses a path that leads out of it."""
    parts = relative(clip).split("/")
    if any(p in ("", ".", "..") for p in parts):
        raise NotAPlan(f"{relative(clip)!r} leads out of the folder of clips.")
    return os.path.join(folder, *parts)


def distinct(plans):
    """(plan, task), each fingerprint once: two tasks of one fingerprint are one piece of work."""
    seen = set()
    for plan in plans:
        for task in plan.tasks:
            if task["fingerprint"] not in seen:
                seen.add(task["fingerprint"])
                yield plan, task
