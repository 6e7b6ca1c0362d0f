"""Real engines, real swings: each measured exactly once in the store, whatever is killed."""

import contextlib
import csv
import io
import json
import os
import re
import signal
import socket
import ssl
import subprocess
import time
import zipfile

import jsonschema
import pyarrow.parquet as pq
from conftest import PROGRAM, ROOT, add_node, drive, driven, programs, wait_for

SCHEMA = json.loads((ROOT / "docs" / "plan.schema.json").read_text())


def run_arguments(tmp_path, bucket, cluster=None):
    more = ["--address", cluster.address] if cluster else []
    return ["--endpoint", bucket.endpoint, "--table", tmp_path / "night", "--program", PROGRAM, "--scratch", tmp_path / "scratch", *more]


def sent(bay, bucket):
    driven("send", bucket.url, "--endpoint", bucket.endpoint, "--clips", bay.clips, bay.file)


def check_store(bay, bucket, nothing=()):
    """Every task answered once, none twice, none besides; results whole."""
    outcomes, results = bucket.versions("outcomes/"), bucket.versions("results/")
    assert {len(v) for v in (outcomes | results).values()} == {1}, "something was written twice"
    by_fingerprint = {k.split("/")[2].removesuffix(".json"): k for k in outcomes}
    assert set(by_fingerprint) == {t["fingerprint"] for t in bay.tasks}
    for task in bay.tasks:
        outcome = json.loads(bucket.read(by_fingerprint[task["fingerprint"]]))
        jsonschema.validate(outcome, SCHEMA)
        key = f"results/{task['clips'][0]['sha256']}/{task['fingerprint']}.zip"
        assert (key in results) == (outcome["outcome"] == "measured") == (task["name"] not in nothing)
        if key in results:
            with zipfile.ZipFile(io.BytesIO(bucket.read(key))) as z:
                assert z.testzip() is None
                assert json.loads(z.read("swing.json"))["name"] == task["name"]
    assert len(results) == len(bay.tasks) - len(nothing)


def check_no_names(bay, bucket):
    keys = "\n".join(bucket.versions()).lower()
    for task in bay.tasks:
        assert task["name"].lower() not in keys
        assert not task["player"] or task["player"].lower() not in keys


def tables(tmp_path):
    with open(tmp_path / "night.csv", newline="", encoding="utf-8") as f:
        as_text = list(csv.DictReader(f))
    as_parquet = pq.read_table(tmp_path / "night.parquet").to_pylist()
    assert [r["name"] for r in as_text] == [r["name"] for r in as_parquet]
    return as_parquet


def test_a_node_and_the_driver_are_killed(bay, s3, cluster, tmp_path):
    bay = bay([f"swing{i:02}_face_on.mp4" for i in range(7)] + ["short.mp4"], "cut: short.mp4 = 0 to 0.2\n", ["words.mp4"])
    bucket = s3()
    sent(bay, bucket)
    nodes = [add_node(cluster), add_node(cluster)]
    arguments = run_arguments(tmp_path, bucket, cluster)
    answered = lambda: len(bucket.versions("outcomes/"))

    first = drive("run", bucket.url, *arguments)
    wait_for(lambda: answered() >= 2, 300, "two answers")
    first.kill()
    first.communicate()
    # What the killed run had under way ends with it.
    wait_for(lambda: not programs(), 60, "the end of what was under way")
    before = answered()
    assert before < len(bay.tasks), "too late: nothing was left to do"

    second = drive("run", bucket.url, *arguments)
    wait_for(lambda: answered() > before and len(programs()) == 2, 300, "both nodes at work again")
    cluster.remove_node(nodes[0], allow_graceful=False)
    wait_for(lambda: len(programs()) < 2, 30, "the end of the lost node's swing")
    out, err = second.communicate(timeout=900)
    # A clip without a swing is an answer, one that is no clip a failure.
    assert second.returncode == 3, out + err
    assert "words.mp4" in out and "short" in out, out
    # Rate and time left, as tqdm writes them.
    assert re.search(r"measured: +\d+%.* \d+/\d+ \[\d\d:\d\d<[\d:]+, +[\d.]+ ?(s/swing|swing/s)\]", err), err
    check_store(bay, bucket, nothing=["short"])
    check_no_names(bay, bucket)

    rows = tables(tmp_path)
    assert len(rows) == len(bay.tasks) + 1
    for row in rows:
        assert (row["outcome"] == "measured") == (row["name"] not in ("short", "words.mp4")), row
        assert (row["top_thorax_turn_from_address_deg"] is not None) == (row["outcome"] == "measured")
        assert bool(row["reason"]) == (row["outcome"] != "measured")
    # Nothing that a killed process left lies about once another has run.
    assert sum(1 for _ in (tmp_path / "scratch").iterdir()) <= 1

    stands = bucket.versions()
    assert "7 measured" in driven("run", bucket.url, *arguments, expected=3)
    assert bucket.versions() == stands, "a run with nothing to do wrote something"


