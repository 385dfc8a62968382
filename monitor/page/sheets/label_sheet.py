"""Labels to print, one for each place: its name, and a code that opens its page."""

from typing import NamedTuple
from urllib.parse import urlsplit

from starlette.requests import Request
from starlette.responses import Response

from monitor.model.natural_order import natural
from monitor.page.pictures.qr_code import qr_code
from monitor.page.places.needs import name_of
from monitor.page.ports import Look
from monitor.page.shared.page_context import PageContext
from monitor.page.visitors.hosts import host_name, is_loopback
from monitor.page.visitors.message_links import place_address

CODE_MM = 50
"""Size of a label's code, mm: large enough to be read from a barrow's length, and through some mud."""


class Label(NamedTuple):
    """The label of a place; `code` is the QR code of its address, as SVG; `size` says how large its name can be."""

    place: str
    name: str
    is_bin: bool
    address: str
    code: str

    @property
    def size(self) -> str:
        """Length of the name: `short`, `middle` or `long`; the longer, the smaller it is set."""
        return "short" if len(self.name) <= 12 else "middle" if len(self.name) <= 22 else "long"


def labels(page: PageContext, request: Request) -> Response:
    """Show a label for each place, in natural order of their names."""
    with page.yard.look() as look:
        settings = look.engine.state.settings
        made = [_label(page, look, place) for place in (*settings.piles, *settings.bins)]
        made.sort(key=lambda label: natural(label.name))
        # A label with a loopback address would only work on this computer.
        lead_here = is_loopback(host_name(urlsplit(page.settings.link).netloc))
        return page.show(request, "labels.html", look, labels=made, loopback=lead_here)


def _label(page: PageContext, look: Look, place: str) -> Label:
    address = place_address(page.settings.link, place)
    code = qr_code(address, "QR code that opens the page of this place", mm=CODE_MM)
    return Label(place, name_of(look.engine, place), place in look.engine.state.settings.bins, address, code)
