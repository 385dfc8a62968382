"""Makes a certificate of the batch on a pile."""

import logging

from starlette.requests import Request
from starlette.responses import Response

from monitor.model.errors import MonitorError
from monitor.page.actions.submit import author, lead_back
from monitor.page.forms.sent_form import SentForm
from monitor.page.shared.just_done import JustDone
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import form_of, place_of, visitor_of
from monitor.page.sheets.place_sheet import show_place

log = logging.getLogger("heaptender.page")


def certify(page: PageContext, request: Request) -> Response:
    """Make a certificate of the batch on a pile, as it stands."""
    form, visitor = form_of(request), visitor_of(request)
    if page.certifying is None:
        raise KeyError("certify")
    with page.yard.look() as look:
        name = place_of(look, request)
        batch = look.engine.state.batches.lying.get(name)
        if batch is None:
            return show_place(page, request, look, name, SentForm(trouble="Nothing lies here that could be certified."))
        try:
            paper = page.certifying.make(batch, author(visitor, form))
        except MonitorError as fault:
            return show_place(page, request, look, name, SentForm(trouble=fault))
    log.info("Certificate %s made by %s.", paper.name, author(visitor, form))
    return lead_back(page, form, JustDone(name, f"Certificate made: {paper.words}"))
