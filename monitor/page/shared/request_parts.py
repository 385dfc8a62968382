"""Reads the parts of a request: its sender, its form, the place that it names, and the address its sheet leads back to."""

from urllib.parse import urlencode

from starlette.requests import Request

from monitor.model.errors import MisuseError
from monitor.model.settings import YARD
from monitor.page.ports import Look
from monitor.page.visitors.form_reading import SentPhoto
from monitor.page.visitors.sessions import Visitor


def back_of(request: Request) -> str:
    """Return the address to which a form of this sheet leads back, with its query, such as a span of time."""
    asked = [(name, value) for name, value in request.query_params.multi_items() if name != "done"]
    return request.url.path + (f"?{urlencode(asked)}" if asked else "")


def visitor_of(request: Request) -> Visitor:
    """Return the sender of a request, as the gate found it."""
    visitor = request.scope["visitor"]
    assert isinstance(visitor, Visitor)
    return visitor


def form_of(request: Request) -> dict[str, str]:
    """Return the form of a request, as the gate read it."""
    form: dict[str, str] = request.scope.get("form", {})
    return form


def photo_of(request: Request) -> SentPhoto | None:
    """Return the photo that was sent with the form of a request, as the gate read it; None if there is none."""
    photo: SentPhoto | None = request.scope.get("photo")
    return photo


def place_of(look: Look, request: Request, *, or_yard: bool = False) -> str:
    """Return the place that an address or form names.

    Args:
        look: The look.
        request: The request.
        or_yard: Whether the whole yard may be meant, too.

    Raises:
        MisuseError: There is no place of that id.
    """
    place = request.path_params.get("place") or form_of(request).get("place", "")
    settings = look.engine.state.settings
    if place not in settings.piles and place not in settings.bins and not (or_yard and place == YARD):
        raise MisuseError("There is no such pile or bin in this yard.")
    return str(place)
