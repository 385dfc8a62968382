"""The certificates that are kept in the data folder, by their names, and notes of those that were written elsewhere.

Somebody who writes a certificate where they want it has it, so the diary asks for no other.
"""

import re
from contextlib import suppress
from pathlib import Path

from monitor.model.times import show_time

FOLDER = "certificates"
NAME = re.compile(
    r"(?P<batch>[A-Za-z0-9_-]+)\.(?P<made>\d{8}T\d{6}Z)\.(?P<verdict>met|not-met-yet|not-met|not-proven)\.pdf"
)


_ELSEWHERE = re.compile(r"(?P<batch>[A-Za-z0-9_-]+)\.\d{8}T\d{6}Z\.met\.elsewhere")


def stamp(at: int) -> str:
    """Return an instant (UTC ms) as the names of certificates have it."""
    return show_time(at)[:19].replace("-", "").replace(":", "") + "Z"


def note_elsewhere(data: Path, batch: str, made: int, out: Path) -> None:
    """Note that a certificate that says *met* was written outside the data folder; without a place for the note, nothing.

    Args:
        data: The data folder.
        batch: The batch.
        made: When, UTC ms.
        out: The certificate.
    """
    folder = data / FOLDER
    if out.resolve().is_relative_to(folder.resolve()):
        return
    with suppress(OSError):
        folder.mkdir(exist_ok=True)
        (folder / f"{batch}.{stamp(made)}.met.elsewhere").write_text(f"{out.resolve()}\n", "utf-8")


def certified(data: Path, batch: str) -> bool:
    """Return whether a certificate that says *met* was made of a batch, as far as the data folder knows.

    Args:
        data: The data folder.
        batch: The batch.
    """
    folder = data / FOLDER
    names = [path.name for path in folder.iterdir()] if folder.is_dir() else []
    kept = (NAME.fullmatch(name) for name in names)
    noted = (_ELSEWHERE.fullmatch(name) for name in names)
    return any(one is not None and one["batch"] == batch and one["verdict"] == "met" for one in kept) or any(
        one is not None and one["batch"] == batch for one in noted
    )