def test_a_store_that_fails_and_comes_back(bay, s3, cluster, tmp_path):
    bay = bay([f"swing{i}_face_on.mp4" for i in range(3)])
    bucket = s3()
    sent(bay, bucket)
    add_node(cluster)
    child = drive("run", bucket.url, *run_arguments(tmp_path, bucket, cluster))
    wait_for(programs, 120, "the first swing")
    bucket.gate.shut()
    # The swing under way ends while the store is away: it is kept, not measured again.
    under_way = programs()
    wait_for(lambda: programs() != under_way, 120, "the end of the swing under way")
    time.sleep(15)
    assert not programs(), "the next swing began without its clips"
    bucket.gate.reopen()
    out, err = child.communicate(timeout=900)
    assert child.returncode == 0, out + err
    check_store(bay, bucket)


def test_the_engine_speaks_in_cipher_alone(cluster, certificates):
    """TLS's handshake succeeds; what begins in the clear (HTTP/2's preface, RFC 9113 section 3.4) gets no answer in the clear."""
    host, port = cluster.address.rsplit(":", 1)
    trust = ssl.create_default_context(cafile=certificates[0])
    trust.check_hostname = False
    trust.set_alpn_protocols(["h2"])
    with socket.create_connection((host, int(port)), 10) as plain, trust.wrap_socket(plain) as safe:
        assert safe.version() in ("TLSv1.2", "TLSv1.3")
    with socket.create_connection((host, int(port)), 10) as plain:
        plain.sendall(b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n" + bytes([0, 0, 0, 4, 0, 0, 0, 0, 0]))
        plain.settimeout(10)
        try:
            answer = plain.recv(1024)
        except ConnectionResetError:
            answer = b""
    # Nothing, or TLS's own alert (RFC 8446 section 6); a server in the clear would send its SETTINGS, type 4.
    assert answer[:1] in (b"", b"\x15"), answer


def test_a_clip_that_the_program_falls_over_is_told_and_kept(bay, s3, cluster, tmp_path):
    bay = bay(["a_face_on.mp4"])
    bucket = s3()
    sent(bay, bucket)
    add_node(cluster)
    # Killed from outside by the signal of a wrong memory access, each time that the engine tries.
    child = drive("run", bucket.url, *run_arguments(tmp_path, bucket, cluster))
    killed = set()
    while child.poll() is None:
        for pid in set(programs()) - killed:
            killed.add(pid)
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGSEGV)
        time.sleep(0.05)
    out, err = child.communicate()
    assert child.returncode == 1, out + err
    assert "SIGSEGV" in out, out
    assert len(killed) == 4, "three more tries by the engine"
    check_store(bay, bucket, nothing=["a"])


def test_a_shared_folder_and_the_way_back_into_the_bay(bay, tmp_path):
    """The whole way on one machine, to the overview of the bay's own folder."""
    bay = bay(["a_face_on.mp4", "short.mp4"], "cut: short.mp4 = 0 to 0.2\n")
    store, out = tmp_path / "store", tmp_path / "measured"
    driven("send", store, "--clips", bay.clips, bay.file)
    environment = {k: v for k, v in os.environ.items() if k != "RAY_USE_TLS"}
    arguments = ["--table", tmp_path / "night", "--program", PROGRAM, "--scratch", tmp_path / "scratch"]
    driven("run", store, *arguments, env=environment)
    driven("fetch", store, "--out", out)
    command = [PROGRAM, "folder", "--json", "--quiet", bay.clips, "--out", tmp_path / "results", "--measured", out]
    ended = subprocess.run(command, capture_output=True, check=True)
    told = json.loads(ended.stdout)
    assert told["measured"] == 1 and len(told["no_swing"]) + len(told["failed"]) == 1, told
    assert told["seconds"] <= 5, "measured again"
    assert (tmp_path / "results" / "a" / "report.html").is_file()
