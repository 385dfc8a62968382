"""Looks after the photos of remarks: removes those that no entry names any more, and takes them along with copies and back.

Rules:
1. A photo goes thirty days after the last look at which an entry named it: taken back, put right without it, or dropped with
   its day by retention. Until then a slip can be mended, or an older copy put back.
2. Beside the copies of the journal lies each photo once. One that the yard lost comes back from there. It goes from there when
   no kept copy is as old as the last one that went with it.
"""

import time
from collections.abc import Collection
from pathlib import Path

from monitor.app.entries.photo_taken import photos_named, photos_of
from monitor.app.upkeep.backups import copies_in
from monitor.configuration import Configuration
from monitor.journal import PHOTOS, PhotoFolder, bring_photos, open_reader

UNNAMED_S = 30 * 86_400
"""How long a photo stays that no entry names, seconds (our choice)."""


def tidy_photos(configuration: Configuration) -> int:
    """Remove the photos that no entry has named for thirty days; return how many went.

    Raises:
        UnavailableError: The record cannot be read, or a photo cannot be removed.
    """
    photos = photos_of(configuration)
    if not photos.folder.is_dir():
        return 0
    named = _named(configuration)
    photos.touch(named)
    return photos.remove(named, UNNAMED_S)


def copy_photos(configuration: Configuration, folder: Path) -> None:
    """Bring the photos beside the copies of the journal up to date.

    Args:
        configuration: The yard's configuration.
        folder: The folder of the copies.

    Raises:
        UnavailableError: A photo cannot be written there.
    """
    yard, copies = photos_of(configuration), PhotoFolder(folder / PHOTOS)
    if not (yard.folder.is_dir() or copies.folder.is_dir()):
        return
    named = _named(configuration)
    bring_photos(copies, yard, named)
    bring_photos(yard, copies, named)
    copies.touch(named)
    oldest = min((copy.stat().st_mtime for copy in copies_in(folder)), default=0.0)
    copies.remove(named, max(0.0, time.time() - oldest))


def photos_back(configuration: Configuration, copy: Path) -> tuple[int, int]:
    """Bring the photos that a restored journal names back from beside its copy; return how many came, and how many lack.

    Raises:
        UnavailableError: The journal cannot be read, or a photo cannot be written.
    """
    yard, named = photos_of(configuration), _named(configuration)
    came = bring_photos(PhotoFolder(copy.parent / PHOTOS), yard, named)
    yard.touch([sha256 for sha256, _, _ in yard.listed()])
    return came, sum(yard.read(one) is None for one in named)


def _named(configuration: Configuration) -> Collection[str]:
    with open_reader(configuration.data) as store:
        return photos_named(store)
