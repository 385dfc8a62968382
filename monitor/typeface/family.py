"""The typeface itself: what stands in for it, and where its package lies on this machine."""

from functools import cache
from importlib import metadata
from importlib.util import find_spec
from pathlib import Path

PACKAGE, DISTRIBUTION = "fontpkg_literata", "fontpkg-literata"
FALLBACKS = 'Georgia, "Noto Serif", "Iowan Old Style", serif'
"""Typefaces of the reader's machine, in their order, where ours is missing or on its way."""


@cache
def family_folder() -> Path | None:
    """Return the folder with the typeface's files; None if its package is not installed."""
    found = find_spec(PACKAGE)
    if found is None or found.origin is None:
        return None
    folder = Path(found.origin).parent / "files"
    return folder if any(folder.glob("*.ttf")) else None


def family_version() -> str:
    """Return the version of the typeface; "" if it is not installed."""
    if family_folder() is None:
        return ""
    try:
        return metadata.version(DISTRIBUTION)
    except metadata.PackageNotFoundError:
        return ""
