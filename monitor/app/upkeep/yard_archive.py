"""Packs a whole yard into one file, and unpacks it on another computer.

Rules:
1. No daemon runs while a yard is packed: nothing can come in that the file would lack. The record travels as a copy that the
   journal itself makes and checks.
2. A manifest names every file with its size and SHA-256. Unpacking checks all of them, and that no name leads out of its
   folder, before anything is put in place.
3. Unpacking needs an empty folder, and overwrites nothing. A file that the configuration names by an absolute path lies in
   `elsewhere`, and people are told where it belongs.
"""

import hashlib
import json
import lzma
import os
import shutil
import struct
import tempfile
import time
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from importlib.metadata import version
from pathlib import Path, PurePosixPath
from typing import Any

from monitor.app.console.whole_files import whole_file
from monitor.app.material.kept_file import KEPT_FILE
from monitor.app.upkeep.disk_room import FILE as ROOM_FILE
from monitor.app.yard.taken_file import FILE as TAKEN_FILE
from monitor.configuration import Configuration
from monitor.journal import FILE_MODE, FOLDER_MODE, JOURNAL_FILE, LOCK_FILE, Restored, backup, holder, restore
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.times import show_time

FORMAT = "heaptender yard 1"
MANIFEST = "manifest.json"
SITE, DATA, ELSEWHERE = "site", "data", "elsewhere"
MANIFEST_MOST = 32_000_000
"""The largest manifest that is read, bytes (our choice): each of all photos that a yard may have takes some 300."""

_RECORD = tuple(f"{JOURNAL_FILE}{side}" for side in ("", "-wal", "-shm", "-journal"))
_NOT_TAKEN = (LOCK_FILE, *_RECORD, ROOM_FILE, TAKEN_FILE, KEPT_FILE)
"""The record, which travels as a copy; facts of this computer; what can be worked out anew."""
_NOT_TAKEN_FOLDERS = ("restoring", "typeface")
_CHUNK = 1 << 20
_PACKING_FAULTS = (zlib.error, lzma.LZMAError, RuntimeError)
"""Further errors of the library for a file in an archive: packed in another way than ours, for which there may be no reader
(`NotImplementedError`), encrypted, or nested too deeply (both `RuntimeError`)."""


@dataclass(frozen=True, slots=True)
class Packed:
    """A yard in a file: the number of files in it, and those that were named by absolute paths."""

    files: int
    elsewhere: list[str]


@dataclass(frozen=True, slots=True)
class Unpacked:
    """A yard put in place.

    Attributes:
        site: The yard's name.
        made: When it was packed, ISO 8601.
        configuration: The configuration file.
        data: The data folder.
        record: The result of putting the record in place; None: there was no record yet.
        elsewhere: Files to put in place by hand: where they lie now, and where the configuration looks for them.
    """

    site: str
    made: str
    configuration: Path
    data: Path
    record: Restored | None
    elsewhere: list[tuple[Path, str]] = field(default_factory=list)


def pack(configuration: Configuration, out: Path) -> Packed:
    """Write everything of a yard into one file, which only this user may read.

    Raises:
        MisuseError: A folder or a device stands in the file's place, or the file lies in the data folder.
        UnavailableError: A daemon runs, the record is damaged, or a file cannot be read or written.
    """
    data = configuration.data
    if data.resolve() in out.resolve().parents:
        raise MisuseError(f"{out} would lie in the data folder, and so in itself; name a file elsewhere.")
    if (process := holder(data)) is not None:
        raise UnavailableError(
            f"The daemon runs (process {process}). Stop it first: what came in after the packing would be missing there."
        )
    files = list(_files(configuration, out))
    with tempfile.TemporaryDirectory(prefix="heaptender-pack-", dir=out.absolute().parent) as room:
        copy = Path(room) / JOURNAL_FILE
        if (data / JOURNAL_FILE).exists():
            backup(data, copy)
            files.append((f"{DATA}/{JOURNAL_FILE}", copy, ""))
        with whole_file(out) as raw:
            os.fchmod(raw.fileno(), FILE_MODE)
            with zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED) as archive:
                described = [_put(archive, *one) for one in files]
                archive.writestr(
                    MANIFEST, json.dumps(_manifest(configuration, described), ensure_ascii=False, indent=1)
                )
    return Packed(len(files), [one["path"] for one in described if one["path"]])


