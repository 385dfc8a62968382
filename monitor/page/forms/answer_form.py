"""Turns the form of an answer to an alarm into the event for the writer."""

from collections.abc import Mapping
from zoneinfo import ZoneInfo

from monitor.engine import Engine, why_unanswerable
from monitor.model.answer_entry import answer_payload
from monitor.model.errors import MisuseError
from monitor.model.events import Answer, EventKind
from monitor.notices import say_time
from monitor.page.forms.put_offs import put_off_until
from monitor.page.forms.wish import Wish


def answer_wish(engine: Engine, form: Mapping[str, str], by: str, now: int) -> Wish:
    """Return the wish of an answer form.

    Args:
        engine: The engine of the look.
        form: Has `alarm`, `answer`, and for a put-off `until`.
        by: Who answers.
        now: The daemon's time, UTC ms.

    Raises:
        MisuseError: There is no such alarm, or the answer means nothing in its present state.
    """
    key = form.get("alarm", "")
    try:
        answer = Answer(form.get("answer", ""))
    except ValueError as fault:
        raise MisuseError("Choose what to answer.") from fault
    if wrong := why_unanswerable(engine.state, key, answer):
        raise MisuseError(f"{wrong[:1].upper()}{wrong[1:]}.")
    if answer is not Answer.PUT_OFF:
        words = "seen" if answer is Answer.SEEN else answer.value
        return Wish(EventKind.ANSWER, answer_payload(key, answer, by, None, now), words)
    settings = engine.state.settings
    until = put_off_until(form.get("until", ""), settings, now)
    words = f"put off until {say_time(until, now, ZoneInfo(settings.site.time_zone))}"
    return Wish(EventKind.ANSWER, answer_payload(key, answer, by, until, now), words)
