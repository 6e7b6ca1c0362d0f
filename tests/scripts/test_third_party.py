"""The check of licences and origins in pipelines/third-party.py."""
import importlib.util
import unittest
from pathlib import Path

PATH = Path(__file__).resolve().parents[2] / "pipelines" / "third-party.py"
SPEC = importlib.util.spec_from_file_location("third_party", PATH)
third_party = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(third_party)

REGISTRY = "registry+somewhere"


def project(licence, source=REGISTRY, checksum="1"):
    """A project with one crate, as cargo's metadata and the lock file tell it."""
    crate = {"id": "crate", "name": "crate", "version": "1.0.0", "license": licence, "source": source}
    root = {"id": "root", "name": "root", "version": "0.1.0", "license": "Apache-2.0", "source": None}
    meta = {"packages": [root, crate], "resolve": {"root": "root", "nodes": [
        {"id": "root", "deps": [{"pkg": "crate", "dep_kinds": [{"kind": None}]}]}, {"id": "crate", "deps": []}]}}
    locked = {"name": "crate", "version": "1.0.0"}
    locked |= {"source": source} if source else {}
    locked |= {"checksum": checksum} if checksum else {}
    return meta, {"package": [{"name": "root", "version": "0.1.0"}, locked]}


class Licences(unittest.TestCase):
    def test_expressions(self):
        allowed = {"MIT", "Apache-2.0", "Apache-2.0 WITH LLVM-exception", "Zlib"}
        for text, met in [
            ("MIT", True), ("GPL-3.0-only", False), ("", False),
            ("MIT OR GPL-3.0-only", True), ("MIT AND GPL-3.0-only", False), ("GPL-3.0-only/MIT", True),
            ("(MIT OR GPL-2.0-only) AND Zlib", True), ("MIT OR GPL-2.0-only AND Zlib", True),
            ("(MIT AND GPL-2.0-only) OR LGPL-2.1-only", False),
            ("Apache-2.0 WITH LLVM-exception OR GPL-2.0-only", True), ("MIT WITH Some-exception", False),
            ("MIT Zlib", False), ("(MIT", False),
        ]:
            self.assertEqual(third_party.permitted(text, allowed), met, text)

    def test_a_crate_passes_or_is_named(self):
        self.assertEqual(third_party.complaints(*project("MIT OR Apache-2.0")), [])
        for case in [project("AGPL-3.0-only"), project(None), project("MIT", source="git+somewhere"), project("MIT", checksum=None)]:
            told = third_party.complaints(*case)
            self.assertEqual(len(told), 1, told)
            self.assertTrue(told[0].startswith("crate 1.0.0: "), told)

    def test_the_page_names_the_crate(self):
        meta, _ = project("MIT")
        self.assertTrue(third_party.page(meta).endswith("| crate | 1.0.0 | MIT |\n"))


if __name__ == "__main__":
    unittest.main()
