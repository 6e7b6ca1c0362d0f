"""What the engine and the store cost beside the swings themselves. Not a test: it prints what docs/scale.md says.

  overhead.py [SWINGS [ROUNDS [NODES…]]]   run by `bash tests/cluster/run.sh --overhead`; root and cgroup version 1 (cpuacct) are needed

Rounds of the same clips by turns, so that what else the machine does evens out: `folder` with two workers, and plan, send and run over
TLS on each number of nodes of one core. Processor time is that of all processes, engine, agents and drivers' starts included, save the S3
server's, which stands for somebody else's.
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

    cluster = Cluster(initialize_head=True, head_node_args={"num_cpus": 0, "include_dashboard": False})
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

    def by_engine():
        name = f"night{next(names)}"
        client.create_bucket(Bucket=name)
        store = ["--store", f"s3://{name}/n", "--endpoint", endpoint]
        plan, before = work / f"{name}.json", log.stat().st_size
        plan.write_text(run(accounts["plan"], PROGRAM, "folder", "--plan", "--json", "--quiet", bay.clips, "--out", work / name))
        run(accounts["send"], sys.executable, DRIVER, "send", *store, "--clips", bay.clips, plan)
        run(accounts["drive"], sys.executable, DRIVER, "run", *store, "--address", cluster.address, "--program", PROGRAM, "--scratch", work / "scratch",
            "--table", work / name, "--quiet")
        asked = re.findall(rb'"(GET|PUT|HEAD|POST|DELETE) ', log.read_bytes()[before:])
        keys = [o["Key"] for o in client.list_objects_v2(Bucket=name, Prefix="n/outcomes/")["Contents"]]
        inside = sum(json.loads(client.get_object(Bucket=name, Key=k)["Body"].read())["seconds"] for k in keys)
        return f"; requests {len(asked)}; wall inside the swings {inside:.1f} s"

    bare = Night("folder, two workers", by_folder, {"folder": bare_account})
    engines = {n: Night(f"engine, nodes of one core: {n}", by_engine, accounts) for n in sizes}
    resize(sizes[0])
    time.sleep(10)
    idle = accounts["nodes"].seconds()
    time.sleep(20)
    print(f"head and {sizes[0]} nodes that do nothing: {(accounts['nodes'].seconds() - idle) / 20:.3f} of a core", flush=True)
    for _ in range(rounds):
        bare.round(swings)
        for n, engine in engines.items():
            resize(n)
            engine.round(swings)
    bare.total(bare)
    for engine in engines.values():
        engine.total(bare)
    cluster.shutdown()
    server.kill()


if __name__ == "__main__":
    main()
