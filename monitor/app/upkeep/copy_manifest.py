"""The manifest beside each copy of the record: what belongs to the copy, with size and SHA-256, and what is damaged in it.

Rules:
1. `journal-….json` lies beside `journal-….sqlite` and is written when the copy is whole; a copy without one is of an older
   version.
2. It names the copy, the files that travel in it, and the photos that its entries name. A photo that lacks, lacks openly.
3. It proves nothing against somebody who can write there: it shows what a failing disk, a torn transfer or a slip changed.
"""

import hashlib
import json
from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any

from monitor.app.console.whole_files import replace_text
from monitor.app.entries.photo_taken import photos_named
from monitor.configuration import Configuration
from monitor.journal import PHOTOS, PhotoFolder, copy_reader, files_beside
from monitor.model.errors import MonitorError
from monitor.model.times import DAY_MS, show_time

FORMAT = "heaptender copy 1"
_CHUNK = 1 << 20
_MOST = 32_000_000
"""The largest manifest that is read, bytes (our choice)."""


def manifest_path(copy: Path) -> Path:
    """Return where the manifest of a copy lies."""
    return copy.with_suffix(".json")


def write_manifest(configuration: Configuration, copy: Path, made_ms: int, damaged: Sequence[str] = ()) -> None:
    """Write the manifest of a copy, once the photos lie beside it.

    Args:
        configuration: The yard's configuration.
        copy: The copy, whole.
        made_ms: When it was made, UTC ms.
        damaged: What is damaged in it, a sentence each; empty for a good copy.

    Raises:
        UnavailableError: It cannot be written.
    """
    manifest = {
        "format": FORMAT,
        "by": version("heaptender"),
        "made": show_time(made_ms),
        "site": configuration.settings.site.name,
        "record": {"name": copy.name, **_measured(copy), **_reach(copy)},
        "beside": [{"name": name, **told} for name, told in sorted(_beside(copy).items())],
        "photos": _photos(copy),
        "damaged": list(damaged),
    }
    replace_text(manifest_path(copy), json.dumps(manifest, ensure_ascii=False, indent=1) + "\n")


def damage_named(copy: Path) -> list[str]:
    """Return the damage that the manifest of a copy names; none if there is no manifest that can be read."""
    try:
        return [str(one) for one in _read(copy)["damaged"]]
    except (OSError, ValueError, KeyError, TypeError):
        return []


def held_against_manifest(copy: Path, *, quick: bool = False, photos: bool = True) -> list[str]:
    """Hold a copy against its manifest, and return how they differ, a phrase each.

    Args:
        copy: The copy.
        quick: Whether only sizes are compared.
        photos: Whether the photos beside it are looked at too.

    Raises:
        FileNotFoundError: The copy has no manifest.
        OSError: One of them cannot be read.
    """
    try:
        manifest = _read(copy)
        record, named = manifest["record"], [(str(one["sha256"]), one["size"]) for one in manifest["photos"]]
        size, sha256, name = int(record["size"]), str(record["sha256"]), str(record["name"])
        beside = {str(one["name"]): {"size": one["size"], "sha256": one["sha256"]} for one in manifest["beside"]}
    except (ValueError, KeyError, TypeError) as fault:
        return [f"its manifest cannot be read ({str(fault)[:80]})"]
    if name != copy.name:
        return [f"its manifest is that of {name[:80]}"]
    if copy.stat().st_size != size:
        return [f"it has {copy.stat().st_size} bytes, and its manifest says {size}"]
    found = []
    if not quick:
        if _measured(copy)["sha256"] != sha256:
            found.append("its SHA-256 is not that of its manifest")
        elif beside != _beside(copy):
            found.append("the files that travel in it are not those of its manifest")
    return found + (_lacking(PhotoFolder(copy.parent / PHOTOS), named, quick=quick) if photos else [])


def _lacking(folder: PhotoFolder, photos: list[tuple[str, int | None]], *, quick: bool) -> list[str]:
    there = {sha256: size for sha256, size, _ in folder.listed()}
    # A photo goes from beside the copies only when no copy is left that named it.
    wrong = [
        sha256
        for sha256, size in photos
        if size is not None and (there.get(sha256) != size or (not quick and folder.read(sha256) is None))
    ]
    count = "photo that it names lacks or has" if len(wrong) == 1 else "photos that it names lack or have"
    return [f"{len(wrong)} {count} changed"] if wrong else []


def _read(copy: Path) -> dict[str, Any]:
    path = manifest_path(copy)
    if path.stat().st_size > _MOST:
        raise ValueError("too large")
    try:
        manifest = json.loads(path.read_text(encoding="utf-8"))
    except RecursionError as fault:
        raise ValueError("nested too deeply") from fault
    if not isinstance(manifest, dict) or manifest.get("format") != FORMAT:
        raise ValueError("another format")
    return manifest


def _measured(path: Path) -> dict[str, Any]:
    digest = hashlib.sha256()
    with path.open("rb") as read:
        while piece := read.read(_CHUNK):
            digest.update(piece)
    return {"size": path.stat().st_size, "sha256": digest.hexdigest()}


def _reach(copy: Path) -> dict[str, Any]:
    """Return the days that the record of a copy holds, its end, and the head of its chain; nothing where it is damaged."""
    try:
        with copy_reader(copy) as store:
            links, mark = store.chain(), store.mark()
    except MonitorError:
        return {}
    days = [link.day for link in links] + ([] if mark.day is None else [mark.day])
    latest = mark.latest()
    return {
        "first_day": show_time(days[0] * DAY_MS)[:10] if days else None,
        "last_day": show_time(days[-1] * DAY_MS)[:10] if days else None,
        "until": None if latest is None else show_time(latest),
        "head": links[-1].head.hex() if links else None,
    }


def _photos(copy: Path) -> list[dict[str, Any]]:
    """Return the photos that the entries of a copy name; the size of one that does not lie beside it is null."""
    try:
        with copy_reader(copy) as store:
            named = photos_named(store)
    except MonitorError:
        return []
    there = {sha256: size for sha256, size, _ in PhotoFolder(copy.parent / PHOTOS).listed()}
    return [{"sha256": one, "size": there.get(one)} for one in sorted(named)]


def _beside(copy: Path) -> dict[str, dict[str, Any]]:
    """Return size and SHA-256 of the files that travel in a copy, by name; nothing where it is damaged."""
    try:
        with copy_reader(copy) as store:
            found = files_beside(store)
    except MonitorError:
        return {}
    return {name: {"size": len(data), "sha256": hashlib.sha256(data).hexdigest()} for name, data in found.items()}
