"""What the engine and the store cost beside the swings themselves. Not a test: it prints what docs/scale.md says.

  overhead.py [SWINGS [ROUNDS [NODES…]]]   run by `bash tests/cluster/run.sh --overhead`; root and cgroup version 1 (cpuacct) are needed
  overhead.py SWINGS ROUNDS 0              the head itself as one node of two cores, and the first part alone

Rounds of the same clips by turns, so that what else the machine does evens out: `folder` with two workers, and plan, send and run over
TLS on each number of nodes of one core. Processor time is that of all processes, engine, agents and drivers' starts included, save the S3
server's, which stands for somebody else's. Then nights whose program puts a result that was measured before in place of measuring: two lengths of
them tell what a night costs once from what a swing costs. Last, swings that wait instead of working, on one node, two and four: how
the engine keeps nodes busy, whatever cores this machine has.
"""

import atexit
import json
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from conftest import DRIVER, PROGRAM, Bay, add_node, certified, free_port, s3_server

# Swings of the nights that measure nothing, and rounds of them.
FEW, MANY, LIGHT_ROUNDS = 4, 64, 3
# Swings that wait, how long, and on how many nodes.
WAITING, WAIT_S, WAIT_NODES = 32, 4, (4, 2, 1)
CGROUPS = Path("/sys/fs/cgroup/cpuacct")


class Account:
    """Processor time of the processes that join it and of all that they start."""

    def __init__(self, name):
        self.folder = CGROUPS / f"quarterturn-{os.getpid()}-{name}"
        self.folder.mkdir()

    def join(self):
        (self.folder / "cgroup.procs").write_text(str(os.getpid()))

    def seconds(self):
        return int((self.folder / "cpuacct.usage").read_text()) / 1e9


def busy():
    """Seconds that the machine's cores were busy since it started (proc(5), /proc/stat; iowait is idle)."""
    user, nice, system, _, _, irq, soft, *_ = map(int, Path("/proc/stat").read_text().split("\n", 1)[0].split()[1:])
    return (user + nice + system + irq + soft) / os.sysconf("SC_CLK_TCK")


class Night:
    """One way of measuring the same clips, and what each round of it took."""

    def __init__(self, words, measure, accounts):
        self.words, self.measure, self.accounts, self.processor, self.wall = words, measure, accounts, [], []

    def round(self, swings):
        before, machine, began = {k: a.seconds() for k, a in self.accounts.items()}, busy(), time.monotonic()
        told = self.measure()
        wall = time.monotonic() - began
        took = {k: a.seconds() - before[k] for k, a in self.accounts.items()}
        self.processor.append(sum(took.values()) / swings)
        self.wall.append(wall / swings)
        parts = " ".join(f"{k} {v:.2f}" for k, v in took.items() if v > 0.005)
        print(f"{self.words}: {self.processor[-1]:.3f} s of processor a swing, {self.wall[-1]:.2f} s wall a swing; processor s: {parts}; others "
              f"kept {(busy() - machine - sum(took.values())) / wall:.2f} cores busy {told}", flush=True)

    def total(self, bare):
        mean, than = statistics.fmean(self.processor), statistics.fmean(bare.processor)
        print(f"{self.words}: mean {mean:.3f} s of processor a swing, {100 * (mean / than - 1):+.1f} % of `{bare.words}`; "
              f"wall {statistics.fmean(self.wall):.2f} s a swing")


def stand_in(path, made, outcome, seconds=0):
    """A program that puts what was made before in place of measuring."""
    path.write_text(f"""#!/bin/sh
# measure --plan PLAN --clips CLIPS --out OUT
sleep {seconds}
goal="$7/$(grep -o '"fingerprint": *"[0-9a-f]*"' "$3" | cut -d'"' -f4)"
mkdir -p "$7" && cp -r "{made}" "$goal" && cp "{outcome}" "$goal"
""")
    path.chmod(0o755)
    return path


