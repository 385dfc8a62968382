"""Packed yards: whatever the file, nothing comes to lie outside the folder that was named, and nothing that is there is
touched.

The first byte says which part is the input. `z`: the whole file. `m`: its manifest, then a NUL and the contents of its files
one after the other, each of the size and with the hash that the manifest names; a size or hash of `"?"` is put right.
"""

import hashlib
import io
import json
import shutil
import zipfile
from pathlib import Path

from monitor.app.upkeep import yard_archive
from monitor.app.upkeep.yard_archive import FORMAT, MANIFEST, unpack
from monitor.model.errors import MisuseError, UnavailableError
from tests.fuzz.contract import Parser, file_of, room

_MOVE = shutil.move


def _guarded(source, target):
    """Move a file as `unpack` does, but never out of this run's own folder: who fuzzes is often root."""
    target = Path(target)
    inside = target.is_relative_to(room() / "yards" / "new") and ".." not in target.parts
    assert inside, f"it would write {target}"
    return _MOVE(source, target)


def _packed(data):
    text, _, contents = data.partition(b"\0")
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w") as archive:
        try:
            manifest = json.loads(text)
            if str(manifest["data"]).startswith("/"):
                return b""  # a data folder elsewhere is the yard's own wish (docs/security.md)
            for one in manifest["files"]:
                size = one["size"] if isinstance(one["size"], int) and 0 <= one["size"] < 4096 else 8
                content, contents = contents[:size], contents[size:]
                one["size"] = size if one["size"] == "?" else one["size"]
                if one["sha256"] == "?":
                    one["sha256"] = hashlib.sha256(content).hexdigest()
                if one["name"] not in archive.namelist():
                    archive.writestr(one["name"], content)
            text = json.dumps(manifest).encode()
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError, OverflowError, zipfile.LargeZipFile):
            pass
        archive.writestr(MANIFEST, text)
    return raw.getvalue()


def read(data):
    """Unpack a yard into a new folder beside a file that must stay as it is."""
    if data[:1] not in (b"z", b"m"):
        return
    home = room() / "yards"
    shutil.rmtree(home, ignore_errors=True)
    home.mkdir()
    (home / "mine").write_text("mine")
    file = file_of(data[1:] if data[:1] == b"z" else _packed(data[1:]), "a.yard")
    before = shutil.move
    yard_archive.shutil.move = _guarded
    try:
        unpack(file, home / "new" / "yard")
    except (MisuseError, UnavailableError):
        left = [one for one in (home / "new" / "yard").rglob("*") if one.is_file()] if (home / "new").exists() else []
        assert left == [], left
        raise
    finally:
        yard_archive.shutil.move = before
        assert {one.name for one in home.iterdir()} <= {"mine", "new"}
        assert (home / "mine").read_text() == "mine"


def _manifest(*names, **more):
    files = [{"name": name, "size": "?", "sha256": "?", "path": ""} for name in names]
    told = {
        "format": FORMAT,
        "by": "0.1.0",
        "made": "2026-07-19T12:00:00.000Z",
        "site": "x",
        "configuration": "h.toml",
        "data": "data",
    }
    return json.dumps(told | {"files": files} | more).encode()


def _zip(method, manifest=b"{}"):
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w", method) as archive:
        archive.writestr(MANIFEST, manifest)
        archive.writestr("site/h.toml", b"x" * 8)
    return raw.getvalue()


_WHOLE = json.dumps(
    json.loads(_manifest("site/h.toml"))
    | {"files": [{"name": "site/h.toml", "size": 8, "sha256": hashlib.sha256(b"x" * 8).hexdigest(), "path": ""}]}
).encode()
PARSER = Parser(
    read,
    allowed=(MisuseError, UnavailableError),
    seeds=(
        b"m" + _manifest("site/h.toml") + b"\0abcdefgh",
        b"m"
        + _manifest("site/h.toml", "data/labels.csv", "data/keys/k.pem", "elsewhere/0-pw")
        + b"\0"
        + b"abcdefgh" * 4,
        b"m" + _manifest("site/h.toml", "data/journal.db") + b"\0" + b"abcdefgh" * 2,
        b"m" + _manifest("site/h.toml", "site/./h.toml", "site/h.toml/x", data="a/b") + b"\0",
        b"z" + _zip(zipfile.ZIP_DEFLATED, _WHOLE),
        b"z" + _zip(zipfile.ZIP_BZIP2, _WHOLE),
        b"z" + _zip(zipfile.ZIP_LZMA, _WHOLE),
    ),
    words=(
        b'"files":[',
        b'"name":"site/',
        b'"name":"data/',
        b'"elsewhere/',
        b'"size":"?"',
        b'"sha256":"?"',
        b'"path":""',
        b"//",
        b"/../",
        b"\\u0000",
        b"\\ud800",
        b'"data":"',
        b'"configuration":"',
        b"PK\x01\x02",
        b"PK\x03\x04",
        b"PK\x05\x06",
        b"PK\x06\x06",
        b"PK\x06\x07",
        b"manifest.json",
    ),
    longest=3000,
    seconds=10,
)
