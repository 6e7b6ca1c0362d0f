"""The bill of materials: what the release is made of, as CycloneDX 1.5 (ECMA-424) JSON."""
import datetime
import hashlib
import json
import os
import pathlib
import tomllib
import uuid

import licences

LICENCE = {"ffmpeg": "LGPL-2.1-or-later", "openh264": "BSD-2-Clause", "dav1d": "BSD-2-Clause"}


def sha256(path: pathlib.Path) -> list[dict]:
    return [{"alg": "SHA-256", "content": hashlib.sha256(path.read_bytes()).hexdigest()}]


def crate(package: dict, checksum: str) -> dict:
    purl = f"pkg:cargo/{package['name']}@{package['version']}"
    found = {"type": "library", "bom-ref": purl, "name": package["name"], "version": package["version"], "purl": purl,
             "hashes": [{"alg": "SHA-256", "content": checksum}]}
    if package["license"]:
        # A slash is an older form of OR.
        found["licenses"] = [{"expression": package["license"].replace("/", " OR ")}]
    return found


def write(meta: dict, tree: pathlib.Path, folder: pathlib.Path, version: str, path: pathlib.Path,
          program: str = "quarterturn") -> None:
    lock = tomllib.loads((tree / "Cargo.lock").read_text())
    sums = {(p["name"], p["version"]): p.get("checksum", "") for p in lock["package"]}
    packages = {p["id"]: p for p in meta["packages"]}
    inside = sorted(meta["built_in"], key=lambda i: (packages[i]["name"], packages[i]["version"]))
    refs = {i: crate(packages[i], sums[packages[i]["name"], packages[i]["version"]]) for i in inside}
    parts = list(refs.values())
    for name, number in licences.sources().items():
        purl = f"pkg:deb/debian/{name}@{number.replace('+', '%2B')}?arch=source"
        parts.append({"type": "library", "bom-ref": purl, "name": name, "version": number, "purl": purl,
                      "licenses": [{"expression": LICENCE[name]}]})
    for file in sorted((folder / "runtime").glob("*onnxruntime*")):
        number = licences.RUNTIME
        purl = f"pkg:pypi/onnxruntime@{number}"
        parts.append({"type": "library", "bom-ref": purl, "name": "onnxruntime", "version": number, "purl": purl,
                      "hashes": sha256(file), "licenses": [{"expression": "MIT"}]})
    for file in sorted((folder / "models").glob("*.onnx")):
        parts.append({"type": "machine-learning-model", "bom-ref": file.name, "name": file.name, "hashes": sha256(file),
                      "licenses": [{"expression": "Apache-2.0"}]})
    own = {"type": "application", "bom-ref": "quarterturn", "name": "quarterturn", "version": version,
           "hashes": sha256(folder / program), "licenses": [{"expression": "Apache-2.0"}]}
    depends = [{"ref": "quarterturn", "dependsOn": [p["bom-ref"] for p in parts]}]
    for node in meta["resolve"]["nodes"]:
        if node["id"] in refs:
            needs = sorted({refs[d["pkg"]]["bom-ref"] for d in node["deps"] if d["pkg"] in refs and any(k["kind"] != "dev" for k in d["dep_kinds"])})
            depends.append({"ref": refs[node["id"]]["bom-ref"], "dependsOn": needs})
    when = datetime.datetime.fromtimestamp(int(os.environ["SOURCE_DATE_EPOCH"]), datetime.timezone.utc)
    told = {
        "bomFormat": "CycloneDX", "specVersion": "1.5", "version": 1,
        # The same bill has the same number.
        "serialNumber": f"urn:uuid:{uuid.uuid5(uuid.NAMESPACE_OID, json.dumps([own, parts]))}",
        "metadata": {"timestamp": when.strftime("%Y-%m-%dT%H:%M:%SZ"), "component": own},
        "components": parts, "dependencies": sorted(depends, key=lambda d: d["ref"]),
    }
    path.write_text(json.dumps(told, indent=1) + "\n")
