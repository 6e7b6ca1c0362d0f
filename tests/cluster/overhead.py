"""What the engine and the store cost beside the swings themselves. Not a test: it prints what docs/scale.md says.

  overhead.py [SWINGS [ROUNDS]]    run by `bash tests/cluster/run.sh --overhead`; root and cgroup version 1 (cpuacct) are needed

Interleaved rounds of the same clips: `folder` with two workers; plan, send and run on two nodes of one core each; on one of them.
"""

import itertools
import json
import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from conftest import DRIVER, PROGRAM, Bay, add_node, free_port, wait_for

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


def timed(command, *accounts):
    """Wall seconds, and processor seconds of each account; the command joins the first."""
    before = [a.seconds() for a in accounts]
    began = time.monotonic()
    ended = subprocess.run([str(c) for c in command], preexec_fn=accounts[0].join, capture_output=True, text=True, check=False)
    if ended.returncode:
        raise SystemExit(f"{command}: {ended.returncode}\n{ended.stdout}\n{ended.stderr}")
    return time.monotonic() - began, *(a.seconds() - b for a, b in zip(accounts, before))


def main():
    swings, rounds = (int(a) for a in (sys.argv[1:] + ["6", "3"][len(sys.argv) - 1 :]))
    work = Path(tempfile.mkdtemp(prefix="overhead-"))
    os.environ.update(AWS_ACCESS_KEY_ID="none", AWS_SECRET_ACCESS_KEY="none", AWS_DEFAULT_REGION="us-east-1", RAY_USAGE_STATS_ENABLED="0")
    port = free_port()
    log = open(work / "s3.log", "wb")
    server = subprocess.Popen([Path(sys.executable).parent / "moto_server", "-H", "127.0.0.1", "-p", str(port)], stdout=log, stderr=log)
    import socket

    wait_for(lambda: socket.socket().connect_ex(("127.0.0.1", port)) == 0, 60, "the S3 server")
    import boto3

    endpoint = f"http://127.0.0.1:{port}"
    client = boto3.client("s3", endpoint_url=endpoint)
    bay = Bay(work / "bay", [f"swing{i:03}_face_on.mp4" for i in range(swings)])

    folder, nodes, driver, home = (Account(n) for n in ("folder", "nodes", "driver", "home"))
    nodes.join()
    from ray.cluster_utils import Cluster

    cluster = Cluster(initialize_head=True, head_node_args={"num_cpus": 0, "include_dashboard": False})
    two = [add_node(cluster), add_node(cluster)]
    home.join()

    runs = itertools.count()

    def by_folder():
        out = work / f"results{next(runs)}"
        return timed([PROGRAM, "folder", bay.clips, "--out", out, "--jobs", "2", "--quiet"], folder)

    def by_engine():
        name = f"night{next(runs)}"
        client.create_bucket(Bucket=name)
        store = ["--store", f"s3://{name}/n", "--endpoint", endpoint]
        plan = work / f"{name}.json"
        made = timed(["sh", "-c", f"exec {PROGRAM} folder --plan --json --quiet {bay.clips} --out {work / name} > {plan}"], driver)
        log_from = os.path.getsize(work / "s3.log")
        sent = timed([sys.executable, DRIVER, "send", *store, "--clips", bay.clips, plan], driver)
        log_sent = os.path.getsize(work / "s3.log")
        run = [sys.executable, DRIVER, "run", *store, "--address", cluster.address, "--plain-network", "--program", PROGRAM,
               "--scratch", work / "scratch", "--table", work / name, "--quiet"]
        ran = timed(run, driver, nodes)
        text = (work / "s3.log").read_bytes()
        requests = [sorted(re.findall(rb'"(GET|PUT|HEAD|POST|DELETE) ', part)) for part in (text[log_from:log_sent], text[log_sent:])]
        of_swings = sum(o["seconds"] for o in outcomes(name))
        return made, sent, ran, [{v.decode(): r.count(v) for v in sorted(set(r))} for r in requests], of_swings

    def outcomes(bucket):
        keys = [o["Key"] for o in client.list_objects_v2(Bucket=bucket, Prefix="n/outcomes/")["Contents"]]
        return [json.loads(client.get_object(Bucket=bucket, Key=k)["Body"].read()) for k in keys]

    def line(what, **values):
        print(what, " ".join(f"{k}={v:.2f}" if isinstance(v, float) else f"{k}={v}" for k, v in values.items()), flush=True)

    def told(what, result):
        made, sent, ran, requests, of_swings = result
        line(what, wall_s=made[0] + sent[0] + ran[0], processor_s=made[1] + sent[1] + ran[1] + ran[2], plan_s=made[1], send_s=sent[1],
             run_wall_s=ran[0], driver_s=ran[1], nodes_s=ran[2], swings_wall_s=of_swings, requests_send=requests[0], requests_run=requests[1])

    idle = nodes.seconds()
    time.sleep(20)
    line("idle nodes, processor s in 20 s", nodes=nodes.seconds() - idle)
    by_engine()  # Workers start, files come into memory.
    for _ in range(rounds):
        wall, processor = by_folder()
        line("folder", wall_s=wall, processor_s=processor)
        told("engine, two nodes", by_engine())
    cluster.remove_node(two[1])
    time.sleep(5)
    for _ in range(rounds):
        told("engine, one node", by_engine())
    cluster.shutdown()
    server.kill()


if __name__ == "__main__":
    main()
