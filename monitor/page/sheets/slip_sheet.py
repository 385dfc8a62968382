"""An empty slip of a place, to print and hang up: lines for what is done and read while no phone is at hand."""

from starlette.requests import Request
from starlette.responses import Response

from monitor.page.pictures.slip_picture import slip_of
from monitor.page.places.needs import name_of
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import place_of


def slip(page: PageContext, request: Request) -> Response:
    """Show the slip of a place."""
    with page.yard.look() as look:
        place = place_of(look, request)
        drawn = slip_of(look.engine.state.settings, place, page.settings.link)
        return page.show(request, "slip.html", look, slip=drawn, place=place, name=name_of(look.engine, place))
