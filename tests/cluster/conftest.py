"""What the tests share: clips, plans, an S3 server behind a gate that can be shut, certificates, a cluster."""

import asyncio
import json
import os
import shutil
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
DRIVER = ROOT / "pipelines" / "cluster" / "drive.py"
PROGRAM = os.environ["QUARTERTURN"]
sys.path.insert(0, str(DRIVER.parent))


def copies(folder, names):
    """Copies of a sample clip, each of its own content: a comment in a trailing `free` box (ISO 14496-12)."""
    whole = (ROOT / "sample-clips" / "first-lesson_face_on.mp4").read_bytes()
    for name in names:
        text = f"copy {name}".encode()
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(whole + (8 + len(text)).to_bytes(4, "big") + b"free" + text)


class Bay:
    """A folder of clips and its plan."""

    def __init__(self, folder, names, corrections="", broken=()):
        self.clips, self.file = folder / "clips", folder / "plan.json"
        copies(self.clips, names)
        for name in broken:
            (self.clips / name).write_text("not a clip")
        (self.clips / "quarterturn.txt").write_text(corrections)
        command = [PROGRAM, "folder", "--plan", "--json", "--quiet", self.clips, "--out", folder / "results"]
        planned = subprocess.run(command, capture_output=True, check=False)
        assert planned.returncode == 0, planned.stderr.decode(errors="replace")
        self.file.write_bytes(planned.stdout)
        self.plan = json.loads(self.file.read_bytes())
        self.tasks = self.plan["swings"]


@pytest.fixture
def bay(tmp_path):
    return lambda *a, **k: Bay(tmp_path, *a, **k)


def drive(command, store, *arguments, **options):
    """The driver as its user starts it."""
    return subprocess.Popen(
        [sys.executable, DRIVER, command, "--store", str(store), *map(str, arguments)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **options,
    )


def driven(*a, expected=0, **k):
    child = drive(*a, **k)
    out, err = child.communicate(timeout=900)
    assert child.returncode == expected, f"{child.returncode}\n{out}\n{err}"
    return out + err


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


def certified(folder):
    """A certificate for this machine's loopback, which everyone here trusts and nobody else; the environment asks for it."""
    cert, key = folder / "cert.pem", folder / "key.pem"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost", "-addext",
         "subjectAltName=DNS:localhost,IP:127.0.0.1", "-keyout", key, "-out", cert],
        check=True, capture_output=True,
    )
    os.environ.update(
        RAY_USE_TLS="1", RAY_TLS_SERVER_CERT=str(cert), RAY_TLS_SERVER_KEY=str(key), RAY_TLS_CA_CERT=str(cert),
        RAY_USAGE_STATS_ENABLED="0", AWS_CA_BUNDLE=str(cert), AWS_ACCESS_KEY_ID="none", AWS_SECRET_ACCESS_KEY="none",
        AWS_DEFAULT_REGION="us-east-1",
    )
    return cert, key


def s3_server(port, certificates, log=subprocess.DEVNULL):
    server = subprocess.Popen(
        [Path(sys.executable).parent / "moto_server", "-H", "127.0.0.1", "-p", str(port), "-s", "-c", certificates[0], "-k", certificates[1]],
        stdout=log, stderr=log,
    )
    wait_for(lambda: socket.socket().connect_ex(("127.0.0.1", port)) == 0, 60, "the S3 server")
    return server


@pytest.fixture(scope="session")
def certificates(tmp_path_factory):
    made = certified(tmp_path_factory.mktemp("tls"))
    # A lost machine is noticed within seconds.
    os.environ.update(
        RAY_health_check_initial_delay_ms="0", RAY_health_check_period_ms="1000", RAY_health_check_failure_threshold="3"
    )
    return made


class Gate:
    """Passes connections on while it is open; shut, it breaks them off and takes none."""

    def __init__(self, goal):
        self.goal, self.port, self.open, self.writers = goal, free_port(), True, set()
        self.loop = asyncio.new_event_loop()
        threading.Thread(target=self.loop.run_forever, daemon=True).start()
        asyncio.run_coroutine_threadsafe(asyncio.start_server(self.pass_on, "127.0.0.1", self.port), self.loop).result()

    async def pass_on(self, reader, writer):
        if not self.open:
            writer.transport.abort()
            return
        there, back = await asyncio.open_connection("127.0.0.1", self.goal)
        self.writers |= {writer, back}
        await asyncio.gather(self.copy(reader, back), self.copy(there, writer))

    async def copy(self, reader, writer):
        try:
            while data := await reader.read(1 << 16):
                writer.write(data)
                await writer.drain()
        except OSError:
            pass
        writer.close()

    def shut(self):
        self.open = False
        self.loop.call_soon_threadsafe(lambda: [w.transport.abort() for w in self.writers])

    def reopen(self):
        self.open = True


class Bucket:
    """An S3 bucket over TLS that keeps every version: what was written twice shows."""

    def __init__(self, name, endpoint, gate):
        import boto3

        self.url, self.endpoint, self.gate, self.name = f"s3://{name}/night", endpoint, gate, name
        self.client = boto3.client("s3", endpoint_url=endpoint)
        self.client.create_bucket(Bucket=name)
        self.client.put_bucket_versioning(Bucket=name, VersioningConfiguration={"Status": "Enabled"})

    def versions(self, below=""):
        """{key: versions, delete marks among them}"""
        found = {}
        pages = self.client.get_paginator("list_object_versions").paginate(Bucket=self.name, Prefix=f"night/{below}")
        for page in pages:
            for v in page.get("Versions", []) + page.get("DeleteMarkers", []):
                found.setdefault(v["Key"].removeprefix("night/"), []).append(v["VersionId"])
        return found

    def read(self, key):
        return self.client.get_object(Bucket=self.name, Key=f"night/{key}")["Body"].read()


@pytest.fixture(scope="session")
def s3(certificates):
    port = free_port()
    server = s3_server(port, certificates)
    gate = Gate(port)
    count = iter(range(1000))
    yield lambda: Bucket(f"bucket{next(count)}", f"https://127.0.0.1:{gate.port}", gate)
    server.kill()


@pytest.fixture
def cluster(certificates):
    """A head without cores; the test adds nodes of one core."""
    from ray.cluster_utils import Cluster

    if shutil.which("ip") and "state UP" in subprocess.run(["ip", "-o", "link", "show"], capture_output=True, text=True).stdout:
        pytest.skip("needs a network of its own (root and unshare): the engine listens on every address")
    made = Cluster(initialize_head=True, head_node_args={"num_cpus": 0, "include_dashboard": False})
    yield made
    made.shutdown()


def add_node(cluster, cores=1):
    return cluster.add_node(num_cpus=cores, memory=cores * 1600 * 2**20, object_store_memory=80 * 2**20)


def wait_for(what, seconds, words):
    until = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < until, f"waited {seconds} s for {words}"
        time.sleep(0.1)


def programs():
    """Measurements under way on this machine."""
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            command = (folder / "cmdline").read_bytes().split(b"\0")
        except OSError:
            continue
        if command[:2] == [PROGRAM.encode(), b"measure"]:
            found.append(int(folder.name))
    return found
