"""Marks a stretch of a place's plot as trouble or fine, for `tune` to learn from."""

import logging
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import Response

from monitor.model.errors import FieldError, MisuseError
from monitor.page.actions.submit import author, lead_back
from monitor.page.forms.sent_form import SentForm
from monitor.page.places.page_times import from_text
from monitor.page.ports import Look, Mark
from monitor.page.shared.just_done import JustDone
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import form_of, place_of, visitor_of
from monitor.page.sheets.place_sheet import show_place

log = logging.getLogger("heaptender.page")

MARK_KINDS = ("trouble", "fine")


def mark(page: PageContext, request: Request) -> Response:
    """Mark a stretch of a place as trouble or fine, or take a mark back."""
    form, visitor = form_of(request), visitor_of(request)
    if page.marking is None:
        raise KeyError("mark")
    with page.yard.look() as look:
        name = place_of(look, request)
        try:
            stretch = _stretch(look, form)
        except MisuseError as fault:
            return show_place(page, request, look, name, SentForm(form, fault))
    by = author(visitor, form)
    if form.get("drop"):
        page.marking.unmark(name, stretch)
        words = f"no longer marked as {stretch.kind}"
    else:
        page.marking.mark(name, stretch, by)
        words = f"marked as {stretch.kind}"
    log.info("%s %s, by %s.", name, words, by)
    return lead_back(page, form, JustDone(name, words[:1].upper() + words[1:]))


def _stretch(look: Look, form: dict[str, str]) -> Mark:
    zone = ZoneInfo(look.engine.state.settings.site.time_zone)
    start, end = (from_text(form.get(name, ""), zone) for name in ("from", "to"))
    if start is None or end is None or start >= end:
        raise FieldError("A stretch needs a beginning and a later end.", "from")
    kind = form.get("kind", "")
    if kind not in MARK_KINDS:
        raise MisuseError("Say whether it was trouble or fine.")
    note = "".join(sign if sign.isprintable() else " " for sign in form.get("note", ""))[:400].strip()
    return Mark(start, end, kind, note)
