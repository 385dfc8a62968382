"""Takes in the photo of a remark, for page and command line alike: stripped, kept, and named for the entry; or refused."""

import hashlib
from collections.abc import Iterable
from pathlib import Path

from monitor.app.entries.work_log import Entered, work_log
from monitor.codec import PHOTO_MOST, plain_photo, too_large
from monitor.configuration import Configuration
from monitor.journal import PHOTOS, PhotoFolder, PhotosFullError, Store
from monitor.model.errors import FieldError, MisuseError
from monitor.model.photo_names import photo_name, photo_parts

FIELD = "photo"


def photos_of(configuration: Configuration) -> PhotoFolder:
    """Return the yard's photos."""
    return PhotoFolder(configuration.data / PHOTOS)


def keep_photo(configuration: Configuration, data: bytes, *, only_look: bool = False) -> str:
    """Keep a photo, and return its name for the entry.

    Args:
        configuration: The yard's configuration.
        data: A JPEG as it was sent.
        only_look: Whether it is looked at only, and not kept.

    Raises:
        FieldError: It is no such photo, or the yard has no room for it; the sentence says what would be right.
        UnavailableError: The disk does not take it.
    """
    most = configuration.photos_most
    if not most:
        raise FieldError("This yard takes no photos; write the entry down without one.", FIELD)
    try:
        plain = plain_photo(data)
    except ValueError as fault:
        words = str(fault)
        raise FieldError(f"{words[:1].upper()}{words[1:]}.", FIELD) from fault
    if only_look:
        return photo_name(hashlib.sha256(plain.data).hexdigest(), plain.lies)
    try:
        return photo_name(photos_of(configuration).keep(plain.data, most), plain.lies)
    except PhotosFullError as fault:
        words = f"The yard's photos have {fault.used / 1e6:.0f} MB already, and {most / 1e6:.0f} MB is all the room for them."
        right = (
            "Write the entry down without a photo, or give them more room: `most` in `[photos]` of the configuration."
        )
        raise FieldError(f"{words} {right}", FIELD) from fault


def photo_of_file(configuration: Configuration, path: str, *, only_look: bool = False) -> str:
    """Keep the photo in a file, and return its name as `keep_photo` does.

    Args:
        configuration: The yard's configuration.
        path: The file.
        only_look: Whether it is looked at only, and not kept.

    Raises:
        FieldError: As `keep_photo`.
        MisuseError: The file cannot be read.
        UnavailableError: As `keep_photo`.
    """
    try:
        with Path(path).open("rb") as file:
            data = file.read(PHOTO_MOST + 1)
            size = file.seek(0, 2) if len(data) > PHOTO_MOST else len(data)
    except OSError as fault:
        raise MisuseError(
            f"{path} cannot be read ({fault.strerror or fault}); name a JPEG file with --photo."
        ) from fault
    if size > PHOTO_MOST:
        raise FieldError(f"{path}: {too_large(size)}.", FIELD)
    return keep_photo(configuration, data, only_look=only_look)


def photos_named(store: Store) -> set[str]:
    """Return the SHA-256 of each photo that an entry names as it stands now: neither taken back nor put right without it."""
    return set(_hashes(work_log(store)))


def _hashes(entries: Iterable[Entered]) -> Iterable[str]:
    for entry in entries:
        parts = None if entry.work is None else photo_parts(entry.work.photo)
        if parts is not None:
            yield parts[0]
