"""What store and driver promise, told without an engine and without measuring: the quick ones."""

import csv
import json
import os
import sys

import plans
import pyarrow.parquet as pq
import pytest
import rows
import store as stores
import swing
from conftest import DRIVER, Bay, driven


@pytest.fixture(params=["folder", "s3"])
def store(request, tmp_path):
    if request.param == "folder":
        return stores.Store(str(tmp_path / "store"))
    bucket = request.getfixturevalue("s3")()
    return stores.Store(bucket.url, bucket.endpoint)


def test_a_key_is_written_once_and_removed_whole(store):
    assert store.read("clips/aa") is None and store.keys("clips") == []
    assert store.put_once("clips/aa", b"first")
    assert not store.put_once("clips/aa", b"second")
    assert store.read("clips/aa") == b"first"
    store.put_once("clips/aab", b"other")
    assert store.keys("clips") == ["clips/aa", "clips/aab"]
    store.remove(["clips/aa"])
    assert store.keys("clips") == ["clips/aab"] and not store.exists("clips/aa")


def test_an_address_in_the_clear_is_refused(monkeypatch):
    for address in ("http://store.example:9000", "http://192.0.2.9"):
        with pytest.raises(stores.Unencrypted):
            stores.client_options("s3://bucket", address)
    monkeypatch.setenv("AWS_ENDPOINT_URL", "http://store.example")
    with pytest.raises(stores.Unencrypted):
        stores.client_options("s3://bucket", None)
    assert stores.client_options("s3://bucket", "https://store.example")["endpoint_url"]


def test_machines_that_would_talk_in_the_clear_are_refused(monkeypatch):
    import engine

    monkeypatch.delenv("RAY_USE_TLS", raising=False)
    with pytest.raises(engine.Plain):
        engine.connect("192.0.2.9:6379", plain_network=False)


def test_a_player_is_forgotten(bay, s3, tmp_path):
    """Without the engine: outcomes are put as a run would."""
    bay = bay(["Student 1/a.mp4", "Student 2/b.mp4"])
    bucket = s3()
    assert {t["player"] for t in bay.tasks} == {"Student 1", "Student 2"}
    endpoint = ["--endpoint", bucket.endpoint]
    driven("send", bucket.url, *endpoint, "--clips", bay.clips, bay.file)
    store = stores.Store(bucket.url, bucket.endpoint)
    for task in bay.tasks:
        row = {"name": task["name"], "player": task["player"], "outcome": "measured", "reason": ""}
        store.put_once(stores.outcome_key(task), json.dumps({"row": row}).encode())
        store.put_once(stores.result_key(task), b"zip")
    assert not [k for k in bucket.versions() if "student" in k.lower() or ".mp4" in k]
    gone = next(t for t in bay.tasks if t["player"] == "Student 1")
    kept = next(t for t in bay.tasks if t["player"] == "Student 2")
    driven("forget", bucket.url, *endpoint, "--player", "student 1")
    keys = bucket.versions()
    sha = gone["clips"][0]["sha256"]
    assert [k for k in keys if sha in k or gone["fingerprint"] in k] == [f"forgotten/{sha}"]
    assert {stores.outcome_key(kept), stores.result_key(kept), stores.clip_key(kept["clips"][0]["sha256"])} <= set(keys)
    left = [json.loads(bucket.read(k)) for k in keys if k.startswith("plans/")]
    assert [t["player"] for plan in left for t in plan["swings"]] == ["Student 2"]
    assert "Student 1" not in json.dumps(left)
    # A second time there is nothing; and the bay's own old plan sends and measures nothing of it.
    driven("send", bucket.url, *endpoint, "--clips", bay.clips, bay.file)
    assert f"clips/{sha}" not in bucket.versions()
    driven("forget", bucket.url, *endpoint, "--player", "Student 1", expected=1)
    told = driven("run", bucket.url, *endpoint, "--table", tmp_path / "t", bay.file, "--program", "/nowhere")
    assert "1 swings of forgotten players" in told, told
    assert "Student 1" not in (tmp_path / "t.csv").read_text()
    assert not [k for k in bucket.versions("outcomes/") if sha in k]


