"""The plain case, a shared folder, and what the store promises whatever it is."""

import json
import os
import subprocess

import pytest
import store as stores
from conftest import PROGRAM, driven


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
