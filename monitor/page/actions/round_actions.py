"""Takes in a round's whole sheet at once, each line for itself: one that is refused or asked about holds no other back."""

import hashlib
import json
from collections.abc import Mapping, Sequence

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.model.errors import FieldError, MisuseError
from monitor.model.events import EventKind
from monitor.model.readings import hand_series
from monitor.model.round_sheet import Answer, SheetEntry, SheetLine, SheetMaker, Waiting, put_sheet
from monitor.model.settings import Settings
from monitor.model.work import WorkKind
from monitor.notices import meaning
from monitor.page.actions.submit import author, lead_back, put
from monitor.page.forms.repeats import at_its_time
from monitor.page.forms.round_form import sheet_lines
from monitor.page.forms.sent_form import SentForm
from monitor.page.forms.wish import Wish, entry_id_of
from monitor.page.ports import Look
from monitor.page.shared.just_done import JustDone
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import form_of, visitor_of
from monitor.page.sheets.round_sheet import ADDRESS, Held, show_sheet

_OF_SHEET = ("when", "by", "with")


def round_typed(page: PageContext, request: Request) -> Response:
    """Write down the lines of a sheet; what waits stays in the form."""
    form, visitor = form_of(request), visitor_of(request)
    if led := page.once.led(form):
        return RedirectResponse(led, 303)
    with page.yard.look() as look:
        form, settings = at_its_time(form, look.now), look.engine.state.settings
        try:
            form = {**form, "by": author(visitor, form)}
            lines, faults = sheet_lines(settings, form, form["by"], look.now)
        except FieldError as fault:
            return show_sheet(page, request, look, SentForm(form, fault))

        def put_entry(entry: SheetEntry) -> Answer:
            wish = Wish(entry.kind, entry.payload, entry.words)
            try:
                done = put(page, visitor, wish, entry.lines[0].place, again=entry.again)
            except MisuseError as fault:
                return Answer(refusal=str(fault))
            return Answer(done.at, question=done.question)

        outcome = put_sheet(_maker(look, form), lines, put_entry)
        taken = [_said(settings, entry, look.now) for entry, _ in outcome.taken]
        held = _held(outcome.waiting, faults)
        if not taken and not held:
            return show_sheet(page, request, look, SentForm(form, "Nothing is typed in yet: every line is empty."))
        if held:
            kept = _kept(form, outcome.waiting, faults)
            return show_sheet(page, request, look, SentForm(kept), taken=taken, held=held)
    done = JustDone("", f"Written down: {'; '.join(taken)}")
    answered = lead_back(page, {**form, "back": ADDRESS}, done)
    page.once.keep(form, answered.headers["location"])
    return answered


def _maker(look: Look, form: Mapping[str, str]) -> SheetMaker:
    def withdrawn(place: str, spots: Sequence[str]) -> set[int]:
        return {at for spot in spots for at in look.dropped(hand_series(place, spot), 0, look.now)}

    def entry_id(kind: WorkKind | EventKind, lines: Sequence[SheetLine]) -> str:
        sent = entry_id_of(form)
        if not sent:
            return ""
        # A line's id is that of its content: after an answer got lost somebody may put one right in the same form.
        said = [[one.number, one.place, one.spot, one.value, one.squeeze, one.smell] for one in lines]
        mark = hashlib.sha256(json.dumps([form["entry"], kind, said]).encode()).hexdigest()
        return mark[:40]

    told = {"with": " ".join(form.get("with", "").split())[:40]}
    return SheetMaker(settings=look.engine.state.settings, told=told, withdrawn=withdrawn, entry_id=entry_id)


def _said(settings: Settings, entry: SheetEntry, now: int) -> str:
    """Return an entry in words, with what its values mean."""
    line = entry.lines[0]
    values = [(hand_series(line.place, spot), one.milli) for spot, one in entry.values]
    meant = meaning(settings, line.place, values, line.at, now) if values else ""
    return f"{entry.words}. {meant}".removesuffix(".") if meant else entry.words


def _held(waiting: Sequence[Waiting], faults: Mapping[str, str]) -> dict[str, Held]:
    found = {key: Held((why,), asked=False) for key, why in faults.items()}
    for one in waiting:
        before = found.get(_key(one), Held((), asked=True))
        found[_key(one)] = Held((*before.why, one.why), before.asked and one.asked)
    return found


def _kept(form: Mapping[str, str], waiting: Sequence[Waiting], faults: Mapping[str, str]) -> dict[str, str]:
    """Return the fields that stay: those of the sheet, and those of lines that wait; what was taken is not sent again."""
    names = {f"{name}:{_key(one)}" for one in waiting for name in (*one.fields, "time", "by")}
    names |= {f"{name}:{key}" for key in faults for name in ("value", "squeeze", "smell", "time", "by")}
    return {name: text for name, text in form.items() if name in names or name in _OF_SHEET}


def _key(one: Waiting) -> str:
    return f"{one.line.place}:{one.line.spot}"