def stand_in(folder, then):
    """A program that answers a task at once, and then does something."""
    path = folder / "stand-in"
    path.write_text(f"""#!{sys.executable}
import json, os, sys
given = dict(zip(sys.argv[2::2], sys.argv[3::2]))
task = json.load(open(given["--plan"]))["swings"][0]
made = os.path.join(given["--out"], task["fingerprint"])
os.makedirs(made)
row = {{"name": task["name"], "player": task["player"], "outcome": "measured", "reason": ""}}
json.dump({{"outcome": "measured", "row": row}}, open(os.path.join(made, "outcome.json"), "w"))
{then}
""")
    path.chmod(0o755)
    return str(path)


def test_a_player_who_is_forgotten_while_a_swing_is_measured(bay, tmp_path):
    bay, folder = bay(["Student 1/a.mp4"]), tmp_path / "store"
    store, task = stores.Store(str(folder)), bay.tasks[0]
    driven("send", folder, "--clips", bay.clips, bay.file)
    forgets = f"import subprocess; subprocess.run({[sys.executable, str(DRIVER), 'forget', '--store', str(folder), '--player', 'Student 1']}, check=True)"
    settings = swing.Settings(str(folder), None, stand_in(tmp_path, forgets), str(tmp_path / "scratch"))
    common = plans.parse("bay", bay.file.read_bytes()).common
    swing.do_swing(common, task, settings)
    assert store.keys("") == [stores.forgotten_key(task["clips"][0]["sha256"])]


def test_a_result_whose_outcome_was_lost_is_taken_over_and_not_measured_again(bay, tmp_path):
    """A machine was lost between its two writes."""
    bay, folder = bay(["a.mp4"]), tmp_path / "store"
    store, task = stores.Store(str(folder)), bay.tasks[0]
    common = plans.parse("bay", bay.file.read_bytes()).common
    driven("send", folder, "--clips", bay.clips, bay.file)
    settings = swing.Settings(str(folder), None, stand_in(tmp_path, ""), str(tmp_path / "scratch"))
    first = swing.do_swing(common, task, settings)
    os.remove(folder / stores.outcome_key(task))
    settings.program = "/nowhere"
    assert swing.do_swing(common, task, settings) == first
    assert store.exists(stores.outcome_key(task))


def test_two_bays_are_one_night_and_a_clip_in_both_is_one_piece_of_work(tmp_path):
    one, two = Bay(tmp_path / "one", ["same.mp4", "a.mp4"]), Bay(tmp_path / "two", ["same.mp4", "b.mp4"])
    folder = tmp_path / "store"
    for bay in (one, two):
        driven("send", folder, "--clips", bay.clips, bay.file)
    store = stores.Store(str(folder))
    assert len(store.keys("clips")) == 3 and len(store.keys("plans")) == 2
    every = {t["fingerprint"] for bay in (one, two) for t in bay.tasks}
    assert len(every) == 3
    assert sorted(t["fingerprint"] for _, t in plans.distinct(plans.from_store(store))) == sorted(every)
    told = driven("table", folder, "--table", tmp_path / "t", expected=1)
    assert "4 not_measured" in told, told


def test_text_that_a_spreadsheet_would_run_is_told_as_text(tmp_path):
    task = {"name": "=1+1", "player": "@x", "fingerprint": "0" * 24, "clips": [{"sha256": "0" * 64}]}
    plan = plans.Plan("bay", {}, [task], [])
    rows.write(tmp_path / "t", [plan], stores.Store(str(tmp_path / "store")))
    with open(tmp_path / "t.csv", newline="", encoding="utf-8") as f:
        (row,) = csv.DictReader(f)
    assert (row["name"], row["player"]) == ("'=1+1", "'@x")
    assert pq.read_table(tmp_path / "t.parquet").to_pylist()[0]["name"] == "=1+1"
