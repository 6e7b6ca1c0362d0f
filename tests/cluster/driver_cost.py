"""What the driver itself costs a swing, for the arithmetic in docs/scale.md. Not a test: it prints. Run by `bash tests/cluster/run.sh --driver`.

The swings are left out: a task gives an outcome of the usual size at once, so that what remains is the driver's own work.
"""

import json
import os
import resource
import sys
import tempfile
import time
from pathlib import Path

from conftest import Bay

TASKS, PLAN_TASKS, WAITING = 2000, 20_000, 32_000


def spent(what, count, work):
    before, began = resource.getrusage(resource.RUSAGE_SELF), time.monotonic()
    got = work()
    after = resource.getrusage(resource.RUSAGE_SELF)
    processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(f"{what}: {1e3 * processor / count:.3f} ms of processor, {1e3 * (time.monotonic() - began) / count:.3f} ms wall each, {count}; "
          f"memory {after.ru_maxrss / 1024:.0f} MB", flush=True)
    return got


def main():
    import plans
    import rows
    import store as stores
    import swing

    work = Path(tempfile.mkdtemp(prefix="driver-"))
    bay = Bay(work, ["Student 1/swing1_face_on.mp4"])
    one = bay.tasks[0]
    row = {f"{e}_{m}_{p}": "12.3" for e in ("top", "impact") for m in ("pelvis", "thorax", "separation") for p in ("deg", "low", "high")}
    row |= {"name": one["name"], "warnings": "x" * 300, "outcome": "measured", "reason": ""}
    outcome = {"fingerprint": "", "outcome": "measured", "seconds": 10.0, "row": row}

    def many(count):
        return [{**one, "fingerprint": f"{i:024x}", "name": f"swing{i}"} for i in range(count)]

    text = json.dumps({**bay.plan, "swings": many(PLAN_TASKS)}).encode()
    print(f"plan: {len(text) / PLAN_TASKS:.0f} bytes a swing, {len(json.dumps({**bay.plan, 'swings': []}))} bytes besides")
    plan = spent("reading a plan", PLAN_TASKS, lambda: plans.parse("bay", text))

    import ray

    import engine

    os.environ["RAY_USAGE_STATS_ENABLED"] = "0"
    ray.init(num_cpus=2, include_dashboard=False, log_to_driver=False, object_store_memory=100 * 2**20)
    swing.do_swing = lambda common, task, settings: {**outcome, "fingerprint": task["fingerprint"]}
    engine.connect(None, True)
    settings = swing.Settings("s3://bucket/night", None, "quarterturn", "scratch")
    work_of = lambda count: [(plan, t) for t in plan.tasks[:count]]
    list(engine.answers(work_of(100), settings))
    spent("handing out a swing and taking its answer", TASKS, lambda: list(engine.answers(work_of(TASKS), settings)))

    idle = ray.remote(num_cpus=0, resources={"nowhere": 1})(lambda: 0)
    refs = [idle.remote() for _ in range(WAITING)]
    quick = ray.remote(num_cpus=0)(lambda: 0)
    ready = [quick.remote() for _ in range(engine.TAKEN)]
    ray.wait(ready, num_returns=len(ready))
    spent(f"one look at {WAITING} swings under way, {engine.TAKEN} of them ready", 5,
          lambda: [ray.wait(refs + ready, num_returns=engine.TAKEN, timeout=1.0) for _ in range(5)])
    ray.shutdown()

    store = stores.Store(str(work / "store"))
    for task in plan.tasks[:TASKS]:
        store.put_once(stores.outcome_key(task), json.dumps(outcome).encode())
    plan.tasks = plan.tasks[:TASKS]
    spent("a row of the table, from a folder", TASKS, lambda: rows.write(work / "table", [plan], store))
    spent("a key of a listing, from a folder", TASKS, lambda: store.keys("outcomes"))


if __name__ == "__main__":
    sys.exit(main())
