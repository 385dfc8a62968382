"""The sheet of one entry of the log: what it says, a form that puts it right, and a button that takes it back."""

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.model.delivery_risks import RISKS
from monitor.model.errors import MisuseError
from monitor.model.settings import YARD
from monitor.model.work_entry import fields_that_go_with
from monitor.model.work_kinds import declared
from monitor.notices import clean
from monitor.page.forms.mend_form import amount_of, mend_fields, note_said
from monitor.page.forms.sent_form import UNSENT, SentForm
from monitor.page.mending_ports import LoggedEntry, Mending
from monitor.page.places.place_log import ENTRY
from monitor.page.ports import Look
from monitor.page.shared.page_context import PageContext
from monitor.page.sheets.keepers_only import keepers_only
from monitor.page.sheets.stock_sheet import Subject

NUMBERED = f"{ENTRY}/{{number}}"


def mending_of(page: PageContext) -> Mending:
    """Return the port to the log.

    Raises:
        MisuseError: This page has none.
    """
    if page.mending is None:
        raise MisuseError("This page cannot put entries right.")
    return page.mending


@keepers_only
def find_entry(page: PageContext, request: Request) -> Response:
    """Lead to an entry's own sheet: an address of a line of the log names the event that brought it."""
    asked = request.query_params
    at, row, time = (
        int(text) if (text := asked.get(name, "")).isdecimal() and len(text) < 16 else 0
        for name in ("at", "row", "time")
    )
    number = mending_of(page).number(at, row, asked.get("series", ""), time)
    return RedirectResponse(entry_path(number), 303)


@keepers_only
def show(page: PageContext, request: Request) -> Response:
    """Show an entry."""
    entry = mending_of(page).entry(number_in(request.path_params["number"]))
    with page.yard.look() as look:
        return show_entry(page, request, look, entry)


def number_in(text: str) -> int:
    """Return the number of an entry.

    Raises:
        MisuseError: The text is none.
    """
    if not text.isdecimal() or len(text) > 9:
        raise MisuseError("Entries have numbers, such as 14.")
    return int(text)


def entry_path(number: int) -> str:
    """Return the address of an entry's sheet."""
    return f"{ENTRY}/{number}"


def log_path(look: Look, entry: LoggedEntry) -> str:
    """Return the address of the sheet whose log has an entry."""
    settings = look.engine.state.settings
    known = entry.place in settings.piles or entry.place in settings.bins or entry.place == YARD
    return f"/place/{entry.place}" if known else "/"


def show_entry(
    page: PageContext, request: Request, look: Look, entry: LoggedEntry, sent: SentForm = UNSENT
) -> Response:
    """Return the sheet.

    Args:
        page: The shared parts.
        request: The request.
        look: The look.
        entry: The entry.
        sent: The form just sent, if it was not taken in.
    """
    settings, path = look.engine.state.settings, entry_path(entry.number)
    log = log_path(look, entry)
    has_risks = entry.work is not None and "risk" in fields_that_go_with(entry.work.kind)
    return page.show_with_forms(
        request,
        "entry.html",
        look,
        sent,
        here=log,
        back=path,
        view=Subject(entry.place, f"Entry {entry.number}", path),
        entry=entry,
        words=clean(entry.words, 600),
        by=clean(entry.by, 60) if entry.by else "",
        mended_by=clean(entry.mended_by, 60) if entry.mended_by else "",
        log_path=log,
        log_name=settings.place_name(entry.place) if log != "/" else "the yard",
        fields=mend_fields(settings, entry),
        amount=amount_of(settings, entry),
        note=note_said(entry),
        photo=entry.work.photo if entry.work is not None else "",
        photo_there=entry.work is not None and page.photos is not None and page.photos.has(entry.work.photo),
        is_remark=entry.work is not None and declared(entry.work.kind).remark_only,
        risks=RISKS if has_risks else {},
        risks_said=entry.work.risk.split(",") if entry.work is not None else (),
    )
