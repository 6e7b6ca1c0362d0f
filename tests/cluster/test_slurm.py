"""The same plan under Slurm's own daemons, started here for the test."""

import json
import os
import shutil
import signal
import subprocess
import time

import pytest
from conftest import PROGRAM, ROOT, free_port, programs, wait_for

NEEDED = ("slurmctld", "slurmd", "munged", "sbatch")


@pytest.fixture
def slurm(tmp_path):
    missing = [n for n in NEEDED if not shutil.which(n, path=os.environ["PATH"] + ":/usr/sbin")]
    if missing or os.geteuid() != 0:
        pytest.skip(f"needs root and Debian's packages slurm-wlm and munge (not here: {', '.join(missing) or 'root'})")
    made = Slurm(tmp_path / "slurm")
    try:
        made.begin()
        yield made
    finally:
        made.end()


class Slurm:
    """One node of two cores, its controller and the keys between them."""

    def __init__(self, folder):
        folder.mkdir()
        self.folder, self.running = folder, {}

    def begin(self):
        folder = self.folder
        key, socket = folder / "munge.key", folder / "munge.socket"
        key.write_bytes(os.urandom(64))
        key.chmod(0o600)
        self.start("munged", "--foreground", "--force", f"--key-file={key}", f"--socket={socket}", f"--pid-file={folder}/munged.pid",
                   f"--log-file={folder}/munged.log", f"--seed-file={folder}/munged.seed")
        wait_for(socket.exists, 30, "munged")
        (folder / "slurm.conf").write_text(f"""
ClusterName=test
SlurmctldHost=localhost(127.0.0.1)
SlurmctldPort={free_port()}
SlurmdPort={free_port()}
AuthInfo=socket={socket}
SlurmUser=root
SlurmctldPidFile={folder}/slurmctld.pid
SlurmdPidFile={folder}/slurmd.pid
StateSaveLocation={folder}/state
SlurmdSpoolDir={folder}/spool
MpiDefault=none
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core_Memory
AccountingStorageType=accounting_storage/none
JobCompType=jobcomp/none
ReturnToService=2
NodeName=localhost CPUs=2 RealMemory=4000
PartitionName=main Nodes=localhost Default=YES MaxTime=INFINITE State=UP
""")
        os.environ["SLURM_CONF"] = str(folder / "slurm.conf")
        self.start("slurmctld", "-D")
        self.start("slurmd", "-D", "-N", "localhost")
        wait_for(lambda: "idle" in self.say("sinfo", "-h", "-o", "%T"), 60, "an idle node")

    def start(self, name, *arguments):
        path = shutil.which(name, path=os.environ["PATH"] + ":/usr/sbin")
        with open(self.folder / f"{name}.out", "ab") as log:
            self.running[name] = subprocess.Popen([path, *arguments], stdout=log, stderr=log)

    def say(self, *command):
        return subprocess.run(command, capture_output=True, text=True, check=False).stdout

    def end(self):
        self.say("scancel", "--full", "--state=RUNNING")
        for child in reversed(self.running.values()):
            child.terminate()
            try:
                child.wait(20)
            except subprocess.TimeoutExpired:
                child.kill()


def test_an_array_whose_program_and_controller_are_killed(bay, slurm, tmp_path):
    bay = bay([f"swing{i}_face_on.mp4" for i in range(3)] + ["short.mp4"], "cut: short.mp4 = 0 to 0.2\n")
    out = tmp_path / "measured"
    command = ["bash", ROOT / "pipelines" / "cluster" / "slurm.sh", bay.file, bay.clips, out, f"--output={tmp_path}/job-%a.txt"]
    environment = {**os.environ, "QUARTERTURN": PROGRAM}
    subprocess.run(command, check=True, env=environment, stdout=subprocess.PIPE)
    said = lambda: "".join(p.read_text() for p in tmp_path.glob("job-*.txt"))
    wait_for(programs, 120, "the first swing")
    os.kill(programs()[0], signal.SIGKILL)
    wait_for(lambda: "to be tried again" in said(), 60, "the element's word on it")
    # The controller writes down what it knows every few seconds; what it never wrote down is Slurm's own loss.
    time.sleep(10)
    answered = lambda: sorted(p.name for p in out.iterdir() if (p / "outcome.json").is_file())
    every = sorted(t["fingerprint"] for t in bay.tasks)
    assert answered() != every, "too late: nothing was left to do"
    slurm.running["slurmctld"].kill()
    slurm.running["slurmctld"].wait()
    time.sleep(2)
    slurm.start("slurmctld", "-D")

    try:
        wait_for(lambda: answered() == every, 600, "every answer")
        wait_for(lambda: not slurm.say("squeue", "-h").strip(), 120, "the end of the array")
    except AssertionError as e:
        raise AssertionError(f"{e}\n{slurm.say('squeue')}\n{said()}") from e
    assert "to be tried again" in said(), said()
    for task in bay.tasks:
        stands = out / task["fingerprint"]
        outcome = json.loads((stands / "outcome.json").read_text())
        assert (outcome["outcome"] == "measured") == (stands / "swing.json").is_file() == (task["name"] != "short")
    # A killed one leaves its unfinished folder; nothing else stands there.
    assert len([p for p in out.iterdir() if p.name not in every]) <= 1

    when = {p: p.stat().st_mtime_ns for p in out.rglob("outcome.json")}
    subprocess.run(command, check=True, env=environment, stdout=subprocess.PIPE)
    wait_for(lambda: not slurm.say("squeue", "-h").strip(), 120, "the end of the second array")
    assert {p: p.stat().st_mtime_ns for p in out.rglob("outcome.json")} == when, "something was measured again"
