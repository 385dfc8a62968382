"""Writes down work and readings by hand, and takes them back.

GET never changes anything. The author goes into the event and the log. A refusal is shown in the writer's sentence, and the
form keeps the typed text.
"""

from collections.abc import Callable
from dataclasses import replace
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.engine import beside_words
from monitor.model.absence_entry import absence_of
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.model.readings import hand_series
from monitor.model.work import WorkKind, work_from
from monitor.notices import Absence, say_time
from monitor.page.actions.photo_sent import with_photo
from monitor.page.actions.submit import author, lead_back, put
from monitor.page.forms.questions import question_of
from monitor.page.forms.reading_form import reading_wish
from monitor.page.forms.repeats import at_its_time
from monitor.page.forms.sent_form import SentForm
from monitor.page.forms.wish import Wish
from monitor.page.forms.work_form import undo_wish, work_wish
from monitor.page.places.known_people import signature
from monitor.page.places.turning_work import counts_with
from monitor.page.ports import Look
from monitor.page.shared.just_done import JustDone
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import form_of, place_of, visitor_of
from monitor.page.sheets.place_sheet import show_place

WishOf = Callable[[Look, str, dict[str, str], str], Wish]
"""Makes a wish from a look, a place, a form and its author."""


def work(page: PageContext, request: Request) -> Response:
    """Write down a piece of work, or an entry about the whole yard."""
    return _written(page, request, _work_wish, or_yard=True)


def reading(page: PageContext, request: Request) -> Response:
    """Write down a temperature taken by hand."""
    return _written(page, request, _reading_wish)


def _work_wish(look: Look, place: str, form: dict[str, str], by: str) -> Wish:
    return work_wish(look.engine.state.settings, place, form, by, look.now)


def _reading_wish(look: Look, place: str, form: dict[str, str], by: str) -> Wish:
    settings = look.engine.state.settings
    spots = ("", *settings.spots_of(place))
    gone = {at for spot in spots for at in look.dropped(hand_series(place, spot), 0, look.now)}
    return reading_wish(settings, place, form, by, look.now, frozenset(gone))


def _written(page: PageContext, request: Request, wish_of: WishOf, *, or_yard: bool = False) -> Response:
    form, visitor = form_of(request), visitor_of(request)
    if led := page.once.led(form):
        return RedirectResponse(led, 303)
    with page.yard.look() as look:
        place = place_of(look, request, or_yard=or_yard)
        form = at_its_time(form, look.now)
        try:
            form = with_photo(page, request, form)
            by = author(visitor, form)
            wish = wish_of(look, place, form, by)
            done = put(page, visitor, wish, place, again=bool(form.get("again")))
        except MisuseError as fault:
            return show_place(page, request, look, place, SentForm(form, fault))
        if done.question:
            asked = question_of(done.question, request.url.path, form)
            return show_place(page, request, look, place, SentForm(form, question=asked))
        more = _more(look, wish) + (f". {done.remark.removesuffix('.')}" if done.remark else "")
    if done.at is None:
        return lead_back(page, form, JustDone(place, "That was written down already"))
    written = JustDone(place, f"Written down: {wish.words}{more}", done.at, _reading_of(wish))
    answered = lead_back(page, form, written)
    page.once.keep(form, answered.headers["location"])
    return answered


def _reading_of(wish: Wish) -> tuple[int, str] | None:
    """Return the name of readings by hand for taking them back, or None for work."""
    if wish.kind is not EventKind.READINGS:
        return None
    rows = wish.payload["rows"]
    return int(rows[0][0]), "|".join(str(row[1]) for row in rows)


def _more(look: Look, wish: Wish) -> str:
    """Return remarks on an entry: with which turning it counts, what the yard knows beside a reading."""
    if wish.kind is EventKind.READINGS:
        return "".join(f". {one.removesuffix('.')}" for one in beside_words(look.engine.core, wish.payload))
    if (absence := absence_of(wish.payload)) is not None:
        return _alone_with(look, absence)
    same = counts_with(look, work_from(wish.payload, look.now))
    if same is None:
        return ""
    zone = ZoneInfo(look.engine.state.settings.site.time_zone)
    return f"; it counts as one with that of {say_time(same, look.now, zone)}"


def _alone_with(look: Look, absence: tuple[str, int, int]) -> str:
    """Return sentences on the times within an absence just logged at which nobody is on duty.

    Args:
        look: The look, from before the entry.
        absence: Contact, start and end, UTC ms.
    """
    contact, start, end = absence
    desk = look.engine.core.desk
    desk.absent(look.now, Absence(contact=contact, start=start, end=end))
    return "".join(f". {one.removesuffix('.')}" for one in desk.alone(look.now, max(look.now, start), end))


def undo(page: PageContext, request: Request) -> Response:
    """Take back an entry made less than a day ago; the token names it."""
    form, visitor = form_of(request), visitor_of(request)
    written = page.done_tokens.read(form.get("done", ""))
    if written is None or written.at is None:
        words = (
            "That was more than a day ago; it stays in the log. On the yard's computer, `heaptender log undo` still "
            "takes it back."
        )
        return page.fault(request, words, 400)
    wish = undo_wish(written.at, signature(visitor), written.reading)
    try:
        done = put(page, visitor, wish, written.place, again=bool(form.get("again")))
    except MisuseError as fault:
        return page.fault(request, str(fault), 400)
    if done.question:
        asked = question_of(done.question, request.url.path, form)
        asked = replace(asked, head="Not taken back yet", yes="Yes, take it back", no="Leave it")
        with page.yard.look() as look:
            return show_place(page, request, look, written.place, SentForm(form, question=asked))
    words = written.words.removeprefix("Written down: ")
    if written.reading is not None:
        # Drop the meaning of the reading too (*puts the worms in danger: shade it now*).
        words = words.split(". ", 1)[0]
    return lead_back(page, form, JustDone(written.place, f"Taken back: {words}"))


def probes(page: PageContext, request: Request) -> Response:
    """Put in again all probes of a place that lie outside."""
    form, visitor = form_of(request), visitor_of(request)
    with page.yard.look() as look:
        place = place_of(look, request)
        state, by = look.engine.state, author(visitor, form)
        outside = [
            probe
            for probe, one in sorted(state.outings.items())
            if one.out is not None and look.engine.place_of(probe) == place
        ]
        try:
            for probe in outside:
                told = {"kind": WorkKind.PROBE_IN.value, "probe": probe}
                put(page, visitor, work_wish(state.settings, place, told, by, look.now), place, again=True)
        except MisuseError as fault:
            return show_place(page, request, look, place, SentForm(trouble=fault))
    count = f"{len(outside)} probe" + ("" if len(outside) == 1 else "s")
    return lead_back(page, form, JustDone(place, f"{count} put in" if outside else "No probe lay outside"))
