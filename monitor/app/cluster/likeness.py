"""Tells whether two computers run the same Heaptender: its version is not enough, so its source is compared too.

A worker that decides a little otherwise would give scores that nobody could get again at home.
"""

import platform
from functools import cache
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import NamedTuple

_PACKAGE = Path(__file__).parents[2]


class Likeness(NamedTuple):
    """The parts of a computer's Heaptender that its answers depend on.

    Attributes:
        release: The version, such as 0.1.0.
        source: A digest (hex) of the package's Python files.
        python: Python's version, such as 3.11.
        numpy: numpy's version.
    """

    release: str
    source: str
    python: str
    numpy: str


@cache
def likeness() -> Likeness:
    """Return the likeness of this process."""
    digest = sha256()
    for path in sorted(_PACKAGE.rglob("*.py")):
        digest.update(f"{path.relative_to(_PACKAGE).as_posix()}\0".encode())
        digest.update(sha256(path.read_bytes()).digest())
    python = ".".join(platform.python_version_tuple()[:2])
    return Likeness(_version("heaptender"), digest.hexdigest(), python, _version("numpy"))


def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "not installed"


def unlike_words(here: Likeness, there: Likeness | None) -> str:
    """Return how another computer's Heaptender differs from the one here, as the end of a sentence; "" if it does not.

    Args:
        here: What this process runs.
        there: What the other runs; None: nothing that could be asked.
    """
    if there is None:
        return "has no Heaptender, or an older one that cannot be asked"
    if there.python != here.python:
        return f"runs Python {there.python}, and this computer {here.python}"
    if there.release != here.release:
        return f"runs Heaptender {there.release}, and this computer {here.release}"
    if there.source != here.source:
        return f"runs another Heaptender of the same number ({here.release}): its source differs"
    if there.numpy != here.numpy:
        return f"runs numpy {there.numpy}, and this computer {here.numpy}"
    return ""
