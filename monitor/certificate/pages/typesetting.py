"""Sets pages with typst in a child process: files in, PDF/A-3b out, the same bytes for the same files.

The typeface comes from its package, else from typst itself: no fonts of the machine, no packages, no network, no clock; the
template takes its date from its data. The version of typst and a digest of all program text that shapes the pages are part
of what a certificate states, so that who checks it knows whether the pages can be compared byte for byte.
"""

import platform
import subprocess
import sys
from collections.abc import Iterator, Mapping
from functools import cache
from hashlib import sha256
from importlib import metadata
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from tempfile import TemporaryDirectory

from monitor.certificate.extra import INSTALL
from monitor.model.errors import UnavailableError
from monitor.typeface import family_folder, family_version

_LONGEST_S = 600
_SHAPING = ("monitor.certificate", "monitor.drawing", "monitor.proof", "monitor.model")


def typeset(pages: Mapping[str, bytes]) -> bytes:
    """Return the PDF of `main.typ` among files that it may read.

    Raises:
        UnavailableError: typst is missing, or the pages cannot be set.
    """
    typst_version()
    with TemporaryDirectory(prefix="heaptender-pages-") as name:
        folder = Path(name)
        for file, data in pages.items():
            (folder / file).write_bytes(data)
        program = Path(str(files("monitor.certificate.pages").joinpath("typesetter.py")))
        try:
            done = subprocess.run(  # noqa: S603 - our own program, no shell
                [sys.executable, "-P", str(program), str(folder), *map(str, filter(None, [family_folder()]))],
                capture_output=True,
                timeout=_LONGEST_S,
                check=False,
            )
        except (OSError, subprocess.SubprocessError) as fault:
            raise UnavailableError(f"The pages could not be set ({fault}).") from fault
        if done.returncode != 0 or not (folder / "out.pdf").exists():
            told = done.stderr.decode("utf-8", "replace").strip().splitlines()
            raise UnavailableError(f"The pages could not be set ({told[0] if told else 'typst said nothing'}).")
        return (folder / "out.pdf").read_bytes()


@cache
def typst_version() -> str:
    """Return the version of the typesetter.

    Raises:
        UnavailableError: It is not installed.
    """
    try:
        return metadata.version("typst")
    except metadata.PackageNotFoundError as fault:
        raise UnavailableError(f"Certificates need typst, which is not installed: {INSTALL}.") from fault


@cache
def layout_digest() -> str:
    """Return a digest of program text and typeface that shape the pages, and of the kind of machine: 16 hexadecimal digits.

    Whether typst sets the same bytes on every kind of processor was not tried, so pages of another kind are not compared.
    """
    digest = sha256(f"{platform.machine()}\0{family_version()}\0".encode())
    for name, text in shaping_texts():
        digest.update(f"{name}\0".encode())
        digest.update(text)
    return digest.hexdigest()[:16]


def shaping_texts() -> Iterator[tuple[str, bytes]]:
    """Yield the name and the text of each program file that shapes the pages, rooms within a package too, in order."""
    for package in _SHAPING:
        yield from _texts_below(package, files(package))


def _texts_below(place: str, folder: Traversable) -> Iterator[tuple[str, bytes]]:
    for entry in sorted(folder.iterdir(), key=lambda one: one.name):
        if entry.is_dir():
            yield from _texts_below(f"{place}/{entry.name}", entry)
        elif entry.name.endswith((".py", ".typ")):
            yield f"{place}/{entry.name}", entry.read_bytes().replace(b"\r\n", b"\n")
