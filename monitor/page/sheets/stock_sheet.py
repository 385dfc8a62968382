"""Stock and lots: what is there, what rots first, which lots are held back; and the recall of anything that went into them."""

from typing import Any, NamedTuple

from starlette.requests import Request
from starlette.responses import Response

from monitor.engine import foreseen
from monitor.model.errors import MisuseError
from monitor.model.settings import YARD
from monitor.model.work import WorkKind
from monitor.page.forms.sent_form import UNSENT, SentForm
from monitor.page.forms.work_form import units_for
from monitor.page.ports import Look
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import visitor_of
from monitor.page.sheets.keepers_only import keepers_only

ADDRESS = "/stock"
RECALL = "/recall"
FORMS = {"make": WorkKind.LOT, "test": WorkKind.TESTED, "give": WorkKind.GIVEN}
"""The forms about lots, each with the kind of its entry."""


class Subject(NamedTuple):
    """The subject of a sheet, as the pieces of forms want it: a place, its name, and where *leave it out* leads."""

    place: str
    name: str
    leave_to: str


def stock(page: PageContext, request: Request) -> Response:
    """Show the stock and the lots."""
    with page.yard.look() as look:
        return show_stock(page, request, look)


def show_stock(page: PageContext, request: Request, look: Look, sent: SentForm = UNSENT) -> Response:
    """Return the sheet.

    Args:
        page: The shared parts.
        request: The request.
        look: The look.
        sent: The form just sent, if it was not taken in.
    """
    return page.show_with_forms(
        request,
        "stock.html",
        look,
        sent,
        here=ADDRESS,
        back=ADDRESS,
        shown=look.material().stock(names=visitor_of(request).keeps),
        recall=RECALL,
        view=Subject(YARD, "Lots", ADDRESS),
        **forms_of_lots(look),
    )


@keepers_only
def recall(page: PageContext, request: Request) -> Response:
    """Show every lot that has, or may have, something of what is asked about, and who got it."""
    asked = request.query_params.get("what", "").strip()
    with page.yard.look() as look:
        found, wrong = None, ""
        if asked:
            try:
                found = look.material().recall(asked)
            except MisuseError as fault:
                wrong = str(fault)
        return page.show(
            request, "recall.html", look, 404 if wrong else 200, here=RECALL, asked=asked[:80], found=found, wrong=wrong
        )


def forms_of_lots(look: Look) -> dict[str, Any]:
    """Return the values that the forms about lots need."""
    settings, ahead = look.engine.state.settings, foreseen(look.engine.core, YARD, look.now)
    return {
        "foreseen": {form: said for form, kind in FORMS.items() if (said := ahead.get(kind))},
        "suggested": {},
        "units": {kind.value: units_for(settings, kind) for kind in (WorkKind.LOT, WorkKind.GIVEN)},
    }
