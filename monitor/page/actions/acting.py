"""The addresses that do something: each takes a form, puts an event before the writer, and goes back to where it came from.

Rules: nothing is done by GET; who did it goes with the event and into the log; what the writer refuses is told in its own
sentence, with what was typed still in the form.
"""

import logging
from urllib.parse import parse_qsl, urlencode
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.alarms import BRIEF_MS, TRANSITIONS, Signal
from monitor.engine.hand_beside import beside_words
from monitor.engine.logged import work_from
from monitor.model.errors import FieldError, MisuseError, MonitorError
from monitor.model.events import Answer, EventKind
from monitor.model.readings import hand_series
from monitor.model.words import AlarmState
from monitor.model.work import WorkKind
from monitor.notices import clean
from monitor.page.forms.answer_form import answer_wish
from monitor.page.forms.questions import question_of
from monitor.page.forms.reading_form import reading_wish
from monitor.page.forms.repeats import at_its_time
from monitor.page.forms.wish import Wish
from monitor.page.forms.work_form import undo_wish, work_wish
from monitor.page.places.needs import needs
from monitor.page.places.page_times import from_field, say_time
from monitor.page.places.turning_work import counts_with
from monitor.page.ports import Done, Look, Mark
from monitor.page.shared.house import House, form_of, place_of, visitor_of
from monitor.page.sheets.showing import show_place
from monitor.page.visitors.own_paths import own_path
from monitor.page.visitors.sessions import Visitor, tidy_name

log = logging.getLogger("heaptender.page")

MARK_KINDS = ("trouble", "fine")


def work(house: House, request: Request) -> Response:
    """Write down a piece of work."""
    return _written(house, request, "work")


def reading(house: House, request: Request) -> Response:
    """Write down a temperature taken by hand."""
    return _written(house, request, "reading")


def _written(house: House, request: Request, what: str) -> Response:
    form, visitor = form_of(request), visitor_of(request)
    if led := house.once.led(form):
        return RedirectResponse(led, 303)
    with house.yard.look() as look:
        name = place_of(look, request)
        by = _by(visitor, form)
        form = at_its_time(form, look.now)
        try:
            settings = look.engine.state.settings
            if what == "reading":
                spots = ("", *settings.spots_of(name))
                gone = {at for spot in spots for at in look.dropped(hand_series(name, spot), 0, look.now)}
                wish = reading_wish(settings, name, form, by, look.now, frozenset(gone))
            else:
                wish = work_wish(settings, name, form, by, look.now)
            done = _put(house, visitor, wish, name, again=bool(form.get("again")))
        except MisuseError as fault:
            return show_place(house, request, look, name, trouble=fault, kept=form)
        if done.question:
            asked = question_of(done.question, f"/do/{what}", form)
            return show_place(house, request, look, name, kept=form, question=asked)
        more = _more(look, wish)
    if done.at is None:
        return _back(house, form, name, None, "That was written down already")
    rows = wish.payload["rows"] if wish.kind is EventKind.READINGS else ()
    reading = (int(rows[0][0]), "|".join(str(row[1]) for row in rows)) if rows else None
    answered = _back(house, form, name, done.at, f"Written down: {wish.words}{more}", reading)
    house.once.keep(form, answered.headers["location"])
    return answered


def _more(look: Look, wish: Wish) -> str:
    """Return what is said behind what was written down: with which turning it counts, what the yard knows beside a reading."""
    if wish.kind is EventKind.READINGS:
        return "".join(f". {one.removesuffix('.')}" for one in beside_words(look.engine.core, wish.payload))
    same = counts_with(look, work_from(wish.payload, look.now))
    return "" if same is None else f"; it counts as one with that of {say_time(same, look.now, _zone(look))}"


