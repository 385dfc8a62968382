"""Tells a phone how the yard stands on its home screen: by its own name, with the page's icon and colours.

Only who may look at the yard gets it, because it holds the yard's name.
Source: Web Application Manifest (W3C), https://www.w3.org/TR/appmanifest/.
"""

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from monitor.drawing import PAPER_COLOURS
from monitor.page.shared.page_context import PageContext

SHORT_MOST = 12
"""The most letters of a name below an icon, on most phones."""

_ICONS = (("icon.svg", "any", "image/svg+xml", "any"), ("icon-192.png", "192x192", "image/png", "any"),
          ("icon-512.png", "512x512", "image/png", "maskable"))  # fmt: skip


def home_screen(page: PageContext, request: Request) -> Response:
    """Return the manifest of the yard's page."""
    del request
    with page.yard.look() as look:
        name = look.engine.state.settings.site.name
    paper = PAPER_COLOURS["light"]
    manifest = {
        "name": name,
        "short_name": short_name(name),
        "start_url": "/",
        "scope": "/",
        "display": "minimal-ui",
        "background_color": paper,
        "theme_color": paper,
        "icons": [
            {"src": page.files.address(file), "sizes": sizes, "type": kind, "purpose": purpose}
            for file, sizes, kind, purpose in _ICONS
        ],
    }
    return JSONResponse(manifest, media_type="application/manifest+json", headers={"cache-control": "no-store"})


def short_name(name: str) -> str:
    """Return as many whole words of a yard's name as stand below an icon; a longer first word is cut."""
    kept = name
    while len(kept) > SHORT_MOST and " " in kept:
        kept = kept.rsplit(" ", 1)[0]
    return kept[:SHORT_MOST]
