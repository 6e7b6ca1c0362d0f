#!/usr/bin/env python3
"""Many swings on many machines: plans of `quarterturn folder --plan --json`, measured by an engine.

  drive.py send   --store URL --clips DIR PLAN   a bay's clips, then its plan, into the store
  drive.py run    --store URL --table FILE       measure what is not measured yet; run again to go on
  drive.py table  --store URL --table FILE       the table alone
  drive.py fetch  --store URL --out DIR PLAN     results of a plan, for `quarterturn folder --measured DIR`
  drive.py forget --store URL --player NAME      a player's clips, results and plans out of the store

URL is s3://BUCKET/PREFIX or a shared folder. Exit codes: 0 done; 1 nothing could be measured; 2 wrong usage; 3 some
gave no result, reasons in the table; 75 some are to be tried again, run again; 130 stopped by you.
"""

import argparse
import hashlib
import io
import json
import os
import signal
import sys
import tempfile
import zipfile

from tqdm import tqdm

import forget
import plans
import rows
import store as stores
from ahead import ahead

DONE, NOTHING, USAGE, SOME, AGAIN, STOPPED = 0, 1, 2, 3, 75, 130
NO_FAILURE = ("measured", "no_swing")


def arguments():
    top = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    commands = top.add_subparsers(dest="command", required=True)
    for name in ("send", "run", "table", "fetch", "forget"):
        sub = commands.add_parser(name)
        sub.add_argument("--store", required=True, help="s3://BUCKET/PREFIX or a shared folder")
        sub.add_argument("--endpoint", help="address of an S3 store that is not the default one, https")
        if name != "forget":
            sub.add_argument("plan", nargs="*", help="plans; for run, table and fetch those in the store where none is named")
        if name == "send":
            sub.add_argument("--clips", required=True, help="the plan's folder of clips")
        if name in ("run", "table"):
            sub.add_argument("--table", required=True, help="FILE.parquet and FILE.csv are written")
        if name == "run":
            sub.add_argument("--address", help="of the cluster (HOST:PORT); without it this machine alone")
            sub.add_argument("--program", default="quarterturn", help="the program on every machine")
            sub.add_argument("--scratch", default=os.path.join(tempfile.gettempdir(), "quarterturn-work"))
            sub.add_argument("--plain-network", action="store_true", help="the machines' network is theirs alone")
            sub.add_argument("--quiet", action="store_true")
        if name == "fetch":
            sub.add_argument("--out", required=True)
        if name == "forget":
            sub.add_argument("--player", required=True)
    return top.parse_args()


def chosen(args, store):
    """The plans, without the swings of players who were forgotten."""
    found = plans.from_files(args.plan) if args.plan else plans.from_store(store)
    forgotten = store.forgotten()
    for plan in found:
        every = len(plan.tasks)
        plan.tasks = [t for t in plan.tasks if not any(c["sha256"] in forgotten for c in t["clips"])]
        if len(plan.tasks) < every:
            print(f"{plan.label}: {every - len(plan.tasks)} swings of forgotten players are left out", file=sys.stderr)
    return found


def send(args, store):
    """Each clip once under its content; the plan last, so that a plan in the store has its clips there."""
    def one(clip):
        path = plans.below(args.clips, clip)
        key = stores.clip_key(clip["sha256"])
        if store.exists(key):
            return
        with open(path, "rb") as f:
            data = f.read()
        if hashlib.sha256(data).hexdigest() != clip["sha256"]:
            raise plans.NotAPlan(f"{path}: changed since it was planned. Plan again.")
        store.put_once(key, data)

    forgotten = store.forgotten()
    for path in args.plan:
        with open(path, "rb") as f:
            data = f.read()
        plans.parse(path, data)
        data = plans.without(data, forgotten)
        plan = plans.parse(path, data)
        clips = {c["sha256"]: c for task in plan.tasks for c in task["clips"]}
        for _ in tqdm(ahead(clips.values(), one), total=len(clips), unit="clip", desc="sent", **bar()):
            pass
        store.put_once(plans.plan_key(data), data)
    return DONE


def bar():
    """A moving bar on a terminal, a line now and then elsewhere; both with rate and time left."""
    return {"file": sys.stderr, "mininterval": 0.5 if sys.stderr.isatty() else 10.0}