def answer(house: House, request: Request) -> Response:
    """Say something to an alarm."""
    form, visitor = form_of(request), visitor_of(request)
    with house.yard.look() as look:
        by = _by(visitor, form)
        if (said := _answered(look, form)) is not None:
            # A second press, or somebody was quicker: it is done, which is no fault.
            return _back(house, form, look.engine.state.alarms[form["alarm"]].place, None, said)
        try:
            wish = answer_wish(look.engine, form, by, look.now)
            _not_long(look, wish)
            _put(house, visitor, wish, str(wish.payload["alarm"]))
        except MisuseError as fault:
            return house.fault(request, str(fault), 400, own_path(form.get("back", "/")))
        place = look.engine.state.alarms[str(wish.payload["alarm"])].place
    return _back(house, form, place, None, wish.words[:1].upper() + wish.words[1:])


def _answered(look: Look, form: dict[str, str]) -> str | None:
    """Return who has seen an alarm already, or that it is over, where *seen* is pressed once more; else None."""
    key = form.get("alarm", "")
    record = look.engine.state.alarms.get(key)
    if record is None or form.get("answer") != Answer.SEEN or (record.state, Signal.SEEN) in TRANSITIONS:
        return None
    telling = look.engine.state.desk.tellings.get(key)
    by = f" by {clean(telling.answered_by)}" if telling is not None and telling.answered_by else ""
    if record.state is AlarmState.ACKNOWLEDGED:
        return f"It is seen already{by}"
    if record.state is AlarmState.SHELVED:
        return f"It was put off already{by}"
    return "It is over already" if record.state is AlarmState.NORMAL else None


def _not_long(look: Look, wish: Wish) -> None:
    """See that a danger is not put off for longer than its sheet offers."""
    key, until = str(wish.payload["alarm"]), wish.payload.get("until", 0)
    brief = any(one.key == key and one.brief for one in needs(look.engine, look.now))
    if brief and until > look.now + BRIEF_MS:
        raise MisuseError("This is a danger; it can be put off for 2 h at most.")


def seen_over(house: House, request: Request) -> Response:
    """Say *seen* to everything that is over, of one place or of the whole yard."""
    form, visitor = form_of(request), visitor_of(request)
    place = form.get("place", "")
    with house.yard.look() as look:
        keys = [one.key for one in needs(look.engine, look.now) if one.is_over and place in ("", one.place)]
        try:
            for key in keys:
                told = {"alarm": key, "answer": Answer.SEEN.value}
                _put(house, visitor, answer_wish(look.engine, told, _by(visitor, form), look.now), key)
        except MisuseError as fault:
            return house.fault(request, str(fault), 400, own_path(form.get("back", "/")))
    return _back(house, form, place, None, f"{len(keys)} seen")


def undo(house: House, request: Request) -> Response:
    """Take back what was written down less than a day ago; the token says what."""
    form, visitor = form_of(request), visitor_of(request)
    found = house.undo_of(form.get("done", ""))
    if found is None or found.at is None:
        words = (
            "That was more than a day ago; it stays written down. On the yard's computer, `heaptender log undo` still "
            "takes it back."
        )
        return house.fault(request, words, 400)
    wish = undo_wish(found.at, visitor.name or _anonymous(visitor), found.reading)
    try:
        _put(house, visitor, wish, found.place)
    except MisuseError as fault:
        return house.fault(request, str(fault), 400)
    words = found.words.removeprefix("Written down: ")
    if found.reading is not None:
        # What it would have meant (*puts the worms in danger: shade it now*) goes with it.
        words = words.split(". ", 1)[0]
    return _back(house, form, found.place, None, f"Taken back: {words}")


def probes(house: House, request: Request) -> Response:
    """Put back in all probes of a place that lie outside."""
    form, visitor = form_of(request), visitor_of(request)
    with house.yard.look() as look:
        name = place_of(look, request)
        state = look.engine.state
        outside = [
            probe
            for probe, one in sorted(state.outings.items())
            if one.out is not None and look.engine.place_of(probe) == name
        ]
        try:
            for probe in outside:
                told = {"kind": WorkKind.PROBE_IN.value, "probe": probe}
                _put(
                    house,
                    visitor,
                    work_wish(state.settings, name, told, _by(visitor, form), look.now),
                    name,
                    again=True,
                )
        except MisuseError as fault:
            return show_place(house, request, look, name, trouble=str(fault))
    count = f"{len(outside)} probe" + ("" if len(outside) == 1 else "s")
    return _back(house, form, name, None, f"{count} put in" if outside else "No probe lay outside")