def unpack(file: Path, folder: Path) -> Unpacked:
    """Check a packed yard, and put it in place.

    Args:
        file: The packed yard.
        folder: The folder that gets the configuration; made if it is not there.

    Raises:
        MisuseError: It is no packed yard, or something is there already.
        UnavailableError: A file in it is not what was packed, or cannot be written.
    """
    try:
        with _opened(file) as archive:
            manifest = _read_manifest(archive, file)
            data = folder / manifest["data"]
            for room in (folder, data):
                _must_be_empty(room, file)
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryDirectory(prefix=".unpacking-", dir=folder) as room:
                way_in = Path(room)
                for one in manifest["files"]:
                    _take(archive, one, way_in)
                return _in_place(manifest, way_in, folder)
    except FileNotFoundError as fault:
        raise MisuseError(f"{fault.filename or file} is not there; name a file that `heaptender pack` made.") from fault
    except (zipfile.BadZipFile, EOFError, UnicodeDecodeError) as fault:
        raise _broke_off(file) from fault
    except OSError as fault:
        raise UnavailableError(f"{fault.filename or file} cannot be used: {fault.strerror or fault}.") from fault


def _opened(file: Path) -> zipfile.ZipFile:
    """Open an archive; where its list of files is rubbish, the library raises errors that mean something else elsewhere."""
    try:
        return zipfile.ZipFile(file)
    except (NotImplementedError, ValueError, OverflowError, struct.error) as fault:
        raise _broke_off(file) from fault


def _broke_off(file: Path) -> MisuseError:
    return MisuseError(f"{file} is no packed yard, or broke off; name a file that `heaptender pack` made.")


def _must_be_empty(folder: Path, file: Path) -> None:
    """Refuse a folder in which something lies: a file from elsewhere must never come to lie among a person's own."""
    if not os.path.lexists(folder):
        return
    if not folder.is_dir() or any(path.absolute() != file.absolute() for path in folder.iterdir()):
        raise MisuseError(f"{folder} is not empty; name a new or an empty folder.")


def _files(configuration: Configuration, out: Path) -> Iterator[tuple[str, Path, str]]:
    """Yield name in the archive, file, and the absolute path it was named by ("": it lies with the yard)."""
    source = _source(configuration)
    home = source.absolute().parent
    yield f"{SITE}/{source.name}", source, ""
    named = [*configuration.secret_files, *_of_broker(configuration)]
    for number, path in enumerate(dict.fromkeys(one.absolute() for one in named)):
        if path.is_relative_to(home):
            yield f"{SITE}/{path.relative_to(home).as_posix()}", path, ""
        else:
            yield f"{ELSEWHERE}/{number}-{path.name}", path, str(path)
    data = configuration.data
    copies = configuration.backup.folder.resolve() if configuration.backup is not None else None
    secrets = {one.absolute() for one in named} | {source.absolute(), out.absolute()}
    for path in sorted(data.rglob("*")):
        inside = path.relative_to(data)
        if path.is_symlink() or not path.is_file() or path.absolute() in secrets:
            continue
        if inside.as_posix() in _NOT_TAKEN or inside.parts[0] in _NOT_TAKEN_FOLDERS or path.name.endswith(".part"):
            continue
        if copies is not None and copies in path.resolve().parents:
            continue  # backups of the record, which travels itself
        yield f"{DATA}/{inside.as_posix()}", path, ""


def _source(configuration: Configuration) -> Path:
    if configuration.source is None:
        raise MisuseError("This yard has no configuration file, so there is nothing to pack.")
    return configuration.source


def _of_broker(configuration: Configuration) -> list[Path]:
    mqtt = configuration.mqtt
    if mqtt is None:
        return []
    return [
        _source(configuration).parent / one for one in (mqtt.ca_file, mqtt.cert_file, mqtt.key_file) if one is not None
    ]


def _put(archive: zipfile.ZipFile, name: str, path: Path, at: str) -> dict[str, Any]:
    digest, size = hashlib.sha256(), 0
    try:
        with path.open("rb") as read, archive.open(name, "w", force_zip64=True) as write:
            while piece := read.read(_CHUNK):
                digest.update(piece)
                size += len(piece)
                write.write(piece)
    except OSError as fault:
        raise UnavailableError(
            f"{path} cannot be read ({fault.strerror}); pack as the user who runs the daemon."
        ) from fault
    return {"name": name, "size": size, "sha256": digest.hexdigest(), "path": at}


