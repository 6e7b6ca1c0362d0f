"""Where plans, clips and what comes of them stand: a bucket behind the S3 interface, or a shared folder.

Keys hold checksums only, never a name:
  plans/SHA256.json                 what a bay found, its content as the key
  clips/SHA256                      a clip, its content as the key
  outcomes/CLIP/FINGERPRINT.json    what came of a task; CLIP is its first clip's key
  results/CLIP/FINGERPRINT.zip      the result's folder, where there is one
  forgotten/SHA256                  a clip that is not to be measured again
"""

import errno
import os
import tempfile
from urllib.parse import urlsplit

import fsspec

# Of one request, by the client's own retries with growing waits: they go on for some minutes, so that
# a measured swing is not thrown away because the store is being restarted.
REQUEST_TRIES = 40
CONNECT_S, READ_S = 10, 60
LOOPBACK = ("localhost", "127.0.0.1", "::1")


class Unencrypted(ValueError):
    """The store's address would send clips in the clear."""


def client_options(url, endpoint):
    """Options of the file system for an address; refuses one that is not encrypted."""
    if not url.startswith("s3://"):
        return {"auto_mkdir": True} if "://" not in url or url.startswith("file://") else {}
    endpoint = endpoint or os.environ.get("AWS_ENDPOINT_URL_S3") or os.environ.get("AWS_ENDPOINT_URL")
    if endpoint:
        parts = urlsplit(endpoint)
        if parts.scheme != "https" and parts.hostname not in LOOPBACK:
            raise Unencrypted(f"{endpoint}: clips would travel unencrypted. Give an address that begins with https.")
    retries = {"mode": "standard", "max_attempts": REQUEST_TRIES}
    return {
        "endpoint_url": endpoint,
        "config_kwargs": {"retries": retries, "connect_timeout": CONNECT_S, "read_timeout": READ_S},
        "use_listings_cache": False,
    }


class Store:
    """Objects by key. Each is written once and whole; a second write of a key changes nothing."""

    def __init__(self, url, endpoint=None):
        self.fs, self.root = fsspec.url_to_fs(url, **client_options(url, endpoint))
        self.local = "file" in (self.fs.protocol if isinstance(self.fs.protocol, tuple) else (self.fs.protocol,))

    def _path(self, key):
        return f"{self.root}/{key}"

    def put_once(self, key, data):
        """Writes bytes; False where the key stands already."""
        if self.local:
            return self._link_once(self._path(key), data)
        try:
            self.fs.pipe_file(self._path(key), data, mode="create")
        except FileExistsError:
            return False
        except OSError as e:
            # How a store says that the key stands ("If-None-Match": "*", RFC 9110 section 13.1.2).
            if "PreconditionFailed" in str(e) or e.errno == errno.EEXIST:
                return False
            raise
        return True

    def _link_once(self, path, data):
        folder = os.path.dirname(path)
        os.makedirs(folder, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=folder, prefix=".part-") as part:
            part.write(data)
            part.flush()
            os.fsync(part.fileno())
            try:
                os.link(part.name, path)
            except FileExistsError:
                return False
        return True

    def read(self, key):
        """The bytes; None where the key is not there."""
        # One request: the S3 client would ask for the size first, to read in several parts at once.
        options = {} if self.local else {"max_concurrency": 1}
        try:
            return self.fs.cat_file(self._path(key), **options)
        except FileNotFoundError:
            return None

    def exists(self, key):
        return self.fs.exists(self._path(key))

    def get(self, key, path):
        """Into a file; FileNotFoundError where the key is not there."""
        os.makedirs(os.path.dirname(path), exist_ok=True)
        self.fs.get_file(self._path(key), path)

    def keys(self, prefix):
        """All keys that begin with `prefix` and a slash, sorted."""
        try:
            found = self.fs.find(self._path(prefix))
        except FileNotFoundError:
            return []
        start = len(self.root) + 1
        return sorted(f[start:] for f in found if "/.part-" not in f)

    def forgotten(self):
        """Checksums of the clips that are not to be measured again."""
        return {key.split("/")[1] for key in self.keys("forgotten")}

    def remove(self, keys):
        """Removes keys, with every older version that the store kept of them."""
        keys = [k for k in keys if self.exists(k)] if self.local else list(keys)
        if keys:
            self.fs.rm([self._path(k) for k in keys])
        if not self.local:
            for key in keys:
                self._remove_versions(key)

    def _remove_versions(self, key):
        bucket, name, _ = self.fs.split_path(self._path(key))
        page = self.fs.call_s3("list_object_versions", Bucket=bucket, Prefix=name)
        every = page.get("Versions", []) + page.get("DeleteMarkers", [])
        gone = [{"Key": v["Key"], "VersionId": v["VersionId"]} for v in every if v["Key"] == name]
        if gone:
            self.fs.call_s3("delete_objects", Bucket=bucket, Delete={"Objects": gone, "Quiet": True})


def clip_key(sha256):
    return f"clips/{sha256}"


def outcome_key(task):
    return f"outcomes/{task['clips'][0]['sha256']}/{task['fingerprint']}.json"


def result_key(task):
    return f"results/{task['clips'][0]['sha256']}/{task['fingerprint']}.zip"


def forgotten_key(sha256):
    return f"forgotten/{sha256}"