def mark(house: House, request: Request) -> Response:
    """Call a stretch of a place trouble or fine, or take that back."""
    form, visitor = form_of(request), visitor_of(request)
    if house.marking is None:
        raise KeyError("mark")
    with house.yard.look() as look:
        name = place_of(look, request)
        try:
            stretch = _stretch(look, form)
        except MisuseError as fault:
            return show_place(house, request, look, name, trouble=fault, kept=form)
    by = _by(visitor, form)
    if form.get("drop"):
        house.marking.unmark(name, stretch)
        words = f"no longer marked as {stretch.kind}"
    else:
        house.marking.mark(name, stretch, by)
        words = f"marked as {stretch.kind}"
    log.info("%s %s, by %s.", name, words, by)
    return _back(house, form, name, None, words[:1].upper() + words[1:])


def _stretch(look: Look, form: dict[str, str]) -> Mark:
    zone = ZoneInfo(look.engine.state.settings.site.time_zone)
    start, end = (_instant(form.get(name, ""), zone) for name in ("from", "to"))
    if start is None or end is None or start >= end:
        raise FieldError("A stretch needs a beginning and a later end.", "from")
    kind = form.get("kind", "")
    if kind not in MARK_KINDS:
        raise MisuseError("Say whether it was trouble or fine.")
    note = "".join(sign if sign.isprintable() else " " for sign in form.get("note", ""))[:400].strip()
    return Mark(start, end, kind, note)


def _instant(text: str, zone: ZoneInfo) -> int | None:
    return int(text) if text.isdecimal() and len(text) <= 14 else from_field(text, zone)


def certify(house: House, request: Request) -> Response:
    """Make a certificate of the batch on a pile, as things stand."""
    form, visitor = form_of(request), visitor_of(request)
    if house.certifying is None:
        raise KeyError("certify")
    with house.yard.look() as look:
        name = place_of(look, request)
        batch = look.engine.state.batches.lying.get(name)
        if batch is None:
            return show_place(house, request, look, name, trouble="Nothing lies here that could be certified.")
        try:
            paper = house.certifying.make(batch, _by(visitor, form))
        except MonitorError as fault:
            return show_place(house, request, look, name, trouble=str(fault))
    log.info("Certificate %s made by %s.", paper.name, _by(visitor, form))
    return _back(house, form, name, None, f"Certificate made: {paper.words}")


def _zone(look: Look) -> ZoneInfo:
    return ZoneInfo(look.engine.state.settings.site.time_zone)


def _put(house: House, visitor: Visitor, wish: Wish, what: str, *, again: bool = False) -> Done:
    """Put a wish before the writer; what it refuses is raised, what it asks comes back."""
    done = house.doing.put(wish.kind, wish.payload, again=again)
    who = visitor.name or _anonymous(visitor)
    if done.refusal:
        log.info("Refused to %s, %s: %s: %s", who, what, wish.words, done.refusal)
        raise MisuseError(done.refusal)
    if done.question:
        log.info("Asked of %s, %s: %s: %s", who, what, wish.words, done.question)
        return done
    log.info("%s, %s: %s (%s).", what, wish.kind.value, wish.words, who)
    return done


def _by(visitor: Visitor, form: dict[str, str]) -> str:
    return tidy_name(form.get("by", "")) or visitor.name or _anonymous(visitor)


def _anonymous(visitor: Visitor) -> str:
    return "somebody at the yard's computer" if visitor.near else f"somebody at {visitor.address}"


def _back(
    house: House, form: dict[str, str], place: str, at: int | None, words: str, reading: tuple[int, str] | None = None
) -> Response:  # fmt: skip
    back = own_path(form.get("back", "") or (f"/place/{place}" if place else "/"))
    base, _, asked = back.partition("?")
    kept = [(name, value) for name, value in parse_qsl(asked) if name != "done"]
    query = urlencode([*kept, ("done", house.undo_token(at, place, words, reading))])
    return RedirectResponse(f"{base}?{query}", status_code=303)
