"""A pile or a bin: its present state, what needs doing, its readings over time, and the forms for entries."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any
from urllib.parse import parse_qsl
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import Response

from monitor.model.readings import is_hand
from monitor.model.settings import YARD
from monitor.model.times import DAY_MS
from monitor.model.words import PHASE_SHOWN, Phase
from monitor.notices import cautions_for, hand_words
from monitor.page.forms.sent_form import UNSENT, SentForm
from monitor.page.pictures.place_plots import plots
from monitor.page.pictures.plot_table import table_of
from monitor.page.pictures.section_pictures import NARROW, WIDE, section
from monitor.page.places.all_places import place_view
from monitor.page.places.need_row import rank_of
from monitor.page.places.needs import needs
from monitor.page.places.place_log import log_of
from monitor.page.places.place_view import PlaceView
from monitor.page.ports import Look
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import back_of, place_of, visitor_of
from monitor.page.sheets.place_forms import form_of, forms_offered
from monitor.page.sheets.place_span import Span, span_of
from monitor.page.sheets.yard_entries import show_yard_entries
from monitor.page.visitors.own_paths import own_path

LOG_LINES = 30
LOG_SPAN_MS = 90 * DAY_MS


def place(page: PageContext, request: Request) -> Response:
    """Show a pile or a bin."""
    with page.yard.look() as look:
        return show_place(page, request, look, place_of(look, request))


def show_place(page: PageContext, request: Request, look: Look, name: str, sent: SentForm = UNSENT) -> Response:
    """Return the sheet of a place, or of the whole yard.

    Args:
        page: The shared parts.
        request: The request.
        look: The look.
        name: Id of the place.
        sent: The form just sent, if it was not taken in.
    """
    if name == YARD:
        return show_yard_entries(page, request, look, sent)
    keeps = visitor_of(request).keeps
    view = place_view(look.engine, name, needs(look.engine, look.now), look.now, names=keeps)
    back = _back_to(request, name, sent.kept)
    span = span_of(dict(parse_qsl(back.partition("?")[2])), look, view)
    certifying = page.certifying
    return page.show_with_forms(
        request,
        "place.html",
        look,
        sent,
        form_of(sent.kept, is_bin=view.is_bin),
        here=f"/place/{name}",
        back=back,
        view=view,
        show_names=keeps,
        mends=keeps and page.mending is not None,
        marks=page.marking.marks(name) if page.marking is not None else None,
        papers=certifying.papers(view.batch) if certifying is not None and view.batch else (),
        certifies=certifying is not None and bool(view.batch),
        **_as_it_is(look, view),
        **_over_time(look, view, span),
        **forms_offered(look, view),
    )


def _as_it_is(look: Look, view: PlaceView) -> dict[str, Any]:
    """Return the template's values for a place's present state."""
    settings = look.engine.state.settings
    in_fahrenheit = settings.site.temperature_unit == "degF"
    return {
        "way": [PHASE_SHOWN[one] for one in Phase],
        "phase": PHASE_SHOWN[view.run.walk.shown_phase] if view.run is not None else "",
        "rank_of": rank_of,
        "fire_number": look.fire_number,
        "fire_address": look.fire_address,
        "cautions": cautions_for(None if view.is_bin else settings.piles[view.place].method),
        "pictures": [
            (name, section(look.engine, view, look.now, width)) for name, width in (("wide", WIDE), ("narrow", NARROW))
        ],
        "unit": "°F" if in_fahrenheit else "°C",
        "depth": _inches if in_fahrenheit else _centimetres,
    }


def _over_time(look: Look, view: PlaceView, span: Span) -> dict[str, Any]:
    """Return the template's values for a place over a span: plots, the table behind them; and the log."""
    settings = look.engine.state.settings
    unit, zone = settings.site.temperature_unit, ZoneInfo(settings.site.time_zone)
    drawn = plots(look, view, span.start, span.end)
    table = table_of(drawn, span.start, span.end, unit, zone, look.now)
    columns = tuple(hand_words(settings, one) if is_hand(one) else one for one in table.columns)
    log = log_of(look, view.place, look.now - LOG_SPAN_MS, LOG_LINES)
    return {
        "span": span,
        "plots": drawn,
        "table": replace(table, columns=columns),
        "log": log,
    }


def _back_to(request: Request, name: str, kept: Mapping[str, str]) -> str:
    """Return the address of the sheet as seen; after a refused form, the one that the form came from."""
    if request.method == "GET":
        return back_of(request)
    back = own_path(kept.get("back", ""))
    return back if back.partition("?")[0] == f"/place/{name}" else f"/place/{name}"


def _inches(milli_m: int) -> str:
    return f"{round(milli_m / 25.4)} in"


def _centimetres(milli_m: int) -> str:
    return f"{round(milli_m / 10)} cm"
