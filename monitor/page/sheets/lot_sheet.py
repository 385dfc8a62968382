"""The sheet of one lot: what may be said of it, what went in, its tests, and for keepers who got some of it."""

from starlette.requests import Request
from starlette.responses import Response

from monitor.drawing import tree_picture
from monitor.model.settings import YARD
from monitor.page.forms.sent_form import UNSENT, SentForm
from monitor.page.ports import Look
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import visitor_of
from monitor.page.sheets.stock_sheet import RECALL, Subject, forms_of_lots
from monitor.page.visitors.bag_links import lot_path

_WIDTHS = (("wide", 640), ("middle", 340), ("narrow", 276))
"""The widths of the tree, CSS px; the stylesheet shows the widest that has room."""


def lot(page: PageContext, request: Request) -> Response:
    """Show a lot."""
    with page.yard.look() as look:
        return show_lot(page, request, look, request.path_params["lot"])


def show_lot(page: PageContext, request: Request, look: Look, lot: str, sent: SentForm = UNSENT) -> Response:
    """Return the sheet.

    Args:
        page: The shared parts.
        request: The request.
        look: The look.
        lot: Id of the lot.
        sent: The form just sent, if it was not taken in.
    """
    keeps = visitor_of(request).keeps
    shown = look.material().lot(lot, names=keeps)
    path = lot_path(shown.line.id)
    return page.show_with_forms(
        request,
        "lot.html",
        look,
        sent,
        here=path,
        back=path,
        lot=shown,
        pictures=[(name, tree_picture(shown.tree, width)) for name, width in _WIDTHS],
        names=keeps,
        wanted=look.material().stock(names=False).tests if keeps else (),
        recall=RECALL,
        view=Subject(YARD, shown.line.id, path),
        **forms_of_lots(look),
    )
