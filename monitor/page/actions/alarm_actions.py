"""Answers to alarms: *seen*, *not me after all*, *put off*, *taken up again*."""

from starlette.requests import Request
from starlette.responses import Response

from monitor.alarms import TRANSITIONS, Signal
from monitor.model.errors import MisuseError
from monitor.model.events import Answer
from monitor.model.words import AlarmState
from monitor.notices import clean
from monitor.page.actions.submit import author, lead_back, put
from monitor.page.forms.answer_form import answer_wish
from monitor.page.places.needs import needs
from monitor.page.ports import Look
from monitor.page.shared.just_done import JustDone
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import form_of, visitor_of
from monitor.page.visitors.own_paths import own_path


def answer(page: PageContext, request: Request) -> Response:
    """Answer an alarm."""
    form, visitor = form_of(request), visitor_of(request)
    with page.yard.look() as look:
        by = author(visitor, form)
        if (said := _answered(look, form)) is not None:
            # A second press, or an answer that somebody else gave first, is no fault.
            return lead_back(page, form, JustDone(look.engine.state.alarms[form["alarm"]].place, said))
        try:
            wish = answer_wish(look.engine, form, by, look.now)
            put(page, visitor, wish, str(wish.payload["alarm"]))
        except MisuseError as fault:
            return page.fault(request, str(fault), 400, own_path(form.get("back", "/")))
        place = look.engine.state.alarms[str(wish.payload["alarm"])].place
    return lead_back(page, form, JustDone(place, wish.words[:1].upper() + wish.words[1:]))


def _answered(look: Look, form: dict[str, str]) -> str | None:
    """Return, if *seen* is pressed again, who has already seen the alarm, or that it is over; else None."""
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


def seen_over(page: PageContext, request: Request) -> Response:
    """Mark everything that is over as seen, at one place or in the whole yard."""
    form, visitor = form_of(request), visitor_of(request)
    place = form.get("place", "")
    with page.yard.look() as look:
        keys = [one.key for one in needs(look.engine, look.now) if one.is_over and place in ("", one.place)]
        try:
            for key in keys:
                told = {"alarm": key, "answer": Answer.SEEN.value}
                put(page, visitor, answer_wish(look.engine, told, author(visitor, form), look.now), key)
        except MisuseError as fault:
            return page.fault(request, str(fault), 400, own_path(form.get("back", "/")))
    return lead_back(page, form, JustDone(place, f"{len(keys)} seen"))