def _manifest(configuration: Configuration, files: list[dict[str, Any]]) -> dict[str, Any]:
    source = _source(configuration)
    data, home = configuration.data.absolute(), source.absolute().parent
    return {
        "format": FORMAT,
        "by": version("heaptender"),
        "made": show_time(time.time_ns() // 1_000_000),
        "site": configuration.settings.site.name,
        "configuration": source.name,
        "data": data.relative_to(home).as_posix() if data.is_relative_to(home) else str(data),
        "files": files,
    }


def _read_manifest(archive: zipfile.ZipFile, file: Path) -> dict[str, Any]:
    wrong = MisuseError(f"{file} is no packed yard; name a file that `heaptender pack` made.")
    try:
        entry = archive.getinfo(MANIFEST)
        if entry.file_size > MANIFEST_MOST:
            raise wrong
        manifest = json.loads(archive.read(entry))
        sound = manifest["format"] == FORMAT and all(_is_sound(one) for one in manifest["files"])
        texts = [manifest[name] for name in ("site", "made", "configuration", "data", "by")]
        sound = sound and _can_be_named(manifest["data"])
    except (KeyError, ValueError, TypeError, AttributeError, *_PACKING_FAULTS) as fault:
        raise wrong from fault
    names = [one["name"] for one in manifest["files"]] if sound else []
    if not sound or not all(isinstance(text, str) for text in texts) or len(set(names)) < len(names):
        raise wrong
    if f"{SITE}/{manifest['configuration']}" not in names or ".." in PurePosixPath(manifest["data"]).parts:
        raise wrong
    return dict(manifest)


def _is_sound(one: dict[str, Any]) -> bool:
    name = PurePosixPath(one["name"])
    # In its plain form alone: of `site//etc/x` the rest after the first slash would be the root's.
    inside = str(name) == one["name"] and not name.is_absolute() and ".." not in name.parts and len(name.parts) > 1
    whole = isinstance(one["size"], int) and isinstance(one["sha256"], str) and isinstance(one["path"], str)
    return inside and whole and _can_be_named(one["name"]) and name.parts[0] in (SITE, DATA, ELSEWHERE)


def _can_be_named(name: str) -> bool:
    """Return whether a file system can have a name: no NUL, and no half of a pair of surrogates (`UnicodeEncodeError`)."""
    return b"\0" not in name.encode()


def _take(archive: zipfile.ZipFile, one: dict[str, Any], way_in: Path) -> None:
    """Write a file of the archive into a folder, and compare it with its digest."""
    target = way_in / one["name"]
    target.parent.mkdir(parents=True, mode=FOLDER_MODE, exist_ok=True)
    digest, left = hashlib.sha256(), int(one["size"])
    different = UnavailableError(f"{one['name']} is not what was packed; nothing was changed: pack the yard again.")
    try:
        descriptor = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, FILE_MODE)
        with archive.open(one["name"]) as read, os.fdopen(descriptor, "wb") as write:
            while piece := read.read(_CHUNK):
                left -= len(piece)
                if left < 0:
                    raise different
                digest.update(piece)
                write.write(piece)
    except (KeyError, zipfile.BadZipFile, EOFError, *_PACKING_FAULTS) as fault:
        raise different from fault
    if left or digest.hexdigest() != one["sha256"]:
        raise different


def _in_place(manifest: dict[str, Any], way_in: Path, folder: Path) -> Unpacked:
    """Move checked files to their places, the record last; if that fails, nothing of it stays."""
    data = folder / manifest["data"]
    moves: list[tuple[Path, Path]] = []
    elsewhere: list[tuple[Path, str]] = []
    for one in manifest["files"]:
        room, _, name = one["name"].partition("/")
        if room == DATA and name == JOURNAL_FILE:
            continue
        target = {SITE: folder, DATA: data, ELSEWHERE: folder / ELSEWHERE}[room] / name
        moves.append((way_in / one["name"], target))
        if room == ELSEWHERE:
            elsewhere.append((target, one["path"]))
    done: list[Path] = []
    try:
        data.mkdir(parents=True, mode=FOLDER_MODE, exist_ok=True)
        for source, target in moves:
            target.parent.mkdir(parents=True, mode=FOLDER_MODE, exist_ok=True)
            shutil.move(source, target)
            done.append(target)
        record = way_in / DATA / JOURNAL_FILE
        found = restore(data, record, time.time_ns() // 1_000_000) if record.exists() else None
    except BaseException:
        # Both folders were empty, so the lock is ours too, and another try finds them empty again.
        for target in (*done, data / LOCK_FILE):
            with suppress(OSError):
                target.unlink()
        for room in sorted((*folder.rglob("*"), *data.rglob("*")), reverse=True):
            with suppress(OSError):
                room.rmdir()
        raise
    return Unpacked(manifest["site"], manifest["made"], folder / manifest["configuration"], data, found, elsewhere)
