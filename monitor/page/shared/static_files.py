"""Serves the page's files: stylesheet, scripts, icons, the typeface; read once, named by their content, kept by browsers."""

import hashlib
import re
from collections.abc import Mapping
from pathlib import Path

from starlette.responses import PlainTextResponse, Response

from monitor.drawing import Mark, mark_rules, properties
from monitor.typeface import face_rules

HERE = Path(__file__).parents[1]
STYLES: Mapping[str, tuple[str, ...]] = {
    "page.css": (
        "text", "frame", "forms", "needs", "place", "plots", "probes-and-log", "sizes", "print",
    ),
    "yard.css": ("coming", "yard"),
    "further.css": ("other-sheets", "mix", "stock", "season"),
}  # fmt: skip
"""The stylesheets, each made of these files of `styles/`, in this order: later rules win. Every sheet has the first;
those of the places have no other, the yard's own has the second, and all further sheets have the third."""
_FURTHER = ("d-mix-", "d-tree-", "d-label-", "d-slip-", "d-code")
"""How the marks begin that only drawings of further sheets have."""
_ELSEWHERE = ("d-band-", "d-tried", "d-row-dot", "d-today", "d-chosen", "d-message", "d-trouble", "d-fine")
"""How the marks begin that no drawing of the page has, only those of the report of `tune`."""
_FOR_PEOPLE = re.compile(r"/\*.*?\*/|\n *| (?=\{)|(?<=[:,]) |;(?=\s*\})", re.DOTALL)
"""The parts of a stylesheet that only serve its readers: comments, line ends, indentation, blanks beside its signs."""
_KINDS = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml; charset=utf-8",
    ".png": "image/png",
    ".woff2": "font/woff2",
}


class StaticFiles:
    """The files, all in memory: they are few and small."""

    def __init__(self) -> None:
        self._files = {path.name: path.read_bytes() for path in (HERE / "static").iterdir() if path.suffix in _KINDS}
        for name in [name for name in self._files if name.endswith(".js")]:
            self._files[name] = _slim(self._files[name].decode()).encode()
        further = [mark for mark in Mark if mark.startswith(_FURTHER)]
        first = [mark for mark in Mark if not mark.startswith(_FURTHER + _ELSEWHERE)]
        self._styles = _styles("page.css") + properties() + mark_rules(first)
        self._marks: dict[str, str] = {}
        self._put({
            "page.css": (face_rules({}) + self._styles).encode(),
            "yard.css": _styles("yard.css").encode(),
            "further.css": (_styles("further.css") + mark_rules(further)).encode(),
        })  # fmt: skip

    def dress(self, cuts: Mapping[str, bytes]) -> None:
        """Serve the cuts of the typeface too, and a stylesheet that names them; from any thread, at any time."""
        named = {f"{name}.woff2": data for name, data in cuts.items()}
        self._put(named)
        faces = face_rules({name: self.address(f"{name}.woff2") for name in cuts})
        self._put({"page.css": (faces + self._styles).encode()})

    @property
    def faces(self) -> list[str]:
        """The addresses of the cuts that every sheet needs at once; [] while there are none."""
        return [self.address(f"{name}.woff2") for name in ("regular", "bold") if f"{name}.woff2" in self._files]

    def _put(self, files: Mapping[str, bytes]) -> None:
        """Add files or exchange them, all at once."""
        everything = {**self._files, **files}
        self._marks = {name: hashlib.sha256(data).hexdigest()[:10] for name, data in everything.items()}
        self._files = everything

    def address(self, name: str) -> str:
        """Return the address of a file; it changes with its content.

        Raises:
            KeyError: There is no such file.
        """
        return f"/static/{name}?{self._marks[name]}"

    def answer(self, name: str) -> Response:
        """Return a file."""
        data = self._files.get(name)
        if data is None:
            return PlainTextResponse("There is no such file.", 404)
        kept = {"cache-control": "public, max-age=31536000, immutable"}
        return Response(data, media_type=_KINDS[Path(name).suffix], headers=kept)


def _styles(name: str) -> str:
    """Return a stylesheet without what only serves its readers."""
    return _FOR_PEOPLE.sub("", "".join((HERE / "styles" / f"{one}.css").read_text("utf-8") for one in STYLES[name]))


def _slim(script: str) -> str:
    """Return a script without indentation, empty lines and lines of comment; line ends stay, since they end statements."""
    lines = (line.strip() for line in script.splitlines())
    return "".join(f"{line}\n" for line in lines if line and not line.startswith("//"))