def run(args, store):
    import engine
    import swing

    work = list(plans.distinct(chosen(args, store)))
    standing = set(store.keys("outcomes"))
    todo = [(p, t) for p, t in work if stores.outcome_key(t) not in standing]
    left = {}
    retry = 0
    if todo:
        engine.connect(args.address, args.plain_network)
        settings = swing.Settings(args.store, args.endpoint, args.program, args.scratch)
        line = tqdm(total=len(work), initial=len(work) - len(todo), unit="swing", desc="measured", disable=args.quiet, **bar())
        for plan, task, answer in engine.answers(todo, settings):
            if isinstance(answer, swing.Crashed):
                store.put_once(stores.outcome_key(task), crashed(plan, task, str(answer)))
            elif isinstance(answer, Exception):
                retry += 1
                left[task["fingerprint"]] = first_line(answer)
                tqdm.write(f"to be tried again: {task['name']}: {first_line(answer)}", file=sys.stderr)
            line.update()
        line.close()
    # Chosen anew: whoever asked to be forgotten meanwhile is in no table.
    return told(rows.write(args.table, chosen(args, store), store, left), retry)


def crashed(plan, task, why):
    """An outcome for a clip that the program could not even refuse, in the program's own form."""
    cells = dict.fromkeys(("date_utc", "kind", "views", "warnings"), "")
    cells |= {"name": task["name"], "player": task["player"] or "", "outcome": "failed", "reason": why}
    return json.dumps(
        {
            "schema": "quarterturn.outcome/1",
            "fingerprint": task["fingerprint"],
            "tool_version": plan.common["tool_version"],
            "seconds": 0.0,
            "outcome": "failed",
            "error": why,
            "row": cells,
        }
    ).encode()


def first_line(error):
    text = str(error).strip()
    return text.splitlines()[0] if text else type(error).__name__


def told(written, retry):
    counts, nothing = written
    for name, outcome, reason in nothing:
        print(f"{outcome}: {name}: {reason}")
    print(", ".join(f"{n} {outcome}" for outcome, n in sorted(counts.items())) or "no swings")
    if retry:
        return AGAIN
    if not counts.get("measured"):
        return NOTHING
    return DONE if all(outcome in NO_FAILURE for outcome in counts) else SOME


def table(args, store):
    return told(rows.write(args.table, chosen(args, store), store), 0)


def fetch(args, store):
    """Each answer into a folder named by its fingerprint, whole or not at all."""
    os.makedirs(args.out, exist_ok=True)
    for _, task in tqdm(list(plans.distinct(chosen(args, store))), unit="swing", desc="fetched", **bar()):
        goal = os.path.join(args.out, task["fingerprint"])
        outcome = None if os.path.exists(goal) else store.read(stores.outcome_key(task))
        if outcome is None:
            continue
        with tempfile.TemporaryDirectory(dir=args.out, prefix=".part-") as part:
            made = os.path.join(part, "made")
            os.mkdir(made, 0o755)
            if json.loads(outcome)["outcome"] == "measured":
                with zipfile.ZipFile(io.BytesIO(store.read(stores.result_key(task)))) as z:
                    z.extractall(made)
            with open(os.path.join(made, "outcome.json"), "wb") as f:
                f.write(outcome)
            os.rename(made, goal)
    return DONE


def forgotten(args, store):
    removed, renewed = forget.forget(store, args.player)
    print(f"{removed} objects removed, {renewed} plans written anew without the player.")
    print("Not reached: clips and results in the bay's own folders, fetched results, tables, plans outside the store,")
    print("copies that the store's owner makes (replicas, backups).")
    return DONE if removed else NOTHING


def main():
    args = arguments()
    # Asked to end by the system or by whoever runs many jobs: the same as Ctrl-C.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    does = {"send": send, "run": run, "table": table, "fetch": fetch, "forget": forgotten}
    try:
        return does[args.command](args, stores.Store(args.store, args.endpoint))
    except KeyboardInterrupt:
        return STOPPED
    except (ValueError, OSError) as e:
        print(f"drive.py: {e}", file=sys.stderr)
        return USAGE if isinstance(e, ValueError) else AGAIN


if __name__ == "__main__":
    sys.exit(main())
