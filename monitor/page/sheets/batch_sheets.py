"""A batch's days by its rule, and its certificates."""

from starlette.requests import Request
from starlette.responses import Response

from monitor.page.places.all_places import place_view
from monitor.page.places.needs import needs
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import place_of
from monitor.page.sheets.keepers_only import keepers_only


@keepers_only
def days(page: PageContext, request: Request) -> Response:
    """Show which days of the batch on a pile count for its rule, and why others do not; this takes a second or two."""
    with page.yard.look() as look:
        name = place_of(look, request)
        batch = look.engine.state.batches.lying.get(name)
        if page.certifying is None or batch is None:
            raise KeyError("days")
        found = page.certifying.days(batch)
        view = place_view(look.engine, name, needs(look.engine, look.now), look.now)
        return page.show(request, "days.html", look, view=view, days=found, counted=sum(day.counts for day in found))


@keepers_only
def certificate(page: PageContext, request: Request) -> Response:
    """Send a certificate; only to keepers, because it names who logged what."""
    certifying = page.certifying
    if certifying is None:
        raise KeyError("certificate")
    name = request.path_params["name"]
    data = certifying.pdf(name)
    headers = {"content-disposition": f'inline; filename="{name}"'}
    return Response(data, media_type="application/pdf", headers=headers)