def light(work, accounts, home, by_engine, resize, of_a_swing):
    """Start of a night and cost of each swing besides measuring, from nights of two lengths."""
    made = next(p for p in (work / "results0").iterdir() if (p / "swing.json").is_file())
    row = {"name": "a", "player": "", "outcome": "measured", "reason": "", "warnings": "x" * 300}
    (work / "outcome.json").write_text(json.dumps({"outcome": "measured", "row": row}))
    program = stand_in(work / "stand-in", made, work / "outcome.json")
    slow = stand_in(work / "slow", made, work / "outcome.json", WAIT_S)
    bays = {n: Bay(work / f"bay{n}", [f"swing{i:03}_face_on.mp4" for i in range(n)]) for n in (FEW, WAITING, MANY)}
    plan = json.dumps({**bays[FEW].plan, "swings": bays[FEW].tasks[:1]})
    (work / "one.json").write_text(plan)
    before = home.seconds()
    for i in range(20):
        subprocess.run([program, "measure", "--plan", work / "one.json", "--clips", "-", "--out", work / f"o{i}"], check=True)
    own = (home.seconds() - before) / 20
    resize(2)
    # The plan is `folder`'s own work too.
    counted = {k: a for k, a in accounts.items() if k != "plan"}
    nights = {n: Night(f"nothing measured, {n} swings", lambda bay=bay: by_engine(bay, program), counted) for n, bay in bays.items() if n != WAITING}
    for _ in range(LIGHT_ROUNDS):
        for n, night in nights.items():
            night.round(n)
    few, many = (statistics.fmean(nights[n].processor) * n for n in (FEW, MANY))
    each = (many - few) / (MANY - FEW) - own
    print(f"besides measuring: {each:.3f} s of processor a swing, {100 * each / of_a_swing:.1f} % of `folder`'s (the stand-in's own {own:.3f} s taken "
          f"off); {few - FEW * (each + own):.1f} s once a night")
    for n in WAIT_NODES:
        resize(n)
        began = time.monotonic()
        by_engine(bays[WAITING], slow)
        wall = time.monotonic() - began
        print(f"swings that wait {WAIT_S} s, nodes of one core: {n}: {WAITING} in {wall:.1f} s; the wait alone {WAITING * WAIT_S / n:.0f} s", flush=True)


def main():
    given = [int(a) for a in sys.argv[1:]]
    swings, rounds, sizes = (given + [12, 3][len(given):])[0], (given + [12, 3][len(given):])[1], given[2:] or [2, 1]
    work = Path(tempfile.mkdtemp(prefix="overhead-"))
    atexit.register(shutil.rmtree, work, ignore_errors=True)
    certificates, port = certified(work), free_port()
    log = work / "s3.log"
    server = s3_server(port, certificates, open(log, "wb"))
    import boto3

    endpoint = f"https://127.0.0.1:{port}"
    client = boto3.client("s3", endpoint_url=endpoint)
    bay = Bay(work / "bay", [f"swing{i:03}_face_on.mp4" for i in range(swings)])

    accounts = {k: Account(k) for k in ("nodes", "plan", "send", "drive")}
    home, bare_account = Account("home"), Account("folder")
    accounts["nodes"].join()
    from ray.cluster_utils import Cluster

    whole = sizes == [0]
    head = {"num_cpus": 2 if whole else 0, "memory": 3200 * 2**20, "object_store_memory": 160 * 2**20}
    cluster = Cluster(initialize_head=True, head_node_args={**head, "include_dashboard": False, "include_log_monitor": False})
    there = []
    home.join()

    def resize(count):
        accounts["nodes"].join()
        while len(there) < count:
            there.append(add_node(cluster))
        while len(there) > count:
            cluster.remove_node(there.pop())
        home.join()
        time.sleep(5)

    names = iter(range(1000))

    def run(account, *command):
        ended = subprocess.run([str(c) for c in command], preexec_fn=account.join, capture_output=True, text=True, check=False)
        if ended.returncode:
            raise SystemExit(f"{command}: {ended.returncode}\n{ended.stdout}\n{ended.stderr}")
        return ended.stdout

    def by_folder():
        run(bare_account, PROGRAM, "folder", bay.clips, "--out", work / f"results{next(names)}", "--jobs", "2", "--quiet")
        return ""

    def by_engine(bay=bay, program=PROGRAM):
        name = f"night{next(names)}"
        client.create_bucket(Bucket=name)
        store = ["--store", f"s3://{name}/n", "--endpoint", endpoint]
        plan, before = work / f"{name}.json", log.stat().st_size
        plan.write_text(run(accounts["plan"], PROGRAM, "folder", "--plan", "--json", "--quiet", bay.clips, "--out", work / name))
        run(accounts["send"], sys.executable, DRIVER, "send", *store, "--clips", bay.clips, plan)
        run(accounts["drive"], sys.executable, DRIVER, "run", *store, "--address", cluster.address, "--program", program, "--scratch", work / "scratch",
            "--table", work / name, "--quiet")
        asked = re.findall(rb'"(?:\x1b\[\d+m)?(GET|PUT|HEAD|POST|DELETE) ', log.read_bytes()[before:])
        return f"; {len(asked)} requests"

    bare = Night("folder, two workers", by_folder, {"folder": bare_account})
    engines = {n: Night(f"engine, {f'nodes of one core: {n}' if n else 'one node of two cores'}", by_engine, accounts) for n in sizes}
    resize(sizes[0])
    time.sleep(10)
    idle = accounts["nodes"].seconds()
    time.sleep(20)
    print(f"head and {sizes[0]} nodes beside it that do nothing: {(accounts['nodes'].seconds() - idle) / 20:.3f} of a core", flush=True)
    for _ in range(rounds):
        bare.round(swings)
        for n, engine in engines.items():
            resize(n)
            engine.round(swings)
    bare.total(bare)
    for engine in engines.values():
        engine.total(bare)
    if not whole:
        light(work, accounts, home, by_engine, resize, statistics.fmean(bare.processor))
    cluster.shutdown()
    server.kill()


if __name__ == "__main__":
    main()
