"""Puts an entry of the log right, or takes it back, however long ago it was made."""

from dataclasses import replace

from starlette.requests import Request
from starlette.responses import Response

from monitor.model.errors import MisuseError
from monitor.page.actions.photo_sent import with_photo
from monitor.page.actions.submit import author, lead_back, log
from monitor.page.forms.mend_form import mend_changes
from monitor.page.forms.questions import question_of
from monitor.page.forms.sent_form import SentForm
from monitor.page.mending_ports import LoggedEntry
from monitor.page.places.known_people import signature
from monitor.page.ports import Done
from monitor.page.shared.just_done import JustDone
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import form_of, visitor_of
from monitor.page.sheets.entry_sheet import log_path, mending_of, number_in, show_entry


def mend(page: PageContext, request: Request) -> Response:
    """Put an entry right."""
    form, visitor = form_of(request), visitor_of(request)
    mending = mending_of(page)
    entry = mending.entry(number_in(form.get("number", "")))
    with page.yard.look() as look:
        settings = look.engine.state.settings
        try:
            form = with_photo(page, request, form)
            by = entry.by if form.get("by", entry.by) == entry.by else author(visitor, form)
            told, at = mend_changes(settings, entry, form, by, look.now)
            if not told and at is None:
                raise MisuseError("Nothing about it would change; change what is wrong, then send it.")
            who = signature(visitor)
            done = mending.mend(entry.number, told, at, who, again=bool(form.get("again")))
            _refuse(done)
        except MisuseError as fault:
            return show_entry(page, request, look, entry, SentForm(form, fault))
        if done.question:
            asked = replace(
                question_of(done.question, request.url.path, form), head="Not put right yet", yes="Yes, that is right"
            )
            return show_entry(page, request, look, entry, SentForm(form, question=asked))
        back = log_path(look, entry)
    log.info(
        "%s put entry %d right: %s.", who, entry.number, ", ".join((*told, *(("time",) if at is not None else ())))
    )
    return _led(page, entry, back, "put right", done)


def take_back(page: PageContext, request: Request) -> Response:
    """Take an entry back."""
    form, visitor = form_of(request), visitor_of(request)
    mending = mending_of(page)
    entry = mending.entry(number_in(form.get("number", "")))
    who = signature(visitor)
    with page.yard.look() as look:
        try:
            done = mending.take_back(entry.number, who, again=bool(form.get("again")))
            _refuse(done)
        except MisuseError as fault:
            return show_entry(page, request, look, entry, SentForm({}, fault))
        if done.question:
            asked = replace(
                question_of(done.question, request.url.path, form),
                head="Not taken back yet",
                yes="Yes, take it back",
                no="Leave it",
            )
            return show_entry(page, request, look, entry, SentForm(form, question=asked))
        back = log_path(look, entry)
    log.info("%s took entry %d back.", who, entry.number)
    return _led(page, entry, back, "taken back", done)


def _led(page: PageContext, entry: LoggedEntry, back: str, deed: str, done: Done) -> Response:
    more = f". {done.remark.removesuffix('.')}" if done.remark else ""
    return lead_back(page, {"back": back}, JustDone(entry.place, f"Entry {entry.number} {deed}{more}"))


def _refuse(done: Done) -> None:
    if done.refusal:
        raise MisuseError(done.refusal)
