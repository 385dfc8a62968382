"""Entries about the whole yard: what came in, stock that was counted, visitors, pests, the weather, and the log of all that."""

from collections.abc import Iterable, Sequence
from datetime import timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import Response

from monitor.engine import foreseen
from monitor.model.delivery_risks import RISKS
from monitor.model.settings import YARD
from monitor.model.times import DAY_MS
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import Where, kinds
from monitor.notices import clean, local
from monitor.page.forms.sent_form import UNSENT, SentForm
from monitor.page.forms.work_form import units_for
from monitor.page.places.place_log import log_of
from monitor.page.ports import Look
from monitor.page.shared.page_context import PageContext
from monitor.page.sheets.keepers_only import keepers_only

ADDRESS = f"/place/{YARD}"
_LOG_LINES, _LOG_SPAN_MS = 60, 366 * DAY_MS
_MOST_NAMES = 40
AHEAD_MS = 28 * DAY_MS
"""How far ahead a sheet says that nobody is on duty, ms."""
_REMARKS = tuple(row for row in kinds(Where.YARD) if row.remark_only)
_STOCK = tuple(row for row in kinds(Where.YARD) if row.stocks)


class _WholeYard(NamedTuple):
    """The place that the sheet is about, as the pieces of forms want it."""

    place: str = YARD
    name: str = "The whole yard"


@keepers_only
def yard_entries(page: PageContext, request: Request) -> Response:
    """Show the entries about the whole yard, and the forms for them."""
    with page.yard.look() as look:
        return show_yard_entries(page, request, look)


def show_yard_entries(page: PageContext, request: Request, look: Look, sent: SentForm = UNSENT) -> Response:
    """Return the sheet.

    Args:
        page: The shared parts.
        request: The request.
        look: The look.
        sent: The form just sent, if it was not taken in.
    """
    return page.show_with_forms(
        request,
        "yard_entries.html",
        look,
        sent,
        here=ADDRESS,
        back=ADDRESS,
        view=_WholeYard(),
        show_names=True,
        mends=page.mending is not None,
        log=log_of(look, YARD, look.now - _LOG_SPAN_MS, _LOG_LINES),
        **_offered(look),
    )


def _offered(look: Look) -> dict[str, Any]:
    """Return the choices of the forms: kinds of entries, units, risks, and names that were used before."""
    settings = look.engine.state.settings
    works = [entry.work for entry in reversed(look.works(YARD))]
    return {
        "foreseen": foreseen(look.engine.core, YARD, look.now),
        "degrees": "°F" if settings.site.temperature_unit == "degF" else "°C",
        "tomorrow": str(local(look.now, ZoneInfo(settings.site.time_zone)).date() + timedelta(days=1)),
        "remarks": [(row.kind.value, row.past) for row in _REMARKS],
        "units": {row.kind.value: units_for(settings, row.kind, _last_unit(works, row.kind)) for row in _STOCK},
        "suggested": {},
        "risks": RISKS,
        "materials": _names(work.what for work in works),
        "contacts": [(one, clean(contact.name, 40)) for one, contact in settings.contacts.items()],
        "alone": look.engine.nobody_on_duty(look.now, look.now, look.now + AHEAD_MS),
        "suppliers": _names(work.source for work in works),
    }


def _last_unit(works: Sequence[Work], kind: WorkKind) -> str:
    """Return the unit of the newest entry of a kind, "" if there is none; the works stand newest first."""
    return next((work.unit for work in works if work.kind is kind and work.unit), "")


def _names(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(clean(name, 80) for name in names if name))[:_MOST_NAMES]
