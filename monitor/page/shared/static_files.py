"""The page's own files: one stylesheet, one script, one icon; read once, named by their content, kept by browsers."""

import hashlib
from pathlib import Path

from starlette.responses import PlainTextResponse, Response

_KINDS = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".webmanifest": "application/manifest+json",
}


class StaticFiles:
    """The files of a folder, all in memory: they are few and small."""

    def __init__(self, folder: Path) -> None:
        self._files = {path.name: path.read_bytes() for path in sorted(folder.iterdir()) if path.suffix in _KINDS}
        from monitor.drawing import stylesheet  # noqa: PLC0415 (the drawings' colours go with the page's own)

        self._files["page.css"] += stylesheet().encode()
        self._marks = {name: hashlib.sha256(data).hexdigest()[:10] for name, data in self._files.items()}

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
