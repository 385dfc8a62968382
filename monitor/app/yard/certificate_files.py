"""The certificates that are kept in the data folder, by their names."""

import re
from pathlib import Path

FOLDER = "certificates"
NAME = re.compile(
    r"(?P<batch>[A-Za-z0-9_-]+)\.(?P<made>\d{8}T\d{6}Z)\.(?P<verdict>met|not-met-yet|not-met|not-proven)\.pdf"
)


def certified(data: Path, batch: str) -> bool:
    """Return whether a certificate that says *met* is kept of a batch.

    Args:
        data: The data folder.
        batch: The batch.
    """
    folder = data / FOLDER
    found = (NAME.fullmatch(path.name) for path in folder.iterdir()) if folder.is_dir() else ()
    return any(one is not None and one["batch"] == batch and one["verdict"] == "met" for one in found)
